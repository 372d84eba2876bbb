//! Collecting every case of a layout: each cut, in every set of positions of the selectors that matter there, and each
//! boundary of special work; solving those that are not remembered.

use std::collections::{BTreeMap, BTreeSet, HashSet};
use std::sync::Arc;

use super::View;
use super::cut::{self, Case, Stock, Surroundings};
use super::key::Key;
use super::memo::Memo;
use super::places::{self, Boundary, Place};
use super::situation::Known;
use super::types::SelectorAt;
use crate::layout::{CutId, Layout, SpecialId, Work};
use crate::rails::selectors::{self, Near};
use crate::rails::{Plan, Positions, SelectorId};

/// A boundary of special work that a train rolls over, with all that is known of it.
pub struct Straddle {
    /// The special work.
    pub special: SpecialId,
    /// Whether it trails through points that are set for another road.
    pub against: bool,
    /// Under vehicles by themselves, and under trains where they do more.
    pub known: Vec<Known>,
}

/// Whose case it is.
#[derive(Clone, Copy)]
enum Whose {
    Cut(CutId),
    Straddle(usize),
}

struct Job {
    set: usize,
    whose: Whose,
    train: bool,
    selectors: Vec<SelectorAt>,
    key: Key<Case>,
    case: Case,
    around: Surroundings,
}

/// Sets of positions with their plans; the first is that in which all stand now.
struct Plans<'a> {
    layout: &'a Layout,
    all: Vec<(Positions, Arc<Plan>)>,
    index: BTreeMap<Positions, usize>,
}

impl Plans<'_> {
    fn of(&mut self, positions: Positions) -> usize {
        if let Some(&at) = self.index.get(&positions) {
            return at;
        }
        let plan = Arc::new(self.all[0].1.at(self.layout, positions.clone()));
        self.index.insert(positions.clone(), self.all.len());
        self.all.push((positions, plan));
        self.all.len() - 1
    }
}

/// What is known per set of positions, that of now first, and which selectors were held at a cut.
pub(super) struct Gathered {
    /// The plan of each set of positions.
    pub plans: Vec<Arc<Plan>>,
    /// What is known of each cut, per plan: under vehicles, and under trains.
    pub known: Vec<[BTreeMap<CutId, Known>; 2]>,
    /// What is known of special work, per plan.
    pub straddles: Vec<Vec<Straddle>>,
    /// Selectors that were not tried, by cut.
    pub held: BTreeMap<CutId, Vec<SelectorId>>,
}

impl Gathered {
    /// The views, in the order of the plans.
    pub fn views(self, layout: &Layout) -> Vec<View<'_>> {
        self.plans
            .into_iter()
            .zip(self.known)
            .zip(self.straddles)
            .enumerate()
            .map(|(at, ((plan, [known, trains]), straddles))| View {
                known,
                trains,
                straddles,
                ..View::bare(layout, plan, at == 0)
            })
            .collect()
    }
}

/// Collects and solves every place of a layout.
pub(super) fn gather(layout: &Layout, plan: &Arc<Plan>, memo: &Memo) -> Gathered {
    let stock = Stock::of(layout);
    let reach_mm = stock.reach_mm();
    let mut plans = Plans {
        layout,
        all: vec![(Positions::default(), Arc::clone(plan))],
        index: BTreeMap::from([(Positions::default(), 0)]),
    };
    let mut jobs: Vec<Job> = Vec::new();
    let mut held = BTreeMap::new();
    for cut in layout.cuts.values() {
        let reach_mm = reach_mm + cut.stagger_mm.abs();
        let Some(place) = places::of_cut(layout, plan, cut, reach_mm) else { continue };
        let near = near(layout, plan, &place, reach_mm);
        let mut seen: HashSet<Key<Case>> = HashSet::new();
        for positions in selectors::sets(layout, &near.tried) {
            let set = plans.of(positions);
            let plan = Arc::clone(&plans.all[set].1);
            // Positions that short a driver with no train at all are told as such.
            if set > 0 && !plan.shorted().is_empty() {
                continue;
            }
            let Some(place) = places::of_cut(layout, &plan, cut, reach_mm) else { continue };
            let selectors = positions_of(layout, &plans.all[set].0, &near.tried);
            let whose = Whose::Cut(cut.id);
            for job in jobs_at(layout, &plan, &stock, &place, set, whose, &selectors) {
                // Positions that change nothing here have nothing to say.
                if seen.insert(job.key.clone()) {
                    jobs.push(job);
                }
            }
        }
        if !near.held.is_empty() {
            held.insert(cut.id, near.held);
        }
    }
    let mut straddles: Vec<(usize, SpecialId, bool)> = Vec::new();
    for special in layout.specials.values() {
        if matches!(special.work, Work::Buffer { .. }) {
            continue;
        }
        let own = [crate::rails::leader(layout, SelectorId::Points(special.id))];
        for positions in selectors::sets(layout, &own) {
            let set = plans.of(positions);
            let plan = Arc::clone(&plans.all[set].1);
            let selectors = positions_of(layout, &plans.all[set].0, &own);
            for Boundary { against, place } in
                places::of_special(layout, &plan, special.id, reach_mm)
            {
                let whose = Whose::Straddle(straddles.len());
                straddles.push((set, special.id, against));
                jobs.extend(jobs_at(layout, &plan, &stock, &place, set, whose, &selectors));
            }
        }
    }
    let cases: Vec<(&Key<Case>, &Case)> = jobs.iter().map(|job| (&job.key, &job.case)).collect();
    let results = memo.places(&cases);

    let count = plans.all.len();
    let mut known: Vec<[BTreeMap<CutId, Known>; 2]> =
        (0..count).map(|_| Default::default()).collect();
    let mut at_special: BTreeMap<usize, Vec<Known>> = BTreeMap::new();
    for (job, result) in jobs.into_iter().zip(results) {
        let Job { set, whose, train, selectors, case, around, .. } = job;
        let new = Known { case, around, result, selectors };
        match whose {
            Whose::Cut(cut) => drop(known[set][usize::from(train)].insert(cut, new)),
            Whose::Straddle(at) => at_special.entry(at).or_default().push(new),
        }
    }
    let mut by_plan: Vec<Vec<Straddle>> = (0..count).map(|_| Vec::new()).collect();
    for (at, (set, special, against)) in straddles.into_iter().enumerate() {
        let known = at_special.remove(&at).unwrap_or_default();
        by_plan[set].push(Straddle { special, against, known });
    }
    Gathered {
        plans: plans.all.into_iter().map(|(_, plan)| plan).collect(),
        known,
        straddles: by_plan,
        held,
    }
}

fn positions_of(layout: &Layout, positions: &Positions, tried: &[SelectorId]) -> Vec<SelectorAt> {
    tried.iter().map(|&id| SelectorAt { id, position: positions.of(layout, id) }).collect()
}

fn jobs_at(
    layout: &Layout,
    plan: &Plan,
    stock: &Stock,
    place: &Place,
    set: usize,
    whose: Whose,
    selectors: &[SelectorAt],
) -> Vec<Job> {
    let trains = cut::trains_at(layout, plan, stock, place);
    std::iter::once((false, cut::vehicles_at(layout, plan, stock, place)))
        .chain(trains.map(|found| (true, found)))
        .map(|(train, (case, around))| Job {
            set,
            whose,
            train,
            selectors: selectors.to_vec(),
            key: case.key(),
            case,
            around,
        })
        .collect()
}

/// Selectors that matter at a cut: of the track within reach, and of what feeds it.
fn near(layout: &Layout, plan: &Plan, place: &Place, reach_mm: f64) -> Near {
    if layout.specials.is_empty() && layout.devices.is_empty() {
        return Near::default();
    }
    let metal = &plan.metal;
    let mut nets: BTreeSet<usize> = BTreeSet::new();
    let close = |s: &&crate::straddle::path::Span| s.from_mm < reach_mm && s.to_mm > -reach_mm;
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
                    spans.filter_map(|s| s.ruler_mm(at)).any(|mm| mm.abs() <= reach_mm)
                })
            })
        })
        .map(|special| special.id)
        .collect();
    selectors::near(layout, plan, &nets, &specials)
}
