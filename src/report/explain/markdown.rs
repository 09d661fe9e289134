//! A page as Markdown, in the dialect that has tables.

use super::super::plain::plain;
use super::page::{Block, Page, Span, Text};
use std::fmt::Write;

/// Signs that would steer Markdown, wherever they stand.
const STEERS: [char; 12] = ['\\', '`', '*', '_', '[', ']', '<', '>', '&', '~', '|', '#'];

/// The page as a text that ends with a line end.
pub fn markdown(page: &Page) -> String {
    let mut blocks = vec![format!("# {}", escaped(&page.title))];
    blocks.extend(page.blocks.iter().map(block));
    blocks.join("\n\n") + "\n"
}

fn block(block: &Block) -> String {
    match block {
        Block::Heading(words) => format!("## {}", text(words)),
        Block::Subheading(words) => format!("### {}", text(words)),
        Block::Paragraph(words) => paragraph(words),
        Block::Points(points) => points.iter().map(|point| format!("- {}", paragraph(point))).collect::<Vec<_>>().join("\n"),
        Block::Terms(terms) => {
            let item = |(term, about): &(Text, Vec<Text>)| {
                let paragraphs = std::iter::once(format!("**{}**", text(term))).chain(about.iter().map(paragraph));
                format!("- {}", paragraphs.collect::<Vec<_>>().join("\n\n  "))
            };
            terms.iter().map(item).collect::<Vec<_>>().join("\n")
        }
        Block::Condition(condition) => {
            let fence = "`".repeat(longest_run(condition).max(2) + 1);
            let lines: Vec<_> = condition.trim().lines().map(plain).collect();
            format!("{fence}text\n{}\n{fence}", lines.join("\n"))
        }
        Block::Table { heads, rows } => {
            let head = heads.iter().map(|head| escaped(head));
            let rule = heads.iter().map(|_| "---".to_owned());
            let mut lines = vec![row(head), row(rule)];
            lines.extend(rows.iter().map(|cells| row(cells.iter().map(cell))));
            lines.join("\n")
        }
    }
}

fn row(cells: impl Iterator<Item = String>) -> String {
    let mut line = String::from("|");
    for cell in cells {
        // Writing into a text cannot fail.
        let _ = write!(line, " {cell} |");
    }
    line
}

/// Text at the start of a line: there a few more signs steer.
fn paragraph(words: &Text) -> String {
    let text = text(words).trim_start().to_owned();
    let digits = text.chars().take_while(char::is_ascii_digit).count();
    let numbered = digits > 0 && text.get(digits..).is_some_and(|rest| rest.starts_with(['.', ')']));
    match text.chars().next() {
        Some('+' | '-' | '=') => format!("\\{text}"),
        _ if numbered => format!("{}\\{}", text.get(..digits).unwrap_or_default(), text.get(digits..).unwrap_or_default()),
        _ => text,
    }
}

fn text(words: &Text) -> String {
    words.0.iter().map(span).collect()
}

/// Text in a table, where a bar ends the cell even within code.
fn cell(words: &Text) -> String {
    let in_cell = |one: &Span| match one {
        Span::Code(_) => span(one).replace('|', "\\|"),
        one => span(one),
    };
    words.0.iter().map(in_cell).collect()
}

fn span(span: &Span) -> String {
    match span {
        Span::Plain(words) => escaped(words),
        Span::Code(name) => {
            let fence = "`".repeat(longest_run(name) + 1);
            let pad = if name.starts_with('`') || name.ends_with('`') { " " } else { "" };
            format!("{fence}{pad}{}{pad}{fence}", plain(name))
        }
        Span::Link(words, to) => format!("[{}]({})", escaped(words), to.file()),
        Span::See(page) => format!("[{0}]({0})", page.file()),
    }
}

/// The most back quotes in a row.
fn longest_run(text: &str) -> usize {
    text.split(|sign| sign != '`').map(str::len).max().unwrap_or(0)
}

/// Text in which nothing steers Markdown.
pub(in crate::report) fn escaped(words: &str) -> String {
    let mut escaped = String::with_capacity(words.len());
    for sign in plain(words).chars() {
        if STEERS.contains(&sign) {
            escaped.push('\\');
        }
        escaped.push(sign);
    }
    escaped
}

#[cfg(test)]
mod tests {
    use super::super::page::Name;
    use super::*;
    use proptest::prelude::*;
    use pulldown_cmark::{Event, Options, Parser};

    /// What a reader of Markdown sees, block by block, without white space.
    fn seen(markdown: &str) -> String {
        let words = Parser::new_ext(markdown, Options::ENABLE_TABLES).filter_map(|event| match event {
            Event::Text(words) | Event::Code(words) => Some(words.into_string()),
            Event::Html(_) | Event::InlineHtml(_) | Event::HardBreak | Event::Rule => Some("?".to_owned()),
            _ => None,
        });
        words.flat_map(|words| words.chars().filter(|sign| !sign.is_whitespace()).collect::<Vec<_>>()).collect()
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(128))]

        /// Whatever stands in a rule file is read as it is written, and never as a command to Markdown.
        #[test]
        fn no_text_steers(words in r"[-#+=>|*_`~<>&!.()\[\]\\0-9a-z ]{0,24}", code in r"[|`*_<a-z]{1,8}") {
            let mut page = Page::new(Name::Index, format!("t{words}"));
            let text = Text::new(&words).and(Text::code(&code)).and("e");
            page.heading(Text::new("h").and(text.clone()));
            page.paragraph(text.clone());
            page.points(vec![text.clone(), Text::new(&words).and("e")]);
            page.blocks.push(Block::Terms(vec![(Text::new("t").and(text.clone()), vec![text.clone()])]));
            page.table(["one", "two"], vec![vec![text.clone(), text.clone()]]);
            let all = format!("{words}{code}e");
            let wanted = format!("t{words}h{all}{all}{all}{words}et{all}{all}onetwo{all}{all}");
            let wanted: String = wanted.chars().filter(|sign| !sign.is_whitespace()).collect();
            prop_assert_eq!(seen(&markdown(&page)), wanted, "{}", markdown(&page));
        }
    }

    #[test]
    fn a_condition_stays_as_it_is_written() {
        let mut page = Page::new(Name::Index, "t");
        page.blocks.push(Block::Condition("a < b\n|| c == '```'".to_owned()));
        assert_eq!(seen(&markdown(&page)), "ta<b||c=='```'");
    }
}
