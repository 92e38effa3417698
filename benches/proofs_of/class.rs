//! A class of two hundred rules, most of them on each of nine runners, and a version of it in which a fifth of the
//! rules are changed. It is made up: ten series of measures, and on each the kinds of rules that classes have.

use std::fmt::Write as _;

/// Series of measures, each with its own rules.
const SERIES: usize = 10;
/// Series with a thickness that is measured at places.
const PLACED: usize = 3;
/// Counts and sums of the first so many series ask about one thing, of the others about several.
const HALF: usize = 5;
/// Kinds of rules.
const KINDS: usize = 20;
/// Rules of a version, marks not among them.
pub const RULES: usize = SERIES * KINDS;

/// Whether the new version has a rule otherwise: one in five, each kind in two of the series.
fn is_changed(series: usize, kind: usize) -> bool {
    (series + kind).is_multiple_of(5)
}

/// The text of the old version, or of the new one.
pub fn text(new: bool) -> String {
    let (version, from) = if new {
        ("1.1.0", "2027-01-01")
    } else {
        ("1.0.0", "2026-01-01")
    };
    let mut text = format!(
        "format: rimegauge-rules/1
class: mere-9
title: Mere 9 Class Rules
version: {version}
status: adopted
in_force_from: {from}
authority: Mere 9 Class Association
silence: forbids
decision:
  coverage_probability: 95 %
  self_check: simple_acceptance
  certification: guarded_acceptance
  event_inspection: guarded_rejection
event: {{ levels: [club, regional] }}
cautions: [edges, compliance_is_not_safety]
equipment:
  boat:
    parts: {{ runners: {{ many: runner, at_least: 9 }} }}
  runner:
    traits:
      position: [steering, side]
      construction: [plate, insert, tee, angle]
      built: {{ date: proven }}
      nominated: {{ flag: intended }}
    measures:
"
    );
    for n in 0..SERIES {
        let placed = if n < PLACED { ", placed: yes" } else { "" };
        let _ = write!(
            text,
            "      height_{n}: {{ kind: length, plausible: 60 mm to 120 mm }}
      thick_{n}: {{ kind: length, plausible: 3 mm to 12 mm }}
      toe_{n}: {{ kind: position, plausible: 150 mm to 700 mm }}
      heel_{n}: {{ kind: position, plausible: -700 mm to -150 mm }}
      depth_{n}: {{ kind: length, plausible: 40 mm to 120 mm }}
      mass_{n}: {{ kind: mass, plausible: 0.5 kg to 10 kg }}
      wall_{n}: {{ kind: length{placed}, plausible: 2 mm to 20 mm }}
      sound_{n}: {{ kind: yes_no, ask: \"Is it sound?\" }}
"
        );
    }
    text.push_str("rules:\n");
    for n in 0..SERIES {
        for kind in 0..KINDS {
            let (on, says) = rule(n, kind, new && is_changed(n, kind));
            let clause = format!("D.{}.{}", n + 1, kind + 1);
            let _ = writeln!(
                text,
                "  - {{ id: rule_{n}_{kind}, clause: {clause}, title: Rule {clause}, text: As it is said here., \
                 applies_to: {on}, {says} }}"
            );
        }
    }
    let (most, plates) = if new { (8, 5) } else { (9, 6) };
    let _ = write!(
        text,
        "marks:
  - id: marked_runners
    clause: C.1
    title: Marked runners
    text: As it is said here.
    item: runner
    by: event.level
    limits: {{ club: {{ at_most: 9 }}, regional: {{ at_most: {most} }} }}
    of_which:
      - {{ where: position is steering, at_most: 3 }}
      - {{ where: \"construction is plate and height_0 > 85 mm\", at_most: {plates} }}
"
    );
    text
}

/// What a rule is on and what it says, a little otherwise where it is changed.
fn rule(n: usize, kind: usize, changed: bool) -> (&'static str, String) {
    let of = |old: &'static str, new: &'static str| if changed { new } else { old };
    let runner = |says: String| ("runner", says);
    let boat = |says: String| ("boat", says);
    match kind {
        0 => runner(format!(
            "value: height_{n}, at_least: 80 mm, at_most: {} mm",
            of("100", "98")
        )),
        1 => runner(format!(
            "value: thick_{n}, by: construction, limits: {{ plate: {{ at_least: 6.00 mm }}, insert: {{ at_least: {} \
             mm }}, tee: {{ at_least: 4.00 mm }}, angle: {{ at_least: 4.00 mm }} }}",
            of("4.70", "4.80")
        )),
        2 => runner(format!(
            "value: mass_{n}, by: construction, limits: {{ plate: {{ at_most: 5.0 kg }}, insert: {{ at_most: 4.5 kg \
             }}, tee: {{ at_most: 4.5 kg }}, angle: {{ at_most: 4.5 kg }} }}, instead: [ {{ if: \"construction is \
             insert and built < {}-01-01\", because: it is older, at_most: 4.8 kg, unproven: main_limit }} ]",
            of("2012", "2013")
        )),
        3 => runner(format!(
            "value: height_{n} + thick_{n}, {}: 108 mm",
            of("at_most", "less_than")
        )),
        4 => runner(format!(
            "value: toe_{n} - heel_{n}, at_least: {} mm, at_most: 900 mm",
            of("600", "610")
        )),
        5 => runner(format!(
            "value: \"-heel_{n} / (toe_{n} - heel_{n})\", at_least: {}, at_most: 0.58",
            of("0.42", "0.43")
        )),
        6 => runner(format!(
            "value: toe_{n} - heel_{n}, at_most: \"{} * thick_{n}\"",
            of("150", "149")
        )),
        7 => runner(format!(
            "value: \"abs(height_{n} - depth_{n})\", at_most: {} mm",
            of("30", "28")
        )),
        8 if n < PLACED => runner(format!(
            "value: wall_{n}, judged: worst_place, places: {{ at_least: 2 }}, {}: 3 mm",
            of("at_least", "more_than")
        )),
        8 => runner(format!(
            "value: wall_{n}, {}: 3 mm",
            of("at_least", "more_than")
        )),
        9 if n < PLACED => runner(format!(
            "value: highest(wall_{n}) - lowest(wall_{n}), at_most: {} mm",
            of("1.0", "0.9")
        )),
        9 => runner(format!(
            "value: wall_{n} - thick_{n}, at_most: {} mm",
            of("8", "7")
        )),
        10 => runner(format!(
            "when: construction is not {}, value: mass_{n}, at_least: 1.2 kg",
            of("angle", "tee")
        )),
        11 => runner(format!(
            "when: \"toe_{n} - heel_{n} {} 760 mm\", value: mass_{n}, at_least: 2.4 kg",
            of(">", ">=")
        )),
        12 => runner(format!(
            "when: \"built {} 2015-01-01\", value: depth_{n}, at_least: 60 mm",
            of(">=", ">")
        )),
        13 => runner(format!(
            "{}value: sound_{n}, equals: yes",
            of("", "when: construction is not tee, ")
        )),
        14 => runner(format!(
            "value: \"min(height_{n}, depth_{n})\", at_least: {} mm",
            of("55", "56")
        )),
        15 => runner(format!(
            "value: \"max(height_{n}, depth_{n})\", at_most: {} mm",
            of("105", "104")
        )),
        16 if n < HALF => boat(format!(
            "value: \"count(runners where thick_{n} > 8 mm)\", at_most: {}",
            of("4", "5")
        )),
        16 => boat(format!(
            "value: sum(mass_{n} over runners where construction is plate), at_most: {} kg",
            of("20", "19.5")
        )),
        17 if n < HALF => boat(format!(
            "value: \"count(runners where construction is plate and height_{n} {} 90 mm)\", at_most: 3",
            of(">", ">=")
        )),
        17 => boat(format!(
            "value: \"count(runners where thick_{n} > 7 mm and mass_{n} > 3 kg)\", at_most: {}",
            of("8", "7")
        )),
        18 if n < HALF => boat(format!(
            "value: sum(mass_{n} over runners), at_most: {} kg",
            of("40", "39.5")
        )),
        18 => boat(format!(
            "value: \"sum(mass_{n} over runners where position is side and height_{n} {} 85 mm)\", at_most: 30 kg",
            of(">", ">=")
        )),
        _ => runner(format!(
            "value: depth_{n}, by: position, limits: {{ steering: {{ at_least: 50 mm, at_most: 110 mm }}, side: {{ \
             at_least: {} mm, at_most: 112 mm }} }}",
            of("55", "54")
        )),
    }
}
