//! One choice of paper, staff height and margins.

use super::Ground;
use crate::cast::PagesWanted;
use crate::house::{House, Role};
use crate::page::Side;
use crate::units::Mm;

/// Margins where neither the file nor anybody else says any (common practice, no source).
const USUAL_MARGIN: Mm = Mm(15.0);
/// Staff height where nobody says any: that of the standard's own example.
const USUAL_STAFF: Mm = Mm(7.0);
/// Paper where nobody says any.
const USUAL_PAPER: &str = "A4";

/// A page: its paper and margins.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Page {
    /// Width of the paper.
    pub width: Mm,
    /// Height of the paper.
    pub height: Mm,
    /// Left, right, top and bottom margin; left and right change places on left-hand pages where they differ in the file.
    pub margins: [Mm; 4],
}

/// Most work on one casting off (see [`crate::cast::Pages::most_work`]): what a part of some 200,000 bars of notes of all lengths
/// takes.
const MOST_WORK: u64 = 4_000_000_000;

/// Breaks by hand, each before a bar, by its index.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct HandBreaks {
    /// A system begins there.
    pub systems: Vec<usize>,
    /// A page begins there.
    pub pages: Vec<usize>,
    /// No system begins there.
    pub never: Vec<usize>,
}

/// What a casting off is asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// Paper and margins.
    pub page: Page,
    /// Height of the staves, of the size that most have.
    pub staff: Mm,
    /// Side of the first page; `None` where either will do.
    pub first: Option<Side>,
    /// How many pages.
    pub wanted: PagesWanted,
    /// The breaks of the file stay.
    pub keep_breaks: bool,
    /// Breaks that are wanted or forbidden by hand.
    pub breaks: HandBreaks,
    /// No gap is closer than natural to the eye.
    pub natural_gaps: bool,
    /// How much work it may be; see [`crate::cast::Pages::most_work`].
    pub most_work: u64,
    /// What had to be assumed, in words.
    pub assumed: Vec<String>,
}

/// The plan that a file has now; what it does not say is taken from the house and the reader, and said.
pub fn usual_plan(ground: &Ground, house: &House, role: Option<&Role>) -> Plan {
    let mut assumed = Vec::new();
    let present = &ground.present;
    let (width, height) = present.paper.unwrap_or_else(|| {
        let wanted = house.wanted_papers.first().map(String::as_str);
        let suits = || house.papers.all().iter().find(|paper| role.is_some_and(|role| paper.serves(&role.name) == Some(true)));
        let named = wanted.and_then(|name| house.papers.get(name).ok()).or_else(suits).or_else(|| house.papers.get(USUAL_PAPER).ok());
        let (name, size) = named.map_or((USUAL_PAPER, (Mm(210.0), Mm(297.0))), |paper| (&paper.name, (paper.width, paper.height)));
        assumed.push(format!("the file states no page size that can be used: reckoned on {name}"));
        size
    });
    let margins = present.margins.unwrap_or_else(|| {
        assumed.push(format!("the file states no margins: reckoned with {} mm all round", USUAL_MARGIN.0));
        [USUAL_MARGIN; 4]
    });
    let staff = present.staff.unwrap_or_else(|| {
        let ideal = role.map(|role| role.heights(house.light).ideal.value);
        let staff = ideal.unwrap_or(USUAL_STAFF);
        assumed.push(format!(
            "the file states no staff height: reckoned at {} mm{}",
            staff.0,
            if ideal.is_some() { ", the reader's own" } else { "" }
        ));
        staff
    });
    Plan {
        page: Page { width, height, margins },
        staff,
        first: Some(present.first),
        wanted: PagesWanted::Any,
        keep_breaks: false,
        breaks: HandBreaks::default(),
        natural_gaps: false,
        most_work: MOST_WORK,
        assumed,
    }
}
