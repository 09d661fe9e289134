//! What the fuzz targets share: the auditor as it comes with the program, and what must hold of every place.

#![forbid(unsafe_code)]

use stavegauge::audit::mending::Repairs;
use stavegauge::audit::{Bar, DocumentAudit, Placed};
use stavegauge::house::House;
use stavegauge::measured::Printing;
use stavegauge::musicxml::Source;
use stavegauge::place::Place;
use stavegauge::rule::subject::vocabulary;
use stavegauge::rule::{Examples, RuleBook, Vocabulary};
use std::io::Read;
use std::sync::LazyLock;

pub static VOCABULARY: LazyLock<Vocabulary> = LazyLock::new(vocabulary);
pub static HOUSE: LazyLock<House> = LazyLock::new(|| House::built_in().expect("the house loads"));

/// A score with something wrong in it, small enough to be judged some hundred times a second.
pub const SMALL_SCORE: &str = include_str!("../../fixtures/rules/past-bottom-margin/breaks-last-staff.musicxml");

/// The rules that come with the program.
pub fn rules() -> RuleBook {
    RuleBook::built_in(&VOCABULARY, &role_names(&HOUSE), Examples::PassedOver).expect("the rules load")
}

pub fn role_names(house: &House) -> Vec<&str> {
    house.roles.names().collect()
}

/// What documents are judged by.
pub fn bar<'a>(house: &'a House, rules: &'a RuleBook, stated_role: Option<&'a str>, printing: &'a Printing) -> Bar<'a> {
    Bar {
        house,
        rules,
        stated_role,
        printing,
        repairs: Repairs::Always,
        draws: true,
        cores_to_spare: false,
        enabled: &|_| true,
        below: &|path| path.to_owned(),
    }
}

/// The documents of some bytes; none where they cannot be opened.
pub fn sources(bytes: &[u8]) -> Vec<Source> {
    Source::spool("bytes", bytes).unwrap_or_default()
}

/// The decoded text, or what is wrong with it.
pub fn decoded(source: &Source) -> Result<String, stavegauge::musicxml::Damage> {
    let mut text = Vec::new();
    let read = source.stream()?.read_to_end(&mut text);
    read.map_err(|error| stavegauge::musicxml::Damage::from_io(error, "reading"))?;
    Ok(String::from_utf8(text).expect("a decoded text is UTF-8"))
}

/// A place must lie within its text, on whole characters.
pub fn within(place: Place, text: &str) {
    let start = place.offset as usize;
    assert!(text.get(start..start + place.length as usize).is_some(), "{place:?} is no place of a text of {} bytes", text.len());
}

/// A fault points at a character of its text by the first byte, or at the end.
pub fn points_into(place: Place, text: &str) {
    let (start, end) = (place.offset as usize, place.offset as usize + place.length as usize);
    assert!(text.is_char_boundary(start) && end <= text.len(), "{place:?} points at nothing in a text of {} bytes", text.len());
}

/// Everything found in some documents.
pub fn findings(documents: &[DocumentAudit]) -> impl Iterator<Item = &Placed> {
    documents.iter().flat_map(|document| &document.findings)
}
