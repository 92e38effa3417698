//! Numbers drawn for boats: the same seed gives the same numbers, on every machine.

/// SplitMix64, a public-domain generator (Steele, Lea, Flood 2014): the state is a counter, the output a mix
/// of it.
pub struct Random(pub u64);

impl Random {
    /// The next number.
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// A number below `n`.
    pub fn below(&mut self, n: u64) -> i64 {
        (self.next() % n) as i64
    }

    /// Once in `n` times.
    pub fn once_in(&mut self, n: u64) -> bool {
        self.below(n) == 0
    }

    /// About normal, with a standard deviation of about 0.58 `width`.
    pub fn around(&mut self, middle: i64, width: i64) -> i64 {
        let span = width as u64 + 1;
        let sum: i64 = (0..4).map(|_| self.below(span)).sum();
        middle + sum - 2 * width
    }
}
