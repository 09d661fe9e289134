//! Which bar of a copy is which bar of a score, where one of them has bars more than the other.

/// How the bars of a copy lie on those of a score: up to a bar they are the same; from there on so many bars of the one, or
/// of the other, are left out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Alignment {
    /// First bar of the copy, from 0, that is not at the same place.
    pub from: usize,
    /// How many bars later it stands in the score; earlier where negative.
    pub shift: isize,
}

impl Alignment {
    /// The score's bar for one of the copy's. Bars that only the copy has are nowhere.
    pub fn to_score(self, bar: usize) -> Option<usize> {
        if bar < self.from {
            return Some(bar);
        }
        let there = bar.checked_add_signed(self.shift)?;
        (there >= self.from).then_some(there)
    }

    /// The copy's bar for one of the score's. Bars that only the score has are nowhere.
    pub fn to_copy(self, bar: usize) -> Option<usize> {
        if bar < self.from {
            return Some(bar);
        }
        let there = bar.checked_add_signed(-self.shift)?;
        (there >= self.from).then_some(there)
    }

    /// The best one: the heads of a copy that are found, bar by bar, where it stands, and where it would stand with all bars
    /// that one has more left out before it.
    pub fn best(here: &[usize], there: &[usize], shift: isize) -> Self {
        let all = here.len();
        if shift == 0 {
            return Self { from: all, shift: 0 };
        }
        let mut found: usize = there.iter().sum();
        let mut best = (found, 0);
        for bar in 0..all {
            found = found + here.get(bar).copied().unwrap_or(0) - there.get(bar).copied().unwrap_or(0);
            // Of equals the last: what is silent belongs to what goes before.
            if found >= best.0 {
                best = (found, bar + 1);
            }
        }
        Self { from: best.1, shift }
    }
}
