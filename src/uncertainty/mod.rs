//! Measurement uncertainty after the GUM, coverage factors and decision rules.
//!
//! The way through this room: readings and an instrument give an [`Uncertain`] ([`mean_of_repeats`]); its
//! arithmetic carries the parts of its uncertainty source by source; a [`Coverage`] makes an expanded
//! uncertainty of them; [`decide`] sets the value against one limit by a decision rule.
//!
//! Sources: JCGM 100:2008 (GUM), JCGM 106:2012, ISO 14253-1. Everything is in base units.

mod anova;
mod budget;
mod budget_of_mean;
mod coverage;
mod decision;
mod distribution;
mod monte_carlo;
mod ninety_five;
mod part;
mod parts;
mod reading;
mod rough;
mod uncertain;

#[cfg(test)]
mod independent;
#[cfg(test)]
mod laws;
#[cfg(test)]
mod published;
#[cfg(test)]
mod risk_published;

pub use anova::{
    Effect, OneWay, POOL_ABOVE, Square, Study, StudyFault, f_quantile, f_tail, one_way, study,
};
pub use budget::{Budget, Line, Register, Source, Treatment, Way};
pub use budget_of_mean::MeanWords;
pub use coverage::{Coverage, central_share, exact_factor};
pub use decision::{
    Decision, DecisionRule, Limit, Side, Verdict, decide, largest_deciding_u, margin,
    probability_of_conformity,
};
pub use distribution::{Distribution, Stated};
pub use monte_carlo::{
    Inputs, Interval, Law, MonteCarlo, MonteCarloProblem, SEED, TRIALS, Validation,
    numerical_tolerance,
};
pub use part::{Combined, Part, PartKind, welch_satterthwaite};
pub use parts::Parts;
pub use reading::{InstrumentError, Pool, Sample, SourceIds, mean_of_repeats, mean_of_sample};
pub use rough::{Rough, RoughErrors, RoughPool, RoughSample};
pub use uncertain::{Bound, Expanded, Governing, Uncertain};
