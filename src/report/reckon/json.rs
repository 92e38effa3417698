//! A reckoning for programs: `rimegauge-reckoning/1`.

use serde_json::{Map, Value, json};

use super::super::budget_json::{budget_json, budget_sum_json};
use super::{Outcome, Reckoned, spread_json};

/// The JSON of a reckoning, with the budget of U where it is asked for. Numbers are decimal text; infinite degrees
/// of freedom are null.
pub fn reckoned_json(reckoned: &Reckoned, budget: bool) -> Value {
    let mut map = Map::new();
    let mut put = |key: &str, value: Value| map.insert(key.to_owned(), value);
    put("format", json!("rimegauge-reckoning/1"));
    put("what", json!(reckoned.what));
    match &reckoned.result {
        Outcome::Text(text) => {
            put("result", json!(text));
        }
        Outcome::Amount(amount) => {
            put("result", amount.json());
            let unit = amount.unit;
            if amount.value.unknown {
                put("standard_uncertainty", Value::Null);
                put("expanded_uncertainty", Value::Null);
                put("coverage_factor", Value::Null);
                put("effective_degrees_of_freedom", Value::Null);
            } else {
                let found = amount.value.expanded(&reckoned.coverage);
                put(
                    "standard_uncertainty",
                    spread_json(amount.value.combined().u, unit),
                );
                put("expanded_uncertainty", spread_json(found.U, unit));
                put("coverage_factor", json!(found.k));
                let nu = found.nu.is_finite().then_some(found.nu);
                put("effective_degrees_of_freedom", json!(nu));
            }
            put(
                "coverage_probability",
                json!(reckoned.coverage.probability()),
            );
        }
    }
    put("formula", json!(reckoned.formula.join("\n")));
    put("source", json!(reckoned.source));
    put("steps", json!(reckoned.steps));
    put("notices", json!(reckoned.notices));
    if let Some(budget) = reckoned.budget().filter(|_| budget) {
        put("budget", json!(budget_json(&budget)));
        put("budget_sum", json!(budget_sum_json(&budget)));
    }
    for beside in &reckoned.beside {
        put(beside.key, beside.json.clone());
    }
    Value::Object(map)
}
