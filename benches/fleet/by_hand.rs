//! The rules of `rules.yaml` written out in Rust for these rules alone: typed structs over `serde_json` with
//! borrowed texts, whole numbers of millionths for what was read, floating point for everything else. It
//! knows one purpose (certification), one spelling of each value, and no words: what it can't read is broken.
//!
//! It computes what the library computes: exact means, pooled repeats, the uncertainty of each value with
//! what its readings share, k from t, the method's floor, evidence, places, and the outcome of every rule.

use rimegauge::uncertainty::Coverage;
use serde::Deserialize;
use serde::de::{Deserializer, MapAccess, Visitor};

/// Outcomes, worst first: does not conform, not decided, conforms, does not apply.
const NO: usize = 0;
const OPEN: usize = 1;
const YES: usize = 2;
const APART: usize = 3;

/// How many rules there are.
pub const RULES: usize = 20;

/// Counts of outcomes.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Counts {
    /// Boats by outcome.
    pub boats: [u64; 4],
    /// Findings by rule and outcome.
    pub rules: [[u64; 4]; RULES],
    /// Lines that could not be read.
    pub broken: u64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Record<'a> {
    format: &'a str,
    class: &'a str,
    #[serde(borrow)]
    boat: Boat<'a>,
    measured: Measured<'a>,
    instruments: Instruments<'a>,
    runners: Vec<Runner<'a>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Boat<'a> {
    sail_number: &'a str,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Measured<'a> {
    day: &'a str,
    by: Option<&'a str>,
}

/// Instruments in the order of the record; a boat has a handful.
struct Instruments<'a>(Vec<(&'a str, Instrument<'a>)>);

impl<'de: 'a, 'a> Deserialize<'de> for Instruments<'a> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct All;
        impl<'de> Visitor<'de> for All {
            type Value = Instruments<'de>;
            fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str("instruments")
            }
            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Self::Value, A::Error> {
                let mut found = Vec::with_capacity(8);
                while let Some(entry) = map.next_entry()? {
                    found.push(entry);
                }
                Ok(Instruments(found))
            }
        }
        deserializer.deserialize_map(All)
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Instrument<'a> {
    kind: &'a str,
    resolution: Option<&'a str>,
    max_permissible_error: Option<&'a str>,
    repeatability: Option<&'a str>,
    #[serde(borrow)]
    calibration: Option<Calibration<'a>>,
    #[serde(borrow, default)]
    checks: Vec<Check<'a>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Calibration<'a> {
    #[expect(dead_code, reason = "read, and of no effect")]
    day: Option<&'a str>,
    due: Option<&'a str>,
    correction: Option<&'a str>,
    expanded_uncertainty: Option<&'a str>,
    k: Option<f64>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Check<'a> {
    taken: &'a str,
    reference: &'a str,
    reading: &'a str,
    accept_within: &'a str,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Runner<'a> {
    id: &'a str,
    position: &'a str,
    construction: &'a str,
    #[serde(borrow)]
    built: Built<'a>,
    toe_at: Option<Series<'a>>,
    heel_at: Option<Series<'a>>,
    steel_thickness: Option<Series<'a>>,
    exposed_depth: Option<Series<'a>>,
    hardness: Option<Series<'a>>,
    edge_section: Option<Sections<'a>>,
    body_thickness: Option<Series<'a>>,
    pivot_height: Option<Series<'a>>,
    pivot_hole: Option<Series<'a>>,
    mass: Option<Series<'a>>,
    nose_rounded: Option<&'a str>,
    label_engraved: Option<&'a str>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Built<'a> {
    date: &'a str,
    #[expect(dead_code, reason = "read, and of no effect")]
    proof: Option<&'a str>,
    seen_by: Option<&'a str>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Series<'a> {
    with: &'a str,
    taken: Option<&'a str>,
    readings: Option<&'a str>,
    #[serde(borrow, default)]
    places: Vec<Place<'a>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Place<'a> {
    at: &'a str,
    from_edge: Option<&'a str>,
    readings: &'a str,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Sections<'a> {
    with: &'a str,
    #[serde(borrow)]
    places: Vec<Section<'a>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Section<'a> {
    #[expect(dead_code, reason = "read, and of no effect")]
    at: &'a str,
    #[serde(borrow)]
    bevels: Bevels<'a>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Bevels<'a> {
    port: &'a str,
    starboard: &'a str,
}

/// Millionths.
const ONE: i64 = 1_000_000;

fn base(millionths: i64) -> f64 {
    millionths as f64 / ONE as f64
}

/// A decimal in millionths, with its last digit.
fn number(text: &[u8]) -> Option<(i64, i64)> {
    let (negative, digits) = match text {
        [b'-', rest @ ..] => (true, rest),
        _ => (false, text),
    };
    let (mut n, mut step, mut point) = (0_i64, ONE, false);
    for &byte in digits {
        match byte {
            b'0'..=b'9' => {
                n = n.checked_mul(10)?.checked_add(i64::from(byte - b'0'))?;
                if point {
                    step /= 10;
                }
            }
            b'.' if !point => point = true,
            _ => return None,
        }
    }
    (!digits.is_empty() && step > 0).then_some((if negative { -n } else { n } * step, step))
}

/// A number with its unit.
fn quantity(text: &str, unit: &str) -> Option<(i64, i64)> {
    let value = text.strip_suffix(unit)?.strip_suffix(' ')?;
    number(value.as_bytes())
}

/// Days since some day long ago, for differences: civil date to serial number (H. Hinnant, `days_from_civil`).
fn serial(date: &str) -> Option<i64> {
    let part = |range: std::ops::Range<usize>| date.get(range)?.parse::<i64>().ok();
    let (year, month, day) = (part(0..4)?, part(5..7)?, part(8..10)?);
    let year = if month <= 2 { year - 1 } else { year };
    let shifted = (month + 9) % 12;
    let of_year = (153 * shifted + 2) / 5 + day - 1;
    Some(365 * year + year / 4 - year / 100 + year / 400 + of_year)
}

/// An instrument with its errors as numbers.
struct Errors<'a> {
    key: &'a str,
    resolution: f64,
    permissible: f64,
    repeatability: f64,
    correction: i64,
    calibration: f64,
    /// Out of date on the day.
    over: bool,
    /// When its last good check was, if it has checks.
    last_good: Option<&'a str>,
    checked: bool,
}

fn errors<'a>(all: &Instruments<'a>, day: &str) -> Option<Vec<Errors<'a>>> {
    let mut found = Vec::with_capacity(all.0.len());
    for (key, one) in &all.0 {
        let unit = match one.kind {
            "bench_rockwell" => "HRC",
            "protractor" => "deg",
            "bench_scale" => "kg",
            _ => "mm",
        };
        let figure = |text: Option<&str>| match text {
            None => Some(0),
            Some(text) => quantity(text, unit).map(|(value, _)| value),
        };
        let calibration = one.calibration.as_ref();
        let expanded = figure(calibration.and_then(|one| one.expanded_uncertainty))?;
        let k = calibration.and_then(|one| one.k).unwrap_or(2.0);
        let mut last_good = None;
        for check in &one.checks {
            let (reference, _) = quantity(check.reference, unit)?;
            let (reading, _) = quantity(check.reading, unit)?;
            let (within, _) = quantity(check.accept_within, unit)?;
            if (reading - reference).abs() <= within
                && last_good.is_none_or(|last| last < check.taken)
            {
                last_good = Some(check.taken);
            }
        }
        found.push(Errors {
            key,
            resolution: base(figure(one.resolution)?),
            permissible: base(figure(one.max_permissible_error)?) / 3.0_f64.sqrt(),
            repeatability: base(figure(one.repeatability)?),
            correction: figure(calibration.and_then(|one| one.correction))?,
            calibration: base(expanded) / k,
            over: calibration
                .and_then(|one| one.due)
                .is_some_and(|due| day > due),
            last_good,
            checked: !one.checks.is_empty(),
        });
    }
    Some(found)
}

/// The mean of some readings with what its uncertainty is made of.
#[derive(Clone, Copy)]
struct Mean {
    /// Sum of the readings, millionths, and their number.
    sum: i64,
    n: i64,
    value: f64,
    scatter: f64,
    nu: f64,
    resolution: f64,
    permissible: f64,
    calibration: f64,
    floor: f64,
    instrument: usize,
    pool: usize,
    good: bool,
    at: i64,
    from_edge: Option<i64>,
}

/// What is asked of a measure.
struct Measure {
    unit: &'static str,
    floor: f64,
    plausible: (i64, i64),
    fresh_for: Option<i64>,
    pool: usize,
}

const fn measure(
    unit: &'static str,
    floor: f64,
    plausible: (i64, i64),
    fresh_for: Option<i64>,
    pool: usize,
) -> Measure {
    Measure {
        unit,
        floor,
        plausible: (plausible.0 * ONE, plausible.1 * ONE),
        fresh_for,
        pool,
    }
}

const TOE: Measure = measure("mm", 0.5, (150, 700), None, 0);
const HEEL: Measure = measure("mm", 0.5, (-700, -150), None, 1);
const THICKNESS: Measure = measure("mm", 0.02, (2, 12), Some(365), 2);
const DEPTH: Measure = measure("mm", 0.25, (5, 200), Some(365), 3);
const HARDNESS: Measure = measure("HRC", 1.5, (15, 70), None, 4);
const BODY: Measure = measure("mm", 0.10, (3, 60), None, 5);
const HEIGHT: Measure = measure("mm", 0.10, (40, 200), Some(365), 6);
const HOLE: Measure = measure("mm", 0.06, (5, 20), None, 7);
const MASS: Measure = measure("kg", 0.010, (0, 10), None, 8);
const BEVEL: Measure = measure("deg", 0.7, (0, 0), None, 9);

struct Session<'r> {
    day: &'r str,
    serial: i64,
    by: bool,
    instruments: Vec<Errors<'r>>,
    coverage: &'r Coverage,
}

impl Session<'_> {
    fn instrument(&self, key: &str) -> Option<usize> {
        self.instruments.iter().position(|one| one.key == key)
    }

    /// Whether readings taken then with this instrument count.
    fn good(&self, with: &Errors<'_>, taken: Option<&str>, measure: &Measure) -> Option<bool> {
        let day = taken.map_or(self.day, |taken| taken.get(..10).unwrap_or(taken));
        let stale = match measure.fresh_for {
            Some(days) if day != self.day => self.serial - serial(day)? > days,
            _ => false,
        };
        let failed = with.checked
            && match with.last_good {
                None => true,
                Some(last) => last < taken.unwrap_or(self.day),
            };
        Some(!stale && !failed && !with.over)
    }

    /// The means of a series, place by place, with their scatter pooled.
    fn series(
        &self,
        series: Option<&Series<'_>>,
        measure: &Measure,
        found: &mut Vec<Mean>,
    ) -> Option<()> {
        found.clear();
        let Some(series) = series else {
            return Some(());
        };
        let at = self.instrument(series.with)?;
        let with = &self.instruments[at];
        let good = self.good(with, series.taken, measure)?;
        let (mut squares, mut nu) = (0.0, 0);
        let mut one = |text: &str, at: i64, from_edge: Option<i64>| {
            let values = text.strip_suffix(measure.unit)?.strip_suffix(' ')?;
            let (mut sum, mut n, mut first, mut square, mut plausible) = (0, 0, 0, 0.0, true);
            for word in values.split(' ') {
                let (value, _) = number(word.as_bytes())?;
                plausible &= value >= measure.plausible.0 && value <= measure.plausible.1;
                if n == 0 {
                    first = value;
                }
                // Sums of differences from the first: small whole numbers.
                sum += value - first;
                let difference = base(value - first);
                square += difference * difference;
                n += 1;
            }
            if n > 1 {
                let middle = base(sum);
                squares += (square - middle * middle / n as f64).max(0.0);
                nu += n - 1;
            }
            let sum = sum + n * first;
            found.push(Mean {
                sum,
                n,
                value: base(sum) / n as f64 + base(with.correction),
                scatter: 0.0,
                nu: f64::INFINITY,
                resolution: 0.0,
                permissible: with.permissible,
                calibration: with.calibration,
                floor: measure.floor,
                instrument: 0,
                pool: measure.pool,
                good: good && plausible,
                at,
                from_edge,
            });
            Some(())
        };
        if let Some(readings) = series.readings {
            one(readings, 0, None)?;
        }
        for place in &series.places {
            let from_edge = match place.from_edge {
                Some(text) => Some(quantity(text, "mm")?.0),
                None => None,
            };
            one(place.readings, quantity(place.at, "mm")?.0, from_edge)?;
        }
        let pooled = squares / nu as f64;
        for mean in found {
            mean.instrument = at;
            (mean.scatter, mean.nu) = if nu > 0 {
                (pooled / mean.n as f64, nu as f64)
            } else {
                (with.repeatability * with.repeatability, f64::INFINITY)
            };
            mean.resolution = (with.resolution * with.resolution / 12.0 - mean.scatter).max(0.0);
        }
        Some(())
    }

    fn bevel(&self, at: usize, text: &str) -> Option<Mean> {
        let with = &self.instruments[at];
        let (value, step) = quantity(text, "deg")?;
        let resolution = with.resolution.max(base(step));
        let scatter = with.repeatability * with.repeatability;
        Some(Mean {
            sum: value,
            n: 1,
            value: base(value) + base(with.correction),
            scatter,
            nu: f64::INFINITY,
            resolution: (resolution * resolution / 12.0 - scatter).max(0.0),
            permissible: with.permissible,
            calibration: with.calibration,
            floor: BEVEL.floor,
            instrument: at,
            pool: BEVEL.pool,
            good: self.good(with, None, &BEVEL)?,
            at: 0,
            from_edge: None,
        })
    }

    /// U of one mean.
    fn of_one(&self, mean: &Mean) -> f64 {
        let variance = mean.scatter
            + mean.resolution
            + mean.permissible * mean.permissible
            + mean.calibration * mean.calibration;
        let normal = self.coverage.factor(f64::INFINITY);
        let all = variance.sqrt();
        let floors = mean.floor.max(normal * all);
        if mean.nu == f64::INFINITY || mean.scatter == 0.0 {
            return floors;
        }
        let ratio = variance / mean.scatter;
        let combined = self.coverage.factor(mean.nu * ratio * ratio) * all;
        let alone = self.coverage.factor(mean.nu) * mean.scatter.sqrt();
        floors.max(combined).max(alone)
    }

    /// U of a sum of means, each with its factor. A maximum permissible error counts as independent or as
    /// shared, whichever is more; a calibration is shared by all readings of an instrument; the scatter of one
    /// pool has the degrees of freedom of the pool once.
    fn of_many(&self, terms: &[(&Mean, f64)]) -> f64 {
        let same = |a: &Mean, b: &Mean| a.instrument == b.instrument;
        let (mut variance, mut seen, mut weights, mut seen_weights) = (0.0, 0.0, 0.0, 0.0);
        let (mut offsets, mut own, mut more) = (0.0, 0.0, 0.0);
        for (i, &(mean, factor)) in terms.iter().enumerate() {
            let square = factor * factor;
            variance += square * mean.resolution;
            own += square * (mean.scatter + mean.resolution + mean.permissible * mean.permissible);
            if !terms[..i].iter().any(|(other, _)| same(mean, other)) {
                let (mut apart, mut together, mut offset, mut offset_apart) = (0.0, 0.0, 0.0, 0.0);
                for &(other, factor) in terms[i..].iter().filter(|(other, _)| same(mean, other)) {
                    let (permissible, calibration) =
                        (factor * other.permissible, factor * other.calibration);
                    apart += permissible * permissible;
                    together += permissible;
                    offset += calibration;
                    offset_apart += calibration * calibration;
                }
                variance += apart.max(together * together) + offset * offset;
                offsets += offset * offset;
                more += beyond(offset * offset, offset_apart);
            }
            if !terms[..i].iter().any(|(other, _)| other.pool == mean.pool) {
                let pool = terms[i..]
                    .iter()
                    .filter(|(other, _)| other.pool == mean.pool);
                let scatter: f64 = pool
                    .map(|(other, factor)| factor * factor * other.scatter)
                    .sum();
                variance += scatter;
                if mean.nu != f64::INFINITY {
                    seen += scatter;
                    weights += scatter * scatter / mean.nu;
                    seen_weights += scatter * scatter / mean.nu;
                }
            }
        }
        let normal = self.coverage.factor(f64::INFINITY);
        let floored: f64 = terms
            .iter()
            .map(|&(mean, factor)| {
                let reading = mean.scatter
                    + mean.resolution
                    + mean.permissible * mean.permissible
                    + mean.calibration * mean.calibration;
                factor * factor * (mean.floor * mean.floor).max(normal * normal * reading)
            })
            .sum();
        let others = beyond(variance - offsets, own) + more;
        let floors = (floored + normal * normal * others).sqrt();
        if weights == 0.0 {
            return floors.max(normal * variance.sqrt());
        }
        let combined = self.coverage.factor(variance * variance / weights) * variance.sqrt();
        let alone = self.coverage.factor(seen * seen / seen_weights) * seen.sqrt();
        floors.max(combined).max(alone)
    }
}

fn beyond(variance: f64, contained: f64) -> f64 {
    let more = variance - contained;
    if more < 1e-12 * variance { 0.0 } else { more }
}

/// Guarded acceptance; what lies on a border to the last digit counts as on it.
fn guarded(margin: f64, u: f64) -> usize {
    const ON: f64 = 1e-11;
    if margin >= u - ON {
        YES
    } else if margin < -u - ON {
        NO
    } else {
        OPEN
    }
}

/// One value against a range whose ends may be open.
fn decided(
    good: bool,
    value: f64,
    u: f64,
    low: Option<f64>,
    high: Option<f64>,
    mut found: impl FnMut(usize),
) {
    for margin in [low.map(|low| value - low), high.map(|high| high - value)]
        .into_iter()
        .flatten()
    {
        found(if good { guarded(margin, u) } else { OPEN });
    }
}

/// The worst of the places, with what is said of each: inside, left out, or not said.
fn worst(places: impl Iterator<Item = (Option<bool>, usize)>, lacking: bool) -> usize {
    let (mut bad, mut doubtful, mut open, mut any) = (false, false, false, false);
    for (inside, outcome) in places {
        match inside {
            Some(true) => {
                any = true;
                bad |= outcome == NO;
                open |= outcome == OPEN;
            }
            Some(false) => {}
            None => doubtful |= outcome == NO,
        }
    }
    match (bad, doubtful || open || lacking || !any) {
        (true, _) => NO,
        (false, true) => OPEN,
        (false, false) => YES,
    }
}

fn extremes(means: &[Mean]) -> Option<(&Mean, &Mean, bool)> {
    let first = means.first()?;
    let (mut low, mut high) = (first, first);
    for mean in means {
        if mean.sum * high.n > high.sum * mean.n {
            high = mean;
        }
        if mean.sum * low.n < low.sum * mean.n {
            low = mean;
        }
    }
    Some((low, high, means.iter().all(|mean| mean.good)))
}

/// Room for the means of one runner, kept from one to the next.
#[derive(Default)]
struct Room {
    toe: Vec<Mean>,
    heel: Vec<Mean>,
    thickness: Vec<Mean>,
    depth: Vec<Mean>,
    hardness: Vec<Mean>,
    body: Vec<Mean>,
    height: Vec<Mean>,
    hole: Vec<Mean>,
    mass: Vec<Mean>,
    bevels: Vec<(Mean, Mean)>,
}

/// Checks one line.
fn line(text: &[u8], coverage: &Coverage, room: &mut Room, counts: &mut Counts) -> Option<()> {
    let record: Record<'_> = serde_json::from_slice(text).ok()?;
    if record.format != "rimegauge-record/1"
        || record.class != "mere-6"
        || record.boat.sail_number.is_empty()
    {
        return None;
    }
    let day = record.measured.day;
    let session = Session {
        day,
        serial: serial(day)?,
        by: record.measured.by.is_some(),
        instruments: errors(&record.instruments, day)?,
        coverage,
    };
    let mut boat = if record.runners.len() < 3 {
        OPEN
    } else {
        APART
    };
    for one in &record.runners {
        runner(one, &session, room, &mut |rule, outcome| {
            counts.rules[rule][outcome] += 1;
            boat = boat.min(outcome);
        })?;
    }
    counts.boats[if boat == APART { OPEN } else { boat }] += 1;
    Some(())
}

fn runner(
    one: &Runner<'_>,
    session: &Session<'_>,
    room: &mut Room,
    found: &mut impl FnMut(usize, usize),
) -> Option<()> {
    if one.id.is_empty() {
        return None;
    }
    session.series(one.toe_at.as_ref(), &TOE, &mut room.toe)?;
    session.series(one.heel_at.as_ref(), &HEEL, &mut room.heel)?;
    session.series(
        one.steel_thickness.as_ref(),
        &THICKNESS,
        &mut room.thickness,
    )?;
    session.series(one.exposed_depth.as_ref(), &DEPTH, &mut room.depth)?;
    session.series(one.hardness.as_ref(), &HARDNESS, &mut room.hardness)?;
    session.series(one.body_thickness.as_ref(), &BODY, &mut room.body)?;
    session.series(one.pivot_height.as_ref(), &HEIGHT, &mut room.height)?;
    session.series(one.pivot_hole.as_ref(), &HOLE, &mut room.hole)?;
    session.series(one.mass.as_ref(), &MASS, &mut room.mass)?;
    room.bevels.clear();
    if let Some(sections) = &one.edge_section {
        let at = session.instrument(sections.with)?;
        for section in &sections.places {
            room.bevels.push((
                session.bevel(at, section.bevels.port)?,
                session.bevel(at, section.bevels.starboard)?,
            ));
        }
    }
    let construction = match one.construction {
        "plate" => 0,
        "insert" => 1,
        "tee" => 2,
        "angle" => 3,
        _ => return None,
    };
    let (toe, heel) = (room.toe.first()?, room.heel.first()?);
    thickness(
        one,
        construction,
        toe,
        heel,
        session,
        &room.thickness,
        found,
    );

    // Length, and where the pivot lies in it.
    let good = toe.good && heel.good;
    let length = toe.value - heel.value;
    let length_u = session.of_many(&[(toe, 1.0), (heel, -1.0)]);
    decided(
        good,
        length,
        length_u,
        Some(600.0),
        Some(900.0),
        |outcome| found(3, outcome),
    );
    let square = length * length;
    let ratio_u = session.of_many(&[(toe, heel.value / square), (heel, -toe.value / square)]);
    decided(
        good,
        -heel.value / length,
        ratio_u,
        Some(0.42),
        Some(0.58),
        |outcome| found(4, outcome),
    );

    depth_and_hardness(session, room, found);
    bevels(construction, session, room, found);

    let height = room.height.first();
    let (low, high) = if one.position == "steering" {
        (80.0, 95.0)
    } else {
        (85.0, 100.0)
    };
    single(session, height, Some(low), Some(high), |outcome| {
        found(10, outcome)
    });
    single(
        session,
        room.hole.first(),
        Some(10.0),
        Some(10.4),
        |outcome| found(11, outcome),
    );
    let mass = room.mass.first();
    let (low, high) = [(2.0, 5.0), (1.8, 4.5), (1.6, 4.5), (1.6, 4.5)][construction];
    let mass_u = mass.map(|mass| session.of_one(mass));
    match (mass, mass_u) {
        (Some(mass), Some(u)) => {
            decided(mass.good, mass.value, u, Some(low), Some(high), |outcome| {
                found(12, outcome)
            })
        }
        _ => found(12, OPEN),
    }
    let body = room.body.first();
    single(session, body, Some(20.0), Some(32.0), |outcome| {
        found(13, outcome)
    });
    match body {
        Some(body) => {
            let u = session.of_many(&[(toe, 1.0), (heel, -1.0), (body, -34.0)]);
            let good = good && body.good;
            decided(
                good,
                length - 34.0 * body.value,
                u,
                None,
                Some(0.0),
                |outcome| found(14, outcome),
            );
        }
        None => found(14, OPEN),
    }
    match (height, body) {
        (Some(height), Some(body)) => {
            let u = session.of_many(&[(height, 1.0), (body, 1.0)]);
            let good = height.good && body.good;
            decided(
                good,
                height.value + body.value,
                u,
                None,
                Some(124.0),
                |outcome| found(15, outcome),
            );
        }
        _ => found(15, OPEN),
    }
    // A long runner: sure, surely not, or within its uncertainty.
    let beyond = length - 760.0;
    if good && beyond < -length_u {
        found(16, APART);
    } else if good && beyond > length_u {
        match (mass, mass_u) {
            (Some(mass), Some(u)) => {
                decided(mass.good, mass.value, u, Some(2.4), None, |outcome| {
                    found(16, outcome)
                })
            }
            _ => found(16, OPEN),
        }
    } else {
        found(16, OPEN);
    }
    match (extremes(&room.depth), height) {
        (Some((_, high, good)), Some(height)) => {
            let share = high.value / height.value;
            let u = session.of_many(&[
                (high, height.value.recip()),
                (height, -share / height.value),
            ]);
            decided(good && height.good, share, u, None, Some(0.99), |outcome| {
                found(17, outcome)
            });
        }
        _ => found(17, OPEN),
    }
    for (rule, answer) in [(18, one.nose_rounded), (19, one.label_engraved)] {
        found(
            rule,
            match answer {
                Some("yes") if session.by => YES,
                Some("no") if session.by => NO,
                Some("yes" | "no") | None => OPEN,
                Some(_) => return None,
            },
        );
    }
    Some(())
}

fn single(
    session: &Session<'_>,
    mean: Option<&Mean>,
    low: Option<f64>,
    high: Option<f64>,
    mut found: impl FnMut(usize),
) {
    match mean {
        Some(mean) => decided(
            mean.good,
            mean.value,
            session.of_one(mean),
            low,
            high,
            found,
        ),
        None => found(OPEN),
    }
}

fn thickness(
    one: &Runner<'_>,
    construction: usize,
    toe: &Mean,
    heel: &Mean,
    session: &Session<'_>,
    means: &[Mean],
    found: &mut impl FnMut(usize, usize),
) {
    let Some((low, high, good)) = extremes(means) else {
        for rule in 0..3 {
            found(rule, OPEN);
        }
        return;
    };
    let old = one.built.seen_by.is_some() && one.built.date < "2012";
    let limit = match construction {
        0 => 6.0,
        1 if old => 4.5,
        1 => 4.7,
        _ => 4.0,
    };
    let inside = |mean: &Mean| mean.from_edge.map(|from| from > 6 * ONE);
    let counted = || means.iter().filter(|mean| inside(mean) == Some(true));
    let mut lacking = counted().count() < 4 || counted().any(|mean| mean.n < 3);
    if !lacking {
        // From end to end no gap may be wider; a position outside them bounds no gap.
        let mut positions: Vec<i64> = counted().map(|mean| mean.at).collect();
        positions.extend([heel.sum, toe.sum]);
        positions.sort_unstable();
        lacking = positions
            .windows(2)
            .any(|pair| pair[1] - pair[0] > 300 * ONE && pair[0] >= heel.sum && pair[1] <= toe.sum);
    }
    let places = means.iter().map(|mean| {
        let outcome = if mean.good {
            guarded(mean.value - limit, session.of_one(mean))
        } else {
            OPEN
        };
        (inside(mean), outcome)
    });
    found(0, worst(places, lacking));

    let share = 1.0 / means.len() as f64;
    let mut terms = [(low, share); 8];
    let terms = &mut terms[..means.len().min(8)];
    for (term, mean) in terms.iter_mut().zip(means) {
        term.0 = mean;
    }
    let mean: f64 = means.iter().map(|mean| mean.value).sum::<f64>() * share;
    let most = [8.0, 6.5, 6.0, 6.0][construction];
    decided(
        good,
        mean,
        session.of_many(terms),
        None,
        Some(most),
        |outcome| found(1, outcome),
    );

    let u = if std::ptr::eq(low, high) {
        0.0
    } else {
        session.of_many(&[(high, 1.0), (low, -1.0)])
    };
    decided(
        good,
        high.value - low.value,
        u,
        None,
        Some(0.2),
        |outcome| found(2, outcome),
    );
}

fn depth_and_hardness(session: &Session<'_>, room: &Room, found: &mut impl FnMut(usize, usize)) {
    match extremes(&room.depth) {
        None => {
            found(5, OPEN);
            found(6, OPEN);
        }
        Some((low, high, good)) => {
            let inside = |mean: &Mean| Some(mean.at >= -200 * ONE && mean.at <= 200 * ONE);
            let lacking = room
                .depth
                .iter()
                .filter(|mean| inside(mean) == Some(true))
                .count()
                < 2;
            let us: [f64; 8] = std::array::from_fn(|at| {
                room.depth.get(at).map_or(0.0, |mean| session.of_one(mean))
            });
            for side in [-1.0, 1.0] {
                let limit = if side < 0.0 { 95.0 } else { 70.0 };
                let places = room.depth.iter().zip(us).map(|(mean, u)| {
                    let margin = side * (mean.value - limit);
                    (
                        inside(mean),
                        if mean.good { guarded(margin, u) } else { OPEN },
                    )
                });
                found(5, worst(places, lacking));
            }
            let u = if std::ptr::eq(low, high) {
                0.0
            } else {
                session.of_many(&[(high, 1.0), (low, -1.0)])
            };
            decided(
                good,
                high.value - low.value,
                u,
                None,
                Some(4.0),
                |outcome| found(6, outcome),
            );
        }
    }
    if room.hardness.is_empty() {
        found(7, OPEN);
        return;
    }
    let lacking = room.hardness.len() < 2 || room.hardness.iter().any(|mean| mean.n < 2);
    let us: [f64; 8] = std::array::from_fn(|at| {
        room.hardness
            .get(at)
            .map_or(0.0, |mean| session.of_one(mean))
    });
    for side in [-1.0, 1.0] {
        let limit = if side < 0.0 { 62.0 } else { 44.0 };
        let places = room.hardness.iter().zip(us).map(|(mean, u)| {
            let margin = side * (mean.value - limit);
            (
                Some(true),
                if mean.good { guarded(margin, u) } else { OPEN },
            )
        });
        found(7, worst(places, lacking));
    }
}

fn bevels(
    construction: usize,
    session: &Session<'_>,
    room: &Room,
    found: &mut impl FnMut(usize, usize),
) {
    if room.bevels.is_empty() {
        found(8, if construction == 3 { APART } else { OPEN });
        found(9, OPEN);
        return;
    }
    if construction == 3 {
        found(8, APART);
    } else {
        let us: [f64; 8] = std::array::from_fn(|at| {
            room.bevels.get(at).map_or(0.0, |(port, starboard)| {
                session.of_many(&[(port, 1.0), (starboard, 1.0)])
            })
        });
        for side in [-1.0, 1.0] {
            let limit = if side < 0.0 { 100.0 } else { 80.0 };
            let places = room.bevels.iter().zip(us).map(|((port, starboard), u)| {
                let margin = side * (port.value + starboard.value - limit);
                (
                    Some(true),
                    if port.good && starboard.good {
                        guarded(margin, u)
                    } else {
                        OPEN
                    },
                )
            });
            found(8, worst(places, room.bevels.len() < 2));
        }
    }
    let places = room.bevels.iter().map(|(port, starboard)| {
        let apart = (port.value - starboard.value).abs();
        let u = session.of_many(&[(port, 1.0), (starboard, -1.0)]);
        (
            Some(true),
            if port.good && starboard.good {
                guarded(4.0 - apart, u)
            } else {
                OPEN
            },
        )
    });
    found(9, worst(places, false));
}

/// Checks lines and counts what comes of them.
pub fn check(lines: &[u8], coverage: &Coverage) -> Counts {
    let mut counts = Counts::default();
    let mut room = Room::default();
    for text in lines
        .split(|byte| *byte == b'\n')
        .filter(|line| !line.is_empty())
    {
        if line(text, coverage, &mut room, &mut counts).is_none() {
            counts.broken += 1;
        }
    }
    counts
}
