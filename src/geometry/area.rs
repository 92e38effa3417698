//! Areas of outlines: by corners, and by widths at equal distances. Lengths in mm, areas in mm2.

use std::cmp::Ordering;

use super::problem::GeometryProblem;
use crate::quantity::{Exact, Number};
use crate::uncertainty::Uncertain;

/// More corners than this are not read: each side is compared with every other one.
pub const MOST_CORNERS: usize = 200;

/// Why corners are no outline. Corners by their place in the list, from 0; a side by the corner it begins at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OutlineFault {
    /// A corner that was there before.
    Repeated {
        /// The later one.
        corner: usize,
        /// The earlier one.
        first: usize,
    },
    /// Two sides that meet elsewhere than at a common corner.
    Crossing {
        /// The later side.
        side: usize,
        /// The earlier one.
        other: usize,
    },
    /// All corners lie on one line.
    Flat,
}

/// Twice the signed area of a triangle: above zero where a, b, c turn left.
fn turn(a: [&Exact; 2], b: [&Exact; 2], c: [&Exact; 2]) -> Ordering {
    let ([ax, ay], [bx, by], [cx, cy]) = (a, b, c);
    let one = (bx - ax).mul(&(cy - ay));
    one.cmp(&(by - ay).mul(&(cx - ax)))
}

/// Whether a point on the line through `a` and `b` lies between them.
fn between(a: [&Exact; 2], b: [&Exact; 2], point: [&Exact; 2]) -> bool {
    let inside = |a: &Exact, b: &Exact, p: &Exact| (a <= p && p <= b) || (b <= p && p <= a);
    inside(a[0], b[0], point[0]) && inside(a[1], b[1], point[1])
}

/// Whether two segments have a point in common.
fn meet((a, b): ([&Exact; 2], [&Exact; 2]), (c, d): ([&Exact; 2], [&Exact; 2])) -> bool {
    let (c_side, d_side) = (turn(a, b, c), turn(a, b, d));
    let (a_side, b_side) = (turn(c, d, a), turn(c, d, b));
    let apart = |one: Ordering, other: Ordering| one.is_ne() && other.is_ne() && one != other;
    (apart(c_side, d_side) && apart(a_side, b_side))
        || (c_side.is_eq() && between(a, b, c))
        || (d_side.is_eq() && between(a, b, d))
        || (a_side.is_eq() && between(c, d, a))
        || (b_side.is_eq() && between(c, d, b))
}

/// What is wrong with corners as an outline, if anything: the first fault on the way round.
pub fn outline_fault(corners: &[[&Exact; 2]]) -> Option<OutlineFault> {
    for (at, corner) in corners.iter().enumerate() {
        let first = corners.iter().take(at).position(|other| other == corner);
        if let Some(first) = first {
            return Some(OutlineFault::Repeated { corner: at, first });
        }
    }
    let count = corners.len();
    let side = |at: usize| Some((*corners.get(at)?, *corners.get((at + 1) % count.max(1))?));
    let flat = match corners {
        [a, b, rest @ ..] => rest.iter().all(|c| turn(*a, *b, *c).is_eq()),
        _ => true,
    };
    if flat {
        return Some(OutlineFault::Flat);
    }
    for at in 0..count {
        for other in 0..at {
            let (Some(one), Some(two)) = (side(at), side(other)) else {
                continue;
            };
            let next = other + 1 == at;
            let last = other == 0 && at + 1 == count;
            // Neighbours share a corner, and may not fold back onto each other.
            let crossing = if next {
                turn(two.0, two.1, one.1).is_eq()
                    && (between(two.0, two.1, one.1) || between(one.0, one.1, two.0))
            } else if last {
                turn(one.0, one.1, two.1).is_eq()
                    && (between(one.0, one.1, two.1) || between(two.0, two.1, one.0))
            } else {
                meet(one, two)
            };
            if crossing {
                return Some(OutlineFault::Crossing { side: at, other });
            }
        }
    }
    None
}

/// The area inside corners named once round, either way: half the sum of the cross products of neighbours
/// (shoelace formula). Exact where the corners are; each coordinate enters by its derivative.
///
/// # Errors
/// Fewer than three corners.
pub fn area_of_corners(corners: &[[Uncertain; 2]]) -> Result<Uncertain, GeometryProblem> {
    let count = corners.len();
    let half = Number::Exact(Exact::from_fraction(1, 2).unwrap_or(Exact::ONE));
    let around = |at: usize| corners.get(at % count.max(1));
    let mut twice = Number::Exact(Exact::ZERO);
    let mut terms = Vec::with_capacity(2 * count);
    for at in 0..count {
        let (Some(before), Some([x, y]), Some(after)) =
            (around(at + count - 1), around(at), around(at + 1))
        else {
            continue;
        };
        let ([x_before, y_before], [x_after, y_after]) = (before, after);
        twice = twice.add(&x.value.mul(&y_after.value));
        twice = twice.sub(&x_after.value.mul(&y.value));
        let by_x = y_after.value.sub(&y_before.value).to_f64() / 2.0;
        let by_y = x_before.value.sub(&x_after.value).to_f64() / 2.0;
        terms.extend([(x, by_x), (y, by_y)]);
    }
    if count < 3 {
        return Err(GeometryProblem::new(
            "too_few_corners",
            format!("{count} corners hold no area"),
            "at least 3 corners",
        ));
    }
    let area = Uncertain::linear(twice.mul(&half), &terms);
    Ok(match area.value.signum() {
        Some(-1) => area.neg(),
        _ => area,
    })
}

/// The area over widths at equal distances by Simpson's first rule: a third of the spacing times the sum of the
/// widths with the weights 1, 4, 2, 4, …, 4, 1. Exact for parabolas between the widths.
///
/// # Errors
/// An even number of widths, or fewer than three.
pub fn area_of_widths(
    spacing: &Uncertain,
    widths: &[Uncertain],
) -> Result<Uncertain, GeometryProblem> {
    let last = widths.len().saturating_sub(1);
    if last < 2 || !last.is_multiple_of(2) {
        return Err(GeometryProblem::new(
            "odd_strips",
            format!("{} widths make {last} strips", widths.len()),
            "an even number of strips, so an odd number of widths from 3",
        ));
    }
    let weighted: Vec<Uncertain> = widths
        .iter()
        .enumerate()
        .map(|(at, width)| {
            let weight = match at {
                0 => 1,
                at if at == last => 1,
                at if at % 2 == 1 => 4,
                _ => 2,
            };
            width.scale(&Exact::from_integer(weight))
        })
        .collect();
    let third = Exact::from_fraction(1, 3).unwrap_or(Exact::ONE);
    Ok(Uncertain::sum(&weighted).mul(spacing).scale(&third))
}
