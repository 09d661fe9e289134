//! How the time of a casting off grows with the bars of a piece.
//!
//! ```text
//! cargo bench --bench castoff
//! ```
//!
//! Invented parts of 100 to 1,600 bars with pages, turns, either side of the first page and pages left short, each cast off several
//! times. The yardstick is the part of 100 bars in the same run: work that grows with the bars comes to their ratio.

use stavegauge::cast::{Down, Line, Pages, PagesWanted, Setting, Sheet, cast_off, lines};
use stavegauge::room::across::Widths;
use stavegauge::units::{Mm, Sp};
use std::time::{Duration, Instant};

/// Parts of so many bars.
const BARS: [u32; 5] = [100, 200, 400, 800, 1_600];
/// Runs of each; the middle one counts.
const RUNS: usize = 9;

fn main() {
    let mut first = None;
    println!("bars   pages  milliseconds  against 100 bars");
    for bars in BARS {
        let mut times = Vec::with_capacity(RUNS);
        let mut pages = 0;
        for _ in 0..RUNS {
            let begun = Instant::now();
            pages = cast(bars);
            times.push(begun.elapsed());
        }
        times.sort_unstable();
        let middle: Duration = times[RUNS / 2];
        let yardstick = *first.get_or_insert(middle);
        let ratio = middle.as_secs_f64() / yardstick.as_secs_f64();
        println!("{bars:<6} {pages:<6} {:<13.2} {ratio:.1}", middle.as_secs_f64() * 1000.0);
    }
}

/// Casts off a part of so many bars, lines and pages; the pages it came to.
fn cast(bars: u32) -> usize {
    let mut seed = 1_u32;
    let mut next = move || {
        // A linear congruential generator (Numerical Recipes): the same parts in every run.
        seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        f64::from(seed >> 8) / f64::from(1 << 24)
    };
    let settings: Vec<Setting> = (0..bars)
        .map(|_| {
            let natural = 12.0 + 20.0 * next();
            let widths = Widths { least: Sp(natural * 0.6), short: Sp(natural * 0.75), natural: Sp(natural), stretched: Sp(natural * 1.4) };
            Setting { opening: widths, inside: widths, beginning: Sp(7.0), line: Sp(105.0), ..Setting::default() }
        })
        .collect();
    let turns: Vec<f64> = (0..=bars).map(|_| if next() < 0.1 { 6.0 } else { 0.0 }).collect();
    let half = Down { close: Mm(10.0), natural: Mm(12.0), generous: Mm(16.0) };
    let line = |faults| Line { faults, body: Down::fixed(Mm(8.0)), above: half, below: half };
    let Ok(found) = lines(&settings) else { return 0 };
    let lines: Vec<Vec<Option<Line>>> =
        found.into_iter().map(|row| row.into_iter().map(|found| found.map(|found| line(found.faults))).collect()).collect();
    let count = settings.len();
    let work = Pages {
        lines: &lines,
        own_page: &vec![false; count + 1],
        heading: &vec![Mm::ZERO; count],
        turns: Some(&turns),
        sheet: Sheet { height: Mm(310.0), first: Mm(285.0), may_stay_short: true },
        first: None,
        wanted: PagesWanted::Any,
        most_work: u64::MAX,
        in_view: None,
    };
    cast_off(&work).map_or(0, |casting| casting.pages.len())
}
