//! The streaming reader against a second opinion: the same small files read as a tree by the `roxmltree` crate, their
//! layout values and the places of those values compared.

#![allow(clippy::expect_used, clippy::panic, reason = "a test says what it expects")]

use roxmltree::{Document, Node, ParsingOptions};
use stavegauge::musicxml::{Source, read};
use stavegauge::place::Stated;
use stavegauge::score::Score;
use stavegauge::score::instructions::Print;
use stavegauge::units::{STAFF_TENTHS, Tenths};
use std::fs;
use std::path::{Path, PathBuf};

/// One layout value: what it is, the number, and the bytes of its text (none for widths, which are attributes).
type Value = (String, f64, Option<(u32, u32)>);

fn files(folder: &Path, into: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
        let path = entry.path();
        if path.is_dir() {
            files(&path, into);
        } else if path.extension().is_some_and(|end| end == "musicxml") {
            into.push(path);
        }
    }
    into.sort();
}

/// The layout values of a tree, in the order of the document.
fn by_tree(document: &Document) -> Vec<Value> {
    let mut values = Vec::new();
    for node in document.descendants().filter(Node::is_element) {
        let name = node.tag_name().name();
        let measured = matches!(
            name,
            "page-height"
                | "page-width"
                | "left-margin"
                | "right-margin"
                | "top-margin"
                | "bottom-margin"
                | "system-distance"
                | "top-system-distance"
                | "staff-distance"
                | "measure-distance"
        );
        if measured {
            let Some(text) = node.first_child().filter(Node::is_text) else { continue };
            let raw = text.text().unwrap_or_default();
            let lead = raw.len() - raw.trim_start().len();
            let (offset, length) = (text.range().start + lead, raw.trim().len());
            let bytes = (u32::try_from(offset).expect("small"), u32::try_from(length).expect("small"));
            values.push((name.to_owned(), raw.trim().parse().expect("a number"), Some(bytes)));
        }
    }
    for node in document.descendants().filter(|node| node.has_tag_name("measure")) {
        // With parts within measures, one width holds for each of them.
        let parts = node.children().filter(|child| child.has_tag_name("part")).count().max(1);
        let width = node.attribute("width").map(|width| ("width".to_owned(), width.parse().expect("a number"), None));
        values.extend(width.into_iter().flat_map(|width| std::iter::repeat_n(width, parts)));
    }
    values.sort_by(|a, b| a.partial_cmp(b).expect("numbers"));
    values
}

/// The same values as the reader keeps them.
fn by_reader(score: &Score) -> Vec<Value> {
    fn put(values: &mut Vec<Value>, name: &str, stated: Option<Stated<Tenths>>) {
        values.extend(stated.map(|stated| (name.to_owned(), stated.value.0, Some((stated.at.offset, stated.at.length)))));
    }
    let mut values = Vec::new();
    let layout = &score.instructions;
    let pages = std::iter::once(&layout.page).chain(layout.prints.iter().filter_map(Print::page));
    for page in pages {
        put(&mut values, "page-height", page.height);
        put(&mut values, "page-width", page.width);
        for (_, margins) in &page.margins {
            put(&mut values, "left-margin", margins.left);
            put(&mut values, "right-margin", margins.right);
            put(&mut values, "top-margin", margins.top);
            put(&mut values, "bottom-margin", margins.bottom);
        }
    }
    for system in std::iter::once(layout.system).chain(layout.prints.iter().map(Print::system)) {
        put(&mut values, "left-margin", system.left);
        put(&mut values, "right-margin", system.right);
        put(&mut values, "system-distance", system.distance);
        put(&mut values, "top-system-distance", system.top_distance);
    }
    for staff in layout.staff_layouts.iter().chain(layout.prints.iter().flat_map(Print::staff_layouts)) {
        put(&mut values, "staff-distance", staff.distance);
    }
    for print in &layout.prints {
        put(&mut values, "measure-distance", print.measure_distance());
    }
    values.extend(layout.widths.iter().flatten().filter_map(|width| width.get()).map(|width| ("width".to_owned(), width.0, None)));
    values.sort_by(|a, b| a.partial_cmp(b).expect("numbers"));
    values
}

fn staff_height(document: &Document) -> Option<f64> {
    let scaling = document.descendants().find(|node| node.has_tag_name("scaling"))?;
    let number = |name| scaling.children().find(|node| node.has_tag_name(name))?.text()?.trim().parse::<f64>().ok();
    Some(number("millimeters")? / number("tenths")? * STAFF_TENTHS)
}

#[test]
fn layout_values_and_their_places_are_those_of_the_tree() {
    let mut paths = Vec::new();
    files(Path::new("fixtures"), &mut paths);
    let mut compared = 0;
    for path in paths {
        // The second opinion takes UTF-8 only.
        let Ok(text) = fs::read_to_string(&path) else { continue };
        let text = text.trim_start_matches('\u{feff}');
        let options = ParsingOptions { allow_dtd: true, nodes_limit: 4_000_000, ..ParsingOptions::default() };
        let Ok(document) = Document::parse_with_options(text, options) else { continue };
        let source = Source::open(&path).expect("it opens").remove(0);
        let Ok(score) = read(source.stream().expect("it opens")) else { continue };
        if !score.flaws.is_empty() {
            continue;
        }
        assert_eq!(by_reader(&score), by_tree(&document), "{}", path.display());
        let height = score.instructions.scale.map(|scale| scale.value.staff_height().0);
        assert_eq!(
            height.map(|height| (height * 1e6).round()),
            staff_height(&document).map(|height| (height * 1e6).round()),
            "{}",
            path.display()
        );
        compared += 1;
    }
    assert!(compared >= 50, "{compared} files compared");
}
