//! Lengths at the reference temperature of 20 °C (ISO 1), from readings in the cold.
//!
//! A scale of a material that expands by α_t per kelvin, true at 20 °C, and an item that expands by α_i, both at
//! a temperature t, Δt = t − 20 °C: what reads L is at 20 °C
//!
//! L₂₀ = L · (1 + α_t Δt) / (1 + α_i Δt),
//!
//! of which the first order in αΔt is the linear correction L · (α_t − α_i) · Δt. Of 1000 mm of steel at −20 °C
//! read by a true scale the two differ by 0.0002 mm.
//!
//! Source of the formula: definition of the linear expansion coefficient; the reference temperature is that of
//! ISO 1. Sources of the coefficients: [`EXPANSIONS`].

use super::problem::{GeometryProblem, shown};
use crate::quantity::{Exact, Material, Number, Unit};
use crate::uncertainty::{Part, PartKind, Uncertain};

/// The linear expansion of a material near room temperature.
#[derive(Clone, Copy, Debug)]
pub struct Expansion {
    /// Which material.
    pub material: Material,
    /// Its name for people.
    pub title: &'static str,
    /// α in 1e-8 per kelvin.
    alpha: i64,
    /// Half width of the rectangular distribution of α, in 1e-8 per kelvin.
    half_width: i64,
    /// Where α was found.
    pub source: &'static str,
    /// Where its half width comes from.
    pub doubt: &'static str,
}

/// "B.6" in the sources is Table B.6 of a materials-science textbook.
const B_6: &str = "Table B.6 of a materials-science textbook";
const OURS: &str = "assumed: alloys, tempers and tables differ by about as much";
const RANGE: &str = "the range as it was found";

/// Every coefficient that is known here, in the order of [`Material::WORDS`]. Distributions are rectangular.
pub const EXPANSIONS: &[Expansion] = &[
    expansion(
        Material::Steel,
        "carbon steel (1020)",
        (1170, 100),
        B_6,
        OURS,
    ),
    expansion(
        Material::AlloySteel,
        "low-alloy steel (4140)",
        (1230, 100),
        B_6,
        OURS,
    ),
    expansion(
        Material::Stainless,
        "martensitic stainless steel (440A; 440C is within it)",
        (1020, 100),
        B_6,
        OURS,
    ),
    expansion(
        Material::Stainless304,
        "austenitic stainless steel (304)",
        (1720, 100),
        B_6,
        OURS,
    ),
    expansion(
        Material::Aluminium,
        "aluminium (6061)",
        (2360, 100),
        B_6,
        OURS,
    ),
    expansion(
        Material::Spruce,
        "spruce along the grain",
        (380, 70),
        "3.1 to 4.5, a wood handbook, chapter 4, from memory",
        RANGE,
    ),
    expansion(
        Material::DouglasFir,
        "Douglas fir along the grain, 12 % moisture",
        (445, 65),
        "3.8 to 5.1, Table B.6 of a materials-science textbook",
        RANGE,
    ),
    expansion(
        Material::Wood,
        "wood along the grain, any",
        (400, 100),
        "3 to 5, engineering tables",
        RANGE,
    ),
    expansion(
        Material::Carbon,
        "carbon fibre in epoxy along the fibres",
        (-20, 50),
        "-0.2 at 60 % fibres, a composites textbook",
        "assumed: -0.5 (high modulus) to 0.02 was found, and the lay-up is not known",
    ),
    expansion(
        Material::Glass,
        "E-glass in epoxy along the fibres, 60 %",
        (660, 100),
        B_6,
        OURS,
    ),
];

const fn expansion(
    material: Material,
    title: &'static str,
    (alpha, half_width): (i64, i64),
    source: &'static str,
    doubt: &'static str,
) -> Expansion {
    Expansion {
        material,
        title,
        alpha,
        half_width,
        source,
        doubt,
    }
}

/// 1e-8 per kelvin.
const PER_KELVIN: i64 = 100_000_000;

impl Expansion {
    /// The expansion of a material.
    pub fn of(material: Material) -> Option<&'static Expansion> {
        EXPANSIONS.iter().find(|one| one.material == material)
    }

    /// α, per kelvin.
    pub fn alpha(&self) -> Exact {
        Exact::from_fraction(self.alpha, PER_KELVIN).unwrap_or(Exact::ZERO)
    }

    /// Half width of the rectangular distribution of α, per kelvin.
    pub fn half_width(&self) -> Exact {
        Exact::from_fraction(self.half_width, PER_KELVIN).unwrap_or(Exact::ZERO)
    }

    /// The identity of the coefficient as a source of uncertainty: one and the same for tape and item of one
    /// material.
    pub fn identity(&self) -> u32 {
        let mut words = Material::WORDS.iter();
        let at = words.position(|(_, one)| *one == self.material);
        at.and_then(|at| u32::try_from(at).ok()).unwrap_or(u32::MAX)
    }

    fn coefficient(&self) -> Coefficient {
        Coefficient {
            alpha: self.alpha(),
            half_width: self.half_width().to_f64(),
            source: self.identity(),
        }
    }
}

/// A coefficient with its doubt; two of one source are one and the same.
#[derive(Clone, Debug)]
struct Coefficient {
    alpha: Exact,
    half_width: f64,
    source: u32,
}

/// The length at 20 °C of what reads `length` (mm) by a scale of material `tape`, both at `temperature` (K);
/// without a `tape`, by a scale that is true at any temperature. The coefficients' and the temperature's
/// uncertainty are parts of the result; one coefficient that enters twice is one source, so that tape and item
/// of one material cancel.
///
/// # Errors
/// A temperature at which the coefficients don't hold: below -100 °C or above 200 °C.
pub fn at_20_degrees(
    length: &Uncertain,
    tape: Option<Material>,
    item: Material,
    temperature: &Uncertain,
) -> Result<Uncertain, GeometryProblem> {
    holds_at(temperature)?;
    if tape == Some(item) {
        return Ok(length.clone());
    }
    let known = |material| Expansion::of(material).map(Expansion::coefficient);
    let none = Coefficient {
        alpha: Exact::ZERO,
        half_width: 0.0,
        source: u32::MAX,
    };
    let tape = tape.and_then(known).unwrap_or_else(|| none.clone());
    let item = known(item).unwrap_or(none);
    Ok(corrected(length, &tape, &item, temperature))
}

/// 20 °C in kelvin (ISO 1).
pub fn reference_temperature() -> Exact {
    Unit::DEG_C.to_base(&Exact::from_integer(20))
}

/// The correction to first order, in the unit of the length: L · (α_t − α_i) · (t − 20 °C), t in kelvin.
pub fn linear_correction(
    length: &Number,
    tape: Option<Material>,
    item: Material,
    temperature: &Number,
) -> Number {
    let alpha = |material| Expansion::of(material).map_or(Exact::ZERO, Expansion::alpha);
    let difference = tape.map_or(Exact::ZERO, alpha).sub(&alpha(item));
    let by = temperature.sub(&Number::Exact(reference_temperature()));
    length.mul(&Number::Exact(difference)).mul(&by)
}

fn holds_at(temperature: &Uncertain) -> Result<(), GeometryProblem> {
    let kelvin = |degrees: i64| Unit::DEG_C.to_base(&Exact::from_integer(degrees));
    let value = &temperature.value;
    let above = value
        .compare(&Number::Exact(kelvin(-100)))
        .is_some_and(std::cmp::Ordering::is_ge);
    let below = value
        .compare(&Number::Exact(kelvin(200)))
        .is_some_and(std::cmp::Ordering::is_le);
    if above && below {
        return Ok(());
    }
    let zero = Number::Exact(Unit::DEG_C.offset());
    if value.signum() == Some(-1) {
        return Err(GeometryProblem::new(
            "temperature_out_of_range",
            format!("{} degC is below absolute zero", shown(&value.sub(&zero))),
            "a temperature from -100 degC to 200 degC, where the expansion coefficients hold",
        ));
    }
    Err(GeometryProblem::new(
        "temperature_out_of_range",
        format!("the temperature is {} degC", shown(&value.sub(&zero))),
        "the expansion coefficients hold near room temperature: from -100 degC to 200 degC here",
    ))
}

/// L₂₀ with its parts. Partial derivatives, with A = 1 + α_t Δt and B = 1 + α_i Δt: ∂/∂L = A/B,
/// ∂/∂α_t = L Δt/B, ∂/∂α_i = −L Δt A/B², ∂/∂t = L (α_t − α_i)/B².
fn corrected(
    length: &Uncertain,
    tape: &Coefficient,
    item: &Coefficient,
    temperature: &Uncertain,
) -> Uncertain {
    let one = Number::Exact(Exact::ONE);
    let by = temperature
        .value
        .sub(&Number::Exact(reference_temperature()));
    let a = one.add(&by.mul(&Number::Exact(tape.alpha.clone())));
    let b = one.add(&by.mul(&Number::Exact(item.alpha.clone())));
    // Within the range in which the coefficients hold B is about 1.
    let factor = a.checked_div(&b).unwrap_or(one);
    let value = length.value.mul(&factor);
    let (l, by, a, b) = (length.value.to_f64(), by.to_f64(), a.to_f64(), b.to_f64());
    let slope = l * tape.alpha.sub(&item.alpha).to_f64() / (b * b);
    let mut found = Uncertain::linear(value, &[(length, a / b), (temperature, slope)]);
    let table = |coefficient: &Coefficient, derivative: f64| {
        let u = derivative * coefficient.half_width / 3.0_f64.sqrt();
        Part::new(PartKind::Table, coefficient.source, 0, u, f64::INFINITY)
    };
    let parts = [table(tape, l * by / b), table(item, -l * by * a / (b * b))];
    let doubt = parts.into_iter().filter(|part| part.u != 0.0);
    found = found.add(&Uncertain::new(Number::ZERO, doubt));
    // What a bound on the temperature leaves open is not a bound on the length alone.
    if temperature.bound.is_some() && found.bound.is_none() {
        found = found.with_bound(temperature.bound);
    }
    found
}

#[cfg(test)]
#[path = "temperature_tests.rs"]
mod tests;
