//! Tests under load: stiffness, deflection at a load, hysteresis.
//!
//! Loads in kg mm/s2 (1 N is 1000 of them), deflections in mm, counted from where the item stood without a
//! load. How a test is set up is the class's; that rollers under the ends take friction away is common
//! practice, no source.

use super::line_fit::line_fit;
use super::problem::{GeometryProblem, shown};
use crate::quantity::{Exact, Number};
use crate::uncertainty::{Bound, Part, PartKind, Uncertain};

/// One load with the deflection under it.
#[derive(Clone, Debug)]
pub struct LoadPoint {
    /// The load as a force.
    pub load: Uncertain,
    /// How far the item sinks.
    pub sinks: Uncertain,
}

/// Standard gravity, 9.80665 m/s2, in mm/s2: exact by definition. Source: 3rd CGPM (1901), declaration on
/// the unit of mass and the definition of weight.
pub fn standard_gravity() -> Exact {
    Exact::from_fraction(980_665, 100).unwrap_or(Exact::ONE)
}

/// The force with which a mass rests on something at standard gravity.
pub fn weight(mass: &Uncertain) -> Uncertain {
    mass.scale(&standard_gravity())
}

/// The slope of load over deflection: the reciprocal of the least-squares slope of deflection over load, since
/// it is the deflection that scatters. Base units: kg/s2, of which 1 N/mm has 1000.
///
/// `scatter` is the identity of the source of the scatter about the line; `None` leaves it out, for readings
/// that are exact by declaration.
///
/// # Errors
/// Fewer than three steps, all under one load, or an item that does not sink further under more load.
pub fn stiffness(steps: &[LoadPoint], scatter: Option<u32>) -> Result<Uncertain, GeometryProblem> {
    if steps.len() < 3 {
        return Err(GeometryProblem::new(
            "too_few_steps",
            format!(
                "{} step{}: a slope needs three, of which two loads differ",
                steps.len(),
                if steps.len() == 1 { "" } else { "s" }
            ),
            "put loads on and take them off, and read at each",
        ));
    }
    let loads: Vec<Uncertain> = steps.iter().map(|one| one.load.clone()).collect();
    let sinks: Vec<Uncertain> = steps.iter().map(|one| one.sinks.clone()).collect();
    let fit = line_fit(&loads, &sinks, &Exact::ZERO).map_err(|_| {
        GeometryProblem::new(
            "one_load",
            "all steps are under one load",
            "read under two loads at least",
        )
    })?;
    let mut slope = fit.y_2;
    if slope.value.signum() != Some(1) {
        return Err(GeometryProblem::new(
            "does_not_sink",
            "it does not sink further under more load",
            "read how far it sinks below where it stood without a load",
        ));
    }
    if let Some(source) = scatter
        && fit.u_2 > 0.0
    {
        let part = Part::new(PartKind::Repeatability, source, source, fit.u_2, fit.nu);
        let scattered = Uncertain::new(Number::Exact(Exact::ZERO), [part]);
        slope = slope.add(&scattered);
    }
    let one = Uncertain::exact(Exact::ONE);
    one.div(&slope).ok_or_else(|| {
        GeometryProblem::new(
            "one_sided",
            "a one-sided reading leaves no slope",
            "read how far it sinks at each load",
        )
    })
}

/// The steps on the way up: each at least as heavy as all before it.
fn way_up(steps: &[LoadPoint]) -> Vec<&LoadPoint> {
    let mut up: Vec<&LoadPoint> = Vec::new();
    for step in steps {
        let heavier = up
            .last()
            .and_then(|last| step.load.value.compare(&last.load.value));
        if heavier.is_none_or(|order| order.is_ge()) {
            up.push(step);
        }
    }
    up
}

/// How far the item sinks under a load, on the way up: a step's reading, or between two steps in proportion.
/// Above the heaviest step it sinks at least as far as there, below the lightest at most.
///
/// # Errors
/// No step.
pub fn deflection_at(steps: &[LoadPoint], load: &Exact) -> Result<Uncertain, GeometryProblem> {
    let up = way_up(steps);
    let asked = Number::Exact(load.clone());
    let order = |step: &LoadPoint| step.load.value.compare(&asked);
    let below = up
        .iter()
        .rev()
        .find(|step| order(step).is_some_and(|order| order.is_le()));
    let above = up
        .iter()
        .find(|step| order(step).is_some_and(|order| order.is_ge()));
    match (below, above) {
        (Some(low), Some(high)) => {
            let over = high.load.value.sub(&low.load.value);
            let share = asked.sub(&low.load.value).checked_div(&over);
            let Some(share) = share else {
                return Ok(at_step(&up, low));
            };
            let rise = high.sinks.value.sub(&low.sinks.value);
            let value = low.sinks.value.add(&rise.mul(&share));
            let (t, m) = (share.to_f64(), rise.to_f64() / over.to_f64());
            Ok(Uncertain::linear(
                value,
                &[
                    (&low.sinks, 1.0 - t),
                    (&high.sinks, t),
                    (&low.load, -m * (1.0 - t)),
                    (&high.load, -m * t),
                ],
            ))
        }
        (Some(last), None) => Ok(open(&last.sinks, Bound::AtLeast)),
        (None, Some(first)) => Ok(open(&first.sinks, Bound::AtMost)),
        (None, None) => Err(GeometryProblem::new(
            "no_step",
            "the test has no step",
            "read how far it sinks under a load",
        )),
    }
}

/// The reading of a step, or the mean of the steps on the way up under the same load. The doubt about the load
/// counts by how steeply the item sinks there.
fn at_step(up: &[&LoadPoint], step: &LoadPoint) -> Uncertain {
    let here = |other: &&&LoadPoint| {
        let order = other.load.value.compare(&step.load.value);
        order.is_some_and(|order| order.is_eq())
    };
    let same: Vec<&&LoadPoint> = up.iter().filter(here).collect();
    let count = i64::try_from(same.len()).unwrap_or(1).max(1);
    let share = Exact::ONE.checked_div(&Exact::from_integer(count));
    let mean = Uncertain::sum(same.iter().map(|one| &one.sinks));
    let mean = mean.scale(&share.unwrap_or(Exact::ONE));
    let load = Uncertain::sum(same.iter().map(|one| &one.load));
    let load = load.scale(
        &Exact::ONE
            .checked_div(&Exact::from_integer(count))
            .unwrap_or(Exact::ONE),
    );
    let near = up.iter().rev().find(|one| !here(one));
    let slope = match near {
        Some(near) => {
            let over = step.load.value.sub(&near.load.value).to_f64();
            step.sinks.value.sub(&near.sinks.value).to_f64() / over
        }
        // From where it stood without a load.
        None if step.load.value.signum() == Some(0) => 0.0,
        None => step.sinks.value.to_f64() / step.load.value.to_f64(),
    };
    Uncertain::linear(mean.value.clone(), &[(&mean, 1.0), (&load, -slope)])
}

fn open(sinks: &Uncertain, bound: Bound) -> Uncertain {
    let bound = match sinks.bound {
        None => bound,
        Some(own) if own == bound => bound,
        Some(_) => Bound::Neither,
    };
    sinks.clone().with_bound(Some(bound))
}

/// The largest difference between the way back and the way up, mm; `None` where no step is on the way back.
/// Without a step at that load on the way up the item stood where it started, or in proportion between two.
pub fn hysteresis(steps: &[LoadPoint]) -> Option<Number> {
    let up = way_up(steps);
    let back = steps
        .iter()
        .filter(|step| !up.iter().any(|one| std::ptr::eq(*one, *step)));
    let differences = back.filter_map(|step| {
        let load = step.load.value.as_exact()?;
        let there = if load.is_zero() && !up.iter().any(|one| one.load.value.signum() == Some(0)) {
            Uncertain::exact(Exact::ZERO)
        } else {
            deflection_at(steps, load).ok()?
        };
        (there.bound.is_none() && step.sinks.bound.is_none())
            .then(|| step.sinks.value.sub(&there.value).abs())
    });
    differences.reduce(|a, b| a.max(&b))
}

/// What a report says of hysteresis.
pub fn hysteresis_note(steps: &[LoadPoint]) -> Option<String> {
    let found = hysteresis(steps)?;
    Some(format!(
        "way back and way up differ by up to {} mm (hysteresis)",
        shown(&found)
    ))
}
