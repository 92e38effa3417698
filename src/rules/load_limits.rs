//! The limits of a rule: rows, tables by choice, and other limits for some equipment.

use super::load_rule::{Context, words};
use super::model::*;
use crate::diagnostic::{Faults, Fields};
use crate::expression::{Expression, Type};
use crate::quantity::{Date, Dimension, Quantity, Unit};
use crate::text::{Entry, Node, Span, quoted};
use crate::vocabulary::{ChoiceId, Name, PartId, TraitId, TraitKind, Vocabulary, read};

const LIMIT_KEYS: [&str; 5] = ["at_least", "more_than", "at_most", "less_than", "equals"];

impl RowReader<'_> {
    pub(super) fn row(
        &self,
        entries: &[&Entry<'_>],
        span: Span,
        whose: Option<&str>,
        also: Also,
        faults: &mut Faults,
    ) -> Option<LimitRow> {
        let Some(first) = entries.first() else {
            let help = match also {
                Also::NoLimit => {
                    "write at_least, at_most, more_than, less_than, equals, or `limit: none`"
                }
                Also::Nothing => "write at_least, at_most, more_than, less_than or equals",
            };
            if let Some(whose) = whose {
                faults.fault(
                    "rules.no_limit",
                    span,
                    format!("{whose} has no limit"),
                    "",
                    help,
                );
            }
            return None;
        };
        if let Some(equals) = entries.iter().find(|entry| entry.key == "equals") {
            if entries.len() > 1 {
                faults.fault(
                    "rules.limits",
                    equals.key_span,
                    "`equals` stands alone",
                    "beside another limit",
                    "take the other limit out",
                );
            }
            return self.equals(equals, faults).map(|equals_value| LimitRow {
                span: equals.node.span,
                demand: Demand::Equals(equals_value, equals.node.span),
            });
        }
        let mut bounds = Vec::new();
        for entry in entries {
            let kind = BoundKind::ALL
                .into_iter()
                .find(|kind| kind.word() == entry.key)?;
            if let Some(limit) = self.limit(entry, faults) {
                bounds.push(Bound {
                    kind,
                    limit,
                    span: entry.node.span,
                });
            }
        }
        for lower in [true, false] {
            let mut same = bounds.iter().filter(|bound| bound.kind.is_lower() == lower);
            if let (Some(first), Some(second)) = (same.next(), same.next()) {
                faults.fault(
                    "rules.limits",
                    second.span,
                    format!(
                        "`{}` and `{}` are limits on one side",
                        first.kind.word(),
                        second.kind.word()
                    ),
                    "one limit",
                    "keep the one that is meant",
                );
                faults.also(first.span, "the other");
            }
        }
        (bounds.len() == entries.len()).then_some(LimitRow {
            span: first.node.span,
            demand: Demand::Bounds(bounds),
        })
    }

    pub(super) fn limit(&self, entry: &Entry<'_>, faults: &mut Faults) -> Option<Expression> {
        let value = self.value.yields.kind;
        let dimension = match value {
            Type::Quantity(dimension) => dimension,
            Type::Count => Dimension::RATIO,
            Type::Choice(..)
            | Type::EventLevel
            | Type::Date
            | Type::YesNo
            | Type::Truth
            | Type::Profile
            | Type::Line
            | Type::Section
            | Type::LoadTest
            | Type::Outline => {
                faults.fault(
                    "rules.limits",
                    entry.key_span,
                    format!(
                        "{} is {}, which has no more and less",
                        quoted(&self.value.text),
                        value.in_words()
                    ),
                    "a limit on it",
                    self.instead_of_a_bound(),
                );
                return None;
            }
        };
        let limit = self.context.value(&entry.node, self.part, faults)?;
        let fits = match limit.yields.kind {
            Type::Quantity(found) => found == dimension,
            Type::Count => value == Type::Count || dimension == Dimension::RATIO,
            Type::Choice(..)
            | Type::EventLevel
            | Type::Date
            | Type::YesNo
            | Type::Truth
            | Type::Profile
            | Type::Line
            | Type::Section
            | Type::LoadTest
            | Type::Outline => false,
        };
        if !fits || limit.yields.placed {
            let found = match limit.yields.kind {
                Type::Quantity(found) => found.in_words().into_owned(),
                _ => "another kind of thing".to_owned(),
            };
            let (code, message, words, help) = if fits {
                (
                    "expression.placed",
                    format!(
                        "the limit {} has a value for each place",
                        quoted(&limit.text)
                    ),
                    "one value is needed",
                    "use `lowest(…)` or `highest(…)`".to_owned(),
                )
            } else {
                let plain = Quantity::parse(&limit.text)
                    .ok()
                    .filter(|quantity| quantity.unit == Unit::PLAIN);
                let help = match (plain, dimension.likely_units().first()) {
                    (Some(number), Some(unit)) if *unit != Unit::PLAIN => {
                        format!("write `{number} {unit}`")
                    }
                    _ => read::written_in(dimension),
                };
                (
                    "quantity.dimension",
                    format!(
                        "the limit {} is {found}; {} is {}",
                        quoted(&limit.text),
                        quoted(&self.value.text),
                        dimension.in_words()
                    ),
                    "does not fit the value",
                    help,
                )
            };
            faults.fault(code, entry.node.span, message, words, help);
            return None;
        }
        Some(limit)
    }

    /// What is written where a bound has no meaning.
    fn instead_of_a_bound(&self) -> String {
        match self.value.yields.kind {
            Type::YesNo => "write `equals: yes` or `equals: no`".to_owned(),
            Type::Choice(part, id) => {
                let choices = choices(self.context.vocabulary, part, id);
                let first = choices.first().map_or("…", |(word, _)| word.as_str());
                format!("write `equals:` with a choice, such as {first}")
            }
            Type::Date => "a date is a condition: `when: built < 2012-01-01`".to_owned(),
            Type::EventLevel => "limits can go by it: `by: event.level`".to_owned(),
            Type::Truth => "a condition stands under `when`".to_owned(),
            Type::Profile | Type::Line | Type::Section | Type::LoadTest | Type::Outline => {
                "a function makes a number of it, such as `flat_length(…, 0.20 mm)`, `straightness(…)` or `included_angle(…)`".to_owned()
            }
            Type::Quantity(_) | Type::Count => "write a number".to_owned(),
        }
    }

    pub(super) fn equals(&self, entry: &Entry<'_>, faults: &mut Faults) -> Option<Equals> {
        let text = read::scalar(
            &entry.node,
            Some(entry.key_span),
            "equals",
            "a word or a number",
            faults,
        )?;
        match self.value.yields.kind {
            Type::YesNo => {
                read::yes_no(&entry.node, Some(entry.key_span), "equals", faults).map(Equals::YesNo)
            }
            Type::Count => read::count(&entry.node, Some(entry.key_span), "equals", faults)
                .map(|count| Equals::Count(i64::from(count))),
            Type::Choice(part, id) => {
                let choices = choices(self.context.vocabulary, part, id);
                read::one_of(
                    text,
                    entry.node.span,
                    &format!("a choice of {}", quoted(&self.value.text)),
                    choices.iter().map(|(word, id)| (word.as_str(), *id)),
                    faults,
                )
                .map(Equals::Choice)
            }
            Type::Quantity(_)
            | Type::EventLevel
            | Type::Date
            | Type::Truth
            | Type::Profile
            | Type::Line
            | Type::Section
            | Type::LoadTest
            | Type::Outline => {
                faults.fault("rules.limits", entry.key_span, format!("{} can't be asked to equal something", quoted(&self.value.text)), "", "`equals` is for counts, choices and yes-or-no; a measured value has `at_least` and `at_most`");
                None
            }
        }
    }

    pub(super) fn row_of(&self, entry: &Entry<'_>, faults: &mut Faults) -> Option<LimitRow> {
        let mut fields = Fields::of(&entry.node, "a row of limits", Some(entry.key_span), faults)?;
        let entries = take_row(&mut fields, faults);
        let span = fields.span;
        let before = faults.len();
        fields.finish(faults);
        // A key that is not known may be the limit, misspelt.
        let whose = (faults.len() == before).then(|| format!("the row {}", quoted(&entry.key)));
        self.row(&entries, span, whose.as_deref(), Also::Nothing, faults)
    }

    pub(super) fn table(
        &self,
        by: &Entry<'_>,
        limits: &Entry<'_>,
        faults: &mut Faults,
    ) -> Option<Limits> {
        let text = read::scalar(
            &by.node,
            Some(by.key_span),
            "by",
            "the name of a trait, or event.level",
            faults,
        )?;
        let described = self.context.vocabulary.part(self.part)?;
        let (names, id) = if text == "event.level" {
            (named(&self.context.vocabulary.event_levels), None)
        } else {
            let traits: Vec<(&str, TraitId)> = described
                .traits
                .iter()
                .filter(|one| matches!(one.kind, TraitKind::Choice(_)))
                .filter_map(|one| {
                    described
                        .trait_named(&one.name.text)
                        .map(|id| (one.name.text.as_str(), id))
                })
                .collect();
            if let Some(kind) = described
                .trait_named(text)
                .and_then(|id| described.traits.get(id.index()))
                .map(|one| &one.kind)
            {
                let what = match kind {
                    TraitKind::Choice(_) => None,
                    TraitKind::Date => Some("a date"),
                    TraitKind::Flag => Some("a flag"),
                };
                if let Some(what) = what {
                    faults.fault(
                        "rules.by",
                        by.node.span,
                        format!("{} is {what}; a table has a row for each choice", quoted(text)),
                        "nothing to choose from",
                        "name a trait with choices, or event.level; a date can be the `if` of an entry under `instead`",
                    );
                    return None;
                }
            }
            let event = self.context.vocabulary.event_levels.first();
            let event = event.map(|_| ("event.level", None));
            let words: Vec<(&str, Option<TraitId>)> = traits
                .into_iter()
                .map(|(word, id)| (word, Some(id)))
                .chain(event)
                .collect();
            let id = read::one_of(
                text,
                by.node.span,
                &format!("what limits of a {} can go by", described.name.text),
                words.into_iter(),
                faults,
            )??;
            (choices(self.context.vocabulary, self.part, id), Some(id))
        };
        if names.is_empty() {
            faults.fault(
                "rules.by",
                by.node.span,
                "this file names no event levels",
                "nothing to choose from",
                "name them: `event: { levels: [club, regional] }`",
            );
            return None;
        }
        let entries = limits.node.as_mapping().unwrap_or(&[]);
        if entries.is_empty() {
            faults.fault(
                "rules.limits",
                limits.key_span,
                "`limits` is a table with a row for each choice",
                "no rows",
                "limits: { plate: { at_least: 6.00 mm } }",
            );
        }
        let mut rows = Vec::new();
        for entry in entries {
            let choice = read::one_of(
                &entry.key,
                entry.key_span,
                &format!("a choice of {text}"),
                names.iter().map(|(word, id)| (word.as_str(), *id)),
                faults,
            );
            let row = self.row_of(entry, faults);
            if let (Some(choice), Some(row)) = (choice, row) {
                rows.push((choice, row));
            }
        }
        let span = by.node.span;
        Some(match id {
            Some(by) => Limits::ByTrait { by, span, rows },
            None => Limits::ByLevel { span, rows },
        })
    }

    pub(super) fn instead(&self, entry: &Entry<'_>, faults: &mut Faults) -> Vec<Instead> {
        let Some(items) = entry.node.as_sequence() else {
            faults.fault(
                "file.shape",
                entry.node.label_span(Some(entry.key_span)),
                "`instead` is a list of other limits",
                "not a list",
                "begin each with a dash: `- { if: …, because: …, at_least: … }`",
            );
            return Vec::new();
        };
        items
            .iter()
            .filter_map(|node| self.instead_row(node, faults))
            .collect()
    }

    pub(super) fn instead_row(&self, node: &Node<'_>, faults: &mut Faults) -> Option<Instead> {
        let mut fields = Fields::of(node, "an entry of `instead`", None, faults)?;
        let condition = fields.require("if", faults);
        let because = fields.require_text("because", faults);
        let limit = fields.take_text("limit", faults);
        let unproven = fields.take_text("unproven", faults);
        let until = fields
            .take("until", faults)
            .map(|entry| read::day(&entry.node, Some(entry.key_span), "until", faults));
        let entries = take_row(&mut fields, faults);
        let span = fields.span;
        let before = faults.len();
        fields.finish(faults);
        let whose = (faults.len() == before).then_some("this entry of `instead`");
        let condition =
            condition.and_then(|entry| self.context.condition(entry, self.part, faults));
        let row = match limit {
            Some((text, node)) => {
                read::one_of(
                    text,
                    node.span,
                    "what `limit` can say here",
                    std::iter::once(("none", ())),
                    faults,
                )?;
                if let Some(other) = entries.first() {
                    faults.fault(
                        "rules.limits",
                        other.key_span,
                        "`limit: none` and another limit contradict each other",
                        "",
                        "keep the one that is meant",
                    );
                }
                Some(LimitRow {
                    span: node.span,
                    demand: Demand::None,
                })
            }
            None => self.row(&entries, span, whose, Also::NoLimit, faults),
        };
        let unproven_takes_main = match unproven {
            Some((text, node)) => read::one_of(
                text,
                node.span,
                "what holds while unproven",
                std::iter::once(("main_limit", true)),
                faults,
            )?,
            None => false,
        };
        let until: Option<Date> = match until {
            None => None,
            Some(day) => Some(day?),
        };
        Some(Instead {
            condition: condition?,
            because: words(because?, faults),
            row: row?,
            unproven_takes_main,
            until,
        })
    }
}

/// What can stand in the place of a limit.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Also {
    /// Nothing.
    Nothing,
    /// `limit: none`.
    NoLimit,
}

pub(super) struct RowReader<'c> {
    pub(super) context: &'c Context<'c>,
    pub(super) part: PartId,
    pub(super) value: &'c Expression,
}

pub(super) fn named(names: &[Name]) -> Vec<(String, ChoiceId)> {
    names
        .iter()
        .enumerate()
        .filter_map(|(at, name)| {
            u16::try_from(at)
                .ok()
                .map(|at| (name.text.clone(), ChoiceId(at)))
        })
        .collect()
}

pub(super) fn choices(
    vocabulary: &Vocabulary,
    part: PartId,
    id: TraitId,
) -> Vec<(String, ChoiceId)> {
    match vocabulary
        .part(part)
        .and_then(|part| part.traits.get(id.index()))
        .map(|one| &one.kind)
    {
        Some(TraitKind::Choice(names)) => named(names),
        Some(TraitKind::Date | TraitKind::Flag) | None => Vec::new(),
    }
}

pub(super) fn take_row<'n, 's>(
    fields: &mut Fields<'n, 's>,
    faults: &mut Faults,
) -> Vec<&'n Entry<'s>> {
    LIMIT_KEYS
        .into_iter()
        .filter_map(|key| fields.take(key, faults))
        .collect()
}
