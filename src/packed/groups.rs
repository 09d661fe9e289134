//! What several entries of a data file share: `[group.*]` tables, laid under the entries that are `like` them. The build script does
//! that to the files that come with the program, the house to other texts.

use std::fmt;
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// The table of groups, and the key by which an entry names those it is like.
const GROUP: &str = "group";
const LIKE: &str = "like";

/// Why an entry cannot be like a group, and where it says that it is.
#[derive(Debug)]
pub(crate) enum NoGroup {
    /// Its `like` is no list.
    NoList(Range<usize>),
    /// There is no such group.
    Unknown { at: Range<usize>, asked: String, known: Vec<String> },
}

impl fmt::Display for NoGroup {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoList(at) => write!(to, "`like` is a list of groups (byte {})", at.start),
            Self::Unknown { at, asked, known } => {
                write!(to, "there is no group \"{asked}\" (byte {}); known: {}", at.start, known.join(", "))
            }
        }
    }
}

/// Fills up each entry of the list `entries` from the groups it is `like`: what it says itself goes first, then the groups
/// in their order. A value with a `source` is taken whole. The groups go.
///
/// # Errors
/// A group that is not there.
pub(crate) fn share(root: &mut DeTable, entries: &str) -> Result<(), NoGroup> {
    let groups = match root.remove(GROUP).map(Spanned::into_inner) {
        Some(DeValue::Table(groups)) => groups,
        _ => DeTable::new(),
    };
    if let Some(DeValue::Array(list)) = root.get_mut(entries).map(Spanned::get_mut) {
        for entry in list.iter_mut() {
            if let DeValue::Table(entry) = entry.get_mut() {
                fill(entry, &groups)?;
            }
        }
    }
    Ok(())
}

fn fill<'a>(entry: &mut DeTable<'a>, groups: &DeTable<'a>) -> Result<(), NoGroup> {
    let Some(like) = entry.remove(LIKE) else { return Ok(()) };
    let DeValue::Array(names) = like.get_ref() else { return Err(NoGroup::NoList(like.span())) };
    for name in names {
        let asked = name.get_ref().as_str().unwrap_or_default();
        let Some(DeValue::Table(group)) = groups.get(asked).map(Spanned::get_ref) else {
            let known = groups.keys().map(|key| key.get_ref().clone().into_owned()).collect();
            return Err(NoGroup::Unknown { at: name.span(), asked: asked.to_owned(), known });
        };
        lay_under(entry, group);
    }
    Ok(())
}

/// Adds what `below` says and `table` does not.
fn lay_under<'a>(table: &mut DeTable<'a>, below: &DeTable<'a>) {
    for (key, value) in below {
        match (table.get_mut(key).map(Spanned::get_mut), value.get_ref()) {
            (None, _) => {
                table.insert(key.clone(), value.clone());
            }
            (Some(DeValue::Table(own)), DeValue::Table(shared)) if !own.contains_key("source") && !shared.contains_key("source") => {
                lay_under(own, shared);
            }
            (Some(_), _) => {}
        }
    }
}
