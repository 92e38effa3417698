//! The flat of a runner's edge from shims: how far from the contact a leaf of known thickness slides in
//! between the edge and a straight edge that touches under the pivot (common practice, no source).
//!
//! A leaf of the asked gap gives the flat by a sum. Any other leaf is brought to the asked gap on a circular
//! arc through the contact, R = (a² + g²)/(2g): plane geometry of a circular segment.
//!
//! Sensitivity: a leaf that is thicker than it says reads long by U(g) over the slope of the edge there. On
//! the arc that is (a² − g²)/(2·g·a), which is a/(2g) for a flat edge: 0.01 mm of leaf are 11 mm on a flat of
//! 450 mm at 0.20 mm. One leaf used at both ends moves both ends together.

use super::problem::{GeometryProblem, shown};
use crate::quantity::{Exact, Number};
use crate::uncertainty::Uncertain;

/// One leaf slid in from both ends. Lengths in mm, from the pivot centre; never negative.
#[derive(Clone, Debug)]
pub struct Shim {
    /// Thickness of the leaf.
    pub gap: Uncertain,
    /// Where it binds forward of the pivot; may be one-sided ("more than 310 mm").
    pub forward: Uncertain,
    /// Where it binds aft of the pivot; may be one-sided.
    pub aft: Uncertain,
}

/// Lengths of edge within the asked gap, from the pivot centre, in mm.
#[derive(Clone, Debug)]
pub struct Flat {
    /// Forward of the pivot.
    pub forward: Uncertain,
    /// Aft of the pivot.
    pub aft: Uncertain,
    /// Both together.
    pub total: Uncertain,
    /// What was assumed on the way, for the report.
    pub note: Option<String>,
}

impl Flat {
    /// The correlation coefficient r of the forward and the aft part: with it u² = u_f² + u_a² + 2·r·u_f·u_a is
    /// the stated u of both together. Above 0 where one leaf or one offset moves both ends outward, below 0
    /// where a slope error of the straight edge moves them against each other. `None` where one of them has no
    /// uncertainty.
    ///
    /// Source: JCGM 100:2008, 5.2.2, formula 16, for a sum of two.
    #[must_use]
    pub fn correlation(&self) -> Option<f64> {
        let [forward, aft, total] =
            [&self.forward, &self.aft, &self.total].map(|part| part.combined().u);
        let product = 2.0 * forward * aft;
        (product > 0.0).then(|| {
            let r = (total * total - forward * forward - aft * aft) / product;
            r.clamp(-1.0, 1.0)
        })
    }
}

/// The flat at `gap` from shims, lengths in mm.
///
/// `contact` is where the straight edge touches, from the pivot, positive forward; without it, under the
/// pivot. A shim of exactly the asked gap gives the sum of its two readings; otherwise the shim nearest to it
/// is carried to it on a circular arc at each end. One-sided readings give a one-sided flat.
///
/// # Errors
/// No shim; a gap asked or given that is not above 0; the same gap twice; a reading that does not lie beyond
/// the contact; an asked gap that the arc never reaches.
pub fn flat_from_shims(
    shims: &[Shim],
    contact: Option<&Uncertain>,
    gap: &Exact,
) -> Result<Flat, GeometryProblem> {
    if gap.signum() <= 0 {
        return Err(GeometryProblem::new(
            "gap_not_positive",
            format!("the flat is asked at a gap of {} mm", gap.to_decimal(12).0),
            "a gap above 0 mm, for example flat_length(edge_profile, 0.20 mm)",
        ));
    }
    check_gaps(shims)?;
    let asked = Number::Exact(gap.clone());
    let under_pivot = Uncertain::exact(Exact::ZERO);
    let contact = contact.unwrap_or(&under_pivot);
    let Some(nearest) = shims
        .iter()
        .min_by(|a, b| distance(a, &asked).total_cmp(&distance(b, &asked)))
    else {
        return Err(GeometryProblem::new(
            "no_shims",
            "the edge profile has no shims",
            "at least one shim: { gap: 0.20 mm, forward: 225 mm, aft: 225 mm }",
        ));
    };
    let forward = at_gap("forward", nearest, &nearest.forward, contact, &asked)?;
    let aft = at_gap("aft", nearest, &nearest.aft, &contact.neg(), &asked)?;
    let total = forward.add(&aft);
    let note = (nearest.gap.value.as_exact() != Some(gap)).then(|| {
        format!(
            "no shim of {} mm: carried from {} mm on a circular arc through the contact at each end",
            shown(&asked),
            shown(&nearest.gap.value)
        )
    });
    Ok(Flat {
        forward,
        aft,
        total,
        note,
    })
}

/// How far a shim's gap is from the asked one, as a ratio: the arc carries by the square root of it.
fn distance(shim: &Shim, asked: &Number) -> f64 {
    (shim.gap.value.to_f64() / asked.to_f64()).ln().abs()
}

fn check_gaps(shims: &[Shim]) -> Result<(), GeometryProblem> {
    for (i, shim) in shims.iter().enumerate() {
        if shim.gap.value.signum() != Some(1) {
            return Err(GeometryProblem::new(
                "gap_not_positive",
                format!("shim {} has a gap of {} mm", i + 1, shown(&shim.gap.value)),
                "the thickness of the leaf, above 0 mm",
            ));
        }
        let twin = shims.iter().take(i).position(|earlier| {
            earlier.gap.value.compare(&shim.gap.value) == Some(std::cmp::Ordering::Equal)
        });
        if let Some(twin) = twin {
            return Err(GeometryProblem::new(
                "gap_repeated",
                format!(
                    "shims {} and {} both have a gap of {} mm",
                    twin + 1,
                    i + 1,
                    shown(&shim.gap.value)
                ),
                "one entry for each gap; repeated readings of one gap belong to a second series",
            ));
        }
    }
    Ok(())
}

/// One end of the flat at the asked gap, from the pivot. `contact` is counted positive toward this end.
fn at_gap(
    end: &str,
    shim: &Shim,
    reading: &Uncertain,
    contact: &Uncertain,
    asked: &Number,
) -> Result<Uncertain, GeometryProblem> {
    let gap = &shim.gap.value;
    let reach = reading.value.sub(&contact.value);
    let negative = reading.value.signum() == Some(-1);
    if negative || reach.signum() != Some(1) {
        let message = if negative {
            format!("the {end} reading is {} mm", shown(&reading.value))
        } else {
            format!(
                "the {end} reading of {} mm does not lie beyond the contact at {} mm",
                shown(&reading.value),
                shown(&contact.value)
            )
        };
        return Err(GeometryProblem::new(
            "reading_not_beyond_contact",
            message,
            "forward and aft are both lengths from the pivot, without a sign, longer than the way to the \
             contact",
        ));
    }
    // Square of the asked reach: (G/g)·(a² + g² − g·G), from R = (a² + g²)/(2g) and a_G² = 2RG − G².
    let same = gap.compare(asked) == Some(std::cmp::Ordering::Equal);
    let carried = if same {
        reach.clone()
    } else {
        reach
            .mul(&reach)
            .add(&gap.mul(gap))
            .sub(&gap.mul(asked))
            .mul(asked)
            .checked_div(gap)
            .filter(|square| square.signum() == Some(1))
            .and_then(|square| square.sqrt())
            .ok_or_else(|| {
                GeometryProblem::new(
                    "gap_beyond_arc",
                    format!(
                        "an arc with {} mm at {} mm {end} never opens to {} mm",
                        shown(gap),
                        shown(&reach),
                        shown(asked)
                    ),
                    "a shim nearer to the asked gap",
                )
            })?
    };
    let (a, g, wanted, found) = (
        reach.to_f64(),
        gap.to_f64(),
        asked.to_f64(),
        carried.to_f64(),
    );
    let by_reach = if same { 1.0 } else { wanted * a / (g * found) };
    let by_gap = wanted * (1.0 - (a / g) * (a / g)) / (2.0 * found);
    let value = if same {
        reading.value.clone()
    } else {
        contact.value.add(&carried)
    };
    let terms = [
        (reading, by_reach),
        (contact, 1.0 - by_reach),
        (&shim.gap, by_gap),
    ];
    Ok(Uncertain::linear(value, &terms))
}

#[cfg(test)]
#[path = "flat_tests.rs"]
mod tests;
