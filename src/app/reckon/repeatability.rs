//! A study of a way of measuring: people × items × readings, and what U the method has by itself.

use std::path::Path;

use serde_json::json;

use super::given::{Reader, ReckonRequest};
use super::table::Readings;
use crate::app::{Host, Trouble};
use crate::diagnostic::Diagnostic;
use crate::quantity::{Exact, Number, Unit, show};
use crate::report::{Beside, Reckoned, ReckonedOutcome};
use crate::text::quoted;
use crate::uncertainty::{
    Combined, Coverage, Effect, OneWay, POOL_ABOVE, Part, PartKind, Square, Study, StudyFault,
    Uncertain, f_tail, one_way, study,
};

/// The study in a table `person,item,reading [mm]`; U is that of the mean of `mean_of` readings by one person.
///
/// # Errors
/// A table that can't be read; a study that tells nothing of repeats.
pub fn repeatability(
    host: &dyn Host,
    request: &ReckonRequest,
    readings: &Path,
    mean_of: u32,
) -> Result<Reckoned, Trouble> {
    let table = Readings::open(host, readings)?;
    let (mut reader, coverage) = Reader::begin(request);
    reader.extend(table.unknown(&["person", "item", "reading"]));
    let people = reader.take(table.words("person"));
    let items = reader.take(table.words("item"));
    let column = reader.take(table.column("reading", None));
    let Some(((people, items), column)) = people.zip(items).zip(column) else {
        return reader.end(None);
    };
    let names = |cells: &[&crate::text::Cell]| {
        let mut found: Vec<String> = Vec::new();
        for cell in cells {
            if !found.contains(&cell.text) {
                found.push(cell.text.to_string());
            }
        }
        found
    };
    let (persons, pieces) = (names(&people), names(&items));
    let mut cells: Vec<Vec<Vec<Exact>>> = vec![vec![Vec::new(); pieces.len()]; persons.len()];
    for ((person, item), value) in people.iter().zip(&items).zip(column.values()) {
        let row = persons.iter().position(|one| *one == person.text);
        let place = pieces.iter().position(|one| *one == item.text);
        let cell = row
            .and_then(|row| cells.get_mut(row))
            .zip(place)
            .and_then(|(row, place)| row.get_mut(place));
        if let Some(cell) = cell {
            cell.push(value.clone());
        }
    }
    if reader.is_faulty() {
        return reader.end(None);
    }
    let step = column.step().to_f64();
    let shower = Shower {
        unit: column.unit,
        coverage,
        mean_of,
        step,
    };
    let fault = match study(&cells) {
        Ok(found) => return reader.end(Some(shower.crossed(&found))),
        Err(fault) => fault,
    };
    let (message, help) = match fault {
        StudyFault::OnePerson | StudyFault::OneItem => {
            let groups: Vec<Vec<Exact>> = cells.into_iter().flatten().collect();
            match one_way(&groups) {
                Some(found) => {
                    let missing = fault == StudyFault::OnePerson;
                    return reader.end(Some(shower.one_sided(&found, missing)));
                }
                None => (
                    "one person, and one item or one reading of each: nothing tells scatter from difference"
                        .to_owned(),
                    "at least two people, two items and two readings of each by each: three, ten and two are usual"
                        .to_owned(),
                ),
            }
        }
        StudyFault::OneReading => (
            "each person read each item once: the scatter of repeats can't be told from what people and items do"
                .to_owned(),
            "each person reads each item at least twice, without seeing the first reading".to_owned(),
        ),
        StudyFault::Unequal(person, item, count, others) => {
            let name = |list: &[String], at: usize| list.get(at).cloned().unwrap_or_default();
            (
                format!(
                    "readings of item {} by person {}: {count}; of others by others: {others}",
                    quoted(&name(&pieces, item)),
                    quoted(&name(&persons, person))
                ),
                "each person reads each item equally often: take the missing readings, or leave out that person \
                 or item"
                    .to_owned(),
            )
        }
    };
    reader.push(Diagnostic::fault("reckon.study", message).help(help));
    reader.end(None)
}

struct Shower {
    unit: Unit,
    coverage: Coverage,
    mean_of: u32,
    step: f64,
}

impl Shower {
    fn spread(&self, spread: f64) -> String {
        show::with_unit(&self.number(spread), self.unit)
    }

    fn number(&self, spread: f64) -> String {
        significant(self.shown(spread))
    }

    /// A spread in the unit of the readings.
    fn shown(&self, spread: f64) -> f64 {
        let exact = Exact::from_f64_shortest(spread).unwrap_or(Exact::ZERO);
        self.unit.difference_from_base(&exact).to_f64()
    }

    /// The method's U with k and ν, of what is known of the scatter; no smaller than the resolution gives.
    fn expanded(&self, method: Combined) -> (f64, f64, f64) {
        let part = Part::new(PartKind::Repeatability, 1, 1, method.u, method.nu);
        let value = Uncertain::new(Number::ZERO, [part]);
        let found = value.expanded(&self.coverage);
        (found.U, found.k, found.nu)
    }

    fn crossed(&self, found: &Study) -> Reckoned {
        let method = found.method(self.mean_of);
        let (expanded, k, nu) = self.expanded(method);
        let error = found.error();
        let [_, _, both, within] = found.squares;
        let mut steps =
            vec!["Source, sum of squares, degrees of freedom, mean square, F, P(F):".to_owned()];
        let mut rows = Vec::new();
        for ((effect, square), component) in Effect::ALL
            .into_iter()
            .zip(found.squares)
            .zip(found.components)
        {
            let over = match effect {
                Effect::Items | Effect::People => Some(if found.pooled { error } else { both }),
                Effect::Interaction => Some(within),
                Effect::Repeats => None,
            };
            let f = over
                .filter(|over| over.sum > 0.0)
                .map(|over| (square.mean() / over.mean(), over.nu));
            let p = f.and_then(|(f, nu)| f_tail(f, square.nu, nu));
            steps.push(self.line(name(effect), square, f.map(|(f, _)| f), p));
            rows.push(json!({
                "source": effect.word(),
                "sum_of_squares": square.sum,
                "degrees_of_freedom": square.nu,
                "mean_square": square.mean(),
                "F": f.map(|(f, _)| f),
                "p": p,
                "standard_deviation": component.sqrt(),
            }));
        }
        steps.push(match (found.interaction_p, found.pooled) {
            (None, _) => "The repeats do not scatter at all; nothing is pooled".to_owned(),
            (Some(p), true) => format!(
                "Interaction: P(F) = {} is above {POOL_ABOVE}, so it is pooled with the repeats (common practice, no source)",
                significant(p)
            ),
            (Some(p), false) => format!(
                "Interaction: P(F) = {} is not above {POOL_ABOVE}, so it stands by itself (common practice, no source)",
                significant(p)
            ),
        });
        for (effect, component) in Effect::ALL.into_iter().zip(found.components) {
            let zero = if found.set_to_zero.contains(&effect) {
                ": the estimate of its square is below zero and counts as none"
            } else {
                ""
            };
            if found.pooled && effect == Effect::Interaction {
                continue;
            }
            steps.push(format!(
                "s({}) = {}{zero}",
                name(effect),
                self.spread(component.sqrt())
            ));
        }
        steps.push(format!(
            "Repeatability s_r = {}; reproducibility s_R = {}",
            self.spread(found.repeatability()),
            self.spread(found.reproducibility())
        ));
        let mut notices = self.notices(within);
        if found.people < 3 || found.items < 5 {
            notices.push(format!(
                "{} people and {} items say little: three people and ten items are usual (common practice, no source)",
                found.people, found.items
            ));
        }
        let formula = vec![
            "u² = s²(people) + s²(interaction) + s²(repeats)/n".to_owned(),
            format!(
                "u = {}, ν = {}",
                self.spread(method.u),
                significant(method.nu)
            ),
            format!(
                "U = k·u = {}·{} = {}",
                significant(k),
                self.spread(method.u),
                self.spread(expanded)
            ),
        ];
        let what = format!(
            "Study of {} people, {} items, {} readings each",
            found.people, found.items, found.repeats
        );
        self.end(
            what,
            formula,
            steps,
            rows,
            notices,
            (method, expanded, k, nu),
            found.repeatability(),
            Some(found.reproducibility()),
        )
    }

    /// One person, or one item: repeats alone can be told.
    fn one_sided(&self, found: &OneWay, one_person: bool) -> Reckoned {
        let s = found.within.mean().sqrt();
        let own = if one_person {
            0.0
        } else {
            found.between_deviation().unwrap_or(0.0)
        };
        let root = f64::from(self.mean_of);
        let method = if own > 0.0 {
            // s²(people) + s²/n as multiples of the two mean squares (JCGM 100:2008, H.5.2 and G.4).
            let n = f64::from(found.each.unwrap_or(1));
            let (a, b) = (
                found.between.mean() / n,
                found.within.mean() * (1.0 / root - 1.0 / n),
            );
            let weight = a * a / f64::from(found.between.nu) + b * b / f64::from(found.within.nu);
            Combined {
                u: (a + b).sqrt(),
                nu: (a + b) * (a + b) / weight,
            }
        } else {
            Combined {
                u: s / root.sqrt(),
                nu: f64::from(found.within.nu),
            }
        };
        let (expanded, k, nu) = self.expanded(method);
        let (what, between) = if one_person {
            (
                format!("Study of one person, {} items", found.groups),
                "items",
            )
        } else {
            (
                format!("Study of {} people, one item", found.groups),
                "people",
            )
        };
        let p = found
            .f()
            .and_then(|f| f_tail(f, found.between.nu, found.within.nu));
        let rows = vec![
            json!({ "source": between, "sum_of_squares": found.between.sum, "degrees_of_freedom": found.between.nu,
                "mean_square": found.between.mean(), "F": found.f(), "p": p }),
            json!({ "source": "repeats", "sum_of_squares": found.within.sum, "degrees_of_freedom": found.within.nu,
                "mean_square": found.within.mean(), "F": null, "p": null, "standard_deviation": s }),
        ];
        let mut steps =
            vec!["Source, sum of squares, degrees of freedom, mean square, F, P(F):".to_owned()];
        steps.push(self.line(between, found.between, found.f(), p));
        steps.push(self.line("repeats", found.within, None, None));
        steps.push(format!("Repeatability s_r = {}", self.spread(s)));
        let mut notices = self.notices(found.within);
        notices.push(if one_person {
            "One person: how people differ is not in this U, and no method may rest on it alone; let another \
             person read the same items"
                .to_owned()
        } else {
            "One item: whether people differ from item to item is not in this U; read more items".to_owned()
        });
        let formula = vec![
            if own > 0.0 {
                "u² = s²(people) + s²(repeats)/n"
            } else {
                "u² = s²(repeats)/n"
            }
            .to_owned(),
            format!(
                "u = {}, ν = {}",
                self.spread(method.u),
                significant(method.nu)
            ),
            format!(
                "U = k·u = {}·{} = {}",
                significant(k),
                self.spread(method.u),
                self.spread(expanded)
            ),
        ];
        let reproducibility = (!one_person).then(|| (s * s + own * own).sqrt());
        self.end(
            what,
            formula,
            steps,
            rows,
            notices,
            (method, expanded, k, nu),
            s,
            reproducibility,
        )
    }

    fn line(&self, name: &str, square: Square, f: Option<f64>, p: Option<f64>) -> String {
        let mut text = format!(
            "  {name}: {}, {}, {}",
            significant(square.sum),
            square.nu,
            significant(square.mean())
        );
        if let Some(f) = f {
            text.push_str(&format!(", {}", significant(f)));
        }
        if let Some(p) = p {
            text.push_str(&format!(", {}", significant(p)));
        }
        text
    }

    fn notices(&self, within: Square) -> Vec<String> {
        let mut found = Vec::new();
        let least = self.step / 12.0_f64.sqrt();
        if within.mean().sqrt() < least {
            found.push(format!(
                "The repeats scatter less than a step of the last digit, {}: the instrument is too coarse for this \
                 study, and its resolution counts beside it",
                self.spread(self.step)
            ));
        }
        found
    }

    /// Few degrees of freedom make U large whatever scatters.
    fn few(nu: f64, notices: &mut Vec<String>) {
        if nu < 5.0 {
            notices.push(format!(
                "{} degrees of freedom: most of this U is k, which more people make smaller sooner than more readings",
                significant(nu)
            ));
        }
    }

    #[expect(clippy::too_many_arguments, reason = "one place puts a study together")]
    fn end(
        &self,
        what: String,
        formula: Vec<String>,
        mut steps: Vec<String>,
        rows: Vec<serde_json::Value>,
        mut notices: Vec<String>,
        (method, expanded, k, nu): (Combined, f64, f64, f64),
        repeatability: f64,
        reproducibility: Option<f64>,
    ) -> Reckoned {
        Shower::few(nu, &mut notices);
        let finite = |nu: f64| nu.is_finite().then_some(nu);
        let amount =
            |spread: f64| json!({ "number": self.number(spread), "unit": self.unit.symbol() });
        let text = self.spread(expanded);
        let floor = show::with_unit(&rounded_up(self.shown(expanded)), self.unit);
        steps.push(format!(
            "In the rules, as the method's floor: methods: {{ KIND: {{ expanded_uncertainty: {floor} }} }}"
        ));
        let single = self.spread(reproducibility.unwrap_or(repeatability));
        steps.push(format!(
            "In a record, instead of the floor: study: NAME and repeatability: {single} on the instrument; this counts \
             for what is read once, while repeats show their own scatter and not what people add: the floor is safer"
        ));
        let readings = match self.mean_of {
            1 => "one reading".to_owned(),
            count => format!("the mean of {count} readings"),
        };
        Reckoned {
            what,
            result: ReckonedOutcome::Text(format!("U = {text} for {readings} by one person")),
            coverage: self.coverage.clone(),
            formula,
            source: "Two-way analysis of variance, people and items at random; JCGM 100:2008 (GUM), H.5 and G.4"
                .to_owned(),
            steps,
            beside: vec![
                Beside::new("analysis_of_variance", "", json!(rows)),
                Beside::new("repeatability", "", amount(repeatability)),
                Beside::new("reproducibility", "", json!(reproducibility.map(amount))),
                Beside::new("method_standard_uncertainty", "", amount(method.u)),
                Beside::new("method_expanded_uncertainty", "", amount(expanded)),
                Beside::new("method_coverage_factor", "", json!(k)),
                Beside::new("method_degrees_of_freedom", "", json!(finite(nu))),
                Beside::new("mean_of", "", json!(self.mean_of)),
            ],
            notices,
            register: crate::uncertainty::Register::new(),
            picture: None,
        }
    }
}

fn name(effect: Effect) -> &'static str {
    effect.word()
}

/// Two significant digits, never less than the value.
fn rounded_up(value: f64) -> String {
    if value <= 0.0 || !value.is_finite() {
        return "0".to_owned();
    }
    let power = value.log10().floor();
    let decimals = (0..12)
        .find(|count| f64::from(*count) >= 1.0 - power)
        .unwrap_or(11);
    let scale = 10.0_f64.powi(decimals);
    let up = (value * scale * (1.0 - 1e-12)).ceil() / scale;
    format!("{up:.*}", usize::try_from(decimals).unwrap_or(11))
}

/// Four significant digits for people.
fn significant(value: f64) -> String {
    if value == 0.0 || !value.is_finite() {
        return if value == 0.0 {
            "0".to_owned()
        } else {
            "without limit".to_owned()
        };
    }
    let power = value.abs().log10().floor();
    if !(-6.0..6.0).contains(&power) {
        return format!("{value:.3e}");
    }
    let decimals = (3.0 - power).max(0.0);
    let count = (0..10)
        .find(|count| f64::from(*count) >= decimals)
        .unwrap_or(9);
    let text = format!("{value:.*}", usize::try_from(count).unwrap_or(9));
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}
