//! The profile of an edge by stations, on the whole way from a record: flats, gaps at a place, what is said
//! beside them, and laws.

use proptest::prelude::*;
use rimegauge::check::{FoundValue, Outcome, Reason};
use rimegauge::quantity::Exact;
use rimegauge::rules::Stage;

use super::workbench::{Bench, SHIPPED, cases, rules_text};

use Outcome::{Conforms, DoesNotConform, NotDecided};

const EQUIPMENT: &str = "
  boat: { parts: { runners: { many: runner } } }
  runner:
    measures:
      edge_profile: { kind: profile, methods: { leaves: { expanded_uncertainty: 0.01 mm }, unnamed: { expanded_uncertainty: 0.03 mm } } }
";

const RULES: &str = "rules:
  - { id: flat, clause: A.1, title: t, text: t, applies_to: runner, value: 'flat_length(edge_profile, 0.20 mm)', at_least: 450 mm }
  - { id: fore, clause: A.2, title: t, text: t, applies_to: runner, value: 'forward_flat(edge_profile, 0.20 mm)', at_least: 200 mm }
  - { id: aft, clause: A.3, title: t, text: t, applies_to: runner, value: 'aft_flat(edge_profile, 0.20 mm)', at_least: 200 mm }
  - { id: gap, clause: A.4, title: t, text: t, applies_to: runner, value: 'max(gap_at(edge_profile, -250 mm), gap_at(edge_profile, 250 mm))', at_most: 0.35 mm }
  - { id: toe_gap, clause: A.5, title: t, text: t, applies_to: runner, value: 'gap_at(edge_profile, 250 mm)', at_most: 0.35 mm }
  - { id: crown, clause: A.6, title: t, text: t, applies_to: runner, value: 'crown_radius(edge_profile)', at_least: 90 m }
  - { id: round, clause: A.8, title: t, text: t, applies_to: runner, value: 'crown_radius(edge_profile)', at_most: 140 m }
  - { id: hollow, clause: A.7, title: t, text: t, applies_to: runner, value: 'hollow(edge_profile)', at_most: 0.02 mm }
";

fn bench() -> Bench {
    Bench::new(&rules_text(SHIPPED, EQUIPMENT.trim_matches('\n'), RULES))
}

type Told = (Outcome, Option<Reason>, Option<Exact>, Option<f64>, String);

/// Outcome, reason, exact value, U and notes of a rule; full and brief ways are held to each other.
fn found(profile: &str, rule: &str) -> Told {
    let bench = bench();
    let record = bench.record(&format!(
        "{{ measured: {{ day: 2026-11-21, by: AB }}, instruments: {{ bar: {{ kind: leaves, resolution: 0.01 mm }} }}, \
         runners: [ {{ id: S1, edge_profile: {{ {profile} }} }} ] }}"
    ));
    let stage = Stage::Certification;
    let (full, brief) = (bench.check(&record, stage), bench.brief(&record, stage));
    assert_eq!(full.findings.len(), brief.findings.len());
    for (full, brief) in full.findings.iter().zip(&brief.findings) {
        assert_eq!((full.outcome, full.reason), (brief.outcome, brief.reason));
    }
    let all = bench.of_rule(&full, rule);
    let one = all.first().expect("a finding");
    let value = match &one.value {
        Some(FoundValue::Number { value, .. }) => value.as_exact().cloned(),
        _ => None,
    };
    let u = one.expanded.map(|known| known.U);
    let mut notes = one.notes.join("; ");
    for problem in &one.notes {
        notes.push_str(problem);
    }
    (one.outcome, one.reason, value, u, notes)
}

fn exact(over: i64, under: i64) -> Exact {
    Exact::from_fraction(over, under).expect("a fraction")
}

const EXAMPLE: &str = "stations: -400 -200 0 200 400 mm, gaps: 0.31 0.08 0.00 0.07 0.33 mm";

#[test]
fn flats_and_gaps_of_stations_are_exact() {
    let profile = format!("with: exact, {EXAMPLE}");
    let (outcome, _, value, u, _) = found(&profile, "flat");
    let fore = exact(200 * 125, 265) + Exact::from_integer(200);
    let aft = exact(200 * 125, 225) + Exact::from_integer(200);
    assert_eq!((outcome, u), (Conforms, Some(0.0)));
    assert_eq!(value, Some(&fore + &aft));
    assert_eq!(found(&profile, "fore").2, Some(fore));
    assert_eq!(found(&profile, "aft").2, Some(aft));
    // 0.075 mm at 200 mm, 0.34 mm at 400 mm: a quarter of the way.
    assert_eq!(found(&profile, "toe_gap").2, Some(exact(14_125, 100_000)));
}

#[test]
fn with_an_instrument_the_slope_and_the_chord_make_the_doubt() {
    let (outcome, reason, _, u, _) = found(&format!("with: bar, {EXAMPLE}"), "fore");
    assert_eq!((outcome, reason), (Conforms, None));
    // A floor of 0.01 mm over 0.265 mm in 200 mm is 7.5 mm at least; the chord leaves 17 mm/√3 · 1.96 open.
    let u = u.expect("a known U");
    assert!((20.0..40.0).contains(&u), "{u}");
    // A crossing on a station has no chord. Of the three gaps a half, a half and all count, each of 0.01 mm, on a
    // slope of 0.20 mm in 300 mm.
    let on = "with: bar, stations: -300 0 300 mm, gaps: 0.20 0.00 0.20 mm";
    let on = found(on, "fore").3.expect("a known U");
    assert!((18.3..18.5).contains(&on), "{on}");
}

#[test]
fn readings_that_end_decide_one_side_alone() {
    let short = "with: exact, stations: -230 0 230 mm, gaps: 0.11 0.00 0.10 mm";
    let (outcome, _, value, _, notes) = found(short, "flat");
    assert_eq!((outcome, value), (Conforms, Some(Exact::from_integer(460))));
    assert!(
        notes.contains("forward the readings end at 230 mm"),
        "{notes}"
    );
    let shorter = "with: exact, stations: -200 0 200 mm, gaps: 0.11 0.00 0.10 mm";
    let told = found(shorter, "flat");
    assert_eq!((told.0, told.1), (NotDecided, Some(Reason::NotReached)));
    let beyond = found(shorter, "gap");
    assert_eq!(
        (beyond.0, beyond.1),
        (NotDecided, Some(Reason::NotMeasured))
    );
    assert!(beyond.4.contains("end before"), "{}", beyond.4);
}

#[test]
fn a_hollow_edge_is_told() {
    let hollow = "with: exact, stations: -300 -100 0 100 300 mm, gaps: 0.30 0.00 0.05 0.00 0.30 mm";
    let (outcome, _, _, _, notes) = found(hollow, "flat");
    assert_eq!(outcome, Conforms, "{notes}");
    assert!(notes.contains("rocks on -100 mm and 100 mm"), "{notes}");
    let deep = hollow.replace("0.05", "0.25");
    let told = found(&deep, "flat");
    assert_eq!((told.0, told.1), (NotDecided, Some(Reason::NotMeasured)));
    let unsorted = "with: exact, stations: 300 -300 0 mm, gaps: 0.20 0.20 0.00 mm";
    let (outcome, _, _, _, notes) = found(unsorted, "flat");
    assert_eq!(outcome, Conforms);
    assert!(notes.contains("sorted"), "{notes}");
}

#[test]
fn leaves_tell_a_gap_where_they_bind() {
    let leaves = |list: &str| format!("with: exact, shims: [ {list} ]");
    let one = leaves("{ gap: 0.35 mm, forward: 250 mm, aft: 250 mm }");
    assert_eq!(found(&one, "gap").0, Conforms);
    // Bound farther out, the gap is no larger there; nearer, it is larger.
    let out = leaves("{ gap: 0.35 mm, forward: 260 mm, aft: 250 mm }");
    assert_eq!(found(&out, "toe_gap").0, Conforms);
    let inside = leaves("{ gap: 0.36 mm, forward: 240 mm, aft: 250 mm }");
    assert_eq!(found(&inside, "toe_gap").0, DoesNotConform);
    let unknown = leaves("{ gap: 0.30 mm, forward: 240 mm, aft: 250 mm }");
    let told = found(&unknown, "toe_gap");
    assert_eq!((told.0, told.1), (NotDecided, Some(Reason::NotReached)));
    let two = leaves(
        "{ gap: 0.30 mm, forward: 240 mm, aft: 250 mm }, { gap: 0.40 mm, forward: 260 mm, aft: 290 mm }",
    );
    assert_eq!(found(&two, "toe_gap").2, Some(exact(35, 100)));
}

#[test]
fn crown_radii_of_leaves_and_stations() {
    // (225² + 0.2²)/(2 · 0.2) mm, whichever way the straight edge was turned.
    let leaf = "with: exact, shims: [ { gap: 0.20 mm, forward: 235 mm, aft: 215 mm } ]";
    let (outcome, _, value, u, _) = found(leaf, "crown");
    assert_eq!((outcome, u), (Conforms, Some(0.0)));
    assert_eq!(value, Some(exact(1_265_626, 10)));
    let round = "stations: -400 -200 0 200 400 mm, gaps: 0.80 0.20 0.00 0.20 0.80 mm";
    let (outcome, _, _, _, notes) = found(&format!("with: exact, {round}"), "crown");
    assert_eq!(outcome, Conforms, "{notes}");
    assert!(
        notes.contains("least-squares circle through 5 stations"),
        "{notes}"
    );
    let (outcome, reason, _, u, _) = found(&format!("with: bar, {round}"), "crown");
    assert_eq!((outcome, reason), (Conforms, None));
    let u = u.expect("a known U");
    assert!((500.0..3000.0).contains(&u), "{u} mm of 100 m");
    // Flatter than the readings tell.
    let flat = "with: bar, stations: -400 0 400 mm, gaps: 0.005 0.00 0.00 mm";
    assert_eq!(found(flat, "crown").0, Conforms);
    let told = found(flat, "round");
    assert_eq!(told.0, DoesNotConform, "{}", told.4);
    assert!(told.4.contains("a lower limit"), "{}", told.4);
    let sure = found(&flat.replace("0.005", "0.00"), "crown");
    assert_eq!((sure.0, sure.1), (NotDecided, Some(Reason::NotMeasured)));
    assert!(sure.4.contains("has no crown radius"), "{}", sure.4);
}

#[test]
fn hollows_are_measured_and_named() {
    let deep =
        "stations: -400 -300 -200 -100 0 200 400 mm, gaps: 0.40 0.30 0.08 0.02 0.00 0.08 0.33 mm";
    let (outcome, _, value, u, notes) = found(&format!("with: exact, {deep}"), "hollow");
    assert_eq!((outcome, u), (DoesNotConform, Some(0.0)));
    assert_eq!(value, Some(exact(6, 100)));
    assert!(
        notes.contains("hollow of 0.06 mm at -300 mm: the edge rocks on -400 mm and -200 mm"),
        "{notes}"
    );
    let (outcome, _, value, _, notes) = found(&format!("with: exact, {EXAMPLE}"), "hollow");
    assert_eq!((outcome, value), (Conforms, Some(Exact::ZERO)));
    assert!(
        !notes.contains("rocks") && notes.contains("5 stations"),
        "{notes}"
    );
    // 0.01 mm of each gap: the edge could be hollow by a little at most where it is straight.
    let straight = "with: bar, stations: -400 -200 0 200 400 mm, gaps: 0.20 0.10 0.00 0.10 0.20 mm";
    let (outcome, reason, _, u, _) = found(straight, "hollow");
    let u = u.expect("a known U");
    assert!((0.011..0.0125).contains(&u), "{u}");
    assert_eq!((outcome, reason), (Conforms, None));
    let leaf = "with: exact, shims: [ { gap: 0.20 mm, forward: 235 mm, aft: 215 mm } ]";
    let told = found(leaf, "hollow");
    assert_eq!((told.0, told.1), (NotDecided, Some(Reason::NotMeasured)));
    assert!(
        told.4.contains("leaves that bind tell nothing of a hollow"),
        "{}",
        told.4
    );
}

fn any_gaps() -> impl Strategy<Value = Vec<i64>> {
    proptest::collection::vec(0_i64..45, 5)
}

fn list(values: &[i64], step: i64) -> String {
    let shown = values
        .iter()
        .map(|value| format!("{}.{:02}", value * step / 100, value * step % 100));
    shown.collect::<Vec<_>>().join(" ")
}

proptest! {
    #![proptest_config(cases(24))]

    /// Turned heel to toe, forward and aft change places; written in cm, nothing changes.
    #[test]
    fn mirrored_and_in_another_unit(gaps in any_gaps()) {
        let turned: Vec<i64> = gaps.iter().rev().copied().collect();
        let plain = format!("with: bar, stations: -400 -200 0 200 400 mm, gaps: {} mm", list(&gaps, 1));
        let mirrored = format!("with: bar, stations: -400 -200 0 200 400 mm, gaps: {} mm", list(&turned, 1));
        let metres: Vec<String> = gaps.iter().map(|gap| format!("0.000{gap:02}")).collect();
        let metres = format!("with: bar, stations: -0.400 -0.200 0.000 0.200 0.400 m, gaps: {} m", metres.join(" "));
        for (one, other) in [("fore", "aft"), ("aft", "fore"), ("flat", "flat"), ("hollow", "hollow")] {
            let (a, b) = (found(&plain, one), found(&mirrored, other));
            prop_assert_eq!((a.0, a.1, &a.2), (b.0, b.1, &b.2));
            let c = found(&metres, one);
            prop_assert_eq!((a.0, a.1, &a.2), (c.0, c.1, &c.2));
            if let (Some(a), Some(c)) = (a.3, c.3) {
                prop_assert!((a - c).abs() <= 1e-9 * a.abs());
            }
        }
    }

    /// More uncertainty never turns a doubt into a pass or a failure.
    #[test]
    fn more_doubt_never_decides(gaps in any_gaps()) {
        let plain = format!("stations: -400 -200 0 200 400 mm, gaps: {} mm", list(&gaps, 1));
        for rule in ["flat", "fore", "aft", "gap", "crown", "round", "hollow"] {
            // U is 0, then the method's floor of 0.01 mm, then 0.03 mm.
            let order = ["with: exact, ", "with: bar, "].map(|with| found(&format!("{with}{plain}"), rule).0);
            let unnamed = found(&plain, rule).0;
            prop_assert!(order[1] == order[0] || order[1] == NotDecided, "{rule}: {order:?}");
            prop_assert!(unnamed == NotDecided, "no instrument is named");
        }
    }
}

/// So flat that no circle is told from a line: at least as round as that, with and without doubt.
#[test]
fn an_edge_that_is_all_but_straight() {
    let plain = format!(
        "stations: -400 -200 0 200 400 mm, gaps: {} mm",
        list(&[7, 10, 24, 42, 43], 1)
    );
    for rule in ["crown", "round"] {
        let [sure, doubted] =
            ["with: exact, ", "with: bar, "].map(|with| found(&format!("{with}{plain}"), rule).0);
        assert_eq!(sure, doubted, "{rule}");
    }
}
