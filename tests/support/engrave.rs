//! What an engraver adds to bare notes: accidentals, stems, beams. Plain rules of common practice.

use super::score::{Bar, Clef, Event, Part, QUARTER, Score, Stem, Value, Voice};
use std::collections::HashMap;

/// Fills in accidentals, stems and beams of every part.
pub fn engrave(score: &mut Score) {
    score.parts.iter_mut().for_each(engrave_part);
}

fn engrave_part(part: &mut Part) {
    let mut fifths = 0;
    for bar in &mut part.bars {
        fifths = bar.key.unwrap_or(fifths);
        accidentals(bar, fifths);
        for voice in &mut bar.voices {
            beams(voice);
            stems(voice, part.clefs[voice.staff]);
        }
    }
}

/// The alteration a key signature gives to a step (0 is C).
pub fn alter_in_key(step: i32, fifths: i8) -> i32 {
    let sharps = [3, 0, 4, 1, 5, 2, 6]; // F C G D A E B
    let order = sharps.iter().position(|&sharp| sharp == step.rem_euclid(7)).expect("one of seven steps");
    let order = i8::try_from(order).expect("below seven");
    i32::from(fifths > order) - i32::from(-fifths > 6 - order)
}

/// An accidental is printed where a head differs from what the key and the bar so far would say; a tied head needs none.
fn accidentals(bar: &mut Bar, fifths: i8) {
    let mut said: HashMap<(usize, i32), i32> = HashMap::new();
    let mut order: Vec<(u32, usize, usize)> = Vec::new();
    for (number, voice) in bar.voices.iter().enumerate() {
        let mut onset = 0;
        for (position, event) in voice.events.iter().enumerate() {
            order.push((onset, number, position));
            onset += event.ticks;
        }
    }
    order.sort_unstable();
    for (_, number, position) in order {
        let voice = &mut bar.voices[number];
        for head in &mut voice.events[position].heads {
            let place = (voice.staff, head.pitch.place);
            let holds = said.get(&place).copied().unwrap_or_else(|| alter_in_key(head.pitch.place, fifths));
            head.accidental = holds != head.pitch.alter && !head.tie_from;
            if !head.tie_from {
                said.insert(place, head.pitch.alter);
            }
        }
    }
}

/// Eighths and shorter notes within one quarter are beamed together.
fn beams(voice: &mut Voice) {
    let mut onset = 0;
    let mut groups: Vec<(u32, Vec<usize>)> = Vec::new();
    for (position, event) in voice.events.iter_mut().enumerate() {
        event.beams.clear();
        if event.value <= Value::Eighth && !event.is_rest() {
            let beat = onset / QUARTER;
            match groups.last_mut() {
                Some((last, members)) if *last == beat && members.last() == Some(&(position.wrapping_sub(1))) => members.push(position),
                _ => groups.push((beat, vec![position])),
            }
        }
        onset += event.ticks;
    }
    for (_, members) in groups.iter().filter(|(_, members)| members.len() > 1) {
        for (rank, &position) in members.iter().enumerate() {
            let outer = edge(rank > 0, rank + 1 < members.len());
            voice.events[position].beams.push(outer);
            if voice.events[position].value == Value::Sixteenth {
                let short = |rank: Option<usize>| {
                    rank.and_then(|rank| members.get(rank)).is_some_and(|&other| voice.events[other].value == Value::Sixteenth)
                };
                let (before, after) = (short(rank.checked_sub(1)), short(Some(rank + 1)));
                let inner = match (before, after) {
                    (false, false) if rank > 0 => "backward hook",
                    (false, false) => "forward hook",
                    _ => edge(before, after),
                };
                voice.events[position].beams.push(inner);
            }
        }
    }
}

fn edge(before: bool, after: bool) -> &'static str {
    match (before, after) {
        (false, _) => "begin",
        (true, true) => "continue",
        (true, false) => "end",
    }
}

/// Stems point to the middle line unless two voices share the staff; a beam has one direction.
fn stems(voice: &mut Voice, clef: Clef) {
    let middle = clef.top_line() - 4;
    let mut start = 0;
    while start < voice.events.len() {
        let mut end = start + 1;
        while end < voice.events.len() && matches!(voice.events[end].beams.first(), Some(&("continue" | "end"))) {
            end += 1;
        }
        let group = &mut voice.events[start..end];
        let places: Vec<i32> = group.iter().flat_map(|event| &event.heads).map(|head| head.pitch.place - middle).collect();
        let farthest = places.iter().copied().max_by_key(|place| place.abs()).unwrap_or(0);
        let stem = voice.stems.unwrap_or(if farthest < 0 { Stem::Up } else { Stem::Down });
        for event in group {
            event.stem = has_stem(event).then_some(stem);
        }
        start = end;
    }
}

fn has_stem(event: &Event) -> bool {
    !event.is_rest() && event.value != Value::Whole
}
