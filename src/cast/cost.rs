//! What a fault weighs: lines, pages and turns in one currency (spacing study of open scores, section "casting off").

use crate::turn::{EASY, NEED};

/// A line that cannot hold its one bar.
pub const OVERFULL: f64 = 1e9;
/// A line that is left short at the end of its movement weighs at most this.
const LAST_LINE: f64 = 3000.0;
/// Added where a line ends inside an ending.
pub const BREAK_IN_ENDING: f64 = 200.0;
/// Share of its faults that a line keeps where it ends at a double bar or a rehearsal mark.
const GOOD_BREAK: f64 = 0.7;
/// Every page.
pub(super) const PAGE: f64 = 500.0;
/// A blank page (our own).
pub(super) const BLANK_PAGE: f64 = 4000.0;
/// A first page on the left, behind a cover, where either side will do (our own).
pub(super) const BEGINS_VERSO: f64 = 1500.0;
/// Gaps are never wider than three steps from comfortable: more is no worse.
pub(super) const FURTHEST: f64 = 3.0;

/// Badness of being so many steps from natural.
fn badness(steps: f64) -> f64 {
    (1.0 + 100.0 * steps.abs().powi(3)).powi(2)
}

/// Faults of a line whose room is so many steps from natural; `last` of its movement; `good_break` at its end.
pub fn line(steps: f64, last: bool, good_break: bool) -> f64 {
    let crowded = if steps < -1.0 { 1e6 * (-steps - 1.0) } else { 0.0 };
    let faults = badness(steps) + crowded;
    let faults = if last && steps > 0.0 { faults.min(LAST_LINE) } else { faults };
    if good_break { faults * GOOD_BREAK } else { faults }
}

/// Faults of a page whose gaps are so many steps from comfortable; the last page of a piece may stand open.
pub fn vertical(steps: f64, last: bool) -> f64 {
    if last && steps > 0.0 { badness(0.0) } else { badness(steps.min(FURTHEST)) }
}

/// Faults of a page whose gaps are natural and whose foot is left white, by the share of its height (our own: the repair that the trade itself
/// uses where no further system fits).
pub fn short_page(white: f64) -> f64 {
    1500.0 + 20_000.0 * white.powi(2)
}

/// Faults of a last page after the first that is filled to less than half.
pub fn fill(share: f64) -> f64 {
    let missing = (0.5 - share).max(0.0) / 0.5;
    10_000.0 * missing * missing
}

/// Faults of a turn with so many seconds.
pub fn turn(seconds: f64) -> f64 {
    if seconds >= EASY {
        0.0
    } else if seconds >= NEED {
        10_000.0 * ((EASY - seconds) / (EASY - NEED)).powi(2)
    } else {
        30_000.0 + 15_000.0 * (NEED - seconds) / NEED
    }
}

/// Steps of gaps are compared across an opening in so many parts.
pub(super) const EVENNESS_PARTS: f64 = 4.0;
/// From here on two pages differ as much as they can.
const UNEVEN_FROM: f64 = 2.0;
/// Two facing pages whose gaps differ by a whole step, which the eye sees at once (our own).
const UNEVEN: f64 = 4000.0;
/// The most that two facing pages weigh.
pub(super) const MOST_UNEVEN: f64 = UNEVEN * UNEVEN_FROM * UNEVEN_FROM;

/// Faults of two facing pages whose gaps differ by so many steps.
pub fn uneven(steps: f64) -> f64 {
    UNEVEN * steps.min(UNEVEN_FROM).powi(2)
}
