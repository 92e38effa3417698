//! What is asked as evidence, compared: rows of the table, and what only differs in the doubt.

use std::path::Path;
use std::sync::Arc;

use super::super::common::{Common, Side};
use super::super::legal::legal;
use super::super::term::Terms;
use super::*;
use crate::rules::RulesFile;

mod rows;

/// Boats that are known, whatever is wished for.
pub struct Known(pub Vec<GoldBoat>);

impl Gold for Known {
    fn boats(&mut self, wish: Option<&Wish>) -> Result<Vec<GoldBoat>, String> {
        Ok(match wish {
            None => self.0.clone(),
            Some(_) => Vec::new(),
        })
    }
}

pub fn data(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(name);
    std::fs::read_to_string(&path).unwrap_or_else(|problem| panic!("{name}: {problem}"))
}

pub fn rules(name: &str, text: &str) -> Arc<RulesFile> {
    let found = crate::rules::load(name, text.as_bytes());
    Arc::new(found.unwrap_or_else(|problems| {
        let each = problems
            .iter()
            .map(|one| format!("{} {:?}", one.message, one.labels));
        let each: Vec<String> = each.collect();
        panic!("{name}: {}", each.join("\n"))
    }))
}

pub fn compared(old: &Arc<RulesFile>, new: &Arc<RulesFile>, boats: Vec<GoldBoat>) -> Evidence {
    let common = Common::of(old, new);
    let mut terms = Terms::default();
    let was = legal(&common, Side::Old, &mut terms);
    let is = legal(&common, Side::New, &mut terms);
    let (old_plan, new_plan) = (
        Plan::compile(Arc::clone(old)),
        Plan::compile(Arc::clone(new)),
    );
    let versions = Versions {
        common: &common,
        terms: &terms,
        old: &was.clauses,
        new: &is.clauses,
        old_plan: &old_plan,
        new_plan: &new_plan,
    };
    evidence(&versions, &mut Known(boats))
}

pub fn word(answer: &Answer) -> &'static str {
    match answer {
        Answer::ProvedNone => "none",
        Answer::Witness(_) => "witness",
        Answer::Undecided(_) => "open",
    }
}

/// What is found, to be read.
pub fn shown(found: &Evidence) -> String {
    let mut lines = vec![format!(
        "illegal: {}, legal: {}",
        word(&found.becomes_illegal),
        word(&found.becomes_legal)
    )];
    for one in &found.differences {
        let (kind, about) = (one.difference.kind.word(), &one.difference.about);
        lines.push(format!(
            "  {kind} {about}: was {:?}, is {:?}",
            one.difference.was, one.difference.is
        ));
        for (name, answer) in [
            ("illegal", &one.becomes_illegal),
            ("legal", &one.becomes_legal),
        ] {
            let why = match answer {
                Answer::ProvedNone => "none".to_owned(),
                Answer::Witness(list) => format!("witness: {}", list[0].why),
                Answer::Undecided(list) => format!("open: {}", list.join("; ")),
            };
            lines.push(format!("    {name}: {why}"));
        }
    }
    lines.join("\n")
}

mod shipped;
