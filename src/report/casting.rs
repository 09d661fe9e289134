//! What the reports of a casting off are made of.

use crate::repair::CastingSheet;

/// One document cast off anew.
#[derive(Debug)]
pub struct DocumentCasting {
    /// The file as it was named; `-` for standard input.
    pub path: String,
    /// The member of a container.
    pub member: Option<String>,
    /// Whom it was cast off for, in words; `None` where nobody can tell.
    pub reader: Option<String>,
    /// It is gravely damaged, though it can be cast off: what of it was lost, nobody can tell.
    pub damaged: bool,
    /// The sheet; or why there is none, and what to do.
    pub sheet: Result<CastingSheet, (String, String)>,
    /// How many of it are printed.
    pub desks: u32,
    /// Sheets of paper for one of it: two leaves a folded sheet, or one page a loose one.
    pub sheets: usize,
    /// Its text with the new layout, where that is asked for; or why it cannot be written.
    pub written: Option<Result<String, String>>,
}

impl DocumentCasting {
    /// A file that could not be opened.
    pub fn damaged(path: String, what: String, help: String) -> Self {
        Self { path, member: None, reader: None, damaged: true, sheet: Err((what, help)), desks: 1, sheets: 0, written: None }
    }
}
