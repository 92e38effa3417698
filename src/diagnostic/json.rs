//! The JSON printer: `rimegauge-diagnostics/1`.

use serde_json::{Value, json};

use super::model::{Diagnostic, Label};
use super::order::arrange;

/// All messages as one JSON value. Lines and columns count from 1, columns in characters; an end is
/// the place just behind the last character. A missing help or clause is null.
pub fn to_json(diagnostics: &[Diagnostic]) -> Value {
    let all: Vec<Value> = arrange(diagnostics).into_iter().map(diagnostic).collect();
    json!({ "format": "rimegauge-diagnostics/1", "diagnostics": all })
}

fn diagnostic(diagnostic: &Diagnostic) -> Value {
    let labels: Vec<Value> = diagnostic.labels.iter().map(label).collect();
    json!({
        "code": diagnostic.code,
        "severity": diagnostic.severity.word(),
        "message": diagnostic.message,
        "labels": labels,
        "help": diagnostic.help,
        "clause": diagnostic.clause,
    })
}

fn label(label: &Label) -> Value {
    let place = label.place();
    json!({
        "file": place.file,
        "line": place.start.line,
        "column": place.start.column,
        "end_line": place.end.line,
        "end_column": place.end.column,
        "words": label.words,
    })
}
