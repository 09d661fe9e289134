//! The picture of the README: one page of the demo score as it is and as it could be, drawn from what was measured.
//!
//! `STAVEGAUGE_WRITE=1 cargo test --test picture` draws it anew; the test holds it in step.

#![allow(clippy::expect_used, clippy::panic, reason = "a test says what it expects")]

mod support;

use std::fmt::Write;
use std::fs;
use support::engine::Engine;

use stavegauge::measured::{Measured, Page};
use stavegauge::place::Known;
use stavegauge::units::Mm;

const PICTURE: &str = "docs/pages.svg";
/// Room between and around the two pages, and for the words below, mm.
const AROUND: f64 = 12.0;
const BELOW: f64 = 26.0;

fn mm(length: &Known<Mm>) -> f64 {
    length.value().expect("the demo set states its layout").0
}

/// A page at some distance from the left: sheet, staves, bar lines, and the white beyond what the gaps need, hatched.
fn draw(page: &Page, left: f64, svg: &mut String) -> std::fmt::Result {
    let (width, height) = (mm(&page.width), mm(&page.height));
    writeln!(svg, r#"<g transform="translate({left:.2} {AROUND})">"#)?;
    writeln!(svg, r##"<rect width="{width:.2}" height="{height:.2}" fill="#fff" stroke="#555" stroke-width=".5"/>"##)?;
    for gap in &page.gaps {
        let Some(excess) = gap.excess().filter(|excess| excess.0 > 0.5) else { continue };
        let system = &page.systems[gap.system as usize - 1];
        let staff = system.staves.iter().find(|staff| (staff.part, staff.staff) == gap.pair[1]).expect("the lower staff is printed");
        // In the middle of the gap: what it needs stays on both sides.
        let top = mm(&staff.top) - mm(&gap.white) / 2.0 - excess.0 / 2.0;
        let (from, to) = (mm(&system.left), mm(&system.right));
        writeln!(svg, r#"<rect x="{from:.2}" y="{top:.2}" width="{:.2}" height="{:.2}" fill="url(#white)"/>"#, to - from, excess.0)?;
    }
    for system in &page.systems {
        let (from, to) = (mm(&system.left), mm(&system.right));
        let mut path = String::new();
        for staff in &system.staves {
            for line in 0..5 {
                let y = mm(&staff.top) + mm(&staff.height) * f64::from(line) / 4.0;
                write!(path, "M{from:.2} {y:.2}H{to:.2}")?;
            }
        }
        for bar in &system.across {
            for staff in &system.staves {
                write!(path, "M{:.2} {:.2}V{:.2}", bar.left.0 + bar.width.0, mm(&staff.top), mm(&staff.bottom))?;
            }
        }
        write!(path, "M{from:.2} {:.2}V{:.2}", mm(&system.top), mm(&system.bottom))?;
        writeln!(svg, r##"<path d="{path}" fill="none" stroke="#333" stroke-width=".3"/>"##)?;
    }
    writeln!(svg, "</g>")
}

fn words(measured: &Measured, page: &Page) -> [String; 2] {
    let systems = page.systems.len();
    [
        format!(
            "{} pages, {systems} {} a page, staves of {:.1} mm",
            measured.pages.len(),
            if systems == 1 { "system" } else { "systems" },
            mm(&measured.staff_height)
        ),
        format!("{:.0} of {:.0} mm is white let in between", mm(&page.white_between), mm(&page.usable)),
    ]
}

fn picture() -> String {
    let engine = Engine::new();
    let score = |name: &str| engine.measure_text(&fs::read_to_string(format!("fixtures/demo/{name}")).expect("it is there"));
    let both = [score("score-loose.musicxml"), score("score.musicxml")];
    let pages = both.each_ref().map(|measured| &measured.pages[1]);
    let width = mm(&pages[0].width);
    let whole = (width * 2.0 + AROUND * 3.0, mm(&pages[0].height) + AROUND + BELOW);
    let mut svg = String::new();
    let drawn = (|| {
        writeln!(
            svg,
            r#"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {:.1} {:.1}" role="img" font-family="Georgia, serif">"#,
            whole.0, whole.1
        )?;
        writeln!(svg, "<title>One page of the demo score as it is, with the white between its staves hatched, and as it could be</title>")?;
        writeln!(
            svg,
            r##"<defs><pattern id="white" width="3" height="3" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><path d="M0 0V3" stroke="#888" stroke-width=".7"/></pattern></defs>"##
        )?;
        writeln!(svg, r##"<rect width="100%" height="100%" fill="#eee"/>"##)?;
        for (index, (measured, page)) in both.iter().zip(pages).enumerate() {
            let left = if index == 0 { AROUND } else { width + AROUND * 2.0 };
            draw(page, left, &mut svg)?;
            for (line, text) in words(measured, page).iter().enumerate() {
                let y = whole.1 - BELOW + if line == 0 { 11.0 } else { 21.0 };
                writeln!(svg, r##"<text x="{left:.2}" y="{y:.2}" font-size="9" fill="#222">{text}</text>"##)?;
            }
        }
        writeln!(svg, "</svg>")
    })();
    drawn.map(|()| svg).expect("text takes what is written")
}

#[test]
fn the_picture_shows_what_is_measured() {
    let picture = picture();
    if std::env::var_os("STAVEGAUGE_WRITE").is_some() {
        fs::write(PICTURE, &picture).expect("written");
    }
    assert!(fs::read_to_string(PICTURE).expect("it is committed") == picture, "draw it anew with STAVEGAUGE_WRITE=1");
}
