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

/// A number of a dimension with its unit: a decimal in the unit wanted or in another one, else a fraction.
pub(super) fn written(
    value: &Exact,
    dimension: Dimension,
    wanted: Option<Unit>,
) -> Result<String, String> {
    let wanted = wanted.filter(|unit| unit.dimension() == dimension);
    let usual = wanted.into_iter().chain(usual(dimension));
    let units = || {
        usual
            .clone()
            .chain(Unit::all().filter(|unit| unit.dimension() == dimension))
    };
    let decimal = units().find_map(|unit| {
        let digits = unit.from_base(value).decimals_needed()?;
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

/// The unit in which a class speaks of a measure: that of what is plausible, else that of a limit on it.
pub(super) fn unit_of(rules: &RulesFile, part: PartId, id: MeasureId) -> Option<Unit> {
    let measure = rules.vocabulary.part(part)?.measures.get(id.index())?;
    if let Some(unit) = measure.plausible_unit {
        return Some(unit);
    }
    let own = |node: &Node| match node.op {
        Op::Measure(Scope::Own, own) => own == id,
        Op::Measure(Scope::Boat, own) => own == id && part == Vocabulary::BOAT,
        _ => false,
    };
    let about = rules.rules.iter().filter(|rule| rule.applies_to == part);
    let mut about = about.filter(|rule| own(&rule.value.root));
    about.find_map(|rule| {
        let mut limits = rows(&rule.limits, &rule.instead).flat_map(|row| row.demand.bounds());
        limits.find_map(|bound| match &bound.limit.root.op {
            Op::Quantity { unit, .. } => Some(*unit),
            _ => None,
        })
    })
}
