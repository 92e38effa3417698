//! How the records of a fleet are read: what refuses one, what is left out, which of several counts.

use super::{command, folder, ran, root};

const RULES: &str = "tests/data/proposal/adopted.yaml";

/// What the rule does not ask for gets no record refused, as in a comparison; what the rules do not know is told.
#[test]
fn records_are_refused_for_what_the_rule_asks_for_alone() {
    let dir = folder();
    let record = |more: &str| {
        format!(
            "{{\"format\":\"rimegauge-record/1\",\"class\":\"tarn-8\",\"boat\":{{\"sail_number\":\"T8 4101\"}},\"measured\":{{\"day\":\"2026-11-21\",\"by\":\"AB\"}},\"runners\":[{{\"id\":\"A\",\"construction\":\"insert\",{more},\"steel_thickness\":\"4.90 mm\"}}]}}\n"
        )
    };
    let (rules, proposed) = (
        root().join(RULES),
        root().join("tests/data/proposal/proposed.yaml"),
    );
    let (rules, proposed) = (rules.to_str().unwrap(), proposed.to_str().unwrap());
    let by_length = [
        "vary", rules, "E.3.1", "--limit", "at_most", "--from", "700 mm",
    ];
    let by_length = [&by_length[..], &["--to", "800 mm"]].concat();
    let told = |arguments: &[&str], more: &str| {
        std::fs::write(dir.path().join("fleet.jsonl"), record(more)).unwrap();
        let arguments = [arguments, &["--format", "json", "--fleet", "fleet.jsonl"]].concat();
        ran(command(&arguments)
            .current_dir(dir.path())
            .output()
            .unwrap())
    };
    let compared = ["compare", rules, proposed];
    let both = [by_length.as_slice(), &compared];
    // A name of another version; one that is nearly a known one, beside that one.
    for more in ["\"bolt_spacing\":\"80 mm\"", "\"stem_thickness\":\"80 mm\""] {
        for asked in both {
            let found = told(asked, more).json();
            let sample = match asked[0] {
                "vary" => &found["sample"],
                _ => &found["fleet"]["sample"],
            };
            let key = more.split('"').nth(1).unwrap();
            assert_eq!(sample["broken"], 0, "{found:#}");
            assert_eq!(sample["left_out"]["records"], 1, "{found:#}");
            assert_eq!(sample["left_out"]["keys"][key], 1, "{found:#}");
        }
    }
    // What the rule on lengths does not ask for may be as wrong as it likes.
    for more in ["\"hardness\":\"hard\"", "\"construction_of\":[1]"] {
        let found = told(&by_length, more).json();
        assert_eq!(found["sample"]["broken"], 0, "{found:#}");
    }
    let length = "\"toe_at\":\"360 mm\",\"heel_at\":\"-300 mm\"";
    let wrong = record(length)
        .replace("4.90 mm", "thick")
        .replace("insert", "steel");
    std::fs::write(dir.path().join("wrong.jsonl"), wrong).unwrap();
    let asked = [
        by_length.as_slice(),
        &["--format", "json", "--fleet", "wrong.jsonl"],
    ]
    .concat();
    let found = ran(command(&asked).current_dir(dir.path()).output().unwrap());
    found.exits(0);
    assert_eq!(found.json()["items"], 1);
    // What it asks for, and what is nearly that, refuses a record.
    for more in ["\"toe_at\":\"far\"", "\"toe_a\":\"360 mm\""] {
        told(&by_length, more).exits(2);
    }
    let said = [by_length.as_slice(), &["--fleet", "fleet.jsonl"]].concat();
    std::fs::write(
        dir.path().join("fleet.jsonl"),
        record("\"bolt_spacing\":\"80 mm\""),
    )
    .unwrap();
    ran(command(&said).current_dir(dir.path()).output().unwrap())
        .exits(0)
        .says("1 record says what these rules do not know, and that is left out:")
        .says("`bolt_spacing`.");
}
