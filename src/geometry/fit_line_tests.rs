//! The orthogonal-distance line against 120-digit sums, lines worked by hand, and laws.

use super::*;
use crate::geometry::fit_reference::{Written, exact, line};

fn points(list: &[(i64, i64)]) -> Vec<(Exact, Exact)> {
    let whole = Exact::from_integer;
    list.iter().map(|&(x, y)| (whole(x), whole(y))).collect()
}

/// Deterministic noise, −1 to 1.
fn noise(seed: &mut u64) -> f64 {
    *seed = seed
        .wrapping_mul(6_364_136_223_846_793_005)
        .wrapping_add(1_442_695_040_888_963_407);
    (*seed >> 11) as f64 / (1_u64 << 52) as f64 - 1.0
}

#[test]
fn lines_over_a_grid_agree_with_long_numbers() {
    let mut seed = 1;
    let mut sets = 0;
    for count in [3, 9, 40] {
        for angle in [-89.9_f64, -45.0, -3.0, 1e-4, 0.5, 30.0, 89.999] {
            for scatter in [0.0, 1e-6, 1e-2, 0.3] {
                for offset in ["0", "100000000", "-100000"] {
                    let (sin, cos) = angle.to_radians().sin_cos();
                    let list: Vec<Written> = (0..count)
                        .map(|i| {
                            let along = 1000.0 * (i as f64 / (count - 1) as f64 - 0.3);
                            let aside =
                                scatter * 1000.0 * noise(&mut seed) + 1e-6 * noise(&mut seed);
                            let (x, y) = (along * cos - aside * sin, along * sin + aside * cos);
                            let far = offset.parse::<f64>().unwrap();
                            let write = |value: f64| {
                                // Whole part moved, decimals kept: exact as text.
                                let near = Exact::from_decimal(&format!("{value:.9}")).unwrap();
                                near.add(&Exact::from_f64_shortest(far).unwrap())
                                    .to_decimal(30)
                                    .0
                            };
                            (write(x), write(y))
                        })
                        .collect();
                    let fit = fit_orthogonal_line(&exact(&list)).unwrap();
                    let (slope, least) = line(&list);
                    let room = 100.0 * fit.kappa * 2.0_f64.powi(-53);
                    let found = fit.direction[1] / fit.direction[0];
                    let off = slope.relative(found);
                    // The quotient of two doubles is off by three roundings.
                    assert!(
                        off <= room.min(4.0 * f64::EPSILON),
                        "{angle} {scatter} {offset}: {off}"
                    );
                    let nu = count as f64 - 2.0;
                    let s = fit.s.unwrap();
                    assert!(
                        least.relative(s * s * nu) <= 8.0 * f64::EPSILON,
                        "{angle} {scatter} {offset}"
                    );
                    sets += 1;
                }
            }
        }
    }
    assert_eq!(sets, 252);
}

/// By hand: (0, 0), (1, 1), (2, 2) lie at 45 degrees; four corners of a square have no line.
#[test]
fn lines_by_hand() {
    let fit = fit_orthogonal_line(&points(&[(0, 0), (1, 1), (2, 2)])).unwrap();
    assert!((fit.angle - std::f64::consts::FRAC_PI_4).abs() < 1e-16);
    assert_eq!(fit.through, [Exact::ONE, Exact::ONE]);
    assert_eq!(fit.s, Some(0.0));
    let up = fit_orthogonal_line(&points(&[(5, 0), (5, 1), (5, 7)])).unwrap();
    assert_eq!(up.direction, [0.0, 1.0]);
    let across = fit_orthogonal_line(&points(&[(0, 5), (1, 5), (7, 5)])).unwrap();
    assert_eq!((across.direction, across.angle), ([1.0, 0.0], 0.0));
    assert!(across.kappa >= 1.0 && across.kappa < 10.0);
    let code = |list: &[(i64, i64)]| fit_orthogonal_line(&points(list)).unwrap_err().code;
    assert_eq!(code(&[(0, 0), (0, 1), (1, 0), (1, 1)]), "no_direction");
    assert_eq!(code(&[(3, 4), (3, 4)]), "one_place");
    assert_eq!(code(&[(3, 4)]), "too_few_points");
    // Nearly alike in all directions: no direction to 14 digits.
    let near: Vec<(Exact, Exact)> = [
        ("0", "0"),
        ("0", "1"),
        ("1", "0"),
        ("1", "1.00000000000000001"),
    ]
    .map(|(x, y)| {
        (
            Exact::from_decimal(x).unwrap(),
            Exact::from_decimal(y).unwrap(),
        )
    })
    .to_vec();
    assert_eq!(fit_orthogonal_line(&near).unwrap_err().code, "no_direction");
}

#[test]
fn derivatives_agree_with_differences() {
    let list = points(&[(0, 1), (10, 4), (20, 3), (30, 9), (41, 11)]);
    let fit = fit_orthogonal_line(&list).unwrap();
    let step = Exact::from_fraction(1, 1_000_000).unwrap();
    for place in 0..list.len() {
        for axis in 0..2 {
            let moved = |by: &Exact| {
                let mut list = list.clone();
                if axis == 0 {
                    list[place].0 = list[place].0.add(by);
                } else {
                    list[place].1 = list[place].1.add(by);
                }
                fit_orthogonal_line(&list).unwrap().angle
            };
            let slope = (moved(&step) - moved(&step.neg())) / 2e-6;
            assert!(
                (slope - fit.by_point[place][axis]).abs() < 1e-8,
                "{place} {axis}"
            );
        }
    }
    let total: f64 = fit.residuals.iter().sum();
    assert!(total.abs() < 1e-12);
}

/// 60-digit sums hold the vertical-distance line too: its slope is exactly (n·Σxy − Σx·Σy)/(n·Σx² − (Σx)²).
#[test]
fn the_vertical_line_is_exact() {
    use crate::geometry::line_fit;
    use crate::uncertainty::Uncertain;
    use num_bigint::BigInt;
    use num_rational::BigRational;
    let mut seed = 9;
    for far in [0_i64, 100_000_000_000] {
        for count in [2, 3, 17] {
            let list: Vec<(i64, i64)> = (0..count)
                .map(|i| (far + 997 * i, far + (1e6 * noise(&mut seed)) as i64))
                .collect();
            let sum = |of: &dyn Fn(i64, i64) -> BigInt| {
                list.iter().map(|&(x, y)| of(x, y)).sum::<BigInt>()
            };
            let big = BigInt::from;
            let n = big(count);
            let (x, y) = (sum(&|x, _| big(x)), sum(&|_, y| big(y)));
            let above = &n * sum(&|x, y| big(x) * y) - &x * &y;
            let below = &n * sum(&|x, _| big(x) * x) - &x * &x;
            let slope = BigRational::new(above, below);
            let read = |value: i64| Uncertain::exact(Exact::from_fraction(value, 1000).unwrap());
            let (t, b): (Vec<_>, Vec<_>) = list.iter().map(|&(x, y)| (read(x), read(y))).unzip();
            let fit = line_fit(&t, &b, &Exact::ZERO).unwrap();
            let found = fit.y_2.value.as_exact().unwrap();
            let text = format!("{}/{}", slope.numer(), slope.denom());
            let (over, under) = text.split_once('/').unwrap();
            let expected = Exact::from_decimal(over).unwrap();
            let expected = expected
                .checked_div(&Exact::from_decimal(under).unwrap())
                .unwrap();
            assert_eq!(found, &expected);
            assert!(
                fit.kappa >= 1.0 && (far == 0) == (fit.kappa < 10.0),
                "{}",
                fit.kappa
            );
        }
    }
}
