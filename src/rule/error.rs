//! What is wrong with a rule file, and where in its text.

use std::fmt;
use std::ops::Range;

/// One thing wrong with one rule file. It points into the text of that file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RuleFileError {
    /// The file, as the caller named it.
    pub file: String,
    /// What is wrong, in one sentence without a full stop.
    pub what: String,
    /// What to do about it.
    pub help: Option<String>,
    /// The bytes of the file's text it is about.
    pub span: Option<Range<usize>>,
    /// Line and column of the start of `span`, both from 1, the column in characters.
    pub at: Option<(usize, usize)>,
}

impl fmt::Display for RuleFileError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.file)?;
        if let Some((line, column)) = self.at {
            write!(f, ":{line}:{column}")?;
        }
        write!(f, ": {}", self.what)?;
        if let Some(help) = &self.help {
            write!(f, " ({help})")?;
        }
        Ok(())
    }
}

impl std::error::Error for RuleFileError {}

/// A fault found in a piece of text, before it is known which file it stands in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Fault {
    /// What is wrong.
    pub what: String,
    /// What to do about it.
    pub help: Option<String>,
    /// The bytes of the piece it is about; the whole piece where one cannot tell.
    pub span: Option<Range<usize>>,
}

impl Fault {
    pub fn new(what: impl Into<String>) -> Self {
        Self { what: what.into(), help: None, span: None }
    }

    #[must_use]
    pub fn help(mut self, help: impl Into<String>) -> Self {
        self.help = Some(help.into());
        self
    }

    #[must_use]
    pub fn at(mut self, span: Range<usize>) -> Self {
        self.span = Some(span);
        self
    }

    /// An unknown name, with the nearest known one as help; without one near, the whole list.
    #[must_use]
    pub fn unknown_name<'a>(what: impl Into<String>, name: &str, known: impl IntoIterator<Item = &'a str>) -> Self {
        let known: Vec<&str> = known.into_iter().collect();
        let fault = Self::new(what);
        match nearest(name, known.iter().copied()) {
            Some(near) => fault.help(format!("did you mean `{near}`?")),
            None if known.is_empty() => fault,
            None => fault.help(format!("known: {}", known.join(", "))),
        }
    }

    /// The fault in a file, for a piece whose bytes lie at `place` in the file's text.
    pub fn in_file(self, file: &str, text: &str, place: Option<Range<usize>>) -> RuleFileError {
        let at = place.as_ref().map(|span| line_and_column(text, span.start));
        RuleFileError { file: file.to_owned(), what: self.what, help: self.help, span: place, at }
    }
}

/// The known name nearest to one that is not known, if it is near enough to be a slip of the pen.
pub fn nearest<'a>(name: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    // A third of the letters wrong is the usual bound between a slip and another word.
    let most = name.chars().count().div_ceil(3);
    known
        .into_iter()
        .map(|candidate| (strsim::damerau_levenshtein(name, candidate), candidate))
        .filter(|(slips, _)| *slips <= most)
        .min()
        .map(|(_, candidate)| candidate)
}

/// Line and column, from 1, of a byte; the column counts characters. Line feeds end lines.
fn line_and_column(text: &str, offset: usize) -> (usize, usize) {
    let before = text.get(..offset).unwrap_or(text);
    let line = before.bytes().filter(|byte| *byte == b'\n').count() + 1;
    let column = before.rsplit('\n').next().unwrap_or_default().chars().count() + 1;
    (line, column)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slip_is_told_from_another_word() {
        let known = ["white_mm", "white_heights", "needed_mm"];
        assert_eq!(nearest("white_height", known), Some("white_heights"));
        assert_eq!(nearest("whiet_mm", known), Some("white_mm"));
        assert_eq!(nearest("colour", known), None);
    }

    #[test]
    fn columns_count_characters() {
        assert_eq!(line_and_column("a\nöx", 4), (2, 2));
        assert_eq!(line_and_column("", 0), (1, 1));
        assert_eq!(line_and_column("ab", 99), (1, 3));
    }
}
