//! A plan applied to many records, one a line of JSON: outcomes alone, on all cores, in the order of the lines.
//!
//! A piece of a file goes through at a time, so that a file of any size is checked in flat memory: the caller
//! cuts it into pieces at line ends, makes a [`Source`] of each ([`crate::text::decode_lines`]), and hands it
//! to [`Fleet::check`]. The typed loader refuses everything that the schema of the class refuses, so that no
//! line needs a schema check.

use std::ops::Range;
use std::sync::Arc;

use rayon::prelude::*;

use super::finding::{Brief, Outcome, Reason};
use super::plan::{Context, Plan};
use crate::diagnostic::Diagnostic;
use crate::quantity::Date;
use crate::record::{Loader, Record, day_of_check};
use crate::rules::Stage;
use crate::text::{Source, parse_json_line};
use crate::vocabulary::ChoiceId;

/// What is asked of every line.
pub struct Fleet<'p> {
    plan: &'p Plan,
    loader: Loader<'p>,
    purpose: Stage,
    on: Option<Date>,
    level: Option<ChoiceId>,
}

/// A record of a line with its outcomes.
#[derive(Debug)]
pub struct CheckedLine<'l> {
    /// The record.
    pub record: &'l Record,
    /// The day of the check.
    pub day: Date,
    /// The worst outcome.
    pub outcome: Outcome,
    /// Why, where no finding says it.
    pub reason: Option<Reason>,
    /// The outcomes: items in the order of the record, rules in the order of the file.
    pub findings: &'l [Brief],
}

/// A line: checked, or what is wrong with it.
pub type Line<'l> = Result<CheckedLine<'l>, Vec<Diagnostic>>;

/// Lines that one thread takes at a time: few, so that two threads end a piece of some forty lines together.
const SHARE: usize = 4;

impl<'p> Fleet<'p> {
    /// Asks a plan for a purpose, on a day or on the day on which each record was measured.
    pub fn new(
        plan: &'p Plan,
        purpose: Stage,
        on: Option<Date>,
        level: Option<ChoiceId>,
    ) -> Fleet<'p> {
        let loader = Loader::new(&plan.rules().vocabulary);
        Fleet {
            plan,
            loader,
            purpose,
            on,
            level,
        }
    }

    /// Checks all lines of a source that are not blank. The lines are shared out among threads; of each share
    /// one `T` comes back, in the order of the lines, begun by `begin` and added to by `add` line by line.
    pub fn check<T: Send>(
        &self,
        source: &Arc<Source>,
        begin: impl Fn() -> T + Sync,
        add: impl Fn(&mut T, Line<'_>) + Sync,
    ) -> Vec<T> {
        let lines = lines(source.text());
        lines
            .par_chunks(SHARE)
            .map(|share| {
                let mut found = begin();
                let mut briefs = Vec::new();
                for range in share {
                    self.line(source, range.clone(), &mut briefs, |line| {
                        add(&mut found, line)
                    });
                }
                found
            })
            .collect()
    }

    fn line(
        &self,
        source: &Arc<Source>,
        range: Range<usize>,
        briefs: &mut Vec<Brief>,
        add: impl FnOnce(Line<'_>),
    ) {
        let read = match self.read_quickly(source, range.clone()) {
            Some(read) => Ok(read),
            None => self.read(source, range),
        };
        let (record, day) = match read {
            Ok(read) => read,
            Err(faults) => return add(Err(faults)),
        };
        let context = Context {
            purpose: self.purpose,
            day,
            level: self.level,
        };
        briefs.clear();
        let (outcome, reason) = self.plan.outcomes(&record, &context, briefs);
        add(Ok(CheckedLine {
            record: &record,
            day,
            outcome,
            reason,
            findings: briefs,
        }));
    }

    /// The record of a line with the day of its check, where all is common and right.
    fn read_quickly(&self, source: &Arc<Source>, range: Range<usize>) -> Option<(Record, Date)> {
        let read = self.loader.quick(source, range)?;
        let day = self.on.or(read.record.measured.day)?;
        (read.class == self.plan.rules().class.text).then_some((read.record, day))
    }

    /// The record of any line, or what is wrong with it.
    #[cold]
    fn read(
        &self,
        source: &Arc<Source>,
        range: Range<usize>,
    ) -> Result<(Record, Date), Vec<Diagnostic>> {
        let node = parse_json_line(source, range)
            .map_err(|problems| Diagnostic::from_problems(problems, source))?;
        let class = &self.plan.rules().class.text;
        let day = day_of_check(source, &node, class, |measured| self.on.or(measured))?;
        Ok((self.loader.load(source, &node)?, day))
    }
}

/// The places of the lines that are not blank, without their line ends.
fn lines(text: &str) -> Vec<Range<usize>> {
    let mut found = Vec::new();
    let mut start = 0;
    for line in text.split_inclusive('\n') {
        if !line.trim_ascii().is_empty() {
            found.push(start..start + line.trim_end_matches(['\n', '\r']).len());
        }
        start += line.len();
    }
    found
}
