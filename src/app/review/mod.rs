//! The Review view: for a room with a projector, one finding at a time, large: where, what happens, the number, the cure,
//! and what the club decides. Nothing on the plan is edited here; decisions are, once one opens their form.
//!
//! The view is a function of a borrowed [`model::Model`] that returns [`Command`]s; only `commands.rs` changes the window.

mod commands;
mod cure;
mod large;
mod lineup;
mod look;
mod model;
mod note;
mod overview;
mod shell;

use std::rc::Rc;

use eframe::egui::{Key, Modifiers, Ui, Vec2};

use super::App;
use crate::findings::{Decisions, Finding, FindingId};
use crate::layout::DecisionId;
use commands::Command;

/// State of the Review view.
#[derive(Default)]
pub struct View {
    /// True while it is shown in place of the plan.
    pub shown: bool,
    /// True while all findings are listed instead of one.
    overview: bool,
    by: By,
    /// The form of a decision, if it is open.
    noting: Option<Noting>,
    /// The decisions with their findings.
    decided: Known,
    /// Message of the bar about the last step.
    said: &'static str,
    /// True if the list of all is to scroll to the finding that is shown.
    to_current: bool,
    /// Size of the window for which the plan was set to the finding.
    window: Vec2,
    /// The cure of the finding that is shown.
    cure: cure::Cure,
    /// Number of frames for which the plan is still set to the finding: until it has its size beside the words.
    look: u8,
    /// Distance to scroll the words, points.
    scroll: f32,
    /// Findings in the lineup that was chosen for it.
    lineup: lineup::InLineup,
}

/// The decision whose form is open.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Noting {
    /// That on the finding that is shown, whether there is one or not.
    Finding,
    /// One without a finding.
    Past(DecisionId),
}

/// The decisions with their findings, of one layout and one report.
#[derive(Debug, Default)]
struct Known {
    about: (u64, u64),
    decisions: Rc<Decisions>,
}

/// Order of the findings.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum By {
    /// As the list of findings: faults, rules, notes; the worst first.
    #[default]
    Weight,
    /// The block that they are in.
    Block,
    /// The owner of the decision.
    Owner,
    /// The state of the decision: open ones first.
    State,
}

impl View {
    /// True while a form is open, so that keys belong to it.
    pub fn is_asking(&self) -> bool {
        self.shown && self.noting.is_some()
    }
}

/// The name of the step of the history that a decision is.
const NOTE: &str = "note a decision";
/// The same for those that are taken away.
const FORGET: &str = "forget a decision";

impl App {
    /// Shows the Review view, or the plan again at the place of the finding that was reviewed.
    pub(super) fn review_or_plan(&mut self) {
        if self.review.shown {
            return self.leave_review();
        }
        if self.presenting {
            self.present(false);
        }
        self.gap.shown = false;
        self.drag = None;
        self.tools.take_up(super::tools::Tool::Select);
        self.review.shown = true;
        self.review.overview = false;
        self.review_at(self.open_finding.clone());
    }

    /// Closes what is open on top: the list of all findings goes back to one of them, and that to the plan.
    pub(super) fn close_in_review(&mut self) {
        if self.review.overview && self.open_finding.is_some() {
            self.review.overview = false;
        } else {
            self.leave_review();
        }
    }

    /// Goes back to the plan, with the finding that was reviewed open there.
    fn leave_review(&mut self) {
        self.review.shown = false;
        self.review.noting = None;
        self.show_tab(super::Tab::Findings);
        self.listed.scroll_to_open();
        let report = std::sync::Arc::clone(&self.check.latest);
        if let Some(finding) =
            super::findings::opened_at(self).and_then(|n| report.report.findings.get(n))
        {
            super::findings::show_place(self, finding);
            // Until the panels beside the plan have their sizes.
            self.look_wanted = Some((self.camera, 3));
        }
    }

    /// Shows a finding, or the first if there is none of this identity.
    fn review_at(&mut self, id: Option<FindingId>) {
        update_decisions(self);
        let report = std::sync::Arc::clone(&self.check.latest);
        let order = model::order(self, self.review.by);
        let there = |id: &FindingId| report.report.findings.iter().any(|f| f.id() == *id);
        let first = order.first().and_then(|n| report.report.findings.get(*n)).map(Finding::id);
        self.open_finding = id.filter(there).or(first);
        let open = self.open_finding.as_ref();
        if let Some(finding) =
            open.and_then(|open| report.report.findings.iter().find(|f| f.id() == *open))
        {
            look::select(self, finding);
            self.review.look = 3;
        }
    }

    /// True while nothing on the plan may be edited: it is shown to a room.
    pub(super) fn is_shown_only(&self) -> bool {
        self.presenting || self.review.shown
    }

    /// True if the last step of the history is a decision, which the review may take back.
    pub(super) fn last_step_is_a_decision(&self) -> bool {
        matches!(self.doc.undo_what(), Some(NOTE | FORGET))
    }

    /// True if the next step of the history is a decision, which the review may do again.
    pub(super) fn next_step_is_a_decision(&self) -> bool {
        matches!(self.doc.redo_what(), Some(NOTE | FORGET))
    }
}

/// Keys of the view and what they ask for. A clicker sends the page keys.
const KEYS: [(Key, Command); 14] = [
    (Key::PageDown, Command::Step(1)),
    (Key::ArrowRight, Command::Step(1)),
    (Key::Space, Command::Step(1)),
    (Key::PageUp, Command::Step(-1)),
    (Key::ArrowLeft, Command::Step(-1)),
    (Key::N, Command::Step(1)),
    (Key::ArrowDown, Command::Scroll(-1.0)),
    (Key::ArrowUp, Command::Scroll(1.0)),
    (Key::Home, Command::First),
    (Key::End, Command::Last),
    (Key::O, Command::Overview),
    (Key::D, Command::Note),
    (Key::A, Command::BeforeAndAfter),
    (Key::G, Command::Gap),
];

/// Takes the keys of the view, while nothing is typed or asked.
pub fn keys(ui: &Ui, app: &mut App) {
    // A control that has the focus keeps the keys that work it.
    let focused = ui.memory(|m| m.focused().is_some());
    // The list of all has its own use for some of them.
    let in_list = |command: &Command| {
        use Command::{First, Last, Overview, Scroll};
        matches!(command, First | Last | Overview | Scroll(_))
    };
    let page = |command: &Command| match command {
        Command::Step(1) => Command::Scroll(-2.0),
        Command::Step(_) => Command::Scroll(2.0),
        other => other.clone(),
    };
    let overview = app.review.overview;
    for (key, command) in KEYS {
        let command = match key {
            Key::PageDown | Key::PageUp if overview => page(&command),
            _ => command,
        };
        if overview && !in_list(&command) {
            continue;
        }
        let works_controls = matches!(
            key,
            Key::Space | Key::ArrowLeft | Key::ArrowRight | Key::ArrowUp | Key::ArrowDown
        );
        if focused && works_controls {
            continue;
        }
        if ui.input_mut(|i| i.consume_key(Modifiers::NONE, key)) {
            commands::carry_out(app, ui.ctx(), command);
        }
    }
}

/// Finds the finding of each decision, if layout or report is another.
fn update_decisions(app: &mut App) {
    let about = (app.doc.revision(), app.check.latest.revision);
    if app.review.decided.about != about {
        let decisions = Decisions::of(app.doc.layout(), &app.check.latest.report);
        app.review.decided = Known { about, decisions: Rc::new(decisions) };
    }
}

/// Takes in a new report: decisions find their findings, and where none is shown the first is.
fn update(app: &mut App) {
    update_decisions(app);
    let shown = super::findings::opened_at(app).is_some();
    if !shown
        && app.check.is_current(app.doc.revision())
        && !app.check.latest.report.findings.is_empty()
    {
        app.review_at(None);
    }
}

/// The view in place of the plan and its panels.
pub fn review_view_ui(ui: &mut Ui, app: &mut App) {
    update(app);
    cure::update(app);
    let window = ui.ctx().content_rect().size();
    if window != app.review.window {
        (app.review.window, app.review.look) = (window, app.review.look.max(3));
    }
    if app.review.look > 0 {
        app.review.look -= 1;
        let report = std::sync::Arc::clone(&app.check.latest);
        let shown = super::findings::opened_at(app).and_then(|n| report.report.findings.get(n));
        if let Some(finding) = shown {
            look::at(app, finding);
        }
        ui.ctx().request_repaint();
    }
    lineup::update(app, ui.ctx());
    let asked = shell::view_ui(ui, app);
    let any = !asked.is_empty();
    for command in asked {
        commands::carry_out(app, ui.ctx(), command);
    }
    note::note_ui(ui.ctx(), app);
    if any {
        ui.ctx().request_repaint();
    }
}
