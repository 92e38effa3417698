//! Budgets: their sums are those of the value itself.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

use proptest::prelude::*;

use super::*;
use crate::quantity::Exact;
use crate::uncertainty::{InstrumentError, MeanWords, Pool, Sample, SourceIds, mean_of_sample};

fn thousandths(n: i64) -> Exact {
    Exact::from_integer(n)
        .checked_div(&Exact::from_integer(1000))
        .unwrap()
}

/// Means of repeats of one pool, with the register of their sources.
fn means(places: &[Vec<i64>], errors: &InstrumentError, first: u32) -> (Vec<Uncertain>, Register) {
    let readings: Vec<Vec<Exact>> = places
        .iter()
        .map(|place| place.iter().map(|n| thousandths(*n)).collect())
        .collect();
    let pool = Pool::of(readings.iter().map(Vec::as_slice));
    let mut register = Register::new();
    let values = readings
        .iter()
        .zip(first..)
        .map(|(place, mean)| {
            let ids = SourceIds {
                mean,
                pool: first,
                instrument: 7,
                calibration: 1 << 31 | 7,
            };
            let sample = Sample::of(place).unwrap();
            let words = MeanWords {
                what: &format!("thickness at place {mean}"),
                instrument: "micrometer mic_2",
                method: "micrometer",
                calibration: None,
                unit: Unit::MM,
                decimals: Some(3),
                places: places.len(),
            };
            register.mean(ids, &sample, &pool, errors, &words);
            mean_of_sample(&sample, &pool, errors, ids)
        })
        .collect();
    (values, register)
}

fn errors() -> impl Strategy<Value = InstrumentError> {
    let size = || prop_oneof![Just(0.0), 0.0005..0.05_f64];
    let repeatability = prop_oneof![Just(None), (0.0005..0.01_f64).prop_map(Some)];
    (size(), size(), size(), size(), repeatability).prop_map(
        |(resolution, max_permissible_error, calibration, floor, repeatability)| InstrumentError {
            resolution,
            max_permissible_error,
            repeatability,
            calibration,
            floor,
            ..InstrumentError::default()
        },
    )
}

proptest! {
    /// Values of shared sources, floors and permissible errors: the lines add up to u_c², U is that of the
    /// value to the last bit, and the largest way is the one that governs.
    #[test]
    fn the_lines_add_up_to_the_whole(
        places in prop::collection::vec(prop::collection::vec(6300_i64..6400, 1..4), 1..5),
        errors in errors(),
        factors in prop::collection::vec(-3_i64..4, 4),
        p in prop_oneof![Just(0.95), Just(0.99)],
    ) {
        let (values, register) = means(&places, &errors, 1);
        let coverage = Coverage::new(p).unwrap();
        let terms: Vec<Uncertain> = values
            .iter()
            .zip(&factors)
            .map(|(value, factor)| value.scale(&Exact::from_integer(*factor)))
            .collect();
        let sum = Uncertain::sum(&terms);
        let quotient = sum.div(&values[0]).unwrap();
        for value in values.iter().chain([&sum, &quotient]) {
            let budget = Budget::of(value, &register, &coverage, Unit::MM);
            let expanded = value.expanded(&coverage);
            prop_assert_eq!(budget.expanded.U.to_bits(), expanded.U.to_bits());
            prop_assert_eq!(budget.expanded, expanded);
            prop_assert_eq!(budget.combined, value.combined());
            let total = budget.combined.u * budget.combined.u;
            let sum: f64 = budget.lines.iter().map(|line| line.variance).sum();
            let sum = sum + budget.beyond_lines;
            prop_assert!((sum - total).abs() <= 1e-12 * total, "{} is not {}", sum, total);
            let parts = budget.lines.iter().map(|line| line.contribution.to_bits());
            let mut parts: Vec<u64> = parts.collect();
            let own = value.parts.to_vec();
            let mut own: Vec<u64> = own.iter().map(|part| part.u.to_bits()).collect();
            parts.sort_unstable();
            own.sort_unstable();
            prop_assert_eq!(parts, own);
            for line in &budget.lines {
                let product = line.sensitivity * line.u;
                let size = line.contribution.abs();
                prop_assert!((product - line.contribution).abs() <= 1e-14 * size);
                prop_assert!(line.source.stated != Stated::InResult, "{}", line.source.name);
            }
            if total > 0.0 {
                let largest = budget.ways.iter().map(|way| way.U).fold(0.0, f64::max);
                prop_assert!((largest - expanded.U).abs() <= 2e-12 * expanded.U);
                let way = budget.way().unwrap();
                prop_assert!((way.U - expanded.U).abs() <= 4e-16 * expanded.U);
            }
        }
    }

    /// Of one mean every sensitivity is 1: what is stated of the sources gives just the parts of the value.
    #[test]
    fn what_is_stated_of_a_mean_gives_its_parts(
        places in prop::collection::vec(prop::collection::vec(6300_i64..6400, 1..4), 1..5),
        errors in errors(),
    ) {
        let (values, register) = means(&places, &errors, 1);
        for value in &values {
            let budget = Budget::of(value, &register, &Coverage::ninety_five(), Unit::MM);
            for line in &budget.lines {
                // What the scatter leaves of the resolution is a difference, and can be small.
                let loss = match line.source.stated {
                    Stated::HalfWidthBeyond { a, .. } => 1e-15 * a * a / (line.u * line.u),
                    _ => 1e-15,
                };
                prop_assert!((line.sensitivity - 1.0).abs() <= loss, "{:?}", line);
                prop_assert_eq!(line.nu, line.source.nu);
            }
        }
    }
}

/// The sum of two readings of one instrument: its permissible error counts as fully correlated, and in their
/// difference as independent; the offset of its calibration cancels there.
#[test]
fn permissible_errors_take_the_larger_of_both_correlations() {
    let errors = InstrumentError {
        max_permissible_error: 0.003,
        calibration: 0.001,
        ..InstrumentError::default()
    };
    let (values, register) = means(&[vec![6352], vec![6347]], &errors, 1);
    let coverage = Coverage::ninety_five();
    let of = |value: &Uncertain| Budget::of(value, &register, &coverage, Unit::MM);
    let permissible = |budget: &Budget| -> Vec<(f64, Treatment)> {
        let lines = budget.lines.iter();
        let lines = lines.filter(|line| line.kind == PartKind::MaximumPermissibleError);
        lines.map(|line| (line.variance, line.treatment)).collect()
    };
    let sum = of(&values[0].add(&values[1]));
    // (2a/√3)², half of it for each: 6e-6 mm².
    for (variance, treatment) in permissible(&sum) {
        assert!((variance - 6e-6).abs() < 1e-18, "{variance}");
        assert_eq!(treatment, Treatment::Correlated);
    }
    assert_eq!(sum.lines.len(), 3);
    let difference = of(&values[0].sub(&values[1]));
    for (variance, treatment) in permissible(&difference) {
        assert!((variance - 3e-6).abs() < 1e-18, "{variance}");
        assert_eq!(treatment, Treatment::Uncorrelated);
    }
    assert_eq!(difference.lines.len(), 2, "the offset cancels");
    let one = of(&values[0]);
    assert_eq!(permissible(&one)[0].1, Treatment::Independent);
}

/// The budget of check-values 1 (constructed): 6.352, 6.351, 6.354 mm; instrument u 0.001; resolution 0.001 mm.
#[test]
fn the_runner_thickness_budget_line_by_line() {
    // Repeatability and resolution both count there: apart from the rule of the larger one.
    let mut register = Register::new();
    let scatter = Stated::StandardDeviation {
        s: (7.0_f64 / 3.0).sqrt() / 1000.0,
        n: 3,
    };
    let scatter = Source::new("scatter", Unit::MM, scatter, Distribution::StudentT).with_nu(2.0);
    let instrument = Stated::Standard(0.001);
    let instrument = Source::new("instrument", Unit::MM, instrument, Distribution::Normal);
    let resolution = Stated::HalfWidth(0.0005);
    let resolution = Source::new(
        "resolution",
        Unit::MM,
        resolution,
        Distribution::Rectangular,
    );
    let parts = [
        register.part(PartKind::Repeatability, 1, 1, scatter),
        register.part(PartKind::Calibration, 2, 2, instrument),
        register.part(PartKind::Resolution, 1, 1, resolution),
    ];
    let mean = Exact::from_fraction(19_057, 3000).unwrap();
    let value = Uncertain::new(Number::Exact(mean), parts);
    let budget = Budget::of(&value, &register, &Coverage::ninety_five(), Unit::MM);
    let names: Vec<&str> = budget
        .lines
        .iter()
        .map(|one| one.source.name.as_str())
        .collect();
    assert_eq!(names, ["instrument", "scatter", "resolution"]);
    let expected = [0.001, 0.000_881_92, 0.000_288_675];
    for (line, expected) in budget.lines.iter().zip(expected) {
        assert!((line.contribution - expected).abs() < 5e-9, "{line:?}");
    }
    assert!((budget.combined.u - 0.001_364_23).abs() < 5e-9);
    assert!((budget.combined.nu - 11.4515).abs() < 5e-5);
    assert!((budget.ways[0].U - 0.002_988_3).abs() < 5e-8);
    // What three readings scatter has two degrees of freedom, and alone gives more.
    assert_eq!(budget.expanded.by, Governing::Repeatability);
    assert!((budget.expanded.U - 4.302_653 * 0.000_881_92).abs() < 5e-8);
    let share: f64 = budget.lines.iter().map(|line| line.share).sum();
    assert!((share - 1.0).abs() < 1e-15);
}

/// A reading under its floor: the floor adds what the reading lacks, and says so.
#[test]
fn a_floor_adds_what_the_reading_lacks() {
    let errors = InstrumentError {
        resolution: 0.001,
        floor: 0.02,
        ..InstrumentError::default()
    };
    let (values, register) = means(&[vec![6352]], &errors, 1);
    let budget = Budget::of(&values[0], &register, &Coverage::ninety_five(), Unit::MM);
    let floor = &budget.lines[0];
    let own = 0.001 / 12.0_f64.sqrt();
    let Treatment::FloorInForce { own: found } = floor.treatment else {
        panic!("{:?}", floor.treatment);
    };
    assert!((found - own).abs() < 1e-18);
    assert!((floor.variance - (1e-4 - own * own)).abs() < 1e-18);
    assert_eq!(budget.expanded.by, Governing::MethodFloor);
    assert!((budget.expanded.U - 0.02).abs() < 1e-17);
    assert!((budget.combined.u - 0.01).abs() < 1e-17);
}

/// A source that nobody named is not hidden, and what was computed with the result stands for itself.
#[test]
fn unnamed_sources_are_told_by_their_kind() {
    let part = Part::new(PartKind::Resolution, 4, 4, -0.003, f64::INFINITY);
    let value = Uncertain::new(Number::Exact(thousandths(6350)), [part]);
    let budget = Budget::of(&value, &Register::new(), &Coverage::ninety_five(), Unit::MM);
    let line = &budget.lines[0];
    assert_eq!(line.source.name, "resolution");
    assert_eq!((line.u, line.sensitivity), (0.003, -1.0));
    assert_eq!(line.source.stated, Stated::InResult);
    let nothing = Uncertain::exact(thousandths(6350));
    let budget = Budget::of(
        &nothing,
        &Register::new(),
        &Coverage::ninety_five(),
        Unit::MM,
    );
    assert!(budget.lines.is_empty());
    assert_eq!(budget.expanded.U, 0.0);
}
