//! Which values a rule reads, for whoever wants to know before it judges.

use super::field::{FILE, Field, ROLE, Vocabulary};
use super::loaded::{Case, Rule};
use super::scope::{Ref, Source};
use std::collections::BTreeMap;

/// A value that a rule reads.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Read {
    /// The subject it belongs to: `gap` in `gap.white_mm`.
    pub subject: &'static str,
    /// The field.
    pub field: Field,
    /// Whether it bears on the judgement; else it is only told in the message.
    pub decides: bool,
}

impl Read {
    /// The name as conditions write it: `gap.white_mm`.
    pub fn name(&self) -> String {
        format!("{}.{}", self.subject, self.field.name)
    }
}

impl Rule {
    /// Every value that its cases, reasons and messages read, its own subject's first, then the file's and the
    /// reader's, each in the order of its table. Limits are not among them.
    pub fn reads(&self, vocabulary: &Vocabulary) -> Vec<Read> {
        let mut reads: BTreeMap<Ref, bool> = BTreeMap::new();
        let told = self.cases.iter().flat_map(|case| case.message.reads().chain(case.advice.reads()));
        reads.extend(told.chain(self.reasons.iter().flat_map(|reason| reason.says.reads())).map(|name| (name, false)));
        let decides = self.cases.iter().flat_map(Case::reads);
        reads.extend(decides.chain(self.reasons.iter().flat_map(|reason| reason.holds.reads.iter().copied())).map(|name| (name, true)));
        let found = |(name, decides): (Ref, bool)| {
            let entry = vocabulary.subject(match name.source {
                Source::Own => &self.about,
                Source::File => FILE,
                Source::Role => ROLE,
                Source::Limit => return None,
            })?;
            Some(Read { subject: entry.name, field: *entry.fields.get(name.index)?, decides })
        };
        reads.into_iter().filter_map(found).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::super::RuleBook;
    use super::super::testing::{ROLES, WIDE_STAFF_GAP, vocabulary};

    #[test]
    fn what_decides_is_told_from_what_is_only_said() {
        let text = WIDE_STAFF_GAP.replacen("advice = \"", "advice = \"Above {{ gap.above }}: ", 1);
        let text = text.replacen("values = { ", "values = { \"gap.above\" = \"strings\", ", 1);
        let mut book = RuleBook::empty();
        book.add("a", &text, &vocabulary(), &ROLES).expect("sound");
        let reads = book.find("wide-staff-gap").expect("there").reads(&vocabulary());
        let names = |decides| -> Vec<String> {
            let mut names: Vec<String> = reads.iter().filter(|read| read.decides == decides).map(super::Read::name).collect();
            names.sort();
            names
        };
        let decide = ["file.layout", "file.staff_height_mm", "gap.family_border", "gap.needed_mm", "gap.white_heights", "gap.white_mm"];
        assert_eq!((names(true), names(false)), (decide.map(str::to_owned).into(), vec!["gap.above".to_owned()]));
    }
}
