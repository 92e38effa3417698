//! Reading one quantity at the start of a text, or a whole text as one.
//!
//! The common form is read by a short way of its own; all else, right or wrong, by the full grammar.

use super::decimal::power_of_ten;
use super::dimension::Dimension;
use super::exact::Exact;
use super::list::MOST_ENTRIES;
use super::near;
use super::problem::{QuantityProblem, shown};
use super::reader::{Reach, digits, is_digit, read, skip_blanks};
use super::unit::Unit;
use super::written::Quantity;

/// A decimal of up to 18 digits at the start of `text`, and what follows it.
#[inline]
pub(super) fn quick_number(text: &[u8]) -> Option<(i64, usize, &[u8])> {
    let (negative, rest) = match text {
        [b'-', rest @ ..] => (true, rest),
        _ => (false, text),
    };
    if matches!(rest, [b'0', b'0'..=b'9', ..]) {
        return None;
    }
    let (n, tail) = more_digits(0, rest);
    let whole = rest.len() - tail.len();
    let (n, places, tail) = match tail {
        [b'.', decimals @ ..] => {
            let (n, tail) = more_digits(n, decimals);
            match decimals.len() - tail.len() {
                0 => return None,
                places => (n, places, tail),
            }
        }
        _ => (n, 0, tail),
    };
    let fits = whole > 0 && whole + places <= 18;
    // Turned round only when it fits: too many digits can wrap to the one number without an opposite.
    fits.then(|| (if negative { -n } else { n }, places, tail))
}

/// A number with the digits that follow it, and what follows them. Too many digits wrap: whoever counts
/// them forgets the number.
#[inline]
fn more_digits(mut n: i64, mut text: &[u8]) -> (i64, &[u8]) {
    while let [b @ b'0'..=b'9', tail @ ..] = text {
        n = n.wrapping_mul(10).wrapping_add(i64::from(b - b'0'));
        text = tail;
    }
    (n, text)
}

/// A quantity from an integer, its decimals and its unit.
#[inline]
pub(super) fn assemble(n: i64, places: usize, unit: Unit) -> Option<Quantity> {
    let d = power_of_ten(places)?;
    let (number, step) = (Exact::from_parts(i128::from(n), d), Exact::from_parts(1, d));
    let decimals = u8::try_from(places).ok();
    if unit.is_base() {
        return Some(Quantity {
            value: number,
            unit,
            resolution: step,
            decimals,
        });
    }
    let factor = unit.factor();
    let value = if unit.has_offset() {
        number.add(&unit.offset())
    } else {
        number
    };
    let resolution = step.mul(&factor);
    Some(Quantity {
        value: value.mul(&factor),
        unit,
        resolution,
        decimals,
    })
}

/// The common form, `4.76 mm`: one number of up to 18 digits, one blank, one unit. Everything else,
/// right or wrong, is left to [`whole`].
#[inline]
pub(super) fn quick(text: &[u8]) -> Option<Quantity> {
    let (n, places, rest) = quick_number(text)?;
    let symbol = match rest {
        [b' ', symbol @ ..] if !symbol.is_empty() => symbol,
        [] => rest,
        _ => return None,
    };
    assemble(n, places, Unit::from_bytes(symbol)?)
}

/// The common form of a list, `4.76 4.77 4.75 mm`; everything else is left to the long way.
pub(super) fn quick_list<T>(
    text: &str,
    expected: Option<Dimension>,
    each: impl Fn(Quantity, std::ops::Range<usize>) -> T,
) -> Option<Vec<T>> {
    let bytes = text.as_bytes();
    let cut = bytes.iter().rposition(|b| *b == b' ')?;
    let unit = Unit::from_bytes(bytes.get(cut + 1..)?)?;
    if unit == Unit::PLAIN || expected.is_some_and(|dimension| unit.dimension() != dimension) {
        return None;
    }
    let mut rest = bytes.get(..cut)?;
    let mut list = Vec::with_capacity(1 + rest.iter().filter(|b| **b == b' ').count());
    loop {
        let start = cut - rest.len();
        let (n, places, tail) = quick_number(rest)?;
        list.push(each(assemble(n, places, unit)?, start..cut - tail.len()));
        if list.len() > MOST_ENTRIES {
            return None;
        }
        match tail {
            [] => return Some(list),
            [b' ', more @ ..] => rest = more,
            _ => return None,
        }
    }
}

/// Reads a whole text.
pub(super) fn whole(text: &str, expected: Option<Dimension>) -> Result<Quantity, QuantityProblem> {
    let start = text.len() - text.trim_ascii_start().len();
    let body = text.trim_ascii();
    let outcome = match read(body, Reach::Whole) {
        Ok((quantity, _)) => match expected {
            Some(expected) => fits(body, quantity, expected),
            None => Ok(quantity),
        },
        Err(problem) => Err(near::explain(body, problem, expected)),
    };
    outcome.map_err(|problem| problem.shifted(start))
}

/// Reads a whole text without any word about what is wrong with it.
pub(super) fn accepted(text: &str) -> Option<Quantity> {
    read(text.trim_ascii(), Reach::Whole)
        .ok()
        .map(|(quantity, _)| quantity)
}

/// The longest literal at the start of an expression text, as (bytes eaten, what it is); `None` when the
/// text starts with no number. Blanks before it and operators after it are the caller's.
///
/// A `-` glued to the first digit belongs to the literal. A number that a word follows which is neither a
/// unit nor a keyword gives a problem, since no name can stand there.
#[must_use]
pub fn lex_literal(text: &str) -> Option<(usize, Result<Quantity, QuantityProblem>)> {
    let first = text.strip_prefix('-').unwrap_or(text);
    if !first.starts_with(|c: char| c.is_ascii_digit()) {
        return None;
    }
    match read(text, Reach::Start) {
        Ok((quantity, end)) => Some((end, Ok(quantity))),
        Err(problem) => {
            let stop = |c: char| c.is_whitespace() || matches!(c, '(' | ')' | ',');
            let from = problem.range.end.min(text.len());
            let rest = text.get(from..).unwrap_or("");
            let end = from + rest.find(stop).unwrap_or(rest.len());
            let literal = text.get(..end).unwrap_or(text);
            Some((end.max(1), Err(near::explain(literal, problem, None))))
        }
    }
}

/// A quantity that was read, against the dimension that is asked for.
fn fits(text: &str, quantity: Quantity, expected: Dimension) -> Result<Quantity, QuantityProblem> {
    let found = quantity.dimension();
    if found == expected {
        return Ok(quantity);
    }
    let asked = expected.in_words();
    let units = expected.likely_units();
    let range = 0..text.len();
    let read = shown(text);
    let unit = match units {
        [_, inch, ..] if expected == Dimension::LENGTH && quantity.decimals.is_none() => Some(inch),
        [first, ..] => Some(first),
        [] => None,
    };
    if quantity.unit == Unit::PLAIN {
        let message = match unit {
            Some(unit) => format!("{read} has no unit; {asked} is written as {read} {unit}"),
            None => format!("{read} has no unit; {asked} is asked for"),
        };
        let problem = QuantityProblem::new("quantity.no_unit", range, message);
        return Err(match units {
            [_, _, ..] => problem.with_help(near::units_of(expected)),
            _ => problem,
        });
    }
    let message = format!("{read} is {}; {asked} is asked for", found.in_words());
    let problem = QuantityProblem::new("quantity.dimension", range, message);
    let scales = [
        Dimension::HARDNESS_HRC,
        Dimension::HARDNESS_HV,
        Dimension::HARDNESS_HBW,
    ];
    Err(
        if quantity.unit == Unit::ARC_MIN && expected == Dimension::TIME {
            problem.with_help("min is a minute of arc; a time is written in days, h or s")
        } else if scales.contains(&found) && scales.contains(&expected) {
            problem.with_help(
                "no factor leads from one hardness scale to another, only a published table",
            )
        } else if found == Dimension::MASS && expected == Dimension::FORCE {
            problem.with_help("a force is written in N, kN or lbf; 1 kg weighs about 9.8 N")
        } else if units.is_empty() {
            problem
        } else {
            problem.with_help(near::units_of(expected))
        },
    )
}

/// What two numbers can have meant together: `1 000 mm`, `5 ft 3 in`, `82 deg 30`.
pub(super) fn together(text: &str) -> Option<String> {
    let (first, end) = read(text, Reach::Start).ok()?;
    let more = text.get(skip_blanks(text, end)..)?;
    if first.unit == Unit::DEG {
        return Some("degrees and minutes are written as 82 deg 30 min".to_owned());
    }
    if first.unit == Unit::PLAIN && first.decimals == Some(0) {
        let group = digits(more, 0).len() == 3;
        let joined: String = text
            .split_ascii_whitespace()
            .fold(String::new(), |mut all, piece| {
                if !is_digit(piece, 0) && !all.is_empty() {
                    all.push(' ');
                }
                all.push_str(piece);
                all
            });
        let whole = accepted(&joined).filter(|_| group)?;
        return Some(format!("a number in thousands has no blank: write {whole}"));
    }
    let second = accepted(more)?;
    let smaller = second.unit.factor() < first.unit.factor();
    let alike = second.dimension() == first.dimension() && smaller && !first.unit.has_offset();
    if !alike || second.value.signum() < 0 || first.value.signum() < 0 {
        return None;
    }
    let sum = Quantity {
        value: first.value.add(&second.value),
        ..second
    };
    Some(format!("a quantity has one unit: write {sum}"))
}
