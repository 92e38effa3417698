//! Whole boats without numbers: which parts they have, of which kind, used together how, and which of them are marked.

use super::book::{BOAT, Known, slots};
use super::fit::Question;
use super::model::{Kind, Who};
use super::random::Random;
use crate::expression::{Node, Op};
use crate::rules::{MarkLimits, MarkRule, RulesFile};
use crate::vocabulary::{HoldingId, Part, PartId, TraitKind};

/// Boats that are tried, and those that are kept.
const TRIED: u64 = 600;
const KEPT: usize = 96;

/// A part of a boat by its list and its place in it.
pub(super) type Member = (HoldingId, usize);

/// A boat without numbers.
#[derive(Clone, Debug)]
pub(super) struct Boat {
    /// The kind of the boat itself.
    pub own: usize,
    /// Items by slot of the holding, each of one kind.
    pub lists: Vec<Vec<Who>>,
    /// Groups by slot of the holding: who fills their roles, in order.
    pub groups: Vec<(HoldingId, Vec<Vec<Member>>)>,
}

/// Boats that keep what the class asks of a boat as a whole.
pub(super) fn boats(rules: &RulesFile, known: &[Known<'_>], kinds: &mut [Vec<Kind>]) -> Vec<Boat> {
    groups(rules, known, kinds);
    let (whole, counting): (Vec<&Known<'_>>, Vec<&Known<'_>>) = known
        .iter()
        .filter(|(rule, used)| {
            let group = rules
                .vocabulary
                .part(rule.applies_to)
                .is_some_and(Part::is_group);
            !group
                && (rule.applies_to == BOAT
                    || used.iter().any(|(part, _)| *part != rule.applies_to))
        })
        .partition(|(rule, _)| !counts(rules, rule.applies_to, &rule.value.root));
    let any = anything(rules, kinds);
    for (rule, used) in &whole {
        let count = kinds.get(rule.applies_to.index()).map_or(0, Vec::len);
        for slot in 0..count {
            ask(rules, (rule, used), Who::one(rule.applies_to, slot), &any).settle(kinds, false);
        }
    }
    let mut tried: Vec<Boat> = (0..TRIED)
        .map(|number| boat(rules, kinds, number))
        .collect();
    tried.sort_by_key(|boat| boat.lists.iter().map(Vec::len).sum::<usize>());
    let keeps = |kinds: &[Vec<Kind>], boat: &Boat, (rule, used): &Known<'_>| {
        let own = Who::one(rule.applies_to, boat.own);
        ask(rules, (rule, used), own, &boat.lists).beyond(kinds) <= 0.0
    };
    for one in &counting {
        let kept: Vec<Boat> = tried
            .iter()
            .filter(|boat| keeps(kinds, boat, one))
            .cloned()
            .collect();
        if kept.len() > tried.len() / 20 {
            tried = kept;
            continue;
        }
        // Hardly any boat keeps it as it is: the numbers have to. What is least in number is easiest.
        let middle = tried.len() / 3;
        for at in [middle, 0] {
            let Some(boat) = tried.get(at) else { continue };
            let before = kinds.to_vec();
            let own = Who::one(one.0.applies_to, boat.own);
            if ask(rules, (one.0, &one.1), own, &boat.lists).settle(kinds, false) {
                break;
            }
            kinds.clone_from_slice(&before);
        }
        let kept: Vec<Boat> = tried
            .iter()
            .filter(|boat| keeps(kinds, boat, one))
            .cloned()
            .collect();
        if !kept.is_empty() {
            tried = kept;
        }
    }
    // Small boats and large ones alike.
    let step = tried.len().div_ceil(KEPT).max(1);
    tried.into_iter().step_by(step).collect()
}

fn ask<'a>(
    rules: &'a RulesFile,
    (rule, used): (&'a crate::rules::Rule, &'a [super::used::Used]),
    own: Who,
    lists: &'a [Vec<Who>],
) -> Question<'a> {
    Question {
        rules,
        rule,
        used,
        own,
        lists,
        roles: &[],
        bases: &[None],
    }
}

/// Whether an expression counts or sums over parts.
fn counts(rules: &RulesFile, own: PartId, node: &Node) -> bool {
    let mut found = false;
    super::used::each(node, &mut |node| match &node.op {
        Op::Count { .. } | Op::Sum { .. } => found = true,
        Op::Derived(scope, slot) => {
            if let Some(part) = scope.part(own, &rules.vocabulary)
                && let Some(derived) = rules.derived_value(part, *slot)
            {
                found |= counts(rules, part, &derived.root);
            }
        }
        _ => {}
    });
    found
}

/// A boat whose single parts may be of any kind.
fn anything(rules: &RulesFile, kinds: &[Vec<Kind>]) -> Vec<Vec<Who>> {
    let each = rules.vocabulary.holdings.iter();
    each.map(|holding| {
        if holding.many {
            return Vec::new();
        }
        let count = kinds.get(holding.part.index()).map_or(0, Vec::len);
        vec![Who {
            part: holding.part,
            kinds: (0..count).collect(),
            marked: None,
        }]
    })
    .collect()
}

/// The kinds in the roles of a group around one kind.
fn around(rules: &RulesFile, kinds: &[Vec<Kind>], group: &Part, seed: usize) -> Vec<Who> {
    let each = group.roles.iter();
    each.map(|role| {
        let all = kinds.get(role.part.index()).map_or(&[][..], Vec::as_slice);
        let slot = seed % all.len().max(1);
        let fitting = all
            .get(slot)
            .and_then(|kind| fits(rules, all, kind, &role.name.text));
        Who::one(role.part, fitting.unwrap_or(slot))
    })
    .collect()
}

/// The kind most like another one that is declared for what a role is called, where the class has such a word; else
/// one that is not declared for anything else.
fn fits(rules: &RulesFile, all: &[Kind], like: &Kind, role: &str) -> Option<usize> {
    let part = rules.vocabulary.part(like.part)?;
    let role_of = |kind: &Kind| {
        part.traits.iter().zip(&kind.choices).any(|(one, choice)| {
            let name = choice.and_then(|choice| one.kind.names().get(choice.index()));
            name.is_some_and(|name| role == name.text || role.ends_with(&format!("_{}", name.text)))
        })
    };
    let differs = |kind: &Kind| {
        let pairs = kind.choices.iter().zip(&like.choices);
        pairs.filter(|(one, other)| one != other).count() + usize::from(kind.option != like.option)
    };
    let named = all.iter().any(role_of);
    let each = all.iter().enumerate();
    each.filter(|(_, kind)| !named || role_of(kind))
        .min_by_key(|(_, kind)| differs(kind))
        .map(|(at, _)| at)
}

/// Narrows what items of one boat may differ by, so that those that are used together keep the rules on them.
fn groups(rules: &RulesFile, known: &[Known<'_>], kinds: &mut [Vec<Kind>]) {
    for (part, group) in slots(rules.vocabulary.parts.len()).zip(&rules.vocabulary.parts) {
        if !group.is_group() {
            continue;
        }
        let most = group
            .roles
            .iter()
            .filter_map(|role| kinds.get(role.part.index()))
            .map(Vec::len);
        for seed in 0..most.max().unwrap_or(0) {
            let roles = around(rules, kinds, group, seed);
            for (rule, used) in known {
                if rule.applies_to != PartId(part) {
                    continue;
                }
                let question = Question {
                    rules,
                    rule,
                    used,
                    own: Who {
                        part: PartId(part),
                        kinds: Vec::new(),
                        marked: None,
                    },
                    lists: &[],
                    roles: &roles,
                    bases: &[Some(0.0), Some(0.5), Some(1.0)],
                };
                question.settle(kinds, false);
            }
        }
    }
}

/// One boat by its number.
fn boat(rules: &RulesFile, kinds: &[Vec<Kind>], number: u64) -> Boat {
    let vocabulary = &rules.vocabulary;
    let mut random = Random::of(0x7e57, number);
    let mut lists: Vec<Vec<Who>> = vec![Vec::new(); vocabulary.holdings.len()];
    let mut found = Vec::new();
    let kind_count = |part: PartId| kinds.get(part.index()).map_or(0, Vec::len);
    // What is named first in the rules is the commonest.
    let common = |random: &mut Random, count: usize| random.index(count).min(random.index(count));
    for (holding, declared) in slots(lists.len()).map(HoldingId).zip(&vocabulary.holdings) {
        let Some(group) = vocabulary
            .part(declared.part)
            .filter(|part| part.is_group())
        else {
            continue;
        };
        let least = usize::try_from(declared.at_least).unwrap_or(0).max(1);
        let sets = least + random.index(2);
        let mut members = Vec::new();
        let count = group.roles.iter().map(|role| kind_count(role.part)).max();
        for _ in 0..sets {
            let seed = common(&mut random, count.unwrap_or(0));
            let mut set = Vec::new();
            for who in around(rules, kinds, group, seed) {
                let from = vocabulary.holdings.iter().position(|one| {
                    one.part == who.part && !vocabulary.part(one.part).is_some_and(Part::is_group)
                });
                let Some(from) = from.and_then(|from| u16::try_from(from).ok()) else {
                    continue;
                };
                if let Some(list) = lists.get_mut(usize::from(from)) {
                    list.push(who);
                    set.push((HoldingId(from), list.len() - 1));
                }
            }
            members.push(set);
        }
        found.push((holding, members));
    }
    for (slot, declared) in vocabulary.holdings.iter().enumerate() {
        let Some(part) = vocabulary
            .part(declared.part)
            .filter(|part| !part.is_group())
        else {
            continue;
        };
        let count = kind_count(declared.part);
        let Some(list) = lists.get_mut(slot) else {
            continue;
        };
        if count == 0 {
            continue;
        }
        if !declared.many {
            list.push(Who::one(declared.part, common(&mut random, count)));
            continue;
        }
        let least = usize::try_from(declared.at_least).unwrap_or(0);
        let more = if least >= 3 { 7 } else { 3 };
        let wanted = least + random.index(more);
        let used_together = !list.is_empty();
        while list.len() < wanted {
            let last = list.last().and_then(|who| who.kinds.first()).copied();
            let kind = match last {
                Some(last) if (used_together || least >= 3) && random.index(2) == 0 => last,
                _ => unlike(list, kinds, part, declared.part, &mut random)
                    .unwrap_or_else(|| common(&mut random, count)),
            };
            list.push(Who::one(declared.part, kind));
        }
    }
    for mark in &rules.marks {
        let item = mark.item.index();
        let mut marked = lists.get(item).cloned().unwrap_or_default();
        nominate(rules, kinds, mark, &mut marked);
        if let Some(list) = lists.get_mut(item) {
            *list = marked;
        }
    }
    Boat {
        own: common(&mut random, kind_count(BOAT)),
        lists,
        groups: found,
    }
}

/// A kind whose first choice no item of a list has yet: a mast, then a boom. Nothing where the part has no choices, or
/// where all are there.
fn unlike(
    list: &[Who],
    kinds: &[Vec<Kind>],
    part: &Part,
    id: PartId,
    random: &mut Random,
) -> Option<usize> {
    let first = part
        .traits
        .iter()
        .position(|one| matches!(one.kind, TraitKind::Choice(_)))?;
    let all = kinds.get(id.index())?;
    let choice = |slot: usize| all.get(slot)?.choices.get(first).copied().flatten();
    let known: Vec<_> = list
        .iter()
        .flat_map(|who| who.kinds.iter().filter_map(|slot| choice(*slot)))
        .collect();
    let next = (0..all.len())
        .filter_map(choice)
        .find(|one| !known.contains(one))?;
    let fitting: Vec<usize> = (0..all.len())
        .filter(|slot| choice(*slot) == Some(next))
        .collect();
    random.pick(&fitting).copied()
}

/// Nominates as many items as may be marked at every level.
fn nominate(rules: &RulesFile, kinds: &[Vec<Kind>], mark: &MarkRule, list: &mut [Who]) {
    let most = match &mark.limits {
        MarkLimits::Direct(limit) => Some(limit.at_most),
        MarkLimits::ByLevel { rows, .. } => rows.iter().map(|(_, limit)| limit.at_most).min(),
    };
    let most = usize::try_from(most.unwrap_or(0)).unwrap_or(0);
    let world = super::book::world(rules, kinds, &[]);
    let is = |condition: &Node, who: &Who| world.truth(condition, who, None);
    let fits = |list: &[Who]| {
        let marked = || list.iter().filter(|who| who.marked == Some(true));
        marked().count() <= most
            && mark.of_which.iter().all(|cap| {
                let such = marked().filter(|who| is(&cap.condition.root, who) != Some(false));
                i64::try_from(such.count()).is_ok_and(|count| count <= cap.limit.at_most)
            })
    };
    for who in list.iter_mut() {
        who.marked = Some(false);
    }
    let alike = |one: &Who, other: &Who| {
        let choices = |who: &Who| {
            let all = kinds.get(who.part.index())?;
            Some(&all.get(*who.kinds.first()?)?.choices)
        };
        mark.pairs.as_ref().is_some_and(|pairs| {
            pairs.alike.iter().all(|(slot, _)| {
                choices(one).map(|all| all.get(slot.index()))
                    == choices(other).map(|all| all.get(slot.index()))
            })
        })
    };
    for first in 0..list.len() {
        let paired = mark
            .pairs
            .as_ref()
            .zip(list.get(first))
            .is_some_and(|(pairs, who)| is(&pairs.condition.root, who) != Some(false));
        let mut slots = vec![first];
        if list.get(first).is_none_or(|who| who.marked == Some(true)) {
            continue;
        }
        if paired {
            let partner = ((first + 1)..list.len()).find(|other| {
                let both = list.get(first).zip(list.get(*other));
                let pairs = mark.pairs.as_ref().zip(list.get(*other));
                both.is_some_and(|(one, other)| other.marked != Some(true) && alike(one, other))
                    && pairs
                        .is_some_and(|(pairs, who)| is(&pairs.condition.root, who) == Some(true))
            });
            match partner {
                Some(partner) => slots.push(partner),
                None => continue,
            }
        }
        let mut with = list.to_vec();
        for slot in &slots {
            if let Some(who) = with.get_mut(*slot) {
                who.marked = Some(true);
            }
        }
        if fits(&with) {
            list.clone_from_slice(&with);
        }
    }
}
