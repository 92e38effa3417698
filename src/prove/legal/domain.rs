//! Which numbers a measure can have at all.

use crate::quantity::Exact;
use crate::vocabulary::QuantityKind;

/// The tighter of two limits from below; each says whether it is a value itself.
pub(super) fn tighter(
    one: Option<(Exact, bool)>,
    other: Option<(Exact, bool)>,
) -> Option<(Exact, bool)> {
    match (one, other) {
        (Some(one), Some(other)) => Some(if one.0 > other.0 || (one.0 == other.0 && !one.1) {
            one
        } else {
            other
        }),
        (one, other) => one.or(other),
    }
}

/// Where the numbers of a kind begin, by the sign of the lowest that is plausible.
pub(super) fn lowest_of(kind: QuantityKind, plausible: Option<i32>) -> Option<(Exact, bool)> {
    match kind {
        QuantityKind::Length | QuantityKind::Mass | QuantityKind::Area | QuantityKind::Force => {
            match plausible {
                None | Some(1..) => Some((Exact::ZERO, false)),
                Some(0) => Some((Exact::ZERO, true)),
                Some(i32::MIN..=-1) => None,
            }
        }
        QuantityKind::Angle | QuantityKind::Temperature => Some((Exact::ZERO, true)),
        QuantityKind::Position
        | QuantityKind::Ratio
        | QuantityKind::Stiffness
        | QuantityKind::HardnessHrc
        | QuantityKind::HardnessHv
        | QuantityKind::HardnessHbw
        | QuantityKind::Number => None,
    }
}
