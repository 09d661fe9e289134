//! The rule fixtures in `fixtures/rules`: in step with their generator, and each rule with both verdicts.
//!
//! `STAVEGAUGE_WRITE=1 cargo test --test rule_fixtures` writes the files anew.

#![allow(clippy::expect_used, clippy::panic, reason = "a test says what it expects")]

mod support;

use std::collections::{BTreeMap, BTreeSet};
use support::score::QUARTER;
use support::{fixtures, in_step};

#[test]
fn committed_files_are_what_the_generator_writes() {
    in_step::hold(fixtures::FOLDER, &fixtures::files(), &[]);
}

#[test]
fn every_rule_is_broken_and_kept() {
    let mut verdicts: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
    let names = fixtures::all().into_iter().map(|fixture| (fixture.rule, fixture.name));
    for (rule, name) in names.chain(fixtures::sets().into_iter().map(|set| (set.rule, set.name))) {
        let (verdict, _) = name.split_once('-').expect("verdict and reason");
        verdicts.entry(rule).or_default().insert(verdict);
    }
    let both = BTreeSet::from(["breaks", "keeps"]);
    assert!(verdicts.values().all(|found| *found == both), "{verdicts:?}");
}

#[test]
fn every_voice_fills_its_bar() {
    for fixture in fixtures::all() {
        let Some(score) = &fixture.score else { continue };
        for part in &score.parts {
            assert_eq!(part.bars.len(), score.bar_count(), "{}: bars of {}", fixture.path(), part.name);
            let mut time = (4, 4);
            for bar in &part.bars {
                time = bar.time.unwrap_or(time);
                for voice in &bar.voices {
                    let ticks: u32 = voice.events.iter().map(|event| event.ticks).sum();
                    assert_eq!(ticks, QUARTER * 4 * time.0 / time.1, "{}: {}", fixture.path(), part.name);
                }
            }
        }
    }
}
