//! A boat that has several records: the same as one record with the latest of everything, merged plainly as text.

use std::sync::Arc;

use proptest::prelude::*;
use rimegauge::fleet::impact::{BoatAt, Impact, Pair, Scratch, Tally};
use rimegauge::fleet::vary::{
    Asked as VaryAsked, Column, MovedLimit, Question, VaryTally, limits_of, steps,
};
use rimegauge::fleet::{Days, Part, Piece, ReadBoat, Together, behind};
use rimegauge::rules::{RulesFile, Stage};
use rimegauge::text;

use super::briefly::{bordering_records, levels, policies};
use super::impact::{CHANGES, asked, changed};
use super::tree::{Tree, text as word};
use super::workbench::{SHIPPED, cases, day};

/// Records read as those of one boat, each from bytes of its own.
fn parts(records: &[String], read: &dyn Fn(&Arc<text::Source>) -> ReadBoat) -> Vec<Part> {
    let mut before = 0;
    let mut parts = Vec::new();
    for (line, record) in (1..).zip(records) {
        let source = behind("record.yaml", record, before);
        parts.push(Part {
            boat: read(&source),
            range: before..source.text().len(),
            at: BoatAt { file: 0, line },
        });
        before = source.text().len();
    }
    parts
}

/// What a change does to a boat that has these records.
fn impact(pair: &Pair<'_>, records: &[String]) -> (Impact, Option<Together>) {
    let read = |source: &Arc<text::Source>| pair.read(source, &Piece::Document).unwrap();
    let mut parts = parts(records, &read);
    let at = BoatAt { file: 0, line: 1 };
    let mut tally = Tally::default();
    let whole = match parts.len() {
        1 => None,
        _ => Some(pair.together(std::mem::take(&mut parts)).unwrap()),
    };
    let boat = match &whole {
        Some(whole) => &whole.boat,
        None => &parts[0].boat,
    };
    let stands = pair.look(boat, &at, &mut Scratch::default(), &mut tally);
    tally.boat(stands);
    (tally.impact(pair, &["record.yaml".to_owned()]), whole)
}

/// How the items of a boat with these records turn as a limit moves.
fn columns(rules: &Arc<RulesFile>, limit: &MovedLimit, records: &[String]) -> Vec<(Column, u64)> {
    let present = limit.present.clone().unwrap();
    let asked = VaryAsked {
        purpose: Stage::Certification,
        days: Days {
            on: Some(day("2026-11-21")),
            not_before: None,
        },
        level: None,
    };
    let more = present.add(&rimegauge::quantity::Exact::from_integer(1));
    let question = Question::new(rules, limit.clone(), steps(&present, &more, 2), asked);
    let read = |source: &Arc<text::Source>| question.read(source, &Piece::Document).unwrap();
    let mut parts = parts(records, &read);
    let boat = match parts.len() {
        1 => parts.remove(0).boat,
        _ => question.together(parts).unwrap().boat,
    };
    let mut tally = VaryTally::default();
    question.look(&boat, &mut tally);
    let items = tally.items.iter();
    items
        .map(|(column, count)| (column.clone(), count))
        .collect()
}

// A plain way of merging: text by text, without the model of a record.

type Entries = Vec<(String, Tree)>;

fn entries(tree: &Tree) -> Entries {
    match tree {
        Tree::Map(entries) => entries.clone(),
        Tree::Text(_) | Tree::List(_) => panic!("no mapping: {tree:?}"),
    }
}

fn list(tree: &Tree) -> Vec<Tree> {
    match tree {
        Tree::List(list) => list.clone(),
        Tree::Text(_) | Tree::Map(_) => panic!("no list: {tree:?}"),
    }
}

fn get<'t>(entries: &'t Entries, key: &str) -> Option<&'t Tree> {
    let mut all = entries.iter();
    all.find(|(known, _)| known == key).map(|(_, node)| node)
}

fn put(entries: &mut Entries, key: &str, tree: Tree) {
    match entries.iter_mut().find(|(known, _)| known == key) {
        Some((_, node)) => *node = tree,
        None => entries.push((key.to_owned(), tree)),
    }
}

fn words(tree: &Tree) -> String {
    match tree {
        Tree::Text(text) => text.clone(),
        Tree::List(_) | Tree::Map(_) => panic!("no text: {tree:?}"),
    }
}

/// A session: its day, and who measured.
type Session = (String, Option<Tree>);

fn session(record: &Entries) -> Session {
    let measured = entries(get(record, "measured").unwrap());
    (
        words(get(&measured, "day").unwrap()),
        get(&measured, "by").cloned(),
    )
}

/// Whether a value of an item was measured: what is declared has no readings.
fn is_measure(key: &str) -> bool {
    !matches!(
        key,
        "id" | "construction" | "built" | "marked" | "port" | "starboard"
    )
}

/// What was measured, with the day and the measurer of its session written to it.
fn settled(measured: &Tree, (day, by): &Session) -> Tree {
    let mut own = entries(measured);
    if let Some(series) = get(&own, "series") {
        let series = list(series)
            .iter()
            .map(|one| settled(one, &(day.clone(), by.clone())))
            .collect();
        put(&mut own, "series", Tree::List(series));
        return Tree::Map(own);
    }
    let when = match get(&own, "answer") {
        Some(_) => "day",
        None => "taken",
    };
    if get(&own, when).is_none() {
        put(&mut own, when, word(day.clone()));
    }
    if let (None, Some(by)) = (get(&own, "by"), by) {
        put(&mut own, "by", by.clone());
    }
    Tree::Map(own)
}

/// The last day on which anything of it was read, once that is written to it.
fn last_day(settled: &Tree) -> String {
    let own = entries(settled);
    if let Some(series) = get(&own, "series") {
        return list(series).iter().map(last_day).max().unwrap();
    }
    let when = get(&own, "taken").or(get(&own, "day")).unwrap();
    words(when)[..10].to_owned()
}

/// An item of which a later record says more.
fn merged_item(mut item: Entries, later: &Entries) -> Entries {
    for (key, value) in later {
        let older = is_measure(key)
            && get(&item, key).is_some_and(|known| last_day(known) > last_day(value));
        if !older {
            put(&mut item, key, value.clone());
        }
    }
    item
}

/// A record with what its session says written to all that was measured.
fn settled_items(record: &Entries) -> Entries {
    let session = session(record);
    let item = |entries: Entries| -> Tree {
        let all = entries
            .into_iter()
            .map(|(key, value)| match is_measure(&key) {
                true => {
                    let value = settled(&value, &session);
                    (key, value)
                }
                false => (key, value),
            });
        Tree::Map(all.collect())
    };
    let mut settled = record.clone();
    for key in ["plank", "runners"] {
        let own = get(record, key).map(|tree| match tree {
            Tree::List(items) => Tree::List(items.iter().map(|one| item(entries(one))).collect()),
            tree => item(entries(tree)),
        });
        if let Some(own) = own {
            put(&mut settled, key, own);
        }
    }
    settled
}

/// One record in place of several, the earliest first.
fn merged(records: &[Tree]) -> Tree {
    let mut whole: Option<Entries> = None;
    for record in records {
        let later = settled_items(&entries(record));
        let Some(mut known) = whole.take() else {
            whole = Some(later);
            continue;
        };
        if let Some(plank) = get(&later, "plank") {
            let before = get(&known, "plank").map(entries).unwrap_or_default();
            put(
                &mut known,
                "plank",
                Tree::Map(merged_item(before, &entries(plank))),
            );
        }
        for key in ["runners", "sets"] {
            let mut items = get(&known, key).map(list).unwrap_or_default();
            for one in get(&later, key).map(list).unwrap_or_default() {
                let one = entries(&one);
                let id = |item: &Entries| words(get(item, "id").unwrap());
                let place = items.iter().position(|item| id(&entries(item)) == id(&one));
                // A group is put together anew, or not at all.
                if key == "sets" && one.len() > 1 {
                    items.retain(|item| id(&entries(item)) != id(&one));
                    items.insert(place.unwrap_or(items.len()), Tree::Map(one));
                    continue;
                }
                match place {
                    Some(at) => items[at] = Tree::Map(merged_item(entries(&items[at]), &one)),
                    None => items.push(Tree::Map(one)),
                }
            }
            if !items.is_empty() {
                put(&mut known, key, Tree::List(items));
            }
        }
        whole = Some(known);
    }
    let mut whole = whole.unwrap();
    let last = Tree::Map(vec![("day".to_owned(), word("2026-11-21"))]);
    put(&mut whole, "measured", last);
    Tree::Map(whole)
}

/// The same record as measured on another day.
fn on_day(record: &Tree, day: &str) -> Tree {
    let mut all = entries(record);
    let mut measured = entries(get(&all, "measured").unwrap());
    put(&mut measured, "day", word(day));
    put(&mut all, "measured", Tree::Map(measured));
    Tree::Map(all)
}

fn written(records: &[Tree]) -> Vec<String> {
    records.iter().map(Tree::to_file).collect()
}

/// Records of one boat by day, the earliest first.
fn several() -> impl Strategy<Value = Vec<Tree>> {
    let days = prop::sample::select(vec!["2026-11-21", "2026-11-20", "2026-11-19", "2025-11-21"]);
    prop::collection::vec((bordering_records(), days), 2..4).prop_map(|mut records| {
        records.sort_by_key(|(_, day)| *day);
        records
            .iter()
            .map(|(record, day)| on_day(record, day))
            .collect()
    })
}

proptest! {
    #![proptest_config(cases(200))]

    #[test]
    fn several_records_of_a_boat_come_to_one_with_the_latest_of_each(
        records in several(), policy in policies(), change in 0..CHANGES.len(), level in levels(),
        purpose in prop::sample::select(Stage::ALL.to_vec()),
    ) {
        let (old, new) = changed(policy, change);
        let pair = Pair::new(&old, &new, asked(purpose, level));
        let one = merged(&records).to_file();
        let (several, _) = impact(&pair, &written(&records));
        let (single, _) = impact(&pair, std::slice::from_ref(&one));
        let told = |impact: &Impact| {
            let rules = impact.rules.iter().map(|rule| {
                (rule.rule.clone(), rule.moves, rule.open.clone(), rule.never_measured, rule.within_uncertainty)
            });
            (impact.boats, impact.items, impact.within_uncertainty, impact.never_measured, rules.collect::<Vec<_>>())
        };
        prop_assert_eq!(told(&several), told(&single), "{}", one);
    }

    #[test]
    fn a_limit_moves_under_several_records_as_under_one_with_the_latest_of_each(
        records in several(), which in any::<prop::sample::Index>(),
    ) {
        let (rules, _) = changed(SHIPPED, 0);
        let all = (0..rules.rules.len()).flat_map(|at| limits_of(&rules, at));
        let all: Vec<MovedLimit> = all.filter(|limit| limit.present.is_some()).collect();
        let limit = which.get(&all);
        let one = merged(&records).to_file();
        prop_assert_eq!(columns(&rules, limit, &written(&records)), columns(&rules, limit, std::slice::from_ref(&one)));
    }
}
