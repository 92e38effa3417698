//! Flats of circular edges (common practice, recomputed), sensitivities, one-sided readings, bad input.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

use proptest::prelude::*;

use super::*;
use crate::geometry::crown_radius;
use crate::uncertainty::{Bound, Part, PartKind};

fn mm(text: &str) -> Exact {
    Exact::from_decimal(text).unwrap()
}

fn inches(text: &str) -> Exact {
    mm(text).mul(&mm("25.4"))
}

fn sure(value: Exact) -> Uncertain {
    Uncertain::exact(value)
}

fn shim(gap: Exact, forward: Exact, aft: Exact) -> Shim {
    Shim {
        gap: sure(gap),
        forward: sure(forward),
        aft: sure(aft),
    }
}

fn doubtful(value: Exact, source: u32, u: f64) -> Uncertain {
    let part = Part::new(PartKind::Calibration, source, 0, u, f64::INFINITY);
    Uncertain::new(Number::Exact(value), [part])
}

/// 9 in and 8 in at 0.008 in: 17 in = 431.8 mm, exactly.
#[test]
fn a_shim_of_the_asked_gap_gives_an_exact_sum() {
    let shims = [shim(inches("0.008"), inches("9"), inches("8"))];
    let flat = flat_from_shims(&shims, None, &mm("0.2032")).unwrap();
    assert_eq!(flat.total.value.as_exact(), Some(&mm("431.8")));
    assert_eq!(flat.forward.value.as_exact(), Some(&mm("228.6")));
    assert_eq!(flat.aft.value.as_exact(), Some(&mm("203.2")));
    assert_eq!(flat.note, None);
    assert!(flat.total.parts.is_empty());
    // Another gap beside it changes nothing.
    let more = [
        shim(mm("0.1"), mm("150"), mm("140")),
        shims[0].clone(),
        shim(mm("0.3"), mm("280"), mm("250")),
    ];
    let again = flat_from_shims(&more, None, &mm("0.2032")).unwrap();
    assert_eq!(again.total.value.as_exact(), Some(&mm("431.8")));
}

/// `tests/data/runner-flats.csv`: equivalent radius of each side.
#[test]
fn crown_radii_of_common_flats() {
    let mut rows = 0;
    for line in include_str!("../../tests/data/runner-flats.csv").lines() {
        if line.starts_with('#') || line.starts_with("flat") {
            continue;
        }
        let fields: Vec<&str> = line.split(',').collect();
        for (reach, radius_in, radius_m) in [(1, 3, 5), (2, 4, 6)] {
            let reach = sure(inches(fields[reach]));
            let radius = crown_radius(&reach, &sure(inches("0.008"))).unwrap();
            let exact = radius.value.as_exact().unwrap();
            assert_eq!(exact, &inches(fields[radius_in]), "{line}");
            let metres = exact.to_f64() / 1000.0;
            assert!((metres - fields[radius_m].parse::<f64>().unwrap()).abs() < 5.1e-7);
        }
        rows += 1;
    }
    assert_eq!(rows, 15);
}

/// The 17 in edge of check-values 12: 12.02 in at 0.004, 17.00 at 0.008, 19.01 at 0.010, 20.82 at 0.012 in.
#[test]
fn other_gaps_follow_the_arc() {
    let shims = [shim(inches("0.008"), inches("8.5"), inches("8.5"))];
    for (gap, flat) in [("0.004", 12.02), ("0.010", 19.01), ("0.012", 20.82)] {
        let found = flat_from_shims(&shims, None, &inches(gap)).unwrap();
        let length = found.total.value.to_f64() / 25.4;
        assert!((length - flat).abs() < 0.0051, "{gap}: {length}");
        assert!(found.total.value.as_exact().is_none());
        assert!(found.note.as_ref().unwrap().contains("circular arc"));
    }
    // Back from there gives the readings again.
    let there = flat_from_shims(&shims, None, &mm("0.1")).unwrap();
    let reach = Exact::from_f64_binary(there.forward.value.to_f64()).unwrap();
    let back = [shim(mm("0.1"), reach.clone(), reach)];
    let back = flat_from_shims(&back, None, &inches("0.008")).unwrap();
    assert!((back.forward.value.to_f64() - 215.9).abs() < 1e-10);
}

#[test]
fn the_contact_is_where_the_arc_starts() {
    // R = 100 m with the contact 10 mm forward of the pivot: 200 mm to each side of the contact.
    let gap = mm("0.2");
    let half = (2.0 * 100_000.0 * 0.2 - 0.04_f64).sqrt();
    let reach = |by: f64| Exact::from_f64_binary(half + by).unwrap();
    let shims = [shim(gap, reach(10.0), reach(-10.0))];
    let contact = sure(mm("10"));
    let flat = flat_from_shims(&shims, Some(&contact), &mm("0.05")).unwrap();
    let expected = (2.0 * 100_000.0 * 0.05 - 0.0025_f64).sqrt();
    assert!((flat.forward.value.to_f64() - expected - 10.0).abs() < 1e-9);
    assert!((flat.aft.value.to_f64() - expected + 10.0).abs() < 1e-9);
}

/// A shim error of 0.0005 in moves the 17 in edge by 0.531 in (check-values 12), both ends together.
#[test]
fn a_leaf_moves_both_ends_together() {
    let mut shims = [shim(inches("0.008"), inches("8.5"), inches("8.5"))];
    shims[0].gap = doubtful(inches("0.008"), 7, 0.0005 * 25.4);
    let flat = flat_from_shims(&shims, None, &inches("0.008")).unwrap();
    let (end, total) = (flat.forward.combined().u, flat.total.combined().u);
    assert!((total / 25.4 - 0.53125).abs() < 1e-6, "{}", total / 25.4);
    assert!((total - 2.0 * end).abs() < 1e-12, "fully correlated");
    assert!((flat.correlation().unwrap() - 1.0).abs() < 1e-12);
    assert_eq!(flat.total.value.as_exact(), Some(&mm("431.8")));
    // A thicker leaf reads long: the flat at the true gap is shorter.
    assert!(flat.total.parts.to_vec()[0].u < 0.0);
    // Readings of their own are independent.
    shims[0] = Shim {
        gap: sure(inches("0.008")),
        forward: doubtful(inches("9"), 1, 3.0),
        aft: doubtful(inches("8"), 2, 4.0),
    };
    let flat = flat_from_shims(&shims, None, &inches("0.008")).unwrap();
    assert_eq!(flat.total.combined().u, 5.0);
    assert_eq!(flat.correlation(), Some(0.0));
    shims[0].aft = sure(inches("8"));
    let flat = flat_from_shims(&shims, None, &inches("0.008")).unwrap();
    assert_eq!(flat.correlation(), None);
}

#[test]
fn one_sided_readings_give_a_one_sided_flat() {
    let mut shims = [shim(mm("0.2"), mm("310"), mm("220"))];
    shims[0].forward = sure(mm("310")).with_bound(Some(Bound::AtLeast));
    for gap in ["0.2", "0.1", "0.3"] {
        let flat = flat_from_shims(&shims, None, &mm(gap)).unwrap();
        assert_eq!(flat.forward.bound, Some(Bound::AtLeast));
        assert_eq!(flat.aft.bound, None);
        assert_eq!(flat.total.bound, Some(Bound::AtLeast));
    }
    shims[0].aft = sure(mm("10")).with_unknown_uncertainty();
    assert!(
        flat_from_shims(&shims, None, &mm("0.2"))
            .unwrap()
            .total
            .unknown
    );
}

#[test]
fn what_cannot_be_computed_says_why() {
    let good = shim(mm("0.2"), mm("225"), mm("225"));
    let code = |shims: &[Shim], contact: Option<&Uncertain>, gap: &str| {
        let problem = flat_from_shims(shims, contact, &mm(gap)).unwrap_err();
        assert!(!problem.message.is_empty() && !problem.help.is_empty());
        problem.code
    };
    assert_eq!(code(&[], None, "0.2"), "no_shims");
    let one = std::slice::from_ref(&good);
    assert_eq!(code(one, None, "0"), "gap_not_positive");
    assert_eq!(code(one, None, "-0.2"), "gap_not_positive");
    let with = |gap: &str, forward: &str, aft: &str| [shim(mm(gap), mm(forward), mm(aft))];
    assert_eq!(
        code(&with("0", "225", "225"), None, "0.2"),
        "gap_not_positive"
    );
    assert_eq!(
        code(&with("-0.1", "225", "225"), None, "0.2"),
        "gap_not_positive"
    );
    let beyond = "reading_not_beyond_contact";
    assert_eq!(code(&with("0.2", "-225", "225"), None, "0.2"), beyond);
    assert_eq!(code(&with("0.2", "225", "-225"), None, "0.2"), beyond);
    assert_eq!(code(&with("0.2", "225", "0"), None, "0.2"), beyond);
    let far = sure(mm("230"));
    assert_eq!(code(one, Some(&far), "0.2"), beyond);
    assert_eq!(
        code(&[good.clone(), good.clone()], None, "0.2"),
        "gap_repeated"
    );
    // An arc of 1 mm radius never opens to 3 mm.
    assert_eq!(code(&with("1", "1", "1"), None, "3"), "gap_beyond_arc");
    assert_eq!(
        crown_radius(&sure(mm("0")), &sure(mm("1")))
            .unwrap_err()
            .code,
        "radius_needs_lengths"
    );
}

proptest! {
    /// The derivatives agree with differences, for any contact, gap and reading.
    #[test]
    fn sensitivities_agree_with_differences(
        forward in 100_i64..400,
        contact in -20_i64..20,
        gap in 5_i64..40,
        asked in 5_i64..40,
        what in 0..3,
    ) {
        let hundredths = |n: i64| Exact::from_fraction(n, 100).unwrap();
        let step = Exact::from_fraction(1, 1_000_000).unwrap();
        let forward_end = |by: &Exact| {
            let zero = Exact::ZERO;
            let by = |which| if what == which { by } else { &zero };
            let u = |which| if what == which { 1.0 } else { 0.0 };
            let shims = [Shim {
                gap: doubtful(hundredths(gap).add(by(0)), 1, u(0)),
                forward: doubtful(Exact::from_integer(forward).add(by(1)), 1, u(1)),
                aft: sure(Exact::from_integer(forward)),
            }];
            let contact = doubtful(Exact::from_integer(contact).add(by(2)), 1, u(2));
            flat_from_shims(&shims, Some(&contact), &hundredths(asked)).unwrap().forward
        };
        // Carried on an arc on both sides of the point, so that the derivative exists.
        prop_assume!(gap != asked);
        let (low, high) = (forward_end(&step.neg()), forward_end(&step));
        let slope = (high.value.to_f64() - low.value.to_f64()) / 2e-6;
        let parts = forward_end(&Exact::ZERO).parts.to_vec();
        let stated = parts.iter().map(|part| part.u).sum::<f64>();
        prop_assert!((stated - slope).abs() <= 1e-4 * slope.abs().max(1e-2), "{} {}", stated, slope);
    }
}
