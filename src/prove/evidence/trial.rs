//! Constructions tried: a record changed in one thing, checked under both versions.

use std::cell::RefCell;
use std::collections::{BTreeMap, HashMap};

use super::super::common::{Common, Side};
use super::super::comparison::Witness;
use super::super::flip::{CheckedBy, flips};
use super::super::term::Terms;
use super::super::witness::Document;
use super::edit::Pair;
use crate::check::cases::id_of;
use crate::check::{Context, Finding, Outcome, Plan};
use crate::quantity::Date;
use crate::record::{self, Record};
use crate::rules::Stage;
use crate::text::{Source, decode, parse_yaml};

/// A direction of a change.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Toward {
    /// The outcome gets worse.
    Worse,
    /// The outcome gets better.
    Better,
}

impl Toward {
    /// Both.
    pub const BOTH: [Toward; 2] = [Toward::Worse, Toward::Better];

    fn of(was: Outcome, is: Outcome) -> Option<Toward> {
        match is.cmp(&was) {
            std::cmp::Ordering::Less => Some(Toward::Worse),
            std::cmp::Ordering::Greater => Some(Toward::Better),
            std::cmp::Ordering::Equal => None,
        }
    }
}

/// When a record is checked.
#[derive(Clone, Debug)]
pub struct When {
    /// The stage.
    pub stage: Stage,
    /// The event's level, by its name.
    pub level: Option<String>,
    /// The day.
    pub day: Date,
}

/// Both versions, ready to check records.
pub struct Bench<'a, 'r> {
    /// What both speak of.
    pub common: &'a Common<'r>,
    /// The terms of their statements.
    pub terms: &'a Terms,
    /// The plan of the old version.
    pub old: &'a Plan,
    /// The plan of the new version.
    pub new: &'a Plan,
    /// Outcomes that are known already: one record serves many differences.
    pub known: RefCell<HashMap<Asked, Option<Outcome>>>,
}

/// A record under a version: the version, when it is checked, and the digest of what it says.
type Asked = (Side, Stage, Option<String>, Date, String);

/// A record as it was checked.
pub struct Checked {
    /// The record.
    pub record: Record,
    /// All findings.
    pub findings: Vec<Finding>,
    /// The worst of them; what does not apply conforms, and so does a record of which nothing is asked.
    pub outcome: Outcome,
}

impl Bench<'_, '_> {
    /// The plan of a version.
    pub fn plan(&self, side: Side) -> &Plan {
        match side {
            Side::Old => self.old,
            Side::New => self.new,
        }
    }

    /// A record as a check of a version sees it; nothing where it can't be loaded.
    pub fn checked(&self, side: Side, document: &Document, when: &When) -> Option<Checked> {
        let record = self.record(side, document)?;
        let verdict = self.plan(side).check(&record, &self.context(side, when));
        let each = verdict.findings.iter().map(|one| conforming(one.outcome));
        let outcome = each.min().unwrap_or(Outcome::Conforms);
        Some(Checked {
            record,
            findings: verdict.findings,
            outcome,
        })
    }

    /// What a record comes to as it will be written: what is shown is read before from its text, as any record is.
    fn replayed(&self, side: Side, document: &Document, when: &When) -> Option<Outcome> {
        let source = decode("record", document.yaml().as_bytes()).ok()?;
        let node = parse_yaml(&source).ok()?;
        let record = record::load(&source, &node, &self.plan(side).rules().vocabulary).ok()?;
        Some(self.brief(side, &record, when))
    }

    /// The outcome alone, the short way.
    fn brief(&self, side: Side, record: &Record, when: &When) -> Outcome {
        let mut found = Vec::new();
        self.plan(side)
            .outcomes(record, &self.context(side, when), &mut found);
        let each = found.iter().map(|one| conforming(one.outcome));
        each.min().unwrap_or(Outcome::Conforms)
    }

    fn context(&self, side: Side, when: &When) -> Context {
        let vocabulary = &self.plan(side).rules().vocabulary;
        let level = when.level.as_deref();
        Context {
            purpose: when.stage,
            day: when.day,
            level: level.and_then(|level| vocabulary.event_level_named(level)),
        }
    }

    /// What a record comes to under both versions.
    pub fn outcomes(&self, pair: &Pair, when: &When) -> Option<(Outcome, Outcome)> {
        let old = self.outcome(Side::Old, &pair.old, when)?;
        Some((old, self.outcome(Side::New, &pair.new, when)?))
    }

    /// What a record comes to under a version.
    fn outcome(&self, side: Side, document: &Document, when: &When) -> Option<Outcome> {
        let mut key = Vec::new();
        document.write_key(&mut key);
        let digest = crate::rules::digest(&key);
        let asked = (side, when.stage, when.level.clone(), when.day, digest);
        if let Some(known) = self.known.borrow().get(&asked) {
            return *known;
        }
        let record = self.record(side, document);
        let outcome = record.map(|record| self.brief(side, &record, when));
        self.known.borrow_mut().insert(asked, outcome);
        outcome
    }

    fn record(&self, side: Side, document: &Document) -> Option<Record> {
        let vocabulary = &self.plan(side).rules().vocabulary;
        record::load(&Source::new("record", ""), &document.node(), vocabulary).ok()
    }

    /// Whether a boat of which everything is known is legal under both versions, or under neither; nothing where the
    /// two differ or it is not known.
    pub fn alike(&self, pair: &Pair, when: &When) -> Option<Outcome> {
        match self.outcomes(pair, when)? {
            (Outcome::Conforms, Outcome::Conforms) => Some(Outcome::Conforms),
            (Outcome::DoesNotConform, Outcome::DoesNotConform) => Some(Outcome::DoesNotConform),
            _ => None,
        }
    }

    /// The witness that a record is, and of which direction; nothing where both versions say the same of it, or where
    /// the direction, or the rules that show it, are none of those that are wanted; no rules are told yet where the
    /// direction alone is asked.
    pub fn witness(
        &self,
        (gold, shown): (&Pair, &Pair),
        when: &When,
        what: &str,
        wanted: &dyn Fn(Toward, Option<&[String]>) -> bool,
    ) -> Option<(Toward, Witness)> {
        let (was, is) = self.outcomes(shown, when)?;
        let toward = Toward::of(was, is).filter(|toward| wanted(*toward, None))?;
        let old = self.checked(Side::Old, &shown.old, when)?;
        let new = self.checked(Side::New, &shown.new, when)?;
        let outcomes = (was, is);
        let was = self.by_rule(Side::Old, &old.findings);
        let is = self.by_rule(Side::New, &new.findings);
        // The rules of which the worse outcome comes, where the other version says otherwise.
        let (worst, outcome, other) = match toward {
            Toward::Worse => (&is, new.outcome, &was),
            Toward::Better => (&was, old.outcome, &is),
        };
        let differ = |id: &String, found: &Outcome| {
            conforming(*found) == outcome
                && other
                    .get(id)
                    .is_none_or(|other| conforming(*other) > outcome)
        };
        let rules = worst.iter().filter(|(id, found)| differ(id, found));
        let rules: Vec<String> = rules.map(|(id, _)| id.clone()).collect();
        let replayed = |side: Side| self.replayed(side, shown.at(side), when);
        if !wanted(toward, Some(&rules))
            || (replayed(Side::Old)?, replayed(Side::New)?) != outcomes
            || (old.outcome, new.outcome) != outcomes
        {
            return None;
        }
        let changed = changed(&gold.new, &shown.new).unwrap_or(Document::Map(Vec::new()));
        let by = [(Side::Old, &old), (Side::New, &new)].map(|(side, checked)| CheckedBy {
            rules: self.plan(side).rules(),
            record: &checked.record,
            findings: &checked.findings,
        });
        let worse = match toward {
            Toward::Worse => Side::New,
            Toward::Better => Side::Old,
        };
        let flips = flips(by, worse, &rules, &[outcome]);
        let left = left_out(&gold.new, &shown.new);
        let mut fragment = changed.yaml();
        for one in &left {
            fragment.push_str(&format!("# left out: {one}\n"));
        }
        let cases = self.cases((shown, when), what, (&was, &is), &rules);
        Some((
            toward,
            Witness {
                fragment,
                fragment_json: changed.json(),
                old_record: shown.old.yaml(),
                new_record: shown.new.yaml(),
                stage: when.stage,
                level: when.level.clone(),
                day: when.day,
                old_outcome: old.outcome,
                new_outcome: new.outcome,
                rules,
                why: what.to_owned(),
                flips,
                cases,
            },
        ))
    }

    /// The worst outcome of each rule by its id.
    fn by_rule(&self, side: Side, findings: &[Finding]) -> BTreeMap<String, Outcome> {
        let rules = self.plan(side).rules();
        let mut found: BTreeMap<String, Outcome> = BTreeMap::new();
        for one in findings {
            let known = found
                .entry(id_of(rules, one.rule).to_owned())
                .or_insert(one.outcome);
            *known = (*known).min(one.outcome);
        }
        found
    }

    /// A file with a case for each version.
    fn cases(
        &self,
        (shown, when): (&Pair, &When),
        what: &str,
        (was, is): (&BTreeMap<String, Outcome>, &BTreeMap<String, Outcome>),
        rules: &[String],
    ) -> String {
        let case = |side: Side, document: &Document, found: &BTreeMap<String, Outcome>| {
            let version = &self.common.rules(side).version;
            let expect = rules.iter().filter_map(|id| {
                let outcome = found.get(id)?;
                Some((id.clone(), Document::text(outcome.word())))
            });
            let expect: Vec<(String, Document)> = expect.collect();
            if expect.is_empty() {
                return None;
            }
            let given = document.entries().iter();
            let given = given.filter(|(key, _)| key != "format" && key != "class");
            let mut entries = vec![
                ("title".to_owned(), Document::text(what)),
                ("versions".to_owned(), Document::text(format!("={version}"))),
                ("purpose".to_owned(), Document::text(when.stage.word())),
                ("on".to_owned(), Document::text(when.day.to_string())),
            ];
            if let Some(level) = &when.level {
                entries.push(("level".to_owned(), Document::text(level.clone())));
            }
            entries.push(("given".to_owned(), Document::Map(given.cloned().collect())));
            entries.push(("expect".to_owned(), Document::Map(expect)));
            Some(Document::Map(entries))
        };
        let both = [
            case(Side::Old, &shown.old, was),
            case(Side::New, &shown.new, is),
        ];
        let file = Document::map([
            ("format", Document::text(crate::check::cases::FORMAT)),
            ("class", Document::text(&self.common.new.class.text)),
            (
                "cases",
                Document::List(both.into_iter().flatten().collect()),
            ),
        ]);
        file.yaml()
    }
}

/// What does not apply conforms.
fn conforming(outcome: Outcome) -> Outcome {
    match outcome {
        Outcome::NotApplicable | Outcome::Conforms => Outcome::Conforms,
        Outcome::NotDecided => Outcome::NotDecided,
        Outcome::DoesNotConform => Outcome::DoesNotConform,
    }
}

/// What differs from a record, items by their ids; nothing where nothing does.
fn changed(from: &Document, to: &Document) -> Option<Document> {
    if from == to {
        return None;
    }
    match (from, to) {
        (Document::Map(_), Document::Map(entries)) => {
            let mut found = Vec::new();
            for (key, one) in entries {
                let before = from.get(key);
                let differs = match before {
                    Some(before) if holds_items(one) || key == "boat" => changed(before, one),
                    Some(before) if before == one => None,
                    Some(before) if deep(key) => changed(before, one),
                    Some(_) | None => Some(one.clone()),
                };
                found.extend(differs.map(|one| (key.clone(), one)));
            }
            let taken = from.entries().iter().any(|(key, _)| to.get(key).is_none());
            if let Some(id) = to.get("id")
                && (taken || !found.is_empty())
            {
                found.retain(|(key, _)| key != "id");
                found.insert(0, ("id".to_owned(), id.clone()));
            }
            (!found.is_empty()).then_some(Document::Map(found))
        }
        (Document::List(_), Document::List(items)) if holds_items(to) => {
            let before = |one: &Document| {
                let id = one.get("id").and_then(Document::as_text);
                from.items()
                    .iter()
                    .find(|known| known.get("id").and_then(Document::as_text) == id)
            };
            let each = items.iter().filter_map(|one| match before(one) {
                Some(before) => changed(before, one),
                None => Some(one.clone()),
            });
            let each: Vec<Document> = each.collect();
            (!each.is_empty()).then_some(Document::List(each))
        }
        _ => Some(to.clone()),
    }
}

/// Whether a record tells single things under a key, each for itself: the parts of which a boat has one, what was
/// measured with.
fn deep(key: &str) -> bool {
    !matches!(key, "measured" | "unlisted" | "notes")
}

fn holds_items(document: &Document) -> bool {
    document.items().iter().any(|one| one.get("id").is_some())
}

/// What a record no longer says, as paths.
fn left_out(from: &Document, to: &Document) -> Vec<String> {
    let mut found = Vec::new();
    for (key, one) in from.entries() {
        match (to.get(key), one) {
            (None, _) => found.push(key.clone()),
            (Some(other), Document::Map(_)) => {
                let below = left_out(one, other).into_iter();
                found.extend(below.map(|path| format!("{key}.{path}")));
            }
            (Some(other), Document::List(items)) if holds_items(one) => {
                for item in items {
                    let id = item.get("id").and_then(Document::as_text);
                    let known = other.items().iter();
                    let mut known =
                        known.filter(|one| one.get("id").and_then(Document::as_text) == id);
                    if let (Some(id), Some(known)) = (id, known.next()) {
                        let below = left_out(item, known).into_iter();
                        found.extend(below.map(|path| format!("{key} {id} {path}")));
                    }
                }
            }
            (Some(_), Document::Text(_) | Document::List(_)) => {}
        }
    }
    found
}
