//! Words for what published tables are kept of: hardness scales, and materials with a known expansion.
//!
//! The words alone: the tables stand where they are computed with.

use super::dimension::Dimension;
use super::unit::Unit;

macro_rules! table_words {
    ($name:ident: $($variant:ident = $word:literal)*) => {
        impl $name {
            /// Every one with its word.
            pub const WORDS: &'static [(&'static str, $name)] = &[$(($word, $name::$variant),)*];

            /// The word it is written with.
            #[must_use]
            pub fn word(self) -> &'static str {
                match self { $($name::$variant => $word,)* }
            }

            /// The one of this word.
            #[must_use]
            pub fn named(word: &str) -> Option<$name> {
                $name::WORDS.iter().find(|(known, _)| *known == word).map(|(_, one)| *one)
            }
        }
    };
}

/// A hardness scale that a published table leads to and from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum HardnessScale {
    /// Rockwell C.
    Hrc,
    /// Vickers.
    Hv,
    /// Brinell with a hard-metal ball.
    Hbw,
}

table_words! { HardnessScale: Hrc = "hrc" Hv = "hv" Hbw = "hbw" }

impl HardnessScale {
    /// The dimension of its numbers.
    #[must_use]
    pub fn dimension(self) -> Dimension {
        match self {
            HardnessScale::Hrc => Dimension::HARDNESS_HRC,
            HardnessScale::Hv => Dimension::HARDNESS_HV,
            HardnessScale::Hbw => Dimension::HARDNESS_HBW,
        }
    }

    /// The unit its numbers are written with.
    #[must_use]
    pub fn unit(self) -> Unit {
        match self {
            HardnessScale::Hrc => Unit::HRC,
            HardnessScale::Hv => Unit::HV,
            HardnessScale::Hbw => Unit::HBW,
        }
    }

    /// The scale whose numbers have a dimension.
    #[must_use]
    pub fn of(dimension: Dimension) -> Option<HardnessScale> {
        let all = HardnessScale::WORDS.iter().map(|(_, scale)| *scale);
        all.into_iter().find(|scale| scale.dimension() == dimension)
    }
}

/// A material whose linear expansion is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Material {
    /// Carbon steel.
    Steel,
    /// Low-alloy steel.
    AlloySteel,
    /// Martensitic stainless steel, which can be hardened.
    Stainless,
    /// Austenitic stainless steel, which can't.
    Stainless304,
    /// Aluminium alloy.
    Aluminium,
    /// Spruce along the grain.
    Spruce,
    /// Douglas fir along the grain.
    DouglasFir,
    /// Wood along the grain, of whatever kind.
    Wood,
    /// Carbon fibre in epoxy along the fibres.
    Carbon,
    /// E-glass in epoxy along the fibres.
    Glass,
}

table_words! { Material:
    Steel = "steel"
    AlloySteel = "alloy_steel"
    Stainless = "stainless"
    Stainless304 = "stainless_304"
    Aluminium = "aluminium"
    Spruce = "spruce"
    DouglasFir = "douglas_fir"
    Wood = "wood"
    Carbon = "carbon"
    Glass = "glass"
}
