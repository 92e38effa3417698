//! Small problems, where every assignment can be tried.

use std::cmp::Ordering;

use proptest::collection::vec;
use proptest::prelude::*;

use super::fourier::{Inequality, can_hold, range};
use super::whole;
use crate::prove::solve::pair::Pair;
use crate::prove::solve::simplex::NONE;
use crate::prove::solve::{Answer, Literal, NumberVar, Solver};
use crate::quantity::Exact;

/// Clauses and assumptions name a Boolean or constraint by its place, counted around, and its sign.
type Name = (usize, bool);

#[derive(Clone, Debug)]
struct Problem {
    bools: usize,
    numbers: usize,
    constraints: Vec<Inequality>,
    clauses: Vec<Vec<Name>>,
    assumptions: Vec<Name>,
    /// Where numbers would rather be.
    wishes: Vec<Option<i64>>,
}

/// Small coefficients, so that borders often coincide; mostly none, so that most constraints are bounds.
fn inequality(numbers: usize, most_terms: usize) -> impl Strategy<Value = Inequality> {
    let factor = prop_oneof![3 => Just(0i64), 3 => Just(1), 3 => Just(-1), 1 => -3i64..=3];
    let constant = (-6i64..=6, 1i64..=3);
    (vec(factor, numbers), constant, any::<bool>()).prop_map(move |(factors, (n, d), strict)| {
        let mut left = most_terms;
        let kept = factors.into_iter().map(|factor| {
            let keep = factor != 0 && left > 0;
            left -= usize::from(keep);
            whole(if keep { factor } else { 0 })
        });
        Inequality {
            factors: kept.collect(),
            constant: Exact::from_fraction(n, d).unwrap(),
            strict,
        }
    })
}

fn problem() -> impl Strategy<Value = Problem> {
    (0usize..=4, 1usize..=4, 1usize..=3).prop_flat_map(|(bools, numbers, terms)| {
        let names = || vec((0usize..20, any::<bool>()), 0..=3);
        (
            vec(inequality(numbers, terms), 0..=6),
            vec(vec((0usize..20, any::<bool>()), 1..=3), 0..=14),
            names(),
            vec(proptest::option::of(-6i64..=6), 0..=numbers),
        )
            .prop_map(move |(constraints, clauses, assumptions, wishes)| Problem {
                wishes,
                bools,
                numbers,
                constraints,
                clauses,
                assumptions,
            })
    })
}

impl Problem {
    fn places(&self) -> usize {
        self.bools + self.constraints.len()
    }

    fn holds(&self, name: Name, assignment: u32) -> bool {
        self.places() > 0 && (assignment >> (name.0 % self.places()) & 1 == 1) == name.1
    }

    fn system(&self, assignment: u32) -> Vec<Inequality> {
        let constraints = self.constraints.iter().enumerate();
        constraints
            .map(|(at, one)| {
                if assignment >> (self.bools + at) & 1 == 1 {
                    one.clone()
                } else {
                    one.complement()
                }
            })
            .collect()
    }

    /// Whether some assignment satisfies the first clauses with these assumptions.
    fn can_hold(&self, clauses: &[Vec<Name>], assumptions: &[Name]) -> bool {
        (0..1u32 << self.places()).any(|assignment| {
            let holds = |name: &Name| self.holds(*name, assignment);
            clauses.iter().all(|clause| clause.iter().any(holds))
                && assumptions.iter().all(holds)
                && can_hold(&self.system(assignment), self.numbers)
        })
    }
}

struct Built {
    solver: Solver,
    places: Vec<Literal>,
    numbers: Vec<NumberVar>,
}

impl Built {
    fn new(problem: &Problem) -> Built {
        let mut solver = Solver::new();
        let numbers: Vec<_> = (0..problem.numbers).map(|_| solver.new_number()).collect();
        for (number, wish) in numbers.iter().zip(&problem.wishes) {
            if let Some(wish) = wish {
                solver.set_preferred_value(*number, &whole(*wish));
            }
        }
        let places = (0..problem.bools).map(|_| solver.new_bool()).collect();
        Built {
            solver,
            places,
            numbers,
        }
    }

    fn constrain(&mut self, constraint: &Inequality) {
        let terms: Vec<_> = self
            .numbers
            .iter()
            .copied()
            .zip(constraint.factors.iter().cloned())
            .collect();
        let literal = self
            .solver
            .constraint(&terms, &constraint.constant, constraint.strict);
        self.places.push(literal);
    }

    fn literal(&self, name: Name) -> Literal {
        if self.places.is_empty() {
            return Literal::FALSE;
        }
        let literal = self.places[name.0 % self.places.len()];
        if name.1 { literal } else { !literal }
    }

    fn literals(&self, names: &[Name]) -> Vec<Literal> {
        names.iter().map(|&name| self.literal(name)).collect()
    }

    /// The answer is right, and so is what stands behind it.
    fn judge(&mut self, problem: &Problem, clauses: &[Vec<Name>], assumptions: &[Name]) {
        let literals = self.literals(assumptions);
        let expected = problem.can_hold(clauses, assumptions);
        let answer = self.solver.solve(&literals);
        self.judge_tableau();
        match answer {
            Answer::GaveUp => panic!("gave up on a small problem"),
            Answer::Unsatisfiable(core) => {
                assert!(!expected, "a model was missed");
                assert!(core.iter().all(|literal| literals.contains(literal)));
                let named: Vec<Name> = assumptions
                    .iter()
                    .copied()
                    .filter(|&name| core.contains(&self.literal(name)))
                    .collect();
                assert!(!problem.can_hold(clauses, &named), "the core can hold");
            }
            Answer::Satisfiable => {
                assert!(expected, "a model of what has none");
                let holds = |literal: Literal| self.solver.bool_value(literal).unwrap();
                assert!(literals.iter().all(|&literal| holds(literal)));
                for clause in clauses {
                    assert!(clause.iter().any(|&name| holds(self.literal(name))));
                }
                let point: Vec<_> = self.numbers.iter().map(|&x| self.solver.value(x)).collect();
                let mut assignment = 0;
                for (at, &literal) in self.places.iter().enumerate() {
                    assignment |= u32::from(holds(literal)) << at;
                }
                let system = problem.system(assignment);
                for one in &system {
                    assert!(one.holds_at(&point), "{one:?} at {point:?}");
                }
                for (at, &number) in self.numbers.iter().enumerate() {
                    let expected = range(&system, problem.numbers, at);
                    assert_eq!(self.solver.range(number, &[]), expected);
                    self.judge_tableau();
                }
            }
        }
    }

    /// Rows hold for the values, columns say which rows those are, and what is not basic is within its bounds.
    fn judge_tableau(&self) {
        let simplex = &self.solver.simplex;
        for (at, row) in (0u32..).zip(&simplex.rows) {
            assert_eq!(simplex.row_of[row.basic as usize], at);
            let mut value = Pair::ZERO;
            for (&number, factor) in row.numbers.iter().zip(&row.factors) {
                assert!(!factor.is_zero());
                assert!(simplex.columns[number as usize].contains(&at));
                value.add_multiple(factor, &simplex.values[number as usize]);
            }
            assert_eq!(simplex.values[row.basic as usize], value);
        }
        let entries: usize = simplex.rows.iter().map(|row| row.numbers.len()).sum();
        assert_eq!(simplex.columns.iter().map(Vec::len).sum::<usize>(), entries);
        assert!(simplex.place.iter().all(|&place| place == 0));
        for (number, value) in (0u32..).zip(&simplex.values) {
            if simplex.row_of[number as usize] == NONE {
                let low = simplex.lower_of(number);
                assert!(low.is_none_or(|(at, k)| value.cmp_to(at, k) != Ordering::Less));
                let high = simplex.upper_of(number);
                assert!(high.is_none_or(|(at, k)| value.cmp_to(at, k) != Ordering::Greater));
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(600))]

    #[test]
    fn answers_are_those_of_brute_force(problem in problem()) {
        let mut built = Built::new(&problem);
        for constraint in &problem.constraints {
            built.constrain(constraint);
        }
        for clause in &problem.clauses {
            let literals = built.literals(clause);
            built.solver.add_clause(&literals);
        }
        built.judge(&problem, &problem.clauses, &problem.assumptions);
        built.judge(&problem, &problem.clauses, &[]);
    }

    #[test]
    fn answers_stay_right_while_clauses_and_constraints_are_added(problem in problem()) {
        let mut built = Built::new(&problem);
        let mut grown = Problem { constraints: Vec::new(), ..problem.clone() };
        let mut clauses: Vec<Vec<Name>> = Vec::new();
        for (at, constraint) in problem.constraints.iter().enumerate() {
            built.constrain(constraint);
            grown.constraints.push(constraint.clone());
            // A name counts around the places that there are, so that each clause is kept by place.
            for clause in problem.clauses.iter().skip(2 * at).take(2) {
                let clause: Vec<Name> = clause.iter().map(|name| (name.0 % grown.places(), name.1)).collect();
                built.solver.add_clause(&built.literals(&clause));
                clauses.push(clause);
            }
            built.judge(&grown, &clauses, &problem.assumptions);
            // A question that changes nothing.
            built.judge(&grown, &clauses, &problem.assumptions);
        }
    }

    #[test]
    fn systems_are_decided_as_by_elimination(
        system in (2usize..=4).prop_flat_map(|numbers| vec(inequality(numbers, 4), 1..=8)),
    ) {
        let numbers = system[0].factors.len();
        let problem = Problem {
            bools: 0,
            numbers,
            clauses: Vec::new(),
            assumptions: Vec::new(),
            wishes: Vec::new(),
            constraints: system,
        };
        let mut built = Built::new(&problem);
        for constraint in &problem.constraints {
            built.constrain(constraint);
        }
        let all = built.places.clone();
        let expected = can_hold(&problem.constraints, numbers);
        match built.solver.solve(&all) {
            Answer::GaveUp => panic!("gave up on a small system"),
            Answer::Satisfiable => prop_assert!(expected),
            Answer::Unsatisfiable(core) => {
                prop_assert!(!expected);
                let used: Vec<_> = problem.constraints.iter().zip(&all)
                    .filter(|(_, literal)| core.contains(literal))
                    .map(|(one, _)| one.clone())
                    .collect();
                prop_assert!(!can_hold(&used, numbers), "the core can hold");
            }
        }
    }

    /// Clauses of three literals, about as many as make half of all problems unsatisfiable.
    #[test]
    fn clauses_are_decided_as_by_brute_force(
        clauses in vec(vec((0usize..9, any::<bool>()), 3), 30..=48),
        assumptions in vec((0usize..9, any::<bool>()), 0..=4),
    ) {
        let problem = Problem {
            bools: 9,
            numbers: 0,
            constraints: Vec::new(),
            wishes: Vec::new(),
            clauses,
            assumptions,
        };
        let mut built = Built::new(&problem);
        for clause in &problem.clauses {
            let literals = built.literals(clause);
            built.solver.add_clause(&literals);
        }
        built.judge(&problem, &problem.clauses, &problem.assumptions);
        built.judge(&problem, &problem.clauses, &[]);
    }
}
