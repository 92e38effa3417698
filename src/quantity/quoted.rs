//! Quantities that stand before a quotation mark, as in a line of JSON: read without looking for the mark
//! first. The common forms alone; what is anything else is for the readers of whole texts to say.

use std::ops::Range;

use super::exact::Exact;
use super::literal::{assemble, quick_number};
use super::unit::Unit;
use super::written::Quantity;

/// Numbers that share a unit, `4.76 4.77 4.75 mm`: kept as digits until the unit is known. One row serves
/// for many readings, so that its memory is asked for once.
pub(crate) struct Row {
    numbers: Vec<Digits>,
    unit: Unit,
}

struct Digits {
    n: i64,
    places: usize,
    range: Range<usize>,
}

/// The unit up to the quotation mark, and how long its symbol is.
#[inline]
fn unit(text: &[u8]) -> Option<(Unit, usize)> {
    if let [b'm', b'm', b'"', ..] = text {
        return Some((Unit::MM, 2));
    }
    let length = text.iter().take(16).position(|byte| *byte == b'"')?;
    let unit = Unit::from_bytes(text.get(..length)?)?;
    // An empty symbol would be a blank behind a plain number.
    (length > 0).then_some((unit, length))
}

impl Quantity {
    /// The quantity that `text` begins with, in the common forms `4.76 mm` and `0.5`, and how many bytes of
    /// it stand before the quotation mark.
    #[inline(always)]
    pub(crate) fn before_quote(text: &[u8]) -> Option<(Quantity, usize)> {
        let (n, places, rest) = quick_number(text)?;
        let (unit, length) = match rest {
            [b'"', ..] => (Unit::PLAIN, 0),
            // Several numbers.
            [b' ', b'0'..=b'9' | b'-', ..] => return None,
            [b' ', symbol @ ..] => unit(symbol).map(|(unit, length)| (unit, 1 + length))?,
            _ => return None,
        };
        let quantity = assemble(n, places, unit)?;
        Some((quantity, text.len() - rest.len() + length))
    }
}

impl Row {
    /// An empty row.
    pub(crate) fn new() -> Row {
        Row {
            numbers: Vec::new(),
            unit: Unit::PLAIN,
        }
    }

    /// Reads the numbers that `text` begins with, one with its unit or without, or several with one unit
    /// behind them; gives how many bytes stand before the quotation mark.
    pub(crate) fn read_before_quote(&mut self, text: &[u8]) -> Option<usize> {
        self.numbers.clear();
        self.unit = Unit::PLAIN;
        let mut rest = text;
        loop {
            let start = text.len() - rest.len();
            let (n, places, tail) = quick_number(rest)?;
            let end = text.len() - tail.len();
            let range = start..end;
            self.numbers.push(Digits { n, places, range });
            match tail {
                [b'"', ..] => return (self.numbers.len() == 1).then_some(end),
                [b' ', more @ ..] => match more {
                    [b'0'..=b'9' | b'-', ..] => rest = more,
                    _ => {
                        let (unit, length) = unit(more)?;
                        self.unit = unit;
                        return Some(end + 1 + length);
                    }
                },
                _ => return None,
            }
        }
    }

    /// How many numbers were read.
    pub(crate) fn len(&self) -> usize {
        self.numbers.len()
    }

    /// The unit of all of them.
    pub(crate) fn unit(&self) -> Unit {
        self.unit
    }

    /// The quantities, each with the bytes of its number.
    pub(crate) fn quantities(&self) -> impl Iterator<Item = Option<(Quantity, Range<usize>)>> {
        self.numbers.iter().map(|one| {
            let quantity = assemble(one.n, one.places, self.unit)?;
            Some((quantity, one.range.clone()))
        })
    }
}

/// A number with its unit as digits: `n` over ten to the power of `places`.
#[derive(Clone, Copy)]
pub(crate) struct Plain {
    n: i64,
    places: usize,
    unit: Unit,
}

impl Plain {
    /// What `text` begins with, in the common forms that [`Quantity::before_quote`] reads, and how many bytes of it stand
    /// before the quotation mark.
    #[inline]
    pub(crate) fn before_quote(text: &[u8]) -> Option<(Plain, usize)> {
        let (n, places, rest) = quick_number(text)?;
        let (unit, length) = match rest {
            [b'"', ..] => (Unit::PLAIN, 0),
            [b' ', b'0'..=b'9' | b'-', ..] => return None,
            [b' ', symbol @ ..] => unit(symbol).map(|(unit, length)| (unit, 1 + length))?,
            _ => return None,
        };
        let length = text.len() - rest.len() + length;
        Some((Plain { n, places, unit }, length))
    }

    /// The unit.
    pub(crate) fn unit(self) -> Unit {
        self.unit
    }

    /// How many billionths of a base unit it is, where that is a whole number that fits.
    #[inline]
    pub(crate) fn billionths(self) -> Option<i64> {
        if self.unit.is_base() {
            let left = 9_usize.checked_sub(self.places)?;
            return self.n.checked_mul(*TENS.get(left)?);
        }
        (!self.unit.has_offset()).then_some(())?;
        let tens = Exact::from_integer(*TENS.get(self.places)?);
        let number = Exact::from_integer(self.n).checked_div(&tens)?;
        billionths(&number.mul(&self.unit.factor()))
    }
}

/// Powers of ten.
const TENS: [i64; 10] = [
    1,
    10,
    100,
    1_000,
    10_000,
    100_000,
    1_000_000,
    10_000_000,
    100_000_000,
    1_000_000_000,
];

/// How many billionths a number is, where that is a whole number that fits.
pub(crate) fn billionths(number: &Exact) -> Option<i64> {
    number.mul(&Exact::from_integer(1_000_000_000)).to_i64()
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    const TEXTS: &[&str] = &[
        "4.76 mm",
        "0.5",
        "-3 degC",
        "2",
        "4.76 4.77 4.75 mm",
        "-1 0 1 in",
        "1 2 3",
        "4.76  mm",
        "4.76 ",
        "4.76mm",
        "",
        " 4 mm",
        "-",
        "007 mm",
        "5. mm",
        ".5 mm",
        "1.2.3 mm",
        "3/16 in",
        "1 3/16 in",
        "82 deg 30 min",
        "4 mm 5 mm",
        "4 -5 um",
        "4 µm",
        "1 N/mm",
        "4 xyz",
        "1234567890123456789 mm",
        "123456789012345678 mm",
        "-9223372036854775808 mm",
        "4 m\\u006d",
    ];

    /// What is read before the mark is what the text between the marks is read as.
    #[test]
    fn quoted_and_whole_texts_are_read_alike() {
        let mut row = Row::new();
        let (mut single, mut several) = (0, 0);
        for text in TEXTS {
            let line = format!("{text}\",\"by\":\"4 mm\"}}");
            if let Some((quantity, length)) = Quantity::before_quote(line.as_bytes()) {
                assert_eq!(length, text.len(), "{text}");
                assert_eq!(quantity, Quantity::parse(text).unwrap(), "{text}");
                single += 1;
            }
            if let Some(length) = row.read_before_quote(line.as_bytes()) {
                assert_eq!(length, text.len(), "{text}");
                let read: Vec<_> = row.quantities().map(Option::unwrap).collect();
                assert_eq!(read.len(), row.len());
                if read.len() > 1 {
                    assert_eq!(read, Quantity::parse_list(text).unwrap(), "{text}");
                } else {
                    let one: Vec<_> = read.into_iter().map(|(quantity, _)| quantity).collect();
                    assert_eq!(one, [Quantity::parse(text).unwrap()], "{text}");
                }
                several += 1;
            }
        }
        assert_eq!((single, several), (7, 10));
    }
}
