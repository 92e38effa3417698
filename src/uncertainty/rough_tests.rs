//! What is rough holds what is exact: the value within its distance, U below its bound, and no verdict that the
//! exact numbers do not give.

use proptest::prelude::*;

use super::*;
use crate::quantity::Number;
use crate::uncertainty::{
    DecisionRule, Limit, Pool, Sample, SourceIds, Uncertain, Verdict, decide, mean_of_sample,
};

/// One number both ways.
#[derive(Clone, Debug)]
struct Both {
    long: Uncertain,
    rough: Rough,
}

fn hundredths(n: i64) -> Exact {
    Exact::from_fraction(n, 100).unwrap()
}

fn instrument() -> impl Strategy<Value = InstrumentError> {
    let some = || prop_oneof![Just(0_i64), 1_i64..60];
    let stated = prop::option::of(0_i64..30);
    (some(), some(), stated, some(), -5_i64..6, some()).prop_map(
        |(resolution, permissible, repeatability, calibration, correction, floor)| {
            let small = |n: i64| hundredths(n).to_f64();
            InstrumentError {
                resolution: small(resolution),
                max_permissible_error: small(permissible),
                repeatability: repeatability.map(small),
                calibration: small(calibration),
                correction: hundredths(correction),
                floor: small(floor),
                unknown: false,
            }
        },
    )
}

/// The places of a series, by one of two instruments: readings in hundredths.
fn series() -> impl Strategy<Value = (Vec<Vec<i64>>, bool)> {
    let place =
        (-3000_i64..3000, prop::collection::vec(-9_i64..10, 0..4)).prop_map(|(first, more)| {
            let more = more.into_iter().map(|step| first + step);
            std::iter::once(first).chain(more).collect()
        });
    (prop::collection::vec(place, 1..3), any::<bool>())
}

fn means(all: &[(Vec<Vec<i64>>, bool)], instruments: &[InstrumentError; 2]) -> Vec<Both> {
    let coverage = Coverage::ninety_five();
    let mut found = Vec::new();
    let mut next = 1;
    for (places, second) in all {
        let at = usize::from(*second);
        let pool_id = next;
        let readings: Vec<Vec<Exact>> = places
            .iter()
            .map(|place| place.iter().map(|n| hundredths(*n)).collect())
            .collect();
        let pool = Pool::of(readings.iter().map(Vec::as_slice));
        let mut rough_pool = RoughPool::default();
        let samples: Vec<RoughSample> = readings
            .iter()
            .map(|place| rough_pool.add(place.iter().map(Exact::to_f64)).unwrap())
            .collect();
        let k = rough_pool.factor(&coverage);
        for (place, sample) in readings.iter().zip(&samples) {
            let ids = SourceIds {
                mean: next,
                pool: pool_id,
                instrument: at as u32 + 1,
                calibration: (1 << 31) | (at as u32 + 1),
            };
            next += 1;
            let exact = Sample::of(place).unwrap();
            found.push(Both {
                long: mean_of_sample(&exact, &pool, &instruments[at], ids),
                rough: Rough::of_sample(sample, &rough_pool, &RoughErrors::of(&instruments[at]), k),
            });
        }
    }
    found
}

/// A number made of the means by a list of steps.
fn made(means: &[Both], steps: &[(u8, usize, i64)]) -> Option<Both> {
    let mut now = means.first()?.clone();
    for &(step, at, n) in steps {
        let other = &means[at % means.len()];
        let constant = Both {
            long: Uncertain::exact(hundredths(n)),
            rough: Rough::exact(&hundredths(n)),
        };
        let (long, rough) = (&now.long, &now.rough);
        now = match step {
            0 => Both {
                long: long.add(&other.long),
                rough: rough.add(&other.rough),
            },
            1 => Both {
                long: long.sub(&other.long),
                rough: rough.sub(&other.rough),
            },
            2 => Both {
                long: long.mul(&other.long),
                rough: rough.mul(&other.rough),
            },
            3 => match rough.div(&other.rough) {
                Some(rough) => Both {
                    long: long.div(&other.long)?,
                    rough,
                },
                None => continue,
            },
            4 => Both {
                long: long.mul(&constant.long),
                rough: rough.mul(&constant.rough),
            },
            5 => Both {
                long: long.sub(&constant.long),
                rough: rough.sub(&constant.rough),
            },
            6 => Both {
                long: long.abs(),
                rough: rough.abs(),
            },
            _ => Both {
                long: long.neg(),
                rough: rough.neg(),
            },
        };
    }
    Some(now)
}

fn holds(both: &Both) -> Result<(), TestCaseError> {
    let coverage = Coverage::ninety_five();
    let (value, u) = (both.long.value.to_f64(), both.long.expanded(&coverage).U);
    let largest = both.rough.largest_u() * (1.0 + 1e-9);
    prop_assert!(u <= largest, "U {} above {}", u, largest);
    let off = (value - both.rough.value()).abs();
    prop_assert!(
        off <= both.rough.off() * 1.01,
        "{} off, said {}",
        off,
        both.rough.off()
    );
    Ok(())
}

proptest! {
    #[test]
    fn what_is_rough_holds_what_is_exact(
        all in prop::collection::vec(series(), 1..4),
        a in instrument(), b in instrument(),
        steps in prop::collection::vec((0_u8..8, 0_usize..6, -300_i64..300), 0..5),
        places in prop::array::uniform3(-400_i64..401), factor in 0_i64..3,
    ) {
        let means = means(&all, &[a, b]);
        for one in &means {
            holds(one)?;
        }
        let Some(made) = made(&means, &steps) else { return Ok(()) };
        holds(&made)?;
        // Limits about the guard band: what is clear is what every decision rule says.
        let coverage = Coverage::ninety_five();
        let u = made.long.expanded(&coverage).U;
        let (guard, value) = (Exact::from_integer(factor), made.rough.value());
        for place in places {
            let at = value + place as f64 / 100.0 * (u + value.abs() * 1e-6);
            let Some(limit) = Exact::from_f64_shortest(at) else { continue };
            for side in [Side::Lower, Side::Upper] {
                let rough = Rough::exact(&limit);
                let clear = made.rough.clearly_inside(side, &rough, factor as f64);
                let value = Number::Exact(limit.clone());
                let limit = Limit { side, strict: place % 2 == 0, value: &value };
                for rule in [
                    DecisionRule::SimpleAcceptance,
                    DecisionRule::GuardedAcceptance,
                    DecisionRule::GuardedRejection,
                ] {
                    let decision = decide(rule, &limit, &made.long, Some(u), &guard);
                    if let Some(inside) = clear {
                        let verdict = if inside { Verdict::Conforms } else { Verdict::DoesNotConform };
                        prop_assert_eq!(decision.verdict, verdict);
                        prop_assert!(!decision.near && !decision.benefit_of_doubt);
                    }
                }
            }
        }
    }

    #[test]
    fn the_mean_and_the_extremes_hold_too(
        all in prop::collection::vec(series(), 1..4), a in instrument(), b in instrument(),
    ) {
        let means = means(&all, &[a, b]);
        let sum = Uncertain::sum(means.iter().map(|one| &one.long));
        let share = Exact::from_fraction(1, means.len() as i64).unwrap();
        let rough = Rough::mean(means.iter().map(|one| &one.rough)).unwrap();
        holds(&Both { long: sum.scale(&share), rough })?;
        let by_value = |a: &&Both, b: &&Both| a.long.value.compare(&b.long.value).unwrap();
        for (largest, best) in [
            (true, means.iter().max_by(by_value).unwrap()),
            (false, means.iter().min_by(by_value).unwrap()),
        ] {
            let rough = Rough::extreme(means.iter().map(|one| &one.rough), largest).unwrap();
            holds(&Both { long: best.long.clone(), rough })?;
        }
    }
}

/// Something clear is told: far from the limit by its U, and by nothing but its guard factor not.
#[test]
fn what_is_far_from_its_limit_is_clear() {
    let errors = InstrumentError {
        floor: 0.02,
        ..InstrumentError::default()
    };
    let mut pool = RoughPool::default();
    let sample = pool.add([4.76, 4.77, 4.75].into_iter()).unwrap();
    let k = pool.factor(&Coverage::ninety_five());
    let value = Rough::of_sample(&sample, &pool, &RoughErrors::of(&errors), k);
    let limit = Rough::exact(&hundredths(470));
    assert_eq!(value.clearly_inside(Side::Lower, &limit, 1.0), Some(true));
    assert_eq!(value.clearly_inside(Side::Upper, &limit, 1.0), Some(false));
    assert_eq!(value.clearly_inside(Side::Lower, &limit, 3.0), None);
    // Nothing is clear within the guard band, nor on the limit without one.
    assert_eq!(
        value.clearly_inside(Side::Lower, &Rough::exact(&hundredths(474)), 1.0),
        None
    );
    assert_eq!(
        value.clearly_inside(Side::Lower, &Rough::exact(&hundredths(476)), 0.0),
        None
    );
}
