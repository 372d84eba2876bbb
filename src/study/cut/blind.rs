//! Trips that look where the current of a conflict does not pass.

use std::collections::BTreeMap;

use super::super::judge::Judged;
use super::super::types::{Trips, Verdict};
use super::case::Case;
use super::result::SAME;
use crate::straddle::ix::DriverIx;

/// What a trip misses at a place, over all situations in which it misses something.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Blind {
    /// Its threshold, A.
    pub threshold_a: f64,
    /// Largest peak in the larger output of its driver, A.
    pub carried_a: f64,
    /// Peak where the trip senses then, A.
    pub sensed_a: f64,
    /// True if another driver's trip acts each time.
    pub another_trips: bool,
    /// Worst verdict of those situations in which no other trip acts.
    pub verdict: Verdict,
}

/// What each driver's trip misses.
pub type Blinds = BTreeMap<DriverIx, Blind>;

impl Case {
    /// Adds what trips miss in a judged situation. A trip is blind where more than its threshold flows out of its driver,
    /// less than half of that passes where it senses, and it does not act.
    pub(super) fn note_blind(&self, judged: &Judged, blinds: &mut Blinds) {
        if judged.share <= 0.0 {
            return;
        }
        for (at, driver) in judged.drivers.pairs() {
            let Some(trip) = &self.wiring.drivers[at].trip else { continue };
            let threshold_a = trip.threshold(&self.wiring.nominal());
            let carried_a = driver.figures[0].peak.max(driver.figures[1].peak);
            let sensed_a = driver.sensed.map_or(0.0, |sensed| sensed.peak);
            let is_blind = carried_a > threshold_a
                && sensed_a < 0.5 * carried_a
                && sensed_a < threshold_a
                && driver.trips == Trips::No;
            if !is_blind {
                continue;
            }
            let another_trips = judged.drivers.iter().any(|other| other.trips == Trips::Yes);
            let verdict = if another_trips { Verdict::Clear } else { judged.verdict };
            let new = Blind { threshold_a, carried_a, sensed_a, another_trips, verdict };
            blinds.entry(at).and_modify(|old| old.take(&new)).or_insert(new);
        }
    }
}

impl Blind {
    /// Takes the worse of both.
    pub fn take(&mut self, new: &Blind) {
        let by = new.carried_a - self.carried_a;
        if by > SAME || (by.abs() <= SAME && new.sensed_a < self.sensed_a) {
            (self.carried_a, self.sensed_a) = (new.carried_a, new.sensed_a);
        }
        self.another_trips &= new.another_trips;
        self.verdict = self.verdict.max(new.verdict);
    }
}
