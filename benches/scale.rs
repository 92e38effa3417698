//! What a change of rules costs to count over a fleet of JSON Lines: the way of `compare --fleet`, against DuckDB and against
//! Rust written by hand for this one question, all with the same counts, on the same file, with two threads each.
//!
//! `cargo bench --bench scale -- --boats 1000000` takes a million boats (50,000 unless told), `--rounds 3` fewer turns,
//! `--without-sql` leaves DuckDB out, `--ordinary` all but records with instruments. The fleet is made once and kept under `target/`.

#![allow(
    missing_docs,
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::print_stdout,
    clippy::print_stderr
)]

#[path = "../src/host.rs"]
mod host;
#[path = "scale/mod.rs"]
mod scale;
#[allow(dead_code, reason = "another bench uses the rest")]
mod table;

use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode};
use std::sync::Arc;
use std::time::{Duration, Instant};

use rimegauge::app::{FleetAsked, impact};
use rimegauge::fleet::impact::{Impact, Moves, Stand};
use rimegauge::rules::{RulesFile, Stage};

use scale::by_sql::Sql;
use scale::{CHANGED, Counts, by_hand, generate, ordinary, peak_of, versions};
use table::{Row, Turns, shown, table};

/// Threads of everybody.
const THREADS: usize = 2;

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let has = |word: &str| arguments.iter().any(|argument| argument == word);
    let after = |word: &str| {
        let at = arguments.iter().position(|argument| argument == word)?;
        arguments.get(at + 1).cloned()
    };
    let number = |word: &str, usual: u64| after(word).map_or(usual, |text| text.parse().unwrap());
    rayon::ThreadPoolBuilder::new()
        .num_threads(THREADS)
        .build_global()
        .unwrap();
    // A process of its own, so that its peak is its own.
    if let Some(path) = after("--peak-of-two") {
        count(&versions(), Path::new(&path));
        println!("{}", peak_of("self"));
        return ExitCode::SUCCESS;
    }
    if let Some(path) = after("--peak-by-hand") {
        by_hand::check(Path::new(&path));
        println!("{}", peak_of("self"));
        return ExitCode::SUCCESS;
    }
    let boats = number("--boats", 50_000);
    let rounds = usize::try_from(number("--rounds", 5)).unwrap();
    if has("--ours") {
        alone(&fleet(boats), rounds, has("--one"));
        return ExitCode::SUCCESS;
    }
    let rows = if has("--ordinary") {
        vec![ordinary_row(boats.div_ceil(100), rounds)]
    } else {
        rows(boats, rounds, !has("--without-sql"))
    };
    println!("{}", table(&rows));
    ExitCode::from(u8::from(!rows.iter().all(Row::holds)))
}

/// The file of so many boats, made where it is not there yet.
fn fleet(boats: u64) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR"));
    let path = folder.join(format!("ghyll-9-{boats}.jsonl"));
    if path.exists() {
        return path;
    }
    let begun = path.with_extension("begun");
    let mut file = BufWriter::new(std::fs::File::create(&begun).unwrap());
    let mut text = String::new();
    for number in 0..boats {
        text.clear();
        generate::boat(number, &mut text);
        file.write_all(text.as_bytes()).unwrap();
    }
    file.into_inner().unwrap().sync_all().unwrap();
    std::fs::rename(&begun, &path).unwrap();
    path
}

/// What the change does to a fleet, the way of `compare --fleet`.
fn count(versions: &[Arc<RulesFile>; 2], path: &Path) -> Impact {
    count_at(Stage::SelfCheck, versions, path)
}

fn count_at(purpose: Stage, [old, new]: &[Arc<RulesFile>; 2], path: &Path) -> Impact {
    let asked = FleetAsked {
        paths: vec![path.to_path_buf()],
        on: None,
        level: None,
        purpose,
        neutral: Vec::new(),
    };
    let (impact, troubles) = impact(&host::RealHost, (old, new), &asked, &|_| {}).unwrap();
    assert_eq!(
        troubles.count,
        0,
        "{}",
        rimegauge::diagnostic::narrate(&troubles.told)
    );
    impact
}

fn counts(impact: &Impact) -> Counts {
    let ways = |moves: &Moves| Stand::ALL.map(|old| Stand::ALL.map(|new| moves.count(old, new)));
    let runners = impact.parts.iter().find(|(name, _)| name == "runner");
    let of_rule = |id: &str| {
        let found = impact.rules.iter().find(|rule| rule.rule == id);
        ways(&found.unwrap().moves)
    };
    Counts {
        boats: ways(&impact.boats),
        runners: ways(&runners.unwrap().1),
        rules: CHANGED.map(of_rule),
    }
}

/// Ours alone, for a profiler: two versions, or the first one with itself.
fn alone(path: &Path, rounds: usize, one: bool) {
    let [old, new] = versions();
    let pair = if one {
        [Arc::clone(&old), old]
    } else {
        [old, new]
    };
    for _ in 0..rounds {
        let began = Instant::now();
        std::hint::black_box(count(&pair, path));
        println!("{}", shown(began.elapsed()));
    }
}

fn peak(argument: &str, path: &Path) -> f64 {
    let mut child = Command::new(std::env::current_exe().unwrap());
    let output = child.arg(argument).arg(path).output().unwrap();
    let text = String::from_utf8(output.stdout).unwrap();
    text.trim().parse::<f64>().unwrap() / 1e3
}

/// Records with instruments, days and repeats, which are read whole: what the second version costs.
fn ordinary_row(boats: u64, rounds: usize) -> Row {
    let both = ordinary::versions();
    let first_alone = [Arc::clone(&both[0]), Arc::clone(&both[0])];
    let path = ordinary::fleet(&both[0], boats);
    let of = |versions: &[Arc<RulesFile>; 2]| {
        drop(count_at(Stage::Certification, versions, &path));
    };
    of(&both);
    let mut turns = Turns::none();
    for round in 0..rounds {
        turns.add(round, || of(&both), || of(&first_alone));
    }
    let bytes = std::fs::metadata(&path).unwrap().len();
    let rate = |time: Duration| {
        let (each, megabytes) = (boats as f64 / time.as_secs_f64(), bytes as f64 / 1e6);
        let megabytes = megabytes / time.as_secs_f64();
        format!("{}, {each:.0} boats/s, {megabytes:.0} MB/s", shown(time))
    };
    Row {
        name: "records with instruments, two versions against one",
        ours: rate(turns.ours()),
        theirs: rate(turns.theirs()),
        ratio: turns.speed().recip(),
        floor: 1.5,
        aim: Some(1.3),
        small: true,
    }
}

fn rows(boats: u64, rounds: usize, with_sql: bool) -> Vec<Row> {
    let both = versions();
    let first_alone = [Arc::clone(&both[0]), Arc::clone(&both[0])];
    let path = fleet(boats);
    let bytes = std::fs::metadata(&path).unwrap().len();
    let mut sql = with_sql.then(|| Sql::start(THREADS)).flatten();
    // Everybody finds the file in memory.
    let expected = by_hand::check(&path);
    assert_eq!(counts(&count(&both, &path)), expected, "the counts differ");
    if let Some(sql) = &mut sql {
        assert_eq!(sql.check(&path).0, expected, "the counts of SQL differ");
    }
    let (mut against, mut second) = (Turns::none(), Turns::none());
    let mut by_sql: Vec<(Duration, Duration)> = Vec::new();
    for round in 0..rounds {
        against.add(
            round,
            || drop(count(&both, &path)),
            || assert_eq!(by_hand::check(&path), expected),
        );
        second.add(
            round,
            || drop(count(&both, &path)),
            || drop(count(&first_alone, &path)),
        );
        if let Some(sql) = &mut sql {
            let began = Instant::now();
            drop(count(&both, &path));
            by_sql.push((began.elapsed(), sql.check(&path).1));
        }
    }
    println!(
        "{boats} boats of nine runners, {:.1} kB each; boats {:?}",
        bytes as f64 / boats as f64 / 1e3,
        expected.boats
    );
    for (rule, ways) in CHANGED.iter().zip(expected.rules) {
        println!("  {rule:<16} {ways:?}");
    }
    let rate = |time: Duration| {
        let each = boats as f64 / time.as_secs_f64();
        format!("{}, {:.0} boats/s", shown(time), each)
    };
    let mut rows = vec![
        Row {
            name: "two versions, against hand-written Rust",
            ours: rate(against.ours()),
            theirs: rate(against.theirs()),
            ratio: against.speed(),
            floor: 0.5,
            aim: Some(1.0),
            small: false,
        },
        Row {
            name: "two versions, against one",
            ours: rate(second.ours()),
            theirs: rate(second.theirs()),
            ratio: second.speed().recip(),
            floor: 1.3,
            aim: None,
            small: true,
        },
    ];
    rows.push(ordinary_row(boats.div_ceil(100), rounds));
    if by_sql.is_empty() {
        println!("DuckDB is not there: that row is left out");
    } else {
        by_sql.sort();
        let ours = by_sql[by_sql.len() / 2].0;
        let mut ratios: Vec<f64> = by_sql
            .iter()
            .map(|(ours, theirs)| theirs.as_secs_f64() / ours.as_secs_f64())
            .collect();
        ratios.sort_by(f64::total_cmp);
        let mut theirs: Vec<Duration> = by_sql.iter().map(|(_, theirs)| *theirs).collect();
        theirs.sort();
        rows.push(Row {
            name: "two versions, against DuckDB",
            ours: rate(ours),
            theirs: rate(theirs[theirs.len() / 2]),
            ratio: ratios[ratios.len() / 2],
            floor: 1.0,
            aim: Some(2.5),
            small: false,
        });
    }
    let ours = peak("--peak-of-two", &path);
    let tenth = peak("--peak-of-two", &fleet(boats / 10));
    rows.push(Row {
        name: "peak memory, against a tenth of the boats",
        ours: format!("{ours:.1} MB"),
        theirs: format!("{tenth:.1} MB"),
        ratio: ours / tenth,
        floor: 4.0,
        aim: Some(1.5),
        small: true,
    });
    println!(
        "peak memory by hand {:.1} MB{}",
        peak("--peak-by-hand", &path),
        sql.map_or(String::new(), |sql| format!(
            ", DuckDB {:.1} MB",
            sql.peak() as f64 / 1e3
        ))
    );
    rows
}
