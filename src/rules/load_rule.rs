//! The `rules` and `marks` parts of a rules file.

use super::load_derived::{Derived, problems, yield_of};
use super::load_limits::{Also, RowReader, take_row};
use super::load_options::options;
use super::load_places::{checked_at, judged, places};
use super::model::*;
use crate::diagnostic::{Faults, Fields};
use crate::expression::{self, Expression, Function, Names, Node as Tree, Op};
use crate::text::{Entry, Node, Span, quoted};
use crate::vocabulary::{Name, PartId, Vocabulary, read};

/// What a rule is read against.
pub struct Context<'v> {
    /// The vocabulary of the file.
    pub vocabulary: &'v Vocabulary,
    /// Its derived values, as far as they could be read.
    pub derived: &'v Derived,
    /// Whether the vocabulary has no fault: what a rule asks of places may fail for one of those.
    pub sound: bool,
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

    pub(super) fn value(
        &self,
        node: &Node<'_>,
        own: PartId,
        faults: &mut Faults,
    ) -> Option<Expression> {
        let text = read::scalar(node, None, "a value", "an expression", faults)?;
        let found = self.with_names(own, |names| {
            expression::read_value(text, &|range| node.text_span(range), names)
        });
        found.map_err(|found| problems(found, faults)).ok()
    }

    /// A value that was read before without a fault, with its places moved.
    pub(super) fn value_at(
        &self,
        node: &Node<'_>,
        own: PartId,
        place: &dyn Fn(Span) -> Span,
    ) -> Option<Expression> {
        let text = node.as_text()?;
        let found = self.with_names(own, |names| {
            expression::read_value(text, &|range| place(node.text_span(range)), names)
        });
        found.ok()
    }

    /// Whether an expression is made of the extremes of places, derived values written out.
    fn has_extremes(&self, node: &Tree, own: PartId) -> bool {
        match &node.op {
            Op::Call(Function::Lowest | Function::Highest, _) => true,
            Op::Count { .. } | Op::Sum { .. } => false,
            Op::Derived(scope, slot) => {
                let part = scope.part(own, self.vocabulary);
                let found = part.and_then(|part| {
                    let list = self.derived.get(part.index())?;
                    Some((part, list.get(slot.index())?.as_ref()?))
                });
                found.is_some_and(|(part, derived)| self.has_extremes(&derived.root, part))
            }
            _ => {
                let mut below = node.children().into_iter();
                below.any(|child| self.has_extremes(child, own))
            }
        }
    }

    pub(super) fn condition(
        &self,
        entry: &Entry<'_>,
        own: PartId,
        faults: &mut Faults,
    ) -> Option<Expression> {
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

pub(super) struct Heading {
    pub(super) id: Name,
    pub(super) clause: Name,
    pub(super) title: String,
    pub(super) text: String,
    pub(super) text_span: Span,
    pub(super) remedy: Option<String>,
}

pub(super) fn heading(fields: &mut Fields<'_, '_>, faults: &mut Faults) -> Option<Heading> {
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
        .map(|found| words(found, faults));
    let text = fields.take_text("text", faults);
    let text_span = text.map(|(_, node)| node.span);
    let text = text.map(|found| words(found, faults));
    let remedy = fields
        .take_text("remedy", faults)
        .map(|found| words(found, faults));
    let id = id?;
    Some(Heading {
        text_span: text_span.unwrap_or(id.span),
        id,
        clause: clause?,
        title: title.unwrap_or_default(),
        text: text.unwrap_or_default(),
        remedy,
    })
}

/// The words of the class as they are printed; a ` #` behind them most likely cut them.
pub(super) fn words((text, node): (&str, &Node<'_>), faults: &mut Faults) -> String {
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
            "put the text in quotes, or the comment on a line of its own",
        );
    }
    text.trim().to_owned()
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
    let options_entry = fields.take("options", faults);
    let value_entry = match options_entry {
        None => fields.require("value", faults),
        Some(_) => fields.take("value", faults),
    };
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
    let before = faults.len();
    fields.finish(faults);
    let whose = match &heading {
        // A key that is not known may be the limit, misspelt.
        _ if faults.len() > before => None,
        Some(heading) => Some(format!("the rule {}", quoted(&heading.id.text))),
        None => Some("this rule".to_owned()),
    };

    let part = part?;
    let options = match options_entry {
        None => None,
        Some(entry) => {
            let beside = [
                value_entry,
                by_entry,
                limits_entry,
                judged_entry,
                places_entry,
            ];
            let beside = beside.into_iter().chain([outside_entry, zone_entry]);
            let beside = beside.flatten().chain(direct.iter().copied());
            alone(beside, faults);
            Some((options(entry, context, part, faults)?, entry.key_span))
        }
    };
    let value = match &options {
        // What the first column measures stands for them all.
        Some((options, _)) => options.columns.first()?.value.clone(),
        None => value_entry.and_then(|entry| context.value(&entry.node, part, faults))?,
    };
    let when = match when_entry {
        None => None,
        Some(entry) => Some(context.condition(entry, part, faults)?),
    };
    let reader = RowReader {
        context,
        part,
        value: &value,
        of_options: options.is_some(),
    };
    let limits = match (by_entry, limits_entry) {
        _ if options.is_some() => options.map(|(options, span)| {
            Limits::Direct(LimitRow {
                span,
                demand: Demand::Options(Box::new(options)),
            })
        }),
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
            reader.table(by, limits, faults)
        }
        (Some(entry), None) => {
            faults.fault(
                "rules.limits",
                entry.key_span,
                "`by` needs a table under `limits`",
                "no `limits` here",
                "give each choice a row: `limits: { plate: { at_least: 6.00 mm } }`",
            );
            None
        }
        (None, Some(entry)) => {
            faults.fault(
                "rules.limits",
                entry.key_span,
                "a table of limits needs `by`",
                "no `by` here",
                "say by which trait: `by: construction`",
            );
            None
        }
        (None, None) => reader
            .row(&direct, rule_span, whose.as_deref(), Also::Nothing, faults)
            .map(Limits::Direct),
    };
    let instead = instead_entry
        .map(|entry| reader.instead(entry, faults))
        .unwrap_or_default();
    let judged = judged(
        context,
        judged_entry,
        &value,
        value_entry.map(|entry| entry.key_span).unwrap_or(rule_span),
        faults,
    );
    if let (Judged::Mean, Some(Limits::ByZone { .. }), Some(entry)) =
        (judged, &limits, judged_entry)
    {
        faults.fault(
            "rules.judged",
            entry.node.span,
            "limits by zone are met by each place, and a mean of places lies in no zone",
            "a mean beside `by: zone`",
            "write `judged: worst_place`, or a rule for the mean of one zone: `zone: middle`",
        );
    }
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
    if !value.yields.placed && context.sound {
        let of_extremes = context.has_extremes(&value.root, part);
        if let (true, Some(entry), Some(spacing)) = (
            of_extremes,
            places_entry,
            places.as_ref().and_then(|places| places.spacing.as_ref()),
        ) {
            faults.fault(
                "rules.places",
                spacing.from.span,
                format!(
                    "{} is made of places of several measures or items, which have no ends in common",
                    quoted(&value.text)
                ),
                "spacing between ends",
                "say how many places and readings: places: { at_least: 5, repeats: 3 }",
            );
            faults.also(entry.key_span, "asked here");
        }
        for entry in [
            places_entry.filter(|_| !of_extremes),
            outside_entry,
            zone_entry,
        ]
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
        || value.root.names_event()
        || when.as_ref().is_some_and(|when| when.root.names_event())
        || rows(&limits, &instead)
            .flat_map(|row| row.demand.expressions())
            .any(|one| one.root.names_event())
        || instead.iter().any(|row| row.condition.root.names_event());
    Some(Rule {
        id: heading.id,
        clause: heading.clause,
        title: heading.title,
        text: heading.text,
        text_span: heading.text_span,
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

/// Refuses what stands beside `options`, which say all there is to ask.
fn alone<'e>(beside: impl Iterator<Item = &'e Entry<'e>>, faults: &mut Faults) {
    for entry in beside {
        faults.fault(
            "rules.options",
            entry.key_span,
            format!("{} has no meaning beside `options`", quoted(&entry.key)),
            "beside `options`",
            "the columns and rows of the options say what is asked; other limits stand in a rule of their own",
        );
    }
}

/// All rows of a rule, main and other.
pub fn rows<'r>(limits: &'r Limits, instead: &'r [Instead]) -> impl Iterator<Item = &'r LimitRow> {
    let main: Vec<&LimitRow> = match limits {
        Limits::Direct(row) => vec![row],
        Limits::ByTrait { rows, .. } | Limits::ByLevel { rows, .. } => {
            rows.iter().map(|(_, row)| row).collect()
        }
        Limits::ByTraits { rows, .. } => rows.iter().map(|(_, row)| row).collect(),
        Limits::ByZone { rows, .. } => rows.iter().map(|(_, row)| row).collect(),
    };
    main.into_iter().chain(instead.iter().map(|one| &one.row))
}
