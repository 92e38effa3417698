//! A budget as it is printed.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

use super::*;
use crate::quantity::{Number, Unit};
use crate::report::{budget_json, budget_sum_json};
use crate::uncertainty::{
    Coverage, Distribution, InstrumentError, MeanWords, Part, PartKind, Pool, Register, Sample,
    SourceIds, Uncertain, mean_of_sample,
};

fn exact(text: &str) -> Exact {
    Exact::from_decimal(text).unwrap()
}

/// Two thicknesses read with one micrometer, and the half width that a scale leaves of something else.
fn budget() -> Budget {
    let errors = InstrumentError {
        resolution: 0.001,
        max_permissible_error: 0.004,
        calibration: 0.0015,
        floor: 0.02,
        ..InstrumentError::default()
    };
    let mut register = Register::new();
    let places = [["4.621", "4.618", "4.624"], ["4.640", "4.641", "4.638"]];
    let places = places.map(|place| place.map(exact));
    let pool = Pool::of(places.iter().map(|place| place.as_slice()));
    let mut sum = Vec::new();
    for (mean, place) in (1..).zip(&places) {
        let ids = SourceIds {
            mean,
            pool: 1,
            instrument: 1,
            calibration: 9,
        };
        let sample = Sample::of(place).unwrap();
        let words = MeanWords {
            what: &format!(
                "steel thickness of S1 at {} mm",
                300 * i64::from(mean) - 600
            ),
            instrument: "micrometer mic_2",
            method: "micrometer",
            calibration: Some((0.003, 2.0)),
            unit: Unit::MM,
            decimals: Some(3),
            places: 2,
        };
        register.mean(ids, &sample, &pool, &errors, &words);
        sum.push(mean_of_sample(&sample, &pool, &errors, ids));
    }
    let shim = Source::new(
        "leaf 0.008 in",
        Unit::IN,
        Stated::HalfWidth(0.0127),
        Distribution::Rectangular,
    )
    .with_estimate(Number::Exact(exact("0.2032")), Some(3));
    let part = register.part(PartKind::Resolution, 7, 7, shim);
    let leaf = Uncertain::new(Number::Exact(exact("0.2032")), [part]);
    let rest = Part::new(PartKind::Resolution, 8, 8, 1e-6, f64::INFINITY);
    let rest = Uncertain::new(Number::ZERO, [rest]);
    let value = sum[0]
        .add(&sum[1])
        .scale(&Exact::from_fraction(1, 2).unwrap());
    let value = value.add(&leaf.scale(&exact("0.25"))).add(&rest);
    Budget::of(&value, &register, &Coverage::ninety_five(), Unit::MM)
        .about("steel thickness of S1", Some(3))
}

fn table(width: usize, all: bool) -> String {
    let lines = budget_table(&budget(), width, all);
    for line in &lines {
        assert!(width_of(line) <= width, "{line}");
    }
    lines.join("\n")
}

#[test]
fn at_80_columns_it_is_a_table() {
    let expected = "\
Budget of steel thickness of S1: 4.681 ± 0.015 mm
    u            distribution  divisor  c           c·u [mm]    share  ν
steel thickness of S1 at -300 mm, floor of the method micrometer: U 0.02 mm
  with k 2, in place of the 0.00154 mm that the reading has by itself
    0.01 mm      normal        2        0.5          0.00500     40 %  ∞
steel thickness of S1 at 0 mm, floor of the method micrometer: U 0.02 mm with
  k 2, in place of the 0.00154 mm that the reading has by itself
    0.01 mm      normal        2        0.5          0.00500     40 %  ∞
leaf 0.008 in: 0.008 in, half width 0.0005 in
    0.000289 in  rectangular   1.732    6.35 mm/in   0.00183    5.9 %  ∞
steel thickness of S1 at -300 mm, maximum permissible error of micrometer
  mic_2: half width 0.004 mm, r = 1, which gives more than r = 0
    0.00231 mm   rectangular   1.732    0.5          0.00115    4.7 %  ∞
steel thickness of S1 at 0 mm, maximum permissible error of micrometer mic_2:
  half width 0.004 mm, r = 1, which gives more than r = 0
    0.00231 mm   rectangular   1.732    0.5          0.00115    4.7 %  ∞
micrometer mic_2, calibration: U 0.003 mm with k 2
    0.0015 mm    normal        2        1            0.00150    3.9 %  ∞
steel thickness of S1 at -300 mm, scatter of 3 readings, pooled over 2 places:
  4.621 mm, s 0.00238 mm of one, n 3
    0.00137 mm   Student t     1.732    0.5          0.00069    0.8 %  4
steel thickness of S1 at 0 mm, scatter of 3 readings, pooled over 2 places:
  4.639667 mm, s 0.00238 mm of one, n 3
    0.00137 mm   Student t     1.732    0.5          0.00069    0.8 %  4
resolution
    0.000001 mm  rectangular   -        1                 ~0  < 0.1 %  ∞
u_c = 0.00756 mm, 14650 degrees of freedom
all sources without the floors: k(95 %, 634) × u = 1.964 × 0.00345 mm =
  0.00677 mm
the scatter alone: k(95 %, 4) × u = 2.776 × 0.000972 mm = 0.0027 mm
each reading at its floor at least, and the rest: 0.0151 mm, the largest: it
  counts
U = 0.0151 mm, k = 1.995";
    assert_eq!(table(80, false), expected);
}

/// Narrow terminals get the same figures with their names; nothing is wider than the terminal.
#[test]
fn narrow_it_flows_with_names() {
    for width in [60, 40, 24] {
        let text = table(width, true);
        for piece in [
            "u 0.0015 mm",
            "divisor 1.732",
            "c 6.35 mm/in",
            "ν 4",
            "k = 1.995",
        ] {
            let found = text.split_whitespace().collect::<Vec<_>>().join(" ");
            assert!(found.contains(piece), "{piece} at {width}:\n{text}");
        }
    }
}

/// What gives little together is told in one line, and each where all is asked for.
#[test]
fn many_little_sources_are_told_together() {
    let mut budget = budget();
    let little = budget.lines.last().unwrap().clone();
    budget.lines.extend(std::iter::repeat_n(little, 4));
    let short = budget_table(&budget, 80, false).join("\n");
    assert!(
        short.contains("5 more sources, each of them less: together < 0.1 %"),
        "{short}"
    );
    assert!(!short.contains("\nresolution\n"));
    let whole = budget_table(&budget, 80, true).join("\n");
    assert_eq!(whole.matches("\nresolution\n").count(), 5);
}

#[test]
fn in_sentences_without_signs_that_are_not_read() {
    let said = budget_sentences(&budget());
    assert_eq!(said.len(), 9 + 1 + 5);
    assert_eq!(
        said[6],
        "micrometer mic_2, calibration: U 0.003 mm with k 2; normal, divided by 2: standard uncertainty 0.0015 mm, sensitivity 1, contributes 0.00150 mm, 3.9 % of the variance, degrees of freedom infinite."
    );
    for one in &said {
        assert!(
            one.ends_with('.') && !one.contains('∞') && !one.contains('·'),
            "{one}"
        );
    }
}

/// Programs get every source with twelve digits: their squares add up to u_c².
#[test]
fn for_programs_the_numbers_add_up() {
    let budget = budget();
    let lines = serde_json::to_value(budget_json(&budget)).unwrap();
    let sum = serde_json::to_value(budget_sum_json(&budget)).unwrap();
    let number =
        |value: &serde_json::Value| -> f64 { value["number"].as_str().unwrap().parse().unwrap() };
    let lines = lines.as_array().unwrap();
    assert_eq!(lines.len(), budget.lines.len());
    let shares: f64 = lines
        .iter()
        .map(|line| line["share"].as_f64().unwrap())
        .sum();
    assert!((shares - 1.0).abs() < 1e-12, "{shares}");
    for line in lines {
        let product = number(&line["sensitivity"]) * number(&line["standard_uncertainty"]);
        let inch = line["standard_uncertainty"]["unit"] == "in";
        assert_eq!(line["sensitivity"]["unit"], if inch { "mm/in" } else { "" });
        assert!(
            (product / number(&line["contribution"]) - 1.0).abs() < 1e-11,
            "{line}"
        );
    }
    let (u, k) = (
        number(&sum["combined_standard_uncertainty"]),
        sum["coverage_factor"].as_f64().unwrap(),
    );
    assert!((u * k / number(&sum["expanded_uncertainty"]) - 1.0).abs() < 1e-11);
    assert_eq!(sum["governed_by"], "method_floor");
    assert_eq!(sum["ways"].as_array().unwrap().len(), 3);
}

/// Nothing known, nothing uncertain: said, without a table of nothing.
#[test]
fn without_uncertainty_it_says_so() {
    let coverage = Coverage::ninety_five();
    let of = |value: &Uncertain| {
        let budget = Budget::of(value, &Register::new(), &coverage, Unit::MM);
        budget_table(&budget, 80, false).join("\n")
    };
    let exact = Uncertain::exact(exact("4.7"));
    assert_eq!(
        of(&exact),
        "Budget: 4.7 mm\nnothing in it is uncertain: U is 0"
    );
    let unknown = of(&exact.with_unknown_uncertainty());
    assert!(unknown.contains("U is not known"), "{unknown}");
}
