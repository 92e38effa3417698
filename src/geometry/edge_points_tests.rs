//! Angles by points: edges whose angle is known, laws, sensitivities, roundings, refusals.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

use super::*;
use proptest::prelude::*;

fn point(x: &str, y: &str) -> EdgePoint {
    let exact = |text: &str| Uncertain::exact(Exact::from_decimal(text).unwrap());
    EdgePoint {
        x: exact(x),
        y: exact(y),
    }
}

/// Points with a standard uncertainty of `u` in each coordinate, sources from `first`.
fn points(places: &[[f64; 2]], first: u32, u: f64) -> Vec<EdgePoint> {
    let mut source = first;
    let mut read = |value: f64| {
        source += 1;
        let part = Part::new(PartKind::Resolution, source, 0, u, f64::INFINITY);
        let parts = if u == 0.0 { vec![] } else { vec![part] };
        Uncertain::new(
            Number::Exact(Exact::from_decimal(&format!("{value:.12}")).unwrap()),
            parts,
        )
    };
    places
        .iter()
        .map(|[x, y]| EdgePoint {
            x: read(*x),
            y: read(*y),
        })
        .collect()
}

fn edge(
    port: &[[f64; 2]],
    starboard: &[[f64; 2]],
    u: f64,
    radius: f64,
) -> Result<EdgeSection, GeometryProblem> {
    let (port, starboard) = (points(port, 0, u), points(starboard, 1000, u));
    edge_from_points(
        &port,
        &starboard,
        &Number::real(radius, 0.0),
        Some([5000, 5001]),
    )
}

/// Places along both faces at distances from an apex, each face under its own half angle in degrees.
fn faces(apex: [f64; 2], halves: [f64; 2], along: &[f64]) -> [Vec<[f64; 2]>; 2] {
    [-halves[0], halves[1]].map(|angle| {
        let (sin, cos) = angle.to_radians().sin_cos();
        along
            .iter()
            .map(|t| [apex[0] + t * sin, apex[1] + t * cos])
            .collect()
    })
}

#[test]
fn a_symmetric_edge_of_ninety_degrees_is_exact() {
    let port = [point("-1", "1"), point("-2", "2"), point("-3", "3")];
    let starboard = [point("1", "1"), point("2", "2"), point("3", "3")];
    let found = edge_from_points(&port, &starboard, &Number::ZERO, None).unwrap();
    let exact = Exact::from_integer;
    assert_eq!(found.included.value.as_exact(), Some(&exact(90)));
    assert_eq!(found.difference.value.as_exact(), Some(&exact(0)));
    assert!(found.port.scatter.unwrap() < 1e-15);
    assert!(found.apex_offset.value.to_f64().abs() < 1e-12);
    assert!(found.notices.is_empty(), "{:?}", found.notices);
    // Drawn with the edge on top, and counted from anywhere.
    let up = |points: &[EdgePoint]| -> Vec<EdgePoint> {
        let up = |one: &EdgePoint| EdgePoint {
            x: one.x.clone(),
            y: Uncertain::exact(exact(40)).sub(&one.y),
        };
        points.iter().map(up).collect()
    };
    let turned = edge_from_points(&up(&port), &up(&starboard), &Number::ZERO, None).unwrap();
    assert_eq!(turned.included.value.as_exact(), Some(&exact(90)));
}

/// One coordinate moved, against the derivative, for all three results.
#[test]
fn derivatives_are_those_of_the_fit() {
    let [port, starboard] = [
        vec![[-1.1, 1.3], [-2.0, 2.1], [-3.2, 3.0], [-4.0, 4.1]],
        vec![[0.9, 0.8], [2.2, 1.7], [3.1, 2.6]],
    ];
    let u = 1e-3;
    let found = edge(&port, &starboard, u, 0.0).unwrap();
    let quiet = |section: &EdgeSection| {
        [
            section.included.value.to_f64(),
            section.difference.value.to_f64(),
            section.apex_offset.value.to_f64(),
        ]
    };
    let results = [&found.included, &found.difference, &found.apex_offset];
    let step = 1e-6;
    for face in 0..2_usize {
        let count = if face == 0 {
            port.len()
        } else {
            starboard.len()
        };
        for at in 0..count {
            for axis in 0..2_usize {
                let moved = [step, -step].map(|by| {
                    let mut both = [port.clone(), starboard.clone()];
                    both[face][at][axis] += by;
                    quiet(&edge(&both[0], &both[1], u, 0.0).unwrap())
                });
                let source = u32::try_from(1000 * face + 2 * at + axis + 1).unwrap();
                for (which, result) in results.iter().enumerate() {
                    let slope = (moved[0][which] - moved[1][which]) / (2.0 * step);
                    let parts = result.parts.to_vec();
                    let own = parts
                        .iter()
                        .find(|part| part.source == source && part.kind == PartKind::Resolution);
                    let own = own.map_or(0.0, |part| part.u / u);
                    assert!(
                        (own - slope).abs() < 1e-4 * (1.0 + slope.abs()),
                        "{face} {at} {axis}: {own} for {slope}"
                    );
                }
            }
        }
    }
}

/// Two lines through two points each: by hand, u(θ) = √2·u/length, so for both faces of 4 mm with u 0.02 mm
/// u(A) = 2·0.02/4 rad.
#[test]
fn two_points_of_each_face() {
    let [port, starboard] = faces([0.0, 0.0], [45.0, 50.0], &[1.0, 5.0]);
    let found = edge(&port, &starboard, 0.02, 0.0).unwrap();
    assert!((found.included.value.to_f64() - 95.0).abs() < 1e-9);
    assert!((found.included.combined().u - (2.0_f64 * 0.02 / 4.0).to_degrees()).abs() < 1e-6);
    assert_eq!(found.notices.len(), 2);
    assert!(found.notices[0].contains("two points"));
}

#[test]
fn a_rounded_apex_is_left_out() {
    let (radius, half) = (0.4_f64, 45.0_f64);
    // Centre of the rounding above the virtual apex, tangent points r/tan(A/2) along the faces.
    let centre = radius / half.to_radians().sin();
    let rounding = |angle: f64| {
        let (sin, cos) = angle.to_radians().sin_cos();
        [radius * sin, centre - radius * cos]
    };
    let [mut port, mut starboard] = faces([0.0, 0.0], [half, half], &[0.6, 1.2, 2.0, 3.0]);
    port.extend([rounding(-10.0), rounding(-30.0)]);
    starboard.insert(0, rounding(20.0));
    let found = edge(&port, &starboard, 0.0, radius).unwrap();
    assert!((found.included.value.to_f64() - 90.0).abs() < 1e-9);
    assert_eq!(found.port.left_out, [4, 5]);
    assert_eq!(found.starboard.left_out, [0]);
    assert_eq!(
        found.notices,
        [
            "points 5, 6 of the port face left out: within the rounding of the apex",
            "point 1 of the starboard face left out: within the rounding of the apex"
        ]
    );
    // Not told of the rounding, the angle comes out too large, and the points are seen to lie off a line.
    let blind = edge(&port, &starboard, 0.001, 0.0).unwrap();
    assert!(blind.included.value.to_f64() > 91.0);
    assert!(blind.notices.iter().any(|one| one.contains("convex")));
    let too_few = edge(&port, &starboard, 0.0, 3.5).unwrap_err();
    assert_eq!(too_few.code, "too_few_points");
    assert!(
        too_few.message.contains("edge radius of 3.5 mm"),
        "{}",
        too_few.message
    );
}

#[test]
fn a_convex_face_is_told_and_counts() {
    let [mut port, starboard] = faces([0.0, 0.0], [45.0, 45.0], &[1.0, 2.0, 3.0, 4.0]);
    let straight = edge(&port, &starboard, 0.005, 0.0).unwrap();
    assert!(straight.notices.is_empty(), "{:?}", straight.notices);
    port[1][1] -= 0.05;
    port[2][1] -= 0.05;
    let found = edge(&port, &starboard, 0.005, 0.0).unwrap();
    assert_eq!(found.notices.len(), 1);
    assert!(
        found.notices[0].starts_with("the points of the port face lie off their line by 0.025 mm"),
        "{}",
        found.notices[0]
    );
    assert!(found.included.combined().u > 3.0 * straight.included.combined().u);
    let residuals: f64 = found.port.residuals.iter().sum();
    assert!(residuals.abs() < 1e-12);
}

#[test]
fn what_makes_no_edge() {
    let code = |port: &[[f64; 2]], starboard: &[[f64; 2]]| {
        edge(port, starboard, 0.01, 0.0).unwrap_err().code
    };
    let [port, starboard] = faces([0.0, 0.0], [45.0, 45.0], &[1.0, 2.0, 3.0]);
    assert_eq!(code(&port[..1], &starboard), "too_few_points");
    assert_eq!(code(&port, &[]), "too_few_points");
    assert_eq!(code(&starboard, &port), "faces_exchanged");
    let parallel: Vec<[f64; 2]> = starboard.iter().map(|[x, y]| [x - 5.0, *y]).collect();
    assert_eq!(code(&parallel, &starboard), "faces_do_not_meet");
    assert_eq!(
        code(&[[-1.0, 1.0], [-1.0, 1.0]], &starboard),
        "no_direction"
    );
    // A corner of a square: as long as wide.
    let round = [[-1.0, 1.0], [-2.0, 1.0], [-1.0, 2.0], [-2.0, 2.0]];
    assert_eq!(code(&round, &starboard), "no_direction");
    let [mut beyond, _] = faces([0.0, 0.0], [45.0, 45.0], &[1.0, 2.0, 3.0]);
    beyond.push([1.0, -1.0]);
    assert_eq!(code(&beyond, &starboard), "beyond_the_apex");
    let below = edge(&port, &starboard, 0.0, -1.0).unwrap_err();
    assert_eq!(below.code, "edge_radius_below_zero");
}

fn turned([x, y]: [f64; 2], by: f64, to: [f64; 2]) -> [f64; 2] {
    let (sin, cos) = by.to_radians().sin_cos();
    [x * cos + y * sin + to[0], -x * sin + y * cos + to[1]]
}

proptest! {
    /// The angle comes back; neither turning, moving, scaling, the order of points nor a mirror changes it.
    #[test]
    fn an_edge_keeps_its_angle(
        halves in prop::array::uniform2(15.0..80.0_f64),
        apex in prop::array::uniform2(-3.0..3.0_f64),
        noise in prop::collection::vec(-0.02..0.02_f64, 20),
        by in -40.0..40.0_f64,
        to in prop::array::uniform2(-50.0..50.0_f64),
        radius in prop::sample::select(vec![0.0, 0.2]),
    ) {
        let [mut port, mut starboard] = faces(apex, halves, &[0.9, 1.9, 3.1, 4.0, 5.2]);
        let quiet = edge(&port, &starboard, 0.01, 0.0).unwrap();
        prop_assert!((quiet.included.value.to_f64() - halves[0] - halves[1]).abs() < 1e-9);
        prop_assert!((quiet.difference.value.to_f64() - (halves[0] - halves[1]).abs()).abs() < 1e-9);
        prop_assert!((quiet.apex_offset.value.to_f64() - apex[0]).abs() < 1e-9);
        for ([x, y], noise) in port.iter_mut().chain(&mut starboard).zip(noise.chunks(2)) {
            *x += noise[0];
            *y += noise[1];
        }
        let found = edge(&port, &starboard, 0.01, radius).unwrap();
        let value = found.included.value.to_f64();
        let same = |other: &EdgeSection| {
            (other.included.value.to_f64() - value).abs() < 1e-8
                && (other.included.combined().u - found.included.combined().u).abs() < 1e-8
                && other.port.left_out == found.port.left_out
        };
        let move_all = |points: &[[f64; 2]]| -> Vec<[f64; 2]> { points.iter().map(|one| turned(*one, by, to)).collect() };
        prop_assert!(same(&edge(&move_all(&port), &move_all(&starboard), 0.01, radius).unwrap()));
        let mirror = |points: &[[f64; 2]]| -> Vec<[f64; 2]> { points.iter().map(|[x, y]| [-x, *y]).collect() };
        let mirrored = edge(&mirror(&starboard), &mirror(&port), 0.01, radius).unwrap();
        prop_assert!((mirrored.included.value.to_f64() - value).abs() < 1e-9);
        prop_assert!((mirrored.difference.value.to_f64() - found.difference.value.to_f64()).abs() < 1e-9);
        prop_assert!((mirrored.apex_offset.value.to_f64() + found.apex_offset.value.to_f64()).abs() < 1e-9);
        prop_assert_eq!(&mirrored.port.left_out, &found.starboard.left_out);
        let inches = |points: &[[f64; 2]]| -> Vec<[f64; 2]> { points.iter().map(|[x, y]| [x / 25.4, y / 25.4]).collect() };
        let scaled = edge(&inches(&port), &inches(&starboard), 0.01 / 25.4, radius / 25.4).unwrap();
        prop_assert!(same(&scaled));
    }
}
