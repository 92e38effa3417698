//! Dimensions: what kind of quantity a number is, so that a mass is never compared with a length.
//!
//! Base units are mm, kg, s, K and deg; a force is kg·mm/s², so 1 N is 1000 and N/mm is consistent with
//! it. A plane angle is kept as an axis of its own, since 1 deg and 1 are different things to a measurer.
//! The three hardness scales are axes too: no factor leads from one to another.

use std::borrow::Cow;

use super::unit::Unit;

const AXES: usize = 8;
const AXIS_NAMES: [&str; AXES] = ["mm", "kg", "s", "K", "deg", "HRC", "HV", "HBW"];

/// The exponent of an axis that left the range ±127. It stays there: such a dimension fits nothing.
const BEYOND: i8 = i8::MIN;

/// Exponents of length, mass, time, temperature, plane angle and the three hardness scales.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct Dimension([i8; AXES]);

impl Dimension {
    /// A plain number, a percentage, a quotient of like quantities.
    pub const RATIO: Dimension = Dimension([0, 0, 0, 0, 0, 0, 0, 0]);
    /// mm.
    pub const LENGTH: Dimension = Dimension([1, 0, 0, 0, 0, 0, 0, 0]);
    /// mm².
    pub const AREA: Dimension = Dimension([2, 0, 0, 0, 0, 0, 0, 0]);
    /// kg.
    pub const MASS: Dimension = Dimension([0, 1, 0, 0, 0, 0, 0, 0]);
    /// s.
    pub const TIME: Dimension = Dimension([0, 0, 1, 0, 0, 0, 0, 0]);
    /// K.
    pub const TEMPERATURE: Dimension = Dimension([0, 0, 0, 1, 0, 0, 0, 0]);
    /// deg.
    pub const ANGLE: Dimension = Dimension([0, 0, 0, 0, 1, 0, 0, 0]);
    /// kg·mm/s².
    pub const FORCE: Dimension = Dimension([1, 1, -2, 0, 0, 0, 0, 0]);
    /// Force per length, kg/s².
    pub const STIFFNESS: Dimension = Dimension([0, 1, -2, 0, 0, 0, 0, 0]);
    /// Length per mass: how far something sinks under a load that is stated as a mass.
    pub const SINKING: Dimension = Dimension([1, -1, 0, 0, 0, 0, 0, 0]);
    /// Rockwell C.
    pub const HARDNESS_HRC: Dimension = Dimension([0, 0, 0, 0, 0, 1, 0, 0]);
    /// Vickers.
    pub const HARDNESS_HV: Dimension = Dimension([0, 0, 0, 0, 0, 0, 1, 0]);
    /// Brinell, hard-metal ball.
    pub const HARDNESS_HBW: Dimension = Dimension([0, 0, 0, 0, 0, 0, 0, 1]);

    /// The dimension of a product.
    #[must_use]
    pub const fn mul(self, other: Dimension) -> Dimension {
        self.combine(other, 1)
    }

    /// The dimension of a quotient.
    #[must_use]
    pub const fn div(self, other: Dimension) -> Dimension {
        self.combine(other, -1)
    }

    /// The dimension of a power.
    #[must_use]
    pub const fn pow(self, exponent: i8) -> Dimension {
        Dimension::RATIO.combine(self, exponent as i32)
    }

    /// The dimension of a square root; `None` when an exponent is odd.
    #[must_use]
    pub fn sqrt(self) -> Option<Dimension> {
        let whole = self.0.iter().all(|e| *e != BEYOND && e % 2 == 0);
        whole.then(|| Dimension(self.0.map(|e| e / 2)))
    }

    #[expect(
        clippy::indexing_slicing,
        reason = "constant function over a fixed number of axes"
    )]
    const fn combine(self, other: Dimension, times: i32) -> Dimension {
        let mut result = self.0;
        let mut axis = 0;
        while axis < AXES {
            let (a, b) = (self.0[axis], other.0[axis]);
            let sum = a as i32 + b as i32 * times;
            let lost = a == BEYOND || b == BEYOND || sum < -127 || sum > 127;
            result[axis] = if lost { BEYOND } else { sum as i8 };
            axis += 1;
        }
        Dimension(result)
    }

    /// Whether every exponent is within ±127. A dimension outside matches no quantity.
    #[must_use]
    pub fn is_in_range(self) -> bool {
        !self.0.contains(&BEYOND)
    }

    /// The kind of quantity with its article: "a length", "an angle", "a plain number".
    #[must_use]
    pub fn in_words(self) -> Cow<'static, str> {
        Cow::Borrowed(match self {
            Dimension::RATIO => "a plain number",
            Dimension::LENGTH => "a length",
            Dimension::AREA => "an area",
            Dimension::MASS => "a mass",
            Dimension::TIME => "a time",
            Dimension::TEMPERATURE => "a temperature",
            Dimension::ANGLE => "an angle",
            Dimension::FORCE => "a force",
            Dimension::STIFFNESS => "a stiffness",
            Dimension::SINKING => "a length per mass",
            Dimension::HARDNESS_HRC => "a Rockwell C hardness",
            Dimension::HARDNESS_HV => "a Vickers hardness",
            Dimension::HARDNESS_HBW => "a Brinell hardness",
            other => return Cow::Owned(format!("a quantity in {}", other.base_symbol())),
        })
    }

    /// The base units of this dimension as text: `kg mm/s2`. For kinds of quantity that have no unit of
    /// their own here.
    #[must_use]
    pub fn base_symbol(self) -> String {
        if !self.is_in_range() {
            return "a power beyond 127".to_owned();
        }
        let part = |sign: i32| {
            let mut words = Vec::new();
            for (name, exponent) in AXIS_NAMES.iter().zip(self.0) {
                match i32::from(exponent) * sign {
                    1 => words.push((*name).to_owned()),
                    e if e > 1 => words.push(format!("{name}{e}")),
                    _ => {}
                }
            }
            words
        };
        let (over, under) = (part(1), part(-1));
        let over = if over.is_empty() {
            "1".to_owned()
        } else {
            over.join(" ")
        };
        if under.is_empty() {
            over
        } else {
            format!("{over}/{}", under.join("/"))
        }
    }

    /// The units in which a quantity of this kind is usually written, the likeliest first; empty when
    /// there is none.
    #[must_use]
    pub fn likely_units(self) -> &'static [Unit] {
        match self {
            Dimension::RATIO => &[Unit::PLAIN, Unit::PERCENT],
            Dimension::LENGTH => &[Unit::MM, Unit::IN, Unit::M, Unit::CM, Unit::UM, Unit::FT],
            Dimension::AREA => &[Unit::M2, Unit::MM2, Unit::CM2, Unit::IN2, Unit::FT2],
            Dimension::MASS => &[Unit::KG, Unit::G, Unit::LB, Unit::OZ],
            Dimension::TIME => &[Unit::DAYS, Unit::H, Unit::S],
            Dimension::TEMPERATURE => &[Unit::DEG_C, Unit::DEG_F, Unit::K],
            Dimension::ANGLE => &[Unit::DEG, Unit::ARC_MIN],
            Dimension::FORCE => &[Unit::N, Unit::KN, Unit::LBF],
            Dimension::STIFFNESS => &[Unit::N_PER_MM, Unit::N_PER_M, Unit::LBF_PER_IN],
            Dimension::SINKING => &[Unit::MM_PER_KG],
            Dimension::HARDNESS_HRC => &[Unit::HRC],
            Dimension::HARDNESS_HV => &[Unit::HV],
            Dimension::HARDNESS_HBW => &[Unit::HBW],
            _ => &[],
        }
    }
}
