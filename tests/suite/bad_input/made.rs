//! Inputs that are made: too large, too deep, or no text at all.
//!
//! A file `x.made` is text with recipes between `⟦` and `⟧`: `⟦10000 × [⟧` a text so many times, with `#`
//! for the number of the turn, `\n` a line end and `\0` a byte 00; `⟦C3 A4⟧` bytes; and in front of all,
//! for the whole file, `⟦utf-16le⟧`, `⟦utf-16be⟧`, `⟦utf-32le⟧`, `⟦lines cr⟧`, `⟦lines crlf⟧`.

/// The bytes a recipe makes.
pub(super) fn bytes(recipe: &str) -> Vec<u8> {
    let whole = ["utf-16le", "utf-16be", "utf-32le", "lines crlf", "lines cr"];
    for word in whole {
        if let Some(rest) = recipe.strip_prefix(&format!("⟦{word}⟧")) {
            return encoded(word, rest);
        }
    }
    let mut made = Vec::new();
    let mut rest = recipe;
    while let Some((before, after)) = rest.split_once('⟦') {
        made.extend_from_slice(before.as_bytes());
        let (inner, after) = after
            .split_once('⟧')
            .unwrap_or_else(|| panic!("no ⟧ behind {after:.40}"));
        match inner.split_once(" × ") {
            Some((times, text)) => repeat(times.parse().unwrap(), text, &mut made),
            None => made.extend(
                inner
                    .split(' ')
                    .map(|byte| u8::from_str_radix(byte, 16).unwrap()),
            ),
        }
        rest = after;
    }
    made.extend_from_slice(rest.as_bytes());
    made
}

fn repeat(times: usize, text: &str, made: &mut Vec<u8>) {
    let text = text.replace("\\n", "\n").replace("\\0", "\0");
    for turn in 1..=times {
        if text.contains('#') {
            made.extend_from_slice(text.replace('#', &turn.to_string()).as_bytes());
        } else {
            made.extend_from_slice(text.as_bytes());
        }
    }
}

fn encoded(word: &str, text: &str) -> Vec<u8> {
    match word {
        "utf-16le" => text.encode_utf16().flat_map(u16::to_le_bytes).collect(),
        "utf-16be" => text.encode_utf16().flat_map(u16::to_be_bytes).collect(),
        "utf-32le" => text
            .chars()
            .flat_map(|letter| u32::from(letter).to_le_bytes())
            .collect(),
        "lines cr" => text.replace('\n', "\r").into_bytes(),
        _ => text.replace('\n', "\r\n").into_bytes(),
    }
}

#[test]
fn recipes_are_followed() {
    assert_eq!(bytes("a⟦3 × #,⟧b"), b"a1,2,3,b");
    assert_eq!(bytes("⟦2 × x\\n⟧⟦C3 A4⟧"), b"x\nx\n\xc3\xa4");
    assert_eq!(bytes("⟦utf-16be⟧a"), b"\0a");
    assert_eq!(bytes("⟦lines crlf⟧a\nb"), b"a\r\nb");
}
