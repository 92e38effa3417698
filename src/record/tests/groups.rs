//! Groups of parts in records: the quick way against the long one, and what comes of both.

use super::super::*;
use super::quick::{VALUES, Way, way};
use super::vocabulary_of;
use crate::vocabulary::{RoleId, Vocabulary};

const RULES: &str = "
equipment:
  boat:
    parts: { runners: { many: runner }, spares: { many: runner }, weights: { many: weight } }
    groups: { sets: { roles: { port: runner, starboard: runner } }, rigs: { roles: { only: weight } } }
  runner: { measures: { height: length } }
  weight: { measures: { mass: mass } }
";

fn vocabulary() -> Vocabulary {
    vocabulary_of("groups", RULES)
}

/// Groups stand in front of the parts that they name.
const LINE: &str = r#"{"format":"rimegauge-record/1","class":"tarn-8","boat":{"sail_number":"T8 7"},"rigs":[{"only":"W1","id":"r"}],"sets":[{"id":"a","port":"S1","starboard":"S2"},{"id":"b","starboard":"runners/S1"}],"runners":[{"id":"S1","height":"90 mm"},{"id":"S2"},{"id":"S9"}],"spares":[{"id":"X1"},{"id":"S9"}],"weights":[{"id":"W1"}]}"#;

#[test]
fn groups_come_behind_the_parts_either_way() {
    let vocabulary = vocabulary();
    let loader = Loader::new(&vocabulary);
    assert_eq!(way(&loader, LINE), Way::Quick);
    let source = super::source_of("line", LINE);
    let record = loader.quick(&source, 0..LINE.len()).unwrap().record;
    let ids: Vec<&str> = record
        .items
        .iter()
        .filter_map(|item| item.id.as_deref())
        .collect();
    assert_eq!(ids, ["S1", "S2", "S9", "X1", "S9", "W1", "r", "a", "b"]);
    let member = |at: usize, role: u16| record.items[at].member(RoleId(role)).map(|one| one.item);
    assert_eq!((member(8, 0), member(8, 1)), (Some(1), Some(2)));
    assert_eq!((member(9, 0), member(9, 1)), (None, Some(1)));
    assert_eq!(member(7, 0), Some(6));
    assert!(!record.items[9].members.as_ref().unwrap().complete());
}

#[test]
fn changed_groups_are_the_same_either_way() {
    let vocabulary = vocabulary();
    let loader = Loader::new(&vocabulary);
    let mut ways = Vec::new();
    let places = [
        r#""W1","id""#,
        r#""a""#,
        r#""S1","starboard""#,
        r#""S2"}"#,
        r#""runners/S1""#,
    ];
    let others = [
        r#""S9""#,
        r#""spares/S9""#,
        r#""runners/S9""#,
        r#""hull/S1""#,
        r#""/""#,
        r#""W1""#,
        r#""b""#,
    ];
    for place in places {
        let text = &place[..place[1..].find('"').unwrap() + 2];
        for value in VALUES.iter().chain(&others) {
            let changed = place.replacen(text, value, 1);
            ways.push(way(&loader, &LINE.replacen(place, &changed, 1)));
        }
    }
    for (there, instead) in [
        (r#""port":"S1""#, r#""port":"S1","port":"S2""#),
        (r#""port":"S1""#, r#""steering":"S1""#),
        (r#""port":"S1""#, r#""notes":"stiff","port":"S1""#),
        (r#""id":"a","#, ""),
        (r#""sets":["#, r#""sets":[{"id":"c"}],"sets":["#),
        (r#""sets":[{"#, r#""sets":[[{"#),
        (r#"{"id":"S2"}"#, r#"{"id":"S2"},{"id":"S1"}"#),
        (r#"{"id":"S2"}"#, "{}"),
        (r#""runners":["#, r#""crew":["#),
        (r#""sets":["#, r#""sets":["S1","#),
    ] {
        assert!(LINE.contains(there), "{there}");
        ways.push(way(&loader, &LINE.replacen(there, instead, 1)));
    }
    for wanted in [Way::Quick, Way::Long, Way::Refused] {
        let count = ways.iter().filter(|way| **way == wanted).count();
        assert!(count > 0, "{wanted:?}");
    }
}
