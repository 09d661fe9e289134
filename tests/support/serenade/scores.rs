//! The scores: the conductor's, loose and well laid out, and those of the chorus.

use super::copy::{self, Systems, bare, credits, lined, systems_plan};
use super::staves;
use crate::support::cast::{cast, even_lines, even_lines_of};
use crate::support::score::{Group, Margins, Page, Part, Score};

/// Gaps of the full score in staff heights, before a page spreads them: a little more where families part.
const SCORE_GAPS: [f64; 9] = [1.6, 1.6, 1.65, 2.15, 2.0, 2.0, 2.0, 1.95, 1.55];

/// The score as the engraver of a large desk copy left it: one system a page, held apart to fill it.
pub fn score_loose() -> Score {
    let page = Page::of(420.0, 297.0, Margins::of(24.0, 19.0));
    full_score(6.2, page, [28.0, 8.0], 12, 1)
}

/// The same music laid out well: two systems a page.
pub fn score() -> Score {
    let page = Page::of(420.0, 297.0, Margins::of(16.0, 11.0));
    full_score(4.6, page, [20.0, 7.0], 8, 2)
}

/// The full score in so many systems; `heads_mm` is the room for the title block and for the running heads.
fn full_score(staff_mm: f64, page: Page, heads_mm: [f64; 2], systems: usize, a_page: usize) -> Score {
    let mut score = bare(staff_mm, page, staves::score_parts());
    score.groups =
        vec![Group { first: 0, last: 3, name: "", symbol: "bracket" }, Group { first: 4, last: 7, name: "Chorus", symbol: "bracket" }];
    let how = Systems { gaps: &SCORE_GAPS, between: 2.5, a_page, indents_mm: [30.0, 15.0], heads_mm };
    score.usual_gaps = Some([2.5 * staff_mm, heads_mm[1], 1.75 * staff_mm]);
    let counts = even_lines(&score, systems);
    several(score, &counts, &how, 1, "")
}

/// Chorus and harmonium, as the chorus rehearses from it. Whoever plays it turns by hand: right-hand pages end where the
/// harmonium rests.
pub fn vocal_score() -> Score {
    let mut parts = staves::chorus().to_vec();
    parts.push(staves::harmonium());
    let score = sung_score(parts, 10.0);
    let how = Systems { gaps: &[2.0, 2.0, 2.0, 2.0, 1.6], between: 3.0, a_page: 2, indents_mm: [22.0, 10.0], heads_mm: [27.0, 12.0] };
    let openings = [(0..21, 4), (21..36, 4), (36..52, 4), (52..80, 4), (80..score.bar_count(), 3)];
    let counts: Vec<usize> = openings.into_iter().flat_map(|(bars, systems)| even_lines_of(&score, bars, systems)).collect();
    several(score, &counts, &how, 2, "Chorus and Harmonium")
}

/// The chorus alone, its words too small to sing from.
pub fn chorus_score() -> Score {
    let score = sung_score(staves::chorus().to_vec(), 7.0);
    let how = Systems { gaps: &[2.2; 3], between: 2.3, a_page: 3, indents_mm: [22.0, 10.0], heads_mm: [27.0, 12.0] };
    let counts = even_lines(&score, 12);
    several(score, &counts, &how, 1, "Chorus")
}

/// A score of the chorus on A4 with words of some size; bars in which all rest are gathered.
fn sung_score(parts: Vec<Part>, lyric_points: f64) -> Score {
    let mut score = lined(6.5, Page::of(210.0, 297.0, Margins::of(18.0, 24.0)), parts);
    score.lyric_points = Some(lyric_points);
    score.groups = vec![Group { first: 0, last: 3, name: "Chorus", symbol: "bracket" }];
    score.usual_gaps = Some([16.0, 12.0, 13.0]);
    staves::gather_together(&mut score.parts);
    score
}

/// Casts off a score of several staves from a page of this number on.
fn several(mut score: Score, counts: &[usize], how: &Systems, first_number: u32, name: &str) -> Score {
    let mut plan = systems_plan(&score, counts, how);
    plan[0].number = (first_number != 1).then_some(first_number);
    cast(&mut score, &plan);
    credits(&mut score, name, plan.len(), first_number);
    score
}

/// The harmonium, on its own: two pages that lie open.
pub fn harmonium() -> Score {
    let page = Page::of(210.0, 297.0, Margins::of(16.0, 16.0));
    let mut score = lined(6.5, page, vec![staves::harmonium()]);
    staves::gather_together(&mut score.parts);
    let how = Systems { gaps: &[1.75], between: 2.5, a_page: 6, indents_mm: [12.0, 0.0], heads_mm: [27.0, 12.0] };
    let mut plan = systems_plan(&score, &even_lines(&score, 12), &how);
    plan[0].number = Some(2);
    copy::finish(score, &plan, 2, [16.0, 12.0, 11.0])
}
