//! Laws on random trees and random texts.

use std::sync::LazyLock;

use proptest::prelude::*;

use super::super::{
    Arithmetic, Comparison, Function, Names, Node, Op, Scope, Yield, derived_used, show, show_node,
};
use super::trees::shape;
use super::vocabulary::vocabulary;
use super::{Reading, read_with, yields};
use crate::quantity::{DateSpan, Exact, Unit};
use crate::text::Span;
use crate::vocabulary::{ChoiceId, DerivedId, HoldingId, MeasureId, PartId, TraitId, Vocabulary};

static KNOWN: LazyLock<(Vocabulary, Vec<Vec<Option<Yield>>>)> = LazyLock::new(|| {
    let vocabulary = vocabulary();
    let known = yields(&vocabulary);
    (vocabulary, known)
});

const HULL: Scope = Scope::One(HoldingId(0));
const RUNNERS: HoldingId = HoldingId(2);
const CORRECTORS: HoldingId = HoldingId(3);

fn node(op: Op) -> Node {
    Node {
        span: Span::default(),
        op,
    }
}

fn boxed(node: Node) -> Box<Node> {
    Box::new(node)
}

fn runner() -> PartId {
    KNOWN.0.part_named("runner").unwrap()
}

fn measure(scope: Scope, part: &str, name: &str) -> Node {
    let part = KNOWN.0.part(KNOWN.0.part_named(part).unwrap()).unwrap();
    node(Op::Measure(scope, part.measure_named(name).unwrap()))
}

fn one_trait(scope: Scope, part: &str, name: &str) -> Node {
    let part = KNOWN.0.part(KNOWN.0.part_named(part).unwrap()).unwrap();
    node(Op::Trait(scope, part.trait_named(name).unwrap()))
}

fn derived(name: &str) -> Node {
    let part = KNOWN.0.part(runner()).unwrap();
    node(Op::Derived(Scope::Own, part.derived_named(name).unwrap()))
}

/// A number as a text can write it, in one of the units; never zero.
fn literal(units: &'static [Unit]) -> impl Strategy<Value = Node> {
    let number = prop_oneof![
        (-100_000_i64..100_000, 0_u32..5).prop_map(|(n, places)| (n, 10_i64.pow(places))),
        (-200_i64..200, prop_oneof![Just(16_i64), Just(3), Just(7)]),
    ];
    let number = number.prop_filter("not zero", |(n, _)| *n != 0);
    (number, prop::sample::select(units)).prop_map(|((n, d), unit)| {
        let value = unit.to_base(&Exact::from_fraction(n, d).unwrap());
        node(Op::Quantity { value, unit })
    })
}

/// A length of a runner, one value.
fn length() -> BoxedStrategy<Node> {
    let leaf = prop_oneof![
        Just(measure(Scope::Own, "runner", "toe_at")),
        Just(measure(HULL, "hull", "length")),
        Just(derived("steel_length")),
        Just(derived("flat")),
        literal(&[Unit::MM, Unit::IN, Unit::M, Unit::UM]),
        Just(node(Op::Call(
            Function::Lowest,
            vec![measure(Scope::Own, "runner", "steel_thickness")]
        ))),
        literal(&[Unit::MM]).prop_map(|gap| match gap.op {
            Op::Quantity { value, unit } => {
                let gap = node(Op::Quantity {
                    value: value.abs(),
                    unit,
                });
                let profile = measure(Scope::Own, "runner", "edge_profile");
                node(Op::Call(Function::FlatLength, vec![profile, gap]))
            }
            _ => gap,
        }),
    ];
    let ratio = prop_oneof![
        literal(&[Unit::PLAIN, Unit::PERCENT]),
        Just(measure(Scope::Own, "runner", "wear")),
    ];
    leaf.prop_recursive(4, 32, 3, move |inner| {
        let sign = prop_oneof![Just(Arithmetic::Add), Just(Arithmetic::Subtract)];
        let times = prop_oneof![Just(Arithmetic::Multiply), Just(Arithmetic::Divide)];
        let extreme = prop_oneof![Just(Function::Min), Just(Function::Max)];
        prop_oneof![
            (sign, inner.clone(), inner.clone()).prop_map(|(sign, a, b)| node(Op::Arithmetic(
                sign,
                boxed(a),
                boxed(b)
            ))),
            (times, inner.clone(), ratio.clone()).prop_map(|(times, a, b)| node(Op::Arithmetic(
                times,
                boxed(a),
                boxed(b)
            ))),
            (ratio.clone(), inner.clone()).prop_map(|(a, b)| node(Op::Arithmetic(
                Arithmetic::Multiply,
                boxed(a),
                boxed(b)
            ))),
            inner.clone().prop_map(|a| node(Op::Negate(boxed(a)))),
            inner
                .clone()
                .prop_map(|a| node(Op::Call(Function::Abs, vec![a]))),
            (extreme, prop::collection::vec(inner.clone(), 2..4))
                .prop_map(|(extreme, list)| node(Op::Call(extreme, list))),
            inner.prop_map(|value| node(Op::Sum {
                over: RUNNERS,
                value: boxed(value),
                condition: None
            })),
        ]
    })
    .boxed()
}

fn date() -> BoxedStrategy<Node> {
    let fixed = prop::sample::select(&["2012", "1999", "2012-06", "2012-06-30", "2026-11-21"][..])
        .prop_map(|text| node(Op::Date(DateSpan::parse(text).unwrap())));
    prop_oneof![
        fixed,
        Just(one_trait(Scope::Own, "runner", "sold")),
        Just(one_trait(Scope::Boat, "boat", "built")),
        Just(node(Op::EventDay)),
        Just(node(Op::Day)),
        (1_i64..1000).prop_map(|days| {
            let days = node(Op::Quantity {
                value: Unit::DAYS.to_base(&Exact::from_integer(days)),
                unit: Unit::DAYS,
            });
            node(Op::Arithmetic(
                Arithmetic::Add,
                boxed(one_trait(Scope::Own, "runner", "built")),
                boxed(days),
            ))
        }),
    ]
    .boxed()
}

fn comparison() -> impl Strategy<Value = Comparison> {
    let all: Vec<Comparison> = Comparison::WORDS.iter().map(|(_, one)| *one).collect();
    prop::sample::select(all)
}

/// A condition on a runner, one answer.
fn truth() -> BoxedStrategy<Node> {
    let built = || one_trait(Scope::Own, "runner", "built");
    let choices = prop::sample::subsequence(vec![None, Some(0), Some(1), Some(2), Some(3)], 1..4)
        .prop_map(|list| {
            list.into_iter()
                .map(|choice| choice.map(ChoiceId))
                .collect::<Vec<_>>()
        });
    let levels = prop::sample::subsequence(vec![ChoiceId(0), ChoiceId(1), ChoiceId(2)], 1..3);
    let subject = prop_oneof![
        Just(one_trait(Scope::Own, "runner", "construction")),
        Just(one_trait(HULL, "hull", "finish")),
    ];
    let yes = prop_oneof![
        Just(one_trait(Scope::Own, "runner", "marked")),
        Just(measure(Scope::Own, "runner", "nose_rounded")),
        Just(one_trait(Scope::Boat, "boat", "numbered")),
        any::<bool>().prop_map(|yes| node(Op::YesNo(yes))),
    ];
    let leaf = prop_oneof![
        (comparison(), length(), length()).prop_map(|(c, a, b)| node(Op::Compare(
            c,
            boxed(a),
            boxed(b)
        ))),
        (comparison(), date(), any::<bool>()).prop_map(move |(c, a, turned)| {
            let (a, b) = if turned { (a, built()) } else { (built(), a) };
            node(Op::Compare(c, boxed(a), boxed(b)))
        }),
        (subject.clone(), choices, any::<bool>()).prop_map(|(subject, choices, negated)| {
            node(Op::IsChoice {
                subject: boxed(subject),
                choices,
                negated,
            })
        }),
        (levels, any::<bool>()).prop_map(|(levels, negated)| node(Op::IsLevel { levels, negated })),
        (subject, any::<bool>()).prop_map(|(left, negated)| {
            let right = one_trait(Scope::Own, "runner", "shape");
            node(Op::IsSame {
                left: boxed(left),
                right: boxed(right),
                negated,
            })
        }),
        (yes.clone(), yes.clone(), any::<bool>()).prop_map(|(left, right, negated)| {
            node(Op::IsSame {
                left: boxed(left),
                right: boxed(right),
                negated,
            })
        }),
        yes.prop_map(|yes| node(Op::Truth(boxed(yes)))),
    ];
    leaf.prop_recursive(4, 24, 3, |inner| {
        let list = prop::collection::vec(inner.clone(), 2..4);
        prop_oneof![
            inner.clone().prop_map(|a| node(Op::Not(boxed(a)))),
            list.clone().prop_map(|list| node(Op::And(list))),
            list.prop_map(|list| node(Op::Or(list))),
            (comparison(), inner, -3_i64..10).prop_map(|(c, condition, n)| {
                let count = node(Op::Count {
                    over: RUNNERS,
                    condition: Some(boxed(condition)),
                });
                let number = node(Op::Quantity {
                    value: Exact::from_integer(n),
                    unit: Unit::PLAIN,
                });
                node(Op::Compare(c, boxed(count), boxed(number)))
            }),
            comparison().prop_map(|c| {
                // Inside, bare names are the corrector's; the runner's own condition stands outside.
                let mass = measure(Scope::Own, "corrector", "mass");
                let heavy = node(Op::Compare(
                    Comparison::Greater,
                    boxed(mass.clone()),
                    boxed(measure(Scope::Boat, "boat", "all_up_mass")),
                ));
                let sum = node(Op::Sum {
                    over: CORRECTORS,
                    value: boxed(mass),
                    condition: Some(boxed(heavy)),
                });
                node(Op::Compare(
                    c,
                    boxed(sum),
                    boxed(measure(Scope::Boat, "boat", "all_up_mass")),
                ))
            }),
        ]
    })
    .boxed()
}

fn round_trip(tree: &Node, reading: Reading) -> Result<(), TestCaseError> {
    let (vocabulary, known) = &*KNOWN;
    let text = show_node(tree, runner(), vocabulary);
    let read = read_with(vocabulary, known, "runner", reading, &text);
    let read = read.map_err(|problems| TestCaseError::fail(format!("{text}: {problems:?}")))?;
    prop_assert_eq!(
        shape(&read.root, runner(), vocabulary),
        shape(tree, runner(), vocabulary),
        "{}",
        text
    );
    prop_assert_eq!(show(&read, vocabulary), text);
    Ok(())
}

/// What is used, the slow way: every derived value that the checked tree names.
fn derived_below(tree: &Node) -> Vec<(PartId, DerivedId)> {
    let vocabulary = &KNOWN.0;
    let mut found = Vec::new();
    tree.visit(runner(), vocabulary, &mut |own, node| {
        if let Op::Derived(scope, id) = node.op {
            let part = scope.part(own, vocabulary).unwrap();
            if !found.contains(&(part, id)) {
                found.push((part, id));
            }
        }
    });
    found
}

/// Pieces that make texts which come near to an expression.
const PIECES: &[&str] = &[
    "toe_at",
    "steel_thickness",
    "construction",
    "insert",
    "plate",
    "tee",
    "marked",
    "built",
    "boat",
    "hull",
    "runners",
    "correctors",
    "event",
    "level",
    "club",
    "day",
    "flat",
    "edge_profile",
    ".",
    ",",
    "(",
    ")",
    "(",
    ")",
    "+",
    "-",
    "*",
    "/",
    "<",
    "<=",
    ">",
    ">=",
    "=",
    "!=",
    "|",
    "[",
    "]",
    "'",
    "\"",
    "$",
    "^",
    "≤",
    "−",
    "½",
    "é",
    "and",
    "or",
    "not",
    "is",
    "one",
    "none",
    "of",
    "where",
    "over",
    "count",
    "sum",
    "yes",
    "no",
    "true",
    "AND",
    "min",
    "max",
    "abs",
    "lowest",
    "flat_length",
    "5 mm",
    "4.70 mm",
    "3/16 in",
    "1 3/16 in",
    "82 deg 30 min",
    "-6 degC",
    "2012",
    "2012-01",
    "2012-01-01",
    "2012-13",
    "4,70 mm",
    "5mm",
    "0",
    ".5",
    "5.",
    "1e9",
    "365 days",
    "between",
    "if",
    "then",
    "\n",
    "\t",
    "\u{a0}",
    "\u{200b}",
    "%",
    "#",
    ";",
    "“",
    "”",
    "of (",
    "is one of (",
    "count(runners where ",
];

fn soup() -> impl Strategy<Value = String> {
    let piece = prop_oneof![
        8 => prop::sample::select(PIECES).prop_map(str::to_owned),
        1 => "\\PC{0,3}",
    ];
    prop::collection::vec(
        (piece, prop::sample::select(&[" ", " ", " ", ""][..])),
        0..24,
    )
    .prop_map(|pieces| {
        pieces
            .into_iter()
            .map(|(piece, blank)| piece + blank)
            .collect()
    })
}

/// The texts of the table of good expressions.
fn good_texts() -> Vec<&'static str> {
    include_str!("good.txt")
        .lines()
        .filter_map(|line| Some(line.strip_prefix('[')?.split_once("] ")?.1))
        .collect()
}

/// Reads a text in every way and looks at what comes out.
fn examine(text: &str) -> Result<(), TestCaseError> {
    let (vocabulary, known) = &*KNOWN;
    for own in ["runner", "boat", "hull"] {
        for reading in [Reading::Any, Reading::Condition, Reading::Value] {
            match read_with(vocabulary, known, own, reading, text) {
                Ok(expression) => {
                    let mut spans = vec![expression.span];
                    expression
                        .root
                        .visit(expression.own, vocabulary, &mut |_, node| {
                            spans.push(node.span)
                        });
                    for span in spans {
                        prop_assert!(text.get(span.range()).is_some(), "{span:?} in {text:?}");
                    }
                    let again = show(&expression, vocabulary);
                    let read = read_with(vocabulary, known, own, reading, &again);
                    prop_assert!(read.is_ok(), "{text:?} shows as {again:?}: {read:?}");
                }
                Err(problems) => {
                    for problem in &problems {
                        let inside = text.get(problem.span.range());
                        prop_assert!(inside.is_some(), "{problem:?} in {text:?}");
                        prop_assert!(!problem.message.is_empty());
                    }
                    prop_assert!(
                        problems
                            .windows(2)
                            .all(|pair| pair[0].span.start <= pair[1].span.start)
                    );
                }
            }
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_shown_condition_reads_back_to_the_same_tree(tree in truth()) {
        round_trip(&tree, Reading::Condition)?;
    }

    #[test]
    fn a_shown_value_reads_back_to_the_same_tree(tree in length()) {
        round_trip(&tree, Reading::Value)?;
    }

    #[test]
    fn derived_values_are_found_before_types_are_known(tree in truth()) {
        let (vocabulary, _) = &*KNOWN;
        let text = show_node(&tree, runner(), vocabulary);
        let names = Names { vocabulary, own: runner(), derived: &|_, _| None };
        prop_assert_eq!(derived_used(&text, &names), derived_below(&tree));
    }

    #[test]
    fn near_expressions_are_read_or_refused_with_places_in_the_text(text in soup()) {
        examine(&text)?;
    }

    #[test]
    fn any_text_is_read_or_refused_with_places_in_the_text(text in "(?s).{0,40}") {
        examine(&text)?;
    }

    /// A slip of the hand in a good expression: letters lost, doubled, moved or put in.
    #[test]
    fn good_expressions_with_slips_are_read_or_refused(
        text in prop::sample::select(good_texts()),
        slips in prop::collection::vec((any::<prop::sample::Index>(), 0_usize..5, prop::sample::select(PIECES)), 1..5),
    ) {
        let mut letters: Vec<String> = text.chars().map(String::from).collect();
        for (at, slip, piece) in slips {
            if letters.is_empty() {
                break;
            }
            let at = at.index(letters.len());
            match slip {
                0 => { letters.remove(at); }
                1 => { let letter = letters[at].clone(); letters.insert(at, letter); }
                2 => { let next = (at + 1) % letters.len(); letters.swap(at, next); }
                3 => letters.insert(at, piece.to_owned()),
                _ => letters.truncate(at + 1),
            }
        }
        examine(&letters.concat())?;
    }

    /// A prefix of an expression is what a comma or a `#` of YAML leaves of it.
    #[test]
    fn every_cut_of_an_expression_is_read_or_refused(tree in truth(), cut in 0_usize..200) {
        let text = show_node(&tree, runner(), &KNOWN.0);
        let mut cut = cut.min(text.len());
        while !text.is_char_boundary(cut) {
            cut -= 1;
        }
        examine(&text[..cut])?;
    }
}

#[test]
fn the_generators_make_more_than_one_kind_of_thing() {
    // A law on trees that are all alike would say little.
    let mut runner = proptest::test_runner::TestRunner::deterministic();
    let mut words = std::collections::BTreeSet::new();
    for _ in 0..300 {
        let tree = truth().new_tree(&mut runner).unwrap().current();
        tree.visit(PartId(3), &KNOWN.0, &mut |_, node| {
            words.insert(
                format!("{:?}", node.op)
                    .split(['(', ' ', '{'])
                    .next()
                    .unwrap_or("")
                    .to_owned(),
            );
        });
    }
    for word in [
        "Quantity",
        "Date",
        "Measure",
        "Trait",
        "Derived",
        "Negate",
        "Arithmetic",
        "Compare",
        "IsChoice",
        "IsLevel",
        "IsSame",
        "Truth",
        "Not",
        "And",
        "Or",
        "Call",
        "Count",
        "Sum",
    ] {
        assert!(words.contains(word), "no {word} among {words:?}");
    }
}

#[test]
fn slots_of_the_test_vocabulary_are_as_used_here() {
    let vocabulary = &KNOWN.0;
    assert_eq!(vocabulary.holding_named("hull"), Some(HoldingId(0)));
    assert_eq!(vocabulary.holding_named("runners"), Some(RUNNERS));
    assert_eq!(vocabulary.holding_named("correctors"), Some(CORRECTORS));
    let runner = vocabulary.part(runner()).unwrap();
    assert_eq!(runner.trait_named("construction"), Some(TraitId(1)));
    assert_eq!(runner.measure_named("toe_at"), Some(MeasureId(2)));
}
