//! A comparison for programs: `rimegauge-comparison/1`.

use serde_json::{Value, json};

use super::super::changes::{Changed, Differs};
use super::super::rules_list::status;
use super::flips::{flips_json, why};
use super::told::{proved, unknown};
use super::{Clause, Compared, accepted, standing_word};
use crate::prove::{Answer, Direction, Witness, Wording, declares_against};
use crate::rules::RulesFile;

/// A comparison for programs.
pub fn compare_json(compared: &Compared<'_>) -> Value {
    let comparison = compared.comparison;
    let joined = compared.joined();
    let standing = comparison.standing();
    json!({
        "format": "rimegauge-comparison/1",
        "old": version(compared.old),
        "new": version(compared.new),
        "becomes_illegal": direction(compared, &comparison.becomes_illegal),
        "becomes_legal": direction(compared, &comparison.becomes_legal),
        "required_bump": comparison.required.word(),
        "declared_bump": comparison.declared.map(|step| step.word()),
        "accepted": accepted(standing),
        "standing": standing_word(standing),
        "because": compared.reason().map(|witness| why(witness, compared)),
        "not_known": unknown(compared),
        "changes": joined.clauses.iter().filter(|one| one.is_to_be_told()).map(|one| clause(compared, one)).collect::<Vec<_>>(),
        "words": comparison.words.iter().map(|one| wording(compared, one)).collect::<Vec<_>>(),
        "written": joined.only_written.iter().chain(&joined.beside).map(changed).collect::<Vec<_>>(),
        "reach": comparison.reach.iter().map(|(holding, most)| json!({ "holding": holding, "items": most })).collect::<Vec<_>>(),
        "notes": compared.notes,
    })
}

fn version(rules: &RulesFile) -> Value {
    json!({
        "class": rules.class.text,
        "version": rules.version.to_string(),
        "status": status(rules.status),
        "in_force_from": rules.in_force_from.to_string(),
        "digest": rules.digest,
        "file": rules.source.name(),
    })
}

fn direction(compared: &Compared<'_>, direction: &Direction) -> Value {
    json!({
        "answer": direction.word(),
        "requirement": answer(compared, &direction.requirement),
        "evidence": answer(compared, &direction.evidence),
    })
}

fn answer(compared: &Compared<'_>, answer: &Answer) -> Value {
    let word = answer.word();
    match answer {
        Answer::ProvedNone => json!({ "answer": word }),
        Answer::Undecided(reasons) => json!({ "answer": word, "why": reasons }),
        Answer::Witness(all) => {
            let mut each = all.iter().map(|one| witness(compared, one));
            let mut value = each.next().unwrap_or_else(|| json!({}));
            let others: Vec<Value> = each.collect();
            if let Value::Object(map) = &mut value {
                map.insert("answer".to_owned(), json!(word));
                map.insert("others".to_owned(), json!(others));
            }
            value
        }
    }
}

fn witness(compared: &Compared<'_>, witness: &Witness) -> Value {
    json!({
        "witness": witness.fragment_json,
        "yaml": witness.fragment,
        "rules": witness.rules,
        "why": why(witness, compared),
        "flips": flips_json(witness, compared),
        "stage": witness.stage.word(),
        "level": witness.level,
        "day": witness.day.to_string(),
        "old_outcome": witness.old_outcome.word(),
        "new_outcome": witness.new_outcome.word(),
    })
}

fn clause(compared: &Compared<'_>, clause: &Clause<'_>) -> Value {
    let change = clause.change;
    let side = |own: &Option<String>, of: fn(&Differs) -> &Option<String>| {
        own.clone().or_else(|| written(&clause.differs, of))
    };
    json!({
        "rule": change.rule,
        "title": change.title,
        "effect": change.effect.word(),
        "was": side(&change.was, |one| &one.was),
        "is": side(&change.is, |one| &one.is),
        "differs": clause.differs.iter().map(differs).collect::<Vec<_>>(),
        "for_whom": change.for_whom,
        "says": proved(compared, clause),
        "illegal": change.illegal.as_ref().map(|one| witness(compared, one)),
        "legal": change.legal.as_ref().map(|one| witness(compared, one)),
    })
}

/// One side of all that is written otherwise and can matter: headings and advice can't.
fn written(list: &[Differs], side: fn(&Differs) -> &Option<String>) -> Option<String> {
    let matters =
        |one: &&Differs| !matches!(one.what.as_str(), "clause" | "title" | "remedy" | "text");
    let all: Vec<&Differs> = list.iter().filter(matters).collect();
    let said: Vec<String> = match all.as_slice() {
        [only] => side(only).iter().cloned().collect(),
        many => many
            .iter()
            .filter_map(|one| Some(format!("{}: {}", one.what, side(one).as_ref()?)))
            .collect(),
    };
    (!said.is_empty()).then(|| said.join("; "))
}

fn differs(one: &Differs) -> Value {
    json!({ "what": one.what, "was": one.was, "is": one.is })
}

fn changed(one: &Changed) -> Value {
    json!({
        "rule": one.rule,
        "title": one.title,
        "differs": one.differs.iter().map(differs).collect::<Vec<_>>(),
    })
}

fn wording(compared: &Compared<'_>, one: &Wording) -> Value {
    let declared = declares_against(compared.new, &compared.old.version)
        .then(|| compared.new.declared_of(&one.of))
        .flatten();
    json!({
        "of": one.of,
        "what": one.what,
        "was": one.was,
        "is": one.is,
        "claim": one.claim.as_ref().map(|(effect, by)| json!({
            "effect": effect.word(),
            "by": by,
            "because": declared.map(|declared| declared.because.as_str()),
            "proved": false,
        })),
    })
}
