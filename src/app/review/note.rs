//! The form of a decision.

use eframe::egui::{Context, Frame, Id, Modal};

use super::super::App;
use super::super::form::Form;
use super::super::theme::{SPACE, heading, room, small};
use super::NOTE;
use super::large::lineup_name;
use super::model;
use crate::layout::edit::Edit;
use crate::layout::{Decided, LineupId, capital};

/// The form, while it is open. What is typed is part of the layout at once.
pub(super) fn note_ui(ctx: &Context, app: &mut App) {
    if !app.review.noting {
        return;
    }
    let Some((mut decision, is_new)) = model::decision_to_change(app) else {
        app.review.noting = false;
        return;
    };
    let lineups: Vec<(Option<LineupId>, String)> = std::iter::once((None, "as set now".to_owned()))
        .chain(app.doc.layout().lineups.values().map(|l| (Some(l.id), lineup_name(l))))
        .collect();
    let states = Decided::ALL.map(|state| (state, capital(state.word())));
    let mut close = false;
    let frame = Frame::window(&ctx.global_style()).inner_margin(18);
    let modal = Modal::new(Id::unique("decision")).frame(frame).show(ctx, |ui| {
        ui.set_width(room(ui.ctx(), 560.0, 0.0).x);
        ui.label(heading("Decision"));
        ui.label(small(ui, &decision.said));
        ui.add_space(SPACE);
        let mut form = Form::new(ui, "Decision");
        form.choice("State", &mut decision.state, &states);
        let text =
            form.text("Decided", &mut decision.decision, "such as \"exchange the wires of f7\"");
        form.text("Owner", &mut decision.owner, "who sees to it");
        form.text("Date", &mut decision.date, "such as 2026-12-01");
        if lineups.len() > 1 {
            form.choice("Looked at in", &mut decision.lineup, &lineups);
        }
        form.notes("Notes", &mut decision.notes);
        let changed = form.changed;
        if ui.memory(|m| m.focused().is_none()) {
            text.request_focus();
        }
        ui.add_space(SPACE);
        ui.horizontal(|ui| {
            close = ui.button("Close").on_hover_text("Escape").clicked();
            ui.label(small(ui, "It is saved with the layout. Undo takes it back."));
        });
        changed
    });
    if let Some(changed) = modal.inner {
        let edit = if is_new { Edit::Add(decision.into()) } else { Edit::Replace(decision.into()) };
        app.edit_field(NOTE, edit, changed.flowing.then_some(changed.field));
    }
    if close || modal.should_close() {
        app.review.noting = false;
    }
}
