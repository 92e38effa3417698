//! The circle fit against circles worked by hand.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

use super::*;

fn points(list: &[(&str, &str)]) -> Vec<(Exact, Exact)> {
    let read = |text: &str| Exact::from_decimal(text).unwrap();
    list.iter().map(|(x, y)| (read(x), read(y))).collect()
}

#[test]
fn three_points_are_exactly_on_their_circle() {
    let fit = fit_circle(&points(&[("-8.5", "0.008"), ("0", "0"), ("8.5", "0.008")])).unwrap();
    assert!((fit.radius - 4515.629).abs() < 1e-12 * 4515.629, "{fit:?}");
    assert!(fit.s.is_none());
    let far = points(&[
        ("99999991.5", "-100000000.008"),
        ("100000000", "-100000000.016"),
        ("100000008.5", "-100000000.008"),
    ]);
    let fit = fit_circle(&far).unwrap();
    assert!((fit.radius - 4515.629).abs() < 1e-12 * 4515.629, "{fit:?}");
    assert!(fit.kappa > 1e3 && fit.kappa < 1e4, "{}", fit.kappa);
}

#[test]
fn what_makes_no_circle() {
    let code = |list: &[(&str, &str)]| fit_circle(&points(list)).unwrap_err().code;
    assert_eq!(code(&[("0", "0"), ("1", "1")]), "too_few_points");
    assert_eq!(code(&[("1", "2"), ("1", "2"), ("1", "2")]), "one_place");
    assert_eq!(
        code(&[("1", "2"), ("1", "2"), ("3", "2")]),
        "points_on_a_line"
    );
    assert_eq!(
        code(&[("0.1", "0.1"), ("0.2", "0.2"), ("0.3", "0.3"), ("5", "5")]),
        "points_on_a_line"
    );
    let flat = [("-1000", "0"), ("0", "0.000000000000000001"), ("1000", "0")];
    assert_eq!(code(&flat), "ill_conditioned");
}
