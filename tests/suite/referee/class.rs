//! Classes by chance: small vocabularies and rules over all that a rules file can say.

use super::draw::Draw;
use super::words::*;

/// What can be named in a rule, by type.
#[derive(Clone, Debug, Default)]
pub struct Names {
    pub lengths: Vec<String>,
    pub placed_lengths: Vec<String>,
    /// Lengths that are always above zero, to divide by.
    pub positive: Vec<String>,
    pub masses: Vec<String>,
    pub angles: Vec<String>,
    pub placed_angles: Vec<String>,
    pub numbers: Vec<String>,
    pub answers: Vec<String>,
    pub flags: Vec<String>,
    pub dates: Vec<String>,
    pub choices: Vec<(String, Vec<String>)>,
    pub lists: Vec<(String, Vec<String>)>,
}

impl Names {
    fn add(&mut self, part: &PartWords, prefix: &str) {
        let path = |name: &str| format!("{prefix}{name}");
        for one in &part.measures {
            let name = path(&one.name);
            match (one.kind, one.placed) {
                ("length", true) => self.placed_lengths.push(name),
                ("length", false) => {
                    self.lengths.push(name.clone());
                    self.positive.push(name);
                }
                ("position", _) => self.lengths.push(name),
                ("mass", _) => self.masses.push(name),
                ("angle", _) => self.angles.push(name),
                ("number", _) => self.numbers.push(name),
                ("yes_no", _) => self.answers.push(name),
                _ => {}
            }
        }
        for (name, of) in &part.derived {
            let name = path(name);
            match of {
                Ex::Call("included_angle", _) => self.placed_angles.push(name),
                Ex::Two("/", ..) => self.numbers.push(name),
                _ => self.lengths.push(name),
            }
        }
        for (name, kind) in &part.traits {
            let name = path(name);
            match kind {
                TraitWords::Choice(words) => self.choices.push((name, words.clone())),
                TraitWords::AnyOf(words) => self.lists.push((name, words.clone())),
                TraitWords::Date => self.dates.push(name),
                TraitWords::Flag => self.flags.push(name),
            }
        }
    }

    /// What a rule on a part, or on a group, can name.
    pub fn of(class: &ClassWords, on: &str) -> Names {
        let mut names = Names::default();
        match class.group.as_ref().filter(|group| group.key == on) {
            Some(group) => {
                for (role, part) in &group.roles {
                    names.add(class.part(part).unwrap(), &format!("{role}."));
                }
            }
            None => names.add(class.part(on).unwrap(), ""),
        }
        names.lists.retain(|(name, _)| !name.contains('.'));
        if on != "boat" {
            names.add(&class.parts[0], "boat.");
        }
        for holding in class
            .holdings
            .iter()
            .filter(|one| !one.many && one.part != on)
        {
            names.add(
                class.part(&holding.part).unwrap(),
                &format!("{}.", holding.key),
            );
        }
        names
    }

    /// What stands inside `where` and `over` for the items of a holding.
    fn inside(class: &ClassWords, key: &str) -> Names {
        let mut names = Names::default();
        match class.group.as_ref().filter(|group| group.key == key) {
            Some(group) => {
                for (role, part) in &group.roles {
                    names.add(class.part(part).unwrap(), &format!("{role}."));
                }
            }
            None => {
                let holding = class.holdings.iter().find(|one| one.key == key).unwrap();
                names.add(class.part(&holding.part).unwrap(), "");
            }
        }
        names
    }
}

/// The days that conditions name.
pub const DAYS: [&str; 4] = ["2010-01-01", "2012-01-01", "2015-06-30", "2020-01-01"];

const SIGNS: [&str; 4] = ["<", "<=", ">", ">="];

fn length(draw: &mut Draw) -> Ex {
    Ex::Num(
        draw.between(2, 16) * 635,
        *draw.one(&[Unit::Mm, Unit::Mm, Unit::Mm, Unit::Cm, Unit::M]),
    )
}

fn mass(draw: &mut Draw) -> Ex {
    Ex::Num(
        draw.between(2, 10) * 50,
        *draw.one(&[Unit::Kg, Unit::Kg, Unit::G]),
    )
}

fn angle(draw: &mut Draw) -> Ex {
    Ex::Num(draw.between(12, 24) * 500, Unit::Deg)
}

fn number(draw: &mut Draw) -> Ex {
    Ex::Num(draw.between(1, 8) * 50, Unit::Plain)
}

/// Kinds of number that a rule decides.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    Length,
    Mass,
    Angle,
    Number,
}

impl Kind {
    /// A constant of the kind.
    pub fn constant(self, draw: &mut Draw) -> Ex {
        match self {
            Kind::Length => length(draw),
            Kind::Mass => mass(draw),
            Kind::Angle => angle(draw),
            Kind::Number => number(draw),
        }
    }
}

/// A term of a kind, without places.
fn atom(draw: &mut Draw, names: &Names, kind: Kind) -> Option<Ex> {
    let mut all: Vec<Ex> = match kind {
        Kind::Length => &names.lengths,
        Kind::Mass => &names.masses,
        Kind::Angle => &names.angles,
        Kind::Number => &names.numbers,
    }
    .iter()
    .map(Ex::path)
    .collect();
    let placed: &[String] = match kind {
        Kind::Length => &names.placed_lengths,
        Kind::Angle => &names.placed_angles,
        Kind::Mass | Kind::Number => &[],
    };
    for name in placed {
        let which = *draw.one(&["lowest", "highest"]);
        all.push(Ex::Call(which, vec![Ex::path(name)]));
    }
    if kind == Kind::Number && names.positive.len() > 1 && draw.percent(30) {
        let over = draw.one(&names.positive).clone();
        let of = draw.one(&names.lengths).clone();
        if over != of {
            all.push(Ex::two("/", Ex::path(of), Ex::path(over)));
        }
    }
    (!all.is_empty()).then(|| draw.one(&all).clone())
}

/// A value of a kind, without places.
pub fn value(draw: &mut Draw, names: &Names, kind: Kind) -> Option<Ex> {
    let one = atom(draw, names, kind)?;
    if draw.percent(55) {
        return Some(one);
    }
    let other = atom(draw, names, kind)?;
    if other == one {
        return Some(match draw.below(3) {
            0 => Ex::two("*", Ex::Num(50, Unit::Plain), one),
            1 => Ex::Call("abs", vec![one]),
            _ => one,
        });
    }
    Some(match draw.below(7) {
        0 => Ex::two("+", one, other),
        1 => Ex::two("-", one, other),
        2 => Ex::Call("abs", vec![Ex::two("-", one, other)]),
        3 => Ex::Call("min", vec![one, other]),
        4 => Ex::Call("max", vec![one, other]),
        5 => Ex::two("+", Ex::two("*", Ex::Num(50, Unit::Plain), one), other),
        _ => one,
    })
}

fn kinds(draw: &mut Draw) -> Kind {
    *draw.one(&[
        Kind::Length,
        Kind::Length,
        Kind::Length,
        Kind::Mass,
        Kind::Angle,
        Kind::Number,
    ])
}

/// A count or a sum of the boat's parts.
fn aggregate(draw: &mut Draw, class: &ClassWords, key: &str) -> (Ex, bool) {
    let names = Names::inside(class, key);
    let condition = if draw.percent(75) {
        simple_condition(draw, class, &names).map(Box::new)
    } else {
        None
    };
    let kind = *draw.one(&[Kind::Mass, Kind::Length]);
    if draw.percent(25)
        && let Some(of) = atom(draw, &names, kind)
    {
        return (Ex::Sum(Box::new(of), key.to_owned(), condition), true);
    }
    (Ex::Count(key.to_owned(), condition), false)
}

fn simple_condition(draw: &mut Draw, class: &ClassWords, names: &Names) -> Option<Ex> {
    for _ in 0..8 {
        let found = match draw.below(10) {
            0..=3 => draw.some(names.choices.len()).map(|at| {
                let (path, words) = &names.choices[at];
                let negated = draw.percent(30);
                if words.len() > 2 && draw.percent(30) {
                    Ex::OneOf(path.clone(), negated, draw.few(words, 2))
                } else if draw.percent(8) {
                    Ex::is(Ex::path(path), negated, Ex::path("other"))
                } else {
                    Ex::is(Ex::path(path), negated, Ex::path(draw.one(words).clone()))
                }
            }),
            4 | 5 => draw.some(names.dates.len()).map(|at| {
                let sign = *draw.one(&SIGNS);
                let date = Ex::path(&names.dates[at]);
                let day = Ex::Date((*draw.one(&DAYS)).to_owned());
                if draw.percent(20) {
                    let days = Ex::Num(draw.between(1, 900) * 100, Unit::Days);
                    Ex::two(sign, Ex::two("+", date, days), day)
                } else {
                    Ex::two(sign, date, day)
                }
            }),
            6 => draw
                .some(names.flags.len())
                .map(|at| Ex::path(&names.flags[at])),
            7 => draw.some(names.answers.len()).map(|at| {
                let answer = Ex::path(&names.answers[at]);
                match draw.below(3) {
                    0 => Ex::is(answer, false, Ex::path("yes")),
                    1 => Ex::not(answer),
                    _ => answer,
                }
            }),
            8 => {
                let kind = kinds(draw);
                atom(draw, names, kind).map(|of| {
                    let constant = kind.constant(draw);
                    Ex::two(SIGNS[draw.below(SIGNS.len())], of, constant)
                })
            }
            _ if class.levels && draw.percent(40) => Some(Ex::is(
                Ex::path("event.level"),
                draw.percent(30),
                Ex::path(*draw.one(&LEVELS)),
            )),
            _ => None,
        };
        if found.is_some() {
            return found;
        }
    }
    None
}

/// A condition of one or two parts.
pub fn condition(draw: &mut Draw, class: &ClassWords, names: &Names) -> Option<Ex> {
    let one = simple_condition(draw, class, names)?;
    if draw.percent(60) {
        return Some(one);
    }
    let other = simple_condition(draw, class, names)?;
    if one == other {
        return Some(one);
    }
    Some(match draw.below(5) {
        0 | 1 => Ex::And(vec![one, other]),
        2 => Ex::Or(vec![one, other]),
        3 => Ex::not(Ex::Or(vec![one, other])),
        _ => Ex::And(vec![one, Ex::not(other)]),
    })
}

fn bounds(draw: &mut Draw, names: &Names, kind: Kind, own: &Ex) -> Row {
    let limit = |draw: &mut Draw| {
        if draw.percent(15)
            && let Some(of) = atom(draw, names, kind).filter(|of| of != own)
        {
            return Ex::two("*", Ex::Num(*draw.one(&[50, 100, 200]), Unit::Plain), of);
        }
        kind.constant(draw)
    };
    let low = *draw.one(&["at_least", "at_least", "more_than"]);
    let high = *draw.one(&["at_most", "at_most", "less_than"]);
    match draw.below(3) {
        0 => Row::Bounds(vec![(low, limit(draw))]),
        1 => Row::Bounds(vec![(high, limit(draw))]),
        _ => {
            let (a, b) = (kind.constant(draw), kind.constant(draw));
            let (Ex::Num(x, unit), Ex::Num(y, _)) = (&a, &b) else {
                return Row::Bounds(vec![(low, a)]);
            };
            let (x, y) = (*x.min(y), *x.max(y));
            Row::Bounds(vec![
                (low, Ex::Num(x, *unit)),
                (high, Ex::Num(y + 127, *unit)),
            ])
        }
    }
}

/// A table of rows of one kind of limit.
fn table(
    draw: &mut Draw,
    class: &ClassWords,
    on: &str,
    names: &Names,
    row: &mut dyn FnMut(&mut Draw) -> Row,
) -> Table {
    let own: Vec<&(String, Vec<String>)> = names
        .choices
        .iter()
        .filter(|(path, _)| !path.contains('.'))
        .collect();
    let grouped = class.group.as_ref().is_some_and(|group| group.key == on);
    match draw.below(6) {
        0 | 1 if !own.is_empty() && !grouped => {
            let (by, words) = *draw.one(&own);
            Table::By(
                by.clone(),
                words.iter().map(|word| (word.clone(), row(draw))).collect(),
            )
        }
        2 if own.len() > 1 && !grouped => {
            let (one, first) = own[0];
            let (two, second) = own[1];
            let rows = first.iter().map(|word| {
                let inner = second.iter().map(|word| (word.clone(), row(draw)));
                (word.clone(), inner.collect())
            });
            Table::ByTwo(one.clone(), two.clone(), rows.collect())
        }
        3 if class.levels => Table::Level(
            LEVELS
                .iter()
                .map(|level| ((*level).to_owned(), row(draw)))
                .collect(),
        ),
        _ => Table::Direct(row(draw)),
    }
}

fn rule(draw: &mut Draw, class: &ClassWords, on: &str, number: usize) -> Option<RuleWords> {
    let names = Names::of(class, on);
    let part = class.part(on);
    let mut rule = RuleWords {
        id: format!("r{number}"),
        clause: format!("A.{number}"),
        title: format!("Rule {number}"),
        on: on.to_owned(),
        when: None,
        value: Ex::path("none"),
        judged: None,
        places: None,
        outside: Vec::new(),
        zone: None,
        table: Table::Direct(Row::None),
        instead: Vec::new(),
        checked_at: None,
        rounded_to: None,
        remedy: None,
    };
    let mut exempt: Option<Row> = None;
    let placed: Vec<String> = if part.is_some() {
        let own = names.placed_lengths.iter().chain(&names.placed_angles);
        own.filter(|name| !name.contains('.')).cloned().collect()
    } else {
        Vec::new()
    };
    match draw.below(12) {
        // Something counted or summed.
        0..=3 if on == "boat" => {
            let mut keys: Vec<String> = class
                .holdings
                .iter()
                .filter(|one| one.many)
                .map(|one| one.key.clone())
                .collect();
            keys.extend(class.group.iter().map(|group| group.key.clone()));
            let key = draw.some(keys.len()).map(|at| keys[at].clone())?;
            let (value, sum) = aggregate(draw, class, &key);
            let mass = matches!(&value, Ex::Sum(of, ..) if names_mass(class, &key, of));
            rule.value = value;
            if sum {
                let kind = if mass { Kind::Mass } else { Kind::Length };
                rule.table = Table::Direct(bounds(draw, &Names::default(), kind, &Ex::path("")));
            } else {
                let mut row = |draw: &mut Draw| match draw.below(5) {
                    0 => Row::Equals(draw.between(0, 2).to_string()),
                    1 | 2 => Row::Bounds(vec![(
                        "at_most",
                        Ex::Num(draw.between(0, 2) * 100, Unit::Plain),
                    )]),
                    3 => Row::Bounds(vec![(
                        "at_least",
                        Ex::Num(draw.between(1, 2) * 100, Unit::Plain),
                    )]),
                    _ => Row::Bounds(vec![
                        ("at_least", Ex::Num(100, Unit::Plain)),
                        ("at_most", Ex::Num(200, Unit::Plain)),
                    ]),
                };
                rule.table = table(draw, class, on, &names, &mut row);
            }
        }
        4 if !names.lists.is_empty() => {
            let (path, words) = draw.one(&names.lists).clone();
            rule.value = Ex::path(path);
            let few = draw.few(&words, 1 + usize::from(words.len() > 2));
            rule.table = Table::Direct(if draw.percent(50) {
                Row::Only(few)
            } else {
                Row::Without(few)
            });
        }
        5 => {
            let own: Vec<_> = names
                .choices
                .iter()
                .filter(|(path, _)| !path.contains('.'))
                .collect();
            let (path, words) = draw.some(own.len()).map(|at| own[at].clone())?;
            rule.value = Ex::path(path);
            rule.table = Table::Direct(Row::Equals(draw.one(&words).clone()));
        }
        6 if !names.answers.is_empty() => {
            rule.value = Ex::path(draw.one(&names.answers).clone());
            rule.table = Table::Direct(Row::Equals((*draw.one(&["yes", "no"])).to_owned()));
        }
        7 if part.is_some()
            && names
                .positive
                .iter()
                .filter(|name| !name.contains('.'))
                .count()
                > 1 =>
        {
            let own: Vec<String> = names
                .positive
                .iter()
                .filter(|name| !name.contains('.'))
                .cloned()
                .collect();
            let columns = draw.few(&own, 2);
            let within = if draw.percent(50) {
                Ex::Num(1000, Unit::Percent)
            } else {
                Ex::Num(200, Unit::Mm)
            };
            let rows = (0..draw.between(1, 2)).map(|at| {
                (
                    format!("t{at}"),
                    columns
                        .iter()
                        .map(|_| Ex::Num(draw.between(2, 16) * 635, Unit::Mm))
                        .collect(),
                )
            });
            let rows = rows.collect();
            rule.table = Table::Direct(Row::Options(within, columns, rows));
        }
        8..=10 if !placed.is_empty() => {
            let name = draw.one(&placed).clone();
            let kind = if names.placed_angles.contains(&name) {
                Kind::Angle
            } else {
                Kind::Length
            };
            rule.value = Ex::path(name.clone());
            if kind == Kind::Length && draw.percent(15) && !names.lengths.is_empty() {
                let other = draw.one(&names.lengths).clone();
                rule.value = Ex::two("+", rule.value, Ex::path(other));
            }
            rule.judged = Some(*draw.one(&["worst_place", "worst_place", "mean"]));
            let zones: Vec<String> = part
                .unwrap()
                .zones
                .iter()
                .map(|zone| zone.name.clone())
                .collect();
            let own = rule.value.clone();
            let mut row = |draw: &mut Draw| bounds(draw, &names, kind, &own);
            match draw.below(4) {
                0 if !zones.is_empty() => rule.outside = draw.few(&zones, 1),
                1 if !zones.is_empty() => {
                    rule.zone = Some(draw.one(&zones).clone());
                    rule.places = draw.percent(50).then_some(1);
                }
                2 if !zones.is_empty() => {
                    rule.judged = Some("worst_place");
                    let mut rows: Vec<(String, Row)> = draw
                        .few(&zones, 1)
                        .into_iter()
                        .map(|zone| (zone, row(draw)))
                        .collect();
                    rows.push(("elsewhere".to_owned(), row(draw)));
                    rule.table = Table::Zone(rows);
                }
                _ => {}
            }
            if !matches!(rule.table, Table::Zone(_)) {
                rule.table = table(draw, class, on, &names, &mut row);
            }
            exempt = Some(bounds(draw, &names, kind, &own));
        }
        _ => {
            let kind = kinds(draw);
            rule.value = value(draw, &names, kind)?;
            let own = rule.value.clone();
            let mut row = |draw: &mut Draw| bounds(draw, &names, kind, &own);
            rule.table = table(draw, class, on, &names, &mut row);
            exempt = Some(bounds(draw, &names, kind, &own));
            if draw.percent(15)
                && let Table::Direct(Row::Bounds(list)) = &rule.table
                && let [(_, Ex::Num(limit, unit))] = &list[..]
            {
                let step = if *unit == Unit::Deg { 100 } else { 5 };
                if limit % step == 0 && *unit != Unit::Plain {
                    rule.rounded_to = Some(Ex::Num(step, *unit));
                }
            }
        }
    }
    if draw.percent(40) {
        rule.when = condition(draw, class, &names);
    }
    let no_instead = rule.rounded_to.is_some() || matches!(rule.table, Table::Zone(_));
    if !no_instead
        && draw.percent(25)
        && let Some(of) = condition(draw, class, &names)
    {
        let row = match exempt {
            Some(row) if draw.percent(60) => row,
            _ => Row::None,
        };
        rule.instead.push(InsteadWords {
            when: of,
            row,
            until: draw
                .percent(30)
                .then(|| *draw.one(&["2026-12-31", "2030-06-30"])),
            unproven: draw.percent(30),
        });
    }
    if draw.percent(15) {
        rule.checked_at = Some(draw.one(&STAGES).to_vec());
    }
    Some(rule)
}

/// Stages at which a rule is asked.
pub const STAGES: [&[&str]; 3] = [
    &["certification"],
    &["self_check", "certification"],
    &["certification", "event_inspection"],
];

fn names_mass(class: &ClassWords, key: &str, of: &Ex) -> bool {
    let names = Names::inside(class, key);
    matches!(of, Ex::Path(path) if names.masses.contains(path))
}

fn words(list: &[&str]) -> Vec<String> {
    list.iter().map(|one| (*one).to_owned()).collect()
}

fn part(draw: &mut Draw, name: &str, rich: bool) -> PartWords {
    let mut part = PartWords {
        name: name.to_owned(),
        ..PartWords::default()
    };
    if draw.percent(75) {
        let all = words(&["plate", "insert", "tee"]);
        let count = 2 + usize::from(draw.percent(40));
        part.traits.push((
            "construction".to_owned(),
            TraitWords::Choice(all[..count].to_vec()),
        ));
    }
    if rich && draw.percent(45) {
        part.traits.push((
            "position".to_owned(),
            TraitWords::Choice(words(&["steering", "side"])),
        ));
    }
    if draw.percent(25) {
        let all = words(&["wood", "glass", "aramid"]);
        let count = 2 + usize::from(draw.percent(50));
        part.traits
            .push(("body".to_owned(), TraitWords::AnyOf(all[..count].to_vec())));
    }
    if draw.percent(45) {
        part.traits.push(("built".to_owned(), TraitWords::Date));
    }
    if name == "runner" && draw.percent(50) {
        part.traits.push(("marked".to_owned(), TraitWords::Flag));
    }
    let mut measure = |name: &str, kind: &'static str, placed: bool| {
        part.measures.push(MeasureWords {
            name: name.to_owned(),
            kind,
            placed,
            plausible: None,
        });
    };
    let count = 1 + draw.below(if rich { 3 } else { 2 });
    let all: [(&str, &'static str, bool); 8] = [
        ("height", "length", false),
        ("length", "length", false),
        ("weight", "mass", false),
        ("lean", "angle", false),
        ("tally", "number", false),
        ("rounded", "yes_no", false),
        ("depth", "length", true),
        ("edge_section", "section", true),
    ];
    for (name, kind, placed) in draw.few(&all, count) {
        measure(name, kind, placed);
    }
    if rich && draw.percent(35) {
        measure("toe_at", "position", false);
        measure("heel_at", "position", false);
        part.derived.push((
            "span".to_owned(),
            Ex::two("-", Ex::path("toe_at"), Ex::path("heel_at")),
        ));
    }
    if rich && draw.percent(25) {
        part.measures.push(MeasureWords {
            name: "edge_profile".to_owned(),
            kind: "profile",
            placed: false,
            plausible: None,
        });
        let gap = |gap: i64| vec![Ex::path("edge_profile"), Ex::Num(gap, Unit::Mm)];
        part.derived
            .push(("flat".to_owned(), Ex::Call("flat_length", gap(20))));
        if draw.percent(60) {
            part.derived
                .push(("fore".to_owned(), Ex::Call("forward_flat", gap(20))));
        }
        if draw.percent(50) {
            part.derived
                .push(("wide_flat".to_owned(), Ex::Call("flat_length", gap(40))));
        }
    }
    if part.measures.iter().any(|one| one.name == "edge_section") {
        part.derived.push((
            "edge_angle".to_owned(),
            Ex::Call("included_angle", vec![Ex::path("edge_section")]),
        ));
    }
    if part.measures.iter().any(|one| one.placed) {
        for _ in 0..draw.below(3) {
            let toe = part.measures.iter().any(|one| one.name == "toe_at");
            let kind = match draw.below(3) {
                0 => ZoneShape::Edge(draw.between(1, 3) * 200),
                1 if toe => ZoneShape::Of(draw.between(1, 3) * 400, "toe_at".to_owned()),
                _ => ZoneShape::Between(draw.between(-3, 0) * 2000, draw.between(1, 3) * 2000),
            };
            let name = format!("zone_{}", ["one", "two"][part.zones.len()]);
            part.zones.push(ZoneWords { name, kind });
        }
    }
    part
}

/// A class by chance. It may have faults that loading or lint tells.
pub fn class(draw: &mut Draw) -> ClassWords {
    let mut class = ClassWords {
        version: "1.0.0",
        in_force_from: "2026-11-01",
        silence: ["forbids", "forbids", "permits"][draw.below(3)],
        levels: draw.percent(50),
        decision: "simple_acceptance",
        renamed: Vec::new(),
        parts: vec![PartWords {
            name: "boat".to_owned(),
            ..PartWords::default()
        }],
        holdings: Vec::new(),
        group: None,
        rules: Vec::new(),
        marks: None,
    };
    if draw.percent(40) {
        class.parts[0]
            .traits
            .push(("built".to_owned(), TraitWords::Date));
    }
    if draw.percent(40) {
        class.parts[0].measures.push(MeasureWords {
            name: "all_up".to_owned(),
            kind: "mass",
            placed: false,
            plausible: None,
        });
    }
    let kinds = [
        ("plank", "plank", false),
        ("runner", "runners", true),
        ("corrector", "correctors", true),
    ];
    let count = 1 + usize::from(draw.percent(35)) + usize::from(draw.percent(12));
    for (name, key, many) in draw.few(&kinds, count) {
        let rich = name == "runner" || count == 1;
        class.parts.push(part(draw, name, rich));
        class.holdings.push(HoldingWords {
            key: key.to_owned(),
            part: name.to_owned(),
            many,
            at_least: if many { draw.between(-1, 2).max(0) } else { 1 },
        });
    }
    if class.holdings.iter().any(|one| one.key == "runners") && draw.percent(20) {
        let roles = ["port", "starboard"].map(|role| (role.to_owned(), "runner".to_owned()));
        class.group = Some(GroupWords {
            key: "sets".to_owned(),
            at_least: draw.between(0, 1),
            roles: roles.to_vec(),
        });
    }
    let mut on: Vec<String> = class.parts.iter().map(|one| one.name.clone()).collect();
    on.extend(class.group.iter().map(|group| group.key.clone()));
    let count = 1 + draw.below(4);
    for _ in 0..12 {
        if class.rules.len() == count {
            break;
        }
        let target = if draw.percent(60) { on.last() } else { None };
        let target = target.unwrap_or_else(|| draw.one(&on)).clone();
        let number = class.rules.len() + 1;
        class.rules.extend(rule(draw, &class, &target, number));
    }
    let flagged = class
        .part("runner")
        .is_some_and(|part| part.traits.iter().any(|(name, _)| name == "marked"));
    if flagged && draw.percent(60) {
        class.marks = marks(draw, &class);
    }
    class
}

fn marks(draw: &mut Draw, class: &ClassWords) -> Option<MarkWords> {
    let names = Names::inside(class, "runners");
    let mut marks = MarkWords {
        item: "runner".to_owned(),
        by_level: None,
        at_most: draw.between(1, 2),
        of_which: Vec::new(),
        pairs: None,
        bring: Vec::new(),
    };
    if class.levels && draw.percent(50) {
        let rows = LEVELS.map(|level| (level.to_owned(), draw.between(1, 2)));
        marks.by_level = Some(rows.to_vec());
    }
    if draw.percent(50)
        && let Some(of) = simple_condition(draw, class, &names)
    {
        marks.of_which.push((of, draw.between(0, 1)));
    }
    let choices: Vec<String> = names.choices.iter().map(|(name, _)| name.clone()).collect();
    if draw.percent(40)
        && !choices.is_empty()
        && let Some(of) = simple_condition(draw, class, &names)
    {
        marks.pairs = Some((of, draw.few(&choices, 1)));
    }
    if draw.percent(40) {
        let key = match &class.group {
            Some(group) if draw.percent(50) => group.key.clone(),
            _ => "runners".to_owned(),
        };
        marks.bring.push((key, draw.between(1, 2)));
    }
    Some(marks)
}

/// A rule more on anything that the class has.
pub fn another_rule(draw: &mut Draw, class: &ClassWords) -> Option<RuleWords> {
    let on: Vec<String> = class.parts.iter().map(|one| one.name.clone()).collect();
    let target = draw.one(&on).clone();
    let mut rule = rule(draw, class, &target, 90)?;
    rule.id = "another".to_owned();
    Some(rule)
}

/// A condition that is always known: of a choice, a flag or a day alone.
pub fn certain_condition(draw: &mut Draw, class: &ClassWords, on: &str) -> Option<Ex> {
    let names = Names::of(class, on);
    let known = Names {
        choices: names.choices,
        flags: names.flags,
        dates: names.dates,
        ..Names::default()
    };
    let silent = ClassWords {
        levels: false,
        ..class.clone()
    };
    simple_condition(draw, &silent, &known)
}
