//! Files cut short and bytes changed: refused, found fault with, or the same; never a panic.

#![allow(clippy::expect_used, clippy::panic, reason = "a test says what it expects")]

mod support;

use proptest::prelude::*;
use stavegauge::audit::mending::Repairs;
use stavegauge::audit::{self, Bar};
use stavegauge::measured::Printing;
use stavegauge::musicxml::Source;
use std::sync::LazyLock;
use support::engine::Engine;
use support::musicxml::write;
use support::plain::{B5, Sheet};

static ENGINE: LazyLock<Engine> = LazyLock::new(Engine::new);
/// Two winds, two pages: every kind of layout element occurs.
static TEXT: LazyLock<String> = LazyLock::new(|| write(&Sheet::winds(2, 6.0, B5, 13.0).page(5, 18.0).page(2, 18.0).score()));

/// Rules that the audit of some bytes finds broken.
fn rules(bytes: &[u8]) -> Vec<String> {
    let bar = Bar {
        house: &ENGINE.house,
        rules: &ENGINE.rules,
        stated_role: Some("chamber-score"),
        printing: &Printing::AsIs,
        repairs: Repairs::Always,
        draws: true,
        cores_to_spare: true,
        enabled: &|_| true,
        below: &|path| path.to_owned(),
    };
    let documents = audit::documents(Source::spool("bytes", bytes), "bytes", &bar, false);
    Engine::found(&documents).into_iter().map(|(rule, ..)| rule).collect()
}

#[test]
fn a_file_cut_before_its_last_bracket_is_refused() {
    let bytes = TEXT.as_bytes();
    let end = bytes.iter().rposition(|byte| *byte == b'>').expect("it has one");
    for cut in (0..end).step_by(97).chain(end - 40..end) {
        assert_eq!(rules(&bytes[..cut]), ["damaged-file"], "cut at {cut}");
    }
    assert_eq!(rules(&bytes[..=end]), Vec::<String>::new());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(600))]

    #[test]
    fn a_byte_changed_never_panics(at in 0..TEXT.len(), byte: u8) {
        let mut bytes = TEXT.as_bytes().to_vec();
        bytes[at] = byte;
        rules(&bytes);
    }

    #[test]
    fn a_number_changed_never_panics(at in 0..400_usize, number in "-?[0-9]{0,12}(\\.[0-9]{0,6})?|1e308|NaN|inf| ") {
        // The text between the tags that holds the n-th number is replaced.
        let numbers: Vec<usize> = TEXT.match_indices('>').map(|(at, _)| at + 1).filter(|at| TEXT.as_bytes().get(*at).is_some_and(u8::is_ascii_digit)).collect();
        let from = numbers[at * numbers.len() / 400];
        let to = from + TEXT[from..].find('<').expect("a tag follows");
        rules(format!("{}{number}{}", &TEXT[..from], &TEXT[to..]).as_bytes());
    }
}
