//! `stavegauge measure`: the measured layout, without judgement.

use super::audit::to_json;
use super::output::{self, Wanted};
use super::paths::{self, Item};
use super::style::InForce;
use super::work;
use super::{CLEAN, FOUND, Failure, MeasureArgs};
use crate::audit::score_of;
use crate::house::House;
use crate::measured::{DocumentMeasure, measure};
use crate::musicxml::{Damage, Source};
use crate::report::terminal::Look;
use crate::report::{measure_csv, measure_json, measure_table};
use crate::rule::Examples;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Format {
    Terminal,
    Json,
    Csv,
}

const FORMATS: [(&str, Format); 3] = [("terminal", Format::Terminal), ("json", Format::Json), ("csv", Format::Csv)];

pub(super) fn run(args: &MeasureArgs) -> Result<u8, Failure> {
    let InForce { house, .. } = InForce::built_in(Examples::PassedOver)?;
    let items = paths::items(&args.input.paths)?;
    let reports = output::wanted(&args.report, &FORMATS, &items)?;
    let mut documents: Vec<DocumentMeasure> = Vec::new();
    let mut failed = Vec::new();
    for (item, done) in items.iter().zip(work::each(&items, |item| one(item, &house))) {
        documents.extend(done.unwrap_or_else(|| {
            failed.push(item.name());
            let damage = Damage::new("the program itself failed on this file", "Please report it; the score is not to blame.");
            vec![DocumentMeasure { path: item.name(), member: None, measured: Err(damage) }]
        }));
    }
    paths::not_empty(&documents)?;
    for wanted in &reports {
        let text = text(&documents, wanted, args)?;
        output::write(&text, wanted.file.as_deref())?;
    }
    work::failed(&failed)?;
    Ok(if documents.iter().any(|document| document.measured.is_err()) { FOUND } else { CLEAN })
}

fn one(item: &Item, house: &House) -> Vec<DocumentMeasure> {
    let (opened, found) = match item {
        Item::StandardInput => (Source::standard_input(), false),
        Item::File { path, found } => (Source::open(path), *found),
        Item::Unreadable { damage, .. } => (Err(damage.clone()), false),
    };
    let measured = |source: &Source| {
        let measured = score_of(source).map(|score| measure(&score, &score.instructions, house));
        DocumentMeasure { path: source.path.clone(), member: source.member.clone(), measured }
    };
    let documents = match opened {
        Ok(sources) => sources.iter().map(measured).collect(),
        Err(damage) => vec![DocumentMeasure { path: item.name(), member: None, measured: Err(damage) }],
    };
    documents.into_iter().filter(|document| !(found && document.measured.as_ref().is_err_and(|damage| damage.other_vocabulary))).collect()
}

fn text(documents: &[DocumentMeasure], wanted: &Wanted<Format>, args: &MeasureArgs) -> Result<String, Failure> {
    let failed = |_| Failure::new("the report could not be written", "");
    match wanted.format {
        Format::Json => to_json(&measure_json::measure(documents)),
        Format::Csv => measure_csv::write(documents).map_err(|error| Failure::new(format!("the report could not be written: {error}"), "")),
        Format::Terminal => {
            let look = Look { color: output::color(args.input.color, wanted.file.as_deref()), width: output::width(), quiet: false };
            let mut text = String::new();
            measure_table::write(documents, look, &mut text).map_err(failed)?;
            Ok(text)
        }
    }
}
