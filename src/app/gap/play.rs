//! Play: what stands at the gap rolls over it at its speed, the way the rails drive it.

use eframe::egui::{Context, Ui};

use super::super::App;
use super::super::theme::{small, strong};
use super::Standing;
use super::commands::Command;
use super::model::Model;
use super::scene::Scene;
use crate::report::Units;

/// Longest time that one frame may stand for, s: a window that was busy makes the train jump no farther.
const LONGEST_FRAME_S: f64 = 0.5;

/// A train that rolls.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Play {
    /// The window's time at the last frame, s.
    last_s: f64,
}

/// Its speed, mm/s: the least or the largest at which it passes gaps, with a sign for the way that the rails drive it.
fn speed_mm_s(scene: &Scene, fast: bool) -> f64 {
    let (slow, quick) = scene.gap.speed_mm_s(scene.stance.who);
    let back = scene.passing.as_ref().is_some_and(|passing| !passing.along);
    let speed = if fast { quick } else { slow };
    if back { -speed } else { speed }
}

impl App {
    /// True if the Gap view is shown and no control in it has the focus, so that its keys are free.
    pub(in crate::app) fn gap_by_key(&self) -> bool {
        let free = self.focus_before.is_none_or(|id| id == super::stage::stage_id());
        self.gap.shown && self.gap.scene.is_some() && free
    }

    /// Lets what stands at the gap roll, or stops it where it is. From the end it begins anew.
    pub(in crate::app) fn play_or_pause_at_gap(&mut self, ctx: &Context) {
        let view = &mut self.gap;
        if view.play.take().is_some() {
            return;
        }
        let Some(scene) = &view.scene else { return };
        let (least, most) = scene.gap.reach_mm(scene.stance.who);
        let speed = speed_mm_s(scene, view.fast);
        let mut standing = scene.standing();
        if speed > 0.0 && standing.lead_mm >= most {
            standing.lead_mm = least;
        } else if speed < 0.0 && standing.lead_mm <= least {
            standing.lead_mm = most;
        }
        view.standing = Some(standing);
        view.play = Some(Play { last_s: ctx.input(|i| i.time) });
    }

    /// Moves what stands at the gap to where its wheels join something else: on, or back.
    pub(in crate::app) fn step_at_gap(&mut self, ahead: bool) {
        let view = &mut self.gap;
        view.play = None;
        let Some(scene) = &view.scene else { return };
        let lead_mm = scene.gap.next_change_mm(&scene.stance, ahead);
        view.standing = Some(Standing { lead_mm, ..scene.standing() });
    }
}

/// Lets it roll as far as the window's clock has gone on.
pub(super) fn update(app: &mut App, ctx: &Context) {
    let view = &mut app.gap;
    let Some(play) = &mut view.play else { return };
    let Some(scene) = &view.scene else {
        view.play = None;
        return;
    };
    let now_s = ctx.input(|i| i.time);
    let passed_s = (now_s - play.last_s).clamp(0.0, LONGEST_FRAME_S);
    play.last_s = now_s;
    let (least, most) = scene.gap.reach_mm(scene.stance.who);
    let speed = speed_mm_s(scene, view.fast);
    let to_mm = scene.stance.lead_mm + speed * passed_s;
    view.standing = Some(Standing { lead_mm: to_mm.clamp(least, most), ..scene.standing() });
    if speed == 0.0 || to_mm <= least || to_mm >= most {
        view.play = None;
    } else {
        ctx.request_repaint();
    }
}

/// The buttons that let it roll and step.
pub(super) fn play_ui(ui: &mut Ui, model: &Model, scene: &Scene, commands: &mut Vec<Command>) {
    let words = if model.view.play.is_some() { "Pause" } else { "Play" };
    let tip = "Rolls it over the gap at its speed, the way the rails drive it, or stops it (Space, while no control is in use)";
    if ui.button(strong(words)).on_hover_text(tip).clicked() {
        commands.push(Command::Play);
    }
    let (slow, quick) = scene.gap.speed_mm_s(scene.stance.who);
    if slow == quick {
        ui.label(small(ui, per_s(model.units, slow)));
        return;
    }
    for (fast, speed, tip) in [
        (false, slow, "The least speed at which it passes gaps"),
        (true, quick, "The largest speed at which it passes gaps"),
    ] {
        let chosen = model.view.fast == fast;
        let label = ui.selectable_label(chosen, per_s(model.units, speed)).on_hover_text(tip);
        if label.clicked() && !chosen {
            commands.push(Command::Fast(fast));
        }
    }
}

/// A speed in words.
fn per_s(units: Units, speed_mm_s: f64) -> String {
    format!("{}/s", units.mm(speed_mm_s))
}
