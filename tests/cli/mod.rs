//! The program as it is started: arguments, files, what it prints and where, exit codes.

mod ballot;
mod budget;
mod certify;
mod check;
mod compare;
mod fleet_make;
mod fleets;
mod impact;
mod import;
mod lines;
mod overlays;
mod reckon;
mod reckon_tables;
mod rules;
mod second_class;
mod usage;
mod vary;

use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

/// What a run came to.
pub struct Ran {
    pub code: i32,
    pub out: String,
    pub err: String,
}

impl Ran {
    /// The beginning of all that was printed, for messages of a test.
    fn shown(&self) -> String {
        let cut = |text: &str| text.chars().take(4000).collect::<String>();
        format!("--- out\n{}\n--- err\n{}", cut(&self.out), cut(&self.err))
    }

    #[track_caller]
    pub fn exits(&self, code: i32) -> &Ran {
        assert_eq!(self.code, code, "exit code\n{}", self.shown());
        self
    }

    #[track_caller]
    pub fn says(&self, text: &str) -> &Ran {
        assert!(
            self.out.contains(text),
            "not printed: {text}\n{}",
            self.shown()
        );
        self
    }

    #[track_caller]
    pub fn tells(&self, text: &str) -> &Ran {
        let told = self
            .err
            .split_whitespace()
            .collect::<Vec<_>>()
            .join(" ")
            .replace(" │ ", " ");
        assert!(told.contains(text), "not told: {text}\n{}", self.shown());
        self
    }

    #[track_caller]
    pub fn json(&self) -> serde_json::Value {
        serde_json::from_str(&self.out).unwrap_or_else(|error| panic!("{error}\n{}", self.shown()))
    }
}

pub fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).to_path_buf()
}

/// The program, started in the repository at 80 columns without a terminal.
pub fn command(arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_rimegauge"));
    command
        .args(arguments)
        .current_dir(root())
        .env_remove("NO_COLOR")
        .env("COLUMNS", "80")
        .stdin(Stdio::null());
    command
}

pub fn ran(output: Output) -> Ran {
    Ran {
        code: output.status.code().expect("the program was killed"),
        out: String::from_utf8(output.stdout).unwrap(),
        err: String::from_utf8(output.stderr).unwrap(),
    }
}

pub fn run(arguments: &[&str]) -> Ran {
    ran(command(arguments).output().unwrap())
}

/// A run that is fed on standard input.
pub fn fed(arguments: &[&str], input: &[u8]) -> Ran {
    use std::io::Write;
    let mut child = command(arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut stdin = child.stdin.take().unwrap();
    let input = input.to_vec();
    let feeder = std::thread::spawn(move || {
        // A program that has seen enough closes its end.
        let _ = stdin.write_all(&input);
    });
    let output = child.wait_with_output().unwrap();
    feeder.join().unwrap();
    ran(output)
}

/// A folder that goes away with the test.
pub fn folder() -> tempfile::TempDir {
    tempfile::tempdir().unwrap()
}

pub fn text(path: &Path) -> &str {
    path.to_str().unwrap()
}

/// A record of almost nothing, which does not conform since it presents no runner, with this sail number.
pub fn small(sail_number: &str, name: &str, day: &str) -> String {
    format!(
        "format: rimegauge-record/1\nclass: tarn-8\nboat: {{ sail_number: {sail_number}, name: {name} }}\nmeasured: {{ day: {day}, by: AB }}\n"
    )
}

/// The same as a line of JSON.
pub fn line(sail_number: &str) -> String {
    format!(
        "{{\"format\":\"rimegauge-record/1\",\"class\":\"tarn-8\",\"boat\":{{\"sail_number\":\"{sail_number}\"}},\"measured\":{{\"day\":\"2026-11-21\"}}}}"
    )
}
