//! What a comparison says of a mutant.

use super::super::super::{Answer, Bump, Comparison, Direction, Witness};
use super::Proof;
use crate::check::Outcome;
use crate::rules::Stage;

fn witness() -> Witness {
    Witness {
        fragment: String::new(),
        fragment_json: serde_json::Value::Null,
        old_record: String::new(),
        new_record: String::new(),
        stage: Stage::Certification,
        level: None,
        day: jiff::civil::date(2026, 10, 15),
        old_outcome: Outcome::Conforms,
        new_outcome: Outcome::DoesNotConform,
        rules: Vec::new(),
        why: String::new(),
        flips: Vec::new(),
        cases: "- title: a case".to_owned(),
    }
}

fn comparison(answers: [Answer; 4]) -> Comparison {
    let [one, two, three, four] = answers;
    Comparison {
        old: semver::Version::new(1, 0, 0),
        new: semver::Version::new(1, 0, 0),
        becomes_illegal: Direction {
            requirement: one,
            evidence: two,
        },
        becomes_legal: Direction {
            requirement: three,
            evidence: four,
        },
        changes: Vec::new(),
        words: Vec::new(),
        required: Bump::Patch,
        declared: None,
        reach: Vec::new(),
    }
}

/// Neutral is what is proved in all four parts; a witness in any of them counts before what is open in another.
#[test]
fn a_proof_needs_all_four_parts() {
    let none = || Answer::ProvedNone;
    let open = || Answer::Undecided(vec!["too many corners".to_owned()]);
    let found = || Answer::Witness(vec![witness()]);
    assert_eq!(
        Proof::of(&comparison([none(), none(), none(), none()])),
        Proof::Neutral
    );
    for at in 0..4 {
        let with = |one: Answer, other: fn() -> Answer| {
            let mut answers = [other(), other(), other(), other()];
            if let Some(place) = answers.get_mut(at) {
                *place = one;
            }
            Proof::of(&comparison(answers))
        };
        let undecided = Proof::Undecided("too many corners".to_owned());
        assert_eq!(with(open(), || Answer::ProvedNone), undecided, "{at}");
        let case = Proof::Witness("- title: a case".to_owned());
        assert_eq!(with(found(), || Answer::ProvedNone), case, "{at}");
        let vague = || Answer::Undecided(vec!["too many corners".to_owned()]);
        assert_eq!(with(found(), vague), case, "{at}");
    }
}
