//! The circle fit against circles worked by hand.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

use super::*;
use crate::geometry::fit_reference::{Fixed, Written, circle, exact};

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

/// Arcs and whole circles with and without noise, at the origin and 100 km away, in m and in mm, against Newton's
/// method in 120 digits (`fit_reference`). The bound is 100·κ·2⁻⁵³; found are two roundings at most.
#[test]
fn circles_over_a_grid_agree_with_long_numbers() {
    let mut seed = 3_u64;
    let mut noise = || {
        seed = seed
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (seed >> 11) as f64 / (1_u64 << 52) as f64 - 1.0
    };
    // Radius and half the arc in m; noise in shares of the arc's height.
    let arcs = [
        (12.5, 0.15),
        (127.0, 0.45),
        (127.0, 0.2),
        (100_000.0, 0.5),
        (1.0, 0.8),
        (1.0, std::f64::consts::PI),
    ];
    let (mut sets, mut worst, mut largest) = (0, 0.0_f64, 0.0_f64);
    for (radius, half) in arcs {
        for share in [0.0, 0.01, 0.1] {
            for count in [4, 9, 31] {
                for (unit, offset) in [
                    (1.0, "0"),
                    (1.0, "100000"),
                    (1000.0, "0"),
                    (1000.0, "-100000000"),
                ] {
                    let height = radius * (1.0 - (half / radius).min(3.0).cos());
                    let list: Vec<Written> = (0..count)
                        .map(|i| {
                            let place = (i as f64 + 0.5) / count as f64 * 2.0 - 1.0;
                            let angle = place * half / radius;
                            let out = radius + share * height * noise();
                            // The circle stands on the origin.
                            let x = out * angle.sin();
                            let y = radius - out + out * 2.0 * (angle / 2.0).sin().powi(2);
                            let far = Exact::from_decimal(offset).unwrap();
                            let write = |value: f64| {
                                let near =
                                    Exact::from_decimal(&format!("{:.12}", value * unit)).unwrap();
                                near.add(&far).to_decimal(30).0
                            };
                            (write(x), write(y))
                        })
                        .collect();
                    let fit = fit_circle(&exact(&list)).unwrap();
                    let near = (0.0, radius * unit);
                    let ([a, b, r], last) = circle(&list, near, (offset, offset));
                    assert!(last < 1e-60 * radius, "{last}");
                    let at = |k: usize| {
                        let origin = fit.origin[k].to_big();
                        let double = Fixed::of_double(fit.centre[k]);
                        Fixed::of_ratio(origin.numer(), origin.denom()).add(&double)
                    };
                    let off_radius = r.relative(fit.radius);
                    let off_centre =
                        [at(0).sub(&a), at(1).sub(&b)].map(|off| off.div(&r).abs().to_f64());
                    let off = off_radius.max(off_centre[0]).max(off_centre[1]);
                    let what = format!(
                        "R {radius} half {half} noise {share} n {count} by {unit} at {offset}"
                    );
                    assert!(
                        off <= 100.0 * fit.kappa * 2.0_f64.powi(-53),
                        "{what}: {off}"
                    );
                    assert!(off <= 2.0_f64.powi(-52), "{what}: {off}");
                    // The bound that is told with the radius covers what it is off.
                    let bound = fit.radius_number().bound();
                    assert!(off_radius * fit.radius <= bound && bound < 1e-9 * fit.radius);
                    worst = worst.max(off);
                    largest = largest.max(fit.kappa);
                    sets += 1;
                }
            }
        }
    }
    assert_eq!(sets, 216);
    assert!(largest > 1e5, "{largest}");
    // A test that can fail: doubles alone would be off by far more than a rounding.
    assert!(worst > 0.0);
}

/// κ of a short arc is about 4/φ, of a whole circle a small number.
#[test]
fn condition_numbers() {
    let arc = |half: f64, count: i32| {
        let list: Vec<(Exact, Exact)> = (0..count)
            .map(|i| {
                let angle = half * (2.0 * f64::from(i) / f64::from(count - 1) - 1.0);
                let read = |value: f64| Exact::from_f64_binary(value).unwrap();
                (read(angle.sin()), read(angle.cos()))
            })
            .collect();
        fit_circle(&list).unwrap().kappa
    };
    for half in [1e-1, 1e-2, 1e-3, 1e-4] {
        let ratio = arc(half, 3) / (4.0 / half);
        assert!((0.4..1.1).contains(&ratio), "{half}: {ratio}");
    }
    assert!(arc(3.0, 24) < 5.0);
}

/// Points strewn about a line at random tell no circle, or one that is no worse than the line; never a silent one.
#[test]
fn strewn_points_tell_no_circle_worse_than_a_line() {
    let mut seed = 11_u64;
    let mut refused = 0;
    for _ in 0..200 {
        let list: Vec<(Exact, Exact)> = (0..6)
            .map(|i| {
                seed = seed
                    .wrapping_mul(6_364_136_223_846_793_005)
                    .wrapping_add(1_442_695_040_888_963_407);
                let y = i64::try_from(seed >> 56).unwrap();
                (Exact::from_integer(1000 * i), Exact::from_integer(y))
            })
            .collect();
        match fit_circle(&list) {
            Ok(fit) => {
                let s = fit.s.unwrap();
                let line = crate::geometry::fit_orthogonal_line(&list)
                    .unwrap()
                    .s
                    .unwrap();
                assert!(3.0 * s * s <= 4.0 * line * line * (1.0 + 1e-12));
            }
            Err(problem) => {
                assert!(["no_best_circle", "ill_conditioned"].contains(&problem.code));
                refused += 1;
            }
        }
    }
    assert!(refused < 200);
}
