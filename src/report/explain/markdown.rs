//! A page as Markdown, in the dialect that has tables.

use super::super::plain::plain;
use super::page::{Block, Page, Span, Text};
use std::fmt::Write;

/// Signs that would steer Markdown, wherever they stand.
const STEERS: [char; 11] = ['\\', '`', '*', '_', '[', ']', '<', '>', '&', '~', '|'];

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
                let paragraphs = std::iter::once(term).chain(about).map(paragraph);
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
            lines.extend(rows.iter().map(|cells| row(cells.iter().map(text))));
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
    let text = text(words);
    let digits = text.chars().take_while(char::is_ascii_digit).count();
    let numbered = digits > 0 && text.get(digits..).is_some_and(|rest| rest.starts_with(['.', ')']));
    match text.chars().next() {
        Some('#' | '+' | '-' | '=') => format!("\\{text}"),
        _ if numbered => format!("{}\\{}", text.get(..digits).unwrap_or_default(), text.get(digits..).unwrap_or_default()),
        _ => text,
    }
}

fn text(words: &Text) -> String {
    words.0.iter().map(span).collect()
}

fn span(span: &Span) -> String {
    match span {
        Span::Plain(words) => escaped(words),
        Span::Code(name) => {
            let fence = "`".repeat(longest_run(name) + 1);
            let pad = if name.starts_with('`') || name.ends_with('`') { " " } else { "" };
            // A bar would end the cell of a table even within code.
            format!("{fence}{pad}{}{pad}{fence}", plain(name).replace('|', "\\|"))
        }
        Span::Link(words, to) => format!("[{}]({})", escaped(words), to.file()),
        Span::See(page) => format!("[{0}]({0})", page.file()),
    }
}

/// The most back quotes in a row.
fn longest_run(text: &str) -> usize {
    text.split(|sign| sign != '`').map(str::len).max().unwrap_or(0)
}

fn escaped(words: &str) -> String {
    let mut escaped = String::with_capacity(words.len());
    for sign in plain(words).chars() {
        if STEERS.contains(&sign) {
            escaped.push('\\');
        }
        escaped.push(sign);
    }
    escaped
}
