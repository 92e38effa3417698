//! Gravity by latitude against published values.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

use super::*;

fn kg(text: &str) -> Uncertain {
    Uncertain::exact(Exact::from_decimal(text).unwrap())
}

/// Published for GRS 80 at 0, 45 and 90 degrees; the rest recomputed from the closed formula.
#[test]
fn normal_gravity_of_both_ellipsoids() {
    let text = include_str!("../../tests/data/gravity.csv");
    let mut rows = 0;
    for line in text.lines().filter(|line| !line.starts_with('#')).skip(1) {
        let cells: Vec<f64> = line.split(',').map(|cell| cell.parse().unwrap()).collect();
        let wgs84 = normal_gravity(cells[0], Ellipsoid::Wgs84);
        let grs80 = normal_gravity(cells[0], Ellipsoid::Grs80);
        assert!((wgs84 - cells[1]).abs() < 5.1e-10, "{line}");
        assert!((grs80 - cells[2]).abs() < 5.1e-10, "{line}");
        assert!((wgs84 / 9.806_65 - cells[3]).abs() < 5.1e-8, "{line}");
        assert_eq!(wgs84, normal_gravity(-cells[0], Ellipsoid::Wgs84));
        rows += 1;
    }
    assert_eq!(rows, 25);
    for (latitude, published) in [
        (0.0, 9.780_326_772),
        (45.0, 9.806_199_203),
        (90.0, 9.832_186_368),
    ] {
        assert!((normal_gravity(latitude, Ellipsoid::Grs80) - published).abs() < 1e-9);
    }
}

/// A load cell adjusted at one latitude and used at another.
#[test]
fn a_scale_that_travelled() {
    for (from, to, percent) in [
        (43.0, 60.0, 0.150_827),
        (45.0, 55.0, 0.090_506),
        (52.0, 59.0, 0.060_225),
        (0.0, 60.0, 0.397_243),
    ] {
        let (at, here) = (gravity_at(from, 0.0).unwrap(), gravity_at(to, 0.0).unwrap());
        // What it shows of a mass, and what is made of what it shows.
        assert!(
            ((here / at - 1.0) * 100.0 - percent).abs() < 5e-7,
            "{from} {to}"
        );
        let shown = format!("{:.9}", 10.0 * here / at);
        let mass = local_mass(&kg(&shown), at, here, (0.0, [1, 2])).unwrap();
        assert!((mass.value.to_f64() - 10.0).abs() < 2e-9);
        assert_eq!(mass.combined().u, 0.0);
    }
    let (at, here) = (
        gravity_at(43.0, 0.0).unwrap(),
        gravity_at(60.0, 0.0).unwrap(),
    );
    assert!((10.0 * (here / at - 1.0) - 0.015_083).abs() < 5e-7);
}

#[test]
fn height_and_doubt() {
    let level = gravity_at(50.0, 0.0).unwrap();
    assert!((gravity_at(50.0, 300.0).unwrap() - level + 0.000_925_8).abs() < 1e-12);
    assert!(((gravity_at(50.0, 300.0).unwrap() / level - 1.0) * 1e6 + 94.0).abs() < 0.5);
    let mass = local_mass(&kg("100"), level, level, (GRAVITY_DOUBT, [1, 2])).unwrap();
    let u = 100.0 * 2.0_f64.sqrt() * GRAVITY_DOUBT / 3.0_f64.sqrt() / level;
    assert!((mass.combined().u - u).abs() < 1e-12);
    // Where it was adjusted is where it is used: one source, and nothing is left of it.
    let mass = local_mass(&kg("100"), level, level, (GRAVITY_DOUBT, [1, 1])).unwrap();
    assert!(mass.combined().u < 1e-15);
}

#[test]
fn beyond_the_earth() {
    assert_eq!(
        gravity_at(90.5, 0.0).unwrap_err().code,
        "latitude_out_of_range"
    );
    assert_eq!(
        gravity_at(f64::NAN, 0.0).unwrap_err().code,
        "latitude_out_of_range"
    );
    assert_eq!(
        gravity_at(60.0, 9001.0).unwrap_err().code,
        "height_out_of_range"
    );
    let below = local_mass(&kg("-1"), 9.8, 9.8, (0.0, [1, 2])).unwrap_err();
    assert_eq!(below.code, "mass_below_zero");
}
