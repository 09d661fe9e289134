//! Down: how far the music of a staff hangs out of its lines, what neighbouring staves and systems need between them, and how much of a
//! page's height its systems take.
//!
//! Ink is reckoned column by column across the page: where notes and marks state their place, in narrow columns, else a column a
//! bar. What the file states of heights wins; what it leaves out takes usual sizes (spacing study of open scores, section "room
//! down"; from memory where nothing else is said).

mod extent;
mod mark;
mod need;
mod page;
mod skyline;
mod staff;

pub use need::{Between, Need, Pair, need};
pub use page::{LEAST_MARGIN, LINE_GAP_HEIGHTS, OneMore, PageNeed, STAFF_GAP_HEIGHTS, SYSTEM_GAP_HEIGHTS, natural_gap};
pub use skyline::{Axis, Skyline, hangs_in};
pub use staff::{Ink, ink, ink_instead};
