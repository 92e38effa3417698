//! Places on an item with their readings, void ones set apart.

use super::model::*;
use super::reader::{Reader, take};
use super::values::{Allowed, Wanted};
use crate::quantity::Dimension;
use crate::text::{Entry, Span, quoted};
use crate::vocabulary::read;

/// Void readings as written: the number of the reading, why, by whom.
type Voided<'n> = Vec<(usize, &'n str, &'n str)>;

/// Faces by their words.
pub(super) const FACES: [(&str, Face); 2] = [("port", Face::Port), ("starboard", Face::Starboard)];

/// Whether two places are the same point of the item.
pub(super) fn same_place(one: &Where, other: &Where) -> bool {
    one.at.is_some()
        && one.at == other.at
        && one.face == other.face
        && one.from_edge == other.from_edge
}

impl<'a> Reader<'a> {
    #[cold]
    pub(super) fn unasked_places(&mut self, places: &Entry<'_>, name: &str, alone: bool) {
        let message = format!(
            "{} is one value of the whole, not taken at places",
            quoted(name)
        );
        let help = if alone {
            "write `readings: …` in their stead"
        } else {
            "take `places` out"
        };
        self.fault("record.place", places.key_span, message, "places", help);
    }

    pub(super) fn places(
        &mut self,
        entry: &'a Entry<'a>,
        wanted: Wanted<'_>,
    ) -> Option<Vec<Place>> {
        const WHAT: &str = "a place";
        const FORM: &str = "`places: [ { at: -300 mm, readings: 4.76 4.77 4.75 mm } ]`";
        let nodes = self.readings_listed(entry, ("a list of places", FORM), "no place", 1)?;
        let mut found = Vec::with_capacity(nodes.len());
        for node in nodes {
            if self.is_full() {
                return None;
            }
            let Some(entries) = self.mapping(node, None, WHAT, FORM) else {
                continue;
            };
            let span = node.label_span(None);
            take!(self, entries, WHAT;
                "at" => at, "face" => face, "from_edge" => from_edge, "readings" => readings,
                "void" => void, "confirmed_by" => confirmed_by,
            );
            let before = self.faults.len();
            let place = self.place_on_item(at, face, from_edge);
            let readings = self.require(
                readings,
                "readings",
                WHAT,
                entries,
                span,
                "write `readings: 4.76 4.77 4.75 mm`",
            );
            let read =
                readings.and_then(|entry| self.place(entry, void, confirmed_by, place, wanted));
            if let Some(read) = read
                && self.faults.len() == before
            {
                let at = at.map_or(span, |entry| entry.node.span);
                self.place_once(
                    &read.place,
                    found.iter().map(|place: &Place| &place.place),
                    at,
                );
                found.push(read);
            }
        }
        (found.len() == nodes.len()).then_some(found)
    }

    /// Where on the item.
    pub(super) fn place_on_item(
        &mut self,
        at: Option<&'a Entry<'a>>,
        face: Option<&'a Entry<'a>>,
        from_edge: Option<&'a Entry<'a>>,
    ) -> Where {
        let mut place = Where::default();
        if let Some(entry) = at {
            let wanted = Wanted::new("at", Dimension::LENGTH, Allowed::Any);
            if let Some(quantity) = self.quantity(&entry.node, Some(entry.key_span), wanted) {
                place.unit = Some(quantity.unit);
                place.at = Some(quantity.value);
            }
        }
        place.face = face.and_then(|entry| self.face(entry));
        place.from_edge = from_edge.and_then(|entry| {
            let wanted = Wanted::new("from_edge", Dimension::LENGTH, Allowed::FromZero);
            self.quantity(&entry.node, Some(entry.key_span), wanted)
                .map(|quantity| quantity.value)
        });
        place
    }

    fn face(&mut self, entry: &'a Entry<'a>) -> Option<Face> {
        let text = self.word(entry, "port or starboard")?;
        let span = entry.node.label_span(Some(entry.key_span));
        read::one_of(text, span, "a face", FACES.into_iter(), &mut self.faults)
    }

    /// Two places of a series that are the same point would be decided twice, each with half its readings.
    pub(super) fn place_once<'p>(
        &mut self,
        place: &Where,
        mut others: impl Iterator<Item = &'p Where>,
        span: Span,
    ) {
        if others.any(|other| same_place(other, place)) {
            let help = "readings of one place stand together: `readings: 4.76 4.77 mm`";
            self.fault(
                "record.place_twice",
                span,
                "this place is there already in the same series",
                "again here",
                help,
            );
        }
    }

    /// The readings of one place, void ones set apart.
    pub(super) fn place(
        &mut self,
        readings: &'a Entry<'a>,
        void: Option<&'a Entry<'a>>,
        confirmed_by: Option<&'a Entry<'a>>,
        place: Where,
        wanted: Wanted<'_>,
    ) -> Option<Place> {
        let voided = match void {
            Some(entry) => self.voided(entry)?,
            None => Vec::new(),
        };
        // A reading that is void can be anything of the right kind.
        let free = Wanted {
            allowed: Allowed::Any,
            ..wanted
        };
        let all = self.readings(readings, if voided.is_empty() { wanted } else { free });
        let confirmed_by = confirmed_by
            .and_then(|entry| self.free_text(entry))
            .map(str::to_owned);
        let span = readings.node.label_span(Some(readings.key_span));
        let all = all?;
        if voided.is_empty() {
            return Some(Place {
                place,
                readings: all,
                void: Vec::new(),
                confirmed_by,
                span,
            });
        }
        let void_span = void.map_or(span, |entry| entry.key_span);
        if let Some((number, _, _)) = voided
            .iter()
            .find(|(number, _, _)| *number == 0 || *number > all.len())
        {
            let message = format!(
                "there is no reading {number}: {} of them were read",
                all.len()
            );
            self.fault(
                "record.void",
                void_span,
                message,
                "made void here",
                "readings are counted from 1",
            );
            self.faults.also(span, "the readings");
            return None;
        }
        let mut kept = Vec::with_capacity(all.len());
        let mut left_out = Vec::with_capacity(voided.len());
        let mut good = true;
        for (at, reading) in all.into_iter().enumerate() {
            match voided.iter().find(|(number, _, _)| *number == at + 1) {
                Some((_, because, by)) => {
                    left_out.push(VoidReading {
                        reading,
                        because: (*because).to_owned(),
                        by: (*by).to_owned(),
                    });
                }
                None => {
                    good &= self.allowed(&reading.value, reading.span, wanted);
                    kept.push(reading);
                }
            }
        }
        if left_out.len() < voided.len() {
            self.fault(
                "record.void",
                void_span,
                "one reading is made void twice",
                "made void here",
                "",
            );
            return None;
        }
        if kept.is_empty() {
            let message = "every reading of this place is void";
            self.fault(
                "record.no_reading",
                span,
                message,
                "none is left",
                "leave the place out, and say why in `notes`",
            );
            return None;
        }
        good.then_some(Place {
            place,
            readings: kept,
            void: left_out,
            confirmed_by,
            span,
        })
    }

    /// `void: { reading: 2, because: digits swapped, by: AB }`, or a list of such.
    fn voided(&mut self, entry: &'a Entry<'a>) -> Option<Voided<'a>> {
        const WHAT: &str = "a void reading";
        const FORM: &str = "`void: { reading: 2, because: digits swapped, by: AB }`";
        let one = std::slice::from_ref(&entry.node);
        let nodes = entry.node.as_sequence().unwrap_or(one);
        if !self.fits(nodes.len(), "void", entry.key_span) {
            return None;
        }
        let mut found = Vec::with_capacity(nodes.len());
        for node in nodes {
            let key_span = Some(entry.key_span).filter(|_| entry.node.as_sequence().is_none());
            let entries = self.mapping(node, key_span, WHAT, FORM)?;
            let span = node.label_span(key_span);
            take!(self, entries, WHAT; "reading" => reading, "because" => because, "by" => by);
            let number = self.require(reading, "reading", WHAT, entries, span, FORM);
            let number = number.and_then(|entry| {
                read::count(
                    &entry.node,
                    Some(entry.key_span),
                    "`reading`",
                    &mut self.faults,
                )
            });
            let because = self.require(because, "because", WHAT, entries, span, FORM);
            let because = because.and_then(|entry| self.free_text(entry));
            let by = self
                .require(by, "by", WHAT, entries, span, FORM)
                .and_then(|entry| self.free_text(entry));
            found.push((
                usize::try_from(number?).unwrap_or(usize::MAX),
                because?,
                by?,
            ));
        }
        Some(found)
    }
}
