//! What a record has to say so that a rule can be decided: measures, declared choices, proofs of days, parts, what a
//! place has to tell.

use std::collections::BTreeSet;

use super::super::common::{Common, HoldingIx, MeasureIx, PartIx, RoleIx, Side, TraitIx};
use super::super::formula::Formula;
use super::super::legal::{Clause, ClauseOf};
use crate::expression::{Expression, Function, Node, Op, Scope};
use crate::rules::{Limits, MarkRule, Rule, rows};
use crate::vocabulary::{PartId, TraitId, TraitKind, ZoneId, ZoneKind};

/// Something that a record has to say.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Need {
    /// A measure of a kind of part.
    Measure(PartIx, MeasureIx),
    /// A choice or a list.
    Declared(PartIx, TraitIx),
    /// The proof of a day.
    Proof(PartIx, TraitIx),
    /// A part that the boat has one of.
    Part(HoldingIx),
    /// The part in a role of a group.
    Role(PartIx, RoleIx),
    /// Where along a part its places lie.
    PlaceAt(PartIx),
    /// How far from the edge of a part its places lie.
    FromEdge(PartIx),
    /// The temperature of the session.
    Temperature,
}

/// What is asked by a rule, or by one of the terms of a rule on marks.
#[derive(Clone, Debug)]
pub struct Demand<'r> {
    /// The rule's id.
    pub id: &'r str,
    /// Which term of a rule on marks it is; nothing of other rules.
    pub term: Option<String>,
    /// The kind of part that it is about.
    pub on: PartIx,
    /// The rule, where it is none on marks.
    pub rule: Option<&'r Rule>,
    /// Its statement and when it is asked.
    pub clause: Option<&'r Clause>,
    /// What a record has to say, exemptions aside.
    pub needs: BTreeSet<Need>,
    /// The same without what it needs to be asked at all.
    pub judging: BTreeSet<Need>,
    /// What it has to say so that it can be told how near to each other places are.
    pub spacing: BTreeSet<Need>,
    /// What a record has to say for each exemption.
    pub exempting: Vec<BTreeSet<Need>>,
}

impl Demand<'_> {
    /// When it is asked.
    pub fn asked(&self) -> Formula {
        match (&self.term, self.clause) {
            (None, Some(clause)) => Formula::all([clause.asked.clone(), clause.in_rows.clone()]),
            (Some(_), _) | (None, None) => Formula::True,
        }
    }

    /// Everything that a record has to say.
    pub fn all_needs(&self) -> BTreeSet<Need> {
        let exempting = self.exempting.iter().flatten();
        let all = self.needs.iter().chain(&self.spacing).chain(exempting);
        all.copied().collect()
    }

    /// How it is told in words: the id, with the term of marks behind it.
    pub fn told(&self) -> String {
        match &self.term {
            Some(term) => format!("{}, {term}", self.id),
            None => self.id.to_owned(),
        }
    }
}

/// All demands of a version.
pub fn demands<'r>(common: &Common<'r>, side: Side, clauses: &'r [Clause]) -> Vec<Demand<'r>> {
    let rules = common.rules(side);
    let clause = |of: ClauseOf| clauses.iter().find(|one| one.of == of);
    let mut found = Vec::new();
    for (at, rule) in rules.rules.iter().enumerate() {
        let Some(on) = common.part_of(side, rule.applies_to) else {
            continue;
        };
        let mut walk = Walk::new(common, side);
        walk.judged(rule);
        let judging = walk.needs.clone();
        if let Some(when) = &rule.when {
            walk.expression(when);
        }
        let mut spacing = Walk::new(common, side);
        spacing.spacing(rule);
        let exempting = rule.instead.iter().map(|row| {
            let mut walk = Walk::new(common, side);
            walk.expression(&row.condition);
            row.row
                .demand
                .expressions()
                .for_each(|one| walk.expression(one));
            walk.needs
        });
        found.push(Demand {
            spacing: spacing.needs,
            exempting: exempting.collect(),
            id: &rule.id.text,
            term: None,
            on,
            rule: Some(rule),
            clause: clause(ClauseOf::Rule(at)),
            needs: walk.needs,
            judging,
        });
    }
    for (at, mark) in rules.marks.iter().enumerate() {
        let own = rules.vocabulary.holding(mark.item).map(|one| one.part);
        let Some((own, on)) = own.and_then(|own| Some((own, common.part_of(side, own)?))) else {
            continue;
        };
        let clause = clause(ClauseOf::Marks(at));
        let each = marks(common, side, mark, own);
        found.extend(each.into_iter().map(|(term, needs)| Demand {
            id: &mark.id.text,
            term: Some(term),
            on,
            rule: None,
            clause,
            judging: needs.clone(),
            needs,
            spacing: BTreeSet::new(),
            exempting: Vec::new(),
        }));
    }
    found
}

/// The terms of a rule on marks, each with what it needs.
fn marks(
    common: &Common<'_>,
    side: Side,
    mark: &MarkRule,
    own: PartId,
) -> Vec<(String, BTreeSet<Need>)> {
    let mut found = vec![("number of marks".to_owned(), BTreeSet::new())];
    for (number, cap) in mark.of_which.iter().enumerate() {
        let mut walk = Walk::new(common, side);
        walk.expression(&cap.condition);
        found.push((format!("of_which {}", number + 1), walk.needs));
    }
    if let Some(pairs) = &mark.pairs {
        let mut walk = Walk::new(common, side);
        walk.expression(&pairs.condition);
        for (id, _) in &pairs.alike {
            walk.declared(own, *id);
        }
        found.push(("pairs".to_owned(), walk.needs));
    }
    for bring in &mark.bring {
        let key = common.rules(side).vocabulary.holding(bring.holding);
        let key = key.map_or("", |one| one.key.text.as_str());
        found.push((format!("bring {key}"), BTreeSet::new()));
    }
    found
}

/// Collects what expressions need.
struct Walk<'a, 'r> {
    common: &'a Common<'r>,
    side: Side,
    needs: BTreeSet<Need>,
}

impl<'a, 'r> Walk<'a, 'r> {
    fn new(common: &'a Common<'r>, side: Side) -> Walk<'a, 'r> {
        Walk {
            common,
            side,
            needs: BTreeSet::new(),
        }
    }

    fn judged(&mut self, rule: &Rule) {
        let own = rule.applies_to;
        self.expression(&rule.value);
        for row in rows(&rule.limits, &[]) {
            for one in row.demand.expressions() {
                self.expression(one);
            }
        }
        let zones = rule.outside.iter().map(|(zone, _)| *zone);
        for zone in zones.chain(rule.zone.map(|(zone, _)| zone)) {
            self.zone(own, zone);
        }
        match &rule.limits {
            Limits::Direct(_) | Limits::ByLevel { .. } => {}
            Limits::ByTrait { by, .. } => self.declared(own, *by),
            Limits::ByTraits { by, .. } => by.iter().for_each(|by| self.declared(own, *by)),
            Limits::ByZone { rows, .. } => {
                for zone in rows.iter().filter_map(|(zone, _)| *zone) {
                    self.zone(own, zone);
                }
            }
        }
    }

    fn spacing(&mut self, rule: &Rule) {
        let own = rule.applies_to;
        let spacing = rule.places.as_ref().and_then(|one| one.spacing.as_ref());
        if let Some(spacing) = spacing {
            self.expression(&spacing.from);
            self.expression(&spacing.to);
            if let Some(part) = self.common.part_of(self.side, own) {
                self.needs.insert(Need::PlaceAt(part));
            }
        }
    }

    fn expression(&mut self, expression: &Expression) {
        self.node(&expression.root, expression.own);
    }

    fn scope(&mut self, scope: Scope, own: PartId) -> Option<PartId> {
        let part = self.common.part_of(self.side, own);
        match (scope, part) {
            (Scope::One(holding), _) => {
                if let Some(ix) = self.common.holding_of(self.side, holding) {
                    self.needs.insert(Need::Part(ix));
                }
            }
            (Scope::Role(role), Some(part)) => {
                if let Some(role) = self.common.role_of(self.side, part, role) {
                    self.needs.insert(Need::Role(part, role));
                }
            }
            (Scope::Own | Scope::Boat, _) | (Scope::Role(_), None) => {}
        }
        scope.part(own, &self.common.rules(self.side).vocabulary)
    }

    fn declared(&mut self, own: PartId, id: TraitId) {
        let part = self.common.rules(self.side).vocabulary.part(own);
        let Some(one) = part.and_then(|part| part.traits.get(id.index())) else {
            return;
        };
        let Some(part) = self.common.part_of(self.side, own) else {
            return;
        };
        let Some(slot) = self.common.trait_of(self.side, part, id) else {
            return;
        };
        match one.kind {
            TraitKind::Date => {
                self.needs.insert(Need::Proof(part, slot));
            }
            TraitKind::Choice(_) | TraitKind::AnyOf(_) => {
                self.needs.insert(Need::Declared(part, slot));
            }
            // Absent is no.
            TraitKind::Flag => {}
        }
    }

    fn named(&mut self, own: PartId, name: &str) {
        let vocabulary = &self.common.rules(self.side).vocabulary;
        let Some(part) = vocabulary.part(own) else {
            return;
        };
        if let Some(slot) = part.measure_named(name) {
            self.measured(own, slot);
        } else if let Some(slot) = part.derived_named(name) {
            let value = self.common.rules(self.side).derived_value(own, slot);
            if let Some(value) = value {
                self.node(&value.root, own);
            }
        }
    }

    fn measured(&mut self, own: PartId, slot: crate::vocabulary::MeasureId) {
        if let Some(part) = self.common.part_of(self.side, own)
            && let Some(ix) = self.common.measure_of(self.side, part, slot)
        {
            self.needs.insert(Need::Measure(part, ix));
        }
    }

    fn zone(&mut self, own: PartId, zone: ZoneId) {
        let part = self.common.rules(self.side).vocabulary.part(own);
        let Some(zone) = part.and_then(|part| part.zones.get(zone.index())) else {
            return;
        };
        let Some(ix) = self.common.part_of(self.side, own) else {
            return;
        };
        match &zone.kind {
            ZoneKind::WithinOfEdge(_) => {
                self.needs.insert(Need::FromEdge(ix));
            }
            ZoneKind::Between(..) => {
                self.needs.insert(Need::PlaceAt(ix));
            }
            ZoneKind::WithinOf { of, .. } => {
                self.needs.insert(Need::PlaceAt(ix));
                self.named(own, &of.text);
            }
            ZoneKind::Along { profile, from, .. } => {
                self.needs.insert(Need::PlaceAt(ix));
                self.named(own, &profile.text);
                self.named(own, &from.text);
            }
        }
    }

    fn node(&mut self, node: &Node, own: PartId) {
        match &node.op {
            Op::Quantity { .. }
            | Op::Date(_)
            | Op::YesNo(_)
            | Op::EventLevel
            | Op::EventDay
            | Op::Day
            | Op::IsLevel { .. } => {}
            Op::Measure(scope, slot) => {
                if let Some(part) = self.scope(*scope, own) {
                    self.measured(part, *slot);
                }
            }
            Op::Trait(scope, slot) => {
                if let Some(part) = self.scope(*scope, own) {
                    self.declared(part, *slot);
                }
            }
            Op::Derived(scope, slot) => {
                if let Some(part) = self.scope(*scope, own) {
                    let rules = self.common.rules(self.side);
                    if let Some(value) = rules.derived_value(part, *slot) {
                        self.node(&value.root, part);
                    }
                }
            }
            Op::Negate(inner) | Op::Truth(inner) | Op::Not(inner) => self.node(inner, own),
            Op::IsChoice { subject, .. } => self.node(subject, own),
            Op::Arithmetic(_, left, right)
            | Op::Compare(_, left, right)
            | Op::IsSame { left, right, .. } => {
                self.node(left, own);
                self.node(right, own);
            }
            Op::And(list) | Op::Or(list) => list.iter().for_each(|one| self.node(one, own)),
            Op::Call(function, list) => {
                if let (Function::At20Degrees { .. }, [_]) = (function, list.as_slice()) {
                    self.needs.insert(Need::Temperature);
                }
                list.iter().for_each(|one| self.node(one, own));
            }
            Op::Count { over, condition } => {
                if let (Some(condition), Some(part)) = (condition, self.over(*over)) {
                    self.node(condition, part);
                }
            }
            Op::Sum {
                over,
                value,
                condition,
            } => {
                if let Some(part) = self.over(*over) {
                    self.node(value, part);
                    if let Some(condition) = condition {
                        self.node(condition, part);
                    }
                }
            }
        }
    }

    fn over(&self, holding: crate::vocabulary::HoldingId) -> Option<PartId> {
        let vocabulary = &self.common.rules(self.side).vocabulary;
        vocabulary.holding(holding).map(|one| one.part)
    }
}

/// How a need is told in words.
pub fn told(need: Need, common: &Common<'_>) -> String {
    let part = |ix: PartIx| {
        let name = common.part(ix).map_or("", |part| part.name.as_str());
        name.replace('_', " ")
    };
    let of = |ix: PartIx, name: Option<&str>| {
        format!("{} of {}", name.unwrap_or("").replace('_', " "), part(ix))
    };
    match need {
        Need::Measure(ix, slot) => {
            let own = common
                .part(ix)
                .and_then(|part| part.measures.get(slot.index()));
            of(ix, own.map(|one| one.name.as_str()))
        }
        Need::Declared(ix, slot) => {
            let own = common
                .part(ix)
                .and_then(|part| part.traits.get(slot.index()));
            of(ix, own.map(|one| one.name.as_str()))
        }
        Need::Proof(ix, slot) => {
            let own = common
                .part(ix)
                .and_then(|part| part.traits.get(slot.index()));
            format!("the proof of {}", of(ix, own.map(|one| one.name.as_str())))
        }
        Need::Part(ix) => {
            let key = common.holding(ix).map_or("", |one| one.key.as_str());
            format!("the {}", key.replace('_', " "))
        }
        Need::Role(ix, slot) => {
            let own = common
                .part(ix)
                .and_then(|part| part.roles.get(slot.index()));
            format!(
                "the part in the role {}",
                of(ix, own.map(|one| one.name.as_str()))
            )
        }
        Need::PlaceAt(ix) => format!("how far from the pivot places of {} lie", part(ix)),
        Need::FromEdge(ix) => format!("how far from the edge places of {} lie", part(ix)),
        Need::Temperature => "the temperature of the session".to_owned(),
    }
}
