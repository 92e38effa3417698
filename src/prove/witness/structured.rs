//! Readings of what is measured in several numbers: lines, tests under load, outlines.

use super::super::boat::{BoatItem, Value};
use super::super::common::MeasureIx;
use super::super::term::What;
use super::complete::Complete;
use super::document::Document;
use super::edge::Edge;
use super::number::{Style, written};
use crate::geometry::standard_gravity;
use crate::quantity::{Dimension, Exact, Unit};
use crate::vocabulary::{Measure, MeasureKind, Supports};

/// A step of a load test.
struct Step {
    load: Exact,
    dimension: Dimension,
    force: Exact,
    sinks: Exact,
}

fn length(value: &Exact) -> Result<String, String> {
    written(value, Dimension::LENGTH, Unit::MM.into())
}

/// `0 0.05 0 mm`, or each with its unit where one is a fraction.
fn lengths(values: &[Exact]) -> Result<Document, String> {
    let ends = values.iter().all(|value| value.decimals_needed().is_some());
    if ends {
        let numbers: Vec<String> = values.iter().map(Exact::to_string).collect();
        return Ok(Document::text(format!("{} mm", numbers.join(" "))));
    }
    let each: Result<Vec<String>, String> = values.iter().map(length).collect();
    Ok(Document::List(
        each?.into_iter().map(Document::Text).collect(),
    ))
}

impl Complete<'_> {
    /// What is said of a structured measure; nothing where no term speaks of it.
    pub(super) fn structured(
        &self,
        item: &BoatItem,
        slot: MeasureIx,
        measure: &Measure,
    ) -> Result<Option<Document>, String> {
        let mut numbers: Vec<(What, Exact)> = Vec::new();
        for (term, value) in &item.values {
            let what = self.terms.get(*term).map(|term| &term.what);
            if let (Some(what), Value::Number(number)) = (what, value)
                && measure_of(what) == Some(slot)
            {
                numbers.push((what.clone(), number.clone()));
            }
        }
        if numbers.is_empty() {
            return Ok(None);
        }
        let said = match measure.kind {
            MeasureKind::Profile => Edge::of(&numbers)?.document()?,
            MeasureKind::Line => line(&numbers)?,
            MeasureKind::LoadTest => load_test(&numbers, measure)?,
            MeasureKind::Outline => outline(&numbers)?,
            MeasureKind::Quantity(_) | MeasureKind::YesNo | MeasureKind::Section => {
                return Ok(None);
            }
        };
        let exact = ("with".to_owned(), Document::text("exact"));
        let said = std::iter::once(exact).chain(said);
        Ok(Some(Document::Map(said.collect())))
    }
}

/// The measure that a number belongs to.
fn measure_of(what: &What) -> Option<MeasureIx> {
    match what {
        What::Measure(slot)
        | What::PortBevel(slot)
        | What::StarboardBevel(slot)
        | What::Forward(slot, _)
        | What::Aft(slot, _)
        | What::GapAt(slot, _)
        | What::CrownRadius(slot)
        | What::Hollow(slot)
        | What::Straightness(slot)
        | What::Stiffness(slot)
        | What::Sinks(slot, _, _)
        | What::Area(slot)
        | What::AlongEnd(slot, _) => Some(*slot),
        What::Stage
        | What::Level
        | What::Day
        | What::Unlisted
        | What::Trait(_)
        | What::Listed(..)
        | What::Lowest(_)
        | What::Highest(_)
        | What::Mean(..)
        | What::LeftOut(..)
        | What::Converted(..)
        | What::At20(..)
        | What::Count(..)
        | What::Odd(..)
        | What::Sum(..)
        | What::Opaque(_)
        | What::PlaceAt
        | What::PlaceFromEdge => None,
    }
}

/// Both flanks of a blade whose middle stands off the line through its ends.
fn line(numbers: &[(What, Exact)]) -> Result<Vec<(String, Document)>, String> {
    let bend = numbers.iter().find_map(|(what, number)| match what {
        What::Straightness(_) => Some(number),
        _ => None,
    });
    let bend = bend.ok_or("nothing but the straightness of a line can be made")?;
    let far = Exact::from_integer(300);
    let stations = [far.neg(), Exact::ZERO, far];
    let flank = |bend: Exact| lengths(&[Exact::ZERO, bend, Exact::ZERO]);
    Ok(vec![
        ("stations".to_owned(), lengths(&stations)?),
        ("port".to_owned(), flank(bend.neg())?),
        ("starboard".to_owned(), flank(bend.clone())?),
    ])
}

/// A rectangle one metre wide.
fn outline(numbers: &[(What, Exact)]) -> Result<Vec<(String, Document)>, String> {
    let area = numbers.iter().find_map(|(what, number)| match what {
        What::Area(_) => Some(number),
        _ => None,
    });
    let area = area.ok_or("nothing but the area of an outline can be made")?;
    let wide = Exact::from_integer(1000);
    let high = area
        .checked_div(&wide)
        .ok_or("an outline without a width")?;
    if high.decimals_needed().is_none() {
        // Corners have no fractions. Of three like widths Simpson's rule makes two strips.
        let strips = wide.mul(&Exact::from_integer(2));
        let spacing = area
            .checked_div(&strips)
            .ok_or("an outline without a width")?;
        return Ok(vec![
            ("spacing".to_owned(), Document::text(length(&spacing)?)),
            ("widths".to_owned(), Document::text("1000 1000 1000 mm")),
        ]);
    }
    let zero = Exact::ZERO;
    let corners = [
        [&zero, &zero],
        [&wide, &zero],
        [&wide, &high],
        [&zero, &high],
    ];
    let corners: Result<Vec<Document>, String> = corners
        .iter()
        .map(|[x, y]| lengths(&[(*x).clone(), (*y).clone()]))
        .collect();
    Ok(vec![("points".to_owned(), Document::List(corners?))])
}

/// Steps of a test in which it sinks so far under some loads, and rises by so much load for each length over all.
fn load_test(
    numbers: &[(What, Exact)],
    measure: &Measure,
) -> Result<Vec<(String, Document)>, String> {
    let mut steps: Vec<Step> = Vec::new();
    let mut stiffness = None;
    for (what, number) in numbers {
        match what {
            What::Sinks(_, load, is_force) => {
                let (dimension, force) = if *is_force {
                    (Dimension::FORCE, load.clone())
                } else {
                    (Dimension::MASS, load.mul(&standard_gravity()))
                };
                steps.push(Step {
                    load: load.clone(),
                    dimension,
                    force,
                    sinks: number.clone(),
                });
            }
            What::Stiffness(_) => stiffness = Some(number),
            _ => {}
        }
    }
    if !steps.iter().any(|step| step.load.is_zero()) {
        steps.push(Step {
            load: Exact::ZERO,
            dimension: Dimension::MASS,
            force: Exact::ZERO,
            sinks: Exact::ZERO,
        });
    }
    steps.sort_by(|a, b| a.force.cmp(&b.force));
    let same = steps.windows(2).any(|pair| match pair {
        [a, b] => a.force == b.force && a.sinks != b.sinks,
        _ => false,
    });
    if same {
        return Err("it sinks differently under the same load".to_owned());
    }
    if let Some(stiffness) = stiffness {
        stiffen(&mut steps, stiffness)?;
    }
    let mut said = Vec::new();
    if let Some(setup) = &measure.setup {
        let span = written(&setup.span, Dimension::LENGTH, setup.unit.into())?;
        let mut words = Supports::WORDS.iter();
        let word = words.find(|(_, one)| *one == setup.supports);
        said.push(("span".to_owned(), Document::text(span)));
        said.extend(word.map(|(word, _)| ("supports".to_owned(), Document::text(*word))));
    }
    let steps: Result<Vec<Document>, String> = steps
        .iter()
        .map(|step| {
            Ok(Document::map([
                (
                    "load",
                    Document::text(written(&step.load, step.dimension, Style::default())?),
                ),
                ("sinks", Document::text(length(&step.sinks)?)),
            ]))
        })
        .collect();
    said.push(("steps".to_owned(), Document::List(steps?)));
    Ok(said)
}

/// Adds heavier steps, so that the slope over all steps comes out. The slope is that of deflection over load by least
/// squares; what is sought is its reciprocal.
fn stiffen(steps: &mut Vec<Step>, stiffness: &Exact) -> Result<(), String> {
    let slope = Exact::ONE
        .checked_div(stiffness)
        .filter(|slope| slope.signum() > 0)
        .ok_or("no test has a stiffness that is not above zero")?;
    let fail = || "no step makes the stiffness beside how far it sinks".to_owned();
    if steps.len() == 1 {
        // So far, and the load that it takes.
        for sinks in [10, 20] {
            let sinks = Exact::from_integer(sinks);
            let force = stiffness.mul(&sinks);
            steps.push(Step {
                load: force.clone(),
                dimension: Dimension::FORCE,
                force,
                sinks,
            });
        }
        return Ok(());
    }
    let heaviest = steps
        .last()
        .map(|step| step.force.clone())
        .ok_or_else(fail)?;
    let deepest = steps
        .iter()
        .map(|step| step.sinks.clone())
        .max()
        .ok_or_else(fail)?;
    let steps_so_far = Exact::from_integer(i64::try_from(steps.len()).unwrap_or(i64::MAX));
    let count = steps_so_far.add(&Exact::ONE);
    let total = steps
        .iter()
        .fold(Exact::ZERO, |sum, step| sum.add(&step.force));
    // The last y is divided by the last x less the mean, n times which is a power of ten or nearly: it stays short.
    let exponent = heaviest.mul(&steps_so_far).leading_exponent();
    let powers = (exponent..exponent + 4).map(Exact::power_of_ten);
    let ways =
        powers.flat_map(|power| [1, 2, 4, 5, 8].map(|by| power.mul(&Exact::from_integer(by))));
    for way in ways {
        let force = total
            .add(&way)
            .checked_div(&steps_so_far)
            .ok_or_else(fail)?;
        if force <= heaviest {
            continue;
        }
        // Least squares: sum of (x - mean of x) y = slope times sum of (x - mean of x) squared, linear in the last y.
        let forces = || steps.iter().map(|step| &step.force).chain([&force]);
        let sum = forces().fold(Exact::ZERO, |sum, one| sum.add(one));
        let mean = sum.checked_div(&count).ok_or_else(fail)?;
        let square = forces().fold(Exact::ZERO, |sum, one| {
            let way = one.sub(&mean);
            sum.add(&way.mul(&way))
        });
        let known = steps.iter().fold(Exact::ZERO, |sum, step| {
            sum.add(&step.force.sub(&mean).mul(&step.sinks))
        });
        let sinks = slope
            .mul(&square)
            .sub(&known)
            .checked_div(&force.sub(&mean));
        let Some(sinks) = sinks.filter(|sinks| *sinks >= deepest) else {
            continue;
        };
        if length(&sinks).is_err() || written(&force, Dimension::FORCE, Style::default()).is_err() {
            continue;
        }
        steps.push(Step {
            load: force.clone(),
            dimension: Dimension::FORCE,
            force,
            sinks,
        });
        return Ok(());
    }
    Err(fail())
}
