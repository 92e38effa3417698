//! Limits on event limitation marks as typed data.
//!
//! Numbers, pairs and what to bring can be judged by a record; exchange, last mark and replacement are acts in
//! time, which the ledger of an event holds to these words.

use crate::expression::Expression;
use crate::text::Span;
use crate::vocabulary::{ChoiceId, HoldingId, Name, TraitId};

/// A limit on the number of marks.
#[derive(Clone, Debug)]
pub struct MarkRule {
    /// The word that stays for ever.
    pub id: Name,
    /// The printed number.
    pub clause: Name,
    /// Its heading.
    pub title: String,
    /// Its text as the class prints it, if any.
    pub text: String,
    /// Where the text stands, else the id.
    pub text_span: Span,
    /// What is marked.
    pub item: HoldingId,
    /// The flag that nominates an item.
    pub nominated_by: TraitId,
    /// How many may be marked.
    pub limits: MarkLimits,
    /// Caps on some of them.
    pub of_which: Vec<MarkCap>,
    /// Which of them come in pairs of a kind.
    pub pairs: Option<MarkPairs>,
    /// What a boat must bring to inspection, in the order of the file.
    pub bring: Vec<MarkBring>,
    /// Whether a marked item may be exchanged for another one.
    pub exchange: Option<Exchange>,
    /// What holds once all marks are used up.
    pub after_last_mark: Option<AfterLastMark>,
    /// Whether a damaged item that is marked may be replaced.
    pub replacement: Option<Replacement>,
    /// What the mark is put on: `steel`.
    pub mark_on: Option<Name>,
    /// What can be done.
    pub remedy: Option<String>,
}

/// How many may be marked.
#[derive(Clone, Debug)]
pub enum MarkLimits {
    /// At most so many at every event.
    Direct(MarkLimit),
    /// By event level.
    ByLevel {
        /// Where `event.level` is named.
        span: Span,
        /// The rows in file order.
        rows: Vec<(ChoiceId, MarkLimit)>,
    },
}

/// At most so many.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MarkLimit {
    /// The number.
    pub at_most: i64,
    /// Where it stands.
    pub span: Span,
}

/// A cap on some of the marked items.
#[derive(Clone, Debug)]
pub struct MarkCap {
    /// Which of them.
    pub condition: Expression,
    /// How many at most.
    pub limit: MarkLimit,
}

/// Marked items that come in pairs of one kind.
#[derive(Clone, Debug)]
pub struct MarkPairs {
    /// Which of them.
    pub condition: Expression,
    /// The traits of choices that are the same within a pair, each with its place in the file.
    pub alike: Vec<(TraitId, Span)>,
    /// Where it stands.
    pub span: Span,
}

/// What a boat must bring to inspection.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MarkBring {
    /// Parts, or groups with all roles filled.
    pub holding: HoldingId,
    /// How many at least.
    pub at_least: i64,
    /// Where the number stands.
    pub span: Span,
}

macro_rules! words {
    ($(#[$doc:meta])* $name:ident { $($(#[$one:meta])* $variant:ident = $word:literal, $words:literal;)* }) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum $name { $($(#[$one])* $variant,)* }
        impl $name {
            /// Every one with its word in files.
            pub const WORDS: &'static [(&'static str, $name)] = &[$(($word, $name::$variant),)*];
            /// The word in files.
            pub fn word(self) -> &'static str {
                match self { $($name::$variant => $word,)* }
            }
            /// The words for people, as they go on after the name of what is marked: "a runner that is marked …".
            pub fn words(self) -> &'static str {
                match self { $($name::$variant => $words,)* }
            }
        }
    };
}

words! {
    /// Whether a marked item may be exchanged for another one, and until when.
    Exchange {
        /// Until inspection closes; its mark is void then.
        BeforeClosing = "before_closing", "may be exchanged until inspection closes";
        /// Not at all.
        Never = "never", "may not be exchanged";
    }
}

words! {
    /// What holds once a boat has used up its marks.
    AfterLastMark {
        /// Nothing but what is marked may be used, and nothing marked may be exchanged.
        Final = "final", "stays as it is once the last mark is given: no other may be used or marked";
        /// What `exchange` allows goes on.
        ExchangeAllowed = "exchange_allowed", "may still be exchanged once the last mark is given, as long as exchange is open";
    }
}

words! {
    /// Whether a marked item that is damaged beyond repair may be replaced.
    Replacement {
        /// With written leave of the committee.
        NeedsPermission = "needs_permission", "may be replaced with the written leave of the committee if it is damaged beyond repair";
        /// Not at all.
        Never = "never", "may not be replaced";
        /// Without asking.
        Free = "free", "may be replaced without asking if it is damaged beyond repair";
    }
}
