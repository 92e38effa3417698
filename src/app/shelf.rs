//! Plans made in one run: each version of the rules is compiled once, whatever the number of records.

use std::collections::HashMap;
use std::sync::{Arc, OnceLock, RwLock};

use jiff::civil::Date;

use crate::check::Plan;
use crate::diagnostic::Schema;
use crate::record;
use crate::rules::RulesFile;
use crate::vocabulary::ChoiceId;

use super::exit::Trouble;
use super::host::Host;
use super::library::{Shelves, level_of};
use super::overlay::Laid;

/// A plan with what is the same for every record under it.
pub(super) struct Bench {
    /// The plan.
    pub plan: Plan,
    /// A later adopted version and its first day.
    pub later: Option<(semver::Version, Date)>,
    /// The level of the event.
    pub level: Option<ChoiceId>,
    schema: OnceLock<Option<Schema>>,
}

impl Bench {
    /// The rules of the plan.
    pub(super) fn rules(&self) -> &RulesFile {
        self.plan.rules()
    }

    /// The schema of a record of these rules, compiled when it is first asked for.
    pub(super) fn schema(&self) -> Option<&Schema> {
        let rules = self.rules();
        let compile = || Schema::new(record::schema(&rules.vocabulary, &rules.class.text)).ok();
        self.schema.get_or_init(compile).as_ref()
    }
}

/// Benches by class and day.
pub(super) struct Benches<'a> {
    host: &'a dyn Host,
    shelves: &'a Shelves,
    /// The rules that were asked for, in place of those of the record's class.
    asked: Option<&'a str>,
    level: Option<&'a str>,
    /// What an event changes of the rules.
    laid: Option<Laid>,
    kept: RwLock<Kept>,
}

#[derive(Default)]
struct Kept {
    by_day: HashMap<Date, Vec<(String, Arc<Bench>)>>,
    all: Vec<Arc<Bench>>,
}

impl<'a> Benches<'a> {
    /// No plan yet.
    pub(super) fn new(
        host: &'a dyn Host,
        shelves: &'a Shelves,
        asked: Option<&'a str>,
        level: Option<&'a str>,
        laid: Option<Laid>,
    ) -> Benches<'a> {
        Benches {
            host,
            shelves,
            asked,
            level,
            laid,
            kept: RwLock::default(),
        }
    }

    /// The bench for a class on a day.
    ///
    /// # Errors
    /// No rules that fit, their faults, or a level that they don't have.
    pub(super) fn of(&self, class: &str, day: Date) -> Result<Arc<Bench>, Trouble> {
        let reference = self.asked.unwrap_or(class);
        let known = |kept: &Kept| {
            let list = kept.by_day.get(&day)?;
            list.iter()
                .find(|(known, _)| known == reference)
                .map(|(_, bench)| Arc::clone(bench))
        };
        if let Some(bench) = self.kept.read().ok().and_then(|kept| known(&kept)) {
            return Ok(bench);
        }
        let mut resolved = self.shelves.find(self.host, reference, Some(day))?;
        if let Some(laid) = &self.laid {
            resolved.rules = laid.over(&resolved.rules, day)?;
        }
        // A lock is poisoned by a panic only, and nothing here panics; without it nothing is kept.
        let mut kept = match self.kept.write() {
            Ok(kept) => kept,
            Err(poisoned) => poisoned.into_inner(),
        };
        let same = |bench: &&Arc<Bench>| {
            bench.rules().digest == resolved.rules.digest && bench.later == resolved.later
        };
        let bench = match kept.all.iter().find(same) {
            Some(bench) => Arc::clone(bench),
            None => {
                let level = self
                    .level
                    .map(|word| level_of(&resolved.rules, word))
                    .transpose()?;
                Arc::new(Bench {
                    plan: Plan::compile(resolved.rules),
                    later: resolved.later,
                    level,
                    schema: OnceLock::new(),
                })
            }
        };
        if !kept.all.iter().any(|known| Arc::ptr_eq(known, &bench)) {
            kept.all.push(Arc::clone(&bench));
        }
        kept.by_day
            .entry(day)
            .or_default()
            .push((reference.to_owned(), Arc::clone(&bench)));
        Ok(bench)
    }
}
