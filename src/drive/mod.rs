//! Drivers over time: kinds of drive, their settings and their schedules.
//!
//! One file per kind of drive says everything that distinguishes it: what it does, as methods of [`Kind`], what a form asks
//! for and a layout may hold, as a list of [`Field`]s, and a new one. The table `kinds!` below is the only place that looks
//! at the variants of [`Drive`]; every other module asks [`of`], [`fields`] and [`new_drives`].
//!
//! Every kind comes down to a [`Schedule`]: parts of a period, each with a state of the outputs. A smooth throttle is a
//! schedule of one part with a level; DCC is two halves. Nothing here knows track or currents.
//!
//! # How a setting is tried
//!
//! A setting of a driver is a [`SetWord`] with a level from 0 to 1. The level of forward and reverse is the throttle. The
//! level of stopped is its [`Parking`]: a bridge on control inputs can rest in two states, as it was last set forward or
//! as it was last set in reverse, and nobody knows which. The worst of both counts, also for the settings now.
//!
//! - [`Kind::settings`]: the words that the controls reach.
//! - [`Kind::levels`]: the levels of a word at which something can be worst. Where [`Kind::level_is_a_voltage`], currents
//!   bend between two levels wherever a diode changes its state; look for those levels too.
//! - [`Kind::levels_now`]: the levels that a saved setting can stand for; try each.
//! - [`schedule`]: what the driver then does over time; [`beside`] says which bits of a booster are the worst.
//! - [`relation`]: how two settings stand to each other at a cut.

mod dcc_booster;
mod examples;
mod fields;
mod idle;
mod inputs;
mod kind;
mod nothing;
mod pwm_bridge;
mod relation;
mod schedule;
mod smooth_dc;
mod split_half_bridge;
#[cfg(test)]
mod tests;
mod usual;
mod words;

pub use dcc_booster::dcc_booster;
pub use examples::{examples, idle_of};
pub use fields::{Contradiction, Field, Measure, Range, Value};
pub use inputs::input_states;
pub use kind::{Change, ClockName, Kind, Output, RunsFrom, Signal};
pub use pwm_bridge::pwm_bridge;
pub use relation::{Relation, beside, relation};
pub use schedule::{Beside, Parking, Part, Schedule};
pub use smooth_dc::smooth_dc;
pub use split_half_bridge::split_half_bridge;
pub use words::{SetWord, StateWord};

use crate::layout::{Drive, Driver};

/// Makes the dispatch from a variant of [`Drive`] to the file of its kind: `impl Kind`, `fields` and `new` there.
macro_rules! kinds {
    ($($kind:ident { $($field:ident),* } in $file:ident;)*) => {
        /// The kind of a drive, with its values.
        pub fn of(drive: &Drive) -> Box<dyn Kind + '_> {
            match drive {
                $(Drive::$kind { $($field),* } => Box::new($file::$kind { $($field),* }),)*
            }
        }

        /// The values of a drive, in the order of a form.
        pub fn fields(drive: &mut Drive) -> Vec<Field<'_>> {
            match drive {
                $(Drive::$kind { $($field),* } => $file::fields($($field),*),)*
            }
        }

        /// A new drive of every kind, in the order of a list to choose from.
        pub fn new_drives() -> Vec<Drive> {
            vec![$($file::new()),*]
        }
    };
}

// One line per kind of drive: its variant of `Drive` with all fields, and its file.
kinds! {
    PwmBridge { clock, idle } in pwm_bridge;
    SmoothDc { output_ohm, can_sink, clamped_at_zero } in smooth_dc;
    DccBooster { station, swapped, skew_s, stretched_zeros, half_bits } in dcc_booster;
    SplitHalfBridge { clock, idle } in split_half_bridge;
    Nothing {} in nothing;
}

/// The schedule of a driver at a setting. `level` is from 0 to 1: the throttle, or the level of a [`Parking`].
pub fn schedule(driver: &Driver, word: SetWord, level: f64, beside: Beside) -> Schedule {
    if word.is_dead() { Schedule::off() } else { of(&driver.drive).schedule(word, level, beside) }
}

/// The settings that a driver's controls can reach, unpowered included.
pub fn reachable(driver: &Driver) -> &'static [SetWord] {
    of(&driver.drive).settings()
}
