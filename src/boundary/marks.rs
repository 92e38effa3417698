//! The cases of a limit on marks: one fewer, as many, one more, in total and of those with a cap.

use super::rule::Trials;
use super::solve::{Solver, one_of_many};
use super::trial::{Expect, Trial};
use super::world::{Claim, World};
use crate::rules::{MarkBring, MarkLimits, MarkRule, Stage};
use crate::vocabulary::{ChoiceId, Vocabulary};

/// No more kinds of pairs are looked at.
const MOST: usize = 64;

/// The cases of a limit on marks.
pub(super) fn of_mark(solver: Solver<'_>, mark: &MarkRule) -> Trials {
    let mut trials = Trials::default();
    let Some(frame) = one_of_many(&solver, mark.item) else {
        return trials;
    };
    let trial = |title: String, world: World, expect: Expect| Trial {
        rule: mark.id.text.clone(),
        title: format!("{}{title}", mark.id.text),
        purpose: Stage::EventInspection,
        part: Vocabulary::BOAT,
        world,
        stations: None,
        calm: None,
        expect,
    };
    let nominated = |world: &World, marked: bool| {
        world.and_claim(frame, mark.nominated_by, Claim::Flag(marked))
    };
    // Items that no cap counts, and that need no partner.
    let mut plain = vec![World::default()];
    let caps = mark.of_which.iter().map(|cap| &cap.condition);
    for condition in caps.chain(mark.pairs.iter().map(|pairs| &pairs.condition)) {
        let ways = solver.ways(&condition.root, frame, false);
        let joined = plain
            .iter()
            .flat_map(|one| ways.iter().filter_map(|way| one.with(way)));
        plain = joined.collect();
    }
    let (Some(unmarked), Some(plain)) = (
        plain.first().and_then(|plain| nominated(plain, false)),
        plain.first().and_then(|plain| nominated(plain, true)),
    ) else {
        trials
            .left_out
            .push("no way is known to make an item that none of its caps counts".to_owned());
        return trials;
    };
    let rows: Vec<(String, Option<ChoiceId>, i64)> = match &mark.limits {
        MarkLimits::Direct(limit) => vec![(String::new(), None, limit.at_most)],
        MarkLimits::ByLevel { rows, .. } => rows
            .iter()
            .map(|(level, limit)| {
                let levels = &solver.rules.vocabulary.event_levels;
                let word = levels.get(level.index()).map_or("", |name| &name.text);
                (format!(", {word}"), Some(*level), limit.at_most)
            })
            .collect(),
    };
    // What must be brought is there in every case but those that are about it.
    let brought = |bring: &MarkBring, less: i64| {
        let count = usize::try_from(bring.at_least - less).unwrap_or(0);
        if solver.rules.vocabulary.is_group(bring.holding) {
            World {
                groups: vec![(bring.holding, count)],
                ..World::default()
            }
        } else {
            World {
                many: vec![(bring.holding, vec![World::default(); count])],
                ..World::default()
            }
        }
    };
    let world = |items: Vec<World>, level: Option<ChoiceId>| {
        let own = World {
            many: vec![(mark.item, items)],
            level,
            ..World::default()
        };
        let all = mark
            .bring
            .iter()
            .try_fold(own.clone(), |all, bring| all.with(&brought(bring, 0)));
        all.unwrap_or(own)
    };
    let copies = |one: &World, count: i64| {
        let count = usize::try_from(count).unwrap_or(0);
        vec![one.clone(); count]
    };
    for (name, level, limit) in &rows {
        for count in [limit - 1, *limit, limit + 1] {
            if count < 0 {
                continue;
            }
            let mut items = copies(&plain, count);
            items.push(unmarked.clone());
            let title = format!("{name}: {count} marked of at most {limit}");
            let expect = Expect::met(count <= *limit);
            trials.list.push(trial(title, world(items, *level), expect));
        }
    }
    let Some((_, level, total)) = rows.iter().max_by_key(|(_, _, limit)| *limit) else {
        return trials;
    };
    for (number, cap) in mark.of_which.iter().enumerate() {
        let ways = solver.ways(&cap.condition.root, frame, true);
        let counted = ways.first().and_then(|way| nominated(way, true));
        let spare = ways.first().and_then(|way| nominated(way, false));
        let (Some(counted), Some(spare)) = (counted, spare) else {
            trials.left_out.push(format!(
                "no way is known to bring about what its cap {} counts",
                number + 1
            ));
            continue;
        };
        let limit = cap.limit.at_most;
        for count in [limit - 1, limit, limit + 1] {
            if count < 0 || count > *total {
                continue;
            }
            let mut items = copies(&counted, count);
            items.push(spare.clone());
            let title = format!(", cap {}: {count} marked of at most {limit}", number + 1);
            let expect = Expect::met(count <= limit);
            trials.list.push(trial(title, world(items, *level), expect));
        }
        if limit < *total {
            let mut items = copies(&counted, limit);
            let undeclared = World::default();
            items.extend(nominated(&undeclared, true));
            let title = format!(", cap {}: in doubt by one item", number + 1);
            let expect = Expect::open("condition_unknown");
            trials.list.push(trial(title, world(items, *level), expect));
        }
    }
    if let Some(pairs) = &mark.pairs {
        let mut kinds = solver.ways(&pairs.condition.root, frame, true);
        for (slot, _) in &pairs.alike {
            let choices = solver.choices(frame, slot.index());
            let each = kinds.iter().flat_map(|kind| {
                let declared = choices.iter().filter(|choice| choice.is_some());
                declared.filter_map(|choice| kind.and_claim(frame, *slot, Claim::Choice(*choice)))
            });
            kinds = each.take(MOST).collect();
        }
        let kinds: Vec<World> = kinds
            .iter()
            .filter_map(|kind| nominated(kind, true))
            .collect();
        let Some(one) = kinds.first() else {
            trials
                .left_out
                .push("no way is known to bring about what comes in pairs".to_owned());
            return trials;
        };
        let unlike = kinds.iter().find(|other| {
            pairs
                .alike
                .iter()
                .any(|(slot, _)| other.claim(frame, *slot) != one.claim(frame, *slot))
        });
        let mut tries = vec![
            (": a pair marked", vec![one.clone(), one.clone()], true),
            (": one of a pair marked", vec![one.clone()], false),
        ];
        if let Some(unlike) = unlike {
            tries.push((
                ": two marked that are not alike",
                vec![one.clone(), unlike.clone()],
                false,
            ));
        }
        for (title, items, met) in tries {
            let expect = Expect::met(met);
            trials
                .list
                .push(trial(title.to_owned(), world(items, *level), expect));
        }
    }
    for (number, bring) in mark.bring.iter().enumerate() {
        let others = mark
            .bring
            .iter()
            .enumerate()
            .filter(|(other, _)| *other != number);
        let own = World {
            many: vec![(mark.item, vec![unmarked.clone()])],
            level: *level,
            ..World::default()
        };
        let all = others
            .map(|(_, bring)| brought(bring, 0))
            .chain([brought(bring, 1)]);
        let all: Option<World> = all.into_iter().try_fold(own, |all, one| all.with(&one));
        if let Some(all) = all {
            let holding = solver.rules.vocabulary.holding(bring.holding);
            let key = holding.map_or("", |holding| &holding.key.text);
            let title = format!(": one too few of {key} brought");
            trials.list.push(trial(title, all, Expect::FAILS));
        }
    }
    if let MarkLimits::ByLevel { .. } = &mark.limits {
        let title = ": no event is named".to_owned();
        let expect = Expect::open("context_missing");
        trials
            .list
            .push(trial(title, world(copies(&plain, 1), None), expect));
    }
    trials
}
