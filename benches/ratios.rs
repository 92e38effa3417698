//! Speed as ratios: each pair is measured in turns within one run, so that the load of the machine falls on
//! both. `cargo bench` prints the table and exits with 1 when a floor is missed.
//!
//! `cargo bench -- --quick` takes a tenth of the fleet; `--start-up`, `--fleet`, `--mean` and `--zone` measure those
//! rows alone;
//! `cargo bench -- --phases` tells instead where the time of the fleet check goes.

#![allow(
    missing_docs,
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::print_stdout,
    clippy::print_stderr
)]

mod fleet;
mod table;

use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode, Stdio};
use std::sync::Arc;

use rimegauge::check::Plan;
use rimegauge::check::fleet::{Fleet, Line};
use rimegauge::check::{Outcome, RuleRef};
use rimegauge::rules::{self, Stage};
use rimegauge::text::{Source, decode_lines};
use rimegauge::uncertainty::Coverage;

use fleet::by_hand::{self, Counts};
use table::{Row, Turns, shown, table};

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let has = |word: &str| arguments.iter().any(|argument| argument == word);
    let boats = if has("--quick") { 20_000 } else { 200_000 };
    if has("--phases") {
        phases(has("--quick"));
        return ExitCode::SUCCESS;
    }
    if let Some(boats) = arguments.iter().position(|argument| argument == "--memory") {
        println!("{}", peak_memory(arguments[boats + 1].parse().unwrap()));
        return ExitCode::SUCCESS;
    }
    let rows = if has("--start-up") {
        vec![start_up()]
    } else if has("--mean") {
        std::iter::once(batch_row())
            .chain(uncertainty_rows())
            .collect()
    } else if has("--zone") {
        vec![zone_row()]
    } else if has("--fleet") {
        fleet_rows(boats)
    } else {
        let mut rows = vec![start_up()];
        rows.extend(yaml_rows());
        rows.extend(fleet_rows(boats));
        rows.push(memory_row(boats));
        rows.push(quantity_row());
        rows.push(batch_row());
        rows.extend(uncertainty_rows());
        rows.push(zone_row());
        rows
    };
    println!("{}", table(&rows));
    ExitCode::from(u8::from(!rows.iter().all(Row::holds)))
}

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).to_path_buf()
}

/// One boat from the start of the process to its verdict, against a process that does nothing.
fn start_up() -> Row {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR"));
    let empty = folder.join("empty");
    std::fs::write(folder.join("empty.rs"), "fn main() {}").unwrap();
    let compiler = std::env::var_os("RUSTC").unwrap_or_else(|| "rustc".into());
    let mut compile = Command::new(compiler);
    compile
        .args(["-O", "-C", "strip=symbols", "-o"])
        .arg(&empty)
        .arg(folder.join("empty.rs"));
    assert!(
        compile.status().unwrap().success(),
        "the empty program does not compile"
    );
    let run = |command: &mut Command| {
        let done = command
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .status()
            .unwrap();
        assert!(done.success(), "{command:?} came to {done}");
    };
    let turns = Turns::of(
        201,
        || {
            let mut check = Command::new(env!("CARGO_BIN_EXE_rimegauge"));
            run(check
                .current_dir(root())
                .args(["check", "forms/filled/conforming.yaml"]));
        },
        || run(&mut Command::new(&empty)),
    );
    Row {
        name: "start to verdict of one boat, against an empty program",
        ours: shown(turns.ours()),
        theirs: shown(turns.theirs()),
        ratio: turns.speed().recip(),
        floor: 8.0,
        aim: Some(4.0),
        small: true,
    }
}

/// YAML with the place of everything in it, against a reader that keeps no places: small records, and the
/// filled forms.
fn yaml_rows() -> Vec<Row> {
    let mut forms: Vec<PathBuf> = std::fs::read_dir(root().join("forms/filled"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    forms.sort();
    let forms: Vec<String> = forms
        .iter()
        .map(|path| std::fs::read_to_string(path).unwrap())
        .collect();
    let small: Vec<String> = (0..40).map(fleet::generate::small_record).collect();
    let mut rows = Vec::new();
    for (name, texts, times) in [
        (
            "YAML with places, records of 1.5 kB, against serde_yaml",
            &small,
            10,
        ),
        (
            "YAML with places, filled forms, against serde_yaml",
            &forms,
            1,
        ),
    ] {
        let sources: Vec<Arc<Source>> = texts
            .iter()
            .map(|text| Source::new("record", text.as_str()))
            .collect();
        let bytes: usize = texts.iter().map(String::len).sum();
        let turns = Turns::of(
            31,
            || {
                for _ in 0..times {
                    for source in &sources {
                        std::hint::black_box(rimegauge::text::parse_yaml(source).unwrap());
                    }
                }
            },
            || {
                for _ in 0..times {
                    for text in texts {
                        std::hint::black_box(
                            serde_yaml::from_str::<serde_yaml::Value>(text).unwrap(),
                        );
                    }
                }
            },
        );
        let speed = |time: std::time::Duration| {
            format!(
                "{:.1} MB/s",
                (bytes * times) as f64 / time.as_secs_f64() / 1e6
            )
        };
        rows.push(Row {
            name,
            ours: speed(turns.ours()),
            theirs: speed(turns.theirs()),
            ratio: turns.speed(),
            floor: 0.5,
            aim: Some(1.0),
            small: false,
        });
    }
    rows
}

/// The largest memory that checking a fleet took, in kilobytes, in a process of its own.
fn peak_memory(boats: u64) -> u64 {
    let plan = plan();
    let fleet = Fleet::new(&plan, Stage::Certification, None, None);
    let mut all = Counts::default();
    // A slice stands for the piece of a file that is held at a time.
    for first in (0..boats).step_by(250) {
        add(&mut all, &ours(&fleet, &slice(first, 250)));
    }
    assert_eq!(all.boats.iter().sum::<u64>(), boats);
    let status = std::fs::read_to_string("/proc/self/status").unwrap();
    let line = status
        .lines()
        .find_map(|line| line.strip_prefix("VmHWM:"))
        .unwrap();
    line.trim().trim_end_matches(" kB").parse().unwrap()
}

fn memory_row(boats: u64) -> Row {
    let peak = |boats: u64| -> f64 {
        let mut child = Command::new(std::env::current_exe().unwrap());
        let output = child
            .args(["--memory", &boats.to_string()])
            .output()
            .unwrap();
        String::from_utf8(output.stdout)
            .unwrap()
            .trim()
            .parse()
            .unwrap()
    };
    let (many, few) = (peak(boats), peak(boats / 10));
    Row {
        name: "fleet, peak memory, against a tenth of the boats",
        ours: format!("{:.1} MB", many / 1e3),
        theirs: format!("{:.1} MB", few / 1e3),
        ratio: many / few,
        floor: 1.1,
        aim: None,
        small: true,
    }
}

/// Reading a length exactly with its unit, against reading its number as floating point.
fn quantity_row() -> Row {
    let texts: Vec<String> = (0..1000)
        .map(|n| format!("{}.{:02} mm", n % 97, n % 100))
        .collect();
    let turns = Turns::of(
        101,
        || {
            for text in &texts {
                std::hint::black_box(rimegauge::quantity::Quantity::parse(text).unwrap());
            }
        },
        || {
            for text in &texts {
                let number = text.strip_suffix(" mm").unwrap();
                std::hint::black_box(number.parse::<f64>().unwrap());
            }
        },
    );
    Row {
        name: "a quantity read exactly, against its number as f64",
        ours: shown(turns.ours() / 1000),
        theirs: shown(turns.theirs() / 1000),
        ratio: turns.speed(),
        floor: 0.25,
        aim: Some(0.5),
        small: false,
    }
}

/// The mean of three readings with its full uncertainty (parts, degrees of freedom, k, U), against the mean alone:
/// of the same exact numbers, and of floating-point ones.
fn uncertainty_rows() -> [Row; 2] {
    use rimegauge::quantity::Exact;
    use rimegauge::uncertainty::{InstrumentError, Pool, Sample, SourceIds, mean_of_sample};
    let readings: Vec<[Exact; 3]> = (0..1000_i64)
        .map(|n| [476 + n % 3, 477, 475 + n % 2].map(|n| Exact::from_fraction(n, 100).unwrap()))
        .collect();
    let plain: Vec<[f64; 3]> = readings
        .iter()
        .map(|three| three.clone().map(|one| one.to_f64()))
        .collect();
    let coverage = Coverage::ninety_five();
    let instrument = InstrumentError {
        resolution: 0.01,
        max_permissible_error: 0.004,
        calibration: 0.001,
        floor: 0.02,
        ..InstrumentError::default()
    };
    let ids = SourceIds {
        mean: 1,
        pool: 2,
        instrument: 3,
        calibration: 4,
    };
    let full = || {
        for three in &readings {
            let sample = Sample::of(three).unwrap();
            let mut pool = Pool::new();
            pool.add_sample(&sample);
            let mean = mean_of_sample(&sample, &pool, &instrument, ids);
            std::hint::black_box(mean.expanded(&coverage));
        }
    };
    let three = Exact::from_integer(3);
    let exact = Turns::of(101, full, || {
        for [a, b, c] in &readings {
            std::hint::black_box(a.add(b).add(c).checked_div(&three));
        }
    });
    let floating = Turns::of(101, full, || {
        for three in &plain {
            std::hint::black_box(three.iter().sum::<f64>() / 3.0);
        }
    });
    let row = |name, turns: Turns, floor, aim| Row {
        name,
        ours: shown(turns.ours() / 1000),
        theirs: shown(turns.theirs() / 1000),
        ratio: turns.speed().recip(),
        floor,
        aim: Some(aim),
        small: true,
    };
    [
        row(
            "an exact mean with its U, against the exact mean alone",
            exact,
            20.0,
            8.0,
        ),
        row(
            "an exact mean with its U, against one of floating point",
            floating,
            200.0,
            100.0,
        ),
    ]
}

/// Series of readings as a batch check sees them: places with three readings each.
const PLACES: usize = 5;

/// The means of a series with a bound on U by the degrees of freedom of its scatter, as the check of a batch reckons
/// them for all that is clear of a limit, against the means alone.
fn batch_row() -> Row {
    use rimegauge::uncertainty::{InstrumentError, Rough, RoughErrors, RoughPool};
    let series: Vec<[[f64; 3]; PLACES]> = (0..200_u32)
        .map(|n| {
            [0, 1, 2, 3, 4].map(|place| {
                let base = 4.76 + f64::from((n + place) % 7) / 100.0;
                [base, base + 0.01, base - f64::from(n % 2) / 100.0]
            })
        })
        .collect();
    let coverage = Coverage::ninety_five();
    let errors = RoughErrors::of(&InstrumentError {
        resolution: 0.01,
        max_permissible_error: 0.004,
        calibration: 0.001,
        floor: 0.02,
        ..InstrumentError::default()
    });
    let turns = Turns::of(
        301,
        || {
            for places in &series {
                let mut pool = RoughPool::default();
                let samples = places.map(|three| pool.add(three.iter().copied()).unwrap());
                let k = pool.factor(&coverage);
                for sample in samples {
                    let mean = Rough::of_sample(&sample, &pool, &errors, k);
                    std::hint::black_box((mean.value(), mean.largest_u()));
                }
            }
        },
        || {
            for places in &series {
                for three in places {
                    std::hint::black_box(three.iter().sum::<f64>() / 3.0);
                }
            }
        },
    );
    let each = series.len() * PLACES;
    Row {
        name: "a mean with its U in a batch check, against the mean alone",
        ours: shown(turns.ours() / each as u32),
        theirs: shown(turns.theirs() / each as u32),
        ratio: turns.speed().recip(),
        floor: 20.0,
        aim: Some(8.0),
        small: true,
    }
}

/// The minimum zone of a million stations, against that of a hundred thousand: ten times the stations, and a
/// little more for n·log n.
fn zone_row() -> Row {
    use rimegauge::geometry::straightness;
    use rimegauge::quantity::Exact;
    use rimegauge::uncertainty::Uncertain;
    let line = |count: i64| {
        let stations: Vec<Exact> = (0..count).map(Exact::from_integer).collect();
        let mut state = 1_u64;
        let readings: Vec<Uncertain> = (0..count)
            .map(|at| {
                state = state
                    .wrapping_mul(6_364_136_223_846_793_005)
                    .wrapping_add(1_442_695_040_888_963_407);
                let noise = (state >> 54) as i64;
                let bow = at * (count - at) / count;
                Uncertain::exact(Exact::from_fraction(bow * 10 + noise, 1000).unwrap())
            })
            .collect();
        (stations, readings)
    };
    let (few, many) = (line(100_000), line(1_000_000));
    let zone = |(stations, readings): &(Vec<Exact>, Vec<Uncertain>)| {
        std::hint::black_box(straightness(stations, Some(readings), None).unwrap());
    };
    let turns = Turns::of(5, || zone(&many), || zone(&few));
    Row {
        name: "minimum zone of a million stations, against a tenth of them",
        ours: shown(turns.ours()),
        theirs: shown(turns.theirs()),
        ratio: turns.speed().recip(),
        floor: 16.0,
        aim: Some(12.0),
        small: true,
    }
}

/// Boats that are made, checked and forgotten together.
const SLICE: u64 = 5_000;

fn slice(first: u64, count: u64) -> Vec<u8> {
    let mut text = String::new();
    for number in first..first + count {
        fleet::generate::boat(number, &mut text);
    }
    text.into_bytes()
}

fn plan() -> Plan {
    let rules = rules::load("mere-6/1.0.0.yaml", fleet::RULES.as_bytes());
    let rules =
        rules.unwrap_or_else(|faults| panic!("{}", rimegauge::diagnostic::narrate(&faults)));
    assert_eq!(rules.rules.len(), by_hand::RULES);
    Plan::compile(Arc::new(rules))
}

fn place(outcome: Outcome) -> usize {
    match outcome {
        Outcome::DoesNotConform => 0,
        Outcome::NotDecided => 1,
        Outcome::Conforms => 2,
        Outcome::NotApplicable => 3,
    }
}

fn count(counts: &mut Counts, line: Line<'_>) {
    match line {
        Ok(line) => {
            counts.boats[place(line.outcome)] += 1;
            for one in line.findings {
                if let RuleRef::Rule(at) = one.rule {
                    counts.rules[at][place(one.outcome)] += 1;
                }
            }
        }
        Err(faults) => {
            if counts.broken == 0 {
                eprintln!("{}", rimegauge::diagnostic::narrate(&faults));
            }
            counts.broken += 1;
        }
    }
}

fn add(all: &mut Counts, more: &Counts) {
    let pairs = all.boats.iter_mut().zip(more.boats);
    pairs.for_each(|(all, more)| *all += more);
    for (all, more) in all.rules.iter_mut().zip(&more.rules) {
        all.iter_mut()
            .zip(more)
            .for_each(|(all, more)| *all += more);
    }
    all.broken += more.broken;
}

/// Whole lines in pieces of about half a megabyte, as a file is read.
fn pieces(bytes: &[u8]) -> Vec<Arc<Source>> {
    let mut found = Vec::new();
    let mut rest = bytes;
    while !rest.is_empty() {
        let most = rest.len().min(512 * 1024);
        let end = rest[..most]
            .iter()
            .rposition(|byte| *byte == b'\n')
            .map_or(rest.len(), |end| end + 1);
        found.push(decode_lines("fleet.jsonl", &rest[..end], 1).unwrap());
        rest = &rest[end..];
    }
    found
}

fn ours(fleet: &Fleet<'_>, bytes: &[u8]) -> Counts {
    let mut all = Counts::default();
    for source in pieces(bytes) {
        for counts in fleet.check(&source, Counts::default, count) {
            add(&mut all, &counts);
        }
    }
    all
}

fn fleet_rows(boats: u64) -> Vec<Row> {
    let plan = plan();
    let fleet = Fleet::new(&plan, Stage::Certification, None, None);
    let coverage = Coverage::ninety_five();
    let pool = |threads| {
        rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap()
    };
    let (one, two) = (pool(1), pool(2));
    let mut against = Turns::none();
    let mut cores = Turns::none();
    let (mut all, mut by_hand, mut by_two) =
        (Counts::default(), Counts::default(), Counts::default());
    let mut bytes = 0;
    for round in 0..boats / SLICE {
        let text = slice(round * SLICE, SLICE);
        bytes += text.len();
        let round = round as usize;
        against.add(
            round,
            || add(&mut all, &one.install(|| ours(&fleet, &text))),
            || add(&mut by_hand, &by_hand::check(&text, &coverage)),
        );
        let mut again = Counts::default();
        cores.add(
            round,
            || add(&mut by_two, &two.install(|| ours(&fleet, &text))),
            || add(&mut again, &one.install(|| ours(&fleet, &text))),
        );
    }
    assert_eq!(all, by_hand, "the outcomes differ");
    assert_eq!(all, by_two, "two threads come to other outcomes than one");
    println!(
        "{boats} boats, {:.1} kB each; boats {:?}",
        bytes as f64 / boats as f64 / 1e3,
        all.boats
    );
    for (at, rule) in all.rules.iter().enumerate() {
        println!("  {:<16} {rule:?}", plan.rules().rules[at].id.text);
    }
    let each = |time: std::time::Duration| format!("{} a boat", shown(time / SLICE as u32));
    vec![
        Row {
            name: "fleet, one core, against hand-written",
            ours: each(against.ours()),
            theirs: each(against.theirs()),
            ratio: against.speed(),
            floor: 0.5,
            aim: Some(0.9),
            small: false,
        },
        Row {
            name: "fleet, two cores against one",
            ours: each(cores.ours()),
            theirs: each(cores.theirs()),
            ratio: cores.speed(),
            floor: 1.5,
            aim: None,
            small: false,
        },
    ]
}

/// Where the time of a fleet check goes, on one core: each line through all steps, as the check does it.
fn phases(short: bool) {
    let plan = plan();
    let loader = rimegauge::record::Loader::new(&plan.rules().vocabulary);
    let boats = if short { 40 } else { 2_000 };
    let text = slice(0, boats);
    let day = rimegauge::quantity::DateSpan::parse("2026-11-21")
        .unwrap()
        .first;
    let context = rimegauge::check::Context {
        purpose: Stage::Certification,
        day,
        level: None,
    };
    let coverage = Coverage::ninety_five();
    let mut best = [std::time::Duration::MAX; 6];
    for _ in 0..if short { 1 } else { 9 } {
        let mut spent = [std::time::Duration::ZERO; 6];
        let mut lap = std::time::Instant::now();
        let mut next = |at: usize| {
            let now = std::time::Instant::now();
            spent[at] += now - lap;
            lap = now;
        };
        let sources = pieces(&text);
        next(0);
        let mut found = Vec::new();
        for source in &sources {
            for line in 0..source.line_count() {
                let range = source.line_span_of(line).range();
                if range.is_empty() {
                    continue;
                }
                next(0);
                slow_phases(source, range.clone(), &loader, &mut next);
                let read = loader.quick(source, range).unwrap();
                next(3);
                found.clear();
                std::hint::black_box(plan.outcomes(&read.record, &context, &mut found));
                next(4);
                drop(read);
                next(3);
            }
        }
        std::hint::black_box(by_hand::check(&text, &coverage));
        next(5);
        for (best, spent) in best.iter_mut().zip(spent) {
            *best = (*best).min(spent);
        }
    }
    let names = [
        "decode",
        "to a tree",
        "from a tree",
        "read quickly",
        "check",
        "all by hand",
    ];
    for (name, time) in names.into_iter().zip(best) {
        println!("{name:<12} {} a boat", shown(time / boats as u32));
    }
}

/// A line by way of the tree, as those lines go that the quick reader leaves.
#[inline(never)]
fn slow_phases(
    source: &Arc<Source>,
    range: std::ops::Range<usize>,
    loader: &rimegauge::record::Loader<'_>,
    next: &mut impl FnMut(usize),
) {
    let node = rimegauge::text::parse_json_line(source, range).unwrap();
    next(1);
    let record = loader.load(source, &node).unwrap();
    next(2);
    drop(record);
    next(2);
    drop(node);
    next(1);
}
