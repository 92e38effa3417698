//! Which single value of an item can be moved so that it breaks a rule, and how far.

use super::ask::Ask;
use super::book::{Book, Known};
use super::fit::Question;
use super::interval::Interval;
use super::model::{Kind, Knob, What, Who};
use super::sheet::{Shape, Sheet};
use crate::rules::RulesFile;

/// A value that is put elsewhere.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Lever {
    /// A number, to somewhere between two numbers of steps.
    Dial { dial: usize, low: i64, high: i64 },
    /// A look, to the other answer.
    Answer(usize),
}

/// Finds the levers of a kind.
pub(super) fn find(rules: &RulesFile, book: &Book, kind: &Kind, slot: usize, sheet: &mut Sheet) {
    let own = Who::one(kind.part, slot);
    let known: Vec<Known<'_>> = rules
        .rules
        .iter()
        .filter(|rule| rule.applies_to == kind.part)
        .map(|rule| (rule, super::used::by_rule(rules, rule)))
        .filter(|(_, used)| used.iter().all(|(part, _)| *part == kind.part))
        .collect();
    for (rule, used) in &known {
        let question = Question {
            rules,
            rule,
            used,
            own: own.clone(),
            lists: &[],
            roles: &[],
            bases: &[None],
        };
        let world = super::book::world(rules, &book.kinds, &[]);
        let mut found = Vec::new();
        question.each(&world, &book.kinds, &mut |ask, cell| {
            for (at, knob) in kind.knobs.iter().enumerate() {
                let elsewhere = cell.is_some() && knob.cell.is_some() && knob.cell != cell;
                let looked = used.iter().any(|(_, measure)| *measure == knob.measure);
                if !looked || elsewhere {
                    continue;
                }
                for up in [true, false] {
                    let beyond = |value: f64| beyond(rules, book, &own, (at, value), ask, cell);
                    if let Some(limit) = limit(knob, up, &beyond) {
                        found.push((at, up, limit));
                    }
                }
            }
        });
        for (at, up, limit) in found {
            let (Some(knob), Some(dial)) = (kind.knobs.get(at), sheet.dials.get(at)) else {
                continue;
            };
            let doubt = (knob.doubt + knob.doubt_share * limit.abs()).max(dial.digits.base);
            let sign = if up { 1.0 } else { -1.0 };
            let steps = |by: f64| dial.digits.steps(limit + sign * by * doubt);
            let ends = |one: f64, other: f64| {
                let (one, other) = (steps(one), steps(other));
                (one.min(other), one.max(other))
            };
            let end = reachable(knob);
            let (low, high) = ends(1.2, 4.0);
            if end.low <= limit + sign * 4.0 * doubt && limit + sign * 4.0 * doubt <= end.high {
                sheet.levers.push(Lever::Dial {
                    dial: at,
                    low,
                    high,
                });
            }
            if knob.doubt + knob.doubt_share > 0.0 {
                let (low, high) = ends(-0.15, 0.15);
                sheet.close.push(Lever::Dial {
                    dial: at,
                    low,
                    high,
                });
            }
        }
    }
    let part = rules.vocabulary.part(kind.part);
    for (rule, _) in &known {
        let (Some(part), crate::expression::Op::Measure(_, slot)) = (part, &rule.value.root.op)
        else {
            continue;
        };
        let name = part.measures.get(slot.index()).map(|one| &one.name.text);
        let line = name.and_then(|name| sheet.line_of(name));
        let looks = line.and_then(|line| sheet.lines.get(line));
        if let Some(line) = line
            && looks.is_some_and(|line| matches!(line.shape, Shape::Answer(_)))
        {
            sheet.levers.push(Lever::Answer(line));
        }
    }
}

/// Where readings stay plausible.
fn reachable(knob: &Knob) -> Interval {
    match knob.what {
        What::Value => knob.start,
        What::Port | What::Starboard => Interval::new(5.0, 88.0),
        What::Forward | What::Aft => Interval::new(5.0, 1500.0),
        What::Bow => Interval::new(0.0, 50.0),
        What::Sinks => Interval::new(0.5, 500.0),
        What::Area => Interval::new(100_000.0, 60_000_000.0),
    }
}

/// How far beyond its limit the value surely is with one number held.
fn beyond(
    rules: &RulesFile,
    book: &Book,
    own: &Who,
    (knob, value): (usize, f64),
    ask: &Ask<'_>,
    cell: Option<usize>,
) -> Option<f64> {
    let mut world = super::book::world(rules, &book.kinds, &[]);
    let slot = own.kinds.first().copied()?;
    world.held = Some((own.part, slot, knob, value));
    ask.beyond(&world, own, cell).map(|(_, best)| best)
}

/// The least change of a number that breaks the limit whatever the others are.
fn limit(knob: &Knob, up: bool, beyond: &dyn Fn(f64) -> Option<f64>) -> Option<f64> {
    let (end, inside) = if up {
        (reachable(knob).high, knob.range.high)
    } else {
        (reachable(knob).low, knob.range.low)
    };
    if beyond(end)? <= 0.0 || beyond(inside)? > 0.0 {
        return None;
    }
    let (mut kept, mut broken) = (inside, end);
    for _ in 0..40 {
        let middle = kept + (broken - kept) / 2.0;
        if beyond(middle)? > 0.0 {
            broken = middle;
        } else {
            kept = middle;
        }
    }
    Some(broken)
}
