//! A line of a fleet looked at under both versions from its plain values.

use std::cell::OnceCell;
use std::ops::Range;
use std::sync::Arc;

use super::heads::{LimitHead, RuleHead};
use super::model::Stand;
use super::pair::{Cell, Looked, Pair, Whole};
use super::plain::{Asking, PlainPair};
use super::tally::{BoatAt, Tally};
use super::weigh::{Lies, Said, Values};
use crate::check::{Brief, Context, Finding, ItemRef, Margin, Outcome, RowRef};
use crate::diagnostic::Diagnostic;
use crate::fleet::reader::{Piece, ReadBoat};
use crate::fleet::together::Origin;
use crate::quantity::{Date, days_between};
use crate::record::{PlainBoat, PlainItem};
use crate::text::Source;

/// What is kept while one line is looked at, so that nothing is allocated for each.
#[derive(Debug, Default)]
pub struct PlainScratch {
    boat: PlainBoat,
    cells: Vec<Cell>,
    margins: Vec<Margin>,
    /// By item, where its margins begin.
    starts: Vec<usize>,
    asks: Vec<Ask>,
    briefs: Vec<Brief>,
}

/// A rule of one version on an item that only the whole check can tell.
#[derive(Clone, Copy, Debug)]
struct Ask {
    older: bool,
    head: usize,
    rule: usize,
    item: usize,
}

/// A boat that was looked at.
pub struct PlainLook {
    /// Where it stands.
    pub stands: (Stand, Stand),
    /// Where its sail number stands in the text.
    pub sail_number: Range<usize>,
}

/// A line that becomes a record only where something asks for it.
struct Line<'l, 'r> {
    pair: &'l Pair<'r>,
    source: &'l Arc<Source>,
    range: &'l Range<usize>,
    boat: &'l PlainBoat,
    day: Date,
    measured: Date,
    read: OnceCell<Option<ReadBoat>>,
}

impl Line<'_, '_> {
    fn record(&self) -> Option<&ReadBoat> {
        let read = || {
            let piece = Piece::Line(self.range.clone());
            self.pair.read(self.source, &piece).ok()
        };
        self.read.get_or_init(read).as_ref()
    }
}

/// An item of a line.
struct OfLine<'l, 'r> {
    line: &'l Line<'l, 'r>,
    plain: &'l PlainPair<'r>,
    number: usize,
    item: &'l PlainItem,
}

impl Whole for OfLine<'_, '_> {
    fn path(&self) -> String {
        let holding = self.plain.loader.kinds().get(self.item.kind);
        let holding = holding.and_then(|kind| kind.holding);
        let vocabulary = &self.line.pair.common.new.vocabulary;
        let key = holding.and_then(|both| vocabulary.holding(both.newer));
        let text = self.line.source.text();
        match (key, text.get(self.item.id.clone())) {
            (None, _) => "boat".to_owned(),
            (Some(key), None | Some("")) => key.key.text.clone(),
            (Some(key), Some(id)) => format!("{}/{id}", key.key.text),
        }
    }

    fn findings(&self, rule: usize) -> Vec<Finding> {
        let Some(boat) = self.line.record() else {
            return Vec::new();
        };
        let context = self.line.pair.context(self.line.day, false);
        self.line
            .pair
            .new
            .findings_of(&boat.newer, &context, rule, self.number)
    }

    fn findings_beside(&self, _: usize) -> Vec<Finding> {
        // No mark and no part that must be there makes a plain line stand otherwise.
        Vec::new()
    }

    fn sail_number(&self) -> String {
        let text = self.line.source.text();
        let text = text.get(self.line.boat.sail_number.clone());
        text.unwrap_or_default().to_owned()
    }

    fn measured(&self) -> Date {
        self.line.measured
    }

    fn origin(&self, _: &Finding) -> Option<Origin> {
        None
    }

    fn is_new_to(&self, head: &RuleHead, limit: &LimitHead) -> bool {
        let Some(boat) = self.line.record() else {
            return false;
        };
        let boat = (boat, self.line.day);
        self.line.pair.is_new_to(boat, self.number, head, limit)
    }
}

impl<'r> Pair<'r> {
    /// Looks at a line under both versions and counts it, where it has plain values alone. `None` says nothing but that it
    /// has to be read as a record.
    ///
    /// # Errors
    /// What is wrong with it.
    pub fn look_plainly(
        &self,
        source: &Arc<Source>,
        range: &Range<usize>,
        at: &BoatAt,
        scratch: &mut PlainScratch,
        tally: &mut Tally,
    ) -> Option<Result<PlainLook, Vec<Diagnostic>>> {
        let plain = self.plain.as_ref()?;
        let mut boat = std::mem::take(&mut scratch.boat);
        let read = plain.loader.read(source.text(), range.clone(), &mut boat);
        let found = read.and_then(|()| {
            let measured = boat.day?;
            let day = self.day_of(measured);
            if day != measured && days_between(measured, day) > plain.fresh_for {
                return None;
            }
            let line = Line {
                pair: self,
                source,
                range,
                boat: &boat,
                day,
                measured,
                read: OnceCell::new(),
            };
            Some(self.look_at(plain, &line, at, scratch, tally))
        });
        let sail_number = boat.sail_number.clone();
        scratch.boat = boat;
        found.map(|stands| {
            stands.map(|stands| PlainLook {
                stands,
                sail_number,
            })
        })
    }

    /// Where the sail number of a line stands, if it has plain values alone; it is not looked at.
    pub fn sail_number_of(
        &self,
        source: &Source,
        range: &Range<usize>,
        scratch: &mut PlainScratch,
    ) -> Option<Range<usize>> {
        let boat = &mut scratch.boat;
        self.plain
            .as_ref()?
            .loader
            .read(source.text(), range.clone(), boat)?;
        Some(boat.sail_number.clone())
    }

    fn look_at(
        &self,
        plain: &PlainPair<'r>,
        line: &Line<'_, 'r>,
        at: &BoatAt,
        scratch: &mut PlainScratch,
        tally: &mut Tally,
    ) -> Result<(Stand, Stand), Vec<Diagnostic>> {
        let width = self.heads.len();
        let boat = line.boat;
        scratch.cells.clear();
        scratch
            .cells
            .resize(boat.items.len() * width, Cell::default());
        scratch.margins.clear();
        scratch.asks.clear();
        scratch.starts.clear();
        for (number, item) in boat.items.iter().enumerate() {
            scratch.starts.push(scratch.margins.len());
            let own = boat.values.get(item.values..).unwrap_or_default();
            let asking = plain.asking.get(item.kind).map_or(&[][..], Vec::as_slice);
            for one in asking {
                let cell = weigh_both(plain, one, (number, own), boat, scratch);
                if let Some(place) = scratch.cells.get_mut(number * width + one.head) {
                    *place = cell;
                }
            }
        }
        let weighed = scratch.margins.len();
        scratch.starts.push(weighed);
        self.beside(plain, boat, &mut scratch.cells);
        if !scratch.asks.is_empty() {
            self.ask(line, scratch, width)?;
        }
        tally.sample.record((line.measured, line.day), false);
        let mut stands = (Stand::Conforms, Stand::Conforms);
        for (number, item) in boat.items.iter().enumerate() {
            let cells = scratch.cells.get(number * width..(number + 1) * width);
            let mut margins: smallvec::SmallVec<[&Margin; 8]> = smallvec::SmallVec::new();
            if let Some([from, to]) = scratch.starts.get(number..number + 2) {
                margins.extend(scratch.margins.get(*from..*to).unwrap_or_default());
            }
            let asked = scratch.margins.get(weighed..).unwrap_or_default().iter();
            margins.extend(asked.filter(|margin| margin.item == number));
            let kind = plain.loader.kinds().get(item.kind);
            let part = kind.map_or(0, |kind| kind.part.newer.index());
            let looked = Looked {
                kind: self.kind_of_new.get(part).copied().unwrap_or(0),
                cells: cells.unwrap_or_default(),
                margins: &margins,
                year: None,
                dated: plain.dated.get(item.kind).copied().unwrap_or(false),
                whole: &OfLine {
                    line,
                    plain,
                    number,
                    item,
                },
            };
            let of_item = tally.item(self, at, &looked);
            stands = (stands.0.min(of_item.0), stands.1.min(of_item.1));
        }
        Ok(stands)
    }

    /// Parts that must be there, and marks, which no record is asked about here.
    fn beside(&self, plain: &PlainPair<'_>, boat: &PlainBoat, cells: &mut [Cell]) {
        for (head, there) in &plain.marks {
            if let Some(cell) = cells.get_mut(*head) {
                cell.old = there.older.then_some(Stand::Conforms);
                cell.new = there.newer.then_some(Stand::Conforms);
            }
        }
        let kinds = plain.loader.kinds();
        let held = |newer: bool, wanted: usize| {
            let of = |item: &&PlainItem| {
                let holding = kinds.get(item.kind).and_then(|kind| kind.holding);
                holding.is_some_and(|both| {
                    let own = if newer { both.newer } else { both.older };
                    own.index() == wanted
                })
            };
            boat.items.iter().filter(of).count()
        };
        let lacks = |newer: bool| {
            let file = if newer {
                self.common.new
            } else {
                self.common.old
            };
            let holdings = file.vocabulary.holdings.iter().enumerate();
            holdings
                .filter(|(_, holding)| holding.at_least > 0)
                .any(|(at, holding)| {
                    u32::try_from(held(newer, at)).is_ok_and(|count| count < holding.at_least)
                })
        };
        let (old, new) = (lacks(false), lacks(true));
        if let Some(cell) = cells.get_mut(self.equipment) {
            let open = |lacks: bool| lacks.then_some(Stand::NotDecided);
            (cell.old, cell.new) = (open(old), open(new));
            cell.open = new.then_some(crate::check::Reason::NotMeasured);
        }
        let same = |head: usize| self.heads.get(head).is_some_and(|head| head.same);
        for head in plain.marks.iter().map(|(head, _)| *head) {
            if same(head)
                && let Some(cell) = cells.get_mut(head)
            {
                cell.new = cell.old;
            }
        }
        if same(self.equipment)
            && let Some(cell) = cells.get_mut(self.equipment)
        {
            cell.new = cell.old;
        }
    }

    /// Asks the whole check for what is not told by plain values.
    #[cold]
    fn ask(
        &self,
        line: &Line<'_, 'r>,
        scratch: &mut PlainScratch,
        width: usize,
    ) -> Result<(), Vec<Diagnostic>> {
        let piece = Piece::Line(line.range.clone());
        let boat = self.read(line.source, &piece)?;
        for ask in &scratch.asks {
            let context: Context = self.context(line.day, ask.older);
            let (plan, record) = if ask.older {
                (&self.old, boat.older())
            } else {
                (&self.new, &boat.newer)
            };
            scratch.briefs.clear();
            plan.outcomes_on(record, &context, (ask.rule, ask.item), &mut scratch.briefs);
            let same = self.heads.get(ask.head).is_some_and(|head| head.same);
            let Some(cell) = scratch.cells.get_mut(ask.item * width + ask.head) else {
                continue;
            };
            let mut has_value = false;
            for brief in &scratch.briefs {
                let ItemRef::Item(_) = brief.item else {
                    continue;
                };
                let stand = Stand::of(brief.outcome);
                has_value |= crate::check::has_value(brief);
                let place = if ask.older {
                    &mut cell.old
                } else {
                    &mut cell.new
                };
                *place = Some(place.map_or(stand, |known| known.min(stand)));
                if !ask.older && brief.outcome == Outcome::NotDecided {
                    cell.is_open(brief.reason);
                }
            }
            if same {
                cell.old = cell.new;
            }
            let limits = self.heads.get(ask.head);
            let asked = limits.is_some_and(|head| !head.limits.is_empty());
            if !ask.older && asked && has_value {
                let wanted = [(ask.rule, ask.item)];
                plan.margins(record, &context, &wanted, &mut scratch.margins);
            }
        }
        let _ = line.read.set(Some(boat));
        Ok(())
    }
}

/// What a rule says of an item in both versions.
#[inline]
fn weigh_both(
    plain: &PlainPair<'_>,
    asking: &Asking,
    (number, own): (usize, &[crate::record::PlainValue]),
    boat: &PlainBoat,
    scratch: &mut PlainScratch,
) -> Cell {
    let mut cell = Cell::default();
    if let (Some(test), Some(rule)) = (&asking.test.older, asking.rule.older) {
        let values = Values {
            own,
            places: &boat.places,
            of: |both| both.older,
        };
        match values.weigh(test, plain.decision.older, &mut |_| {}) {
            Said::Stands(stand, _) => cell.old = Some(stand),
            Said::Asks => scratch.asks.push(Ask {
                older: true,
                head: asking.head,
                rule,
                item: number,
            }),
        }
    }
    if let (Some(test), Some(rule)) = (&asking.test.newer, asking.rule.newer) {
        let values = Values {
            own,
            places: &boat.places,
            of: |both| both.newer,
        };
        let before = scratch.margins.len();
        let margins = &mut scratch.margins;
        let said = values.weigh(test, plain.decision.newer, &mut |lies: Lies<'_>| {
            if asking.told {
                margins.push(margin_of(rule, number, test.u, lies));
            }
        });
        match said {
            Said::Stands(stand, open) => {
                cell.new = Some(stand);
                cell.open = open;
                if asking.same {
                    cell.old = cell.new;
                }
            }
            Said::Asks => {
                scratch.margins.truncate(before);
                scratch.asks.push(Ask {
                    older: false,
                    head: asking.head,
                    rule,
                    item: number,
                });
            }
        }
    }
    cell
}

#[expect(clippy::cast_precision_loss, reason = "the nearest number is wanted")]
fn margin_of(rule: usize, item: usize, u: f64, lies: Lies<'_>) -> Margin {
    Margin {
        rule,
        item,
        row: RowRef::Main(lies.limit.row),
        kind: lies.limit.kind,
        margin: lies.margin as f64 / 1e9,
        u: Some(u),
        finding: None,
    }
}
