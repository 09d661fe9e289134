//! How a copy looks as a whole: paper, margins, staves, titles, page numbers; and which of several looks otherwise.

use crate::measured::Measured;
use crate::place::Place;
use crate::score::Score;
use crate::units::Mm;

/// How a copy looks.
#[derive(Debug, Clone, Default)]
pub struct Look {
    /// The paper that most pages are on: its sides, and in words.
    pub paper: Option<([Mm; 2], String)>,
    /// Margins of the first page: left, right, top, bottom.
    pub margins: Option<[Mm; 4]>,
    /// Height of the staves, of the size that most have.
    pub staff_height: Option<Mm>,
    /// Title of the work.
    pub title: Option<String>,
    /// Title of the movement.
    pub movement_title: Option<String>,
    /// Printed numbers of the first and the last page, where they are numbers.
    pub page_numbers: Option<(i64, i64)>,
    /// Where the scaling is stated.
    pub scaling_at: Option<Place>,
    /// Where the width of the page is stated.
    pub paper_at: Option<Place>,
}

impl Look {
    pub(super) fn of(score: &Score, measured: &Measured) -> Self {
        let paper = measured.papers.iter().rev().max_by_key(|paper| paper.pages.len());
        let sized = paper.and_then(|paper| {
            let (width, height) = (paper.width.value()?, paper.height.value()?);
            let name = paper.name.clone().unwrap_or_else(|| format!("{:.0} x {:.0} mm", width.0, height.0));
            Some(([width, height], name)).filter(|_| paper.not_known.is_none())
        });
        let first = measured.pages.first();
        let margins = first.and_then(|page| {
            let [left, right, top, bottom] = page.margins;
            Some([left.value()?, right.value()?, top.value()?, bottom.value()?])
        });
        let number = |page: Option<&crate::measured::Page>| page.and_then(|page| page.label.trim().parse::<i64>().ok());
        let text = |text: &Option<String>| text.as_deref().map(str::trim).filter(|text| !text.is_empty()).map(str::to_owned);
        Self {
            paper: sized,
            margins,
            staff_height: measured.staff_height.value(),
            title: text(&score.work_title),
            movement_title: text(&score.movement_title),
            page_numbers: number(first).zip(number(measured.pages.last())).filter(|_| measured.pages_known),
            scaling_at: measured.staff_height.place(),
            paper_at: paper.and_then(|paper| paper.width.place()),
        }
    }
}

/// What is otherwise in a copy than in most.
#[derive(Debug, Clone, PartialEq)]
pub struct Odd<T> {
    /// What it is here.
    pub here: T,
    /// What it is in most.
    pub usual: T,
}

/// What of its look is otherwise in a copy than in most copies for its reader.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Other {
    /// The paper.
    pub paper: Option<Odd<String>>,
    /// A margin: which, in millimetres.
    pub margin: Option<(&'static str, Odd<Mm>)>,
    /// The height of the staves.
    pub staff_height: Option<Odd<Mm>>,
    /// Copies for its reader, itself included.
    pub of: usize,
}

/// Copies of one reader from which it can be told what is usual: two against one.
const ENOUGH: usize = 3;
/// Lengths closer than this are the same: exporters round (practice study of open scores).
const SAME: Mm = Mm(0.5);
/// Staff heights closer than this are the same.
const SAME_HEIGHT: Mm = Mm(0.05);
const SIDES: [&str; 4] = ["left", "right", "top", "bottom"];

/// What more than half of the values are, if they agree.
fn usual<T: Clone>(values: &[T], same: impl Fn(&T, &T) -> bool) -> Option<T> {
    let found = values.iter().find(|one| values.iter().filter(|other| same(one, other)).count() * 2 > values.len());
    found.filter(|_| values.len() >= ENOUGH).cloned()
}

/// Holds copies for one reader against each other.
pub(super) fn others(looks: &[&Look]) -> Vec<Other> {
    let papers: Vec<([Mm; 2], String)> = looks.iter().filter_map(|look| look.paper.clone()).collect();
    let near = |one: Mm, other: Mm| (one - other).abs() <= SAME;
    let same_paper = |one: &([Mm; 2], String), other: &([Mm; 2], String)| near(one.0[0], other.0[0]) && near(one.0[1], other.0[1]);
    let paper = usual(&papers, same_paper);
    let margins: Vec<[Mm; 4]> = looks.iter().filter_map(|look| look.margins).collect();
    let same_margins = |one: &[Mm; 4], other: &[Mm; 4]| one.iter().zip(other).all(|(one, other)| near(*one, *other));
    let margin = usual(&margins, same_margins);
    let heights: Vec<Mm> = looks.iter().filter_map(|look| look.staff_height).collect();
    let height = usual(&heights, |one, other| (*one - *other).abs() <= SAME_HEIGHT);
    let one = |look: &&Look| {
        let other_paper = look.paper.as_ref().zip(paper.as_ref()).filter(|(here, usual)| !same_paper(here, usual));
        // On another paper the margins are others too, and that is told already.
        let other_margin = look.margins.zip(margin).filter(|_| other_paper.is_none()).and_then(|(here, usual)| {
            let sides = SIDES.into_iter().zip(here).zip(usual).map(|((side, here), usual)| (side, Odd { here, usual }));
            let off = |odd: &Odd<Mm>| (odd.here - odd.usual).abs();
            sides.filter(|(_, odd)| off(odd) > SAME).max_by(|(_, one), (_, other)| off(one).0.total_cmp(&off(other).0))
        });
        Other {
            paper: other_paper.map(|(here, usual)| Odd { here: here.1.clone(), usual: usual.1.clone() }),
            margin: other_margin,
            staff_height: look
                .staff_height
                .zip(height)
                .filter(|(here, usual)| (*here - *usual).abs() > SAME_HEIGHT)
                .map(|(here, usual)| Odd { here, usual }),
            of: looks.len(),
        }
    };
    looks.iter().map(one).collect()
}
