//! Upper and lower convex hull of stations in order, exactly, and zone widths read off them.
//!
//! Orientation is decided in 128-bit integers where all coordinates are short decimals, as written readings
//! are, and in exact fractions otherwise; both give the same answer.

#![expect(
    clippy::indexing_slicing,
    reason = "places come from the loops over the same vectors; the profile and property tests sweep them"
)]

use std::cmp::Ordering;

use crate::quantity::Exact;

/// Points in strictly rising order of x.
pub(super) struct Points {
    x: Vec<Exact>,
    y: Vec<Exact>,
    /// All coordinates times a power of ten (each axis its own), where they fit.
    scaled: Option<Vec<(i64, i64)>>,
}

/// All numbers times one power of ten, as integers below 2^62, so that a cross product fits 128 bits.
fn scaled(numbers: &[Exact]) -> Option<Vec<i64>> {
    let mut decimals = 0;
    for number in numbers {
        decimals = decimals.max(number.decimals_needed()?);
    }
    let power = Exact::power_of_ten(i32::try_from(decimals).ok().filter(|&k| k <= 18)?);
    numbers
        .iter()
        .map(|number| {
            let whole = number.mul(&power).to_i64()?;
            (whole.unsigned_abs() < 1 << 61).then_some(whole)
        })
        .collect()
}

impl Points {
    /// Coordinates in strictly rising order of `x`, as many `y` as `x`.
    pub fn new(x: Vec<Exact>, y: Vec<Exact>) -> Points {
        let scaled = scaled(&x)
            .zip(scaled(&y))
            .map(|(x, y)| x.into_iter().zip(y).collect());
        Points { x, y, scaled }
    }

    pub fn x(&self, place: usize) -> &Exact {
        &self.x[place]
    }

    fn len(&self) -> usize {
        self.x.len()
    }

    /// The slope from a to b against the slope from c to d; a before b and c before d.
    fn compare_slopes(&self, (a, b): (usize, usize), (c, d): (usize, usize)) -> Ordering {
        if let Some(points) = &self.scaled {
            let step = |from: usize, to: usize| {
                let ((x, y), (p, q)) = (points[from], points[to]);
                (i128::from(p) - i128::from(x), i128::from(q) - i128::from(y))
            };
            let ((dx, dy), (ex, ey)) = (step(a, b), step(c, d));
            return (dy * ex).cmp(&(ey * dx));
        }
        let rise = |from: usize, to: usize| self.y[to].sub(&self.y[from]);
        let run = |from: usize, to: usize| self.x[to].sub(&self.x[from]);
        rise(a, b).mul(&run(c, d)).cmp(&rise(c, d).mul(&run(a, b)))
    }

    fn slope(&self, from: usize, to: usize) -> Exact {
        let run = self.x[to].sub(&self.x[from]);
        let rise = self.y[to].sub(&self.y[from]);
        // The stations differ, so the run is never zero.
        rise.checked_div(&run).unwrap_or(Exact::ZERO)
    }

    pub fn end_point_slope(&self) -> Exact {
        self.slope(0, self.len() - 1)
    }

    /// Slope of the least-squares line: (n·Σxy − Σx·Σy)/(n·Σx² − (Σx)²), from the first station.
    pub fn least_squares_slope(&self) -> Exact {
        let n = Exact::from_integer(i64::try_from(self.len()).unwrap_or(i64::MAX));
        let (mut sx, mut sy) = (Exact::ZERO, Exact::ZERO);
        let (mut sxx, mut sxy) = (Exact::ZERO, Exact::ZERO);
        for (x, y) in self.x.iter().zip(&self.y) {
            let (x, y) = (x.sub(&self.x[0]), y.sub(&self.y[0]));
            sxx = sxx.add(&x.mul(&x));
            sxy = sxy.add(&x.mul(&y));
            sx = sx.add(&x);
            sy = sy.add(&y);
        }
        let above = n.mul(&sxy).sub(&sx.mul(&sy));
        let below = n.mul(&sxx).sub(&sx.mul(&sx));
        above.checked_div(&below).unwrap_or(Exact::ZERO)
    }

    /// y − slope·x.
    fn deviation(&self, place: usize, slope: &Exact) -> Exact {
        self.y[place].sub(&slope.mul(&self.x[place]))
    }
}

/// The hull's vertices as places in [`Points`], left to right; both chains hold the first and the last.
pub(super) struct Hulls {
    upper: Vec<usize>,
    lower: Vec<usize>,
}

/// The minimum zone: an edge of one hull and the vertex of the other between its ends.
pub(super) struct Zone {
    pub width: Exact,
    pub slope: Exact,
    pub left: usize,
    pub right: usize,
    pub opposite: usize,
    pub edge_is_upper: bool,
    /// Where between the ends the opposite contact lies, 0 to 1.
    pub share: f64,
}

impl Hulls {
    /// Both chains of at least two points.
    pub fn new(points: &Points) -> Hulls {
        Hulls {
            upper: chain(points, Ordering::Greater),
            lower: chain(points, Ordering::Less),
        }
    }

    /// The vertices of the lower hull from left to right, with the first and the last point.
    pub fn lower(&self) -> &[usize] {
        &self.lower
    }

    /// The zone of least width. With rising slope the upper contact moves left and the lower one right; the
    /// width is least where they pass each other.
    pub fn minimum_zone(&self, points: &Points) -> Zone {
        let (mut u, mut l) = (self.upper.len() - 1, 0);
        loop {
            let upper_edge = (u > 0).then(|| (self.upper[u - 1], self.upper[u]));
            let lower_edge = (l + 1 < self.lower.len()).then(|| (self.lower[l], self.lower[l + 1]));
            // Each chain ends where the other starts, so one edge is left as long as they haven't met.
            let (edge, edge_is_upper) = match (upper_edge, lower_edge) {
                (Some(a), Some(b)) => {
                    if points.compare_slopes(a, b) == Ordering::Greater {
                        (b, false)
                    } else {
                        (a, true)
                    }
                }
                (Some(a), None) => (a, true),
                (None, Some(b)) => (b, false),
                (None, None) => ((self.upper[0], self.lower[l]), true),
            };
            let opposite = if edge_is_upper {
                u = u.saturating_sub(1);
                self.lower[l]
            } else {
                l += 1;
                self.upper[u]
            };
            if self.lower[l] >= self.upper[u] {
                return zone(points, edge, opposite, edge_is_upper);
            }
        }
    }

    /// Peak-to-valley width about a line of the given slope.
    pub fn width_at(&self, points: &Points, slope: &Exact) -> Exact {
        let over = |chain: &[usize]| -> Vec<Exact> {
            chain.iter().map(|&i| points.deviation(i, slope)).collect()
        };
        let highest = over(&self.upper).into_iter().max();
        let lowest = over(&self.lower).into_iter().min();
        match (highest, lowest) {
            (Some(high), Some(low)) => high.sub(&low),
            _ => Exact::ZERO,
        }
    }
}

/// Monotone chain: a point stays while the slope into it compares with the slope out of it as `kept` says.
/// Along the upper hull the slopes fall (`Greater`), along the lower hull they rise (`Less`).
fn chain(points: &Points, kept: Ordering) -> Vec<usize> {
    let mut chain: Vec<usize> = Vec::new();
    for next in 0..points.len() {
        while let [.., before, last] = chain[..]
            && points.compare_slopes((before, last), (last, next)) != kept
        {
            chain.pop();
        }
        chain.push(next);
    }
    chain
}

fn zone(
    points: &Points,
    (left, right): (usize, usize),
    opposite: usize,
    edge_is_upper: bool,
) -> Zone {
    let slope = points.slope(left, right);
    let width = points
        .deviation(left, &slope)
        .sub(&points.deviation(opposite, &slope))
        .abs();
    // All stations on one line: any one between the ends is a contact.
    let opposite = if opposite == left || opposite == right {
        usize::midpoint(left, right)
    } else {
        opposite
    };
    let part = points.x[opposite].sub(&points.x[left]).to_f64();
    let whole = points.x[right].sub(&points.x[left]).to_f64();
    Zone {
        width,
        slope,
        left,
        right,
        opposite,
        edge_is_upper,
        share: part / whole,
    }
}
