//! Near misses: what somebody most likely meant, and how it is written here.

use super::dimension::Dimension;
use super::exact::Exact;
use super::literal;
use super::problem::QuantityProblem;
use super::reader::is_digit;
use super::unit::Unit;

/// What a character is that looks like one of ours and isn't: a dash for a minus, a blank that is no
/// blank. `None` for characters that are what they look like.
#[must_use]
pub fn lookalike(c: char) -> Option<&'static str> {
    Some(match c {
        '\u{2212}' => "a minus sign (U+2212)",
        '\u{2010}' | '\u{2011}' => "a typographic hyphen (U+2010 or U+2011)",
        '\u{2012}' | '\u{2013}' => "an en dash (U+2013)",
        '\u{2014}' | '\u{2015}' => "an em dash (U+2014)",
        '\u{fe63}' | '\u{ff0d}' => "a wide hyphen (U+FF0D)",
        '\u{a0}' => "a no-break space (U+00A0)",
        '\u{202f}' => "a narrow no-break space (U+202F)",
        '\u{2000}'..='\u{200a}' | '\u{205f}' | '\u{3000}' => "a typographic space",
        '\u{200b}'..='\u{200f}' | '\u{2060}' | '\u{feff}' => "an invisible character",
        '\u{2044}' | '\u{2215}' => "a fraction stroke (U+2044)",
        '½' | '⅓' | '⅔' | '¼' | '¾' | '⅕' | '⅖' | '⅗' | '⅘' | '⅙' | '⅚' | '⅛' | '⅜' | '⅝' | '⅞'
        | '⅐' | '⅑' | '⅒' => "a fraction in one character",
        c if !c.is_ascii() && c.is_numeric() && !"²³¹".contains(c) => {
            "a digit of another script"
        }
        _ => return None,
    })
}

/// What is typed for such a character.
fn plain(c: char) -> Option<&'static str> {
    Some(match c {
        '\u{2212}' | '\u{2010}'..='\u{2015}' | '\u{fe63}' | '\u{ff0d}' => "-",
        '\u{a0}' | '\u{202f}' | '\u{2000}'..='\u{200a}' | '\u{205f}' | '\u{3000}' => " ",
        '\u{200b}'..='\u{200f}' | '\u{2060}' | '\u{feff}' => "",
        '\u{2044}' | '\u{2215}' => "/",
        '½' => " 1/2",
        '⅓' => " 1/3",
        '⅔' => " 2/3",
        '¼' => " 1/4",
        '¾' => " 3/4",
        '⅕' => " 1/5",
        '⅖' => " 2/5",
        '⅗' => " 3/5",
        '⅘' => " 4/5",
        '⅙' => " 1/6",
        '⅚' => " 5/6",
        '⅛' => " 1/8",
        '⅜' => " 3/8",
        '⅝' => " 5/8",
        '⅞' => " 7/8",
        _ => return None,
    })
}

/// Words for what is no number, in lower case and without sign and point.
const NO_NUMBERS: [&str; 8] = [
    "nan", "inf", "infinity", "infinite", "1.#inf", "1.#ind", "1.#qnan", "∞",
];

/// Makes a problem say what it can: a look-alike or a non-number goes before what the reader stumbled
/// over, and the right form stands in the help where it can be told.
pub(super) fn explain(
    text: &str,
    problem: QuantityProblem,
    expected: Option<Dimension>,
) -> QuantityProblem {
    let mut problem = cause(text, problem);
    if let Some(form) = mended(text) {
        return problem.with_help(format!("write {form}"));
    }
    if problem.help.is_some() {
        return problem;
    }
    match problem.code {
        "quantity.second_number" if literal::together(text).is_some() => {
            problem.help = literal::together(text);
        }
        "quantity.unknown_unit" => {
            let word = text.get(problem.range.clone()).unwrap_or("");
            problem.help = Some(about_unit(word, expected));
        }
        "quantity.decimal_comma" | "quantity.thousands_separator" => {
            problem.help = Some(
                two_ways(text)
                    .unwrap_or_else(|| "a number is written as 4.70 or 1234.5".to_owned()),
            );
        }
        "quantity.operator_glued" => problem.help = Some("write 4.70 mm / 2".to_owned()),
        _ => {
            problem.help = Some(expected.map_or_else(
                || "a quantity is written as 4.70 mm or 3/16 in".to_owned(),
                example,
            ));
        }
    }
    problem
}

/// Whether a piece of text is a word for what is no number: `NaN`, `-.inf`, `Infinity`.
pub(super) fn is_no_number(piece: &str) -> bool {
    let bare = piece.trim_start_matches(['-', '+']).to_lowercase();
    NO_NUMBERS.contains(&bare.strip_prefix('.').unwrap_or(&bare))
}

/// A problem that goes before the one that was found.
fn cause(text: &str, problem: QuantityProblem) -> QuantityProblem {
    let first = text.split_ascii_whitespace().next().unwrap_or("");
    if is_no_number(first) {
        let start = text.len() - text.trim_ascii_start().len();
        let message = format!("{first} is not a number that can be measured");
        return QuantityProblem::new("quantity.not_a_number", start..start + first.len(), message);
    }
    for (at, c) in text.char_indices() {
        if let Some(name) = lookalike(c) {
            let message = match plain(c) {
                Some("-" | "/" | " ") => {
                    format!("{name} stands here; the plain one of the keyboard is read")
                }
                _ => format!("{name} stands here; it is not read"),
            };
            return QuantityProblem::new("quantity.lookalike", at..at + c.len_utf8(), message);
        }
    }
    problem
}

/// "a length is written as 4.70 mm"
fn example(dimension: Dimension) -> String {
    let form = match dimension {
        Dimension::RATIO => "0.5 or 2 %",
        Dimension::LENGTH => "4.70 mm or 3/16 in",
        Dimension::ANGLE => "100 deg or 82 deg 30 min",
        Dimension::TEMPERATURE => "-6 degC",
        Dimension::HARDNESS_HRC => "58 HRC",
        Dimension::HARDNESS_HV => "653 HV",
        Dimension::HARDNESS_HBW => "615 HBW",
        other => {
            return match other.likely_units() {
                [unit, ..] => format!("{} is written as 28.4 {unit}", other.in_words()),
                [] => "a quantity is written as 4.70 mm".to_owned(),
            };
        }
    };
    format!("{} is written as {form}", dimension.in_words())
}

/// "units of a length: mm, in, m, cm, um, ft"
pub(super) fn units_of(dimension: Dimension) -> String {
    let symbols: Vec<&str> = dimension
        .likely_units()
        .iter()
        .map(|u| u.symbol())
        .filter(|s| !s.is_empty())
        .collect();
    match dimension {
        Dimension::RATIO => "a plain number is written as 0.5, or as 50 %".to_owned(),
        _ => format!("units of {}: {}", dimension.in_words(), symbols.join(", ")),
    }
}

/// Both readings of `1,234 mm`.
fn two_ways(text: &str) -> Option<String> {
    let (point, none) = (text.replacen(',', ".", 1), text.replace(',', ""));
    let (point, none) = (literal::accepted(&point)?, literal::accepted(&none)?);
    Some(format!("write {point} or {none}"))
}

/// Help for a word that is no unit.
fn about_unit(word: &str, expected: Option<Dimension>) -> String {
    if let Some(hint) = hint(word, expected) {
        return hint;
    }
    match expected {
        Some(dimension) if !dimension.likely_units().is_empty() => units_of(dimension),
        _ => {
            let all: Vec<&str> = Unit::all()
                .map(Unit::symbol)
                .filter(|s| !s.is_empty())
                .collect();
            format!("units: {}; or a quotient such as N/mm", all.join(", "))
        }
    }
}

/// What to write for a word that is no unit, where that can be told from the word.
pub(super) fn hint(word: &str, expected: Option<Dimension>) -> Option<String> {
    if let Some(advice) = not_offered(word) {
        return Some(advice.to_owned());
    }
    if word.contains("degC/") || word.contains("degF/") || word.contains("/deg") {
        return Some("a temperature in a quotient is written in K".to_owned());
    }
    if word.contains(['*', '·']) {
        return Some("no products of units are read, only quotients such as N/mm".to_owned());
    }
    nearest(word, expected).map(|unit| format!("{unit} is near"))
}

/// Units that exist and aren't offered, with what to write instead.
fn not_offered(word: &str) -> Option<&'static str> {
    Some(match word.to_lowercase().as_str() {
        "km" | "dm" | "yd" => "a length is written in mm, cm, m, in or ft",
        "nm" => "a length is written in mm or um; torque is not measured here",
        "thou" | "mil" | "mils" => "a thousandth of an inch is written as 0.001 in",
        "kgf" | "kp" => "a force is written in N; 1 kgf is 9.80665 N",
        "t" | "tonne" | "ton" | "st" => "a mass is written in kg, g, lb or oz",
        "rad" | "mrad" | "gon" => "an angle is written in deg, or in deg and min",
        "sq" | "square" => "an area is written in m2, mm2, cm2, in2 or ft2",
        "minute" | "minutes" | "mins" => {
            "minutes of arc are written as min; a time is written in days, h or s"
        }
        "week" | "weeks" | "month" | "months" | "year" | "years" | "yr" => {
            "a time is written in days, h or s"
        }
        "hb" | "bhn" | "hbs" => "the Brinell scale read here is HBW, with a hard-metal ball",
        "hra" | "hrb" => "the Rockwell scale read here is HRC",
        "'" | "’" | "′" => "feet are written as ft, minutes of arc as min",
        "pa" | "mpa" | "bar" | "psi" => "a pressure is written as a quotient such as N/mm2",
        _ => return None,
    })
}

/// The unit that another spelling of it means.
pub(super) fn alias(word: &str) -> Option<Unit> {
    let tidy = word
        .trim_end_matches('.')
        .replace('²', "2")
        .replace("^2", "2")
        .replace("**2", "2");
    if let Some(unit) = Unit::from_symbol(&tidy).filter(|unit| *unit != Unit::PLAIN) {
        return Some(unit);
    }
    let lower = tidy.to_lowercase();
    Some(match lower.as_str() {
        "millimetre" | "millimetres" | "millimeter" | "millimeters" | "mms" => Unit::MM,
        "centimetre" | "centimetres" | "centimeter" | "centimeters" | "cms" => Unit::CM,
        "metre" | "metres" | "meter" | "meters" | "mtr" => Unit::M,
        "µ" | "μ" | "micron" | "microns" | "micrometre" | "micrometres" | "micrometer"
        | "micrometers" => Unit::UM,
        "inch" | "inches" | "ins" | "\"" | "”" | "″" | "''" => Unit::IN,
        "foot" | "feet" => Unit::FT,
        "sqmm" | "qmm" => Unit::MM2,
        "sqm" | "qm" => Unit::M2,
        "sqin" => Unit::IN2,
        "sqft" => Unit::FT2,
        "°" | "º" | "degree" | "degrees" | "degs" => Unit::DEG,
        "arcmin" | "arcminute" | "arcminutes" => Unit::ARC_MIN,
        "kilogram" | "kilograms" | "kilogramme" | "kilogrammes" | "kilo" | "kilos" | "kgs" => {
            Unit::KG
        }
        "gram" | "grams" | "gramme" | "grammes" | "gr" | "gm" | "gms" => Unit::G,
        "lbs" | "pound" | "pounds" => Unit::LB,
        "ounce" | "ounces" | "ozs" => Unit::OZ,
        "newton" | "newtons" => Unit::N,
        "kilonewton" | "kilonewtons" => Unit::KN,
        "lbsf" | "lb-f" => Unit::LBF,
        "rockwell" | "rc" => Unit::HRC,
        "vickers" | "vhn" => Unit::HV,
        "brinell" => Unit::HBW,
        "°c" | "ºc" | "℃" | "celsius" | "centigrade" | "c" | "deg_c" => Unit::DEG_C,
        "°f" | "ºf" | "℉" | "fahrenheit" | "f" | "deg_f" => Unit::DEG_F,
        "kelvin" | "°k" => Unit::K,
        "d" => Unit::DAYS,
        "hour" | "hours" | "hr" | "hrs" => Unit::H,
        "sec" | "secs" | "second" | "seconds" => Unit::S,
        "percent" | "pct" | "per cent" => Unit::PERCENT,
        _ => {
            if let Some((over, under)) = tidy.split_once('/') {
                return alias(over)?.per(alias(under)?);
            }
            // Capitals: only where one unit alone has these letters.
            let mut same = Unit::all().filter(|u| u.symbol().eq_ignore_ascii_case(&lower));
            return match (same.next(), same.next()) {
                (Some(unit), None) if unit != Unit::PLAIN => Some(unit),
                _ => None,
            };
        }
    })
}

/// The unit one slip of the finger away, one of the expected kind first.
fn nearest(word: &str, expected: Option<Dimension>) -> Option<Unit> {
    let word: Vec<char> = word.to_lowercase().chars().take(12).collect();
    let near = |unit: &Unit| {
        let symbol: Vec<char> = unit.symbol().to_lowercase().chars().collect();
        // Between two short symbols a changed letter means nothing: nm is not a slip for mm.
        symbol.len() > 1 && word.len() > 1 && one_slip(&word, &symbol)
    };
    let mut found = Unit::all()
        .chain([
            Unit::N_PER_MM,
            Unit::N_PER_M,
            Unit::LBF_PER_IN,
            Unit::MM_PER_KG,
            Unit::MM_PER_M,
        ])
        .filter(near);
    let first = found.next()?;
    if Some(first.dimension()) == expected {
        return Some(first);
    }
    Some(
        found
            .find(|u| Some(u.dimension()) == expected)
            .unwrap_or(first),
    )
}

/// Whether two words differ by one letter more, one letter less, two neighbours exchanged or, in words of
/// three letters and more, one letter changed.
fn one_slip(a: &[char], b: &[char]) -> bool {
    let same = a.iter().zip(b).take_while(|(x, y)| x == y).count();
    let rest = |word: &[char], skip: usize| word.get(same + skip..).map(<[char]>::to_vec);
    let dropped = |long: &[char], short: &[char]| {
        long.len() == short.len() + 1 && rest(long, 1) == rest(short, 0)
    };
    if dropped(a, b) || dropped(b, a) {
        return true;
    }
    if a.len() != b.len() || same == a.len() {
        return false;
    }
    let changed = a.len() > 2 && rest(a, 1) == rest(b, 1);
    let exchanged = a.get(same) == b.get(same + 1)
        && a.get(same + 1) == b.get(same)
        && rest(a, 2) == rest(b, 2);
    changed || exchanged
}

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
    let usable =
        literal::quick_list(&form, None, |_, _| ()).is_some() || literal::accepted(&form).is_some();
    (usable && form != text.trim_ascii()).then_some(form)
}

/// The text with every piece respelled, not yet known to be right.
fn respelled(text: &str) -> Option<String> {
    // Longer texts are nobody's quantity, and the work below is not worth them.
    if text.len() > 400 {
        return None;
    }
    let mut typed = String::new();
    for (at, c) in text.char_indices() {
        // Degrees and minutes are often written together: 40°30'.
        let minutes_follow = c == '°' && is_digit(text, at + c.len_utf8());
        match plain(c) {
            _ if minutes_follow => typed.push_str("° "),
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
