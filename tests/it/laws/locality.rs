//! Locality law: adding anything not joined by metal, wire, supply or tie changes nothing elsewhere.

use gapwright::layout::Layout;

use super::harness::{holds, same};
use crate::support::dice::Dice;
use crate::support::edits;
use crate::support::normal::{Normal, Reading};

/// An island of random track, fed by drivers of its own.
pub fn law(layout: &Layout, dice: &mut Dice) -> Result<(), String> {
    let island = dice.bits();
    unchanged(layout, &edits::with_island(layout, island))
        .map_err(|wrong| format!("with the island of seed {island}:\n{wrong}"))
}

/// An island whose driver is shorted.
pub fn beside_a_short(layout: &Layout, _: &mut Dice) -> Result<(), String> {
    unchanged(layout, &edits::with_shorted_island(layout))
}

fn unchanged(layout: &Layout, with: &Layout) -> Result<(), String> {
    let reading = Reading { block_ids: true, ..Reading::default() };
    let here = Normal::read(layout, &reading).only(|name| name != "verdict");
    let there = Normal::read(with, &reading);
    same(&here, &there.only(|name| name != "verdict" && !edits::is_of_island(name)))
}

#[test]
fn a_short_elsewhere_changes_nothing_here() {
    holds(beside_a_short, 25);
}
