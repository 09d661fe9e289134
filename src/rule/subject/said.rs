//! What the table of readers holds for one role, and who says each number.

use super::role::{ROLE, RoleRow};
use crate::house::{OtherStaves, Role, Source, StaffGaps};
use crate::rule::Value;
use crate::rule::field::Field;
use std::sync::Arc;

/// A value that rules read of a reader.
#[derive(Debug, Clone, PartialEq)]
pub struct Said<'a> {
    /// The field of `role`.
    pub field: Field,
    /// What it is for this reader.
    pub value: Value,
    /// Who says so; several where it is reckoned from several numbers, none where it is no number.
    pub by: Vec<&'a Source>,
}

/// Every value that rules read of this reader where this reader usually sits, in the order of the table.
pub fn said(role: &Role) -> Vec<Said<'_>> {
    let row = RoleRow::usual(role);
    let columns = ROLE.columns.iter();
    columns
        .map(|column| Said {
            field: column.field,
            value: (column.get)(&row),
            by: sources(column.field.name, role).into_iter().map(Arc::as_ref).collect(),
        })
        .collect()
}

/// Who says the value of a field.
fn sources<'a>(field: &str, role: &'a Role) -> Vec<&'a Arc<Source>> {
    let heights = role.heights(None);
    let text = &role.text_pt;
    // A share of the least height: two say so.
    let other = |pick: fn(&OtherStaves) -> &Arc<Source>| vec![pick(&role.other_staves), &heights.least.source];
    let gap = |pick: fn(&StaffGaps) -> &Arc<Source>| role.staff_gaps.as_ref().map(pick).into_iter().collect();
    match field {
        "least_mm" | "least_says" => vec![&heights.least.source],
        "good_mm" => vec![&heights.good.source],
        "ideal_mm" => vec![&heights.ideal.source],
        "most_mm" => vec![&heights.most.source],
        "cue_least_mm" => other(|staves| &staves.cue.source),
        "ossia_least_mm" => other(|staves| &staves.ossia.source),
        "other_least_mm" => other(|staves| &staves.other_player.source),
        "rehearsal_least_mm" => other(|staves| &staves.rehearsal.source),
        "text_least_pt" | "text_says" => vec![&text.least.source],
        "text_good_pt" => vec![&text.good.source],
        "text_ideal_pt" => vec![&text.ideal.source],
        "turned_by" => vec![&role.turns.source],
        "gap_least" => gap(|gaps| &gaps.least.source),
        "gap_most" => gap(|gaps| &gaps.most.source),
        _ => Vec::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::house::House;

    /// Nobody should have to take a number on trust.
    #[test]
    fn every_number_of_a_reader_has_a_source() {
        let house = House::built_in().expect("the house loads");
        for role in house.roles.all() {
            for said in said(role) {
                let number = matches!(said.value, Value::Number(_) | Value::Numbers(_));
                assert!(!number || !said.by.is_empty(), "{}: who says `role.{}`? Add it to `sources`", role.name, said.field.name);
            }
        }
    }
}
