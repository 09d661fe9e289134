//! Which findings the house lets stand, and what has become of its stets.

use super::{Bar, DocumentAudit, Placed};
use crate::house::{DataError, Date, Pattern, Stet};
use crate::musicxml::Spot;
use crate::rule::subject::{self, StetUse};
use crate::rule::{Finding, Overlap};
use crate::score::BarNumber;
use std::sync::Arc;

/// Lets stand what the house lets stand, and says what is wrong with its stets: findings on the house style.
pub fn let_stand(documents: &mut [DocumentAudit], bar: &Bar, today: Date) -> Vec<Placed> {
    let mut used: Vec<StetUse> = bar
        .house
        .stets
        .iter()
        .map(|stet| StetUse { stet: Arc::new(stet.clone()), expired: stet.until.is_some_and(|until| until < today), means: 0 })
        .collect();
    // Whether a stet could have meant something in this run.
    let mut asked = vec![false; used.len()];
    for document in documents {
        let path = (bar.below)(&document.path);
        let means_file: Vec<bool> = used.iter().map(|one| means_file(&one.stet, &path)).collect();
        for (one, asked) in used.iter().zip(&mut asked).zip(&means_file).filter(|(_, means)| **means).map(|(pair, _)| pair) {
            let judged = document.summary.is_some() && document.not_judged.iter().all(|not| *not.rule != *one.stet.rule);
            *asked |= judged && document.has_part(one.stet.part.as_deref());
        }
        for placed in &mut document.findings {
            for one in used.iter_mut().zip(&means_file).filter(|(_, means)| **means).map(|(one, _)| one) {
                if !means(&one.stet, &placed.finding) {
                    continue;
                }
                one.means += 1;
                if !one.expired && placed.stet.is_none() {
                    placed.stet = Some(one.stet.clone());
                }
            }
        }
    }
    let judged: Vec<StetUse> = used
        .into_iter()
        .zip(asked)
        .filter(|(one, asked)| (bar.enabled)(&one.stet.rule) && (*asked || one.means > 0))
        .map(|(one, _)| one)
        .collect();
    let outcome = subject::judge_stets(bar.rules, &judged, bar.enabled);
    let place = |finding: Finding| {
        let written = judged.iter().find(|one| Some(one.stet.at) == finding.at).map(|one| one.stet.written_in.clone());
        let spot = written.zip(finding.at).map(|(file, at)| spot(&file, at));
        let harm = bar.rules.find(&finding.rule).map_or(0, |rule| rule.harm);
        Placed { finding, harm, spot, also: None, number: 0, stet: None }
    };
    let mut placed: Vec<Placed> = outcome.findings.into_iter().map(place).collect();
    placed.sort_by_key(|placed| placed.finding.at);
    for (number, placed) in (1..).zip(&mut placed) {
        placed.number = number;
    }
    placed
}

/// The place of a stet in its file, for people: no excerpt, since the file may have changed meanwhile.
fn spot(file: &str, at: crate::place::Place) -> Spot {
    let text = std::fs::read_to_string(file).unwrap_or_default();
    let start = at.offset as usize;
    let DataError { line, column, .. } = DataError::new(file, &text, Some(start..start + at.length as usize), "");
    Spot { line: line.into(), column: column.into(), excerpt: String::new(), first_line: line.into(), mark: 0..0 }
}

fn means_file(stet: &Stet, path: &str) -> bool {
    stet.file.as_deref().is_none_or(|pattern| Pattern::new(pattern).is_ok_and(|pattern| pattern.means(path)))
}

/// Whether a stet means a finding of a file that it means: the same rule, the part, the movement, and at least half of
/// the finding's bars.
pub fn means(stet: &Stet, finding: &Finding) -> bool {
    let on = &finding.on;
    let part = stet.part.as_deref().is_none_or(|part| on.part_name.as_deref() == Some(part) || on.part.as_deref() == Some(part));
    let movement = stet.movement.is_none_or(|movement| on.movement.is_none_or(|own| own == movement));
    let bars = stet.bars.as_ref().is_none_or(|bars| on.stretch().is_some_and(|own| enough(Overlap::of(&own.numbers, bars))));
    *stet.rule == *finding.rule && part && movement && bars
}

/// Whether at least half of a finding's bars lie within others (the contract).
fn enough(bars: Overlap) -> bool {
    bars.shared * 2.0 >= bars.one
}

/// Bars as a stet says them, so that they are read as they were meant.
fn bars_as_read([first, last]: &[BarNumber; 2]) -> toml::Value {
    let plain = |number: &str| !number.trim().is_empty() && number == number.trim() && !number.contains(['-', '\u{2013}']);
    let backwards = first.parse::<i64>().ok().zip(last.parse::<i64>().ok()).is_some_and(|(first, last)| first > last);
    match (plain(first) && plain(last) && !backwards, first == last) {
        (true, true) => toml::Value::String(first.to_string()),
        (true, false) => toml::Value::String(format!("{first}-{last}")),
        (false, _) => toml::Value::from(vec![first.to_string(), last.to_string()]),
    }
}

/// Stets for all findings that count, as a file of stets; the reasons are left to be filled in. Says how many.
pub fn baseline(documents: &[DocumentAudit], bar: &Bar) -> (String, usize) {
    let mut text = String::from(
        "# Findings that may stand. Each needs a reason; `by` and `until = 2027-03-31` may be added.\n\
         # In a house style: stet-files = [\"this file\"]; or name this file stavegauge.toml.\n",
    );
    let mut known = std::collections::BTreeSet::new();
    for document in documents {
        let file = Pattern::of(&(bar.below)(&document.path));
        for placed in document.findings.iter().filter(|placed| placed.counts()) {
            let on = &placed.finding.on;
            let mut table = toml::Table::new();
            let mut put = |key: &str, value: String| table.insert(key.to_owned(), toml::Value::String(value));
            put("rule", placed.finding.rule.to_string());
            put("file", file.clone());
            if let Some(part) = on.part_name_or_id() {
                put("part", part.to_owned());
            }
            put("reason", String::new());
            if let Some(covers) = on.stretch() {
                table.insert("bars".to_owned(), bars_as_read(&covers.numbers));
            }
            if let Some(movement) = on.movement.filter(|_| document.summary.as_ref().is_some_and(|summary| summary.movements > 1)) {
                table.insert("movement".to_owned(), toml::Value::Integer(movement.into()));
            }
            let entry = format!("\n[[stet]]\n{table}");
            if known.insert(entry.clone()) {
                text.push_str(&entry);
            }
        }
    }
    (text, known.len())
}
