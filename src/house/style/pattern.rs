//! Patterns of paths: which files a line of a house style means.

use glob::MatchOptions;

/// A pattern of paths with `/`. One without `/` is a pattern of file names, in whatever folder.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pattern {
    glob: glob::Pattern,
    names: bool,
}

/// `*` stays within a folder, `**` goes through folders.
const OPTIONS: MatchOptions = MatchOptions { case_sensitive: true, require_literal_separator: true, require_literal_leading_dot: false };

impl Pattern {
    /// Reads a pattern.
    ///
    /// # Errors
    /// What is wrong with it, in words.
    pub fn new(text: &str) -> Result<Self, String> {
        let text = text.trim().trim_start_matches("./");
        if text.is_empty() {
            return Err("this is no pattern of paths; write one such as \"parts/*.musicxml\"".to_owned());
        }
        let glob = glob::Pattern::new(text).map_err(|error| format!("this is no pattern of paths: {}", error.msg))?;
        Ok(Self { glob, names: !text.contains('/') })
    }

    /// The pattern that means this one path.
    pub fn of(path: &str) -> String {
        glob::Pattern::escape(path)
    }

    /// Whether it means a path, from the folder of the house style, with `/`.
    pub fn means(&self, path: &str) -> bool {
        let path = if self.names { path.rsplit('/').next().unwrap_or(path) } else { path };
        self.glob.matches_with(path, OPTIONS)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_in_any_folder_and_paths_from_one() {
        let means = |pattern: &str, path: &str| Pattern::new(pattern).expect("sound").means(path);
        assert!(means("*oboe*", "parts/03-oboe.musicxml") && means("*oboe*", "oboe.xml"));
        assert!(!means("*oboe*", "oboes/1.xml"));
        assert!(means("parts/*.mxl", "parts/1.mxl") && !means("parts/*.mxl", "parts/in/1.mxl") && !means("parts/*.mxl", "1.mxl"));
        assert!(means("./parts/**/*.mxl", "parts/in/1.mxl") && means("**/1.mxl", "1.mxl"));
        assert!(means(&Pattern::of("a [1]/?.mxl"), "a [1]/?.mxl") && !means(&Pattern::of("a/?.mxl"), "a/b.mxl"));
        assert!(Pattern::new("a/**b").is_err() && Pattern::new(" ").is_err());
    }
}
