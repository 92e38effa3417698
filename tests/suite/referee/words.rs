//! Small class rules as data that can be drawn, changed and written as the text of a rules file.

use std::fmt::Write as _;

/// The unit in which a number is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    Mm,
    Cm,
    M,
    In,
    Kg,
    G,
    Deg,
    Plain,
    Percent,
    Days,
}

impl Unit {
    /// Units of the same dimension.
    pub fn alike(self) -> &'static [Unit] {
        match self {
            Unit::Mm | Unit::Cm | Unit::M | Unit::In => &[Unit::Mm, Unit::Cm, Unit::M, Unit::In],
            Unit::Kg | Unit::G => &[Unit::Kg, Unit::G],
            Unit::Deg => &[Unit::Deg],
            Unit::Plain => &[Unit::Plain],
            Unit::Percent => &[Unit::Percent],
            Unit::Days => &[Unit::Days],
        }
    }
}

/// A number over a power of ten, without digits that say nothing.
pub fn decimal(number: i64, places: u32) -> String {
    let ten = 10_i64.pow(places);
    let sign = if number < 0 { "-" } else { "" };
    let (whole, rest) = (number.abs() / ten, number.abs() % ten);
    if rest == 0 {
        return format!("{sign}{whole}");
    }
    let digits = format!("{rest:0width$}", width = places as usize);
    format!("{sign}{whole}.{}", digits.trim_end_matches('0'))
}

/// An expression. A number is held in hundredths of mm, kg, deg or one.
#[derive(Clone, Debug, PartialEq)]
pub enum Ex {
    Num(i64, Unit),
    /// A name, perhaps behind whose it is: `boat.built`.
    Path(String),
    Date(String),
    /// `+ - * /` and `< <= > >=`.
    Two(&'static str, Box<Ex>, Box<Ex>),
    Call(&'static str, Vec<Ex>),
    /// `is`, `is not`, over whatever stands on both sides.
    Is(Box<Ex>, bool, Box<Ex>),
    /// `is one of`, `is none of`.
    OneOf(String, bool, Vec<String>),
    And(Vec<Ex>),
    Or(Vec<Ex>),
    Not(Box<Ex>),
    Count(String, Option<Box<Ex>>),
    Sum(Box<Ex>, String, Option<Box<Ex>>),
}

impl Ex {
    pub fn path(text: impl Into<String>) -> Ex {
        Ex::Path(text.into())
    }

    pub fn two(sign: &'static str, left: Ex, right: Ex) -> Ex {
        Ex::Two(sign, Box::new(left), Box::new(right))
    }

    pub fn not(inner: Ex) -> Ex {
        Ex::Not(Box::new(inner))
    }

    pub fn is(left: Ex, negated: bool, right: Ex) -> Ex {
        Ex::Is(Box::new(left), negated, Box::new(right))
    }

    /// As it is written; `inner` in brackets where it is more than a word.
    fn write(&self, inner: bool) -> String {
        let joined = |list: &[Ex], word: &str| {
            let list: Vec<String> = list.iter().map(|one| one.write(true)).collect();
            list.join(word)
        };
        let (text, whole) = match self {
            Ex::Num(number, unit) => (number_text(*number, *unit), true),
            Ex::Path(text) | Ex::Date(text) => (text.clone(), true),
            Ex::Two(sign, left, right) => (
                format!("{} {sign} {}", left.write(true), right.write(true)),
                false,
            ),
            Ex::Call(name, list) => {
                let list: Vec<String> = list.iter().map(|one| one.write(false)).collect();
                (format!("{name}({})", list.join(", ")), true)
            }
            Ex::Is(left, negated, right) => {
                let word = if *negated { "is not" } else { "is" };
                (
                    format!("{} {word} {}", left.write(true), right.write(true)),
                    false,
                )
            }
            Ex::OneOf(subject, negated, list) => {
                let word = if *negated { "none" } else { "one" };
                (
                    format!("{subject} is {word} of ({})", list.join(", ")),
                    false,
                )
            }
            Ex::And(list) => (joined(list, " and "), list.len() < 2 && !inner),
            Ex::Or(list) => (joined(list, " or "), list.len() < 2 && !inner),
            Ex::Not(of) => (format!("not {}", of.write(true)), false),
            Ex::Count(over, None) => (format!("count({over})"), true),
            Ex::Count(over, Some(of)) => (format!("count({over} where {})", of.write(false)), true),
            Ex::Sum(value, over, None) => {
                (format!("sum({} over {over})", value.write(false)), true)
            }
            Ex::Sum(value, over, Some(of)) => (
                format!(
                    "sum({} over {over} where {})",
                    value.write(false),
                    of.write(false)
                ),
                true,
            ),
        };
        if inner && !whole {
            format!("({text})")
        } else {
            text
        }
    }

    pub fn text(&self) -> String {
        self.write(false)
    }

    /// Every expression from here down.
    pub fn visit(&mut self, each: &mut dyn FnMut(&mut Ex)) {
        each(self);
        match self {
            Ex::Num(..) | Ex::Path(_) | Ex::Date(_) | Ex::OneOf(..) => {}
            Ex::Two(_, left, right) | Ex::Is(left, _, right) => {
                left.visit(each);
                right.visit(each);
            }
            Ex::Call(_, list) | Ex::And(list) | Ex::Or(list) => {
                list.iter_mut().for_each(|one| one.visit(each));
            }
            Ex::Not(of) => of.visit(each),
            Ex::Count(_, of) => of.iter_mut().for_each(|one| one.visit(each)),
            Ex::Sum(value, _, of) => {
                value.visit(each);
                of.iter_mut().for_each(|one| one.visit(each));
            }
        }
    }

    /// Whether it is a condition.
    pub fn is_condition(&self) -> bool {
        match self {
            Ex::Two(sign, ..) => matches!(*sign, "<" | "<=" | ">" | ">="),
            Ex::Is(..) | Ex::OneOf(..) | Ex::And(_) | Ex::Or(_) | Ex::Not(_) => true,
            Ex::Num(..)
            | Ex::Path(_)
            | Ex::Date(_)
            | Ex::Call(..)
            | Ex::Count(..)
            | Ex::Sum(..) => false,
        }
    }
}

/// A number in hundredths of its base unit, written in a unit.
pub fn number_text(number: i64, unit: Unit) -> String {
    match unit {
        Unit::Mm => format!("{} mm", decimal(number, 2)),
        Unit::Cm => format!("{} cm", decimal(number, 3)),
        Unit::M => format!("{} m", decimal(number, 5)),
        // Hundredths of a millimetre that make tenths of an inch, else millimetres again.
        Unit::In if number % 254 == 0 => format!("{} in", decimal(number / 254, 1)),
        Unit::In => format!("{} mm", decimal(number, 2)),
        Unit::Kg => format!("{} kg", decimal(number, 2)),
        Unit::G => format!("{} g", decimal(number * 10, 0)),
        Unit::Deg => format!("{} deg", decimal(number, 2)),
        Unit::Plain => decimal(number, 2),
        Unit::Percent => format!("{} %", decimal(number, 0)),
        Unit::Days => format!("{} days", decimal(number, 2)),
    }
}

#[derive(Clone, Debug, PartialEq)]
pub enum TraitWords {
    Choice(Vec<String>),
    AnyOf(Vec<String>),
    Date,
    Flag,
}

#[derive(Clone, Debug)]
pub struct MeasureWords {
    pub name: String,
    /// `length`, `profile`, `yes_no`.
    pub kind: &'static str,
    pub placed: bool,
    /// What is plausible, as text: no part of what is legal.
    pub plausible: Option<&'static str>,
}

#[derive(Clone, Debug)]
pub struct ZoneWords {
    pub name: String,
    /// `within` of what, or `between`; hundredths of a millimetre.
    pub kind: ZoneShape,
}

#[derive(Clone, Debug)]
pub enum ZoneShape {
    Edge(i64),
    Of(i64, String),
    Between(i64, i64),
}

#[derive(Clone, Debug, Default)]
pub struct PartWords {
    pub name: String,
    pub traits: Vec<(String, TraitWords)>,
    pub measures: Vec<MeasureWords>,
    pub derived: Vec<(String, Ex)>,
    pub zones: Vec<ZoneWords>,
}

#[derive(Clone, Debug)]
pub struct HoldingWords {
    pub key: String,
    pub part: String,
    pub many: bool,
    pub at_least: i64,
}

#[derive(Clone, Debug)]
pub struct GroupWords {
    pub key: String,
    pub at_least: i64,
    pub roles: Vec<(String, String)>,
}

/// What a row asks.
#[derive(Clone, Debug)]
pub enum Row {
    Bounds(Vec<(&'static str, Ex)>),
    Equals(String),
    Only(Vec<String>),
    Without(Vec<String>),
    /// How near, the columns, the rows with their names.
    Options(Ex, Vec<String>, Vec<(String, Vec<Ex>)>),
    None,
}

#[derive(Clone, Debug)]
pub enum Table {
    Direct(Row),
    /// Trait, rows by choice.
    By(String, Vec<(String, Row)>),
    /// Two traits, rows by two choices.
    ByTwo(String, String, Vec<(String, Vec<(String, Row)>)>),
    Zone(Vec<(String, Row)>),
    Level(Vec<(String, Row)>),
}

impl Table {
    /// Every row.
    pub fn rows(&mut self) -> Vec<&mut Row> {
        match self {
            Table::Direct(row) => vec![row],
            Table::By(_, rows) | Table::Zone(rows) | Table::Level(rows) => {
                rows.iter_mut().map(|(_, row)| row).collect()
            }
            Table::ByTwo(_, _, rows) => {
                let inner = rows.iter_mut().flat_map(|(_, inner)| inner);
                inner.map(|(_, row)| row).collect()
            }
        }
    }
}

#[derive(Clone, Debug)]
pub struct InsteadWords {
    pub when: Ex,
    pub row: Row,
    pub until: Option<&'static str>,
    pub unproven: bool,
}

#[derive(Clone, Debug)]
pub struct RuleWords {
    pub id: String,
    pub clause: String,
    pub title: String,
    /// A part or the key of a group.
    pub on: String,
    pub when: Option<Ex>,
    pub value: Ex,
    /// Of placed values.
    pub judged: Option<&'static str>,
    pub places: Option<i64>,
    pub outside: Vec<String>,
    pub zone: Option<String>,
    pub table: Table,
    pub instead: Vec<InsteadWords>,
    pub checked_at: Option<Vec<&'static str>>,
    pub rounded_to: Option<Ex>,
    pub remedy: Option<&'static str>,
}

#[derive(Clone, Debug)]
pub struct MarkWords {
    pub item: String,
    pub by_level: Option<Vec<(String, i64)>>,
    pub at_most: i64,
    pub of_which: Vec<(Ex, i64)>,
    pub pairs: Option<(Ex, Vec<String>)>,
    pub bring: Vec<(String, i64)>,
}

/// One version of the rules of a small class.
#[derive(Clone, Debug)]
pub struct ClassWords {
    pub version: &'static str,
    pub in_force_from: &'static str,
    pub silence: &'static str,
    pub levels: bool,
    pub decision: &'static str,
    pub renamed: Vec<(String, String)>,
    /// The boat first.
    pub parts: Vec<PartWords>,
    pub holdings: Vec<HoldingWords>,
    pub group: Option<GroupWords>,
    pub rules: Vec<RuleWords>,
    pub marks: Option<MarkWords>,
}

/// The levels of all classes that know levels.
pub const LEVELS: [&str; 2] = ["club", "regional"];

fn row_text(row: &Row) -> String {
    match row {
        Row::Bounds(bounds) => {
            let list = bounds
                .iter()
                .map(|(word, limit)| format!("{word}: \"{}\"", limit.text()));
            list.collect::<Vec<_>>().join(", ")
        }
        Row::Equals(word) => format!("equals: {word}"),
        Row::Only(list) => format!("only: [{}]", list.join(", ")),
        Row::Without(list) => format!("without: [{}]", list.join(", ")),
        Row::Options(within, columns, rows) => {
            let rows = rows.iter().map(|(name, values)| {
                let values: Vec<String> = values.iter().map(Ex::text).collect();
                format!("{name}: [{}]", values.join(", "))
            });
            format!(
                "options: {{ within: \"{}\", of: [{}], rows: {{ {} }} }}",
                within.text(),
                columns.join(", "),
                rows.collect::<Vec<_>>().join(", ")
            )
        }
        Row::None => "limit: none".to_owned(),
    }
}

fn rows_text(rows: &[(String, Row)]) -> String {
    let rows = rows
        .iter()
        .map(|(name, row)| format!("{name}: {{ {} }}", row_text(row)));
    rows.collect::<Vec<_>>().join(", ")
}

impl ClassWords {
    pub fn part(&self, name: &str) -> Option<&PartWords> {
        self.parts.iter().find(|one| one.name == name)
    }

    /// The text of the rules file.
    pub fn text(&self) -> String {
        let mut text = format!(
            "format: rimegauge-rules/1
class: tarn-8
title: Tarn 8, small rules
version: {}
status: adopted
in_force_from: {}
authority: Tarn 8 Class Association, Technical Committee
silence: {}
decision:
  coverage_probability: 95 %
  self_check: {}
  certification: guarded_acceptance
  event_inspection: guarded_rejection
",
            self.version, self.in_force_from, self.silence, self.decision
        );
        if self.levels {
            let _ = writeln!(text, "event: {{ levels: [{}] }}", LEVELS.join(", "));
        }
        if !self.renamed.is_empty() {
            let list = self
                .renamed
                .iter()
                .map(|(old, new)| format!("{old}: {new}"));
            let list: Vec<String> = list.collect();
            let _ = writeln!(text, "renamed: {{ {} }}", list.join(", "));
        }
        text.push_str("equipment:\n");
        for part in &self.parts {
            self.part_text(part, &mut text);
        }
        text.push_str("rules:\n");
        for rule in &self.rules {
            rule_text(rule, &mut text);
        }
        if let Some(marks) = &self.marks {
            marks_text(marks, &mut text);
        }
        text
    }

    fn part_text(&self, part: &PartWords, text: &mut String) {
        let _ = writeln!(text, "  {}:", part.name);
        let before = text.len();
        if part.name == "boat" {
            let parts = self
                .holdings
                .iter()
                .map(|one| match (one.many, one.at_least) {
                    (false, _) => format!("{}: {{ one: {} }}", one.key, one.part),
                    (true, 0) => format!("{}: {{ many: {} }}", one.key, one.part),
                    (true, least) => {
                        format!("{}: {{ many: {}, at_least: {least} }}", one.key, one.part)
                    }
                });
            let parts: Vec<String> = parts.collect();
            if !parts.is_empty() {
                let _ = writeln!(text, "    parts: {{ {} }}", parts.join(", "));
            }
            if let Some(group) = &self.group {
                let roles = group
                    .roles
                    .iter()
                    .map(|(role, part)| format!("{role}: {part}"));
                let roles: Vec<String> = roles.collect();
                let least = match group.at_least {
                    0 => String::new(),
                    least => format!("at_least: {least}, "),
                };
                let _ = writeln!(
                    text,
                    "    groups: {{ {}: {{ {least}roles: {{ {} }} }} }}",
                    group.key,
                    roles.join(", ")
                );
            }
        }
        if !part.traits.is_empty() {
            text.push_str("    traits:\n");
        }
        for (name, kind) in &part.traits {
            let kind = match kind {
                TraitWords::Choice(words) => format!("[{}]", words.join(", ")),
                TraitWords::AnyOf(words) => format!("{{ any_of: [{}] }}", words.join(", ")),
                TraitWords::Date => "{ date: proven }".to_owned(),
                TraitWords::Flag => "{ flag: intended }".to_owned(),
            };
            let _ = writeln!(text, "      {name}: {kind}");
        }
        if !part.measures.is_empty() {
            text.push_str("    measures:\n");
        }
        for one in &part.measures {
            let ask = match one.kind {
                "yes_no" => ", ask: \"Is it so?\"",
                _ => "",
            };
            let placed = if one.placed { ", placed: yes" } else { "" };
            let plausible = one
                .plausible
                .map_or(String::new(), |range| format!(", plausible: {range}"));
            let _ = writeln!(
                text,
                "      {}: {{ kind: {}{placed}{plausible}{ask} }}",
                one.name, one.kind
            );
        }
        if !part.derived.is_empty() {
            text.push_str("    derived:\n");
        }
        for (name, of) in &part.derived {
            let _ = writeln!(text, "      {name}: \"{}\"", of.text());
        }
        if !part.zones.is_empty() {
            text.push_str("    zones:\n");
        }
        for zone in &part.zones {
            let mm = |number: i64| number_text(number, Unit::Mm);
            let shape = match &zone.kind {
                ZoneShape::Edge(within) => format!("within: {}, of: edge", mm(*within)),
                ZoneShape::Of(within, of) => format!("within: {}, of: {of}", mm(*within)),
                ZoneShape::Between(low, high) => format!("between: {} to {}", mm(*low), mm(*high)),
            };
            let _ = writeln!(text, "      {}: {{ {shape} }}", zone.name);
        }
        if text.len() == before {
            // A kind of part of which nothing is said still is a mapping.
            text.pop();
            text.push_str(" {}\n");
        }
    }
}

fn rule_text(rule: &RuleWords, text: &mut String) {
    let _ = writeln!(
        text,
        "  - id: {}\n    clause: {}\n    title: {}\n    text: As it is said here.\n    applies_to: {}",
        rule.id, rule.clause, rule.title, rule.on
    );
    if let Some(when) = &rule.when {
        let _ = writeln!(text, "    when: \"{}\"", when.text());
    }
    let no_value = matches!(&rule.table, Table::Direct(Row::Options(..)));
    if !no_value {
        let _ = writeln!(text, "    value: \"{}\"", rule.value.text());
    }
    if let Some(judged) = rule.judged {
        let _ = writeln!(text, "    judged: {judged}");
    }
    if let Some(places) = rule.places {
        let _ = writeln!(text, "    places: {{ at_least: {places} }}");
    }
    if !rule.outside.is_empty() {
        let _ = writeln!(text, "    outside: [{}]", rule.outside.join(", "));
    }
    if let Some(zone) = &rule.zone {
        let _ = writeln!(text, "    zone: {zone}");
    }
    if let Some(step) = &rule.rounded_to {
        let _ = writeln!(text, "    rounded_to: {}", step.text());
    }
    match &rule.table {
        Table::Direct(row) => {
            let one = row_text(row);
            let one = match row {
                Row::Bounds(bounds) => {
                    let list = bounds
                        .iter()
                        .map(|(word, limit)| format!("{word}: \"{}\"", limit.text()));
                    list.collect::<Vec<_>>().join("\n    ")
                }
                Row::Equals(_) | Row::Only(_) | Row::Without(_) | Row::Options(..) | Row::None => {
                    one
                }
            };
            let _ = writeln!(text, "    {one}");
        }
        Table::By(by, rows) => {
            let _ = writeln!(text, "    by: {by}\n    limits: {{ {} }}", rows_text(rows));
        }
        Table::ByTwo(one, two, rows) => {
            let rows = rows
                .iter()
                .map(|(name, inner)| format!("{name}: {{ {} }}", rows_text(inner)));
            let rows: Vec<String> = rows.collect();
            let _ = writeln!(
                text,
                "    by: [{one}, {two}]\n    limits: {{ {} }}",
                rows.join(", ")
            );
        }
        Table::Zone(rows) => {
            let _ = writeln!(text, "    by: zone\n    limits: {{ {} }}", rows_text(rows));
        }
        Table::Level(rows) => {
            let _ = writeln!(
                text,
                "    by: event.level\n    limits: {{ {} }}",
                rows_text(rows)
            );
        }
    }
    if !rule.instead.is_empty() {
        text.push_str("    instead:\n");
    }
    for one in &rule.instead {
        let unproven = if one.unproven {
            ", unproven: main_limit"
        } else {
            ""
        };
        let until = one
            .until
            .map_or(String::new(), |day| format!(", until: {day}"));
        let _ = writeln!(
            text,
            "      - {{ if: \"{}\", because: it is older, {}{unproven}{until} }}",
            one.when.text(),
            row_text(&one.row)
        );
    }
    if let Some(stages) = &rule.checked_at {
        let _ = writeln!(text, "    checked_at: [{}]", stages.join(", "));
    }
    if let Some(remedy) = rule.remedy {
        let _ = writeln!(text, "    remedy: {remedy}");
    }
}

fn marks_text(marks: &MarkWords, text: &mut String) {
    let _ = writeln!(
        text,
        "marks:\n  - id: marked_ones\n    clause: E.1\n    title: Marks\n    text: As it is said here.\n    item: {}",
        marks.item
    );
    match &marks.by_level {
        Some(rows) => {
            let rows = rows
                .iter()
                .map(|(level, most)| format!("{level}: {{ at_most: {most} }}"));
            let rows: Vec<String> = rows.collect();
            let _ = writeln!(
                text,
                "    by: event.level\n    limits: {{ {} }}",
                rows.join(", ")
            );
        }
        None => {
            let _ = writeln!(text, "    at_most: {}", marks.at_most);
        }
    }
    if !marks.of_which.is_empty() {
        let caps = marks
            .of_which
            .iter()
            .map(|(cap, most)| format!("{{ where: \"{}\", at_most: {most} }}", cap.text()));
        let caps: Vec<String> = caps.collect();
        let _ = writeln!(text, "    of_which: [ {} ]", caps.join(", "));
    }
    if let Some((of, alike)) = &marks.pairs {
        let _ = writeln!(
            text,
            "    pairs: {{ where: \"{}\", alike: [{}] }}",
            of.text(),
            alike.join(", ")
        );
    }
    if !marks.bring.is_empty() {
        let list = marks
            .bring
            .iter()
            .map(|(key, least)| format!("{key}: {least}"));
        let list: Vec<String> = list.collect();
        let _ = writeln!(text, "    bring: {{ {} }}", list.join(", "));
    }
}
