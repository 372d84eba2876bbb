//! Scaling laws: all voltages twice, all currents twice; all resistances twice, half the currents.

use gapwright::layout::Layout;

use super::harness::same;
use crate::support::dice::Dice;
use crate::support::edits;
use crate::support::normal::Normal;

/// All voltages twice, trips scaled alike: the same verdicts and margins.
pub fn volts(layout: &Layout, _: &mut Dice) -> Result<(), String> {
    let plain = edits::scalable(layout);
    same(&Normal::of(&plain), &Normal::of(&edits::volts_scaled(&plain, 2.0)))
}

/// All resistances twice, trips halved: the same verdicts and margins.
pub fn ohms(layout: &Layout, _: &mut Dice) -> Result<(), String> {
    let plain = edits::scalable(layout);
    same(&Normal::of(&plain), &Normal::of(&edits::ohms_scaled(&plain, 2.0)))
}
