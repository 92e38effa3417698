//! What a change of rules does to a fleet that is read from files.

use std::collections::{BTreeMap, HashMap, HashSet};
use std::hash::{DefaultHasher, Hash, Hasher};
use std::path::PathBuf;
use std::sync::Arc;

use crate::diagnostic::Diagnostic;
use crate::fleet::impact::{Asked, BoatAt, Impact, Pair, Scratch, Several, Tally};
use crate::fleet::{Days, Piece, ReadBoat};
use crate::rules::{RulesFile, Stage};
use crate::text::{Source, quoted};
use jiff::civil::Date;

use super::exit::Trouble;
use super::fleet_files::{FleetFiles, Taker, Troubles, Watcher};
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
    let mut tally = Tally::default();
    let mut seen: HashSet<u128> = HashSet::new();
    let mut several: HashSet<u128> = HashSet::new();
    let all = Counting {
        pair: &pair,
        several: None,
    };
    let mut troubles = files.read(&all, 1, watcher, &mut |share: Share| {
        tally.merge(share.tally);
        for boat in share.boats {
            if !seen.insert(boat) {
                several.insert(boat);
            }
        }
    });
    drop(seen);
    if !several.is_empty() {
        (tally, troubles) = with_several(&files, &pair, several, watcher);
    }
    tally.sample.broken = troubles.count;
    let impact = tally.impact(&pair, &files.names);
    if impact.sample.records == 0 && troubles.count == 0 {
        let paths: Vec<String> = asked
            .paths
            .iter()
            .map(|path| path.display().to_string())
            .collect();
        let message = format!("there is no record in {}", quoted(&paths.join(", ")));
        return Err(Trouble::one(
            Diagnostic::fault("input.nothing", message)
                .help("a fleet has a record in each line, or in each file of a folder"),
        ));
    }
    Ok((impact, troubles))
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

/// A share of a fleet.
struct Share {
    tally: Tally,
    scratch: Scratch,
    boats: Vec<u128>,
}

/// Counts every record as a boat of its own, and leaves out the boats that have several.
struct Counting<'p, 'r> {
    pair: &'p Pair<'r>,
    several: Option<&'p Known>,
}

impl Taker for Counting<'_, '_> {
    type Share = Share;

    fn begin(&self) -> Share {
        Share {
            tally: Tally::default(),
            scratch: Scratch::default(),
            boats: Vec::new(),
        }
    }

    fn record(
        &self,
        share: &mut Share,
        source: &Arc<Source>,
        piece: &Piece,
        at: BoatAt,
    ) -> Result<(), Vec<Diagnostic>> {
        let boat = self.pair.read(source, piece)?;
        let key = key_of(&boat);
        share.tally.record(&boat);
        let Some(known) = self.several.and_then(|known| known.boats.get(&key)) else {
            let stands =
                self.pair
                    .look(&boat, &at, &|_| true, &mut share.scratch, &mut share.tally);
            share.tally.boat(stands);
            share.boats.push(key);
            return Ok(());
        };
        let order = (boat.measured, at.file, at.line);
        let counts: Vec<bool> = (0..)
            .map_while(|item| self.pair.path_of(&boat, item))
            .map(|path| known.items.get(&path) == Some(&order))
            .collect();
        let left_out = counts.iter().filter(|counts| !**counts).count();
        share.tally.sample.superseded += u64::try_from(left_out).unwrap_or(0);
        let by_place = |item: usize| counts.get(item).copied().unwrap_or(false);
        let stands = self
            .pair
            .look(&boat, &at, &by_place, &mut share.scratch, &mut share.tally);
        share.tally.part_of(key, stands);
        Ok(())
    }
}

/// What is known of boats with several records.
#[derive(Default)]
struct Known {
    boats: HashMap<u128, KnownBoat>,
}

#[derive(Default)]
struct KnownBoat {
    sail_number: String,
    records: Vec<(Date, usize, u32)>,
    /// By path: the latest record that has the item.
    items: BTreeMap<String, (Date, usize, u32)>,
    same_day: u64,
}

/// Collects the records of boats that have several.
struct Collecting<'p, 'r> {
    pair: &'p Pair<'r>,
    several: &'p HashSet<u128>,
}

/// A record of a boat that has several: whose, where, its items by path.
type Collected = (u128, String, (Date, usize, u32), Vec<String>);

impl Taker for Collecting<'_, '_> {
    type Share = Vec<Collected>;

    fn begin(&self) -> Vec<Collected> {
        Vec::new()
    }

    fn record(
        &self,
        share: &mut Vec<Collected>,
        source: &Arc<Source>,
        piece: &Piece,
        at: BoatAt,
    ) -> Result<(), Vec<Diagnostic>> {
        let boat = self.pair.read(source, piece)?;
        let key = key_of(&boat);
        if self.several.contains(&key) {
            let paths = (0..)
                .map_while(|item| self.pair.path_of(&boat, item))
                .collect();
            let order = (boat.measured, at.file, at.line);
            share.push((key, boat.newer.sail_number.clone(), order, paths));
        }
        Ok(())
    }
}

/// The same where boats have several records: of each item the latest counts.
fn with_several(
    files: &FleetFiles<'_>,
    pair: &Pair<'_>,
    several: HashSet<u128>,
    watcher: Watcher<'_>,
) -> (Tally, Troubles) {
    let mut known = Known::default();
    let collecting = Collecting {
        pair,
        several: &several,
    };
    files.read(&collecting, 2, watcher, &mut |share: Vec<Collected>| {
        for (key, sail_number, order, paths) in share {
            let boat = known.boats.entry(key).or_default();
            if boat.records.is_empty() {
                boat.sail_number = sail_number;
            }
            boat.records.push(order);
            for path in paths {
                match boat.items.get_mut(&path) {
                    None => {
                        boat.items.insert(path, order);
                    }
                    Some(latest) => {
                        boat.same_day += u64::from(latest.0 == order.0);
                        *latest = (*latest).max(order);
                    }
                }
            }
        }
    });
    let mut tally = Tally::default();
    let counting = Counting {
        pair,
        several: Some(&known),
    };
    let troubles = files.read(&counting, 3, watcher, &mut |share: Share| {
        tally.merge(share.tally)
    });
    tally.close_boats();
    let mut boats: Vec<KnownBoat> = known.boats.into_values().collect();
    boats.sort_by_key(|boat| boat.records.first().map(|(_, file, line)| (*file, *line)));
    tally.sample.several = boats
        .into_iter()
        .map(|boat| Several {
            sail_number: boat.sail_number,
            records: boat
                .records
                .into_iter()
                .map(|(day, file, line)| {
                    (
                        files.names.get(file).cloned().unwrap_or_default(),
                        line,
                        day,
                    )
                })
                .collect(),
            same_day: boat.same_day,
        })
        .collect();
    (tally, troubles)
}

/// A boat by its sail number, whatever its blanks: 128 bits, so that two are never taken for one.
fn key_of(boat: &ReadBoat) -> u128 {
    let half = |salt: u8| {
        let mut hasher = DefaultHasher::new();
        salt.hash(&mut hasher);
        for word in boat.newer.sail_number.split_whitespace() {
            word.hash(&mut hasher);
        }
        u128::from(hasher.finish())
    };
    half(0) << 64 | half(1)
}
