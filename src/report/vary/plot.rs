//! The plot of a fleet as a limit moves: a picture of its own that reads on any page, on a telephone, on paper and in the
//! dark. Bands are told apart by patterns, never by colour; nothing is written across them.

use crate::fleet::vary::{Counts, Point, Varied};
use crate::quantity::Exact;

use super::super::html::Html;
use super::super::impact::count::{plural, several};
use super::super::impact::plots::decimals;
use super::super::impact::svg::{bar, line, place, whole_ticks, words};
use super::super::layout::wrap;
use super::super::reckon::ticks;
use super::VariedReport;
use super::marks::{Mark, places};
use super::told::{amount, noun, title};

const STYLE: &str = include_str!("plot.css");

/// Patterns of bands: dots, and lines that slope.
const PATTERNS: &str = "<defs><pattern id=\"dots\" width=\"8\" height=\"8\" patternUnits=\"userSpaceOnUse\"><rect class=\"ground\" width=\"8\" height=\"8\"/><circle class=\"dot\" cx=\"4\" cy=\"4\" r=\"1.3\"/></pattern><pattern id=\"lines\" width=\"6\" height=\"6\" patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\"><rect class=\"ground\" width=\"6\" height=\"6\"/><line class=\"stroke\" x1=\"0\" y1=\"0\" x2=\"0\" y2=\"6\"/></pattern></defs>\n";

/// The width of the picture in its own units: narrow, so that a telephone shows words of a readable size.
const WIDTH: f64 = 520.0;
/// How much larger it is shown where there is room.
const SHOWN: f64 = 1.5;
/// Between the edge of the picture and anything in it.
const EDGE: f64 = 14.0;
/// The height of the field.
const HIGH: f64 = 250.0;
/// The height of a line of words.
const LINE: f64 = 19.0;
/// Letters in a line of the title.
const LETTERS: usize = 54;
/// The width of a letter, rather too wide than too narrow.
const LETTER: f64 = 7.7;
/// How much wider words in heavy letters are.
const HEAVY: f64 = 1.16;
/// Steps of the bands that are narrower than this are drawn as one.
const FINEST: f64 = 0.4;

/// What a band is called, its class, its count.
type Band = (&'static str, &'static str, fn(&Counts) -> u64);

/// The bands from the bottom up.
const BANDS: [Band; 5] = [
    ("conform", "area conforms", |counts| counts.conforms),
    ("in doubt", "area doubt", |counts| counts.in_doubt),
    ("otherwise open", "area open", |counts| counts.open),
    ("never measured", "area never", |counts| {
        counts.never_measured
    }),
    ("do not conform", "area out", |counts| {
        counts.does_not_conform
    }),
];

/// A stretch of limits over which nothing turns, in the unit of the limit.
struct Stretch {
    from: f64,
    to: f64,
    counts: Counts,
}

/// The plot as a whole SVG document.
pub fn vary_plot(report: &VariedReport<'_>) -> String {
    let varied = report.varied;
    let title = title(&varied.limit);
    let about = format!(
        "Of {} how many conform, are in doubt, were never measured or do not conform, by the limit.",
        several(varied.items, &noun(report))
    );
    let stretches = stretches(varied);
    let layout = Layout::of(report, &title, &stretches);
    let view = format!("0 0 {} {}", place(WIDTH), place(layout.height));
    let (wide, high) = (place(WIDTH * SHOWN), place(layout.height * SHOWN));
    let attributes = [
        ("xmlns", "http://www.w3.org/2000/svg"),
        ("viewBox", view.as_str()),
        ("width", wide.as_str()),
        ("height", high.as_str()),
        ("role", "img"),
        ("aria-labelledby", "title about"),
    ];
    let mut html = Html::default();
    html.within("svg", &attributes, |html| {
        html.element("title", &[("id", "title")], &title);
        html.element("desc", &[("id", "about")], &about);
        html.within("style", &[], |html| html.markup(STYLE));
        html.markup(PATTERNS);
        bar(html, "paper", [0.0, 0.0, WIDTH, layout.height]);
        for (class, y, text) in &layout.head {
            words(html, class, "start", [EDGE, *y], text);
        }
        bands(html, &layout, &stretches);
        axes(html, &layout, report);
        marks(html, &layout);
        legend(html, &layout, report, &stretches);
    });
    html.into_text()
}

fn in_unit(varied: &Varied, value: &Exact) -> f64 {
    varied.limit.unit.from_base(value).to_f64()
}

/// The stretches between turns; where those are not known, between the limits that were asked for.
fn stretches(varied: &Varied) -> Vec<Stretch> {
    let lower = varied.limit.kind.is_lower();
    let limits = || varied.points.iter().map(|point| &point.limit);
    let (Some(least), Some(most)) = (limits().min(), limits().max()) else {
        return Vec::new();
    };
    let (mild, stern) = if lower { (least, most) } else { (most, least) };
    let Some(first) = varied.point(mild) else {
        return Vec::new();
    };
    let mut steps: Vec<(f64, Counts)> = vec![(in_unit(varied, mild), first.items)];
    match &varied.turns {
        Some(turns) => {
            steps.extend(
                turns
                    .iter()
                    .map(|turn| (in_unit(varied, &turn.turn.at), turn.items_beyond)),
            );
        }
        None => {
            let mut points: Vec<(f64, Counts)> = varied
                .points
                .iter()
                .map(|point| (in_unit(varied, &point.limit), point.items))
                .collect();
            points.sort_by(|(one, _), (other, _)| one.total_cmp(other));
            if !lower {
                points.reverse();
            }
            steps.extend(points);
        }
    }
    let ends = steps.iter().skip(1).map(|(at, _)| *at);
    let ends: Vec<f64> = ends.chain([in_unit(varied, stern)]).collect();
    steps
        .iter()
        .zip(ends)
        .map(|((from, counts), to)| Stretch {
            from: from.min(to),
            to: from.max(to),
            counts: *counts,
        })
        .filter(|stretch| stretch.to > stretch.from)
        .collect()
}

/// A limit that is marked by a line.
struct Marked {
    class: &'static str,
    x: f64,
    text: String,
}

/// Where everything stands in the picture.
struct Layout {
    head: Vec<(&'static str, f64, String)>,
    /// Left, right, top and bottom of the field.
    field: [f64; 4],
    /// The outermost limits.
    ends: (f64, f64),
    most: u64,
    marked: Vec<Marked>,
    height: f64,
}

impl Layout {
    fn of(report: &VariedReport<'_>, title: &str, stretches: &[Stretch]) -> Layout {
        let varied = report.varied;
        let mut head = Vec::new();
        let mut y = EDGE + 12.0;
        let rules = format!("{} {}", report.rules.title, report.rules.version);
        for (class, text) in [("strong", title), ("tick", &rules)] {
            for text in wrap(text, LETTERS) {
                head.push((class, y, text));
                y += LINE;
            }
        }
        let ends = |pick: fn(f64, f64) -> f64, of: fn(&Stretch) -> f64| {
            stretches.iter().map(of).reduce(pick).unwrap_or(0.0)
        };
        let ends = (ends(f64::min, |one| one.from), ends(f64::max, |one| one.to));
        let counts = whole_ticks(varied.items);
        let counts = counts.iter().map(u64::to_string);
        let captions = caption(report);
        let widest = counts.chain(captions.iter().cloned());
        let widest = widest.map(|text| length(&text)).fold(0.0, f64::max);
        let (left, right) = (EDGE + widest + 10.0, WIDTH - EDGE - 8.0);
        let marked = marked(report);
        let top = y + 8.0 + count(marked.len().max(captions.len())) * LINE;
        let mut layout = Layout {
            head,
            field: [left, right, top, top + HIGH],
            ends,
            most: varied.items.max(1),
            marked: Vec::new(),
            height: 0.0,
        };
        layout.marked = marked
            .into_iter()
            .map(|(class, at, text)| Marked {
                class,
                x: layout.x(at),
                text,
            })
            .collect();
        let rows = count(named(stretches).len() + usize::from(!columns(report).is_empty()));
        layout.height = layout.field[3] + 52.0 + rows * LINE + EDGE;
        layout
    }

    fn x(&self, at: f64) -> f64 {
        let ([left, right, ..], (from, to)) = (self.field, self.ends);
        left + (at - from) / (to - from) * (right - left)
    }

    fn y(&self, count: u64) -> f64 {
        let [.., top, bottom] = self.field;
        bottom - number(count) / number(self.most) * (bottom - top)
    }
}

/// What is counted along the axis, in lines of a word.
fn caption(report: &VariedReport<'_>) -> Vec<String> {
    let words = plural(&noun(report));
    words.split(' ').map(str::to_owned).collect()
}

/// The present limit and the proposed one, with their words; one line where they are the same.
fn marked(report: &VariedReport<'_>) -> Vec<(&'static str, f64, String)> {
    let varied = report.varied;
    let text = |what: &str, value| format!("{what}: {}", amount(value, report));
    let at = |value| in_unit(varied, value);
    match (&varied.limit.present, &varied.proposed) {
        (Some(now), Some(then)) if now == then => {
            vec![("limit", at(now), text("now and proposed", now))]
        }
        (now, then) => {
            let now = now
                .iter()
                .map(|now| ("limit old", at(now), text("now", now)));
            let then = then.iter();
            let then = then.map(|then| ("limit", at(then), text("proposed", then)));
            now.chain(then).collect()
        }
    }
}

#[expect(
    clippy::cast_precision_loss,
    reason = "counts are far below 2 to the 53rd"
)]
fn number(count: u64) -> f64 {
    count as f64
}

#[expect(clippy::cast_precision_loss, reason = "a few lines")]
fn count(lines: usize) -> f64 {
    lines as f64
}

#[expect(clippy::cast_precision_loss, reason = "a text is short")]
fn length(text: &str) -> f64 {
    text.chars().count() as f64 * LETTER
}

/// The bands, each as one area.
fn bands(html: &mut Html, layout: &Layout, stretches: &[Stretch]) {
    let mut sorted: Vec<&Stretch> = stretches.iter().collect();
    sorted.sort_by(|one, other| one.from.total_cmp(&other.from));
    // What is narrower than anybody sees is drawn with its neighbour: a large fleet turns at thousands of limits.
    let mut steps: Vec<(f64, f64, &Counts)> = Vec::new();
    for stretch in sorted {
        let (from, to) = (layout.x(stretch.from), layout.x(stretch.to));
        match steps.last_mut() {
            Some(last) if last.1 - last.0 < FINEST => {
                last.1 = to;
                last.2 = &stretch.counts;
            }
            _ => steps.push((from, to, &stretch.counts)),
        }
    }
    for (at, (_, class, _)) in BANDS.iter().enumerate() {
        band(html, layout, &steps, (at, class));
    }
}

/// What lies under a band, and what it ends at.
fn between(counts: &Counts, band: usize) -> (u64, u64) {
    let below = BANDS.iter().take(band);
    let below: u64 = below.map(|(_, _, of)| of(counts)).sum();
    let own = BANDS.get(band).map_or(0, |(_, _, of)| of(counts));
    (below, below + own)
}

/// A band as one area, step by step, where it has any height.
fn band(
    html: &mut Html,
    layout: &Layout,
    steps: &[(f64, f64, &Counts)],
    (at, class): (usize, &str),
) {
    let mut upper = Vec::new();
    let mut under = Vec::new();
    let mut any = false;
    for (from, to, counts) in steps {
        let (low, high) = between(counts, at);
        any |= high > low;
        upper.extend([(*from, layout.y(high)), (*to, layout.y(high))]);
        under.extend([(*from, layout.y(low)), (*to, layout.y(low))]);
    }
    if !any {
        return;
    }
    under.reverse();
    let points: Vec<String> = upper
        .into_iter()
        .chain(under)
        .map(|(x, y)| format!("{},{}", place(x), place(y)))
        .collect();
    html.element(
        "polygon",
        &[("class", class), ("points", &points.join(" "))],
        "",
    );
}

fn axes(html: &mut Html, layout: &Layout, report: &VariedReport<'_>) {
    let [left, right, top, bottom] = layout.field;
    for count in whole_ticks(report.varied.items) {
        let y = layout.y(count);
        line(html, "axis", [left - 4.0, y, left, y]);
        let at = [left - 8.0, y + 4.5];
        words(html, "tick", "end", at, &count.to_string());
    }
    let caption = caption(report);
    for (at, text) in caption.iter().rev().enumerate() {
        let at = [left - 8.0, top - 14.0 - count(at) * LINE];
        words(html, "tick", "end", at, text);
    }
    line(html, "axis", [left, bottom, right, bottom]);
    line(html, "axis", [left, top, left, bottom]);
    let (from, to) = layout.ends;
    let values = ticks(from, to);
    let decimals = decimals(&values);
    let mut free = 0.0;
    for value in values {
        let x = layout.x(value);
        line(html, "axis", [x, bottom, x, bottom + 5.0]);
        let text = format!("{value:.decimals$}");
        let half = length(&text) / 2.0;
        // A number that would run into the one before, or out of the picture, is left out; its tick stays.
        if x - half >= free && x + half <= WIDTH {
            words(html, "tick", "middle", [x, bottom + 20.0], &text);
            free = x + half + 8.0;
        }
    }
    let limit = &report.varied.limit;
    let along = match limit.unit.symbol() {
        "" => format!("{} …", limit.kind.words()),
        unit => format!("{} …, {unit}", limit.kind.words()),
    };
    words(html, "tick", "end", [right, bottom + 39.0], &along);
}

/// The present limit and the proposed one, each with its value above the field: first the lines, then all words.
fn marks(html: &mut Html, layout: &Layout) {
    let [left, right, top, bottom] = layout.field;
    let all = layout.marked.iter();
    let all: Vec<Mark> = all
        .map(|one| Mark {
            x: one.x,
            wide: length(&one.text) * HEAVY,
        })
        .collect();
    let found = places(&all, (left, right));
    for (one, place) in layout.marked.iter().zip(&found) {
        let from = top - 6.0 - count(place.past) * LINE;
        line(html, "under", [one.x, top, one.x, bottom]);
        line(html, one.class, [one.x, from, one.x, bottom]);
    }
    for (one, place) in layout.marked.iter().zip(&found) {
        let at = [place.middle, top - 10.0 - count(place.row) * LINE];
        words(html, "strong", "middle", at, &one.text);
    }
}

/// Bands that have any height, from the top down, as they stand in the picture.
fn named(stretches: &[Stretch]) -> Vec<&'static Band> {
    let any = |(_, _, of): &&Band| stretches.iter().any(|one| of(&one.counts) > 0);
    BANDS.iter().rev().filter(any).collect()
}

/// The limits of which the counts stand beside the bands.
fn columns<'v>(report: &VariedReport<'v>) -> Vec<(&'static str, &'v Point)> {
    let varied = report.varied;
    let point = |limit: &'v Option<Exact>| limit.as_ref().and_then(|limit| varied.point(limit));
    let (now, then) = (point(&varied.limit.present), point(&varied.proposed));
    match (now, then) {
        (Some(now), Some(then)) if now.limit == then.limit => vec![("now and proposed", now)],
        (now, then) => {
            let now = now.into_iter().map(|now| ("now", now));
            now.chain(then.into_iter().map(|then| ("proposed", then)))
                .collect()
        }
    }
}

/// Under the field each band by its name, with how many are in it at the limits that are marked.
fn legend(html: &mut Html, layout: &Layout, report: &VariedReport<'_>, stretches: &[Stretch]) {
    let [left, .., bottom] = layout.field;
    let names = named(stretches);
    let widest = names.iter().map(|(name, ..)| length(name));
    let first = left + 28.0 + widest.fold(0.0, f64::max);
    let most = report.varied.items.to_string();
    let mut ends = Vec::new();
    let mut right = first;
    for (head, point) in columns(report) {
        right += 18.0 + length(head).max(length(&most));
        ends.push((right, head, point));
    }
    let mut y = bottom + 52.0 + LINE;
    if !ends.is_empty() {
        for (right, head, _) in &ends {
            words(html, "tick", "end", [*right, y - 5.0], head);
        }
        y += LINE;
    }
    for (name, class, of) in names {
        bar(html, class, [left, y - 16.0, 18.0, 12.0]);
        words(html, "plain", "start", [left + 28.0, y - 5.0], name);
        for (right, _, point) in &ends {
            let count = of(&point.items).to_string();
            words(html, "plain", "end", [*right, y - 5.0], &count);
        }
        y += LINE;
    }
}
