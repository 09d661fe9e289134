//! What is right, in words: a report that only complains is soon not read.

use crate::delivery::CopyFact;
use crate::measured::{Measured, TextKind};
use crate::rule::Outcome;
use crate::turn::EASY;

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
    let has_lines = measured.systems_known && measured.systems().any(|system| !system.begins_movement);
    if has_lines && clean(&["no-bar-numbers"]) {
        good.push("a bar number at every system".to_owned());
    }
    if measured.pages_known && pages > 1 && clean(&["no-running-head"]) {
        good.push("every page says which it is".to_owned());
    }
    if measured.bars.iter().any(|bar| bar.gathered > 1) && clean(&["rests-not-gathered", "rests-across-mark"]) {
        good.push("bars of rest are gathered, and parted where a player starts to count".to_owned());
    }
    if measured.pages_known && pages > 1 && clean(&["margins-differ", "narrow-margin"]) {
        good.push("margins: the same throughout, and wide enough".to_owned());
    }
    let turns: Vec<f64> = measured.turns.iter().filter(|turn| turn.jump.is_none()).filter_map(|turn| turn.seconds.value()).collect();
    if !turns.is_empty() && clean(&["page-turn", "turn-in-repeat"]) {
        let easy = turns.iter().all(|seconds| *seconds >= EASY);
        good.push(format!("{}, {}", plural(turns.len(), "turn"), if easy { "all easy" } else { "each with time to turn" }));
    }
    let is_sung = measured.texts.iter().any(|text| text.kind == TextKind::Lyrics);
    if is_sung && clean(&["small-text"]) {
        good.push("the words that are sung are large enough".to_owned());
    }
    good
}

/// What can be said for a copy of a score.
pub fn good_in_set(fact: &CopyFact, outcome: &Outcome, enabled: &dyn Fn(&str) -> bool) -> Option<String> {
    const RULES: [&str; 2] = ["marks-differ", "bars-differ"];
    let clean = RULES.iter().all(|rule| enabled(rule)) && outcome.findings.iter().all(|finding| !RULES.contains(&&*finding.rule));
    let copy = !fact.is_score && fact.matched == Some(true);
    (copy && clean).then(|| "music, marks and bar numbers: as in the score".to_owned())
}

fn plural(number: usize, word: &str) -> String {
    if number == 1 { format!("1 {word}") } else { format!("{number} {word}s") }
}
