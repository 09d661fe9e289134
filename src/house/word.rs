//! Words as names have them: without accents, capitals and signs.

use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;

/// The runs of letters and the runs of digits of a text, without accents and capitals.
pub(super) fn tokens(text: &str) -> Vec<String> {
    let mut tokens: Vec<String> = Vec::new();
    let mut last = None;
    for letter in text.nfkd().filter(|letter| !is_combining_mark(*letter)).flat_map(char::to_lowercase) {
        let kind = letter.is_alphanumeric().then(|| letter.is_numeric());
        if kind.is_some() {
            if kind != last {
                tokens.push(String::new());
            }
            if let Some(token) = tokens.last_mut() {
                match letter {
                    'ß' => token.push_str("ss"),
                    'œ' => token.push_str("oe"),
                    'æ' => token.push_str("ae"),
                    other => token.push(other),
                }
            }
        }
        last = kind;
    }
    tokens
}
