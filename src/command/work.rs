//! Many documents at once, results in order.

use super::Failure;
use crate::report::plain::plain;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use rayon::prelude::*;
use std::io::{IsTerminal, Write};
use std::num::NonZero;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread;

/// So many items for each thread are enough to give every thread items of its own.
const ENOUGH: usize = 8;

/// Gets the threads that all further work is done on, this one among them: so many, or as many as there are cores.
///
/// They are got once and stay. Of threads that are begun where others have just ended, two may share one core for a while.
///
/// # Errors
/// Threads that cannot be had.
pub(super) fn begin(jobs: Option<u16>) -> Result<(), Failure> {
    let threads = jobs.map_or_else(|| thread::available_parallelism().map_or(1, NonZero::get), usize::from);
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).use_current_thread().build_global();
    pool.map_err(|error| {
        Failure::new(format!("no threads to work with: {error}"), "Try --jobs 1 where the command has it, or again when less is running.")
    })
}

/// Does the same for every item on all threads; the results are in the order of the items. `None` stands where the program
/// itself failed: that stops no other item and is never blamed on the score.
pub(super) fn each<I: Sync, T: Send>(items: &[I], what: impl Fn(&I) -> T + Sync) -> Vec<Option<T>> {
    let progress = progress(items.len());
    let one = |item: &I| {
        let one = catch_unwind(AssertUnwindSafe(|| what(item))).ok();
        progress.inc(1);
        one
    };
    let threads = rayon::current_num_threads();
    let done = if threads > 1 && items.len() >= ENOUGH * threads { apart(items, one) } else { items.par_iter().map(one).collect() };
    progress.finish_and_clear();
    done
}

/// Each thread takes the next item and does all of it: parts of it handed to and fro cost more than they gain, but at the end,
/// when some have nothing else to do.
fn apart<I: Sync, T: Send>(items: &[I], one: impl Fn(&I) -> T + Sync) -> Vec<T> {
    let next = AtomicUsize::new(0);
    let done = rayon::broadcast(|_| {
        let take = || {
            let number = next.fetch_add(1, Ordering::Relaxed);
            items.get(number).map(|item| (number, one(item)))
        };
        std::iter::from_fn(take).collect::<Vec<_>>()
    });
    let mut done: Vec<(usize, T)> = done.into_iter().flatten().collect();
    done.sort_unstable_by_key(|(number, _)| *number);
    done.into_iter().map(|(_, one)| one).collect()
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
    use super::*;

    #[test]
    fn the_order_stays_and_a_panic_stays_with_its_item() {
        let items: Vec<u32> = (0..50).collect();
        for threads in [1, 2, 7] {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("threads");
            let one = |item: &u32| {
                assert_ne!(*item, 13, "on purpose");
                item * 2
            };
            let expected: Vec<Option<u32>> = items.iter().map(|item| (*item != 13).then_some(item * 2)).collect();
            assert_eq!(pool.install(|| each(&items, one)), expected);
        }
    }
}
