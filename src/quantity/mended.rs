//! Quantities written otherwise than they are read, respelled.

use super::exact::Exact;
use super::literal;
use super::near::{alias, plain, with_digits};

/// The text in the accepted form, if nothing but its spelling is wrong and it can mean one thing only:
/// `4,70mm` gives `4.70 mm`, `3/ 16"` gives `3/16 in`, `−6 °C` gives `-6 degC`.
///
/// `None` for a text that is right already, and for one whose meaning is open, such as `1,234 mm`.
#[must_use]
pub fn mended(text: &str) -> Option<String> {
    if literal::accepted(text).is_some() {
        return None;
    }
    literal::accepted(&respelled(text)?).map(|quantity| quantity.as_written())
}

/// The same for a list that shares a unit: `4,76; 4,77 mm` gives `4.76 4.77 mm`.
#[must_use]
pub fn mended_list(text: &str) -> Option<String> {
    let form = respelled(text)?;
    let usable = literal::quick_list(&form).is_some() || literal::accepted(&form).is_some();
    (usable && form != text.trim_ascii()).then_some(form)
}

/// The text with every piece respelled, not yet known to be right.
fn respelled(text: &str) -> Option<String> {
    // Longer texts are nobody's quantity, and the work below is not worth them.
    if text.len() > 400 {
        return None;
    }
    // Quotes of a word processor around the whole; alone a closing one is the sign of inches.
    let text = match text
        .trim_ascii()
        .strip_prefix(['\u{201c}', '\u{201e}', '\u{2018}', '\u{201a}', '\u{ab}'])
    {
        Some(inner) => {
            inner.trim_end_matches(['\u{201d}', '\u{201c}', '\u{2019}', '\u{2018}', '\u{bb}'])
        }
        None => text,
    };
    let mut typed = String::new();
    for c in text.chars() {
        match plain(c) {
            Some(p) => typed.push_str(p),
            None => typed.push(c),
        }
    }
    let mut pieces: Vec<String> = Vec::new();
    let mut glue = false;
    for piece in typed.split_ascii_whitespace() {
        let piece = piece.trim_end_matches([';', ',']);
        let joins = piece.starts_with('/') || glue;
        glue = piece.ends_with('/') || matches!(piece, "-" | "+");
        match pieces.last_mut() {
            Some(last) if joins => last.push_str(piece),
            _ => pieces.push(piece.to_owned()),
        }
    }
    let respelled: Option<Vec<String>> = pieces.iter().map(|piece| respell_piece(piece)).collect();
    let form = respelled?.join(" ");
    // Behind degrees the foot sign is the sign of minutes.
    let minutes = form
        .strip_suffix(['\'', '’', '′'])
        .filter(|form| form.contains(" deg "));
    Some(minutes.map_or_else(
        || form.clone(),
        |form| format!("{} min", form.trim_ascii_end()),
    ))
}

/// One piece without blanks: a number, a unit, or both glued together.
fn respell_piece(piece: &str) -> Option<String> {
    let in_number = |c: char| c.is_ascii_digit() || "+-.,/'_’".contains(c);
    if let Some(right) = with_digits(piece) {
        return respell_piece(&right);
    }
    // 96..4 and --390: a key pressed twice.
    if let Some((sign, rest)) = ["--", "++"]
        .iter()
        .find_map(|twice| Some((twice.get(..1)?, piece.strip_prefix(twice)?)))
    {
        return respell_piece(&format!("{sign}{rest}"));
    }
    if let Some((whole, places)) = piece.split_once("..") {
        let digits = |part: &str| part.starts_with(|c: char| c.is_ascii_digit());
        if digits(whole.trim_start_matches('-')) && digits(places) {
            return respell_piece(&format!("{whole}.{places}"));
        }
    }
    let starts_number = piece
        .trim_start_matches(['-', '+', '.', ','])
        .starts_with(|c: char| c.is_ascii_digit());
    if !starts_number {
        return Some(respell_unit(piece));
    }
    let mut end = piece.find(|c| !in_number(c)).unwrap_or(piece.len());
    // 5' is five feet or five minutes of arc, not a separator.
    end = piece.get(..end)?.trim_end_matches(['\'', '’', '/']).len();
    let mut number = piece.get(..end)?.to_owned();
    let mut unit = piece.get(end..)?;
    if let Some(exponent) = unit.strip_prefix(['e', 'E']) {
        let sign = exponent.len() - exponent.trim_start_matches(['-', '+']).len();
        let digits = exponent
            .get(sign..)?
            .bytes()
            .take_while(u8::is_ascii_digit)
            .count();
        if sign <= 1 && digits > 0 {
            let power: i32 = exponent.get(..sign + digits)?.parse().ok()?;
            number = written_out(&respell_number(&number)?, power)?;
            unit = exponent.get(sign + digits..)?;
        }
    }
    let number = respell_number(&number)?;
    Some(if unit.is_empty() {
        number
    } else {
        format!("{number} {}", respell_unit(unit))
    })
}

fn respell_unit(word: &str) -> String {
    alias(word).map_or_else(|| word.to_owned(), |unit| unit.symbol().to_owned())
}

/// 1.5 and −3 as 0.0015.
fn written_out(number: &str, power: i32) -> Option<String> {
    if power.abs() > 12 {
        return None;
    }
    let value = Exact::from_decimal(number)?.mul(&Exact::power_of_ten(power));
    Some(value.to_fixed(value.decimals_needed()?))
}

/// A number in its accepted form; `None` when it can mean two things.
fn respell_number(number: &str) -> Option<String> {
    let (sign, digits) = match number.strip_prefix(['-', '+']) {
        Some(rest) if number.starts_with('-') => ("-", rest),
        Some(rest) => ("", rest),
        None => ("", number),
    };
    // 1-3/16 is one and three sixteenths.
    let digits = match digits.split_once('-') {
        Some((whole, fraction)) if fraction.contains('/') => format!("{whole} {fraction}"),
        Some(_) => return None,
        None => digits.to_owned(),
    };
    let mut digits: String = digits.chars().filter(|c| !"_'’".contains(*c)).collect();
    match digits.split(',').collect::<Vec<_>>().as_slice() {
        [_] => {}
        [whole, places] if !places.contains('.') => {
            if places.len() == 3 && !whole.is_empty() && *whole != "0" && whole.len() <= 3 {
                return None;
            }
            digits = format!("{whole}.{places}");
        }
        [whole, places] if whole.find('.').is_some() && !places.contains('.') => {
            // 1.250,5: points between thousands.
            let mut groups = whole.split('.');
            let first = groups.next().is_some_and(|g| (1..=3).contains(&g.len()));
            if !first || !groups.all(|g| g.len() == 3) || places.is_empty() {
                return None;
            }
            digits = format!("{}.{places}", whole.replace('.', ""));
        }
        [_, groups @ ..] => {
            let threes = |g: &&str| g.split('.').next().is_some_and(|g| g.len() == 3);
            if !groups.iter().all(threes) {
                return None;
            }
            digits = digits.replace(',', "");
        }
        [] => return None,
    }
    let digits = digits.strip_suffix('.').unwrap_or(&digits);
    let digits = if digits.starts_with('.') {
        format!("0{digits}")
    } else {
        digits.to_owned()
    };
    // 000 is no number but the end of one.
    if digits.len() > 1 && digits.bytes().all(|b| b == b'0') {
        return None;
    }
    let bare = digits.trim_start_matches('0');
    let digits = match bare.as_bytes().first() {
        Some(b) if b.is_ascii_digit() => bare.to_owned(),
        _ if digits.len() > bare.len() => format!("0{bare}"),
        _ => digits,
    };
    Some(format!("{sign}{digits}"))
}
