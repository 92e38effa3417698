//! All eleven sets of the NIST Statistical Reference Datasets, linear regression
//! (`tests/data/nist-linear.toml`), and what makes no fit.
//!
//! Exact fractions give all certified digits, 14 or 15 of them. Plain double arithmetic can't everywhere: the
//! readings themselves are rounded to binary, which moves b by κ·2⁻⁵³, and normal equations square κ. With κ of the
//! powers as they stand near 10¹⁵ (Filip) nothing is left of b that way, of Longley and Wampler some digits are;
//! even an orthogonal method leaves Filip 7 or 8. The last test shows how many digits normal equations in doubles
//! keep.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

use super::*;

fn sets() -> toml::Table {
    include_str!("../../tests/data/nist-linear.toml")
        .parse()
        .unwrap()
}

fn float(value: &toml::Value) -> f64 {
    value
        .as_float()
        .unwrap_or_else(|| value.as_integer().unwrap() as f64)
}

fn numbers(set: &toml::Table, key: &str) -> Vec<f64> {
    set[key].as_array().unwrap().iter().map(float).collect()
}

fn exact(value: &f64) -> Exact {
    Exact::from_f64_shortest(*value).unwrap()
}

/// The terms of each reading as they are written, and the readings.
fn model(set: &toml::Table) -> (Vec<Vec<Exact>>, Vec<Exact>) {
    let y: Vec<Exact> = numbers(set, "y").iter().map(exact).collect();
    let rows = if set["model"].as_str() == Some("multi") {
        let columns: Vec<Vec<f64>> = (1..=6).map(|k| numbers(set, &format!("x{k}"))).collect();
        let row = |i: usize| columns.iter().map(move |column| exact(&column[i]));
        (0..y.len())
            .map(|i| std::iter::once(Exact::ONE).chain(row(i)).collect())
            .collect()
    } else {
        let degree = set["degree"].as_integer().unwrap() as usize;
        let least = usize::from(set["model"].as_str() == Some("origin"));
        let power = |x: &Exact, k: usize| (0..k).fold(Exact::ONE, |product, _| product.mul(x));
        numbers(set, "x")
            .iter()
            .map(|x| (least..=degree).map(|k| power(&exact(x), k)).collect())
            .collect()
    };
    (rows, y)
}

fn close(what: &str, found: f64, certified: f64, room: f64) {
    let scale = if certified == 0.0 {
        1.0
    } else {
        certified.abs()
    };
    assert!(
        (found - certified).abs() <= room * scale,
        "{what}: {found} {certified}"
    );
}

/// 14 digits of b, of its standard deviations, of s and R²: the file has the certified 15 with trailing zeros
/// dropped, read as the nearest double.
#[test]
fn certified_values_to_all_digits() {
    let all = sets();
    for (name, set) in &all {
        let set = set.as_table().unwrap();
        let (rows, y) = model(set);
        assert_eq!(y.len() as i64, set["n"].as_integer().unwrap());
        let fit = fit_linear(&rows, &y).unwrap();
        for (found, certified) in fit.b.iter().zip(numbers(set, "b")) {
            close(name, found.to_f64(), certified, 5.1e-15);
        }
        for (found, certified) in fit.sd_b.iter().zip(numbers(set, "sd_b")) {
            close(name, *found, certified, 1e-14);
        }
        assert_eq!(fit.b.len(), numbers(set, "b").len());
        close(name, fit.s.unwrap(), float(&set["residual_sd"]), 1e-14);
        close(
            name,
            fit.residual_squares.to_f64(),
            float(&set["residual_ss"]),
            1e-14,
        );
        let constant = set["model"].as_str() != Some("origin");
        close(
            name,
            fit.r_squared(&y, constant).unwrap(),
            float(&set["r_squared"]),
            1e-14,
        );
        assert_eq!(fit.nu, (y.len() - fit.b.len()) as f64);
        if name.starts_with("Wampler") {
            // 1 1 1 1 1 1, or 1 0.1 0.01 …, with not a digit lost.
            let b: Vec<Exact> = numbers(set, "b").iter().map(exact).collect();
            assert_eq!(fit.b, b, "{name}");
        }
    }
    assert_eq!(all.len(), 11);
}

/// A polynomial by its own entrance, and moved by 100 km: the same leading factor.
#[test]
fn polynomials_about_any_place() {
    let all = sets();
    for name in ["Norris", "Pontius", "Filip"] {
        let set = all[name].as_table().unwrap();
        let x: Vec<Exact> = numbers(set, "x").iter().map(exact).collect();
        let y: Vec<Exact> = numbers(set, "y").iter().map(exact).collect();
        let degree = set["degree"].as_integer().unwrap() as usize;
        let far = Exact::from_integer(100_000_000);
        let fit = |by: &Exact| {
            let points: Vec<(Exact, Exact)> =
                x.iter().map(|x| x.add(by)).zip(y.iter().cloned()).collect();
            fit_polynomial(&points, degree, by).unwrap()
        };
        let (near, moved) = (fit(&Exact::ZERO), fit(&far));
        assert_eq!(near.b, moved.b);
        assert_eq!(near.kappa, moved.kappa);
        for (found, certified) in near.b.iter().zip(numbers(set, "b")) {
            close(name, found.to_f64(), certified, 5.1e-15);
        }
    }
    // About a place 100 km away the powers of Filip can't be told apart.
    let set = all["Filip"].as_table().unwrap();
    let x = numbers(set, "x");
    let points: Vec<(Exact, Exact)> = x
        .iter()
        .map(exact)
        .zip(numbers(set, "y").iter().map(exact))
        .collect();
    let far = Exact::from_integer(-100_000_000);
    assert_eq!(
        fit_polynomial(&points, 10, &far).unwrap_err().code,
        "ill_conditioned"
    );
}

/// Normal equations in doubles: the digits that are left of b, the fewest over its factors.
fn digits_of_doubles(rows: &[Vec<Exact>], y: &[Exact], b: &[Exact]) -> f64 {
    let rows: Vec<Vec<f64>> = rows
        .iter()
        .map(|row| row.iter().map(Exact::to_f64).collect())
        .collect();
    let size = b.len();
    let mut system: Vec<Vec<f64>> = (0..size)
        .map(|j| {
            let of = |k: usize| rows.iter().map(|row| row[j] * row[k]).sum();
            let right = rows.iter().zip(y).map(|(row, y)| row[j] * y.to_f64()).sum();
            (0..size).map(of).chain([right]).collect()
        })
        .collect();
    for column in 0..size {
        let best = (column..size)
            .max_by(|&a, &b| system[a][column].abs().total_cmp(&system[b][column].abs()));
        system.swap(column, best.unwrap());
        for row in 0..size {
            if row != column {
                let factor = system[row][column] / system[column][column];
                let lead = system[column].clone();
                for (own, above) in system[row].iter_mut().zip(lead) {
                    *own -= factor * above;
                }
            }
        }
    }
    let off = (0..size).map(|j| {
        let found = system[j][size] / system[j][j];
        (found / b[j].to_f64() - 1.0).abs()
    });
    -off.fold(1e-17, f64::max).log10()
}

#[test]
fn where_doubles_could_not() {
    let all = sets();
    let digits = |name: &str| {
        let (rows, y) = model(all[name].as_table().unwrap());
        let fit = fit_linear(&rows, &y).unwrap();
        digits_of_doubles(&rows, &y, &fit.b)
    };
    for name in ["NoInt1", "NoInt2"] {
        assert!(digits(name) > 12.0, "{name}: {}", digits(name));
    }
    assert!(digits("Filip") < 3.0, "{}", digits("Filip"));
    for name in ["Longley", "Wampler2", "Wampler5"] {
        assert!(digits(name) < 12.0, "{name}: {}", digits(name));
    }
}

/// The factors of the line through the readings of JCGM 100:2008, H.3, agree with the fit of the line, and the
/// derivatives with differences.
#[test]
fn a_line_is_a_linear_model() {
    use crate::geometry::line_fit;
    let decimal = |text: &str| Exact::from_decimal(text).unwrap();
    let t = ["21.521", "22.012", "22.512", "23.003", "24.513", "26.511"].map(decimal);
    let b = ["-0.171", "-0.169", "-0.166", "-0.159", "-0.156", "-0.160"].map(decimal);
    let t_0 = decimal("20");
    let points: Vec<(Exact, Exact)> = t.iter().cloned().zip(b.iter().cloned()).collect();
    let fit = fit_polynomial(&points, 1, &t_0).unwrap();
    let sure =
        |list: &[Exact]| -> Vec<Uncertain> { list.iter().cloned().map(Uncertain::exact).collect() };
    let line = line_fit(&sure(&t), &sure(&b), &t_0).unwrap();
    assert_eq!(Some(&fit.b[0]), line.y_1.value.as_exact());
    assert_eq!(Some(&fit.b[1]), line.y_2.value.as_exact());
    close("s", fit.s.unwrap(), line.s.unwrap(), 1e-14);
    close("u_1", fit.sd_b[0], line.u_1, 1e-13);
    close("u_2", fit.sd_b[1], line.u_2, 1e-13);
    // κ of two factors with the correlation r is √((1 + |r|)/(1 − |r|)); the norm used here is no smaller.
    assert!(
        fit.kappa >= line.kappa && fit.kappa < 1.5 * line.kappa,
        "{} {}",
        fit.kappa,
        line.kappa
    );
    for place in 0..t.len() {
        let mut moved = points.clone();
        moved[place].1 = moved[place].1.add(&Exact::ONE);
        let moved = fit_polynomial(&moved, 1, &t_0).unwrap();
        for j in 0..2 {
            let change = moved.b[j].sub(&fit.b[j]).to_f64();
            assert!((change - fit.by_reading[place][j]).abs() < 1e-15);
        }
    }
    let readings = sure(&b);
    let slope = fit.factor_of(1, &readings).unwrap();
    assert!(slope.parts.is_empty() && fit.factor_of(2, &readings).is_none());
}

#[test]
fn what_makes_no_fit() {
    let whole = |n: i64| Exact::from_integer(n);
    let code = |list: &[(i64, i64)], degree| {
        let points: Vec<(Exact, Exact)> = list.iter().map(|&(x, y)| (whole(x), whole(y))).collect();
        fit_polynomial(&points, degree, &Exact::ZERO)
            .unwrap_err()
            .code
    };
    assert_eq!(code(&[], 1), "too_few_readings");
    assert_eq!(code(&[(1, 1)], 1), "too_few_readings");
    assert_eq!(code(&[(1, 1), (1, 2), (1, 3)], 1), "ill_conditioned");
    assert_eq!(code(&[(1, 1), (2, 2), (1, 3)], 2), "ill_conditioned");
    let rows = [
        vec![whole(1), whole(2)],
        vec![whole(2)],
        vec![whole(3), whole(1)],
    ];
    let y = [whole(1), whole(2), whole(3)];
    assert_eq!(fit_linear(&rows, &y).unwrap_err().code, "too_few_readings");
    assert_eq!(
        fit_linear(&rows[..1], &y).unwrap_err().code,
        "too_few_readings"
    );
    // One more reading than terms, all on the model: no scatter.
    let points: Vec<(Exact, Exact)> = (0..4).map(|x| (whole(x), whole(x * x))).collect();
    let fit = fit_polynomial(&points, 2, &Exact::ZERO).unwrap();
    assert_eq!(fit.b, [whole(0), whole(0), whole(1)]);
    assert_eq!((fit.s, fit.nu), (Some(0.0), 1.0));
    let fit = fit_polynomial(&points[..3], 2, &Exact::ZERO).unwrap();
    assert_eq!((fit.s, fit.nu), (None, 0.0));
}
