//! The smallest changes of numbers, units and dates.

use super::{date_steps, other_unit, steps};

#[test]
fn a_number_steps_by_its_last_digit() {
    for (text, expected) in [
        ("4.70 mm", vec!["4.69 mm", "4.71 mm"]),
        ("100 mm", vec!["99 mm", "101 mm"]),
        ("0.00 mm", vec!["0.01 mm"]),
        ("0.09 kg", vec!["0.08 kg", "0.10 kg"]),
        ("9.99 kg", vec!["9.98 kg", "10.00 kg"]),
        ("-60 mm", vec!["-59 mm", "-61 mm"]),
        ("8.00 m2", vec!["7.99 m2", "8.01 m2"]),
        ("12", vec!["11", "13"]),
        ("0", vec!["1"]),
        ("82 deg 30 min", vec!["82 deg 29 min", "82 deg 31 min"]),
        ("5/16 in", vec!["9/32 in", "11/32 in"]),
        ("1/2 in", vec!["1/4 in", "3/4 in"]),
        ("1 1/2 in", vec!["1 1/4 in", "1 3/4 in"]),
        ("1/64 in", vec!["1/32 in"]),
        ("63/64 in", vec!["31/32 in", "1 in"]),
        ("1 63/64 in", vec!["1 31/32 in"]),
        ("main_limit", vec![]),
    ] {
        assert_eq!(steps(text), expected, "{text}");
    }
}

#[test]
fn a_unit_becomes_another_of_its_dimension() {
    for (text, expected) in [
        ("4.70 mm", Some("4.70 cm")),
        ("5/16 in", Some("5/16 mm")),
        ("45 %", Some("45")),
        ("60 kg", Some("60 g")),
        ("80 deg", Some("80 min")),
        ("8.00 m2", Some("8.00 mm2")),
        ("365 days", Some("365 h")),
        ("82 deg 30 min", None),
        ("60 HRC", None),
        ("12", None),
    ] {
        assert_eq!(other_unit(text).as_deref(), expected, "{text}");
    }
}

#[test]
fn a_date_steps_by_what_it_says_last() {
    for (text, expected) in [
        ("2024-01-01", vec!["2023-12-31", "2024-01-02"]),
        ("2024-02-28", vec!["2024-02-27", "2024-02-29"]),
        ("2011-12", vec!["2011-11", "2012-01"]),
        ("2015", vec!["2014", "2016"]),
        ("someday", vec![]),
    ] {
        assert_eq!(date_steps(text), expected, "{text}");
    }
}
