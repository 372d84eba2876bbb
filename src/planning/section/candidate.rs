//! Lengths of track that can be reversing sections.

use std::collections::{BTreeMap, BTreeSet};

use super::Needs;
use super::chain::{Chains, End, Part, Terminus};
use super::core::cores;
use crate::layout::{CutId, Layout, RunEnd, RunId, length_mm};
use crate::planning::cells::{APART_MM, CUT};
use crate::planning::wish::Wishes;
use crate::rails::Plan;
use crate::study::loops::{Loops, Ways};

/// Nearest that a new end of a section stands to special work, mm: clear of guard rails and joiners (judgement).
const CLEAR_MM: f64 = 40.0;
/// Steps along barred track until a free place is no longer looked for.
const MOST_STEPS: usize = 200;

/// How a section is reversed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::planning) enum Control {
    /// By what reverses it already.
    There,
    /// By a new reverser.
    New,
}

/// A length of track that can be a reversing section.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::planning) struct Candidate {
    /// The track.
    pub(in crate::planning) parts: Vec<Part>,
    /// Ends where both rails are cut anew.
    pub(in crate::planning) ends: Vec<(RunId, f64)>,
    /// Ends at cuts that are there.
    pub(in crate::planning) kept: Vec<CutId>,
    /// The stretch that it is, if it has a name.
    pub(in crate::planning) owner: Option<usize>,
    pub(in crate::planning) control: Control,
}

impl Candidate {
    /// Its price in the measure of rail cuts.
    pub(in crate::planning) fn price(&self) -> u64 {
        let reverser = if self.control == Control::New { super::REVERSER_CUTS * CUT } else { 0 };
        self.ends.len() as u64 * 2 * CUT + reverser
    }
}

/// What candidates are made from.
pub(in crate::planning) struct Ground<'a> {
    pub(super) layout: &'a Layout,
    pub(super) plan: &'a Plan,
    pub(super) wishes: &'a Wishes,
    pub(super) chains: Chains<'a>,
    pub(super) needs: Needs,
    pub(super) digital: bool,
    /// By run, where no end can stand, mm.
    barred: BTreeMap<RunId, Vec<(f64, f64)>>,
    /// Places of stretches along chains: chain, distance, stretch.
    named: Vec<(usize, f64, usize)>,
    /// Places where a train is held: chain, distance.
    held: Vec<(usize, f64)>,
}

impl<'a> Ground<'a> {
    /// What a section has to hold.
    pub(in crate::planning) fn needs(&self) -> Needs {
        self.needs
    }

    /// True if sections turn by themselves.
    pub(in crate::planning) fn is_digital(&self) -> bool {
        self.digital
    }

    /// The ground of a layout with its plan.
    pub(in crate::planning) fn of(
        layout: &'a Layout,
        plan: &'a Plan,
        wishes: &'a Wishes,
    ) -> Ground<'a> {
        let chains = Chains::of(plan);
        let digital = super::all_digital(layout);
        let stretches = wishes.apart.iter().enumerate();
        let places = stretches.flat_map(|(n, stretch)| stretch.at.iter().map(move |at| (n, at)));
        let named = places
            .filter_map(|(n, at)| chains.along(at.run, at.at_mm).map(|(chain, mm)| (chain, mm, n)));
        let held = wishes.hold.iter().flat_map(|hold| {
            let half = super::hold_mm(layout, wishes, hold) / 2.0;
            let at = chains.along(hold.at.run, hold.at.at_mm);
            at.into_iter()
                .flat_map(move |(chain, mm)| [-half, 0.0, half].map(|by| (chain, mm + by)))
        });
        let (named, held) = (named.collect(), held.collect());
        let needs = Needs::of(layout, wishes, digital);
        let barred = barred(layout, wishes);
        Ground { layout, plan, wishes, chains, needs, digital, barred, named, held }
    }

    /// Distances along a chain of what may not be in a section that is stretch `owner`, or has no name.
    pub(super) fn stops(&self, chain: usize, owner: Option<usize>) -> Vec<f64> {
        let names = self.named.iter().filter(|(at, _, n)| *at == chain && owner != Some(*n));
        let mut stops: Vec<f64> = names.map(|name| name.1).collect();
        stops.extend(self.held.iter().filter(|held| held.0 == chain).map(|held| held.1));
        stops.sort_by(f64::total_cmp);
        stops
    }

    /// Distances along a chain of the places of a stretch.
    pub(super) fn places_of(&self, chain: usize, stretch: usize) -> Vec<f64> {
        let names = self.named.iter().filter(|(at, _, n)| *at == chain && stretch == *n);
        names.map(|name| name.1).collect()
    }

    /// Stretches that have a place on a chain and can be sections.
    pub(super) fn owners_on(&self, chain: usize) -> BTreeSet<usize> {
        let own = self.named.iter().filter(|name| name.0 == chain).map(|name| name.2);
        own.filter(|n| !self.wishes.apart[*n].occupied).collect()
    }

    /// The nearest place along a chain, up (`by` +1) or down (−1) from a distance, where an end of a section can stand.
    pub(super) fn free(&self, chain: usize, from_mm: f64, by: f64) -> Option<f64> {
        let mut mm = from_mm;
        for _ in 0..MOST_STEPS {
            if !(0.0..=self.chains.chains[chain].length_mm).contains(&mm) {
                return None;
            }
            let (run, at_mm) = self.chains.place(chain, mm)?;
            let windows = self.barred.get(&run).map_or(&[][..], |windows| windows);
            let Some((low, high)) =
                windows.iter().find(|(low, high)| *low < at_mm && at_mm < *high)
            else {
                return Some(mm);
            };
            // Whichever way the run lies on the chain, it is one of these.
            let beyond = self.chains.place(chain, mm + by * 0.5).map_or(at_mm, |next| next.1);
            let far = if beyond >= at_mm { high - at_mm } else { at_mm - low };
            mm += by * far.max(0.5);
        }
        None
    }

    /// True if a section of these parts can be stretch `owner`: it has all its places.
    pub(super) fn has_all(&self, owner: usize, parts: &[Part]) -> bool {
        self.wishes.apart[owner].at.iter().all(|at| parts.iter().any(|p| p.has(at.run, at.at_mm)))
    }
}

/// By run, where no end of a section can stand.
fn barred(layout: &Layout, wishes: &Wishes) -> BTreeMap<RunId, Vec<(f64, f64)>> {
    let mut barred: BTreeMap<RunId, Vec<(f64, f64)>> = BTreeMap::new();
    let mut near = |run: RunId, at_mm: f64, mm: f64| {
        barred.entry(run).or_default().push((at_mm - mm, at_mm + mm));
    };
    for run in layout.runs.values() {
        near(run.id, 0.0, APART_MM);
        near(run.id, length_mm(layout, run), APART_MM);
    }
    for special in layout.specials.values() {
        for end in special.work.ends() {
            let Some(run) = layout.runs.get(&end.run) else { continue };
            let at_mm = if end.end == RunEnd::Start { 0.0 } else { length_mm(layout, run) };
            near(end.run, at_mm, special.work.reach_mm() + CLEAR_MM);
        }
    }
    let feeds = layout.feeds.values().map(|feed| (feed.run, feed.at_mm));
    let cuts = layout.cuts.values().map(|cut| (cut.run, cut.at_mm));
    let bonds = layout.bonds.values().flat_map(|b| [b.from, b.to]).map(|s| (s.run, s.at_mm));
    let names = wishes.apart.iter().flat_map(|s| &s.at).map(|at| (at.run, at.at_mm));
    let held = wishes.hold.iter().map(|hold| (hold.at.run, hold.at.at_mm));
    for (run, at_mm) in feeds.chain(cuts).chain(bonds).chain(names).chain(held) {
        near(run, at_mm, 2.0 * APART_MM);
    }
    for &(run, from, to) in &wishes.never {
        barred.entry(run).or_default().push((from, to));
    }
    barred
}

/// All candidates: blocks that are there, lengths of plain track, and turnouts with the track around them.
pub(in crate::planning) fn candidates(
    ground: &Ground,
    loops: &Loops,
    kept: &[usize],
) -> Vec<Candidate> {
    let mut all = blocks(ground, loops, kept);
    for chain in 0..ground.chains.chains.len() {
        let owners = ground.owners_on(chain).into_iter().map(Some);
        for owner in owners.chain([None]) {
            all.extend(lengths(ground, chain, owner));
        }
    }
    all.extend(cores(ground));
    all
}

/// Blocks between cuts that are there.
fn blocks(ground: &Ground, loops: &Loops, kept: &[usize]) -> Vec<Candidate> {
    let plan = ground.plan;
    let ways = Ways::of(ground.layout, plan);
    let links = &plan.metal.track.links;
    let mut found = Vec::new();
    for &block in loops.of_any_length.iter().flat_map(|group| &group.blocks) {
        let is_kept = kept.contains(&block);
        let shares = loops.wired.contains(&block) || loops.sections.sharing.contains_key(&block);
        let against = loops.sections.against_themselves.contains(&block);
        let short = loops.apart.get(&block).is_some_and(|ends| ends.mm <= ground.needs.bridges_mm);
        if !is_kept && (shares || against || short) {
            continue;
        }
        let own =
            plan.pieces.iter().zip(&plan.metal.track.stretches).filter(|(_, s)| s.block == block);
        let parts: Vec<Part> =
            own.map(|(p, _)| Part { run: p.run, from_mm: p.from_mm, to_mm: p.to_mm }).collect();
        let inside = |at: &crate::planning::wish::At| parts.iter().any(|p| p.has(at.run, at.at_mm));
        let stretches = ground.wishes.apart.iter().enumerate();
        let named: Vec<usize> =
            stretches.filter(|(_, s)| s.at.iter().any(inside)).map(|(n, _)| n).collect();
        let owner = match named[..] {
            [] => None,
            [owner] if is_kept || can_turn(ground, owner, &parts) => Some(owner),
            _ => continue,
        };
        if !is_kept && ground.wishes.hold.iter().any(|hold| inside(&hold.at)) {
            continue;
        }
        let ends = ways.ends_of(block).into_iter().filter_map(|(link, _)| match links[link].kind {
            crate::rails::balance::LinkKind::Cut { id, .. } => Some(CutId(id)),
            _ => None,
        });
        let control = if is_kept { Control::There } else { Control::New };
        found.push(Candidate { parts, ends: Vec::new(), kept: ends.collect(), owner, control });
    }
    found
}

fn can_turn(ground: &Ground, owner: usize, parts: &[Part]) -> bool {
    ground.has_all(owner, parts) && !ground.wishes.apart[owner].occupied
}

/// A bound of a room along a chain.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Bound {
    Kept(CutId),
    At(f64),
}

/// Lengths of one chain.
fn lengths(ground: &Ground, chain: usize, owner: Option<usize>) -> Vec<Candidate> {
    let Chains { chains, .. } = &ground.chains;
    let whole = &chains[chain];
    if whole.ends.contains(&Terminus::Buffer) {
        return Vec::new();
    }
    let mut stops = ground.stops(chain, owner);
    stops.insert(0, 0.0);
    stops.push(whole.length_mm);
    let need = ground.needs.length_mm;
    let mut found = Vec::new();
    for (n, two) in stops.windows(2).enumerate() {
        let at_end = [n == 0, n + 2 == stops.len()];
        let kept = [0, 1].map(|side| match whole.ends[side] {
            Terminus::Cut(id) if at_end[side] => Some(Bound::Kept(CutId(id))),
            _ => None,
        });
        let new = [ground.free(chain, two[0], 1.0), ground.free(chain, two[1], -1.0)];
        let both = |bound: Option<Bound>, new: Option<f64>| {
            [bound, new.map(Bound::At)].into_iter().flatten().collect::<Vec<_>>()
        };
        for from in both(kept[0], new[0]) {
            for to in both(kept[1], new[1]) {
                let ends = [from, to];
                let Some(room) = shrunk(ground, (chain, owner), (two[0], two[1]), ends, need)
                else {
                    continue;
                };
                let parts = ground.chains.parts(chain, room.0, room.1);
                if owner.is_some_and(|owner| !ground.has_all(owner, &parts)) {
                    continue;
                }
                let place = |(bound, mm): (Bound, f64)| match bound {
                    Bound::Kept(_) => None,
                    Bound::At(_) => ground.chains.place(chain, mm),
                };
                let new = [(from, room.0), (to, room.1)].into_iter().filter_map(place);
                let kept = ends.into_iter().filter_map(|bound| match bound {
                    Bound::Kept(id) => Some(id),
                    Bound::At(_) => None,
                });
                let (ends, kept) = (new.collect(), kept.collect());
                let control = Control::New;
                found.push(Candidate { parts, ends, kept, owner, control });
            }
        }
    }
    found
}

/// The length of a room that a section takes: all of it if it is not three times as long as need be, or has a name; else
/// twice what need be, from a cut that is there, or in the middle. `None` if the room is too short.
fn shrunk(
    ground: &Ground,
    (chain, owner): (usize, Option<usize>),
    room: (f64, f64),
    ends: [Bound; 2],
    need: f64,
) -> Option<(f64, f64)> {
    let at = |bound: Bound, kept: f64| match bound {
        Bound::Kept(_) => kept,
        Bound::At(mm) => mm,
    };
    let (from, to) = (at(ends[0], room.0), at(ends[1], room.1));
    let fits = |(from, to): (f64, f64)| (to - from >= need).then_some((from, to));
    if to - from <= 3.0 * need || owner.is_some() {
        return fits((from, to));
    }
    let shorter = match ends {
        [Bound::Kept(_), Bound::Kept(_)] => (from, to),
        [Bound::Kept(_), Bound::At(_)] => (from, ground.free(chain, from + 2.0 * need, -1.0)?),
        [Bound::At(_), Bound::Kept(_)] => (ground.free(chain, to - 2.0 * need, 1.0)?, to),
        [Bound::At(_), Bound::At(_)] => {
            let middle = (from + to) / 2.0;
            (ground.free(chain, middle - need, 1.0)?, ground.free(chain, middle + need, -1.0)?)
        }
    };
    fits(shorter).or_else(|| fits((from, to)))
}

/// The end of a chain at special work, if it ends there.
pub(super) fn at_work(terminus: Terminus) -> Option<(usize, End)> {
    match terminus {
        Terminus::Work(cluster, end) => Some((cluster, end)),
        Terminus::Cut(_) | Terminus::Buffer => None,
    }
}
