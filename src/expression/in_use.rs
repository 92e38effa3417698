//! How something that is no number is used: the help of messages about it.

use crate::vocabulary::TraitKind;

use super::check::Checker;
use super::syntax::Syntax;
use super::tree::Type;

impl Checker<'_> {
    /// How something that is no number is used.
    pub(super) fn in_use(&self, tree: &Syntax, kind: Type) -> Option<String> {
        let text = self.slice(&tree.range).trim();
        let text = if text.len() <= 40 { text } else { "…" };
        let makes = |word: &str| Some(format!("a function makes a number of it: `{word}({text})`"));
        match kind {
            Type::Choice(part, id) => {
                let one = self.place.vocabulary.part(part)?.traits.get(id.index())?;
                let TraitKind::Choice(choices) = &one.kind else {
                    return None;
                };
                Some(format!(
                    "a choice is asked for with `is`, as in `{text} is {}`",
                    choices.first()?.text
                ))
            }
            Type::AnyOf(part, id) => {
                let one = self.place.vocabulary.part(part)?.traits.get(id.index())?;
                let first = &one.kind.names().first()?.text;
                Some(format!(
                    "a rule limits a list with `only: [{first}]` or `without: [{first}]`; a condition can't ask for it"
                ))
            }
            Type::EventLevel => {
                let level = self.place.vocabulary.event_levels.first()?;
                Some(format!(
                    "a level is asked for with `is`, as in `{text} is {}`",
                    level.text
                ))
            }
            Type::Date => Some(format!(
                "dates are compared with dates, as in `{text} < 2012-01-01`"
            )),
            Type::YesNo => Some(format!(
                "it is a condition by itself, or with `is`: `{text} is yes`"
            )),
            Type::Truth => Some("conditions are joined with `and`, `or`, `not`".to_owned()),
            Type::Profile => Some(format!(
                "a function makes a number of it, as in `flat_length({text}, 0.20 mm)`"
            )),
            Type::Line => makes("straightness"),
            Type::Section => makes("included_angle"),
            Type::LoadTest => makes("stiffness"),
            Type::Outline => makes("area"),
            Type::Quantity(_) | Type::Count => None,
        }
    }
}
