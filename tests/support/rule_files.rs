//! The rule files as plain TOML: what is to be told of a rule, taken from its file and not from the library.

#![allow(dead_code, reason = "each test target uses its own part of this module")]

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use toml::Value;

/// A file of `rules/`, without its extension.
pub fn toml_file(name: &str) -> Value {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("rules").join(format!("{name}.toml"));
    let text = fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    Value::Table(toml::from_str(&text).unwrap_or_else(|error| panic!("{}: {error}", path.display())))
}

/// Every rule file, by the id of its rule. What has no id is data for the rules.
pub fn rule_files() -> BTreeMap<String, Value> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("rules");
    let names = fs::read_dir(folder).expect("the rules are there").flatten().map(|entry| entry.path());
    let names = names.filter_map(|path| Some(path.file_stem()?.to_string_lossy().into_owned()));
    let rules: BTreeMap<String, Value> =
        names.map(|name| toml_file(&name)).filter_map(|rule| Some((rule.get("id")?.as_str()?.to_owned(), rule))).collect();
    assert!(!rules.is_empty());
    rules
}

/// The readers of `rules/roles.toml`, each filled up from the groups it is like: its own words first, then the groups in
/// their order; a value with its source is taken whole.
pub fn readers() -> Vec<Value> {
    let file = toml_file("roles");
    let groups = file.get("group").and_then(Value::as_table).cloned().unwrap_or_default();
    let filled = |role: &Value| {
        let mut role = role.as_table().expect("a table").clone();
        let like = role.remove("like").and_then(|like| like.as_array().cloned()).unwrap_or_default();
        for group in like.iter().filter_map(Value::as_str) {
            lay_under(&mut role, groups[group].as_table().expect("a group"));
        }
        Value::Table(role)
    };
    list(&file, "role").iter().map(filled).collect()
}

fn lay_under(table: &mut toml::Table, below: &toml::Table) {
    for (key, value) in below {
        match (table.get_mut(key), value) {
            (None, _) => drop(table.insert(key.clone(), value.clone())),
            (Some(Value::Table(own)), Value::Table(below)) if !own.contains_key("source") => lay_under(own, below),
            _ => {}
        }
    }
}

/// A text of a table.
pub fn text<'a>(table: &'a Value, key: &str) -> &'a str {
    table.get(key).and_then(Value::as_str).unwrap_or_else(|| panic!("no text {key}"))
}

/// The entries of a list, none where there is no such list.
pub fn list<'a>(table: &'a Value, key: &str) -> &'a [Value] {
    table.get(key).and_then(Value::as_array).map_or(&[], Vec::as_slice)
}

/// What people call a level, beside its name.
pub fn level(name: &str) -> String {
    let words = match name {
        "error" => "must change",
        "warning" => "should change",
        "note" => "query",
        other => panic!("no level {other}"),
    };
    format!("{words} ({name})")
}

/// Words with a capital first.
fn capital(words: &str) -> String {
    let mut letters = words.trim().chars();
    let first = letters.next().map(|letter| letter.to_uppercase().to_string()).unwrap_or_default();
    first + letters.as_str()
}

/// A number without the fraction of a whole one.
pub fn number(value: &Value) -> String {
    match value {
        Value::Integer(whole) => whole.to_string(),
        Value::Float(number) => number.to_string(),
        other => panic!("{other} is no number"),
    }
}

/// What a page about a rule must tell, as it is written in the file.
pub fn told(rule: &Value) -> Vec<String> {
    let mut told = vec![text(rule, "id").to_owned(), text(rule, "title").to_owned(), capital(text(rule, "why"))];
    told.push(format!("Family: {}", text(rule, "family")));
    for source in list(rule, "sources") {
        told.push(format!("{}: {} [{}]", text(source, "title"), text(source, "says"), text(source, "mark")));
    }
    for case in list(rule, "case") {
        told.push(level(text(case, "level")));
        told.push(text(case, "when").trim().to_owned());
    }
    for (name, limit) in rule.get("limits").and_then(Value::as_table).into_iter().flatten() {
        told.push(format!("limit.{name}: {}", number(limit.get("value").expect("a limit has a value"))));
        told.push(capital(text(limit, "what")));
        told.push(text(limit, "source").to_owned());
        told.extend(
            limit
                .get("unit")
                .and_then(Value::as_str)
                .filter(|unit| *unit == "mm" || *unit == "pt")
                .map(|unit| format!("limit.{name}: {} {unit}", number(limit.get("value").expect("a limit has a value")))),
        );
        for (_, one) in limit.get("role").and_then(Value::as_table).into_iter().flatten() {
            told.push(number(one));
        }
    }
    told.extend(list(rule, "exemptions").iter().filter_map(Value::as_str).map(capital));
    for reason in list(rule, "reason") {
        told.extend([text(reason, "says"), text(reason, "effect"), text(reason, "when")].map(str::to_owned));
    }
    for example in list(rule, "example") {
        let breaks = example.get("breaks").and_then(Value::as_str);
        let (what, says) = match breaks {
            Some(name) => ("Breaks it", format!("It says {}", level(name))),
            None => ("Keeps it", "It says nothing.".to_owned()),
        };
        told.extend([format!("{what}: {}", text(example, "name")), says]);
    }
    told.extend(list(rule, "aliases").iter().filter_map(Value::as_str).map(str::to_owned));
    told
}
