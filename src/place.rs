//! Where a value stands in the source, how it came to hold where it is used, and how sure of it we are.

use serde::Serialize;

/// A stretch of the decoded UTF-8 text of one file or `.mxl` member, in bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Place {
    /// Bytes before it.
    pub offset: u32,
    /// Bytes it takes.
    pub length: u32,
}

impl Place {
    /// A stretch of `length` bytes behind `offset`; what lies past 4 GiB (the reader's limit) is cut there.
    pub fn new(offset: u64, length: u64) -> Self {
        Self { offset: u32::try_from(offset).unwrap_or(u32::MAX), length: u32::try_from(length).unwrap_or(u32::MAX) }
    }
}

/// How many lines have ended before some places of a text, as it was read: what stands far behind need not be counted from the start.
#[derive(Debug, Clone, Default)]
pub struct Lines {
    /// Bytes before each place, and line ends before it; the places in their order.
    counts: Vec<(u64, u64)>,
}

impl Lines {
    /// Notes that so many lines have ended before a place behind all others.
    pub fn add(&mut self, offset: u64, ends: u64) {
        self.counts.push((offset, ends));
    }

    /// Adds what was counted further on, from a place on before which so many lines had ended.
    pub fn append(&mut self, behind: Self, ends: u64) {
        self.counts.extend(behind.counts.into_iter().map(|(offset, more)| (offset, ends + more)));
    }

    /// The last place counted that is not behind a place, as bytes and line ends before it.
    pub fn up_to(&self, offset: u64) -> Option<(u64, u64)> {
        let behind = self.counts.partition_point(|(counted, _)| *counted <= offset);
        self.counts.get(behind.checked_sub(1)?).copied()
    }
}

/// A value and where the file says it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stated<T> {
    /// What is said.
    pub value: T,
    /// Where.
    pub at: Place,
}

impl<T> Stated<T> {
    /// A value with its place.
    pub fn new(value: T, at: Place) -> Self {
        Self { value, at }
    }

    /// The same place with another value made of this one.
    pub fn map<U>(self, make: impl FnOnce(T) -> U) -> Stated<U> {
        Stated { value: make(self.value), at: self.at }
    }
}

/// What is known of a value at the place where it is asked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Known<T> {
    /// Said for this very page, system or staff.
    Stated(T, Place),
    /// Said elsewhere (in the file's defaults) and in force here.
    Inherited(T, Place),
    /// Worked out from other values of the file.
    Derived(T),
    /// Does not apply here: the first staff of a system has no gap above it.
    Absent,
    /// Applies but cannot be known; the reason is for the reader of the report.
    Unknown(&'static str),
}

impl<T: Copy> Known<T> {
    /// The value, if there is one.
    pub fn value(&self) -> Option<T> {
        match self {
            Self::Stated(value, _) | Self::Inherited(value, _) | Self::Derived(value) => Some(*value),
            Self::Absent | Self::Unknown(_) => None,
        }
    }

    /// Where the value was written, if it was.
    pub fn place(&self) -> Option<Place> {
        match self {
            Self::Stated(_, at) | Self::Inherited(_, at) => Some(*at),
            Self::Derived(_) | Self::Absent | Self::Unknown(_) => None,
        }
    }

    /// The same knowledge of a value made of this one.
    pub fn map<U>(self, make: impl FnOnce(T) -> U) -> Known<U> {
        match self {
            Self::Stated(value, at) => Known::Stated(make(value), at),
            Self::Inherited(value, at) => Known::Inherited(make(value), at),
            Self::Derived(value) => Known::Derived(make(value)),
            Self::Absent => Known::Absent,
            Self::Unknown(why) => Known::Unknown(why),
        }
    }
}

/// How sure the reckoning is. A finding of low confidence is one level lower than its case says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, schemars::JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Confidence {
    /// Something was filled in, or two readings of the file disagree.
    Low,
    /// Every value was stated and nothing contradicts it.
    High,
}
