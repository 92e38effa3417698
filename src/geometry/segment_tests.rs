//! Segments against `tests/data/segments.csv` (its sources at its head) and its laws.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

use proptest::prelude::*;

use super::*;

#[test]
fn segments_of_the_table() {
    let text = include_str!("../../tests/data/segments.csv");
    let mut rows = 0;
    for row in text.lines().filter(|row| !row.starts_with(['#', 'c'])) {
        let cells: Vec<&str> = row.split(',').collect();
        let exact = |cell: usize| Exact::from_decimal(cells[cell]).unwrap();
        // In inches as in mm: only the unit of the results changes.
        for scale in ["1", "25.4"] {
            let scale = Exact::from_decimal(scale).unwrap();
            let found = segment(&exact(0).mul(&scale), &exact(1).mul(&scale)).unwrap();
            let unit = scale.to_f64();
            let results = [
                (2, found.radius, unit),
                (3, found.angle, 1.0),
                (4, found.arc, unit),
                (5, found.area, unit * unit),
            ];
            for (cell, found, unit) in results {
                let expected: f64 = cells[cell].parse().unwrap();
                let (value, bound) = (found.to_f64() / unit, found.bound() / unit);
                // Half a unit of the last of 12 digits (10 of the angle), and the chords that the table rounds
                // to 10 digits.
                let room = if cells[0].len() > 9 { 1e-8 } else { 6e-10 };
                assert!((value / expected - 1.0).abs() < room, "{row}: {value}");
                assert!(bound < 1e-12 * value, "{row}: {bound}");
            }
        }
        rows += 1;
    }
    assert_eq!(rows, 10);
    // The radius is exact: 12.1875 and 8 1/3.
    let radius = |chord, height| {
        let whole = |n| Uncertain::exact(Exact::from_integer(n));
        segment_radius(&whole(chord), &whole(height)).unwrap().value
    };
    assert_eq!(
        radius(21, 6).as_exact(),
        Exact::from_fraction(195, 16).as_ref()
    );
    assert_eq!(
        radius(16, 6).as_exact(),
        Exact::from_fraction(25, 3).as_ref()
    );
}

/// θ − sin θ for 0.001 rad is 1.6666665833333353e-10 (its series to four terms).
#[test]
fn small_segments_keep_their_digits() {
    let found = beyond_sine(&Number::real(0.001, 0.0)).to_f64();
    assert!((found / 1.666_666_583_333_335_3e-10 - 1.0).abs() < 1e-15);
    // Both ways meet where one takes over from the other.
    let (low, high) = (beyond_sine(&Number::real(1.0, 0.0)), 1.0 - 1.0_f64.sin());
    assert!((low.to_f64() / high - 1.0).abs() < 1e-15);
}

#[test]
fn no_segment_without_lengths() {
    let exact = |n| Exact::from_integer(n);
    for (chord, height) in [(0, 1), (1, 0), (-1, 1), (1, -1)] {
        let problem = segment(&exact(chord), &exact(height)).unwrap_err();
        assert_eq!(problem.code, "radius_needs_lengths");
    }
}

proptest! {
    /// The area by the definition r²(θ − sin θ)/2 lies within its bound, and arc² is more than c² + 4h².
    #[test]
    fn arc_and_area_agree(chord in 1_i64..1000, height in 1_i64..1000) {
        let exact = |n| Exact::from_integer(n);
        let found = segment(&exact(chord), &exact(height)).unwrap();
        let theta = found.angle.to_f64().to_radians();
        let r = found.radius.to_f64();
        let area = r * r * (theta - theta.sin()) / 2.0;
        let room = found.area.bound() + 8.0 * f64::EPSILON * r * r * (theta + 1.0);
        prop_assert!((area - found.area.to_f64()).abs() < room);
        let ends = 2.0 * (chord as f64 / 2.0).hypot(height as f64);
        prop_assert!(found.arc.to_f64() > ends);
    }
}
