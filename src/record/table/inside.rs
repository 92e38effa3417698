//! Places inside a measure of several readings that belong together: `edge_profile.shims.1.forward`,
//! `side_line.port.3`, `edge_section.places.2.bevels.port`.
//!
//! The path goes on as the record does; entries of a list are counted from 1. What the keys are stands in one tree for
//! each kind of measure, by which paths are read, records are written, and readings are found again.

use super::target::Wants;
use crate::diagnostic::near_misses;
use crate::quantity::Dimension;
use crate::text::quoted;
use crate::vocabulary::{Measure, MeasureKind, Supports};

/// Entries of one list that columns can fill.
pub const ENTRIES: u16 = 500;
/// Steps of a path inside a measure.
const STEPS: usize = 6;

/// A step of a path.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Step {
    /// A key, with its place among those beside it.
    Key(u8, &'static str),
    /// An entry of a list, from 1.
    Number(u16),
}

/// A place inside a measure.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Inside([Option<Step>; STEPS]);

/// What a measure is made of.
enum Node {
    Length,
    Angle,
    Load,
    Supports,
    List(&'static Node),
    Keys(&'static [(&'static str, Node)]),
}

use Node::{Angle, Keys, Length, List, Load};

const POINT: Node = Keys(&[("x", Length), ("y", Length)]);
const PROFILE: Node = Keys(&[
    ("contact", Length),
    (
        "shims",
        List(&Keys(&[
            ("gap", Length),
            ("forward", Length),
            ("aft", Length),
        ])),
    ),
    ("stations", List(&Length)),
    ("gaps", List(&Length)),
]);
const LINE: Node = Keys(&[
    ("stations", List(&Length)),
    ("port", List(&Length)),
    ("starboard", List(&Length)),
]);
const BEVELS: Node = Keys(&[("port", Angle), ("starboard", Angle)]);
const POINTS: Node = Keys(&[
    ("port", List(&POINT)),
    ("starboard", List(&POINT)),
    ("edge_radius", Length),
]);
const SINE: Node = Keys(&[("length", Length), ("port", Length), ("starboard", Length)]);
const PINS: Node = List(&Keys(&[("diameter", Length), ("over", Length)]));
const ROLLERS: Node = List(&Keys(&[("diameter", Length), ("height", Length)]));
const WIDTHS: Node = List(&Keys(&[("depth", Length), ("width", Length)]));
const SECTION: Node = Keys(&[
    ("bevels", BEVELS),
    ("points", POINTS),
    ("sine", SINE),
    ("pins", PINS),
    ("rollers", ROLLERS),
    ("widths", WIDTHS),
]);
const SECTION_AT: Node = Keys(&[
    ("at", Length),
    ("bevels", BEVELS),
    ("points", POINTS),
    ("sine", SINE),
    ("pins", PINS),
    ("rollers", ROLLERS),
    ("widths", WIDTHS),
]);
const SECTIONS: Node = Keys(&[("places", List(&SECTION_AT))]);
const LOAD_TEST: Node = Keys(&[
    ("span", Length),
    ("supports", Node::Supports),
    ("steps", List(&Keys(&[("load", Load), ("sinks", Length)]))),
]);
const OUTLINE: Node = Keys(&[
    ("spacing", Length),
    ("widths", List(&Length)),
    ("points", List(&POINT)),
]);

fn tree(measure: &Measure) -> Option<&'static Node> {
    match measure.kind {
        MeasureKind::Profile => Some(&PROFILE),
        MeasureKind::Line => Some(&LINE),
        MeasureKind::Section if measure.placed => Some(&SECTIONS),
        MeasureKind::Section => Some(&SECTION),
        MeasureKind::LoadTest => Some(&LOAD_TEST),
        MeasureKind::Outline => Some(&OUTLINE),
        MeasureKind::Quantity(_) | MeasureKind::YesNo => None,
    }
}

/// Reads the steps of a path behind the name of a measure.
///
/// # Errors
/// What would be accepted.
pub fn parse(measure: &Measure, steps: &[&str]) -> Result<Inside, String> {
    let Some(mut node) = tree(measure) else {
        return Err(format!(
            "nothing stands inside {}",
            quoted(&measure.name.text)
        ));
    };
    let mut found = [None; STEPS];
    let mut path = measure.name.text.clone();
    let mut rest = steps.iter();
    for place in &mut found {
        let step = rest.next();
        match (node, step) {
            (Keys(keys), Some(step)) => {
                let known = keys.iter().enumerate().find(|(_, (key, _))| key == step);
                let Some((at, (key, below))) = known else {
                    let names = || keys.iter().map(|(key, _)| *key);
                    return Err(match near_misses(step, names()) {
                        Some(near) => format!("did you mean {}?", quoted(near)),
                        None => format!(
                            "{path} goes on with one of: {}",
                            names().collect::<Vec<_>>().join(", ")
                        ),
                    });
                };
                *place = Some(Step::Key(u8::try_from(at).unwrap_or(u8::MAX), key));
                node = below;
            }
            (List(below), Some(step)) => {
                let number = step.parse::<u16>().ok();
                let number = number.filter(|number| (1..=ENTRIES).contains(number));
                let Some(number) = number else {
                    return Err(format!(
                        "{path} is a list, whose entries are counted: {path}.1 to {path}.{ENTRIES}"
                    ));
                };
                *place = Some(Step::Number(number));
                node = below;
            }
            (Keys(keys), None) => {
                let names: Vec<&str> = keys.iter().map(|(key, _)| *key).collect();
                return Err(format!(
                    "{path} is several readings that belong together; a column fills one of them: write {path}.{}",
                    example(node).unwrap_or_else(|| names.join(" or "))
                ));
            }
            (List(_), None) => {
                return Err(format!(
                    "{path} is a list, whose entries are counted: {path}.{}",
                    example(node).unwrap_or_default()
                ));
            }
            (Length | Angle | Load | Node::Supports, None) => break,
            (Length | Angle | Load | Node::Supports, Some(step)) => {
                return Err(format!("nothing stands below {path}: take `.{step}` out"));
            }
        }
        if let Some(step) = step {
            path.push('.');
            path.push_str(step);
        }
    }
    match node {
        Length | Angle | Load | Node::Supports => Ok(Inside(found)),
        List(_) | Keys(_) => Err(format!("{path} does not name one reading")),
    }
}

/// A path to a reading, as an example: `shims.1.gap`.
fn example(node: &Node) -> Option<String> {
    let (step, below) = match node {
        // The last list or mapping says most of what is measured.
        Keys(keys) => {
            let many = keys
                .iter()
                .find(|(_, below)| matches!(below, List(_) | Keys(_)));
            let (key, below) = many.or_else(|| keys.last())?;
            ((*key).to_owned(), below)
        }
        List(below) => ("1".to_owned(), *below),
        Length | Angle | Load | Node::Supports => return None,
    };
    Some(match example(below) {
        Some(rest) => format!("{step}.{rest}"),
        None => step,
    })
}

/// Every path of a measure in which each list has its first entry alone.
pub fn all(measure: &Measure) -> Vec<Vec<&'static str>> {
    fn below(node: &'static Node, before: &[&'static str], found: &mut Vec<Vec<&'static str>>) {
        let with = |step: &'static str| {
            let mut path = before.to_vec();
            path.push(step);
            path
        };
        match node {
            Keys(keys) => {
                for (key, node) in *keys {
                    below(node, &with(key), found);
                }
            }
            List(node) => below(node, &with("1"), found),
            Length | Angle | Load | Node::Supports => found.push(before.to_vec()),
        }
    }
    let mut found = Vec::new();
    if let Some(node) = tree(measure) {
        below(node, &[], &mut found);
    }
    found
}

impl Inside {
    /// Its steps.
    pub fn steps(&self) -> impl Iterator<Item = Step> + '_ {
        self.0.iter().map_while(|step| *step)
    }

    /// The step at a depth.
    pub fn step(&self, depth: usize) -> Option<Step> {
        self.0.get(depth).copied().flatten()
    }

    /// The same path with another entry at a depth.
    pub fn with_number(&self, depth: usize, number: u16) -> Inside {
        let mut other = *self;
        if let Some(place) = other.0.get_mut(depth) {
            *place = Some(Step::Number(number));
        }
        other
    }

    /// As it is written behind the name of its measure.
    pub fn written(&self) -> String {
        let steps: Vec<String> = self
            .steps()
            .map(|step| match step {
                Step::Key(_, key) => key.to_owned(),
                Step::Number(number) => number.to_string(),
            })
            .collect();
        steps.join(".")
    }

    /// What kind of value stands there.
    pub fn wants(&self, measure: &Measure) -> Wants {
        let mut node = tree(measure);
        for step in self.steps() {
            node = match (node, step) {
                (Some(Keys(keys)), Step::Key(at, _)) => {
                    keys.get(usize::from(at)).map(|(_, below)| below)
                }
                (Some(List(below)), Step::Number(_)) => Some(below),
                _ => None,
            };
        }
        match node {
            Some(Angle) => Wants::Quantity(Dimension::ANGLE),
            Some(Load) => Wants::Load,
            Some(Node::Supports) => Wants::Word(
                Supports::WORDS
                    .iter()
                    .map(|(word, _)| (*word).to_owned())
                    .collect(),
            ),
            Some(Length | List(_) | Keys(_)) | None => Wants::Quantity(Dimension::LENGTH),
        }
    }

    /// What tells which entry it is of: `gap` of a pair of shims, `at` of a station or a place, `load` of a step.
    pub fn beside(&self, measure: &Measure, key: &str) -> Option<Inside> {
        let steps: Vec<Step> = self.steps().collect();
        // Lists that go side by side: the station of a gap.
        if let (
            [
                Step::Key(_, "gaps" | "port" | "starboard"),
                Step::Number(number),
            ],
            "at",
        ) = (steps.as_slice(), key)
        {
            return parse(measure, &["stations", &number.to_string()]).ok();
        }
        let numbers = steps
            .iter()
            .enumerate()
            .filter(|(_, step)| matches!(step, Step::Number(_)));
        for (depth, _) in numbers.collect::<Vec<_>>().into_iter().rev() {
            let written = self.written();
            let mut path: Vec<&str> = written.split('.').take(depth + 1).collect();
            path.push(key);
            if let Ok(found) = parse(measure, &path)
                && found != *self
            {
                return Some(found);
            }
        }
        None
    }
}

#[cfg(test)]
#[allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]
mod tests {
    use super::*;

    #[test]
    fn examples_are_paths() {
        for node in [&PROFILE, &LINE, &SECTIONS, &SECTION, &LOAD_TEST, &OUTLINE] {
            let example = example(node).unwrap();
            assert!(example.split('.').count() <= STEPS, "{example}");
        }
        assert_eq!(example(&PROFILE).unwrap(), "shims.1.aft");
    }
}
