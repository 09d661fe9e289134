//! `stavegauge manual`: the manual page, all commands on it.

use super::{CLEAN, Cli, Failure, output};
use clap::CommandFactory;
use clap_mangen::Man;

pub(super) fn run() -> Result<u8, Failure> {
    let page = page().map_err(|error| Failure::new(format!("the manual page could not be written: {error}"), ""))?;
    output::write(&page, None)?;
    Ok(CLEAN)
}

fn page() -> std::io::Result<String> {
    let mut command = Cli::command().disable_help_subcommand(true);
    command.build();
    let man = Man::new(command.clone());
    let mut page = Vec::new();
    man.render_title(&mut page)?;
    man.render_name_section(&mut page)?;
    man.render_synopsis_section(&mut page)?;
    man.render_description_section(&mut page)?;
    man.render_options_section(&mut page)?;
    let mut page = String::from_utf8_lossy(&page).into_owned();
    for command in command.get_subcommands().filter(|command| !command.is_hide_set()) {
        page.push_str(&section(command)?);
    }
    Ok(page)
}

/// A command as a section of the page: what would be its own page, one level down.
fn section(command: &clap::Command) -> std::io::Result<String> {
    let man = Man::new(command.clone());
    let mut own = Vec::new();
    man.render_synopsis_section(&mut own)?;
    man.render_description_section(&mut own)?;
    man.render_options_section(&mut own)?;
    if command.get_after_long_help().is_some() {
        man.render_extra_section(&mut own)?;
    }
    let mut text = format!(".SH \"{}\"\n", command.get_name().to_uppercase());
    for line in String::from_utf8_lossy(&own).lines() {
        // What every page says at its head, once is enough.
        if line.starts_with(".ie ") || line.starts_with(".el ") {
            continue;
        }
        text.push_str(&line.replacen(".SH EXTRA", ".SS MORE", 1).replacen(".SH ", ".SS ", 1));
        text.push('\n');
    }
    Ok(text)
}
