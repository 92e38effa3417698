//! Drawing in a page: lines, bars and words in a picture that takes its colours from the page around it.

use super::super::html::Html;

/// The width of a picture in its own units: about that of a telephone, so that words are not made smaller there.
pub(in crate::report) const WIDTH: f64 = 360.0;

/// The width of a letter, roughly, to keep words inside the picture.
const LETTER: f64 = 6.5;

/// A number of a place in a drawing, to hundredths.
pub(in crate::report) fn place(at: f64) -> String {
    let text = format!("{at:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    match text {
        "-0" => "0".to_owned(),
        other => other.to_owned(),
    }
}

/// A picture with what it shows in words. `id` is unique in the page.
pub(in crate::report) fn picture(
    html: &mut Html,
    id: &str,
    height: f64,
    (title, about): (&str, &str),
    inside: impl FnOnce(&mut Html),
) {
    let (title_id, about_id) = (format!("{id}-title"), format!("{id}-about"));
    let attributes = [
        ("xmlns", "http://www.w3.org/2000/svg"),
        ("viewBox", &format!("0 0 {WIDTH} {}", place(height))),
        ("role", "img"),
        ("aria-labelledby", &format!("{title_id} {about_id}")),
    ];
    html.within("svg", &attributes, |html| {
        html.element("title", &[("id", &title_id)], title);
        html.element("desc", &[("id", &about_id)], about);
        inside(html);
    });
}

/// A bar: left, top, width, height.
pub(in crate::report) fn bar(html: &mut Html, class: &str, [x, y, width, height]: [f64; 4]) {
    let attributes = [
        ("class", class),
        ("x", &place(x)),
        ("y", &place(y)),
        ("width", &place(width)),
        ("height", &place(height)),
    ];
    html.element("rect", &attributes, "");
}

/// A line from one point to another.
pub(in crate::report) fn line(html: &mut Html, class: &str, [x1, y1, x2, y2]: [f64; 4]) {
    let attributes = [
        ("class", class),
        ("x1", &place(x1)),
        ("y1", &place(y1)),
        ("x2", &place(x2)),
        ("y2", &place(y2)),
    ];
    html.element("line", &attributes, "");
}

/// Words; `anchor` says whether the place is their start, middle or end.
pub(in crate::report) fn words(
    html: &mut Html,
    class: &str,
    anchor: &str,
    [x, y]: [f64; 2],
    text: &str,
) {
    let attributes = [
        ("class", class),
        ("text-anchor", anchor),
        ("x", &place(x)),
        ("y", &place(y)),
    ];
    html.element("text", &attributes, text);
}

/// The middle of words that should stand over a place and stay inside the picture.
pub(in crate::report) fn kept_inside(over: f64, wide: f64) -> f64 {
    let half = wide / 2.0 + 3.0;
    match half * 2.0 < WIDTH {
        true => over.clamp(half, WIDTH - half),
        false => WIDTH / 2.0,
    }
}

/// How long words are, roughly.
#[expect(clippy::cast_precision_loss, reason = "a text is short")]
pub(in crate::report) fn length(text: &str) -> f64 {
    text.chars().count() as f64 * LETTER
}

/// Counts to stand beside an axis: from 0 up in steps of 1, 2, 5, 10 …, at most six of them and never a part of one.
pub(in crate::report) fn whole_ticks(most: u64) -> Vec<u64> {
    let tens = (0..19).map(|power| 10_u64.saturating_pow(power));
    let mut steps = tens.flat_map(|ten| [1, 2, 5].map(|times| ten.saturating_mul(times)));
    let step = steps.find(|step| most / step <= 5).unwrap_or(most.max(1));
    (0..=most / step).map(|at| at * step).collect()
}

#[cfg(test)]
mod tests {
    use super::whole_ticks;

    #[test]
    fn counts_have_whole_ticks() {
        assert_eq!(whole_ticks(0), [0]);
        assert_eq!(whole_ticks(1), [0, 1]);
        assert_eq!(whole_ticks(3), [0, 1, 2, 3]);
        assert_eq!(whole_ticks(9), [0, 2, 4, 6, 8]);
        assert_eq!(whole_ticks(116), [0, 20, 40, 60, 80, 100]);
        assert_eq!(whole_ticks(300_000), [0, 100_000, 200_000, 300_000]);
        assert!(whole_ticks(u64::MAX).len() <= 6);
    }
}
