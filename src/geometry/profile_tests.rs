//! Flats and gaps from stations: the reading tables of `tests/data/edge-profile-reference.csv`, a profile
//! worked by hand, hollows, readings that end, and laws.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

use proptest::prelude::*;

use super::*;
use crate::geometry::{Shim, gap_from_shims, reach_of_shims};

fn mm(text: &str) -> Exact {
    Exact::from_decimal(text).unwrap()
}

fn inches(text: &str) -> Exact {
    mm(text).mul(&mm("25.4"))
}

fn sure(at: Exact, gap: Exact) -> EdgeStation {
    EdgeStation {
        at: Uncertain::exact(at),
        gap: Uncertain::exact(gap),
    }
}

fn stations(list: &[(&str, &str)]) -> Vec<EdgeStation> {
    list.iter().map(|(at, gap)| sure(mm(at), mm(gap))).collect()
}

fn profile(list: &[(&str, &str)]) -> EdgeProfile {
    EdgeProfile::new(&stations(list)).unwrap()
}

/// One of the three tables, in mm.
fn table(column: usize) -> EdgeProfile {
    let text = include_str!("../../tests/data/edge-profile-reference.csv");
    let rows = text.lines().filter(|line| !line.starts_with(['#', 's']));
    let rows: Vec<EdgeStation> = rows
        .map(|row| {
            let cells: Vec<&str> = row.split(',').collect();
            sure(inches(cells[0]), inches(cells[column]))
        })
        .collect();
    assert_eq!(rows.len(), 25);
    EdgeProfile::new(&rows).unwrap()
}

fn as_inches(found: &Uncertain) -> f64 {
    found.value.to_f64() / 25.4
}

const EXAMPLE: [(&str, &str); 5] = [
    ("-400", "0.31"),
    ("-200", "0.08"),
    ("0", "0.00"),
    ("200", "0.07"),
    ("400", "0.33"),
];

/// Table A: the chord between the stations at 8 and 9 in reads 8.485122 in, where the arc has 8.5 in.
#[test]
fn one_radius_reads_short_by_its_chord() {
    let flat = table(1).flat(&inches("0.008"), Some([1, 2])).unwrap();
    for end in [&flat.forward, &flat.aft] {
        assert!((as_inches(end) - 8.485_122).abs() < 1e-6, "{end:?}");
        // h²/(8a) at half the chord: 1/(8 · 8.5) in = 0.0147 in.
        let half_width = end.combined().u * 3.0_f64.sqrt() / 25.4;
        let t = 0.485_122;
        let expected = t * (1.0 - t) / (2.0 * 8.485_122);
        assert!((half_width / expected - 1.0).abs() < 0.06, "{half_width}");
        assert!(half_width > 8.5 - 8.485_122 - 0.001);
    }
    assert!((as_inches(&flat.total) - 16.970_244).abs() < 1e-6);
    // The truth of 8.5 and 17 in lies within the stated U at 95 %: 1.96·(half width)/√3 and more.
    let sure = |found: &Uncertain| 1.96 * found.combined().u / 25.4;
    for (found, truth) in [(&flat.forward, 8.5), (&flat.aft, 8.5)] {
        assert!((as_inches(found) - truth).abs() < sure(found), "{found:?}");
    }
    assert_eq!(flat.note, None);
    // Readings that are exact by declaration leave nothing open.
    let exact = table(1).flat(&inches("0.008"), None).unwrap();
    assert!(exact.total.parts.is_empty());
    assert_eq!(exact.total.value.as_exact(), flat.total.value.as_exact());
}

/// Table B: two radii, 17 in in all; the line through the pivot's neighbours moves both ends together.
#[test]
fn two_radii_keep_their_total() {
    let flat = table(2).flat(&inches("0.008"), None).unwrap();
    assert!((as_inches(&flat.total) - 17.0).abs() < 0.02, "{flat:?}");
    assert!((as_inches(&flat.forward) - 9.0).abs() < 0.08);
    assert!((as_inches(&flat.aft) - 8.0).abs() < 0.08);
}

/// Table C: 0.008 in is not reached inside 12 in on either side.
#[test]
fn readings_that_end_give_at_least() {
    let flat = table(3).flat(&inches("0.008"), None).unwrap();
    assert_eq!(flat.total.value.as_exact(), Some(&inches("24")));
    for end in [&flat.forward, &flat.aft, &flat.total] {
        assert_eq!(end.bound, Some(Bound::AtLeast));
    }
    let note = flat.note.unwrap();
    assert!(note.contains("the edge lies on the straight edge from -50.8 mm to 50.8 mm"));
    assert!(note.contains("aft the readings end at 304.8 mm"), "{note}");
}

/// By hand: the line rises by −0.00005/2 for each mm, so 0.20 mm is passed after 200 + 200 · 0.125/0.265 mm
/// forward and 200 + 200 · 0.125/0.225 mm aft.
#[test]
fn a_profile_by_hand_is_exact() {
    let flat = profile(&EXAMPLE).flat(&mm("0.20"), None).unwrap();
    let quotient = |over: i64, under: i64| Exact::from_fraction(over, under).unwrap();
    let forward = Exact::from_integer(200).add(&quotient(200 * 125, 265));
    let aft = Exact::from_integer(200).add(&quotient(200 * 125, 225));
    assert_eq!(flat.forward.value.as_exact(), Some(&forward));
    assert_eq!(flat.aft.value.as_exact(), Some(&aft));
    assert_eq!(flat.total.value.as_exact(), Some(&forward.add(&aft)));
    // A crossing on a station is that station.
    let found = profile(&EXAMPLE).crossing(End::Forward, &mm("0.075"), Some(1));
    let found = found.unwrap();
    assert_eq!(found.value.as_exact(), Some(&mm("200")));
    assert!(found.parts.is_empty());
    // A gap at a station and between two.
    let gap = |x: &str| profile(&EXAMPLE).gap_at(&mm(x), None).unwrap().value;
    assert_eq!(gap("400").as_exact(), Some(&mm("0.34")));
    assert_eq!(gap("-400").as_exact(), Some(&mm("0.30")));
    assert_eq!(gap("300").as_exact(), Some(&mm("0.2075")));
    assert_eq!(gap("0").as_exact(), Some(&Exact::ZERO));
    let beyond = profile(&EXAMPLE).gap_at(&mm("401"), None).unwrap_err();
    assert_eq!(beyond.code, "beyond_stations");
}

/// A doubt of a gap moves an end by itself over the slope of the edge there, both ends against each other
/// where it turns the line.
#[test]
fn doubt_is_carried_by_the_slope() {
    let doubtful = |of: usize| -> Vec<EdgeStation> {
        let mut list = stations(&EXAMPLE);
        let part = Part::new(PartKind::Repeatability, 7, 7, 0.01, f64::INFINITY);
        list[of].gap = Uncertain::new(list[of].gap.value.clone(), [part]);
        list
    };
    let read = |list: &[EdgeStation]| {
        let edge = EdgeProfile::new(list).unwrap();
        edge.flat(&mm("0.20"), None).unwrap()
    };
    for of in 0..EXAMPLE.len() {
        let flat = read(&doubtful(of));
        // Against a difference quotient.
        let moved = |by: f64| {
            let mut list = stations(&EXAMPLE);
            let value = list[of].gap.value.to_f64() + by;
            list[of].gap = Uncertain::exact(Exact::from_f64_binary(value).unwrap());
            read(&list)
        };
        let (up, down) = (moved(1e-5), moved(-1e-5));
        for (end, up, down) in [
            (&flat.forward, &up.forward, &down.forward),
            (&flat.aft, &up.aft, &down.aft),
            (&flat.total, &up.total, &down.total),
        ] {
            let derivative = (up.value.to_f64() - down.value.to_f64()) / 2e-5;
            let stated = end.combined().u / 0.01;
            assert!(
                (stated - derivative.abs()).abs() < 1e-4 * derivative.abs() + 1e-6,
                "{of}: {stated} {derivative}"
            );
        }
    }
    // The neighbours of the pivot turn the line: the total moves by less than its ends together.
    let turned = read(&doubtful(1));
    assert!(turned.correlation().unwrap() < 0.0, "{turned:?}");
    let ends = turned.forward.combined().u + turned.aft.combined().u;
    assert!(turned.total.combined().u < 0.8 * ends);
}

#[test]
fn a_hollow_under_the_pivot_is_said_or_refused() {
    let hollow = profile(&[
        ("-300", "0.2"),
        ("-100", "0"),
        ("0", "0.05"),
        ("100", "0"),
        ("300", "0.2"),
    ]);
    let flat = hollow.flat(&mm("0.10"), None).unwrap();
    assert_eq!(flat.total.value.as_exact(), Some(&mm("400")));
    assert!(flat.note.unwrap().contains("stands 0.05 mm off"));
    let refused = hollow.flat(&mm("0.05"), None).unwrap_err();
    assert_eq!(refused.code, "hollow_under_pivot");
    let no_station = profile(&[("-300", "0.2"), ("-100", "0"), ("100", "0"), ("300", "0.2")]);
    let flat = no_station.flat(&mm("0.1"), Some([1, 2])).unwrap();
    assert!(flat.note.unwrap().contains("no station under the pivot"));
    // The line is too high there by what the pivot's own chord leaves open.
    let with_pivot = profile(&[
        ("-300", "0.2"),
        ("-100", "0"),
        ("0", "0"),
        ("100", "0"),
        ("300", "0.2"),
    ]);
    let better = with_pivot.flat(&mm("0.1"), Some([1, 2])).unwrap();
    assert!(better.total.combined().u < flat.total.combined().u);
}

#[test]
fn what_makes_no_profile() {
    let refused = |list: &[(&str, &str)]| EdgeProfile::new(&stations(list)).unwrap_err().code;
    assert_eq!(refused(&[("-1", "0"), ("1", "0")]), "too_few_stations");
    let twice = [("-1", "0"), ("1", "0"), ("1", "0")];
    assert_eq!(refused(&twice), "station_repeated");
    let aside = [("0", "0"), ("1", "0"), ("2", "0")];
    assert_eq!(refused(&aside), "pivot_not_between");
    let unsorted = profile(&[("1", "1"), ("-1", "1"), ("0", "0")]);
    assert_eq!(unsorted.notices().len(), 1);
    let zero = unsorted.crossing(End::Aft, &Exact::ZERO, None).unwrap_err();
    assert_eq!(zero.code, "gap_not_positive");
}

/// Where readings end just below the gap, the way to the last station is in doubt as a crossing is.
#[test]
fn readings_that_end_near_the_gap_are_in_doubt() {
    let last = |gap: &str| {
        let mut list = stations(&[("-300", "0.18"), ("0", "0"), ("300", gap)]);
        let part = Part::new(PartKind::Repeatability, 7, 7, 0.01, f64::INFINITY);
        list[2].gap = Uncertain::new(list[2].gap.value.clone(), [part]);
        let edge = EdgeProfile::new(&list).unwrap();
        edge.crossing(End::Forward, &mm("0.20"), None).unwrap()
    };
    let near = last("0.19");
    assert_eq!(near.bound, Some(Bound::AtLeast));
    assert!(near.combined().u > 5.0);
    let far = last("0.10");
    assert!(far.combined().u < 1e-9);
}

fn leaf(gap: &str, forward: &str, aft: &str) -> Shim {
    let sure = |text: &str| Uncertain::exact(mm(text));
    Shim {
        gap: sure(gap),
        forward: sure(forward),
        aft: sure(aft),
    }
}

#[test]
fn leaves_tell_gaps() {
    let shims = [leaf("0.20", "228", "219"), leaf("0.30", "280", "270")];
    let gap = |x: &str| gap_from_shims(&shims, &mm(x), None).unwrap();
    assert_eq!(gap("228").gap.value.as_exact(), Some(&mm("0.20")));
    assert_eq!(gap("228").gap.bound, None);
    assert_eq!(gap("-270").gap.value.as_exact(), Some(&mm("0.30")));
    assert_eq!(gap("254").gap.value.as_exact(), Some(&mm("0.25")));
    assert!(gap("254").note.unwrap().contains("in proportion"));
    assert_eq!(gap("281").gap.bound, Some(Bound::AtLeast));
    assert_eq!(gap("281").gap.value.as_exact(), Some(&mm("0.30")));
    assert_eq!(gap("-100").gap.bound, Some(Bound::AtMost));
    assert_eq!(gap("-100").gap.value.as_exact(), Some(&mm("0.20")));
    assert!(gap_from_shims(&shims, &Exact::ZERO, None).is_err());
    let mut open = leaf("0.20", "310", "300");
    open.forward = open.forward.with_bound(Some(Bound::AtLeast));
    let open = [open];
    // It went in farther than 310 mm: no more than its gap up to there, nothing beyond.
    let inside = gap_from_shims(&open, &mm("310"), None).unwrap();
    assert_eq!(inside.gap.bound, Some(Bound::AtMost));
    assert!(gap_from_shims(&open, &mm("311"), None).is_err());
    // How far the edge lies lower than a height.
    let reach = |height: &str| reach_of_shims(&shims, &mm(height)).unwrap();
    assert_eq!(reach("0.30").value.as_exact(), Some(&mm("280")));
    assert_eq!(reach("22").bound, Some(Bound::AtLeast));
    assert_eq!(reach("22").value.as_exact(), Some(&mm("280")));
    assert_eq!(reach("0.1").bound, Some(Bound::AtMost));
    assert_eq!(reach("0.1").value.as_exact(), Some(&mm("228")));
}

/// Stations around the pivot with gaps in hundredths, in whole mm.
fn any_stations() -> impl Strategy<Value = Vec<(i64, i64)>> {
    let side = || proptest::collection::btree_set(1_i64..400, 1..5);
    (side(), side(), any::<bool>()).prop_flat_map(|(fore, aft, under)| {
        let mut at: Vec<i64> = aft.into_iter().map(|x| -x).rev().collect();
        if under || at.len() + fore.len() < 3 {
            at.push(0);
        }
        at.extend(fore);
        let count = at.len();
        proptest::collection::vec(-10_i64..60, count)
            .prop_map(move |gaps| at.iter().copied().zip(gaps).collect())
    })
}

fn of_whole(list: &[(i64, i64)], scale: &Exact) -> EdgeProfile {
    let hundredth = mm("0.01");
    let read = list.iter().map(|&(at, gap)| {
        sure(
            Exact::from_integer(at).mul(scale),
            Exact::from_integer(gap).mul(&hundredth).mul(scale),
        )
    });
    EdgeProfile::new(&read.collect::<Vec<_>>()).unwrap()
}

type Shown = Result<(Exact, Option<Bound>), &'static str>;

fn shown_crossing(edge: &EdgeProfile, end: End, gap: &Exact) -> Shown {
    match edge.crossing(end, gap, None) {
        Ok(found) => Ok((found.value.as_exact().unwrap().clone(), found.bound)),
        Err(problem) => Err(problem.code),
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    /// A runner turned heel to toe has its ends swapped.
    #[test]
    fn mirrored_stations_swap_the_ends(list in any_stations(), gap in 1_i64..60) {
        let gap = Exact::from_fraction(gap, 100).unwrap();
        let mirrored: Vec<(i64, i64)> = list.iter().rev().map(|&(at, gap)| (-at, gap)).collect();
        let (one, other) = (of_whole(&list, &Exact::ONE), of_whole(&mirrored, &Exact::ONE));
        prop_assert_eq!(
            shown_crossing(&one, End::Forward, &gap),
            shown_crossing(&other, End::Aft, &gap)
        );
        prop_assert_eq!(
            shown_crossing(&one, End::Aft, &gap),
            shown_crossing(&other, End::Forward, &gap)
        );
    }

    /// The same edge in inches, and read against a straight edge that lies askew.
    #[test]
    fn unit_and_datum_change_nothing(list in any_stations(), gap in 1_i64..60, tilt in -3_i64..4, lift in -9_i64..9) {
        let gap = Exact::from_fraction(gap, 100).unwrap();
        let inch = mm("25.4");
        let plain = of_whole(&list, &Exact::ONE);
        let scaled = of_whole(&list, &inch);
        let askew: Vec<(i64, i64)> = list.iter().map(|&(at, gap)| (at, gap + tilt * at + lift)).collect();
        let askew = of_whole(&askew, &Exact::ONE);
        for end in [End::Forward, End::Aft] {
            let found = shown_crossing(&plain, end, &gap);
            prop_assert_eq!(&found, &shown_crossing(&askew, end, &gap));
            let in_inches = shown_crossing(&scaled, end, &gap.mul(&inch));
            prop_assert_eq!(found.map(|(at, bound)| (at.mul(&inch), bound)), in_inches);
        }
    }

    /// A larger gap never makes a flat shorter.
    #[test]
    fn a_larger_gap_is_never_shorter(list in any_stations(), gap in 1_i64..60, more in 1_i64..60) {
        let edge = of_whole(&list, &Exact::ONE);
        for end in [End::Forward, End::Aft] {
            let small = shown_crossing(&edge, end, &Exact::from_fraction(gap, 100).unwrap());
            let large = shown_crossing(&edge, end, &Exact::from_fraction(gap + more, 100).unwrap());
            if let Ok((small, bound)) = small {
                let (large, above) = large.unwrap();
                prop_assert!(large >= small);
                prop_assert!(bound.is_none() || above == bound);
            }
        }
    }

    /// The edge stands the gap over the line where it is said to cross it, and nowhere before.
    #[test]
    fn a_crossing_is_where_it_says(list in any_stations(), gap in 1_i64..60) {
        let edge = of_whole(&list, &Exact::ONE);
        let gap = Exact::from_fraction(gap, 100).unwrap();
        if let Ok((at, None)) = shown_crossing(&edge, End::Forward, &gap) {
            let there = edge.gap_at(&at, None).unwrap();
            prop_assert_eq!(there.value.as_exact(), Some(&gap));
            for (x, _) in list.iter().filter(|(x, _)| *x > 0) {
                let x = Exact::from_integer(*x);
                let height = edge.gap_at(&x, None).unwrap().value;
                prop_assert!(x >= at || height.as_exact().unwrap() < &gap);
            }
        }
    }

    /// The straight edge lies under every station.
    #[test]
    fn nothing_stands_under_the_straight_edge(list in any_stations()) {
        let edge = of_whole(&list, &Exact::ONE);
        for (x, _) in &list {
            let height = edge.gap_at(&Exact::from_integer(*x), None).unwrap().value;
            prop_assert!(height.signum().unwrap() >= 0);
        }
    }
}

/// An edge of one radius (127 m, ends at √(2·R·g) = 225.389 mm at 0.20 mm) read without a station under the pivot: the
/// straight edge lies on the chord beside it and touches a round edge under the chord's middle. Each end is off by as
/// much, the other way round, and its U says so; the total is right, and its U is not larger for it.
#[test]
fn a_contact_beside_the_pivot_counts_at_both_ends() {
    let truth = (2.0_f64 * 127_000.0 * 0.2).sqrt();
    let coverage = crate::uncertainty::Coverage::ninety_five();
    for shift in [-10_i64, 5, 15, 0] {
        let read: Vec<EdgeStation> = (-8..=7)
            .map(|step| {
                let at = 50 * step + 25 + shift;
                #[expect(clippy::cast_precision_loss, reason = "small")]
                let gap = (at * at) as f64 / 254_000.0;
                sure(
                    Exact::from_integer(at),
                    Exact::from_decimal(&format!("{gap:.9}")).unwrap(),
                )
            })
            .collect();
        let edge = EdgeProfile::new(&read).unwrap();
        let flat = edge.flat(&mm("0.20"), Some([1, 2])).unwrap();
        let with = |value: &Uncertain| value.expanded(&coverage).U;
        for end in [&flat.forward, &flat.aft] {
            let off = (end.value.to_f64() - truth).abs();
            assert!(
                off <= 1.1 * with(end),
                "{shift}: {off} against {}",
                with(end)
            );
        }
        let off = (flat.total.value.to_f64() - 2.0 * truth).abs();
        assert!(
            off <= with(&flat.total),
            "{shift}: {off} against {}",
            with(&flat.total)
        );
        assert!(with(&flat.total) < 8.0, "{shift}: {}", with(&flat.total));
        let r = flat.correlation().unwrap();
        assert!(shift == 0 || r < 0.0, "{shift}: {r}");
    }
}
