//! What names mean where an expression stands, and what is said about one that means nothing.

use crate::diagnostic::near_misses;
use crate::quantity::Unit;
use crate::text::quoted;
use crate::vocabulary::{
    DerivedId, Holding, HoldingId, MeasureId, Part, PartId, Role, RoleId, TraitId, TraitKind,
    Vocabulary,
};

use super::problem::Problem;
use super::syntax::{Kind, Syntax, Word};
use super::tree::{Function, Scope, Yield};

/// What names mean where an expression stands.
#[derive(Clone, Copy)]
pub struct Names<'v> {
    /// The vocabulary of the class.
    pub vocabulary: &'v Vocabulary,
    /// The part whose names stand bare.
    pub own: PartId,
    /// What derived values yield, as far as they were read; `None`: not yet, or broken. An expression
    /// that uses such a one can't be read, and no problem is made of it.
    pub derived: &'v dyn Fn(PartId, DerivedId) -> Option<Yield>,
}

/// What a name means.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Meaning {
    Measure(Scope, PartId, MeasureId),
    Trait(Scope, PartId, TraitId),
    Derived(Scope, PartId, DerivedId),
    EventLevel,
    EventDay,
    Day,
}

/// Whose names are looked at.
#[derive(Clone, Copy)]
pub(super) struct Place<'v> {
    pub vocabulary: &'v Vocabulary,
    /// The part whose names stand bare.
    pub own: PartId,
    /// Inside `where` or `over`: the part that the rule is on.
    pub outer: Option<PartId>,
}

impl<'v> Place<'v> {
    /// The same, inside `where` or `over` of a part.
    pub fn inside(self, part: PartId) -> Place<'v> {
        Place {
            own: part,
            outer: Some(self.outer.unwrap_or(self.own)),
            ..self
        }
    }

    /// The scope of bare names.
    fn bare(self) -> Scope {
        if self.own == Vocabulary::BOAT {
            Scope::Boat
        } else {
            Scope::Own
        }
    }

    fn part(self, id: PartId) -> Option<&'v Part> {
        self.vocabulary.part(id)
    }

    fn part_name(self, id: PartId) -> &'v str {
        self.part(id).map_or("", |part| part.name.text.as_str())
    }

    /// What a name means; `None` if nothing.
    pub fn meaning(self, words: &[Word]) -> Option<Meaning> {
        match words {
            [word] if word.text == "day" => Some(Meaning::Day),
            [word] => self.in_part(self.bare(), self.own, &word.text),
            [first, second] if first.text == "event" => match second.text.as_str() {
                "level" => Some(Meaning::EventLevel),
                "day" => Some(Meaning::EventDay),
                _ => None,
            },
            [first, second] => {
                let (scope, part) = self.owner(&first.text)?;
                self.in_part(scope, part, &second.text)
            }
            _ => None,
        }
    }

    /// The single thing that a word in front of a point stands for.
    fn owner(self, word: &str) -> Option<(Scope, PartId)> {
        if word == "boat" {
            return Some((Scope::Boat, Vocabulary::BOAT));
        }
        if let Some((id, role)) = self.role(self.own, word) {
            return Some((Scope::Role(id), role.part));
        }
        let id = self.vocabulary.holding_named(word)?;
        let holding = self.vocabulary.holding(id)?;
        (!holding.many).then_some((Scope::One(id), holding.part))
    }

    /// A role of a group by its name.
    fn role(self, group: PartId, word: &str) -> Option<(RoleId, &'v Role)> {
        let group = self.part(group)?;
        let id = group.role_named(word)?;
        Some((id, group.role(id)?))
    }

    fn in_part(self, scope: Scope, id: PartId, name: &str) -> Option<Meaning> {
        let part = self.part(id)?;
        part.measure_named(name)
            .map(|measure| Meaning::Measure(scope, id, measure))
            .or_else(|| {
                part.trait_named(name)
                    .map(|one| Meaning::Trait(scope, id, one))
            })
            .or_else(|| {
                part.derived_named(name)
                    .map(|derived| Meaning::Derived(scope, id, derived))
            })
    }

    /// The parts that a word in `count` or `sum` stands for.
    pub fn many(self, word: &str) -> Option<(HoldingId, &'v Holding)> {
        let id = self.vocabulary.holding_named(word)?;
        let holding = self.vocabulary.holding(id)?;
        holding.many.then_some((id, holding))
    }

    /// What is to be said about a name that means nothing.
    pub fn unknown(self, words: &[Word]) -> Problem {
        let range = match (words.first(), words.last()) {
            (Some(first), Some(last)) => first.range.start..last.range.end,
            _ => 0..0,
        };
        match words {
            [word] => self.unknown_bare(word),
            [first, second] => self.unknown_of(first, second),
            _ => Problem::new(
                "expression.name",
                range,
                "a name has two words at most, as in `boat.built`",
            ),
        }
    }

    fn unknown_bare(self, word: &Word) -> Problem {
        let (name, own) = (word.text.as_str(), self.part_name(self.own));
        let part_word = self.part_word(word);
        if let Some(problem) = part_word {
            return problem;
        }
        let message = match self.outer {
            Some(_) => format!(
                "{} is not a name of `{own}`, whose names stand here",
                quoted(name)
            ),
            None => format!("{} is not a name of `{own}`", quoted(name)),
        };
        Problem {
            help: self.hint(name),
            ..Problem::new("expression.name", word.range.clone(), message)
        }
    }

    /// What to write instead of an unknown bare name.
    fn hint(self, name: &str) -> Option<String> {
        if !name.is_empty() && Unit::from_symbol(name).is_some() {
            return Some(format!("`{name}` is a unit; a unit stands behind a number"));
        }
        // The same word with a meaning elsewhere says more than a similar word here.
        if let Some(help) = self.hint_of_roles(name) {
            return Some(help);
        }
        if self.own != Vocabulary::BOAT
            && self.in_part(Scope::Boat, Vocabulary::BOAT, name).is_some()
        {
            return Some(format!("the boat has it: write `boat.{name}`"));
        }
        let single: Vec<&str> = self
            .vocabulary
            .holdings
            .iter()
            .filter(|one| !one.many && self.in_part(Scope::Own, one.part, name).is_some())
            .map(|one| one.key.text.as_str())
            .collect();
        match single.as_slice() {
            [] => {}
            [key] => return Some(format!("`{key}` has it: write `{key}.{name}`")),
            keys => {
                let forms: Vec<String> = keys.iter().map(|key| format!("`{key}.{name}`")).collect();
                return Some(format!("single parts have it: {}", forms.join(", ")));
            }
        }
        if let Some(outer) = self
            .outer
            .filter(|outer| self.in_part(Scope::Own, *outer, name).is_some())
        {
            return Some(format!(
                "`{}` has it; inside `where` and `over` only the names of the counted item, of the boat and of its single parts can be used",
                self.part_name(outer)
            ));
        }
        let many = |holding: &&Holding| {
            holding.many && self.in_part(Scope::Own, holding.part, name).is_some()
        };
        if let Some(holding) = self.vocabulary.holdings.iter().find(many) {
            return Some(format!(
                "`{}` has it; parts of which there are many are reached with `count` and `sum`",
                self.part_name(holding.part)
            ));
        }
        if let Some(owner) = self.trait_with_choice(name) {
            return Some(format!(
                "it is a choice of `{owner}`: write `{owner} is {name}`"
            ));
        }
        if let Some(zone) = self
            .part(self.own)
            .and_then(|part| part.zone_named(name).map(|_| part))
        {
            return Some(format!(
                "it is a zone of `{}`; zones stand under `zone`, `outside` and `by`",
                zone.name.text
            ));
        }
        if Function::named(name).is_some() {
            return Some(format!("it is a function: write `{name}(…)`"));
        }
        let names = self.names_of(self.own);
        match near_misses(name, names.iter().copied()) {
            Some(near) => Some(format!("did you mean `{near}`?")),
            None => self.listed(self.own),
        }
    }

    /// In which roles of the group an unknown bare name would mean something.
    fn hint_of_roles(self, name: &str) -> Option<String> {
        let roles = self.roles_of(self.own);
        let having = |role: &&Role| self.in_part(Scope::Own, role.part, name).is_some();
        let forms: Vec<String> = roles
            .iter()
            .filter(having)
            .map(|role| format!("`{}.{name}`", role.name.text))
            .collect();
        (!forms.is_empty()).then(|| {
            let forms: Vec<&str> = forms.iter().map(String::as_str).collect();
            format!("say of which part of the group: {}", list(&forms))
        })
    }

    fn roles_of(self, group: PartId) -> &'v [Role] {
        self.part(group).map_or(&[], |group| group.roles.as_slice())
    }

    /// A word that stands for a part or the event, where a value is needed.
    fn part_word(self, word: &Word) -> Option<Problem> {
        let name = word.text.as_str();
        let problem = |message: String, help: Option<String>| {
            Some(Problem {
                help,
                ..Problem::new("expression.part", word.range.clone(), message)
            })
        };
        if name == "event" {
            return problem(
                "`event` is not a value by itself".to_owned(),
                Some("write `event.level` or `event.day`".to_owned()),
            );
        }
        let single = self.owner(name).map(|(_, part)| part);
        let many = self.many(name).is_some();
        let kind = self.vocabulary.part_named(name);
        if let Some(part) = single {
            let value = self
                .names_of(part)
                .first()
                .map(|value| format!("name a value of it, as in `{name}.{value}`"));
            return problem(format!("`{name}` is a part, not a value"), value);
        }
        if many {
            return problem(
                format!("`{name}` are parts, not a value"),
                Some(format!("write `count({name})`, or `sum(… over {name})`")),
            );
        }
        kind.and_then(|kind| {
            problem(
                format!("`{name}` is a kind of part, not a value"),
                self.for_kind(kind, None),
            )
        })
    }

    /// How values of a kind of part are reached.
    fn for_kind(self, kind: PartId, value: Option<&str>) -> Option<String> {
        let known = value.filter(|value| self.in_part(Scope::Own, kind, value).is_some());
        if kind == self.own {
            let name = known.or_else(|| self.names_of(kind).first().copied())?;
            return Some(format!(
                "names of `{}` stand bare here: write `{name}`",
                self.part_name(kind)
            ));
        }
        let of_kind = |role: &&Role| role.part == kind;
        if let Some(role) = self.roles_of(self.own).iter().find(of_kind) {
            let name = known.or_else(|| self.names_of(kind).first().copied())?;
            return Some(format!("say in which role: `{}.{name}`", role.name.text));
        }
        let holding = self
            .vocabulary
            .holdings
            .iter()
            .find(|holding| holding.part == kind)?;
        let key = &holding.key.text;
        if holding.many {
            Some(format!(
                "write `count({key} where …)`, or `sum(… over {key})`"
            ))
        } else {
            let name = known.or_else(|| self.names_of(kind).first().copied())?;
            Some(format!("write `{key}.{name}`"))
        }
    }

    fn unknown_of(self, first: &Word, second: &Word) -> Problem {
        let (owner, name) = (first.text.as_str(), second.text.as_str());
        let both = first.range.start..second.range.end;
        if owner == "event" {
            let help = match near_misses(name, ["level", "day"]) {
                Some(near) => format!("did you mean `event.{near}`?"),
                None => "the event has `event.level` and `event.day`".to_owned(),
            };
            let message = format!("{} is not a name of the event", quoted(name));
            return Problem::new("expression.name", second.range.clone(), message).help(help);
        }
        if let Some((_, part)) = self.owner(owner) {
            let message = format!("{} is not a name of `{owner}`", quoted(name));
            let names = self.names_of(part);
            let help = match near_misses(name, names.iter().copied()) {
                Some(near) => Some(format!("did you mean `{owner}.{near}`?")),
                None => self.listed(part),
            };
            return Problem {
                help,
                ..Problem::new("expression.name", second.range.clone(), message)
            };
        }
        if self.many(owner).is_some() {
            return Problem::new(
                "expression.part",
                both,
                format!("`{owner}` are many parts; none of them is meant alone"),
            )
            .help(format!(
                "write `count({owner} where …)`, or `sum({name} over {owner})`"
            ));
        }
        if let Some(kind) = self.vocabulary.part_named(owner) {
            let message = format!("`{owner}` is a kind of part, not one part");
            return Problem {
                help: self.for_kind(kind, Some(name)),
                ..Problem::new("expression.part", both, message)
            };
        }
        if let Some(outer) = self.outer
            && self.role(outer, owner).is_some()
        {
            let message = format!("`{owner}` is a role of `{}`", self.part_name(outer));
            let help = "inside `where` and `over` only the names of the counted item, of the boat and of its single parts can be used";
            return Problem::new("expression.name", both, message).help(help);
        }
        let roles = self.roles_of(self.own).iter();
        let mut owners: Vec<&str> = roles.map(|role| role.name.text.as_str()).collect();
        let what = match owners.is_empty() {
            true => "a part of the boat".to_owned(),
            false => format!(
                "a role of `{}` or a part of the boat",
                self.part_name(self.own)
            ),
        };
        owners.extend(["boat", "event"]);
        let single = self
            .vocabulary
            .holdings
            .iter()
            .filter(|holding| !holding.many);
        owners.extend(single.map(|holding| holding.key.text.as_str()));
        let message = format!("{} is not {what}", quoted(owner));
        let help = match near_misses(owner, owners.iter().copied()) {
            Some(near) => format!("did you mean `{near}.{name}`?"),
            None => format!("in front of the point can stand {}", list(&owners)),
        };
        Problem::new("expression.name", first.range.clone(), message).help(help)
    }

    /// What is to be said about a word in `count` or `sum` that stands for no parts.
    pub fn unknown_parts(self, word: &Word) -> Problem {
        let name = word.text.as_str();
        let many: Vec<&str> = self
            .vocabulary
            .holdings
            .iter()
            .filter(|holding| holding.many)
            .map(|holding| holding.key.text.as_str())
            .collect();
        if name == "boat" || self.owner(name).is_some() {
            let message = format!("`{name}` is one part; there is nothing to count or add up");
            let value = self
                .owner(name)
                .and_then(|(_, part)| self.names_of(part).first().copied());
            let help =
                value.map(|value| format!("its values are named directly, as in `{name}.{value}`"));
            return Problem {
                help,
                ..Problem::new("expression.part", word.range.clone(), message)
            };
        }
        let message = format!("{} does not stand for parts of the boat", quoted(name));
        let kind = self.vocabulary.part_named(name);
        let of_kind = self
            .vocabulary
            .holdings
            .iter()
            .find(|holding| holding.many && Some(holding.part) == kind);
        let help = match (of_kind, near_misses(name, many.iter().copied())) {
            (Some(holding), _) => format!("write `{}`", holding.key.text),
            (None, Some(near)) => format!("did you mean `{near}`?"),
            (None, None) if many.is_empty() => {
                "this class has no parts of which there are many".to_owned()
            }
            (None, None) => format!("parts of which there are many: {}", list(&many)),
        };
        Problem::new("expression.name", word.range.clone(), message).help(help)
    }

    /// The names of a part in the order of the rules file: measures, traits, derived values.
    fn names_of(self, id: PartId) -> Vec<&'v str> {
        let Some(part) = self.part(id) else {
            return Vec::new();
        };
        let measures = part.measures.iter().map(|one| one.name.text.as_str());
        let traits = part.traits.iter().map(|one| one.name.text.as_str());
        let derived = part.derived.iter().map(|one| one.name.text.as_str());
        measures.chain(traits).chain(derived).collect()
    }

    fn listed(self, id: PartId) -> Option<String> {
        let names = self.names_of(id);
        let name = self.part_name(id);
        let roles = self.roles_of(id).iter();
        let roles: Vec<&str> = roles.map(|role| role.name.text.as_str()).collect();
        if !roles.is_empty() {
            return Some(format!(
                "`{name}` has the roles {}; what stands behind the point is a name of the part in it",
                list(&roles)
            ));
        }
        if names.is_empty() {
            return Some(format!("`{name}` has no names of its own"));
        }
        Some(format!("names of `{name}`: {}", list(&names)))
    }

    /// The own trait that has a choice of this name.
    fn trait_with_choice(self, name: &str) -> Option<&'v str> {
        let traits = &self.part(self.own)?.traits;
        traits
            .iter()
            .find(|one| one.choice_named(name).is_some())
            .map(|one| one.name.text.as_str())
    }
}

/// Words as a list in a message, cut where it would be long.
pub(super) fn list(words: &[&str]) -> String {
    const MOST: usize = 12;
    let mut text = words
        .iter()
        .take(MOST)
        .copied()
        .collect::<Vec<_>>()
        .join(", ");
    if words.len() > MOST {
        text.push_str(&format!(" and {} more", words.len() - MOST));
    }
    text
}

/// The derived values that a tree names, each once, in the order of the text.
pub(super) fn derived_in(tree: &Syntax, place: Place, found: &mut Vec<(PartId, DerivedId)>) {
    let note = |words: &[Word], found: &mut Vec<(PartId, DerivedId)>| {
        if let Some(Meaning::Derived(_, part, id)) = place.meaning(words)
            && !found.contains(&(part, id))
        {
            found.push((part, id));
        }
    };
    match &tree.kind {
        Kind::Name(words) => note(words, found),
        Kind::Is { left, right, .. } => {
            derived_in(left, place, found);
            // A word that is a choice of the left trait is the choice.
            let choice = match (&left.kind, right.bare_word()) {
                (Kind::Name(words), Some(word)) => is_choice(place, words, word),
                _ => false,
            };
            if !choice {
                derived_in(right, place, found);
            }
        }
        // What is looked up in a table is no name of the class.
        Kind::Call { name, arguments } => {
            let told = Function::named(&name.text).map_or(0, |function| function.told().len());
            for (at, argument) in arguments.iter().enumerate() {
                if !(1..=told).contains(&at) {
                    derived_in(argument, place, found);
                }
            }
        }
        Kind::Count { parts, condition } => {
            if let Some((_, holding)) = place.many(&parts.text) {
                for inner in condition.iter() {
                    derived_in(inner, place.inside(holding.part), found);
                }
            }
        }
        Kind::Sum {
            value,
            parts,
            condition,
        } => {
            if let Some((_, holding)) = place.many(&parts.text) {
                for inner in std::iter::once(value).chain(condition) {
                    derived_in(inner, place.inside(holding.part), found);
                }
            }
        }
        Kind::Broken(_)
        | Kind::Literal { .. }
        | Kind::Date(_)
        | Kind::YesNo(_)
        | Kind::Negate(_)
        | Kind::Arithmetic(..)
        | Kind::Compare(..)
        | Kind::IsOneOf { .. }
        | Kind::Not(_)
        | Kind::And(_)
        | Kind::Or(_) => {
            for child in tree.kind.children() {
                derived_in(child, place, found);
            }
        }
    }
}

/// Whether a word is a choice of the trait, or of the event levels, that a name means.
pub(super) fn is_choice(place: Place, name: &[Word], word: &Word) -> bool {
    match place.meaning(name) {
        Some(Meaning::Trait(_, part, id)) => {
            let one = place
                .vocabulary
                .part(part)
                .and_then(|part| part.traits.get(id.index()));
            one.is_some_and(|one| match &one.kind {
                TraitKind::Choice(_) => {
                    word.text == OTHER || one.choice_named(&word.text).is_some()
                }
                TraitKind::AnyOf(_) | TraitKind::Date | TraitKind::Flag => false,
            })
        }
        Some(Meaning::EventLevel) => place.vocabulary.event_level_named(&word.text).is_some(),
        _ => false,
    }
}

/// The silent extra value of every choice.
pub(super) const OTHER: &str = "other";
