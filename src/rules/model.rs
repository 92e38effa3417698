//! Class rules as typed data: what a rules file says once its names are resolved.

use std::sync::Arc;

pub use super::mark_model::*;

use jiff::civil::Date;

use super::changed_words::DeclaredWords;
use super::interpretation::Interpretation;
use super::overlay::Overlay;
use crate::expression::Expression;
use crate::quantity::{Exact, Quantity};
use crate::text::{Source, Span};
use crate::uncertainty::DecisionRule;
use crate::vocabulary::{Name, PartId, Vocabulary, ZoneId};

pub use super::limits::*;

/// One version of the rules of a class.
#[derive(Clone, Debug)]
pub struct RulesFile {
    /// The text it was read from.
    pub source: Arc<Source>,
    /// `sha256:` and 64 hexadecimal digits over the bytes of the file.
    pub digest: String,
    /// The class: `tarn-8`.
    pub class: Name,
    /// Its title, for people.
    pub title: String,
    /// The version; what a bump means is the comparison's to prove.
    pub version: semver::Version,
    /// Where the version stands.
    pub version_span: Span,
    /// Whether the version is adopted.
    pub status: Status,
    /// The version that it replaces.
    pub replaces: Option<semver::Version>,
    /// The first day on which it counts.
    pub in_force_from: Date,
    /// Who has the last word on it.
    pub authority: String,
    /// What silence means.
    pub silence: Silence,
    /// Who carries the doubt, by stage.
    pub decision: DecisionPolicy,
    /// What a record can say.
    pub vocabulary: Vocabulary,
    /// Derived values by part and slot, and in [`RulesFile::derived_order`] the order to compute them in.
    pub derived: Vec<Vec<Expression>>,
    /// The rules in the order of the file.
    pub rules: Vec<Rule>,
    /// Limits on marks in the order of the file.
    pub marks: Vec<MarkRule>,
    /// Interpretations in the order of the file.
    pub interpretations: Vec<Interpretation>,
    /// What its changed words do against the version that it replaces, as a person declares it.
    pub words: Vec<DeclaredWords>,
    /// Cautions to print.
    pub cautions: Vec<Caution>,
    /// Ids of the rules that an event may change.
    pub events_may_change: Vec<Name>,
    /// The day from which on a repealed version no longer counted, where it is said.
    pub repealed_on: Option<Date>,
    /// What an event changes of them, where they are those of an event.
    pub overlay: Option<Box<Overlay>>,
}

impl RulesFile {
    /// Whether these rules count on a day: adopted, and in force by then. A later version may have taken
    /// their place.
    pub fn in_force(&self, day: Date) -> bool {
        self.status == Status::Adopted && self.in_force_from <= day
    }

    /// Id, number and title of every rule and every limit on marks, in the order of the file.
    pub fn headings(&self) -> impl Iterator<Item = (&str, &str, &str)> {
        let rules = self.rules.iter();
        let rules = rules.map(|one| (&one.id, &one.clause, &one.title));
        let marks = self.marks.iter();
        let marks = marks.map(|one| (&one.id, &one.clause, &one.title));
        let all = rules.chain(marks);
        all.map(|(id, clause, title)| (id.text.as_str(), clause.text.as_str(), title.as_str()))
    }

    /// The rule in a slot.
    pub fn rule(&self, at: usize) -> Option<&Rule> {
        self.rules.get(at)
    }

    /// A derived value of a part.
    pub fn derived_value(
        &self,
        part: PartId,
        slot: crate::vocabulary::DerivedId,
    ) -> Option<&Expression> {
        self.derived
            .get(part.index())
            .and_then(|list| list.get(slot.index()))
    }
}

/// The state of a version. Only adopted ones resolve by day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Status {
    /// Being written.
    Draft,
    /// Put to the vote.
    Proposed,
    /// In force from its day.
    Adopted,
    /// Taken back.
    Repealed,
}

impl Status {
    /// Every status with its word in files.
    pub const WORDS: [(&'static str, Status); 4] = [
        ("draft", Status::Draft),
        ("proposed", Status::Proposed),
        ("adopted", Status::Adopted),
        ("repealed", Status::Repealed),
    ];

    /// The word in files: `adopted`.
    pub fn word(self) -> &'static str {
        match self {
            Status::Draft => "draft",
            Status::Proposed => "proposed",
            Status::Adopted => "adopted",
            Status::Repealed => "repealed",
        }
    }
}

/// What the rules mean where they say nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Silence {
    /// Closed class rules: what is not allowed is forbidden.
    Forbids,
    /// Open class rules: what is not forbidden is allowed.
    Permits,
}

/// A stage at which rules are asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Stage {
    /// The sailor at home.
    SelfCheck,
    /// The measurer, for a certificate.
    Certification,
    /// The inspector at an event.
    EventInspection,
}

impl Stage {
    /// All stages in their order.
    pub const ALL: [Stage; 3] = [
        Stage::SelfCheck,
        Stage::Certification,
        Stage::EventInspection,
    ];

    /// The word in files: `self_check`.
    pub fn word(self) -> &'static str {
        match self {
            Stage::SelfCheck => "self_check",
            Stage::Certification => "certification",
            Stage::EventInspection => "event_inspection",
        }
    }

    /// The words for people: `self-check`.
    pub fn words(self) -> &'static str {
        match self {
            Stage::SelfCheck => "self-check",
            Stage::Certification => "certification",
            Stage::EventInspection => "event inspection",
        }
    }

    /// The stage of a word in a file.
    pub fn from_word(word: &str) -> Option<Stage> {
        Stage::ALL.into_iter().find(|stage| stage.word() == word)
    }

    /// The stage as an index into a list of three.
    pub fn index(self) -> usize {
        match self {
            Stage::SelfCheck => 0,
            Stage::Certification => 1,
            Stage::EventInspection => 2,
        }
    }
}

/// Something for each stage.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct ByStage<T> {
    /// At the self-check.
    pub self_check: T,
    /// At certification.
    pub certification: T,
    /// At event inspection.
    pub event_inspection: T,
}

impl<T> ByStage<T> {
    /// One for each stage by a function.
    pub fn of(mut each: impl FnMut(Stage) -> T) -> ByStage<T> {
        ByStage {
            self_check: each(Stage::SelfCheck),
            certification: each(Stage::Certification),
            event_inspection: each(Stage::EventInspection),
        }
    }

    /// The one for a stage.
    pub fn at(&self, stage: Stage) -> &T {
        match stage {
            Stage::SelfCheck => &self.self_check,
            Stage::Certification => &self.certification,
            Stage::EventInspection => &self.event_inspection,
        }
    }
}

/// Who carries the doubt.
#[derive(Clone, Debug)]
pub struct DecisionPolicy {
    /// Coverage probability of every expanded uncertainty, above 0 and below 1.
    pub coverage_probability: Exact,
    /// The guard band is this many times U; 0 or above.
    pub guard_factor: Exact,
    /// The decision rule by stage.
    pub rules: ByStage<DecisionRule>,
}

/// One rule of the class.
#[derive(Clone, Debug)]
pub struct Rule {
    /// The word that stays for ever: `steel_thickness`.
    pub id: Name,
    /// The printed number, which may change between versions.
    pub clause: Name,
    /// Its heading.
    pub title: String,
    /// Its text as the class prints it.
    pub text: String,
    /// Where the text stands, else the id.
    pub text_span: Span,
    /// The kind of part it is about.
    pub applies_to: PartId,
    /// When it applies.
    pub when: Option<Expression>,
    /// What is judged.
    pub value: Expression,
    /// Which place of a placed value is judged.
    pub judged: Judged,
    /// How many places, how near to each other.
    pub places: Option<Places>,
    /// Zones whose places are left out, with their place in the file.
    pub outside: Vec<(ZoneId, Span)>,
    /// The only zone whose places count.
    pub zone: Option<(ZoneId, Span)>,
    /// The limits.
    pub limits: Limits,
    /// Other limits for some equipment, the first that applies.
    pub instead: Vec<Instead>,
    /// The stages at which it is asked.
    pub checked_at: ByStage<bool>,
    /// What can be done.
    pub remedy: Option<String>,
    /// Whether it names `event.…` anywhere.
    pub names_event: bool,
}

/// How a placed value is judged.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Judged {
    /// There is one value.
    Unplaced,
    /// Each place by itself; the worst outcome is the rule's.
    WorstPlace,
    /// The mean of the places stated.
    Mean,
}

/// What a placed value needs to be enough.
#[derive(Clone, Debug)]
pub struct Places {
    /// The least number of places.
    pub at_least: u32,
    /// Where the number stands.
    pub span: Span,
    /// The largest gap between neighbours and from each end, base units, with the expressions of the ends.
    pub spacing: Option<Spacing>,
    /// The least number of readings at each place.
    pub repeats: u32,
}

/// How near to each other places must be.
#[derive(Clone, Debug)]
pub struct Spacing {
    /// The largest gap, as written.
    pub at_most: Quantity,
    /// One end of the range.
    pub from: Expression,
    /// The other end.
    pub to: Expression,
}

/// A caution to print.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Caution {
    /// Edges are sharp.
    Edges,
    /// Grinding dust and sparks.
    Grinding,
    /// Hardened steel can break under a hammer or a press.
    HardenedSteel,
    /// The ice is for the people on the spot to judge.
    Ice,
    /// A certificate is no statement of safety.
    ComplianceIsNotSafety,
}

impl Caution {
    /// Every caution with its word in files.
    pub const WORDS: [(&'static str, Caution); 5] = [
        ("edges", Caution::Edges),
        ("grinding", Caution::Grinding),
        ("hardened_steel", Caution::HardenedSteel),
        ("ice", Caution::Ice),
        ("compliance_is_not_safety", Caution::ComplianceIsNotSafety),
    ];

    /// The words to print. Source: common practice of blade workshops and ice clubs, no source relied on.
    pub fn words(self) -> &'static str {
        match self {
            Caution::Edges => {
                "Runner edges are sharp: guards on except for the reading, cut-proof gloves, never test an edge with a finger."
            }
            Caution::Grinding => {
                "Grinding: protect eyes, face, hearing and lungs; keep sparks away from wood dust; no loose gloves at belts or wheels."
            }
            Caution::HardenedSteel => {
                "Hardened steel can break without warning under a press or a hammer: wear a face shield, nobody in line."
            }
            Caution::Ice => {
                "Ice is judged by the people on the spot, by local rules; this paper says nothing about ice or weather."
            }
            Caution::ComplianceIsNotSafety => {
                "Compliance is not safety. Local rules on ice and the organiser's decisions come first."
            }
        }
    }
}
