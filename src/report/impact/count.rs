//! Counts with their shares.

/// From so many on a share stands beside a count. Below, one item more or less moves it by more than two in a hundred, and
/// it tells less than the count. Common practice of reports on small samples; no standard asks for this number.
pub(in crate::report) const SHARES_FROM: u64 = 50;

/// A count, with its share where there are enough to speak of one: `17 (1.6 %)`.
pub(in crate::report) fn counted(count: u64, of: u64) -> String {
    match share(count, of).filter(|_| count > 0) {
        Some(share) => format!("{count} ({share})"),
        None => count.to_string(),
    }
}

/// The same with its noun: `17 items (1.6 %)`.
pub(in crate::report) fn counted_of(count: u64, of: u64, noun: &str) -> String {
    let counted = several(count, noun);
    match share(count, of).filter(|_| count > 0) {
        Some(share) => format!("{counted} ({share})"),
        None => counted,
    }
}

/// A share in tenths of a hundredth: `1.6 %`; nothing where there are too few. None is never told as some, nor some as none
/// or all.
pub(in crate::report) fn share(count: u64, of: u64) -> Option<String> {
    if of < SHARES_FROM {
        return None;
    }
    let (count, of) = (u128::from(count), u128::from(of));
    let tenths = (count * 1000 + of / 2) / of;
    Some(match count {
        0 => "0 %".to_owned(),
        all if all == of => "100 %".to_owned(),
        _ if tenths == 0 => "less than 0.1 %".to_owned(),
        _ if tenths >= 1000 => "more than 99.9 %".to_owned(),
        _ => format!("{}.{} %", tenths / 10, tenths % 10),
    })
}

/// A number with its noun: `1 boat`, `2 boats`.
pub fn several(count: u64, noun: &str) -> String {
    match count {
        1 => format!("1 {noun}"),
        many => format!("{many} {}", plural(noun)),
    }
}

/// The word that agrees with a count: `is` or `are`, `it` or `they`.
pub(in crate::report) fn agree<'w>(count: u64, one: &'w str, many: &'w str) -> &'w str {
    if count == 1 { one } else { many }
}

/// A noun for many: `runners`, `batten boxes`, `bodies`.
pub(in crate::report) fn plural(noun: &str) -> String {
    let hissing = ["s", "x", "z", "ch", "sh"].iter();
    let hissing = hissing.copied().any(|end| noun.ends_with(end));
    let before_y = noun.strip_suffix('y');
    match before_y.filter(|stem| !stem.ends_with(['a', 'e', 'i', 'o', 'u'])) {
        Some(stem) if !stem.is_empty() => format!("{stem}ies"),
        _ if hissing => format!("{noun}es"),
        _ => format!("{noun}s"),
    }
}

/// Words as a list: `a`, `a and b`, `a, b and c`.
pub fn listed(words: &[String]) -> String {
    match words {
        [] => String::new(),
        [one] => one.clone(),
        [before @ .., last] => format!("{} and {last}", before.join(", ")),
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::{SHARES_FROM, agree, counted, listed, plural, several, share};

    #[test]
    fn counts_nouns_and_verbs_agree() {
        for (count, words) in [(0, "0 planks are"), (1, "1 plank is"), (2, "2 planks are")] {
            let said = format!("{} {}", several(count, "plank"), agree(count, "is", "are"));
            assert_eq!(said, words);
        }
        for (one, many) in [
            ("runner", "runners"),
            ("batten box", "batten boxes"),
            ("body", "bodies"),
            ("stay", "stays"),
            ("mast foot brass", "mast foot brasses"),
        ] {
            assert_eq!(plural(one), many);
        }
        let words = ["a", "b", "c"].map(str::to_owned);
        assert_eq!(listed(&words), "a, b and c");
        assert_eq!(listed(&words[..2]), "a and b");
        assert_eq!(listed(&words[..1]), "a");
    }

    #[test]
    fn shares_stand_beside_counts_of_enough_alone() {
        assert_eq!(counted(3, SHARES_FROM - 1), "3");
        assert_eq!(counted(3, SHARES_FROM), "3 (6.0 %)");
        assert_eq!(counted(0, 0), "0");
        assert_eq!(counted(0, 5000), "0");
    }

    #[test]
    fn some_is_never_none_and_never_all() {
        assert_eq!(share(0, 5000).unwrap(), "0 %");
        assert_eq!(share(1, 5000).unwrap(), "less than 0.1 %");
        assert_eq!(share(4999, 5000).unwrap(), "more than 99.9 %");
        assert_eq!(share(5000, 5000).unwrap(), "100 %");
        assert_eq!(share(u64::MAX - 1, u64::MAX).unwrap(), "more than 99.9 %");
    }
}
