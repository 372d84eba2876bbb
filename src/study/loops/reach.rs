//! How far apart the ends of a block lie for trains, and how much of a train can bridge a cut.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet, BinaryHeap};

use crate::layout::{Axle, Layout, RunEnd, RunId, SpecialId, TrackEnd, Wheel};
use crate::rails::balance::{Link, LinkKind, Track};
use crate::rails::{Plan, Within};
use crate::straddle::rake::{self, Rake};
use crate::study::cut::stand_in;
use crate::study::types::{EndsApart, Longest};

/// An end of a stretch: its index, and whether it is its start.
type End = (usize, bool);

/// The ways of trains along a track.
pub struct Ways<'a> {
    track: &'a Track,
    /// Length of each stretch between the innermost gaps, mm.
    length_mm: Vec<f64>,
    /// Links at each end.
    at: BTreeMap<End, Vec<usize>>,
    /// The bridge that each gap belongs to, and in which of its positions one passes there.
    gaps: BTreeMap<usize, (SpecialId, u64)>,
    /// Whether each stretch lies on a bridge.
    on_bridge: Vec<bool>,
}

/// All positions: not on a bridge.
const ANY: u64 = u64::MAX;

impl<'a> Ways<'a> {
    /// Those of a plan.
    pub fn of(layout: &Layout, plan: &'a Plan) -> Self {
        let track = &plan.metal.track;
        let mut at: BTreeMap<End, Vec<usize>> = BTreeMap::new();
        let mut gaps = BTreeMap::new();
        let mut by_ends: BTreeMap<[End; 2], (SpecialId, u64)> = BTreeMap::new();
        let end = |e: TrackEnd| -> Option<End> {
            let at_start = e.end == RunEnd::Start;
            let first = plan.first_piece(e.run)?;
            let last = first + plan.pieces_of(e.run).len().checked_sub(1)?;
            Some((if at_start { first } else { last }, at_start))
        };
        for (special, way) in plan.metal.ways.iter().filter(|(_, way)| !way.metal) {
            if let [Some(a), Some(b)] = way.ends.map(end) {
                by_ends.entry([a.min(b), a.max(b)]).or_insert((*special, 0)).1 |= way.mask;
            }
        }
        for (index, link) in track.links.iter().enumerate() {
            for end in link.ends {
                at.entry(end).or_default().push(index);
            }
            if link.kind == LinkKind::Gap
                && let Some(&gap) = by_ends.get(&link.ends)
            {
                gaps.insert(index, gap);
            }
        }
        let length_mm = plan
            .pieces
            .iter()
            .map(|piece| match piece.within {
                Within::StaggerZone(_) => 0.0,
                _ => piece.length_mm().max(0.0),
            })
            .collect();
        let bridges: BTreeSet<RunId> =
            layout.specials.values().filter_map(|special| special.work.bridge()).collect();
        let on_bridge = plan.pieces.iter().map(|piece| bridges.contains(&piece.run)).collect();
        Ways { track, length_mm, at, gaps, on_bridge }
    }

    /// The bridge that a link is a gap of.
    pub fn bridge(&self, link: usize) -> Option<SpecialId> {
        self.gaps.get(&link).map(|gap| gap.0)
    }

    fn block(&self, end: End) -> usize {
        self.track.stretches[end.0].block
    }

    /// Links that part a block from others, each with its end on the block's side.
    pub fn ends_of(&self, block: usize) -> Vec<(usize, End)> {
        let sides = |(index, link): (usize, &Link)| {
            let [a, b] = link.ends.map(|end| self.block(end) == block);
            let own = if a { link.ends[0] } else { link.ends[1] };
            (a != b && link.kind.parts()).then_some((index, own))
        };
        self.track.links.iter().enumerate().filter_map(sides).collect()
    }

    fn beyond(&self, link: usize, end: End) -> End {
        let [a, b] = self.track.links[link].ends;
        if a == end { b } else { a }
    }

    /// The two ends of a block that are nearest to each other for a train: through the block, or (`across`) out of the
    /// block and back into it. `None` if no train passes two of its ends. A bridge has none: what is longer than it is
    /// not turned on it.
    pub fn ends_apart(&self, block: usize) -> Option<EndsApart> {
        let through = self.nearest(block, false, f64::INFINITY);
        let limit = through.map_or(f64::INFINITY, |ends| ends.mm);
        self.nearest(block, true, limit).or(through)
    }

    /// Likewise, through the block only, and only if they are less than so much apart, mm.
    pub fn through(&self, block: usize, less_than_mm: f64) -> Option<EndsApart> {
        self.nearest(block, false, less_than_mm)
    }

    fn nearest(&self, block: usize, across: bool, less_than_mm: f64) -> Option<EndsApart> {
        let within = |end: End| (self.block(end) == block) != across;
        let mut best: Option<f64> = None;
        for (link, own) in self.ends_of(block) {
            if self.gaps.contains_key(&link) && self.on_bridge[own.0] {
                continue;
            }
            let from = if across { self.beyond(link, own) } else { own };
            let limit = best.unwrap_or(less_than_mm);
            best = self.shortest((link, from), limit, &within).or(best);
        }
        best.map(|mm| EndsApart { mm, across })
    }

    /// The shortest way from one end over stretches that are `within` to another link that parts them from what is not.
    fn shortest(
        &self,
        (link, from): (usize, End),
        limit_mm: f64,
        within: &dyn Fn(End) -> bool,
    ) -> Option<f64> {
        // Lengths are not negative, so that their bits are in their order.
        let start = (self.length_mm[from.0].to_bits(), from, self.mask_beyond(link, from));
        let mut heap = BinaryHeap::from([Reverse(start)]);
        let mut seen: BTreeSet<(End, u64)> = BTreeSet::new();
        while let Some(Reverse((bits, entered, mask))) = heap.pop() {
            let mm = f64::from_bits(bits);
            if mm >= limit_mm {
                return None;
            }
            if !seen.insert((entered, mask)) {
                continue;
            }
            let exit = (entered.0, !entered.1);
            for &next in self.at.get(&exit).into_iter().flatten() {
                let to = self.beyond(next, exit);
                // Off a bridge only where it stands while the other end stands where one came from.
                let passes = self.gaps.get(&next).is_none_or(|gap| gap.1 & mask != 0);
                if next == link || !passes {
                    continue;
                }
                if within(to) {
                    let mm = mm + self.length_mm[to.0];
                    let mask = if self.gaps.contains_key(&next) {
                        self.mask_beyond(next, to)
                    } else {
                        mask
                    };
                    heap.push(Reverse((mm.to_bits(), to, mask)));
                } else if self.track.links[next].kind.parts() {
                    return Some(mm);
                }
            }
        }
        None
    }

    /// The positions in which a bridge stands once one has come over a link to an end: all, if that is on no bridge.
    fn mask_beyond(&self, link: usize, to: End) -> u64 {
        self.gaps.get(&link).filter(|_| self.on_bridge[to.0]).map_or(ANY, |gap| gap.1)
    }
}

/// The most of anything that rolls on the layout that can bridge cuts: from the first to the last axle of a train (or of
/// a vehicle by itself) with metal wheels.
pub fn longest_bridging(layout: &Layout) -> Longest {
    let bridges = |rake: &Rake| {
        let axles = rake.groups.iter().flat_map(|group| &group.axles);
        span(axles.filter(|a| [a.left, a.right].iter().any(|w| *w != Wheel::Insulated)))
    };
    longest(layout, &bridges)
}

/// The longest pickup group: what joins blocks on both sides of a short one.
pub fn longest_group(layout: &Layout) -> Longest {
    let joins = |rake: &Rake| {
        let spans = rake.groups.iter().map(|group| {
            span(group.axles.iter().filter(|a| [a.left, a.right].contains(&Wheel::Pickup)))
        });
        spans.fold(0.0, f64::max)
    };
    longest(layout, &joins)
}

fn longest(layout: &Layout, mm: &dyn Fn(&Rake) -> f64) -> Longest {
    let trains = layout.trains.values().map(|train| Longest {
        mm: mm(&rake::coupled(layout, train)),
        train: Some(train.id),
        vehicle: None,
    });
    let vehicles = layout.vehicles.values().map(|vehicle| Longest {
        mm: mm(&rake::alone(vehicle)),
        train: None,
        vehicle: Some(vehicle.id),
    });
    // Of equals the vehicle by itself is named.
    let of_layout = vehicles.chain(trains).reduce(|a, b| if b.mm > a.mm { b } else { a });
    of_layout.unwrap_or_else(|| Longest {
        mm: mm(&rake::alone(&stand_in())),
        train: None,
        vehicle: None,
    })
}

fn span<'a>(axles: impl Iterator<Item = &'a Axle>) -> f64 {
    let (first, last) = axles.fold((f64::INFINITY, f64::NEG_INFINITY), |(first, last), axle| {
        (first.min(axle.at_mm), last.max(axle.at_mm))
    });
    (last - first).max(0.0)
}
