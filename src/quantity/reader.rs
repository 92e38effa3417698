//! The grammar of a written quantity, and where a text leaves it.
//!
//! ```text
//! quantity = ["-"] number [blank unit]  |  ["-"] digits " deg " minutes " min"
//! number   = digits ["." digits]  |  [digits blank] digits "/" digits
//! ```
//! One blank or more stands between number and unit; no digit is glued to a unit, so that `4.70 mm` has
//! one spelling. A number has at most 40 digits, a part of a fraction at most 18. Below the stroke stands at
//! most 1000, factors aside that units bring with them (millimetres in inches, kilograms in pounds): scales
//! are divided no finer, and sums of such fractions stay short, since their denominators divide one number.

use std::num::NonZeroU64;
use std::ops::Range;

use num_integer::Integer as _;

use super::exact::Exact;
use super::near;
use super::problem::{QuantityProblem, shown};
use super::unit::Unit;
use super::written::Quantity;

/// Most digits of a number, before and after the point together.
pub const MOST_DIGITS: usize = 40;
/// Most digits of the numerator, and of the denominator, of a fraction.
const MOST_FRACTION_DIGITS: usize = 18;
/// The largest denominator of a fraction, factors of [`UNIT_FACTORS`] aside.
const LARGEST_DENOMINATOR: u64 = 1000;
/// The numbers that units are defined with: 10, 25.4 mm in an inch, 0.45359237 kg in a pound, 9.80665 m/s².
const UNIT_FACTORS: u64 = 10 * 127 * 45_359_237 * 980_665;

/// Words of the expression language that may follow a number; they are no units.
const KEYWORDS: [&str; 11] = [
    "and", "or", "not", "is", "one", "none", "of", "where", "over", "yes", "no",
];

/// Whether the literal is the whole text, or stands at the start of an expression.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Reach {
    Whole,
    Start,
}

/// A number without its sign.
struct Unsigned {
    value: Exact,
    step: Exact,
    decimals: Option<u8>,
    end: usize,
}

fn byte(text: &str, at: usize) -> Option<u8> {
    text.as_bytes().get(at).copied()
}

pub(super) fn is_digit(text: &str, at: usize) -> bool {
    byte(text, at).is_some_and(|b| b.is_ascii_digit())
}

/// The digits from `at` on, perhaps none.
pub(super) fn digits(text: &str, at: usize) -> &str {
    let rest = text.get(at..).unwrap_or("");
    let end = rest
        .bytes()
        .position(|b| !b.is_ascii_digit())
        .unwrap_or(rest.len());
    rest.get(..end).unwrap_or("")
}

/// Where the blanks from `at` on end.
pub(super) fn skip_blanks(text: &str, at: usize) -> usize {
    let rest = text.get(at..).unwrap_or("");
    at + (rest.len() - rest.trim_ascii_start().len())
}

/// The end of the piece from `at` on that holds no blank.
fn piece_end(text: &str, at: usize) -> usize {
    let rest = text.get(at..).unwrap_or("");
    at + rest
        .find(|c: char| c.is_ascii_whitespace())
        .unwrap_or(rest.len())
}

fn problem_at(
    code: &'static str,
    range: Range<usize>,
    message: impl Into<String>,
) -> QuantityProblem {
    QuantityProblem::new(code, range, message)
}

/// The quantity at the start of `text`, and where it ends.
pub(super) fn read(text: &str, reach: Reach) -> Result<(Quantity, usize), QuantityProblem> {
    let (negative, at) = match byte(text, 0) {
        Some(b'-') => (true, 1),
        // A correction is often written with its plus; in an expression it would be an operator.
        Some(b'+') if reach == Reach::Whole => (false, 1),
        _ => (false, 0),
    };
    let number = number(text, at)?;
    let (unit, end) = unit(text, &number, reach)?;
    if unit == Unit::DEG
        && number.decimals == Some(0)
        && let Some((minutes, end)) = arc_minutes(text, end)?
    {
        let sixty = |e: &Exact| {
            e.checked_div(&Exact::from_integer(60))
                .unwrap_or(Exact::ZERO)
        };
        let value = number.value.add(&sixty(&minutes.value));
        let quantity = Quantity {
            value: if negative { value.neg() } else { value },
            unit,
            resolution: sixty(&minutes.step),
            decimals: None,
        };
        return finish(text, quantity, end, reach);
    }
    let value = if negative {
        number.value.neg()
    } else {
        number.value
    };
    let quantity = Quantity {
        value: unit.to_base(&value),
        unit,
        resolution: number.step.mul(&unit.factor()),
        decimals: number.decimals,
    };
    finish(text, quantity, end, reach)
}

/// A whole text ends with its quantity.
fn finish(
    text: &str,
    quantity: Quantity,
    end: usize,
    reach: Reach,
) -> Result<(Quantity, usize), QuantityProblem> {
    let rest = skip_blanks(text, end);
    if reach == Reach::Start || rest == text.len() {
        return Ok((quantity, end));
    }
    let more = text.get(rest..).unwrap_or("");
    let range = rest..text.len();
    let read = quantity.as_written();
    if Unit::from_symbol(more).is_some() && quantity.unit != Unit::PLAIN {
        let message = format!(
            "{} stands after the unit {}; a quantity has one unit",
            shown(more),
            quantity.unit
        );
        return Err(problem_at("quantity.second_unit", range, message));
    }
    if !is_digit(more, 0) && !more.starts_with('-') {
        let message = format!("{} stands after {read}", quoted(more));
        return Err(problem_at("quantity.text_after", range, message));
    }
    let message = format!(
        "{} stands after {read}; one quantity is read here",
        quoted(more)
    );
    Err(problem_at("quantity.second_number", range, message))
}

fn number(text: &str, at: usize) -> Result<Unsigned, QuantityProblem> {
    let whole = digits(text, at);
    if whole.is_empty() {
        return Err(no_number(text, at));
    }
    let mut end = at + whole.len();
    let places = match byte(text, end) {
        Some(b'.') => digits(text, end + 1),
        Some(b'/') if is_digit(text, end + 1) => return fraction(text, at, None),
        _ => "",
    };
    if byte(text, end) == Some(b'.') {
        end += 1 + places.len();
        if places.is_empty() && byte(text, end) != Some(b'.') {
            let read = text.get(at..end).unwrap_or("");
            return Err(problem_at(
                "quantity.point_without_digit",
                at..end,
                format!("{read} ends with the point; a digit stands after it"),
            ));
        }
    }
    number_goes_on(text, at, end)?;
    plain_digits(text, at, whole, places)?;
    if places.is_empty() {
        let next = skip_blanks(text, end);
        let stroke = next + digits(text, next).len();
        let mixed = next > end
            && stroke > next
            && byte(text, stroke) == Some(b'/')
            && is_digit(text, stroke + 1);
        if mixed {
            return fraction(text, next, Some((at, Exact::from_digits(false, whole, ""))));
        }
    }
    Ok(Unsigned {
        value: Exact::from_digits(false, whole, places),
        step: Exact::power_of_ten(-i32::try_from(places.len()).unwrap_or(0)),
        decimals: u8::try_from(places.len()).ok(),
        end,
    })
}

/// Length and leading zeros of a number.
fn plain_digits(text: &str, at: usize, whole: &str, places: &str) -> Result<(), QuantityProblem> {
    let end = at
        + whole.len()
        + if places.is_empty() {
            0
        } else {
            1 + places.len()
        };
    if whole.len() + places.len() > MOST_DIGITS {
        let message = format!(
            "a number of {} digits; at most {MOST_DIGITS} are read",
            whole.len() + places.len()
        );
        return Err(problem_at("quantity.too_many_digits", at..end, message));
    }
    if whole.len() > 1 && whole.starts_with('0') {
        let read = text.get(at..end).unwrap_or(whole);
        let message = format!("{read} starts with a zero that says nothing");
        return Err(problem_at("quantity.leading_zero", at..end, message));
    }
    Ok(())
}

/// What can't follow the digits of a number: a second point, a comma, an exponent, a separator.
fn number_goes_on(text: &str, at: usize, end: usize) -> Result<(), QuantityProblem> {
    let rest = text.get(end..).unwrap_or("");
    let mut following = rest.chars();
    let (Some(first), second) = (following.next(), following.next()) else {
        return Ok(());
    };
    let digit_next = second.is_some_and(|c| c.is_ascii_digit());
    // The number as far as it was meant: digits, points, commas and separators.
    let meant = |c: char| c.is_ascii_digit() || matches!(c, '.' | ',' | '_' | '\'' | '’');
    let stop = end + rest.find(|c| !meant(c)).unwrap_or(rest.len());
    let read = text.get(at..stop).unwrap_or("");
    match first {
        '.' => Err(problem_at(
            "quantity.two_points",
            at..stop,
            format!("{read} has two points"),
        )),
        ',' if digit_next => {
            let groups: Vec<&str> = read.split(',').collect();
            let decimal = groups.len() == 2 && !read.contains('.');
            let thousands = groups
                .iter()
                .skip(1)
                .all(|g| g.split('.').next().is_some_and(|g| g.len() == 3));
            let message = match (decimal, thousands && !read.starts_with("0,")) {
                (true, true) => format!(
                    "{read} can be read in two ways; a number has a point for its decimals and nothing between thousands"
                ),
                (true, false) => format!("{read} has a decimal comma; a point is read here"),
                (false, _) => format!("{read} has a comma; nothing stands between thousands"),
            };
            let code = if decimal {
                "quantity.decimal_comma"
            } else {
                "quantity.thousands_separator"
            };
            Err(problem_at(code, at..stop, message))
        }
        '_' | '\'' | '’' if digit_next => Err(problem_at(
            "quantity.thousands_separator",
            at..stop,
            format!("{read} has a separator between its digits; a number has none"),
        )),
        'e' | 'E' => {
            let power = rest.get(1..).unwrap_or("");
            let unsigned = power.trim_start_matches(['+', '-']);
            if !unsigned.starts_with(|c: char| c.is_ascii_digit()) {
                return Ok(());
            }
            let stop = end + rest.len() - unsigned.len() + digits(unsigned, 0).len();
            let read = text.get(at..stop).unwrap_or("");
            let message = format!("{read} has an exponent; a number is written out in digits");
            Err(problem_at("quantity.exponent", at..stop, message))
        }
        'x' | 'X' | 'o' | 'b'
            if text.get(at..end) == Some("0") && second.is_some_and(|c| c.is_ascii_hexdigit()) =>
        {
            let stop = piece_end(text, end);
            let message = format!(
                "{} is not a decimal number",
                shown(text.get(at..stop).unwrap_or(""))
            );
            Err(problem_at("quantity.not_decimal", at..stop, message))
        }
        _ => Ok(()),
    }
}

/// A denominator without the factors that units bring with them.
fn uncommon(mut d: u64) -> u64 {
    loop {
        let shared = d.gcd(&UNIT_FACTORS);
        if shared <= 1 {
            return d;
        }
        d /= shared;
    }
}

/// `3/16` at `at`, after the whole number of a mixed one (where it starts, what it is).
fn fraction(
    text: &str,
    at: usize,
    whole: Option<(usize, Exact)>,
) -> Result<Unsigned, QuantityProblem> {
    let over = digits(text, at);
    let under = digits(text, at + over.len() + 1);
    let end = at + over.len() + 1 + under.len();
    let read = text.get(at..end).unwrap_or("");
    let problem = |code, message: String| Err(problem_at(code, at..end, message));
    if over.len().max(under.len()) > MOST_FRACTION_DIGITS {
        let message =
            format!("a fraction with more than {MOST_FRACTION_DIGITS} digits above or below");
        return problem("quantity.too_many_digits", message);
    }
    number_goes_on(text, at, end)?;
    if byte(text, end) == Some(b'/') {
        return problem(
            "quantity.fraction_form",
            format!("{read} is followed by a second stroke"),
        );
    }
    plain_digits(text, at, over, "")?;
    let (Ok(n), Ok(d)) = (over.parse::<u64>(), under.parse::<u64>()) else {
        return problem(
            "quantity.fraction_form",
            format!("{read} is not a fraction"),
        );
    };
    let Some(d) = NonZeroU64::new(d) else {
        return problem(
            "quantity.zero_denominator",
            format!("{read} has the denominator 0"),
        );
    };
    plain_digits(text, end - under.len(), under, "")?;
    if uncommon(d.get()) > LARGEST_DENOMINATOR {
        return problem(
            "quantity.denominator",
            format!(
                "{read} has the denominator {d}; a scale is divided in at most {LARGEST_DENOMINATOR} parts"
            ),
        );
    }
    let mut value = Exact::from_parts(i128::from(n), d);
    if let Some((start, whole)) = whole {
        if n >= d.get() {
            let message = format!(
                "{} is not a mixed number: {read} is 1 or more",
                shown(text.get(start..end).unwrap_or(read))
            );
            return Err(problem_at("quantity.fraction_form", start..end, message));
        }
        value = value.add(&whole);
    }
    Ok(Unsigned {
        value,
        step: Exact::from_parts(1, d),
        decimals: None,
        end,
    })
}

/// Whether a character may belong to what somebody wrote as a unit.
fn in_unit(c: char) -> bool {
    c.is_alphanumeric() || "%°º'’′\"”″²³^/._·".contains(c)
}

fn unit(text: &str, number: &Unsigned, reach: Reach) -> Result<(Unit, usize), QuantityProblem> {
    let at = skip_blanks(text, number.end);
    let glued = at == number.end;
    let rest = text.get(at..).unwrap_or("");
    let starts = |c: char| in_unit(c) && !c.is_ascii_digit() && !"/._".contains(c);
    let length = match reach {
        _ if rest.is_empty() => return Ok((Unit::PLAIN, number.end)),
        Reach::Whole => piece_end(rest, 0),
        Reach::Start if !rest.starts_with(starts) => return Ok((Unit::PLAIN, number.end)),
        Reach::Start => rest.find(|c| !in_unit(c)).unwrap_or(rest.len()),
    };
    let (word, end) = (rest.get(..length).unwrap_or(rest), at + length);
    if reach == Reach::Start && !glued && KEYWORDS.contains(&word) {
        return Ok((Unit::PLAIN, number.end));
    }
    if is_digit(word, 0) || (word.starts_with(['-', '+', '.']) && is_digit(word, 1)) {
        // A second number: what follows the first is told by the caller.
        return Ok((Unit::PLAIN, number.end));
    }
    if word.starts_with(['/', '⁄']) {
        let message = match number.decimals {
            Some(0) => "a fraction has no blank at its stroke",
            _ => "a fraction has a whole number above its stroke and one below",
        };
        return Err(problem_at("quantity.fraction_form", at..end, message));
    }
    match Unit::from_symbol(word) {
        Some(unit) if !glued => Ok((unit, end)),
        Some(unit) => {
            let read = shown(text.get(..end).unwrap_or(text));
            let message = format!("{read}: a blank is missing between the number and {unit}");
            Err(problem_at("quantity.unit_glued", at..end, message))
        }
        None => Err(unknown_unit(word, at..end, reach)),
    }
}

fn unknown_unit(word: &str, range: Range<usize>, reach: Reach) -> QuantityProblem {
    let operand = word.split_once(['/', '*']).filter(|(unit, operand)| {
        Unit::from_symbol(unit).is_some() && operand.starts_with(|c: char| c.is_ascii_digit())
    });
    if let Some((unit, _)) = operand.filter(|_| reach == Reach::Start) {
        let message = format!("an operator is glued to {unit}; it stands between blanks");
        return problem_at("quantity.operator_glued", range, message);
    }
    let message = format!("{} is not a unit known here", quoted(word));
    let problem = problem_at("quantity.unknown_unit", range, message);
    match (reach, near::hint(word, None)) {
        (Reach::Whole, _) => problem,
        (Reach::Start, Some(hint)) => problem.with_help(hint),
        (Reach::Start, None) => {
            problem.with_help("after a number stands a unit, an operator or nothing more")
        }
    }
}

fn quoted(word: &str) -> String {
    if word.contains('"') {
        format!("'{}'", shown(word))
    } else {
        format!("\"{}\"", shown(word))
    }
}

/// The minutes in `82 deg 30 min`, from behind `deg`; `None` when no minutes follow.
fn arc_minutes(text: &str, at: usize) -> Result<Option<(Unsigned, usize)>, QuantityProblem> {
    let start = skip_blanks(text, at);
    if start == at || !is_digit(text, start) {
        return Ok(None);
    }
    let Ok(minutes) = number(text, start) else {
        return Ok(None);
    };
    let Ok((Unit::ARC_MIN, end)) = unit(text, &minutes, Reach::Start) else {
        return Ok(None);
    };
    let read = text.get(start..end).unwrap_or("");
    if minutes.decimals.is_none() {
        let message = format!("{read}: minutes of arc are a whole number or a decimal");
        return Err(problem_at("quantity.arc_minutes", start..end, message));
    }
    if minutes.value >= Exact::from_integer(60) {
        let message = format!("{read}: a degree has 60 minutes, so fewer stand beside degrees");
        return Err(problem_at("quantity.arc_minutes", start..end, message));
    }
    Ok(Some((minutes, end)))
}

/// Why no number starts at `at`.
fn no_number(text: &str, at: usize) -> QuantityProblem {
    let rest = text.get(at..).unwrap_or("");
    let end = piece_end(text, skip_blanks(text, at));
    let piece = text.get(at..end).unwrap_or("").trim_ascii();
    if text.is_empty() {
        return problem_at("quantity.empty", 0..0, "nothing is written here");
    }
    if rest.is_empty() {
        return problem_at(
            "quantity.no_digits",
            0..text.len(),
            format!("{text} is a sign without a number"),
        );
    }
    if rest.starts_with(['-', '+']) {
        return problem_at(
            "quantity.two_signs",
            0..at + 1,
            format!("{} has two signs", shown(text.get(..end).unwrap_or(text))),
        );
    }
    if at > 0 && rest.starts_with(|c: char| c.is_ascii_whitespace()) {
        let message =
            "a blank stands between the sign and the number; the sign is glued to its number";
        return problem_at("quantity.sign_apart", 0..end, message);
    }
    if rest.starts_with('.') && is_digit(rest, 1) {
        let message = format!(
            "{} starts with the point; a digit stands before it",
            shown(piece)
        );
        return problem_at("quantity.point_without_digit", 0..end, message);
    }
    if rest.starts_with(',') && is_digit(rest, 1) {
        let message = format!(
            "{} starts with a comma; a decimal is written with a point and a digit before it",
            shown(piece)
        );
        return problem_at("quantity.decimal_comma", 0..end, message);
    }
    if at == 0 && rest.starts_with(['<', '>', '=', '≤', '≥', '~', '±', '≈']) {
        let message = format!(
            "{} starts with a sign of comparison; a quantity is the number and its unit alone",
            shown(text)
        );
        return problem_at("quantity.no_digits", 0..text.len(), message);
    }
    match Unit::from_symbol(rest).or_else(|| near::alias(rest)) {
        Some(unit) => problem_at(
            "quantity.unit_alone",
            0..text.len(),
            format!("{} is a unit without a number", shown(text)),
        )
        .with_help(format!(
            "a quantity is a number and its unit, such as 4.70 {unit}"
        )),
        None => problem_at(
            "quantity.no_digits",
            0..text.len(),
            format!("{} is not a quantity", quoted(text)),
        ),
    }
}
