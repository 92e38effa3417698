//! Limits in statements: rows, tables, bounds, lists, options, and where a rule looks.

use super::super::common::{CommonKind, PartIx, Side};
use super::super::formula::Formula;
use super::super::term::{Poly, Sort, Var, What, Whose};
use super::clause::{Frame, Translator};
use super::value::{Chosen, Piece, Val};
use crate::expression::Comparison;
use crate::quantity::Exact;
use crate::rules::{
    Bound, BoundKind, Demand, Equals, Judged, LimitRow, Limits, Options, Rule, Silence,
};
use crate::vocabulary::{ChoiceId, TraitId, ZoneId, ZoneKind};

impl Translator<'_, '_> {
    /// The main limits of a rule.
    pub fn limits(&mut self, rule: &Rule, frame: Frame) -> Formula {
        match &rule.limits {
            Limits::Direct(row) => self.row(rule, row, frame),
            Limits::ByTrait { by, rows, .. } => {
                let rows: Vec<(Vec<ChoiceId>, &LimitRow)> = rows
                    .iter()
                    .map(|(choice, row)| (vec![*choice], row))
                    .collect();
                self.table(rule, &[*by], &rows, frame)
            }
            Limits::ByTraits { by, rows, .. } => {
                let rows: Vec<(Vec<ChoiceId>, &LimitRow)> = rows
                    .iter()
                    .map(|(choices, row)| (choices.clone(), row))
                    .collect();
                self.table(rule, by, &rows, frame)
            }
            Limits::ByZone { rows, .. } => {
                let mut each = Vec::new();
                let mut inside_any = Vec::new();
                for (zone, _) in rows {
                    if let Some(zone) = zone {
                        inside_any.push(self.in_zone(*zone, frame, true));
                    }
                }
                let elsewhere = Formula::any(inside_any).negated(self.terms);
                for (zone, row) in rows {
                    let meets = match zone {
                        Some(zone) => self.in_zone(*zone, frame, false),
                        None => elsewhere.clone(),
                    };
                    let asks = self.row(rule, row, frame);
                    self.regions.push(meets.clone());
                    each.push(meets.implies(asks, self.terms));
                }
                Formula::all(each)
            }
            Limits::ByLevel { rows, .. } => {
                let mut each = Vec::new();
                self.in_rows =
                    self.level_among(|found| rows.iter().any(|(level, _)| found == Some(*level)));
                for (level, row) in rows {
                    let at = self.level_among(|found| found == Some(*level));
                    let asks = self.row(rule, row, frame);
                    each.push(at.implies(asks, self.terms));
                }
                Formula::all(each)
            }
        }
    }

    fn table(
        &mut self,
        rule: &Rule,
        by: &[TraitId],
        rows: &[(Vec<ChoiceId>, &LimitRow)],
        frame: Frame,
    ) -> Formula {
        let part = self.ix(frame);
        let mut ways = Vec::new();
        let mut met = Vec::new();
        for (choices, row) in rows {
            let mut all = Vec::new();
            for (by, choice) in by.iter().zip(choices) {
                let Some(slot) = self.common.trait_of(self.side, part, *by) else {
                    return Formula::False;
                };
                let (var, _) = self.choice_var(own_of(part), part, slot);
                let chosen = Chosen {
                    var,
                    part,
                    slot,
                    list: false,
                };
                all.push(self.is_one_of(&chosen, &|one| one == Some(*choice)));
            }
            let this = Formula::all(all);
            let asks = self.row(rule, row, frame);
            met.push(this.clone());
            ways.push(this.implies(asks, self.terms));
        }
        match self.rules.silence {
            Silence::Forbids => ways.push(Formula::any(met)),
            // Where one version forbids those without a row, no boat that is legal under both is one of them.
            Silence::Permits
                if Side::BOTH
                    .iter()
                    .all(|side| self.common.rules(*side).silence == Silence::Permits) =>
            {
                self.in_rows = Formula::any(met);
            }
            Silence::Permits => {}
        }
        Formula::all(ways)
    }

    /// What a row asks.
    pub fn row(&mut self, rule: &Rule, row: &LimitRow, frame: Frame) -> Formula {
        match &row.demand {
            Demand::None => Formula::True,
            Demand::Bounds(bounds) => {
                let value = match self.value(&rule.value.root, frame) {
                    Val::Number(pieces) if rule.judged == Judged::Mean => {
                        let looked = self.looked(rule, frame);
                        match self.mean_of(&pieces, &looked) {
                            Some(mean) => Val::Number(mean),
                            None => Val::Opaque("a mean of several cases".to_owned()),
                        }
                    }
                    value => value,
                };
                let left_out = match rule.judged {
                    Judged::Mean if may_leave_out(rule) => self.left_out(rule, frame),
                    Judged::Mean | Judged::WorstPlace | Judged::Unplaced => Formula::False,
                };
                let each: Vec<Formula> = bounds
                    .iter()
                    .map(|bound| self.bound(rule, &value, bound, frame))
                    .collect();
                Formula::any([left_out, Formula::all(each)])
            }
            Demand::Equals(equals, _) => self.equals(rule, equals, frame),
            Demand::Only(choices, _) => self.allows(rule, frame, &|choice| {
                choice.is_some_and(|choice| choices.contains(&choice))
            }),
            Demand::Without(choices, _) => self.allows(rule, frame, &|choice| {
                choice.is_none_or(|choice| !choices.contains(&choice))
            }),
            Demand::Options(options) => self.options(rule, options, frame),
        }
    }

    /// Every place lies where the rule does not look.
    fn left_out(&mut self, rule: &Rule, frame: Frame) -> Formula {
        let looked = self.looked(rule, frame);
        let part = self.ix(frame);
        if looked == Formula::True {
            return Formula::False;
        }
        let term = self
            .terms
            .intern(part, What::LeftOut(looked), Sort::Truth, false);
        Formula::Truth(
            Var {
                whose: own_of(part),
                term,
            },
            true,
        )
    }

    fn opaque_row(&mut self, rule: &Rule, what: &str, why: &str, frame: Frame) -> Formula {
        let part = self.ix(frame);
        let words = format!("{} {what}: {why}", rule.value.text);
        self.unknown(part, &words)
    }

    fn bound(&mut self, rule: &Rule, value: &Val, bound: &Bound, frame: Frame) -> Formula {
        let what = format!("{} {}", bound.kind.word(), bound.limit.text);
        let pieces = match value {
            Val::Number(pieces) => pieces,
            Val::Opaque(why) => return self.opaque_row(rule, &what, why, frame),
            Val::Day(..) | Val::Truth(_) | Val::Choice(_) | Val::Level | Val::Structured(..) => {
                return Formula::False;
            }
        };
        let (kind, limit) = match &bound.rounded {
            Some(rounded) => (
                rounded.kind,
                vec![Piece::of(Poly::constant(rounded.limit.clone()))],
            ),
            None => match self.number(&bound.limit.root, frame) {
                Ok(limit) => (bound.kind, limit),
                Err(why) => return self.opaque_row(rule, &what, &why, frame),
            },
        };
        match self.reckoner().compared(comparison(kind), pieces, &limit) {
            Some(truth) => truth.yes,
            None => self.opaque_row(rule, &what, "it has too many cases", frame),
        }
    }

    fn equals(&mut self, rule: &Rule, equals: &Equals, frame: Frame) -> Formula {
        match equals {
            Equals::YesNo(yes) => match self.value(&rule.value.root, frame) {
                Val::Truth(truth) => {
                    if *yes {
                        truth.yes
                    } else {
                        truth.no
                    }
                }
                Val::Opaque(why) => self.opaque_row(rule, &format!("equals {yes}"), &why, frame),
                Val::Number(_)
                | Val::Day(..)
                | Val::Choice(_)
                | Val::Level
                | Val::Structured(..) => Formula::False,
            },
            Equals::Choice(asked) => self.allows(rule, frame, &|choice| choice == Some(*asked)),
            Equals::Count(count) => match self.value(&rule.value.root, frame) {
                Val::Number(pieces) => {
                    let limit = [Piece::of(Poly::constant(Exact::from_integer(*count)))];
                    let reckoner = self.reckoner();
                    let least = reckoner.compared(Comparison::GreaterOrEqual, &pieces, &limit);
                    let most = reckoner.compared(Comparison::LessOrEqual, &pieces, &limit);
                    match (least, most) {
                        (Some(least), Some(most)) => Formula::all([least.yes, most.yes]),
                        _ => self.opaque_row(
                            rule,
                            &format!("equals {count}"),
                            "it has too many cases",
                            frame,
                        ),
                    }
                }
                Val::Opaque(why) => self.opaque_row(rule, &format!("equals {count}"), &why, frame),
                Val::Day(..)
                | Val::Truth(_)
                | Val::Choice(_)
                | Val::Level
                | Val::Structured(..) => Formula::False,
            },
        }
    }

    /// All that is declared is allowed.
    fn allows(
        &mut self,
        rule: &Rule,
        frame: Frame,
        allowed: &dyn Fn(Option<ChoiceId>) -> bool,
    ) -> Formula {
        match self.value(&rule.value.root, frame) {
            Val::Choice(chosen) if chosen.list => {
                let one = self
                    .common
                    .part(chosen.part)
                    .and_then(|part| part.traits.get(chosen.slot.index()));
                let choices: Vec<Option<ChoiceId>> = match one.map(|one| &one.kind) {
                    Some(CommonKind::AnyOf(list)) => list
                        .iter()
                        .map(|choice| choice.at.at(self.side))
                        .chain([None])
                        .collect(),
                    _ => Vec::new(),
                };
                let mut each = Vec::new();
                for (at, choice) in choices.into_iter().enumerate() {
                    if !allowed(choice) {
                        let var = self.listed(chosen.var.whose, chosen.part, chosen.slot, at);
                        each.push(Formula::Truth(var, false));
                    }
                }
                Formula::all(each)
            }
            Val::Choice(chosen) => self.is_one_of(&chosen, allowed),
            Val::Opaque(why) => self.opaque_row(rule, "declared", &why, frame),
            Val::Number(_) | Val::Day(..) | Val::Truth(_) | Val::Level | Val::Structured(..) => {
                Formula::False
            }
        }
    }

    fn options(&mut self, rule: &Rule, options: &Options, frame: Frame) -> Formula {
        let mut columns = Vec::new();
        for column in &options.columns {
            match self.number(&column.value.root, frame) {
                Ok(pieces) => columns.push(pieces),
                Err(why) => return self.opaque_row(rule, "options", &why, frame),
            }
        }
        let mut rows = Vec::new();
        for row in &options.rows {
            let mut all = Vec::new();
            for ((column, pieces), (listed, _)) in
                options.columns.iter().zip(&columns).zip(&row.values)
            {
                let reach = column.within.of(&listed.value);
                let low = [Piece::of(Poly::constant(listed.value.sub(&reach)))];
                let high = [Piece::of(Poly::constant(listed.value.add(&reach)))];
                let reckoner = self.reckoner();
                let least = reckoner.compared(Comparison::GreaterOrEqual, pieces, &low);
                let most = reckoner.compared(Comparison::LessOrEqual, pieces, &high);
                match (least, most) {
                    (Some(least), Some(most)) => all.extend([least.yes, most.yes]),
                    _ => return self.opaque_row(rule, "options", "it has too many cases", frame),
                }
            }
            rows.push(Formula::all(all));
        }
        Formula::any(rows)
    }

    /// Whether a rule looks at the place under judgement.
    pub fn looked(&mut self, rule: &Rule, frame: Frame) -> Formula {
        let mut all = Vec::new();
        for (zone, _) in &rule.outside {
            let inside = self.in_zone(*zone, frame, false);
            all.push(inside.negated(self.terms));
        }
        if let Some((zone, _)) = rule.zone {
            all.push(self.in_zone(zone, frame, false));
        }
        Formula::all(all)
    }

    /// Whether the place under judgement lies in a zone, borders included; strictly: not on one.
    fn in_zone(&mut self, zone: ZoneId, frame: Frame, strictly: bool) -> Formula {
        let part = self.ix(frame);
        let zones = self
            .rules
            .vocabulary
            .part(frame.own)
            .map(|part| &part.zones);
        let Some(kind) = zones
            .and_then(|zones| zones.get(zone.index()))
            .map(|zone| &zone.kind)
        else {
            return Formula::False;
        };
        let at = self.place(part, What::PlaceAt);
        let within = |distance: &Poly, reach: &Exact, this: &Self| {
            let reach = Poly::constant(reach.clone());
            Formula::all([
                Formula::sign(&reach.minus(distance), strictly, this.terms),
                Formula::sign(&reach.plus(distance), strictly, this.terms),
            ])
        };
        match kind {
            ZoneKind::WithinOfEdge(distance) => {
                let edge = self.place(part, What::PlaceFromEdge);
                let left = Poly::constant(distance.clone()).minus(&edge);
                Formula::sign(&left, strictly, self.terms)
            }
            ZoneKind::Between(low, high) => Formula::all([
                Formula::sign(
                    &at.minus(&Poly::constant(low.clone())),
                    strictly,
                    self.terms,
                ),
                Formula::sign(
                    &Poly::constant(high.clone()).minus(&at),
                    strictly,
                    self.terms,
                ),
            ]),
            ZoneKind::WithinOf { distance, of } => match self.position(&of.text, frame) {
                Some(of) => within(&at.minus(&of), distance, self),
                None => self.unknown(part, &format!("within {distance} of {}", of.text)),
            },
            ZoneKind::Along {
                profile,
                from,
                to_height,
            } => {
                let vocabulary = self.rules.vocabulary.part(frame.own);
                let slot = vocabulary.and_then(|part| part.measure_named(&profile.text));
                let measure = slot.and_then(|slot| self.common.measure_of(self.side, part, slot));
                match (self.position(&from.text, frame), measure) {
                    (Some(from), Some(ix)) => {
                        let sort = Sort::Number {
                            low: None,
                            high: None,
                        };
                        let term = self.terms.intern(
                            part,
                            What::AlongEnd(ix, to_height.clone()),
                            sort,
                            false,
                        );
                        let end = Poly::var(Var {
                            whose: Whose::Own,
                            term,
                        });
                        Formula::all([
                            Formula::sign(&at.minus(&from), strictly, self.terms),
                            Formula::sign(&end.minus(&at), strictly, self.terms),
                        ])
                    }
                    _ => self.unknown(part, &format!("along {}", profile.text)),
                }
            }
        }
    }

    fn place(&mut self, part: PartIx, what: What) -> Poly {
        let sort = match what {
            What::PlaceFromEdge => Sort::Number {
                low: Some((Exact::ZERO, true)),
                high: None,
            },
            _ => Sort::Number {
                low: None,
                high: None,
            },
        };
        let term = self.terms.intern(part, what, sort, true);
        Poly::var(Var {
            whose: Whose::Own,
            term,
        })
    }

    /// A position along the item, by its name.
    fn position(&mut self, name: &str, frame: Frame) -> Option<Poly> {
        use crate::expression::{Node, Op, Scope};
        let part = self.rules.vocabulary.part(frame.own)?;
        let op = match (part.measure_named(name), part.derived_named(name)) {
            (Some(slot), _) => Op::Measure(Scope::Own, slot),
            (None, Some(slot)) => Op::Derived(Scope::Own, slot),
            (None, None) => return None,
        };
        let node = Node {
            span: crate::text::Span::default(),
            op,
        };
        let pieces = self.number(&node, frame).ok()?;
        match pieces.as_slice() {
            [piece]
                if piece.when == Formula::True
                    && piece.under.as_constant() == Some(&Exact::ONE) =>
            {
                Some(piece.over.clone())
            }
            _ => None,
        }
    }
}

/// Whether a rule does not apply where every place lies in a zone that it leaves out: it asks neither for a number of
/// places nor for places in a zone.
pub(super) fn may_leave_out(rule: &Rule) -> bool {
    rule.places.is_none() && rule.zone.is_none()
}

/// Whose the traits of the item under judgement are.
fn own_of(part: PartIx) -> Whose {
    if part == super::clause::BOAT {
        Whose::Boat
    } else {
        Whose::Own
    }
}

fn comparison(kind: BoundKind) -> Comparison {
    match kind {
        BoundKind::AtLeast => Comparison::GreaterOrEqual,
        BoundKind::AtMost => Comparison::LessOrEqual,
        BoundKind::MoreThan => Comparison::Greater,
        BoundKind::LessThan => Comparison::Less,
    }
}
