//! `stavegauge draw`: one page as a picture.

use super::output;
use super::paths::Item;
use super::style::Begun;
use super::{CLEAN, DrawArgs, Failure};
use crate::audit::score_of;
use crate::house::FirstPage;
use crate::musicxml::{Damage, Source};
use crate::page::lay_out;
use crate::picture::{self, PagePicture};
use std::path::Path;

/// Dots of a PNG for each millimetre: 200 an inch.
const DOTS: f32 = 200.0 / 25.4;

pub(super) fn run(args: &DrawArgs) -> Result<u8, Failure> {
    let (items, in_force) = Begun::with(std::slice::from_ref(&args.path), args.house.as_deref())?.under_style()?;
    let [item] = &items[..] else {
        return Err(Failure::new("one score is drawn at a time", "Name one file."));
    };
    if let Some(out) = &args.out {
        output::new_file(out)?;
    }
    let sources = match item {
        Item::StandardInput => Source::standard_input(),
        Item::File { path, .. } => Source::open(path),
        Item::Unreadable { damage, .. } => Err(damage.clone()),
    };
    let damaged = |damage: Damage| {
        let damage = damage.account();
        Failure::new(format!("{}: {}", item.name(), damage.what), damage.help)
    };
    let sources = sources.map_err(damaged)?;
    let [source] = &sources[..] else {
        return Err(Failure::new("the file holds several scores", "Take out the one that is meant."));
    };
    let mut score = score_of(source).map_err(damaged)?;
    score.instructions.begins_verso = in_force.house.first_page == Some(FirstPage::Verso);
    let layout = lay_out(&score, &score.instructions);
    let pages = layout.pages.len();
    if !layout.pages_known {
        let what = format!("{} does not state where its pages begin", item.name());
        return Err(Failure::new(what, "Export it with its breaks, or cast it off: stavegauge castoff --write."));
    }
    let index = usize::from(args.page) - 1;
    if index >= pages {
        return Err(Failure::new(format!("there is no page {}: {} has {pages}", args.page, item.name()), "Pages are counted from 1."));
    }
    let page = picture::page(&score, &layout, index).map_err(|why| Failure::new(format!("{} cannot be drawn: {why}", item.name()), ""))?;
    let title = format!("{}, page {}", item.name(), page.label);
    match &args.out {
        Some(out) if out.extension().is_some_and(|end| end.eq_ignore_ascii_case("png")) => output::write_bytes(&png(&page, &title)?, out)?,
        out => output::write(&page.document(&title), out.as_deref().map(Path::new))?,
    }
    Ok(CLEAN)
}

/// The page as a PNG.
fn png(page: &PagePicture, title: &str) -> Result<Vec<u8>, Failure> {
    let failed = |what: &str| Failure::new(format!("the picture could not be made: {what}"), "Draw it as .svg.");
    let mut options = resvg::usvg::Options::default();
    options.fontdb_mut().load_system_fonts();
    let tree = resvg::usvg::Tree::from_str(&page.document(title), &options).map_err(|error| failed(&error.to_string()))?;
    // The size of the tree is that of the sheet at 96 dots an inch.
    let scale = DOTS * 25.4 / 96.0;
    let size = tree.size().to_int_size().scale_by(scale).ok_or_else(|| failed("the sheet has no size"))?;
    let mut pixmap = resvg::tiny_skia::Pixmap::new(size.width(), size.height()).ok_or_else(|| failed("the sheet is too large"))?;
    resvg::render(&tree, resvg::tiny_skia::Transform::from_scale(scale, scale), &mut pixmap.as_mut());
    pixmap.encode_png().map_err(|error| failed(&error.to_string()))
}
