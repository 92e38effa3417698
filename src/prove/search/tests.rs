//! Questions about counts and sums that no look at the items one by one would answer in time, beside questions like them
//! that have an answer: weights that promised too much would lose it.

use super::super::book::Book;
use super::super::common::{Common, Side};
use super::super::question::{Verdict, ask_counting, begin};
use super::super::requirement::starts;
use super::super::solve::Work;
use super::{Found, Search, Under};
use crate::rules::{self, RulesFile};

/// A class of nine runners and more, with some rules of the boat.
fn class(of_boat: &[&str]) -> RulesFile {
    let mut text = "format: rimegauge-rules/1
class: mere-9
title: Mere 9 Class Rules
version: 1.0.0
status: adopted
in_force_from: 2026-01-01
authority: Mere 9 Class Association
silence: forbids
decision:
  coverage_probability: 95 %
  self_check: simple_acceptance
  certification: simple_acceptance
  event_inspection: simple_acceptance
equipment:
  boat:
    parts: { runners: { many: runner, at_least: 9 } }
  runner:
    traits:
      position: [steering, side]
      construction: [plate, insert, tee, angle]
    measures:
      thick: { kind: length, plausible: 3 mm to 12 mm }
      height: { kind: length, plausible: 60 mm to 120 mm }
      mass: { kind: mass, plausible: 0.5 kg to 10 kg }
rules:
"
    .to_owned();
    let of_runners = [
        "mass, at_least: 1.2 kg, at_most: 5.0 kg",
        "thick, at_least: 4 mm, at_most: 10 mm",
        "height, at_least: 70 mm, at_most: 110 mm",
        "height + thick, at_most: 118 mm",
    ];
    let of_runners = of_runners.iter().map(|says| ("runner", says));
    let all = of_runners.chain(of_boat.iter().map(|says| ("boat", says)));
    for (at, (on, says)) in all.enumerate() {
        text.push_str(&format!(
            "  - {{ id: rule_{at}, clause: D.{at}, title: Rule {at}, text: As it is said., applies_to: {on}, value: {says} }}\n"
        ));
    }
    match rules::load("mere-9.yaml", text.as_bytes()) {
        Ok(rules) => rules,
        Err(faults) => panic!("{faults:?}"),
    }
}

const THICK_OR_HIGH: [&str; 2] = [
    "count(runners where thick > 8 mm), at_most: 3",
    "count(runners where height > 90 mm), at_most: 4",
];
const THREE_OF_EACH: [&str; 4] = [
    "count(runners where construction is plate), at_most: 3",
    "count(runners where construction is insert), at_most: 3",
    "count(runners where construction is tee), at_most: 3",
    "count(runners where construction is angle), at_most: 3",
];
const TWENTY_OF_EACH: [&str; 4] = [
    "sum(mass over runners where construction is plate), at_most: 20 kg",
    "sum(mass over runners where construction is insert), at_most: 20 kg",
    "sum(mass over runners where construction is tee), at_most: 20 kg",
    "sum(mass over runners where construction is angle), at_most: 20 kg",
];

/// Rules of the boat, one more rule, and whether a boat that keeps them can break it.
const CASES: [(&[&str], &str, bool); 14] = [
    (
        &THICK_OR_HIGH,
        "count(runners where thick > 8 mm or height > 90 mm), at_most: 7",
        false,
    ),
    (
        &THICK_OR_HIGH,
        "count(runners where thick > 8 mm or height > 90 mm), at_most: 6",
        true,
    ),
    (
        &THICK_OR_HIGH,
        "count(runners where thick > 8 mm and height > 90 mm), at_most: 3",
        false,
    ),
    (
        &THICK_OR_HIGH,
        "count(runners where thick > 8 mm and height > 90 mm), at_most: 2",
        true,
    ),
    (
        &["count(runners), at_most: 10"],
        "sum(mass over runners), at_most: 50 kg",
        false,
    ),
    (
        &["count(runners), at_most: 10"],
        "sum(mass over runners), less_than: 50 kg",
        true,
    ),
    (&THREE_OF_EACH, "count(runners), at_most: 12", false),
    (&THREE_OF_EACH, "count(runners), at_most: 11", true),
    (
        &TWENTY_OF_EACH,
        "sum(mass over runners), at_most: 80 kg",
        false,
    ),
    (
        &TWENTY_OF_EACH,
        "sum(mass over runners), at_most: 30 kg",
        true,
    ),
    // Each of ten weighs more than 2.5 kg: no sum of 25 kg is reached.
    (
        &["sum(mass over runners where position is side), at_most: 25 kg"],
        "count(runners where position is side and mass > 2.5 kg), at_most: 9",
        false,
    ),
    (
        &["sum(mass over runners where position is side), at_most: 25 kg"],
        "count(runners where position is side and mass >= 2.5 kg), at_most: 9",
        true,
    ),
    (
        &["count(runners where construction is plate and height > 90 mm), at_most: 3"],
        "count(runners where construction is plate and height >= 90 mm), at_most: 3",
        true,
    ),
    (
        &["count(runners where construction is plate and height >= 90 mm), at_most: 3"],
        "count(runners where construction is plate and height > 90 mm), at_most: 3",
        false,
    ),
];

#[test]
fn counts_and_sums_are_bounded_by_others() {
    for (of_boat, more, can_be_broken) in CASES {
        let old = class(of_boat);
        let new = class(&[of_boat, &[more][..]].concat());
        let book = Book::of(Common::of(&old, &new));
        let [Ok(start), _] = starts(&book) else {
            panic!("{more}: no boat to begin from");
        };
        // The rules of runners come first; the clause behind those of the old version is the one that is new.
        let clause = 4 + of_boat.len();
        let mut work = Work::default();
        let verdict = ask_counting(&book, &start, Side::Old, clause, &mut work);
        let is_so = match verdict {
            Verdict::Boat(_) => can_be_broken,
            Verdict::None => !can_be_broken,
            Verdict::Unknown(_) => false,
        };
        assert!(is_so, "{more}: {verdict:?}");
        assert!(work.conflicts < 1_200, "{more}: {work:?}");

        // What is weighed before anything else is known leaves every boat that there is.
        let fact = &book.new.facts[clause];
        let mut search = Search::new(&book, &start.state, Under::only(Side::Old), false);
        begin(&mut search, &fact.holds.negated(&book.terms), fact, 0);
        let is_shown = search.weigh();
        assert!(!(is_shown && can_be_broken), "{more}: too much is promised");
        if can_be_broken {
            let found = search.find(&[]);
            assert!(matches!(found, Found::Boat(_)), "{more}: {found:?}");
        }
    }
}
