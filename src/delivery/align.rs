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
        // Bars that only the copy has are found nowhere.
        let more = usize::try_from(-shift).unwrap_or(0);
        let rest = |from: usize| there.get(from..).map_or(0, |rest| rest.iter().sum::<usize>());
        let mut before = 0;
        let mut after = rest(more);
        let mut best = (after, 0);
        for (bar, here) in here.iter().enumerate().take(all.saturating_sub(more)) {
            before += here;
            after -= there.get(bar + more).copied().unwrap_or(0);
            // Of equals the last: what is silent belongs to what goes before.
            if before + after >= best.0 {
                best = (before + after, bar + 1);
            }
        }
        Self { from: best.1, shift }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Bars of one head each, the copy's against the score's: `here` at the same place, `there` so many bars on.
    fn aligned(copy: &[u8], score: &[u8]) -> Alignment {
        let shift = isize::try_from(score.len()).expect("few") - isize::try_from(copy.len()).expect("few");
        let found = |bar: usize, at: Option<usize>| usize::from(at.and_then(|at| score.get(at)) == copy.get(bar));
        let here: Vec<usize> = (0..copy.len()).map(|bar| found(bar, Some(bar))).collect();
        let there: Vec<usize> = (0..copy.len()).map(|bar| found(bar, bar.checked_add_signed(shift))).collect();
        Alignment::best(&here, &there, shift)
    }

    #[test]
    fn a_bar_left_out_and_a_bar_more() {
        let less = aligned(b"abde", b"abcde");
        assert_eq!((less.from, less.shift), (2, 1));
        assert_eq!((less.to_score(1), less.to_score(2), less.to_copy(2), less.to_copy(3)), (Some(1), Some(3), None, Some(2)));
        let more = aligned(b"abxcde", b"abcde");
        assert_eq!((more.from, more.shift), (2, -1));
        assert_eq!((more.to_score(2), more.to_score(3), more.to_copy(2)), (None, Some(2), Some(3)));
        let same = aligned(b"abc", b"abc");
        assert_eq!((same.to_score(2), same.to_copy(2)), (Some(2), Some(2)));
        let end = aligned(b"abcd", b"abc");
        assert_eq!((end.from, end.to_score(3)), (3, None));
    }
}
