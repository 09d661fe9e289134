//! The house style in force: what it sets, every limit and where it comes from.

use super::Library;
use super::page::{Name, Page, Text};
use super::words::{DECIDE, level, number, sentence};
use crate::house::{Binding, FirstPage, GateOf, House, Light, Mark, Role, RuleLevel, Units, WordsOf};
use crate::rule::subject::said;
use crate::rule::{Limit, Rule};

/// Builds the page; `file` is the style's file, if it has one.
pub(super) fn page(library: &Library, file: Option<&str>) -> Page {
    let house = library.house;
    let mut page = Page::new(Name::House, format!("House style: {}", house.name));
    match file {
        Some(file) => {
            page.paragraph(Text::new("Read from ").and(Text::code(file)).and(". What it does not say is as it comes with the program."));
        }
        None => page.paragraph("The style that comes with the program: no file of a house says otherwise."),
    }
    settings(house, &mut page);
    rules(library, &mut page);
    page.heading("Limits in force");
    page.paragraph("Numbers for single readers stand after the number for all others.");
    let limits = library.rules.rules().flat_map(|rule| rule.limits.iter().map(move |limit| (rule, limit)));
    page.table(["limit", "in force", "comes from"], limits.map(|(rule, limit)| limit_row(rule, limit)).collect());
    readers(house, &mut page);
    page.paragraph(DECIDE);
    page
}

/// What the house sets for all copies.
fn settings(house: &House, page: &mut Page) {
    let mut rows: Vec<Vec<Text>> = Vec::new();
    let mut put = |key: &str, value: String| rows.push(vec![Text::code(key), Text::new(value)]);
    if let Some(light) = house.light {
        put("light", if light == Light::Lit { "lit" } else { "dim" }.to_owned());
    }
    if let Some(share) = house.printed_at {
        put("printed-at", format!("{} %", share * 100.0));
    }
    if let Some(paper) = &house.printed_on {
        put("printed-on", paper.clone());
    }
    if let Some(side) = house.first_page {
        put("first-page", if side == FirstPage::Recto { "recto" } else { "verso" }.to_owned());
    }
    put("copies-are", house.copies_are.name().to_owned());
    if let Some(binding) = house.binding {
        let edge = match binding {
            Binding::Inner => "inner",
            Binding::Left => "left",
            Binding::Top => "top",
        };
        put("binding", edge.to_owned());
    }
    if !house.wanted_papers.is_empty() {
        put("papers", house.wanted_papers.join(", "));
    }
    put("last-line", house.last_line.name().to_owned());
    if let Some(words) = house.words {
        put("words", if words == WordsOf::Uk { "uk" } else { "us" }.to_owned());
    }
    put("units", if house.units == Units::Mm { "mm" } else { "in" }.to_owned());
    let gate = match house.gate {
        Some(GateOf::Error) | None => "error",
        Some(GateOf::Warning) => "warning",
        Some(GateOf::Note) => "note",
        Some(GateOf::Never) => "never",
    };
    put("gate", gate.to_owned());
    if !house.must_judge.is_empty() {
        put("must-judge", house.must_judge.iter().map(|named| named.name.as_str()).collect::<Vec<_>>().join(", "));
    }
    for (what, number) in [("copy", house.copies.len()), ("movement", house.movements.len()), ("stet", house.stets.len())] {
        if number > 0 {
            put(what, number.to_string());
        }
    }
    page.heading("What it sets");
    page.table(["key", "value"], rows);
}

/// Rules that the house sees otherwise, or brings itself.
fn rules(library: &Library, page: &mut Page) {
    let row = |rule: &Rule| {
        let house = rule.house.as_ref();
        let own = !rule.file.starts_with("rules/");
        let says = match house.and_then(|house| house.level) {
            Some(RuleLevel::Off) => "off".to_owned(),
            Some(_) => level(rule.gravest()),
            None if own => format!("its own: {}", level(rule.gravest())),
            None => house.map(|_| level(rule.gravest()))?,
        };
        let why = house.and_then(|house| house.reason.as_deref()).map(sentence).unwrap_or_default();
        let by = house.map_or_else(|| rule.file.clone(), |house| house.by.clone());
        Some(vec![Text::link(&*rule.id, Name::Rule(rule.id.to_string())), Text::new(says), Text::new(why), Text::code(by)])
    };
    let rows: Vec<Vec<Text>> = library.rules.rules().filter_map(row).collect();
    if !rows.is_empty() {
        page.heading("Rules it sees otherwise");
        page.table(["rule", "at its gravest", "why", "said in"], rows);
    }
}

fn limit_row(rule: &Rule, limit: &Limit) -> Vec<Text> {
    let mut values = vec![number(limit.value, limit.unit)];
    values.extend(limit.by_role.iter().map(|(role, one)| format!("{role} {}", number(*one, limit.unit))));
    let from = limit.changed_by.as_ref().map_or_else(|| Text::new(limit.source.trim()), Text::code);
    vec![Text::code(format!("{}.{}", rule.id, limit.name)), Text::new(values.join("; ")), from]
}

/// Numbers of readers that the house changes.
fn readers(house: &House, page: &mut Page) {
    let of = |role: &Role| -> Vec<Vec<Text>> {
        let changed = said(role).into_iter().filter(|one| one.by.iter().any(|source| source.mark == Mark::H));
        let row = |one: crate::rule::subject::Said| {
            let value = super::words::value(&one.value, one.field.unit).unwrap_or_default();
            let source = one.by.iter().map(|by| format!("{}: {}", by.title, by.says)).collect::<Vec<_>>().join("; ");
            vec![Text::code(&role.name), Text::code(one.field.name), Text::new(value), Text::new(source)]
        };
        changed.map(row).collect()
    };
    let rows: Vec<Vec<Text>> = house.roles.all().iter().flat_map(of).collect();
    if !rows.is_empty() {
        page.heading("Readers it sees otherwise");
        page.table(["reader", "value", "in force", "comes from"], rows);
    }
    page.paragraph(Text::new("All that is known of the readers: ").and(Text::see(Name::Readers)));
}
