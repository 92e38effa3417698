//! The checks of conditions and of `is`.

use std::ops::Range;

use crate::diagnostic::near_misses;
use crate::text::quoted;
use crate::vocabulary::{ChoiceId, Name, PartId, TraitId, TraitKind};

use super::check::{Checker, Typed, is_count};
use super::names::{OTHER, is_choice, list};
use super::problem::Problem;
use super::syntax::{Kind, Syntax, Word};
use super::tree::{Node, Op, Type};

/// How numbers are compared.
const BY_SIZE: &str = "numbers are compared with `<`, `<=`, `>` or `>=`";

impl Checker<'_> {
    // ---- conditions

    /// Checks a piece that has to be a condition.
    pub fn condition(&mut self, tree: &Syntax) -> Option<Typed> {
        let typed = self.check(tree)?;
        self.as_condition(tree, typed)
    }

    /// A condition as it is; a flag or an answer as the condition that it is yes.
    pub fn as_condition(&mut self, tree: &Syntax, typed: Typed) -> Option<Typed> {
        match typed.kind {
            Type::Truth => Some(typed),
            Type::YesNo => {
                let node = Node {
                    span: typed.node.span,
                    op: Op::Truth(Box::new(typed.node)),
                };
                Some(Typed {
                    node,
                    kind: Type::Truth,
                    placed: typed.placed,
                })
            }
            kind @ (Type::Quantity(_)
            | Type::Count
            | Type::Choice(..)
            | Type::AnyOf(..)
            | Type::EventLevel
            | Type::Date
            | Type::Profile
            | Type::Line
            | Type::Section
            | Type::LoadTest
            | Type::Outline) => {
                let message = format!(
                    "{} is {}, not a condition",
                    self.read(tree),
                    kind.in_words()
                );
                let help = match kind.dimension() {
                    Some(_) => Some("compare it, with `<`, `<=`, `>` or `>=`".to_owned()),
                    None => self.in_use(tree, kind),
                };
                self.problems.push(Problem {
                    help,
                    ..Problem::new("expression.condition", tree.range.clone(), message)
                });
                None
            }
        }
    }

    /// Refuses a condition that has an answer for each place instead of one.
    pub fn one_answer(&mut self, tree: &Syntax, typed: Typed) -> Option<Typed> {
        if typed.placed.is_none() {
            return Some(typed);
        }
        self.report_with(
            "expression.placed",
            &tree.range,
            "this condition has an answer for each place; one answer is needed",
            "take one value: `lowest(…)` or `highest(…)`",
        );
        None
    }

    pub(super) fn joined(
        &mut self,
        range: &Range<usize>,
        operands: &[Syntax],
        make: impl FnOnce(Vec<Node>) -> Op,
    ) -> Option<Typed> {
        let mut nodes = Vec::new();
        let mut placed = None;
        let mut whole = true;
        let mut at = 0;
        while let Some(operand) = operands.get(at) {
            at += 1;
            let rest = operands.get(at..).unwrap_or(&[]);
            // Of `marked and construction is plate or tee` the last operand is meant.
            let (asked, others) = match &operand.kind {
                Kind::And(inner) => (inner.last().unwrap_or(operand), true),
                _ => (operand, false),
            };
            if let Some((left, words, negated)) = self.choices_behind(asked, rest) {
                if others {
                    self.condition(operand);
                }
                let end = words
                    .last()
                    .map_or(operand.range.end, |word| word.range.end);
                let names: Vec<&str> = words.iter().map(|word| word.text.as_str()).collect();
                let help = format!(
                    "write `{} is {} of ({})`",
                    self.slice(&left.range),
                    if negated { "none" } else { "one" },
                    names.join(", ")
                );
                let range = asked.range.start..end;
                self.report_with(
                    "expression.list",
                    &range,
                    "several choices stand in a list",
                    help,
                );
                at += words.len() - 1;
                whole = false;
                continue;
            }
            let Some(typed) = self.condition(operand) else {
                whole = false;
                continue;
            };
            match self.pair(range, placed, typed.placed) {
                Some(pair) => placed = pair,
                None => whole = false,
            }
            nodes.push(typed.node);
        }
        if whole {
            self.typed(range, make(nodes), Type::Truth, placed)
        } else {
            None
        }
    }

    /// `construction is plate or tee`: the left side, and the choices if bare ones follow.
    fn choices_behind<'s>(
        &self,
        operand: &'s Syntax,
        rest: &'s [Syntax],
    ) -> Option<(&'s Syntax, Vec<&'s Word>, bool)> {
        let Kind::Is {
            left,
            right,
            negated,
            ..
        } = &operand.kind
        else {
            return None;
        };
        let (Kind::Name(name), Some(first)) = (&left.kind, right.bare_word()) else {
            return None;
        };
        if !is_choice(self.place, name, first) {
            return None;
        }
        let bare = rest.iter().map_while(Syntax::bare_word).take_while(|word| {
            is_choice(self.place, name, word)
                && self.place.meaning(std::slice::from_ref(*word)).is_none()
        });
        let words: Vec<&Word> = std::iter::once(first).chain(bare).collect();
        (words.len() > 1).then_some((left, words, *negated))
    }

    // ---- is

    pub(super) fn is(
        &mut self,
        range: &Range<usize>,
        left_tree: &Syntax,
        right_tree: &Syntax,
        negated: bool,
        told: bool,
    ) -> Option<Typed> {
        let left = self.check(left_tree);
        if let Some(kind @ Type::AnyOf(..)) = left.as_ref().map(|left| left.kind) {
            let message = format!(
                "{} is a list; `is` can't ask for one of its words",
                self.read(left_tree)
            );
            self.problems.push(Problem {
                help: self.in_use(left_tree, kind),
                ..Problem::new("expression.is", left_tree.range.clone(), message)
            });
            return None;
        }
        let word = right_tree.bare_word();
        let by_word = left.as_ref().is_some_and(|left| match left.kind {
            Type::Choice(part, id) => word.is_some_and(|word| {
                self.choice(part, id, &word.text).is_some()
                    || self.place.meaning(std::slice::from_ref(word)).is_none()
            }),
            Type::EventLevel => true,
            _ => false,
        });
        if let (true, Some(left), Some(word)) = (by_word, left.as_ref(), word) {
            return self.choices(range, left_tree, left, std::slice::from_ref(word), negated);
        }
        // A bare word behind a left side that is not known may be one of its choices.
        if left.is_none() && word.is_some() {
            return None;
        }
        let right = self.check(right_tree);
        let (left, right) = (left?, right?);
        let (left, right) = self.with_year((left_tree, left), (right_tree, right));
        self.same(range, (left_tree, left), (right_tree, right), negated, told)
    }

    /// `is` between two values.
    fn same(
        &mut self,
        range: &Range<usize>,
        (left_tree, left): (&Syntax, Typed),
        (right_tree, right): (&Syntax, Typed),
        negated: bool,
        told: bool,
    ) -> Option<Typed> {
        let alike = match (left.kind, right.kind) {
            (Type::Choice(part, id), Type::Choice(other_part, other_id)) => {
                self.like_choices((part, id), (other_part, other_id))
            }
            (Type::Date, Type::Date) | (Type::YesNo, Type::YesNo) => true,
            (Type::Count, _) | (_, Type::Count) => is_count(&left) && is_count(&right),
            _ => false,
        };
        if !alike {
            if !told || left.kind.dimension().is_none() {
                self.unlike(
                    range,
                    (left_tree, left.kind),
                    (right_tree, right.kind),
                    negated,
                );
            }
            return None;
        }
        let placed = self.pair(range, left.placed, right.placed)?;
        let op = Op::IsSame {
            left: Box::new(left.node),
            right: Box::new(right.node),
            negated,
        };
        self.typed(range, op, Type::Truth, placed)
    }

    /// Whether two traits have the same choices in the same order, so that slots mean the same.
    fn like_choices(&self, one: (PartId, TraitId), other: (PartId, TraitId)) -> bool {
        let choices = |(part, id): (PartId, TraitId)| match &self
            .place
            .vocabulary
            .part(part)?
            .traits
            .get(id.index())?
            .kind
        {
            TraitKind::Choice(choices) => Some(choices),
            TraitKind::AnyOf(_) | TraitKind::Date | TraitKind::Flag => None,
        };
        one == other || choices(one).is_some_and(|list| Some(list) == choices(other))
    }

    fn unlike(
        &mut self,
        range: &Range<usize>,
        (left_tree, left): (&Syntax, Type),
        (right_tree, right): (&Syntax, Type),
        negated: bool,
    ) {
        let (one, other) = (
            self.slice(&left_tree.range).trim(),
            self.slice(&right_tree.range).trim(),
        );
        let measured = |kind: Type| matches!(kind, Type::Quantity(_));
        if measured(left) && left.dimension() == right.dimension() {
            let help = if negated {
                format!("write a limit: `{one} < {other}` or `{one} > {other}`")
            } else {
                format!(
                    "write a limit, `{one} >= {other}` or `{one} <= {other}`, or both joined with `and`"
                )
            };
            let message = "a measured value has its uncertainty; `is` can't compare it";
            self.report_with("expression.is", range, message, help);
            return;
        }
        let message = match (left, right) {
            (Type::Choice(..), Type::Choice(..)) => {
                format!("`{one}` and `{other}` have different choices")
            }
            (Type::Truth, _) | (_, Type::Truth) => {
                "a condition is not compared with `is`".to_owned()
            }
            _ => format!(
                "`{one}` is {} and `{other}` is {}; `is` can't compare them",
                left.in_words(),
                right.in_words()
            ),
        };
        let help = match (left, right) {
            (Type::Truth, _) | (_, Type::Truth) => {
                Some("a condition stands by itself, or behind `not`".to_owned())
            }
            (kind, _) if kind.dimension().is_some() => Some(BY_SIZE.to_owned()),
            _ => self.in_use(left_tree, left),
        };
        self.problems.push(Problem {
            help,
            ..Problem::new("expression.is", range.clone(), message)
        });
    }

    pub(super) fn is_one_of(
        &mut self,
        range: &Range<usize>,
        left_tree: &Syntax,
        words: &[Word],
        negated: bool,
    ) -> Option<Typed> {
        let left = self.check(left_tree)?;
        if words.is_empty() {
            // The list was reported.
            return None;
        }
        match left.kind {
            Type::Choice(..) | Type::EventLevel => {
                self.choices(range, left_tree, &left, words, negated)
            }
            kind => {
                let message = format!(
                    "{} is {}; `is {} of` asks for a choice",
                    self.read(left_tree),
                    kind.in_words(),
                    if negated { "none" } else { "one" }
                );
                self.problems.push(Problem {
                    help: match kind.dimension() {
                        Some(_) => Some(BY_SIZE.to_owned()),
                        None => self.in_use(left_tree, kind),
                    },
                    ..Problem::new("expression.is", left_tree.range.clone(), message)
                });
                None
            }
        }
    }

    /// `subject is one of words`, the words being choices of a trait or event levels.
    fn choices(
        &mut self,
        range: &Range<usize>,
        left_tree: &Syntax,
        left: &Typed,
        words: &[Word],
        negated: bool,
    ) -> Option<Typed> {
        let mut found: Vec<Option<ChoiceId>> = Vec::new();
        let mut whole = !words.is_empty();
        for word in words {
            let choice = match left.kind {
                Type::Choice(part, id) => self.choice(part, id, &word.text),
                _ => self
                    .place
                    .vocabulary
                    .event_level_named(&word.text)
                    .map(Some),
            };
            match choice {
                Some(choice) if found.contains(&choice) => {
                    let message = format!("`{}` stands twice in the list", word.text);
                    self.report("expression.list", &word.range, message);
                    whole = false;
                }
                Some(choice) => found.push(choice),
                None => {
                    self.unknown_choice(left_tree, left.kind, word);
                    whole = false;
                }
            }
        }
        if !whole {
            return None;
        }
        let op = match (&left.node.op, left.kind) {
            (_, Type::EventLevel) => Op::IsLevel {
                levels: found.into_iter().flatten().collect(),
                negated,
            },
            (Op::Trait(..), _) => Op::IsChoice {
                subject: Box::new(left.node.clone()),
                choices: found,
                negated,
            },
            _ => {
                let message = format!(
                    "{} stands for a trait; the trait itself is asked",
                    self.read(left_tree)
                );
                self.report("expression.is", &left_tree.range, message);
                return None;
            }
        };
        self.typed(range, op, Type::Truth, None)
    }

    /// A choice of a trait by its word: `None` if it has none, `Some(None)` for the silent `other`.
    fn choice(&self, part: PartId, id: TraitId, word: &str) -> Option<Option<ChoiceId>> {
        let one = self.place.vocabulary.part(part)?.traits.get(id.index())?;
        match one.choice_named(word) {
            Some(choice) => Some(Some(choice)),
            None => (word == OTHER).then_some(None),
        }
    }

    fn unknown_choice(&mut self, left_tree: &Syntax, kind: Type, word: &Word) {
        let names: &[Name] = match kind {
            Type::Choice(part, id) => {
                let kind = self
                    .place
                    .vocabulary
                    .part(part)
                    .and_then(|part| part.traits.get(id.index()))
                    .map(|one| &one.kind);
                match kind {
                    Some(TraitKind::Choice(names)) => names,
                    _ => &[],
                }
            }
            _ => &self.place.vocabulary.event_levels,
        };
        let mut words: Vec<&str> = names.iter().map(|name| name.text.as_str()).collect();
        let message = format!(
            "{} is not a choice of {}",
            quoted(&word.text),
            self.read(left_tree)
        );
        let near = near_misses(&word.text, words.iter().copied());
        if kind != Type::EventLevel {
            words.push(OTHER);
        }
        let help = match near {
            Some(near) => format!("did you mean `{near}`? choices are {}", list(&words)),
            None if words.is_empty() => "the rules file names no levels".to_owned(),
            None => format!("choices are {}", list(&words)),
        };
        self.report_with("expression.choice", &word.range, message, help);
    }
}
