//! Paths on the command line to files in a fixed order.

use super::Failure;
use std::collections::BTreeMap;
use std::ffi::OsStr;
use std::path::{Path, PathBuf};

/// Standard input on the command line.
const STANDARD_INPUT: &str = "-";

/// One thing to read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Item {
    /// A file, and whether it was found in a folder rather than named.
    File {
        /// Its path.
        path: PathBuf,
        /// Found in a folder: if it turns out to be XML of another kind, it is passed over.
        found: bool,
    },
    /// Standard input.
    StandardInput,
}

impl Item {
    /// What it is called in reports.
    pub fn name(&self) -> String {
        match self {
            Self::File { path, .. } => shown(path),
            Self::StandardInput => STANDARD_INPUT.to_owned(),
        }
    }

    /// The file behind it, if there is one.
    pub fn path(&self) -> Option<&Path> {
        match self {
            Self::File { path, .. } => Some(path),
            Self::StandardInput => None,
        }
    }
}

fn shown(path: &Path) -> String {
    path.to_string_lossy().replace(std::path::MAIN_SEPARATOR_STR, "/")
}

/// Every file that the paths name, once, in the order of their names by bytes.
///
/// # Errors
/// A path that does not exist, a glob that matches nothing, a folder without scores.
pub(super) fn items(paths: &[String]) -> Result<Vec<Item>, Failure> {
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
    for argument in paths {
        if argument == STANDARD_INPUT {
            put(Item::StandardInput);
            continue;
        }
        let path = Path::new(argument);
        if path.is_dir() {
            let inside = walk(path);
            if inside.is_empty() {
                let what = format!("no score in {argument}");
                return Err(Failure::new(
                    what,
                    "A folder is searched for .musicxml, .xml and .mxl; hidden and ignored files are left out.",
                ));
            }
            inside.into_iter().for_each(&mut put);
        } else if path.exists() {
            put(Item::File { path: path.to_owned(), found: false });
        } else {
            matches(argument)?.into_iter().for_each(&mut put);
        }
    }
    Ok(found.into_values().collect())
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
        } else {
            items.push(Item::File { path, found: false });
        }
    }
    if items.is_empty() {
        return Err(Failure::new(format!("nothing matches {pattern}"), "Check the path; quote a glob so that the shell leaves it alone."));
    }
    Ok(items)
}

/// Scores below a folder; ignore rules are respected, links are not followed.
fn walk(folder: &Path) -> Vec<Item> {
    let is_score = |path: &Path| {
        let end = path.extension().and_then(OsStr::to_str).map(str::to_ascii_lowercase);
        matches!(end.as_deref(), Some("musicxml" | "xml" | "mxl"))
    };
    let entries = ignore::WalkBuilder::new(folder).require_git(false).build().flatten();
    entries
        .filter(|entry| entry.file_type().is_some_and(|kind| !kind.is_dir()) && is_score(entry.path()))
        .map(|entry| Item::File { path: entry.into_path(), found: true })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;

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
            Ok(items(paths)?.iter().map(|item| item.name().replace(&format!("{root}/"), "")).collect())
        };
        let all = names(std::slice::from_ref(&root)).expect("found");
        assert_eq!(all, ["[a].mxl", "a.musicxml", "b/1.xml", "b/2.mxl"]);
        assert_eq!(names(&[format!("{root}/**/*.mxl")]).expect("found"), [".hidden/x.mxl", "[a].mxl", "b/2.mxl", "skipped/x.mxl"]);
        // A path that exists is no glob.
        assert_eq!(names(&[format!("{root}/[a].mxl")]).expect("found"), ["[a].mxl"]);
        assert_eq!(names(&[format!("{root}/b"), format!("{root}/b/1.xml")]).expect("found"), ["b/1.xml", "b/2.mxl"]);
        assert!(names(&[format!("{root}/gone.mxl")]).is_err());
        assert!(names(&[format!("{root}/*.none")]).is_err());
        assert_eq!(items(&["-".to_owned(), "-".to_owned()]).expect("found"), [Item::StandardInput]);
    }
}
