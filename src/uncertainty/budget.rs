//! The uncertainty budget of a value: which source gives how much, and how the expanded uncertainty comes of it
//! (JCGM 100:2008, 7.2.5 and 7.2.7; the worked tables of annex H).
//!
//! An [`Uncertain`] carries of each source only its share, sensitivity times standard uncertainty. What the
//! sources are called and what was stated of them is kept beside it, in a [`Register`], by whoever makes the
//! parts, and only where a budget is asked for. [`Budget::of`] puts both together.

use std::collections::BTreeMap;

use super::coverage::Coverage;
use super::distribution::{Distribution, Stated};
use super::part::{Combined, Part, PartKind};
use super::uncertain::{Bound, Expanded, Governing, Uncertain};
use crate::quantity::{Number, Unit};

/// A source of uncertainty, as the person knows it who stated it.
#[derive(Clone, Debug)]
pub struct Source {
    /// What it is, in words: `micrometer mic_2, calibration`.
    pub name: String,
    /// The input's best value, base units; `None` for an error about zero, which has none of its own.
    pub estimate: Option<Number>,
    /// The unit to show estimate, figure and standard uncertainty in.
    pub unit: Unit,
    /// Decimals with which the estimate was written, if it was.
    pub decimals: Option<u8>,
    /// What is stated of it.
    pub stated: Stated,
    /// The distribution that is assumed.
    pub distribution: Distribution,
    /// Degrees of freedom, infinite allowed.
    pub nu: f64,
}

impl Source {
    /// A source of which nothing but a figure is known, with infinite degrees of freedom.
    #[must_use]
    pub fn new(
        name: impl Into<String>,
        unit: Unit,
        stated: Stated,
        distribution: Distribution,
    ) -> Source {
        Source {
            name: name.into(),
            estimate: None,
            unit,
            decimals: None,
            stated,
            distribution,
            nu: f64::INFINITY,
        }
    }

    /// The same with the best value of its input and the decimals it was written with.
    #[must_use]
    pub fn with_estimate(mut self, estimate: Number, decimals: Option<u8>) -> Source {
        self.estimate = Some(estimate);
        self.decimals = decimals;
        self
    }

    /// The same with degrees of freedom.
    #[must_use]
    pub fn with_nu(mut self, nu: f64) -> Source {
        self.nu = nu;
        self
    }

    /// Its standard uncertainty, base units; 0 where nothing is stated.
    #[must_use]
    pub fn u(&self) -> f64 {
        self.stated.u(self.distribution).unwrap_or(0.0)
    }
}

/// The sources of some values by their identity.
#[derive(Clone, Debug, Default)]
pub struct Register {
    sources: BTreeMap<(u32, PartKind), Source>,
}

impl Register {
    /// No source yet.
    #[must_use]
    pub fn new() -> Register {
        Register::default()
    }

    /// Keeps what a source is; the last word counts.
    pub fn add(&mut self, kind: PartKind, id: u32, source: Source) {
        self.sources.insert((id, kind), source);
    }

    /// Keeps a source and gives its part, at sensitivity 1.
    pub fn part(&mut self, kind: PartKind, id: u32, group: u32, source: Source) -> Part {
        let part = Part::new(kind, id, group, source.u(), source.nu);
        self.add(kind, id, source);
        part
    }

    /// What is known of a source.
    #[must_use]
    pub fn source(&self, kind: PartKind, id: u32) -> Option<&Source> {
        self.sources.get(&(id, kind))
    }
}

/// How a line is combined with the others.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Treatment {
    /// By itself: squared and added.
    Independent,
    /// Maximum permissible errors of one instrument: independent (r = 0) gave the larger sum.
    Uncorrelated,
    /// Maximum permissible errors of one instrument: fully correlated (r = 1) gave the larger sum.
    Correlated,
    /// A floor of a method that is larger than what the reading has by itself: it adds the rest.
    FloorInForce {
        /// What the reading has by itself, times the sensitivity.
        own: f64,
    },
    /// A floor of a method that the reading reaches by itself: it adds nothing.
    FloorReached {
        /// What the reading has by itself, times the sensitivity.
        own: f64,
    },
}

/// One source's line of a budget.
#[derive(Clone, Debug)]
pub struct Line {
    /// Kind of the source.
    pub kind: PartKind,
    /// Its identity within the kind.
    pub id: u32,
    /// Its group; see [`Part::group`].
    pub group: u32,
    /// What it is. Of a source that nobody named the kind is said, and the share stands for u.
    pub source: Source,
    /// Standard uncertainty u(x), base units of the source.
    pub u: f64,
    /// Sensitivity coefficient c = ∂y/∂x, base units, with its sign.
    pub sensitivity: f64,
    /// Contribution c·u(x) to u(y), base units, with its sign.
    pub contribution: f64,
    /// What the line adds to u_c²(y); less than zero where a correlation takes away.
    pub variance: f64,
    /// The same as a share of u_c²(y), 0 to 1; 0 where there is none.
    pub share: f64,
    /// Degrees of freedom, infinite allowed.
    pub nu: f64,
    /// How it is combined.
    pub treatment: Treatment,
}

/// A way to the expanded uncertainty; the largest counts. See [`Uncertain::expanded`].
#[expect(non_snake_case, reason = "U is the letter of the GUM")]
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Way {
    /// Which.
    pub by: Governing,
    /// Standard uncertainty that is multiplied; of floors that of the whole with them.
    pub u: f64,
    /// Its degrees of freedom.
    pub nu: f64,
    /// Coverage factor k(p, ν) that is used.
    pub k: f64,
    /// What it gives.
    pub U: f64,
}

/// The budget of one value.
#[derive(Clone, Debug)]
pub struct Budget {
    /// What it is a budget of: `steel thickness of S1 at -300 mm`; may be empty.
    pub of: String,
    /// Best value, base units.
    pub value: Number,
    /// One-sided result.
    pub bound: Option<Bound>,
    /// The unit to show value and contributions in.
    pub unit: Unit,
    /// Decimals with which the value was written, if it was.
    pub decimals: Option<u8>,
    /// The sources, what gives most first.
    pub lines: Vec<Line>,
    /// What readings at their floors add together beyond their lines, because errors that cancel between them
    /// don't make a floor smaller; nearly always 0.
    pub beyond_lines: f64,
    /// u_c(y) with its effective degrees of freedom, floors in it: the sum of the lines.
    pub combined: Combined,
    /// The same of all but the floors: plain GUM.
    pub plain: Combined,
    /// The ways to U, in the order of [`Governing`].
    pub ways: Vec<Way>,
    /// Coverage probability p.
    pub probability: f64,
    /// U, k, ν_eff and what gave them: as [`Uncertain::expanded`] gives them, to the last bit.
    pub expanded: Expanded,
    /// The uncertainty is unknown: what stands here is only what is known of it.
    pub unknown: bool,
}

impl Budget {
    /// The budget of a value, by the sources that a register knows, shown in a unit.
    #[must_use]
    pub fn of(value: &Uncertain, register: &Register, coverage: &Coverage, unit: Unit) -> Budget {
        let parts = value.parts.to_vec();
        let totals = value.parts.totals();
        let (plain, combined) = (totals.plain, totals.combined());
        let with_floors = combined.u != plain.u;
        let total = combined.u * combined.u;
        let mut lines: Vec<Line> = parts
            .iter()
            .map(|part| {
                let (variance, treatment) = adds(part, &parts, with_floors);
                line(part, register, unit, variance, total, treatment)
            })
            .collect();
        let of_floors: f64 = lines
            .iter()
            .filter(|line| line.kind == PartKind::MethodFloor)
            .map(|line| line.variance)
            .sum();
        let beyond_lines = if with_floors {
            let rest = total - plain.u * plain.u - of_floors;
            if rest.abs() <= 1e-12 * total {
                0.0
            } else {
                rest
            }
        } else {
            0.0
        };
        let size = |line: &Line| (line.variance.abs(), line.contribution.abs());
        lines.sort_by(|a, b| {
            let ((a, ac), (b, bc)) = (size(a), size(b));
            b.total_cmp(&a).then(bc.total_cmp(&ac))
        });
        let way = |by, u: f64, nu, k: f64| Way {
            by,
            u,
            nu,
            k,
            U: k * u,
        };
        let mut ways = vec![way(
            Governing::Combined,
            plain.u,
            plain.nu,
            coverage.factor(plain.nu),
        )];
        if totals.type_a.nu.is_finite() {
            let seen = totals.type_a;
            let k = coverage.factor(seen.nu);
            ways.push(way(Governing::Repeatability, seen.u, seen.nu, k));
        }
        if totals.has_floors() {
            let k = coverage.factor(f64::INFINITY);
            ways.push(Way {
                by: Governing::MethodFloor,
                u: combined.u,
                nu: f64::INFINITY,
                k,
                U: totals.with_floors(k, 2.0).sqrt(),
            });
        }
        Budget {
            of: String::new(),
            value: value.value.clone(),
            bound: value.bound,
            unit,
            decimals: None,
            lines,
            beyond_lines,
            combined,
            plain,
            ways,
            probability: coverage.probability(),
            expanded: value.expanded(coverage),
            unknown: value.unknown,
        }
    }

    /// The same with what it is a budget of, and the decimals with which the value was written.
    #[must_use]
    pub fn about(mut self, of: impl Into<String>, decimals: Option<u8>) -> Budget {
        self.of = of.into();
        self.decimals = decimals;
        self
    }

    /// The way that gave U.
    #[must_use]
    pub fn way(&self) -> Option<&Way> {
        self.ways.iter().find(|way| way.by == self.expanded.by)
    }
}

/// What a part adds to the variance, and how it is combined with the others.
fn adds(part: &Part, all: &[Part], with_floors: bool) -> (f64, Treatment) {
    let square = part.u * part.u;
    match part.kind {
        PartKind::Repeatability
        | PartKind::Resolution
        | PartKind::Calibration
        | PartKind::Table
        | PartKind::Condition => (square, Treatment::Independent),
        PartKind::MaximumPermissibleError => {
            let mates = || {
                all.iter()
                    .filter(|one| one.kind == part.kind && one.group == part.group)
            };
            let (independent, correlated) = mates().fold((0.0, 0.0), |(squares, sum), one| {
                (squares + one.u * one.u, sum + one.u)
            });
            if mates().nth(1).is_none() {
                (square, Treatment::Independent)
            } else if correlated * correlated > independent {
                (part.u * correlated, Treatment::Correlated)
            } else {
                (square, Treatment::Uncorrelated)
            }
        }
        PartKind::MethodFloor => {
            let own = (part.own * part.own + part.own_offset * part.own_offset).sqrt();
            let more = square - own * own;
            if with_floors && more > 0.0 {
                (more, Treatment::FloorInForce { own })
            } else {
                (0.0, Treatment::FloorReached { own })
            }
        }
    }
}

fn line(
    part: &Part,
    register: &Register,
    unit: Unit,
    variance: f64,
    total: f64,
    treatment: Treatment,
) -> Line {
    let known = register.source(part.kind, part.source).cloned();
    let source = known.unwrap_or_else(|| {
        let name = match part.kind {
            PartKind::Repeatability => "scatter of readings",
            PartKind::Resolution => "resolution",
            PartKind::MaximumPermissibleError => "maximum permissible error",
            PartKind::Calibration => "calibration",
            PartKind::Table => "value from a table",
            PartKind::Condition => "conditions of measuring",
            PartKind::MethodFloor => "floor of the method",
        };
        let distribution = match part.kind {
            PartKind::Repeatability => Distribution::StudentT,
            PartKind::Resolution
            | PartKind::MaximumPermissibleError
            | PartKind::Table
            | PartKind::Condition => Distribution::Rectangular,
            PartKind::Calibration | PartKind::MethodFloor => Distribution::Normal,
        };
        Source::new(name, unit, Stated::InResult, distribution).with_nu(part.nu)
    });
    let source = if source.stated == Stated::InResult {
        Source { unit, ..source }
    } else {
        source
    };
    let stated = source.u();
    // Of what was computed with the result, the contribution is all that there is.
    let (u, sensitivity) = if stated > 0.0 {
        (stated, part.u / stated)
    } else {
        (part.u.abs(), 1.0_f64.copysign(part.u))
    };
    Line {
        kind: part.kind,
        id: part.source,
        group: part.group,
        source,
        u,
        sensitivity,
        contribution: part.u,
        variance,
        share: if total > 0.0 { variance / total } else { 0.0 },
        nu: part.nu,
        treatment,
    }
}

#[cfg(test)]
#[path = "budget_tests.rs"]
mod tests;
