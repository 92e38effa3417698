//! The checks of functions that look something up by a word: hardness scales, materials.

use std::ops::Range;

use crate::diagnostic::near_misses;
use crate::quantity::{Dimension, HardnessScale, Material};
use crate::text::quoted;

use super::check::{Checker, Typed};
use super::syntax::{Kind, Syntax};
use super::tree::{Function, Op, Scope, Type};

impl Checker<'_> {
    /// `converted_hardness(hardness, scale)`.
    pub(super) fn converted(
        &mut self,
        range: &Range<usize>,
        arguments: &[Syntax],
    ) -> Option<Typed> {
        let [hardness, scale] = arguments else {
            return None;
        };
        let typed = self.check(hardness);
        let scale_tree = scale;
        let words = HardnessScale::WORDS;
        let scale = self.looked_up(scale, "a hardness scale", "hardness scales", words);
        let (typed, scale) = (typed?, scale?);
        let example = "as in `converted_hardness(hardness, hv)`";
        let dimension = self.number(hardness, &typed)?;
        let Some(from) = HardnessScale::of(dimension) else {
            let words = typed.kind.in_words();
            let message = format!(
                "{} is {words}; a hardness is converted",
                self.read(hardness)
            );
            self.report_with("expression.argument", &hardness.range, message, example);
            return None;
        };
        self.measured(
            hardness,
            &typed,
            "a hardness is converted that was measured",
            example,
        )?;
        if from == scale {
            let message = format!(
                "{} is {} already",
                self.read(hardness),
                dimension.in_words()
            );
            let help = format!("write {} by itself", self.read(hardness));
            self.report_with("expression.argument", &scale_tree.range, message, help);
            return None;
        }
        let kind = Type::Quantity(scale.dimension());
        let op = Op::Call(
            Function::ConvertedHardness { from, to: scale },
            vec![typed.node],
        );
        self.typed(range, op, kind, typed.placed)
    }

    /// `at_20_degrees(length, tape, item)` and `at_20_degrees(length, tape, item, temperature)`.
    pub(super) fn at_20_degrees(
        &mut self,
        range: &Range<usize>,
        arguments: &[Syntax],
    ) -> Option<Typed> {
        let (length, tape, item, temperature) = match arguments {
            [length, tape, item] => (length, tape, item, None),
            [length, tape, item, temperature] => (length, tape, item, Some(temperature)),
            _ => return None,
        };
        let example = "as in `at_20_degrees(length, steel, spruce)`";
        let typed = self.check(length);
        let words = Material::WORDS;
        let tape = self.looked_up(tape, "a material", "materials", words);
        let item = self.looked_up(item, "a material", "materials", words);
        let at = temperature.map(|tree| (tree, self.check(tree)));
        let (typed, tape, item) = (typed?, tape?, item?);
        if typed.kind != Type::Quantity(Dimension::LENGTH) {
            let words = typed.kind.in_words();
            let message = format!("{} is {words}; a length is corrected", self.read(length));
            self.report_with("expression.argument", &length.range, message, example);
            return None;
        }
        self.measured(
            length,
            &typed,
            "a length is corrected that was measured",
            example,
        )?;
        let mut nodes = vec![typed.node];
        let mut placed: Option<Scope> = typed.placed;
        if let Some((tree, at)) = at {
            let at = at?;
            if at.kind != Type::Quantity(Dimension::TEMPERATURE) {
                let words = at.kind.in_words();
                let message = format!(
                    "{} is {words}; the temperature of tape and item is asked for",
                    self.read(tree)
                );
                let help = "a measured temperature, or none for that of the session, as in \
                            `at_20_degrees(length, steel, spruce)`";
                self.report_with("expression.argument", &tree.range, message, help);
                return None;
            }
            placed = self.pair(range, placed, at.placed)?;
            nodes.push(at.node);
        }
        let op = Op::Call(Function::At20Degrees { tape, item }, nodes);
        self.typed(range, op, Type::Quantity(Dimension::LENGTH), placed)
    }

    /// The word of a closed list that stands for something looked up.
    fn looked_up<T: Copy>(
        &mut self,
        tree: &Syntax,
        what: &str,
        all: &str,
        words: &[(&'static str, T)],
    ) -> Option<T> {
        let known: Vec<&str> = words.iter().map(|(word, _)| *word).collect();
        let listed = format!("{all} known here: {}", known.join(", "));
        let Some(word) = tree.bare_word() else {
            if let Kind::Broken(_) = tree.kind {
                return None;
            }
            let message = format!("{} is not {what}", self.read(tree));
            self.report_with("expression.argument", &tree.range, message, listed);
            return None;
        };
        if let Some((_, found)) = words.iter().find(|(known, _)| *known == word.text) {
            return Some(*found);
        }
        let message = format!("{} is not {what} known here", quoted(&word.text));
        let lower = word.text.to_lowercase();
        let help = match near_misses(&lower, known.iter().copied()) {
            Some(near) => format!("did you mean `{near}`? {listed}"),
            None => listed,
        };
        self.report_with("expression.argument", &tree.range, message, help);
        None
    }

    /// Refuses a number that stands in the rules: the author converts it once, and everybody can read it.
    fn measured(&mut self, tree: &Syntax, typed: &Typed, message: &str, help: &str) -> Option<()> {
        if !typed.node.is_constant() {
            return Some(());
        }
        let message = format!("{} is a fixed number; {message}", self.read(tree));
        self.report_with("expression.argument", &tree.range, message, help);
        None
    }
}
