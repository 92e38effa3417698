//! Blocks of words and tables set to a width, or one after another in sentences.

use crate::diagnostic::safe_line;

use super::super::layout::{pad, width_of, wrap};
use super::super::words::capital;
use super::Fleet;
use super::names::Names;
use super::told::{Block, Table, blocks};

/// Blanks between columns.
const GAP: usize = 2;
/// What heads of rows are given at least.
const NARROWEST: usize = 12;

/// What a change does to a fleet, for people; it stands behind the comparison.
pub fn impact_text(fleet: &Fleet<'_>, width: usize) -> String {
    set(blocks(fleet, &Names::of(fleet.impact, fleet.names)), width)
}

/// Blocks set to a width.
pub(in crate::report) fn set(blocks: Vec<Block>, width: usize) -> String {
    let mut lines: Vec<String> = Vec::new();
    for block in blocks {
        match block {
            Block::Heading(words) => {
                lines.push(String::new());
                lines.extend(wrap(&safe_line(&words), width));
            }
            Block::Text(indent, words) => hung(&mut lines, &safe_line(&words), indent, width),
            Block::Table(table) => {
                lines.push(String::new());
                columns(&mut lines, &table, width);
            }
        }
    }
    let mut text = String::new();
    for line in lines {
        text.push_str(line.trim_end());
        text.push('\n');
    }
    text
}

/// What a change does to a fleet, in sentences, a line for each.
pub fn impact_plain(fleet: &Fleet<'_>) -> String {
    narrated(blocks(fleet, &Names::of(fleet.impact, fleet.names)))
}

/// Blocks in sentences.
pub(in crate::report) fn narrated(blocks: Vec<Block>) -> String {
    let mut text = String::new();
    let mut say = |words: &str| {
        text.push_str(&safe_line(words));
        if !words.ends_with(['.', ':']) {
            text.push('.');
        }
        text.push('\n');
    };
    for block in blocks {
        match block {
            Block::Heading(words) | Block::Text(_, words) => say(&words),
            Block::Table(table) => {
                say(&table.caption);
                for (label, cells) in &table.rows {
                    let heads = table.heads.iter().skip(1);
                    let pairs: Vec<String> = heads
                        .zip(cells)
                        .map(|(head, cell)| format!("{head} {cell}"))
                        .collect();
                    say(&format!("{}: {}", capital(label), pairs.join(", ")));
                }
            }
        }
    }
    text
}

/// A paragraph whose lines after the first hang.
fn hung(lines: &mut Vec<String>, words: &str, indent: usize, width: usize) {
    let room = width.saturating_sub(indent + 2);
    for (at, line) in wrap(words, room).into_iter().enumerate() {
        let before = if at == 0 { indent } else { indent + 2 };
        lines.push(format!("{}{line}", pad("", before)));
    }
}

/// A table: what to the left, numbers to the right under their heads.
fn columns(lines: &mut Vec<String>, table: &Table, width: usize) {
    lines.extend(wrap(&safe_line(&table.caption), width));
    let heads: Vec<&String> = table.heads.iter().skip(1).collect();
    let widths: Vec<usize> = heads
        .iter()
        .enumerate()
        .map(|(at, head)| {
            let words = head.split(' ').map(width_of);
            let cells = table.rows.iter().filter_map(|(_, cells)| cells.get(at));
            words
                .chain(cells.map(|cell| width_of(cell)))
                .max()
                .unwrap_or(0)
        })
        .collect();
    let longest = table.rows.iter().map(|(label, _)| width_of(label)).max();
    let longest = longest.unwrap_or(0).max(NARROWEST);
    let all = widths.len();
    let taken = |from: usize, to: usize| -> usize {
        let own = widths.iter().skip(from).take(to - from);
        own.map(|width| width + GAP).sum()
    };
    // Side by side where the heads of rows keep some room; else the columns go on below, under the same rows.
    let room = width.saturating_sub(taken(0, all) + GAP);
    let first = match room >= NARROWEST {
        true => longest.min(room),
        false => longest.min(width / 2),
    };
    let mut from = 0;
    while from < all {
        let fits = |to: &usize| GAP + first + taken(from, *to) <= width;
        let to = (from + 1..=all).rev().find(fits).unwrap_or(from + 1);
        if from > 0 {
            lines.push(String::new());
        }
        let heads = heads.get(from..to).unwrap_or_default();
        block(
            lines,
            table,
            heads,
            widths.get(from..to).unwrap_or_default(),
            (first, from),
        );
        from = to;
    }
}

/// Some columns of a table, from one on, under the heads of its rows.
fn block(
    lines: &mut Vec<String>,
    table: &Table,
    heads: &[&String],
    widths: &[usize],
    (first, from): (usize, usize),
) {
    let stacks: Vec<Vec<String>> = heads
        .iter()
        .zip(widths)
        .map(|(head, width)| stacked(head, *width))
        .collect();
    let high = stacks.iter().map(Vec::len).max().unwrap_or(0);
    for row in 0..high {
        let mut line = pad("", first + GAP);
        for (stack, width) in stacks.iter().zip(widths) {
            // Heads stand on the numbers.
            let own = (row + stack.len()).checked_sub(high);
            let word = own.and_then(|at| stack.get(at)).map_or("", String::as_str);
            line.push_str(&to_the_right(word, width + GAP));
        }
        lines.push(line);
    }
    for (label, cells) in &table.rows {
        let words = wrap(&safe_line(label), first);
        for (at, part) in words.iter().enumerate() {
            let mut line = format!("  {}", pad(part, first));
            if at + 1 == words.len() {
                for (cell, width) in cells.iter().skip(from).zip(widths) {
                    line.push_str(&to_the_right(cell, width + GAP));
                }
            }
            lines.push(line);
        }
    }
}

/// A head word by word in lines, as many on a line as fit.
fn stacked(head: &str, width: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in head.split(' ') {
        match lines.last_mut() {
            Some(last) if width_of(last) + 1 + width_of(word) <= width => {
                last.push(' ');
                last.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

fn to_the_right(text: &str, width: usize) -> String {
    format!("{}{text}", pad("", width.saturating_sub(width_of(text))))
}
