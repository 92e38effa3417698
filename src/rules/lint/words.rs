//! Numbers with units, days and years in the words of a class.

use jiff::civil::Date;

use crate::quantity::{DateSpan, Dimension, Exact, Quantity, Unit};

/// A number or a day as it stands in a text.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Written {
    /// A number; with its unit, or with several where the word has several meanings.
    Number {
        /// As it is told.
        text: String,
        /// Base units.
        value: Exact,
        /// Of the unit.
        dimension: Dimension,
        /// `three` rather than 3.
        by_word: bool,
        /// What a number without a unit may also be: with that of the last one in its sentence.
        or: Option<(Exact, Dimension)>,
    },
    /// A day.
    Day(String, Date),
    /// A year alone: it may also be a number.
    Year(String, i16),
}

impl Written {
    /// As it is told.
    pub fn text(&self) -> &str {
        match self {
            Written::Number { text, .. } | Written::Day(text, _) | Written::Year(text, _) => text,
        }
    }

    /// Whether it is written as a word.
    pub fn by_word(&self) -> bool {
        match self {
            Written::Number { by_word, .. } => *by_word,
            Written::Day(..) | Written::Year(..) => false,
        }
    }

    /// Whether it is a number of this dimension.
    pub fn has_dimension(&self, asked: Dimension) -> bool {
        match self {
            Written::Number { dimension, .. } => *dimension == asked,
            Written::Day(..) | Written::Year(..) => false,
        }
    }

    /// Whether it says this quantity.
    pub fn is_quantity(&self, asked: &Exact, of: Dimension) -> bool {
        match self {
            Written::Number {
                value,
                dimension,
                or,
                ..
            } => {
                let says = |value: &Exact, dimension: Dimension| {
                    dimension == of && (value == asked || *value == asked.abs())
                };
                let or = or.as_ref();
                says(value, *dimension) || or.is_some_and(|(value, unit)| says(value, *unit))
            }
            Written::Year(_, year) => {
                of == Dimension::RATIO && *asked == Exact::from_integer(i64::from(*year))
            }
            Written::Day(..) => false,
        }
    }

    /// Whether it says this date: a day may be told by its neighbour ("before 1 May", "until 30 April"), the
    /// first day of a year by the year.
    pub fn is_date(&self, date: &DateSpan) -> bool {
        let near = |day: Date, other: Date| crate::quantity::days_between(day, other).abs() <= 1;
        match self {
            Written::Day(_, day) => near(*day, date.first) || near(*day, date.last),
            Written::Year(_, year) => {
                let begins = Date::new(*year, 1, 1);
                let ends = Date::new(*year, 12, 31);
                [begins, ends]
                    .into_iter()
                    .flatten()
                    .any(|day| near(day, date.first) || near(day, date.last))
            }
            Written::Number { .. } => false,
        }
    }
}

/// Words for units, beside their signs. Longer ones first.
const UNITS: &[(&str, &str)] = &[
    ("square millimetres", "mm2"),
    ("square centimetres", "cm2"),
    ("square metres", "m2"),
    ("square metre", "m2"),
    ("square feet", "ft2"),
    ("millimetres", "mm"),
    ("millimetre", "mm"),
    ("centimetres", "cm"),
    ("centimetre", "cm"),
    ("metres", "m"),
    ("metre", "m"),
    ("inches", "in"),
    ("inch", "in"),
    ("feet", "ft"),
    ("foot", "ft"),
    ("degrees", "deg"),
    ("degree", "deg"),
    ("minutes", "min"),
    ("minute", "min"),
    ("kilograms", "kg"),
    ("kilogram", "kg"),
    ("grams", "g"),
    ("newtons", "N"),
    ("per cent", "%"),
    ("percent", "%"),
    ("days", "days"),
    ("°", "deg"),
    ("m²", "m2"),
];

const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

const SMALL: [&str; 20] = [
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
    "twenty",
];

/// A number before its unit is known.
struct Bare {
    text: String,
    unit: Option<Unit>,
}

/// Words before a year: `built before 2005, 0.140 m`.
const BEFORE_YEARS: [&str; 8] = [
    "before", "since", "from", "until", "in", "of", "built", "after",
];

/// A year behind a word that stands before years, with a text behind it that is no unit.
fn year<'t>(word: &str, text: &'t str) -> Option<(Written, &'t str)> {
    let told = BEFORE_YEARS.contains(&word.to_lowercase().as_str());
    let (number, after) = number(text);
    let year = number.parse::<i16>().ok().filter(|_| told)?;
    let is_year = (1800..=2200).contains(&year) && unit(after).0.is_none();
    // `from 2000 to 2100 mm` are two lengths.
    let waits = ["to ", "and ", "or "]
        .iter()
        .any(|word| after.trim_start().starts_with(word));
    let joined = waits && is_joined(after) && joined_unit(after);
    (is_year && !joined).then(|| (Written::Year(number.to_owned(), year), after))
}

/// Whether the number behind `to`, `and` or `or` has a unit.
fn joined_unit(text: &str) -> bool {
    let rest = text.trim_start();
    let rest = rest
        .find(|c: char| c.is_ascii_digit())
        .and_then(|at| rest.get(at..));
    rest.is_some_and(|rest| unit(number(rest).1).0.is_some())
}

/// Every number and day that a text names, in its order.
pub(super) fn written_in(text: &str) -> Vec<Written> {
    let mut found = Vec::new();
    let mut waiting: Vec<Bare> = Vec::new();
    let mut rest = text;
    let mut before = ' ';
    let mut last_word = "";
    // The unit of the last number of the sentence that had one.
    let mut last_unit = None;
    while let Some(first) = rest.chars().next() {
        let at_word = !before.is_alphanumeric() && before != '.';
        if first.is_ascii_digit() && at_word {
            if let Some((day, after)) = day(rest) {
                settle(&mut waiting, last_unit, &mut found);
                found.push(day);
                rest = after;
                before = ' ';
                continue;
            }
            if waiting.is_empty()
                && let Some((year, after)) = year(last_word, rest)
            {
                found.push(year);
                rest = after;
                before = ' ';
                last_word = "";
                continue;
            }
            let (number, after) = number(rest);
            let (unit, after) = unit(after);
            last_unit = unit.or(last_unit);
            last_word = "";
            // `75 to 110 degrees`: the first number waits for the unit of the second.
            let joined = unit.is_none() && is_joined(after);
            waiting.push(Bare {
                text: number.to_owned(),
                unit,
            });
            if !joined {
                settle(&mut waiting, last_unit, &mut found);
            }
            before = '0';
            rest = match minutes_of_arc(unit, after) {
                Some((minutes, after)) => {
                    found.pop();
                    found.extend(quantity(format!("{number} deg {minutes} min")));
                    after
                }
                None => after,
            };
            continue;
        }
        if first.is_alphabetic() && at_word {
            let end = rest
                .find(|c: char| !c.is_alphanumeric() && c != '-')
                .unwrap_or(rest.len());
            let (word, after) = rest.split_at(end);
            last_word = word;
            let lower = word.to_lowercase();
            if let Some(at) = SMALL.iter().position(|small| *small == lower) {
                let count = i64::try_from(at).unwrap_or(0) + 1;
                found.push(Written::Number {
                    text: word.to_owned(),
                    value: Exact::from_integer(count),
                    dimension: Dimension::RATIO,
                    by_word: true,
                    or: None,
                });
            }
            // A word with figures in it is a name: G7, M10.
            before = word.chars().last().unwrap_or(' ');
            rest = after;
            continue;
        }
        if first == '.'
            && before != '.'
            && rest
                .get(1..)
                .is_none_or(|rest| rest.starts_with(char::is_whitespace))
        {
            last_unit = None;
        }
        if !first.is_whitespace() {
            last_word = "";
        }
        before = first;
        rest = rest.get(first.len_utf8()..).unwrap_or("");
    }
    settle(&mut waiting, last_unit, &mut found);
    found
}

/// Gives numbers that wait for a unit that of the last one of them; where none has one, they may have the `last`
/// one before them.
fn settle(waiting: &mut Vec<Bare>, last: Option<Unit>, found: &mut Vec<Written>) {
    let unit = waiting.last().and_then(|last| last.unit);
    for bare in waiting.drain(..) {
        let unit = bare.unit.or(unit);
        let year = bare.text.parse::<i16>().ok();
        if let (None, Some(year @ 1800..=2200)) = (unit, year) {
            found.push(Written::Year(bare.text, year));
            continue;
        }
        let text = match unit {
            Some(unit) => crate::quantity::show::with_unit(&bare.text, unit),
            None => bare.text,
        };
        let number = quantity(text).map(|number| match (number, unit, last) {
            (
                Written::Number {
                    text,
                    value,
                    dimension,
                    by_word,
                    ..
                },
                None,
                Some(last),
            ) => {
                let or = last.to_base(&value);
                let or = Some((or, last.dimension()));
                Written::Number {
                    text,
                    value,
                    dimension,
                    by_word,
                    or,
                }
            }
            (number, ..) => number,
        });
        found.extend(number);
    }
}

/// A quantity in the spelling of the data.
fn quantity(text: String) -> Option<Written> {
    let quantity = Quantity::parse(&text).ok()?;
    Some(Written::Number {
        text,
        dimension: quantity.dimension(),
        value: quantity.value,
        by_word: false,
        or: None,
    })
}

/// The minutes of `82 degrees 30 minutes`, behind the degrees.
fn minutes_of_arc(degrees: Option<Unit>, text: &str) -> Option<(&str, &str)> {
    degrees.filter(|unit| *unit == Unit::DEG)?;
    let rest = text.trim_start_matches([' ', '\n', '\u{a0}']);
    let (minutes, rest) = number(rest);
    if minutes.is_empty() {
        return None;
    }
    let (unit, rest) = unit(rest);
    (unit == Some(Unit::ARC_MIN)).then_some((minutes, rest))
}

/// `12`, `4.70`, `3/16`, `1 3/16`; a dot that ends a sentence is none of it.
fn number(text: &str) -> (&str, &str) {
    let digits = |text: &str| {
        text.find(|c: char| !c.is_ascii_digit())
            .unwrap_or(text.len())
    };
    let mut end = digits(text);
    let after = |end: usize, sign: char| {
        let rest = text.get(end..).unwrap_or("").strip_prefix(sign)?;
        let more = digits(rest);
        (more > 0).then_some(end + 1 + more)
    };
    if let Some(more) = after(end, '.') {
        end = more;
    } else if let Some(more) = after(end, '/') {
        end = more;
    } else if let Some(rest) = text.get(end..).and_then(|rest| rest.strip_prefix(' ')) {
        let over = digits(rest);
        let under = rest.get(over..).and_then(|rest| rest.strip_prefix('/'));
        if let (1.., Some(under)) = (over, under.map(digits).filter(|under| *under > 0)) {
            end = end + 1 + over + 1 + under;
        }
    }
    text.split_at(end)
}

/// The unit behind a number, if one stands there.
fn unit(text: &str) -> (Option<Unit>, &str) {
    let rest = text.trim_start_matches([' ', '\n', '\u{a0}']);
    for (word, symbol) in UNITS {
        if let Some(after) = rest.strip_prefix(word)
            && !after.starts_with(char::is_alphanumeric)
        {
            return (Unit::from_symbol(symbol), after);
        }
    }
    let end = rest
        .find(|c: char| c.is_whitespace() || ".,;:?!)(".contains(c))
        .unwrap_or(rest.len());
    let (word, after) = rest.split_at(end);
    // "20 in the plank": a unit that is a word of the language needs more than a blank behind it.
    let is_word = word == "in" && after.starts_with(char::is_whitespace) && {
        let next = after.trim_start();
        ["the ", "a ", "an ", "its ", "each ", "any ", "all "]
            .iter()
            .any(|word| next.starts_with(word))
    };
    match Unit::from_symbol(word).filter(|_| !is_word && !word.is_empty()) {
        Some(unit) => (Some(unit), after),
        None => (None, text),
    }
}

/// Whether the words behind a number lead to another one that has the unit.
fn is_joined(text: &str) -> bool {
    let rest = text.trim_start();
    ["to ", "and ", "or ", ", ", "x ", "× ", "by "]
        .iter()
        .find_map(|word| rest.strip_prefix(word))
        .is_some_and(|rest| rest.starts_with(|c: char| c.is_ascii_digit()))
}

/// `1 January 2012`.
fn day(text: &str) -> Option<(Written, &str)> {
    let end = text.find(|c: char| !c.is_ascii_digit())?;
    let (number, rest) = text.split_at(end);
    let rest = rest.trim_start();
    let (at, month) = MONTHS
        .iter()
        .enumerate()
        .find(|(_, month)| rest.starts_with(**month))?;
    let rest = rest.strip_prefix(month)?.trim_start();
    let year = rest.get(..4)?.parse::<i16>().ok()?;
    let date = Date::new(year, i8::try_from(at).ok()? + 1, number.parse().ok()?).ok()?;
    let told = format!("{number} {month} {year}");
    Some((Written::Day(told, date), rest.get(4..)?))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(text: &str) -> Vec<String> {
        let all = written_in(text);
        all.iter().map(|one| one.text().to_owned()).collect()
    }

    #[test]
    fn numbers_of_a_text_are_found_with_their_units() {
        assert_eq!(
            told("from 75 to 110 degrees, 1 3/16 in wide; 25 × 25 × 5 mm. Not over 6.00 mm."),
            [
                "75 deg",
                "110 deg",
                "1 3/16 in",
                "25 mm",
                "25 mm",
                "5 mm",
                "6.00 mm"
            ]
        );
        assert_eq!(
            told("up to 95 % of the length, until 30 April 2029; built before 2015, two of them"),
            ["95 %", "30 April 2029", "2015", "two"]
        );
        assert_eq!(told("gauge G7 of clause E.4.2 and M10"), [] as [&str; 0]);
        assert_eq!(told("not less than 8.00 square metres"), ["8.00 m2"]);
        assert_eq!(
            told(
                "0.150 m deep; if built before 2005, 0.140 m. From 2000 to 2100 mm, since 2019 or 2020"
            ),
            [
                "0.150 m", "2005", "0.140 m", "2000 mm", "2100 mm", "2019", "2020"
            ]
        );
        assert_eq!(
            told("in 2019, but 2019 mm of 2000 mm"),
            ["2019", "2019 mm", "2000 mm"]
        );
        assert_eq!(
            told("from 82 degrees 30 minutes to 105 deg, at 6 deg by 2 m"),
            ["82 deg 30 min", "105 deg", "6 deg", "2 m"]
        );
    }

    #[test]
    fn a_number_without_unit_may_have_that_of_the_last_one_in_its_sentence() {
        let says = |text: &str, asked: &str| {
            let asked = Quantity::parse(asked).unwrap();
            let of = asked.dimension();
            let mut all = written_in(text).into_iter();
            all.any(|one| one.text() == "9.50" && one.is_quantity(&asked.value, of))
        };
        let text = "at most 6.00 square metres for the gale sail, 9.50 for the small one";
        assert!(says(text, "9.50 m2"));
        assert!(says(text, "9.50"));
        assert!(!says(text, "9.50 m"));
        let apart = "at most 6.00 square metres. And 9.50 for the small one";
        assert!(!says(apart, "9.50 m2"));
    }
}
