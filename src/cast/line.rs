//! Lines: what any run of bars would be worth as one system.

use super::cost;
use super::page::Impossible;
use crate::room::across::Widths;
use crate::units::Sp;

/// Most lines that are weighed for one piece: thirty for each of 200,000 bars.
const MOST_LINES: usize = 6_000_000;

/// A bar line at which a line may end.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum At {
    /// Like any other.
    #[default]
    Plain,
    /// A double bar or a rehearsal mark: a good place.
    Good,
    /// Inside an ending.
    InEnding,
    /// No line ends here: inside a multi-bar rest.
    Never,
    /// A line must end here: the end of a movement, a break that is kept.
    Always,
}

/// What a bar needs in each of its two places.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Setting {
    /// As the first of a line.
    pub opening: Widths,
    /// Within a line.
    pub inside: Widths,
    /// Room of clef, key and time before it where it opens a line.
    pub beginning: Sp,
    /// Room of the signs that announce it at the end of the line before.
    pub announced: Sp,
    /// Width of a line that it opens, from end to end.
    pub line: Sp,
    /// It takes no room of its own: a bar of a multi-bar rest after its first.
    pub gathered: bool,
    /// It ends a movement: a line that ends with it may stay short.
    pub ends_movement: bool,
    /// The bar line before it.
    pub before: At,
}

/// One run of bars as a line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LineFaults {
    /// What is wrong with it.
    pub faults: f64,
    /// How far its room is from natural, in steps.
    pub steps: f64,
    /// Room against natural.
    pub of_natural: f64,
    /// Its one bar needs more room than it has, by so much.
    pub overfull: Option<Sp>,
}

/// For every bar, the lines that could begin with it: by the bars they hold, from one. `None` for what is no line at all; a row
/// ends where more bars never fit.
///
/// # Errors
/// [`Impossible::TooMuch`] where lines hold so many bars each that nobody could have meant it.
pub fn lines(bars: &[Setting]) -> Result<Vec<Vec<Option<LineFaults>>>, Impossible> {
    let mut left = MOST_LINES;
    let mut table = Vec::with_capacity(bars.len());
    for first in 0..bars.len() {
        let row = from(bars, first, left);
        left = left.checked_sub(row.len()).filter(|left| *left > 0).ok_or(Impossible::TooMuch)?;
        table.push(row);
    }
    Ok(table)
}

/// At most so many.
fn from(bars: &[Setting], first: usize, most: usize) -> Vec<Option<LineFaults>> {
    let mut found = Vec::new();
    if bars[first].before == At::Never {
        return found;
    }
    let mut widths = Widths::default();
    let mut shown = 0;
    for end in (first + 1..=bars.len()).take(most) {
        let bar = &bars[end - 1];
        if end > first + 1 && bar.before == At::Always {
            break;
        }
        widths = widths + if end == first + 1 { bar.opening } else { bar.inside };
        shown += usize::from(!bar.gathered || end == first + 1);
        let next = bars.get(end);
        let at = next.map_or(At::Plain, |next| next.before);
        if at == At::Never {
            found.push(None);
            continue;
        }
        let ends = bar.ends_movement || next.is_none();
        let announced = next.filter(|_| !ends).map_or(Sp::ZERO, |next| next.announced);
        let available = bars[first].line - bars[first].beginning - announced;
        let overfull = widths.least > available;
        if overfull && shown > 1 {
            break;
        }
        let steps = widths.steps(available);
        let faults = if overfull { cost::OVERFULL } else { cost::line(steps, ends, at == At::Good) };
        let faults = faults + if at == At::InEnding { cost::BREAK_IN_ENDING } else { 0.0 };
        let of_natural = available / widths.natural;
        let overfull = overfull.then(|| widths.least - available);
        found.push(Some(LineFaults { faults, steps, of_natural, overfull }));
    }
    found
}
