//! Figures of findings: digits, margins, units.

use super::sample::{bound, exact, expanded, finding, near, thin};
use crate::check::{Finding, FoundLimit, FoundValue, Outcome, Settle};
use crate::quantity::{Number, Unit};
use crate::report::parts::{Figure, Figures, Fractions};
use crate::report::words;
use crate::rules::BoundKind;

fn texts(finding: &Finding) -> [String; 3] {
    let figures = Figures::of(finding, &Fractions::default());
    [figures.value, figures.limit, figures.margin]
        .map(|figure| figure.map_or(String::new(), |one| one.text()))
}

fn measured(
    value: &str,
    decimals: u8,
    size: f64,
    kind: BoundKind,
    limit: &str,
    limit_decimals: u8,
) -> Finding {
    let (value, bound) = (exact(value), bound(kind, limit, Unit::MM, limit_decimals));
    let margin = match kind.is_lower() {
        true => value.sub(&exact(limit)),
        false => exact(limit).sub(&value),
    };
    Finding {
        side: Some(kind),
        value: Some(FoundValue::Number {
            value,
            unit: Unit::MM,
            decimals: Some(decimals),
            bound: None,
        }),
        expanded: Some(expanded(size)),
        limit: Some(bound),
        margin: Some(margin),
        ..finding(0, 1, Outcome::Conforms)
    }
}

#[test]
fn u_has_two_digits_and_the_value_its_own_or_more() {
    let of = |value: &str, decimals: u8, size: f64| {
        texts(&measured(value, decimals, size, BoundKind::AtLeast, "1", 0))[0].clone()
    };
    assert_eq!(of("4.62", 2, 0.02), "4.620 ± 0.020 mm");
    assert_eq!(of("4.6213", 4, 0.02), "4.6213 ± 0.020 mm");
    assert_eq!(of("4213", 0, 2.04), "4213.0 ± 2.0 mm");
    assert_eq!(of("4213", 0, 25.4), "4213 ± 25 mm");
    assert_eq!(of("4213", 0, 251.0), "4210 ± 250 mm");
    assert_eq!(of("4.62", 2, 0.0996), "4.62 ± 0.10 mm");
    assert_eq!(of("4.62", 2, 0.0), "4.62 mm");
    assert_eq!(of("4.70", 2, 0.0), "4.70 mm");
}

#[test]
fn a_margin_says_which_way_and_is_zero_only_on_the_limit() {
    let of =
        |value: &str, kind: BoundKind| texts(&measured(value, 4, 0.02, kind, "4.70", 2))[2].clone();
    assert_eq!(of("4.62", BoundKind::AtLeast), "short by 0.0800 mm");
    assert_eq!(of("4.78", BoundKind::AtMost), "over by 0.0800 mm");
    assert_eq!(of("4.70", BoundKind::AtLeast), "on the limit");
    assert_eq!(of("4.70", BoundKind::MoreThan), "on the limit");
    assert_eq!(of("4.75", BoundKind::AtLeast), "0.0500 mm inside");
    assert_eq!(of("4.69999", BoundKind::AtLeast), "short by 0.00001 mm");
    assert_eq!(texts(&thin())[2], "short by 0.08 mm");
    assert_eq!(texts(&near())[2], "0.4 deg inside");
}

#[test]
fn everything_is_said_in_the_unit_of_the_limit() {
    let mut finding = measured("4.6228", 0, 0.02, BoundKind::AtLeast, "4.70", 2);
    finding.value = Some(FoundValue::Number {
        value: exact("4.6228"),
        unit: Unit::IN,
        decimals: Some(3),
        bound: None,
    });
    assert_eq!(
        texts(&finding),
        ["4.623 ± 0.020 mm", "at least 4.70 mm", "short by 0.077 mm"]
    );
}

#[test]
fn counts_in_doubt_are_ranges() {
    let counted = |sure, possible| Finding {
        value: Some(FoundValue::Count { sure, possible }),
        expanded: None,
        limit: Some(bound(BoundKind::AtMost, "9", Unit::PLAIN, 0)),
        margin: Some(exact("-1")),
        ..finding(0, 0, Outcome::NotDecided)
    };
    assert_eq!(texts(&counted(10, 10)), ["10", "at most 9", "over by 1"]);
    assert_eq!(texts(&counted(8, 10))[0], "8 to 10");
}

#[test]
fn what_would_settle_it_really_would() {
    let rules = super::sample::rules();
    let settled = |at_most: f64, margin: &str| {
        let settle = Settle::SmallerUncertainty {
            at_most,
            unit: Unit::MM,
        };
        let finding = Finding {
            margin: Some(exact(margin)),
            ..near()
        };
        words::settle(&finding, &settle, None, &rules)
    };
    // Rounded down, never up.
    assert_eq!(
        settled(0.0779, "0.0779"),
        "U of 0.077 mm or less would decide"
    );
    assert_eq!(settled(0.4, "0.4"), "U of 0.4 mm or less would decide");
    assert_eq!(settled(1234.0, "1234"), "U of 1200 mm or less would decide");
    assert_eq!(settled(0.05, "-0.05"), "U below 0.05 mm would decide");
}

#[test]
fn a_real_number_is_rounded_and_never_called_exact() {
    let mut finding = measured("1", 0, 0.02, BoundKind::AtLeast, "4.70", 2);
    finding.value = Some(FoundValue::Number {
        value: Number::real(4.7, 1e-12),
        unit: Unit::MM,
        decimals: None,
        bound: None,
    });
    finding.margin = Some(Number::real(2e-13, 1e-12));
    let [value, _, margin] = texts(&finding);
    assert_eq!(value, "4.700 ± 0.020 mm");
    assert_eq!(margin, "0.0000000000002 mm inside");
    assert_ne!(margin, Figure::words("on the limit").text());
}

#[test]
fn a_limit_in_fractions_is_told_as_the_class_wrote_it() {
    let inches = |text: &str| Fractions::read(text);
    let mut found = finding(0, 0, Outcome::DoesNotConform);
    found.limit = Some(FoundLimit::Bound {
        kind: BoundKind::AtLeast,
        value: Number::Exact(inches("3/8 in").unwrap().value),
        unit: Unit::IN,
        decimals: None,
        rounded: None,
    });
    found.value = Some(FoundValue::Number {
        value: Number::Exact(inches("11/32 in").unwrap().value),
        unit: Unit::IN,
        decimals: None,
        bound: None,
    });
    let told = |limit: &str, value: &str| {
        let fractions = Fractions {
            limit: inches(limit),
            value: inches(value),
        };
        let figures = Figures::of(&found, &fractions);
        [figures.value, figures.limit].map(|one| one.unwrap().text())
    };
    assert_eq!(
        told("3/8 in", "'11/32 in'"),
        ["11/32 in", "at least 3/8 in"]
    );
    // Another number at that place, or none in fractions, is not what was compared.
    assert_eq!(
        told("1/4 in", "0.34375 in"),
        ["0.34375 in", "at least 0.375 in"]
    );
}
