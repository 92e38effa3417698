//! The checks of functions, and of `count` and `sum`.

use std::ops::Range;

use crate::diagnostic::near_misses;
use crate::quantity::Dimension;
use crate::text::quoted;
use crate::vocabulary::{HoldingId, PartId};

use super::check::{Checker, Typed, is_count};
use super::problem::Problem;
use super::syntax::{Syntax, Word};
use super::tree::{Function, Node, Op, Scope, Type};

impl Checker<'_> {
    pub(super) fn call(
        &mut self,
        range: &Range<usize>,
        name: &Word,
        arguments: &[Syntax],
    ) -> Option<Typed> {
        let function = Function::named(&name.text);
        // Words that are looked up are no names of the class: such functions look at their own brackets.
        let looks_up = function.is_some_and(|function| !function.told().is_empty());
        let values = if looks_up { &[] } else { arguments };
        let typed: Vec<Option<Typed>> = values.iter().map(|one| self.check(one)).collect();
        let Some(function) = function else {
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
                let gap = second(arguments, &typed).and_then(|(tree, value)| self.gap(tree, value));
                gap?;
                (Type::Quantity(Dimension::LENGTH), placed?)
            }
            Function::GapAt => {
                let (tree, value) = first(arguments, &typed)?;
                let placed = self.structured(function, tree, value, Type::Profile);
                let place =
                    second(arguments, &typed).and_then(|(tree, value)| self.station(tree, value));
                place?;
                (Type::Quantity(Dimension::LENGTH), placed?)
            }
            Function::CrownRadius | Function::Hollow => {
                let (tree, value) = first(arguments, &typed)?;
                (
                    Type::Quantity(Dimension::LENGTH),
                    self.structured(function, tree, value, Type::Profile)?,
                )
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
            Function::Stiffness => {
                let (tree, value) = first(arguments, &typed)?;
                (
                    Type::Quantity(Dimension::STIFFNESS),
                    self.structured(function, tree, value, Type::LoadTest)?,
                )
            }
            Function::DeflectionAt => {
                let (tree, value) = first(arguments, &typed)?;
                let placed = self.structured(function, tree, value, Type::LoadTest);
                let load =
                    second(arguments, &typed).and_then(|(tree, value)| self.load(tree, value));
                load?;
                (Type::Quantity(Dimension::LENGTH), placed?)
            }
            Function::Area => {
                let (tree, value) = first(arguments, &typed)?;
                (
                    Type::Quantity(Dimension::AREA),
                    self.structured(function, tree, value, Type::Outline)?,
                )
            }
            Function::ConvertedHardness { .. } => return self.converted(range, arguments),
            Function::At20Degrees { .. } => return self.at_20_degrees(range, arguments),
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
            Function::GapAt => ("gap_at(profile, place)", 2, 2),
            Function::CrownRadius => ("crown_radius(profile)", 1, 1),
            Function::Hollow => ("hollow(profile)", 1, 1),
            Function::Straightness => ("straightness(line)", 1, 1),
            Function::IncludedAngle => ("included_angle(section)", 1, 1),
            Function::BevelDifference => ("bevel_difference(section)", 1, 1),
            Function::Stiffness => ("stiffness(test)", 1, 1),
            Function::DeflectionAt => ("deflection_at(test, load)", 2, 2),
            Function::Area => ("area(outline)", 1, 1),
            Function::ConvertedHardness { .. } => ("converted_hardness(hardness, scale)", 2, 2),
            Function::At20Degrees { .. } => {
                ("at_20_degrees(length, tape, item, temperature)", 3, 4)
            }
        };
        if (least..=most).contains(&given) {
            return Some(());
        }
        let word = function.word();
        let wanted = match (least, most) {
            (1, _) => "takes one value".to_owned(),
            (2, 2) => "takes two values".to_owned(),
            (3, _) => "takes three values or four".to_owned(),
            _ => "takes two values or more".to_owned(),
        };
        let places = match function {
            Function::Min if given == 1 => "; the least of several places is `lowest(…)`",
            Function::Max if given == 1 => "; the greatest of several places is `highest(…)`",
            _ => "",
        };
        self.report_with(
            "expression.arity",
            range,
            match given {
                0 => format!("`{word}` {wanted}; none stands here"),
                1 => format!("`{word}` {wanted}; one stands here"),
                _ => format!("`{word}` {wanted}; {given} stand here"),
            },
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
            self.like(range, (first_tree, first), (tree, *dimension), |a, b| {
                format!("`{}` of {a} and {b}", function.word())
            })?;
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

    /// The profile, line, section, test or outline that a function takes.
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
            Type::Profile | Type::Line | Type::Section | Type::LoadTest | Type::Outline => {
                self.in_use(tree, value.kind)
            }
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
            format!(
                "{} is not a gap; the gap is a length above zero",
                self.read(tree)
            )
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

    /// The place of `gap_at`.
    fn station(&mut self, tree: &Syntax, value: &Typed) -> Option<()> {
        let words = value.kind.in_words();
        let message = if value.kind != Type::Quantity(Dimension::LENGTH) {
            format!(
                "{} is {words}; the place is a distance from the pivot",
                self.read(tree)
            )
        } else if !value.node.is_constant() {
            format!(
                "{} depends on the item; the place is a fixed distance from the pivot",
                self.read(tree)
            )
        } else {
            return Some(());
        };
        self.report_with(
            "expression.argument",
            &tree.range,
            message,
            "positive toward the toe, as in `gap_at(edge_profile, -250 mm)`",
        );
        None
    }

    /// The load of `deflection_at`.
    fn load(&mut self, tree: &Syntax, value: &Typed) -> Option<()> {
        let load = [Dimension::MASS, Dimension::FORCE].map(Type::Quantity);
        let message = if !load.contains(&value.kind) {
            let words = value.kind.in_words();
            format!(
                "{} is {words}; the load is a mass or a force",
                self.read(tree)
            )
        } else if !value.node.is_constant() {
            format!(
                "{} depends on the item; the load is a fixed one",
                self.read(tree)
            )
        } else if value.node.constant().is_some_and(|load| load.signum() < 0) {
            format!(
                "{} is not a load; a load is not below zero",
                self.read(tree)
            )
        } else {
            return Some(());
        };
        self.report_with(
            "expression.argument",
            &tree.range,
            message,
            "as in `deflection_at(bend_test, 60 kg)`",
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
            MeasureKind::LoadTest => wanted == Type::LoadTest,
            MeasureKind::Outline => wanted == Type::Outline,
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

fn second<'t>(arguments: &'t [Syntax], typed: &'t [Typed]) -> Option<(&'t Syntax, &'t Typed)> {
    arguments.get(1).zip(typed.get(1))
}
