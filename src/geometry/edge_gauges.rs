//! Angles of an edge from gauges: sine bar, pins beside the edge, rollers in a cast of it, widths at depths.
//!
//! Each is the slope of one length over another, so that what both readings share drops out: the height of the
//! table, a flat or a rounding at the apex, the bottom of the vee. Lengths in one unit, angles in degrees.
//! With more than two sizes the slope is that of the line by least squares (`line_fit`).

use super::arc::{arc_sine, arc_tangent, degrees};
use super::line_fit::{LineFit, line_fit};
use super::problem::{GeometryProblem, shown};
use crate::quantity::{Exact, Number};
use crate::uncertainty::{Part, PartKind, Uncertain};
use std::cmp::Ordering;

/// Above this angle in degrees a sine bar reads badly: its sensitivity is twice that of a level bar.
const STEEP: i64 = 60;

/// An angle read off gauges.
#[derive(Clone, Debug)]
pub struct GaugedAngle {
    /// The angle in degrees.
    pub angle: Uncertain,
    /// The slope it comes from: the sine, or a length over another.
    pub slope: Uncertain,
    /// What one size alone would have had in it, and the difference takes out: of pins and of widths how wide
    /// the apex is (of a rounded one: between the prolonged faces, where it stands on the plate), of rollers how
    /// far the bottom of the vee lies above where heights are counted from; 0 of a sine bar.
    pub offset: Uncertain,
    /// What has to be said beside the angle.
    pub notices: Vec<String>,
}

/// A gauge of a size with what was read over it.
#[derive(Clone, Debug)]
pub struct SizeReading {
    /// The diameter of pins or of a roller; of a width its depth from the edge.
    pub size: Uncertain,
    /// The measure over the pins, the height over the roller, or the width.
    pub reading: Uncertain,
}

/// The angle of a sine bar of `length` between its rollers, one of them `height` higher than the other:
/// sin A = height/length. The sensitivity 1/(length·cos A) grows without limit toward 90 degrees.
///
/// Source: definition of the sine; shop practice of the sine bar.
///
/// # Errors
/// A height above the length or below 0, a length that is not above 0; 90 degrees, unless both are certain.
pub fn angle_from_sine(
    height: &Uncertain,
    length: &Uncertain,
) -> Result<GaugedAngle, GeometryProblem> {
    let impossible = |message: String| {
        GeometryProblem::new(
            "sine_out_of_range",
            message,
            "a sine bar has one roller higher than the other by no more than the bar is long: a height from 0 up \
             to the length between the rollers",
        )
    };
    if length.value.signum() != Some(1) {
        return Err(impossible(format!(
            "the sine bar is {} mm long",
            shown(&length.value)
        )));
    }
    let (l, h) = (shown(&length.value), shown(&height.value));
    if matches!(height.value.signum(), Some(-1)) {
        return Err(impossible(format!("the height is {h} mm, below 0")));
    }
    let over = height.value.compare(&length.value);
    let sine = height.value.checked_div(&length.value);
    let angle = sine.as_ref().and_then(arc_sine);
    let (Some(sine), Some(angle)) = (sine, angle.filter(|_| over != Some(Ordering::Greater)))
    else {
        return Err(impossible(format!(
            "a height of {h} mm over a length of {l} mm is a sine above 1"
        )));
    };
    let (s, bar) = (sine.to_f64(), length.value.to_f64());
    let cosine = ((1.0 - s) * (1.0 + s)).max(0.0).sqrt();
    let certain = height.parts.is_empty() && length.parts.is_empty();
    if cosine == 0.0 && !certain {
        return Err(GeometryProblem::new(
            "sine_at_its_end",
            format!(
                "a height of {h} mm over a length of {l} mm is 90 deg, where a sine bar tells nothing"
            ),
            "near 90 deg the least error of the height is an angle without limit: measure the rest to 90 deg",
        ));
    }
    let each = if cosine == 0.0 {
        0.0
    } else {
        (bar * cosine).recip().to_degrees()
    };
    let mut notices = Vec::new();
    if angle.compare(&degrees(STEEP)) == Some(Ordering::Greater) {
        notices.push(format!(
            "a sine bar reads badly above {STEEP} deg: here 0.01 mm of height is {:.2} deg",
            0.01 * each
        ));
    }
    let by_sine = if cosine == 0.0 {
        0.0
    } else {
        cosine.recip().to_degrees()
    };
    let slope = Uncertain::linear(sine, &[(height, bar.recip()), (length, -s / bar)]);
    Ok(GaugedAngle {
        angle: Uncertain::linear(angle, &[(&slope, by_sine)]),
        slope,
        offset: Uncertain::exact(Exact::ZERO),
        notices,
    })
}

/// Included angle A from pins. The edge stands on a flat plate, its middle plane upright; a pin of diameter D
/// lies on each side in the corner between plate and ground face, and M is measured over both pins.
///
/// The figure in words: plate and face meet under φ = 90° − A/2. A pin that touches both has its centre on the
/// bisector of φ, D/2 above the plate, so (D/2)·cot(φ/2) along the plate from where face and plate meet. From
/// one outer side to the other these are two distances to the centres, two radii, and the width w of the apex
/// where it stands on the plate: M = D·(1 + cot(φ/2)) + w. Two sizes take w out, whether the apex is sharp, flat
/// or rounded: (M2 − M1)/(D2 − D1) = 1 + cot(φ/2) = q and A = 180° − 2φ = 180° − 4·arctan(1/(q − 1)). A pin
/// touches the face as high above the plate as (D/2)·(1 + cos φ): the ground face has to reach that far. Both
/// bevels are taken as equal.
///
/// Source: measurement over pins of a dovetail, D·(1 + cot(a/2)), handbook practice; derived here for two sizes.
///
/// # Errors
/// Fewer than two sizes, a diameter not above 0; measures that no edge gives.
pub fn angle_from_pins(
    pins: &[SizeReading],
    scatter: Option<u32>,
) -> Result<GaugedAngle, GeometryProblem> {
    let refused = |message: String| {
        let help = "does each pin touch the plate and a ground face, and do measures and diameters belong together?";
        GeometryProblem::new("pins_do_not_touch", message, help)
    };
    let two_diameters = degrees(2);
    for pin in pins {
        let least = pin.size.value.mul(&two_diameters);
        let size = above_zero(&pin.size, "a pin", "diameter")?;
        if pin.reading.value.compare(&least) != Some(Ordering::Greater) {
            return Err(refused(format!(
                "over pins of {size} mm stands {} mm: no more than the two pins side by side",
                shown(&pin.reading.value)
            )));
        }
    }
    let fit = slope_of(pins, "pins", scatter)?;
    let q = &fit.line.y_2;
    if q.value.compare(&two_diameters) != Some(Ordering::Greater) {
        return Err(refused(format!(
            "the measure over the pins grows {} mm for each mm of diameter; it grows by more than 2 beside any edge",
            rounded(&q.value)
        )));
    }
    let apex = &fit.line.y_1;
    if apex.value.to_f64() < -(3.0 * apex.combined().u + apex.value.bound()) {
        return Err(refused(format!(
            "by these measures the faces would cross {} mm under the plate: the pins can't lie so close together",
            rounded(&apex.value.abs())
        )));
    }
    let more = q.value.sub(&degrees(1));
    let cotangent = more.to_f64();
    let half = degrees(1).checked_div(&more).map(|one| arc_tangent(&one));
    let Some(half) = half else {
        return Err(refused("the pins show no angle".to_owned()));
    };
    let angle = degrees(180).sub(&half.mul(&degrees(4)));
    let by_q = (4.0 / (1.0 + cotangent * cotangent)).to_degrees();
    Ok(fit.angle(angle, by_q))
}

/// Included angle A from rollers in a vee, such as a cast of the edge: of a roller of radius r = D/2 that
/// touches both sides, the centre lies r/sin(A/2) above the bottom of the vee, so with h the height over the
/// roller sin(A/2) = (r2 − r1)/((h2 − r2) − (h1 − r1)). Neither a rounded bottom nor where heights are counted
/// from counts.
///
/// Source: internal vee over two rollers, handbook practice.
///
/// # Errors
/// Fewer than two sizes, a diameter not above 0; heights that no vee gives.
pub fn angle_from_rollers(
    rollers: &[SizeReading],
    scatter: Option<u32>,
) -> Result<GaugedAngle, GeometryProblem> {
    let half = Exact::from_integer(1).checked_div(&Exact::from_integer(2));
    let half = half.unwrap_or(Exact::ZERO);
    let mut centres = Vec::with_capacity(rollers.len());
    for roller in rollers {
        above_zero(&roller.size, "a roller", "diameter")?;
        let radius = roller.size.scale(&half);
        centres.push(SizeReading {
            reading: roller.reading.sub(&radius),
            size: radius,
        });
    }
    let fit = slope_of(&centres, "rollers", scatter)?;
    let rise = &fit.line.y_2;
    let refused = || {
        GeometryProblem::new(
            "rollers_do_not_sit",
            format!(
                "the centres of the rollers rise {} mm for each mm of radius; in a vee they rise by more than 1",
                rounded(&rise.value)
            ),
            "does each roller touch both sides of the vee and not its bottom, and do heights and diameters belong \
             together?",
        )
    };
    if rise.value.compare(&degrees(1)) != Some(Ordering::Greater) {
        return Err(refused());
    }
    let sine = degrees(1).checked_div(&rise.value).ok_or_else(refused)?;
    let angle = arc_sine(&sine).ok_or_else(refused)?.mul(&degrees(2));
    let m = rise.value.to_f64();
    let by_rise = -(2.0 / (m * ((m - 1.0) * (m + 1.0)).sqrt())).to_degrees();
    Ok(fit.angle(angle, by_rise))
}

/// Included angle A from widths w at depths d from the edge: A = 2·arctan((w2 − w1)/(2·(d2 − d1))). Both bevels
/// are taken as equal.
///
/// Source: plane geometry.
///
/// # Errors
/// Fewer than two depths; widths that don't grow with the depth.
pub fn angle_from_widths(
    widths: &[SizeReading],
    scatter: Option<u32>,
) -> Result<GaugedAngle, GeometryProblem> {
    let fit = slope_of(widths, "widths", scatter)?;
    let m = &fit.line.y_2;
    let refused = || {
        GeometryProblem::new(
            "widths_do_not_grow",
            format!(
                "the width changes by {} mm for each mm of depth; away from the edge it grows",
                rounded(&m.value)
            ),
            "count depths from the edge, and take widths within the ground faces",
        )
    };
    if m.value.signum() != Some(1) {
        return Err(refused());
    }
    let tangent = m.value.checked_div(&degrees(2)).ok_or_else(refused)?;
    let angle = arc_tangent(&tangent).mul(&degrees(2));
    let half = tangent.to_f64();
    let by_m = (1.0 + half * half).recip().to_degrees();
    Ok(fit.angle(angle, by_m))
}

/// A size above 0, as it is shown.
fn above_zero(size: &Uncertain, what: &str, of: &str) -> Result<String, GeometryProblem> {
    let written = shown(&size.value);
    if size.value.signum() == Some(1) {
        return Ok(written);
    }
    Err(GeometryProblem::new(
        "size_not_above_zero",
        format!("{what} has a {of} of {written} mm"),
        format!("a {of} above 0 mm"),
    ))
}

/// A computed number for a message.
fn rounded(value: &Number) -> String {
    match value {
        Number::Exact(exact) => exact.to_decimal(4).0,
        Number::Real { value, .. } => format!("{value:.4}"),
    }
}

/// A line through readings over sizes.
struct Slope {
    line: LineFit,
    scatter: Option<u32>,
    notices: Vec<String>,
}

impl Slope {
    fn angle(self, angle: Number, by_slope: f64) -> GaugedAngle {
        let mut slope = self.line.y_2;
        if let Some(source) = self.scatter {
            let kind = PartKind::Repeatability;
            let own = slope.combined().u;
            let more = (self.line.u_2 * self.line.u_2 - own * own).max(0.0).sqrt();
            if more > 0.0 {
                let part = Part::new(kind, source, source, more, self.line.nu);
                let scatter = Uncertain::new(Number::ZERO, [part]);
                let value = slope.value.clone();
                slope = Uncertain {
                    value,
                    ..slope.add(&scatter)
                };
            }
        }
        GaugedAngle {
            angle: Uncertain::linear(angle, &[(&slope, by_slope)]),
            slope,
            offset: self.line.y_1,
            notices: self.notices,
        }
    }
}

/// The slope of readings over sizes; two different sizes at least. Where the readings lie off one line by more
/// than twice what they are good to, a notice says so, and `scatter` is the identity of what their scatter adds.
fn slope_of(
    pairs: &[SizeReading],
    what: &str,
    scatter: Option<u32>,
) -> Result<Slope, GeometryProblem> {
    let help = format!("two {what} or more of different size");
    if pairs.len() < 2 {
        let found = if pairs.is_empty() { "none" } else { "one" };
        let message = format!("an angle needs two {what} at least; here is {found}");
        return Err(GeometryProblem::new("too_few_sizes", message, help));
    }
    let sizes: Vec<Uncertain> = pairs.iter().map(|pair| pair.size.clone()).collect();
    let readings: Vec<Uncertain> = pairs.iter().map(|pair| pair.reading.clone()).collect();
    let line = line_fit(&sizes, &readings, &Exact::ZERO).map_err(|_| {
        let size = sizes
            .first()
            .map_or(String::new(), |size| shown(&size.value));
        let message = format!("all {what} are of one size, {size} mm: that tells no angle");
        GeometryProblem::new("one_size", message, help)
    })?;
    let mut notices = Vec::new();
    let mut counts = None;
    if let Some(s) = line.s {
        let m = line.y_2.value.to_f64();
        let squares = pairs.iter().map(|pair| {
            let (x, y) = (pair.size.combined().u, pair.reading.combined().u);
            m * m * x * x + y * y
        });
        let expected = (squares.sum::<f64>() / sizes.len() as f64).sqrt();
        if stands_out(s, expected, m.abs()) {
            notices.push(format!(
                "the readings of {} {what} lie off one line by {s:.3} mm, and each is good to {expected:.3} mm",
                sizes.len()
            ));
            counts = scatter;
        }
    }
    Ok(Slope {
        line,
        scatter: counts,
        notices,
    })
}

/// Whether a scatter is more than what readings that are good to `expected` have: twice as large. What rounding
/// leaves beside numbers of the size of `scale` is none.
pub(super) fn stands_out(scatter: f64, expected: f64, scale: f64) -> bool {
    scatter > 2.0 * expected && scatter > 1e-9 * scale
}

#[cfg(test)]
#[path = "edge_gauges_tests.rs"]
mod tests;
