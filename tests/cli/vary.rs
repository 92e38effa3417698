//! `vary`: how many of a fleet conform as one limit moves.

use std::path::Path;

use super::{Ran, command, folder, ran, root};

const RULES: &str = "tests/data/proposal/adopted.yaml";
const FLEET: &str = "tests/data/proposal/fleet.jsonl";

fn vary(folder: &Path, more: &[&str]) -> Ran {
    let rules = root().join(RULES);
    let mut arguments = vec!["vary", rules.to_str().unwrap(), "steel_thickness"];
    arguments.extend(["--row", "insert", "--from", "4.60 mm", "--to", "5.00 mm"]);
    arguments.extend(more);
    ran(command(&arguments).current_dir(folder).output().unwrap())
}

fn fleet() -> String {
    root().join(FLEET).to_str().unwrap().to_owned()
}

#[test]
fn what_was_kept_answers_as_the_fleet_does() {
    let dir = folder();
    let fleet = fleet();
    for format in ["json", "human", "plain"] {
        let asked = ["--format", format, "--steps", "8", "--propose", "4.80 mm"];
        let read = vary(dir.path(), &[&asked[..], &["--fleet", &fleet]].concat());
        read.exits(0);
        let keep = [
            "--fleet",
            &fleet,
            "--keep",
            "insert.columns",
            "--format",
            "json",
        ];
        vary(dir.path(), &keep).exits(0);
        let kept = vary(
            dir.path(),
            &[&asked[..], &["--kept", "insert.columns"]].concat(),
        );
        kept.exits(0);
        assert_eq!(read.out, kept.out, "{format}");
    }
    // Nobody is named in what is kept.
    let kept = std::fs::read_to_string(dir.path().join("insert.columns")).unwrap();
    assert!(!kept.contains("T8"), "{kept}");
}

#[test]
fn limits_turns_and_counts_add_up() {
    let dir = folder();
    let fleet = fleet();
    let told = vary(
        dir.path(),
        &[
            "--fleet",
            &fleet,
            "--format",
            "json",
            "--steps",
            "8",
            "--propose",
            "4.80 mm",
        ],
    );
    told.exits(0);
    let found = told.json();
    assert_eq!(found["format"], "rimegauge-vary/1");
    assert_eq!(found["present"]["number"], "4.70");
    let limits = found["limits"].as_array().unwrap();
    assert_eq!(
        limits.len(),
        9,
        "the present limit and the proposed one are steps already"
    );
    let number =
        |value: &serde_json::Value| value["number"].as_str().unwrap().parse::<f64>().unwrap();
    for of in ["items", "boats"] {
        for limit in limits {
            let counts = limit[of].as_object().unwrap();
            let total: u64 = counts.values().map(|count| count.as_u64().unwrap()).sum();
            assert_eq!(total, found[of].as_u64().unwrap(), "{limit:#}");
        }
    }
    // Between two limits exactly that many stop to conform that turn there.
    let turns = found["turns"].as_array().unwrap();
    assert!(turns.len() >= 4, "{turns:?}");
    for pair in limits.windows(2) {
        let (from, to) = (number(&pair[0]["limit"]), number(&pair[1]["limit"]));
        let lost: u64 = turns
            .iter()
            .filter(|turn| {
                let at = number(&turn["limit"]);
                let itself = turn["limit_itself_still_holds"].as_bool().unwrap();
                if itself {
                    at >= from && at < to
                } else {
                    at > from && at <= to
                }
            })
            .map(|turn| turn["items_conform_up_to_here"].as_u64().unwrap())
            .sum();
        let conforms = |limit: &serde_json::Value| limit["items"]["conforms"].as_u64().unwrap();
        assert_eq!(
            conforms(&pair[0]) - conforms(&pair[1]),
            lost,
            "from {from} to {to}"
        );
    }
}

#[test]
fn a_limit_may_fall_as_well() {
    let dir = folder();
    let fleet = fleet();
    let rules = root().join(RULES);
    let arguments = [
        "vary",
        rules.to_str().unwrap(),
        "E.3.1",
        "--limit",
        "at_most",
        "--from",
        "0.81 m",
        "--to",
        "75 cm",
        "--steps",
        "6",
        "--fleet",
        &fleet,
        "--format",
        "json",
        "--purpose",
        "self_check",
    ];
    let told = ran(command(&arguments)
        .current_dir(dir.path())
        .output()
        .unwrap());
    told.exits(0);
    let found = told.json();
    let limits = found["limits"].as_array().unwrap();
    let shown: Vec<&str> = limits
        .iter()
        .map(|one| one["limit"]["number"].as_str().unwrap())
        .collect();
    assert_eq!(shown, ["810", "800", "790", "780", "770", "760", "750"]);
    let conforms: Vec<u64> = limits
        .iter()
        .map(|one| one["items"]["conforms"].as_u64().unwrap())
        .collect();
    assert!(
        conforms.windows(2).all(|pair| pair[0] >= pair[1]),
        "{conforms:?}"
    );
    assert!(conforms[0] > conforms[6], "{conforms:?}");
}

#[test]
fn a_plot_is_a_picture_that_tells_the_limits() {
    let dir = folder();
    let fleet = fleet();
    let told = vary(
        dir.path(),
        &[
            "--fleet",
            &fleet,
            "--propose",
            "4.80 mm",
            "--plot",
            "thickness.svg",
        ],
    );
    told.exits(0);
    assert!(told.out.contains("Written: thickness.svg"), "{}", told.out);
    let plot = std::fs::read_to_string(dir.path().join("thickness.svg")).unwrap();
    for words in ["now: 4.70 mm", "proposed: 4.80 mm", "in doubt", "<title"] {
        assert!(plot.contains(words), "{words}\n{plot}");
    }
    for foreign in ["href", "script", "url(http", "@import"] {
        assert!(!plot.contains(foreign), "{foreign}");
    }
}

/// A turn that is told with the digits that fit is a limit with which nothing has turned yet.
#[test]
fn turns_are_told_on_the_mild_side() {
    let dir = folder();
    let fleet = fleet();
    let rules = root().join(RULES);
    for (limit, from, to) in [
        ("at_least", "700 mm", "720 mm"),
        ("at_most", "760 mm", "740 mm"),
    ] {
        let asked = |from: &str| {
            let arguments = [
                "vary",
                rules.to_str().unwrap(),
                "E.3.1",
                "--limit",
                limit,
                "--from",
                from,
                "--to",
                to,
                "--steps",
                "1",
                "--fleet",
                &fleet,
                "--format",
                "json",
            ];
            let told = ran(command(&arguments)
                .current_dir(dir.path())
                .output()
                .unwrap());
            told.exits(0);
            told.json()
        };
        let found = asked(from);
        let turns = found["turns"].as_array().unwrap();
        let inexact = |turn: &&serde_json::Value| turn["limit"]["exact"] == false;
        let some: Vec<&serde_json::Value> = turns.iter().filter(inexact).take(3).collect();
        assert_eq!(some.len(), 3, "{limit}: too few turns with many digits");
        for turn in some {
            assert_eq!(turn["limit_itself_still_holds"], true);
            let number = turn["limit"]["number"].as_str().unwrap();
            let again = asked(&format!("{number} mm"));
            let count = |value: &serde_json::Value| value.as_u64().unwrap();
            let before =
                count(&turn["items_beyond"]["conforms"]) + count(&turn["items_conform_up_to_here"]);
            let limits = again["limits"].as_array().unwrap();
            let own = limits
                .iter()
                .find(|one| one["limit"]["number"] == number)
                .unwrap();
            assert_eq!(count(&own["items"]["conforms"]), before, "{limit} {number}");
        }
    }
}

#[test]
fn nothing_is_written_over_what_is_read() {
    let dir = folder();
    std::fs::copy(root().join(FLEET), dir.path().join("own.jsonl")).unwrap();
    let before = std::fs::read(dir.path().join("own.jsonl")).unwrap();
    for more in [
        &["--fleet", "own.jsonl", "--keep", "own.jsonl"][..],
        &["--fleet", "own.jsonl", "--plot", "own.jsonl"],
        &[
            "--fleet",
            "own.jsonl",
            "--plot",
            "one.svg",
            "--keep",
            "one.svg",
        ],
        &["--fleet", "own.jsonl", "--plot", "one.png"],
    ] {
        vary(dir.path(), more).exits(2);
        assert_eq!(std::fs::read(dir.path().join("own.jsonl")).unwrap(), before);
        assert!(!dir.path().join("one.svg").exists() && !dir.path().join("one.png").exists());
    }
}

#[test]
fn the_main_limit_beside_exemptions_moves() {
    let dir = folder();
    let fleet = dir.path().join("fleet.jsonl");
    let make = [
        "fleet",
        "make",
        "ghyll-2@2.0.0",
        "--boats",
        "4",
        "--seed",
        "2",
        "--out",
        fleet.to_str().unwrap(),
    ];
    ran(command(&make).output().unwrap()).exits(0);
    for row in [&[][..], &["--row", "main"]] {
        let mut arguments = vec![
            "vary",
            "ghyll-2@2.0.0",
            "backbone_depth",
            "--limit",
            "at_least",
            "--from",
            "0.140 m",
            "--to",
            "0.170 m",
            "--steps",
            "3",
            "--format",
            "json",
            "--fleet",
            fleet.to_str().unwrap(),
        ];
        arguments.extend(row);
        let told = ran(command(&arguments).output().unwrap());
        told.exits(0);
        assert_eq!(told.json()["row"], serde_json::Value::Null);
    }
}

#[test]
fn what_nothing_meets_is_neither_drawn_nor_kept() {
    let dir = folder();
    let fleet = dir.path().join("plates.jsonl");
    let text = std::fs::read_to_string(root().join(FLEET)).unwrap();
    std::fs::write(&fleet, text.replace("\"insert\"", "\"plate\"")).unwrap();
    std::fs::write(dir.path().join("kept.columns"), "mine").unwrap();
    let asked = [
        "--fleet",
        fleet.to_str().unwrap(),
        "--plot",
        "thickness.svg",
        "--keep",
        "kept.columns",
    ];
    vary(dir.path(), &asked)
        .exits(3)
        .says("This limit applies to no runner of this fleet: there is nothing to count.")
        .says("Another row of the rule applies to 357 runners.")
        .says("No file was written.");
    let json = vary(dir.path(), &[&asked[..], &["--format", "json"]].concat());
    json.exits(3);
    for (key, value) in [("items", 0.into()), ("plot_file", serde_json::Value::Null)] {
        assert_eq!(json.json()[key], value, "{key}");
    }
    assert!(!dir.path().join("thickness.svg").exists());
    assert_eq!(
        std::fs::read_to_string(dir.path().join("kept.columns")).unwrap(),
        "mine"
    );
}

#[test]
fn broken_records_are_named_for_programs_and_what_was_kept_knows_how_many() {
    let dir = folder();
    let text = std::fs::read_to_string(root().join(FLEET)).unwrap();
    let first = text.lines().next().unwrap();
    let other = first.replace("tarn-8", "ghyll-2");
    std::fs::write(dir.path().join("own.jsonl"), [first, &other, ""].join("\n")).unwrap();
    let asked = ["--fleet", "own.jsonl", "--keep", "own.columns", "--format"];
    let json = vary(dir.path(), &[&asked[..], &["json"]].concat());
    json.exits(2);
    let sample = json.json()["sample"].clone();
    let one = &sample["broken_records"][0];
    assert_eq!(one["source_at"]["line"], 2, "{one:#}");
    assert_eq!(one["code"], "record.other_class", "{one:#}");
    let words = "1 record can't be used and is left out: 1 is of another class.";
    vary(dir.path(), &[&asked[..], &["plain"]].concat())
        .exits(2)
        .says(words);
    let kept = vary(dir.path(), &["--kept", "own.columns", "--format", "plain"]);
    kept.exits(2).says(words);
}

#[test]
fn a_day_before_the_version_counts_is_told() {
    let dir = folder();
    let fleet = fleet();
    let words = "NOT IN FORCE on 2026-01-05: version 3.1.0 counts from 2026-11-01.";
    let asked = ["--fleet", &fleet, "--on", "2026-01-05", "--format"];
    vary(dir.path(), &[&asked[..], &["plain"]].concat())
        .exits(0)
        .says(words);
    let json = vary(dir.path(), &[&asked[..], &["json"]].concat());
    let later = "60 records were measured after the day of the check, 2026-01-05: one of the days may be wrong.";
    assert_eq!(json.json()["notes"], serde_json::json!([words, later]));
}

#[test]
fn a_limit_on_the_other_side_of_zero_is_told() {
    let fleet = fleet();
    let rules = root().join(RULES);
    let arguments = [
        "vary",
        rules.to_str().unwrap(),
        "E.3.1",
        "--limit",
        "at_least",
        "--from",
        "-5 mm",
        "--to",
        "680 mm",
        "--fleet",
        &fleet,
    ];
    let told = ran(command(&arguments).output().unwrap());
    told.exits(0)
        .says("--from -5 mm lies below zero, and the limit now does not.");
}

/// Lines that are wider than a terminal.
fn too_wide(text: &str, width: usize) -> Vec<&str> {
    let wide = |line: &&str| line.chars().count() > width;
    text.lines().filter(wide).collect()
}

#[test]
fn no_line_is_wider_than_the_terminal_and_in_a_pipe_the_width_is_fixed() {
    let dir = folder();
    let tarn = dir.path().join("tarn.jsonl");
    let make = [
        "fleet",
        "make",
        "tarn-8@3.1.0",
        "--boats",
        "60",
        "--seed",
        "5",
        "--missing",
        "8 %",
        "--faults",
        "10 %",
        "--out",
        tarn.to_str().unwrap(),
    ];
    ran(command(&make).output().unwrap()).exits(0);
    let tarn = tarn.to_str().unwrap();
    let (old, new) = (
        root().join(RULES),
        root().join("tests/data/proposal/proposed.yaml"),
    );
    let (old, new, own) = (old.to_str().unwrap(), new.to_str().unwrap(), fleet());
    let asked: [&[&str]; 4] = [
        &[
            "vary",
            old,
            "E.3.1",
            "--limit",
            "at_most",
            "--from",
            "0.81 m",
            "--to",
            "75 cm",
            "--propose",
            "0.76 m",
            "--fleet",
            &own,
        ],
        &[
            "vary",
            "tarn-8@3.1.0",
            "steel_thickness",
            "--row",
            "plate",
            "--from",
            "5.987654 mm",
            "--to",
            "7.20 mm",
            "--propose",
            "6.4321 mm",
            "--fleet",
            tarn,
        ],
        &["compare", old, new, "--fleet", &own],
        &["compare", "tarn-8@2.4.0", "tarn-8@3.0.0", "--fleet", tarn],
    ];
    for arguments in asked {
        for width in ["60", "80", "100"] {
            let out = command(arguments).env("COLUMNS", width).output().unwrap();
            let told = ran(out).out;
            // Records that show a change are copied as they are, to be pasted into a file.
            let from = told.find("\nWhat it does to the fleet");
            let own = told.get(from.unwrap_or(0)..).unwrap();
            let wide = too_wide(own, width.parse().unwrap());
            assert!(wide.is_empty(), "{width}: {wide:#?}\n{own}");
        }
    }
    let piped = ran(command(asked[0]).env_remove("COLUMNS").output().unwrap()).out;
    let fixed = ran(command(asked[0]).env("COLUMNS", "80").output().unwrap()).out;
    assert_eq!(piped, fixed);
}

/// What stands in a plot beside and under its field.
#[test]
fn a_plot_names_the_bands_that_it_has_and_counts_in_whole_numbers() {
    let dir = folder();
    let text = std::fs::read_to_string(root().join(FLEET)).unwrap();
    let first = text.lines().next().unwrap();
    std::fs::write(dir.path().join("one.jsonl"), first).unwrap();
    let asked = [
        "--fleet",
        "one.jsonl",
        "--propose",
        "4.70 mm",
        "--plot",
        "one.svg",
    ];
    vary(dir.path(), &asked).exits(0);
    let plot = std::fs::read_to_string(dir.path().join("one.svg")).unwrap();
    for count in ["0", "1", "2", "3"] {
        assert!(
            plot.contains(&format!(">{count}</text>")),
            "{count}\n{plot}"
        );
    }
    assert!(!plot.contains(">0.5</text>") && !plot.contains(">1.5</text>"));
    // One line where the proposal is what counts now, and no band that is empty.
    assert!(plot.contains("now and proposed: 4.70 mm"), "{plot}");
    for band in [
        "never measured",
        "otherwise open",
        "in doubt",
        "do not conform",
    ] {
        assert!(!plot.contains(&format!(">{band}</text>")), "{band}\n{plot}");
    }
    assert!(plot.contains(">conform</text>"), "{plot}");
}

#[test]
fn a_fraction_of_the_rules_or_of_the_question_stays_one() {
    let dir = folder();
    let fleet = dir.path().join("fleet.jsonl");
    let make = [
        "fleet",
        "make",
        "ghyll-2@2.0.0",
        "--boats",
        "10",
        "--seed",
        "2",
        "--out",
        fleet.to_str().unwrap(),
    ];
    ran(command(&make).output().unwrap()).exits(0);
    let asked = [
        "vary",
        "ghyll-2@2.0.0",
        "blade_thickness",
        "--row",
        "plate",
        "--from",
        "1/4 in",
        "--to",
        "0.50 in",
        "--propose",
        "11/32 in",
        "--fleet",
        fleet.to_str().unwrap(),
        "--format",
        "plain",
    ];
    let told = ran(command(&asked).output().unwrap());
    told.exits(0)
        .says("at least 5/16 in now, at least 11/32 in proposed")
        .says("5/16 in (now): conform");
}
