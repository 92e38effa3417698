//! The versions that are shipped against their neighbours.

use super::super::super::book::Book;
use super::super::super::search::Under;
use super::super::super::start::start;
use super::*;

fn by_proof(old: &Arc<RulesFile>, new: &Arc<RulesFile>) -> Evidence {
    let book = Book::of(Common::of(old, new));
    let both = Under {
        old: true,
        new: true,
    };
    let start = start(&book, both).ok();
    let (old_plan, new_plan) = (
        Plan::compile(Arc::clone(old)),
        Plan::compile(Arc::clone(new)),
    );
    evidence_by_proof(&book, start.as_ref(), (&old_plan, &new_plan), &mut |_| {})
}

fn shipped(class: &str, version: &str) -> Arc<RulesFile> {
    let name = format!("rules/{class}/{version}.yaml");
    rules(&name, &data(&name))
}

/// Each pair of neighbours with what its evidence does: illegal, legal.
const PAIRS: &[(&str, &str, &str, &str, &str)] = &[
    ("tarn-8", "2.4.0", "3.0.0", "witness", "witness"),
    ("tarn-8", "3.0.0", "3.1.0", "none", "witness"),
    ("tarn-8", "3.1.0", "4.0.0", "witness", "witness"),
    ("ghyll-2", "1.0.0", "2.0.0", "witness", "witness"),
];

#[test]
fn neighbours_are_decided() {
    for (class, old, new, illegal, legal) in PAIRS {
        let found = by_proof(&shipped(class, old), &shipped(class, new));
        let got = (word(&found.becomes_illegal), word(&found.becomes_legal));
        assert_eq!(
            got,
            (*illegal, *legal),
            "{class} {old} {new}: {}",
            shown(&found)
        );
    }
}

#[test]
fn a_version_against_itself_says_nothing() {
    for (class, version) in [("tarn-8", "4.0.0"), ("ghyll-2", "2.0.0")] {
        let one = shipped(class, version);
        let found = by_proof(&one, &one);
        assert!(found.differences.is_empty(), "{}", shown(&found));
        assert_eq!(word(&found.becomes_illegal), "none");
        assert_eq!(word(&found.becomes_legal), "none");
    }
}
