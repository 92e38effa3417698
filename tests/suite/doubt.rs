//! Limits and uncertainty: a value on a limit, the table of decisions, and what more uncertainty may change.
//!
//! Sources of the table: JCGM 106:2012, clause 8, and ISO 14253-1; what each stage does is the class's own.

use std::sync::Arc;

use proptest::prelude::*;
use rimegauge::check::{Finding, Outcome, Plan, Reason};
use rimegauge::quantity::{Exact, Number};
use rimegauge::record::Record;
use rimegauge::rules::{self, RulesFile, Stage};

use super::small::{records, small};
use super::tree::as_written;
use super::workbench::{Bench, EACH, Policy, SHIPPED, always, cases, rules_text, worst_by_item};

use Outcome::{Conforms, DoesNotConform, NotDecided};

/// A class with one length, once plain and once at places, and what is computed of it.
const LENGTHS: &str = "
  boat:
    parts: { bars: { many: bar } }
  bar:
    measures:
      length: { kind: length, methods: { micrometer: { expanded_uncertainty: 0.02 mm }, unnamed: { expanded_uncertainty: 0.06 mm } } }
      width: { kind: length, placed: yes, methods: { micrometer: { expanded_uncertainty: 0.02 mm }, unnamed: { expanded_uncertainty: 0.06 mm } } }
      other: length
    derived: { excess: length - other }";

fn lengths(policy: Policy, limit: &str) -> Bench {
    let rules = format!(
        "rules:
  - {{ id: plain, clause: A.1, title: T, text: T, applies_to: bar, value: length, {limit} }}
  - {{ id: placed, clause: A.2, title: T, text: T, applies_to: bar, value: width, judged: worst_place, {limit} }}
  - {{ id: mean, clause: A.3, title: T, text: T, applies_to: bar, value: width, judged: mean, {limit} }}
  - {{ id: lowest, clause: A.4, title: T, text: T, applies_to: bar, value: lowest(width), {limit} }}"
    );
    Bench::new(&rules_text(policy, LENGTHS.trim_matches('\n'), &rules))
}

/// Thousandths of a millimetre in one of six units, exactly.
fn written(thousandths: i64, unit: usize) -> String {
    let n = i128::from(thousandths);
    let (n, d, symbol) = [
        (n, 1000, "mm"),
        (n, 1_000_000, "m"),
        (n, 1, "um"),
        (n * 5, 127_000, "in"),
        (n, 10_000, "cm"),
        (n * 5, 1_524_000, "ft"),
    ][unit];
    format!("{} {symbol}", as_written(n, d))
}

fn is_zero(margin: Option<&Number>) -> bool {
    matches!(margin, Some(Number::Exact(exact)) if exact.is_zero())
}

fn units() -> impl Strategy<Value = usize> {
    0..6_usize
}

const KINDS: [(&str, bool); 4] = [
    ("at_least", false),
    ("more_than", true),
    ("at_most", false),
    ("less_than", true),
];

proptest! {
    #![proptest_config(cases(150))]

    /// The margin of a reading written at the limit is exactly zero in any unit mix. It belongs to the permitted
    /// range of `at_least` and `at_most`, and to that of neither strict limit.
    #[test]
    fn a_reading_on_the_limit_has_no_margin(
        n in 1_i64..20_000_000, limit in units(), reading in units(), again in units(), kind in 0..4_usize,
    ) {
        let (word, strict) = KINDS[kind];
        let on_it = if strict { DoesNotConform } else { Conforms };
        let bench = lengths(EACH, &format!("{word}: {}", written(n, limit)));
        let (one, other) = (written(n, reading), written(n, again));
        let text = |with: &str| format!(
            "bar: {{ length: {{ {with} readings: {one} }}, width: {{ {with} places: [ {{ at: 0 mm, readings: [{other}, {one}] }}, {{ at: 5 mm, readings: {one} }} ] }} }}"
        );
        // Without uncertainty every decision rule is the same.
        let exact = bench.record(&text("with: exact,"));
        let known = bench.record(&text(""));
        for stage in Stage::ALL {
            for finding in &bench.check(&exact, stage).findings {
                prop_assert!(is_zero(finding.margin.as_ref()), "{finding:?}");
                prop_assert_eq!(finding.outcome, on_it);
                prop_assert!(!finding.benefit_of_doubt && !finding.second_measurer);
            }
        }
        // With one, the value still stands under simple acceptance, and has no more margin.
        for finding in &bench.check(&known, Stage::SelfCheck).findings {
            prop_assert!(is_zero(finding.margin.as_ref()), "{finding:?}");
            prop_assert_eq!(finding.outcome, on_it);
            prop_assert!(finding.second_measurer);
        }
    }

    /// The same where the value or the limit is computed with + − × ÷.
    #[test]
    fn a_computed_value_on_the_limit_has_no_margin(
        a in 1_i64..5_000_000, b in 1_i64..5_000_000, limit in units(), one in units(), two in units(), kind in 0..4_usize,
    ) {
        let (word, strict) = KINDS[kind];
        let on_it = if strict { DoesNotConform } else { Conforms };
        let rules = format!(
            "rules:
  - {{ id: difference, clause: A.1, title: T, text: T, applies_to: bar, value: excess, {word}: \"{0}\" }}
  - {{ id: measured_limit, clause: A.2, title: T, text: T, applies_to: bar, value: length, {word}: \"other + {0}\" }}
  - {{ id: ratio, clause: A.3, title: T, text: T, applies_to: bar, value: \"length / other - {1} / {2}\", {word}: \"0\" }}",
            written(a, limit), written(a + b, limit), written(b, two),
        );
        let bench = Bench::new(&rules_text(EACH, LENGTHS.trim_matches('\n'), &rules));
        let record = bench.record(&format!(
            "bar: {{ length: {{ with: exact, readings: {} }}, other: {{ with: exact, readings: {} }} }}",
            written(a + b, one), written(b, two),
        ));
        for stage in Stage::ALL {
            for finding in &bench.check(&record, stage).findings {
                prop_assert!(is_zero(finding.margin.as_ref()), "{finding:?}");
                prop_assert_eq!(finding.outcome, on_it);
            }
        }
    }
}

/// What each decision rule says of a value some hundredths off the limit, with U = 0.02 mm.
struct Row {
    /// Hundredths of a millimetre into the permitted range.
    inside: i64,
    /// Under simple acceptance, guarded acceptance and guarded rejection; with the limit permitted, and strict.
    closed: [Outcome; 3],
    strict: [Outcome; 3],
}

const TABLE: [Row; 9] = [
    Row {
        inside: 3,
        closed: [Conforms, Conforms, Conforms],
        strict: [Conforms, Conforms, Conforms],
    },
    // T + g: shown to conform where the border itself is permitted.
    Row {
        inside: 2,
        closed: [Conforms, Conforms, Conforms],
        strict: [Conforms, NotDecided, Conforms],
    },
    Row {
        inside: 1,
        closed: [Conforms, NotDecided, Conforms],
        strict: [Conforms, NotDecided, Conforms],
    },
    // T.
    Row {
        inside: 0,
        closed: [Conforms, NotDecided, Conforms],
        strict: [DoesNotConform, NotDecided, Conforms],
    },
    Row {
        inside: -1,
        closed: [DoesNotConform, NotDecided, Conforms],
        strict: [DoesNotConform, NotDecided, Conforms],
    },
    // T − g: not shown to lie outside where the border itself is permitted.
    Row {
        inside: -2,
        closed: [DoesNotConform, NotDecided, Conforms],
        strict: [DoesNotConform, DoesNotConform, DoesNotConform],
    },
    Row {
        inside: -3,
        closed: [DoesNotConform, DoesNotConform, DoesNotConform],
        strict: [DoesNotConform, DoesNotConform, DoesNotConform],
    },
    Row {
        inside: -40,
        closed: [DoesNotConform, DoesNotConform, DoesNotConform],
        strict: [DoesNotConform, DoesNotConform, DoesNotConform],
    },
    Row {
        inside: 40,
        closed: [Conforms, Conforms, Conforms],
        strict: [Conforms, Conforms, Conforms],
    },
];

/// A reading taken with an instrument whose expanded uncertainty is 0.02 mm and nothing else.
fn with_micrometer(hundredths: i64) -> String {
    let reading = as_written(i128::from(hundredths), 100);
    format!(
        "{{ measured: {{ day: 2026-11-21, by: AB }}, instruments: {{ mic: {{ kind: micrometer }} }},
          bar: {{ length: {{ with: mic, readings: {reading} mm }}, width: {{ with: mic, places: [ {{ at: 0 mm, readings: {reading} mm }} ] }} }} }}"
    )
}

#[test]
fn the_table_of_decisions() {
    for (word, strict) in KINDS {
        let lower = matches!(word, "at_least" | "more_than");
        let bench = lengths(EACH, &format!("{word}: 4.70 mm"));
        for row in &TABLE {
            let value = if lower {
                470 + row.inside
            } else {
                470 - row.inside
            };
            let expected = if strict { row.strict } else { row.closed };
            let record = bench.record(&with_micrometer(value));
            for (stage, expected) in Stage::ALL.into_iter().zip(expected) {
                let verdict = bench.check(&record, stage);
                assert_eq!(verdict.findings.len(), 4);
                assert_eq!(verdict.outcome, expected);
                for finding in &verdict.findings {
                    let told = format!("{word} 4.70 mm, {value}, {stage:?}: {finding:?}");
                    assert_eq!(finding.outcome, expected, "{told}");
                    let reason = (expected == NotDecided).then_some(Reason::NearLimit);
                    assert_eq!(finding.reason, reason, "{told}");
                    // Within g of the limit, borders included, somebody else measures as well.
                    assert_eq!(finding.second_measurer, row.inside.abs() <= 2, "{told}");
                    // Outside the limit and let through is said.
                    let itself = row.inside > 0 || row.inside == 0 && !strict;
                    let doubt = stage == Stage::EventInspection && expected == Conforms && !itself;
                    assert_eq!(finding.benefit_of_doubt, doubt, "{told}");
                    let margin = finding.margin.as_ref().unwrap().as_exact().unwrap();
                    assert_eq!(*margin, Exact::from_fraction(row.inside, 100).unwrap());
                    assert_eq!(finding.expanded.unwrap().U, 0.02);
                }
            }
        }
    }
}

#[test]
fn the_guard_band_is_the_guard_factor_times_the_uncertainty() {
    for (factor, g) in [("0", 0), ("0.5", 1), ("1", 2), ("1.5", 3), ("2", 4)] {
        let policy = Policy {
            guard_factor: factor,
            ..EACH
        };
        let bench = lengths(policy, "at_least: 4.70 mm");
        for inside in -6..=6_i64 {
            let text = with_micrometer(470 + inside);
            let accepted = bench.ask(&text, Stage::Certification, "plain").0;
            let expected = match inside {
                _ if inside >= g => Conforms,
                _ if inside < -g => DoesNotConform,
                _ => NotDecided,
            };
            assert_eq!(accepted, expected, "guard factor {factor}, {inside}");
            let passed = bench.ask(&text, Stage::EventInspection, "plain").0;
            let expected = if inside >= -g {
                Conforms
            } else {
                DoesNotConform
            };
            assert_eq!(passed, expected, "guard factor {factor}, {inside}");
        }
    }
}

#[test]
fn two_sides_are_two_findings() {
    let bench = lengths(SHIPPED, "at_least: 4.70 mm, at_most: 4.75 mm");
    let record = bench.record(&with_micrometer(474));
    let verdict = bench.check(&record, Stage::Certification);
    let sides: Vec<_> = bench
        .of_rule(&verdict, "plain")
        .iter()
        .map(|finding| {
            let margin = finding.margin.as_ref().unwrap().to_f64();
            (
                finding.side.unwrap().word(),
                finding.outcome,
                (margin * 100.0).round() as i64,
            )
        })
        .collect();
    assert_eq!(
        sides,
        [("at_least", Conforms, 4), ("at_most", NotDecided, 1)]
    );
    // Neither side takes the other's outcome.
    let record = bench.record(&with_micrometer(460));
    let verdict = bench.check(&record, Stage::Certification);
    let sides: Vec<_> = bench
        .of_rule(&verdict, "plain")
        .iter()
        .map(|finding| finding.outcome)
        .collect();
    assert_eq!(sides, [DoesNotConform, Conforms]);
}

#[test]
fn one_sided_readings_decide_what_they_reach() {
    let read = |bench: &Bench, text: &str| {
        bench.ask(
            &format!("bar: {{ length: {text} }}"),
            Stage::SelfCheck,
            "plain",
        )
    };
    let least = lengths(SHIPPED, "at_least: 4.70 mm");
    assert_eq!(read(&least, "{ more_than: 4.76 mm }"), (Conforms, None));
    assert_eq!(
        read(&least, "{ more_than: 4.75 mm }"),
        (NotDecided, Some(Reason::NotReached))
    );
    assert_eq!(
        read(&least, "{ more_than: 1 mm }"),
        (NotDecided, Some(Reason::NotReached))
    );
    assert_eq!(
        read(&least, "{ less_than: 4.60 mm }"),
        (DoesNotConform, None)
    );
    assert_eq!(
        read(&least, "{ less_than: 9 mm }"),
        (NotDecided, Some(Reason::NotReached))
    );
    let most = lengths(SHIPPED, "at_most: 4.70 mm");
    assert_eq!(read(&most, "{ less_than: 4.64 mm }"), (Conforms, None));
    assert_eq!(
        read(&most, "{ more_than: 4.80 mm }"),
        (DoesNotConform, None)
    );
    assert_eq!(
        read(&most, "{ more_than: 4.60 mm }"),
        (NotDecided, Some(Reason::NotReached))
    );
}

#[test]
fn an_unknown_uncertainty_decides_nothing_but_by_simple_acceptance() {
    let rules = "rules:\n  - { id: other, clause: A.1, title: T, text: T, applies_to: bar, value: other, at_least: 4.70 mm }";
    let bench = Bench::new(&rules_text(EACH, LENGTHS.trim_matches('\n'), rules));
    for text in [
        "bar: { other: 9 mm }",
        "{ instruments: { lath: { kind: lath } }, bar: { other: { with: lath, readings: 9 mm } } }",
    ] {
        assert_eq!(bench.ask(text, Stage::SelfCheck, "other"), (Conforms, None));
        let open = (NotDecided, Some(Reason::UncertaintyUnknown));
        let named = text.contains("lath");
        for stage in [Stage::Certification, Stage::EventInspection] {
            let unnamed = (NotDecided, Some(Reason::InstrumentUnnamed));
            assert_eq!(
                bench.ask(text, stage, "other"),
                if named { open } else { unnamed }
            );
        }
    }
}

// ---- more uncertainty

/// What grows.
#[derive(Clone, Copy, Debug)]
enum More {
    Resolution,
    MaximumPermissibleError,
    Repeatability,
    Calibration,
    Floors,
    GuardFactor,
}

fn more() -> impl Strategy<Value = More> {
    prop::sample::select(vec![
        More::Resolution,
        More::MaximumPermissibleError,
        More::Repeatability,
        More::Calibration,
        More::Floors,
        More::GuardFactor,
    ])
}

/// The same rules and record with one kind of figure larger; what is not stated stays so, since an uncertainty
/// that becomes known is no larger one.
fn grown(bench: &Bench, record: &Record, more: More, times: i64) -> (Bench, Record) {
    let factor = Exact::from_fraction(times, 4).unwrap();
    let grow = |figure: &mut Exact| *figure = figure.mul(&factor);
    let (mut rules, mut record) = (RulesFile::clone(bench.plan.rules()), record.clone());
    match more {
        More::GuardFactor => grow(&mut rules.decision.guard_factor),
        More::Floors => {
            let parts = rules.vocabulary.parts.iter_mut();
            let measures = parts.flat_map(|part| &mut part.measures);
            for method in measures.flat_map(|measure| &mut measure.methods) {
                grow(&mut method.expanded_uncertainty);
            }
        }
        More::Resolution
        | More::MaximumPermissibleError
        | More::Repeatability
        | More::Calibration => {
            for instrument in Arc::make_mut(&mut record.instruments) {
                let figure = match more {
                    More::Resolution => instrument.resolution.as_mut(),
                    More::MaximumPermissibleError => instrument.max_permissible_error.as_mut(),
                    More::Repeatability => instrument.repeatability.as_mut(),
                    _ => instrument
                        .calibration
                        .as_mut()
                        .and_then(|one| one.expanded_uncertainty.as_mut()),
                };
                if let Some(figure) = figure {
                    grow(figure);
                }
            }
        }
    }
    let grown = Bench {
        plan: Arc::new(Plan::compile(Arc::new(rules))),
        ..bench.clone()
    };
    (grown, record)
}

/// Whether anything measured decides which limit holds, or what is counted.
fn has_measured_condition(rules: &RulesFile, id: &str) -> bool {
    use rimegauge::expression::{Expression, Op};
    let Some(rule) = rules.rules.iter().find(|rule| rule.id.text == id) else {
        // Limits on marks: their caps can ask for measured things.
        return true;
    };
    let compares = |one: &Expression| {
        let mut found = false;
        one.root.visit(one.own, &rules.vocabulary, &mut |_, node| {
            found |= matches!(node.op, Op::Compare(..));
        });
        found
    };
    compares(&rule.value)
        || rule.when.as_ref().is_some_and(compares)
        || rule.instead.iter().any(|row| compares(&row.condition))
}

/// The law of each decision rule for one record.
fn more_uncertainty(
    bench: &Bench,
    record: &Record,
    more: More,
    times: i64,
) -> Result<(), TestCaseError> {
    let rules = bench.plan.rules();
    let decision = rules.decision.rules.self_check;
    let (worse, its_record) = grown(bench, record, more, times);
    for stage in Stage::ALL {
        let before = worst_by_item(bench, record, &bench.check(record, stage));
        let after = worst_by_item(&worse, &its_record, &worse.check(&its_record, stage));
        for (name, before) in before {
            let after = after[&name];
            let holds = match decision {
                // The value alone decides.
                rimegauge::uncertainty::DecisionRule::SimpleAcceptance => after == before,
                // Whatever changes becomes a doubt.
                rimegauge::uncertainty::DecisionRule::GuardedAcceptance => {
                    after == before || after == NotDecided
                }
                // Doubt passes, so that nothing gets worse; where something measured decides which limit
                // holds, that can become a doubt of its own.
                rimegauge::uncertainty::DecisionRule::GuardedRejection => {
                    after >= before || has_measured_condition(rules, &name.0) && after == NotDecided
                }
            };
            prop_assert!(
                holds,
                "{:?} under {:?} at {:?}: {:?} became {:?}",
                name,
                decision,
                stage,
                before,
                after
            );
        }
    }
    Ok(())
}

fn decisions() -> impl Strategy<Value = Policy> {
    prop::sample::select(vec![
        always("simple_acceptance"),
        always("guarded_acceptance"),
        always("guarded_rejection"),
    ])
}

proptest! {
    #![proptest_config(cases(150))]

    /// More uncertainty never turns a doubt into a pass under guarded acceptance, nor a failure into anything
    /// but a doubt; changes nothing under simple acceptance; and makes nothing worse under guarded rejection.
    #[test]
    fn more_uncertainty_only_doubts(
        tree in records(), policy in decisions(), more in more(), times in 4_i64..80,
    ) {
        let bench = small(policy).at_level("club");
        let record = bench.record(&tree.to_file());
        more_uncertainty(&bench, &record, more, times)?;
    }
}

#[test]
fn more_uncertainty_only_doubts_in_the_filled_forms() {
    let shipped = super::shipped::forms();
    for decision in [
        "simple_acceptance",
        "guarded_acceptance",
        "guarded_rejection",
    ] {
        let mut rules = RulesFile::clone(super::shipped::tarn_8().plan.rules());
        let rule = match decision {
            "simple_acceptance" => rimegauge::uncertainty::DecisionRule::SimpleAcceptance,
            "guarded_acceptance" => rimegauge::uncertainty::DecisionRule::GuardedAcceptance,
            _ => rimegauge::uncertainty::DecisionRule::GuardedRejection,
        };
        rules.decision.rules = rules::ByStage::of(|_| rule);
        let bench = Bench::of(Plan::compile(Arc::new(rules))).at_level("club");
        for (name, form) in &shipped {
            // The other forms have the same readings in other words.
            if !["borderline.yaml", "many-faults.yaml"].contains(&name.as_str()) {
                continue;
            }
            let record = bench.record(form);
            for more in [
                More::Resolution,
                More::MaximumPermissibleError,
                More::Calibration,
                More::Floors,
                More::GuardFactor,
            ] {
                more_uncertainty(&bench, &record, more, 7)
                    .unwrap_or_else(|found| panic!("{name}: {found}"));
            }
        }
    }
}

#[test]
fn a_class_that_doubts_the_worst_outcome_and_not_the_worst_value() {
    // A rough reading further inside is in doubt; the fine one nearer to the limit is not: the rule is open.
    let bench = lengths(SHIPPED, "at_least: 4.70 mm");
    let text = "{ measured: { day: 2026-11-21, by: AB },
        instruments: { fine: { kind: micrometer }, coarse: { kind: lath, max_permissible_error: 0.2 mm } },
        bar: { width: { series: [
          { with: fine, by: AB, places: [ { at: 0 mm, readings: 4.73 mm } ] },
          { with: coarse, by: CD, second: yes, places: [ { at: 5 mm, readings: 4.80 mm } ] } ] } } }";
    assert_eq!(
        bench.ask(text, Stage::Certification, "placed"),
        (NotDecided, Some(Reason::NearLimit))
    );
    let record = bench.record(text);
    let verdict = bench.check(&record, Stage::Certification);
    let shown: Vec<&Finding> = bench.of_rule(&verdict, "placed");
    let at = shown[0].place.as_ref().unwrap().at.clone().unwrap();
    assert_eq!(at, Exact::from_integer(5));
    // A rough failure is no failure: the fine place decides against, whatever lies lower.
    let text = text.replace("4.73", "4.66").replace("4.80", "4.60");
    let record = bench.record(&text);
    let verdict = bench.check(&record, Stage::Certification);
    let shown = bench.of_rule(&verdict, "placed");
    assert_eq!(shown[0].outcome, DoesNotConform);
    let at = shown[0].place.as_ref().unwrap().at.clone().unwrap();
    assert_eq!(at, Exact::from_integer(0));
}

#[test]
fn a_limit_that_is_measured_carries_its_uncertainty() {
    let rules = "rules:\n  - { id: limited, clause: A.1, title: T, text: T, applies_to: bar, value: length, at_most: 0.5 * other }";
    let bench = Bench::new(&rules_text(SHIPPED, LENGTHS.trim_matches('\n'), rules));
    let text = |length: &str| {
        format!(
            "{{ measured: {{ day: 2026-11-21, by: AB }}, instruments: {{ mic: {{ kind: micrometer }}, rod: {{ kind: rod, max_permissible_error: 1 mm }} }},
               bar: {{ length: {{ with: mic, readings: {length} }}, other: {{ with: rod, readings: 200 mm }} }} }}"
        )
    };
    let asked = |length: &str| bench.ask(&text(length), Stage::Certification, "limited").0;
    // u of the limit is 0.5 × 1 mm/√3, so U is about 0.57 mm.
    assert_eq!(asked("99.4 mm"), Conforms);
    assert_eq!(asked("99.5 mm"), NotDecided);
    assert_eq!(asked("100.5 mm"), NotDecided);
    assert_eq!(asked("100.6 mm"), DoesNotConform);
}
