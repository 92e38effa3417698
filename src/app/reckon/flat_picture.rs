//! The picture of a flat: the gap along the edge, with the gap that was asked.

use crate::geometry::{EdgeProfile, Flat};
use crate::quantity::{Quantity, Unit, show};
use crate::report::{Mark, Picture, PictureRule};

/// The gap along the edge against the straight edge.
pub(super) fn picture(
    edge: &EdgeProfile,
    (along, up): (Unit, Unit),
    gap: &Quantity,
    flat: &Flat,
) -> Picture {
    let points: Vec<[f64; 2]> = edge
        .heights()
        .iter()
        .map(|(at, height)| {
            [
                at.to_f64() / along.factor().to_f64(),
                height.to_f64() / up.factor().to_f64(),
            ]
        })
        .collect();
    let (from, to) = (
        points.first().map_or(0.0, |one| one[0]),
        points.last().map_or(0.0, |one| one[0]),
    );
    let level = gap.value.to_f64() / up.factor().to_f64();
    let rule = |y: f64, words: String| PictureRule {
        from: [from, y],
        to: [to, y],
        words,
    };
    let mut marks = Vec::new();
    for (value, sign, words) in [(&flat.aft, -1.0, "aft"), (&flat.forward, 1.0, "forward")] {
        if value.bound.is_none() {
            let at = value.value.to_f64() / along.factor().to_f64();
            let shown = show::with_unit(&format!("{at:.1}"), along);
            marks.push(Mark {
                at: [sign * at, level],
                words: format!("{words} {shown}"),
            });
        }
    }
    Picture {
        title: "Gap along the edge".to_owned(),
        along: format!(
            "distance from the pivot, toe to the right, {}",
            along.symbol()
        ),
        up: format!("gap, {}", up.symbol()),
        points,
        joined: true,
        rules: vec![
            rule(level, format!("gap of {}", gap.as_written())),
            rule(0.0, "straight edge".to_owned()),
        ],
        marks,
        unit_ratio: along.factor().to_f64() / up.factor().to_f64(),
        true_shape: false,
    }
}
