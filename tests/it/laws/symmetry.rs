//! Symmetry laws: the same railroad drawn, numbered or wired in another way gives the same findings.

use gapwright::layout::{self, Layout, Work};

use super::harness::{FEW, holds, same};
use crate::support::dice::Dice;
use crate::support::normal::{Normal, Reading};
use crate::support::{edits, redrawn, renamed};

/// Runs drawn from their other ends: some of them, and all.
pub fn runs_redrawn(layout: &Layout, dice: &mut Dice) -> Result<(), String> {
    let as_drawn = Normal::of(layout);
    let bits = dice.bits();
    let some = redrawn::runs_turned(layout, |run| bits >> (run.0 % 64) & 1 == 1);
    same(&as_drawn, &Normal::of(&some))?;
    same(&as_drawn, &Normal::of(&redrawn::runs_turned(layout, |_| true)))
}

/// The plan moved and turned.
pub fn plan_moved(layout: &Layout, dice: &mut Dice) -> Result<(), String> {
    let to = (dice.between(-3000.0, 3000.0), dice.between(-3000.0, 3000.0));
    let moved = redrawn::moved(layout, to, dice.between(0.0, 360.0));
    same(&Normal::of(layout), &Normal::of(&moved))
}

/// The railroad in a mirror.
pub fn plan_mirrored(layout: &Layout, _: &mut Dice) -> Result<(), String> {
    // Of two pairs of points one behind the other the first part the left road: the mirror image has no drawing.
    if layout.specials.values().any(|special| is_three_way(&special.work)) {
        return Ok(());
    }
    same(&Normal::of(layout), &Normal::of(&redrawn::mirrored(layout)))
}

/// A turnout of three roads with its points in two pairs, or with frogs that a contact feeds in an order of the roads.
fn is_three_way(work: &Work) -> bool {
    match work {
        Work::Turnout { exits, frog, .. } => {
            exits.len() == 3 && (frog.is_one_metal() || frog.has_contact())
        }
        _ => false,
    }
}

/// Everything numbered anew.
pub fn renamed(layout: &Layout, dice: &mut Dice) -> Result<(), String> {
    let (renamed, ids) = renamed::at_random(layout, dice);
    let ids = ids.into_iter().map(|(old, new)| (new, old)).collect();
    let reading = Reading { ids, ..Reading::default() };
    same(&Normal::of(layout), &Normal::read(&renamed, &reading))
}

/// The entries of the file in another order.
pub fn reordered(layout: &Layout, _: &mut Dice) -> Result<(), String> {
    let text = renamed::reordered(layout);
    let again = layout::load(&text).map_err(|e| format!("{e:?}\n{text}"))?.layout;
    if again == *layout { Ok(()) } else { Err(format!("another layout is read from\n{text}")) }
}

/// Both wires of every feed exchanged, and every direction reversed.
pub fn poles_exchanged(layout: &Layout, _: &mut Dice) -> Result<(), String> {
    if !edits::poles_are_alike(layout) {
        return Ok(());
    }
    let exchanged = edits::poles_exchanged(layout);
    let reading = Reading { reversed: true, ..Reading::default() };
    same(&Normal::of(layout), &Normal::read(&exchanged, &reading))
}

#[test]
fn the_order_of_entries_in_the_file_changes_nothing() {
    holds(reordered, FEW);
}

#[test]
fn a_plan_that_is_moved_and_turned_is_the_same_railroad() {
    holds(plan_moved, 25);
}

#[test]
fn runs_drawn_from_their_other_ends_are_the_same_track() {
    holds(runs_redrawn, 20);
}

#[test]
fn the_railroad_in_a_mirror_has_the_same_findings() {
    holds(plan_mirrored, 20);
}
