//! The causes of what flows at a place: for each relation of the settings the smallest set of changes that ends it, and
//! for each cause the worst situation in which it has a share.

use std::cmp::Ordering;
use std::collections::{BTreeMap, BTreeSet, HashSet};
use std::rc::Rc;

use super::blind::Blinds;
use super::case::{Case, Settings};
use super::parties::Pair;
use super::result::{Evaluated, SAME, Worst, weighed};
use crate::drive::{self, Change, Signal};
use crate::straddle::ix::{DriverIx, StandIx, SupplyIx, Table};
use crate::study::causes::{Cause, Counterfactual, Explained, Instant, LIFT_V, Lab, explain};
use crate::study::types::{Relation, Verdict};

/// One cause at a place.
#[derive(Debug, Clone, PartialEq)]
pub struct CauseAt {
    /// The cause.
    pub cause: Cause,
    /// How the settings stand to each other.
    pub relation: Relation,
    /// The pair whose settings are tried, where the cause is that of one pair.
    pub pair: Option<Pair>,
    /// The changes that together end it.
    pub changes: Vec<Counterfactual>,
    /// Changes that do the same in place of one of those.
    pub instead: Vec<Counterfactual>,
    /// Drivers that carry the current of its conflict.
    pub parties: BTreeSet<DriverIx>,
    /// The worst situation in which it has a share, and the worst verdict by what is joined.
    pub worst: Worst,
    /// Share of time that belongs to it in that situation.
    pub share: f64,
    /// True if it occurs with one rail joined only.
    pub one_rail: bool,
    /// True if a dead side of that situation is one that operators switch by itself.
    pub separately_switched: bool,
}

/// A pole that stands above what its supply gives, once the conflict is cured.
#[derive(Debug, Clone, PartialEq)]
pub struct LiftAt {
    /// The supply.
    pub supply: SupplyIx,
    /// True if the supply is on.
    pub powered: bool,
    /// What it gives by itself, V.
    pub own_v: f64,
    /// Highest voltage of its pole, V.
    pub to_v: f64,
    /// Verdict against the voltage that it bears.
    pub verdict: Verdict,
    /// How the settings stand to each other.
    pub relation: Relation,
    /// The situation.
    pub situation: Evaluated,
    /// True if equal voltages end it.
    pub by_voltage: bool,
    /// True if a dead side of that situation is one that operators switch by itself.
    pub separately_switched: bool,
}

/// What settings are about: how they stand to each other, which pair is tried, and whether a dead side there is one that
/// operators switch by itself.
pub(super) type About = (Relation, Option<Pair>, bool);

/// What was tried at a place, as far as causes are asked of it.
#[derive(Default)]
pub(super) struct Tried {
    pub kept: Vec<Kept>,
    pub reached: Vec<Reached>,
    pub blinds: Blinds,
}

/// Settings that were tried over some ways of standing.
pub(super) struct Reached {
    pub about: About,
    pub settings: Settings,
    pub powered: Table<SupplyIx, bool>,
    pub stands: Rc<[StandIx]>,
}

impl Reached {
    /// Its joint states, over every way of standing.
    fn instants(&self, case: &Case) -> Vec<Instant> {
        let scenario = case.scenario(&self.settings, &self.powered);
        let levels = scenario.levels();
        let mut instants = Vec::new();
        for parts in scenario.occurring() {
            instants.extend(self.stands.iter().map(|&stand| {
                let levels = levels.iter().copied();
                Instant::of(Some(stand), &parts, levels, self.powered.clone(), (&[], &[]))
            }));
        }
        instants
    }
}

/// A judged situation that is kept for its causes.
pub(super) struct Kept {
    pub about: About,
    pub evaluated: Evaluated,
    /// Each joint state with its share, and true where it is in conflict.
    pub instants: Vec<(Instant, f64, bool)>,
}

impl Kept {
    /// A situation, if anything conflicts or is lifted in it.
    pub fn of(about: About, evaluated: &Evaluated) -> Option<Kept> {
        let judged = &evaluated.judged;
        let conflict = judged.over.iter().any(|&over| over) && !judged.resolved;
        if !conflict && judged.lifted.is_empty() {
            return None;
        }
        let powered = &evaluated.scenario.powered;
        let levels = evaluated.scenario.levels();
        let instants = judged.joints.iter().zip(&judged.over).map(|((share, parts), &over)| {
            let acted = (&evaluated.woke[..], &judged.exchanged[..]);
            let levels = levels.iter().copied();
            let at = Instant::of(evaluated.stand, parts, levels, powered.clone(), acted);
            (at, *share, over && !judged.resolved)
        });
        let instants = instants.filter(|(_, share, _)| *share > 0.0).collect();
        Some(Kept { about, evaluated: evaluated.clone(), instants })
    }
}

/// The causes and lifts of what was tried. Settings that agree are explained together, as those with one side dead;
/// settings that disagree pair by pair, because each pair needs a polarity of its own.
pub(super) fn explained(case: &Case, lab: &mut Lab, tried: &Tried) -> (Vec<CauseAt>, Vec<LiftAt>) {
    let group = |(relation, pair, separately_switched): About| {
        (relation, pair.filter(|_| relation == Relation::Disagree), separately_switched)
    };
    let mut groups: BTreeMap<About, Vec<&Kept>> = BTreeMap::new();
    for one in &tried.kept {
        groups.entry(group(one.about)).or_default().push(one);
    }
    let (mut causes, mut lifts) = (Vec::new(), Vec::new());
    for (about, kept) in groups {
        let (relation, pair, _) = about;
        let reached = tried.reached.iter().filter(|reached| group(reached.about) == about);
        let explained = explain_group(case, lab, (relation, reached), &kept);
        causes.extend(causes_of(case, lab, (relation, pair), &kept, &explained));
        lifts.extend(lifts_of(case, lab, relation, &kept, &explained));
    }
    (causes, lifts)
}

/// Limit of joint states that are looked at for having no conflict, in drivers: what is spent on them, the search for causes
/// does not have. Two drivers seldom reach more than a hundred such states.
const MOST_CALM: usize = 800;

fn explain_group<'a>(
    case: &Case,
    lab: &mut Lab,
    (relation, reached): (Relation, impl Iterator<Item = &'a Reached>),
    kept: &[&Kept],
) -> Explained {
    let (mut over, mut calm) = (Vec::new(), Vec::new());
    let mut known: HashSet<Instant> = HashSet::new();
    let instants = || kept.iter().flat_map(|kept| &kept.instants);
    for conflicts in [true, false] {
        for (instant, _, is_over) in instants().filter(|(_, _, over)| *over == conflicts) {
            if known.insert(instant.clone()) {
                let list: &mut Vec<Instant> = if *is_over { &mut over } else { &mut calm };
                list.push(instant.clone());
            }
        }
    }
    if over.is_empty() {
        return Explained::default();
    }
    // A change that moves the conflict to other throttles of the relation ends nothing.
    let other = reached.flat_map(|reached| reached.instants(case));
    let other = other.filter(|instant| known.insert(instant.clone()));
    let other = other.take(MOST_CALM / case.controls.len().max(1));
    let far: Vec<Instant> = other.filter(|instant| lab.clears(instant, &[])).collect();
    let mut candidates = candidates(case, relation, &over);
    // Where no train joins the other rail in conflict, the tie is what makes one rail enough.
    let one_rail = |instant: &Instant| {
        let stand = instant.stand.map(|at| &case.stands[at]);
        stand.is_some_and(|stand| stand.joins(0) != stand.joins(1))
    };
    if case.parts_both_rails() && over.iter().all(one_rail) {
        candidates.sort_by_key(|change| *change != Counterfactual::TiesOpened);
    }
    explain(lab, &over, [&calm, &far], &candidates)
}

/// The changes that can end the conflict of some instants, in the order of the table.
fn candidates(case: &Case, relation: Relation, over: &[Instant]) -> Vec<Counterfactual> {
    let mut found = Vec::new();
    let drivers: Vec<DriverIx> = case.controls.indices().collect();
    let does = |at: DriverIx, what: &dyn Fn(&Instant) -> bool| {
        over.iter().any(|instant| what(instant) && !instant.lets_go(at))
    };
    let live: Vec<DriverIx> = drivers.into_iter().filter(|&at| does(at, &|_| true)).collect();
    let drive = |at: DriverIx| drive::of(&case.controls[at].driver.drive);
    let direct = |at: &DriverIx| drive(*at).signal() == Signal::Direct;
    for &at in &live {
        if relation != Relation::OneDead && direct(&at) {
            found.extend(case.whole(at).into_iter().map(Counterfactual::WiresExchanged));
        }
        if over.iter().any(|instant| instant.woke.contains(&at)) {
            found.push(Counterfactual::StaysAsleep(at));
        }
        if does(at, &|instant| instant.idles(at)) {
            found.push(Counterfactual::Coasts(at));
        }
    }
    let volts = |at: DriverIx| {
        let supply = &case.wiring.supplies[case.wiring.drivers[at].supply];
        let halves = if supply.split { 2.0 } else { 1.0 };
        halves * case.wiring.values[supply.open_v].nominal
    };
    // A dead driver's diodes lead into its supply as well.
    let parties: Vec<DriverIx> = case.parties.iter().map(|party| party.driver).collect();
    let unequal = parties.iter().any(|&at| volts(at) != volts(parties[0]));
    if unequal || live.iter().any(|&at| drive(at).level_is_a_voltage()) {
        found.push(Counterfactual::OneVoltage);
    }
    let boosters: Vec<DriverIx> = live.iter().copied().filter(|at| !direct(at)).collect();
    if boosters.len() > 1 {
        found.extend(boosters.iter().map(|&at| Counterfactual::PhaseExchanged(at)));
        if boosters.windows(2).any(|two| drive(two[0]).signal() != drive(two[1]).signal()) {
            found.push(Counterfactual::OneSignal);
        }
        let late = |at: &DriverIx| drive(*at).changed(Change::TakeDelayAway).is_some();
        found.extend(boosters.iter().copied().filter(late).map(Counterfactual::NoDelay));
    }
    if boosters.len() < live.len() {
        found.extend(boosters.iter().map(|&at| Counterfactual::Silenced(at)));
    }
    let shared = live
        .windows(2)
        .any(|two| case.wiring.drivers[two[0]].supply == case.wiring.drivers[two[1]].supply);
    if shared
        || live.iter().any(|&at| case.wiring.supplies[case.wiring.drivers[at].supply].tie.is_some())
    {
        found.push(Counterfactual::TiesOpened);
    }
    found.sort();
    found
}

/// Each cause of a group with the worst situation in which it has a share.
fn causes_of(
    case: &Case,
    lab: &mut Lab,
    (relation, pair): (Relation, Option<Pair>),
    kept: &[&Kept],
    explained: &Explained,
) -> Vec<CauseAt> {
    let mut found: BTreeMap<Cause, CauseAt> = BTreeMap::new();
    for one in kept {
        let mut shares: BTreeMap<Cause, (f64, Vec<&Instant>)> = BTreeMap::new();
        for (instant, share, _) in one.instants.iter().filter(|(_, _, over)| *over) {
            for cause in explained.causes(instant) {
                let own = shares.entry(cause).or_default();
                own.0 += share;
                own.1.push(instant);
            }
        }
        let stand = one.evaluated.stand.map(|at| &case.stands[at]);
        let one_rail = stand.is_some_and(|stand| stand.joins(0) != stand.joins(1));
        for (cause, (share, instants)) in shares {
            let at = found.entry(cause).or_insert_with(|| {
                let (changes, instead) = explained.changes(cause);
                CauseAt {
                    cause,
                    relation,
                    pair: pair.or(one.about.1),
                    changes,
                    instead,
                    parties: BTreeSet::new(),
                    worst: Worst::default(),
                    share: 0.0,
                    one_rail: false,
                    separately_switched: false,
                }
            });
            at.one_rail |= one_rail;
            let worst = at.worst.worst.as_ref();
            let weight = worst.map_or(Ordering::Greater, |old| weighed(&one.evaluated, old));
            at.worst.take(one.evaluated.clone(), stand);
            if weight.is_gt() {
                at.share = share;
                (_, at.pair, at.separately_switched) = one.about;
                at.parties.clear();
            }
            // Of situations that are equally bad the first is told: who takes part is told of all.
            if weight.is_ge() {
                let carrying = instants.into_iter().filter_map(|at| lab.outcome(at, &[]));
                at.parties.extend(carrying.flat_map(|outcome| outcome.carrying));
            }
        }
    }
    found.into_values().collect()
}

/// Poles that are lifted once the conflict of a group is cured: the highest of each supply.
fn lifts_of(
    case: &Case,
    lab: &mut Lab,
    relation: Relation,
    kept: &[&Kept],
    explained: &Explained,
) -> Vec<LiftAt> {
    let mut found: BTreeMap<(SupplyIx, bool), LiftAt> = BTreeMap::new();
    for one in kept.iter().filter(|one| !one.evaluated.judged.lifted.is_empty()) {
        for (instant, _, _) in &one.instants {
            let Some(outcome) = lab.outcome(instant, &explained.set) else { continue };
            for (supply, to_v) in outcome.lifted {
                let own_v = case.wiring.own_v(supply, instant.powered[supply]);
                let separately_switched = one.about.2;
                let key = (supply, separately_switched);
                let joins = one.evaluated.joins;
                let is_less = |old: &LiftAt| {
                    let equal = (old.to_v - to_v).abs() <= SAME;
                    if equal { old.situation.joins <= joins } else { old.to_v > to_v }
                };
                if found.get(&key).is_some_and(is_less) {
                    continue;
                }
                let powered = instant.powered[supply];
                let level: Vec<Counterfactual> =
                    explained.set.iter().copied().chain([Counterfactual::OneVoltage]).collect();
                let by_voltage = powered
                    && lab
                        .outcome(instant, &level)
                        .is_some_and(|level| level.lifted.iter().all(|lifted| lifted.0 != supply));
                found.insert(
                    key,
                    LiftAt {
                        supply,
                        powered,
                        own_v,
                        to_v,
                        verdict: case.borne(supply, to_v),
                        relation,
                        situation: one.evaluated.clone(),
                        by_voltage,
                        separately_switched,
                    },
                );
            }
        }
    }
    found.into_values().filter(|lift| lift.to_v > lift.own_v + LIFT_V).collect()
}

impl Case {
    /// True if both rails change their nets at the place.
    fn parts_both_rails(&self) -> bool {
        let [before, beyond] = self.rails;
        (0..2).all(|side| before[side] != beyond[side])
    }

    /// The verdict on a pole at a voltage: clear where no bearable voltage is stated.
    fn borne(&self, supply: SupplyIx, volts: f64) -> Verdict {
        let Some(bearable) = self.wiring.supplies[supply].bearable_v else { return Verdict::Clear };
        let margin = 1.0 - volts / self.wiring.values[bearable].nominal;
        if margin < 0.0 {
            Verdict::BackFeed
        } else if margin < super::super::judge::NEAR {
            Verdict::Caution
        } else {
            Verdict::Clear
        }
    }
}
