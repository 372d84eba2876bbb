//! What a trip does, and what one pair says of it.

use crate::signal::phase::PhaseCase;

/// Whether a trip acts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub enum Trips {
    /// At no phase.
    #[default]
    No,
    /// At some phases only.
    Sometimes,
    /// At every phase, or the phases sweep through one at which it does.
    Yes,
}

/// What a trip does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TripOutcome {
    /// Whether it acts.
    pub trips: Trips,
    /// Share of phases in which it does; 1 if the phases sweep through one in which it does. Where not exact, it counts
    /// the first few hundred samples only, or takes the mean over relative phases coarsely.
    pub share: f64,
    /// Time from the start of the straddle until it acts, at the phase at which that is soonest, s; if it acts at all.
    pub after_s: Option<f64>,
    /// What is compared with the threshold at the worst phase: the largest value exceeded or held for longer than the
    /// blanking; the largest that so many samples in a row reach; the largest output of the filter; the constant current
    /// that, held for ever, would come as near to making a thermal trip act. A.
    pub worst: f64,
    /// Whether `worst`, `share` and `after_s` are exact. Else `worst` is an upper bound and `after_s` a lower one.
    pub exact: bool,
}

/// What one pair says, before it is put in words.
#[derive(Debug, Clone, Copy)]
pub(super) struct Judged {
    pub worst: f64,
    pub share: f64,
    pub after: Option<f64>,
    pub exact: bool,
}

/// How much of the answer about an averaged trip is wanted: the worst value is cheap, the share of phases dearer, the
/// time dearest.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Want {
    Everything,
    NoTime,
    WorstOnly,
}

pub(super) fn say(judged: Judged, threshold: f64, case: PhaseCase) -> TripOutcome {
    let Judged { worst, share, after, exact } = judged;
    if worst <= threshold {
        return TripOutcome { trips: Trips::No, share: 0.0, after_s: None, worst, exact };
    }
    let every = case == PhaseCase::Sweeps || share >= 1.0 - 1e-9;
    TripOutcome {
        trips: if every { Trips::Yes } else { Trips::Sometimes },
        share: if every { 1.0 } else { share },
        after_s: after,
        worst,
        exact,
    }
}
