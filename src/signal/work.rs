//! A count of the work that an answer takes, for tests: edges laid out, places looked up, steps along a run.

#[cfg(not(test))]
pub(crate) fn count(_: usize) {}

#[cfg(test)]
pub(crate) use counted::count;

#[cfg(test)]
mod counted {
    use std::cell::Cell;

    thread_local! {
        static COUNT: Cell<usize> = const { Cell::new(0) };
    }

    pub(crate) fn count(more: usize) {
        COUNT.with(|count| count.set(count.get() + more));
    }

    /// Work since the last call.
    pub(super) fn taken() -> usize {
        COUNT.with(|count| count.replace(0))
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::super::*;
    use super::counted::taken;

    /// The most that one answer may take: some tenths of a second on a slow machine.
    const MOST: usize = 12_000_000;

    /// Numbers between 0 and 1 from a seed.
    struct Dice(u64);

    impl Dice {
        fn roll(&mut self) -> f64 {
            self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            (self.0 >> 11) as f64 / (1_u64 << 53) as f64
        }

        fn below(&mut self, n: usize) -> usize {
            (self.roll() * n as f64) as usize
        }

        fn beat(&mut self) -> Beat {
            let usual = [490.0, 125.0, 100.0, 31_250.0, 8333.0][self.below(5)];
            let odd = 10.0_f64.powf(1.3 + 2.5 * self.roll());
            let parts: Vec<Part> = (0..2 + self.below(3))
                .map(|state| Part { state, share: 0.02 + self.roll() })
                .collect();
            let shared = (self.below(2) > 0).then_some(self.below(2) as u32);
            let phase = (self.below(2) > 0).then(|| self.roll());
            let hz = if self.below(3) == 0 { usual } else { odd };
            Beat::new(1.0 / hz, parts, ClockId { shared, phase, tolerance: 0.0 })
        }
    }

    #[track_caller]
    fn is_bounded(amps: &[f64], beats: &[Beat], window: Option<f64>) {
        let check = |what: &str| {
            let work = taken();
            assert!(work <= MOST, "{what} of {beats:?} within {window:?} takes {work}");
        };
        taken();
        for kind in [
            Trip::Instant { blanking_s: 1e-3 },
            Trip::Averaged { tau_s: 0.05 },
            Trip::Thermal { curve: Curve::new(&[(1.0, 1.0), (2.0, 0.03)]).unwrap() },
        ] {
            let _ = trip(amps, beats, 4.0, &kind, window);
            check(&format!("{kind:?}"));
        }
        let _ = mean_spread(amps, beats, window);
        check("the mean");
        let over: Vec<bool> = amps.iter().map(|amps| *amps > 3.0).collect();
        let _ = longest(&over, beats, window);
        check("the longest run");
    }

    #[test]
    fn two_beats_of_one_clock_against_an_odd_one() {
        // 490 and 125 Hz make one pattern of 246 edges in 0.2 s; 97 of them are about 6085 periods of the third.
        let on = |hz: f64, phase| {
            let clock = ClockId { shared: Some(0), phase: Some(phase), tolerance: 0.0 };
            Beat { clock, ..super::super::brute::pwm(hz, 0.4) }
        };
        let beats = [on(490.0, 0.0), on(125.0, 0.3), super::super::brute::pwm(313.713, 0.3)];
        let amps: Vec<f64> = (0..8).map(|joint| f64::from(joint * 3 % 7)).collect();
        for window in [None, Some(0.03)] {
            is_bounded(&amps, &beats, window);
        }
    }

    #[test]
    fn any_beats() {
        for seed in 1..20_u64 {
            let mut dice = Dice(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15));
            dice.roll();
            let beats: Vec<Beat> = (0..2 + dice.below(2)).map(|_| dice.beat()).collect();
            let joints = Joint::of(&beats).count();
            let amps: Vec<f64> = (0..joints).map(|_| 10.0 * dice.roll()).collect();
            let window = (dice.below(2) > 0).then(|| 1e-3 + 0.05 * dice.roll());
            is_bounded(&amps, &beats, window);
        }
    }
}
