//! Generated files are committed; here they are held in step with their generator.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

/// Set this variable to have the files rewritten instead of compared.
const WRITE: &str = "STAVEGAUGE_WRITE";

/// Compares every file of `wanted` (path below the repository's root, bytes) with the committed one, and
/// says which files below `folder` nobody generates; names in `by_hand` are left alone. With
/// `STAVEGAUGE_WRITE=1` writes the files and removes the strays instead.
pub fn hold(folder: &str, wanted: &BTreeMap<String, Vec<u8>>, by_hand: &[&str]) {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let write = std::env::var_os(WRITE).is_some();
    let mut wrong = Vec::new();
    for (name, bytes) in wanted {
        let path = root.join(name);
        if write {
            fs::create_dir_all(path.parent().expect("a file lies in a folder")).expect("folder can be made");
            fs::write(&path, bytes).expect("file can be written");
        } else {
            match fs::read(&path) {
                Ok(found) if found == *bytes => {}
                Ok(found) => wrong.push(format!("{name}: differs from line {}", first_difference(&found, bytes))),
                Err(error) => wrong.push(format!("{name}: {error}")),
            }
        }
    }
    for path in files_below(&root.join(folder)) {
        let name = path.strip_prefix(root).expect("found below the root").to_string_lossy().replace('\\', "/");
        if wanted.contains_key(&name) || by_hand.contains(&name.as_str()) {
            continue;
        }
        if write {
            fs::remove_file(&path).expect("stray file can be removed");
        } else {
            wrong.push(format!("{name}: nobody generates it"));
        }
    }
    assert!(wrong.is_empty(), "out of step with the generator (set {WRITE}=1 to rewrite):\n{}", wrong.join("\n"));
}

fn first_difference(found: &[u8], wanted: &[u8]) -> usize {
    let same = found.iter().zip(wanted).take_while(|(a, b)| a == b);
    1 + same.filter(|(byte, _)| **byte == b'\n').count()
}

fn files_below(folder: &Path) -> Vec<PathBuf> {
    let Ok(entries) = fs::read_dir(folder) else { return Vec::new() };
    let paths = entries.map(|entry| entry.expect("folder can be read").path());
    paths.flat_map(|path| if path.is_dir() { files_below(&path) } else { vec![path] }).collect()
}
