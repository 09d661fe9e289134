//! The parts: on which paper, cast off how, and what went wrong with some of them.

use super::copy::{Fill, bare, cast_part, finish, lined, part_plan};
use super::staves::{ALTO, BASSOONS, CLARINETS, HORNS, OBOES, SOPRANO, TENOR, chorus, wind};
use crate::support::cast::{even_lines, even_lines_of};
use crate::support::plain::gather_rests;
use crate::support::score::{Clef, Event, Margins, OtherStaff, Page, Part, Says, Score, Voice};
use std::ops::Range;

/// Usual gaps of the parts on B4: between lines, from the top margin, between staves, mm.
const B4_GAPS: [f64; 3] = [25.0, 12.0, 14.0];

/// ISO B4 with these margins at the sides and at top and bottom, mm.
fn b4(sides: f64, ends: f64) -> Page {
    Page::of(250.0, 353.0, Margins::of(sides, ends))
}

/// A player's part of the octet with 8 mm staves, its rests gathered.
fn octet_part(player: usize, page: Page) -> Score {
    let mut score = lined(8.0, page, vec![wind(player)]);
    gather_rests(&mut score.parts[0]);
    score
}

/// First oboe as it came out of the score: nobody gathered its rests, and a letter was lost. Its two pages lie open, the first on the left.
pub fn oboe_1() -> Score {
    let mut score = lined(8.0, b4(20.0, 24.0), vec![wind(OBOES[0])]);
    for event in score.parts[0].bars.iter_mut().flat_map(|bar| &mut bar.voices).flat_map(|voice| &mut voice.events) {
        event.directions.retain(|said| !matches!(said.says.as_slice(), [Says::Rehearsal(mark)] if mark == FORGOTTEN));
    }
    let counts = even_lines(&score, 18);
    cast_part(score, &[(&counts[..9], Fill::Page), (&counts[9..], Fill::Page)], 2, B4_GAPS)
}

/// The letter that the first oboe lacks.
pub const FORGOTTEN: &str = "D";

/// Bars in which the second oboe sees what the sopranos sing before it comes in again, and those of that line.
const CUE: Range<usize> = 60..64;
const CUE_LINE: Range<usize> = 60..66;
/// Cue size (plate sizes of the Leipzig engraving houses Röder and Geidel: 5.0 to 7.0), percent.
const CUE_PERCENT: f64 = 71.0;
/// White between the cue staff and the player's own, mm.
const CUE_GAP_MM: f64 = 10.0;

/// Second oboe on one page, with a small staff above its own where the sopranos lead to an entry.
pub fn oboe_2() -> Score {
    let mut score = lined(8.0, b4(15.0, 14.0), vec![with_cue(wind(OBOES[1]), &chorus()[SOPRANO])]);
    gather_rests(&mut score.parts[0]);
    let before = even_lines_of(&score, 0..CUE_LINE.start, 6);
    let after = even_lines_of(&score, CUE_LINE.end..score.bar_count(), 3);
    let counts: Vec<usize> = before.iter().copied().chain([CUE_LINE.len()]).chain(after).collect();
    let mut plan = part_plan(&score, &[(&counts, Fill::Page)], 1, B4_GAPS[1]);
    let cue_mm = score.staff_height() * CUE_PERCENT / 100.0 + CUE_GAP_MM;
    let gaps = f64::from(u32::try_from(counts.len() - 1).expect("few"));
    for (position, system) in plan[0].systems.iter_mut().enumerate() {
        system.above_mm -= cue_mm / gaps;
        if position == before.len() {
            system.gaps_mm = vec![CUE_GAP_MM];
        } else {
            system.hidden = vec![0];
        }
    }
    finish(score, &plan, 1, B4_GAPS)
}

/// A part with a cue staff above its own.
fn with_cue(mut part: Part, leader: &Part) -> Part {
    part.clefs.insert(0, Clef::Treble);
    part.other_staves = vec![OtherStaff { staff: 0, kind: "cue", percent: CUE_PERCENT }];
    for (index, bar) in part.bars.iter_mut().enumerate() {
        for own in &mut bar.voices {
            own.staff = 1;
        }
        if CUE_LINE.contains(&index) {
            let shown = |event: &Event| Event { cue: true, lyric: None, directions: Vec::new(), ..event.clone() };
            let leads = leader.bars[index].voices[0].events.iter();
            let ticks = leads.clone().map(|event| event.ticks).sum();
            let events = if CUE.contains(&index) { leads.map(shown).collect() } else { vec![Event::bar_rest(ticks)] };
            bar.voices.push(Voice { staff: 0, stems: None, events });
        }
    }
    part
}

/// Bars of the lines of the first clarinet, page by page: full ones, and some of two bars that nobody needed.
const CLARINET_LINES: [&[usize]; 4] = [&[3, 3, 6, 4, 2, 2, 2], &[7, 3, 3, 2, 3, 4, 2], &[6, 4, 2, 8, 8, 2, 2], &[9, 4, 5]];

/// First clarinet, run off small: 6.6 mm, lines of two bars among full ones, and both turns in mid-phrase.
pub fn clarinet_1() -> Score {
    let mut score = lined(6.6, Page::of(210.0, 297.0, Margins::of(25.0, 34.0)), vec![wind(CLARINETS[0])]);
    gather_rests(&mut score.parts[0]);
    let [first, second, third, last] = CLARINET_LINES;
    let pages = [(first, Fill::Page), (second, Fill::Page), (third, Fill::Page), (last, Fill::Gap(4.0))];
    cast_part(score, &pages, 1, [27.0, 12.0, 12.0])
}

/// Second clarinet on one page, as a player likes it.
pub fn clarinet_2() -> Score {
    let score = octet_part(CLARINETS[1], b4(15.0, 20.0));
    let counts = even_lines(&score, 10);
    cast_part(score, &[(&counts, Fill::Page)], 1, B4_GAPS)
}

/// First horn, with faults a player would name.
pub fn horn_1() -> Score {
    let score = bare(6.0, Page::of(210.0, 297.0, Margins::of(20.0, 18.0)), vec![wind(HORNS[0])]);
    let counts = even_lines(&score, 18);
    let pages = [(&counts[..7], Fill::Page), (&counts[7..12], Fill::Gap(3.2)), (&counts[12..], Fill::Gap(5.0))];
    cast_part(score, &pages, 1, [20.0, 8.0, 12.0])
}

/// Second horn on one page; its rests were gathered before the rehearsal marks were put in.
pub fn horn_2() -> Score {
    let mut part = wind(HORNS[1]);
    gather_rests(&mut part);
    let score = lined(8.0, b4(20.0, 30.0), vec![part]);
    let counts = even_lines(&score, 8);
    cast_part(score, &[(&counts, Fill::Page)], 1, B4_GAPS)
}

/// First bassoon; the last four bars stand alone on a third page. It turns at the rest in bars 33 to 36.
pub fn bassoon_1() -> Score {
    let score = octet_part(BASSOONS[0], b4(20.0, 30.0));
    let end = score.bar_count();
    let pages = [even_lines_of(&score, 0..36, 8), even_lines_of(&score, 36..end - 4, 9), vec![4]];
    let [first, second, last] = &pages;
    cast_part(score, &[(first, Fill::Page), (second, Fill::Page), (last, Fill::Gap(3.3))], 1, B4_GAPS)
}

/// Second bassoon; its second page was taken over from a file with other margins. It turns at the rest in bars 61 to 64.
pub fn bassoon_2() -> Score {
    let page = b4(20.0, 30.0);
    let score = octet_part(BASSOONS[1], page);
    let pages = [even_lines_of(&score, 0..64, 8), even_lines_of(&score, 64..score.bar_count(), 4)];
    let mut plan = part_plan(&score, &[(&pages[0], Fill::Page), (&pages[1], Fill::Gap(3.4))], 1, B4_GAPS[1]);
    plan[1].page = Some(Page { even: Margins { left: 14.0, right: 26.0, ..page.even }, ..page });
    finish(score, &plan, 1, B4_GAPS)
}

/// Usual gaps of a singer's part, mm.
const SUNG_GAPS: [f64; 3] = [20.0, 12.0, 12.0];

/// A singer's part on A4 with words of 10 points, its rests gathered.
fn sung_part(staff_mm: f64, part: Part) -> Score {
    let mut score = lined(staff_mm, Page::of(210.0, 297.0, Margins::of(20.0, 23.0)), vec![part]);
    score.lyric_points = Some(10.0);
    gather_rests(&mut score.parts[0]);
    score
}

/// Altos; the second page bears their name but no number.
pub fn alto() -> Score {
    let score = sung_part(7.0, chorus()[ALTO].clone());
    let pages = [even_lines_of(&score, 0..56, 8), even_lines_of(&score, 56..score.bar_count(), 6)];
    let mut score = cast_part(score, &[(&pages[0], Fill::Page), (&pages[1], Fill::Gap(3.5))], 1, SUNG_GAPS);
    score.credits.retain(|credit| credit.kind != "page number");
    score
}

/// Tenors; bar numbers were switched off.
pub fn tenor() -> Score {
    let mut score = sung_part(6.0, chorus()[TENOR].clone());
    if let Some(print) = &mut score.parts[0].bars[0].print {
        print.numbering = Some("none");
    }
    let counts = even_lines(&score, 10);
    cast_part(score, &[(&counts, Fill::Page)], 1, SUNG_GAPS)
}
