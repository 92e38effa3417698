//! A value moved inside the doubt: read with an invented instrument, so far from a limit that the versions differ.

use super::super::common::{MeasureIx, PartIx, Side};
use super::super::witness::Document;
use super::difference::{Matched, floor_of};
use super::doubt::{Policy, outcomes};
use super::edit::{
    Errors, PROBE, Pair, Place, add_probe, entry, item, list, measure_key, move_readings, put,
    quantities, readings, series, take,
};
use super::needs::{Demand, Need};
use super::trial::{Bench, Toward, When};
use crate::check::{Finding, FoundPlace, ItemRef, RuleRef};
use crate::quantity::{Exact, Quantity, Ties, Unit};
use crate::rules::{BoundKind, Judged};
use crate::vocabulary::MeasureKind;

/// What a value is read with.
#[derive(Clone, Debug)]
pub enum With {
    /// An instrument of a kind that both versions know, with errors far above every floor.
    Coarse,
    /// An instrument of a kind, or none at all (`unnamed`), so good that the floor of the method counts.
    Method(String),
    /// An instrument that scatters, so that U of a mean is smaller than of one place.
    Scattering,
}

/// A boat with a value inside the doubt, and the same boat with it known exactly.
#[derive(Clone, Debug)]
pub struct InDoubt {
    /// With the value known exactly.
    pub exact: Pair,
    /// With the value as it was read.
    pub read: Pair,
    /// In words.
    pub told: String,
}

/// What is moved.
struct Moved<'a, 'r> {
    bench: &'a Bench<'a, 'r>,
    measure: (PartIx, MeasureIx),
    place: Place,
    errors: Errors,
    kind: String,
    unit: Unit,
    /// Every place, or the one that was judged.
    all: bool,
}

/// Boats with a value of a measure inside the doubt of a rule that both versions have, toward a direction.
pub fn in_doubt(
    bench: &Bench<'_, '_>,
    matched: &Matched<'_>,
    (old, new): (usize, usize),
    (pair, when): (&Pair, &When),
    (with, toward): (&With, Toward),
    only: Option<(PartIx, MeasureIx)>,
) -> Vec<InDoubt> {
    let (Some(was), Some(is)) = (matched.old.get(old), matched.new.get(new)) else {
        return Vec::new();
    };
    let mut found = Vec::new();
    for need in was.needs.intersection(&is.needs) {
        let Need::Measure(part, slot) = need else {
            continue;
        };
        let quantity = bench
            .common
            .part(*part)
            .and_then(|one| one.measures.get(slot.index()));
        let quantity = quantity.is_some_and(|one| matches!(one.kind, MeasureKind::Quantity(_)));
        if !quantity || only.is_some_and(|only| only != (*part, *slot)) {
            continue;
        }
        for place in super::construct::tried(pair, bench.common, *part)
            .into_iter()
            .take(2)
        {
            let scales: &[i64] = match with {
                With::Coarse => &[4, 40],
                With::Method(_) | With::Scattering => &[1],
            };
            for scale in scales {
                let moved = moved(bench, (*part, *slot), place, (pair, with), *scale, is);
                if let Some(moved) = moved {
                    found.extend(moved.inside((was, is), (pair, when), toward));
                }
                if !found.is_empty() {
                    return found;
                }
            }
        }
    }
    found
}

fn moved<'a, 'r>(
    bench: &'a Bench<'a, 'r>,
    measure: (PartIx, MeasureIx),
    place: Place,
    (pair, with): (&Pair, &With),
    scale: i64,
    demand: &Demand<'_>,
) -> Option<Moved<'a, 'r>> {
    let (part, slot) = measure;
    let mut copy = pair.clone();
    let key = measure_key(bench.common, Side::New, part, slot)?;
    let said = entry(item(&mut copy.new, bench.common, Side::New, place)?, &key)?;
    let first: Quantity = {
        let readings = readings(series(said)?);
        quantities(readings.first()?).into_iter().next()?
    };
    let own = |side: Side| {
        let one = bench.common.part(part)?;
        let id = one.measures.get(slot.index())?.at.at(side)?;
        let vocabulary = &bench.common.rules(side).vocabulary;
        vocabulary.part(one.at.at(side)?)?.measures.get(id.index())
    };
    let (was, is) = (own(Side::Old)?, own(Side::New)?);
    let shared = |method: &&crate::vocabulary::Method| {
        method.name.text != "unnamed"
            && was
                .methods
                .iter()
                .any(|one| one.name.text == method.name.text)
    };
    let kind = is.methods.iter().find(shared);
    let kind = kind.map_or("gauge", |method| method.name.text.as_str());
    let floors = |method: &str| {
        let both = [floor_of(was, method), floor_of(is, method)];
        both.into_iter()
            .flatten()
            .max()
            .cloned()
            .unwrap_or(Exact::ZERO)
    };
    let tiny = |size: &Exact| {
        let part = size.checked_div(&Exact::from_integer(10_000));
        part.unwrap_or(Exact::ZERO)
    };
    let share = |of: i64| {
        let part = first.value.abs().checked_div(&Exact::from_integer(of));
        part.filter(|part| !part.is_zero()).unwrap_or(Exact::ONE)
    };
    let step = |size: &Exact| {
        let exponent = size.leading_exponent();
        size.round_to_multiple(&Exact::power_of_ten(exponent), Ties::Even)
    };
    let (kind, errors) = match with {
        With::Coarse => {
            let floor = floors(kind);
            let size = if floor.is_zero() { share(1000) } else { floor };
            let calibration = step(&size.mul(&Exact::from_integer(scale)));
            (
                kind.to_owned(),
                Errors {
                    calibration,
                    repeatability: None,
                },
            )
        }
        With::Method(method) => {
            let calibration = tiny(&step(&share(100)));
            (
                method.clone(),
                Errors {
                    calibration,
                    repeatability: None,
                },
            )
        }
        With::Scattering => {
            let floor = floors(kind);
            let size = if floor.is_zero() { share(1000) } else { floor };
            let size = step(&size.mul(&Exact::from_integer(4)));
            let errors = Errors {
                calibration: tiny(&size),
                repeatability: Some(size),
            };
            (kind.to_owned(), errors)
        }
    };
    let mean = demand.rule.is_some_and(|rule| rule.judged == Judged::Mean);
    Some(Moved {
        bench,
        measure,
        place,
        errors,
        kind,
        unit: first.unit,
        all: mean || matches!(with, With::Scattering),
    })
}

/// What a check says of a rule on one side of its limits.
struct Seen {
    margin: f64,
    expanded: f64,
    lower: bool,
    place: Option<FoundPlace>,
}

impl Moved<'_, '_> {
    fn common(&self) -> &super::super::common::Common<'_> {
        self.bench.common
    }

    /// Boats with the value inside the doubt, one for each way in which the versions can differ toward a direction.
    fn inside(
        &self,
        (was, is): (&Demand<'_>, &Demand<'_>),
        (pair, when): (&Pair, &When),
        toward: Toward,
    ) -> Vec<InDoubt> {
        let mut found = Vec::new();
        let Some(unmoved) = self.read(pair, when, None, None) else {
            return found;
        };
        found.push(InDoubt {
            exact: pair.clone(),
            read: unmoved.clone(),
            told: format!("{} is read with {}", self.about(), self.instrument()),
        });
        for lower in [true, false] {
            let old = self.seen(Side::Old, was, &unmoved, when, lower);
            let new = self.seen(Side::New, is, &unmoved, when, lower);
            let (Some(old), Some(new)) = (old, new) else {
                continue;
            };
            let policy = |side: Side, expanded: f64| {
                let decision = &self.common().rules(side).decision;
                Policy {
                    rule: *decision.rules.at(when.stage),
                    guard_factor: decision.guard_factor.clone(),
                    expanded,
                }
            };
            let wanted = outcomes(
                &policy(Side::Old, old.expanded),
                &policy(Side::New, new.expanded),
            );
            // Between borders, not on them.
            let wanted = wanted
                .iter()
                .step_by(2)
                .filter(|(_, was, is)| match toward {
                    Toward::Worse => is < was,
                    Toward::Better => is > was,
                });
            for (margin, _, _) in wanted {
                found.extend(self.at_margin((was, is), (pair, when), &new, *margin));
            }
        }
        found
    }

    /// The boat with the value moved so that a margin comes out.
    fn at_margin(
        &self,
        (_, is): (&Demand<'_>, &Demand<'_>),
        (pair, when): (&Pair, &When),
        seen: &Seen,
        wanted: f64,
    ) -> Option<InDoubt> {
        let start = self.value(pair, seen.place.as_ref())?;
        let inward = if seen.lower { 1.0 } else { -1.0 };
        let mut value = self.rounded(start.to_f64() + (wanted - seen.margin) * inward, seen)?;
        // The value judged may be made of more than this reading: what a move does is looked at, twice at most.
        for _ in 0..3 {
            let read = self.read(pair, when, Some(&value), seen.place.as_ref())?;
            let now = self.seen(Side::New, is, &read, when, seen.lower)?;
            let off = wanted - now.margin;
            if off.abs() <= 0.2 * seen.expanded {
                let exact = self.exact(pair, &value, seen.place.as_ref())?;
                let number = super::edit::same_readings(&value, self.unit, 1);
                return Some(InDoubt {
                    exact,
                    read,
                    told: format!(
                        "{} is {}, read with {}",
                        self.about(),
                        number.flow(),
                        self.instrument()
                    ),
                });
            }
            let moved = value.to_f64() - start.to_f64();
            let slope = (now.margin - seen.margin) / moved;
            if !slope.is_finite() || slope == 0.0 {
                return None;
            }
            value = self.rounded(value.to_f64() + off / slope, seen)?;
        }
        None
    }

    fn about(&self) -> String {
        let (part, slot) = self.measure;
        super::needs::told(Need::Measure(part, slot), self.common())
    }

    fn instrument(&self) -> String {
        if self.kind == "unnamed" {
            return "an instrument that is not named".to_owned();
        }
        let kind = self.kind.replace('_', " ");
        let size = super::edit::same_readings(&self.errors.calibration, self.unit, 1);
        match &self.errors.repeatability {
            None => format!("a {kind} of U = {}", size.flow()),
            Some(scatter) => {
                let size = super::edit::same_readings(scatter, self.unit, 1);
                format!("a {kind} that scatters by {}", size.flow())
            }
        }
    }

    /// Round in the unit of the readings, a twentieth of U or less.
    fn rounded(&self, value: f64, seen: &Seen) -> Option<Exact> {
        let value = self.unit.from_base(&Exact::from_f64_shortest(value)?);
        let step = Exact::from_f64_shortest(seen.expanded / 10.0)?;
        let step = self.unit.difference_from_base(&step);
        if step.is_zero() {
            return None;
        }
        let step = Exact::power_of_ten(step.leading_exponent());
        Some(
            self.unit
                .to_base(&value.round_to_multiple(&step, Ties::Even)),
        )
    }

    /// The series of the measure in a record.
    fn series<'d>(&self, document: &'d mut Document, side: Side) -> Option<&'d mut Document> {
        let (part, slot) = self.measure;
        let key = measure_key(self.common(), side, part, slot)?;
        series(entry(
            item(document, self.common(), side, self.place)?,
            &key,
        )?)
    }

    /// The value read at a place.
    fn value(&self, pair: &Pair, place: Option<&FoundPlace>) -> Option<Exact> {
        let mut document = pair.new.clone();
        let one = self.series(&mut document, Side::New)?;
        let chosen = chosen(one, place.filter(|_| !self.all));
        let readings = chosen.into_iter().next()?;
        let known = quantities(readings);
        known.first().map(|one| one.value.clone())
    }

    /// The boat with the value read by the instrument; moved where a value is given.
    fn read(
        &self,
        pair: &Pair,
        when: &When,
        value: Option<&Exact>,
        place: Option<&FoundPlace>,
    ) -> Option<Pair> {
        let mut changed = pair.clone();
        for side in Side::BOTH {
            let document = changed.at_mut(side);
            if self.kind != "unnamed" {
                add_probe(document, &self.kind, &self.errors, self.unit, when.day);
            }
            let one = self.series(document, side)?;
            self.put(one, value, place)?;
            if self.kind == "unnamed" {
                take(one, "with");
            } else {
                put(one, "with", Document::text(PROBE));
            }
            if one.get("taken").is_some() {
                put(one, "taken", Document::text(when.day.to_string()));
            }
        }
        Some(changed)
    }

    /// The boat with the value moved and known exactly.
    fn exact(&self, pair: &Pair, value: &Exact, place: Option<&FoundPlace>) -> Option<Pair> {
        let mut changed = pair.clone();
        for side in Side::BOTH {
            let one = self.series(changed.at_mut(side), side)?;
            self.put(one, Some(value), place)?;
            put(one, "with", Document::text("exact"));
        }
        Some(changed)
    }

    fn put(
        &self,
        series: &mut Document,
        value: Option<&Exact>,
        place: Option<&FoundPlace>,
    ) -> Option<()> {
        let Some(value) = value else {
            return Some(());
        };
        let mut any = false;
        for readings in chosen(series, place.filter(|_| !self.all)) {
            any |= move_readings(readings, value);
        }
        any.then_some(())
    }

    /// What a check says of the rule on an item that has the measure, on one side of its limits.
    fn seen(
        &self,
        side: Side,
        demand: &Demand<'_>,
        pair: &Pair,
        when: &When,
        lower: bool,
    ) -> Option<Seen> {
        let checked = self.bench.checked(side, pair.at(side), when)?;
        let rules = self.bench.plan(side).rules();
        let own = |one: &&Finding| match one.rule {
            RuleRef::Rule(at) => rules.rule(at).is_some_and(|rule| rule.id.text == demand.id),
            RuleRef::Marks(..)
            | RuleRef::Pairs(_)
            | RuleRef::Bring(..)
            | RuleRef::Equipment(_)
            | RuleRef::Role(..)
            | RuleRef::Silence(_)
            | RuleRef::Unlisted(_) => false,
        };
        let of_item = |one: &&Finding| match one.item {
            ItemRef::Holding(_) => false,
            ItemRef::Item(at) => {
                let (part, _) = self.measure;
                // A rule on the boat or on a group speaks of many items.
                if demand.on != part {
                    return true;
                }
                let found = checked.record.items.get(at);
                let holding = found.and_then(|one| one.holding);
                let ix = holding.and_then(|id| self.common().holding_of(side, id));
                let nth = checked
                    .record
                    .items
                    .iter()
                    .take(at)
                    .filter(|one| one.holding == holding)
                    .count();
                ix == self.place.holding && nth == self.place.nth
            }
        };
        let on_side = |one: &&Finding| {
            one.side
                .is_some_and(|kind: BoundKind| kind.is_lower() == lower)
        };
        let mut all = checked.findings.iter();
        let finding = all.find(|one| own(one) && of_item(one) && on_side(one))?;
        Some(Seen {
            margin: finding.margin.as_ref()?.to_f64(),
            expanded: finding.expanded.map_or(f64::NAN, |one| one.U),
            lower,
            place: finding.place.clone(),
        })
    }
}

/// The readings at a place, or all of them.
fn chosen<'d>(series: &'d mut Document, place: Option<&FoundPlace>) -> Vec<&'d mut Document> {
    let Some(place) = place else {
        return readings(series);
    };
    let same = |one: &Document, key: &str, wanted: Option<&Exact>| {
        let said = one.get(key).and_then(Document::as_text);
        let said = said.and_then(|text| Quantity::parse(text).ok());
        said.map(|one| one.value).as_ref() == wanted
    };
    // Without places there is one list.
    if series.get("places").is_none() {
        return readings(series);
    }
    let places = entry(series, "places").and_then(list).into_iter().flatten();
    let own = places.filter(|one| {
        same(one, "at", place.at.as_ref()) && same(one, "from_edge", place.from_edge.as_ref())
    });
    own.filter_map(|one| entry(one, "readings")).collect()
}
