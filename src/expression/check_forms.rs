//! The checks of conditions, of `is`, of functions, and of `count` and `sum`.

use std::ops::Range;

use crate::diagnostic::near_misses;
use crate::quantity::Dimension;
use crate::text::quoted;
use crate::vocabulary::{ChoiceId, HoldingId, Name, PartId, TraitId, TraitKind};

use super::check::{Checker, Typed, is_count};
use super::names::{OTHER, is_choice, list};
use super::problem::Problem;
use super::syntax::{Kind, Syntax, Word};
use super::tree::{Function, Node, Op, Scope, Type};

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
            | Type::EventLevel
            | Type::Date
            | Type::Profile
            | Type::Line
            | Type::Section) => {
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
            if let Some((left, words, negated)) =
                self.choices_behind(operand, operands.get(at..).unwrap_or(&[]))
            {
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
                let range = operand.range.start..end;
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
            is_choice(self.place, name, word) && self.place.meaning(&[(*word).clone()]).is_none()
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
        let word = right_tree.bare_word();
        let by_word = left.as_ref().is_some_and(|left| match left.kind {
            Type::Choice(part, id) => word.is_some_and(|word| {
                self.choice(part, id, &word.text).is_some()
                    || self.place.meaning(&[word.clone()]).is_none()
            }),
            Type::EventLevel => true,
            _ => false,
        });
        if let (true, Some(left)) = (by_word, left.as_ref()) {
            if let Some(word) = word {
                let words = std::slice::from_ref(word);
                return self.choices(range, left_tree, left, words, negated);
            }
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
            TraitKind::Date | TraitKind::Flag => None,
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
            (kind, _) if kind.dimension().is_some() => {
                Some("numbers are compared with `<`, `<=`, `>` or `>=`".to_owned())
            }
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
                    help: self.in_use(left_tree, kind),
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

    // ---- functions

    pub(super) fn call(
        &mut self,
        range: &Range<usize>,
        name: &Word,
        arguments: &[Syntax],
    ) -> Option<Typed> {
        let typed: Vec<Option<Typed>> = arguments
            .iter()
            .map(|argument| self.check(argument))
            .collect();
        let Some(function) = Function::named(&name.text) else {
            let known: Vec<&str> = Function::WORDS.iter().map(|(word, _)| *word).collect();
            let help = match near_misses(&name.text, known.iter().copied()) {
                Some(near) => format!("did you mean `{near}(…)`?"),
                None => format!("functions are {}, count, sum", known.join(", ")),
            };
            let message = format!("{} is not a function", quoted(&name.text));
            self.report_with("expression.function", &name.range, message, help);
            return None;
        };
        self.arity(range, function, arguments.len())?;
        let typed: Vec<Typed> = typed.into_iter().collect::<Option<_>>()?;
        let (kind, placed) = match function {
            Function::Abs => {
                let (tree, value) = first(arguments, &typed)?;
                self.number(tree, value)?;
                self.off_scale(tree, value)?;
                (value.kind, value.placed)
            }
            Function::Min | Function::Max => self.extreme(range, function, arguments, &typed)?,
            Function::Lowest | Function::Highest => {
                let (tree, value) = first(arguments, &typed)?;
                self.number(tree, value)?;
                if value.placed.is_none() {
                    let message = format!(
                        "{} is one value; `{}` takes a value of several places",
                        self.read(tree),
                        function.word()
                    );
                    let help = format!("write {} by itself", self.read(tree));
                    self.report_with("expression.placed", &tree.range, message, help);
                    return None;
                }
                (value.kind, None)
            }
            Function::FlatLength | Function::ForwardFlat | Function::AftFlat => {
                let (tree, value) = first(arguments, &typed)?;
                let placed = self.structured(function, tree, value, Type::Profile);
                let gap = arguments
                    .get(1)
                    .zip(typed.get(1))
                    .and_then(|(tree, value)| self.gap(tree, value));
                gap?;
                (Type::Quantity(Dimension::LENGTH), placed?)
            }
            Function::Straightness => {
                let (tree, value) = first(arguments, &typed)?;
                (
                    Type::Quantity(Dimension::LENGTH),
                    self.structured(function, tree, value, Type::Line)?,
                )
            }
            Function::IncludedAngle | Function::BevelDifference => {
                let (tree, value) = first(arguments, &typed)?;
                (
                    Type::Quantity(Dimension::ANGLE),
                    self.structured(function, tree, value, Type::Section)?,
                )
            }
        };
        let nodes = typed.into_iter().map(|typed| typed.node).collect();
        self.typed(range, Op::Call(function, nodes), kind, placed)
    }

    fn arity(&mut self, range: &Range<usize>, function: Function, given: usize) -> Option<()> {
        let (form, least, most) = match function {
            Function::Abs => ("abs(value)", 1, 1),
            Function::Min => ("min(value, value)", 2, usize::MAX),
            Function::Max => ("max(value, value)", 2, usize::MAX),
            Function::Lowest => ("lowest(measure)", 1, 1),
            Function::Highest => ("highest(measure)", 1, 1),
            Function::FlatLength => ("flat_length(profile, gap)", 2, 2),
            Function::ForwardFlat => ("forward_flat(profile, gap)", 2, 2),
            Function::AftFlat => ("aft_flat(profile, gap)", 2, 2),
            Function::Straightness => ("straightness(line)", 1, 1),
            Function::IncludedAngle => ("included_angle(section)", 1, 1),
            Function::BevelDifference => ("bevel_difference(section)", 1, 1),
        };
        if (least..=most).contains(&given) {
            return Some(());
        }
        let word = function.word();
        let wanted = match (least, most) {
            (1, _) => "takes one value".to_owned(),
            (2, 2) => "takes two values".to_owned(),
            _ => format!("takes at least {least} values"),
        };
        let places = match function {
            Function::Min if given == 1 => "; the least of several places is `lowest(…)`",
            Function::Max if given == 1 => "; the greatest of several places is `highest(…)`",
            _ => "",
        };
        self.report_with(
            "expression.arity",
            range,
            format!(
                "`{word}` {wanted}; here {} {given}",
                if given == 1 { "is" } else { "are" }
            ),
            format!("the form is `{form}`{places}"),
        );
        None
    }

    /// `min` and `max`.
    fn extreme(
        &mut self,
        range: &Range<usize>,
        function: Function,
        arguments: &[Syntax],
        typed: &[Typed],
    ) -> Option<(Type, Option<Scope>)> {
        let mut dimensions = Vec::new();
        for (tree, value) in arguments.iter().zip(typed) {
            dimensions.push(self.number(tree, value));
        }
        let dimensions: Vec<Dimension> = dimensions.into_iter().collect::<Option<_>>()?;
        let (first_tree, first) = arguments.first().zip(dimensions.first().copied())?;
        let mut placed = None;
        for ((tree, dimension), value) in arguments.iter().zip(&dimensions).zip(typed) {
            self.like(
                range,
                (first_tree, first),
                (tree, *dimension),
                &format!("beside, in `{}`,", function.word()),
            )?;
            placed = self.pair(range, placed, value.placed)?;
        }
        let counts =
            typed.iter().any(|value| value.kind == Type::Count) && typed.iter().all(is_count);
        Some((
            if counts {
                Type::Count
            } else {
                Type::Quantity(first)
            },
            placed,
        ))
    }

    /// The profile, line or section that a function takes.
    fn structured(
        &mut self,
        function: Function,
        tree: &Syntax,
        value: &Typed,
        wanted: Type,
    ) -> Option<Option<Scope>> {
        if value.kind == wanted {
            return Some(value.placed);
        }
        let message = format!(
            "{} is {}; `{}` takes {}",
            self.read(tree),
            value.kind.in_words(),
            function.word(),
            wanted.in_words()
        );
        let help = match value.kind {
            Type::Profile | Type::Line | Type::Section => self.in_use(tree, value.kind),
            _ => self.own_measure(wanted),
        };
        self.problems.push(Problem {
            help,
            ..Problem::new("expression.argument", tree.range.clone(), message)
        });
        None
    }

    /// The gap of `flat_length` and its kin.
    fn gap(&mut self, tree: &Syntax, value: &Typed) -> Option<()> {
        let length = Type::Quantity(Dimension::LENGTH);
        let message = if value.kind != length {
            let words = value.kind.in_words();
            format!("{} is {words}; the gap is a length", self.read(tree))
        } else if !value.node.is_constant() {
            format!(
                "{} depends on the item; the gap is a fixed length",
                self.read(tree)
            )
        } else if value.node.constant().is_some_and(|gap| gap.signum() <= 0) {
            format!("{} is not above zero; the gap is", self.read(tree))
        } else {
            return Some(());
        };
        self.report_with(
            "expression.argument",
            &tree.range,
            message,
            "as in `flat_length(edge_profile, 0.20 mm)`",
        );
        None
    }

    // ---- count and sum

    pub(super) fn parts(&mut self, word: &Word) -> Option<(HoldingId, PartId)> {
        match self.place.many(&word.text) {
            Some((id, holding)) => Some((id, holding.part)),
            None => {
                self.problems.push(self.place.unknown_parts(word));
                None
            }
        }
    }

    /// The condition on a counted part: `Some(None)` if there is none to check.
    pub(super) fn condition_on(
        &mut self,
        part: PartId,
        condition: Option<&Syntax>,
    ) -> Option<Option<Box<Node>>> {
        let Some(tree) = condition else {
            return Some(None);
        };
        let typed = self.inside(part, |checker| {
            let typed = checker.condition(tree)?;
            checker.one_answer(tree, typed)
        });
        typed.map(|typed| Some(Box::new(typed.node)))
    }

    pub(super) fn sum(
        &mut self,
        range: &Range<usize>,
        value_tree: &Syntax,
        parts: &Word,
        condition: Option<&Syntax>,
    ) -> Option<Typed> {
        let (over, part) = self.parts(parts)?;
        let value = self.inside(part, |checker| {
            let value = checker.check(value_tree)?;
            checker.number(value_tree, &value)?;
            checker.off_scale(value_tree, &value)?;
            if value.placed.is_some() {
                let read = checker.read(value_tree);
                checker.report_with(
                    "expression.placed",
                    &value_tree.range,
                    format!(
                        "{read} has a value for each place; `sum` adds up one value of each part"
                    ),
                    "take one value: `lowest(…)` or `highest(…)`",
                );
                return None;
            }
            Some(value)
        });
        let condition = self.condition_on(part, condition);
        let (value, condition) = (value?, condition?);
        let kind = value.kind;
        let op = Op::Sum {
            over,
            value: Box::new(value.node),
            condition,
        };
        self.typed(range, op, kind, None)
    }

    /// The own measure that a function could take, for a hint.
    fn own_measure(&self, wanted: Type) -> Option<String> {
        use crate::vocabulary::MeasureKind;
        let part = self.place.vocabulary.part(self.place.own)?;
        let fits = |kind: MeasureKind| match kind {
            MeasureKind::Profile => wanted == Type::Profile,
            MeasureKind::Line => wanted == Type::Line,
            MeasureKind::Section => wanted == Type::Section,
            MeasureKind::Quantity(_) | MeasureKind::YesNo => false,
        };
        let measure = part.measures.iter().find(|measure| fits(measure.kind))?;
        Some(format!("`{}` is {}", measure.name.text, wanted.in_words()))
    }
}

/// The first argument with its type.
fn first<'t>(arguments: &'t [Syntax], typed: &'t [Typed]) -> Option<(&'t Syntax, &'t Typed)> {
    arguments.first().zip(typed.first())
}
