//! `audit --watch`: again whenever a file is exported anew, with what changed, until Ctrl-C.

use super::audit::{WantedReport, unwritten, write};
use super::perform::{Audited, perform};
use super::style::Begun;
use super::{AuditArgs, CLEAN, Failure, output, paths, work};
use crate::report::rounds;
use crate::report::terminal::Look;
use crate::round::{Round, compare};
use ignore::WalkBuilder;
use notify_debouncer_mini::new_debouncer;
use notify_debouncer_mini::notify::RecursiveMode;
use std::collections::{BTreeSet, HashMap};
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::time::{Duration, SystemTime};

/// How long a file must rest before it is read: a large export takes a while to be written.
const REST: Duration = Duration::from_millis(400);

/// What there is to wait for.
enum Event {
    /// Something was written in these places.
    Written(Vec<PathBuf>),
    /// Ctrl-C.
    End,
}

pub(super) fn run(args: &AuditArgs, reports: &[WantedReport]) -> Result<u8, Failure> {
    if args.input.paths.iter().any(|path| path == Path::new("-")) {
        return Err(Failure::new("standard input cannot be watched", "Name files or folders."));
    }
    let cannot =
        |error: &dyn std::fmt::Display| Failure::new(format!("the files cannot be watched: {error}"), "Audit them without --watch.");
    let (tell, heard) = channel();
    on_interrupt(tell.clone()).map_err(|error| cannot(&error))?;
    let tell = move |events: notify_debouncer_mini::DebounceEventResult| {
        let written = events.map(|events| events.into_iter().map(|event| event.path).collect()).unwrap_or_default();
        // Once the audit has ended nobody listens any more.
        let _ = tell.send(Event::Written(written));
    };
    let mut watcher = new_debouncer(REST, tell).map_err(|error| cannot(&error))?;
    for folder in folders(&args.input.paths) {
        watcher.watcher().watch(&folder, RecursiveMode::Recursive).map_err(|error| cannot(&error))?;
    }
    // Whatever is written from now on is heard.
    let mut seen = Seen::in_folders(&folders(&args.input.paths));
    let audited = perform(args, Begun::with(&args.input.paths, args.house.as_deref())?)?;
    audited.spares(reports.iter().filter_map(|wanted| wanted.file.as_deref()))?;
    write(&audited, reports, args)?;
    work::talk(&format!("watching {}; Ctrl-C ends", copies(&audited)));
    let mut before = Round::of(&audited.documents);
    while let Some(()) = next(&heard, reports, &mut seen) {
        // What is wrong now may be right after the next export.
        match again(args, reports, &before) {
            Ok(round) => before = round,
            Err(failure) => work::talk(&format!("{} {}", failure.what, failure.help)),
        }
    }
    Ok(CLEAN)
}

fn copies(audited: &Audited) -> String {
    if audited.documents.len() == 1 { "1 copy".to_owned() } else { format!("{} copies", audited.documents.len()) }
}

/// Tells when the audit is to end.
fn on_interrupt(tell: Sender<Event>) -> Result<(), ctrlc::Error> {
    ctrlc::set_handler(move || {
        let _ = tell.send(Event::End);
    })
}

/// Folders to watch: those that are named, and those of the files that are named; a file that is written anew is a new file
/// of its folder.
fn folders(paths: &[PathBuf]) -> BTreeSet<PathBuf> {
    let folder = |path: &PathBuf| {
        if path.is_dir() {
            return path.clone();
        }
        let above = path.ancestors().skip(1).find(|folder| folder.is_dir() && !folder.as_os_str().is_empty());
        above.map_or_else(|| PathBuf::from("."), Path::to_owned)
    };
    paths.iter().map(folder).collect()
}

/// Whether a file may be music or a house style.
fn matters(path: &Path) -> bool {
    paths::is_score(path) || path.extension().is_some_and(|end| end == "toml")
}

/// What files were like when they were last looked at: that one is read is an event too, and changes nothing.
struct Seen {
    files: HashMap<PathBuf, Option<State>>,
}

/// When a file was last written, and how long it is.
type State = (Option<SystemTime>, u64);

impl Seen {
    /// All files in some folders.
    fn in_folders(folders: &BTreeSet<PathBuf>) -> Self {
        let mut seen = Self { files: HashMap::new() };
        for folder in folders {
            let entries = WalkBuilder::new(folder).standard_filters(false).build();
            for entry in entries.flatten().filter(|entry| matters(entry.path())) {
                seen.has_changed(entry.path());
            }
        }
        seen
    }

    /// Whether a file is otherwise than it was, or there for the first time, or gone; from now on it is as it is now.
    fn has_changed(&mut self, path: &Path) -> bool {
        let state = std::fs::metadata(path).ok().map(|file| (file.modified().ok(), file.len()));
        // The same file may be told by another way to its folder.
        let folder = path.parent().and_then(|folder| folder.canonicalize().ok()).unwrap_or_default();
        self.files.insert(folder.join(path.file_name().unwrap_or_default()), state) != Some(state)
    }
}

/// Waits until something is written that is no report of our own; nothing once the audit is to end.
fn next(heard: &Receiver<Event>, reports: &[WantedReport], seen: &mut Seen) -> Option<()> {
    loop {
        match heard.recv() {
            Ok(Event::Written(paths)) => {
                let own =
                    |path: &PathBuf| reports.iter().filter_map(|wanted| wanted.file.as_deref()).any(|file| output::same_file(file, path));
                // Each is looked at, so that none of them counts once more later.
                let changed = paths.iter().filter(|path| matters(path) && !own(path)).filter(|path| seen.has_changed(path)).count();
                if changed > 0 {
                    return Some(());
                }
            }
            Ok(Event::End) | Err(_) => return None,
        }
    }
}

/// Audits once more, writes the reports into their files, and shows what changed.
fn again(args: &AuditArgs, reports: &[WantedReport], before: &Round) -> Result<Round, Failure> {
    let audited = perform(args, Begun::with(&args.input.paths, args.house.as_deref())?)?;
    let files: Vec<WantedReport> = reports.iter().filter(|wanted| wanted.file.is_some()).cloned().collect();
    write(&audited, &files, args)?;
    let round = Round::of(&audited.documents);
    let look = Look { color: output::color(args.input.color, None), width: output::width(), quiet: false };
    let mut text = String::new();
    rounds::changes(&compare(&[before.clone(), round.clone()]), look, &mut text).map_err(unwritten)?;
    output::write(&text, None)?;
    Ok(round)
}
