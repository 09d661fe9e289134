//! The parts: on which paper, cast off how, and what went wrong with some of them.

use super::copy::{Fill, bare, cast_part, finish, lined, part_plan};
use super::staves::{ALTO, BASSOONS, CLARINETS, HORNS, OBOES, SOPRANO, TENOR, chorus, wind};
use crate::support::cast::{even_lines, even_lines_of};
use crate::support::plain::gather_rests;
use crate::support::score::{Clef, Event, Margins, OtherStaff, Page, Part, Score, Voice};
use std::ops::Range;

/// Usual gaps of the parts on B4: between lines, from the top margin, between staves, mm.
const B4_GAPS: [f64; 3] = [25.0, 8.0, 14.0];

/// ISO B4 with the margins that suit two pages which lie open.
fn b4() -> Page {
    Page::of(250.0, 353.0, Margins::of(20.0, 24.0))
}

/// ISO B4 with the margins that orchestra libraries ask for.
fn b4_wide() -> Page {
    Page::of(250.0, 353.0, Margins::of(20.0, 30.0))
}

/// A player's part of the octet with 8 mm staves, its rests gathered.
fn octet_part(player: usize, page: Page) -> Score {
    let mut score = lined(8.0, page, vec![wind(player)]);
    gather_rests(&mut score.parts[0]);
    score
}

/// A part of two pages lies open: it begins on a left-hand page.
fn open_part(score: Score, lines: usize) -> Score {
    let counts = even_lines(&score, lines);
    let (left, right) = counts.split_at(lines / 2);
    cast_part(score, &[(left, Fill::Page), (right, Fill::Page)], 2, B4_GAPS)
}

/// First oboe as it came out of the score: nobody gathered its rests.
pub fn oboe_1() -> Score {
    open_part(lined(8.0, b4(), vec![wind(OBOES[0])]), 18)
}

/// Bars in which the second oboe sees what the sopranos sing before it comes in again, and those of that line.
const CUE: Range<usize> = 60..64;
const CUE_LINE: Range<usize> = 60..66;
/// Cue size (plate sizes of the Leipzig engraving houses Röder and Geidel: 5.0 to 7.0), percent.
const CUE_PERCENT: f64 = 71.0;
/// White between the cue staff and the player's own, mm.
const CUE_GAP_MM: f64 = 10.0;

/// Second oboe, with a small staff above its own where the sopranos lead to an entry.
pub fn oboe_2() -> Score {
    let mut score = lined(8.0, b4(), vec![with_cue(wind(OBOES[1]), &chorus()[SOPRANO])]);
    gather_rests(&mut score.parts[0]);
    let end = score.bar_count();
    let before = even_lines_of(&score, 0..CUE_LINE.start, 10);
    let after = even_lines_of(&score, CUE_LINE.end..end, 5);
    let counts: Vec<usize> = before.iter().copied().chain([CUE_LINE.len()]).chain(after).collect();
    let (left, right) = counts.split_at(8);
    let mut plan = part_plan(&score, &[(left, Fill::Page), (right, Fill::Page)], 2);
    let cue_mm = score.staff_height() * CUE_PERCENT / 100.0 + CUE_GAP_MM;
    for (index, page) in plan.iter_mut().enumerate() {
        let gaps = f64::from(u32::try_from(page.systems.len() - 1).expect("few"));
        for (position, system) in page.systems.iter_mut().enumerate() {
            if index == 1 {
                system.above_mm -= cue_mm / gaps;
            }
            if index == 1 && position == before.len() - left.len() {
                system.gaps_mm = vec![CUE_GAP_MM];
            } else {
                system.hidden = vec![0];
            }
        }
    }
    finish(score, &plan, 2, B4_GAPS)
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

/// First clarinet, run off small: 6.6 mm, lines of two bars among full ones, and turns in mid-phrase.
pub fn clarinet_1() -> Score {
    let margins = Margins { left: 25.0, right: 25.0, top: 34.0, bottom: 34.0 };
    let mut score = lined(6.6, Page::of(228.6, 304.8, margins), vec![wind(CLARINETS[0])]);
    gather_rests(&mut score.parts[0]);
    let counts = even_lines(&score, 26);
    let pages = [(&counts[..7], Fill::Page), (&counts[7..15], Fill::Page), (&counts[15..23], Fill::Page), (&counts[23..], Fill::Gap(3.5))];
    cast_part(score, &pages, 1, [24.0, 8.0, 12.0])
}

/// Second clarinet, as a player likes it.
pub fn clarinet_2() -> Score {
    open_part(octet_part(CLARINETS[1], b4()), 18)
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
    let page = Page::of(250.0, 353.0, Margins::of(20.0, 20.0));
    let mut part = wind(HORNS[1]);
    gather_rests(&mut part);
    let score = lined(8.0, page, vec![part]);
    let counts = even_lines(&score, 10);
    cast_part(score, &[(&counts, Fill::Page)], 1, B4_GAPS)
}

/// First bassoon; its second page came from an older file with other margins.
pub fn bassoon_1() -> Score {
    let score = octet_part(BASSOONS[0], b4_wide());
    let mut counts = even_lines_of(&score, 0..36, 8);
    counts.extend(even_lines_of(&score, 36..score.bar_count(), 13));
    let pages = [(&counts[..8], Fill::Page), (&counts[8..17], Fill::Page), (&counts[17..], Fill::Gap(3.3))];
    let mut plan = part_plan(&score, &pages, 1);
    let shifted = Margins { left: 14.0, right: 26.0, ..b4_wide().even };
    plan[1].page = Some(Page { even: shifted, ..b4_wide() });
    finish(score, &plan, 1, B4_GAPS)
}

/// Second bassoon; somebody forgot the page numbers.
pub fn bassoon_2() -> Score {
    let score = octet_part(BASSOONS[1], b4_wide());
    let mut counts = even_lines_of(&score, 0..40, 8);
    counts.extend(even_lines_of(&score, 40..score.bar_count(), 12));
    let pages = [(&counts[..8], Fill::Page), (&counts[8..17], Fill::Page), (&counts[17..], Fill::Gap(3.3))];
    let mut score = cast_part(score, &pages, 1, B4_GAPS);
    score.credits.retain(|credit| credit.kind != "page number");
    score
}

/// A singer's part with 6 mm staves and words of 10.5 points, its rests gathered.
fn sung_part(voice: usize) -> Score {
    let [soprano, alto, tenor, bass] = chorus();
    let part = [soprano, alto, tenor, bass].into_iter().nth(voice).expect("one of four voices");
    let mut score = lined(6.0, Page::of(210.0, 297.0, Margins::of(20.0, 18.0)), vec![part]);
    score.lyric_points = Some(10.5);
    gather_rests(&mut score.parts[0]);
    score
}

/// Usual gaps of a singer's part, mm.
const SUNG_GAPS: [f64; 3] = [20.0, 8.0, 12.0];

/// Altos; the last four bars stand alone overleaf.
pub fn alto() -> Score {
    let score = sung_part(ALTO);
    let counts = even_lines(&score, 11);
    cast_part(score, &[(&counts[..10], Fill::Page), (&counts[10..], Fill::Page)], 1, SUNG_GAPS)
}

/// Tenors; bar numbers were switched off.
pub fn tenor() -> Score {
    let mut score = sung_part(TENOR);
    if let Some(print) = &mut score.parts[0].bars[0].print {
        print.numbering = Some("none");
    }
    let counts = even_lines(&score, 14);
    cast_part(score, &[(&counts[..9], Fill::Page), (&counts[9..], Fill::Gap(3.5))], 1, SUNG_GAPS)
}
