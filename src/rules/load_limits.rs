//! The limits of a rule: rows, and other limits for some equipment. Tables of rows: `load_tables`.

use super::load_rounded::rounded;
use super::load_rule::{Context, words};
use super::model::*;
use crate::diagnostic::{Faults, Fields};
use crate::expression::{Expression, Type};
use crate::quantity::{Date, Dimension, Quantity, Unit};
use crate::text::{Entry, Node, Span, quoted};
use crate::vocabulary::{ChoiceId, Name, PartId, TraitId, Vocabulary, read};

const LIMIT_KEYS: [&str; 8] = [
    "at_least",
    "more_than",
    "at_most",
    "less_than",
    "equals",
    "only",
    "without",
    "rounded_to",
];

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
                    "write at_least, at_most, more_than, less_than, equals, only, without, or `limit: none`"
                }
                Also::Nothing => {
                    "write at_least, at_most, more_than, less_than, equals, only or without"
                }
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
        let alone = |entry: &&&Entry<'_>| matches!(&*entry.key, "equals" | "only" | "without");
        if let Some(entry) = entries.iter().find(alone) {
            if entries.len() > 1 {
                faults.fault(
                    "rules.limits",
                    entry.key_span,
                    format!("`{}` stands alone", entry.key),
                    "beside another limit",
                    "take the other limit out",
                );
            }
            let span = entry.node.span;
            let demand = match &*entry.key {
                "equals" => Demand::Equals(self.equals(entry, faults)?, span),
                "only" => Demand::Only(self.listed(entry, faults)?, span),
                _ => Demand::Without(self.listed(entry, faults)?, span),
            };
            return Some(LimitRow { span, demand });
        }
        let rounded_to = entries.iter().find(|entry| entry.key == "rounded_to");
        let entries: Vec<&&Entry<'_>> = entries
            .iter()
            .filter(|entry| entry.key != "rounded_to")
            .collect();
        if let (Some(entry), true) = (rounded_to, entries.is_empty()) {
            faults.fault(
                "rules.rounded_to",
                entry.key_span,
                "`rounded_to` needs a limit beside it",
                "no limit here",
                "write `at_least: 4.7 mm, rounded_to: 0.1 mm`",
            );
        }
        let step = match rounded_to {
            Some(entry) => Some(self.step(entry, faults)?),
            None => None,
        };
        let mut bounds = Vec::new();
        for entry in &entries {
            let kind = BoundKind::ALL
                .into_iter()
                .find(|kind| kind.word() == entry.key)?;
            if let Some(limit) = self.limit(entry, faults) {
                bounds.push(Bound {
                    kind,
                    rounded: match &step {
                        Some(step) => Some(Box::new(rounded(kind, &limit, step, entry, faults)?)),
                        None => None,
                    },
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
        (!bounds.is_empty() && bounds.len() == entries.len()).then_some(LimitRow {
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
            | Type::AnyOf(..)
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
            | Type::AnyOf(..)
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
            Type::AnyOf(part, id) => {
                let choices = choices(self.context.vocabulary, part, id);
                let first = choices.first().map_or("…", |(word, _)| word.as_str());
                format!("write `only: [{first}]` or `without: [{first}]`")
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
            Type::AnyOf(..) => {
                let message = format!(
                    "{} is a list; no list equals a word",
                    quoted(&self.value.text)
                );
                let help = self.instead_of_a_bound();
                faults.fault("rules.limits", entry.key_span, message, "", help);
                None
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
        if let (true, Some(other)) = (self.of_options, entries.first()) {
            faults.fault(
                "rules.options",
                other.key_span,
                "a rule with `options` has no one value to limit",
                "",
                "take the options away with `limit: none`, and write the limit in a rule of its own",
            );
            return None;
        }
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
    /// Whether the rule lists options: then there is no one value to limit.
    pub(super) of_options: bool,
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
    vocabulary
        .part(part)
        .and_then(|part| part.traits.get(id.index()))
        .map_or_else(Vec::new, |one| named(one.kind.names()))
}

/// Whether a key is the word of a limit.
pub(super) fn is_limit_key(key: &str) -> bool {
    LIMIT_KEYS.contains(&key)
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
