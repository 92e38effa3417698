//! What a check finds: outcomes, reasons and findings, as data. Words are made by the printers.

use crate::quantity::{Exact, Number, Quantity, Unit};
use crate::record::Face;
use crate::rules::{BoundKind, ByStage, Rounded};
use crate::text::Span;
use crate::uncertainty::{Bound, Budget, Expanded};

/// The outcome of a rule for an item, worst first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Outcome {
    /// The rule is not met.
    DoesNotConform,
    /// It can't be said.
    NotDecided,
    /// The rule is met.
    Conforms,
    /// The rule does not ask this of the item.
    NotApplicable,
}

impl Outcome {
    /// All outcomes, worst first.
    pub const ALL: [Outcome; 4] = [
        Outcome::DoesNotConform,
        Outcome::NotDecided,
        Outcome::Conforms,
        Outcome::NotApplicable,
    ];

    /// The word in files and JSON.
    pub fn word(self) -> &'static str {
        match self {
            Outcome::DoesNotConform => "does_not_conform",
            Outcome::NotDecided => "not_decided",
            Outcome::Conforms => "conforms",
            Outcome::NotApplicable => "not_applicable",
        }
    }

    /// The words for people.
    pub fn words(self) -> &'static str {
        match self {
            Outcome::DoesNotConform => "does not conform",
            Outcome::NotDecided => "not decided",
            Outcome::Conforms => "conforms",
            Outcome::NotApplicable => "does not apply",
        }
    }

    /// The outcome of a word in a file.
    pub fn from_word(word: &str) -> Option<Outcome> {
        Outcome::ALL
            .into_iter()
            .find(|outcome| outcome.word() == word)
    }
}

macro_rules! reasons {
    ($($(#[$doc:meta])* $name:ident = $word:literal, $words:literal;)*) => {
        /// Why an outcome is what it is. The list is closed; the words are those of files and JSON.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Reason { $($(#[$doc])* $name,)* }
        impl Reason {
            /// The whole list.
            pub const ALL: &'static [Reason] = &[$(Reason::$name,)*];
            /// The word in files and JSON.
            pub fn word(self) -> &'static str {
                match self { $(Reason::$name => $word,)* }
            }
            /// The words for people.
            pub fn words(self) -> &'static str {
                match self { $(Reason::$name => $words,)* }
            }
        }
    };
}

reasons! {
    /// The value lies within its uncertainty of the limit.
    NearLimit = "near_limit", "within its uncertainty of the limit";
    /// Nothing was measured.
    NotMeasured = "not_measured", "not measured";
    /// A one-sided result that does not reach the limit.
    NotReached = "not_reached", "the readings do not reach far enough to tell";
    /// Fewer places than the rule asks, or too far apart.
    TooFewPlaces = "too_few_places", "too few places";
    /// Fewer readings at a place than the rule asks.
    TooFewRepeats = "too_few_repeats", "too few readings at a place";
    /// A place does not say how far it is from a zone's border.
    PlaceNotStated = "place_not_stated", "the place does not say whether the rule looks there";
    /// A named person must look.
    NeedsJudgement = "needs_judgement", "a named person must look";
    /// A date is claimed and not proven.
    DateNotProven = "date_not_proven", "a date is not proven";
    /// A proof is not there.
    ProofMissing = "proof_missing", "a proof is missing";
    /// A trait that the rule needs is not declared.
    TraitMissing = "trait_missing", "something that the rule needs is not declared";
    /// It can't be said whether the rule applies.
    ConditionUnknown = "condition_unknown", "it can't be said whether the rule applies";
    /// The calibration was over on the day.
    InstrumentOutOfDate = "instrument_out_of_date", "the instrument's calibration was out of date";
    /// The instrument did not show its reference.
    InstrumentCheckFailed = "instrument_check_failed", "the instrument did not show its reference afterwards";
    /// No instrument is named.
    InstrumentUnnamed = "instrument_unnamed", "no instrument is named";
    /// A method that the rule does not name.
    MethodDiffers = "method_differs", "measured by another method than the rule asks";
    /// Older than the rule allows, or older than work on the item; or of no known age.
    Stale = "stale", "the reading is too old, or its day is not known";
    /// Outside what is plausible and not confirmed.
    Implausible = "implausible", "implausible until a named person confirms it";
    /// Two measurers' outcomes differ.
    MeasurersDisagree = "measurers_disagree", "two measurers disagree";
    /// The uncertainty is unknown.
    UncertaintyUnknown = "uncertainty_unknown", "the uncertainty is unknown";
    /// Something about the event is not given.
    ContextMissing = "context_missing", "the event's level is not given";
    /// A part that the rules don't list.
    UnlistedPart = "unlisted_part", "a part that the rules do not list";
    /// No rule applied at all.
    NothingChecked = "nothing_checked", "nothing was checked";
    /// The rule's condition does not hold.
    Condition = "condition", "its condition does not hold";
    /// An exemption takes the limit away.
    Exempt = "exempt", "exempt";
    /// The table has no row for the choice, under open rules.
    NoRow = "no_row", "the table has no row for it";
    /// There is no event.
    NoEvent = "no_event", "asked at events only";
    /// Every place lies in a zone that is left out.
    LeftOut = "left_out", "every place lies where the rule does not look";
    /// The table has no row for the choice, under closed rules.
    NoRowForChoice = "no_row_for_choice", "the rules do not list it, and what they do not list is not allowed";
}

/// Which rule a finding is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum RuleRef {
    /// A rule of the file by its position.
    Rule(usize),
    /// A limit on marks by its position; and which cap, `None` for the total.
    Marks(usize, Option<usize>),
    /// That marked items come in pairs of a kind: the limit on marks by its position.
    Pairs(usize),
    /// What a boat must bring: the limit on marks by its position; and which entry of its `bring`.
    Bring(usize, usize),
    /// Parts that a record must name: rule id `equipment`; the holding.
    Equipment(crate::vocabulary::HoldingId),
    /// The roles of a group that a record must fill: rule id `equipment`; the group and the role.
    Role(crate::vocabulary::HoldingId, crate::vocabulary::RoleId),
    /// What the rules do not list: rule id `silence`; the trait.
    Silence(crate::vocabulary::TraitId),
    /// A part that the rules do not list: rule id `silence`; its place in the record's list.
    Unlisted(usize),
}

/// Which item a finding is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum ItemRef {
    /// An item of the record by its position; 0 is the boat.
    Item(usize),
    /// A holding of which nothing is in the record.
    Holding(crate::vocabulary::HoldingId),
}

/// A value as found.
#[derive(Clone, Debug)]
pub enum FoundValue {
    /// A number in base units, shown in a unit.
    Number {
        /// Base units.
        value: Number,
        /// The unit to show it in.
        unit: Unit,
        /// Decimals to show when exact: those written, if there are any.
        decimals: Option<u8>,
        /// One-sided result.
        bound: Option<Bound>,
    },
    /// A count, or a range of counts where items are in doubt.
    Count {
        /// Sure to count.
        sure: i64,
        /// Possibly counting, at least `sure`.
        possible: i64,
    },
    /// Yes or no.
    Answer(bool),
    /// A declared choice in its own word.
    Word(String),
}

/// A limit as met.
#[derive(Clone, Debug)]
pub enum FoundLimit {
    /// A bound in base units, shown in the unit of the file.
    Bound {
        /// Which.
        kind: BoundKind,
        /// Base units.
        value: Number,
        /// The unit to show it in.
        unit: Unit,
        /// Decimals as written.
        decimals: Option<u8>,
        /// What it comes to for an unrounded value, where values are rounded before they are compared.
        rounded: Option<Box<Rounded>>,
    },
    /// `equals`, in words.
    Equals(String),
    /// `only`: the words that may be declared.
    Only(Vec<String>),
    /// `without`: the words that may not be declared.
    Without(Vec<String>),
    /// The nearest of some listed options, by its worst column.
    Option(Box<FoundOption>),
}

/// The nearest of some listed options, by its worst column.
#[derive(Clone, Debug)]
pub struct FoundOption {
    /// The name of the option.
    pub row: String,
    /// The column.
    pub column: String,
    /// What is listed there, as written.
    pub listed: Quantity,
    /// The border on the side of the value; of a value in the middle the lower one.
    pub kind: BoundKind,
    /// That border, base units.
    pub border: Number,
    /// How near a value must come, as written: `10 %`; nothing for just so.
    pub within: Option<String>,
}

/// Where on an item.
#[derive(Clone, Debug, PartialEq)]
pub struct FoundPlace {
    /// Signed distance from the pivot, base units.
    pub at: Option<Exact>,
    /// The unit to show it in.
    pub unit: Option<Unit>,
    /// The face.
    pub face: Option<Face>,
    /// Distance from the edge, base units.
    pub from_edge: Option<Exact>,
}

/// What would settle an open finding.
#[derive(Clone, Debug)]
pub enum Settle {
    /// A measurement with this U or less (base units), shown in a unit.
    SmallerUncertainty {
        /// Base units.
        at_most: f64,
        /// The unit to show it in.
        unit: Unit,
    },
    /// Measure what is missing: its name.
    Measure(String),
    /// Name the part in a role of a group: the role.
    Fill(String),
    /// So many more places.
    MorePlaces(u32),
    /// Places no further apart.
    CloserPlaces,
    /// More readings at each place.
    MoreRepeats(u32),
    /// Say how far the place is from the edge, or where it is.
    StatePlace,
    /// Declare a trait: its name.
    Declare(String),
    /// Show the proof of a date: the trait.
    ShowProof(String),
    /// Measure again, after the work or with what is in date: why.
    MeasureAgain(&'static str),
    /// A named person confirms the reading.
    Confirm,
    /// A named person looks.
    Look,
    /// Name the instrument.
    NameInstrument,
    /// Say the instrument's errors.
    StateUncertainty,
    /// Give the event's level.
    GiveLevel,
    /// A reading that goes further.
    ReachFurther,
    /// The class's authority says what it is.
    Authority,
    /// Read both flanks against one bar.
    BothFlanks,
    /// Measure in the way that the class asks for.
    AsAsked,
    /// Name the paper that says the first value.
    NamePaper,
}

impl Settle {
    /// Why something that was read before work on it is measured again.
    pub const AFTER_WORK: &'static str = "after the work, and say on which day";
}

/// One finding: a rule, an item, a side of a limit.
#[derive(Clone, Debug)]
pub struct Finding {
    /// The rule.
    pub rule: RuleRef,
    /// The item.
    pub item: ItemRef,
    /// The bound of a two-sided limit that it is about; `None` for rules without bounds or not reached.
    pub side: Option<BoundKind>,
    /// The outcome for the purpose of the check.
    pub outcome: Outcome,
    /// Why, for outcomes that need a reason.
    pub reason: Option<Reason>,
    /// The outcome under each purpose; `None` where the rule is not asked.
    pub by_purpose: ByStage<Option<Outcome>>,
    /// The value judged: the worst place of a placed one.
    pub value: Option<FoundValue>,
    /// Its expanded uncertainty, base units.
    pub expanded: Option<Expanded>,
    /// The limit.
    pub limit: Option<FoundLimit>,
    /// Signed distance inside the limit, base units.
    pub margin: Option<Number>,
    /// Where.
    pub place: Option<FoundPlace>,
    /// Places that count, and places that the rule asks for.
    pub places: Option<(u32, u32)>,
    /// Places left out because they lie where the rule does not look.
    pub left_out: Vec<FoundPlace>,
    /// What would settle an open finding.
    pub settled_by: Option<Settle>,
    /// Whether the value lies outside the limit but within its uncertainty, and passes for that.
    pub benefit_of_doubt: bool,
    /// Whether a second measurer should read it.
    pub second_measurer: bool,
    /// What has to be said beside it: what was assumed on the way, what a reading can't show.
    pub notes: Vec<String>,
    /// The exemption that gave the limit: its row in the rule.
    pub exemption: Option<usize>,
    /// Where the value stands in the record.
    pub source_at: Span,
    /// Further sources of the value.
    pub also_at: Vec<Span>,
    /// Where the limit stands in the rules.
    pub limit_at: Span,
    /// How the expanded uncertainty comes about, where that was asked for.
    pub budget: Option<Box<FoundBudget>>,
}

/// The budget behind a finding.
#[derive(Clone, Debug)]
pub struct FoundBudget {
    /// The budget; what it is of is said by whoever prints it.
    pub budget: Budget,
    /// It is the budget of value less limit, because the limit is computed from measures as well.
    pub of_difference: bool,
    /// The rule was asked for by name: it is shown whatever the outcome.
    pub named: bool,
}

/// The outcome of a rule for an item, without what a report says about it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Brief {
    /// The rule.
    pub rule: RuleRef,
    /// The item.
    pub item: ItemRef,
    /// The bound of a two-sided limit.
    pub side: Option<BoundKind>,
    /// The outcome for the purpose of the check.
    pub outcome: Outcome,
    /// Why, for outcomes that need a reason.
    pub reason: Option<Reason>,
    /// Whether the value lies outside the limit but within its uncertainty, and passes for that.
    pub benefit_of_doubt: bool,
    /// Whether a second measurer should read it.
    pub second_measurer: bool,
}

impl From<Brief> for Finding {
    /// A finding that tells its outcome for the purpose, and nothing more.
    fn from(brief: Brief) -> Finding {
        Finding {
            rule: brief.rule,
            item: brief.item,
            side: brief.side,
            outcome: brief.outcome,
            reason: brief.reason,
            by_purpose: ByStage::default(),
            value: None,
            expanded: None,
            limit: None,
            margin: None,
            place: None,
            places: None,
            left_out: Vec::new(),
            settled_by: None,
            benefit_of_doubt: brief.benefit_of_doubt,
            second_measurer: brief.second_measurer,
            notes: Vec::new(),
            exemption: None,
            source_at: Span::default(),
            also_at: Vec::new(),
            limit_at: Span::default(),
            budget: None,
        }
    }
}

/// All findings on one record.
#[derive(Clone, Debug)]
pub struct Verdict {
    /// The worst outcome; a record in which nothing applied is not decided.
    pub outcome: Outcome,
    /// Why, where no finding says it: nothing was checked.
    pub reason: Option<Reason>,
    /// The findings: items in the order of the record, rules in the order of the file.
    pub findings: Vec<Finding>,
}
