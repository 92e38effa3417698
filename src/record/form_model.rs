//! What a measurement form holds, once it is read.

use crate::text::Span;
use crate::vocabulary::{HoldingId, MeasureId, PartId, TraitId};

/// A measurement form.
#[derive(Clone, Debug)]
pub struct Form {
    /// The class that it is for.
    pub class: String,
    /// The versions of the class rules that it is for; without a word every one that knows what it asks.
    pub versions: semver::VersionReq,
    /// Its title.
    pub title: String,
    /// Its sections in the order of work.
    pub sections: Vec<Section>,
}

/// A section: steps on the boat, or on each item of a holding.
#[derive(Clone, Debug)]
pub struct Section {
    /// Its title.
    pub title: String,
    /// The holding whose items it goes through; `None` is the boat.
    pub for_each: Option<HoldingId>,
    /// The kind of part that it is about.
    pub part: PartId,
    /// Its steps.
    pub steps: Vec<Step>,
}

/// One step: something to measure or to declare.
#[derive(Clone, Debug)]
pub struct Step {
    /// What.
    pub asks: Asked,
    /// Where it is named.
    pub span: Span,
    /// At how many places.
    pub places: Option<u32>,
    /// How many readings at each.
    pub repeats: Option<u32>,
    /// How, in words.
    pub words: Option<String>,
    /// Names of cautions.
    pub cautions: Vec<String>,
}

/// What a step asks for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Asked {
    /// A measure of the part.
    Measure(MeasureId),
    /// A trait of the part.
    Trait(TraitId),
}
