//! Units: symbol, dimension and exact factor to the base unit.
//!
//! Factors are definitions: inch 25.4 mm, foot 12 in, pound 0.45359237 kg, ounce 1/16 lb (international
//! yard and pound agreement, 1959); pound-force 4.4482216152605 N, with standard gravity 9.80665 m/s²
//! (NIST SP 811:2008, Appendix B.8); 0 degC is 273.15 K (SI Brochure, 9th edition, 2.3.1), degF is 5/9 K
//! from 459.67 below zero. `min` is a minute of arc; minutes of time are not offered, so that the symbol
//! has one meaning.

use std::fmt;

use num_integer::Integer as _;

use super::dimension::Dimension;
use super::exact::Exact;

/// One row of the table. Factor and offset are fractions; base = (number + offset) · factor.
struct Row {
    symbol: &'static str,
    dimension: Dimension,
    factor: (i64, i64),
    offset: (i64, i64),
}

const fn row(symbol: &'static str, dimension: Dimension, numerator: i64, denominator: i64) -> Row {
    Row {
        symbol,
        dimension,
        factor: (numerator, denominator),
        offset: (0, 1),
    }
}

const COUNT: usize = 32;

/// Every unit with a symbol of its own, in the order of the constants below.
static ROWS: [Row; COUNT] = [
    row("", Dimension::RATIO, 1, 1),
    row("%", Dimension::RATIO, 1, 100),
    row("mm", Dimension::LENGTH, 1, 1),
    row("cm", Dimension::LENGTH, 10, 1),
    row("m", Dimension::LENGTH, 1000, 1),
    row("um", Dimension::LENGTH, 1, 1000),
    row("in", Dimension::LENGTH, 127, 5),
    row("ft", Dimension::LENGTH, 1524, 5),
    row("mm2", Dimension::AREA, 1, 1),
    row("cm2", Dimension::AREA, 100, 1),
    row("m2", Dimension::AREA, 1_000_000, 1),
    row("in2", Dimension::AREA, 16_129, 25),
    row("ft2", Dimension::AREA, 2_322_576, 25),
    row("deg", Dimension::ANGLE, 1, 1),
    row("min", Dimension::ANGLE, 1, 60),
    row("kg", Dimension::MASS, 1, 1),
    row("g", Dimension::MASS, 1, 1000),
    row("lb", Dimension::MASS, 45_359_237, 100_000_000),
    row("oz", Dimension::MASS, 45_359_237, 1_600_000_000),
    row("N", Dimension::FORCE, 1000, 1),
    row("kN", Dimension::FORCE, 1_000_000, 1),
    row("lbf", Dimension::FORCE, 8_896_443_230_521, 2_000_000_000),
    row("HRC", Dimension::HARDNESS_HRC, 1, 1),
    row("HV", Dimension::HARDNESS_HV, 1, 1),
    row("HBW", Dimension::HARDNESS_HBW, 1, 1),
    Row {
        symbol: "degC",
        dimension: Dimension::TEMPERATURE,
        factor: (1, 1),
        offset: (5463, 20),
    },
    Row {
        symbol: "degF",
        dimension: Dimension::TEMPERATURE,
        factor: (5, 9),
        offset: (45_967, 100),
    },
    row("K", Dimension::TEMPERATURE, 1, 1),
    row("days", Dimension::TIME, 86_400, 1),
    row("day", Dimension::TIME, 86_400, 1),
    row("h", Dimension::TIME, 3600, 1),
    row("s", Dimension::TIME, 1, 1),
];

/// Longest text of a quotient, bytes.
const WIDTH: usize = 10;

/// The text of every quotient of two units, so that a symbol is always a static text.
static QUOTIENTS: [[([u8; WIDTH], u8); COUNT]; COUNT] = quotients();

#[expect(
    clippy::indexing_slicing,
    reason = "constant evaluation: a wrong index doesn't compile"
)]
const fn quotients() -> [[([u8; WIDTH], u8); COUNT]; COUNT] {
    let mut table = [[([0_u8; WIDTH], 0_u8); COUNT]; COUNT];
    let mut over = 0;
    while over < COUNT {
        let mut under = 0;
        while under < COUNT {
            let (a, b) = (
                ROWS_SYMBOLS[over].as_bytes(),
                ROWS_SYMBOLS[under].as_bytes(),
            );
            let mut text = [0_u8; WIDTH];
            let mut at = 0;
            while at < a.len() {
                text[at] = a[at];
                at += 1;
            }
            text[at] = b'/';
            at += 1;
            let mut i = 0;
            while i < b.len() {
                text[at] = b[i];
                at += 1;
                i += 1;
            }
            table[over][under] = (text, at as u8);
            under += 1;
        }
        over += 1;
    }
    table
}

/// The symbols alone: a constant may not read a static.
const ROWS_SYMBOLS: [&str; COUNT] = [
    "", "%", "mm", "cm", "m", "um", "in", "ft", "mm2", "cm2", "m2", "in2", "ft2", "deg", "min",
    "kg", "g", "lb", "oz", "N", "kN", "lbf", "HRC", "HV", "HBW", "degC", "degF", "K", "days",
    "day", "h", "s",
];

/// A unit, or the quotient of two.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct Unit {
    over: u8,
    /// 0 is the plain number, that is: no quotient.
    under: u8,
}

macro_rules! units {
    ($($(#[$doc:meta])* $name:ident = $index:literal;)*) => {
        impl Unit { $($(#[$doc])* pub const $name: Unit = Unit { over: $index, under: 0 };)* }
    };
}

units! {
    /// No unit: a plain number.
    PLAIN = 0;
    /// Per cent.
    PERCENT = 1;
    /// Millimetre.
    MM = 2;
    /// Centimetre.
    CM = 3;
    /// Metre.
    M = 4;
    /// Micrometre.
    UM = 5;
    /// Inch.
    IN = 6;
    /// Foot.
    FT = 7;
    /// Square millimetre.
    MM2 = 8;
    /// Square centimetre.
    CM2 = 9;
    /// Square metre.
    M2 = 10;
    /// Square inch.
    IN2 = 11;
    /// Square foot.
    FT2 = 12;
    /// Degree of arc.
    DEG = 13;
    /// Minute of arc.
    ARC_MIN = 14;
    /// Kilogram.
    KG = 15;
    /// Gram.
    G = 16;
    /// Pound.
    LB = 17;
    /// Ounce.
    OZ = 18;
    /// Newton.
    N = 19;
    /// Kilonewton.
    KN = 20;
    /// Pound-force.
    LBF = 21;
    /// Rockwell C.
    HRC = 22;
    /// Vickers.
    HV = 23;
    /// Brinell, hard-metal ball.
    HBW = 24;
    /// Degree Celsius.
    DEG_C = 25;
    /// Degree Fahrenheit.
    DEG_F = 26;
    /// Kelvin.
    K = 27;
    /// Day, as `365 days`.
    DAYS = 28;
    /// Day, as `1 day`.
    DAY = 29;
    /// Hour.
    H = 30;
    /// Second of time.
    S = 31;
}

impl Unit {
    /// Newton per millimetre.
    pub const N_PER_MM: Unit = Unit {
        over: Unit::N.over,
        under: Unit::MM.over,
    };
    /// Newton per metre.
    pub const N_PER_M: Unit = Unit {
        over: Unit::N.over,
        under: Unit::M.over,
    };
    /// Pound-force per inch.
    pub const LBF_PER_IN: Unit = Unit {
        over: Unit::LBF.over,
        under: Unit::IN.over,
    };
    /// Millimetre per kilogram.
    pub const MM_PER_KG: Unit = Unit {
        over: Unit::MM.over,
        under: Unit::KG.over,
    };
    /// Millimetre per metre.
    pub const MM_PER_M: Unit = Unit {
        over: Unit::MM.over,
        under: Unit::M.over,
    };

    /// Every unit with a symbol of its own, the plain number first.
    pub fn all() -> impl Iterator<Item = Unit> {
        (0..COUNT)
            .filter_map(|i| u8::try_from(i).ok())
            .map(|over| Unit { over, under: 0 })
    }

    /// The unit of this symbol, or of a quotient `a/b`; the empty text is the plain number.
    /// `µm` is read as `um`. Exact spelling only: capitals count.
    #[must_use]
    #[inline]
    pub fn from_symbol(symbol: &str) -> Option<Unit> {
        Unit::from_bytes(symbol.as_bytes())
    }

    #[inline]
    pub(super) fn from_bytes(symbol: &[u8]) -> Option<Unit> {
        Some(match symbol {
            b"mm" => Unit::MM,
            b"" => Unit::PLAIN,
            b"%" => Unit::PERCENT,
            b"cm" => Unit::CM,
            b"m" => Unit::M,
            // Micro sign and Greek mu look the same and are both typed.
            b"um" | b"\xC2\xB5m" | b"\xCE\xBCm" => Unit::UM,
            b"in" => Unit::IN,
            b"ft" => Unit::FT,
            b"mm2" => Unit::MM2,
            b"cm2" => Unit::CM2,
            b"m2" => Unit::M2,
            b"in2" => Unit::IN2,
            b"ft2" => Unit::FT2,
            b"deg" => Unit::DEG,
            b"min" => Unit::ARC_MIN,
            b"kg" => Unit::KG,
            b"g" => Unit::G,
            b"lb" => Unit::LB,
            b"oz" => Unit::OZ,
            b"N" => Unit::N,
            b"kN" => Unit::KN,
            b"lbf" => Unit::LBF,
            b"HRC" => Unit::HRC,
            b"HV" => Unit::HV,
            b"HBW" => Unit::HBW,
            b"degC" => Unit::DEG_C,
            b"degF" => Unit::DEG_F,
            b"K" => Unit::K,
            b"days" => Unit::DAYS,
            b"day" => Unit::DAY,
            b"h" => Unit::H,
            b"s" => Unit::S,
            _ => return Unit::quotient_from_bytes(symbol),
        })
    }

    fn quotient_from_bytes(symbol: &[u8]) -> Option<Unit> {
        let slash = symbol.iter().position(|b| *b == b'/')?;
        let (over, under) = (symbol.get(..slash)?, symbol.get(slash + 1..)?);
        if over.is_empty() || under.is_empty() || under.contains(&b'/') {
            return None;
        }
        Unit::from_bytes(over)?.per(Unit::from_bytes(under)?)
    }

    /// The quotient of two units; `None` for one that would have no plain meaning: a temperature with a
    /// zero of its own (write K), a per cent or a hardness below the line, a quotient of quotients.
    #[must_use]
    pub fn per(self, under: Unit) -> Option<Unit> {
        let scale = [Unit::DEG_C, Unit::DEG_F];
        let no_divisor = [Unit::PLAIN, Unit::PERCENT, Unit::HRC, Unit::HV, Unit::HBW];
        let refused = self.under != 0
            || under.under != 0
            || self == Unit::PLAIN
            || scale.contains(&self)
            || scale.contains(&under)
            || no_divisor.contains(&under);
        (!refused).then_some(Unit {
            over: self.over,
            under: under.over,
        })
    }

    fn row(index: u8) -> &'static Row {
        // Indices come from the constants above; the plain number stands in for none.
        static PLAIN: Row = row("", Dimension::RATIO, 1, 1);
        ROWS.get(usize::from(index)).unwrap_or(&PLAIN)
    }

    /// The symbol as it is written and printed: `mm`, `N/mm`; empty for the plain number.
    #[must_use]
    pub fn symbol(self) -> &'static str {
        if self.under == 0 {
            return Unit::row(self.over).symbol;
        }
        let quotient = QUOTIENTS
            .get(usize::from(self.over))
            .and_then(|row| row.get(usize::from(self.under)));
        let Some((text, length)) = quotient else {
            return "";
        };
        let text = text.get(..usize::from(*length)).unwrap_or(&[]);
        std::str::from_utf8(text).unwrap_or("")
    }

    /// The dimension.
    #[must_use]
    pub fn dimension(self) -> Dimension {
        let over = Unit::row(self.over).dimension;
        if self.under == 0 {
            over
        } else {
            over.div(Unit::row(self.under).dimension)
        }
    }

    /// What one of this unit is in base units.
    #[must_use]
    pub fn factor(self) -> Exact {
        let (a, b) = (Unit::row(self.over).factor, Unit::row(self.under).factor);
        let (n, d) = if self.under == 0 {
            (i128::from(a.0), i128::from(a.1))
        } else {
            let (n, d) = (
                i128::from(a.0) * i128::from(b.1),
                i128::from(a.1) * i128::from(b.0),
            );
            match (u64::try_from(n), u64::try_from(d)) {
                // Nearly always, and much faster than in 128 bits.
                (Ok(n), Ok(d)) => {
                    let g = n.gcd(&d).max(1);
                    (i128::from(n / g), i128::from(d / g))
                }
                _ => {
                    let g = n.gcd(&d).max(1);
                    (n / g, d / g)
                }
            }
        };
        Exact::from_fraction(n, d).unwrap_or(Exact::ONE)
    }

    /// Whether one of this unit is one base unit and its zero is the base unit's.
    #[inline]
    pub(super) fn is_base(self) -> bool {
        matches!(
            self,
            Unit::MM
                | Unit::PLAIN
                | Unit::MM2
                | Unit::DEG
                | Unit::KG
                | Unit::HRC
                | Unit::HV
                | Unit::HBW
                | Unit::K
                | Unit::S
        )
    }

    /// What is added to a number in this unit before the factor: 273.15 for degC, 459.67 for degF, else 0.
    #[must_use]
    pub fn offset(self) -> Exact {
        if self.under != 0 {
            return Exact::ZERO;
        }
        let (n, d) = Unit::row(self.over).offset;
        Exact::from_fraction(n, d).unwrap_or(Exact::ZERO)
    }

    /// Whether the unit has a zero of its own (degC, degF).
    #[must_use]
    pub fn has_offset(self) -> bool {
        self == Unit::DEG_C || self == Unit::DEG_F
    }

    /// A number in this unit, in base units.
    #[must_use]
    #[inline]
    pub fn to_base(self, number: &Exact) -> Exact {
        if self.is_base() {
            number.clone()
        } else if self.has_offset() {
            number.add(&self.offset()).mul(&self.factor())
        } else {
            number.mul(&self.factor())
        }
    }

    /// A value in base units, in this unit.
    #[must_use]
    pub fn from_base(self, value: &Exact) -> Exact {
        if self.is_base() {
            return value.clone();
        }
        let number = value.checked_div(&self.factor()).unwrap_or(Exact::ZERO);
        if self.has_offset() {
            number.sub(&self.offset())
        } else {
            number
        }
    }

    /// A difference in base units, in this unit: as [`Unit::from_base`] without the unit's own zero.
    /// For uncertainties, margins, resolutions and steps.
    #[must_use]
    pub fn difference_from_base(self, difference: &Exact) -> Exact {
        difference
            .checked_div(&self.factor())
            .unwrap_or(Exact::ZERO)
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.symbol())
    }
}
