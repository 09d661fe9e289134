//! Where reports go: standard output, or a file that appears whole or not at all.

use super::paths::Item;
use super::{Failure, When};
use std::fs::OpenOptions;
use std::io::{ErrorKind, IsTerminal, Write};
use std::path::{Path, PathBuf};

/// Width of reports for people where there is no terminal.
const USUAL_WIDTH: usize = 100;

/// One report that is asked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Wanted<F> {
    /// Its format.
    pub format: F,
    /// Its file; standard output without one.
    pub file: Option<PathBuf>,
}

impl<F> Wanted<F> {
    /// Refuses a report that would take the place of a file that is read.
    pub fn spares(&self, items: &[Item]) -> Result<(), Failure> {
        let same = |item: &&Item| item.path().zip(self.file.as_deref()).is_some_and(|(path, file)| same_file(path, file));
        match items.iter().find(same) {
            Some(item) => Err(Failure::new(format!("the report would overwrite {}, which is read", item.name()), "Choose another file.")),
            None => Ok(()),
        }
    }
}

/// Reads `FORMAT[=FILE]` arguments.
///
/// # Errors
/// An unknown format, two reports to standard output, a file that is also read.
pub(super) fn wanted<F: Copy>(arguments: &[String], formats: &[(&str, F)], items: &[Item]) -> Result<Vec<Wanted<F>>, Failure> {
    let mut all: Vec<Wanted<F>> = Vec::new();
    for argument in arguments {
        let (name, file) = argument.split_once('=').map_or((argument.as_str(), None), |(name, file)| (name, Some(file)));
        let Some((_, format)) = formats.iter().find(|(known, _)| *known == name) else {
            let known: Vec<&str> = formats.iter().map(|(known, _)| *known).collect();
            return Err(Failure::new(format!("no report format {name}"), format!("There are: {}.", known.join(", "))));
        };
        if file == Some("") {
            return Err(Failure::new(format!("--report {argument} names no file"), format!("Write --report {name}=FILE.")));
        }
        let file = file.filter(|file| *file != "-").map(PathBuf::from);
        let taken = |other: &Wanted<F>| match (&other.file, &file) {
            (Some(other), Some(file)) => other == file || same_file(other, file),
            (other, file) => other == file,
        };
        if all.iter().any(taken) {
            let to = file.map_or_else(|| "standard output".to_owned(), |file| file.display().to_string());
            return Err(Failure::new(format!("two reports to {to}"), "Give all but one a file of its own: --report json=FILE."));
        }
        if let Some(file) = &file {
            writable(file)?;
        }
        let wanted = Wanted { format: *format, file };
        wanted.spares(items)?;
        all.push(wanted);
    }
    Ok(all)
}

/// Refuses what no report can be written to, before anything is read.
fn writable(file: &Path) -> Result<(), Failure> {
    let folder = folder_of(file);
    if file.is_dir() {
        return Err(Failure::new(format!("{} is a folder", file.display()), "Name a file for the report."));
    }
    if !folder.is_dir() {
        return Err(Failure::new(format!("there is no folder {} for the report", folder.display()), "Make it, or choose another."));
    }
    Ok(())
}

/// Refuses a file that is there already, or cannot be made: what is written by hand is never overwritten.
pub(super) fn new_file(file: &Path) -> Result<(), Failure> {
    writable(file)?;
    if file.exists() {
        return Err(Failure::new(format!("{} is there already", file.display()), "Choose another file; nothing is overwritten."));
    }
    Ok(())
}

fn folder_of(file: &Path) -> &Path {
    file.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// Whether two paths are one file, be it there or not.
pub(super) fn same_file(one: &Path, other: &Path) -> bool {
    // A file that is not there yet is known by its folder and its name.
    let place = |file: &Path| {
        file.canonicalize().or_else(|_| Ok::<_, std::io::Error>(folder_of(file).canonicalize()?.join(file.file_name().unwrap_or_default())))
    };
    match (place(one), place(other)) {
        (Ok(one), Ok(other)) => one == other,
        _ => false,
    }
}

/// Writes a report to where it belongs. A reader that has gone away is no failure.
pub(super) fn write(text: &str, file: Option<&Path>) -> Result<(), Failure> {
    let Some(file) = file else {
        let mut out = std::io::stdout().lock();
        return match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
            Err(error) if error.kind() != ErrorKind::BrokenPipe => {
                Err(Failure::new(format!("writing to standard output failed: {error}"), ""))
            }
            _ => Ok(()),
        };
    };
    write_bytes(text.as_bytes(), file)
}

/// Writes a file.
pub(super) fn write_bytes(bytes: &[u8], file: &Path) -> Result<(), Failure> {
    let failed =
        |error: std::io::Error| Failure::new(format!("writing {} failed: {error}", file.display()), "Check the folder and its rights.");
    // A link stays a link; a pipe or a device is written to as it is.
    let place = file.canonicalize().unwrap_or_else(|_| file.to_owned());
    if place.exists() && !place.is_file() {
        return OpenOptions::new().write(true).open(&place).and_then(|mut out| out.write_all(bytes)).map_err(failed);
    }
    // Beside its place and then renamed, so that nothing half-written is ever seen.
    let mut beside =
        tempfile::Builder::new().prefix(".stavegauge-").permissions_as_usual().tempfile_in(folder_of(&place)).map_err(failed)?;
    beside.write_all(bytes).map_err(failed)?;
    // What was there before keeps who may read it.
    if let Ok(before) = std::fs::metadata(&place) {
        std::fs::set_permissions(beside.path(), before.permissions()).map_err(failed)?;
    }
    beside.persist(&place).map_err(|error| failed(error.error))?;
    Ok(())
}

/// Files made here are as readable as any other file, not private as temporary ones are.
trait AsUsual {
    fn permissions_as_usual(&mut self) -> &mut Self;
}

impl AsUsual for tempfile::Builder<'_, '_> {
    #[cfg(unix)]
    fn permissions_as_usual(&mut self) -> &mut Self {
        use std::os::unix::fs::PermissionsExt;
        self.permissions(std::fs::Permissions::from_mode(0o666))
    }

    #[cfg(not(unix))]
    fn permissions_as_usual(&mut self) -> &mut Self {
        self
    }
}

/// Whether to colour a report that goes to standard output or into a file.
pub(super) fn color(when: When, file: Option<&Path>) -> bool {
    match when {
        When::Always => true,
        When::Never => false,
        When::Auto => {
            file.is_none() && std::io::stdout().is_terminal() && std::env::var_os("NO_COLOR").is_none_or(|value| value.is_empty())
        }
    }
}

/// Columns of a report for people.
pub(super) fn width() -> usize {
    /// Less cannot be read, more is not read.
    const RANGE: (usize, usize) = (60, 120);
    let columns = std::env::var("COLUMNS").ok().and_then(|columns| columns.parse().ok());
    let terminal = || terminal_size::terminal_size().map(|(width, _)| usize::from(width.0));
    let width: usize = columns.or_else(|| std::io::stdout().is_terminal().then(terminal).flatten()).unwrap_or(USUAL_WIDTH);
    width.clamp(RANGE.0, RANGE.1)
}
