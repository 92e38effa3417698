//! Blocks of words set to a width, or one after another in sentences.

use super::super::layout::{pad, wrap};
use super::super::words::capital;
use super::Compared;
use super::told::{Block, blocks, ended};
use crate::diagnostic::{safe_line, safe_text};

/// A comparison for people. Lines that are there to be copied are not wrapped.
pub fn compare_text(compared: &Compared<'_>, width: usize) -> String {
    let mut text = String::new();
    for block in blocks(compared) {
        match block {
            Block::Heading(words) | Block::Clause(words) | Block::Apart(words) => {
                text.push('\n');
                hung(&mut text, &safe_line(&words), 0, 0, width);
            }
            Block::Text(indent, words) => {
                hung(&mut text, &safe_line(&words), indent, 2, width);
            }
            Block::Sides(indent, was, is) => {
                for (word, side) in sides(&was, &is) {
                    let words = format!("{word}: {}", safe_line(side));
                    hung(&mut text, &words, indent, 4, width);
                }
            }
            Block::Copy(lines) => {
                text.push('\n');
                text.push_str(safe_text(&lines).trim_end());
                text.push_str("\n\n");
            }
        }
    }
    text
}

/// A comparison in sentences, a line for each.
pub fn compare_plain(compared: &Compared<'_>) -> String {
    let mut text = String::new();
    for block in blocks(compared) {
        match block {
            Block::Heading(words)
            | Block::Clause(words)
            | Block::Apart(words)
            | Block::Text(_, words) => {
                text.push_str(&ended(&safe_line(&words)));
            }
            Block::Sides(_, was, is) => {
                let all: Vec<String> = sides(&was, &is)
                    .into_iter()
                    .map(|(word, side)| ended(&format!("{}: {}", capital(word), safe_line(side))))
                    .collect();
                text.push_str(&all.join(" "));
            }
            Block::Copy(lines) => text.push_str(safe_text(&lines).trim_end()),
        }
        text.push('\n');
    }
    text
}

/// Both sides with the word for each.
fn sides<'s>(was: &'s Option<String>, is: &'s Option<String>) -> Vec<(&'static str, &'s str)> {
    match (was, is) {
        (Some(was), Some(is)) => vec![("was", was), ("is", is)],
        (Some(was), None) => vec![("gone", was)],
        (None, Some(is)) => vec![("new", is)],
        (None, None) => Vec::new(),
    }
}

/// A paragraph whose lines after the first hang.
fn hung(text: &mut String, words: &str, indent: usize, hang: usize, width: usize) {
    let room = width.saturating_sub(indent + hang);
    for (at, line) in wrap(words, room).into_iter().enumerate() {
        let before = if at == 0 { indent } else { indent + hang };
        text.push_str(&pad("", before));
        text.push_str(line.trim_end());
        text.push('\n');
    }
}
