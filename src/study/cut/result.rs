//! What comes out of a case: the worst of its situations, cell by cell, and how vehicles pass.

use std::cmp::Ordering;
use std::collections::BTreeMap;

use crate::drive::SetWord;
use crate::straddle::ix::{DriverIx, FootingIx, StandIx, SupplyIx};

use super::super::judge::{Judged, NumericStand, Scenario};
use super::super::types::{Relation, Trips, Verdict};
use super::blind::Blinds;
use super::case::Settings;
use super::explained::{CauseAt, LiftAt};
use super::parties::Pair;

/// An evaluated situation.
#[derive(Debug, Clone, PartialEq)]
pub struct Evaluated {
    /// How each driver is set.
    pub settings: Settings,
    /// Index of the stand, if a vehicle joins anything.
    pub stand: Option<StandIx>,
    /// Index of the footing, if the vehicle stalls on it.
    pub footing: Option<FootingIx>,
    /// The schedules of the drivers.
    pub scenario: Scenario,
    /// Judgement.
    pub judged: Judged,
    /// Boards that woke up through their diodes and idle although their supplies are off.
    pub woke: Vec<DriverIx>,
    /// Number of nets that the stand joins away from the place, and of all that it joins, for each group and rail.
    pub joins: (usize, usize),
    /// True once its open values and what comes after the first trip were looked at.
    pub closer: bool,
}

impl Evaluated {
    /// A judgement of something that stands on both sides, or of nothing that does.
    pub fn joined(
        settings: &Settings,
        scenario: Scenario,
        stand: Option<StandIx>,
        judged: Judged,
    ) -> Evaluated {
        let settings = settings.clone();
        let (footing, woke, joins, closer) = (None, Vec::new(), (0, 0), false);
        Evaluated { settings, stand, footing, scenario, judged, woke, joins, closer }
    }
}

/// Worst of some situations, and apart by what is joined.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Worst {
    /// The worst.
    pub worst: Option<Evaluated>,
    /// Worst verdict with both rails joined, with only the left, with only the right.
    pub by_join: [Option<Verdict>; 3],
}

impl Worst {
    /// Takes a situation over if it is worse, and returns whether it is; `stand` says what it joins.
    pub(super) fn take(&mut self, new: Evaluated, stand: Option<&NumericStand>) -> bool {
        if let Some(stand) = stand {
            let at = match (stand.joins(0), stand.joins(1)) {
                (true, false) => 1,
                (false, true) => 2,
                _ => 0,
            };
            let old = &mut self.by_join[at];
            *old = (*old).max(Some(new.judged.verdict));
        }
        let worse = self.worst.as_ref().is_none_or(|old| is_worse(&new, old));
        if worse {
            self.worst = Some(new);
        }
        worse
    }

    /// Takes the worse of both.
    pub fn merge(&mut self, other: &Worst) {
        for (old, new) in self.by_join.iter_mut().zip(other.by_join) {
            *old = (*old).max(new);
        }
        if let Some(new) = &other.worst
            && self.worst.as_ref().is_none_or(|old| is_worse(new, old))
        {
            self.worst = Some(new.clone());
        }
    }
}

/// Margins, currents in A and voltages in V that differ by less than this are the same: what is left is the noise of the
/// solver and the leak of open switches.
pub const SAME: f64 = 1e-6;

/// Whether the first situation is the one to tell.
pub fn is_worse(new: &Evaluated, old: &Evaluated) -> bool {
    weighed(new, old).is_gt()
}

/// Which of two situations is the one to tell: that of the worse verdict, then of the less margin. Where the thresholds do
/// not decide, the larger conflict is the one to tell, then the higher lift, then the plainest: that which joins fewest nets.
pub(super) fn weighed(new: &Evaluated, old: &Evaluated) -> Ordering {
    let margin = |e: &Evaluated| e.judged.margin.unwrap_or(0.0);
    let peak = |e: &Evaluated| e.judged.worst_joint.map_or(0.0, |(_, amps)| amps);
    let lift = |e: &Evaluated| e.judged.lifted.iter().map(|l| l.to_v - l.from_v).sum::<f64>();
    let more = [margin(old) - margin(new), peak(new) - peak(old), lift(new) - lift(old)];
    let figures = more
        .into_iter()
        .find(|by| by.abs() > SAME)
        .map_or(Ordering::Equal, |by| by.total_cmp(&0.0));
    let plainer = || old.joins.cmp(&new.joins);
    new.judged.verdict.cmp(&old.judged.verdict).then(figures).then_with(plainer)
}

/// A pair of settings of the two sides.
#[derive(Debug, Clone, PartialEq)]
pub struct Cell {
    /// Setting of the first side.
    pub a: SetWord,
    /// Setting of the second side.
    pub b: SetWord,
    /// How they stand to each other.
    pub relation: Relation,
    /// Whether a dead side there is one that operators switch by itself.
    pub separately_switched: bool,
    /// Worst over throttles, vehicles and ways of standing that join the two sides and short neither by itself.
    pub worst: Worst,
    /// Worst over throttles and all other ways of standing there: what they do is another pair's doing, but it happens at
    /// these settings.
    pub beyond: Worst,
    /// Footings on which a vehicle closes no circuit, with the settings; none where a side is dead.
    pub stalls: Vec<Evaluated>,
}

impl Cell {
    /// Worst over everything that happens at these settings.
    pub fn anything(&self) -> Worst {
        let mut worst = self.worst.clone();
        worst.merge(&self.beyond);
        worst
    }
}

/// How one vehicle passes with the settings of a situation.
#[derive(Debug, Clone, PartialEq)]
pub struct Pass {
    /// Index of its longest stand that joins both rails (or one, if it cannot join both).
    pub stand: StandIx,
    /// Judgement.
    pub verdict: Verdict,
    /// At its least speed: time over the cut, s; whether a trip acts; in which share of phases.
    pub slow: (f64, Trips, f64),
    /// At its largest speed.
    pub fast: (f64, Trips, f64),
    /// Standing there.
    pub standing: (Trips, f64),
}

/// Charging of a lifted pole at the moment of joining.
#[derive(Debug, Clone, PartialEq)]
pub struct InrushAt {
    /// The situation in which it happens.
    pub settings: Settings,
    /// The stand.
    pub stand: StandIx,
    /// How the settings stand to each other.
    pub relation: Relation,
    /// The supply that is charged, and from and to which voltage.
    pub supply: SupplyIx,
    /// Voltage before, V.
    pub from_v: f64,
    /// Voltage after, V.
    pub to_v: f64,
    /// Current at once, A.
    pub amps: f64,
    /// Time constant, s.
    pub tau_s: f64,
    /// Drivers whose trip it sets off.
    pub trips: Vec<DriverIx>,
}

/// Everything known about a cut.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CutResult {
    /// Pairs of parties that were tried, that of the two sides first.
    pub pairs: Vec<Pair>,
    /// Further pairs that were not.
    pub pairs_left_out: usize,
    /// Ways of standing in which a pair was not tried.
    pub stands_left_out: usize,
    /// Ways of standing for which the search for causes was broken off.
    pub causes_left_out: usize,
    /// Every pair of settings that the two sides can reach.
    pub cells: Vec<Cell>,
    /// Worst over the other pairs, by relation.
    pub beside: BTreeMap<Relation, Worst>,
    /// What trips miss while no side is dead, at any settings.
    pub blinds: Blinds,
    /// Causes of what conflicts at any settings, each with its worst situation.
    pub causes: Vec<CauseAt>,
    /// Causes of what conflicts as set now, where those settings do not agree.
    pub causes_now: Vec<CauseAt>,
    /// Poles that are lifted at any settings.
    pub lifts: Vec<LiftAt>,
    /// Poles that are lifted as set now, where those settings do not agree.
    pub lifts_now: Vec<LiftAt>,
    /// Worst at the settings now.
    pub now: Worst,
    /// How the settings now stand to each other.
    pub now_relation: Option<Relation>,
    /// Footings on which a vehicle closes no circuit although both sides drive and agree, each once.
    pub stalls: Vec<Evaluated>,
    /// Passes of each vehicle at the settings now.
    pub passes_now: Vec<Pass>,
    /// Passes at the worst of the agreeing settings.
    pub passes_agree: Vec<Pass>,
    /// Inrush, worst first per relation.
    pub inrush: Vec<InrushAt>,
    /// Full-drive share of time of each side now, and of both together: they surge if it is more than the larger.
    pub surge: Option<[f64; 3]>,
}

impl CutResult {
    /// True if a vehicle closes no circuit on a footing however the two sides drive.
    pub fn stalls_whatever_drives(&self, footing: FootingIx) -> bool {
        let mut driving = self.cells.iter().filter(|cell| cell.a.drives() && cell.b.drives());
        let stalls = |cell: &Cell| cell.stalls.iter().any(|stall| stall.footing == Some(footing));
        driving.all(stalls)
    }

    /// Worst over all pairs at settings of one relation.
    pub fn worst(&self, relation: Relation) -> Worst {
        let mut all = Worst::default();
        for cell in self.cells.iter().filter(|c| c.relation == relation) {
            all.merge(&cell.worst);
        }
        if let Some(beside) = self.beside.get(&relation) {
            all.merge(beside);
        }
        all
    }
}
