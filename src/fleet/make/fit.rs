//! Ranges are narrowed until everything in them keeps a rule.
//!
//! Every range begins as what is plausible. A rule is asked what it comes to at worst while all numbers are anywhere in
//! their ranges, and ends of ranges are cut, the cut that helps most first, until the worst keeps the limit. Nothing that
//! is cut later can undo that, since less can happen in narrower ranges: each rule is gone through once.

use super::ask::asks;
use super::eval::World;
use super::interval::Interval;
use super::model::{Kind, What, Who};
use super::places::looks;
use super::used::Used;
use crate::rules::{Rule, RulesFile};
use crate::vocabulary::{MeasureId, PartId};

/// No more cuts are made for one rule.
const MOST: usize = 300;
/// The share of a range that one cut takes.
const CUT: f64 = 0.1;

/// One rule asked of one item, or of those that it compares.
pub(super) struct Question<'a> {
    pub rules: &'a RulesFile,
    pub rule: &'a Rule,
    pub used: &'a [Used],
    pub own: Who,
    pub lists: &'a [Vec<Who>],
    pub roles: &'a [Who],
    /// Where the boat lies between the ends of all ranges; several are tried where its items are compared.
    pub bases: &'a [Option<f64>],
}

/// A way to narrow something.
#[derive(Clone, Copy, PartialEq)]
enum Way {
    Low,
    High,
    /// Items of one boat are more alike.
    Apart,
}

/// Numbers that are narrowed together.
struct Group {
    part: PartId,
    kinds: Vec<usize>,
    measure: MeasureId,
    what: What,
    cell: Option<usize>,
}

/// A number as it was.
type Kept = (PartId, usize, usize, Interval, f64);

impl Question<'_> {
    fn world<'k>(&'k self, kinds: &'k [Vec<Kind>], base: Option<f64>) -> World<'k> {
        World {
            rules: self.rules,
            kinds,
            lists: self.lists,
            roles: self.roles,
            base,
            held: None,
            doubtful: true,
        }
    }

    /// The sum of what lies beyond the limits at worst; zero where everything is kept.
    pub(super) fn beyond(&self, kinds: &[Vec<Kind>]) -> f64 {
        let mut sum = 0.0;
        for base in self.bases {
            let world = self.world(kinds, *base);
            self.each(&world, kinds, &mut |ask, cell| {
                if let Some((worst, _)) = ask.beyond(&world, &self.own, cell) {
                    sum += worst.max(0.0);
                }
            });
        }
        sum
    }

    /// Visits everything that is asked, with the cell of places that it is asked of.
    pub(super) fn each(
        &self,
        world: &World<'_>,
        kinds: &[Vec<Kind>],
        visit: &mut dyn FnMut(&super::ask::Ask<'_>, Option<usize>),
    ) {
        let rule = self.rule;
        if let Some(when) = &rule.when
            && world.truth(&when.root, &self.own, None) == Some(false)
        {
            return;
        }
        let first = self.own.kinds.first().copied().unwrap_or(0);
        let kind = kinds
            .get(self.own.part.index())
            .and_then(|all| all.get(first));
        let (choices, option) = kind.map_or((&[][..], 0), |kind| (&kind.choices[..], kind.option));
        if !rule.value.yields.placed {
            for ask in asks(rule, choices, option, None) {
                visit(&ask, None);
            }
            return;
        }
        let plan = self
            .used
            .iter()
            .filter(|(part, _)| *part == self.own.part)
            .find_map(|(_, measure)| kind?.plan(*measure));
        for (cell, zones) in plan.iter().flat_map(|plan| plan.cells.iter().enumerate()) {
            if looks(rule, zones) {
                for ask in asks(rule, choices, option, Some(zones)) {
                    visit(&ask, Some(cell));
                }
            }
        }
    }

    /// Narrows ranges until the rule is kept; tells whether it is.
    pub(super) fn settle(&self, kinds: &mut [Vec<Kind>], placed_only: bool) -> bool {
        let groups = self.groups(kinds, placed_only);
        let compares = self.bases.iter().any(Option::is_some);
        for _ in 0..MOST {
            let now = self.beyond(kinds);
            if now <= 0.0 {
                return true;
            }
            let mut scores: Vec<(f64, usize, Way)> = Vec::new();
            for (at, group) in groups.iter().enumerate() {
                for way in [Way::Low, Way::High, Way::Apart] {
                    if way == Way::Apart && !compares {
                        continue;
                    }
                    let before = keep(kinds, group);
                    let share = narrow(kinds, group, way, CUT);
                    let then = self.beyond(kinds);
                    restore(kinds, &before);
                    let score = (now - then) * share;
                    if score > 0.0 {
                        scores.push((score, at, way));
                    }
                }
            }
            let best = scores
                .iter()
                .copied()
                .reduce(|best, one| match one.0 > best.0 {
                    true => one,
                    false => best,
                });
            let Some((most, _, way)) = best else {
                // Two that are compared with each other are only nearer once both are cut.
                for group in &groups {
                    narrow(kinds, group, Way::Low, CUT / 2.0);
                    narrow(kinds, group, Way::High, CUT / 2.0);
                }
                if self.beyond(kinds) < now {
                    continue;
                }
                return false;
            };
            // What helps as much is cut as well: two arms of one sum stay alike, as another rule may ask of them.
            let alike = |one: &&(f64, usize, Way)| one.2 == way && one.0 >= most * (1.0 - 1e-9);
            let cut = scores
                .iter()
                .filter(alike)
                .filter_map(|one| groups.get(one.1));
            let cut: Vec<(&Group, Vec<Kept>)> =
                cut.map(|group| (group, keep(kinds, group))).collect();
            for (group, _) in &cut {
                narrow(kinds, group, way, CUT);
            }
            if way != Way::Apart && self.beyond(kinds) <= 0.0 {
                self.no_more_than_needed(kinds, &cut, way);
            }
        }
        self.beyond(kinds) <= 0.0
    }

    /// Gives back of a last cut what was not needed.
    fn no_more_than_needed(&self, kinds: &mut [Vec<Kind>], cut: &[(&Group, Vec<Kept>)], way: Way) {
        let again = |kinds: &mut [Vec<Kind>], share: f64| {
            for (group, before) in cut {
                restore(kinds, before);
                narrow(kinds, group, way, share);
            }
        };
        let (mut less, mut enough) = (0.0, CUT);
        for _ in 0..8 {
            let middle = (less + enough) / 2.0;
            again(kinds, middle);
            if self.beyond(kinds) <= 0.0 {
                enough = middle;
            } else {
                less = middle;
            }
        }
        again(kinds, enough);
    }

    /// The numbers that the rule looks at.
    fn groups(&self, kinds: &[Vec<Kind>], placed_only: bool) -> Vec<Group> {
        let mut found: Vec<Group> = Vec::new();
        for (part, measure) in self.used {
            let all = kinds.get(part.index()).map_or(0, Vec::len);
            let mut slots: Vec<usize> = self
                .roles
                .iter()
                .chain([&self.own])
                .filter(|who| who.part == *part)
                .flat_map(|who| who.kinds.iter().copied())
                .collect();
            slots.sort_unstable();
            slots.dedup();
            if slots.is_empty() {
                slots = (0..all).collect();
            }
            for slot in &slots {
                let kind = kinds.get(part.index()).and_then(|all| all.get(*slot));
                for knob in kind.iter().flat_map(|kind| &kind.knobs) {
                    let wanted = knob.measure == *measure && (knob.cell.is_some() || !placed_only);
                    let known = found.iter().any(|group| {
                        group.part == *part
                            && group.measure == *measure
                            && group.what == knob.what
                            && group.cell == knob.cell
                    });
                    if wanted && !known {
                        found.push(Group {
                            part: *part,
                            kinds: slots.clone(),
                            measure: *measure,
                            what: knob.what,
                            cell: knob.cell,
                        });
                    }
                }
            }
        }
        found
    }
}

fn members<'k>(
    kinds: &'k mut [Vec<Kind>],
    group: &Group,
) -> impl Iterator<Item = (usize, usize, &'k mut super::model::Knob)> {
    let (slots, measure, what, cell) = (group.kinds.clone(), group.measure, group.what, group.cell);
    let all = kinds.get_mut(group.part.index());
    all.into_iter()
        .flatten()
        .enumerate()
        .filter(move |(slot, _)| slots.contains(slot))
        .flat_map(move |(slot, kind)| {
            let each = kind.knobs.iter_mut().enumerate();
            each.filter(move |(_, knob)| {
                knob.measure == measure && knob.what == what && knob.cell == cell
            })
            .map(move |(at, knob)| (slot, at, knob))
        })
}

fn keep(kinds: &mut [Vec<Kind>], group: &Group) -> Vec<Kept> {
    let part = group.part;
    members(kinds, group)
        .map(|(slot, at, knob)| (part, slot, at, knob.range, knob.apart))
        .collect()
}

fn restore(kinds: &mut [Vec<Kind>], kept: &[Kept]) {
    for (part, slot, at, range, apart) in kept {
        let kind = kinds
            .get_mut(part.index())
            .and_then(|all| all.get_mut(*slot));
        if let Some(knob) = kind.and_then(|kind| kind.knobs.get_mut(*at)) {
            knob.range = *range;
            knob.apart = *apart;
        }
    }
}

/// Takes a share of a range away; gives how much of what there was in the beginning was there before.
fn narrow(kinds: &mut [Vec<Kind>], group: &Group, way: Way, share: f64) -> f64 {
    let mut hull: Option<Interval> = None;
    let mut start = 0.0_f64;
    for (_, _, knob) in members(kinds, group) {
        hull = Some(hull.map_or(knob.range, |hull| hull.hull(knob.range)));
        start = start.max(knob.start.width());
    }
    let Some(hull) = hull else { return 0.0 };
    let low = hull.low + share * hull.width();
    let high = hull.high - share * hull.width();
    for (_, _, knob) in members(kinds, group) {
        match way {
            Way::Low => knob.range.low = knob.range.low.max(low).min(knob.range.high),
            Way::High => knob.range.high = knob.range.high.min(high).max(knob.range.low),
            Way::Apart => knob.apart /= 2.0,
        }
        knob.apart = knob.apart.min(knob.range.width() / 2.0);
    }
    if start > 0.0 {
        hull.width() / start
    } else {
        0.0
    }
}
