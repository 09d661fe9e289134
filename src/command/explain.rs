//! `stavegauge explain`: a rule, a reader, all of them, with who says what.

use super::audit;
use super::output::{self, Wanted};
use super::style::InForce;
use super::{CLEAN, ExplainArgs, Failure, HOUSE_HERE};
use crate::report::explain::{self, Library, Page};
use crate::report::terminal::Look;
use crate::rule::Examples;
use crate::rule::subject::vocabulary;
use std::path::Path;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Format {
    Terminal,
    Markdown,
}

const FORMATS: [(&str, Format); 2] = [("terminal", Format::Terminal), ("markdown", Format::Markdown)];

pub(super) fn run(args: &ExplainArgs) -> Result<u8, Failure> {
    let in_force = match &args.house {
        None => InForce::built_in(Examples::Read)?,
        Some(here) if here == Path::new(HOUSE_HERE) => InForce::here(None)?,
        Some(named) => InForce::here(Some(named))?,
    };
    let InForce { house, rules, .. } = &in_force;
    let vocabulary = vocabulary();
    let library = Library { rules, house, vocabulary: &vocabulary };
    let reader = args.role.as_deref().map(|name| audit::role(house, name)).transpose()?;
    let rule = args.rule.as_deref().map(|name| audit::rule(rules, name)).transpose()?;
    let page = match (rule, reader) {
        (Some(rule), reader) => library.rule(rule, reader),
        (None, Some(reader)) => library.reader(reader),
        (None, None) if args.roles => library.readers(),
        (None, None) if args.papers => library.papers(),
        (None, None) if args.fields => library.fields(),
        (None, None) if args.house.is_some() => library.house(in_force.shown().file.as_deref()),
        (None, None) => library.index(),
    };
    for wanted in &output::wanted(&args.report, &FORMATS, &[])? {
        output::write(&text(&page, wanted, args)?, wanted.file.as_deref())?;
    }
    Ok(CLEAN)
}

fn text(page: &Page, wanted: &Wanted<Format>, args: &ExplainArgs) -> Result<String, Failure> {
    match wanted.format {
        Format::Markdown => Ok(explain::markdown(page)),
        Format::Terminal => {
            let look = Look { color: output::color(args.color, wanted.file.as_deref()), width: output::width(), quiet: false };
            let mut text = String::new();
            explain::write(page, look, &mut text).map_err(|_| Failure::new("the page could not be written", ""))?;
            Ok(text)
        }
    }
}
