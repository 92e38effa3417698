//! A zip archive to its parts (APPNOTE 6.3.10): stored and deflated ones, by the central directory.
//!
//! What a part unpacks to is counted while it is unpacked; the size that the archive claims is not believed.

use std::io::Read;

use flate2::Crc;
use flate2::bufread::DeflateDecoder;

use super::{Bad, bad, limits, too_much};

/// Parts that are looked for in one archive.
const PARTS: usize = 10_000;

/// An archive that is held in memory.
pub(super) struct Archive<'b> {
    name: String,
    bytes: &'b [u8],
    parts: Vec<Part>,
}

struct Part {
    name: String,
    flags: u16,
    method: u16,
    crc: u32,
    packed: usize,
    header_at: usize,
}

fn u16_at(bytes: &[u8], at: usize) -> Option<u16> {
    let pair: [u8; 2] = bytes.get(at..at.checked_add(2)?)?.try_into().ok()?;
    Some(u16::from_le_bytes(pair))
}

fn u32_at(bytes: &[u8], at: usize) -> Option<u32> {
    let four: [u8; 4] = bytes.get(at..at.checked_add(4)?)?.try_into().ok()?;
    Some(u32::from_le_bytes(four))
}

fn size_at(bytes: &[u8], at: usize) -> Option<usize> {
    usize::try_from(u32_at(bytes, at)?).ok()
}

impl<'b> Archive<'b> {
    /// Reads the directory of an archive (APPNOTE 4.3.12, 4.3.16).
    pub(super) fn open(name: &str, bytes: &'b [u8]) -> Result<Archive<'b>, Bad> {
        let damaged = || {
            bad(
                name,
                "the file begins like a spreadsheet and is damaged or cut off",
                "open and save it again, or copy it anew",
            )
        };
        let parts = directory(bytes).ok_or_else(damaged)?;
        Ok(Archive {
            name: name.to_owned(),
            bytes,
            parts,
        })
    }

    pub(super) fn names(&self) -> impl Iterator<Item = &str> {
        self.parts.iter().map(|part| part.name.as_str())
    }

    pub(super) fn has(&self, part: &str) -> bool {
        self.names().any(|name| name == part)
    }

    pub(super) fn has_under(&self, folder: &str) -> bool {
        self.names().any(|name| name.starts_with(folder))
    }

    /// The text of a part; nothing where there is no such part.
    pub(super) fn text(&self, part: &str) -> Result<Option<String>, Bad> {
        let Some(found) = self.parts.iter().find(|one| one.name == part) else {
            return Ok(None);
        };
        let bytes = self.unpacked(found)?;
        let text = String::from_utf8(bytes).map_err(|_| {
            bad(
                &self.name,
                format!("its part {part} is not UTF-8"),
                "save it again as XLSX, ODS or CSV (UTF-8)",
            )
        })?;
        Ok(Some(match text.strip_prefix('\u{feff}') {
            Some(rest) => rest.to_owned(),
            None => text,
        }))
    }

    fn unpacked(&self, part: &Part) -> Result<Vec<u8>, Bad> {
        let damaged = || {
            bad(
                &self.name,
                format!("its part {} is damaged", part.name),
                "open and save it again, or copy it anew",
            )
        };
        if part.flags & 1 != 0 {
            return Err(bad(
                &self.name,
                "the spreadsheet has a password",
                "open it, take the password off and save a copy",
            ));
        }
        // The local header tells how long its own name and extra field are (APPNOTE 4.3.7).
        let at = part.header_at;
        let local = |offset: usize| at.checked_add(offset).and_then(|at| u16_at(self.bytes, at));
        let skip = local(26).zip(local(28)).ok_or_else(damaged)?;
        let start = at
            .checked_add(30 + usize::from(skip.0) + usize::from(skip.1))
            .ok_or_else(damaged)?;
        let end = start.checked_add(part.packed).ok_or_else(damaged)?;
        let packed = self.bytes.get(start..end).ok_or_else(damaged)?;
        let bytes = match part.method {
            0 => packed.to_vec(),
            8 => {
                let most = u64::try_from(limits::PART_BYTES).unwrap_or(u64::MAX);
                let mut bytes = Vec::new();
                DeflateDecoder::new(packed)
                    .take(most.saturating_add(1))
                    .read_to_end(&mut bytes)
                    .map_err(|_| damaged())?;
                bytes
            }
            _ => {
                return Err(bad(
                    &self.name,
                    format!("its part {} is packed in a way that is not read", part.name),
                    "open and save it again",
                ));
            }
        };
        if bytes.len() > limits::PART_BYTES {
            let what = format!("its part {} unpacks to more bytes than are read", part.name);
            return Err(Box::new(too_much(&self.name, &what, limits::PART_BYTES)));
        }
        let mut crc = Crc::new();
        crc.update(&bytes);
        if crc.sum() != part.crc {
            return Err(damaged());
        }
        Ok(bytes)
    }
}

/// The parts by the central directory, whose end stands in the last 65,557 bytes.
fn directory(bytes: &[u8]) -> Option<Vec<Part>> {
    let from = bytes.len().saturating_sub(65_557);
    let tail = bytes.get(from..)?;
    let end = tail.windows(4).rposition(|four| four == b"PK\x05\x06")? + from;
    let count = usize::from(u16_at(bytes, end + 10)?);
    let mut at = size_at(bytes, end + 16)?;
    if count > PARTS {
        return None;
    }
    let mut parts = Vec::new();
    for _ in 0..count {
        if bytes.get(at..at.checked_add(4)?)? != b"PK\x01\x02" {
            return None;
        }
        let name_length = usize::from(u16_at(bytes, at + 28)?);
        let extra = usize::from(u16_at(bytes, at + 30)?);
        let remark = usize::from(u16_at(bytes, at + 32)?);
        let name = bytes.get(at + 46..at.checked_add(46 + name_length)?)?;
        parts.push(Part {
            name: String::from_utf8_lossy(name)
                .trim_start_matches('/')
                .to_owned(),
            flags: u16_at(bytes, at + 8)?,
            method: u16_at(bytes, at + 10)?,
            crc: u32_at(bytes, at + 16)?,
            packed: size_at(bytes, at + 20)?,
            header_at: size_at(bytes, at + 42)?,
        });
        at = at.checked_add(46 + name_length + extra + remark)?;
    }
    Some(parts)
}
