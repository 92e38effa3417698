//! Rules compiled once to a plan: which rules ask what of which kind of part, tables by choice, constants.

use std::sync::Arc;

use super::draft::Sink;
use super::finding::{Brief, Finding, Outcome, Reason, Verdict};
use super::glance::Plausible;
use super::judge::Judge;
use crate::expression::{Expression, Node, Op, Scope};
use crate::quantity::{Date, Exact, Number};
use crate::record::Record;
use crate::rules::{Bound, BoundKind, Demand, LimitRow, Limits, Rule, RulesFile, Stage, rows};
use crate::uncertainty::{Coverage, Rough};
use crate::vocabulary::{ChoiceId, PartId, TraitId, TraitKind, Vocabulary};

/// What a check is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Context {
    /// The purpose: whose doubt rule gives the outcome.
    pub purpose: Stage,
    /// The day of the check.
    pub day: Date,
    /// The event's level.
    pub level: Option<ChoiceId>,
}

/// A rule ready to be asked.
pub(super) struct PlannedRule {
    /// Its position in the file.
    pub at: usize,
    /// Rows of the table by choice; empty for a single row.
    pub by_choice: Vec<Option<usize>>,
    /// Whether its condition, value or exemptions rest on the proof of a date, so that stages can differ.
    pub by_proof: bool,
    /// Constant limits of the main rows, row by row, in the order of their bounds.
    pub constants: Vec<Vec<Option<Constant>>>,
    /// Constant limits of the exemptions' rows.
    pub instead_constants: Vec<Vec<Option<Constant>>>,
}

/// A limit that is written as a number.
pub(super) struct Constant {
    /// The number.
    pub number: Number,
    /// The same at a glance.
    pub rough: Rough,
}

/// A plan: rules compiled for checking many records.
pub struct Plan {
    rules: Arc<RulesFile>,
    pub(super) coverage: Coverage,
    /// The guard factor in floating point, for what is clear at a glance.
    pub(super) guard_factor: f64,
    /// What is plausible of each measure, by part and slot.
    pub(super) plausible: Vec<Vec<Plausible>>,
    pub(super) by_part: Vec<Vec<PlannedRule>>,
    /// Derived values by part and slot that can differ between stages: they are not remembered.
    pub(super) derived_by_proof: Vec<Vec<bool>>,
    /// Traits of choices by part, each with the rules whose table asks for it, by their place in `by_part`.
    pub(super) tables: Vec<Vec<(TraitId, Vec<usize>)>>,
}

impl Plan {
    /// Compiles a plan.
    pub fn compile(rules: Arc<RulesFile>) -> Plan {
        let coverage = Coverage::new(rules.decision.coverage_probability.to_f64())
            .unwrap_or_else(Coverage::ninety_five);
        let mut by_part: Vec<Vec<PlannedRule>> =
            rules.vocabulary.parts.iter().map(|_| Vec::new()).collect();
        for (at, rule) in rules.rules.iter().enumerate() {
            if let Some(list) = by_part.get_mut(rule.applies_to.index()) {
                list.push(planned(at, rule, &rules));
            }
        }
        let tables = rules.vocabulary.parts.iter().zip(&by_part);
        let tables = tables
            .map(|(part, planned)| {
                let asking = |id: TraitId| -> Vec<usize> {
                    let by_this = |one: &PlannedRule| {
                        rules.rule(one.at).is_some_and(|rule| match &rule.limits {
                            Limits::ByTrait { by, .. } => *by == id,
                            Limits::ByTraits { by, .. } => by.contains(&id),
                            // What may be only these few speaks of all others too.
                            Limits::Direct(row) => match &row.demand {
                                Demand::Only(..) => {
                                    matches!(rule.value.root.op, Op::Trait(Scope::Own, of) if of == id)
                                }
                                Demand::Bounds(_)
                                | Demand::Equals(..)
                                | Demand::Without(..)
                                | Demand::Options(_)
                                | Demand::None => false,
                            },
                            Limits::ByZone { .. } | Limits::ByLevel { .. } => false,
                        })
                    };
                    (0..planned.len())
                        .filter(|at| planned.get(*at).is_some_and(by_this))
                        .collect()
                };
                part.traits
                    .iter()
                    .filter(|one| matches!(one.kind, TraitKind::Choice(_) | TraitKind::AnyOf(_)))
                    .filter_map(|one| part.trait_named(&one.name.text))
                    .map(|id| (id, asking(id)))
                    .collect()
            })
            .collect();
        let derived_by_proof = rules
            .derived
            .iter()
            .enumerate()
            .map(|(at, list)| {
                let own = u16::try_from(at).map_or(Vocabulary::BOAT, PartId);
                list.iter()
                    .map(|one| rests_on_proof(&one.root, &rules, own))
                    .collect()
            })
            .collect();
        let guard_factor = rules.decision.guard_factor.to_f64();
        let plausible = rules.vocabulary.parts.iter().map(|part| {
            let measures = part.measures.iter().map(|one| one.plausible.as_ref());
            let range = |(low, high): &(Exact, Exact)| (low.to_f64(), high.to_f64());
            measures.map(|one| one.map(range)).collect()
        });
        let plausible = plausible.collect();
        Plan {
            rules,
            coverage,
            guard_factor,
            plausible,
            by_part,
            derived_by_proof,
            tables,
        }
    }

    /// The rules that the plan was made of.
    pub fn rules(&self) -> &Arc<RulesFile> {
        &self.rules
    }

    /// Applies the plan to a record.
    pub fn check(&self, record: &Record, context: &Context) -> Verdict {
        let mut findings: Vec<Finding> = Vec::new();
        Judge::new(self, record, context, true).all(&mut Sink::Findings(&mut findings));
        verdict_of(findings)
    }

    /// The same with the uncertainty budget of every value, or of those of some rules, by id or clause.
    pub fn check_with_budgets(
        &self,
        record: &Record,
        context: &Context,
        rules: &[String],
    ) -> Verdict {
        let mut findings: Vec<Finding> = Vec::new();
        let mut judge = Judge::new(self, record, context, true);
        judge.keep_budgets(rules);
        judge.all(&mut Sink::Findings(&mut findings));
        verdict_of(findings)
    }

    /// The verdict without what a report tells of each finding: outcomes and reasons for the purpose alone.
    pub fn check_briefly(&self, record: &Record, context: &Context) -> Verdict {
        let mut briefs = Vec::new();
        let (outcome, reason) = self.outcomes(record, context, &mut briefs);
        Verdict {
            outcome,
            reason,
            findings: briefs.into_iter().map(Finding::from).collect(),
        }
    }

    /// The outcomes of a record for the purpose alone, in the order of [`Plan::check`], after those that
    /// `found` holds already. Gives the worst of them, and why where no outcome says it.
    pub fn outcomes(
        &self,
        record: &Record,
        context: &Context,
        found: &mut Vec<Brief>,
    ) -> (Outcome, Option<Reason>) {
        let before = found.len();
        Judge::new(self, record, context, false).all(&mut Sink::Briefs(found));
        let new = found.get(before..).unwrap_or(&[]);
        overall(new.iter().map(|brief| brief.outcome).min())
    }
}

/// The verdict of some findings: the worst outcome, and not decided where nothing applied.
pub fn verdict_of(findings: Vec<Finding>) -> Verdict {
    let (outcome, reason) = overall(findings.iter().map(|finding| finding.outcome).min());
    Verdict {
        outcome,
        reason,
        findings,
    }
}

/// The outcome of the whole by the worst of its findings.
fn overall(worst: Option<Outcome>) -> (Outcome, Option<Reason>) {
    match worst {
        Some(Outcome::NotApplicable) | None => (Outcome::NotDecided, Some(Reason::NothingChecked)),
        Some(outcome @ (Outcome::DoesNotConform | Outcome::NotDecided | Outcome::Conforms)) => {
            (outcome, None)
        }
    }
}

fn planned(at: usize, rule: &Rule, rules: &RulesFile) -> PlannedRule {
    let vocabulary = &rules.vocabulary;
    let by_choice = match &rule.limits {
        Limits::Direct(_) | Limits::ByTraits { .. } | Limits::ByZone { .. } => Vec::new(),
        Limits::ByTrait { by, rows, .. } => {
            let choices = vocabulary
                .part(rule.applies_to)
                .and_then(|part| part.traits.get(by.index()));
            table(choices.map_or(0, |one| one.kind.names().len()), rows)
        }
        Limits::ByLevel { rows, .. } => table(vocabulary.event_levels.len(), rows),
    };
    let on_proof =
        |expression: &Expression| rests_on_proof(&expression.root, rules, rule.applies_to);
    let by_proof = on_proof(&rule.value)
        || rule.when.as_ref().is_some_and(on_proof)
        || rule.instead.iter().any(|row| on_proof(&row.condition))
        || rows(&rule.limits, &rule.instead)
            .flat_map(|row| row.demand.expressions())
            .any(on_proof);
    let constants = |row: &LimitRow| {
        let bounds = row.demand.bounds().iter();
        bounds.map(constant_of).collect::<Vec<_>>()
    };
    PlannedRule {
        at,
        by_choice,
        by_proof,
        constants: rows(&rule.limits, &[]).map(constants).collect(),
        instead_constants: rule.instead.iter().map(|one| constants(&one.row)).collect(),
    }
}

fn table(count: usize, rows: &[(ChoiceId, LimitRow)]) -> Vec<Option<usize>> {
    (0..count)
        .map(|choice| rows.iter().position(|(id, _)| id.index() == choice))
        .collect()
}

/// The limit of a bound, if it is a constant; on a rounded value the exact one.
fn constant_of(bound: &Bound) -> Option<Constant> {
    match &bound.rounded {
        Some(rounded) => Some(Constant {
            rough: Rough::exact(&rounded.limit),
            number: Number::Exact(rounded.limit.clone()),
        }),
        None => written(&bound.limit.root),
    }
}

/// A limit that is written as one number.
fn written(node: &Node) -> Option<Constant> {
    let value = match &node.op {
        Op::Quantity { value, .. } => value.clone(),
        Op::Negate(inner) => written(inner)?.number.neg().as_exact()?.clone(),
        _ => return None,
    };
    Some(Constant {
        rough: Rough::exact(&value),
        number: Number::Exact(value),
    })
}

fn rests_on_proof(node: &Node, rules: &RulesFile, own: PartId) -> bool {
    let part_of = |scope: Scope| scope.part(own, &rules.vocabulary).unwrap_or(own);
    let over = |holding| {
        rules
            .vocabulary
            .holding(holding)
            .map_or(own, |one| one.part)
    };
    match &node.op {
        Op::Trait(scope, slot) => {
            let part = rules.vocabulary.part(part_of(*scope));
            part.and_then(|part| part.traits.get(slot.index()))
                .is_some_and(|one| matches!(one.kind, TraitKind::Date))
        }
        Op::Derived(scope, slot) => {
            let part = part_of(*scope);
            rules
                .derived_value(part, *slot)
                .is_some_and(|one| rests_on_proof(&one.root, rules, part))
        }
        Op::Quantity { .. }
        | Op::Date(_)
        | Op::YesNo(_)
        | Op::Measure(..)
        | Op::EventLevel
        | Op::EventDay
        | Op::Day
        | Op::IsLevel { .. } => false,
        // A look counts as evidence at home without a name, elsewhere with one: stages can differ.
        Op::Truth(_) => true,
        Op::Negate(inner) | Op::Not(inner) => rests_on_proof(inner, rules, own),
        Op::IsChoice { subject, .. } => rests_on_proof(subject, rules, own),
        // A measured condition waits for evidence, and evidence differs by stage.
        Op::Compare(_, left, right) | Op::IsSame { left, right, .. } => {
            rests_on_proof(left, rules, own)
                || rests_on_proof(right, rules, own)
                || measured(left)
                || measured(right)
        }
        Op::Arithmetic(_, left, right) => {
            rests_on_proof(left, rules, own) || rests_on_proof(right, rules, own)
        }
        Op::And(list) | Op::Or(list) | Op::Call(_, list) => {
            list.iter().any(|one| rests_on_proof(one, rules, own))
        }
        Op::Count {
            over: holding,
            condition,
        } => condition
            .as_deref()
            .is_some_and(|one| rests_on_proof(one, rules, over(*holding))),
        Op::Sum {
            over: holding,
            value,
            condition,
        } => {
            rests_on_proof(value, rules, over(*holding))
                || condition
                    .as_deref()
                    .is_some_and(|one| rests_on_proof(one, rules, over(*holding)))
        }
    }
}

fn measured(node: &Node) -> bool {
    match &node.op {
        Op::Measure(..) | Op::Derived(..) => true,
        Op::Quantity { .. }
        | Op::Date(_)
        | Op::YesNo(_)
        | Op::Trait(..)
        | Op::EventLevel
        | Op::EventDay
        | Op::Day
        | Op::IsLevel { .. } => false,
        Op::Negate(inner) | Op::Truth(inner) | Op::Not(inner) => measured(inner),
        Op::IsChoice { subject, .. } => measured(subject),
        Op::Arithmetic(_, left, right)
        | Op::Compare(_, left, right)
        | Op::IsSame { left, right, .. } => measured(left) || measured(right),
        Op::And(list) | Op::Or(list) | Op::Call(_, list) => list.iter().any(measured),
        Op::Count { condition, .. } => condition.as_deref().is_some_and(measured),
        Op::Sum {
            value, condition, ..
        } => measured(value) || condition.as_deref().is_some_and(measured),
    }
}

/// The side that a bound closes.
pub fn side_of(kind: BoundKind) -> crate::uncertainty::Side {
    if kind.is_lower() {
        crate::uncertainty::Side::Lower
    } else {
        crate::uncertainty::Side::Upper
    }
}
