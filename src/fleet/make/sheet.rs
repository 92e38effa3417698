//! What is written of a kind of item, prepared once: texts that stay, and dials that are turned for each item.

use super::book::Book;
use super::digits::{self, Digits};
use super::lever::{self, Lever};
use super::model::{Kind, Knob, Plan, What};
use crate::quantity::Unit;
use crate::rules::{Demand, Equals, RulesFile};
use crate::vocabulary::{
    Measure, MeasureId, MeasureKind, Part, Supports, TraitKind, Vocabulary, ZoneKind,
};

/// A number in steps of a reading.
#[derive(Clone, Copy, Debug)]
pub(super) struct Dial {
    pub low: i64,
    pub high: i64,
    /// How far an item may lie from the others of its boat.
    pub apart: i64,
    pub digits: Digits,
}

/// How a measure is written.
#[derive(Clone, Debug)]
pub(super) enum Shape {
    /// A look: the answer that the class wants.
    Answer(bool),
    /// A value that was fixed for good.
    First(usize),
    /// Readings of one value.
    One { dial: usize, repeats: u32 },
    /// Readings at places: the text that begins each.
    Places {
        places: Vec<(String, usize)>,
        repeats: u32,
    },
    /// Two bevels at places.
    Section(Vec<(String, usize, usize)>),
    /// Leaves under the edge: each gap as text, and how many times farther than at the first it reaches.
    Profile {
        forward: usize,
        aft: usize,
        gaps: Vec<(String, f64)>,
        /// Gaps that reach farther than anybody looks.
        ends: Vec<(String, f64)>,
        digits: Digits,
    },
    /// Stations along both flanks.
    Line { bow: usize, stations: String },
    /// Loads as text, each as a share of the first that the class asks for.
    LoadTest {
        sinks: usize,
        setup: String,
        loads: Vec<(String, f64)>,
    },
    /// A triangle with a right angle.
    Outline { area: usize, digits: Digits },
}

/// A measure of an item.
#[derive(Clone, Debug)]
pub(super) struct Line {
    /// `"toe_at":{"with":"tape_1",`
    pub begin: String,
    /// Whether the moment of the reading is said.
    pub timed: bool,
    pub shape: Shape,
}

/// All that is written of one kind of item.
#[derive(Clone, Debug, Default)]
pub(super) struct Sheet {
    /// `"position":"side",` and so on.
    pub choices: String,
    /// Names of the dates.
    pub dates: Vec<String>,
    /// Lists: the name, and what may be in it.
    pub lists: Vec<(String, Vec<String>)>,
    /// The flag that nominates it for a mark.
    pub flag: Option<String>,
    pub dials: Vec<Dial>,
    pub lines: Vec<Line>,
    pub levers: Vec<Lever>,
    /// Values that lie on a limit.
    pub close: Vec<Lever>,
}

/// Digits of distances along an edge that a leaf goes in.
pub(super) fn reach(part: &Part) -> Digits {
    let unit = digits::along(part);
    let step = if unit == Unit::IN { 0.1 * 25.4 } else { 1.0 };
    Digits::at_most(step, unit)
}

impl Sheet {
    /// The sheet of a kind.
    pub(super) fn of(rules: &RulesFile, book: &Book, kind: &Kind, slot: usize) -> Sheet {
        let mut sheet = Sheet::default();
        let Some(part) = rules.vocabulary.part(kind.part) else {
            return sheet;
        };
        for (at, (one, choice)) in part.traits.iter().zip(&kind.choices).enumerate() {
            let name = &one.name.text;
            match &one.kind {
                TraitKind::Choice(names) => {
                    if let Some(word) = choice.and_then(|choice| names.get(choice.index())) {
                        sheet.choices += &format!("\"{name}\":\"{}\",", word.text);
                    }
                }
                TraitKind::AnyOf(names) => {
                    let allowed = super::book::allowed(rules, kind.part, at);
                    let words = allowed.iter().filter_map(|slot| names.get(*slot));
                    let words = words.map(|word| word.text.clone()).collect();
                    sheet.lists.push((name.clone(), words));
                }
                TraitKind::Date => sheet.dates.push(name.clone()),
                TraitKind::Flag => {
                    let nominates = rules.marks.iter().any(|mark| {
                        let holding = rules.vocabulary.holding(mark.item);
                        holding.is_some_and(|one| one.part == kind.part)
                            && mark.nominated_by.index() == at
                    });
                    if nominates {
                        sheet.flag = Some(name.clone());
                    }
                }
            }
        }
        for knob in &kind.knobs {
            let measure = part.measures.get(knob.measure.index());
            sheet
                .dials
                .extend(measure.map(|measure| dial(part, measure, knob)));
        }
        for (at, measure) in super::book::slots(part.measures.len()).zip(&part.measures) {
            if kind.asked.get(usize::from(at)) != Some(&true) {
                continue;
            }
            let Some(shape) = shape(rules, part, kind, MeasureId(at)) else {
                continue;
            };
            sheet.lines.push(line(measure, shape));
        }
        lever::find(rules, book, kind, slot, &mut sheet);
        sheet
    }

    /// The line of a measure.
    pub(super) fn line_of(&self, name: &str) -> Option<usize> {
        let begin = format!("\"{name}\":");
        self.lines
            .iter()
            .position(|line| line.begin.starts_with(&begin))
    }
}

/// The key of the instrument for a method and a dimension.
pub(super) fn instrument(method: &str, measure: &Measure) -> String {
    let _ = measure;
    format!("{method}_1")
}

fn line(measure: &Measure, shape: Shape) -> Line {
    let name = &measure.name.text;
    let timed = !matches!(shape, Shape::Answer(_) | Shape::First(_));
    let begin = match digits::method(measure).filter(|_| timed) {
        Some((method, _)) => {
            format!("\"{name}\":{{\"with\":\"{}\",", instrument(method, measure))
        }
        None => format!("\"{name}\":{{"),
    };
    Line {
        begin,
        timed,
        shape,
    }
}

fn dial(part: &Part, measure: &Measure, knob: &Knob) -> Dial {
    let digits = match knob.what {
        What::Value | What::Port | What::Starboard | What::Bow | What::Sinks => {
            digits::of(part, measure)
        }
        What::Forward | What::Aft => reach(part),
        What::Area => Digits::at_most(5000.0, Unit::M2),
    };
    #[expect(
        clippy::cast_possible_truncation,
        reason = "ranges of readings are far from the ends of 64 bits, and a cast keeps to them"
    )]
    let (low, high) = (
        (knob.range.low / digits.base - 1e-6).ceil() as i64,
        (knob.range.high / digits.base + 1e-6).floor() as i64,
    );
    let middle = digits.steps(knob.range.low + knob.range.width() / 2.0);
    let (low, high) = if low <= high {
        (low, high)
    } else {
        (middle, middle)
    };
    Dial {
        low,
        high,
        apart: digits.steps(knob.apart).min((high - low) / 2),
        digits,
    }
}

/// The answer that the class wants of a look.
fn wanted(rules: &RulesFile, kind: &Kind, slot: MeasureId) -> bool {
    let about = rules
        .rules
        .iter()
        .filter(|rule| rule.applies_to == kind.part);
    for rule in about {
        let own = crate::expression::Scope::Own;
        if !matches!(rule.value.root.op, crate::expression::Op::Measure(scope, one) if one == slot && scope == own)
        {
            continue;
        }
        for row in crate::rules::rows(&rule.limits, &[]) {
            if let Demand::Equals(Equals::YesNo(yes), _) = row.demand {
                return yes;
            }
        }
    }
    true
}

fn shape(rules: &RulesFile, part: &Part, kind: &Kind, slot: MeasureId) -> Option<Shape> {
    let measure = part.measures.get(slot.index())?;
    let dial = |what: What, cell: Option<usize>| {
        kind.knobs.iter().position(|knob| {
            knob.measure == slot && knob.what == what && (cell.is_none() || knob.cell == cell)
        })
    };
    let section = measure.kind == MeasureKind::Section;
    let places = kind
        .plan(slot)
        .map(|plan| (plan, places(part, plan, section)));
    Some(match measure.kind {
        MeasureKind::YesNo => Shape::Answer(wanted(rules, kind, slot)),
        MeasureKind::Quantity(_) if measure.fixed_at.is_some() => {
            Shape::First(dial(What::Value, None)?)
        }
        MeasureKind::Quantity(_) => match places {
            Some((plan, places)) => Shape::Places {
                places: places
                    .into_iter()
                    .map(|(text, cell)| Some((text, dial(What::Value, Some(cell))?)))
                    .collect::<Option<_>>()?,
                repeats: plan.repeats,
            },
            None => Shape::One {
                dial: dial(What::Value, None)?,
                repeats: 2,
            },
        },
        MeasureKind::Section => {
            let places = match places {
                Some((_, places)) => places,
                None => vec![("{".to_owned(), usize::MAX)],
            };
            let bevel =
                |what: What, cell: usize| dial(what, Some(cell)).or_else(|| dial(what, None));
            Shape::Section(
                places
                    .into_iter()
                    .map(|(text, cell)| {
                        Some((
                            text,
                            bevel(What::Port, cell)?,
                            bevel(What::Starboard, cell)?,
                        ))
                    })
                    .collect::<Option<_>>()?,
            )
        }
        MeasureKind::Profile => {
            let gaps = super::eval::gaps(rules, kind.part, slot);
            let first = gaps.first().copied().unwrap_or(1.0);
            let unit = digits::along(part);
            let text = |gap: f64| {
                let mut text = String::new();
                let fine = Digits::at_most(0.0001, unit);
                // A gap of a leaf is short in the unit of the class.
                let short = (0..=4)
                    .filter_map(|decimals| {
                        let base = unit.factor().to_f64() / 10_f64.powi(decimals);
                        let digits = Digits {
                            unit,
                            step: 1,
                            decimals: decimals.unsigned_abs(),
                            base,
                        };
                        let steps = gap / base;
                        ((steps - steps.round()).abs() < 1e-6).then_some(digits)
                    })
                    .next()
                    .unwrap_or(fine);
                short.write_with_unit(short.steps(gap), &mut text);
                text
            };
            let ends = part.zones.iter().filter_map(|zone| match &zone.kind {
                ZoneKind::Along {
                    profile, to_height, ..
                } if profile.text == measure.name.text => Some(to_height.to_f64()),
                ZoneKind::Along { .. }
                | ZoneKind::Between(..)
                | ZoneKind::WithinOf { .. }
                | ZoneKind::WithinOfEdge(_) => None,
            });
            let farthest = farthest(kind) + 30.0;
            let mut ends: Vec<f64> = ends.filter(|gap| !gaps.contains(gap)).collect();
            ends.sort_by(f64::total_cmp);
            ends.dedup();
            Shape::Profile {
                forward: dial(What::Forward, None)?,
                aft: dial(What::Aft, None)?,
                gaps: gaps
                    .iter()
                    .map(|gap| (text(*gap), (gap / first).sqrt()))
                    .collect(),
                ends: ends.iter().map(|gap| (text(*gap), farthest)).collect(),
                digits: reach(part),
            }
        }
        MeasureKind::Line => {
            let unit = digits::along(part);
            let digits = Digits::at_most(if unit == Unit::IN { 12.7 } else { 10.0 }, unit);
            let reach = digits.steps(farthest(kind).min(1500.0)) / 2 * 2;
            let mut stations = String::new();
            for share in [-2, -1, 0, 1, 2] {
                digits.write(reach * share / 2, &mut stations);
                stations.push(' ');
            }
            stations.push_str(unit.symbol());
            Shape::Line {
                bow: dial(What::Bow, None)?,
                stations,
            }
        }
        MeasureKind::LoadTest => Shape::LoadTest {
            sinks: dial(What::Sinks, None)?,
            setup: setup(measure),
            loads: loads(rules, kind, slot),
        },
        MeasureKind::Outline => Shape::Outline {
            area: dial(What::Area, None)?,
            digits: Digits::at_most(5.0, Unit::MM),
        },
    })
}

/// How far from the pivot an item's readings are taken at most, base units.
fn farthest(kind: &Kind) -> f64 {
    let all = kind.plans.iter().flat_map(|plan| &plan.at);
    let far = all.map(|(at, _)| at.abs()).fold(0.0, f64::max);
    if far > 0.0 { far } else { 300.0 }
}

/// The beginning of each place of a plan: `{"at":"-300 mm",`, with its cell.
fn places(part: &Part, plan: &Plan, section: bool) -> Vec<(String, usize)> {
    let unit = digits::along(part);
    let digits = Digits::at_most(if unit == Unit::IN { 0.25 * 25.4 } else { 1.0 }, unit);
    let fine = Digits::at_most(if unit == Unit::IN { 0.125 * 25.4 } else { 0.5 }, unit);
    let each = plan.at.iter().map(|(at, cell)| {
        let mut text = "{\"at\":\"".to_owned();
        digits.write_with_unit(digits.steps(*at), &mut text);
        text.push_str("\",");
        if let Some(from) = plan.from_edge.filter(|_| !section) {
            text.push_str("\"from_edge\":\"");
            fine.write_with_unit(fine.steps(from), &mut text);
            text.push_str("\",");
        }
        (text, *cell)
    });
    each.collect()
}

fn setup(measure: &Measure) -> String {
    let Some(setup) = &measure.setup else {
        return String::new();
    };
    let words = Supports::WORDS.iter();
    let mut words = words.filter(|(_, one)| *one == setup.supports);
    let digits = Digits::at_most(0.001 * setup.unit.factor().to_f64(), setup.unit);
    let whole = Digits::whole(setup.unit);
    let span = setup.span.to_f64();
    let digits = if (whole.steps(span) as f64 * whole.base - span).abs() < 1e-9 {
        whole
    } else {
        digits
    };
    let mut text = "\"span\":\"".to_owned();
    digits.write_with_unit(digits.steps(span), &mut text);
    text.push_str("\",");
    if let Some((word, _)) = words.next() {
        text.push_str(&format!("\"supports\":\"{word}\","));
    }
    text
}

/// Up in steps and down again, each load as text with its share of the first that the class asks for.
fn loads(rules: &RulesFile, kind: &Kind, slot: MeasureId) -> Vec<(String, f64)> {
    let all = super::eval::loads(rules, kind.part, slot);
    let first = all.first().map_or(1.0, |(_, force)| *force);
    let text = |node: Option<&crate::expression::Node>, share: f64| {
        let (value, unit) = match node.map(|node| &node.op) {
            Some(crate::expression::Op::Quantity { value, unit }) => (value.to_f64(), *unit),
            _ => (60.0, Unit::KG),
        };
        let digits = Digits::at_most(0.5 * unit.factor().to_f64(), unit);
        let mut text = String::new();
        digits.write_with_unit(digits.steps(value * share), &mut text);
        text
    };
    let mut found = Vec::new();
    if let Some((node, _)) = all.first() {
        found.push((text(*node, 0.5), 0.5));
    }
    for (node, force) in &all {
        found.push((text(*node, 1.0), force / first));
    }
    if let Some((node, _)) = all.first() {
        found.push((text(*node, 0.0), 0.0));
    }
    found
}

/// Whether a vocabulary has anything to write under a key for groups.
pub(super) fn holding_key(vocabulary: &Vocabulary, slot: usize) -> Option<&str> {
    vocabulary
        .holdings
        .get(slot)
        .map(|one| one.key.text.as_str())
}
