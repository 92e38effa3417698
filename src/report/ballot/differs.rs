//! Where two texts differ, word by word: so that a changed figure is seen at a glance.

/// A piece of a text; all of them one after another are the text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Run {
    /// Whole words, with the blank behind them where more follow.
    pub text: String,
    /// Whether the other text has other words here.
    pub differs: bool,
}

/// Two texts of more words than that are told apart from their first to their last different word.
const MOST: usize = 4_000_000;

/// A text in which nothing is marked.
pub fn unmarked(text: &str) -> Vec<Run> {
    let words: Vec<&str> = text.split_whitespace().collect();
    runs(&words, &vec![false; words.len()])
}

/// Both texts with what differs; nothing where they share so little that one was written anew: marks would hide it then.
pub fn both(was: &str, is: &str) -> Option<[Vec<Run>; 2]> {
    let was: Vec<&str> = was.split_whitespace().collect();
    let is: Vec<&str> = is.split_whitespace().collect();
    let [old, new] = different(&was, &is);
    let shared = old.iter().filter(|differs| !**differs).count();
    let least = was.len().min(is.len());
    // A few words are seen at a glance, whatever differs.
    let anew = least > 6 && 2 * shared < least;
    (!anew).then(|| [runs(&was, &old), runs(&is, &new)])
}

/// Words as runs of those that differ and those that do not.
fn runs(words: &[&str], differs: &[bool]) -> Vec<Run> {
    let mut all: Vec<Run> = Vec::new();
    for (word, differs) in words.iter().zip(differs) {
        match all.last_mut() {
            Some(last) if last.differs == *differs => {
                last.text.push(' ');
                last.text.push_str(word);
            }
            Some(last) => {
                last.text.push(' ');
                all.push(Run {
                    text: (*word).to_owned(),
                    differs: *differs,
                });
            }
            None => all.push(Run {
                text: (*word).to_owned(),
                differs: *differs,
            }),
        }
    }
    all
}

/// For each word whether it stands outside the longest row of words that both texts share.
fn different(was: &[&str], is: &[&str]) -> [Vec<bool>; 2] {
    let before = was.iter().zip(is).take_while(|(a, b)| a == b).count();
    let least = was.len().min(is.len()) - before;
    let after = was.iter().rev().zip(is.iter().rev()).take(least);
    let after = after.take_while(|(a, b)| a == b).count();
    let middle = |words: &[&str]| -> Vec<String> {
        let end = words.len() - after;
        let inner = words.get(before..end).unwrap_or_default();
        inner.iter().map(|word| (*word).to_owned()).collect()
    };
    let (old, new) = (middle(was), middle(is));
    let shared = shared(&old, &new);
    let marks = |inner: usize, of: &dyn Fn(&(usize, usize)) -> usize| -> Vec<bool> {
        let mut all = vec![true; inner];
        for pair in &shared {
            if let Some(one) = all.get_mut(of(pair)) {
                *one = false;
            }
        }
        let mut whole = vec![false; before];
        whole.append(&mut all);
        whole.resize(before + inner + after, false);
        whole
    };
    [
        marks(old.len(), &|pair| pair.0),
        marks(new.len(), &|pair| pair.1),
    ]
}

/// The longest row of words that both have, as pairs of places.
fn shared(old: &[String], new: &[String]) -> Vec<(usize, usize)> {
    if old.len().saturating_mul(new.len()) > MOST {
        return Vec::new();
    }
    // How long the longest shared row is from each pair of places on.
    let width = new.len() + 1;
    let mut longest = vec![0_u32; (old.len() + 1) * width];
    let get = |table: &[u32], row: usize, column: usize| {
        table.get(row * width + column).copied().unwrap_or(0)
    };
    for (row, left) in old.iter().enumerate().rev() {
        for (column, right) in new.iter().enumerate().rev() {
            let best = if left == right {
                get(&longest, row + 1, column + 1) + 1
            } else {
                get(&longest, row + 1, column).max(get(&longest, row, column + 1))
            };
            if let Some(one) = longest.get_mut(row * width + column) {
                *one = best;
            }
        }
    }
    let (mut row, mut column) = (0, 0);
    let mut pairs = Vec::new();
    while let (Some(left), Some(right)) = (old.get(row), new.get(column)) {
        if left == right {
            pairs.push((row, column));
            row += 1;
            column += 1;
        } else if get(&longest, row + 1, column) >= get(&longest, row, column + 1) {
            row += 1;
        } else {
            column += 1;
        }
    }
    pairs
}

#[cfg(test)]
#[allow(clippy::unwrap_used, clippy::indexing_slicing)]
mod tests {
    use super::*;

    fn marked(runs: &[Run]) -> Vec<&str> {
        let differing = runs.iter().filter(|run| run.differs);
        differing.map(|run| run.text.trim_end()).collect()
    }

    #[test]
    fn a_changed_figure_is_marked_on_both_sides() {
        let [was, is] = both(
            "thinner than 6.00 mm in a plate runner and 4.70 mm in an insert runner.",
            "thinner than 6.00 mm in a plate runner and 4.80 mm in an insert runner.",
        )
        .unwrap();
        assert_eq!(marked(&was), ["4.70"]);
        assert_eq!(marked(&is), ["4.80"]);
    }

    #[test]
    fn what_is_added_is_marked_where_it_stands() {
        let [was, is] = both("from 500 mm to 600 mm", "from 500 mm to 600 mm, or 620 mm").unwrap();
        assert!(marked(&was).is_empty());
        assert_eq!(marked(&is), ["mm, or 620"]);
    }

    #[test]
    fn the_runs_are_the_text() {
        for (was, is) in [
            ("a b c d e f g h", "a b x d e y g h"),
            ("", "a"),
            ("one\n two", "one two three"),
            ("at most 5", "at least 7 m"),
        ] {
            let [old, new] = both(was, is).unwrap();
            for (runs, text) in [(old, was), (new, is)] {
                let joined: String = runs.iter().map(|run| run.text.as_str()).collect();
                let plain: Vec<&str> = text.split_whitespace().collect();
                assert_eq!(joined, plain.join(" "));
            }
        }
    }

    #[test]
    fn a_text_that_was_written_anew_is_not_marked_all_over() {
        assert_eq!(
            both(
                "The area of a sail shall not be more than 6 square metres.",
                "Sails are measured on a flat floor, and the table below says how large."
            ),
            None
        );
    }
}
