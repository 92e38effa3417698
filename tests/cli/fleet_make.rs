//! Invented fleets as they are asked for: in a file, on standard output, and what is refused.

use super::{command, folder, ran};

fn make(dir: &std::path::Path, more: &[&str]) -> super::Ran {
    let arguments = [&["fleet", "make", "tarn-8"], more].concat();
    ran(command(&arguments).current_dir(dir).output().unwrap())
}

/// Shares that are made side by side stand in their order, whole at any count, and a boat is the same in every fleet.
#[test]
fn a_boat_is_the_same_in_every_fleet_and_on_either_way() {
    let dir = folder();
    // Around a share, and around all shares of a turn.
    let mut longest = String::new();
    for boats in [9, 129] {
        let count = boats.to_string();
        let printed = make(dir.path(), &["--boats", &count]);
        printed.exits(0);
        make(dir.path(), &["--boats", &count, "--out", "fleet.jsonl"]).exits(0);
        let written = std::fs::read_to_string(dir.path().join("fleet.jsonl")).unwrap();
        assert_eq!(printed.out, written, "{boats}");
        assert_eq!(written.lines().count(), boats);
        assert!(written.starts_with(&longest), "{boats}");
        longest = written;
    }
}

#[test]
fn what_no_fleet_can_be_made_by_is_told() {
    let dir = folder();
    for (more, word) in [
        (["--boats", "0"].as_slice(), "--boats 120"),
        (&["--boats", "5", "--faults", "120 %"], "120 %"),
        (&["--boats", "5", "--until", "2020-01-01"], "--until 20"),
    ] {
        let told = make(dir.path(), more);
        told.exits(2);
        assert!(told.err.contains(word), "{}", told.err);
        assert!(told.out.is_empty(), "{}", told.out);
    }
}
