//! `rests-on-joiners`: track that is fed only through rail joiners that are neither soldered nor bonded: where one opens,
//! it goes dead, or is fed from so far that the coin test fails.

use crate::job::Job;
use std::collections::BTreeSet;

use super::words::and;
use super::{Caution, Class, Cure, Evident, Found, Kind, Near, Place, Text, Verdict, View, Words};
use crate::layout::{DriverId, Joiners, JointId};
use crate::study::coin::{CoinCase, coin_of};

/// Rail joiners that blocks are fed through.
#[derive(Debug, Clone, PartialEq)]
pub struct Evidence {
    /// Joints, with the length of track that is dead once their joiners open, mm; the most first.
    pub dead: Vec<(JointId, f64)>,
    /// Joints whose opening leaves all track fed, but from so far that the coin test fails.
    pub coin: Vec<JointId>,
}

impl Evident for Evidence {}

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    let (layout, plan, lengths) = (view.layout, &view.plan, &view.lengths);
    let (mut all_dead, mut all_coin) = (Vec::new(), Vec::new());
    let (mut blocks, mut drivers) = (Vec::new(), BTreeSet::new());
    for (at, block) in plan.blocks.iter().enumerate().filter(|(_, b)| !b.drivers.is_empty()) {
        let plain: Vec<JointId> = lengths
            .joints_of(plan, at)
            .into_iter()
            .filter(|id| layout.joints.get(id).is_some_and(|j| j.joiners == Joiners::Plain))
            .collect();
        if plain.is_empty() {
            continue;
        }
        let feeders = block.nets.map(|net| {
            let legs = plan.nets[net].legs.iter().filter(|leg| block.drivers.contains(&leg.driver));
            legs.flat_map(|leg| lengths.nodes_at(plan, net, leg.run, leg.at_mm))
                .map(|node| (node, 0.0))
                .collect::<Vec<_>>()
        });
        let mut dead: Vec<(JointId, f64)> = Vec::new();
        let mut longer: Vec<(JointId, f64)> = Vec::new();
        for &joint in &plain {
            let to = [0, 1].map(|n: usize| lengths.distances(&feeders[n], Some(joint)));
            let to = [&to[0][..], &to[1][..]];
            let dead_mm = lengths.dead_mm(plan, at, to);
            if dead_mm > 0.0 {
                dead.push((joint, dead_mm));
            } else if let Some(far) = lengths.farthest(plan, at, to) {
                longer.push((joint, far.rail_mm[0] + far.rail_mm[1]));
            }
        }
        let coin = fails_the_coin(view, at, &block.drivers, longer);
        if dead.is_empty() && coin.is_empty() {
            continue;
        }
        blocks.push(block.id);
        drivers.extend(&block.drivers);
        all_dead.extend(dead);
        all_coin.extend(coin);
    }
    if blocks.is_empty() {
        return Vec::new();
    }
    // Plain joiners are what most track has: one note for all of it.
    all_dead.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    all_coin.sort();
    let evidence = Evidence { dead: all_dead, coin: all_coin };
    vec![Found {
        places: blocks.iter().copied().map(Place::Block).collect(),
        blocks,
        drivers: drivers.into_iter().collect(),
        ..Found::new(Kind::RestsOnJoiners, Class::Note, Verdict::Caution, evidence)
    }]
}

/// The joints without which a block that passes the coin test fails it. `longer` has the rail to the far end without each
/// of them, mm.
fn fails_the_coin(
    view: &View,
    block: usize,
    drivers: &[DriverId],
    mut longer: Vec<(JointId, f64)>,
) -> Vec<JointId> {
    let mut found = Vec::new();
    longer.sort_by(|a, b| b.1.total_cmp(&a.1));
    for &driver in drivers {
        let own = view.coins.iter().find(|c| c.at.block == block && c.at.driver == driver);
        let Some(own) = own.filter(|coin| !coin.result.tries.iter().any(|t| t.fails())) else {
            continue;
        };
        let now_mm = own.at.rail_mm[0] + own.at.rail_mm[1];
        for &(joint, mm) in longer.iter().filter(|joint| joint.1 > now_mm + 1.0) {
            let fails = |case: CoinCase| view.coin(&case).tries.iter().any(|tried| tried.fails());
            let (layout, plan) = (view.layout, &view.plan);
            let coin = coin_of(layout, plan, &view.lengths, block, driver, Some(joint));
            // The longer the way, the less flows: where the longest passes, the others do.
            if mm.is_nan() || !coin.is_some_and(|(case, _)| fails(case)) {
                break;
            }
            if !found.contains(&joint) {
                found.push(joint);
            }
        }
    }
    found.sort();
    found
}

/// Joints that are named one by one.
const MOST_JOINTS: usize = 6;

pub fn words(e: &Evidence, w: &Words) -> Text {
    let all = e.dead.len() + e.coin.len();
    let whose = match w.finding.blocks.len() {
        1 => format!("{} relies", w.block(0)),
        n => format!("{n} blocks rely"),
    };
    let mm = |length: f64| w.units.mm(length);
    let far = "a short at the far end then trips nothing";
    let why = match (e.dead.first(), e.coin.first()) {
        (Some((joint, length)), _) => {
            format!("If a rail joiner at joint {joint} opens, {} of track goes dead.", mm(*length))
        }
        (None, Some(joint)) => {
            format!(
                "If a rail joiner at joint {joint} opens, the track is fed from afar and {far}."
            )
        }
        (None, None) => String::new(),
    };
    let mut more: Vec<String> = Vec::new();
    let others = e.dead.iter().skip(1).map(|(joint, length)| format!("{joint} ({})", mm(*length)));
    let others = first_of(others.collect());
    if !others.is_empty() {
        more.push(format!("The same holds at joints {}.", and(&others)));
    }
    let named = usize::from(e.dead.is_empty());
    let joints = first_of(e.coin.iter().skip(named).map(ToString::to_string).collect());
    if !joints.is_empty() {
        more.push(format!("If one opens at {}, all track is still fed, but {far}.", and(&joints)));
    }
    Text {
        says: format!(
            "{whose} on unsoldered rail joiners at {all} joint{}; solder them or feed beyond them",
            if all == 1 { "" } else { "s" }
        ),
        why,
        more: more.join(" "),
        advice: vec![
            "Solder these joiners, or bond them with a wire.".into(),
            "Or feed the track beyond them as well.".into(),
        ],
        cautions: vec![Caution::Solder],
    }
}

/// The joints that are named, and how many more there are.
fn first_of(mut joints: Vec<String>) -> Vec<String> {
    let more = joints.len().saturating_sub(MOST_JOINTS);
    joints.truncate(MOST_JOINTS);
    if more > 0 {
        joints.push(format!("{more} more"));
    }
    joints
}

pub fn cures(e: &Evidence, _: &Near) -> Vec<Cure> {
    let joints = e.dead.iter().map(|dead| dead.0).chain(e.coin.iter().copied());
    vec![joints.map(Job::Bond).collect::<Vec<Job>>().into()]
}

#[cfg(test)]
pub(super) mod tests {
    use crate::findings::pair::Pair;
    use crate::findings::yards::*;
    use crate::findings::{Class, Verdict};
    use crate::layout::Joiners;

    pub fn pairs() -> Vec<Pair> {
        vec![Pair {
            with: with_a_joint(),
            twin: joined(&with_a_joint(), 2, Joiners::Soldered),
            class: Class::Note,
            verdict: Verdict::Caution,
            peak_a: None,
            cuts: &[],
            blocks: 1,
            says: "East relies on unsoldered rail joiners at 1 joint; solder them or feed beyond them",
        }]
    }
}
