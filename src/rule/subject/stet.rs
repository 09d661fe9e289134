//! `stet`: a line of the house style that lets a finding stand.

use super::Line;
use crate::house::Stet;
use crate::place::Confidence;
use crate::rule::field::{Column, Kind, Subject, Unit};
use crate::rule::{Value, Where};
use std::sync::Arc;

/// A stet and what has become of it.
#[derive(Debug, Clone)]
pub struct StetUse {
    /// The stet.
    pub stet: Arc<Stet>,
    /// Its last day is over.
    pub expired: bool,
    /// Findings that it means.
    pub means: usize,
}

/// The table.
pub(super) static STET: Subject<StetUse> = Subject {
    name: "stet",
    what: "A line of the house style that lets a finding stand.",
    columns: &[
        Column::new("rule", Kind::Text, Unit::None, "The rule whose finding it lets stand.", |used| Value::text(&used.stet.rule)),
        Column::new("reason", Kind::Text, Unit::None, "Why.", |used| Value::text(&used.stet.reason)),
        Column::new("until", Kind::Text, Unit::None, "The last day on which it holds; absent where it holds for good.", |used| {
            used.stet.until.map_or(Value::Absent, |day| Value::text(&day.to_string()))
        }),
        Column::new("expired", Kind::Truth, Unit::None, "That day is over.", |used| Value::Truth(used.expired)),
        Column::new("means", Kind::Number, Unit::Count, "Findings that it means.", |used| Value::count(used.means)),
        Column::new("what", Kind::Text, Unit::None, "What it means, in words: copies, part, bars.", |used| Value::text(&what(&used.stet))),
    ],
};

/// What a stet means, in words.
fn what(stet: &Stet) -> String {
    let bars = stet.bars.as_ref().map(|[first, last]| if first == last { format!("bar {first}") } else { format!("bars {first}-{last}") });
    let words = [stet.file.clone(), stet.part.clone(), stet.movement.map(|number| format!("movement {number}")), bars];
    let words: Vec<String> = words.into_iter().flatten().collect();
    if words.is_empty() { "every copy".to_owned() } else { words.join(", ") }
}

pub(super) fn line(used: &StetUse) -> Line<'_> {
    let on = Where { part_name: used.stet.part.as_deref().map(Arc::from), ..Where::default() };
    Line { facts: Box::new(STET.of(used)), place: Some(used.stet.at), on, confidence: Confidence::High }
}
