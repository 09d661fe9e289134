//! Many documents at once, results in order.

use super::{Failure, Input};
use crate::report::plain::plain;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use rayon::prelude::*;
use std::io::{self, IsTerminal, Write};
use std::num::NonZero;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread;

/// So many items for each thread are enough to give every thread items of its own.
const ENOUGH: usize = 8;

/// Does the same for every item on as many threads as asked for; the results are in the order of the items. `None`
/// stands where the program itself failed: that stops no other item and is never blamed on the score.
///
/// # Errors
/// Threads that cannot be had.
pub(super) fn each<I: Sync, T: Send>(items: &[I], input: &Input, what: impl Fn(&I) -> T + Sync) -> Result<Vec<Option<T>>, Failure> {
    let progress = progress(items.len());
    let one = |item: &I| {
        let one = catch_unwind(AssertUnwindSafe(|| what(item))).ok();
        progress.inc(1);
        one
    };
    let threads = threads(input);
    let done = if threads > 1 && items.len() >= ENOUGH * threads { apart(items, threads, one) } else { together(items, threads, one) };
    progress.finish_and_clear();
    done.map_err(|error| Failure::new(format!("no threads to work with: {error}"), "Try --jobs 1."))
}

/// All threads work on whatever there is to do, the parts of one item too.
fn together<I: Sync, T: Send>(items: &[I], threads: usize, one: impl Fn(&I) -> T + Sync) -> io::Result<Vec<T>> {
    let pool = || rayon::ThreadPoolBuilder::new().num_threads(threads);
    // This thread works too instead of waiting. It can do so for one pool only: `watch` makes more.
    let pool = pool().use_current_thread().build().or_else(|_| pool().build()).map_err(io::Error::other)?;
    Ok(pool.install(|| items.par_iter().map(&one).collect()))
}

/// Each thread takes the next item and does all of it: parts of it handed to and fro cost more than they gain.
fn apart<I: Sync, T: Send>(items: &[I], threads: usize, one: impl Fn(&I) -> T + Sync) -> io::Result<Vec<T>> {
    let next = AtomicUsize::new(0);
    let work = || {
        // What is divided within an item stays on this thread.
        let _alone = rayon::ThreadPoolBuilder::new().num_threads(1).use_current_thread().build();
        let mut done = Vec::new();
        loop {
            let number = next.fetch_add(1, Ordering::Relaxed);
            let Some(item) = items.get(number) else { return done };
            done.push((number, one(item)));
        }
    };
    let mut done = thread::scope(|scope| {
        let workers = (0..threads).map(|_| thread::Builder::new().spawn_scoped(scope, work)).collect::<io::Result<Vec<_>>>()?;
        let mut done = Vec::with_capacity(items.len());
        for worker in workers {
            done.extend(worker.join().map_err(|_| io::Error::other("a thread has failed"))?);
        }
        Ok::<_, io::Error>(done)
    })?;
    done.sort_unstable_by_key(|(number, _)| *number);
    Ok(done.into_iter().map(|(_, one)| one).collect())
}

/// Threads that are asked for: without a word as many as there are cores.
pub(super) fn threads(input: &Input) -> usize {
    input.jobs.map_or_else(|| thread::available_parallelism().map_or(1, NonZero::get), usize::from)
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
