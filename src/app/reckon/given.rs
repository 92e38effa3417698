//! What was given on the command line: quantities and lists as text, underlined where they are wrong.

use std::sync::Arc;

use crate::diagnostic::Diagnostic;
use crate::geometry::GeometryProblem;
use crate::quantity::{Dimension, Exact, Number, Quantity, QuantityProblem, Unit, show};
use crate::text::{Source, Span, quoted};
use crate::uncertainty::{
    Coverage, InstrumentError, MeanWords, PartKind, Pool, Register, Sample, Source as BudgetSource,
    SourceIds, Uncertain, mean_of_repeats,
};

use crate::app::Trouble;

/// What is known of the instrument, as written.
#[derive(Clone, Debug, Default)]
pub struct InstrumentRequest {
    /// Smallest step that it shows.
    pub resolution: Option<String>,
    /// Maximum permissible error, half width.
    pub max_error: Option<String>,
    /// Expanded uncertainty of its calibration and k: `0.002 mm 2`.
    pub calibration: Option<String>,
    /// Scatter of one reading, as a standard deviation.
    pub repeatability: Option<String>,
}

/// What every reckoning takes.
#[derive(Clone, Debug, Default)]
pub struct ReckonRequest {
    /// What the readings were taken with.
    pub instrument: InstrumentRequest,
    /// Coverage probability, as written: `95 %`.
    pub coverage: Option<String>,
}

/// Collects what is wrong with what was given, so that all of it is told at once.
pub(super) struct Reader {
    faults: Vec<Diagnostic>,
}

/// The text of an argument, under the name it is reported by.
pub(super) fn source(name: &str, text: &str) -> Arc<Source> {
    Source::new(name, text)
}

/// A quantity's problem, `from` bytes into a source.
pub(in crate::app) fn problem(
    problem: QuantityProblem,
    source: &Arc<Source>,
    from: usize,
) -> Diagnostic {
    let range = problem.range;
    let span = Span::new(from + range.start, from + range.end);
    let found = Diagnostic::fault(problem.code, problem.message).label(source, span, "");
    match problem.help {
        Some(help) => found.help(help),
        None => found,
    }
}

impl Reader {
    /// Everything is there and right, or all that is wrong.
    pub fn end<T>(self, value: Option<T>) -> Result<T, Trouble> {
        match value {
            Some(value) if self.faults.is_empty() => Ok(value),
            _ => Err(Trouble::input(self.faults)),
        }
    }

    /// A reader, and the coverage factors that were asked for.
    pub fn begin(request: &ReckonRequest) -> (Reader, Coverage) {
        let mut reader = Reader { faults: Vec::new() };
        let coverage = reader.coverage(request.coverage.as_deref());
        (reader, coverage)
    }

    /// Adds all of these that are wrong.
    pub fn extend(&mut self, faults: Vec<Diagnostic>) {
        self.faults.extend(faults);
    }

    /// Adds something that is wrong.
    pub fn push(&mut self, fault: Diagnostic) {
        self.faults.push(fault);
    }

    /// Whether anything is wrong so far.
    pub fn is_faulty(&self) -> bool {
        !self.faults.is_empty()
    }

    /// Takes what came out well, and remembers what did not.
    pub fn take<T>(&mut self, found: Result<T, Trouble>) -> Option<T> {
        match found {
            Ok(value) => Some(value),
            Err(trouble) => {
                self.faults.extend(trouble.diagnostics);
                None
            }
        }
    }

    /// One quantity, of a dimension if one is given.
    pub fn quantity(
        &mut self,
        name: &str,
        text: &str,
        dimension: Option<Dimension>,
    ) -> Option<Quantity> {
        self.quantity_in(&source(name, text), 0..text.len(), dimension)
    }

    /// One quantity in a part of a text.
    pub fn quantity_in(
        &mut self,
        source: &Arc<Source>,
        range: std::ops::Range<usize>,
        dimension: Option<Dimension>,
    ) -> Option<Quantity> {
        let whole = source.text().get(range.clone()).unwrap_or("");
        let before = whole.len() - whole.trim_start().len();
        let text = whole.trim();
        let found = match dimension {
            Some(dimension) => Quantity::parse_as(text, dimension),
            None => Quantity::parse(text),
        };
        match found {
            Ok(quantity) => Some(quantity),
            Err(found) => {
                self.push(problem(found, source, range.start + before));
                None
            }
        }
    }

    /// Numbers with one unit last, at least one.
    pub fn list(
        &mut self,
        name: &str,
        text: &str,
        dimension: Option<Dimension>,
    ) -> Option<Vec<Quantity>> {
        let source = source(name, text);
        match Quantity::parse_list_all(text, dimension) {
            Ok(list) => Some(list.into_iter().map(|(quantity, _)| quantity).collect()),
            Err(problems) => {
                for one in problems {
                    self.push(problem(one, &source, 0));
                }
                None
            }
        }
    }

    /// A quantity that is not below zero, or above it.
    pub fn size(
        &mut self,
        name: &str,
        text: Option<&str>,
        dimension: Dimension,
        above_zero: bool,
    ) -> Option<Exact> {
        let text = text?;
        let quantity = self.quantity(name, text, Some(dimension))?;
        let size = quantity.difference();
        let sign = size.signum();
        if sign < 0 || (sign == 0 && above_zero) {
            let asked = if above_zero {
                "above zero"
            } else {
                "not below zero"
            };
            let message = format!("{name} is {}, and has to be {asked}", quoted(text));
            self.push(whole("reckon.size", name, text, message));
            return None;
        }
        Some(size)
    }

    /// What is known of the instrument; `written` is the step of the last digit of its readings, base units.
    pub fn instrument(
        &mut self,
        given: &InstrumentRequest,
        dimension: Dimension,
        written: &Exact,
    ) -> InstrumentError {
        let mut size = |name, text: &Option<String>, above| {
            self.size(name, text.as_deref(), dimension, above)
                .map(|size| size.to_f64())
        };
        let resolution = size("--resolution", &given.resolution, true);
        let max_error = size("--max-error", &given.max_error, false);
        let repeatability = size("--repeatability", &given.repeatability, false);
        let calibration = given
            .calibration
            .as_deref()
            .and_then(|text| self.calibration(text, dimension));
        InstrumentError {
            resolution: resolution.unwrap_or_else(|| written.to_f64()),
            max_permissible_error: max_error.unwrap_or(0.0),
            repeatability,
            calibration: calibration.unwrap_or(0.0),
            ..InstrumentError::default()
        }
    }

    /// U and k of a calibration, `0.002 mm 2`: its standard uncertainty.
    fn calibration(&mut self, text: &str, dimension: Dimension) -> Option<f64> {
        const NAME: &str = "--calibration";
        let source = source(NAME, text);
        let parted = text.trim_end().rsplit_once(char::is_whitespace);
        // A unit last is not a k.
        let parted =
            parted.filter(|(_, k)| k.starts_with(|c: char| c.is_ascii_digit() || c == '-'));
        let Some((spread, k)) = parted else {
            let message = format!(
                "{NAME} is {}: an expanded uncertainty says nothing without its k",
                quoted(text)
            );
            let help = "the calibration certificate states both: --calibration \"0.002 mm 2\"";
            self.push(wrong("reckon.calibration", NAME, text, message, help));
            return None;
        };
        let at = spread.len() + 1;
        let k = self.quantity_in(&source, at..at + k.len(), Some(Dimension::RATIO));
        let spread = self.quantity_in(&source, 0..spread.len(), Some(dimension));
        let (k, spread) = (k?.value.to_f64(), spread?.difference().to_f64());
        if k > 0.0 && spread >= 0.0 {
            return Some(spread / k);
        }
        let message = format!(
            "{NAME} is {}: U is not below zero, and k is above it",
            quoted(text)
        );
        self.push(whole("reckon.calibration", NAME, text, message));
        None
    }

    /// The coverage factors for the probability that was asked, 95 % without one.
    fn coverage(&mut self, given: Option<&str>) -> Coverage {
        const NAME: &str = "--coverage";
        let Some(text) = given else {
            return Coverage::ninety_five();
        };
        let Some(quantity) = self.quantity(NAME, text, Some(Dimension::RATIO)) else {
            return Coverage::ninety_five();
        };
        Coverage::new(quantity.value.to_f64()).unwrap_or_else(|| {
            let message = format!(
                "{NAME} is {}: a probability lies between 0 % and 100 %",
                quoted(text)
            );
            let help = "95 % is usual: --coverage \"95 %\"";
            self.push(wrong("reckon.coverage", NAME, text, message, help));
            Coverage::ninety_five()
        })
    }
}

/// What a geometry function can't compute from, as a message about an argument or a file.
pub(super) fn refused(problem: GeometryProblem, source: &Arc<Source>) -> Trouble {
    let span = Span::new(0, source.text().trim_end().len());
    let whole = source.text().lines().count() <= 1;
    let found = Diagnostic::fault("reckon.input", problem.message).help(problem.help);
    let span = if whole { span } else { Span::new(0, 0) };
    Trouble::one(found.label(source, span, ""))
}

/// Makes numbers with their parts of uncertainty of what one instrument showed, each with a source of its own,
/// and remembers what the sources are.
pub(super) struct Taker {
    instrument: InstrumentError,
    next: u32,
    what: String,
    unit: Unit,
    taken: usize,
    counted: bool,
    register: Register,
}

/// The identity of the instrument.
const INSTRUMENT: u32 = 1;
/// The identity of its calibration: above those of the readings.
const CALIBRATION: u32 = 1 << 31;

impl Taker {
    /// For readings of an instrument in a unit.
    pub fn new(instrument: InstrumentError, unit: Unit) -> Taker {
        Taker {
            instrument,
            next: INSTRUMENT,
            what: "reading".to_owned(),
            unit,
            taken: 0,
            counted: false,
            register: Register::new(),
        }
    }

    /// What the next readings are, for a budget; they are counted from 1.
    pub fn counting(&mut self, what: &str, unit: Unit) {
        self.naming(what, unit);
        self.counted = true;
    }

    /// What the next reading is, for a budget.
    pub fn naming(&mut self, what: &str, unit: Unit) {
        what.clone_into(&mut self.what);
        (self.unit, self.taken, self.counted) = (unit, 0, false);
    }

    /// What the sources are.
    pub fn register(self) -> Register {
        self.register
    }

    /// Says what a source is that was made by hand.
    pub fn keep(&mut self, kind: PartKind, id: u32, source: BudgetSource) {
        self.register.add(kind, id, source);
    }

    /// A new identity of a source.
    pub fn source(&mut self) -> u32 {
        self.next = self.next.saturating_add(1);
        self.next
    }

    fn taken(
        &mut self,
        readings: &[Exact],
        errors: &InstrumentError,
        (ids, instrument): (SourceIds, &str),
    ) -> Uncertain {
        let pool = Pool::of([readings]);
        self.taken += 1;
        if let Some(sample) = Sample::of(readings) {
            let what = if self.counted {
                format!("{} {}", self.what, self.taken)
            } else {
                self.what.clone()
            };
            let words = MeanWords {
                what: &what,
                instrument,
                method: instrument,
                calibration: None,
                unit: self.unit,
                decimals: None,
                places: 1,
            };
            self.register.mean(ids, &sample, &pool, errors, &words);
        }
        mean_of_repeats(readings, &pool, errors, ids)
    }

    /// The mean of repeats.
    pub fn mean(&mut self, readings: &[Exact]) -> Uncertain {
        let mean = self.source();
        let ids = SourceIds {
            mean,
            pool: mean,
            instrument: INSTRUMENT,
            calibration: CALIBRATION,
        };
        let errors = self.instrument.clone();
        self.taken(readings, &errors, (ids, "the instrument"))
    }

    /// A single reading.
    pub fn reading(&mut self, reading: &Exact) -> Uncertain {
        self.mean(std::slice::from_ref(reading))
    }

    /// A distance read off a scale beside the instrument, of which only its step is known.
    pub fn scale(&mut self, reading: &Exact, step: &Exact) -> Uncertain {
        let mean = self.source();
        let scale = InstrumentError {
            resolution: step.to_f64(),
            ..InstrumentError::default()
        };
        let ids = SourceIds {
            mean,
            pool: mean,
            instrument: mean,
            calibration: mean,
        };
        self.taken(std::slice::from_ref(reading), &scale, (ids, "the scale"))
    }
}

/// A problem with the whole of an argument.
fn whole(code: &'static str, name: &str, text: &str, message: String) -> Diagnostic {
    Diagnostic::fault(code, message).label(&source(name, text), Span::new(0, text.len()), "")
}

/// The same with what would be accepted.
pub(super) fn wrong(
    code: &'static str,
    name: &str,
    text: &str,
    message: String,
    help: &str,
) -> Diagnostic {
    whole(code, name, text, message).help(help)
}

/// A number in a unit, with all its digits; one that does not end says so.
pub(super) fn told(number: &Number, unit: Unit) -> String {
    match number.as_exact() {
        Some(exact) => {
            let (text, ends) = show::number(exact, unit, None);
            let dots = if ends { "" } else { "…" };
            show::with_unit(&format!("{text}{dots}"), unit)
        }
        None => show::with_unit(&number.to_f64().to_string(), unit),
    }
}
