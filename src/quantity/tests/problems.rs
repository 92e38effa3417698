//! What is said about a text that is no quantity: code, the text underlined, message, help.

use super::super::{Dimension, Quantity, QuantityProblem, lex_literal};

type Case = (
    &'static str,
    &'static str,
    &'static str,
    &'static str,
    &'static str,
);

fn check(text: &str, problem: &QuantityProblem, case: &Case) {
    let (_, code, under, message, help) = case;
    assert_eq!(problem.code, *code, "{text}");
    assert_eq!(&text[problem.range.clone()], *under, "{text}: underlined");
    assert_eq!(problem.message, *message, "{text}");
    assert_eq!(problem.help.as_deref().unwrap_or(""), *help, "{text}");
}

const FORM: &str = "a quantity is written as 4.70 mm or 3/16 in";

#[rustfmt::skip]
const WHOLE: &[Case] = &[
    // Commas and other separators.
    ("4,70 mm", "quantity.decimal_comma", "4,70", "4,70 has a decimal comma; a point is read here", "write 4.70 mm"),
    ("7,5 mm", "quantity.decimal_comma", "7,5", "7,5 has a decimal comma; a point is read here", "write 7.5 mm"),
    ("-0,005 mm", "quantity.decimal_comma", "0,005", "0,005 has a decimal comma; a point is read here", "write -0.005 mm"),
    (",5 mm", "quantity.decimal_comma", ",5", ",5 starts with a comma; a decimal is written with a point and a digit before it", "write 0.5 mm"),
    ("1,234 mm", "quantity.decimal_comma", "1,234", "1,234 can be read in two ways; a number has a point for its decimals and nothing between thousands", "write 1.234 mm or 1234 mm"),
    ("1,234.5 mm", "quantity.thousands_separator", "1,234.5", "1,234.5 has a comma; nothing stands between thousands", "write 1234.5 mm"),
    ("1,234,567 mm", "quantity.thousands_separator", "1,234,567", "1,234,567 has a comma; nothing stands between thousands", "write 1234567 mm"),
    ("1'234 mm", "quantity.thousands_separator", "1'234", "1'234 has a separator between its digits; a number has none", "write 1234 mm"),
    ("1_000 mm", "quantity.thousands_separator", "1_000", "1_000 has a separator between its digits; a number has none", "write 1000 mm"),
    ("1 000 mm", "quantity.second_number", "000 mm", "\"000 mm\" stands after 1; one quantity is read here", "a number in thousands has no blank: write 1000 mm"),
    ("1.234.567 mm", "quantity.two_points", "1.234.567", "1.234.567 has two points", FORM),
    // Numbers that are none, and other ways of writing one.
    ("NaN", "quantity.not_a_number", "NaN", "NaN is not a number that can be measured", FORM),
    ("nan mm", "quantity.not_a_number", "nan", "nan is not a number that can be measured", FORM),
    (".NaN", "quantity.not_a_number", ".NaN", ".NaN is not a number that can be measured", FORM),
    (".inf", "quantity.not_a_number", ".inf", ".inf is not a number that can be measured", FORM),
    ("-.Inf", "quantity.not_a_number", "-.Inf", "-.Inf is not a number that can be measured", FORM),
    ("+.INF mm", "quantity.not_a_number", "+.INF", "+.INF is not a number that can be measured", FORM),
    ("-inf", "quantity.not_a_number", "-inf", "-inf is not a number that can be measured", FORM),
    ("Infinity", "quantity.not_a_number", "Infinity", "Infinity is not a number that can be measured", FORM),
    ("-∞", "quantity.not_a_number", "-∞", "-∞ is not a number that can be measured", FORM),
    ("1e5", "quantity.exponent", "1e5", "1e5 has an exponent; a number is written out in digits", "write 100000"),
    ("1.5E-3 mm", "quantity.exponent", "1.5E-3", "1.5E-3 has an exponent; a number is written out in digits", "write 0.0015 mm"),
    ("1e+5mm", "quantity.exponent", "1e+5", "1e+5 has an exponent; a number is written out in digits", "write 100000 mm"),
    ("1e400 mm", "quantity.exponent", "1e400", "1e400 has an exponent; a number is written out in digits", FORM),
    ("0x1F mm", "quantity.not_decimal", "0x1F", "0x1F is not a decimal number", FORM),
    ("007 mm", "quantity.leading_zero", "007", "007 starts with a zero that says nothing", "write 7 mm"),
    ("00.5 mm", "quantity.leading_zero", "00.5", "00.5 starts with a zero that says nothing", "write 0.5 mm"),
    ("11111111111111111111111111111111111111111 mm", "quantity.too_many_digits", "11111111111111111111111111111111111111111", "a number of 41 digits; at most 40 are read", FORM),
    ("1111111111111111111/2 in", "quantity.too_many_digits", "1111111111111111111/2", "a fraction with more than 18 digits above or below", FORM),
    ("5. mm", "quantity.point_without_digit", "5.", "5. ends with the point; a digit stands after it", "write 5 mm"),
    (".5 mm", "quantity.point_without_digit", ".5", ".5 starts with the point; a digit stands before it", "write 0.5 mm"),
    ("4..7 mm", "quantity.two_points", "4..7", "4..7 has two points", FORM),
    // Signs.
    ("--5 mm", "quantity.two_signs", "--", "--5 has two signs", FORM),
    ("+-5 mm", "quantity.two_signs", "+-", "+-5 has two signs", FORM),
    ("- 5 mm", "quantity.sign_apart", "- 5", "a blank stands between the sign and the number; the sign is glued to its number", "write -5 mm"),
    ("-", "quantity.no_digits", "-", "- is a sign without a number", FORM),
    ("\u{2212}6 degC", "quantity.lookalike", "\u{2212}", "a minus sign (U+2212) stands here; the plain one of the keyboard is read", "write -6 degC"),
    ("\u{2013}6 degC", "quantity.lookalike", "\u{2013}", "an en dash (U+2013) stands here; the plain one of the keyboard is read", "write -6 degC"),
    ("4.70\u{a0}mm", "quantity.lookalike", "\u{a0}", "a no-break space (U+00A0) stands here; the plain one of the keyboard is read", "write 4.70 mm"),
    ("4.70 mm\u{200b}", "quantity.lookalike", "\u{200b}", "an invisible character stands here; it is not read", "write 4.70 mm"),
    ("½ in", "quantity.lookalike", "½", "a fraction in one character stands here; it is not read", "write 1/2 in"),
    ("1½ in", "quantity.lookalike", "½", "a fraction in one character stands here; it is not read", "write 1 1/2 in"),
    ("3⁄16 in", "quantity.lookalike", "⁄", "a fraction stroke (U+2044) stands here; the plain one of the keyboard is read", "write 3/16 in"),
    ("٣ mm", "quantity.lookalike", "٣", "a digit of another script stands here; it is not read", FORM),
    ("≥ 4.70 mm", "quantity.no_digits", "≥ 4.70 mm", "≥ 4.70 mm starts with a sign of comparison; a quantity is the number and its unit alone", FORM),
    ("about 5 mm", "quantity.no_digits", "about 5 mm", "\"about 5 mm\" is not a quantity", FORM),
    // Fractions.
    ("3/0 in", "quantity.zero_denominator", "3/0", "3/0 has the denominator 0", FORM),
    ("1/1009 in", "quantity.denominator", "1/1009", "1/1009 has the denominator 1009; a scale is divided in at most 1000 parts", FORM),
    ("2 3/7927 in", "quantity.denominator", "3/7927", "3/7927 has the denominator 7927; a scale is divided in at most 1000 parts", FORM),
    ("3/ 16 in", "quantity.fraction_form", "/", "a fraction has no blank at its stroke", "write 3/16 in"),
    ("3 /16 in", "quantity.fraction_form", "/16", "a fraction has no blank at its stroke", "write 3/16 in"),
    ("3 / 16 in", "quantity.fraction_form", "/", "a fraction has no blank at its stroke", "write 3/16 in"),
    ("1 19/16 in", "quantity.fraction_form", "1 19/16", "1 19/16 is not a mixed number: 19/16 is 1 or more", FORM),
    ("3/16/2 in", "quantity.fraction_form", "3/16", "3/16 is followed by a second stroke", FORM),
    ("4.5/16 in", "quantity.fraction_form", "/16", "a fraction has a whole number above its stroke and one below", FORM),
    ("3/016 in", "quantity.leading_zero", "016", "016 starts with a zero that says nothing", FORM),
    ("1-3/16 in", "quantity.second_number", "-3/16 in", "\"-3/16 in\" stands after 1; one quantity is read here", "write 1 3/16 in"),
    // Units.
    ("4.70mm", "quantity.unit_glued", "mm", "4.70mm: a blank is missing between the number and mm", "write 4.70 mm"),
    ("5%", "quantity.unit_glued", "%", "5%: a blank is missing between the number and %", "write 5 %"),
    ("4.70 mmm", "quantity.unknown_unit", "mmm", "\"mmm\" is not a unit known here", "mm is near"),
    ("4.70 MM", "quantity.unknown_unit", "MM", "\"MM\" is not a unit known here", "write 4.70 mm"),
    ("4 inch", "quantity.unknown_unit", "inch", "\"inch\" is not a unit known here", "write 4 in"),
    ("4 inches", "quantity.unknown_unit", "inches", "\"inches\" is not a unit known here", "write 4 in"),
    ("4\"", "quantity.unknown_unit", "\"", "'\"' is not a unit known here", "write 4 in"),
    ("3/16\"", "quantity.unknown_unit", "\"", "'\"' is not a unit known here", "write 3/16 in"),
    ("5'", "quantity.unknown_unit", "'", "\"'\" is not a unit known here", "feet are written as ft, minutes of arc as min"),
    ("82°", "quantity.unknown_unit", "°", "\"°\" is not a unit known here", "write 82 deg"),
    ("82° 30'", "quantity.unknown_unit", "°", "\"°\" is not a unit known here", "write 82 deg 30 min"),
    ("40°30'", "quantity.unknown_unit", "°30'", "\"°30'\" is not a unit known here", "write 40 deg 30 min"),
    ("82 deg.", "quantity.unknown_unit", "deg.", "\"deg.\" is not a unit known here", "write 82 deg"),
    ("28 kgs", "quantity.unknown_unit", "kgs", "\"kgs\" is not a unit known here", "write 28 kg"),
    ("28 gk", "quantity.unknown_unit", "gk", "\"gk\" is not a unit known here", "kg is near"),
    ("-6 °C", "quantity.unknown_unit", "°C", "\"°C\" is not a unit known here", "write -6 degC"),
    ("8.0 m²", "quantity.unknown_unit", "m²", "\"m²\" is not a unit known here", "write 8.0 m2"),
    ("8.0 mm^2", "quantity.unknown_unit", "mm^2", "\"mm^2\" is not a unit known here", "write 8.0 mm2"),
    ("8 thou", "quantity.unknown_unit", "thou", "\"thou\" is not a unit known here", "a thousandth of an inch is written as 0.001 in"),
    ("2 km", "quantity.unknown_unit", "km", "\"km\" is not a unit known here", "a length is written in mm, cm, m, in or ft"),
    ("615 HB", "quantity.unknown_unit", "HB", "\"HB\" is not a unit known here", "the Brinell scale read here is HBW, with a hard-metal ball"),
    ("4 degC/m", "quantity.unknown_unit", "degC/m", "\"degC/m\" is not a unit known here", "a temperature in a quotient is written in K"),
    ("5 N*mm", "quantity.unknown_unit", "N*mm", "\"N*mm\" is not a unit known here", "no products of units are read, only quotients such as N/mm"),
    ("12 n/mm", "quantity.unknown_unit", "n/mm", "\"n/mm\" is not a unit known here", "write 12 N/mm"),
    ("4.70 \u{1b}[31mm", "quantity.unknown_unit", "\u{1b}[31mm", "\"<U+001B>[31mm\" is not a unit known here", "units: %, mm, cm, m, um, in, ft, mm2, cm2, m2, in2, ft2, deg, min, kg, g, lb, oz, N, kN, lbf, HRC, HV, HBW, degC, degF, K, days, day, h, s; or a quotient such as N/mm"),
    ("mm", "quantity.unit_alone", "mm", "mm is a unit without a number", "a quantity is a number and its unit, such as 4.70 mm"),
    ("inches", "quantity.unit_alone", "inches", "inches is a unit without a number", "a quantity is a number and its unit, such as 4.70 in"),
    ("", "quantity.empty", "", "nothing is written here", FORM),
    ("  ", "quantity.empty", "", "nothing is written here", FORM),
    // Something after it.
    ("5 mm mm", "quantity.second_unit", "mm", "mm stands after the unit mm; a quantity has one unit", FORM),
    ("5 mm in", "quantity.second_unit", "in", "in stands after the unit mm; a quantity has one unit", FORM),
    ("5 mm 3", "quantity.second_number", "3", "\"3\" stands after 5 mm; one quantity is read here", FORM),
    ("5 ft 3 in", "quantity.second_number", "3 in", "\"3 in\" stands after 5 ft; one quantity is read here", "a quantity has one unit: write 63 in"),
    ("5 ft 3 1/2 in", "quantity.second_number", "3 1/2 in", "\"3 1/2 in\" stands after 5 ft; one quantity is read here", "a quantity has one unit: write 63 1/2 in"),
    ("2 m 95 cm", "quantity.second_number", "95 cm", "\"95 cm\" stands after 2 m; one quantity is read here", "a quantity has one unit: write 295 cm"),
    ("82 deg 30", "quantity.second_number", "30", "\"30\" stands after 82 deg; one quantity is read here", "degrees and minutes are written as 82 deg 30 min"),
    ("82.5 deg 30 min", "quantity.second_number", "30 min", "\"30 min\" stands after 82.5 deg; one quantity is read here", "degrees and minutes are written as 82 deg 30 min"),
    ("82 deg 75 min", "quantity.arc_minutes", "75 min", "75 min: a degree has 60 minutes, so fewer stand beside degrees", FORM),
    ("82 deg 1/2 min", "quantity.arc_minutes", "1/2 min", "1/2 min: minutes of arc are a whole number or a decimal", FORM),
    ("4.70 mm # wet", "quantity.text_after", "# wet", "\"# wet\" stands after 4.70 mm", FORM),
    ("5 mm to 6 mm", "quantity.text_after", "to 6 mm", "\"to 6 mm\" stands after 5 mm", FORM),
    ("  4,70 mm ", "quantity.decimal_comma", "4,70", "4,70 has a decimal comma; a point is read here", "write 4.70 mm"),
];

#[test]
fn every_mistake_is_named_and_the_right_form_is_shown() {
    for case in WHOLE {
        let problem = Quantity::parse(case.0).expect_err(case.0);
        check(case.0, &problem, case);
    }
}

#[test]
fn a_wrong_kind_says_what_was_read_and_what_is_asked() {
    #[rustfmt::skip]
    let cases: &[(Dimension, Case)] = &[
        (Dimension::LENGTH, ("4.70", "quantity.no_unit", "4.70", "4.70 has no unit; a length is written as 4.70 mm", "units of a length: mm, in, m, cm, um, ft")),
        (Dimension::LENGTH, ("0", "quantity.no_unit", "0", "0 has no unit; a length is written as 0 mm", "units of a length: mm, in, m, cm, um, ft")),
        (Dimension::LENGTH, (" 3/16 ", "quantity.no_unit", "3/16", "3/16 has no unit; a length is written as 3/16 in", "units of a length: mm, in, m, cm, um, ft")),
        (Dimension::HARDNESS_HRC, ("58", "quantity.no_unit", "58", "58 has no unit; a Rockwell C hardness is written as 58 HRC", "")),
        (Dimension::ANGLE, ("100", "quantity.no_unit", "100", "100 has no unit; an angle is written as 100 deg", "units of an angle: deg, min")),
        (Dimension::TEMPERATURE, ("-6", "quantity.no_unit", "-6", "-6 has no unit; a temperature is written as -6 degC", "units of a temperature: degC, degF, K")),
        (Dimension::TIME, ("365", "quantity.no_unit", "365", "365 has no unit; a time is written as 365 days", "units of a time: days, h, s")),
        (Dimension::LENGTH, ("28.4 kg", "quantity.dimension", "28.4 kg", "28.4 kg is a mass; a length is asked for", "units of a length: mm, in, m, cm, um, ft")),
        (Dimension::LENGTH, ("5 m2", "quantity.dimension", "5 m2", "5 m2 is an area; a length is asked for", "units of a length: mm, in, m, cm, um, ft")),
        (Dimension::HARDNESS_HRC, ("653 HV", "quantity.dimension", "653 HV", "653 HV is a Vickers hardness; a Rockwell C hardness is asked for", "no factor leads from one hardness scale to another, only a published table")),
        (Dimension::FORCE, ("20 kg", "quantity.dimension", "20 kg", "20 kg is a mass; a force is asked for", "a force is written in N, kN or lbf; 1 kg weighs about 9.8 N")),
        (Dimension::TIME, ("30 min", "quantity.dimension", "30 min", "30 min is an angle; a time is asked for", "min is a minute of arc; a time is written in days, h or s")),
        (Dimension::RATIO, ("5 mm", "quantity.dimension", "5 mm", "5 mm is a length; a plain number is asked for", "a plain number is written as 0.5, or as 50 %")),
        (Dimension::MASS, ("5 xyz", "quantity.unknown_unit", "xyz", "\"xyz\" is not a unit known here", "units of a mass: kg, g, lb, oz")),
        (Dimension::MASS, ("heavy", "quantity.no_digits", "heavy", "\"heavy\" is not a quantity", "a mass is written as 28.4 kg")),
        (Dimension::LENGTH, ("4,70", "quantity.decimal_comma", "4,70", "4,70 has a decimal comma; a point is read here", "write 4.70")),
        (Dimension::LENGTH.mul(Dimension::MASS), ("5", "quantity.no_unit", "5", "5 has no unit; a quantity in mm kg is asked for", "")),
    ];
    for (dimension, case) in cases {
        let problem = Quantity::parse_as(case.0, *dimension).expect_err(case.0);
        check(case.0, &problem, case);
    }
}

#[test]
fn every_bad_entry_of_a_list_is_told() {
    let told = |text: &str| -> Vec<(String, String, String)> {
        let problems = Quantity::parse_list_all(text, Some(Dimension::LENGTH)).expect_err(text);
        problems
            .into_iter()
            .map(|p| {
                (
                    p.code.to_owned(),
                    text[p.range.clone()].to_owned(),
                    p.help.unwrap_or_default(),
                )
            })
            .collect()
    };
    let entry =
        |code: &str, under: &str, help: &str| (code.to_owned(), under.to_owned(), help.to_owned());
    let length = "a length is written as 4.70 mm or 3/16 in";
    let units = "units of a length: mm, in, m, cm, um, ft";
    assert_eq!(
        told("4,76 4.77 4,75 mm"),
        [
            entry("quantity.decimal_comma", "4,76", "write 4.76 4.77 4.75 mm"),
            entry("quantity.decimal_comma", "4,75", "write 4.76 4.77 4.75 mm"),
        ]
    );
    assert_eq!(
        told("4.76 4..77 --5 mm"),
        [
            entry("quantity.two_points", "4..77", length),
            entry("quantity.two_signs", "--", length)
        ]
    );
    assert_eq!(
        told("4.76, 4.77 mm"),
        [entry(
            "quantity.list_separator",
            "4.76,",
            "write 4.76 4.77 mm"
        )]
    );
    assert_eq!(
        told("4,76; 4,77 mm"),
        [entry(
            "quantity.list_separator",
            "4,76;",
            "write 4.76 4.77 mm"
        )]
    );
    assert_eq!(
        told("4.76 mm 4.77 mm"),
        [entry("quantity.list_unit", "mm", "write 4.76 4.77 mm")]
    );
    assert_eq!(
        told("4.76 mm 3 in"),
        [entry(
            "quantity.list_unit",
            "mm",
            "give each entry its unit: [4.76 mm, 3/16 in]"
        )]
    );
    assert_eq!(
        told("1 2 3/16 in"),
        [entry(
            "quantity.list_fraction",
            "3/16",
            "give each entry its unit: [1 3/16 in, 1 1/4 in]"
        )]
    );
    assert_eq!(
        told("4.76 4.77 4.75mm"),
        [entry(
            "quantity.unit_glued",
            "mm",
            "write 4.76 4.77 4.75 mm"
        )]
    );
    assert_eq!(
        told("4.76 4.77 mmm"),
        [entry("quantity.unknown_unit", "mmm", "mm is near")]
    );
    assert_eq!(
        told("4.76 4.77"),
        [entry("quantity.no_unit", "4.76", units)]
    );
    assert_eq!(
        told("4.76 4.77 kg"),
        [entry("quantity.dimension", "4.76", units)]
    );
    assert_eq!(
        told("1 000 mm"),
        [entry(
            "quantity.leading_zero",
            "000",
            "a number in thousands has no blank, as in 1000 mm"
        )]
    );
    assert_eq!(
        told("4.76 NaN 4.75 mm"),
        [entry("quantity.not_a_number", "NaN", length)]
    );
    assert_eq!(
        told("40 deg 30 min"),
        [entry("quantity.dimension", "40 deg 30 min", units)]
    );
    assert_eq!(told("").len(), 1);
    assert_eq!(told("mm")[0].0, "quantity.unit_alone");
    let many = "4,7 ".repeat(100_000) + "mm";
    assert_eq!(told(&many)[0].0, "quantity.list_too_long");
    let many = "4,7 ".repeat(500) + "mm";
    assert_eq!(
        told(&many).len(),
        20,
        "a list full of problems is read no further"
    );
    assert!(Quantity::parse_list(&("4.7 ".repeat(2000) + "mm")).is_ok());
    assert_eq!(
        told(&("4.7 ".repeat(2001) + "mm"))[0].0,
        "quantity.list_too_long"
    );
}

#[test]
fn a_range_that_is_none_is_told() {
    #[rustfmt::skip]
    let cases: &[Case] = &[
        ("12 mm to 2 mm", "quantity.range_order", "12 mm to 2 mm", "the range runs down from 12 mm to 2 mm", "the lower end comes first: 2 mm to 12 mm"),
        ("2 mm - 12 mm", "quantity.range_form", "2 mm - 12 mm", "\"2 mm - 12 mm\" is not a range", "a range is written as 2 mm to 12 mm"),
        ("2..12 mm", "quantity.range_form", "2..12 mm", "\"2..12 mm\" is not a range", "a range is written as 2 mm to 12 mm"),
        ("", "quantity.empty", "", "nothing is written here", "a range is written as 2 mm to 12 mm"),
        ("2 mm to 3 kg", "quantity.range_kinds", "2 mm to 3 kg", "2 mm is a length and 3 kg is a mass; both ends are of one kind", "a range is written as 2 mm to 12 mm"),
        ("2 in to 5", "quantity.no_unit", "5", "5 has no unit; the upper end of a range has one", "write 2 in to 5 in"),
        ("2,5 to 3 mm", "quantity.decimal_comma", "2,5", "2,5 has a decimal comma; a point is read here", "write 2.5"),
        ("2 mm to 12 mmm", "quantity.unknown_unit", "mmm", "\"mmm\" is not a unit known here", "mm is near"),
        ("007 to 8 mm", "quantity.leading_zero", "007", "007 starts with a zero that says nothing", "write 7 mm"),
    ];
    for case in cases {
        let problem = Quantity::parse_range(case.0).expect_err(case.0);
        check(case.0, &problem, case);
    }
}

#[test]
fn a_literal_that_is_none_is_eaten_whole_and_told() {
    #[rustfmt::skip]
    let cases: &[(&str, Case)] = &[
        ("4.70 mmm", ("4.70 mmm + 1 mm", "quantity.unknown_unit", "mmm", "\"mmm\" is not a unit known here", "mm is near")),
        ("3 runners", ("3 runners", "quantity.unknown_unit", "runners", "\"runners\" is not a unit known here", "after a number stands a unit, an operator or nothing more")),
        ("4,70", ("4,70 mm", "quantity.decimal_comma", "4,70", "4,70 has a decimal comma; a point is read here", "write 4.70")),
        ("1e5", ("1e5)", "quantity.exponent", "1e5", "1e5 has an exponent; a number is written out in digits", "write 100000")),
        ("4.70mm", ("4.70mm < x", "quantity.unit_glued", "mm", "4.70mm: a blank is missing between the number and mm", "write 4.70 mm")),
        ("4.70 mm/2", ("4.70 mm/2", "quantity.operator_glued", "mm/2", "an operator is glued to mm; it stands between blanks", "write 4.70 mm / 2")),
        ("4\"", ("4\" + x", "quantity.unknown_unit", "\"", "'\"' is not a unit known here", "write 4 in")),
        ("007", ("007 mm", "quantity.leading_zero", "007", "007 starts with a zero that says nothing", "write 7")),
        ("1..2", ("1..2", "quantity.two_points", "1..2", "1..2 has two points", FORM)),
        ("3/0", ("3/0 in", "quantity.zero_denominator", "3/0", "3/0 has the denominator 0", FORM)),
        ("82 deg 75 min", ("82 deg 75 min)", "quantity.arc_minutes", "75 min", "75 min: a degree has 60 minutes, so fewer stand beside degrees", FORM)),
    ];
    for (eaten, case) in cases {
        let (end, read) = lex_literal(case.0).expect(case.0);
        assert_eq!(&case.0[..end], *eaten);
        check(case.0, &read.expect_err(case.0), case);
    }
}

#[test]
fn long_texts_are_told_briefly() {
    let long = "x".repeat(1_000_000);
    for text in [
        long.clone(),
        format!("5 {long}"),
        format!("5 mm {long}"),
        "9".repeat(1_000_000),
        format!("1 {}", "1 ".repeat(300_000)),
    ] {
        let problem = Quantity::parse(&text).expect_err("long");
        assert!(
            problem.to_string().len() < 400,
            "{}",
            problem.to_string().len()
        );
        let problem = Quantity::parse_list(&text).expect_err("long");
        assert!(problem.to_string().len() < 400);
        if let Some((_, Err(problem))) = lex_literal(&text) {
            assert!(problem.to_string().len() < 400);
        }
    }
}
