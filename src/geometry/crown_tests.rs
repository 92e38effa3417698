//! Crown radii from stations and from leaves: the tables of common practice, one-sided leaves, laws.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

use proptest::prelude::*;

use super::*;
use crate::geometry::EdgeStation;

fn mm(text: &str) -> Exact {
    Exact::from_decimal(text).unwrap()
}

fn inches(text: &str) -> Exact {
    mm(text).mul(&mm("25.4"))
}

fn doubtful(value: Exact, source: u32, u: f64) -> Uncertain {
    let kind = PartKind::Repeatability;
    let part = Part::new(kind, source, source, u, f64::INFINITY);
    Uncertain::new(Number::Exact(value), (u > 0.0).then_some(part))
}

fn edge(list: &[(Exact, Exact)], u: f64) -> EdgeProfile {
    let read: Vec<EdgeStation> = (0_u32..)
        .zip(list)
        .map(|(source, (at, gap))| EdgeStation {
            at: Uncertain::exact(at.clone()),
            gap: doubtful(gap.clone(), source, u),
        })
        .collect();
    EdgeProfile::new(&read).unwrap()
}

fn shim(gap: Exact, forward: Exact, aft: Exact) -> Shim {
    Shim {
        gap: Uncertain::exact(gap),
        forward: Uncertain::exact(forward),
        aft: Uncertain::exact(aft),
    }
}

/// `tests/data/runner-flats.csv` (common practice): one leaf of 0.008 in at the same way on both ends, and three
/// stations at the same places, give (a² + g²)/(2g).
#[test]
fn leaves_and_stations_agree_on_common_flats() {
    let text = include_str!("../../tests/data/runner-flats.csv");
    let mut rows = 0;
    for row in text.lines().filter(|row| !row.starts_with(['#', 'f'])) {
        let cells: Vec<&str> = row.split(',').collect();
        for (reach, radius) in [(1, 3), (2, 4)] {
            let (a, g, expected) = (inches(cells[reach]), inches("0.008"), inches(cells[radius]));
            let leaf = crown_radius_from_shims(&[shim(g.clone(), a.clone(), a.clone())]).unwrap();
            assert_eq!(leaf.radius.value.as_exact(), Some(&expected), "{row}");
            let stations = [(a.neg(), g.clone()), (Exact::ZERO, Exact::ZERO), (a, g)];
            let found = edge(&stations, 0.0).crown_radius(Some(99)).unwrap();
            let off = found.radius.value.to_f64() / expected.to_f64() - 1.0;
            assert!(off.abs() < 4.0 * f64::EPSILON, "{row}: {off}");
            assert!(found.radius.value.bound() < 1e-9 * expected.to_f64());
        }
        rows += 1;
    }
    assert_eq!(rows, 15);
}

/// Reading tables of check-values 12, drops of six decimals of an inch: A has one radius of 4515.629 in, C is
/// flat in the middle, so that a circle scatters.
#[test]
fn radii_of_the_reading_tables() {
    let text = include_str!("../../tests/data/edge-profile-reference.csv");
    let table = |column: usize| {
        let rows = text.lines().filter(|row| !row.starts_with(['#', 's']));
        let list: Vec<(Exact, Exact)> = rows
            .map(|row| {
                let cells: Vec<&str> = row.split(',').collect();
                (inches(cells[0]), inches(cells[column]))
            })
            .collect();
        edge(&list, 0.0).crown_radius(Some(99)).unwrap()
    };
    let one = table(1);
    let (found, u) = (
        one.radius.value.to_f64() / 25.4,
        one.radius.combined().u / 25.4,
    );
    // Rounding to 1e-6 in of 0.016 in.
    assert!((found - 4515.629).abs() < 0.2, "{found}");
    assert!((found - 4515.629).abs() < 3.0 * u, "{found} {u}");
    assert!(one.kappa.unwrap() > 1e3 && one.s.unwrap() < 1e-5 * 25.4);
    let other = table(3);
    assert!(other.s.unwrap() > 100.0 * one.s.unwrap());
    assert!(other.note.unwrap().contains("25 stations"));
}

#[test]
fn a_turned_straight_edge_keeps_the_radius_of_leaves() {
    let leaf = |forward: &str, aft: &str| {
        crown_radius_from_shims(&[shim(mm("0.2"), mm(forward), mm(aft))]).unwrap()
    };
    let (even, turned) = (leaf("225", "225"), leaf("235", "215"));
    assert_eq!(even.radius.value.as_exact(), turned.radius.value.as_exact());
    assert_eq!(even.radius.value.as_exact(), Some(&mm("126562.6")));
}

#[test]
fn several_leaves_and_one_sided_ones() {
    let at_least = |mut one: Shim| {
        one.forward = one.forward.with_bound(Some(Bound::AtLeast));
        one
    };
    let good = shim(mm("0.2"), mm("225"), mm("225"));
    let open = at_least(shim(mm("0.3"), mm("310"), mm("300")));
    let alone = crown_radius_from_shims(std::slice::from_ref(&open)).unwrap();
    assert_eq!(alone.radius.bound, Some(Bound::AtLeast));
    let both = crown_radius_from_shims(&[good.clone(), open.clone()]).unwrap();
    assert_eq!(both.radius.bound, None);
    assert_eq!(both.radius.value.as_exact(), Some(&mm("126562.6")));
    assert!(both.note.unwrap().contains("left out"));
    let inside = Shim {
        aft: good.aft.clone().with_bound(Some(Bound::AtMost)),
        ..good.clone()
    };
    let inside = crown_radius_from_shims(&[inside]).unwrap();
    assert_eq!(inside.radius.bound, Some(Bound::AtMost));
    // Two leaves of one circle give that circle: R = 1000, g = 0.2 and 0.5 within their squares' least sum.
    let on = |gap: &str, square: i64| (mm(gap), square);
    let (a, b) = (on("2", 1996), on("50", 47500));
    let sum = |(g, square): &(Exact, i64)| g.mul(&Exact::from_integer(*square).add(&g.mul(g)));
    // a² + g² = 2Rg for both with R = 500: 1996 + 4 = 2000, 47500 + 2500 = 50000.
    let above = sum(&a).add(&sum(&b));
    let below =
        a.0.mul(&a.0)
            .add(&b.0.mul(&b.0))
            .mul(&Exact::from_integer(2));
    assert_eq!(above.checked_div(&below), Some(Exact::from_integer(500)));
}

#[test]
fn what_has_no_crown_radius() {
    let code = |shims: &[Shim]| crown_radius_from_shims(shims).unwrap_err().code;
    assert_eq!(code(&[]), "no_shims");
    let lengths = "radius_needs_lengths";
    assert_eq!(code(&[shim(mm("0"), mm("1"), mm("1"))]), lengths);
    assert_eq!(code(&[shim(mm("-0.2"), mm("1"), mm("1"))]), lengths);
    assert_eq!(code(&[shim(mm("0.2"), mm("-1"), mm("5"))]), lengths);
    assert_eq!(code(&[shim(mm("0.2"), mm("0"), mm("0"))]), lengths);
    let open = Shim {
        forward: Uncertain::exact(mm("1")).with_bound(Some(Bound::AtLeast)),
        aft: Uncertain::exact(mm("1")).with_bound(Some(Bound::AtMost)),
        gap: Uncertain::exact(mm("0.2")),
    };
    assert_eq!(code(&[open]), "no_shims");
    let list = |gaps: [&str; 3]| -> Vec<(Exact, Exact)> {
        ["-100", "0", "100"]
            .map(mm)
            .into_iter()
            .zip(gaps.map(mm))
            .collect()
    };
    let straight = edge(&list(["0.1", "0.2", "0.3"]), 0.0);
    assert_eq!(
        straight.crown_radius(None).unwrap_err().code,
        "edge_not_crowned"
    );
    let equal = edge(&list(["0.1", "0.1", "0.1"]), 0.0);
    assert_eq!(
        equal.crown_radius(None).unwrap_err().code,
        "edge_not_crowned"
    );
    let hollow = edge(&list(["0", "0.1", "0"]), 0.001);
    assert_eq!(
        hollow.crown_radius(None).unwrap_err().code,
        "edge_not_crowned"
    );
    let doubtful = edge(&list(["0.1", "0.1", "0.1"]), 0.01);
    assert_eq!(
        doubtful.crown_radius(None).unwrap_err().code,
        "edge_not_crowned"
    );
    // As good as straight: at least 1/(k + 2u). k = (0.1 − 0.2 + 0.102)/100², u(k) = √6·0.01/100².
    let doubtful = edge(&list(["0.1", "0.1", "0.102"]), 0.01);
    let found = doubtful.crown_radius(None).unwrap().radius;
    assert_eq!(found.bound, Some(Bound::AtLeast));
    let least = 1e4 / (0.002 + 2.0 * 0.01 * 6.0_f64.sqrt());
    assert!(
        (found.value.to_f64() / least - 1.0).abs() < 1e-9,
        "{found:?}"
    );
    let clear = edge(&list(["0.1", "0", "0.1"]), 0.01);
    assert_eq!(clear.crown_radius(None).unwrap().radius.bound, None);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// The stated derivatives are those of the fit: each gap moved by a little.
    #[test]
    fn sensitivities_agree_with_differences(
        noise in proptest::collection::vec(-20_i64..20, 7),
        which in 0_usize..7,
    ) {
        let at = [-400_i64, -250, -120, 0, 130, 260, 400];
        // A radius of about 100 m: gaps of x²/200000 mm with a few µm of noise.
        let list = |by: &Exact| -> Vec<(Exact, Exact)> {
            at.iter().zip(&noise).enumerate().map(|(place, (&x, &noise))| {
                let gap = Exact::from_fraction(x * x, 200_000).unwrap();
                let gap = gap.add(&Exact::from_fraction(noise, 10_000).unwrap());
                (Exact::from_integer(x), if place == which { gap.add(by) } else { gap })
            }).collect()
        };
        let step = Exact::from_fraction(1, 1_000_000).unwrap();
        let radius = |by: &Exact| edge(&list(by), 0.0).crown_radius(None).unwrap().radius.value.to_f64();
        let slope = (radius(&step) - radius(&step.neg())) / 2e-6;
        let mut read: Vec<EdgeStation> = list(&Exact::ZERO).into_iter().map(|(at, gap)| EdgeStation {
            at: Uncertain::exact(at),
            gap: Uncertain::exact(gap),
        }).collect();
        let value = list(&Exact::ZERO)[which].1.clone();
        read[which].gap = doubtful(value, 1, 1e-3);
        let edge = EdgeProfile::new(&read).unwrap();
        let stated = edge.crown_radius(None).unwrap().radius.combined().u / 1e-3;
        prop_assert!((stated - slope.abs()).abs() < 1e-5 * slope.abs().max(1e3), "{} {}", stated, slope);
    }

    /// A straight edge that was read against askew changes the radius by no more than it turns lengths.
    #[test]
    fn a_tilted_datum_keeps_the_radius(tilt in -20_i64..20) {
        let list = |tilt: i64| -> Vec<(Exact, Exact)> {
            [-400_i64, -200, 0, 200, 400].into_iter().map(|x| {
                let gap = Exact::from_fraction(x * x, 200_000).unwrap();
                (Exact::from_integer(x), gap.add(&Exact::from_fraction(tilt * x, 100_000).unwrap()))
            }).collect()
        };
        let radius = |tilt| edge(&list(tilt), 0.0).crown_radius(None).unwrap().radius.value.to_f64();
        prop_assert!((radius(tilt) / radius(0) - 1.0).abs() < 1e-6);
    }
}
