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
