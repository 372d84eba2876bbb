//! What happens when, at stated phases: for the oscilloscope and for tests.

use super::beat::{Beat, Joint};

/// Most stretches that [`waveform`] gives.
const MOST_STRETCHES: usize = 200_000;

/// A stretch of time in one joint state.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    /// Start, s.
    pub from_s: f64,
    /// End, s.
    pub to_s: f64,
    /// Joint state, numbered as by [`Joint`].
    pub joint: usize,
}

/// Every stretch from `from_s` to `to_s`, in order, each beat delayed by its phase (a fraction of its period; a missing
/// one is 0). The ends of the list are cut to the interval; it stops early after 200 000 stretches.
pub fn waveform(beats: &[Beat], phases: &[f64], from_s: f64, to_s: f64) -> Vec<Stretch> {
    let mut out: Vec<Stretch> = Vec::new();
    if !(from_s.is_finite() && to_s.is_finite() && from_s < to_s) {
        return out;
    }
    struct Walk {
        starts: Vec<(f64, usize)>,
        period: f64,
        delay: f64,
        cycle: f64,
        at: usize,
    }
    impl Walk {
        fn next_s(&self) -> f64 {
            match self.starts.get(self.at + 1) {
                _ if self.starts.len() == 1 => f64::INFINITY,
                Some(next) => (self.cycle + next.0) * self.period + self.delay,
                None => (self.cycle + 1.0) * self.period + self.delay,
            }
        }
        fn advance(&mut self) {
            self.at += 1;
            if self.at == self.starts.len() {
                self.at = 0;
                self.cycle += 1.0;
            }
        }
    }
    let mut walks: Vec<Walk> = beats
        .iter()
        .enumerate()
        .map(|(i, beat)| {
            let period = beat.period();
            let phase = phases.get(i).copied().filter(|p| p.is_finite()).unwrap_or(0.0);
            let delay = phase.rem_euclid(1.0) * period;
            let cycle = ((from_s - delay) / period).floor();
            let mut walk = Walk { starts: beat.starts(), period, delay, cycle, at: 0 };
            while walk.next_s() <= from_s {
                walk.advance();
            }
            walk
        })
        .collect();
    let joint = Joint::of(beats);
    let mut now = from_s;
    while now < to_s && out.len() < MOST_STRETCHES {
        let next = walks.iter().map(Walk::next_s).fold(to_s, f64::min);
        if next > now {
            let parts: Vec<usize> = walks.iter().map(|w| w.starts[w.at].1).collect();
            let joint = joint.encode(&parts);
            match out.last_mut() {
                Some(last) if last.joint == joint => last.to_s = next,
                _ => out.push(Stretch { from_s: now, to_s: next, joint }),
            }
        }
        now = next;
        if now >= to_s {
            break;
        }
        for walk in &mut walks {
            if walk.next_s() <= now {
                walk.advance();
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::super::{ClockId, Part};
    use super::*;

    #[test]
    fn two_beats_step_through_their_joint_states() {
        let on = |d: f64, period| {
            let parts = [Part { state: 0, share: d }, Part { state: 1, share: 1.0 - d }];
            Beat::new(period, parts, ClockId::default())
        };
        let w = waveform(&[on(0.25, 4.0), on(0.5, 2.0)], &[0.0, 0.25], 0.0, 4.0);
        let got: Vec<_> = w.iter().map(|s| (s.from_s, s.to_s, s.joint)).collect();
        assert_eq!(
            got,
            [
                (0.0, 0.5, 1),
                (0.5, 1.0, 0),
                (1.0, 1.5, 2),
                (1.5, 2.5, 3),
                (2.5, 3.5, 2),
                (3.5, 4.0, 3)
            ]
        );
    }

    #[test]
    fn a_steady_beat_is_one_stretch() {
        let w = waveform(&[Beat::steady(3)], &[], -1.0, 1.0);
        assert_eq!(w, [Stretch { from_s: -1.0, to_s: 1.0, joint: 0 }]);
        assert!(waveform(&[Beat::steady(3)], &[], 1.0, f64::INFINITY).is_empty());
    }
}
