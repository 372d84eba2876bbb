//! Placing labels: greedy by priority on occupied ground, so that none lies on a label, a mark or track.
//!
//! Everything is placed in the plan's space at one scale, whether in view or not, so that panning moves nothing. What
//! was chosen at the last scale is tried first, so that zooming moves little. A mark always finds a place: where gaps
//! crowd, marks are one mark with a count. A text that finds no place is a stud, or left to the pointer.

use std::collections::{BTreeMap, HashMap};

use eframe::egui::{Vec2, vec2};

use super::collect::{Anchor, Items, Key, MarkItem, TextItem};
use super::ground::{Area, At, Ground};
use super::groups::{Group, groups, united};
use super::level::Level;
use crate::app::derived::Derived;
use crate::layout::CutId;
use crate::report::Standing;

/// Where a label is: its middle, from its place on the track, points on the screen.
#[derive(Debug, Clone, PartialEq)]
pub struct Placed {
    /// What it says.
    pub key: Key,
    /// Where it belongs.
    pub anchor: Anchor,
    /// From there to its middle, points.
    pub off: Vec2,
    /// Its size, points.
    pub size: Vec2,
    /// How it is shown.
    pub look: Look,
    /// True if a line leads from it to its place.
    pub leader: bool,
    /// Which of its candidates it is.
    choice: u16,
}

/// How a label is shown.
#[derive(Debug, Clone, PartialEq)]
pub enum Look {
    /// The mark of one cut.
    Mark(Option<Standing>),
    /// One mark for several cuts: the worst, and how many.
    Marks(Vec<CutId>, Option<Standing>),
    /// Words.
    Text(String),
    /// A stud: there is no room for words.
    Stud(String),
}

/// Size of a stud, points.
pub const STUD: Vec2 = Vec2::new(9.0, 9.0);

/// Radius of a mark, points.
pub fn mark_radius(standing: Option<Standing>, factor: f32) -> f32 {
    let fault = standing.is_some_and(|standing| standing.verdict().is_fault());
    factor * if fault { 9.0 } else { 7.0 }
}

/// Room between a label and what it stands beside, points.
const CLEAR: f32 = 3.0;
/// How far a crowded mark may stand from its gap, points.
const FARTHEST: f32 = 150.0;

/// What placing depends on besides the items.
pub struct View<'a> {
    /// Geometry.
    pub derived: &'a Derived,
    /// Points per mm.
    pub scale: f64,
    /// How much is shown.
    pub level: Level,
    /// Size of labels against the usual one.
    pub factor: f32,
    /// Width of track as it is drawn, from its middle, points.
    pub half_track: f32,
    /// Cuts that are shown at every distance, with a mark of their own: selected, or concerned by the open finding.
    pub shown: &'a [CutId],
    /// Special work and feeds that are shown at every distance.
    pub told: &'a dyn Fn(Key) -> bool,
}

/// A place on the plan at this scale, and the unit vector to the left of the track there, both on the screen.
pub(super) fn stand(view: &View<'_>, anchor: Anchor) -> Option<(At, Vec2)> {
    let (place, left) = match anchor {
        Anchor::On(run, at_mm) => {
            let pose = view.derived.curves.get(&run)?.at(at_mm);
            ((pose.x_mm, pose.y_mm), (-pose.dy, pose.dx))
        }
        Anchor::At(place, left) => (place, left),
    };
    let at = [place.0 * view.scale, -place.1 * view.scale];
    Some((at, vec2(left.0 as f32, -left.1 as f32)))
}

/// Upwards on the screen, or to the left where the track is upright: the side of verdicts.
fn upper(left: Vec2) -> Vec2 {
    if left.y < -0.01 || (left.y.abs() <= 0.01 && left.x < 0.0) { left } else { -left }
}

/// One place at which a label may stand.
#[derive(Debug, Clone, Copy)]
struct Candidate {
    anchor: Anchor,
    off: Vec2,
    leader: bool,
}

/// Places everything. `before` holds what was chosen at the last scale.
pub fn place(items: &Items, view: &View<'_>, before: &HashMap<Key, u16>) -> Vec<Placed> {
    let mut placing =
        Placing { view, before, track: track(view), labels: Ground::new(48.0), placed: Vec::new() };
    placing.marks(&items.marks);
    placing.blocks(&items.blocks);
    if view.level.names() {
        placing.cut_names(&items.cuts);
    } else {
        placing.cut_names_of(&items.cuts, view.shown);
    }
    placing.tags(&items.tags);
    placing.works(&items.works);
    placing.placed
}

/// The ground that track takes up.
fn track(view: &View<'_>) -> Ground {
    // Cells grow with the scale, so that their number depends on the length of the track alone.
    let mut ground = Ground::new((60.0 * view.scale).max(32.0));
    let half = f64::from(view.half_track);
    let tolerance_mm = 0.5 / view.scale;
    let at = |x: f64, y: f64| [x * view.scale, -y * view.scale];
    for curve in view.derived.curves.values() {
        let outline = curve.outline(0.0, curve.length_mm(), tolerance_mm);
        for ends in outline.windows(2) {
            let [a, b] = [at(ends[0].x_mm, ends[0].y_mm), at(ends[1].x_mm, ends[1].y_mm)];
            ground.take_line(a, b, half);
        }
    }
    for drawn in view.derived.special.specials.values() {
        let place = at(drawn.at.0, drawn.at.1);
        match drawn.pit {
            Some((centre, half_mm)) => {
                let long = 2.0 * half_mm * view.scale + 8.0;
                ground.take(Area::around(at(centre.0, centre.1), [long, long]));
            }
            None if view.level != Level::Far => ground.take(Area::around(place, [15.0, 15.0])),
            None => {}
        }
    }
    ground
}

struct Placing<'a> {
    view: &'a View<'a>,
    before: &'a HashMap<Key, u16>,
    track: Ground,
    labels: Ground,
    placed: Vec<Placed>,
}

impl Placing<'_> {
    /// Puts a label at the first of its candidates that is free. It stays where it was, unless it could now stand at its
    /// place without a leader.
    fn put(&mut self, key: Key, size: Vec2, look: Look, candidates: &[Candidate]) -> bool {
        let is_free = |n: &usize| candidates.get(*n).is_some_and(|c| self.is_free(*c, size));
        let Some(first) = (0..candidates.len()).find(is_free) else { return false };
        let had = self.before.get(&key).map(|n| usize::from(*n)).filter(|n| *n != first);
        let had = had.filter(is_free).filter(|n| candidates[*n].leader == candidates[first].leader);
        let choice = had.unwrap_or(first);
        let Candidate { anchor, off, leader } = candidates[choice];
        let Some((area, at, foot)) = self.area(candidates[choice], size) else { return false };
        self.labels.take(area.grown(1.0));
        if leader {
            self.labels.take_leader(at, foot);
        }
        let choice = choice.min(usize::from(u16::MAX)) as u16;
        self.placed.push(Placed { key, anchor, off, size, look, leader, choice });
        true
    }

    fn is_free(&self, candidate: Candidate, size: Vec2) -> bool {
        let Some((area, at, foot)) = self.area(candidate, size) else { return false };
        self.labels.is_free(area.grown(1.0))
            && self.track.is_free(area)
            && (!candidate.leader || self.labels.is_clear(at, foot))
    }

    /// The box of a label at a candidate, its place, and where its leader ends.
    fn area(&self, candidate: Candidate, size: Vec2) -> Option<(Area, At, At)> {
        let (at, _) = stand(self.view, candidate.anchor)?;
        let middle = [at[0] + f64::from(candidate.off.x), at[1] + f64::from(candidate.off.y)];
        let area = Area::around(middle, [f64::from(size.x), f64::from(size.y)]);
        Some((area, at, self.foot(at, candidate.off, size)))
    }

    /// Where the leader of a label ends: at the edge of its box that faces its place.
    fn foot(&self, at: At, off: Vec2, size: Vec2) -> At {
        let off = off - off.normalized() * (reach(off.normalized(), size) + 1.5);
        [at[0] + f64::from(off.x), at[1] + f64::from(off.y)]
    }

    fn marks(&mut self, marks: &[MarkItem]) {
        // Each round unites what found no place with its neighbour.
        const ROUNDS: usize = 6;
        let mut groups = groups(self.view, marks);
        for round in 0..=ROUNDS {
            let crowded: Vec<usize> =
                (0..groups.len()).filter(|n| !self.mark(&groups[*n], round == ROUNDS)).collect();
            if crowded.is_empty() {
                return;
            }
            self.placed.clear();
            self.labels = Ground::new(self.labels.cell());
            groups = united(groups, &crowded);
        }
    }

    /// Places the mark of a group. `at_any_rate`: a verdict is never hidden, so where nothing is free it stands at its gap.
    fn mark(&mut self, group: &Group, at_any_rate: bool) -> bool {
        let size = group.size(self.view.factor);
        let side = upper(group.left);
        let along = side.rot90();
        let base = self.view.half_track + CLEAR;
        let mut candidates = Vec::with_capacity(140);
        for step in 0..3 {
            let off = base + reach(side, size) + step as f32 * (size.y + 4.0);
            for slide in [0.0, 0.62, -0.62, 1.3, -1.3] {
                for way in [side, -side] {
                    candidates.push(Candidate {
                        anchor: group.anchor,
                        off: way * off + along * slide * (size.x + 6.0),
                        leader: step > 0 || slide != 0.0,
                    });
                }
            }
        }
        // Where track crowds, in circles that grow.
        let mut radius = size.x * 2.0;
        while radius < FARTHEST * self.view.factor {
            for turn in 0..16 {
                let angle = std::f32::consts::TAU * turn as f32 / 16.0;
                let off = Vec2::angled(angle) * radius;
                candidates.push(Candidate { anchor: group.anchor, off, leader: true });
            }
            radius += size.y;
        }
        let look = match group.cuts.as_slice() {
            [_] => Look::Mark(group.worst),
            many => Look::Marks(many.to_vec(), group.worst),
        };
        let Some(cut) = group.cuts.iter().min().copied() else { return true };
        let key = Key::Mark(cut);
        if self.put(key, size, look.clone(), &candidates) {
            return true;
        }
        if let (true, Some(&Candidate { anchor, off, leader })) = (at_any_rate, candidates.first())
        {
            self.placed.push(Placed { key, anchor, off, size, look, leader, choice: 0 });
        }
        at_any_rate
    }

    fn blocks(&mut self, blocks: &[TextItem]) {
        // Shorter stretches have no room for words that one could assign to them.
        const LEAST: f64 = 24.0;
        for item in blocks {
            let mut candidates: Vec<Candidate> = Vec::new();
            let long = |anchor: &&(Anchor, f64)| anchor.1 * self.view.scale >= LEAST;
            for step in 0..2 {
                for (anchor, _) in item.anchors.iter().filter(long) {
                    let Some((_, left)) = stand(self.view, *anchor) else { continue };
                    let side = upper(left);
                    let off = self.beside(side, item.size) + step as f32 * (item.size.y + 4.0);
                    let way = |side: Vec2| Candidate {
                        anchor: *anchor,
                        off: side * off,
                        leader: step > 0,
                    };
                    candidates.extend([way(side), way(-side)]);
                }
            }
            if candidates.is_empty() || self.put_text(item, &candidates) {
                continue;
            }
            let studs: Vec<Candidate> = candidates
                .iter()
                .map(|c| {
                    let off = c.off.normalized() * self.beside(c.off.normalized(), STUD);
                    Candidate { off, leader: false, ..*c }
                })
                .collect();
            self.put(item.key, STUD, Look::Stud(item.text.clone()), &studs);
        }
    }

    fn put_text(&mut self, item: &TextItem, candidates: &[Candidate]) -> bool {
        self.put(item.key, item.size, Look::Text(item.text.clone()), candidates)
    }

    /// Distance from the middle of the track to the middle of a box that stands clear beside it, points.
    fn beside(&self, side: Vec2, size: Vec2) -> f32 {
        self.view.half_track + CLEAR + reach(side, size)
    }

    fn cut_names_of(&mut self, names: &[TextItem], shown: &[CutId]) {
        let shown =
            names.iter().filter(|item| matches!(item.key, Key::Cut(cut) if shown.contains(&cut)));
        let shown: Vec<TextItem> = shown.cloned().collect();
        self.cut_names(&shown);
    }

    /// Names stand at the mark of their cut. What finds no room there is said when the pointer is over the mark.
    fn cut_names(&mut self, names: &[TextItem]) {
        let marks: BTreeMap<CutId, (Anchor, Vec2, Vec2)> = self
            .placed
            .iter()
            .filter_map(|placed| match (placed.key, &placed.look) {
                (Key::Mark(cut), Look::Mark(_)) => {
                    Some((cut, (placed.anchor, placed.off, placed.size)))
                }
                _ => None,
            })
            .collect();
        for item in names {
            let Key::Cut(cut) = item.key else { continue };
            let Some((anchor, off, mark)) = marks.get(&cut) else { continue };
            let (x, y) = ((mark.x + item.size.x) / 2.0 + 2.0, (mark.y + item.size.y) / 2.0 + 2.0);
            let around = [
                vec2(x, 0.0),
                vec2(-x, 0.0),
                vec2(0.0, -y),
                vec2(0.0, y),
                vec2(x * 0.6, -y),
                vec2(-x * 0.6, -y),
                vec2(x * 0.6, y),
                vec2(-x * 0.6, y),
            ];
            let candidates: Vec<Candidate> = around
                .iter()
                .map(|by| Candidate { anchor: *anchor, off: *off + *by, leader: false })
                .collect();
            self.put_text(item, &candidates);
        }
    }

    /// Tags of feeds stand on the side away from the verdicts.
    fn tags(&mut self, tags: &[TextItem]) {
        // Near, the wires carry their letters.
        let wires = if self.view.level == Level::Near { 20.0 } else { 10.0 };
        for item in tags {
            if self.view.level == Level::Far && !(self.view.told)(item.key) {
                continue;
            }
            let Some((anchor, _)) = item.anchors.first() else { continue };
            let Some((_, left)) = stand(self.view, *anchor) else { continue };
            let side = -upper(left);
            let along = side.rot90();
            let candidate = |side: Vec2, step: f32, slide: f32| Candidate {
                anchor: *anchor,
                off: side * (self.beside(side, item.size) + wires + step * (item.size.y + 4.0))
                    + along * slide * (reach(along, item.size) + 8.0),
                leader: true,
            };
            let mut candidates = Vec::new();
            for way in [side, -side] {
                for step in 0..4 {
                    for slide in [0.0, 1.0, -1.0] {
                        candidates.push(candidate(way, step as f32, slide));
                    }
                }
            }
            if self.put_text(item, &candidates) {
                continue;
            }
            let stud = |side: Vec2, slide: f32| Candidate {
                anchor: *anchor,
                off: side * self.beside(side, STUD) + along * slide,
                leader: false,
            };
            let studs = [0.0, 12.0, -12.0, 24.0, -24.0].map(|s| [stud(side, s), stud(-side, s)]);
            self.put(item.key, STUD, Look::Stud(item.text.clone()), &studs.concat());
        }
    }

    fn works(&mut self, works: &[TextItem]) {
        for item in works {
            if !self.view.level.works(item) && !(self.view.told)(item.key) {
                continue;
            }
            let Some((anchor, _)) = item.anchors.first() else { continue };
            let Some((_, left)) = stand(self.view, *anchor) else { continue };
            let (along, below) = (left.rot90(), -upper(left));
            let pit = match item.key {
                Key::Work(id) => self.view.derived.special.specials.get(&id).and_then(|d| d.pit),
                _ => None,
            };
            let pit = pit.map_or(0.0, |(_, half_mm)| (half_mm * self.view.scale) as f32 + 4.0);
            let mut candidates = Vec::new();
            for step in 0..3 {
                for slide in [0.0, -0.7, 0.7, -1.4, 1.4] {
                    for side in [below, -below] {
                        let off = self.beside(side, item.size) + pit + step as f32 * 16.0;
                        candidates.push(Candidate {
                            anchor: *anchor,
                            off: side * off + along * slide * (reach(along, item.size) + 12.0),
                            leader: step > 0,
                        });
                    }
                }
            }
            self.put_text(item, &candidates);
        }
    }
}

/// How far a box reaches from its middle in a direction, points.
fn reach(way: Vec2, size: Vec2) -> f32 {
    (way.x.abs() * size.x + way.y.abs() * size.y) / 2.0
}

/// What was chosen, for the next scale.
pub fn choices(placed: &[Placed]) -> HashMap<Key, u16> {
    placed.iter().map(|placed| (placed.key, placed.choice)).collect()
}
