//! Where systems and pages begin, and where parts disagree about it.

use crate::place::Place;
use crate::score::{Instructions, Promise, Score};
use crate::units::Tenths;
use std::collections::BTreeMap;
use std::ops::Range;

/// Two parts that state breaks do not state the same one at a bar.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Disagreement {
    /// Index of the bar.
    pub bar: usize,
    /// Index of a part that has the break.
    pub with: usize,
    /// Index of a part that has another kind of break there, or none.
    pub without: usize,
    /// Place of the break.
    pub at: Place,
}

/// Bars into systems, systems into pages.
pub(super) struct Breaks {
    /// Bars of every system.
    pub systems: Vec<Range<usize>>,
    /// Systems of every page, as indices into `systems`.
    pub pages: Vec<Range<usize>>,
    pub systems_known: bool,
    pub pages_known: bool,
    /// Whether the file states any break.
    pub any_stated: bool,
    pub disagreements: Vec<Disagreement>,
}

/// A file that promises all breaks, has none, and would need a line of this many pages' width has not kept its
/// promise (real ones reach 4; a line that merely overruns its margin stays below 1.1).
const FALSE_PROMISE: f64 = 1.5;

#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Kind {
    System,
    Page,
}

pub(super) fn read(score: &Score, instructions: &Instructions) -> Breaks {
    let bars = score.bar_count();
    // Every break by bar and part. A break at the first bar says nothing: a page begins there anyway.
    let mut stated: BTreeMap<usize, Vec<(usize, Kind, Place)>> = BTreeMap::new();
    for print in &instructions.prints {
        let kind = match (print.new_page, print.new_system) {
            (Some(true), _) => Kind::Page,
            (_, Some(true)) => Kind::System,
            _ => continue,
        };
        if print.bar > 0 && print.bar < bars {
            stated.entry(print.bar).or_default().push((print.part, kind, print.at));
        }
    }
    let any_page = stated.values().flatten().any(|(_, kind, _)| *kind == Kind::Page);
    let line = widths_over_page(score, instructions);
    // A promise that all breaks are encoded, in a file that encodes none, holds for what fits one line only.
    let promised = score.system_breaks == Promise::All && line.is_none_or(|widths| widths < FALSE_PROMISE);
    let one_line = line.is_some_and(|widths| widths <= 1.0);
    let systems_known = !stated.is_empty() || promised || one_line;
    let pages_known = systems_known && (any_page || score.page_breaks == Promise::All);

    let mut systems = Vec::new();
    let mut pages = Vec::new();
    if systems_known && bars > 0 {
        let mut page_begins = 0;
        let mut begins = 0;
        for (&bar, parts) in &stated {
            systems.push(begins..bar);
            begins = bar;
            if parts.iter().any(|(_, kind, _)| *kind == Kind::Page) {
                pages.push(page_begins..systems.len());
                page_begins = systems.len();
            }
        }
        systems.push(begins..bars);
        pages.push(page_begins..systems.len());
    }
    let disagreements = disagreements(&stated);
    Breaks { systems, pages, systems_known, pages_known, any_stated: !stated.is_empty(), disagreements }
}

/// All bars on one line would be this many pages wide; `None` where a width or the page's is not stated.
fn widths_over_page(score: &Score, instructions: &Instructions) -> Option<f64> {
    let page = instructions.page.width.filter(|width| width.value > Tenths::ZERO)?;
    let widths = (0..score.bar_count())
        .map(|bar| instructions.widths.iter().find_map(|part| part.get(bar)?.get()))
        .collect::<Option<Vec<Tenths>>>()?;
    (!widths.is_empty()).then(|| widths.into_iter().sum::<Tenths>() / page.value)
}

/// Parts that state breaks must state the same ones. A part that states none at all leaves it to the others:
/// most exporters write breaks into the first part only.
fn disagreements(stated: &BTreeMap<usize, Vec<(usize, Kind, Place)>>) -> Vec<Disagreement> {
    let mut speakers: Vec<usize> = stated.values().flatten().map(|(part, ..)| *part).collect();
    speakers.sort_unstable();
    speakers.dedup();
    let mut found = Vec::new();
    for (&bar, parts) in stated {
        let Some(&(with, strongest, at)) = parts.iter().max_by_key(|(part, kind, _)| (*kind, std::cmp::Reverse(*part))) else {
            continue;
        };
        let differs = speakers.iter().copied().find(|speaker| !parts.iter().any(|(part, kind, _)| part == speaker && *kind == strongest));
        if let Some(without) = differs {
            found.push(Disagreement { bar, with, without, at });
        }
    }
    found
}
