//! Sites, and the cells between them.

use std::collections::BTreeMap;

use super::label::{Edge, Pair};
use super::sections::Section;
use super::wish::{NoPlan, Wishes};
use crate::layout::{
    Cut, CutId, EntityId, Frog, Layout, Made, Rail, Rails, RunEnd, RunId, Work, length_mm,
};
use crate::rails::balance::{Directions, directions, is_balanced};
use crate::rails::{Metal, Within};

/// How far beyond the end of a frog a gap is cut, mm.
const BEYOND_FROG_MM: f64 = 10.0;
/// Nearest that a site stands to a feed, a name or another site, mm.
pub(super) const APART_MM: f64 = 8.0;
/// What a rail cut counts; a taste counts a few points beside it.
pub(super) const CUT: u64 = 1000;
/// A plain middle of a rail, and just beyond the frog of a power-routing turnout, points (judgement).
const MIDDLE: u64 = 3;
const BEYOND_FROG: u64 = 1;

/// A place where both rails, or either, may be cut.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Site {
    pub(super) run: RunId,
    pub(super) at_mm: f64,
    /// A cut in one rail that is there: its other rail may be cut too.
    pub(super) half: Option<(CutId, Rail)>,
    /// The reversing section that it is an end of: both rails are cut.
    pub(super) end_of: Option<usize>,
    taste: u64,
}

/// The track with every site cut.
pub(super) struct Cells {
    pub(super) sites: Vec<Site>,
    /// The metal with every site cut: its nets are the cells.
    pub(super) metal: Metal,
    /// By piece, the reversing section that it is in.
    section_of: Vec<Option<usize>>,
    /// Reference directions, which no end of a reversing section carries on.
    directions: Directions,
}

impl Cells {
    /// Divides the track at all sites, and at all ends of reversing sections.
    pub(super) fn of(
        layout: &Layout,
        wishes: &Wishes,
        sections: &[Section],
    ) -> Result<Cells, NoPlan> {
        let sites = sites(layout, wishes, sections);
        let mut cut = layout.clone();
        for (n, site) in sites.iter().enumerate() {
            if let Some(there) = site.half.and_then(|(id, _)| cut.cuts.get_mut(&id)) {
                there.rails = Rails::Both;
                continue;
            }
            let id = CutId(layout.next_id.saturating_add(n as u32));
            let new = Cut {
                id,
                name: String::new(),
                run: site.run,
                at_mm: site.at_mm,
                rails: Rails::Both,
                width_mm: 0.8,
                stagger_mm: 0.0,
                made: Made::Open,
                cut_at_c: None,
                notes: String::new(),
            };
            cut.cuts.insert(id, new);
        }
        if let Some(special) = layout.specials.values().find(|s| s.work.bridge().is_some()) {
            return Err(NoPlan(format!(
                "The plan cannot be made: it does not know {}s yet ({}). Plan the track without it.",
                special.work.word(),
                EntityId::from(special.id)
            )));
        }
        let metal = Metal::derive(&cut);
        let section_of: Vec<Option<usize>> = metal
            .pieces
            .iter()
            .map(|p| sections.iter().position(|s| s.has(p.run, (p.from_mm + p.to_mm) / 2.0)))
            .collect();
        let mut track = metal.track.clone();
        track.links.retain(|link| {
            let [a, b] = link.ends.map(|end| section_of[end.0]);
            a == b
        });
        if !is_balanced(&track) {
            return Err(NoPlan(
                "The plan cannot be made: with its reversing sections the track still comes back on itself with its rails \
                 exchanged."
                    .into(),
            ));
        }
        Ok(Cells { sites, section_of, directions: directions(&track), metal })
    }

    /// By cell, the reversing section that it is in.
    pub(super) fn sections(&self) -> Vec<Option<usize>> {
        let mut of = vec![None; self.metal.nets.len()];
        for (piece, section) in self.metal.pieces.iter().zip(&self.section_of) {
            piece.nets.iter().for_each(|&net| of[net] = of[net].or(*section));
        }
        of
    }

    /// The cell of a place on a rail.
    pub(super) fn at(&self, run: RunId, rail: Rail, at_mm: f64) -> Option<usize> {
        self.metal.net_at(run, rail, at_mm)
    }

    /// The cells on both sides of a site, for each rail.
    pub(super) fn beside(&self, site: &Site) -> [Option<[usize; 2]>; 2] {
        Rail::BOTH.map(|rail| {
            if site.half.is_some_and(|(_, whole)| whole != rail) {
                return None;
            }
            let before = self.at(site.run, rail, site.at_mm - 0.5)?;
            let after = self.at(site.run, rail, site.at_mm + 0.5)?;
            Some([before, after])
        })
    }

    /// What can be cut.
    pub(super) fn edges(&self) -> Vec<Edge> {
        let edges = self.sites.iter().flat_map(|site| {
            let cost = CUT + site.taste;
            self.beside(site).into_iter().flatten().map(move |cells| Edge { cells, cost })
        });
        edges.collect()
    }

    /// The two rails of every piece of plain track.
    pub(super) fn pairs(&self) -> Vec<Pair> {
        let plain = self.metal.pieces.iter().filter(|p| matches!(p.within, Within::Block(_)));
        // Worth more than any cut that would spare it: what is fed by two stretches is fed by none.
        plain.map(|piece| Pair { cells: piece.nets, cost: 4 * CUT }).collect()
    }

    /// By cell, its hand along the reference direction; `None` for cells that are of both, as frogs are.
    pub(super) fn hands(&self) -> Vec<Option<Rail>> {
        let mut hands: Vec<[bool; 2]> = vec![[false; 2]; self.metal.nets.len()];
        for (at, piece) in self.metal.pieces.iter().enumerate() {
            let direction = self.directions.of_stretch.get(at).copied().unwrap_or(1);
            for (side, &net) in piece.nets.iter().enumerate() {
                let left = (side == 0) == (direction > 0);
                hands[net][usize::from(!left)] = true;
            }
        }
        let hand = |has: [bool; 2]| match has {
            [true, false] => Some(Rail::Left),
            [false, true] => Some(Rail::Right),
            [true, true] | [false, false] => None,
        };
        hands.into_iter().map(hand).collect()
    }

    /// The hand of a rail at a place, seen along the reference direction of the track.
    pub(super) fn hand(&self, run: RunId, rail: Rail, at_mm: f64) -> Rail {
        let pieces = self.metal.pieces.iter();
        let mut here = pieces.enumerate().filter(|(_, p)| p.run == run);
        let at = here.find(|(_, p)| p.from_mm <= at_mm && at_mm <= p.to_mm).map(|(at, _)| at);
        let direction = at.and_then(|at| self.directions.of_stretch.get(at)).copied();
        if direction.unwrap_or(1) > 0 { rail } else { rail.other() }
    }
}

/// Places where a cut can stand: one between every two things that a cut could part.
fn sites(layout: &Layout, wishes: &Wishes, sections: &[Section]) -> Vec<Site> {
    let mut reach: BTreeMap<(RunId, RunEnd), (f64, bool)> = BTreeMap::new();
    for special in layout.specials.values() {
        let routing = special.work.frog().is_some_and(Frog::is_one_metal);
        let toe = match special.work {
            Work::Turnout { toe, .. } => Some(toe),
            _ => None,
        };
        for end in special.work.ends() {
            // Before the toe there is no frog.
            let mm = if toe == Some(end) { 0.0 } else { special.work.reach_mm() };
            reach.insert((end.run, end.end), (mm, routing && toe != Some(end)));
        }
    }
    let mut sites = Vec::new();
    for run in layout.runs.values() {
        let length = length_mm(layout, run);
        let from = reach.get(&(run.id, RunEnd::Start)).copied().unwrap_or((0.0, false));
        let to = reach.get(&(run.id, RunEnd::End)).copied().unwrap_or((0.0, false));
        let mut stops: Vec<f64> = vec![from.0, length - to.0];
        let feeds = layout.feeds.values().filter(|f| f.run == run.id).map(|f| f.at_mm);
        let bonds = layout.bonds.values().flat_map(|b| [b.from, b.to]);
        let bonds = bonds.filter(|spot| spot.run == run.id).map(|spot| spot.at_mm);
        let cuts = layout.cuts.values().filter(|c| c.run == run.id).map(|c| c.at_mm);
        let wished = wishes.apart.iter().flat_map(|s| &s.at).filter(|at| at.run == run.id);
        stops.extend(feeds.chain(bonds).chain(cuts).chain(wished.map(|at| at.at_mm)));
        let ends = sections.iter().enumerate();
        let ends = ends.flat_map(|(n, section)| section.ends.iter().map(move |end| (n, *end)));
        for (n, (_, at_mm)) in ends.filter(|(_, end)| end.0 == run.id) {
            stops.push(at_mm);
            sites.push(Site { run: run.id, at_mm, half: None, end_of: Some(n), taste: MIDDLE });
        }
        let never = wishes.never.iter().filter(|(id, ..)| *id == run.id);
        stops.extend(never.flat_map(|&(_, low, high)| [low, high]));
        // What lies within special work bounds nothing.
        stops.retain(|mm| (from.0..=length - to.0).contains(mm));
        stops.sort_by(f64::total_cmp);
        stops.dedup();
        let halves = layout.cuts.values().filter(|c| c.run == run.id);
        sites.extend(halves.filter_map(|cut| {
            let whole = match cut.rails {
                Rails::Both => return None,
                Rails::Left => Rail::Right,
                Rails::Right => Rail::Left,
            };
            let half = Some((cut.id, whole));
            Some(Site { run: run.id, at_mm: cut.at_mm, half, end_of: None, taste: BEYOND_FROG })
        }));
        for (n, two) in stops.windows(2).enumerate() {
            let room = two[1] - two[0];
            if room < 2.0 * APART_MM {
                continue;
            }
            let (first, last) = (n == 0, n + 2 == stops.len());
            // Just beyond a frog the road beyond can be live; elsewhere the middle is as good as any place.
            let near = (BEYOND_FROG_MM).min(room / 2.0);
            let (at_mm, taste) = if first && from.1 {
                (two[0] + near, BEYOND_FROG)
            } else if last && to.1 {
                (two[1] - near, BEYOND_FROG)
            } else {
                ((two[0] + two[1]) / 2.0, MIDDLE)
            };
            let barred = wishes
                .never
                .iter()
                .any(|(id, low, high)| *id == run.id && (*low..=*high).contains(&at_mm));
            if !barred {
                sites.push(Site { run: run.id, at_mm, half: None, end_of: None, taste });
            }
        }
    }
    sites
}
