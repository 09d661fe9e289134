//! XML text to score: what is read must be well-formed by a second opinion too, and every place lies in the text.

#![no_main]

use libfuzzer_sys::fuzz_target;
use roxmltree::{Document, ParsingOptions};
use stavegauge::musicxml::{locate, read};
use stavegauge::place::{Lines, Place};
use stavegauge::score::Score;
use stavegauge_fuzz::{decoded, points_into, sources, within};
use std::ops::Range;

fuzz_target!(|data: &[u8]| {
    for source in sources(data) {
        let Ok(stream) = source.stream() else { continue };
        let read_once = read(stream);
        let text = decoded(&source);
        match read_once {
            Ok(score) => {
                let text = text.expect("what is read to its end can be decoded to its end");
                well_formed(&text);
                let places = places(&score);
                for place in &places {
                    within(*place, &text);
                }
                let spots = locate(&source, &score.lines, &places).expect("what was read once can be read again");
                assert_eq!(locate(&source, &Lines::default(), &places).as_ref(), Ok(&spots), "counted or not, lines are the same");
                assert_eq!(spots.len(), places.len());
                for spot in spots {
                    assert!(spot.excerpt.get(spot.mark.clone()).is_some(), "{spot:?}");
                }
            }
            Err(damage) => {
                let again = read(source.stream().expect("it opened before")).err();
                assert_eq!(Some(&damage), again.as_ref(), "the same text is damaged in the same way");
                // A byte that cannot be decoded stands behind the text.
                if let Some((at, Ok(text))) = damage.at.map(|at| (at, text)) {
                    points_into(at, &text);
                }
            }
        }
    }
});

/// A colon is a letter to XML 1.0 but none to the second opinion, which knows namespaces: it is given another letter instead. Of
/// declarations within a document type declaration it knows the simplest only: of a document that has such it is asked without them,
/// unless it would need them, since a text uses its own entities.
fn well_formed(text: &str) {
    let options = ParsingOptions { allow_dtd: true, ..ParsingOptions::default() };
    let text = text.replace(':', "\u{2D0}");
    let Err(error) = Document::parse_with_options(&text, options) else { return };
    let span = declarations(&text).unwrap_or_else(|| panic!("read as a score, but not well-formed: {error}"));
    let bare = [&text[..span.start], &" ".repeat(span.len()), &text[span.end..]].concat();
    match Document::parse(&bare) {
        Ok(_) | Err(roxmltree::Error::UnknownEntityReference(..)) => {}
        Err(error) => panic!("read as a score, but not well-formed behind its document type declaration: {error}"),
    }
}

/// Where the document type declaration of a well-formed text stands, if it has one that holds declarations.
fn declarations(text: &str) -> Option<Range<usize>> {
    let mut start = 0;
    while !text[start..].starts_with("<!DOCTYPE") {
        start += match &text[start..] {
            rest if rest.starts_with([' ', '\t', '\r', '\n']) => 1,
            rest => beside(rest)?,
        };
    }
    let mut at = start;
    let (mut within, mut holds) = (false, false);
    loop {
        let rest = &text[at..];
        let sign = rest.chars().next()?;
        match sign {
            '[' => (within, holds) = (true, true),
            ']' => within = false,
            '>' if !within => return holds.then_some(start..at + 1),
            _ => {}
        }
        at += match sign {
            '"' | '\'' => 2 + rest[1..].find(sign)?,
            _ => beside(rest).unwrap_or(sign.len_utf8()),
        };
    }
}

/// Length of the comment or the processing instruction that a text begins with.
fn beside(text: &str) -> Option<usize> {
    let (open, close) = [("<!--", "-->"), ("<?", "?>")].into_iter().find(|(open, _)| text.starts_with(open))?;
    Some(open.len() + text[open.len()..].find(close)? + close.len())
}

/// Places of all that a score says.
fn places(score: &Score) -> Vec<Place> {
    let mut places = vec![score.root];
    places.extend(score.flaws.iter().map(|flaw| flaw.at));
    places.extend(score.credits.iter().flat_map(|credit| credit.words.iter().map(|words| words.at).chain([credit.at])));
    places.extend(score.parts.iter().flat_map(|part| part.bars.iter().map(|bar| bar.at).chain([part.at])));
    let layout = &score.instructions;
    places.extend(layout.millimeters_at);
    places.extend(layout.prints.iter().map(|print| print.at));
    for page in layout.prints.iter().filter_map(|print| print.page()).chain([&layout.page]) {
        let margins = page.margins.iter().flat_map(|(_, margins)| [margins.left, margins.right, margins.top, margins.bottom]);
        places.extend(margins.chain([page.height, page.width]).flatten().map(|stated| stated.at));
    }
    for system in layout.prints.iter().map(|print| print.system()).chain([layout.system]) {
        let stated = [system.left, system.right, system.distance, system.top_distance];
        places.extend(stated.into_iter().flatten().map(|stated| stated.at));
    }
    places
}
