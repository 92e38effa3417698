//! Numbers as a record has them: in the unit of the class, exactly.

use super::document::Document;
use crate::expression::{Node, Op, Scope};
use crate::quantity::{Dimension, Exact, Quantity, Unit, show};
use crate::rules::{RulesFile, rows};
use crate::vocabulary::{MeasureId, PartId, Vocabulary};

/// More decimals than a person would write; what needs more is written as a fraction.
const DIGITS: usize = 9;

/// The unit that people write a dimension in where the class says nothing.
fn usual(dimension: Dimension) -> Option<Unit> {
    let usual = [
        Unit::MM,
        Unit::KG,
        Unit::DEG,
        Unit::N,
        Unit::M2,
        Unit::N_PER_MM,
        Unit::DEG_C,
        Unit::PLAIN,
    ];
    usual.into_iter().find(|unit| unit.dimension() == dimension)
}

/// How a class writes a measure.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Style {
    /// The unit; nothing where the class names none.
    unit: Option<Unit>,
    /// Digits behind the point at least: a limit of 4.70 mm is met by 4.70 mm, not by 4.7 mm.
    decimals: usize,
}

impl From<Unit> for Style {
    /// A unit, with as many digits as a number needs.
    fn from(unit: Unit) -> Style {
        Style {
            unit: Some(unit),
            decimals: 0,
        }
    }
}

/// A number of a dimension with its unit: a decimal as the class writes it, with more digits where it needs more, or a
/// decimal in another unit, else a fraction.
pub(super) fn written(value: &Exact, dimension: Dimension, style: Style) -> Result<String, String> {
    let wanted = style.unit.filter(|unit| unit.dimension() == dimension);
    let usual = wanted.into_iter().chain(usual(dimension));
    let units = || {
        usual
            .clone()
            .chain(Unit::all().filter(|unit| unit.dimension() == dimension))
    };
    let decimal = units().find_map(|unit| {
        let needed = unit.from_base(value).decimals_needed()?;
        let least = match wanted == Some(unit) {
            true => style.decimals,
            false => 0,
        };
        let digits = needed.max(least);
        (digits <= DIGITS).then(|| show::fixed_with_unit(value, unit, digits))
    });
    let text = decimal.or_else(|| {
        let unit = units().next()?;
        Some(show::with_unit(&unit.from_base(value).to_string(), unit))
    });
    let read = text.filter(|text| {
        let read = Quantity::parse_as(text, dimension);
        read.is_ok_and(|read| read.value == *value)
    });
    read.ok_or_else(|| format!("{value} can't be written as {}", dimension.in_words()))
}

/// The same number so many times, as readings.
pub(super) fn repeated(text: &str, times: u32) -> Document {
    if times <= 1 {
        return Document::text(text);
    }
    match text.split_once(' ') {
        Some((number, _)) if !text.contains('/') => {
            let before = (1..times).map(|_| number);
            Document::text(before.chain([text]).collect::<Vec<_>>().join(" "))
        }
        Some(_) | None => Document::List((0..times).map(|_| Document::text(text)).collect()),
    }
}

/// How a class writes a measure: in the unit of what is plausible, else of a limit on it, with the digits of its limits
/// in that unit.
pub(super) fn style_of(rules: &RulesFile, part: PartId, id: MeasureId) -> Style {
    let own = |node: &Node| match node.op {
        Op::Measure(Scope::Own, own) => own == id,
        Op::Measure(Scope::Boat, own) => own == id && part == Vocabulary::BOAT,
        _ => false,
    };
    let about = rules.rules.iter().filter(|rule| rule.applies_to == part);
    let about = about.filter(|rule| own(&rule.value.root));
    let limits = about.flat_map(|rule| rows(&rule.limits, &rule.instead));
    let limits = limits.flat_map(|row| row.demand.bounds());
    let written = limits.filter_map(|bound| match &bound.limit.root.op {
        Op::Quantity { unit, .. } => {
            let as_written = Quantity::parse(&bound.limit.text).ok();
            let decimals = as_written.and_then(|one| one.decimals).unwrap_or(0);
            Some((*unit, usize::from(decimals)))
        }
        _ => None,
    });
    let written: Vec<(Unit, usize)> = written.collect();
    let measure = rules.vocabulary.part(part);
    let measure = measure.and_then(|part| part.measures.get(id.index()));
    let plausible = measure.and_then(|measure| measure.plausible_unit);
    let unit = plausible.or(written.first().map(|(unit, _)| *unit));
    let of_unit = written.iter().filter(|(own, _)| Some(*own) == unit);
    Style {
        unit,
        decimals: of_unit.map(|(_, decimals)| *decimals).max().unwrap_or(0),
    }
}
