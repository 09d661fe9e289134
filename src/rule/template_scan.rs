//! Refuses what a message template may not contain, before the template engine sees it, and tells what it names.

use super::error::Fault;
use super::template::FILTERS;

/// The tags that may stand between `{%` and `%}`.
const TAGS: [&str; 4] = ["if", "elif", "else", "endif"];
/// Words before a bracket that do not make it a call.
const NO_CALL: [&str; 7] = ["if", "elif", "else", "and", "or", "not", "in"];

/// Words that name nothing, wherever they stand.
const WORDS: [&str; 13] = ["if", "else", "and", "or", "not", "in", "is", "true", "True", "false", "False", "none", "None"];

/// A token within a tag.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Token<'a> {
    Name(&'a str),
    Text,
    Sign(char),
}

/// Checks a whole template. Gives the names it reads, as they stand, dots included.
pub(super) fn scan(text: &str) -> Result<Vec<String>, Fault> {
    let mut names = Vec::new();
    let mut at = 0;
    while let Some((start, opening)) = next_tag(text, at) {
        let (tokens, end) = tokens(text, start + 2, opening);
        let tokens = check(tokens, opening)?;
        add_names(&tokens, &mut names);
        at = end;
    }
    Ok(names)
}

/// Adds the names among the tokens of a tag: those of filters and tests are none.
fn add_names(tokens: &[(Token, usize)], names: &mut Vec<String>) {
    let mut last = [None, None];
    let mut rest = tokens.iter().map(|(token, _)| *token).peekable();
    while let Some(token) = rest.next() {
        let names_a_part =
            matches!(last, [_, Some(Token::Sign('|') | Token::Name("is"))] | [Some(Token::Name("is")), Some(Token::Name("not"))]);
        last = [last[1], Some(token)];
        let Token::Name(name) = token else { continue };
        if names_a_part || WORDS.contains(&name) || name.starts_with(|first: char| first.is_ascii_digit()) {
            continue;
        }
        let mut dotted = name.to_owned();
        while rest.next_if_eq(&Token::Sign('.')).is_some() {
            dotted.push('.');
            if let Some(Token::Name(field)) = rest.next_if(|token| matches!(token, Token::Name(_))) {
                dotted.push_str(field);
            }
        }
        names.push(dotted);
    }
}

/// The next `{{`, `{%` or `{#`.
fn next_tag(text: &str, from: usize) -> Option<(usize, char)> {
    let bytes = text.as_bytes();
    let mut braces = memchr::memchr_iter(b'{', bytes.get(from..)?);
    braces.find_map(|at| match bytes.get(from + at + 1) {
        Some(second @ (b'{' | b'%' | b'#')) => Some((from + at, char::from(*second))),
        _ => None,
    })
}

/// The tokens of a tag, each with its place, and where the tag ends.
fn tokens(text: &str, start: usize, opening: char) -> (Vec<(Token<'_>, usize)>, usize) {
    let closing = match opening {
        '%' => "%}",
        '#' => "#}",
        _ => "}}",
    };
    let mut found = Vec::new();
    let mut at = start;
    while let Some(rest) = text.get(at..).filter(|rest| !rest.is_empty()) {
        if rest.starts_with(closing) {
            return (found, at + closing.len());
        }
        let Some(first) = rest.chars().next() else { break };
        let (token, length) = match first {
            _ if opening == '#' => (None, first.len_utf8()),
            '"' | '\'' => (Some(Token::Text), quoted(rest, first)),
            c if c.is_alphanumeric() || c == '_' => {
                let length = rest.find(|c: char| !c.is_alphanumeric() && c != '_').unwrap_or(rest.len());
                (rest.get(..length).map(Token::Name), length)
            }
            c if c.is_whitespace() => (None, c.len_utf8()),
            c => (Some(Token::Sign(c)), c.len_utf8()),
        };
        found.extend(token.map(|token| (token, at)));
        at += length;
    }
    (found, text.len())
}

/// The length of a quoted text, its quotes included.
fn quoted(rest: &str, quote: char) -> usize {
    let mut escaped = false;
    for (at, c) in rest.char_indices().skip(1) {
        match c {
            _ if escaped => escaped = false,
            '\\' => escaped = true,
            c if c == quote => return at + c.len_utf8(),
            _ => {}
        }
    }
    rest.len()
}

/// Checks the tokens of a tag; gives them without the name of the tag.
fn check(mut rest: Vec<(Token<'_>, usize)>, opening: char) -> Result<Vec<(Token<'_>, usize)>, Fault> {
    if opening == '%' {
        let first = rest.iter().find(|(token, _)| matches!(token, Token::Name(_))).copied();
        match first {
            Some((Token::Name(name), _)) if TAGS.contains(&name) => rest.retain(|token| Some(*token) != first),
            Some((Token::Name(name), at)) => {
                return Err(Fault::unknown_name(format!("a message cannot use `{name}`"), name, TAGS).at(at..at + name.len()));
            }
            _ => {}
        }
    }
    for (index, (token, at)) in rest.iter().enumerate() {
        let before = index.checked_sub(1).and_then(|index| rest.get(index)).map(|(token, _)| *token);
        let before_that = index.checked_sub(2).and_then(|index| rest.get(index)).map(|(token, _)| *token);
        let fault = match (token, before) {
            (Token::Sign(sign @ ('[' | '{')), _) => Some(Fault::new(format!("a message cannot use `{sign}`")).at(*at..*at + 1)),
            (Token::Sign('~'), _) => Some(Fault::new("a message cannot use `~`").help("write `{{ a }}{{ b }}`").at(*at..*at + 1)),
            // The engine lets this name pass in every template.
            (Token::Name("self"), _) => Some(Fault::new("there is no `self` here").at(*at..*at + 4)),
            (Token::Name(name), Some(Token::Sign('|'))) if !FILTERS.contains(name) => {
                Some(Fault::unknown_name(format!("there is no filter `{name}`"), name, FILTERS).at(*at..*at + name.len()))
            }
            (Token::Sign('('), Some(Token::Name(name))) if before_that != Some(Token::Sign('|')) && !NO_CALL.contains(&name) => {
                Some(Fault::new(format!("a message cannot call `{name}`")).at(*at..*at + 1))
            }
            (Token::Name(name), Some(Token::Name("is"))) if !matches!(*name, "known" | "not") => Some(unknown_test(name, *at)),
            (Token::Name(name), Some(Token::Name("not"))) if before_that == Some(Token::Name("is")) && *name != "known" => {
                Some(unknown_test(name, *at))
            }
            (Token::Sign('('), Some(Token::Sign(')' | ']') | Token::Text)) => {
                Some(Fault::new("a message cannot call anything").at(*at..*at + 1))
            }
            _ => None,
        };
        if let Some(fault) = fault {
            return Err(fault);
        }
    }
    Ok(rest)
}

fn unknown_test(name: &str, at: usize) -> Fault {
    Fault::unknown_name(format!("there is no test `{name}`"), name, ["known"]).at(at..at + name.len())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_refused_and_where() {
        for (text, place) in [
            ("{% for a in b %}{% endfor %}", 3),
            ("x {%- set a = 1 %}", 6),
            ("{% include 'a' %}", 3),
            ("{% raw %}{{ a }}{% endraw %}", 3),
            ("{{ a ~ b }}", 5),
            ("{# a #}{{ a ~ b }}", 12),
            ("{{ a | upper }}", 7),
            ("{{ a|mm|lower }}", 8),
            ("{{ range(9) }}", 8),
            ("{{ 2 * [1] }}", 7),
            ("{{ {'a': 1} }}", 3),
            ("{{ a.items() }}", 10),
            ("{{ (a)() }}", 6),
            ("{{ '}}' ~ a }}", 8),
            ("{% if a is defined %}{% endif %}", 11),
            ("{% if a is not even %}{% endif %}", 15),
        ] {
            let fault = scan(text).expect_err(text);
            assert_eq!(fault.span.map(|span| span.start), Some(place), "{text}: {}", fault.what);
        }
    }

    #[test]
    fn what_may_stand() {
        for text in [
            "plain ~ text (with) for",
            "{{ a.b | mm }}, {{ (a.b - 1) | plural('one', \"many\") }}",
            "{% if not (a.b > 1) and a.c is not known %}x{% elif a %}{% else %}y{%- endif -%}",
            "{# for range() #}",
            "{",
            "{{",
        ] {
            assert!(scan(text).is_ok(), "{text}");
        }
    }

    /// Against the template engine, which finds the names of a template by itself.
    #[test]
    fn names_are_those_that_the_engine_finds() {
        let files = crate::packed::RULES.iter().filter_map(|file| toml::from_str::<toml::Table>(file.text).ok());
        let cases = files.flat_map(|file| ["case", "reason"].map(|kind| file.get(kind).cloned()).into_iter().flatten());
        let cases: Vec<toml::Value> = cases.flat_map(|cases| cases.as_array().cloned().unwrap_or_default()).collect();
        let texts = cases.iter().flat_map(|case| ["message", "advice", "says"].map(|key| case.get(key))).flatten();
        let mut texts: Vec<&str> = texts.filter_map(toml::Value::as_str).collect();
        assert!(texts.len() > 200, "{}", texts.len());
        texts.extend([
            "{{ 1 if a.b is not known and not c else d.e | plural('x y', z.y) }} {# a #} {{ true or None }} {{ 2.5 * f }}",
            "{% if not (a.b > 1) %}{{- c.d -}}{% elif e in 'x' %}{% else %}{{ g . h }}{% endif %}",
        ]);
        for text in texts {
            let mut environment = minijinja::Environment::empty();
            for filter in FILTERS {
                environment.add_filter(filter, |value: String| value);
            }
            environment.add_test("known", |_: &minijinja::Value| true);
            let compiled = environment.template_from_str(text).unwrap_or_else(|error| panic!("{text}: {error}"));
            let found = scan(text).unwrap_or_else(|fault| panic!("{text}: {}", fault.what));
            assert_eq!(found.into_iter().collect::<std::collections::HashSet<_>>(), compiled.undeclared_variables(true), "{text}");
        }
    }
}
