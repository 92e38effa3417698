//! Tables of limits: by the choices of one trait or several, by zone, by event level.

use super::load_limits::{Also, RowReader, choices, named, take_row};
use super::model::*;
use crate::diagnostic::{Faults, Fields};
use crate::text::{Entry, Node, Span, quoted};
use crate::vocabulary::{ChoiceId, ELSEWHERE, Part, TraitId, TraitKind, ZoneId, read};

/// What `by` names.
enum By {
    /// A trait of the item.
    Trait(TraitId),
    /// The place on the item.
    Zone,
    /// The level of the event.
    Level,
}

/// The choices of a trait with the word that names it.
struct Axis {
    id: TraitId,
    word: String,
    choices: Vec<(String, ChoiceId)>,
}

impl RowReader<'_> {
    fn row_of(&self, entry: &Entry<'_>, faults: &mut Faults) -> Option<LimitRow> {
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
        let part = self.context.vocabulary.part(self.part)?;
        if let Some(nodes) = by.node.as_sequence() {
            return self.by_several(by, nodes, limits, part, faults);
        }
        let text = read::scalar(
            &by.node,
            Some(by.key_span),
            "by",
            "the name of a trait, a list of traits, zone or event.level",
            faults,
        )?;
        let span = by.node.span;
        match self.by(text, span, part, faults)? {
            By::Trait(id) => {
                let axis = self.axis(id, text);
                let rows = self.rows(&axis.word, &axis.choices, limits, faults);
                Some(Limits::ByTrait { by: id, span, rows })
            }
            By::Zone => self.by_zone(by, limits, part, faults),
            By::Level => {
                let levels = named(&self.context.vocabulary.event_levels);
                if levels.is_empty() {
                    faults.fault(
                        "rules.by",
                        span,
                        "this file names no event levels",
                        "nothing to choose from",
                        "name them: `event: { levels: [club, regional] }`",
                    );
                    return None;
                }
                let rows = self.rows(text, &levels, limits, faults);
                Some(Limits::ByLevel { span, rows })
            }
        }
    }

    fn axis(&self, id: TraitId, word: &str) -> Axis {
        Axis {
            id,
            word: word.to_owned(),
            choices: choices(self.context.vocabulary, self.part, id),
        }
    }

    /// What one word of `by` means.
    fn by(&self, text: &str, span: Span, part: &Part, faults: &mut Faults) -> Option<By> {
        let kind = part.trait_named(text);
        let kind = kind
            .and_then(|id| part.traits.get(id.index()))
            .map(|one| &one.kind);
        let what = match kind {
            Some(TraitKind::Date) => Some("a date"),
            Some(TraitKind::Flag) => Some("a flag"),
            Some(TraitKind::AnyOf(_)) => Some("a list"),
            Some(TraitKind::Choice(_)) | None => None,
        };
        if let Some(what) = what {
            faults.fault(
                "rules.by",
                span,
                format!("{} is {what}; a table has a row for each choice", quoted(text)),
                "nothing to choose from",
                "name a trait with choices, or event.level; a date can be the `if` of an entry under `instead`",
            );
            return None;
        }
        let traits = part
            .traits
            .iter()
            .filter(|one| matches!(one.kind, TraitKind::Choice(_)))
            .filter_map(|one| part.trait_named(&one.name.text).map(|id| (one, id)))
            .map(|(one, id)| (one.name.text.as_str(), Some(id)));
        let zone = part.zones.first().map(|_| ("zone", None));
        let levels = &self.context.vocabulary.event_levels;
        let event = (!levels.is_empty() || text == "event.level").then_some(("event.level", None));
        let words: Vec<(&str, Option<TraitId>)> = traits.chain(zone).chain(event).collect();
        let id = read::one_of(
            text,
            span,
            &format!("what limits of a {} can go by", part.name.text),
            words.into_iter(),
            faults,
        )?;
        Some(match id {
            Some(id) => By::Trait(id),
            None if text == "zone" => By::Zone,
            None => By::Level,
        })
    }

    fn entries<'n, 's>(
        &self,
        limits: &'n Entry<'s>,
        example: &str,
        faults: &mut Faults,
    ) -> &'n [Entry<'s>] {
        let entries = limits.node.as_mapping().unwrap_or(&[]);
        if entries.is_empty() {
            faults.fault(
                "rules.limits",
                limits.key_span,
                "`limits` is a table with a row for each choice",
                "no rows",
                example,
            );
        }
        entries
    }

    /// A row for each of some choices.
    fn rows(
        &self,
        text: &str,
        names: &[(String, ChoiceId)],
        limits: &Entry<'_>,
        faults: &mut Faults,
    ) -> Vec<(ChoiceId, LimitRow)> {
        let mut rows = Vec::new();
        for entry in self.entries(limits, "limits: { plate: { at_least: 6.00 mm } }", faults) {
            let choice = choice_of(entry, text, names, faults);
            let row = self.row_of(entry, faults);
            if let (Some(choice), Some(row)) = (choice, row) {
                rows.push((choice, row));
            }
        }
        rows
    }

    /// `by: [construction, position]`: each row of the first trait has a row for each choice of the next.
    fn by_several(
        &self,
        by: &Entry<'_>,
        nodes: &[Node<'_>],
        limits: &Entry<'_>,
        part: &Part,
        faults: &mut Faults,
    ) -> Option<Limits> {
        const FORM: &str = "by: [construction, position]";
        let mut axes: Vec<Axis> = Vec::new();
        let mut whole = true;
        for node in nodes {
            let text = read::scalar(
                node,
                None,
                "an entry of `by`",
                "the name of a trait",
                faults,
            );
            let found = match text {
                Some(text @ ("zone" | "event.level")) if part.trait_named(text).is_none() => {
                    faults.fault(
                        "rules.by",
                        node.span,
                        format!("{} stands alone under `by`", quoted(text)),
                        "in a list of traits",
                        format!(
                            "write `by: {text}`, and the traits as conditions of rules of their own"
                        ),
                    );
                    None
                }
                Some(text) => self.by(text, node.span, part, faults).map(|by| (text, by)),
                None => None,
            };
            match found {
                Some((text, By::Trait(id))) if axes.iter().any(|axis| axis.id == id) => {
                    whole = false;
                    faults.fault(
                        "name.twice",
                        node.span,
                        format!("{} is named twice", quoted(text)),
                        "again here",
                        "take one of the two out",
                    );
                }
                Some((text, By::Trait(id))) => axes.push(self.axis(id, text)),
                Some((_, By::Zone | By::Level)) | None => whole = false,
            }
        }
        if nodes.is_empty() {
            faults.fault(
                "rules.by",
                by.key_span,
                "`by` names nothing",
                "an empty list",
                FORM,
            );
        }
        if !whole || axes.is_empty() {
            return None;
        }
        let span = by.node.label_span(Some(by.key_span));
        let mut rows = Vec::new();
        self.nested(&axes, &mut Vec::new(), limits, &mut rows, faults);
        if let [axis] = axes.as_slice() {
            let one =
                |(choices, row): (Vec<ChoiceId>, LimitRow)| choices.first().map(|id| (*id, row));
            return Some(Limits::ByTrait {
                by: axis.id,
                span,
                rows: rows.into_iter().filter_map(one).collect(),
            });
        }
        Some(Limits::ByTraits {
            by: axes.iter().map(|axis| axis.id).collect(),
            span,
            rows,
        })
    }

    fn nested(
        &self,
        axes: &[Axis],
        chosen: &mut Vec<ChoiceId>,
        limits: &Entry<'_>,
        rows: &mut Vec<(Vec<ChoiceId>, LimitRow)>,
        faults: &mut Faults,
    ) {
        let Some((axis, inner)) = axes.split_first() else {
            return;
        };
        let Some(entries) = limits.node.as_mapping().filter(|list| !list.is_empty()) else {
            let first = axis.choices.first().map_or("…", |(word, _)| word.as_str());
            faults.fault(
                "rules.limits",
                limits.node.label_span(Some(limits.key_span)),
                format!(
                    "{} has a row for each choice of {}",
                    quoted(&limits.key),
                    quoted(&axis.word)
                ),
                "no rows",
                format!("{}: {{ {first}: … }}", limits.key),
            );
            return;
        };
        for entry in entries {
            // A limit that stands one step too far out is told as that.
            if super::load_limits::is_limit_key(&entry.key)
                && choice_named(entry, &axis.choices).is_none()
            {
                let first = axis.choices.first().map_or("…", |(word, _)| word.as_str());
                faults.fault(
                    "rules.limits",
                    entry.key_span,
                    format!(
                        "a limit stands where the choices of {} belong",
                        quoted(&axis.word)
                    ),
                    format!("one of {} first", quoted(&axis.word)),
                    format!("{}: {{ {first}: {{ {}: … }} }}", limits.key, entry.key),
                );
                continue;
            }
            let Some(choice) = choice_of(entry, &axis.word, &axis.choices, faults) else {
                continue;
            };
            chosen.push(choice);
            if inner.is_empty() {
                let row = self.row_of(entry, faults);
                rows.extend(row.map(|row| (chosen.clone(), row)));
            } else {
                self.nested(inner, chosen, entry, rows, faults);
            }
            chosen.pop();
        }
    }

    /// `by: zone`: a row for each zone, and `elsewhere`.
    fn by_zone(
        &self,
        by: &Entry<'_>,
        limits: &Entry<'_>,
        part: &Part,
        faults: &mut Faults,
    ) -> Option<Limits> {
        let span = by.node.span;
        if !self.value.yields.placed {
            faults.fault(
                "rules.unplaced",
                span,
                format!("{} is not taken at places", quoted(&self.value.text)),
                "has no zone",
                "only a placed measure has a place that a zone can be told from",
            );
            return None;
        }
        let zones: Vec<(&str, Option<ZoneId>)> = part
            .zones
            .iter()
            .filter_map(|zone| part.zone_named(&zone.name.text).map(|id| (zone, id)))
            .map(|(zone, id)| (zone.name.text.as_str(), Some(id)))
            .chain([(ELSEWHERE, None)])
            .collect();
        let mut rows = Vec::new();
        for entry in self.entries(
            limits,
            "limits: { middle: { at_least: 70 mm }, elsewhere: { at_least: 40 mm } }",
            faults,
        ) {
            let zone = read::one_of(
                &entry.key,
                entry.key_span,
                &format!("a zone of {}", part.name.text),
                zones.iter().copied(),
                faults,
            );
            let row = self.row_of(entry, faults);
            if let (Some(zone), Some(row)) = (zone, row) {
                rows.push((zone, row));
            }
        }
        Some(Limits::ByZone { span, rows })
    }
}

fn choice_named(entry: &Entry<'_>, names: &[(String, ChoiceId)]) -> Option<ChoiceId> {
    let found = names.iter().find(|(word, _)| *word == *entry.key);
    found.map(|(_, id)| *id)
}

fn choice_of(
    entry: &Entry<'_>,
    by: &str,
    names: &[(String, ChoiceId)],
    faults: &mut Faults,
) -> Option<ChoiceId> {
    read::one_of(
        &entry.key,
        entry.key_span,
        &format!("a choice of {by}"),
        names.iter().map(|(word, id)| (word.as_str(), *id)),
        faults,
    )
}
