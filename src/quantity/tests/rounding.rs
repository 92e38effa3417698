//! Rounding against the published cases (ISO 80000-1 Annex B, IS 2:1960, constructed ties).

use super::super::Ties;
use super::exact;

/// value, range, rule A, rule B, source; the last may be quoted and hold commas.
fn rows() -> Vec<Vec<String>> {
    include_str!("../../../tests/data/rounding-cases.csv")
        .lines()
        .filter(|line| !line.starts_with('#') && !line.starts_with("value,"))
        .map(|line| line.splitn(5, ',').map(str::to_owned).collect())
        .collect()
}

#[test]
fn every_published_case_rounds_as_printed() {
    let rows = rows();
    assert_eq!(
        rows.len(),
        30,
        "the data file has as many cases as when it was copied"
    );
    for row in rows {
        let [value, range, rule_a, rule_b, source] = row.as_slice() else {
            panic!("{row:?}")
        };
        let decimals = rule_a.split_once('.').map_or(0, |(_, places)| places.len());
        for (ties, wanted) in [(Ties::Even, rule_a), (Ties::Away, rule_b)] {
            let rounded = exact(value).round_to_multiple(&exact(range), ties);
            assert_eq!(
                rounded,
                exact(wanted),
                "{value} to {range}, {ties:?}: {source}"
            );
            assert_eq!(
                &rounded.to_fixed(decimals),
                wanted,
                "{value}: the digits as printed"
            );
        }
    }
}

#[test]
fn fixed_decimals_round_in_one_step_and_half_to_even() {
    for row in rows() {
        let decimals = match row[1].as_str() {
            "1" => 0,
            "0.1" => 1,
            "0.01" => 2,
            "0.001" => 3,
            _ => continue,
        };
        assert_eq!(exact(&row[0]).to_fixed(decimals), row[2], "{}", row[0]);
    }
}

#[test]
fn decimal_traps_are_ties_though_binary_cannot_hold_them() {
    for (value, even, away) in [
        ("1.005", "1.00", "1.01"),
        ("2.675", "2.68", "2.68"),
        ("6.345", "6.34", "6.35"),
    ] {
        let from_binary = super::super::Exact::from_f64_shortest(value.parse().unwrap()).unwrap();
        assert_eq!(from_binary, exact(value));
        let step = exact("0.01");
        assert_eq!(
            from_binary.round_to_multiple(&step, Ties::Even),
            exact(even)
        );
        assert_eq!(
            from_binary.round_to_multiple(&step, Ties::Away),
            exact(away)
        );
    }
}

/// ASTM E29, limit against a rounded reading: rows of its table (digits from memory of it, recomputed).
#[test]
fn readings_round_to_the_digits_of_a_limit() {
    for (reading, step, rounded) in [
        ("35940", "100", "35900"),
        ("35950", "100", "36000"),
        ("35960", "100", "36000"),
        ("56.4", "1", "56"),
        ("56.5", "1", "56"),
        ("56.6", "1", "57"),
        ("0.54", "0.1", "0.5"),
        ("0.55", "0.1", "0.6"),
        ("0.56", "0.1", "0.6"),
    ] {
        assert_eq!(
            exact(reading).round_to_multiple(&exact(step), Ties::Even),
            exact(rounded)
        );
    }
}

#[test]
fn fractions_and_odd_steps() {
    let even = |value: &str, step: &str| exact(value).round_to_multiple(&exact(step), Ties::Even);
    assert_eq!(even("1/3", "1/64"), exact("21/64"));
    assert_eq!(
        even("3/32", "1/16"),
        exact("2/16"),
        "half way: the even multiple"
    );
    assert_eq!(even("1/32", "1/16"), exact("0"));
    assert_eq!(even("7", "0"), exact("7"), "a step of zero rounds nothing");
    assert_eq!(
        even("7.4", "-1"),
        exact("7"),
        "the sign of the step is of no account"
    );
    let wide = "170141183460469231731687303715884105727";
    assert_eq!(even(wide, "1"), exact(wide));
    assert_eq!(even(wide, "0.5"), exact(wide));
    assert_eq!(exact("0.5").to_fixed(0), "0");
    assert_eq!(exact("1.5").to_fixed(0), "2");
    assert_eq!(
        exact("-0.004").to_fixed(2),
        "0.00",
        "no sign before nothing"
    );
}
