//! Settings law: change any driver's direction or throttle, and nothing in the report changes except what is of now.

use gapwright::layout::Layout;

use super::harness::{holds, same};
use crate::support::dice::Dice;
use crate::support::edits;
use crate::support::normal::Normal;

pub fn law(layout: &Layout, dice: &mut Dice) -> Result<(), String> {
    let as_drawn = Normal::of(layout).without_now();
    same(&as_drawn, &Normal::of(&edits::set(layout, dice)).without_now())?;
    same(&as_drawn, &Normal::of(&edits::stopped(layout)).without_now())
}

#[test]
fn a_throttle_changes_nothing_but_what_is_of_now() {
    holds(law, 30);
}
