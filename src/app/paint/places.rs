//! Where things stand on the screen.

use std::collections::BTreeMap;

use eframe::egui::{Pos2, Rect, Vec2, vec2};

use crate::app::camera::{Camera, World};
use crate::app::derived::Derived;
use crate::app::names::origin_name;
use crate::layout::geometry::Pose;
use crate::layout::{Cut, EntityId, Feed, FeedId, Label, Layout, RunId};

/// From this distance between the rails on, a run is drawn as two rails, points.
const NEAR: f64 = 9.0;

/// Size of a feed that has no room for its tag, points.
pub(super) const STUD: Vec2 = Vec2::new(9.0, 9.0);

/// Distance of a cut's mark from the track, points.
const BADGE_OFF: f32 = 19.0;

/// Where things stand on the screen.
#[derive(Clone, Copy)]
pub struct Places<'a> {
    /// From where one looks.
    pub camera: Camera,
    /// The canvas.
    pub canvas: Rect,
    /// The layout.
    pub layout: &'a Layout,
    /// Its geometry.
    pub derived: &'a Derived,
}

impl Places<'_> {
    /// Whether the two rails are told apart.
    pub fn near(&self) -> bool {
        self.layout.gauge_mm * self.camera.scale >= NEAR
    }

    pub(super) fn screen(&self, at: World) -> Pos2 {
        self.camera.to_screen(self.canvas, at)
    }

    pub(super) fn pose(&self, run: RunId, at_mm: f64) -> Option<Pose> {
        self.derived.curves.get(&run).map(|c| c.at(at_mm))
    }

    /// On the screen: the place, and the unit vector to the left of the run.
    pub(super) fn placed(&self, run: RunId, at_mm: f64) -> Option<(Pos2, Vec2)> {
        let pose = self.pose(run, at_mm)?;
        let left = vec2(-pose.dy as f32, -pose.dx as f32);
        Some((self.screen((pose.x_mm, pose.y_mm)), left))
    }

    pub(super) fn half_gauge(&self) -> f32 {
        if self.near() { (self.layout.gauge_mm * self.camera.scale / 2.0) as f32 } else { 0.0 }
    }

    /// Upwards on the screen, or to the left where the track is upright: the side of verdicts.
    pub(super) fn upper(left: Vec2) -> Vec2 {
        if left.y < -0.01 || (left.y.abs() <= 0.01 && left.x < 0.0) { left } else { -left }
    }

    /// A cut's place on the track and that of its mark.
    pub fn cut_places(&self, cut: &Cut) -> Option<(Pos2, Pos2)> {
        let (at, left) = self.placed(cut.run, cut.at_mm)?;
        Some((at, at + Self::upper(left) * (BADGE_OFF + self.half_gauge())))
    }

    /// How far from the track a box of this size stands clear of it, points.
    pub(super) fn clear_of_track(&self, left: Vec2, size: Vec2) -> f32 {
        let reach = (left.x.abs() * size.x + left.y.abs() * size.y) / 2.0;
        self.half_gauge() + reach + 9.0
    }

    /// The tags of the feeds in view. Where two would lie on each other, the later one stands farther from the track, or
    /// is a stud without words.
    pub fn feed_tags(&self) -> BTreeMap<FeedId, Rect> {
        // With very many in view nobody reads them, and looking each up against each would take long.
        const MOST: usize = 150;
        let view = self.canvas.expand(80.0);
        let mut tags: BTreeMap<FeedId, Rect> = BTreeMap::new();
        for feed in self.layout.feeds.values() {
            let Some((at, left)) = self.placed(feed.run, feed.at_mm) else { continue };
            if !view.contains(at) {
                continue;
            }
            let letters = tag_words(self.layout, feed).chars().count();
            let size = vec2(16.0 + 6.9 * letters as f32, 19.0);
            let away = -Self::upper(left);
            let first = self.clear_of_track(left, size) + 12.0;
            let tag = |step: f32| Rect::from_center_size(at + away * (first + step * 23.0), size);
            let free = |rect: &Rect| !tags.values().any(|t| t.expand(2.0).intersects(*rect));
            // Where there is no room it shrinks to a stud beside the track.
            let stud = Rect::from_center_size(at + away * (self.half_gauge() + 9.0), STUD);
            let places = [0.0, 1.0, 2.0].map(tag).into_iter();
            let rect = places.filter(|_| tags.len() < MOST).find(free).unwrap_or(stud);
            tags.insert(feed.id, rect);
        }
        tags
    }

    /// The place of a block's name.
    pub fn label_place(&self, label: &Label) -> Option<Pos2> {
        let (at, left) = self.placed(label.run, label.at_mm)?;
        Some(at + Self::upper(left) * (BADGE_OFF + self.half_gauge()))
    }

    /// Where an entity is to be pointed at.
    pub fn node_place(&self, tags: &BTreeMap<FeedId, Rect>, id: EntityId) -> Option<Pos2> {
        match id {
            EntityId::Cut(c) => self.cut_places(self.layout.cuts.get(&c)?).map(|p| p.0),
            EntityId::Feed(f) => tags.get(&f).map(|r| r.center()),
            other => self.derived.place(self.layout, other).map(|at| self.screen(at)),
        }
    }
}

/// What stands on a feed's tag.
pub(super) fn tag_words(layout: &Layout, feed: &Feed) -> String {
    let name = origin_name(layout, feed.driver);
    if name.chars().count() <= 20 {
        return name;
    }
    name.chars().take(19).chain(std::iter::once('…')).collect()
}
