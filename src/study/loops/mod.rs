//! Where the track leads back onto itself the other way round, which blocks can be reversing sections there, and what
//! reverses them.

mod control;
mod reach;

use std::collections::{BTreeMap, BTreeSet};

use super::types::{Along, BlockId, EndsApart, Longest, Reversal, Round};
use crate::layout::{CutId, Layout, SpecialId};
use crate::rails::balance::{
    Budget, Conditions, Cycle, Group, LinkKind, Sections, Track, is_balanced, neighbours,
    reversing_sections, unbalanced,
};
use crate::rails::{Plan, Within};
use control::Feeding;
pub use reach::{Ways, longest_bridging, longest_group};

/// How far to search for reversing sections: a second or two at the very most.
const BUDGET: Budget = Budget { steps: 10_000_000, sets: 100 };

/// Rank of a driver of its own among what reverses a block.
const OWN_DRIVER: u8 = 3;

/// What a layout's polarity balance comes to. Blocks are numbered as in [`crate::rails::balance::Track`]: what is not
/// parted in both rails is one.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Loops {
    /// Independent unbalanced cycles.
    pub cycles: Vec<Cycle>,
    /// Reversing sections of blocks that pass every condition.
    pub sections: Sections,
    /// The same where trains may be as long as they like.
    pub of_any_length: Vec<Group>,
    /// How far apart the ends of the blocks on unbalanced cycles lie.
    pub apart: BTreeMap<usize, EndsApart>,
    /// Blocks there that share a rail with another one by a wire.
    pub wired: BTreeSet<usize>,
    /// The most that can bridge cuts.
    pub longest: Longest,
    /// What can reverse a block against its neighbours.
    pub controls: BTreeMap<usize, Reversal>,
    /// Blocks on unbalanced cycles that are fed, and whether by DCC.
    pub fed: BTreeMap<usize, bool>,
    /// Sets of blocks that something reverses and that are sections together, though fewer blocks would do: one for each
    /// group whose smallest sets nothing reverses, if there is one.
    reversed: Vec<Vec<usize>>,
    /// Block on each side of every cut.
    cuts: BTreeMap<CutId, [usize; 2]>,
}

impl Loops {
    /// True if one unbalanced cycle leads over the blocks on both sides of a cut.
    pub fn lead_over(&self, plan: &Plan, cut: CutId) -> bool {
        let Some(sides) = self.cuts.get(&cut) else { return false };
        self.cycles.iter().any(|cycle| {
            let on = |block: &usize| {
                let mut stretches = cycle.steps.iter().map(|step| step.stretch);
                stretches.any(|at| plan.metal.track.stretches[at].block == *block)
            };
            sides.iter().all(on)
        })
    }

    /// Works it out.
    pub fn derive(layout: &Layout, plan: &Plan) -> Loops {
        let track = &plan.metal.track;
        if is_balanced(track) {
            return Loops::default();
        }
        let cycles = unbalanced(track).cycles;
        let of_any_length = reversing_sections(track, &Conditions::default(), &BUDGET).groups;
        let feeding = Feeding::of(layout, plan);
        let longest = longest_bridging(layout);
        let ways = Ways::of(layout, plan);
        let (mut apart, mut wired) = (BTreeMap::new(), BTreeSet::new());
        let (mut controls, mut fed) = (BTreeMap::new(), BTreeMap::new());
        for group in &of_any_length {
            wired.extend(sharing(plan, &group.blocks));
            for &block in &group.blocks {
                apart.extend(ways.ends_apart(block).map(|ends| (block, ends)));
                controls.extend(feeding.reversal(block, &group.blocks).map(|r| (block, r)));
                fed.extend(feeding.dcc(block).map(|dcc| (block, dcc)));
            }
        }
        let short =
            |block: &usize| apart.get(block).is_some_and(|ends: &EndsApart| ends.mm <= longest.mm);
        let blocks = of_any_length.iter().flat_map(|group| group.blocks.iter().copied());
        let barred = blocks.filter(|b| short(b) || wired.contains(b)).collect();
        // On DCC every section reverses by itself: two in a row would chase each other.
        let by_itself = |block: &usize| {
            fed.get(block) == Some(&true)
                || matches!(controls.get(block), Some(Reversal::AutoReverser(_)))
        };
        let mut both = neighbours(track);
        both.retain(|pair| pair.iter().all(by_itself));
        let conditions = Conditions { barred, apart: both };
        let sections = reversing_sections(track, &conditions, &BUDGET);
        let mut cuts = BTreeMap::new();
        for link in &track.links {
            if let LinkKind::Cut { id, .. } = link.kind {
                cuts.insert(CutId(id), link.ends.map(|end| track.stretches[end.0].block));
            }
        }
        let mut loops = Loops {
            cycles,
            sections,
            of_any_length,
            apart,
            wired,
            longest,
            controls,
            fed,
            reversed: Vec::new(),
            cuts,
        };
        loops.reversed = loops.more_than_need_be(plan, &conditions);
        loops
    }

    /// Sets of blocks that something reverses, none of which can be left out, for groups whose smallest sets nothing
    /// reverses, or drivers of their own only: who builds reversers means their blocks.
    fn more_than_need_be(&self, plan: &Plan, conditions: &Conditions) -> Vec<Vec<usize>> {
        let track = &plan.metal.track;
        let mut found = Vec::new();
        for group in &self.sections.groups {
            let smallest = self.controlled(plan, group);
            if smallest.is_some_and(|set| self.rank_of(set) < Some(OWN_DRIVER)) {
                continue;
            }
            let on = |end: (usize, bool)| group.blocks.contains(&track.stretches[end.0].block);
            let cures = |set: &[usize]| {
                let kept = |link: &&crate::rails::balance::Link| {
                    let block = |end: (usize, bool)| track.stretches[end.0].block;
                    let touches = link.ends.iter().any(|end| set.contains(&block(*end)));
                    link.ends.iter().all(|end| on(*end)) && (!touches || !link.kind.parts())
                };
                let links = track.links.iter().filter(kept).copied().collect();
                is_balanced(&Track { stretches: track.stretches.clone(), links })
            };
            let fits = |block: &usize| {
                !conditions.barred.contains(block)
                    && !self.sections.sharing.contains_key(block)
                    && self.controls.contains_key(block)
            };
            let by_device =
                |block: &usize| fits(block) && self.rank_of(&[*block]) < Some(OWN_DRIVER);
            let mut set: Vec<usize> = group.blocks.iter().copied().filter(by_device).collect();
            if !cures(&set) && smallest.is_none() {
                set = group.blocks.iter().copied().filter(fits).collect();
            }
            if !cures(&set) {
                continue;
            }
            // What reverses by itself is kept before what is thrown, that before a driver of its own.
            let mut order = set.clone();
            order.sort_by_key(|b| std::cmp::Reverse(self.controls.get(b).map(Reversal::rank)));
            for block in order {
                let without: Vec<usize> = set.iter().copied().filter(|b| *b != block).collect();
                if cures(&without) {
                    set = without;
                }
            }
            let together = |[a, b]: &[usize; 2]| set.contains(a) && set.contains(b);
            if !conditions.apart.iter().any(together) {
                found.push(set);
            }
        }
        found
    }

    /// Whether a block is too short for what can bridge its ends.
    pub fn is_short(&self, block: usize) -> bool {
        self.apart.get(&block).is_some_and(|ends| ends.mm <= self.longest.mm)
    }

    /// The set of a group's sections that something can reverse already, the smallest if one can be: what does so by itself
    /// before what is thrown, that before a driver of its own; of equals the shortest.
    pub fn controlled<'a>(&'a self, plan: &Plan, group: &'a Group) -> Option<&'a Vec<usize>> {
        let rank = |set: &&Vec<usize>| {
            let rank = self.rank_of(set);
            let mm: f64 = set.iter().map(|&block| length_mm(plan, block)).sum();
            (rank, mm.max(0.0).to_bits())
        };
        let can = |set: &&Vec<usize>| set.iter().all(|b| self.controls.contains_key(b));
        let larger =
            || self.reversed.iter().find(|set| set.iter().all(|b| group.blocks.contains(b)));
        let smallest = group.sets.iter().filter(can).min_by_key(rank);
        match smallest {
            Some(set) if self.rank_of(set) < Some(OWN_DRIVER) => smallest,
            _ => larger().or(smallest),
        }
    }

    /// The rank of what reverses the blocks of a set, the last one's; `None` if the set is empty.
    fn rank_of(&self, set: &[usize]) -> Option<u8> {
        set.iter().filter_map(|b| self.controls.get(b)).map(Reversal::rank).max()
    }

    /// The section, if a cut is an end of one that something can reverse (on an unbalanced cycle), with all its ends
    /// there.
    pub fn section_at(&self, plan: &Plan, cut: CutId) -> Option<(Reversal, Vec<CutId>)> {
        let sides = *self.cuts.get(&cut)?;
        if sides[0] == sides[1] {
            return None;
        }
        let on = |pair: &[usize; 2], group: &Group| pair.iter().all(|b| group.blocks.contains(b));
        let group = self.sections.groups.iter().find(|group| on(&sides, group))?;
        let set = self.controlled(plan, group)?;
        let section = sides.into_iter().find(|block| set.contains(block))?;
        let ends = self
            .cuts
            .iter()
            .filter(|(_, pair)| pair[0] != pair[1] && pair.contains(&section) && on(pair, group));
        Some((*self.controls.get(&section)?, ends.map(|(cut, _)| *cut).collect()))
    }
}

/// Blocks that have a net in common with another of them.
fn sharing(plan: &Plan, blocks: &[usize]) -> BTreeSet<usize> {
    let on: BTreeSet<usize> = blocks.iter().copied().collect();
    let mut by_net: BTreeMap<usize, BTreeSet<usize>> = BTreeMap::new();
    for (piece, stretch) in plan.metal.pieces.iter().zip(&plan.metal.track.stretches) {
        if on.contains(&stretch.block) {
            for net in piece.nets {
                by_net.entry(net).or_default().insert(stretch.block);
            }
        }
    }
    by_net.into_values().filter(|sharing| sharing.len() > 1).flatten().collect()
}

/// Length of the track of a block, mm.
pub fn length_mm(plan: &Plan, block: usize) -> f64 {
    let own = plan.metal.track.stretches.iter().filter(|s| s.block == block);
    own.map(|s| s.length_mm.max(0.0)).sum()
}

/// The block of the plan that stands for one of the track: the longest in it.
pub fn shown(plan: &Plan, block: usize) -> Option<BlockId> {
    let mut of_plan: BTreeMap<usize, f64> = BTreeMap::new();
    let stretches = plan.pieces.iter().zip(&plan.metal.track.stretches);
    for (piece, _) in stretches.clone().filter(|(_, s)| s.block == block) {
        if let Within::Block(at) = piece.within {
            *of_plan.entry(at).or_default() += piece.length_mm().max(0.0);
        }
    }
    let longest = of_plan.into_iter().reduce(|a, b| if b.1 > a.1 { b } else { a });
    longest.map(|(at, _)| plan.blocks[at].id)
}

/// A cycle as it lies on the plan.
pub fn round(plan: &Plan, ways: &Ways, cycle: &Cycle) -> Round {
    let track = &plan.metal.track;
    let mut along: Vec<Along> = Vec::new();
    let mut blocks: Vec<BlockId> = Vec::new();
    for step in &cycle.steps {
        if let Some(piece) = plan.pieces.get(step.stretch) {
            along.push(Along {
                run: piece.run,
                from_mm: piece.from_mm,
                to_mm: piece.to_mm,
                way: step.way,
            });
            if let Within::Block(at) = piece.within
                && !blocks.contains(&plan.blocks[at].id)
            {
                blocks.push(plan.blocks[at].id);
            }
        }
    }
    let (mut cuts, mut one_rail, mut bridges) = (Vec::new(), Vec::new(), Vec::new());
    for passing in &cycle.links {
        match track.links[passing.link].kind {
            LinkKind::Cut { id, rails: [true, true] } => cuts.push(CutId(id)),
            LinkKind::Cut { id, .. } => one_rail.push(CutId(id)),
            LinkKind::Gap => bridges.extend(ways.bridge(passing.link)),
            LinkKind::Metal => {}
        }
    }
    let bridges: BTreeSet<SpecialId> = bridges.into_iter().collect();
    Round {
        along,
        blocks,
        cuts,
        one_rail,
        bridges: bridges.into_iter().collect(),
        length_mm: cycle.length_mm,
    }
}

/// Whether the metal that a cycle joins is fed with both poles of a driver.
pub fn joined_is_fed(layout: &Layout, plan: &Plan, cycle: &Cycle) -> bool {
    control::is_fed(layout, plan, cycle.steps.iter().filter(|s| s.joined).map(|s| s.stretch))
}
