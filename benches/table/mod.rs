//! Pairs measured side by side, and the table in which they are printed.

use std::fmt::Write as _;
use std::time::{Duration, Instant};

/// One ratio: this program's speed over the other's, so that more is better, unless the row says otherwise.
pub struct Row {
    /// What is compared.
    pub name: &'static str,
    /// What this program took, in words.
    pub ours: String,
    /// What the other one took, in words.
    pub theirs: String,
    /// The ratio.
    pub ratio: f64,
    /// What must hold.
    pub floor: f64,
    /// What is aimed at; `None` where the floor is all.
    pub aim: Option<f64>,
    /// Whether a smaller ratio is better.
    pub small: bool,
}

impl Row {
    fn within(&self, limit: f64) -> bool {
        if self.small {
            self.ratio <= limit
        } else {
            self.ratio >= limit
        }
    }

    /// Whether the floor holds.
    pub fn holds(&self) -> bool {
        self.within(self.floor)
    }

    fn word(&self) -> &'static str {
        match (self.holds(), self.aim.map(|aim| self.within(aim))) {
            (false, _) => "floor missed",
            (true, Some(true)) => "aim met",
            (true, Some(false)) => "floor met",
            (true, None) => "met",
        }
    }
}

/// The rows as a table of plain text.
pub fn table(rows: &[Row]) -> String {
    let limit =
        |row: &Row, limit: f64| format!("{}{limit:.2}x", if row.small { "<= " } else { ">= " });
    let mut cells =
        vec![["name", "ours", "theirs", "ratio", "floor", "aim", "met?"].map(str::to_owned)];
    cells.extend(rows.iter().map(|row| {
        [
            row.name.to_owned(),
            row.ours.clone(),
            row.theirs.clone(),
            format!("{:.2}x", row.ratio),
            limit(row, row.floor),
            row.aim.map_or("-".to_owned(), |aim| limit(row, aim)),
            row.word().to_owned(),
        ]
    }));
    let mut widths = [0; 7];
    for line in &cells {
        for (width, cell) in widths.iter_mut().zip(line) {
            *width = (*width).max(cell.chars().count());
        }
    }
    let mut text = String::new();
    for line in &cells {
        let mut whole = String::new();
        for (cell, width) in line.iter().zip(widths) {
            let _ = write!(whole, "{cell:<width$}  ");
        }
        text.push_str(whole.trim_end());
        text.push('\n');
    }
    text
}

/// Two things measured in turns, so that both meet the same load of the machine.
pub struct Turns {
    ours: Vec<Duration>,
    theirs: Vec<Duration>,
}

impl Turns {
    /// Runs both `rounds` times, each first in every other round.
    pub fn of(rounds: usize, mut ours: impl FnMut(), mut theirs: impl FnMut()) -> Turns {
        let mut turns = Turns {
            ours: Vec::new(),
            theirs: Vec::new(),
        };
        for round in 0..rounds {
            turns.add(round, &mut ours, &mut theirs);
        }
        turns
    }

    /// No round yet.
    pub fn none() -> Turns {
        Turns {
            ours: Vec::new(),
            theirs: Vec::new(),
        }
    }

    /// One round.
    pub fn add(&mut self, round: usize, mut ours: impl FnMut(), mut theirs: impl FnMut()) {
        if round.is_multiple_of(2) {
            self.ours.push(timed(&mut ours));
            self.theirs.push(timed(&mut theirs));
        } else {
            self.theirs.push(timed(&mut theirs));
            self.ours.push(timed(&mut ours));
        }
    }

    /// The median time of this program.
    pub fn ours(&self) -> Duration {
        median(self.ours.clone())
    }

    /// The median time of the other one.
    pub fn theirs(&self) -> Duration {
        median(self.theirs.clone())
    }

    /// The median of the ratios theirs over ours, round by round: how many times as fast this program is.
    pub fn speed(&self) -> f64 {
        let ratios = self.ours.iter().zip(&self.theirs);
        let mut ratios: Vec<f64> = ratios
            .map(|(ours, theirs)| theirs.as_secs_f64() / ours.as_secs_f64())
            .collect();
        ratios.sort_by(f64::total_cmp);
        ratios[ratios.len() / 2]
    }
}

fn timed(work: &mut impl FnMut()) -> Duration {
    let start = Instant::now();
    work();
    start.elapsed()
}

fn median(mut times: Vec<Duration>) -> Duration {
    times.sort();
    times[times.len() / 2]
}

/// A time in three digits.
pub fn shown(time: Duration) -> String {
    let seconds = time.as_secs_f64();
    if seconds >= 1.0 {
        format!("{seconds:.2} s")
    } else if seconds >= 1e-3 {
        format!("{:.2} ms", seconds * 1e3)
    } else if seconds >= 1e-6 {
        format!("{:.2} us", seconds * 1e6)
    } else {
        format!("{:.1} ns", seconds * 1e9)
    }
}
