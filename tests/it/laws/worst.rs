//! Worst law: a cut's line is never milder than a finding of the same class at that cut.

use gapwright::layout::Layout;

use super::harness::{FEW, holds};
use crate::support::dice::Dice;
use crate::support::normal;

pub fn law(layout: &Layout, _: &mut Dice) -> Result<(), String> {
    let wrong = normal::milder_lines(&normal::json(layout));
    if wrong.is_empty() { Ok(()) } else { Err(wrong.join("\n")) }
}

#[test]
fn lines_of_cuts_are_never_milder_than_their_findings() {
    holds(law, FEW);
}
