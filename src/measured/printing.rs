//! How a file is printed: as it is, at a percentage, or fitted to another paper. Every millimetre judged is a printed one.

use crate::house::{Paper, Papers};
use crate::place::Known;
use crate::units::Mm;

/// How a file is printed.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum Printing {
    /// In its own size.
    #[default]
    AsIs,
    /// At a share of its size (1 is its own size); on which paper is not said.
    At(f64),
    /// As large as it fits on a paper.
    On(Box<Paper>),
}

/// Why the printed size is not known.
const NO_SIZE: &str = "the page size is not stated, so it cannot be known how small it is printed";
/// What is not known of a file that is printed at a percentage.
pub(super) const NO_SHEET: &str = "it is printed smaller or larger, and on which paper is not said";

/// A paper turned as a page of some size lies.
fn turned(paper: &Paper, page: (Mm, Mm)) -> (Mm, Mm) {
    if page.0 > page.1 { (paper.height, paper.width) } else { (paper.width, paper.height) }
}

impl Printing {
    /// The share of its size at which a file with pages of these sizes is printed: one for all of them, so that the largest fits.
    pub(super) fn share(&self, pages: impl Iterator<Item = (Mm, Mm)>) -> Known<f64> {
        match self {
            Self::AsIs => Known::Derived(1.0),
            Self::At(share) => Known::Derived(*share),
            Self::On(paper) => {
                let sized = pages.filter(|(width, height)| width.min(*height) > Mm::ZERO);
                sized.map(|page| Papers::factor(page, paper)).reduce(f64::min).map_or(Known::Unknown(NO_SIZE), Known::Derived)
            }
        }
    }

    /// White that the sheet adds at each of left and right, and of top and bottom, to a page of this printed size.
    pub(super) fn slack(&self, page: (Mm, Mm)) -> (Mm, Mm) {
        let Self::On(paper) = self else { return (Mm::ZERO, Mm::ZERO) };
        let sheet = turned(paper, page);
        (((sheet.0 - page.0) * 0.5).max(Mm::ZERO), ((sheet.1 - page.1) * 0.5).max(Mm::ZERO))
    }

    /// Whether the size of the sheet is not known, since a percentage says nothing of the paper.
    pub(super) fn sheet_unknown(&self) -> bool {
        matches!(self, Self::At(share) if (share - 1.0).abs() > 1e-9)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn on(paper: &str) -> Printing {
        let papers = crate::house::House::built_in().expect("it loads").papers;
        Printing::On(Box::new(papers.get(paper).expect("it is known").clone()))
    }

    /// Arithmetic on ISO 216 (A3 297 x 420, A4 210 x 297 mm) and ANSI/ASME Y14.1 (Letter 8.5 x 11 in). Of pages of two sizes
    /// the larger must fit.
    #[test]
    fn one_share_for_all_pages() {
        let (a3, a4) = ((Mm(297.0), Mm(420.0)), (Mm(210.0), Mm(297.0)));
        for (to, pages, expected) in [("Letter", &[a4][..], 279.4 / 297.0), ("A4", &[a3], 210.0 / 297.0), ("A4", &[a4, a3], 210.0 / 297.0)]
        {
            let share = on(to).share(pages.iter().copied());
            assert!(share.value().is_some_and(|share| (share - expected).abs() < 1e-12), "{to} {pages:?}");
        }
        assert_eq!(on("A4").share(std::iter::empty()), Known::Unknown(NO_SIZE));
    }

    #[test]
    fn what_is_left_of_the_sheet_goes_to_both_sides() {
        let (across, down) = on("Letter").slack((Mm(197.556), Mm(279.4)));
        assert!((across.0 - 9.172).abs() < 1e-9 && down == Mm::ZERO);
        let (across, down) = on("Letter").slack((Mm(279.4), Mm(197.556)));
        assert!((down.0 - 9.172).abs() < 1e-9 && across == Mm::ZERO);
    }
}
