//! The house style in force: found, read, laid over the one that comes with the program.

use super::Failure;
use super::paths::{self, Item};
use super::text::text_of;
use crate::house::{BUILT_IN, DataError, House, Roles, Style};
use crate::place::Place;
use crate::report;
use crate::rule::subject::vocabulary;
use crate::rule::{Examples, RuleBook};
use std::collections::{BTreeMap, BTreeSet};
use std::io;
use std::path::{Path, PathBuf};

/// The name of a house style file that is found by itself.
pub(super) const FILE_NAME: &str = "stavegauge.toml";
/// Styles that change styles; more is a circle, or nobody can follow it.
const MOST_BASES: usize = 8;
/// Most MiB of a house style, of a rule file or of a file of stets: room for tens of thousands of stets.
const MOST_MIB: u64 = 8;

/// A house and its rules.
pub(super) struct InForce {
    /// The house.
    pub house: House,
    /// Its rules.
    pub rules: RuleBook,
    /// Its file, where it is not the one that comes with the program.
    pub file: Option<PathBuf>,
}

/// What most commands begin with: which files there are, and what they stand under.
pub(super) struct Begun {
    /// The files.
    pub items: Vec<Item>,
    built_in: InForce,
    style: Result<Option<PathBuf>, Failure>,
}

impl Begun {
    /// Looks for the files that some paths name, and for the house style that is named, or else found from the files upwards.
    ///
    /// # Errors
    /// As [`paths::items`].
    pub fn with(paths: &[PathBuf], named: Option<&Path>) -> Result<Self, Failure> {
        let find = || {
            let items = paths::items(paths)?;
            let style = file_of(named, &items);
            Ok((items, style))
        };
        // Many files take a while to be found, and nothing of them hangs on the rules, or the other way round.
        let (found, built_in) = rayon::join(find, || InForce::built_in(Examples::PassedOver));
        let (items, style) = found?;
        Ok(Self { items, built_in: built_in?, style })
    }

    /// The files, and the house in force.
    ///
    /// # Errors
    /// A house style that cannot be read or is wrong; files that stand under different house styles.
    pub fn under_style(self) -> Result<(Vec<Item>, InForce), Failure> {
        Ok((self.items, self.built_in.with(self.style?)?))
    }
}

impl InForce {
    /// The house style that comes with the program.
    pub fn built_in(examples: Examples) -> Result<Self, Failure> {
        let fault = |what: String| Failure::new(what, "This is a fault of the program. Please report it.");
        let roles = Roles::built_in_names().map_err(|error| fault(error.to_string()))?;
        // Neither waits for the other, and nothing else can begin before both are there.
        let (house, rules) = rayon::join(House::built_in, || RuleBook::built_in(&vocabulary(), &roles, examples));
        let house = house.map_err(|error| fault(error.to_string()))?;
        let rules = rules.map_err(|error| fault(error.to_string()))?;
        Ok(Self { house, rules, file: None })
    }

    /// The one that is named, or else the one found from the working folder upwards, with the examples of all rules.
    ///
    /// # Errors
    /// As [`Begun::under_style`].
    pub fn here(named: Option<&Path>) -> Result<Self, Failure> {
        let file = file_of(named, &[Item::StandardInput])?;
        Self::built_in(Examples::Read)?.with(file)
    }

    /// This one as the style of a file changes it.
    fn with(mut self, file: Option<PathBuf>) -> Result<Self, Failure> {
        let Some(file) = file else { return Ok(self) };
        for (style, path) in chain(&file)?.iter().rev() {
            self.follow(style, path).map_err(wrong)?;
        }
        self.check_names(&file)?;
        self.rules.speak(self.house.units, self.house.words);
        self.file = Some(file);
        Ok(self)
    }

    /// What reports say of it.
    pub fn shown(&self) -> report::Style {
        report::Style { name: self.house.name.clone(), file: self.file.as_deref().map(shown), words: self.house.words }
    }

    /// Rules, by id, that must have been judged.
    pub fn must_judge(&self) -> BTreeSet<String> {
        let rules = self.house.must_judge.iter().filter_map(|named| self.rules.find(&named.name));
        rules.map(|rule| rule.id.to_string()).collect()
    }

    /// The path of a file from the folder of the house style, with `/`; without a house style, as it is shown.
    pub fn below(&self, path: &str) -> String {
        let folder = self.file.as_deref().and_then(|file| folder_of(file).canonicalize().ok());
        let below = folder.and_then(|folder| Path::new(path).canonicalize().ok()?.strip_prefix(folder).map(Path::to_owned).ok());
        below.map_or_else(|| path.to_owned(), |below| shown(&below))
    }

    fn follow(&mut self, style: &Style, path: &Path) -> Result<(), DataError> {
        self.house.follow(style)?;
        for (file, at) in style.rule_files() {
            let file = folder_of(path).join(file);
            let text = text_of_plain(&file).map_err(|error| style.wrong(at, format!("{} cannot be read: {error}", shown(&file))))?;
            let roles: Vec<&str> = self.house.roles.names().collect();
            let added = self.rules.add(&shown(&file), &text, &vocabulary(), &roles);
            added.map_err(|error| style.wrong(at, format!("a rule file of the house is wrong: {error}")))?;
        }
        for setting in self.house.rules_of(style)? {
            self.rules.follow(&setting, style.file_name()).map_err(|(at, why)| style.wrong(at, why))?;
        }
        for (file, at) in style.stet_files() {
            let file = folder_of(path).join(file);
            let text = text_of_plain(&file).map_err(|error| style.wrong(at, format!("{} cannot be read: {error}", shown(&file))))?;
            let stets = Style::read(&shown(&file), &text)?;
            if stets.says_more_than_stets() {
                return Err(style.wrong(at, format!("{} says more than stets; strike the rest", shown(&file))));
            }
            self.house.follow_stets(&stets)?;
        }
        Ok(())
    }

    /// Refuses names of rules that there are not, in `must-judge` and in stets; a stet's rule gets its present name.
    fn check_names(&mut self, file: &Path) -> Result<(), Failure> {
        let unknown = |name: &str, written_in: &str, at: Place| {
            let help = self.rules.nearest(name).map_or_else(String::new, |near| format!("; did you mean `{near}`?"));
            let text = std::fs::read_to_string(written_in).unwrap_or_default();
            let start = at.offset as usize;
            let error =
                DataError::new(written_in, &text, Some(start..start + at.length as usize), format!("there is no rule `{name}`{help}"));
            wrong(error)
        };
        for named in &self.house.must_judge {
            if self.rules.find(&named.name).is_none() {
                return Err(unknown(&named.name, &shown(file), named.at));
            }
        }
        let mut stets = self.house.stets.clone();
        for stet in &mut stets {
            match self.rules.find(&stet.rule) {
                Some(rule) => stet.rule = rule.id.to_string(),
                None => return Err(unknown(&stet.rule, &stet.written_in, stet.at)),
            }
        }
        self.house.stets = stets;
        Ok(())
    }
}

fn wrong(error: DataError) -> Failure {
    let DataError { file, line, column, message, .. } = error;
    Failure::new(format!("{file}:{line}:{column}: {message}"), "The house style was not used, and nothing was audited.")
}

/// The text of a file that a house style names, which may come from a stranger: a pipe that nobody writes to would be waited
/// for without end.
fn text_of_plain(file: &Path) -> io::Result<String> {
    if std::fs::metadata(file)?.is_file() { text_of(file, MOST_MIB) } else { Err(io::Error::other("it is no plain file")) }
}

/// The style of a file and those it changes, its own first.
fn chain(file: &Path) -> Result<Vec<(Style, PathBuf)>, Failure> {
    let mut styles: Vec<(Style, PathBuf)> = Vec::new();
    let mut next = Some(file.to_owned());
    while let Some(path) = next.take() {
        let text = if styles.is_empty() { text_of(&path, MOST_MIB) } else { text_of_plain(&path) };
        let text = text.map_err(|error| {
            Failure::new(
                format!("the house style {} cannot be read: {error}", shown(&path)),
                "Check --house, or `base` in the house style.",
            )
        })?;
        let style = Style::read(&shown(&path), &text).map_err(wrong)?;
        if let Some((base, at)) = style.base() {
            let base = folder_of(&path).join(base);
            let again = styles.iter().map(|(_, path)| path).chain([&path]).any(|known| same(known, &base));
            if again || styles.len() + 1 >= MOST_BASES {
                return Err(wrong(
                    style.wrong(at, "this style changes one that changes it in turn, or there are too many above each other"),
                ));
            }
            next = Some(base);
        }
        styles.push((style, path));
    }
    Ok(styles)
}

fn same(one: &Path, other: &Path) -> bool {
    one.canonicalize().ok().zip(other.canonicalize().ok()).is_some_and(|(one, other)| one == other)
}

/// The file of the style that is named, or else is found from the audited files upwards; `None` for the one that comes with the program.
fn file_of(named: Option<&Path>, items: &[Item]) -> Result<Option<PathBuf>, Failure> {
    match named {
        Some(named) if named == Path::new(BUILT_IN) => Ok(None),
        Some(named) => Ok(Some(below_here(named))),
        None => found(items),
    }
}

/// The house style above the files, from each upwards to the root of its repository.
fn found(items: &[Item]) -> Result<Option<PathBuf>, Failure> {
    let mut met: BTreeSet<&Path> = BTreeSet::new();
    let mut known: BTreeMap<PathBuf, Option<PathBuf>> = BTreeMap::new();
    let mut styles: BTreeMap<Option<PathBuf>, String> = BTreeMap::new();
    for item in items {
        let folder = item.path().map_or(Path::new("."), folder_of);
        if !met.insert(folder) {
            continue;
        }
        let Ok(folder) = folder.canonicalize() else { continue };
        let style = above(&folder, &mut known);
        styles.entry(style).or_insert_with(|| item.name());
    }
    let mut all = styles.into_iter();
    let first = all.next();
    match (first, all.next()) {
        (None, _) => Ok(None),
        (Some((style, _)), None) => Ok(style.map(|style| as_named(&style))),
        (Some((one, of_one)), Some((other, of_other))) => {
            let told = |style: Option<PathBuf>| style.map_or_else(|| "none".to_owned(), |style| shown(&as_named(&style)));
            Err(Failure::new(
                format!("the files stand under different house styles: {of_one} under {}, {of_other} under {}", told(one), told(other)),
                "Audit them one after the other, or say --house FILE (--house built-in for none).",
            ))
        }
    }
}

/// The nearest house style from a folder upwards, within its repository. What is known of folders is not looked for again: those
/// of many files lie below the same few.
fn above(folder: &Path, known: &mut BTreeMap<PathBuf, Option<PathBuf>>) -> Option<PathBuf> {
    let mut met = Vec::new();
    let mut found = None;
    for folder in folder.ancestors() {
        if let Some(before) = known.get(folder) {
            found.clone_from(before);
            break;
        }
        met.push(folder);
        let style = folder.join(FILE_NAME);
        if style.is_file() {
            found = Some(style);
            break;
        }
        if folder.join(".git").exists() {
            break;
        }
    }
    known.extend(met.into_iter().map(|folder| (folder.to_owned(), found.clone())));
    found
}

/// A path as it would be named here: no absolute path of this machine stands in a report where it can be helped.
fn as_named(path: &Path) -> PathBuf {
    let Ok(here) = std::env::current_dir().and_then(|here| here.canonicalize()) else { return path.to_owned() };
    let mut up = PathBuf::new();
    for folder in here.ancestors() {
        if let Ok(below) = path.strip_prefix(folder) {
            return up.join(below);
        }
        up.push("..");
    }
    path.to_owned()
}

/// A path that is named, without the way to the working folder.
fn below_here(path: &Path) -> PathBuf {
    let here = std::env::current_dir().and_then(|here| here.canonicalize());
    let below = here.ok().zip(path.canonicalize().ok()).and_then(|(here, path)| path.strip_prefix(here).map(Path::to_owned).ok());
    below.unwrap_or_else(|| path.to_owned())
}

fn folder_of(file: &Path) -> &Path {
    file.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

fn shown(path: &Path) -> String {
    path.to_string_lossy().replace(std::path::MAIN_SEPARATOR_STR, "/")
}
