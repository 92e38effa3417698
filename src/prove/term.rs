//! What can differ between boats: scalar terms under names common to both versions, and polynomials of them.

use std::collections::HashMap;

use smallvec::SmallVec;

use super::common::{HoldingIx, MeasureIx, PartIx, RoleIx, TraitIx};
use super::formula::Formula;
use crate::quantity::{Exact, HardnessScale, Material};

/// A term in [`Terms`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct TermId(pub u32);

/// Whose term it is, told from the item under judgement.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Whose {
    /// The item's own; inside an aggregate, that of the item counted.
    Own,
    /// The boat's, and what belongs to the context: stage, level, day.
    Boat,
    /// That of the one part of a holding.
    One(HoldingIx),
    /// That of the part in a role of the group under judgement.
    Role(RoleIx),
}

/// A variable of a statement about an item. Where its term is placed, it is the one at the place under judgement.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Var {
    /// Whose.
    pub whose: Whose,
    /// Which term.
    pub term: TermId,
}

/// What a term is.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum What {
    /// The stage of the check: its place in `Stage::ALL`.
    Stage,
    /// The event's level: its place in `Common::levels`; behind the last, no event.
    Level,
    /// The day of the check.
    Day,
    /// Something is on the boat that the rules do not list.
    Unlisted,
    /// A trait: a choice, a day, or a flag.
    Trait(TraitIx),
    /// Whether a list names a choice; behind the last stands `other`.
    Listed(TraitIx, u16),
    /// A quantity or an answer.
    Measure(MeasureIx),
    /// The port bevel of a section.
    PortBevel(MeasureIx),
    /// The starboard bevel.
    StarboardBevel(MeasureIx),
    /// How far forward of the contact the gap under the edge reaches a height.
    Forward(MeasureIx, Exact),
    /// The same behind the contact.
    Aft(MeasureIx, Exact),
    /// The gap under the edge at a place.
    GapAt(MeasureIx, Exact),
    /// The radius of the edge.
    CrownRadius(MeasureIx),
    /// The depth of the deepest concave place.
    Hollow(MeasureIx),
    /// The minimum zone of a line.
    Straightness(MeasureIx),
    /// Force over deflection.
    Stiffness(MeasureIx),
    /// How far it sinks under a load, base units; a mass, or a force.
    Sinks(MeasureIx, Exact, bool),
    /// The area inside an outline.
    Area(MeasureIx),
    /// The place where the edge, forward of the contact, first stands a height over the straight edge.
    AlongEnd(MeasureIx, Exact),
    /// The least of a value over all places.
    Lowest(Poly),
    /// The greatest of a value over all places.
    Highest(Poly),
    /// The mean of a value over the places that a region has; the statement is whether a place lies in it.
    Mean(Poly, Formula),
    /// Every place of an item lies where a rule does not look; the statement is whether it looks at a place.
    LeftOut(Formula),
    /// A hardness converted by the published table.
    Converted(HardnessScale, HardnessScale, Poly),
    /// A length at 20 degrees; the temperature of the session counts where none is given.
    At20(Material, Material, Poly, Option<Poly>),
    /// How many items of a holding meet a condition.
    Count(HoldingIx, Formula),
    /// Whether an odd number of items of a holding meets a condition.
    Odd(HoldingIx, Formula),
    /// The sum over the items of a holding, each by the piece whose condition it meets; nothing where it meets none.
    Sum(HoldingIx, Vec<(Formula, Poly)>),
    /// Something that no statement can be made of: what is told by the same words is the same thing.
    Opaque(String),
    /// How far from the pivot the place under judgement lies.
    PlaceAt,
    /// How far from the edge it lies.
    PlaceFromEdge,
}

/// What values a term has.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Sort {
    /// Numbers within limits.
    Number {
        /// The lower limit, base units, and whether it is a value itself.
        low: Option<(Exact, bool)>,
        /// The upper limit.
        high: Option<(Exact, bool)>,
    },
    /// Days, counted from 1970-01-01.
    Day,
    /// Counts from zero.
    Count,
    /// Yes or no.
    Truth,
    /// One of so many.
    Choice(u16),
}

/// A term with the kind of part that has it.
#[derive(Clone, Debug)]
pub struct Term {
    /// The kind of part: the boat for what belongs to the context, and for aggregates.
    pub part: PartIx,
    /// What it is.
    pub what: What,
    /// Its values.
    pub sort: Sort,
    /// Whether each place has one of its own.
    pub placed: bool,
}

/// All terms of a comparison, each once.
#[derive(Clone, Debug, Default)]
pub struct Terms {
    list: Vec<Term>,
    known: HashMap<(PartIx, What), TermId>,
}

impl Terms {
    /// The term of a part, new or known.
    pub fn intern(&mut self, part: PartIx, what: What, sort: Sort, placed: bool) -> TermId {
        if let Some(id) = self.known.get(&(part, what.clone())) {
            return *id;
        }
        let id = TermId(u32::try_from(self.list.len()).unwrap_or(u32::MAX));
        self.list.push(Term {
            part,
            what: what.clone(),
            sort,
            placed,
        });
        self.known.insert((part, what), id);
        id
    }

    /// A term that is known already.
    pub fn known(&self, part: PartIx, what: &What) -> Option<TermId> {
        self.known.get(&(part, what.clone())).copied()
    }

    /// The term of an id.
    pub fn get(&self, id: TermId) -> Option<&Term> {
        self.list.get(usize::try_from(id.0).ok()?)
    }

    /// All of them in the order in which they came up.
    pub fn all(&self) -> impl Iterator<Item = (TermId, &Term)> {
        (0..).map(TermId).zip(&self.list)
    }

    /// How many there are.
    pub fn len(&self) -> usize {
        self.list.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.list.is_empty()
    }

    /// Whether a term has whole numbers only.
    pub fn is_whole(&self, id: TermId) -> bool {
        matches!(
            self.get(id).map(|term| &term.sort),
            Some(Sort::Day | Sort::Count)
        )
    }

    /// Whether a term is at the place under judgement.
    pub fn is_placed(&self, id: TermId) -> bool {
        self.get(id).is_some_and(|term| term.placed)
    }
}

/// A product of variables, in their order; the empty one is 1.
pub type Monomial = SmallVec<[Var; 2]>;

/// A sum of products with exact coefficients, none of them zero, in the order of the products.
#[derive(Clone, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Poly {
    /// Products with their coefficients; none is empty.
    pub terms: Vec<(Monomial, Exact)>,
    /// What is added.
    pub constant: Exact,
}

impl Poly {
    /// A number.
    pub fn constant(value: Exact) -> Poly {
        Poly {
            terms: Vec::new(),
            constant: value,
        }
    }

    /// A variable.
    pub fn var(var: Var) -> Poly {
        let monomial: Monomial = SmallVec::from_slice(&[var]);
        Poly {
            terms: vec![(monomial, Exact::ONE)],
            constant: Exact::ZERO,
        }
    }

    /// The number that it is, where it is one.
    pub fn as_constant(&self) -> Option<&Exact> {
        self.terms.is_empty().then_some(&self.constant)
    }

    /// Whether each product is of one variable.
    pub fn is_linear(&self) -> bool {
        self.terms.iter().all(|(monomial, _)| monomial.len() == 1)
    }

    /// a·p + b·q
    pub fn combined(&self, a: &Exact, other: &Poly, b: &Exact) -> Poly {
        let mut terms: Vec<(Monomial, Exact)> =
            Vec::with_capacity(self.terms.len() + other.terms.len());
        let mut push = |monomial: &Monomial, value: Exact| {
            if !value.is_zero() {
                terms.push((monomial.clone(), value));
            }
        };
        let (mut own, mut others) = (self.terms.iter().peekable(), other.terms.iter().peekable());
        loop {
            let order = match (own.peek(), others.peek()) {
                (Some((one, _)), Some((two, _))) => one.cmp(two),
                (Some(_), None) => std::cmp::Ordering::Less,
                (None, Some(_)) => std::cmp::Ordering::Greater,
                (None, None) => break,
            };
            let one = if order.is_le() { own.next() } else { None };
            let two = if order.is_ge() { others.next() } else { None };
            match (one, two) {
                (Some((monomial, c)), Some((_, d))) => push(monomial, c.mul(a).add(&d.mul(b))),
                (Some((monomial, c)), None) => push(monomial, c.mul(a)),
                (None, Some((monomial, d))) => push(monomial, d.mul(b)),
                (None, None) => {}
            }
        }
        Poly {
            terms,
            constant: self.constant.mul(a).add(&other.constant.mul(b)),
        }
    }

    /// The sum.
    pub fn plus(&self, other: &Poly) -> Poly {
        self.combined(&Exact::ONE, other, &Exact::ONE)
    }

    /// The difference.
    pub fn minus(&self, other: &Poly) -> Poly {
        self.combined(&Exact::ONE, other, &Exact::ONE.neg())
    }

    /// A multiple.
    pub fn scaled(&self, by: &Exact) -> Poly {
        self.combined(by, &Poly::default(), &Exact::ZERO)
    }

    /// The product.
    pub fn times(&self, other: &Poly) -> Poly {
        let mut all = other.scaled(&self.constant);
        for (monomial, c) in &self.terms {
            let mut terms: Vec<(Monomial, Exact)> = Vec::with_capacity(other.terms.len() + 1);
            for (second, d) in &other.terms {
                let mut product: Monomial = monomial.iter().chain(second).copied().collect();
                product.sort_unstable();
                terms.push((product, c.mul(d)));
            }
            if !other.constant.is_zero() {
                terms.push((monomial.clone(), c.mul(&other.constant)));
            }
            terms.sort_by(|(one, _), (two, _)| one.cmp(two));
            let mut merged: Vec<(Monomial, Exact)> = Vec::with_capacity(terms.len());
            for (monomial, value) in terms {
                match merged.last_mut() {
                    Some((last, sum)) if *last == monomial => *sum = sum.add(&value),
                    _ => merged.push((monomial, value)),
                }
            }
            merged.retain(|(_, value)| !value.is_zero());
            all = all.plus(&Poly {
                terms: merged,
                constant: Exact::ZERO,
            });
        }
        all
    }

    /// What it comes to by the values of its variables; nothing where one of them is not known.
    pub(super) fn value(&self, number: &dyn Fn(Var) -> Option<Exact>) -> Option<Exact> {
        let mut sum = self.constant.clone();
        for (monomial, c) in &self.terms {
            let mut product = c.clone();
            for var in monomial {
                product = product.mul(&number(*var)?);
            }
            sum = sum.add(&product);
        }
        Some(sum)
    }

    /// Every variable in it.
    pub fn vars(&self) -> impl Iterator<Item = Var> + '_ {
        self.terms
            .iter()
            .flat_map(|(monomial, _)| monomial.iter().copied())
    }

    /// The same with each variable replaced by another one.
    pub fn mapped(&self, map: &mut dyn FnMut(Var) -> Var) -> Poly {
        let mut all = Poly::constant(self.constant.clone());
        let mut terms: Vec<(Monomial, Exact)> = Vec::with_capacity(self.terms.len());
        for (monomial, value) in &self.terms {
            let mut monomial: Monomial = monomial.iter().map(|var| map(*var)).collect();
            monomial.sort_unstable();
            terms.push((monomial, value.clone()));
        }
        terms.sort_by(|(one, _), (two, _)| one.cmp(two));
        all.terms = terms;
        all
    }
}
