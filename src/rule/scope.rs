//! Which names a rule may write, and what they stand for: `gap.white_mm`, `file.pages`, `role.least_mm`,
//! `limit.heights`.

use super::error::Fault;
use super::field::{Entry, FILE, Facts, Kind, ROLE, Unit};
use super::value::{Seen, Value};
use std::sync::OnceLock;

/// The namespace of a rule's own limits.
pub const LIMIT: &str = "limit";

/// Whose value a name stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(super) enum Source {
    /// The thing the rule is about.
    Own,
    /// The file it stands in.
    File,
    /// Its reader.
    Role,
    /// The rule's limits.
    Limit,
}

/// A name, resolved: a column of a subject's table, or one of the rule's limits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(super) struct Ref {
    pub source: Source,
    pub index: usize,
}

/// The names one rule may write.
#[derive(Debug, Clone)]
pub(super) struct Scope<'a> {
    /// The subject it is about.
    pub own: &'a Entry,
    /// The subject `file`; `None` where the rule is about the file itself or there is none.
    pub file: Option<&'a Entry>,
    /// The subject `role`.
    pub role: Option<&'a Entry>,
    /// Its limits: name and unit.
    pub limits: Vec<(&'a str, Unit)>,
}

impl<'a> Scope<'a> {
    /// Every namespace.
    pub fn namespaces(&self) -> impl Iterator<Item = &str> {
        let file = self.file.map(|_| FILE);
        let role = self.role.map(|_| ROLE);
        [Some(self.own.name), file, role, Some(LIMIT)].into_iter().flatten()
    }

    fn entry(&self, source: Source) -> Option<&'a Entry> {
        match source {
            Source::Own => Some(self.own),
            Source::File => self.file,
            Source::Role => self.role,
            Source::Limit => None,
        }
    }

    fn source(&self, namespace: &str) -> Option<Source> {
        if namespace == LIMIT {
            return Some(Source::Limit);
        }
        [Source::Own, Source::File, Source::Role].into_iter().find(|s| self.entry(*s).is_some_and(|entry| entry.name == namespace))
    }

    /// What a name stands for.
    pub fn resolve(&self, namespace: &str, name: &str) -> Result<Ref, Fault> {
        let Some(source) = self.source(namespace) else {
            return Err(Fault::unknown_name(format!("there is no `{namespace}` here"), namespace, self.namespaces()));
        };
        let found = match self.entry(source) {
            Some(entry) => entry.column(name),
            None => self.limits.iter().position(|(limit, _)| *limit == name),
        };
        found.map(|index| Ref { source, index }).ok_or_else(|| {
            let what = if source == Source::Limit { "limit" } else { "field" };
            let known: Vec<&str> = match self.entry(source) {
                Some(entry) => entry.fields.iter().map(|field| field.name).collect(),
                None => self.limits.iter().map(|(limit, _)| *limit).collect(),
            };
            Fault::unknown_name(format!("no {what} `{name}` in `{namespace}`"), name, known)
        })
    }

    /// What a dotted name such as `gap.white_mm` stands for.
    pub fn resolve_dotted(&self, dotted: &str) -> Result<Ref, Fault> {
        let Some((namespace, name)) = dotted.split_once('.') else {
            return Err(Fault::new(format!("`{dotted}` is no name of a field")).help("write the subject, a dot and the field"));
        };
        self.resolve(namespace, name)
    }

    /// The sort of value a name stands for.
    pub fn kind(&self, name: Ref) -> Kind {
        self.entry(name.source).and_then(|entry| entry.fields.get(name.index)).map_or(Kind::Number, |field| field.kind)
    }

    /// What the value of a name is measured in.
    pub fn unit(&self, name: Ref) -> Unit {
        match self.entry(name.source) {
            Some(entry) => entry.fields.get(name.index).map_or(Unit::None, |field| field.unit),
            None => self.limits.get(name.index).map_or(Unit::None, |(_, unit)| *unit),
        }
    }

    /// A name as it is written.
    pub fn dotted(&self, name: Ref) -> String {
        match self.entry(name.source) {
            Some(entry) => format!("{}.{}", entry.name, entry.fields.get(name.index).map_or("?", |field| field.name)),
            None => format!("{LIMIT}.{}", self.limits.get(name.index).map_or("?", |(limit, _)| limit)),
        }
    }
}

/// The facts of one thing, each value got when it is first asked for: many conditions ask for the same.
pub(super) struct Noted<'a> {
    facts: &'a dyn Facts,
    columns: Box<[OnceLock<Value>]>,
    /// What every column past the last is.
    beyond: OnceLock<Value>,
}

impl<'a> Noted<'a> {
    pub fn new(facts: &'a dyn Facts) -> Self {
        Self { facts, columns: (0..facts.columns()).map(|_| OnceLock::new()).collect(), beyond: OnceLock::new() }
    }

    /// The value in a column. A number that is not finite, however it came here, is unknown.
    fn value(&self, column: usize) -> Seen<'_> {
        let value = self.columns.get(column).unwrap_or(&self.beyond).get_or_init(|| match self.facts.value(column) {
            Value::Number(number) => Value::number(number),
            value => value,
        });
        value.seen()
    }
}

/// The values all those names have for one thing.
pub(super) struct Scene<'a> {
    pub own: &'a Noted<'a>,
    pub file: &'a Noted<'a>,
    pub role: &'a Noted<'a>,
    pub limits: &'a [f64],
}

impl<'a> Scene<'a> {
    /// The value of a name.
    pub fn value(&self, name: Ref) -> Seen<'a> {
        match name.source {
            Source::Own => self.own.value(name.index),
            Source::File => self.file.value(name.index),
            Source::Role => self.role.value(name.index),
            Source::Limit => self.limits.get(name.index).map_or(Seen::Absent, |limit| Seen::Number(*limit)),
        }
    }

    /// Where that value was written.
    pub fn place(&self, name: Ref) -> Option<crate::place::Place> {
        match name.source {
            Source::Own => self.own.facts.place(name.index),
            Source::File => self.file.facts.place(name.index),
            Source::Role | Source::Limit => None,
        }
    }
}
