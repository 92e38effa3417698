//! Derived values: parsed in the order in which they use each other; a circle is a fault.

use crate::diagnostic::{Faults, near_misses};
use crate::expression::{self, Expression, ExpressionProblem, Names, Yield};
use crate::text::{Entry, Node, quoted};
use crate::vocabulary::{
    DerivedId, Measure, MeasureKind, Name, Part, PartId, Vocabulary, ZoneKind,
};

/// Derived values by part and slot; `None` where one could not be read.
pub type Derived = Vec<Vec<Option<Expression>>>;

/// Adds the problems of an expression.
pub fn problems(found: Vec<ExpressionProblem>, faults: &mut Faults) {
    for problem in found {
        faults.fault(
            problem.code,
            problem.span,
            problem.message,
            "",
            problem.help.unwrap_or_default(),
        );
    }
}

/// What a derived value yields, where it is known.
pub fn yield_of(derived: &Derived, part: PartId, slot: DerivedId) -> Option<Yield> {
    derived
        .get(part.index())?
        .get(slot.index())?
        .as_ref()
        .map(|expression| expression.yields)
}

/// Parses every derived value of a vocabulary.
pub fn load(vocabulary: &Vocabulary, equipment: &Entry<'_>, faults: &mut Faults) -> Derived {
    let mut derived: Derived = vocabulary
        .parts
        .iter()
        .map(|part| vec![None; part.derived.len()])
        .collect();
    let mut open: Vec<(PartId, DerivedId)> = Vec::new();
    for (part_at, part) in vocabulary.parts.iter().enumerate() {
        for slot_at in 0..part.derived.len() {
            if let (Ok(part), Ok(slot)) = (u16::try_from(part_at), u16::try_from(slot_at)) {
                open.push((PartId(part), DerivedId(slot)));
            }
        }
    }
    let mut broken: Vec<(PartId, DerivedId)> = Vec::new();
    // Each round reads those whose uses are all settled; what remains uses itself in a circle.
    while !open.is_empty() {
        let mut waiting = Vec::new();
        let before = open.len();
        for (part, slot) in open {
            let Some((uses, node)) = uses(vocabulary, equipment, part, slot) else {
                continue;
            };
            let settled = |used: &(PartId, DerivedId)| {
                broken.contains(used) || yield_of(&derived, used.0, used.1).is_some()
            };
            if !uses.iter().all(settled) {
                waiting.push((part, slot));
                continue;
            }
            let found = {
                let types = |part, slot| yield_of(&derived, part, slot);
                let names = Names {
                    vocabulary,
                    own: part,
                    derived: &types,
                };
                let text = node.as_text().unwrap_or("");
                expression::read_value(text, &|range| node.text_span(range), &names)
            };
            match found {
                Ok(expression) => {
                    if let Some(place) = derived
                        .get_mut(part.index())
                        .and_then(|list| list.get_mut(slot.index()))
                    {
                        *place = Some(expression);
                    }
                }
                Err(found) => {
                    problems(found, faults);
                    broken.push((part, slot));
                }
            }
        }
        if waiting.len() == before {
            circle(vocabulary, equipment, &waiting, faults);
            break;
        }
        open = waiting;
    }
    zones(vocabulary, &derived, faults);
    derived
}

/// All of them, if every one could be read.
pub fn complete(derived: Derived) -> Option<Vec<Vec<Expression>>> {
    derived
        .into_iter()
        .map(|list| list.into_iter().collect::<Option<Vec<_>>>())
        .collect()
}

type Uses<'n, 's> = (Vec<(PartId, DerivedId)>, &'n Node<'s>);

fn uses<'n, 's>(
    vocabulary: &Vocabulary,
    equipment: &'n Entry<'s>,
    part: PartId,
    slot: DerivedId,
) -> Option<Uses<'n, 's>> {
    let described = vocabulary.part(part)?;
    let value = described.derived.get(slot.index())?;
    let node = equipment
        .node
        .get(&described.name.text)?
        .get("derived")?
        .get(&value.name.text)?;
    let names = Names {
        vocabulary,
        own: part,
        derived: &|_, _| None,
    };
    Some((expression::derived_used(&value.text, &names), node))
}

fn circle(
    vocabulary: &Vocabulary,
    equipment: &Entry<'_>,
    waiting: &[(PartId, DerivedId)],
    faults: &mut Faults,
) {
    let name = |(part, slot): (PartId, DerivedId)| {
        vocabulary
            .part(part)
            .and_then(|part| part.derived.get(slot.index()))
            .map(|one| one.name.clone())
    };
    // Walk from the first one along its uses until one comes again: that is the circle.
    let Some(first) = waiting.first() else { return };
    let mut path = vec![*first];
    loop {
        let Some(last) = path.last() else { return };
        let next = uses(vocabulary, equipment, last.0, last.1)
            .and_then(|(uses, _)| uses.into_iter().find(|used| waiting.contains(used)));
        let Some(next) = next else { return };
        if let Some(at) = path.iter().position(|one| *one == next) {
            let round: Vec<_> = path.iter().skip(at).filter_map(|one| name(*one)).collect();
            let words: Vec<String> = round
                .iter()
                .chain(round.first())
                .map(|name| quoted(&name.text))
                .collect();
            if let Some(start) = round.first() {
                faults.fault(
                    "expression.circle",
                    start.span,
                    format!(
                        "derived values use each other in a circle: {}",
                        words.join(" from ")
                    ),
                    "needs itself",
                    "one of them must come from measures alone",
                );
                for name in round.iter().skip(1) {
                    faults.also(name.span, "in the circle");
                }
            }
            return;
        }
        path.push(next);
    }
}

const POSITION: &str = "a zone lies within a distance of `edge`, or of a position such as `toe_at`";

/// A zone along the edge is told from a profile.
fn profile_of(part: &Part, profile: &Name, faults: &mut Faults) {
    let is_profile = |one: &&Measure| one.kind == MeasureKind::Profile;
    let named = part.measure_named(&profile.text);
    let named = named.and_then(|id| part.measures.get(id.index()));
    if named.filter(is_profile).is_some() {
        return;
    }
    let known = part.measures.iter().find(is_profile);
    faults.fault(
        "vocabulary.zone",
        profile.span,
        format!(
            "{} is no profile of the edge of a {}",
            quoted(&profile.text),
            part.name.text
        ),
        "",
        match known {
            Some(one) => format!("write `along: {}`", one.name.text),
            None => "name a measure of the kind profile: `edge_profile: profile`".to_owned(),
        },
    );
}

/// A zone along the item is told from a measure or derived value that is a length.
fn zones(vocabulary: &Vocabulary, derived: &Derived, faults: &mut Faults) {
    for (at, part) in vocabulary.parts.iter().enumerate() {
        for zone in &part.zones {
            let (of, edge) = match &zone.kind {
                ZoneKind::WithinOf { of, .. } => (of, "`edge`"),
                ZoneKind::Along { profile, from, .. } => {
                    profile_of(part, profile, faults);
                    (from, "a position")
                }
                ZoneKind::WithinOfEdge(_) | ZoneKind::Between(..) => continue,
            };
            let measured = part
                .measure_named(&of.text)
                .and_then(|id| part.measures.get(id.index()))
                .map(|measure| {
                    matches!(
                        measure.kind,
                        crate::vocabulary::MeasureKind::Quantity(
                            crate::vocabulary::QuantityKind::Position
                                | crate::vocabulary::QuantityKind::Length
                        )
                    ) && !measure.placed
                });
            let computed = part.derived_named(&of.text).and_then(|slot| {
                derived
                    .get(at)
                    .and_then(|list| list.get(slot.index()))
                    .map(|one| match one {
                        Some(expression) => {
                            expression.yields.kind
                                == expression::Type::Quantity(crate::quantity::Dimension::LENGTH)
                                && !expression.yields.placed
                        }
                        None => true,
                    })
            });
            match measured.or(computed) {
                Some(true) => {}
                Some(false) => faults.fault(
                    "vocabulary.zone",
                    of.span,
                    format!(
                        "{} is no single position along a {}",
                        quoted(&of.text),
                        part.name.text
                    ),
                    "",
                    POSITION,
                ),
                None => {
                    let known = part
                        .measures
                        .iter()
                        .map(|one| one.name.text.as_str())
                        .chain(part.derived.iter().map(|one| one.name.text.as_str()))
                        .chain(["edge"]);
                    let help = match near_misses(&of.text, known) {
                        Some(near) => format!("did you mean {}?", quoted(near)),
                        None => POSITION.to_owned(),
                    };
                    faults.fault(
                        "name.unknown",
                        of.span,
                        format!(
                            "{} is neither {edge} nor a measure of {}",
                            quoted(&of.text),
                            part.name.text
                        ),
                        "not known",
                        help,
                    );
                }
            }
        }
    }
}
