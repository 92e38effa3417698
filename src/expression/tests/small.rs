//! Single facts: limits, places in the file, reserved words, helpers on trees.

use super::super::lexer::PIECES;
use super::super::{
    CODES, ExpressionProblem, Function, Names, Op, PROBLEMS, Type, derived_used, is_reserved, read,
    reserved, show, show_node,
};
use super::vocabulary::vocabulary;
use super::{Reading, read_in};
use crate::quantity::{Dimension, Exact, Unit};
use crate::text::Span;
use crate::vocabulary::{DerivedId, PartId, Vocabulary};

fn problems(own: &str, text: &str) -> Vec<ExpressionProblem> {
    match read_in(&vocabulary(), own, Reading::Any, text) {
        Ok(expression) => panic!("{text} was read as {}", show(&expression, &vocabulary())),
        Err(problems) => problems,
    }
}

/// What a value is computed from is counted through derived values; of a condition the larger side counts.
#[test]
fn numbers_are_counted_with_derived_values_written_out() {
    for (text, numbers) in [
        ("toe_at", 1),
        ("toe_at - heel_at", 2),
        ("steel_length", 2),
        ("steel_length * steel_length / 2", 5),
        ("max(steel_length, -toe_at, 5 mm)", 4),
        ("steel_length > 5 mm and toe_at > heel_at + 1 mm", 2),
    ] {
        let read = read_in(&vocabulary(), "runner", Reading::Any, text).unwrap();
        assert_eq!(read.yields.numbers, numbers, "{text}");
    }
}

#[test]
fn depth_is_counted_and_said_once() {
    let deep = |open: &str, inside: &str, close: &str, times: usize| {
        format!("{}{inside}{}", open.repeat(times), close.repeat(times))
    };
    for text in [
        deep("(", "toe_at", ")", 250),
        deep("abs(", "toe_at", ")", 250),
        deep("not ", "marked", "", 250),
        deep("-", "toe_at", "", 250),
        deep("toe_at + ", "toe_at", "", 250),
        deep("2 * ", "toe_at", "", 250),
        deep("(", "", "", 250),
        deep("count(runners where ", "marked", " > 1)", 250),
    ] {
        let problems = problems("runner", &text);
        assert_eq!(problems.len(), 1, "{problems:?}");
        assert_eq!(problems[0].code, "expression.depth");
    }
}

#[test]
fn what_people_write_is_far_below_the_limits_of_depth() {
    let vocabulary = vocabulary();
    let deep = format!("{}toe_at{}", "(".repeat(60), ")".repeat(60));
    let long = vec!["toe_at"; 100].join(" + ");
    let many = vec!["toe_at > 1 mm"; 500].join(" and ");
    for text in [deep, long, many] {
        assert!(
            read_in(&vocabulary, "runner", Reading::Any, &text).is_ok(),
            "{:.60}",
            text
        );
    }
}

#[test]
fn pieces_are_counted_and_said_once() {
    let at = |count: usize| format!("max({}toe_at)", "toe_at, ".repeat(count));
    // `max`, two brackets, `toe_at`: four pieces beside the pairs.
    let most = (PIECES - 4) / 2;
    assert!(read_in(&vocabulary(), "runner", Reading::Any, &at(most)).is_ok());
    for text in [
        at(most + 1),
        at(500_000),
        "2 * ".repeat(100_000) + "2",
        "(2 * 3) * ".repeat(100_000) + "2",
        "wrong > 1 mm and ".repeat(100_000) + "wrong",
        "$ ".repeat(100_000),
        "\"toe_at\" ".repeat(100_000),
        "«".repeat(5000),
        "\u{a0}".repeat(100_000) + "toe_at",
        "4,7 ".repeat(100_000),
        "(".repeat(100_000),
        "[".repeat(100_000),
        "|".repeat(100_000),
    ] {
        let problems = problems("runner", &text);
        assert_eq!(problems.len(), 1, "{:.60}: {problems:?}", text);
        assert_eq!(problems[0].code, "expression.length");
        assert!(
            problems[0].message.contains("2000"),
            "{}",
            problems[0].message
        );
    }
    let names = Names {
        vocabulary: &vocabulary(),
        own: PartId(3),
        derived: &|_, _| None,
    };
    assert_eq!(derived_used(&"flat + ".repeat(100_000), &names), []);
}

/// A balanced tree of factors is neither deep nor in a row: the count of pieces bounds its digits.
#[test]
fn exact_numbers_stay_small_enough_to_read() {
    let mut factors = vec!["1.234567".to_owned(); 512];
    while factors.len() > 1 {
        factors = factors
            .chunks(2)
            .map(|pair| format!("({})", pair.join(" * ")))
            .collect();
    }
    let text = format!("1 / {}", factors[0]);
    let problems = problems("runner", &text);
    assert_eq!(problems[0].code, "expression.length");
}

#[test]
fn a_long_word_gives_no_long_message() {
    let word = "toe_at".repeat(50_000);
    for text in [
        word.clone(),
        format!("toe_at > {word}"),
        format!("{word}-{word}"),
        format!("construction is {word}, {word}"),
        format!("construction is not one of ({word}, {word})"),
        format!("{word} is none"),
        format!("1 mm < {word} < 2 mm"),
        format!("event.{word}"),
        format!("{word}.built"),
        format!("{word}(toe_at)"),
        format!("count({word})"),
        format!("'{word}'"),
        format!("toe_at > 5 {word}"),
    ] {
        for problem in problems("runner", &text) {
            let length = problem
                .message
                .chars()
                .count()
                .max(problem.help.map_or(0, |help| help.chars().count()));
            assert!(length <= 401, "{:.40}: {length} letters", text);
        }
    }
}

/// Inside `where` and `over` the counted part is the own one, and outside again the first.
#[test]
fn a_visit_says_whose_names_stand_bare() {
    let vocabulary = vocabulary();
    let visited = |text: &str| {
        let expression = read_in(&vocabulary, "boat", Reading::Any, text).unwrap();
        let mut found = Vec::new();
        expression
            .root
            .visit(expression.own, &vocabulary, &mut |own, node| {
                if let Op::Measure(..) | Op::Trait(..) | Op::Count { .. } | Op::Sum { .. } = node.op
                {
                    let text = show_node(node, own, &vocabulary);
                    found.push(format!(
                        "{}: {text}",
                        vocabulary.part(own).unwrap().name.text
                    ));
                }
            });
        found
    };
    assert_eq!(
        visited(
            "count(runners where count(correctors where mass > 1 kg) > 2 and toe_at > 1 mm) > 0 and air > 1 degC"
        ),
        [
            "boat: count(runners where count(correctors where mass > 1 kg) > 2 and toe_at > 1 mm)",
            "runner: count(correctors where mass > 1 kg)",
            "corrector: mass",
            "runner: toe_at",
            "boat: air",
        ]
    );
    assert_eq!(
        visited(
            "sum(mass over correctors where mass > 1 kg) + all_up_mass > hull.length * 0 kg / 1 mm"
        ),
        [
            "boat: sum(mass over correctors where mass > 1 kg)",
            "corrector: mass",
            "corrector: mass",
            "boat: all_up_mass",
            "boat: hull.length",
        ]
    );
}

#[test]
fn many_problems_end_with_their_number() {
    let text = vec!["wrong > 1 mm"; 100].join(" and ");
    let problems = problems("runner", &text);
    assert_eq!(problems.len(), PROBLEMS + 1);
    let last = problems.last().unwrap();
    assert_eq!(last.code, "expression.too_many");
    assert_eq!(
        last.message,
        "68 more problems in this expression are not shown"
    );
    assert_eq!(last.span, Span::new(text.len(), text.len()));
}

#[test]
fn places_are_those_of_the_file() {
    let vocabulary = vocabulary();
    let names = Names {
        vocabulary: &vocabulary,
        own: PartId(3),
        derived: &|_, _| None,
    };
    let text = "toe_at > heel";
    // Plain: the text stands in the file letter for letter, here from byte 100 on.
    let plain = |range: std::ops::Range<usize>| Span::new(100 + range.start, 100 + range.end);
    let problems = read(text, &plain, &names).unwrap_err();
    assert_eq!(problems[0].span, Span::new(109, 113));
    // Quoted with escapes: the whole scalar is meant.
    let whole = Span::new(40, 60);
    let problems = read(text, &|_| whole, &names).unwrap_err();
    assert_eq!(problems[0].span, whole);
    let expression = read("toe_at > heel_at", &plain, &names).unwrap();
    assert_eq!(expression.span, Span::new(100, 116));
    assert_eq!(expression.text, "toe_at > heel_at");
    let Op::Compare(_, left, right) = &expression.root.op else {
        panic!()
    };
    assert_eq!(
        (left.span, right.span),
        (Span::new(100, 106), Span::new(109, 116))
    );
}

#[test]
fn words_of_the_language_units_and_the_event_are_reserved() {
    for word in "and or not is one none of where over count sum yes no true false mm in min m deg day days event".split(' ') {
        assert!(is_reserved(word), "{word}");
    }
    for word in [
        "abs", "max", "lowest", "toe_at", "boat", "level", "", "mmm", "ands",
    ] {
        assert!(!is_reserved(word), "{word}");
    }
    assert_eq!(reserved("where"), Some("a word of the rules language"));
    assert_eq!(reserved("in"), Some("a unit"));
}

#[test]
fn codes_are_in_order_and_in_their_room() {
    assert!(CODES.windows(2).all(|pair| pair[0].0 < pair[1].0));
    assert!(
        CODES
            .iter()
            .all(|(code, words)| code.starts_with("expression.") && !words.is_empty())
    );
}

#[test]
fn derived_values_are_listed_in_the_order_of_the_text_and_once() {
    let vocabulary = vocabulary();
    let names = |own: u16| Names {
        vocabulary: &vocabulary,
        own: PartId(own),
        derived: &|_, _| None,
    };
    let used = |own: u16, text: &str| {
        derived_used(text, &names(own))
            .into_iter()
            .map(|(part, id)| {
                let part: &crate::vocabulary::Part = vocabulary.part(part).unwrap();
                format!("{}.{}", part.name.text, part.derived[id.index()].name.text)
            })
            .collect::<Vec<_>>()
    };
    assert_eq!(
        used(3, "flat + steel_length - flat * boat.mass_over"),
        ["runner.flat", "runner.steel_length", "boat.mass_over"]
    );
    assert_eq!(
        used(0, "count(runners where bend > 1 mm) + mass_over"),
        ["runner.bend", "boat.mass_over"]
    );
    assert_eq!(
        used(0, "sum(flat over runners where edge_angle > 5 deg)"),
        ["runner.flat", "runner.edge_angle"]
    );
    assert_eq!(used(3, "max(flat"), ["runner.flat"]);
    assert_eq!(used(0, "flat + bend"), Vec::<String>::new());
    assert_eq!(
        used(3, "toe_at <= flat <= bend"),
        ["runner.flat", "runner.bend"]
    );
}

/// A word that is a choice and the name of a derived value: behind `is` the choice is meant.
#[test]
fn a_choice_comes_before_a_name() {
    let mut vocabulary = vocabulary();
    let mut tee = vocabulary.parts[3].derived[0].clone();
    tee.name.text = "tee".to_owned();
    vocabulary.parts[3].derived.push(tee);
    let names = Names {
        vocabulary: &vocabulary,
        own: PartId(3),
        derived: &|_, _| None,
    };
    assert_eq!(
        derived_used("construction is tee", &names),
        Vec::<(PartId, DerivedId)>::new()
    );
    assert_eq!(
        derived_used("construction is one of (tee)", &names),
        Vec::<(PartId, DerivedId)>::new()
    );
    assert_eq!(
        derived_used("construction is tee and tee > 5 mm", &names),
        [(PartId(3), DerivedId(5))]
    );
    let place = |range: std::ops::Range<usize>| Span::new(range.start, range.end);
    let expression = read("construction is tee", &place, &names).unwrap();
    assert!(matches!(expression.root.op, Op::IsChoice { .. }));
}

/// An expression that uses a broken derived value is refused without a word.
#[test]
fn a_broken_derived_value_is_reported_where_it_is_declared() {
    let vocabulary = vocabulary();
    let names = Names {
        vocabulary: &vocabulary,
        own: PartId(3),
        derived: &|_, _| None,
    };
    let place = |range: std::ops::Range<usize>| Span::new(range.start, range.end);
    assert_eq!(read("flat > 5 mm", &place, &names).unwrap_err(), []);
}

#[test]
fn helpers_tell_what_a_tree_holds() {
    let vocabulary = vocabulary();
    let root = |text: &str| {
        read_in(&vocabulary, "runner", Reading::Any, text)
            .unwrap()
            .root
    };
    assert!(root("event.level is club or marked").names_event());
    assert!(root("count(runners where built < event.day) > 1").names_event());
    assert!(!root("built < day").names_event());
    assert!(root("2 * (5 mm - 1 in)").is_constant());
    assert!(root("max(5 mm, 1 in)").is_constant());
    assert!(!root("2 * toe_at").is_constant());
    assert!(!root("count(runners)").is_constant());
    assert!(!root("day").is_constant());
    assert_eq!(
        root("2 * (5 mm - 1 mm) / 4").constant(),
        Some(Exact::from_integer(2))
    );
    assert_eq!(root("-(3 kg)").constant(), Some(Exact::from_integer(-3)));
    assert_eq!(root("max(5 mm, 1 in)").constant(), None);
    assert_eq!(Type::Count.dimension(), Some(Dimension::RATIO));
    assert_eq!(Function::named("lowest"), Some(Function::Lowest));
    assert_eq!(Function::Lowest.word(), "lowest");
}

/// Exactness: a literal is held as it was written, whatever the unit.
#[test]
fn literals_are_exact() {
    let vocabulary = vocabulary();
    let value = |text: &str| match read_in(&vocabulary, "runner", Reading::Any, text)
        .unwrap()
        .root
        .op
    {
        Op::Quantity { value, unit } => (value, unit),
        other => panic!("{other:?}"),
    };
    assert_eq!(
        value("1 3/16 in"),
        (Exact::from_decimal("30.1625").unwrap(), Unit::IN)
    );
    assert_eq!(
        value("0.1 mm"),
        (Exact::from_fraction(1, 10).unwrap(), Unit::MM)
    );
    assert_eq!(
        value("82 deg 30 min"),
        (Exact::from_decimal("82.5").unwrap(), Unit::DEG)
    );
}

/// An empty vocabulary is no trouble.
#[test]
fn a_vocabulary_without_parts_gives_words_and_no_panic() {
    let vocabulary = Vocabulary::default();
    let names = Names {
        vocabulary: &vocabulary,
        own: PartId(7),
        derived: &|_, _| None,
    };
    let place = |range: std::ops::Range<usize>| Span::new(range.start, range.end);
    for text in [
        "x",
        "boat.x",
        "count(x)",
        "sum(x over y)",
        "event.level is x",
        "x is y",
        "x.y",
    ] {
        let problems = read(text, &place, &names).unwrap_err();
        assert!(!problems.is_empty(), "{text}");
    }
}
