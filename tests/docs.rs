//! The pages of the rule book in `docs/rules`: in step with the rules, whole, and saying who says what.
//!
//! What a page must hold is taken from the TOML of the rules, readers and papers, not from the library.

#![allow(clippy::expect_used, clippy::panic, reason = "a test says what it expects")]

#[path = "support/in_step.rs"]
mod in_step;
#[path = "support/rule_files.rs"]
mod rule_files;

use pulldown_cmark::{Event, Options, Parser, Tag};
use rule_files::{list, rule_files, text, told, toml_file};
use stavegauge::house::{House, LimitSetting, Named, RuleSetting};
use stavegauge::place::Place;
use stavegauge::report::explain::{Library, markdown};
use stavegauge::rule::subject::vocabulary;
use stavegauge::rule::{Examples, Rule, RuleBook};
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

const DOCS: &str = "docs/rules";

fn with_library<T>(what: impl FnOnce(&Library) -> T) -> T {
    let house = House::built_in().expect("the house loads");
    let roles: Vec<&str> = house.roles.names().collect();
    let vocabulary = vocabulary();
    let rules = RuleBook::built_in(&vocabulary, &roles, Examples::Read).unwrap_or_else(|error| panic!("{error}"));
    what(&Library { rules: &rules, house: &house, vocabulary: &vocabulary })
}

/// A committed page.
fn page(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(DOCS).join(name);
    fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// What a reader of a page sees, every piece of text parted from the next.
fn seen(markdown: &str) -> String {
    let mut seen = String::new();
    for event in Parser::new_ext(markdown, Options::ENABLE_TABLES) {
        match event {
            Event::Text(words) | Event::Code(words) => seen.push_str(&words),
            Event::End(_) => seen.push('\n'),
            _ => {}
        }
    }
    seen
}

/// Where the links of a page lead.
fn links(markdown: &str) -> BTreeSet<String> {
    let links = Parser::new_ext(markdown, Options::ENABLE_TABLES);
    links
        .filter_map(|event| if let Event::Start(Tag::Link { dest_url, .. }) = event { Some(dest_url.into_string()) } else { None })
        .collect()
}

#[test]
fn pages_are_in_step_with_the_rules() {
    let pages = with_library(|library| {
        let pages = library.pages().into_iter();
        pages.map(|page| (format!("{DOCS}/{}", page.name.file()), markdown(&page).into_bytes())).collect::<BTreeMap<_, _>>()
    });
    in_step::hold(DOCS, &pages, &[]);
}

#[test]
fn the_page_of_a_rule_tells_all_that_its_file_holds() {
    for (id, rule) in rule_files() {
        let seen = seen(&page(&format!("{id}.md")));
        for words in told(&rule) {
            assert!(seen.contains(&words), "docs/rules/{id}.md does not tell: {words}");
        }
        assert!(seen.trim_end().ends_with("The tool advises; the house and the librarian decide."), "{id}");
    }
}

/// What a rule lacks that no rule may lack.
fn lacks(rule: &Rule, docs: &Path) -> Vec<&'static str> {
    let blank = |text: &str| text.trim().is_empty();
    let unfounded = rule.sources.iter().any(|source| blank(&source.title) || blank(&source.says));
    let named = |title: &str| rule.sources.iter().filter(|source| source.title == title).count() == 1;
    let lacks = [
        (rule.limits.iter().any(|limit| !named(&limit.source)), "the source that a limit names, and its mark"),
        (rule.sources.is_empty(), "a source"),
        (unfounded, "the title of a source, or what it says"),
        (rule.limits.iter().any(|limit| blank(&limit.source) || blank(&limit.what)), "the source of a limit, or what it is"),
        (!rule.examples.iter().any(|example| example.breaks.is_some()), "an example that breaks it"),
        (!rule.examples.iter().any(|example| example.breaks.is_none()), "an example that keeps it"),
        (blank(&rule.title) || blank(&rule.why), "a title, or why it matters"),
        (!docs.join(format!("{}.md", rule.id)).is_file(), "a page in docs/rules"),
    ];
    lacks.into_iter().filter_map(|(lacks, what)| lacks.then_some(what)).collect()
}

#[test]
fn no_rule_is_without_a_source_an_example_each_way_and_a_page() {
    let docs = Path::new(env!("CARGO_MANIFEST_DIR")).join(DOCS);
    with_library(|library| {
        assert!(library.rules.rules().count() > 0);
        for rule in library.rules.rules() {
            assert_eq!(lacks(rule, &docs), [""; 0], "{}", rule.id);
        }
    });
}

/// A rule of a house, which has no source, nor what a limit is, nor a page among ours.
const HOUSE_RULE: &str = r#"
id = "many-pages"
aliases = ["long-copy"]
title = "A long copy"
family = "file"
harm = 95
about = "file"
why = "a *long* copy | is heavy"
[[case]]
level = "note"
when = "file.pages > limit.pages"
measured = "file.pages"
against = "limit.pages"
message = "{{ file.pages }} pages"
advice = "Bind it in two."
[limits.pages]
value = 30
what = " "
source = "an invented house, 4.2"
unit = "count"
[limits.pages.role]
"full-score" = 200
[[example]]
name = "a thick one"
breaks = "note"
values = { "file.pages" = 31 }
[[example]]
name = "the same for a conductor"
role = "full-score"
values = { "file.pages" = 31 }
[[example]]
name = "nobody knows where pages begin"
absent = ["file.pages"]
"#;

#[test]
fn what_a_rule_lacks_is_noticed() {
    let mut book = RuleBook::empty();
    book.add("house.toml", HOUSE_RULE, &vocabulary(), &["full-score"]).unwrap_or_else(|error| panic!("{error}"));
    let rule = book.find("many-pages").expect("added");
    assert_eq!(
        lacks(rule, Path::new(DOCS)),
        ["the source that a limit names, and its mark", "a source", "the source of a limit, or what it is", "a page in docs/rules"]
    );
}

#[test]
fn limits_are_those_in_force_for_the_reader_and_the_house() {
    let house = House::built_in().expect("the house loads");
    let vocabulary = vocabulary();
    let mut book = RuleBook::empty();
    book.add("house.toml", HOUSE_RULE, &vocabulary, &["full-score"]).unwrap_or_else(|error| panic!("{error}"));
    let told = |book: &RuleBook, role: Option<&str>| {
        let reader = role.map(|role| house.roles.get(role).expect("known"));
        let library = Library { rules: book, house: &house, vocabulary: &vocabulary };
        seen(&markdown(&library.rule(book.find("long-copy").expect("by its former name"), reader)))
    };
    let plain = told(&book, None);
    for words in [
        "limit.pages: 30\n",
        "Former names: long-copy.",
        "A *long* copy | is heavy.",
        "an invented house, 4.2",
        "full score 200",
        "file.pages absent",
    ] {
        assert!(plain.contains(words), "{words}: {plain}");
    }
    assert!(!plain.contains("Changed by"));
    assert!(told(&book, Some("full-score")).contains("limit.pages: 200\n"));
    assert!(told(&book, Some("harp-part")).contains("limit.pages: 30\n"));
    let named = |name: &str| Named { name: name.to_owned(), at: Place::default() };
    let limits = vec![LimitSetting { limit: named("pages"), reader: None, value: 24.5 }];
    book.follow(&RuleSetting { rule: named("many-pages"), level: None, reason: None, limits }, "our-house.toml").expect("there");
    let changed = told(&book, None);
    assert!(changed.contains("limit.pages: 24.5\n") && changed.contains("Changed by our-house.toml"), "{changed}");
}

#[test]
fn the_index_lists_every_rule_and_every_link_leads_somewhere() {
    let index = links(&page("README.md"));
    for (id, rule) in rule_files() {
        assert!(index.contains(&format!("{id}.md")), "{id}");
        assert!(seen(&page("README.md")).contains(text(&rule, "title")), "{id}");
    }
    let docs = Path::new(env!("CARGO_MANIFEST_DIR")).join(DOCS);
    let mut followed = 0;
    for entry in fs::read_dir(&docs).expect("committed").flatten() {
        let name = entry.file_name().to_string_lossy().into_owned();
        for link in links(&page(&name)) {
            assert!(docs.join(&link).is_file(), "{name} leads to {link}");
            followed += 1;
        }
    }
    assert!(followed > rule_files().len());
}

#[test]
fn the_mark_of_a_limit_is_that_of_its_source() {
    let house = House::built_in().expect("the house loads");
    let vocabulary = vocabulary();
    let told = |sources: &str| {
        let mut book = RuleBook::empty();
        let text = HOUSE_RULE.replacen("[[case]]", &format!("sources = [{sources}]\n[[case]]"), 1);
        book.add("house.toml", &text, &vocabulary, &["full-score"]).unwrap_or_else(|error| panic!("{error}"));
        let library = Library { rules: &book, house: &house, vocabulary: &vocabulary };
        seen(&markdown(&library.rule(book.find("many-pages").expect("added"), None)))
    };
    let source = |title: &str, mark: &str| format!("{{ title = \"{title}\", says = \"30 pages\", mark = \"{mark}\" }}, ");
    assert!(told(&source("an invented house", "S")).contains("Who says so: an invented house, 4.2 [S]\n"));
    // Two marks for one title, or a title that only begins like it: nobody knows which.
    let two = source("an invented house", "S") + &source("an invented house", "R");
    for sources in [&two, &source("an invented ho", "S"), &source("an invented house, 4.2, 7th edition", "R")] {
        assert!(told(sources).contains("Who says so: an invented house, 4.2.\n"), "{sources}");
    }
}

/// Every source in a data file that some entry names: `source = "..."` at any depth.
fn used_sources(value: &toml::Value, found: &mut BTreeSet<String>) {
    match value {
        toml::Value::Table(table) => {
            for (key, value) in table {
                match value.as_str().filter(|_| key.ends_with("source")) {
                    Some(name) => drop(found.insert(name.to_owned())),
                    None => used_sources(value, found),
                }
            }
        }
        toml::Value::Array(values) => values.iter().for_each(|value| used_sources(value, found)),
        _ => {}
    }
}

#[test]
fn readers_and_papers_are_all_there_with_who_says_so() {
    for (data, entries, name) in [("roles", "role", "readers.md"), ("papers", "paper", "papers.md")] {
        let file = toml_file(data);
        let seen = seen(&page(name));
        for entry in list(&file, entries) {
            assert!(seen.contains(&format!("{}\n", text(entry, "name"))), "{name}: {}", text(entry, "name"));
        }
        let mut used = BTreeSet::new();
        for entry in list(&file, entries) {
            used_sources(entry, &mut used);
        }
        assert!(!used.is_empty());
        for key in used {
            let source = file.get("source").and_then(|sources| sources.get(&key)).unwrap_or_else(|| panic!("{key}"));
            let words = format!("{}: {} [{}]", text(source, "title"), text(source, "says"), text(source, "mark"));
            assert!(seen.contains(&words), "{name} does not tell {key}: {words}");
        }
    }
    // One row of each, from rules/roles.toml and rules/papers.toml (ISO 216 in inches is arithmetic).
    let row = |name: &str, cells: &[&str]| seen(&page(name)).contains(&format!("{}\n", cells.join("\n")));
    assert!(row("papers.md", &["A4", "210 x 297", "8.27 x 11.69"]));
    assert!(row("papers.md", &["Letter", "215.9 x 279.4", "8.5 x 11"]));
    assert!(seen(&page("readers.md")).lines().any(|line| line == "study-score"));
}

#[test]
fn every_value_that_a_rule_may_read_is_told() {
    let seen = seen(&page("fields.md"));
    for entry in vocabulary().subjects() {
        assert!(seen.contains(entry.what), "{}", entry.name);
        for field in &entry.fields {
            assert!(seen.contains(&format!("{}.{}\n", entry.name, field.name)), "{}.{}", entry.name, field.name);
            assert!(seen.contains(field.what), "{}.{}", entry.name, field.name);
        }
    }
}
