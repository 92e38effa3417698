//! Peak memory of the program on hostile input: under 60 MB, whatever is thrown at it.
//!
//! Measured by `time` of Debian (`%M`), since nothing here may ask the kernel itself. The limits of what is
//! read are counted; this test holds them to their purpose.

use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};

const MOST_KB: u64 = 60_000;
const TIME: &str = "/usr/bin/time";
const HEAD: &str = "format: rimegauge-record/1\nclass: tarn-8\nboat: { sail_number: T8 41 }\nmeasured: { day: 2026-11-21 }\n";

fn inputs() -> Vec<(&'static str, String)> {
    let mut bomb = "a: &a [x, x, x, x, x, x, x, x, x]\n".to_owned();
    for (own, before) in ["b", "c", "d", "e", "f", "g", "h"]
        .iter()
        .zip(["a", "b", "c", "d", "e", "f", "g"])
    {
        let aliases = vec![format!("*{before}"); 9].join(", ");
        bomb.push_str(&format!("{own}: &{own} [{aliases}]\n"));
    }
    let keys: String = (0..290_000)
        .map(|number| format!("k{number}: 1\n"))
        .collect();
    let steps: String = (0..2_500)
        .map(|depth| format!("{}a:\n", " ".repeat(depth)))
        .collect();
    vec![
        ("bomb.yaml", bomb),
        (
            "deep.yaml",
            format!("{}{}", "[".repeat(10_000), "]".repeat(10_000)),
        ),
        ("steps.yaml", steps),
        ("scalar.yaml", format!("a: {}", "x".repeat(10_000_000))),
        (
            "word.yaml",
            format!("{HEAD}notes: [\"{}\"]\n", "x".repeat(3_900_000)),
        ),
        (
            "list.yaml",
            format!("{HEAD}notes: [{}]\n", vec!["a"; 1_900_000].join(",")),
        ),
        ("keys.yaml", format!("{HEAD}{keys}")),
        (
            "readings.yaml",
            format!(
                "{HEAD}runners: [{{ id: S1, steel_thickness: \"{}mm\" }}]\n",
                "4.7 ".repeat(900_000)
            ),
        ),
        (
            "line.jsonl",
            format!("{{\"a\":\"{}\"}}\n", "x".repeat(5_000_000)),
        ),
        (
            "lines.jsonl",
            format!("{}1{}\n", "{\"a\":".repeat(60), "}".repeat(60)).repeat(2_000),
        ),
    ]
}

#[test]
fn hostile_input_stays_under_60_megabytes() {
    if !Path::new(TIME).exists() {
        println!("{TIME} is not there, and the test is passed over");
        return;
    }
    let folder = tempfile::TempDir::new().unwrap();
    let figure = folder.path().join("figure");
    let mut wrong = Vec::new();
    for (name, text) in inputs() {
        fs::write(folder.path().join(name), text).unwrap();
        for format in ["human", "plain", "json"] {
            let status = Command::new(TIME)
                .args(["-q", "-f", "%M", "-o"])
                .arg(&figure)
                .arg(env!("CARGO_BIN_EXE_rimegauge"))
                .args(["check", name, "--format", format])
                .current_dir(folder.path())
                .stdout(Stdio::null())
                .stderr(Stdio::null())
                .status()
                .unwrap();
            assert_eq!(status.code(), Some(2), "{name} as {format} is bad input");
            let peak: u64 = fs::read_to_string(&figure).unwrap().trim().parse().unwrap();
            assert!(peak > 1_000, "{peak} kB can't be right");
            if peak > MOST_KB {
                wrong.push(format!("{name} as {format}: {peak} kB"));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
