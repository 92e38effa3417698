//! Whether one statement follows from another, told from their shape: what is found follows indeed, and not all that
//! follows is found.

use super::super::formula::{Constraint, Formula, Values};

/// Whether `then` holds wherever `given` does, as far as their shape tells.
pub fn follows(given: &Formula, then: &Formula) -> bool {
    let narrow = narrowed(given);
    shape_follows(&narrow, then) || by_choice(&narrow, then)
}

/// Choices with more values than this are not looked at one by one.
const VALUES: u32 = 8;

/// The same, a choice that is known to be one of a few looked at value by value.
fn by_choice(given: &Formula, then: &Formula) -> bool {
    let Formula::All(list) = given else {
        return false;
    };
    list.iter().any(|one| match one {
        Formula::Among(var, values) if values.count_ones() <= VALUES => (0..Values::BITS)
            .map(|bit| values & (1 << bit))
            .filter(|value| *value != 0)
            .all(|value| {
                let is = Formula::Among(*var, value);
                shape_follows(&narrowed(&Formula::all([given.clone(), is])), then)
            }),
        _ => false,
    })
}

/// What is asked in several ways, without the ways that don't agree with what else holds, and without what holds anyway.
fn narrowed(given: &Formula) -> Formula {
    let Formula::All(list) = given else {
        return given.clone();
    };
    let several = |one: &&Formula| matches!(one, Formula::Any(_));
    let facts: Vec<&Formula> = list.iter().filter(|one| !several(one)).collect();
    let ways = list.iter().filter(several).map(|one| known(one, &facts));
    Formula::all(ways.chain(facts.iter().map(|one| (*one).clone())))
}

/// A statement where some facts hold.
fn known(formula: &Formula, facts: &[&Formula]) -> Formula {
    match formula {
        Formula::All(list) => Formula::all(list.iter().map(|one| known(one, facts))),
        Formula::Any(list) => Formula::any(list.iter().map(|one| known(one, facts))),
        one if facts.iter().any(|fact| excludes(fact, one)) => Formula::False,
        one if facts.iter().any(|fact| shape_follows(fact, one)) => Formula::True,
        one => one.clone(),
    }
}

/// Whether two things that are told at once can't both be.
fn excludes(one: &Formula, other: &Formula) -> bool {
    match (one, other) {
        (Formula::Among(var, some), Formula::Among(same, more)) => var == same && some & more == 0,
        (Formula::Truth(var, yes), Formula::Truth(same, also)) => var == same && yes != also,
        _ => false,
    }
}

fn shape_follows(given: &Formula, then: &Formula) -> bool {
    if given == then {
        return true;
    }
    match (given, then) {
        (Formula::False, _) | (_, Formula::True) => true,
        // What holds in each way holds; what is asked of all is asked of each.
        (Formula::Any(list), _) => list.iter().all(|one| shape_follows(one, then)),
        (_, Formula::All(list)) => list.iter().all(|one| shape_follows(given, one)),
        (Formula::All(list), Formula::Any(ways)) => {
            list.iter().any(|one| shape_follows(one, then))
                || ways.iter().any(|way| shape_follows(given, way))
        }
        (Formula::All(list), _) => list.iter().any(|one| shape_follows(one, then)),
        (_, Formula::Any(ways)) => ways.iter().any(|way| shape_follows(given, way)),
        (Formula::Sign(one), Formula::Sign(other)) => sign_follows(one, other),
        (Formula::Among(var, some), Formula::Among(other, more)) => {
            var == other && some & !more == 0
        }
        (Formula::True | Formula::Sign(_) | Formula::Truth(..) | Formula::Among(..), _) => false,
    }
}

/// p + c >= 0 gives p + d >= 0 where c <= d.
fn sign_follows(one: &Constraint, other: &Constraint) -> bool {
    if one.poly.terms != other.poly.terms {
        return false;
    }
    match one.poly.constant.cmp(&other.poly.constant) {
        std::cmp::Ordering::Less => true,
        std::cmp::Ordering::Equal => one.strict || !other.strict,
        std::cmp::Ordering::Greater => false,
    }
}

#[cfg(test)]
mod tests {
    use super::super::super::term::{Poly, TermId, Var, Whose};
    use super::*;
    use crate::quantity::Exact;

    fn var(at: u32) -> Var {
        Var {
            whose: Whose::Own,
            term: TermId(at),
        }
    }

    fn at_least(at: u32, limit: i64) -> Formula {
        let poly = Poly::var(var(at)).minus(&Poly::constant(Exact::from_integer(limit)));
        Formula::Sign(std::sync::Arc::new(Constraint {
            poly,
            strict: false,
        }))
    }

    /// A table by a choice of two, and an exemption for one of them.
    #[test]
    fn a_limit_of_a_table_follows_where_the_choice_is_known() {
        let (plate, insert) = (Formula::Among(var(1), 1), Formula::Among(var(1), 2));
        let table = Formula::all([
            Formula::any([Formula::Among(var(1), 6), at_least(2, 6)]),
            Formula::any([Formula::Among(var(1), 5), at_least(2, 5)]),
            Formula::any([plate.clone(), insert.clone()]),
        ]);
        let given = |choice: &Formula| Formula::all([table.clone(), choice.clone()]);
        assert!(follows(&given(&insert), &at_least(2, 5)));
        assert!(follows(&given(&insert), &at_least(2, 4)));
        assert!(!follows(&given(&insert), &at_least(2, 6)));
        assert!(follows(&given(&plate), &at_least(2, 6)));
        assert!(follows(&table, &at_least(2, 5)));
        assert!(!follows(&table, &at_least(2, 6)));
        // Behind a way round, as of a place where a rule does not look.
        let away = Formula::Truth(var(3), true);
        let around = Formula::any([away.clone(), table]);
        let mild = Formula::any([away, at_least(2, 4)]);
        assert!(follows(&Formula::all([around.clone(), insert]), &mild));
        assert!(!follows(&around, &at_least(2, 4)));
    }
}
