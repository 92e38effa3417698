//! The worked examples of JCGM 101:2008, clause 9, and laws of what is drawn.
//!
//! Values in `tests/data/jcgm101-examples.toml`, with where each comes from at its head. The coverage of a shortest
//! interval hardly changes as it slides, so its ends wander; its width is stable and is held tightly.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

use super::*;
use crate::quantity::{Exact, Number};
use crate::uncertainty::{Coverage, Part, PartKind, Uncertain};

/// Enough where ends are not held tightly; an unoptimised build takes a second for a million.
const FEWER: usize = 300_000;

const EXAMPLES: &str = include_str!("../../tests/data/jcgm101-examples.toml");

fn number(value: &toml::Value) -> f64 {
    match value {
        toml::Value::Float(f) => *f,
        #[expect(clippy::cast_precision_loss, reason = "small integers")]
        toml::Value::Integer(i) => *i as f64,
        other => panic!("not a number: {other:?}"),
    }
}

fn pair(value: &toml::Value) -> [f64; 2] {
    [number(&value[0]), number(&value[1])]
}

#[track_caller]
fn close(what: &str, found: f64, expected: f64, tolerance: f64) {
    assert!(
        (found - expected).abs() <= tolerance,
        "{what}: {found} is not {expected} within {tolerance}"
    );
}

/// The linear result of independent inputs `(value, u, ν)`: y, u and U.
fn linear(
    inputs: &[(f64, f64, f64)],
    probability: f64,
    model: impl Fn(&[Uncertain]) -> Uncertain,
) -> (f64, f64, f64) {
    let inputs: Vec<Uncertain> = inputs
        .iter()
        .zip(1..)
        .map(|(&(value, u, nu), id)| {
            let part = Part::new(PartKind::Calibration, id, id, u, nu);
            Uncertain::new(
                Number::Exact(Exact::from_f64_shortest(value).unwrap()),
                [part],
            )
        })
        .collect();
    let y = model(&inputs);
    let coverage = Coverage::new(probability).unwrap();
    (y.value.to_f64(), y.combined().u, y.expanded(&coverage).U)
}

fn sum_of(laws: &[Law]) -> MonteCarlo {
    let mut inputs = Inputs::new();
    for law in laws {
        inputs.add(*law);
    }
    inputs
        .run(TRIALS, SEED, 0.95, |x| Some(x.iter().sum()))
        .unwrap()
}

/// A rectangular law about 0 with a standard deviation.
fn rectangular(sd: f64) -> Law {
    Law::of(Distribution::Rectangular, 0.0, sd, f64::INFINITY)
}

/// 9.2.2: Y = X1 + X2 + X3 + X4, each N(0, 1). The linear result is right, and trusted.
#[test]
fn additive_model_of_normal_inputs() {
    let examples: toml::Table = EXAMPLES.parse().unwrap();
    let (published, exact) = (
        &examples["additive_normal"]["published"],
        &examples["additive_normal"]["exact"],
    );
    let found = sum_of(&[Law::Normal { mean: 0.0, u: 1.0 }; 4]);
    close("mean", found.mean, number(&published["mean"]), 0.006);
    close("u", found.u, number(&published["u"]), 0.005);
    close(
        "low",
        found.symmetric.low,
        number(&published["low95"]),
        0.02,
    );
    close(
        "high",
        found.symmetric.high,
        number(&published["high95"]),
        0.02,
    );
    let half = number(&exact["half95"]);
    close("width", found.symmetric.width(), 2.0 * half, 0.02);
    let one = (0.0, 1.0, f64::INFINITY);
    let (y, u, expanded) = linear(&[one; 4], 0.95, |x| Uncertain::sum(x));
    assert_eq!((y, u), (0.0, number(&exact["u"])));
    close("U", expanded, half, 1e-12);
    let validation = found.validate(y, expanded, 2);
    assert_eq!(validation.tolerance, 0.05);
    assert!(validation.linear_result_trusted, "{validation:?}");
    assert!(validation.beyond_chance, "{found:?}");
}

/// 9.2.3: four rectangular inputs of standard deviation 1; the sum is not quite normal. Two digits of u hide it,
/// three show it.
#[test]
fn additive_model_of_rectangular_inputs() {
    let examples: toml::Table = EXAMPLES.parse().unwrap();
    let (published, exact) = (
        &examples["additive_rectangular"]["published"],
        &examples["additive_rectangular"]["exact"],
    );
    let found = sum_of(&[rectangular(1.0); 4]);
    close("u", found.u, number(&published["u"]), 0.005);
    close(
        "low",
        found.symmetric.low,
        number(&published["mcm_low95"]),
        0.015,
    );
    close(
        "high",
        found.symmetric.high,
        number(&published["mcm_high95"]),
        0.015,
    );
    let half = number(&exact["half95"]);
    // 2·√3·(2 − (3/5)^(1/4)).
    close(
        "half",
        half,
        2.0 * 3.0_f64.sqrt() * (2.0 - 0.6_f64.powf(0.25)),
        1e-14,
    );
    close("width", found.symmetric.width(), 2.0 * half, 0.02);
    let linear_half = number(&published["guf_half95"]);
    assert!(found.validate(0.0, linear_half, 2).linear_result_trusted);
    let finer = found.validate(0.0, linear_half, 3);
    assert!(!finer.linear_result_trusted, "{finer:?}");
    assert!(finer.beyond_chance);
}

/// 9.2.4: one rectangular input dominates. The linear result is far too wide, and flagged.
#[test]
fn additive_model_with_a_dominant_input() {
    let examples: toml::Table = EXAMPLES.parse().unwrap();
    let (published, exact) = (
        &examples["additive_dominant"]["published"],
        &examples["additive_dominant"]["exact"],
    );
    let ones = [rectangular(1.0); 3];
    let found = sum_of(&[ones[0], ones[1], ones[2], rectangular(10.0)]);
    close("u", found.u, number(&published["u"]), 0.05);
    close("u", found.u, number(&exact["u"]), 0.02);
    close(
        "low",
        found.symmetric.low,
        number(&published["mcm_low95"]),
        0.05,
    );
    close(
        "high",
        found.symmetric.high,
        number(&published["mcm_high95"]),
        0.05,
    );
    close(
        "width",
        found.symmetric.width(),
        2.0 * number(&exact["half95"]),
        0.05,
    );
    let all = [1.0, 1.0, 1.0, 10.0].map(|u| (0.0, u, f64::INFINITY));
    let (y, u, expanded) = linear(&all, 0.95, |x| Uncertain::sum(x));
    close("u", u, number(&exact["u"]), 1e-12);
    close("U", expanded, number(&exact["guf_half95"]), 1e-6);
    close("U", expanded, number(&published["guf_half95"]), 0.05);
    let validation = found.validate(y, expanded, 2);
    assert!(!validation.linear_result_trusted, "{validation:?}");
    assert!(validation.beyond_chance);
}

/// 9.3: calibration of a weight; the first-order terms of the buoyancy vanish, and the linear u is 0.054 mg where
/// 0.075 mg is right.
#[test]
fn mass_calibration() {
    let examples: toml::Table = EXAMPLES.parse().unwrap();
    let example = &examples["mass_calibration"];
    let given = &example["inputs"];
    let mut inputs = Inputs::new();
    let (m, u_m) = (number(&given["m_rc"]), number(&given["u_m_rc"]));
    let (dm, u_dm) = (number(&given["dm"]), number(&given["u_dm"]));
    inputs.add(Law::Normal { mean: m, u: u_m });
    inputs.add(Law::Normal { mean: dm, u: u_dm });
    let mut linear_inputs = vec![(m, u_m, f64::INFINITY), (dm, u_dm, f64::INFINITY)];
    for name in ["ra", "rw", "rr"] {
        let [low, high] = pair(&given[name]);
        inputs.add(Law::Rectangular { low, high });
        let u = (high - low) / 12.0_f64.sqrt();
        linear_inputs.push((f64::midpoint(low, high), u, f64::INFINITY));
    }
    let found = inputs
        .run(TRIALS, SEED, 0.95, |x| {
            let [m, dm, air, weight, reference] = x else {
                return None;
            };
            let buoyancy = (air - 1.2) * (1.0 / weight - 1.0 / reference);
            Some((m + dm) * (1.0 + buoyancy) - 100_000.0)
        })
        .unwrap();
    let (published, exact) = (&example["published"], &example["exact"]);
    close("mean", found.mean, number(&published["mcm_mean"]), 2.5e-4);
    close("u", found.u, number(&published["mcm_u"]), 2e-4);
    close("u", found.u, number(&exact["u"]), 1.5e-4);
    let (shortest, [low, high]) = (found.shortest, pair(&exact["shortest_95"]));
    close("low", shortest.low, low, 0.003);
    close("high", shortest.high, high, 0.003);
    close("width", shortest.width(), high - low, 6e-4);
    close("symmetric", found.symmetric.low, low, 8e-4);
    close("symmetric", found.symmetric.high, high, 8e-4);

    let of = |name: &str| Uncertain::exact(Exact::from_decimal(name).unwrap());
    let (y, u, expanded) = linear(&linear_inputs, 0.95, |x| {
        let one = of("1");
        let over = one.div(&x[3]).unwrap().sub(&one.div(&x[4]).unwrap());
        let buoyancy = x[2].sub(&of("1.2")).mul(&over);
        x[0].add(&x[1]).mul(&one.add(&buoyancy)).sub(&of("100000"))
    });
    close("y", y, number(&exact["mean"]), 1e-12);
    close("u", u, number(&exact["first_order_u"]), 1e-12);
    let [low, high] = pair(&exact["first_order_95"]);
    close("U", y - expanded, low, 5e-8);
    close("U", y + expanded, high, 5e-8);
    let validation = found.validate(y, expanded, 2);
    assert!(!validation.linear_result_trusted, "{validation:?}");
}

/// 9.4: Y = X1² + X2² with x2 = 0. At the origin the linear u is 0; the flag is raised at all three places.
#[test]
fn comparison_loss_near_the_origin() {
    let u = 0.005;
    // x1, published mean and u of Monte Carlo, exact mean and u (closed forms of the data file's head).
    let rows = [
        (0.0, 50e-6, 50e-6),
        (0.010, 150e-6, 112e-6),
        (0.050, 2551e-6, 502e-6),
    ];
    for (x1, published_mean, published_u) in rows {
        let mut inputs = Inputs::new();
        inputs.add(Law::Normal { mean: x1, u });
        inputs.add(Law::Normal { mean: 0.0, u });
        let found = inputs
            .run(FEWER, SEED, 0.95, |x| Some(x[0] * x[0] + x[1] * x[1]))
            .unwrap();
        close("mean", found.mean, published_mean, 1.5e-6);
        close("u", found.u, published_u, 1.0e-6);
        let exact_u = (4.0 * x1 * x1 * u * u + 4.0 * u.powi(4)).sqrt();
        close("mean", found.mean, x1 * x1 + 2.0 * u * u, 0.004 * exact_u);
        close("u", found.u, exact_u, 0.006 * exact_u);
        if x1 == 0.0 {
            close("low", found.shortest.low, 0.0, 1e-7);
            close("high", found.shortest.high, 150e-6, 1e-6);
            close("high", found.shortest.high, 1.497_866e-4, 1e-6);
        }
        let at = [(x1, u, f64::INFINITY), (0.0, u, f64::INFINITY)];
        let (y, linear_u, expanded) = linear(&at, 0.95, |x| x[0].mul(&x[0]).add(&x[1].mul(&x[1])));
        close("y", y, x1 * x1, 1e-18);
        close("linear u", linear_u, 2.0 * x1 * u, 1e-18);
        let validation = found.validate(y, expanded, 2);
        assert!(!validation.linear_result_trusted, "{x1}: {validation:?}");
    }
}

/// 9.5: the end gauge of GUM H.1 with whole distributions; u is 36 nm where the linear one is 32 nm.
#[test]
fn gauge_block() {
    let examples: toml::Table = EXAMPLES.parse().unwrap();
    let example = &examples["gauge_block"];
    let mut inputs = Inputs::new();
    for (mean, scale, nu) in [
        (50_000_623.0, 25.0, 18.0),
        (215.0, 6.0, 24.0),
        (0.0, 4.0, 5.0),
        (0.0, 7.0, 8.0),
    ] {
        inputs.add(Law::StudentT { mean, scale, nu });
    }
    inputs.add(Law::Rectangular {
        low: 9.5e-6,
        high: 13.5e-6,
    });
    inputs.add(Law::Normal { mean: -0.1, u: 0.2 });
    inputs.add(Law::ArcSine {
        low: -0.5,
        high: 0.5,
    });
    inputs.add(Law::CurvilinearTrapezoid {
        low: -1e-6,
        high: 1e-6,
        d: 0.1e-6,
    });
    inputs.add(Law::CurvilinearTrapezoid {
        low: -0.05,
        high: 0.05,
        d: 0.025,
    });
    let model = |x: &[f64]| {
        let [gauge, d, d1, d2, alpha, theta, cycle, d_alpha, d_theta] = x else {
            return None;
        };
        let expansion = d_alpha * (theta + cycle) + alpha * d_theta;
        Some((gauge - 50_000_000.0) + d + d1 + d2 - gauge * expansion)
    };
    let (published, exact, mc) = (&example["published"], &example["exact"], &example["mc"]);
    let found = inputs.run(TRIALS, SEED, 0.99, model).unwrap();
    close("mean", found.mean, number(&published["mean"]), 0.5);
    close("u", found.u, number(&published["mcm_u"]), 0.5);
    close("mean", found.mean, number(&exact["mean"]), 0.12);
    close("u", found.u, number(&exact["u"]), 0.12);
    let [low, high] = pair(&mc["symmetric_99"]);
    close("low", found.symmetric.low, low, 1.0);
    close("high", found.symmetric.high, high, 1.0);
    let [low, high] = pair(&mc["shortest_99"]);
    close("low", found.shortest.low, low, 2.0);
    close("high", found.shortest.high, high, 2.0);
    close("width", found.shortest.width(), high - low, 0.8);
    let at_95 = inputs.run(FEWER, SEED, 0.95, model).unwrap();
    let [low, high] = pair(&mc["shortest_95"]);
    close("width", at_95.shortest.width(), high - low, 0.5);
    // GUM H.1: 838 ± 93 nm at 99 %, from u 32 and t 2.92.
    let validation = found.validate(838.0, 93.0, 2);
    assert_eq!(validation.tolerance, 0.5);
    assert!(!validation.linear_result_trusted, "{validation:?}");
}

/// y = ln x, x rectangular from 0.1 to 1.1 (check-values 1): linear −0.511, u 0.481, upper 95 % 0.432; Monte Carlo
/// −0.665, u 0.606, shortest 95 % [−1.895, 0.095].
#[test]
fn a_logarithm_far_from_linear() {
    let mut inputs = Inputs::new();
    inputs.add(Law::Rectangular {
        low: 0.1,
        high: 1.1,
    });
    let found = inputs
        .run(FEWER, SEED, 0.95, |x| Some(libm::log(x[0])))
        .unwrap();
    close("mean", found.mean, -0.664_900, 0.002);
    close("u", found.u, 0.606_227, 0.0015);
    close("low", found.shortest.low, -1.897_120, 0.003);
    close("high", found.shortest.high, 0.095_310, 1e-4);
    let x = 0.6_f64;
    let u = 1.0 / 12.0_f64.sqrt() / x;
    close("linear", x.ln(), -0.510_826, 5e-7);
    close("linear u", u, 0.481_125, 5e-7);
    let expanded = Coverage::ninety_five().factor(f64::INFINITY) * u;
    close("upper", x.ln() + expanded, 0.432_162, 5e-7);
    assert!(!found.validate(x.ln(), expanded, 2).linear_result_trusted);
}
