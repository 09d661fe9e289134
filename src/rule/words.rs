//! Numbers and lists as a reader likes them: no fifteen digits, no list of forty bars.

/// The most elements a list in a message names.
const MOST_LISTED: usize = 6;

/// What stands in a message for a value that is absent or unknown.
pub(super) const NOT_KNOWN: &str = "(not known)";

/// A number to at most so many decimal places, without trailing zeros.
pub(super) fn short(number: f64, places: usize) -> String {
    let text = format!("{number:.places$}");
    let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// `2`, `2 and 5`, `2, 5 and 7`; a long list ends in `and 9 more`.
pub(super) fn listed(items: &[String]) -> String {
    let (shown, rest) = if items.len() > MOST_LISTED { items.split_at(MOST_LISTED - 1) } else { (items, &[] as &[String]) };
    match (shown, rest.len()) {
        ([], _) => String::new(),
        ([only], 0) => only.clone(),
        ([most @ .., last], 0) => format!("{} and {last}", most.join(", ")),
        (shown, more) => format!("{} and {more} more", shown.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn short_numbers() {
        assert_eq!(short(7.0, 1), "7");
        assert_eq!(short(31.249_999, 1), "31.2");
        assert_eq!(short(100.0, 0), "100");
        assert_eq!(short(-0.04, 1), "0");
    }

    #[test]
    fn lists_stay_short() {
        let list = |count: u32| listed(&(1..=count).map(|one| one.to_string()).collect::<Vec<_>>());
        assert_eq!(list(0), "");
        assert_eq!(list(1), "1");
        assert_eq!(list(2), "1 and 2");
        assert_eq!(list(6), "1, 2, 3, 4, 5 and 6");
        assert_eq!(list(14), "1, 2, 3, 4, 5 and 9 more");
    }
}
