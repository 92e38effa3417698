//! Zones in words: what part of an item they cover.

use crate::quantity::Exact;
use crate::vocabulary::{Zone, ZoneId, ZoneKind};

use super::phrase::Phrase;
use super::value::{Speaker, measure_name};

impl Speaker<'_> {
    /// The zone in a slot.
    pub(super) fn zone_of(&self, id: ZoneId) -> Option<&Zone> {
        self.rules
            .vocabulary
            .part(self.own)
            .and_then(|part| part.zones.get(id.index()))
    }

    /// Where a zone is, behind a noun: `within 6 mm of the edge`, `within 200 mm of the pivot`.
    pub(in crate::report) fn zone(&self, zone: &Zone) -> Phrase {
        match &zone.kind {
            ZoneKind::WithinOfEdge(distance) => Phrase::of("within ")
                .number(self.of_zone(zone, "within", distance))
                .words(" of the edge"),
            ZoneKind::WithinOf { distance, of } => Phrase::of("within ")
                .number(self.of_zone(zone, "within", distance))
                .words(format!(" of {}", self.place(&of.text))),
            ZoneKind::Between(from, to) => self.between(zone, from, to),
            ZoneKind::Along {
                from, to_height, ..
            } => Phrase::of(format!(
                "from {} to where the edge has risen ",
                self.place(&from.text)
            ))
            .number(self.of_zone(zone, "to_height", to_height))
            .words(" over the straight edge"),
        }
    }

    /// A position as a place: `toe_at` is `the toe`.
    pub(super) fn place(&self, name: &str) -> String {
        let part = self.rules.vocabulary.part(self.own);
        let measure = part.and_then(|part| {
            part.measure_named(name)
                .and_then(|id| part.measures.get(id.index()))
        });
        let words = measure.map_or_else(|| name.replace('_', " "), measure_name);
        let words = words.strip_prefix("position of the ").unwrap_or(&words);
        format!("the {words}")
    }

    fn between(&self, zone: &Zone, from: &Exact, to: &Exact) -> Phrase {
        let keys = self.keys(zone, "between");
        let keys: Vec<&str> = keys.iter().map(String::as_str).collect();
        let written = self.written.text(&keys).unwrap_or_default();
        let (from_text, to_text) = match written.split_once(" to ") {
            Some((one, two)) => (one.to_owned(), two.to_owned()),
            None => (from.to_string() + " mm", to.to_string() + " mm"),
        };
        let bare = |text: &str| text.trim_start_matches('-').to_owned();
        let zero = Exact::ZERO;
        if from.neg() == *to {
            Phrase::of("within ")
                .number(bare(&to_text))
                .words(" of the pivot")
        } else if *from >= zero {
            Phrase::of("from ")
                .number(from_text)
                .words(" to ")
                .number(to_text)
                .words(" forward of the pivot")
        } else if *to <= zero {
            Phrase::of("from ")
                .number(bare(&from_text))
                .words(" to ")
                .number(bare(&to_text))
                .words(" aft of the pivot")
        } else {
            Phrase::of("from ")
                .number(bare(&from_text))
                .words(" aft of the pivot to ")
                .number(to_text)
                .words(" forward of it")
        }
    }

    fn keys(&self, zone: &Zone, key: &str) -> Vec<String> {
        let part = self.rules.vocabulary.part(self.own);
        let part = part.map_or("", |part| part.name.text.as_str());
        ["equipment", part, "zones", &zone.name.text, key]
            .map(str::to_owned)
            .to_vec()
    }

    /// A distance of a zone as written.
    fn of_zone(&self, zone: &Zone, key: &str, value: &Exact) -> String {
        let keys = self.keys(zone, key);
        let keys: Vec<&str> = keys.iter().map(String::as_str).collect();
        self.written
            .text(&keys)
            .unwrap_or_else(|| format!("{value} mm"))
    }
}
