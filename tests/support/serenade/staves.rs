//! Who plays and sings on which staff, as written: names, clefs, transposition, two players on one staff.

use super::music::{self, Line, OCTET};
use super::themes::{BARS, PHRASE, SECTION};
use crate::support::plain::{gather_rests, staff_bars};
use crate::support::score::{Bar, BarLine, Clef, Direction, Event, Part, Says, Stem, Voice};

/// A pair of winds.
struct Wind {
    name: &'static str,
    /// What follows the name and number.
    pitched: &'static str,
    short: &'static str,
    sound: &'static str,
    clef: Clef,
    /// Diatonic and chromatic steps from sounding to written, and fifths that the written key has more.
    written: (i32, i32, i8),
}

/// The pairs of the octet, in the order of [`OCTET`].
const WINDS: [Wind; 4] = [
    Wind { name: "Oboe", pitched: "", short: "Ob.", sound: "wind.reed.oboe", clef: Clef::Treble, written: (0, 0, 0) },
    Wind {
        name: "Clarinet",
        pitched: " in B flat",
        short: "Cl.",
        sound: "wind.reed.clarinet.bflat",
        clef: Clef::Treble,
        written: (1, 2, 2),
    },
    Wind { name: "Horn", pitched: " in F", short: "Hn.", sound: "brass.french-horn", clef: Clef::Treble, written: (4, 7, 1) },
    Wind { name: "Bassoon", pitched: "", short: "Bn.", sound: "wind.reed.bassoon", clef: Clef::Bass, written: (0, 0, 0) },
];

/// The voices of the chorus.
const SINGERS: [(&str, &str, &str, Clef); 4] = [
    ("Soprano", "S.", "voice.soprano", Clef::Treble),
    ("Alto", "A.", "voice.alto", Clef::Treble),
    ("Tenor", "T.", "voice.tenor", Clef::TrebleDown),
    ("Bass", "B.", "voice.bass", Clef::Bass),
];
/// Places of players in [`OCTET`], first and second.
pub const OBOES: [usize; 2] = [0, 1];
/// See [`OBOES`].
pub const CLARINETS: [usize; 2] = [2, 3];
/// See [`OBOES`].
pub const HORNS: [usize; 2] = [4, 5];
/// See [`OBOES`].
pub const BASSOONS: [usize; 2] = [6, 7];
/// Places of voices in [`chorus`].
pub const SOPRANO: usize = 0;
/// See [`SOPRANO`].
pub const ALTO: usize = 1;
/// See [`SOPRANO`].
pub const TENOR: usize = 2;

impl Wind {
    fn part(&self, name: String, short: String, players: impl Iterator<Item = String>, bars: Vec<Bar>) -> Part {
        let (diatonic, chromatic, _) = self.written;
        Part {
            transpose: (chromatic != 0).then_some((-diatonic, -chromatic)),
            ..staff_part(name, short, players.map(|player| (player, self.sound)).collect(), self.clef, bars)
        }
    }

    fn written(&self, line: Line) -> Line {
        let (diatonic, chromatic, _) = self.written;
        transposed(line, diatonic, chromatic)
    }
}

/// One player of the octet, by place in [`OCTET`]; the staff is the part's only one.
pub fn wind(player: usize) -> Part {
    let (wind, number) = (&WINDS[player / 2], player % 2 + 1);
    let line = wind.written(music::wind(&OCTET[player]));
    let name = format!("{} {number}{}", wind.name, wind.pitched);
    let instrument = format!("{}{}", wind.name, wind.pitched);
    wind.part(name, format!("{} {number}", wind.short), std::iter::once(instrument), solo(&line, wind.written.2))
}

/// All parts of the score.
pub fn score_parts() -> Vec<Part> {
    let pair = |(index, wind): (usize, &Wind)| {
        let [one, two] = [0, 1].map(|player| wind.written(music::wind(&OCTET[index * 2 + player])));
        let bars = bars(wind.written.2, |index| shared_staff(&one[index], &two[index], index == 0 || solo_before(&one, &two, index)));
        let players = [1, 2].map(|number| format!("{}{} {number}", wind.name, wind.pitched));
        wind.part(format!("{}s 1.2{}", wind.name, wind.pitched), wind.short.to_owned(), players.into_iter(), bars)
    };
    let mut parts: Vec<Part> = WINDS.iter().enumerate().map(pair).collect();
    parts.extend(chorus());
    parts.push(harmonium());
    parts
}

/// The four voices, a part each.
pub fn chorus() -> [Part; 4] {
    let lines = music::chorus();
    [0, 1, 2, 3].map(|voice| {
        let (name, short, sound, clef) = SINGERS[voice];
        staff_part(name.to_owned(), short.to_owned(), vec![(name.to_owned(), sound)], clef, solo(&lines[voice], 0))
    })
}

/// The harmonium on its two staves.
pub fn harmonium() -> Part {
    let [right, left] = music::harmonium();
    let hand = |staff, events: &[Event]| Voice { staff, stems: None, events: events.to_vec() };
    let bars = bars(0, |index| vec![hand(0, &right[index]), hand(1, &left[index])]);
    let instruments = vec![("Harmonium".to_owned(), "keyboard.harmonium")];
    let mut harmonium = staff_part("Harmonium".to_owned(), "Harm.".to_owned(), instruments, Clef::Treble, bars);
    harmonium.clefs.push(Clef::Bass);
    harmonium
}

/// Gathers the bars in which nobody of a score has anything.
pub fn gather_together(parts: &mut [Part]) {
    let mut all = parts[0].clone();
    for part in &parts[1..] {
        for (bar, own) in all.bars.iter_mut().zip(&part.bars) {
            bar.voices.extend(own.voices.iter().cloned());
        }
    }
    gather_rests(&mut all);
    for part in parts {
        for (bar, of_all) in part.bars.iter_mut().zip(&all.bars) {
            bar.gathers = of_all.gathers;
        }
    }
}

fn staff_part(name: String, short: String, instruments: Vec<(String, &'static str)>, clef: Clef, bars: Vec<Bar>) -> Part {
    Part { name, short, instruments, transpose: None, clefs: vec![clef], staff_size: None, other_staves: Vec::new(), bars }
}

/// Bars of one line on one staff; the written key has `sharper` fifths more than the sounding one.
fn solo(line: &Line, sharper: i8) -> Vec<Bar> {
    bars(sharper, |index| vec![Voice { staff: 0, stems: None, events: line[index].clone() }])
}

/// The bars with numbers, keys, times and bar lines around what `voices` gives for each.
fn bars(sharper: i8, voices: impl Fn(usize) -> Vec<Voice>) -> Vec<Bar> {
    let section = PHRASE * SECTION;
    let mut bars = staff_bars((0..BARS).map(voices).collect());
    for (start, time) in [(0, (4, 4)), (section, (3, 4))] {
        bars[start].key = Some(music::fifths(start) + sharper);
        bars[start].time = Some(time);
    }
    bars[section - 1].right = Some(BarLine::Double);
    bars[BARS - 1].right = Some(BarLine::Final);
    bars
}

/// A line written higher than it sounds.
fn transposed(mut line: Line, diatonic: i32, chromatic: i32) -> Line {
    for head in line.iter_mut().flatten().flat_map(|event| &mut event.heads) {
        head.pitch = head.pitch.moved(diatonic, chromatic);
    }
    line
}

fn silent(events: &[Event]) -> bool {
    events.iter().all(|event| event.whole_bar)
}

/// Whether who plays has changed since the bar before, so that "1." or "2." must be said.
fn solo_before(one: &Line, two: &Line, index: usize) -> bool {
    let state = |index: usize| (silent(&one[index]), silent(&two[index]));
    state(index) != state(index - 1)
}

/// Two players on one staff: chords where they move together, two voices where they don't.
fn shared_staff(one: &[Event], two: &[Event], says_who: bool) -> Vec<Voice> {
    let alone = |events: &[Event], who: &str| {
        let mut events = events.to_vec();
        if says_who {
            let words = Says::Words(who.to_owned(), false);
            let first = events.iter_mut().find(|event| !event.is_rest()).expect("someone plays");
            first.directions.push(Direction { above: true, says: vec![words], tempo: None });
        }
        vec![Voice { staff: 0, stems: None, events }]
    };
    match (silent(one), silent(two)) {
        (true, true) => vec![Voice { staff: 0, stems: None, events: one.to_vec() }],
        (false, true) => alone(one, "1."),
        (true, false) => alone(two, "2."),
        (false, false) if together(one, two) => {
            let chords = one.iter().zip(two).map(|(upper, lower)| chord(upper, lower)).collect();
            vec![Voice { staff: 0, stems: None, events: chords }]
        }
        (false, false) => {
            let lower = two.iter().map(|event| Event { directions: Vec::new(), ..event.clone() }).collect();
            vec![
                Voice { staff: 0, stems: Some(Stem::Up), events: one.to_vec() },
                Voice { staff: 0, stems: Some(Stem::Down), events: lower },
            ]
        }
    }
}

fn together(one: &[Event], two: &[Event]) -> bool {
    let rhythm = |events: &[Event]| events.iter().map(|event| (event.ticks, event.is_rest())).collect::<Vec<_>>();
    rhythm(one) == rhythm(two)
}

fn chord(upper: &Event, lower: &Event) -> Event {
    let mut chord = upper.clone();
    for head in &lower.heads {
        match chord.heads.iter_mut().find(|own| own.pitch == head.pitch) {
            None => chord.heads.push(*head),
            Some(own) => {
                own.tie_on |= head.tie_on;
                own.tie_from |= head.tie_from;
            }
        }
    }
    chord.heads.sort_by_key(|head| std::cmp::Reverse(head.pitch.place));
    chord
}
