//! An uncertainty budget for programs: every source, with twelve significant digits.

use serde::Serialize;

use crate::quantity::{Unit, show};
use crate::uncertainty::{Budget, Governing, Line, PartKind, Source, Stated, Treatment};

use super::budget::{coefficient, coefficient_unit, plain_number, significant};
use super::figure::printable;

/// Significant digits.
const MORE_DIGITS: usize = 12;

/// A line for programs.
#[derive(Debug, Serialize)]
pub struct BudgetLineJson {
    source: String,
    kind: &'static str,
    value: Option<NumberJson>,
    stated: Option<StatedJson>,
    distribution: &'static str,
    divisor: Option<f64>,
    standard_uncertainty: NumberJson,
    sensitivity: SensitivityJson,
    contribution: NumberJson,
    share: f64,
    degrees_of_freedom: Option<f64>,
    correlation: &'static str,
}

#[derive(Debug, Serialize)]
struct NumberJson {
    number: String,
    unit: &'static str,
}

#[derive(Debug, Serialize)]
struct SensitivityJson {
    number: String,
    unit: String,
}

#[derive(Debug, Serialize)]
struct StatedJson {
    kind: &'static str,
    number: String,
    unit: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    coverage_factor: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    readings: Option<u32>,
}

/// What the lines come to, for programs.
#[derive(Debug, Serialize)]
pub struct BudgetSumJson {
    of: String,
    combined_standard_uncertainty: NumberJson,
    effective_degrees_of_freedom: Option<f64>,
    coverage_probability: f64,
    coverage_factor: f64,
    expanded_uncertainty: Option<NumberJson>,
    governed_by: &'static str,
    ways: Vec<WayJson>,
}

#[derive(Debug, Serialize)]
struct WayJson {
    by: &'static str,
    standard_uncertainty: NumberJson,
    degrees_of_freedom: Option<f64>,
    coverage_factor: f64,
    expanded_uncertainty: NumberJson,
}

fn difference(size: f64, unit: Unit) -> NumberJson {
    NumberJson {
        number: significant(size, unit, MORE_DIGITS),
        unit: unit.symbol(),
    }
}

fn finite(nu: f64) -> Option<f64> {
    nu.is_finite().then_some(nu)
}

/// The lines for programs, all of them, what gives most first.
pub fn budget_json(budget: &Budget) -> Vec<BudgetLineJson> {
    budget
        .lines
        .iter()
        .map(|line| line_json(line, budget))
        .collect()
}

fn line_json(line: &Line, budget: &Budget) -> BudgetLineJson {
    let source = &line.source;
    let unit = source.unit;
    BudgetLineJson {
        source: source.name.clone(),
        kind: kind_word(line),
        value: source
            .estimate
            .as_ref()
            .and_then(printable)
            .map(|estimate| NumberJson {
                number: show::number(&estimate, unit, source.decimals).0,
                unit: unit.symbol(),
            }),
        stated: stated_json(source),
        distribution: source.distribution.word(),
        divisor: source.stated.divisor(source.distribution),
        standard_uncertainty: difference(line.u, unit),
        sensitivity: SensitivityJson {
            number: plain_number(coefficient(line, budget.unit), MORE_DIGITS),
            unit: coefficient_unit(line, budget.unit),
        },
        contribution: difference(line.contribution, budget.unit),
        share: line.share,
        degrees_of_freedom: finite(line.nu),
        correlation: match line.treatment {
            Treatment::Independent => "independent",
            Treatment::Uncorrelated => "r_0",
            Treatment::Correlated => "r_1",
            Treatment::FloorInForce { .. } => "floor_in_force",
            Treatment::FloorReached { .. } => "floor_reached",
        },
    }
}

fn kind_word(line: &Line) -> &'static str {
    match line.kind {
        PartKind::Repeatability => "repeatability",
        PartKind::Resolution => "resolution",
        PartKind::MaximumPermissibleError => "max_permissible_error",
        PartKind::Calibration => "calibration",
        PartKind::Table => "table",
        PartKind::Condition => "condition",
        PartKind::MethodFloor => "method_floor",
    }
}

fn stated_json(source: &Source) -> Option<StatedJson> {
    let (kind, coverage_factor, readings) = match source.stated {
        Stated::HalfWidth(_) => ("half_width", None, None),
        Stated::HalfWidthBeyond { .. } => ("half_width_in_all", None, None),
        Stated::Expanded { k, .. } => ("expanded_uncertainty", Some(k), None),
        Stated::StandardDeviation { n, .. } => ("standard_deviation", None, Some(n)),
        Stated::Standard(_) => ("standard_uncertainty", None, None),
        Stated::InResult => return None,
    };
    Some(StatedJson {
        kind,
        number: significant(source.stated.figure()?, source.unit, MORE_DIGITS),
        unit: source.unit.symbol(),
        coverage_factor,
        readings,
    })
}

fn governing(by: Governing) -> &'static str {
    match by {
        Governing::Combined => "combined",
        Governing::Repeatability => "repeatability",
        Governing::MethodFloor => "method_floor",
    }
}

/// What the lines come to, for programs.
pub fn budget_sum_json(budget: &Budget) -> BudgetSumJson {
    let unit = budget.unit;
    BudgetSumJson {
        of: budget.of.clone(),
        combined_standard_uncertainty: difference(budget.combined.u, unit),
        effective_degrees_of_freedom: finite(budget.combined.nu),
        coverage_probability: budget.probability,
        coverage_factor: budget.expanded.k,
        expanded_uncertainty: (!budget.unknown).then(|| difference(budget.expanded.U, unit)),
        governed_by: governing(budget.expanded.by),
        ways: budget
            .ways
            .iter()
            .map(|way| WayJson {
                by: governing(way.by),
                standard_uncertainty: difference(way.u, unit),
                degrees_of_freedom: finite(way.nu),
                coverage_factor: way.k,
                expanded_uncertainty: difference(way.U, unit),
            })
            .collect(),
    }
}
