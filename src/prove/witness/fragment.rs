//! A witness for people: what differs from a legal boat, and cases that keep what was found.

use super::super::common::Side;
use super::complete::Complete;
use super::document::Document;
use super::replay::{Replayed, checked, replay};
use crate::check::cases::{Coverage, FORMAT, id_of, load, run};
use crate::check::{Context, Finding, Outcome, Plan, Reason};
use crate::diagnostic::narrate;
use crate::record::{Record, load_fragment};
use crate::text::{decode, parse_yaml};
use crate::vocabulary::ChoiceId;

/// Which rules a case of one version is about.
#[derive(Clone, Copy)]
pub struct CaseOf<'c> {
    /// The version.
    pub side: Side,
    /// The version to be asked.
    pub plan: &'c Plan,
    /// What the case shows.
    pub title: &'c str,
    /// Ids of rules; those that the version does not have or does not ask are left out.
    pub rules: &'c [String],
}

/// What must come of a rule.
type Expected = (String, Outcome, Option<Reason>);

impl Complete<'_> {
    /// The level of the event in a version.
    pub fn level(&self, side: Side) -> Option<ChoiceId> {
        let level = self.common.levels.get(usize::from(self.boat.level?))?;
        level.at.at(side)
    }

    /// The record of a version, checked under it.
    ///
    /// # Errors
    /// What can't be written, or what is wrong with what was written.
    pub fn replay(&self, side: Side, plan: &Plan) -> Result<Replayed, String> {
        let text = self.record(side)?;
        let context = (self.boat.stage, self.level(side), self.boat.day);
        replay(&text, plan, context).map_err(|found| narrate(&found))
    }

    /// The same with the record and all findings.
    ///
    /// # Errors
    /// As [`Complete::replay`].
    pub fn checked(
        &self,
        side: Side,
        plan: &Plan,
    ) -> Result<(Replayed, Record, Vec<Finding>), String> {
        let text = self.record(side)?;
        let context = (self.boat.stage, self.level(side), self.boat.day);
        let (record, findings) = checked(&text, plan, context).map_err(|found| narrate(&found))?;
        let each = findings
            .iter()
            .map(|one| (one.rule, one.item, one.outcome, one.reason));
        Ok((Replayed::of(plan.rules(), each), record, findings))
    }

    /// What a record of this boat says otherwise than that of another one: by the keys that differ, each item of a list
    /// with its id.
    ///
    /// # Errors
    /// What can't be written down.
    pub fn fragment(&self, from: &Complete<'_>, side: Side) -> Result<Document, String> {
        let (own, other) = (self.body(side)?, from.body(side)?);
        let mut all = differing(&own, &other);
        if let Some((_, Document::Map(boat))) = all.iter_mut().find(|(key, _)| key == "boat") {
            boat.retain(|(key, _)| key != "sail_number");
        }
        all.retain(|(key, _)| key != "measured");
        Ok(Document::Map(all))
    }

    /// A file with a case for each version, as short as keeps what comes out.
    ///
    /// # Errors
    /// What can't be written down; that no rule of either version can be expected; a case that does not pass.
    pub fn cases(&self, each: &[CaseOf<'_>]) -> Result<String, String> {
        let mut cases = Vec::new();
        for one in each {
            cases.extend(self.case(one)?);
        }
        let class = each.first().map(|one| &one.plan.rules().class.text);
        let (Some(class), false) = (class, cases.is_empty()) else {
            return Err("no rule says anything of this boat that a case could expect".to_owned());
        };
        let file = Document::map([
            ("format", Document::text(FORMAT)),
            ("class", Document::text(class)),
            ("cases", Document::List(cases)),
        ]);
        let text = file.yaml();
        for one in each {
            passes(&text, one.plan)?;
        }
        Ok(text)
    }

    fn case(&self, of: &CaseOf<'_>) -> Result<Option<Document>, String> {
        let replayed = self.replay(of.side, of.plan)?;
        let mut expected: Vec<Expected> = Vec::new();
        for id in of.rules {
            if let Some((outcome, reason)) = replayed.of_rule(id) {
                expected.push((id.clone(), outcome, reason));
            }
        }
        if expected.is_empty() {
            return Ok(None);
        }
        let mut given = Document::Map(self.body(of.side)?);
        let keeps = |given: &Document| self.comes(given, of, &expected);
        if keeps(&given) {
            for level in [Level::Top, Level::Items, Level::Keys, Level::Places] {
                shorten(&mut given, level, &keeps);
            }
        }
        let rules = of.plan.rules();
        let mut case = vec![
            ("title".to_owned(), Document::text(of.title)),
            (
                "versions".to_owned(),
                Document::text(format!("={}", rules.version)),
            ),
            ("purpose".to_owned(), Document::text(self.boat.stage.word())),
            ("on".to_owned(), Document::text(self.boat.day.to_string())),
        ];
        if let Some(level) = self.level(of.side) {
            let name = rules.vocabulary.event_levels.get(level.index());
            case.extend(name.map(|name| ("level".to_owned(), Document::text(&name.text))));
        }
        case.push(("given".to_owned(), given));
        let expect = expected.into_iter().map(|(id, outcome, reason)| {
            let said = match reason {
                None => Document::text(outcome.word()),
                Some(reason) => Document::map([
                    ("outcome", Document::text(outcome.word())),
                    ("reason", Document::text(reason.word())),
                ]),
            };
            (id, said)
        });
        case.push(("expect".to_owned(), Document::Map(expect.collect())));
        Ok(Some(Document::Map(case)))
    }

    /// Whether all that is expected comes of a part of a record.
    fn comes(&self, given: &Document, of: &CaseOf<'_>, expected: &[Expected]) -> bool {
        let text = given.yaml();
        let Ok(source) = decode("given.yaml", text.as_bytes()) else {
            return false;
        };
        let Ok(node) = parse_yaml(&source) else {
            return false;
        };
        let rules = of.plan.rules();
        let Ok(mut record) = load_fragment(&source, &node, &rules.vocabulary) else {
            return false;
        };
        record.measured.day.get_or_insert(self.boat.day);
        let context = Context {
            purpose: self.boat.stage,
            day: self.boat.day,
            level: self.level(of.side),
        };
        let mut found = Vec::new();
        of.plan.outcomes(&record, &context, &mut found);
        expected.iter().all(|(id, outcome, reason)| {
            let own = found.iter().filter(|one| id_of(rules, one.rule) == id);
            let worst = own.min_by_key(|one| one.outcome);
            worst.is_some_and(|one| one.outcome == *outcome && one.reason == *reason)
        })
    }
}

/// Whether the cases of a file come out as they say.
fn passes(text: &str, plan: &Plan) -> Result<(), String> {
    let name = "cases.yaml";
    let source = decode(name, text.as_bytes()).map_err(|problem| problem.message.clone())?;
    let node = parse_yaml(&source).map_err(|found| {
        let words = found.iter().map(|one| one.message.clone());
        words.collect::<Vec<_>>().join("; ")
    })?;
    let file = load(&source, &node).map_err(|found| narrate(&found))?;
    let results = run(&source, &file, plan, &mut Coverage::default());
    let results = results.map_err(|found| narrate(&found))?;
    match results.iter().find(|one| !one.wrong.is_empty()) {
        Some(wrong) => Err(narrate(&wrong.wrong)),
        None => Ok(()),
    }
}

/// The entries that differ from those of another mapping, below lists of items by their ids.
fn differing(own: &[(String, Document)], other: &[(String, Document)]) -> Vec<(String, Document)> {
    let mut found = Vec::new();
    for (key, one) in own {
        let before = other.iter().find(|(known, _)| known == key);
        let said = match (one, before.map(|(_, before)| before)) {
            (one, Some(before)) if undated(one) == undated(before) => continue,
            (Document::List(items), Some(Document::List(before))) if is_items(items) => {
                let items = items.iter().filter_map(|item| {
                    let id = item.get("id");
                    match before.iter().find(|one| one.get("id") == id) {
                        Some(before) if undated(before) == undated(item) => None,
                        Some(before) => {
                            let id = id.map(|id| ("id".to_owned(), id.clone()));
                            let rest = differing(item.entries(), before.entries());
                            // Where only the places of the same values lie otherwise, nothing is to be said.
                            let all =
                                || Document::Map(id.into_iter().chain(rest.clone()).collect());
                            (!rest.is_empty()).then(all)
                        }
                        None => Some(item.clone()),
                    }
                });
                let items: Vec<Document> = items.collect();
                // Items that are gone leave nothing to be said.
                if items.is_empty() {
                    continue;
                }
                Document::List(items)
            }
            (Document::Map(entries), Some(Document::Map(before)))
                if !entries.iter().any(|(key, _)| is_value(key)) =>
            {
                Document::Map(differing(entries, before))
            }
            (one, Some(before)) => match places_that_differ(one, before) {
                Some(none)
                    if none
                        .get("places")
                        .is_some_and(|list| list.items().is_empty()) =>
                {
                    continue;
                }
                Some(some) => some,
                None => one.clone(),
            },
            (one, None) => one.clone(),
        };
        found.push((key.clone(), said));
    }
    found
}

/// Without the days on which something was seen or read: they follow from the day of the check.
fn undated(one: &Document) -> Document {
    match one {
        Document::Text(text) => Document::text(text.as_str()),
        Document::List(items) => Document::List(items.iter().map(undated).collect()),
        Document::Map(entries) => {
            let told = entries
                .iter()
                .filter(|(key, _)| !matches!(key.as_str(), "day" | "seen_on"));
            Document::Map(told.map(|(key, one)| (key.clone(), undated(one))).collect())
        }
    }
}

/// A measure at places with those places alone whose values are new, wherever the others lie.
fn places_that_differ(one: &Document, before: &Document) -> Option<Document> {
    let (own, other) = (one.get("places")?, before.get("places")?);
    let value = |place: &Document| {
        let told = place
            .entries()
            .iter()
            .filter(|(key, _)| !matches!(key.as_str(), "at" | "from_edge" | "face"));
        told.cloned().collect::<Vec<_>>()
    };
    let known: Vec<_> = other.items().iter().map(value).collect();
    let new: Vec<Document> = own
        .items()
        .iter()
        .filter(|place| !known.contains(&value(place)))
        .cloned()
        .collect();
    // A value that is nowhere any more makes a difference as well.
    let now: Vec<_> = own.items().iter().map(value).collect();
    if new.is_empty() && known.iter().any(|value| !now.contains(value)) {
        return None;
    }
    let entries = one.entries().iter().map(|(key, said)| {
        let said = if key == "places" {
            Document::List(new.clone())
        } else {
            said.clone()
        };
        (key.clone(), said)
    });
    Some(Document::Map(entries.collect()))
}

fn is_items(items: &[Document]) -> bool {
    items.iter().all(|one| one.get("id").is_some())
}

/// Whether a key says that a mapping is what was found of one thing, which is told whole.
fn is_value(key: &str) -> bool {
    matches!(key, "with" | "answer" | "date" | "value")
}

/// How deep a case is shortened.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Level {
    /// Keys at the top.
    Top,
    /// Items of lists.
    Items,
    /// What is said of items.
    Keys,
    /// Places of a measure.
    Places,
}

/// Where something stands in a document.
type Path = Vec<usize>;

/// Leaves out all that can be left out at a level.
fn shorten(given: &mut Document, level: Level, keeps: &dyn Fn(&Document) -> bool) {
    let all = paths(given, level);
    let gone = leave_out(given, &all, &[], keeps);
    *given = without(given, &gone, &mut Vec::new());
}

/// Which of some paths can be left out beside those that are: all of them at once, else half by half.
fn leave_out(
    given: &Document,
    some: &[Path],
    gone: &[Path],
    keeps: &dyn Fn(&Document) -> bool,
) -> Vec<Path> {
    if some.is_empty() {
        return gone.to_vec();
    }
    let tried: Vec<Path> = gone.iter().chain(some).cloned().collect();
    if keeps(&without(given, &tried, &mut Vec::new())) {
        return tried;
    }
    if some.len() == 1 {
        return gone.to_vec();
    }
    let (one, two) = some.split_at(some.len() / 2);
    // What comes last is left out first: the first of several like things stays.
    let gone = leave_out(given, two, gone, keeps);
    leave_out(given, one, &gone, keeps)
}

fn paths(given: &Document, level: Level) -> Vec<Path> {
    let mut found = Vec::new();
    for (top, (key, one)) in given.entries().iter().enumerate() {
        if level == Level::Top {
            found.push(vec![top]);
            continue;
        }
        let keys = |at: Path, item: &Document, found: &mut Vec<Path>| {
            for (number, (key, said)) in item.entries().iter().enumerate() {
                let here: Path = at.iter().copied().chain([number]).collect();
                if level == Level::Keys && key != "id" {
                    found.push(here);
                } else if level == Level::Places {
                    for (below, (key, list)) in said.entries().iter().enumerate() {
                        if key == "places" {
                            let count = list.items().len();
                            let place = |one: usize| here.iter().copied().chain([below, one]);
                            found.extend((0..count).map(|one| place(one).collect::<Path>()));
                        }
                    }
                }
            }
        };
        match one {
            Document::List(items) => {
                for (at, item) in items.iter().enumerate() {
                    match level {
                        Level::Items => found.push(vec![top, at]),
                        Level::Keys | Level::Places => keys(vec![top, at], item, &mut found),
                        Level::Top => {}
                    }
                }
            }
            Document::Map(_) if key != "measured" => keys(vec![top], one, &mut found),
            Document::Map(_) | Document::Text(_) => {}
        }
    }
    found
}

fn without(given: &Document, gone: &[Path], at: &mut Path) -> Document {
    let mut each = |number: usize, one: &Document| {
        at.push(number);
        let kept = (!gone.contains(at)).then(|| without(one, gone, at));
        at.pop();
        kept
    };
    match given {
        Document::Text(text) => Document::Text(text.clone()),
        Document::List(items) => {
            let items = items.iter().enumerate();
            Document::List(items.filter_map(|(at, one)| each(at, one)).collect())
        }
        Document::Map(entries) => {
            let entries = entries.iter().enumerate();
            let kept = entries.filter_map(|(at, (key, one))| Some((key.clone(), each(at, one)?)));
            Document::Map(kept.collect())
        }
    }
}
