//! The JSON Schema beside the format knows the same keys and words as the reader.

use bellwire::{frame::Class, setpoint::Stop};
use bellwire_cli::{agreement::keys, messages::Way};
use serde_json::Value;
use std::collections::BTreeSet;

fn schema() -> Value {
    serde_json::from_str(include_str!("../../agreement.schema.json")).expect("the schema is JSON")
}

fn keys_of(schema: &Value) -> BTreeSet<&str> {
    assert_eq!(schema["additionalProperties"], false);
    schema["properties"].as_object().expect("properties").keys().map(String::as_str).collect()
}

#[test]
fn the_schema_has_the_keys_of_the_reader() {
    let schema = schema();
    let part = |name: &str| keys_of(&schema["$defs"][name]);
    assert_eq!(keys_of(&schema), BTreeSet::from(keys::FILE));
    assert_eq!(part("link"), BTreeSet::from(keys::LINK));
    assert_eq!(part("board"), BTreeSet::from(keys::BOARD));
    assert_eq!(part("message"), BTreeSet::from(keys::MESSAGE));
    assert_eq!(part("field"), BTreeSet::from(keys::FIELD));
}

#[test]
fn the_schema_has_the_words_of_the_reader() {
    let schema = schema();
    let words = |of: &str, key: &str| -> Vec<String> {
        let list = schema["$defs"][of]["properties"][key]["enum"].as_array().expect("enum").clone();
        list.into_iter().map(|word| word.as_str().expect("text").to_owned()).collect()
    };
    let mut classes = words("message", "class");
    let mut wanted = Class::ALL.map(|class| class.name().to_owned()).to_vec();
    classes.sort();
    wanted.sort();
    assert_eq!(classes, wanted);
    assert_eq!(words("message", "way"), Way::ALL.map(Way::name));
    assert_eq!(words("message", "stop"), Stop::ALL.map(Stop::name));
    assert_eq!(words("field", "type"), keys::TYPES);
}
