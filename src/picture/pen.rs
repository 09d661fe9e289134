//! The pen: outlines gathered as SVG paths and texts, in millimetres on the sheet.

use std::fmt::Write;

/// Decimal places of a millimetre in the picture: a hundredth is a fifth of a printed dot.
const PLACES: i32 = 2;

/// A number as a picture has it.
pub(super) fn number(value: f64) -> String {
    let factor = 10_f64.powi(PLACES);
    let value = (value * factor).round() / factor;
    // No negative zero.
    let value = if value == 0.0 { 0.0 } else { value };
    format!("{value}")
}

/// A text without what means something in XML, and without characters that XML has no place for.
pub fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            '\t' | '\n' => out.push(' '),
            letter if letter.is_control() => {}
            letter => out.push(letter),
        }
    }
    out
}

/// How a text stands at its place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Anchor {
    Start,
    Middle,
    End,
}

/// The face of a text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Face {
    Plain,
    Italic,
    Bold,
    /// Dynamics.
    BoldItalic,
}

/// A drawing in progress.
#[derive(Debug, Default)]
pub(super) struct Pen {
    /// Staff and ledger lines.
    staff: String,
    /// Stems, bar lines, curves: strokes by width in hundredths of a millimetre.
    strokes: Vec<(u32, String)>,
    /// What is filled.
    filled: String,
    texts: String,
}

impl Pen {
    /// A staff line or ledger line.
    pub fn staff_line(&mut self, from: f64, to: f64, y: f64) {
        let _ = write!(self.staff, "M{} {}H{}", number(from), number(y), number(to));
    }

    /// The path of strokes of a width.
    fn stroke(&mut self, width: f64) -> &mut String {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "line widths are fractions of a millimetre")]
        let key = (width * 100.0).round().clamp(1.0, 1000.0) as u32;
        let place = self.strokes.iter().position(|(own, _)| *own == key).unwrap_or_else(|| {
            self.strokes.push((key, String::new()));
            self.strokes.len() - 1
        });
        &mut self.strokes[place].1
    }

    pub fn line(&mut self, from: [f64; 2], to: [f64; 2], width: f64) {
        let path = format!("M{} {}L{} {}", number(from[0]), number(from[1]), number(to[0]), number(to[1]));
        self.stroke(width).push_str(&path);
    }

    /// A path of strokes given in units of `size` around a place: `M`, `L` and `C` with their pairs of numbers.
    pub fn shape(&mut self, at: [f64; 2], size: f64, shape: &[(char, &[[f64; 2]])], width: f64) {
        let path = placed(at, size, shape);
        self.stroke(width).push_str(&path);
    }

    /// The same, filled.
    pub fn fill(&mut self, at: [f64; 2], size: f64, shape: &[(char, &[[f64; 2]])]) {
        self.filled.push_str(&placed(at, size, shape));
        self.filled.push('Z');
    }

    /// A filled area between corners.
    pub fn area(&mut self, corners: &[[f64; 2]]) {
        for (index, [x, y]) in corners.iter().enumerate() {
            let _ = write!(self.filled, "{}{} {}", if index == 0 { 'M' } else { 'L' }, number(*x), number(*y));
        }
        self.filled.push('Z');
    }

    pub fn rectangle(&mut self, [left, top]: [f64; 2], width: f64, height: f64) {
        let _ = write!(self.filled, "M{} {}h{}v{}h{}z", number(left), number(top), number(width), number(height), number(-width));
    }

    pub fn dot(&mut self, [x, y]: [f64; 2], radius: f64) {
        let (across, radius_text) = (number(2.0 * radius), number(radius));
        let back = number(-2.0 * radius);
        let _ = write!(
            self.filled,
            "M{} {}a{radius_text} {radius_text} 0 1 0 {across} 0a{radius_text} {radius_text} 0 1 0 {back} 0z",
            number(x - radius),
            number(y)
        );
    }

    /// A note head: an oval that leans, hollow where `hole` says how wide the hole is.
    pub fn head(&mut self, [x, y]: [f64; 2], [wide, high]: [f64; 2], lean: f64, hole: Option<[f64; 2]>) {
        let oval = |[wide, high]: [f64; 2], lean: f64, sweep: u8| {
            let (dx, dy) = (wide * lean.to_radians().cos(), wide * lean.to_radians().sin());
            let (wide, high, lean) = (number(wide), number(high), number(lean));
            let (dx2, dy2) = (number(2.0 * dx), number(2.0 * dy));
            let (back_x, back_y) = (number(-2.0 * dx), number(-2.0 * dy));
            format!(
                "M{} {}a{wide} {high} {lean} 1 {sweep} {dx2} {dy2}a{wide} {high} {lean} 1 {sweep} {back_x} {back_y}z",
                number(x - dx),
                number(y - dy)
            )
        };
        self.filled.push_str(&oval([wide, high], lean, 0));
        if let Some(hole) = hole {
            // Drawn the other way round: it stays open.
            self.filled.push_str(&oval(hole, lean * 1.6, 1));
        }
    }

    pub fn text(&mut self, at: [f64; 2], size: f64, anchor: Anchor, face: Face, text: &str) {
        let text = text.trim();
        if text.is_empty() {
            return;
        }
        let anchor = match anchor {
            Anchor::Start => "",
            Anchor::Middle => " text-anchor=\"middle\"",
            Anchor::End => " text-anchor=\"end\"",
        };
        let face = match face {
            Face::Plain => "",
            Face::Italic => " font-style=\"italic\"",
            Face::Bold => " font-weight=\"bold\"",
            Face::BoldItalic => " font-style=\"italic\" font-weight=\"bold\"",
        };
        let (x, y, size) = (number(at[0]), number(at[1]), number(size));
        let _ = writeln!(self.texts, "<text x=\"{x}\" y=\"{y}\" font-size=\"{size}\"{anchor}{face}>{}</text>", escaped(text));
    }

    /// The drawing as SVG elements.
    pub fn finish(self, staff_line: f64) -> String {
        let mut out = String::new();
        if !self.staff.is_empty() {
            let _ = writeln!(out, "<path class=\"staff\" stroke-width=\"{}\" d=\"{}\"/>", number(staff_line), self.staff);
        }
        for (width, path) in &self.strokes {
            let _ = writeln!(out, "<path class=\"stroke\" stroke-width=\"{}\" d=\"{path}\"/>", number(f64::from(*width) / 100.0));
        }
        if !self.filled.is_empty() {
            let _ = writeln!(out, "<path class=\"ink\" d=\"{}\"/>", self.filled);
        }
        if !self.texts.is_empty() {
            let _ = write!(out, "<g class=\"text\">\n{}</g>\n", self.texts);
        }
        out
    }
}

fn placed(at: [f64; 2], size: f64, shape: &[(char, &[[f64; 2]])]) -> String {
    let mut path = String::new();
    for (command, points) in shape {
        path.push(*command);
        for (index, [x, y]) in points.iter().enumerate() {
            let space = if index > 0 { " " } else { "" };
            let _ = write!(path, "{space}{} {}", number(at[0] + x * size), number(at[1] + y * size));
        }
    }
    path
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_short_and_texts_stay_texts() {
        assert_eq!(number(-0.001), "0");
        assert_eq!(number(12.3456), "12.35");
        assert_eq!(number(12.0), "12");
        assert_eq!(escaped("<img src=x onerror='alert(1)'>\u{7}&"), "&lt;img src=x onerror=&#39;alert(1)&#39;&gt;&amp;");
    }
}
