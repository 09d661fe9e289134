//! What several entries of a data file share: `[group.*]` tables, laid under the entries that are `like` them.

use super::data::{DataError, DataFile, UnknownName};
use serde::de::DeserializeOwned;
use toml::de::{DeTable, DeValue};
use toml::{Deserializer, Spanned};

/// The table of groups, and the key by which an entry names those it is like.
const GROUP: &str = "group";
const LIKE: &str = "like";

type Groups<'a> = DeTable<'a>;

/// The file as the type its keys must fit, each entry of the list `entries` filled up from the groups it is `like`: what
/// it says itself goes first, then the groups in their order. A value with a `source` is taken whole.
///
/// # Errors
/// No TOML, keys that do not fit, a group that is not there.
pub(super) fn parse<T: DeserializeOwned>(file: DataFile, entries: &str) -> Result<T, DataError> {
    let wrong = |error: &toml::de::Error| DataError::new(file.name, file.text, error.span(), error.message());
    let mut root = DeTable::parse(file.text).map_err(|error| wrong(&error))?;
    let groups = match root.get_mut().remove(GROUP).map(Spanned::into_inner) {
        Some(DeValue::Table(groups)) => groups,
        _ => DeTable::new(),
    };
    if let Some(DeValue::Array(list)) = root.get_mut().get_mut(entries).map(Spanned::get_mut) {
        for entry in list.iter_mut() {
            if let DeValue::Table(entry) = entry.get_mut() {
                fill(entry, &groups, file)?;
            }
        }
    }
    T::deserialize(Deserializer::from(root)).map_err(|error| wrong(&error))
}

fn fill<'a>(entry: &mut DeTable<'a>, groups: &Groups<'a>, file: DataFile) -> Result<(), DataError> {
    let Some(like) = entry.remove(LIKE) else { return Ok(()) };
    let DeValue::Array(names) = like.get_ref() else {
        return Err(file.wrong(&like, "`like` is a list of groups"));
    };
    for name in names {
        let asked = name.get_ref().as_str().unwrap_or_default();
        let Some(DeValue::Table(group)) = groups.get(asked).map(Spanned::get_ref) else {
            let unknown = UnknownName::new("group", asked, groups.keys().map(|key| key.get_ref().as_ref()));
            return Err(file.wrong(name, format!("{unknown}; or add [group.{asked}]")));
        };
        lay_under(entry, group);
    }
    Ok(())
}

/// Adds what `below` says and `table` does not.
fn lay_under<'a>(table: &mut DeTable<'a>, below: &DeTable<'a>) {
    for (key, value) in below {
        match (table.get_mut(key).map(Spanned::get_mut), value.get_ref()) {
            (None, _) => {
                table.insert(key.clone(), value.clone());
            }
            (Some(DeValue::Table(own)), DeValue::Table(shared)) if !own.contains_key("source") && !shared.contains_key("source") => {
                lay_under(own, shared);
            }
            (Some(_), _) => {}
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde::Deserialize;
    use std::collections::BTreeMap;

    #[derive(Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Book {
        page: Vec<Page>,
    }

    #[derive(Debug, PartialEq, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Page {
        name: String,
        size: BTreeMap<String, BTreeMap<String, toml::Value>>,
    }

    fn sizes(text: &str) -> Result<Vec<String>, DataError> {
        let book: Book = parse(DataFile { name: "book.toml", text }, "page")?;
        let page = |page: &Page| {
            let facts =
                page.size.iter().map(|(key, fact)| format!("{key}={}{}", fact["value"], fact["source"].as_str().unwrap_or_default()));
            format!("{}: {}", page.name, facts.collect::<Vec<_>>().join(" "))
        };
        Ok(book.page.iter().map(page).collect())
    }

    const GROUPS: &str = "[group.a]\nsize.least = { value = 1, source = \"a\" }\nsize.most = { value = 5, source = \"a\" }\n\
        [group.b]\nsize.most = { value = 9, source = \"b\" }\nsize.usual = { value = 3, source = \"b\" }\n";

    #[test]
    fn an_entry_goes_before_its_groups_and_the_first_group_before_the_next() {
        let text = format!("{GROUPS}[[page]]\nname = \"x\"\nlike = [\"a\", \"b\"]\nsize.least = {{ value = 2, source = \"x\" }}\n");
        assert_eq!(sizes(&text), Ok(vec!["x: least=2x most=5a usual=3b".to_owned()]));
    }

    #[test]
    fn a_value_never_gets_the_source_of_another() {
        let text = format!("{GROUPS}[[page]]\nname = \"x\"\nlike = [\"a\"]\nsize.least.source = \"x\"\nsize.most.value = 2\n");
        let book: Result<Book, _> = parse(DataFile { name: "book.toml", text: &text }, "page");
        let page = &book.expect("the keys fit").page[0];
        assert!(!page.size["least"].contains_key("value") && !page.size["most"].contains_key("source"), "{page:?}");
    }

    #[test]
    fn errors_point_at_the_group_or_the_entry() {
        for (tail, at, says) in [
            ("[[page]]\nname = \"x\"\nlike = [\"a\", \"c\"]\n", (9, 14), "there is no group \"c\""),
            ("[[page]]\nname = \"x\"\nlike = \"a\"\n", (9, 8), "`like` is a list"),
            ("[[page]]\nname = \"x\"\nlike = [\"a\"]\nsides = 2\n", (10, 1), "sides"),
            ("[[page]]\nname = \"x\"\nlike = [\n", (9, 9), ""),
        ] {
            let error = sizes(&format!("{GROUPS}{tail}")).expect_err(tail);
            assert_eq!((error.line, error.column), at, "{error}");
            assert!(error.message.contains(says), "{error}");
        }
    }
}
