//! What can be asked of an invented fleet.

use std::fmt;

use crate::quantity::Date;

/// A share in parts of a million.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Share(u32);

impl Share {
    /// Nothing.
    pub const NONE: Share = Share(0);

    /// A share in parts of a million; nothing above all of it.
    pub fn of_a_million(parts: u32) -> Option<Share> {
        (parts <= 1_000_000).then_some(Share(parts))
    }

    /// Reads `5 %`, `5%`, `0.5 %` or `0.05`.
    ///
    /// # Errors
    /// What is wrong with it, in words.
    pub fn read(text: &str) -> Result<Share, SettingsFault> {
        let fault = || SettingsFault::Share(text.to_owned());
        let trimmed = text.trim();
        let spaced = match trimmed.strip_suffix('%') {
            Some(number) => format!("{} %", number.trim_end()),
            None => trimmed.to_owned(),
        };
        let read = crate::quantity::Quantity::parse_as(&spaced, crate::quantity::Dimension::RATIO);
        let value = read.map_err(|_| fault())?.value;
        let million = crate::quantity::Exact::from_integer(1_000_000);
        let parts = value.mul(&million);
        let parts = parts.round_to_integer(crate::quantity::Ties::Even);
        let parts = parts.to_i64().and_then(|parts| u32::try_from(parts).ok());
        let below = value.signum() >= 0;
        parts
            .filter(|_| below)
            .and_then(Share::of_a_million)
            .ok_or_else(fault)
    }

    /// Parts of a million.
    pub fn parts(self) -> u32 {
        self.0
    }
}

/// What is asked of a fleet.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Settings {
    /// The seed: another one, another fleet.
    pub seed: u64,
    /// The share of measures that nobody took.
    pub missing: Share,
    /// The share of items that have one value beyond a limit.
    pub faults: Share,
    /// The share of items that have one value at a limit, within its uncertainty.
    pub close: Share,
    /// The last day of measuring; without it a year after the version came into force.
    pub until: Option<Date>,
}

impl Default for Settings {
    fn default() -> Settings {
        Settings {
            seed: 1,
            missing: Share::NONE,
            faults: Share::NONE,
            close: Share(10_000),
            until: None,
        }
    }
}

/// Settings that no fleet can be made by.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum SettingsFault {
    /// A share that is none.
    Share(String),
    /// A last day before the rules are in force.
    Until {
        /// The day that was asked.
        until: Date,
        /// The first day of the rules.
        from: Date,
    },
    /// A class that has no boat that could be made.
    NoBoat,
}

impl fmt::Display for SettingsFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            SettingsFault::Share(text) => write!(
                f,
                "{} is no share; write one from 0 % to 100 %, such as 5 %",
                crate::text::quoted(text)
            ),
            SettingsFault::Until { until, from } => write!(
                f,
                "boats measured until {until} would be measured before these rules are in force, which is from {from}"
            ),
            SettingsFault::NoBoat => {
                write!(
                    f,
                    "no choice of its traits is allowed by all rules of a part"
                )
            }
        }
    }
}

impl std::error::Error for SettingsFault {}
