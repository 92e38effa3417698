//! A comparison as blocks of words: the answer first, then both directions, clause by clause, words, what is beside.

use super::super::changes::Differs;
use super::super::rules_list::status;
use super::super::words::{at_stage, capital, claimed};
use super::flips::why;
use super::{Clause, Compared, Joined};
use crate::prove::{Answer, Bump, Direction, Effect, Standing, Witness, Wording, declares_against};
use crate::rules::RulesFile;

/// A block of words.
pub(in crate::report) enum Block {
    /// What the following is about.
    Heading(String),
    /// The clause that the following is about.
    Clause(String),
    /// A paragraph with air before it.
    Apart(String),
    /// A paragraph, so far from the left.
    Text(usize, String),
    /// What was, and what is; nothing where it is new or gone.
    Sides(usize, Option<String>, Option<String>),
    /// Lines to be copied as they are.
    Copy(String),
}

/// Everything that is to be said.
pub(in crate::report) fn blocks(compared: &Compared<'_>) -> Vec<Block> {
    let mut all = vec![Block::Text(0, head(compared))];
    let joined = compared.joined();
    answer(compared, &mut all);
    for note in compared.notes {
        all.push(Block::Text(0, note.clone()));
    }
    let both = [
        ("What becomes illegal", &compared.comparison.becomes_illegal),
        ("What becomes legal", &compared.comparison.becomes_legal),
    ];
    for (title, direction) in both {
        all.push(Block::Heading(title.to_owned()));
        part(
            "By what is required",
            &direction.requirement,
            compared,
            &mut all,
        );
        part(
            "By what evidence is asked",
            &direction.evidence,
            compared,
            &mut all,
        );
    }
    reach(compared, &mut all);
    clauses(compared, &joined, &mut all);
    words(compared, &mut all);
    written(compared, &joined, &mut all);
    all
}

fn head(compared: &Compared<'_>) -> String {
    let version = |rules: &RulesFile| {
        format!(
            "{} ({}, in force from {})",
            rules.version,
            status(rules.status),
            rules.in_force_from
        )
    };
    format!(
        "{}: from {} to {}",
        compared.new.title,
        version(compared.old),
        version(compared.new)
    )
}

fn answer(compared: &Compared<'_>, all: &mut Vec<Block>) {
    let comparison = compared.comparison;
    let needed = comparison.required.word();
    let Some(declared) = comparison.declared else {
        all.push(Block::Heading(format!(
            "{} is needed, and the version takes no step forward: refused.",
            capital(needed)
        )));
        return;
    };
    let said = declared.word();
    let open = comparison.undecided();
    let sentence = match comparison.standing() {
        Standing::Accepted if declared > comparison.required => format!(
            "{said} is declared: accepted. There is no greater step; at least {needed} is needed, and the rest is not known."
        ),
        Standing::Accepted => format!("{needed} is needed, and {said} is declared: accepted."),
        Standing::MoreThanNeeded => format!(
            "{needed} is needed, and {said} is declared: accepted. It is more than what is needed."
        ),
        Standing::Refused if open => {
            format!("at least {needed} is needed, and {said} is declared: refused.")
        }
        Standing::Refused => format!("{needed} is needed, and {said} is declared: refused."),
        Standing::NotConfirmed => format!(
            "{said} is declared: not confirmed. At least {needed} is needed, and something is not known."
        ),
    };
    all.push(Block::Heading(capital(&sentence)));
    match comparison.required {
        Bump::Major | Bump::Minor => match compared.reason() {
            Some(witness) => all.push(Block::Text(
                0,
                ended(&format!("Because: {}", why(witness, compared))),
            )),
            None => all.push(Block::Text(
                0,
                "Because of what is claimed of words, and not proved.".to_owned(),
            )),
        },
        Bump::Patch => {}
    }
    if compared.nothing_changes() {
        let sentence = match (
            comparison.words.is_empty(),
            comparison.words.iter().all(|one| one.claim.is_some()),
        ) {
            (true, _) => {
                "No change: nothing becomes illegal and nothing legal, and that is proved."
            }
            (false, true) => {
                "By the data nothing becomes illegal and nothing legal, and that is proved. What changed words do is claimed, not proved."
            }
            (false, false) => {
                "By the data nothing becomes illegal and nothing legal, and that is proved. What changed words do is not known."
            }
        };
        all.push(Block::Text(0, sentence.to_owned()));
    }
    for reason in unknown(compared) {
        all.push(Block::Text(0, ended(&format!("Not known: {reason}"))));
    }
}

/// A sentence with its stop.
pub(super) fn ended(words: &str) -> String {
    match words.ends_with(['.', ':', '?', '!']) {
        true => words.to_owned(),
        false => format!("{words}."),
    }
}

/// Why something is not known, each reason once.
pub(super) fn unknown(compared: &Compared<'_>) -> Vec<String> {
    let comparison = compared.comparison;
    let mut all: Vec<String> = Vec::new();
    for direction in [&comparison.becomes_illegal, &comparison.becomes_legal] {
        for one in [&direction.requirement, &direction.evidence] {
            match one {
                Answer::Undecided(reasons) => {
                    for reason in reasons {
                        if !all.contains(reason) {
                            all.push(reason.clone());
                        }
                    }
                }
                Answer::ProvedNone | Answer::Witness(_) => {}
            }
        }
    }
    let silent: Vec<&str> = comparison
        .words
        .iter()
        .filter(|one| one.claim.is_none())
        .map(|one| one.of.as_str())
        .collect();
    if !silent.is_empty() {
        all.push(format!(
            "nobody says what changed words do: {}.{}",
            silent.join(", "),
            where_declared(compared)
        ));
    }
    all
}

/// Where what words do is declared, or why what is declared there does not count here.
fn where_declared(compared: &Compared<'_>) -> String {
    let (old, new) = (&compared.old.version, compared.new);
    match &new.replaces {
        Some(replaced) if !declares_against(new, old) => format!(
            " What {} declares under `words` is said against {replaced}, not against {old}.",
            new.version
        ),
        Some(_) | None => format!(" {} can declare it under `words`.", new.version),
    }
}

fn part(title: &str, answer: &Answer, compared: &Compared<'_>, all: &mut Vec<Block>) {
    match answer {
        Answer::ProvedNone => all.push(Block::Text(
            0,
            format!("{title}: proved that nothing does."),
        )),
        Answer::Undecided(reasons) => {
            let said: Vec<String> = reasons.iter().map(|one| ended(one)).collect();
            all.push(Block::Text(
                0,
                format!("{title}: not known: {}", said.join(" ")),
            ));
        }
        Answer::Witness(witnesses) => {
            for (at, witness) in witnesses.iter().enumerate() {
                let lead = match at {
                    0 => format!("{title}: proved by a boat: "),
                    _ => "Another: ".to_owned(),
                };
                all.push(Block::Text(
                    0,
                    ended(&format!("{lead}{}", why(witness, compared))),
                ));
                shown(witness, compared, all);
            }
        }
    }
}

/// A witness: where it is checked, what comes out, and the lines that make it.
fn shown(witness: &Witness, compared: &Compared<'_>, all: &mut Vec<Block>) {
    let level = match &witness.level {
        Some(level) => format!(", event level {level}"),
        None => String::new(),
    };
    all.push(Block::Text(
        2,
        format!(
            "At {} on {}{level}, under {}: {}; under {}: {} ({}).",
            at_stage(witness.stage),
            witness.day,
            compared.old.version,
            witness.old_outcome.words(),
            compared.new.version,
            witness.new_outcome.words(),
            witness.rules.join(", ")
        ),
    ));
    all.push(Block::Text(
        2,
        "What differs from a legal boat, as lines of its record:".to_owned(),
    ));
    all.push(Block::Copy(witness.fragment.clone()));
}

fn reach(compared: &Compared<'_>, all: &mut Vec<Block>) {
    let reach = &compared.comparison.reach;
    if reach.is_empty() {
        return;
    }
    let each: Vec<String> = reach
        .iter()
        .map(|(holding, most)| format!("{holding} {most}"))
        .collect();
    all.push(Block::Heading("How far the proof reaches".to_owned()));
    all.push(Block::Text(
        0,
        format!(
            "To boats with at most so many items: {}. That is two more than the largest count in either version.",
            each.join(", ")
        ),
    ));
}

fn clauses(compared: &Compared<'_>, joined: &Joined<'_>, all: &mut Vec<Block>) {
    all.push(Block::Heading("Clause by clause".to_owned()));
    let (told, rest): (Vec<&Clause<'_>>, Vec<&Clause<'_>>) =
        joined.clauses.iter().partition(|one| one.is_to_be_told());
    for clause in told {
        let change = clause.change;
        all.push(Block::Clause(format!(
            "{}: {}",
            change.title,
            effect_words(change.effect)
        )));
        sides(clause, all);
        if !change.for_whom.is_empty() {
            all.push(Block::Text(
                2,
                format!("For whom: {}", change.for_whom.join("; ")),
            ));
        }
        for sentence in proved(compared, clause) {
            all.push(Block::Text(2, sentence));
        }
        for (witness, what) in [(&change.illegal, "illegal"), (&change.legal, "legal")] {
            let Some(witness) = witness.as_ref().filter(|one| !is_shown(one, compared)) else {
                continue;
            };
            let sentence = format!("A boat that becomes {what}: {}", why(witness, compared));
            all.push(Block::Text(2, ended(&sentence)));
            shown(witness, compared, all);
        }
    }
    let sentence = match rest.len() {
        0 => return,
        1 => "One other clause is as it was, and by it nothing becomes illegal or legal: that is proved.".to_owned(),
        many => format!("{many} other clauses are as they were, and by them nothing becomes illegal or legal: that is proved."),
    };
    all.push(Block::Apart(sentence));
}

/// Whether a witness is shown under one of the directions already.
fn is_shown(witness: &Witness, compared: &Compared<'_>) -> bool {
    let of = |direction: &Direction| {
        [&direction.requirement, &direction.evidence]
            .into_iter()
            .any(|answer| match answer {
                Answer::Witness(all) => all.iter().any(|one| one.fragment == witness.fragment),
                Answer::ProvedNone | Answer::Undecided(_) => false,
            })
    };
    of(&compared.comparison.becomes_illegal) || of(&compared.comparison.becomes_legal)
}

fn effect_words(effect: Effect) -> &'static str {
    match effect {
        Effect::Added => "new",
        Effect::Removed => "gone",
        Effect::Tightened => "tighter",
        Effect::Relaxed => "looser",
        Effect::Both => "tighter and looser",
        Effect::Neutral => "no effect of its data",
        Effect::Undecided => "not known",
    }
}

/// What was and what is: what the comparison names, else what is written otherwise.
fn sides(clause: &Clause<'_>, all: &mut Vec<Block>) {
    let change = clause.change;
    if clause.differs.is_empty() && (change.was.is_some() || change.is.is_some()) {
        all.push(Block::Sides(2, change.was.clone(), change.is.clone()));
    }
    differs(&clause.differs, all);
}

fn differs(list: &[Differs], all: &mut Vec<Block>) {
    for one in list {
        all.push(Block::Text(2, capital(&one.what)));
        all.push(Block::Sides(4, one.was.clone(), one.is.clone()));
    }
}

/// What is proved of a clause, or why nothing is known of it, and what is claimed of its text.
pub(super) fn proved(compared: &Compared<'_>, clause: &Clause<'_>) -> Vec<String> {
    let mut all = proved_of_data(clause);
    let words = compared.comparison.words.iter();
    for one in words.filter(|one| one.what == "text" && one.of == clause.change.rule) {
        all.push(format!("Its text: {}", claim(compared, one)));
    }
    all
}

/// What is proved of a clause by its data, or why nothing is known of it.
pub(super) fn proved_of_data(clause: &Clause<'_>) -> Vec<String> {
    let change = clause.change;
    let mut all = Vec::new();
    let said = change.says.iter().map(|sentence| ended(&capital(sentence)));
    match change.effect {
        // The words of a clause may change something where its data don't.
        Effect::Neutral => {
            all.push("Proved: by its data nothing becomes illegal or legal.".to_owned());
            all.extend(said.filter(|one| !one.starts_with("Proved: nothing")));
        }
        Effect::Undecided if change.says.is_empty() => {
            all.push("Not known: no reason was given.".to_owned());
        }
        Effect::Undecided => all.extend(said.map(|one| match one.starts_with("Not known: ") {
            true => one,
            false => format!("Not known: {one}"),
        })),
        Effect::Added | Effect::Removed | Effect::Tightened | Effect::Relaxed | Effect::Both => {
            all.extend(said)
        }
    }
    all
}

/// Changed words: those of one claim together.
fn words(compared: &Compared<'_>, all: &mut Vec<Block>) {
    let words = &compared.comparison.words;
    if words.is_empty() {
        return;
    }
    all.push(Block::Heading(
        "What changed words do: no program can decide it".to_owned(),
    ));
    all.extend(claims(compared).into_iter().map(|one| Block::Text(0, one)));
}

/// What changed words are claimed to do, a sentence for each claim.
fn claims(compared: &Compared<'_>) -> Vec<String> {
    let mut claims: Vec<(String, Vec<&Wording>)> = Vec::new();
    for one in &compared.comparison.words {
        let sentence = claim(compared, one);
        match claims.iter_mut().find(|(said, _)| *said == sentence) {
            Some((_, of)) => of.push(one),
            None => claims.push((sentence, vec![one])),
        }
    }
    let told = claims.into_iter().map(|(sentence, of)| {
        let names: Vec<String> = of
            .iter()
            .map(|one| match one.what.as_str() {
                "text" => one.of.clone(),
                what => format!("{} ({what})", one.of),
            })
            .collect();
        format!("{}: {sentence}", names.join(", "))
    });
    told.collect()
}

fn claim(compared: &Compared<'_>, one: &Wording) -> String {
    let Some((effect, by)) = &one.claim else {
        return "not known; nobody says what they do.".to_owned();
    };
    let because = compared.because(one);
    let because = because.map_or_else(String::new, |because| format!(" {because}"));
    format!(
        "it is claimed, not proved, that {}. So says {by}.{because}",
        claimed(*effect)
    )
}

/// What is written otherwise and is no clause of the comparison.
fn written(compared: &Compared<'_>, joined: &Joined<'_>, all: &mut Vec<Block>) {
    let nothing = compared.nothing_changes();
    if !joined.only_written.is_empty() {
        all.push(Block::Heading(
            match nothing {
                true => "Written otherwise, without an effect of the data",
                false => "Written otherwise, and no answer above names it",
            }
            .to_owned(),
        ));
        for one in &joined.only_written {
            all.push(Block::Text(0, one.title.clone()));
            differs(&one.differs, all);
        }
    }
    if !joined.beside.is_empty() {
        all.push(Block::Heading(
            "Written otherwise beside the rules".to_owned(),
        ));
        for one in &joined.beside {
            all.push(Block::Text(0, one.title.clone()));
            differs(&one.differs, all);
        }
    }
}
