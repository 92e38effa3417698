//! Text set to a width: wrapping, pieces that flow, columns aligned on the decimal point.

use unicode_width::UnicodeWidthStr;

use crate::quantity::Unit;

use super::parts::Figure;

/// Columns that a text takes on a terminal.
pub(super) fn width_of(text: &str) -> usize {
    text.width()
}

/// A text in lines of at most `width` columns, broken at blanks; a longer word is broken where it must be.
/// Line breaks of the text are kept.
pub fn wrap(text: &str, width: usize) -> Vec<String> {
    let width = width.max(8);
    let mut lines = Vec::new();
    for paragraph in text.lines() {
        let mut line = String::new();
        for word in words_of(paragraph) {
            for piece in broken(&word, width) {
                let blank = usize::from(!line.is_empty());
                if width_of(&line) + blank + width_of(&piece) > width {
                    lines.push(std::mem::take(&mut line));
                } else if blank == 1 {
                    line.push(' ');
                }
                line.push_str(&piece);
            }
        }
        lines.push(line);
    }
    lines
}

/// The words of a text; a number stays with its unit.
fn words_of(text: &str) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        let bare = word.trim_end_matches(['.', ',', ';', ':', ')']);
        let is_unit = !bare.is_empty() && Unit::from_symbol(bare).is_some();
        match words.last_mut() {
            Some(last) if is_unit && last.ends_with(|sign: char| sign.is_ascii_digit()) => {
                last.push(' ');
                last.push_str(word);
            }
            _ => words.push(word.to_owned()),
        }
    }
    words
}

/// A word in pieces that fit.
fn broken(word: &str, width: usize) -> Vec<String> {
    if width_of(word) <= width {
        return vec![word.to_owned()];
    }
    let mut pieces = Vec::new();
    let mut piece = String::new();
    for letter in word.chars() {
        let mut next = piece.clone();
        next.push(letter);
        if width_of(&next) > width && !piece.is_empty() {
            pieces.push(std::mem::replace(&mut piece, letter.to_string()));
        } else {
            piece = next;
        }
    }
    pieces.push(piece);
    pieces
}

/// Pieces parted by a separator, as many on a line as fit; a piece that is longer than a line is wrapped.
pub fn flow(pieces: &[String], separator: &str, width: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    let mut line = String::new();
    for piece in pieces.iter().filter(|piece| !piece.is_empty()) {
        if !line.is_empty() {
            if width_of(&line) + width_of(separator) + width_of(piece) <= width {
                line.push_str(separator);
                line.push_str(piece);
                continue;
            }
            lines.push(std::mem::take(&mut line));
        }
        let mut wrapped = wrap(piece, width);
        line = wrapped.pop().unwrap_or_default();
        lines.append(&mut wrapped);
    }
    if !line.is_empty() {
        lines.push(line);
    }
    lines
}

/// A text filled up with blanks to a width.
pub(super) fn pad(text: &str, width: usize) -> String {
    let mut padded = text.to_owned();
    for _ in width_of(text)..width {
        padded.push(' ');
    }
    padded
}

/// A column of figures, aligned on the decimal point of their numbers where there is room.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Column {
    /// Set flush left, which takes less room.
    flush: bool,
    text: usize,
    before: usize,
    whole: usize,
    rest: usize,
    words: usize,
}

impl Column {
    /// The column that holds all these figures.
    pub(super) fn of<'f>(figures: impl Iterator<Item = &'f Figure>) -> Column {
        let mut column = Column::default();
        for figure in figures {
            column.text = column.text.max(width_of(&figure.text()));
            if figure.number.is_empty() {
                column.words = column.words.max(width_of(&figure.before));
                continue;
            }
            let (whole, rest) = parted(figure);
            column.before = column.before.max(width_of(&figure.before));
            column.whole = column.whole.max(width_of(whole));
            column.rest = column.rest.max(width_of(&rest));
        }
        column
    }

    /// The same column set flush left.
    pub(super) fn flush_left(self) -> Column {
        Column {
            flush: true,
            ..self
        }
    }

    /// How wide it is.
    pub(super) fn width(self) -> usize {
        if self.flush {
            return self.text;
        }
        let blank = usize::from(self.before > 0);
        (self.before + blank + self.whole + self.rest).max(self.words)
    }

    /// A figure set in the column, filled up to its width.
    pub(super) fn set(self, figure: Option<&Figure>) -> String {
        let Some(figure) = figure else {
            return pad("", self.width());
        };
        if self.flush {
            return pad(&figure.text(), self.width());
        }
        if figure.number.is_empty() {
            return pad(&figure.before, self.width());
        }
        let (whole, rest) = parted(figure);
        let mut text = pad(&figure.before, self.before);
        if self.before > 0 {
            text.push(' ');
        }
        text.push_str(&pad("", self.whole.saturating_sub(width_of(whole))));
        text.push_str(whole);
        text.push_str(&rest);
        pad(&text, self.width())
    }
}

/// The number up to its point, and everything from there on.
fn parted(figure: &Figure) -> (&str, String) {
    let (whole, decimals) = match figure.number.split_once('.') {
        Some((whole, decimals)) => (whole, format!(".{decimals}")),
        None => (figure.number.as_str(), String::new()),
    };
    let after = if figure.after.is_empty() {
        String::new()
    } else {
        format!(" {}", figure.after)
    };
    (whole, format!("{decimals}{after}"))
}
