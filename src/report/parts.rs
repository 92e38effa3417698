//! Value, limit and margin of a finding as figures: words around a number that can be aligned.

use crate::check::{Finding, FoundLimit, FoundValue, RuleRef};
use crate::quantity::{Number, Unit};
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
}

impl Figures {
    /// The figures of a finding, all in the unit of its limit.
    pub fn of(finding: &Finding) -> Figures {
        let mut figures = Figures {
            limit: finding.limit.as_ref().map(limit),
            ..Figures::default()
        };
        let mut decimals = (0, 0);
        match &finding.value {
            None => {}
            Some(FoundValue::Answer(yes)) => {
                figures.value = Some(Figure::words(if *yes { "yes" } else { "no" }))
            }
            Some(FoundValue::Word(word)) => figures.value = Some(Figure::words(word.clone())),
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
                figures.value = Some(Figure::new(
                    before,
                    rounded.number,
                    joined(uncertainty, shown_in),
                ));
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

fn limit(limit: &FoundLimit) -> Figure {
    match limit {
        FoundLimit::Bound {
            kind,
            value,
            unit,
            decimals,
            rounded,
        } => {
            let symbol = unit.symbol().to_owned();
            Figure::new(
                kind.words(),
                figure::limit(value, *unit, *decimals).number,
                match rounded {
                    None => symbol,
                    Some(rounded) => by_rounding(rounded, symbol, *unit),
                },
            )
        }
        FoundLimit::Equals(word) => Figure::words(format!("{word} asked")),
        FoundLimit::Only(list) => Figure::words(format!("only {} allowed", plain(list))),
        FoundLimit::Without(list) => match list.as_slice() {
            [one] => Figure::words(format!("no {} allowed", words::plain_name(one))),
            list => Figure::words(format!("none of {} allowed", plain(list))),
        },
        FoundLimit::Option(option) => {
            let listed = Number::Exact(option.listed.value.clone());
            let unit = option.listed.unit;
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
                figure::limit(&listed, unit, option.listed.decimals).number,
                format!("{} {near}", unit.symbol()).trim_start().to_owned(),
            )
        }
    }
}

/// `mm when rounded to 0.1 mm, so at least 4.65 mm`
fn by_rounding(rounded: &crate::rules::Rounded, symbol: String, unit: Unit) -> String {
    let exact = Number::Exact(rounded.limit.clone());
    let exact = figure::limit(&exact, unit, None).number;
    let words = format!(
        "{symbol} when rounded to {}, so {} {exact} {symbol}",
        rounded.to.as_written(),
        rounded.kind.words()
    );
    words.trim().to_owned()
}

/// Words as people read them, one after another.
fn plain(list: &[String]) -> String {
    let words: Vec<String> = list.iter().map(|word| words::plain_name(word)).collect();
    words.join(", ")
}

fn joined(uncertainty: Option<String>, unit: Unit) -> String {
    match uncertainty {
        Some(text) if unit == Unit::PLAIN => text,
        Some(text) => format!("{text} {unit}"),
        None => unit.symbol().to_owned(),
    }
}

/// `short by 0.08 mm`, `over by 2`, `0.4 deg inside`, `on the limit`.
fn margin_words(
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
