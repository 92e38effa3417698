//! From two shipped versions over a proof to a record: what a proof says of a boat is what a check says of its record.

use std::sync::Arc;

use super::shipped::rules_of;
use crate::check::Plan;
use crate::prove::book::Book;
use crate::prove::question::Verdict;
use crate::prove::requirement::answers;
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
            eprintln!("{old} {new}: no boat to begin from");
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

#[test]
fn what_is_proved_of_a_boat_comes_of_its_record() {
    let mut wrong = Vec::new();
    let mut count = 0;
    for (old, new) in PAIRS {
        let (was, is) = (rules_of(old), rules_of(new));
        let book = Book::of(Common::of(&was, &is));
        let plans = [
            (Side::Old, Plan::compile(Arc::clone(&was))),
            (Side::New, Plan::compile(Arc::clone(&is))),
        ];
        for one in answers(&book).answered {
            let Verdict::Boat(shown) = &one.verdict else {
                continue;
            };
            count += 1;
            let found = whole(&book, &shown.state, &[one.legal]).and_then(|whole| {
                let mut legal = Vec::new();
                for (side, plan) in &plans {
                    let found = whole.replay(*side, plan)?;
                    legal.push((*side == one.legal, found.is_legal(), found.findings));
                }
                Ok(legal)
            });
            match found {
                Err(why) => {
                    wrong.push(format!("{old} {new} {:?} {}: {why}", one.legal, one.clause))
                }
                Ok(legal) => {
                    for (wanted, found, findings) in legal {
                        if wanted != found {
                            let against: Vec<_> = findings
                                .iter()
                                .filter(|one| one.outcome < crate::check::Outcome::Conforms)
                                .map(|one| format!("{} {:?} {:?}", one.rule, one.item, one.reason))
                                .collect();
                            wrong.push(format!("{old} {new} {:?} {}: legal {found}, should be {wanted}: {against:?}", one.legal, one.clause));
                        }
                    }
                }
            }
        }
    }
    assert!(
        wrong.is_empty(),
        "{} of {count}\n{}",
        wrong.len(),
        wrong.join("\n")
    );
}
