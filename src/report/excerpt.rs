//! Three lines of the file with the value in question underlined.

use super::plain::plain_lines;
use crate::musicxml::Spot;
use miette::{
    Diagnostic, GraphicalReportHandler, GraphicalTheme, LabeledSpan, MietteError, MietteSpanContents, SourceCode, SourceSpan, SpanContents,
    ThemeCharacters, ThemeStyles,
};
use std::fmt;

/// The lines around a spot under a heading with the file's name, line and column; empty where there is nothing to see.
pub(super) fn excerpt(spot: &Spot, file: &str, colours: bool) -> String {
    let Some(lines) = Lines::of(spot, file) else { return String::new() };
    let characters = ThemeCharacters::unicode();
    let corner = characters.ltop;
    let styles = if colours { ThemeStyles::ansi() } else { ThemeStyles::none() };
    let handler = GraphicalReportHandler::new_themed(GraphicalTheme { characters, styles })
        .with_links(false)
        .without_primary_span_start()
        .with_context_lines(1)
        .with_width(usize::MAX);
    let mut drawn = String::new();
    if handler.render_report(&mut drawn, &lines).is_err() {
        return String::new();
    }
    // The message stands above the excerpt already, in our own words; the library's empty one is left out.
    let start = drawn.lines().position(|line| line.trim_start().starts_with(corner));
    drawn.lines().skip(start.unwrap_or(usize::MAX)).map(|line| line.trim_end().to_owned() + "\n").collect()
}

/// The lines, with the number of the first and the stretch to underline.
#[derive(Debug)]
struct Lines {
    text: String,
    mark: SourceSpan,
    before: usize,
    heading: String,
}

impl Lines {
    fn of(spot: &Spot, file: &str) -> Option<Self> {
        let before = spot.excerpt.get(..spot.mark.start)?;
        let marked = spot.excerpt.get(spot.mark.clone())?;
        let behind = spot.excerpt.get(spot.mark.end..)?;
        if spot.excerpt.trim().is_empty() {
            return None;
        }
        // Piece by piece, since what stands for a sign need not be as long as the sign.
        let mut text = plain_lines(before);
        let start = text.len();
        text.push_str(&plain_lines(marked));
        let length = text.len() - start;
        text.push_str(&plain_lines(behind));
        let first = usize::try_from(spot.first_line).unwrap_or(usize::MAX);
        // Not the library's own line and column: the excerpt may be cut out of a long line.
        let heading = format!("{file}:{}:{}", spot.line, spot.column);
        Some(Self { text, mark: (start, length).into(), before: first.saturating_sub(1), heading })
    }
}

impl SourceCode for Lines {
    fn read_span<'a>(
        &'a self,
        span: &SourceSpan,
        lines_before: usize,
        lines_after: usize,
    ) -> Result<Box<dyn SpanContents<'a> + 'a>, MietteError> {
        let read = self.text.read_span(span, lines_before, lines_after)?;
        let line = read.line().saturating_add(self.before);
        Ok(Box::new(MietteSpanContents::new_named(self.heading.clone(), read.data(), *read.span(), line, read.column(), read.line_count())))
    }
}

impl fmt::Display for Lines {
    fn fmt(&self, _: &mut fmt::Formatter<'_>) -> fmt::Result {
        Ok(())
    }
}

impl std::error::Error for Lines {}

impl Diagnostic for Lines {
    fn source_code(&self) -> Option<&dyn SourceCode> {
        Some(self)
    }

    fn labels(&self) -> Option<Box<dyn Iterator<Item = LabeledSpan> + '_>> {
        Some(Box::new(std::iter::once(LabeledSpan::new_with_span(None, self.mark))))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn drawn(excerpt: &str, marked: &str, first_line: u64) -> String {
        let start = excerpt.find(marked).expect("there");
        let mark = start..start + marked.len();
        super::excerpt(&Spot { line: 2, column: 3, excerpt: excerpt.to_owned(), first_line, mark }, "oboe.xml", false)
    }

    #[test]
    fn lines_are_numbered_and_the_value_underlined() {
        let drawn = drawn("<scaling>\n\t<millimeters>6</millimeters>\n</scaling>", "6", 99);
        let lines: Vec<&str> = drawn.lines().collect();
        assert!(lines[0].ends_with("[oboe.xml:2:3]"), "{drawn}");
        assert!(lines[1].trim_start().starts_with("99 │ <scaling>"), "{drawn}");
        let column = |line: &str, what: char| line.chars().position(|character| character == what);
        assert_eq!(column(lines[2], '6'), column(lines[3], '─'), "{drawn}");
        assert_eq!(lines.len(), 6, "{drawn}");
    }

    #[test]
    fn tricks_before_the_value_do_not_shift_the_line_below_it() {
        let drawn = drawn("<part-name>\u{202e}é\u{61c}\u{1b}[2J</part-name><staff-size>6</staff-size>", "6", 1);
        assert!(!drawn.contains('\u{1b}') && !drawn.contains('\u{202e}'));
        let lines: Vec<&str> = drawn.lines().collect();
        let column = |line: &str, what: char| line.chars().position(|character| character == what);
        assert_eq!(column(lines[1], '6'), column(lines[2], '─'), "{drawn}");
    }
}
