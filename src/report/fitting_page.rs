//! `fit --report html`: what fits, as a page with a plot: staff height against pages, one mark a choice, papers by their shapes.

use super::fitting::{DocumentFit, best};
use super::terminal::short;
use crate::picture::escaped;
use crate::repair::{Choice, Fit};
use minijinja::value::Serde;
use minijinja::{Environment, UndefinedBehavior, Value, context};
use serde::Serialize;
use std::fmt::Write;

const TEMPLATE: &str = include_str!("fitting_page.html");
/// Width and height of a plot, and its margins: left, bottom.
const PLOT: [f64; 2] = [560.0, 300.0];
const AXES: [f64; 2] = [44.0, 36.0];

/// The shapes of papers, in their order.
const SHAPES: [&str; 5] = ["square", "triangle", "lozenge", "triangle on its point", "bar"];

#[derive(Serialize)]
struct Shown {
    name: String,
    reader: Option<String>,
    assumed: Vec<String>,
    impossible: Option<String>,
    best: String,
    plot: String,
    papers: Vec<String>,
    rows: Vec<Vec<String>>,
}

/// Writes the page.
///
/// # Errors
/// The template's, which is a fault of the program.
pub fn write(documents: &[DocumentFit]) -> Result<String, minijinja::Error> {
    let mut environment = Environment::new();
    environment.set_undefined_behavior(UndefinedBehavior::Strict);
    // A name that ends so has its values escaped.
    environment.add_template("fit.html", TEMPLATE)?;
    let shown: Vec<Shown> = documents.iter().map(shown).collect();
    environment.get_template("fit.html")?.render(context! { documents => Value::from(Serde(&shown)) })
}

fn shown(document: &DocumentFit) -> Shown {
    let member = document.member.as_ref().map(|member| format!(" ({member})")).unwrap_or_default();
    let fit = document.fit.as_ref();
    Shown {
        name: format!("{}{member}", document.path),
        reader: document.reader.clone(),
        assumed: document.assumed.clone(),
        impossible: fit.err().map(|(what, help)| format!("{what}. {help}")),
        best: fit.map(best).unwrap_or_default(),
        plot: fit.map(plot).unwrap_or_default(),
        papers: fit
            .map(papers)
            .unwrap_or_default()
            .iter()
            .enumerate()
            .map(|(index, paper)| format!("{paper}: {}", SHAPES[index % 5]))
            .collect(),
        rows: fit.map(rows).unwrap_or_default(),
    }
}

fn papers(fit: &Fit) -> Vec<String> {
    let mut papers: Vec<String> = Vec::new();
    for choice in &fit.choices {
        if !papers.contains(&choice.paper) {
            papers.push(choice.paper.clone());
        }
    }
    papers
}

/// Choices that no other beats, and the best.
fn rows(fit: &Fit) -> Vec<Vec<String>> {
    let shown = fit.choices.iter().enumerate().filter(|(index, choice)| choice.unbeaten || fit.best == Some(*index));
    let row = |(index, choice): (usize, &Choice)| {
        let fitted = choice.fitted.as_ref().ok()?;
        let margins = choice.plan.page.margins.map(|margin| short(margin.0)).join(" / ");
        Some(vec![
            if fit.best == Some(index) { "best".to_owned() } else { String::new() },
            choice.paper.clone(),
            short(choice.plan.staff.0),
            margins,
            fitted.systems_a_page.to_string(),
            fitted.figures.pages.to_string(),
            fitted.figures.leaves.to_string(),
            format!("{:.0} / {:.0}", fitted.across[0] * 100.0, fitted.across[1] * 100.0),
            if fit.turns_matter { choice.bad_turns().unwrap_or(0).to_string() } else { String::new() },
            if choice.refused { format!("{}, paper refused", choice.suits.name()) } else { choice.suits.name().to_owned() },
        ])
    };
    shown.filter_map(row).collect()
}

/// A choice that can be cast off, in the plot.
struct Point<'a> {
    index: usize,
    choice: &'a Choice,
    staff: f64,
    pages: f64,
}

/// What the axes of a plot span.
struct Axes {
    /// Staff heights, from and to.
    staffs: [f64; 2],
    /// Most pages.
    most: f64,
}

impl Axes {
    fn of(points: &[Point]) -> Self {
        let least = points.iter().map(|point| point.staff).fold(f64::INFINITY, f64::min);
        let most = points.iter().map(|point| point.staff).fold(0.0, f64::max);
        let pages = points.iter().map(|point| point.pages).fold(0.0, f64::max);
        Self { staffs: [least - 0.25, most + 0.25], most: pages + 1.0 }
    }

    fn x(&self, staff: f64) -> f64 {
        AXES[0] + (staff - self.staffs[0]) / (self.staffs[1] - self.staffs[0]) * (PLOT[0] - AXES[0] - 12.0)
    }

    fn y(&self, pages: f64) -> f64 {
        PLOT[1] - AXES[1] - pages / self.most * (PLOT[1] - AXES[1] - 12.0)
    }

    fn draw(&self, points: &[Point], svg: &mut String) {
        let (left, bottom) = (short(AXES[0]), short(PLOT[1] - AXES[1]));
        let _ = write!(svg, "<path class=\"axis\" d=\"M{left} 8V{bottom}H{}\"/>", short(PLOT[0] - 8.0));
        let mut heights: Vec<f64> = points.iter().map(|point| point.staff).collect();
        heights.sort_unstable_by(f64::total_cmp);
        heights.dedup();
        for height in heights {
            let (x, y) = (short(self.x(height)), short(PLOT[1] - AXES[1] + 14.0));
            let _ = write!(svg, "<text x=\"{x}\" y=\"{y}\" text-anchor=\"middle\">{}</text>", short(height));
        }
        let step = (self.most / 6.0).ceil().max(1.0);
        let mut pages = 0.0;
        while pages <= self.most {
            let (x, y) = (short(AXES[0] - 6.0), short(self.y(pages)));
            let _ = write!(svg, "<text x=\"{x}\" y=\"{y}\" dy=\"4\" text-anchor=\"end\">{pages:.0}</text>");
            pages += step;
        }
        let (right, foot) = (short(PLOT[0] - 8.0), short(PLOT[1] - 4.0));
        let _ = write!(
            svg,
            "<text x=\"{right}\" y=\"{foot}\" text-anchor=\"end\">staff height, mm</text><text x=\"{left}\" y=\"12\" dx=\"6\">pages</text>"
        );
    }
}

/// Staff height against pages; each paper has its shape, what no other choice beats is filled.
fn plot(fit: &Fit) -> String {
    let points: Vec<Point> = fit
        .choices
        .iter()
        .enumerate()
        .filter_map(|(index, choice)| {
            let pages = u32::try_from(choice.fitted.as_ref().ok()?.figures.pages).ok()?;
            Some(Point { index, choice, staff: choice.plan.staff.0, pages: f64::from(pages) })
        })
        .collect();
    if points.is_empty() {
        return String::new();
    }
    let axes = Axes::of(&points);
    let papers = papers(fit);
    let [width, height] = PLOT;
    let mut svg = format!(
        "<svg class=\"plot\" role=\"img\" viewBox=\"0 0 {width} {height}\" width=\"{width}\" height=\"{height}\" aria-label=\"Pages against staff height, {} choices\">",
        points.len()
    );
    axes.draw(&points, &mut svg);
    for Point { index, choice, staff, pages } in &points {
        let paper = papers.iter().position(|paper| *paper == choice.paper).unwrap_or(0);
        let best = fit.best == Some(*index);
        // Papers stand side by side, so that their marks do not hide each other.
        #[expect(clippy::cast_precision_loss, reason = "a few papers")]
        let aside = (paper as f64 - (papers.len() as f64 - 1.0) / 2.0) * 9.0;
        let class = match (best, choice.unbeaten) {
            (true, _) => "best",
            (_, true) => "unbeaten",
            _ => "other",
        };
        let told = if best { ", the best" } else { "" };
        let says = format!("{}, {} mm: {pages} pages, {}{told}", choice.paper, short(*staff), choice.suits.name());
        let shape = mark(paper, (axes.x(*staff) + aside, axes.y(*pages)));
        let _ = write!(svg, "<path class=\"{class}\" d=\"{shape}\"><title>{}</title></path>", escaped(&says));
    }
    svg.push_str("</svg>");
    svg
}

/// The shape of a paper's marks.
fn mark(paper: usize, (x, y): (f64, f64)) -> String {
    let at = |dx: f64, dy: f64| format!("{} {}", short(x + dx), short(y + dy));
    match paper % 5 {
        0 => format!("M{}L{}L{}L{}Z", at(-4.0, -4.0), at(4.0, -4.0), at(4.0, 4.0), at(-4.0, 4.0)),
        1 => format!("M{}L{}L{}Z", at(0.0, -5.0), at(5.0, 4.0), at(-5.0, 4.0)),
        2 => format!("M{}L{}L{}L{}Z", at(0.0, -5.5), at(5.5, 0.0), at(0.0, 5.5), at(-5.5, 0.0)),
        3 => format!("M{}L{}L{}Z", at(0.0, 5.0), at(5.0, -4.0), at(-5.0, -4.0)),
        _ => format!("M{}L{}L{}L{}Z", at(-5.0, -2.0), at(5.0, -2.0), at(5.0, 2.0), at(-5.0, 2.0)),
    }
}
