//! Analysis of variance against the GUM, certified values and worked examples.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

use super::*;
use proptest::prelude::*;

fn exact(text: &str) -> Exact {
    Exact::from_decimal(text).unwrap()
}

fn digits(found: f64, certified: f64) -> f64 {
    if found == certified {
        return 16.0;
    }
    -((found - certified).abs() / certified.abs()).log10()
}

/// NIST StRD, SiRstv: certified values.
#[test]
fn sirstv_to_twelve_digits() {
    let text = include_str!("../../tests/data/nist-anova-sirstv.csv");
    let mut groups: Vec<Vec<Exact>> = vec![Vec::new(); 5];
    for line in text.lines().filter(|line| !line.starts_with('#')).skip(1) {
        let (group, value) = line.split_once(',').unwrap();
        groups[group.parse::<usize>().unwrap() - 1].push(exact(value));
    }
    let found = one_way(&groups).unwrap();
    assert_eq!(
        (found.between.nu, found.within.nu, found.each),
        (4, 20, Some(5))
    );
    for (value, certified) in [
        (found.between.sum, 5.114_626_160_000_00e-2),
        (found.within.sum, 2.166_365_600_000_00e-1),
        (found.f().unwrap(), 1.180_462_374_402_55),
        (found.r_squared, 1.909_990_390_511_29e-1),
        (found.within.mean().sqrt(), 1.040_760_683_346_56e-1),
    ] {
        assert!(digits(value, certified) >= 13.0, "{value} {certified}");
    }
}

/// JCGM 100:2008, H.5, from the published means and standard deviations of ten days with five readings each:
/// readings are made that have them exactly.
#[test]
fn gum_h_5_days_of_a_voltage_standard() {
    let means = [172, 116, 13, 144, 106, 31, 60, 125, 163, 41];
    let deviations = [60, 77, 111, 101, 67, 93, 80, 73, 88, 86];
    let days: Vec<Vec<Exact>> = means
        .iter()
        .zip(deviations)
        .map(|(mean, s)| {
            // Mean 0, and squares that sum to 4: s² = 1.
            let shape = [1, -1, 1, -1, 0];
            let reading = |one: &i64| Exact::from_integer(mean + one * s);
            shape.iter().map(reading).collect()
        })
        .collect();
    let found = one_way(&days).unwrap();
    let near = |value: f64, stated: f64| assert!(digits(value, stated) > 9.0, "{value} {stated}");
    near(found.mean.to_f64(), 97.1);
    near((found.between.mean() / 5.0).sqrt(), 57.089_500_883_359_555);
    near(found.within.mean().sqrt(), 84.886_983_690_080_54);
    near(found.f().unwrap(), 2.261_519_269_970_795_3);
    near(found.between_deviation().unwrap(), 42.638_610_567_314_59);
    near(found.mean_uncertainty(true).u, 18.053_285_327_361_09);
    assert_eq!(found.mean_uncertainty(true).nu, 9.0);
    assert!((found.mean_uncertainty(false).u - 13.3232).abs() < 5e-4);
    near(f_quantile(0.05, 9, 40).unwrap(), 2.124_029_264_016_695_3);
    near(f_quantile(0.025, 9, 40).unwrap(), 2.451_939_217_029_926_3);
    assert!((f_tail(2.124_029_264_016_695_3, 9, 40).unwrap() - 0.05).abs() < 1e-12);
}

/// With ν₁ = 2 the tail is (1 + 2f/ν₂)^(−ν₂/2), in closed form.
#[test]
fn f_in_closed_form() {
    for nu in [1, 2, 5, 17, 60] {
        for f in [0.1, 1.0, 2.5, 9.0] {
            let closed = (1.0 + 2.0 * f / f64::from(nu)).powf(-f64::from(nu) / 2.0);
            assert!(
                (f_tail(f, 2, nu).unwrap() - closed).abs() < 1e-13,
                "{f} {nu}"
            );
        }
    }
    assert_eq!(f_tail(0.0, 3, 3), Some(1.0));
    assert_eq!(f_tail(f64::INFINITY, 3, 3), Some(0.0));
    assert_eq!(f_tail(1.0, 0, 3), None);
    assert_eq!(f_quantile(0.0, 3, 3), None);
}

fn cells(rows: &[&[&str]]) -> Vec<Vec<Vec<Exact>>> {
    let cell = |text: &&str| text.split(' ').map(exact).collect();
    rows.iter()
        .map(|row| row.iter().map(cell).collect())
        .collect()
}

/// Worked by hand: two people, two items, two readings. Means by cell 10, 20; 14, 24: people differ by 4, items by
/// 10, no interaction; scatter ±1.
#[test]
fn by_hand() {
    let found = study(&cells(&[&["9 11", "19 21"], &["13 15", "23 25"]])).unwrap();
    let sums: Vec<f64> = found.squares.iter().map(|one| one.sum).collect();
    assert_eq!(sums, [200.0, 32.0, 0.0, 8.0]);
    let nus: Vec<u32> = found.squares.iter().map(|one| one.nu).collect();
    assert_eq!(nus, [1, 1, 1, 4]);
    assert!(found.pooled);
    assert_eq!(found.interaction_p, Some(1.0));
    // Pooled scatter 8/5; people (32 − 1.6)/4; items (200 − 1.6)/4.
    let [items, people, both, repeats] = found.components;
    assert!((repeats - 1.6).abs() < 1e-15 && both == 0.0);
    assert!((people - 7.6).abs() < 1e-14 && (items - 49.6).abs() < 1e-14);
    assert!((found.reproducibility() - 9.2_f64.sqrt()).abs() < 1e-14);
    // u² = 7.6 + 1.6/2 = 32/4 + 1.6·(1/2 − 1/4); ν by both mean squares.
    let method = found.method(2);
    assert!((method.u - 8.4_f64.sqrt()).abs() < 1e-14);
    assert!((method.nu - 8.4 * 8.4 / (8.0 * 8.0 / 1.0 + 0.4 * 0.4 / 5.0)).abs() < 1e-12);
}

/// An interaction that is there is kept, and people who differ less than it gives are no source.
#[test]
fn interaction_and_an_estimate_below_zero() {
    let found = study(&cells(&[&["9 11", "25 27"], &["15 17", "19 21"]])).unwrap();
    let sums: Vec<f64> = found.squares.iter().map(|one| one.sum).collect();
    assert_eq!(sums, [200.0, 0.0, 72.0, 8.0]);
    assert!(!found.pooled);
    assert!((found.interaction_p.unwrap() - f_tail(36.0, 1, 4).unwrap()).abs() < 1e-15);
    assert_eq!(found.set_to_zero, [Effect::People]);
    let [items, people, both, repeats] = found.components;
    assert_eq!((items, people, both, repeats), (32.0, 0.0, 35.0, 2.0));
    // u² = 35 + 2/1 = 72/2 + 2·(1 − 1/2).
    let method = found.method(1);
    assert!((method.u - 37.0_f64.sqrt()).abs() < 1e-14);
    assert!((method.nu - 37.0 * 37.0 / (36.0 * 36.0 + 1.0 / 4.0)).abs() < 1e-12);
}

#[test]
fn what_is_no_study() {
    assert_eq!(study(&[]).unwrap_err(), StudyFault::OnePerson);
    assert_eq!(
        study(&cells(&[&["1 2", "3 4"]])).unwrap_err(),
        StudyFault::OnePerson
    );
    assert_eq!(
        study(&cells(&[&["1 2"], &["3 4"]])).unwrap_err(),
        StudyFault::OneItem
    );
    assert_eq!(
        study(&cells(&[&["1", "3"], &["3", "4"]])).unwrap_err(),
        StudyFault::OneReading
    );
    assert_eq!(
        study(&cells(&[&["1 2", "3 4"], &["3 4", "4"]])).unwrap_err(),
        StudyFault::Unequal(1, 1, 1, 2)
    );
    assert!(one_way(&[vec![exact("1")], vec![exact("2")]]).is_none());
    assert!(one_way(&[vec![exact("1"), exact("2")]]).is_none());
    // Nothing scatters: no F, and no uncertainty.
    let still = study(&cells(&[&["1 1", "3 3"], &["1 1", "3 3"]])).unwrap();
    assert_eq!((still.interaction_p, still.pooled), (None, false));
    assert_eq!(still.method(1), Combined::ZERO);
}

proptest! {
    /// The sums of squares add up to that of all readings; a common offset and the order of people and items
    /// change nothing.
    #[test]
    fn sums_add_up_and_offsets_do_nothing(
        values in prop::collection::vec(-500_i64..500, 24),
        offset in -1_000_000_000_i64..1_000_000_000,
    ) {
        let made = |turned: bool, offset: i64| {
            let mut rows: Vec<Vec<Vec<Exact>>> = values
                .chunks(8)
                .map(|row| {
                    let cell = |cell: &[i64]| cell.iter().map(|one| Exact::from_integer(one + offset)).collect();
                    row.chunks(2).map(cell).collect()
                })
                .collect();
            if turned {
                rows.reverse();
                rows.iter_mut().for_each(|row| row.reverse());
            }
            study(&rows).unwrap()
        };
        let plain = made(false, 0);
        let moved = made(true, offset);
        prop_assert_eq!(plain.squares, moved.squares);
        prop_assert_eq!(plain.method(3), moved.method(3));
        let all: Vec<Exact> = values.iter().map(|one| Exact::from_integer(*one)).collect();
        let (_, total, _) = scatter(all.iter()).unwrap();
        let sum: f64 = plain.squares.iter().map(|one| one.sum).sum();
        prop_assert!((sum - total.to_f64()).abs() <= 1e-9 * total.to_f64().max(1.0));
        prop_assert!(plain.method(1).u >= plain.method(5).u);
        prop_assert!(plain.components.iter().all(|one| *one >= 0.0));
    }
}
