//! Drives: what a driver does over time, as the file states it.

use serde::{Deserialize, Serialize};

use super::skip::is_default;
use crate::units::Quantity;

/// What the outputs of a PWM bridge do in the off part of the period.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Idle {
    /// Both low switches on: the rails are clamped together.
    BrakeLow,
    /// Both high switches on: the rails are clamped together.
    BrakeHigh,
    /// All switches off: only the body diodes conduct.
    HighImpedance,
    /// The other drive state; the throttle is the difference of the two parts.
    Opposed,
    /// Not stated: it follows from how the bridge's control inputs are driven. See [`crate::drive::input_states`].
    ByInputs {
        /// The chip's truth table.
        table: InputTable,
        /// How the inputs are driven when set forward.
        forward: InputLines,
        /// How they are driven when set in reverse.
        reverse: InputLines,
        /// Whether the first input's line is inverted on its way.
        #[serde(default)]
        first_inverted: bool,
        /// Whether the second input's line is inverted on its way.
        #[serde(default)]
        second_inverted: bool,
    },
}

/// Truth table of a bridge's two control inputs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum InputTable {
    /// Two inputs: 00 high-impedance, 01 reverse, 10 forward, 11 brake-low (TI DRV8870 data sheet SLVSCY8, table
    /// "H-Bridge Control").
    TwoInput,
    /// Enable (first) and phase (second): enable 0 brake-high, enable 1 forward or reverse by phase 1 or 0 (TI DRV8873
    /// data sheet SLVSET1).
    EnablePhase,
}

/// One of the two control inputs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum InputLine {
    /// The first.
    First,
    /// The second.
    Second,
}

/// How the control inputs are driven: one carries the PWM, the other a level.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct InputLines {
    /// The input that carries the PWM: high for the throttle's fraction of the period.
    pub pwm: InputLine,
    /// Whether the other input is high.
    pub other_high: bool,
}

/// The clock that a driver's PWM or DCC signal is made from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Clock {
    /// Nominal frequency, Hz.
    pub hz: f64,
    /// How far the real frequency may be off, as a fraction (0.01 is one per cent).
    #[serde(default = "default_tolerance")]
    pub tolerance: f64,
    /// Name of the clock if several drivers run from the same one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub shared: Option<String>,
    /// Known phase on that shared clock, as a fraction of the period (0 to 1); without it the phase is not known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub phase: Option<f64>,
}

/// Frequency tolerance when the file does not say: one per cent (ceramic resonators; common practice, no source).
pub fn default_tolerance() -> f64 {
    0.01
}

/// What a driver does over time. See the module documentation of [`crate::drive`].
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub enum Drive {
    /// An H-bridge that switches on and off.
    PwmBridge {
        /// PWM clock.
        clock: Clock,
        /// State in the off part.
        idle: Idle,
    },
    /// A smooth DC throttle: a voltage of throttle × open-circuit voltage behind a resistance.
    SmoothDc {
        /// Output resistance, Ω, besides the supply's source resistance.
        output_ohm: Quantity,
        /// Whether it can take current back.
        #[serde(default)]
        can_sink: bool,
        /// Whether it clamps its rails together at zero throttle; otherwise they are open.
        #[serde(default)]
        clamped_at_zero: bool,
    },
    /// A DCC booster.
    DccBooster {
        /// Name of the command station it follows.
        station: String,
        /// Swapped against the station's signal.
        #[serde(default, skip_serializing_if = "is_default")]
        swapped: bool,
        /// Delay against the station's signal, s.
        #[serde(default, skip_serializing_if = "is_default")]
        skew_s: f64,
        /// Whether stretched zeros are allowed (a conventional locomotive is run on DCC).
        #[serde(default, skip_serializing_if = "is_default")]
        stretched_zeros: bool,
        /// How long its half-bits are.
        #[serde(default, skip_serializing_if = "is_default")]
        half_bits: HalfBits,
    },
    /// One half-bridge on a split supply: output to the rail, midpoint to the common rail (the feed's `m`).
    SplitHalfBridge {
        /// PWM clock.
        clock: Clock,
        /// State in the off part: high-impedance or opposed.
        idle: Idle,
    },
    /// Nothing: the rails float.
    Nothing,
}

/// The half-bits of a DCC signal that decide a verdict: the shortest and the longest.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HalfBits {
    /// Shortest half of a "1", s.
    #[serde(default = "default_shortest_one_s", skip_serializing_if = "is_shortest_one")]
    pub shortest_one_s: f64,
    /// Longest half of a "0", s. Without it the standard's: see [`HalfBits::zero_s`].
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub longest_zero_s: Option<f64>,
}

impl Default for HalfBits {
    fn default() -> Self {
        Self { shortest_one_s: default_shortest_one_s(), longest_zero_s: None }
    }
}

impl HalfBits {
    /// Longest half of a "0", s: as stated, else 100 µs, or 9.9 ms where zeros may be stretched (NMRA Standard S-9.1).
    pub fn zero_s(self, stretched: bool) -> f64 {
        self.longest_zero_s.unwrap_or(if stretched { 9.9e-3 } else { 100e-6 })
    }
}

/// 55 µs: the shortest half of a "1" that a command station may send (NMRA Standard S-9.1).
pub fn default_shortest_one_s() -> f64 {
    55e-6
}

#[allow(clippy::trivially_copy_pass_by_ref)]
fn is_shortest_one(value: &f64) -> bool {
    *value == default_shortest_one_s()
}
