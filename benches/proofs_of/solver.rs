//! The same questions put to an SMT solver: formulas by the encoder of the tests, one process, one check-sat each.

use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};
use std::time::{Duration, Instant};

use rimegauge::prove::{ClauseOf, Side};
use rimegauge::rules::RulesFile;

use super::domain::Domain;
use super::smt::{Version, and, frame, not};

/// Milliseconds for one question.
const PATIENCE: u32 = 2_000;

/// The solver, where there is one: as the tests find it.
pub fn program() -> Option<PathBuf> {
    let works = |path: &Path| {
        let ran = Command::new(path).arg("-version").output();
        ran.is_ok_and(|output| output.status.success())
    };
    let named = std::env::var_os("RIMEGAUGE_Z3").map(PathBuf::from);
    let beside = Path::new(env!("CARGO_MANIFEST_DIR")).join("target/z3/bin/z3");
    named
        .into_iter()
        .chain([beside, PathBuf::from("z3")])
        .find(|path| works(path))
}

/// Both versions as formulas.
pub struct Formulas {
    /// Declarations, definitions, and what holds of all boats.
    text: String,
    legal: [String; 2],
    /// By version, when each rule is met.
    rules: [Vec<String>; 2],
    marks: [String; 2],
}

impl Formulas {
    pub fn of(old: &RulesFile, new: &RulesFile) -> Formulas {
        let (domain, old_view, new_view) = Domain::of(old, new);
        let mut text = frame(&domain);
        let mut each = |rules, view, mark| {
            let mut version = Version::new(rules, &domain, view, mark);
            let (legal, enough) = version.legal();
            let met: Vec<String> = rules.rules.iter().map(|rule| version.met(rule)).collect();
            let mut marks = Vec::new();
            version.marks(&mut marks);
            text.push_str(&version.text);
            text.push_str(&format!("(assert {enough})\n"));
            (legal, met, and(marks))
        };
        let (old_legal, old_rules, old_marks) = each(old, &old_view, "o");
        let (new_legal, new_rules, new_marks) = each(new, &new_view, "w");
        Formulas {
            text,
            legal: [old_legal, new_legal],
            rules: [old_rules, new_rules],
            marks: [old_marks, new_marks],
        }
    }

    /// When a clause is met; `None` for one that is no rule of a file.
    fn met(&self, side: Side, clause: ClauseOf) -> Option<&str> {
        let side = usize::from(side == Side::New);
        match clause {
            ClauseOf::Rule(at) => self.rules[side].get(at).map(String::as_str),
            ClauseOf::Marks(_) => Some(&self.marks[side]),
            ClauseOf::Equipment(_) | ClauseOf::Silence(..) | ClauseOf::Unlisted => None,
        }
    }
}

/// A running solver.
pub struct Solver {
    child: Child,
    to: ChildStdin,
    from: BufReader<ChildStdout>,
}

impl Solver {
    pub fn start(program: &Path) -> Solver {
        let mut child = Command::new(program)
            .arg("-in")
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let to = child.stdin.take().unwrap();
        let from = BufReader::new(child.stdout.take().unwrap());
        Solver { child, to, from }
    }

    fn line(&mut self) -> String {
        self.to.flush().unwrap();
        let mut line = String::new();
        let read = self.from.read_line(&mut line).unwrap();
        assert!(read > 0, "the solver ended");
        line.trim().to_owned()
    }

    /// Begins anew with the boats that are legal under a version; waits until all is read.
    pub fn begin(&mut self, formulas: &Formulas, legal: Side) {
        let legal = &formulas.legal[usize::from(legal == Side::New)];
        write!(
            self.to,
            "(reset)\n(set-option :timeout {PATIENCE})\n{}(assert {legal})\n(push)\n(echo \"read\")\n",
            formulas.text
        )
        .unwrap();
        assert_eq!(self.line(), "read");
    }

    /// Whether there is a boat that breaks a clause of the other version, and how long check-sat took; `None` for a
    /// clause that no formula is written for.
    pub fn ask(
        &mut self,
        formulas: &Formulas,
        breaks: Side,
        clause: ClauseOf,
    ) -> Option<(String, Duration)> {
        let refused = not(formulas.met(breaks, clause)?);
        write!(self.to, "(push)\n(assert {refused})\n(echo \"read\")\n").unwrap();
        assert_eq!(self.line(), "read");
        let start = Instant::now();
        writeln!(self.to, "(check-sat)").unwrap();
        let said = self.line();
        let took = start.elapsed();
        writeln!(self.to, "(pop)").unwrap();
        Some((said, took))
    }
}

impl Drop for Solver {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
