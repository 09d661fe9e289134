//! The house: a room may use any room above it in the list of `src/lib.rs`, never one below.

#![allow(clippy::expect_used, clippy::panic, reason = "a test says what it expects")]

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

fn sources(folder: &Path, into: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
        let path = entry.path();
        if path.is_dir() {
            sources(&path, into);
        } else if path.extension().is_some_and(|end| end == "rs") {
            into.push(path);
        }
    }
}

/// The rooms in their order, top first.
fn rooms() -> Vec<String> {
    let text = fs::read_to_string("src/lib.rs").expect("the library is there");
    text.lines().filter_map(|line| line.strip_prefix("pub mod ")?.strip_suffix(';')).map(str::to_owned).collect()
}

/// The room a file belongs to.
fn room_of(path: &Path) -> String {
    let inside = path.strip_prefix("src").expect("it lies in src");
    let first = inside.components().next().expect("it has a name").as_os_str().to_string_lossy().into_owned();
    first.trim_end_matches(".rs").to_owned()
}

#[test]
fn a_room_uses_rooms_above_it_only() {
    let rooms = rooms();
    let place = |room: &str| rooms.iter().position(|one| one == room);
    let mut files = Vec::new();
    sources(Path::new("src"), &mut files);
    let mut wrong = Vec::new();
    let mut uses = 0;
    for file in files {
        let room = room_of(&file);
        // The library lists the rooms, the program uses them all.
        if room == "lib" || room == "main" {
            continue;
        }
        let own = place(&room).unwrap_or_else(|| panic!("{} is in no room of src/lib.rs", file.display()));
        let text = fs::read_to_string(&file).expect("readable");
        for piece in text.split("crate::").skip(1) {
            let used: String = piece.chars().take_while(|letter| letter.is_ascii_lowercase() || *letter == '_').collect();
            uses += 1;
            match place(&used) {
                Some(above) if above <= own => {}
                Some(_) => wrong.push(format!("{} ({room}) uses {used}, which lies below it", file.display())),
                None => wrong.push(format!("{} uses crate::{used}, which is no room", file.display())),
            }
        }
    }
    assert!(uses > 100, "the search finds the uses: {uses}");
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Names of dependencies in a manifest, of all kinds.
fn dependencies(manifest: &str) -> BTreeSet<String> {
    let text = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(manifest)).expect("readable");
    let manifest: toml::Table = text.parse().expect("TOML");
    let tables = ["dependencies", "build-dependencies", "dev-dependencies"].into_iter().filter_map(|kind| manifest.get(kind)?.as_table());
    tables.flat_map(|table| table.keys().cloned()).collect()
}

#[test]
fn every_dependency_says_what_it_is_for() {
    let guide = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("DEVELOPERS.md")).expect("readable");
    let table = guide.split("## Dependencies").nth(1).and_then(|rest| rest.split("\n## ").next()).expect("its chapter");
    let rows = table.lines().filter_map(|line| line.strip_prefix("| `")?.split_once("` | "));
    let told: Vec<(&str, &str)> = rows.map(|(name, rest)| (name, rest.split(" | ").next().unwrap_or_default().trim())).collect();
    let names: BTreeSet<String> = told.iter().map(|(name, _)| (*name).to_owned()).collect();
    assert_eq!(names.len(), told.len(), "one line each");
    assert!(told.iter().all(|(_, what)| !what.is_empty()), "and what it is for");
    let mut used = dependencies("Cargo.toml");
    used.extend(dependencies("fuzz/Cargo.toml"));
    used.remove("stavegauge");
    assert_eq!(names, used);
}
