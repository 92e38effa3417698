//! Where a boat comes out otherwise: the findings that differ between the checks of it under both versions.

use super::common::Side;
use crate::check::cases::id_of;
use crate::check::{Finding, ItemRef, Outcome, RuleRef};
use crate::quantity::Quantity;
use crate::record::Record;
use crate::rules::RulesFile;

/// What a rule says of an item where one version finds it worse than the other, as their checks found it.
#[derive(Clone, Debug)]
pub struct Flip {
    /// The id of the rule.
    pub rule: String,
    /// The version that finds the item worse.
    pub worse: Side,
    /// What the old version finds.
    pub old: FlipSide,
    /// What the new version finds.
    pub new: FlipSide,
}

impl Flip {
    /// What a version finds.
    pub fn at(&self, side: Side) -> &FlipSide {
        match side {
            Side::Old => &self.old,
            Side::New => &self.new,
        }
    }
}

/// What a version says of an item by a rule.
#[derive(Clone, Debug)]
pub enum FlipSide {
    /// It finds this.
    Found(Box<FoundIn>),
    /// It has the rule, and does not ask it of the item then.
    NotAsked,
    /// It has no such rule.
    NoRule,
}

/// A finding with what it needs to be told without its record and its rules.
#[derive(Clone, Debug)]
pub struct FoundIn {
    /// The finding.
    pub finding: Finding,
    /// The printed number of the clause, if the rule has one.
    pub clause: Option<String>,
    /// The item: `runners/S1`, `hull`, `boat`.
    pub item: String,
    /// The trait that is declared, where no rule speaks of what is declared.
    pub about: Option<String>,
    /// The limit where it is written as one quantity.
    pub limit_as_written: Option<Quantity>,
}

/// A version with the check of a record under it.
#[derive(Clone, Copy)]
pub(super) struct CheckedBy<'c> {
    pub rules: &'c RulesFile,
    pub record: &'c Record,
    pub findings: &'c [Finding],
}

impl CheckedBy<'_> {
    /// The findings of a rule.
    fn of_rule(&self, id: &str) -> impl Iterator<Item = &Finding> {
        self.findings
            .iter()
            .filter(move |one| id_of(self.rules, one.rule) == id)
    }

    /// Whether the version has a rule, or what stands for one.
    fn knows(&self, id: &str) -> bool {
        matches!(id, "equipment" | "silence") || self.rules.headings().any(|(own, ..)| own == id)
    }

    /// The list and the id of an item.
    fn name(&self, item: ItemRef) -> (&str, Option<&str>) {
        let vocabulary = &self.rules.vocabulary;
        let (holding, id) = match item {
            ItemRef::Holding(id) => (Some(id), None),
            ItemRef::Item(at) => {
                let item = self.record.items.get(at);
                let id = item.and_then(|item| item.id.as_deref());
                (item.and_then(|item| item.holding), id)
            }
        };
        let holding = holding.and_then(|id| vocabulary.holding(id));
        (holding.map_or("boat", |holding| &holding.key.text), id)
    }

    /// The trait of what the rules do not list.
    fn about(&self, finding: &Finding) -> Option<String> {
        let (RuleRef::Silence(id), ItemRef::Item(at)) = (finding.rule, finding.item) else {
            return None;
        };
        let part = self.record.items.get(at).map(|item| item.part)?;
        let part = self.rules.vocabulary.part(part)?;
        Some(part.traits.get(id.index())?.name.text.clone())
    }

    fn found(&self, finding: &Finding) -> FlipSide {
        let mut headings = self.rules.headings();
        let id = id_of(self.rules, finding.rule);
        let heading = headings.find(|(own, ..)| *own == id);
        let item = match self.name(finding.item) {
            (list, Some(id)) => format!("{list}/{id}"),
            (list, None) => list.to_owned(),
        };
        let (source, limit_at) = self.rules.place(finding.limit_at);
        let text = source.slice(limit_at).trim_matches(['"', '\'']);
        FlipSide::Found(Box::new(FoundIn {
            finding: finding.clone(),
            clause: heading.map(|(_, clause, _)| clause.to_owned()),
            item,
            about: self.about(finding),
            limit_as_written: Quantity::parse(text).ok(),
        }))
    }
}

/// The findings by some rules that are worse under one version than those of the other one, which are looked up by
/// rule, item and side of a limit. `worst` is what the worse ones come to.
pub(super) fn flips(
    [old, new]: [CheckedBy<'_>; 2],
    worse: Side,
    rules: &[String],
    worst: &[Outcome],
) -> Vec<Flip> {
    let (by, other) = match worse {
        Side::Old => (old, new),
        Side::New => (new, old),
    };
    let mut found = Vec::new();
    for id in rules {
        for finding in by.of_rule(id).filter(|one| worst.contains(&one.outcome)) {
            let same = counterpart(&by, finding, &other, id);
            if same.is_some_and(|same| same.outcome <= finding.outcome) {
                continue;
            }
            let there = match same {
                Some(same) => other.found(same),
                None if other.knows(id) => FlipSide::NotAsked,
                None => FlipSide::NoRule,
            };
            let here = by.found(finding);
            let (old, new) = match worse {
                Side::Old => (here, there),
                Side::New => (there, here),
            };
            found.push(Flip {
                rule: id.clone(),
                worse,
                old,
                new,
            });
        }
    }
    found
}

/// What the other version finds of the same item by the same rule: on the same side of the limit, else its worst.
fn counterpart<'c>(
    by: &CheckedBy<'_>,
    finding: &Finding,
    other: &'c CheckedBy<'c>,
    id: &str,
) -> Option<&'c Finding> {
    let (list, item) = by.name(finding.item);
    let of_rule: Vec<(&str, Option<&str>, &Finding)> = other
        .of_rule(id)
        .map(|one| {
            let (list, item) = other.name(one.item);
            (list, item, one)
        })
        .collect();
    // A list may have another name there: then an id tells, which is on a boat once but in records by hand.
    let exact = of_rule.iter().any(|(l, i, _)| (*l, *i) == (list, item));
    let of_item: Vec<&Finding> = of_rule
        .into_iter()
        .filter(|(l, i, _)| *i == item && (!exact || *l == list))
        .map(|(_, _, one)| one)
        .collect();
    let on_side = of_item.iter().find(|one| one.side == finding.side);
    let worst = of_item.iter().min_by_key(|one| one.outcome);
    on_side.or(worst).copied()
}
