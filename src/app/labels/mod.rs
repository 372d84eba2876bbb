//! Labels of the plan: verdict marks, names of blocks, cuts and special work, tags of feeds.
//!
//! [`collect`] gathers what is labelled once per change of the layout or its report, [`place`] gives each label a place
//! once per scale, and a frame only draws. No label lies on a label, a mark or track.

mod collect;
mod ground;
mod groups;
mod level;
mod paint;
mod place;

use std::collections::{BTreeMap, HashMap};

use eframe::egui::{FontId, Pos2, Rect, Ui, Vec2};

use super::App;
use super::camera::World;
use super::paint::Places;
use super::theme::bold;
use crate::findings::{FindingId, Verdict};
use crate::layout::{CutId, EntityId, FeedId};
use crate::rails::BlockId;

pub use collect::{About, Anchor, BlockItem, Key};
pub use level::Level;
pub use place::{Look, Placed};

use collect::{Items, Measured};

/// Faces of labels.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Face {
    /// Names of cuts and tags.
    Plain,
    /// Names of blocks and special work.
    Bold,
}

impl Face {
    /// Its font, so much larger than usual.
    pub fn font(self, factor: f32) -> FontId {
        match self {
            Face::Plain => FontId::proportional(12.0 * factor),
            Face::Bold => FontId::new(12.5 * factor, bold()),
        }
    }
}

/// What placing was done for.
#[derive(Debug, Clone, PartialEq)]
struct Done {
    revision: u64,
    report: u64,
    scale: u64,
    factor: u32,
    selection: Vec<EntityId>,
    open: Option<FindingId>,
}

/// The labels of the layout on the screen.
#[derive(Debug, Default)]
pub struct Labels {
    items: Items,
    measured: Measured,
    placed: Vec<Placed>,
    choices: HashMap<Key, u16>,
    done: Option<Done>,
}

/// Concerned cuts of an open finding that get a mark of their own; a rule may concern every cut of a club.
const MOST_SHOWN: usize = 24;

impl Labels {
    /// Every label with its place.
    pub fn placed(&self) -> &[Placed] {
        &self.placed
    }

    /// What is known of a named block.
    pub fn block(&self, id: BlockId) -> Option<BlockItem> {
        self.items.about_blocks.get(&id).copied()
    }

    /// Boxes of the tags on the screen.
    pub fn tags(&self, places: &Places<'_>) -> BTreeMap<FeedId, Rect> {
        let tags = self.placed.iter().filter_map(|placed| match placed.key {
            Key::Tag(feed) => Some((feed, placed.on_screen(places)?)),
            _ => None,
        });
        tags.collect()
    }

    /// The label under the pointer.
    pub fn at(&self, places: &Places<'_>, at: Pos2) -> Option<&Placed> {
        let near = |placed: &&Placed| {
            placed.on_screen(places).is_some_and(|rect| rect.expand(2.0).contains(at))
        };
        // A mark comes before a name.
        self.placed.iter().find(near)
    }
}

impl Placed {
    /// Its box on the screen.
    pub fn on_screen(&self, places: &Places<'_>) -> Option<Rect> {
        let (at, _) = places.anchored(self.key, self.anchor)?;
        Some(Rect::from_center_size(at + self.off, self.size))
    }

    /// The cuts of a mark that stands for several.
    pub fn crowd(&self) -> Option<&[CutId]> {
        match &self.look {
            Look::Marks(cuts, _) => Some(cuts),
            _ => None,
        }
    }
}

impl Places<'_> {
    /// The place of a label's anchor on the screen, and the unit vector to the left of the track there. What is being
    /// dragged takes its labels along.
    pub fn anchored(&self, key: Key, anchor: Anchor) -> Option<(Pos2, Vec2)> {
        let on = |run, at_mm| self.placed(run, at_mm);
        match (key, anchor) {
            (Key::Tag(id), _) => {
                self.layout.feeds.get(&id).and_then(|feed| on(feed.run, feed.at_mm))
            }
            (Key::Mark(id) | Key::Cut(id), Anchor::On(run, at_mm)) => {
                match self.layout.cuts.get(&id) {
                    Some(cut) if cut.run == run => on(run, cut.at_mm),
                    // The anchor of a crowd is that of its worst, not of its first.
                    _ => on(run, at_mm),
                }
            }
            (_, Anchor::On(run, at_mm)) => on(run, at_mm),
            (_, Anchor::At(place, (x, y))) => {
                Some((self.screen(place), Vec2::new(x as f32, -y as f32)))
            }
        }
    }
}

impl App {
    /// How much the plan shows.
    pub(super) fn level(&self) -> Level {
        Level::at(self.doc.layout().gauge_mm * self.camera.scale)
    }

    /// Places the labels, if anything changed that they depend on.
    pub(super) fn place_labels(&mut self, ui: &Ui) {
        let shown = self.shown_cuts();
        let done = Done {
            revision: self.doc.revision(),
            report: self.check.latest.revision,
            scale: self.camera.scale.to_bits(),
            factor: self.label_factor().to_bits(),
            selection: self.selection.clone(),
            open: self.open_finding.clone(),
        };
        let before = self.labels.done.as_ref();
        if before == Some(&done) {
            return;
        }
        let factor = self.label_factor();
        let was = |b: &Done| (b.revision, b.report, b.factor);
        if before.map(was) != Some(was(&done)) {
            if before.is_some_and(|b| b.factor != done.factor) {
                self.labels.measured = Measured::default();
            }
            let about = About {
                layout: self.doc.layout(),
                derived: &self.derived,
                report: &self.check.latest.report,
                tally: &self.check.latest.tally,
            };
            let measure = |text: &str, face: Face| {
                let font = face.font(factor);
                ui.painter().layout_no_wrap(text.to_owned(), font, Default::default()).size()
            };
            self.labels.items = collect::collect(&about, &mut self.labels.measured, &measure);
        }
        let selection = &self.selection;
        let told = |key: Key| key.entity().is_some_and(|id| selection.contains(&id));
        let view = place::View {
            derived: &self.derived,
            scale: self.camera.scale,
            level: self.level(),
            factor,
            half_track: self.half_track(),
            shown: &shown,
            told: &told,
        };
        let placed = place::place(&self.labels.items, &view, &self.labels.choices);
        self.labels.choices = place::choices(&placed);
        self.labels.placed = placed;
        self.labels.done = Some(done);
    }

    /// True over words that name something larger than their place: pulling them moves no track.
    pub(super) fn holds_words(&self, at: Pos2) -> bool {
        let placed = self.labels.at(&self.places(), at);
        placed.is_some_and(|placed| match placed.key {
            Key::Block(block) => self.labels.block(block).is_none_or(|about| about.label.is_none()),
            Key::Work(_) => true,
            Key::Mark(_) => placed.crowd().is_some(),
            Key::Cut(_) | Key::Tag(_) => false,
        })
    }

    /// Words and boxes of all labels as they are drawn, in view or not: for tests.
    pub fn labels_on_screen(&self) -> Vec<(String, Rect)> {
        let places = self.places();
        let words = |placed: &Placed| match &placed.look {
            Look::Text(text) | Look::Stud(text) => text.clone(),
            Look::Mark(_) => format!("mark {:?}", placed.key),
            Look::Marks(cuts, _) => self.crowd_words(cuts),
        };
        let placed = self.labels.placed.iter();
        placed.filter_map(|p| Some((words(p), p.on_screen(&places)?))).collect()
    }

    /// Lines of track as they are drawn, and their thickness, points: for tests.
    pub fn track_on_screen(&self) -> (Vec<Vec<Pos2>>, f32) {
        let places = self.places();
        let half_mm = self.doc.layout().gauge_mm / 2.0;
        let (offs, thick) = match self.level() {
            Level::Near => (vec![half_mm, -half_mm], super::theme::RAIL_LINE),
            _ => (vec![0.0], self.run_line()),
        };
        let line = |curve: &crate::layout::geometry::Curve, off: f64| {
            let outline = curve.outline(0.0, curve.length_mm(), 0.1);
            outline.iter().map(|pose| places.screen(pose.left_by(off))).collect()
        };
        let curves = self.derived.curves.values();
        (curves.flat_map(|c| offs.iter().map(move |off| line(c, *off))).collect(), thick)
    }

    /// Where things are on the screen.
    pub(super) fn places(&self) -> Places<'_> {
        Places {
            camera: self.camera,
            canvas: self.canvas,
            layout: self.doc.layout(),
            derived: &self.derived,
        }
    }

    /// Cuts that have a mark of their own at every distance.
    fn shown_cuts(&self) -> Vec<CutId> {
        let selected = self.selection.iter().filter_map(|id| match id {
            EntityId::Cut(cut) => Some(*cut),
            _ => None,
        });
        let open = super::findings::opened(self).map(|finding| finding.cuts()).unwrap_or_default();
        selected.chain(open).take(MOST_SHOWN).collect()
    }

    /// Thickness of a run drawn as one line, points.
    fn run_line(&self) -> f32 {
        super::theme::RUN_LINE * self.label_factor().min(2.0)
    }

    /// Width of track as it is drawn, from its middle, points: sleepers and signs of polarity near, joints and points
    /// from afar.
    fn half_track(&self) -> f32 {
        let gauge = self.doc.layout().gauge_mm * self.camera.scale;
        match self.level() {
            Level::Near => (gauge * 0.85).max(gauge / 2.0 + 13.0) as f32,
            Level::Middle(_) => 4.0 + self.run_line() / 2.0,
            Level::Far => 2.0 + self.run_line() / 2.0,
        }
    }

    /// The corners of the plan with its labels at the scale now, mm: track alone says nothing of the names beside it.
    pub(super) fn label_overhang(&self, low: World, high: World) -> [f32; 4] {
        let scale = self.camera.scale;
        let mut over = [0.0_f32; 4];
        for placed in &self.labels.placed {
            let place = match placed.anchor {
                Anchor::At(place, _) => Some(place),
                Anchor::On(run, at_mm) => {
                    let pose = self.derived.curves.get(&run).map(|curve| curve.at(at_mm));
                    pose.map(|pose| (pose.x_mm, pose.y_mm))
                }
            };
            let Some((x, y)) = place else { continue };
            let half = placed.size / 2.0;
            let beyond = |from_edge_mm: f64, reach: f32| reach - (from_edge_mm * scale) as f32;
            let each = [
                beyond(x - low.0, half.x - placed.off.x),
                beyond(high.1 - y, half.y - placed.off.y),
                beyond(high.0 - x, half.x + placed.off.x),
                beyond(y - low.1, half.y + placed.off.y),
            ];
            for (over, by) in over.iter_mut().zip(each) {
                *over = over.max(by);
            }
        }
        over
    }

    /// What a crowd of marks stands for, in words: "3 gaps: 1 short, 2 cautions".
    pub(super) fn crowd_words(&self, cuts: &[CutId]) -> String {
        let mut counts: BTreeMap<Verdict, usize> = BTreeMap::new();
        let mut not_judged = 0;
        for cut in cuts {
            match self.check.latest.tally.standing(*cut) {
                Some(crate::report::Standing::Judged(verdict)) => {
                    *counts.entry(verdict).or_default() += 1;
                }
                _ => not_judged += 1,
            }
        }
        let mut parts: Vec<String> = counts
            .into_iter()
            .rev()
            .map(|(verdict, n)| crate::report::counted(verdict, n))
            .collect();
        if not_judged > 0 {
            parts.push(format!("{not_judged} not judged"));
        }
        format!("{} gaps: {}", cuts.len(), parts.join(", "))
    }

    /// Shows a crowd of gaps so near that their marks part.
    pub(super) fn show_crowd(&mut self, cuts: &[CutId]) {
        let layout = self.doc.layout();
        let places = cuts.iter().filter_map(|cut| self.derived.place(layout, (*cut).into()));
        let Some((low, high)) = super::derived::Derived::hull(places.map(|at| (at, at))) else {
            return;
        };
        let nearer = self.camera.scale * 1.6;
        self.camera.fit(self.canvas, low, high);
        self.camera.scale = self.camera.scale.max(nearer).min(super::camera::MAX_SCALE);
    }
}
