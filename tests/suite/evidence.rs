//! What a reading lacks as evidence, by stage, and what a second measurer changes.

use rimegauge::check::{Outcome, Reason, Settle};
use rimegauge::rules::Stage;

use super::workbench::{Bench, SHIPPED, day, rules_text};

use Outcome::{Conforms, DoesNotConform, NotDecided};

const BAR: &str = r#"
  boat: { parts: { bars: { many: bar } } }
  bar:
    measures:
      length:
        kind: length
        plausible: 2 mm to 12 mm
        methods: { micrometer: { expanded_uncertainty: 0.02 mm }, unnamed: { expanded_uncertainty: 0.06 mm } }
        fresh_for: 365 days
      width: { kind: length, placed: yes, methods: { micrometer: { expanded_uncertainty: 0.02 mm } } }
      section: { kind: section, placed: yes, methods: { protractor: { expanded_uncertainty: 0.7 deg } } }
      rounded: { kind: yes_no, ask: "Is it rounded?", fresh_for: 365 days }
    derived: { angle: included_angle(section) }"#;

const RULES: &str = "
rules:
  - { id: long, clause: A.1, title: T, text: T, applies_to: bar, value: length, at_least: 4.70 mm }
  - { id: wide, clause: A.2, title: T, text: T, applies_to: bar, value: width, judged: worst_place, places: { at_least: 2, repeats: 2 }, at_least: 4.70 mm }
  - { id: mean, clause: A.3, title: T, text: T, applies_to: bar, value: width, judged: mean, at_least: 4.70 mm }
  - { id: blunt, clause: A.4, title: T, text: T, applies_to: bar, value: angle, judged: worst_place, at_least: 75 deg }
  - { id: round, clause: A.5, title: T, text: T, applies_to: bar, value: rounded, equals: yes }
  - { id: long_when_round, clause: A.6, title: T, text: T, applies_to: bar, when: rounded, value: length, at_least: 4.70 mm }
  - { id: said_round, clause: A.7, title: T, text: T, applies_to: bar, when: rounded is yes, value: length, at_least: 4.70 mm }
  - { id: lowest, clause: A.8, title: T, text: T, applies_to: bar, value: lowest(width), at_least: 4.70 mm }
  - { id: when_long, clause: A.9, title: T, text: T, applies_to: bar, when: length > 4 mm, value: lowest(width), at_least: 4.70 mm }";

fn bench() -> Bench {
    Bench::new(&rules_text(
        SHIPPED,
        BAR.trim_matches('\n'),
        RULES.trim_matches('\n'),
    ))
}

/// The outcome of one rule at the three stages.
fn stages(bench: &Bench, text: &str, rule: &str) -> [(Outcome, Option<Reason>); 3] {
    Stage::ALL.map(|stage| bench.ask(text, stage, rule))
}

fn open(reason: Reason) -> (Outcome, Option<Reason>) {
    (NotDecided, Some(reason))
}

const PASSES: (Outcome, Option<Reason>) = (Conforms, None);

/// A length read with an instrument, in a session of a day.
fn length(instrument: &str, series: &str) -> String {
    format!(
        "{{ measured: {{ day: 2026-11-21, by: AB }}, instruments: {{ mic: {{ kind: micrometer, {instrument} }} }}, bar: {{ length: {{ {series} }} }} }}"
    )
}

#[test]
fn a_reading_without_an_instrument_is_a_sieve_for_home() {
    let bench = bench();
    let formal = open(Reason::InstrumentUnnamed);
    for text in [
        "{ measured: { day: 2026-11-21 }, bar: { length: 4.80 mm } }",
        "{ measured: { day: 2026-11-21 }, bar: { length: { readings: 4.80 mm } } }",
        // Not even a failure is one without knowing with what it was read.
        "{ measured: { day: 2026-11-21 }, bar: { length: 4.60 mm } }",
    ] {
        let home = if text.contains("4.80") {
            Conforms
        } else {
            DoesNotConform
        };
        assert_eq!(
            stages(&bench, text, "long"),
            [(home, None), formal, formal],
            "{text}"
        );
    }
    // And home decides it with the uncertainty of an unnamed one.
    let near = "{ measured: { day: 2026-11-21 }, bar: { length: 4.75 mm } }";
    assert_eq!(stages(&bench, near, "long")[0], open(Reason::NearLimit));
    let record = bench.record(near);
    let verdict = bench.check(&record, Stage::Certification);
    assert!(matches!(
        bench.of_rule(&verdict, "long")[0].settled_by,
        Some(Settle::NameInstrument)
    ));
}

#[test]
fn an_instrument_is_in_date_through_its_last_day() {
    let bench = bench();
    let with = |due: &str, taken: &str| {
        let text = length(
            &format!("calibration: {{ due: {due} }}"),
            &format!("with: mic, {taken} readings: 4.80 mm"),
        );
        stages(&bench, &text, "long")
    };
    assert_eq!(with("2026-11-21", ""), [PASSES; 3]);
    let late = open(Reason::InstrumentOutOfDate);
    assert_eq!(with("2026-11-20", ""), [PASSES, late, late]);
    // The day of the reading counts, not that of the check.
    assert_eq!(with("2026-11-20", "taken: 2026-11-20 23:59,"), [PASSES; 3]);
    assert_eq!(
        with("2026-11-20", "taken: 2026-11-21 00:01,"),
        [PASSES, late, late]
    );
}

#[test]
fn a_reading_waits_for_a_good_check_after_it() {
    let bench = bench();
    let good = |taken: &str| {
        format!(
            "{{ taken: {taken}, reference: 5.000 mm, reading: 5.01 mm, accept_within: 0.01 mm }}"
        )
    };
    let bad = |taken: &str| {
        format!(
            "{{ taken: {taken}, reference: 5.000 mm, reading: 5.0101 mm, accept_within: 0.01 mm }}"
        )
    };
    let with = |checks: &[String], taken: &str| {
        let text = length(
            &format!("checks: [ {} ]", checks.join(", ")),
            &format!("with: mic, taken: {taken}, readings: 4.80 mm"),
        );
        stages(&bench, &text, "long")
    };
    let lost = open(Reason::InstrumentCheckFailed);
    let (early, late) = ("2026-11-21 09:00", "2026-11-21 12:00");
    let at_ten = "2026-11-21 10:00";
    assert_eq!(with(&[good(early), good(late)], at_ten), [PASSES; 3]);
    assert_eq!(
        with(&[good(early), bad(late)], at_ten),
        [PASSES, lost, lost]
    );
    assert_eq!(with(&[good(early)], at_ten), [PASSES, lost, lost]);
    assert_eq!(with(&[bad(late)], at_ten), [PASSES, lost, lost]);
    assert_eq!(with(&[good(at_ten)], at_ten), [PASSES; 3]);
    // A failed check speaks against everything since the last good one, whatever comes later, and against what
    // is read before a good one shows that the instrument was put right.
    let between = "2026-11-21 11:00";
    for checks in [
        [good(early), bad(between), good(late)],
        [good(late), bad(between), good(early)],
        [bad(early), good(late), good("2026-11-21 12:30")],
    ] {
        assert_eq!(with(&checks, at_ten), [PASSES, lost, lost], "{checks:?}");
    }
    assert_eq!(
        with(&[bad(between), good(late)], at_ten),
        [PASSES, lost, lost]
    );
    assert_eq!(
        with(&[bad(early), good(late)], "2026-11-21 12:00"),
        [PASSES; 3]
    );
    // A good one on either side keeps it; checks of other days count as those of this one.
    assert_eq!(
        with(
            &[
                bad("2026-11-20 18:00"),
                good(early),
                good(between),
                bad(late)
            ],
            at_ten
        ),
        [PASSES; 3]
    );
    assert_eq!(
        with(&[good("2026-11-20 18:00"), bad("2026-11-22 08:00")], at_ten),
        [PASSES, lost, lost]
    );
    assert_eq!(
        with(
            &[good("2026-11-20 18:00"), good("2026-11-22 08:00")],
            at_ten
        ),
        [PASSES; 3]
    );
    // At the very minute of a failed check nobody knows which came first.
    assert_eq!(
        with(&[good(early), bad(at_ten), good(late)], at_ten),
        [PASSES, lost, lost]
    );
    assert_eq!(
        with(&[good(at_ten), bad(at_ten), good(late)], at_ten),
        [PASSES, lost, lost]
    );
    // Where only the day is known, a failed check of that day can have come right after it.
    assert_eq!(
        with(&[good(early), bad(between), good(late)], "2026-11-21"),
        [PASSES, lost, lost]
    );
    // Where only the day is known, a check on the same day is not held against the reading.
    assert_eq!(with(&[good(early)], "2026-11-21"), [PASSES; 3]);
    assert_eq!(
        with(&[good("2026-11-20")], "2026-11-21"),
        [PASSES, lost, lost]
    );
}

/// What is wrong with an instrument is said beside what was read with it, with the check that failed and the last
/// one that did not.
#[test]
fn what_is_wrong_with_an_instrument_is_said() {
    let bench = bench();
    let notes = |instrument: &str, taken: &str, stage: Stage| {
        let text = length(instrument, &format!("with: mic, {taken} readings: 4.80 mm"));
        let record = bench.record(&text);
        let verdict = bench.check(&record, stage);
        let found = bench.of_rule(&verdict, "long");
        found
            .iter()
            .flat_map(|one| one.notes.clone())
            .collect::<Vec<_>>()
            .join("; ")
    };
    let at_ten = "taken: 2026-11-21 10:00,";
    let checks = |last: &str| {
        format!(
            "checks: [ {{ taken: 2026-11-21 09:05, reference: 5.000 mm, reading: 5.00 mm, accept_within: 0.01 mm }}, \
             {{ taken: 2026-11-21 11:40, reference: 5.000 mm, reading: {last} mm, accept_within: 0.01 mm }} ]"
        )
    };
    let (desk, home) = (Stage::Certification, Stage::SelfCheck);
    let failed = notes(&checks("5.02"), at_ten, desk);
    assert!(
        failed.contains("mic showed 5.02 mm of 5 mm on 2026-11-21 11:40; last good check before it: 2026-11-21 09:05"),
        "{failed}"
    );
    assert_eq!(notes(&checks("5.02"), at_ten, home), "");
    // The border of what is accepted, on either side.
    assert_eq!(notes(&checks("5.01"), at_ten, desk), "");
    assert_eq!(notes(&checks("4.99"), at_ten, desk), "");
    assert!(notes(&checks("4.9899"), at_ten, desk).contains("mic showed 4.9899 mm"));
    let after = notes(&checks("5.00"), "taken: 2026-11-21 12:00,", desk);
    assert!(
        after.contains(
            "mic was not checked after the reading; last good check before it: 2026-11-21 11:40"
        ),
        "{after}"
    );
    let none = notes("", "", desk);
    assert!(
        none.contains("mic has neither a calibration nor a check"),
        "{none}"
    );
    let late = notes("calibration: { due: 2026-11-20 }", "", desk);
    assert!(
        late.contains("the calibration of mic counted until 2026-11-20"),
        "{late}"
    );
    assert_eq!(notes("calibration: { due: 2026-11-21 }", "", desk), "");
}

#[test]
fn a_reading_is_fresh_for_its_days_and_of_no_age_without_one() {
    let bench = bench();
    let taken = |day: &str| {
        stages(
            &bench,
            &length("", &format!("with: mic, taken: {day}, readings: 4.80 mm")),
            "long",
        )
    };
    assert_eq!(taken("2025-11-21"), [PASSES; 3]);
    assert_eq!(taken("2025-11-20"), [open(Reason::Stale); 3]);
    let undated = length("", "with: mic, readings: 4.80 mm").replace("day: 2026-11-21, ", "");
    assert_eq!(stages(&bench, &undated, "long"), [open(Reason::Stale); 3]);
    // What needs no freshness needs no day.
    let wide = "{ instruments: { mic: { kind: micrometer } }, bar: { width: { with: mic, places: [ { at: 0 mm, readings: 5 5 mm }, { at: 1 mm, readings: 5 5 mm } ] } } }";
    assert_eq!(stages(&bench, wide, "wide"), [PASSES; 3]);
    // On another day the same reading is older.
    let later = Bench {
        on: day("2027-11-22"),
        ..bench.clone()
    };
    let text = length("", "with: mic, readings: 4.80 mm");
    assert_eq!(stages(&bench, &text, "long"), [PASSES; 3]);
    assert_eq!(stages(&later, &text, "long"), [open(Reason::Stale); 3]);
}

#[test]
fn an_implausible_reading_waits_for_a_name() {
    let bench = bench();
    let read = |readings: &str| {
        stages(
            &bench,
            &length("", &format!("with: mic, readings: {readings}")),
            "long",
        )
    };
    // Both ends are plausible, and a failure that is implausible is none yet.
    assert_eq!(read("12 mm"), [PASSES; 3]);
    assert_eq!(read("12.01 mm"), [open(Reason::Implausible); 3]);
    assert_eq!(read("2 mm"), [(DoesNotConform, None); 3]);
    assert_eq!(read("1.99 mm"), [open(Reason::Implausible); 3]);
    assert_eq!(read("0.47 in"), [PASSES; 3]);
    assert_eq!(read("0.48 in"), [open(Reason::Implausible); 3]);
    assert_eq!(read("12.01 mm, confirmed_by: AB"), [PASSES; 3]);
    assert_eq!(
        read("1.99 mm, confirmed_by: AB"),
        [(DoesNotConform, None); 3]
    );
    // One slip among the repeats is enough, though their mean is plausible; made void it counts no longer.
    assert_eq!(read("4.76 15.0 4.76 mm"), [open(Reason::Implausible); 3]);
    assert_eq!(
        read("4.76 15.0 4.76 mm, void: { reading: 2, because: a slip, by: AB }"),
        [PASSES; 3]
    );
}

#[test]
fn a_look_has_a_name() {
    let bench = bench();
    let named = |session: &str, answer: &str| {
        let text = format!(
            "{{ measured: {{ day: 2026-11-21, {session} }}, instruments: {{ mic: {{ kind: micrometer }} }}, bar: {{ rounded: {answer}, length: {{ with: mic, readings: 9 mm }} }} }}"
        );
        ["round", "long_when_round", "said_round"].map(|rule| stages(&bench, &text, rule))
    };
    let nobody = open(Reason::NeedsJudgement);
    let formal = [PASSES, nobody, nobody];
    assert_eq!(named("", "yes"), [formal; 3]);
    assert_eq!(named("", "{ answer: yes }"), [formal; 3]);
    assert_eq!(named("by: AB", "yes"), [[PASSES; 3]; 3]);
    assert_eq!(named("", "{ answer: yes, by: CD }"), [[PASSES; 3]; 3]);
    let fails = (DoesNotConform, None);
    let not_asked = (Outcome::NotApplicable, Some(Reason::Condition));
    assert_eq!(
        named("by: AB", "no"),
        [[fails; 3], [not_asked; 3], [not_asked; 3]]
    );
    assert_eq!(
        named("", "no"),
        [
            [fails, nobody, nobody],
            [not_asked, nobody, nobody],
            [not_asked, nobody, nobody]
        ]
    );
    // An old look is as stale as an old reading, at home too: asked for or as a condition, in either form.
    let old = "{ answer: yes, by: CD, day: 2025-11-20 }";
    assert_eq!(named("by: AB", old), [[open(Reason::Stale); 3]; 3]);
}

#[test]
fn the_gravest_lack_is_told() {
    let bench = bench();
    let all = "calibration: { due: 2020-01-01 }, checks: [ { taken: 2020-01-01, reference: 5 mm, reading: 5 mm, accept_within: 0.01 mm } ]";
    let text = |value: &str, taken: &str| {
        length(
            all,
            &format!("with: mic, taken: {taken}, readings: {value}"),
        )
    };
    assert_eq!(
        stages(&bench, &text("90 mm", "2020-05-01"), "long"),
        [open(Reason::Implausible); 3]
    );
    assert_eq!(
        stages(&bench, &text("9 mm", "2020-05-01"), "long"),
        [open(Reason::Stale); 3]
    );
    let lost = open(Reason::InstrumentCheckFailed);
    assert_eq!(
        stages(&bench, &text("9 mm", "2026-11-21"), "long"),
        [PASSES, lost, lost]
    );
    // Nothing that can't be used decides against anybody.
    assert_eq!(
        stages(&bench, &text("3 mm", "2026-11-21"), "long"),
        [(DoesNotConform, None), lost, lost]
    );
}

#[test]
fn what_is_computed_lacks_what_its_readings_lack() {
    let bench = bench();
    let text = "{ measured: { day: 2026-11-21, by: AB }, instruments: { mic: { kind: micrometer, calibration: { due: 2026-11-20 } } },
        bar: { width: { with: mic, places: [ { at: 0 mm, readings: 5 5 mm }, { at: 1 mm, readings: 5 5 mm } ] } } }";
    let late = open(Reason::InstrumentOutOfDate);
    for rule in ["wide", "mean", "lowest"] {
        assert_eq!(stages(&bench, text, rule), [PASSES, late, late], "{rule}");
    }
    // A condition on a reading waits for it too.
    let both = text
        .replace("bar: {", "bar: { length: { with: mic, readings: 9 mm },")
        .replace("with: mic, places", "with: exact, places");
    assert_eq!(stages(&bench, &both, "when_long"), [PASSES, late, late]);
}

// ---- a second measurer

/// Series of the width by two measurers or more, each a list of places.
fn measured_by(series: &[&str]) -> String {
    let names = ["AB", "CD", "EF"];
    let each = series.iter().enumerate().map(|(number, places)| {
        let second = if number == 0 { "" } else { "second: yes, " };
        format!(
            "{{ by: {}, with: exact, {second}places: [ {places} ] }}",
            names[number]
        )
    });
    format!(
        "bar: {{ width: {{ series: [ {} ] }} }}",
        each.collect::<Vec<_>>().join(", ")
    )
}

fn place(at: i64, readings: &str) -> String {
    format!("{{ at: {at} mm, readings: {readings} mm }}")
}

#[test]
fn different_outcomes_of_two_measurers_decide_nothing() {
    let bench = bench();
    let asked = |series: &[&str]| stages(&bench, &measured_by(series), "wide");
    let (good, bad) = (place(0, "4.70 4.70"), place(0, "4.69 4.69"));
    let other = place(9, "5 5");
    let both = |a: &String| format!("{a}, {other}");
    let disagree = open(Reason::MeasurersDisagree);
    assert_eq!(asked(&[&both(&good), &good]), [PASSES; 3]);
    assert_eq!(asked(&[&both(&bad), &bad]), [(DoesNotConform, None); 3]);
    assert_eq!(asked(&[&both(&good), &bad]), [disagree; 3]);
    assert_eq!(asked(&[&both(&bad), &good]), [disagree; 3]);
    // A third measurer is heard as well.
    assert_eq!(asked(&[&both(&good), &good, &bad]), [disagree; 3]);
    assert_eq!(asked(&[&both(&good), &good, &good]), [PASSES; 3]);
    // Different values with one outcome are no disagreement, and are not averaged.
    assert_eq!(asked(&[&both(&good), &place(0, "9 9")]), [PASSES; 3]);
    let record = bench.record(&measured_by(&[&both(&good), &place(0, "9 9")]));
    let verdict = bench.check(&record, Stage::Certification);
    let margin = bench.of_rule(&verdict, "wide")[0].margin.clone().unwrap();
    assert!(margin.as_exact().unwrap().is_zero());
}

#[test]
fn two_measurers_are_compared_place_by_place() {
    let bench = bench();
    let asked = |series: &[&str]| stages(&bench, &measured_by(series), "wide");
    let places = |a: &str, b: &str| format!("{}, {}", place(0, a), place(9, b));
    // Each finds one place bad, and not the same one: at neither place do they agree.
    assert_eq!(
        asked(&[&places("4.69 4.69", "5 5"), &places("5 5", "4.69 4.69")]),
        [open(Reason::MeasurersDisagree); 3]
    );
    // A place that both find bad stays bad, whatever they say of another.
    assert_eq!(
        asked(&[
            &places("4.69 4.69", "5 5"),
            &places("4.60 4.60", "4.69 4.69")
        ]),
        [(DoesNotConform, None); 3]
    );
    // A place only the second has is added: it fails, and it counts.
    assert_eq!(
        asked(&[&places("5 5", "5 5"), &place(18, "4.69 4.69")]),
        [(DoesNotConform, None); 3]
    );
    assert_eq!(asked(&[&place(0, "5 5"), &place(18, "5 5")]), [PASSES; 3]);
    assert_eq!(
        asked(&[&place(0, "5 5"), &place(0, "5 5")]),
        [open(Reason::TooFewPlaces); 3]
    );
    // Fewer repeats of the second are no disagreement: the first series is the one that is asked for them.
    assert_eq!(asked(&[&places("5 5", "5 5"), &place(0, "5")]), [PASSES; 3]);
    assert_eq!(
        asked(&[&places("5", "5 5"), &place(0, "5 5")]),
        [open(Reason::TooFewRepeats); 3]
    );
}

#[test]
fn second_measurers_are_heard_in_means_angles_and_conditions() {
    let bench = bench();
    let disagree = open(Reason::MeasurersDisagree);
    let means = |second: &str| stages(&bench, &measured_by(&[&place(0, "5 5"), second]), "mean");
    assert_eq!(means(&place(0, "4 4")), [disagree; 3]);
    assert_eq!(means(&place(0, "4.8 4.8")), [PASSES; 3]);
    // The second's own place joins the first's mean.
    assert_eq!(means(&place(9, "4.2 4.2")), [(DoesNotConform, None); 3]);

    let angle = |first: &str, second: &str| {
        let at = |bevel: &str| {
            format!("places: [ {{ at: 0 mm, bevels: {{ port: {bevel}, starboard: {bevel} }} }} ]")
        };
        let text = format!(
            "bar: {{ section: {{ series: [ {{ by: AB, with: exact, {} }}, {{ by: CD, with: exact, second: yes, {} }} ] }} }}",
            at(first),
            at(second)
        );
        stages(&bench, &text, "blunt")
    };
    assert_eq!(angle("40 deg", "45 deg"), [PASSES; 3]);
    assert_eq!(angle("40 deg", "30 deg"), [disagree; 3]);

    // Whether a rule is asked depends on the length, on which two measurers differ.
    let when = |second: &str, width: &str| {
        let text = format!(
            "{{ measured: {{ day: 2026-11-21 }}, bar: {{ length: {{ series: [ {{ by: AB, with: exact, readings: 5 mm }}, {{ by: CD, with: exact, second: yes, readings: {second} }} ] }},
               width: {{ with: exact, places: [ {} ] }} }} }}",
            place(0, width)
        );
        stages(&bench, &text, "when_long")
    };
    assert_eq!(when("4.5 mm", "5"), [PASSES; 3]);
    assert_eq!(when("3.5 mm", "5"), [disagree; 3]);
    assert_eq!(when("3.5 mm", "4"), [disagree; 3]);
}

#[test]
fn what_only_the_second_measured_is_not_measured() {
    // The first series is decided whole; the loader asks that it stands first.
    let bench = bench();
    let mut record = bench.record(&measured_by(&[&place(0, "5 5"), &place(0, "5 5")]));
    if let Some(rimegauge::record::Found::Series(series)) = record.items[1]
        .measures
        .iter_mut()
        .flatten()
        .map(|one| &mut one.found)
        .next()
    {
        series.retain(|one| one.second);
    }
    let verdict = bench.check(&record, Stage::Certification);
    let found = bench.of_rule(&verdict, "wide")[0];
    assert_eq!((found.outcome, found.reason), open(Reason::NotMeasured));
}
