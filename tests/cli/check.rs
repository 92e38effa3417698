use super::{command, fed, folder, ran, root, run, small, text};

#[test]
fn the_worst_outcome_is_the_exit_code() {
    run(&["check", "forms/filled/conforming.yaml"])
        .exits(0)
        .says("T8 41  Nightjar · conforms");
    run(&["check", "forms/filled/many-faults.yaml"])
        .exits(1)
        .says("does not conform");
    run(&["check", "forms/filled/incomplete.yaml"])
        .exits(3)
        .says("not decided");
    run(&["check", "forms/filled"]).exits(1);
    run(&[
        "check",
        "forms/filled/incomplete.yaml",
        "nope.yaml",
        "forms/filled/many-faults.yaml",
    ])
    .exits(2)
    .tells("nope.yaml does not exist");
}

/// The newest version of the first class: what the heads of its filled forms tell.
#[test]
fn filled_forms_of_the_newest_version_come_out_as_their_heads_tell() {
    let purposes = ["self_check", "certification", "event_inspection"];
    for purpose in purposes {
        let check = |form: &str| {
            run(&[
                "check",
                form,
                "--purpose",
                purpose,
                "--level",
                "continental",
            ])
        };
        check("forms/filled/tarn-4-conforming.yaml").exits(0);
        let many = check("forms/filled/tarn-4-many-faults.yaml");
        let mut ran = many.exits(1);
        for told in [
            "E.6.3  Material of the body",
            "no aramid or carbon allowed",
            "E.9.1  Matched side runners",
            "edge profile: read on 2027-11-20; sharpened on 2027-11-27",
            "The rules list wood, glass, epoxy, aramid, carbon.",
            "say which part is steering",
        ] {
            ran = ran.says(told);
        }
        if purpose == "event_inspection" {
            ran.says("1 left without a partner   none may be left");
        } else {
            ran.says("D.7.7  Stiffness of the plank");
        }
    }
}

#[test]
fn a_finding_names_both_places_and_every_number() {
    let text = run(&["check", "forms/filled/many-faults.yaml"]);
    text.exits(1)
        .says("does not conform  boat")
        .says("C.4.1  Mass of the boat\n")
        .says("75.81 ± 0.13 kg     at least   78.0 kg    short by  2.19 kg\n")
        .says("many-faults.yaml:11:68 · rule 3.1.0.yaml:")
        .says("This says nothing about safety. Edges are sharp: guards on.\n");
    assert_eq!(text.err, "");
    for line in text.out.lines() {
        assert!(line.chars().count() <= 80, "wider than 80 columns: {line}");
    }
}

#[test]
fn all_formats_come_from_the_same_findings() {
    let json = run(&["check", "forms/filled/many-faults.yaml", "--format", "json"]);
    let json = json.exits(1).json();
    let findings = json["records"][0]["findings"].as_array().unwrap();
    let plain = run(&[
        "check",
        "forms/filled/many-faults.yaml",
        "--format",
        "plain",
        "--all",
    ]);
    for finding in findings {
        let message = finding["message"].as_str().unwrap();
        assert!(
            plain.out.contains(message),
            "not in the plain form: {message}"
        );
        for at in [&finding["source_at"], &finding["limit_at"]] {
            assert!(
                at["line"].as_u64().unwrap() > 0 && at["column"].as_u64().unwrap() > 0,
                "{finding}"
            );
        }
        assert!(
            finding["source_at"]["pointer"]
                .as_str()
                .unwrap()
                .starts_with('/'),
            "{finding}"
        );
    }
    let counted = |outcome: &str| {
        findings
            .iter()
            .filter(|finding| finding["outcome"] == outcome)
            .count()
    };
    let wanted = format!(
        "{} conform · {} do not · {} don't apply\n",
        counted("conforms"),
        counted("does_not_conform"),
        counted("not_applicable")
    );
    run(&["check", "forms/filled/many-faults.yaml"]).says(&wanted);
    let junit = run(&[
        "check",
        "forms/filled/many-faults.yaml",
        "--format",
        "junit",
    ]);
    junit
        .exits(1)
        .says("<testsuite name=\"T8 17 Ragged Kite\"")
        .says("<failure type=\"does_not_conform\"");
}

#[test]
fn a_pointer_leads_to_the_value_that_the_place_names() {
    let json = run(&["check", "forms/filled/many-faults.yaml", "--format", "json"]).json();
    let source = std::fs::read_to_string(root().join("forms/filled/many-faults.yaml")).unwrap();
    for finding in json["records"][0]["findings"].as_array().unwrap() {
        let at = &finding["source_at"];
        let line = source
            .lines()
            .nth(usize::try_from(at["line"].as_u64().unwrap()).unwrap() - 1)
            .unwrap();
        let key = at["pointer"]
            .as_str()
            .unwrap()
            .rsplit('/')
            .find(|step| step.parse::<u32>().is_err())
            .unwrap();
        let known = line.contains(key) || line.trim_start().starts_with("- ");
        assert!(known, "{} does not stand in {line}", at["pointer"]);
    }
}

#[test]
fn the_same_input_gives_the_same_bytes() {
    for format in ["human", "plain", "json", "junit"] {
        let arguments = ["check", "forms/filled", "--format", format, "--all"];
        let (first, second) = (run(&arguments), run(&arguments));
        assert_eq!(first.out, second.out, "{format}");
    }
}

#[test]
fn a_later_version_is_told() {
    let note = "checked under 3.0.0; 3.1.0 is in force from 2026-11-01: --on 2026-11-01";
    run(&[
        "check",
        "forms/filled/conforming.yaml",
        "--on",
        "2026-10-15",
    ])
    .says(note);
    let json = run(&[
        "check",
        "forms/filled/conforming.yaml",
        "--on",
        "2026-10-15",
        "--format",
        "json",
    ])
    .json();
    assert_eq!(json["records"][0]["notes"][0], note);
    assert_eq!(json["records"][0]["rules"]["version"], "3.0.0");
}

#[test]
fn rules_are_named_by_reference_or_path() {
    let by_path = [
        "check",
        "forms/filled/conforming.yaml",
        "--rules",
        "rules/tarn-8/3.0.0.yaml",
    ];
    run(&by_path).says("Tarn 8 Class Rules 3.0.0");
    run(&[
        "check",
        "forms/filled/conforming.yaml",
        "--rules",
        "tarn-8@^2",
    ])
    .says("Tarn 8 Class Rules 2.4.0");
    run(&["check", "forms/filled/conforming.yaml", "--rules", "tarn-9"])
        .exits(2)
        .tells("did you mean `tarn-8`?");
}

#[test]
fn a_day_must_be_known() {
    let without = small("T8 1", "Rime", "2026-11-21").replace("day: 2026-11-21, ", "");
    fed(&["check", "-"], without.as_bytes())
        .exits(2)
        .tells("--on");
    fed(&["check", "-", "--on", "2026-11-21"], without.as_bytes()).exits(3);
}

#[test]
fn a_level_must_be_one_of_the_class() {
    run(&[
        "check",
        "forms/filled/conforming.yaml",
        "--purpose",
        "event_inspection",
        "--level",
        "continental",
    ])
    .exits(0)
    .says("event inspection on 2026-11-21, continental event");
    run(&[
        "check",
        "forms/filled/conforming.yaml",
        "--level",
        "continetal",
    ])
    .exits(2)
    .tells("did you mean `continental`?");
}

#[test]
fn two_boats_with_one_sail_number_are_told_with_both_places() {
    let dir = folder();
    let (a, b) = (dir.path().join("a.yaml"), dir.path().join("b.yaml"));
    std::fs::write(&a, small("T8 5", "Rime", "2026-11-21")).unwrap();
    std::fs::write(&b, small("T8 5", "Hoar", "2026-11-21")).unwrap();
    let twice = run(&["check", text(dir.path())]);
    twice
        .exits(2)
        .tells("two records have the sail number `T8 5`")
        .tells("b.yaml:3:22")
        .tells("a.yaml:3:22");
    twice.says("2 records");
    let json = run(&["check", text(dir.path()), "--format", "json"]);
    assert_eq!(
        json.exits(2).json()["diagnostics"][0]["code"],
        "record.sail_number_twice"
    );
    // One boat twice, and not on another day.
    std::fs::write(&b, small("T8 5", "Rime", "2026-11-21")).unwrap();
    run(&["check", text(dir.path())]).exits(2);
    // The same boat, measured again on another day.
    std::fs::write(&b, small("T8 5", "Rime", "2026-11-22")).unwrap();
    run(&["check", text(dir.path())]).exits(3);
}

#[test]
fn folders_are_read_in_order_and_other_formats_passed_over() {
    let dir = folder();
    std::fs::create_dir_all(dir.path().join("b/c")).unwrap();
    std::fs::create_dir_all(dir.path().join(".hidden")).unwrap();
    std::fs::write(
        dir.path().join("b/c/2.yml"),
        small("T8 2", "Hoar", "2026-11-21"),
    )
    .unwrap();
    std::fs::write(
        dir.path().join("a.yaml"),
        small("T8 1", "Rime", "2026-11-21"),
    )
    .unwrap();
    std::fs::write(dir.path().join("z.jsonl"), super::line("T8 3")).unwrap();
    std::fs::write(dir.path().join(".hidden/4.yaml"), "not a record").unwrap();
    std::fs::write(dir.path().join("notes.txt"), "not a record").unwrap();
    std::fs::write(dir.path().join("form.yaml"), "format: rimegauge-form/1\n").unwrap();
    let json = run(&["check", text(dir.path()), "--format", "json"]);
    let records = json.exits(3).tells("1 file").json()["records"].clone();
    let numbers: Vec<&str> = records
        .as_array()
        .unwrap()
        .iter()
        .map(|one| one["sail_number"].as_str().unwrap())
        .collect();
    assert_eq!(numbers, ["T8 1", "T8 2", "T8 3"]);
    let empty = folder();
    run(&["check", text(empty.path())])
        .exits(2)
        .tells("there is no record in");
}

#[test]
fn colour_stays_out_of_pipes_unless_it_is_asked_for() {
    let plain = run(&["check", "forms/filled/many-faults.yaml"]);
    assert!(!plain.out.contains('\u{1b}'));
    let colour = run(&[
        "check",
        "forms/filled/many-faults.yaml",
        "--color",
        "always",
    ]);
    assert!(colour.out.contains("\u{1b}[31mdoes not conform"));
    let mut stripped = colour.out.clone();
    for code in ["\u{1b}[31m", "\u{1b}[33m", "\u{1b}[32m", "\u{1b}[0m"] {
        stripped = stripped.replace(code, "");
    }
    assert_eq!(stripped, plain.out, "colour says nothing that words don't");
}

#[test]
fn details_draw_record_and_rules() {
    run(&["check", "forms/filled/many-faults.yaml", "--details"])
        .exits(1)
        .says("[forms/filled/many-faults.yaml:11:68]")
        .says("[tarn-8/3.1.0.yaml:");
}

#[test]
fn a_narrow_terminal_is_wrapped_for() {
    for columns in ["60", "72", "100", "150"] {
        let output = command(&["check", "forms/filled/borderline.yaml", "--all"])
            .env("COLUMNS", columns)
            .output();
        let text = ran(output.unwrap()).out;
        let width: usize = columns.parse().unwrap();
        for line in text.lines() {
            assert!(line.chars().count() <= width, "{columns}: {line}");
        }
    }
}
