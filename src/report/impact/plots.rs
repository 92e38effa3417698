//! The plots of a fleet: margins at a limit, what moves by rule, what moves by year of build.

use crate::fleet::impact::{LimitImpact, Moves, RuleImpact, Stand};
use crate::quantity::show;

use super::super::html::Html;
use super::super::layout::wrap;
use super::super::reckon::ticks;
use super::Fleet;
use super::bins::{Bar, Frame, bars, difference, frame, old_margin};
use super::limit::{amount, row, sides, spread};
use super::said;
use super::svg::{WIDTH, bar, kept_inside, length, line, picture, whole_ticks, words};
use super::told::year;

/// Left and right of the field of bars.
const FIELD: (f64, f64) = (34.0, WIDTH - 12.0);
/// Top and bottom of the field of bars; above it three lines of words, under it the axis.
const FIELD_HIGH: (f64, f64) = (70.0, 200.0);

/// How much wider words in heavy letters are.
const HEAVY: f64 = 1.15;

/// How a margin stands on the axis of a limit: `limit + sign * margin`.
struct Axis {
    limit: f64,
    sign: f64,
    from: f64,
    to: f64,
}

impl Axis {
    fn new(limit: &LimitImpact, low: f64, high: f64) -> Axis {
        let (at, sign) = match &limit.new {
            Some(new) => {
                let number = limit.unit.from_base(new).to_f64();
                (number, if limit.kind.is_lower() { 1.0 } else { -1.0 })
            }
            None => (0.0, 1.0),
        };
        let ends = (at + sign * low, at + sign * high);
        Axis {
            limit: at,
            sign,
            from: ends.0.min(ends.1),
            to: ends.0.max(ends.1),
        }
    }

    /// The value at a margin.
    fn value(&self, margin: f64) -> f64 {
        self.limit + self.sign * margin
    }

    /// Where a value stands in the picture.
    fn x(&self, value: f64) -> f64 {
        let (left, right) = FIELD;
        left + (value - self.from) / (self.to - self.from) * (right - left)
    }

    /// Where a margin stands.
    fn at(&self, margin: f64) -> f64 {
        self.x(self.value(margin))
    }
}

/// How high a count is in the field.
#[expect(
    clippy::cast_precision_loss,
    reason = "counts are far below 2 to the 53rd"
)]
fn high(count: u64, most: u64) -> f64 {
    let (top, bottom) = FIELD_HIGH;
    match most {
        0 => 0.0,
        most => count as f64 / most as f64 * (bottom - top),
    }
}

/// What a plot of margins is called.
pub(super) fn margins_title(rule: &RuleImpact, limit: &LimitImpact) -> String {
    let what = match &limit.new {
        Some(_) => "values",
        None => "distances inside the limit",
    };
    match row(limit) {
        Some(row) => format!("{}, {row}: {what}", said::title(rule)),
        None => format!("{}: {what}", said::title(rule)),
    }
}

/// Margins at a limit, with the old and the new limit and the band of U around the new one. Draws nothing where there is no
/// value.
pub(super) fn margins(
    html: &mut Html,
    id: &str,
    fleet: &Fleet<'_>,
    rule: &RuleImpact,
    limit: &LimitImpact,
) {
    let Some(frame) = frame(limit, &rule.limits) else {
        return;
    };
    let found = bars(limit, &frame);
    let axis = Axis::new(
        limit,
        super::bins::place(frame.first, &frame),
        super::bins::place(frame.end, &frame),
    );
    let outside = found.beyond.0 + found.beyond.1;
    let height = if outside > 0 { 272.0 } else { 256.0 };
    let about = format!(
        "{} The numbers stand in the table below.",
        said::limit(fleet, limit)
    );
    let title = margins_title(rule, limit);
    picture(html, id, height, (&title, &about), |html| {
        scale(html, &axis, &frame, limit);
        let (top, bottom) = FIELD_HIGH;
        if let Some(u) = limit.typical_u.map(|u| difference(u, limit.unit)) {
            let (one, other) = (axis.at(-u), axis.at(u));
            let wide = (one - other).abs();
            bar(html, "band", [one.min(other), top, wide, bottom - top]);
        }
        for one in &found.bars {
            column(html, &axis, &frame, one);
        }
        line(html, "axis", [FIELD.0, bottom, FIELD.1, bottom]);
        lines(html, fleet, &axis, limit);
        under(html, &axis, limit, found.beyond);
    });
}

fn column(html: &mut Html, axis: &Axis, frame: &Frame, one: &Bar) {
    if one.count == 0 {
        return;
    }
    let (left, right) = {
        let ends = (axis.at(one.from), axis.at(one.to));
        (ends.0.min(ends.1), ends.0.max(ends.1))
    };
    let high = high(one.count, frame.most);
    // A bar ends where its limit does: half a bin is never beyond it.
    let class = if one.to <= frame.width / 2.0 {
        "bar out"
    } else {
        "bar in"
    };
    let gap = 0.75;
    let place = [
        left + gap,
        FIELD_HIGH.1 - high,
        (right - left - 2.0 * gap).max(0.5),
        high,
    ];
    bar(html, class, place);
}

/// Counts to the left, values along the bottom.
fn scale(html: &mut Html, axis: &Axis, frame: &Frame, limit: &LimitImpact) {
    let (left, right) = FIELD;
    let (_, bottom) = FIELD_HIGH;
    for whole in whole_ticks(frame.most) {
        let y = bottom - high(whole, frame.most);
        line(html, "grid", [left, y, right, y]);
        words(
            html,
            "tick",
            "end",
            [left - 5.0, y + 4.0],
            &whole.to_string(),
        );
    }
    words(html, "tick", "start", [2.0, FIELD_HIGH.0 - 8.0], "items");
    let values = ticks(axis.from, axis.to);
    let decimals = decimals(&values);
    let mut free = 0.0;
    for value in values {
        let x = axis.x(value);
        let text = format!("{value:.decimals$}");
        line(html, "axis", [x, bottom, x, bottom + 4.0]);
        let half = length(&text) / 2.0;
        // A tick whose number would run into the one before, or out of the picture, stays bare.
        if x - half >= free && x + half <= WIDTH {
            words(html, "tick", "middle", [x, bottom + 17.0], &text);
            free = x + half + 6.0;
        }
    }
    let unit = limit.unit.symbol();
    let what = match &limit.new {
        Some(_) => "value",
        None => "inside the limit",
    };
    let text = match unit {
        "" => what.to_owned(),
        unit => format!("{what}, {unit}"),
    };
    words(html, "tick", "end", [right, bottom + 34.0], &text);
}

/// Decimals that tell neighbouring ticks apart.
pub(in crate::report) fn decimals(values: &[f64]) -> usize {
    let step = match values {
        [one, other, ..] => (other - one).abs(),
        _ => 1.0,
    };
    (0..9)
        .find(|decimals| {
            let power = 10.0_f64.powi(*decimals);
            let whole = (step * power).round();
            whole > 0.0 && (step * power - whole).abs() < 1e-6
        })
        .and_then(|decimals| usize::try_from(decimals).ok())
        .unwrap_or(3)
}

/// The limits as lines, and U, each with its value in a line of words of its own.
fn lines(html: &mut Html, fleet: &Fleet<'_>, axis: &Axis, limit: &LimitImpact) {
    let bottom = FIELD_HIGH.1;
    let at = axis.at(0.0);
    let bound = limit.kind.words();
    let old = old_margin(limit).filter(|margin| *margin != 0.0);
    line(html, "limit", [at, 20.0, at, bottom]);
    if let Some(old) = old {
        let x = axis.at(old);
        line(html, "limit old", [x, 37.0, x, bottom]);
    }
    let new = match (&limit.new, &limit.old) {
        (Some(new), Some(was)) if new == was => {
            format!("{bound} {}, as before", amount(new, limit))
        }
        (Some(new), _) => format!("{bound} {} under {}", amount(new, limit), fleet.new),
        (None, _) => format!("limit under {}", fleet.new),
    };
    label(html, "strong", at, 15.0, &new);
    if let (Some(margin), Some(was)) = (old, &limit.old) {
        let text = format!(
            "{bound} {} under {}",
            super::limit::was(was, limit),
            fleet.old
        );
        label(html, "plain", axis.at(margin), 32.0, &text);
    }
    if let Some(u) = limit.typical_u.and_then(|u| spread(u, limit.unit)) {
        let text = format!("band: U {u} to both sides");
        label(html, "plain", at, 49.0, &text);
    }
}

/// Words over a place, on paper of their own: the lines of other words run behind them.
fn label(html: &mut Html, class: &str, over: f64, y: f64, text: &str) {
    // Heavy letters are wider.
    let wide = length(text) * if class == "strong" { HEAVY } else { 1.0 };
    let x = kept_inside(over, wide);
    bar(html, "paper", [x - wide / 2.0, y - 12.0, wide, 16.0]);
    words(html, class, "middle", [x, y], text);
}

/// Under the axis: how many to each side, and what is not drawn.
fn under(html: &mut Html, axis: &Axis, limit: &LimitImpact, beyond: (u64, u64)) {
    let (out, inside) = sides(limit);
    let bottom = FIELD_HIGH.1;
    let texts = [
        (
            format!("{out} beyond the limit"),
            format!("{} further out", beyond.0),
        ),
        (
            format!("{inside} on it or inside"),
            format!("{} further in", beyond.1),
        ),
    ];
    let numbers = [beyond.0, beyond.1];
    for (at, ((text, further), number)) in texts.iter().zip(numbers).enumerate() {
        // What is beyond stands to the left of a lower limit, and to the right of an upper one.
        let to_the_left = (at == 0) == (axis.sign > 0.0);
        let (x, anchor) = if to_the_left {
            (2.0, "start")
        } else {
            (FIELD.1, "end")
        };
        words(
            html,
            if at == 0 { "strong" } else { "plain" },
            anchor,
            [x, bottom + 51.0],
            text,
        );
        if number > 0 {
            words(html, "tick", anchor, [x, bottom + 67.0], further);
        }
    }
}

/// The numbers of a plot of margins: from, to, how many.
pub(super) fn margins_numbers(rule: &RuleImpact, limit: &LimitImpact) -> Vec<(String, String)> {
    let Some(frame) = frame(limit, &rule.limits) else {
        return Vec::new();
    };
    let found = bars(limit, &frame);
    let axis = Axis::new(limit, 0.0, 1.0);
    let step = frame.width;
    let decimals = decimals(&[0.0, step]).max(limit.decimals.map_or(0, usize::from));
    let mut rows = Vec::new();
    if found.beyond.0 > 0 {
        rows.push(("further out".to_owned(), found.beyond.0.to_string()));
    }
    for one in found.bars.iter().filter(|bar| bar.count > 0) {
        let (from, to) = (axis.value(one.from), axis.value(one.to));
        let text = format!("{:.decimals$} to {:.decimals$}", from.min(to), from.max(to));
        rows.push((show::with_unit(&text, limit.unit), one.count.to_string()));
    }
    if found.beyond.1 > 0 {
        rows.push(("further in".to_owned(), found.beyond.1.to_string()));
    }
    rows
}

/// A kind of flip: its class in the drawing, its words, how many of a rule.
type Flip = (&'static str, &'static str, fn(&RuleImpact) -> u64);

/// The class of bars for what is open.
const OPEN: &str = "bar open";

const FLIPS: [Flip; 4] = [
    ("bar out", "newly illegal", |rule| {
        rule.moves.newly_illegal()
    }),
    ("bar in", "newly legal", |rule| rule.moves.newly_legal()),
    (OPEN, "newly open", |rule| newly_open(&rule.moves)),
    ("bar never", "never measured", |rule| rule.never_measured),
];

fn newly_open(moves: &Moves) -> u64 {
    moves.count(Stand::Conforms, Stand::NotDecided)
}

/// Letters on a line of a picture.
const LINE: usize = 50;

/// A bar is at least as wide as that: one item among thousands is seen.
const THINNEST: f64 = 3.0;

/// The bars of a rule: what becomes illegal, were it none, and of the others those that there are.
fn flips_of(rule: &RuleImpact) -> Vec<Flip> {
    let shown = |(at, (.., of)): &(usize, &Flip)| *at == 0 || of(rule) > 0;
    let all = FLIPS.iter().enumerate().filter(shown);
    all.map(|(_, flip)| *flip).collect()
}

/// What moves by each rule, in bars of one scale.
pub(super) fn flips(html: &mut Html, id: &str, fleet: &Fleet<'_>) {
    let rules = &fleet.impact.rules;
    let counts = rules
        .iter()
        .flat_map(|rule| FLIPS.iter().map(|(.., of)| of(rule)));
    let most = counts.max().unwrap_or(0);
    let titles: Vec<Vec<String>> = rules
        .iter()
        .map(|rule| wrap(&said::title(rule), LINE))
        .collect();
    #[expect(clippy::cast_precision_loss, reason = "a few lines")]
    let lines: f64 = titles.iter().map(|title| title.len() as f64).sum();
    let bars = rules.iter().map(|rule| flips_of(rule).len()).sum::<usize>();
    #[expect(clippy::cast_precision_loss, reason = "a few rules")]
    let height = lines * 16.0 + bars as f64 * 17.0 + rules.len() as f64 * 12.0;
    let title = "Items that move, by rule";
    let about = "For each rule a bar for items newly illegal, and where there are any for those newly legal, newly open and never measured. The numbers stand in the table below.";
    picture(html, id, height, (title, about), |html| {
        let mut y = 0.0;
        for (rule, title) in rules.iter().zip(&titles) {
            for text in title {
                y += 16.0;
                words(html, "strong", "start", [0.0, y - 3.0], text);
            }
            for (class, name, of) in flips_of(rule) {
                let count = of(rule);
                let wide = long(count, most, 210.0).max(THINNEST);
                if count > 0 {
                    bar(html, class, [0.75, y + 2.0, wide, 12.0]);
                }
                // Stripes, so that what is open is told from what is illegal on any paper.
                if count > 0 && class == OPEN {
                    line(html, "stripes", [2.0, y + 8.0, wide - 0.5, y + 8.0]);
                }
                let x = if count > 0 { wide + 7.0 } else { 0.0 };
                words(
                    html,
                    "plain",
                    "start",
                    [x, y + 12.5],
                    &format!("{count} {name}"),
                );
                y += 17.0;
            }
            y += 12.0;
        }
    });
}

#[expect(
    clippy::cast_precision_loss,
    reason = "counts are far below 2 to the 53rd"
)]
fn long(count: u64, most: u64, room: f64) -> f64 {
    match most {
        0 => 0.0,
        most => count as f64 / most as f64 * room,
    }
}

/// What moves by year of build: of all items of a year those newly illegal.
pub(super) fn years(html: &mut Html, id: &str, fleet: &Fleet<'_>) {
    let years = &fleet.impact.years;
    let most = years
        .iter()
        .map(|(_, moves)| moves.total())
        .max()
        .unwrap_or(0);
    #[expect(clippy::cast_precision_loss, reason = "a few years")]
    let height = years.len() as f64 * 19.0 + 4.0;
    let left = 78.0;
    let room = 140.0;
    let title = "Items newly illegal, by year of build";
    let about = "For each year a bar for all items, and in it one for those newly illegal. The numbers stand in the table below.";
    picture(html, id, height, (title, about), |html| {
        let mut y = 2.0;
        for (at, moves) in years {
            words(html, "tick", "end", [left - 7.0, y + 12.0], &year(*at));
            let total = moves.total();
            let illegal = moves.newly_illegal();
            bar(
                html,
                "bar in",
                [left, y + 2.0, long(total, most, room), 12.0],
            );
            if illegal > 0 {
                bar(
                    html,
                    "bar out",
                    [left, y + 2.0, long(illegal, most, room), 12.0],
                );
            }
            let mut text = format!("{illegal} of {total}");
            if moves.newly_legal() > 0 {
                text.push_str(&format!(", {} legal", moves.newly_legal()));
            }
            let x = left + long(total, most, room) + 7.0;
            words(html, "plain", "start", [x, y + 12.5], &text);
            y += 19.0;
        }
    });
}
