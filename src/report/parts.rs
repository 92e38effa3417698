//! Value, limit and margin of a finding as figures: words around a number that can be aligned.

use crate::check::{Finding, FoundLimit, FoundValue, RuleRef};
use crate::quantity::{Exact, Number, Quantity, Unit, show};
use crate::rules::BoundKind;

use super::figure;
use super::words;

/// Words around a number: `at least`, `4.70`, `mm`. Either side may be empty; without a number the words
/// stand before.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Figure {
    /// Before the number, without a blank: `short by`.
    pub before: String,
    /// The number: `4.70`.
    pub number: String,
    /// Behind the number, without a blank: `± 0.020 mm`.
    pub after: String,
}

impl Figure {
    /// Words without a number.
    pub fn words(words: impl Into<String>) -> Figure {
        Figure {
            before: words.into(),
            ..Figure::default()
        }
    }

    /// A number between words.
    pub fn new(before: &str, number: String, after: String) -> Figure {
        Figure {
            before: before.to_owned(),
            number,
            after,
        }
    }

    /// The whole text: `at least 4.70 mm`.
    pub fn text(&self) -> String {
        let parts = [
            self.before.as_str(),
            self.number.as_str(),
            self.after.as_str(),
        ];
        parts
            .into_iter()
            .filter(|part| !part.is_empty())
            .collect::<Vec<_>>()
            .join(" ")
    }
}

/// The figures of a finding.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Figures {
    /// `4.620 ± 0.020 mm`.
    pub value: Option<Figure>,
    /// `at least 4.70 mm`.
    pub limit: Option<Figure>,
    /// `short by 0.08 mm`.
    pub margin: Option<Figure>,
    /// The limit as the class wrote it, where that is no decimal number: `3/8 in`, `82 deg 30 min`.
    pub limit_as_written: Option<String>,
}

/// What stands in the files where a finding points, where it is written as a fraction or in minutes.
#[derive(Clone, Debug, Default)]
pub struct Fractions {
    /// The limit.
    pub limit: Option<Quantity>,
    /// The reading.
    pub value: Option<Quantity>,
}

impl Fractions {
    /// A text of a file as such a quantity.
    pub fn read(text: &str) -> Option<Quantity> {
        let text = text.trim_matches(['"', '\'']);
        let told = text.len() <= 40 && (text.contains('/') || text.ends_with("min"));
        let quantity = Quantity::parse(text).ok().filter(|_| told)?;
        quantity.decimals.is_none().then_some(quantity)
    }
}

/// The number of a quantity as written, and the unit behind it: `1 3/16` and `in`; `82 deg 30 min` and nothing.
fn number_as_written(quantity: &Quantity) -> (String, String) {
    let text = quantity.as_written();
    let symbol = quantity.unit.symbol();
    match text.strip_suffix(symbol) {
        Some(number) => (number.trim_end().to_owned(), symbol.to_owned()),
        None => (text, String::new()),
    }
}

impl Figures {
    /// The figures of a finding, all in the unit of its limit.
    pub fn of(finding: &Finding, fractions: &Fractions) -> Figures {
        let asked = fractions.limit.as_ref();
        let mut figures = Figures {
            limit: finding.limit.as_ref().map(|found| limit(found, asked)),
            limit_as_written: finding
                .limit
                .as_ref()
                .and_then(|found| as_written(found, asked)),
            ..Figures::default()
        };
        let mut decimals = (0, 0);
        match &finding.value {
            None => {}
            Some(FoundValue::Answer(yes)) => {
                figures.value = Some(Figure::words(if *yes { "yes" } else { "no" }))
            }
            Some(FoundValue::Word(word)) => {
                figures.value = Some(Figure::words(words::plain_name(word)))
            }
            Some(FoundValue::Count { sure, possible }) if sure == possible => {
                figures.value = Some(Figure::new("", sure.to_string(), String::new()));
            }
            Some(FoundValue::Count { sure, possible }) => {
                figures.value = Some(Figure::new("", sure.to_string(), format!("to {possible}")));
            }
            Some(FoundValue::Number {
                value,
                unit,
                decimals: written,
                bound,
            }) => {
                let shown_in = display_unit(finding).unwrap_or(*unit);
                let written = written.filter(|_| shown_in == *unit);
                let expanded = finding.expanded.map(|expanded| expanded.U);
                let rounded = figure::value(value, expanded, shown_in, written);
                decimals = (rounded.decimals, usize::from(written.unwrap_or(0)));
                let before = match bound {
                    None => "",
                    Some(crate::uncertainty::Bound::AtLeast) => "at least",
                    Some(crate::uncertainty::Bound::AtMost) => "at most",
                    Some(crate::uncertainty::Bound::Neither) => "about",
                };
                let uncertainty = rounded.uncertainty.map(|text| format!("± {text}"));
                // Degrees with minutes are left as a number, so that U behind it has the same unit.
                let read = fractions.value.as_ref().filter(|read| {
                    read.unit == shown_in && is_same(value, read) && read.as_written().contains('/')
                });
                let number = read.map_or(rounded.number, |read| number_as_written(read).0);
                figures.value = Some(Figure::new(before, number, joined(uncertainty, shown_in)));
            }
        }
        if let RuleRef::Pairs(_) = finding.rule {
            // That at most 0 are over says little of pairs.
            if let Some(value) = &mut figures.value {
                value.after = format!("{} left without a partner", value.after);
                value.after = value.after.trim_start().to_owned();
            }
            figures.limit = Some(Figure::words("none may be left"));
        }
        if let (Some(margin), Some(kind)) = (&finding.margin, bound_kind(finding)) {
            let unit = display_unit(finding).unwrap_or(Unit::PLAIN);
            let written = match &finding.limit {
                Some(FoundLimit::Bound { decimals, .. }) => usize::from(decimals.unwrap_or(0)),
                Some(FoundLimit::Option(option)) => {
                    usize::from(option.listed.decimals.unwrap_or(0))
                }
                Some(FoundLimit::Equals(_) | FoundLimit::Only(_) | FoundLimit::Without(_))
                | None => 0,
            };
            figures.margin = Some(margin_words(
                margin,
                kind,
                unit,
                decimals.0,
                written.max(decimals.1),
            ));
        }
        figures
    }
}

/// The unit of the limit.
pub(super) fn display_unit(finding: &Finding) -> Option<Unit> {
    match finding.limit.as_ref()? {
        FoundLimit::Bound { unit, .. } => Some(*unit),
        FoundLimit::Option(option) => Some(option.listed.unit),
        FoundLimit::Equals(_) | FoundLimit::Only(_) | FoundLimit::Without(_) => None,
    }
}

fn bound_kind(finding: &Finding) -> Option<BoundKind> {
    match finding.limit.as_ref()? {
        FoundLimit::Bound { kind, .. } => Some(*kind),
        FoundLimit::Option(option) => Some(option.kind),
        FoundLimit::Equals(_) | FoundLimit::Only(_) | FoundLimit::Without(_) => None,
    }
}

/// Whether a number is just what was written.
fn is_same(number: &Number, written: &Quantity) -> bool {
    match number {
        Number::Exact(exact) => *exact == written.value,
        Number::Real { .. } => false,
    }
}

/// A limit as the class wrote it, where that is no decimal number.
fn as_written(limit: &FoundLimit, asked: Option<&Quantity>) -> Option<String> {
    let written = match limit {
        FoundLimit::Bound { value, .. } => asked.filter(|asked| is_same(value, asked)),
        FoundLimit::Option(option) => Some(&option.listed).filter(|one| one.decimals.is_none()),
        FoundLimit::Equals(_) | FoundLimit::Only(_) | FoundLimit::Without(_) => None,
    };
    written.map(Quantity::as_written)
}

fn limit(limit: &FoundLimit, asked: Option<&Quantity>) -> Figure {
    match limit {
        FoundLimit::Bound {
            kind,
            value,
            unit,
            decimals,
            rounded,
        } => {
            let asked = asked.filter(|asked| is_same(value, asked));
            let (number, symbol) = match asked {
                Some(asked) => number_as_written(asked),
                None => (
                    figure::limit(value, *unit, *decimals).number,
                    unit.symbol().to_owned(),
                ),
            };
            Figure::new(
                kind.words(),
                number,
                match rounded {
                    None => symbol,
                    Some(rounded) => by_rounding(rounded, symbol, *unit),
                },
            )
        }
        FoundLimit::Equals(word) => Figure::words(format!("{word} asked")),
        FoundLimit::Only(list) => Figure::words(format!("only {} allowed", listed(list, "or"))),
        FoundLimit::Without(list) => Figure::words(format!("no {} allowed", listed(list, "or"))),
        FoundLimit::Option(option) => {
            let (number, symbol) = number_as_written(&option.listed);
            let near = match &option.within {
                Some(within) => format!("within {within}"),
                None => "exactly".to_owned(),
            };
            Figure::new(
                &format!(
                    "{} with {}",
                    words::plain_name(&option.row),
                    words::plain_name(&option.column)
                ),
                number,
                format!("{symbol} {near}").trim_start().to_owned(),
            )
        }
    }
}

/// `mm when rounded to 0.1 mm, so at least 4.65 mm`
fn by_rounding(rounded: &crate::rules::Rounded, symbol: String, unit: Unit) -> String {
    // Half a step of a fraction is a fraction: 47/128 in beside steps of 1/64 in.
    let step = &rounded.to;
    let half = step.resolution.checked_div(&Exact::from_integer(2));
    let exact = match half {
        Some(resolution) if step.decimals.is_none() && step.unit == unit => Quantity {
            value: rounded.limit.clone(),
            unit,
            resolution,
            decimals: None,
        }
        .as_written(),
        _ => {
            let exact = Number::Exact(rounded.limit.clone());
            show::with_unit(&figure::limit(&exact, unit, None).number, unit)
        }
    };
    let words = format!(
        "{symbol} when rounded to {}, so {} {exact}",
        step.as_written(),
        rounded.kind.words()
    );
    words.trim().to_owned()
}

/// Words as people read them: `wood, glass or epoxy`.
fn listed(list: &[String], last: &str) -> String {
    let words: Vec<String> = list.iter().map(|word| words::plain_name(word)).collect();
    match words.split_last() {
        Some((end, begin)) if !begin.is_empty() => format!("{} {last} {end}", begin.join(", ")),
        _ => words.concat(),
    }
}

fn joined(uncertainty: Option<String>, unit: Unit) -> String {
    match uncertainty {
        Some(text) if unit == Unit::PLAIN => text,
        Some(text) => format!("{text} {unit}"),
        None => unit.symbol().to_owned(),
    }
}

/// `short by 0.08 mm`, `over by 2`, `0.4 deg inside`, `on the limit`.
pub(super) fn margin_words(
    margin: &Number,
    kind: BoundKind,
    unit: Unit,
    value_decimals: usize,
    least: usize,
) -> Figure {
    let sign = margin.signum().unwrap_or_else(|| match margin.to_f64() {
        size if size < 0.0 => -1,
        _ => 1,
    });
    let number = figure::margin(margin, unit, value_decimals, least);
    let symbol = unit.symbol();
    if sign == 0 {
        return Figure::words("on the limit");
    }
    if sign > 0 {
        let after = if symbol.is_empty() {
            "inside".to_owned()
        } else {
            format!("{symbol} inside")
        };
        return Figure::new("", number, after);
    }
    let before = if kind.is_lower() {
        "short by"
    } else {
        "over by"
    };
    Figure::new(before, number, symbol.to_owned())
}
