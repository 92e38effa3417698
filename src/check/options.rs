//! Listed options: an item has to be one of them, in every column.
//!
//! A column is met within its distance from the listed value, borders included; a row is as good as its worst
//! column, and the rule as good as its best row. Columns are decided one by one, by the rule of the stage.

use super::decide::{Decided, Met, Threshold};
use super::draft::Draft;
use super::finding::{FoundLimit, FoundOption, ItemRef, Outcome, Reason, RuleRef};
use super::judge::Judge;
use super::plan::PlannedRule;
use super::value::{Num, Val, Why};
use super::zones::{Nearness, undecided};
use crate::quantity::{Exact, Number, Unit};
use crate::rules::{BoundKind, Column, OptionRow, Options, Rule, Stage, Within};
use std::rc::Rc;

/// A column as it was measured.
type Measured = Result<Rc<Num>, Why>;

/// One column of one row.
struct Cell {
    /// Its place among the columns.
    column: usize,
    decided: Decided,
    /// The border on the side of the value.
    kind: BoundKind,
    border: Number,
    /// How far the value lies from the listed one, as a share of the distance that is allowed; more than 1 is
    /// outside. Infinite where it is not measured.
    distance: f64,
}

/// One row.
struct Row<'r> {
    row: &'r OptionRow,
    cells: Vec<Cell>,
}

impl Row<'_> {
    /// What the row comes to at a stage: its worst column.
    fn outcome(&self, stage: Stage) -> Outcome {
        let outcomes = self.cells.iter();
        let worst = outcomes.map(|cell| cell.decided.rulings.at(stage).0).min();
        worst.unwrap_or(Outcome::NotDecided)
    }

    /// The column that a finding shows: of those that give the row its outcome the farthest off, by name where
    /// two are as far.
    fn worst(&self, stage: Stage, columns: &[Column]) -> Option<&Cell> {
        let outcome = self.outcome(stage);
        let giving = self.cells.iter();
        let giving = giving.filter(|cell| cell.decided.rulings.at(stage).0 == outcome);
        let name = |cell: &Cell| columns.get(cell.column).map(|one| one.value.text.as_str());
        giving.min_by(|a, b| {
            let farther = Nearness(b.distance).cmp(&Nearness(a.distance));
            farther.then_with(|| name(a).cmp(&name(b)))
        })
    }

    /// How far off the row is as a whole, by what was measured.
    fn distance(&self) -> Nearness {
        let known = self.cells.iter().map(|cell| cell.distance);
        let known = known.filter(|distance| distance.is_finite());
        Nearness(known.fold(0.0, f64::max))
    }
}

impl<'r> Judge<'r> {
    /// Listed options of an item.
    pub(super) fn options(
        &mut self,
        planned: &PlannedRule,
        rule: &'r Rule,
        at: usize,
        options: &'r Options,
    ) -> Draft {
        let mut measured: Vec<Measured> = Vec::with_capacity(options.columns.len());
        for column in &options.columns {
            measured.push(match self.eval.value(&column.value.root, at) {
                Val::Number(num) => Ok(num),
                Val::Unknown(why) => Err(why),
                _ => Err(super::arithmetic::nothing(Reason::NotMeasured)),
            });
        }
        let rows: Vec<Row<'_>> = options
            .rows
            .iter()
            .map(|row| self.option_row(row, &options.columns, &measured))
            .collect();
        // The best outcome counts; among rows with it the nearest is shown, by name where two are as near.
        let best_at = |stage: Stage| {
            rows.iter().min_by(|a, b| {
                let better = b.outcome(stage).cmp(&a.outcome(stage));
                let nearer = better.then_with(|| a.distance().cmp(&b.distance()));
                nearer.then_with(|| a.row.name.text.cmp(&b.row.name.text))
            })
        };
        let mut draft = self.blank(RuleRef::Rule(planned.at), ItemRef::Item(at), options.span);
        let open = (Outcome::NotDecided, Some(Reason::NotMeasured));
        let rulings = self.by_stage(|stage| {
            let best = best_at(stage).and_then(|best| best.worst(stage, &options.columns));
            best.map_or(open, |cell| *cell.decided.rulings.at(stage))
        });
        let purpose = self.context.purpose;
        let Some(best) = best_at(purpose) else {
            return draft.ruled_by(rulings);
        };
        let Some(cell) = best.worst(purpose, &options.columns) else {
            return draft.ruled_by(rulings);
        };
        let column = options.columns.get(cell.column);
        let value = measured.get(cell.column);
        if let Some(Err(why)) = value {
            draft = self.open(planned, rule, at, *why);
        }
        let listed = best.row.values.get(cell.column);
        draft.limit_at = listed.map_or(options.span, |(_, span)| *span);
        if let (Some(column), Some((listed, _))) = (column, listed) {
            draft.tell(|told| {
                told.limit = Some(FoundLimit::Option(Box::new(FoundOption {
                    row: best.row.name.text.clone(),
                    column: column.value.text.clone(),
                    listed: listed.clone(),
                    kind: cell.kind,
                    border: cell.border.clone(),
                    within: match column.within {
                        Within::Exactly => None,
                        Within::Share(_) | Within::Distance(_) => Some(column.within.as_written()),
                    },
                })));
            });
            if let Some(Ok(num)) = value {
                self.fill(&mut draft, num, &cell.decided, listed.unit, at, rule);
                if self.full() {
                    self.spans_of(&mut draft, num.span, &column.value.root, at);
                }
            }
        }
        // A doubt in any column of the row is a doubt in the row.
        let cells = best.cells.iter().map(|cell| &cell.decided);
        draft.second_measurer = cells.clone().any(|decided| decided.near);
        draft.benefit_of_doubt = rulings.at(purpose).0 == Outcome::Conforms
            && cells.clone().any(|decided| decided.benefit_of_doubt);
        draft.ruled_by(rulings)
    }

    fn option_row(&self, row: &'r OptionRow, columns: &[Column], measured: &[Measured]) -> Row<'r> {
        let each = columns.iter().zip(&row.values).zip(measured).enumerate();
        let cells = each.map(|(at, ((column, (listed, _)), measured))| {
            let reach = column.within.of(&listed.value);
            self.cell(at, measured, (&listed.value, &reach))
        });
        Row {
            row,
            cells: cells.collect(),
        }
    }

    /// One column against one listed value.
    fn cell(&self, column: usize, measured: &Measured, (listed, reach): (&Exact, &Exact)) -> Cell {
        let low = Number::Exact(listed.sub(reach));
        let high = Number::Exact(listed.add(reach));
        let num = match measured {
            Ok(num) => num,
            Err(why) => {
                return Cell {
                    column,
                    decided: undecided(why.reason),
                    kind: BoundKind::AtLeast,
                    border: low,
                    distance: f64::INFINITY,
                };
            }
        };
        let met = |kind: BoundKind, border| Met {
            kind,
            threshold: Threshold::Written(border),
            unit: Unit::PLAIN,
        };
        let sides = vec![
            (
                BoundKind::AtLeast,
                self.decided(num, &met(BoundKind::AtLeast, &low)),
            ),
            (
                BoundKind::AtMost,
                self.decided(num, &met(BoundKind::AtMost, &high)),
            ),
        ];
        let distance = off(&num.value.value, listed, reach);
        let (kind, decided) = match self.worst_of(sides) {
            Some(worst) => worst,
            None => (BoundKind::AtLeast, undecided(Reason::NotMeasured)),
        };
        let border = if kind.is_lower() { low } else { high };
        Cell {
            column,
            decided,
            kind,
            border,
            distance,
        }
    }
}

/// How far a value lies from a listed one, as a share of the distance that is allowed. Where none is allowed,
/// anything off is farther than everything that is.
fn off(value: &Number, listed: &Exact, reach: &Exact) -> f64 {
    const BEYOND: f64 = 1.0e9;
    let difference = match value {
        Number::Exact(value) => value.sub(listed).abs().to_f64(),
        Number::Real { .. } => (value.to_f64() - listed.to_f64()).abs(),
    };
    if !reach.is_zero() {
        return (difference / reach.to_f64()).min(f64::MAX);
    }
    if difference == 0.0 {
        return 0.0;
    }
    let scale = listed.abs().to_f64();
    let relative = if scale > 0.0 {
        difference / scale
    } else {
        difference
    };
    (BEYOND + relative).min(f64::MAX)
}
