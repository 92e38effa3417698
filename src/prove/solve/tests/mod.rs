//! The solver against brute force and elimination, and at its borders.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod brute;
mod fourier;

use super::*;

fn whole(n: i64) -> Exact {
    Exact::from_integer(n)
}

/// x − y + constant >= 0.
fn difference(solver: &mut Solver, x: NumberVar, y: NumberVar, constant: i64) -> Literal {
    solver.constraint(&[(x, whole(1)), (y, whole(-1))], &whole(constant), false)
}

fn is_unsatisfiable(answer: &Answer) -> bool {
    matches!(answer, Answer::Unsatisfiable(_))
}

#[test]
fn borders_are_strict_where_they_are_said_to_be() {
    let mut solver = Solver::new();
    let x = solver.new_number();
    let at_least = solver.constraint(&[(x, Exact::ONE)], &whole(-4), false);
    let at_most = solver.constraint(&[(x, whole(-2))], &whole(8), false);
    let above = solver.constraint(&[(x, whole(3))], &whole(-12), true);
    assert_eq!(!at_most, above);
    assert_eq!(solver.solve(&[at_least, at_most]), Answer::Satisfiable);
    assert_eq!(solver.value(x), whole(4));
    assert_eq!(
        solver.range(x, &[]),
        (Some((whole(4), true)), Some((whole(4), true)))
    );
    let Answer::Unsatisfiable(core) = solver.solve(&[above, at_most]) else {
        panic!("x > 4 and x <= 4");
    };
    assert_eq!(core.len(), 2);
    assert_eq!(solver.solve(&[above]), Answer::Satisfiable);
    assert_eq!(solver.range(x, &[]), (Some((whole(4), false)), None));
}

#[test]
fn a_constraint_has_one_literal_and_its_complement_the_other_sign() {
    let mut solver = Solver::new();
    let (x, y) = (solver.new_number(), solver.new_number());
    let terms = [(x, whole(2)), (y, whole(-3)), (x, whole(2))];
    let first = solver.constraint(&terms, &whole(5), false);
    let tripled = [(y, whole(-9)), (x, whole(12))];
    assert_eq!(solver.constraint(&tripled, &whole(15), false), first);
    let negated = [(y, whole(3)), (x, whole(-4))];
    assert_eq!(solver.constraint(&negated, &whole(-5), true), !first);
    assert_ne!(solver.constraint(&negated, &whole(-5), false), !first);
    assert_eq!(
        solver.constraint(&[(x, whole(1)), (x, whole(-1))], &whole(0), false),
        Literal::TRUE
    );
    assert_eq!(solver.constraint(&[], &whole(0), true), Literal::FALSE);
}

/// With n + 1 pigeons in n holes: no proof is short, and none may be missed.
fn pigeons(solver: &mut Solver, pigeons: usize, holes: usize) {
    let sits: Vec<Vec<Literal>> = (0..pigeons)
        .map(|_| (0..holes).map(|_| solver.new_bool()).collect())
        .collect();
    for one in &sits {
        solver.add_clause(one);
    }
    for hole in 0..holes {
        for (at, one) in sits.iter().enumerate() {
            for other in &sits[..at] {
                solver.add_clause(&[!one[hole], !other[hole]]);
            }
        }
    }
}

#[test]
fn six_pigeons_do_not_fit_into_five_holes() {
    let mut solver = Solver::new();
    pigeons(&mut solver, 6, 5);
    assert_eq!(solver.solve(&[]), Answer::Unsatisfiable(Vec::new()));
    let mut solver = Solver::new();
    pigeons(&mut solver, 5, 5);
    assert_eq!(solver.solve(&[]), Answer::Satisfiable);
}

#[test]
fn answers_stay_right_when_learnt_clauses_are_dropped() {
    let mut solver = Solver::new();
    solver.most_learnt = 20;
    pigeons(&mut solver, 7, 6);
    assert_eq!(solver.solve(&[]), Answer::Unsatisfiable(Vec::new()));
    let (conflicts, learnt) = (solver.work.conflicts, solver.clauses.learnt as u64);
    assert!(conflicts > learnt + 100, "{conflicts}, {learnt} kept");
    let mut solver = Solver::new();
    solver.most_learnt = 20;
    pigeons(&mut solver, 6, 6);
    assert_eq!(solver.solve(&[]), Answer::Satisfiable);
}

/// Works of one place, one after the other: the sum of their times suffices, and nothing less does.
#[test]
fn works_of_one_place_take_the_sum_of_their_times() {
    let times = [4, 1, 3, 2, 5];
    let total: i64 = times.iter().sum();
    let mut solver = Solver::new();
    solver.most_learnt = 20;
    let starts: Vec<_> = times.iter().map(|_| solver.new_number()).collect();
    let ends = |solver: &mut Solver, by: i64| -> Vec<Literal> {
        let pairs = starts.iter().zip(times);
        pairs
            .map(|(&start, time)| {
                solver.constraint(&[(start, whole(-1))], &whole(by - time), false)
            })
            .collect()
    };
    for (at, &start) in starts.iter().enumerate() {
        let first = solver.constraint(&[(start, whole(1))], &Exact::ZERO, false);
        solver.add_clause(&[first]);
        for (other, &before) in starts.iter().enumerate().take(at) {
            let later = difference(&mut solver, start, before, -times[other]);
            let sooner = difference(&mut solver, before, start, -times[at]);
            solver.add_clause(&[later, sooner]);
        }
    }
    let (enough, less) = (ends(&mut solver, total), ends(&mut solver, total - 1));
    assert!(is_unsatisfiable(&solver.solve(&less)));
    assert_eq!(solver.solve(&enough), Answer::Satisfiable);
    let mut begun: Vec<_> = starts.iter().map(|&start| solver.value(start)).collect();
    begun.sort();
    assert_eq!(begun[0], Exact::ZERO);
    assert!(begun.iter().all(Exact::is_integer));
    let Answer::Unsatisfiable(core) = solver.solve(&less) else {
        panic!("less than the sum of the times");
    };
    // Without any one of these bounds one more work would fit behind the others.
    assert_eq!(core.len(), times.len());
}

#[test]
fn work_without_end_is_given_up_and_can_be_taken_up_again() {
    let mut solver = Solver::new();
    pigeons(&mut solver, 7, 6);
    solver.set_limits(Limits {
        conflicts: 5,
        ..Limits::default()
    });
    assert_eq!(solver.solve(&[]), Answer::GaveUp);
    solver.set_limits(Limits::default());
    assert!(is_unsatisfiable(&solver.solve(&[])));
}

#[test]
fn sums_and_numbers_without_end_are_given_up() {
    let build = |limits: Limits| {
        let mut solver = Solver::new();
        solver.set_limits(limits);
        let numbers: Vec<_> = (0..30).map(|_| solver.new_number()).collect();
        // x0 >= 1, and each next one at least the one before times a fraction with a long denominator.
        let first = solver.constraint(&[(numbers[0], whole(1))], &whole(-1), false);
        let mut all = vec![first];
        for (pair, long) in numbers.windows(2).zip(0..) {
            let factor = Exact::from_fraction(1_000_003 + long, 1_000_033 - long).unwrap();
            let terms = [(pair[1], whole(1)), (pair[0], factor.neg())];
            all.push(solver.constraint(&terms, &Exact::ZERO, false));
            all.push(solver.constraint(&terms, &Exact::ZERO, true));
        }
        let last = *numbers.last().unwrap();
        all.push(solver.constraint(&[(last, whole(-1))], &whole(2), false));
        solver.solve(&all)
    };
    assert_eq!(build(Limits::default()), Answer::Satisfiable);
    let few = Limits {
        steps: 30,
        ..Limits::default()
    };
    assert_eq!(build(few), Answer::GaveUp);
    let short = Limits {
        bits: 200,
        ..Limits::default()
    };
    assert_eq!(build(short), Answer::GaveUp);
}

/// A value that a decision moved stays where it is when the decision is taken back, and may break a bound that was there
/// before.
#[test]
fn what_a_decision_moved_is_looked_at_again_when_it_is_taken_back() {
    let mut solver = Solver::new();
    let (x, y) = (solver.new_number(), solver.new_number());
    let moved = solver.new_bool();
    let short = solver.constraint(&[(x, whole(-1)), (y, whole(-1))], &whole(3), false);
    solver.add_clause(&[short]);
    for (number, at_least) in [(x, 1), (y, 5)] {
        let bound = solver.constraint(&[(number, whole(1))], &whole(-at_least), false);
        solver.add_clause(&[!moved, bound]);
    }
    solver.set_polarity(moved);
    assert_eq!(solver.solve(&[]), Answer::Satisfiable);
    assert_eq!(solver.bool_value(moved), Some(false));
    assert!(solver.value(x).add(&solver.value(y)) <= whole(3));
}

#[test]
fn a_chain_of_differences_with_whole_constants_has_whole_values() {
    let mut solver = Solver::new();
    let numbers: Vec<_> = (0..60).map(|_| solver.new_number()).collect();
    for (at, pair) in numbers.windows(2).enumerate() {
        let gap = i64::try_from(at % 7).unwrap() + 1;
        let later = difference(&mut solver, pair[1], pair[0], -gap);
        let soon = difference(&mut solver, pair[0], pair[1], gap + 3);
        solver.add_clause(&[later]);
        solver.add_clause(&[soon]);
    }
    let far = difference(&mut solver, numbers[59], numbers[0], -300);
    assert_eq!(solver.solve(&[far]), Answer::Satisfiable);
    let values: Vec<_> = numbers.iter().map(|&x| solver.value(x)).collect();
    assert!(values.iter().all(Exact::is_integer), "{values:?}");
    assert!(values[59].sub(&values[0]) >= whole(300));
    // 59 gaps of 1 to 7 make 234, with 3 more each 411.
    let least: i64 = (0..59).map(|at| at % 7 + 1).sum();
    let most = least + 59 * 3;
    let over = difference(&mut solver, numbers[59], numbers[0], -most - 1);
    assert_eq!(solver.solve(&[over]), Answer::Unsatisfiable(vec![over]));
    let full = difference(&mut solver, numbers[59], numbers[0], -most);
    assert_eq!(solver.solve(&[full]), Answer::Satisfiable);
}

#[test]
fn strict_chains_of_whole_numbers_stay_whole_where_there_is_room() {
    let mut solver = Solver::new();
    let numbers: Vec<_> = (0..10).map(|_| solver.new_number()).collect();
    for pair in numbers.windows(2) {
        let terms = [(pair[1], whole(1)), (pair[0], whole(-1))];
        let later = solver.constraint(&terms, &Exact::ZERO, true);
        solver.add_clause(&[later]);
    }
    assert_eq!(solver.solve(&[]), Answer::Satisfiable);
    assert!(numbers.iter().all(|&x| solver.value(x).is_integer()));
    let terms = [(numbers[9], whole(-1)), (numbers[0], whole(1))];
    let close = solver.constraint(&terms, &whole(1), true);
    assert_eq!(solver.solve(&[close]), Answer::Satisfiable);
    assert!(solver.value(numbers[9]).sub(&solver.value(numbers[0])) < Exact::ONE);
}

#[test]
fn the_preferred_side_is_taken_where_it_can_be() {
    let mut solver = Solver::new();
    let (a, b) = (solver.new_bool(), solver.new_bool());
    solver.set_polarity(a);
    solver.set_polarity(!b);
    assert_eq!(solver.solve(&[]), Answer::Satisfiable);
    assert_eq!(
        (solver.bool_value(a), solver.bool_value(b)),
        (Some(true), Some(false))
    );
    solver.add_clause(&[!a]);
    assert_eq!(solver.solve(&[]), Answer::Satisfiable);
    assert_eq!(solver.bool_value(a), Some(false));
    let later = solver.new_bool();
    assert_eq!(solver.bool_value(later), None);
}

#[test]
fn numbers_stay_where_they_are_wished_while_nothing_moves_them() {
    let mut solver = Solver::new();
    let (fore, aft) = (solver.new_number(), solver.new_number());
    let wish = |solver: &mut Solver| {
        solver.set_preferred_value(fore, &whole(120));
        solver.set_preferred_value(aft, &whole(80));
    };
    wish(&mut solver);
    let sum = [(fore, whole(1)), (aft, whole(1))];
    let long = solver.constraint(&sum, &whole(-150), false);
    let short = !solver.constraint(&sum, &whole(-250), true);
    let free = solver.new_bool();
    solver.add_clause(&[long, free]);
    assert_eq!(solver.solve(&[short]), Answer::Satisfiable);
    let values = |solver: &Solver| (solver.value(fore), solver.value(aft));
    assert_eq!(values(&solver), (whole(120), whole(80)));
    assert_eq!(solver.bool_value(long), Some(true));
    let far = solver.constraint(&[(aft, whole(1))], &whole(-130), false);
    assert_eq!(solver.solve(&[short, far]), Answer::Satisfiable);
    assert_eq!(values(&solver), (whole(120), whole(130)));
    let too_far = solver.constraint(&[(aft, whole(1))], &whole(-140), false);
    assert_eq!(solver.solve(&[short, too_far]), Answer::Satisfiable);
    assert_eq!(values(&solver), (whole(110), whole(140)));
    // The wish outlives what moved the numbers away.
    assert_eq!(solver.solve(&[]), Answer::Satisfiable);
    assert_eq!(values(&solver), (whole(120), whole(80)));
}

#[test]
fn a_range_outlives_constraints_that_are_added_later() {
    let mut solver = Solver::new();
    let (fore, aft) = (solver.new_number(), solver.new_number());
    for (number, at_least) in [(fore, 10), (aft, 20)] {
        let bound = solver.constraint(&[(number, whole(1))], &whole(-at_least), false);
        solver.add_clause(&[bound]);
    }
    let sum = [(fore, whole(-1)), (aft, whole(-1))];
    let below = solver.constraint(&sum, &whole(50), true);
    assert_eq!(solver.solve(&[below]), Answer::Satisfiable);
    let expected = (Some((whole(10), true)), Some((whole(30), false)));
    assert_eq!(solver.range(fore, &[]), expected);
    let later = solver.constraint(&[(fore, whole(1)), (aft, whole(-1))], &whole(3), false);
    assert_eq!(solver.range(fore, &[]), expected);
    solver.add_clause(&[later]);
    assert_eq!(solver.range(fore, &[]), expected);
    assert_eq!(solver.solve(&[below, later]), Answer::Satisfiable);
    // fore >= aft − 3 >= 17.
    assert_eq!(
        solver.range(fore, &[]),
        (Some((whole(17), true)), Some((whole(30), false)))
    );
    assert!(is_unsatisfiable(&solver.solve(&[!below, below])));
}
