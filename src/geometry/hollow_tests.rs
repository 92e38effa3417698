//! Hollows found and named, against their noise, and laws.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

use proptest::prelude::*;

use super::*;
use crate::geometry::EdgeStation;
use crate::uncertainty::{Part, PartKind};

fn edge(list: &[(i64, i64)], u: f64) -> EdgeProfile {
    let hundredth = Exact::from_fraction(1, 100).unwrap();
    let read: Vec<EdgeStation> = (0_u32..)
        .zip(list)
        .map(|(source, &(at, gap))| {
            let kind = PartKind::Repeatability;
            let part = Part::new(kind, source, source, u, f64::INFINITY);
            let gap = Number::Exact(Exact::from_integer(gap).mul(&hundredth));
            EdgeStation {
                at: Uncertain::exact(Exact::from_integer(at)),
                gap: Uncertain::new(gap, (u > 0.0).then_some(part)),
            }
        })
        .collect();
    EdgeProfile::new(&read).unwrap()
}

const UNDER_PIVOT: [(i64, i64); 5] = [(-300, 30), (-100, 0), (0, 5), (100, 0), (300, 30)];
/// Two hollows, the deeper one toward the toe.
const TWO: [(i64, i64); 8] = [
    (-400, 40),
    (-300, 25),
    (-200, 8),
    (-100, 2),
    (0, 0),
    (200, 14),
    (300, 18),
    (400, 20),
];

#[test]
fn hollows_are_found_and_named() {
    let found = edge(&UNDER_PIVOT, 0.002).hollow();
    assert_eq!(found.places.len(), 1);
    assert_eq!(
        found.depth.value.as_exact(),
        Exact::from_fraction(1, 20).as_ref()
    );
    assert!(
        found.notices[0].contains("hollow of 0.05 mm at 0 mm"),
        "{:?}",
        found.notices
    );
    assert!(found.notices[0].contains("rocks on -100 mm and 100 mm"));
    // 1, 1/2 and 1/2 of 0.002 mm.
    assert!((found.depth.combined().u - 0.002 * 1.5_f64.sqrt()).abs() < 1e-12);
    let two = edge(&TWO, 0.0).hollow();
    assert_eq!(two.places.len(), 2);
    // 0.14 less half of the way from 0 to 0.20; 0.18 less three quarters of it is 0.03.
    assert_eq!(
        two.depth.value.as_exact(),
        Exact::from_fraction(4, 100).as_ref()
    );
    assert_eq!(two.places[0].at, Exact::from_integer(200));
    assert_eq!(
        two.places[0].contacts,
        [Exact::ZERO, Exact::from_integer(400)]
    );
    assert_eq!(two.places[1].at, Exact::from_integer(-300));
    assert_eq!(two.notices.len(), 3);
    assert!(two.notices[2].contains("8 stations"));
}

#[test]
fn noise_is_not_called_a_hollow() {
    let noisy = edge(&UNDER_PIVOT, 0.03);
    let found = noisy.hollow();
    assert!(!found.places[0].is_clear());
    assert!(found.notices.iter().all(|notice| !notice.contains("rocks")));
    assert!(
        noisy.notices()[0].contains("within the uncertainty"),
        "{:?}",
        noisy.notices()
    );
    assert!(edge(&UNDER_PIVOT, 0.002).notices()[0].contains("rocks"));
}

/// Gaps of x²: each station lies 0.0625 mm below the line through its neighbours.
#[test]
fn no_hollow_keeps_what_is_left_of_the_doubt() {
    let crowned = [(-100, 25), (-50, 6), (0, 0), (50, 6), (100, 25)];
    let sure = edge(&crowned, 0.0).hollow();
    assert!(sure.places.is_empty() && sure.depth.parts.is_empty());
    assert!(sure.depth.value.as_exact().unwrap().is_zero());
    let fine = edge(&crowned, 0.01).hollow();
    assert_eq!(
        fine.depth.combined().u,
        0.0,
        "2u is less than 0.06 mm everywhere"
    );
    let coarse = edge(&crowned, 0.05).hollow();
    let u = 0.05 * 1.5_f64.sqrt();
    assert!((coarse.depth.combined().u - (u - 0.06 / 2.0)).abs() < 1e-12);
    assert!(coarse.places.is_empty());
}

#[test]
fn leaves_tell_no_hollow() {
    assert_eq!(no_stations().code, "no_stations");
}

proptest! {
    /// Tilting and lifting the straight edge that was read against changes no hollow; turning the runner end
    /// for end mirrors its place; the depth is never negative and every place lies between its contacts.
    #[test]
    fn datum_and_direction_change_no_hollow(
        gaps in proptest::collection::vec(-20_i64..60, 7),
        tilt in -3_i64..4,
        lift in -9_i64..9,
    ) {
        let at = [-300_i64, -200, -90, 0, 110, 200, 350];
        let list: Vec<(i64, i64)> = at.into_iter().zip(gaps).collect();
        let plain = edge(&list, 0.01).hollow();
        let askew: Vec<(i64, i64)> = list.iter().map(|&(at, gap)| (at, gap + tilt * at + lift)).collect();
        let mirrored: Vec<(i64, i64)> = list.iter().rev().map(|&(at, gap)| (-at, gap)).collect();
        let zero = Exact::ZERO;
        prop_assert!(plain.depth.value.as_exact().unwrap() >= &zero);
        for other in [edge(&askew, 0.01).hollow(), edge(&mirrored, 0.01).hollow()] {
            prop_assert_eq!(plain.depth.value.as_exact(), other.depth.value.as_exact());
            let (one, two) = (plain.depth.combined().u, other.depth.combined().u);
            // Of two stations equally deep either may be told.
            let same = match (plain.places.first(), other.places.first()) {
                (Some(one), Some(two)) => one.at == two.at || one.at == two.at.neg(),
                (one, two) => one.is_none() && two.is_none(),
            };
            prop_assert!((one - two).abs() < 1e-12 || plain.places.len() > 1 || !same);
            prop_assert_eq!(plain.places.len(), other.places.len());
        }
        for place in &plain.places {
            prop_assert!(place.contacts[0] < place.at && place.at < place.contacts[1]);
        }
    }

    /// A convex edge has none.
    #[test]
    fn a_convex_edge_has_no_hollow(steps in proptest::collection::vec(0_i64..9, 6)) {
        let (mut slope, mut gap) = (-15, 90);
        let mut list = vec![(-300, gap)];
        for (step, at) in steps.iter().zip([-200, -100, 0, 100, 200, 300]) {
            slope += step;
            gap += slope;
            list.push((at, gap));
        }
        let found = edge(&list, 0.0).hollow();
        prop_assert!(found.places.is_empty());
        prop_assert!(found.depth.value.as_exact().unwrap().is_zero());
    }
}
