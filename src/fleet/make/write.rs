//! One boat by its number, drawn and written as a line of JSON.

use std::fmt::Write as _;

use super::boats::Boat;
use super::book::Book;
use super::instruments::{Day, Instruments};
use super::lever::Lever;
use super::random::Random;
use super::settings::{Settings, SettingsFault};
use super::sheet::{Dial, Line, Shape, Sheet, holding_key};
use crate::quantity::{Date, add_days, days_between};
use crate::record::FORMAT;
use crate::rules::RulesFile;
use crate::vocabulary::{PartId, Vocabulary};

/// Who measured.
const BY: &str = "invented";

/// Two words that make the name of a boat.
const FIRST: [&str; 12] = [
    "Quiet", "Grey", "Late", "Early", "Blue", "Long", "Bright", "North", "Hollow", "Silver",
    "Plain", "Winter",
];
const SECOND: [&str; 12] = [
    "Lantern", "Kettle", "Teasel", "Candle", "Harrow", "Bramble", "Sparrow", "Feather", "Mitten",
    "Whistle", "Nightjar", "Rafter",
];

/// Makes boats of one version of a class.
///
/// Every boat is invented and says so; nothing follows from it for any real fleet.
#[derive(Debug)]
pub struct Maker {
    settings: Settings,
    /// Format and class, and the beginning of the boat up to its number.
    head: String,
    keys: Vec<(String, bool)>,
    roles: Vec<Vec<String>>,
    parts: Vec<Vec<Sheet>>,
    boats: Vec<Boat>,
    instruments: Instruments,
    first_day: Date,
    /// Days on which boats are measured.
    days: u64,
}

/// What a boat is drawn with.
struct Drawing<'m> {
    random: Random,
    /// Bits from which the likeness of a boat's items comes.
    likeness: u64,
    day: Date,
    day_text: String,
    minutes: u32,
    maker: &'m Maker,
}

impl Maker {
    /// Reads a version once.
    ///
    /// # Errors
    /// A last day before the version is in force; a class that allows no boat.
    pub fn new(rules: &RulesFile, settings: Settings) -> Result<Maker, SettingsFault> {
        let from = rules.in_force_from;
        let until = match settings.until {
            Some(until) if until < from => return Err(SettingsFault::Until { until, from }),
            Some(until) => until,
            None => add_days(from, 365).unwrap_or(from),
        };
        // Three seasons back, and not before the rules count.
        let first_day = add_days(until, -1095).unwrap_or(from).max(from);
        let book = Book::of(rules);
        if book.boats.is_empty() {
            return Err(SettingsFault::NoBoat);
        }
        let vocabulary = &rules.vocabulary;
        let parts = book.kinds.iter().map(|kinds| {
            let each = kinds.iter().enumerate();
            each.map(|(slot, kind)| Sheet::of(rules, &book, kind, slot))
                .collect()
        });
        let keys = (0..vocabulary.holdings.len()).filter_map(|slot| {
            let many = vocabulary.holdings.get(slot).is_some_and(|one| one.many);
            Some((holding_key(vocabulary, slot)?.to_owned(), many))
        });
        let roles = vocabulary.holdings.iter().map(|holding| {
            let part = vocabulary.part(holding.part);
            let roles = part.iter().flat_map(|part| &part.roles);
            roles.map(|role| role.name.text.clone()).collect()
        });
        Ok(Maker {
            settings,
            head: format!(
                "{{\"format\":\"{FORMAT}\",\"class\":\"{}\",\"notes\":[\"Invented, for demos and benchmarks; says nothing of any real fleet.\"],\"boat\":{{\"sail_number\":\"{} ",
                rules.class.text,
                letters(&rules.class.text)
            ),
            keys: keys.collect(),
            roles: roles.collect(),
            parts: parts.collect(),
            instruments: Instruments::of(rules),
            first_day,
            days: u64::try_from(days_between(first_day, until)).unwrap_or(0) + 1,
            boats: book.boats,
        })
    }

    /// Appends a boat by its number, from 0, as one line of JSON with its line end.
    pub fn boat(&self, number: u64, out: &mut String) {
        let mut random = Random::of(self.settings.seed, number);
        let days = i64::try_from(random.below(self.days)).unwrap_or(0);
        let day = add_days(self.first_day, days).unwrap_or(self.first_day);
        let Some(boat) = random.pick(&self.boats) else {
            return;
        };
        let mut drawing = Drawing {
            likeness: random.below(u64::MAX),
            random,
            day,
            day_text: day.to_string(),
            minutes: 0,
            maker: self,
        };
        out.push_str(&self.head);
        let _ = write!(out, "{}", 1001_u64.saturating_add(number));
        let _ = write!(
            out,
            "\",\"name\":\"{} {}\",",
            drawing.random.pick(&FIRST).unwrap_or(&""),
            drawing.random.pick(&SECOND).unwrap_or(&"")
        );
        drawing.item(Vocabulary::BOAT, boat.own, None, out);
        let _ = write!(
            out,
            "}},\"measured\":{{\"day\":\"{}\",\"by\":\"{BY}\",\"temperature\":\"{} degC\"}},",
            drawing.day_text,
            drawing.random.between(-12, 8)
        );
        drawing.instruments(out);
        for ((key, many), list) in self.keys.iter().zip(&boat.lists) {
            if list.is_empty() {
                continue;
            }
            let _ = write!(out, "\"{key}\":{}", if *many { '[' } else { '{' });
            for (at, who) in list.iter().enumerate() {
                if *many {
                    out.push_str(if at > 0 { ",{\"id\":\"" } else { "{\"id\":\"" });
                    id(key, at, out);
                    out.push_str("\",");
                }
                let kind = who.kinds.first().copied().unwrap_or(0);
                drawing.item(who.part, kind, who.marked, out);
                out.push(if *many { '}' } else { ' ' });
            }
            out.push_str(if *many { "]," } else { "}," });
        }
        for (holding, sets) in &boat.groups {
            self.sets(holding.index(), sets, out);
        }
        close(out);
        out.push_str("}\n");
    }

    fn sets(&self, holding: usize, sets: &[Vec<super::boats::Member>], out: &mut String) {
        let (Some((key, _)), Some(roles)) = (self.keys.get(holding), self.roles.get(holding))
        else {
            return;
        };
        let _ = write!(out, "\"{key}\":[");
        for (at, members) in sets.iter().enumerate() {
            out.push_str(if at > 0 { ",{\"id\":\"" } else { "{\"id\":\"" });
            id(key, at, out);
            out.push('"');
            for (role, (list, place)) in roles.iter().zip(members) {
                let _ = write!(out, ",\"{role}\":\"");
                if let Some((key, _)) = self.keys.get(list.index()) {
                    id(key, *place, out);
                }
                out.push('"');
            }
            out.push('}');
        }
        out.push_str("],");
    }

    fn sheet(&self, part: PartId, kind: usize) -> Option<&Sheet> {
        self.parts.get(part.index())?.get(kind)
    }
}

/// The letters before the numbers of a class: of its name the first letter of each word, and its digits.
fn letters(class: &str) -> String {
    let mut letters = String::new();
    for word in class.split('-') {
        if word.chars().all(|one| one.is_ascii_digit()) {
            letters.push_str(word);
        } else {
            letters.extend(word.chars().next().map(|one| one.to_ascii_uppercase()));
        }
    }
    letters
}

/// An item's id: the key of its list without its last letter, and a number, so that no two are alike.
fn id(key: &str, at: usize, out: &mut String) {
    let stem = key.get(..key.len().min(12)).unwrap_or("i");
    let _ = write!(out, "{stem}_{}", at + 1);
}

/// Takes a comma away that nothing follows.
fn close(out: &mut String) {
    if out.ends_with(',') {
        out.pop();
    }
}

impl Drawing<'_> {
    fn instruments(&mut self, out: &mut String) {
        let since = 20 + i64::try_from(self.random.below(320)).unwrap_or(0);
        let calibrated = add_days(self.day, -since).unwrap_or(self.day);
        let due = add_days(calibrated, 730).unwrap_or(self.day);
        let (calibrated, due) = (calibrated.to_string(), due.to_string());
        for (text, day) in &self.maker.instruments.pieces {
            out.push_str(text);
            out.push_str(match day {
                Day::Measured => &self.day_text,
                Day::Calibrated => &calibrated,
                Day::Due => &due,
            });
        }
        out.push_str(&self.maker.instruments.end);
    }

    /// Writes what is said of an item, behind its id.
    fn item(&mut self, part: PartId, kind: usize, marked: Option<bool>, out: &mut String) {
        let Some(sheet) = self.maker.sheet(part, kind) else {
            return;
        };
        out.push_str(&sheet.choices);
        for name in &sheet.dates {
            self.date(name, out);
        }
        for (name, words) in &sheet.lists {
            let _ = write!(out, "\"{name}\":[");
            let first = self.random.index(words.len());
            let more = self.random.index(2);
            for word in words.iter().skip(first).take(1 + more) {
                let _ = write!(out, "\"{word}\",");
            }
            close(out);
            out.push_str("],");
        }
        if let (Some(flag), Some(marked)) = (&sheet.flag, marked) {
            let _ = write!(out, "\"{flag}\":\"{}\",", if marked { "yes" } else { "no" });
        }
        let settings = &self.maker.settings;
        let moved = if self.random.happens(settings.faults.parts()) {
            self.random.pick(&sheet.levers).copied()
        } else if self.random.happens(settings.close.parts()) {
            self.random.pick(&sheet.close).copied()
        } else {
            None
        };
        for (at, line) in sheet.lines.iter().enumerate() {
            if self.random.happens(settings.missing.parts()) {
                continue;
            }
            self.line(part, sheet, (at, line), moved, out);
        }
        close(out);
    }

    /// A day of building, some time in the last 25 years, proven by a paper.
    fn date(&mut self, name: &str, out: &mut String) {
        let ago = 1 + i16::try_from(self.random.below(25)).unwrap_or(0);
        let _ = write!(
            out,
            "\"{name}\":{{\"date\":\"{}-{:02}\",\"proof\":\"invoice {}\",\"seen_by\":\"{BY}\",\"seen_on\":\"{}\"}},",
            self.day.year() - ago,
            1 + self.random.below(12),
            100 + self.random.below(900),
            self.day_text
        );
    }

    /// The number of steps of a dial on this item: near that of the boat's other items.
    fn turn(&mut self, part: PartId, number: usize, dial: &Dial) -> i64 {
        let slot = u64::from(part.0).wrapping_mul(4099) + u64::try_from(number).unwrap_or(0);
        let mut bits = self.likeness ^ slot.wrapping_mul(0x9e37_79b9_7f4a_7c15);
        bits = (bits ^ (bits >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        bits = (bits ^ (bits >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        let alike = i128::from((bits >> 48) + ((bits >> 32) & 0xffff)) / 2;
        let free = i128::from(dial.high - dial.low - 2 * dial.apart).max(0);
        let middle = dial.low + dial.apart + i64::try_from(alike * free / 65_536).unwrap_or(0);
        let apart = dial.apart * 3 / 4;
        middle + self.random.between(-apart, apart)
    }

    /// The value of a dial, moved if it is the one that is moved.
    fn value(
        &mut self,
        part: PartId,
        sheet: &Sheet,
        number: usize,
        moved: Option<Lever>,
    ) -> (i64, Dial) {
        let Some(dial) = sheet.dials.get(number) else {
            let whole = super::digits::Digits::whole(crate::quantity::Unit::PLAIN);
            let dial = Dial {
                low: 0,
                high: 0,
                apart: 0,
                digits: whole,
            };
            return (0, dial);
        };
        let value = self.turn(part, number, dial);
        match moved {
            Some(Lever::Dial {
                dial: other,
                low,
                high,
            }) if other == number => (self.random.between(low, high), *dial),
            Some(Lever::Dial { .. } | Lever::Answer(_)) | None => (value, *dial),
        }
    }

    fn line(
        &mut self,
        part: PartId,
        sheet: &Sheet,
        (at, line): (usize, &Line),
        moved: Option<Lever>,
        out: &mut String,
    ) {
        out.push_str(&line.begin);
        if line.timed {
            let minutes = 9 * 60 + self.minutes % 500;
            self.minutes += 2;
            out.push_str("\"taken\":\"");
            out.push_str(&self.day_text);
            let _ = write!(out, " {:02}:{:02}\",", minutes / 60, minutes % 60);
        }
        match &line.shape {
            Shape::Answer(yes) => {
                let other = moved == Some(Lever::Answer(at));
                let _ = write!(
                    out,
                    "\"answer\":\"{}\",\"by\":\"{BY}\",\"day\":\"{}\"",
                    if *yes != other { "yes" } else { "no" },
                    self.day_text
                );
            }
            Shape::First(number) => {
                let (value, dial) = self.value(part, sheet, *number, moved);
                let since = 30 + i64::try_from(self.random.below(1500)).unwrap_or(0);
                out.push_str("\"value\":\"");
                dial.digits.write_with_unit(value, out);
                let _ = write!(
                    out,
                    "\",\"day\":\"{}\",\"paper\":\"certificate {}\"",
                    add_days(self.day, -since).unwrap_or(self.day),
                    100 + self.random.below(900)
                );
            }
            Shape::One { dial, repeats } => {
                let (value, dial) = self.value(part, sheet, *dial, moved);
                self.readings(value, &dial, *repeats, out);
            }
            Shape::Places { places, repeats } => {
                out.push_str("\"places\":[");
                let mut worst = worst(
                    moved,
                    places.iter().map(|(_, dial)| *dial),
                    &mut self.random,
                );
                let mut known: Option<(usize, i64)> = None;
                for (place, (text, number)) in places.iter().enumerate() {
                    let one = moved.filter(|_| worst == Some(place));
                    let (value, dial) = self.value(part, sheet, *number, one);
                    // Places of one item lie nearer together than items of one boat.
                    let value = match known.filter(|(other, _)| other == number && one.is_none()) {
                        Some((_, first)) => {
                            let near = first + self.random.between(-1, 1) * (1 + dial.apart / 8);
                            near.clamp(dial.low, dial.high.max(dial.low))
                        }
                        None => value,
                    };
                    if one.is_none() {
                        known = Some((*number, value));
                    } else {
                        worst = None;
                    }
                    out.push_str(text);
                    self.readings(value, &dial, *repeats, out);
                    out.push_str("},");
                }
                close(out);
                out.push(']');
            }
            Shape::Section(places) => {
                out.push_str("\"places\":[");
                let dials = places.iter().flat_map(|(_, port, other)| [*port, *other]);
                let worst = worst(moved, dials, &mut self.random).map(|one| one / 2);
                for (place, (text, port, starboard)) in places.iter().enumerate() {
                    let one = moved.filter(|_| worst == Some(place));
                    let (port, dial) = self.value(part, sheet, *port, one);
                    let (starboard, other) = self.value(part, sheet, *starboard, one);
                    out.push_str(text);
                    out.push_str("\"bevels\":{\"port\":\"");
                    dial.digits.write_with_unit(port, out);
                    out.push_str("\",\"starboard\":\"");
                    other.digits.write_with_unit(starboard, out);
                    out.push_str("\"}},");
                }
                close(out);
                out.push(']');
            }
            Shape::Profile {
                forward,
                aft,
                gaps,
                ends,
                digits,
            } => {
                let (forward, dial) = self.value(part, sheet, *forward, moved);
                let (aft, _) = self.value(part, sheet, *aft, moved);
                let base = dial.digits.base;
                #[expect(clippy::cast_precision_loss, reason = "a length in steps of a rule")]
                let (forward, aft) = (forward as f64 * base, aft as f64 * base);
                out.push_str("\"contact\":\"0 ");
                out.push_str(digits.unit.symbol());
                out.push_str("\",\"shims\":[");
                let mut far = 0.0_f64;
                for (gap, times) in gaps {
                    let _ = write!(out, "{{\"gap\":\"{gap}\",\"forward\":\"");
                    digits.write_with_unit(digits.steps(forward * times), out);
                    out.push_str("\",\"aft\":\"");
                    digits.write_with_unit(digits.steps(aft * times), out);
                    out.push_str("\"},");
                    far = far.max(forward * times).max(aft * times);
                }
                for (gap, least) in ends {
                    let reach = digits.steps(far.max(*least) + 10.0);
                    let _ = write!(out, "{{\"gap\":\"{gap}\",\"forward\":{{\"more_than\":\"");
                    digits.write_with_unit(reach, out);
                    out.push_str("\"},\"aft\":{\"more_than\":\"");
                    digits.write_with_unit(reach, out);
                    out.push_str("\"}},");
                }
                close(out);
                out.push(']');
            }
            Shape::Line { bow, stations } => {
                let (bow, dial) = self.value(part, sheet, *bow, moved);
                let _ = write!(out, "\"stations\":\"{stations}\"");
                for (flank, sign) in [("port", 1), ("starboard", -1)] {
                    let _ = write!(out, ",\"{flank}\":\"");
                    for quarters in [0, 3, 4, 3, 0] {
                        dial.digits.write(sign * ((bow * quarters + 2) / 4), out);
                        out.push(' ');
                    }
                    out.push_str(dial.digits.unit.symbol());
                    out.push('"');
                }
            }
            Shape::LoadTest {
                sinks,
                setup,
                loads,
            } => {
                let (sinks, dial) = self.value(part, sheet, *sinks, moved);
                out.push_str(setup);
                out.push_str("\"steps\":[");
                for (load, share) in loads {
                    let _ = write!(out, "{{\"load\":\"{load}\",\"sinks\":\"");
                    #[expect(clippy::cast_precision_loss, reason = "a length in steps of a rule")]
                    let steps = dial.digits.steps(sinks as f64 * share * dial.digits.base);
                    dial.digits.write_with_unit(steps, out);
                    out.push_str("\"},");
                }
                close(out);
                out.push(']');
            }
            Shape::Outline { area, digits } => {
                let (area, dial) = self.value(part, sheet, *area, moved);
                // Twice as high as it is wide: the square of its width is its area.
                #[expect(clippy::cast_precision_loss, reason = "an area in steps")]
                let width = (area as f64 * dial.digits.base).max(0.0).sqrt();
                let width = digits.steps(width);
                out.push_str("\"points\":[\"0 0 mm\",\"");
                digits.write(width, out);
                out.push_str(" 0 mm\",\"0 ");
                digits.write_with_unit(2 * width, out);
                out.push_str("\"]");
            }
        }
        out.push_str("},");
    }

    /// Readings of one value, a step apart at most.
    fn readings(&mut self, value: i64, dial: &Dial, repeats: u32, out: &mut String) {
        out.push_str("\"readings\":\"");
        let noise = i64::from(dial.high > dial.low && dial.digits.decimals > 0);
        for at in 0..repeats {
            let off = if at == 0 {
                0
            } else {
                i64::try_from(self.random.below(3)).unwrap_or(1) - 1
            };
            dial.digits.write(value + off * noise, out);
            if at + 1 < repeats {
                out.push(' ');
            }
        }
        dial.digits.write_unit(out);
        out.push('"');
    }
}

/// At which place a value is moved: one of those whose dial it is.
fn worst(
    moved: Option<Lever>,
    dials: impl Iterator<Item = usize>,
    random: &mut Random,
) -> Option<usize> {
    let Some(Lever::Dial { dial, .. }) = moved else {
        return None;
    };
    let places = dials.enumerate().filter(|(_, one)| *one == dial);
    let places: Vec<usize> = places.map(|(place, _)| place).collect();
    random.pick(&places).copied()
}
