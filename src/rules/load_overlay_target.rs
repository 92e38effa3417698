//! Which limit of the rules a change of an overlay means.

use super::model::*;
use crate::diagnostic::{Faults, Fields};
use crate::text::{Entry, Node, quoted};
use crate::vocabulary::{ChoiceId, ELSEWHERE, Name, TraitId, ZoneId, read};

/// The limit that one change means, by its place in the model.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Slot {
    /// A bound in a row of a rule; the row of a rule without a table is the first.
    Bound {
        /// The rule.
        rule: usize,
        /// The row.
        row: usize,
        /// The bound in the row.
        bound: usize,
    },
    /// A limit on marks; the row where there is no table is the first.
    Mark {
        /// The entry under `marks`.
        mark: usize,
        /// The row.
        row: usize,
    },
    /// A cap on some of the marked items.
    Cap {
        /// The entry under `marks`.
        mark: usize,
        /// The cap.
        cap: usize,
    },
}

impl Slot {
    /// The bounds of the row that the limit stands in.
    pub(super) fn row<'r>(&self, rules: &'r [Rule]) -> Option<&'r [Bound]> {
        let Slot::Bound { rule, row, .. } = self else {
            return None;
        };
        let row = super::load_rule::rows(&rules.get(*rule)?.limits, &[]).nth(*row)?;
        match &row.demand {
            Demand::Bounds(bounds) => Some(bounds),
            Demand::Equals(..)
            | Demand::Only(..)
            | Demand::Without(..)
            | Demand::Options(_)
            | Demand::None => None,
        }
    }

    /// The bound itself.
    pub(super) fn bound<'r>(&self, rules: &'r [Rule]) -> Option<&'r Bound> {
        match self {
            Slot::Bound { bound, .. } => self.row(rules)?.get(*bound),
            Slot::Mark { .. } | Slot::Cap { .. } => None,
        }
    }

    /// The same, to be changed.
    pub(super) fn bound_mut<'r>(&self, rules: &'r mut [Rule]) -> Option<&'r mut Bound> {
        let Slot::Bound { rule, row, bound } = self else {
            return None;
        };
        let row = match &mut rules.get_mut(*rule)?.limits {
            Limits::Direct(only) => only,
            Limits::ByTrait { rows, .. } | Limits::ByLevel { rows, .. } => {
                &mut rows.get_mut(*row)?.1
            }
            Limits::ByTraits { rows, .. } => &mut rows.get_mut(*row)?.1,
            Limits::ByZone { rows, .. } => &mut rows.get_mut(*row)?.1,
        };
        match &mut row.demand {
            Demand::Bounds(bounds) => bounds.get_mut(*bound),
            Demand::Equals(..)
            | Demand::Only(..)
            | Demand::Without(..)
            | Demand::Options(_)
            | Demand::None => None,
        }
    }

    /// The limit on marks, to be changed.
    pub(super) fn mark_mut<'r>(&self, marks: &'r mut [MarkRule]) -> Option<&'r mut MarkLimit> {
        match self {
            Slot::Bound { .. } => None,
            Slot::Mark { mark, row } => match &mut marks.get_mut(*mark)?.limits {
                MarkLimits::Direct(limit) => Some(limit),
                MarkLimits::ByLevel { rows, .. } => rows.get_mut(*row).map(|(_, limit)| limit),
            },
            Slot::Cap { mark, cap } => {
                let cap = marks.get_mut(*mark)?.of_which.get_mut(*cap)?;
                Some(&mut cap.limit)
            }
        }
    }
}

/// A rule and the row of it that a change is about.
pub(super) struct Target {
    /// The id of the rule, where the overlay names it.
    pub rule: Name,
    /// The row of its table, or the condition of a cap, as written.
    pub row: Option<String>,
    at: At,
}

enum At {
    Row { rule: usize, row: usize },
    Mark { mark: usize, row: usize },
    Cap { mark: usize, cap: usize },
}

impl Target {
    /// The limit that a key of the change means, and its kind.
    pub(super) fn limit(
        &self,
        rules: &RulesFile,
        entry: &Entry<'_>,
        faults: &mut Faults,
    ) -> Option<(Slot, BoundKind)> {
        let kind = BoundKind::ALL
            .into_iter()
            .find(|kind| kind.word() == entry.key);
        let id = quoted(&self.rule.text);
        let there: Vec<BoundKind> = match self.at {
            At::Mark { .. } | At::Cap { .. } => vec![BoundKind::AtMost],
            At::Row { rule, row } => {
                let slot = Slot::Bound {
                    rule,
                    row,
                    bound: 0,
                };
                let bounds = slot.row(&rules.rules).unwrap_or(&[]);
                bounds.iter().map(|bound| bound.kind).collect()
            }
        };
        let position = kind.and_then(|kind| there.iter().position(|one| *one == kind));
        let (Some(kind), Some(bound)) = (kind, position) else {
            let words: Vec<&str> = there.iter().map(|kind| kind.word()).collect();
            let help = if words.is_empty() {
                "an event can change what has at_least, at_most, more_than or less_than".to_owned()
            } else {
                format!("it has: {}", words.join(", "))
            };
            faults.fault(
                "overlay.no_such_limit",
                entry.key_span,
                format!("{id} has no limit {} to change", quoted(&entry.key)),
                "not there",
                help,
            );
            return None;
        };
        let slot = match self.at {
            At::Row { rule, row } => Slot::Bound { rule, row, bound },
            At::Mark { mark, row } => Slot::Mark { mark, row },
            At::Cap { mark, cap } => Slot::Cap { mark, cap },
        };
        Some((slot, kind))
    }
}

/// Reads which limit a change means: `rule`, `clause`, and `level`, `row` or `of_which`.
pub(super) fn target(
    rules: &RulesFile,
    fields: &mut Fields<'_, '_>,
    faults: &mut Faults,
) -> Option<Target> {
    let rule = fields.require_text("rule", faults);
    let clause = fields.take_text("clause", faults);
    let given = Given {
        level: fields.take("level", faults),
        row: fields.take("row", faults),
        of_which: fields.take("of_which", faults),
    };
    let (text, node) = rule?;
    let known = rules
        .rules
        .iter()
        .map(|rule| &rule.id)
        .chain(rules.marks.iter().map(|mark| &mark.id));
    read::one_of(
        text,
        node.span,
        "the id of a rule",
        known.map(|id| (id.text.as_str(), ())),
        faults,
    )?;
    let reference = format!("{}@{}", rules.class.text, rules.version);
    if !rules.events_may_change.iter().any(|id| id.text == text) {
        let open: Vec<&str> = rules
            .events_may_change
            .iter()
            .map(|id| id.text.as_str())
            .collect();
        faults.fault(
            "overlay.closed",
            node.span,
            format!("{reference} lets no event change {}", quoted(text)),
            "not open to events",
            match open.as_slice() {
                [] => "its `events_may_change` names no rule".to_owned(),
                open => format!("an event may change: {}", open.join(", ")),
            },
        );
        return None;
    }
    let rule_at = rules.rules.iter().position(|rule| rule.id.text == text);
    let mark_at = rules.marks.iter().position(|mark| mark.id.text == text);
    let printed = rule_at
        .and_then(|at| rules.rules.get(at).map(|rule| &rule.clause))
        .or_else(|| mark_at.and_then(|at| rules.marks.get(at).map(|mark| &mark.clause)));
    if let (Some((said, said_node)), Some(printed)) = (clause, printed)
        && said != printed.text
    {
        faults.fault(
            "overlay.clause",
            said_node.span,
            format!("{} is clause {} of {reference}", quoted(text), printed.text),
            "another clause",
            format!(
                "write `clause: {}`, or name the rule that is meant",
                printed.text
            ),
        );
    }
    let (at, row) = match (rule_at, mark_at) {
        (Some(rule), _) => given.of_rule(rules, rule, node, faults)?,
        (None, Some(mark)) => given.of_marks(rules, mark, node, faults)?,
        (None, None) => return None,
    };
    Some(Target {
        rule: Name {
            text: text.to_owned(),
            span: node.span,
        },
        row,
        at,
    })
}

/// What a rule has that is limited by the level of the event.
const BY_LEVEL: &str = "rows by event level";

/// Which row is meant, as the overlay says it.
struct Given<'n, 's> {
    level: Option<&'n Entry<'s>>,
    row: Option<&'n Entry<'s>>,
    of_which: Option<&'n Entry<'s>>,
}

impl Given<'_, '_> {
    fn of_rule(
        &self,
        rules: &RulesFile,
        at: usize,
        node: &Node<'_>,
        faults: &mut Faults,
    ) -> Option<(At, Option<String>)> {
        let rule = rules.rules.get(at)?;
        let id = &rule.id.text;
        self.refuse(self.of_which, id, "no caps; those are of marks", faults)?;
        match &rule.limits {
            Limits::Direct(_) => {
                self.refuse(self.row.or(self.level), id, "one limit for all", faults)?;
                Some((At::Row { rule: at, row: 0 }, None))
            }
            Limits::ByTrait { by, rows, .. } => {
                self.refuse(self.level, id, "no rows by event level", faults)?;
                let part = rules.vocabulary.part(rule.applies_to)?;
                let names = part.traits.get(by.index())?.kind.names();
                let there = words_of(names, rows.iter().map(|(id, _)| *id));
                let (row, word) = self.one_row(self.row, "row", id, &there, node, faults)?;
                Some((At::Row { rule: at, row }, Some(word)))
            }
            Limits::ByTraits { by, rows, .. } => {
                self.refuse(self.level, id, "no rows by event level", faults)?;
                let part = rules.vocabulary.part(rule.applies_to)?;
                let word = |(by, choice): (&TraitId, &ChoiceId)| {
                    let names = part.traits.get(by.index())?.kind.names();
                    names.get(choice.index()).map(|name| name.text.as_str())
                };
                let words = |(choices, _): &(Vec<ChoiceId>, LimitRow)| {
                    let words = by.iter().zip(choices).filter_map(word);
                    words.collect::<Vec<_>>().join(" ")
                };
                let there: Vec<String> = rows.iter().map(words).collect();
                let (row, word) = self.one_row(self.row, "row", id, &there, node, faults)?;
                Some((At::Row { rule: at, row }, Some(word)))
            }
            Limits::ByZone { rows, .. } => {
                self.refuse(self.level, id, "no rows by event level", faults)?;
                let zones = &rules.vocabulary.part(rule.applies_to)?.zones;
                let word = |(id, _): &(Option<ZoneId>, LimitRow)| {
                    let zone = id.and_then(|id| zones.get(id.index()));
                    zone.map_or(ELSEWHERE, |zone| &zone.name.text).to_owned()
                };
                let there: Vec<String> = rows.iter().map(word).collect();
                let (row, word) = self.one_row(self.row, "row", id, &there, node, faults)?;
                Some((At::Row { rule: at, row }, Some(word)))
            }
            Limits::ByLevel { rows, .. } => {
                self.refuse(self.row, id, BY_LEVEL, faults)?;
                let levels = &rules.vocabulary.event_levels;
                let there = words_of(levels, rows.iter().map(|(id, _)| *id));
                let (row, word) = self.one_row(self.level, "level", id, &there, node, faults)?;
                Some((At::Row { rule: at, row }, Some(word)))
            }
        }
    }

    fn of_marks(
        &self,
        rules: &RulesFile,
        at: usize,
        node: &Node<'_>,
        faults: &mut Faults,
    ) -> Option<(At, Option<String>)> {
        let mark = rules.marks.get(at)?;
        let id = &mark.id.text;
        self.refuse(self.row, id, BY_LEVEL, faults)?;
        if let Some(entry) = self.of_which {
            let text = crate::diagnostic::text_of(entry, faults)?;
            self.refuse(
                self.level,
                id,
                "caps that are the same at every level",
                faults,
            )?;
            let told = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
            let caps: Vec<String> = mark
                .of_which
                .iter()
                .map(|cap| told(&cap.condition.text))
                .collect();
            let cap = read::one_of(
                &told(text),
                entry.node.span,
                &format!("a cap of {id}"),
                caps.iter()
                    .enumerate()
                    .map(|(at, words)| (words.as_str(), at)),
                faults,
            )?;
            return Some((At::Cap { mark: at, cap }, Some(told(text))));
        }
        match &mark.limits {
            MarkLimits::Direct(_) => {
                self.refuse(self.level, id, "one limit for all", faults)?;
                Some((At::Mark { mark: at, row: 0 }, None))
            }
            MarkLimits::ByLevel { rows, .. } => {
                let levels = &rules.vocabulary.event_levels;
                let there = words_of(levels, rows.iter().map(|(id, _)| *id));
                let (row, word) = self.one_row(self.level, "level", id, &there, node, faults)?;
                Some((At::Mark { mark: at, row }, Some(word)))
            }
        }
    }

    /// A key that does not go with the rule.
    fn refuse(
        &self,
        entry: Option<&Entry<'_>>,
        id: &str,
        has: &str,
        faults: &mut Faults,
    ) -> Option<()> {
        let Some(entry) = entry else { return Some(()) };
        faults.fault(
            "overlay.row",
            entry.key_span,
            format!("{} has {has}", quoted(id)),
            format!("and no {}", quoted(&entry.key)),
            if has == BY_LEVEL {
                format!("write `level` in place of {}", quoted(&entry.key))
            } else {
                format!("take {} out", quoted(&entry.key))
            },
        );
        None
    }

    /// The row that a key names.
    fn one_row(
        &self,
        entry: Option<&Entry<'_>>,
        key: &str,
        id: &str,
        there: &[String],
        node: &Node<'_>,
        faults: &mut Faults,
    ) -> Option<(usize, String)> {
        let Some(entry) = entry else {
            faults.fault(
                "overlay.row",
                node.span,
                format!(
                    "{} has a limit for each of: {}",
                    quoted(id),
                    there.join(", ")
                ),
                "which of them is not said",
                format!("add `{key}: {}`", there.first().map_or("…", String::as_str)),
            );
            return None;
        };
        let text = crate::diagnostic::text_of(entry, faults)?;
        let row = read::one_of(
            text,
            entry.node.span,
            &format!("a row of {id}"),
            there
                .iter()
                .enumerate()
                .map(|(at, word)| (word.as_str(), at)),
            faults,
        )?;
        Some((row, text.to_owned()))
    }
}

/// The words of the rows of a table, in their order.
fn words_of(names: &[Name], rows: impl Iterator<Item = ChoiceId>) -> Vec<String> {
    rows.map(|id| {
        names
            .get(id.index())
            .map_or(String::new(), |name| name.text.clone())
    })
    .collect()
}
