//! The same count written by hand for this one question, with `serde_json` and integers of thousandths: what is the same
//! under both versions is asked once.

use std::fs::File;
use std::io::Read;
use std::path::Path;

use rayon::prelude::*;
use serde::Deserialize;

use super::Counts;

#[derive(Deserialize)]
struct Boat<'a> {
    #[serde(borrow)]
    runners: Vec<Runner<'a>>,
}

#[derive(Clone, Copy, PartialEq, Deserialize)]
#[serde(rename_all = "lowercase")]
enum Position {
    Steering,
    Side,
}

#[derive(Clone, Copy, PartialEq, Deserialize)]
#[serde(rename_all = "lowercase")]
enum Construction {
    Plate,
    Insert,
    Tee,
    Angle,
}

#[derive(Clone, Copy, PartialEq, Deserialize)]
#[serde(rename_all = "lowercase")]
enum Answer {
    Yes,
    No,
}

#[derive(Deserialize)]
struct Placed<'a> {
    #[serde(borrow)]
    places: Vec<Place<'a>>,
}

#[derive(Deserialize)]
struct Place<'a> {
    readings: &'a str,
}

#[derive(Deserialize)]
struct Runner<'a> {
    position: Position,
    construction: Construction,
    #[serde(borrow)]
    steel_thickness: Option<Placed<'a>>,
    toe_at: Option<&'a str>,
    heel_at: Option<&'a str>,
    exposed_depth: Option<&'a str>,
    body_thickness: Option<&'a str>,
    pivot_height: Option<&'a str>,
    pivot_hole: Option<&'a str>,
    mass: Option<&'a str>,
    stem_height: Option<&'a str>,
    stem_width: Option<&'a str>,
    foot_width: Option<&'a str>,
    hardness: Option<&'a str>,
    edge_angle: Option<&'a str>,
    nose_rounded: Option<Answer>,
    label_engraved: Option<Answer>,
}

/// Does not conform, not decided, conforms.
type Stand = u8;
const FAILS: Stand = 0;
const OPEN: Stand = 1;
const GOOD: Stand = 2;

/// Thousandths of a text such as `4.76 mm`.
fn thousandths(text: &str) -> Option<i64> {
    let number = text.split(' ').next()?;
    let (negative, digits) = match number.strip_prefix('-') {
        Some(digits) => (true, digits),
        None => (false, number),
    };
    let (mut value, mut decimals, mut point) = (0_i64, 0, false);
    for byte in digits.bytes() {
        match byte {
            b'0'..=b'9' => {
                value = value * 10 + i64::from(byte - b'0');
                decimals += i32::from(point);
            }
            b'.' => point = true,
            _ => return None,
        }
    }
    for _ in decimals..3 {
        value *= 10;
    }
    Some(if negative { -value } else { value })
}

/// A margin against U, both as they are.
fn by_u(margin: i64, u: i64) -> Stand {
    if margin > u {
        GOOD
    } else if margin < -u {
        FAILS
    } else {
        OPEN
    }
}

/// A margin against the root of a sum of squares.
fn by_squares(margin: i64, squares: i64) -> Stand {
    match (margin * margin > squares, margin > 0) {
        (true, true) => GOOD,
        (true, false) => FAILS,
        (false, _) => OPEN,
    }
}

fn within(value: Option<i64>, low: i64, high: i64, u: i64) -> Stand {
    value.map_or(OPEN, |value| {
        by_u(value - low, u).min(by_u(high - value, u))
    })
}

fn at_least(value: Option<i64>, low: i64, u: i64) -> Stand {
    value.map_or(OPEN, |value| by_u(value - low, u))
}

fn at_most(value: Option<i64>, high: i64, u: i64) -> Stand {
    value.map_or(OPEN, |value| by_u(high - value, u))
}

fn yes(answer: Option<Answer>) -> Stand {
    match answer {
        Some(Answer::Yes) => GOOD,
        Some(Answer::No) => FAILS,
        None => OPEN,
    }
}

/// Where a runner stands by all that is the same, and by the changed rules under either version.
fn stands(runner: &Runner<'_>) -> Option<(Stand, [[Stand; 4]; 2])> {
    let read = |text: Option<&str>| match text {
        None => Some(None),
        Some(text) => thousandths(text).map(Some),
    };
    let (toe, heel) = (read(runner.toe_at)?, read(runner.heel_at)?);
    let exposed = read(runner.exposed_depth)?;
    let body = read(runner.body_thickness)?;
    let height = read(runner.pivot_height)?;
    let hole = read(runner.pivot_hole)?;
    let mass = read(runner.mass)?;
    let stem = read(runner.stem_height)?;
    let stem_width = read(runner.stem_width)?;
    let foot = read(runner.foot_width)?;
    let hardness = read(runner.hardness)?;
    let angle = read(runner.edge_angle)?;
    let mut thin: Option<i64> = None;
    let mut thick: Option<i64> = None;
    let mut enough = false;
    if let Some(placed) = &runner.steel_thickness {
        enough = placed.places.len() >= 4;
        for place in &placed.places {
            let value = thousandths(place.readings)?;
            thin = Some(thin.map_or(value, |thin| thin.min(value)));
            thick = Some(thick.map_or(value, |thick| thick.max(value)));
        }
    }
    let of_places = |stand: Stand| match stand {
        GOOD if !enough => OPEN,
        other => other,
    };
    let (thinnest, lightest, heaviest) = match runner.construction {
        Construction::Plate => ([6000, 6000], 2000, 5000),
        Construction::Insert => ([4700, 4800], 1800, 4500),
        Construction::Tee | Construction::Angle => ([4000, 4000], 1600, 4500),
    };
    let steering = runner.position == Position::Steering;
    let (low, high) = if steering {
        (80_000, 95_000)
    } else {
        (85_000, 100_000)
    };
    let both = |a: Option<i64>, b: Option<i64>| Some((a?, b?));
    let length = both(toe, heel).map_or(OPEN, |(toe, heel)| {
        let squares = 2 * 750 * 750;
        let length = toe - heel;
        by_squares(length - 600_000, squares).min(by_squares(900_000 - length, squares))
    });
    let total = both(height, body).map_or(OPEN, |(height, body)| {
        by_squares(124_000 - height - body, 255 * 255 + 105 * 105)
    });
    let shown = both(exposed, stem).map_or(OPEN, |(exposed, stem)| {
        by_squares(exposed - stem - 36_000, 255 * 255 + 105 * 105)
    });
    let same = [
        of_places(at_most(thick, 9000, 55)),
        length,
        at_most(toe, 420_000, 750),
        at_least(heel, -410_000, 750),
        within(exposed, 70_000, 95_000, 255),
        within(body, 20_000, 32_000, 105),
        within(height, low, high, 255),
        within(mass, lightest, heaviest, 15),
        within(stem, 25_000, 40_000, 105),
        at_least(foot, 18_000, 55),
        if runner.construction == Construction::Angle {
            GOOD
        } else {
            within(angle, 80_000, 100_000, 750)
        },
        total,
        if steering {
            at_least(mass, 2200, 15)
        } else {
            GOOD
        },
        shown,
        yes(runner.nose_rounded),
        yes(runner.label_engraved),
    ];
    let changed = [0, 1].map(|version| {
        [
            of_places(at_least(thin, thinnest[version], 55)),
            within(hole, 10_000, [10_400, 10_250][version], 55),
            at_most(stem_width, [8000, 8500][version], 55),
            within(hardness, [44_000, 47_000][version], 62_000, 1250),
        ]
    });
    let same = same.into_iter().min()?;
    Some((same, changed))
}

fn count(counts: &mut Counts, line: &[u8]) {
    let boat: Boat<'_> = serde_json::from_slice(line).unwrap();
    let mut of_boat = [GOOD; 2];
    for runner in &boat.runners {
        let (same, changed) = stands(runner).unwrap();
        let of_runner = [0, 1].map(|version| {
            let worst = changed[version].into_iter().min().unwrap();
            worst.min(same)
        });
        counts.runners[usize::from(of_runner[0])][usize::from(of_runner[1])] += 1;
        let pairs = changed[0].into_iter().zip(changed[1]);
        for (ways, (old, new)) in counts.rules.iter_mut().zip(pairs) {
            ways[usize::from(old)][usize::from(new)] += 1;
        }
        of_boat = [of_boat[0].min(of_runner[0]), of_boat[1].min(of_runner[1])];
    }
    counts.boats[usize::from(of_boat[0])][usize::from(of_boat[1])] += 1;
}

fn add(mut all: Counts, more: Counts) -> Counts {
    let add = |all: &mut [[u64; 3]; 3], more: &[[u64; 3]; 3]| {
        for (all, more) in all.iter_mut().flatten().zip(more.iter().flatten()) {
            *all += more;
        }
    };
    add(&mut all.boats, &more.boats);
    add(&mut all.runners, &more.runners);
    for (all, more) in all.rules.iter_mut().zip(&more.rules) {
        add(all, more);
    }
    all
}

/// Bytes that are held at a time.
const PIECE: usize = 4 << 20;

/// Counts the boats of a file on all threads, a piece of it at a time.
pub fn check(path: &Path) -> Counts {
    let mut file = File::open(path).unwrap();
    let mut buffer = vec![0; PIECE];
    let (mut kept, mut all) = (0, Counts::default());
    loop {
        let read = file.read(&mut buffer[kept..]).unwrap();
        if read == 0 {
            return all;
        }
        let filled = kept + read;
        let Some(end) = buffer[..filled].iter().rposition(|byte| *byte == b'\n') else {
            kept = filled;
            continue;
        };
        let lines: Vec<&[u8]> = buffer[..end].split(|byte| *byte == b'\n').collect();
        let counts = lines
            .par_chunks(64)
            .map(|lines| {
                let mut counts = Counts::default();
                for line in lines {
                    count(&mut counts, line);
                }
                counts
            })
            .reduce(Counts::default, add);
        all = add(all, counts);
        buffer.copy_within(end + 1..filled, 0);
        kept = filled - end - 1;
    }
}
