//! The table of a subject: one list of fields gives what conditions may read, what `explain` says of
//! them and what a finding's number is measured in.

use super::value::Value;
use crate::place::Place;

/// What sort of value a field holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A double.
    Number,
    /// A text.
    Text,
    /// Yes or no.
    Truth,
    /// A list of texts.
    Texts,
    /// A list of doubles.
    Numbers,
}

impl Kind {
    /// What to call it in an error.
    pub fn words(self) -> &'static str {
        match self {
            Self::Number => "a number",
            Self::Text => "a text",
            Self::Truth => "true or false",
            Self::Texts => "a list of texts",
            Self::Numbers => "a list of numbers",
        }
    }

    /// Whether a value is of this sort. Absent and unknown are of every sort.
    pub fn holds(self, value: &Value) -> bool {
        match value {
            Value::Absent | Value::Unknown(_) => true,
            Value::Number(_) => self == Self::Number,
            Value::Text(_) => self == Self::Text,
            Value::Truth(_) => self == Self::Truth,
            Value::Texts(_) => self == Self::Texts,
            Value::Numbers(_) => self == Self::Numbers,
        }
    }
}

/// What a number is measured in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    /// Nothing: a text, a truth, a number without a unit.
    None,
    /// Millimetres.
    Mm,
    /// Staff spaces.
    Sp,
    /// Tenths of the file.
    Tenths,
    /// Staff heights.
    StaffHeights,
    /// A ratio: 1 is the whole.
    Ratio,
    /// A number of things.
    Count,
    /// Bars.
    Bars,
    /// Seconds.
    Seconds,
    /// Typographic points.
    Points,
}

impl Unit {
    /// Every unit, for the rule file that names one.
    pub const ALL: [Self; 10] = [
        Self::None,
        Self::Mm,
        Self::Sp,
        Self::Tenths,
        Self::StaffHeights,
        Self::Ratio,
        Self::Count,
        Self::Bars,
        Self::Seconds,
        Self::Points,
    ];

    /// Its name in reports and rule files; `None` where there is nothing to name.
    pub fn name(self) -> Option<&'static str> {
        match self {
            Self::None => None,
            Self::Mm => Some("mm"),
            Self::Sp => Some("staff spaces"),
            Self::Tenths => Some("tenths"),
            Self::StaffHeights => Some("staff heights"),
            Self::Ratio => Some("ratio"),
            Self::Count => Some("count"),
            Self::Bars => Some("bars"),
            Self::Seconds => Some("s"),
            Self::Points => Some("pt"),
        }
    }
}

/// What a field is, apart from how it is got.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Field {
    /// Its name after the dot: `white_mm` in `gap.white_mm`.
    pub name: &'static str,
    /// What sort of value.
    pub kind: Kind,
    /// Measured in what.
    pub unit: Unit,
    /// One sentence for `explain` and the manual.
    pub what: &'static str,
}

/// A field and how to get it from a thing.
#[derive(Debug)]
pub struct Column<T> {
    /// What it is.
    pub field: Field,
    /// The value.
    pub get: fn(&T) -> Value,
    /// Where that value was written, where one can tell.
    pub at: Option<fn(&T) -> Option<Place>>,
}

impl<T> Column<T> {
    /// A column that does not know where its values were written.
    pub const fn new(name: &'static str, kind: Kind, unit: Unit, what: &'static str, get: fn(&T) -> Value) -> Self {
        Self { field: Field { name, kind, unit, what }, get, at: None }
    }

    /// A column that knows where its values were written.
    pub const fn written(
        name: &'static str,
        kind: Kind,
        unit: Unit,
        what: &'static str,
        get: fn(&T) -> Value,
        at: fn(&T) -> Option<Place>,
    ) -> Self {
        Self { field: Field { name, kind, unit, what }, get, at: Some(at) }
    }
}

/// What rules can be about: its name and its table of fields.
#[derive(Debug)]
pub struct Subject<T: 'static> {
    /// Its name before the dot: `gap` in `gap.white_mm`.
    pub name: &'static str,
    /// One sentence for `explain` and the manual.
    pub what: &'static str,
    /// Its fields, in the order they are explained.
    pub columns: &'static [Column<T>],
}

impl<T> Subject<T> {
    /// The facts of one thing of this sort.
    pub fn of<'a>(&'static self, thing: &'a T) -> Row<'a, T> {
        Row { subject: self, thing }
    }
}

/// The values of one thing, by column of its subject's table. Things are judged on several cores.
pub trait Facts: Sync {
    /// How many columns there are. Past the last, all columns have the same value.
    fn columns(&self) -> usize;
    /// The value in that column.
    fn value(&self, column: usize) -> Value;
    /// Where it was written, where one can tell.
    fn place(&self, column: usize) -> Option<Place>;
}

/// One thing seen through its subject's table.
#[derive(Debug)]
pub struct Row<'a, T: 'static> {
    subject: &'static Subject<T>,
    thing: &'a T,
}

impl<T: Sync> Facts for Row<'_, T> {
    fn columns(&self) -> usize {
        self.subject.columns.len()
    }

    fn value(&self, column: usize) -> Value {
        let Some(column) = self.subject.columns.get(column) else { return Value::Absent };
        let value = (column.get)(self.thing);
        // A table that is wrong about its own values must not pass in silence.
        if column.field.kind.holds(&value) { value } else { Value::unknown("the table of fields is wrong about this value") }
    }

    fn place(&self, column: usize) -> Option<Place> {
        let at = self.subject.columns.get(column)?.at?;
        at(self.thing)
    }
}

/// Facts of something that is not known at all: every value is unknown for this one reason.
#[derive(Debug, Clone, Copy)]
pub struct Unknowable(pub &'static str);

impl Facts for Unknowable {
    fn columns(&self) -> usize {
        0
    }

    fn value(&self, _column: usize) -> Value {
        Value::unknown(self.0)
    }

    fn place(&self, _column: usize) -> Option<Place> {
        None
    }
}

/// A subject without the type of its things.
#[derive(Debug, Clone)]
pub struct Entry {
    /// Its name.
    pub name: &'static str,
    /// What it is.
    pub what: &'static str,
    /// Its fields, in column order.
    pub fields: Vec<Field>,
}

impl Entry {
    /// The column of a field.
    pub fn column(&self, name: &str) -> Option<usize> {
        self.fields.iter().position(|field| field.name == name)
    }
}

/// The name of the subject whose facts every rule sees beside its own: the file.
pub const FILE: &str = "file";
/// The name of the subject that holds what is known of the reader: the role. No rule can be about it.
pub const ROLE: &str = "role";

/// Every subject, with its fields: what rule files are checked against.
#[derive(Debug, Clone, Default)]
pub struct Vocabulary {
    entries: Vec<Entry>,
}

impl Vocabulary {
    /// No subject yet.
    pub fn new() -> Self {
        Self::default()
    }

    /// This vocabulary and one subject more. A second subject of the same name takes the first one's place.
    #[must_use]
    pub fn with<T>(mut self, subject: &'static Subject<T>) -> Self {
        self.entries.retain(|entry| entry.name != subject.name);
        let fields = subject.columns.iter().map(|column| column.field).collect();
        self.entries.push(Entry { name: subject.name, what: subject.what, fields });
        self
    }

    /// The subject of that name.
    pub fn subject(&self, name: &str) -> Option<&Entry> {
        self.entries.iter().find(|entry| entry.name == name)
    }

    /// Every subject, in the order they were given.
    pub fn subjects(&self) -> impl Iterator<Item = &Entry> {
        self.entries.iter()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A table that claims a number and gives a text must not be believed, nor silence the rule.
    #[test]
    fn a_table_that_is_wrong_about_a_value_is_not_judged_by() {
        static SUBJECT: Subject<Value> = Subject {
            name: "thing",
            what: "A thing that is its own value.",
            columns: &[
                Column::new("number", Kind::Number, Unit::None, "A number.", Value::clone),
                Column::new("text", Kind::Text, Unit::None, "A text.", Value::clone),
                Column::new("truth", Kind::Truth, Unit::None, "A truth.", Value::clone),
                Column::new("texts", Kind::Texts, Unit::None, "Texts.", Value::clone),
                Column::new("numbers", Kind::Numbers, Unit::None, "Numbers.", Value::clone),
            ],
        };
        let values = [Value::Number(3.0), Value::text("three"), Value::Truth(true), Value::texts(["three"]), Value::Numbers([3.0].into())];
        for (own, value) in values.iter().enumerate() {
            let row = SUBJECT.of(value);
            for column in 0..row.columns() {
                let found = row.value(column);
                assert_eq!(found == *value, own == column, "{found:?} of {value:?}");
                assert_eq!(matches!(found, Value::Unknown(_)), own != column, "{found:?} of {value:?}");
            }
        }
        for value in [Value::Absent, Value::unknown("nobody says")] {
            let row = SUBJECT.of(&value);
            assert!((0..row.columns()).all(|column| row.value(column) == value), "absent and unknown are of every sort");
        }
    }
}
