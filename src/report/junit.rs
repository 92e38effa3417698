//! Test results in XML, as build servers read them: a suite for each record, a case for each rule and item.
//!
//! What does not conform is a `failure`. What is not decided is an `error`, not `skipped`: a server shows a
//! skipped case as fine, and nothing missing is ever a pass. What does not apply is `skipped`. No times and
//! no host are written, so that the same input gives the same bytes.

use std::collections::BTreeMap;
use std::fmt::Write;

use crate::check::Outcome;
use crate::diagnostic::{Diagnostic, narrate};

use super::checked::Checked;
use super::human::boat;
use super::message::Message;
use super::words;

/// The head of the document.
pub(super) const BEGIN: &str =
    "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<testsuites name=\"rimegauge\">\n";

/// A case: the findings of a rule on an item, all its sides.
struct Case<'m> {
    messages: Vec<&'m Message>,
    outcome: Outcome,
}

/// A record as a suite.
pub(super) fn record(checked: &Checked) -> String {
    let messages = Message::some(checked, true);
    let cases = cases(&messages);
    let count = |outcome| cases.iter().filter(|case| case.outcome == outcome).count();
    let nothing = usize::from(cases.is_empty());
    let mut text = String::new();
    // Writing to a string does not fail.
    let _ = writeln!(
        text,
        "  <testsuite name=\"{}\" tests=\"{}\" failures=\"{}\" errors=\"{}\" skipped=\"{}\">",
        escaped(&boat(checked).replace("  ", " ")),
        cases.len() + nothing,
        count(Outcome::DoesNotConform),
        count(Outcome::NotDecided) + nothing,
        count(Outcome::NotApplicable)
    );
    text.push_str("    <properties>\n");
    let mut properties = vec![
        ("source", checked.record.source.name().to_owned()),
        ("digest", checked.digest().into_owned()),
        ("rules", words::reference(&checked.rules)),
        ("rules_digest", checked.rules.digest.clone()),
        ("rules_status", checked.rules.status.word().to_owned()),
        ("purpose", checked.purpose.word().to_owned()),
        ("day", checked.day.to_string()),
        (
            "decision_rule",
            words::decision_word(checked.decision_rule()).to_owned(),
        ),
        ("outcome", checked.verdict.outcome.word().to_owned()),
    ];
    if let Some(overlay) = &checked.rules.overlay {
        properties.push(("event", overlay.event.text.clone()));
        properties.push(("overlay_digest", overlay.digest.clone()));
    }
    properties.extend(
        checked
            .level_name()
            .map(|level| ("level", level.to_owned())),
    );
    properties.extend(checked.notes().into_iter().map(|note| ("note", note)));
    for (name, value) in properties {
        let _ = writeln!(
            text,
            "      <property name=\"{name}\" value=\"{}\"/>",
            escaped(&value)
        );
    }
    text.push_str("    </properties>\n");
    for case in &cases {
        self::case(&mut text, checked, case);
    }
    if cases.is_empty() {
        let class = escaped(&checked.rules.class.text);
        let why = checked
            .verdict
            .reason
            .map_or("nothing was checked", crate::check::Reason::words);
        let _ = writeln!(
            text,
            "    <testcase classname=\"{class}\" name=\"record\"><error type=\"not_decided\" message=\"{why}\"/></testcase>"
        );
    }
    text.push_str("  </testsuite>\n");
    text
}

/// Input that could not be used, as a case.
pub(super) fn problem(diagnostic: &Diagnostic) -> String {
    let place = diagnostic
        .primary()
        .map_or("input".to_owned(), |label| label.place().to_string());
    format!(
        "    <testcase classname=\"input\" name=\"{}\"><error type=\"{}\" message=\"{}\">{}</error></testcase>\n",
        escaped(&place),
        escaped(diagnostic.code),
        escaped(&diagnostic.message),
        escaped(narrate(std::slice::from_ref(diagnostic)).trim_end())
    )
}

/// The end of the document, with input that could not be used as a suite of its own.
pub(super) fn end(refused: &[String]) -> String {
    let mut text = String::new();
    if !refused.is_empty() {
        let count = refused.len();
        // Writing to a string does not fail.
        let _ = writeln!(
            text,
            "  <testsuite name=\"input\" tests=\"{count}\" failures=\"0\" errors=\"{count}\" skipped=\"0\">"
        );
        text.push_str(&refused.concat());
        text.push_str("  </testsuite>\n");
    }
    text.push_str("</testsuites>\n");
    text
}

fn cases(messages: &[Message]) -> Vec<Case<'_>> {
    let mut at: BTreeMap<(&str, &str, &str), usize> = BTreeMap::new();
    let mut cases: Vec<Case<'_>> = Vec::new();
    for message in messages {
        let key = (
            message.rule.as_str(),
            message.item_path.as_str(),
            message.title.as_str(),
        );
        let index = *at.entry(key).or_insert(cases.len());
        match cases.get_mut(index) {
            Some(case) => {
                case.outcome = case.outcome.min(message.outcome);
                case.messages.push(message);
            }
            None => cases.push(Case {
                messages: vec![message],
                outcome: message.outcome,
            }),
        }
    }
    cases
}

fn case(text: &mut String, checked: &Checked, case: &Case<'_>) {
    let Some(first) = case.messages.first() else {
        return;
    };
    let _ = write!(
        text,
        "    <testcase classname=\"{}.{}\" name=\"{}\"",
        escaped(&checked.rules.class.text),
        escaped(&first.rule),
        escaped(&format!("{} · {}", first.heading(), first.item))
    );
    let worst: Vec<&&Message> = case
        .messages
        .iter()
        .filter(|message| message.outcome == case.outcome)
        .collect();
    let reason = worst.iter().find_map(|message| message.reason);
    let kind = reason.map_or(case.outcome.word(), crate::check::Reason::word);
    let told = |message: &&&Message| {
        let remedy = message
            .remedy
            .as_ref()
            .map_or(String::new(), |remedy| format!(" {remedy}"));
        format!("{}{remedy}", message.sentence())
    };
    let said = escaped(&worst.iter().map(told).collect::<Vec<_>>().join("\n"));
    let short = escaped(
        &worst
            .first()
            .map_or(String::new(), |message| message.brief()),
    );
    let _ = match case.outcome {
        Outcome::Conforms => writeln!(text, "/>"),
        Outcome::NotApplicable => writeln!(text, "><skipped message=\"{short}\"/></testcase>"),
        Outcome::DoesNotConform => {
            writeln!(
                text,
                "><failure type=\"{kind}\" message=\"{short}\">{said}</failure></testcase>"
            )
        }
        Outcome::NotDecided => {
            writeln!(
                text,
                "><error type=\"{kind}\" message=\"{short}\">{said}</error></testcase>"
            )
        }
    };
}

/// A text for XML 1.0: marked characters escaped, characters that XML forbids left out.
fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len() + 8);
    for letter in text.chars() {
        match letter {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&apos;"),
            '\n' | '\t' => safe.push(letter),
            letter if letter.is_control() || matches!(letter, '\u{fffe}' | '\u{ffff}') => {}
            letter => safe.push(letter),
        }
    }
    safe
}

#[cfg(test)]
mod tests {
    use super::escaped;

    #[test]
    fn what_xml_forbids_is_left_out() {
        assert_eq!(
            escaped("a<b>&\"c'\u{1b}[31m\u{0}\n"),
            "a&lt;b&gt;&amp;&quot;c&apos;[31m\n"
        );
    }
}
