//! Kinds of staff that the name of a part tells: cue, ossia, for rehearsal only.

use super::data::{DataError, DataFile};
use super::word::tokens;
use serde::Deserialize;
use toml::Spanned;

/// What the name of its part says a staff is for, other than the reader's own music.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NamedStaff {
    /// What others play before the reader enters.
    Cue,
    /// Another reading of a passage.
    Ossia,
    /// For rehearsals only: a piano under a choir that sings alone.
    Rehearsal,
}

/// The words that tell them, as runs of tokens.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct StaffNames {
    words: Vec<(NamedStaff, Vec<String>)>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawStaffNames {
    #[serde(default)]
    cue: Vec<Spanned<String>>,
    #[serde(default)]
    ossia: Vec<Spanned<String>>,
    #[serde(default)]
    rehearsal: Vec<Spanned<String>>,
}

impl RawStaffNames {
    /// The words, if they have letters.
    pub fn check(self, file: DataFile) -> Result<StaffNames, DataError> {
        let lists = [(NamedStaff::Cue, self.cue), (NamedStaff::Ossia, self.ossia), (NamedStaff::Rehearsal, self.rehearsal)];
        let mut words = Vec::new();
        for (kind, list) in lists {
            for word in list {
                let tokens = tokens(word.get_ref());
                if tokens.is_empty() {
                    return Err(file.wrong(&word, "a word needs letters"));
                }
                words.push((kind, tokens));
            }
        }
        Ok(StaffNames { words })
    }
}

impl StaffNames {
    /// The kind of staff that a name tells, by the first word of the lists that stands in it.
    pub fn find(&self, name: &str) -> Option<NamedStaff> {
        let name = tokens(name);
        let stands = |word: &Vec<String>| name.windows(word.len()).any(|run| run == word.as_slice());
        self.words.iter().find(|(_, word)| stands(word)).map(|(kind, _)| *kind)
    }
}
