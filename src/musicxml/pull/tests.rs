//! The second opinion is roxmltree, a reader that builds a tree and shares no code with this one.

use super::*;
use crate::musicxml::Source;
use crate::musicxml::cutter::{TOKEN_LIMIT, WINDOW};
use proptest::prelude::*;
use roxmltree::{Document, Node, ParsingOptions};

/// Gives a text a few bytes at a time.
struct Trickle {
    bytes: Vec<u8>,
    at: usize,
    step: usize,
}

impl Read for Trickle {
    fn read(&mut self, into: &mut [u8]) -> std::io::Result<usize> {
        let end = self.bytes.len().min(self.at + self.step.min(into.len()));
        let given = &self.bytes[self.at..end];
        into[..given.len()].copy_from_slice(given);
        self.at = end;
        Ok(given.len())
    }
}

impl Trickle {
    fn new(bytes: &[u8], step: usize) -> Self {
        Self { bytes: bytes.to_vec(), at: 0, step }
    }
}

fn trickle(text: &str, step: usize) -> Pull {
    Pull::new(Trickle::new(text.as_bytes(), step))
}

fn tree(text: &str) -> Result<Document<'_>, roxmltree::Error> {
    Document::parse_with_options(text, ParsingOptions { allow_dtd: true, nodes_limit: 4_000_000, ..ParsingOptions::default() })
}

fn verdict(text: &str) -> Result<(), Damage> {
    trickle(text, usize::MAX).finish()
}

/// Walks pull and tree together and compares names, places, attributes and texts.
fn compare(pull: &mut Pull, node: Node) {
    assert_eq!(pull.name(), node.tag_name().name());
    assert_eq!(pull.tag_place().offset as usize, node.range().start);
    let ours: Vec<_> = pull.attributes().map(|(name, value, place)| (name.to_owned(), value.into_owned(), place.offset as usize)).collect();
    let theirs: Vec<_> = node.attributes().map(|a| (a.name().to_owned(), a.value().to_owned(), a.range_value().start)).collect();
    assert_eq!(ours.into_iter().filter(|(name, ..)| !name.contains(':')).collect::<Vec<_>>(), theirs);
    if node.children().any(|child| child.is_element()) {
        for child in node.children().filter(Node::is_element) {
            pull.child().expect("well-formed").expect("a child");
            compare(pull, child);
        }
        assert_eq!(pull.child().expect("well-formed"), None);
    } else {
        let theirs: String = node.children().filter(Node::is_text).filter_map(|text| text.text()).collect();
        assert_eq!(pull.raw_text().expect("well-formed").0, theirs);
    }
    if !node.is_root() {
        assert_eq!(pull.offset(), node.range().end as u64);
    }
}

fn compare_whole(text: &str, step: usize) {
    let document = tree(text).expect("the second opinion reads it");
    for mut pull in [trickle(text, step), Pull::ahead(Trickle::new(text.as_bytes(), step))] {
        pull.child().expect("well-formed").expect("a root");
        compare(&mut pull, document.root_element());
        pull.finish().expect("nothing behind");
    }
}

/// Source: XML 1.0, 2.2: neither of the two is a character of a document.
#[test]
fn damage_points_at_whole_characters() {
    for (text, wrong) in [("<a>\u{FFFF}</a>", "\u{FFFF}"), ("<a b='1'é='2'/>", "é"), ("<a \u{D7}='2'/>", "\u{D7}")] {
        let at = verdict(text).expect_err("damaged").at.expect("a place");
        assert_eq!(&text[at.offset as usize..][..at.length as usize], wrong, "{text}");
    }
}

#[test]
fn who_reads_ahead_finds_the_same_damage() {
    let sound = format!("<a>{}</a> ", "<b c='d'>é</b>\n".repeat(80_000)).into_bytes();
    let faults: [&[u8]; 6] = [b"</c>", b"<", b"\xFF", b"\x01", b"&x;", b"]]>"];
    for at in [3, 200_003, 700_003, sound.len() - 1] {
        for fault in faults {
            let text = [&sound[..at], fault, &sound[at..]].concat();
            let [here, ahead] = [Pull::new(Trickle::new(&text, 5_000)).finish(), Pull::ahead(Trickle::new(&text, 5_000)).finish()];
            assert!(here.is_err(), "{} at {at}", String::from_utf8_lossy(fault));
            assert_eq!(here, ahead);
        }
        let cut = &sound[..at];
        assert_eq!(Pull::new(Trickle::new(cut, 9_000)).finish(), Pull::ahead(Trickle::new(cut, 9_000)).finish());
    }
    // Nobody waits for a thread whose reader has gone.
    drop(Pull::ahead(Trickle::new(&sound, 5_000)).child());
}

const SMALL: &str = "<?xml version='1.0' encoding=\"UTF-8\" standalone='no' ?>\r\n<!-- a - b -->\
<!DOCTYPE score [<!ENTITY who 'A &#38; B'> <!-- > --> <?x > ?> <!ELEMENT score ANY><!ATTLIST score a CDATA '>'>]>\n\
<score a = '1' b=\"x&amp;&#x41; y\tz\r\n.\" c='\"'\r>\n <e/> \u{FEFF}<f x='>'></f >\u{FEFF}\r\n\
<w> \u{FEFF}\r\na\rb<![CDATA[<&]]]>&lt;\u{1D15E}<?go on?>é<!-- - -->  </w><w>&#32;&#13;x&amp; </w><w><![CDATA[]]></w>\
<ф:д>ü</ф:д><none>  </none></score> <!-- end --> <?done?>\n";

#[test]
fn windows_of_any_size_give_what_the_second_opinion_gives() {
    // Three things the second opinion does not take: an unbound prefix, "&" from an entity, ">" in a default.
    let small = SMALL.replace("ф:д", "фд").replace(" &#38; ", " + ").replace("CDATA '>'", "CDATA 'v'");
    for padding in 0..40 {
        let text = small.replace("<e/>", &format!("<e/>{}<e>{}</e>", " ".repeat(padding), "x".repeat(WINDOW - 700)));
        compare_whole(&text, 7);
    }
    for step in [1, 7, 4096] {
        compare_whole(&small, step);
    }
}

/// Real scores lie beside the project where it is developed, not in it.
#[test]
fn real_scores_read_as_the_second_opinion_reads_them() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/real");
    let Ok(files) = std::fs::read_dir(folder) else { return };
    for file in files.map(|file| file.expect("listed").path()).filter(|path| path.extension().is_some_and(|end| end == "mxl")) {
        for source in Source::open(&file).expect("a container") {
            let mut text = String::new();
            source.stream().expect("opens").read_to_string(&mut text).expect("sound");
            // The longest one takes half a minute in an unoptimised build.
            if text.len() < 8 << 20 {
                compare_whole(&text, if text.len() < 1 << 20 { 7 } else { 4096 });
            }
        }
    }
}

#[test]
fn text_is_trimmed_and_has_its_place() {
    let text = "<a><b> 12\n</b><b/><b>  </b><b>x<c>no</c> y&#32;</b><b> &amp;<!-- --> </b><d>\r\nx\r </d></a>";
    let mut pull = trickle(text, 3);
    assert_eq!(pull.child().expect("root"), Some(Element::Other));
    for (expected, written) in [("12", "12"), ("", ""), ("", ""), ("x y", "x<c>no</c> y"), ("&", "&amp;")] {
        pull.child().expect("well-formed").expect("a child");
        let behind = pull.tag_place();
        let (got, place) = pull.text().expect("well-formed");
        assert_eq!(got, expected);
        let start = place.offset as usize;
        assert_eq!(&text[start..start + place.length as usize], written);
        assert!(place.length > 0 || place.offset == behind.offset + behind.length);
    }
    pull.child().expect("well-formed").expect("a child");
    assert_eq!(pull.raw_text().expect("well-formed").0, "\nx\n ");
    assert_eq!(pull.child().expect("well-formed"), None);
    assert_eq!(pull.child().expect("well-formed"), None);
    pull.finish().expect("nothing behind");
}

/// White space before a reference once came behind it.
#[test]
fn white_space_stays_before_what_follows_it() {
    for text in ["<a> &amp;</a>", "<a>x &amp; y\n&lt; <![CDATA[ z]]> <!-- --> &#65;</a>"] {
        compare_whole(text, 1);
    }
}

#[test]
fn skipping_leaves_exactly_one_element() {
    let mut pull = trickle("<a><note x='1'><b><c/>t</b></note><pitch/><step>C</step></a>", 5);
    assert_eq!(pull.child().expect("root"), Some(Element::Other));
    assert_eq!(pull.child().expect("note"), Some(Element::Note));
    assert_eq!(
        pull.attribute("x").map(|(value, place)| (value.into_owned(), place)),
        Some(("1".to_owned(), Place { offset: 12, length: 1 }))
    );
    pull.skip().expect("well-formed");
    assert_eq!(pull.child().expect("pitch"), Some(Element::Pitch));
    pull.skip().expect("well-formed");
    assert_eq!(pull.child().expect("step"), Some(Element::Step));
    assert_eq!(pull.text().expect("text").0, "C");
    assert_eq!(pull.child().expect("end"), None);
}

/// Source of each verdict: XML 1.0, fifth edition; the number of its production or section stands beside it.
#[test]
fn well_formedness_as_the_second_opinion_sees_it() {
    let good = [
        "<a/>",
        "<a></a >",
        " <a/>",
        "<!-- x --><a/><?p?>\n",
        "<?xml version=\"1.0\"?><a/>",
        "<a b='1' c=\"'\"/>",
        "<a>]] > ]]&gt; ></a>",
        "<a><![CDATA[<b>&]]]]></a>",
        "<a>&lt;&#0065;&#x10FFFF;</a>",
        "<!DOCTYPE a><a/>",
        "<!DOCTYPE a PUBLIC \"p\" 'http://x/y.dtd'><a/>",
        "<!DOCTYPE a SYSTEM \"a.dtd\" [ ]><a/>",
        "<!DOCTYPE a [<!ENTITY e \"text\">]><a b='&e;'>&e;</a>",
        "<_.-é/>",
    ];
    let bad = [
        "",                                           // 1
        "   ",                                        // 1
        "text",                                       // 1
        "<a/>text",                                   // 1
        "text<a/>",                                   // 1
        "<a/><b/>",                                   // 1
        "<a/>&amp;",                                  // 1
        "<a/><![CDATA[x]]>",                          // 1
        "<a>",                                        // 39
        "<a><b></b>",                                 // 39
        "</a>",                                       // 39
        "<a></b>",                                    // 39
        "<a><b></a></b>",                             // 39
        "<a></a></a>",                                // 1
        "<a b='1' b='2'/>",                           // 3.1
        "<a b=1/>",                                   // 10
        "<a b/>",                                     // 41
        "<a b='1'c='2'/>",                            // 40
        "<a b='<'/>",                                 // 10
        "<a b='&'/>",                                 // 10
        "<a b='&x;'/>",                               // 4.1
        "<a b='1/>",                                  // 10
        "<a ='1'/>",                                  // 41
        "<a 1='1'/>",                                 // 5
        "<a/ >",                                      // 44
        "<lyric/ number='2'></lyric>",                // 40; found by the fuzz target of scores
        "< a/>",                                      // 40
        "<a></ a>",                                   // 42
        "<1/>",                                       // 5
        "<a>&undefined;</a>",                         // 4.1
        "<a>&amp</a>",                                // 68
        "<a>& </a>",                                  // 68
        "<a>&;</a>",                                  // 68
        "<a>&#0;</a>",                                // 66
        "<a>&#1;</a>",                                // 66
        "<a>&#x;</a>",                                // 66
        "<a>&#+5;</a>",                               // 66
        "<a>\u{1}</a>",                               // 2
        "<a b='\u{1F}'/>",                            // 2
        "<a>\u{FFFF}</a>",                            // 2
        "<a><!-- -- --></a>",                         // 15
        "<a><!-- ---></a>",                           // 15
        "<a><!--></a>",                               // 15
        "<a><!-- </a>",                               // 15
        "<a>]]></a>",                                 // 14
        "<a><![CDATA[</a>",                           // 18
        "<a><![cdata[x]]></a>",                       // 19
        "<a><!x></a>",                                // 43
        "<a><?xml version='1.0'?></a>",               // 17
        " <?xml version='1.0'?><a/>",                 // 22
        "<?xml encoding='UTF-8'?><a/>",               // 23
        "<?xml version='1.0'encoding='UTF-8'?><a/>",  // 23
        "<a><??></a>",                                // 16
        "<a><?p </a>",                                // 16
        "<a/><!DOCTYPE a>",                           // 22
        "<!DOCTYPE a><!DOCTYPE a><a/>",               // 22
        "<!DOCTYPE><a/>",                             // 28
        "<!DOCTYPE a PUBLIC 'p'><a/>",                // 75
        "<!DOCTYPE a [<!ENTITY e 'x' y>]><a/>",       // 71
        "<!DOCTYPE a [<!ENTITY e '&e;'>]><a>&e;</a>", // 4.1
        "<!DOCTYPE a [ <a> ]><a/>",                   // 28b
    ];
    // What the second opinion accepts and we refuse, and why.
    let ours_alone = [
        "<a>&#xD800;</a>",                              // 66: it takes half a surrogate pair for U+FFFD
        "<a><?p<x?></a>",                               // 16: it asks for no space behind the target
        "<?xml?><a/>",                                  // 23: it asks for no version
        "<?xml version='1.0' standalone='maybe'?><a/>", // 32: it does not look at the value
        "<?xml version='1.0' encoding='8'?><a/>",       // 81: it does not look at the encoding's name
        "<a><?XML x?></a>",                             // 17: reserved in any case
        "<!DOCTYPE a [<!ENTITY e SYSTEM 'x'>]><a/>",    // it ignores entities outside the file; we refuse them
        "<!DOCTYPE a [<!ENTITY e '<b/>'>]><a>&e;</a>",  // well-formed; we expand plain text only
    ];
    // What it refuses and we accept: namespaces are not part of XML 1.0.
    let theirs_alone = ["<p:a/>", "<a p:b='1'/>"];
    let disagreeing: Vec<_> = good
        .iter()
        .map(|text| (text, true, true))
        .chain(bad.iter().map(|text| (text, false, false)))
        .chain(ours_alone.iter().map(|text| (text, false, true)))
        .chain(theirs_alone.iter().map(|text| (text, true, false)))
        .filter(|(text, ours, theirs)| verdict(text).is_ok() != *ours || tree(text).is_ok() != *theirs)
        .map(|(text, ..)| (text, verdict(text), tree(text).map(|_| ())))
        .collect();
    assert!(disagreeing.is_empty(), "{disagreeing:#?}");
}

#[test]
fn a_document_cut_anywhere_is_refused() {
    verdict(SMALL).expect("whole");
    let root_ends = SMALL.find("</score>").expect("there") + "</score>".len();
    for cut in (0..root_ends).filter(|cut| SMALL.is_char_boundary(*cut)) {
        assert!(verdict(&SMALL[..cut]).is_err(), "cut at {cut}");
    }
}

#[test]
fn limits_hold() {
    let deep = |levels: usize| format!("{}{}", "<a>".repeat(levels), "</a>".repeat(levels));
    verdict(&deep(256)).expect("256 levels");
    assert!(verdict(&deep(257)).is_err());
    verdict(&format!("<a>{}</a>", "x".repeat(TOKEN_LIMIT - 1024))).expect("a long text");
    for long in ["<a>", "<a b='", "<a><!--", "<a>&"] {
        let damage = verdict(&format!("{long}{}", "x".repeat(TOKEN_LIMIT + (2 << 20)))).expect_err("too long");
        assert!(damage.what.contains("8 MiB"), "{damage}");
    }
    let entity = "e".repeat(4096);
    let bomb = format!("<!DOCTYPE a [<!ENTITY e '{entity}'>]><a>{}</a>", "&e;".repeat(300));
    assert!(verdict(&bomb).expect_err("over the budget").what.contains("1 MiB"));
}

#[test]
fn the_dead_stay_dead() {
    let mut pull = trickle("<a><b></c></a>", 9);
    pull.child().expect("a");
    pull.child().expect("b");
    let damage = pull.child().expect_err("mismatch");
    assert_eq!(damage.at, Some(Place { offset: 6, length: 4 }));
    assert_eq!(pull.text().expect_err("dead"), damage);
    assert_eq!(pull.finish().expect_err("dead"), damage);
}

/// Strings of pieces that are nearly XML.
fn nearly_xml() -> impl Strategy<Value = String> {
    let piece = prop::sample::select(vec![
        "<a>",
        "</a>",
        "<note x='1'>",
        "<note",
        "</note>",
        "<dot/>",
        "&amp;",
        "&",
        ";",
        "<",
        ">",
        "'",
        "\"",
        "=",
        " ",
        "x",
        "<!--",
        "-->",
        "<![CDATA[",
        "]]>",
        "<?",
        "?>",
        "<!DOCTYPE a [",
        "<!ENTITY e 'v'>",
        "]>",
        "\u{FEFF}",
        "é",
        "\r\n",
        "\u{0}",
        "/",
        "!",
        "-",
        "<?xml version='1.0'?>",
        "</a >",
        "<c\n/>",
        "<é a=\"1\"\tb = '>\n'>",
        "</é>",
        "<b x='&amp;' y=\"'\">",
        "<note default-x=\"1.5\">",
        "</note>",
        "\u{1}",
        "\u{FFFF}",
        "\u{FF01}",
        "\t",
        "]]",
    ]);
    prop::collection::vec(piece, 0..24).prop_map(|pieces| pieces.concat())
}

proptest! {
    #[test]
    fn no_bytes_make_it_panic(bytes in prop::collection::vec(any::<u8>(), 0..300), step in 1_usize..9) {
        let _ = Pull::new(Trickle { bytes, at: 0, step }).finish();
    }

    #[test]
    fn nearly_xml_is_judged_alike(inner in nearly_xml(), whole in any::<bool>()) {
        let text = if whole { format!("<a>{inner}</a>") } else { inner };
        // A byte order mark is taken off before the pull sees a text; the second opinion takes it off itself.
        let text = text.trim_start_matches('\u{FEFF}').to_owned();
        let ours = verdict(&text);
        match tree(&text) {
            // The table above names this disagreement: production 16 asks for a space behind the target.
            Ok(_) if ours.as_ref().is_err_and(|damage| damage.what.contains("processing instruction has no proper name")) => {}
            Ok(_) => prop_assert!(ours.is_ok(), "{text:?}: {ours:?}"),
            Err(fault) => prop_assert!(ours.is_err(), "{text:?}: {fault}"),
        }
        if ours.is_ok() {
            compare_whole(&text, 1);
        }
        // What is pointed at are whole characters of the text.
        if let Some(at) = ours.err().and_then(|damage| damage.at) {
            let (start, end) = (at.offset as usize, at.offset as usize + at.length as usize);
            prop_assert!(text.is_char_boundary(start) && text.is_char_boundary(end.min(text.len())), "{text:?}: {at:?}");
        }
        let mut pull = trickle(&text, 2);
        while pull.child().is_ok_and(|element| element.is_some()) && pull.raw_text().is_ok() {}
        let _ = pull.finish();
    }
}
