//! Draws by a seed: the same seed gives the same draws on every machine.

/// A generator of 64-bit words.
///
/// Source: Steele, Lea, Flood, Fast splittable pseudorandom number generators, OOPSLA 2014 (SplitMix64).
#[derive(Clone, Debug)]
pub struct Draw(u64);

impl Draw {
    /// By a seed.
    pub fn new(seed: u64) -> Draw {
        Draw(seed.wrapping_mul(0xd134_2543_de82_ef95).wrapping_add(1))
    }

    pub fn word(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// A number below `count`, which is above 0.
    pub fn below(&mut self, count: usize) -> usize {
        let count = u64::try_from(count).unwrap();
        usize::try_from((self.word() >> 16) % count).unwrap()
    }

    /// A number from `low` to `high`, both included.
    pub fn between(&mut self, low: i64, high: i64) -> i64 {
        let span = usize::try_from(high - low).unwrap() + 1;
        low + i64::try_from(self.below(span)).unwrap()
    }

    /// Yes in so many of a hundred.
    pub fn percent(&mut self, chance: usize) -> bool {
        self.below(100) < chance
    }

    /// One of a list that is not empty.
    pub fn one<'l, T>(&mut self, list: &'l [T]) -> &'l T {
        &list[self.below(list.len())]
    }

    /// One of a list, by its place; `None` where it is empty.
    pub fn some(&mut self, count: usize) -> Option<usize> {
        (count > 0).then(|| self.below(count))
    }

    /// So many of a list, in its order.
    pub fn few<T: Clone>(&mut self, list: &[T], count: usize) -> Vec<T> {
        let mut left: Vec<usize> = (0..list.len()).collect();
        while left.len() > count {
            left.remove(self.below(left.len()));
        }
        left.into_iter().map(|at| list[at].clone()).collect()
    }
}
