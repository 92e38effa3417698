//! Products of measured values, numbers of their own to the solver, held to their factors.

use std::collections::BTreeMap;

use super::super::solve::{Literal, NumberVar};
use super::super::state::{At, Cell};
use super::Search;
use crate::quantity::Exact;

impl Search<'_, '_> {
    /// Holds one factor of each product that the solver has wrong, so that the product is linear.
    pub(super) fn pin(&mut self, tries: usize) -> Vec<Literal> {
        let mut products: Vec<(Vec<At>, NumberVar)> = self
            .products
            .iter()
            .map(|(all, var)| (all.clone(), *var))
            .collect();
        products.sort();
        let candidate = self.candidate();
        let mut held: BTreeMap<At, Exact> = BTreeMap::new();
        let mut pins = Vec::new();
        for (all, var) in products {
            let mut rest = all.clone();
            let mut factor = Exact::ONE;
            let mut own: Vec<Literal> = Vec::new();
            // All factors but one are held; which one is free turns with the tries.
            let free = tries / 2 % all.len().max(1);
            let free_at = all.get(free).copied();
            rest.retain(|at| Some(*at) != free_at);
            let powers = all.iter().filter(|at| Some(**at) == free_at).count();
            if powers > 1 {
                rest.extend(free_at.iter().copied().cycle().take(powers));
            }
            for at in &rest {
                let from = if tries.is_multiple_of(2) {
                    &candidate
                } else {
                    self.base
                };
                let value =
                    held.get(at)
                        .cloned()
                        .or_else(|| match from.cell(*at, &self.book.layout) {
                            Some(Cell::Number(value)) => Some(value.clone()),
                            _ => None,
                        });
                let Some(value) = value else { continue };
                held.insert(*at, value.clone());
                factor = factor.mul(&value);
                own.extend(self.same(*at, &Cell::Number(value)));
            }
            own.sort_unstable();
            own.dedup();
            let mut sum = vec![(var, Exact::ONE)];
            let mut constant = Exact::ZERO;
            match free_at.filter(|_| powers == 1) {
                Some(at) => sum.push((self.number(at), factor.neg())),
                None => constant = factor.neg(),
            }
            let unless: Vec<Literal> = own.iter().map(|one| !*one).collect();
            self.equal_zero(&sum, &constant, &unless);
            pins.extend(own);
        }
        pins.sort_unstable();
        pins.dedup();
        pins
    }
}
