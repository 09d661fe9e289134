//! The rule files that come with the program, embedded when it is built.

macro_rules! rule_files {
    ($($name:literal),* $(,)?) => {
        &[$((concat!("rules/", $name, ".toml"), include_str!(concat!(env!("CARGO_MANIFEST_DIR"), "/rules/", $name, ".toml")))),*]
    };
}

/// Name and text of every rule file, by name. A test holds this list in step with the folder.
pub(super) const FILES: &[(&str, &str)] = rule_files![
    "bars-differ",
    "breaks-differ",
    "copy-missing",
    "copy-twice",
    "copy-unmatched",
    "crowded-movement",
    "crowded-system",
    "damaged-file",
    "hidden-music",
    "large-staff",
    "long-rest-no-cue",
    "loose-movement",
    "loose-system",
    "margins-differ-in-set",
    "margins-differ",
    "marks-differ",
    "marks-far-apart",
    "narrow-margin",
    "no-bar-numbers",
    "no-dividers",
    "no-layout",
    "no-running-head",
    "one-bar-system",
    "one-more-system",
    "page-numbers-break",
    "page-turn",
    "paper-differs",
    "paper-unknown",
    "paper-unsuited",
    "past-bottom-margin",
    "past-side-margin",
    "past-top-margin",
    "rests-across-mark",
    "rests-not-gathered",
    "short-system",
    "signs-collide",
    "small-notes",
    "small-staff",
    "small-text",
    "staff-height-differs",
    "staff-line-weight",
    "stet-expired",
    "stet-unused",
    "stretched-page",
    "thin-last-page",
    "tight-staff-gap",
    "tight-system-gap",
    "tight-system",
    "titles-differ",
    "turn-in-repeat",
    "uneven-opening",
    "uneven-system",
    "unfilled-page",
    "untransposed",
    "wide-staff-gap",
    "wide-system-gap",
];

#[cfg(test)]
mod tests {
    use super::*;
    use std::path::Path;

    /// Data for the rules, which are no rules.
    const OTHERS: [&str; 3] = ["instruments.toml", "papers.toml", "roles.toml"];

    #[test]
    fn every_rule_file_is_embedded() {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("rules");
        let files = std::fs::read_dir(folder).into_iter().flatten().flatten();
        let names = files.filter_map(|file| file.file_name().into_string().ok());
        let mut names: Vec<String> =
            names.filter(|name| Path::new(name).extension().is_some_and(|end| end == "toml") && !OTHERS.contains(&name.as_str())).collect();
        names.sort();
        let embedded: Vec<&str> = FILES.iter().filter_map(|(name, _)| name.strip_prefix("rules/")).collect();
        assert_eq!(embedded, names);
    }
}
