//! The sheet made of a comparison and of what it does to a fleet.

use super::super::compare::{Clause, Compared, why};
use super::super::impact::{Fleet, said, told};
use super::super::rules_list::status;
use super::super::words::{at_stage, capital};
use super::{Ballot, Blank, Part, Side};
use crate::prove::{Answer, Direction, Standing, Witness};
use crate::rules::RulesFile;

/// Makes the sheet; without a fleet it says that none was looked at.
pub fn ballot(compared: &Compared<'_>, fleet: Option<&Fleet<'_>>) -> Ballot {
    let (old, new) = (compared.old, compared.new);
    let version = |rules: &RulesFile| {
        format!(
            "{}, {}, in force from {}",
            rules.version,
            status(rules.status),
            rules.in_force_from
        )
    };
    let comparison = compared.comparison;
    let declared = comparison.declared.map_or("none", |bump| bump.word());
    let mut parts = Vec::new();
    effect(compared, &mut parts);
    clauses(compared, &mut parts);
    hits(fleet, &mut parts);
    witness(compared, &mut parts);
    needed(compared, &mut parts);
    vote(&mut parts);
    Ballot {
        title: "Ballot sheet".to_owned(),
        lead: format!(
            "{}: change from {} to {}",
            new.title, old.version, new.version
        ),
        authority: new.authority.clone(),
        day: new.in_force_from.to_string(),
        facts: vec![
            ("Now".to_owned(), version(old)),
            ("Proposed".to_owned(), version(new)),
            (
                "Version step needed".to_owned(),
                comparison.required.word().to_owned(),
            ),
            ("Version step declared".to_owned(), declared.to_owned()),
            ("Digest of the rules now".to_owned(), old.digest.clone()),
            ("Digest of the proposal".to_owned(), new.digest.clone()),
        ],
        sides: [
            format!("Now ({})", old.version),
            format!("Proposed ({})", new.version),
        ],
        parts,
    }
}

fn heading(parts: &mut Vec<Part>, words: &str) {
    parts.push(Part::Heading(words.to_owned()));
}

/// What the change does, in plain words.
fn effect(compared: &Compared<'_>, parts: &mut Vec<Part>) {
    heading(parts, "What the change does");
    let comparison = compared.comparison;
    let both = [
        (
            &comparison.becomes_illegal,
            "Something that is legal now becomes illegal",
            "Nothing that is legal now becomes illegal",
        ),
        (
            &comparison.becomes_legal,
            "Something that is not legal now becomes legal",
            "Nothing that is not legal now becomes legal",
        ),
    ];
    for (direction, some, none) in both {
        parts.push(Part::Text(one_direction(compared, direction, some, none)));
    }
    for note in compared.notes {
        parts.push(Part::Text(note.clone()));
    }
}

fn one_direction(compared: &Compared<'_>, direction: &Direction, some: &str, none: &str) -> String {
    let answers = [
        (&direction.requirement, "by what is required"),
        (&direction.evidence, "by what evidence is asked"),
    ];
    for (answer, by) in answers {
        if let Answer::Witness(all) = answer
            && let Some(first) = all.first()
        {
            return format!(
                "{some}, {by}. Proved by a boat: {}.",
                ended(&why(first, compared))
            );
        }
    }
    let open = answers.iter().find_map(|(answer, by)| match answer {
        Answer::Undecided(reasons) => Some((reasons, by)),
        Answer::ProvedNone | Answer::Witness(_) => None,
    });
    match open {
        Some((reasons, by)) => format!(
            "It is not known, {by}, whether {}: {}.",
            lowered(some),
            ended(&reasons.join("; "))
        ),
        None => {
            format!("{none}. That is proved, by what is required and by what evidence is asked.")
        }
    }
}

/// A sentence without its stop.
fn ended(words: &str) -> &str {
    words.trim_end_matches('.')
}

fn lowered(words: &str) -> String {
    let mut letters = words.chars();
    let first = letters.next().into_iter().flat_map(char::to_lowercase);
    first.chain(letters).collect()
}

/// Old and new, clause by clause.
fn clauses(compared: &Compared<'_>, parts: &mut Vec<Part>) {
    heading(parts, "Clause by clause");
    let joined = compared.joined();
    let mut told = 0;
    for clause in joined.clauses.iter().filter(|one| one.is_to_be_told()) {
        told += 1;
        let change = clause.change;
        parts.push(Part::Clause(change.title.clone()));
        let sides = sides(compared, clause);
        if !sides.is_empty() {
            parts.push(Part::Sides(sides));
        }
        let mut sentences = vec![format!("Effect: {}.", compared.effect_words(clause))];
        if !change.for_whom.is_empty() {
            sentences.push(format!("For whom: {}.", change.for_whom.join("; ")));
        }
        sentences.extend(compared.proved(clause));
        parts.push(Part::Text(sentences.join(" ")));
    }
    for changed in joined.only_written.iter().chain(&joined.beside) {
        told += 1;
        parts.push(Part::Clause(changed.title.clone()));
        let each = changed.differs.iter().map(|one| Side {
            what: capital(&one.what),
            was: one.was.clone(),
            is: one.is.clone(),
        });
        parts.push(Part::Sides(each.collect()));
    }
    let rest = joined
        .clauses
        .iter()
        .filter(|one| !one.is_to_be_told())
        .count();
    parts.push(Part::Text(match (told, rest) {
        (0, _) => "No clause is written otherwise.".to_owned(),
        (_, 0) => "There is no other clause.".to_owned(),
        (_, 1) => "The one other clause stays as it is.".to_owned(),
        (_, many) => format!("The {many} other clauses stay as they are."),
    }));
}

/// The text of a clause, then what else is written otherwise.
fn sides(compared: &Compared<'_>, clause: &Clause<'_>) -> Vec<Side> {
    let id = &clause.change.rule;
    let text = |rules: &RulesFile| {
        let rule = rules.rules.iter().find(|rule| rule.id.text == *id);
        let marks = rules.marks.iter().find(|one| one.id.text == *id);
        rule.map(|rule| rule.text.trim().to_owned())
            .or_else(|| marks.map(|one| one.text.trim().to_owned()))
    };
    let (was, is) = (text(compared.old), text(compared.new));
    let mut all = Vec::new();
    if was.is_some() || is.is_some() {
        all.push(Side {
            what: "Text".to_owned(),
            was,
            is,
        });
    }
    for one in &clause.differs {
        if one.what == "text" {
            continue;
        }
        all.push(Side {
            what: capital(&one.what),
            was: one.was.clone(),
            is: one.is.clone(),
        });
    }
    let change = clause.change;
    if clause.differs.is_empty() && (change.was.is_some() || change.is.is_some()) {
        all.push(Side {
            what: "In data".to_owned(),
            was: change.was.clone(),
            is: change.is.clone(),
        });
    }
    all
}

/// Whom it hits: counts, and never a name.
fn hits(fleet: Option<&Fleet<'_>>, parts: &mut Vec<Part>) {
    heading(parts, "Whom it hits");
    let Some(fleet) = fleet else {
        parts.push(Part::Text(
            "No measured boats were looked at for this sheet.".to_owned(),
        ));
        return;
    };
    let sentences = said::sample(fleet);
    parts.push(Part::Text(sentences.join(" ")));
    for sentence in said::answer(fleet).into_iter().chain(said::doubt(fleet)) {
        parts.push(Part::Text(sentence));
    }
    let mut moves = told::moves(fleet);
    let none = |cells: &[String]| cells.iter().all(|cell| cell == "0");
    moves.rows.retain(|(_, cells)| !none(cells));
    parts.push(Part::Table(moves));
    if !fleet.impact.rules.is_empty() {
        parts.push(Part::Table(told::rules(fleet)));
    }
    parts.push(Part::Text(
        "Counted are the records that were given; boats that nobody measured are not among them."
            .to_owned(),
    ));
}

/// One boat that shows it.
fn witness(compared: &Compared<'_>, parts: &mut Vec<Part>) {
    let Some(witness) = compared.reason() else {
        return;
    };
    heading(parts, "A boat that shows it");
    parts.push(Part::Text(checked(compared, witness)));
    parts.push(Part::Copy(witness.fragment.clone()));
}

fn checked(compared: &Compared<'_>, witness: &Witness) -> String {
    let level = match &witness.level {
        Some(level) => format!(", event level {level}"),
        None => String::new(),
    };
    format!(
        "A boat that was made up, and checked under both versions, at {} on {}{level}: under {} it {}, under {} it {}. What differs from a legal boat, as lines of its record:",
        at_stage(witness.stage),
        witness.day,
        compared.old.version,
        verb(witness.old_outcome),
        compared.new.version,
        verb(witness.new_outcome),
    )
}

fn verb(outcome: crate::check::Outcome) -> &'static str {
    use crate::check::Outcome;
    match outcome {
        Outcome::Conforms | Outcome::NotApplicable => "conforms",
        Outcome::DoesNotConform => "does not conform",
        Outcome::NotDecided => "is not decided",
    }
}

/// Which version it needs, and what is claimed of words.
fn needed(compared: &Compared<'_>, parts: &mut Vec<Part>) {
    heading(parts, "The version that it needs");
    let comparison = compared.comparison;
    let required = comparison.required.word();
    let declared = comparison
        .declared
        .map_or("no step forward", |bump| bump.word());
    let sentence = match comparison.standing() {
        Standing::Accepted | Standing::MoreThanNeeded if comparison.undecided() => format!(
            "At least {required} is needed, and {declared} is declared: that is enough. Something is not known."
        ),
        Standing::Accepted => format!(
            "A {required} step is needed, and a {declared} step is declared: that is right."
        ),
        Standing::MoreThanNeeded => format!(
            "A {required} step is needed, and a {declared} step is declared: more than is needed, which is allowed."
        ),
        Standing::Refused => format!(
            "A {required} step is needed, and {declared} is declared: the proposal has to be numbered anew before it can be adopted."
        ),
        Standing::NotConfirmed => format!(
            "At least {required} is needed, and {declared} is declared; whether that is enough is not known."
        ),
    };
    parts.push(Part::Text(sentence));
    parts.push(Part::Text(
        "Major: something becomes illegal. Minor: something becomes legal, and nothing illegal. Patch: neither.".to_owned(),
    ));
    for sentence in compared.claims() {
        parts.push(Part::Text(sentence));
    }
}

/// What people write.
fn vote(parts: &mut Vec<Part>) {
    heading(parts, "For and against");
    let blank = |heading: &str, fields: &[(&str, u32)]| Blank {
        heading: heading.to_owned(),
        sentence: String::new(),
        fields: fields
            .iter()
            .map(|(label, lines)| ((*label).to_owned(), *lines))
            .collect(),
    };
    parts.push(Part::Boxes(vec![
        blank("For the change", &[("", 5), ("Name", 1)]),
        blank("Against the change", &[("", 5), ("Name", 1)]),
    ]));
    parts.push(Part::Boxes(vec![
        blank(
            "The vote",
            &[
                ("For", 1),
                ("Against", 1),
                ("Abstained", 1),
                ("Majority that the class asks for", 1),
            ],
        ),
        blank(
            "The result",
            &[
                ("Passed, or not", 1),
                ("Day", 1),
                ("In force from", 1),
                ("Signed for the class", 1),
            ],
        ),
    ]));
    parts.push(Part::Text(
        "What is proved here is proved of the rules as data; what counts is the text that the class adopts. Compliance is not safety: nothing on this sheet says that a boat is safe, or that the ice is.".to_owned(),
    ));
}
