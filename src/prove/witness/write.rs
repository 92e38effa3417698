//! A whole boat written as a record of one version: under its names, in its units, exactly.

use super::super::boat::{BoatItem, Value, Values};
use super::super::common::{CommonKind, CommonMeasure, MeasureIx, PartIx, Side, TraitIx};
use super::super::term::What;
use super::complete::Complete;
use super::document::Document;
use super::number::{Style, repeated, style_of, written};
use super::places::Spot;
use crate::quantity::{Date, Dimension, Exact, Unit};
use crate::record::{FORMAT, Face};
use crate::vocabulary::{Measure, MeasureKind, Part};

/// What a part of a record says of one key.
type Said = Option<(String, Document)>;

/// Who measured.
const BY: &str = "AB";

impl Complete<'_> {
    /// The record of a version, as text.
    ///
    /// # Errors
    /// What can't be written down, in words.
    pub fn record(&self, side: Side) -> Result<String, String> {
        Ok(self.document(side)?.yaml())
    }

    /// The record of a version.
    ///
    /// # Errors
    /// As [`Complete::record`].
    pub fn document(&self, side: Side) -> Result<Document, String> {
        let rules = self.common.rules(side);
        let mut head = vec![
            ("format".to_owned(), Document::text(FORMAT)),
            ("class".to_owned(), Document::text(&rules.class.text)),
        ];
        head.extend(self.body(side)?);
        Ok(Document::Map(head))
    }

    /// What a record says besides its format and class.
    pub(super) fn body(&self, side: Side) -> Result<Vec<(String, Document)>, String> {
        let rules = self.common.rules(side);
        let mut body = Vec::new();
        let mut boat = vec![("sail_number".to_owned(), Document::text("T 1"))];
        if let Some(item) = self.boat.items.first() {
            boat.extend(self.item(side, 0, item)?);
        }
        body.push(("boat".to_owned(), Document::Map(boat)));
        let mut measured = vec![
            ("day".to_owned(), self.day()),
            ("by".to_owned(), Document::text(BY)),
        ];
        if self.at_20_degrees {
            measured.push(("temperature".to_owned(), Document::text("20 degC")));
        }
        body.push(("measured".to_owned(), Document::Map(measured)));
        let ids = self.ids();
        let groups = |at: usize| {
            self.boat
                .items
                .get(at)
                .is_some_and(|one| !one.roles.is_empty())
        };
        let order = (0..self.boat.items.len()).filter(|at| !groups(*at));
        let order = order.chain((0..self.boat.items.len()).filter(|at| groups(*at)));
        for at in order {
            let Some(item) = self.boat.items.get(at) else {
                continue;
            };
            let Some(holding) = item.holding else {
                continue;
            };
            let Some(common) = self.common.holding(holding) else {
                continue;
            };
            let Some(id) = common.at.at(side) else {
                continue;
            };
            let Some(declared) = rules.vocabulary.holding(id) else {
                continue;
            };
            let key = &declared.key.text;
            if !common.many {
                let said = Document::Map(self.item(side, at, item)?);
                body.push((key.clone(), said));
                continue;
            }
            let mut said = Vec::new();
            if let Some(id) = ids.get(at) {
                said.push(("id".to_owned(), Document::text(id)));
            }
            said.extend(self.members(side, item, &ids));
            said.extend(self.item(side, at, item)?);
            match body.iter_mut().find(|(known, _)| known == key) {
                Some((_, Document::List(list))) => list.push(Document::Map(said)),
                Some(_) | None => {
                    body.push((key.clone(), Document::List(vec![Document::Map(said)])));
                }
            }
        }
        if self.boat.unlisted {
            let unlisted = Document::map([
                ("part", Document::text("boat")),
                ("what", Document::text("a part that the rules do not name")),
                ("seen_by", Document::text(BY)),
                ("day", self.day()),
            ]);
            body.push(("unlisted".to_owned(), Document::List(vec![unlisted])));
        }
        Ok(body)
    }

    /// An id for each item: the first letter of its list and a number, each once on the boat.
    pub(super) fn ids(&self) -> Vec<String> {
        let mut counts = std::collections::BTreeMap::new();
        let each = self.boat.items.iter().map(|item| {
            let holding = item.holding.and_then(|id| self.common.holding(id));
            let letter = holding
                .and_then(|one| one.key.chars().next())
                .unwrap_or('b');
            let letter = letter.to_ascii_uppercase();
            let count = counts.entry(letter).or_insert(0_usize);
            *count += 1;
            format!("{letter}{count}")
        });
        each.collect()
    }

    fn day(&self) -> Document {
        Document::text(self.boat.day.to_string())
    }

    /// Which items fill the roles of a group.
    fn members(&self, side: Side, item: &BoatItem, ids: &[String]) -> Vec<(String, Document)> {
        let Some(part) = self.common.part(item.part) else {
            return Vec::new();
        };
        let declared = part.at.at(side);
        let declared = declared.and_then(|id| self.common.rules(side).vocabulary.part(id));
        let each = part
            .roles
            .iter()
            .zip(&item.roles)
            .filter_map(|(role, member)| {
                let name = &declared?.role(role.at.at(side)?)?.name.text;
                let holding = self.boat.items.get(*member)?.holding?;
                self.common.holding(holding)?.at.at(side)?;
                Some((name.clone(), Document::text(ids.get(*member)?)))
            });
        each.collect()
    }

    /// What is declared of an item and measured on it.
    fn item(
        &self,
        side: Side,
        at: usize,
        item: &BoatItem,
    ) -> Result<Vec<(String, Document)>, String> {
        let mut said = Vec::new();
        let common = self.common.part(item.part);
        let id = self.look().part_of(side, item.part);
        let declared = id.and_then(|id| self.common.rules(side).vocabulary.part(id));
        let (Some(common), Some(id), Some(declared)) = (common, id, declared) else {
            return Ok(said);
        };
        for slot in (0..).map(TraitIx).take(common.traits.len()) {
            said.extend(self.claimed(side, (slot, item), declared)?);
        }
        for slot in (0..).map(MeasureIx).take(common.measures.len()) {
            let Some(known) = common.measures.get(slot.index()) else {
                continue;
            };
            let Some(here) = known.at.at(side) else {
                continue;
            };
            let Some(measure) = declared.measures.get(here.index()) else {
                continue;
            };
            let style = style_of(self.common.rules(side), id, here);
            let found = self.measured((at, item), (slot, known), measure, style)?;
            said.extend(found.map(|found| (measure.name.text.clone(), found)));
        }
        Ok(said)
    }

    fn claimed(
        &self,
        side: Side,
        (slot, item): (TraitIx, &BoatItem),
        declared: &Part,
    ) -> Result<Said, String> {
        let common = self.common.part(item.part);
        let Some(known) = common.and_then(|part| part.traits.get(slot.index())) else {
            return Ok(None);
        };
        let own = known
            .at
            .at(side)
            .and_then(|id| declared.traits.get(id.index()));
        let Some(own) = own else {
            return Ok(None);
        };
        let name = own.name.text.clone();
        let value = |what: &What| {
            let term = self.terms.known(item.part, what)?;
            item.values.get(&term)
        };
        let word = |at: usize| {
            let choice = known.kind.choices().get(at).and_then(|one| one.at.at(side));
            let names = own.kind.names();
            let name = choice.and_then(|id| names.get(id.index()));
            name.map_or("other", |name| name.text.as_str()).to_owned()
        };
        let said = match (&known.kind, value(&What::Trait(slot))) {
            (CommonKind::Choice(_), Some(Value::Choice(at))) => {
                Some(Document::text(word(usize::from(*at))))
            }
            (CommonKind::Flag, Some(Value::Truth(yes))) => Some(Document::yes_no(*yes)),
            (CommonKind::Date, Some(Value::Day(day))) => Some(self.proven(*day)),
            (CommonKind::AnyOf(choices), _) => {
                let all = u16::try_from(choices.len()).unwrap_or(u16::MAX);
                let told: Vec<(u16, Option<bool>)> = (0..=all)
                    .map(|at| match value(&What::Listed(slot, at)) {
                        Some(Value::Truth(yes)) => (at, Some(*yes)),
                        Some(Value::Number(_) | Value::Day(_) | Value::Choice(_)) | None => {
                            (at, None)
                        }
                    })
                    .collect();
                if told.iter().all(|(_, yes)| yes.is_none()) {
                    return Ok(None);
                }
                let mut words: Vec<String> = Vec::new();
                let mut add = |at: u16| {
                    let word = word(usize::from(at));
                    if !words.contains(&word) {
                        words.push(word);
                    }
                };
                for (at, _) in told.iter().filter(|(_, yes)| *yes == Some(true)) {
                    add(*at);
                }
                if words.is_empty() {
                    // A list names one at least: one of which no rule speaks does no harm.
                    let free = |at: u16| {
                        let choice = choices.get(usize::from(at));
                        choice.is_some_and(|one| {
                            // A version without the list has none of its choices either.
                            Side::BOTH.iter().all(|side| {
                                known.at.at(*side).is_none() || one.at.at(*side).is_some()
                            })
                        })
                    };
                    let open = told.iter().find(|(at, yes)| yes.is_none() && free(*at));
                    match open {
                        Some((at, _)) => words.push(word(usize::from(*at))),
                        None => {
                            return Err(format!(
                                "{name} names nothing, and a list names one at least"
                            ));
                        }
                    }
                }
                Some(match words.as_slice() {
                    [word] => Document::text(word),
                    _ => Document::List(words.iter().map(Document::text).collect()),
                })
            }
            (CommonKind::Choice(_) | CommonKind::Flag | CommonKind::Date, _) => None,
        };
        Ok(said.map(|said| (name, said)))
    }

    /// A day with a paper that was seen.
    fn proven(&self, day: Date) -> Document {
        Document::map([
            ("date", Document::text(day.to_string())),
            ("proof", Document::text("builder invoice 17")),
            ("seen_by", Document::text(BY)),
            ("seen_on", self.day()),
        ])
    }

    /// All that is said of one measure.
    fn measured(
        &self,
        (at, item): (usize, &BoatItem),
        (slot, known): (MeasureIx, &CommonMeasure),
        measure: &Measure,
        style: Style,
    ) -> Result<Option<Document>, String> {
        if known.placed {
            return self.at_places((at, item.part), slot, measure, style);
        }
        let value = self.look().own(at, &What::Measure(slot));
        match known.kind {
            MeasureKind::YesNo => match value {
                Some(Value::Truth(yes)) => Ok(Some(Document::map([
                    ("answer", Document::yes_no(*yes)),
                    ("by", Document::text(BY)),
                    ("day", self.day()),
                ]))),
                Some(Value::Number(_) | Value::Day(_) | Value::Choice(_)) | None => Ok(None),
            },
            MeasureKind::Quantity(kind) => {
                let Some(number) = self.look().measure(at, slot) else {
                    return Ok(None);
                };
                let text = written(&number, kind.dimension(), style)?;
                let mut said = match measure.fixed_at {
                    Some(_) => vec![
                        ("value".to_owned(), Document::text(text)),
                        ("day".to_owned(), self.day()),
                        ("paper".to_owned(), Document::text("C-0117")),
                    ],
                    None => vec![
                        ("with".to_owned(), Document::text("exact")),
                        ("readings".to_owned(), Document::text(text)),
                    ],
                };
                said.extend(confirmed(&number, measure));
                Ok(Some(Document::Map(said)))
            }
            MeasureKind::Section => {
                let values = &item.values;
                Ok(self.bevels(item.part, slot, values)?.map(|bevels| {
                    Document::map([("with", Document::text("exact")), ("bevels", bevels)])
                }))
            }
            MeasureKind::Profile
            | MeasureKind::Line
            | MeasureKind::LoadTest
            | MeasureKind::Outline => self.structured(item, slot, measure),
        }
    }

    /// The bevels of a section.
    fn bevels(
        &self,
        part: PartIx,
        slot: MeasureIx,
        values: &Values,
    ) -> Result<Option<Document>, String> {
        let bevel = |what: What| match values.get(&self.terms.known(part, &what)?) {
            Some(Value::Number(number)) => Some(number.clone()),
            Some(Value::Day(_) | Value::Truth(_) | Value::Choice(_)) | None => None,
        };
        let both = (
            bevel(What::PortBevel(slot)),
            bevel(What::StarboardBevel(slot)),
        );
        let (port, starboard) = match both {
            (None, None) => return Ok(None),
            (Some(one), None) | (None, Some(one)) => (one.clone(), one),
            (Some(port), Some(starboard)) => (port, starboard),
        };
        let degrees = |angle: &Exact| written(angle, Dimension::ANGLE, Unit::DEG.into());
        Ok(Some(Document::map([
            ("port", Document::text(degrees(&port)?)),
            ("starboard", Document::text(degrees(&starboard)?)),
        ])))
    }

    fn at_places(
        &self,
        (at, part): (usize, PartIx),
        slot: MeasureIx,
        measure: &Measure,
        style: Style,
    ) -> Result<Option<Document>, String> {
        let repeats = self.look().repeats(part);
        let mut places = Vec::new();
        for spot in self.spots.get(at).map_or(&[][..], Vec::as_slice) {
            let told = match measure.kind {
                MeasureKind::Quantity(kind) => {
                    let term = self.terms.known(part, &What::Measure(slot));
                    let value = term.and_then(|term| spot.values.get(&term));
                    let Some(Value::Number(number)) = value else {
                        continue;
                    };
                    let text = written(number, kind.dimension(), style)?;
                    let mut told = vec![("readings".to_owned(), repeated(&text, repeats))];
                    told.extend(confirmed(number, measure));
                    told
                }
                MeasureKind::Section => match self.bevels(part, slot, &spot.values)? {
                    Some(bevels) => vec![("bevels".to_owned(), bevels)],
                    None => continue,
                },
                MeasureKind::YesNo
                | MeasureKind::Profile
                | MeasureKind::Line
                | MeasureKind::LoadTest
                | MeasureKind::Outline => continue,
            };
            let mut place = somewhere(spot, measure.kind == MeasureKind::Section)?;
            place.extend(told);
            let place = Document::Map(place);
            // A section says neither face nor distance: two that are alike are one.
            if !places.contains(&place) {
                places.push(place);
            }
        }
        if places.is_empty() {
            return Ok(None);
        }
        Ok(Some(Document::map([
            ("with", Document::text("exact")),
            ("places", Document::List(places)),
        ])))
    }
}

/// Where a place lies; a section has a position alone.
fn somewhere(spot: &Spot, section: bool) -> Result<Vec<(String, Document)>, String> {
    let length = |value: &Exact| written(value, Dimension::LENGTH, Unit::MM.into());
    let mut place = vec![("at".to_owned(), Document::text(length(&spot.at)?))];
    if section {
        return Ok(place);
    }
    if let Some(face) = spot.face {
        let word = match face {
            Face::Port => "port",
            Face::Starboard => "starboard",
        };
        place.push(("face".to_owned(), Document::text(word)));
    }
    if let Some(edge) = &spot.from_edge {
        place.push(("from_edge".to_owned(), Document::text(length(edge)?)));
    }
    Ok(place)
}

/// Who confirms a number that is implausible.
fn confirmed(number: &Exact, measure: &Measure) -> Said {
    let (low, high) = measure.plausible.as_ref()?;
    let outside = number < low || number > high;
    outside.then(|| ("confirmed_by".to_owned(), Document::text(BY)))
}
