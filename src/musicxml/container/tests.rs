//! Containers made here, each sound or damaged in one way.

use super::*;
use crate::musicxml::Source;
use std::io::{Cursor, Write};
use zip::ZipWriter;
use zip::write::SimpleFileOptions;

const SCORE: &str = "<score-partwise><part-list/></score-partwise>";

fn archive(members: &[(&str, &str)], method: CompressionMethod) -> Vec<u8> {
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, text) in members {
        zip.start_file(*name, SimpleFileOptions::default().compression_method(method)).expect("a new member");
        zip.write_all(text.as_bytes()).expect("room");
    }
    zip.finish().expect("whole").into_inner()
}

fn naming(rootfiles: &str) -> String {
    format!("<?xml version=\"1.0\"?><container><rootfiles>{rootfiles}</rootfiles></container>")
}

fn open(bytes: &[u8]) -> Result<Vec<Source>, Damage> {
    Source::spool("demo.mxl", bytes)
}

fn refusal(rootfiles: &str, members: &[(&str, &str)]) -> String {
    let container = naming(rootfiles);
    let members = [&[(CONTAINER, container.as_str())], members].concat();
    open(&archive(&members, CompressionMethod::Stored)).expect_err("damaged").account().what
}

fn text(source: &Source) -> Result<String, Damage> {
    let mut text = String::new();
    source.stream()?.read_to_string(&mut text).map_err(|error| Damage::from_io(error, "reading"))?;
    Ok(text)
}

/// Source: the container schema: a missing media type is a score's; others may be prints or sound.
#[test]
fn every_score_in_its_order_and_nothing_else() {
    let container = naming(
        "<rootfile full-path='b.xml'/><rootfile full-path='p.pdf' media-type='application/pdf'/>\
         <rootfile full-path='sub/a%20b.xml' media-type='Application/vnd.recordare.musicxml+xml; charset=utf-8'/>\
         <rootfile full-path='c%41.xml' media-type='text/xml'/><rootfile full-path='d.xml' media-type='text/xml'/><rootfile full-path='b.xml'/>",
    );
    let members =
        [(CONTAINER, &*container), ("d.xml", "<opus/>"), ("sub/a b.xml", SCORE), ("b.xml", SCORE), ("c%41.xml", SCORE), ("p.pdf", "%PDF-")];
    for method in [CompressionMethod::Stored, CompressionMethod::Deflated] {
        let sources = open(&archive(&members, method)).expect("sound");
        let names: Vec<_> = sources.iter().map(|source| source.member.as_deref()).collect();
        assert_eq!(names, [Some("b.xml"), Some("sub/a b.xml"), Some("c%41.xml")]);
        for source in sources.iter().chain(&sources) {
            assert_eq!(text(source).expect("sound"), SCORE);
        }
    }
}

#[test]
fn each_damage_is_told_by_its_name() {
    let score = [("a.xml", SCORE)];
    assert!(refusal("", &score).contains("names no root file"));
    assert!(refusal("<rootfile full-path='b.xml'/>", &score).contains("no such member"));
    assert!(refusal("<rootfile/>", &score).contains("no full-path"));
    assert!(refusal("<rootfile", &score).contains("not well-formed"));
    assert!(refusal("<rootfile full-path='a.xml' media-type='text/plain'/>", &[("a.xml", "hello")]).contains("is a score"));
    for trick in ["/a.xml", "../a.xml", "x/../../a.xml", "%2e%2e/a.xml", "C:/a.xml", "..\\a.xml"] {
        assert!(refusal(&format!("<rootfile full-path='{trick}'/>"), &score).contains("out of the container"), "{trick}");
    }
    let without = |members: &[(&str, &str)]| open(&archive(members, CompressionMethod::Stored)).expect_err("damaged").account().what;
    assert!(without(&score).contains("should name the score \"a.xml\""));
    assert!(without(&[("a.xml", SCORE), ("b.musicxml", SCORE)]).contains("several members"));
    assert!(without(&[("word/a.xml", SCORE)]).contains("no MusicXML container"));
    assert!(without(&[]).contains("no MusicXML container"));
}

#[test]
fn damaged_archives_are_refused() {
    let container = naming("<rootfile full-path='a.xml'/>");
    let sound = archive(&[(CONTAINER, &container), ("a.xml", SCORE)], CompressionMethod::Stored);
    let position = |needle: &[u8], bytes: &[u8]| bytes.windows(needle.len()).position(|part| part == needle).expect("there");
    let patched = |at: usize, byte: u8| {
        let mut bytes = sound.clone();
        bytes[at] = byte;
        bytes
    };
    let refusal = |bytes: &[u8]| open(bytes).and_then(|sources| text(&sources[0])).expect_err("damaged").account().what;

    assert!(refusal(&patched(position(b"part-list", &sound), b'q')).contains("damaged"), "a byte of the score");
    // APPNOTE 4.3.12: flags at 8, method at 10 of a central header, which comes after the member's data.
    let headers: Vec<usize> = sound.windows(4).enumerate().filter(|(_, part)| part == b"PK\x01\x02").map(|(at, _)| at).collect();
    assert!(refusal(&patched(headers[1] + 8, 1)).contains("encrypted"));
    assert!(refusal(&patched(headers[1] + 10, 12)).contains("not by Deflate"));
    for cut in 4..sound.len() {
        assert!(open(&sound[..cut]).is_err(), "cut at {cut}");
    }
    for (at, byte) in sound.iter().enumerate().skip(4) {
        // Whatever a flipped byte does, it must not panic, nor change the score.
        if let Ok(sources) = open(&patched(at, !byte))
            && let Ok(text) = text(&sources[0])
        {
            assert_eq!(text, SCORE, "byte {at}");
        }
    }
}

#[test]
fn a_bomb_is_defused() {
    let unpacking = |compressed: u64| {
        let member = Member { start: 0, compressed, size: u64::MAX, crc: 0, deflated: true };
        let content: Box<dyn Read + Send> = Box::new(io::repeat(b' ').take(1_000));
        let mut checked = Checked { content: CrcReader::new(content), member, length: RATIO_FREE };
        Damage::from_io(io::copy(&mut checked, &mut io::sink()).expect_err("never sound"), "reading").account().what
    };
    assert!(unpacking(RATIO_FREE / RATIO_LIMIT / 2).contains("three hundred times"));
    assert!(!unpacking(RATIO_FREE / RATIO_LIMIT * 2).contains("three hundred times"));
}

/// A few bytes that many members hold would be read once for each.
#[test]
fn members_that_lie_over_each_other_are_refused() {
    let container = naming("<rootfile full-path='a.xml'/><rootfile full-path='b.xml'/>");
    let mut bytes = archive(&[(CONTAINER, &container), ("a.xml", SCORE), ("b.xml", SCORE)], CompressionMethod::Stored);
    assert_eq!(open(&bytes).expect("sound").len(), 2);
    // The directory says of the second what it says of the first: the offset of its header is the last field before its name.
    let entry = |bytes: &[u8], name: &str| bytes.windows(5).rposition(|at| at == name.as_bytes()).expect("listed");
    let (first, second) = (entry(&bytes, "a.xml"), entry(&bytes, "b.xml"));
    bytes.copy_within(first - 4..first, second - 4);
    let told = open(&bytes).expect_err("damaged").account().what;
    assert!(told.contains("lie over each other"), "{told}");
}
