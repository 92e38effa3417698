//! Bytes to text: what is accepted, what is refused and how it is told.

use crate::text::limits::DOCUMENT_BYTES;
use crate::text::{decode, decode_lines};

fn refused(bytes: &[u8]) -> String {
    let problem = decode("a.yaml", bytes).expect_err("refused");
    assert!(problem.labels.is_empty());
    let help = problem
        .help
        .map(|help| format!(" / {help}"))
        .unwrap_or_default();
    format!("{}: {}{help}", problem.code, problem.message)
}

#[test]
fn ordinary_files_are_accepted() {
    let text = |bytes: &[u8]| decode("a.yaml", bytes).unwrap().text().to_string();
    assert_eq!(text(b""), "");
    assert_eq!(
        text("a: Kärki\r\nb:\tc\n".as_bytes()),
        "a: Kärki\r\nb:\tc\n"
    );
    assert_eq!(text(b"\xef\xbb\xbfa: b"), "a: b");
    let long = "x".repeat(200) + "\r\n";
    assert_eq!(text(long.repeat(10).as_bytes()), long.repeat(10));
}

#[test]
fn other_encodings_are_named() {
    assert_eq!(
        refused(b"\xff\xfea\0:\0"),
        "text.encoding: the file is UTF-16, not UTF-8 / save it again as UTF-8"
    );
    assert_eq!(refused(b"\xfe\xff\0a\0:"), refused(b"\xff\xfea\0:\0"));
    assert_eq!(refused(b"a\0:\0 \0"), refused(b"\xff\xfea\0:\0"));
    assert!(refused(b"\xff\xfe\0\0a\0\0\0").contains("UTF-32"));
    assert_eq!(
        refused(b"a: b\nname: K\xe4rki"),
        "text.encoding: line 2, column 8: the byte E4 is not UTF-8 / save the file again as UTF-8; \
         in the older encoding Latin-1 this byte is `ä`"
    );
    // A character cut off at the end of the file.
    assert!(refused(b"a: \xc3").starts_with("text.encoding: line 1, column 4: the byte C3"));
}

#[test]
fn binary_files_and_control_characters_are_refused() {
    assert!(refused(b"%PDF-1.7\n\xe2\xe3").starts_with("text.binary: the file is a PDF document"));
    assert!(refused(b"PK\x03\x04\x14\0").contains("a zip archive"));
    assert_eq!(
        refused(b"a: b\nc\0"),
        "text.binary: line 2, column 2: a byte 00, so this is no text / give a text file in UTF-8"
    );
    assert!(refused(b"a: \x1b[31m").starts_with("text.control: line 1, column 4"));
    assert!(refused(b"a: \x7f").contains("control character 7F"));
    let late = format!("{}\u{8}", "x".repeat(130));
    assert!(refused(late.as_bytes()).contains("line 1, column 131"));
}

#[test]
fn a_carriage_return_alone_is_refused() {
    assert_eq!(
        refused(b"a: b\rc: d\r"),
        "text.line_ends: line 1, column 5: a carriage return without a line feed / save the file \
         with the line ends LF or CRLF"
    );
    assert!(refused(b"a: b\r").starts_with("text.line_ends"));
}

#[test]
fn size_is_limited_for_documents_only() {
    let large = vec![b'a'; DOCUMENT_BYTES + 1];
    assert!(
        refused(&large)
            .starts_with("text.size: the file has 4000001 bytes; a file may have 4000000 at most")
    );
    assert!(decode_lines("a.jsonl", &large, 1).is_ok());
}

#[test]
fn lines_of_a_piece_count_from_the_file() {
    let piece = decode_lines("a.jsonl", b"{}\n{}\n", 101).unwrap();
    assert_eq!(piece.line_column(3).line, 102);
    let problem = decode_lines("a.jsonl", b"{}\n{\0}", 101).expect_err("refused");
    assert!(problem.message.starts_with("line 102, column 2"));
}
