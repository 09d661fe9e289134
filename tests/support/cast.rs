//! Casting off by hand: which bars stand in which system and page, and where.
//!
//! The spacing law is a plain one of our own: a table of steps by note value, room for syllables and
//! accidentals, the same factor for all of a line. It is no engraver's and not the auditor's; it only has to
//! look natural and to fill the line exactly.

use super::score::{Bar, Part, Print, QUARTER, Score};
use std::collections::BTreeMap;
use std::ops::Range;

/// Steps by note value, tenths: ticks of the step, room after it.
const STEPS: [(u32, f64); 9] = [
    (QUARTER / 4, 17.0),
    (QUARTER / 3, 20.0),
    (QUARTER / 2, 24.0),
    (QUARTER * 3 / 4, 29.0),
    (QUARTER, 34.0),
    (QUARTER * 3 / 2, 42.0),
    (QUARTER * 2, 50.0),
    (QUARTER * 3, 62.0),
    (QUARTER * 4, 74.0),
];
/// From a bar line to the first note, and from the end of the last step to the bar line, tenths.
const PADS: (f64, f64) = (13.0, 6.0);
/// A bar without a note in any part, and one that gathers several, tenths.
const EMPTY: f64 = 70.0;
const GATHERED: f64 = 130.0;

/// One page.
#[derive(Debug, Clone, Default)]
pub struct PagePlan {
    /// From the top margin to the first system, mm.
    pub top_mm: f64,
    /// Its systems from the top down.
    pub systems: Vec<SystemPlan>,
    /// A page number stated at its first bar.
    pub number: Option<u32>,
    /// Blank pages announced before it.
    pub blanks_before: Option<u32>,
    /// Paper and margins of this page alone.
    pub page: Option<super::score::Page>,
}

/// One system.
#[derive(Debug, Clone, Default)]
pub struct SystemPlan {
    /// How many bars it holds.
    pub bars: usize,
    /// White above it, mm; not used for the first of a page.
    pub above_mm: f64,
    /// Indent of its left and right ends, mm.
    pub indents_mm: (f64, f64),
    /// White between neighbouring printed staves, mm, from the top down.
    pub gaps_mm: Vec<f64>,
    /// Staves of the score (0 is the topmost) that are hidden here.
    pub hidden: Vec<usize>,
    /// Whether hidden staves leave their room (cutaway); their gaps are then in `gaps_mm` too.
    pub cutaway: bool,
    /// Left at its own width instead of filling the line.
    pub ragged: bool,
}

/// Writes the plan into the score: prints, widths, places of notes. The plan must use up every bar.
pub fn cast(score: &mut Score, pages: &[PagePlan]) {
    let planned: usize = pages.iter().flat_map(|page| &page.systems).map(|system| system.bars).sum();
    assert_eq!(planned, score.bar_count(), "the plan must use up every bar");
    let mut first = 0;
    let mut number = 0;
    let mut hidden = Vec::new();
    for (index, page) in pages.iter().enumerate() {
        number = page.number.unwrap_or(number + 1 + page.blanks_before.unwrap_or(0));
        let sheet = page.page.or(score.page).expect("a plan needs a paper");
        let margins = sheet.margins(number);
        for (position, system) in page.systems.iter().enumerate() {
            let bars = first..first + system.bars;
            let mut print = Print {
                new_page: index > 0 && position == 0,
                new_system: position > 0,
                system_margins: Some(system.indents_mm),
                ..Print::default()
            };
            if position == 0 {
                print.page_number = page.number.map(|number| number.to_string());
                print.blank_pages = page.blanks_before;
                print.page = page.page.map(|page| (page, number));
                print.top_system_mm = Some(page.top_mm);
            } else {
                print.system_mm = Some(system.above_mm);
            }
            stack(score, first, bars.end, &print, system, &hidden);
            hidden.clone_from(&system.hidden);
            let width_mm = sheet.width - margins.left - margins.right - system.indents_mm.0 - system.indents_mm.1;
            let line = (!system.ragged).then_some(width_mm * 40.0 / score.staff_height());
            space(score, first, bars.end, line);
            first = bars.end;
        }
    }
}

/// Vertical: prints, staff distances, hidden staves, tops for the heights of notes.
fn stack(score: &mut Score, first: usize, end: usize, print: &Print, system: &SystemPlan, hidden_before: &[usize]) {
    let height = score.staff_height();
    let mut staff_of_score = 0;
    let mut gaps = system.gaps_mm.iter();
    let mut bottom: Option<f64> = None;
    for (index, part) in score.parts.iter_mut().enumerate() {
        let mut own = if index == 0 {
            print.clone()
        } else {
            let breaks = Print { new_page: print.new_page, new_system: print.new_system, ..Print::default() };
            Print { page_number: print.page_number.clone(), blank_pages: print.blank_pages, ..breaks }
        };
        let mut tops = Vec::new();
        for staff in 0..part.clefs.len() {
            let is_hidden = system.hidden.contains(&staff_of_score);
            if is_hidden != hidden_before.contains(&staff_of_score) {
                part.bars[first].shown.push((staff, !is_hidden, is_hidden && system.cutaway));
            }
            let takes_room = !is_hidden || system.cutaway;
            let top = match bottom {
                _ if !takes_room => None,
                None => Some(0.0),
                Some(bottom) => {
                    let gap = *gaps.next().expect("a gap for every pair of staves");
                    own.staves_mm.push((staff, gap));
                    Some(bottom + gap)
                }
            };
            tops.push(top);
            bottom = top.map_or(bottom, |top| Some(top + height * part.size_of(staff)));
            staff_of_score += 1;
        }
        own.numbering = part.bars[first].print.as_ref().and_then(|print| print.numbering);
        part.bars[first].print = Some(own);
        for bar in &mut part.bars[first..end] {
            bar.tops_mm.clone_from(&tops);
        }
    }
    assert_eq!(gaps.next(), None, "more gaps than pairs of staves");
}

/// Horizontal: widths of bars and places of notes in one system, stretched to `line` tenths if given.
fn space(score: &mut Score, first: usize, end: usize, line: Option<f64>) {
    let mut rooms: Vec<Room> = (first..end).map(|position| room(&score.parts, position, position == first)).collect();
    let fixed: f64 = rooms.iter().map(|room| room.head).sum();
    let free: f64 = rooms.iter().map(|room| room.body).sum();
    let factor = line.map_or(1.15, |line| (line - fixed) / free);
    let mut at = 0.0;
    let mut written = 0.0;
    for (position, room) in (first..end).zip(&mut rooms) {
        at += room.head + room.body * factor;
        let width = hundredth(at) - written; // what rounding leaves over goes to the next bar
        written = hundredth(at);
        for part in &mut score.parts {
            let bar = &mut part.bars[position];
            bar.width = Some(width);
            for voice in &mut bar.voices {
                let mut onset = 0;
                for event in &mut voice.events {
                    event.x = room.places.get(&onset).filter(|_| !event.whole_bar).map(|place| room.head + place * factor);
                    onset += event.ticks;
                }
            }
        }
    }
}

fn hundredth(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}

/// What one bar wants: clef, key and time; the rest; where in the rest each onset stands.
struct Room {
    head: f64,
    body: f64,
    places: BTreeMap<u32, f64>,
}

fn room(parts: &[Part], position: usize, opens_system: bool) -> Room {
    let head = parts.iter().map(|part| head(part, position, opens_system)).fold(0.0, f64::max);
    let bars: Vec<&Bar> = parts.iter().map(|part| &part.bars[position]).collect();
    if bars.iter().all(|bar| bar.is_empty()) {
        let gathered = bars.iter().any(|bar| bar.gathers.is_some());
        let inside = parts.iter().all(|part| inside_gathered(part, position));
        let body = if gathered { GATHERED } else { EMPTY };
        return Room { head, body: if inside { 0.0 } else { body }, places: BTreeMap::new() };
    }
    let mut steps = steps(&bars);
    syllables(&bars, &mut steps);
    let mut at = PADS.0;
    let mut places = BTreeMap::new();
    for (onset, step) in steps {
        places.insert(onset, at);
        at += step;
    }
    Room { head, body: at + PADS.1, places }
}

/// Whether the bar lies inside a multi-bar rest that began earlier: it takes no room of its own.
fn inside_gathered(part: &Part, position: usize) -> bool {
    let opened = (0..position).rev().find_map(|earlier| part.bars[earlier].gathers.map(|bars| (earlier, bars)));
    opened.is_some_and(|(earlier, bars)| position < earlier + usize::try_from(bars).expect("fits"))
}

/// Room for clef, key and time at the left of a bar.
fn head(part: &Part, position: usize, opens_system: bool) -> f64 {
    let bar = &part.bars[position];
    let key = part.bars[..=position].iter().rev().find_map(|bar| bar.key).unwrap_or(0);
    let clef = if opens_system { 36.0 } else { 0.0 };
    let signs = if opens_system || bar.key.is_some() { f64::from(key.unsigned_abs()) * 10.0 + 4.0 } else { 0.0 };
    clef + signs + if bar.time.is_some() { 24.0 } else { 0.0 }
}

/// Onsets of all parts, each with the room up to the next: that of the gap, and of accidentals at the next.
fn steps(bars: &[&Bar]) -> BTreeMap<u32, f64> {
    let mut onsets: BTreeMap<u32, bool> = BTreeMap::new();
    let mut end = 0;
    for voice in bars.iter().flat_map(|bar| &bar.voices) {
        let mut onset = 0;
        for event in &voice.events {
            if !event.whole_bar {
                *onsets.entry(onset).or_default() |= event.heads.iter().any(|head| head.accidental);
            }
            onset += event.ticks;
        }
        end = end.max(onset);
    }
    let nexts: Vec<(u32, bool)> = onsets.iter().skip(1).map(|(onset, accidental)| (*onset, *accidental)).chain([(end, false)]).collect();
    let widths =
        onsets.keys().zip(nexts).map(|(onset, (next, accidental))| (*onset, step(next - onset) + if accidental { 9.0 } else { 0.0 }));
    widths.collect()
}

fn step(ticks: u32) -> f64 {
    let last = STEPS[STEPS.len() - 1].1;
    let above = STEPS.iter().position(|(value, _)| *value >= ticks);
    match above {
        None => last,
        Some(0) => STEPS[0].1,
        Some(index) => {
            let ((low, low_room), (high, high_room)) = (STEPS[index - 1], STEPS[index]);
            low_room + (high_room - low_room) * f64::from(ticks - low) / f64::from(high - low)
        }
    }
}

/// Widens the steps under a syllable that would run into the next one: ten tenths a letter and a space.
fn syllables(bars: &[&Bar], steps: &mut BTreeMap<u32, f64>) {
    for voice in bars.iter().flat_map(|bar| &bar.voices) {
        let mut onset = 0;
        for event in &voice.events {
            let end = onset + event.ticks;
            if let Some(lyric) = &event.lyric {
                let letters = u32::try_from(lyric.text.chars().count()).expect("short");
                let wanted = f64::from(letters) * 8.5 + 10.0;
                let has: f64 = steps.range(onset..end).map(|(_, step)| step).sum();
                let share = (wanted / has).max(1.0);
                steps.range_mut(onset..end).for_each(|(_, step)| *step *= share);
            }
            onset = end;
        }
    }
}

/// Divides the bars into so many lines of widths as even as can be; a multi-bar rest stays in one piece.
pub fn even_lines(score: &Score, lines: usize) -> Vec<usize> {
    even_lines_of(score, 0..score.bar_count(), lines)
}

/// The same for some of the bars.
pub fn even_lines_of(score: &Score, bars: Range<usize>, lines: usize) -> Vec<usize> {
    let wanted: Vec<f64> = bars.clone().map(|position| room(&score.parts, position, false)).map(|room| room.head + room.body).collect();
    let ideal = wanted.iter().sum::<f64>() / f64::from(u32::try_from(lines).expect("few lines"));
    let count = bars.len();
    let whole = |position: usize| !score.parts.iter().any(|part| inside_gathered(part, bars.start + position));
    // best[n][end]: least unevenness of n lines that hold the bars before `end`, and where the last begins
    let mut best = vec![vec![(f64::INFINITY, 0); count + 1]; lines + 1];
    best[0][0] = (0.0, 0);
    for line in 1..=lines {
        for end in (1..=count).filter(|&end| end == count || whole(end)) {
            let mut width = 0.0;
            for start in (0..end).rev() {
                width += wanted[start];
                let cost = best[line - 1][start].0 + (width - ideal).powi(2);
                if cost < best[line][end].0 {
                    best[line][end] = (cost, start);
                }
            }
        }
    }
    let mut end = count;
    let mut counts: Vec<usize> = (1..=lines)
        .rev()
        .map(|line| {
            let start = best[line][end].1;
            let count = end - start;
            end = start;
            count
        })
        .collect();
    counts.reverse();
    counts
}
