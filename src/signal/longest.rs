//! The longest unbroken run of a set of joint states.
//!
//! Two patterns are followed edge by edge and give the length itself. Three and more give an upper bound: the least of
//! three, each of which may be infinite (see [`super::triple`], [`super::hops`] and [`Reduced::Bounds`]).

use super::beat::{Beat, Patterns, patterns};
use super::hops;
use super::pair::{Reduced, reduce};
use super::runs::{Followed, MOST_FOLLOWED, window_of};
use super::triple;

/// The length of the longest run, as far as it is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Longest {
    /// The length itself, s.
    Value(f64),
    /// An upper bound, s.
    AtMost(f64),
    /// It can last indefinitely.
    Endless,
    /// Neither a length nor a bound is known.
    NotComputed(NotComputed),
}

/// The reason why a longest run is not known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum NotComputed {
    /// It passes more edges than are followed.
    TooManyEdges,
    /// So many clocks run freely against each other that no bound was found.
    TooManyClocks,
    /// The circuit of some moment could not be solved.
    NotSolved,
    /// It was not asked for.
    NotAsked,
}

impl NotComputed {
    /// The reason in words.
    pub fn word(self) -> &'static str {
        match self {
            NotComputed::TooManyEdges => "the conflict passes more switchings than are followed",
            NotComputed::TooManyClocks => "too many clocks run freely against each other",
            NotComputed::NotSolved => "the circuit could not be solved",
            NotComputed::NotAsked => "not asked for",
        }
    }
}

impl Longest {
    /// The length or the bound, s.
    pub fn seconds(self) -> Option<f64> {
        match self {
            Longest::Value(seconds) | Longest::AtMost(seconds) => Some(seconds),
            Longest::Endless | Longest::NotComputed(_) => None,
        }
    }

    /// The same where nothing is looked at after `window` seconds.
    fn within(self, window: f64) -> Longest {
        if window.is_infinite() {
            return self;
        }
        match self {
            Longest::Value(seconds) => Longest::Value(seconds.min(window)),
            Longest::AtMost(seconds) => Longest::AtMost(seconds.min(window)),
            Longest::Endless => Longest::Value(window),
            Longest::NotComputed(_) => Longest::AtMost(window),
        }
    }
}

/// The longest unbroken run of the joint states that `over` marks, over all phases, never longer than the window (s; `None`
/// is unlimited). Runs merge on closed intervals: one state of the set that follows another at one instant continues it.
/// Free phases are arbitrary even where the periods are in a simple ratio.
pub fn longest(over: &[bool], beats: &[Beat], window_s: Option<f64>) -> Longest {
    let values: Vec<f64> = over.iter().map(|over| f64::from(u8::from(*over))).collect();
    let window = window_of(window_s);
    let found = match reduce(&values, beats) {
        Reduced::Steady(value) if value > 0.5 => Longest::Endless,
        Reduced::Steady(_) => Longest::Value(0.0),
        Reduced::Pair(pair) => {
            let mut steps = MOST_FOLLOWED;
            match pair.follow(0.5, window, &mut steps) {
                Followed::Ends(seconds) => Longest::Value(seconds),
                Followed::Passes => Longest::Endless,
                Followed::GivenUp => Longest::NotComputed(NotComputed::TooManyEdges),
            }
        }
        Reduced::Bounds(pairs) => {
            let runs = pairs.iter().map(|(_, most)| most.longest_above(0.5, window));
            several(over, &patterns(beats), runs.fold(f64::INFINITY, f64::min))
        }
    };
    found.within(window)
}

/// Of three and more patterns; `by_pairs` is the bound that their pairs give, s.
fn several(over: &[bool], patterns: &Patterns, by_pairs: f64) -> Longest {
    if by_pairs == 0.0 {
        // An upper bound of nothing is nothing.
        return Longest::Value(0.0);
    }
    let mut most = by_pairs;
    if let [a, b, c] = &patterns.moving[..]
        && let Some(bound) = triple::bound(over, patterns.base, [a, b, c])
    {
        most = most.min(bound.most);
        if bound.attained.is_infinite() {
            return Longest::Endless;
        }
        if bound.attained >= most * (1.0 - 1e-9) {
            return Longest::Value(most);
        }
    }
    if most.is_infinite() {
        most = hops::bound(over, patterns);
    }
    if most.is_finite() {
        Longest::AtMost(most)
    } else {
        Longest::NotComputed(NotComputed::TooManyClocks)
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::super::brute::{differ, pwm};
    use super::super::{Beat, ClockId, Joint};
    use super::*;
    use approx::assert_relative_eq;

    const CONFLICT: [bool; 4] = [false, true, true, false];

    /// The length where it is known exactly; `None` is endless.
    fn seconds(over: &[bool], beats: &[Beat], window_s: Option<f64>) -> Option<f64> {
        match longest(over, beats, window_s) {
            Longest::Value(seconds) => Some(seconds),
            Longest::Endless => None,
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn a_clamp_fight_lasts_as_long_as_the_longer_drive_or_both_in_turn() {
        // A drives 2 ms of 10, B 1 ms of 25: A's drive ends as B's begins.
        let beats = [pwm(100.0, 0.2), pwm(40.0, 0.04)];
        assert_relative_eq!(seconds(&CONFLICT, &beats, None).unwrap(), 3e-3, max_relative = 1e-9);
        assert_relative_eq!(seconds(&CONFLICT, &beats, Some(1e-3)).unwrap(), 1e-3);
    }

    #[test]
    fn steady_sides() {
        // A brakes for ever, B drives 20 % of 10 ms.
        let beats = [Beat::steady(1), pwm(100.0, 0.2)];
        let over = [true, false];
        assert_relative_eq!(seconds(&over, &beats, None).unwrap(), 2e-3, max_relative = 1e-9);
        assert_eq!(seconds(&[true], &[Beat::steady(0), Beat::steady(0)], None), None);
        assert_eq!(seconds(&[true], &[Beat::steady(0), Beat::steady(0)], Some(0.2)), Some(0.2));
        assert_eq!(seconds(&[false], &[Beat::steady(0)], None), Some(0.0));
        assert_eq!(seconds(&[true; 4], &[pwm(1.0, 0.5), pwm(2.0, 0.5)], None), None);
    }

    #[test]
    fn swapped_boosters_on_one_clock_never_let_go() {
        let at = |phase| ClockId { shared: Some(1), phase: Some(phase), tolerance: 0.0 };
        let mut beats = [pwm(8600.0, 0.5), pwm(8600.0, 0.5)];
        beats[0].clock = at(0.0);
        beats[1].clock = at(0.5);
        assert_eq!(seconds(&CONFLICT, &beats, None), None);
        // In phase: never in conflict; skewed by a twentieth: for so long.
        beats[1].clock = at(0.0);
        assert_eq!(seconds(&CONFLICT, &beats, None), Some(0.0));
        beats[1].clock = at(0.05);
        assert_relative_eq!(
            seconds(&CONFLICT, &beats, None).unwrap(),
            0.05 / 8600.0,
            max_relative = 1e-6
        );
    }

    #[test]
    fn three_free_beats_whose_bound_is_attained() {
        let beats = [pwm(100.0, 0.2), pwm(40.0, 0.04), pwm(33.0, 0.5)];
        let joint = Joint::of(&beats);
        let over: Vec<bool> = (0..joint.count())
            .map(|j| {
                let p = joint.decode(j);
                p[2] == 0 && p[0] != p[1]
            })
            .collect();
        // C lets the fight last while it drives: 3 ms fit into its 15.
        let Longest::Value(run) = longest(&over, &beats, None) else { panic!() };
        assert_relative_eq!(run, 3e-3, max_relative = 1e-9);
    }

    /// Three of one frequency, held so that never all brake or all drive at once.
    #[test]
    fn three_of_one_frequency_can_fight_indefinitely() {
        let beats = [pwm(100.0, 0.5), pwm(100.0, 0.5), pwm(100.0, 0.5)];
        let over = differ(&beats);
        assert_eq!(longest(&over, &beats, None), Longest::Endless);
        assert_eq!(longest(&over, &beats, Some(0.3)), Longest::Value(0.3));
    }

    #[test]
    fn four_and_more_free_beats_have_a_bound_where_they_drift() {
        let hz = [490.0, 125.0, 310.0, 97.3, 203.7];
        for many in [4, 5] {
            let beats: Vec<Beat> = hz[..many].iter().map(|&hz| pwm(hz, 0.3)).collect();
            let found = longest(&differ(&beats), &beats, None);
            assert!(matches!(found, Longest::AtMost(s) if s.is_finite()), "{many}: {found:?}");
            assert_eq!(longest(&differ(&beats), &beats, Some(1e-3)), Longest::AtMost(1e-3));
        }
    }

    #[test]
    fn four_of_one_frequency_have_none() {
        let beats = [(); 4].map(|()| pwm(490.0, 0.5));
        let found = longest(&differ(&beats), &beats, None);
        assert_eq!(found, Longest::NotComputed(NotComputed::TooManyClocks));
    }
}
