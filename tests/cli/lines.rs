use super::{command, fed, folder, line, ran, root, run, small, text};

#[test]
fn standard_input_is_seen_by_its_first_character() {
    let yaml = small("T8 1", "Rime", "2026-11-21");
    let json = fed(&["check", "-", "--format", "json"], yaml.as_bytes());
    assert_eq!(json.exits(3).json()["records"][0]["source"], "-");
    let lines = format!("\n{}\n\n{}\n", line("T8 1"), line("T8 2"));
    let json = fed(&["check", "-", "--format", "json"], lines.as_bytes()).json();
    assert_eq!(json["records"].as_array().unwrap().len(), 2);
    assert_eq!(json["records"][1]["findings"][0]["source_at"]["line"], 4);
    fed(&["check", "-"], b" \n\n")
        .exits(2)
        .tells("there is no record in standard input");
}

#[test]
fn a_bad_line_is_named_and_the_others_are_checked() {
    let mut lines = Vec::new();
    lines.extend(line("T8 1").into_bytes());
    lines.extend(b"\n{\"format\": \n\xff\xfe\n[]\n");
    lines.extend(line("T8 2").into_bytes());
    let ran = fed(&["check", "-"], &lines);
    ran.exits(2).says("2 records").says("3 not read");
    for place in ["-:2:", "-:4:"] {
        ran.tells(place);
    }
}

#[test]
fn a_line_over_the_limit_is_refused_before_it_is_read() {
    let mut lines = format!("{}\n", line("T8 1")).into_bytes();
    lines.extend(format!("{{\"a\":\"{}\"}}\n", "x".repeat(4_100_000)).into_bytes());
    lines.extend(line("T8 2").into_bytes());
    fed(&["check", "-"], &lines)
        .exits(2)
        .tells("a line may have 4000000 at most")
        .says("2 records");
}

#[test]
fn a_document_over_the_limit_is_refused_before_it_is_read() {
    let dir = folder();
    let path = dir.path().join("large.yaml");
    std::fs::write(&path, "a".repeat(4_000_001)).unwrap();
    run(&["check", text(&path)])
        .exits(2)
        .tells("larger than 4000000 bytes");
    fed(&["check", "-"], "a".repeat(5_000_000).as_bytes()).exits(2);
}

#[test]
fn many_lines_come_out_in_their_order() {
    let lines: Vec<String> = (0..500).map(|at| line(&format!("T8 {at}"))).collect();
    let text = fed(
        &["check", "-", "--format", "json"],
        lines.join("\n").as_bytes(),
    );
    let json = text.exits(3).json();
    for (at, record) in json["records"].as_array().unwrap().iter().enumerate() {
        assert_eq!(record["sail_number"], format!("T8 {at}"));
        assert_eq!(record["findings"][0]["source_at"]["line"], at + 1);
    }
}

#[test]
fn a_record_says_the_same_in_yaml_and_json() {
    let source = std::fs::read_to_string(root().join("forms/filled/conforming.yaml")).unwrap();
    let value: serde_yaml::Value = serde_yaml::from_str(&source).unwrap();
    let json = serde_json::to_string(&value).unwrap();
    let dir = folder();
    let (one, lines) = (dir.path().join("one.json"), dir.path().join("lines.jsonl"));
    std::fs::write(&one, serde_json::to_string_pretty(&value).unwrap()).unwrap();
    std::fs::write(&lines, format!("{json}\n")).unwrap();
    let outcomes = |path: &str| {
        let json = run(&["check", path, "--format", "json"]).json();
        let findings = json["records"][0]["findings"].as_array().unwrap().clone();
        let key = |one: &serde_json::Value| {
            (
                one["rule"].clone(),
                one["item"].clone(),
                one["outcome"].clone(),
                one["margin"].clone(),
            )
        };
        findings.iter().map(key).collect::<Vec<_>>()
    };
    let yaml = outcomes("forms/filled/conforming.yaml");
    assert!(yaml.len() > 200);
    assert_eq!(outcomes(text(&one)), yaml);
    assert_eq!(outcomes(text(&lines)), yaml);
}

#[test]
fn a_reader_who_leaves_is_no_news() {
    use std::io::{BufRead, BufReader};
    use std::process::Stdio;
    let mut child = command(&["check", "forms/filled", "--all", "--format", "json"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut first = String::new();
    let mut reader = BufReader::new(child.stdout.take().unwrap());
    reader.read_line(&mut first).unwrap();
    drop(reader);
    let output = ran(child.wait_with_output().unwrap());
    assert_eq!(output.err, "", "a closed pipe is quiet");
}

#[test]
#[cfg(target_os = "linux")]
fn a_full_disk_is_told() {
    let full = std::fs::OpenOptions::new()
        .write(true)
        .open("/dev/full")
        .unwrap();
    let output = command(&["check", "forms/filled/conforming.yaml"])
        .stdout(full)
        .output()
        .unwrap();
    ran(output)
        .exits(4)
        .tells("standard output can't be written: there is no room left");
}
