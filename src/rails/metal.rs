//! What the rails are whatever position the selectors stand in: nets of fixed metal, pieces, blocks, and the edges that
//! positions enable.

use std::collections::{BTreeMap, BTreeSet};

use petgraph::unionfind::UnionFind;

use super::anatomy::{self, Node, Way};
use super::balance::{Directions, Link, LinkKind, Stretch, Track, directions};
use super::ids::{BlockId, NetId};
use super::parts::{Block, CutAt, Piece, Within, cut_place_mm};
use super::positions::{Positions, SelectorId};
use crate::layout::{Cut, CutId, Layout, Rail, RunEnd, RunId, SpecialId, Spot, TrackEnd, geometry};

/// Two nets of fixed metal that some positions of a selector join.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Switch {
    /// The selector.
    pub selector: SelectorId,
    /// Bit *k*: joined in position *k*.
    pub mask: u64,
    /// What is joined: indices in [`Metal::nets`].
    pub nets: [usize; 2],
}

/// The rails in no particular position.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Metal {
    /// Nets of fixed metal by identity.
    pub nets: Vec<NetId>,
    /// Pieces by run and distance; their nets are indices in `nets`.
    pub pieces: Vec<Piece>,
    /// Blocks by identity, without drivers; their nets are indices in `nets`.
    pub blocks: Vec<Block>,
    /// Where each cut stands.
    pub cuts: BTreeMap<CutId, CutAt>,
    /// What positions join.
    pub switches: Vec<Switch>,
    /// Nets that are a frog, or one metal with some, each with the special work of all of them.
    pub frogs: BTreeMap<usize, BTreeSet<SpecialId>>,
    /// Breaks that special work has by its nature.
    pub breaks: Vec<(SpecialId, Spot)>,
    /// Ways of trains through special work.
    pub ways: Vec<(SpecialId, Way)>,
    /// Which piece follows which, as if uncut: the stretches are the pieces. Pieces between which not both rails are cut
    /// count as one block there.
    pub track: Track,
    /// Reference directions: +1 where that at a piece is its run's own, −1 where it is against it.
    pub directions: Directions,
    /// Run ends that meet plainly; `true` marks a run's start.
    pub(super) meetings: Vec<[(RunId, bool); 2]>,
    /// Range of indices in `pieces` of each run.
    pub(super) runs: BTreeMap<RunId, (usize, usize)>,
    segments: BTreeMap<(RunId, Rail), Segments>,
    /// By net: which of `switches` are on it.
    on_net: Vec<Vec<usize>>,
}

/// The lengths of one rail of a run between its gaps.
#[derive(Debug, Clone, PartialEq, Default)]
struct Segments {
    /// Where it is broken, mm along the run, in order.
    places: Vec<f64>,
    /// Net of each length between.
    nets: Vec<usize>,
    length_mm: f64,
}

impl Segments {
    /// What is soldered at a gap is soldered beyond it, but at the end of its run on this side: a feed stands on its run.
    fn at(&self, at_mm: f64) -> usize {
        self.places.iter().filter(|&&place| place <= at_mm && place < self.length_mm).count()
    }
}

/// A break this near to a cut is the cut, mm.
const SAME_PLACE_MM: f64 = 0.01;

impl Metal {
    /// Derives the rails of a layout.
    pub fn derive(layout: &Layout) -> Metal {
        let anatomies: Vec<(SpecialId, anatomy::Anatomy)> = layout
            .specials
            .values()
            .map(|special| (special.id, anatomy::anatomy(layout, special)))
            .collect();
        let mut cuts_of: BTreeMap<RunId, Vec<&Cut>> = BTreeMap::new();
        for cut in layout.cuts.values() {
            cuts_of.entry(cut.run).or_default().push(cut);
        }
        let mut metal = Metal { meetings: meetings(layout), ..Metal::default() };
        metal.segment(layout, &cuts_of, &anatomies);
        metal.join(layout, &anatomies);
        metal.index();
        metal.cut_up(layout, &cuts_of);
        metal.place_cuts(layout);
        metal.link(&cuts_of);
        for label in layout.labels.values() {
            if let Some(block) = metal.block_at(label.run, label.at_mm) {
                metal.blocks[block].labels.push(label.id);
            }
        }
        metal
    }

    /// Divides each rail at its gaps. Until rails are joined every length is a net of its own.
    fn segment(
        &mut self,
        layout: &Layout,
        cuts_of: &BTreeMap<RunId, Vec<&Cut>>,
        anatomies: &[(SpecialId, anatomy::Anatomy)],
    ) {
        let mut breaks: BTreeMap<(RunId, Rail), Vec<f64>> = BTreeMap::new();
        for (special, anatomy) in anatomies {
            for spot in anatomy.breaks.iter().map(|b| b.spot) {
                let taken = cuts_of
                    .get(&spot.run)
                    .into_iter()
                    .flatten()
                    .filter_map(|cut| cut_place_mm(cut, spot.rail))
                    .any(|place| (place - spot.at_mm).abs() <= SAME_PLACE_MM);
                if !taken {
                    breaks.entry((spot.run, spot.rail)).or_default().push(spot.at_mm);
                    self.breaks.push((*special, spot));
                }
            }
        }
        for (&id, run) in &layout.runs {
            let length_mm = geometry::length_mm(layout, run);
            for rail in Rail::BOTH {
                let cuts = cuts_of.get(&id).into_iter().flatten();
                let mut places: Vec<f64> = cuts.filter_map(|cut| cut_place_mm(cut, rail)).collect();
                places.extend(breaks.get(&(id, rail)).into_iter().flatten());
                places.sort_by(f64::total_cmp);
                let nets: Vec<usize> = (0..=places.len()).map(|n| self.nets.len() + n).collect();
                self.nets.extend((0..nets.len()).map(|segment| NetId {
                    run: id,
                    rail,
                    segment: segment as u32,
                }));
                self.segments.insert((id, rail), Segments { places, nets, length_mm });
            }
        }
    }

    fn end_net(&self, run: RunId, rail: Rail, at_start: bool) -> Option<usize> {
        let segments = self.segments.get(&(run, rail))?;
        if at_start { segments.nets.first() } else { segments.nets.last() }.copied()
    }

    /// The net of fixed metal at a place on a rail.
    pub fn net_at(&self, run: RunId, rail: Rail, at_mm: f64) -> Option<usize> {
        let segments = self.segments.get(&(run, rail))?;
        segments.nets.get(segments.at(at_mm)).copied()
    }

    fn net_of(&self, node: Node) -> Option<usize> {
        match node {
            Node::End(TrackEnd { run, end }, rail) => self.end_net(run, rail, end == RunEnd::Start),
            Node::At(Spot { run, at_mm, rail }) => self.net_at(run, rail, at_mm),
        }
    }

    /// Joins what is metal, and names nets anew.
    fn join(&mut self, layout: &Layout, anatomies: &[(SpecialId, anatomy::Anatomy)]) {
        let mut joined = UnionFind::<usize>::new(self.nets.len());
        let mut union = |a: Option<usize>, b: Option<usize>| {
            if let (Some(a), Some(b)) = (a, b) {
                joined.union(a, b);
            }
        };
        for &[(a, a_start), (b, b_start)] in &self.meetings {
            for rail in Rail::BOTH {
                // Seen through the joint a rail keeps its hand if one run ends where the other starts.
                let other = if a_start == b_start { rail.other() } else { rail };
                union(self.end_net(a, rail, a_start), self.end_net(b, other, b_start));
            }
        }
        for [a, b] in anatomies.iter().flat_map(|(_, anatomy)| &anatomy.fixed) {
            union(self.net_of(*a), self.net_of(*b));
        }
        for bond in layout.bonds.values() {
            union(self.net_of(Node::At(bond.from)), self.net_of(Node::At(bond.to)));
        }
        // Segments are in the order of their identities, so the first one met names its net.
        let mut net_of_root: BTreeMap<usize, usize> = BTreeMap::new();
        let mut names = Vec::new();
        let new: Vec<usize> = (0..self.nets.len())
            .map(|segment| {
                *net_of_root.entry(joined.find(segment)).or_insert_with(|| {
                    names.push(self.nets[segment]);
                    names.len() - 1
                })
            })
            .collect();
        for net in self.segments.values_mut().flat_map(|s| &mut s.nets) {
            *net = new[*net];
        }
        self.nets = names;
        for (special, anatomy) in anatomies {
            for switch in &anatomy.switches {
                if let [Some(a), Some(b)] = switch.ends.map(|node| self.net_of(node)) {
                    let (selector, mask) = (switch.selector, switch.mask);
                    self.switches.push(Switch { selector, mask, nets: [a, b] });
                }
            }
            let nets: Vec<usize> =
                anatomy.frogs.iter().filter_map(|&node| self.net_of(node)).collect();
            for net in nets {
                self.frogs.entry(net).or_default().insert(*special);
            }
            self.ways.extend(anatomy.ways.iter().map(|&way| (*special, way)));
        }
    }

    fn index(&mut self) {
        self.on_net = vec![Default::default(); self.nets.len()];
        for (at, switch) in self.switches.iter().enumerate() {
            for net in switch.nets {
                self.on_net[net].push(at);
            }
        }
    }

    /// Cuts the runs into pieces and gathers the blocks.
    fn cut_up(&mut self, layout: &Layout, cuts_of: &BTreeMap<RunId, Vec<&Cut>>) {
        // How far special work reaches into a run from its ends.
        let mut reach: BTreeMap<TrackEnd, (f64, SpecialId)> = BTreeMap::new();
        for special in layout.specials.values() {
            for end in special.work.ends() {
                reach.insert(end, (special.work.reach_mm(), special.id));
            }
        }
        let mut block_of_pair: BTreeMap<(usize, usize), usize> = BTreeMap::new();
        for (&id, run) in &layout.runs {
            let length_mm = geometry::length_mm(layout, run);
            let cuts = cuts_of.get(&id).map_or(&[][..], Vec::as_slice);
            let rails =
                Rail::BOTH.map(|rail| self.segments.get(&(id, rail)).cloned().unwrap_or_default());
            let mut places: Vec<f64> =
                rails.iter().flat_map(|segments| segments.places.iter().copied()).collect();
            places.sort_by(f64::total_cmp);
            places.dedup();
            let start = self.pieces.len();
            for index in 0..=places.len() {
                let from_mm = if index == 0 { 0.0 } else { places[index - 1] };
                // A cut may stand a hair beyond the drawn end.
                let to_mm = places.get(index).copied().unwrap_or(length_mm.max(from_mm));
                let nets = rails.each_ref().map(|segments| {
                    let gaps = &segments.places;
                    let passed =
                        if index == 0 { 0 } else { gaps.iter().filter(|&&g| g <= from_mm).count() };
                    segments.nets.get(passed).copied().unwrap_or(0)
                });
                // Another cut within the stagger makes blocks of its parts.
                let zone = cuts.iter().find(|cut| {
                    let (low, high) = stagger_mm(cut);
                    low < high
                        && from_mm == low
                        && to_mm == high
                        && index > 0
                        && index < places.len()
                });
                // Two rails may be frogs of different special work: what reaches so far is what the piece lies in.
                let frogs: BTreeSet<SpecialId> =
                    nets.iter().filter_map(|net| self.frogs.get(net)).flatten().copied().collect();
                let reached = |end: RunEnd, far_mm: f64| {
                    let &(reach_mm, special) = reach.get(&TrackEnd { run: id, end })?;
                    let own = far_mm <= reach_mm + SAME_PLACE_MM && frogs.contains(&special);
                    own.then_some((far_mm, special))
                };
                let ends =
                    [reached(RunEnd::Start, to_mm), reached(RunEnd::End, length_mm - from_mm)];
                let nearest = ends.into_iter().flatten().min_by(|a, b| a.0.total_cmp(&b.0));
                let within_special = nearest.map(|(_, special)| special);
                let within = match (zone, within_special) {
                    (Some(cut), _) => Within::StaggerZone(cut.id),
                    (None, Some(special)) => Within::Special(special),
                    (None, None) => {
                        let pair = (nets[0].min(nets[1]), nets[0].max(nets[1]));
                        let block = *block_of_pair.entry(pair).or_insert_with(|| {
                            self.blocks.push(Block {
                                id: BlockId { run: id, piece: index as u32 },
                                nets,
                                pieces: Vec::new(),
                                length_mm: 0.0,
                                labels: Vec::new(),
                                follows: frogs.iter().copied().collect(),
                                drivers: Vec::new(),
                                half_drivers: Vec::new(),
                            });
                            self.blocks.len() - 1
                        });
                        self.blocks[block].pieces.push(self.pieces.len());
                        self.blocks[block].length_mm += to_mm - from_mm;
                        Within::Block(block)
                    }
                };
                self.pieces.push(Piece { run: id, from_mm, to_mm, nets, within });
            }
            self.runs.insert(id, (start, self.pieces.len()));
        }
    }

    fn place_cuts(&mut self, layout: &Layout) {
        for cut in layout.cuts.values() {
            let (low, high) = stagger_mm(cut);
            let Some(&(start, end)) = self.runs.get(&cut.run) else { continue };
            let pieces = &self.pieces[start..end];
            // The piece before ends at the lower gap; the piece after starts at the upper one.
            // Where the stagger zone of another cut follows at once, the next block beyond it counts.
            let is_block = |p: &Piece| matches!(p.within, Within::Block(_));
            let before = pieces
                .iter()
                .position(|p| p.to_mm == low)
                .and_then(|i| (0..=i).rev().find(|&i| is_block(&pieces[i])).map(|i| start + i));
            let after = pieces
                .iter()
                .rposition(|p| p.from_mm == high)
                .and_then(|i| (i..pieces.len()).find(|&i| is_block(&pieces[i])).map(|i| start + i));
            let (Some(before), Some(after)) = (before, after) else { continue };
            if let (Within::Block(block_before), Within::Block(block_after)) =
                (self.pieces[before].within, self.pieces[after].within)
            {
                self.cuts
                    .insert(cut.id, CutAt { before, after, block_before, block_after, sign: 1 });
            }
        }
    }

    fn end_piece(&self, run: RunId, at_start: bool) -> Option<usize> {
        let &(from, to) = self.runs.get(&run)?;
        if at_start { Some(from) } else { to.checked_sub(1) }
    }

    /// Which piece follows which, and the reference directions that follow from it.
    fn link(&mut self, cuts_of: &BTreeMap<RunId, Vec<&Cut>>) {
        let mut links: Vec<Link> = Vec::new();
        for (&run, &(from, to)) in &self.runs {
            // By place (never negative, so that the bits are in order): the cut there and which rails are cut. A staggered
            // cut parts the track once, where it begins; one with another cut within its stagger parts it rail by rail.
            let mut here: BTreeMap<u64, (CutId, [bool; 2])> = BTreeMap::new();
            for cut in cuts_of.get(&run).into_iter().flatten() {
                let (low, high) = stagger_mm(cut);
                let own_zone = |p: &Piece| p.within == Within::StaggerZone(cut.id);
                let whole = low == high || self.pieces[from..to].iter().any(own_zone);
                for (side, &rail) in Rail::BOTH.iter().enumerate() {
                    let Some(place) = cut_place_mm(cut, rail) else { continue };
                    let place = if whole { low } else { place };
                    here.entry(place.to_bits()).or_insert((cut.id, [false; 2])).1[side] = true;
                }
            }
            for before in from..to.saturating_sub(1) {
                let kind = match here.get(&self.pieces[before].to_mm.to_bits()) {
                    Some(&(cut, rails)) => LinkKind::Cut { id: cut.0, rails },
                    None => LinkKind::Metal,
                };
                links.push(Link { ends: [(before, false), (before + 1, true)], kind });
            }
        }
        let end = |run, at_start| self.end_piece(run, at_start).map(|piece| (piece, at_start));
        let mut meet = |a: Option<(usize, bool)>, b: Option<(usize, bool)>, kind| {
            if let (Some(a), Some(b)) = (a, b) {
                let link = Link { ends: [a.min(b), a.max(b)], kind };
                if !links.contains(&link) {
                    links.push(link);
                }
            }
        };
        for &[(a, a_start), (b, b_start)] in &self.meetings {
            meet(end(a, a_start), end(b, b_start), LinkKind::Metal);
        }
        for (_, way) in &self.ways {
            let [a, b] = way.ends.map(|e| end(e.run, e.end == RunEnd::Start));
            meet(a, b, if way.metal { LinkKind::Metal } else { LinkKind::Gap });
        }
        let mut together = UnionFind::<usize>::new(self.pieces.len());
        for link in links.iter().filter(|link| !link.kind.parts()) {
            together.union(link.ends[0].0, link.ends[1].0);
        }
        let stretches = self
            .pieces
            .iter()
            .enumerate()
            .map(|(at, piece)| Stretch { length_mm: piece.length_mm(), block: together.find(at) });
        self.track = Track { stretches: stretches.collect(), links };
        self.directions = directions(&self.track);
        for at in self.cuts.values_mut() {
            let direction = |piece: usize| self.directions.of_stretch[piece];
            at.sign = direction(at.before) * direction(at.after);
        }
    }

    /// Indices in `switches` of what positions join to a net.
    pub fn switches_on(&self, net: usize) -> &[usize] {
        self.on_net.get(net).map_or(&[], |on| on)
    }

    /// Nets of fixed metal joined as positions have it: for each the index of its joined net, numbered in order.
    pub(super) fn joined(&self, layout: &Layout, positions: &Positions) -> Vec<usize> {
        let mut joined = UnionFind::<usize>::new(self.nets.len());
        for switch in &self.switches {
            let position = positions.of(layout, switch.selector);
            if switch.mask >> position.min(63) & 1 == 1 {
                joined.union(switch.nets[0], switch.nets[1]);
            }
        }
        let mut net_of_root: BTreeMap<usize, usize> = BTreeMap::new();
        (0..self.nets.len())
            .map(|net| {
                let next = net_of_root.len();
                *net_of_root.entry(joined.find(net)).or_insert(next)
            })
            .collect()
    }

    /// Index of the block at a place, `None` in a stagger zone, in special work or off the track.
    pub fn block_at(&self, run: RunId, at_mm: f64) -> Option<usize> {
        let &(from, to) = self.runs.get(&run)?;
        // At a gap the piece beyond it counts, as for feeds.
        let piece = self.pieces[from..to]
            .iter()
            .rev()
            .find(|p| p.from_mm <= at_mm && at_mm <= p.to_mm && p.length_mm() > 0.0)?;
        match piece.within {
            Within::Block(block) => Some(block),
            Within::StaggerZone(_) | Within::Special(_) => None,
        }
    }
}

/// From the lower to the upper gap of a cut, mm along its run.
fn stagger_mm(cut: &Cut) -> (f64, f64) {
    let places = Rail::BOTH.map(|rail| cut_place_mm(cut, rail));
    match places {
        [Some(left), Some(right)] => (left.min(right), left.max(right)),
        [left, right] => {
            let place = left.or(right).unwrap_or(cut.at_mm);
            (place, place)
        }
    }
}

/// Pairs of run ends that meet plainly at a joint; `true` marks a run's start.
fn meetings(layout: &Layout) -> Vec<[(RunId, bool); 2]> {
    let mut ends: BTreeMap<_, Vec<(RunId, bool)>> = BTreeMap::new();
    for run in layout.runs.values() {
        ends.entry(run.from).or_default().push((run.id, true));
        ends.entry(run.to).or_default().push((run.id, false));
    }
    ends.into_values().filter_map(|ends| <[_; 2]>::try_from(ends).ok()).collect()
}
