//! What a change of rules does to a fleet that is read from files.

use std::ops::Range;
use std::path::PathBuf;
use std::sync::Arc;

use crate::diagnostic::Diagnostic;
use crate::fleet::impact::{Asked, BoatAt, Impact, Pair, PlainScratch, Sample, Scratch, Tally};
use crate::fleet::{Days, Part, Piece, ReadBoat, Together};
use crate::quantity::Date;
use crate::report::{several, why_unusable};
use crate::rules::{RulesFile, Stage};
use crate::text::{Source, quoted};

use super::exit::{Exit, Trouble};
use super::fleet_files::{FleetFiles, Troubles, Watcher};
use super::fleet_latest::{Looker, latest};
use super::host::Host;

/// Which fleet, and for what it is checked.
#[derive(Clone, Debug)]
pub struct FleetAsked {
    /// Files and folders of records.
    pub paths: Vec<PathBuf>,
    /// The same day for all, in place of each boat's own.
    pub on: Option<Date>,
    /// The level of an event.
    pub level: Option<String>,
    /// The purpose.
    pub purpose: Stage,
    /// Ids of rules of which the comparison proved that their change changes nothing.
    pub neutral: Vec<String>,
}

/// What a change does to a fleet, and what is wrong with its records.
///
/// # Errors
/// No such file, a level that neither version has, no record that can be used.
pub fn impact(
    host: &dyn Host,
    (old, new): (&Arc<RulesFile>, &Arc<RulesFile>),
    asked: &FleetAsked,
    watcher: Watcher<'_>,
) -> Result<(Impact, Troubles), Trouble> {
    let files = FleetFiles::of(host, &asked.paths)?;
    let later = old.in_force_from.max(new.in_force_from);
    let days = Days {
        on: asked.on,
        not_before: Some(later),
    };
    level_known(old, new, asked)?;
    let pair = Pair::new(
        old,
        new,
        Asked {
            purpose: asked.purpose,
            days,
            level: asked.level.clone(),
            neutral: asked.neutral.clone(),
        },
    );
    let (sums, troubles) = latest(&files, &UnderBoth(&pair), watcher);
    let mut impact = sums.tally.impact(&pair, &files.names);
    some_boat(&impact.sample, &troubles, (&asked.paths, new))?;
    impact.sample.unusable = troubles.unusable.clone();
    Ok((impact, troubles))
}

/// Whether a fleet had any boat that could be used. Of none nothing can be counted, and a report of zeros would say that
/// nobody is hit.
pub(super) fn some_boat(
    sample: &Sample,
    troubles: &Troubles,
    (paths, rules): (&[PathBuf], &RulesFile),
) -> Result<(), Trouble> {
    if sample.records > 0 {
        return Ok(());
    }
    let paths: Vec<String> = paths
        .iter()
        .map(|path| path.display().to_string())
        .collect();
    let shown = quoted(&paths.join(", ")).to_string();
    if troubles.count == 0 {
        let message = format!("there is no record in {shown}");
        return Err(Trouble::one(
            Diagnostic::fault("input.nothing", message)
                .help("a fleet has a record in each line, or in each file of a folder"),
        ));
    }
    let message = format!(
        "no boat in {shown} can be used, and nothing was counted: of {} {}",
        several(troubles.count, "record"),
        why_unusable(&troubles.unusable)
    );
    let help = format!(
        "a fleet has records of the class {} with a day of measuring, one in each line of a .jsonl file or in each file of a folder",
        quoted(&rules.class.text)
    );
    let mut diagnostics = troubles.told.clone();
    diagnostics.push(Diagnostic::fault("fleet.nothing_usable", message).help(help));
    Err(Trouble {
        exit: troubles.exit.unwrap_or(Exit::BadInput),
        diagnostics,
    })
}

fn level_known(old: &RulesFile, new: &RulesFile, asked: &FleetAsked) -> Result<(), Trouble> {
    let Some(word) = &asked.level else {
        return Ok(());
    };
    let of_old = super::library::level_of(old, word);
    let of_new = super::library::level_of(new, word);
    match (of_old, of_new) {
        (Err(trouble), Err(_)) => Err(trouble),
        _ => Ok(()),
    }
}

/// Looks at boats under both versions.
struct UnderBoth<'p, 'r>(&'p Pair<'r>);

/// Sums, and room to work in.
#[derive(Default)]
struct Sums {
    tally: Tally,
    scratch: Scratch,
    plain: PlainScratch,
}

impl Looker for UnderBoth<'_, '_> {
    type Tally = Sums;

    fn read(&self, source: &Arc<Source>, piece: &Piece) -> Result<ReadBoat, Vec<Diagnostic>> {
        self.0.read(source, piece)
    }

    fn look_plainly(
        &self,
        source: &Arc<Source>,
        range: &Range<usize>,
        at: &BoatAt,
        sums: &mut Sums,
    ) -> Option<Result<Range<usize>, Vec<Diagnostic>>> {
        let (scratch, tally) = (&mut sums.plain, &mut sums.tally);
        let looked = self.0.look_plainly(source, range, at, scratch, tally)?;
        Some(looked.map(|looked| {
            tally.boat(looked.stands);
            looked.sail_number
        }))
    }

    fn sail_number_of(
        &self,
        source: &Source,
        range: &Range<usize>,
        sums: &mut Sums,
    ) -> Option<Range<usize>> {
        self.0.sail_number_of(source, range, &mut sums.plain)
    }

    fn together(&self, parts: Vec<Part>) -> Option<Together> {
        self.0.together(parts)
    }

    fn look(&self, boat: &ReadBoat, at: &BoatAt, sums: &mut Sums) {
        let (scratch, tally) = (&mut sums.scratch, &mut sums.tally);
        let stands = self.0.look(boat, at, scratch, tally);
        tally.boat(stands);
    }

    fn sample<'t>(&self, sums: &'t mut Sums) -> &'t mut Sample {
        &mut sums.tally.sample
    }

    fn merge(&self, own: &mut Sums, other: Sums) {
        own.tally.merge(other.tally);
    }
}
