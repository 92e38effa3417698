//! Old and new, clause by clause, and what is claimed of the words that changed.

use super::super::compare::{Clause, Compared};
use super::super::words::{capital, plain_name};
use super::shown::finding;
use super::{Part, Side};
use crate::prove::{Effect, Wording};
use crate::rules::RulesFile;

/// Clauses that are told together: those that say the same have one paragraph.
struct Together {
    titles: Vec<String>,
    sides: Vec<Side>,
    says: String,
}

/// Old and new, clause by clause.
pub(super) fn clauses(compared: &Compared<'_>, parts: &mut Vec<Part>) {
    parts.push(Part::Heading("Clause by clause".to_owned()));
    let joined = compared.joined();
    let told = joined.clauses.iter().filter(|one| one.is_to_be_told());
    let mut all: Vec<Together> = Vec::new();
    for clause in told {
        let one = Together {
            titles: vec![title(compared, clause)],
            sides: sides(compared, clause),
            says: says(compared, clause),
        };
        match all.last_mut() {
            Some(last)
                if one.sides.is_empty() && last.sides.is_empty() && last.says == one.says =>
            {
                // Work on one kind of part is told in one breath.
                for title in one.titles {
                    let known = last.titles.last().and_then(|last| last.split_once(": "));
                    let own = title.split_once(": ");
                    match (known, own) {
                        (Some((of, _)), Some((own, work))) if of == own => {
                            let work = format!(", {work}");
                            if let Some(last) = last.titles.last_mut() {
                                last.push_str(&work);
                            }
                        }
                        _ => last.titles.push(title),
                    }
                }
            }
            Some(_) | None => all.push(one),
        }
    }
    let beside = joined.only_written.iter().chain(&joined.beside);
    all.extend(beside.map(|changed| {
        Together {
            titles: vec![changed.title.clone()],
            sides: changed
                .differs
                .iter()
                .map(|one| Side::of(&capital(&one.what), one.was.as_deref(), one.is.as_deref()))
                .collect(),
            says: String::new(),
        }
    }));
    let sides = all.iter().flat_map(|one| &one.sides);
    let runs = sides.flat_map(|side| [&side.was, &side.is]).flatten();
    if runs.flatten().any(|run| run.differs) {
        parts.push(Part::Text(
            "Words and figures that differ are bold and underlined.".to_owned(),
        ));
    }
    let none = all.is_empty();
    for one in all {
        parts.push(Part::Clause(one.titles.join("; ")));
        if !one.sides.is_empty() {
            parts.push(Part::Sides(one.sides));
        }
        if !one.says.is_empty() {
            parts.push(Part::Text(one.says));
        }
    }
    let rest = joined.clauses.iter().filter(|one| !one.is_to_be_told());
    parts.push(Part::Text(match (none, rest.count()) {
        (true, _) => "No clause is written otherwise.".to_owned(),
        (_, 0) => "There is no other clause.".to_owned(),
        (_, 1) => "The one other clause stays as it is.".to_owned(),
        (_, many) => format!("The {many} other clauses stay as they are."),
    }));
}

/// Number and title of a clause; of what is no clause, what it is about.
fn title(compared: &Compared<'_>, clause: &Clause<'_>) -> String {
    let change = clause.change;
    if change.title != change.rule {
        return change.title.clone();
    }
    // Work on a part: what was measured before it does not count any more.
    match change.title.split_once(" of ") {
        Some((work, part)) if is_part(compared.new, part) || is_part(compared.old, part) => {
            format!("What is measured again after work on a {part}: {work}")
        }
        Some(_) | None => capital(&change.title),
    }
}

fn is_part(rules: &RulesFile, name: &str) -> bool {
    let mut parts = rules.vocabulary.parts.iter();
    parts.any(|part| plain_name(&part.name.text) == name)
}

/// What a clause does, for whom, what is proved of it, and what is claimed of its words.
fn says(compared: &Compared<'_>, clause: &Clause<'_>) -> String {
    let change = clause.change;
    let mut sentences = vec![format!("Effect: {}.", effect(change.effect))];
    if !change.for_whom.is_empty() {
        sentences.push(format!("For whom: {}.", change.for_whom.join("; ")));
    }
    sentences.extend(compared.proved_of_data(clause));
    let words = compared.comparison.words.iter();
    for one in words.filter(|one| one.what == "text" && one.of == change.rule) {
        sentences.push(match &one.claim {
            Some((effect, by)) => format!("Claimed by {by}, not proved: {}.", claimed(*effect)),
            None => "What its words do is not known: nobody says it.".to_owned(),
        });
    }
    sentences.join(" ")
}

/// What a clause does, in a word or two.
fn effect(effect: Effect) -> &'static str {
    match effect {
        Effect::Added => "new",
        Effect::Removed => "gone",
        Effect::Tightened => "tighter",
        Effect::Relaxed => "looser",
        Effect::Both => "tighter and looser",
        Effect::Neutral => "none",
        Effect::Undecided => "not known",
    }
}

/// What words are claimed to do.
fn claimed(effect: crate::rules::Effect) -> &'static str {
    use crate::rules::Effect;
    match effect {
        Effect::None => "by the words nothing becomes legal or illegal",
        Effect::Relaxed => "by the words something becomes legal",
        Effect::Tightened => "by the words something becomes illegal",
        Effect::Both => "by the words something becomes legal and something illegal",
    }
}

/// The text of a clause, then what else is written otherwise.
fn sides(compared: &Compared<'_>, clause: &Clause<'_>) -> Vec<Side> {
    let id = &clause.change.rule;
    let text = |rules: &'_ RulesFile| {
        let rule = rules.rules.iter().find(|rule| rule.id.text == *id);
        let marks = rules.marks.iter().find(|one| one.id.text == *id);
        rule.map(|rule| rule.text.trim().to_owned())
            .or_else(|| marks.map(|one| one.text.trim().to_owned()))
    };
    let (was, is) = (text(compared.old), text(compared.new));
    let mut all = Vec::new();
    if was.is_some() || is.is_some() {
        all.push(Side::of("Text", was.as_deref(), is.as_deref()));
    }
    for one in clause.differs.iter().filter(|one| one.what != "text") {
        all.push(Side::of(
            &match one.what.as_str() {
                "in data" => "What is checked".to_owned(),
                what => capital(what),
            },
            one.was.as_deref(),
            one.is.as_deref(),
        ));
    }
    let change = clause.change;
    if matches!(change.rule.as_str(), "silence" | "equipment") {
        let boats = [&change.illegal, &change.legal].into_iter().flatten();
        for flip in boats.filter_map(|one| one.flips.first()) {
            let mut side = finding(compared, flip);
            side.what.insert_str(0, "For example: ");
            all.push(side);
        }
    }
    if clause.differs.is_empty() && (change.was.is_some() || change.is.is_some()) {
        all.push(Side::of(
            "What is checked",
            change.was.as_deref(),
            change.is.as_deref(),
        ));
    }
    all
}

/// What is claimed of words, those of one claim together.
pub(super) fn words(compared: &Compared<'_>, parts: &mut Vec<Part>) {
    let words = &compared.comparison.words;
    if words.is_empty() {
        return;
    }
    parts.push(Part::Heading("What the changed words do".to_owned()));
    let mut claims: Vec<(String, Vec<String>)> = Vec::new();
    for one in words {
        let said = match &one.claim {
            Some((effect, by)) => {
                let because = compared.because(one);
                let because = because.map_or_else(String::new, |because| format!(" {because}"));
                format!("{}. So says {by}.{because}", claimed(*effect))
            }
            None => "not known; nobody says what they do.".to_owned(),
        };
        let name = name(compared, one);
        match claims.iter_mut().find(|(known, _)| *known == said) {
            Some((_, of)) => of.push(name),
            None => claims.push((said, vec![name])),
        }
    }
    parts.push(Part::Lead(
        "No program can prove what words do. It is claimed by people, and not proved:".to_owned(),
    ));
    let told = claims.into_iter();
    parts.push(Part::List(
        told.map(|(said, of)| format!("{}: {said}", of.join("; ")))
            .collect(),
    ));
}

/// Whose words they are, as people call it.
fn name(compared: &Compared<'_>, one: &Wording) -> String {
    match one.what.as_str() {
        "text" => heading(compared, &one.of),
        what => format!("{} {}", capital(what), capital(&one.of)),
    }
}

/// Number and title of a rule, as the new version has them, else the old one.
pub(super) fn heading(compared: &Compared<'_>, id: &str) -> String {
    let changes = &compared.comparison.changes;
    let mut both = compared.new.headings().chain(compared.old.headings());
    match both.find(|(known, ..)| *known == id) {
        Some((_, clause, title)) => format!("{clause} {title}").trim().to_owned(),
        None => changes
            .iter()
            .find(|one| one.rule == id)
            .map_or_else(|| plain_name(id), |one| one.title.clone()),
    }
}
