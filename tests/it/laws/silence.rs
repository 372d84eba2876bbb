//! Silence law: "not computed", "no finite value" and "zero" are three different things in the JSON.

use gapwright::findings::check;
use gapwright::layout::Layout;

use crate::support::dice::Dice;
use crate::support::normal;

pub fn law(layout: &Layout, _: &mut Dice) -> Result<(), String> {
    // A number that is none would be null in the JSON, as what was not computed is.
    let report = format!("{:?}", check(layout));
    if let Some(word) =
        ["NaN", "inf,", "inf)", "inf ", "inf}"].iter().find(|w| report.contains(**w))
    {
        return Err(format!("{word} is in the report"));
    }
    let wrong = normal::unclear_numbers(&normal::json(layout));
    if wrong.is_empty() { Ok(()) } else { Err(wrong.join("\n")) }
}
