//! The music: two sections of twelve four-bar phrases, a handful of motifs that wander through the players.
//!
//! A motif is written in scale steps from the root of its bar's chord, so the same motif fits every bar; it is
//! also inverted, doubled in thirds and augmented. Pitches are sounding; parts that transpose are written later.

use super::themes::{BARS, E, H, HARMONY, LOUDNESS, PHRASE, Q, QUICK, S, SECTION, SLOW, Step, W, dot, n, r};
use super::words;
use crate::support::engrave::alter_in_key;
use crate::support::score::{Direction, Edge, Event, Lyric, Pitch, QUARTER, Says};

/// One who plays: where the instrument feels at home, which chord tone it holds, and what it does in each phrase.
///
/// `m` melody, `d` a third below it, `i` inverted, `u` augmented, `c` answer, `h` held, `p` pulses, `b` bass, `.` silent.
pub struct Player {
    /// Diatonic place of the middle of its register (C4 is 28).
    home: i32,
    /// Scale step above the root that it holds.
    holds: i32,
    /// One letter a phrase, section by section.
    does: [&'static str; 2],
}

/// The octet: oboes, clarinets, horns, bassoons.
pub const OCTET: [Player; 8] = [
    Player { home: 37, holds: 4, does: ["..mmc..mm.um", "md..mm.cm.mm"] },
    Player { home: 34, holds: 2, does: ["..d.c..d..hd", "d...d..c..dd"] },
    Player { home: 33, holds: 4, does: ["mm.ccm.idmcd", ".mm.i.mm.udd"] },
    Player { home: 29, holds: 2, does: ["d..hd..hhdhh", ".dh.h.dh.hhh"] },
    Player { home: 29, holds: 4, does: ["hh.h.h.hh.hh", "pp..hh.pp.hp"] },
    Player { home: 26, holds: 2, does: ["h..h.h.h..hh", "pp..h..pp.hp"] },
    Player { home: 23, holds: 4, does: [".bcb.bmb.cbb", "bbc.bb.bbmbb"] },
    Player { home: 19, holds: 0, does: [".b.b..bb..bb", "b.b.b..b.bbb"] },
];

/// The right hand plays chords where the harmonium plays at all; the left hand the bass.
const HARMONIUM: [&str; 2] = [".h.hh.hh.hhh", ".h.h.hh.h.hh"];
/// `s` all four voices, `t` sopranos and altos.
const CHORUS: [&str; 2] = ["....ssssttss", "..ss.st.ssss"];
/// Soprano, alto, tenor, bass: home, and the chord tones it moves through in a bar.
const VOICES: [(i32, [i32; 3]); 4] = [(34, [2, 4, 2]), (31, [0, 2, 0]), (26, [4, 4, 2]), (21, [0, 0, -3])];

/// One bar of one line.
pub type Line = Vec<Vec<Event>>;

/// The line of one wind player.
pub fn wind(player: &Player) -> Line {
    let mut line: Line = (0..BARS).map(|bar| wind_bar(player, bar)).collect();
    tie_held(&mut line, player.does);
    line_dynamics(&mut line, player.does, false);
    line
}

/// Right and left hand of the harmonium.
pub fn harmonium() -> [Line; 2] {
    let mut right: Line = (0..BARS)
        .map(|bar| {
            if letter(HARMONIUM, bar) == '.' {
                return vec![Event::bar_rest(bar_ticks(bar))];
            }
            let chord = |value, dotted| {
                let low = place(bar, 0, 30);
                let heads: Vec<Pitch> = [4, 2, 0].iter().map(|step| pitch(bar, low + step)).collect();
                Event::note(value, dotted, &heads)
            };
            match (is_quick(bar), bar % PHRASE) {
                (true, _) => vec![chord(H, true)],
                (false, 3) => vec![chord(W, false)],
                (false, _) => vec![chord(H, false), chord(H, false)],
            }
        })
        .collect();
    let left = Player { home: 20, holds: 0, does: [".b.bb.bb.bbb", ".b.b.bb.b.bb"] };
    let left = (0..BARS).map(|bar| wind_bar(&left, bar)).collect();
    line_dynamics(&mut right, HARMONIUM, false);
    [right, left]
}

/// The four voices of the chorus.
pub fn chorus() -> [Line; 4] {
    [0, 1, 2, 3].map(|voice| {
        let mut line: Line = (0..BARS).map(|bar| sung_bar(voice, bar)).collect();
        let does = if voice < 2 { CHORUS } else { ["....ssss..ss", "..ss.s..ssss"] };
        line_dynamics(&mut line, does, true);
        line
    })
}

/// Whether the bar belongs to the second section.
pub fn is_quick(bar: usize) -> bool {
    bar >= PHRASE * SECTION
}

/// Length of a bar in ticks.
pub fn bar_ticks(bar: usize) -> u32 {
    if is_quick(bar) { QUARTER * 3 } else { QUARTER * 4 }
}

/// Sounding key, in fifths.
pub fn fifths(bar: usize) -> i8 {
    if is_quick(bar) { -2 } else { -1 }
}

/// Rehearsal mark at a bar: every second phrase but the first.
pub fn mark(bar: usize) -> Option<String> {
    let phrases = PHRASE * 2;
    let letter = |index: usize| char::from(b'A' + u8::try_from(index).expect("few marks")).to_string();
    (bar > 0 && bar.is_multiple_of(phrases)).then(|| letter(bar / phrases - 1))
}

/// Tempo words and quarters a minute at a bar.
pub fn tempo(bar: usize) -> Option<(&'static str, u32)> {
    match bar {
        0 => Some(("Andante con moto", 76)),
        bar if bar == PHRASE * SECTION => Some(("Allegretto", 112)),
        _ => None,
    }
}

fn phrase(bar: usize) -> usize {
    bar / PHRASE
}

fn letter(does: [&str; 2], bar: usize) -> char {
    let phrase = phrase(bar);
    does[phrase / SECTION].chars().nth(phrase % SECTION).expect("a letter a phrase")
}

fn is_last(bar: usize) -> bool {
    bar + 1 == BARS
}

/// The place of a chord's step nearest to `home`.
fn place(bar: usize, step: i32, home: i32) -> i32 {
    let tonic = if is_quick(bar) { 6 } else { 3 }; // B flat, F
    let (root, _) = HARMONY[phrase(bar)][bar % PHRASE];
    let place = tonic + root + step;
    place + 7 * (home - place + 3).div_euclid(7)
}

/// The pitch of a place in the key and chord of the bar.
fn pitch(bar: usize, place: i32) -> Pitch {
    let tonic = if is_quick(bar) { 6 } else { 3 };
    let (_, raised) = HARMONY[phrase(bar)][bar % PHRASE];
    let raise = i32::from(raised.is_some_and(|step| (place - tonic - step).rem_euclid(7) == 0));
    Pitch { place, alter: alter_in_key(place, fifths(bar)) + raise }
}

/// A motif in one bar, in the octave that brings its middle nearest to `home`.
fn realise(bar: usize, motif: &[Step], home: i32) -> Vec<Event> {
    let steps: Vec<i32> = motif.iter().filter_map(|step| step.3).collect();
    let low = steps.iter().min().copied().unwrap_or(0);
    let high = steps.iter().max().copied().unwrap_or(0);
    let root = place(bar, i32::midpoint(low, high), home) - i32::midpoint(low, high);
    let mut events: Vec<Event> = motif
        .iter()
        .map(|(value, dotted, _, step)| match step {
            None => Event::rest(*value, *dotted),
            Some(step) => Event::note(*value, *dotted, &[pitch(bar, root + step)]),
        })
        .collect();
    let triplets: Vec<usize> = (0..motif.len()).filter(|&index| motif[index].2).collect();
    for (rank, &index) in triplets.iter().enumerate() {
        events[index].ticks = QUARTER / 3;
        events[index].triplet = Some([Edge::Start, Edge::Inner, Edge::Stop][rank % 3]);
    }
    slur(&mut events);
    events
}

/// A slur over the first run of notes, if it has at least three.
fn slur(events: &mut [Event]) {
    let first = events.iter().position(|event| !event.is_rest()).unwrap_or(0);
    let length = events[first..].iter().take_while(|event| !event.is_rest()).count();
    if length >= 3 {
        events[first].slurs.push(Edge::Start);
        events[first + length - 1].slurs.push(Edge::Stop);
    }
}

/// The motif of the phrase's melody in a bar; phrases end on a long note.
fn melody(bar: usize) -> Vec<Step> {
    let turn = phrase(bar) + if bar % PHRASE == 1 { 2 } else { 0 };
    match (is_quick(bar), bar % PHRASE) {
        (false, 3) => vec![dot(H, 0), r(Q)],
        (true, 3) => vec![n(H, 0), r(Q)],
        (false, _) => SLOW[turn % SLOW.len()].to_vec(),
        (true, _) => QUICK[turn % QUICK.len()].to_vec(),
    }
}

fn shifted(motif: &[Step], step: impl Fn(i32) -> i32) -> Vec<Step> {
    motif.iter().map(|&(value, dotted, triplet, at)| (value, dotted, triplet, at.map(&step))).collect()
}

/// One bar of a motif in values twice as long: the first half in even bars, the second in odd ones.
fn augmented(bar: usize) -> Vec<Step> {
    let motif = if is_quick(bar) { QUICK[0] } else { SLOW[phrase(bar) % 4] };
    let doubled = motif.iter().map(|&(value, dotted, _, step)| {
        let value = match value {
            S => E,
            E => Q,
            Q => H,
            H | W => W,
        };
        (value, dotted, false, step)
    });
    let mut halves = [Vec::new(), Vec::new()];
    let mut onset = 0;
    for step in doubled {
        halves[usize::from(onset >= bar_ticks(bar))].push(step);
        onset += step.0.ticks() + if step.1 { step.0.ticks() / 2 } else { 0 };
    }
    std::mem::take(&mut halves[bar % 2])
}

fn answer(bar: usize) -> Vec<Step> {
    match (is_quick(bar), bar % 2) {
        (false, 0) => vec![r(H), n(E, 4), n(E, 3), n(E, 2), n(E, 1)],
        (false, _) => vec![dot(Q, 0), n(E, 1), n(E, 2), n(E, 3), n(Q, 2)],
        (true, 0) => vec![r(Q), n(E, 0), n(E, 1), n(E, 2), n(E, 4)],
        (true, _) => vec![n(H, 2), r(Q)],
    }
}

fn bass(bar: usize) -> Vec<Step> {
    match (is_quick(bar), bar % 2) {
        (false, 0) => vec![n(H, 0), n(H, -3)],
        (false, _) => vec![n(Q, 0), n(Q, 2), n(Q, 4), n(Q, 2)],
        (true, 0) => vec![dot(H, 0)],
        (true, _) => vec![n(Q, 0), n(Q, 2), n(Q, 4)],
    }
}

fn pulses(bar: usize, holds: i32) -> Vec<Step> {
    let beats = if is_quick(bar) { 2 } else { 3 };
    [r(Q)].into_iter().chain((0..beats).map(|_| n(Q, holds))).collect()
}

fn wind_bar(player: &Player, bar: usize) -> Vec<Event> {
    let does = letter(player.does, bar);
    if does == '.' {
        return vec![Event::bar_rest(bar_ticks(bar))];
    }
    let held = if is_quick(bar) { dot(H, player.holds) } else { n(W, player.holds) };
    if is_last(bar) {
        let mut events = realise(bar, &[dot(H, player.holds)], player.home);
        events[0].marks.push("fermata");
        return events;
    }
    let motif = match does {
        'm' => melody(bar),
        'd' => shifted(&melody(bar), |step| step - 2),
        'i' => shifted(&melody(bar), |step| 4 - step),
        'u' => augmented(bar),
        'c' => answer(bar),
        'b' => bass(bar),
        'p' => pulses(bar, player.holds),
        'h' if bar % PHRASE == 3 => melody(bar).iter().map(|&(v, d, t, step)| (v, d, t, step.map(|_| player.holds))).collect(),
        _ => vec![held],
    };
    let mut events = realise(bar, &motif, player.home);
    if matches!(does, 'p' | 'b') {
        for event in &mut events {
            event.slurs.clear();
            if event.value == Q && !event.is_rest() {
                event.marks.push(if does == 'p' { "staccato" } else { "tenuto" });
            }
        }
    }
    events
}

/// A held note stays where it is, tied, if the next chord of the phrase has it too.
fn tie_held(line: &mut Line, does: [&str; 2]) {
    for bar in 1..BARS {
        if letter(does, bar) != 'h' || bar % PHRASE == 0 {
            continue;
        }
        let (before, now) = line.split_at_mut(bar);
        let (Some(from), Some(to)) = (before.last_mut().and_then(|bar| bar.last_mut()), now.first_mut().and_then(|bar| bar.first_mut()))
        else {
            continue;
        };
        if let ([from], [to]) = (from.heads.as_mut_slice(), to.heads.as_mut_slice()) {
            if is_chord_tone(bar, from.pitch.place) {
                to.pitch = pitch(bar, from.pitch.place);
            }
            let same = from.pitch == to.pitch;
            from.tie_on = same;
            to.tie_from = same;
        }
    }
}

fn is_chord_tone(bar: usize, at: i32) -> bool {
    [0, 2, 4].iter().any(|&step| place(bar, step, at) == at)
}

/// A dynamic mark at each entry and change, a hairpin where the next phrase is louder.
fn line_dynamics(line: &mut Line, does: [&str; 2], above: bool) {
    let order = ["p", "mp", "mf", "f"];
    let rank = |phrase: usize| order.iter().position(|mark| *mark == LOUDNESS[phrase]).expect("a known mark");
    let mut printed = None;
    for start in (0..BARS).step_by(PHRASE) {
        let phrase = phrase(start);
        if letter(does, start) == '.' {
            printed = None;
            continue;
        }
        if printed != Some(LOUDNESS[phrase]) {
            let entry = line[start].iter_mut().find(|event| !event.is_rest()).expect("someone who plays has a note");
            entry.directions.push(Direction { above, says: vec![Says::Dynamic(LOUDNESS[phrase])], tempo: None });
        }
        printed = Some(LOUDNESS[phrase]);
        let next = start + PHRASE;
        let grows = next < BARS && letter(does, next) != '.' && rank(phrase + 1) > rank(phrase);
        let bar = &mut line[start + 2];
        let first = bar.iter().position(|event| !event.is_rest());
        if let (true, Some(first)) = (grows, first.filter(|first| first + 1 < bar.len())) {
            let wedge = |kind| Direction { above, says: vec![Says::Wedge(kind)], tempo: None };
            bar[first].directions.push(wedge("crescendo"));
            bar.last_mut().expect("not empty").directions.push(wedge("stop"));
        }
    }
}

/// One bar of one voice: three or four syllables, the last of a phrase on a long note.
fn sung_bar(voice: usize, bar: usize) -> Vec<Event> {
    let sings = match letter(CHORUS, bar) {
        's' => true,
        't' => voice < 2,
        _ => false,
    };
    if !sings {
        return vec![Event::bar_rest(bar_ticks(bar))];
    }
    let values: Vec<Step> = match (is_quick(bar), bar % PHRASE) {
        (false, 0) => vec![n(H, 0), n(Q, 1), n(Q, 2)],
        (false, 1) => vec![n(Q, 0), n(Q, 1), n(H, 2)],
        (false, 2) => vec![dot(Q, 0), n(E, 1), n(H, 2)],
        (true, 0 | 2) => vec![n(H, 0), n(Q, 1)],
        (true, 1) => vec![n(Q, 0), n(Q, 1), n(Q, 2)],
        (true, _) if is_last(bar) => vec![dot(H, 0)],
        (true, _) => vec![n(H, 0), r(Q)],
        (false, _) => vec![dot(H, 0), r(Q)],
    };
    let (home, tones) = VOICES[voice];
    let syllables = sung_syllables(bar);
    let mut events = Vec::new();
    for (value, dotted, _, step) in values {
        let Some(index) = step.and_then(|step| usize::try_from(step).ok()) else {
            events.push(Event::rest(value, dotted));
            continue;
        };
        let tone = tones[(index + bar) % tones.len()];
        let mut event = Event::note(value, dotted, &[pitch(bar, place(bar, tone, home))]);
        event.lyric = Some(syllables[index].clone());
        if is_last(bar) {
            event.marks.push("fermata");
        }
        events.push(event);
    }
    events
}

/// The syllables of a bar: its share of the line that this phrase sings.
fn sung_syllables(bar: usize) -> Vec<Lyric> {
    let first = if is_quick(bar) { SECTION } else { 0 };
    let sung = |phrase: usize| letter(CHORUS, phrase * PHRASE) != '.';
    let number = (first..phrase(bar)).filter(|&phrase| sung(phrase)).count();
    let line = words::line(is_quick(bar), number);
    let shares: [usize; PHRASE] = if is_quick(bar) { [2, 3, 2, 1] } else { [3, 3, 3, 1] };
    let before: usize = shares[..bar % PHRASE].iter().sum();
    let after = before + shares[bar % PHRASE];
    line[before..after].to_vec()
}
