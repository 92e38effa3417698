//! `compare --fleet`: what a change does to measured boats, and the page with plots.

use std::path::Path;

use super::{Ran, command, folder, ran, root};

const OLD: &str = "tests/data/proposal/adopted.yaml";
const NEW: &str = "tests/data/proposal/proposed.yaml";

fn compare(folder: &Path, more: &[&str]) -> Ran {
    let (old, new) = (root().join(OLD), root().join(NEW));
    let mut arguments = vec!["compare", old.to_str().unwrap(), new.to_str().unwrap()];
    arguments.extend(more);
    ran(command(&arguments).current_dir(folder).output().unwrap())
}

/// A boat with three insert runners, all as thick as this; nothing is measured of the last one where it says so.
fn boat(sail_number: &str, day: &str, thickness: &str, all: bool) -> String {
    let runner = |id: &str, measured: bool| {
        let places: Vec<String> = ["-300", "-150", "0", "150", "300"]
            .iter()
            .map(|at| format!("{{\"at\":\"{at} mm\",\"readings\":\"{thickness}\"}}"))
            .collect();
        let steel = match measured {
            true => format!(
                ",\"steel_thickness\":{{\"with\":\"mic\",\"places\":[{}]}}",
                places.join(",")
            ),
            false => String::new(),
        };
        format!(
            "{{\"id\":\"{id}\",\"construction\":\"insert\",\"toe_at\":{{\"with\":\"tape\",\"readings\":\"360 mm\"}},\"heel_at\":{{\"with\":\"tape\",\"readings\":\"-361 mm\"}}{steel}}}"
        )
    };
    let runners = [runner("K1", true), runner("K2", true), runner("K3", all)];
    format!(
        "{{\"format\":\"rimegauge-record/1\",\"class\":\"tarn-8\",\"boat\":{{\"sail_number\":\"{sail_number}\"}},\"measured\":{{\"day\":\"{day}\",\"by\":\"AB\"}},\"instruments\":{{\"mic\":{{\"kind\":\"micrometer\",\"resolution\":\"0.01 mm\",\"max_permissible_error\":\"0.004 mm\"}},\"tape\":{{\"kind\":\"tape\",\"resolution\":\"1 mm\",\"max_permissible_error\":\"1 mm\"}}}},\"runners\":[{}]}}\n",
        runners.join(",")
    )
}

fn fleet() -> tempfile::TempDir {
    let dir = folder();
    let lines = [
        boat("T8 4101", "2026-11-02", "4.75 mm", true),
        boat("T8 4102", "2026-11-03", "4.95 mm", true),
        boat("T8 4103", "2026-11-04", "4.95 mm", false),
        boat("T8 4104", "2026-11-05", "4.65 mm", true),
        // Measured again, on new steel.
        boat("T8 4104", "2026-11-21", "4.90 mm", true),
    ];
    std::fs::write(dir.path().join("fleet.jsonl"), lines.concat()).unwrap();
    dir
}

#[test]
fn boats_and_items_are_counted_and_no_name_is_told_unless_asked() {
    let dir = fleet();
    let more = ["--fleet", "fleet.jsonl", "--format", "json"];
    let told = compare(dir.path(), &more);
    told.exits(1);
    let fleet = &told.json()["fleet"];
    assert_eq!(fleet["boats"], 4, "{fleet:#}");
    assert_eq!(fleet["newly_illegal"], 3, "{fleet:#}");
    assert_eq!(fleet["newly_legal"], 0);
    assert_eq!(fleet["never_measured"], 1);
    assert_eq!(fleet["boat_moves"]["newly_illegal"], 1);
    assert_eq!(fleet["purpose"], "certification");
    assert_eq!(
        fleet["sample"]["several"][0]["records"][1]["day"],
        "2026-11-21"
    );
    for format in ["json", "human", "plain"] {
        for names in [false, true] {
            let mut more = vec![
                "--fleet",
                "fleet.jsonl",
                "--format",
                format,
                "--report",
                "impact.html",
            ];
            if names {
                more.push("--names");
            }
            let told = compare(dir.path(), &more);
            told.exits(1);
            // How far the reading is is told at a terminal alone.
            assert!(!told.err.contains("records"), "{}", told.err);
            let page = std::fs::read_to_string(dir.path().join("impact.html")).unwrap();
            for text in [&told.out, &page] {
                assert_eq!(text.contains("T8 410"), names, "{text}");
                assert_eq!(text.contains("runners/K"), names, "{text}");
            }
            assert!(page.contains("<svg") && page.contains("Boats with several records"));
        }
    }
}

#[test]
fn a_page_needs_no_fleet_and_never_takes_another_files_place() {
    let dir = fleet();
    compare(dir.path(), &["--report", "change.html"])
        .exits(1)
        .says("Written: change.html");
    let page = std::fs::read_to_string(dir.path().join("change.html")).unwrap();
    assert!(page.contains("Major is needed") && !page.contains("<svg"));
    let before = std::fs::read(dir.path().join("fleet.jsonl")).unwrap();
    let all = ["--fleet", "fleet.jsonl", "--report", "fleet.jsonl"];
    compare(dir.path(), &all)
        .exits(2)
        .tells("name a file that ends in .html");
    assert_eq!(
        std::fs::read(dir.path().join("fleet.jsonl")).unwrap(),
        before
    );
    compare(dir.path(), &["--report", "no/such/change.html"])
        .exits(2)
        .tells("make the folder first");
}

#[test]
fn what_a_fleet_alone_needs_is_asked_with_a_fleet_alone() {
    let dir = fleet();
    for more in [
        ["--names", ""].as_slice(),
        &["--on", "2026-11-21"],
        &["--level", "club"],
        &["--purpose", "self_check"],
    ] {
        let more: Vec<&str> = more
            .iter()
            .copied()
            .filter(|word| !word.is_empty())
            .collect();
        compare(dir.path(), &more).exits(2).tells("--fleet");
    }
    compare(dir.path(), &["--fleet", "nowhere.jsonl"])
        .exits(2)
        .tells("nowhere.jsonl");
}

/// A fleet with a line that breaks off and one of another class.
fn broken_fleet(dir: &Path) {
    let good = boat("T8 4101", "2026-11-02", "4.75 mm", true);
    let cut = good.get(..120).unwrap().to_owned() + "\n";
    let other = good.replace("tarn-8", "ghyll-2");
    std::fs::write(
        dir.join("some.jsonl"),
        [good, cut.clone(), other.clone()].concat(),
    )
    .unwrap();
    std::fs::write(dir.join("none.jsonl"), [cut, other].concat()).unwrap();
}

#[test]
fn records_that_cannot_be_used_are_named_in_json_and_counted_in_words() {
    let dir = folder();
    broken_fleet(dir.path());
    let asked = ["--fleet", "some.jsonl", "--report", "impact.html"];
    let told = compare(dir.path(), &[&asked[..], &["--format", "json"]].concat());
    told.exits(2);
    let sample = told.json()["fleet"]["sample"].clone();
    assert_eq!(sample["broken"], 2);
    let by = serde_json::json!([
        { "why": "no_record", "count": 1 }, { "why": "other_class", "count": 1 }
    ]);
    assert_eq!(sample["broken_by"], by);
    for (at, line, code) in [(0, 2, "text."), (1, 3, "record.other_class")] {
        let one = &sample["broken_records"][at];
        assert_eq!(one["source_at"]["file"], "some.jsonl", "{one:#}");
        assert_eq!(one["source_at"]["line"], line, "{one:#}");
        assert!(one["code"].as_str().unwrap().starts_with(code), "{one:#}");
        assert!(!one["message"].as_str().unwrap().is_empty(), "{one:#}");
        assert_eq!(one["faults"], 1, "{one:#}");
    }
    let words = "2 records can't be used and are left out: 1 can't be read as a record and 1 is of another class.";
    let plain = compare(dir.path(), &[&asked[..], &["--format", "plain"]].concat());
    plain.exits(2).says(words);
    let page = std::fs::read_to_string(dir.path().join("impact.html")).unwrap();
    assert!(page.contains(&words.replace('\'', "&#39;")) || page.contains(words));
}

#[test]
fn a_fleet_of_which_nothing_can_be_used_is_refused_and_nothing_is_written() {
    let dir = folder();
    broken_fleet(dir.path());
    std::fs::write(dir.path().join("impact.html"), "mine").unwrap();
    let outputs = [
        "--fleet",
        "none.jsonl",
        "--report",
        "impact.html",
        "--ballot",
        "ballot.html",
        "--witness",
        "witnesses",
    ];
    compare(dir.path(), &outputs)
        .exits(2)
        .tells("no boat in `none.jsonl` can be used")
        .tells("1 can't be read as a record and 1 is of another class")
        .tells("records of the class `tarn-8`");
    assert_eq!(
        std::fs::read_to_string(dir.path().join("impact.html")).unwrap(),
        "mine"
    );
    for file in ["ballot.html", "witnesses"] {
        assert!(!dir.path().join(file).exists(), "{file}");
    }
}

#[test]
fn a_day_before_a_version_counts_is_told() {
    let dir = fleet();
    let (both, new) = (
        "NOT IN FORCE on 2026-01-05: version 3.1.0 counts from 2026-11-01",
        "NOT IN FORCE on 2026-11-20: version 3.2.0 counts from 2027-11-01",
    );
    for (on, words, old) in [("2026-01-05", both, true), ("2026-11-20", new, false)] {
        let asked = [
            "--fleet",
            "fleet.jsonl",
            "--on",
            on,
            "--report",
            "impact.html",
        ];
        let human = compare(dir.path(), &asked);
        assert!(human.out.contains(words), "{}", human.out);
        let page = std::fs::read_to_string(dir.path().join("impact.html")).unwrap();
        assert!(page.contains(words));
        let json = compare(dir.path(), &[&asked[..], &["--format", "json"]].concat());
        let notes = json.json()["fleet"]["notes"].clone();
        let all = notes
            .as_array()
            .unwrap()
            .iter()
            .filter_map(|one| one.as_str());
        let all: Vec<&str> = all.collect();
        let told = |words: &str| all.iter().filter(|one| one.contains(words)).count();
        assert_eq!(told("counts from"), 1 + usize::from(old), "{notes}");
        let later = "measured after the day of the check";
        let count = &json.json()["fleet"]["sample"]["measured_later"];
        assert!(count.as_u64().unwrap() > 0, "{count}");
        assert_eq!(
            (told(later), all.len()),
            (1, 2 + usize::from(old)),
            "{notes}"
        );
        assert!(page.contains(later));
        assert!(notes[0].as_str().unwrap().starts_with(words), "{notes}");
    }
    let asked = ["--fleet", "fleet.jsonl", "--on", "2027-11-01"];
    assert!(!compare(dir.path(), &asked).out.contains("NOT IN FORCE"));
}
