//! The limit of a finding in `rimegauge-report/1`.

use serde::Serialize;

use super::json::{QuantityJson, number};
use crate::check::FoundLimit;
use crate::quantity::{Number, Unit, show};
use crate::rules::Rounded;

#[derive(Serialize)]
#[serde(untagged)]
pub(super) enum LimitJson {
    Bound {
        kind: &'static str,
        number: String,
        unit: &'static str,
        #[serde(skip_serializing_if = "Option::is_none")]
        as_written: Option<String>,
        #[serde(skip_serializing_if = "Option::is_none")]
        rounded_to: Option<QuantityJson>,
        #[serde(skip_serializing_if = "Option::is_none")]
        exact: Option<ExactJson>,
    },
    Equals {
        kind: &'static str,
        word: String,
    },
    Listed {
        kind: &'static str,
        words: Vec<String>,
    },
    Option {
        kind: &'static str,
        row: String,
        column: String,
        number: String,
        unit: &'static str,
        #[serde(skip_serializing_if = "Option::is_none")]
        as_written: Option<String>,
        within: Option<String>,
        border: ExactJson,
    },
}

/// A bound on the unrounded value.
#[derive(Serialize)]
pub(super) struct ExactJson {
    kind: &'static str,
    number: String,
    unit: &'static str,
}

/// A limit; `as_written` is it as the class wrote it, where that is no decimal number.
pub(super) fn of_limit(limit: &FoundLimit, as_written: Option<String>) -> LimitJson {
    match limit {
        FoundLimit::Bound {
            kind,
            value,
            unit,
            decimals,
            rounded,
        } => LimitJson::Bound {
            kind: kind.word(),
            number: number(value, *unit, *decimals).0,
            unit: unit.symbol(),
            as_written,
            rounded_to: rounded.as_deref().map(step),
            exact: rounded.as_deref().map(|rounded| exact(rounded, *unit)),
        },
        FoundLimit::Equals(word) => LimitJson::Equals {
            kind: "equals",
            word: word.clone(),
        },
        FoundLimit::Only(words) => LimitJson::Listed {
            kind: "only",
            words: words.clone(),
        },
        FoundLimit::Without(words) => LimitJson::Listed {
            kind: "without",
            words: words.clone(),
        },
        FoundLimit::Option(option) => LimitJson::Option {
            kind: "option",
            row: option.row.clone(),
            column: option.column.clone(),
            number: show::number(
                &option.listed.value,
                option.listed.unit,
                option.listed.decimals,
            )
            .0,
            unit: option.listed.unit.symbol(),
            as_written,
            within: option.within.clone(),
            border: ExactJson {
                kind: option.kind.word(),
                number: number(&option.border, option.listed.unit, None).0,
                unit: option.listed.unit.symbol(),
            },
        },
    }
}

fn step(rounded: &Rounded) -> QuantityJson {
    let to = &rounded.to;
    QuantityJson {
        number: show::difference(&to.difference(), to.unit, to.decimals).0,
        unit: to.unit.symbol(),
    }
}

fn exact(rounded: &Rounded, unit: Unit) -> ExactJson {
    ExactJson {
        kind: rounded.kind.word(),
        number: number(&Number::Exact(rounded.limit.clone()), unit, None).0,
        unit: unit.symbol(),
    }
}
