//! Measuring, wrapping and setting text.

use std::collections::BTreeSet;

use super::super::face::{Faces, HARD_BLANK};
use super::{BASELINE, Block, Mark, Mm, POINT, SMALL, STEP, Style, WIDTH, column_at, span};

/// Units that stay on the line of their number. Not a list of what can be measured: a unit that is missing
/// here only wraps less well.
const UNITS: [&str; 28] = [
    "mm", "cm", "m", "m2", "m²", "mm²", "in", "ft", "deg", "min", "°", "°C", "degC", "kg", "g",
    "N", "kN", "N/mm", "HRC", "HV", "HBW", "%", "days", "K", "µm", "MPa", "lb", "pt",
];

/// Sets text in the two faces and remembers which characters it could not draw.
#[derive(Debug)]
pub struct Setter<'f> {
    faces: &'f Faces,
    missing: BTreeSet<char>,
}

/// A label with what belongs to it, over so many columns of the grid.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Span {
    /// What it is.
    pub label: String,
    /// What stands there.
    pub value: String,
    /// Columns of the grid, 1 to 6.
    pub columns: u32,
}

impl<'f> Setter<'f> {
    /// A setter that has met no text yet.
    pub fn new(faces: &'f Faces) -> Self {
        Self {
            faces,
            missing: BTreeSet::new(),
        }
    }

    /// Characters met so far that the faces can't draw.
    pub fn missing(&self) -> &BTreeSet<char> {
        &self.missing
    }

    /// The text as it can be drawn; see [`Faces::writable`].
    pub fn clean(&mut self, text: &str) -> String {
        self.faces.writable(text, &mut self.missing)
    }

    /// Width of a line in mm.
    pub fn width(&self, text: &str, style: Style) -> Mm {
        self.faces.of(style.weight).width(text) * style.size.points() * POINT
    }

    /// The text cut into lines no wider than `width`. Words are kept whole while they fit on a line; a
    /// number keeps its unit and its ±. No text gives no lines.
    pub fn wrap(&mut self, text: &str, style: Style, width: Mm) -> Vec<String> {
        let clean = self.clean(text);
        let mut lines = Vec::new();
        let mut line = String::new();
        for word in unbroken(&clean) {
            let longer = if line.is_empty() {
                word.clone()
            } else {
                format!("{line} {word}")
            };
            if self.width(&longer, style) <= width {
                line = longer;
                continue;
            }
            if !line.is_empty() {
                lines.push(std::mem::take(&mut line));
            }
            line = self.break_word(&word, style, width, &mut lines);
        }
        if !line.is_empty() {
            lines.push(line);
        }
        lines
    }

    /// Breaks a word that is wider than a line: at its own signs where that helps, else anywhere. Gives the
    /// rest that fits.
    fn break_word(&self, word: &str, style: Style, width: Mm, lines: &mut Vec<String>) -> String {
        let mut rest: Vec<char> = word.chars().collect();
        loop {
            let whole: String = rest.iter().collect();
            if self.width(&whole, style) <= width {
                return whole;
            }
            let fits = (1..rest.len())
                .rev()
                .find(|&n| {
                    let part: String = rest.iter().take(n).collect();
                    self.width(&part, style) <= width
                })
                .unwrap_or(1);
            // A value that is kept together breaks between its number and its uncertainty first.
            let blank = |n: &usize| rest.get(*n) == Some(&' ');
            let before_spread = |n: &usize| blank(n) && rest.get(n + 1) == Some(&'±');
            let at_blank = (1..=fits)
                .rev()
                .find(before_spread)
                .or_else(|| (1..=fits).rev().find(blank));
            let at_sign = (0..fits)
                .rev()
                .find(|&n| breaks_behind(&rest, n))
                .map(|n| n + 1)
                .filter(|n| 3 * n >= fits);
            let cut = at_blank.or(at_sign).unwrap_or(fits);
            let tail: Vec<char> = rest.split_off(cut);
            lines.push(rest.iter().collect::<String>().trim_end().to_owned());
            rest = tail.into_iter().skip_while(|c| *c == ' ').collect();
        }
    }

    /// One line from its left end on, cut by nothing. `line` counts steps from the top of the block.
    pub fn line(&mut self, x: Mm, line: u32, style: Style, text: &str) -> Mark {
        Mark::Text {
            x,
            y: baseline(line, style),
            style,
            text: self.clean(text),
        }
    }

    /// One line that ends at `right`.
    pub fn line_to(&mut self, right: Mm, line: u32, style: Style, text: &str) -> Mark {
        let text = self.clean(text);
        Mark::Text {
            x: right - self.width(&text, style),
            y: baseline(line, style),
            style,
            text,
        }
    }

    /// Wrapped text as marks of one block, and the steps it takes.
    pub fn lines(
        &mut self,
        x: Mm,
        first: u32,
        width: Mm,
        style: Style,
        text: &str,
    ) -> (Vec<Mark>, u32) {
        let mut marks = Vec::new();
        let mut at = first;
        for line in self.wrap(text, style, width) {
            marks.push(self.line(x, at, style, &line));
            at += style.size.steps();
        }
        (marks, at - first)
    }

    /// A paragraph: one block a line, of which neither the first nor the last stands alone on a page.
    pub fn paragraph(&mut self, x: Mm, width: Mm, style: Style, text: &str) -> Vec<Block> {
        let lines = self.wrap(text, style, width);
        let count = lines.len();
        lines
            .iter()
            .enumerate()
            .map(|(n, line)| Block {
                steps: style.size.steps(),
                marks: vec![self.line(x, 0, style, line)],
                with_next: n + 1 < count && (n == 0 || n + 2 == count),
                ..Block::default()
            })
            .collect()
    }

    /// A few lines of a large size as one block, a step and a half from baseline to baseline: two steps are
    /// right around a heading and too far between lines that are read on.
    pub fn lead(&mut self, width: Mm, style: Style, text: &str) -> Block {
        let lines = self.wrap(text, style, width);
        let mut marks = Vec::with_capacity(lines.len());
        let (mut below, mut halves) = (0.0, 1);
        for line in &lines {
            marks.push(self.line(0.0, 0, style, line).moved(0.0, below));
            below += 1.5 * STEP;
            halves += 3;
        }
        Block {
            steps: u32::div_ceil(halves, 2),
            marks,
            ..Block::default()
        }
    }

    /// A heading over the full width, held by what follows.
    pub fn heading(&mut self, style: Style, text: &str) -> Block {
        let (marks, steps) = self.lines(0.0, 0, WIDTH, style, text);
        Block {
            steps,
            marks,
            with_next: true,
            ..Block::default()
        }
    }

    /// Paragraphs that each begin with a dash in the margin of their text.
    pub fn dashes(&mut self, x: Mm, width: Mm, items: &[String]) -> Vec<Block> {
        let indent = STEP;
        let mut blocks = Vec::new();
        for item in items {
            let mut lines = self.paragraph(x + indent, width - indent, SMALL, item);
            if let Some(first) = lines.first_mut() {
                first.marks.insert(0, self.line(x, 0, SMALL, "–"));
            }
            blocks.append(&mut lines);
        }
        blocks
    }

    /// A label in the first column and a paragraph in the other five.
    pub fn labelled(&mut self, label: &str, style: Style, text: &str) -> Vec<Block> {
        let (label_marks, label_steps) = self.lines(0.0, 0, span(1), SMALL, label);
        let mut blocks = self.paragraph(column_at(1), span(5), style, text);
        if let Some(first) = blocks.first_mut() {
            first.marks.splice(0..0, label_marks);
            // A label of two lines reaches into the second line of its text, or below it.
            first.with_next |= label_steps > 1;
        }
        while u32::try_from(blocks.len()).unwrap_or(u32::MAX) < label_steps {
            blocks.push(Block {
                steps: 1,
                ..Block::default()
            });
        }
        blocks
    }

    /// A row of labels with their values below them, side by side on the grid; what doesn't fit in six
    /// columns goes to the next row.
    pub fn facts(&mut self, facts: &[Span], value_style: Style) -> Vec<Block> {
        let mut rows: Vec<Block> = Vec::new();
        let mut row = Block::default();
        let mut at = 0;
        for fact in facts {
            let columns = fact.columns.clamp(1, super::COLUMNS);
            if at + columns > super::COLUMNS {
                rows.push(std::mem::take(&mut row));
                at = 0;
            }
            let x = column_at(at);
            row.marks.push(self.line(x, 0, SMALL, &fact.label));
            let (marks, steps) = self.lines(x, 1, span(columns), value_style, &fact.value);
            row.marks.extend(marks);
            row.steps = row.steps.max(1 + steps.max(1));
            at += columns;
        }
        if !row.marks.is_empty() {
            rows.push(row);
        }
        for row in rows.iter_mut().skip(1) {
            row.before = 1;
        }
        rows
    }
}

/// Whether a long word may break behind one of its signs; a number never does at its point.
fn breaks_behind(word: &[char], at: usize) -> bool {
    let digit = |n: Option<usize>| {
        n.and_then(|n| word.get(n))
            .is_some_and(char::is_ascii_digit)
    };
    match word.get(at) {
        Some('/' | '-' | '_' | ';' | ':' | ']' | &HARD_BLANK) => true,
        Some('.' | ',') => !(digit(at.checked_sub(1)) && digit(Some(at + 1))),
        _ => false,
    }
}

/// Baseline of the line that begins `line` steps below the top of a block.
fn baseline(line: u32, style: Style) -> Mm {
    f64::from(line + style.size.steps() - 1) * STEP + BASELINE
}

/// The words of a text, where a number keeps its unit and what stands around ±.
fn unbroken(text: &str) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    let mut before: Option<&str> = None;
    for word in text.split(' ').filter(|word| !word.is_empty()) {
        let joined = before.is_some_and(|b| belongs(b, word));
        match words.last_mut() {
            Some(last) if joined => {
                last.push(' ');
                last.push_str(word);
            }
            Some(_) | None => words.push(word.to_owned()),
        }
        before = Some(word);
    }
    words
}

/// Whether a line may not end between two words.
pub(super) fn belongs(left: &str, right: &str) -> bool {
    let number = |word: &str| word.chars().any(|c| c.is_ascii_digit());
    let bare = right.trim_end_matches(['.', ',', ';', ':', ')']);
    // `1 1/2 in`: neither the fraction nor the unit goes on by itself.
    let whole = |word: &str| !word.is_empty() && word.bytes().all(|one| one.is_ascii_digit());
    let fraction = bare
        .split_once('/')
        .is_some_and(|(over, under)| whole(over) && whole(under));
    right == "±"
        || left == "±"
        || (whole(left) && fraction)
        || (number(left) && UNITS.contains(&bare))
        || (left == "=" || right == "=")
}

#[cfg(test)]
#[allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]
mod tests {
    use super::super::{TEXT, TITLE};
    use super::*;

    #[test]
    fn lines_fit_and_keep_every_word() {
        let faces = Faces::read().unwrap();
        let mut setter = Setter::new(&faces);
        let text = "Outside the relief zones the steel shall at no point be thinner than the limit for its construction.";
        let lines = setter.wrap(text, SMALL, 60.0);
        assert!(lines.len() > 1);
        assert!(lines.iter().all(|line| setter.width(line, SMALL) <= 60.0));
        assert_eq!(lines.join(" "), text);
    }

    #[test]
    fn a_number_keeps_its_unit_and_its_uncertainty() {
        let faces = Faces::read().unwrap();
        let mut setter = Setter::new(&faces);
        // The narrowest line that the widest of them fits.
        for width in 24..60 {
            for line in setter.wrap(
                "thickness 4.76 ± 0.02 mm, limit 4.70 mm, k = 2",
                SMALL,
                f64::from(width),
            ) {
                assert!(
                    !line.ends_with('±') && !line.starts_with('±') && !line.starts_with("mm"),
                    "{line}"
                );
                assert!(!line.ends_with('='), "{line}");
            }
        }
    }

    #[test]
    fn a_fraction_stays_with_its_whole_number() {
        let faces = Faces::read().unwrap();
        let mut setter = Setter::new(&faces);
        for width in 16..60 {
            let lines = setter.wrap("from 1 1/2 in to 4 in, of 6 in", SMALL, f64::from(width));
            for line in lines {
                assert!(!line.starts_with("1/2") && !line.ends_with("1"), "{line}");
            }
        }
    }

    #[test]
    fn a_word_wider_than_the_line_breaks_at_its_signs_and_loses_nothing() {
        let faces = Faces::read().unwrap();
        let mut setter = Setter::new(&faces);
        let digest = "0123456789abcdef".repeat(4);
        let lines = setter.wrap(&digest, SMALL, 40.0);
        assert!(lines.iter().all(|line| setter.width(line, SMALL) <= 40.0));
        assert_eq!(lines.concat(), digest);
        assert_eq!(
            setter.wrap("matched_sets/hard_ice", SMALL, 22.0),
            ["matched_sets/", "hard_ice"]
        );
    }

    #[test]
    fn a_number_too_wide_for_its_column_breaks_before_its_uncertainty() {
        let faces = Faces::read().unwrap();
        let mut setter = Setter::new(&faces);
        for (value, lines) in [
            ("10.250 ± 0.060 mm", ["10.250", "± 0.060 mm"]),
            ("4213.50 ± 10.25 mm", ["4213.50", "± 10.25 mm"]),
        ] {
            assert_eq!(setter.wrap(value, SMALL, 19.0), lines);
        }
        // A number that fills a line by itself keeps its point inside.
        let long = "1234567890.0987654321";
        for line in setter.wrap(long, SMALL, 20.0) {
            assert!(!line.ends_with('.'), "{line}");
        }
    }

    #[test]
    fn a_heading_is_held_and_a_paragraph_leaves_no_single_line() {
        let faces = Faces::read().unwrap();
        let mut setter = Setter::new(&faces);
        assert!(setter.heading(TITLE, "Measurement certificate").with_next);
        let blocks = setter.paragraph(0.0, 30.0, TEXT, &"word ".repeat(24));
        let held: Vec<bool> = blocks.iter().map(|b| b.with_next).collect();
        assert!(blocks.len() > 4);
        assert!(held[0] && held[held.len() - 2]);
        assert!(!held[1] && !held[held.len() - 1]);
    }
}
