//! Values met while rules are evaluated.

use std::cell::OnceCell;
use std::rc::Rc;

use super::finding::Reason;
use crate::geometry::GeometryProblem;
use crate::quantity::{DateSpan, Unit};
use crate::record::{Item, Line, LoadTest, Outline, Profile, Series, Where};
use crate::rules::Stage;
use crate::text::Span;
use crate::uncertainty::{Coverage, Expanded, Uncertain};
use crate::vocabulary::{ChoiceId, HoldingId, MeasureId, PartId, RoleId, TraitId};

/// What a value lacks as evidence. Empty: nothing.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Evidence(u16);

impl Evidence {
    /// Nothing is lacking.
    pub const GOOD: Evidence = Evidence(0);
    /// Outside what is plausible, and nobody confirmed it.
    pub const IMPLAUSIBLE: Evidence = Evidence(1);
    /// Older than the measure allows.
    pub const STALE: Evidence = Evidence(2);
    /// The instrument's last good check was before the reading.
    pub const CHECK_FAILED: Evidence = Evidence(4);
    /// The instrument's calibration was over.
    pub const OUT_OF_DATE: Evidence = Evidence(8);
    /// No instrument is named.
    pub const UNNAMED: Evidence = Evidence(16);
    /// No person is named for a look.
    pub const NOBODY: Evidence = Evidence(32);
    /// Straightness from one flank alone: bar, thickness and bend are not told apart.
    pub const ONE_FLANK: Evidence = Evidence(64);
    /// Older than work that asks for it again, or of an item that work has made a new one.
    pub const ALTERED: Evidence = Evidence(128);
    /// A load test that was set up otherwise than the class asks.
    pub const SET_UP: Evidence = Evidence(256);
    /// A first value without the paper that says it.
    pub const NO_PAPER: Evidence = Evidence(512);

    /// What either lacks.
    pub fn and(self, other: Evidence) -> Evidence {
        Evidence(self.0 | other.0)
    }

    pub(super) fn lacks(self, other: Evidence) -> bool {
        self.0 & other.0 != 0
    }

    /// Why the value can't decide anything at a stage, the gravest reason first.
    ///
    /// At home a sailor's own sieve may do without named instruments and field checks; a certificate and an
    /// event may not.
    pub fn reason(self, stage: Stage) -> Option<Reason> {
        if self == Evidence::GOOD {
            return None;
        }
        let formal = match stage {
            Stage::SelfCheck => false,
            Stage::Certification | Stage::EventInspection => true,
        };
        let order = [
            (Evidence::IMPLAUSIBLE, Reason::Implausible, true),
            (Evidence::STALE, Reason::Stale, true),
            (Evidence::ALTERED, Reason::Stale, true),
            (
                Evidence::CHECK_FAILED,
                Reason::InstrumentCheckFailed,
                formal,
            ),
            (Evidence::OUT_OF_DATE, Reason::InstrumentOutOfDate, formal),
            (Evidence::UNNAMED, Reason::InstrumentUnnamed, formal),
            (Evidence::NOBODY, Reason::NeedsJudgement, formal),
            (Evidence::NO_PAPER, Reason::ProofMissing, formal),
            (Evidence::ONE_FLANK, Reason::MethodDiffers, formal),
            (Evidence::SET_UP, Reason::MethodDiffers, formal),
        ];
        order
            .into_iter()
            .find(|(flag, _, asked)| *asked && self.lacks(*flag))
            .map(|(_, reason, _)| reason)
    }
}

/// A number with its evidence.
#[derive(Clone, Debug)]
pub struct Num {
    /// Value and uncertainty, base units.
    pub value: Uncertain,
    /// What it lacks.
    pub evidence: Evidence,
    /// Where it stands in the record; empty for constants.
    pub span: Span,
    /// The unit in which it was written, if it was.
    pub unit: Option<Unit>,
    /// The decimals with which it was written.
    pub decimals: Option<u8>,
    /// The least number of readings behind it.
    pub readings: u32,
    /// What has to be said beside it.
    pub note: Option<Rc<str>>,
    /// Its expanded uncertainty, once that was asked for.
    pub known: Known,
}

/// An expanded uncertainty that is computed once. What is made of a number begins without it.
#[derive(Debug, Default)]
pub struct Known(OnceCell<Option<Expanded>>);

impl Clone for Known {
    fn clone(&self) -> Known {
        Known::default()
    }
}

impl Num {
    /// A number that needs no evidence.
    pub fn certain(value: Uncertain) -> Num {
        Num {
            value,
            evidence: Evidence::GOOD,
            span: Span::default(),
            unit: None,
            decimals: None,
            readings: u32::MAX,
            note: None,
            known: Known::default(),
        }
    }

    /// The expanded uncertainty; `None` when it is unknown.
    pub fn expanded(&self, coverage: &Coverage) -> Option<Expanded> {
        let compute = || (!self.value.unknown).then(|| self.value.expanded(coverage));
        *self.known.0.get_or_init(compute)
    }

    /// A number made of two.
    pub fn of(value: Uncertain, left: &Num, right: &Num) -> Num {
        let left_is_constant = left.readings == u32::MAX;
        Num {
            value,
            evidence: left.evidence.and(right.evidence),
            span: if left_is_constant {
                right.span
            } else {
                left.span
            },
            unit: left.unit.or(right.unit),
            decimals: left.decimals.max(right.decimals),
            readings: left.readings.min(right.readings),
            note: left.note.clone().or_else(|| right.note.clone()),
            known: Known::default(),
        }
    }

    /// The same evidence for a value made of this one alone.
    pub fn with(&self, value: Uncertain) -> Num {
        Num {
            value,
            evidence: self.evidence,
            span: self.span,
            unit: self.unit,
            decimals: self.decimals,
            readings: self.readings,
            note: self.note.clone(),
            known: Known::default(),
        }
    }
}

/// A number at a place.
#[derive(Clone, Debug)]
pub struct PlaceNum<'r> {
    /// Where.
    pub place: &'r Where,
    /// What was found there.
    pub num: Num,
}

/// What is missing, for the words of what would settle it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Missing {
    /// A measure of a kind of part.
    Measure(PartId, MeasureId),
    /// A trait of a kind of part.
    Trait(PartId, TraitId),
    /// A part of the boat.
    Holding(HoldingId),
    /// The part in a role of a group.
    Role(PartId, RoleId),
    /// The event's level.
    Level,
    /// The temperature of the session.
    Temperature,
    /// What a value lacks as evidence.
    Evidence(Evidence),
    /// Nothing that can be named: the reason says it.
    Nothing,
}

/// Why a value is unknown.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Why {
    /// The reason.
    pub reason: Reason,
    /// What is missing.
    pub missing: Missing,
    /// Where in the record, if somewhere.
    pub span: Option<Span>,
}

/// A condition's truth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Truth {
    /// It holds.
    True,
    /// It does not.
    False,
    /// It can't be said.
    Unknown(Why),
}

impl Truth {
    /// The truth of a plain condition.
    pub fn of(holds: bool) -> Truth {
        if holds { Truth::True } else { Truth::False }
    }
}

impl std::ops::Not for Truth {
    type Output = Truth;

    fn not(self) -> Truth {
        match self {
            Truth::True => Truth::False,
            Truth::False => Truth::True,
            Truth::Unknown(why) => Truth::Unknown(why),
        }
    }
}

/// A value.
#[derive(Clone, Debug)]
pub enum Val<'r> {
    /// One number.
    Number(Rc<Num>),
    /// A number at each place.
    Places(Rc<Vec<PlaceNum<'r>>>),
    /// A count: sure, and possible where items are in doubt.
    Count(i64, i64),
    /// A choice; `None` is `other`.
    Choice(Option<ChoiceId>, Span),
    /// Some choices, at least one; `None` is `other`.
    AnyOf(&'r [Option<ChoiceId>], Span),
    /// The event's level.
    Level(ChoiceId),
    /// A date.
    Date(DateSpan),
    /// A declared or looked-at answer.
    Answer {
        /// Yes or no.
        yes: bool,
        /// What it lacks.
        evidence: Evidence,
        /// Where it stands.
        span: Span,
    },
    /// A condition.
    Truth(Truth),
    /// A profile with the series it belongs to.
    Profile(&'r Profile, &'r Series, &'r Item, MeasureId),
    /// A line along the flanks.
    Line(&'r Line, &'r Series, &'r Item, MeasureId),
    /// A test under load with the series it belongs to.
    LoadTest(&'r LoadTest, &'r Series, &'r Item, MeasureId),
    /// An outline with the series it belongs to.
    Outline(&'r Outline, &'r Series, &'r Item, MeasureId),
    /// Sections across the edge at places, with the measure they belong to; and whether it is taken at places at
    /// all.
    Sections(Rc<Vec<SectionNum<'r>>>, (PartId, MeasureId), bool),
    /// It can't be said.
    Unknown(Why),
}

impl From<Num> for Val<'_> {
    fn from(num: Num) -> Self {
        Val::Number(Rc::new(num))
    }
}

/// A section across the edge at a place.
#[derive(Clone, Debug)]
pub struct SectionNum<'r> {
    /// Where.
    pub place: &'r Where,
    /// Where the section stands in the record.
    pub span: Span,
    /// What it tells.
    pub angles: SectionAngles,
}

/// What a section across the edge tells.
#[derive(Clone, Debug)]
pub enum SectionAngles {
    /// Two bevels against the middle plane: port, starboard.
    Bevels(Box<(Num, Num)>),
    /// The included angle, and how far the bevels differ where that is told.
    Angle(Box<(Num, Option<Num>)>),
    /// Readings that make no angle.
    Refused(GeometryProblem),
}
