//! What only some measures have: the set-up of a load test, and values that are fixed for good.

use super::model::*;
use super::read;
use crate::diagnostic::Faults;
use crate::quantity::Dimension;
use crate::text::{Entry, Span, quoted};

/// How a load test is written, for advice.
const LOAD_TEST: &str = "{ kind: load_test, span: 2400 mm, supports: rollers }";

/// Entries of a measure that only some kinds have.
pub(super) struct Special<'n, 's> {
    pub fixed_at: Option<&'n Entry<'s>>,
    pub span: Option<&'n Entry<'s>>,
    pub supports: Option<&'n Entry<'s>>,
}

impl Special<'_, '_> {
    /// Reads them into a measure; `of_readings` are entries that only mean something where there are readings.
    pub fn read(
        &self,
        measure: &mut Measure,
        of_readings: &[Option<&Entry<'_>>],
        faults: &mut Faults,
    ) {
        if measure.kind == MeasureKind::LoadTest {
            self.setup(measure, faults);
        } else {
            for entry in [self.span, self.supports].into_iter().flatten() {
                faults.fault(
                    "vocabulary.load_test",
                    entry.key_span,
                    format!(
                        "only a load test has {}; {} is none",
                        quoted(&entry.key),
                        quoted(&measure.name.text)
                    ),
                    "",
                    format!("take it out, or write `{}: {LOAD_TEST}`", measure.name.text),
                );
            }
        }
        if let Some(entry) = self.fixed_at {
            fixed_at(entry, measure, of_readings, faults);
        }
    }

    fn setup(&self, measure: &mut Measure, faults: &mut Faults) {
        let name = &measure.name;
        for (entry, key) in [(self.span, "span"), (self.supports, "supports")] {
            if entry.is_none() {
                no_setup(name, name.span, key, faults);
            }
        }
        let span = self.span.and_then(|entry| {
            let key_span = Some(entry.key_span);
            let found = read::quantity(&entry.node, key_span, "span", Dimension::LENGTH, faults)?;
            if found.value.signum() <= 0 {
                faults.fault(
                    "quantity.negative",
                    entry.node.span,
                    "the supports of a load test stand apart",
                    "not above zero",
                    "write their distance, such as 2400 mm",
                );
                return None;
            }
            Some(found)
        });
        let supports = self.supports.and_then(|entry| {
            let key_span = Some(entry.key_span);
            let word = read::scalar(&entry.node, key_span, "supports", "a word", faults)?;
            read::one_of(
                word,
                entry.node.label_span(key_span),
                "a kind of support",
                Supports::WORDS.into_iter(),
                faults,
            )
        });
        if let (Some(span), Some(supports)) = (span, supports) {
            measure.setup = Some(Box::new(TestSetup {
                span: span.value,
                unit: span.unit,
                supports,
            }));
        }
    }
}

/// A load test of which is not said how it is set up.
pub(super) fn no_setup(name: &Name, at: Span, key: &str, faults: &mut Faults) {
    faults.fault(
        "vocabulary.load_test",
        at,
        format!("the load test {} has no {}", quoted(&name.text), quoted(key)),
        "",
        format!(
            "write `{}: {LOAD_TEST}`: a test with another span or other supports gives another number",
            name.text
        ),
    );
}

fn fixed_at(
    entry: &Entry<'_>,
    measure: &mut Measure,
    of_readings: &[Option<&Entry<'_>>],
    faults: &mut Faults,
) {
    let Some(word) = read::scalar(
        &entry.node,
        Some(entry.key_span),
        "fixed_at",
        "a word",
        faults,
    ) else {
        return;
    };
    let fixed = read::one_of(
        word,
        entry.node.span,
        "a time at which a value is fixed",
        std::iter::once(("first_certification", FixedAt::FirstCertification)),
        faults,
    );
    let MeasureKind::Quantity(_) = measure.kind else {
        faults.fault(
            "vocabulary.fixed_at",
            entry.key_span,
            format!("{} is no single quantity", quoted(&measure.name.text)),
            "can't be fixed",
            "only a quantity can be fixed for good, such as `stem_height_new: { kind: length, fixed_at: first_certification }`",
        );
        return;
    };
    for other in of_readings.iter().copied().flatten() {
        faults.fault(
            "vocabulary.fixed_at",
            other.key_span,
            format!(
                "a value that is fixed for good has no {}: it is taken from a paper, not read again",
                quoted(&other.key)
            ),
            "beside `fixed_at`",
            "take one of the two out",
        );
        faults.also(entry.key_span, "fixed here");
    }
    measure.placed = false;
    measure.fixed_at = fixed;
}
