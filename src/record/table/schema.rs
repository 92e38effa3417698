//! The JSON Schema (draft 2020-12) of a map, made from the vocabulary of its class.

use serde_json::{Value, json};

use super::load::MAP_FORMAT;
use super::model::DateOrder;
use crate::vocabulary::Vocabulary;

/// The JSON Schema of a map of a class.
pub fn map_schema(vocabulary: &Vocabulary, class: &str) -> Value {
    let text = |description: &str| json!({ "title": "a text", "description": description, "type": ["string", "number", "boolean"] });
    let words = json!({ "title": "words with what they mean", "description": "what a word of the table means here; capitals do not count", "type": "object", "additionalProperties": { "type": ["string", "number", "boolean"] } });
    let texts = |description: &str| json!({ "title": "a list of texts", "description": description, "type": "array", "minItems": 1, "items": { "type": ["string", "number", "boolean"] } });
    let many: Vec<&str> = vocabulary
        .holdings
        .iter()
        .filter(|one| one.many)
        .map(|one| one.key.text.as_str())
        .collect();
    let orders: Vec<&str> = DateOrder::WORDS.iter().map(|(word, _)| *word).collect();
    let count = |description: &str| json!({ "title": "a whole number", "description": description, "type": ["integer", "string"], "pattern": "^[0-9]+$", "minimum": 0 });
    let column = json!({
        "title": "a column",
        "description": "a column of the table and what it fills",
        "type": "object",
        "additionalProperties": false,
        "required": ["fills"],
        "properties": {
            "header": text("the header as the table has it; capitals and runs of blanks do not count"),
            "column": text("the letter of the column, where headers do not tell it: C"),
            "fills": text("what it fills: boat.sail_number, hull.length, runners.steel_thickness, runners.S1.mass, measured.day; of readings that belong together one, entries counted from 1: runners.side_line.port.3, runners.edge_profile.shims.1.forward; of a group a role: sets.port"),
            "unit": text("the unit of bare numbers"),
            "decimals": count("decimals of bare numbers, filled up with zeros: a spreadsheet keeps 4.70 as 4.7"),
            "words": words,
            "with": text("the instrument, by its key under `instruments`"),
            "by": text("who measured"),
            "taken": text("when"),
            "at": text("where on the item: the distance from its pivot; of a gap along it, its station"),
            "from_edge": text("how far from the edge"),
            "face": text("port or starboard"),
            "day": text("the day of an answer or a first value"),
            "paper": text("the paper that says a first value"),
            "gap": text("of a pair of shims: the leaf"),
            "load": text("of a step of a load test: the load"),
            "diameter": text("of pins and rollers: how thick they are"),
            "depth": text("of a width of a section: how far from the edge"),
        },
    });
    let table = json!({
        "title": "a table",
        "description": "a sheet, or the whole of a CSV file",
        "type": "object",
        "additionalProperties": false,
        "required": ["columns"],
        "properties": {
            "sheet": text("the name of the sheet; without it the only one"),
            "header_row": count("the row of the headers; without it 1, 0 for none"),
            "rows": { "title": "a part of the boat", "description": "the part of which each row is one; without it each row is a boat", "enum": many },
            "merged": { "title": "a way with merged cells", "description": "refuse them, or fill all that they cover with the value of their first cell", "enum": ["refuse", "fill"] },
            "columns": { "title": "a list of columns", "type": "array", "minItems": 1, "items": column },
            "left_out": texts("headers of columns that are left out"),
        },
    });
    json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "a map",
        "description": format!("Which columns of a table fill what in records of the class {class}."),
        "type": "object",
        "additionalProperties": false,
        "required": ["format", "class", "tables"],
        "properties": {
            "format": { "title": "the format line", "const": MAP_FORMAT, "description": format!("write `format: {MAP_FORMAT}`") },
            "class": { "title": "the name of the class", "type": ["string", "number", "boolean"], "description": format!("write `class: {class}`"), "pattern": format!("^{class}$") },
            "rules": text("the rules by whose names the columns are read, in place of those in force on the day: tarn-8@3.1.0"),
            "decimal": { "title": "the decimal sign", "description": "of numbers in texts; number cells of spreadsheets have none", "enum": ["point", "comma"] },
            "dates": { "title": "the order of dates", "description": "how days are written in texts; 2026-11-21 is read in every order", "enum": orders },
            "parted_by": { "title": "what parts cells", "description": "of a CSV file; without it, it is seen in the first line", "enum": ["comma", "semicolon", "tab"] },
            "not_measured": texts("words that stand for nothing measured, beside empty cells"),
            "words": words,
            "measured": { "title": "what holds for all records", "description": "day, by, place and temperature of the session", "type": "object", "additionalProperties": false, "properties": { "day": text("the day"), "by": text("who measured"), "place": text("where"), "temperature": text("in what cold") } },
            "instruments": { "title": "instruments", "description": "as in a record; every record gets them", "type": "object" },
            "tables": { "title": "a list of tables", "description": "one table, or several sheets that are joined by sail number and day", "type": "array", "minItems": 1, "items": table },
        },
    })
}
