//! Down: how much of a page's height its systems need, how many would fit, and what would make room for one more.

use crate::units::Mm;

/// Gap that two staves of a system need at most, in heights of the upper staff.
pub const STAFF_GAP_HEIGHTS: f64 = 1.75;
/// Gap that two systems need at most, in staff heights.
pub const SYSTEM_GAP_HEIGHTS: f64 = 2.5;
/// The same between the lines of a part of one staff, where players write: the published norm of ten 8 mm staves on
/// JIS B4 (orchestra library guidelines "Parts") comes to this.
pub const LINE_GAP_HEIGHTS: f64 = 3.7;
/// Margin that a repair may go down to (common practice, no source).
pub const LEAST_MARGIN: Mm = Mm(10.0);

/// Natural gap of a pair: the usual one, or what its ink needs comfortably where that is more, or the one it has where that is less.
pub fn natural_gap(gap: Mm, usual: Mm, comfortable: Mm) -> Mm {
    gap.min(usual.max(comfortable))
}

/// The needs of one page, top to bottom.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PageNeed {
    /// Height between head and foot.
    pub usable: Mm,
    /// Mean need of its systems.
    pub system: Mm,
    /// Least gap needed between two of them.
    pub between: Mm,
    /// Systems it holds.
    pub systems: u32,
    /// Height of its staves: that of most.
    pub staff_height: Mm,
    /// The larger of its top and bottom margins.
    pub margins: (Mm, Mm),
}

/// What would make room for one more system.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OneMore {
    /// Staff height, rounded down to a tenth of a millimetre.
    pub staff_height: Mm,
    /// Top and bottom margin, rounded down to half a millimetre.
    pub margin: Mm,
}

impl PageNeed {
    /// Most systems of this need that fit.
    pub fn systems_that_fit(&self) -> u32 {
        let pitch = self.system + self.between;
        if pitch <= Mm::ZERO {
            return self.systems;
        }
        // A page that is full to the last hair holds what it holds.
        let fit = ((self.usable + self.between) / pitch + 1e-6).floor();
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "between 0 and a few hundred")]
        let fit = fit.clamp(0.0, 1e6) as u32;
        fit
    }

    /// The nearest staff height and margins at which one system more than it holds would fit: margins are taken in
    /// before staves are made smaller. `None` where nothing can be reckoned.
    pub fn one_more(&self) -> Option<OneMore> {
        let wanted = f64::from(self.systems + 1);
        let needs = self.system * wanted + self.between * (wanted - 1.0);
        if needs <= Mm::ZERO || self.usable <= Mm::ZERO {
            return None;
        }
        let (top, bottom) = self.margins;
        let give = |margin: Mm| (margin - LEAST_MARGIN).max(Mm::ZERO);
        let most = self.usable + give(top) + give(bottom);
        let widest = top.max(bottom);
        if needs <= most {
            // Both margins come in alike, as far as each can.
            let missing = (needs - self.usable).max(Mm::ZERO);
            let mut margin = widest;
            let step = Mm(0.5);
            while margin > LEAST_MARGIN && (top - margin).max(Mm::ZERO) + (bottom - margin).max(Mm::ZERO) < missing {
                margin = margin - step;
            }
            let margin = margin.max(LEAST_MARGIN.min(widest));
            return Some(OneMore { staff_height: self.staff_height, margin: Mm((margin.0 * 2.0).floor() / 2.0) });
        }
        let height = self.staff_height * (most / needs);
        Some(OneMore { staff_height: Mm((height.0 * 10.0 + 1e-6).floor() / 10.0), margin: LEAST_MARGIN.min(widest) })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn need(usable: f64, system: f64, between: f64, systems: u32) -> PageNeed {
        PageNeed {
            usable: Mm(usable),
            system: Mm(system),
            between: Mm(between),
            systems,
            staff_height: Mm(5.5),
            margins: (Mm(15.0), Mm(15.0)),
        }
    }

    /// Orchestra library guidelines "Parts" (trade): ten 8 mm staves on JIS B4 (JIS P 0138) with margins of 10 mm.
    #[test]
    fn the_published_norm_is_full() {
        let gap = Mm((344.0 - 80.0) / 9.0);
        let between = natural_gap(gap, Mm(8.0) * LINE_GAP_HEIGHTS, Mm::ZERO);
        assert_eq!(need(344.0, 8.0, between.0, 10).systems_that_fit(), 10);
    }

    #[test]
    fn margins_come_before_staves() {
        let page = need(267.0, 133.0, 10.0, 1);
        assert_eq!(page.systems_that_fit(), 1);
        assert_eq!(page.one_more(), Some(OneMore { staff_height: Mm(5.5), margin: Mm(10.5) }));
        let page = need(267.0, 150.0, 13.75, 1);
        let more = page.one_more().expect("a smaller staff does it");
        assert_eq!(more.margin, Mm(10.0));
        let factor = more.staff_height / page.staff_height;
        assert!((page.system * 2.0 + page.between).0 * factor <= 277.0, "what is named must fit");
    }
}
