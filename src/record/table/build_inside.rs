//! A measure of several readings that belong together, written from the cells that fill it.

use super::build::{Entry, Mark, Piece};
use super::cell::Given;
use super::inside::{Inside, Step};
use super::model::Column;
use super::out::Out;
use super::target::{Target, What};
use crate::vocabulary::Measure;

/// A value inside a measure.
struct Value {
    place: Inside,
    given: Given,
    mark: Mark,
}

/// Writes the measure: what is said of the whole series, then what the cells and the map say, entry by entry. Entries
/// without a value are not there.
pub(super) fn inside(out: &mut Out, entry: &Entry<'_>, measure: &Measure) {
    let Some(first) = entry.values.first() else {
        return;
    };
    let mut values: Vec<Value> = Vec::new();
    for piece in &entry.values {
        if let Target::Item {
            what: What::Inside(_, place),
            ..
        } = piece.column.target
        {
            values.push(Value {
                place,
                given: piece.given.clone(),
                mark: Mark::Cell(piece.at),
            });
        }
    }
    // What the map says of an entry counts where a cell of that entry says something.
    for piece in &entry.values {
        let Target::Item {
            what: What::Inside(_, place),
            ..
        } = piece.column.target
        else {
            continue;
        };
        for (key, text, span) in &piece.column.details {
            let Some(place) = place.beside(measure, key) else {
                continue;
            };
            if !values.iter().any(|one| one.place == place) {
                values.push(Value {
                    place,
                    given: Given::Text(text.clone()),
                    mark: Mark::Map(*span),
                });
            }
        }
    }
    values.sort_by_key(|one| one.place);
    let mark = Mark::Cell(first.at);
    let start = out.open('{');
    for key in ["by", "with", "taken"] {
        if let Some((text, mark)) = entry.beside(first, key) {
            out.pair(key, text, Some(mark));
        }
    }
    keys(out, &values, 0, mark);
    out.close('}', start, mark);
}

/// The other distance of a point, where it stands in another unit: a point is one text with one unit.
pub(super) fn in_another_unit<'e>(
    entry: &'e Entry<'_>,
    column: &Column,
    given: &Given,
) -> Option<&'e Piece<'e>> {
    let place = |column: &Column| match column.target {
        Target::Item {
            what: What::Inside(_, place),
            ..
        } => Some(place.steps().collect::<Vec<_>>()),
        Target::SailNumber | Target::Boat(_) | Target::Measured(_) | Target::Item { .. } => None,
    };
    let own = place(column)?;
    let (Step::Key(_, "x" | "y"), point) = own.split_last()? else {
        return None;
    };
    let unit = |given: &Given| {
        let text = given.shown();
        text.split_once(' ').map(|(_, unit)| unit.to_owned())
    };
    entry.values.iter().find(|one| {
        let other = place(one.column);
        let other = other.as_deref().and_then(<[Step]>::split_last);
        other.is_some_and(|(_, other)| other == point) && unit(&one.given) != unit(given)
    })
}

/// What stands below the keys of a mapping.
fn keys(out: &mut Out, values: &[Value], depth: usize, whole: Mark) {
    for below in values.chunk_by(|one, next| one.place.step(depth) == next.place.step(depth)) {
        if let Some(Step::Key(_, key)) = below.first().and_then(|one| one.place.step(depth)) {
            out.key(key);
            node(out, below, depth + 1, whole);
        }
    }
}

fn node(out: &mut Out, values: &[Value], depth: usize, whole: Mark) {
    let Some(first) = values.first() else {
        return;
    };
    // What is wrong with a list or mapping is said of a cell, so that its row is known, even where the map says it all.
    let mut marks = values.iter().map(|one| one.mark);
    let mark = marks.find(|mark| matches!(mark, Mark::Cell(_)));
    let mark = mark.unwrap_or(whole);
    match first.place.step(depth) {
        None => out.value(&first.given, first.mark),
        // A point is one text of two distances.
        Some(Step::Key(_, "x" | "y")) => {
            let start = out.text.len();
            out.string(&point(values));
            out.marks.push((start..out.text.len(), first.mark));
        }
        Some(Step::Key(..)) => {
            let start = out.open('{');
            keys(out, values, depth, mark);
            out.close('}', start, mark);
        }
        Some(Step::Number(_)) => {
            let start = out.open('[');
            let entries =
                values.chunk_by(|one, next| one.place.step(depth) == next.place.step(depth));
            for entry in entries {
                out.parted();
                node(out, entry, depth + 1, mark);
            }
            out.close(']', start, mark);
        }
    }
}

/// `1200 800 mm` of `1200 mm` and `800 mm`. What can't be joined stands as it is, and is told by who reads it.
fn point(values: &[Value]) -> String {
    let texts: Vec<String> = values.iter().map(|one| one.given.shown()).collect();
    if let [x, y] = texts.as_slice()
        && let (Some((x_number, x_unit)), Some((_, y_unit))) =
            (x.split_once(' '), y.split_once(' '))
        && x_unit == y_unit
    {
        return format!("{x_number} {y}");
    }
    texts.join(" ")
}
