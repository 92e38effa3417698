//! A fleet read so that of each item the latest measurement counts.
//!
//! The files are read once; where boats have several records they are read once more, and the records of such a boat are
//! held until the last of them came, put together and looked at as one boat. Where more would have to be held than fits,
//! some boats wait for a further reading: memory stays flat.

use std::collections::{BTreeMap, HashMap, HashSet};
use std::hash::{DefaultHasher, Hash, Hasher};
use std::ops::Range;
use std::sync::Arc;

use rayon::prelude::*;

use crate::diagnostic::Diagnostic;
use crate::fleet::impact::{BoatAt, Sample, Several};
use crate::fleet::{Part, Piece, ReadBoat, Together, behind};
use crate::text::Source;

use super::exit::Trouble;
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
    /// Where the sail number of a line of plain values stands; nothing is counted.
    fn sail_number_of(
        &self,
        source: &Source,
        range: &Range<usize>,
        tally: &mut Self::Tally,
    ) -> Option<Range<usize>>;
    /// A boat put together from its records.
    fn together(&self, parts: Vec<Part>) -> Option<Together>;
    /// Looks at a boat.
    fn look(&self, boat: &ReadBoat, at: &BoatAt, tally: &mut Self::Tally);
    /// What was looked at, in the sums.
    fn sample<'t>(&self, tally: &'t mut Self::Tally) -> &'t mut Sample;
    /// All of other sums as well.
    fn merge(&self, own: &mut Self::Tally, other: Self::Tally);
}

/// Bytes of records that are held until all of their boat came; beyond it boats wait for a further reading.
const HELD_BYTES: usize = 256 << 20;

/// Boats that are put together at a time, on all cores.
const AT_A_TIME: usize = 512;

/// They are shared out in so many shares.
const SHARES: usize = 8;

/// Looks at every boat, by the latest measurement of each of its items.
pub(super) fn latest<L: Looker>(
    files: &FleetFiles<'_>,
    looker: &L,
    watcher: Watcher<'_>,
) -> (L::Tally, Troubles) {
    latest_within(files, looker, watcher, HELD_BYTES)
}

fn latest_within<L: Looker>(
    files: &FleetFiles<'_>,
    looker: &L,
    watcher: Watcher<'_>,
    held_bytes: usize,
) -> (L::Tally, Troubles) {
    let mut tally = L::Tally::default();
    let mut seen = Halves::default();
    let mut several: HashMap<u64, u32> = HashMap::new();
    let all = Counting {
        looker,
        wanted: None,
    };
    let mut take = |share: &mut Share<L::Tally>, handed| {
        for boat in share.boats.drain(..) {
            if !seen.insert(boat) {
                *several.entry(boat).or_insert(1) += 1;
            }
        }
        share.end(handed, looker, &mut tally);
    };
    let mut troubles = files.read(&all, 1, watcher, &mut take);
    drop(seen);
    if !several.is_empty() {
        (tally, troubles) = with_several(files, looker, several, watcher, held_bytes);
    }
    looker.sample(&mut tally).broken = troubles.count;
    (tally, troubles)
}

/// A share of a fleet.
struct Share<T> {
    tally: T,
    /// Halves of keys.
    boats: Vec<u64>,
    /// Records of boats that have several.
    held: Vec<Held>,
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

/// A record of a boat that has several, as it is written.
struct Held {
    key: u128,
    at: BoatAt,
    text: String,
    json: bool,
}

/// Which boats have several records, by halves of their keys.
struct Wanted<'w> {
    /// Those that are put together at this reading.
    boats: &'w (dyn Fn(u64) -> bool + Sync),
    /// Whether the others are looked at.
    others: bool,
}

/// Looks at every record as a boat of its own, and takes those of boats that have several.
struct Counting<'p, L> {
    looker: &'p L,
    wanted: Option<Wanted<'p>>,
}

impl<L: Looker> Taker for Counting<'_, L> {
    type Share = Share<L::Tally>;

    fn begin(&self) -> Self::Share {
        Share {
            tally: L::Tally::default(),
            boats: Vec::new(),
            held: Vec::new(),
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
        if let Piece::Line(range) = piece {
            let number = match &self.wanted {
                None => None,
                Some(_) => looker.sail_number_of(source, range, &mut share.tally),
            };
            let half = number
                .and_then(|number| source.text().get(number))
                .map(|number| half_of(key_of(number)));
            let plainly = match (&self.wanted, half) {
                (None, _) => true,
                (Some(_), None) => false,
                (Some(wanted), Some(half)) => match (wanted.boats)(half) {
                    false if !wanted.others => return Ok(()),
                    wants => !wants,
                },
            };
            if plainly
                && let Some(looked) = looker.look_plainly(source, range, &at, &mut share.tally)
            {
                let sail_number = source.text().get(looked?).unwrap_or_default();
                share.boats.push(half_of(key_of(sail_number)));
                return Ok(());
            }
        }
        let boat = looker.read(source, piece)?;
        let key = key_of(&boat.newer.sail_number);
        match &self.wanted {
            Some(wanted) if (wanted.boats)(half_of(key)) => {
                let (range, json) = match piece {
                    Piece::Line(range) => (range.clone(), true),
                    Piece::Document => (0..source.text().len(), false),
                };
                share.held.push(Held {
                    key,
                    at,
                    text: source.text().get(range).unwrap_or_default().to_owned(),
                    json,
                });
            }
            Some(wanted) if !wanted.others => {}
            Some(_) | None => {
                counted(looker, &boat, &mut share.tally);
                looker.look(&boat, &at, &mut share.tally);
                share.boats.push(half_of(key));
            }
        }
        Ok(())
    }
}

/// Counts a record as one that was used.
fn counted<L: Looker>(looker: &L, boat: &ReadBoat, tally: &mut L::Tally) {
    let sample = looker.sample(tally);
    sample.record((boat.measured, boat.day), !boat.newer.old_names.is_empty());
    sample.left_out.add(&boat.newer.left_out);
}

/// Records that are held until all of their boat came.
struct Gathering<'g> {
    /// By half of the key: how many come.
    counts: &'g HashMap<u64, u32>,
    held: HashMap<u64, Vec<Held>>,
    bytes: usize,
    most: usize,
    /// Boats of which all came.
    ready: Vec<Vec<Held>>,
    /// Boats that wait for a further reading.
    waiting: HashSet<u64>,
}

impl Gathering<'_> {
    fn take(&mut self, one: Held) {
        let half = half_of(one.key);
        if self.waiting.contains(&half) {
            return;
        }
        if self.bytes >= self.most && !self.held.contains_key(&half) {
            self.waiting.insert(half);
            return;
        }
        self.bytes = self.bytes.saturating_add(one.text.len());
        let list = self.held.entry(half).or_default();
        list.push(one);
        let all = self.counts.get(&half).copied().unwrap_or(0);
        if u32::try_from(list.len()).is_ok_and(|count| count >= all) {
            let list = self.held.remove(&half).unwrap_or_default();
            let bytes: usize = list.iter().map(|one| one.text.len()).sum();
            self.bytes = self.bytes.saturating_sub(bytes);
            self.ready.push(list);
        }
    }
}

/// What boats with several records come to.
struct Found<T> {
    tally: T,
    several: Vec<(BoatAt, Several)>,
    faulty: Vec<(BoatAt, Vec<Diagnostic>)>,
}

/// The same where boats have several records.
fn with_several<L: Looker>(
    files: &FleetFiles<'_>,
    looker: &L,
    counts: HashMap<u64, u32>,
    watcher: Watcher<'_>,
    held_bytes: usize,
) -> (L::Tally, Troubles) {
    let mut found = Found {
        tally: L::Tally::default(),
        several: Vec::new(),
        faulty: Vec::new(),
    };
    let mut troubles: Option<Troubles> = None;
    let mut waiting: HashSet<u64> = HashSet::new();
    for pass in 2..=u8::MAX {
        let first = troubles.is_none();
        let counting = Counting {
            looker,
            wanted: Some(Wanted {
                boats: &|half| match first {
                    true => counts.contains_key(&half),
                    false => waiting.contains(&half),
                },
                others: first,
            }),
        };
        let mut gathering = Gathering {
            counts: &counts,
            held: HashMap::new(),
            bytes: 0,
            // The last reading takes whatever is left.
            most: if pass == u8::MAX {
                usize::MAX
            } else {
                held_bytes
            },
            ready: Vec::new(),
            waiting: HashSet::new(),
        };
        let mut take = |share: &mut Share<L::Tally>, handed| {
            for one in share.held.drain(..) {
                gathering.take(one);
                if gathering.ready.len() >= AT_A_TIME {
                    let ready = std::mem::take(&mut gathering.ready);
                    all_together(files, looker, &ready, &mut found);
                }
            }
            share.end(handed, looker, &mut found.tally);
        };
        let told = files.read(&counting, pass, watcher, &mut take);
        troubles.get_or_insert(told);
        let mut ready = std::mem::take(&mut gathering.ready);
        // Of a file that changed meanwhile fewer may come than came before.
        let mut rest: Vec<Vec<Held>> = gathering.held.into_values().collect();
        rest.sort_by_key(|list| list.iter().map(|one| one.at).min());
        ready.append(&mut rest);
        all_together(files, looker, &ready, &mut found);
        waiting = gathering.waiting;
        if waiting.is_empty() {
            break;
        }
    }
    let mut troubles = troubles.unwrap_or_default();
    for (at, faults) in found.faulty {
        let name = files.names.get(at.file).map_or("", String::as_str);
        troubles.add(name, at.line, Trouble::input(faults));
    }
    found.several.sort_by_key(|(at, _)| *at);
    let several = found.several.into_iter().map(|(_, one)| one);
    looker.sample(&mut found.tally).several = several.collect();
    (found.tally, troubles)
}

/// Looks at boats of which all records came, on all cores.
fn all_together<L: Looker>(
    files: &FleetFiles<'_>,
    looker: &L,
    ready: &[Vec<Held>],
    found: &mut Found<L::Tally>,
) {
    let length = ready.len().div_ceil(SHARES).max(1);
    let shares: Vec<Found<L::Tally>> = ready
        .par_chunks(length)
        .map(|share| {
            let mut own = Found {
                tally: L::Tally::default(),
                several: Vec::new(),
                faulty: Vec::new(),
            };
            for list in share {
                // Two boats whose halves of keys are the same.
                let mut boats: BTreeMap<u128, Vec<&Held>> = BTreeMap::new();
                for one in list {
                    boats.entry(one.key).or_default().push(one);
                }
                for boat in boats.into_values() {
                    one_boat(&files.names, looker, boat, &mut own);
                }
            }
            own
        })
        .collect();
    for mut share in shares {
        looker.merge(&mut found.tally, share.tally);
        found.several.append(&mut share.several);
        found.faulty.append(&mut share.faulty);
    }
}

/// A boat by all its records. Those that say the same, letter for letter, are one.
fn one_boat<L: Looker>(
    names: &[String],
    looker: &L,
    mut records: Vec<&Held>,
    found: &mut Found<L::Tally>,
) {
    records.sort_by_key(|one| one.at);
    let mut parts: Vec<Part> = Vec::new();
    let mut known: HashMap<Vec<&str>, usize> = HashMap::new();
    let mut told = Vec::new();
    let mut copies = 0;
    let joined: Vec<&str> = records.iter().map(|one| one.text.as_str()).collect();
    let joined = Source::new("", joined.join("\n"));
    let mut before = 0;
    for one in &records {
        let range = before..before + one.text.len();
        before = range.end + 1;
        let lines = one.text.lines().map(str::trim_end);
        let lines: Vec<&str> = lines.filter(|line| !line.is_empty()).collect();
        if let Some(same) = known.get(&lines).and_then(|at| parts.get(*at)) {
            copies += 1;
            told.push((one.at, same.boat.measured));
            counted(looker, &same.boat, &mut found.tally);
            continue;
        }
        let name = names.get(one.at.file).map_or("", String::as_str);
        let read = match one.json {
            true => looker.read(&joined, &Piece::Line(range.clone())),
            false => looker.read(&behind(name, &one.text, range.start), &Piece::Document),
        };
        match read {
            Err(faults) => found.faulty.push((one.at, faults)),
            Ok(boat) => {
                counted(looker, &boat, &mut found.tally);
                told.push((one.at, boat.measured));
                known.insert(lines, parts.len());
                parts.push(Part {
                    boat,
                    range,
                    at: one.at,
                });
            }
        }
    }
    let Some(last) = parts
        .iter()
        .max_by_key(|part| (part.boat.measured, part.at))
    else {
        return;
    };
    let at = last.at;
    let first = parts.first();
    let sail_number = first.map_or(String::new(), |part| part.boat.newer.sail_number.clone());
    let mut same_day = 0;
    let boat = match parts.len() {
        1 => parts.pop().map(|part| part.boat),
        _ => looker.together(parts).map(|whole| {
            let sample = looker.sample(&mut found.tally);
            sample.put_together += 1;
            sample.superseded += whole.superseded;
            same_day = whole.same_day;
            whole.boat
        }),
    };
    if let Some(boat) = boat {
        looker.look(&boat, &at, &mut found.tally);
    }
    looker.sample(&mut found.tally).copies += copies;
    // Two boats may share a half of their keys: one of them may have a single record.
    if let (Some((first, _)), true) = (told.first(), told.len() > 1) {
        let name = |file: usize| names.get(file).cloned().unwrap_or_default();
        let records = told
            .iter()
            .map(|(at, day)| (name(at.file), at.line, *day))
            .collect();
        found.several.push((
            *first,
            Several {
                sail_number,
                records,
                same_day,
                copies,
            },
        ));
    }
}

/// Halves of keys, in little more room than they take themselves: a set that doubles would want three times as much while it
/// grows, for each of a million boats.
#[derive(Default)]
struct Halves {
    /// By their first bits, each in order.
    buckets: Vec<Vec<u64>>,
}

impl Halves {
    /// How many of the first bits choose a bucket.
    const BITS: u32 = 14;

    /// Puts one in; false if it was there.
    fn insert(&mut self, half: u64) -> bool {
        self.buckets.resize_with(1 << Self::BITS, Vec::new);
        let at = usize::try_from(half >> (u64::BITS - Self::BITS)).unwrap_or(0);
        let bucket = self.buckets.get_mut(at);
        bucket.is_some_and(|bucket| match bucket.binary_search(&half) {
            Ok(_) => false,
            Err(place) => {
                bucket.insert(place, half);
                true
            }
        })
    }
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

#[cfg(test)]
mod tests {
    use super::{Gathering, Halves, Held};
    use crate::fleet::impact::BoatAt;
    use std::collections::{HashMap, HashSet};

    /// Halves are known again as a set knows them, whichever bits they differ in.
    #[test]
    fn halves_are_known_again() {
        let mut halves = Halves::default();
        let mut known = HashSet::new();
        let mut half = 1_u64;
        for _ in 0..20_000 {
            half = half
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            for one in [half, half >> 50, half << 50, half & 0xff00_0000_0000_0003] {
                assert_eq!(halves.insert(one), known.insert(one), "{one:x}");
            }
        }
        assert!(known.len() > 20_000);
    }

    /// Where more is held than fits, boats that have not begun wait; those that have are finished.
    #[test]
    fn boats_wait_where_no_more_fits() {
        let counts = HashMap::from([(1, 2), (2, 2), (3, 2)]);
        let mut gathering = Gathering {
            counts: &counts,
            held: HashMap::new(),
            bytes: 0,
            most: 4,
            ready: Vec::new(),
            waiting: HashSet::new(),
        };
        let one = |half: u128, line| Held {
            key: half << 64,
            at: BoatAt { file: 0, line },
            text: "{}".to_owned(),
            json: true,
        };
        for (line, half) in (1..).zip([1, 2, 3, 1, 3, 2]) {
            gathering.take(one(half, line));
        }
        assert_eq!(gathering.ready.len(), 2);
        assert!(gathering.ready.iter().all(|boat| boat.len() == 2));
        assert_eq!(gathering.waiting, HashSet::from([3]));
        assert_eq!((gathering.held.len(), gathering.bytes), (0, 0));
    }
}
