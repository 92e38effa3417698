//! The same count by DuckDB, which is kept under `target/` and which nothing else needs.

use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};
use std::time::Duration;

use serde::Deserialize;

use super::Counts;

/// A process that counts files.
pub struct Sql {
    child: Child,
    input: ChildStdin,
    output: BufReader<ChildStdout>,
}

#[derive(Deserialize)]
struct Answer {
    seconds: f64,
    ways: Vec<[[u64; 3]; 3]>,
}

/// The Python that knows DuckDB, installed in the version that `benches/requirements.txt` names; `None` where it can't be.
fn python(root: &Path) -> Option<PathBuf> {
    let folder = root.join("target/duckdb");
    let python = folder.join("bin/python");
    let wanted = root.join("benches/requirements.txt");
    let have = folder.join("installed.txt");
    let read = |path: &Path| std::fs::read_to_string(path).ok();
    if read(&have).is_some_and(|have| Some(have) == read(&wanted)) {
        return Some(python);
    }
    let ran = |command: &mut Command| command.status().is_ok_and(|status| status.success());
    let made = ran(Command::new("python3").args(["-m", "venv"]).arg(&folder));
    let mut install = Command::new(&python);
    install.args(["-m", "pip", "install", "--quiet", "--only-binary", ":all:"]);
    let installed = made && ran(install.arg("-r").arg(&wanted));
    installed.then(|| {
        std::fs::copy(&wanted, &have).unwrap();
        python
    })
}

impl Sql {
    /// Starts one with so many threads.
    pub fn start(threads: usize) -> Option<Sql> {
        let root = Path::new(env!("CARGO_MANIFEST_DIR"));
        let mut child = Command::new(python(root)?)
            .arg(root.join("benches/scale/run.py"))
            .arg(root.join("benches/scale/count.sql"))
            .arg(threads.to_string())
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let input = child.stdin.take().unwrap();
        let output = BufReader::new(child.stdout.take().unwrap());
        Some(Sql {
            child,
            input,
            output,
        })
    }

    /// Counts a file; the time is that of the query alone.
    pub fn check(&mut self, path: &Path) -> (Counts, Duration) {
        writeln!(self.input, "{}", path.display()).unwrap();
        let mut line = String::new();
        self.output.read_line(&mut line).unwrap();
        let answer: Answer = serde_json::from_str(&line).unwrap();
        let [boats, runners, thickness, hole, stem, hardness] = answer.ways[..] else {
            panic!("{line}");
        };
        let counts = Counts {
            boats,
            runners,
            rules: [thickness, hole, stem, hardness],
        };
        (counts, Duration::from_secs_f64(answer.seconds))
    }

    /// The largest memory that it took so far, kilobytes.
    pub fn peak(&self) -> u64 {
        super::peak_of(&self.child.id().to_string())
    }
}

impl Drop for Sql {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
