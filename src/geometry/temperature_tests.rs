//! Lengths at 20 °C against worked corrections.

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

fn kelvin(degrees: &str) -> Uncertain {
    Uncertain::exact(Unit::DEG_C.to_base(&exact(degrees)))
}

fn mm(text: &str) -> Uncertain {
    Uncertain::exact(exact(text))
}

fn coefficient(micro: &str, half_width: f64, source: u32) -> Coefficient {
    let alpha = exact(micro).checked_div(&Exact::from_integer(1_000_000));
    Coefficient {
        alpha: alpha.unwrap(),
        half_width: half_width * 1e-6,
        source,
    }
}

/// Worked corrections, recomputed from the definition, with a true scale: material, reading in mm, °C, correction
/// to first order.
const WORKED: [(&str, &str, &str, f64); 6] = [
    ("11.7", "914.4", "-20", 0.427_939),
    ("10.2", "914.4", "-20", 0.373_075),
    ("10.08", "914.4", "-20", 0.368_686),
    ("23.6", "7620", "-20", 7.193_280),
    ("23.6", "3658", "-10", 2.589_864),
    ("11.7", "1000", "-30", 0.585_000),
];

#[test]
fn worked_corrections_to_first_order_and_exact() {
    let none = coefficient("0", 0.0, 99);
    for (alpha, reading, degrees, correction) in WORKED {
        let item = coefficient(alpha, 0.0, 1);
        let found = corrected(&mm(reading), &none, &item, &kelvin(degrees));
        let (l, a) = (exact(reading).to_f64(), item.alpha.to_f64());
        let by: f64 = degrees.parse::<f64>().unwrap() - 20.0;
        let linear = -l * a * by;
        assert!((linear - correction).abs() < 5e-7, "{alpha} {reading}");
        // The second order: L (αΔt)².
        let beyond = found.value.to_f64() - l - linear;
        assert!(
            (beyond - l * (a * by) * (a * by)).abs() < 1e-4 * correction,
            "{alpha}"
        );
        assert!(beyond > 0.0);
    }
}

#[test]
fn linear_corrections_by_the_table() {
    for (item, reading, degrees, correction) in [
        (Material::Steel, "914.4", "-20", 0.427_939),
        (Material::Stainless, "914.4", "-20", 0.373_075),
        (Material::Aluminium, "7620", "-20", 7.193_280),
        (Material::Aluminium, "3658", "-10", 2.589_864),
        (Material::Steel, "1000", "-30", 0.585_000),
    ] {
        let at = kelvin(degrees).value;
        let found = linear_correction(&mm(reading).value, None, item, &at);
        assert!((found.to_f64() - correction).abs() < 5e-7, "{item:?}");
        assert!(found.as_exact().is_some());
    }
    // Spruce read with a steel tape, both at -20 °C: net of tape and item.
    let net = linear_correction(
        &mm("3658").value,
        Some(Material::Steel),
        Material::Spruce,
        &kelvin("-20").value,
    );
    assert!((net.to_f64() + 1.155_928).abs() < 5e-7);
}

#[test]
fn exact_against_linear_for_a_metre_of_steel() {
    let found = at_20_degrees(&mm("1000"), None, Material::Steel, &kelvin("-20")).unwrap();
    assert!((found.value.to_f64() - 1_000.468_219).abs() < 5e-7);
    assert!(found.value.as_exact().is_some());
}

/// Carbon steel at −5 °C ± 2 °C (u), α 11.7e-6 ± 1e-6 rectangular: u 0.025140 mm on 914.4 mm.
#[test]
fn temperature_and_coefficient_are_sources() {
    let part = Part::new(PartKind::Condition, 0, 0, 2.0, f64::INFINITY);
    let at = Uncertain::new(kelvin("-5").value, [part]);
    let found = at_20_degrees(&mm("914.4"), None, Material::Steel, &at).unwrap();
    assert!((found.combined().u - 0.025_140).abs() < 2e-5);
    assert!((found.value.to_f64() - 914.4 - 0.267_462).abs() < 1e-4);
}

#[test]
fn tape_and_item_of_one_material_cancel() {
    let part = Part::new(PartKind::Condition, 0, 0, 2.0, f64::INFINITY);
    let at = Uncertain::new(kelvin("-25").value, [part]);
    let same = Some(Material::Steel);
    let found = at_20_degrees(&mm("812.5"), same, Material::Steel, &at).unwrap();
    assert_eq!(found.value.as_exact(), Some(&exact("812.5")));
    assert_eq!(found.combined().u, 0.0);
    // Two lengths of one material share its coefficient: of their difference only the difference counts.
    let true_scale = |text: &str| at_20_degrees(&mm(text), None, Material::Steel, &at).unwrap();
    let difference = true_scale("812.5").sub(&true_scale("812.4"));
    assert!(difference.combined().u < 2e-4 * true_scale("812.5").combined().u.max(0.03));
}

#[test]
fn beyond_where_coefficients_hold() {
    for (degrees, shown) in [("-273.15", "-273.15"), ("-101", "-101"), ("200.5", "200.5")] {
        let problem = at_20_degrees(&mm("1"), None, Material::Wood, &kelvin(degrees)).unwrap_err();
        assert_eq!(problem.code, "temperature_out_of_range");
        assert_eq!(problem.message, format!("the temperature is {shown} degC"));
    }
    let below = at_20_degrees(&mm("1"), None, Material::Wood, &kelvin("-300")).unwrap_err();
    assert_eq!(below.message, "-300 degC is below absolute zero");
    for degrees in ["-100", "200"] {
        assert!(at_20_degrees(&mm("1"), None, Material::Wood, &kelvin(degrees)).is_ok());
    }
}

/// The table of the file is the table here.
#[test]
fn coefficients_are_those_that_were_found() {
    let text = include_str!("../../tests/data/thermal-expansion.csv");
    let cell = |material: &str| {
        let line = text
            .lines()
            .find(|line| line.starts_with(material))
            .unwrap();
        line.split(',').nth(2).unwrap().to_owned()
    };
    let named = [
        (Material::Steel, "carbon steel 1020"),
        (Material::AlloySteel, "low-alloy steel 4140"),
        (Material::Stainless, "martensitic stainless 440A"),
        (Material::Stainless304, "austenitic stainless 304"),
        (Material::Aluminium, "aluminium 6061"),
        (Material::Carbon, "carbon/epoxy 60 % along fibre"),
        (Material::Glass, "E-glass/epoxy 60 % along fibre"),
    ];
    for (material, line) in named {
        let micro = Expansion::of(material)
            .unwrap()
            .alpha()
            .mul(&Exact::from_integer(1_000_000));
        assert_eq!(micro, exact(&cell(line)), "{material:?}");
    }
    let ranges = [
        (Material::Spruce, "softwood (incl. sitka spruce)"),
        (Material::DouglasFir, "Douglas fir along grain"),
    ];
    for (material, line) in ranges {
        // The comma in brackets moves no cell of these lines.
        let cell = cell(line);
        let (low, high) = cell.split_once('-').unwrap();
        let one = Expansion::of(material).unwrap();
        let million = Exact::from_integer(1_000_000);
        let ends = (
            one.alpha().sub(&one.half_width()),
            one.alpha().add(&one.half_width()),
        );
        assert_eq!(ends.0.mul(&million), exact(low), "{material:?}");
        assert_eq!(ends.1.mul(&million), exact(high), "{material:?}");
    }
    for (index, (_, material)) in Material::WORDS.iter().enumerate() {
        assert_eq!(EXPANSIONS[index].material, *material);
    }
}

proptest! {
    /// Back to the temperature of reading: what was corrected expands to what was read.
    #[test]
    fn what_was_corrected_expands_to_what_was_read(
        length in 1_i64..9_000_000,
        degrees in -60_i64..60,
        tape in 0_usize..10,
        item in 0_usize..10,
    ) {
        let length = mm(&length.to_string()).scale(&exact("0.001"));
        let (tape, item) = (EXPANSIONS[tape], EXPANSIONS[item]);
        let at = kelvin(&degrees.to_string());
        let found = at_20_degrees(&length, Some(tape.material), item.material, &at).unwrap();
        let by = Exact::from_integer(degrees - 20);
        let a = Exact::ONE.add(&tape.alpha().mul(&by));
        let b = Exact::ONE.add(&item.alpha().mul(&by));
        let back = found.value.as_exact().unwrap().mul(&b);
        prop_assert_eq!(back, length.value.as_exact().unwrap().mul(&a));
    }
}
