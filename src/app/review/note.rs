//! The form of a decision.

use eframe::egui::{Context, Frame, Id, Modal, ScrollArea, Ui};

use super::super::App;
use super::super::form::{Changed, Form};
use super::super::theme::{SPACE, heading, room, small, strong};
use super::commands::{self, Command};
use super::large::lineup_name;
use super::{NOTE, Noting, model};
use crate::findings::about_words;
use crate::layout::edit::Edit;
use crate::layout::{Decided, Decision, LineupId, capital};

/// Result of a frame of the form.
#[derive(Default)]
struct Done {
    changed: Option<Changed>,
    close: bool,
    forget: bool,
    /// True if it is decided anew, on the ground of now.
    anew: bool,
}

/// The form, while it is open. What is typed is part of the layout at once.
pub(super) fn note_ui(ctx: &Context, app: &mut App) {
    let Some(noting) = app.review.noting else { return };
    let Some((before, is_new)) = model::decision_to_change(app, noting) else {
        app.review.noting = None;
        return;
    };
    let mut decision = before.clone();
    let lineups: Vec<(Option<LineupId>, String)> = std::iter::once((None, "as set now".to_owned()))
        .chain(app.doc.layout().lineups.values().map(|l| (Some(l.id), lineup_name(l))))
        .collect();
    let again = match noting {
        Noting::Finding => model::again_words(app, &before),
        Noting::Past(_) => None,
    };
    let frame = Frame::window(&ctx.global_style()).inner_margin(18);
    let modal = Modal::new(Id::unique("decision")).frame(frame).show(ctx, |ui| {
        ui.set_width(room(ui.ctx(), 560.0, 0.0).x);
        let height = ui.ctx().content_rect().height() - 120.0;
        // Each decision has fields of its own: what was typed for another is not taken back in this one.
        let salt = (decision.finding.clone(), noting == Noting::Finding);
        ScrollArea::vertical()
            .max_height(height)
            .show(ui, |ui| ui.push_id(salt, |ui| form_ui(ui, &mut decision, &lineups, again)).inner)
            .inner
    });
    let Done { changed, close, forget, anew } = modal.inner;
    if forget && !is_new {
        commands::carry_out(app, ctx, Command::Forget(vec![decision.id]));
    } else if anew || changed.is_some() {
        let decided = |d: &Decision| (d.state, d.decision.clone());
        if noting == Noting::Finding && (anew || decided(&decision) != decided(&before)) {
            decision = model::on_ground_of_now(app, decision);
        }
        let field = changed.filter(|changed| changed.flowing && !anew).map(|changed| changed.field);
        let edit = if is_new { Edit::Add(decision.into()) } else { Edit::Replace(decision.into()) };
        app.edit_field(NOTE, edit, field);
    }
    if close || forget || modal.should_close() {
        app.review.noting = None;
    }
}

fn form_ui(
    ui: &mut Ui,
    decision: &mut Decision,
    lineups: &[(Option<LineupId>, String)],
    again: Option<String>,
) -> Done {
    let mut done = Done::default();
    ui.label(heading("Decision"));
    ui.label(small(ui, about_words(decision)));
    if let Some(again) = again {
        ui.horizontal_wrapped(|ui| {
            ui.label(strong(again));
            let holds = ui.button("It holds all the same");
            done.anew = holds.on_hover_text("The decision stands on the ground of now").clicked();
        });
    }
    ui.add_space(SPACE);
    let states = Decided::ALL.map(|state| (state, capital(state.word())));
    let mut form = Form::new(ui, "Decision");
    form.choice("State", &mut decision.state, &states);
    let text = form.text("Decided", &mut decision.decision, "such as \"exchange the wires of f7\"");
    form.text("Owner", &mut decision.owner, "who sees to it");
    form.text("Date", &mut decision.date, "such as 2026-12-01");
    if lineups.len() > 1 {
        form.choice("Looked at in", &mut decision.lineup, lineups);
    }
    form.notes("Notes", &mut decision.notes);
    done.changed = form.changed;
    if ui.memory(|m| m.focused().is_none()) {
        text.request_focus();
    }
    ui.add_space(SPACE);
    ui.horizontal_wrapped(|ui| {
        done.close = ui.button("Close").on_hover_text("Escape").clicked();
        done.forget = ui.button("Forget it").on_hover_text("One step of undo").clicked();
        ui.label(small(ui, "It is part of the layout: Ctrl+S saves it, Undo takes it back."));
    });
    done
}
