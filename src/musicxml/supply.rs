//! Where batches come from: cut on the spot, or by a thread that reads ahead while what it cut is made use of.

use super::cutter::Cutter;
use super::damage::Damage;
use super::window::Batch;
use std::mem;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc::{Receiver, Sender, SyncSender, channel, sync_channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread;

/// Batches that are cut and wait: enough that neither side stands still when the other is slow for a moment.
const WAITING: usize = 2;

/// When another thread is to cut ahead of the one who reads.
pub(super) enum Ahead {
    /// Never: there is no core to spare.
    Never,
    /// From the second batch: a short file is read before one has started.
    Soon,
    /// As soon as one of those who read other parts of the document has nothing left to do.
    WhenIdle(Idle),
}

/// How many of those who read one document together have nothing left to do.
#[derive(Clone, Default)]
pub(super) struct Idle(Arc<AtomicUsize>);

impl Idle {
    /// One more has nothing left to do.
    pub fn one_more(&self) {
        self.0.fetch_add(1, Ordering::Relaxed);
    }

    /// Gives one of them something to do; false where there is none.
    fn take(&self) -> bool {
        self.0.fetch_update(Ordering::Relaxed, Ordering::Relaxed, |idle| idle.checked_sub(1)).is_ok()
    }
}

/// A source of batches.
pub(super) enum Supply {
    /// Cut on the spot.
    Here {
        cutter: Box<Cutter>,
        /// A batch that is done with.
        spare: Batch,
        ahead: Ahead,
    },
    /// Cut by another thread.
    Ahead {
        cut: Receiver<Result<Option<Batch>, Damage>>,
        /// Batches that are done with go back.
        done: Sender<Batch>,
        ended: bool,
    },
}

impl Supply {
    /// Batches of a cutter.
    pub fn new(cutter: Cutter, ahead: Ahead) -> Self {
        Self::Here { cutter: Box::new(cutter), spare: Batch::default(), ahead }
    }

    /// Puts the next batch in place of the one that is done with; false at the end of the document, where the last one stays.
    pub fn next(&mut self, batch: &mut Batch) -> Result<bool, Damage> {
        match self {
            Self::Here { cutter, spare, ahead } => {
                let Some(next) = cutter.next(mem::take(spare))? else { return Ok(false) };
                *spare = mem::replace(batch, next);
                let idle = match ahead {
                    Ahead::Soon if cutter.has_more() => None,
                    Ahead::WhenIdle(idle) if cutter.has_more() && idle.take() => Some(idle.clone()),
                    Ahead::Never | Ahead::Soon | Ahead::WhenIdle(_) => return Ok(true),
                };
                let cutter = mem::replace(cutter, Box::new(Cutter::new(Box::new(std::io::empty()))));
                *self = Self::start(cutter, idle);
                Ok(true)
            }
            Self::Ahead { cut, done, ended } => {
                if *ended {
                    return Ok(false);
                }
                match cut.recv() {
                    Ok(Ok(Some(next))) => {
                        // Nobody takes it back any more where the last batch has been cut.
                        let _ = done.send(mem::replace(batch, next));
                        Ok(true)
                    }
                    Ok(Ok(None)) => {
                        *ended = true;
                        Ok(false)
                    }
                    Ok(Err(damage)) => Err(damage),
                    Err(_) => Err(Damage::new("the thread that reads ahead has stopped", "Try again with --jobs 1")),
                }
            }
        }
    }

    /// Cuts on another thread, which is idle again at the end; on this one where no other can be had.
    fn start(cutter: Box<Cutter>, idle: Option<Idle>) -> Self {
        let (to_reader, cut): (SyncSender<_>, _) = sync_channel(WAITING);
        let (done, rooms) = channel();
        let waiting = Arc::new(Mutex::new(Some(cutter)));
        let take = |waiting: &Mutex<Option<Box<Cutter>>>| waiting.lock().unwrap_or_else(PoisonError::into_inner).take();
        let handed = waiting.clone();
        let work = move || {
            let Some(mut cutter) = take(&handed) else { return };
            loop {
                let batch = cutter.next(rooms.try_recv().unwrap_or_default());
                let more = matches!(batch, Ok(Some(_)));
                // A reader that has gone wants no more.
                if to_reader.send(batch).is_err() || !more {
                    break;
                }
            }
            idle.iter().for_each(Idle::one_more);
        };
        let started = thread::Builder::new().name("reading ahead".into()).spawn(work);
        match started.err().and_then(|_| take(&waiting)) {
            Some(cutter) => Self::Here { cutter, spare: Batch::default(), ahead: Ahead::Never },
            None => Self::Ahead { cut, done, ended: false },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Cursor;
    use std::time::Duration;

    /// What comes of a text: where each batch begins, its text and its tokens, or the damage at its end; and whether another thread cut it.
    fn cut(text: &str, ahead: Ahead) -> (Vec<String>, bool) {
        let mut supply = Supply::new(Cutter::new(Box::new(Cursor::new(text.to_owned()))), ahead);
        let (mut batch, mut all) = (Batch::default(), Vec::new());
        loop {
            match supply.next(&mut batch) {
                Ok(true) => all.push(format!("{} {} {:?}", batch.base, batch.text, batch.tokens)),
                Ok(false) => break,
                Err(damage) => {
                    all.push(format!("{damage:?}"));
                    break;
                }
            }
        }
        (all, matches!(supply, Supply::Ahead { .. }))
    }

    /// Source: the definition. Whoever cuts, the batches are the same.
    #[test]
    fn an_idle_thread_cuts_as_the_reader_would_and_is_idle_again() {
        let lines = "<note><duration>1</duration></note>\n".repeat(10_000);
        for text in [format!("<part>{lines}</part>"), format!("<part>{lines}"), format!("<part>{lines}<x></part>")] {
            let idle = Idle::default();
            let (alone, helped) = cut(&text, Ahead::WhenIdle(idle.clone()));
            assert!(alone.len() > 3 && !helped, "nobody is idle");
            idle.one_more();
            assert_eq!(cut(&text, Ahead::WhenIdle(idle.clone())), (alone.clone(), true));
            assert_eq!(cut(&text, Ahead::Soon), (alone, true));
            let again = (0..1_000).any(|_| {
                thread::sleep(Duration::from_millis(10));
                idle.take()
            });
            assert!(again && !idle.take(), "one, and no more than one");
        }
    }

    #[test]
    fn nobody_is_called_for_what_is_cut_at_once() {
        let idle = Idle::default();
        idle.one_more();
        assert!(!cut("<part><measure/></part>", Ahead::WhenIdle(idle.clone())).1);
        assert!(idle.take());
    }
}
