//! The repair: what a score could be, on which paper, at which staff height, with which margins and breaks.
//!
//! A [`Ground`] is what stays the same whatever is planned: the music, what it needs down the page, where it could be turned. A [`Plan`] is
//! one choice of paper, staff height and margins. Together they give the best casting off there is ([`cast_off`]), and a grid of plans gives
//! what fits ([`fit`]).

mod credits;
mod fit;
mod ground;
mod pieces;
mod places;
mod plan;
mod relaid;
mod rework;
mod rewrite;
mod sheet;
mod words;
mod work;

pub use fit::{Choice, Fit, Fitted, Grid, Sheet, Suits, fit};
pub use ground::{Ground, Present, TurnKind};
pub use plan::{HandBreaks, Page, Plan, usual_plan};
pub use relaid::{Relaid, RelaidSystem};
pub use rework::Rework;
pub use rewrite::{Refused, rewrite};
pub use sheet::{CastingSheet, Figures, SheetPage, SheetSystem, SheetTurn};
pub use words::impossible;
pub use work::{CastOff, Line, cast_off, worth_now};
