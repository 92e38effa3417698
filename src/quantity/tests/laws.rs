//! Laws that hold for all numbers and all texts.

use std::cmp::Ordering;
use std::hash::{BuildHasher, BuildHasherDefault, DefaultHasher};

use num_bigint::BigInt;
use num_rational::BigRational;
use num_traits::ToPrimitive as _;
use proptest::prelude::*;

use super::super::date::{DateSpan, DateTime};
use super::super::near::{lookalike, mended, mended_list};
use super::super::show::{margin, uncertain};
use super::super::{Dimension, Exact, Number, Quantity, Ties, Unit, lex_date, lex_literal};
use super::exact;

/// Numbers at the edges of the small form, where it hands over to the big one.
fn edges() -> impl Strategy<Value = i128> {
    let near = |n: i128| (-3_i128..=3).prop_map(move |d| n.saturating_add(d));
    prop_oneof![
        near(0),
        near(i128::MAX),
        near(i128::MIN),
        near(1 << 63),
        near(1 << 64),
        near(-(1 << 64)),
        near(10_i128.pow(18)),
        near(10_i128.pow(19)),
        near(10_i128.pow(38)),
        any::<i128>(),
        any::<i64>().prop_map(i128::from),
        -1000_i128..1000,
    ]
}

/// A number together with the same number in the arithmetic of another crate.
fn pair() -> impl Strategy<Value = (Exact, BigRational)> {
    let fraction = (edges(), edges().prop_filter("not zero", |d| *d != 0)).prop_map(|(n, d)| {
        let reference = BigRational::new(BigInt::from(n), BigInt::from(d));
        (Exact::from_fraction(n, d).unwrap(), reference)
    });
    let decimal = (any::<i32>(), 0_usize..12).prop_map(|(n, k)| {
        let number = Exact::from_integer(i64::from(n)).mul(&Exact::power_of_ten(-(k as i32)));
        let reference = BigRational::new(BigInt::from(n), BigInt::from(10).pow(k as u32));
        (number, reference)
    });
    let squared = prop_oneof![1 => fraction].prop_map(|(a, x)| {
        let square = (a.mul(&a), &x * &x);
        if a.signum() < 0 { square } else { (a, x) }
    });
    prop_oneof![4 => decimal, 5 => squared]
}

fn same(number: &Exact, reference: &BigRational) -> Result<(), TestCaseError> {
    prop_assert_eq!(&number.to_big(), reference);
    // One form for one value, so that equal numbers hash alike.
    let again = Exact::from_big(reference.clone());
    prop_assert_eq!(number, &again);
    let hasher = BuildHasherDefault::<DefaultHasher>::default();
    prop_assert_eq!(hasher.hash_one(number), hasher.hash_one(&again));
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn arithmetic_is_that_of_big_rationals((a, x) in pair(), (b, y) in pair()) {
        same(&a.add(&b), &(&x + &y))?;
        same(&a.sub(&b), &(&x - &y))?;
        same(&a.mul(&b), &(&x * &y))?;
        same(&a.neg(), &(-&x))?;
        prop_assert_eq!(a.cmp(&b), x.cmp(&y));
        prop_assert_eq!(a == b, x == y);
        prop_assert_eq!(b.cmp(&a), a.cmp(&b).reverse());
        match a.checked_div(&b) {
            Some(quotient) => same(&quotient, &(&x / &y))?,
            None => prop_assert!(b.is_zero()),
        }
        same(&a.floor(), &x.floor())?;
        prop_assert_eq!(a.is_integer(), x.is_integer());
        prop_assert_eq!(a.to_i64(), if x.is_integer() { x.to_integer().to_i64() } else { None });
    }

    #[test]
    fn the_laws_of_a_field((a, _) in pair(), (b, _) in pair(), (c, _) in pair()) {
        prop_assert_eq!(a.add(&b), b.add(&a));
        prop_assert_eq!(a.mul(&b), b.mul(&a));
        prop_assert_eq!(a.add(&b).add(&c), a.add(&b.add(&c)));
        prop_assert_eq!(a.mul(&b).mul(&c), a.mul(&b.mul(&c)));
        prop_assert_eq!(a.mul(&b.add(&c)), a.mul(&b).add(&a.mul(&c)));
        prop_assert!(a.add(&a.neg()).is_zero());
        prop_assert_eq!(&a.add(&Exact::ZERO), &a);
        prop_assert_eq!(&a.mul(&Exact::ONE), &a);
        if let Some(inverse) = Exact::ONE.checked_div(&a) {
            prop_assert_eq!(a.mul(&inverse), Exact::ONE);
        }
        prop_assert_eq!(&a + &b, a.clone() + b.clone());
        prop_assert_eq!(&a - &b, a.clone() - &b);
        prop_assert_eq!(&a * &b, &a * b.clone());
        prop_assert_eq!(-&a, a.neg());
        prop_assert_eq!(a < b && b < c, a < b && b < c && a < c);
    }

    #[test]
    fn floating_point_agrees_where_it_can((a, x) in pair(), (b, _) in pair()) {
        let (p, q) = (a.to_f64(), b.to_f64());
        // Rounding keeps the order, and decides it only where the numbers are apart.
        if p < q { prop_assert!(a < b); }
        if a < b { prop_assert!(p <= q); }
        // The nearest double: no neighbour is nearer.
        if p.is_finite() {
            let off = |f: f64| {
                let off = BigRational::from_float(f).unwrap() - &x;
                if off < BigRational::from_integer(BigInt::from(0)) { -off } else { off }
            };
            for neighbour in [p.next_up(), p.next_down()] {
                if neighbour.is_finite() {
                    prop_assert!(off(p) <= off(neighbour), "{p} for {x}");
                }
            }
        }
        prop_assert_eq!(a.signum(), if p > 0.0 { 1 } else if p < 0.0 { -1 } else { a.signum() });
    }

    #[test]
    fn the_shortest_decimal_reads_back(bits in any::<u64>()) {
        let value = f64::from_bits(bits);
        match Exact::from_f64_shortest(value) {
            None => prop_assert!(!value.is_finite()),
            Some(number) => {
                prop_assert_eq!(number.to_f64(), value);
                prop_assert_eq!(Some(number), Exact::from_decimal(&value.to_string()));
            }
        }
    }

    #[test]
    fn short_decimals_survive_floating_point(n in -1_000_000_000_i64..1_000_000_000, k in 0_i32..9) {
        let number = Exact::from_integer(n).mul(&Exact::power_of_ten(-k));
        prop_assert_eq!(Exact::from_f64_shortest(number.to_f64()), Some(number));
    }

    #[test]
    fn decimal_text_reads_back_or_is_near((a, _) in pair(), digits in 1_usize..60) {
        let (text, is_exact) = a.to_decimal(digits);
        let read = Exact::from_decimal(&text).unwrap();
        prop_assert_eq!(read == a, is_exact);
        prop_assert_eq!(read.signum(), a.signum());
        let off = read.sub(&a).abs();
        let half = Exact::power_of_ten(a.leading_exponent() + 1 - i32::try_from(digits).unwrap());
        prop_assert!(off.mul(&Exact::from_integer(2)) <= half, "{} for {}", text, a);
        let fixed = Exact::from_decimal(&a.to_fixed(digits)).unwrap();
        let half = Exact::power_of_ten(-i32::try_from(digits).unwrap());
        prop_assert!(fixed.sub(&a).abs().mul(&Exact::from_integer(2)) <= half);
        if let Some(needed) = a.decimals_needed() {
            prop_assert_eq!(&Exact::from_decimal(&a.to_fixed(needed)).unwrap(), &a);
            prop_assert!(needed == 0 || Exact::from_decimal(&a.to_fixed(needed - 1)).unwrap() != a);
        }
    }

    #[test]
    fn the_leading_digit_is_where_it_is_said((a, _) in pair()) {
        if !a.is_zero() {
            let e = a.leading_exponent();
            prop_assert!(Exact::power_of_ten(e) <= a.abs());
            prop_assert!(a.abs() < Exact::power_of_ten(e + 1));
        }
    }

    #[test]
    fn rounding_goes_to_the_nearest_multiple((a, _) in pair(), (step, _) in pair()) {
        for ties in [Ties::Even, Ties::Away] {
            let rounded = a.round_to_multiple(&step, ties);
            if step.is_zero() {
                prop_assert_eq!(&rounded, &a);
                continue;
            }
            let steps = rounded.checked_div(&step).unwrap();
            prop_assert!(steps.is_integer());
            let twice = rounded.sub(&a).abs().mul(&Exact::from_integer(2));
            prop_assert!(twice <= step.abs());
            if twice == step.abs() {
                let half = steps.checked_div(&Exact::from_integer(2)).unwrap();
                match ties {
                    Ties::Even => prop_assert!(half.is_integer()),
                    Ties::Away => prop_assert!(rounded.abs() > a.abs()),
                }
            }
            prop_assert_eq!(&rounded.round_to_multiple(&step, ties), &rounded);
            prop_assert_eq!(a.neg().round_to_multiple(&step, ties), rounded.neg());
        }
    }

    #[test]
    fn a_real_number_holds_the_exact_result((a, _) in pair(), (b, _) in pair(), (c, _) in pair()) {
        let real = |n: &Exact| Number::real(n.to_f64(), n.to_f64().abs() * f64::EPSILON + 1e-300);
        let holds = |number: &Number, truth: &Exact| {
            if let Some(exact) = number.as_exact() { return exact == truth; }
            let (value, bound) = (number.to_f64(), number.bound());
            if !bound.is_finite() { return true; }
            let off = Exact::from_f64_binary(value).unwrap().sub(truth).abs();
            off <= Exact::from_f64_binary(bound).unwrap()
        };
        let (x, y, z) = (real(&a), real(&b), Number::Exact(c.clone()));
        let sum = x.mul(&y).sub(&z.mul(&x)).add(&y);
        let truth = a.mul(&b).sub(&c.mul(&a)).add(&b);
        prop_assert!(holds(&sum, &truth), "{:?} for {}", sum, truth);
        if let Some(quotient) = x.checked_div(&y) {
            prop_assert!(holds(&quotient, &a.checked_div(&b).unwrap()));
        }
        if let Some(root) = x.abs().sqrt() {
            let square = root.mul(&root);
            prop_assert!(holds(&square, &a.abs()), "{:?} for {}", square, a);
        }
        match x.compare(&z) {
            Some(order) => prop_assert_eq!(order, a.cmp(&c)),
            None => prop_assert!(true),
        }
        prop_assert_ne!(x.compare(&y), Some(Ordering::Equal));
        prop_assert!(holds(&x.min(&y), (&a).min(&b)));
        prop_assert!(holds(&x.max(&z), (&a).max(&c)));
    }

    #[test]
    fn sine_and_arc_sine_agree_within_their_bounds(n in -900_000_i64..=900_000) {
        let angle = Number::Exact(Exact::from_integer(n).mul(&Exact::power_of_ten(-4)));
        let back = angle.sin().asin().unwrap();
        prop_assert_eq!(back.compare(&angle), None, "{:?} {:?}", back, angle);
        let one = angle.sin().mul(&angle.sin()).add(&angle.cos().mul(&angle.cos()));
        prop_assert_eq!(one.compare(&Number::Exact(Exact::ONE)), None);
        if let Some(tan) = angle.tan() {
            prop_assert_eq!(tan.atan().compare(&angle), None);
        }
    }
}

/// A unit that is read as its symbol, quotients included.
fn any_unit() -> impl Strategy<Value = Unit> {
    let units: Vec<Unit> = Unit::all().collect();
    let single = prop::sample::select(units.clone());
    let quotient =
        (single.clone(), prop::sample::select(units)).prop_map(|(a, b)| a.per(b).unwrap_or(a));
    prop_oneof![3 => single, 1 => quotient]
}

/// A quantity as a person can write it, in its printed form.
fn written() -> impl Strategy<Value = String> {
    let with_unit = |number: String, unit: Unit| match unit.symbol() {
        "" => number,
        symbol => format!("{number} {symbol}"),
    };
    let decimal = ("-?(0|[1-9][0-9]{0,17})", "(\\.[0-9]{1,20})?", any_unit())
        .prop_map(move |(whole, places, unit)| with_unit(format!("{whole}{places}"), unit));
    let fraction = (
        any::<bool>(),
        0_u32..300,
        1_u32..=1000,
        any::<u32>(),
        any_unit(),
    )
        .prop_map(move |(negative, whole, under, over, unit)| {
            let over = over % under;
            let sign = if negative && (whole > 0 || over > 0) {
                "-"
            } else {
                ""
            };
            let number = match whole {
                0 => format!("{sign}{over}/{under}"),
                whole => format!("{sign}{whole} {over}/{under}"),
            };
            with_unit(number, unit)
        });
    let arc = (0_u32..360, 0_u32..60, "(\\.[0-9]{1,3})?")
        .prop_map(|(degrees, minutes, places)| format!("{degrees} deg {minutes}{places} min"));
    prop_oneof![3 => decimal, 2 => fraction, 1 => arc]
}

/// Texts that look like quantities, dates and mistakes.
fn untidy() -> impl Strategy<Value = String> {
    let bits = prop::sample::select(vec![
        "4.70",
        "4,70",
        "-",
        "--",
        "+",
        " ",
        "  ",
        "\t",
        "\n",
        "/",
        "3/16",
        "1",
        "0",
        "00",
        "16",
        "mm",
        "in",
        "deg",
        "min",
        "degC",
        "°",
        "\"",
        "'",
        "e",
        "E5",
        ".",
        ",",
        "..",
        "to",
        " to ",
        "NaN",
        ".inf",
        "∞",
        "\u{a0}",
        "\u{2212}",
        "½",
        "µm",
        "N/mm",
        "HRC",
        "and",
        "2026-11-21",
        "-02-30",
        "09:05",
        "T",
        "_",
        "%",
        "1e5",
        "é",
        "\u{0}",
        "\u{feff}",
        "𝟜",
        "²",
        "999999999999999999999999999999999999999999",
        "kg",
        "x",
        "(",
        ")",
        "≥",
    ]);
    prop_oneof![
        3 => prop::collection::vec(bits, 0..9).prop_map(|bits| bits.concat()),
        1 => any::<String>(),
        1 => "[-+0-9., /a-z°\"']{0,24}",
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(600))]

    #[test]
    fn what_is_printed_is_read_as_the_same(text in written()) {
        let read = Quantity::parse(&text);
        prop_assert!(read.is_ok(), "{}: {:?}", text, read);
        let read = read.unwrap();
        let printed = read.as_written();
        let again = Quantity::parse(&printed).unwrap();
        prop_assert_eq!(&again, &read, "{} as {}", text, printed);
        // The printed form is the written one, but for minutes of a fraction of a degree and -0.
        let in_minutes = text.contains('/') && text.ends_with("deg");
        if !(text.starts_with("-0") || in_minutes) {
            prop_assert_eq!(&printed, &text);
        }
        prop_assert!(read.resolution.signum() > 0);
        prop_assert_eq!(read.dimension(), read.unit.dimension());
        prop_assert!(Quantity::parse_as(&text, read.dimension()).is_ok());
        let list = Quantity::parse_list(&text).unwrap();
        prop_assert_eq!(&list[0].0, &read);
        prop_assert_eq!(mended(&text), None);
        let (end, lexed) = match lex_literal(&text) {
            Some(lexed) => lexed,
            None => return Err(TestCaseError::fail(text)),
        };
        prop_assert_eq!(end, text.len());
        prop_assert_eq!(&lexed.unwrap(), &read);
    }

    #[test]
    fn another_unit_changes_no_value(text in written(), other in any_unit()) {
        let read = Quantity::parse(&text).unwrap();
        if other.dimension() == read.dimension() {
            let turned = other.to_base(&other.from_base(&read.value));
            prop_assert_eq!(turned, read.value);
        }
    }

    #[test]
    fn a_margin_is_zero_only_for_zero(n in any::<i64>(), k in 0_i32..40, unit in any_unit(), decimals in 0_usize..6) {
        let number = Exact::from_integer(n).mul(&Exact::power_of_ten(-k));
        let text = margin(&number, unit, decimals);
        let read = Exact::from_decimal(&text).unwrap();
        prop_assert_eq!(read.signum(), number.signum(), "{}", text);
    }

    #[test]
    fn an_uncertainty_has_two_digits_and_the_value_ends_with_it(
        n in -1_000_000_i64..1_000_000, k in 0_i32..6, u in 1_u32..1_000_000, e in -9_i32..3,
    ) {
        let value = Exact::from_integer(n).mul(&Exact::power_of_ten(-k));
        let u = Exact::from_integer(i64::from(u)).mul(&Exact::power_of_ten(e));
        let shown = uncertain(&Number::Exact(value.clone()), u.to_f64(), Unit::MM, None);
        let spread = shown.uncertainty.unwrap();
        let digits = spread.replace('.', "");
        let digits = digits.trim_start_matches('0');
        let zeros = if spread.contains('.') { "" } else { digits.get(2..).unwrap_or("") };
        prop_assert!(digits.len() == 2 + zeros.len() && zeros.bytes().all(|b| b == b'0'), "{}", spread);
        let places = |text: &str| text.split_once('.').map_or(0, |(_, places)| places.len());
        prop_assert_eq!(places(&shown.value), places(&spread));
        let last = exact(&spread).leading_exponent() - 1;
        let off = exact(&shown.value).sub(&value).abs();
        prop_assert!(off.mul(&Exact::from_integer(2)) <= Exact::power_of_ten(last));
        let off = exact(&spread).sub(&u).abs();
        prop_assert!(off.mul(&Exact::from_integer(2)) <= Exact::power_of_ten(last));
    }

    #[test]
    fn no_text_makes_it_panic_and_every_problem_points_into_the_text(text in untidy()) {
        let fits = |problem: &super::super::QuantityProblem| {
            prop_assert!(text.get(problem.range.clone()).is_some(), "{:?} in {:?}", problem, text);
            prop_assert!(!problem.message.is_empty() && !problem.code.is_empty());
            prop_assert!(!problem.message.chars().any(char::is_control));
            prop_assert!(!problem.to_string().contains('\n'));
            Ok(())
        };
        for dimension in [Dimension::LENGTH, Dimension::RATIO, Dimension::TIME, Dimension::FORCE] {
            if let Err(problem) = Quantity::parse_as(&text, dimension) { fits(&problem)?; }
            if let Err(problem) = Quantity::parse_range_as(&text, dimension) { fits(&problem)?; }
            if let Err(problems) = Quantity::parse_list_all(&text, Some(dimension)) {
                prop_assert!(!problems.is_empty());
                for problem in &problems { fits(problem)?; }
            }
        }
        match Quantity::parse(&text) {
            Ok(quantity) => prop_assert_eq!(Quantity::parse(&quantity.as_written()).unwrap(), quantity),
            Err(problem) => fits(&problem)?,
        }
        match Quantity::parse_list(&text) {
            Ok(list) => {
                prop_assert!(!list.is_empty());
                for (_, range) in list { prop_assert!(text.get(range).is_some()); }
            }
            Err(problem) => fits(&problem)?,
        }
        if let Err(problem) = Quantity::parse_range(&text) { fits(&problem)?; }
        if let Some((end, read)) = lex_literal(&text) {
            prop_assert!(end > 0 && text.is_char_boundary(end));
            if let Err(problem) = read { fits(&problem)?; prop_assert!(problem.range.start <= end); }
        }
        if let Some((end, read)) = lex_date(&text) {
            prop_assert!(end > 0 && text.is_char_boundary(end));
            if let Err(problem) = read { fits(&problem)?; }
        }
        if let Err(problem) = DateSpan::parse(&text) { fits(&problem)?; }
        if let Err(problem) = DateTime::parse(&text) { fits(&problem)?; }
        if let Some(form) = mended(&text) { prop_assert!(Quantity::parse(&form).is_ok()); }
        if let Some(form) = mended_list(&text) { prop_assert!(Quantity::parse_list(&form).is_ok(), "{}", form); }
        let _ = text.chars().filter_map(lookalike).count();
    }
}
