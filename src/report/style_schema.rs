//! The JSON Schema of a house style, for editors that complete and check it: the shape from the types, the names of rules,
//! limits and readers from what is loaded.

use crate::house::{House, StyleFile};
use crate::rule::RuleBook;
use schemars::generate::SchemaSettings;
use serde_json::{Value, json};

/// The schema.
pub fn style_schema(rules: &RuleBook, house: &House) -> Value {
    let settings = SchemaSettings::draft2020_12().for_deserialize();
    let mut schema = settings.into_generator().into_root_schema_for::<StyleFile>().to_value();
    let ids: Vec<&str> = rules.rules().map(|rule| &*rule.id).collect();
    let roles: Vec<&str> = house.roles.names().collect();
    let papers: Vec<&str> = house.papers.all().iter().map(|paper| paper.name.as_str()).collect();
    set(&mut schema, "/properties/rules/propertyNames", json!({ "anyOf": [{ "enum": ids }, { "type": "string" }] }));
    set(&mut schema, "/properties/roles/propertyNames", json!({ "enum": roles }));
    // A house may bring rules and papers of its own, so their names are offered and not asked for.
    let offered = |names: &[&str]| json!({ "anyOf": [{ "enum": names }, { "type": "string" }] });
    set(&mut schema, "/properties/must-judge/items", offered(&ids));
    set(&mut schema, "/properties/papers/items", offered(&papers));
    for (place, names) in
        [("/$defs/StetTable/properties/rule", offered(&ids)), ("/$defs/CopyTable/properties/role", json!({ "enum": roles }))]
    {
        let described = described(&schema, place, names);
        set(&mut schema, place, described);
    }
    schema
}

/// Puts a value at a place whose parent is there.
fn set(schema: &mut Value, place: &str, value: Value) {
    let Some((parent, key)) = place.rsplit_once('/') else { return };
    if let Some(parent) = schema.pointer_mut(parent).and_then(Value::as_object_mut) {
        parent.insert(key.to_owned(), value);
    }
}

/// A value with the description that stands at a place.
fn described(schema: &Value, place: &str, mut value: Value) -> Value {
    if let Some(description) = schema.pointer(place).and_then(|old| old.get("description")) {
        value["description"] = description.clone();
    }
    value
}
