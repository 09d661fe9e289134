//! What is right, in words: a report that only complains is soon not read.

use crate::measured::Measured;
use crate::rule::Outcome;

/// What can be said for a document, as far as the rules that bear on it were judged at all.
pub fn good(measured: &Measured, outcome: &Outcome, enabled: &dyn Fn(&str) -> bool) -> Vec<String> {
    let mut good = Vec::new();
    let found = |rules: &[&str]| outcome.findings.iter().any(|finding| rules.contains(&&*finding.rule));
    let unjudged = |rules: &[&str]| outcome.not_judged.iter().any(|one| rules.contains(&&*one.rule));
    let clean = |rules: &[&str]| rules.iter().all(|rule| enabled(rule)) && !found(rules) && !unjudged(rules);
    let pages = measured.pages.len();
    if measured.pages_known
        && pages > 0
        && clean(&["past-top-margin", "past-bottom-margin", "past-side-margin", "tight-staff-gap", "tight-system-gap"])
    {
        good.push(format!("{}: all music stands within the margins", plural(pages, "page")));
    }
    if measured.pages_known && pages > 1 && clean(&["unfilled-page", "stretched-page", "one-more-system"]) {
        good.push(format!("{}: filled, or short with a reason", plural(pages, "page")));
    }
    if let (Some(height), true) = (measured.staff_height.value(), clean(&["small-staff"])) {
        let height = (height.0 * 100.0).round() / 100.0;
        good.push(format!("staves of {height} mm: large enough for the reader"));
    }
    let systems = measured.systems().count();
    if systems > 1 && clean(&["loose-system"]) {
        good.push(format!("{}: evenly spaced against each other", plural(systems, "system")));
    }
    good
}

fn plural(number: usize, word: &str) -> String {
    if number == 1 { format!("1 {word}") } else { format!("{number} {word}s") }
}
