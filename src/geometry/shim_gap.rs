//! What leaves that bind tell of the gap at a place (common practice, no source).
//!
//! A leaf that is slid in from an end binds where the gap is no larger than the leaf for the first time. So
//! farther out than that the gap is larger; nearer to the contact it is taken as no larger, for an edge that
//! rises all the way.

use super::flat::Shim;
use super::problem::{GeometryProblem, shown};
use crate::quantity::{Exact, Number};
use crate::uncertainty::{Bound, Part, PartKind, Uncertain};

/// A gap told from leaves.
#[derive(Clone, Debug)]
pub struct LeafGap {
    /// The gap, mm; one-sided where leaves bind on one side of the place only.
    pub gap: Uncertain,
    /// What was assumed on the way, for the report.
    pub note: Option<String>,
}

/// One leaf at the end that is asked for.
struct Bind<'s> {
    shim: &'s Shim,
    reading: &'s Uncertain,
    at: f64,
}

/// The gap at `x` from the pivot, positive toward the toe: that of the leaf that binds exactly there; between
/// two leaves in proportion; beyond the last one at least, inside the first one at most its gap.
///
/// `source` is the identity of what the chord between two leaves leaves open; `None` leaves it out.
///
/// # Errors
/// The pivot itself, where no leaf reaches; no leaf that tells anything of the place.
pub fn gap_from_shims(
    shims: &[Shim],
    x: &Exact,
    source: Option<u32>,
) -> Result<LeafGap, GeometryProblem> {
    if x.is_zero() {
        return Err(GeometryProblem::new(
            "gap_under_pivot",
            "no leaf tells the gap under the pivot",
            "gaps at stations: `stations` with `gaps`",
        ));
    }
    let asked = Number::Exact(x.abs());
    let ends: Vec<Bind<'_>> = shims
        .iter()
        .map(|shim| {
            let reading = if x.signum() > 0 {
                &shim.forward
            } else {
                &shim.aft
            };
            Bind {
                shim,
                reading,
                at: reading.value.to_f64(),
            }
        })
        .collect();
    let order = |one: &Bind<'_>| one.reading.value.compare(&asked);
    if let Some(here) = ends
        .iter()
        .find(|one| one.reading.bound.is_none() && order(one).is_some_and(|order| order.is_eq()))
    {
        // How well the place is known counts by how steep the edge is there, taken as round.
        let steep = 2.0 * here.shim.gap.value.to_f64() / here.at;
        let terms = [(&here.shim.gap, 1.0), (here.reading, -steep)];
        return Ok(LeafGap {
            gap: Uncertain::linear(here.shim.gap.value.clone(), &terms),
            note: None,
        });
    }
    // A leaf that binds farther out than its reading says nothing of what lies beyond the reading.
    let inner = ends.iter().filter(|one| {
        matches!(one.reading.bound, None | Some(Bound::AtMost))
            && order(one).is_some_and(|order| order.is_le())
    });
    let outer = ends.iter().filter(|one| {
        matches!(one.reading.bound, None | Some(Bound::AtLeast))
            && order(one).is_some_and(|order| order.is_ge())
    });
    let thickness = |one: &&Bind<'_>| one.shim.gap.value.to_f64();
    let inner = inner.max_by(|a, b| thickness(a).total_cmp(&thickness(b)));
    let outer = outer.min_by(|a, b| thickness(a).total_cmp(&thickness(b)));
    match (inner, outer) {
        (Some(inner), Some(outer))
            if inner.reading.bound.is_none() && outer.reading.bound.is_none() =>
        {
            Ok(between(inner, outer, &asked, source))
        }
        (Some(inner), _) => Ok(one_sided(inner, Bound::AtLeast)),
        (None, Some(outer)) => Ok(one_sided(outer, Bound::AtMost)),
        (None, None) => Err(GeometryProblem::new(
            "no_leaf_near",
            format!("no leaf tells the gap at {} mm", x.to_decimal(12).0),
            "a leaf that binds there, or gaps at stations: `stations` with `gaps`",
        )),
    }
}

fn between(inner: &Bind<'_>, outer: &Bind<'_>, asked: &Number, source: Option<u32>) -> LeafGap {
    let (low, high) = (&inner.shim.gap, &outer.shim.gap);
    let run = outer.reading.value.sub(&inner.reading.value);
    let way = asked.sub(&inner.reading.value);
    let share = way.checked_div(&run).unwrap_or(Number::ZERO);
    let rise = high.value.sub(&low.value);
    let value = low.value.add(&rise.mul(&share));
    let (t, h) = (share.to_f64(), run.to_f64());
    let slope = rise.to_f64() / h;
    let terms = [
        (low, 1.0 - t),
        (high, t),
        (inner.reading, -slope * (1.0 - t)),
        (outer.reading, -slope * t),
    ];
    let x = asked.to_f64();
    let open = t * (1.0 - t) * h * h * value.to_f64() / (x * x);
    let mut gap = Uncertain::linear(value, &terms);
    if let Some(source) = source.filter(|_| open > 0.0) {
        let u = open / 3.0_f64.sqrt();
        let part = Part::new(PartKind::Resolution, source, source, u, f64::INFINITY);
        gap = gap.add(&Uncertain::new(Number::ZERO, [part]));
    }
    LeafGap {
        gap,
        note: Some(format!(
            "in proportion between leaves of {} mm and {} mm",
            shown(&low.value),
            shown(&high.value)
        )),
    }
}

fn one_sided(leaf: &Bind<'_>, bound: Bound) -> LeafGap {
    let gap = leaf.shim.gap.clone();
    let note = match bound {
        Bound::AtLeast => format!(
            "outside of where the leaf of {} mm binds",
            shown(&gap.value)
        ),
        Bound::AtMost | Bound::Neither => format!(
            "inside of where the leaf of {} mm binds, for an edge that rises all the way",
            shown(&gap.value)
        ),
    };
    LeafGap {
        gap: gap.with_bound(Some(bound)),
        note: Some(note),
    }
}

/// Where the edge first stands `height` over the straight edge toward the toe, as far as leaves tell: where a
/// leaf of that thickness binds; at least where a thinner one does, at most where a thicker one does. `None`
/// where no leaf tells anything.
pub fn reach_of_shims(shims: &[Shim], height: &Exact) -> Option<Uncertain> {
    let asked = Number::Exact(height.clone());
    let order = |shim: &Shim| shim.gap.value.compare(&asked);
    if let Some(same) = shims
        .iter()
        .find(|shim| order(shim).is_some_and(|order| order.is_eq()))
    {
        let steep = 2.0 * same.gap.value.to_f64() / same.forward.value.to_f64();
        let by_leaf = if steep > 0.0 && same.forward.bound.is_none() {
            steep.recip()
        } else {
            0.0
        };
        let terms = [(&same.forward, 1.0), (&same.gap, -by_leaf)];
        return Some(Uncertain::linear(same.forward.value.clone(), &terms));
    }
    let open = |shim: &Shim, bound: Bound| {
        let own = shim.forward.bound;
        let told = own.is_none_or(|own| own == bound);
        told.then(|| shim.forward.clone().with_bound(Some(bound)))
    };
    let thinner = shims
        .iter()
        .filter(|shim| order(shim).is_some_and(|order| order.is_lt()))
        .filter_map(|shim| open(shim, Bound::AtLeast));
    let farthest = thinner.max_by(|a, b| a.value.to_f64().total_cmp(&b.value.to_f64()));
    farthest.or_else(|| {
        let thicker = shims
            .iter()
            .filter(|shim| order(shim).is_some_and(|order| order.is_gt()))
            .filter_map(|shim| open(shim, Bound::AtMost));
        thicker.min_by(|a, b| a.value.to_f64().total_cmp(&b.value.to_f64()))
    })
}
