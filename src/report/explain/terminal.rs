//! A page for people at a terminal, or for whatever it is piped into.

use super::super::plain::plain;
use super::super::terminal::{Look, Paint};
use super::page::{Block, Page, Span, Text};
use comfy_table::presets::NOTHING;
use comfy_table::{ColumnConstraint, ContentArrangement, Table};
use std::fmt::{self, Write};
use textwrap::{Options, WordSeparator, WordSplitter};

/// Columns before what stands below a heading.
const INDENT: &str = "  ";
/// Columns before what stands below a term.
const DEEPER: &str = "      ";

/// Writes the page.
///
/// # Errors
/// Those of `out`.
pub fn write(page: &Page, look: Look, out: &mut dyn Write) -> fmt::Result {
    heading(&plain(&page.title), "", look, out)?;
    let mut below_heading = false;
    for block in &page.blocks {
        if !below_heading {
            writeln!(out)?;
        }
        below_heading = matches!(block, Block::Heading(_) | Block::Subheading(_));
        self::block(block, look, out)?;
    }
    Ok(())
}

fn block(block: &Block, look: Look, out: &mut dyn Write) -> fmt::Result {
    let mut wrap = |words: &Text, first: &str, others: &str| wrapped(&glued(words), first, others, look.width, out);
    match block {
        Block::Heading(words) => heading(&glued(words), "", look, out),
        Block::Subheading(words) => heading(&glued(words), INDENT, look, out),
        Block::Paragraph(words) => wrap(words, INDENT, INDENT),
        Block::Points(points) => points.iter().try_for_each(|point| wrap(point, "  - ", "    ")),
        Block::Terms(terms) => terms.iter().try_for_each(|(term, about)| {
            wrap(term, INDENT, "    ")?;
            about.iter().try_for_each(|words| wrap(words, DEEPER, DEEPER))
        }),
        Block::Condition(condition) => {
            let one = condition.split_whitespace().collect::<Vec<_>>().join(" ");
            wrapped(&plain(&one), DEEPER, DEEPER, look.width, out)
        }
        Block::Table { heads, rows } => table(heads, rows, look, out),
    }
}

/// A space at which no line breaks.
const GLUE: &str = "\u{a0}";

/// A text in which short names and values stay whole, and units and marks stay with what they belong to.
fn glued(words: &Text) -> String {
    /// A longer one would leave half a line empty.
    const SHORT: usize = 40;
    let whole = |one: &Span| match one {
        Span::Code(name) if name.len() <= SHORT => plain(name).replace(' ', GLUE),
        one => span(one),
    };
    let text = words.0.iter().map(whole).collect();
    [" mm", " m ", " %", " ["].iter().fold(text, |text: String, end| text.replace(end, &end.replacen(' ', GLUE, 1)))
}

/// A text broken to the width at spaces only: names with hyphens stay whole.
fn lines(text: &str, first: &str, others: &str, width: usize) -> Vec<String> {
    let options = Options::new(width).initial_indent(first).subsequent_indent(others).break_words(false);
    let options = options.word_separator(WordSeparator::AsciiSpace).word_splitter(WordSplitter::NoHyphenation);
    textwrap::wrap(text, options).iter().map(|line| line.replace(GLUE, " ")).collect()
}

fn wrapped(text: &str, first: &str, others: &str, width: usize, out: &mut dyn Write) -> fmt::Result {
    lines(text, first, others, width).iter().try_for_each(|line| writeln!(out, "{line}"))
}

fn heading(text: &str, indent: &str, look: Look, out: &mut dyn Write) -> fmt::Result {
    let lines = lines(text, "", "", look.width.saturating_sub(indent.len()));
    lines.iter().try_for_each(|line| writeln!(out, "{indent}{}", look.paint(Paint::Name, line)))
}

fn table(heads: &[&str], rows: &[Vec<Text>], look: Look, out: &mut dyn Write) -> fmt::Result {
    let mut table = Table::new();
    table.load_style(NOTHING).set_content_arrangement(ContentArrangement::Dynamic);
    table.set_width(u16::try_from(look.width.saturating_sub(INDENT.len())).unwrap_or(u16::MAX));
    table.set_header(heads);
    table.add_rows(rows.iter().map(|row| row.iter().map(text).collect::<Vec<_>>()));
    for column in table.column_iter_mut() {
        column.set_padding((0, 2));
        // Names are not broken.
        if column.index == 0 {
            column.set_constraint(ColumnConstraint::ContentWidth);
        }
    }
    table.lines().try_for_each(|line| writeln!(out, "{}", format!("{INDENT}{line}").trim_end()))
}

fn text(words: &Text) -> String {
    words.0.iter().map(span).collect()
}

fn span(span: &Span) -> String {
    match span {
        Span::Plain(words) | Span::Code(words) | Span::Link(words, _) => plain(words).into_owned(),
        Span::See(page) => plain(&page.command()).into_owned(),
    }
}
