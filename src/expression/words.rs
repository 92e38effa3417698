//! The words of the language, and which words can't be declared as names.

use crate::quantity::Unit;

macro_rules! keywords {
    ($($name:ident = $word:literal)*) => {
        /// A word of the language.
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub(super) enum Keyword { $($name,)* }

        impl Keyword {
            const ALL: &'static [(&'static str, Keyword)] = &[$(($word, Keyword::$name),)*];

            /// The word as it is written.
            pub fn word(self) -> &'static str {
                match self { $(Keyword::$name => $word,)* }
            }
        }
    };
}

keywords! {
    And = "and"
    Or = "or"
    Not = "not"
    Is = "is"
    One = "one"
    None = "none"
    Of = "of"
    Where = "where"
    Over = "over"
    Count = "count"
    Sum = "sum"
    Yes = "yes"
    No = "no"
}

impl Keyword {
    /// The keyword of this spelling. `true` and `false` mean `yes` and `no`, here as everywhere.
    pub fn of(word: &str) -> Option<Keyword> {
        match word {
            "true" => Some(Keyword::Yes),
            "false" => Some(Keyword::No),
            _ => Keyword::ALL
                .iter()
                .find(|(known, _)| *known == word)
                .map(|(_, key)| *key),
        }
    }

    /// Whether the word is a value by itself.
    pub fn is_value(self) -> bool {
        matches!(self, Keyword::Yes | Keyword::No)
    }
}

/// Whether a word can't be declared as a name in a vocabulary.
pub fn is_reserved(word: &str) -> bool {
    reserved(word).is_some()
}

/// Why a word can't be declared as a name, as a text that goes on after "is": "a word of the rules
/// language", "a unit", "the event"; `None` for one that can.
pub fn reserved(word: &str) -> Option<&'static str> {
    if Keyword::of(word).is_some() {
        Some("a word of the rules language")
    } else if !word.is_empty() && Unit::from_symbol(word).is_some() {
        Some("a unit")
    } else if word == "event" {
        Some("the event, as in `event.level`")
    } else {
        None
    }
}
