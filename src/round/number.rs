//! Numbers of corrections: the same in every round.

use super::{Round, matching};
use crate::audit::DocumentAudit;

/// Numbers the corrections of every copy in their order. Those that an earlier round has too keep their number; new ones get
/// numbers that were never given before.
pub fn number(documents: &mut [DocumentAudit], before: Option<&Round>) {
    for document in &mut *documents {
        for (number, placed) in (1..).zip(&mut document.findings) {
            placed.number = number;
        }
        document.last_number = u32::try_from(document.findings.len()).unwrap_or(u32::MAX);
    }
    let Some(before) = before else { return };
    let now = Round::of(documents);
    for (old, new) in matching::copies(before, &now) {
        let (earlier, document) = (&before.copies[old], &mut documents[new]);
        let mut kept = vec![None; document.findings.len()];
        for (old, new) in matching::findings(&earlier.findings, &now.copies[new].findings) {
            kept[new] = Some(earlier.findings[old].number);
        }
        let mut last = earlier.last_number;
        for (placed, kept) in document.findings.iter_mut().zip(kept) {
            placed.number = kept.unwrap_or_else(|| {
                last += 1;
                last
            });
        }
        document.last_number = last;
    }
}
