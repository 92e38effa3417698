//! Laws of propagation and of the expanded uncertainty, as property tests.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

use proptest::prelude::*;

use super::*;
use crate::quantity::{Exact, Number};

/// Readings of one mean in thousandths, its instrument, and how it enters the result.
#[derive(Clone, Debug)]
struct Mean {
    readings: Vec<i64>,
    instrument: u32,
    sensitivity: f64,
}

#[derive(Clone, Debug)]
struct Case {
    means: Vec<Mean>,
    instruments: Vec<InstrumentError>,
}

fn instrument() -> impl Strategy<Value = InstrumentError> {
    let size = || prop_oneof![Just(0.0), 1e-4..0.05];
    (size(), size(), prop::option::of(size()), size(), size()).prop_map(
        |(resolution, permissible, repeatability, calibration, floor)| InstrumentError {
            resolution,
            max_permissible_error: permissible,
            repeatability,
            calibration,
            floor,
            ..InstrumentError::default()
        },
    )
}

fn case() -> impl Strategy<Value = Case> {
    let mean = (
        prop::collection::vec(-8_i64..8, 1..5),
        0_u32..2,
        prop::sample::select(vec![1.0, -1.0, 0.5, 0.2, 3.0]),
    )
        .prop_map(|(readings, instrument, sensitivity)| Mean {
            readings,
            instrument,
            sensitivity,
        });
    (
        prop::collection::vec(mean, 1..5),
        prop::collection::vec(instrument(), 2),
    )
        .prop_map(|(means, instruments)| Case { means, instruments })
}

fn thousandths(readings: &[i64]) -> Vec<Exact> {
    readings
        .iter()
        .map(|&n| Exact::from_fraction(n + 5000, 1000).unwrap())
        .collect()
}

/// Each mean with its instrument's parts.
fn values(case: &Case) -> Vec<Uncertain> {
    let mut pools = [Pool::new(), Pool::new()];
    for mean in &case.means {
        pools[mean.instrument as usize].add(&thousandths(&mean.readings));
    }
    case.means
        .iter()
        .zip(1..)
        .map(|(mean, id)| {
            let ids = SourceIds {
                mean: id,
                pool: mean.instrument,
                instrument: mean.instrument,
                calibration: mean.instrument,
            };
            let readings = thousandths(&mean.readings);
            let which = mean.instrument as usize;
            mean_of_repeats(&readings, &pools[which], &case.instruments[which], ids)
        })
        .collect()
}

/// The means weighted with their sensitivities.
fn evaluate(case: &Case) -> Uncertain {
    let means = values(case);
    let terms: Vec<_> = means
        .iter()
        .zip(&case.means)
        .map(|(value, mean)| (value, mean.sensitivity))
        .collect();
    Uncertain::linear(Number::ZERO, &terms)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(3000))]

    /// The law: more uncertainty never turns a doubt into a pass. U rises with everything that has infinite
    /// degrees of freedom, and with every floor.
    #[test]
    fn more_uncertainty_never_shrinks_the_expanded_one(
        case in case(),
        which in 0_usize..2,
        what in 0..5,
        factor in 1.0..4.0_f64,
        more in prop_oneof![Just(0.0), 1e-4..0.05],
        p in prop::sample::select(vec![0.6827, 0.90, 0.95, 0.9545, 0.99]),
    ) {
        let coverage = Coverage::new(p).unwrap();
        let mut worse = case.clone();
        let grow = |x: f64| x * factor + more;
        let instrument = &mut worse.instruments[which];
        match what {
            0 => instrument.resolution = grow(instrument.resolution),
            1 => instrument.max_permissible_error = grow(instrument.max_permissible_error),
            2 => instrument.repeatability = Some(grow(instrument.repeatability.unwrap_or(0.0))),
            3 => instrument.calibration = grow(instrument.calibration),
            _ => instrument.floor = grow(instrument.floor),
        }
        let before = evaluate(&case).expanded(&coverage);
        let after = evaluate(&worse).expanded(&coverage);
        prop_assert!(
            after.U >= before.U * (1.0 - 1e-11),
            "{:?} became {:?}", before, after
        );
        // So under guarded acceptance it turns no doubt into a decision.
        let limit = Number::Exact(Exact::from_integer(5));
        let limit = Limit { side: Side::Lower, strict: false, value: &limit };
        let value = Uncertain::exact(Exact::from_f64_shortest(5.0 + before.U / 2.0).unwrap());
        let rule = DecisionRule::GuardedAcceptance;
        let decided = |u: f64| decide(rule, &limit, &value, Some(u), &Exact::ONE).verdict;
        if decided(before.U) == Verdict::NearLimit {
            prop_assert_eq!(decided(after.U), Verdict::NearLimit);
        }
    }

    /// A larger guard factor leaves every doubt a doubt and turns a decision into nothing but a doubt.
    #[test]
    fn a_larger_guard_factor_only_doubts(
        thousandths in -100_i64..100,
        u in 0.0..0.05_f64,
        factor in 0_i64..30,
        more in 0_i64..30,
        strict: bool,
    ) {
        let limit = Number::Exact(Exact::from_integer(5));
        let limit = Limit { side: Side::Upper, strict, value: &limit };
        let value = Exact::from_integer(5).add(&Exact::from_fraction(thousandths, 1000).unwrap());
        let value = Uncertain::exact(value);
        let decided = |tenths: i64| {
            let factor = Exact::from_fraction(tenths, 10).unwrap();
            decide(DecisionRule::GuardedAcceptance, &limit, &value, Some(u), &factor).verdict
        };
        let (before, after) = (decided(factor), decided(factor + more));
        prop_assert!(after == before || after == Verdict::NearLimit, "{:?} {:?}", before, after);
    }

    /// A value minus itself is exactly zero, with no uncertainty.
    #[test]
    fn a_value_cancels_against_itself(case in case()) {
        let value = evaluate(&case);
        let nothing = value.sub(&value);
        prop_assert!(nothing.parts.is_empty());
        prop_assert_eq!(nothing.expanded(&Coverage::ninety_five()).U, 0.0);
        let doubled = value.add(&value);
        prop_assert!((doubled.combined().u - 2.0 * value.combined().u).abs() <= 1e-14 * doubled.combined().u);
        let ratio = mean(&[4712, 4716], 9, &case.instruments[0]);
        let one = ratio.div(&ratio).unwrap();
        prop_assert!(one.parts.is_empty(), "{:?}", one.parts);
    }

    /// The unit of the readings changes U in proportion, and neither k nor ν.
    #[test]
    fn the_unit_changes_nothing(case in case(), exponent in -6_i32..6) {
        let coverage = Coverage::ninety_five();
        let value = evaluate(&case);
        let scaled = value.scale(&Exact::power_of_ten(exponent).mul(&Exact::from_integer(254)));
        let (a, b) = (value.expanded(&coverage), scaled.expanded(&coverage));
        let factor = 254.0 * 10_f64.powi(exponent);
        prop_assert!((b.U - a.U * factor).abs() <= 1e-11 * b.U.abs());
        prop_assert!((a.k - b.k).abs() <= 1e-11 * a.k);
        prop_assert!(a.nu == b.nu || (a.nu / b.nu - 1.0).abs() < 1e-11);
    }

    /// The order in which values are added changes no part.
    #[test]
    fn sums_do_not_depend_on_their_order(case in case()) {
        let values = values(&case);
        let forward = Uncertain::sum(&values);
        let backward = Uncertain::sum(values.iter().rev());
        let chained = values.iter().fold(Uncertain::exact(Exact::ZERO), |sum, v| sum.add(v));
        for other in [&backward, &chained] {
            prop_assert!((forward.combined().u - other.combined().u).abs() <= 1e-13 * forward.combined().u);
        }
    }
}

fn mean(readings: &[i64], id: u32, instrument: &InstrumentError) -> Uncertain {
    let readings: Vec<Exact> = readings
        .iter()
        .map(|&n| Exact::from_fraction(n, 1000).unwrap())
        .collect();
    let ids = SourceIds {
        mean: id,
        pool: id,
        instrument: 1,
        calibration: 1,
    };
    mean_of_repeats(&readings, &Pool::of([readings.as_slice()]), instrument, ids)
}

#[test]
fn a_calibration_offset_cancels_between_two_readings_of_one_instrument() {
    let instrument = InstrumentError {
        calibration: 0.01,
        ..InstrumentError::default()
    };
    let (a, b) = (mean(&[4760], 1, &instrument), mean(&[4750], 2, &instrument));
    assert_eq!(a.combined().u, 0.01);
    assert!(a.sub(&b).parts.is_empty());
    assert_eq!(a.add(&b).combined().u, 0.02);
}

#[test]
fn a_maximum_permissible_error_shrinks_neither_by_averaging_nor_by_a_difference() {
    let instrument = InstrumentError {
        max_permissible_error: 0.03,
        ..InstrumentError::default()
    };
    let means: Vec<_> = (1..=4).map(|id| mean(&[4760], id, &instrument)).collect();
    let u = 0.03 / 3.0_f64.sqrt();
    let average = Uncertain::sum(&means).scale(&Exact::from_fraction(1, 4).unwrap());
    assert!((average.combined().u - u).abs() < 1e-15);
    let difference = means[0].sub(&means[1]);
    assert!((difference.combined().u - u * 2.0_f64.sqrt()).abs() < 1e-15);
}

#[test]
fn the_floor_of_one_reading_is_its_expanded_uncertainty_at_every_coverage() {
    let instrument = InstrumentError {
        resolution: 0.01,
        max_permissible_error: 0.004,
        repeatability: Some(0.003),
        calibration: 0.001,
        floor: 0.02,
        ..InstrumentError::default()
    };
    let value = mean(&[4760], 1, &instrument);
    for p in [0.90, 0.95, 0.9545, 0.99] {
        let expanded = value.expanded(&Coverage::new(p).unwrap());
        assert_eq!(expanded.U, 0.02, "p {p}");
        assert_eq!(expanded.by, Governing::MethodFloor);
        assert!((expanded.k - 2.0).abs() < 1e-12);
    }
    assert!((value.combined().u - 0.01).abs() < 1e-17);
    // A difference has both floors, a sum too, and the offset that both share counts once more in the sum.
    let other = mean(&[4700], 2, &instrument);
    let coverage = Coverage::ninety_five();
    let difference = value.sub(&other).expanded(&coverage);
    assert!((difference.U - 0.02 * 2.0_f64.sqrt()).abs() < 1e-15);
    assert!(value.add(&other).expanded(&coverage).U > difference.U);
    // A scatter larger than the floor governs again.
    let rough = mean(&[4700, 4800, 4750], 3, &instrument).expanded(&coverage);
    assert!(rough.U > 0.1 && rough.by != Governing::MethodFloor);
}

#[test]
fn welch_satterthwaite_alone_would_reward_a_worse_instrument() {
    let with = |max_permissible_error: f64| {
        let instrument = InstrumentError {
            max_permissible_error,
            ..InstrumentError::default()
        };
        mean(&[4760, 4770, 4750], 1, &instrument)
    };
    let coverage = Coverage::ninety_five();
    let plain = |value: &Uncertain| {
        let combined = value.combined();
        coverage.factor(combined.nu) * combined.u
    };
    let (good, bad) = (with(0.0), with(0.008));
    assert!(plain(&bad) < plain(&good), "the paradox");
    let (good, bad) = (good.expanded(&coverage), bad.expanded(&coverage));
    assert!(bad.U >= good.U);
    assert_eq!(bad.by, Governing::Repeatability);
    // s = 0.01, ν = 2, t = 4.303.
    assert!((good.U - 4.302_653 * 0.01 / 3.0_f64.sqrt()).abs() < 1e-8);
}

#[test]
fn repeats_pool_and_lone_readings_borrow() {
    let decimal = |texts: &[&str]| -> Vec<Exact> {
        texts
            .iter()
            .map(|t| Exact::from_decimal(t).unwrap())
            .collect()
    };
    let places = [
        decimal(&["4.76", "4.77", "4.75"]),
        decimal(&["4.74", "4.75"]),
        decimal(&["4.80"]),
    ];
    let pool = Pool::of(places.iter().map(Vec::as_slice));
    assert_eq!(pool.degrees_of_freedom(), 3);
    // Σ squares: 0.0002 + 0.00005.
    let s = (0.000_25_f64 / 3.0).sqrt();
    assert!((pool.standard_deviation().unwrap() - s).abs() < 1e-15);
    let ids = SourceIds {
        mean: 1,
        pool: 1,
        instrument: 1,
        calibration: 1,
    };
    let instrument = InstrumentError {
        repeatability: Some(0.5),
        correction: Exact::from_decimal("0.001").unwrap(),
        ..InstrumentError::default()
    };
    let first = mean_of_repeats(&places[0], &pool, &instrument, ids);
    assert_eq!(
        first.value.as_exact(),
        Exact::from_decimal("4.761").as_ref()
    );
    assert!((first.combined().u - s / 3.0_f64.sqrt()).abs() < 1e-15);
    assert!((first.combined().nu - 3.0).abs() < 1e-12);
    let lone = mean_of_repeats(&places[2], &pool, &instrument, ids);
    assert!((lone.combined().u - s).abs() < 1e-15);
    let borrowed = mean_of_repeats(&places[2], &Pool::new(), &instrument, ids);
    assert_eq!(
        borrowed.combined(),
        Combined {
            u: 0.5,
            nu: f64::INFINITY
        }
    );
    // Without repeats of its own pool a mean uses its own scatter.
    let own = mean_of_repeats(&places[1], &Pool::new(), &instrument, ids);
    assert!((own.combined().u - 0.005).abs() < 1e-15 && own.combined().nu == 1.0);
    let none = mean_of_repeats(&[], &pool, &instrument, ids);
    assert!(none.unknown && none.bound == Some(Bound::Neither));
}

#[test]
fn the_larger_of_scatter_and_resolution_counts() {
    let u = |resolution: f64| {
        let instrument = InstrumentError {
            resolution,
            ..InstrumentError::default()
        };
        mean(&[4760, 4770, 4750], 1, &instrument).combined().u
    };
    let scatter = 0.01 / 3.0_f64.sqrt();
    assert_eq!(u(0.0), u(0.01));
    assert!((u(0.01) - scatter).abs() < 1e-15);
    assert!((u(0.1) - 0.1 / 12.0_f64.sqrt()).abs() < 1e-15);
}

#[test]
fn bounds_follow_the_signs() {
    let at = |n: i64, bound| Uncertain::exact(Exact::from_integer(n)).with_bound(bound);
    let (least, most, neither) = (
        Some(Bound::AtLeast),
        Some(Bound::AtMost),
        Some(Bound::Neither),
    );
    assert_eq!(at(3, least).add(&at(4, None)).bound, least);
    assert_eq!(at(3, least).add(&at(4, least)).bound, least);
    assert_eq!(at(3, least).add(&at(4, most)).bound, neither);
    assert_eq!(at(3, least).sub(&at(4, most)).bound, least);
    assert_eq!(at(3, least).sub(&at(4, least)).bound, neither);
    assert_eq!(at(3, None).sub(&at(4, least)).bound, most);
    assert_eq!(at(3, least).neg().bound, most);
    assert_eq!(at(3, least).scale(&Exact::from_integer(-2)).bound, most);
    assert_eq!(at(3, least).scale(&Exact::ZERO).bound, None);
    assert_eq!(at(3, least).mul(&at(-2, None)).bound, most);
    assert_eq!(at(3, least).mul(&at(2, least)).bound, least);
    assert_eq!(at(-3, least).mul(&at(2, least)).bound, neither);
    assert_eq!(at(-3, most).mul(&at(-2, most)).bound, least);
    assert_eq!(at(3, least).mul(&at(0, None)).bound, None);
    assert_eq!(at(6, None).div(&at(2, least)).unwrap().bound, most);
    assert_eq!(at(-6, None).div(&at(2, least)).unwrap().bound, least);
    assert_eq!(at(6, least).div(&at(-2, None)).unwrap().bound, most);
    assert!(at(6, None).div(&at(2, most)).is_none(), "it may be zero");
    assert!(at(6, None).div(&at(0, None)).is_none());
    assert_eq!(at(3, least).abs().bound, least);
    assert_eq!(at(-3, most).abs().bound, least);
    assert_eq!(at(-3, least).abs().bound, neither);
    assert_eq!(at(5, least).min(&at(4, None)).bound, None);
    assert_eq!(at(3, least).min(&at(4, None)).bound, least);
    assert_eq!(at(5, most).min(&at(4, None)).bound, most);
    assert_eq!(at(3, least).max(&at(4, None)).bound, least);
    assert_eq!(at(3, most).max(&at(4, None)).bound, None);
    assert_eq!(at(3, most).max(&at(4, most)).bound, most);
    assert!(
        at(3, None)
            .add(&at(1, None).with_unknown_uncertainty())
            .unknown
    );
}

proptest! {
    /// Whatever is computed of bounded values holds for every value that the bounds allow.
    #[test]
    fn a_computed_bound_holds_for_every_allowed_value(
        a in -5_i64..6, b in -5_i64..6, x in 0_i64..4, y in 0_i64..4,
        a_bound in prop::sample::select(vec![None, Some(Bound::AtLeast), Some(Bound::AtMost)]),
        b_bound in prop::sample::select(vec![None, Some(Bound::AtLeast), Some(Bound::AtMost)]),
    ) {
        let truth = |n: i64, by: i64, bound| match bound {
            Some(Bound::AtLeast) => n + by,
            Some(Bound::AtMost) => n - by,
            _ => n,
        };
        let (p, q) = (truth(a, x, a_bound), truth(b, y, b_bound));
        let at = |n: i64, bound| Uncertain::exact(Exact::from_integer(n)).with_bound(bound);
        let (u, v) = (at(a, a_bound), at(b, b_bound));
        let fraction = |n: i64, d: i64| Exact::from_fraction(n, d);
        let results = [
            (Some(u.add(&v)), Some(Exact::from_integer(p + q))),
            (Some(u.sub(&v)), Some(Exact::from_integer(p - q))),
            (Some(u.mul(&v)), Some(Exact::from_integer(p * q))),
            (u.div(&v), fraction(p, q)),
            (Some(u.min(&v)), Some(Exact::from_integer(p.min(q)))),
            (Some(u.max(&v)), Some(Exact::from_integer(p.max(q)))),
            (Some(u.abs()), Some(Exact::from_integer(p.abs()))),
        ];
        for (i, (computed, truth)) in results.into_iter().enumerate() {
            let (Some(computed), Some(truth)) = (computed, truth) else { continue };
            let stated = computed.value.as_exact().unwrap();
            match computed.bound {
                None => prop_assert_eq!(stated, &truth, "operation {}", i),
                Some(Bound::AtLeast) => prop_assert!(&truth >= stated, "operation {}", i),
                Some(Bound::AtMost) => prop_assert!(&truth <= stated, "operation {}", i),
                Some(Bound::Neither) => {}
            }
        }
    }
}
