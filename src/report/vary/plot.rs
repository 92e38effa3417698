//! The plot of a fleet as a limit moves: a picture of its own, in black and grey, that reads on any page.

use crate::fleet::vary::{Counts, Varied};
use crate::quantity::Exact;

use super::super::html::Html;
use super::super::impact::count::{plural, several};
use super::super::impact::plots::decimals;
use super::super::impact::svg::{bar, length, line, place, words};
use super::super::reckon::ticks;
use super::VariedReport;
use super::told::{amount, noun, title};

const STYLE: &str = "text{font:13px system-ui,-apple-system,'Segoe UI',Roboto,sans-serif;font-variant-numeric:tabular-nums;fill:#111}.strong{font-weight:600}.tick{fill:#444}.paper{fill:#fff}.axis{stroke:#111;stroke-width:1}.grid{stroke:#bbb;stroke-width:.5}.limit{stroke:#111;stroke-width:2}.old{stroke-width:1.5;stroke-dasharray:5 4}.area{stroke:#111;stroke-width:.75}.conforms{fill:#fff}.doubt{fill:#cfcfcf}.never{fill:url(#dots)}.open{fill:url(#lines)}.out{fill:#555}.halo{stroke:#fff;stroke-width:4;paint-order:stroke;stroke-linejoin:round}";

/// Width and height of the picture.
const SIZE: (f64, f64) = (720.0, 440.0);
/// Left, right, top and bottom of the field.
const FIELD: [f64; 4] = [56.0, 696.0, 92.0, 370.0];

/// The height of a line of words.
const LINE: f64 = 17.0;
/// How much wider words in heavy letters are.
const HEAVY: f64 = 1.15;

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
    let mut html = Html::default();
    let title = title(&varied.limit);
    let about = format!(
        "Of {} how many conform, are in doubt, were never measured or do not conform, by the limit.",
        several(varied.items, &noun(report))
    );
    let view = format!("0 0 {} {}", place(SIZE.0), place(SIZE.1));
    let attributes = [
        ("xmlns", "http://www.w3.org/2000/svg"),
        ("viewBox", view.as_str()),
        ("width", "720"),
        ("height", "440"),
        ("role", "img"),
        ("aria-labelledby", "title about"),
    ];
    html.within("svg", &attributes, |html| {
        html.element("title", &[("id", "title")], &title);
        html.element("desc", &[("id", "about")], &about);
        html.within("style", &[], |html| html.markup(STYLE));
        html.markup("<defs><pattern id=\"dots\" width=\"8\" height=\"8\" patternUnits=\"userSpaceOnUse\"><rect width=\"8\" height=\"8\" fill=\"#fff\"/><circle cx=\"4\" cy=\"4\" r=\"1.1\" fill=\"#444\"/></pattern><pattern id=\"lines\" width=\"7\" height=\"7\" patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\"><rect width=\"7\" height=\"7\" fill=\"#fff\"/><line x1=\"0\" y1=\"0\" x2=\"0\" y2=\"7\" stroke=\"#444\" stroke-width=\"1\"/></pattern></defs>\n");
        bar(html, "paper", [0.0, 0.0, SIZE.0, SIZE.1]);
        words(html, "strong", "start", [16.0, 28.0], &title);
        let rules = format!("{} {}", report.rules.title, report.rules.version);
        words(html, "tick", "start", [16.0, 48.0], &rules);
        let stretches = stretches(varied);
        if varied.items > 0 && !stretches.is_empty() {
            field(html, report, &stretches);
        }
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

/// Where limits and counts stand in the picture.
struct Frame {
    from: f64,
    to: f64,
    most: f64,
}

impl Frame {
    fn x(&self, at: f64) -> f64 {
        let [left, right, ..] = FIELD;
        left + (at - self.from) / (self.to - self.from) * (right - left)
    }

    fn y(&self, count: f64) -> f64 {
        let [.., top, bottom] = FIELD;
        bottom - count / self.most * (bottom - top)
    }
}

#[expect(
    clippy::cast_precision_loss,
    reason = "counts are far below 2 to the 53rd"
)]
fn number(count: u64) -> f64 {
    count as f64
}

fn field(html: &mut Html, report: &VariedReport<'_>, stretches: &[Stretch]) {
    let varied = report.varied;
    let ends = |pick: fn(f64, f64) -> f64, of: fn(&Stretch) -> f64| {
        stretches.iter().map(of).reduce(pick).unwrap_or(0.0)
    };
    let frame = Frame {
        from: ends(f64::min, |one| one.from),
        to: ends(f64::max, |one| one.to),
        most: number(varied.items),
    };
    let [left, right, top, bottom] = FIELD;
    let mut unlabelled: Vec<(&str, String)> = Vec::new();
    let mut sorted: Vec<&Stretch> = stretches.iter().collect();
    sorted.sort_by(|one, other| one.from.total_cmp(&other.from));
    for (at, (name, class, of)) in BANDS.iter().enumerate() {
        band(html, &frame, &sorted, (at, class));
        let most = sorted.iter().map(|one| of(&one.counts)).max().unwrap_or(0);
        if most > 0 && !label(html, &frame, &sorted, (at, name)) {
            unlabelled.push((class, format!("{name}: at most {most}")));
        }
    }
    axes(html, &frame, report);
    line(html, "axis", [left, bottom, right, bottom]);
    line(html, "axis", [left, top, left, bottom]);
    lines(html, &frame, report);
    // Bands that are too thin for their names are named below, each with a piece of it.
    let mut x = left;
    for (class, text) in unlabelled {
        bar(html, class, [x, SIZE.1 - 23.0, 16.0, 12.0]);
        words(html, "tick", "start", [x + 22.0, SIZE.1 - 12.0], &text);
        x += 22.0 + length(&text) * HEAVY + 24.0;
    }
}

/// What lies under a band in a stretch, and what it ends at.
fn between(stretch: &Stretch, band: usize) -> (f64, f64) {
    let below = BANDS.iter().take(band);
    let below: u64 = below.map(|(_, _, of)| of(&stretch.counts)).sum();
    let own = BANDS.get(band).map_or(0, |(_, _, of)| of(&stretch.counts));
    (number(below), number(below + own))
}

/// A band as one area, stretch by stretch, where it has any height.
fn band(html: &mut Html, frame: &Frame, stretches: &[&Stretch], (at, class): (usize, &str)) {
    let mut upper = Vec::new();
    let mut under = Vec::new();
    let mut any = false;
    for stretch in stretches {
        let (low, high) = between(stretch, at);
        any |= high > low;
        let (x1, x2) = (frame.x(stretch.from), frame.x(stretch.to));
        upper.extend([(x1, frame.y(high)), (x2, frame.y(high))]);
        under.extend([(x1, frame.y(low)), (x2, frame.y(low))]);
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

/// The name of a band where it is high and wide enough; tells whether it stands anywhere.
fn label(
    html: &mut Html,
    frame: &Frame,
    stretches: &[&Stretch],
    (at, name): (usize, &str),
) -> bool {
    let wide = length(name) * HEAVY + 16.0;
    let mut best: Option<(f64, [f64; 2])> = None;
    for (first, begin) in stretches.iter().enumerate() {
        // From here as far as a line of words has room over all of it.
        let (mut low, mut high) = between(begin, at);
        let from = frame.x(begin.from);
        for stretch in stretches.iter().skip(first) {
            let (own_low, own_high) = between(stretch, at);
            (low, high) = (low.max(own_low), high.min(own_high));
            let (free, to) = (frame.y(low) - frame.y(high), frame.x(stretch.to));
            if free < LINE {
                break;
            }
            let room = free.min(4.0 * LINE) * (to - from);
            if to - from >= wide && best.as_ref().is_none_or(|(known, _)| room > *known) {
                let middle = (frame.y(low) + frame.y(high)) / 2.0 + 4.5;
                best = Some((room, [(from + to) / 2.0, middle]));
            }
        }
    }
    let Some((_, at)) = best else { return false };
    words(html, "strong halo", "middle", at, name);
    true
}

fn axes(html: &mut Html, frame: &Frame, report: &VariedReport<'_>) {
    let [left, right, top, bottom] = FIELD;
    for count in ticks(0.0, frame.most.max(1.0)) {
        if count.fract() != 0.0 {
            continue;
        }
        let y = frame.y(count);
        line(html, "grid", [left - 4.0, y, left, y]);
        words(
            html,
            "tick",
            "end",
            [left - 8.0, y + 4.5],
            &format!("{count:.0}"),
        );
    }
    let nouns = plural(&noun(report));
    words(html, "tick", "start", [16.0, top - 10.0], &nouns);
    let values = ticks(frame.from, frame.to);
    let decimals = decimals(&values);
    for value in values {
        let x = frame.x(value);
        line(html, "axis", [x, bottom, x, bottom + 5.0]);
        words(
            html,
            "tick",
            "middle",
            [x, bottom + 20.0],
            &format!("{value:.decimals$}"),
        );
    }
    let limit = &report.varied.limit;
    let along = match limit.unit.symbol() {
        "" => format!("{} …", limit.kind.words()),
        unit => format!("{} …, {unit}", limit.kind.words()),
    };
    words(html, "tick", "end", [right, bottom + 40.0], &along);
}

/// The present limit and the proposed one, each with its value.
fn lines(html: &mut Html, frame: &Frame, report: &VariedReport<'_>) {
    let varied = report.varied;
    let [left, right, top, bottom] = FIELD;
    let both = [
        (varied.limit.present.as_ref(), "limit old", "now"),
        (varied.proposed.as_ref(), "limit", "proposed"),
    ];
    let mut y = top - 8.0;
    for (value, class, _) in both {
        let Some(value) = value else { continue };
        let x = frame.x(in_unit(varied, value));
        if x < left - 0.5 || x > right + 0.5 {
            continue;
        }
        line(html, class, [x, y + 3.0, x, bottom]);
        y -= LINE + 1.0;
    }
    let mut y = top - 8.0;
    for (value, _, what) in both {
        let Some(value) = value else { continue };
        let x = frame.x(in_unit(varied, value));
        if x < left - 0.5 || x > right + 0.5 {
            continue;
        }
        let text = format!("{what}: {}", amount(value, &varied.limit));
        let half = length(&text) * HEAVY / 2.0 + 4.0;
        let middle = x.clamp(left + half, right - half);
        words(html, "strong halo", "middle", [middle, y], &text);
        y -= LINE + 1.0;
    }
}
