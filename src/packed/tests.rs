//! What is read from the packed form is what `toml` reads from the text.

use super::*;
use super::{groups, write};
use proptest::prelude::*;
use serde::Deserializer;
use serde::de::{DeserializeOwned, IgnoredAny, MapAccess, SeqAccess, Visitor};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Debug;
use std::path::Path;
use toml::Spanned;
use toml::de::DeTable;

/// Anything, with the place of every key and value.
#[derive(Debug, PartialEq)]
enum Tree {
    Text(String),
    Integer(i64),
    Float(f64),
    Truth(bool),
    List(Vec<Spanned<Tree>>),
    Table(BTreeMap<Spanned<String>, Spanned<Tree>>),
}

impl<'de> Deserialize<'de> for Tree {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct AnyTree;

        impl<'de> Visitor<'de> for AnyTree {
            type Value = Tree;

            fn expecting(&self, to: &mut fmt::Formatter) -> fmt::Result {
                to.write_str("anything")
            }

            fn visit_str<E>(self, text: &str) -> Result<Tree, E> {
                Ok(Tree::Text(text.to_owned()))
            }

            fn visit_i64<E>(self, integer: i64) -> Result<Tree, E> {
                Ok(Tree::Integer(integer))
            }

            fn visit_f64<E>(self, float: f64) -> Result<Tree, E> {
                Ok(Tree::Float(float))
            }

            fn visit_bool<E>(self, truth: bool) -> Result<Tree, E> {
                Ok(Tree::Truth(truth))
            }

            fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<Tree, A::Error> {
                let mut all = Vec::new();
                while let Some(one) = list.next_element()? {
                    all.push(one);
                }
                Ok(Tree::List(all))
            }

            fn visit_map<A: MapAccess<'de>>(self, mut table: A) -> Result<Tree, A::Error> {
                let mut all = BTreeMap::new();
                while let Some((key, value)) = table.next_entry()? {
                    all.insert(key, value);
                }
                Ok(Tree::Table(all))
            }
        }

        deserializer.deserialize_any(AnyTree)
    }
}

fn packed(text: &str) -> Vec<u8> {
    write::pack(text, &DeTable::parse(text).unwrap_or_else(|error| panic!("{text}: {error}"))).expect("nothing in it cannot be packed")
}

fn of<'a>(text: &'a str, index: &'a [u8]) -> Packed<'a> {
    Packed { name: "x.toml", text, index }
}

/// What is read of a text both ways, if it is the same.
fn same<T: DeserializeOwned + Debug>(text: &str) -> String {
    let index = packed(text);
    let ours = of(text, &index).read::<T>().map(|value| format!("{value:?}")).map_err(drop);
    assert_eq!(ours, toml::from_str::<T>(text).map(|value| format!("{value:?}")).map_err(drop), "{text}");
    ours.unwrap_or_default()
}

#[test]
fn every_file_of_the_folder_is_packed() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("rules");
    let files = std::fs::read_dir(folder).expect("readable").map(|file| file.expect("readable").path());
    let files = files.filter(|path| path.extension().is_some_and(|end| end == "toml"));
    let name = |path: &Path| format!("rules/{}", path.file_name().expect("a file").to_string_lossy());
    let files: BTreeSet<String> = files.map(|path| name(&path)).collect();
    let rules: Vec<&str> = RULES.iter().map(|file| file.name).collect();
    assert!(rules.is_sorted(), "{rules:?}");
    let packed: BTreeSet<String> = rules.into_iter().chain([INSTRUMENTS.name, PAPERS.name, ROLES.name]).map(str::to_owned).collect();
    assert_eq!(packed, files);
}

#[test]
fn every_file_reads_as_its_text() {
    for file in RULES.iter().chain(&[INSTRUMENTS, PAPERS]) {
        assert_eq!(file.index, packed(file.text), "{}", file.name);
        same::<Spanned<Tree>>(file.text);
        same::<toml::Value>(file.text);
    }
}

/// Of the roles, as of a text whose groups were laid under its entries.
#[test]
fn the_roles_are_packed_with_what_they_share() {
    let mut root = DeTable::parse(ROLES.text).expect("TOML");
    groups::share(root.get_mut(), "role").expect("the groups are there");
    let tree = Spanned::<Tree>::deserialize(toml::Deserializer::from(root)).expect("anything fits");
    assert_eq!(ROLES.read::<Spanned<Tree>>().map(|tree| format!("{tree:?}")), Ok(format!("{tree:?}")));
    assert!(!format!("{tree:?}").contains("\"like\""));
}

#[test]
fn a_key_can_be_passed_over() {
    let text = "a = 1\n[[b]]\nc = [1, 2]\n[[b]]\n[d]\nb = 2\n";
    let index = packed(text);
    let tree: toml::Value = of(text, &index).read_without("b").expect("it fits");
    assert_eq!(tree, toml::from_str("a = 1\nd.b = 2").expect("TOML"));
}

/// As rules and house data have them, and the rest of what an enum may be.
#[test]
fn kinds_of_types() {
    #[derive(Debug, PartialEq, Deserialize)]
    #[serde(rename_all = "lowercase")]
    enum Any {
        Unit,
        New(Spanned<f64>),
        Two(u8, String),
        Fields { a: bool, b: Option<i8> },
    }

    #[derive(Debug, PartialEq, Eq, PartialOrd, Ord, Deserialize)]
    struct New(String);

    #[derive(Debug, PartialEq, Deserialize)]
    struct Strict {
        known: Spanned<Any>,
        #[serde(default)]
        by: BTreeMap<Spanned<New>, Option<Box<Strict>>>,
    }

    for known in [
        "'unit'",
        "{ unit = [] }",
        "{ unit = {} }",
        "{ new = 2 }",
        "{ new = nan }",
        "{ two = [3, 'x'] }",
        "{ fields = { a = true } }",
        "{ fields = { b = -1, a = false } }",
    ] {
        assert!(!same::<Strict>(&format!("known = {known}\nother = [[{{}}]]")).is_empty(), "{known}");
    }
    same::<Strict>("known = 'unit'\n[by]\n\"\\u0061\" = { known = { new = 1 } }\nb.known = 'unit'\n");
    for known in [
        "'other'",
        "1",
        "[]",
        "{}",
        "{ unit = 1 }",
        "{ unit = [1] }",
        "{ new = 1, unit = [] }",
        "{ two = [1] }",
        "{ two = 1 }",
        "{ two = [300, ''] }",
        "{ fields = [] }",
        "{ fields = { a = true, c = 1 } }",
        "{ fields = { b = 1 } }",
    ] {
        assert_eq!(same::<Strict>(&format!("known = {known}")), "", "{known}");
    }
}

#[test]
fn what_cannot_be_packed_says_where() {
    let deep = format!("a = {}{}", "[".repeat(64), "]".repeat(64));
    for (text, says) in [
        ("a = 1\nb = 1979-05-27", "a date, which cannot be packed, at the bytes 10 to 20"),
        ("a = 9223372036854775808", "a number too large at the bytes 4 to 23"),
        ("a = [1e999]", "a number too large at the bytes 5 to 10"),
        (&deep, "too many lists and tables within one another at the bytes 67 to 69"),
    ] {
        let refused = write::pack(text, &DeTable::parse(text).expect("TOML")).expect_err(text);
        assert_eq!(refused.to_string(), says);
    }
}

#[test]
fn no_file_of_a_group_that_is_not_there_is_packed() {
    for (text, says) in [
        ("[[a]]\nlike = ['c']\n[group.b]", "there is no group \"c\" (byte 14); known: b"),
        ("[[a]]\nlike = 'b'\n[group.b]", "`like` is a list of groups (byte 13)"),
    ] {
        let mut root = DeTable::parse(text).expect("TOML");
        assert_eq!(groups::share(root.get_mut(), "a").expect_err(text).to_string(), says);
    }
}

/// A string as TOML may write it.
fn string() -> impl Strategy<Value = String> {
    let escaped = |text: String| {
        let escape = |(index, c): (usize, char)| match c {
            '"' | '\\' => format!("\\{c}"),
            '\n' => "\\n".to_owned(),
            c if c.is_control() || index % 7 == 3 => format!("\\U{:08x}", u32::from(c)),
            c => c.to_string(),
        };
        text.chars().enumerate().map(escape).collect::<String>()
    };
    prop_oneof![
        any::<String>().prop_map(move |text| format!("\"{}\"", escaped(text))),
        "[ -~äß♭]{0,9}".prop_map(|text| format!("'{}'", text.replace('\'', ""))),
        "[ -~äß♭\n]{0,12}".prop_map(|text| format!("\"\"\"{}\"\"\"", text.replace(['"', '\\'], ""))),
        "[a-z\"]{0,2}\\\\\n  [a-z]{0,3}".prop_map(|text| format!("\"\"\"\n{text}\"\"\"")),
        "[ -~äß♭\n]{0,12}".prop_map(|text| format!("'''\n{}'''", text.replace('\'', ""))),
    ]
}

/// A key as TOML may write it; its number makes it one of its own.
fn key(index: usize) -> impl Strategy<Value = String> {
    prop_oneof![
        "[a-z_]{0,3}".prop_map(move |text| format!("{text}-{index}")),
        "[ -~ä]{0,3}".prop_map(move |text| format!("'{} {index}'", text.replace('\'', ""))),
        Just(format!("\"\\u00e4\\\" {index}\"")),
        "[a-z]{1,3}".prop_map(move |text| format!("k{index} . {text} .x")),
    ]
}

fn value() -> impl Strategy<Value = String> {
    let leaf = prop_oneof![
        string(),
        any::<i64>().prop_map(|integer| integer.to_string()),
        any::<u32>().prop_map(|integer| format!("{integer:#x}")),
        Just("1_000".to_owned()),
        any::<f64>().prop_filter("what TOML writes otherwise", |float| float.is_finite()).prop_map(|float| format!("{float:?}")),
        prop_oneof![Just("inf"), Just("-nan"), Just("6.25e+2"), Just("true"), Just("false")].prop_map(str::to_owned),
    ];
    leaf.prop_recursive(3, 24, 4, |inner| {
        let entries = prop::collection::vec(inner.clone(), 0..4).prop_flat_map(|values| entries(values, " = "));
        prop_oneof![
            prop::collection::vec(inner, 0..4).prop_map(|values| format!("[ {}]", values.join(" ,\n # more\n "))),
            entries.prop_map(|entries| format!("{{ {} }}", entries.join(", "))),
        ]
    })
}

fn entries(values: Vec<String>, equals: &'static str) -> impl Strategy<Value = Vec<String>> {
    let one = move |(index, value): (usize, String)| key(index).prop_map(move |key| format!("{key}{equals}{value}"));
    values.into_iter().enumerate().map(one).collect::<Vec<_>>()
}

fn document() -> impl Strategy<Value = String> {
    let lines = || prop::collection::vec(value(), 0..4).prop_flat_map(|values| entries(values, "="));
    let table = (0..4_usize, lines());
    (lines(), prop::collection::vec(table, 0..4)).prop_map(|(lines, tables)| {
        let mut text = format!("# odd\n{}\n", lines.join("\n"));
        for (index, (kind, lines)) in tables.into_iter().enumerate() {
            let head = match kind {
                0 => format!("[table-{index}]"),
                1 => "[[list]]".to_owned(),
                2 => format!("[ a.\"b\" . table-{index} ]"),
                _ => "[[ a.'list' ]]".to_owned(),
            };
            text.extend([&head, "\n", &lines.join(" # so\n"), "\n"]);
        }
        text
    })
}

/// Reads bytes as whatever they may be: it is enough that it ends.
fn read_anyhow(text: &str, index: &[u8]) {
    let file = of(text, index);
    let _ = file.read::<Spanned<Tree>>();
    let _ = file.read::<toml::Value>();
    let _ = file.read_without::<BTreeMap<String, Spanned<Tree>>>("a");
    let _ = file.read::<IgnoredAny>();
}

proptest! {
    #[test]
    fn a_document_reads_as_its_text(text in document()) {
        same::<Spanned<Tree>>(&text);
        same::<toml::Value>(&text);
    }

    #[test]
    fn damage_is_no_panic(text in document(), at in any::<prop::sample::Index>(), byte in any::<u8>(), cut in any::<bool>()) {
        let mut index = packed(&text);
        let at = at.index(index.len());
        if cut {
            index.truncate(at);
        } else {
            index[at] = byte;
        }
        read_anyhow(&text, &index);
    }

    #[test]
    fn any_bytes_are_no_panic(bytes in prop::collection::vec(prop_oneof![0..9_u8, any::<u8>()], 0..80)) {
        read_anyhow("a text, äß", &bytes);
    }
}

#[test]
fn damage_of_a_rule_is_no_panic() {
    let file = RULES[0];
    for at in 0..file.index.len() {
        read_anyhow(file.text, &file.index[..at]);
        for byte in [0, 1, 5, 6, 7, 8, 127, 255] {
            let mut index = file.index.to_vec();
            index[at] = byte;
            read_anyhow(file.text, &index);
        }
    }
}

/// Bytes that promise much, or nest without end.
#[test]
fn promises_are_not_believed() {
    let many = [tags::ARRAY, 0, 0, 3, 0xff, 0xff, 0xff, 0x7f, tags::TRUE, 0, 0];
    let read::Kind::Array(values) = read::document("", &many).expect("the head is sound").kind else { panic!("a list") };
    assert_eq!(values.count(), 1);
    assert!(of("", &many).read::<Vec<bool>>().is_err());
    let nested = |times: usize| {
        (0..times).fold(vec![tags::TRUE, 0, 0], |inner, _| {
            let [low, high, ..] = (inner.len() << 1).to_le_bytes();
            [&[tags::ARRAY, 0, 0, low >> 1 | 0x80, high, 1], inner.as_slice()].concat()
        })
    };
    assert!(of("", &nested(64)).read::<Tree>().is_ok());
    assert!(of("", &nested(65)).read::<Tree>().is_err());
    assert!(of("", &nested(2_000)).read::<Tree>().is_err());
}
