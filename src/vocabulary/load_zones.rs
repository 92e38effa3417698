//! The `zones` of a part: ideas of "where" on it.

use super::load::{declared, mapping};
use super::model::*;
use super::read;
use crate::diagnostic::{Faults, Fields};
use crate::quantity::{Dimension, Exact};
use crate::text::{Entry, quoted};

const FORM: &str = "write `{ within: 6 mm, of: edge }`, `{ between: -60 mm to 60 mm }` or `{ along: edge_profile, from: heel_at, to_height: 22 mm }`";

/// The zones of a part. One that could not be read keeps its name, so that the rules that use it are not
/// faults too.
pub(super) fn zones(entry: &Entry<'_>, faults: &mut Faults) -> Vec<Zone> {
    let mut found = Vec::new();
    for entry in mapping(entry, "zones", faults) {
        let name = declared(&entry.key, entry.key_span, "a zone", faults);
        if name.text == ELSEWHERE {
            faults.fault(
                "name.reserved",
                name.span,
                "`elsewhere` is there without being described",
                "can't be a name here",
                "in a table by zone, the row `elsewhere` is for all places outside the other rows",
            );
        }
        let Some(mut fields) = Fields::of(&entry.node, "a zone", Some(entry.key_span), faults)
        else {
            continue;
        };
        let kind = kind(&mut fields, entry, faults);
        fields.finish(faults);
        let kind = kind.unwrap_or(ZoneKind::Between(Exact::ZERO, Exact::ZERO));
        found.push(Zone { name, kind });
    }
    found
}

/// The row of a table by zone that no zone is described for.
pub const ELSEWHERE: &str = "elsewhere";

fn kind(fields: &mut Fields<'_, '_>, entry: &Entry<'_>, faults: &mut Faults) -> Option<ZoneKind> {
    let within = fields.take("within", faults);
    let of = fields.take_text("of", faults);
    let between = fields.take("between", faults);
    let along = fields.take_text("along", faults);
    let from = fields.take_text("from", faults);
    let to_height = fields.take("to_height", faults);
    let named = |(text, node): (&str, &crate::text::Node<'_>)| Name {
        text: text.to_owned(),
        span: node.span,
    };
    let length = |entry: &Entry<'_>, least: i32, faults: &mut Faults| {
        let what: &str = &quoted(&entry.key);
        let span = Some(entry.key_span);
        let found = read::quantity(&entry.node, span, what, Dimension::LENGTH, faults)?;
        if found.value.signum() >= least {
            return Some(found.value);
        }
        let (message, help) = if found.value.signum() < 0 {
            (
                "a distance is never below zero",
                "write it without the sign",
            )
        } else {
            (
                "a height of zero is the ice itself",
                "a height is above zero, as in `to_height: 22 mm`",
            )
        };
        faults.fault("quantity.negative", entry.node.span, message, "", help);
        None
    };
    match (within, of, between, along, from, to_height) {
        (Some(within), Some(of), None, None, None, None) => {
            let distance = length(within, 0, faults)?;
            Some(if of.0 == "edge" {
                ZoneKind::WithinOfEdge(distance)
            } else {
                ZoneKind::WithinOf {
                    distance,
                    of: named(of),
                }
            })
        }
        (None, None, Some(between), None, None, None) => {
            let span = Some(between.key_span);
            let range = read::range(&between.node, span, "between", Dimension::LENGTH, faults);
            range.map(|(low, high)| ZoneKind::Between(low.value, high.value))
        }
        (None, None, None, Some(along), Some(from), Some(height)) => Some(ZoneKind::Along {
            profile: named(along),
            from: named(from),
            to_height: length(height, 1, faults)?,
        }),
        _ => {
            faults.fault(
                "vocabulary.zone",
                fields.span,
                format!("{} does not say where it lies", quoted(&entry.key)),
                "",
                FORM,
            );
            None
        }
    }
}
