//! XML step by step, by the local names of elements: prefixes are each writer's own.

use std::borrow::Cow;

use quick_xml::Reader;
use quick_xml::XmlVersion;
use quick_xml::events::{BytesStart, Event};

use super::{Bad, bad, limits};

/// A text of XML that is walked once.
pub(super) struct Walk<'t> {
    reader: Reader<&'t [u8]>,
    /// The file and its part, for messages.
    name: &'t str,
    part: &'t str,
}

/// One step.
pub(super) enum Step<'t> {
    /// An element begins; one without content ends in the next step.
    Open(Element<'t>),
    /// An element ends.
    Close(String),
    /// Text between.
    Text(Cow<'t, str>),
    /// The end of the text.
    End,
}

/// The beginning of an element.
pub(super) struct Element<'t> {
    /// Its name without a prefix.
    pub name: String,
    start: BytesStart<'t>,
}

impl Element<'_> {
    /// An attribute by its local name.
    pub(super) fn get(&self, name: &str) -> Option<String> {
        let mut attributes = self.start.attributes();
        let mut attributes = attributes.with_checks(false).flatten();
        let value = attributes.find(|one| one.key.local_name().as_ref() == name)?;
        let text = value.normalized_value(XmlVersion::Implicit1_0).ok()?;
        Some(text.into_owned())
    }

    /// A whole number in an attribute.
    pub(super) fn number(&self, name: &str) -> Option<u32> {
        self.get(name)?.trim().parse().ok()
    }
}

impl<'t> Walk<'t> {
    pub(super) fn new(name: &'t str, part: &'t str, text: &'t str) -> Walk<'t> {
        let mut reader = Reader::from_str(text);
        reader.config_mut().expand_empty_elements = true;
        Walk { reader, name, part }
    }

    /// What is wrong with this part.
    pub(super) fn wrong(&self, what: &str) -> Bad {
        bad(
            self.name,
            format!("its part {} {what}", self.part),
            "open and save it again",
        )
    }

    pub(super) fn step(&mut self) -> Result<Step<'t>, Bad> {
        loop {
            let event = self
                .reader
                .read_event()
                .map_err(|_| self.wrong("is no XML that can be read"))?;
            return Ok(match event {
                Event::Start(start) | Event::Empty(start) => {
                    let name = start.local_name().as_ref().to_owned();
                    Step::Open(Element { name, start })
                }
                Event::End(end) => Step::Close(end.local_name().as_ref().to_owned()),
                Event::Text(text) => Step::Text(text.xml10_content()),
                Event::CData(text) => Step::Text(text.xml10_content()),
                Event::GeneralRef(reference) => {
                    let named = reference.into_inner();
                    let letter = referred(&named)
                        .ok_or_else(|| self.wrong("names an entity that is not known"))?;
                    Step::Text(Cow::Owned(letter.to_string()))
                }
                Event::Eof => Step::End,
                Event::Comment(_) | Event::Decl(_) | Event::PI(_) | Event::DocType(_) => continue,
            });
        }
    }

    /// The text in an element that has just begun, without that of elements in it that `leave` names.
    pub(super) fn text(&mut self, leave: &[&str]) -> Result<String, Bad> {
        let mut text = String::new();
        let mut depth = 1_usize;
        let mut left: Option<usize> = None;
        loop {
            match self.step()? {
                Step::Open(element) => {
                    depth += 1;
                    if left.is_none() && leave.contains(&element.name.as_str()) {
                        left = Some(depth);
                    }
                }
                Step::Close(_) => {
                    if left == Some(depth) {
                        left = None;
                    }
                    depth -= 1;
                    if depth == 0 {
                        return Ok(text);
                    }
                }
                Step::Text(more) => {
                    if left.is_none() && text.len() < limits::CELL_BYTES {
                        text.push_str(&more);
                    }
                }
                Step::End => return Err(self.wrong("ends before it should")),
            }
        }
    }

    /// Passes over an element that has just begun.
    pub(super) fn skip(&mut self) -> Result<(), Bad> {
        self.text(&[]).map(|_| ())
    }
}

/// The letter of a reference: the five of XML 1.0, or a number.
fn referred(name: &str) -> Option<char> {
    match name {
        "amp" => Some('&'),
        "lt" => Some('<'),
        "gt" => Some('>'),
        "quot" => Some('"'),
        "apos" => Some('\''),
        _ => {
            let digits = name.strip_prefix('#')?;
            let number = match digits.strip_prefix('x') {
                Some(hex) => u32::from_str_radix(hex, 16).ok()?,
                None => digits.parse().ok()?,
            };
            char::from_u32(number)
        }
    }
}
