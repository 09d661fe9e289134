//! Rule files: what is wrong with one is pointed at in its text; what loads judges a small score within bounds.

#![no_main]

use libfuzzer_sys::fuzz_target;
use stavegauge::house::Basis;
use stavegauge::measured::{Measured, measure};
use stavegauge::musicxml::read;
use stavegauge::rule::RuleBook;
use stavegauge::rule::subject::{Reader, judge};
use stavegauge::score::Score;
use stavegauge_fuzz::{HOUSE, SMALL_SCORE, VOCABULARY, role_names, sources};
use std::sync::LazyLock;

/// The most bytes of a message, and of what reports say where one cannot be written.
const MOST_WRITTEN: usize = 4_100;

static SMALL: LazyLock<(Score, Measured)> = LazyLock::new(|| {
    let source = sources(SMALL_SCORE.as_bytes()).remove(0);
    let score = read(source.stream().expect("it opens")).expect("it is a score");
    let measured = measure(&score, &score.instructions, &HOUSE);
    (score, measured)
});

fuzz_target!(|text: &str| {
    let mut rules = RuleBook::empty();
    if let Err(error) = rules.add("rule.toml", text, &VOCABULARY, &role_names(&HOUSE)) {
        assert!(!error.what.is_empty());
        if let Some(span) = error.span {
            assert!(text.get(span.clone()).is_some(), "{span:?} is no place of the text: {}", error.what);
            let (line, column) = error.at.expect("a span has a line");
            let lines: Vec<&str> = text.split('\n').collect();
            assert!(column >= 1 && column <= lines[line - 1].chars().count() + 1, "{line}:{column}");
        }
        assert_eq!(rules.rules().count(), 0, "what is wrong is not taken in");
        return;
    }
    let (score, measured) = &*SMALL;
    let mut findings = Vec::new();
    for (name, basis) in [(None, Basis::Unknown), (Some("full-score"), Basis::Stated), (Some("orchestral-wind-part"), Basis::Inferred)] {
        let role = name.map(|name| HOUSE.roles.get(name).expect("it is known"));
        let reader = Reader { role, basis, light: None };
        let outcome = judge(&rules, &score.flaws, measured, &reader, &|_| true);
        for finding in &outcome.findings {
            assert!(finding.message.len() <= MOST_WRITTEN && finding.advice.len() <= MOST_WRITTEN, "a message is bounded");
        }
        findings.push(outcome.findings);
    }
    let again = judge(&rules, &score.flaws, measured, &Reader { role: None, basis: Basis::Unknown, light: None }, &|_| true);
    assert_eq!(format!("{:?}", findings[0]), format!("{:?}", again.findings), "judged twice, found the same");
});
