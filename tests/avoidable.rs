//! What a system would be with a bar or two moved over its break, against the same music with the break where it would be.

#![allow(clippy::expect_used, clippy::panic, reason = "a test says what it expects")]

mod support;

use proptest::prelude::*;
use stavegauge::measured::{Measured, Remedy};
use stavegauge::room::across::Move;
use support::engine::Engine;
use support::musicxml::write;
use support::plain::{B4, Sheet};
use support::score::{Event, Pitch, Value};

/// A part: the bars of each line, what each bar is full of, and the keys that lines begin with.
#[derive(Debug, Clone)]
struct Piece {
    lines: Vec<usize>,
    values: Vec<Value>,
    keys: Vec<Option<i8>>,
}

fn piece() -> impl Strategy<Value = Piece> {
    let value = prop::sample::select(vec![Value::Half, Value::Quarter, Value::Eighth, Value::Sixteenth]);
    let key = prop::option::weighted(0.3, prop::sample::select(vec![-4_i8, 3, 6]));
    (prop::collection::vec(2..8_usize, 5..9), prop::collection::vec(value, 64), prop::collection::vec(key, 8))
        .prop_map(|(lines, values, keys)| Piece { lines, values, keys })
}

impl Piece {
    /// The text with so many bars in each line; keys stay at the bars where they are.
    fn text(&self, lines: &[usize]) -> String {
        let mut sheet = Sheet::oboe(6.0, B4, 15.0).page(lines.len(), 18.0);
        for (system, bars) in sheet.pages[0].systems.iter_mut().zip(lines) {
            system.bars = *bars;
        }
        let mut begins = 0;
        let keys: Vec<(usize, Option<i8>)> = self
            .lines
            .iter()
            .zip(&self.keys)
            .map(|(bars, key)| {
                begins += bars;
                (begins - bars, *key)
            })
            .collect();
        let mut score = sheet.score_with(|score| {
            let own = &mut score.parts[0].bars;
            for (bar, value) in own.iter_mut().zip(&self.values) {
                let times = Value::Whole.ticks() / value.ticks();
                let event = |index: u32| Event::note(*value, false, &[Pitch { place: 33 + [0, 1, 2, 1][index as usize % 4], alter: 0 }]);
                bar.voices[0].events = (0..times).map(event).collect();
            }
            for (bar, key) in keys.into_iter().skip(1).filter(|(_, key)| key.is_some()) {
                own[bar].key = key;
            }
        });
        // Where the first note stands tells how wide the beginning of its line is: there is nothing to tell it once its bar is moved.
        score.parts[0].bars.iter_mut().flat_map(|bar| &mut bar.voices).flat_map(|voice| &mut voice.events).for_each(|event| event.x = None);
        write(&score)
    }

    /// The text once bars were moved, and the line that is not the one that was asked.
    fn moved(&self, line: usize, remedy: &Remedy) -> (String, usize) {
        let [first, last] = remedy.bars.clone().map(|bar| bar.parse::<usize>().expect("a number"));
        let bars = last + 1 - first;
        let (other, gives) = match remedy.go {
            Move::ToNext => (line + 1, true),
            Move::ToPrevious => (line - 1, true),
            Move::FromNext => (line + 1, false),
            Move::FromPrevious => (line - 1, false),
        };
        let mut lines = self.lines.clone();
        let (from, to) = if gives { (line, other) } else { (other, line) };
        lines[from] -= bars;
        lines[to] += bars;
        (self.text(&lines), other)
    }
}

fn shares(measured: &Measured) -> Vec<f64> {
    measured.systems().map(|system| system.spacing.as_ref().expect("its room is known").of_natural).collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// Source: the definition. What a move is said to do is what is measured when it is done.
    #[test]
    fn a_move_does_what_it_is_said_to_do(piece in piece()) {
        let engine = Engine::new();
        let measured = engine.measure_text(&piece.text(&piece.lines));
        for (line, system) in measured.systems().enumerate() {
            let Ok(spacing) = &system.spacing else { continue };
            let Some(remedy) = &spacing.remedy else { continue };
            let (text, other) = piece.moved(line, remedy);
            // The beginning of the lower line is taken as it is, with its key.
            if piece.keys[line.max(other)].is_some() {
                continue;
            }
            let then = shares(&engine.measure_text(&text));
            let near = |one: f64, wanted: f64| (one - wanted).abs() < 1e-6;
            prop_assert!(near(then[line], remedy.then[0]) && near(then[other], remedy.then[1]), "line {line}, {remedy:?}: {then:?}");
        }
    }
}
