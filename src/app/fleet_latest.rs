//! A fleet read so that of each item the latest record counts.
//!
//! The files are read once; where boats have several records they are read twice more: to find out which record is the
//! latest of each item, and to count by that.

use std::collections::{BTreeMap, HashMap, HashSet};
use std::hash::{DefaultHasher, Hash, Hasher};
use std::ops::Range;
use std::sync::Arc;

use crate::diagnostic::Diagnostic;
use crate::fleet::impact::{BoatAt, Sample, Several};
use crate::fleet::{Piece, ReadBoat};
use crate::quantity::Date;
use crate::text::Source;

use super::fleet_files::{FleetFiles, Handed, Taker, Troubles, Watcher};

/// Whoever looks at boats and adds up what is seen.
pub(super) trait Looker: Sync {
    /// Sums, and what is kept while they are made.
    type Tally: Send + Default;
    /// Reads a record, or says what is wrong with it.
    fn read(&self, source: &Arc<Source>, piece: &Piece) -> Result<ReadBoat, Vec<Diagnostic>>;
    /// Looks at a line by its plain values where that tells all of it, and gives where its sail number stands in the text.
    fn look_plainly(
        &self,
        source: &Arc<Source>,
        range: &Range<usize>,
        at: &BoatAt,
        tally: &mut Self::Tally,
    ) -> Option<Result<Range<usize>, Vec<Diagnostic>>>;
    /// What an item is known by in all records of its boat.
    fn path_of(&self, boat: &ReadBoat, item: usize) -> Option<String>;
    /// Looks at those items of a boat that count; `part_of` is its key where other records of it count too.
    fn look(
        &self,
        boat: &ReadBoat,
        at: &BoatAt,
        counts: &dyn Fn(usize) -> bool,
        part_of: Option<u128>,
        tally: &mut Self::Tally,
    );
    /// What was looked at, in the sums.
    fn sample<'t>(&self, tally: &'t mut Self::Tally) -> &'t mut Sample;
    /// All of other sums as well.
    fn merge(&self, own: &mut Self::Tally, other: Self::Tally);
    /// No part of a boat comes any more.
    fn close(&self, tally: &mut Self::Tally);
}

/// Looks at the latest items of every boat.
pub(super) fn latest<L: Looker>(
    files: &FleetFiles<'_>,
    looker: &L,
    watcher: Watcher<'_>,
) -> (L::Tally, Troubles) {
    let mut tally = L::Tally::default();
    let mut seen: HashSet<u64> = HashSet::new();
    let mut several: HashSet<u64> = HashSet::new();
    let all = Counting {
        looker,
        several: None,
    };
    let mut take = |share: &mut Share<L::Tally>, handed| {
        for boat in share.boats.drain(..) {
            if !seen.insert(boat) {
                several.insert(boat);
            }
        }
        share.end(handed, looker, &mut tally);
    };
    let mut troubles = files.read(&all, 1, watcher, &mut take);
    drop(seen);
    if !several.is_empty() {
        (tally, troubles) = with_several(files, looker, several, watcher);
    }
    looker.sample(&mut tally).broken = troubles.count;
    (tally, troubles)
}

/// A share of a fleet.
struct Share<T> {
    tally: T,
    /// Halves of keys.
    boats: Vec<u64>,
}

impl<T: Default + Send> Share<T> {
    /// What the share counted joins the whole once nothing more comes.
    fn end<L: Looker<Tally = T>>(&mut self, handed: Handed, looker: &L, whole: &mut T) {
        match handed {
            Handed::Meanwhile => {}
            Handed::AtTheEnd => looker.merge(whole, std::mem::take(&mut self.tally)),
        }
    }
}

/// Looks at every record as a boat of its own, and by the latest items at those of boats that have several.
struct Counting<'p, L> {
    looker: &'p L,
    several: Option<&'p Known>,
}

impl<L: Looker> Taker for Counting<'_, L> {
    type Share = Share<L::Tally>;

    fn begin(&self) -> Self::Share {
        Share {
            tally: L::Tally::default(),
            boats: Vec::new(),
        }
    }

    fn record(
        &self,
        share: &mut Self::Share,
        source: &Arc<Source>,
        piece: &Piece,
        at: BoatAt,
    ) -> Result<(), Vec<Diagnostic>> {
        let looker = self.looker;
        if self.several.is_none()
            && let Piece::Line(range) = piece
            && let Some(looked) = looker.look_plainly(source, range, &at, &mut share.tally)
        {
            let sail_number = source.text().get(looked?).unwrap_or_default();
            share.boats.push(half_of(key_of(sail_number)));
            return Ok(());
        }
        let boat = looker.read(source, piece)?;
        let key = key_of(&boat.newer.sail_number);
        let old_names = !boat.newer.old_names.is_empty();
        looker
            .sample(&mut share.tally)
            .record(boat.measured, old_names);
        looker
            .sample(&mut share.tally)
            .left_out
            .add(&boat.newer.left_out);
        let Some(known) = self.several.and_then(|known| known.boats.get(&key)) else {
            looker.look(&boat, &at, &|_| true, None, &mut share.tally);
            share.boats.push(half_of(key));
            return Ok(());
        };
        let order = (boat.measured, at.file, at.line);
        let counts: Vec<bool> = (0..)
            .map_while(|item| looker.path_of(&boat, item))
            .map(|path| known.items.get(&path) == Some(&order))
            .collect();
        let left_out = counts.iter().filter(|counts| !**counts).count();
        looker.sample(&mut share.tally).superseded += u64::try_from(left_out).unwrap_or(0);
        let by_place = |item: usize| counts.get(item).copied().unwrap_or(false);
        looker.look(&boat, &at, &by_place, Some(key), &mut share.tally);
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
struct Collecting<'p, L> {
    looker: &'p L,
    several: &'p HashSet<u64>,
}

/// A record of a boat that has several: whose, where, its items by path.
type Collected = (u128, String, (Date, usize, u32), Vec<String>);

impl<L: Looker> Taker for Collecting<'_, L> {
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
        let boat = self.looker.read(source, piece)?;
        let key = key_of(&boat.newer.sail_number);
        if self.several.contains(&half_of(key)) {
            let paths = (0..)
                .map_while(|item| self.looker.path_of(&boat, item))
                .collect();
            let order = (boat.measured, at.file, at.line);
            share.push((key, boat.newer.sail_number.clone(), order, paths));
        }
        Ok(())
    }
}

/// The same where boats have several records: of each item the latest counts.
fn with_several<L: Looker>(
    files: &FleetFiles<'_>,
    looker: &L,
    several: HashSet<u64>,
    watcher: Watcher<'_>,
) -> (L::Tally, Troubles) {
    let mut known = Known::default();
    let collecting = Collecting {
        looker,
        several: &several,
    };
    files.read(
        &collecting,
        2,
        watcher,
        &mut |share: &mut Vec<Collected>, _| {
            for (key, sail_number, order, paths) in share.drain(..) {
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
        },
    );
    let mut tally = L::Tally::default();
    let counting = Counting {
        looker,
        several: Some(&known),
    };
    let mut take = |share: &mut Share<L::Tally>, handed| share.end(handed, looker, &mut tally);
    let troubles = files.read(&counting, 3, watcher, &mut take);
    looker.close(&mut tally);
    let boats = known.boats.into_values();
    let mut boats: Vec<KnownBoat> = boats.filter(|boat| boat.records.len() > 1).collect();
    boats.sort_by_key(|boat| boat.records.first().map(|(_, file, line)| (*file, *line)));
    looker.sample(&mut tally).several = boats
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

/// Half of a key. Where those of two boats are the same their records are read again, and told apart by the whole keys.
fn half_of(key: u128) -> u64 {
    u64::try_from(key >> 64).unwrap_or(0)
}

/// A boat by its sail number, whatever its blanks: 128 bits, so that two are never taken for one.
fn key_of(sail_number: &str) -> u128 {
    let half = |salt: u8| {
        let mut hasher = DefaultHasher::new();
        salt.hash(&mut hasher);
        for word in sail_number.split_whitespace() {
            word.hash(&mut hasher);
        }
        u128::from(hasher.finish())
    };
    half(0) << 64 | half(1)
}
