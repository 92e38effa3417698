//! An SMT solver as a process of its own: one that is installed for the tests alone.

use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};

use rimegauge::quantity::Exact;

use super::domain::{Boat, Domain, Known, Sort};

/// What the solver says.
#[derive(Clone, Debug, PartialEq)]
pub enum Answer {
    /// There is none.
    None,
    /// There is one; without the boat where a number of it is no fraction.
    Some(Option<Boat>),
    /// It gave up.
    Unknown,
}

/// A running solver.
pub struct Solver {
    child: Child,
    to: ChildStdin,
    from: BufReader<ChildStdout>,
}

/// Milliseconds for one question.
const PATIENCE: u32 = 4000;

impl Solver {
    /// Starts the solver of a path.
    pub fn start(program: &Path) -> std::io::Result<Solver> {
        let mut child = Command::new(program)
            .arg("-in")
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()?;
        let to = child.stdin.take().unwrap();
        let from = BufReader::new(child.stdout.take().unwrap());
        Ok(Solver { child, to, from })
    }

    fn line(&mut self) -> String {
        let mut line = String::new();
        let read = self.from.read_line(&mut line).unwrap();
        assert!(read > 0, "the solver ended");
        line.trim().to_owned()
    }

    /// Begins anew with declarations and what holds of every boat.
    pub fn begin(&mut self, text: &str) {
        write!(
            self.to,
            "(reset)\n(set-option :produce-models true)\n(set-option :timeout {PATIENCE})\n{text}"
        )
        .unwrap();
    }

    /// Asks whether formulas can hold together, after those that it began with.
    pub fn ask(&mut self, domain: &Domain, asked: &[&str]) -> Answer {
        let asked: String = asked
            .iter()
            .map(|one| format!("(assert {one})\n"))
            .collect();
        write!(self.to, "(push)\n{asked}(check-sat)\n").unwrap();
        self.to.flush().unwrap();
        let answer = match self.line().as_str() {
            "unsat" => Answer::None,
            "unknown" | "timeout" => Answer::Unknown,
            "sat" => Answer::Some(self.boat(domain)),
            other => panic!("the solver says: {other}"),
        };
        writeln!(self.to, "(pop)").unwrap();
        answer
    }

    /// Whether a formula can hold beside those that it began with; nothing where it gives up.
    pub fn can(&mut self, asked: &str) -> Option<bool> {
        write!(self.to, "(push)\n(assert {asked})\n(check-sat)\n(pop)\n").unwrap();
        self.to.flush().unwrap();
        match self.line().as_str() {
            "unsat" => Some(false),
            "sat" => Some(true),
            "unknown" | "timeout" => None,
            other => panic!("the solver says: {other}"),
        }
    }

    fn boat(&mut self, domain: &Domain) -> Option<Boat> {
        let variables = domain.variables();
        let names: Vec<&str> = variables.iter().map(|(name, _)| name.as_str()).collect();
        writeln!(
            self.to,
            "(get-value ({}))\n(echo \"done\")",
            names.join(" ")
        )
        .unwrap();
        self.to.flush().unwrap();
        let mut text = String::new();
        loop {
            let line = self.line();
            if line == "done" {
                break;
            }
            text.push_str(&line);
            text.push(' ');
        }
        let Tree::List(values) = read(&text) else {
            panic!("no values: {text}")
        };
        assert_eq!(values.len(), variables.len(), "{text}");
        let mut boat = Boat::new();
        for ((name, sort), value) in variables.iter().zip(&values) {
            let Tree::List(pair) = value else {
                panic!("no value: {value:?}")
            };
            let known = match (sort, &pair[1]) {
                (Sort::Bool, Tree::Word(word)) => Known::Bool(word == "true"),
                (Sort::Int(..), tree) => Known::Int(fraction(tree)?.to_i64()?),
                (Sort::Real(_), tree) => Known::Real(fraction(tree)?),
                (Sort::Bool, Tree::List(_)) => return None,
            };
            boat.insert(name.clone(), known);
        }
        Some(boat)
    }
}

impl Drop for Solver {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

#[derive(Debug)]
enum Tree {
    Word(String),
    List(Vec<Tree>),
}

fn read(text: &str) -> Tree {
    let spaced = text.replace('(', " ( ").replace(')', " ) ");
    let mut open: Vec<Vec<Tree>> = vec![Vec::new()];
    for word in spaced.split_whitespace() {
        match word {
            "(" => open.push(Vec::new()),
            ")" => {
                let list = open.pop().unwrap();
                open.last_mut().unwrap().push(Tree::List(list));
            }
            _ => open.last_mut().unwrap().push(Tree::Word(word.to_owned())),
        }
    }
    open.pop().unwrap().pop().unwrap()
}

/// A number as the solver writes it: `2.0`, `(- 3)`, `(/ 1.0 3.0)`; `None` for what is no fraction or too long.
fn fraction(tree: &Tree) -> Option<Exact> {
    match tree {
        Tree::Word(word) => {
            let digits = word.strip_suffix(".0").unwrap_or(word);
            Exact::from_fraction(digits.parse::<i128>().ok()?, 1_i128)
        }
        Tree::List(list) => match &list[..] {
            [Tree::Word(sign), one] if sign == "-" => Some(fraction(one)?.neg()),
            [Tree::Word(sign), one, other] if sign == "/" => {
                fraction(one)?.checked_div(&fraction(other)?)
            }
            _ => None,
        },
    }
}
