//! Writing a layout into the text of a score: its scaling, paper, margins, breaks, distances and widths. Nothing else changes.
//!
//! The text is copied event by event; only what says where things stand is taken out, and the new layout put in. Stated positions of
//! notes, and of what hangs on them, belong to the old layout and go. Titles and running heads move with their pages.

use super::credits::{NewPages, OldPaper, is_number, new_pages};
use super::pieces::{Kind, Piece, length, pieces, value, with, without};
use super::places::side_of;
use super::relaid::{Relaid, RelaidSystem};
use crate::score::{Credit, Score};
use crate::units::{Mm, STAFF_TENTHS, Tenths};
use std::fmt::Write;

/// Why a text cannot be written anew.
pub type Refused = &'static str;

/// What `print` says that is no layout, and stays.
const KEPT_IN_PRINT: [&str; 3] = ["measure-numbering", "part-name-display", "part-abbreviation-display"];
/// What `print` says of breaks.
const BREAKS: [&str; 5] = ["new-system", "new-page", "blank-page", "page-number", "staff-spacing"];
/// What `defaults` says of the layout.
const LAYOUT: [&str; 4] = ["scaling", "page-layout", "system-layout", "staff-layout"];
/// Elements whose heights count from the system, and stand elsewhere now.
const STAND_ON_SYSTEM: [&str; 2] = ["note", "stem"];
/// Positions across, and the shapes of curves, of whatever stands in a bar.
const ACROSS: [&str; 9] =
    ["default-x", "bezier-x", "bezier-y", "bezier-x2", "bezier-y2", "bezier-offset", "bezier-offset2", "end-x", "start-x"];

/// What follows the details of staves within attributes.
const AFTER_STAFF_DETAILS: [&str; 4] = ["transpose", "for-part", "directive", "measure-style"];

/// A number of tenths, to a hundredth.
fn tenths(length: Tenths) -> String {
    let text = format!("{:.2}", length.0);
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text.is_empty() || text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// The text of a score with another layout.
///
/// # Errors
/// What cannot be written anew: measures that hold parts.
pub fn rewrite(text: &str, score: &Score, relaid: &Relaid) -> Result<String, Refused> {
    // Pieces are cut by their places in the text behind the byte order mark.
    let pieces = pieces(text.trim_start_matches('\u{feff}'))?;
    if pieces.iter().any(|piece| piece.begins() == Some("score-timewise")) {
        return Err("its measures hold its parts (score-timewise); convert it to score-partwise first");
    }
    let dividers = dividers(&pieces);
    let mut out = String::with_capacity(text.len() + text.len() / 8);
    let mut has_defaults = pieces.iter().any(|piece| piece.begins() == Some("defaults"));
    let (mut at, mut credits) = (0, 0);
    while at < pieces.len() {
        let piece = &pieces[at];
        match piece.begins() {
            Some("defaults") => {
                let number = length(&pieces[at..]);
                defaults(&pieces[at..at + number], &dividers, relaid, &mut out);
                at += number;
            }
            Some("credit" | "part-list") if !has_defaults => {
                has_defaults = true;
                defaults(&[], &dividers, relaid, &mut out);
                out.push_str("\n  ");
            }
            Some("credit") => {
                let number = length(&pieces[at..]);
                credit(&pieces[at..at + number], score.credits.get(credits), score, relaid, &mut out);
                credits += 1;
                at += number;
            }
            Some("part") if matches!(piece.kind, Kind::Start(_)) => {
                let number = length(&pieces[at..]);
                let id = value(piece.text, "id").unwrap_or_default();
                let index = score.parts.iter().position(|part| *part.id == *id);
                part(&pieces[at..at + number], index, relaid, &mut out);
                at += number;
            }
            // What is written is UTF-8, whatever it was read from.
            _ if piece.text.starts_with("<?xml ") && value(piece.text, "encoding").is_some() => {
                let encoding = value(piece.text, "encoding").unwrap_or_default();
                out.push_str(&piece.text.replacen(encoding, "UTF-8", 1));
                at += 1;
            }
            _ => {
                out.push_str(piece.text);
                at += 1;
            }
        }
    }
    Ok(out)
}

/// Whether the file has dividers drawn between systems, in its own words: the first element that has them drawn, else the first there is.
fn dividers(pieces: &[Piece]) -> String {
    let named = |piece: &Piece| piece.begins() == Some("system-dividers");
    let all = || pieces.iter().enumerate().filter(|(_, piece)| named(piece)).map(|(at, _)| &pieces[at..at + length(&pieces[at..])]);
    let drawn = |element: &&[Piece]| {
        let divider = |piece: &&Piece| matches!(piece.begins(), Some("left-divider" | "right-divider"));
        element.iter().filter(divider).any(|piece| value(piece.text, "print-object") != Some("no"))
    };
    let found = all().find(drawn).or_else(|| all().next()).unwrap_or_default();
    found.iter().map(|piece| piece.text).collect()
}

fn margins(relaid: &Relaid) -> String {
    let [left, right, top, bottom] = relaid.margins.map(|margin| tenths(relaid.tenths(margin)));
    format!(
        "<page-margins type=\"both\"><left-margin>{left}</left-margin><right-margin>{right}</right-margin><top-margin>{top}</top-margin><bottom-margin>{bottom}</bottom-margin></page-margins>"
    )
}

/// The defaults with another layout; what else they say stays.
fn defaults(old: &[Piece], dividers: &str, relaid: &Relaid, out: &mut String) {
    let [width, height] = relaid.paper.map(|length| tenths(relaid.tenths(length)));
    out.push_str(old.first().map_or("<defaults>", |piece| if piece.text.ends_with("/>") { "<defaults>" } else { piece.text }));
    let _ = write!(
        out,
        "\n    <scaling><millimeters>{}</millimeters><tenths>{STAFF_TENTHS}</tenths></scaling>",
        format!("{:.4}", relaid.staff.0).trim_end_matches('0').trim_end_matches('.')
    );
    let mut kept = String::new();
    let mut at = 1;
    while at + 1 < old.len() {
        match old[at].begins() {
            Some(name) => {
                let number = length(&old[at..]);
                if name == "concert-score" {
                    out.push_str("\n    <concert-score/>");
                } else if !LAYOUT.contains(&name) {
                    kept.push_str("\n    ");
                    old[at..at + number].iter().for_each(|piece| kept.push_str(piece.text));
                }
                at += number;
            }
            None => at += 1,
        }
    }
    let _ = write!(
        out,
        "\n    <page-layout><page-height>{height}</page-height><page-width>{width}</page-width>{}</page-layout>",
        margins(relaid)
    );
    if !dividers.is_empty() {
        let _ = write!(out, "\n    <system-layout>{dividers}</system-layout>");
    }
    let _ = write!(out, "{kept}\n  </defaults>");
}

/// A credit where it belongs now: the same distance from the top or bottom edge, left, in the middle or right, on its new pages.
fn credit(old: &[Piece], credit: Option<&Credit>, score: &Score, relaid: &Relaid, out: &mut String) {
    let Some(credit) = credit else { return };
    let NewPages { pages, numbers } = new_pages(credit, score, relaid);
    for (index, new_page) in pages.iter().enumerate() {
        if index > 0 {
            out.push_str("\n  ");
        }
        let mut in_words = false;
        for (place, piece) in old.iter().enumerate() {
            if matches!(piece.kind, Kind::Start(_) | Kind::End(_)) {
                in_words = piece.begins() == Some("credit-words");
            }
            let text = if place == 0 {
                with(&without(piece.text, &["page"]), "page", &new_page.to_string())
            } else if matches!(piece.begins(), Some("credit-words" | "credit-symbol" | "credit-image")) {
                moved(piece.text, score, relaid)
            } else if in_words && numbers && is_number(piece.text) {
                relaid.page_numbers.get(new_page - 1).copied().unwrap_or(*new_page).to_string()
            } else {
                piece.text.to_owned()
            };
            out.push_str(&text);
        }
    }
}

/// A text of a credit at its place on the new paper.
fn moved(tag: &str, score: &Score, relaid: &Relaid) -> String {
    let Some(paper) = OldPaper::of(score) else { return without(tag, &["default-x", "default-y"]) };
    let stated = |name: &str| value(tag, name).and_then(|text| text.trim().parse::<f64>().ok()).map(Tenths);
    let new =
        [("default-x", stated("default-x").map(|x| paper.x(x, relaid))), ("default-y", stated("default-y").map(|y| paper.y(y, relaid)))];
    new.into_iter().fold(tag.to_owned(), |tag, (name, new)| match new {
        Some(new) => with(&without(&tag, &[name]), name, &tenths(new)),
        None => tag,
    })
}

/// A part with the breaks, distances and widths of the new layout.
fn part(old: &[Piece], index: Option<usize>, relaid: &Relaid, out: &mut String) {
    let mut bar = 0;
    let mut at = 0;
    while at < old.len() {
        let piece = &old[at];
        if piece.begins() == Some("measure") && matches!(piece.kind, Kind::Start(_)) {
            let number = length(&old[at..]);
            measure(&old[at..at + number], bar, index, relaid, out);
            bar += 1;
            at += number;
        } else {
            out.push_str(piece.text);
            at += 1;
        }
    }
}

fn measure(old: &[Piece], bar: usize, part: Option<usize>, relaid: &Relaid, out: &mut String) {
    let found = relaid.systems.iter().find(|system| system.bars.contains(&bar));
    let width = found.and_then(|system| system.widths.get(bar - system.bars.start).copied());
    let tag = without(old[0].text, &["width"]);
    out.push_str(&width.map_or(tag.clone(), |width| with(&tag, "width", &tenths(width))));
    let (mut kept, mut attributes) = (String::new(), String::new());
    let mut at = 1;
    while at < old.len() {
        if old[at].begins() == Some("print") {
            let number = length(&old[at..]);
            keep_of_print(&old[at..at + number], &mut kept, &mut attributes);
            at += number;
        } else {
            at += 1;
        }
    }
    let opening = found.filter(|system| system.bars.start == bar);
    let layout = opening.map(|system| print(system, part, relaid)).unwrap_or_default();
    if opening.is_some() || !kept.is_empty() || !attributes.is_empty() {
        let breaks = match opening {
            Some(RelaidSystem { bars, .. }) if bars.start == 0 => {
                relaid.first_number.as_ref().map(|number| format!(" page-number=\"{number}\"")).unwrap_or_default()
            }
            Some(RelaidSystem { new_page: Some(blank), .. }) => {
                format!(" new-page=\"yes\"{}", if *blank { " blank-page=\"1\"" } else { "" })
            }
            Some(_) => " new-system=\"yes\"".to_owned(),
            None => String::new(),
        };
        let _ = write!(out, "\n   <print{breaks}{attributes}>{layout}{kept}</print>");
    }
    let mut hiding = opening.map(|system| hiding(system, part, relaid)).unwrap_or_default();
    if !hiding.is_empty() && !attributes_first(old) {
        let _ = write!(out, "\n   <attributes>{}</attributes>", std::mem::take(&mut hiding));
    }
    let mut at = 1;
    while at < old.len() {
        let piece = &old[at];
        if piece.begins().is_some_and(|name| AFTER_STAFF_DETAILS.contains(&name)) || piece.is_end("attributes") {
            out.push_str(&std::mem::take(&mut hiding));
        }
        match piece.begins() {
            Some("print") => at += length(&old[at..]),
            Some("staff-details") if !relaid.hidden.is_empty() => {
                let number = length(&old[at..]);
                staff_details(&old[at..at + number], out);
                at += number;
            }
            Some("direction" | "harmony" | "dynamics") => {
                let number = length(&old[at..]);
                sign(&old[at..at + number], out);
                at += number;
            }
            Some(name) => {
                let mut names: Vec<&str> = ACROSS.to_vec();
                if STAND_ON_SYSTEM.contains(&name) {
                    names.push("default-y");
                }
                out.push_str(&without(piece.text, &names));
                at += 1;
            }
            None => {
                out.push_str(piece.text);
                at += 1;
            }
        }
    }
    debug_assert!(old.last().is_some_and(|last| last.is_end("measure")), "a measure ends as it began");
}

/// A sign beside the notes, without its place; but on which side of its staff it stands is said, where only its height said so.
fn sign(old: &[Piece], out: &mut String) {
    let side = |piece: &Piece| {
        let height = value(piece.text, "default-y")?.trim().parse().ok()?;
        Some(side_of(Tenths(height)))
    };
    let placed = ["above", "below"].map(Some).contains(&value(old[0].text, "placement"));
    let sides: Vec<Option<bool>> = old.iter().filter(|piece| piece.begins().is_some()).filter_map(side).collect();
    let agreed = sides.first().copied().flatten().filter(|first| sides.iter().all(|side| *side == Some(*first)));
    let mut names = ACROSS.to_vec();
    if placed || agreed.is_some() {
        names.push("default-y");
    }
    for (place, piece) in old.iter().enumerate() {
        let text = if piece.begins().is_some() { without(piece.text, &names) } else { piece.text.to_owned() };
        match agreed.filter(|_| place == 0 && !placed) {
            Some(above) => out.push_str(&with(&without(&text, &["placement"]), "placement", if above { "above" } else { "below" })),
            None => out.push_str(&text),
        }
    }
}

/// Whether a bar has attributes with something in them before anything sounds in it.
fn attributes_first(old: &[Piece]) -> bool {
    let first = old[1..].iter().find(|piece| matches!(piece.begins(), Some("attributes" | "note" | "backup" | "forward" | "direction")));
    first.is_some_and(|piece| matches!(&piece.kind, Kind::Start(name) if name == "attributes"))
}

/// Which staves of a part are hidden in a system: said of every staff that is hidden in any.
fn hiding(system: &RelaidSystem, part: Option<usize>, relaid: &Relaid) -> String {
    let own = relaid.hidden.iter().filter(|(own, _)| Some(*own) == part);
    own.fold(String::new(), |mut text, staff| {
        let printed = if system.shown.contains(staff) { "yes" } else { "no" };
        let _ = write!(text, "<staff-details number=\"{}\" print-object=\"{printed}\"/>", staff.1);
        text
    })
}

/// What stands of a staff's details, beside whether it is hidden: that is said anew for every system.
fn staff_details(old: &[Piece], out: &mut String) {
    let tag = without(old[0].text, &["print-object", "print-spacing"]);
    if old.iter().skip(1).any(|piece| piece.begins().is_some()) || value(&tag, "show-frets").is_some() {
        out.push_str(&tag);
        old[1..].iter().for_each(|piece| out.push_str(piece.text));
    }
}

/// What a print says that is no layout.
fn keep_of_print(old: &[Piece], kept: &mut String, attributes: &mut String) {
    let tag = without(old[0].text, &BREAKS);
    let inner = tag.trim_start_matches("<print").trim_end_matches('>').trim_end_matches('/').trim();
    if !inner.is_empty() && attributes.is_empty() {
        let _ = write!(attributes, " {inner}");
    }
    let mut at = 1;
    while at < old.len() {
        let number = length(&old[at..]).max(1);
        if old[at].begins().is_some_and(|name| KEPT_IN_PRINT.contains(&name)) {
            old[at..at + number].iter().for_each(|piece| kept.push_str(piece.text));
            at += number;
        } else if old[at].begins().is_some() {
            at += number;
        } else {
            at += 1;
        }
    }
}

/// The layout of one system as its part says it.
fn print(system: &RelaidSystem, part: Option<usize>, relaid: &Relaid) -> String {
    let length = |length: Mm| tenths(relaid.tenths(length));
    let kind = if system.new_page.is_some() { "top-system-distance" } else { "system-distance" };
    let [left, right] = system.indents.map(length);
    let mut text = format!(
        "<system-layout><system-margins><left-margin>{left}</left-margin><right-margin>{right}</right-margin></system-margins><{kind}>{}</{kind}></system-layout>",
        length(system.distance)
    );
    for (_, staff, gap) in system.gaps.iter().filter(|(own, ..)| Some(*own) == part) {
        let _ = write!(text, "<staff-layout number=\"{staff}\"><staff-distance>{}</staff-distance></staff-layout>", length(*gap));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_are_written_to_a_hundredth() {
        assert_eq!(tenths(Tenths(-0.001)), "0");
        assert_eq!(tenths(Tenths(12.3456)), "12.35");
        assert_eq!(tenths(Tenths(12.0)), "12");
    }
}
