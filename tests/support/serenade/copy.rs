//! What all copies have in common: words around the music, marks above it, lines shared out over pages.

use super::music;
use crate::support::cast::{PagePlan, SystemPlan, cast};
use crate::support::engrave::engrave;
use crate::support::score::{Credit, Direction, Page, Part, Print, Says, Score};

const TITLE: &str = "Serenade at Kettle Weir";
const COMPOSER: &str = "Orla Venncastle";
const RIGHTS: &str = "Copyright by Harrowmere Edition · H. E. 118";

/// Room for the title block, mm below the top margin.
const TITLE_MM: f64 = 27.0;
/// On paper narrower than this a part's name of more letters would run into the title, mm.
const NARROW_MM: f64 = 220.0;
const LONG_NAME: usize = 12;
/// Thickness of staff lines, mm.
const STAFF_LINE_MM: f64 = 0.2;

/// Parts on paper, with tempo and rehearsal marks and bar numbers at every system.
pub fn bare(staff_mm: f64, page: Page, mut parts: Vec<Part>) -> Score {
    for part in &mut parts {
        part.bars[0].print = Some(Print { numbering: Some("system"), ..Print::default() });
    }
    say_tempo_and_marks(&mut parts[0]);
    let mut score = Score {
        staff_mm: Some(staff_mm),
        page: Some(page),
        promises_breaks: true,
        title: TITLE.to_owned(),
        composer: COMPOSER.to_owned(),
        rights: RIGHTS.to_owned(),
        parts,
        ..Score::default()
    };
    engrave(&mut score);
    score
}

/// The same for a file that says how thick its staff lines are.
pub fn lined(staff_mm: f64, page: Page, parts: Vec<Part>) -> Score {
    Score { staff_line_tenths: Some(STAFF_LINE_MM * 40.0 / staff_mm), ..bare(staff_mm, page, parts) }
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

/// How a page of a part is filled.
#[derive(Clone, Copy)]
pub enum Fill {
    /// Gaps as large as fill the page.
    Page,
    /// Gaps of so many staff heights, whatever is left at the foot.
    Gap(f64),
}

/// One page of a part: the bars of its lines, and how they fill it.
pub type Lines<'a> = (&'a [usize], Fill);

/// Casts a part of one staff off on these pages, the first with the given number. The usual gaps, mm, are those between
/// lines, from the top margin (where the running head stands) and between staves.
pub fn cast_part(score: Score, pages: &[Lines], first_number: u32, usual_gaps: [f64; 3]) -> Score {
    let plan = part_plan(&score, pages, first_number, usual_gaps[1]);
    finish(score, &plan, first_number, usual_gaps)
}

/// Casts a part off as planned, and puts its name, page numbers and the title block on its pages.
pub fn finish(mut score: Score, plan: &[PagePlan], first_number: u32, usual_gaps: [f64; 3]) -> Score {
    score.usual_gaps = Some(usual_gaps);
    cast(&mut score, plan);
    let name = score.parts[0].name.clone();
    credits(&mut score, &name, plan.len(), first_number);
    score
}

/// Pages of a part of one staff, with so much room for running heads.
pub fn part_plan(score: &Score, pages: &[Lines], first_number: u32, head_mm: f64) -> Vec<PagePlan> {
    let page = score.page.expect("paper is stated");
    let staff_mm = score.staff_height();
    let plan = |(index, (counts, fill)): (usize, &Lines)| {
        let top_mm = if index == 0 { TITLE_MM } else { head_mm };
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

/// How systems of several staves fill their pages.
pub struct Systems<'a> {
    /// Natural gaps between the staves of a system, staff heights.
    pub gaps: &'a [f64],
    /// Natural gap between two systems, staff heights.
    pub between: f64,
    /// How many fill a page.
    pub a_page: usize,
    /// Indent of the first and of later systems, mm.
    pub indents_mm: [f64; 2],
    /// Room for the title block and for running heads, mm.
    pub heads_mm: [f64; 2],
}

/// Pages of systems of several staves, all gaps of a page stretched alike so that a full one is filled.
pub fn systems_plan(score: &Score, counts: &[usize], how: &Systems) -> Vec<PagePlan> {
    let page = score.page.expect("paper is stated");
    let staff_mm = score.staff_height();
    let usable = page.height - page.odd.top - page.odd.bottom;
    let inner: f64 = how.gaps.iter().sum();
    let few = |count: usize| f64::from(u32::try_from(count).expect("few"));
    let plan = |(index, counts): (usize, &[usize])| {
        let top_mm = how.heads_mm[index.min(1)];
        let systems = few(how.a_page);
        let white = usable - top_mm - systems * few(how.gaps.len() + 1) * staff_mm;
        let spread = white / (systems * inner + (systems - 1.0) * how.between);
        let system = |(position, &bars): (usize, &usize)| SystemPlan {
            bars,
            above_mm: how.between * spread,
            indents_mm: (how.indents_mm[usize::from(index > 0 || position > 0)], 0.0),
            gaps_mm: how.gaps.iter().map(|gap| gap * spread).collect(),
            ..SystemPlan::default()
        };
        PagePlan { top_mm, systems: counts.iter().enumerate().map(system).collect(), ..PagePlan::default() }
    };
    counts.chunks(how.a_page).enumerate().map(plan).collect()
}

/// Title block, foot line, and on later pages name and page number.
pub fn credits(score: &mut Score, part: &str, pages: usize, first_number: u32) {
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
        let beside_composer = page.width < NARROW_MM && part.len() > LONG_NAME;
        credits.push(credit(1, "part name", part, (left, "left"), top + if beside_composer { 10.0 } else { 0.0 }, 12.0));
    }
    // below the words of the last staff, where it is sung
    let below_mm = if score.lyric_points.is_some() { 14.0 } else { 7.0 };
    let foot =
        Credit { valign: "bottom", ..credit(1, "rights", RIGHTS, (middle, "center"), page.height - page.odd.bottom + below_mm, 8.0) };
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
