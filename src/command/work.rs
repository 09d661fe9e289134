//! Many documents at once, results in order.

use super::{Failure, Input};
use crate::report::plain::plain;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use rayon::prelude::*;
use std::io::{IsTerminal, Write};
use std::num::NonZero;
use std::panic::{AssertUnwindSafe, catch_unwind};

/// Does the same for every item on as many threads as asked for; the results are in the order of the items. `None`
/// stands where the program itself failed: that stops no other item and is never blamed on the score.
///
/// # Errors
/// Threads that cannot be had.
pub(super) fn each<I: Sync, T: Send>(items: &[I], input: &Input, what: impl Fn(&I) -> T + Sync) -> Result<Vec<Option<T>>, Failure> {
    let jobs = input.jobs.map_or(0, usize::from);
    let threads = || rayon::ThreadPoolBuilder::new().num_threads(jobs);
    // This thread works too instead of waiting. It can do so for one pool only: `watch` makes more.
    let pool = threads().use_current_thread().build().or_else(|_| threads().build());
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
    Ok(done)
}

/// Threads that are asked for: without a word as many as there are cores.
pub(super) fn threads(input: &Input) -> usize {
    input.jobs.map_or_else(|| std::thread::available_parallelism().map_or(1, NonZero::get), usize::from)
}

/// Says something on standard error. Where that is closed there is nobody to talk to.
pub(super) fn talk(what: &str) {
    let _ = writeln!(std::io::stderr(), "stavegauge: {}", plain(what));
}

/// What there is to say of files on which the program itself failed, once all reports are written.
pub(super) fn failed(names: &[String]) -> Result<(), Failure> {
    if names.is_empty() {
        return Ok(());
    }
    let what = format!("stavegauge itself failed on {}", names.join(", "));
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

#[cfg(test)]
mod tests {
    use super::super::When;
    use super::*;

    #[test]
    fn the_order_stays_and_a_panic_stays_with_its_item() {
        let items: Vec<u32> = (0..50).collect();
        for jobs in [1, 2, 7] {
            let input = Input { paths: Vec::new(), jobs: Some(jobs), color: When::Never };
            let done = each(&items, &input, |item| {
                assert_ne!(*item, 13, "on purpose");
                item * 2
            });
            let expected: Vec<Option<u32>> = items.iter().map(|item| (*item != 13).then_some(item * 2)).collect();
            assert_eq!(done.expect("threads"), expected);
        }
    }
}
