//! What differs between two versions of class rules, read side by side by rule id. It compares what is written and
//! proves nothing: whether a difference makes equipment illegal or legal is another question.

use std::collections::BTreeSet;

use crate::rules::{Interpretation, InterpretationStatus, RulesFile, Stage, dropped_out};

use super::rule_words::per_cent;
use super::rules_show::{Clause, clauses};
use super::sentence::{Phrase, Says, Wording, sentence_text};
use super::words::{decision_word, plain_name};

/// One thing that differs.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Differs {
    /// What it is of: `limit for insert`, `text`, `exemption`.
    pub what: String,
    /// How it was; nothing where it is new.
    pub was: Option<String>,
    /// How it is; nothing where it is gone.
    pub is: Option<String>,
}

/// A rule, or something else under a name, with what differs in it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Changed {
    /// The id of the rule; nothing for what is no rule.
    pub rule: Option<String>,
    /// What it is called: `E.3.2 Steel thickness`.
    pub title: String,
    /// What differs, in a fixed order.
    pub differs: Vec<Differs>,
}

/// Everything that differs between two versions.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Changes {
    /// Rules that are new.
    pub added: Vec<Changed>,
    /// Rules that are gone.
    pub removed: Vec<Changed>,
    /// Rules that are in both and differ.
    pub changed: Vec<Changed>,
    /// The head, measures and methods, interpretations.
    pub beside: Vec<Changed>,
}

impl Changes {
    /// Whether nothing differs.
    pub fn is_empty(&self) -> bool {
        self.added.is_empty()
            && self.removed.is_empty()
            && self.changed.is_empty()
            && self.beside.is_empty()
    }
}

/// What differs from the old version to the new one. A version compared with itself gives nothing.
pub fn changes(old: &RulesFile, new: &RulesFile) -> Changes {
    let (was, is) = (Wording::of(old), Wording::of(new));
    let (old_clauses, new_clauses) = (clauses(old, &[]), clauses(new, &[]));
    let mut all = Changes::default();
    for clause in &new_clauses {
        match old_clauses.iter().find(|one| one.id() == clause.id()) {
            None => all.added.push(whole(clause, &is, true)),
            Some(before) => {
                let differs = between(before, &was, clause, &is);
                if !differs.is_empty() {
                    all.changed.push(Changed {
                        rule: Some(clause.id().to_owned()),
                        title: title(clause),
                        differs,
                    });
                }
            }
        }
    }
    for clause in &old_clauses {
        if !new_clauses.iter().any(|one| one.id() == clause.id()) {
            all.removed.push(whole(clause, &was, false));
        }
    }
    let mut beside = |title: &str, differs: Vec<Differs>| {
        if !differs.is_empty() {
            all.beside.push(Changed {
                rule: None,
                title: title.to_owned(),
                differs,
            });
        }
    };
    beside("Who carries the doubt, and silence", head(old, new));
    for (title, differs) in super::changes_beside::beside(&was, &is) {
        beside(title, differs);
    }
    beside("Measures and methods", measures(&was, &is));
    beside("Interpretations", interpretations(old, new));
    all
}

fn title(clause: &Clause<'_>) -> String {
    format!("{} {}", clause.number(), clause.title())
}

/// A rule that is in one version only, with its sentences.
fn whole(clause: &Clause<'_>, wording: &Wording<'_>, is_new: bool) -> Changed {
    let said = Some(sentence_text(&clause.sentences(wording)));
    let (was, is) = if is_new { (None, said) } else { (said, None) };
    Changed {
        rule: is_new.then(|| clause.id().to_owned()),
        title: title(clause),
        differs: vec![Differs {
            what: "in data".to_owned(),
            was,
            is,
        }],
    }
}

/// A thing that may differ.
pub(super) fn one(what: &str, was: &str, is: &str) -> Option<Differs> {
    let some = |text: &str| (!text.is_empty()).then(|| text.to_owned());
    (was != is).then(|| Differs {
        what: what.to_owned(),
        was: some(was),
        is: some(is),
    })
}

fn between(
    old: &Clause<'_>,
    was: &Wording<'_>,
    new: &Clause<'_>,
    is: &Wording<'_>,
) -> Vec<Differs> {
    let mut all = Vec::new();
    all.extend(one("clause", old.number(), new.number()));
    all.extend(one("title", old.title(), new.title()));
    let before = limits(old, was);
    let after = limits(new, is);
    all.extend(rows("limit", &before, &after));
    // Where only the limits differ, the sentence would say so once more.
    let frame = |clause: &Clause<'_>, wording: &Wording<'_>| clause.frame(wording);
    if frame(old, was) != frame(new, is) {
        all.extend(one(
            "what is asked",
            &said(old, was, &[Says::Demand, Says::Meaning]),
            &said(new, is, &[Says::Demand, Says::Meaning]),
        ));
    }
    all.extend(list(
        "exemption",
        &each(old, was, Says::Exemption),
        &each(new, is, Says::Exemption),
    ));
    all.extend(one(
        "how it is measured",
        &said(old, was, &[Says::Evidence]),
        &said(new, is, &[Says::Evidence]),
    ));
    all.extend(one(
        "when it is checked",
        &said(old, was, &[Says::Stages]),
        &said(new, is, &[Says::Stages]),
    ));
    all.extend(one("text", old.text(), new.text()));
    all.extend(one(
        "remedy",
        old.remedy().unwrap_or(""),
        new.remedy().unwrap_or(""),
    ));
    all
}

/// The limits of a clause by row; the row of a single limit has no name.
fn limits(clause: &Clause<'_>, wording: &Wording<'_>) -> Vec<(String, String)> {
    match clause.table(wording) {
        Some(table) => table
            .rows
            .into_iter()
            .map(|(label, limits)| (label, limits.text()))
            .collect(),
        None => clause
            .single_limit(wording)
            .into_iter()
            .map(|limit| (String::new(), limit))
            .collect(),
    }
}

pub(super) fn rows(what: &str, was: &[(String, String)], is: &[(String, String)]) -> Vec<Differs> {
    let find = |list: &[(String, String)], label: &str| {
        list.iter()
            .find(|(one, _)| one == label)
            .map(|(_, text)| text.clone())
    };
    let mut all = Vec::new();
    let labels = is.iter().chain(was).map(|(label, _)| label.as_str());
    let mut done = BTreeSet::new();
    for label in labels.filter(|label| done.insert(*label)) {
        let (before, after) = (find(was, label), find(is, label));
        if before != after {
            let what = if label.is_empty() {
                what.to_owned()
            } else {
                format!("{what} for {label}")
            };
            all.push(Differs {
                what,
                was: before,
                is: after,
            });
        }
    }
    all
}

fn said(clause: &Clause<'_>, wording: &Wording<'_>, about: &[Says]) -> String {
    let mut sentences = clause.sentences(wording);
    sentences.retain(|sentence| about.contains(&sentence.says));
    sentence_text(&sentences)
}

fn each(clause: &Clause<'_>, wording: &Wording<'_>, about: Says) -> Vec<String> {
    let mut texts: Vec<String> = Vec::new();
    for sentence in clause.sentences(wording) {
        if sentence.says != about {
            continue;
        }
        let text = sentence.text();
        // What counts without proof belongs to the exemption before it.
        match texts.last_mut() {
            Some(last) if !text.starts_with("Instead") => {
                last.push(' ');
                last.push_str(&text);
            }
            _ => texts.push(text),
        }
    }
    texts
}

/// What is in one list only; one against one is a change.
fn list(what: &str, was: &[String], is: &[String]) -> Vec<Differs> {
    let gone: Vec<&String> = was.iter().filter(|one| !is.contains(one)).collect();
    let new: Vec<&String> = is.iter().filter(|one| !was.contains(one)).collect();
    let differs = |was: Option<&String>, is: Option<&String>| Differs {
        what: what.to_owned(),
        was: was.cloned(),
        is: is.cloned(),
    };
    if let ([before], [after]) = (gone.as_slice(), new.as_slice()) {
        return vec![differs(Some(*before), Some(*after))];
    }
    gone.into_iter()
        .map(|one| differs(Some(one), None))
        .chain(new.into_iter().map(|one| differs(None, Some(one))))
        .collect()
}

fn head(old: &RulesFile, new: &RulesFile) -> Vec<Differs> {
    let mut all = Vec::new();
    all.extend(one("authority", &old.authority, &new.authority));
    let silence = |rules: &RulesFile| match rules.silence {
        crate::rules::Silence::Forbids => "forbids",
        crate::rules::Silence::Permits => "permits",
    };
    all.extend(one("silence", silence(old), silence(new)));
    let coverage = |rules: &RulesFile| per_cent(&rules.decision.coverage_probability);
    all.extend(one("coverage probability", &coverage(old), &coverage(new)));
    let guard = |rules: &RulesFile| rules.decision.guard_factor.to_string();
    all.extend(one("guard factor", &guard(old), &guard(new)));
    for stage in Stage::ALL {
        let rule = |rules: &RulesFile| plain_name(decision_word(*rules.decision.rules.at(stage)));
        let what = format!("decision at {}", stage.words());
        all.extend(one(&what, &rule(old), &rule(new)));
    }
    all
}

fn measures(was: &Wording<'_>, is: &Wording<'_>) -> Vec<Differs> {
    let known = |wording: &Wording<'_>| -> Vec<(String, String)> {
        let parts = &wording.rules.vocabulary.parts;
        parts
            .iter()
            .flat_map(|part| {
                part.measures.iter().map(|measure| {
                    let name = format!(
                        "{} of the {}",
                        plain_name(&measure.name.text),
                        plain_name(&part.name.text)
                    );
                    let lines = super::rules_page::measure_lines(wording, part, measure);
                    let lines: Vec<String> = lines.iter().map(Phrase::text).collect();
                    (name, lines.join("; "))
                })
            })
            .collect()
    };
    let mut all = rows("", &known(was), &known(is));
    for one in &mut all {
        one.what = one.what.trim_start_matches(" for ").to_owned();
    }
    all
}

fn interpretations(old: &RulesFile, new: &RulesFile) -> Vec<Differs> {
    let text = |one: &Interpretation| {
        let life = super::rules_page::life(one);
        format!("{} {}.", one.text, life)
    };
    let mut all = Vec::new();
    let dropped: Vec<&str> = dropped_out(old, new)
        .into_iter()
        .map(|one| one.id.text.as_str())
        .collect();
    for one in &new.interpretations {
        let before = old.interpretations.iter().find(|other| other.id == one.id);
        let was = before.map(text);
        let is = text(one);
        if was.as_deref() != Some(is.as_str()) {
            all.push(Differs {
                what: one.id.text.clone(),
                was,
                is: Some(is),
            });
        }
    }
    for one in &old.interpretations {
        if dropped.contains(&one.id.text.as_str()) {
            all.push(Differs {
                what: format!("{}, dropped out without a word", one.id.text),
                was: Some(text(one)),
                is: None,
            });
        } else if one.status != InterpretationStatus::InForce
            && !new.interpretations.iter().any(|other| other.id == one.id)
        {
            all.push(Differs {
                what: one.id.text.clone(),
                was: Some(text(one)),
                is: None,
            });
        }
    }
    all
}
