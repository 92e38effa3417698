//! The profiles with exact reference widths, laws of the minimum zone, bad input.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

use proptest::prelude::*;

use super::*;
use crate::uncertainty::{Part, PartKind};

fn rows(text: &'static str) -> impl Iterator<Item = Vec<&'static str>> {
    text.lines()
        .filter(|line| !line.starts_with('#'))
        .skip(1)
        .map(|line| line.split(',').collect())
}

fn decimal(text: &str) -> Exact {
    Exact::from_decimal(text).unwrap()
}

fn fraction(text: &str) -> Exact {
    match text.split_once('/') {
        Some((n, d)) => {
            Exact::from_fraction(n.parse::<i64>().unwrap(), d.parse::<i64>().unwrap()).unwrap()
        }
        None => decimal(text),
    }
}

fn whole(numbers: &[i64]) -> Vec<Exact> {
    numbers.iter().map(|&n| Exact::from_integer(n)).collect()
}

fn sure(numbers: &[Exact]) -> Vec<Uncertain> {
    numbers.iter().cloned().map(Uncertain::exact).collect()
}

fn profile(name: &str) -> (Vec<Exact>, Vec<Exact>) {
    rows(include_str!("../../tests/data/straightness-profiles.csv"))
        .filter(|row| row[0] == name)
        .map(|row| (decimal(row[2]), decimal(row[3])))
        .unzip()
}

fn one_flank(x: &[Exact], y: &[Exact]) -> Straightness {
    straightness(x, None, Some(&sure(y))).unwrap()
}

/// The width of a zone is what its contacts say, and every station lies within it.
fn assert_proved(x: &[Exact], y: &[Exact], found: &Straightness) {
    let width = found.width.value.as_exact().unwrap();
    let off = |i: usize| y[i].sub(&found.slope.mul(&x[i]));
    let [left, middle, right] = &found.contacts;
    assert!(left.at < middle.at && middle.at < right.at);
    assert!(left.upper == right.upper && left.upper != middle.upper);
    assert_eq!(off(left.station), off(right.station));
    let (upper, lower) = if left.upper {
        (off(left.station), off(middle.station))
    } else {
        (off(middle.station), off(left.station))
    };
    assert_eq!(&upper.sub(&lower), width);
    for i in 0..x.len() {
        assert!(off(i) <= upper && off(i) >= lower, "station {i}");
    }
}

/// `tests/data/straightness-reference.csv`: exact fractions from hull and linear program; the seven-point set
/// has a published width of 1.1.
#[test]
fn every_reference_profile_is_exact() {
    let mut seen = 0;
    for row in rows(include_str!("../../tests/data/straightness-reference.csv")) {
        let name = row[0];
        let (x, y) = profile(name);
        let found = one_flank(&x, &y);
        assert_eq!(found.stations.to_string(), row[1], "{name}");
        assert_eq!(
            found.width.value.as_exact(),
            Some(&fraction(row[2])),
            "{name}"
        );
        assert_proved(&x, &y, &found);
        let close = |found: f64, text: &str| {
            let expected: f64 = text.parse().unwrap();
            (found - expected).abs() <= 1e-12 * expected.abs().max(1.0)
        };
        assert!(close(found.least_squares.to_f64(), row[8]), "{name}");
        assert!(close(found.end_points.to_f64(), row[12]), "{name}");
        if name != "hand-2" {
            assert!(close(found.slope.to_f64(), row[4]), "{name}");
        }
        seen += 1;
    }
    assert_eq!(seen, 13);
}

/// Gaps to one bar: a crooked bar and a taper cancel, the bend stays.
#[test]
fn both_flanks_cancel_bar_and_thickness() {
    let x = whole(&[-400, -200, 0, 200, 400]);
    let bend = whole(&[0, 3, 5, 4, 0]);
    let bar = whole(&[7, -2, 11, 4, 1]);
    let thickness = whole(&[600, 601, 603, 602, 599]);
    let flank = |sign: i64| -> Vec<Exact> {
        (0..5)
            .map(|i| {
                let half = Exact::from_fraction(1, 2).unwrap();
                let gap = bar[i].sub(&thickness[i].mul(&half));
                gap.add(&bend[i].mul(&Exact::from_integer(sign)))
            })
            .collect()
    };
    let (port, starboard) = (sure(&flank(-1)), sure(&flank(1)));
    let found = straightness(&x, Some(&port), Some(&starboard)).unwrap();
    assert_eq!(found.width.value.as_exact(), Some(&Exact::from_integer(5)));
    assert!(!found.one_flank);
    let single = straightness(&x, Some(&port), None).unwrap();
    assert!(single.one_flank);
    assert_ne!(single.width.value.as_exact(), found.width.value.as_exact());
}

#[test]
fn the_example_line_of_a_record() {
    let x = whole(&[-400, -200, 0, 200, 400]);
    let at = |texts: [&str; 5]| sure(&texts.map(decimal));
    let port = at(["0.00", "0.03", "0.05", "0.04", "0.00"]);
    let starboard = at(["0.00", "-0.02", "-0.05", "-0.03", "0.00"]);
    let found = straightness(&x, Some(&port), Some(&starboard)).unwrap();
    assert_eq!(found.width.value.as_exact(), Some(&decimal("0.05")));
    let stations = found.contacts.clone().map(|contact| contact.station);
    assert_eq!(stations, [0, 2, 4]);
}

#[test]
fn uncertainty_comes_through_the_three_contacts() {
    let x = whole(&[0, 100, 400]);
    let reading = |y: i64, source: u32| {
        let scatter = Part::new(PartKind::Resolution, source, 0, 0.4, f64::INFINITY);
        let offset = Part::new(PartKind::Calibration, 9, 0, 5.0, f64::INFINITY);
        Uncertain::new(Number::Exact(Exact::from_integer(y)), [scatter, offset])
    };
    let y = [reading(0, 1), reading(10, 2), reading(0, 3)];
    let found = straightness(&x, Some(&y), None).unwrap();
    assert_eq!(found.width.value.as_exact(), Some(&Exact::from_integer(10)));
    // Weights 0.75, 1 and 0.25; the bar's offset cancels.
    let expected = 0.4 * (0.75_f64 * 0.75 + 1.0 + 0.0625).sqrt();
    assert!((found.width.combined().u - expected).abs() < 1e-15);
    assert!(
        found
            .width
            .parts
            .to_vec()
            .iter()
            .all(|part| part.kind == PartKind::Resolution)
    );
    let weights: Vec<_> = found
        .width
        .parts
        .to_vec()
        .iter()
        .map(|part| part.u / 0.4)
        .collect();
    for (weight, expected) in weights.iter().zip([-0.75, 1.0, -0.25]) {
        assert!((weight - expected).abs() < 1e-15, "{weights:?}");
    }
    assert!(found.notices.is_empty());
    // A zone lost in the scatter is flagged, a zero one too.
    for high in [1, 0] {
        let y = [reading(0, 1), reading(high, 2), reading(0, 3)];
        let found = straightness(&x, Some(&y), None).unwrap();
        assert!((found.width.combined().u - expected).abs() < 1e-15);
        assert_eq!(found.notices.len(), 1);
    }
}

#[test]
fn one_sided_and_unknown_readings_reach_the_width() {
    let x = whole(&[0, 100, 200, 400]);
    let y = sure(&whole(&[0, 10, 3, 0]));
    let bound = |station: usize, bound: Bound| {
        let mut y = y.clone();
        y[station] = y[station].clone().with_bound(Some(bound));
        straightness(&x, Some(&y), None).unwrap().width.bound
    };
    // Outward at a contact, or at a station that is none: at least as wide.
    assert_eq!(bound(1, Bound::AtLeast), Some(Bound::AtLeast));
    assert_eq!(bound(0, Bound::AtMost), Some(Bound::AtLeast));
    assert_eq!(bound(2, Bound::AtMost), Some(Bound::AtLeast));
    assert_eq!(bound(1, Bound::AtMost), Some(Bound::Neither));
    assert_eq!(bound(0, Bound::AtLeast), Some(Bound::Neither));
    assert_eq!(bound(2, Bound::Neither), Some(Bound::Neither));
    let mut y = y.clone();
    y[2].unknown = true;
    assert!(straightness(&x, Some(&y), None).unwrap().width.unknown);
}

#[test]
fn unsorted_stations_are_sorted_with_a_notice() {
    let (x, y) = profile("G07");
    let sorted = one_flank(&x, &y);
    let mut shuffled: Vec<_> = x.iter().cloned().zip(y.iter().cloned()).collect();
    shuffled.swap(0, 9);
    shuffled.swap(3, 12);
    let (x, y): (Vec<_>, Vec<_>) = shuffled.into_iter().unzip();
    let found = one_flank(&x, &y);
    assert_eq!(found.width.value.as_exact(), sorted.width.value.as_exact());
    assert_eq!(found.least_squares, sorted.least_squares);
    assert!(found.notices[0].contains("sorted") && sorted.notices.is_empty());
    assert_proved(&x, &y, &found);
}

#[test]
fn what_cannot_be_computed_says_why() {
    let code = |stations: &[i64], port: Option<&[i64]>, starboard: Option<&[i64]>| {
        let port = port.map(|y| sure(&whole(y)));
        let starboard = starboard.map(|y| sure(&whole(y)));
        let problem =
            straightness(&whole(stations), port.as_deref(), starboard.as_deref()).unwrap_err();
        assert!(!problem.message.is_empty() && !problem.help.is_empty());
        problem.code
    };
    assert_eq!(code(&[1, 2, 3], None, None), "no_flank");
    assert_eq!(
        code(&[1, 2, 3], Some(&[1, 2]), None),
        "readings_do_not_pair"
    );
    let short: &[i64] = &[1, 2];
    let full: &[i64] = &[1, 2, 3];
    assert_eq!(
        code(&[1, 2, 3], Some(full), Some(short)),
        "readings_do_not_pair"
    );
    assert_eq!(code(&[], Some(&[]), None), "too_few_stations");
    assert_eq!(code(&[1], Some(&[1]), None), "too_few_stations");
    assert_eq!(code(&[1, 2], Some(short), None), "too_few_stations");
    assert_eq!(code(&[1, 3, 1], Some(full), None), "station_repeated");
    assert_eq!(code(&[1, 1, 1], Some(full), None), "station_repeated");
}

/// The same law by brute force: the least width over the slopes of all pairs of stations.
fn brute_force(x: &[Exact], y: &[Exact]) -> Exact {
    let mut least: Option<Exact> = None;
    for i in 0..x.len() {
        for j in 0..i {
            let slope = y[i].sub(&y[j]).checked_div(&x[i].sub(&x[j])).unwrap();
            let off: Vec<Exact> = x.iter().zip(y).map(|(x, y)| y.sub(&slope.mul(x))).collect();
            let width = off.iter().max().unwrap().sub(off.iter().min().unwrap());
            least = Some(least.map_or(width.clone(), |least| least.min(width)));
        }
    }
    least.unwrap()
}

fn stations() -> impl Strategy<Value = (Vec<Exact>, Vec<Exact>)> {
    let steps = prop::collection::vec((1_i64..40, -30_i64..30), 3..24);
    // Tenths and, so that the exact path is walked as well, thirds.
    (steps, prop::sample::select(vec![10_i64, 3, 1])).prop_map(|(steps, divisor)| {
        let part = |n: i64| Exact::from_fraction(n, divisor).unwrap();
        let mut at = -200;
        steps
            .into_iter()
            .map(|(step, y)| {
                at += step;
                (part(at), part(y))
            })
            .unzip()
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(600))]

    #[test]
    fn the_zone_is_the_narrowest_and_proves_it((x, y) in stations()) {
        let found = one_flank(&x, &y);
        let width = found.width.value.as_exact().unwrap();
        prop_assert_eq!(width, &brute_force(&x, &y));
        assert_proved(&x, &y, &found);
        prop_assert!(width <= &found.least_squares && width <= &found.end_points);
    }

    #[test]
    fn the_zone_ignores_tilt_offset_and_direction(
        (x, y) in stations(), tilt in -9_i64..9, offset in -99_i64..99, scale in 1_i64..9,
    ) {
        let before = one_flank(&x, &y);
        let (tilt, offset) = (Exact::from_fraction(tilt, 7).unwrap(), Exact::from_integer(offset));
        let scale = Exact::from_integer(scale);
        let tilted: Vec<Exact> = x
            .iter()
            .zip(&y)
            .map(|(x, y)| scale.mul(y).add(&tilt.mul(x)).add(&offset))
            .collect();
        let after = one_flank(&x, &tilted);
        let scaled = |width: &Exact| width.mul(&scale);
        let width = |found: &Straightness| found.width.value.as_exact().unwrap().clone();
        prop_assert_eq!(width(&after), scaled(&width(&before)));
        prop_assert_eq!(&after.least_squares, &scaled(&before.least_squares));
        prop_assert_eq!(&after.end_points, &scaled(&before.end_points));

        let mirrored: Vec<Exact> = x.iter().rev().map(Exact::neg).collect();
        let reversed: Vec<Exact> = y.iter().rev().cloned().collect();
        let other_way = one_flank(&mirrored, &reversed);
        prop_assert_eq!(width(&other_way), width(&before));
        prop_assert_eq!(other_way.least_squares, before.least_squares);
    }

    #[test]
    fn a_station_less_never_widens_the_zone((x, y) in stations(), gone in 0_usize..24) {
        prop_assume!(x.len() > 3);
        let gone = gone % x.len();
        let without = |list: &[Exact]| -> Vec<Exact> {
            let (before, after) = (&list[..gone], &list[gone + 1..]);
            before.iter().chain(after).cloned().collect()
        };
        let fewer = one_flank(&without(&x), &without(&y));
        let all = one_flank(&x, &y);
        prop_assert!(fewer.width.value.as_exact() <= all.width.value.as_exact());
    }
}

/// Every station on the hull, and many of them: a search over pairs would not end.
#[test]
fn many_stations() {
    let n = 20_000_i64;
    let x: Vec<Exact> = (0..n).map(Exact::from_integer).collect();
    // A parabola: every station is on the hull.
    let y: Vec<Exact> = (0..n)
        .map(|i| Exact::from_integer(i * (n - 1 - i)))
        .collect();
    let found = one_flank(&x, &y);
    // Sagitta of the parabola at the middle: ((n − 1)/2)², and the two middle stations share it.
    let middle = (n / 2 - 1) * (n / 2);
    assert_eq!(found.end_points, Exact::from_integer(middle));
    assert!(found.width.value.as_exact().unwrap() <= &found.end_points);
}
