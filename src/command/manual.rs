//! `stavegauge manual`: the manual page, all commands on it.

use super::{CLEAN, Cli, Failure, output};
use clap::{Command, CommandFactory};
use clap_mangen::Man;
use std::io::{self, Write};

pub(super) fn run() -> Result<u8, Failure> {
    let page = page().map_err(|error| Failure::new(format!("the manual page could not be written: {error}"), ""))?;
    output::write(&page, None)?;
    Ok(CLEAN)
}

fn page() -> io::Result<String> {
    let mut command = Cli::command().disable_help_subcommand(true);
    command.build();
    let man = Man::new(command.clone());
    let head = rendered(|out| man.render_title(out))?;
    let (definitions, title): (Vec<&str>, Vec<&str>) = head.lines().partition(|line| defines(line));
    let mut page = [title, definitions].concat().join("\n") + "\n";
    page.push_str(&plain(&rendered(|out| {
        man.render_name_section(out)?;
        man.render_synopsis_section(out)?;
        man.render_description_section(out)?;
        man.render_options_section(out)
    })?));
    for command in command.get_subcommands().filter(|command| !command.is_hide_set()) {
        page.push_str(&section(command)?);
    }
    Ok(page)
}

/// A command as a section: what would be its own page, one level down. Its examples keep their lines.
fn section(command: &Command) -> io::Result<String> {
    let man = Man::new(command.clone());
    let own = rendered(|out| {
        man.render_synopsis_section(out)?;
        man.render_description_section(out)?;
        man.render_options_section(out)
    })?;
    let mut text = format!(".SH \"{}\"\n{}", command.get_name().to_uppercase(), plain(&own).replace(".SH ", ".SS "));
    if command.get_after_long_help().is_some() {
        let more = rendered(|out| man.render_extra_section(out))?;
        text.push_str(&plain(&more).replace(".SH EXTRA\n", ".SS MORE\n.nf\n"));
        text.push_str(".fi\n");
    }
    Ok(text)
}

fn rendered(render: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> io::Result<String> {
    let mut out = Vec::new();
    render(&mut out)?;
    Ok(String::from_utf8_lossy(&out).into_owned())
}

/// Whether a line only defines what stands for an apostrophe; once a page is enough.
fn defines(line: &str) -> bool {
    line.starts_with(".ie ") || line.starts_with(".el ")
}

fn plain(text: &str) -> String {
    text.lines().filter(|line| !defines(line)).flat_map(|line| [line, "\n"]).collect()
}
