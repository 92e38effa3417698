//! Intervals of floating-point numbers: what a value can be while others may be anything in their own ranges.
//!
//! They decide nothing: they steer which numbers are invented, and a check of the record has the last word.

/// All numbers from one to another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Interval {
    pub low: f64,
    pub high: f64,
}

impl Interval {
    pub(super) fn new(low: f64, high: f64) -> Interval {
        Interval { low, high }
    }

    pub(super) fn point(value: f64) -> Interval {
        Interval::new(value, value)
    }

    pub(super) fn width(self) -> f64 {
        self.high - self.low
    }

    pub(super) fn hull(self, other: Interval) -> Interval {
        Interval::new(self.low.min(other.low), self.high.max(other.high))
    }

    pub(super) fn wider(self, by: f64) -> Interval {
        Interval::new(self.low - by, self.high + by)
    }

    pub(super) fn add(self, other: Interval) -> Interval {
        Interval::new(self.low + other.low, self.high + other.high)
    }

    pub(super) fn negate(self) -> Interval {
        Interval::new(-self.high, -self.low)
    }

    pub(super) fn mul(self, other: Interval) -> Interval {
        let all = [
            self.low * other.low,
            self.low * other.high,
            self.high * other.low,
            self.high * other.high,
        ];
        all.into_iter()
            .fold(Interval::point(self.low * other.low), |found, one| {
                found.hull(Interval::point(one))
            })
    }

    /// Nothing where zero may be divided by.
    pub(super) fn div(self, other: Interval) -> Option<Interval> {
        if other.low <= 0.0 && other.high >= 0.0 {
            return None;
        }
        Some(self.mul(Interval::new(1.0 / other.high, 1.0 / other.low)))
    }

    pub(super) fn abs(self) -> Interval {
        if self.low >= 0.0 {
            self
        } else if self.high <= 0.0 {
            self.negate()
        } else {
            Interval::new(0.0, self.high.max(-self.low))
        }
    }

    pub(super) fn min(self, other: Interval) -> Interval {
        Interval::new(self.low.min(other.low), self.high.min(other.high))
    }

    pub(super) fn max(self, other: Interval) -> Interval {
        Interval::new(self.low.max(other.low), self.high.max(other.high))
    }
}
