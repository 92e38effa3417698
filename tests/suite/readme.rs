//! The README's console blocks are real: every command in them is run, and says what the README says.
//!
//! A block of ```` ```console ```` holds commands (`$ rimegauge …`) with their output. A last line `…` stands
//! for output left out, and a first one for all that comes before the line behind it. An exit code other than 0
//! is written as `[exit code 1]`. With `RIMEGAUGE_REWRITE=1` the blocks are written anew; a block that ended in
//! `…` keeps as many lines as it had.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

const CUT: &str = "…";

/// Options that name a file that is written.
const WRITTEN: [&str; 5] = ["--out", "--keep", "--plot", "--report", "--ballot"];

/// Files that commands wrote and later ones may read; they are taken away at the end, whatever came of it.
#[derive(Default)]
struct Files(Vec<PathBuf>);

impl Drop for Files {
    fn drop(&mut self) {
        for path in &self.0 {
            let _ = fs::remove_file(path);
        }
    }
}

/// Runs one command line in the repository.
fn run(line: &str, files: &mut Files) -> Vec<String> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut words = shell_words(line).into_iter();
    assert_eq!(
        words.next().as_deref(),
        Some("rimegauge"),
        "only our own commands stand in the README: {line}"
    );
    let arguments: Vec<String> = words.collect();
    let written: Vec<PathBuf> = arguments
        .windows(2)
        .filter(|pair| WRITTEN.contains(&pair[0].as_str()))
        .map(|pair| root.join(&pair[1]))
        .collect();
    let output = Command::new(env!("CARGO_BIN_EXE_rimegauge"))
        .args(&arguments)
        .current_dir(root)
        .env("NO_COLOR", "1")
        .env("COLUMNS", "80")
        .output()
        .unwrap();
    for path in written {
        assert!(
            path.exists() || !output.status.success(),
            "{line} wrote nothing"
        );
        files.0.push(path);
    }
    let mut text = String::from_utf8(output.stdout).unwrap();
    text.push_str(&String::from_utf8(output.stderr).unwrap());
    let mut lines: Vec<String> = text
        .lines()
        .map(|line| line.trim_end().to_owned())
        .collect();
    match output.status.code() {
        Some(0) => {}
        Some(code) => lines.push(format!("[exit code {code}]")),
        None => panic!("{line} was killed"),
    }
    lines
}

fn shell_words(line: &str) -> Vec<String> {
    let mut words = Vec::new();
    let mut word = String::new();
    let mut quoted = false;
    for letter in line.chars() {
        match letter {
            '"' => quoted = !quoted,
            ' ' if !quoted => {
                if !word.is_empty() {
                    words.push(std::mem::take(&mut word));
                }
            }
            letter => word.push(letter),
        }
    }
    if !word.is_empty() {
        words.push(word);
    }
    words
}

fn replayed(text: &str) -> String {
    let mut out: Vec<String> = Vec::new();
    let mut lines = text.lines().peekable();
    let mut inside = false;
    let mut files = Files::default();
    while let Some(line) = lines.next() {
        if line.starts_with("```") {
            inside = line == "```console";
            out.push(line.to_owned());
            continue;
        }
        let Some(command) = line.strip_prefix("$ ").filter(|_| inside) else {
            out.push(line.to_owned());
            continue;
        };
        out.push(line.to_owned());
        let mut expected: Vec<&str> = Vec::new();
        while let Some(next) = lines.peek() {
            if next.starts_with("$ ") || next.starts_with("```") {
                break;
            }
            expected.push(lines.next().unwrap());
        }
        let mut real = run(command, &mut files);
        if let [CUT, first, ..] = expected.as_slice() {
            let begin = real.iter().position(|line| line == first);
            let begin = begin.unwrap_or_else(|| panic!("{command} never says {first:?}"));
            real.splice(..begin, [CUT.to_owned()]);
        }
        if expected.last() == Some(&CUT) {
            real.truncate(expected.len() - 1);
            real.push(CUT.to_owned());
        }
        if lines.peek().is_some_and(|next| next.starts_with("$ "))
            && real.last().is_some_and(|last| !last.is_empty())
        {
            real.push(String::new());
        }
        out.extend(real);
    }
    let mut joined = out.join("\n");
    joined.push('\n');
    joined
}

#[test]
fn every_console_block_is_real() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md");
    let text = fs::read_to_string(&path).unwrap();
    let commands = text
        .lines()
        .filter(|line| line.starts_with("$ rimegauge"))
        .count();
    assert!(commands >= 8, "only {commands} commands in the README");
    let real = replayed(&text);
    if std::env::var_os("RIMEGAUGE_REWRITE").is_some() {
        fs::write(&path, real).unwrap();
        return;
    }
    for (number, (is, should)) in text.lines().zip(real.lines()).enumerate() {
        assert_eq!(
            is,
            should,
            "README.md:{}: the program says it otherwise",
            number + 1
        );
    }
    assert_eq!(text, real);
}

#[test]
fn words_are_split_as_a_shell_splits_them() {
    assert_eq!(
        shell_words("rimegauge check \"a b\" c"),
        ["rimegauge", "check", "a b", "c"]
    );
}
