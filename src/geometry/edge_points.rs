//! The angle of an edge from points across it: a line through the points of each ground face.
//!
//! Coordinates of a section: x = 0 is the middle plane of the blade, negative toward port and positive toward
//! starboard; y is the height above any line square to the middle plane (the edge may point down or up). Lengths
//! in mm, angles in degrees.
//!
//! Each line is fitted by orthogonal distance: with x′, y′ from the mean of the points, tan 2θ =
//! 2·Σx′y′ / Σ(y′² − x′²) for its angle θ against the middle plane (total least squares; the longer axis of the
//! scatter). Sums are exact where the readings are. The included angle does not depend on how the section lies;
//! half angles and the offset of the apex are against the middle plane.

use super::arc::{arc_of, degrees};
use super::edge_gauges::stands_out;
use super::problem::{GeometryProblem, shown};
use crate::quantity::{Exact, Number};
use crate::uncertainty::{Part, PartKind, Uncertain};

/// A point across the edge.
#[derive(Clone, Debug)]
pub struct EdgePoint {
    /// Across, from the middle plane, positive toward starboard.
    pub x: Uncertain,
    /// Height.
    pub y: Uncertain,
}

/// One ground face of a section.
#[derive(Clone, Debug)]
pub struct FaceLine {
    /// Against the middle plane, in degrees.
    pub half_angle: Uncertain,
    /// Numbers of the points that were left out, from 0: within the rounding of the apex.
    pub left_out: Vec<usize>,
    /// Distances of the points that were kept from the line, in their order.
    pub residuals: Vec<f64>,
    /// Residual standard deviation with n − 2 degrees of freedom; `None` for two points.
    pub scatter: Option<f64>,
    /// Standard uncertainty in degrees that the scatter alone gives the half angle; 0 for two points.
    pub u_scatter: f64,
    /// How long the points lie over how far they scatter about the line: how well the direction is told. Huge
    /// or infinite where all points lie on the line, 1 where there is no direction.
    pub elongation: f64,
}

/// An edge from points across it.
#[derive(Clone, Debug)]
pub struct EdgeSection {
    /// The port face.
    pub port: FaceLine,
    /// The starboard face.
    pub starboard: FaceLine,
    /// Included angle: both half angles together.
    pub included: Uncertain,
    /// How far the half angles differ, never negative.
    pub difference: Uncertain,
    /// Where both lines meet, from the middle plane, positive toward starboard: 0 for a symmetric edge.
    pub apex_offset: Uncertain,
    /// The height at which both lines meet.
    pub apex_height: f64,
    /// What has to be said beside the angle.
    pub notices: Vec<String>,
}

/// Words of both faces.
const FACES: [&str; 2] = ["port", "starboard"];

/// How many times the points near the apex are chosen anew before what was left out once stays out.
const ROUNDS: usize = 32;

/// The edge by points of its two ground faces. With an `edge_radius` above 0, points within the rounding are left
/// out: an apex rounded with radius r touches the faces r/tan(A/2) from where their lines meet, so lines and
/// choice are repeated until they agree. `scatter` are the identities of what the scatter about either line adds,
/// where it is larger than what the readings are good to.
///
/// # Errors
/// Fewer than two points of a face, or left of it; points without a direction; faces that don't meet in an edge.
pub fn edge_from_points(
    port: &[EdgePoint],
    starboard: &[EdgePoint],
    edge_radius: &Number,
    scatter: Option<[u32; 2]>,
) -> Result<EdgeSection, GeometryProblem> {
    let radius = edge_radius.to_f64();
    if radius < 0.0 || radius.is_nan() {
        return Err(GeometryProblem::new(
            "edge_radius_below_zero",
            format!("the edge radius is {} mm", shown(edge_radius)),
            "a radius from 0 mm up",
        ));
    }
    let mut faces = [port.to_vec(), starboard.to_vec()];
    let all = faces.each_ref().map(|face| vec![true; face.len()]);
    if Meeting::of(&faces, &all)?.points_up() {
        // Drawn with the edge on top: seen in a mirror, which moves no point to the other side.
        for point in faces.iter_mut().flatten() {
            point.y = point.y.neg();
        }
    }
    let mut kept = all;
    let mut seen = vec![kept.clone()];
    let mut meeting = Meeting::of(&faces, &kept)?;
    meeting.opens()?;
    let mut agreed = radius == 0.0;
    while !agreed {
        let mut next = meeting.outside(&faces, radius);
        if next == kept {
            break;
        }
        if seen.len() > ROUNDS || seen.contains(&next) {
            let out = |a: &[bool], b: &[bool]| a.iter().zip(b).map(|(a, b)| *a && *b).collect();
            let [port, starboard] = &next;
            let [port_before, starboard_before] = &kept;
            next = [out(port, port_before), out(starboard, starboard_before)];
            // What was left out once stays out, so that this ends.
            agreed = next == kept;
            if agreed {
                break;
            }
        }
        seen.push(next.clone());
        kept = next;
        meeting = Meeting::of(&faces, &kept).map_err(|problem| near_apex(problem, edge_radius))?;
        meeting.opens()?;
    }
    meeting.before_the_apex(&faces, &kept)?;
    meeting.section(&faces, &kept, scatter)
}

/// What is wrong once points within the rounding are left out.
fn near_apex(problem: GeometryProblem, radius: &Number) -> GeometryProblem {
    GeometryProblem {
        message: format!(
            "{}, once points within an edge radius of {} mm are left out",
            problem.message,
            shown(radius)
        ),
        ..problem
    }
}

/// A line through points.
#[derive(Clone, Debug)]
struct Line {
    /// Mean of the points.
    mean: [Number; 2],
    /// Angle against the middle plane, from y toward x, −90 to 90 degrees.
    angle: Number,
    /// Direction (sin, cos) of that angle.
    along: [f64; 2],
    /// For each point its derivatives in radians by x and by y; zero for those left out.
    derivatives: Vec<[f64; 2]>,
    /// Sum of squares along the line.
    along_squares: f64,
    /// Number of points.
    count: usize,
}

impl Line {
    fn of(points: &[EdgePoint], kept: &[bool], face: &str) -> Result<Line, GeometryProblem> {
        let chosen: Vec<&EdgePoint> = points
            .iter()
            .zip(kept)
            .filter_map(|(point, kept)| kept.then_some(point))
            .collect();
        let count = chosen.len();
        if count < 2 {
            let found = if count == 0 { "no point" } else { "one point" };
            return Err(GeometryProblem::new(
                "too_few_points",
                format!("the {face} face has {found}"),
                "two points of each ground face at least, better three or more, outside the rounding of the apex",
            ));
        }
        let n = degrees(i64::try_from(count).unwrap_or(i64::MAX));
        let mean = |of: fn(&EdgePoint) -> &Uncertain| {
            let sum = chosen
                .iter()
                .fold(Number::ZERO, |sum, point| sum.add(&of(point).value));
            sum.checked_div(&n).unwrap_or(Number::ZERO)
        };
        let mean = [mean(|point| &point.x), mean(|point| &point.y)];
        let [mean_x, mean_y] = &mean;
        let (mut products, mut x_squares, mut y_squares) =
            (Number::ZERO, Number::ZERO, Number::ZERO);
        for point in &chosen {
            let (x, y) = (point.x.value.sub(mean_x), point.y.value.sub(mean_y));
            products = products.add(&x.mul(&y));
            x_squares = x_squares.add(&x.mul(&x));
            y_squares = y_squares.add(&y.mul(&y));
        }
        let (sine, cosine) = (products.mul(&degrees(2)), y_squares.sub(&x_squares));
        let twice = arc_of(&sine, &cosine).ok_or_else(|| {
            GeometryProblem::new(
                "no_direction",
                format!("the points of the {face} face have no direction: they are one point, or lie round about"),
                "points spread along the ground face, from near the edge to where the face ends",
            )
        })?;
        let angle = twice.checked_div(&degrees(2)).unwrap_or(Number::ZERO);
        let (s, c) = (sine.to_f64(), cosine.to_f64());
        let square = s * s + c * c;
        let derivatives = points
            .iter()
            .zip(kept)
            .map(|(point, kept)| {
                if !kept {
                    return [0.0, 0.0];
                }
                let x = point.x.value.sub(mean_x).to_f64();
                let y = point.y.value.sub(mean_y).to_f64();
                [(c * y + s * x) / square, (c * x - s * y) / square]
            })
            .collect();
        let radians = angle.to_f64().to_radians();
        let sum = x_squares.add(&y_squares).to_f64();
        let spread = s.hypot(c);
        Ok(Line {
            mean,
            along: [radians.sin(), radians.cos()],
            angle,
            derivatives,
            along_squares: (sum + spread) / 2.0,
            count,
        })
    }

    fn middle(&self) -> [f64; 2] {
        self.mean.each_ref().map(Number::to_f64)
    }

    /// How far a place lies along the line from its middle, and beside it.
    fn place(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        let ([middle_x, middle_y], [sin, cos]) = (self.middle(), self.along);
        let (x, y) = (x - middle_x, y - middle_y);
        [x * sin + y * cos, x * cos - y * sin]
    }

    /// The angle as a value of all points.
    fn angle_of(&self, points: &[EdgePoint]) -> Uncertain {
        let terms: Vec<(&Uncertain, f64)> = points
            .iter()
            .zip(&self.derivatives)
            .flat_map(|(point, [by_x, by_y])| {
                [(&point.x, by_x.to_degrees()), (&point.y, by_y.to_degrees())]
            })
            .collect();
        Uncertain::linear(self.angle.clone(), &terms)
    }
}

fn position(point: &EdgePoint) -> [f64; 2] {
    [point.x.value.to_f64(), point.y.value.to_f64()]
}

/// Both lines and where they meet.
struct Meeting {
    lines: [Line; 2],
    apex: [f64; 2],
    /// Whether each line's angle points from the apex to its points.
    outward: [bool; 2],
}

impl Meeting {
    fn of(faces: &[Vec<EdgePoint>; 2], kept: &[Vec<bool>; 2]) -> Result<Meeting, GeometryProblem> {
        let [port, starboard] = faces;
        let [port_kept, starboard_kept] = kept;
        let [port_word, starboard_word] = FACES;
        let lines = [
            Line::of(port, port_kept, port_word)?,
            Line::of(starboard, starboard_kept, starboard_word)?,
        ];
        let [a, b] = &lines;
        let ([a_sin, a_cos], [b_sin, b_cos]) = (a.along, b.along);
        // The sine of the angle between both lines.
        let across = b_sin * a_cos - b_cos * a_sin;
        if across.abs() < 1e-12 {
            return Err(GeometryProblem::new(
                "faces_do_not_meet",
                "the two faces run side by side and meet in no edge",
                "points of the two ground faces of one edge: port with x below 0, starboard above",
            ));
        }
        // From the middle of a to the middle of b, counted along a.
        let ([ax, ay], [bx, by]) = (a.middle(), b.middle());
        let (dx, dy) = (bx - ax, by - ay);
        let along = (b_sin * dy - b_cos * dx) / across;
        let apex = [ax + along * a_sin, ay + along * a_cos];
        let outward = lines.each_ref().map(|line| {
            let [along, _] = line.place(apex);
            along <= 0.0
        });
        Ok(Meeting {
            lines,
            apex,
            outward,
        })
    }

    /// The direction of each face from the apex.
    fn directions(&self) -> [[f64; 2]; 2] {
        let [a, b] = &self.lines;
        let [a_out, b_out] = self.outward;
        let turned = |[x, y]: [f64; 2], out: bool| if out { [x, y] } else { [-x, -y] };
        [turned(a.along, a_out), turned(b.along, b_out)]
    }

    /// Whether the blade lies below its edge as it is drawn.
    fn points_up(&self) -> bool {
        let [[_, a], [_, b]] = self.directions();
        a + b < 0.0
    }

    fn included(&self) -> f64 {
        let [[ax, ay], [bx, by]] = self.directions();
        (bx * ay - by * ax).atan2(ax * bx + ay * by)
    }

    /// Starboard lies to starboard of port.
    fn opens(&self) -> Result<(), GeometryProblem> {
        if self.included() > 0.0 {
            return Ok(());
        }
        Err(GeometryProblem::new(
            "faces_exchanged",
            "the port face lies to starboard of the starboard face",
            "x is counted from the middle plane of the blade, below 0 toward port and above 0 toward starboard",
        ))
    }

    /// Which points lie outside a rounding of the apex.
    fn outside(&self, faces: &[Vec<EdgePoint>; 2], radius: f64) -> [Vec<bool>; 2] {
        let tangent = radius / (self.included() / 2.0).tan();
        let [port, starboard] = faces;
        let [to_port, to_starboard] = self.directions();
        let [apex_x, apex_y] = self.apex;
        let outside = |points: &[EdgePoint], [along_x, along_y]: [f64; 2]| {
            let from_apex = points.iter().map(|point| {
                let [x, y] = position(point);
                (x - apex_x) * along_x + (y - apex_y) * along_y
            });
            // A point where rounding and face meet is left out, whatever its last digit.
            from_apex
                .map(|distance| distance > tangent * (1.0 + 1e-9))
                .collect()
        };
        [outside(port, to_port), outside(starboard, to_starboard)]
    }

    /// No point lies clearly beyond the apex.
    fn before_the_apex(
        &self,
        faces: &[Vec<EdgePoint>; 2],
        kept: &[Vec<bool>; 2],
    ) -> Result<(), GeometryProblem> {
        let [apex_x, apex_y] = self.apex;
        let sides = faces.iter().zip(kept).zip(self.directions()).zip(FACES);
        for (((points, kept), [along_x, along_y]), face) in sides {
            for (at, (point, kept)) in points.iter().zip(kept).enumerate() {
                let [x, y] = position(point);
                let distance = (x - apex_x) * along_x + (y - apex_y) * along_y;
                let good_to = 3.0 * point.x.combined().u.hypot(point.y.combined().u);
                if *kept && distance < -good_to - 1e-9 * (x.abs() + y.abs()) {
                    return Err(GeometryProblem::new(
                        "beyond_the_apex",
                        format!(
                            "point {} of the {face} face lies {:.3} mm beyond where the two faces meet",
                            at + 1,
                            -distance
                        ),
                        "points on one ground face alone, from near the edge to where the face ends",
                    ));
                }
            }
        }
        Ok(())
    }

    fn section(
        &self,
        faces: &[Vec<EdgePoint>; 2],
        kept: &[Vec<bool>; 2],
        scatter: Option<[u32; 2]>,
    ) -> Result<EdgeSection, GeometryProblem> {
        let mut notices = Vec::new();
        let [port_points, starboard_points] = faces;
        let [port_kept, starboard_kept] = kept;
        let [port_line, starboard_line] = &self.lines;
        let [port_out, starboard_out] = self.outward;
        let source = |which: usize| scatter.and_then(|both| both.get(which).copied());
        let mut face = |which: usize, line: &Line, points: &[EdgePoint], kept: &[bool], out| {
            let word = FACES.get(which).copied().unwrap_or_default();
            let sign = if which == 0 { -1 } else { 1 };
            let turned = line.turned(points, out).scale(&Exact::from_integer(sign));
            face_line(
                line,
                (points, kept),
                turned,
                (word, source(which)),
                &mut notices,
            )
        };
        let port = face(0, port_line, port_points, port_kept, port_out);
        let starboard = face(
            1,
            starboard_line,
            starboard_points,
            starboard_kept,
            starboard_out,
        );
        for (line, word) in [(&port, "port"), (&starboard, "starboard")] {
            if line.half_angle.value.to_f64() <= 0.0 {
                notices.push(format!(
                    "the {word} face leans over the middle plane: is x counted from the middle of the blade?"
                ));
            }
        }
        let included = port.half_angle.add(&starboard.half_angle);
        let difference = port.half_angle.sub(&starboard.half_angle).abs();
        Ok(EdgeSection {
            included,
            difference,
            apex_offset: self.apex_offset(faces, kept),
            apex_height: self.apex[1],
            port,
            starboard,
            notices,
        })
    }

    /// Where both lines meet, from the middle plane.
    ///
    /// With n = (cos θ, −sin θ) square to a line and c its middle, n·(a − c) = 0 for both lines; a change of θ
    /// turns the line about c, of c moves it.
    fn apex_offset(&self, faces: &[Vec<EdgePoint>; 2], kept: &[Vec<bool>; 2]) -> Uncertain {
        let [a, b] = &self.lines;
        let ([a_sin, a_cos], [b_sin, b_cos]) = (
            [a.angle.sin(), a.angle.cos()],
            [b.angle.sin(), b.angle.cos()],
        );
        let reach = |line: &Line, sin: &Number, cos: &Number| {
            let [x, y] = &line.mean;
            cos.mul(x).sub(&sin.mul(y))
        };
        let (a_reach, b_reach) = (reach(a, &a_sin, &a_cos), reach(b, &b_sin, &b_cos));
        // Cramer: x·cos θ − y·sin θ = reach, for both lines.
        let det = b_cos.mul(&a_sin).sub(&a_cos.mul(&b_sin));
        let top = b_reach.mul(&a_sin).sub(&a_reach.mul(&b_sin));
        let value = top
            .checked_div(&det)
            .unwrap_or_else(|| Number::real(self.apex[0], f64::INFINITY));
        let det = det.to_f64();
        let sines = [a_sin.to_f64(), b_sin.to_f64()];
        let [a_sin, b_sin] = sines;
        let mut terms = Vec::new();
        let sides = [(a, -b_sin / det), (b, a_sin / det)];
        for (((line, weight), points), kept) in sides.into_iter().zip(faces).zip(kept) {
            let [along, _] = line.place(self.apex);
            let [sin, cos] = line.along;
            let share = (line.count as f64).recip();
            for ((point, [by_x, by_y]), kept) in points.iter().zip(&line.derivatives).zip(kept) {
                if *kept {
                    terms.push((&point.x, weight * (cos * share + along * by_x)));
                    terms.push((&point.y, weight * (-sin * share + along * by_y)));
                }
            }
        }
        Uncertain::linear(value, &terms)
    }
}

impl Line {
    /// The angle of the direction from the apex to the points.
    fn turned(&self, points: &[EdgePoint], outward: bool) -> Uncertain {
        let mut angle = self.angle_of(points);
        if !outward {
            let half_turn = degrees(if self.angle.to_f64() > 0.0 { -180 } else { 180 });
            angle.value = angle.value.add(&half_turn);
        }
        angle
    }
}

/// What is said of one face, with what its scatter adds to its angle.
fn face_line(
    line: &Line,
    (points, kept): (&[EdgePoint], &[bool]),
    mut half_angle: Uncertain,
    (word, source): (&str, Option<u32>),
    notices: &mut Vec<String>,
) -> FaceLine {
    let [sin, cos] = line.along;
    let mut residuals = Vec::with_capacity(line.count);
    let mut expected = 0.0;
    let mut left_out = Vec::new();
    for (at, (point, kept)) in points.iter().zip(kept).enumerate() {
        if !kept {
            left_out.push(at);
            continue;
        }
        let [_, beside] = line.place(position(point));
        residuals.push(beside);
        let (x, y) = (cos * point.x.combined().u, sin * point.y.combined().u);
        expected += (x * x + y * y) / line.count as f64;
    }
    let expected = expected.sqrt();
    let along = line.along_squares;
    let nu = line.count as f64 - 2.0;
    // Of the residuals themselves: what the sums leave of a straight face is rounding.
    let squares: f64 = residuals.iter().map(|one| one * one).sum();
    let scatter = (nu > 0.0).then(|| (squares / nu).sqrt());
    let s = scatter.unwrap_or(0.0);
    let u_scatter = (s / along.sqrt()).to_degrees();
    if !left_out.is_empty() {
        let numbers: Vec<String> = left_out.iter().map(|at| (at + 1).to_string()).collect();
        let points = if numbers.len() == 1 {
            "point"
        } else {
            "points"
        };
        notices.push(format!(
            "{points} {} of the {word} face left out: within the rounding of the apex",
            numbers.join(", ")
        ));
    }
    if line.count == 2 {
        notices.push(format!(
            "the {word} face has two points: nothing tells whether it is straight"
        ));
    }
    if stands_out(s, expected, along.sqrt()) {
        notices.push(format!(
            "the points of the {word} face lie off their line by {s:.3} mm, and each is good to {expected:.3} mm: \
             a convex face, or a small bevel at the edge?"
        ));
        let own = half_angle.combined().u;
        let more = (u_scatter * u_scatter - own * own).max(0.0).sqrt();
        if let Some(source) = source.filter(|_| more > 0.0) {
            let part = Part::new(PartKind::Repeatability, source, source, more, nu);
            let sum = half_angle.add(&Uncertain::new(Number::ZERO, [part]));
            half_angle = Uncertain {
                value: half_angle.value,
                ..sum
            };
        }
    }
    FaceLine {
        half_angle,
        left_out,
        residuals,
        scatter,
        u_scatter,
        elongation: (along / squares).sqrt(),
    }
}

#[cfg(test)]
#[path = "edge_points_tests.rs"]
mod tests;
