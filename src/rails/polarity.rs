//! Which rail is positive at the settings now: for drawing, never for judging.

use super::plan::Plan;
use crate::drive::{self, Output};
use crate::layout::{Direction, Layout};

/// What a rail is now, seen from its driver's label.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Default)]
pub enum Polarity {
    /// No driver drives it.
    #[default]
    Dead,
    /// The positive rail of its block.
    Plus,
    /// The negative rail of its block.
    Minus,
    /// DCC: changes all the time.
    Alternating,
    /// Two drivers disagree about it.
    Fought,
}

/// Polarity of every net now, in the order of [`Plan::nets`].
pub fn polarity_now(layout: &Layout, plan: &Plan) -> Vec<Polarity> {
    plan.nets
        .iter()
        .map(|net| {
            let mut found = Polarity::Dead;
            for leg in &net.legs {
                let Some(driver) = layout.drivers.get(&leg.driver) else { continue };
                if layout.supplies.get(&driver.supply).is_none_or(|s| !s.powered) {
                    continue;
                }
                // The midpoint of a split supply is the common rail: neither plus nor minus.
                if !leg.is_p && drive::of(&driver.drive).output() == Output::HalfBridge {
                    continue;
                }
                let here = match driver.setting.direction {
                    Direction::Off | Direction::Stopped => continue,
                    Direction::On => Polarity::Alternating,
                    Direction::Forward if leg.is_p => Polarity::Plus,
                    Direction::Forward => Polarity::Minus,
                    Direction::Reverse if leg.is_p => Polarity::Minus,
                    Direction::Reverse => Polarity::Plus,
                };
                found = match found {
                    Polarity::Dead => here,
                    same if same == here => same,
                    _ => Polarity::Fought,
                };
            }
            found
        })
        .collect()
}
