//! Decision tables, published risks, exactness at the limit.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

use proptest::prelude::*;

use super::*;
use DecisionRule::{GuardedAcceptance, GuardedRejection, SimpleAcceptance};
use Verdict::{Conforms, DoesNotConform, NearLimit, NotReached, UncertaintyUnknown};

fn exact(text: &str) -> Exact {
    Exact::from_decimal(text).unwrap()
}

fn number(text: &str) -> Number {
    Number::Exact(exact(text))
}

fn uncertain(text: &str) -> Uncertain {
    Uncertain::exact(exact(text))
}

fn at_least(value: &Number) -> Limit<'_> {
    Limit {
        side: Side::Lower,
        strict: false,
        value,
    }
}

fn at_most(value: &Number) -> Limit<'_> {
    Limit {
        side: Side::Upper,
        ..at_least(value)
    }
}

fn strictly(limit: Limit<'_>) -> Limit<'_> {
    Limit {
        strict: true,
        ..limit
    }
}

fn verdict(rule: DecisionRule, limit: &Limit<'_>, value: &Uncertain, u: f64) -> Verdict {
    decide(rule, limit, value, Some(u), &Exact::ONE).verdict
}

/// The worked example: not less than 7.00 mm, U = 0.03 mm (ISO 14253-1, common practice).
#[test]
fn the_borderline_table() {
    let limit = number("7.00");
    let rows = [
        ("7.05", Conforms, Conforms, Conforms, false),
        ("7.03", Conforms, Conforms, Conforms, true),
        ("7.01", NearLimit, Conforms, Conforms, true),
        ("7.00", NearLimit, Conforms, Conforms, true),
        ("6.99", NearLimit, DoesNotConform, Conforms, true),
        ("6.97", NearLimit, DoesNotConform, Conforms, true),
        (
            "6.96",
            DoesNotConform,
            DoesNotConform,
            DoesNotConform,
            false,
        ),
    ];
    for (text, guarded, simple, lenient, near) in rows {
        let value = uncertain(text);
        for (rule, expected) in [
            (GuardedAcceptance, guarded),
            (SimpleAcceptance, simple),
            (GuardedRejection, lenient),
        ] {
            let found = decide(rule, &at_least(&limit), &value, Some(0.03), &Exact::ONE);
            assert_eq!(found.verdict, expected, "{text} under {rule:?}");
            assert_eq!(found.near, near, "{text} under {rule:?}");
            let doubtful = rule == GuardedRejection && ["6.99", "6.97"].contains(&text);
            assert_eq!(found.benefit_of_doubt, doubtful, "{text} under {rule:?}");
            // The mirror image: the same distances from an upper limit.
            let mirrored = Uncertain::exact(exact("14").sub(&exact(text)));
            let mirror = decide(rule, &at_most(&limit), &mirrored, Some(0.03), &Exact::ONE);
            assert_eq!(mirror, found, "{text} mirrored under {rule:?}");
        }
    }
}

#[test]
fn no_binary_dust_at_the_guard_band() {
    let limit = number("4.70");
    for (text, expected) in [
        ("4.72", Conforms),
        ("4.71999999999999999", NearLimit),
        ("4.68", NearLimit),
        ("4.67999999999999999", DoesNotConform),
    ] {
        let found = verdict(GuardedAcceptance, &at_least(&limit), &uncertain(text), 0.02);
        assert_eq!(found, expected, "{text}");
    }
    // 0.83 · 0.02 = 0.0166 exactly.
    let factor = exact("0.83");
    let decide_at = |text: &str| {
        let value = uncertain(text);
        decide(
            GuardedAcceptance,
            &at_least(&limit),
            &value,
            Some(0.02),
            &factor,
        )
        .verdict
    };
    assert_eq!(decide_at("4.7166"), Conforms);
    assert_eq!(decide_at("4.716599999999999999"), NearLimit);
    // In inches: 3/16 in = 4.7625 mm.
    let limit = Number::Exact(Exact::from_fraction(381, 80).unwrap());
    let value = uncertain("4.7825");
    assert_eq!(
        verdict(GuardedAcceptance, &at_least(&limit), &value, 0.02),
        Conforms
    );
}

#[test]
fn the_limit_belongs_to_at_least_and_not_to_more_than() {
    let limit = number("4.70");
    let on = uncertain("4.70");
    for rule in [SimpleAcceptance, GuardedAcceptance, GuardedRejection] {
        assert_eq!(verdict(rule, &at_least(&limit), &on, 0.0), Conforms);
        assert_eq!(verdict(rule, &at_most(&limit), &on, 0.0), Conforms);
        assert_eq!(
            verdict(rule, &strictly(at_least(&limit)), &on, 0.0),
            DoesNotConform
        );
        assert_eq!(
            verdict(rule, &strictly(at_most(&limit)), &on, 0.0),
            DoesNotConform
        );
        let decision = decide(rule, &at_least(&limit), &on, Some(0.0), &Exact::ONE);
        assert!(!decision.near && !decision.benefit_of_doubt);
    }
    assert!(
        margin(&at_least(&limit), &on.value)
            .as_exact()
            .unwrap()
            .is_zero()
    );
    // With a guard band a strict limit moves with its border outside.
    let more_than = strictly(at_least(&limit));
    let found = |rule, text| verdict(rule, &more_than, &uncertain(text), 0.02);
    assert_eq!(found(GuardedAcceptance, "4.72"), NearLimit);
    assert_eq!(found(GuardedAcceptance, "4.68"), DoesNotConform);
    assert_eq!(found(GuardedRejection, "4.68"), DoesNotConform);
    let lenient = decide(GuardedRejection, &more_than, &on, Some(0.02), &Exact::ONE);
    assert!(lenient.verdict == Conforms && lenient.benefit_of_doubt);
}

#[test]
fn an_unknown_uncertainty_is_not_decided_under_a_guarded_rule() {
    let limit = number("4.70");
    let value = uncertain("9");
    for rule in [GuardedAcceptance, GuardedRejection] {
        for u in [None, Some(f64::NAN), Some(f64::INFINITY), Some(-1.0)] {
            let found = decide(rule, &at_least(&limit), &value, u, &Exact::ONE);
            assert_eq!(found.verdict, UncertaintyUnknown);
        }
        let marked = value.clone().with_unknown_uncertainty();
        assert_eq!(
            verdict(rule, &at_least(&limit), &marked, 0.0),
            UncertaintyUnknown
        );
    }
    let found = decide(
        SimpleAcceptance,
        &at_least(&limit),
        &value,
        None,
        &Exact::ONE,
    );
    assert_eq!(found.verdict, Conforms);
}

#[test]
fn one_sided_results_reach_or_do_not_reach() {
    let limit = number("300");
    let at = |text: &str, bound| uncertain(text).with_bound(Some(bound));
    let (least, most) = (Bound::AtLeast, Bound::AtMost);
    let rows = [
        // (value, bound, lower limit, upper limit), under guarded acceptance with U = 5.
        ("310", least, Conforms, DoesNotConform),
        ("305", least, Conforms, NotReached),
        ("304", least, NotReached, NotReached),
        ("280", least, NotReached, NotReached),
        ("290", most, DoesNotConform, Conforms),
        ("295", most, NotReached, Conforms),
        ("310", most, NotReached, NotReached),
        ("310", Bound::Neither, NotReached, NotReached),
    ];
    for (text, bound, lower, upper) in rows {
        let value = at(text, bound);
        let found = |limit: &Limit<'_>| verdict(GuardedAcceptance, limit, &value, 5.0);
        assert_eq!(found(&at_least(&limit)), lower, "{text} {bound:?}");
        assert_eq!(found(&at_most(&limit)), upper, "{text} {bound:?}");
    }
    let value = at("300", least);
    assert_eq!(
        verdict(SimpleAcceptance, &at_least(&limit), &value, 5.0),
        Conforms
    );
    assert_eq!(
        verdict(SimpleAcceptance, &at_most(&limit), &value, 5.0),
        NotReached
    );
    let value = at("296", least);
    let lenient = decide(
        GuardedRejection,
        &at_least(&limit),
        &value,
        Some(5.0),
        &Exact::ONE,
    );
    assert!(lenient.verdict == Conforms && lenient.benefit_of_doubt);
}

#[test]
fn a_real_number_is_never_on_the_limit() {
    let limit = number("2");
    // √2·√2 is 2 within its rounding bound.
    let root = number("2").sqrt().unwrap();
    let value = Uncertain::certain(root.mul(&root));
    for rule in [SimpleAcceptance, GuardedAcceptance] {
        assert_eq!(verdict(rule, &at_least(&limit), &value, 0.0), NearLimit);
        assert_eq!(verdict(rule, &at_most(&limit), &value, 0.0), NearLimit);
    }
    let clear = Uncertain::certain(root);
    assert_eq!(
        verdict(SimpleAcceptance, &at_most(&limit), &clear, 0.0),
        Conforms
    );
    assert_eq!(
        verdict(GuardedAcceptance, &at_most(&limit), &clear, 0.1),
        Conforms
    );
    assert_eq!(
        verdict(GuardedAcceptance, &at_most(&limit), &clear, 0.6),
        NearLimit
    );
    // Nothing is known of a number with an infinite bound.
    let nothing = Uncertain::certain(Number::real(1.0, f64::INFINITY));
    for rule in [SimpleAcceptance, GuardedAcceptance] {
        assert_eq!(verdict(rule, &at_least(&limit), &nothing, 0.0), NearLimit);
    }
}

#[test]
fn the_largest_deciding_uncertainty_decides() {
    let limit = number("4.70");
    let deciding = |text: &str, factor: &str| {
        largest_deciding_u(&at_least(&limit), &uncertain(text), &exact(factor))
    };
    assert_eq!(deciding("4.71", "1"), Some(0.01));
    assert_eq!(deciding("4.68", "1"), Some(0.02));
    assert_eq!(deciding("4.71", "0.5"), Some(0.02));
    assert_eq!(deciding("4.70", "1"), None);
    assert_eq!(deciding("4.71", "0"), None);
    let one_sided = uncertain("4.71").with_bound(Some(Bound::AtLeast));
    assert_eq!(
        largest_deciding_u(&at_least(&limit), &one_sided, &Exact::ONE),
        None
    );
    let u = deciding("4.71", "1").unwrap();
    let value = uncertain("4.71");
    assert_eq!(
        verdict(GuardedAcceptance, &at_least(&limit), &value, u),
        Conforms
    );
    assert_eq!(
        verdict(GuardedAcceptance, &at_least(&limit), &value, u * 1.0001),
        NearLimit
    );
}

/// `tests/data/conformity-cases.csv`: JCGM 106 and ILAC-G8:09/2019 rows, normal law, 10 digits recomputed.
#[test]
fn published_conformance_probabilities() {
    let mut rows = 0;
    for line in include_str!("../../tests/data/conformity-cases.csv").lines() {
        if line.starts_with('#') || line.starts_with("case") {
            continue;
        }
        let fields: Vec<&str> = line.splitn(7, ',').collect();
        let [name, y, u, tl, tu, expected, _] = fields[..] else {
            panic!("seven fields: {line}")
        };
        let number = |text: &str| {
            let value = text.parse().unwrap();
            Number::Exact(Exact::from_f64_shortest(value).unwrap())
        };
        let (lower, upper) = (
            (!tl.is_empty()).then(|| number(tl)),
            (!tu.is_empty()).then(|| number(tu)),
        );
        let limits: Vec<Limit<'_>> = lower
            .iter()
            .map(at_least)
            .chain(upper.iter().map(at_most))
            .collect();
        let u = u.parse().unwrap();
        let p = probability_of_conformity(&limits, &number(y), u, f64::INFINITY);
        let expected: f64 = expected.parse().unwrap();
        assert!((p - expected).abs() <= 5.1e-11, "{name}: {p}");
        rows += 1;
    }
    assert!(rows >= 15);
}

/// ILAC-G8:09/2019: risk of a reading at the acceptance limit TL − r·U. The printed bounds mix k = 2 and
/// k = 1.96; both columns are recomputed.
#[test]
fn guard_band_risks_state_their_k() {
    let rows = [
        ("3", 9.866e-10, 2.053e-9),
        ("1.5", 0.001_349_90, 0.001_641_35),
        ("1", 0.022_750_13, 0.025_000_00),
        ("0.83", 0.048_457_23, 0.051_89),
        ("0", 0.5, 0.5),
        ("-1", 0.977_249_87, 0.975),
    ];
    let limit = number("10");
    for (r, with_two, with_normal) in rows {
        // U = 1, the reading at 10 − r.
        let reading = Number::Exact(exact("10").sub(&exact(r)));
        for (k, expected) in [(2.0, with_two), (1.959_963_984_540_054, with_normal)] {
            let p = probability_of_conformity(&[at_most(&limit)], &reading, 1.0 / k, f64::INFINITY);
            let tolerance: f64 = if r == "3" { 1e-12 } else { 5e-6 };
            assert!(
                (1.0 - p - expected).abs() <= tolerance,
                "r {r}, k {k}: {}",
                1.0 - p
            );
        }
    }
}

#[test]
fn probability_with_few_degrees_of_freedom_and_without_uncertainty() {
    let limit = number("10");
    let limits = [at_least(&limit)];
    // Student's t: the share above −t_95(5) is 97.5 %.
    let t = super::super::exact_factor(0.95, 5.0);
    let value = Number::Exact(exact("10").add(&Exact::from_f64_binary(t).unwrap()));
    let p = probability_of_conformity(&limits, &value, 1.0, 5.0);
    assert!((p - 0.975).abs() < 1e-12, "{p}");
    let below = Number::Exact(exact("10").sub(&Exact::from_f64_binary(t).unwrap()));
    let p = probability_of_conformity(&limits, &below, 1.0, 5.0);
    assert!((p - 0.025).abs() < 1e-12, "{p}");
    for (text, expected) in [("10", 1.0), ("9.999999999999999999", 0.0)] {
        let p = probability_of_conformity(&limits, &number(text), 0.0, f64::INFINITY);
        assert_eq!(p, expected);
    }
}

proptest! {
    /// The fast comparison of floating point and the exact one agree, however near the border.
    #[test]
    fn decisions_follow_exact_arithmetic(
        thousandths in -60_i64..60,
        dust in -2_i64..=2,
        u in 0_u32..40,
        factor in 0_i64..=3,
    ) {
        let limit = number("4.70");
        let tiny = Exact::from_fraction(dust, 10_i128.pow(18)).unwrap();
        let value = exact("4.70")
            .add(&Exact::from_fraction(thousandths, 1000).unwrap())
            .add(&tiny);
        let factor = Exact::from_fraction(factor, 2).unwrap();
        let guard = Exact::from_fraction(i64::from(u), 1000).unwrap().mul(&factor);
        let distance = value.sub(&exact("4.70"));
        let expected = if distance >= guard {
            Conforms
        } else if distance < guard.neg() {
            DoesNotConform
        } else {
            NearLimit
        };
        let u = f64::from(u) / 1000.0;
        let value = Uncertain::exact(value);
        let found = decide(GuardedAcceptance, &at_least(&limit), &value, Some(u), &factor);
        prop_assert_eq!(found.verdict, expected);
        prop_assert_eq!(found.near, !guard.is_zero() && distance.abs() <= guard);
    }

    /// Mirror images are decided alike, and so is every unit.
    #[test]
    fn decisions_are_symmetric_and_free_of_units(
        value in -9999_i64..9999,
        limit in -9999_i64..9999,
        u in 0_u32..200,
        strict: bool,
        rule in prop::sample::select(vec![SimpleAcceptance, GuardedAcceptance, GuardedRejection]),
        bound in prop::sample::select(vec![None, Some(Bound::AtLeast), Some(Bound::AtMost)]),
    ) {
        let decimal = |n: i64| Exact::from_fraction(n, 100).unwrap();
        let (value, limit) = (decimal(value), decimal(limit));
        let u = f64::from(u) / 100.0;
        let lower = Number::Exact(limit.clone());
        let at = |value: &Exact| Uncertain::exact(value.clone()).with_bound(bound);
        let one = Limit { side: Side::Lower, strict, value: &lower };
        let found = decide(rule, &one, &at(&value), Some(u), &Exact::ONE);

        let upper = Number::Exact(limit.neg());
        let mirrored = Limit { side: Side::Upper, strict, value: &upper };
        prop_assert_eq!(found, decide(rule, &mirrored, &at(&value).neg(), Some(u), &Exact::ONE));

        let inch = exact("25.4");
        let scaled = Number::Exact(limit.mul(&inch));
        let in_inches = Limit { side: Side::Lower, strict, value: &scaled };
        // U scaled in decimal, as its shortest decimal is what counts.
        let u = (u * 2540.0).round() / 100.0;
        prop_assert_eq!(
            found,
            decide(rule, &in_inches, &at(&value).scale(&inch), Some(u), &Exact::ONE)
        );
    }
}
