//! Some rules of a plan asked of a record, and how far inside their limits values lie.
//!
//! Two versions of class rules share most of their rules: the second one is asked only for those that differ. How far
//! values lie from a limit is wanted of a few rules and of every item of a fleet: most lie so far away that a rough
//! number tells it, the others are told by a whole finding.

use super::draft::Sink;
use super::finding::{Brief, Finding, Outcome, Reason, RuleRef};
use super::glance::{Run, Seen};
use super::judge::{Candidate, Judge};
use super::places::Looked;
use super::plan::{Constant, Context, Plan, PlannedRule, side_of};
use crate::record::{Item, Record};
use crate::rules::{BoundKind, Demand, Judged, LimitRow, Rule, rows};
use crate::uncertainty::{Rough, Side};

/// Which rules are asked.
#[derive(Clone, Debug)]
pub struct Selection {
    /// By the position of the rule in the file.
    pub rules: Vec<bool>,
    /// Whether all else is asked too: parts that must be there, what the rules do not list, marks.
    pub rest: bool,
}

impl Selection {
    /// Whether a rule is asked.
    pub fn has(&self, rule: usize) -> bool {
        self.rules.get(rule).copied().unwrap_or(false)
    }

    /// Whether nothing is asked at all.
    pub fn is_empty(&self) -> bool {
        !self.rest && !self.rules.contains(&true)
    }
}

/// Which row of a rule gave the limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum RowRef {
    /// A row of its table by position; 0 where there is a single one.
    Main(usize),
    /// An exemption by position.
    Exemption(usize),
    /// A row by zone.
    Zone,
}

/// How far inside a limit the value of an item lies.
#[derive(Clone, Debug)]
pub struct Margin {
    /// The rule by position.
    pub rule: usize,
    /// The item by position.
    pub item: usize,
    /// Which row gave the limit.
    pub row: RowRef,
    /// Which bound.
    pub kind: BoundKind,
    /// Signed distance inside the limit, base units; of a placed value that of the worst place. The nearest
    /// floating-point number, or one that is further from the limit than value and U together can be wrong.
    pub margin: f64,
    /// The expanded uncertainty of the value, base units, where it is known; it is known wherever the value lies within it.
    pub u: Option<f64>,
    /// The whole finding, where the value lies near the limit or nothing rough could be told.
    pub finding: Option<Box<Finding>>,
}

impl Plan {
    /// The outcomes of some of the rules, after those that `found` holds already.
    pub fn outcomes_of(
        &self,
        record: &Record,
        context: &Context,
        selection: &Selection,
        found: &mut Vec<Brief>,
    ) {
        let mut judge = Judge::new(self, record, context, false);
        judge.selected(selection, &mut Sink::Briefs(found));
    }

    /// The outcomes of a rule on an item by position, after those that `found` holds already.
    pub fn outcomes_on(
        &self,
        record: &Record,
        context: &Context,
        (rule, item): (usize, usize),
        found: &mut Vec<Brief>,
    ) {
        let mut judge = Judge::new(self, record, context, false);
        judge.one_rule(rule, item, &mut Sink::Briefs(found));
    }

    /// How far inside their limits values lie, for rules on items by position, in this order. Nothing is told of what has
    /// no value or no bound.
    pub fn margins(
        &self,
        record: &Record,
        context: &Context,
        of: &[(usize, usize)],
        found: &mut Vec<Margin>,
    ) {
        let mut near: Vec<(usize, usize)> = Vec::new();
        let mut glancing = Judge::new(self, record, context, false);
        for (rule, item) in of {
            if !glancing.far(*rule, *item, found) {
                near.push((*rule, *item));
            }
        }
        if near.is_empty() {
            return;
        }
        let mut judge = Judge::new(self, record, context, true);
        for (rule, item) in near {
            let mut findings: Vec<Finding> = Vec::new();
            judge.one_rule(rule, item, &mut Sink::Findings(&mut findings));
            for finding in findings {
                let (Some(kind), Some(margin)) = (finding.side, &finding.margin) else {
                    continue;
                };
                let row = match finding.exemption {
                    Some(at) => RowRef::Exemption(at),
                    None => judge.row_of(rule, item, &finding),
                };
                found.push(Margin {
                    rule,
                    item,
                    row,
                    kind,
                    margin: margin.to_f64(),
                    u: finding.expanded.map(|expanded| expanded.U),
                    finding: Some(Box::new(finding)),
                });
            }
        }
    }

    /// The whole findings of a rule on an item.
    pub fn findings_of(
        &self,
        record: &Record,
        context: &Context,
        rule: usize,
        item: usize,
    ) -> Vec<Finding> {
        let mut findings: Vec<Finding> = Vec::new();
        let mut judge = Judge::new(self, record, context, true);
        judge.one_rule(rule, item, &mut Sink::Findings(&mut findings));
        findings
    }
}

/// Whether an outcome comes of a value that was compared with a limit.
pub fn has_value(brief: &Brief) -> bool {
    match (brief.outcome, brief.reason) {
        (Outcome::Conforms | Outcome::DoesNotConform, _) => brief.side.is_some(),
        (Outcome::NotDecided, reason) => {
            brief.side.is_some() && reason != Some(Reason::NotMeasured)
        }
        (Outcome::NotApplicable, _) => false,
    }
}

/// A row of limits with its constants, and which exemption it belongs to.
type OnlyRow<'r> = (&'r LimitRow, &'r [Option<Constant>], Option<usize>);

impl<'r> Judge<'r> {
    /// Some of the rules of every item they are about.
    fn selected(&mut self, selection: &Selection, out: &mut Sink<'_>) {
        if selection.rest {
            self.equipment(out);
        }
        let plan = self.plan;
        for (at, item) in self.record.items.iter().enumerate() {
            for planned in plan.by_part.get(item.part.index()).into_iter().flatten() {
                if selection.has(planned.at) {
                    self.rule(planned, at, item, out);
                }
            }
            if selection.rest {
                self.beside_rules(at, item, out);
            }
        }
        if selection.rest {
            self.marks(out);
        }
    }

    pub(super) fn planned(
        &self,
        rule: usize,
        item: usize,
    ) -> Option<(&'r PlannedRule, &'r Rule, &'r Item)> {
        let item = self.record.items.get(item)?;
        let of_part = self.plan.by_part.get(item.part.index())?;
        let planned = of_part.iter().find(|one| one.at == rule)?;
        Some((planned, self.rules.rule(rule)?, item))
    }

    /// One rule of one item.
    pub(super) fn one_rule(&mut self, rule: usize, at: usize, out: &mut Sink<'_>) {
        if let Some((planned, _, item)) = self.planned(rule, at) {
            self.rule(planned, at, item, out);
        }
    }

    /// Which row of the main table a finding on an item is about: of rows by zone that of its worst place.
    fn row_of(&mut self, rule: usize, at: usize, finding: &Finding) -> RowRef {
        let Some((planned, rule, item)) = self.planned(rule, at) else {
            return RowRef::Main(0);
        };
        match self.main_row(planned, rule, item) {
            Candidate::Row(row, ..) => row_ref(rule, row, None),
            Candidate::Zones(rows) => {
                let is_met = |row: &LimitRow| {
                    let mut bounds = row.demand.bounds().iter();
                    bounds.any(|bound| bound.span == finding.limit_at)
                };
                let met = rows.iter().position(|(_, row)| is_met(row));
                met.map_or(RowRef::Zone, RowRef::Main)
            }
            Candidate::NotApplicable(..) | Candidate::NoRowForChoice(..) | Candidate::Open(_) => {
                RowRef::Main(0)
            }
        }
    }

    /// Adds how far inside its limits a value lies that is clearly further away than its uncertainty; tells whether all of
    /// it was told.
    fn far(&mut self, rule: usize, at: usize, found: &mut Vec<Margin>) -> bool {
        let before = found.len();
        let told = self.all_far(rule, at, found).is_some();
        if !told {
            found.truncate(before);
        }
        told
    }

    fn all_far(&mut self, number: usize, at: usize, found: &mut Vec<Margin>) -> Option<()> {
        self.eval.glances.as_ref()?;
        let (planned, rule, item) = self.planned(number, at)?;
        let (row, constants, exemption) = self.only_row(planned, rule, at, item)?;
        let Demand::Bounds(bounds) = &row.demand else {
            return None;
        };
        let value = self.eval.glance(&rule.value.root, at)?;
        let row_ref = row_ref(rule, row, exemption);
        for (bound_at, bound) in bounds.iter().enumerate() {
            let limit = match constants.get(bound_at) {
                Some(Some(constant)) => constant.rough,
                Some(None) | None => self.eval.glance_number(&bound.limit.root, at)?.rough,
            };
            let side = side_of(bound.kind);
            let margin = match (value, rule.judged) {
                (Seen::Number(run), _) => clear_margin(
                    &self.eval.glances.as_ref()?.number(run)?.rough,
                    &limit,
                    side,
                )?,
                (Seen::Places(run), Judged::Mean) => {
                    let looked = self.looked_at(rule, at, item, run)?;
                    let places = self.eval.glances.as_ref()?.list(run).iter().zip(&looked);
                    let inside = places.filter(|(_, looked)| **looked == Looked::In);
                    let mean = Rough::mean(inside.map(|(one, _)| &one.rough))?;
                    clear_margin(&mean, &limit, side)?
                }
                (Seen::Places(run), Judged::WorstPlace | Judged::Unplaced) => {
                    self.worst_margin(rule, at, item, run, &limit, side)?
                }
                (Seen::Bevels(_), _) => return None,
            };
            found.push(Margin {
                rule: number,
                item: at,
                row: row_ref,
                kind: bound.kind,
                margin,
                u: None,
                finding: None,
            });
        }
        Some(())
    }

    /// The least margin of the places where a rule looks, all of them clear.
    fn worst_margin(
        &mut self,
        rule: &'r Rule,
        at: usize,
        item: &'r Item,
        run: Run,
        limit: &Rough,
        side: Side,
    ) -> Option<f64> {
        let looked = self.looked_at(rule, at, item, run)?;
        let mut worst: Option<f64> = None;
        for (one, looked) in self.eval.glances.as_ref()?.list(run).iter().zip(&looked) {
            if *looked == Looked::In {
                let margin = clear_margin(&one.rough, limit, side)?;
                worst = Some(worst.map_or(margin, |worst| worst.min(margin)));
            }
        }
        worst
    }

    /// The one row of limits that counts for an item, where that is known.
    fn only_row(
        &mut self,
        planned: &'r PlannedRule,
        rule: &'r Rule,
        at: usize,
        item: &'r Item,
    ) -> Option<OnlyRow<'r>> {
        let candidate = if rule.when.is_none() && rule.instead.is_empty() {
            self.main_row(planned, rule, item)
        } else {
            let mut candidates = self.candidates(planned, rule, at, item, &mut None);
            let last = candidates.pop()?;
            candidates.is_empty().then_some(last)?
        };
        match candidate {
            Candidate::Row(row, constants, exemption) => Some((row, constants, exemption)),
            Candidate::Zones(_)
            | Candidate::NotApplicable(..)
            | Candidate::NoRowForChoice(..)
            | Candidate::Open(_) => None,
        }
    }
}

/// The signed distance inside a limit, where it is clearly larger than U.
fn clear_margin(value: &Rough, limit: &Rough, side: Side) -> Option<f64> {
    value.clearly_inside(side, limit, 1.0)?;
    Some(match side {
        Side::Lower => value.value() - limit.value(),
        Side::Upper => limit.value() - value.value(),
    })
}

fn row_ref(rule: &Rule, row: &LimitRow, exemption: Option<usize>) -> RowRef {
    match exemption {
        Some(at) => RowRef::Exemption(at),
        None => {
            let mut main = rows(&rule.limits, &[]);
            RowRef::Main(main.position(|one| std::ptr::eq(one, row)).unwrap_or(0))
        }
    }
}

/// The rule by position of a reference to one.
pub fn rule_at(rule: RuleRef) -> Option<usize> {
    match rule {
        RuleRef::Rule(at) => Some(at),
        RuleRef::Marks(..)
        | RuleRef::Pairs(_)
        | RuleRef::Bring(..)
        | RuleRef::Equipment(_)
        | RuleRef::Role(..)
        | RuleRef::Silence(_)
        | RuleRef::Unlisted(_) => None,
    }
}
