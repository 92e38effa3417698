//! Numbers of marks with a check character, so that a slip of the pen or of a cold finger is seen.
//!
//! Source: ISO/IEC 7064, hybrid system MOD 37,36: letters and digits with one check character, which is a
//! letter or digit too. It finds every single wrong character and nearly every swap of two neighbours.

/// How many characters there are.
const M: u32 = 36;

/// Longest number that is read, characters.
const LONGEST: usize = 64;

/// Why a text is no number of a mark.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NumberProblem {
    /// Nothing is written, or nothing but the check character.
    Empty,
    /// A character other than a letter A to Z, a digit, a blank, a hyphen or a point; where it begins, in bytes.
    Character(usize, char),
    /// More characters than are read.
    Long(usize),
}

/// What a character counts: digits 0 to 9, letters 10 to 35.
fn value(letter: char) -> Option<u32> {
    letter.to_digit(M)
}

/// The character that counts so much.
fn character(value: u32) -> Option<char> {
    char::from_digit(value, M).map(|letter| letter.to_ascii_uppercase())
}

/// The characters that count, as capitals; what parts them is passed over.
fn characters(text: &str) -> Result<Vec<char>, NumberProblem> {
    let mut found = Vec::new();
    for (at, letter) in text.char_indices() {
        match letter {
            ' ' | '-' | '.' => {}
            letter if letter.is_ascii_alphanumeric() => found.push(letter.to_ascii_uppercase()),
            letter => return Err(NumberProblem::Character(at, letter)),
        }
    }
    match found.len() {
        0 => Err(NumberProblem::Empty),
        count if count > LONGEST => Err(NumberProblem::Long(count)),
        _ => Ok(found),
    }
}

/// The check character of characters A to Z and 0 to 9: the one with which P + a ≡ 1 (mod M), where P begins
/// as M and becomes 2·((P + a) mod M, M for 0) mod (M + 1) with each character a.
fn check_of(letters: &[char]) -> Option<char> {
    let mut p = M;
    for letter in letters {
        let sum = (p + value(*letter)?) % M;
        p = (if sum == 0 { M } else { sum }) * 2 % (M + 1);
    }
    character((M + 1 - p) % M)
}

/// The check character of a number; blanks, hyphens and points don't count, small letters count as capitals.
///
/// # Errors
/// A text that is no number.
pub fn check_character(text: &str) -> Result<char, NumberProblem> {
    check_of(&characters(text)?).ok_or(NumberProblem::Empty)
}

/// A number that was read with its check character.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CheckedNumber {
    /// The characters without the last one.
    pub number: String,
    /// The last one.
    pub given: char,
    /// What it has to be.
    pub expected: char,
}

impl CheckedNumber {
    /// Whether the check character fits.
    pub fn fits(&self) -> bool {
        self.given == self.expected
    }
}

/// Reads a number whose last character is its check character.
///
/// # Errors
/// A text that is no number, or has one character alone.
pub fn read_number(text: &str) -> Result<CheckedNumber, NumberProblem> {
    let letters = characters(text)?;
    let Some((given, number)) = letters
        .split_last()
        .filter(|(_, number)| !number.is_empty())
    else {
        return Err(NumberProblem::Empty);
    };
    let expected = check_of(number).ok_or(NumberProblem::Empty)?;
    Ok(CheckedNumber {
        number: number.iter().collect(),
        given: *given,
        expected,
    })
}

#[cfg(test)]
#[allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]
mod tests {
    use super::*;

    /// The worked number of an industry identifier that uses MOD 37,36, quoted from memory: A1-2425G-ABC1234002
    /// has the check character M.
    #[test]
    fn a_published_number() {
        assert_eq!(check_character("A1-2425G-ABC1234002").unwrap(), 'M');
        assert!(read_number("a1 2425g abc1234002 m").unwrap().fits());
    }

    #[test]
    fn every_single_slip_is_seen_and_nearly_every_swap() {
        let (mut swaps, mut unseen) = (0, 0);
        for number in 0..400_u32 {
            let text = format!("T8{number:04}");
            let check = check_character(&text).unwrap();
            let whole: Vec<char> = text.chars().chain([check]).collect();
            for at in 0..whole.len() {
                for other in "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ".chars() {
                    let mut slipped = whole.clone();
                    slipped[at] = other;
                    let read = read_number(&slipped.iter().collect::<String>()).unwrap();
                    assert_eq!(read.fits(), other == whole[at], "{slipped:?}");
                }
                if at + 1 < whole.len() && whole[at] != whole[at + 1] {
                    let mut swapped = whole.clone();
                    swapped.swap(at, at + 1);
                    swaps += 1;
                    let read = read_number(&swapped.iter().collect::<String>()).unwrap();
                    unseen += u32::from(read.fits());
                }
            }
        }
        assert!(unseen * 50 < swaps, "{unseen} of {swaps}");
    }

    #[test]
    fn what_is_no_number() {
        assert_eq!(check_character(" - "), Err(NumberProblem::Empty));
        assert_eq!(read_number("7"), Err(NumberProblem::Empty));
        assert_eq!(
            check_character("T8/41"),
            Err(NumberProblem::Character(2, '/'))
        );
        assert_eq!(
            check_character(&"1".repeat(65)),
            Err(NumberProblem::Long(65))
        );
    }
}
