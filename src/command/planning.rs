//! What `fit` and `castoff` share: reading a score with its reader, papers by name, lists and ranges of lengths.

use super::paths::{self, Item};
use super::style::InForce;
use super::work;
use super::{Failure, millimetres};
use crate::audit::mending::Repairs;
use crate::audit::{Bar, role_of, score_of};
use crate::house::{FirstPage, House, Paper, Role};
use crate::measured::{Measured, Printing, measure};
use crate::musicxml::{Damage, Source};
use crate::repair::Ground;
use crate::score::Score;

/// Most lengths in a list or range.
const MOST_LENGTHS: u16 = 200;

/// Lengths on the command line, in millimetres.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Lengths(pub Vec<f64>);

/// Staff heights: half a millimetre apart, unless said otherwise.
pub(super) fn heights(text: &str) -> Result<Lengths, String> {
    lengths(text, 0.5)
}

/// Margins: five millimetres apart, unless said otherwise.
pub(super) fn margins(text: &str) -> Result<Lengths, String> {
    lengths(text, 5.0)
}

fn lengths(text: &str, step: f64) -> Result<Lengths, String> {
    let Some((from, to)) = text.split_once("..") else {
        let mut all: Vec<f64> = Vec::new();
        for length in text.split(',') {
            let length = millimetres(length)?;
            if !all.contains(&length) {
                all.push(length);
            }
            if all.len() > usize::from(MOST_LENGTHS) {
                return Err(format!("more than {MOST_LENGTHS} lengths: choose fewer"));
            }
        }
        return Ok(Lengths(all));
    };
    let (to, step) = match to.split_once('/') {
        Some((to, step)) => (to, millimetres(step)?),
        None => (to, step),
    };
    let (from, to) = (millimetres(from)?, millimetres(to)?);
    if to < from {
        return Err("a range goes from less to more".to_owned());
    }
    let number = ((to - from) / step + 1e-9).floor();
    if number >= f64::from(MOST_LENGTHS) {
        return Err(format!("more than {MOST_LENGTHS} lengths: choose a larger step"));
    }
    let mut all: Vec<f64> = Vec::new();
    loop {
        #[expect(clippy::cast_precision_loss, reason = "a few hundred")]
        let next = from + all.len() as f64 * step;
        if next > to + 1e-9 {
            return Ok(Lengths(all));
        }
        all.push((next * 1000.0).round() / 1000.0);
    }
}

/// The paper that is named.
pub(super) fn paper<'a>(house: &'a House, name: &str) -> Result<&'a Paper, Failure> {
    house.papers.get(name).map_err(|error| {
        let all = house.papers.all().iter().map(|paper| paper.name.as_str()).collect::<Vec<_>>().join(", ");
        Failure::new(error.to_string(), format!("There are: {all}."))
    })
}

/// How many copies are printed of a document, as the house says; else one.
pub(super) fn desks(in_force: &InForce, path: &str) -> u32 {
    in_force.house.copy_of(&in_force.below(path)).and_then(|copy| copy.desks).map_or(1, |desks| u32::from(desks.get()))
}

/// Does the same for every document of every item, in their order; the names of those on which the program itself failed.
///
/// # Errors
/// Nothing to do.
pub(super) fn all<T: Send>(
    items: &[Item],
    one: impl Fn(&Source, bool) -> Option<T> + Sync,
    damaged: impl Fn(String, String, String) -> T + Sync,
) -> Result<(Vec<T>, Vec<String>), Failure> {
    let (mut documents, mut failed) = (Vec::new(), Vec::new());
    for (item, done) in items.iter().zip(work::each(items, |item| each(item, &one, &damaged))) {
        match done {
            Some(done) => documents.extend(done),
            None => failed.push(item.name()),
        }
    }
    if failed.is_empty() {
        paths::not_empty(&documents)?;
    }
    Ok((documents, failed))
}

/// Does the same for every document of an item; one that cannot be opened is damaged.
fn each<T>(item: &Item, one: impl Fn(&Source, bool) -> Option<T>, damaged: impl Fn(String, String, String) -> T) -> Vec<T> {
    let (opened, found) = match item {
        Item::StandardInput => (Source::standard_input(), false),
        Item::File { path, found } => (Source::open(path), *found),
        Item::Unreadable { damage, .. } => (Err(damage.clone()), false),
    };
    match opened {
        Ok(sources) => sources.iter().filter_map(|source| one(source, found)).collect(),
        Err(damage) => {
            let damage = damage.account();
            vec![damaged(item.name(), damage.what, damage.help)]
        }
    }
}

/// A score read and measured, with its reader.
pub(super) struct Prepared<'a> {
    score: Score,
    measured: Measured,
    /// Whom it is for; `None` where nobody can tell.
    pub reader: Option<&'a Role>,
    /// What is gravely wrong with the file, in words.
    pub grave: Vec<String>,
}

impl<'a> Prepared<'a> {
    /// Reads a document.
    ///
    /// # Errors
    /// [`Damage`] where it cannot be read to its end.
    pub fn of(source: &Source, in_force: &'a InForce, role: Option<&str>) -> Result<Self, Damage> {
        let mut score = score_of(source)?;
        let InForce { house, rules, .. } = in_force;
        score.instructions.begins_verso = house.first_page == Some(FirstPage::Verso);
        let bar = Bar {
            house,
            rules,
            stated_role: role,
            printing: &Printing::AsIs,
            enabled: &|_| true,
            repairs: Repairs::Never,
            draws: false,
            cores_to_spare: false,
            below: &str::to_owned,
        };
        let taken = role_of(&score, &bar, house.copy_of(&in_force.below(&source.path)));
        let reader = taken.name.as_deref().and_then(|name| house.roles.get(name).ok());
        let measured = measure(&score, &score.instructions, house);
        let grave = score.flaws.iter().filter(|flaw| flaw.grave).map(|flaw| format!("the file is damaged: {}", flaw.what)).collect();
        Ok(Self { score, measured, reader, grave })
    }

    /// What stays the same of it whatever is planned.
    pub fn ground(&mut self, InForce { house, rules, .. }: &InForce) -> Ground<'_> {
        Ground::of(&mut self.score, &self.measured, house, rules, self.reader)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lists_and_ranges() {
        assert_eq!(heights("4.5..6.0"), Ok(Lengths(vec![4.5, 5.0, 5.5, 6.0])));
        assert_eq!(heights("4.6..4.8/0.1"), Ok(Lengths(vec![4.6, 4.7, 4.8])));
        assert_eq!(margins("10..20"), Ok(Lengths(vec![10.0, 15.0, 20.0])));
        assert_eq!(margins("10,12.5"), Ok(Lengths(vec![10.0, 12.5])));
        assert_eq!(margins("10,12.5,10,10.0"), Ok(Lengths(vec![10.0, 12.5])), "each once");
        let list = |lengths: u32| (1..=lengths).map(|length| length.to_string()).collect::<Vec<_>>().join(",");
        assert_eq!(heights(&list(200)).map(|Lengths(all)| all.len()), Ok(200));
        assert!(heights(&list(201)).is_err_and(|why| why.contains("more than 200 lengths")));
        for wrong in ["", "7..6", "a", "0", "5..6/0", "1..900/0.001", "-3", "NaN", "1e9"] {
            assert!(heights(wrong).is_err(), "{wrong}");
        }
    }
}
