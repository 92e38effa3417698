//! How far reading a fleet has come, on one line of a terminal: a bar, the rate and the time left. Nothing in a pipe.

use std::cell::Cell;
use std::time::Duration;

use crate::app::{Host, Reading};
use crate::report::Format;

use super::console::Console;

/// The line is written anew after so long: often enough to be seen moving, and too seldom to cost anything.
const EVERY: Duration = Duration::from_millis(100);

/// Before so long nothing is said of rate and time left: they would jump.
const SETTLED: Duration = Duration::from_millis(800);

/// Signs of the bar.
const BAR: u64 = 20;

/// Takes the line away.
const AWAY: &str = "\r\u{1b}[K";

/// Watches a fleet being read.
pub(super) struct Progress<'h> {
    host: &'h dyn Host,
    watched: bool,
    width: usize,
    told: Cell<bool>,
    last: Cell<Option<Duration>>,
    began: Cell<(u8, Duration)>,
}

impl<'h> Progress<'h> {
    /// Watches where somebody looks at a terminal.
    pub(super) fn of(host: &'h dyn Host, console: &Console<'_>) -> Progress<'h> {
        let watched = host.terminal().error && matches!(console.format, Format::Human);
        Progress {
            host,
            watched,
            width: console.width,
            told: Cell::new(false),
            last: Cell::new(None),
            began: Cell::new((0, host.running())),
        }
    }

    /// What to write beside the report, if it is time to.
    pub(super) fn heard(&self, reading: &Reading) -> Option<String> {
        if !self.watched {
            return None;
        }
        let now = self.host.running();
        if self.began.get().0 != reading.pass {
            // The pass began about when the one before was last heard of.
            let before = self.last.get().unwrap_or(self.began.get().1);
            self.began.set((reading.pass, before));
        }
        let soon = self
            .last
            .get()
            .is_some_and(|last| now.saturating_sub(last) < EVERY);
        if soon || reading.bytes == 0 {
            return None;
        }
        self.last.set(Some(now));
        self.told.set(true);
        let taken = now.saturating_sub(self.began.get().1);
        Some(format!("{AWAY}{}", line(reading, taken, self.width)))
    }

    /// What takes the line away again, if there is one.
    pub(super) fn end(&self) -> Option<&'static str> {
        self.told.get().then_some(AWAY)
    }
}

/// The line, once a pass over the files has taken so long.
fn line(reading: &Reading, taken: Duration, width: usize) -> String {
    let mut parts = Vec::new();
    let share = reading
        .of
        .filter(|of| *of > 0)
        .map(|of| (reading.bytes.min(of), of));
    match share {
        Some((bytes, of)) => parts.push(format!("{} %", bytes.saturating_mul(100) / of)),
        None => parts.push(format!("{} MB", reading.bytes / 1_000_000)),
    }
    parts.push(format!("{} records", reading.records));
    if taken >= SETTLED {
        let milliseconds = taken.as_millis().max(1);
        let rate = u128::from(reading.records) * 1000 / milliseconds;
        parts.push(format!("{} a second", rounded(rate)));
        if let Some((bytes, of)) = share {
            let left = milliseconds * u128::from(of - bytes) / u128::from(bytes.max(1));
            parts.push(format!("{} left", time(left.div_ceil(1000))));
        }
    }
    let again = match reading.pass {
        0 | 1 => String::new(),
        pass => format!("reading {pass}: "),
    };
    let text = format!("{again}{}", parts.join(", "));
    let bar = share.map(|(bytes, of)| {
        let full = BAR.saturating_mul(bytes) / of;
        let sign = |at: u64| if at < full { '#' } else { '.' };
        format!("[{}] ", (0..BAR).map(sign).collect::<String>())
    });
    let bar = bar.unwrap_or_default();
    // On a narrow terminal the line would go on below, and could not be taken away.
    let whole = if bar.len() + text.len() < width {
        bar + &text
    } else {
        text
    };
    whole.chars().take(width.saturating_sub(1)).collect()
}

/// Three digits, and zeros behind them.
fn rounded(number: u128) -> u128 {
    let mut step = 1;
    while number / step >= 1000 {
        step *= 10;
    }
    number / step * step
}

/// A time in seconds, in words.
fn time(seconds: u128) -> String {
    match seconds {
        0..60 => format!("{seconds} s"),
        60..3600 => format!("{} min {} s", seconds / 60, seconds % 60),
        _ => format!("{} h {} min", seconds / 3600, seconds / 60 % 60),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(bytes: u64, of: Option<u64>, records: u64) -> Reading {
        Reading {
            pass: 1,
            bytes,
            of,
            records,
        }
    }

    #[test]
    fn the_line_tells_share_rate_and_time_left() {
        let reading = at(2_500_000_000, Some(10_000_000_000), 250_123);
        let taken = Duration::from_millis(5_321);
        assert_eq!(
            line(&reading, taken, 80),
            "[#####...............] 25 %, 250123 records, 47000 a second, 16 s left"
        );
        let slow = Duration::from_secs(4_000);
        assert_eq!(
            line(&reading, slow, 80),
            "[#####...............] 25 %, 250123 records, 62 a second, 3 h 20 min left"
        );
        let again = Reading { pass: 3, ..reading };
        assert_eq!(
            line(&again, Duration::from_secs(30), 100),
            "[#####...............] reading 3: 25 %, 250123 records, 8330 a second, 1 min 30 s left"
        );
    }

    #[test]
    fn at_first_and_of_no_known_size_less_is_told() {
        let early = Duration::from_millis(300);
        assert_eq!(
            line(&at(100, Some(1000), 7), early, 80),
            "[##..................] 10 %, 7 records"
        );
        let unknown = at(12_345_678, None, 1000);
        assert_eq!(
            line(&unknown, Duration::from_secs(2), 80),
            "12 MB, 1000 records, 500 a second"
        );
    }

    #[test]
    fn the_line_keeps_within_a_narrow_terminal() {
        let reading = at(1, Some(3), 1);
        for width in 0..60 {
            let found = line(&reading, Duration::from_secs(9), width);
            assert!(found.chars().count() < width.max(1), "{width}: {found}");
        }
        let grown = at(12, Some(10), 5);
        let found = line(&grown, Duration::from_secs(1), 80);
        assert_eq!(
            found,
            "[####################] 100 %, 5 records, 5 a second, 0 s left"
        );
    }
}
