//! Silence law: "not computed", "endless" and "zero" are three different things in the JSON, and no number is −0.

use gapwright::findings::check;
use gapwright::layout::Layout;
use serde_json::Value;

use super::harness::{FEW, holds};
use crate::support::dice::Dice;
use crate::support::{normal, schema};

pub fn law(layout: &Layout, _: &mut Dice) -> Result<(), String> {
    let report = format!("{:?}", check(layout));
    if let Some(word) =
        ["NaN", "inf,", "inf)", "inf ", "inf}"].iter().find(|w| report.contains(**w))
    {
        return Err(format!("{word} is in the report"));
    }
    let document = normal::json(layout);
    // A number that is none would be null, which the schema allows only where that means "not computed".
    let mut wrong = schema::complaints(&document);
    walk("", &document, &mut wrong);
    if wrong.is_empty() { Ok(()) } else { Err(wrong.join("\n")) }
}

/// Numbers that are −0, and situations that mix up what is not computed, endless and zero.
fn walk(at: &str, value: &Value, wrong: &mut Vec<String>) {
    match value {
        Value::Number(number) => {
            if number.as_f64().is_some_and(|n| n == 0.0 && n.is_sign_negative()) {
                wrong.push(format!("{at} is -0"));
            }
        }
        Value::Array(all) => {
            all.iter().enumerate().for_each(|(k, v)| walk(&format!("{at}[{k}]"), v, wrong));
        }
        Value::Object(all) => {
            if let Some(longest) = all.get("longest_s") {
                silent(at, &all["share"], longest, wrong);
            }
            all.iter().for_each(|(k, v)| walk(&format!("{at}.{k}"), v, wrong));
        }
        Value::Null | Value::Bool(_) | Value::String(_) => {}
    }
}

/// Only what never conflicts has a longest conflict of zero; what was not computed has no share either, or a share above
/// zero and a reason; only what conflicts can be endless.
fn silent(at: &str, share: &Value, longest: &Value, wrong: &mut Vec<String>) {
    let conflicts = share.as_f64().map(|share| share > 0.0);
    let right = match (conflicts, longest.as_object().and_then(|map| map.iter().next())) {
        (None, Some((word, _))) => word == "not_computed",
        (Some(false), Some((word, length))) => word == "value" && *length == 0,
        (Some(true), Some((word, length))) => word != "value" || *length != 0,
        (_, None) => false,
    };
    if !right {
        wrong.push(format!("{at}: a share of {share} lasts {longest}"));
    }
}

#[test]
fn what_is_not_computed_endless_and_zero_are_told_apart() {
    holds(law, FEW);
}

#[test]
fn the_law_bites() {
    let complaints = |share: Value, longest: Value| {
        let mut wrong = Vec::new();
        walk("", &serde_json::json!({ "share": share, "longest_s": longest }), &mut wrong);
        wrong.len()
    };
    let longest = |word: &str, value: Value| serde_json::json!({ word: value });
    for (share, word, value, wrong) in [
        (0.into(), "value", 0.into(), 0),
        (0.into(), "value", 1.into(), 1),
        (0.into(), "endless", true.into(), 1),
        (0.5.into(), "value", 0.into(), 1),
        (0.5.into(), "endless", true.into(), 0),
        (Value::Null, "value", 0.into(), 1),
        (Value::Null, "not_computed", "a reason".into(), 0),
        ((-0.0).into(), "value", 0.into(), 1),
    ] {
        assert_eq!(complaints(share, longest(word, value)), wrong);
    }
}
