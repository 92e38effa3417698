//! Printing values, margins and uncertainties.

use super::super::show::{
    difference, fixed, fixed_with_unit, margin, margin_with_unit, number, uncertain,
};
use super::super::{Exact, Number, Unit};
use super::exact;

#[test]
fn a_value_is_shown_in_its_unit_with_fixed_decimals() {
    assert_eq!(fixed_with_unit(&exact("4.7625"), Unit::MM, 2), "4.76 mm");
    assert_eq!(fixed_with_unit(&exact("4.7625"), Unit::IN, 4), "0.1875 in");
    assert_eq!(fixed_with_unit(&exact("267.15"), Unit::DEG_C, 0), "-6 degC");
    assert_eq!(fixed_with_unit(&exact("0.5"), Unit::PLAIN, 1), "0.5");
    assert_eq!(fixed_with_unit(&exact("0.02"), Unit::PERCENT, 0), "2 %");
    assert_eq!(fixed(&exact("-0.05"), Unit::MM, 2), "-0.05");
}

#[test]
fn a_margin_prints_zero_only_for_zero() {
    assert_eq!(margin_with_unit(&exact("-0.08"), Unit::MM, 2), "-0.08 mm");
    assert_eq!(margin_with_unit(&exact("0"), Unit::MM, 2), "0.00 mm");
    assert_eq!(margin(&exact("0.0004"), Unit::MM, 2), "0.0004");
    assert_eq!(margin(&exact("-0.0004"), Unit::MM, 2), "-0.0004");
    assert_eq!(margin(&exact("-1/3000"), Unit::MM, 2), "-0.0003");
    assert_eq!(
        margin(&exact("1/30000000000000000000000"), Unit::MM, 2),
        "0.00000000000000000000003"
    );
    assert_eq!(margin(&exact("0.0096"), Unit::MM, 2), "0.01");
    assert_eq!(margin(&exact("0.4"), Unit::MM, 0), "0.4");
    assert_eq!(
        margin(&exact("5"), Unit::DEG_F, 1),
        "9.0",
        "a difference of temperatures"
    );
    assert_eq!(margin(&exact("-0.05"), Unit::IN, 3), "-0.002");
}

#[test]
fn json_numbers_are_exact_where_they_end() {
    let plain = |pair: (String, bool)| pair;
    assert_eq!(
        plain(number(&exact("4.7"), Unit::MM, Some(2))),
        ("4.70".to_owned(), true)
    );
    assert_eq!(
        plain(number(&exact("4.7625"), Unit::MM, Some(2))),
        ("4.7625".to_owned(), true)
    );
    assert_eq!(
        plain(number(&exact("1/3"), Unit::MM, Some(2))),
        ("0.333333333333333".to_owned(), false)
    );
    assert_eq!(
        plain(number(&exact("267.15"), Unit::DEG_C, None)),
        ("-6".to_owned(), true)
    );
    assert_eq!(
        plain(difference(&exact("0.5"), Unit::DEG_C, Some(1))),
        ("0.5".to_owned(), true)
    );
    assert_eq!(
        plain(difference(&exact("0"), Unit::MM, Some(2))),
        ("0.00".to_owned(), true)
    );
}

#[test]
fn a_value_follows_its_uncertainty_of_two_digits() {
    let text = |value: &str, u: f64| {
        uncertain(&Number::Exact(exact(value)), u, Unit::MM, Some(2)).to_string()
    };
    assert_eq!(text("4.62", 0.02), "4.620 ± 0.020 mm");
    assert_eq!(text("75.4", 1.2), "75.4 ± 1.2 mm");
    assert_eq!(
        text("4.62", 0.0996),
        "4.62 ± 0.10 mm",
        "two digits after the carry"
    );
    assert_eq!(text("4.62", 0.0994), "4.620 ± 0.099 mm");
    assert_eq!(text("12", 9.96), "12 ± 10 mm");
    assert_eq!(text("1234.5", 123.0), "1230 ± 120 mm");
    assert_eq!(text("12", 99.6), "10 ± 100 mm");
    // Ties go to the even digit, in the value and in the uncertainty.
    assert_eq!(text("4.625", 0.115), "4.62 ± 0.12 mm");
    assert_eq!(text("4.635", 0.125), "4.64 ± 0.12 mm");
    assert_eq!(text("2.675", 0.25), "2.68 ± 0.25 mm");
    assert_eq!(text("-4.62", 0.02), "-4.620 ± 0.020 mm");
    assert_eq!(
        text("4.7", 0.0),
        "4.70 mm",
        "no uncertainty: the digits that were written"
    );
    assert_eq!(text("4.7625", 0.0), "4.7625 mm");
    assert_eq!(text("4.62", f64::NAN), "4.62 mm, uncertainty not known");
    assert_eq!(
        text("4.62", f64::INFINITY),
        "4.62 mm, uncertainty not known"
    );
    assert_eq!(text("4.62", -0.02), "4.62 mm, uncertainty not known");
    assert_eq!(text("4.62", 3e-9), "4.6200000000 ± 0.0000000030 mm");
}

#[test]
fn both_are_turned_into_the_unit_first() {
    let inches = uncertain(&Number::Exact(exact("4.7625")), 0.0254, Unit::IN, None);
    assert_eq!(inches.to_string(), "0.1875 ± 0.0010 in");
    let cold = uncertain(&Number::Exact(exact("267.15")), 0.5, Unit::DEG_C, None);
    assert_eq!(cold.to_string(), "-6.00 ± 0.50 degC");
    assert_eq!(cold.value, "-6.00");
    assert_eq!(cold.uncertainty.as_deref(), Some("0.50"));
    let plain = uncertain(&Number::Exact(exact("0.5")), 0.1, Unit::PLAIN, None);
    assert_eq!(plain.to_string(), "0.50 ± 0.10");
}

#[test]
fn a_real_number_is_shown_by_its_shortest_decimal() {
    let root = Number::Exact(exact("2")).sqrt().unwrap();
    assert_eq!(
        uncertain(&root, 0.01, Unit::MM, None).to_string(),
        "1.414 ± 0.010 mm"
    );
    assert_eq!(
        uncertain(&Number::real(f64::NAN, 0.0), 0.01, Unit::MM, None).to_string(),
        "not known"
    );
    assert_eq!(
        uncertain(&Number::real(1.0, f64::INFINITY), 0.01, Unit::MM, None).to_string(),
        "not known"
    );
    let long = uncertain(&root, 0.0, Unit::MM, Some(2)).value;
    assert_eq!(
        long, "1.4142135623731",
        "15 significant digits: 1.41421356237310"
    );
    assert_eq!(
        Exact::from_f64_shortest(root.to_f64()).unwrap().to_string(),
        "1.4142135623730951"
    );
}
