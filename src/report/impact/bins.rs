//! Margins in bars: fine bins put together so that a drawing on a telephone can show them, of all limits that are compared
//! in the same frame.

use crate::fleet::impact::LimitImpact;
use crate::quantity::{Exact, Unit};

/// Bars of one drawing, at most.
const MOST_BARS: i64 = 28;

/// One in so many values may lie outside the frame on either side; they are counted beside it.
const OUTSIDE: u64 = 100;

/// The frame that limits are drawn in, and how many fine bins make a bar.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Frame {
    /// The first fine bin.
    pub first: i64,
    /// The fine bin behind the last one.
    pub end: i64,
    /// How many of them are a bar.
    pub group: i64,
    /// The width of a fine bin in the unit of the limits.
    pub width: f64,
    /// The largest bar of all.
    pub most: u64,
}

/// A bar: margins in the unit of the limit, counted from it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Bar {
    /// From this margin.
    pub from: f64,
    /// To this margin.
    pub to: f64,
    /// How many.
    pub count: u64,
}

/// The bars of a limit in a frame.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Bars {
    /// The bars, from the worst margin on.
    pub bars: Vec<Bar>,
    /// How many are further out, and how many further in.
    pub beyond: (u64, u64),
}

/// The width of a bin in a unit: a round number, of which floating point may have spoiled the last digit.
pub(super) fn round_width(width: f64, unit: Unit) -> Exact {
    let exact = Exact::from_f64_shortest(width).unwrap_or(Exact::ZERO);
    unit.difference_from_base(&exact)
}

fn number(exact: &Exact) -> f64 {
    exact.to_decimal(12).0.parse().unwrap_or(0.0)
}

/// A difference in base units as a number in the unit of a limit.
pub(super) fn difference(size: f64, unit: Unit) -> f64 {
    number(&round_width(size, unit))
}

/// The margin of the old limit from the new one, in the unit of the limit; nothing where either is missing.
pub(super) fn old_margin(limit: &LimitImpact) -> Option<f64> {
    let (old, new) = (limit.old.as_ref()?, limit.new.as_ref()?);
    let step = limit.unit.difference_from_base(&old.sub(new));
    let step = number(&step);
    Some(match limit.kind.is_lower() {
        true => step,
        false => -step,
    })
}

/// Whether two limits can stand in one frame.
fn alike(one: &LimitImpact, other: &LimitImpact) -> bool {
    one.unit == other.unit && one.margins.width.to_bits() == other.margins.width.to_bits()
}

/// The frame of a limit among those of its rule.
pub(super) fn frame(limit: &LimitImpact, of_rule: &[LimitImpact]) -> Option<Frame> {
    let width = number(&round_width(limit.margins.width, limit.unit));
    if width <= 0.0 {
        return None;
    }
    let all = || of_rule.iter().filter(|other| alike(limit, other));
    let windows = all().map(|one| window(one, width));
    let (first, end) = windows.reduce(|one, other| (one.0.min(other.0), one.1.max(other.1)))?;
    let group = groups().find(|group| (end - first) / group < MOST_BARS)?;
    let first = first.div_euclid(group) * group;
    let end = (end + group - 1).div_euclid(group) * group;
    let mut frame = Frame {
        first,
        end,
        group,
        width,
        most: 0,
    };
    let bars = all().flat_map(|one| bars(one, &frame).bars);
    frame.most = bars.map(|bar| bar.count).max().unwrap_or(0);
    Some(frame)
}

/// 1, 2, 5, 10, 20, 50 …
fn groups() -> impl Iterator<Item = i64> {
    let tens = (0..9).map(|power| 10_i64.pow(power));
    tens.flat_map(|ten| [ten, 2 * ten, 5 * ten])
}

/// The fine bins that should be seen: nearly all values, the limits, and U on both sides.
fn window(limit: &LimitImpact, width: f64) -> (i64, i64) {
    let margins = &limit.margins;
    let spare = margins.total() / OUTSIDE;
    let mut left = margins.beyond.0;
    let mut first = margins.first;
    for count in &margins.counts {
        if left + count > spare {
            break;
        }
        left += count;
        first += 1;
    }
    let mut right = margins.beyond.1;
    let length = i64::try_from(margins.counts.len()).unwrap_or(0);
    let mut end = margins.first + length;
    for count in margins.counts.iter().rev() {
        if right + count > spare || end <= first {
            break;
        }
        right += count;
        end -= 1;
    }
    let u = limit.typical_u.map_or(0.0, |u| difference(u, limit.unit));
    for at in [-u, u, old_margin(limit).unwrap_or(0.0)] {
        let bin = (at / width).floor();
        if bin.abs() < 1e6 {
            #[expect(
                clippy::cast_possible_truncation,
                reason = "a whole number below a million"
            )]
            let bin = bin as i64;
            first = first.min(bin - 1);
            end = end.max(bin + 2);
        }
    }
    (first.min(-1), end.max(1))
}

/// The bars of a limit in a frame.
pub(super) fn bars(limit: &LimitImpact, frame: &Frame) -> Bars {
    let margins = &limit.margins;
    let mut bars: Vec<Bar> = Vec::new();
    let mut at = frame.first;
    while at < frame.end {
        bars.push(Bar {
            from: place(at, frame),
            to: place(at + frame.group, frame),
            count: 0,
        });
        at += frame.group;
    }
    let mut beyond = margins.beyond;
    for (bin, count) in (margins.first..).zip(&margins.counts) {
        let bar = usize::try_from((bin - frame.first).div_euclid(frame.group));
        match bar.ok().and_then(|bar| bars.get_mut(bar)) {
            Some(bar) => bar.count += count,
            None if bin < frame.first => beyond.0 += count,
            None => beyond.1 += count,
        }
    }
    Bars { bars, beyond }
}

/// Where a fine bin begins.
#[expect(
    clippy::cast_precision_loss,
    reason = "bins are far below 2 to the 53rd"
)]
pub(super) fn place(bin: i64, frame: &Frame) -> f64 {
    bin as f64 * frame.width
}
