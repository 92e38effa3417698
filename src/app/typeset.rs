//! Figures as they are set on paper: the minus sign, `°C`, `m²`, `89.3°`. Files and screens keep the signs
//! of a keyboard.

/// Sets the numbers and units of a text. A unit is one only behind a number, so that words stay words.
pub(super) fn typeset(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut after_number = false;
    for (n, word) in text.split(' ').enumerate() {
        let bare = word.trim_end_matches([',', ';', ':', '.', ')']);
        let tail = word.get(bare.len()..).unwrap_or("");
        let set = after_number.then(|| sign(bare)).flatten();
        let glued = set.is_some_and(|(_, glued)| glued);
        if n > 0 && !glued {
            out.push(' ');
        }
        match (set, bare.strip_prefix('-')) {
            (Some((sign, _)), _) => out.push_str(sign),
            (None, Some(number)) if number.starts_with(|c: char| c.is_ascii_digit()) => {
                out.push('−');
                out.push_str(number);
            }
            (None, _) => out.push_str(bare),
        }
        out.push_str(tail);
        after_number = tail.is_empty() && bare.ends_with(|c: char| c.is_ascii_digit());
    }
    out
}

/// The sign of a unit where paper has another one, and whether it stands close to its number.
fn sign(unit: &str) -> Option<(&'static str, bool)> {
    Some(match unit {
        "deg" => ("°", true),
        "min" => ("′", true),
        "degC" => ("°C", false),
        "degF" => ("°F", false),
        "m2" => ("m²", false),
        "cm2" => ("cm²", false),
        "mm2" => ("mm²", false),
        "in2" => ("in²", false),
        "ft2" => ("ft²", false),
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::typeset;

    #[test]
    fn numbers_and_units_get_the_signs_of_paper() {
        for (written, set) in [
            ("-6 degC", "−6 °C"),
            ("89.3 ± 1.0 deg", "89.3 ± 1.0°"),
            ("from 80 deg to 115 deg", "from 80° to 115°"),
            ("9.3 deg inside", "9.3° inside"),
            ("90 deg 5 min", "90° 5′"),
            ("7.829 ± 0.027 m2", "7.829 ± 0.027 m²"),
            (
                "at most 8.00 m2, built later",
                "at most 8.00 m², built later",
            ),
            ("-120 mm, port", "−120 mm, port"),
            ("built 2018-02", "built 2018-02"),
            ("deg min", "deg min"),
            ("no more", "no more"),
            ("", ""),
        ] {
            assert_eq!(typeset(written), set);
        }
    }
}
