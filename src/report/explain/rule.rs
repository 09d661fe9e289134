//! The page of a rule: what, why, what it looks at, its cases, limits, sources, exemptions and examples.

use super::Library;
use super::index::gravest;
use super::page::{Block, Name, Page, Text};
use super::words::{DECIDE, MARKS, level, mark, number, sentence, source, value};
use crate::house::{Mark, NO_SOURCE, Role, RuleLevel};
use crate::rule::field::ROLE;
use crate::rule::subject::{Said, said};
use crate::rule::{Effect, Example, Kind, Level, Limit, Merge, Read, Reason, Rule};

/// Builds the page, with the numbers of one reader if there is one.
pub(super) fn page(library: &Library, rule: &Rule, reader: Option<&Role>) -> Page {
    let mut page = Page::new(Name::Rule(rule.id.to_string()), format!("{}: {}", rule.id, rule.title));
    if let Some(role) = reader {
        let turns = if rule.depends_on_role() { "" } else { " Nothing in this rule turns on the reader." };
        let with = format!("With the numbers for one reader: {} (", role.title);
        page.paragraph(Text::new(with).and(Text::code(&role.name)).and(").").and(turns));
    }
    page.paragraph(place(library, rule));
    page.heading("Why");
    page.paragraph(sentence(&rule.why));
    let reads = rule.reads(library.vocabulary);
    looks_at(library, rule, &reads, &mut page);
    cases(rule, &mut page);
    repairs(rule, &mut page);
    limits(library, rule, reader, &mut page);
    reader_values(&reads, reader, &mut page);
    leaves_alone(rule, &mut page);
    sources(rule, &mut page);
    page.heading("Examples");
    page.blocks.push(Block::Terms(rule.examples.iter().map(|example| self::example(library, rule, example)).collect()));
    page.paragraph(DECIDE);
    page
}

/// Where it stands among the others.
fn place(library: &Library, rule: &Rule) -> Text {
    let by_harm = library.by_harm();
    let at = by_harm.iter().position(|one| one.id == rule.id).unwrap_or_default();
    let link = |rule: &Rule| Text::link(&*rule.id, Name::Rule(rule.id.to_string()));
    let gravest = gravest(rule).map(|gravest| format!("Says at its gravest: {}. ", level(gravest))).unwrap_or_default();
    let mut text = Text::new(format!("Family: {}. {gravest}In the order of harm it comes", rule.family));
    let before = at.checked_sub(1).and_then(|before| by_harm.get(before));
    if let Some(before) = before {
        text = text.and(" after ").and(link(before));
    }
    if let Some(after) = by_harm.get(at + 1) {
        text = text.and(if before.is_some() { " and before " } else { " before " }).and(link(after));
    }
    text = text.and(".");
    if !rule.aliases.is_empty() {
        text = text.and(format!(" Former names: {}.", rule.aliases.join(", ")));
    }
    text = text.and(" It is written in ").and(Text::code(&rule.file)).and(".");
    if let Some(house) = &rule.house {
        let says = match house.level {
            Some(RuleLevel::Off) => "switches it off",
            Some(_) => "sets how grave it is",
            None => "speaks of it",
        };
        let why = house.reason.as_deref().map_or_else(|| ".".to_owned(), |reason| format!(": {}", sentence(reason)));
        text = text.and(" The house style ").and(Text::code(&house.by)).and(format!(" {says}{why}"));
    }
    text
}

fn looks_at(library: &Library, rule: &Rule, reads: &[Read], page: &mut Page) {
    page.heading("What it looks at");
    let what = library.vocabulary.subject(&rule.about).map(|entry| entry.what).unwrap_or_default();
    let merged = match rule.merge {
        Merge::None => "Each finding is told by itself.",
        Merge::Page => "What it finds on one page is told once, at the worst place.",
        Merge::Part => "What it finds in one part is told once, at the worst place.",
        Merge::File => "What it finds in one file is told once, at the worst place.",
    };
    page.paragraph(Text::code(&rule.about).and(format!(": {} {merged}", sentence(what))));
    let decide: Vec<&Read> = reads.iter().filter(|read| read.decides).collect();
    if decide.is_empty() {
        return;
    }
    let row = |read: &&Read| {
        let unit = read.field.unit.name().unwrap_or_else(|| read.field.kind.words());
        vec![Text::code(read.name()), Text::new(unit), Text::new(read.field.what)]
    };
    page.paragraph("What decides:");
    page.table(["value", "in", "what it is"], decide.iter().map(row).collect());
}

fn cases(rule: &Rule, page: &mut Page) {
    page.heading("When it speaks");
    let several = rule.cases.len() > 1;
    if several {
        page.paragraph("The first of these that holds gives the finding:");
    }
    for (place, case) in rule.cases.iter().enumerate() {
        let number = if several { format!("{}. ", place + 1) } else { String::new() };
        page.subheading(format!("{number}{}, when", level(case.level)));
        page.blocks.push(Block::Condition(case.when.clone()));
    }
    if rule.depends_on_role() && gravest(rule) > Some(Level::Note) {
        page.paragraph(format!(
            "Where the reader is only inferred from instruments and names, what turns on the reader counts as {} at most; where the \
             reader is assumed, as {}. Name the reader with --role to be sure.",
            level(Level::Warning),
            level(Level::Note)
        ));
    }
}

/// What is worked out and judged where it speaks.
fn repairs(rule: &Rule, page: &mut Page) {
    let Some((last, others)) = rule.mended_by.split_last() else { return };
    page.heading("What is tried to mend it");
    let others: Vec<&str> = others.iter().map(|repair| repair.words()).collect();
    let all = if others.is_empty() { last.words().to_owned() } else { format!("{}; {}", others.join("; "), last.words()) };
    page.paragraph(format!("{} What comes of it is measured and judged by the same rules, and told behind the advice.", sentence(&all)));
}

fn limits(library: &Library, rule: &Rule, reader: Option<&Role>, page: &mut Page) {
    page.heading("Limits in force");
    if rule.limits.is_empty() {
        page.paragraph("It has none of its own.");
        return;
    }
    page.blocks.push(Block::Terms(rule.limits.iter().map(|limit| self::limit(library, rule, limit, reader)).collect()));
}

fn limit(library: &Library, rule: &Rule, limit: &Limit, reader: Option<&Role>) -> (Text, Vec<Text>) {
    let in_force = limit.for_role(reader.map(|role| role.name.as_str()));
    let term = Text::code(format!("limit.{}", limit.name)).and(format!(": {}", number(in_force, limit.unit)));
    let mut about = vec![Text::new(sentence(&limit.what)), Text::new(limit_source(rule, limit))];
    if !limit.by_role.is_empty() {
        let named = |name: &str| library.house.roles.get(name).map_or(name, |role| role.title.as_str()).to_owned();
        let each = limit.by_role.iter().map(|(name, one)| format!("{} {}", named(name), number(*one, limit.unit)));
        let each: Vec<String> = each.collect();
        about.push(Text::new(format!("For single readers: {}. For all others {}.", each.join(", "), number(limit.value, limit.unit))));
    }
    if let Some(by) = &limit.changed_by {
        about.push(Text::new(format!("Changed by {by}; the source named here is that of the number it had before.")));
    }
    (term, about)
}

/// Who says what a limit is, with the mark that the rule gives to this source.
fn limit_source(rule: &Rule, limit: &Limit) -> String {
    let says = limit.source.trim().trim_end_matches('.');
    let named = |title: &str| says.strip_prefix(title).is_some_and(|rest| rest.is_empty() || rest.starts_with([',', ':', ';']));
    let mut marks: Vec<Mark> = rule.sources.iter().filter(|source| named(&source.title)).map(|source| source.mark).collect();
    marks.extend(named(NO_SOURCE).then_some(Mark::C));
    marks.dedup();
    match marks.as_slice() {
        [only] => format!("Who says so: {says} [{}]", mark(*only)),
        _ => format!("Who says so: {says}."),
    }
}

/// What it reads of the reader: the numbers, where the reader is known.
fn reader_values(reads: &[Read], reader: Option<&Role>, page: &mut Page) {
    // Texts that are only told stand in the message already.
    let matters = |read: &&Read| read.subject == ROLE && (read.decides || matches!(read.field.kind, Kind::Number | Kind::Numbers));
    let of_reader: Vec<&Read> = reads.iter().filter(matters).collect();
    if of_reader.is_empty() {
        return;
    }
    page.heading("What it takes from the reader");
    let Some(role) = reader else {
        let row = |read: &&Read| vec![Text::code(read.name()), Text::new(read.field.what)];
        page.table(["value", "what it is"], of_reader.iter().map(row).collect());
        page.paragraph(Text::new("What they are for each reader, and who says so: ").and(Text::see(Name::Readers)));
        return;
    };
    let said = said(role);
    let told = said.iter().filter(|one| of_reader.iter().any(|read| read.field.name == one.field.name));
    page.blocks.push(Block::Terms(told.map(reader_value).collect()));
}

/// A value of a reader and who says so.
pub(super) fn reader_value(said: &Said) -> (Text, Vec<Text>) {
    let field = &said.field;
    let told = value(&said.value, field.unit).unwrap_or_else(|| "nobody says; what reads it does not apply".to_owned());
    let mut about = vec![Text::new(field.what)];
    about.extend(said.by.iter().map(|by| Text::new("Who says so: ").and(source(by))));
    (Text::code(format!("role.{}", field.name)).and(format!(": {told}")), about)
}

fn leaves_alone(rule: &Rule, page: &mut Page) {
    if rule.exemptions.is_empty() && rule.reasons.is_empty() {
        return;
    }
    page.heading("What it leaves alone");
    page.points(rule.exemptions.iter().map(|words| Text::new(sentence(words))).collect());
    if rule.reasons.is_empty() {
        return;
    }
    page.paragraph("Reasons that silence a finding, or make it one level lower:");
    let row = |reason: &Reason| {
        let effect = match reason.effect {
            Effect::Silent => "silent",
            Effect::Softer => "softer",
        };
        vec![Text::new(effect), Text::new(reason.says.text()), Text::code(&reason.when)]
    };
    page.table(["effect", "reason", "when"], rule.reasons.iter().map(row).collect());
}

fn sources(rule: &Rule, page: &mut Page) {
    page.heading("Sources");
    page.points(rule.sources.iter().map(source).collect());
    page.paragraph(MARKS);
}

fn example(library: &Library, rule: &Rule, example: &Example) -> (Text, Vec<Text>) {
    let what = if example.breaks.is_some() { "Breaks it" } else { "Keeps it" };
    let role = example.role.as_deref();
    let reader = role.map(|name| library.house.roles.get(name).map_or(name, |role| role.title.as_str()));
    let by = reader.map(|reader| format!("Read as {reader}. ")).unwrap_or_default();
    let said = library.rules.said_of(rule, example);
    let mut about = vec![Text::new(match (example.breaks, &said) {
        (Some(breaks), Some((message, _))) => format!("{by}It says {}: \u{201c}{message}\u{201d}", level(breaks)),
        _ => format!("{by}It says nothing."),
    })];
    about.extend(said.filter(|(_, advice)| !advice.is_empty()).map(|(_, advice)| Text::new(format!("To do: {advice}"))));
    let value = |(name, value): &(String, String)| Text::code(format!("{name} = {value}"));
    let absent = example.absent.iter().map(|name| Text::code(name).and(" absent"));
    about.push(Text::new("Values: ").and(Text::joined(example.values.iter().map(value).chain(absent), ", ")));
    (Text::new(format!("{what}: {}", example.name)), about)
}
