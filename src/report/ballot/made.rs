//! The sheet made of a comparison and of what it does to a fleet.

use super::super::compare::Compared;
use super::super::impact::{Fleet, said, told};
use super::super::rules_list::status;
use super::clauses;
use super::shown::boats;
use super::{Ballot, Blank, Part};
use crate::check::Outcome;
use crate::prove::{Answer, Direction, Standing, Witness};
use crate::rules::{RulesFile, Status};

/// Clauses that one sentence names; the rest is counted.
const NAMED: usize = 4;

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
    clauses::clauses(compared, &mut parts);
    clauses::words(compared, &mut parts);
    hits(fleet, &mut parts);
    boats(compared, &mut parts);
    needed(compared, &mut parts);
    vote(&mut parts);
    files(compared, &mut parts);
    // What is adopted already is proposed to nobody.
    let (was, is) = match new.status {
        Status::Proposed => ("Now", "Proposed"),
        Status::Draft => ("Now", "Draft"),
        Status::Adopted => ("Before", "Adopted"),
        Status::Repealed => ("Before", "After"),
    };
    Ballot {
        title: "Ballot sheet".to_owned(),
        lead: format!(
            "{}: change from {} to {}",
            new.title, old.version, new.version
        ),
        authority: new.authority.clone(),
        day: new.in_force_from.to_string(),
        facts: vec![
            (was.to_owned(), version(old)),
            (is.to_owned(), version(new)),
            (
                "Version step needed".to_owned(),
                comparison.required.word().to_owned(),
            ),
            ("Version step declared".to_owned(), declared.to_owned()),
        ],
        sides: [
            format!("{was} ({})", old.version),
            format!("{is} ({})", new.version),
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
        (&comparison.becomes_illegal, &ILLEGAL),
        (&comparison.becomes_legal, &LEGAL),
    ];
    for (direction, words) in both {
        parts.push(Part::Text(one_direction(compared, direction, words)));
    }
    for note in compared.notes {
        parts.push(Part::Text(note.clone()));
    }
}

/// One direction in words.
struct Words {
    some: &'static str,
    none: &'static str,
    whether: &'static str,
    short: &'static str,
}

const ILLEGAL: Words = Words {
    some: "Something that is legal now becomes illegal",
    none: "Nothing that is legal now becomes illegal",
    whether: "whether something that is legal now becomes illegal",
    short: "no record that conforms now comes out worse",
};
const LEGAL: Words = Words {
    some: "Something that is not legal now becomes legal",
    none: "Nothing that is not legal now becomes legal",
    whether: "whether something that is not legal now becomes legal",
    short: "no record comes out better",
};

/// What a boat has to be comes first, then what has to be shown of it.
fn one_direction(compared: &Compared<'_>, direction: &Direction, words: &Words) -> String {
    let required = match &direction.requirement {
        Answer::Witness(all) => {
            format!(
                "{}. Proved by boats: {}.",
                words.some,
                by_rules(compared, all)
            )
        }
        Answer::Undecided(reasons) => format!(
            "It is not known {}: {}.",
            words.whether,
            ended(&reasons.join("; "))
        ),
        Answer::ProvedNone => match direction.evidence {
            Answer::ProvedNone => {
                return format!(
                    "{}. That is proved, by what is required and by what evidence is asked.",
                    words.none
                );
            }
            Answer::Witness(_) | Answer::Undecided(_) => {
                format!("{} by what is required: that is proved.", words.none)
            }
        },
    };
    let evidence = match &direction.evidence {
        Answer::Witness(all) => {
            let becomes = all.first().map_or("", becomes);
            format!(
                "By what evidence is asked, {becomes}. Proved by records: {}.",
                by_rules(compared, all)
            )
        }
        Answer::Undecided(reasons) => format!(
            "By what evidence is asked it is not known: {}.",
            ended(&reasons.join("; "))
        ),
        Answer::ProvedNone => format!("By what evidence is asked {}: that is proved.", words.short),
    };
    format!("{required} {evidence}")
}

/// The clauses that boats fall by, the first few by name.
fn by_rules(compared: &Compared<'_>, all: &[Witness]) -> String {
    let mut names: Vec<String> = Vec::new();
    for rule in all.iter().flat_map(|one| &one.rules) {
        let name = clauses::heading(compared, rule);
        if !names.contains(&name) {
            names.push(name);
        }
    }
    let more = names.len().saturating_sub(NAMED);
    names.truncate(NAMED);
    let names = names.join("; ");
    match more {
        0 => names,
        more => format!("{names}; and {more} more, each under Clause by clause"),
    }
}

/// A sentence without its stop.
fn ended(words: &str) -> &str {
    words.trim_end_matches('.')
}

/// What becomes of a record by what is asked as evidence.
fn becomes(witness: &Witness) -> &'static str {
    use Outcome::{Conforms, DoesNotConform, NotApplicable, NotDecided};
    match (witness.old_outcome, witness.new_outcome) {
        (Conforms | NotApplicable, NotDecided) => "a record that conforms now would be left open",
        (Conforms | NotApplicable, DoesNotConform) => {
            "a record that conforms now would not conform"
        }
        (DoesNotConform, Conforms | NotApplicable) => {
            "a record that does not conform now would conform"
        }
        (DoesNotConform, NotDecided) => {
            "a record that does not conform now would be left open, which makes nothing legal"
        }
        (NotDecided, Conforms | NotApplicable) => "a record that is open now would conform",
        (NotDecided, DoesNotConform) => "a record that is open now would not conform",
        (Conforms | NotApplicable, Conforms | NotApplicable)
        | (DoesNotConform, DoesNotConform)
        | (NotDecided, NotDecided) => "a rule says something else of a record",
    }
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
    // What was looked at reads as one; what is missing, or to be known beside, is a list.
    let mut sentences = said::sample(fleet);
    let beside = sentences.split_off(sentences.len().min(3));
    parts.push(Part::Text(sentences.join(" ")));
    if !beside.is_empty() {
        parts.push(Part::List(beside));
    }
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
    parts.push(Part::Lead(sentence));
    parts.push(Part::Text(
        "What the steps mean. Major: something becomes illegal. Minor: something becomes legal, and nothing illegal. Patch: neither.".to_owned(),
    ));
}

/// By what anybody can see that these are the two files.
fn files(compared: &Compared<'_>, parts: &mut Vec<Part>) {
    heading(parts, "The two files");
    parts.push(Part::List(
        [compared.old, compared.new]
            .map(|rules| {
                format!(
                    "{} {}, digest {}",
                    rules.class.text, rules.version, rules.digest
                )
            })
            .to_vec(),
    ));
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
        blank("For the change", &[("", 10), ("Name", 1)]),
        blank("Against the change", &[("", 10), ("Name", 1)]),
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
