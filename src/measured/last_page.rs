//! Thin last pages: what the last page of a movement holds, and whether the pages before it could take that in.

use super::{Page, System, count};
use crate::units::Sp;

/// What spills over onto the last page of a movement.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spill {
    /// Bars on that page.
    pub bars: u32,
    /// Systems of the movement on the pages before it.
    pub systems_before: u32,
    /// Room against natural that the lines before would have if they took those bars in; `None` where it is not known.
    pub of_natural_after: Option<f64>,
    /// Its systems would fit on the pages before with the gaps they need.
    pub fits_before: bool,
}

/// For every page, what spills onto it: only where it is the last of a movement that began on a page before it and nothing else
/// stands on it.
pub(super) fn spills(pages: &[Page]) -> Vec<Option<Spill>> {
    (0..pages.len()).map(|index| spill(pages, index)).collect()
}

fn spill(pages: &[Page], index: usize) -> Option<Spill> {
    let page = pages.get(index).filter(|page| page.begin_known && (page.last || page.ends_movement))?;
    let movement = page.systems.first()?.movement;
    if page.systems.iter().any(|system| system.movement != movement || system.begins_movement) {
        return None;
    }
    let before: Vec<&Page> =
        pages[..index].iter().rev().take_while(|page| page.systems.iter().any(|one| one.movement == movement)).collect();
    let lines = || before.iter().flat_map(|page| &page.systems).filter(|one| one.movement == movement);
    let bars_of = |first: u32, last: u32| last + 1 - first;
    let bars: u32 = page.systems.iter().map(|one| bars_of(one.bars.index.0, one.bars.index.1)).sum();
    let systems_before = count(lines().count());
    if systems_before == 0 {
        return None;
    }
    // What spills over brings its need, not its room.
    let natural = |system: &System| system.spacing.as_ref().ok().map(|spacing| spacing.widths.natural);
    let room: Option<Sp> = lines().map(|one| one.spacing.as_ref().ok().map(|spacing| spacing.available)).sum();
    let need: Option<Sp> = lines().chain(&page.systems).map(natural).sum();
    let of_natural_after = room.zip(need).map(|(room, need)| room / need);
    // The systems of another movement above it take their room.
    let whole_pages = before.iter().all(|page| page.systems.iter().all(|one| one.movement == movement));
    let fit: Option<u32> = before.iter().map(|page| page.systems_that_fit.value()).sum();
    let fits_before = whole_pages && fit.is_some_and(|fit| fit >= systems_before + count(page.systems.len()));
    Some(Spill { bars, systems_before, of_natural_after, fits_before })
}
