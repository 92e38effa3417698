//! Identities of the sources of uncertainty in one record.

use crate::record::{Content, EdgeAcross, Found, Item, Measured, SectionPlace, Series, With};
use crate::uncertainty::SourceIds;
use crate::vocabulary::MeasureId;

/// Gives each mean of readings an identity of its own.
///
/// Parts stand in the order of their identities, and sums are rounded in that order. So that no number depends
/// on what was asked before, the identities of the means of a record follow their places in it.
#[derive(Debug, Default)]
pub struct Identities {
    /// For each item the first identity of its means, once somebody asked.
    starts: Vec<u32>,
    /// Of those that have no place of their own.
    next: u32,
}

/// Identities of numbers that are made anew each time they are asked for lie above those with a place.
const WITHOUT_PLACE: u32 = 1 << 30;

impl Identities {
    /// A new identity.
    pub fn take(&mut self) -> u32 {
        self.next = self.next.wrapping_add(1);
        WITHOUT_PLACE | self.next
    }

    /// The identity of the first mean of a series of an item.
    pub fn of_series(
        &mut self,
        items: &[Item],
        of: &Item,
        slot: MeasureId,
        series: &Series,
    ) -> u32 {
        if self.starts.is_empty() {
            let mut next = 1_u32;
            for item in items {
                self.starts.push(next);
                for series in item.measures.iter().flatten().flat_map(all_series) {
                    next = next.wrapping_add(means(series));
                }
            }
        }
        let at = items.iter().position(|item| std::ptr::eq(item, of));
        let start = at.and_then(|at| self.starts.get(at)).copied().unwrap_or(1);
        let own = item_series_before(of, slot, series).map(means);
        own.fold(start, u32::wrapping_add)
    }
}

/// The series of a measure.
fn all_series(measured: &Measured) -> &[Series] {
    match &measured.found {
        Found::Series(series) => series,
        Found::Answer(_) | Found::First(_) => &[],
    }
}

/// The series of an item that stand before one of them.
fn item_series_before<'r>(
    item: &'r Item,
    slot: MeasureId,
    series: &'r Series,
) -> impl Iterator<Item = &'r Series> {
    let before = item.measures.iter().take(slot.index()).flatten();
    let own = item.measures.get(slot.index()).and_then(Option::as_ref);
    let own = own.map_or(&[] as &[Series], all_series).iter();
    let own = own.take_while(move |one| !std::ptr::eq(*one, series));
    before.flat_map(all_series).chain(own)
}

/// How many means a series has that are remembered.
fn means(series: &Series) -> u32 {
    let count = match &series.content {
        Content::Places(places) => places.len(),
        Content::Sections(places) => places.iter().map(section_means).sum(),
        Content::Profile(_) | Content::Line(_) | Content::LoadTest(_) | Content::Outline(_) => 0,
    };
    u32::try_from(count).unwrap_or(u32::MAX)
}

/// How many identities a section needs: one for each reading, and for what is known of its angles beside them.
pub(super) fn section_means(section: &SectionPlace) -> usize {
    let readings = match &section.edge {
        EdgeAcross::Bevels { .. } => return 2,
        EdgeAcross::Points(points) => 2 * (points.port.len() + points.starboard.len()),
        EdgeAcross::Sine(_) => 3,
        EdgeAcross::Pins(list) | EdgeAcross::Rollers(list) | EdgeAcross::Widths(list) => {
            2 * list.len()
        }
    };
    readings + BESIDE_READINGS
}

/// Two faces with a floor of the method and a scatter each.
pub(super) const BESIDE_READINGS: usize = 4;

/// Calibrations are one source for each instrument; their identities lie above those of means.
const CALIBRATIONS: u32 = 1 << 31;

/// Identities one after another.
pub(super) fn counted(first: u32, step: u32) -> impl Iterator<Item = u32> {
    std::iter::successors(Some(first), move |id| Some(id.wrapping_add(step)))
}

/// The identities of the sources of a mean.
pub(super) fn ids(series: &Series, pool: u32, mean: u32) -> SourceIds {
    let instrument = match series.with {
        With::Instrument(at) => u32::try_from(at).unwrap_or(u32::MAX >> 1) + 1,
        // An unnamed instrument is one of its own for each mean: nothing is known to be shared.
        With::Unnamed | With::Exact => mean,
    };
    SourceIds {
        mean,
        pool,
        instrument,
        calibration: CALIBRATIONS | instrument,
    }
}
