//! Overlays, versions that are not in force and old names, from outside.

use super::{folder, root, run, text};

const OVERLAY: &str = "forms/overlays/harrowmere-2026.yaml";

fn inspect(format: &str) -> super::Ran {
    run(&[
        "check",
        "forms/filled/fifteen-sets.yaml",
        "--purpose",
        "event_inspection",
        "--level",
        "continental",
        "--overlay",
        OVERLAY,
        "--format",
        format,
    ])
}

fn overlay_digest() -> String {
    rimegauge::rules::digest(&std::fs::read(root().join(OVERLAY)).unwrap())
}

#[test]
fn every_report_names_the_overlay_and_points_into_it() {
    let digest = overlay_digest();
    inspect("human")
        .exits(1)
        .says("at most 8   over by 1")
        .says("rule harrowmere-2026.yaml:10:14")
        .says(&digest)
        .says("C.5.1 Marked runners, continental: at most 8 in place of at most 9");
    inspect("plain")
        .exits(1)
        .says("forms/overlays/harrowmere-2026.yaml:10:14")
        .says(&digest);
    inspect("junit")
        .exits(1)
        .says("<property name=\"event\" value=\"harrowmere-2026\"/>")
        .says(&format!(
            "<property name=\"overlay_digest\" value=\"{digest}\"/>"
        ));
    let json = inspect("json").exits(1).json();
    let record = &json["records"][0];
    assert_eq!(record["rules"]["overlay"]["event"], "harrowmere-2026");
    assert_eq!(record["rules"]["overlay"]["digest"], digest.as_str());
    assert_eq!(record["rules"]["status"], "adopted");
    let findings = record["findings"].as_array().unwrap();
    let of = |rule: &str| findings.iter().find(|one| one["rule"] == rule).unwrap();
    assert_eq!(of("marked_runners")["limit_at"]["file"], OVERLAY);
    assert_eq!(of("marked_runners")["limit_at"]["line"], 10);
    assert_eq!(of("marked_sails")["limit_at"]["file"], "tarn-8/3.1.0.yaml");
    let said = of("steel_thickness")["interpretations"].as_array().unwrap();
    let kinds: Vec<(&str, &str)> = said
        .iter()
        .map(|one| (one["kind"].as_str().unwrap(), one["id"].as_str().unwrap()))
        .collect();
    assert_eq!(kinds, [("interpretation", "i_2026_1"), ("ruling", "r1")]);
}

#[test]
fn details_show_the_line_of_the_overlay() {
    run(&[
        "check",
        "forms/filled/fifteen-sets.yaml",
        "--level",
        "continental",
        "--overlay",
        OVERLAY,
        "--details",
    ])
    .exits(1)
    .says("harrowmere-2026.yaml:10:14")
    .says("at_most: 8");
}

#[test]
fn a_certificate_under_an_overlay_names_it() {
    let dir = folder();
    let out = dir.path().join("paper.pdf");
    let certify = |overlay: &[&str]| {
        let mut words = vec![
            "certify",
            "forms/filled/conforming.yaml",
            "--out",
            text(&out),
        ];
        words.extend(overlay);
        let ran = run(&words);
        ran.exits(0);
        (ran.out.clone(), super::certify::words_of(&out))
    };
    let (plain, without) = certify(&[]);
    let (overlaid, with) = certify(&["--overlay", OVERLAY]);
    let digest = overlay_digest();
    let short = digest.trim_start_matches("sha256:").get(..4).unwrap();
    let words = format!("harrowmere-2026 · {short}");
    assert!(with.contains(&words), "{with}");
    assert!(with.contains("with the overlay of harrowmere-2026"));
    assert!(with.contains("r1, jury: Hoar frost"));
    assert!(!without.contains("harrowmere"));
    let number = |text: &str| {
        text.split("certificate C-")
            .nth(1)
            .map(|rest| rest[..10].to_owned())
    };
    assert_ne!(number(&plain), number(&overlaid));
}

#[test]
fn the_schema_of_overlays_completes_what_events_may_change() {
    let schema = run(&["rules", "schema", "tarn-8@3.1.0", "--of", "overlay"]);
    let schema = schema.exits(0).json();
    let change = &schema["properties"]["changes"]["items"]["properties"];
    assert_eq!(change["rule"]["enum"][0], "marked_runners");
    assert_eq!(change["level"]["enum"][2], "continental");
    assert_eq!(schema["properties"]["rules"]["enum"][0], "tarn-8@3.1.0");
}

/// The shipped version with another status, in a folder of its own.
fn with_status(status: &str) -> (tempfile::TempDir, String) {
    let dir = folder();
    let rules = std::fs::read_to_string(root().join("rules/tarn-8/3.1.0.yaml")).unwrap();
    let rules = rules.replace("status: adopted", &format!("status: {status}"));
    let path = dir.path().join("rules.yaml");
    std::fs::write(&path, rules).unwrap();
    let path = text(&path).to_owned();
    (dir, path)
}

#[test]
fn rules_that_are_not_in_force_say_so_and_only_repealed_ones_certify() {
    for (status, words, certifies) in [
        ("draft", "NOT IN FORCE: version 3.1.0 is a draft", false),
        (
            "proposed",
            "NOT IN FORCE: version 3.1.0 is proposed, not adopted",
            false,
        ),
        (
            "repealed\nrepealed_on: 2027-01-01",
            "NOT IN FORCE: version 3.1.0 was repealed on 2027-01-01",
            true,
        ),
    ] {
        let (dir, rules) = with_status(status);
        let check = |format: &str| {
            let form = "forms/filled/conforming.yaml";
            run(&["check", form, "--rules", &rules, "--format", format])
        };
        for format in ["human", "plain", "json", "junit"] {
            check(format).exits(0).says(words);
        }
        let out = dir.path().join("paper.pdf");
        let form = "forms/filled/conforming.yaml";
        let ran = run(&["certify", form, "--rules", &rules, "--out", text(&out)]);
        if certifies {
            ran.exits(0).says(words);
            assert!(super::certify::words_of(&out).contains(words));
        } else {
            ran.exits(2).tells("no certificate is written under");
            assert!(!out.exists());
        }
    }
}
