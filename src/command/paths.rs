//! Paths on the command line to files in a fixed order.

use super::Failure;
use crate::musicxml::Damage;
use ignore::Error;
use std::collections::{BTreeMap, HashSet};
use std::ffi::OsStr;
use std::fs;
use std::path::{Component, Path, PathBuf};

/// Standard input on the command line.
const STANDARD_INPUT: &str = "-";

/// One thing to read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Item {
    /// A file, and whether it may be none of ours.
    File {
        /// Its path.
        path: PathBuf,
        /// An `.xml` found in a folder, not named: if it turns out to be XML of another kind, it is passed over.
        found: bool,
    },
    /// What could not be looked into while a folder was searched: nothing passes unseen.
    Unreadable {
        /// Its path.
        path: PathBuf,
        /// Why not.
        damage: Damage,
    },
    /// Standard input.
    StandardInput,
}

impl Item {
    /// What it is called in reports.
    pub fn name(&self) -> String {
        match self {
            Self::File { path, .. } | Self::Unreadable { path, .. } => shown(path),
            Self::StandardInput => STANDARD_INPUT.to_owned(),
        }
    }

    /// The file behind it, if there is one.
    pub fn path(&self) -> Option<&Path> {
        match self {
            Self::File { path, .. } | Self::Unreadable { path, .. } => Some(path),
            Self::StandardInput => None,
        }
    }
}

fn shown(path: &Path) -> String {
    path.to_string_lossy().replace(std::path::MAIN_SEPARATOR_STR, "/")
}

/// The path as reports show it: without `./`, and relative where it lies in the working folder.
fn as_shown(path: &Path) -> PathBuf {
    let path: PathBuf = path.components().filter(|part| *part != Component::CurDir).collect();
    if path == Path::new(STANDARD_INPUT) {
        return Path::new(".").join(path);
    }
    let here = if path.is_absolute() { std::env::current_dir().ok() } else { None };
    here.and_then(|here| path.strip_prefix(here).map(Path::to_owned).ok()).unwrap_or(path)
}

/// Refuses a run in which nothing was a score: that is no pass.
///
/// # Errors
/// No document at all.
pub(super) fn not_empty<T>(documents: &[T]) -> Result<(), Failure> {
    if documents.is_empty() {
        return Err(Failure::new("there is nothing to audit", "What was found is XML of another kind. Give MusicXML files."));
    }
    Ok(())
}

/// Every file that the paths name, once however it is named, in the order of their names by bytes.
///
/// # Errors
/// A path that does not exist, a glob that matches nothing, a folder without scores.
pub(super) fn items(paths: &[PathBuf]) -> Result<Vec<Item>, Failure> {
    let mut found: BTreeMap<String, Item> = BTreeMap::new();
    // A file that is both named and found in a folder counts as named.
    let mut put = |item: Item| {
        let named = !matches!(item, Item::File { found: true, .. });
        let slot = found.entry(item.name());
        match slot {
            std::collections::btree_map::Entry::Vacant(empty) => {
                empty.insert(item);
            }
            std::collections::btree_map::Entry::Occupied(mut taken) if named => {
                taken.insert(item);
            }
            std::collections::btree_map::Entry::Occupied(_) => {}
        }
    };
    for path in paths {
        if path == Path::new(STANDARD_INPUT) {
            put(Item::StandardInput);
            continue;
        }
        let about = fs::metadata(path);
        if about.as_ref().is_ok_and(fs::Metadata::is_dir) {
            let inside = walk(path);
            if inside.is_empty() {
                let what = format!("no score in {}", shown(path));
                return Err(Failure::new(
                    what,
                    "A folder is searched for .musicxml, .xml and .mxl; hidden and ignored files are left out.",
                ));
            }
            inside.into_iter().for_each(&mut put);
        } else if about.is_ok() {
            put(Item::File { path: as_shown(path), found: false });
        } else {
            matches(&path.to_string_lossy())?.into_iter().for_each(&mut put);
        }
    }
    let mut known = HashSet::new();
    let items = found.into_values();
    // Named before found: of two names of one file the one that was given stands.
    let (named, searched): (Vec<Item>, Vec<Item>) = items.partition(|item| !matches!(item, Item::File { found: true, .. }));
    let mut once: Vec<Item> = named.into_iter().chain(searched).filter(|item| known.insert(item.path().map(identity))).collect();
    once.sort_by_cached_key(Item::name);
    Ok(once)
}

/// Files that a glob matches; folders it matches are walked.
fn matches(pattern: &str) -> Result<Vec<Item>, Failure> {
    if !pattern.contains(['*', '?', '[']) {
        return Err(Failure::new(format!("{pattern} does not exist"), "Check the path."));
    }
    let wrong = |error: &glob::PatternError| {
        Failure::new(format!("{pattern} is no glob: {}", error.msg), "* stands for any letters, ** for any folders, ? for one letter.")
    };
    let mut items = Vec::new();
    for path in glob::glob(pattern).map_err(|error| wrong(&error))?.flatten() {
        if path.is_dir() {
            items.extend(walk(&path));
        } else if path.is_file() {
            // A pipe that nobody writes to would be waited for without end.
            items.push(Item::File { path: as_shown(&path), found: false });
        }
    }
    if items.is_empty() {
        return Err(Failure::new(format!("nothing matches {pattern}"), "Check the path; quote a glob so that the shell leaves it alone."));
    }
    Ok(items)
}

/// What makes two names the same file.
fn identity(path: &Path) -> PathBuf {
    path.canonicalize().unwrap_or_else(|_| path.to_owned())
}

fn ending(path: &Path) -> Option<String> {
    path.extension().and_then(OsStr::to_str).map(str::to_ascii_lowercase)
}

/// Whether a file is a score by its name.
pub(super) fn is_score(path: &Path) -> bool {
    matches!(ending(path).as_deref(), Some("musicxml" | "xml" | "mxl"))
}

/// Scores below a folder; ignore rules are respected, but not those of the user's own settings: the same folder gives
/// the same report everywhere. Links are followed, a circle of them ends where it closes.
fn walk(folder: &Path) -> Vec<Item> {
    let entries = ignore::WalkBuilder::new(folder).require_git(false).git_global(false).git_exclude(false).follow_links(true).build();
    let item = |entry: Result<ignore::DirEntry, Error>| match entry {
        Ok(entry) => {
            let file = entry.file_type().is_some_and(|kind| kind.is_file()) && is_score(entry.path());
            file.then(|| Item::File { path: as_shown(entry.path()), found: ending(entry.path()).as_deref() == Some("xml") })
        }
        Err(error) => unreadable(&error),
    };
    entries.filter_map(item).collect()
}

/// A folder that cannot be opened, a link to nowhere: an item of its own if music may be in it. A circle of links and a
/// line of an ignore file that says nothing hide no music.
fn unreadable(error: &Error) -> Option<Item> {
    fn path_of(error: &Error) -> Option<&Path> {
        match error {
            Error::WithPath { path, .. } => Some(path),
            Error::WithDepth { err, .. } | Error::WithLineNumber { err, .. } => path_of(err),
            _ => None,
        }
    }
    let (path, why) = path_of(error).zip(error.io_error())?;
    let is_folder = fs::symlink_metadata(path).is_ok_and(|about| about.is_dir());
    let damage = Damage::new(format!("reading {} failed: {why}", shown(path)), "Check that it is there and may be read.");
    (is_folder || is_score(path)).then(|| Item::Unreadable { path: as_shown(path), damage })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn folders_globs_and_names_in_one_order() {
        let folder = tempfile::tempdir().expect("made");
        let make = |name: &str| {
            let path = folder.path().join(name);
            fs::create_dir_all(path.parent().expect("it lies somewhere")).expect("made");
            fs::write(&path, "").expect("written");
            path.to_string_lossy().into_owned()
        };
        for name in ["b/2.mxl", "a.musicxml", "b/1.xml", "b/notes.txt", ".hidden/x.mxl", "skipped/x.mxl", "[a].mxl"] {
            make(name);
        }
        fs::write(folder.path().join(".ignore"), "skipped/\n").expect("written");
        let root = folder.path().to_string_lossy().into_owned();
        let names = |paths: &[String]| -> Result<Vec<String>, Failure> {
            let paths: Vec<PathBuf> = paths.iter().map(PathBuf::from).collect();
            Ok(items(&paths)?.iter().map(|item| item.name().replace(&format!("{root}/"), "")).collect())
        };
        let all = names(std::slice::from_ref(&root)).expect("found");
        assert_eq!(all, ["[a].mxl", "a.musicxml", "b/1.xml", "b/2.mxl"]);
        assert_eq!(names(&[format!("{root}/**/*.mxl")]).expect("found"), [".hidden/x.mxl", "[a].mxl", "b/2.mxl", "skipped/x.mxl"]);
        // A path that exists is no glob.
        assert_eq!(names(&[format!("{root}/[a].mxl")]).expect("found"), ["[a].mxl"]);
        assert_eq!(names(&[format!("{root}/b"), format!("{root}/b/1.xml")]).expect("found"), ["b/1.xml", "b/2.mxl"]);
        assert!(names(&[format!("{root}/gone.mxl")]).is_err());
        assert!(names(&[format!("{root}/*.none")]).is_err());
        assert_eq!(items(&["-".into(), "-".into()]).expect("found"), [Item::StandardInput]);
    }

    #[cfg(unix)]
    #[test]
    fn one_file_by_two_names_is_one_and_circles_end() {
        use std::os::unix::fs::symlink;
        let folder = tempfile::tempdir().expect("made");
        let path = |name: &str| folder.path().join(name);
        fs::write(path("a.xml"), "").expect("written");
        fs::create_dir(path("in")).expect("made");
        symlink(path("a.xml"), path("in/b.xml")).expect("linked");
        symlink(folder.path(), path("in/circle")).expect("linked");
        symlink(path("nowhere.xml"), path("in/gone.xml")).expect("linked");
        let found = items(&[folder.path().to_owned()]).expect("found");
        assert_eq!(
            found.iter().map(|item| item.path().expect("a file").to_owned()).collect::<Vec<_>>(),
            [path("a.xml"), path("in/gone.xml")]
        );
        assert!(matches!(found.last(), Some(Item::Unreadable { .. })), "{found:?}");
    }
}
