//! The cost of jobs: what each takes, and how long. One table, so that use can correct it.

use super::Job;

/// What a job takes, the least first: a setting is tried before a wire, a wire before a part, a part before a cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Needs {
    /// A lever or a knob.
    Setting,
    /// A line of a configuration, or a jumper.
    Configuration,
    /// Wires at terminals.
    Wires,
    /// A part to buy and to fit.
    Part,
    /// A saw or solder at the rails.
    Cut,
}

impl Needs {
    /// The word for people, and in JSON.
    pub fn word(self) -> &'static str {
        match self {
            Needs::Setting => "setting",
            Needs::Configuration => "configuration",
            Needs::Wires => "wires",
            Needs::Part => "part",
            Needs::Cut => "cut",
        }
    }
}

/// What it counts to take away something that was drawn on purpose, minutes (judgement): such a job comes after those that
/// keep all of it.
const GIVEN_UP_MIN: u32 = 15;
/// What it counts to lower a trip, minutes (judgement): long trains may then trip it.
const LOWERED_MIN: u32 = 10;

/// The cost of a job. Costs are in order of weight, then of needs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Work {
    /// What it counts among cures, minutes: how long it takes, and more where it gives something up.
    pub weight: u32,
    /// What it takes.
    pub needs: Needs,
    /// How long it takes, minutes.
    pub minutes: u32,
}

/// The cost of some jobs together: minutes add up, the gravest need counts.
pub fn work(jobs: &[Job]) -> Work {
    Work {
        weight: jobs.iter().map(|job| job.work().weight).sum(),
        minutes: jobs.iter().map(|job| job.work().minutes).sum(),
        needs: jobs.iter().map(|job| job.work().needs).max().unwrap_or(Needs::Setting),
    }
}

impl Job {
    /// Its cost. Minutes are judgement from common practice, no source; only ratios matter.
    pub fn work(&self) -> Work {
        let (minutes, needs) = match self {
            Job::Turn { .. } => (1, Needs::Setting),
            Job::TakeNameAway(_) => (1, Needs::Setting),
            Job::Coast(_) | Job::OneClock(_) => (3, Needs::Configuration),
            Job::TripAt { .. } => (3, Needs::Configuration),
            Job::DriveInputs { .. } => (8, Needs::Configuration),
            Job::ExchangePhase(_) => (4, Needs::Wires),
            Job::ExchangeWires(_) => (5, Needs::Wires),
            Job::AddWire { .. } => (5, Needs::Wires),
            Job::TakeFeedAway(_) => (5, Needs::Wires),
            Job::CompleteFeed(_) => (6, Needs::Wires),
            Job::WireContact(_) => (6, Needs::Wires),
            Job::FollowStation { .. } => (8, Needs::Wires),
            Job::OpenTie(_) => (8, Needs::Wires),
            Job::AddFeed { .. } | Job::Thicken { .. } => (10, Needs::Wires),
            Job::SwitchTogether(_) | Job::DriverTogether(_) => (10, Needs::Wires),
            Job::CoupleContact(_) | Job::BreakBefore(_) => (12, Needs::Part),
            Job::LimitInrush { .. } => (15, Needs::Part),
            Job::Sense { .. } | Job::TakeDelayAway(_) => (20, Needs::Part),
            Job::SetVolts { .. } => (15, Needs::Part),
            Job::Reverse { .. } | Job::SelectCab(_) | Job::AddSwitchedFeed { .. } => {
                (25, Needs::Part)
            }
            Job::AddDriver { .. } => (30, Needs::Part),
            Job::OwnSupply(_) | Job::BiggerSupply { .. } => (30, Needs::Part),
            Job::AddReversedFeed { .. } | Job::AddSelectedFeed { .. } => (35, Needs::Part),
            Job::Fill(_) => (3, Needs::Cut),
            Job::Widen { .. } | Job::CutBoth(_) => (4, Needs::Cut),
            Job::Bond(_) => (4, Needs::Cut),
            Job::BridgeCut(_) => (6, Needs::Cut),
            Job::AddCut { rails: crate::layout::Rails::Both, .. } => (8, Needs::Cut),
            Job::AddCut { .. } => (4, Needs::Cut),
            Job::MoveCut { .. } => (14, Needs::Cut),
            Job::OpenWider { .. } => (20, Needs::Cut),
        };
        let weight = minutes
            + match self {
                Job::TakeFeedAway(_) | Job::TakeNameAway(_) | Job::BridgeCut(_) => GIVEN_UP_MIN,
                Job::TripAt { .. } => LOWERED_MIN,
                _ => 0,
            };
        Work { weight, needs, minutes }
    }

    /// True if it takes something that is bought: a part, wire, or filler.
    pub fn takes_material(&self) -> bool {
        let wire = matches!(
            self,
            Job::AddFeed { .. }
                | Job::AddWire { .. }
                | Job::CompleteFeed(_)
                | Job::Thicken { .. }
                | Job::WireContact(_)
                | Job::Bond(_)
                | Job::Fill(_)
        );
        wire || self.work().needs == Needs::Part
    }

    /// True for two jobs that do the same to the same thing, in another measure or at another place of it: of several
    /// that cure, one is offered.
    pub fn is_like(&self, other: &Job) -> bool {
        match (self, other) {
            (Job::TripAt { driver: a, .. }, Job::TripAt { driver: b, .. }) => a == b,
            (Job::LimitInrush { supply: a, .. }, Job::LimitInrush { supply: b, .. }) => a == b,
            (Job::Thicken { feed: a, .. }, Job::Thicken { feed: b, .. }) => a == b,
            (Job::Widen { cut: a, .. }, Job::Widen { cut: b, .. }) => a == b,
            (Job::OpenWider { special: a, .. }, Job::OpenWider { special: b, .. }) => a == b,
            (Job::AddCut { run: a, .. }, Job::AddCut { run: b, .. }) => a == b,
            (Job::AddFeed { from: a, run: r, .. }, Job::AddFeed { from: b, run: s, .. })
            | (
                Job::AddSwitchedFeed { from: a, run: r, .. },
                Job::AddSwitchedFeed { from: b, run: s, .. },
            )
            | (
                Job::AddReversedFeed { from: a, run: r, .. },
                Job::AddReversedFeed { from: b, run: s, .. },
            ) => a == b && r == s,
            (
                Job::AddSelectedFeed { cabs: a, run: r, .. },
                Job::AddSelectedFeed { cabs: b, run: s, .. },
            ) => a == b && r == s,
            (one, other) => one == other,
        }
    }
}
