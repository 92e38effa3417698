use super::{folder, root, run, text};

#[test]
fn a_certificate_is_written_when_all_that_is_asked_conforms() {
    let dir = folder();
    let (one, two) = (dir.path().join("one.pdf"), dir.path().join("two.pdf"));
    let ran = run(&[
        "certify",
        "forms/filled/conforming.yaml",
        "--out",
        text(&one),
        "--issued",
        "2026-11-22",
    ]);
    ran.exits(0)
        .says("T8 41: certificate C-")
        .says("pages")
        .says("sha256:")
        .says("Compliance is not safety.");
    run(&[
        "certify",
        "forms/filled/conforming.yaml",
        "--out",
        text(&two),
        "--issued",
        "2026-11-22",
    ])
    .exits(0);
    let (one, two) = (std::fs::read(&one).unwrap(), std::fs::read(&two).unwrap());
    assert!(one.starts_with(b"%PDF-"));
    assert_eq!(one, two, "the same record gives the same bytes");
    let left: Vec<_> = std::fs::read_dir(dir.path())
        .unwrap()
        .map(|entry| entry.unwrap().file_name())
        .collect();
    assert_eq!(left.len(), 2, "nothing else is left behind: {left:?}");
}

#[test]
fn nothing_is_written_when_something_does_not_conform_or_is_open() {
    let dir = folder();
    let out = dir.path().join("refused.pdf");
    for (form, code) in [
        ("many-faults", 1),
        ("borderline", 1),
        ("incomplete", 3),
        ("home-sieve", 3),
        ("instrument-out-of-date", 3),
    ] {
        let path = format!("forms/filled/{form}.yaml");
        run(&["certify", &path, "--out", text(&out)])
            .exits(code)
            .says("No certificate was written to");
        assert!(!out.exists(), "{form}");
    }
    let json = run(&[
        "certify",
        "forms/filled/incomplete.yaml",
        "--out",
        text(&out),
        "--format",
        "json",
    ]);
    assert_eq!(json.exits(3).json()["purpose"], "certification");
}

#[test]
fn chosen_items_are_certified_and_the_others_said_not_to_be() {
    let dir = folder();
    let out = dir.path().join("runners.pdf");
    let arguments = [
        "certify",
        "forms/filled/conforming.yaml",
        "--out",
        text(&out),
        "--items",
        "S1,runners/S2,hull",
    ];
    let ran = run(&arguments);
    ran.exits(0)
        .says("covered: hull, S1, S2\n")
        .says("not covered: boat, plank");
    let json = run(&[&arguments[..], &["--format", "json"]].concat());
    assert_eq!(
        json.json()["covered"],
        serde_json::json!(["hull", "S1", "S2"])
    );
    run(&[
        "certify",
        "forms/filled/conforming.yaml",
        "--out",
        text(&out),
        "--items",
        "S1,hul",
    ])
    .exits(2)
    .tells("the record has no item `hul`")
    .tells("did you mean `hull`?");
}

#[test]
fn faults_of_items_that_were_not_chosen_do_not_count() {
    let dir = folder();
    let out = dir.path().join("part.pdf");
    let form = "forms/filled/grandfathered.yaml";
    let all = run(&[
        "check",
        form,
        "--purpose",
        "certification",
        "--format",
        "json",
    ])
    .json();
    let findings = all["records"][0]["findings"].as_array().unwrap();
    let worst = |item: &str| {
        let mine = findings.iter().filter(|one| one["item"] == item);
        let code = |one: &serde_json::Value| match one["outcome"].as_str().unwrap() {
            "does_not_conform" => 2,
            "not_decided" => 1,
            _ => 0,
        };
        [0, 3, 1][mine.map(code).max().unwrap()]
    };
    let mut codes = Vec::new();
    for item in [
        "hull",
        "plank",
        "runners/S1",
        "runners/S2",
        "runners/S3",
        "runners/S4",
    ] {
        run(&["certify", form, "--out", text(&out), "--items", item]).exits(worst(item));
        codes.push(worst(item));
    }
    assert!(
        codes.contains(&0) && codes.iter().any(|code| *code != 0),
        "nothing was told apart: {codes:?}"
    );
}

#[test]
fn a_certificate_that_can_not_be_written_is_told_and_leaves_the_old_one() {
    let dir = folder();
    let missing = dir.path().join("no/such/folder.pdf");
    run(&[
        "certify",
        "forms/filled/conforming.yaml",
        "--out",
        text(&missing),
    ])
    .exits(2)
    .tells("its folder does not exist");
    run(&[
        "certify",
        "forms/filled/conforming.yaml",
        "--out",
        text(dir.path()),
    ])
    .exits(2)
    .tells("is a folder");
    let old = dir.path().join("old.pdf");
    std::fs::write(&old, "old").unwrap();
    run(&[
        "certify",
        "forms/filled/many-faults.yaml",
        "--out",
        text(&old),
    ])
    .exits(1);
    assert_eq!(std::fs::read(&old).unwrap(), b"old");
    run(&[
        "certify",
        "forms/filled/conforming.yaml",
        "--out",
        text(&old),
    ])
    .exits(0);
    assert!(std::fs::read(&old).unwrap().starts_with(b"%PDF-"));
}

#[test]
#[cfg(target_os = "linux")]
fn a_full_disk_is_told() {
    run(&[
        "certify",
        "forms/filled/conforming.yaml",
        "--out",
        "/dev/full",
    ])
    .exits(4)
    .tells("there is no room left");
}

/// The words of a certificate, as poppler reads them back.
pub fn words_of(file: &std::path::Path) -> String {
    let out = std::process::Command::new("pdftotext")
        .arg("-raw")
        .arg(file)
        .arg("-")
        .output()
        .unwrap();
    assert!(out.status.success(), "{out:?}");
    let text = String::from_utf8(out.stdout).unwrap();
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn places_that_a_rule_leaves_out_stand_on_the_certificate() {
    let dir = folder();
    let form = std::fs::read_to_string(root().join("forms/filled/conforming.yaml")).unwrap();
    let place = "- { at: 10 mm, from_edge: 12 mm, readings: 4.84 4.85 4.85 mm }";
    assert_eq!(form.matches(place).count(), 1);
    let thin = "- { at: 10 mm, from_edge: 4 mm, readings: 4.24 4.25 4.25 mm }";
    let form = form.replace(place, &format!("{place}\n            {thin}"));
    let (record, out) = (dir.path().join("edge.yaml"), dir.path().join("edge.pdf"));
    std::fs::write(&record, form).unwrap();
    run(&["certify", text(&record), "--out", text(&out)]).exits(0);
    let words = words_of(&out);
    let note =
        "S1, E.3.2: 1 place lies where the rule does not look: at 10 mm, 4 mm from the edge.";
    assert!(words.contains(note), "{words}");
    assert_eq!(
        words.matches("4 mm from the edge").count(),
        2,
        "E.3.2 and E.3.3"
    );
}

#[test]
fn an_empty_number_or_item_certifies_nothing() {
    let dir = folder();
    let out = dir.path().join("empty.pdf");
    for option in ["--number", "--replaces", "--items"] {
        run(&[
            "certify",
            "forms/filled/conforming.yaml",
            "--out",
            text(&out),
            option,
            "",
        ])
        .exits(2)
        .tells(option);
        assert!(!out.exists());
    }
}

/// Correctors are looked at by their sum: they go with the boat, and their line on the paper has all of them.
#[test]
fn parts_behind_a_sum_go_with_the_boat() {
    let dir = folder();
    let out = dir.path().join("lapwing.pdf");
    let form = "forms/filled/tarn-4-conforming.yaml";
    let whole = run(&["certify", form, "--out", text(&out)]);
    whole.exits(0).says("K1, K2, K3");
    assert!(!whole.out.contains("not covered"), "{}", whole.out);
    let arguments = ["certify", form, "--out", text(&out), "--items"];
    let json = |items: &str| run(&[&arguments[..], &[items, "--format", "json"]].concat());
    let covered = |items: &str| json(items).exits(0).json()["covered"].clone();
    assert_eq!(
        covered("boat"),
        serde_json::json!(["boat", "K1", "K2", "K3"])
    );
    assert_eq!(
        covered("light_wind"),
        serde_json::json!(["S3", "S4", "F2", "light_wind"])
    );
    json("K1").exits(3);
    run(&[
        "certify",
        "forms/filled/tarn-4-many-faults.yaml",
        "--out",
        text(&out),
    ])
    .exits(1);
}
