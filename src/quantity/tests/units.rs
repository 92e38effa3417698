//! Units and dimensions against their definitions (check values, section 10).

use super::super::{Dimension, Unit};
use super::{exact, quantity};

#[test]
fn factors_are_the_definitions() {
    for (text, base) in [
        ("1 in", "25.4"),
        ("1 ft", "304.8"),
        ("12 in", "304.8"),
        ("1 ft2", "92903.04"),
        ("1 m2", "1000000"),
        ("1 in2", "645.16"),
        ("1 cm2", "100"),
        ("1 lb", "0.45359237"),
        ("1 oz", "0.028349523125"),
        ("16 oz", "0.45359237"),
        ("1 lbf", "4448.2216152605"),
        ("1 N", "1000"),
        ("1 kN", "1000000"),
        ("1 N/mm", "1000"),
        ("1 N/m", "1"),
        ("100 lb", "45.359237"),
        ("21 lb", "9.52543977"),
        ("0.008 in", "0.2032"),
        ("1/64 in", "0.396875"),
        ("1/32 in", "0.79375"),
        ("1/8 in", "3.175"),
        ("3/16 in", "4.7625"),
        ("1/4 in", "6.35"),
        ("5/16 in", "7.9375"),
        ("3/8 in", "9.525"),
        ("1/2 in", "12.7"),
        ("1 3/16 in", "30.1625"),
        ("4.210 m", "4210"),
        ("7 um", "0.007"),
        ("2 %", "0.02"),
        ("2 mm/m", "0.002"),
        ("30 min", "0.5"),
        ("82 deg 30 min", "82.5"),
        ("365 days", "31536000"),
        ("1 day", "86400"),
        ("2 h", "7200"),
        ("0 degC", "273.15"),
        ("-6 degC", "267.15"),
        ("20 degC", "293.15"),
        ("32 degF", "273.15"),
        ("-40 degF", "233.15"),
        ("212 degF", "373.15"),
    ] {
        assert_eq!(quantity(text).value, exact(base), "{text}");
    }
    // One pound-force is a pound under 9.80665 m/s².
    assert_eq!(Unit::LBF.factor(), Unit::LB.factor().mul(&exact("9806.65")));
    assert_eq!(
        Unit::LBF_PER_IN.factor().mul(&exact("25.4")),
        Unit::LBF.factor()
    );
}

#[test]
fn every_symbol_is_read_back_as_its_unit_and_every_factor_is_right() {
    let all: Vec<Unit> = Unit::all().collect();
    assert_eq!(all.len(), 32);
    let mut quotients = 0;
    for over in &all {
        assert_eq!(Unit::from_symbol(over.symbol()), Some(*over));
        assert!(over.factor().signum() > 0);
        assert_eq!(
            over.is_base(),
            over.factor() == exact("1") && over.offset().is_zero()
        );
        for under in &all {
            let symbol = format!("{over}/{under}");
            let read = Unit::from_symbol(&symbol);
            assert_eq!(read, over.per(*under), "{symbol}");
            let Some(quotient) = read else { continue };
            quotients += 1;
            assert_eq!(quotient.symbol(), symbol);
            assert_eq!(
                quotient.dimension(),
                over.dimension().div(under.dimension())
            );
            assert_eq!(
                quotient.factor().mul(&under.factor()),
                over.factor(),
                "{symbol}"
            );
            assert!(quotient.per(Unit::MM).is_none(), "no quotient of quotients");
        }
    }
    assert!(quotients > 600, "{quotients}");
    for wrong in [
        "MM", "Mm", "mm ", " mm", "mm/", "/mm", "mm//m", "mm/m/m", "degC/m", "m/degC", "mm/%",
        "mm/HRC", "inch", "é",
    ] {
        assert_eq!(Unit::from_symbol(wrong), None, "{wrong}");
    }
    assert_eq!(Unit::from_symbol("\u{b5}m"), Some(Unit::UM), "micro sign");
    assert_eq!(Unit::from_symbol("\u{3bc}m"), Some(Unit::UM), "Greek mu");
}

#[test]
fn numbers_go_to_base_units_and_back() {
    for unit in Unit::all() {
        for number in ["0", "-6", "4.7", "3/16", "123456789.000001"] {
            let number = exact(number);
            assert_eq!(unit.from_base(&unit.to_base(&number)), number, "{unit}");
        }
    }
    // A difference has no zero of its own: 9 degF of difference are 5 K.
    assert_eq!(Unit::DEG_F.difference_from_base(&exact("5")), exact("9"));
    assert_eq!(Unit::DEG_C.difference_from_base(&exact("5")), exact("5"));
    assert_eq!(quantity("0.5 degC").difference(), exact("0.5"));
    assert_eq!(quantity("9 degF").difference(), exact("5"));
    assert_eq!(quantity("0.5 mm").difference(), exact("0.5"));
}

#[test]
fn dimensions_multiply_and_speak() {
    assert_eq!(Dimension::LENGTH.mul(Dimension::LENGTH), Dimension::AREA);
    assert_eq!(Dimension::LENGTH.pow(2), Dimension::AREA);
    assert_eq!(Dimension::AREA.sqrt(), Some(Dimension::LENGTH));
    assert_eq!(Dimension::LENGTH.sqrt(), None);
    assert_eq!(
        Dimension::FORCE.div(Dimension::LENGTH),
        Dimension::STIFFNESS
    );
    assert_eq!(Dimension::LENGTH.div(Dimension::LENGTH), Dimension::RATIO);
    assert_ne!(Dimension::HARDNESS_HRC, Dimension::HARDNESS_HV);
    assert_ne!(Dimension::ANGLE, Dimension::RATIO);
    assert_eq!(Dimension::LENGTH.in_words(), "a length");
    assert_eq!(Dimension::ANGLE.in_words(), "an angle");
    assert_eq!(
        Dimension::FORCE.mul(Dimension::LENGTH).in_words(),
        "a quantity in mm2 kg/s2"
    );
    assert_eq!(Dimension::RATIO.div(Dimension::TIME).base_symbol(), "1/s");
}

#[test]
fn a_dimension_that_left_its_range_fits_nothing() {
    let mut far = Dimension::LENGTH;
    for _ in 0..200 {
        far = far.mul(Dimension::LENGTH);
    }
    assert!(!far.is_in_range());
    for _ in 0..300 {
        far = far.div(Dimension::LENGTH);
    }
    assert!(
        !far.is_in_range(),
        "it doesn't come back with another meaning"
    );
    assert_ne!(far, Dimension::LENGTH);
    assert_eq!(far.sqrt(), None);
    assert_eq!(far.in_words(), "a quantity in a power beyond 127");
    assert!(Dimension::AREA.pow(100).base_symbol().contains("beyond"));
}

#[test]
fn likely_units_are_of_their_dimension() {
    for dimension in [
        Dimension::RATIO,
        Dimension::LENGTH,
        Dimension::AREA,
        Dimension::MASS,
        Dimension::TIME,
        Dimension::TEMPERATURE,
        Dimension::ANGLE,
        Dimension::FORCE,
        Dimension::STIFFNESS,
        Dimension::SINKING,
        Dimension::HARDNESS_HRC,
        Dimension::HARDNESS_HV,
        Dimension::HARDNESS_HBW,
    ] {
        assert!(!dimension.likely_units().is_empty());
        for unit in dimension.likely_units() {
            assert_eq!(unit.dimension(), dimension, "{unit}");
        }
    }
}
