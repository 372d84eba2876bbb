//! Where things stand on the screen.

use std::collections::BTreeMap;

use eframe::egui::{Pos2, Rect, Vec2, vec2};

use crate::app::camera::{Camera, World};
use crate::app::derived::Derived;
use crate::app::labels::Level;
use crate::layout::geometry::Pose;
use crate::layout::{EntityId, FeedId, Layout, RunId};

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
        self.level() == Level::Near
    }

    /// How much is shown.
    pub fn level(&self) -> Level {
        Level::at(self.layout.gauge_mm * self.camera.scale)
    }

    pub fn screen(&self, at: World) -> Pos2 {
        self.camera.to_screen(self.canvas, at)
    }

    pub(super) fn pose(&self, run: RunId, at_mm: f64) -> Option<Pose> {
        self.derived.curves.get(&run).map(|c| c.at(at_mm))
    }

    /// On the screen: the place, and the unit vector to the left of the run.
    pub fn placed(&self, run: RunId, at_mm: f64) -> Option<(Pos2, Vec2)> {
        let pose = self.pose(run, at_mm)?;
        let left = vec2(-pose.dy as f32, -pose.dx as f32);
        Some((self.screen((pose.x_mm, pose.y_mm)), left))
    }

    pub fn half_gauge(&self) -> f32 {
        if self.near() { (self.layout.gauge_mm * self.camera.scale / 2.0) as f32 } else { 0.0 }
    }

    /// Where an entity is to be pointed at.
    pub fn node_place(&self, tags: &BTreeMap<FeedId, Rect>, id: EntityId) -> Option<Pos2> {
        match id {
            EntityId::Feed(f) => tags.get(&f).map(|r| r.center()),
            other => self.derived.place(self.layout, other).map(|at| self.screen(at)),
        }
    }
}
