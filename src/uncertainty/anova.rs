//! Analysis of variance: what part of the scatter of readings comes from where.
//!
//! One way: groups of readings, such as days (JCGM 100:2008, H.5). Two ways with interaction: people × items ×
//! readings, each person reading each item equally often, from which the repeatability and the reproducibility of
//! a way of measuring follow. Sums of squares are exact for exact readings; only their quotients and roots are
//! floating point. Everything is in the units of the readings.

use statrs::function::beta::checked_beta_reg;

use super::part::{Combined, welch_satterthwaite};
use crate::quantity::Exact;

/// Sum of squares, degrees of freedom and what follows from them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Square {
    /// Sum of squares.
    pub sum: f64,
    /// Degrees of freedom.
    pub nu: u32,
}

impl Square {
    /// The mean square.
    #[must_use]
    pub fn mean(&self) -> f64 {
        self.sum / f64::from(self.nu)
    }
}

/// One-way analysis of variance.
#[derive(Clone, Debug)]
pub struct OneWay {
    /// The mean of all readings.
    pub mean: Exact,
    /// Number of readings.
    pub count: u32,
    /// Number of groups.
    pub groups: u32,
    /// Between groups.
    pub between: Square,
    /// Within groups.
    pub within: Square,
    /// Readings in each group, where all have the same number.
    pub each: Option<u32>,
    /// Between groups over all.
    pub r_squared: f64,
}

/// Sum of squared deviations from the mean, and the mean: Σ(x − x̄)² exactly.
fn scatter<'a>(readings: impl IntoIterator<Item = &'a Exact>) -> Option<(Exact, Exact, u32)> {
    let mut readings = readings.into_iter();
    let first = readings.next()?;
    let (mut n, mut sum, mut squares) = (1_u32, Exact::ZERO, Exact::ZERO);
    for one in readings {
        let d = one.sub(first);
        squares = squares.add(&d.mul(&d));
        sum = sum.add(&d);
        n += 1;
    }
    let mean = sum.checked_div(&Exact::from_integer(i64::from(n)))?;
    Some((first.add(&mean), squares.sub(&sum.mul(&mean)), n))
}

/// One-way analysis of variance over groups of readings; `None` for fewer than two groups with a reading, or
/// without two readings in any of them.
///
/// Source: JCGM 100:2008, H.5.2.
#[must_use]
pub fn one_way(groups: &[Vec<Exact>]) -> Option<OneWay> {
    let groups: Vec<&Vec<Exact>> = groups.iter().filter(|one| !one.is_empty()).collect();
    let (mean, total, count) = scatter(groups.iter().copied().flatten())?;
    let own: Vec<(Exact, Exact, u32)> = groups
        .iter()
        .map(|one| scatter(one.iter()))
        .collect::<Option<_>>()?;
    let within = own
        .iter()
        .fold(Exact::ZERO, |sum, (_, own, _)| sum.add(own));
    let number = u32::try_from(groups.len()).ok()?;
    let nu = count.checked_sub(number)?;
    if number < 2 || nu == 0 {
        return None;
    }
    let between = total.sub(&within);
    let each = own.first().map(|(_, _, n)| *n);
    let share = between.checked_div(&total);
    Some(OneWay {
        mean,
        count,
        groups: number,
        between: Square {
            sum: between.to_f64(),
            nu: number - 1,
        },
        within: Square {
            sum: within.to_f64(),
            nu,
        },
        each: each.filter(|n| own.iter().all(|(_, _, other)| other == n)),
        r_squared: share.map_or(0.0, |share| share.to_f64()),
    })
}

impl OneWay {
    /// F = s_a²/s_b²; `None` where nothing scatters within the groups.
    #[must_use]
    pub fn f(&self) -> Option<f64> {
        let within = self.within.mean();
        (within > 0.0).then(|| self.between.mean() / within)
    }

    /// The standard deviation between groups, s_B, of groups of equal size; 0 where the estimate of its square is
    /// below zero. Source: JCGM 100:2008, H.5.2.3, formula H.25b.
    #[must_use]
    pub fn between_deviation(&self) -> Option<f64> {
        let n = f64::from(self.each?);
        Some(
            ((self.between.mean() - self.within.mean()) / n)
                .max(0.0)
                .sqrt(),
        )
    }

    /// The standard uncertainty of the mean of all readings: with the groups' effect in it, by the scatter of the
    /// groups' means; without it, by that of all readings. Source: JCGM 100:2008, H.5.2.5.
    #[must_use]
    pub fn mean_uncertainty(&self, with_groups: bool) -> Combined {
        let count = f64::from(self.count);
        let (square, nu) = if with_groups {
            (self.between.mean(), self.between.nu)
        } else {
            let nu = self.between.nu + self.within.nu;
            ((self.between.sum + self.within.sum) / f64::from(nu), nu)
        };
        Combined {
            u: (square / count).sqrt(),
            nu: f64::from(nu),
        }
    }
}

/// P(F ≥ f) of the F distribution with ν₁ and ν₂ degrees of freedom: the regularised incomplete beta function
/// I_x(ν₂/2, ν₁/2) with x = ν₂/(ν₂ + ν₁ f). `None` outside its domain.
#[must_use]
pub fn f_tail(f: f64, nu_1: u32, nu_2: u32) -> Option<f64> {
    if nu_1 == 0 || nu_2 == 0 || f.is_nan() {
        return None;
    }
    let (a, b) = (f64::from(nu_1), f64::from(nu_2));
    if f <= 0.0 {
        return Some(1.0);
    }
    if f.is_infinite() {
        return Some(0.0);
    }
    checked_beta_reg(b / 2.0, a / 2.0, b / (b + a * f)).ok()
}

/// The F that is exceeded with a probability, above 0 and below 1, by halving.
#[must_use]
pub fn f_quantile(exceeded: f64, nu_1: u32, nu_2: u32) -> Option<f64> {
    if !(exceeded > 0.0 && exceeded < 1.0) {
        return None;
    }
    let (mut low, mut high) = (0.0, 1.0);
    while f_tail(high, nu_1, nu_2)? > exceeded {
        low = high;
        high *= 2.0;
        if high > 1e300 {
            return None;
        }
    }
    for _ in 0..200 {
        let middle = low + (high - low) / 2.0;
        if f_tail(middle, nu_1, nu_2)? > exceeded {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(high)
}

/// A line of a study's table.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Effect {
    /// The items differ.
    Items,
    /// The people read differently.
    People,
    /// People differ from item to item.
    Interaction,
    /// One person reads one item differently each time.
    Repeats,
}

impl Effect {
    /// In the order of the table.
    pub const ALL: [Effect; 4] = [
        Effect::Items,
        Effect::People,
        Effect::Interaction,
        Effect::Repeats,
    ];

    /// The word in JSON.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Effect::Items => "items",
            Effect::People => "people",
            Effect::Interaction => "interaction",
            Effect::Repeats => "repeats",
        }
    }
}

/// A crossed study: people × items × readings.
#[derive(Clone, Debug)]
pub struct Study {
    /// People, at least 2.
    pub people: u32,
    /// Items, at least 2.
    pub items: u32,
    /// Readings of each person on each item, at least 2.
    pub repeats: u32,
    /// By [`Effect::ALL`].
    pub squares: [Square; 4],
    /// P(F ≥ f) of the interaction over the repeats; `None` where the repeats don't scatter.
    pub interaction_p: Option<f64>,
    /// Whether the interaction was pooled with the repeats.
    pub pooled: bool,
    /// Variance components by [`Effect::ALL`], none below zero.
    pub components: [f64; 4],
    /// Effects whose estimate came out below zero and counts as none.
    pub set_to_zero: Vec<Effect>,
}

/// Above this P(F) the interaction counts as scatter and is pooled with it: common practice, no source.
pub const POOL_ABOVE: f64 = 0.25;

/// Why there is no study of readings.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum StudyFault {
    /// Fewer than two people.
    OnePerson,
    /// Fewer than two items.
    OneItem,
    /// One reading each.
    OneReading,
    /// A person read an item so often, where another cell has so many: person, item, readings, others' number.
    Unequal(usize, usize, usize, usize),
}

/// Two-way analysis of variance with interaction, `cells[person][item]` the readings. People and items count as
/// drawn at random: a measurer is one of many.
///
/// # Errors
/// Fewer than two people, items or readings; people who did not read all items equally often.
pub fn study(cells: &[Vec<Vec<Exact>>]) -> Result<Study, StudyFault> {
    let people = cells.len();
    let items = cells.iter().map(Vec::len).max().unwrap_or(0);
    let most = cells.iter().flatten().map(Vec::len).max().unwrap_or(0);
    for (person, row) in cells.iter().enumerate() {
        for item in 0..items {
            let count = row.get(item).map_or(0, Vec::len);
            if count != most {
                return Err(StudyFault::Unequal(person, item, count, most));
            }
        }
    }
    if people < 2 {
        return Err(StudyFault::OnePerson);
    }
    if items < 2 {
        return Err(StudyFault::OneItem);
    }
    if most < 2 {
        return Err(StudyFault::OneReading);
    }
    let flat: Vec<Vec<Exact>> = cells.iter().flatten().cloned().collect();
    let by_person: Vec<Vec<Exact>> = cells.iter().map(|row| row.concat()).collect();
    let by_item: Vec<Vec<Exact>> = (0..items)
        .map(|item| {
            cells
                .iter()
                .filter_map(|row| row.get(item))
                .flatten()
                .cloned()
                .collect()
        })
        .collect();
    // A sum of squares between groups, exactly, by any grouping.
    let between = |groups: &[Vec<Exact>]| {
        let (_, total, _) = scatter(groups.iter().flatten())?;
        let within = groups
            .iter()
            .map(|one| scatter(one.iter()).map(|(_, own, _)| own));
        let within = within.sum::<Option<Exact>>()?;
        Some((total.sub(&within), within))
    };
    let sums = between(&flat)
        .zip(between(&by_person))
        .zip(between(&by_item));
    let Some((((cell, within), (person, _)), (item, _))) = sums else {
        return Err(StudyFault::OneReading);
    };
    let interaction = cell.sub(&person).sub(&item);
    let count = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
    let (p, i, n) = (count(people), count(items), count(most));
    let square = |sum: &Exact, nu: u32| Square {
        sum: sum.to_f64(),
        nu,
    };
    let squares = [
        square(&item, i - 1),
        square(&person, p - 1),
        square(&interaction, (i - 1) * (p - 1)),
        square(&within, i * p * (n - 1)),
    ];
    Ok(Study::of(p, i, n, squares))
}

impl Study {
    fn of(people: u32, items: u32, repeats: u32, squares: [Square; 4]) -> Study {
        let [by_item, by_person, both, within] = squares;
        let interaction_p = (within.sum > 0.0)
            .then(|| f_tail(both.mean() / within.mean(), both.nu, within.nu))
            .flatten();
        let pooled = interaction_p.is_some_and(|p| p > POOL_ABOVE);
        let error = if pooled {
            Square {
                sum: both.sum + within.sum,
                nu: both.nu + within.nu,
            }
        } else {
            within
        };
        let over = if pooled { error } else { both };
        let (p, i, n) = (f64::from(people), f64::from(items), f64::from(repeats));
        let estimates = [
            (by_item.mean() - over.mean()) / (p * n),
            (by_person.mean() - over.mean()) / (i * n),
            if pooled {
                0.0
            } else {
                (both.mean() - error.mean()) / n
            },
            error.mean(),
        ];
        let below = Effect::ALL.into_iter().zip(estimates);
        let set_to_zero = below
            .filter(|(_, found)| *found < 0.0)
            .map(|(effect, _)| effect);
        Study {
            people,
            items,
            repeats,
            squares,
            interaction_p,
            pooled,
            set_to_zero: set_to_zero.collect(),
            components: estimates.map(|found| found.max(0.0)),
        }
    }

    /// The mean square of the scatter, pooled or not.
    #[must_use]
    pub fn error(&self) -> Square {
        let [_, _, both, within] = self.squares;
        if self.pooled {
            Square {
                sum: both.sum + within.sum,
                nu: both.nu + within.nu,
            }
        } else {
            within
        }
    }

    /// The standard deviation of repeats by one person on one item, s_r.
    #[must_use]
    pub fn repeatability(&self) -> f64 {
        let [_, _, _, repeats] = self.components;
        repeats.sqrt()
    }

    /// The standard deviation of single readings by different people on one item, s_R: repeats, people and
    /// interaction together.
    #[must_use]
    pub fn reproducibility(&self) -> f64 {
        let [_, people, both, repeats] = self.components;
        (people + both + repeats).sqrt()
    }

    /// The method's own standard uncertainty for the mean of `readings` by one person, whoever it is, on one item:
    /// u² = σ²(people) + σ²(interaction) + σ²(repeats)/n. It is a sum of multiples of mean squares, whose degrees
    /// of freedom combine by Welch–Satterthwaite (JCGM 100:2008, G.4); where people came out as no source, the
    /// scatter alone counts.
    #[must_use]
    pub fn method(&self, readings: u32) -> Combined {
        let [_, by_person, both, _] = self.squares;
        let [_, people, interaction, _] = self.components;
        let error = self.error();
        let (i, n) = (f64::from(self.items), f64::from(self.repeats));
        // Factors of the mean squares of people, interaction and scatter.
        let mut factors = [0.0, 0.0, 1.0 / f64::from(readings.max(1))];
        if people > 0.0 {
            let [a, b, c] = &mut factors;
            *a += 1.0 / (i * n);
            if self.pooled {
                *c -= 1.0 / (i * n);
            } else {
                *b -= 1.0 / (i * n);
            }
        }
        if interaction > 0.0 {
            let [_, b, c] = &mut factors;
            *b += 1.0 / n;
            *c -= 1.0 / n;
        }
        let squares = [by_person, both, error];
        // A factor below zero takes variance away; its doubt counts as any other's (G.4 adds fourth powers).
        let parts = squares.iter().zip(factors).map(|(square, factor)| {
            let variance = square.mean() * factor;
            (variance, f64::from(square.nu))
        });
        let parts: Vec<(f64, f64)> = parts.filter(|(variance, _)| *variance != 0.0).collect();
        let variance: f64 = parts.iter().map(|(variance, _)| variance).sum();
        if variance <= 0.0 {
            return Combined::ZERO;
        }
        if parts.iter().all(|(variance, _)| *variance > 0.0) {
            let parts: Vec<(f64, f64)> = parts.iter().map(|(v, nu)| (v.sqrt(), *nu)).collect();
            return welch_satterthwaite(&parts);
        }
        let weight = parts.iter().map(|(own, nu)| (own / variance).powi(2) / nu);
        Combined {
            u: variance.sqrt(),
            nu: weight.sum::<f64>().recip(),
        }
    }
}

#[cfg(test)]
#[path = "anova_tests.rs"]
mod tests;
