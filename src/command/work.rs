//! Many documents at once, results in order.

use super::paths::Item;
use super::{Failure, Input};
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use rayon::prelude::*;
use std::io::IsTerminal;
use std::panic::{AssertUnwindSafe, catch_unwind};

/// Does the same for every item on as many threads as asked for; the results are in the order of the items. A failure of
/// our own in one document is told at the end and never blamed on the score.
pub(super) fn each<T: Send>(items: &[Item], input: &Input, what: impl Fn(&Item) -> T + Sync) -> Result<Vec<T>, Failure> {
    let jobs = input.jobs.map_or(0, usize::from);
    let pool = rayon::ThreadPoolBuilder::new().num_threads(jobs).build();
    let pool = pool.map_err(|error| Failure::new(format!("no threads to work with: {error}"), "Try --jobs 1."))?;
    let progress = progress(items.len());
    let done: Vec<Option<T>> = pool.install(|| {
        items
            .par_iter()
            .map(|item| {
                let one = catch_unwind(AssertUnwindSafe(|| what(item))).ok();
                progress.inc(1);
                one
            })
            .collect()
    });
    progress.finish_and_clear();
    let failed: Vec<String> = items.iter().zip(&done).filter(|(_, one)| one.is_none()).map(|(item, _)| item.name()).collect();
    if failed.is_empty() {
        return Ok(done.into_iter().flatten().collect());
    }
    let what = format!("stavegauge itself failed on {}", failed.join(", "));
    Err(Failure::new(what, "This is a fault of the program, not of the score. Please report it with the file."))
}

/// A bar on standard error, if that is a terminal and there is something to wait for.
fn progress(items: usize) -> ProgressBar {
    const WORTH_SHOWING: usize = 4;
    let shown = items >= WORTH_SHOWING && std::io::stderr().is_terminal();
    let target = if shown { ProgressDrawTarget::stderr() } else { ProgressDrawTarget::hidden() };
    let style = ProgressStyle::with_template("{pos} of {len} copies {wide_bar}").unwrap_or_else(|_| ProgressStyle::default_bar());
    ProgressBar::with_draw_target(Some(items as u64), target).with_style(style)
}
