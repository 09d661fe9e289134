//! A data file whose entries share what stands in its `[group.*]` tables.

use super::data::{DataError, DataFile, UnknownName};
use crate::packed::{NoGroup, share};
use serde::de::DeserializeOwned;
use toml::Deserializer;
use toml::de::DeTable;

/// The file as the type its keys must fit, each entry of the list `entries` filled up from the groups it is `like`.
///
/// # Errors
/// No TOML, keys that do not fit, a group that is not there.
pub(super) fn parse<T: DeserializeOwned>(file: DataFile, entries: &str) -> Result<T, DataError> {
    let wrong = |error: &toml::de::Error| DataError::new(file.name, file.text, error.span(), error.message());
    let mut root = DeTable::parse(file.text).map_err(|error| wrong(&error))?;
    share(root.get_mut(), entries).map_err(|no_group| said(file, no_group))?;
    T::deserialize(Deserializer::from(root)).map_err(|error| wrong(&error))
}

fn said(file: DataFile, no_group: NoGroup) -> DataError {
    match no_group {
        NoGroup::NoList(at) => DataError::new(file.name, file.text, Some(at), "`like` is a list of groups"),
        NoGroup::Unknown { at, asked, known } => {
            let unknown = UnknownName::new("group", &asked, known.iter().map(String::as_str));
            DataError::new(file.name, file.text, Some(at), format!("{unknown}; or add [group.{asked}]"))
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
