//! What shorts with no train on the track as soon as selectors stand so: `fed-beyond-frog` where live points join the
//! poles of a driver, `frog-wired-wrong` where a frog's own contact does, `standing-short` for everything else, and
//! `search-not-exhausted` where not every joint position could be looked at.
//!
//! Paths of metal are found by search over the joint positions ([`standing`](crate::rails::standing)); whether current
//! flows, and how much, is asked of the circuit.

use std::collections::{BTreeMap, BTreeSet};

use crate::findings::{Class, Evident, Found, Kind, Place, SelectorAt, Situation, Verdict, View};
use crate::findings::{Cure, Near};
use crate::job::Job;
use crate::layout::{DriverId, Layout, Rails, RunEnd, SpecialId, Work, length_mm};
use crate::rails::balance::Cycle;
use crate::rails::standing::{Budget, Prepared, SetOfNeeds, prepare};
use crate::rails::{Net, Paths, Positions, SelectorId, leader, meet_behind};
use crate::study::fight;

/// Current with no train in a set of positions (those of the finding).
#[derive(Debug, Clone, PartialEq)]
pub struct Evidence {
    /// What flows.
    pub situation: Situation,
    /// True if the selectors stand so now.
    pub now: bool,
    /// Number of further sets of positions of the same drivers that are not listed.
    pub more: usize,
}

impl Evident for Evidence {
    fn situation(&self) -> Option<&Situation> {
        Some(&self.situation)
    }
}

/// How far beyond the end of a frog a gap is cut, mm.
const BEYOND_MM: f64 = 10.0;

/// Cures of a short with no train: both rails cut beyond the frogs of the special work that the finding names or throws,
/// at one exit or at all; a feed of the drivers taken away.
pub(crate) fn cures(near: &Near) -> Vec<Cure> {
    let thrown = near.finding.positions.iter().flatten().filter_map(|at| match at.id {
        SelectorId::Points(id) | SelectorId::Contact(id) => Some(id),
        SelectorId::Device(_) => None,
    });
    let specials: BTreeSet<SpecialId> = near.finding.special().into_iter().chain(thrown).collect();
    let mut cures: Vec<Cure> = Vec::new();
    let mut all: Vec<Job> = Vec::new();
    for special in specials {
        let cuts = beyond_frogs(near, special);
        cures.extend(cuts.iter().cloned().map(Cure::from));
        all.extend(cuts);
    }
    if all.len() > 1 {
        cures.push(all.into());
    }
    let feeds = near.finding.drivers.iter().flat_map(|&driver| near.feeds_of(driver));
    cures.extend(feeds.map(|feed| Cure::from(Job::TakeFeedAway(feed))));
    cures
}

/// Cuts of both rails just beyond the frogs of a turnout, one for each of its roads.
fn beyond_frogs(near: &Near, special: SpecialId) -> Vec<Job> {
    let layout = near.layout();
    let Some(Work::Turnout { exits, .. }) = layout.specials.get(&special).map(|s| &s.work) else {
        return Vec::new();
    };
    let beyond = layout.specials[&special].work.reach_mm() + BEYOND_MM;
    let cuts = exits.iter().filter_map(|exit| {
        let length = length_mm(layout, layout.runs.get(&exit.run)?);
        let at_mm = match exit.end {
            RunEnd::Start => beyond,
            RunEnd::End => length - beyond,
        };
        let inside = 0.0 < at_mm && at_mm < length;
        inside.then_some(Job::AddCut { run: exit.run, at_mm, rails: Rails::Both })
    });
    cuts.collect()
}

/// What the search of a view found, and the drivers for which it was broken off.
struct Searched {
    found: Vec<Found<Evidence>>,
    unfinished: Vec<DriverId>,
}

/// The findings of one kind.
pub(crate) fn of_kind(view: &View, kind: Kind) -> Vec<Found<Evidence>> {
    let searched = view.shared.get(|| search(view));
    searched.found.iter().filter(|f| f.kind == kind).cloned().collect()
}

/// Drivers for which not everything could be looked at.
pub(crate) fn unfinished(view: &View) -> Vec<DriverId> {
    view.shared.get(|| search(view)).unfinished.clone()
}

/// Most sets of positions that are reported of one driver, or of one pair; the rest is counted.
const MOST_TOLD: usize = 12;
/// Largest number of sets of positions that the circuit is asked about for one driver with those after it. A limit over all
/// drivers would make the report on one depend on others that nothing joins to it.
const MOST_ASKED: usize = 60;
/// So many triples of drivers are looked at.
const MOST_THREES: usize = 300;
/// Steps of search for one question, and for all of them.
const STEPS: u64 = 400_000;
const ALL_STEPS: u64 = 40_000_000;

fn search(view: &View) -> Searched {
    let mut found = Vec::new();
    let (layout, plan) = (view.layout, &view.plan);
    let paths = Paths::of(layout, plan, None);
    let shorted = !plan.shorted().is_empty();
    // Metal that is fixed and not joined with a purpose is what other rules look at, but for loops over three drivers.
    let fixed =
        paths.selectors.is_empty() && !loops_join(view) && layout.bonds.is_empty() && !shorted;
    let ends: Vec<usize> = paths.poles.values().flatten().copied().collect();
    let mut prepared = prepare(&paths.switched, &ends);
    let mut unfinished: BTreeSet<DriverId> = BTreeSet::new();
    let mut left = ALL_STEPS;
    let mut asked_of: BTreeMap<DriverId, usize> = BTreeMap::new();
    let mut smaller: Smaller = BTreeMap::new();
    for (a, others) in paths.within_reach() {
        let [p, m] = paths.poles[&a];
        let sets = ask(&mut prepared, &[[p, m]], &[a], &mut left, &mut unfinished);
        smaller.insert([a, a], sets.clone());
        let asked = asked_of.entry(a).or_default();
        if !fixed {
            of_one_driver(view, &paths, a, sets, asked, &mut found);
        }
        for b in others {
            let mut sets: Vec<SetOfNeeds> = Vec::new();
            for joins in paths.ways_to_meet(layout, a, b) {
                sets.extend(ask(&mut prepared, &joins, &[a, b], &mut left, &mut unfinished));
            }
            smaller.insert([a, b], sets.clone());
            of_two_drivers(view, &paths, [a, b], sets, asked, &mut found);
        }
    }
    let of_threes = threes(layout, &paths, &mut prepared, (&mut left, &mut unfinished), &smaller);
    for (three, sets) in of_threes {
        let asked = asked_of.entry(three[0]).or_default();
        of_three_drivers(view, &paths, three, sets, asked, &mut found);
    }
    contacts_apart(view, &mut found);
    let full = asked_of.into_iter().filter(|(_, asked)| *asked >= MOST_ASKED);
    unfinished.extend(full.map(|(driver, _)| driver));
    Searched { found, unfinished: unfinished.into_iter().collect() }
}

/// The sets of positions that join the poles of one driver (twice the same), or of two.
type Smaller = BTreeMap<[DriverId; 2], Vec<SetOfNeeds>>;

/// The sets of positions that close a loop through three drivers, and short no fewer.
fn threes(
    layout: &Layout,
    paths: &Paths,
    prepared: &mut Prepared,
    (left, unfinished): (&mut u64, &mut BTreeSet<DriverId>),
    smaller: &Smaller,
) -> Vec<([DriverId; 3], Vec<SetOfNeeds>)> {
    let mut found = Vec::new();
    let meet = |a: usize, b: usize, left: &mut u64| -> bool {
        let budget = Budget { steps: STEPS.min(*left) };
        let joined = prepared.joined(&[[a, b]], budget);
        *left = left.saturating_sub(joined.steps);
        !joined.sets.is_empty() || !joined.exhaustive
    };
    let near = paths.poles_that_meet(meet, left);
    // What is shorted in every position leaves nothing to find.
    let always = |a: DriverId, b: DriverId| {
        smaller.get(&[a, b]).is_some_and(|sets| sets.iter().any(Vec::is_empty))
    };
    let all = paths.ways_through_three(layout, &near, &always);
    if all.len() > MOST_THREES {
        unfinished.extend(all[MOST_THREES..].iter().flat_map(|(three, _)| three));
    }
    for (three, ways) in all.into_iter().take(MOST_THREES) {
        let mut sets: Vec<SetOfNeeds> = Vec::new();
        for joins in ways {
            sets.extend(ask(prepared, &joins, &three, left, unfinished));
        }
        sets.sort_by(|a, b| a.len().cmp(&b.len()).then_with(|| a.cmp(b)));
        sets.dedup();
        sets.retain(|set| !is_implied(set, three, smaller));
        if !sets.is_empty() {
            found.push((three, sets));
        }
    }
    found
}

/// True if fewer drivers are shorted by the same positions already.
fn is_implied(set: &SetOfNeeds, [a, b, c]: [DriverId; 3], smaller: &Smaller) -> bool {
    let implies = |less: &SetOfNeeds| {
        less.iter().all(|&(selector, mask)| {
            set.iter().any(|&(other, held)| other == selector && held & !mask == 0)
        })
    };
    let pairs = [[a, a], [b, b], [c, c], [a, b], [a, c], [b, c]];
    pairs.iter().filter_map(|pair| smaller.get(pair)).flatten().any(implies)
}

/// True if the metal of some loop joins its own two rails; that is reported as a loop.
fn loops_join(view: &View) -> bool {
    view.loops.cycles.iter().any(Cycle::is_joined)
}

/// A contact that stands apart from its points now is in none of the positions that are searched: points take theirs with
/// them. What it shorts as it stands is seen in the plan.
fn contacts_apart(view: &View, found: &mut Vec<Found<Evidence>>) {
    let specials = view.layout.specials.values();
    let apart: Vec<(SelectorId, u32)> = specials
        .filter(|s| !s.has_contact_lever() && s.contact_position() != s.position)
        .map(|s| (SelectorId::Contact(s.id), s.contact_position()))
        .collect();
    if apart.is_empty() {
        return;
    }
    for driver in view.plan.shorted() {
        if !found.iter().any(|f| f.evidence.now && f.drivers == [driver]) {
            let now = Positions::default();
            let kind = Kind::FrogWiredWrong;
            tell(view, kind, &[driver], now, apart.clone(), 0, found);
        }
    }
}

fn ask(
    prepared: &mut Prepared,
    joins: &[[usize; 2]],
    drivers: &[DriverId],
    left: &mut u64,
    unfinished: &mut BTreeSet<DriverId>,
) -> Vec<SetOfNeeds> {
    let found = prepared.joined(joins, Budget { steps: STEPS.min(*left) });
    *left = left.saturating_sub(found.steps);
    if !found.exhaustive {
        unfinished.extend(drivers);
    }
    found.sets
}

fn of_one_driver(
    view: &View,
    paths: &Paths,
    driver: DriverId,
    sets: Vec<SetOfNeeds>,
    asked: &mut usize,
    found: &mut Vec<Found<Evidence>>,
) {
    let layout = view.layout;
    let more = sets.len().saturating_sub(MOST_TOLD);
    for set in sets.into_iter().take(MOST_TOLD) {
        if *asked >= MOST_ASKED || (set.is_empty() && loops_join(view)) {
            continue;
        }
        *asked += 1;
        let kind = kind_of(view, paths, driver, &set);
        let (positions, selectors) = paths.positions(layout, &set);
        tell(view, kind, &[driver], positions, selectors, more, found);
    }
}

fn of_two_drivers(
    view: &View,
    paths: &Paths,
    drivers: [DriverId; 2],
    sets: Vec<SetOfNeeds>,
    asked: &mut usize,
    found: &mut Vec<Found<Evidence>>,
) {
    // What rails join in every position is a common rail, or a block with two drivers: other rules find it.
    let on_rails = meet_on_rails(view, drivers);
    let sets: Vec<SetOfNeeds> =
        sets.into_iter().filter(|set| !(set.is_empty() && on_rails)).collect();
    let more = sets.len().saturating_sub(MOST_TOLD);
    for set in sets.into_iter().take(MOST_TOLD) {
        let (positions, selectors) = paths.positions(view.layout, &set);
        // And so is what they join now.
        let told = positions.is_now() && on_rails;
        if !told && *asked < MOST_ASKED {
            *asked += 1;
            tell(view, Kind::StandingShort, &drivers, positions, selectors, more, found);
        }
    }
}

/// True if rails join two drivers so that current flows, as the selectors stand: two rails, or one where they meet behind
/// the rails as well.
fn meet_on_rails(view: &View, [a, b]: [DriverId; 2]) -> bool {
    let on = |net: &Net, driver: DriverId| net.legs.iter().any(|leg| leg.driver == driver);
    let shared = view.plan.nets.iter().filter(|net| on(net, a) && on(net, b)).count();
    shared >= if meet_behind(view.layout, a, b) { 1 } else { 2 }
}

fn of_three_drivers(
    view: &View,
    paths: &Paths,
    drivers: [DriverId; 3],
    sets: Vec<SetOfNeeds>,
    asked: &mut usize,
    found: &mut Vec<Found<Evidence>>,
) {
    let more = sets.len().saturating_sub(MOST_TOLD);
    for set in sets.into_iter().take(MOST_TOLD) {
        if *asked < MOST_ASKED {
            *asked += 1;
            let (positions, selectors) = paths.positions(view.layout, &set);
            tell(view, Kind::StandingShort, &drivers, positions, selectors, more, found);
        }
    }
}

/// Why one driver's poles meet in a set of positions.
fn kind_of(view: &View, paths: &Paths, driver: DriverId, set: &SetOfNeeds) -> Kind {
    let layout = view.layout;
    let selectors = set.iter().filter_map(|&(at, _)| paths.selectors.get(at));
    let specials = thrown_with(layout, selectors.copied().filter(|id| !is_lever(id)));
    if let ([_], [special]) = (&set[..], &specials[..]) {
        let has_contact = layout
            .specials
            .get(special)
            .and_then(|s| s.work.frog())
            .is_some_and(|frog| frog.has_contact());
        if has_contact {
            let bare = Paths::of(layout, &view.plan, Some(*special));
            let [p, m] = bare.poles[&driver];
            let mut prepared = prepare(&bare.switched, &[p, m]);
            let found = prepared.joined(&[[p, m]], Budget { steps: STEPS });
            let still = |needs: &SetOfNeeds| {
                needs
                    .iter()
                    .all(|(at, _)| bare.selectors.get(*at) == Some(&SelectorId::Points(*special)))
            };
            if !found.sets.iter().any(still) {
                return Kind::FrogWiredWrong;
            }
        }
    }
    let live = specials.iter().any(|id| {
        layout.specials.get(id).and_then(|s| s.work.frog()).is_some_and(|f| f.is_one_metal())
    });
    if live { Kind::FedBeyondFrog } else { Kind::StandingShort }
}

/// True for a contact on a lever of its own.
fn is_lever(selector: &SelectorId) -> bool {
    matches!(selector, SelectorId::Contact(_))
}

/// The special work that some selectors move, with all of its gang: which of a gang speaks for it says nothing of where the
/// rails meet.
fn thrown_with(layout: &Layout, selectors: impl Iterator<Item = SelectorId>) -> Vec<SpecialId> {
    let mut found: BTreeSet<SpecialId> = BTreeSet::new();
    for selector in selectors {
        if let SelectorId::Points(id) | SelectorId::Contact(id) = selector {
            found.insert(id);
        }
        let leads = |id: &SpecialId| leader(layout, SelectorId::Points(*id)) == selector;
        found.extend(layout.specials.keys().copied().filter(leads));
    }
    found.into_iter().collect()
}

/// Asks the circuit what flows between some drivers (or one driver's poles) in a set of positions.
fn tell(
    view: &View,
    kind: Kind,
    drivers: &[DriverId],
    positions: Positions,
    selectors: Vec<(SelectorId, u32)>,
    more: usize,
    found: &mut Vec<Found<Evidence>>,
) {
    let is_now = positions.is_now();
    let selectors: Vec<SelectorAt> =
        selectors.into_iter().map(|(id, position)| SelectorAt { id, position }).collect();
    let there = view.at(positions);
    let Some(situation) = fight::worst(&there, drivers) else { return };
    let specials = thrown_with(view.layout, selectors.iter().map(|selector| selector.id));
    // What cabs are put on is for operators; rails that points join are for the saw.
    let alone = drivers.len() == 1;
    let class = if alone { Class::Fault } else { Class::Rule };
    let blocks = view
        .plan
        .blocks
        .iter()
        .filter(|block| drivers.iter().any(|d| block.drivers.contains(d)))
        .map(|block| block.id)
        .collect();
    let verdict = situation.verdict.max(Verdict::Caution);
    let evidence = Evidence { situation, now: is_now, more };
    let whatever_is_set = Found {
        places: specials.iter().copied().map(Place::Special).collect(),
        blocks,
        positions: Some(selectors).filter(|set| !set.is_empty()).into_iter().collect(),
        drivers: drivers.to_vec(),
        ..Found::new(kind, class, verdict, evidence)
    };
    // One driver's poles joined are a fault however it is set; several drivers may be set so that nothing flows.
    let as_set_now = Some(&there).filter(|_| !alone && !specials.is_empty());
    if let Some(situation) = as_set_now.and_then(|there| fight::now(there, drivers)) {
        let verdict = situation.verdict.max(Verdict::Caution);
        let evidence = Evidence { situation, now: is_now, more };
        let rule = whatever_is_set.clone();
        found.push(Found { class: Class::Fault, verdict, now: true, evidence, ..rule });
    }
    found.push(whatever_is_set);
}
