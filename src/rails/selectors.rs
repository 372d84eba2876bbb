//! Which selectors matter at a place, and the sets of positions to look at there.

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use super::plan::Plan;
use super::positions::{Positions, SelectorId, leader};
use crate::layout::{DeviceId, DeviceKind, Layout, Origin, Special, SpecialId};

/// At most so many sets of positions are looked at in one place.
pub const MOST_SETS: usize = 32;

/// Selectors that matter somewhere, the nearest first, each standing for its gang.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Near {
    /// Those that are tried in every position.
    pub tried: Vec<SelectorId>,
    /// Those that are left as they stand, because there would be too many sets.
    pub held: Vec<SelectorId>,
}

/// The selectors whose positions change what the given nets of fixed metal are joined to or fed from, and the points of
/// `specials` besides.
///
/// From the nets one goes on through what positions join, up to nets that are fed. A frog that only its own special work
/// joins to anything leads nowhere.
pub fn near(layout: &Layout, plan: &Plan, nets: &BTreeSet<usize>, specials: &[SpecialId]) -> Near {
    let feeders = &plan.feeders;
    let mut found: Vec<SelectorId> = Vec::new();
    let mut add = |selector: SelectorId| {
        if selector.positions(layout) > 1 && !found.contains(&selector) {
            found.push(selector);
        }
    };
    for &id in specials {
        add(leader(layout, SelectorId::Points(id)));
        if layout.specials.get(&id).is_some_and(Special::has_contact_lever) {
            add(SelectorId::Contact(id));
        }
    }

    let (mut edges, order) = reached(layout, plan, nets);
    drop_dead_ends(&mut edges, |net| nets.contains(&net) || !feeders.none_on(net));
    let used: BTreeSet<SelectorId> = edges.values().flatten().map(|edge| edge.0).collect();
    order.into_iter().filter(|selector| used.contains(selector)).for_each(&mut add);

    let fed_nets: BTreeSet<usize> = nets.iter().chain(edges.keys()).copied().collect();
    for net in fed_nets {
        for end in feeders.on(net) {
            let origin = layout.feeds.get(&end.feed).map(|feed| feed.driver);
            // An auto-reverser finds its position by itself: what it does is judged with the fault that makes it act.
            let by_hand = |id: &DeviceId| {
                !layout
                    .devices
                    .get(id)
                    .is_some_and(|d| matches!(d.kind, DeviceKind::AutoReverser { .. }))
            };
            for id in devices_behind(layout, origin).into_iter().filter(by_hand) {
                add(leader(layout, SelectorId::Device(id)));
            }
        }
    }
    within_bounds(layout, found)
}

/// Edges by net: the selector, its positions, and the net beyond.
type Edges = BTreeMap<usize, Vec<(SelectorId, u64, usize)>>;

/// What positions join, from some nets on up to nets that are fed, and its selectors in the order in which they are met.
fn reached(layout: &Layout, plan: &Plan, nets: &BTreeSet<usize>) -> (Edges, Vec<SelectorId>) {
    let (metal, feeders) = (&plan.metal, &plan.feeders);
    let mut seen: BTreeSet<usize> = nets.clone();
    let mut waiting: VecDeque<usize> = nets.iter().copied().collect();
    let mut edges = Edges::new();
    let mut order: Vec<SelectorId> = Vec::new();
    while let Some(net) = waiting.pop_front() {
        let fed = !feeders.none_on(net) && !nets.contains(&net);
        for switch in metal.switches_on(net).iter().map(|&at| &metal.switches[at]) {
            let [a, b] = switch.nets;
            let beyond = if a == net { b } else { a };
            let selector = leader(layout, switch.selector);
            edges.entry(net).or_default().push((selector, switch.mask, beyond));
            if !fed && seen.insert(beyond) {
                waiting.push_back(beyond);
            }
            if !order.contains(&selector) {
                order.push(selector);
            }
        }
    }
    (edges, order)
}

/// Drops the nets that one cannot pass through, because no two of their edges can be used together, and that are no ends.
fn drop_dead_ends(edges: &mut Edges, ends_here: impl Fn(usize) -> bool) {
    let passable = |net: usize, edges: &Edges| {
        let here = edges.get(&net).map_or(&[][..], Vec::as_slice);
        here.iter()
            .enumerate()
            .any(|(at, one)| here[at + 1..].iter().any(|two| one.0 != two.0 || one.1 & two.1 != 0))
    };
    loop {
        let dead: Vec<usize> =
            edges.keys().copied().filter(|&net| !ends_here(net) && !passable(net, edges)).collect();
        if dead.is_empty() {
            break;
        }
        for net in dead {
            edges.remove(&net);
            for others in edges.values_mut() {
                others.retain(|edge| edge.2 != net);
            }
        }
        edges.retain(|_, here| !here.is_empty());
    }
}

/// The selectors that are tried, as long as there are not too many sets of positions, and those that are held.
fn within_bounds(layout: &Layout, found: Vec<SelectorId>) -> Near {
    let mut near = Near::default();
    let mut sets = 1;
    for selector in found {
        let positions = selector.positions(layout) as usize;
        if sets * positions <= MOST_SETS {
            sets *= positions;
            near.tried.push(selector);
        } else {
            near.held.push(selector);
        }
    }
    near
}

/// Every device that a feed can come through.
fn devices_behind(layout: &Layout, origin: Option<Origin>) -> BTreeSet<DeviceId> {
    let mut seen = BTreeSet::new();
    let mut waiting: Vec<Origin> = origin.into_iter().collect();
    while let Some(origin) = waiting.pop() {
        if let Origin::Device(id) = origin
            && seen.insert(id)
        {
            waiting.extend(layout.devices.get(&id).into_iter().flat_map(|d| d.kind.sources()));
        }
    }
    seen
}

/// Every set of positions of some selectors, that in which all stand now first. A contact that stands apart from its points
/// now goes with them in all others.
pub fn sets(layout: &Layout, selectors: &[SelectorId]) -> Vec<Positions> {
    let mut all = BTreeSet::from([Positions::default()]);
    for &selector in selectors {
        for set in all.clone() {
            all.extend((0..selector.positions(layout)).map(|position| {
                let mut set = set.clone();
                set.throw(layout, selector, position);
                set
            }));
        }
    }
    // Nothing thrown is the least of them.
    all.into_iter().collect()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::layout::{Rail, RunId, load};
    use crate::rails::Paths;
    use crate::rails::standing::{Budget, joined};

    /// Live points with a contact, as the contact is stated, fed at the toe; a second turnout beyond the straight road.
    fn yard(contact: &str) -> Layout {
        let text = format!(
            r#"(version: 1,
            joints: [(id: "j1", x_mm: -1000, y_mm: 0), (id: "j2", x_mm: 0, y_mm: 0), (id: "j3", x_mm: 1000, y_mm: 0),
                (id: "j4", x_mm: 980, y_mm: -200), (id: "j5", x_mm: 2000, y_mm: 0), (id: "j6", x_mm: 1980, y_mm: 200)],
            runs: [(id: "r1", from: "j1", to: "j2"), (id: "r2", from: "j2", to: "j3"), (id: "r3", from: "j2", to: "j4"),
                (id: "r4", from: "j3", to: "j5"), (id: "r5", from: "j3", to: "j6")],
            specials: [(id: "w1", contact: ({contact}), work: Turnout(toe: (run: "r1", end: End),
                    exits: [(run: "r2", end: Start), (run: "r3", end: Start)], frog: PowerRoutingWithContact, frog_mm: 150)),
                (id: "w2", work: Turnout(toe: (run: "r2", end: End),
                    exits: [(run: "r4", end: Start), (run: "r5", end: Start)], frog_mm: 150))],
            supplies: [(id: "s1", open_v: 14, source_ohm: 0.05)],
            drivers: [(id: "d1", supply: "s1", drive: PwmBridge(clock: (hz: 490), idle: BrakeLow), high_ohm: 0.06,
                low_ohm: 0.06, diode_v: 0.7, diode_ohm: 0.05, setting: (direction: Forward))],
            feeds: [(id: "f1", driver: "d1", run: "r1", at_mm: 500, p: Right, m: Left)])"#
        );
        load(&text).unwrap_or_else(|e| panic!("{e:?}")).layout
    }

    const W1: SelectorId = SelectorId::Points(SpecialId(1));
    const LEVER: SelectorId = SelectorId::Contact(SpecialId(1));
    const W2: SelectorId = SelectorId::Points(SpecialId(2));

    /// Positions of w1's points, w1's contact and w2's points in each set.
    fn stands(layout: &Layout, sets: &[Positions]) -> BTreeSet<[u32; 3]> {
        sets.iter().map(|set| [W1, LEVER, W2].map(|selector| set.of(layout, selector))).collect()
    }

    /// The selectors by which a driver's two poles can be joined, with their positions.
    fn shorts(layout: &Layout) -> BTreeSet<Vec<(SelectorId, u64)>> {
        let paths = Paths::of(layout, &Plan::derive(layout), None);
        let poles = paths.poles.values().copied().next().unwrap();
        let found = joined(&paths.switched, &[poles], Budget::default());
        assert!(found.exhaustive);
        let named = |set: Vec<(usize, u64)>| {
            set.into_iter().map(|(at, mask)| (paths.selectors[at], mask)).collect()
        };
        found.sets.into_iter().map(named).collect()
    }

    #[test]
    fn a_contact_apart_from_its_points_stays_apart_in_the_present_positions_of_its_points() {
        let layout = yard("position: 1");
        let sets = sets(&layout, &[W1, W2]);
        // w1 as it is now with its contact apart, then each position of the two together; both positions of w2.
        let expected = [[0, 1, 0], [0, 1, 1], [0, 0, 0], [0, 0, 1], [1, 1, 0], [1, 1, 1]];
        assert_eq!(stands(&layout, &sets), expected.into());
        assert!(sets[0].is_now());
    }

    #[test]
    fn a_contact_on_a_lever_of_its_own_is_thrown_by_itself() {
        let layout = yard("lever: Own, position: 1");
        let plan = Plan::derive(&layout);
        let nets = BTreeSet::from([plan.metal.net_at(RunId(1), Rail::Left, 500.0).unwrap()]);
        let near = near(&layout, &plan, &nets, &[SpecialId(1)]);
        assert_eq!(near.tried, [W1, LEVER]);
        let sets = sets(&layout, &near.tried);
        assert_eq!(sets.len(), 4);
        let expected = [[0, 0, 0], [0, 1, 0], [1, 0, 0], [1, 1, 0]];
        assert_eq!(stands(&layout, &sets), expected.into());
    }

    #[test]
    fn live_points_and_a_contact_on_its_own_lever_short_where_they_disagree_and_both_are_named() {
        assert_eq!(shorts(&yard("")), BTreeSet::new());
        let expected = [vec![(W1, 0b01), (LEVER, 0b10)], vec![(W1, 0b10), (LEVER, 0b01)]];
        assert_eq!(shorts(&yard("lever: Own")), expected.into());
    }
}
