//! Sections around special work: up to three turnouts, the track between them, and arms of track that give the length.

use std::cmp::Reverse;
use std::collections::{BTreeSet, BinaryHeap};

use super::candidate::{Candidate, Control, Ground, at_work};
use super::chain::{End, Part, Terminus};
use crate::layout::CutId;

/// Special work in one section at most.
const MOST_WORKS: usize = 3;
/// Chains between the special work of one core whose subsets are tried.
const MOST_BETWEEN: usize = 4;
/// Cores that are tried.
const MOST_CORES: usize = 4000;

/// Special work with the chains between it.
struct Core {
    works: BTreeSet<usize>,
    inside: BTreeSet<usize>,
}

/// A chain that leads out of a core.
#[derive(Debug, Clone, Copy)]
struct Arm {
    chain: usize,
    side: usize,
    end: End,
    /// How far the section reaches along it, and may reach, mm.
    mm: f64,
    most_mm: f64,
    stop: Stop,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Stop {
    /// At a new cut.
    New,
    /// At a cut that is there.
    Kept(u32),
    /// At a buffer: nothing is cut.
    None,
}

/// Candidates around special work.
pub(super) fn cores(ground: &Ground) -> Vec<Candidate> {
    let mut found = Vec::new();
    for core in sets(ground) {
        let near: BTreeSet<usize> = ground
            .chains
            .of_end
            .values()
            .filter(|(chain, side)| {
                at_work(ground.chains.chains[*chain].ends[*side])
                    .is_some_and(|(w, _)| core.works.contains(&w))
            })
            .map(|(chain, _)| *chain)
            .collect();
        let owners: BTreeSet<usize> =
            near.iter().flat_map(|&chain| ground.owners_on(chain)).collect();
        for owner in owners.into_iter().map(Some).chain([None]) {
            found.extend(around(ground, &core, owner));
        }
    }
    found
}

/// Connected sets of special work, each with every choice of chains that connects it.
fn sets(ground: &Ground) -> Vec<Core> {
    let chains = &ground.chains.chains;
    let ends = |chain: usize| chains[chain].ends.map(|end| at_work(end).map(|(work, _)| work));
    let works: BTreeSet<usize> = (0..chains.len()).flat_map(ends).flatten().collect();
    let mut sets: BTreeSet<BTreeSet<usize>> = works.iter().map(|&w| BTreeSet::from([w])).collect();
    let mut last = sets.clone();
    for _ in 1..MOST_WORKS {
        let mut more = BTreeSet::new();
        for set in &last {
            for chain in 0..chains.len() {
                if let [Some(a), Some(b)] = ends(chain)
                    && set.contains(&a) != set.contains(&b)
                {
                    more.insert(set.iter().copied().chain([a, b]).collect::<BTreeSet<usize>>());
                }
            }
        }
        sets.extend(more.iter().cloned());
        last = more;
    }
    let mut sets: Vec<BTreeSet<usize>> = sets.into_iter().collect();
    sets.sort_by_key(BTreeSet::len);
    let mut cores = Vec::new();
    for works in sets {
        let between = (0..chains.len()).filter(|&chain| {
            let inside = |work: Option<usize>| work.is_some_and(|work| works.contains(&work));
            ends(chain).into_iter().all(inside)
        });
        let between: Vec<usize> = between.take(MOST_BETWEEN).collect();
        for choice in 0..1u32 << between.len() {
            let chosen = between.iter().enumerate().filter(|(n, _)| choice >> n & 1 == 1);
            let inside: BTreeSet<usize> = chosen.map(|(_, &chain)| chain).collect();
            if cores.len() < MOST_CORES && connected(&works, &inside, &ends) {
                cores.push(Core { works: works.clone(), inside });
            }
        }
    }
    cores
}

fn connected(
    works: &BTreeSet<usize>,
    inside: &BTreeSet<usize>,
    ends: &dyn Fn(usize) -> [Option<usize>; 2],
) -> bool {
    let mut reached: BTreeSet<usize> = works.iter().take(1).copied().collect();
    loop {
        let before = reached.len();
        for &chain in inside {
            if let [Some(a), Some(b)] = ends(chain)
                && (reached.contains(&a) || reached.contains(&b))
            {
                reached.extend([a, b]);
            }
        }
        if reached.len() == before {
            return before == works.len();
        }
    }
}

/// The section around a core that is stretch `owner`, or has no name; `None` if there is no room for it.
fn around(ground: &Ground, core: &Core, owner: Option<usize>) -> Option<Candidate> {
    let chains = &ground.chains.chains;
    if core.inside.iter().any(|&chain| !ground.stops(chain, owner).is_empty()) {
        return None;
    }
    let mut arms = Vec::new();
    for (&end, &(chain, side)) in &ground.chains.of_end {
        let here = at_work(chains[chain].ends[side]).is_some_and(|(w, _)| core.works.contains(&w));
        if here && !core.inside.contains(&chain) {
            arms.push(arm(ground, (chain, side, end), owner)?);
        }
    }
    // Both ends of a chain that is left out are ends of one section: what is between them must not be bridged either.
    let shared: Vec<usize> = arms.iter().map(|arm| arm.chain).collect();
    for arm in &mut arms {
        if arm.stop == Stop::New && shared.iter().filter(|chain| **chain == arm.chain).count() > 1 {
            arm.most_mm =
                arm.most_mm.min((chains[arm.chain].length_mm - ground.needs.length_mm) / 2.0);
        }
    }
    spread(ground, core, &mut arms)?;
    let mut parts: Vec<Part> = Vec::new();
    for &chain in &core.inside {
        parts.extend(ground.chains.parts(chain, 0.0, chains[chain].length_mm));
    }
    let (mut ends, mut kept) = (Vec::new(), Vec::new());
    for arm in &arms {
        let (from, to) = span(ground, arm);
        parts.extend(ground.chains.parts(arm.chain, from, to));
        match arm.stop {
            Stop::New => ends.push(ground.chains.place(arm.chain, along(ground, arm, arm.mm))?),
            Stop::Kept(id) => kept.push(CutId(id)),
            Stop::None => {}
        }
    }
    if owner.is_some_and(|owner| !ground.has_all(owner, &parts)) {
        return None;
    }
    Some(Candidate { parts, ends, kept, owner, control: Control::New })
}

/// The distance along its chain of a distance out along an arm.
fn along(ground: &Ground, arm: &Arm, mm: f64) -> f64 {
    if arm.side == 0 { mm } else { ground.chains.chains[arm.chain].length_mm - mm }
}

fn span(ground: &Ground, arm: &Arm) -> (f64, f64) {
    let (at_work, out) = (along(ground, arm, 0.0), along(ground, arm, arm.mm));
    (at_work.min(out), at_work.max(out))
}

/// An arm as short as it can be; `None` if there is no room for its end.
fn arm(
    ground: &Ground,
    (chain, side, end): (usize, usize, End),
    owner: Option<usize>,
) -> Option<Arm> {
    let whole = &ground.chains.chains[chain];
    let length = whole.length_mm;
    let out = |along: f64| if side == 0 { along } else { length - along };
    let stops = ground.stops(chain, owner);
    let first = stops.iter().map(|&stop| out(stop)).fold(f64::INFINITY, f64::min);
    let arm = Arm { chain, side, end, mm: length, most_mm: length, stop: Stop::None };
    match whole.ends[1 - side] {
        Terminus::Cut(id) if stops.is_empty() => return Some(Arm { stop: Stop::Kept(id), ..arm }),
        Terminus::Buffer if stops.is_empty() => return Some(arm),
        _ => {}
    }
    let by = if side == 0 { 1.0 } else { -1.0 };
    let own = owner.map_or(Vec::new(), |owner| ground.places_of(chain, owner));
    let least = own.into_iter().map(out).fold(0.0, f64::max);
    let mm = out(ground.free(chain, out(least), by)?);
    let most_mm = out(ground.free(chain, out(first.min(length)), -by)?);
    (mm <= most_mm).then_some(Arm { mm, most_mm, stop: Stop::New, ..arm })
}

/// Moves the ends outwards until every two are far enough apart; `None` if there is no room.
fn spread(ground: &Ground, core: &Core, arms: &mut [Arm]) -> Option<()> {
    let need = ground.needs.length_mm;
    let mut pairs = Vec::new();
    for (a, arm) in arms.iter().enumerate() {
        let through = through(ground, core, arm.end);
        for (b, other) in arms.iter().enumerate().filter(|(b, _)| *b > a) {
            let both = arm.stop != Stop::None && other.stop != Stop::None;
            let way = through.iter().find(|(end, _)| *end == other.end);
            pairs.extend(way.filter(|_| both).map(|(_, mm)| (a, b, *mm)));
        }
    }
    for _ in 0..4 * arms.len().max(1) {
        let lacks =
            |arms: &[Arm], (a, b, mm): (usize, usize, f64)| need - (mm + arms[a].mm + arms[b].mm);
        let worst = pairs.iter().copied().map(|pair| (lacks(arms, pair), pair));
        let Some((lacking, (a, b, _))) = worst.max_by(|x, y| x.0.total_cmp(&y.0)) else {
            return Some(());
        };
        if lacking <= 0.0 {
            return Some(());
        }
        let room = [a, b].map(|at| match arms[at].stop {
            Stop::New => arms[at].most_mm - arms[at].mm,
            Stop::Kept(_) | Stop::None => 0.0,
        });
        if room[0] + room[1] < lacking {
            return None;
        }
        let first = (lacking / 2.0).max(lacking - room[1]).min(room[0]);
        for (at, more) in [(a, first), (b, lacking - first)] {
            if more > 0.0 {
                let arm = arms[at];
                let by = if arm.side == 0 { 1.0 } else { -1.0 };
                let wanted = along(ground, &arm, arm.mm + more);
                let length = ground.chains.chains[arm.chain].length_mm;
                let free = ground.free(arm.chain, wanted, by)?;
                let mm = if arm.side == 0 { free } else { length - free };
                arms[at].mm = mm;
                if mm > arm.most_mm + 1e-6 {
                    return None;
                }
            }
        }
    }
    None
}

/// The shortest ways of trains through a core, from one end at special work to others that lead out, mm.
fn through(ground: &Ground, core: &Core, from: End) -> Vec<(End, f64)> {
    let mut heap = BinaryHeap::from([Reverse((0u64, from))]);
    let mut seen: BTreeSet<End> = BTreeSet::new();
    let mut found: Vec<(End, f64)> = Vec::new();
    while let Some(Reverse((bits, end))) = heap.pop() {
        if !seen.insert(end) {
            continue;
        }
        let mm = f64::from_bits(bits);
        for &next in ground.chains.on.get(&end).into_iter().flatten() {
            let Some(&(chain, side)) = ground.chains.of_end.get(&next) else { continue };
            if !core.inside.contains(&chain) {
                if !found.iter().any(|(known, _)| *known == next) {
                    found.push((next, mm));
                }
                continue;
            }
            let whole = &ground.chains.chains[chain];
            if let Some((_, far)) = at_work(whole.ends[1 - side]) {
                heap.push(Reverse(((mm + whole.length_mm).to_bits(), far)));
            }
        }
    }
    found
}
