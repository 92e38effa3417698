//! Traits and measures of a record as the texts of cells, and what of them no cell tells.

use super::cell::same_word;
use super::export::Writer;
use super::model::Column;
use super::target::{Target, What};
use crate::quantity::{Exact, Quantity, Unit};
use crate::record::model::{
    Content, Face, Found, Measured, Place, Reading, ReadingBound, Record, Series, TraitClaim,
    TraitValue, With,
};
use crate::vocabulary::TraitKind;

impl Writer<'_> {
    /// Whether a column tells what stands beside a value.
    pub(super) fn told(&self, column: &Column, detail: &str) -> bool {
        let beside = |other: &Column| match (&other.target, &column.target) {
            (
                Target::Item { holding, id, what },
                Target::Item {
                    holding: own,
                    id: own_id,
                    what: value,
                },
            ) => {
                holding == own
                    && id == own_id
                    && match (what, value) {
                        (What::Trait(a, key), What::Trait(b, _)) => a == b && *key == detail,
                        (What::Measure(a, key), What::Measure(b, _) | What::Inside(b, _)) => {
                            a == b && *key == detail
                        }
                        (
                            What::Id
                            | What::Trait(..)
                            | What::Measure(..)
                            | What::Inside(..)
                            | What::Role(_),
                            _,
                        ) => false,
                    }
            }
            (
                Target::SailNumber | Target::Boat(_) | Target::Measured(_) | Target::Item { .. },
                _,
            ) => false,
        };
        self.spec.columns.iter().any(beside)
    }

    pub(super) fn proof(&mut self, claim: &TraitClaim, column: &Column) {
        let TraitValue::Date(date) = &claim.value else {
            return;
        };
        let seen = date.seen.as_ref();
        let lost = [
            ("proof", date.proof.is_some()),
            ("seen_by", seen.is_some()),
            ("seen_on", seen.is_some_and(|(_, day)| day.is_some())),
        ];
        for (key, said) in lost {
            if said && !self.told(column, key) {
                self.left(format!("{}.{key}", column.path), 1);
            }
        }
    }

    pub(super) fn claim(
        &self,
        claim: &TraitClaim,
        kind: &TraitKind,
        detail: &str,
        column: &Column,
    ) -> Option<String> {
        let name = |choice: Option<crate::vocabulary::ChoiceId>| match choice {
            Some(id) => kind.names().get(id.index()).map(|name| name.text.as_str()),
            None => Some("other"),
        };
        match (&claim.value, detail) {
            (TraitValue::Choice(choice), _) => name(*choice).map(|word| self.word(word, column)),
            (TraitValue::AnyOf(list), _) => {
                let words: Vec<&str> = list.iter().filter_map(|choice| name(*choice)).collect();
                Some(words.join(" + "))
            }
            (TraitValue::Flag(yes), _) => Some(self.word(if *yes { "yes" } else { "no" }, column)),
            (TraitValue::Date(date), "") => Some(date.date.to_string()),
            (TraitValue::Date(date), "proof") => date.proof.clone(),
            (TraitValue::Date(date), "seen_by") => date.seen.as_ref().map(|(by, _)| by.clone()),
            (TraitValue::Date(date), _) => date.seen.as_ref()?.1.map(|day| day.to_string()),
        }
    }

    /// The table's own word for one of a record, where it has one that is read back as the same.
    pub(super) fn word(&self, word: &str, column: &Column) -> String {
        let words = || column.words.iter().chain(&self.map.words);
        let own = words().find(|(said, meant)| {
            let first = words().find(|(other, _)| same_word(other, said));
            meant == word && first.is_some_and(|(_, meant)| meant == word)
        });
        own.map_or_else(|| word.to_owned(), |(said, _)| said.clone())
    }

    /// What a measure holds beyond what its columns can tell.
    pub(super) fn rest(&mut self, record: &Record, measured: &Measured, column: &Column) {
        let path = column.path.clone();
        match &measured.found {
            Found::Answer(answer) => {
                let detail = |key: &str| column.detail(key).map(str::to_owned);
                let day = answer.day.map(|day| day.to_string());
                for (key, said) in [("by", answer.by.clone()), ("day", day)] {
                    if said.is_some() && said != detail(key) && !self.told(column, key) {
                        self.left(format!("{path}.{key}"), 1);
                    }
                }
            }
            Found::First(first) => {
                let day = first.day.map(|day| day.to_string());
                for (key, said) in [("day", day), ("paper", first.paper.clone())] {
                    if said.is_some()
                        && said.as_deref() != column.detail(key)
                        && !self.told(column, key)
                    {
                        self.left(format!("{path}.{key}"), 1);
                    }
                }
            }
            Found::Series(all) => {
                self.left(
                    format!("{path}: further series"),
                    all.len().saturating_sub(1),
                );
                let Some(series) = all.first() else {
                    return;
                };
                for (key, said) in of_series(record, series) {
                    if said.is_some()
                        && said.as_deref() != column.detail(key)
                        && !self.told(column, key)
                    {
                        self.left(format!("{path}.{key}"), 1);
                    }
                }
                let searched = usize::from(series.searched.is_some());
                self.left(format!("{path}: how it was searched"), searched);
                let Content::Places(places) = &series.content else {
                    return;
                };
                let confirmed = places.iter().filter(|one| one.confirmed_by.is_some());
                self.left(format!("{path}: who confirmed it"), confirmed.count());
                let readings = places.iter().flat_map(|place| &place.readings);
                let all = readings.count();
                let void: usize = places.iter().map(|place| place.void.len()).sum();
                let columns: Vec<&Column> = self
                    .spec
                    .columns
                    .iter()
                    .filter(|one| one.target == column.target)
                    .collect();
                let told = columns
                    .iter()
                    .filter(|one| self.reading(series, one).is_some())
                    .count();
                self.left(
                    format!("{path}: further readings"),
                    all.saturating_sub(told),
                );
                self.left(format!("{path}: void readings"), void);
                let placed = places
                    .iter()
                    .filter(|place| place.place.at.is_some())
                    .count();
                if placed > 0
                    && columns.iter().all(|one| one.detail("at").is_none())
                    && !self.told(column, "at")
                {
                    self.left(format!("{path}.at"), placed);
                }
            }
        }
    }

    /// The reading of a column: of its place, the one that is as far along as the column among those of the place.
    pub(super) fn reading<'r>(&self, series: &'r Series, column: &Column) -> Option<&'r Reading> {
        let Content::Places(places) = &series.content else {
            return None;
        };
        let same = |other: &&Column| {
            let key = |one: &Column, key: &str| one.detail(key).map(str::to_owned);
            other.target == column.target
                && ["at", "from_edge", "face"]
                    .iter()
                    .all(|name| key(other, name) == key(column, name))
        };
        let before = self
            .spec
            .columns
            .iter()
            .filter(same)
            .take_while(|other| !std::ptr::eq(*other, column))
            .count();
        // A column alone tells the first place wherever it is; beside others that name theirs it tells the one that has
        // none.
        let mut others = self.spec.columns.iter();
        let anywhere = others.all(|other| {
            other.target != column.target
                || ["at", "from_edge", "face"]
                    .iter()
                    .all(|key| other.detail(key).is_none())
        });
        let place = if anywhere {
            places.first()
        } else {
            places.iter().find(|place| is_at(place, column))
        }?;
        place.readings.get(before)
    }

    pub(super) fn measured(
        &self,
        record: &Record,
        measured: &Measured,
        detail: &str,
        column: &Column,
    ) -> Option<String> {
        match (&measured.found, detail) {
            (Found::Answer(answer), "") => {
                Some(self.word(if answer.yes { "yes" } else { "no" }, column))
            }
            (Found::Answer(answer), "by") => answer.by.clone(),
            (Found::Answer(answer), _) => answer.day.map(|day| day.to_string()),
            (Found::First(first), "") => Some(self.quantity(&first.reading, column)),
            (Found::First(first), "paper") => first.paper.clone(),
            (Found::First(first), _) => first.day.map(|day| day.to_string()),
            (Found::Series(all), "") => {
                let reading = self.reading(all.first()?, column)?;
                Some(self.quantity(reading, column))
            }
            (Found::Series(all), key) => {
                let series = all.first()?;
                let found = of_series(record, series)
                    .into_iter()
                    .find(|(known, _)| *known == key);
                if let Some((_, text)) = found {
                    return text;
                }
                let Content::Places(places) = &series.content else {
                    return None;
                };
                let place = &places.first()?.place;
                let unit = place.unit.unwrap_or(Unit::MM);
                match key {
                    "face" => place.face.map(|face| match face {
                        Face::Port => "port".to_owned(),
                        Face::Starboard => "starboard".to_owned(),
                    }),
                    "at" => place
                        .at
                        .as_ref()
                        .map(|at| self.number(&unit.from_base(at).to_string(), unit, column)),
                    _ => place
                        .from_edge
                        .as_ref()
                        .map(|at| self.number(&unit.from_base(at).to_string(), unit, column)),
                }
            }
        }
    }

    /// A reading in the digits it was written in; without its unit where the column has it.
    pub(super) fn quantity(&self, reading: &Reading, column: &Column) -> String {
        let step = reading.unit.difference_from_base(&reading.resolution);
        let decimals = step.decimals_needed().filter(|count| {
            i32::try_from(*count).is_ok_and(|count| step == Exact::power_of_ten(-count))
        });
        let quantity = Quantity {
            value: reading.value.clone(),
            unit: reading.unit,
            resolution: reading.resolution.clone(),
            decimals: decimals.and_then(|count| u8::try_from(count).ok()),
        };
        let written = quantity.as_written();
        let symbol = reading.unit.symbol();
        let text = match written.strip_suffix(symbol) {
            Some(number) if !symbol.is_empty() => {
                self.number(number.trim_end(), reading.unit, column)
            }
            _ => self.number(&written, Unit::PLAIN, column),
        };
        match reading.bound {
            None => text,
            Some(ReadingBound::MoreThan) => format!("> {text}"),
            Some(ReadingBound::LessThan) => format!("< {text}"),
        }
    }

    pub(super) fn number(&self, number: &str, unit: Unit, column: &Column) -> String {
        let number = if self.map.decimal_comma {
            number.replace('.', ",")
        } else {
            number.to_owned()
        };
        // With zeros that the map would add it is the same number in other digits: the unit keeps it as it is.
        let places = number
            .split_once(['.', ','])
            .map_or(0, |(_, places)| places.len());
        let padded = column
            .decimals
            .is_some_and(|decimals| places < usize::from(decimals))
            && !number.contains('/');
        let bare = column.unit == Some(unit) && !padded && !number.contains("deg");
        if bare || unit == Unit::PLAIN {
            number
        } else {
            format!("{number} {}", unit.symbol())
        }
    }
}

/// What is said of a whole series.
fn of_series(record: &Record, series: &Series) -> [(&'static str, Option<String>); 3] {
    let with = match series.with {
        With::Unnamed => None,
        With::Exact => Some("exact".to_owned()),
        With::Instrument(at) => record.instruments.get(at).map(|one| one.key.clone()),
    };
    [
        ("with", with),
        ("by", series.by.clone()),
        ("taken", series.taken.map(|taken| taken.to_string())),
    ]
}

/// Whether a place is the one that a column names.
fn is_at(place: &Place, column: &Column) -> bool {
    let value = |key: &str| {
        column
            .detail(key)
            .and_then(|text| Quantity::parse(text).ok())
            .map(|found| found.value)
    };
    let face = column.detail("face");
    let faced = match place.place.face {
        None => face.is_none(),
        Some(Face::Port) => face == Some("port"),
        Some(Face::Starboard) => face == Some("starboard"),
    };
    faced && place.place.at == value("at") && place.place.from_edge == value("from_edge")
}
