//! Angles by gauges: published numbers, exact angles, sensitivities, refusals.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

use super::*;
use proptest::prelude::*;

const SOURCE: f64 = f64::INFINITY;

fn exact(text: &str) -> Uncertain {
    Uncertain::exact(Exact::from_decimal(text).unwrap())
}

fn read(text: &str, source: u32, u: f64) -> Uncertain {
    let part = Part::new(PartKind::Resolution, source, 0, u, SOURCE);
    Uncertain::new(Number::Exact(Exact::from_decimal(text).unwrap()), [part])
}

fn sizes(pairs: &[(&str, &str)]) -> Vec<SizeReading> {
    pairs
        .iter()
        .map(|(size, reading)| SizeReading {
            size: exact(size),
            reading: exact(reading),
        })
        .collect()
}

fn near(found: &Uncertain, expected: f64, within: f64) {
    let value = found.value.to_f64();
    assert!((value - expected).abs() <= within, "{value} for {expected}");
    assert!(found.value.bound() < 1e-11);
}

fn is(found: &Uncertain, degrees: &str) {
    assert_eq!(
        found.value.as_exact(),
        Exact::from_decimal(degrees).as_ref()
    );
}

/// Heights of sine bars of 5 in and 100 mm: recomputed, to the decimals of handbook tables.
#[test]
fn sine_bars_of_the_table() {
    let table = [
        (1.0, "0.08726", "1.7452"),
        (5.0, "0.43578", "8.7156"),
        (10.0, "0.86824", "17.3648"),
        (15.0, "1.29410", "25.8819"),
        (20.0, "1.71010", "34.2020"),
        (25.0, "2.11309", "42.2618"),
        (40.0, "3.21394", "64.2788"),
        (45.0, "3.53553", "70.7107"),
        (50.0, "3.83022", "76.6044"),
    ];
    for (angle, inches, hundred) in table {
        let angle: f64 = angle;
        for (height, length, half_a_digit) in [(inches, "5", 5e-6), (hundred, "100", 5e-5)] {
            let found = angle_from_sine(&exact(height), &exact(length)).unwrap();
            let bar: f64 = length.parse().unwrap();
            let slope = (bar * angle.to_radians().cos()).recip().to_degrees();
            near(&found.angle, angle, half_a_digit * slope * 1.01);
        }
    }
    is(
        &angle_from_sine(&exact("2.5"), &exact("5")).unwrap().angle,
        "30",
    );
    is(
        &angle_from_sine(&exact("0"), &exact("5")).unwrap().angle,
        "0",
    );
    is(
        &angle_from_sine(&exact("5"), &exact("5")).unwrap().angle,
        "90",
    );
}

/// A stack error of 0.0001 in on the 5 in bar at 50 degrees is 0.0017827 degree (recomputed).
#[test]
fn a_stack_error_turns_the_bar() {
    let height = read("3.83022", 1, 0.0001);
    let found = angle_from_sine(&height, &exact("5")).unwrap();
    assert!((found.angle.combined().u - 0.001_782_7).abs() < 5e-8);
    assert!(found.notices.is_empty());
    // The longer the bar, the smaller the angle of one height.
    let both = angle_from_sine(&height, &read("5", 1, 0.0001)).unwrap();
    let shrunk = 0.001_782_7 * (1.0 - 0.766_044);
    assert!((both.angle.combined().u - shrunk).abs() < 5e-8);
}

#[test]
fn a_steep_sine_bar_is_told_and_its_end_refused() {
    let at = |height: &str| angle_from_sine(&read(height, 1, 0.01), &exact("100"));
    assert!(at("86.6").unwrap().notices.is_empty());
    let steep = at("99.9").unwrap();
    assert_eq!(
        steep.notices,
        ["a sine bar reads badly above 60 deg: here 0.01 mm of height is 0.13 deg"]
    );
    assert!(steep.angle.combined().u > 20.0 * at("10").unwrap().angle.combined().u);
    assert_eq!(at("100").unwrap_err().code, "sine_at_its_end");
    for bad in ["100.01", "-1"] {
        assert_eq!(at(bad).unwrap_err().code, "sine_out_of_range");
    }
    let short = angle_from_sine(&exact("1"), &exact("0")).unwrap_err();
    assert_eq!(short.message, "the sine bar is 0 mm long");
    let message = at("100.01").unwrap_err().message;
    assert_eq!(
        message,
        "a height of 100.01 mm over a length of 100 mm is a sine above 1"
    );
}

/// Dovetail over pins, D·(1 + cot(a/2)) with D 0.5 and a 60 degrees: 1.366025404 (recomputed).
#[test]
fn pins_of_two_sizes() {
    // Plate and face under 60 degrees: an edge of 60 degrees.
    let found = angle_from_pins(
        &sizes(&[("0.5", "1.366025404"), ("1", "2.732050808")]),
        None,
    )
    .unwrap();
    near(&found.angle, 60.0, 1e-7);
    near(&found.offset, 0.0, 1e-8);
    // A flat at the apex drops out and is told.
    let blunt = angle_from_pins(
        &sizes(&[("0.5", "1.466025404"), ("1", "2.832050808")]),
        None,
    )
    .unwrap();
    near(&blunt.angle, 60.0, 1e-7);
    near(&blunt.offset, 0.1, 1e-8);
}

#[test]
fn pins_that_do_not_touch() {
    let code = |pairs: &[(&str, &str)]| angle_from_pins(&sizes(pairs), None).unwrap_err().code;
    // Grows by less than 2 for each 1; side by side; the faces cross under the plate.
    assert_eq!(code(&[("3", "9"), ("6", "14")]), "pins_do_not_touch");
    assert_eq!(code(&[("3", "6"), ("6", "20")]), "pins_do_not_touch");
    assert_eq!(code(&[("3", "7"), ("6", "20")]), "pins_do_not_touch");
    assert_eq!(code(&[("3", "9"), ("3", "9.1")]), "one_size");
    assert_eq!(code(&[("3", "9")]), "too_few_sizes");
    assert_eq!(code(&[("0", "9"), ("3", "12")]), "size_not_above_zero");
}

/// Internal vee: radii 3 and 6, h2 − h1 = 9 at 60, 7.242640687 at 90, 6.916221868 at 100 degrees (recomputed).
#[test]
fn rollers_of_two_sizes() {
    for (angle, more) in [(90.0, "27.242640687"), (100.0, "26.916221868")] {
        let found = angle_from_rollers(&sizes(&[("6", "20"), ("12", more)]), None).unwrap();
        near(&found.angle, angle, 1e-7);
    }
    let sixty = angle_from_rollers(&sizes(&[("6", "20"), ("12", "29")]), None).unwrap();
    is(&sixty.angle, "60");
    let flat = angle_from_rollers(&sizes(&[("6", "20"), ("12", "26")]), None).unwrap_err();
    assert_eq!(flat.code, "rollers_do_not_sit");
    assert!(flat.message.contains("rise 1 mm"), "{}", flat.message);
}

/// (w, d) = (1, 0) and (5, 2), (2, 0) and (4, 1): 90 degrees exactly; thickness 6.35 at 100 degrees, u 0.02 mm on
/// each of width and depth: u(A) = 0.459361 deg (recomputed).
#[test]
fn widths_at_two_depths() {
    for pairs in [[("0", "1"), ("2", "5")], [("0", "2"), ("1", "4")]] {
        is(
            &angle_from_widths(&sizes(&pairs), None).unwrap().angle,
            "90",
        );
    }
    let apex = SizeReading {
        size: exact("0"),
        reading: exact("0"),
    };
    let thick = SizeReading {
        size: read("2.664141", 1, 0.02),
        reading: read("6.35", 2, 0.02),
    };
    let found = angle_from_widths(&[apex, thick], None).unwrap();
    near(&found.angle, 100.0, 1e-5);
    assert!((found.angle.combined().u - 0.459_361).abs() < 1e-6);
    let shrinks = angle_from_widths(&sizes(&[("0", "4"), ("1", "2")]), None).unwrap_err();
    assert_eq!(shrinks.code, "widths_do_not_grow");
}

/// Bevel depths at a full grind: thickness/2/tan(A/2) (recomputed).
#[test]
fn depths_of_the_table() {
    let table = [
        ("3.175", ["1.587500", "1.332071", "1.111579"]),
        ("4.7625", ["2.381250", "1.998106", "1.667369"]),
        ("6.35", ["3.175000", "2.664141", "2.223159"]),
        ("7.9375", ["3.968750", "3.330177", "2.778949"]),
        ("9.525", ["4.762500", "3.996212", "3.334738"]),
    ];
    for (thickness, depths) in table {
        for (depth, angle) in depths.into_iter().zip([90.0, 100.0, 110.0]) {
            let found = angle_from_widths(&sizes(&[("0", "0"), (depth, thickness)]), None);
            near(&found.unwrap().angle, angle, 3e-5);
        }
    }
}

#[test]
fn a_one_sided_reading_tells_a_side() {
    use crate::uncertainty::Bound;
    let open = |text: &str| exact(text).with_bound(Some(Bound::AtLeast));
    let sine = angle_from_sine(&open("50"), &exact("100")).unwrap();
    assert_eq!(sine.angle.bound, Some(Bound::AtLeast));
    let bar = angle_from_sine(&exact("50"), &open("100")).unwrap();
    assert_eq!(bar.angle.bound, Some(Bound::AtMost));
    let mut pins = sizes(&[("3", "9"), ("6", "18")]);
    pins[1].reading = open("18");
    assert_eq!(
        angle_from_pins(&pins, None).unwrap().angle.bound,
        Some(Bound::AtLeast)
    );
    let mut rollers = sizes(&[("6", "20"), ("12", "28")]);
    rollers[1].reading = open("28");
    // The higher the large roller, the narrower the vee.
    let found = angle_from_rollers(&rollers, None).unwrap();
    assert_eq!(found.angle.bound, Some(Bound::AtMost));
}

#[test]
fn more_sizes_tell_their_scatter() {
    let pins = |middle: &str| {
        let read = |(at, (size, text)): (usize, (&str, &str))| SizeReading {
            size: exact(size),
            reading: read(text, u32::try_from(at).unwrap(), 0.002),
        };
        let pairs = [("3", "9"), ("4", middle), ("5", "15")];
        let pins: Vec<SizeReading> = pairs.into_iter().enumerate().map(read).collect();
        angle_from_pins(&pins, Some(77)).unwrap()
    };
    let (straight, off) = (pins("12"), pins("12.1"));
    assert!(straight.notices.is_empty());
    assert_eq!(off.notices.len(), 1);
    assert!(off.angle.combined().u > 10.0 * straight.angle.combined().u);
    assert!((off.angle.combined().nu - 1.0).abs() < 0.1);
}

/// The derivative of an angle by each reading, against a difference.
fn derivatives_hold(
    pairs: [[f64; 2]; 2],
    angle: fn(&[SizeReading], Option<u32>) -> Result<GaugedAngle, GeometryProblem>,
) {
    let step = 1e-6;
    let of = |pairs: [[f64; 2]; 2]| -> Vec<SizeReading> {
        let read = |source: u32, value: f64| {
            let part = Part::new(PartKind::Resolution, source, 0, 1.0, SOURCE);
            Uncertain::new(Number::real(value, 0.0), [part])
        };
        (0_u32..2)
            .zip(pairs)
            .map(|(at, [size, reading])| SizeReading {
                size: read(2 * at, size),
                reading: read(2 * at + 1, reading),
            })
            .collect()
    };
    let found = angle(&of(pairs), None).unwrap().angle;
    for at in 0..4_usize {
        let mut moved = [pairs, pairs];
        moved[0][at / 2][at % 2] += step;
        moved[1][at / 2][at % 2] -= step;
        let [up, down] = moved.map(|pairs| angle(&of(pairs), None).unwrap().angle.value.to_f64());
        let source = u32::try_from(at).unwrap();
        let parts = found.parts.to_vec();
        let own = parts.iter().find(|part| part.source == source).unwrap().u;
        let slope = (up - down) / (2.0 * step);
        assert!(
            (own - slope).abs() < 1e-5 * (1.0 + slope.abs()),
            "{own} for {slope}"
        );
    }
}

proptest! {
    /// Whatever edge there is, each method finds its angle, and derivatives are those of the function.
    #[test]
    fn every_angle_comes_back(angle in 20.0..150.0_f64, small in 1.0..4.0_f64, more in 1.0..4.0_f64, blunt in 0.0..0.5_f64) {
        let large = small + more;
        let half = angle.to_radians() / 2.0;
        let phi = std::f64::consts::FRAC_PI_2 - half;
        let over = |d: f64| d * (1.0 + (phi / 2.0).tan().recip()) + blunt;
        let above = |d: f64| d / 2.0 + d / 2.0 / half.sin() + blunt;
        let wide = |d: f64| 2.0 * d * half.tan() + blunt;
        type Way = fn(&[SizeReading], Option<u32>) -> Result<GaugedAngle, GeometryProblem>;
        let cases: [([[f64; 2]; 2], Way); 3] = [
            ([[small, over(small)], [large, over(large)]], angle_from_pins),
            ([[small, above(small)], [large, above(large)]], angle_from_rollers),
            ([[small, wide(small)], [large, wide(large)]], angle_from_widths),
        ];
        for (pairs, function) in cases {
            let read: Vec<SizeReading> = pairs.iter().map(|[size, reading]| SizeReading {
                size: Uncertain::certain(Number::real(*size, 0.0)),
                reading: Uncertain::certain(Number::real(*reading, 0.0)),
            }).collect();
            let found = function(&read, None).unwrap();
            prop_assert!((found.angle.value.to_f64() - angle).abs() < 1e-9);
            derivatives_hold(pairs, function);
        }
    }
}
