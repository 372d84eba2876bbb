//! A DCC booster: forward and reverse by turns, half a bit each.

use super::fields::{Contradiction, Field, Measure, Range, Value};
use super::kind::{Change, ClockName, Kind, Output, RunsFrom, Signal};
use super::schedule::{Beside, Part, Schedule};
use super::usual;
use super::words::{self, SetWord, StateWord};
use crate::layout::{Drive, HalfBits, Quantity, Trip, TripKind};

pub(super) struct DccBooster<'a> {
    pub station: &'a String,
    pub swapped: &'a bool,
    pub skew_s: &'a f64,
    pub stretched_zeros: &'a bool,
    pub half_bits: &'a HalfBits,
}

/// Half-bits of DCC, s: from well below what a decoder can take to the longest that a power station may stretch.
const HALF_BIT: Range =
    Range { from: 10e-6, to: 0.1, measure: Measure::ShortTime, hint: "in s: 55 µs is 0.000055" };

/// Delays against the station's signal, s.
const DELAY: Range =
    Range { from: -1e-3, to: 1e-3, measure: Measure::ShortTime, hint: "in s: 5 µs is 0.000005" };

const SHORTEST_ONE: &str = "drive.half_bits.shortest_one_s";
const LONGEST_ZERO: &str = "drive.half_bits.longest_zero_s";

/// A DCC booster that follows the command station "station".
pub fn dcc_booster() -> Drive {
    Drive::DccBooster {
        station: "station".into(),
        swapped: false,
        skew_s: 0.0,
        stretched_zeros: false,
        half_bits: HalfBits::default(),
    }
}

pub(super) fn new() -> Drive {
    dcc_booster()
}

pub(super) fn fields<'a>(
    station: &'a mut String,
    swapped: &'a mut bool,
    skew_s: &'a mut f64,
    stretched_zeros: &'a mut bool,
    half_bits: &'a mut HalfBits,
) -> Vec<Field<'a>> {
    let usual = HalfBits { longest_zero_s: None, ..*half_bits }.zero_s(*stretched_zeros);
    vec![
        Field {
            path: "drive.station",
            label: "Command station",
            help: "whose signal it follows",
            value: Value::Name(station),
        },
        Field {
            path: "drive.swapped",
            label: "Swapped against the station",
            help: "",
            value: Value::Tick(swapped),
        },
        Field {
            path: "drive.skew_s",
            label: "Delay",
            help: "Against the station's signal",
            value: Value::Number(skew_s, DELAY),
        },
        Field {
            path: "drive.stretched_zeros",
            label: "Stretched zeros are allowed",
            help: "",
            value: Value::Tick(stretched_zeros),
        },
        Field {
            path: SHORTEST_ONE,
            label: "Shortest half of a one",
            help: "",
            value: Value::Number(&mut half_bits.shortest_one_s, HALF_BIT),
        },
        Field {
            path: LONGEST_ZERO,
            label: "Longest half of a zero",
            help: "",
            value: Value::Optional {
                number: &mut half_bits.longest_zero_s,
                usual,
                range: HALF_BIT,
            },
        },
    ]
}

impl Kind for DccBooster<'_> {
    fn name(&self) -> &'static str {
        "DCC booster"
    }

    fn settings(&self) -> &'static [SetWord] {
        &[SetWord::On, SetWord::Off, SetWord::Unpowered]
    }

    /// Beside boosters of the same station only the delay counts, and most in the shortest bits. Beside anything else the
    /// longest bits are the worst.
    fn schedule(&self, _word: SetWord, _level: f64, beside: Beside) -> Schedule {
        let half_s = match beside {
            Beside::SameStation => self.half_bits.shortest_one_s,
            Beside::Other => self.half_bits.zero_s(*self.stretched_zeros),
        };
        let half = |state| Part { state, share: 0.5, drives: true };
        Schedule::of(2.0 * half_s, [half(StateWord::Forward), half(StateWord::Reverse)])
    }

    fn clock(&self, period_s: f64) -> RunsFrom<'_> {
        let turned = if *self.swapped { 0.5 } else { 0.0 };
        RunsFrom {
            name: Some(ClockName::Station(self.station)),
            phase: Some((self.skew_s / period_s + turned).rem_euclid(1.0)),
            tolerance: 0.0,
        }
    }

    fn output(&self) -> Output {
        Output::Bridge
    }

    fn signal(&self) -> Signal<'_> {
        Signal::Station(self.station)
    }

    /// A booster counts by its phase.
    fn sign(&self, word: SetWord) -> Option<i8> {
        match word {
            SetWord::On if *self.swapped => Some(-1),
            SetWord::On => Some(1),
            SetWord::Forward
            | SetWord::Reverse
            | SetWord::Stopped
            | SetWord::Off
            | SetWord::Unpowered => None,
        }
    }

    fn trip(&self) -> Option<Trip> {
        let amps = Quantity::assumed(5.0, 4.0, 6.0);
        Some(usual::trip(amps, TripKind::Instant { blanking_s: 0.001 }, Some(1.0)))
    }

    fn contradiction(&self) -> Option<Contradiction> {
        let (one_s, zero_s) =
            (self.half_bits.shortest_one_s, self.half_bits.zero_s(*self.stretched_zeros));
        let sound = HALF_BIT.holds(one_s) && HALF_BIT.holds(zero_s);
        let stated = self.half_bits.longest_zero_s.is_some();
        (sound && zero_s < one_s).then_some(Contradiction {
            path: if stated { LONGEST_ZERO } else { SHORTEST_ONE },
            says: "the longest half of a \"0\" is shorter than the shortest half of a \"1\"",
            expected: "a longest zero that is not below the shortest one",
            hint: "NMRA S-9.1 has 55 µs (0.000055) for the shortest one and at least 100 µs for a zero",
        })
    }

    fn changed(&self, change: Change<'_>) -> Option<Drive> {
        let (own, stretched_zeros) = (self.station.clone(), *self.stretched_zeros);
        let (station, swapped, skew_s) = match change {
            Change::ExchangePhase => (own, !*self.swapped, *self.skew_s),
            Change::TakeDelayAway if *self.skew_s != 0.0 => (own, *self.swapped, 0.0),
            Change::Follow(station) if station != own => {
                (station.to_owned(), *self.swapped, *self.skew_s)
            }
            Change::TakeDelayAway
            | Change::Follow(_)
            | Change::CoastWhenIdle
            | Change::IdleBy(_)
            | Change::RunFrom(_) => return None,
        };
        let half_bits = *self.half_bits;
        Some(Drive::DccBooster { station, swapped, skew_s, stretched_zeros, half_bits })
    }

    fn does(&self, word: SetWord, state: StateWord) -> &'static str {
        match state {
            StateWord::Forward => "sends the first half of a bit",
            StateWord::Reverse => "sends the second half of a bit",
            StateWord::BrakeLow | StateWord::BrakeHigh | StateWord::HighImpedance => {
                words::does(word, state)
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::of;
    use super::*;

    fn booster(swapped: bool, skew_s: f64, stretched_zeros: bool) -> Drive {
        let (station, half_bits) = ("yard".into(), HalfBits::default());
        Drive::DccBooster { station, swapped, skew_s, stretched_zeros, half_bits }
    }

    #[test]
    fn half_bits_are_those_of_the_standard() {
        // NMRA S-9.1: shortest half of a "1" sent 55 µs, ordinary "0" 100 µs, longest stretched half 9900 µs.
        let period = |stretched, beside| {
            of(&booster(false, 0.0, stretched)).schedule(SetWord::On, 0.0, beside).period_s
        };
        assert!((period(false, Beside::SameStation) - 110e-6).abs() < 1e-12);
        assert!((period(false, Beside::Other) - 200e-6).abs() < 1e-12);
        assert!((period(true, Beside::Other) - 19.8e-3).abs() < 1e-12);
        // A booster that states its half-bits has those.
        let mut stated = booster(false, 0.0, true);
        if let Drive::DccBooster { half_bits, .. } = &mut stated {
            *half_bits = HalfBits { shortest_one_s: 58e-6, longest_zero_s: Some(2e-3) };
        }
        let period = |beside| of(&stated).schedule(SetWord::On, 0.0, beside).period_s;
        assert!((period(Beside::SameStation) - 116e-6).abs() < 1e-12);
        assert!((period(Beside::Other) - 4e-3).abs() < 1e-12);
    }

    #[test]
    fn phase_is_the_delay_and_half_a_bit_where_swapped() {
        let phase = |swapped, skew_s| of(&booster(swapped, skew_s, false)).clock(100e-6).phase;
        assert_eq!(phase(false, 0.0), Some(0.0));
        assert_eq!(phase(true, 0.0), Some(0.5));
        assert!((phase(true, 75e-6).unwrap_or(9.0) - 0.25).abs() < 1e-12);
    }

    #[test]
    fn phase_and_delay_can_be_changed() {
        let changed = |change| of(&booster(true, 5e-6, false)).changed(change);
        assert_eq!(changed(Change::ExchangePhase), Some(booster(false, 5e-6, false)));
        assert_eq!(changed(Change::TakeDelayAway), Some(booster(true, 0.0, false)));
        assert_eq!(changed(Change::CoastWhenIdle), None);
        assert_eq!(of(&booster(true, 0.0, false)).changed(Change::TakeDelayAway), None);
    }

    #[test]
    fn it_is_on_or_off() {
        let drive = booster(false, 0.0, false);
        let kind = of(&drive);
        assert_eq!(kind.settings(), [SetWord::On, SetWord::Off, SetWord::Unpowered]);
        assert_eq!((kind.sign(SetWord::On), kind.sign(SetWord::Off)), (Some(1), None));
        assert_eq!(kind.signal(), Signal::Station("yard"));
        assert_eq!(kind.levels(SetWord::On), [1.0]);
    }
}
