//! The check character of the number on a mark.

use serde_json::json;

use crate::app::{Exit, Trouble};
use crate::event::{NumberProblem, check_character, read_number};
use crate::report::{Beside, Reckoned, ReckonedOutcome};
use crate::text::quoted;
use crate::uncertainty::Coverage;

use super::given::{source, wrong};

const SOURCE: &str = "ISO/IEC 7064, hybrid system MOD 37,36";

/// What is wrong with a text that is no number.
fn problem(name: &'static str, text: &str, found: NumberProblem) -> Trouble {
    const HELP: &str = "letters A to Z and digits; blanks, hyphens and points are passed over";
    let fault = match found {
        NumberProblem::Empty => wrong(
            "reckon.number",
            name,
            text,
            format!("{} has no number", quoted(text)),
            HELP,
        ),
        NumberProblem::Long(count) => wrong(
            "reckon.number",
            name,
            text,
            format!("{} has {count} characters; up to 64 are read", quoted(text)),
            HELP,
        ),
        NumberProblem::Character(at, letter) => {
            let message = format!("{} has {} in it", quoted(text), quoted(&letter.to_string()));
            let span = crate::text::Span::new(at, at + letter.len_utf8());
            crate::diagnostic::Diagnostic::fault("reckon.number", message)
                .label(&source(name, text), span, "neither a letter nor a digit")
                .help(HELP)
        }
    };
    Trouble::one(fault)
}

/// The number with its check character.
///
/// # Errors
/// A text that is no number.
pub fn mark(number: &str) -> Result<Reckoned, Trouble> {
    const NAME: &str = "--number";
    let check = check_character(number).map_err(|found| problem(NAME, number, found))?;
    let bare = number.trim().to_ascii_uppercase();
    let printed = format!("{bare}-{check}");
    Ok(Reckoned {
        what: format!("Check character of {bare}"),
        result: ReckonedOutcome::Text(check.to_string()),
        coverage: Coverage::ninety_five(),
        formula: vec![
            "P begins as 36; for each character a: P = 2·((P + a) mod 36, 36 for 0) mod 37"
                .to_owned(),
            "then P + check character ≡ 1 (mod 36)".to_owned(),
        ],
        source: SOURCE.to_owned(),
        steps: Vec::new(),
        beside: vec![
            Beside::new("number", "", json!(bare)),
            Beside::new("check_character", "", json!(check.to_string())),
            Beside::new("printed", format!("On the mark: {printed}"), json!(printed)),
        ],
        notices: Vec::new(),
        register: crate::uncertainty::Register::new(),
        picture: None,
    })
}

/// Whether a number that was read off a mark, with its check character last, is right.
///
/// # Errors
/// A text that is no number.
pub fn mark_read(printed: &str) -> Result<(Reckoned, Exit), Trouble> {
    const NAME: &str = "--printed";
    let read = read_number(printed).map_err(|found| problem(NAME, printed, found))?;
    let fits = read.fits();
    let words = if fits {
        format!("{} fits its check character {}", read.number, read.given)
    } else {
        format!(
            "{} does not fit the check character {}: it would be {}",
            read.number, read.given, read.expected
        )
    };
    let mut notices = Vec::new();
    if !fits {
        notices
            .push("Read the mark again: O and 0, I and 1, S and 5, B and 8 look alike".to_owned());
    }
    let reckoned = Reckoned {
        what: "Number as read".to_owned(),
        result: ReckonedOutcome::Text(words),
        coverage: Coverage::ninety_five(),
        formula: Vec::new(),
        source: SOURCE.to_owned(),
        steps: Vec::new(),
        beside: vec![
            Beside::new("number", "", json!(read.number)),
            Beside::new("check_character", "", json!(read.expected.to_string())),
            Beside::new("fits", "", json!(fits)),
        ],
        notices,
        register: crate::uncertainty::Register::new(),
        picture: None,
    };
    let exit = if fits {
        Exit::Done
    } else {
        Exit::DoesNotConform
    };
    Ok((reckoned, exit))
}
