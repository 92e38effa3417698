//! Exact and real numbers.

use std::cmp::Ordering;
use std::collections::HashSet;

use super::super::{Exact, Number, Quantity};
use super::exact;

#[test]
fn equality_order_and_hash_go_by_value() {
    let one_way = Exact::from_fraction(1, 2).unwrap();
    let other = Exact::from_fraction(2, 4).unwrap();
    assert_eq!(one_way, other);
    assert_eq!(
        HashSet::from([one_way.clone(), other, exact("0.5"), exact("0.50")]).len(),
        1
    );
    assert_eq!(Exact::from_fraction(-1, -2).unwrap(), one_way);
    assert_eq!(Exact::from_fraction(1, -2).unwrap(), one_way.neg());
    assert!(exact("4.70") < exact("381/80"));
    assert!(exact("-1/3") < exact("-0.333"));
    assert_eq!(Exact::from_fraction(1, 0), None);
    assert_eq!(
        Exact::from_fraction(i128::MIN, i128::MIN).unwrap(),
        Exact::ONE
    );
}

#[test]
fn numbers_outgrow_the_small_form_and_come_back() {
    let edge = Exact::from_fraction(i128::MAX, 1).unwrap();
    let over = edge.add(&Exact::ONE);
    assert!(over > edge);
    assert_eq!(over.to_string(), "170141183460469231731687303715884105728");
    assert_eq!(over.sub(&Exact::ONE), edge);
    assert_eq!(over.neg(), Exact::from_fraction(i128::MIN, 1).unwrap());
    assert_eq!(over.neg().neg(), over);
    assert_eq!(over.neg().abs(), over);
    let square = edge.mul(&edge);
    assert_eq!(square.checked_div(&edge).unwrap(), edge);
    assert_eq!(square.checked_div(&square).unwrap(), Exact::ONE);
    assert!(square.sub(&square).is_zero());
    let tiny = Exact::from_fraction(1, u64::MAX).unwrap();
    let tinier = tiny.mul(&tiny);
    assert!(tinier < tiny && tinier.signum() == 1);
    assert_eq!(tinier.checked_div(&tiny).unwrap(), tiny);
    let thirds: Exact = (0..300).map(|_| exact("1/3")).sum();
    assert_eq!(thirds, Exact::from_integer(100));
    // A sum over many different denominators stays right where 64 bits don't reach.
    let primes = [
        3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37, 41, 43, 47, 53, 59, 61, 67, 71, 73,
    ];
    let sum: Exact = primes
        .iter()
        .map(|p| Exact::from_fraction(1, *p).unwrap())
        .sum();
    let back = primes.iter().fold(sum, |left, p| {
        left.sub(&Exact::from_fraction(1, *p).unwrap())
    });
    assert!(back.is_zero());
}

#[test]
fn decimals_are_read_strictly_and_exactly() {
    assert_eq!(exact("4.70"), Exact::from_fraction(47, 10).unwrap());
    assert_eq!(exact("-0.05"), Exact::from_fraction(-1, 20).unwrap());
    assert_eq!(exact("0"), Exact::ZERO);
    for wrong in [
        "", "-", ".5", "5.", "+5", "1e5", " 1", "1 ", "0x1", "1.2.3", "--1", "NaN", "inf", "1,5",
        "½", "٣",
    ] {
        assert_eq!(Exact::from_decimal(wrong), None, "{wrong}");
    }
    let long = "0.1234567890123456789012345678901234567890";
    assert_eq!(
        exact(long).to_decimal(60),
        (long.trim_end_matches('0').to_owned(), true)
    );
    assert_eq!(Exact::from_decimal(&"9".repeat(5000)), None);
}

#[test]
fn decimal_text_is_exact_or_says_that_it_is_not() {
    let text = |value: &str, digits| exact(value).to_decimal(digits);
    assert_eq!(text("4.70", 15), ("4.7".to_owned(), true));
    assert_eq!(text("1/3", 5), ("0.33333".to_owned(), false));
    assert_eq!(text("2/3", 5), ("0.66667".to_owned(), false));
    assert_eq!(text("-381/80", 15), ("-4.7625".to_owned(), true));
    assert_eq!(text("-4.7625", 3), ("-4.76".to_owned(), false));
    assert_eq!(text("123456789", 3), ("123000000".to_owned(), false));
    assert_eq!(text("999.96", 4), ("1000".to_owned(), false));
    assert_eq!(
        text("0.00000000000000000000000001", 3),
        ("0.00000000000000000000000001".to_owned(), true)
    );
    assert_eq!(
        text("1/30000000000000000000000000", 2),
        ("0.000000000000000000000000033".to_owned(), false)
    );
    assert_eq!(text("1000000", 3), ("1000000".to_owned(), true));
    assert_eq!(text("0", 0), ("0".to_owned(), true));
    assert_eq!(exact("1/3").to_string(), "1/3");
    assert_eq!(exact("2/6").to_string(), "1/3");
}

#[test]
fn the_shortest_decimal_of_a_binary_number_is_meant() {
    for (value, wanted) in [
        (0.02, "1/50"),
        (4.7, "47/10"),
        (-0.05, "-1/20"),
        (0.1 + 0.2, "0.30000000000000004"),
        (0.0, "0"),
        (1e15, "1000000000000000"),
        (123_456.789, "123456.789"),
    ] {
        assert_eq!(
            Exact::from_f64_shortest(value).unwrap(),
            exact(wanted),
            "{value}"
        );
    }
    for wrong in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        assert_eq!(Exact::from_f64_shortest(wrong), None);
        assert_eq!(Exact::from_f64_binary(wrong), None);
    }
    assert_eq!(Exact::from_f64_binary(0.5), Some(exact("1/2")));
    assert_ne!(Exact::from_f64_binary(0.02), Some(exact("1/50")));
    for extreme in [f64::MAX, f64::MIN_POSITIVE, 5e-324] {
        assert_eq!(Exact::from_f64_shortest(extreme).unwrap().to_f64(), extreme);
    }
}

#[test]
fn beyond_floating_point_is_infinite_or_zero() {
    let huge = Exact::power_of_ten(400);
    assert_eq!(huge.to_f64(), f64::INFINITY);
    assert_eq!(huge.neg().to_f64(), f64::NEG_INFINITY);
    assert_eq!(Exact::power_of_ten(-400).to_f64(), 0.0);
    assert_eq!(huge.leading_exponent(), 400);
    assert_eq!(Exact::power_of_ten(-400).leading_exponent(), -400);
    assert_eq!(huge.sub(&Exact::ONE).leading_exponent(), 399);
}

#[test]
fn whole_numbers_are_told_apart() {
    assert_eq!(exact("12.0").to_i64(), Some(12));
    assert!(exact("12.0").is_integer());
    assert_eq!(exact("12.5").to_i64(), None);
    assert_eq!(exact("-3.5").floor(), exact("-4"));
    assert_eq!(exact("9223372036854775808").to_i64(), None);
    assert_eq!(exact("9/16").exact_sqrt(), Some(exact("3/4")));
    assert_eq!(exact("2").exact_sqrt(), None);
    assert_eq!(exact("-4").exact_sqrt(), None);
}

#[test]
fn a_number_stays_exact_through_the_four_operations() {
    let number = |text: &str| Number::Exact(exact(text));
    let result = number("4.76")
        .sub(&number("4.70"))
        .mul(&number("3"))
        .checked_div(&number("7"))
        .unwrap();
    assert_eq!(result.as_exact(), Some(&exact("9/350")));
    assert!(number("1").checked_div(&number("0")).is_none());
    assert_eq!(
        number("9/4").sqrt().unwrap().as_exact(),
        Some(&exact("3/2"))
    );
    assert!(number("-1").sqrt().is_none());
}

#[test]
fn a_real_number_is_never_equal_to_anything() {
    let two = Number::Exact(exact("2"));
    let root = two.sqrt().unwrap();
    let square = root.mul(&root);
    assert_eq!(square.compare(&two), None);
    assert_eq!(root.compare(&root), None);
    assert_eq!(square.sub(&two).signum(), None);
    assert_eq!(
        square.compare(&Number::Exact(exact("2.000001"))),
        Some(Ordering::Less)
    );
    assert_eq!(
        square.compare(&Number::Exact(exact("1.999999"))),
        Some(Ordering::Greater)
    );
    assert!(
        two.checked_div(&square.sub(&two)).is_none(),
        "a divisor that may be zero"
    );
    assert!(square.bound() > 0.0 && square.bound() < 1e-14);
    let zero = Number::ZERO.mul(&root);
    assert_eq!(zero.as_exact(), Some(&Exact::ZERO));
}

#[test]
fn functions_hold_their_true_value_within_their_bound() {
    let within = |number: Number, truth: f64| {
        let off = (number.to_f64() - truth).abs();
        assert!(
            off <= number.bound() && number.bound() < 1e-12,
            "{number:?} for {truth}"
        );
    };
    let number = |text: &str| Number::Exact(exact(text));
    within(number("30").sin(), 0.5);
    within(number("60").cos(), 0.5);
    within(number("180").sin(), 0.0);
    within(number("45").tan().unwrap(), 1.0);
    within(number("0.5").asin().unwrap(), 30.0);
    within(number("0.5").acos().unwrap(), 60.0);
    within(number("1").atan(), 45.0);
    // Sine bar: 64.28 on 100 mm (check values, section 6: arcsine of 0.6428).
    within(number("0.6428").asin().unwrap(), 40.000_926_731_460_63);
    let end = number("1").asin().unwrap();
    assert!((end.to_f64() - 90.0).abs() <= end.bound());
    assert!(number("1.01").asin().is_none());
    assert!(number("90").tan().is_none(), "the cosine may be zero");
    assert!(
        (Number::real(1.0, 1e-20)
            .add(&number("1e0".trim_end_matches("e0")))
            .to_f64()
            - 2.0)
            .abs()
            < 1e-15
    );
}

#[test]
fn nothing_is_known_of_what_is_not_a_number() {
    for strange in [
        Number::real(f64::NAN, 0.0),
        Number::real(f64::INFINITY, 1.0),
        Number::real(1.0, f64::NAN),
    ] {
        assert!(strange.bound().is_infinite(), "{strange:?}");
        assert_eq!(strange.compare(&Number::ZERO), None);
        assert_eq!(strange.signum(), None);
        assert!(Number::ZERO.checked_div(&strange).is_none());
    }
    let huge = Number::Exact(Exact::power_of_ten(400));
    assert_eq!(
        huge.compare(&Number::ZERO),
        Some(Ordering::Greater),
        "exact numbers need no range"
    );
    let root = Number::Exact(exact("2")).sqrt().unwrap();
    assert!(huge.mul(&root).bound().is_infinite());
    assert_eq!(huge.compare(&root), None);
}

#[test]
fn the_smaller_of_two_is_one_of_them_or_covers_both() {
    let (a, b) = (Number::Exact(exact("4.7")), Number::Exact(exact("4.76")));
    assert_eq!(a.min(&b).as_exact(), Some(&exact("4.7")));
    assert_eq!(a.max(&b).as_exact(), Some(&exact("4.76")));
    let (low, high) = (Number::real(1.0, 0.2), Number::real(1.1, 0.2));
    let least = low.min(&high);
    assert!((least.to_f64() - least.bound() - 0.8).abs() < 1e-12);
    assert!((least.to_f64() + least.bound() - 1.2).abs() < 1e-12);
    let most = low.max(&high);
    assert!((most.to_f64() - most.bound() - 0.9).abs() < 1e-12);
    assert!((most.to_f64() + most.bound() - 1.3).abs() < 1e-12);
}

/// The sum of many fractions does not outgrow what can be computed with: as many readings as a place can have,
/// each with another denominator.
#[test]
fn sums_of_fractions_stay_short() {
    let fractions = (1..=1000).map(|d| Quantity::parse(&format!("1/{d} in")).unwrap().value);
    let sum = fractions.fold(Exact::ZERO, |sum, one| sum.add(&one));
    let digits = format!("{sum}").len();
    assert!(digits < 1000, "{digits} digits");
}
