//! JSON Lines in pieces: whole lines, as many as fit a piece, so that a fleet of any size is read in flat
//! memory.

use std::io::{self, Read};

use crate::text::limits::LINE_BYTES;

/// Bytes of whole lines that are handed on together.
const PIECE: usize = 512 * 1024;

/// Bytes that are asked for at a time.
const READ: usize = 128 * 1024;

/// Whole lines of a file.
#[derive(Debug)]
pub(super) struct Piece {
    /// The lines with their ends.
    pub bytes: Vec<u8>,
    /// The number of the first one, from 1.
    pub first_line: u32,
    /// A line that is longer than [`LINE_BYTES`] and was not kept: its number and how long it is.
    pub too_long: Option<(u32, u64)>,
}

/// Cuts a stream into pieces.
pub(super) struct Pieces {
    from: Box<dyn Read + Send>,
    rest: Vec<u8>,
    line: u32,
    ended: bool,
}

impl Pieces {
    /// Pieces of a stream of which `begun` was read already.
    pub(super) fn new(from: Box<dyn Read + Send>, begun: Vec<u8>) -> Pieces {
        Pieces {
            from,
            rest: begun,
            line: 1,
            ended: false,
        }
    }

    /// The next piece; nothing at the end.
    ///
    /// # Errors
    /// A read that did not succeed.
    pub(super) fn next(&mut self) -> io::Result<Option<Piece>> {
        loop {
            if self.rest.len() >= PIECE || self.ended {
                if let Some(end) = self.rest.iter().rposition(|byte| *byte == b'\n') {
                    let rest = self.rest.split_off(end + 1);
                    let bytes = std::mem::replace(&mut self.rest, rest);
                    return Ok(Some(self.piece(bytes)));
                }
                if self.ended {
                    let bytes = std::mem::take(&mut self.rest);
                    return Ok((!bytes.is_empty()).then(|| self.piece(bytes)));
                }
                if self.rest.len() > LINE_BYTES {
                    return self.leave_out().map(Some);
                }
            }
            self.more()?;
        }
    }

    fn piece(&mut self, bytes: Vec<u8>) -> Piece {
        let first_line = self.line;
        self.count(&bytes);
        Piece {
            bytes,
            first_line,
            too_long: None,
        }
    }

    fn count(&mut self, bytes: &[u8]) {
        // In pieces of which the count fits a byte: the compiler makes wide steps of that.
        let ends = bytes.chunks(255).map(|chunk| {
            let ends = chunk.iter().map(|byte| u8::from(*byte == b'\n'));
            usize::from(ends.fold(0, u8::wrapping_add))
        });
        let ends: usize = ends.sum();
        self.line = self
            .line
            .saturating_add(u32::try_from(ends).unwrap_or(u32::MAX));
    }

    fn more(&mut self) -> io::Result<()> {
        let filled = self.rest.len();
        self.rest.resize(filled + READ, 0);
        let read = loop {
            let room = self.rest.get_mut(filled..).unwrap_or_default();
            match self.from.read(room) {
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                other => break other,
            }
        };
        self.rest.truncate(filled + *read.as_ref().unwrap_or(&0));
        self.ended = read? == 0;
        Ok(())
    }

    /// Reads to the end of a line that is too long, counting and keeping nothing.
    fn leave_out(&mut self) -> io::Result<Piece> {
        let line = self.line;
        let mut length = 0_u64;
        loop {
            if let Some(end) = self.rest.iter().position(|byte| *byte == b'\n') {
                length += u64::try_from(end).unwrap_or(0);
                self.rest.drain(..=end);
                self.line = self.line.saturating_add(1);
                break;
            }
            length += u64::try_from(self.rest.len()).unwrap_or(0);
            self.rest.clear();
            if self.ended {
                break;
            }
            self.more()?;
        }
        Ok(Piece {
            bytes: Vec::new(),
            first_line: line,
            too_long: Some((line, length)),
        })
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used, clippy::indexing_slicing)]
mod tests {
    use super::*;

    fn pieces(text: Vec<u8>) -> Vec<Piece> {
        let mut pieces = Pieces::new(Box::new(io::Cursor::new(text)), Vec::new());
        let mut found = Vec::new();
        while let Some(piece) = pieces.next().unwrap() {
            found.push(piece);
        }
        found
    }

    #[test]
    fn lines_are_kept_whole_and_numbered() {
        let line = vec![b'x'; 200_000];
        let mut text = Vec::new();
        for _ in 0..10 {
            text.extend_from_slice(&line);
            text.push(b'\n');
        }
        text.extend_from_slice(b"last");
        let found = pieces(text.clone());
        assert!(found.len() > 2);
        let all: Vec<u8> = found.iter().flat_map(|piece| piece.bytes.clone()).collect();
        assert_eq!(all, text);
        let mut line = 1;
        for piece in &found {
            assert_eq!(piece.first_line, line);
            assert!(piece.bytes.ends_with(b"\n") || piece.bytes == b"last");
            line +=
                u32::try_from(piece.bytes.iter().filter(|byte| **byte == b'\n').count()).unwrap();
        }
    }

    #[test]
    fn a_line_that_is_too_long_is_left_out_and_the_next_one_is_read() {
        let mut text = b"first\n".to_vec();
        text.extend(vec![b'y'; LINE_BYTES + PIECE]);
        text.extend_from_slice(b"\nthird\n");
        let found = pieces(text);
        assert_eq!(found[0].bytes, b"first\n");
        assert_eq!(found[1].too_long.map(|(line, _)| line), Some(2));
        assert_eq!(
            found[1].too_long.map(|(_, length)| length),
            Some((LINE_BYTES + PIECE) as u64)
        );
        assert_eq!(
            (found[2].first_line, found[2].bytes.as_slice()),
            (3, b"third\n".as_slice())
        );
    }
}
