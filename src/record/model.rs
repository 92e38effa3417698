//! Measured records as typed data.

use std::sync::Arc;

use jiff::civil::Date;

use super::section_model::SectionPlace;
use crate::quantity::{DateSpan, DateTime, Dimension, Exact, Unit};
use crate::text::{Source, Span};
use crate::vocabulary::{
    AlterationId, ChoiceId, HoldingId, MethodId, PartId, RoleId, Supports, Vocabulary,
};

/// What was measured on one boat.
#[derive(Clone, Debug)]
pub struct Record {
    /// The text it was read from.
    pub source: Arc<Source>,
    /// The part of the text that is this record (a line of a JSON Lines file, or all).
    pub span: Span,
    /// The sail number.
    pub sail_number: String,
    /// Where the sail number stands.
    pub sail_number_span: Span,
    /// The name of the boat.
    pub boat_name: Option<String>,
    /// The owner.
    pub owner: Option<String>,
    /// Who measured, when, in what cold.
    pub measured: Session,
    /// Instruments by slot; shared by what several versions see of one record.
    pub instruments: Arc<Vec<Instrument>>,
    /// The boat first, then its parts in the order of the record, then its groups of parts.
    pub items: Vec<Item>,
    /// Parts that the rules don't list.
    pub unlisted: Vec<Unlisted>,
    /// Remarks for the paper.
    pub notes: Vec<String>,
    /// Names of older versions of the rules that it uses, each once.
    pub old_names: Vec<OldName>,
    /// Names that nobody knows and that were passed over, each once: of records that are read for some of their values.
    pub left_out: Vec<String>,
}

/// A name of an older version that a record uses.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OldName {
    /// The old name as the rules declare it: `runner.thickness`.
    pub old: String,
    /// What it is called now: `steel_thickness`.
    pub new: String,
    /// Where the record uses it first.
    pub span: Span,
}

/// The session of measuring.
#[derive(Clone, Debug, Default)]
pub struct Session {
    /// The day.
    pub day: Option<Date>,
    /// Who measured.
    pub by: Option<String>,
    /// Where.
    pub place: Option<String>,
    /// Air temperature, base units.
    pub temperature: Option<(Exact, Unit)>,
}

/// An instrument with its errors. Lengths, angles or masses in base units, as its readings are.
#[derive(Clone, Debug)]
pub struct Instrument {
    /// The key by which series name it.
    pub key: String,
    /// Where it is declared.
    pub span: Span,
    /// Its kind: matched with the methods of measures.
    pub kind: String,
    /// The method of that name in the vocabulary, if any measure names it.
    pub method: Option<MethodId>,
    /// The kind of quantity of its figures; `None` when it has none.
    pub dimension: Option<Dimension>,
    /// The unit of its first figure, for printing.
    pub unit: Option<Unit>,
    /// The serial number.
    pub serial: Option<String>,
    /// Smallest step shown.
    pub resolution: Option<Exact>,
    /// Maximum permissible error.
    pub max_permissible_error: Option<Exact>,
    /// Standard deviation of single readings.
    pub repeatability: Option<Exact>,
    /// The last calibration.
    pub calibration: Option<Calibration>,
    /// Field checks against a reference, in time order as written.
    pub checks: Vec<FieldCheck>,
    /// A repeatability study that replaces a method's floor.
    pub study: Option<String>,
}

/// A calibration.
#[derive(Clone, Debug)]
pub struct Calibration {
    /// The day it was done.
    pub day: Option<Date>,
    /// The last day it counts.
    pub due: Option<Date>,
    /// Where `due` stands, else the calibration.
    pub due_span: Span,
    /// What is added to a reading.
    pub correction: Exact,
    /// Expanded uncertainty of the calibration.
    pub expanded_uncertainty: Option<Exact>,
    /// Its coverage factor.
    pub k: Exact,
}

/// A check of an instrument against a reference.
#[derive(Clone, Debug)]
pub struct FieldCheck {
    /// When.
    pub taken: DateTime,
    /// What the reference is.
    pub reference: Exact,
    /// What the instrument showed.
    pub reading: Exact,
    /// The largest difference that is accepted.
    pub accept_within: Exact,
    /// Where it stands.
    pub span: Span,
}

impl FieldCheck {
    /// Whether the instrument showed the reference closely enough; the border is accepted.
    pub fn is_good(&self) -> bool {
        (&self.reading - &self.reference).abs() <= self.accept_within
    }
}

/// The boat, one of its parts, or a group of parts.
#[derive(Clone, Debug)]
pub struct Item {
    /// Which holding of the boat it fills; `None` is the boat itself.
    pub holding: Option<HoldingId>,
    /// Its kind.
    pub part: PartId,
    /// The id within a holding of many.
    pub id: Option<String>,
    /// What to underline for the item as a whole: its id or key.
    pub span: Span,
    /// Traits by slot of the part.
    pub traits: Vec<Option<TraitClaim>>,
    /// Measures by slot of the part.
    pub measures: Vec<Option<Measured>>,
    /// Work done on it.
    pub work: Vec<Work>,
    /// Remarks for the paper.
    pub notes: Vec<String>,
    /// Of a group of parts: which part fills which role.
    pub members: Option<Box<Members>>,
}

/// The parts in the roles of a group.
#[derive(Clone, Debug)]
pub struct Members {
    /// By slot of the role; `None` where nothing is named.
    pub roles: Vec<Option<Member>>,
}

/// A part in a role.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Member {
    /// Its place in [`Record::items`].
    pub item: usize,
    /// Where it is named.
    pub span: Span,
}

impl Members {
    /// So many roles, none of them filled.
    pub fn none(roles: usize) -> Members {
        Members {
            roles: vec![None; roles],
        }
    }

    /// Puts a part into a role.
    pub fn fill(&mut self, role: RoleId, member: Option<Member>) {
        if let Some(place) = self.roles.get_mut(role.index()) {
            *place = member;
        }
    }

    /// Whether every role is filled.
    pub fn complete(&self) -> bool {
        self.roles.iter().all(Option::is_some)
    }
}

impl Item {
    /// Its path in the record: `boat`, `hull`, `runners/S1`.
    pub fn path(&self, vocabulary: &Vocabulary) -> String {
        let holding = self.holding.and_then(|id| vocabulary.holding(id));
        match (holding, &self.id) {
            (None, _) => "boat".to_owned(),
            (Some(holding), None) => holding.key.text.clone(),
            (Some(holding), Some(id)) => format!("{}/{id}", holding.key.text),
        }
    }

    /// The part in a role of a group.
    pub fn member(&self, role: RoleId) -> Option<Member> {
        let members = self.members.as_ref()?;
        members.roles.get(role.index()).copied().flatten()
    }
}

/// Something on the boat that the rules don't list.
#[derive(Clone, Debug)]
pub struct Unlisted {
    /// The item it is on, by its place in [`Record::items`].
    pub item: usize,
    /// What it is, in words.
    pub what: String,
    /// Who saw it.
    pub seen_by: Option<String>,
    /// When.
    pub day: Option<Date>,
    /// Where it stands.
    pub span: Span,
}

/// A trait as claimed.
#[derive(Clone, Debug)]
pub struct TraitClaim {
    /// Where the value stands.
    pub span: Span,
    /// What is claimed.
    pub value: TraitValue,
}

/// The value of a trait.
#[derive(Clone, Debug)]
pub enum TraitValue {
    /// A choice; `None` is `other`.
    Choice(Option<ChoiceId>),
    /// Some choices, each once; `None` is `other`.
    AnyOf(Box<[Option<ChoiceId>]>),
    /// A date with its proof.
    Date(DateClaim),
    /// A flag.
    Flag(bool),
}

/// A date with its proof.
#[derive(Clone, Debug)]
pub struct DateClaim {
    /// The day, month or year.
    pub date: DateSpan,
    /// The paper that is said to prove it.
    pub proof: Option<String>,
    /// Who saw the paper, and when.
    pub seen: Option<(String, Option<Date>)>,
}

/// Work done on an item.
#[derive(Clone, Debug)]
pub struct Work {
    /// The day.
    pub day: Date,
    /// What was done.
    pub did: String,
    /// The kind of work in the class's list, where it has one.
    pub alteration: Option<AlterationId>,
    /// Where it stands.
    pub span: Span,
}

/// A measure as recorded.
#[derive(Clone, Debug)]
pub struct Measured {
    /// What to underline: the value of a short form, else the key.
    pub span: Span,
    /// What was found.
    pub found: Found,
    /// Which of several series decides, where a named person chose.
    pub chosen: Option<Box<Chosen>>,
}

/// A choice between series of measurers that disagree.
#[derive(Clone, Debug)]
pub struct Chosen {
    /// The series that decides, by its place in the list from 0.
    pub series: usize,
    /// Who chose.
    pub by: String,
    /// Why.
    pub because: String,
    /// Where it stands.
    pub span: Span,
}

/// What was found of a measure.
#[derive(Clone, Debug)]
pub enum Found {
    /// Readings in one series or more; the first is decided whole.
    Series(Vec<Series>),
    /// A look or a gauge.
    Answer(Answer),
    /// A value that was fixed for good.
    First(FirstValue),
}

/// A value that was fixed for good: what a paper says of the item when it was new.
#[derive(Clone, Debug)]
pub struct FirstValue {
    /// The value.
    pub reading: Reading,
    /// The day from which it stands; `None` in the short form.
    pub day: Option<Date>,
    /// The paper that says it.
    pub paper: Option<String>,
    /// Who confirmed an implausible value.
    pub confirmed_by: Option<String>,
}

/// The answer of a look or a gauge.
#[derive(Clone, Debug)]
pub struct Answer {
    /// Yes or no.
    pub yes: bool,
    /// Who looked.
    pub by: Option<String>,
    /// The day.
    pub day: Option<Date>,
    /// Where the answer stands.
    pub span: Span,
}

/// One person's readings with one instrument.
#[derive(Clone, Debug)]
pub struct Series {
    /// Where it stands.
    pub span: Span,
    /// With what.
    pub with: With,
    /// By whom; `None` is the session's.
    pub by: Option<String>,
    /// When; `None` is the session's day.
    pub taken: Option<DateTime>,
    /// Whether it is a second measurer's.
    pub second: bool,
    /// How the surface was searched, in words.
    pub searched: Option<String>,
    /// The readings.
    pub content: Content,
}

/// With what a series was taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum With {
    /// The short form, or a series that names nothing.
    Unnamed,
    /// `exact`: U is zero; for cases and witnesses.
    Exact,
    /// An instrument of the record by slot.
    Instrument(usize),
}

/// What a series holds.
#[derive(Clone, Debug)]
pub enum Content {
    /// Readings at places, or of one unplaced value (one place without a position).
    Places(Vec<Place>),
    /// Shims under the edge, or gaps at stations along it.
    Profile(Profile),
    /// Stations along the flanks.
    Line(Line),
    /// Sections across the edge at places.
    Sections(Vec<SectionPlace>),
    /// How far the item sinks under which loads.
    LoadTest(Box<LoadTest>),
    /// Corners or widths of an outline.
    Outline(Box<Outline>),
}

/// Where a reading was taken.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Where {
    /// Signed distance from the pivot, base units.
    pub at: Option<Exact>,
    /// The face.
    pub face: Option<Face>,
    /// Distance from the edge, base units.
    pub from_edge: Option<Exact>,
    /// The unit in which `at` was written.
    pub unit: Option<Unit>,
}

/// A face of the item, as it is sailed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Face {
    /// Port.
    Port,
    /// Starboard.
    Starboard,
}

/// A place with its readings.
#[derive(Clone, Debug)]
pub struct Place {
    /// Where.
    pub place: Where,
    /// What was read, void readings left out.
    pub readings: Vec<Reading>,
    /// Void readings, kept for the paper.
    pub void: Vec<VoidReading>,
    /// Who confirmed an implausible value.
    pub confirmed_by: Option<String>,
    /// What to underline: the readings.
    pub span: Span,
}

/// One reading in base units.
#[derive(Clone, Debug)]
pub struct Reading {
    /// What was read.
    pub value: Exact,
    /// The last digit as written.
    pub resolution: Exact,
    /// The unit as written.
    pub unit: Unit,
    /// A one-sided reading: more or less than the value.
    pub bound: Option<ReadingBound>,
    /// Where it stands.
    pub span: Span,
}

/// A one-sided reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ReadingBound {
    /// `{ more_than: 310 mm }`
    MoreThan,
    /// `{ less_than: 310 mm }`
    LessThan,
}

/// A reading that does not count, and why.
#[derive(Clone, Debug)]
pub struct VoidReading {
    /// The reading.
    pub reading: Reading,
    /// Why.
    pub because: String,
    /// Who says so.
    pub by: String,
}

/// An edge profile against a straight edge.
#[derive(Clone, Debug)]
pub struct Profile {
    /// Where the straight edge touches, told beside shims; stations tell it themselves.
    pub contact: Option<Reading>,
    /// How it was read.
    pub edge: EdgeReadings,
    /// What to underline.
    pub span: Span,
}

/// How an edge profile was read.
#[derive(Clone, Debug)]
pub enum EdgeReadings {
    /// Shims by gap.
    Shims(Vec<ShimReading>),
    /// Gaps at stations, at least three.
    Stations(Vec<StationReading>),
}

/// The gap between the edge and a straight edge at a station.
#[derive(Clone, Debug)]
pub struct StationReading {
    /// Signed distance from the pivot.
    pub at: Reading,
    /// The gap.
    pub gap: Reading,
}

/// Distances at which a pair of shims binds.
#[derive(Clone, Debug)]
pub struct ShimReading {
    /// The leaf.
    pub gap: Reading,
    /// Forward of the pivot, positive.
    pub forward: Reading,
    /// Aft of the pivot, positive.
    pub aft: Reading,
}

/// Stations along the flanks.
#[derive(Clone, Debug)]
pub struct Line {
    /// Signed distances from the pivot.
    pub stations: Vec<Reading>,
    /// Gaps on the port flank.
    pub port: Option<Vec<Reading>>,
    /// Gaps on the starboard flank.
    pub starboard: Option<Vec<Reading>>,
    /// What to underline.
    pub span: Span,
}

/// A test under load. What the class asks of the set-up stands in the vocabulary.
#[derive(Clone, Debug)]
pub struct LoadTest {
    /// How far apart the supports stood; `None` where it is not said.
    pub apart: Option<Reading>,
    /// What carried the item; `None` where it is not said.
    pub supports: Option<Supports>,
    /// Loads in the order in which they were put on and taken off.
    pub steps: Vec<LoadStep>,
    /// What to underline.
    pub span: Span,
}

/// One load with how far the item sinks under it.
#[derive(Clone, Debug)]
pub struct LoadStep {
    /// A mass or a force, as its unit says.
    pub load: Reading,
    /// How far it sinks, from where it stood without a load.
    pub sinks: Reading,
}

/// An outline.
#[derive(Clone, Debug)]
pub struct Outline {
    /// How it is described.
    pub shape: OutlineShape,
    /// What to underline.
    pub span: Span,
}

/// How an outline is described.
#[derive(Clone, Debug)]
pub enum OutlineShape {
    /// Corners one after another, each by two coordinates.
    Corners(Vec<[Reading; 2]>),
    /// Widths across, at equal distances.
    Widths {
        /// The distance from one width to the next.
        spacing: Reading,
        /// The widths from end to end.
        widths: Vec<Reading>,
    },
}
