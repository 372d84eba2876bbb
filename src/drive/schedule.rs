//! Settings into schedules.

use super::words::{SetWord, StateWord};
use crate::layout::{Drive, Driver, Idle};

/// A part of the period.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Part {
    /// State of the outputs.
    pub state: StateWord,
    /// Fraction of the period.
    pub share: f64,
    /// Whether it is the part that drives in the set direction (otherwise the idle part).
    pub drives: bool,
}

/// What a driver does over time at one setting.
#[derive(Debug, Clone, PartialEq)]
pub struct Schedule {
    /// Period, s.
    pub period_s: f64,
    /// Parts in order; shares above 0, summing to 1.
    pub parts: Vec<Part>,
    /// Voltage as a fraction of the supply's: the throttle of a smooth DC throttle, 1 for everything that switches.
    pub level: f64,
}

/// What a DCC booster stands beside: that decides which bits are the worst.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Beside {
    /// A booster of the same command station: both send the same bits, only the skew counts. Shortest half-bit of a
    /// "1" that a command station may send, 55 µs (NMRA S-9.1).
    SameStation,
    /// Anything else: longest half-bit of an ordinary "0", 100 µs, or 9.9 ms where zeros are stretched (NMRA S-9.1).
    Other,
}

/// Half-bits, s (NMRA Standard S-9.1).
const SHORTEST_ONE_S: f64 = 55e-6;
const ORDINARY_ZERO_S: f64 = 100e-6;
const STRETCHED_ZERO_S: f64 = 9900e-6;

impl Schedule {
    /// One state for ever.
    pub fn steady(state: StateWord, drives: bool, level: f64) -> Schedule {
        Schedule { period_s: 1.0, parts: vec![Part { state, share: 1.0, drives }], level }
    }

    fn of(period_s: f64, parts: [Part; 2], level: f64) -> Schedule {
        Schedule { period_s, parts: parts.into_iter().filter(|p| p.share > 0.0).collect(), level }
    }
}

/// The schedule of a driver at a setting. `throttle` is from 0 to 1.
pub fn schedule(driver: &Driver, word: SetWord, throttle: f64, beside: Beside) -> Schedule {
    let off = Schedule::steady(StateWord::HighImpedance, false, 1.0);
    if word.is_dead() {
        return off;
    }
    match &driver.drive {
        Drive::Nothing => off,
        Drive::PwmBridge { clock, idle } | Drive::SplitHalfBridge { clock, idle } => {
            let drive =
                if word == SetWord::Reverse { StateWord::Reverse } else { StateWord::Forward };
            let throttle = if word == SetWord::Stopped { 0.0 } else { throttle };
            let (state, drive_share) = match idle {
                Idle::BrakeLow => (StateWord::BrakeLow, throttle),
                Idle::BrakeHigh => (StateWord::BrakeHigh, throttle),
                Idle::HighImpedance => (StateWord::HighImpedance, throttle),
                Idle::Opposed if drive == StateWord::Forward => {
                    (StateWord::Reverse, (1.0 + throttle) / 2.0)
                }
                Idle::Opposed => (StateWord::Forward, (1.0 + throttle) / 2.0),
            };
            Schedule::of(
                1.0 / clock.hz,
                [
                    Part { state: drive, share: drive_share, drives: word != SetWord::Stopped },
                    Part { state, share: 1.0 - drive_share, drives: false },
                ],
                1.0,
            )
        }
        Drive::SmoothDc { clamped_at_zero, .. } => match word {
            SetWord::Reverse => Schedule::steady(StateWord::Reverse, true, throttle),
            SetWord::Stopped if *clamped_at_zero => {
                Schedule::steady(StateWord::BrakeLow, false, 0.0)
            }
            SetWord::Stopped => off,
            _ => Schedule::steady(StateWord::Forward, true, throttle),
        },
        Drive::DccBooster { stretched_zeros, .. } => {
            let half_s = match beside {
                Beside::SameStation => SHORTEST_ONE_S,
                Beside::Other if *stretched_zeros => STRETCHED_ZERO_S,
                Beside::Other => ORDINARY_ZERO_S,
            };
            let half = |state| Part { state, share: 0.5, drives: true };
            Schedule::of(2.0 * half_s, [half(StateWord::Forward), half(StateWord::Reverse)], 1.0)
        }
    }
}

/// The throttles at which a setting can be worst: every current is largest at one of them, because each state of the
/// schedule is held for ever at some corner (full throttle holds the drive state, zero the idle state).
pub fn corners(word: SetWord) -> &'static [f64] {
    match word {
        SetWord::Forward | SetWord::Reverse => &[0.0, 1.0],
        SetWord::On => &[1.0],
        _ => &[0.0],
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::layout::{self, Clock, Quantity, Setting};

    fn driver(drive: Drive) -> Driver {
        Driver {
            id: layout::DriverId(1),
            name: String::new(),
            supply: layout::SupplyId(1),
            drive,
            high_ohm: Quantity::given(0.1),
            low_ohm: Quantity::given(0.1),
            diode_v: Quantity::given(0.7),
            diode_ohm: Quantity::given(0.05),
            rating_a: None,
            trip: None,
            lowest_throttle: 0.0,
            wake_v: None,
            separately_switched: false,
            setting: Setting { direction: layout::Direction::Forward, throttle: 0.0 },
            notes: String::new(),
        }
    }

    fn bridge(idle: Idle) -> Driver {
        let clock = Clock { hz: 490.0, tolerance: 0.01, shared: None, phase: None };
        driver(Drive::PwmBridge { clock, idle })
    }

    #[test]
    fn throttle_is_the_share_of_the_drive_state() {
        let s = schedule(&bridge(Idle::BrakeLow), SetWord::Forward, 0.4, Beside::Other);
        assert_eq!(s.parts.len(), 2);
        assert_eq!((s.parts[0].state, s.parts[0].share), (StateWord::Forward, 0.4));
        assert_eq!(s.parts[1].state, StateWord::BrakeLow);
        assert!((s.period_s - 1.0 / 490.0).abs() < 1e-15);
    }

    #[test]
    fn opposed_idle_stands_still_at_half_and_half() {
        let s = schedule(&bridge(Idle::Opposed), SetWord::Stopped, 0.9, Beside::Other);
        assert_eq!(s.parts[0].share, 0.5);
        let s = schedule(&bridge(Idle::Opposed), SetWord::Reverse, 0.5, Beside::Other);
        assert_eq!((s.parts[0].state, s.parts[0].share), (StateWord::Reverse, 0.75));
    }

    #[test]
    fn full_and_zero_throttle_hold_one_state() {
        for idle in [Idle::BrakeLow, Idle::BrakeHigh, Idle::HighImpedance] {
            for throttle in [0.0, 1.0] {
                let s = schedule(&bridge(idle), SetWord::Forward, throttle, Beside::Other);
                assert_eq!(s.parts.len(), 1, "{idle:?} at {throttle}");
            }
        }
    }

    #[test]
    fn half_bits_are_those_of_the_standard() {
        // NMRA S-9.1: shortest half of a "1" sent 55 µs, ordinary "0" 100 µs, longest stretched half 9900 µs.
        let booster = |stretched_zeros| {
            driver(Drive::DccBooster {
                station: "yard".into(),
                swapped: false,
                skew_s: 0.0,
                stretched_zeros,
            })
        };
        let period = |d: &Driver, b| schedule(d, SetWord::On, 0.0, b).period_s;
        assert!((period(&booster(false), Beside::SameStation) - 110e-6).abs() < 1e-12);
        assert!((period(&booster(false), Beside::Other) - 200e-6).abs() < 1e-12);
        assert!((period(&booster(true), Beside::Other) - 19.8e-3).abs() < 1e-12);
    }
}
