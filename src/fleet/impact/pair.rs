//! Two versions made ready for a fleet, and one boat looked at under both.

use std::sync::Arc;

use super::heads::{LimitHead, Of, RuleHead, heads};
use super::model::Stand;
use super::plain::PlainPair;
use super::tally::{BoatAt, Tally};
use crate::check::{
    Brief, Context, ItemRef, Margin, Outcome, Plan, Reason, RuleRef, Selection, has_value, rule_at,
};
use crate::fleet::reader::{Days, Piece, ReadBoat, Reader};
use crate::fleet::together::{Origin, Part, Together, together};
use crate::prove::Common;
use crate::quantity::Date;
use crate::record::{Item, TraitValue};
use crate::rules::{RulesFile, Stage};
use crate::text::Source;
use crate::vocabulary::{ChoiceId, PartId, TraitKind, Vocabulary};

/// For what boats are checked.
#[derive(Clone, Debug)]
pub struct Asked {
    /// The purpose.
    pub purpose: Stage,
    /// On which days.
    pub days: Days,
    /// The level of the event, by its name.
    pub level: Option<String>,
    /// Ids of rules of which it is proved that their change changes nothing: nothing is near to a limit of theirs that is
    /// new, and nothing was left unmeasured for it.
    pub neutral: Vec<String>,
}

/// Two versions of one class, ready for the boats of a fleet.
pub struct Pair<'r> {
    pub(super) common: Common<'r>,
    pub(super) heads: Vec<RuleHead>,
    pub(super) asked: Asked,
    reader: Reader<'r>,
    pub(super) old: Plan,
    pub(super) new: Plan,
    /// For lines of plain values, where both versions ask for those alone.
    pub(super) plain: Option<PlainPair<'r>>,
    /// What the old version is asked; the rest is as under the new one.
    selection: Selection,
    /// By the position of a rule in either file: its head.
    of_old: Vec<usize>,
    of_new: Vec<usize>,
    /// Heads of marks by the position in either file, then of equipment and silence.
    marks_of_old: Vec<usize>,
    marks_of_new: Vec<usize>,
    pub(super) equipment: usize,
    silence: usize,
    /// By the slot of a part of the new vocabulary, and of the old one: its kind in [`Tally`].
    pub(super) kinds: Vec<String>,
    pub(super) kind_of_new: Vec<usize>,
    kind_of_old: Vec<usize>,
    levels: (Option<ChoiceId>, Option<ChoiceId>),
}

/// What is kept while one boat is looked at, so that nothing is allocated for each.
#[derive(Debug, Default)]
pub struct Scratch {
    old: Vec<Brief>,
    new: Vec<Brief>,
    margins: Vec<Margin>,
    wanted: Vec<(usize, usize)>,
    cells: Vec<Cell>,
}

/// What a rule says of an item under both versions.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Cell {
    pub old: Option<Stand>,
    pub new: Option<Stand>,
    /// Why it is open under the new version.
    pub open: Option<Reason>,
}

impl Cell {
    /// The first reason is told, but what was never measured goes before all others.
    pub(super) fn is_open(&mut self, reason: Option<Reason>) {
        if self.open.is_none() || reason == Some(Reason::NotMeasured) {
            self.open = reason;
        }
    }
}

/// An item of a boat as it was looked at.
pub(super) struct Looked<'b> {
    /// Its kind in [`Pair::kinds`].
    pub kind: usize,
    /// By head.
    pub cells: &'b [Cell],
    /// How its values lie to limits of the new version.
    pub margins: &'b [&'b Margin],
    pub year: Option<i16>,
    pub dated: bool,
    /// What is told of it by name where it is a case.
    pub whole: &'b dyn Whole,
}

/// An item with what is told of it where it is a case.
pub(super) trait Whole {
    /// As a path: `runners/S1`.
    fn path(&self) -> String;
    /// The whole findings of a rule of the new version on it.
    fn findings(&self, rule: usize) -> Vec<crate::check::Finding>;
    /// The same of what is no rule of its own: marks, equipment, silence.
    fn findings_beside(&self, head: usize) -> Vec<crate::check::Finding>;
    /// The sail number of its boat.
    fn sail_number(&self) -> String;
    /// The day of measuring.
    fn measured(&self) -> Date;
    /// The day on which what a finding judges was measured, and the record that says so, of a boat that has several.
    fn origin(&self, finding: &crate::check::Finding) -> Option<Origin>;
    /// Whether it met no such limit of a rule before.
    fn is_new_to(&self, head: &RuleHead, limit: &LimitHead) -> bool;
}

/// An item of a record.
struct OfRecord<'b, 'r> {
    pair: &'b Pair<'r>,
    boat: &'b ReadBoat,
    context: &'b Context,
    item: &'b Item,
    file: &'r RulesFile,
    number: usize,
}

impl Whole for OfRecord<'_, '_> {
    fn path(&self) -> String {
        self.item.path(&self.file.vocabulary)
    }

    fn findings(&self, rule: usize) -> Vec<crate::check::Finding> {
        let (record, context) = (&self.boat.newer, self.context);
        self.pair
            .new
            .findings_of(record, context, rule, self.number)
    }

    fn findings_beside(&self, head: usize) -> Vec<crate::check::Finding> {
        let pair = self.pair;
        let verdict = pair.new.check(&self.boat.newer, self.context);
        let own = |finding: &crate::check::Finding| {
            let item = match finding.item {
                ItemRef::Item(at) => at,
                ItemRef::Holding(_) => 0,
            };
            let of = pair.head_of(finding.rule, &pair.of_new, &pair.marks_of_new);
            item == self.number && of == Some(head)
        };
        verdict.findings.into_iter().filter(own).collect()
    }

    fn sail_number(&self) -> String {
        self.boat.newer.sail_number.clone()
    }

    fn measured(&self) -> Date {
        self.boat.measured
    }

    fn origin(&self, finding: &crate::check::Finding) -> Option<Origin> {
        self.boat.origin(finding.source_at).cloned()
    }

    fn is_new_to(&self, head: &RuleHead, limit: &LimitHead) -> bool {
        let boat = (self.boat, self.context.day);
        self.pair.is_new_to(boat, self.number, head, limit)
    }
}

impl<'r> Pair<'r> {
    /// Makes two versions ready.
    pub fn new(old: &'r Arc<RulesFile>, new: &'r Arc<RulesFile>, asked: Asked) -> Pair<'r> {
        let common = Common::of(old, new);
        let heads = heads(&common, &asked.neutral);
        let position = |wanted: &dyn Fn(&Of) -> bool| {
            heads
                .iter()
                .position(|head| wanted(&head.of))
                .unwrap_or(usize::MAX)
        };
        let of_old = (0..old.rules.len())
            .map(|at| position(&|of| matches!(of, Of::Rule { old: Some(own), .. } if *own == at)));
        let of_new = (0..new.rules.len())
            .map(|at| position(&|of| matches!(of, Of::Rule { new: Some(own), .. } if *own == at)));
        let marks_of_old = (0..old.marks.len())
            .map(|at| position(&|of| matches!(of, Of::Marks { old: Some(own), .. } if *own == at)));
        let marks_of_new = (0..new.marks.len())
            .map(|at| position(&|of| matches!(of, Of::Marks { new: Some(own), .. } if *own == at)));
        let same_at = |at: usize| heads.get(at).is_some_and(|head| head.same);
        let of_old: Vec<usize> = of_old.collect();
        let selection = Selection {
            rules: of_old.iter().map(|at| !same_at(*at)).collect(),
            rest: heads
                .iter()
                .any(|head| !head.same && !matches!(head.of, Of::Rule { .. })),
        };
        let mut kinds: Vec<String> = Vec::new();
        let mut kind_of = |vocabulary: &Vocabulary, side: crate::prove::Side| -> Vec<usize> {
            let slots = 0..vocabulary.parts.len();
            slots
                .map(|slot| {
                    let id = u16::try_from(slot).map_or(Vocabulary::BOAT, PartId);
                    let part = common
                        .parts
                        .iter()
                        .find(|part| part.at.at(side) == Some(id));
                    let name = part.map_or("", |part| part.name.as_str());
                    match kinds.iter().position(|known| known == name) {
                        Some(known) => known,
                        None => {
                            kinds.push(name.to_owned());
                            kinds.len() - 1
                        }
                    }
                })
                .collect()
        };
        let kind_of_new = kind_of(&new.vocabulary, crate::prove::Side::New);
        let kind_of_old = kind_of(&old.vocabulary, crate::prove::Side::Old);
        let level = |file: &RulesFile| {
            let wanted = asked.level.as_deref()?;
            let at = file
                .vocabulary
                .event_levels
                .iter()
                .position(|one| one.text == wanted)?;
            u16::try_from(at).ok().map(ChoiceId)
        };
        // Of a record that has to be read apart for the old version no more is looked at than what differs.
        let asked_of_old: Vec<&str> = old
            .rules
            .iter()
            .zip(&selection.rules)
            .filter(|(_, asked)| **asked)
            .map(|(rule, _)| rule.id.text.as_str())
            .collect();
        let reader = Reader::of_two(&common, asked.days, &asked_of_old);
        let plain = reader.plain().and_then(|loader| {
            let level = asked.level.is_some();
            PlainPair::of((old, new), loader, &heads, asked.purpose, level)
        });
        Pair {
            reader,
            plain,
            levels: (level(old), level(new)),
            of_new: of_new.collect(),
            marks_of_old: marks_of_old.collect(),
            marks_of_new: marks_of_new.collect(),
            equipment: position(&|of| matches!(of, Of::Equipment)),
            silence: position(&|of| matches!(of, Of::Silence)),
            of_old,
            selection,
            kinds,
            kind_of_new,
            kind_of_old,
            common,
            heads,
            asked,
            old: Plan::compile(Arc::clone(old)),
            new: Plan::compile(Arc::clone(new)),
        }
    }

    /// A boat put together from its records.
    pub fn together(&self, parts: Vec<Part>) -> Option<Together> {
        let (old, new) = (&self.common.old.vocabulary, &self.common.new.vocabulary);
        together(parts, new, Some(old))
    }

    /// For what a version is asked on a day.
    pub(super) fn context(&self, day: Date, older: bool) -> Context {
        let (old, new) = self.levels;
        Context {
            purpose: self.asked.purpose,
            day,
            level: if older { old } else { new },
        }
    }

    /// The day of the check of what was measured on a day.
    pub(super) fn day_of(&self, measured: Date) -> Date {
        let days = &self.asked.days;
        let not_before = days.not_before.unwrap_or(measured);
        days.on.unwrap_or_else(|| measured.max(not_before))
    }

    /// Reads a record.
    ///
    /// # Errors
    /// What is wrong with it.
    pub fn read(
        &self,
        source: &Arc<Source>,
        piece: &Piece,
    ) -> Result<ReadBoat, Vec<crate::diagnostic::Diagnostic>> {
        self.reader.read(source, piece)
    }

    /// Looks at a boat under both versions and counts its items. Gives where the boat stands.
    pub fn look(
        &self,
        boat: &ReadBoat,
        at: &BoatAt,
        scratch: &mut Scratch,
        tally: &mut Tally,
    ) -> (Stand, Stand) {
        let old_context = self.context(boat.day, true);
        let new_context = self.context(boat.day, false);
        scratch.old.clear();
        scratch.new.clear();
        scratch.margins.clear();
        scratch.wanted.clear();
        self.new
            .outcomes(&boat.newer, &new_context, &mut scratch.new);
        if !self.selection.is_empty() {
            self.old.outcomes_of(
                boat.older(),
                &old_context,
                &self.selection,
                &mut scratch.old,
            );
        }
        let older_only = self.fill(boat, scratch);
        for brief in &scratch.new {
            let (Some(rule), ItemRef::Item(item)) = (rule_at(brief.rule), brief.item) else {
                continue;
            };
            let head = self.of_new.get(rule).and_then(|at| self.heads.get(*at));
            if head.is_some_and(|head| !head.limits.is_empty())
                && has_value(brief)
                && !scratch.wanted.contains(&(rule, item))
            {
                scratch.wanted.push((rule, item));
            }
        }
        self.new.margins(
            &boat.newer,
            &new_context,
            &scratch.wanted,
            &mut scratch.margins,
        );
        let width = self.heads.len();
        let record = &boat.newer;
        let mut stands = (Stand::Conforms, Stand::Conforms);
        let total = record.items.len() + older_only.len();
        for number in 0..total {
            let item = match record.items.get(number) {
                Some(item) => Some((item, self.kind_of_new.get(item.part.index()), record)),
                None => older_only
                    .get(number - record.items.len())
                    .and_then(|at| boat.older().items.get(*at))
                    .map(|item| (item, self.kind_of_old.get(item.part.index()), boat.older())),
            };
            let Some((item, Some(kind), of)) = item else {
                continue;
            };
            let cells = scratch
                .cells
                .get(number * width..(number + 1) * width)
                .unwrap_or_default();
            let mut margins: smallvec::SmallVec<[&Margin; 8]> = smallvec::SmallVec::new();
            margins.extend(
                scratch
                    .margins
                    .iter()
                    .filter(|margin| margin.item == number),
            );
            let newer = std::ptr::eq(of, record);
            let file = if newer {
                self.common.new
            } else {
                self.common.old
            };
            let (year, dated) = built(item, &file.vocabulary);
            let looked = Looked {
                kind: *kind,
                cells,
                margins: &margins,
                year,
                dated,
                whole: &OfRecord {
                    pair: self,
                    boat,
                    context: &new_context,
                    item,
                    file,
                    number,
                },
            };
            let item_stands = tally.item(self, at, &looked);
            stands = (stands.0.min(item_stands.0), stands.1.min(item_stands.1));
        }
        stands
    }

    /// Puts what both versions say into cells, by item and head. Gives the items of the older record that the newer
    /// version does not know: they stand behind the others.
    fn fill(&self, boat: &ReadBoat, scratch: &mut Scratch) -> Vec<usize> {
        let width = self.heads.len();
        let record = &boat.newer;
        let mut of_older: Vec<usize> = Vec::new();
        let mut older_only: Vec<usize> = Vec::new();
        for (at, item) in boat
            .older
            .iter()
            .flat_map(|older| older.items.iter().enumerate())
        {
            // An item is the same where it stands at the same place of the text.
            let mut known = record.items.iter();
            let same = known.position(|other| other.span == item.span);
            of_older.push(same.unwrap_or_else(|| {
                older_only.push(at);
                record.items.len() + older_only.len() - 1
            }));
        }
        let total = record.items.len() + older_only.len();
        scratch.cells.clear();
        scratch.cells.resize(total * width, Cell::default());
        let apart = boat.older.is_some();
        for brief in &scratch.old {
            let item = match brief.item {
                ItemRef::Item(at) if apart => of_older.get(at).copied().unwrap_or(usize::MAX),
                ItemRef::Item(at) => at,
                ItemRef::Holding(_) => 0,
            };
            let Some(head) = self.head_of(brief.rule, &self.of_old, &self.marks_of_old) else {
                continue;
            };
            if let Some(cell) = item
                .checked_mul(width)
                .and_then(|row| scratch.cells.get_mut(row + head))
            {
                let stand = Stand::of(brief.outcome);
                cell.old = Some(cell.old.map_or(stand, |known| known.min(stand)));
            }
        }
        for brief in &scratch.new {
            let item = match brief.item {
                ItemRef::Item(at) => at,
                ItemRef::Holding(_) => 0,
            };
            let Some(head) = self.head_of(brief.rule, &self.of_new, &self.marks_of_new) else {
                continue;
            };
            if let Some(cell) = scratch.cells.get_mut(item * width + head) {
                let stand = Stand::of(brief.outcome);
                cell.new = Some(cell.new.map_or(stand, |known| known.min(stand)));
                if brief.outcome == Outcome::NotDecided {
                    cell.is_open(brief.reason);
                }
            }
        }
        for row in scratch.cells.chunks_exact_mut(width.max(1)) {
            for (cell, head) in row.iter_mut().zip(&self.heads) {
                if head.same {
                    cell.old = cell.new;
                }
            }
        }
        older_only
    }

    fn head_of(&self, rule: RuleRef, of_rules: &[usize], of_marks: &[usize]) -> Option<usize> {
        let head = match rule {
            RuleRef::Rule(at) => *of_rules.get(at)?,
            RuleRef::Marks(at, _) | RuleRef::Pairs(at) | RuleRef::Bring(at, _) => {
                *of_marks.get(at)?
            }
            RuleRef::Equipment(_) | RuleRef::Role(..) => self.equipment,
            RuleRef::Silence(_) | RuleRef::Unlisted(_) => self.silence,
        };
        (head < self.heads.len()).then_some(head)
    }
}

/// The year of the first date that is declared of an item, where it is one year; and whether it could have one.
fn built(item: &Item, vocabulary: &Vocabulary) -> (Option<i16>, bool) {
    let Some(part) = vocabulary.part(item.part) else {
        return (None, false);
    };
    let first = part
        .traits
        .iter()
        .position(|one| matches!(one.kind, TraitKind::Date));
    let Some(first) = first else {
        return (None, false);
    };
    let year = match item
        .traits
        .get(first)
        .and_then(Option::as_ref)
        .map(|claim| &claim.value)
    {
        Some(TraitValue::Date(claim)) => {
            let (from, to) = (claim.date.first.year(), claim.date.last.year());
            (from == to).then_some(from)
        }
        Some(TraitValue::Choice(_) | TraitValue::AnyOf(_) | TraitValue::Flag(_)) | None => None,
    };
    (year, true)
}
