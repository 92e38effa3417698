//! From two shipped versions over a proof to a record: what a proof says of a boat is what a check says of its record.

use std::sync::Arc;

use super::shipped::rules_of;
use crate::check::Plan;
use crate::prove::book::Book;
use crate::prove::search::Under;
use crate::prove::shown::{boat, harmless};
use crate::prove::start::start;
use crate::prove::state::State;
use crate::prove::witness::{Complete, complete};
use crate::prove::{Common, Side};

/// Versions that are compared.
const PAIRS: [(&str, &str); 5] = [
    ("rules/tarn-8/2.4.0.yaml", "rules/tarn-8/3.0.0.yaml"),
    ("rules/tarn-8/3.0.0.yaml", "rules/tarn-8/3.1.0.yaml"),
    ("rules/tarn-8/3.1.0.yaml", "rules/tarn-8/4.0.0.yaml"),
    ("rules/tarn-8/4.0.0.yaml", "rules/tarn-8/3.1.0.yaml"),
    ("rules/ghyll-2/1.0.0.yaml", "rules/ghyll-2/2.0.0.yaml"),
];

fn whole<'b>(book: &'b Book<'_>, state: &State, sides: &[Side]) -> Result<Complete<'b>, String> {
    let found = boat(book, state).unwrap();
    let legal_at = |item: &crate::prove::BoatItem, place: &crate::prove::Values| {
        harmless(book, state, sides, item, place)
    };
    complete(&found, &book.common, &book.terms, &legal_at)
}

#[test]
fn a_boat_to_begin_from_is_legal_when_it_is_checked() {
    for (old, new) in PAIRS {
        let (was, is) = (rules_of(old), rules_of(new));
        let book = Book::of(Common::of(&was, &is));
        let both = Under {
            old: true,
            new: true,
        };
        let Ok(begun) = start(&book, both) else {
            continue;
        };
        let whole = whole(&book, &begun.state, &Side::BOTH).unwrap();
        for (side, rules) in [(Side::Old, &was), (Side::New, &is)] {
            let plan = Plan::compile(Arc::clone(rules));
            let found = whole.replay(side, &plan).unwrap();
            let against: Vec<_> = found
                .findings
                .iter()
                .filter(|one| one.outcome < crate::check::Outcome::Conforms)
                .collect();
            let text = whole.record(side).unwrap();
            assert!(
                found.is_legal(),
                "{old} {new} {side:?}\n{text}\n{against:#?}"
            );
        }
    }
}
