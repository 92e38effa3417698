//! What is read, and what is kept of it.

use super::super::{Dimension, Exact, Quantity, Unit, lex_literal};
use super::{exact, quantity};

#[test]
fn value_unit_resolution_and_decimals_are_kept() {
    for (text, value, unit, resolution, decimals) in [
        ("4.70 mm", "4.7", Unit::MM, "0.01", Some(2)),
        ("5", "5", Unit::PLAIN, "1", Some(0)),
        ("0.5", "0.5", Unit::PLAIN, "0.1", Some(1)),
        ("3/16 in", "4.7625", Unit::IN, "1.5875", None),
        ("1 3/16 in", "30.1625", Unit::IN, "1.5875", None),
        ("-1 3/16 in", "-30.1625", Unit::IN, "1.5875", None),
        ("2/4 in", "12.7", Unit::IN, "6.35", None),
        ("1/3", "1/3", Unit::PLAIN, "1/3", None),
        ("0.008 in", "0.2032", Unit::IN, "0.0254", Some(3)),
        ("-6 degC", "267.15", Unit::DEG_C, "1", Some(0)),
        ("82 deg 30 min", "82.5", Unit::DEG, "1/60", None),
        ("-82 deg 30 min", "-82.5", Unit::DEG, "1/60", None),
        ("-0 deg 30 min", "-0.5", Unit::DEG, "1/60", None),
        ("82 deg 30.5 min", "9901/120", Unit::DEG, "1/600", None),
        ("30 min", "0.5", Unit::ARC_MIN, "1/60", Some(0)),
        ("82 deg", "82", Unit::DEG, "1", Some(0)),
        ("100.0 deg", "100", Unit::DEG, "0.1", Some(1)),
        ("58 HRC", "58", Unit::HRC, "1", Some(0)),
        ("2 %", "0.02", Unit::PERCENT, "0.01", Some(0)),
        ("12 N/mm", "12000", Unit::N_PER_MM, "1000", Some(0)),
        ("8.0 m2", "8000000", Unit::M2, "100000", Some(1)),
        ("0 mm", "0", Unit::MM, "1", Some(0)),
        ("-0.00 mm", "0", Unit::MM, "0.01", Some(2)),
        ("+0.02 mm", "0.02", Unit::MM, "0.01", Some(2)),
        ("  4.70   mm\n", "4.7", Unit::MM, "0.01", Some(2)),
        ("4.70\tmm", "4.7", Unit::MM, "0.01", Some(2)),
        ("12 \u{b5}m", "0.012", Unit::UM, "0.001", Some(0)),
    ] {
        let read = quantity(text);
        assert_eq!(read.value, exact(value), "{text}");
        assert_eq!(read.unit, unit, "{text}");
        assert_eq!(read.resolution, exact(resolution), "{text}");
        assert_eq!(read.decimals, decimals, "{text}");
    }
}

#[test]
fn long_numbers_are_exact_to_the_last_digit() {
    let digits = "1234567890.123456789012345678901234567891";
    assert_eq!(quantity(&format!("{digits} mm")).value, exact(digits));
    let forty = "9".repeat(40);
    assert_eq!(
        quantity(&format!("{forty} in")).value,
        exact(&forty).mul(&exact("25.4"))
    );
    assert_eq!(
        quantity(&format!("{forty} in")).as_written(),
        format!("{forty} in")
    );
    assert_eq!(
        quantity("123456789012345678 mm").value,
        exact("123456789012345678")
    );
    assert_eq!(
        quantity("1234567890123456789 mm").value,
        exact("1234567890123456789")
    );
    // The one number of 64 bits without an opposite among them.
    for unit in ["mm", "in"] {
        let least = quantity(&format!("-9223372036854775808 {unit}"));
        assert_eq!(least.number(), exact("-9223372036854775808"));
    }
    let fraction = "999999999999999999/1000 in";
    assert_eq!(
        quantity(fraction).as_written(),
        "999999999999999 999/1000 in"
    );
}

#[test]
fn a_quantity_is_printed_as_it_was_written() {
    for text in [
        "4.70 mm",
        "5",
        "0.5",
        "3/16 in",
        "1 3/16 in",
        "-1 3/16 in",
        "2/4 in",
        "2 0/16 in",
        "0/16 in",
        "1/3",
        "-6 degC",
        "82 deg 30 min",
        "-82 deg 30 min",
        "-0 deg 30 min",
        "82 deg 30.50 min",
        "82 deg 0 min",
        "58 HRC",
        "2 %",
        "12 N/mm",
        "8.0 m2",
        "0.00 mm",
        "365 days",
        "1 day",
        "-0.05 lbf/in",
        "451/3 degF",
    ] {
        let again = match text {
            // An improper fraction is printed as a mixed number.
            "451/3 degF" => "150 1/3 degF",
            text => text,
        };
        assert_eq!(quantity(text).as_written(), again);
        assert_eq!(quantity(again).value, quantity(text).value);
    }
    assert_eq!(quantity("+0.02 mm").to_string(), "0.02 mm");
    assert_eq!(
        Quantity::of(&exact("4.7"), Unit::MM, 2).as_written(),
        "4.70 mm"
    );
    assert_eq!(
        Quantity::of(&exact("-6"), Unit::DEG_C, 0),
        quantity("-6 degC")
    );
}

#[test]
fn a_quantity_made_by_hand_still_prints() {
    let odd = Quantity {
        value: exact("1/3"),
        unit: Unit::MM,
        resolution: exact("2/7"),
        decimals: None,
    };
    assert_eq!(odd.as_written(), "1/3 mm");
    let none = Quantity {
        value: exact("1.5"),
        unit: Unit::IN,
        resolution: Exact::ZERO,
        decimals: None,
    };
    assert_eq!(none.as_written(), "15/254 in");
}

#[test]
fn lists_share_the_unit_that_stands_last() {
    let text = "4.76 4.77  4.75 mm";
    let list = Quantity::parse_list(text).unwrap();
    let read: Vec<_> = list
        .iter()
        .map(|(q, range)| (q.as_written(), &text[range.clone()]))
        .collect();
    let wanted = [
        ("4.76 mm", "4.76"),
        ("4.77 mm", "4.77"),
        ("4.75 mm", "4.75"),
    ];
    assert_eq!(
        read.iter()
            .map(|(q, t)| (q.as_str(), *t))
            .collect::<Vec<_>>(),
        wanted
    );
    let stations = "-400 -200 0 200 400 mm";
    let list = Quantity::parse_list_as(stations, Dimension::LENGTH).unwrap();
    assert_eq!(list.len(), 5);
    assert_eq!(list[0].0.value, exact("-400"));
    assert_eq!(&stations[list[2].1.clone()], "0");
    for (single, range) in [
        ("1 3/16 in", 0..9),
        ("4.76 mm", 0..4),
        (" 82 deg 30 min ", 1..14),
        ("12", 0..2),
    ] {
        let list = Quantity::parse_list(single).unwrap();
        assert_eq!(list.len(), 1, "{single}");
        assert_eq!(list[0].0, quantity(single));
        assert_eq!(list[0].1, range, "{single}");
    }
    assert_eq!(
        Quantity::parse_list("1 2 3").unwrap().len(),
        3,
        "plain numbers"
    );
    assert_eq!(
        Quantity::parse_list("0.00 -0.02 -0.05 -0.03 0.00 mm")
            .unwrap()
            .len(),
        5
    );
}

#[test]
fn ranges_run_up_and_may_share_the_unit() {
    for (text, low, high) in [
        ("2 mm to 12 mm", "2 mm", "12 mm"),
        ("-60 mm to 60 mm", "-60 mm", "60 mm"),
        ("2 to 12 mm", "2 mm", "12 mm"),
        ("-60 to 60 mm", "-60 mm", "60 mm"),
        ("1/2 in to 1 in", "1/2 in", "1 in"),
        ("0.5 to 2", "0.5", "2"),
        ("1 in to 30 mm", "1 in", "30 mm"),
        ("5 mm to 5 mm", "5 mm", "5 mm"),
        (" -6 degC  to  20 degC ", "-6 degC", "20 degC"),
    ] {
        let (a, b) =
            Quantity::parse_range(text).unwrap_or_else(|problem| panic!("{text}: {problem}"));
        assert_eq!((a, b), (quantity(low), quantity(high)), "{text}");
    }
    assert!(Quantity::parse_range_as("2 mm to 12 mm", Dimension::LENGTH).is_ok());
    assert!(Quantity::parse_range_as("2 mm to 12 mm", Dimension::MASS).is_err());
}

#[test]
fn the_longest_literal_at_the_start_is_taken() {
    for (text, eaten, value) in [
        ("3/16 in + 2 mm", "3/16 in", "3/16 in"),
        ("1 3/16 in", "1 3/16 in", "1 3/16 in"),
        ("-6 degC)", "-6 degC", "-6 degC"),
        ("0.5 * steel_length", "0.5", "0.5"),
        ("4.70 mm", "4.70 mm", "4.70 mm"),
        ("82 deg 30 min < x", "82 deg 30 min", "82 deg 30 min"),
        ("8.0 m2, 4", "8.0 m2", "8.0 m2"),
        ("2 and x", "2", "2"),
        ("5 is plate", "5", "5"),
        ("2)", "2", "2"),
        ("2, 3", "2", "2"),
        ("3 / 16", "3", "3"),
        ("12 N/mm / 2", "12 N/mm", "12 N/mm"),
        ("4.7 mm>3", "4.7 mm", "4.7 mm"),
        ("4.70 mm*2", "4.70 mm", "4.70 mm"),
        ("1 3 in", "1", "1"),
        ("-2 - 3", "-2", "-2"),
        ("5 min", "5 min", "5 min"),
        ("5 in", "5 in", "5 in"),
        ("5 or", "5", "5"),
        ("82 deg - 30 min", "82 deg", "82 deg"),
        ("0.008 in: 9 in", "0.008 in", "0.008 in"),
    ] {
        let (end, read) = lex_literal(text).unwrap_or_else(|| panic!("{text}"));
        assert_eq!(&text[..end], eaten);
        assert_eq!(
            read.unwrap_or_else(|p| panic!("{text}: {p}")),
            quantity(value),
            "{text}"
        );
    }
    for text in ["", "x", "-x", "- 2", "+2", ".5", " 2", "mm", "−2", "yes"] {
        assert!(lex_literal(text).is_none(), "{text}");
    }
}
