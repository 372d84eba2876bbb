//! Drivers against each other with no train on the track.

use std::collections::{BTreeMap, BTreeSet};

use super::cut::{Case, Evaluated, Settings, Surroundings};
use super::judge::{Bench, CONFLICT_A, Judged};
use super::situation::situation;
use super::{Situation, Verdict, View};
use crate::drive::{self, SetWord};
use crate::layout::DriverId;
use crate::rails::{CutAt, PlanNet};
use crate::straddle::case::Wiring;
use crate::straddle::ix::DriverIx;
use crate::straddle::path::Tape;

/// The conflict of some drivers as everything is set now; `None` if none of them carries the current of one. A driver
/// that is stopped is tried in each state in which its controls can park it.
pub(crate) fn now(view: &View, drivers: &[DriverId]) -> Option<Situation> {
    let ring = Ring::of(view, drivers)?;
    let set: Settings = ring.case.controls.iter().map(|control| control.now).collect();
    ring.worst(&ring.case.parked(&set, &[]))
}

/// The worst conflict of some drivers over everything that their controls can reach, all other drivers off; `None` if
/// they never conflict. It depends on no throttle.
pub(crate) fn worst(view: &View, drivers: &[DriverId]) -> Option<Situation> {
    let ring = Ring::of(view, drivers)?;
    let controls = &ring.case.controls;
    let mut tried = vec![Settings::filled((SetWord::Off, 0.0), controls.len())];
    for &at in &ring.own {
        let kind = drive::of(&controls[at].driver.drive);
        let live = kind.settings().iter().filter(|word| !word.is_dead());
        let sets: Vec<(SetWord, f64)> =
            live.flat_map(|&word| kind.levels(word).into_iter().map(move |l| (word, l))).collect();
        let with = |settings: &Settings, set: (SetWord, f64)| {
            let mut settings = settings.clone();
            settings[at] = set;
            settings
        };
        tried = tried.iter().flat_map(|s| sets.iter().map(|&set| with(s, set))).collect();
    }
    ring.worst(&tried)
}

/// Pairs of drivers that feed one rail, at most [`MOST_PAIRS`] per rail.
pub(crate) fn on_one_rail(view: &View) -> BTreeSet<[DriverId; 2]> {
    let mut pairs = BTreeSet::new();
    for net in &view.plan.nets {
        let on: BTreeSet<DriverId> = net.legs.iter().map(|leg| leg.driver).collect();
        let on: Vec<DriverId> = on.into_iter().collect();
        pairs.extend(pairs_of(&on).take(MOST_PAIRS));
    }
    pairs
}

/// Drivers of one rail of which not all pairs are tried, and the number of pairs left out.
pub(crate) fn left_out(view: &View) -> BTreeMap<Vec<DriverId>, usize> {
    let tried = on_one_rail(view);
    let mut left_out = BTreeMap::new();
    for net in &view.plan.nets {
        let on: BTreeSet<DriverId> = net.legs.iter().map(|leg| leg.driver).collect();
        let on: Vec<DriverId> = on.into_iter().collect();
        let more = pairs_of(&on).filter(|pair| !tried.contains(pair)).count();
        if more > 0 {
            left_out.insert(on, more);
        }
    }
    left_out
}

/// All pairs of some drivers, each in their order.
pub(crate) fn pairs_of(drivers: &[DriverId]) -> impl Iterator<Item = [DriverId; 2]> + '_ {
    let with_later = |(i, &a)| drivers[i + 1..].iter().map(move |&b| [a, b]);
    drivers.iter().enumerate().flat_map(with_later)
}

/// At most this many pairs are tried on one rail or block: all pairs of twelve drivers.
pub(crate) const MOST_PAIRS: usize = 66;

/// Some drivers with what the rails and supplies join to them.
struct Ring<'a> {
    view: &'a View<'a>,
    case: Case,
    around: Surroundings,
    own: Vec<DriverIx>,
}

impl<'a> Ring<'a> {
    fn of(view: &'a View<'a>, drivers: &[DriverId]) -> Option<Ring<'a>> {
        let layout = view.layout;
        let always: BTreeSet<DriverId> = drivers.iter().copied().collect();
        let no_nets: BTreeSet<PlanNet> = BTreeSet::new();
        let (wiring, names) =
            Wiring::around(layout, &view.plan, &no_nets, &always, Tape::default());
        let own: Vec<DriverIx> = drivers.iter().filter_map(|id| names.drivers.of(id)).collect();
        let (&x, &y) = (own.first()?, own.last()?);
        let case = Case { sides: [Some(x), Some(y)], ..Case::bare(layout, wiring, &names) };
        let around = Surroundings {
            at: CutAt { before: 0, after: 0, block_before: 0, block_after: 0, sign: 1 },
            names,
            stands: Default::default(),
            footings: Default::default(),
            left_out: 0,
        };
        Some(Ring { view, case, around, own })
    }

    /// The worst of some settings in which all the drivers carry the current of a conflict.
    fn worst(&self, tried: &[Settings]) -> Option<Situation> {
        let mut bench = Bench::new(&self.case.wiring);
        let mut worst: Option<Evaluated> = None;
        for settings in tried {
            let Some(new) = self.solve(&mut bench, settings) else { continue };
            let peak = |e: &Evaluated| e.judged.worst_joint.map_or(0.0, |w| w.1);
            let weight = |e: &Evaluated| (e.judged.verdict, peak(e));
            if worst.as_ref().is_none_or(|old| weight(&new) > weight(old)) {
                worst = Some(new);
            }
        }
        let told = situation(&self.view.plan, &self.case, &self.around, &worst?);
        let drivers = self.own.iter().map(|&at| self.around.names.drivers[at]);
        Some(Situation { parties: drivers.collect(), ..told })
    }

    fn solve(&self, bench: &mut Bench, settings: &Settings) -> Option<Evaluated> {
        let case = &self.case;
        let mut powered = case.powered_for(settings);
        for &at in &self.own {
            powered[case.wiring.drivers[at].supply] = settings[at].0 != SetWord::Unpowered;
        }
        let scenario = case.scenario(settings, &powered);
        let judged = bench.judge_thoroughly(&scenario, None);
        // What flows must flow in these: others on the same rail may fight as well.
        let takes_part = |&at: &DriverIx| {
            let figures = judged.drivers.get(at).map(|d| &d.figures);
            figures.is_some_and(|[p, m, _]| p.peak.max(m.peak) > CONFLICT_A)
        };
        (judged.share > 0.0 && self.own.iter().all(takes_part))
            .then(|| Evaluated::joined(settings, scenario, None, at_least_a_caution(judged)))
    }
}

/// A conflict with no train is worth knowing even where nothing trips.
fn at_least_a_caution(judged: Judged) -> Judged {
    Judged { verdict: judged.verdict.max(Verdict::Caution), ..judged }
}
