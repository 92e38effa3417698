//! The minimum-zone width in floating point, for trials by the thousand: the exact one is in
//! [`straightness`](super::straightness).

#![expect(
    clippy::indexing_slicing,
    reason = "places come from the loops over the same stations; a property test sweeps them"
)]

/// One chain of the convex hull: the upper one for `sign` 1, the lower one for −1.
fn chain(x: &[f64], y: &[f64], sign: f64, found: &mut Vec<usize>) {
    found.clear();
    for next in 0..x.len() {
        while let [.., a, b] = found[..] {
            let turn = (x[b] - x[a]) * (y[next] - y[a]) - (y[b] - y[a]) * (x[next] - x[a]);
            if turn * sign < 0.0 {
                break;
            }
            found.pop();
        }
        found.push(next);
    }
}

/// The least distance, along y, of two parallel lines that hold all points, which stand in rising order of x.
/// As good as floating point: some roundings of the largest |y|. 0 for fewer than three points; points without a
/// partner count as absent.
///
/// Source: ISO 12780-1 (minimum zone in the direction of the readings). The width as a function of the slope is
/// convex and least at the slope of a hull's side.
#[must_use]
pub fn zone_width(x: &[f64], y: &[f64]) -> f64 {
    let count = x.len().min(y.len());
    if count < 3 {
        return 0.0;
    }
    let (x, y) = (&x[..count], &y[..count]);
    let (mut upper, mut lower) = (Vec::new(), Vec::new());
    chain(x, y, 1.0, &mut upper);
    chain(x, y, -1.0, &mut lower);
    // Sides of the upper chain fall in slope from left to right, those of the lower chain rise: both are walked
    // by rising slope, the upper chain from its right end.
    let (mut u, mut l) = (upper.len() - 1, 0);
    let slope = |a: usize, b: usize| (y[b] - y[a]) / (x[b] - x[a]);
    loop {
        let width = |slope: f64| {
            let at = |place: usize| y[place] - slope * x[place];
            at(upper[u]) - at(lower[l])
        };
        let of_upper = (u > 0).then(|| slope(upper[u - 1], upper[u]));
        let of_lower = (l + 1 < lower.len()).then(|| slope(lower[l], lower[l + 1]));
        // The next slope at which a contact moves on; the width stops falling when the lower contact has come to
        // the right of the upper one.
        match (of_upper, of_lower) {
            (Some(a), Some(b)) if a <= b => {
                if x[upper[u - 1]] <= x[lower[l]] {
                    return width(a);
                }
                u -= 1;
            }
            (_, Some(b)) => {
                if x[lower[l + 1]] >= x[upper[u]] {
                    return width(b);
                }
                l += 1;
            }
            (Some(a), None) => {
                if x[upper[u - 1]] <= x[lower[l]] {
                    return width(a);
                }
                u -= 1;
            }
            (None, None) => return 0.0,
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use proptest::prelude::*;

    use super::zone_width;
    use crate::geometry::straightness;
    use crate::quantity::Exact;
    use crate::uncertainty::Uncertain;

    proptest! {
        /// The trial's width is the exact one, to rounding.
        #[test]
        fn agrees_with_the_exact_width(
            steps in prop::collection::vec((1_i64..50, -200_i64..200), 3..40),
        ) {
            let mut at = 0;
            let points: Vec<(i64, i64)> = steps.iter().map(|(step, y)| { at += step; (at, *y) }).collect();
            let exact = |number: i64| Exact::from_integer(number);
            let stations: Vec<Exact> = points.iter().map(|(x, _)| exact(*x)).collect();
            let readings: Vec<Uncertain> =
                points.iter().map(|(_, y)| Uncertain::exact(exact(*y))).collect();
            let expected = straightness(&stations, Some(&readings), None).unwrap().width.value.to_f64();
            #[expect(clippy::cast_precision_loss, reason = "small numbers")]
            let (x, y): (Vec<f64>, Vec<f64>) = points.iter().map(|(x, y)| (*x as f64, *y as f64)).unzip();
            prop_assert!((zone_width(&x, &y) - expected).abs() < 1e-9, "{points:?}");
        }
    }
}
