//! The build script: packs the data files of `rules/`, and lists them for `mod.rs`.

mod groups;
mod tags;
mod write;

use std::error::Error;
use std::fmt::Write;
use std::path::Path;
use std::{env, fs};
use toml::de::DeTable;

/// Files that are no rules, with the name that each has in the list and the key of the entries that may share groups.
const OTHERS: [(&str, &str, Option<&str>); 3] =
    [("instruments", "INSTRUMENTS", None), ("papers", "PAPERS", None), ("roles", "ROLES", Some("role"))];

fn main() -> Result<(), Box<dyn Error>> {
    println!("cargo::rerun-if-changed=rules");
    let rules = Path::new(&env::var("CARGO_MANIFEST_DIR")?).join("rules");
    let out = env::var("OUT_DIR")?;
    let mut files = Vec::new();
    for entry in fs::read_dir(rules)? {
        files.push(entry?.path());
    }
    files.retain(|path| path.extension().is_some_and(|end| end == "toml"));
    // As names with their `.toml` stand in order.
    files.sort();
    let (mut list, mut rules) = (String::new(), String::new());
    for path in files {
        let name = path.file_stem().and_then(|name| name.to_str()).ok_or("a name that is not UTF-8")?;
        let other = OTHERS.iter().find(|(other, ..)| *other == name);
        let packed = pack(&fs::read_to_string(&path)?, other.and_then(|(.., entries)| *entries));
        fs::write(Path::new(&out).join(name).with_extension("packed"), packed.map_err(|error| format!("rules/{name}.toml: {error}"))?)?;
        match other {
            Some((_, listed, _)) => writeln!(list, "/// `rules/{name}.toml`.\npub const {listed}: Packed<'static> = packed!({name:?});")?,
            None => writeln!(rules, "    packed!({name:?}),")?,
        }
    }
    write!(list, "/// The rule files, by name.\npub const RULES: &[Packed<'static>] = &[\n{rules}];\n")?;
    fs::write(Path::new(&out).join("packed.rs"), list)?;
    Ok(())
}

fn pack(text: &str, entries: Option<&str>) -> Result<Vec<u8>, Box<dyn Error>> {
    let mut root = DeTable::parse(text)?;
    if let Some(entries) = entries {
        groups::share(root.get_mut(), entries).map_err(|error| error.to_string())?;
    }
    Ok(write::pack(text, &root).map_err(|error| error.to_string())?)
}
