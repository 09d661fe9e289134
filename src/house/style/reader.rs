//! Readers as a house has them: numbers of a role changed, their order kept.

use super::Style;
use super::file::{GapsTable, HeightsTable, RoleTable, TextTable};
use crate::house::data::DataError;
use crate::house::{Fact, Mark, Roles, Source, StaffHeights};
use crate::units::Mm;
use std::sync::Arc;
use toml::Spanned;

/// A number to change: its name, what the house says, what holds so far.
type Change<'a> = (&'static str, Option<&'a Spanned<f64>>, f64);

/// Lays what a house says of a reader over what is known of it.
///
/// # Errors
/// An unknown role; numbers that are none or out of their order; numbers for a reader that has none of the kind.
pub(super) fn change(roles: &mut Roles, name: &Spanned<String>, table: &RoleTable, style: &Style) -> Result<(), DataError> {
    let data = style.data();
    let role = roles.get_mut(name.get_ref()).map_err(|error| data.wrong(name, error.to_string()))?;
    let says = table.reason.clone().unwrap_or_else(|| "set by the house".to_owned());
    let source = Arc::new(Source { title: format!("house style {}", style.file_name()), says, mark: Mark::H });
    role.light = table.light.unwrap_or(role.light);
    heights(&mut role.staff_height, &table.staff_height_mm, &source, style)?;
    let dim = &table.staff_height_dim_mm;
    if [&dim.least, &dim.good, &dim.ideal, &dim.most].iter().any(|value| value.is_some()) {
        // A reader without heights for dim light has the same in both, until the house says others.
        let lit = role.staff_height.clone();
        heights(role.staff_height_dim.get_or_insert(lit), dim, &source, style)?;
    }
    let text = &mut role.text_pt;
    let TextTable { least, good, ideal } = &table.text_pt;
    rising(
        &[
            ("least", least.as_ref(), text.least.value),
            ("good", good.as_ref(), text.good.value),
            ("ideal", ideal.as_ref(), text.ideal.value),
        ],
        style,
    )?;
    for (fact, value) in [(&mut text.least, least), (&mut text.good, good), (&mut text.ideal, ideal)] {
        set(fact, value.as_ref(), &source, |points| points);
    }
    let GapsTable { least, norm_from, norm_to, most } = &table.gap_staff_heights;
    let said = [least, norm_from, norm_to, most];
    match &mut role.staff_gaps {
        Some(gaps) => {
            let facts = [&mut gaps.least, &mut gaps.norm_from, &mut gaps.norm_to, &mut gaps.most];
            let names = ["least", "norm-from", "norm-to", "most"];
            let changes: Vec<Change> =
                names.iter().zip(said).zip(&facts).map(|((name, value), fact)| (*name, value.as_ref(), fact.value)).collect();
            rising(&changes, style)?;
            for (fact, value) in facts.into_iter().zip(said) {
                set(fact, value.as_ref(), &source, |heights| heights);
            }
        }
        None => {
            if let Some(value) = said.into_iter().flatten().next() {
                return Err(data.wrong(value, format!("gaps between single staves are no matter for {}", role.name)));
            }
        }
    }
    if let Some(turned_by) = table.turned_by {
        role.turns = Fact { value: turned_by, source };
    }
    role.conducted = table.conducted.unwrap_or(role.conducted);
    Ok(())
}

fn heights(heights: &mut StaffHeights, table: &HeightsTable, source: &Arc<Source>, style: &Style) -> Result<(), DataError> {
    let facts = [&mut heights.least, &mut heights.good, &mut heights.ideal, &mut heights.most];
    let said = [&table.least, &table.good, &table.ideal, &table.most];
    let names = ["least", "good", "ideal", "most"];
    let changes: Vec<Change> =
        names.iter().zip(said).zip(&facts).map(|((name, value), fact)| (*name, value.as_ref(), fact.value.0)).collect();
    rising(&changes, style)?;
    for (fact, value) in facts.into_iter().zip(said) {
        set(fact, value.as_ref(), source, Mm);
    }
    Ok(())
}

fn set<T>(fact: &mut Fact<T>, value: Option<&Spanned<f64>>, source: &Arc<Source>, of: impl Fn(f64) -> T) {
    if let Some(value) = value {
        *fact = Fact { value: of(*value.get_ref()), source: Arc::clone(source) };
    }
}

/// Refuses numbers that are none, and numbers that stand out of order with those that the house leaves.
fn rising(changes: &[Change], style: &Style) -> Result<(), DataError> {
    let data = style.data();
    for (name, value, _) in changes {
        if let Some(value) = value {
            data.positive(value, &format!("`{name}`"))?;
        }
    }
    for pair in changes.windows(2) {
        let [(lower, low, low_before), (upper, high, high_before)] = pair else { continue };
        let (small, large) = (low.map_or(*low_before, |value| *value.get_ref()), high.map_or(*high_before, |value| *value.get_ref()));
        if let Some(at) = high.or(*low).filter(|_| small > large) {
            return Err(data.wrong(at, format!("`{upper}` ({large}) is smaller than `{lower}` ({small}); change both")));
        }
    }
    Ok(())
}
