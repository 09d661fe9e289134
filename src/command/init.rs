//! `stavegauge init`: a commented house style to begin with.

use super::audit::to_json;
use super::style::{FILE_NAME, InForce};
use super::{CLEAN, Failure, InitArgs, output, work};
use crate::report::style_schema::style_schema;
use crate::rule::Examples;

const STYLE: &str = include_str!("init.toml");

pub(super) fn run(args: &InitArgs) -> Result<u8, Failure> {
    let folder = &args.folder;
    if !folder.is_dir() {
        return Err(Failure::new(format!("there is no folder {}", folder.display()), "Make it, or choose another."));
    }
    let file = folder.join(FILE_NAME);
    output::new_file(&file)?;
    let mut text = String::new();
    if let Some(schema) = &args.schema {
        output::new_file(schema)?;
        let InForce { house, rules, .. } = InForce::built_in(Examples::PassedOver)?;
        output::write(&to_json(&style_schema(&rules, &house))?, Some(schema))?;
        let path = schema.canonicalize().ok().zip(folder.canonicalize().ok());
        let path = path.and_then(|(schema, folder)| schema.strip_prefix(folder).map(std::path::Path::to_owned).ok());
        let path = path.unwrap_or_else(|| schema.clone());
        text = format!("#:schema ./{}\n", path.display());
    }
    text.push_str(STYLE);
    output::write(&text, Some(&file))?;
    work::talk(&format!("{} written: all in it is commented out; `stavegauge explain --house` shows what is in force.", file.display()));
    Ok(CLEAN)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::house::{House, Style};

    /// What is commented out is meant to be used: with the comment signs gone it must be a house style.
    #[test]
    fn the_commented_lines_are_a_house_style() {
        let lines = STYLE.lines().filter_map(|line| line.strip_prefix("#-")).map(|line| line.trim_start().to_owned() + "\n");
        let text: String = lines.collect();
        assert!(text.lines().count() > 40, "{text}");
        let style = Style::read("init.toml", &text).unwrap_or_else(|error| panic!("{error}\n{text}"));
        let mut house = House::built_in().expect("it loads");
        house.follow(&style).unwrap_or_else(|error| panic!("{error}"));
        let InForce { mut rules, .. } = InForce::built_in(Examples::PassedOver).map_err(|failure| failure.what).expect("it loads");
        for setting in house.rules_of(&style).unwrap_or_else(|error| panic!("{error}")) {
            rules.follow(&setting, "init.toml").unwrap_or_else(|(_, why)| panic!("{why}"));
        }
        assert!(Style::read("init.toml", STYLE).is_ok(), "and as it is written, one that says nothing");
    }
}
