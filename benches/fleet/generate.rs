//! Boats by number: the same number gives the same bytes, on every machine and whatever was made before.
//!
//! Most readings conform; some lie near a limit, some beyond it, some are missing, implausible, too few, or
//! taken with an instrument that was out of date or did not show its reference afterwards.

use std::fmt::Write as _;

#[path = "../random/mod.rs"]
mod random;

use random::Random;

/// A number of hundredths as text with two decimals.
fn hundredths(text: &mut String, n: i64) {
    fixed(text, n, 100, 2);
}

fn fixed(text: &mut String, n: i64, scale: i64, decimals: usize) {
    if n < 0 {
        text.push('-');
    }
    let n = n.abs();
    let _ = write!(text, "{}.{:0decimals$}", n / scale, n % scale);
}

const CONSTRUCTIONS: [(&str, i64); 4] = [
    ("plate", 660),
    ("insert", 510),
    ("tee", 440),
    ("angle", 440),
];

/// Appends boat `number` as one line of JSON.
pub fn boat(number: u64, text: &mut String) {
    let mut random = Random(number.wrapping_mul(0x5851_f42d_4c95_7f2d) ^ 0x6d65_7265);
    let day = 10 + random.below(19);
    let _ = write!(
        text,
        r#"{{"format":"rimegauge-record/1","class":"mere-6","boat":{{"sail_number":"M6 {number}"}},"measured":{{"day":"2026-11-{day}","by":"AB"}},"instruments":{{"#
    );
    instruments(&mut random, day, text);
    text.push_str(r#"},"runners":["#);
    for runner in 0..9 {
        if runner > 0 {
            text.push(',');
        }
        one(&mut random, day, runner, text);
    }
    text.push_str("]}\n");
}

fn instruments(random: &mut Random, day: i64, text: &mut String) {
    let worn = random.once_in(4);
    let micrometer = if worn { "0.030" } else { "0.004" };
    let due = if random.once_in(60) {
        "2026-03-12"
    } else {
        "2027-03-12"
    };
    let after = if random.once_in(50) { "5.03" } else { "5.00" };
    let _ = write!(
        text,
        concat!(
            r#""mic_1":{{"kind":"micrometer","resolution":"0.01 mm","max_permissible_error":"{} mm","repeatability":"0.003 mm","#,
            r#""calibration":{{"day":"2026-03-12","due":"{}","correction":"0.001 mm","expanded_uncertainty":"0.002 mm","k":2}},"#,
            r#""checks":[{{"taken":"2026-11-{day} 08:40","reference":"5.000 mm","reading":"5.00 mm","accept_within":"0.01 mm"}},"#,
            r#"{{"taken":"2026-11-{day} 17:20","reference":"5.000 mm","reading":"{} mm","accept_within":"0.01 mm"}}]}},"#,
            r#""bar_1":{{"kind":"bar_calliper","resolution":"0.5 mm","max_permissible_error":"0.3 mm"}},"#,
            r#""depth_1":{{"kind":"depth_calliper","resolution":"0.05 mm","max_permissible_error":"{} mm"}},"#,
            r#""rock_1":{{"kind":"bench_rockwell","resolution":"0.5 HRC","max_permissible_error":"1.0 HRC","#,
            r#""calibration":{{"due":"2027-01-31","correction":"-0.2 HRC","expanded_uncertainty":"0.8 HRC","k":2}}}},"#,
            r#""pro_1":{{"kind":"protractor","resolution":"0.5 deg","max_permissible_error":"0.3 deg"}},"#,
            r#""cal_1":{{"kind":"calliper","resolution":"0.01 mm","max_permissible_error":"0.03 mm","repeatability":"0.01 mm"}},"#,
            r#""gauge_1":{{"kind":"height_gauge","resolution":"0.02 mm","max_permissible_error":"0.03 mm"}},"#,
            r#""scale_1":{{"kind":"bench_scale","resolution":"0.005 kg","max_permissible_error":"0.01 kg"}}"#,
        ),
        micrometer,
        due,
        after,
        if worn { "0.20" } else { "0.05" },
        day = day,
    );
}

fn one(random: &mut Random, day: i64, runner: i64, text: &mut String) {
    let (construction, thick) = CONSTRUCTIONS[random.below(4) as usize];
    let position = if runner % 3 == 0 { "steering" } else { "side" };
    let letter = if runner % 3 == 0 { 'F' } else { 'S' };
    let _ = write!(
        text,
        r#"{{"id":"{letter}{runner}","position":"{position}","construction":"{construction}","built":{{"date":"20{:02}-{:02}","proof":"invoice {runner}""#,
        8 + random.below(16),
        1 + random.below(12),
    );
    text.push_str(if random.once_in(10) {
        "}"
    } else {
        r#","seen_by":"AB"}"#
    });
    let toe = random.around(380, 28);
    let heel = -random.around(370, 28);
    let _ = write!(
        text,
        r#","toe_at":{{"with":"bar_1","readings":"{toe} mm"}},"heel_at":{{"with":"bar_1","readings":"{heel} mm"}}"#
    );
    thickness(random, day, thick, toe, heel, text);
    let depth = random.around(8100, 250);
    text.push_str(r#","exposed_depth":{"with":"depth_1","places":["#);
    for (at, more) in [(-140, true), (150, false)] {
        let here = random.around(depth, 60);
        let again = here + 5 * random.below(4);
        let _ = write!(text, r#"{{"at":"{at} mm","readings":""#);
        hundredths(text, here);
        text.push(' ');
        hundredths(text, again);
        text.push_str(r#" mm"}"#);
        if more {
            text.push(',');
        }
    }
    text.push_str("]}");
    if !random.once_in(40) {
        let hard = random.around(545, 35);
        text.push_str(r#","hardness":{"with":"rock_1","places":["#);
        for (at, more) in [(-100, true), (100, false)] {
            let _ = write!(text, r#"{{"at":"{at} mm","readings":""#);
            for _ in 0..3 {
                fixed(text, 5 * random.around(hard / 5, 1), 10, 1);
                text.push(' ');
            }
            text.push_str(r#"HRC"}"#);
            if more {
                text.push(',');
            }
        }
        text.push_str("]}");
    }
    text.push_str(r#","edge_section":{"with":"pro_1","places":["#);
    for (at, more) in [(-50, true), (50, false)] {
        let port = 5 * random.around(90, 2);
        let starboard = 5 * random.around(90, 2);
        let _ = write!(text, r#"{{"at":"{at} mm","bevels":{{"port":""#);
        fixed(text, port, 10, 1);
        text.push_str(r#" deg","starboard":""#);
        fixed(text, starboard, 10, 1);
        text.push_str(r#" deg"}}"#);
        if more {
            text.push(',');
        }
    }
    text.push_str("]}");
    let body = random.around(2500, 150);
    let height = random.around(9000, 180);
    for (name, instrument, middle, unit) in [
        ("body_thickness", "cal_1", body, "mm"),
        ("pivot_height", "gauge_1", height, "mm"),
        ("pivot_hole", "cal_1", random.around(1020, 5), "mm"),
        ("mass", "scale_1", random.around(270, 35), "kg"),
    ] {
        if random.once_in(80) {
            continue;
        }
        let _ = write!(text, r#","{name}":{{"with":"{instrument}","readings":""#);
        let repeats = if name == "pivot_height" { 3 } else { 1 };
        for _ in 0..repeats {
            hundredths(text, middle + random.below(3));
            text.push(' ');
        }
        let _ = write!(text, r#"{unit}"}}"#);
    }
    for name in ["nose_rounded", "label_engraved"] {
        let answer = if random.once_in(100) { "no" } else { "yes" };
        let _ = write!(text, r#","{name}":"{answer}""#);
    }
    text.push('}');
}

fn thickness(random: &mut Random, day: i64, thick: i64, toe: i64, heel: i64, text: &mut String) {
    let middle = random.around(thick, 22);
    let places = if random.once_in(50) { 3 } else { 4 };
    let hour = 9 + random.below(9);
    let _ = write!(
        text,
        r#","steel_thickness":{{"with":"mic_1","taken":"2026-11-{day} {hour:02}:{:02}","places":["#,
        random.below(60)
    );
    for place in 0..places {
        if place > 0 {
            text.push(',');
        }
        let at = heel + 90 + place * (toe - heel - 180) / (places - 1);
        let _ = write!(text, r#"{{"at":"{at} mm""#);
        if !random.once_in(60) {
            let from_edge = if random.once_in(60) { 5 } else { 12 };
            let _ = write!(text, r#","from_edge":"{from_edge} mm""#);
        }
        let here = random.around(middle, 2);
        let repeats = if random.once_in(100) { 2 } else { 3 };
        let wild = random.once_in(2000);
        text.push_str(r#","readings":""#);
        for _ in 0..repeats {
            let reading = random.around(here, 1);
            hundredths(text, if wild { reading * 3 } else { reading });
            text.push(' ');
        }
        text.push_str(r#"mm"}"#);
    }
    text.push_str("]}");
}

/// A small record of the demo class in YAML, of about 1.5 kB.
pub fn small_record(number: u64) -> String {
    let mut random = Random(number);
    let mut text = format!(
        "format: rimegauge-record/1\nclass: tarn-8\nboat: {{ sail_number: T8 {number}, owner: A. B. }}\n\
         measured: {{ day: 2026-11-21, by: AB }}\ninstruments:\n  mic_2:\n    kind: micrometer\n    \
         serial: M-{number}\n    resolution: 0.01 mm\n    max_permissible_error: 0.004 mm\n    \
         calibration: {{ day: 2026-03-12, due: 2027-03-12, correction: 0.001 mm, expanded_uncertainty: 0.002 mm, k: 2 }}\n\
         runners:\n"
    );
    for runner in 0..2 {
        let _ = write!(
            text,
            "  - id: S{runner}\n    position: side\n    construction: insert\n    toe_at: {} mm\n    heel_at: -{} mm\n    \
             steel_thickness:\n      with: mic_2\n      taken: 2026-11-21 10:42\n      places:\n",
            random.around(400, 10),
            random.around(390, 10),
        );
        for at in [-300, -150, 0, 150, 300] {
            let _ = write!(
                text,
                "        - {{ at: {at} mm, from_edge: 12 mm, readings:"
            );
            for _ in 0..3 {
                text.push(' ');
                hundredths(&mut text, random.around(480, 2));
            }
            text.push_str(" mm }\n");
        }
    }
    text
}
