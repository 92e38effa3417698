//! Readings that belong together, found again by the columns that would fill them.

use super::export::Writer;
use super::inside::{Inside, Step, parse};
use super::model::Column;
use super::target::{Target, What};
use crate::quantity::{Exact, Quantity};
use crate::record::model::{
    Content, EdgeReadings, Found, Measured, OutlineShape, Reading, Record, Series,
};
use crate::record::{EdgeAcross, SizedReading};
use crate::vocabulary::{HoldingId, Measure, MeasureId, RoleId, Supports};

/// What stands at a place inside a measure.
enum Leaf<'r> {
    Reading(&'r Reading),
    Length(&'r Exact, crate::quantity::Unit),
    Word(&'static str),
}

/// Places inside a measure with what stands there.
struct Leaves<'m, 'r> {
    measure: &'m Measure,
    all: Vec<(Inside, Leaf<'r>)>,
}

impl<'r> Leaves<'_, 'r> {
    fn put(&mut self, path: &str, leaf: Leaf<'r>) {
        let steps: Vec<&str> = path.split('.').collect();
        if let Ok(place) = parse(self.measure, &steps) {
            self.all.push((place, leaf));
        }
    }

    fn reading(&mut self, path: &str, reading: &'r Reading) {
        self.put(path, Leaf::Reading(reading));
    }

    fn list(&mut self, key: &str, readings: &'r [Reading]) {
        for (at, reading) in readings.iter().enumerate() {
            self.reading(&format!("{key}.{}", at + 1), reading);
        }
    }

    fn points(&mut self, key: &str, points: &'r [[Reading; 2]]) {
        for (at, [x, y]) in points.iter().enumerate() {
            self.reading(&format!("{key}.{}.x", at + 1), x);
            self.reading(&format!("{key}.{}.y", at + 1), y);
        }
    }

    fn sized(&mut self, key: &str, [size, own]: [&str; 2], all: &'r [SizedReading]) {
        for (at, one) in all.iter().enumerate() {
            self.reading(&format!("{key}.{}.{size}", at + 1), &one.size);
            self.reading(&format!("{key}.{}.{own}", at + 1), &one.reading);
        }
    }

    fn across(&mut self, before: &str, edge: &'r EdgeAcross) {
        match edge {
            EdgeAcross::Bevels { port, starboard } => {
                self.reading(&format!("{before}bevels.port"), port);
                self.reading(&format!("{before}bevels.starboard"), starboard);
            }
            EdgeAcross::Points(points) => {
                self.points(&format!("{before}points.port"), &points.port);
                self.points(&format!("{before}points.starboard"), &points.starboard);
                if let Some(radius) = &points.edge_radius {
                    self.reading(&format!("{before}points.edge_radius"), radius);
                }
            }
            EdgeAcross::Sine(sine) => {
                self.reading(&format!("{before}sine.length"), &sine.length);
                self.reading(&format!("{before}sine.port"), &sine.port);
                self.reading(&format!("{before}sine.starboard"), &sine.starboard);
            }
            EdgeAcross::Pins(all) => {
                self.sized(&format!("{before}pins"), ["diameter", "over"], all);
            }
            EdgeAcross::Rollers(all) => {
                self.sized(&format!("{before}rollers"), ["diameter", "height"], all);
            }
            EdgeAcross::Widths(all) => {
                self.sized(&format!("{before}widths"), ["depth", "width"], all);
            }
        }
    }

    fn content(&mut self, content: &'r Content) {
        match content {
            Content::Places(_) => {}
            Content::Profile(profile) => {
                if let Some(contact) = &profile.contact {
                    self.reading("contact", contact);
                }
                match &profile.edge {
                    EdgeReadings::Shims(shims) => {
                        for (at, one) in shims.iter().enumerate() {
                            let at = at + 1;
                            self.reading(&format!("shims.{at}.gap"), &one.gap);
                            self.reading(&format!("shims.{at}.forward"), &one.forward);
                            self.reading(&format!("shims.{at}.aft"), &one.aft);
                        }
                    }
                    EdgeReadings::Stations(stations) => {
                        for (at, one) in stations.iter().enumerate() {
                            self.reading(&format!("stations.{}", at + 1), &one.at);
                            self.reading(&format!("gaps.{}", at + 1), &one.gap);
                        }
                    }
                }
            }
            Content::Line(line) => {
                self.list("stations", &line.stations);
                for (key, flank) in [("port", &line.port), ("starboard", &line.starboard)] {
                    self.list(key, flank.as_deref().unwrap_or_default());
                }
            }
            Content::Sections(sections) => {
                for (at, one) in sections.iter().enumerate() {
                    let before = match self.measure.placed {
                        true => format!("places.{}.", at + 1),
                        false => String::new(),
                    };
                    if let Some(at) = &one.place.at {
                        let unit = one.place.unit.unwrap_or(crate::quantity::Unit::MM);
                        self.put(&format!("{before}at"), Leaf::Length(at, unit));
                    }
                    self.across(&before, &one.edge);
                }
            }
            Content::LoadTest(test) => {
                if let Some(apart) = &test.apart {
                    self.reading("span", apart);
                }
                let word = Supports::WORDS
                    .into_iter()
                    .find(|(_, one)| Some(*one) == test.supports);
                if let Some((word, _)) = word {
                    self.put("supports", Leaf::Word(word));
                }
                for (at, one) in test.steps.iter().enumerate() {
                    self.reading(&format!("steps.{}.load", at + 1), &one.load);
                    self.reading(&format!("steps.{}.sinks", at + 1), &one.sinks);
                }
            }
            Content::Outline(outline) => match &outline.shape {
                OutlineShape::Corners(corners) => self.points("points", corners),
                OutlineShape::Widths { spacing, widths } => {
                    self.reading("spacing", spacing);
                    self.list("widths", widths);
                }
            },
        }
    }

    fn at(&self, place: Inside) -> Option<&Leaf<'r>> {
        self.all
            .iter()
            .find(|(known, _)| *known == place)
            .map(|(_, leaf)| leaf)
    }
}

/// Whether two places are of one entry of a list, or of lists that go side by side.
fn same_entry(one: Inside, other: Inside, depth: usize) -> bool {
    let same = (0..=depth).all(|at| one.step(at) == other.step(at));
    let side_by_side = |place: Inside| {
        matches!(
            place.step(0),
            Some(Step::Key(_, "stations" | "gaps" | "port" | "starboard"))
        )
    };
    same || depth == 1 && side_by_side(one) && side_by_side(other) && one.step(1) == other.step(1)
}

impl Writer<'_> {
    /// The columns of one measure of one part, with the place that each fills.
    fn of_measure(
        &self,
        holding: Option<HoldingId>,
        id: Option<&str>,
        measure: MeasureId,
    ) -> Vec<(&Column, Inside)> {
        let columns = self.spec.columns.iter();
        let of_it = columns.filter_map(|column| match &column.target {
            Target::Item {
                holding: own,
                id: own_id,
                what: What::Inside(known, place),
            } if *own == holding && own_id.as_deref() == id && *known == measure => {
                Some((column, *place))
            }
            Target::SailNumber | Target::Boat(_) | Target::Measured(_) | Target::Item { .. } => {
                None
            }
        });
        of_it.collect()
    }

    /// The text of a cell that is filled from inside a measure.
    pub(super) fn inside(
        &self,
        measured: &Measured,
        measure: &Measure,
        column: &Column,
    ) -> Option<String> {
        let (leaves, columns, place) = self.leaves(measured, measure, column)?;
        let found = resolved(&columns, &leaves, place)?;
        Some(match leaves.at(found)? {
            Leaf::Reading(reading) => self.quantity(reading, column),
            Leaf::Length(value, unit) => {
                self.number(&unit.from_base(value).to_string(), *unit, column)
            }
            Leaf::Word(word) => self.word(word, column),
        })
    }

    /// Counts what of a measure no column and no constant of the map tells.
    pub(super) fn rest_inside(&mut self, measured: &Measured, measure: &Measure, column: &Column) {
        let name = measure_path(column);
        let Some((leaves, columns, _)) = self.leaves(measured, measure, column) else {
            return;
        };
        let mut told: Vec<Inside> = Vec::new();
        for (one, place) in &columns {
            let Some(found) = resolved(&columns, &leaves, *place) else {
                continue;
            };
            told.push(found);
            // A constant that led to the entry tells what it is.
            let beside = one.details.iter();
            let beside = beside.filter_map(|(key, _, _)| place.beside(measure, key));
            told.extend(beside.filter_map(|place| resolved(&columns, &leaves, place)));
        }
        let lost = leaves.all.iter().filter(|(place, _)| !told.contains(place));
        let lost = lost.count();
        self.left(format!("{name}: further readings"), lost);
    }

    #[expect(clippy::type_complexity, reason = "what both callers look at together")]
    fn leaves<'s, 'r>(
        &'s self,
        measured: &'r Measured,
        measure: &'s Measure,
        column: &Column,
    ) -> Option<(Leaves<'s, 'r>, Vec<(&'s Column, Inside)>, Inside)> {
        let Target::Item {
            holding,
            id,
            what: What::Inside(slot, place),
        } = &column.target
        else {
            return None;
        };
        let series: &Series = match &measured.found {
            Found::Series(all) => all.first()?,
            Found::Answer(_) | Found::First(_) => return None,
        };
        let mut leaves = Leaves {
            measure,
            all: Vec::new(),
        };
        leaves.content(&series.content);
        let columns = self.of_measure(*holding, id.as_deref(), *slot);
        Some((leaves, columns, *place))
    }

    /// The part that fills a role: its id, and where two parts have it, its path.
    pub(super) fn role(&self, record: &Record, item: usize, role: RoleId) -> Option<String> {
        let member = record.items.get(item)?.member(role)?;
        let part = record.items.get(member.item)?;
        let id = part.id.clone()?;
        let twice = record.items.iter().filter(|one| one.id == part.id).count() > 1;
        Some(match twice {
            true => part.path(self.vocabulary),
            false => id,
        })
    }
}

/// `runners.edge_profile` of `runners.edge_profile.shims.1.gap`.
fn measure_path(column: &Column) -> String {
    let Target::Item {
        what: What::Inside(_, place),
        ..
    } = &column.target
    else {
        return column.path.clone();
    };
    let inside = format!(".{}", place.written());
    let whole = column.path.strip_suffix(&inside);
    whole.unwrap_or(&column.path).to_owned()
}

/// The place of a record that a column means: entries that the map tells by a constant are found by it, others by their
/// number.
fn resolved(
    columns: &[(&Column, Inside)],
    leaves: &Leaves<'_, '_>,
    place: Inside,
) -> Option<Inside> {
    let mut real = place;
    for (depth, step) in place.steps().enumerate() {
        let Step::Number(_) = step else {
            continue;
        };
        let told = columns.iter().find_map(|(column, other)| {
            column.details.iter().find_map(|(key, text, _)| {
                let beside = other.beside(leaves.measure, key)?;
                same_entry(beside, place, depth).then_some((beside, text))
            })
        });
        let Some((beside, text)) = told else {
            continue;
        };
        let wanted = Quantity::parse(text).ok()?.value;
        let number = leaves.all.iter().find_map(|(known, leaf)| {
            let Some(Step::Number(number)) = known.step(depth) else {
                return None;
            };
            let mut candidate = beside.with_number(depth, number);
            for before in 0..depth {
                if let Some(Step::Number(number)) = real.step(before) {
                    candidate = candidate.with_number(before, number);
                }
            }
            let value = match leaf {
                Leaf::Reading(reading) => &reading.value,
                Leaf::Length(value, _) => *value,
                Leaf::Word(_) => return None,
            };
            (candidate == *known && *value == wanted).then_some(number)
        })?;
        real = real.with_number(depth, number);
    }
    leaves.at(real).is_some().then_some(real)
}
