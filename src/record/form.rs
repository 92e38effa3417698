//! The measurement form of a class: what is measured in which order, with words and cautions. A filled form
//! is a record.

use std::sync::Arc;

use super::form_model::{Asked, Form, Section, Step};
use super::form_schema::form_schema;
use super::items::a;
use super::reader::limits;
use crate::diagnostic::{Diagnostic, Faults, Fields, Schema, near_misses, text_of};
use crate::text::{Entry, Node, Source, Span, decode, parse_yaml, quoted};
use crate::vocabulary::{HoldingId, Measure, MeasureKind, Part, PartId, Vocabulary, read};

/// The format line of this major version.
pub const FORM_FORMAT: &str = "rimegauge-form/1";

/// Cautions that a step can ask for; the words are the class's to print.
pub(super) const CAUTIONS: [&str; 5] = [
    "edges",
    "grinding",
    "hardened_steel",
    "ice",
    "compliance_is_not_safety",
];

/// Most places, and most readings at each, that a step asks for: more fit on no sheet.
pub(super) const MOST: u32 = 100;

/// Loads a form from its bytes, by its JSON Schema and against the vocabulary of a version of a class; `name`
/// is what messages call it.
///
/// # Errors
/// Every fault at once.
pub fn read_form(
    name: &str,
    bytes: &[u8],
    vocabulary: &Vocabulary,
    class: &str,
    version: &semver::Version,
) -> Result<Form, Vec<Diagnostic>> {
    let source =
        decode(name, bytes).map_err(|problem| vec![Diagnostic::undecoded(problem, name)])?;
    let node =
        parse_yaml(&source).map_err(|problems| Diagnostic::from_problems(problems, &source))?;
    let typed = load_form(&source, &node, vocabulary, class, version);
    // A form for other versions may ask what this one does not know: that it is for others is all there is to say.
    if let Err(found) = &typed
        && found.iter().any(|one| one.code == "form.other_version")
    {
        return typed;
    }
    match Schema::new(form_schema(vocabulary, class)) {
        Ok(schema) => schema.beside(&source, &node, typed),
        Err(_) => typed,
    }
}

/// Loads a form against the vocabulary of a version of a class.
///
/// # Errors
/// Every fault at once.
pub fn load_form(
    source: &Arc<Source>,
    node: &Node<'_>,
    vocabulary: &Vocabulary,
    class: &str,
    version: &semver::Version,
) -> Result<Form, Vec<Diagnostic>> {
    let mut faults = Faults::new(source);
    let mut reader = Reader {
        vocabulary,
        asked: Vec::new(),
        faults: &mut faults,
    };
    let form = reader.form(node, class, version);
    faults.into_result(form)
}

/// A form that is being read.
struct Reader<'v, 'f> {
    vocabulary: &'v Vocabulary,
    /// What was asked before, of what, and where.
    asked: Vec<(Option<HoldingId>, Asked, Span)>,
    faults: &'f mut Faults,
}

impl Reader<'_, '_> {
    fn form(&mut self, node: &Node<'_>, class: &str, version: &semver::Version) -> Option<Form> {
        if node.as_mapping().is_none() {
            let (code, message, words) = match node.is_null() {
                true => ("file.empty", "the file is empty".to_owned(), ""),
                false => (
                    "file.shape",
                    format!(
                        "a form is written as keys with values; here stands {}",
                        node.kind_in_words()
                    ),
                    "not a mapping",
                ),
            };
            let help = format!("a form begins with `format: {FORM_FORMAT}`");
            self.faults
                .fault(code, node.label_span(None), message, words, help);
            return None;
        }
        let mut fields = Fields::of(node, "a form", None, self.faults)?;
        if let Some((text, node)) = fields.require_text("format", self.faults)
            && text != FORM_FORMAT
        {
            self.faults.fault(
                "file.format",
                node.span,
                format!(
                    "this program reads {}; the file says {}",
                    quoted(FORM_FORMAT),
                    quoted(text)
                ),
                "another format",
                format!("write `format: {FORM_FORMAT}`"),
            );
        }
        if let Some((text, node)) = fields.require_text("class", self.faults)
            && text != class
        {
            self.faults.fault(
                "form.other_class",
                node.span,
                format!(
                    "the form is for the class {}, the rules are those of {}",
                    quoted(text),
                    quoted(class)
                ),
                "another class",
                format!("write `class: {class}`, or name the rules of the form's class"),
            );
        }
        let versions = match fields.take_text("versions", self.faults) {
            None => Some(semver::VersionReq::STAR),
            Some((text, node)) => self.versions(text, node.span, version),
        };
        let title = fields.require("title", self.faults);
        let title = title.and_then(|entry| self.words(entry));
        let sections = fields.require("sections", self.faults);
        fields.finish(self.faults);
        // What a form for other versions asks would be told measure by measure, and that is not what is wrong.
        let versions = versions?;
        let mut found: Vec<Section> = Vec::new();
        let mut titles: Vec<(&str, Span)> = Vec::new();
        for node in self.filled_list(sections?, "- { title: …, steps: … }") {
            // Steps are looked up by section: two of one title could not be told apart.
            if let Some(entry) = node.entry("title")
                && let Some(text) = entry.node.as_text()
            {
                let first = titles.iter().find(|(title, _)| *title == text);
                match first.map(|(_, span)| *span) {
                    Some(first) => {
                        self.faults.fault(
                            "name.twice",
                            entry.node.label_span(Some(entry.key_span)),
                            format!("two sections have the title {}", quoted(text)),
                            "again here",
                            "give one of them another title, or put their steps together",
                        );
                        self.faults.also(first, "first here");
                    }
                    None => titles.push((text, entry.node.label_span(Some(entry.key_span)))),
                }
            }
            found.extend(self.section(node));
        }
        Some(Form {
            class: class.to_owned(),
            versions,
            title: title?,
            sections: found,
        })
    }

    /// The versions that a form is for, of which the one it is read for has to be one.
    fn versions(
        &mut self,
        text: &str,
        span: Span,
        version: &semver::Version,
    ) -> Option<semver::VersionReq> {
        let Ok(found) = semver::VersionReq::parse(text) else {
            self.faults.fault(
                "form.versions",
                span,
                format!("{} is not a requirement on versions", quoted(text)),
                "",
                "write \">=4.0.0\", \"^3\" or leave the key out",
            );
            return None;
        };
        if found.matches(version) {
            return Some(found);
        }
        self.faults.fault(
            "form.other_version",
            span,
            format!(
                "the form is for versions {} of the class rules, the rules are version {version}",
                quoted(text)
            ),
            "other versions",
            "take the form of this version, or name rules of a version that the form is for",
        );
        None
    }

    /// Words for people: a text that says something.
    fn words(&mut self, entry: &Entry<'_>) -> Option<String> {
        let text = text_of(entry, self.faults)?;
        let span = entry.node.label_span(Some(entry.key_span));
        if text.trim().is_empty() {
            let message = format!("{} says nothing", quoted(&entry.key));
            self.faults.fault(
                "form.blank",
                span,
                message,
                "an empty text",
                "write some words, or leave the key out where it may be left out",
            );
            return None;
        }
        if text.len() > limits::TEXT {
            let message = format!(
                "{} is a text of {} bytes; at most {} are read",
                quoted(&entry.key),
                text.len(),
                limits::TEXT
            );
            let help = "say it in fewer words";
            self.faults
                .fault("form.too_long", span, message, "too long", help);
            return None;
        }
        Some(text.to_owned())
    }

    /// A list with something in it.
    fn filled_list<'n, 's>(&mut self, entry: &'n Entry<'s>, form: &str) -> &'n [Node<'s>] {
        let items = entry.node.as_sequence();
        if items.is_some_and(|items| !items.is_empty()) {
            return items.unwrap_or(&[]);
        }
        let key = quoted(&entry.key);
        let (message, words) = match items {
            Some(_) => (format!("{key} names nothing"), "an empty list"),
            None => (
                format!(
                    "{key} is a list; here stands {}",
                    entry.node.kind_in_words()
                ),
                "not a list",
            ),
        };
        self.faults.fault(
            "file.shape",
            entry.node.label_span(Some(entry.key_span)),
            message,
            words,
            format!("begin each entry with `{form}`"),
        );
        &[]
    }

    fn section(&mut self, node: &Node<'_>) -> Option<Section> {
        let mut fields = Fields::of(node, "a section", None, self.faults)?;
        let title = fields.require("title", self.faults);
        let title = title.and_then(|entry| self.words(entry));
        let for_each = fields.take_text("for_each", self.faults);
        let said = node.entry("for_each").is_some();
        let steps = fields.require("steps", self.faults);
        let before = self.faults.len();
        fields.finish(self.faults);
        // A key that is not known may be `for_each`, misspelt.
        let known = self.faults.len() == before;
        let (for_each, part) = match for_each {
            // Which part is meant can't be read; its steps would all be wrong.
            None if said || !known => return None,
            None => (None, Vocabulary::BOAT),
            Some((text, node)) => {
                let vocabulary = self.vocabulary;
                let holdings: Vec<(&str, HoldingId)> = vocabulary
                    .holdings
                    .iter()
                    .filter_map(|one| {
                        let id = vocabulary.holding_named(&one.key.text)?;
                        // Nothing is measured on a group: its parts are.
                        (!vocabulary.is_group(id)).then_some((one.key.text.as_str(), id))
                    })
                    .collect();
                let id = read::one_of(
                    text,
                    node.span,
                    "a part of the boat",
                    holdings.into_iter(),
                    self.faults,
                )?;
                (Some(id), vocabulary.holding(id)?.part)
            }
        };
        let mut found = Vec::new();
        for node in self.filled_list(steps?, "- { measure: … }") {
            found.extend(self.step(node, for_each, part));
        }
        Some(Section {
            title: title?,
            for_each,
            part,
            steps: found,
        })
    }

    fn step(&mut self, node: &Node<'_>, for_each: Option<HoldingId>, part: PartId) -> Option<Step> {
        let mut fields = Fields::of(node, "a step", None, self.faults)?;
        let measure = fields.take_text("measure", self.faults);
        let of_trait = fields.take_text("trait", self.faults);
        let places_entry = fields.take("places", self.faults);
        let repeats_entry = fields.take("repeats", self.faults);
        let words = fields.take("words", self.faults);
        let words = words.and_then(|entry| self.words(entry));
        let cautions = fields.take("cautions", self.faults);
        let span = fields.span;
        fields.finish(self.faults);
        let places = places_entry.and_then(|entry| self.number(entry));
        let repeats = repeats_entry.and_then(|entry| self.number(entry));
        let cautions = cautions.map(|entry| self.cautions(entry));
        let part = self.vocabulary.part(part)?;
        let (asks, span) = match (measure, of_trait) {
            (Some((text, node)), None) => (self.measure(text, node.span, part)?, node.span),
            (None, Some((text, node))) => (self.declared(text, node.span, part)?, node.span),
            (None, None) if node.entry("measure").is_some() || node.entry("trait").is_some() => {
                return None;
            }
            (Some(_), Some(_)) | (None, None) => {
                self.faults.fault(
                    "form.step",
                    span,
                    "a step asks for one measure or one trait",
                    "",
                    "write `- { measure: steel_thickness }` or `- { trait: construction }`",
                );
                return None;
            }
        };
        let kept = |entry: Option<&Entry<'_>>| entry.map(|entry| entry.key_span);
        self.fits(asks, part, kept(places_entry), kept(repeats_entry));
        self.asked_once(for_each, asks, span);
        Some(Step {
            asks,
            span,
            places,
            repeats,
            words,
            cautions: cautions.unwrap_or_default(),
        })
    }

    /// How many: 1 at least.
    fn number(&mut self, entry: &Entry<'_>) -> Option<u32> {
        let what = quoted(&entry.key);
        let key_span = Some(entry.key_span);
        let text = read::scalar(&entry.node, key_span, &what, "a whole number", self.faults)?;
        let digits = !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
        let number = text.parse().ok().filter(|_| digits);
        if let Some(number) = number.filter(|number| (1..=MOST).contains(number)) {
            return Some(number);
        }
        self.faults.fault(
            "form.number",
            entry.node.label_span(key_span),
            format!(
                "{what} is a whole number from 1 to {MOST}; {} was read",
                quoted(text)
            ),
            if digits {
                "out of range"
            } else {
                "not a whole number"
            },
            format!("write `{}: 3`, or leave the key out for 1", entry.key),
        );
        None
    }

    fn cautions(&mut self, entry: &Entry<'_>) -> Vec<String> {
        let mut named: Vec<String> = Vec::new();
        for node in self.filled_list(entry, "- edges") {
            let Some(text) = read::scalar(node, None, "a caution", "a name", self.faults) else {
                continue;
            };
            let words = CAUTIONS.into_iter().map(|word| (word, word));
            let Some(word) = read::one_of(text, node.span, "a caution", words, self.faults) else {
                continue;
            };
            if named.iter().any(|other| other == word) {
                let message = format!("the caution {} is named twice", quoted(word));
                let help = "take one of the two out";
                self.faults
                    .fault("name.twice", node.span, message, "again here", help);
                continue;
            }
            named.push(word.to_owned());
        }
        named
    }

    fn measure(&mut self, text: &str, span: Span, part: &Part) -> Option<Asked> {
        if let Some(id) = part.measure_named(text) {
            return Some(Asked::Measure(id));
        }
        let of = a(&part.name.text);
        if part.derived_named(text).is_some() {
            self.faults.fault(
                "form.derived",
                span,
                format!("{} is computed from what is measured", quoted(text)),
                "not measured",
                "ask for the measures that it is computed from",
            );
            return None;
        }
        if part.trait_named(text).is_some() {
            self.faults.fault(
                "form.kind",
                span,
                format!(
                    "{} is a trait of {of}: declared, not measured",
                    quoted(text)
                ),
                "not a measure",
                format!("write `trait: {text}`"),
            );
            return None;
        }
        let names = || part.measures.iter().map(|one| one.name.text.as_str());
        self.elsewhere(text, span, &format!("a measure of {of}"), names(), |part| {
            part.measure_named(text).is_some()
        });
        None
    }

    fn declared(&mut self, text: &str, span: Span, part: &Part) -> Option<Asked> {
        if let Some(id) = part.trait_named(text) {
            return Some(Asked::Trait(id));
        }
        let of = a(&part.name.text);
        if part.measure_named(text).is_some() {
            self.faults.fault(
                "form.kind",
                span,
                format!(
                    "{} is a measure of {of}: measured, not declared",
                    quoted(text)
                ),
                "not a trait",
                format!("write `measure: {text}`"),
            );
            return None;
        }
        let names = || part.traits.iter().map(|one| one.name.text.as_str());
        self.elsewhere(text, span, &format!("a trait of {of}"), names(), |part| {
            part.trait_named(text).is_some()
        });
        None
    }

    /// A name that this part does not have: misspelt, or another part's.
    fn elsewhere<'w>(
        &mut self,
        text: &str,
        span: Span,
        what: &str,
        known: impl Iterator<Item = &'w str> + Clone,
        has: impl Fn(&Part) -> bool,
    ) {
        let of = |id: PartId| self.vocabulary.part(id);
        let other = self
            .vocabulary
            .holdings
            .iter()
            .find(|holding| of(holding.part).is_some_and(&has))
            .map(|holding| format!("write `for_each: {}`", holding.key.text));
        let of_the_boat = of(Vocabulary::BOAT)
            .is_some_and(&has)
            .then(|| "it is asked of the boat, in a section without `for_each`".to_owned());
        let near = near_misses(text, known.clone());
        match other.or(of_the_boat).filter(|_| near.is_none()) {
            Some(help) => {
                let message = format!("{} is not {what}", quoted(text));
                let words = "another part has it";
                self.faults
                    .fault("name.unknown", span, message, words, help);
            }
            None => {
                let words = known.map(|word| (word, ()));
                read::one_of(text, span, what, words, self.faults);
            }
        }
    }

    /// Places are of what is taken at places, or at stations; repeats of what is read off an instrument.
    fn fits(&mut self, asks: Asked, part: &Part, places: Option<Span>, repeats: Option<Span>) {
        let measure = match asks {
            Asked::Measure(id) => part.measures.get(id.index()),
            Asked::Trait(_) => None,
        };
        let has_places = |one: &Measure| one.placed || one.kind == MeasureKind::Line;
        if let Some(span) = places.filter(|_| !measure.is_some_and(has_places)) {
            self.faults.fault(
                "form.places",
                span,
                "this step asks for places, and what it asks for has none",
                "no places here",
                "take `places` out; the rules say with `placed: yes` what is taken at places",
            );
        }
        let is_read = |one: &Measure| one.kind != MeasureKind::YesNo;
        if let Some(span) = repeats.filter(|_| !measure.is_some_and(is_read)) {
            self.faults.fault(
                "form.repeats",
                span,
                "this step asks for repeated readings of what is not read off an instrument",
                "nothing to repeat",
                "take `repeats` out",
            );
        }
    }

    fn asked_once(&mut self, for_each: Option<HoldingId>, asks: Asked, span: Span) {
        let same = self
            .asked
            .iter()
            .find(|(of, before, _)| *of == for_each && *before == asks);
        match same.map(|(_, _, span)| *span) {
            Some(first) => {
                self.faults.fault(
                    "name.twice",
                    span,
                    "this is asked twice of the same part",
                    "again here",
                    "take one of the two steps out",
                );
                self.faults.also(first, "first here");
            }
            None => self.asked.push((for_each, asks, span)),
        }
    }
}
