//! Changes of a class by chance: what a committee may do to its rules.

use super::class::{DAYS, Names, STAGES, another_rule, certain_condition, condition};
use super::draw::Draw;
use super::words::*;

/// What a change is made to do.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Effect {
    /// Nothing at all: the same boats are legal, by the same evidence.
    Neutral,
    /// The same boats are legal; the evidence may be another.
    SameBoats,
    /// Who knows.
    Any,
}

/// A change by its name, with what it is made to do.
pub type Change = (&'static str, Effect);

/// A pair of versions of one class, with what was changed.
#[derive(Clone, Debug)]
pub struct Pair {
    pub old: ClassWords,
    pub new: ClassWords,
    pub changes: Vec<Change>,
}

impl Pair {
    /// What all changes together are made to do.
    pub fn effect(&self) -> Effect {
        let all = self.changes.iter().map(|(_, effect)| *effect);
        all.max().unwrap_or(Effect::Neutral)
    }
}

type Make = fn(&mut Draw, &mut ClassWords) -> Option<()>;

/// Every kind of change.
pub const CHANGES: [(&str, Effect, Make); 37] = [
    ("clause renumbered", Effect::Neutral, clause),
    ("title changed", Effect::Neutral, title),
    ("rule moved", Effect::Neutral, moved),
    ("rule moved", Effect::Neutral, moved),
    ("unit rewritten", Effect::Neutral, unit),
    ("unit rewritten", Effect::Neutral, unit),
    ("expression rewritten", Effect::Neutral, rewritten),
    ("expression rewritten", Effect::Neutral, rewritten),
    ("expression rewritten", Effect::Neutral, rewritten),
    // What is asked to tell the parts apart is asked anew.
    ("rule split by a condition", Effect::SameBoats, split),
    ("rule split by a condition", Effect::SameBoats, split),
    ("limits moved to two rules", Effect::Neutral, two_rules),
    ("renamed", Effect::Neutral, renamed),
    ("renamed", Effect::Neutral, renamed),
    ("choice renamed", Effect::Neutral, choice_renamed),
    ("plausible", Effect::Neutral, plausible),
    ("decision rule changed", Effect::SameBoats, decision),
    ("limit moved", Effect::Any, limit),
    ("limit moved", Effect::Any, limit),
    ("limit moved", Effect::Any, limit),
    ("limit of another kind", Effect::Any, kind_of_limit),
    ("condition changed", Effect::Any, when),
    ("condition changed", Effect::Any, when),
    ("number in a condition changed", Effect::Any, number),
    ("day changed", Effect::Any, day),
    ("silence changed", Effect::Any, silence),
    ("exemption changed", Effect::Any, exemption),
    ("exemption changed", Effect::Any, exemption),
    ("zone moved", Effect::Any, zone),
    ("places left out", Effect::Any, outside),
    ("stages changed", Effect::Any, stages),
    ("choice added", Effect::Any, choice_added),
    ("choice taken out", Effect::Any, choice_removed),
    ("renamed without a word", Effect::Any, renamed_silently),
    ("number of parts", Effect::Any, parts),
    ("marks changed", Effect::Any, marks),
    ("rule added or taken out", Effect::Any, rules),
];

/// A pair by chance from a class: one to three changes.
pub fn pair(draw: &mut Draw, old: &ClassWords) -> Pair {
    let mut new = old.clone();
    new.version = "1.1.0";
    let mut changes = Vec::new();
    let count = 1 + draw.below(3);
    let neutral = draw.percent(30);
    for _ in 0..40 {
        if changes.len() == count {
            break;
        }
        let (name, effect, make) = draw.one(&CHANGES);
        if neutral && *effect == Effect::Any {
            continue;
        }
        let mut changed = new.clone();
        if make(draw, &mut changed).is_some() {
            new = changed;
            changes.push((*name, *effect));
        }
    }
    Pair {
        old: old.clone(),
        new,
        changes,
    }
}

fn a_rule<'c>(draw: &mut Draw, class: &'c mut ClassWords) -> Option<&'c mut RuleWords> {
    let at = draw.some(class.rules.len())?;
    class.rules.get_mut(at)
}

fn clause(draw: &mut Draw, class: &mut ClassWords) -> Option<()> {
    let number = draw.between(20, 80);
    let rule = a_rule(draw, class)?;
    rule.clause = format!("B.{number}.{}", rule.id);
    Some(())
}

fn title(draw: &mut Draw, class: &mut ClassWords) -> Option<()> {
    let rule = a_rule(draw, class)?;
    rule.title = "Another heading".to_owned();
    rule.remedy = Some("Use another one.");
    Some(())
}

fn moved(draw: &mut Draw, class: &mut ClassWords) -> Option<()> {
    if class.rules.len() < 2 {
        return None;
    }
    let rule = class.rules.remove(draw.below(class.rules.len()));
    let to = draw.below(class.rules.len() + 1);
    class.rules.insert(to, rule);
    Some(())
}

/// Every expression of a rule.
fn expressions(rule: &mut RuleWords) -> Vec<&mut Ex> {
    let mut all: Vec<&mut Ex> = vec![&mut rule.value];
    all.extend(rule.when.iter_mut());
    for row in rule.table.rows() {
        if let Row::Bounds(bounds) = row {
            all.extend(bounds.iter_mut().map(|(_, limit)| limit));
        }
    }
    for one in &mut rule.instead {
        all.push(&mut one.when);
        if let Row::Bounds(bounds) = &mut one.row {
            all.extend(bounds.iter_mut().map(|(_, limit)| limit));
        }
    }
    all
}

/// Changes one of the places of a rule at which `fits`.
fn at_one(
    draw: &mut Draw,
    rule: &mut RuleWords,
    fits: &dyn Fn(&Ex) -> bool,
    change: &mut dyn FnMut(&mut Draw, &mut Ex),
) -> Option<()> {
    let mut count = 0;
    for one in expressions(rule) {
        one.visit(&mut |one| count += usize::from(fits(one)));
    }
    let wanted = draw.some(count)?;
    let mut seen = 0;
    let mut done = false;
    for one in expressions(rule) {
        one.visit(&mut |one| {
            if !done && fits(one) {
                if seen == wanted {
                    done = true;
                    change(draw, one);
                }
                seen += 1;
            }
        });
    }
    Some(())
}

fn unit(draw: &mut Draw, class: &mut ClassWords) -> Option<()> {
    let rule = a_rule(draw, class)?;
    let fits = |one: &Ex| matches!(one, Ex::Num(_, unit) if unit.alike().len() > 1);
    at_one(draw, rule, &fits, &mut |draw, one| {
        if let Ex::Num(_, unit) = one {
            let others: Vec<Unit> = unit
                .alike()
                .iter()
                .copied()
                .filter(|other| other != unit)
                .collect();
            *unit = *draw.one(&others);
        }
    })
}

fn rewritten(draw: &mut Draw, class: &mut ClassWords) -> Option<()> {
    let rule = a_rule(draw, class)?;
    let fits = |one: &Ex| {
        one.is_condition()
            || matches!(one, Ex::Two("-" | "*", ..))
            || matches!(one, Ex::Two("+", _, more) if !matches!(**more, Ex::Num(_, Unit::Days)))
            || matches!(one, Ex::Call("abs" | "min" | "max", _))
    };
    at_one(draw, rule, &fits, &mut |draw, one| {
        let again = draw.percent(25);
        if again && one.is_condition() {
            *one = Ex::not(Ex::not(one.clone()));
            return;
        }
        *one = equal(one.clone());
    })
}

/// Another expression that means the same.
fn equal(one: Ex) -> Ex {
    match one {
        Ex::Two("<", a, b) => Ex::Two(">", b, a),
        Ex::Two("<=", a, b) => Ex::Two(">=", b, a),
        Ex::Two(">", a, b) => Ex::not(Ex::Two("<=", a, b)),
        Ex::Two(">=", a, b) => Ex::Two("<=", b, a),
        Ex::Two("+", a, b) => Ex::Two("+", b, a),
        // a - b is -1 * b + a.
        Ex::Two("-", a, b) => Ex::two("+", Ex::two("*", Ex::Num(-100, Unit::Plain), *b), *a),
        Ex::Two("*", a, b) => match (*a, *b) {
            (Ex::Num(number, Unit::Plain), b) if number % 2 == 0 => {
                let half = Ex::two("*", Ex::Num(number / 2, Unit::Plain), b);
                Ex::two("+", half.clone(), half)
            }
            (a, b) => Ex::two("*", b, a),
        },
        Ex::Call("abs", list) => match &list[..] {
            [Ex::Two("-", a, b)] => Ex::Call("abs", vec![Ex::Two("-", b.clone(), a.clone())]),
            _ => Ex::Call(
                "max",
                list.iter()
                    .flat_map(|of| {
                        let other = Ex::two("*", Ex::Num(-100, Unit::Plain), of.clone());
                        [of.clone(), other]
                    })
                    .collect(),
            ),
        },
        Ex::Call(name, mut list) => {
            list.reverse();
            Ex::Call(name, list)
        }
        Ex::And(list) => {
            let inner = list.into_iter().map(Ex::not).collect();
            Ex::not(Ex::Or(inner))
        }
        Ex::Or(mut list) => {
            list.reverse();
            Ex::Or(list)
        }
        Ex::Not(inner) => match *inner {
            Ex::And(list) => Ex::Or(list.into_iter().map(Ex::not).collect()),
            Ex::Or(list) => Ex::And(list.into_iter().map(Ex::not).collect()),
            other => Ex::not(other),
        },
        Ex::Is(a, negated, b) => Ex::not(Ex::Is(a, !negated, b)),
        Ex::OneOf(path, negated, list) => {
            let each: Vec<Ex> = list
                .into_iter()
                .map(|word| Ex::is(Ex::path(path.clone()), negated, Ex::path(word)))
                .collect();
            if negated { Ex::And(each) } else { Ex::Or(each) }
        }
        other @ (Ex::Num(..) | Ex::Path(_) | Ex::Date(_) | Ex::Count(..) | Ex::Sum(..)) => other,
        other @ Ex::Two(..) => other,
    }
}

fn split(draw: &mut Draw, class: &mut ClassWords) -> Option<()> {
    let at = draw.some(class.rules.len())?;
    let rule = class.rules[at].clone();
    let of = certain_condition(draw, class, &rule.on)?;
    let with = |condition: Ex| match &rule.when {
        None => condition,
        Some(when) => Ex::And(vec![when.clone(), condition]),
    };
    let mut other = rule.clone();
    let number = class.rules.len();
    other.id = format!("{}_rest_{number}", rule.id);
    other.clause = format!("{}.{number}", rule.clause);
    other.when = Some(with(Ex::not(of.clone())));
    class.rules[at].when = Some(with(of));
    class.rules.push(other);
    Some(())
}

fn two_rules(draw: &mut Draw, class: &mut ClassWords) -> Option<()> {
    let fits = |rule: &RuleWords| {
        let two = matches!(&rule.table, Table::Direct(Row::Bounds(bounds)) if bounds.len() == 2);
        two && rule.instead.is_empty()
    };
    let all: Vec<usize> = (0..class.rules.len())
        .filter(|at| fits(&class.rules[*at]))
        .collect();
    let at = all[draw.some(all.len())?];
    let mut other = class.rules[at].clone();
    let number = class.rules.len();
    other.id = format!("{}_upper_{number}", other.id);
    other.clause = format!("{}.{number}", other.clause);
    for (rule, number) in [(&mut class.rules[at], 0), (&mut other, 1)] {
        if let Table::Direct(Row::Bounds(bounds)) = &mut rule.table {
            *bounds = vec![bounds[number].clone()];
        }
    }
    class.rules.push(other);
    Some(())
}

/// Gives a measure or a trait another name, everywhere.
fn rename(draw: &mut Draw, class: &mut ClassWords) -> Option<(String, String)> {
    let mut all: Vec<(String, String)> = Vec::new();
    for part in &class.parts {
        let measures = part.measures.iter().map(|one| &one.name);
        let names = measures.chain(part.traits.iter().map(|(name, _)| name));
        all.extend(names.map(|name| (part.name.clone(), name.clone())));
    }
    all.retain(|(_, name)| !name.ends_with("_now"));
    let (part, old) = all.get(draw.some(all.len())?)?.clone();
    let new = format!("{old}_now");
    let at = class.parts.iter().position(|one| one.name == part)?;
    // The old path of a choice goes by what its trait is called now.
    for (path, _) in &mut class.renamed {
        if let Some(word) = path.strip_prefix(&format!("{part}.{old}.")) {
            *path = format!("{part}.{new}.{word}");
        }
    }
    for one in &mut class.parts[at].measures {
        if one.name == old {
            one.name.clone_from(&new);
        }
    }
    for (name, _) in &mut class.parts[at].traits {
        if *name == old {
            name.clone_from(&new);
        }
    }
    for zone in &mut class.parts[at].zones {
        if let ZoneShape::Of(_, of) = &mut zone.kind
            && *of == old
        {
            of.clone_from(&new);
        }
    }
    for (_, of) in &mut class.parts[at].derived {
        of.visit(&mut |one| rename_path(one, &old, &new, &|prefix| prefix.is_empty()));
    }
    let holding = class.holdings.iter().find(|one| one.part == part);
    let single = holding.filter(|one| !one.many).map(|one| one.key.clone());
    let many = holding.filter(|one| one.many).map(|one| one.key.clone());
    let group = class.group.clone();
    let of_group = group
        .as_ref()
        .is_some_and(|group| group.roles.iter().any(|(_, of)| *of == part));
    let behind = |prefix: &str| {
        (part == "boat" && prefix == "boat")
            || single.as_deref() == Some(prefix)
            || (of_group && (prefix == "port" || prefix == "starboard"))
    };
    let names_of = |own: &str, prefix: &str| {
        if prefix.is_empty() {
            own == part
        } else {
            behind(prefix)
        }
    };
    for rule in &mut class.rules {
        let own = rule.on.clone();
        for one in expressions(rule) {
            rename_in(one, &own, many.as_deref(), &part, &old, &new, &names_of);
        }
        if own == part {
            match &mut rule.table {
                Table::By(by, _) if *by == old => by.clone_from(&new),
                Table::ByTwo(one, two, _) => {
                    for by in [one, two] {
                        if *by == old {
                            by.clone_from(&new);
                        }
                    }
                }
                Table::Direct(Row::Options(_, columns, _)) => {
                    for column in columns.iter_mut().filter(|column| **column == old) {
                        column.clone_from(&new);
                    }
                }
                Table::By(..) | Table::Direct(_) | Table::Zone(_) | Table::Level(_) => {}
            }
        }
    }
    if let Some(marks) = &mut class.marks {
        let mut all: Vec<&mut Ex> = marks.of_which.iter_mut().map(|(of, _)| of).collect();
        all.extend(marks.pairs.iter_mut().map(|(of, _)| of));
        for one in all {
            rename_in(one, "runner", many.as_deref(), &part, &old, &new, &names_of);
        }
        if part == "runner"
            && let Some((_, alike)) = &mut marks.pairs
        {
            for name in alike.iter_mut().filter(|name| **name == old) {
                name.clone_from(&new);
            }
        }
    }
    Some((format!("{part}.{old}"), new))
}

fn rename_path(one: &mut Ex, old: &str, new: &str, fits: &dyn Fn(&str) -> bool) {
    let (Ex::Path(path) | Ex::OneOf(path, ..)) = one else {
        return;
    };
    let (prefix, name) = path.rsplit_once('.').unwrap_or(("", path.as_str()));
    if name == old && fits(prefix) {
        *path = if prefix.is_empty() {
            new.to_owned()
        } else {
            format!("{prefix}.{new}")
        };
    }
}

/// Renames in an expression whose bare names are those of `own`; inside `where` and `over` of the part counted.
fn rename_in(
    one: &mut Ex,
    own: &str,
    many: Option<&str>,
    part: &str,
    old: &str,
    new: &str,
    names_of: &dyn Fn(&str, &str) -> bool,
) {
    let again = |one: &mut Ex, own: &str| rename_in(one, own, many, part, old, new, names_of);
    match one {
        Ex::Path(_) => rename_path(one, old, new, &|prefix| names_of(own, prefix)),
        Ex::OneOf(..) => rename_path(one, old, new, &|prefix| names_of(own, prefix)),
        Ex::Num(..) | Ex::Date(_) => {}
        Ex::Two(_, a, b) | Ex::Is(a, _, b) => {
            again(a, own);
            again(b, own);
        }
        Ex::Call(_, list) | Ex::And(list) | Ex::Or(list) => {
            list.iter_mut().for_each(|one| again(one, own));
        }
        Ex::Not(of) => again(of, own),
        Ex::Count(over, of) => {
            let own = if many == Some(over.as_str()) {
                part
            } else {
                ""
            };
            of.iter_mut().for_each(|one| again(one, own));
        }
        Ex::Sum(value, over, of) => {
            let own = if many == Some(over.as_str()) {
                part
            } else {
                ""
            };
            again(value, own);
            of.iter_mut().for_each(|one| again(one, own));
        }
    }
}

fn renamed(draw: &mut Draw, class: &mut ClassWords) -> Option<()> {
    let entry = rename(draw, class)?;
    class.renamed.push(entry);
    Some(())
}

fn renamed_silently(draw: &mut Draw, class: &mut ClassWords) -> Option<()> {
    if draw.percent(50) {
        return None;
    }
    rename(draw, class).map(|_| ())
}

/// A trait of choices of a part by their places, with its name.
fn choices_of(draw: &mut Draw, class: &ClassWords) -> Option<(usize, usize, String)> {
    let mut all = Vec::new();
    for (at, part) in class.parts.iter().enumerate() {
        for (slot, (name, kind)) in part.traits.iter().enumerate() {
            if matches!(kind, TraitWords::Choice(_)) {
                all.push((at, slot, name.clone()));
            }
        }
    }
    all.get(draw.some(all.len())?).cloned()
}

fn choice_renamed(draw: &mut Draw, class: &mut ClassWords) -> Option<()> {
    let (at, slot, name) = choices_of(draw, class)?;
    // A word that other parts use as well can't be told from theirs here.
    let users = class
        .parts
        .iter()
        .filter(|part| part.traits.iter().any(|(other, _)| *other == name));
    if users.count() > 1 {
        return None;
    }
    let part = class.parts[at].name.clone();
    if class
        .renamed
        .iter()
        .any(|(old, _)| *old == format!("{part}.{name}"))
        || name.ends_with("_now")
    {
        return None;
    }
    let TraitWords::Choice(words) = &mut class.parts[at].traits[slot].1 else {
        return None;
    };
    let which = draw.below(words.len());
    let old = words[which].clone();
    let new = format!("{old}_kind");
    if old.ends_with("_kind") || old == "extra" {
        return None;
    }
    words[which].clone_from(&new);
    let change = |word: &mut String| {
        if *word == old {
            word.clone_from(&new);
        }
    };
    let in_ex = |one: &mut Ex| {
        one.visit(&mut |one| match one {
            Ex::Path(path) => change(path),
            Ex::OneOf(_, _, list) => list.iter_mut().for_each(change),
            _ => {}
        });
    };
    for rule in &mut class.rules {
        expressions(rule).into_iter().for_each(in_ex);
        match &mut rule.table {
            Table::By(by, rows) if *by == name => {
                rows.iter_mut().for_each(|(word, _)| change(word))
            }
            Table::ByTwo(one, two, rows) => {
                let (first, second) = (*one == name, *two == name);
                for (word, inner) in rows {
                    if first {
                        change(word);
                    }
                    if second {
                        inner.iter_mut().for_each(|(word, _)| change(word));
                    }
                }
            }
            Table::Direct(Row::Equals(word)) => change(word),
            Table::By(..) | Table::Direct(_) | Table::Zone(_) | Table::Level(_) => {}
        }
    }
    if let Some(marks) = &mut class.marks {
        marks.of_which.iter_mut().for_each(|(of, _)| in_ex(of));
        marks.pairs.iter_mut().for_each(|(of, _)| in_ex(of));
    }
    class.renamed.push((format!("{part}.{name}.{old}"), new));
    Some(())
}

fn plausible(draw: &mut Draw, class: &mut ClassWords) -> Option<()> {
    let mut all: Vec<&mut MeasureWords> = class
        .parts
        .iter_mut()
        .flat_map(|part| part.measures.iter_mut())
        .collect();
    all.retain(|one| matches!(one.kind, "length" | "mass") && one.plausible.is_none());
    let at = draw.some(all.len())?;
    all[at].plausible = Some(match all[at].kind {
        "length" => "0.01 mm to 900 mm",
        _ => "0.01 kg to 900 kg",
    });
    Some(())
}

fn decision(_: &mut Draw, class: &mut ClassWords) -> Option<()> {
    class.decision = match class.decision {
        "simple_acceptance" => "guarded_acceptance",
        _ => "guarded_rejection",
    };
    Some(())
}

/// Moves a number by a step of its kind.
fn step(draw: &mut Draw, one: &mut Ex) {
    if let Ex::Num(number, unit) = one {
        let step = match unit {
            Unit::Mm | Unit::Cm | Unit::M | Unit::In => 635,
            Unit::Kg | Unit::G => 50,
            Unit::Deg => 500,
            Unit::Plain if *number % 100 == 0 => 100,
            Unit::Plain => 50,
            Unit::Percent => 500,
            Unit::Days => 3000,
        };
        *number += step * *draw.one(&[-2, -1, -1, 1, 1, 2]);
    }
}

fn limit(draw: &mut Draw, class: &mut ClassWords) -> Option<()> {
    let rule = a_rule(draw, class)?;
    let mut all: Vec<&mut Row> = rule.table.rows();
    all.extend(rule.instead.iter_mut().map(|one| &mut one.row));
    let at = draw.some(all.len())?;
    match &mut *all[at] {
        Row::Bounds(bounds) => {
            let (_, one) = {
                let at = draw.below(bounds.len());
                &mut bounds[at]
            };
            let mut moved = false;
            let mut changed = one.clone();
            changed.visit(&mut |one| {
                if !moved && matches!(one, Ex::Num(..)) {
                    moved = true;
                    step(draw, one);
                }
            });
            *one = changed;
            moved.then_some(())
        }
        Row::Equals(word) => {
            *word = match word.as_str() {
                "yes" => "no".to_owned(),
                "no" => "yes".to_owned(),
                other => (other.parse::<i64>().ok()? + draw.between(-1, 1))
                    .max(0)
                    .to_string(),
            };
            Some(())
        }
        Row::Options(within, _, rows) => {
            if draw.percent(50) {
                step(draw, within);
            } else {
                let (_, values) = rows.first_mut()?;
                step(draw, values.first_mut()?);
            }
            matches!(within, Ex::Num(number, _) if *number >= 0).then_some(())
        }
        Row::Only(list) | Row::Without(list) => {
            let other = (*draw.one(&["wood", "glass"])).to_owned();
            if list.contains(&other) {
                return None;
            }
            list.push(other);
            Some(())
        }
        Row::None => None,
    }
}

fn kind_of_limit(draw: &mut Draw, class: &mut ClassWords) -> Option<()> {
    let rule = a_rule(draw, class)?;
    let mut all = rule.table.rows();
    let at = draw.some(all.len())?;
    match &mut *all[at] {
        Row::Bounds(bounds) => {
            let at = draw.below(bounds.len());
            let word = &mut bounds[at].0;
            *word = match *word {
                "at_least" => "more_than",
                "more_than" => "at_least",
                "at_most" => "less_than",
                _ => "at_most",
            };
            Some(())
        }
        row => {
            let changed = match row.clone() {
                Row::Only(list) => Row::Without(list),
                Row::Without(list) => Row::Only(list),
                Row::Equals(_) | Row::Options(..) | Row::None | Row::Bounds(_) => return None,
            };
            *row = changed;
            Some(())
        }
    }
}

fn when(draw: &mut Draw, class: &mut ClassWords) -> Option<()> {
    let at = draw.some(class.rules.len())?;
    let names = Names::of(class, &class.rules[at].on);
    let other = condition(draw, class, &names)?;
    let rule = &mut class.rules[at];
    rule.when = match (rule.when.take(), draw.below(4)) {
        (Some(_), 0) | (None, 0) => None,
        (Some(when), 1) => Some(Ex::And(vec![when, other])),
        (Some(when), 2) => Some(Ex::Or(vec![when, other])),
        (_, _) => Some(other),
    };
    Some(())
}

fn number(draw: &mut Draw, class: &mut ClassWords) -> Option<()> {
    let rule = a_rule(draw, class)?;
    let of = rule.when.as_mut()?;
    let mut moved = false;
    of.visit(&mut |one| {
        if !moved && matches!(one, Ex::Num(..)) {
            moved = true;
            step(draw, one);
        }
    });
    moved.then_some(())
}

fn day(draw: &mut Draw, class: &mut ClassWords) -> Option<()> {
    let rule = a_rule(draw, class)?;
    let fits = |one: &Ex| matches!(one, Ex::Date(_));
    at_one(draw, rule, &fits, &mut |draw, one| {
        *one = Ex::Date((*draw.one(&DAYS)).to_owned());
    })
}

fn silence(_: &mut Draw, class: &mut ClassWords) -> Option<()> {
    class.silence = match class.silence {
        "forbids" => "permits",
        _ => "forbids",
    };
    Some(())
}

fn exemption(draw: &mut Draw, class: &mut ClassWords) -> Option<()> {
    let at = draw.some(class.rules.len())?;
    let names = Names::of(class, &class.rules[at].on);
    let of = condition(draw, class, &names)?;
    let rule = &mut class.rules[at];
    if let Some(one) = rule.instead.first_mut() {
        match draw.below(5) {
            0 => rule.instead.clear(),
            1 => one.until = Some("2028-01-01"),
            2 => one.unproven = !one.unproven,
            3 => one.row = Row::None,
            _ => one.when = of,
        }
    } else {
        if rule.rounded_to.is_some() || matches!(rule.table, Table::Zone(_)) {
            return None;
        }
        rule.instead.push(InsteadWords {
            when: of,
            row: Row::None,
            until: draw.percent(30).then_some("2027-06-30"),
            unproven: draw.percent(40),
        });
    }
    Some(())
}

fn zone(draw: &mut Draw, class: &mut ClassWords) -> Option<()> {
    let mut all: Vec<&mut ZoneWords> = class
        .parts
        .iter_mut()
        .flat_map(|part| part.zones.iter_mut())
        .collect();
    let at = draw.some(all.len())?;
    match &mut all[at].kind {
        ZoneShape::Edge(within) | ZoneShape::Of(within, _) => *within += 100,
        ZoneShape::Between(low, high) => {
            if draw.percent(50) {
                *low -= 500;
            } else {
                *high += 500;
            }
        }
    }
    Some(())
}

fn outside(draw: &mut Draw, class: &mut ClassWords) -> Option<()> {
    let all: Vec<usize> = (0..class.rules.len())
        .filter(|at| class.rules[*at].judged.is_some())
        .collect();
    let at = all[draw.some(all.len())?];
    let part = class.part(&class.rules[at].on)?;
    let zones: Vec<String> = part.zones.iter().map(|zone| zone.name.clone()).collect();
    let rule = &mut class.rules[at];
    match draw.below(3) {
        0 => {
            if matches!(rule.table, Table::Zone(_)) {
                return None;
            }
            rule.judged = match rule.judged {
                Some("mean") => Some("worst_place"),
                _ => Some("mean"),
            };
        }
        1 if !rule.outside.is_empty() => rule.outside.clear(),
        _ => {
            let zone = zones.get(draw.some(zones.len())?)?.clone();
            let own = rule.zone.as_ref() == Some(&zone) || rule.outside.contains(&zone);
            if own || matches!(rule.table, Table::Zone(_)) {
                return None;
            }
            rule.outside.push(zone);
        }
    }
    Some(())
}

fn stages(draw: &mut Draw, class: &mut ClassWords) -> Option<()> {
    let stages = draw.one(&STAGES).to_vec();
    let rule = a_rule(draw, class)?;
    rule.checked_at = if rule.checked_at.is_some() {
        None
    } else {
        Some(stages)
    };
    Some(())
}

fn choice_added(draw: &mut Draw, class: &mut ClassWords) -> Option<()> {
    let (at, slot, name) = choices_of(draw, class)?;
    let part = class.parts[at].name.clone();
    let TraitWords::Choice(words) = &mut class.parts[at].traits[slot].1 else {
        return None;
    };
    if words.iter().any(|word| word == "extra") {
        return None;
    }
    words.push("extra".to_owned());
    let extra = || "extra".to_owned();
    for rule in class.rules.iter_mut().filter(|rule| rule.on == part) {
        match &mut rule.table {
            Table::By(by, rows) if *by == name => {
                let row = rows.last()?.1.clone();
                rows.push((extra(), row));
            }
            Table::ByTwo(one, two, rows) => {
                if *two == name {
                    for (_, inner) in rows.iter_mut() {
                        let row = inner.last()?.1.clone();
                        inner.push((extra(), row));
                    }
                }
                if *one == name {
                    let inner = rows.last()?.1.clone();
                    rows.push((extra(), inner));
                }
            }
            Table::By(..) | Table::Direct(_) | Table::Zone(_) | Table::Level(_) => {}
        }
    }
    Some(())
}

fn choice_removed(draw: &mut Draw, class: &mut ClassWords) -> Option<()> {
    let (at, slot, name) = choices_of(draw, class)?;
    let part = class.parts[at].name.clone();
    let TraitWords::Choice(words) = &mut class.parts[at].traits[slot].1 else {
        return None;
    };
    if words.len() < 3 {
        return None;
    }
    let gone = words.pop()?;
    let renamed = format!("{part}.{name}.");
    class
        .renamed
        .retain(|(old, new)| !(old.starts_with(&renamed) && *new == gone));
    for rule in class.rules.iter_mut().filter(|rule| rule.on == part) {
        match &mut rule.table {
            Table::By(by, rows) if *by == name => rows.retain(|(word, _)| *word != gone),
            Table::ByTwo(one, two, rows) => {
                if *one == name {
                    rows.retain(|(word, _)| *word != gone);
                }
                if *two == name {
                    rows.iter_mut()
                        .for_each(|(_, inner)| inner.retain(|(word, _)| *word != gone));
                }
            }
            Table::By(..) | Table::Direct(_) | Table::Zone(_) | Table::Level(_) => {}
        }
    }
    Some(())
}

fn parts(draw: &mut Draw, class: &mut ClassWords) -> Option<()> {
    let mut all: Vec<&mut i64> = class
        .holdings
        .iter_mut()
        .filter(|one| one.many)
        .map(|one| &mut one.at_least)
        .collect();
    all.extend(class.group.iter_mut().map(|group| &mut group.at_least));
    let at = draw.some(all.len())?;
    let other = (*all[at] + *draw.one(&[-1, 1])).clamp(0, 2);
    if *all[at] == other {
        return None;
    }
    *all[at] = other;
    Some(())
}

fn marks(draw: &mut Draw, class: &mut ClassWords) -> Option<()> {
    if draw.percent(10) {
        return class.marks.take().map(|_| ());
    }
    let marks = class.marks.as_mut()?;
    let by = *draw.one(&[-1, 1]);
    let change = |number: &mut i64| *number = (*number + by).max(0);
    match draw.below(4) {
        0 => match &mut marks.by_level {
            Some(rows) => {
                let at = draw.below(rows.len());
                change(&mut rows[at].1);
            }
            None => change(&mut marks.at_most),
        },
        1 => change(&mut marks.of_which.first_mut()?.1),
        2 => {
            marks.pairs.take()?;
        }
        _ => {
            let (_, least) = marks.bring.first_mut()?;
            *least = (*least + by).max(1);
        }
    }
    Some(())
}

fn rules(draw: &mut Draw, class: &mut ClassWords) -> Option<()> {
    if draw.percent(50) && class.rules.len() > 1 {
        class.rules.remove(draw.below(class.rules.len()));
        return Some(());
    }
    if class.rules.iter().any(|rule| rule.id == "another") {
        return None;
    }
    let rule = another_rule(draw, class)?;
    class.rules.push(rule);
    Some(())
}
