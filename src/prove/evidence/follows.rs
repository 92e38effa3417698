//! Whether one statement follows from another, told from their shape: what is found follows indeed, and not all that
//! follows is found.

use super::super::formula::{Constraint, Formula};

/// Whether `then` holds wherever `given` does, as far as their shape tells.
pub fn follows(given: &Formula, then: &Formula) -> bool {
    shape_follows(&narrowed(given), then)
}

/// Of what is asked in several ways only those ways that agree with what else holds.
fn narrowed(given: &Formula) -> Formula {
    let Formula::All(list) = given else {
        return given.clone();
    };
    let facts: Vec<&Formula> = list
        .iter()
        .filter(|one| !matches!(one, Formula::Any(_)))
        .collect();
    let against = |way: &Formula| match way {
        Formula::All(list) => list
            .iter()
            .any(|one| facts.iter().any(|fact| excludes(fact, one))),
        one => facts.iter().any(|fact| excludes(fact, one)),
    };
    Formula::all(list.iter().map(|one| match one {
        Formula::Any(ways) => Formula::any(ways.iter().filter(|way| !against(way)).cloned()),
        one => one.clone(),
    }))
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
