//! Track as chains: plain track between special work, cuts in both rails, and buffers.

use std::collections::BTreeMap;

use petgraph::unionfind::UnionFind;

use crate::layout::RunId;
use crate::rails::Plan;
use crate::rails::balance::LinkKind;

/// An end of a piece of track: its index, and whether it is its start.
pub(in crate::planning) type End = (usize, bool);

/// Where a chain ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::planning) enum Terminus {
    /// At special work: its number, and the end of the chain's last piece there.
    Work(usize, End),
    /// At a cut in both rails: its identity.
    Cut(u32),
    /// At a buffer, or nowhere: a ring.
    Buffer,
}

/// Plain track, along which one can go only on or back.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::planning) struct Chain {
    /// Its pieces in order, each with whether it is passed from its start.
    steps: Vec<(usize, bool)>,
    pub(in crate::planning) length_mm: f64,
    pub(in crate::planning) ends: [Terminus; 2],
}

/// A part of a run, mm along it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::planning) struct Part {
    pub(in crate::planning) run: RunId,
    pub(in crate::planning) from_mm: f64,
    pub(in crate::planning) to_mm: f64,
}

impl Part {
    /// True if a place is within it.
    pub(in crate::planning) fn has(&self, run: RunId, at_mm: f64) -> bool {
        self.run == run && (self.from_mm..=self.to_mm).contains(&at_mm)
    }
}

/// All chains of a layout.
pub(in crate::planning) struct Chains<'a> {
    plan: &'a Plan,
    pub(in crate::planning) chains: Vec<Chain>,
    /// The chain and its side that each end at special work is.
    pub(super) of_end: BTreeMap<End, (usize, usize)>,
    /// Ends to which trains pass on from an end at special work.
    pub(super) on: BTreeMap<End, Vec<End>>,
}

impl<'a> Chains<'a> {
    pub(in crate::planning) fn of(plan: &'a Plan) -> Chains<'a> {
        let links = &plan.metal.track.links;
        let mut at: BTreeMap<End, Vec<usize>> = BTreeMap::new();
        for (index, link) in links.iter().enumerate() {
            for end in link.ends {
                at.entry(end).or_default().push(index);
            }
        }
        let beyond = |end: End, link: usize| {
            let [a, b] = links[link].ends;
            if a == end { b } else { a }
        };
        let links_at = |end: End| at.get(&end).map_or(&[][..], |links| links);
        let plain = |end: End| match *links_at(end) {
            [link] if !links[link].kind.parts() => {
                Some(beyond(end, link)).filter(|other| links_at(*other).len() == 1)
            }
            _ => None,
        };
        let mut works = UnionFind::<usize>::new(2 * plan.pieces.len());
        let number = |(piece, start): End| 2 * piece + usize::from(start);
        let mut on: BTreeMap<End, Vec<End>> = BTreeMap::new();
        for link in links.iter().filter(|link| !link.kind.parts()) {
            let [a, b] = link.ends;
            if plain(a) != Some(b) {
                works.union(number(a), number(b));
                on.entry(a).or_default().push(b);
                on.entry(b).or_default().push(a);
            }
        }
        let terminus = |end: End| match *links_at(end) {
            [] => Terminus::Buffer,
            [link] if links[link].kind.parts() => match links[link].kind {
                LinkKind::Cut { id, .. } => Terminus::Cut(id),
                LinkKind::Metal | LinkKind::Gap => Terminus::Buffer,
            },
            _ if plain(end).is_some() => Terminus::Buffer,
            _ => Terminus::Work(works.find(number(end)), end),
        };
        let mut chains = Vec::new();
        let mut of_end = BTreeMap::new();
        let mut seen = vec![false; plan.pieces.len()];
        for first in 0..plan.pieces.len() {
            if seen[first] {
                continue;
            }
            // Back to where it begins, or once round.
            let mut start: End = (first, true);
            while let Some(before) = plain(start) {
                start = (before.0, !before.1);
                if before.0 == first {
                    break;
                }
            }
            let mut steps = Vec::new();
            let mut entered = start;
            let last = loop {
                seen[entered.0] = true;
                steps.push((entered.0, entered.1));
                let exit = (entered.0, !entered.1);
                match plain(exit) {
                    Some(next) if !seen[next.0] => entered = next,
                    _ => break exit,
                }
            };
            let ends = [terminus(start), terminus(last)];
            for (side, end) in ends.iter().enumerate() {
                if let Terminus::Work(_, end) = end {
                    of_end.insert(*end, (chains.len(), side));
                }
            }
            let length_mm = steps.iter().map(|step| plan.pieces[step.0].length_mm().max(0.0)).sum();
            chains.push(Chain { steps, length_mm, ends });
        }
        Chains { plan, chains, of_end, on }
    }

    /// The place at a distance along a chain.
    pub(super) fn place(&self, chain: usize, along_mm: f64) -> Option<(RunId, f64)> {
        let mut left = along_mm;
        let steps = &self.chains.get(chain)?.steps;
        for (n, &(piece, forward)) in steps.iter().enumerate() {
            let piece = &self.plan.pieces[piece];
            let length = piece.length_mm().max(0.0);
            if left <= length || n + 1 == steps.len() {
                let left = left.clamp(0.0, length);
                return Some((
                    piece.run,
                    if forward { piece.from_mm + left } else { piece.to_mm - left },
                ));
            }
            left -= length;
        }
        None
    }

    /// The chain of a place, and the distance along it.
    pub(in crate::planning) fn along(&self, run: RunId, at_mm: f64) -> Option<(usize, f64)> {
        for (at, chain) in self.chains.iter().enumerate() {
            let mut before = 0.0;
            for &(piece, forward) in &chain.steps {
                let piece = &self.plan.pieces[piece];
                if piece.run == run && piece.from_mm <= at_mm && at_mm <= piece.to_mm {
                    let within = if forward { at_mm - piece.from_mm } else { piece.to_mm - at_mm };
                    return Some((at, before + within));
                }
                before += piece.length_mm().max(0.0);
            }
        }
        None
    }

    /// The parts of runs between two distances along a chain.
    pub(in crate::planning) fn parts(&self, chain: usize, from_mm: f64, to_mm: f64) -> Vec<Part> {
        let mut parts = Vec::new();
        let mut before = 0.0;
        for &(piece, forward) in &self.chains[chain].steps {
            let piece = &self.plan.pieces[piece];
            let length = piece.length_mm().max(0.0);
            let (low, high) = ((from_mm - before).max(0.0), (to_mm - before).min(length));
            if low < high {
                let [from_mm, to_mm] = match forward {
                    true => [piece.from_mm + low, piece.from_mm + high],
                    false => [piece.to_mm - high, piece.to_mm - low],
                };
                parts.push(Part { run: piece.run, from_mm, to_mm });
            }
            before += length;
        }
        parts
    }
}
