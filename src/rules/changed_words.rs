//! Words that say what the data of a rules file can't: texts, questions, interpretations. What a change of them does
//! to what is legal is declared by a person, under `words`, since nobody can compute it.

use std::collections::BTreeSet;

use jiff::civil::Date;

use super::interpretation::{Effect, Interpretation, InterpretationStatus};
use super::model::RulesFile;
use crate::vocabulary::{Measure, Name, Part, RenamedTo};

/// What the author of a version says that its changed words do, beyond what its data do.
#[derive(Clone, Debug)]
pub struct DeclaredWords {
    /// Ids of rules or interpretations, or `part.measure` of a question; those that are gone as well.
    pub about: Vec<Name>,
    /// What the change of the words does.
    pub effect: Effect,
    /// Who says so.
    pub by: String,
    /// Why, in a sentence.
    pub because: String,
}

/// What words belong to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WordsOf {
    /// The text of a rule or of a limit on marks.
    Text,
    /// The question of a measure that is answered with yes or no.
    Question,
    /// An interpretation: its text, or whether it counts.
    Interpretation,
}

impl WordsOf {
    /// The word for it: `text`.
    pub fn word(self) -> &'static str {
        match self {
            WordsOf::Text => "text",
            WordsOf::Question => "question",
            WordsOf::Interpretation => "interpretation",
        }
    }
}

/// Words that one version has and another has otherwise, or not at all.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ChangedWords {
    /// What they belong to.
    pub of: WordsOf,
    /// The id of a rule or an interpretation, or `part.measure`.
    pub about: String,
    /// The old words; nothing where they are new.
    pub was: Option<String>,
    /// The new words; nothing where they are gone.
    pub is: Option<String>,
    /// What follows from what interpretations say of themselves.
    pub own: Option<Effect>,
}

impl RulesFile {
    /// What is declared of the words of a rule, a question or an interpretation.
    pub fn declared_of(&self, about: &str) -> Option<&DeclaredWords> {
        let mut all = self.words.iter();
        all.find(|one| one.about.iter().any(|name| name.text == about))
    }
}

/// Words that differ between two versions: texts in the order of the new file, then questions, then interpretations.
///
/// Texts are matched by the id of their rule, and blanks between words don't count. The text of a rule that is new or
/// gone counts too, unless the other version has it under another id: it may say more than the data of its rule. A
/// question that only one version asks does not: what its answer does stands in the rules. Numbers of clauses, titles
/// and remedies are no words that count. A version beside itself gives nothing.
pub fn changed_words(old: &RulesFile, new: &RulesFile) -> Vec<ChangedWords> {
    let mut found = texts(old, new);
    found.extend(questions(old, new));
    found.extend(interpretations(old, new));
    found
}

/// Without line breaks and doubled blanks.
fn tidy(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The texts of rules and of limits on marks by id, in the order of the file.
fn texts_of(rules: &RulesFile) -> Vec<(&str, String)> {
    let of_rules = rules.rules.iter().map(|one| (&one.id, &one.text));
    let of_marks = rules.marks.iter().map(|one| (&one.id, &one.text));
    of_rules
        .chain(of_marks)
        .map(|(id, text)| (id.text.as_str(), tidy(text)))
        .collect()
}

fn texts(old: &RulesFile, new: &RulesFile) -> Vec<ChangedWords> {
    let (was, is) = (texts_of(old), texts_of(new));
    let under = |list: &[(&str, String)], id: &str| {
        let mut all = list.iter();
        all.find(|(one, _)| *one == id)
            .map(|(_, text)| text.clone())
    };
    let somewhere = |list: &[(&str, String)], text: &str| list.iter().any(|(_, one)| one == text);
    let mut found = Vec::new();
    let ids = is.iter().chain(&was).map(|(id, _)| *id);
    let mut done = BTreeSet::new();
    for id in ids.filter(|id| done.insert(*id)) {
        let (before, after) = (under(&was, id), under(&is, id));
        let same = match (&before, &after) {
            (Some(before), Some(after)) => before == after,
            (Some(only), None) => only.is_empty() || somewhere(&is, only),
            (None, Some(only)) => only.is_empty() || somewhere(&was, only),
            (None, None) => true,
        };
        if !same {
            found.push(ChangedWords {
                of: WordsOf::Text,
                about: id.to_owned(),
                was: before,
                is: after,
                own: None,
            });
        }
    }
    found
}

fn questions(old: &RulesFile, new: &RulesFile) -> Vec<ChangedWords> {
    let mut found = Vec::new();
    for part in &new.vocabulary.parts {
        for measure in &part.measures {
            let Some(is) = measure.ask.as_deref().map(tidy) else {
                continue;
            };
            let before = measure_before(old, new, part, measure);
            let Some(was) = before.and_then(|one| one.ask.as_deref()).map(tidy) else {
                continue;
            };
            if was != is {
                found.push(ChangedWords {
                    of: WordsOf::Question,
                    about: format!("{}.{}", part.name.text, measure.name.text),
                    was: Some(was),
                    is: Some(is),
                    own: None,
                });
            }
        }
    }
    found
}

/// The measure of the old version that a measure of the new one is, after `renamed`.
fn measure_before<'o>(
    old: &'o RulesFile,
    new: &RulesFile,
    part: &Part,
    measure: &Measure,
) -> Option<&'o Measure> {
    let vocabulary = &new.vocabulary;
    let part_id = vocabulary.part_named(&part.name.text)?;
    let measure_id = part.measure_named(&measure.name.text)?;
    let renamed = |to: RenamedTo| {
        let mut all = vocabulary.renamed.iter();
        all.find(|one| one.to.contains(&to))
            .map(|one| one.old_word())
    };
    let words = [
        renamed(RenamedTo::Part(part_id)).unwrap_or(&part.name.text),
        renamed(RenamedTo::Measure(part_id, measure_id)).unwrap_or(&measure.name.text),
    ];
    let [part, measure] = words;
    let part = old.vocabulary.part(old.vocabulary.part_named(part)?)?;
    let mut all = part.measures.iter();
    all.find(|one| one.name.text == measure)
}

fn interpretations(old: &RulesFile, new: &RulesFile) -> Vec<ChangedWords> {
    // The two versions are compared on the days on which either can count.
    let first = old.in_force_from.max(new.in_force_from);
    let find = |rules: &'_ RulesFile, id: &str| -> Option<Interpretation> {
        let mut all = rules.interpretations.iter();
        all.find(|one| one.id.text == id).cloned()
    };
    let mut found = Vec::new();
    let ids = new.interpretations.iter().chain(&old.interpretations);
    let mut done = BTreeSet::new();
    for id in ids.map(|one| one.id.text.as_str()) {
        if !done.insert(id) {
            continue;
        }
        let (before, after) = (find(old, id), find(new, id));
        let was = before.as_ref().filter(|one| counts_from(one, first));
        let is = after.as_ref().filter(|one| counts_from(one, first));
        let own = match (was, is) {
            (None, None) => continue,
            (Some(was), Some(is)) if same(was, is) => continue,
            (None, Some(is)) => Some(is.effect),
            (Some(was), None) => match &after {
                // Nothing says what becomes of it.
                None => None,
                Some(after) => match after.status {
                    // The text takes over all that it said.
                    InterpretationStatus::Absorbed { .. } => Some(Effect::None),
                    InterpretationStatus::InForce
                    | InterpretationStatus::Withdrawn { .. }
                    | InterpretationStatus::Expired { .. } => Some(reversed(was.effect)),
                },
            },
            (Some(was), Some(is)) => match (was.effect, is.effect) {
                (Effect::None, effect) => Some(effect),
                (effect, Effect::None) => Some(reversed(effect)),
                // Two effects against the bare rules say nothing of one against the other.
                (_, _) => None,
            },
        };
        found.push(ChangedWords {
            of: WordsOf::Interpretation,
            about: id.to_owned(),
            was: was.map(|one| tidy(&one.text)),
            is: is.map(|one| tidy(&one.text)),
            own,
        });
    }
    found
}

/// Whether an interpretation counts on some day from a day on.
fn counts_from(one: &Interpretation, first: Date) -> bool {
    let not_ended = match &one.status {
        InterpretationStatus::InForce => true,
        InterpretationStatus::Absorbed { .. } => false,
        InterpretationStatus::Withdrawn { ended } => first < *ended,
        InterpretationStatus::Expired { ended } => first <= *ended,
    };
    not_ended && one.until.is_none_or(|until| first <= until)
}

/// Whether two interpretations say the same of the same, for the same days.
fn same(was: &Interpretation, is: &Interpretation) -> bool {
    let about = |one: &Interpretation| -> BTreeSet<String> {
        one.about.iter().map(|name| name.text.clone()).collect()
    };
    tidy(&was.text) == tidy(&is.text)
        && about(was) == about(is)
        && was.scope == is.scope
        && was.issued == is.issued
        && was.until == is.until
        && was.status == is.status
        && was.effect == is.effect
}

/// What taking something back does.
fn reversed(effect: Effect) -> Effect {
    match effect {
        Effect::None => Effect::None,
        Effect::Relaxed => Effect::Tightened,
        Effect::Tightened => Effect::Relaxed,
        Effect::Both => Effect::Both,
    }
}
