//! The list of rules, by family.

use super::Library;
use super::page::{Name, Page, Text};
use super::words::{DECIDE, sentence};
use crate::report::level_words;
use crate::rule::{Level, Rule};

/// How the levels are told, and what they are to the gate.
const LEVELS: &str = "The gravest that a rule can say: must change (error), should change (warning), query (note). A reader who is \
     only guessed never makes an error, and what the reckoning is not sure of is one level lower.";

/// Builds the page.
pub(super) fn page(library: &Library) -> Page {
    let by_harm = library.by_harm();
    let mut families: Vec<(&str, Vec<&Rule>)> = Vec::new();
    for rule in &by_harm {
        match families.iter_mut().find(|(family, _)| *family == rule.family) {
            Some((_, rules)) => rules.push(rule),
            None => families.push((&rule.family, vec![rule])),
        }
    }
    let mut page = Page::new(Name::Index, "The rule book");
    page.paragraph(format!("{} rules by family, in each what does most harm first. {LEVELS}", by_harm.len()));
    for (family, rules) in families {
        page.heading(sentence(family).trim_end_matches('.'));
        let row = |rule: &&Rule| {
            let level = gravest(rule).map(level_words).unwrap_or_default();
            vec![Text::link(&*rule.id, Name::Rule(rule.id.to_string())), Text::new(level), Text::new(&rule.title)]
        };
        page.table(["rule", "gravest", "what is wrong"], rules.iter().map(row).collect());
    }
    page.heading("By harm");
    let names = by_harm.iter().map(|rule| Text::link(&*rule.id, Name::Rule(rule.id.to_string())));
    page.paragraph(Text::new("Findings of one level are told in this order: ").and(Text::joined(names, ", ")).and("."));
    page.heading("More");
    page.points(vec![
        Text::new("One rule, with its reasons, limits, sources and examples: ").and(Text::code("stavegauge explain RULE")),
        Text::new("All readers and the staff heights they need: ").and(Text::see(Name::Readers)),
        Text::new("All papers: ").and(Text::see(Name::Papers)),
        Text::new("All values that a rule may read: ").and(Text::see(Name::Fields)),
    ]);
    page.paragraph(DECIDE);
    page
}

/// The gravest level that a rule gives.
pub(super) fn gravest(rule: &Rule) -> Option<Level> {
    rule.cases.iter().map(|case| case.level).max()
}
