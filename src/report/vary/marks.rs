//! Lines across a plot with their words above it, placed so that no line runs through words and no word is cut off.

/// Between a line and the words of another one.
const GAP: f64 = 6.0;

/// A line with its words.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Mark {
    /// Where it stands.
    pub x: f64,
    /// How wide its words are.
    pub wide: f64,
}

/// Where the words of a line stand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Place {
    /// The row of words, counted upwards from the field.
    pub row: usize,
    /// Their middle.
    pub middle: f64,
    /// How many rows of words the line reaches past: as many as lie under its own, or none where it would strike words.
    pub past: usize,
}

/// Places the words of at most two lines between two edges, each over its own line where that is possible.
pub(super) fn places(marks: &[Mark], (left, right): (f64, f64)) -> Vec<Place> {
    let alone = |mark: &Mark, row| Place {
        row,
        middle: kept(mark, left, right).unwrap_or((left + right) / 2.0),
        past: row,
    };
    let [one, other] = marks else {
        return marks.iter().map(|mark| alone(mark, 0)).collect();
    };
    let below = |low: &Mark, high: &Mark| {
        let (from, to) = match low.x <= high.x {
            true => (left, high.x - GAP),
            false => (high.x + GAP, right),
        };
        let middle = kept(low, from, to)?;
        // Words that begin far from their line would be taken for those of the other one.
        let off = (middle - low.x).abs() - low.wide / 2.0;
        (off <= 2.0 * GAP).then_some(((middle - low.x).abs(), middle))
    };
    let ways = [
        below(one, other).map(|found| (found, true)),
        below(other, one).map(|found| (found, false)),
    ];
    let ways = ways.into_iter().flatten();
    let best = ways.min_by(|((one, _), _), ((other, _), _)| one.total_cmp(other));
    let under = |middle| Place {
        row: 0,
        middle,
        past: 0,
    };
    match best {
        Some(((_, middle), true)) => vec![under(middle), alone(other, 1)],
        Some(((_, middle), false)) => vec![alone(one, 1), under(middle)],
        // Too wide for each other: the lines end under all words.
        None => [one, other]
            .into_iter()
            .enumerate()
            .map(|(row, mark)| Place {
                past: 0,
                ..alone(mark, row)
            })
            .collect(),
    }
}

/// The middle of words over a line, kept between two ends; nothing where they are too wide.
fn kept(mark: &Mark, from: f64, to: f64) -> Option<f64> {
    let half = mark.wide / 2.0;
    (to - from >= mark.wide).then(|| mark.x.clamp(from + half, to - half))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::{Mark, places};

    fn mark() -> impl Strategy<Value = Mark> {
        (56.0_f64..500.0, 20.0_f64..240.0).prop_map(|(x, wide)| Mark { x, wide })
    }

    proptest! {
        #[test]
        fn no_line_runs_through_words_and_none_are_cut(one in mark(), other in mark(), apart in 0.0_f64..500.0, close in any::<bool>()) {
            let mut marks = vec![one, other];
            if close {
                marks[1].x = (marks[0].x + apart / 100.0).min(500.0);
            }
            let found = places(&marks, (56.0, 500.0));
            prop_assert_ne!(found[0].row, found[1].row);
            for (mark, place) in marks.iter().zip(&found) {
                prop_assert!(place.middle - mark.wide / 2.0 >= 55.99, "{place:?}");
                prop_assert!(place.middle + mark.wide / 2.0 <= 500.01, "{place:?}");
                // Words in rows that the other line passes do not reach it.
                for (line, of_line) in marks.iter().zip(&found) {
                    let passes = place.row < of_line.past;
                    let struck = (line.x - place.middle).abs() < mark.wide / 2.0;
                    prop_assert!(!passes || !struck, "{marks:?} {found:?}");
                }
            }
        }
    }

    #[test]
    fn words_stand_over_their_line_where_there_is_room() {
        let marks = [
            Mark {
                x: 150.0,
                wide: 90.0,
            },
            Mark {
                x: 400.0,
                wide: 120.0,
            },
        ];
        let found = places(&marks, (56.0, 500.0));
        for (mark, place) in marks.iter().zip(&found) {
            assert!((place.middle - mark.x).abs() < 0.01, "{found:?}");
        }
        // At an edge they are moved aside.
        let edge = places(
            &[Mark {
                x: 500.0,
                wide: 90.0,
            }],
            (56.0, 500.0),
        );
        assert!((edge[0].middle - 455.0).abs() < 0.01, "{edge:?}");
    }
}
