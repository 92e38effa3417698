//! The `rules` and `marks` parts of a rules file.

use super::load_derived::{Derived, problems, yield_of};
use super::model::*;
use crate::diagnostic::{Faults, Fields};
use crate::expression::{self, Expression, Names, Node as Tree, Op, Type};
use crate::quantity::{Date, Dimension};
use crate::text::{Entry, Node, Span, quoted};
use crate::vocabulary::{ChoiceId, Name, PartId, TraitId, TraitKind, Vocabulary, read};

/// What a rule is read against.
pub struct Context<'v> {
    /// The vocabulary of the file.
    pub vocabulary: &'v Vocabulary,
    /// Its derived values, as far as they could be read.
    pub derived: &'v Derived,
}

impl Context<'_> {
    fn with_names<T>(&self, own: PartId, read: impl FnOnce(&Names<'_>) -> T) -> T {
        let types = |part, slot| yield_of(self.derived, part, slot);
        read(&Names {
            vocabulary: self.vocabulary,
            own,
            derived: &types,
        })
    }

    fn value(&self, node: &Node<'_>, own: PartId, faults: &mut Faults) -> Option<Expression> {
        let text = read::scalar(node, None, "a value", "an expression", faults)?;
        let found = self.with_names(own, |names| {
            expression::read_value(text, &|range| node.text_span(range), names)
        });
        found.map_err(|found| problems(found, faults)).ok()
    }

    fn condition(&self, entry: &Entry<'_>, own: PartId, faults: &mut Faults) -> Option<Expression> {
        let node = &entry.node;
        let text = read::scalar(
            node,
            Some(entry.key_span),
            "a condition",
            "an expression",
            faults,
        )?;
        let found = self.with_names(own, |names| {
            expression::read_condition(text, &|range| node.text_span(range), names)
        });
        found.map_err(|found| problems(found, faults)).ok()
    }
}

/// The list under `rules`.
pub fn rules(entry: &Entry<'_>, context: &Context<'_>, faults: &mut Faults) -> Vec<Rule> {
    let Some(items) = entry.node.as_sequence() else {
        faults.fault(
            "file.shape",
            entry.key_span,
            "rules is a list",
            "not a list",
            "each rule begins with `- id: …`",
        );
        return Vec::new();
    };
    items
        .iter()
        .filter_map(|node| rule(node, context, faults))
        .collect()
}

struct Heading {
    id: Name,
    clause: Name,
    title: String,
    text: String,
    remedy: Option<String>,
}

fn heading(fields: &mut Fields<'_, '_>, faults: &mut Faults) -> Option<Heading> {
    let id = fields.require_text("id", faults).map(|(text, node)| {
        if !read::is_name(text) {
            faults.fault(
                "name.form",
                node.span,
                format!("{} can't be the id of a rule", quoted(text)),
                "",
                "an id has small letters, digits and _",
            );
        }
        Name {
            text: text.to_owned(),
            span: node.span,
        }
    });
    let clause = fields
        .require_text("clause", faults)
        .map(|(text, node)| Name {
            text: text.to_owned(),
            span: node.span,
        });
    let title = fields
        .take_text("title", faults)
        .map(|(text, _)| text.to_owned());
    let text = fields.take_text("text", faults).map(|(text, node)| {
        if node
            .as_scalar()
            .is_some_and(|scalar| scalar.style == crate::text::Style::Plain)
            && crate::text::cut_by_comment(faults.source(), node.span)
        {
            faults.fault(
                "file.cut",
                node.span,
                "a ` #` cuts this text short",
                "the rest was read as a comment",
                "put the text in quotes",
            );
        }
        text.trim().to_owned()
    });
    let remedy = fields
        .take_text("remedy", faults)
        .map(|(text, _)| text.trim().to_owned());
    Some(Heading {
        id: id?,
        clause: clause?,
        title: title.unwrap_or_default(),
        text: text.unwrap_or_default(),
        remedy,
    })
}

fn rule(node: &Node<'_>, context: &Context<'_>, faults: &mut Faults) -> Option<Rule> {
    let mut fields = Fields::of(node, "a rule", None, faults)?;
    let heading = heading(&mut fields, faults);
    let part = fields
        .require_text("applies_to", faults)
        .and_then(|(text, node)| {
            let parts: Vec<(&str, PartId)> = context
                .vocabulary
                .parts
                .iter()
                .filter_map(|part| {
                    context
                        .vocabulary
                        .part_named(&part.name.text)
                        .map(|id| (part.name.text.as_str(), id))
                })
                .collect();
            read::one_of(text, node.span, "a kind of part", parts.into_iter(), faults)
        });
    let value_entry = fields.require("value", faults);
    let judged_entry = fields.take("judged", faults);
    let places_entry = fields.take("places", faults);
    let outside_entry = fields.take("outside", faults);
    let zone_entry = fields.take("zone", faults);
    let when_entry = fields.take("when", faults);
    let by_entry = fields.take("by", faults);
    let limits_entry = fields.take("limits", faults);
    let instead_entry = fields.take("instead", faults);
    let checked_entry = fields.take("checked_at", faults);
    let direct = take_row(&mut fields, faults);
    let rule_span = fields.span;
    fields.finish(faults);

    let part = part?;
    let value = value_entry.and_then(|entry| context.value(&entry.node, part, faults))?;
    let when = match when_entry {
        None => None,
        Some(entry) => Some(context.condition(entry, part, faults)?),
    };
    let reader = RowReader {
        context,
        part,
        value: &value,
    };
    let (limits, limits_are_table) = match (by_entry, limits_entry) {
        (Some(by), Some(limits)) => {
            if let Some(first) = direct.first() {
                faults.fault(
                    "rules.limits",
                    first.key_span,
                    "a rule has a table of limits or limits of its own, not both",
                    "beside `limits`",
                    "move it into the rows of the table",
                );
            }
            (reader.table(by, limits, faults), true)
        }
        (Some(entry), None) => {
            faults.fault(
                "rules.limits",
                entry.key_span,
                "`by` needs a table under `limits`",
                "no `limits` here",
                "",
            );
            (None, true)
        }
        (None, Some(entry)) => {
            faults.fault(
                "rules.limits",
                entry.key_span,
                "a table of limits needs `by`",
                "no `by` here",
                "say by which trait: `by: construction`",
            );
            (None, true)
        }
        (None, None) => (
            reader
                .row(&direct, rule_span, false, faults)
                .map(Limits::Direct),
            false,
        ),
    };
    let instead = instead_entry
        .map(|entry| reader.instead(entry, faults))
        .unwrap_or_default();
    let _ = limits_are_table;
    let judged = judged(
        judged_entry,
        &value,
        value_entry.map(|entry| entry.key_span).unwrap_or(rule_span),
        faults,
    );
    let described = context.vocabulary.part(part)?;
    let zone_of = |node: &Node<'_>, faults: &mut Faults| {
        let text = read::scalar(node, None, "a zone", "a name", faults)?;
        let zones: Vec<_> = described
            .zones
            .iter()
            .filter_map(|zone| {
                described
                    .zone_named(&zone.name.text)
                    .map(|id| (zone.name.text.as_str(), id))
            })
            .collect();
        read::one_of(
            text,
            node.span,
            &format!("a zone of {}", described.name.text),
            zones.into_iter(),
            faults,
        )
        .map(|zone| (zone, node.span))
    };
    let outside = outside_entry
        .map(|entry| match entry.node.as_sequence() {
            Some(items) => items
                .iter()
                .filter_map(|node| zone_of(node, faults))
                .collect(),
            None => {
                faults.fault(
                    "file.shape",
                    entry.node.label_span(Some(entry.key_span)),
                    "`outside` is a list of zones",
                    "not a list",
                    "outside: [relief_edge]",
                );
                Vec::new()
            }
        })
        .unwrap_or_default();
    let zone = zone_entry.and_then(|entry| zone_of(&entry.node, faults));
    let places = places_entry.and_then(|entry| places(entry, context, part, faults));
    if !value.yields.placed {
        for entry in [places_entry, outside_entry, zone_entry]
            .into_iter()
            .flatten()
        {
            faults.fault(
                "rules.unplaced",
                entry.key_span,
                format!("{} is not taken at places", quoted(&value.text)),
                "asks for places",
                "only placed measures have places and zones",
            );
        }
    }
    let checked_at = checked_entry
        .map(|entry| checked_at(entry, faults))
        .unwrap_or(ByStage {
            self_check: true,
            certification: true,
            event_inspection: true,
        });
    let heading = heading?;
    let limits = limits?;
    let by_level = matches!(limits, Limits::ByLevel { .. });
    let names_event = by_level
        || names_event(&value.root)
        || when.as_ref().is_some_and(|when| names_event(&when.root))
        || rows(&limits, &instead).any(|row| match &row.demand {
            Demand::Bounds(bounds) => bounds.iter().any(|bound| names_event(&bound.limit.root)),
            Demand::Equals(..) | Demand::None => false,
        })
        || instead.iter().any(|row| names_event(&row.condition.root));
    Some(Rule {
        id: heading.id,
        clause: heading.clause,
        title: heading.title,
        text: heading.text,
        applies_to: part,
        when,
        judged,
        value,
        places,
        outside,
        zone,
        limits,
        instead,
        checked_at,
        remedy: heading.remedy,
        names_event,
    })
}

/// All rows of a rule, main and other.
pub fn rows<'r>(limits: &'r Limits, instead: &'r [Instead]) -> impl Iterator<Item = &'r LimitRow> {
    let main: Vec<&LimitRow> = match limits {
        Limits::Direct(row) => vec![row],
        Limits::ByTrait { rows, .. } | Limits::ByLevel { rows, .. } => {
            rows.iter().map(|(_, row)| row).collect()
        }
    };
    main.into_iter().chain(instead.iter().map(|one| &one.row))
}

fn judged(
    entry: Option<&Entry<'_>>,
    value: &Expression,
    value_span: Span,
    faults: &mut Faults,
) -> Judged {
    let said = entry.and_then(|entry| {
        let text = read::scalar(
            &entry.node,
            Some(entry.key_span),
            "judged",
            "a word",
            faults,
        )?;
        let words = [("worst_place", Judged::WorstPlace), ("mean", Judged::Mean)];
        read::one_of(
            text,
            entry.node.span,
            "a way to judge places",
            words.into_iter(),
            faults,
        )
    });
    match (value.yields.placed, said, entry) {
        (true, Some(judged), _) => judged,
        (true, None, None) => {
            faults.fault(
                "rules.judged",
                value_span,
                format!(
                    "{} is taken at places, and the rule says not how they are judged",
                    quoted(&value.text)
                ),
                "a placed value",
                "add `judged: worst_place` or `judged: mean`",
            );
            Judged::WorstPlace
        }
        (true, None, Some(_)) => Judged::WorstPlace,
        (false, _, Some(entry)) => {
            faults.fault(
                "rules.unplaced",
                entry.key_span,
                format!(
                    "{} is one value, not one for each place",
                    quoted(&value.text)
                ),
                "nothing to choose",
                "take `judged` out",
            );
            Judged::Unplaced
        }
        (false, _, None) => Judged::Unplaced,
    }
}

fn places(
    entry: &Entry<'_>,
    context: &Context<'_>,
    part: PartId,
    faults: &mut Faults,
) -> Option<Places> {
    let mut fields = Fields::of(&entry.node, "places", Some(entry.key_span), faults)?;
    let at_least_entry = fields.take("at_least", faults);
    let at_least = at_least_entry
        .map(|entry| read::count(&entry.node, Some(entry.key_span), "at_least", faults));
    let repeats = fields
        .take("repeats", faults)
        .map(|entry| read::count(&entry.node, Some(entry.key_span), "repeats", faults));
    if let Some((text, node)) = fields.take_text("combine", faults) {
        read::one_of(
            text,
            node.span,
            "a way to combine repeats",
            std::iter::once(("mean", ())),
            faults,
        );
    }
    let spaced = fields.take("spaced_at_most", faults);
    let from = fields.take("from", faults);
    let to = fields.take("to", faults);
    let span = fields.span;
    fields.finish(faults);
    let spacing = match (spaced, from, to) {
        (None, None, None) => None,
        (Some(spaced), Some(from), Some(to)) => {
            let at_most = read::quantity(
                &spaced.node,
                Some(spaced.key_span),
                "spaced_at_most",
                Dimension::LENGTH,
                faults,
            );
            let mut end = |entry: &Entry<'_>| {
                let end = context.value(&entry.node, part, faults)?;
                let fits =
                    end.yields.kind == Type::Quantity(Dimension::LENGTH) && !end.yields.placed;
                if !fits {
                    faults.fault(
                        "rules.places",
                        entry.node.span,
                        format!("{} is no single position along the item", quoted(&end.text)),
                        "",
                        "a position such as `heel_at`, or a distance",
                    );
                }
                fits.then_some(end)
            };
            let from = end(from);
            let to = end(to);
            match (at_most, from, to) {
                (Some(at_most), Some(from), Some(to)) => Some(Spacing { at_most, from, to }),
                _ => None,
            }
        }
        _ => {
            faults.fault(
                "rules.places",
                span,
                "`spaced_at_most` needs `from` and `to`, and they need it",
                "",
                "places: { at_least: 5, spaced_at_most: 150 mm, from: heel_at, to: toe_at }",
            );
            None
        }
    };
    Some(Places {
        at_least: at_least.flatten().unwrap_or(1).max(1),
        span: at_least_entry.map_or(span, |entry| entry.node.span),
        spacing,
        repeats: repeats.flatten().unwrap_or(1).max(1),
    })
}

fn checked_at(entry: &Entry<'_>, faults: &mut Faults) -> ByStage<bool> {
    let mut found = ByStage {
        self_check: false,
        certification: false,
        event_inspection: false,
    };
    let items = entry.node.as_sequence().unwrap_or(&[]);
    if items.is_empty() {
        faults.fault(
            "rules.checked_at",
            entry.key_span,
            "`checked_at` is a list of stages",
            "",
            "checked_at: [certification, event_inspection]",
        );
    }
    for node in items {
        let Some(text) = read::scalar(node, None, "a stage", "a name", faults) else {
            continue;
        };
        let words = Stage::ALL.into_iter().map(|stage| (stage.word(), stage));
        match read::one_of(text, node.span, "a stage", words, faults) {
            Some(Stage::SelfCheck) => found.self_check = true,
            Some(Stage::Certification) => found.certification = true,
            Some(Stage::EventInspection) => found.event_inspection = true,
            None => {}
        }
    }
    found
}

const LIMIT_KEYS: [&str; 5] = ["at_least", "more_than", "at_most", "less_than", "equals"];

fn take_row<'n, 's>(fields: &mut Fields<'n, 's>, faults: &mut Faults) -> Vec<&'n Entry<'s>> {
    LIMIT_KEYS
        .into_iter()
        .filter_map(|key| fields.take(key, faults))
        .collect()
}

struct RowReader<'c> {
    context: &'c Context<'c>,
    part: PartId,
    value: &'c Expression,
}

impl RowReader<'_> {
    fn row(
        &self,
        entries: &[&Entry<'_>],
        span: Span,
        of_instead: bool,
        faults: &mut Faults,
    ) -> Option<LimitRow> {
        let Some(first) = entries.first() else {
            let help = if of_instead {
                "at_least, at_most, more_than, less_than, equals, or `limit: none`"
            } else {
                "at_least, at_most, more_than, less_than or equals"
            };
            faults.fault("rules.no_limit", span, "there is no limit here", "", help);
            return None;
        };
        if let Some(equals) = entries.iter().find(|entry| entry.key == "equals") {
            if entries.len() > 1 {
                faults.fault(
                    "rules.limits",
                    equals.key_span,
                    "`equals` stands alone",
                    "beside another limit",
                    "",
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
            if let (Some(_), Some(second)) = (same.next(), same.next()) {
                faults.fault(
                    "rules.limits",
                    second.span,
                    format!(
                        "two limits on one side: `{}` beside the other",
                        second.kind.word()
                    ),
                    "",
                    "keep the one that is meant",
                );
            }
        }
        (bounds.len() == entries.len()).then_some(LimitRow {
            span: first.node.span,
            demand: Demand::Bounds(bounds),
        })
    }

    fn limit(&self, entry: &Entry<'_>, faults: &mut Faults) -> Option<Expression> {
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
            | Type::Section => {
                faults.fault(
                    "rules.limits",
                    entry.key_span,
                    format!("{} has no more and less", quoted(&self.value.text)),
                    "a bound on it",
                    "use `equals`",
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
            | Type::Section => false,
        };
        if !fits || limit.yields.placed {
            let found = match limit.yields.kind {
                Type::Quantity(found) => found.in_words().into_owned(),
                _ => "another kind of thing".to_owned(),
            };
            let (message, help) = if fits {
                (
                    format!(
                        "the limit {} has a value for each place",
                        quoted(&limit.text)
                    ),
                    "use `lowest(…)` or `highest(…)`".to_owned(),
                )
            } else {
                let units: Vec<&str> = dimension
                    .likely_units()
                    .iter()
                    .take(3)
                    .map(|unit| unit.symbol())
                    .filter(|symbol| !symbol.is_empty())
                    .collect();
                let help = if units.is_empty() {
                    "a plain number is asked for".to_owned()
                } else {
                    format!("write it in {}", units.join(", "))
                };
                (
                    format!(
                        "the limit {} is {found}; {} is {}",
                        quoted(&limit.text),
                        quoted(&self.value.text),
                        dimension.in_words()
                    ),
                    help,
                )
            };
            faults.fault(
                "quantity.dimension",
                entry.node.span,
                message,
                "does not fit the value",
                help,
            );
            return None;
        }
        Some(limit)
    }

    fn equals(&self, entry: &Entry<'_>, faults: &mut Faults) -> Option<Equals> {
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
                    "one of the choices",
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
            | Type::Section => {
                faults.fault("rules.limits", entry.key_span, format!("{} can't be asked to equal something", quoted(&self.value.text)), "", "`equals` is for counts, choices and yes-or-no; a measured value has `at_least` and `at_most`");
                None
            }
        }
    }

    fn row_of(&self, entry: &Entry<'_>, faults: &mut Faults) -> Option<LimitRow> {
        let mut fields = Fields::of(&entry.node, "a row of limits", Some(entry.key_span), faults)?;
        let entries = take_row(&mut fields, faults);
        let span = fields.span;
        fields.finish(faults);
        self.row(&entries, span, false, faults)
    }

    fn table(&self, by: &Entry<'_>, limits: &Entry<'_>, faults: &mut Faults) -> Option<Limits> {
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
            let id = read::one_of(
                text,
                by.node.span,
                &format!(
                    "a trait of {} with choices, nor event.level",
                    described.name.text
                ),
                traits.into_iter(),
                faults,
            )?;
            (choices(self.context.vocabulary, self.part, id), Some(id))
        };
        if names.is_empty() {
            faults.fault(
                "rules.by",
                by.node.span,
                format!("{} has nothing to choose from", quoted(text)),
                "",
                "name levels under `event: { levels: […] }`",
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
                "",
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

    fn instead(&self, entry: &Entry<'_>, faults: &mut Faults) -> Vec<Instead> {
        let Some(items) = entry.node.as_sequence() else {
            faults.fault(
                "file.shape",
                entry.node.label_span(Some(entry.key_span)),
                "`instead` is a list of other limits",
                "not a list",
                "- { if: …, because: …, at_least: … }",
            );
            return Vec::new();
        };
        items
            .iter()
            .filter_map(|node| self.instead_row(node, faults))
            .collect()
    }

    fn instead_row(&self, node: &Node<'_>, faults: &mut Faults) -> Option<Instead> {
        let mut fields = Fields::of(node, "another limit", None, faults)?;
        let condition = fields.require("if", faults);
        let because = fields.require_text("because", faults);
        let limit = fields.take_text("limit", faults);
        let unproven = fields.take_text("unproven", faults);
        let until = fields
            .take("until", faults)
            .map(|entry| read::day(&entry.node, Some(entry.key_span), "until", faults));
        let entries = take_row(&mut fields, faults);
        let span = fields.span;
        fields.finish(faults);
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
                        "",
                    );
                }
                Some(LimitRow {
                    span: node.span,
                    demand: Demand::None,
                })
            }
            None => self.row(&entries, span, true, faults),
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
            because: because?.0.to_owned(),
            row: row?,
            unproven_takes_main,
            until,
        })
    }
}

fn named(names: &[Name]) -> Vec<(String, ChoiceId)> {
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

fn choices(vocabulary: &Vocabulary, part: PartId, id: TraitId) -> Vec<(String, ChoiceId)> {
    match vocabulary
        .part(part)
        .and_then(|part| part.traits.get(id.index()))
        .map(|one| &one.kind)
    {
        Some(TraitKind::Choice(names)) => named(names),
        Some(TraitKind::Date | TraitKind::Flag) | None => Vec::new(),
    }
}

/// Whether an expression speaks of the event.
pub fn names_event(node: &Tree) -> bool {
    match &node.op {
        Op::EventLevel | Op::EventDay | Op::IsLevel { .. } => true,
        Op::Quantity { .. }
        | Op::Date(_)
        | Op::YesNo(_)
        | Op::Measure(..)
        | Op::Trait(..)
        | Op::Derived(..)
        | Op::Day => false,
        Op::Negate(inner) | Op::Truth(inner) | Op::Not(inner) => names_event(inner),
        Op::Arithmetic(_, left, right)
        | Op::Compare(_, left, right)
        | Op::IsSame { left, right, .. } => names_event(left) || names_event(right),
        Op::IsChoice { subject, .. } => names_event(subject),
        Op::And(list) | Op::Or(list) | Op::Call(_, list) => list.iter().any(names_event),
        Op::Count { condition, .. } => condition.as_deref().is_some_and(names_event),
        Op::Sum {
            value, condition, ..
        } => names_event(value) || condition.as_deref().is_some_and(names_event),
    }
}

/// The list under `marks`.
pub fn marks(entry: &Entry<'_>, context: &Context<'_>, faults: &mut Faults) -> Vec<MarkRule> {
    let Some(items) = entry.node.as_sequence() else {
        faults.fault(
            "file.shape",
            entry.key_span,
            "marks is a list",
            "not a list",
            "each entry begins with `- id: …`",
        );
        return Vec::new();
    };
    items
        .iter()
        .filter_map(|node| mark(node, context, faults))
        .collect()
}

fn mark(node: &Node<'_>, context: &Context<'_>, faults: &mut Faults) -> Option<MarkRule> {
    let mut fields = Fields::of(node, "a limit on marks", None, faults)?;
    let heading = heading(&mut fields, faults);
    let vocabulary = context.vocabulary;
    let item = fields
        .require_text("item", faults)
        .and_then(|(text, node)| {
            let many: Vec<_> = vocabulary
                .holdings
                .iter()
                .filter(|holding| holding.many)
                .filter_map(|holding| {
                    let part = vocabulary.part(holding.part)?;
                    Some((
                        part.name.text.as_str(),
                        vocabulary.holding_named(&holding.key.text)?,
                    ))
                })
                .collect();
            read::one_of(
                text,
                node.span,
                "a part of which there can be many",
                many.into_iter(),
                faults,
            )
            .map(|item| (item, node.span))
        });
    let by = fields.take("by", faults);
    let limits = fields.take("limits", faults);
    let direct = fields.take("at_most", faults);
    let of_which = fields.take("of_which", faults);
    let span = fields.span;
    fields.finish(faults);
    let (item, item_span) = item?;
    let part = vocabulary.holding(item)?.part;
    let described = vocabulary.part(part)?;
    let flag = described
        .traits
        .iter()
        .find(|one| matches!(one.kind, TraitKind::Flag))
        .and_then(|one| described.trait_named(&one.name.text));
    let Some(nominated_by) = flag else {
        faults.fault(
            "rules.marks",
            item_span,
            format!(
                "{} has no trait that nominates it",
                quoted(&described.name.text)
            ),
            "can't be told which are meant for marks",
            "give it the trait `marked: { flag: intended }`",
        );
        return None;
    };
    let limit = |entry: &Entry<'_>, faults: &mut Faults| {
        read::count(&entry.node, Some(entry.key_span), "at_most", faults).map(|number| MarkLimit {
            at_most: i64::from(number),
            span: entry.node.span,
        })
    };
    let limits = match (by, limits, direct) {
        (None, None, Some(direct)) => limit(direct, faults).map(MarkLimits::Direct),
        (Some(by), Some(limits), None) => {
            let text = read::scalar(&by.node, Some(by.key_span), "by", "event.level", faults)?;
            read::one_of(
                text,
                by.node.span,
                "what marks can depend on",
                std::iter::once(("event.level", ())),
                faults,
            )?;
            let levels = named(&vocabulary.event_levels);
            let mut rows = Vec::new();
            for entry in limits.node.as_mapping().unwrap_or(&[]) {
                let level = read::one_of(
                    &entry.key,
                    entry.key_span,
                    "an event level",
                    levels.iter().map(|(word, id)| (word.as_str(), *id)),
                    faults,
                );
                let Some(mut fields) =
                    Fields::of(&entry.node, "a row of limits", Some(entry.key_span), faults)
                else {
                    continue;
                };
                let found = fields
                    .require("at_most", faults)
                    .and_then(|entry| limit(entry, faults));
                fields.finish(faults);
                if let (Some(level), Some(found)) = (level, found) {
                    rows.push((level, found));
                }
            }
            if rows.is_empty() {
                faults.fault(
                    "rules.limits",
                    limits.key_span,
                    "`limits` is a table with a row for each level",
                    "no rows",
                    "",
                );
            }
            Some(MarkLimits::ByLevel {
                span: by.node.span,
                rows,
            })
        }
        _ => {
            faults.fault(
                "rules.limits",
                span,
                "marks need `at_most`, or `by: event.level` with a table under `limits`",
                "",
                "",
            );
            None
        }
    };
    let mut caps = Vec::new();
    for node in of_which
        .and_then(|entry| entry.node.as_sequence())
        .unwrap_or(&[])
    {
        let Some(mut fields) = Fields::of(node, "a cap on some marks", None, faults) else {
            continue;
        };
        let condition = fields
            .require("where", faults)
            .and_then(|entry| context.condition(entry, part, faults));
        let at_most = fields
            .require("at_most", faults)
            .and_then(|entry| limit(entry, faults));
        fields.finish(faults);
        if let (Some(condition), Some(limit)) = (condition, at_most) {
            caps.push(MarkCap { condition, limit });
        }
    }
    let heading = heading?;
    Some(MarkRule {
        id: heading.id,
        clause: heading.clause,
        title: heading.title,
        text: heading.text,
        item,
        nominated_by,
        limits: limits?,
        of_which: caps,
        remedy: heading.remedy,
    })
}
