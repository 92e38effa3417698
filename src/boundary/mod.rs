//! Cases made from the rules themselves: for each rule and each row of its limits just inside, on and just outside
//! the limit, by one step of its last written digit; nothing said; another kind; both sides of conditions and of
//! exemptions.
//!
//! What must come of a case is told from what the rules say, by exact arithmetic of this room alone. It knows
//! nothing of how records are checked: run through a check, its cases try the check as well as the rules.
//! What it can't make a case of it names, with the reason.

mod exemption;
mod fraction;
mod listed;
mod marks;
mod missing;
mod places;
mod rule;
mod solve;
mod trial;
mod ways;
mod world;
mod write;
mod zoned;

use crate::rules::RulesFile;
use solve::Solver;

/// What was made of the rules of one version.
#[derive(Clone, Debug, Default)]
pub struct Generated {
    /// The file of cases.
    pub text: String,
    /// Every rule and every limit on marks, in the order of the file.
    pub rules: Vec<OfRule>,
}

/// What was made of one rule.
#[derive(Clone, Debug)]
pub struct OfRule {
    /// Its id.
    pub id: String,
    /// The number of cases.
    pub cases: usize,
    /// What no case could be made of, in words.
    pub left_out: Vec<String>,
}

impl Generated {
    /// The number of all cases.
    pub fn cases(&self) -> usize {
        self.rules.iter().map(|rule| rule.cases).sum()
    }

    /// How many rules have cases.
    pub fn with_cases(&self) -> usize {
        self.rules.iter().filter(|rule| rule.cases > 0).count()
    }
}

/// Makes cases for a version.
pub fn generate(rules: &RulesFile) -> Generated {
    let solver = Solver { rules };
    let own = rules
        .rules
        .iter()
        .map(|one| (&one.id.text, rule::of_rule(solver, one)));
    let marks = rules
        .marks
        .iter()
        .map(|one| (&one.id.text, marks::of_mark(solver, one)));
    let mut entries = String::new();
    let mut found = Vec::new();
    for (id, mut trials) in own.chain(marks) {
        let mut cases = 0;
        for trial in &trials.list {
            match solver.written(trial) {
                Some(text) => {
                    entries.push('\n');
                    entries.push_str(&text);
                    cases += 1;
                }
                None => trials
                    .left_out
                    .push(format!("“{}” can't be written down", trial.title)),
            }
        }
        if cases == 0 && trials.left_out.is_empty() {
            trials
                .left_out
                .push("nothing is known that it could be tried with".to_owned());
        }
        found.push(OfRule {
            id: id.clone(),
            cases,
            left_out: trials.left_out,
        });
    }
    let mut text = format!(
        "# Boundary cases of {} {}, generated from its rules.\nformat: rimegauge-cases/1\nclass: {}\n",
        rules.class.text, rules.version, rules.class.text
    );
    for one in found.iter().filter(|one| !one.left_out.is_empty()) {
        for left_out in &one.left_out {
            text.push_str(&format!("# Not tried: {}: {left_out}\n", one.id));
        }
    }
    text.push_str(if entries.is_empty() {
        "cases: []\n"
    } else {
        "cases:"
    });
    text.push_str(&entries);
    Generated { text, rules: found }
}
