//! Requests of the Review view, and the one place that carries them out.

use eframe::egui::Context;

use super::super::App;
use super::super::cures::Command as Cures;
use super::{By, FORGET, Noting, cure, model};
use crate::findings::FindingId;
use crate::layout::edit::Edit;
use crate::layout::{DecisionId, EntityId};

/// Distance that a key scrolls, as a share of the window.
const SCROLL: f32 = 0.4;

/// A wish of the view.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Command {
    /// Show the finding that is so many farther on.
    Step(isize),
    /// Scroll the words by a share of the window, up if positive.
    Scroll(f32),
    /// Show the first.
    First,
    /// Show the last.
    Last,
    /// Show one finding.
    Show(FindingId),
    /// Put them in another order.
    By(By),
    /// Show the list of all findings, or one of them again.
    Overview,
    /// Open the form of the decision on the finding that is shown.
    Note,
    /// Show a finding and open the form of its decision.
    NoteOn(FindingId),
    /// Open the form of a decision without a finding.
    NotePast(DecisionId),
    /// Show the layout before and after the cure.
    BeforeAndAfter,
    /// Show the finding's gap in the Gap view; closed, that leads back here.
    Gap,
    /// Go back to the plan, at this place.
    Leave,
    /// Take decisions away.
    Forget(Vec<DecisionId>),
}

/// Carries out a request.
pub(super) fn carry_out(app: &mut App, ctx: &Context, command: Command) {
    app.review.said = "";
    match command {
        Command::Step(by) => step(app, by),
        Command::Scroll(by) => app.review.scroll += by * SCROLL * app.window_points,
        Command::First => to_end(app, false),
        Command::Last => to_end(app, true),
        Command::Show(id) => {
            app.review.overview = false;
            app.review_at(Some(id));
        }
        Command::By(by) => {
            app.review.by = by;
            let shown = app.open_finding.clone();
            app.review_at(shown);
        }
        Command::Overview => {
            app.review.overview = !app.review.overview;
            app.review.to_current = app.review.overview;
        }
        Command::Note => {
            app.review.noting = super::super::findings::opened(app).map(|_| Noting::Finding);
        }
        Command::NoteOn(id) => {
            app.review.overview = false;
            app.review_at(Some(id));
            app.review.noting = Some(Noting::Finding);
        }
        Command::NotePast(id) => app.review.noting = Some(Noting::Past(id)),
        Command::BeforeAndAfter => match cure::plan(app) {
            Some(plan) => app.cure(vec![Cures::Try(plan)]),
            None if app.review.cure == cure::Cure::Searching => {
                app.review.said = "Cures are still looked for.";
            }
            None => app.review.said = "There is no cure to compare.",
        },
        Command::Gap => {
            let finding = super::super::findings::opened(app);
            match finding.and_then(|finding| finding.cuts().first().copied()) {
                Some(cut) => app.look_at_gap(cut),
                None => app.review.said = "This finding is at no gap.",
            }
        }
        Command::Leave => app.leave_review(),
        Command::Forget(ids) => {
            app.edit(FORGET, Edit::Delete(ids.into_iter().map(EntityId::from).collect()));
        }
    }
    ctx.request_repaint();
}

fn step(app: &mut App, by: isize) {
    let order = model::order(app, app.review.by);
    let last = order.len().saturating_sub(1);
    let at = model::position(app, &order).unwrap_or(0);
    // It stops at the ends, so that a room knows when it has seen all.
    let next = at.saturating_add_signed(by).min(last);
    if next == at {
        app.review.said =
            if by > 0 { "That was the last finding." } else { "This is the first finding." };
        return;
    }
    show(app, order[next]);
}

fn to_end(app: &mut App, last: bool) {
    let order = model::order(app, app.review.by);
    let n = if last { order.last() } else { order.first() };
    if let Some(&n) = n {
        app.review.overview = false;
        show(app, n);
    }
}

fn show(app: &mut App, n: usize) {
    let id = app.check.latest.report.findings.get(n).map(crate::findings::Finding::id);
    app.review_at(id);
}
