//! Track, gaps, feeders and special work on paper.

use super::super::Facts;
use super::labels::{Labels, Wanted};
use super::looks::Looks;
use crate::drawing::{self, Area, Face, Ink, Shape, Stroke, around};
use crate::layout::geometry::{Curve, Point, Pose, curve};
use crate::layout::{Layout, Rail, Rails, RunId, Special, TrackEnd, roads};
use crate::rails::Within;

/// From this distance of the rails on paper both are drawn, mm.
const BOTH_RAILS: f64 = 1.2;
/// Most gaps whose names stand beside their numbers on a plan that is fitted to a page.
const MOST_NAMED: usize = 16;
/// Half the length of a gap's bar, mm.
const BAR: f64 = 1.7;

/// Room above and below the track of a plan that is fitted to a page, mm.
const ROOM_FOR_NAMES: f64 = 24.0;

/// Place of the plan on paper.
#[derive(Debug, Clone, Copy)]
pub struct Place {
    /// What is drawn, mm on the layout: its left and lower edge, width and height.
    extent: Area,
    /// mm on paper per mm on the layout.
    per: f64,
    /// Left and upper margin, mm on paper.
    offset: (f64, f64),
    /// Size, mm on paper.
    size: (f64, f64),
}

impl Place {
    /// As large as it can be in a rectangle, mm.
    pub fn fitted(extent: &Area, wide: f64, tall: f64) -> Place {
        let edge = 9.0;
        let per = ((wide - 2.0 * edge) / extent.w.max(1.0))
            .min((tall - 2.0 * edge) / extent.h.max(1.0))
            .clamp(1e-6, 1.0);
        // Room for names above and below, if the page has it.
        let tall = (extent.h * per + 2.0 * ROOM_FOR_NAMES).max(24.0).min(tall.max(24.0));
        let offset = ((wide - extent.w * per) / 2.0, (tall - extent.h * per) / 2.0);
        Place { extent: *extent, per, offset, size: (wide, tall) }
    }

    /// To a scale, with room for names around it.
    pub fn to_scale(extent: &Area, scale: f64) -> Place {
        let (per, edge) = (1.0 / scale, 15.0);
        let size = (extent.w * per + 2.0 * edge, extent.h * per + 2.0 * edge);
        Place { extent: *extent, per, offset: (edge, edge), size }
    }

    /// The same, smaller by a factor.
    pub fn shrunk(&self, by: f64) -> Place {
        let scaled = |(a, b): (f64, f64)| (a * by, b * by);
        let (offset, size) = (scaled(self.offset), scaled(self.size));
        Place { extent: self.extent, per: self.per * by, offset, size }
    }

    /// Height on paper, mm.
    pub fn tall_mm(&self) -> f64 {
        self.size.1
    }

    /// Width on paper, mm.
    pub fn wide_mm(&self) -> f64 {
        self.size.0
    }

    /// All of it.
    pub fn whole(&self) -> Area {
        Area { x: 0.0, y: 0.0, w: self.size.0, h: self.size.1 }
    }

    /// The number behind "1:".
    pub fn scale(&self) -> f64 {
        1.0 / self.per
    }

    fn at(&self, (x, y): Point) -> (f64, f64) {
        let up = self.extent.y + self.extent.h - y;
        (self.offset.0 + (x - self.extent.x) * self.per, self.offset.1 + up * self.per)
    }
}

/// Which names are drawn besides those of gaps and blocks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Names {
    /// Those of feeders and special work, where there is room.
    WhereRoom,
    /// Also those of runs and joints.
    All,
    /// None at all.
    None,
}

/// The rectangle around all track, mm on the layout, y upwards; `None` without track.
pub fn extent(layout: &Layout) -> Option<Area> {
    let runs = layout.runs.values();
    let points = runs.flat_map(|run| {
        let curve = curve(layout, run);
        let poses = curve.outline(0.0, curve.length_mm(), 5.0);
        poses.into_iter().map(|pose| (pose.x_mm, pose.y_mm))
    });
    around(points)
}

/// A plan whose names are still to be placed.
pub struct Sketch {
    /// Track and marks, mm on paper from the upper left corner.
    pub shapes: Vec<Shape>,
    /// Straight parts of all track, for names to keep off.
    lines: Vec<[(f64, f64); 2]>,
    /// What else names keep off.
    marks: Vec<Area>,
    wanted: Vec<Wanted>,
}

/// Draws a plan without its names.
pub fn on_paper(facts: &Facts, looks: &Looks, place: &Place, names: Names) -> Sketch {
    let mut sheet =
        Sheet { facts, place, shapes: Vec::new(), lines: Vec::new(), marks: Vec::new() };
    for run in facts.layout.runs.values() {
        sheet.run(run.id, looks);
    }
    let mut wanted = Vec::new();
    if names != Names::None {
        // Where gaps crowd, their names stand in the cut list only.
        let bare = names == Names::WhereRoom && facts.layout.cuts.len() > MOST_NAMED;
        wanted.extend(sheet.cuts(bare));
        wanted.extend(sheet.blocks());
        wanted.extend(sheet.specials());
        wanted.extend(sheet.feeds());
    }
    if names == Names::All {
        wanted.extend(sheet.runs());
        wanted.extend(sheet.joints());
    }
    let Sheet { shapes, lines, marks, .. } = sheet;
    Sketch { shapes, lines, marks, wanted }
}

impl Sketch {
    /// The names of all that is within a window, placed within it, and how many found no room.
    pub fn names(&self, window: &Area) -> (Vec<Shape>, usize) {
        let near = |line: &&[(f64, f64); 2]| {
            around(line.iter().copied()).is_some_and(|bounds| bounds.meets(window))
        };
        let lines: Vec<[(f64, f64); 2]> = self.lines.iter().filter(near).copied().collect();
        let marks = self.marks.iter().filter(|mark| mark.meets(window)).copied().collect();
        let mut labels = Labels::new(&lines, *window, marks);
        let inside = |wanted: &&Wanted| {
            let (x, y) = wanted.at;
            window.meets(&Area { x, y, w: 0.0, h: 0.0 })
        };
        self.wanted.iter().filter(inside).for_each(|wanted| labels.place(wanted));
        (labels.shapes, labels.left_out)
    }
}

struct Sheet<'a> {
    facts: &'a Facts<'a>,
    place: &'a Place,
    shapes: Vec<Shape>,
    /// Straight parts of all track, for names to keep off.
    lines: Vec<[(f64, f64); 2]>,
    /// What else names keep off.
    marks: Vec<Area>,
}

impl Sheet<'_> {
    fn curve(&self, run: RunId) -> Option<Curve> {
        self.facts.layout.runs.get(&run).map(|run| curve(self.facts.layout, run))
    }

    /// A stretch, so many mm of the layout to the left of the centre line.
    fn outline(&self, curve: &Curve, from: f64, to: f64, left_mm: f64) -> Vec<(f64, f64)> {
        let poses = curve.outline(from, to, 0.04 / self.place.per);
        poses.iter().map(|pose| self.place.at(pose.left_by(left_mm))).collect()
    }

    fn run(&mut self, id: RunId, looks: &Looks) {
        let Some(curve) = self.curve(id) else { return };
        let gauge = self.facts.layout.gauge_mm;
        let near = gauge * self.place.per >= BOTH_RAILS;
        for piece in self.facts.view.plan.pieces_of(id) {
            let (from, to) = (piece.from_mm, piece.to_mm);
            let points = self.outline(&curve, from, to, 0.0);
            self.lines.extend(points.windows(2).map(|ends| [ends[0], ends[1]]));
            let stroke = match piece.within {
                Within::Block(block) => looks.stroke(block),
                Within::StaggerZone(_) | Within::Special(_) => Stroke::solid(0.35, Ink::GREY),
            };
            self.shapes.push(drawing::polyline(&points, stroke));
            if near {
                for left in [gauge / 2.0, -gauge / 2.0] {
                    let rail = self.outline(&curve, from, to, left);
                    self.lines.extend(rail.windows(2).map(|ends| [ends[0], ends[1]]));
                    let stroke = Stroke::solid(0.18, Ink::GREY);
                    self.shapes.push(drawing::polyline(&rail, stroke));
                }
            }
        }
    }

    /// A point at a distance to the left of a place, mm on paper.
    fn beside(&self, pose: &Pose, left: f64) -> (f64, f64) {
        let (x, y) = self.place.at((pose.x_mm, pose.y_mm));
        (x - pose.dy * left, y - pose.dx * left)
    }

    /// Draws every gap, and returns their names.
    fn cuts(&mut self, bare: bool) -> Vec<Wanted> {
        let mut wanted = Vec::new();
        let bar = BAR.max(self.facts.layout.gauge_mm * self.place.per * 0.5 + 0.8);
        for cut in self.facts.layout.cuts.values() {
            let Some(curve) = self.curve(cut.run) else { continue };
            let mut draw = |rail: Rail, at_mm: f64| {
                let pose = curve.at(at_mm);
                let side = if rail == Rail::Left { bar } else { -bar };
                let ends = [self.beside(&pose, side * 0.06), self.beside(&pose, side)];
                let white = Stroke::solid(1.3, Ink::WHITE);
                let ground = [self.beside(&pose, -side * 0.1), self.beside(&pose, side * 0.9)];
                self.shapes.push(drawing::polyline(&ground, white));
                self.shapes.push(drawing::polyline(&ends, Stroke::solid(0.5, Ink::BLACK)));
            };
            if cut.rails != Rails::Right {
                draw(Rail::Left, cut.at_mm);
            }
            if cut.rails != Rails::Left {
                draw(Rail::Right, cut.at_mm + cut.stagger_mm);
            }
            let pose = curve.at(cut.at_mm);
            let (x, y) = self.beside(&pose, 0.0);
            self.marks.push(Area { x: x - 1.0, y: y - 1.0, w: 2.0, h: 2.0 });
            wanted.push(Wanted {
                at: (x, y),
                words: if bare { cut.id.to_string() } else { self.facts.gap(cut.id) },
                size: 2.6,
                face: Face::Bold,
                can_wait: false,
            });
        }
        wanted
    }

    /// A name for each block: where its label stands, or in the middle of its longest piece.
    fn blocks(&self) -> Vec<Wanted> {
        let plan = &self.facts.view.plan;
        let mut wanted = Vec::new();
        for (at, block) in plan.blocks.iter().enumerate() {
            let label = block.labels.first().and_then(|id| self.facts.layout.labels.get(id));
            let pieces = block.pieces.iter().map(|&piece| &plan.pieces[piece]);
            let longest = pieces.max_by(|a, b| a.length_mm().total_cmp(&b.length_mm()));
            let spot = match (label, longest) {
                (Some(label), _) => (label.run, label.at_mm),
                (None, Some(piece)) => (piece.run, f64::midpoint(piece.from_mm, piece.to_mm)),
                (None, None) => continue,
            };
            let Some(curve) = self.curve(spot.0) else { continue };
            wanted.push(Wanted {
                at: self.beside(&curve.at(spot.1), 0.0),
                words: plan.block_name(self.facts.layout, at),
                size: 2.9,
                face: Face::Regular,
                can_wait: false,
            });
        }
        wanted
    }

    /// Draws a triangle for every feeder, and returns their names.
    fn feeds(&mut self) -> Vec<Wanted> {
        let mut wanted = Vec::new();
        for feed in self.facts.layout.feeds.values() {
            let Some(curve) = self.curve(feed.run) else { continue };
            let pose = curve.at(feed.at_mm);
            let tip = self.beside(&pose, -0.7);
            let (x, y) = self.beside(&pose, -2.2);
            let along = (pose.dx * 0.75, -pose.dy * 0.75);
            let points = [tip, (x + along.0, y + along.1), (x - along.0, y - along.1)];
            self.shapes.push(drawing::polygon(&points, None, Some(Ink::BLACK)));
            self.marks.push(Area { x: x - 0.9, y: y - 0.9, w: 1.8, h: 1.8 });
            wanted.push(small((x, y), feed.id.to_string()));
        }
        wanted
    }

    /// Draws a ring for all special work, and returns its names.
    fn specials(&mut self) -> Vec<Wanted> {
        let mut wanted = Vec::new();
        for special in self.facts.layout.specials.values() {
            let Some(at) = middle(self.facts.layout, special) else { continue };
            let (x, y) = self.place.at(at);
            let ring: Vec<(f64, f64)> = (0..16)
                .map(|n| f64::from(n) / 16.0 * std::f64::consts::TAU)
                .map(|turn| (x + 0.8 * turn.cos(), y + 0.8 * turn.sin()))
                .collect();
            let fine = Some(Stroke::solid(0.22, Ink::BLACK));
            self.shapes.push(drawing::polygon(&ring, fine, Some(Ink::WHITE)));
            self.marks.push(Area { x: x - 0.8, y: y - 0.8, w: 1.6, h: 1.6 });
            let name = special.name.trim();
            let words = if name.is_empty() { special.id.to_string() } else { name.to_owned() };
            wanted.push(small((x, y), words));
        }
        wanted
    }

    fn runs(&self) -> Vec<Wanted> {
        let mut wanted = Vec::new();
        for run in self.facts.layout.runs.values() {
            let curve = curve(self.facts.layout, run);
            let at = self.beside(&curve.at(curve.length_mm() * 0.4), 0.0);
            wanted.push(small(at, run.id.to_string()));
        }
        wanted
    }

    fn joints(&self) -> Vec<Wanted> {
        let joints = self.facts.layout.joints.values();
        let place = |x, y| self.place.at((x, y));
        joints.map(|j| small(place(j.x_mm, j.y_mm), j.id.to_string())).collect()
    }
}

fn small(at: (f64, f64), words: String) -> Wanted {
    Wanted { at, words, size: 2.1, face: Face::Regular, can_wait: true }
}

/// Places of special work, mm on the layout.
fn middle(layout: &Layout, special: &Special) -> Option<Point> {
    if let Some(bridge) = special.work.bridge() {
        let curve = curve(layout, layout.runs.get(&bridge)?);
        let pose = curve.at(curve.length_mm() / 2.0);
        return Some((pose.x_mm, pose.y_mm));
    }
    let end: TrackEnd = *special.work.ends().first()?;
    let joint = layout.joints.get(&roads::joint_of(layout, end)?)?;
    Some((joint.x_mm, joint.y_mm))
}
