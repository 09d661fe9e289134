//! Things of which a large score has tens of thousands, a system at a time.

use super::{Line, things};
use crate::measured::{Measured, Page, System};
use crate::rule::judge::{Thing, Things};

impl Things for Vec<Line<'_>> {
    fn lots(&self) -> usize {
        1
    }

    fn show(&self, _lot: usize, see: &mut dyn FnMut(&[Thing])) {
        see(&things(self));
    }

    fn show_one(&self, _lot: usize, index: usize, see: &mut dyn FnMut(&Thing)) {
        self.get(index).into_iter().for_each(|line| see(&line.thing()));
    }
}

/// What a subject finds in every system, and what it finds beside them.
pub(super) struct Lots<'a> {
    systems: Vec<(&'a Page, &'a System)>,
    /// How many it finds in a system.
    count: fn(&Page, &System) -> usize,
    /// One of them; `None` beyond the last.
    line: fn(&'a Page, &'a System, usize) -> Option<Line<'a>>,
    /// The last lot.
    beside: Vec<Line<'a>>,
}

impl<'a> Lots<'a> {
    pub fn new(
        measured: &'a Measured,
        count: fn(&Page, &System) -> usize,
        line: fn(&'a Page, &'a System, usize) -> Option<Line<'a>>,
        beside: Vec<Line<'a>>,
    ) -> Self {
        let systems = measured.pages.iter().flat_map(|page| page.systems.iter().map(move |system| (page, system))).collect();
        Self { systems, count, line, beside }
    }
}

impl Things for Lots<'_> {
    fn lots(&self) -> usize {
        self.systems.len() + 1
    }

    fn show(&self, lot: usize, see: &mut dyn FnMut(&[Thing])) {
        let Some((page, system)) = self.systems.get(lot) else { return see(&things(&self.beside)) };
        let lines: Vec<Line> = (0..(self.count)(page, system)).filter_map(|index| (self.line)(page, system, index)).collect();
        see(&things(&lines));
    }

    fn show_one(&self, lot: usize, index: usize, see: &mut dyn FnMut(&Thing)) {
        match self.systems.get(lot) {
            Some((page, system)) => (self.line)(page, system, index).iter().for_each(|line| see(&line.thing())),
            None => self.beside.get(index).into_iter().for_each(|line| see(&line.thing())),
        }
    }
}
