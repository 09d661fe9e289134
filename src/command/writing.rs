//! Where scores go that are written with a new layout: a new file, a folder, or back into themselves.

use super::output;
use super::paths::Item;
use super::work;
use super::{CastoffArgs, Failure};
use crate::report::casting::DocumentCasting;
use std::collections::BTreeSet;
use std::fs::File;
use std::io::{BufReader, Cursor, Write};
use std::path::{Path, PathBuf};
use zip::write::SimpleFileOptions;
use zip::{ZipArchive, ZipWriter};

/// The ending of a packed score.
const PACKED: &str = "mxl";
/// The member of a container that says which of its members is the score (`MusicXML` 4.0, "compressed files").
const CONTAINER: &str = "META-INF/container.xml";

/// Where scores are written.
#[derive(Debug)]
pub(super) enum Target {
    /// The one score into a new file.
    New(PathBuf),
    /// Each into a folder, under its own name.
    Folder(PathBuf),
    /// Each into itself.
    InPlace,
}

impl Target {
    /// As the arguments ask; `None` where nothing is to be written. Nothing that is there already is in the way of it.
    ///
    /// # Errors
    /// What stands in the way.
    pub fn of(args: &CastoffArgs, items: &[Item]) -> Result<Option<Self>, Failure> {
        let target = match &args.write {
            Some(out) if out.is_dir() => Self::Folder(out.clone()),
            Some(out) => Self::New(out.clone()),
            None if args.in_place => Self::InPlace,
            None => return Ok(None),
        };
        match (&target, items) {
            (Self::New(out), [_]) => output::new_file(out)?,
            (Self::New(out), _) => {
                let help = "Name a folder that is there with --write, or one score.";
                return Err(Failure::new(format!("several scores cannot be written into one file, {}", out.display()), help));
            }
            (Self::Folder(_), _) => {
                let mut taken = BTreeSet::new();
                for item in items {
                    let Some(out) = item.path().and_then(|path| target.file(path)) else {
                        return Err(Failure::new("standard input has no name to be written under", "Name a new file with --write."));
                    };
                    output::new_file(&out)?;
                    if let Some(twice) = taken.replace(out) {
                        let what = format!("two scores would be written into {}", twice.display());
                        return Err(Failure::new(what, "Take them one folder at a time."));
                    }
                }
            }
            (Self::InPlace, _) => {
                let written = |item: &&Item| item.path().is_none_or(|path| ends_in(path, PACKED));
                if let Some(item) = items.iter().find(written) {
                    let what = format!("only a plain file can be written in place, not {}", item.name());
                    return Err(Failure::new(what, "Name a new file with --write."));
                }
            }
        }
        Ok(Some(target))
    }

    /// The file that the score of a path is written into.
    fn file(&self, path: &Path) -> Option<PathBuf> {
        match self {
            Self::New(out) => Some(out.clone()),
            Self::Folder(folder) => Some(folder.join(path.file_name()?)),
            Self::InPlace => Some(path.to_owned()),
        }
    }

    /// Whether a report would go where a score goes.
    pub fn takes(&self, report: &Path, items: &[Item]) -> bool {
        let mut outs = items.iter().filter_map(|item| match self {
            Self::New(out) => Some(out.clone()),
            _ => self.file(item.path()?),
        });
        outs.any(|out| output::same_file(report, &out))
    }

    /// Writes what can be written. The number of scores that cannot.
    ///
    /// # Errors
    /// Of a single score, why it cannot be written; files that cannot be made.
    pub fn write(&self, documents: &[DocumentCasting]) -> Result<usize, Failure> {
        let (mut written, mut refused) = (0, 0);
        for document in documents {
            let same = |other: &&DocumentCasting| other.path == document.path;
            let several = documents.iter().filter(same).count() > 1;
            let why = match &document.written {
                // That it cannot be cast off stands in the report.
                None => continue,
                Some(Ok(_)) if several => "the file holds several scores".to_owned(),
                Some(Ok(text)) => {
                    let Some(out) = self.file(Path::new(&document.path)) else { continue };
                    output::write_bytes(&bytes(text, document, &out)?, &out)?;
                    written += 1;
                    continue;
                }
                Some(Err(why)) => why.clone(),
            };
            let what = format!("{} cannot be written anew: {why}", document.path);
            if let [_] = documents {
                return Err(Failure::new(what, "Nothing was written."));
            }
            work::talk(&what);
            refused += 1;
        }
        if let Self::Folder(folder) = self {
            work::talk(&format!("{written} of {} written to {}.", documents.len(), folder.display()));
        }
        Ok(refused)
    }
}

fn ends_in(path: &Path, ending: &str) -> bool {
    path.extension().is_some_and(|end| end.eq_ignore_ascii_case(ending))
}

/// A text as its file takes it: packed where the file is a packed one, with whatever else its container held.
fn bytes(text: &str, document: &DocumentCasting, out: &Path) -> Result<Vec<u8>, Failure> {
    if !ends_in(out, PACKED) {
        return Ok(text.as_bytes().to_vec());
    }
    packed(text, Path::new(&document.path), document.member.as_deref())
        .map_err(|error| Failure::new(format!("{} cannot be packed: {error}", out.display()), "Name a .musicxml file with --write."))
}

fn packed(text: &str, from: &Path, member: Option<&str>) -> zip::result::ZipResult<Vec<u8>> {
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    let name = member.unwrap_or("score.musicxml");
    match member {
        Some(_) if ends_in(from, PACKED) => {
            let mut old = ZipArchive::new(BufReader::new(File::open(from)?))?;
            for index in 0..old.len() {
                let one = old.by_index_raw(index)?;
                if !one.name().is_ok_and(|own| own == name) {
                    zip.raw_copy_file(one)?;
                }
            }
        }
        _ => {
            zip.start_file(CONTAINER, SimpleFileOptions::default())?;
            let root = format!("<rootfile full-path=\"{name}\" media-type=\"application/vnd.recordare.musicxml+xml\"/>");
            write!(zip, "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<container>\n <rootfiles>\n  {root}\n </rootfiles>\n</container>\n")?;
        }
    }
    zip.start_file(name, SimpleFileOptions::default())?;
    zip.write_all(text.as_bytes())?;
    Ok(zip.finish()?.into_inner())
}
