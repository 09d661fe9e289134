//! A condition: CEL text, checked against the table of fields, ready to be evaluated.
//!
//! `cel` (the Common Expression Language) parses. What comes out is checked ([`super::check`]), node by node, and
//! everything outside a closed subset is refused: numbers, texts, truth, `+ - * /`, comparisons,
//! `&& || ! ?:`, `in` with a list of constants or a field, `has`, `size`, and `exists` / `all` one deep.
//! Every number is a double, so `3` and `3.0` are the same. A condition has at most [`MOST_BYTES`] bytes,
//! [`MOST_NESTED`] brackets or choices within one another and a tree at most
//! [`MOST_DEPTH`] deep: neither parsing nor evaluating can run out of stack or time.

use super::check::{Checked, check};
use super::error::Fault;
use super::field::{Kind, Unit};
use super::quick::quickly;
use super::scope::{Ref, Scope};
use super::value::Value;
use std::ops::Range;

/// The most bytes a condition may have.
pub const MOST_BYTES: usize = 2_000;
/// The most brackets, lists and `?:` within one another. The parser takes some 150 KiB of stack for each
/// (measured, debug build), and must get by on the 2 MiB of a worker thread.
pub const MOST_NESTED: u16 = 8;
/// The deepest its tree may be.
pub const MOST_DEPTH: usize = 64;

/// `+ - * /`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Arithmetic {
    Plus,
    Minus,
    Times,
    Over,
}

/// `< <= > >= == !=`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Comparison {
    Less,
    AtMost,
    More,
    AtLeast,
    Same,
    Not,
}

/// A checked tree.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Node {
    Constant(Value),
    Name(Ref),
    Item,
    Has(Ref),
    Not(Box<Node>),
    Negate(Box<Node>),
    And(Box<Node>, Box<Node>),
    Or(Box<Node>, Box<Node>),
    If(Box<Node>, Box<Node>, Box<Node>),
    Arithmetic(Arithmetic, Box<Node>, Box<Node>),
    Compare(Comparison, Box<Node>, Box<Node>),
    In(Box<Node>, Box<Node>),
    Size(Box<Node>),
    Exists(Box<Node>, Box<Node>),
    All(Box<Node>, Box<Node>),
}

/// A condition or a formula, checked.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Condition {
    /// Its tree.
    pub node: Node,
    /// Every name it reads, each once, in order.
    pub reads: Vec<Ref>,
    /// What its value is measured in, where it is a bare name.
    pub unit: Unit,
}

impl Condition {
    /// Checks a text that must give a value of `kind`. Spans in a fault are bytes of `text`.
    pub fn new(text: &str, kind: Kind, scope: &Scope) -> Result<Self, Fault> {
        if text.len() > MOST_BYTES {
            return Err(
                Fault::new(format!("a condition of {} bytes; {MOST_BYTES} is the most", text.len())).help("split it into two cases")
            );
        }
        let (node, found, reads) = quickly(text, scope).map_or_else(|| thoroughly(text, scope), Ok)?;
        if found != kind {
            return Err(Fault::new(format!("this gives {}, not {}", found.words(), kind.words())));
        }
        let unit = if let Node::Name(name) = node { scope.unit(name) } else { Unit::None };
        Ok(Self { node, reads, unit })
    }
}

/// Reads a text, and says what is wrong and where.
fn thoroughly(text: &str, scope: &Scope) -> Result<Checked, Fault> {
    // Recovering from one error makes a good message; recovering from many may nest what is not nested.
    let parser = cel::parser::Parser::new().max_recursion_depth(MOST_NESTED).error_recovery_limit(1);
    let (tree, info) = parser.parse_with_source_info(text).map_err(|errors| syntax_fault(text, &errors))?;
    check(text, &tree, &info, scope)
}

/// The first of the parser's complaints, its position brought from lines and characters to bytes.
fn syntax_fault(text: &str, errors: &cel::ParseErrors) -> Fault {
    if errors.errors.iter().any(|error| error.msg.contains("Recursion limit")) {
        let fault = Fault::new(format!("this condition is nested too deeply: {MOST_NESTED} brackets are the most"));
        return fault.help("split it into two cases");
    }
    let Some(first) = errors.errors.first() else { return Fault::new("this is no condition") };
    let (Ok(line @ 1..), Ok(column)) = (usize::try_from(first.pos.0), usize::try_from(first.pos.1)) else {
        return Fault::new("this is no condition");
    };
    let before: usize = text.split_inclusive('\n').take(line - 1).map(str::len).sum();
    let rest = text.get(before..).unwrap_or_default();
    let offset = before + rest.chars().take(column.saturating_sub(1)).map(char::len_utf8).sum::<usize>();
    let what = first.msg.lines().next().unwrap_or("Syntax error").trim_start_matches("Syntax error: ");
    Fault::new(format!("this is no condition: {what}")).at(word_at(text, offset))
}

/// The name around a byte, or the one character there; a dot takes in the names on both sides.
pub(super) fn word_at(text: &str, offset: usize) -> Range<usize> {
    let is_name = |c: char| c.is_alphanumeric() || c == '_' || c == '.';
    let offset = (0..=offset.min(text.len())).rev().find(|at| text.is_char_boundary(*at)).unwrap_or(0);
    let (before, after) = text.split_at(offset);
    let start =
        before.rfind(|c| !is_name(c)).map_or(0, |at| at + before.get(at..).and_then(|s| s.chars().next()).map_or(1, char::len_utf8));
    let end = offset + after.find(|c| !is_name(c)).unwrap_or(after.len());
    if end > offset { start..end } else { offset..offset + after.chars().next().map_or(0, char::len_utf8) }
}

#[cfg(test)]
mod tests {
    use super::super::testing::vocabulary;
    use super::*;
    use proptest::prelude::*;

    /// What a rule about gaps may name.
    fn in_scope<T>(what: impl FnOnce(&Scope) -> T) -> T {
        let vocabulary = vocabulary();
        let own = vocabulary.subject("gap").expect("there");
        let scope = Scope {
            own,
            file: vocabulary.subject("file"),
            role: vocabulary.subject("role"),
            limits: vec![("heights", Unit::StaffHeights)],
        };
        what(&scope)
    }

    fn checked(text: &str) -> Result<Condition, Fault> {
        in_scope(|scope| Condition::new(text, Kind::Truth, scope))
    }

    /// What is refused, and the piece of the text that the fault points at.
    #[test]
    fn only_the_closed_subset_passes() {
        for (text, piece) in [
            ("gap.white_mm % 2 == 1", "%"),
            ("gap.above + 'x' == 'y'", "gap.above"),
            ("gap.above < 'y'", "gap.above"),
            ("gap.marks == gap.marks", "gap.marks"),
            ("gap.white_mm == 'x'", "'"),
            ("gap.white_mm && true", "gap.white_mm"),
            ("gap.white_mm > null", "null"),
            ("gap.white_mm > 3u", "3u"),
            ("gap.white_mm > 3000000000", "3000000000"),
            ("gap.marks[0] == 'p'", "["),
            ("gap.above.startsWith('s')", "("),
            ("gap.marks.exists_one(m, m == 'p')", "("),
            ("size(gap.marks.filter(m, m == 'p')) > 0", "("),
            ("gap.marks.exists(m, gap.marks.exists(n, n == m))", "("),
            ("gap.marks.exists(gap, gap == 'p')", "("),
            ("gap.marks.exists(m, m in gap.marks)", "gap.marks"),
            ("gap.depths_mm.all(d, gap.white_mm > d || !(d in gap.depths_mm))", "gap.depths_mm"),
            ("gap.white_mm in [gap.needed_mm]", "gap.needed_mm"),
            ("gap.white_mm in ['p']", "'"),
            ("size(gap.above) > 1", "gap.above"),
            ("[1, 2] == [1, 2]", "["),
            ("{'a': 1} == {}", "{"),
            ("gap > 1", "gap"),
            ("gap.white.mm > 1", "gap.white.mm"),
            ("system.white_mm > 1", "system.white_mm"),
            ("'ö' == gap.above || gap.whit_mm > 1", "gap.whit_mm"),
            ("file.staff_height_mm >\n\n  limit.height", "limit.height"),
            ("'ö' == gap.above &| true", "&"),
            ("m == 'p'", "m"),
            ("gap.marks.exists(m, n == 'p')", "n"),
        ] {
            let fault = checked(text).expect_err(text);
            let span = fault.span.clone().unwrap_or(0..0);
            assert_eq!(text.get(span), Some(piece), "{text}: {}", fault.what);
        }
        let fault = checked("gap.white_heigths > limit.heights").expect_err("no such field");
        assert_eq!(fault.help.as_deref(), Some("did you mean `white_heights`?"));
        assert!(checked("gap.white_mm").is_err_and(|fault| fault.what == "this gives a number, not true or false"));
    }

    #[test]
    fn the_closed_subset_is_whole() {
        for text in [
            "gap.white_mm * 2 - 1 / 3 + -gap.needed_mm >= limit.heights || !(gap.above != 'winds') && true",
            "(gap.family_border ? gap.white_mm : role.least_mm) == 3.5e0",
            "gap.above in ['a', 'b'] && 3 in gap.depths_mm && gap.white_mm in [1, 2.5, -3]",
            "has(gap.white_mm) && size(gap.marks) > 1 && gap.marks.size() < 9",
            "gap.marks.exists(m, m == 'p') && gap.depths_mm.all(d, d < file.staff_height_mm)",
        ] {
            assert!(checked(text).is_ok(), "{text}: {:?}", checked(text));
        }
    }

    /// On the stack of a test thread (2 MiB), in a debug build.
    #[test]
    fn a_hostile_condition_is_refused_and_nothing_overflows() {
        let long = format!("true || {}true", " ".repeat(MOST_BYTES - 11));
        assert_eq!(long.len(), MOST_BYTES + 1);
        assert!(checked(&long).is_err_and(|fault| fault.what.contains("2001 bytes")));
        let fits = format!("true || {}true", " ".repeat(MOST_BYTES - 12));
        assert!(checked(&fits).is_ok());
        for text in [
            format!("{}1{} > 0", "(".repeat(900), ")".repeat(900)),
            format!("{} > 0", vec!["1"; 950].join("+")),
            format!("{} > 0", vec!["1"; 950].join("-")),
            format!("{} > 0", "[".repeat(1900)),
            format!("{}true", "true?".repeat(300)),
            format!("{}true", "true?true:".repeat(190)),
            "()".repeat(900),
            "(]".repeat(900),
            "gap.marks[(1)(".repeat(120),
            "size(,".repeat(300),
            format!("'(' == '{}", "(".repeat(900)),
            format!("r'\\' == '' || {} || '", "(".repeat(900)),
            format!("// '\n{}", "(".repeat(900)),
            format!("'\n{}'", "(".repeat(900)),
            format!("''' ' ''' == {} '", "(".repeat(900)),
            format!("gap{}", ".a".repeat(900)),
            format!("{}gap.white_mm > 1", "-(".repeat(600)),
            format!("{}1{}", "{1:".repeat(400), "}".repeat(400)),
            format!("gap{}", "[0]".repeat(600)),
            format!("{}1", "size(".repeat(390)),
            vec!["true"; 330].join("<"),
            "!".repeat(1990),
        ] {
            assert!(checked(&text).is_err(), "{text}");
        }
        for text in ["gap.white_mm < 0XC8", "'a\nb' == 'a\nb'", "gap.white_mm < 2\u{b}", "-!!-gap.white_mm < 2", "!--(gap.white_mm < 2)"] {
            assert!(checked(text).is_err(), "{text}");
        }
        // Signs before a value undo each other, so these may pass.
        for text in [
            format!("{}gap.white_mm > 1", "- ".repeat(900)),
            format!("{}gap.white_mm > 1", "-".repeat(1900)),
            format!("{}gap.family_border", "! ".repeat(900)),
            format!("{}true", "true == ".repeat(240)),
            format!("{}1 > 0", "1 - - ".repeat(320)),
        ] {
            read_alike(&text).unwrap_or_else(|fault| panic!("{text}: {fault}"));
            let _ = checked(&text);
        }
        let deep = checked(&format!("{}1{} > 0", "(".repeat(9), ")".repeat(9))).expect_err("nine deep");
        assert!(deep.what.contains("nested too deeply"), "{}", deep.what);
        assert!(checked(&format!("{}1{} > 0", "(".repeat(7), ")".repeat(7))).is_ok());
        assert!(checked(&vec!["true"; 249].join("||")).is_ok(), "the parser balances what is joined");
    }

    /// What the quick parser takes, the thorough one takes too, and both mean the same.
    fn read_alike(text: &str) -> Result<(), TestCaseError> {
        let (quick, thorough) = in_scope(|scope| (quickly(text, scope), thoroughly(text, scope)));
        if let Some(quick) = quick {
            prop_assert_eq!(thorough.map_err(|fault| fault.what), Ok(quick), "{}", text);
        }
        Ok(())
    }

    /// Pieces of sound conditions, so that the whole is often sound.
    fn pieces() -> impl Strategy<Value = String> {
        let number = prop_oneof![
            Just("gap.white_mm"),
            Just("1"),
            Just("2.5e0"),
            Just("-3"),
            Just("gap.needed_mm"),
            Just("0x1F"),
            Just(".5"),
            Just("limit.heights"),
            Just("(file.staff_height_mm)"),
            Just("size(gap.marks)"),
            Just("gap.marks.size()")
        ];
        let truth = prop_oneof![
            Just("true"),
            Just("gap.family_border"),
            Just("has(gap.white_mm)"),
            Just("gap.above == 'a\\'b'"),
            Just("gap.above in ['a', \"b\"]"),
            Just("gap.marks.exists(m, m == 'p')"),
            Just("gap.depths_mm.all(d, d < 3)"),
            Just("r'\\a' != gap.above")
        ];
        let number = number.prop_map(str::to_owned).prop_recursive(3, 12, 2, |inner| {
            (inner.clone(), prop_oneof![Just("+"), Just(" - "), Just("*"), Just(" / "), Just(" ? 1 : "), Just(" -")], inner)
                .prop_map(|(left, sign, right)| format!("{left}{sign}{right}"))
        });
        let compared = (number.clone(), prop_oneof![Just("<"), Just(" >= "), Just("=="), Just(" != "), Just(" in ")], number)
            .prop_map(|(left, sign, right)| format!("{left}{sign}{right}"));
        prop_oneof![truth.prop_map(str::to_owned), compared].prop_recursive(4, 24, 3, |inner| {
            prop_oneof![
                (inner.clone(), prop_oneof![Just("&&"), Just(" || "), Just(" == "), Just(" // \n&& ")], inner.clone())
                    .prop_map(|(left, sign, right)| format!("{left}{sign}{right}")),
                (inner.clone(), inner.clone(), inner.clone()).prop_map(|(test, yes, no)| format!("{test} ? {yes} : {no}")),
                inner.clone().prop_map(|one| format!("!{one}")),
                inner.prop_map(|one| format!("( {one} )")),
            ]
        })
    }

    #[test]
    fn conditions_of_the_program_are_read_quickly() {
        let texts = [
            "gap.white_mm",
            "limit.heights",
            "gap.white_mm * 2 - 1 / 3 > limit.heights",
            "has(gap.white_mm) && size(gap.marks) > 1 || gap.marks.exists(m, m == 'p')",
        ];
        let vocabulary = vocabulary();
        let own = vocabulary.subject("gap").expect("there");
        let scope = Scope { own, file: None, role: None, limits: vec![("heights", Unit::StaffHeights)] };
        for text in texts {
            assert_eq!(quickly(text, &scope), thoroughly(text, &scope).ok(), "{text}");
            assert!(quickly(text, &scope).is_some(), "{text}");
        }
    }

    #[test]
    fn words_of_the_language_are_no_names_either_way() {
        let vocabulary = vocabulary();
        let own = vocabulary.subject("gap").expect("there");
        let limits = ["as", "in", "null", "true", "var", "while", "a_1"].map(|name| (name, Unit::None)).to_vec();
        let scope = Scope { own, file: None, role: None, limits };
        for (name, _) in &scope.limits {
            let text = format!("limit.{name}");
            assert_eq!(Condition::new(&text, Kind::Number, &scope).is_ok(), thoroughly(&text, &scope).is_ok(), "{text}");
        }
    }

    proptest! {
        #[test]
        fn two_parsers_read_alike(text in pieces()) {
            read_alike(&text)?;
        }

        #[test]
        fn two_parsers_read_alike_whatever_it_is(
            text in r"([a-z.]{1,4}|gap\.white_mm|gap\.above|[0-9]{1,3}|[<>=!&|?:+*/%(){}\[\],'\x22 -]|\PC){0,40}",
        ) {
            read_alike(&text)?;
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]

        #[test]
        fn brackets_of_all_sorts_do_not_overflow(text in r"([(]|[)]|[)][(]|\\[|\\]|1|,|-|size[(]|[.]all[(]m,|[{]1:|[}]|[?]|:|gap){0,300}") {
            let _ = checked(&text);
        }

        #[test]
        fn no_text_makes_the_check_panic(text in r"([a-z.]{1,4}|gap\.white_mm|[0-9]{1,3}|[<>=!&|?:+*/%(){}\[\],'\x22 -]|\PC){0,40}") {
            let _ = checked(&text);
        }
    }
}
