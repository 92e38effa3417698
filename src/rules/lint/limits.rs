//! Limits that do nothing, that nothing can meet, or that no measurement can show to be met.

use super::range::{Range, range_of};
use crate::diagnostic::Diagnostic;
use crate::expression::{Arithmetic, Function, Node, Op};
use crate::quantity::{Exact, Unit};
use crate::rules::{Bound, LimitRow, Rule, RulesFile, Stage, rows};
use crate::text::quoted;
use crate::uncertainty::DecisionRule;
use crate::vocabulary::{Measure, MeasureKind, PartId};

pub(super) fn limits(rules: &RulesFile, rule: &Rule, found: &mut Vec<Diagnostic>) {
    let own = rule.applies_to;
    let value = range_of(&rule.value.root, own, rules);
    for row in rows(&rule.limits, &rule.instead) {
        for bound in row.demand.bounds() {
            let limit = range_of(&bound.limit.root, own, rules);
            if !met_by_all_or_none(rules, rule, bound, (&value, &limit), found) {
                implausible(rules, rule, bound, found);
            }
        }
        too_narrow(rules, rule, row, found);
    }
}

/// Whether a bound is met by everything or by nothing, told where it is.
fn met_by_all_or_none(
    rules: &RulesFile,
    rule: &Rule,
    bound: &Bound,
    (value, limit): (&Range, &Range),
    found: &mut Vec<Diagnostic>,
) -> bool {
    // Mirrored, so that every bound reads "value at least limit".
    let (worst, best, least_asked, most_asked) = if bound.kind.is_lower() {
        (&value.low, &value.high, &limit.low, &limit.high)
    } else {
        (&value.high, &value.low, &limit.high, &limit.low)
    };
    let inside = |value: &Exact, limit: &Exact| {
        let above = if bound.kind.is_lower() {
            value > limit
        } else {
            value < limit
        };
        above || (value == limit && !bound.kind.is_strict())
    };
    let all = matches!((worst, most_asked), (Some(value), Some(limit)) if inside(value, limit));
    let none = matches!((best, least_asked), (Some(value), Some(limit)) if !inside(value, limit));
    let said = format!("{} {}", bound.kind.words(), bound.limit.text);
    let what = quoted(&rule.value.text);
    let (code, message, words, help) = if all {
        (
            "lint.limit_always",
            format!("{said} asks for nothing: {what} can't be otherwise"),
            "met by everything",
            "take the limit out, or mend the number",
        )
    } else if none {
        (
            "lint.limit_never",
            format!("nothing can meet {said}: {what} can't be so"),
            "met by nothing",
            "mend the number, or say with `limit: none` under `instead` who needs no limit",
        )
    } else {
        return false;
    };
    let diagnostic = Diagnostic::fault(code, format!("{}: {message}", quoted(&rule.id.text)))
        .label(&rules.source, bound.span, words)
        .label(&rules.source, rule.value.span, "the value")
        .help(help)
        .clause(rule.clause.text.clone());
    found.push(diagnostic);
    true
}

/// The measure that an expression is, or the extreme place of which it is.
fn measure_of<'r>(node: &Node, own: PartId, rules: &'r RulesFile) -> Option<&'r Measure> {
    match &node.op {
        Op::Measure(scope, slot) => {
            let part = scope.part(own, &rules.vocabulary)?;
            let part = rules.vocabulary.part(part)?;
            part.measures.get(slot.index())
        }
        Op::Call(Function::Lowest | Function::Highest, list) => {
            measure_of(list.first()?, own, rules)
        }
        _ => None,
    }
}

/// A limit outside what is plausible: every value near it would wait for somebody to confirm it.
fn implausible(rules: &RulesFile, rule: &Rule, bound: &Bound, found: &mut Vec<Diagnostic>) {
    let Some(measure) = measure_of(&rule.value.root, rule.applies_to, rules) else {
        return;
    };
    let (Some((low, high)), Some(limit)) = (&measure.plausible, bound.limit.root.constant()) else {
        return;
    };
    if limit >= *low && limit <= *high {
        return;
    }
    let message = format!(
        "{}: {} {} lies outside what is plausible of {}",
        quoted(&rule.id.text),
        bound.kind.words(),
        bound.limit.text,
        quoted(&measure.name.text)
    );
    let diagnostic = Diagnostic::notice("lint.implausible_limit", message)
        .label(&rules.source, bound.span, "the limit")
        .label(
            &rules.source,
            measure.name.span,
            "its plausible range is said here",
        )
        .help("a value near this limit would not be decided until somebody confirms it; mend one of the two")
        .clause(rule.clause.text.clone());
    found.push(diagnostic);
}

/// A range narrower than twice the guard band: no value in it can be shown to conform where the doubt is the
/// owner's. Source: JCGM 106:2012, 8.3.2, the acceptance interval inside the tolerance interval.
fn too_narrow(rules: &RulesFile, rule: &Rule, row: &LimitRow, found: &mut Vec<Diagnostic>) {
    let all = row.demand.bounds();
    let lower = all.iter().find(|bound| bound.kind.is_lower());
    let upper = all.iter().find(|bound| !bound.kind.is_lower());
    let (Some(lower), Some(upper)) = (lower, upper) else {
        return;
    };
    let (Some(low), Some(high)) = (lower.exact_limit(), upper.exact_limit()) else {
        return;
    };
    let guarded: Vec<Stage> = Stage::ALL
        .into_iter()
        .filter(|stage| *rule.checked_at.at(*stage))
        .filter(|stage| *rules.decision.rules.at(*stage) == DecisionRule::GuardedAcceptance)
        .collect();
    let Some(squared) = squared_floor(&rule.value.root, rule.applies_to, rules) else {
        return;
    };
    let guard = rules.decision.guard_factor.to_f64() * squared.sqrt();
    let width = high.sub(&low).to_f64();
    if guarded.is_empty() || low >= high || 2.0 * guard <= width {
        return;
    }
    let stages: Vec<&str> = guarded.iter().map(|stage| stage.words()).collect();
    let unit = unit_of(&upper.limit.root).unwrap_or(Unit::PLAIN);
    let shown = two_digits(2.0 * guard / unit.factor().to_f64(), unit);
    let message = format!(
        "{}: no value can be shown to lie from {} to {}: with the best method listed, the guard bands of both sides together take {shown}",
        quoted(&rule.id.text),
        lower.limit.text,
        upper.limit.text,
    );
    let diagnostic = Diagnostic::fault("lint.range_too_narrow", message)
        .label(&rules.source, lower.span, "from here")
        .label(&rules.source, upper.span, "to here")
        .label(
            &rules.source,
            rule.value.span,
            "measured with the methods of this",
        )
        .help(format!(
            "widen the range, name a better method, or decide otherwise at: {}",
            stages.join(", ")
        ))
        .clause(rule.clause.text.clone());
    found.push(diagnostic);
}

/// A number in a unit with two significant digits: it explains, and decides nothing.
fn two_digits(number: f64, unit: Unit) -> String {
    let decimals = (1.0 - number.abs().log10().floor()).clamp(0.0, 9.0);
    crate::quantity::show::with_unit(&format!("{number:.*}", decimals as usize), unit)
}

fn unit_of(node: &Node) -> Option<Unit> {
    match &node.op {
        Op::Quantity { unit, .. } => Some(*unit),
        _ => node.children().into_iter().find_map(unit_of),
    }
}

/// The square of the least expanded uncertainty that the listed methods allow, for sums and differences of
/// measures with constant factors; `None` for everything else, and where a measure lists no method.
fn squared_floor(node: &Node, own: PartId, rules: &RulesFile) -> Option<f64> {
    match &node.op {
        Op::Measure(..) => {
            let measure = measure_of(node, own, rules)?;
            let MeasureKind::Quantity(_) = measure.kind else {
                return None;
            };
            let floors = measure.methods.iter();
            let best = floors.map(|one| one.expanded_uncertainty.to_f64());
            best.reduce(f64::min).map(|floor| floor * floor)
        }
        Op::Derived(scope, slot) => {
            let part = scope.part(own, &rules.vocabulary)?;
            let derived = rules.derived_value(part, *slot)?;
            squared_floor(&derived.root, part, rules)
        }
        Op::Quantity { .. } => Some(0.0),
        Op::Negate(inner) => squared_floor(inner, own, rules),
        Op::Call(Function::Abs | Function::Lowest | Function::Highest, list) => {
            squared_floor(list.first()?, own, rules)
        }
        Op::Arithmetic(Arithmetic::Add | Arithmetic::Subtract, left, right) => {
            let used_twice = measures(left, own, rules)
                .iter()
                .any(|one| measures(right, own, rules).contains(one));
            // What stands on both sides may cancel.
            (!used_twice).then_some(())?;
            Some(squared_floor(left, own, rules)? + squared_floor(right, own, rules)?)
        }
        Op::Arithmetic(Arithmetic::Multiply, left, right) => {
            let (factor, term) = match (left.constant(), right.constant()) {
                (Some(factor), None) => (factor, right),
                (None, Some(factor)) => (factor, left),
                _ => return None,
            };
            let factor = factor.to_f64();
            Some(factor * factor * squared_floor(term, own, rules)?)
        }
        Op::Arithmetic(Arithmetic::Divide, left, right) => {
            let divisor = right.constant().filter(|one| !one.is_zero())?.to_f64();
            Some(squared_floor(left, own, rules)? / (divisor * divisor))
        }
        _ => None,
    }
}

/// The measures that an expression is made of, by their names in full.
fn measures(node: &Node, own: PartId, rules: &RulesFile) -> Vec<String> {
    let mut found = Vec::new();
    node.visit(own, &rules.vocabulary, &mut |own, node| match &node.op {
        Op::Measure(..) | Op::Derived(..) => {
            found.push(crate::expression::show_node(node, own, &rules.vocabulary));
        }
        _ => {}
    });
    found
}
