//! The four files of the demo set: which staves, on which paper, cast off how.

use super::music::{self, Line, OCTET};
use super::themes::{BARS, PHRASE, SECTION};
use crate::support::cast::{PagePlan, SystemPlan, cast, even_lines};
use crate::support::engrave::engrave;
use crate::support::plain::{gather_rests, staff_bars};
use crate::support::score::{Bar, BarLine, Clef, Credit, Direction, Event, Group, Margins, Page, Part, Says, Score, Stem, Voice};

const TITLE: &str = "Serenade at Kettle Weir";
const COMPOSER: &str = "Orla Venncastle";
const RIGHTS: &str = "Copyright by Harrowmere Edition · H. E. 118";

/// Gaps of the full score in staff heights, before a page spreads them: a little more where families part.
const SCORE_GAPS: [f64; 9] = [1.6, 1.6, 1.65, 2.15, 2.0, 2.0, 2.0, 1.95, 1.55];
const SCORE_STAVES: f64 = 10.0;

/// The score as the engraver of a large desk copy left it: one system a page, held apart to fill it.
pub fn score_loose() -> Score {
    let page = Page::of(420.0, 297.0, Margins::of(24.0, 19.0));
    full_score(6.2, page, [28.0, 8.0], &Lines { count: 12, a_page: 1 })
}

/// The same music laid out well: two systems a page.
pub fn score() -> Score {
    let page = Page::of(420.0, 297.0, Margins::of(16.0, 11.0));
    full_score(4.6, page, [20.0, 7.0], &Lines { count: 8, a_page: 2 })
}

struct Lines {
    count: usize,
    a_page: usize,
}

/// The full score; `heads_mm` is the room for the title block and for the running heads.
fn full_score(staff_mm: f64, page: Page, heads_mm: [f64; 2], lines: &Lines) -> Score {
    let mut score = bare(staff_mm, page, score_parts());
    score.groups =
        vec![Group { first: 0, last: 3, name: "", symbol: "bracket" }, Group { first: 4, last: 7, name: "Chorus", symbol: "bracket" }];
    engrave(&mut score);
    let counts = even_lines(&score, lines.count);
    let usable = page.height - page.odd.top - page.odd.bottom;
    let inner: f64 = SCORE_GAPS.iter().sum();
    let plan: Vec<PagePlan> = counts
        .chunks(lines.a_page)
        .enumerate()
        .map(|(index, counts)| {
            let top_mm = heads_mm[index.min(1)];
            let systems = f64::from(u32::try_from(lines.a_page).expect("few"));
            let white = usable - top_mm - systems * SCORE_STAVES * staff_mm;
            let spread = white / (systems * inner + (systems - 1.0) * 2.5);
            let system = |(position, &bars): (usize, &usize)| SystemPlan {
                bars,
                above_mm: 2.5 * spread,
                indents_mm: (if index == 0 && position == 0 { 30.0 } else { 15.0 }, 0.0),
                gaps_mm: SCORE_GAPS.iter().map(|gap| gap * spread).collect(),
                ..SystemPlan::default()
            };
            PagePlan { top_mm, systems: counts.iter().enumerate().map(system).collect(), ..PagePlan::default() }
        })
        .collect();
    score.usual_gaps = Some([2.5 * staff_mm, heads_mm[1], 1.75 * staff_mm]);
    cast(&mut score, &plan);
    credits(&mut score, "", plan.len(), 1);
    score
}

/// First clarinet, on its own, as a player likes it.
pub fn clarinet_1() -> Score {
    let page = Page::of(250.0, 353.0, Margins::of(20.0, 24.0));
    let line = transposed(music::wind(&OCTET[music::CLARINET_1]), 1, 2);
    let mut part =
        clarinets("Clarinet 1 in B flat", "Cl. 1", vec![("Clarinet in B flat".to_owned(), "wind.reed.clarinet.bflat")], solo(&line, 2));
    gather_rests(&mut part);
    let mut score = bare(8.0, page, vec![part]);
    engrave(&mut score);
    let counts = even_lines(&score, 18);
    // a two-page part lies open: it begins on a left-hand page
    let plan = part_plan(&score, &[(&counts[..9], Fill::Page), (&counts[9..], Fill::Page)], 2);
    score.usual_gaps = Some([25.0, 8.0, 14.0]);
    cast(&mut score, &plan);
    credits(&mut score, "Clarinet 1 in B flat", plan.len(), 2);
    score
}

/// First horn, on its own, with faults a player would name.
pub fn horn_1() -> Score {
    let page = Page::of(210.0, 297.0, Margins::of(20.0, 18.0));
    let line = transposed(music::wind(&OCTET[music::HORN_1]), 4, 7);
    let part = horns("Horn 1 in F", "Hn. 1", vec![("Horn in F".to_owned(), "brass.french-horn")], solo(&line, 1));
    let mut score = bare(6.0, page, vec![part]);
    engrave(&mut score);
    let counts = even_lines(&score, 18);
    let plan = part_plan(&score, &[(&counts[..7], Fill::Page), (&counts[7..12], Fill::Gap(3.2)), (&counts[12..], Fill::Gap(5.0))], 1);
    score.usual_gaps = Some([20.0, 8.0, 12.0]);
    cast(&mut score, &plan);
    credits(&mut score, "Horn 1 in F", plan.len(), 1);
    score
}

/// How a page of a part is filled.
enum Fill {
    /// Gaps as large as fill the page.
    Page,
    /// Gaps of so many staff heights, whatever is left at the foot.
    Gap(f64),
}

fn part_plan(score: &Score, pages: &[(&[usize], Fill)], first_number: u32) -> Vec<PagePlan> {
    let page = score.page.expect("paper is stated");
    let staff_mm = score.staff_height();
    let plan = |(index, (counts, fill)): (usize, &(&[usize], Fill))| {
        let top_mm = if index == 0 { 27.0 } else { 8.0 };
        let systems = f64::from(u32::try_from(counts.len()).expect("few"));
        let usable = page.height - page.odd.top - page.odd.bottom - top_mm;
        let above_mm = match fill {
            Fill::Page => (usable - systems * staff_mm) / (systems - 1.0),
            Fill::Gap(heights) => heights * staff_mm,
        };
        let system = |(position, &bars): (usize, &usize)| SystemPlan {
            bars,
            above_mm,
            indents_mm: (if index == 0 && position == 0 { 12.0 } else { 0.0 }, 0.0),
            ..SystemPlan::default()
        };
        PagePlan {
            top_mm,
            systems: counts.iter().enumerate().map(system).collect(),
            number: (index == 0 && first_number != 1).then_some(first_number),
            ..PagePlan::default()
        }
    };
    pages.iter().enumerate().map(plan).collect()
}

fn bare(staff_mm: f64, page: Page, mut parts: Vec<Part>) -> Score {
    for part in &mut parts {
        part.bars[0].print = Some(crate::support::score::Print { numbering: Some("system"), ..Default::default() });
    }
    say_tempo_and_marks(&mut parts[0]);
    Score {
        staff_mm: Some(staff_mm),
        page: Some(page),
        promises_breaks: true,
        title: TITLE.to_owned(),
        composer: COMPOSER.to_owned(),
        rights: RIGHTS.to_owned(),
        parts,
        ..Score::default()
    }
}

/// Tempo and rehearsal marks stand above the topmost staff.
fn say_tempo_and_marks(part: &mut Part) {
    for (index, bar) in part.bars.iter_mut().enumerate() {
        let event = &mut bar.voices[0].events[0];
        let mark = music::mark(index).map(|mark| Direction { above: true, says: vec![Says::Rehearsal(mark)], tempo: None });
        let tempo = music::tempo(index).map(|(words, quarters)| Direction {
            above: true,
            says: vec![Says::Words(words.to_owned(), true), Says::Metronome(quarters)],
            tempo: Some(quarters),
        });
        event.directions.splice(0..0, mark.into_iter().chain(tempo));
    }
}

/// Title block, foot line, and on later pages name and page number.
fn credits(score: &mut Score, part: &str, pages: usize, first_number: u32) {
    let page = score.page.expect("paper is stated");
    let (left, right) = (page.odd.left, page.width - page.odd.right);
    let top = page.odd.top;
    let middle = page.width / 2.0;
    let credit = |page, kind, words: &str, (x_mm, justify): (f64, &'static str), y_mm, points| Credit {
        page,
        kind,
        words: words.to_owned(),
        x_mm,
        y_mm,
        justify,
        valign: "top",
        points,
    };
    let mut credits =
        vec![credit(1, "title", TITLE, (middle, "center"), top, 22.0), credit(1, "composer", COMPOSER, (right, "right"), top + 10.0, 11.0)];
    if !part.is_empty() {
        credits.push(credit(1, "part name", part, (left, "left"), top, 12.0));
    }
    let foot = Credit { valign: "bottom", ..credit(1, "rights", RIGHTS, (middle, "center"), page.height - page.odd.bottom + 7.0, 8.0) };
    credits.push(foot);
    for index in 0..u32::try_from(pages).expect("few pages") {
        let number = first_number + index;
        // the number stands at the outer edge, the name at the inner
        let (outer, inner) = if number % 2 == 1 { ((right, "right"), (left, "left")) } else { ((left, "left"), (right, "right")) };
        if index > 0 {
            let name = if part.is_empty() { TITLE } else { part };
            credits.push(credit(index + 1, "page number", &number.to_string(), outer, top, 11.0));
            credits.push(credit(index + 1, if part.is_empty() { "title" } else { "part name" }, name, inner, top, 9.0));
        } else if number > 1 {
            credits.push(credit(1, "page number", &number.to_string(), (left, "left"), top - 6.0, 11.0));
        }
    }
    score.credits = credits;
}

fn score_parts() -> Vec<Part> {
    let winds: Vec<Line> = OCTET.iter().map(music::wind).collect();
    let pair = |first: usize, diatonic, chromatic, sharper| {
        let one = transposed(winds[first].clone(), diatonic, chromatic);
        let two = transposed(winds[first + 1].clone(), diatonic, chromatic);
        bars(sharper, |index| shared_staff(&one[index], &two[index], index == 0 || solo_before(&one, &two, index)))
    };
    let two = |name: &str, sound| vec![(format!("{name} 1"), sound), (format!("{name} 2"), sound)];
    let mut parts = vec![
        staff_part("Oboes 1.2", "Ob.", two("Oboe", "wind.reed.oboe"), Clef::Treble, pair(0, 0, 0, 0)),
        clarinets("Clarinets 1.2 in B flat", "Cl.", two("Clarinet in B flat", "wind.reed.clarinet.bflat"), pair(2, 1, 2, 2)),
        horns("Horns 1.2 in F", "Hn.", two("Horn in F", "brass.french-horn"), pair(4, 4, 7, 1)),
        staff_part("Bassoons 1.2", "Bn.", two("Bassoon", "wind.reed.bassoon"), Clef::Bass, pair(6, 0, 0, 0)),
    ];
    let singers = [
        ("Soprano", "S.", "voice.soprano", Clef::Treble),
        ("Alto", "A.", "voice.alto", Clef::Treble),
        ("Tenor", "T.", "voice.tenor", Clef::TrebleDown),
        ("Bass", "B.", "voice.bass", Clef::Bass),
    ];
    for (line, (name, short, sound, clef)) in music::chorus().iter().zip(singers) {
        parts.push(staff_part(name, short, vec![(name.to_owned(), sound)], clef, solo(line, 0)));
    }
    let [right, left] = music::harmonium();
    let hand = |staff, events: &[Event]| Voice { staff, stems: None, events: events.to_vec() };
    let bars = bars(0, |index| vec![hand(0, &right[index]), hand(1, &left[index])]);
    let mut harmonium = staff_part("Harmonium", "Harm.", vec![("Harmonium".to_owned(), "keyboard.harmonium")], Clef::Treble, bars);
    harmonium.clefs.push(Clef::Bass);
    parts.push(harmonium);
    parts
}

fn staff_part(name: &str, short: &str, instruments: Vec<(String, &'static str)>, clef: Clef, bars: Vec<Bar>) -> Part {
    Part { name: name.to_owned(), short: short.to_owned(), instruments, transpose: None, clefs: vec![clef], staff_size: None, bars }
}

fn clarinets(name: &str, short: &str, instruments: Vec<(String, &'static str)>, bars: Vec<Bar>) -> Part {
    Part { transpose: Some((-1, -2)), ..staff_part(name, short, instruments, Clef::Treble, bars) }
}

fn horns(name: &str, short: &str, instruments: Vec<(String, &'static str)>, bars: Vec<Bar>) -> Part {
    Part { transpose: Some((-4, -7)), ..staff_part(name, short, instruments, Clef::Treble, bars) }
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
