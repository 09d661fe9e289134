//! Source of each verdict: XML 1.0, fifth edition; the number of its production or section stands beside it.

use super::declaration::NESTING_LIMIT;
use super::*;

fn within(subset: &str) -> Result<Entities, Fault> {
    read(&format!("<!DOCTYPE a [{subset}]>"))
}

#[test]
fn declarations_that_keep_to_the_grammar_are_accepted() {
    for (production, subset) in [
        ("28a", " \t\r\n"),
        ("29", "<!-- <!ELEMENT --><?p <!ATTLIST ?><!ELEMENT a ANY> <!NOTATION n SYSTEM ''>"),
        ("45", "<!ELEMENT a EMPTY><!ELEMENT\ta:b.c-d\nANY ><!ELEMENT \u{E9} ANY>"),
        // Declaring one twice is against a rule of validity, not of well-formedness (3.2).
        ("45", "<!ELEMENT a EMPTY><!ELEMENT a EMPTY>"),
        ("47", "<!ELEMENT a (b)><!ELEMENT a (b)?><!ELEMENT a (b|c)*><!ELEMENT a (b,c)+>"),
        ("48", "<!ELEMENT a (b?,c*,d+,(e|f)?,((g))*)>"),
        ("49", "<!ELEMENT a ( b\t|\nc | (d,e) )><!ELEMENT a (b|c|d)>"),
        ("50", "<!ELEMENT a (b)><!ELEMENT a ( b , c,d )>"),
        ("51", "<!ELEMENT a (#PCDATA)><!ELEMENT a ( #PCDATA )*><!ELEMENT a (#PCDATA|b | c )* >"),
        ("52", "<!ATTLIST a><!ATTLIST a ><!ATTLIST a b CDATA #IMPLIED c ID #REQUIRED>"),
        ("55", "<!ATTLIST a b CDATA 'x'>"),
        ("56", "<!ATTLIST a b ID #IMPLIED c IDREF #IMPLIED d IDREFS #IMPLIED>"),
        ("56", "<!ATTLIST a b ENTITY #IMPLIED c ENTITIES #IMPLIED d NMTOKEN #IMPLIED e NMTOKENS #IMPLIED>"),
        ("58", "<!ATTLIST a b NOTATION (n) #IMPLIED c NOTATION\n( n | m ) 'n'>"),
        ("59", "<!ATTLIST a b (1|-2| .x ) '1' c (d) #REQUIRED>"),
        ("60", "<!ATTLIST a b CDATA #FIXED 'x' c CDATA \"it's > &amp; &#65; %x;\">"),
        ("4.1", "<!ENTITY e 'x'><!ATTLIST a b CDATA '&e;'>"),
        ("71", "<!ENTITY e 'x'><!ENTITY e \"it's\" ><!ENTITY\ne:f\t''>"),
        ("72", "<!ENTITY % e 'x'><!ENTITY\t%\ne \"<!ELEMENT\" >"),
        ("9", "<!ENTITY e '&#60;&#x25;&later;<b/>'><!ENTITY % e '&#37;x;&y;'>"),
        ("82", "<!NOTATION n SYSTEM \"it's\" ><!NOTATION n PUBLIC 'p' 's'><!NOTATION\nn\tPUBLIC\n'p'\n\"s\"\n>"),
        ("83", "<!NOTATION n PUBLIC 'p'><!NOTATION n PUBLIC \"p\" >"),
        ("13", "<!NOTATION n PUBLIC \"azAZ09 \r\n-'()+,./:=?;!*#@$_%\">"),
        ("11", "<!NOTATION n SYSTEM \"<>&%\u{E9}\">"),
    ] {
        if let Err(fault) = within(subset) {
            panic!("production {production}: {subset}: {fault:?}");
        }
    }
}

/// Each with its production.
fn refused(subsets: &[(&str, &str)]) {
    for (production, subset) in subsets {
        assert!(within(subset).is_err(), "production {production}: {subset}");
    }
}

#[test]
fn malformed_declarations_of_elements_are_refused() {
    refused(&[
        ("29", "<!ELEMENTS a ANY>"),
        ("29", "<!element a ANY>"),
        ("29", "<! ELEMENT a ANY>"),
        ("29", "<!-- -- -->"),
        ("29", "<?xml version='1.0'?>"),
        ("28a", "text"),
        ("28b", "<![INCLUDE[<!ELEMENT a ANY>]]>"),
        ("45", "<!ELEMENT>"),
        ("45", "<!ELEMENT a>"),
        ("45", "<!ELEMENT a >"),
        ("45", "<!ELEMENTa ANY>"),
        ("45", "<!ELEMENT 1 ANY>"),
        ("45", "<!ELEMENT a(b)>"),
        ("45", "<!ELEMENT a ANY"),
        ("45", "<!ELEMENT a ANY x>"),
        ("45", "<!ELEMENT a -- SGML -- ANY>"),
        ("46", "<!ELEMENT a any>"),
        ("46", "<!ELEMENT a ANYTHING>"),
        ("46", "<!ELEMENT a CDATA>"),
        ("46", "<!ELEMENT a b>"),
        ("46", "<!ELEMENT a EMPTY?>"),
        ("46", "<!ELEMENT a 'b'>"),
        ("47", "<!ELEMENT a (b) ?>"),
        ("47", "<!ELEMENT a (b)?*>"),
        ("47", "<!ELEMENT a (b),(c)>"),
        ("47", "<!ELEMENT a (b))>"),
        ("47", "<!ELEMENT a ((b)>"),
        ("48", "<!ELEMENT a (b ?)>"),
        ("48", "<!ELEMENT a (b??)>"),
        ("48", "<!ELEMENT a (1)>"),
        ("48", "<!ELEMENT a (?b)>"),
        ("49", "<!ELEMENT a (b|)>"),
        ("49", "<!ELEMENT a (|b)>"),
        ("49", "<!ELEMENT a (b|c,d)>"),
        ("50", "<!ELEMENT a ()>"),
        ("50", "<!ELEMENT a (b,c|d)>"),
        ("50", "<!ELEMENT a (b c)>"),
        ("50", "<!ELEMENT a (b,,c)>"),
        ("50", "<!ELEMENT a (b&c)>"),
        ("51", "<!ELEMENT a (#PCDATA|b)>"),
        ("51", "<!ELEMENT a (#PCDATA)?>"),
        ("51", "<!ELEMENT a (#PCDATA)+>"),
        ("51", "<!ELEMENT a (#PCDATA,b)*>"),
        ("51", "<!ELEMENT a (#PCDATA|b?)*>"),
        ("51", "<!ELEMENT a (#PCDATA|(b))*>"),
        ("51", "<!ELEMENT a (#PCDATA b)*>"),
        ("51", "<!ELEMENT a (#PCDATA|b) *>"),
        ("51", "<!ELEMENT a (b|#PCDATA)*>"),
        ("51", "<!ELEMENT a ((#PCDATA))>"),
        ("51", "<!ELEMENT a (# PCDATA)>"),
        ("51", "<!ELEMENT a #PCDATA>"),
    ]);
}

#[test]
fn malformed_declarations_of_attributes_are_refused() {
    refused(&[
        ("52", "<!ATTLIST>"),
        ("52", "<!ATTLIST >"),
        ("52", "<!ATTLIST a b>"),
        ("52", "<!ATTLIST a b CDATA #IMPLIED"),
        ("53", "<!ATTLIST a b CDATA>"),
        ("53", "<!ATTLIST a b #IMPLIED>"),
        ("53", "<!ATTLIST a 1 CDATA #IMPLIED>"),
        ("53", "<!ATTLIST a b CDATA'x'>"),
        ("53", "<!ATTLIST a b (x)'x'>"),
        ("53", "<!ATTLIST a b(x) 'x'>"),
        ("53", "<!ATTLIST a b CDATA 'x'c CDATA 'x'>"),
        ("53", "<!ATTLIST a b CDATA #IMPLIED 'x'>"),
        ("54", "<!ATTLIST a b cdata 'x'>"),
        ("54", "<!ATTLIST a b NUMBER 'x'>"),
        ("55", "<!ATTLIST a b CDATAS 'x'>"),
        ("56", "<!ATTLIST a b IDS 'x'>"),
        ("56", "<!ATTLIST a b NMTOKENSS 'x'>"),
        ("58", "<!ATTLIST a b NOTATION 'x'>"),
        ("58", "<!ATTLIST a b NOTATION(n) 'n'>"),
        ("58", "<!ATTLIST a b NOTATION () 'n'>"),
        ("58", "<!ATTLIST a b NOTATION (1) '1'>"),
        ("59", "<!ATTLIST a b () 'x'>"),
        ("59", "<!ATTLIST a b (x,y) 'x'>"),
        ("59", "<!ATTLIST a b (x|) 'x'>"),
        ("59", "<!ATTLIST a b (x y) 'x'>"),
        ("59", "<!ATTLIST a b (x)* 'x'>"),
        ("59", "<!ATTLIST a b ('x') 'x'>"),
        ("60", "<!ATTLIST a b CDATA x>"),
        ("60", "<!ATTLIST a b CDATA #FIXED>"),
        ("60", "<!ATTLIST a b CDATA #FIXED'x'>"),
        ("60", "<!ATTLIST a b CDATA # IMPLIED>"),
        ("60", "<!ATTLIST a b CDATA #required>"),
        ("60", "<!ATTLIST a b CDATA #CURRENT>"),
        ("60", "<!ATTLIST a b CDATA 'x>"),
        ("10", "<!ATTLIST a b CDATA '<'>"),
        ("10", "<!ATTLIST a b CDATA '&'>"),
        ("10", "<!ATTLIST a b CDATA 'x & y;'>"),
        ("66", "<!ATTLIST a b CDATA '&#0;'>"),
        // In a default the declaration comes first.
        ("4.1", "<!ATTLIST a b CDATA '&e;'><!ENTITY e 'x'>"),
        ("4.1", "<!ENTITY % e 'x'><!ATTLIST a b CDATA '&e;'>"),
        ("3.1", "<!ENTITY e '&#60;'><!ATTLIST a b CDATA '&e;'>"),
    ]);
}

#[test]
fn malformed_declarations_of_entities_and_notations_are_refused() {
    refused(&[
        ("71", "<!ENTITY>"),
        ("71", "<!ENTITY e>"),
        ("71", "<!ENTITYe 'x'>"),
        ("71", "<!ENTITY e'x'>"),
        ("71", "<!ENTITY e x>"),
        ("71", "<!ENTITY 1 'x'>"),
        ("71", "<!ENTITY e 'x' 'y'>"),
        ("71", "<!ENTITY e 'x' NDATA n>"),
        ("72", "<!ENTITY% e 'x'>"),
        ("72", "<!ENTITY %e 'x'>"),
        ("72", "<!ENTITY % e 'x' NDATA n>"),
        ("9", "<!ENTITY e '&'>"),
        ("9", "<!ENTITY e 'a & b;'>"),
        ("9", "<!ENTITY e '&;'>"),
        ("9", "<!ENTITY e '&1;'>"),
        ("9", "<!ENTITY e '%'>"),
        ("9", "<!ENTITY e '100 %'>"),
        ("9", "<!ENTITY % e '&'>"),
        ("9", "<!ENTITY % e '% x'>"),
        ("66", "<!ENTITY e '&#1;'>"),
        ("66", "<!ENTITY % e '&#xFFFF;'>"),
        ("2.8", "<!ENTITY % p 'x'><!ENTITY e '%p;'>"),
        ("2.8", "<!ENTITY % p 'ANY'><!ELEMENT a %p;>"),
        ("82", "<!NOTATION>"),
        ("82", "<!NOTATION n>"),
        ("82", "<!NOTATION n >"),
        ("82", "<!NOTATIONn SYSTEM 's'>"),
        ("82", "<!NOTATION 1 SYSTEM 's'>"),
        ("82", "<!NOTATION n 's'>"),
        ("82", "<!NOTATION n SYSTEM>"),
        ("82", "<!NOTATION n SYSTEM's'>"),
        ("82", "<!NOTATION n SYSTEM 's' 't'>"),
        ("82", "<!NOTATION n system 's'>"),
        ("82", "<!NOTATION n PUBLIC 'p''s'>"),
        ("82", "<!NOTATION n PUBLIC 'p' 's' 't'>"),
        ("83", "<!NOTATION n PUBLIC>"),
        ("83", "<!NOTATION n PUBLIC'p'>"),
        ("13", "<!NOTATION n PUBLIC 'a\tb'>"),
        ("13", "<!NOTATION n PUBLIC '<p>' 's'>"),
        ("13", "<!NOTATION n PUBLIC '\u{E9}'>"),
        ("13", "<!NOTATION n PUBLIC 'a&b'>"),
    ]);
}

/// Source: productions 28, 75, 11 to 13.
#[test]
fn the_outline_is_checked() {
    for good in [
        "<!DOCTYPE a>",
        "<!DOCTYPE a >",
        "<!DOCTYPE a[]>",
        "<!DOCTYPE a SYSTEM ''[] >",
        "<!DOCTYPE a PUBLIC \"it's\" '\"' [ ] >",
        "<!DOCTYPE a [<!-->--><!-- ]> --><?x ]> ?>]>",
    ] {
        assert!(read(good).is_ok(), "{good}");
    }
    for bad in [
        "<!doctype a>",
        "<!DOCTYPE 1>",
        "<!DOCTYPE a b>",
        "<!DOCTYPE a 's'>",
        "<!DOCTYPE aSYSTEM 's' []>",
        "<!DOCTYPE a PUBLIC 'p'>",
        "<!DOCTYPE a PUBLIC 'p''s'>",
        "<!DOCTYPE a PUBLIC '{p}' 's'>",
        "<!DOCTYPE a SYSTEM 's' 't'>",
        "<!DOCTYPE a SYSTEM 's' NDATA n>",
        "<!DOCTYPE a [] []>",
        "<!DOCTYPE a [",
        "<!DOCTYPE a []> ",
    ] {
        assert!(read(bad).is_err(), "{bad}");
    }
}

/// What is well-formed and refused all the same says so; what is not well-formed is told as that.
#[test]
fn what_lies_outside_is_refused_when_it_is_well_formed() {
    let said = |subset| within(subset).expect_err("refused").what;
    for outer in [
        "<!ENTITY e SYSTEM 's'>",
        "<!ENTITY e PUBLIC 'p' 's' >",
        "<!ENTITY e SYSTEM 's' NDATA n>",
        "<!ENTITY % e SYSTEM 's'>",
        "<!ENTITY % e PUBLIC 'p' 's'>",
    ] {
        assert_eq!(said(outer), "the entity \"e\" is declared to lie outside the file", "{outer}");
    }
    for (production, malformed) in [
        ("73", "<!ENTITY e SYSTEM 's'NDATA n>"),
        ("73", "<!ENTITY e SYSTEM 's' NDATAn>"),
        ("74", "<!ENTITY % e SYSTEM 's' NDATA n>"),
        ("75", "<!ENTITY e PUBLIC 'p'>"),
        ("75", "<!ENTITY e SYSTEM s>"),
        ("76", "<!ENTITY e SYSTEM 's' NDATA>"),
        ("76", "<!ENTITY e SYSTEM 's' NDATA 'n'>"),
    ] {
        let what = said(malformed);
        assert!(what.starts_with("the document type declaration is malformed: "), "production {production}: {malformed}: {what}");
    }
    assert_eq!(said("<!ENTITY % e ''>%e;"), "the document type declaration uses a parameter entity");
}

#[test]
fn a_fault_names_its_place_and_what_is_due_there() {
    let told = [
        ("<!ELEMENT a (b,c|d)>", "|d", "the document type declaration is malformed: \",\" is due here"),
        ("<!ELEMENT a (b|c)", "]>", "the document type declaration is malformed: \">\" is due here"),
        ("<!ELEMENT a (#PCDATA|b)>", ">", "the document type declaration is malformed: \"*\" is due here"),
        ("<!ELEMENT a %b;>", "%", "the document type declaration uses a parameter entity"),
        ("<!ATTLIST a b DATA 'x'>", "DATA", "the document type declaration is malformed: the type of an attribute is due here"),
        ("<!ATTLIST a b CDATA 'x<y'>", "<y", "\"<\" stands in the value of an attribute"),
        ("<!ATTLIST a b CDATA 'x&y;'>", "&y", "the entity \"&y;\" is not defined"),
        ("<!ENTITY e 'a&b'>", "&b", "\"&\" begins a reference that no \";\" ends"),
        ("<!ENTITY e '&a;100%'>", "%'", "\"%\" refers to a parameter entity within a declaration"),
        ("<!ENTITY e '&a;& ;'>", "& ;", "\"&\" begins no reference"),
        ("<!ENTITY e '&a;&#x0;'>", "&#x", "\"&#x0;\" is no character that XML allows"),
        ("<!NOTATION n PUBLIC 'a\u{E9}'>", "\u{E9}", "\"\\u{e9}\" stands in a public identifier"),
    ];
    for (subset, place, what) in told {
        let fault = within(subset).expect_err(subset);
        let text = format!("<!DOCTYPE a [{subset}]>");
        assert_eq!(fault.what, what, "{subset}");
        assert!(text[fault.offset..].starts_with(place), "{subset}: {}", &text[fault.offset..]);
    }
}

/// Source: XML 1.0, 4.1: that an entity must be declared is asked where no part of the declaration lies outside the file.
#[test]
fn a_default_is_never_applied_and_adds_nothing() {
    assert!(read("<!DOCTYPE a SYSTEM 'x' [<!ATTLIST a b CDATA '&q;'>]>").is_ok());
    assert!(read("<!DOCTYPE a SYSTEM 'x' [<!ATTLIST a b CDATA '&q'>]>").is_err());
    let defaults: Vec<String> = (0..1025).map(|number| format!("<!ATTLIST a b{number} CDATA '&e;'>")).collect();
    let mut entities = within(&format!("<!ENTITY e '{}'>{}", "x".repeat(1024), defaults.concat())).expect("sound");
    for _ in 0..1024 {
        assert!(entities.check("e", 0).is_ok(), "all of the budget is left");
    }
    assert!(entities.check("e", 0).is_err());
}

#[test]
fn brackets_within_each_other_are_bounded() {
    let deep = |levels: usize| format!("<!ELEMENT a {}b{}>", "(".repeat(levels), ")".repeat(levels));
    assert!(within(&deep(NESTING_LIMIT)).is_ok());
    let fault = within(&deep(NESTING_LIMIT + 1)).expect_err("too deep");
    assert_eq!(fault.what, "more than 64 brackets lie within each other in the declaration of an element");
    assert_eq!(fault.offset, "<!DOCTYPE a [<!ELEMENT a ".len() + NESTING_LIMIT);
    assert!(within(&"(".repeat(1 << 20)).is_err());
    assert!(within(&format!("<!ELEMENT a {}", "(".repeat(1 << 20))).is_err());
}

/// A text that an entity stands for is one of production 43: `]]>` may stand in none (production 14).
#[test]
fn an_entity_brings_no_end_of_a_section_into_a_text() {
    for value in ["]]>", "]]&#62;", "<b/>", "&#60;", "&other;", "&#38;amp;"] {
        let mut entities = within(&format!("<!ENTITY e '{value}'>")).expect("declared");
        assert!(entities.check("e", 0).is_err(), "{value}");
    }
    for value in ["]]", "&#93;", "x > y", ""] {
        let mut entities = within(&format!("<!ENTITY e '{value}'>")).expect("declared");
        assert!(entities.check("e", 0).is_ok(), "{value}");
    }
}
