//! A record as a plain tree that tests rearrange: keys and items in another order, values in other units.

use rimegauge::text::{Node, Value};

/// A tree of texts.
#[derive(Clone, PartialEq)]
pub enum Tree {
    Text(String),
    List(Vec<Tree>),
    Map(Vec<(String, Tree)>),
}

impl std::fmt::Debug for Tree {
    /// As a file, so that a counterexample can be read and tried.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.to_file())
    }
}

/// Numbers one after another from a first one: small, and the same everywhere.
pub struct Dice(u64);

impl Dice {
    pub fn new(first: u64) -> Dice {
        Dice(first.wrapping_mul(2) | 1)
    }

    /// From 0 to below `sides`.
    pub fn throw(&mut self, sides: usize) -> usize {
        // Constants of Knuth's MMIX generator, the upper half of the word.
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (usize::try_from(self.0 >> 33).unwrap()) % sides.max(1)
    }

    pub fn shuffle<T>(&mut self, list: &mut [T]) {
        for at in (1..list.len()).rev() {
            let other = self.throw(at + 1);
            list.swap(at, other);
        }
    }
}

pub fn text(text: impl Into<String>) -> Tree {
    Tree::Text(text.into())
}

/// A mapping of the entries that are there.
pub fn map<const N: usize>(entries: [(&str, Option<Tree>); N]) -> Tree {
    let there = entries
        .into_iter()
        .filter_map(|(key, tree)| Some((key.to_owned(), tree?)));
    Tree::Map(there.collect())
}

impl Tree {
    pub fn of(node: &Node<'_>) -> Tree {
        match &node.value {
            Value::Null => Tree::Text(String::new()),
            Value::Scalar(scalar) => Tree::Text(scalar.text.to_string()),
            Value::Sequence(items) => Tree::List(items.iter().map(Tree::of).collect()),
            Value::Mapping(entries) => {
                let entries = entries.iter();
                Tree::Map(
                    entries
                        .map(|entry| (entry.key.to_string(), Tree::of(&entry.node)))
                        .collect(),
                )
            }
        }
    }

    /// As a file: flow style, every value in quotes.
    pub fn to_file(&self) -> String {
        let mut file = String::new();
        self.write(&mut file);
        file.push('\n');
        file
    }

    fn write(&self, file: &mut String) {
        match self {
            Tree::Text(text) => {
                file.push('"');
                file.push_str(
                    &text
                        .replace('\\', "\\\\")
                        .replace('"', "\\\"")
                        .replace('\n', "\\n"),
                );
                file.push('"');
            }
            Tree::List(items) => {
                file.push('[');
                for (at, item) in items.iter().enumerate() {
                    file.push_str(if at == 0 { "" } else { ", " });
                    item.write(file);
                }
                file.push(']');
            }
            Tree::Map(entries) => {
                file.push('{');
                for (at, (key, item)) in entries.iter().enumerate() {
                    file.push_str(if at == 0 { "" } else { ",\n " });
                    file.push_str(key);
                    file.push_str(": ");
                    item.write(file);
                }
                file.push('}');
            }
        }
    }

    /// Brings the keys of every mapping, and the entries of the lists under `lists`, into another order.
    pub fn shuffled(&self, lists: &[&str], dice: &mut Dice) -> Tree {
        self.shuffled_under("", lists, dice)
    }

    fn shuffled_under(&self, key: &str, lists: &[&str], dice: &mut Dice) -> Tree {
        match self {
            Tree::Text(text) => Tree::Text(text.clone()),
            Tree::List(items) => {
                let mut items: Vec<Tree> = items
                    .iter()
                    .map(|item| item.shuffled_under("", lists, dice))
                    .collect();
                if lists.contains(&key) {
                    dice.shuffle(&mut items);
                }
                Tree::List(items)
            }
            Tree::Map(entries) => {
                let mut entries: Vec<(String, Tree)> = entries
                    .iter()
                    .map(|(key, item)| (key.clone(), item.shuffled_under(key, lists, dice)))
                    .collect();
                dice.shuffle(&mut entries);
                Tree::Map(entries)
            }
        }
    }

    /// Writes quantities in other units, each the same exact number. Values under `kept` stay as they are.
    pub fn in_other_units(&self, kept: &[&str], dice: &mut Dice) -> Tree {
        match self {
            Tree::Text(text) => match other_unit(text, dice) {
                Some(other) => Tree::Text(other),
                None => Tree::Text(text.clone()),
            },
            Tree::List(items) => Tree::List(
                items
                    .iter()
                    .map(|item| item.in_other_units(kept, dice))
                    .collect(),
            ),
            Tree::Map(entries) => {
                let entries = entries.iter().map(|(key, item)| {
                    let item = match kept.contains(&key.as_str()) {
                        true => item.clone(),
                        false => item.in_other_units(kept, dice),
                    };
                    (key.clone(), item)
                });
                Tree::Map(entries.collect())
            }
        }
    }
}

/// `4.76 4.77 mm` in another unit of length, angle or mass; `None` where the text is nothing of the kind.
fn other_unit(text: &str, dice: &mut Dice) -> Option<String> {
    let (numbers, unit) = text.rsplit_once(' ')?;
    let numbers: Vec<(i128, u32)> = numbers.split(' ').map(decimal).collect::<Option<_>>()?;
    // Each unit with how many millimetres, degrees or kilograms a thousand million of it are.
    let units: &[(&str, i128, i128)] = match unit {
        "mm" | "m" | "um" | "in" | "cm" | "ft" => &[
            ("mm", 1, 1),
            ("m", 1000, 1),
            ("um", 1, 1000),
            ("in", 127, 5),
            ("cm", 10, 1),
            ("ft", 1524, 5),
        ],
        "kg" | "g" | "lb" => &[
            ("kg", 1, 1),
            ("g", 1, 1000),
            ("lb", 45_359_237, 100_000_000),
        ],
        "deg" | "min" => &[("deg", 1, 1), ("min", 1, 60)],
        _ => return None,
    };
    let (_, own_over, own_under) = units.iter().find(|(name, _, _)| *name == unit)?;
    let (name, over, under) = units[dice.throw(units.len())];
    let written: Vec<String> = numbers
        .iter()
        .map(|(n, places)| {
            let numerator = n * own_over * under;
            let denominator = 10_i128.pow(*places) * own_under * over;
            as_written(numerator, denominator)
        })
        .collect();
    // A list that shares a unit is decimals alone.
    if written.len() > 1 && written.iter().any(|one| one.contains('/')) {
        return None;
    }
    Some(format!("{} {name}", written.join(" ")))
}

fn decimal(text: &str) -> Option<(i128, u32)> {
    let (whole, fraction) = text.split_once('.').unwrap_or((text, ""));
    let digits = whole.strip_prefix('-').unwrap_or(whole);
    let number = |text: &str| text.bytes().all(|byte| byte.is_ascii_digit());
    if digits.is_empty() || !number(digits) || !number(fraction) || text.ends_with('.') {
        return None;
    }
    let n = format!("{whole}{fraction}").parse().ok()?;
    Some((n, u32::try_from(fraction.len()).ok()?))
}

/// An exact number as a decimal where it ends, else as a fraction.
pub fn as_written(numerator: i128, denominator: i128) -> String {
    let common = {
        let (mut a, mut b) = (numerator.abs(), denominator);
        while b != 0 {
            (a, b) = (b, a % b);
        }
        a.max(1)
    };
    let (n, d) = (numerator / common, denominator / common);
    let mut rest = d;
    let mut places = 0;
    while places < 12 && 10_i128.pow(places) % d != 0 {
        places += 1;
    }
    for factor in [2, 5] {
        while rest % factor == 0 {
            rest /= factor;
        }
    }
    if rest != 1 || 10_i128.pow(places) % d != 0 {
        return format!("{n}/{d}");
    }
    let scaled = n * (10_i128.pow(places) / d);
    let sign = if scaled < 0 { "-" } else { "" };
    let digits = format!(
        "{:0>width$}",
        scaled.abs(),
        width = usize::try_from(places).unwrap() + 1
    );
    let (whole, fraction) = digits.split_at(digits.len() - usize::try_from(places).unwrap());
    if fraction.is_empty() {
        format!("{sign}{whole}")
    } else {
        format!("{sign}{whole}.{fraction}")
    }
}

#[test]
fn other_units_are_the_same_number() {
    use rimegauge::quantity::Quantity;
    let mut dice = Dice::new(7);
    for text in [
        "4.76 mm", "3/16 in", "-0.05 mm", "100 deg", "28.4 kg", "0 mm", "9 in",
    ] {
        for _ in 0..40 {
            let Some(other) = other_unit(text, &mut dice) else {
                continue;
            };
            let (a, b) = (Quantity::parse(text), Quantity::parse(&other));
            assert_eq!(a.unwrap().value, b.unwrap().value, "{text} and {other}");
        }
    }
    assert_eq!(as_written(119, 635), "119/635");
    assert_eq!(as_written(-5, 100), "-0.05");
    assert_eq!(as_written(8, 2), "4");
}
