//! Bytes of a file to a [`Source`]: size, encoding, and characters no text file should hold.

use std::sync::Arc;

use super::limits;
use super::problem::TextProblem;
use super::source::Source;

/// The byte order mark of UTF-8; it is taken off, so that spans count from the text after it.
const BYTE_ORDER_MARK: &[u8] = b"\xef\xbb\xbf";

/// Decodes a file that holds one document (YAML, or a single JSON record).
///
/// # Errors
/// One problem without labels, its place in the message: more than [`limits::DOCUMENT_BYTES`], not
/// UTF-8, UTF-16 or a binary format, a control character, a carriage return without a line feed.
pub fn decode(name: &str, bytes: &[u8]) -> Result<Arc<Source>, TextProblem> {
    if bytes.len() > limits::DOCUMENT_BYTES {
        return Err(too_large("file", bytes.len(), limits::DOCUMENT_BYTES)
            .help("split it; many records go into one JSON Lines file (.jsonl), one a line"));
    }
    text_of(bytes).map(|text| Source::new(name, text))
}

/// Decodes JSON Lines, or a piece of it that was cut after a line end; `first_line` is the number of
/// its first line in the file, 1 for the whole file. Single lines are limited when they are parsed.
///
/// # Errors
/// As [`decode`], with [`limits::LINES_BYTES`] as the size; line numbers are those of the file.
pub fn decode_lines(name: &str, bytes: &[u8], first_line: u32) -> Result<Arc<Source>, TextProblem> {
    if bytes.len() > limits::LINES_BYTES {
        return Err(
            too_large("file", bytes.len(), limits::LINES_BYTES).help("split it into several files")
        );
    }
    text_at(bytes, first_line).map(|text| Source::new_at(name, text, first_line))
}

/// The problem of a text beyond a size limit.
pub(super) fn too_large(what: &str, bytes: usize, limit_bytes: usize) -> TextProblem {
    TextProblem::new(
        "text.size",
        format!("the {what} has {bytes} bytes; a {what} may have {limit_bytes} at most"),
    )
}

fn text_of(bytes: &[u8]) -> Result<&str, TextProblem> {
    text_at(bytes, 1)
}

fn text_at(bytes: &[u8], first_line: u32) -> Result<&str, TextProblem> {
    // What a file is can be told by its beginning alone; of a line further on its own place is told.
    let begins = first_line == 1;
    if let Some(encoding) = other_unicode(bytes).filter(|_| begins) {
        return Err(TextProblem::new(
            "text.encoding",
            format!("the file is {encoding}, not UTF-8"),
        )
        .help("save it again as UTF-8"));
    }
    let bytes = bytes.strip_prefix(BYTE_ORDER_MARK).unwrap_or(bytes);
    if let Some(kind) = binary_kind(bytes).filter(|_| begins) {
        let problem = TextProblem::new("text.binary", format!("the file is {kind}, not a text"));
        return Err(match kind.starts_with("a compressed file") {
            true => problem.help("unpack it first"),
            false => problem,
        });
    }
    let text = std::str::from_utf8(bytes).map_err(|error| {
        let valid = bytes.get(..error.valid_up_to()).unwrap_or_default();
        let valid = std::str::from_utf8(valid).unwrap_or_default();
        let byte = bytes.get(error.valid_up_to()).copied().unwrap_or_default();
        let problem = TextProblem::new(
            "text.encoding",
            format!(
                "{}: the byte {byte:02X} is not UTF-8",
                place(valid, first_line)
            ),
        );
        match char::from(byte) {
            letter if letter.is_alphabetic() => problem.help(format!(
                "save the file again as UTF-8; in the older encoding Latin-1 this byte is `{letter}`"
            )),
            _ => problem.help("save the file again as UTF-8"),
        }
    })?;
    match first_refused(text.as_bytes()) {
        None => Ok(text),
        Some((at, byte)) => {
            let place = place(text.get(..at).unwrap_or_default(), first_line);
            Err(match byte {
                b'\r' => TextProblem::new(
                    "text.line_ends",
                    format!("{place}: a carriage return without a line feed"),
                )
                .help("save the file with the line ends LF or CRLF"),
                0 => TextProblem::new(
                    "text.binary",
                    format!("{place}: a byte 00, so this is no text"),
                )
                .help("give a text file in UTF-8"),
                _ => TextProblem::new(
                    "text.control",
                    format!("{place}: the control character {byte:02X}"),
                )
                .help("delete it; in a double-quoted text it can be written as an escape"),
            })
        }
    }
}

/// The first byte that no text file should hold. Chunks without control characters, nearly all of
/// them, are passed over quickly.
fn first_refused(bytes: &[u8]) -> Option<(usize, u8)> {
    const CHUNK: usize = 64;
    let control = |byte: u8| byte < 0x20 && byte != b'\n' && byte != b'\t' || byte == 0x7f;
    for (index, chunk) in bytes.chunks(CHUNK).enumerate() {
        if !chunk
            .iter()
            .fold(false, |found, byte| found | control(*byte))
        {
            continue;
        }
        for (offset, byte) in chunk.iter().enumerate() {
            let at = index * CHUNK + offset;
            let line_end = *byte == b'\r' && bytes.get(at + 1) == Some(&b'\n');
            if control(*byte) && !line_end {
                return Some((at, *byte));
            }
        }
    }
    None
}

/// Line and column just after some text, in words.
fn place(before: &str, first_line: u32) -> String {
    let line = before.bytes().filter(|byte| *byte == b'\n').count();
    let column = before.rsplit('\n').next().unwrap_or("").chars().count();
    format!("line {}, column {}", line + first_line as usize, column + 1)
}

/// The name of an encoding of Unicode other than UTF-8, by its byte order mark, or by the zero bytes
/// that ASCII has in it.
fn other_unicode(bytes: &[u8]) -> Option<&'static str> {
    match bytes {
        [0xff, 0xfe, 0, 0, ..] | [0, 0, 0xfe, 0xff, ..] => Some("UTF-32"),
        [0xff, 0xfe, ..] | [0xfe, 0xff, ..] => Some("UTF-16"),
        [0, first, 0, second, ..] | [first, 0, second, 0, ..] if *first != 0 && *second != 0 => {
            Some("UTF-16")
        }
        _ => None,
    }
}

/// A binary format that is easily given by mistake, by its first bytes.
/// What a file that is no text is by its first bytes, where these tell.
pub fn binary_kind(bytes: &[u8]) -> Option<&'static str> {
    if bytes.starts_with(b"%PDF-") {
        Some("a PDF document")
    } else if bytes.starts_with(b"PK\x03\x04") {
        Some("a zip archive (a spreadsheet or text document is one)")
    } else if bytes.starts_with(b"SQLite format 3\0") {
        Some("a database (SQLite)")
    } else if bytes.starts_with(b"\x89PNG") || bytes.starts_with(b"\xff\xd8\xff") {
        Some("an image")
    } else if bytes.starts_with(b"\x1f\x8b") {
        Some("a compressed file (gzip)")
    } else if bytes.starts_with(b"BZh") && !bytes.is_ascii() {
        Some("a compressed file (bzip2)")
    } else if bytes.starts_with(b"\xfd7zXZ\0") {
        Some("a compressed file (xz)")
    } else if bytes.starts_with(b"\x28\xb5\x2f\xfd") {
        Some("a compressed file (zstd)")
    } else if bytes.starts_with(b"7z\xbc\xaf\x27\x1c") {
        Some("a compressed file (7z)")
    } else {
        None
    }
}
