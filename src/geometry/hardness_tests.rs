//! Hardness conversions against every row of the tables.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

use super::*;
use proptest::prelude::*;

const ALL: [HardnessScale; 3] = [HardnessScale::Hrc, HardnessScale::Hv, HardnessScale::Hbw];

fn number(text: &str) -> Uncertain {
    Uncertain::exact(Exact::from_decimal(text).unwrap())
}

fn found(text: &str, from: HardnessScale, to: HardnessScale) -> Converted {
    converted_hardness(&number(text), from, to, 1).unwrap()
}

fn rows(text: &str) -> Vec<Vec<String>> {
    let lines = text.lines().filter(|line| !line.starts_with('#')).skip(1);
    lines
        .map(|line| line.split(',').map(str::to_owned).collect())
        .collect()
}

#[test]
fn every_row_of_the_table_in_every_direction() {
    let table = rows(include_str!("../../tests/data/hardness-e140-hrc.csv"));
    assert_eq!(table.len(), 49);
    for row in &table {
        for (from, to) in ALL
            .into_iter()
            .flat_map(|a| ALL.into_iter().map(move |b| (a, b)))
        {
            let cell = |scale: HardnessScale| match scale {
                HardnessScale::Hrc => row[0].as_str(),
                HardnessScale::Hv => row[1].as_str(),
                HardnessScale::Hbw => row[2].as_str(),
            };
            if from == to || cell(from).is_empty() {
                continue;
            }
            let result = converted_hardness(&number(cell(from)), from, to, 1);
            if cell(to).is_empty() {
                assert_eq!(result.unwrap_err().code, "hardness_out_of_table");
                continue;
            }
            let result = result.unwrap();
            let exact = Exact::from_decimal(cell(to)).unwrap();
            assert_eq!(
                result.value.value.as_exact(),
                Some(&exact),
                "{row:?} {from:?} {to:?}"
            );
            let brinell = from == HardnessScale::Hbw || to == HardnessScale::Hbw;
            assert_eq!(
                result.bracketed,
                brinell && row[3] == "bracketed",
                "{row:?}"
            );
        }
    }
}

/// ISO 18265, Table A.1, gives HRC for whole HV: within 0.36 % of HV of the table here.
#[test]
fn another_standard_agrees_to_a_third_of_a_percent() {
    let text = include_str!("../../tests/data/hardness-iso18265-a1.csv");
    let mut compared = 0;
    for row in rows(text) {
        let (hv, hrc) = (&row[0], &row[1]);
        let Ok(result) = converted_hardness(&number(hrc), HardnessScale::Hrc, HardnessScale::Hv, 1)
        else {
            continue;
        };
        compared += 1;
        let (ours, theirs) = (result.value.value.to_f64(), hv.parse::<f64>().unwrap());
        // HRC there is rounded to 0.1, which the slope turns into HV.
        let rounding = 0.05 * 14.0;
        assert!(
            (ours - theirs).abs() <= 0.0036 * theirs + rounding,
            "{hv}: {ours}"
        );
    }
    assert!(compared > 40, "{compared}");
}

#[test]
fn between_rows_in_proportion_and_the_slope_carries_the_reading() {
    let half = found("58.5", HardnessScale::Hrc, HardnessScale::Hv);
    assert_eq!(
        half.value.value.as_exact(),
        Some(&Exact::from_decimal("663.5").unwrap())
    );
    assert_eq!(half.rows, [(58, 653), (59, 674)]);
    let part = Part::new(PartKind::Resolution, 7, 0, 0.5, f64::INFINITY);
    let reading = Uncertain::new(number("58.5").value, [part]);
    let result = converted_hardness(&reading, HardnessScale::Hrc, HardnessScale::Hv, 1).unwrap();
    let table = 0.0036 * 663.5 / 3.0_f64.sqrt();
    let u = (21.0_f64 * 0.5).hypot(table);
    assert!((result.value.combined().u - u).abs() < 1e-12);
    // On a row the steeper side counts: 633 to 653 to 674.
    let reading = Uncertain::new(number("58").value, [part]);
    let result = converted_hardness(&reading, HardnessScale::Hrc, HardnessScale::Hv, 1).unwrap();
    let u = (21.0_f64 * 0.5).hypot(0.0036 * 653.0 / 3.0_f64.sqrt());
    assert!((result.value.combined().u - u).abs() < 1e-12);
    // A Brinell value is off by 1 between editions of the table.
    let brinell = found("50", HardnessScale::Hrc, HardnessScale::Hbw);
    assert!((brinell.value.combined().u - 1.0 / 3.0_f64.sqrt()).abs() < 1e-12);
}

#[test]
fn outside_the_table_is_refused() {
    let refused = |text: &str, from, to| {
        let problem = converted_hardness(&number(text), from, to, 1).unwrap_err();
        assert_eq!(problem.code, "hardness_out_of_table", "{text}");
        problem
    };
    let (hrc, hv, hbw) = (HardnessScale::Hrc, HardnessScale::Hv, HardnessScale::Hbw);
    let problem = refused("19.9", hrc, hv);
    assert_eq!(problem.message, "19.9 HRC is outside the table");
    assert!(
        problem
            .help
            .starts_with("ASTM E140 leads from HRC to HV between 20 and 68 HRC")
    );
    refused("68.01", hrc, hv);
    refused("65.5", hrc, hbw);
    refused("237", hv, hrc);
    refused("941", hv, hrc);
    refused("740", hbw, hrc);
    refused("225.9", hbw, hv);
}

/// ASTM E18, and in every row thinner than ten times the depth of the dent.
#[test]
fn minimum_thickness_by_rows() {
    let table = rows(include_str!("../../tests/data/hardness-min-thickness.csv"));
    for row in table.iter().filter(|row| !row[3].is_empty()) {
        let least = minimum_thickness(&number(&row[3]).value).unwrap();
        let inches = Exact::from_decimal(&row[0]).unwrap();
        assert_eq!(
            least,
            inches.mul(&Exact::from_decimal("25.4").unwrap()),
            "{row:?}"
        );
        // Printed to a hundredth, once cut off and not rounded.
        assert!(
            (least.to_f64() - row[1].parse::<f64>().unwrap()).abs() < 0.006,
            "{row:?}"
        );
        let ten_times: f64 = row[4].parse().unwrap();
        assert!(least.to_f64() < ten_times + 0.005, "{row:?}");
    }
    assert_eq!(minimum_thickness(&number("19.9").value), None);
    let between = minimum_thickness(&number("58").value).unwrap();
    assert_eq!(between, Exact::from_decimal("0.762").unwrap());
}

proptest! {
    /// Harder stays harder, and a value that went over and back is where it was.
    #[test]
    fn over_and_back(tenths in 200_i64..=650, more in 1_i64..30) {
        let text = |tenths: i64| format!("{}.{}", tenths / 10, tenths % 10);
        for to in [HardnessScale::Hv, HardnessScale::Hbw] {
            let there = found(&text(tenths), HardnessScale::Hrc, to);
            let back = converted_hardness(&there.value, to, HardnessScale::Hrc, 2).unwrap();
            let began = number(&text(tenths)).value;
            prop_assert_eq!(back.value.value.as_exact(), began.as_exact());
            if tenths + more <= 650 {
                let harder = found(&text(tenths + more), HardnessScale::Hrc, to);
                prop_assert!(harder.value.value.to_f64() > there.value.value.to_f64());
            }
        }
    }
}
