//! The house rules that a compiler does not see: who imports whom, how long files are, what they begin with.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

/// Rooms by layer, and inside a layer the rooms that a room may use. A room may use every lower layer.
const ROOMS: &[(&str, u8, &[&str])] = &[
    ("text", 0, &[]),
    ("quantity", 0, &[]),
    ("diagnostic", 1, &[]),
    ("uncertainty", 1, &[]),
    ("geometry", 2, &[]),
    ("vocabulary", 2, &[]),
    ("expression", 2, &["vocabulary"]),
    ("rules", 3, &[]),
    ("record", 3, &[]),
    ("boundary", 4, &[]),
    ("check", 4, &[]),
    ("event", 5, &[]),
    ("fleet", 5, &["prove"]),
    ("prove", 5, &[]),
    ("paper", 6, &[]),
    ("report", 6, &[]),
    ("app", 7, &[]),
    ("cli", 8, &[]),
    ("host", 9, &[]),
];

/// Rooms of lower layers that a room may not use all the same.
const NOT: &[(&str, &[&str])] = &[
    ("diagnostic", &["quantity"]),
    ("uncertainty", &["text"]),
    ("geometry", &["text", "diagnostic"]),
];

/// Files that are longer than 600 lines, each with its reason.
const LONG: &[(&str, &str)] = &[];

fn sources(folder: &Path, found: &mut Vec<PathBuf>) {
    let mut entries: Vec<_> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    entries.sort();
    for path in entries {
        if path.is_dir() {
            sources(&path, found);
        } else if path.extension().is_some_and(|ending| ending == "rs") {
            found.push(path);
        }
    }
}

fn all_sources() -> Vec<(String, String)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut found = Vec::new();
    sources(&root.join("src"), &mut found);
    found
        .into_iter()
        .map(|path| {
            let name = path
                .strip_prefix(root)
                .unwrap()
                .to_string_lossy()
                .replace('\\', "/");
            let text = fs::read_to_string(&path).unwrap();
            (name, text)
        })
        .collect()
}

fn room_of(name: &str) -> Option<&str> {
    let rest = name.strip_prefix("src/")?;
    let room = rest.split('/').next()?;
    Some(room.strip_suffix(".rs").unwrap_or(room))
}

/// The rooms that a text names by `crate::room` or `use crate::{room…`.
fn rooms_used(text: &str) -> Vec<(usize, String)> {
    let mut found = Vec::new();
    for (number, line) in text.lines().enumerate() {
        let line = line.split("//").next().unwrap_or("");
        for piece in line.split("crate::").skip(1) {
            let room: String = piece
                .chars()
                .take_while(|c| c.is_ascii_lowercase() || *c == '_')
                .collect();
            if !room.is_empty() {
                found.push((number + 1, room));
            }
        }
    }
    found
}

fn may_use(room: &str, other: &str) -> bool {
    let layer = |name: &str| {
        ROOMS
            .iter()
            .find(|(room, _, _)| *room == name)
            .map(|(_, layer, _)| *layer)
    };
    let (Some(own), Some(theirs)) = (layer(room), layer(other)) else {
        return false;
    };
    if room == other {
        return true;
    }
    if NOT
        .iter()
        .any(|(one, list)| *one == room && list.contains(&other))
    {
        return false;
    }
    let same_layer = ROOMS
        .iter()
        .any(|(one, _, list)| *one == room && list.contains(&other));
    theirs < own || same_layer
}

#[test]
fn rooms_import_from_lower_rooms_only() {
    let mut wrong = Vec::new();
    for (name, text) in all_sources() {
        let Some(room) = room_of(&name) else { continue };
        if matches!(room, "lib" | "main") {
            continue;
        }
        for (line, other) in rooms_used(&text) {
            if !may_use(room, &other) {
                wrong.push(format!("{name}:{line}: {room} may not use {other}"));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn every_room_stands_in_the_table() {
    let mut rooms: BTreeMap<String, ()> = BTreeMap::new();
    for (name, _) in all_sources() {
        if let Some(room) = room_of(&name) {
            rooms.insert(room.to_owned(), ());
        }
    }
    for room in rooms
        .keys()
        .filter(|room| !matches!(room.as_str(), "lib" | "main"))
    {
        assert!(
            ROOMS.iter().any(|(name, _, _)| name == room),
            "{room} has no row in the table of rooms"
        );
    }
}

#[test]
fn the_table_itself_can_refuse() {
    assert!(may_use("check", "rules"));
    assert!(!may_use("rules", "check"));
    assert!(!may_use("rules", "record"));
    assert!(!may_use("record", "rules"));
    assert!(may_use("expression", "vocabulary"));
    assert!(!may_use("vocabulary", "expression"));
    assert!(!may_use("check", "report"));
    assert_eq!(
        rooms_used("use crate::text::Span; // crate::check::Plan"),
        [(1, "text".to_owned())]
    );
}

#[test]
fn every_file_begins_with_a_page_and_ends_in_reach() {
    let mut wrong = Vec::new();
    for (name, text) in all_sources() {
        if !text.starts_with("//!") {
            wrong.push(format!(
                "{name}: the first line says not what the file is for (`//! …`)"
            ));
        }
        let lines = text.lines().count();
        if lines > 600 && !LONG.iter().any(|(long, _)| *long == name) {
            wrong.push(format!(
                "{name}: {lines} lines; split it, or name it in LONG with a reason"
            ));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn nothing_below_the_edge_touches_the_world() {
    let touching = [
        "std::fs",
        "std::env",
        "std::net",
        "std::process",
        "SystemTime",
        "Instant::now",
        "println!",
        "eprintln!",
    ];
    let mut wrong = Vec::new();
    for (name, text) in all_sources() {
        let room = room_of(&name).unwrap_or("");
        if matches!(room, "host" | "main") || name.contains("tests") {
            continue;
        }
        for (number, line) in text.lines().enumerate() {
            let code = line.split("//").next().unwrap_or("");
            if let Some(what) = touching.iter().find(|what| code.contains(**what)) {
                wrong.push(format!("{name}:{}: {what}", number + 1));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
