//! How a file is printed: as it is, at a percentage, or fitted to another paper. Every millimetre judged is a printed one.

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
    On(Sheet),
}

/// The paper that something is printed on, upright.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    /// Its name.
    pub name: String,
    /// The shorter side.
    pub width: Mm,
    /// The longer side.
    pub height: Mm,
}

/// Why the printed size is not known.
const NO_SIZE: &str = "the page size is not stated, so it cannot be known how small it is printed";
/// What is not known of a file that is printed at a percentage.
pub(super) const NO_SHEET: &str = "it is printed smaller or larger, and on which paper is not said";

impl Sheet {
    /// The sheet turned as a page of some size lies.
    fn turned(&self, page: (Mm, Mm)) -> (Mm, Mm) {
        if page.0 > page.1 { (self.height, self.width) } else { (self.width, self.height) }
    }

    /// Share of its size at which a page just fits on the sheet.
    fn fits(&self, page: (Mm, Mm)) -> f64 {
        let sheet = self.turned(page);
        (sheet.0 / page.0).min(sheet.1 / page.1)
    }
}

impl Printing {
    /// The share of its size at which a file with pages of these sizes is printed: one for all of them, so that the largest fits.
    pub(super) fn share(&self, pages: impl Iterator<Item = (Mm, Mm)>) -> Known<f64> {
        match self {
            Self::AsIs => Known::Derived(1.0),
            Self::At(share) => Known::Derived(*share),
            Self::On(sheet) => {
                let sized = pages.filter(|(width, height)| width.min(*height) > Mm::ZERO);
                sized.map(|page| sheet.fits(page)).reduce(f64::min).map_or(Known::Unknown(NO_SIZE), Known::Derived)
            }
        }
    }

    /// White that the sheet adds at each of left and right, and of top and bottom, to a page of this printed size.
    pub(super) fn slack(&self, page: (Mm, Mm)) -> (Mm, Mm) {
        let Self::On(sheet) = self else { return (Mm::ZERO, Mm::ZERO) };
        let sheet = sheet.turned(page);
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

    fn sheet(width: f64, height: f64) -> Printing {
        Printing::On(Sheet { name: String::new(), width: Mm(width), height: Mm(height) })
    }

    /// Arithmetic on ISO 216 (A3, A4) and ANSI/ASME Y14.1 (Letter 8.5 x 11 in): the smaller of the two ratios.
    #[test]
    fn the_smaller_ratio_counts_whichever_way_a_page_lies() {
        for (to, page, expected) in [
            ((215.9, 279.4), (210.0, 297.0), 279.4 / 297.0),
            ((210.0, 297.0), (297.0, 420.0), 297.0 / 420.0),
            ((210.0, 297.0), (420.0, 297.0), 297.0 / 420.0),
        ] {
            let share = sheet(to.0, to.1).share([(Mm(page.0), Mm(page.1))].into_iter());
            assert!(share.value().is_some_and(|share| (share - expected).abs() < 1e-12), "{to:?} {page:?}");
        }
        assert_eq!(sheet(210.0, 297.0).share(std::iter::empty()), Known::Unknown(NO_SIZE));
    }

    #[test]
    fn what_is_left_of_the_sheet_goes_to_both_sides() {
        let (across, down) = sheet(215.9, 279.4).slack((Mm(197.556), Mm(279.4)));
        assert!((across.0 - 9.172).abs() < 1e-9 && down == Mm::ZERO);
    }
}
