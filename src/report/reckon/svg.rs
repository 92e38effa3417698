//! A picture as SVG: axes with units, direct labels, one weight of line for the curve and one for what it is
//! held against. Black on white, so that it prints.

use std::fmt::Write;

use super::picture::{Picture, short};

const WIDTH: f64 = 960.0;
const HEIGHT: f64 = 420.0;
const LEFT: f64 = 90.0;
const RIGHT: f64 = 30.0;
const TOP: f64 = 50.0;
const BOTTOM: f64 = 60.0;
/// Columns of the drawing, for thinning a long curve.
const COLUMNS: usize = 840;

/// Text that may stand in XML.
fn escaped(text: &str) -> String {
    crate::diagnostic::safe_line(text)
        .replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
        .replace('"', "&quot;")
}

/// Round numbers from `low` to `high`, some five of them.
pub(in crate::report) fn ticks(low: f64, high: f64) -> Vec<f64> {
    let rough = (high - low) / 5.0;
    let power = 10.0_f64.powf(rough.log10().floor());
    let ratio = rough / power;
    let step = power
        * if ratio < 1.5 {
            1.0
        } else if ratio < 3.5 {
            2.0
        } else if ratio < 7.5 {
            5.0
        } else {
            10.0
        };
    let mut found = Vec::new();
    let mut at = (low / step).ceil();
    while at * step <= high + step * 1e-9 && found.len() < 12 {
        // Noughts without a sign.
        found.push(at * step + 0.0);
        at += 1.0;
    }
    found
}

/// Where things stand on the page.
struct Page {
    frame: [f64; 4],
    wide: f64,
    high: f64,
}

impl Page {
    fn new(picture: &Picture) -> Option<Page> {
        let [left, right, bottom, top] = picture.frame()?;
        // A little air above and below.
        let air = (top - bottom) * 0.06;
        let (mut wide, mut high) = (WIDTH - LEFT - RIGHT, HEIGHT - TOP - BOTTOM);
        if picture.true_shape {
            let scale = (wide / (right - left)).min(high / (top - bottom + 2.0 * air));
            wide = scale * (right - left);
            high = scale * (top - bottom + 2.0 * air);
        }
        Some(Page {
            frame: [left, right, bottom - air, top + air],
            wide,
            high,
        })
    }

    fn x(&self, x: f64) -> f64 {
        let [left, right, ..] = self.frame;
        LEFT + (x - left) / (right - left) * self.wide
    }

    fn y(&self, y: f64) -> f64 {
        let [.., bottom, top] = self.frame;
        TOP + (top - y) / (top - bottom) * self.high
    }
}

/// The picture as an SVG document; an empty drawing where there is nothing to draw.
pub fn plot(picture: &Picture) -> String {
    let mut text = String::new();
    let title = escaped(&picture.title);
    // Writing to a string does not fail.
    let _ = writeln!(
        text,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDTH} {HEIGHT}\" width=\"{WIDTH}\" height=\"{HEIGHT}\" role=\"img\" font-family=\"sans-serif\" font-size=\"14\">\n<title>{title}</title>\n<rect width=\"{WIDTH}\" height=\"{HEIGHT}\" fill=\"#fff\"/>\n<text x=\"{LEFT}\" y=\"26\" font-size=\"16\" font-weight=\"bold\">{title}</text>"
    );
    if let Some(page) = Page::new(picture) {
        axes(&mut text, picture, &page);
        curve(&mut text, picture, &page);
    }
    text.push_str("</svg>\n");
    text
}

fn axes(text: &mut String, picture: &Picture, page: &Page) {
    let [left, right, bottom, top] = page.frame;
    let (x0, x1, y0, y1) = (page.x(left), page.x(right), page.y(bottom), page.y(top));
    let _ = writeln!(
        text,
        "<g stroke=\"#ccc\" stroke-width=\"0.5\" fill=\"#333\">"
    );
    for x in ticks(left, right) {
        let at = page.x(x);
        let _ = writeln!(
            text,
            "<line x1=\"{at:.2}\" y1=\"{y0:.2}\" x2=\"{at:.2}\" y2=\"{y1:.2}\"/><text x=\"{at:.2}\" y=\"{:.2}\" text-anchor=\"middle\" stroke=\"none\">{}</text>",
            y0 + 20.0,
            short(x)
        );
    }
    for y in ticks(bottom, top) {
        let at = page.y(y);
        let _ = writeln!(
            text,
            "<line x1=\"{x0:.2}\" y1=\"{at:.2}\" x2=\"{x1:.2}\" y2=\"{at:.2}\"/><text x=\"{:.2}\" y=\"{:.2}\" text-anchor=\"end\" stroke=\"none\">{}</text>",
            x0 - 8.0,
            at + 5.0,
            short(y)
        );
    }
    text.push_str("</g>\n");
    let _ = writeln!(
        text,
        "<text x=\"{:.2}\" y=\"{:.2}\" text-anchor=\"end\">{}</text>",
        x1,
        y0 + 42.0,
        escaped(&picture.along)
    );
    let _ = writeln!(
        text,
        "<text x=\"16\" y=\"{y1:.2}\" transform=\"rotate(-90 16 {y1:.2})\" text-anchor=\"end\">{}</text>",
        escaped(&picture.up)
    );
}

fn curve(text: &mut String, picture: &Picture, page: &Page) {
    for rule in &picture.rules {
        let [x1, y1] = [page.x(rule.from[0]), page.y(rule.from[1])];
        let [x2, y2] = [page.x(rule.to[0]), page.y(rule.to[1])];
        let _ = writeln!(
            text,
            "<line x1=\"{x1:.2}\" y1=\"{y1:.2}\" x2=\"{x2:.2}\" y2=\"{y2:.2}\" stroke=\"#000\" stroke-width=\"1\" stroke-dasharray=\"6 4\"/>"
        );
        if !rule.words.is_empty() {
            let _ = writeln!(
                text,
                "<text x=\"{:.2}\" y=\"{:.2}\" text-anchor=\"end\">{}</text>",
                x2 - 4.0,
                y2 - 5.0,
                escaped(&rule.words)
            );
        }
    }
    let points = picture.thinned(COLUMNS);
    if picture.joined && points.len() > 1 {
        let path: Vec<String> = points
            .iter()
            .map(|at| format!("{:.2},{:.2}", page.x(at[0]), page.y(at[1])))
            .collect();
        let _ = writeln!(
            text,
            "<polyline points=\"{}\" fill=\"none\" stroke=\"#000\" stroke-width=\"1.6\" stroke-linejoin=\"round\"/>",
            path.join(" ")
        );
    }
    if points.len() <= 200 {
        for at in &points {
            let (x, y) = (page.x(at[0]), page.y(at[1]));
            let _ = writeln!(text, "<circle cx=\"{x:.2}\" cy=\"{y:.2}\" r=\"3\"/>");
        }
    }
    for mark in &picture.marks {
        let (x, y) = (page.x(mark.at[0]), page.y(mark.at[1]));
        let right = x > LEFT + page.wide * 0.7;
        let (dx, anchor) = if right { (-8.0, "end") } else { (8.0, "start") };
        let _ = writeln!(
            text,
            "<circle cx=\"{x:.2}\" cy=\"{y:.2}\" r=\"7\" fill=\"none\" stroke=\"#000\" stroke-width=\"1.6\"/><text x=\"{:.2}\" y=\"{:.2}\" text-anchor=\"{anchor}\" stroke=\"#fff\" stroke-width=\"3\" paint-order=\"stroke\">{}</text>",
            x + dx,
            y + 20.0,
            escaped(&mark.words)
        );
    }
}
