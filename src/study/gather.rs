//! Collecting every case of a layout: each cut, in every set of positions of the selectors that matter there, and each
//! boundary of special work.
//!
//! Stages: [`Plans`] → [`Ground`]s (a place and who can stand there) → [`Site`]s (the case there, solved). A study of an
//! edited layout keeps every stage whose inputs the edit leaves alone.

use std::collections::{BTreeMap, BTreeSet, HashSet};
use std::sync::{Arc, Mutex, PoisonError};

use rayon::prelude::*;

use super::cut::{self, Case, CutResult, Standing, Stock, Surroundings};
use super::key::Key;
use super::memo::Memo;
use super::places::{self, Boundary, Place};
use super::situation::Known;
use super::types::SelectorAt;
use crate::layout::{Cut, CutId, Layout, Special, SpecialId, Work};
use crate::rails::selectors::{self, Near};
use crate::rails::{Plan, Positions, SelectorId};

/// A boundary of special work that a train rolls over, with all that is known of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Straddle {
    /// The special work.
    pub special: SpecialId,
    /// True if it trails through points that are set for another road.
    pub against: bool,
    /// Under vehicles by themselves, and under trains where they do more.
    pub known: Vec<Known>,
}

/// Sets of positions with their plans; the first has every selector as it stands now.
pub(super) struct Plans {
    all: Vec<(Positions, Arc<Plan>)>,
    index: BTreeMap<Positions, usize>,
    /// Plans that rules asked for beside these.
    asked: Mutex<BTreeMap<Positions, Arc<Plan>>>,
}

/// At most this many plans are kept for rules.
const MOST_ASKED: usize = 256;

impl Plans {
    /// The plan in the positions of now alone.
    pub fn of(now: Arc<Plan>) -> Plans {
        let positions = Positions::default();
        Plans {
            index: BTreeMap::from([(positions.clone(), 0)]),
            all: vec![(positions, now)],
            asked: Mutex::default(),
        }
    }

    /// The plan with every selector as it stands now.
    pub fn now(&self) -> &Arc<Plan> {
        &self.all[0].1
    }

    /// All plans, that of now first.
    pub fn all(&self) -> impl Iterator<Item = &Arc<Plan>> {
        self.all.iter().map(|(_, plan)| plan)
    }

    /// The plan in any positions.
    pub fn at(&self, layout: &Layout, positions: Positions) -> Arc<Plan> {
        if let Some(&at) = self.index.get(&positions) {
            return Arc::clone(&self.all[at].1);
        }
        let asked = || self.asked.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(plan) = asked().get(&positions) {
            return Arc::clone(plan);
        }
        let plan = Arc::new(self.now().at(layout, positions.clone()));
        let mut asked = asked();
        if asked.len() >= MOST_ASKED {
            asked.clear();
        }
        asked.insert(positions, Arc::clone(&plan));
        plan
    }

    /// Adds the plans of sets of positions, where they are missing: those of `spare` where it has them.
    fn add<'a>(
        &mut self,
        layout: &Layout,
        sets: impl Iterator<Item = &'a Positions>,
        spare: Option<&Plans>,
    ) {
        let mut missing: Vec<&Positions> = Vec::new();
        for set in sets {
            if !self.index.contains_key(set) {
                self.index.insert(set.clone(), self.all.len() + missing.len());
                missing.push(set);
            }
        }
        let now = self.now();
        let plan = |set: &&Positions| {
            let known = spare.and_then(|spare| Some(&spare.all[*spare.index.get(*set)?].1));
            let plan = known.map_or_else(|| Arc::new(now.at(layout, (*set).clone())), Arc::clone);
            ((*set).clone(), plan)
        };
        let new: Vec<(Positions, Arc<Plan>)> = missing.par_iter().map(plan).collect();
        self.all.extend(new);
    }
}

/// What a place belongs to.
#[derive(Clone, Copy)]
enum Whose {
    Cut(CutId),
    /// An index in [`Grounds::straddles`].
    Straddle(usize),
}

/// A place in one set of positions, with who can stand there.
struct Ground {
    /// Index of the set of positions.
    set: usize,
    whose: Whose,
    /// True if trains stand there, false for vehicles by themselves.
    train: bool,
    selectors: Vec<SelectorAt>,
    standing: Standing,
}

/// Every place of a layout.
pub(super) struct Grounds {
    all: Vec<Ground>,
    /// Index of the set of positions, special work, and whether one trails through it.
    straddles: Vec<(usize, SpecialId, bool)>,
    /// Selectors that were not tried because there are too many, by cut.
    pub held: BTreeMap<CutId, Vec<SelectorId>>,
    /// Sets of positions in which a cut is not judged, because a driver that matters there is shorted with no train.
    pub shorted: BTreeMap<CutId, Vec<Vec<SelectorAt>>>,
}

/// The sets of positions in which a place is looked at, and the selectors that differ between them.
struct Sets {
    tried: Vec<SelectorId>,
    sets: Vec<Positions>,
}

impl Grounds {
    /// Finds the places of a layout, and adds the plans that they need; those of `spare` are plans of the same layout.
    pub fn of(layout: &Layout, plans: &mut Plans, spare: Option<&Plans>, stock: &Stock) -> Grounds {
        let cuts: Vec<&Cut> = layout.cuts.values().collect();
        let now = Arc::clone(plans.now());
        let nears: Vec<Near> = cuts.par_iter().map(|cut| near(layout, &now, cut, stock)).collect();
        let at_cuts: Vec<Sets> = nears.iter().map(|near| Sets::of(layout, &near.tried)).collect();
        let specials: Vec<SpecialId> = layout
            .specials
            .values()
            .filter(|special| !matches!(special.work, Work::Buffer { .. }))
            .map(|special| special.id)
            .collect();
        let own = |&id: &SpecialId| {
            let mut own = vec![crate::rails::leader(layout, SelectorId::Points(id))];
            let lever = layout.specials.get(&id).is_some_and(Special::has_contact_lever);
            own.extend(lever.then_some(SelectorId::Contact(id)));
            own
        };
        let at_specials: Vec<Sets> = specials.iter().map(|id| Sets::of(layout, &own(id))).collect();
        let sets = at_cuts.iter().chain(&at_specials).flat_map(|sets| &sets.sets);
        plans.add(layout, sets, spare);

        let plans = &*plans;
        let found: Vec<AtCut> = cuts
            .par_iter()
            .zip(&at_cuts)
            .map(|(cut, sets)| at_cut(layout, plans, stock, cut, sets))
            .collect();
        let mut all: Vec<Ground> = Vec::new();
        let mut shorted = BTreeMap::new();
        for (cut, at_cut) in cuts.iter().zip(found) {
            all.extend(at_cut.grounds);
            if !at_cut.shorted.is_empty() {
                shorted.insert(cut.id, at_cut.shorted);
            }
        }
        let mut straddles = Vec::new();
        let boundaries: Vec<Vec<(bool, Vec<Ground>)>> = specials
            .par_iter()
            .zip(&at_specials)
            .map(|(&special, sets)| at_special(layout, plans, stock, special, sets))
            .collect();
        for (&special, boundaries) in specials.iter().zip(boundaries) {
            for (against, grounds) in boundaries {
                let whose = Whose::Straddle(straddles.len());
                let Some(set) = grounds.first().map(|ground| ground.set) else { continue };
                straddles.push((set, special, against));
                all.extend(grounds.into_iter().map(|ground| Ground { whose, ..ground }));
            }
        }
        let held = cuts.iter().zip(nears).filter(|(_, near)| !near.held.is_empty());
        let held = held.map(|(cut, near)| (cut.id, near.held)).collect();
        Grounds { all, straddles, held, shorted }
    }
}

impl Sets {
    fn of(layout: &Layout, tried: &[SelectorId]) -> Sets {
        Sets { tried: tried.to_vec(), sets: selectors::sets(layout, tried) }
    }

    /// The sets with their plans: index, plan, and where the tried selectors stand.
    fn with_plans<'a>(
        &'a self,
        layout: &'a Layout,
        plans: &'a Plans,
    ) -> impl Iterator<Item = (usize, &'a Plan, Vec<SelectorAt>)> {
        self.sets.iter().filter_map(|positions| {
            let set = *plans.index.get(positions)?;
            let at = |&id: &SelectorId| SelectorAt { id, position: positions.of(layout, id) };
            Some((set, &*plans.all[set].1, self.tried.iter().map(at).collect()))
        })
    }
}

/// The grounds at one cut, and the sets of positions that are not judged there.
#[derive(Default)]
struct AtCut {
    grounds: Vec<Ground>,
    shorted: Vec<Vec<SelectorAt>>,
}

fn at_cut(layout: &Layout, plans: &Plans, stock: &Stock, cut: &Cut, sets: &Sets) -> AtCut {
    let reach_mm = stock.reach_mm() + cut.stagger_mm.abs();
    let mut found = AtCut::default();
    for (set, plan, selectors) in sets.with_plans(layout, plans) {
        let Some(place) = places::of_cut(layout, plan, cut, reach_mm) else { continue };
        // Positions that short a driver with no train are reported by themselves, where that driver matters.
        let shorted = if set > 0 { plan.shorted() } else { BTreeSet::new() };
        let silenced = |ground: &Ground| {
            !shorted.is_empty() && !ground.standing.drivers(layout, plan).is_disjoint(&shorted)
        };
        let grounds = grounds_at(stock, &place, (set, &selectors), Whose::Cut(cut.id));
        let (silent, judged): (Vec<Ground>, Vec<Ground>) = grounds.partition(silenced);
        found.grounds.extend(judged);
        if !silent.is_empty() {
            found.shorted.push(selectors);
        }
    }
    found
}

/// The boundaries of special work, each with whether one trails through it.
fn at_special(
    layout: &Layout,
    plans: &Plans,
    stock: &Stock,
    special: SpecialId,
    sets: &Sets,
) -> Vec<(bool, Vec<Ground>)> {
    let mut found = Vec::new();
    for (set, plan, selectors) in sets.with_plans(layout, plans) {
        for Boundary { against, place } in
            places::of_special(layout, plan, special, stock.reach_mm())
        {
            let grounds = grounds_at(stock, &place, (set, &selectors), Whose::Straddle(0));
            found.push((against, grounds.collect()));
        }
    }
    found
}

fn grounds_at(
    stock: &Stock,
    place: &Place,
    (set, selectors): (usize, &[SelectorAt]),
    whose: Whose,
) -> impl Iterator<Item = Ground> {
    let alone = (false, cut::vehicles_at(stock, place));
    let trains = cut::trains_at(stock, place).map(|standing| (true, standing));
    std::iter::once(alone).chain(trains).map(move |(train, standing)| Ground {
        set,
        whose,
        train,
        selectors: selectors.to_vec(),
        standing,
    })
}

/// The solved case of a [`Ground`].
#[derive(Clone)]
pub(super) struct Site {
    case: Arc<Case>,
    around: Arc<Surroundings>,
    key: Key<Case>,
    result: Arc<CutResult>,
}

/// What of the sites of an older study holds for a new one with the same grounds.
#[derive(Clone, Copy)]
pub(super) enum Old<'a> {
    /// Nothing.
    None,
    /// The same drivers stand around the same places; values and settings may differ.
    Places(&'a [Site]),
    /// Settings may differ.
    Wiring(&'a [Site]),
}

/// The sites of all grounds, in their order: cases are built as far as they differ from old ones, and those without an old
/// result are solved.
pub(super) fn sites(
    layout: &Layout,
    plans: &Plans,
    grounds: &Grounds,
    memo: &Memo,
    old: Old,
) -> Vec<Site> {
    let numbered: Vec<(usize, &Ground)> = grounds.all.iter().enumerate().collect();
    let built: Vec<Built> = numbered
        .into_par_iter()
        .map(|(at, ground)| match old {
            Old::Wiring(sites) => sites[at].as_set_in(layout),
            Old::Places(sites) => Built::of(layout, plans, ground, Some(&sites[at])),
            Old::None => Built::of(layout, plans, ground, None),
        })
        .collect();
    let missing = built.iter().filter(|site| site.result.is_none());
    let missing: Vec<(&Key<Case>, &Case)> = missing.map(|site| (&site.key, &*site.case)).collect();
    let mut results = memo.places(&missing).into_iter();
    built
        .into_iter()
        .filter_map(|site| {
            let Built { case, around, key, result } = site;
            Some(Site { case, around, key, result: result.or_else(|| results.next())? })
        })
        .collect()
}

/// A [`Site`] that may still be unsolved.
struct Built {
    case: Arc<Case>,
    around: Arc<Surroundings>,
    key: Key<Case>,
    result: Option<Arc<CutResult>>,
}

impl Built {
    /// Builds the case of a ground; takes the result of the old case there if that was the same.
    fn of(layout: &Layout, plans: &Plans, ground: &Ground, old: Option<&Site>) -> Built {
        let (case, around) = ground.standing.case(layout, &plans.all[ground.set].1);
        let key = case.key();
        let result = old.filter(|old| old.key == key).map(|old| Arc::clone(&old.result));
        Built { case: Arc::new(case), around: Arc::new(around), key, result }
    }
}

impl Site {
    /// The same site with the drivers set as they are in a layout that differs in nothing else.
    fn as_set_in(&self, layout: &Layout) -> Built {
        let around = Arc::clone(&self.around);
        match self.case.as_set_in(layout, &around.names) {
            Some(case) => Built { key: case.key(), case: Arc::new(case), around, result: None },
            None => Built {
                case: Arc::clone(&self.case),
                around,
                key: self.key.clone(),
                result: Some(Arc::clone(&self.result)),
            },
        }
    }
}

/// What is known in one set of positions: each cut under single vehicles, and under trains; boundaries of special work.
#[derive(Default)]
pub(super) struct KnownIn {
    pub cuts: [BTreeMap<CutId, Known>; 2],
    pub straddles: Vec<Straddle>,
}

/// What is known, by set of positions.
pub(super) fn known(plans: &Plans, grounds: &Grounds, sites: &[Site]) -> Vec<KnownIn> {
    let mut known: Vec<KnownIn> = plans.all.iter().map(|_| KnownIn::default()).collect();
    let mut at_special: BTreeMap<usize, Vec<Known>> = BTreeMap::new();
    let mut seen: HashSet<(CutId, &Key<Case>)> = HashSet::new();
    for (ground, site) in grounds.all.iter().zip(sites) {
        let new = || Known {
            case: Arc::clone(&site.case),
            around: Arc::clone(&site.around),
            result: Arc::clone(&site.result),
            selectors: ground.selectors.clone(),
        };
        match ground.whose {
            // Positions that change nothing here have nothing to say.
            Whose::Cut(cut) if seen.insert((cut, &site.key)) => {
                known[ground.set].cuts[usize::from(ground.train)].insert(cut, new());
            }
            Whose::Cut(_) => {}
            Whose::Straddle(at) => at_special.entry(at).or_default().push(new()),
        }
    }
    for (at, &(set, special, against)) in grounds.straddles.iter().enumerate() {
        let at_boundary = at_special.remove(&at).unwrap_or_default();
        known[set].straddles.push(Straddle { special, against, known: at_boundary });
    }
    known
}

/// Selectors that matter at a cut: of the track within reach, and of what feeds it.
fn near(layout: &Layout, plan: &Plan, cut: &Cut, stock: &Stock) -> Near {
    if layout.specials.is_empty() && layout.devices.is_empty() {
        return Near::default();
    }
    let reach_mm = stock.reach_mm() + cut.stagger_mm.abs();
    let Some(place) = places::of_cut(layout, plan, cut, reach_mm) else { return Near::default() };
    let metal = &plan.metal;
    let mut nets: BTreeSet<usize> = BTreeSet::new();
    // From gap to gap, so that nothing depends on which of a staggered cut's two is the zero of the ruler.
    let gaps = || place.gaps_mm.into_iter().flatten();
    let least_mm = gaps().reduce(f64::min).unwrap_or(0.0) - stock.reach_mm();
    let most_mm = gaps().reduce(f64::max).unwrap_or(0.0) + stock.reach_mm();
    let close = |s: &&crate::straddle::path::Span| s.from_mm < most_mm && s.to_mm > least_mm;
    for span in place.spans.iter().filter(close) {
        let (a, b) = (span.run_mm(span.from_mm), span.run_mm(span.to_mm));
        let (from, to) = (a.min(b), a.max(b));
        let Some(first) = plan.first_piece(span.run) else { continue };
        for (at, piece) in plan.pieces_of(span.run).iter().enumerate() {
            if piece.from_mm < to - 1e-9 && piece.to_mm > from + 1e-9 {
                nets.extend(metal.pieces[first + at].nets);
            }
        }
    }
    let specials: Vec<SpecialId> = layout
        .specials
        .values()
        .filter(|special| {
            special.work.ends().into_iter().any(|end| {
                let length =
                    || layout.runs.get(&end.run).map(|r| crate::layout::length_mm(layout, r));
                let at_mm = match end.end {
                    crate::layout::RunEnd::Start => Some(0.0),
                    crate::layout::RunEnd::End => length(),
                };
                let spans = place.spans.iter().filter(close).filter(|s| s.run == end.run);
                at_mm.is_some_and(|at| {
                    spans.filter_map(|s| s.ruler_mm(at)).any(|mm| least_mm <= mm && mm <= most_mm)
                })
            })
        })
        .map(|special| special.id)
        .collect();
    selectors::near(layout, plan, &nets, &specials)
}
