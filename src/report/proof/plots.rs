//! Plots where they say more than words: room across, depth used, staff height against what its reader needs.

use crate::audit::drawn::{Drawn, Sight};
use crate::picture::escaped;
use crate::report::terminal::short;
use crate::units::Mm;
use std::fmt::Write;

/// Height of the plots, and width of one bar of them, in units of the picture.
const HEIGHT: f64 = 100.0;
const STEP: f64 = 14.0;
/// Percent of natural shown at most.
const MOST: f64 = 250.0;

/// A plot with what it shows in words.
pub(super) struct Plot {
    pub title: String,
    pub svg: String,
}

fn begin(svg: &mut String, width: f64, title: &str) {
    let (width, height) = (short(width), short(HEIGHT + 26.0));
    let _ = write!(
        svg,
        "<svg class=\"plot\" role=\"img\" viewBox=\"0 0 {width} {height}\" width=\"{width}\" height=\"{height}\" aria-label=\"{}\">",
        escaped(title)
    );
}

fn bar(svg: &mut String, index: usize, share: f64, class: &str, says: &str) {
    #[expect(clippy::cast_precision_loss, reason = "few systems and pages")]
    let x = 34.0 + index as f64 * STEP;
    let height = (share.clamp(0.0, 1.0) * HEIGHT).max(1.0);
    let (x, y, width, height) = (short(x), short(HEIGHT + 8.0 - height), short(STEP - 4.0), short(height));
    let _ = write!(
        svg,
        "<rect class=\"{class}\" x=\"{x}\" y=\"{y}\" width=\"{width}\" height=\"{height}\"><title>{}</title></rect>",
        escaped(says)
    );
}

fn level(svg: &mut String, share: f64, width: f64, words: &str) {
    let y = short(HEIGHT + 8.0 - share * HEIGHT);
    let _ = write!(
        svg,
        "<path class=\"axis\" d=\"M30 {y}H{}\"/><text x=\"28\" y=\"{y}\" dy=\"3\" text-anchor=\"end\">{}</text>",
        short(width),
        escaped(words)
    );
}

/// Room against natural, system by system.
pub(super) fn across(drawn: &Drawn) -> Option<Plot> {
    let systems: Vec<_> = drawn.measured.systems().filter_map(|system| Some((system, system.spacing.as_ref().ok()?.of_natural))).collect();
    if systems.is_empty() {
        return None;
    }
    #[expect(clippy::cast_precision_loss, reason = "few systems")]
    let width = 40.0 + systems.len() as f64 * STEP;
    let title = format!("Percent of natural room, {} systems", systems.len());
    let mut svg = String::new();
    begin(&mut svg, width, &title);
    for (index, (system, of_natural)) in systems.iter().enumerate() {
        let percent = of_natural * 100.0;
        let [first, last] = &system.bars.numbers;
        bar(&mut svg, index, percent / MOST, "bar", &format!("bars {first}-{last}: {percent:.0} % of natural"));
    }
    level(&mut svg, 100.0 / MOST, width, "100 %");
    level(&mut svg, 200.0 / MOST, width, "200 %");
    svg.push_str("</svg>");
    Some(Plot { title, svg })
}

/// Share of the height that is used, page by page.
pub(super) fn depth(drawn: &Drawn) -> Option<Plot> {
    let pages: Vec<_> = drawn.measured.pages.iter().filter_map(|page| Some((page, page.depth_used.value()?))).collect();
    if pages.is_empty() {
        return None;
    }
    #[expect(clippy::cast_precision_loss, reason = "few pages")]
    let width = 40.0 + pages.len() as f64 * STEP;
    let title = "Depth used, page by page".to_owned();
    let mut svg = String::new();
    begin(&mut svg, width, &title);
    for (index, (page, used)) in pages.iter().enumerate() {
        bar(&mut svg, index, *used, "bar", &format!("p. {}: {:.0} % of the height is used", page.label, used * 100.0));
    }
    level(&mut svg, 1.0, width, "100 %");
    level(&mut svg, 0.5, width, "50 %");
    svg.push_str("</svg>");
    Some(Plot { title, svg })
}

/// The height of a staff on the range of its reader.
pub(super) fn staff(height: Mm, sight: &Sight) -> Plot {
    let [least, good, ideal, most] = sight.heights.map(|height| height.0);
    let (from, to) = (least.min(height.0) - 1.0, most.max(height.0) + 1.0);
    let x = |length: f64| short(10.0 + (length - from) / (to - from) * 300.0);
    let title = format!(
        "Staves of {} mm; for this reader {} to {} mm, good from {}, ideal {}",
        short(height.0),
        short(least),
        short(most),
        short(good),
        short(ideal)
    );
    let mut svg = String::new();
    let _ = write!(
        svg,
        "<svg class=\"plot\" role=\"img\" viewBox=\"0 0 320 46\" width=\"320\" height=\"46\" aria-label=\"{}\">",
        escaped(&title)
    );
    let _ = write!(svg, "<path class=\"axis\" d=\"M{} 26H{}\"/><path class=\"range\" d=\"M{} 26H{}\"/>", x(from), x(to), x(good), x(most));
    for (length, words) in [(least, "least"), (ideal, "ideal"), (most, "most")] {
        let at = x(length);
        let _ = write!(
            svg,
            "<path class=\"axis\" d=\"M{at} 20V32\"/><text x=\"{at}\" y=\"43\" text-anchor=\"middle\">{words} {}</text>",
            short(length)
        );
    }
    let at = x(height.0);
    let _ = write!(
        svg,
        "<path class=\"here\" d=\"M{at} 14V36\"/><text x=\"{at}\" y=\"11\" text-anchor=\"middle\">{} mm</text></svg>",
        short(height.0)
    );
    Plot { title, svg }
}
