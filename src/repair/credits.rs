//! Titles, running heads and foot lines in another layout: they move with their pages.

use super::Relaid;
use crate::score::{Credit, Score};
use crate::units::{Mm, Scale, Tenths};

/// Places of the margins among the four.
const LEFT: usize = 0;
const RIGHT: usize = 1;
const TOP: usize = 2;
pub(super) const BOTTOM: usize = 3;

/// A distance from an edge where a margin is another than it was: what stands inside the margin keeps its distance from it, what stands
/// in the margin its share of it.
pub(super) fn from_edge(distance: Mm, was: Mm, is: Mm) -> Mm {
    if distance >= was { distance - was + is } else { distance * (is / was) }
}

impl Relaid {
    /// The same for one of its margins.
    fn kept(&self, distance: Mm, margin: usize) -> Mm {
        self.old_margins.map_or(distance, |old| from_edge(distance, old[margin], self.margins[margin]))
    }
}

/// What a credit of a later page is.
#[derive(PartialEq)]
enum Running<'a> {
    /// The number of its page.
    Number,
    /// A text that stands on several pages, or that names the copy.
    Head(&'a str),
}

/// What stands on every page from the second on; `None` for a text of one page.
fn running<'a>(credit: &'a Credit, score: &Score) -> Option<Running<'a>> {
    let text = credit.words.iter().map(|words| words.text.trim()).find(|text| !text.is_empty())?;
    if credit.page < 2 {
        return None;
    }
    if is_number(text) || credit.kinds.iter().any(|kind| kind == "page number") {
        return Some(Running::Number);
    }
    let says_so = |other: &Credit| other.words.iter().any(|words| words.text.trim() == text);
    let again = score.credits.iter().filter(|other| other.page >= 2 && says_so(other)).count() > 1;
    let titles = score.work_title.iter().chain(&score.movement_title).map(String::as_str);
    let names = score.parts.iter().map(|part| &*part.name).chain(titles).any(|name| name.trim() == text);
    (again || names).then_some(Running::Head(text))
}

/// Whether a text is figures and nothing else.
pub(super) fn is_number(text: &str) -> bool {
    let text = text.trim();
    !text.is_empty() && text.chars().all(|letter| letter.is_ascii_digit())
}

/// Where a credit stands in another layout.
pub(super) struct NewPages {
    /// The pages, from 1: none where another credit speaks for this one.
    pub pages: Vec<usize>,
    /// It is the number of its page.
    pub numbers: bool,
}

/// The pages that a credit stands on then. What stood on a later page goes to the page that holds what that page began with; running
/// heads and page numbers stand on every page.
pub(super) fn new_pages(credit: &Credit, score: &Score, relaid: &Relaid) -> NewPages {
    let head = running(credit, score);
    let page = credit.page as usize;
    let pages = if head.is_some() {
        // The first that says it speaks for all pages; the others would say it twice.
        let first = score.credits.iter().find(|other| running(other, score) == head);
        if first.is_some_and(|first| std::ptr::eq(first, credit)) { (2..=relaid.pages).collect() } else { Vec::new() }
    } else {
        let moved = page.checked_sub(1).and_then(|index| relaid.moved_pages.get(index).copied());
        vec![moved.unwrap_or(page).clamp(1, relaid.pages.max(1))]
    };
    NewPages { pages, numbers: head == Some(Running::Number) }
}

/// The paper that credits stand on now.
pub(super) struct OldPaper {
    scale: Scale,
    size: [Mm; 2],
}

impl OldPaper {
    /// That of a score; `None` where no size of it is stated: then no position means anything.
    pub fn of(score: &Score) -> Option<Self> {
        let instructions = &score.instructions;
        let scale = instructions.scale?.value;
        Some(Self { scale, size: [scale.mm(instructions.page.width?.value), scale.mm(instructions.page.height?.value)] })
    }

    /// A distance from the left edge, on the new paper: left and right keep their distance from that margin, the middle stays the middle.
    pub fn x(&self, x: Tenths, relaid: &Relaid) -> Tenths {
        let x = self.scale.mm(x);
        let share = x / self.size[0];
        let new = if share < 1.0 / 3.0 {
            relaid.kept(x, LEFT)
        } else if share > 2.0 / 3.0 {
            relaid.paper[0] - relaid.kept(self.size[0] - x, RIGHT)
        } else {
            relaid.paper[0] * share
        };
        relaid.tenths(new)
    }

    /// A distance from the lower edge, on the new paper: what stands in the upper half keeps its distance from the upper margin.
    pub fn y(&self, y: Tenths, relaid: &Relaid) -> Tenths {
        let y = self.scale.mm(y);
        let below_middle = y / self.size[1] < 0.5;
        relaid.tenths(if below_middle { relaid.kept(y, BOTTOM) } else { relaid.paper[1] - relaid.kept(self.size[1] - y, TOP) })
    }
}
