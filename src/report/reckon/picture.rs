//! A curve of readings along an item, magnified: what is drawn in a terminal and as SVG.

use super::super::layout::{width_of, wrap};

/// A line across the picture: the straight edge, the asked gap, a side of a zone.
#[derive(Clone, Debug)]
pub struct Rule {
    /// From here.
    pub from: [f64; 2],
    /// To here.
    pub to: [f64; 2],
    /// What it is, and its value.
    pub words: String,
}

/// A point to look at.
#[derive(Clone, Debug)]
pub struct Mark {
    /// Where.
    pub at: [f64; 2],
    /// What it is.
    pub words: String,
}

/// Readings over places, in the units they are told in.
#[derive(Clone, Debug)]
pub struct Picture {
    /// What it shows.
    pub title: String,
    /// What runs along: `distance from the pivot, mm`.
    pub along: String,
    /// What rises: `gap, mm`.
    pub up: String,
    /// The readings in order along the item.
    pub points: Vec<[f64; 2]>,
    /// Whether neighbours are joined.
    pub joined: bool,
    /// Lines across.
    pub rules: Vec<Rule>,
    /// Points to look at.
    pub marks: Vec<Mark>,
    /// How many millimetres one unit along is for one unit up, to tell the magnification.
    pub unit_ratio: f64,
    /// Whether both axes have one scale, as of an outline.
    pub true_shape: bool,
}

/// The least and the greatest of some numbers; nothing when there are none, or one is no number.
fn extent(values: impl Iterator<Item = f64>) -> Option<(f64, f64)> {
    let found = values.fold(None, |found: Option<(f64, f64)>, value| {
        Some(found.map_or((value, value), |(low, high)| {
            (low.min(value), high.max(value))
        }))
    });
    found.filter(|(low, high)| low.is_finite() && high.is_finite())
}

impl Picture {
    fn all(&self, axis: usize) -> impl Iterator<Item = f64> {
        let points = self.points.iter();
        let rules = self.rules.iter().flat_map(|rule| [&rule.from, &rule.to]);
        let marks = self.marks.iter().map(|mark| &mark.at);
        points
            .chain(rules)
            .chain(marks)
            .filter_map(move |at| at.get(axis).copied())
    }

    /// Left, right, bottom and top of what is drawn; an axis without extent is widened.
    pub(super) fn frame(&self) -> Option<[f64; 4]> {
        let widen = |(low, high): (f64, f64)| {
            if high > low {
                (low, high)
            } else {
                let by = if low == 0.0 { 1.0 } else { low.abs() };
                (low - by, high + by)
            }
        };
        let (left, right) = widen(extent(self.all(0))?);
        let (bottom, top) = widen(extent(self.all(1))?);
        Some([left, right, bottom, top])
    }

    /// The curve with at most some four points for each of `columns`, the extremes of each kept.
    pub(super) fn thinned(&self, columns: usize) -> Vec<[f64; 2]> {
        let Some([left, right, ..]) = self.frame() else {
            return Vec::new();
        };
        if self.points.len() <= 4 * columns || self.true_shape {
            return self.points.clone();
        }
        let column = |x: f64| step((x - left) / (right - left), columns);
        let mut found: Vec<[f64; 2]> = Vec::with_capacity(4 * columns);
        for group in self.points.chunk_by(|a, b| column(a[0]) == column(b[0])) {
            let by_height = |a: &&[f64; 2], b: &&[f64; 2]| a[1].total_cmp(&b[1]);
            let low = group.iter().min_by(by_height);
            let high = group.iter().max_by(by_height);
            let mut kept: Vec<[f64; 2]> = [group.first(), low, high, group.last()]
                .into_iter()
                .flatten()
                .copied()
                .collect();
            kept.sort_by(|a, b| a[0].total_cmp(&b[0]));
            kept.dedup();
            found.append(&mut kept);
        }
        found
    }

    /// The picture in a terminal of so many columns.
    pub(super) fn drawn(&self, width: usize) -> Vec<String> {
        let Some([left, right, bottom, top]) = self.frame() else {
            return Vec::new();
        };
        let labels = [short(top), short(bottom)];
        let margin = labels.iter().map(|one| width_of(one)).max().unwrap_or(0) + 1;
        let mut columns = width.min(WIDEST).saturating_sub(margin + 1).max(16);
        let mut rows = 9;
        if self.true_shape {
            rows = 16;
            // A letter is about twice as high as it is wide.
            let wide = (right - left) / (top - bottom) * 2.0 * size(rows);
            columns = step(wide / size(columns), columns + 1).max(2);
        }
        let mut grid = vec![vec![' '; columns]; rows];
        let mut put = |at: [f64; 2], letter: char| {
            let column = step((at[0] - left) / (right - left), columns);
            let row = step((top - at[1]) / (top - bottom), rows);
            if let Some(place) = grid.get_mut(row).and_then(|line| line.get_mut(column)) {
                *place = letter;
            }
        };
        for rule in &self.rules {
            for at in 0..columns {
                // Every other column, so that a line across is told from a curve.
                if at % 2 == 0 {
                    put(between(rule.from, rule.to, part(at, columns)), '-');
                }
            }
        }
        let points = self.thinned(columns);
        if self.joined {
            for pair in points.windows(2) {
                if let [a, b] = pair {
                    for at in 0..columns {
                        put(between(*a, *b, part(at, columns)), '.');
                    }
                }
            }
        }
        for point in &points {
            put(*point, 'o');
        }
        for (number, mark) in self.marks.iter().enumerate() {
            put(mark.at, letter(number));
        }
        let heading = self.heading([left, right, bottom, top], columns, rows);
        let mut lines = wrap(&heading, width);
        for (row, line) in grid.into_iter().enumerate() {
            let label = match row {
                0 => labels.first(),
                row if row + 1 == rows => labels.last(),
                _ => None,
            };
            let label = label.map_or("", String::as_str);
            let line: String = line.into_iter().collect();
            lines.push(format!("{label:>margin$}|{line}"));
        }
        let (from, to) = (short(left), short(right));
        let room = columns
            .saturating_sub(width_of(&from))
            .max(width_of(&to) + 1);
        lines.push(format!("{:margin$} {from}{to:>room$}", ""));
        lines.push(format!("{:margin$} {}", "", self.along));
        for rule in self.rules.iter().filter(|rule| !rule.words.is_empty()) {
            lines.push(format!("{:margin$} -  {}", "", rule.words));
        }
        for (number, mark) in self.marks.iter().enumerate() {
            lines.push(format!("{:margin$} {}  {}", "", letter(number), mark.words));
        }
        lines
    }

    /// The title, what rises, and how much it is magnified against what runs along.
    fn heading(&self, frame: [f64; 4], columns: usize, rows: usize) -> String {
        let [left, right, bottom, top] = frame;
        // A letter is about twice as high as it is wide.
        let along = (right - left) / size(columns);
        let up = (top - bottom) / (2.0 * size(rows));
        let times = along * self.unit_ratio / up;
        if self.true_shape || !times.is_finite() || times < 2.0 {
            format!("{} · {}", self.title, self.up)
        } else {
            format!(
                "{} · {}, about {} times magnified",
                self.title,
                self.up,
                two_digits(times)
            )
        }
    }
}

/// Columns beyond which a picture grows no wider.
const WIDEST: usize = 100;

/// The letter of a mark.
fn letter(number: usize) -> char {
    u32::try_from(number)
        .ok()
        .and_then(|number| char::from_u32('A' as u32 + number.min(25)))
        .unwrap_or('X')
}

#[expect(clippy::cast_precision_loss, reason = "columns and rows are few")]
fn size(count: usize) -> f64 {
    count.max(1) as f64
}

/// The share of the way of one of `count` steps, from 0 to 1.
fn part(at: usize, count: usize) -> f64 {
    if at == 0 {
        return 0.0;
    }
    size(at) / size(count.saturating_sub(1))
}

/// The step of `count` at a share of the way, from 0.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "held between 0 and a small count"
)]
pub(super) fn step(share: f64, count: usize) -> usize {
    let last = count.saturating_sub(1);
    let at = (share * size(last)).round();
    if at > 0.0 { (at as usize).min(last) } else { 0 }
}

fn between(a: [f64; 2], b: [f64; 2], share: f64) -> [f64; 2] {
    let at = |axis: usize| {
        let (from, to) = (a.get(axis).copied(), b.get(axis).copied());
        let (from, to) = (from.unwrap_or(0.0), to.unwrap_or(0.0));
        from + (to - from) * share
    };
    [at(0), at(1)]
}

/// A number in at most four significant digits, for an axis.
pub(super) fn short(number: f64) -> String {
    if number == 0.0 {
        return "0".to_owned();
    }
    let size = number.abs();
    let decimals = if size >= 1000.0 {
        0
    } else if size >= 100.0 {
        1
    } else if size >= 1.0 {
        2
    } else if size >= 0.01 {
        4
    } else {
        6
    };
    super::rounded(number, decimals)
}

/// A magnification, to two digits: `450`.
fn two_digits(times: f64) -> String {
    let step = 10.0_f64.powf(times.log10().floor() - 1.0).max(1.0);
    super::rounded((times / step).round() * step, 0)
}
