//! Random whole numbers: one generator for each boat, so that no boat depends on another.

use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::{Rng, SeedableRng};

/// Draws for one boat.
pub(super) struct Random(Xoshiro256PlusPlus);

impl Random {
    /// The draws of a boat by its number.
    pub(super) fn of(seed: u64, boat: u64) -> Random {
        let mixed =
            seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ boat.wrapping_mul(0xd1b5_4a32_d192_ed03);
        Random(Xoshiro256PlusPlus::seed_from_u64(mixed.wrapping_add(boat)))
    }

    fn bits(&mut self) -> u64 {
        self.0.next_u64()
    }

    /// A number below `n`; 0 of nothing.
    pub(super) fn below(&mut self, n: u64) -> u64 {
        let wide = u128::from(self.bits()) * u128::from(n);
        u64::try_from(wide >> 64).unwrap_or(0)
    }

    /// An index below a length.
    pub(super) fn index(&mut self, length: usize) -> usize {
        let length = u64::try_from(length).unwrap_or(u64::MAX);
        usize::try_from(self.below(length)).unwrap_or(0)
    }

    /// One of a list.
    pub(super) fn pick<'l, T>(&mut self, list: &'l [T]) -> Option<&'l T> {
        list.get(self.index(list.len()))
    }

    /// Whether something happens that happens so many times in a million.
    pub(super) fn happens(&mut self, in_a_million: u32) -> bool {
        in_a_million > 0 && self.below(1_000_000) < u64::from(in_a_million)
    }

    /// From 0 to 65535, the middle more often than the ends.
    pub(super) fn middling(&mut self) -> i64 {
        let bits = self.bits();
        let sixteen = |by: u32| i64::try_from((bits >> by) & 0xffff).unwrap_or(0);
        (sixteen(0) + sixteen(16) + sixteen(32)) / 3
    }

    /// From one number to another, the middle more often.
    pub(super) fn between(&mut self, low: i64, high: i64) -> i64 {
        if high <= low {
            return low;
        }
        let width = i128::from(high) - i128::from(low) + 1;
        let by = i128::from(self.middling()) * width / 65_536;
        low.saturating_add(i64::try_from(by).unwrap_or(0)).min(high)
    }
}
