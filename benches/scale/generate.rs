//! Boats by number: the same number gives the same bytes, on every machine and whatever was made before. Most readings
//! conform, some lie near a limit, some beyond it, some are missing.

use std::fmt::Write as _;

#[path = "../random/mod.rs"]
mod random;

use random::Random;

/// Constructions with the thickness of their steel in hundredths.
const CONSTRUCTIONS: [(&str, i64); 4] = [
    ("plate", 680),
    ("insert", 540),
    ("tee", 480),
    ("angle", 480),
];

/// Measures with one reading: name, middle and width in steps, steps in a unit, unit.
const SINGLE: [(&str, i64, i64, i64, &str); 14] = [
    ("toe_at", 380, 15, 1, "mm"),
    ("heel_at", -370, 15, 1, "mm"),
    ("exposed_depth", 8200, 420, 100, "mm"),
    ("body_thickness", 2550, 200, 100, "mm"),
    ("pivot_height", 9000, 190, 100, "mm"),
    ("pivot_hole", 1019, 9, 100, "mm"),
    ("mass", 300, 36, 100, "kg"),
    ("stem_height", 3200, 260, 100, "mm"),
    ("stem_width", 700, 68, 100, "mm"),
    ("foot_width", 2100, 110, 100, "mm"),
    ("hardness", 108, 8, 2, "HRC"),
    ("edge_angle", 180, 7, 2, "deg"),
    ("chock_width", 1230, 40, 100, "mm"),
    ("chock_height", 2430, 40, 100, "mm"),
];

/// Appends boat `number` as one line of JSON.
pub fn boat(number: u64, text: &mut String) {
    let mut random = Random(number.wrapping_mul(0x5851_f42d_4c95_7f2d) ^ 0x6768_796c);
    let day = 10 + random.below(19);
    let _ = write!(
        text,
        r#"{{"format":"rimegauge-record/1","class":"ghyll-9","boat":{{"sail_number":"G9 {number}"}},"measured":{{"day":"2026-11-{day}","by":"AB"}},"runners":["#
    );
    for runner in 0..9 {
        if runner > 0 {
            text.push(',');
        }
        one(&mut random, runner, text);
    }
    text.push_str("]}\n");
}

fn one(random: &mut Random, runner: i64, text: &mut String) {
    let (construction, thick) = CONSTRUCTIONS[random.below(4) as usize];
    let (position, letter) = if runner % 3 == 0 {
        ("steering", 'F')
    } else {
        ("side", 'S')
    };
    let _ = write!(
        text,
        r#"{{"id":"{letter}{runner}","position":"{position}","construction":"{construction}","steel_thickness":{{"places":["#
    );
    let middle = random.around(thick, 42);
    places(random, middle, 4, text);
    text.push('}');
    for (name, middle, width, steps, unit) in SINGLE {
        if random.once_in(400) {
            continue;
        }
        let _ = write!(text, r#","{name}":""#);
        number(text, random.around(middle, width), steps);
        let _ = write!(text, r#" {unit}""#);
    }
    for name in ["nose_rounded", "label_engraved", "tag_fixed"] {
        let answer = if random.once_in(500) { "no" } else { "yes" };
        let _ = write!(text, r#","{name}":"{answer}""#);
    }
    text.push_str(r#","paint":{"places":["#);
    places(random, 14, 2, text);
    text.push_str("}}");
}

/// Places with a reading in hundredths of a millimetre each, and the end of their list.
fn places(random: &mut Random, middle: i64, count: i64, text: &mut String) {
    for place in 0..count {
        if place > 0 {
            text.push(',');
        }
        let at = -300 + 200 * place;
        let _ = write!(text, r#"{{"at":"{at} mm","readings":""#);
        number(text, random.around(middle, 3).max(1), 100);
        text.push_str(r#" mm"}"#);
    }
    text.push(']');
}

/// A number of steps of which so many make a unit.
fn number(text: &mut String, steps: i64, of: i64) {
    if steps < 0 {
        text.push('-');
    }
    let steps = steps.abs();
    let _ = match of {
        1 => write!(text, "{steps}"),
        2 => write!(text, "{}.{}", steps / 2, 5 * (steps % 2)),
        _ => write!(text, "{}.{:02}", steps / of, steps % of),
    };
}
