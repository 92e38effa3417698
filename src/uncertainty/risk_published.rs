//! Conformity decisions held against published risks: JCGM 106:2012, clause 9, by numerical integration over the
//! share of items that [`probability_of_conformity`] lets a measurement accept.
//!
//! Which digits are printed and which recomputed stands beside each number; recomputed ones are held to their last
//! digit.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::*;
use crate::quantity::Number;

const INFINITE: f64 = f64::INFINITY;

fn real(value: f64) -> Number {
    Number::real(value, 0.0)
}

/// The probability that a reading of an item falls between two acceptance limits: the law of the reading about
/// the item is that of the item about the reading.
fn accepted(item: f64, u: f64, (low, high): (Option<f64>, Option<f64>)) -> f64 {
    let (low, high) = (low.map(real), high.map(real));
    let limit = |value, side| Limit {
        side,
        strict: false,
        value,
    };
    let low = low.as_ref().map(|low| limit(low, Side::Lower));
    let high = high.as_ref().map(|high| limit(high, Side::Upper));
    let limits: Vec<Limit<'_>> = low.into_iter().chain(high).collect();
    probability_of_conformity(&limits, &real(item), u, INFINITE)
}

/// Simpson's rule; the integrands are smooth inside each piece.
fn integral(f: impl Fn(f64) -> f64, a: f64, b: f64) -> f64 {
    let strips = 4000;
    let h = (b - a) / f64::from(strips);
    let inner = (1..strips).map(|n| {
        let weight = if n % 2 == 1 { 4.0 } else { 2.0 };
        weight * f(a + h * f64::from(n))
    });
    (f(a) + f(b) + inner.sum::<f64>()) * h / 3.0
}

#[track_caller]
fn close(what: &str, found: f64, expected: f64, tolerance: f64) {
    assert!(
        (found - expected).abs() <= tolerance,
        "{what}: {found} is not {expected} within {tolerance}"
    );
}

/// JCGM 106, 9.5.4: run-out of bearings, gamma prior (4, 4 per µm), at most 2 µm, measured with u = 0.25 µm.
#[test]
fn bearings() {
    let prior = |x: f64| 256.0 / 6.0 * x * x * x * (-4.0 * x).exp();
    let share = integral(prior, 2.0, 14.0);
    // Published 4.2 %; exp(−8)(1 + 8 + 32 + 512/6).
    close("share", share, 0.042_380_112_0, 5e-11);
    let consumer = |limit: f64| {
        integral(
            |x| prior(x) * accepted(x, 0.25, (None, Some(limit))),
            2.0,
            14.0,
        )
    };
    let producer = |limit: f64| {
        integral(
            |x| prior(x) * (1.0 - accepted(x, 0.25, (None, Some(limit)))),
            0.0,
            2.0,
        )
    };
    // Published 0.8 %.
    close("consumer", consumer(2.0), 0.008_019_112, 5e-10);
    // A guard of 0.32817 µm (published 1.6718) leaves the consumer 0.1 %.
    close("guarded", consumer(1.671_829), 0.001, 5e-9);
    close("producer", producer(2.0), 0.017_445, 5e-7);
    close("producer", producer(1.671_829), 0.075_494, 5e-7);
}

/// JCGM 106: resistors of N(1500, 0.12) Ω, tolerance ± 0.2 Ω, measured with u = 0.04 Ω. Printed digits (about 10 %,
/// R_C about 1 % and R_P about 7 % with a guard of 0.02 Ω) from memory; the others recomputed.
#[test]
fn resistors() {
    let (u0, u, tolerance) = (0.12, 0.04, 0.2);
    let prior = |x: f64| {
        let z = x / u0;
        (-z * z / 2.0).exp() / (u0 * (2.0 * std::f64::consts::PI).sqrt())
    };
    let out = 2.0 * integral(prior, tolerance, 1.2);
    close("out of tolerance", out, 0.095_581, 5e-7);
    // Guard, R_C and R_P in per cent.
    let rows = [
        (0.0, 1.8942, 3.7208, 5e-5),
        (0.02, 0.987_83, 6.902_65, 5e-6),
        (u, 0.433_41, 11.465_66, 5e-6),
        // The reference has 24.76697; the integral is 24.766964.
        (2.0 * u, 0.046_86, 24.766_964, 5e-6),
        (-u, 4.489_82, 0.709_70, 5e-6),
        (-2.0 * u, 6.940_46, 0.068_06, 5e-6),
    ];
    for (guard, consumer, producer, digits) in rows {
        let limit = tolerance - guard;
        let accept = |x: f64| accepted(x, u, (Some(-limit), Some(limit)));
        let found = 2.0 * integral(|x| prior(x) * accept(x), tolerance, 1.2);
        close("consumer", 100.0 * found, consumer, digits);
        let found = 2.0 * integral(|x| prior(x) * (1.0 - accept(x)), 0.0, tolerance);
        close("producer", 100.0 * found, producer, digits);
    }
}

/// Symmetric limits, both laws normal, measurement standard deviation a quarter of that of the process (table of a
/// recommended-practice draft; its digits carry a truncated integration: 1e-6 in per cent).
#[test]
fn global_risk_by_the_share_in_tolerance() {
    let rows = [
        (0.60, 4.838_603_26, 8.260_081_99),
        (0.70, 3.922_341_09, 5.723_220_42),
        (0.80, 2.855_830_37, 3.632_271_45),
        (0.90, 1.599_953_12, 1.798_804_30),
        (0.95, 0.871_009_25, 0.923_896_64),
        (0.99, 0.199_916_84, 0.202_438_66),
    ];
    let prior = |z: f64| (-z * z / 2.0).exp() / (2.0 * std::f64::consts::PI).sqrt();
    for (share, false_accept, among_accepted) in rows {
        let t = exact_factor(share, INFINITE);
        let accept = |z: f64| accepted(z, 0.25, (Some(-t), Some(t)));
        let bad = 2.0 * integral(|z| prior(z) * accept(z), t, t + 6.0);
        let good = 2.0 * integral(|z| prior(z) * accept(z), 0.0, t);
        close("false accept", 100.0 * bad, false_accept, 1.1e-6);
        close(
            "among accepted",
            100.0 * bad / (bad + good),
            among_accepted,
            1.1e-6,
        );
    }
    // Process 4, measurement 1, limits ± 8: false accept 0.008, false reject 0.015 (found), recomputed digits.
    let accept = |z: f64| accepted(4.0 * z, 1.0, (Some(-8.0), Some(8.0)));
    let bad = 2.0 * integral(|z| prior(z) * accept(z), 2.0, 8.0);
    close("false accept", bad, 0.008_006_08, 5e-9);
    let lost = 2.0 * integral(|z| prior(z) * (1.0 - accept(z)), 0.0, 2.0);
    close("false reject", lost, 0.014_850_88, 5e-9);
}

/// Conformance probabilities of one reading (check-values 3, recomputed): one limit at z standard uncertainties, and
/// two limits T apart with the measurement capability index C_m = T/(4u).
#[test]
fn probabilities_of_one_reading() {
    for (z, expected) in [
        (1.0, 0.841_345),
        (1.64, 0.949_497),
        (2.0, 0.977_250),
        (3.0, 0.998_650),
    ] {
        close(
            "one side",
            accepted(z, 1.0, (Some(0.0), None)),
            expected,
            5e-7,
        );
        close(
            "other",
            accepted(-z, 1.0, (None, Some(0.0))),
            expected,
            5e-7,
        );
    }
    // T = 2 about 0: in the middle, on the limit, T/4 inside.
    for (capability, at, expected) in [
        (1.0, 0.0, 0.954_499_736),
        (1.0, 1.0, 0.499_968),
        (2.0, 1.0, 0.500_000),
        (1.0, 0.5, 0.839_995),
        (2.0, 0.5, 0.977_250),
    ] {
        let u = 2.0 / (4.0 * capability);
        let found = accepted(at, u, (Some(-1.0), Some(1.0)));
        close("two sides", found, expected, 5e-7);
    }
}
