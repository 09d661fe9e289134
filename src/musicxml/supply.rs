//! Where batches come from: cut on the spot, or by a thread that reads ahead while what it cut is made use of.

use super::cutter::Cutter;
use super::damage::Damage;
use super::window::Batch;
use std::mem;
use std::sync::mpsc::{Receiver, Sender, SyncSender, channel, sync_channel};
use std::thread;

/// Batches that are cut and wait: enough that neither side stands still when the other is slow for a moment.
const WAITING: usize = 2;

/// A source of batches.
pub(super) enum Supply {
    /// Cut on the spot.
    Here {
        cutter: Box<Cutter>,
        /// A batch that is done with.
        spare: Batch,
        /// From the second batch on another thread cuts: a short file is read before one has started.
        ahead: bool,
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
    /// Batches of a cutter, cut on the spot or, where there is a core to spare, ahead.
    pub fn new(cutter: Cutter, ahead: bool) -> Self {
        Self::Here { cutter: Box::new(cutter), spare: Batch::default(), ahead }
    }

    /// Puts the next batch in place of the one that is done with; false at the end of the document, where the last one stays.
    pub fn next(&mut self, batch: &mut Batch) -> Result<bool, Damage> {
        match self {
            Self::Here { cutter, spare, ahead } => {
                let Some(next) = cutter.next(mem::take(spare))? else { return Ok(false) };
                *spare = mem::replace(batch, next);
                if *ahead && cutter.has_more() {
                    let cutter = mem::replace(cutter, Box::new(Cutter::new(Box::new(std::io::empty()))));
                    *self = Self::start(cutter)?;
                }
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

    fn start(mut cutter: Box<Cutter>) -> Result<Self, Damage> {
        let (to_reader, cut): (SyncSender<_>, _) = sync_channel(WAITING);
        let (done, rooms) = channel();
        let work = move || {
            loop {
                let batch = cutter.next(rooms.try_recv().unwrap_or_default());
                let more = matches!(batch, Ok(Some(_)));
                // A reader that has gone wants no more.
                if to_reader.send(batch).is_err() || !more {
                    return;
                }
            }
        };
        let started = thread::Builder::new().name("reading ahead".into()).spawn(work);
        started.map_err(|error| Damage::new(format!("no thread to read ahead with: {error}"), "Try again with --jobs 1"))?;
        Ok(Self::Ahead { cut, done, ended: false })
    }
}
