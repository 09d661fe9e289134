//! How much one score may come to in all: its parts, bars and breaks have bounds of their own, but what is measured grows with
//! their product, which a small file can make as large as it likes.

use super::damage::Damage;
use crate::score::Score;
use std::collections::BTreeSet;

/// Most bars of all staves together; an opera in one file has about half a million.
const MOST_BARS: usize = 4_000_000;
/// Most staves on all pages together; a score of a thousand pages with fifty staves has half as many.
const MOST_STAVES: usize = 100_000;
/// A page takes the room of so many staves more: 20,000 pages of one staff each are the most.
const PAGE: usize = 4;

/// Refuses a score that cannot be measured in the time and memory of a usual machine.
///
/// # Errors
/// More bars, or more staves on pages, than any music has.
pub(super) fn check(score: &Score) -> Result<(), Damage> {
    let staves: usize = score.parts.iter().map(|part| usize::from(part.staves)).sum();
    let bars = score.bar_count().saturating_mul(staves);
    if bars > MOST_BARS {
        let what = format!("{} bars of {staves} staves are more than {MOST_BARS} bars in all", score.bar_count());
        return Err(Damage::new(what, "No score has so many: split it into movements or parts").at(score.root));
    }
    let breaks = |page: bool| {
        let prints = score.instructions.prints.iter();
        let breaks = prints.filter(|print| print.new_page == Some(true) || (!page && print.new_system == Some(true)));
        breaks.map(|print| print.bar).collect::<BTreeSet<usize>>().len()
    };
    let (systems, pages) = (breaks(false), breaks(true));
    if systems.saturating_mul(staves) + pages * PAGE > MOST_STAVES {
        let what = format!("{systems} systems of {staves} staves on {pages} pages are more than {MOST_STAVES} staves in all");
        return Err(Damage::new(what, "No score has so many: split it into movements or parts").at(score.root));
    }
    Ok(())
}
