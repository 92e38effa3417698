//! The nearest known word, for "did you mean".

/// The candidate that differs least from a word, if it is near enough: within 1 edit for words of 2
/// to 4 letters, 2 up to 8, 3 beyond. An edit is a letter added, left out, changed, or swapped with
/// its neighbour (optimal string alignment); upper case, and `-`, `_` or blanks for one another, count
/// as no edit. Of equally near candidates the first.
pub fn near_misses<'c>(
    word: &str,
    candidates: impl IntoIterator<Item = &'c str>,
) -> Option<&'c str> {
    /// No name is longer; a long text is no misspelt name.
    const LONGEST: usize = 64;
    let plain = |text: &str| -> Vec<char> {
        text.trim()
            .chars()
            .flat_map(char::to_lowercase)
            .map(|letter| {
                if matches!(letter, '-' | ' ') {
                    '_'
                } else {
                    letter
                }
            })
            .take(LONGEST + 1)
            .collect()
    };
    let word = plain(word);
    let allowed = match word.len() {
        0 | 1 => return None,
        2..=4 => 1,
        5..=8 => 2,
        9..=LONGEST => 3,
        _ => return None,
    };
    let mut best: Option<(usize, &'c str)> = None;
    for candidate in candidates {
        let letters = plain(candidate);
        if letters.len().abs_diff(word.len()) > allowed {
            continue;
        }
        // One edit turns any two-letter word into most others: keep one letter in its place.
        let kept = word.first() == letters.first() || word.last() == letters.last();
        if word.len() == 2 && !kept {
            continue;
        }
        let distance = edits(&word, &letters);
        if distance <= allowed && best.is_none_or(|(least, _)| distance < least) {
            best = Some((distance, candidate));
        }
    }
    best.map(|(_, candidate)| candidate)
}

/// Edits between two words, row by row.
fn edits(from: &[char], to: &[char]) -> usize {
    let mut before_last: Vec<usize> = Vec::new();
    let mut last: Vec<usize> = (0..=to.len()).collect();
    let mut letter_before = None;
    for (row, letter) in from.iter().enumerate() {
        let mut current = Vec::with_capacity(to.len() + 1);
        current.push(row + 1);
        let mut left = row + 1;
        let mut other_before = None;
        for (column, other) in to.iter().enumerate() {
            let at =
                |row: &[usize], index: usize| row.get(index).copied().unwrap_or(usize::MAX / 2);
            let mut least = (left + 1)
                .min(at(&last, column + 1) + 1)
                .min(at(&last, column) + usize::from(letter != other));
            if letter_before == Some(other) && other_before == Some(letter) && column > 0 {
                least = least.min(at(&before_last, column - 1) + 1);
            }
            current.push(least);
            left = least;
            other_before = Some(other);
        }
        letter_before = Some(letter);
        before_last = std::mem::replace(&mut last, current);
    }
    last.last().copied().unwrap_or(0)
}
