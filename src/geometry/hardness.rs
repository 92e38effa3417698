//! Hardness in another scale, by a published table and never by a factor.
//!
//! Source: ASTM E140, Table 1, non-austenitic steels, Rockwell C range (HRC, HV, HBW with a hard-metal ball and
//! 3000 kgf), as reproduced in public. What comes out is an indication: two steels of one hardness on one scale
//! need not be alike on another, and none of this is a measurement.

use super::problem::{GeometryProblem, shown};
use crate::quantity::{Exact, HardnessScale, Number};
use crate::uncertainty::{Part, PartKind, Uncertain};

/// A row: HRC, HV, HBW (0 where the table has none), and whether the Brinell value stands in brackets, beyond
/// the normal range of the test.
type Row = (i64, i64, i64, bool);

/// ASTM E140, Table 1, hardest first.
const E140: [Row; 49] = [
    (68, 940, 0, false),
    (67, 900, 0, false),
    (66, 865, 0, false),
    (65, 832, 739, true),
    (64, 800, 722, true),
    (63, 772, 705, true),
    (62, 746, 688, true),
    (61, 720, 670, true),
    (60, 697, 654, true),
    (59, 674, 634, false),
    (58, 653, 615, false),
    (57, 633, 595, false),
    (56, 613, 577, false),
    (55, 595, 560, false),
    (54, 577, 543, false),
    (53, 560, 525, false),
    (52, 544, 512, false),
    (51, 528, 496, false),
    (50, 513, 481, false),
    (49, 498, 469, false),
    (48, 484, 455, false),
    (47, 471, 443, false),
    (46, 458, 432, false),
    (45, 446, 421, false),
    (44, 434, 409, false),
    (43, 423, 400, false),
    (42, 412, 390, false),
    (41, 402, 381, false),
    (40, 392, 371, false),
    (39, 382, 362, false),
    (38, 372, 353, false),
    (37, 363, 344, false),
    (36, 354, 336, false),
    (35, 345, 327, false),
    (34, 336, 319, false),
    (33, 327, 311, false),
    (32, 318, 301, false),
    (31, 310, 294, false),
    (30, 302, 286, false),
    (29, 294, 279, false),
    (28, 286, 271, false),
    (27, 279, 264, false),
    (26, 272, 258, false),
    (25, 266, 253, false),
    (24, 260, 247, false),
    (23, 254, 243, false),
    (22, 248, 237, false),
    (21, 243, 231, false),
    (20, 238, 226, false),
];

/// A hardness that was converted.
#[derive(Clone, Debug)]
pub struct Converted {
    /// The hardness on the other scale, with the uncertainty of the reading and the doubt of the table.
    pub value: Uncertain,
    /// Half width of the table's own doubt, on the other scale.
    pub doubt: f64,
    /// The rows it lies between, `(from, to)` on the two scales, softer first.
    pub rows: [(i64, i64); 2],
    /// Whether a Brinell value that was used stands in brackets in the table.
    pub bracketed: bool,
}

/// How far two publications of the table, or the table and ISO 18265 Table A.1, lie apart on a scale at a value:
/// half widths of rectangular distributions. Brinell values of two editions differ by 1; Vickers values of the
/// two standards by at most 0.36 %, and each is rounded to a whole number. The Rockwell column is the one that
/// the others are given for.
fn doubt_on(scale: HardnessScale, value: f64) -> f64 {
    match scale {
        HardnessScale::Hrc => 0.0,
        HardnessScale::Hv => (0.0036 * value).max(0.5),
        HardnessScale::Hbw => 1.0,
    }
}

fn on(scale: HardnessScale, row: &Row) -> Option<i64> {
    let (hrc, hv, hbw, _) = *row;
    match scale {
        HardnessScale::Hrc => Some(hrc),
        HardnessScale::Hv => Some(hv),
        HardnessScale::Hbw => (hbw > 0).then_some(hbw),
    }
}

/// The first and the last value on a scale for which the table has a value on another, softest first.
pub fn range_of(from: HardnessScale, to: HardnessScale) -> (i64, i64) {
    let both = E140.iter().filter(|row| on(to, row).is_some());
    let values = both.filter_map(|row| on(from, row));
    values.fold((i64::MAX, 0), |(low, high), value| {
        (low.min(value), high.max(value))
    })
}

/// A hardness on another scale: a row of the table, or between two rows in proportion. `source` is the identity
/// of the table's doubt about this value.
///
/// # Errors
/// A hardness for which the table has no value on the other scale: HRC below 20 or above 68 (65 for Brinell).
pub fn converted_hardness(
    value: &Uncertain,
    from: HardnessScale,
    to: HardnessScale,
    source: u32,
) -> Result<Converted, GeometryProblem> {
    let (low, high) = range_of(from, to);
    let unit = from.unit().symbol();
    let outside = || {
        GeometryProblem::new(
            "hardness_out_of_table",
            format!("{} {unit} is outside the table", shown(&value.value)),
            format!(
                "ASTM E140 leads from {unit} to {} between {low} and {high} {unit}; measure on the other scale \
                 beyond",
                to.unit().symbol()
            ),
        )
    };
    let not_below = |number: i64| {
        let order = value
            .value
            .compare(&Number::Exact(Exact::from_integer(number)));
        order.is_some_and(std::cmp::Ordering::is_ge)
    };
    let not_above = |number: i64| {
        let order = value
            .value
            .compare(&Number::Exact(Exact::from_integer(number)));
        order.is_some_and(std::cmp::Ordering::is_le)
    };
    let rows = || {
        E140.iter()
            .filter(|row| on(from, row).is_some() && on(to, row).is_some())
    };
    let pairs = || rows().zip(rows().skip(1));
    let around = |pair: &(&Row, &Row)| {
        let (harder, softer) = pair;
        on(from, softer).is_some_and(not_below) && on(from, harder).is_some_and(not_above)
    };
    let (harder, softer) = pairs().find(around).ok_or_else(outside)?;
    let slope_of = |(harder, softer): (&Row, &Row)| {
        let rise = on(to, harder)? - on(to, softer)?;
        Exact::from_integer(rise)
            .checked_div(&Exact::from_integer(on(from, harder)? - on(from, softer)?))
    };
    let (x0, x1) = on(from, softer).zip(on(from, harder)).ok_or_else(outside)?;
    let (y0, y1) = on(to, softer).zip(on(to, harder)).ok_or_else(outside)?;
    let slope = slope_of((harder, softer)).ok_or_else(outside)?;
    let beyond = value.value.sub(&Number::Exact(Exact::from_integer(x0)));
    let found = beyond.mul(&Number::Exact(slope));
    let found = found.add(&Number::Exact(Exact::from_integer(y0)));
    // On a row the steeper neighbour counts.
    let steepest = pairs().filter(around).filter_map(slope_of);
    let steepest = steepest.map(|slope| slope.to_f64()).fold(0.0, f64::max);
    let doubt = doubt_on(to, found.to_f64()) + steepest * doubt_on(from, value.value.to_f64());
    let u = doubt / 3.0_f64.sqrt();
    let part = Part::new(PartKind::Table, source, 0, u, f64::INFINITY);
    let carried = Uncertain::linear(found, &[(value, steepest)]);
    let brinell = from == HardnessScale::Hbw || to == HardnessScale::Hbw;
    Ok(Converted {
        value: carried.add(&Uncertain::new(Number::ZERO, [part])),
        doubt,
        rows: [(x0, y0), (x1, y1)],
        bracketed: brinell && (harder.3 && (softer.3 || !not_above(x0))),
    })
}

/// The lowest Rockwell C hardness that may be tested at a thickness: thickness in thousandths of an inch, HRC.
/// Source: ASTM E18, guide for selecting a scale with the diamond indenter, as reproduced in public.
const E18: [(i64, i64); 10] = [
    (22, 69),
    (24, 67),
    (26, 65),
    (28, 62),
    (30, 57),
    (32, 52),
    (34, 45),
    (36, 37),
    (38, 28),
    (40, 20),
];

/// The least thickness, mm, of a piece on which a Rockwell C hardness may be read (ASTM E18); `None` below HRC 20.
pub fn minimum_thickness(hrc: &Number) -> Option<Exact> {
    let thin_enough = |&&(_, least): &&(i64, i64)| {
        let order = hrc.compare(&Number::Exact(Exact::from_integer(least)));
        order.is_some_and(std::cmp::Ordering::is_ge)
    };
    let (thousandths, _) = E18.iter().find(thin_enough)?;
    // 25.4 mm / 1000.
    Exact::from_fraction(thousandths * 254, 10_000)
}

#[cfg(test)]
#[path = "hardness_tests.rs"]
mod tests;
