//! The distributions that stand behind a standard uncertainty, and what a stated figure is divided by
//! (JCGM 100:2008, 4.3; JCGM 101:2008, Table 1).

/// The distribution that is assumed of a source.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Distribution {
    /// Normal: an expanded uncertainty with its coverage factor (JCGM 100:2008, 4.3.3).
    Normal,
    /// Scaled and shifted t: the mean of repeats (JCGM 101:2008, 6.4.9).
    StudentT,
    /// Equally likely between two borders (JCGM 100:2008, 4.3.7).
    Rectangular,
    /// Falling evenly from the middle to both borders (JCGM 100:2008, 4.3.9).
    Triangular,
    /// That of a cycle, most likely at its borders (JCGM 101:2008, 6.4.6).
    ArcSine,
    /// A top of width β times the base, 0 ≤ β ≤ 1 (JCGM 100:2008, 4.3.9).
    Trapezoidal {
        /// Width of the top over that of the base.
        beta: f64,
    },
}

impl Distribution {
    /// What people call it.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Distribution::Normal => "normal",
            Distribution::StudentT => "Student t",
            Distribution::Rectangular => "rectangular",
            Distribution::Triangular => "triangular",
            Distribution::ArcSine => "arc sine",
            Distribution::Trapezoidal { .. } => "trapezoidal",
        }
    }

    /// The word for programs.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Distribution::Normal => "normal",
            Distribution::StudentT => "student_t",
            Distribution::Rectangular => "rectangular",
            Distribution::Triangular => "triangular",
            Distribution::ArcSine => "arc_sine",
            Distribution::Trapezoidal { .. } => "trapezoidal",
        }
    }

    /// What its half width a is divided by to give its standard deviation; `None` where it has no borders.
    /// A resolution is a full width of 2a: √12 = 2·√3.
    ///
    /// Source: JCGM 100:2008, 4.3.7 (√3) and formulas 9a, 9b (√(6/(1 + β²)), √6); JCGM 101:2008, 6.4.6 (√2).
    #[must_use]
    pub fn divisor(self) -> Option<f64> {
        match self {
            Distribution::Normal | Distribution::StudentT => None,
            Distribution::Rectangular => Some(3.0_f64.sqrt()),
            Distribution::Triangular => Some(6.0_f64.sqrt()),
            Distribution::ArcSine => Some(2.0_f64.sqrt()),
            Distribution::Trapezoidal { beta } => Some((6.0 / (1.0 + beta * beta)).sqrt()),
        }
    }
}

/// What is stated of a source, a difference in base units, and how a standard uncertainty comes of it.
#[expect(non_snake_case, reason = "U is the letter of the GUM")]
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Stated {
    /// Half width a, divided by the distribution's divisor.
    HalfWidth(f64),
    /// Half width a of which a part is in the budget already: u² is what is left of a²/divisor².
    HalfWidthBeyond {
        /// Half width.
        a: f64,
        /// Standard uncertainty that counts by itself.
        already: f64,
    },
    /// An expanded uncertainty U, divided by its coverage factor k.
    Expanded {
        /// Expanded uncertainty.
        U: f64,
        /// Coverage factor.
        k: f64,
    },
    /// Standard deviation s of one reading, divided by √n for the mean of n.
    StandardDeviation {
        /// Standard deviation of one reading.
        s: f64,
        /// Readings behind the mean.
        n: u32,
    },
    /// A standard uncertainty.
    Standard(f64),
    /// Nothing is stated: what the source gives to the result was computed with it.
    InResult,
}

impl Stated {
    /// The figure; `None` where nothing is stated.
    #[must_use]
    pub fn figure(self) -> Option<f64> {
        match self {
            Stated::HalfWidth(a) | Stated::HalfWidthBeyond { a, .. } => Some(a),
            Stated::Expanded { U, .. } => Some(U),
            Stated::StandardDeviation { s, .. } => Some(s),
            Stated::Standard(u) => Some(u),
            Stated::InResult => None,
        }
    }

    /// What the figure is divided by; `None` where a part of it counts by itself, or nothing is stated.
    #[must_use]
    pub fn divisor(self, distribution: Distribution) -> Option<f64> {
        match self {
            Stated::HalfWidth(_) => distribution.divisor(),
            Stated::Expanded { k, .. } => Some(k),
            Stated::StandardDeviation { n, .. } => Some(f64::from(n.max(1)).sqrt()),
            Stated::Standard(_) => Some(1.0),
            Stated::HalfWidthBeyond { .. } | Stated::InResult => None,
        }
    }

    /// The standard uncertainty; `None` where nothing is stated. A half width of a distribution without borders
    /// counts as it stands.
    #[must_use]
    pub fn u(self, distribution: Distribution) -> Option<f64> {
        match self {
            Stated::HalfWidthBeyond { a, already } => {
                let all = a / distribution.divisor().unwrap_or(1.0);
                Some((all * all - already * already).max(0.0).sqrt())
            }
            Stated::HalfWidth(_)
            | Stated::Expanded { .. }
            | Stated::StandardDeviation { .. }
            | Stated::Standard(_)
            | Stated::InResult => Some(self.figure()? / self.divisor(distribution).unwrap_or(1.0)),
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    /// Divisors as standard deviations (recomputed): of half width 1, of half width 3 for the arc sine, of resolution 1.
    #[test]
    fn standard_deviations_of_half_width_one() {
        let rows = [
            (Distribution::Rectangular, 1.0, 0.577_350),
            (Distribution::Triangular, 1.0, 0.408_248),
            (Distribution::ArcSine, 3.0, 2.121_320),
            (Distribution::Rectangular, 0.5, 0.288_675),
            (Distribution::Trapezoidal { beta: 0.5 }, 1.0, 0.456_435),
        ];
        for (distribution, a, expected) in rows {
            let found = Stated::HalfWidth(a).u(distribution).unwrap();
            assert!((found - expected).abs() < 5e-7, "{distribution:?}: {found}");
        }
        // The borders of the trapezoid's family: β = 1 is rectangular, β = 0 triangular.
        let trapezoid = |beta| Distribution::Trapezoidal { beta }.divisor();
        assert_eq!(trapezoid(1.0), Distribution::Rectangular.divisor());
        assert_eq!(trapezoid(0.0), Distribution::Triangular.divisor());
        assert_eq!(Distribution::Normal.divisor(), None);
    }

    #[test]
    fn what_is_stated_gives_its_standard_uncertainty() {
        let normal = Distribution::Normal;
        let expanded = Stated::Expanded { U: 0.075, k: 3.0 };
        assert!((expanded.u(normal).unwrap() - 0.025).abs() < 1e-17);
        let scatter = Stated::StandardDeviation { s: 0.002, n: 4 };
        assert_eq!(scatter.u(Distribution::StudentT), Some(0.001));
        let beyond = Stated::HalfWidthBeyond {
            a: 3.0_f64.sqrt() * 5.0,
            already: 3.0,
        };
        let u = beyond.u(Distribution::Rectangular).unwrap();
        assert!((u - 4.0).abs() < 1e-14, "{u}");
        let less = Stated::HalfWidthBeyond {
            a: 1.0,
            already: 3.0,
        };
        assert_eq!(less.u(Distribution::Rectangular), Some(0.0));
        assert_eq!(Stated::InResult.u(normal), None);
    }
}
