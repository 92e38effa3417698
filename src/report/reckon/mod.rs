//! One measurement reckoned by itself: its value with U, the formula with the numbers put in, where it
//! comes from, the steps, a picture.
//!
//! [`Reckoned`] is made by an action of the app and feeds three printers: for people, narrated, and JSON.

mod human;
mod json;
mod picture;
mod plain;
mod svg;

use serde_json::{Value, json};

use super::figure;
use crate::quantity::{Number, Unit, show};
use crate::uncertainty::{Bound, Budget, Coverage, Governing, Register, Uncertain};

pub use human::reckoned_text;
pub use json::reckoned_json;
pub use picture::{Mark, Picture, Rule};
pub use plain::reckoned_plain;
pub use svg::plot;
pub(super) use svg::ticks;

/// A value with its uncertainty, and the unit it is told in.
#[derive(Clone, Debug)]
pub struct Amount {
    /// The value, base units.
    pub value: Uncertain,
    /// The unit.
    pub unit: Unit,
    /// The decimals in which its readings were written, if it is to keep them.
    pub decimals: Option<u8>,
}

impl Amount {
    /// An amount.
    pub fn new(value: Uncertain, unit: Unit) -> Amount {
        Amount {
            value,
            unit,
            decimals: None,
        }
    }

    /// The same, with the decimals in which it was written.
    #[must_use]
    pub fn written(mut self, decimals: Option<u8>) -> Amount {
        self.decimals = decimals;
        self
    }

    /// `4.760 ± 0.025 mm`, `at least 24 in`.
    pub fn text(&self, coverage: &Coverage) -> String {
        let u = self.value.expanded_u(coverage);
        let rounded = figure::value(&self.value.value, u, self.unit, self.decimals);
        let number = match rounded.uncertainty {
            Some(u) => format!("{} ± {u}", rounded.number),
            None => rounded.number,
        };
        let before = match self.value.bound {
            None => "",
            Some(Bound::AtLeast) => "at least ",
            Some(Bound::AtMost) => "at most ",
            Some(Bound::Neither) => "not known: about ",
        };
        let unknown = if self.value.unknown {
            ", uncertainty not known"
        } else {
            ""
        };
        format!("{before}{}{unknown}", show::with_unit(&number, self.unit))
    }

    /// `k = 2.0 for 95 %, 58 degrees of freedom`; nothing for a value without uncertainty.
    pub fn coverage_text(&self, coverage: &Coverage) -> Option<String> {
        if self.value.unknown {
            return None;
        }
        let found = self.value.expanded(coverage);
        if found.U <= 0.0 {
            return None;
        }
        let nu = if found.nu.is_finite() {
            let nu = rounded(found.nu, 1);
            let s = if nu == "1" { "" } else { "s" };
            format!("{nu} degree{s} of freedom")
        } else {
            "degrees of freedom without limit".to_owned()
        };
        let k = rounded(found.k, 2);
        let p = per_cent(coverage);
        Some(match found.by {
            Governing::Combined => format!("k = {k} for {p}, {nu}"),
            Governing::Repeatability => format!(
                "k = U/u = {k} for {p}: the scatter of the readings alone gives more than all sources together ({nu}), \
                 and counts"
            ),
            Governing::MethodFloor => {
                format!("k = U/u = {k} for {p}: the floor of the method gives U")
            }
        })
    }

    /// A number with its unit for a program, and U with it.
    fn json(&self) -> Value {
        let mut found = value_json(&self.value.value, self.unit, self.decimals);
        if let Some(map) = found.as_object_mut() {
            map.insert("bound".to_owned(), json!(bound_word(self.value.bound)));
        }
        found
    }
}

/// `95 %`
fn per_cent(coverage: &Coverage) -> String {
    format!("{} %", rounded(coverage.probability() * 100.0, 2))
}

/// A number for people, to so many decimals, without noughts at the end.
fn rounded(number: f64, decimals: usize) -> String {
    let text = format!("{number:.decimals$}");
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

fn bound_word(bound: Option<Bound>) -> Option<&'static str> {
    bound.map(|bound| match bound {
        Bound::AtLeast => "at_least",
        Bound::AtMost => "at_most",
        Bound::Neither => "neither",
    })
}

/// A number for a program: decimal text, its unit, and whether it is exact.
pub fn value_json(number: &Number, unit: Unit, decimals: Option<u8>) -> Value {
    match figure::printable(number) {
        Some(exact) => {
            let (text, ends) = show::number(&exact, unit, decimals);
            let exact = ends && number.as_exact().is_some();
            json!({ "number": text, "unit": unit.symbol(), "exact": exact })
        }
        None => json!({ "number": null, "unit": unit.symbol(), "exact": false }),
    }
}

/// An uncertainty in base units for a program.
fn spread_json(spread: f64, unit: Unit) -> Value {
    let number = crate::quantity::Exact::from_f64_shortest(spread);
    let text = number.map(|exact| show::difference(&exact, unit, None).0);
    json!({ "number": text, "unit": unit.symbol() })
}

/// What a reckoning comes to.
#[derive(Clone, Debug)]
pub enum Outcome {
    /// A quantity.
    Amount(Amount),
    /// Words, for what is no quantity.
    Text(String),
}

/// Something beside the result that a program may want by name.
#[derive(Clone, Debug)]
pub struct Beside {
    /// Its name in JSON.
    pub key: &'static str,
    /// For people; nothing is printed when it is empty.
    pub words: String,
    /// For programs.
    pub json: Value,
}

impl Beside {
    /// A quantity with its U.
    pub fn amount(key: &'static str, words: &str, amount: &Amount, coverage: &Coverage) -> Beside {
        let mut json = amount.json();
        if let Some(map) = json.as_object_mut()
            && !amount.value.unknown
        {
            let found = amount.value.expanded(coverage);
            map.insert(
                "expanded_uncertainty".to_owned(),
                spread_json(found.U, amount.unit),
            );
            map.insert("coverage_factor".to_owned(), json!(found.k));
        }
        Beside {
            key,
            words: format!("{words} {}", amount.text(coverage)),
            json,
        }
    }

    /// Words for people and something else for programs.
    pub fn new(key: &'static str, words: impl Into<String>, json: Value) -> Beside {
        Beside {
            key,
            words: words.into(),
            json,
        }
    }
}

/// One measurement, reckoned.
#[derive(Clone, Debug)]
pub struct Reckoned {
    /// What was reckoned: `Mean of 3 readings`.
    pub what: String,
    /// What it comes to.
    pub result: Outcome,
    /// The coverage factors that U is made with.
    pub coverage: Coverage,
    /// The formula in the letters of its source, then with the numbers put in, line by line.
    pub formula: Vec<String>,
    /// Where the formula comes from, to the clause.
    pub source: String,
    /// What was done on the way.
    pub steps: Vec<String>,
    /// What else came out.
    pub beside: Vec<Beside>,
    /// What has to be said with it.
    pub notices: Vec<String>,
    /// What the sources of uncertainty of the result are, for a budget.
    pub register: Register,
    /// A picture, where one helps.
    pub picture: Option<Picture>,
}

impl Reckoned {
    /// How U of the result comes about; nothing for what is no quantity.
    pub fn budget(&self) -> Option<Budget> {
        match &self.result {
            Outcome::Amount(amount) => Some(Budget::of(
                &amount.value,
                &self.register,
                &self.coverage,
                amount.unit,
            )),
            Outcome::Text(_) => None,
        }
    }
}
