//! The JSON Schema of the report, as it is in `docs/json-schema.json`, and a validator of the part of draft 2020-12 that it
//! uses. A keyword that the validator does not know is a failure, not a keyword without effect.

use std::sync::LazyLock;

use serde_json::Value;

/// The schema itself.
pub static SCHEMA: LazyLock<Value> =
    LazyLock::new(|| serde_json::from_str(include_str!("../../../docs/json-schema.json")).unwrap());

/// What of a document does not fit the schema, at most five complaints; empty if it is valid.
pub fn complaints(document: &Value) -> Vec<String> {
    let mut found = Vec::new();
    check(&SCHEMA, &SCHEMA, document, "", &mut found);
    found.truncate(5);
    found
}

/// True if a value fits a schema; `whole` is what its references are about.
pub fn fits(whole: &Value, schema: &Value, value: &Value) -> bool {
    let mut found = Vec::new();
    check(whole, schema, value, "", &mut found);
    found.is_empty()
}

fn check(whole: &Value, schema: &Value, value: &Value, at: &str, found: &mut Vec<String>) {
    let keywords = match schema {
        Value::Bool(true) => return,
        Value::Bool(false) => return found.push(format!("{at} may not be there")),
        Value::Object(keywords) => keywords,
        other => panic!("{other} is no schema"),
    };
    for (keyword, wanted) in keywords {
        let complaint = match keyword.as_str() {
            "$schema" | "$defs" | "title" | "description" => None,
            // Looked at with their partners, `if` and `properties`.
            "then" | "else" | "additionalProperties" => None,
            "$ref" => {
                let path = wanted.as_str().unwrap().strip_prefix('#').unwrap();
                check(whole, whole.pointer(path).unwrap(), value, at, found);
                None
            }
            "allOf" => {
                schemas(wanted).iter().for_each(|one| check(whole, one, value, at, found));
                None
            }
            "anyOf" | "oneOf" => alternatives(whole, schemas(wanted), keyword, value, at, found),
            "if" => {
                let branch = if fits(whole, wanted, value) { "then" } else { "else" };
                if let Some(branch) = keywords.get(branch) {
                    check(whole, branch, value, at, found);
                }
                None
            }
            "const" => (value != wanted).then(|| format!("is {value}, not {wanted}")),
            "enum" => {
                let listed = schemas(wanted).contains(value);
                (!listed).then(|| format!("{value} is none of the words"))
            }
            "type" => {
                let right = match wanted.as_str().unwrap() {
                    "object" => value.is_object(),
                    "array" => value.is_array(),
                    "string" => value.is_string(),
                    "number" => value.is_number(),
                    "integer" => value.is_i64() || value.is_u64(),
                    "boolean" => value.is_boolean(),
                    "null" => value.is_null(),
                    other => panic!("a type {other}"),
                };
                (!right).then(|| format!("{value:.60} is no {wanted}"))
            }
            "minimum" | "maximum" | "exclusiveMinimum" => {
                let limit = wanted.as_f64().unwrap();
                let right = value.as_f64().is_none_or(|number| match keyword.as_str() {
                    "minimum" => number >= limit,
                    "maximum" => number <= limit,
                    _ => number > limit,
                });
                (!right).then(|| format!("{value} is beyond the {keyword} of {limit}"))
            }
            "minItems" | "maxItems" | "minLength" => {
                let limit = wanted.as_u64().unwrap() as usize;
                let right = match (keyword.as_str(), value) {
                    ("minItems", Value::Array(items)) => items.len() >= limit,
                    ("maxItems", Value::Array(items)) => items.len() <= limit,
                    ("minLength", Value::String(text)) => text.chars().count() >= limit,
                    _ => true,
                };
                (!right).then(|| format!("{keyword} is {limit}"))
            }
            "items" => {
                for (k, item) in value.as_array().into_iter().flatten().enumerate() {
                    check(whole, wanted, item, &format!("{at}/{k}"), found);
                }
                None
            }
            "required" => value.as_object().and_then(|fields| {
                let missing = schemas(wanted)
                    .iter()
                    .find(|name| !fields.contains_key(name.as_str().unwrap()));
                missing.map(|name| format!("has no {name}"))
            }),
            "properties" => None,
            "propertyNames" => {
                for name in value.as_object().into_iter().flat_map(|fields| fields.keys()) {
                    check(whole, wanted, &name.as_str().into(), &format!("{at}/{name}"), found);
                }
                None
            }
            other => panic!("the validator does not know the keyword {other}"),
        };
        found.extend(complaint.map(|complaint| format!("{at}: {complaint}")));
    }
    let known = keywords.get("properties").and_then(Value::as_object);
    for (name, field) in value.as_object().into_iter().flatten() {
        let at = format!("{at}/{name}");
        let schema = known.and_then(|known| known.get(name));
        if let Some(schema) = schema.or(keywords.get("additionalProperties")) {
            check(whole, schema, field, &at, found);
        }
    }
}

fn schemas(value: &Value) -> &[Value] {
    value.as_array().unwrap()
}

/// Exactly one of some schemas, or at least one. Of several that do not fit, the complaints of the one that comes nearest.
fn alternatives(
    whole: &Value,
    schemas: &[Value],
    keyword: &str,
    value: &Value,
    at: &str,
    found: &mut Vec<String>,
) -> Option<String> {
    let complaints = schemas.iter().map(|schema| {
        let mut found = Vec::new();
        check(whole, schema, value, at, &mut found);
        found
    });
    let complaints: Vec<Vec<String>> = complaints.collect();
    let fitting = complaints.iter().filter(|complaints| complaints.is_empty()).count();
    if fitting == 0 {
        let deepest = |complaints: &&Vec<String>| {
            complaints.iter().map(|c| c.split(' ').next().map_or(0, str::len)).max()
        };
        found.extend(complaints.iter().max_by_key(deepest).into_iter().flatten().cloned());
    }
    (keyword == "oneOf" && fitting > 1).then(|| "fits several of what it can be".to_owned())
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::fits;

    /// Each keyword refuses what it is there to refuse.
    #[test]
    fn the_validator_bites() {
        for (schema, right, wrong) in [
            (json!({ "type": "number" }), json!(1.5), json!("1.5")),
            (json!({ "type": "integer" }), json!(1), json!(1.5)),
            (json!({ "type": "null" }), json!(null), json!(0)),
            (json!({ "const": true }), json!(true), json!(false)),
            (json!({ "enum": ["a", "b"] }), json!("b"), json!("c")),
            (json!({ "minimum": 0 }), json!(0), json!(-0.1)),
            (json!({ "maximum": 1 }), json!(1), json!(1.1)),
            (json!({ "exclusiveMinimum": 0 }), json!(0.1), json!(0)),
            (json!({ "minLength": 1 }), json!("a"), json!("")),
            (json!({ "minItems": 1 }), json!([1]), json!([])),
            (json!({ "maxItems": 1 }), json!([1]), json!([1, 2])),
            (json!({ "items": { "type": "null" } }), json!([null]), json!([null, 1])),
            (json!({ "required": ["a"] }), json!({ "a": 1 }), json!({ "b": 1 })),
            (json!({ "properties": { "a": false } }), json!({}), json!({ "a": 1 })),
            (json!({ "additionalProperties": false }), json!({}), json!({ "a": 1 })),
            (
                json!({ "properties": { "a": true }, "additionalProperties": { "type": "null" } }),
                json!({ "a": 1, "b": null }),
                json!({ "a": 1, "b": 1 }),
            ),
            (json!({ "propertyNames": { "enum": ["a"] } }), json!({ "a": 1 }), json!({ "b": 1 })),
            (json!({ "anyOf": [{ "minimum": 2 }, { "maximum": 0 }] }), json!(3), json!(1)),
            (json!({ "oneOf": [{ "minimum": 2 }, { "minimum": 4 }] }), json!(3), json!(5)),
            (json!({ "allOf": [{ "minimum": 2 }, { "maximum": 3 }] }), json!(3), json!(4)),
            (
                json!({ "if": { "const": 1 }, "then": false, "else": { "const": 2 } }),
                json!(2),
                json!(1),
            ),
            (json!({ "if": { "const": 1 }, "else": { "const": 2 } }), json!(1), json!(3)),
            (json!({ "$ref": "#/items" , "items": { "const": 1 } }), json!(1), json!(2)),
        ] {
            assert!(fits(&schema, &schema, &right), "{schema}: {right}");
            assert!(!fits(&schema, &schema, &wrong), "{schema}: {wrong}");
        }
    }

    #[test]
    #[should_panic(expected = "does not know the keyword")]
    fn an_unknown_keyword_is_a_failure() {
        let schema = json!({ "minimun": 1 });
        fits(&schema, &schema, &json!(0));
    }
}
