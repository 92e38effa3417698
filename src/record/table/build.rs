//! What rows say of one boat on one day, put together and written as a record in JSON that knows its cells.

use std::ops::Range;

use super::build_inside::{in_another_unit, inside};
use super::cell::Given;
use super::model::{Column, TableMap};
use super::out::Out;
use super::place::At;
use super::rows::{Got, RowData};
use super::target::{Detail, Target, What, part_of};
use crate::record::head::FORMAT;
use crate::text::Span;
use crate::vocabulary::{HoldingId, MeasureKind, Vocabulary};

/// Where a piece of a record came from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Mark {
    /// A cell of the table.
    Cell(At),
    /// A place in the map.
    Map(Span),
}

/// A record in JSON with the origins of its pieces.
pub(super) struct Written {
    pub text: String,
    pub marks: Vec<(Range<usize>, Mark)>,
}

/// Two cells that say different things of one place, or one part that is there twice.
pub(super) struct Clash {
    pub at: At,
    pub first: At,
    pub message: String,
    pub help: &'static str,
}

/// Where a reading was taken, key by key.
type Place = Vec<(&'static str, String, Mark)>;

/// One reading or other value.
pub(super) struct Piece<'a> {
    pub given: Given,
    pub at: At,
    pub column: &'a Column,
}

/// A trait or measure of an item.
pub(super) struct Entry<'a> {
    what: What,
    pub values: Vec<Piece<'a>>,
    /// What stands beside the values, by key.
    beside: Vec<(Detail, String, At)>,
}

/// The boat, or one of its parts.
struct Item<'a> {
    holding: Option<HoldingId>,
    id: Option<(String, At)>,
    /// The row that it is, where rows are parts.
    row: Option<At>,
    entries: Vec<Entry<'a>>,
}

/// One boat on one day.
pub(super) struct Boat<'a> {
    sail: (String, At),
    pub day: Option<(String, Mark)>,
    /// Rows of tables in which a row is a boat.
    rows: Vec<At>,
    head: Vec<(Target, String, At)>,
    items: Vec<Item<'a>>,
}

impl<'a> Boat<'a> {
    pub(super) fn new(sail: (String, At), day: Option<(String, Mark)>) -> Boat<'a> {
        Boat {
            sail,
            day,
            rows: Vec::new(),
            head: Vec::new(),
            items: Vec::new(),
        }
    }

    pub(super) fn sail(&self) -> &str {
        &self.sail.0
    }

    /// The parts of each holding.
    pub(super) fn parts(&self) -> impl Iterator<Item = HoldingId> + '_ {
        self.items.iter().filter_map(|item| item.holding)
    }

    /// Adds what a row says. `rows` is the part of which rows of its table are one.
    pub(super) fn add(
        &mut self,
        row: RowData<'a>,
        rows: Option<HoldingId>,
        clashes: &mut Vec<Clash>,
    ) {
        match (rows, &row.id) {
            (None, _) => {
                if let Some(first) = self.rows.iter().find(|one| one.table == row.at.table) {
                    clashes.push(Clash {
                        at: row.sail.1,
                        first: *first,
                        message: "this boat is there twice on one day".to_owned(),
                        help: "a row is one boat on one day: put both rows together, give each its day, or take one out",
                    });
                    return;
                }
                self.rows.push(row.at);
            }
            (Some(_), Some((id, at))) => {
                let item = self.item(rows, Some((id.clone(), *at)));
                match item.row.filter(|first| first.table == row.at.table) {
                    Some(first) => {
                        clashes.push(Clash {
                            at: *at,
                            first,
                            message: format!("{id} of this boat is there twice on one day"),
                            help: "a row is one part on one day: put both rows together, give each its day, or mend the id",
                        });
                        return;
                    }
                    None => item.row = Some(row.at),
                }
            }
            (Some(_), None) => {}
        }
        let id = row.id;
        for got in row.got {
            self.one(got, rows, id.as_ref(), clashes);
        }
    }

    fn item(&mut self, holding: Option<HoldingId>, id: Option<(String, At)>) -> &mut Item<'a> {
        let same = |item: &Item<'_>| {
            item.holding == holding
                && item.id.as_ref().map(|(id, _)| id) == id.as_ref().map(|(id, _)| id)
        };
        let at = match self.items.iter().position(same) {
            Some(at) => at,
            None => {
                self.items.push(Item {
                    holding,
                    id,
                    row: None,
                    entries: Vec::new(),
                });
                self.items.len() - 1
            }
        };
        // Found or just pushed.
        #[expect(clippy::indexing_slicing, reason = "the place was found or made above")]
        &mut self.items[at]
    }

    fn one(
        &mut self,
        got: Got<'a>,
        rows: Option<HoldingId>,
        row_id: Option<&(String, At)>,
        clashes: &mut Vec<Clash>,
    ) {
        let clash = |first: At, was: &str, is: &str, at: At| Clash {
            at,
            first,
            message: format!("{is} stands here and {was} in another row of the same boat and day"),
            help: "what is said once of a boat is the same in all its rows, or stands in one of them",
        };
        match &got.column.target {
            Target::SailNumber => {}
            Target::Boat(_) | Target::Measured(_) => {
                let text = got.given.shown();
                match self
                    .head
                    .iter()
                    .find(|(target, _, _)| *target == got.column.target)
                {
                    Some((_, was, first)) if *was != text => {
                        clashes.push(clash(*first, was, &text, got.at))
                    }
                    Some(_) => {}
                    None => self.head.push((got.column.target.clone(), text, got.at)),
                }
            }
            Target::Item { holding, id, what } => {
                let id = match id {
                    Some(id) => Some((id.clone(), got.at)),
                    None if *holding == rows && rows.is_some() => row_id.cloned(),
                    None => None,
                };
                let what = *what;
                let item = self.item(*holding, id);
                let key = match what {
                    What::Id => return,
                    What::Trait(id, _) => What::Trait(id, ""),
                    What::Measure(id, _) | What::Inside(id, _) => What::Measure(id, ""),
                    What::Role(_) => what,
                };
                let place = match item.entries.iter().position(|entry| entry.what == key) {
                    Some(place) => place,
                    None => {
                        item.entries.push(Entry {
                            what: key,
                            values: Vec::new(),
                            beside: Vec::new(),
                        });
                        item.entries.len() - 1
                    }
                };
                let Some(entry) = item.entries.get_mut(place) else {
                    return;
                };
                match what {
                    What::Trait(_, "")
                    | What::Measure(_, "")
                    | What::Inside(..)
                    | What::Role(_) => {
                        // A column of the same table in another row says the same again, or something else.
                        let same = entry.values.iter().find(|one| {
                            std::ptr::eq(one.column, got.column) && one.at.row != got.at.row
                        });
                        let other_table = entry.values.iter().find(|one| {
                            one.at.table != got.at.table && one.column.target == got.column.target
                        });
                        match same.or(other_table) {
                            Some(first) if first.given != got.given => {
                                clashes.push(clash(
                                    first.at,
                                    &first.given.shown(),
                                    &got.given.shown(),
                                    got.at,
                                ));
                            }
                            Some(_) => {}
                            None => {
                                let other = in_another_unit(entry, got.column, &got.given);
                                clashes.extend(other.map(|first| Clash {
                                    at: got.at,
                                    first: first.at,
                                    message: format!("{} stands here and {} beside it: both are one point, which has one unit", got.given.shown(), first.given.shown()),
                                    help: "write both in one unit",
                                }));
                                entry.values.push(Piece {
                                    given: got.given,
                                    at: got.at,
                                    column: got.column,
                                });
                            }
                        }
                    }
                    What::Trait(_, detail) | What::Measure(_, detail) => {
                        let text = got.given.shown();
                        match entry.beside.iter().find(|(key, _, _)| *key == detail) {
                            Some((_, was, first)) if *was != text => {
                                clashes.push(clash(*first, was, &text, got.at))
                            }
                            Some(_) => {}
                            None => entry.beside.push((detail, text, got.at)),
                        }
                    }
                    What::Id => {}
                }
            }
        }
    }

    /// Writes the record as one line of JSON.
    pub(super) fn write(&self, map: &TableMap, vocabulary: &Vocabulary) -> Written {
        let mut out = Out {
            text: String::new(),
            marks: Vec::new(),
            fresh: true,
        };
        let whole = out.open('{');
        out.pair("format", FORMAT, None);
        out.pair("class", &map.class, None);
        out.key("boat");
        let start = out.open('{');
        out.pair("sail_number", &self.sail.0, Some(Mark::Cell(self.sail.1)));
        for (target, text, at) in &self.head {
            if let Target::Boat(key) = target {
                out.pair(key, text, Some(Mark::Cell(*at)));
            }
        }
        for item in self.items.iter().filter(|item| item.holding.is_none()) {
            item.entries(&mut out, vocabulary);
        }
        out.close('}', start, Mark::Cell(self.sail.1));
        self.session(&mut out, map);
        if let Some((json, span)) = &map.instruments {
            out.key("instruments");
            let start = out.text.len();
            out.text.push_str(json);
            out.marks.push((start..out.text.len(), Mark::Map(*span)));
            out.fresh = false;
        }
        let holdings = vocabulary.holdings.iter().enumerate();
        for (at, holding) in holdings {
            let id = u16::try_from(at).ok().map(HoldingId);
            let items: Vec<&Item<'_>> = self
                .items
                .iter()
                .filter(|item| item.holding == id && id.is_some())
                .collect();
            let Some(first) = items.first() else {
                continue;
            };
            if !holding.many {
                out.key(&holding.key.text);
                let start = out.open('{');
                first.entries(&mut out, vocabulary);
                out.close('}', start, Mark::Cell(first.place().unwrap_or(self.sail.1)));
                continue;
            }
            out.key(&holding.key.text);
            let list = out.open('[');
            for item in items {
                out.parted();
                let place = Mark::Cell(item.place().unwrap_or(self.sail.1));
                let start = out.open('{');
                if let Some((id, at)) = &item.id {
                    out.pair("id", id, Some(Mark::Cell(*at)));
                }
                item.entries(&mut out, vocabulary);
                out.close('}', start, place);
            }
            out.close(']', list, Mark::Cell(self.sail.1));
        }
        out.close('}', whole, Mark::Cell(self.sail.1));
        Written {
            text: out.text,
            marks: out.marks,
        }
    }

    fn session(&self, out: &mut Out, map: &TableMap) {
        let mut said: Vec<(&str, &str, Mark)> = Vec::new();
        if let Some((day, mark)) = &self.day {
            said.push(("day", day, *mark));
        }
        for (target, text, at) in &self.head {
            if let Target::Measured(key) = target {
                said.push((key, text, Mark::Cell(*at)));
            }
        }
        for constant in &map.constants {
            if let Target::Measured(key) = constant.target
                && !said.iter().any(|(known, _, _)| *known == key)
            {
                said.push((key, &constant.text, Mark::Map(constant.span)));
            }
        }
        if said.is_empty() {
            return;
        }
        out.key("measured");
        let start = out.open('{');
        for key in ["day", "by", "place", "temperature"] {
            if let Some((_, text, mark)) = said.iter().find(|(known, _, _)| *known == key) {
                out.pair(key, text, Some(*mark));
            }
        }
        out.close('}', start, Mark::Cell(self.sail.1));
    }
}

impl Item<'_> {
    fn place(&self) -> Option<At> {
        let id = self.id.as_ref().map(|(_, at)| *at);
        id.or_else(|| {
            self.entries
                .iter()
                .find_map(|entry| entry.values.first().map(|one| one.at))
        })
    }

    /// Its traits and measures in the order of the vocabulary.
    fn entries(&self, out: &mut Out, vocabulary: &Vocabulary) {
        let Some(part) = part_of(vocabulary, self.holding) else {
            return;
        };
        for (at, one) in part.traits.iter().enumerate() {
            let found = self
                .entries
                .iter()
                .find(|entry| matches!(entry.what, What::Trait(id, _) if id.index() == at));
            if let Some(entry) = found
                && let Some(value) = entry.values.first()
            {
                out.key(&one.name.text);
                entry.plain(out, value, "date");
            }
        }
        for (at, one) in part.roles.iter().enumerate() {
            let found = self
                .entries
                .iter()
                .find(|entry| matches!(entry.what, What::Role(id) if id.index() == at));
            if let Some(value) = found.and_then(|entry| entry.values.first()) {
                out.key(&one.name.text);
                out.value(&value.given, Mark::Cell(value.at));
            }
        }
        for (at, one) in part.measures.iter().enumerate() {
            let found = self
                .entries
                .iter()
                .find(|entry| matches!(entry.what, What::Measure(id, _) if id.index() == at));
            let Some(entry) = found else {
                continue;
            };
            let Some(value) = entry.values.first() else {
                continue;
            };
            out.key(&one.name.text);
            match one.kind {
                MeasureKind::YesNo => entry.plain(out, value, "answer"),
                MeasureKind::Quantity(_) if one.fixed_at.is_some() => {
                    entry.plain(out, value, "value")
                }
                MeasureKind::Quantity(_) => entry.series(out, one.placed),
                MeasureKind::Profile
                | MeasureKind::Line
                | MeasureKind::Section
                | MeasureKind::LoadTest
                | MeasureKind::Outline => inside(out, entry, one),
            }
        }
    }
}

impl Entry<'_> {
    /// What stands beside a value: by its own column, or for all readings in the map.
    pub(super) fn beside<'e>(&'e self, piece: &'e Piece<'_>, key: &str) -> Option<(&'e str, Mark)> {
        let cell = self.beside.iter().find(|(known, _, _)| *known == key);
        if let Some((_, text, at)) = cell {
            return Some((text, Mark::Cell(*at)));
        }
        let mut details = piece.column.details.iter();
        let found = details.find(|(known, _, _)| *known == key)?;
        Some((&found.1, Mark::Map(found.2)))
    }

    /// A value alone, or under `key` with what stands beside it.
    fn plain(&self, out: &mut Out, value: &Piece<'_>, key: &str) {
        let keys = ["proof", "seen_by", "seen_on", "by", "day", "paper"];
        let beside: Vec<(&str, (&str, Mark))> = keys
            .into_iter()
            .filter_map(|key| self.beside(value, key).map(|found| (key, found)))
            .collect();
        let mark = Mark::Cell(value.at);
        if beside.is_empty() {
            return out.value(&value.given, mark);
        }
        let start = out.open('{');
        out.key(key);
        out.value(&value.given, mark);
        for (key, (text, mark)) in beside {
            out.pair(key, text, Some(mark));
        }
        out.close('}', start, mark);
    }

    /// Readings: the short form for one of which nothing else is said, else a series.
    fn series(&self, out: &mut Out, placed: bool) {
        let Some(first) = self.values.first() else {
            return;
        };
        let mark = Mark::Cell(first.at);
        let of_series: Vec<(&str, (&str, Mark))> = ["by", "with", "taken"]
            .into_iter()
            .filter_map(|key| self.beside(first, key).map(|found| (key, found)))
            .collect();
        let place = |piece: &Piece<'_>| -> Place {
            let keys = ["at", "face", "from_edge"].into_iter();
            keys.filter_map(|key| {
                self.beside(piece, key)
                    .map(|(text, mark)| (key, text.to_owned(), mark))
            })
            .collect()
        };
        if self.values.len() == 1 && of_series.is_empty() && place(first).is_empty() {
            return out.value(&first.given, mark);
        }
        let start = out.open('{');
        for (key, (text, mark)) in of_series {
            out.pair(key, text, Some(mark));
        }
        if placed {
            // Readings of one place stand together, in the order of their columns.
            let mut places: Vec<(Place, Vec<&Piece<'_>>)> = Vec::new();
            for piece in &self.values {
                let here = place(piece);
                let same = |(other, _): &(Place, _)| {
                    other.len() == here.len()
                        && other
                            .iter()
                            .zip(&here)
                            .all(|(a, b)| a.0 == b.0 && a.1 == b.1)
                };
                match places
                    .iter()
                    .position(same)
                    .and_then(|at| places.get_mut(at))
                {
                    Some((_, pieces)) => pieces.push(piece),
                    None => places.push((here, vec![piece])),
                }
            }
            out.key("places");
            let list = out.open('[');
            for (place, pieces) in places {
                out.parted();
                let start = out.open('{');
                for (key, text, mark) in &place {
                    out.pair(key, text, Some(*mark));
                }
                readings(out, &pieces);
                let mark = pieces.first().map_or(mark, |piece| Mark::Cell(piece.at));
                out.close('}', start, mark);
            }
            out.close(']', list, mark);
        } else {
            let pieces: Vec<&Piece<'_>> = self.values.iter().collect();
            readings(out, &pieces);
        }
        out.close('}', start, mark);
    }
}

/// One reading, or a list in which each keeps its unit.
fn readings(out: &mut Out, pieces: &[&Piece<'_>]) {
    out.key("readings");
    if let [only] = pieces {
        return out.value(&only.given, Mark::Cell(only.at));
    }
    let start = out.open('[');
    for piece in pieces {
        out.parted();
        out.value(&piece.given, Mark::Cell(piece.at));
    }
    if let Some(first) = pieces.first() {
        out.close(']', start, Mark::Cell(first.at));
    }
}
