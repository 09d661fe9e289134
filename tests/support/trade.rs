//! Files for the check values of the trade, in `fixtures/trade`.
//!
//! Each stands on a page of [`super::plain`] with measures that the value names; the sums that make it so stand beside it.

use super::musicxml;
use super::plain::{A4, B4, B5_OBLONG, Sheet, part};
use super::score::{Clef, Score};
use std::collections::BTreeMap;

/// Folder of the files below the root of the repository.
pub const FOLDER: &str = "fixtures/trade";

/// The files: path below the root of the repository, bytes.
pub fn files() -> BTreeMap<String, Vec<u8>> {
    let write = |(name, score): (&str, Score)| (format!("{FOLDER}/{name}.musicxml"), musicxml::write(&score).into_bytes());
    BTreeMap::from(scores().map(write))
}

fn scores() -> [(&'static str, Score); 9] {
    [
        ("ensemble-one-system-a-page", ensemble(5.5, 15.0, 4, 1, 3.6)),
        ("ensemble-two-systems-a-page", ensemble(4.7, 10.0, 2, 2, 1.75)),
        ("oboe-6.0-mm", oboe(6.0)),
        ("oboe-7.5-mm", oboe(7.5)),
        ("full-score-3.7-mm", Sheet::winds(5, 3.7, A4, 15.0).changed(|sheet| sheet.bars = 9).page(4, 12.0).page(2, 12.0).score()),
        ("three-systems-under-a-title", three_systems(true)),
        ("three-systems-without-a-title", three_systems(false)),
        (
            "one-system-short-foot",
            Sheet::winds(7, 5.2, B5_OBLONG, 13.0).changed(|sheet| sheet.bars = 9).page(1, 0.0).page(1, 0.0).page(1, 0.0).score(),
        ),
        ("norm-for-parts", norm_for_parts()),
    ]
}

/// Thirteen winds on B4, nine bars a system, gaps inside a system in staff heights. Running heads stand in the margin.
///
/// What two systems need, at gaps of 1.75 staff heights inside and 2.5 between: 2 x (13 + 12 x 1.75) + 2.5 = 70.5 staff
/// heights. Margins of 10 mm leave 333 of 353 mm: 4.72 mm a staff height, so 4.7 does and 4.8 does not.
fn ensemble(staff_mm: f64, margin_mm: f64, pages: usize, systems: usize, inside: f64) -> Score {
    let parts = (1..=13).map(|number| part(&format!("Flute {number}"), &format!("Fl. {number}"), "wind.flutes.flute", &[Clef::Treble]));
    let mut sheet = Sheet::new(staff_mm, B4, margin_mm, parts.collect(), 9);
    sheet.inner_mm = vec![inside * staff_mm; 12];
    let mut sheet = (0..pages).fold(sheet, |sheet, _| sheet.page(systems, 2.5 * staff_mm));
    for page in &mut sheet.pages {
        page.top_mm = 0.0;
    }
    let mut score = sheet.score();
    for credit in &mut score.credits {
        (credit.y_mm, credit.points) = (4.0, 9.0);
    }
    score
}

fn oboe(staff_mm: f64) -> Score {
    Sheet::oboe(staff_mm, B4, 15.0).page(8, 3.3 * staff_mm).page(9, 3.3 * staff_mm).score()
}

/// Four staves of 5.9 mm on A4, the first page with three systems, later ones with four and three.
///
/// A system takes 4 x 5.9 + 3 x 10.325 = 54.6 mm, four with 14.75 mm between 262.5 mm: they fit the 267 mm between the margins,
/// but not the 237 mm below a title of 30 mm, where three take 193.2 mm.
fn three_systems(title: bool) -> Score {
    let staff = 5.9;
    let mut sheet = Sheet::winds(4, staff, A4, 15.0).page(3, 2.5 * staff).page(4, 2.5 * staff).page(3, 2.5 * staff);
    for page in &mut sheet.pages {
        page.top_mm = 0.0;
    }
    if title {
        sheet.pages[0].top_mm = 30.0 + staff;
    }
    let mut score = sheet.score();
    // The composer's line ends 30 mm below the margin.
    for composer in score.credits.iter_mut().filter(|credit| title && credit.kind == "composer") {
        (composer.y_mm, composer.valign) = (45.0, "bottom");
    }
    for credit in score.credits.iter_mut().filter(|credit| !title || credit.page > 1) {
        (credit.y_mm, credit.points) = (4.0, 9.0);
    }
    score
}

/// Ten staves of 8 mm fill the 344 mm between margins of 10 mm on JIS B4 with 29.3 mm, 3.7 staff heights, between them;
/// nine stand under the title. Running heads stand in the margin.
fn norm_for_parts() -> Score {
    let gap = (364.0 - 20.0 - 10.0 * 8.0) / 9.0;
    let mut sheet = Sheet::oboe(8.0, (257.0, 364.0), 10.0).page(9, gap).page(10, gap).page(10, gap).page(6, gap);
    for page in &mut sheet.pages[1..] {
        page.top_mm = 0.0;
    }
    let mut score = sheet.score();
    for credit in score.credits.iter_mut().filter(|credit| credit.page > 1) {
        (credit.y_mm, credit.points) = (3.0, 8.0);
    }
    score
}
