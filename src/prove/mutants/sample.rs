//! A fixed sample of many mutants.

use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::{Rng, SeedableRng};

use super::edit::Mutant;

/// The most mutants that are tried; of more a sample is taken.
pub const MOST: usize = 5000;

/// The seed of that sample: the same mutants each time.
pub const SEED: u64 = 1978;

/// A sample of some mutants in their order; all of them where there are no more. The same seed gives the same sample.
pub fn sample(mutants: Vec<Mutant>, most: usize, seed: u64) -> Vec<Mutant> {
    let mut left = mutants.len();
    if left <= most {
        return mutants;
    }
    let mut generator = Xoshiro256PlusPlus::seed_from_u64(seed);
    let mut wanted = most;
    // Selection sampling: Knuth, The Art of Computer Programming, volume 2, section 3.4.2, algorithm S.
    mutants
        .into_iter()
        .filter(|_| {
            let draw = below(&mut generator, left);
            let taken = draw < wanted;
            left -= 1;
            wanted -= usize::from(taken);
            taken
        })
        .collect()
}

/// A number below a limit above 0, each as likely: by the product's upper half (Lemire 2019), whose bias is below
/// 2⁻⁴⁰ for fewer than 2²⁴ mutants.
fn below(generator: &mut Xoshiro256PlusPlus, limit: usize) -> usize {
    let limit = u128::try_from(limit).unwrap_or(u128::MAX);
    let product = u128::from(generator.next_u64()).saturating_mul(limit);
    usize::try_from(product >> 64).unwrap_or(0)
}
