//! Casting off: which bars go into which system, and which systems onto which page.
//!
//! Both are decided together and for the whole piece at once: the least sum of faults over all divisions, by dynamic programming (Knuth &
//! Plass 1981, "Breaking paragraphs into lines"; Hegazy & Gourlay 1988, "Optimal line breaking in music"; the badness is theirs, weights
//! are of the spacing study). Nothing here knows where numbers come from: it weighs what it is given.

mod cost;
mod divide;
mod line;
mod page;
mod spacing;
mod weigh;

pub use cost::{BREAK_IN_ENDING, OVERFULL, fill, line as line_faults, short_page, turn as turn_faults, uneven, vertical};
pub use divide::cast_off;
pub use line::{At, LineFaults, Setting, lines};
pub use page::{Casting, Down, Faults, Impossible, Line, Page, Pages, PagesWanted, Sheet};
pub use weigh::{Standing, weigh};
