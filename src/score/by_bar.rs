//! What stands at a bar in whatever part. Parts keep their music one after the other, so that who asks every part about one bar after the
//! other goes through all memory for each; few bars hold anything worth the way.

use super::{Mark, Part, Score, Sign, Traits};
use std::ops::Range;

/// Where each bar's marks and signs are, and what is true of its notes. Made when the score is read.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ByBar {
    marks: Runs,
    signs: Runs,
    traits: Vec<Traits>,
    rest_bars: Vec<u16>,
}

/// Neighbours in the list of one part.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
struct Run {
    part: u32,
    first: u32,
    end: u32,
}

/// The runs of every bar, bar by bar, each bar's in the order of the parts.
#[derive(Debug, Clone, Default, PartialEq)]
struct Runs {
    /// Where a bar's runs begin; they end where the next bar's begin.
    starts: Vec<u32>,
    runs: Vec<Run>,
}

impl Runs {
    fn of(parts: &[Part], bars: usize, range: impl Fn(&Part, usize) -> Range<usize>) -> Self {
        let count = |number: usize| u32::try_from(number).unwrap_or(u32::MAX);
        let mut by_part: Vec<(usize, Run)> = Vec::new();
        let mut starts = vec![0_u32; bars + 1];
        for (index, part) in parts.iter().enumerate() {
            for bar in 0..part.bars.len() {
                let run = range(part, bar);
                if !run.is_empty() {
                    by_part.push((bar, Run { part: count(index), first: count(run.start), end: count(run.end) }));
                    starts[bar + 1] += 1;
                }
            }
        }
        for bar in 0..bars {
            starts[bar + 1] += starts[bar];
        }
        let mut next = starts.clone();
        let mut runs = vec![Run::default(); by_part.len()];
        for (bar, run) in by_part {
            runs[next[bar] as usize] = run;
            next[bar] += 1;
        }
        Self { starts, runs }
    }

    fn at(&self, bar: usize) -> &[Run] {
        let range = self.starts.get(bar).zip(self.starts.get(bar + 1)).map(|(start, end)| *start as usize..*end as usize);
        range.and_then(|range| self.runs.get(range)).unwrap_or_default()
    }
}

impl ByBar {
    /// Some notes of a bar have these traits.
    pub(crate) fn hold(&mut self, bar: usize, traits: Traits) {
        if self.traits.len() <= bar {
            self.traits.resize(bar + 1, Traits::empty());
        }
        self.traits[bar] |= traits;
    }

    /// The notes of other parts have the traits that were held there too.
    pub(crate) fn hold_all(&mut self, other: &Self) {
        other.traits.iter().enumerate().for_each(|(bar, traits)| self.hold(bar, *traits));
    }

    /// All parts are read.
    pub(crate) fn close(&mut self, parts: &[Part]) {
        let bars = parts.iter().map(|part| part.bars.len()).max().unwrap_or(0);
        self.marks = Runs::of(parts, bars, Part::mark_range);
        self.signs = Runs::of(parts, bars, Part::sign_range);
        self.traits.resize(bars, Traits::empty());
        self.rest_bars = vec![0; bars];
        for part in parts {
            for (most, bar) in self.rest_bars.iter_mut().zip(&part.bars) {
                *most = bar.rest_bars.max(*most);
            }
        }
    }
}

impl Score {
    /// The marks of a bar in all parts that have some: the index of each part, and its marks.
    pub fn marks_by_part(&self, bar: usize) -> impl Iterator<Item = (usize, &[Mark])> + Clone {
        let marks = |run: &Run| self.parts.get(run.part as usize)?.marks.get(run.first as usize..run.end as usize);
        self.by_bar.marks.at(bar).iter().filter_map(move |run| Some((run.part as usize, marks(run)?)))
    }

    /// The same one after the other, part by part.
    pub fn marks_at(&self, bar: usize) -> impl Iterator<Item = &Mark> + Clone {
        self.marks_by_part(bar).flat_map(|(_, marks)| marks)
    }

    /// The signs of a bar in all parts that have some, part by part.
    pub fn signs_at(&self, bar: usize) -> impl Iterator<Item = &Sign> + Clone {
        let signs = |run: &Run| self.parts.get(run.part as usize)?.signs.get(run.first as usize..run.end as usize);
        self.by_bar.signs.at(bar).iter().filter_map(signs).flatten()
    }

    /// Whether some note of a bar, in some part, may have these traits: where not, no part need be asked.
    pub fn may_hold(&self, bar: usize, traits: Traits) -> bool {
        self.by_bar.traits.get(bar).is_some_and(|held| held.intersects(traits))
    }

    /// Silent bars that a multi-bar rest which begins at a bar stands for, in the part that says most; 0 where none begins.
    pub fn most_rest_bars(&self, bar: usize) -> u16 {
        self.by_bar.rest_bars.get(bar).copied().unwrap_or(0)
    }
}
