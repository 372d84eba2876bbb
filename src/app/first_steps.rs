//! The first steps: lay, cut, feed, see the short, cure it. Each is ticked off by being done.

use eframe::egui::{Align2, Area, Button, Id, Margin, Order, Ui};

use super::App;
use super::theme::{SPACE, TIGHT, card, heading, small, strong, tokens};
use super::tools::Tool;
use crate::findings::{Class, Kind, Verdict};

/// How far somebody is.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct FirstSteps {
    /// Whether they are shown.
    pub open: bool,
    /// Steps that are done.
    done: usize,
}

struct Step {
    what: &'static str,
    how: &'static str,
    done: fn(&App) -> bool,
    tool: Option<Tool>,
}

const STEPS: [Step; 5] = [
    Step {
        what: "Lay track",
        how: "Press L, then click twice on the plan. Escape ends the run.",
        done: |app| !app.doc.layout().runs.is_empty(),
        tool: Some(Tool::Lay),
    },
    Step {
        what: "Cut the rails",
        how: "Press C and click on the track: a gap in both rails makes two blocks of it.",
        done: |app| !app.doc.layout().cuts.is_empty(),
        tool: Some(Tool::Cut),
    },
    Step {
        what: "Feed both sides",
        how: "Press F and click on either side of the gap. Each click feeds from a driver of its own.",
        done: |app| {
            let report = &app.check.latest.report;
            let unfed = |kind| kind == Kind::Unfed || kind == Kind::HalfFed;
            app.doc.layout().feeds.len() > 1 && !report.findings.iter().any(|f| unfed(f.kind))
        },
        tool: Some(Tool::Feed),
    },
    Step {
        what: "See what shorts",
        how: "The gap shorts although both throttles agree. Click the short in the list on the right and read why.",
        done: |app| super::findings::opened(app).is_some_and(|open| open.verdict == Verdict::Short),
        tool: None,
    },
    Step {
        what: "Cure it",
        how: "Below the plan, set the idle state of both throttles to high-impedance.",
        done: |app| {
            let report = &app.check.latest.report;
            let short = |f: &crate::findings::Finding| {
                f.class == Class::Fault && f.verdict == Verdict::Short
            };
            !report.cuts.is_empty() && !report.findings.iter().any(short)
        },
        tool: None,
    },
];

impl FirstSteps {
    /// Shows them from the first on.
    pub fn begin() -> Self {
        Self { open: true, done: 0 }
    }
}

/// The card, in the corner of the canvas.
pub fn first_steps_ui(ui: &mut Ui, app: &mut App) {
    // A step counts when those before it are done.
    while let Some(step) = STEPS.get(app.first_steps.done)
        && app.check.is_current(app.doc.revision())
        && (step.done)(app)
    {
        app.first_steps.done += 1;
    }
    let done = app.first_steps.done;
    let t = tokens(ui);
    Area::new(Id::unique("first steps"))
        .order(Order::Middle)
        .pivot(Align2::LEFT_TOP)
        .fixed_pos(app.canvas.left_top() + eframe::egui::vec2(10.0, 10.0))
        .constrain_to(app.canvas)
        .show(ui.ctx(), |ui| {
            card(t)
                .inner_margin(Margin::same(12))
                .show(ui, |ui| {
                    ui.set_width(250.0);
                    ui.spacing_mut().item_spacing.y = TIGHT;
                    ui.label(heading("First steps"));
                    for (n, step) in STEPS.iter().enumerate() {
                        step_ui(ui, app, n, step, done);
                    }
                    if done == STEPS.len() {
                        ui.add_space(TIGHT);
                        ui.label(
                            "That is the whole job. On a real bridge, look first whether high-impedance makes the \
                             throttle run backwards: inverted control lines do.",
                        );
                    }
                    ui.add_space(SPACE);
                    ui.horizontal(|ui| {
                        let hide = ui.button("Not now").accessible_name("Hide the first steps");
                        if hide.clicked() {
                            app.first_steps.open = false;
                        }
                        let words = if done == STEPS.len() { "Close" } else { "Never again" };
                        let close = ui.button(words).on_hover_text("They stay under Help");
                        if close.accessible_name("Close the first steps for good").clicked() {
                            app.first_steps.open = false;
                            app.settings.knows_first_steps = true;
                        }
                    });
                });
        });
}

fn step_ui(ui: &mut Ui, app: &mut App, n: usize, step: &Step, done: usize) {
    let words = format!("{}  {}", n + 1, step.what);
    if n < done {
        ui.label(small(ui, format!("{words}: done")));
        return;
    }
    if n > done {
        ui.label(small(ui, words));
        return;
    }
    ui.horizontal(|ui| {
        ui.label(strong(words));
        if let Some(tool) = step.tool.filter(|tool| *tool != app.tools.tool) {
            let take = ui.add(Button::new("Take the tool"));
            if take.accessible_name(format!("Take the tool: {}", step.what)).clicked() {
                app.tools.take_up(tool);
            }
        }
    });
    ui.label(step.how);
}
