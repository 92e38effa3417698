//! The vocabulary of a class: parts, traits, measures, derived values and zones, by slot.
//!
//! A slot is the place of a thing in the list of its owner. Names are resolved to slots once, when
//! files load; nothing below looks up a string afterwards.

use super::renamed::Renamed;
use crate::quantity::{Dimension, Exact, Unit};
use crate::text::Span;

/// A name with the place where it stands in the rules file. The place takes no part in equality.
#[derive(Clone, Debug)]
pub struct Name {
    /// The declared word, `[a-z][a-z0-9_]*`.
    pub text: String,
    /// Where it was declared.
    pub span: Span,
}

impl PartialEq for Name {
    fn eq(&self, other: &Name) -> bool {
        self.text == other.text
    }
}

macro_rules! slot {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(pub u16);
        impl $name {
            /// The slot as an index into the owner's list.
            pub fn index(self) -> usize {
                usize::from(self.0)
            }
        }
    };
}

slot!(/** A kind of part (`runner`, `hull`) in [`Vocabulary::parts`]. */ PartId);
slot!(/** A holding of the boat (`runners: many runner`) in [`Vocabulary::holdings`]. */ HoldingId);
slot!(/** A trait in [`Part::traits`]. */ TraitId);
slot!(/** A choice in the list of a [`TraitKind::Choice`]. */ ChoiceId);
slot!(/** A measure in [`Part::measures`]. */ MeasureId);
slot!(/** A derived value in [`Part::derived`]. */ DerivedId);
slot!(/** A zone in [`Part::zones`]. */ ZoneId);
slot!(/** A role of a group in [`Part::roles`]. */ RoleId);
slot!(/** A method by its word in [`Vocabulary::methods`]. */ MethodId);
slot!(/** A kind of work in [`Part::alterations`]. */ AlterationId);

/// All that a record of one class can say.
#[derive(Clone, Debug, Default)]
pub struct Vocabulary {
    /// Kinds of part. The first is always the boat itself; groups of parts are the last ones.
    pub parts: Vec<Part>,
    /// What a boat holds, in the order of the rules file; behind them its groups, as many of each.
    pub holdings: Vec<Holding>,
    /// Event levels in their declared order.
    pub event_levels: Vec<Name>,
    /// The words of all methods that any measure names; an instrument's kind is looked up here once.
    pub methods: Vec<String>,
    /// Names of older versions, each with what it is called here.
    pub renamed: Vec<Renamed>,
}

impl Vocabulary {
    /// The slot of the boat itself.
    pub const BOAT: PartId = PartId(0);
    /// The method of a reading that names no instrument; it is always there.
    pub const UNNAMED: MethodId = MethodId(0);

    /// The part in a slot.
    pub fn part(&self, id: PartId) -> Option<&Part> {
        self.parts.get(id.index())
    }

    /// The holding in a slot.
    pub fn holding(&self, id: HoldingId) -> Option<&Holding> {
        self.holdings.get(id.index())
    }

    /// The slot of a kind of part by name.
    pub fn part_named(&self, name: &str) -> Option<PartId> {
        position(&self.parts, |part| part.name.text == name).map(PartId)
    }

    /// The slot of a holding by the key that a record uses for it.
    pub fn holding_named(&self, key: &str) -> Option<HoldingId> {
        position(&self.holdings, |holding| holding.key.text == key).map(HoldingId)
    }

    /// Whether a holding is a group of parts.
    pub fn is_group(&self, id: HoldingId) -> bool {
        let part = self.holding(id).and_then(|holding| self.part(holding.part));
        part.is_some_and(Part::is_group)
    }

    /// The slot of a method by the kind of an instrument.
    pub fn method_named(&self, kind: &str) -> Option<MethodId> {
        position(&self.methods, |method| method == kind).map(MethodId)
    }

    /// The slot of an event level by name.
    pub fn event_level_named(&self, name: &str) -> Option<ChoiceId> {
        position(&self.event_levels, |level| level.text == name).map(ChoiceId)
    }
}

fn position<T>(list: &[T], test: impl Fn(&T) -> bool) -> Option<u16> {
    list.iter()
        .position(test)
        .and_then(|at| u16::try_from(at).ok())
}

/// A place on the boat that is filled by one part or by many of a kind.
#[derive(Clone, Debug)]
pub struct Holding {
    /// The key in a record: `hull`, `runners`.
    pub key: Name,
    /// The kind of part that fills it.
    pub part: PartId,
    /// Whether a list of parts fills it.
    pub many: bool,
    /// The least number of parts that a record must name; fewer is not decided.
    pub at_least: u32,
    /// Where `at_least` is said, else the place of the holding.
    pub at_least_span: Span,
}

/// A kind of part, or a group of parts that are used together.
#[derive(Clone, Debug)]
pub struct Part {
    /// Its name: `runner`.
    pub name: Name,
    /// What can be declared of it.
    pub traits: Vec<Trait>,
    /// What can be measured on it.
    pub measures: Vec<Measure>,
    /// What is computed from its measures.
    pub derived: Vec<Derived>,
    /// Zones on it.
    pub zones: Vec<Zone>,
    /// The roles of a group (`sets: { port: runner, … }`); a kind of part has none. Nothing is declared of a
    /// group or measured on it: its values are those of the parts in its roles.
    pub roles: Vec<Role>,
    /// What work does to it; empty where the class says nothing of work.
    pub alterations: Vec<Alteration>,
}

/// A role of a group: filled by one part of a kind.
#[derive(Clone, Debug)]
pub struct Role {
    /// Its name: `port`.
    pub name: Name,
    /// The kind of part that fills it.
    pub part: PartId,
}

impl Measure {
    /// The floor of a method; `None` where the measure does not name it.
    pub fn floor(&self, method: MethodId) -> Option<&Exact> {
        self.methods
            .iter()
            .find(|one| one.id == method)
            .map(|one| &one.expanded_uncertainty)
    }
}

impl Part {
    /// Whether it is a group of parts.
    pub fn is_group(&self) -> bool {
        !self.roles.is_empty()
    }

    /// The role in a slot.
    pub fn role(&self, id: RoleId) -> Option<&Role> {
        self.roles.get(id.index())
    }

    /// The slot of a role by name.
    pub fn role_named(&self, name: &str) -> Option<RoleId> {
        position(&self.roles, |role| role.name.text == name).map(RoleId)
    }

    /// The slot of a trait by name.
    pub fn trait_named(&self, name: &str) -> Option<TraitId> {
        position(&self.traits, |one| one.name.text == name).map(TraitId)
    }

    /// The slot of a measure by name.
    pub fn measure_named(&self, name: &str) -> Option<MeasureId> {
        position(&self.measures, |one| one.name.text == name).map(MeasureId)
    }

    /// The slot of a derived value by name.
    pub fn derived_named(&self, name: &str) -> Option<DerivedId> {
        position(&self.derived, |one| one.name.text == name).map(DerivedId)
    }

    /// The slot of a kind of work by name.
    pub fn alteration_named(&self, name: &str) -> Option<AlterationId> {
        position(&self.alterations, |one| one.name.text == name).map(AlterationId)
    }

    /// The slot of a zone by name.
    pub fn zone_named(&self, name: &str) -> Option<ZoneId> {
        position(&self.zones, |one| one.name.text == name).map(ZoneId)
    }
}

/// Something declared of a part.
#[derive(Clone, Debug)]
pub struct Trait {
    /// Its name: `construction`.
    pub name: Name,
    /// What it can be.
    pub kind: TraitKind,
    /// Whether a record may leave it out without a rule being left open by it: flags only.
    pub optional: bool,
}

/// What a trait can be.
#[derive(Clone, Debug)]
pub enum TraitKind {
    /// One of a list, with the silent extra value `other`.
    Choice(Vec<Name>),
    /// Some of a list, with the silent extra value `other`.
    AnyOf(Vec<Name>),
    /// A day or a partial date, with a proof where a rule depends on it.
    Date,
    /// A nomination: yes or no, absent is no.
    Flag,
}

impl Trait {
    /// The slot of a choice by name.
    pub fn choice_named(&self, name: &str) -> Option<ChoiceId> {
        match &self.kind {
            TraitKind::Choice(names) | TraitKind::AnyOf(names) => {
                position(names, |one| one.text == name).map(ChoiceId)
            }
            TraitKind::Date | TraitKind::Flag => None,
        }
    }
}

impl TraitKind {
    /// The declared words of a choice or a list; nothing for dates and flags.
    pub fn names(&self) -> &[Name] {
        match self {
            TraitKind::Choice(names) | TraitKind::AnyOf(names) => names,
            TraitKind::Date | TraitKind::Flag => &[],
        }
    }
}

/// What kind of thing a measure is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MeasureKind {
    /// A quantity of one dimension.
    Quantity(QuantityKind),
    /// A look or a gauge: yes or no, by a named person.
    YesNo,
    /// The profile of the edge: shims or stations.
    Profile,
    /// A line along a flank: stations on one flank or both.
    Line,
    /// A section across the edge: bevels.
    Section,
    /// A test under load: how far something sinks under which loads.
    LoadTest,
    /// An outline: its corners, or widths at equal spacing.
    Outline,
}

/// What carries an item in a load test. Common practice, no source.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Supports {
    /// Rollers, free to turn: the ends slide without friction.
    Rollers,
    /// Knife edges.
    KnifeEdges,
    /// Flat blocks: friction under the ends makes the item look stiff.
    Blocks,
    /// Clamps that hold the ends.
    Clamps,
}

impl Supports {
    /// Every one with its word in files.
    pub const WORDS: [(&'static str, Supports); 4] = [
        ("rollers", Supports::Rollers),
        ("knife_edges", Supports::KnifeEdges),
        ("blocks", Supports::Blocks),
        ("clamps", Supports::Clamps),
    ];

    /// The words for people.
    pub fn words(self) -> &'static str {
        match self {
            Supports::Rollers => "rollers",
            Supports::KnifeEdges => "knife edges",
            Supports::Blocks => "blocks",
            Supports::Clamps => "clamps",
        }
    }
}

/// How a class wants a load test to be set up.
#[derive(Clone, Debug)]
pub struct TestSetup {
    /// Distance of the supports, base units.
    pub span: Exact,
    /// The unit in which it was written.
    pub unit: Unit,
    /// What carries the item.
    pub supports: Supports,
}

/// When a value is fixed for good.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FixedAt {
    /// At the first certification: the value when new.
    FirstCertification,
}

/// What a kind of work does to an item: to its identity, its papers and its readings.
#[derive(Clone, Debug)]
pub struct Alteration {
    /// Its name: `sharpened`.
    pub name: Name,
    /// Whether the item is a new one since: first values and readings from before are another's.
    pub new_item: bool,
    /// Measures whose earlier readings no longer count.
    pub measure_again: Vec<MeasureId>,
    /// Whether it ends the certificate.
    pub ends_certificate: bool,
}

impl Alteration {
    /// Whether readings of a measure from before the work no longer count.
    pub fn asks_again(&self, measure: MeasureId) -> bool {
        self.new_item || self.measure_again.contains(&measure)
    }
}

/// The kinds of quantity that a rules file can name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum QuantityKind {
    /// A length above zero.
    Length,
    /// A signed distance from the pivot, positive toward the toe.
    Position,
    /// A plane angle.
    Angle,
    /// A mass.
    Mass,
    /// A force.
    Force,
    /// An area.
    Area,
    /// A ratio of two like quantities.
    Ratio,
    /// A force for a length.
    Stiffness,
    /// A temperature.
    Temperature,
    /// Rockwell C.
    HardnessHrc,
    /// Vickers.
    HardnessHv,
    /// Brinell.
    HardnessHbw,
    /// A plain number or count.
    Number,
}

impl QuantityKind {
    /// Every kind with its word in a rules file.
    pub const WORDS: [(&'static str, QuantityKind); 13] = [
        ("length", QuantityKind::Length),
        ("position", QuantityKind::Position),
        ("angle", QuantityKind::Angle),
        ("mass", QuantityKind::Mass),
        ("force", QuantityKind::Force),
        ("area", QuantityKind::Area),
        ("ratio", QuantityKind::Ratio),
        ("stiffness", QuantityKind::Stiffness),
        ("temperature", QuantityKind::Temperature),
        ("hardness_hrc", QuantityKind::HardnessHrc),
        ("hardness_hv", QuantityKind::HardnessHv),
        ("hardness_hbw", QuantityKind::HardnessHbw),
        ("number", QuantityKind::Number),
    ];

    /// The dimension of its values.
    pub fn dimension(self) -> Dimension {
        match self {
            QuantityKind::Length | QuantityKind::Position => Dimension::LENGTH,
            QuantityKind::Angle => Dimension::ANGLE,
            QuantityKind::Mass => Dimension::MASS,
            QuantityKind::Force => Dimension::FORCE,
            QuantityKind::Area => Dimension::AREA,
            QuantityKind::Ratio | QuantityKind::Number => Dimension::RATIO,
            QuantityKind::Stiffness => Dimension::STIFFNESS,
            QuantityKind::Temperature => Dimension::TEMPERATURE,
            QuantityKind::HardnessHrc => Dimension::HARDNESS_HRC,
            QuantityKind::HardnessHv => Dimension::HARDNESS_HV,
            QuantityKind::HardnessHbw => Dimension::HARDNESS_HBW,
        }
    }
}

/// Something that can be measured on a part.
#[derive(Clone, Debug)]
pub struct Measure {
    /// Its name: `steel_thickness`.
    pub name: Name,
    /// What kind of thing it is.
    pub kind: MeasureKind,
    /// Whether it is taken at places.
    pub placed: bool,
    /// Base units, closed: outside, a value waits until somebody confirms it.
    pub plausible: Option<(Exact, Exact)>,
    /// The unit in which `plausible` was written, for messages.
    pub plausible_unit: Option<Unit>,
    /// Methods with their floors; empty: the measure names none.
    pub methods: Vec<Method>,
    /// Days after which a reading is stale.
    pub fresh_for_days: Option<i64>,
    /// The question of a yes-or-no measure.
    pub ask: Option<String>,
    /// How a load test is set up; load tests only.
    pub setup: Option<Box<TestSetup>>,
    /// For a value that is fixed for good: when.
    pub fixed_at: Option<FixedAt>,
}

/// A method of measuring and the floor below which its uncertainty is never taken.
#[derive(Clone, Debug)]
pub struct Method {
    /// The kind of instrument, or `unnamed`.
    pub name: Name,
    /// Its slot among the methods of the vocabulary.
    pub id: MethodId,
    /// Expanded uncertainty, base units.
    pub expanded_uncertainty: Exact,
}

/// A value computed from measures. Its text is parsed by the rules loader.
#[derive(Clone, Debug)]
pub struct Derived {
    /// Its name: `flat`.
    pub name: Name,
    /// The expression as written.
    pub text: String,
    /// Where the expression stands.
    pub span: Span,
}

/// An idea of "where" on a part.
#[derive(Clone, Debug)]
pub struct Zone {
    /// Its name: `relief_edge`.
    pub name: Name,
    /// What it covers.
    pub kind: ZoneKind,
}

/// What a zone covers. Borders are closed: a place on one lies in the zone.
#[derive(Clone, Debug)]
pub enum ZoneKind {
    /// Within a distance of the edge, told by a place's `from_edge`. Base units.
    WithinOfEdge(Exact),
    /// Within a distance of a position along the item, told by a place's `at`.
    WithinOf {
        /// Base units.
        distance: Exact,
        /// A measure or derived value of kind position.
        of: Name,
    },
    /// Between two distances from the pivot, told by a place's `at`. Base units.
    Between(Exact, Exact),
    /// From a position along the item, over the contact with the ice, to where the edge first stands a height
    /// over the straight edge toward the toe; told by a place's `at`.
    Along {
        /// A measure of the kind profile.
        profile: Name,
        /// A measure or derived value of kind position.
        from: Name,
        /// Base units, above zero.
        to_height: Exact,
    },
}
