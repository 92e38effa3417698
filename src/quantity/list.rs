//! Lists that share a unit, and ranges.

use std::ops::Range;

use super::dimension::Dimension;
use super::literal;
use super::near;
use super::problem::{QuantityProblem, shown};
use super::unit::Unit;
use super::written::Quantity;

/// Problems after which a list is read no further: it is no list then.
const MOST_PROBLEMS: usize = 20;

/// Most entries of a list: far more than anybody reads off an instrument.
pub const MOST_ENTRIES: usize = 2000;

/// A quantity of a list with the bytes of its number in the text.
pub type Placed = (Quantity, Range<usize>);

impl Quantity {
    /// Reads numbers parted by blanks with one unit last, `4.76 4.77 4.75 mm`; each with the bytes of its
    /// number in the text. A single quantity of any form is a list of one.
    ///
    /// # Errors
    /// The first entry that can't be read; [`Quantity::parse_list_all`] gives all of them.
    pub fn parse_list(text: &str) -> Result<Vec<Placed>, QuantityProblem> {
        Quantity::parse_list_all(text, None).map_err(first)
    }

    /// Reads a list of quantities of this dimension.
    ///
    /// # Errors
    /// As [`Quantity::parse_list`], and for the unit what [`Quantity::parse_as`] says.
    pub fn parse_list_as(text: &str, expected: Dimension) -> Result<Vec<Placed>, QuantityProblem> {
        Quantity::parse_list_all(text, Some(expected)).map_err(first)
    }

    /// Reads a list, of this dimension if one is given.
    ///
    /// # Errors
    /// One problem for every entry that can't be read, in the order of the text; never an empty list.
    pub fn parse_list_all(
        text: &str,
        expected: Option<Dimension>,
    ) -> Result<Vec<Placed>, Vec<QuantityProblem>> {
        Quantity::parse_list_with(text, expected, |quantity, range| (quantity, range))
    }

    /// Reads a list as [`Quantity::parse_list_all`] does, and makes something of each quantity.
    ///
    /// # Errors
    /// As [`Quantity::parse_list_all`].
    pub fn parse_list_with<T>(
        text: &str,
        expected: Option<Dimension>,
        each: impl Fn(Quantity, Range<usize>) -> T,
    ) -> Result<Vec<T>, Vec<QuantityProblem>> {
        if let Some(list) = literal::quick_list(text, expected, &each) {
            return Ok(list);
        }
        let list = long_list(text, expected)?.into_iter();
        Ok(list
            .map(|(quantity, range)| each(quantity, range))
            .collect())
    }

    /// Reads a range: `2 mm to 12 mm`, `-60 mm to 60 mm`, `2 to 12 mm`; the lower end first.
    ///
    /// # Errors
    /// An end that can't be read, two kinds of quantity, or ends in the wrong order.
    pub fn parse_range(text: &str) -> Result<(Quantity, Quantity), QuantityProblem> {
        range(text, None)
    }

    /// Reads a range of quantities of this dimension.
    ///
    /// # Errors
    /// As [`Quantity::parse_range`] and [`Quantity::parse_as`].
    pub fn parse_range_as(
        text: &str,
        expected: Dimension,
    ) -> Result<(Quantity, Quantity), QuantityProblem> {
        range(text, Some(expected))
    }
}

fn first(problems: Vec<QuantityProblem>) -> QuantityProblem {
    let none = || QuantityProblem::new("quantity.empty", 0..0, "nothing is written here");
    problems.into_iter().next().unwrap_or_else(none)
}

/// The pieces of a text between blanks, with their bytes.
fn pieces(text: &str) -> Vec<Range<usize>> {
    let mut pieces = Vec::new();
    let mut start = None;
    for (at, b) in text.bytes().enumerate() {
        match (b.is_ascii_whitespace(), start) {
            (false, None) => start = Some(at),
            (true, Some(from)) => {
                pieces.push(from..at);
                start = None;
            }
            _ => {}
        }
    }
    pieces.extend(start.map(|from| from..text.len()));
    pieces
}

fn starts_like_number(piece: &str) -> bool {
    if near::is_no_number(piece) {
        return true;
    }
    let bare = piece.trim_start_matches(['-', '+', '.', ',']);
    bare.starts_with(|c: char| c.is_ascii_digit())
}

fn long_list(text: &str, expected: Option<Dimension>) -> Result<Vec<Placed>, Vec<QuantityProblem>> {
    let pieces = pieces(text);
    let piece = |range: &Range<usize>| text.get(range.clone()).unwrap_or("");
    let numbers = pieces
        .iter()
        .filter(|range| starts_like_number(piece(range)))
        .count();
    if numbers < 2 || literal::accepted(text).is_some() {
        let outer = pieces.first().map_or(0, |r| r.start)..pieces.last().map_or(0, |r| r.end);
        let single = literal::whole(text, expected);
        return single
            .map(|quantity| vec![(quantity, outer)])
            .map_err(|problem| vec![problem]);
    }
    if pieces.len() > MOST_ENTRIES + 1 {
        let message = format!("a list of more than {MOST_ENTRIES} entries");
        let problem = QuantityProblem::new("quantity.list_too_long", 0..text.len(), message);
        return Err(vec![
            problem.with_help("a longer series stands in several lists"),
        ]);
    }
    if let Some(problem) = wrong_shape(text, &pieces) {
        return Err(vec![problem]);
    }
    // The unit is the last piece, if that is no number.
    let (values, unit) = match pieces.split_last() {
        Some((last, values)) if !starts_like_number(piece(last)) => (values, piece(last)),
        _ => (pieces.as_slice(), ""),
    };
    let form = near::mended_list(text).map(|form| format!("write {form}"));
    if let (Some(last), "") = (pieces.last(), unit) {
        // `4.75mm` at the end: the others lack their unit only because of it.
        if piece(last).contains(|c: char| !c.is_ascii_digit() && !"+-.,_'’".contains(c))
            && let Err(problem) = literal::whole(piece(last), expected)
        {
            let mut problem = problem.shifted(last.start);
            problem.help = form.or(problem.help);
            return Err(vec![problem]);
        }
    }
    let mut list = Vec::with_capacity(values.len());
    let mut problems = Vec::new();
    for range in values {
        // Each number is read as if its unit stood beside it, so that it gets the same messages.
        let alone = match unit {
            "" => piece(range).to_owned(),
            unit => format!("{} {unit}", piece(range)),
        };
        match literal::whole(&alone, expected) {
            Ok(quantity) => list.push((quantity, range.clone())),
            Err(problem) => {
                let of_unit = problem.range.start > range.len();
                let at = match pieces.last() {
                    Some(last) if of_unit => last.clone(),
                    _ => {
                        let end = problem.range.end.min(range.len());
                        range.start + problem.range.start.min(end)..range.start + end
                    }
                };
                let unit_again =
                    of_unit && problems.iter().any(|p: &QuantityProblem| p.range == at);
                let mut problem = QuantityProblem {
                    range: at,
                    ..problem
                };
                if problem.code == "quantity.leading_zero" && list.len() + problems.len() > 0 {
                    problem.help =
                        Some("a number in thousands has no blank, as in 1000 mm".to_owned());
                } else if problem
                    .help
                    .as_ref()
                    .is_some_and(|help| help.starts_with("write "))
                {
                    problem.help = form.clone().or(problem.help);
                }
                // A wrong unit is wrong once, not for every number.
                let shared = ["quantity.no_unit", "quantity.dimension"].contains(&problem.code);
                let again = shared
                    && problems
                        .iter()
                        .any(|p: &QuantityProblem| p.code == problem.code);
                if !unit_again && !again {
                    problems.push(problem);
                }
                if problems.len() == MOST_PROBLEMS {
                    break;
                }
            }
        }
    }
    if problems.is_empty() {
        Ok(list)
    } else {
        Err(problems)
    }
}

/// What is wrong with a list as a whole: fractions, separators, several units.
fn wrong_shape(text: &str, pieces: &[Range<usize>]) -> Option<QuantityProblem> {
    let piece = |range: &Range<usize>| text.get(range.clone()).unwrap_or("");
    let help = |problem: QuantityProblem| match near::mended_list(text) {
        Some(form) => problem.with_help(format!("write {form}")),
        None => problem.with_help("a list is written as 4.76 4.77 4.75 mm"),
    };
    for range in pieces {
        let read = piece(range);
        if starts_like_number(read) && read.contains('/') {
            let message = format!(
                "{} is a fraction in a list that shares its unit",
                shown(read)
            );
            return Some(
                QuantityProblem::new("quantity.list_fraction", range.clone(), message)
                    .with_help("give each entry its unit: [1 3/16 in, 1 1/4 in]"),
            );
        }
        if read.ends_with([',', ';']) {
            let message = "numbers of a list that shares its unit are parted by blanks alone";
            return Some(help(QuantityProblem::new(
                "quantity.list_separator",
                range.clone(),
                message,
            )));
        }
    }
    let (_, inner) = pieces.split_last()?;
    let unit = inner
        .iter()
        .find(|range| !starts_like_number(piece(range)))?;
    let message = format!(
        "{} stands inside the list; one unit stands at its end",
        shown(piece(unit))
    );
    let problem = QuantityProblem::new("quantity.list_unit", unit.clone(), message);
    // `4.76 mm 4.77 mm`: the same unit each time.
    let words: Vec<&str> = pieces
        .iter()
        .map(piece)
        .filter(|p| !starts_like_number(p))
        .collect();
    let same = words
        .iter()
        .all(|w| Some(w) == words.first() && Unit::from_symbol(w).is_some());
    let numbers: Vec<&str> = pieces
        .iter()
        .map(piece)
        .filter(|p| starts_like_number(p))
        .collect();
    let form = format!("{} {}", numbers.join(" "), words.first().unwrap_or(&""));
    Some(
        if same && literal::quick_list(&form, None, |_, _| ()).is_some() {
            problem.with_help(format!("write {form}"))
        } else {
            problem.with_help("give each entry its unit: [4.76 mm, 3/16 in]")
        },
    )
}

fn range(text: &str, expected: Option<Dimension>) -> Result<(Quantity, Quantity), QuantityProblem> {
    const HELP: &str = "a range is written as 2 mm to 12 mm";
    let whole = 0..text.len();
    let Some((left, right)) = text.split_once(" to ") else {
        let problem = if text.trim_ascii().is_empty() {
            QuantityProblem::new("quantity.empty", whole, "nothing is written here")
        } else {
            let message = format!("\"{}\" is not a range", shown(text.trim_ascii()));
            QuantityProblem::new("quantity.range_form", whole, message)
        };
        return Err(problem.with_help(HELP));
    };
    let start = left.len() + " to ".len();
    let high = literal::whole(right, expected).map_err(|problem| problem.shifted(start))?;
    // `2 to 12 mm`: the first number takes the unit of the second.
    let alone = left.trim_ascii();
    let bare = alone
        .trim_start_matches('-')
        .bytes()
        .all(|b| b.is_ascii_digit() || b == b'.');
    let low = if bare && !alone.is_empty() && high.unit != Unit::PLAIN {
        literal::whole(&format!("{left} {}", high.unit), expected).map_err(|mut problem| {
            problem.range.end = problem.range.end.min(left.len());
            problem.range.start = problem.range.start.min(problem.range.end);
            problem
        })?
    } else {
        literal::whole(left, expected)?
    };
    if high.unit == Unit::PLAIN && low.unit != Unit::PLAIN {
        let message = format!("{high} has no unit; the upper end of a range has one");
        let problem = QuantityProblem::new("quantity.no_unit", start..text.len(), message);
        return Err(problem.with_help(format!("write {low} to {high} {}", low.unit)));
    }
    if low.dimension() != high.dimension() {
        let message = format!(
            "{low} is {} and {high} is {}; both ends are of one kind",
            low.dimension().in_words(),
            high.dimension().in_words()
        );
        return Err(QuantityProblem::new("quantity.range_kinds", whole, message).with_help(HELP));
    }
    if low.value > high.value {
        let message = format!("the range runs down from {low} to {high}");
        let help = format!("the lower end comes first: {high} to {low}");
        return Err(QuantityProblem::new("quantity.range_order", whole, message).with_help(help));
    }
    Ok((low, high))
}
