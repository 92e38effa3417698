//! Counting: what was seen of items, added up in flat memory, the same whatever the order in which it is added.

use std::cmp::Ordering;
use std::collections::BTreeMap;

use super::before::New;
use super::heads::{LimitHead, Of, RuleHead};
use super::model::{
    Case, Histogram, Impact, LimitImpact, Moves, OtherCase, RuleImpact, Sample, Stand,
};
use super::pair::{Looked, Pair};
use crate::check::{Finding, FoundValue, Margin, Outcome, Reason};
use crate::quantity::Date;
use crate::rules::BoundKind;

/// The worst cases that are kept of one limit.
pub const WORST: usize = 10;

/// Bins on either side of a limit; what lies further away is counted there.
const BINS: i64 = 400;

/// Where a record stands: its file by position, and its line.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct BoatAt {
    /// The file.
    pub file: usize,
    /// The line, from 1.
    pub line: u32,
}

/// Sums over boats.
#[derive(Debug, Default)]
pub struct Tally {
    boats: Moves,
    items: Moves,
    parts: Vec<Moves>,
    rules: Vec<RuleTally>,
    within: u64,
    never: u64,
    years: BTreeMap<Option<i16>, Moves>,
    /// What was looked at beside.
    pub sample: Sample,
}

#[derive(Debug, Default)]
struct RuleTally {
    moves: Moves,
    open: BTreeMap<Reason, u64>,
    /// Items that are open within their uncertainty of a limit that is not new to them.
    open_as_before: u64,
    never: u64,
    within: u64,
    others: Vec<Kept>,
    opened: Vec<Kept>,
    limits: Vec<LimitTally>,
}

#[derive(Debug, Default)]
struct LimitTally {
    /// From the outermost bin below the limit on; empty before the first value.
    bins: Vec<u64>,
    beyond: (u64, u64),
    /// U of values near the limit in millionths of a bin, added up whole so that no order of adding shows; and how many.
    near: (i128, u64),
    worst: Vec<Kept>,
}

/// A case with what it is ordered by.
#[derive(Debug)]
struct Kept {
    margin: f64,
    /// The boat, and the record that the value stands in: the same, but for a boat that has several.
    at: BoatAt,
    shown_at: BoatAt,
    path: String,
    sail_number: String,
    day: Date,
    before: Stand,
    finding: Box<Finding>,
}

impl Kept {
    fn order(&self, other: &Kept) -> Ordering {
        let margin = self.margin.total_cmp(&other.margin);
        margin
            .then_with(|| self.at.cmp(&other.at))
            .then_with(|| self.path.cmp(&other.path))
    }
}

fn keep(worst: &mut Vec<Kept>, case: Kept) {
    let place = worst.partition_point(|known| known.order(&case) == Ordering::Less);
    worst.insert(place, case);
    worst.truncate(WORST);
}

impl Tally {
    /// One more boat, by where it stands.
    pub fn boat(&mut self, (old, new): (Stand, Stand)) {
        self.boats.add(old, new);
        self.sample.boats += 1;
    }

    /// One item; gives where it stands.
    pub(super) fn item(
        &mut self,
        pair: &Pair<'_>,
        at: &BoatAt,
        looked: &Looked<'_>,
    ) -> (Stand, Stand) {
        if self.rules.len() < pair.heads.len() {
            self.rules.resize_with(pair.heads.len(), RuleTally::default);
        }
        let (mut old, mut new) = (Stand::Conforms, Stand::Conforms);
        let (mut within, mut never) = (false, false);
        let heads = pair.heads.iter().enumerate();
        for ((cell, (head_at, head)), tally) in looked.cells.iter().zip(heads).zip(&mut self.rules)
        {
            old = old.min(cell.old.unwrap_or(Stand::Conforms));
            new = new.min(cell.new.unwrap_or(Stand::Conforms));
            if head.same || (cell.old.is_none() && cell.new.is_none()) {
                continue;
            }
            let before = cell.old.unwrap_or(Stand::Conforms);
            let now = cell.new.unwrap_or(Stand::Conforms);
            tally.moves.add(before, now);
            let open = cell.open.filter(|_| now == Stand::NotDecided);
            if open == Some(Reason::NotMeasured) {
                tally.never += 1;
                never |= !head.neutral;
            }
            let numbered = looked.margins.iter().any(|margin| {
                head.is_rule(margin.rule) && margin.margin < 0.0 && head.limit_of(margin).is_some()
            });
            let kept = match (before, now, open) {
                (Stand::Conforms | Stand::NotDecided, Stand::DoesNotConform, _) if !numbered => {
                    Some((&mut tally.others, Outcome::DoesNotConform))
                }
                (Stand::Conforms, Stand::NotDecided, Some(reason))
                    if !matches!(reason, Reason::NearLimit | Reason::NotMeasured) =>
                {
                    Some((&mut tally.opened, Outcome::NotDecided))
                }
                (Stand::Conforms | Stand::NotDecided | Stand::DoesNotConform, _, _) => None,
            };
            if let Some((list, outcome)) = kept {
                looked.offer((head_at, head), at, (before, outcome), list);
            }
            if head.limits.is_empty() {
                if let Some(reason) = open {
                    *tally.open.entry(reason).or_default() += 1;
                }
                continue;
            }
            if tally.limits.len() < head.limits.len() {
                tally
                    .limits
                    .resize_with(head.limits.len(), LimitTally::default);
            }
            let mut near = false;
            // The limit that is nearest by how far a value can be wrong, and whether it is new to the item.
            let mut nearest: Option<(f64, bool)> = None;
            for margin in looked
                .margins
                .iter()
                .filter(|margin| head.is_rule(margin.rule))
            {
                let Some(place) = head.limit_of(margin) else {
                    continue;
                };
                let (Some(limit), Some(own)) =
                    (head.limits.get(place), tally.limits.get_mut(place))
                else {
                    continue;
                };
                let within = own.add(limit, margin);
                let away = margin.margin.abs() / margin.u.unwrap_or(1.0);
                let nearer = nearest.is_none_or(|(known, _)| away < known);
                let asked = open == Some(Reason::NearLimit) && nearer;
                let new = (within || asked) && looked.is_new_to(head, limit);
                near |= within && new;
                if asked {
                    nearest = Some((away, new));
                }
                if now == Stand::DoesNotConform
                    && before != Stand::DoesNotConform
                    && margin.margin < 0.0
                {
                    let counted = own.offer(at, looked, margin, before);
                    // A count is told with what else has no distance.
                    if let Some(case) = counted {
                        keep(&mut tally.others, case);
                    }
                }
            }
            match (open, nearest) {
                (Some(_), Some((_, false))) => tally.open_as_before += 1,
                (Some(reason), Some((_, true)) | None) => {
                    *tally.open.entry(reason).or_default() += 1;
                }
                (None, _) => {}
            }
            tally.within += u64::from(near);
            within |= near && !head.neutral;
        }
        self.items.add(old, new);
        if self.parts.len() <= looked.kind {
            self.parts.resize_with(looked.kind + 1, Moves::default);
        }
        if let Some(part) = self.parts.get_mut(looked.kind) {
            part.add(old, new);
        }
        if looked.dated {
            self.years.entry(looked.year).or_default().add(old, new);
        }
        self.within += u64::from(within);
        self.never += u64::from(never);
        (old, new)
    }

    /// All of another tally as well.
    pub fn merge(&mut self, other: Tally) {
        self.boats.merge(&other.boats);
        self.items.merge(&other.items);
        merge_lists(&mut self.parts, other.parts, |own, more| own.merge(&more));
        merge_lists(&mut self.rules, other.rules, RuleTally::merge);
        self.within += other.within;
        self.never += other.never;
        for (year, moves) in other.years {
            self.years.entry(year).or_default().merge(&moves);
        }
        self.sample.merge(other.sample);
    }

    /// What it all comes to. `files` names the files by position.
    pub fn impact(self, pair: &Pair<'_>, files: &[String]) -> Impact {
        let mut sample = self.sample;
        sample.on = pair.asked.days.on;
        sample.not_before = pair
            .asked
            .days
            .not_before
            .filter(|_| pair.asked.days.on.is_none());
        let parts: Vec<(String, Moves)> = pair.kinds.iter().cloned().zip(self.parts).collect();
        let parts: Vec<(String, Moves)> = parts
            .into_iter()
            .filter(|(_, moves)| moves.total() > 0)
            .collect();
        sample.items = parts
            .iter()
            .map(|(name, moves)| (name.clone(), moves.total()))
            .collect();
        let heads = pair.heads.iter().zip(self.rules);
        let rules = heads
            .filter(|(head, _)| !head.same)
            .filter_map(|(head, tally)| {
                let moved = head.limits.iter().any(|limit| limit.old != limit.new);
                let rule = tally.impact(head, files);
                // A limit that moves is told even where no value was met by it: of all it asks for, nothing was measured.
                let asked = moved && rule.moves.total() > 0;
                (asked || worth_telling(&rule)).then_some(rule)
            });
        let rules: Vec<RuleImpact> = rules.collect();
        Impact {
            sample,
            boats: self.boats,
            items: self.items,
            parts,
            rules,
            within_uncertainty: self.within,
            never_measured: self.never,
            years: self.years.into_iter().collect(),
        }
    }
}

/// Rules by which nothing moved and nothing is near are left out where they are many: a change of the whole file's doubt, for
/// example, makes every rule another one.
fn worth_telling(rule: &RuleImpact) -> bool {
    let changed_limit = rule.limits.iter().any(|limit| limit.old != limit.new);
    let one_sided = rule.in_versions != (true, true);
    rule.moves.moved() > 0 || changed_limit || (one_sided && rule.moves.total() > 0)
}

fn merge_lists<T: Default>(own: &mut Vec<T>, other: Vec<T>, mut merge: impl FnMut(&mut T, T)) {
    if own.len() < other.len() {
        own.resize_with(other.len(), T::default);
    }
    for (own, more) in own.iter_mut().zip(other) {
        merge(own, more);
    }
}

impl RuleTally {
    fn merge(&mut self, other: RuleTally) {
        self.moves.merge(&other.moves);
        for (reason, count) in other.open {
            *self.open.entry(reason).or_default() += count;
        }
        self.open_as_before += other.open_as_before;
        self.never += other.never;
        self.within += other.within;
        for case in other.others {
            keep(&mut self.others, case);
        }
        for case in other.opened {
            keep(&mut self.opened, case);
        }
        merge_lists(&mut self.limits, other.limits, LimitTally::merge);
    }

    fn impact(self, head: &RuleHead, files: &[String]) -> RuleImpact {
        let mut open: Vec<(Reason, u64)> = self.open.into_iter().collect();
        open.sort_by_key(|(reason, count)| (std::cmp::Reverse(*count), *reason));
        let limits = head.limits.iter().zip(self.limits);
        let limits = limits.map(|(limit, tally)| tally.impact(limit, files));
        RuleImpact {
            rule: head.id.clone(),
            clause: head.clause.clone(),
            title: head.title.clone(),
            part: head.part.clone(),
            in_versions: head.of.versions(),
            moves: self.moves,
            open,
            open_as_before: self.open_as_before,
            others: self
                .others
                .into_iter()
                .map(|kept| other_case(kept, files))
                .collect(),
            opened: self
                .opened
                .into_iter()
                .map(|kept| other_case(kept, files))
                .collect(),
            never_measured: self.never,
            within_uncertainty: self.within,
            limits: limits.filter(|limit| limit.margins.total() > 0).collect(),
        }
    }
}

impl Looked<'_> {
    /// Keeps the item as a case of a rule, with the first of its findings that has an outcome.
    fn offer(
        &self,
        (head_at, head): (usize, &RuleHead),
        at: &BoatAt,
        (before, outcome): (Stand, Outcome),
        list: &mut Vec<Kept>,
    ) {
        if list.len() >= WORST && list.last().is_some_and(|last| last.at < *at) {
            return;
        }
        let all = match head.of {
            Of::Rule { new, .. } => new.map_or_else(Vec::new, |rule| self.whole.findings(rule)),
            Of::Marks { .. } | Of::Equipment | Of::Silence => self.whole.findings_beside(head_at),
        };
        let Some(finding) = all.into_iter().find(|one| one.outcome == outcome) else {
            return;
        };
        let (shown_at, day) = match self.whole.origin(&finding) {
            Some(origin) => (origin.at, origin.measured),
            None => (*at, self.whole.measured()),
        };
        let case = Kept {
            margin: 0.0,
            at: *at,
            shown_at,
            path: self.whole.path(),
            sail_number: self.whole.sail_number(),
            day,
            before,
            finding: Box::new(finding),
        };
        keep(list, case);
    }

    /// Whether a limit is new to the item.
    fn is_new_to(&self, head: &RuleHead, limit: &LimitHead) -> bool {
        match limit.new_to {
            New::All => true,
            New::None => false,
            New::Some => self.whole.is_new_to(head, limit),
        }
    }
}

impl LimitTally {
    /// One value more; tells whether it lies within its uncertainty of the limit.
    fn add(&mut self, limit: &LimitHead, margin: &Margin) -> bool {
        // A border belongs to the bin above it, whichever way a quotient was rounded; the limit itself is one.
        let bin = (margin.margin / limit.width + 1e-7).floor();
        let bin = if margin.margin < 0.0 {
            bin.min(-1.0)
        } else {
            bin
        };
        match bin {
            bin if bin < -(BINS as f64) => self.beyond.0 += 1,
            bin if bin >= BINS as f64 => self.beyond.1 += 1,
            // Not a number only where the width is none.
            bin if bin.is_nan() => self.beyond.1 += 1,
            #[expect(
                clippy::cast_possible_truncation,
                reason = "a whole number between the outermost bins"
            )]
            bin => {
                let bins = usize::try_from(2 * BINS).unwrap_or(0);
                if self.bins.is_empty() {
                    self.bins.resize(bins, 0);
                }
                let place = usize::try_from(bin as i64 + BINS).unwrap_or(bins);
                if let Some(count) = self.bins.get_mut(place) {
                    *count += 1;
                }
            }
        }
        let Some(u) = margin.u.filter(|u| *u > 0.0 && margin.margin.abs() <= *u) else {
            return false;
        };
        #[expect(
            clippy::cast_possible_truncation,
            reason = "U is at least as large as a margin that has a bin"
        )]
        let parts = (u / limit.width * 1e6).round() as i128;
        self.near.0 += parts;
        self.near.1 += 1;
        true
    }

    /// Keeps a value beyond the limit, if it is among the worst; gives it back where it is no number.
    fn offer(
        &mut self,
        at: &BoatAt,
        looked: &Looked<'_>,
        margin: &Margin,
        before: Stand,
    ) -> Option<Kept> {
        let better = |last: &Kept| {
            let order = last.margin.total_cmp(&margin.margin);
            order.then_with(|| last.at.cmp(at)) == Ordering::Less
        };
        let too_good = self.worst.len() >= WORST && self.worst.last().is_some_and(better);
        if too_good {
            return None;
        }
        let finding = match &margin.finding {
            Some(finding) => Some(finding.clone()),
            None => {
                let all = looked.whole.findings(margin.rule).into_iter();
                let mut same = all.filter(|finding| finding.side == Some(margin.kind));
                same.next().map(Box::new)
            }
        };
        let finding = finding?;
        let exact = finding
            .margin
            .as_ref()
            .map_or(margin.margin, crate::quantity::Number::to_f64);
        let origin = looked.whole.origin(&finding);
        let (shown_at, day) = match origin {
            Some(origin) => (origin.at, origin.measured),
            None => (*at, looked.whole.measured()),
        };
        let case = Kept {
            margin: exact,
            at: *at,
            shown_at,
            path: looked.whole.path(),
            sail_number: looked.whole.sail_number(),
            day,
            before,
            finding,
        };
        if !has_distance(&case.finding) {
            return Some(case);
        }
        keep(&mut self.worst, case);
        None
    }

    fn merge(&mut self, other: LimitTally) {
        merge_lists(&mut self.bins, other.bins, |own, more| *own += more);
        self.beyond.0 += other.beyond.0;
        self.beyond.1 += other.beyond.1;
        self.near.0 += other.near.0;
        self.near.1 += other.near.1;
        for case in other.worst {
            keep(&mut self.worst, case);
        }
    }

    fn impact(self, limit: &LimitHead, files: &[String]) -> LimitImpact {
        let filled = |count: &u64| *count > 0;
        let lowest = self.bins.iter().position(filled);
        let highest = self.bins.iter().rposition(filled);
        let range = lowest
            .zip(highest)
            .map_or(0..0, |(lowest, highest)| lowest..highest + 1);
        let first = lowest.and_then(|at| i64::try_from(at).ok());
        let first = first.map_or(0, |at| at - BINS);
        let counts = self.bins.get(range).unwrap_or_default().iter().copied();
        let cases = self.worst.into_iter().filter_map(|kept| case(kept, files));
        LimitImpact {
            row: limit.row,
            row_name: limit.row_name.clone(),
            kind: limit.kind,
            unit: limit.unit,
            decimals: limit.decimals,
            old: limit.old.clone(),
            old_written: limit.old_written,
            texts: limit.texts.clone(),
            new: limit.new.clone(),
            margins: Histogram {
                width: limit.width,
                first,
                counts: counts.collect(),
                beyond: self.beyond,
            },
            #[expect(clippy::cast_precision_loss, reason = "a count of items")]
            typical_u: (self.near.1 > 0)
                .then(|| self.near.0 as f64 / 1e6 * limit.width / self.near.1 as f64),
            worst: cases.collect(),
        }
    }
}

fn other_case(kept: Kept, files: &[String]) -> OtherCase {
    OtherCase {
        sail_number: kept.sail_number,
        at: (
            files.get(kept.shown_at.file).cloned().unwrap_or_default(),
            kept.shown_at.line,
        ),
        item: kept.path,
        day: kept.day,
        before: kept.before,
        finding: kept.finding,
    }
}

/// Whether a value is a number that lies some way from its limit.
fn has_distance(finding: &Finding) -> bool {
    finding.margin.is_some() && matches!(finding.value, Some(FoundValue::Number { .. }))
}

fn case(kept: Kept, files: &[String]) -> Option<Case> {
    let (value, decimals) = match &kept.finding.value {
        Some(FoundValue::Number {
            value, decimals, ..
        }) => (value.clone(), *decimals),
        Some(FoundValue::Count { .. } | FoundValue::Answer(_) | FoundValue::Word(_)) | None => {
            return None;
        }
    };
    Some(Case {
        sail_number: kept.sail_number,
        at: (
            files.get(kept.shown_at.file).cloned().unwrap_or_default(),
            kept.shown_at.line,
        ),
        item: kept.path,
        day: kept.day,
        before: kept.before,
        value,
        decimals,
        u: kept.finding.expanded.map(|expanded| expanded.U),
        margin: kept.finding.margin?,
    })
}

impl RuleHead {
    fn is_rule(&self, new: usize) -> bool {
        matches!(self.of, super::heads::Of::Rule { new: Some(own), .. } if own == new)
    }

    /// Which of its limits a value was compared with.
    fn limit_of(&self, margin: &Margin) -> Option<usize> {
        let kind: BoundKind = margin.kind;
        self.limits
            .iter()
            .position(|limit| limit.row == margin.row && limit.kind == kind)
    }
}
