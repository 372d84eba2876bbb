//! The first steps: lay, cut, feed, see the short, cure it. A strip above the plan names the one that the layout lacks.

use std::cmp::Ordering;

use eframe::egui::{Button, Frame, Label, Margin, Panel, Ui};

use super::App;
use super::glossary::term;
use super::theme::{SPACE, TIGHT, heading, small, strong, tokens};
use super::tools::{Tool, caution_ui};
use crate::findings::{Class, Finding, Kind, Verdict};

/// Whether the first steps are shown, and what no layout tells.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct FirstSteps {
    /// Whether they are shown.
    pub open: bool,
    /// Whether a short was opened since they began.
    saw_short: bool,
}

struct Step {
    what: &'static str,
    /// Whether the layout lacks it still.
    lacks: fn(&App) -> bool,
    how: fn(&App) -> String,
    /// A word that the step uses.
    word: Option<&'static str>,
    tool: Option<Tool>,
}

const STEPS: [Step; 5] = [
    Step {
        what: "Lay track",
        lacks: |app| app.doc.layout().runs.is_empty(),
        how: |_| "Press L, then click twice on the plan. Escape ends the run.".to_owned(),
        word: Some("run"),
        tool: Some(Tool::Lay),
    },
    Step {
        what: "Cut the rails",
        lacks: |app| app.doc.layout().cuts.is_empty(),
        how: |_| {
            "Press C and click on the track: a gap in both rails makes two blocks of it.".to_owned()
        },
        word: Some("block"),
        tool: Some(Tool::Cut),
    },
    Step {
        what: "Feed both sides",
        lacks: |app| app.doc.layout().feeds.len() < 2 || not_fed(app).is_some(),
        how: feed_words,
        word: Some("feed"),
        tool: Some(Tool::Feed),
    },
    Step {
        what: "See what shorts",
        lacks: |app| shorts(app).next().is_some() && !app.first_steps.saw_short,
        how: |_| {
            "A gap shorts although the throttles agree. Click the short in the list on the right and read why.".to_owned()
        },
        word: Some("straddle"),
        tool: None,
    },
    Step {
        what: "Cure it",
        lacks: |app| shorts(app).next().is_some(),
        how: cure_words,
        word: Some("idle state"),
        tool: None,
    },
];

/// The faults that short.
fn shorts(app: &App) -> impl Iterator<Item = &Finding> {
    let findings = app.check.latest.report.findings.iter();
    findings.filter(|f| f.class == Class::Fault && f.verdict == Verdict::Short)
}

/// The name of a block that has no feed, or one on one rail only.
fn not_fed(app: &App) -> Option<String> {
    let report = &app.check.latest.report;
    let unfed = |f: &&Finding| f.kind == Kind::Unfed || f.kind == Kind::HalfFed;
    let block = report.findings.iter().find(unfed)?.blocks.first().copied()?;
    report.blocks.iter().find(|b| b.id == block).map(|b| b.name.clone())
}

fn feed_words(app: &App) -> String {
    let each =
        "Press F and click on either side of the gap. Each click feeds from a driver of its own.";
    match not_fed(app).filter(|_| app.doc.layout().feeds.len() > 1) {
        Some(block) => format!("{each} Still without a whole feed: {block}."),
        None => each.to_owned(),
    }
}

fn cure_words(app: &App) -> String {
    match shorts(app).next() {
        Some(finding) if finding.kind != Kind::IdleClamp => {
            "Click the short in the list on the right and do what it says under \"What to do\"."
                .to_owned()
        }
        _ => "Below the plan, set the idle state of both throttles to high-impedance.".to_owned(),
    }
}

impl FirstSteps {
    /// Shows them from the first that the layout lacks.
    pub fn begin() -> Self {
        Self { open: true, saw_short: false }
    }
}

/// The strip above the plan, while the first steps are shown. It takes room from the plan and covers nothing on it.
pub fn first_steps_panel(ui: &mut Ui, app: &mut App) {
    if !app.first_steps.open {
        return;
    }
    let opened = super::findings::opened(app);
    app.first_steps.saw_short |= opened.is_some_and(|open| open.verdict == Verdict::Short);
    let t = tokens(ui);
    let frame = Frame::new().fill(t.card).inner_margin(Margin::symmetric(12, 8));
    Panel::top("first steps").frame(frame).show(ui, |ui| strip_ui(ui, app));
}

fn strip_ui(ui: &mut Ui, app: &mut App) {
    let at = STEPS.iter().position(|step| (step.lacks)(app)).unwrap_or(STEPS.len());
    ui.spacing_mut().item_spacing.y = TIGHT;
    ui.horizontal_wrapped(|ui| {
        ui.label(heading("First steps"));
        for (n, step) in STEPS.iter().enumerate() {
            let words = format!("{}  {}", n + 1, step.what);
            let words = match n.cmp(&at) {
                Ordering::Less => small(ui, format!("{words}: done")),
                Ordering::Equal => strong(words),
                Ordering::Greater => small(ui, words),
            };
            // A step is not broken over two lines.
            ui.add(Label::new(words).extend());
            ui.add_space(SPACE);
        }
    });
    match STEPS.get(at) {
        Some(step) => {
            let how = (step.how)(app);
            ui.horizontal_wrapped(|ui| {
                ui.label(how);
                if let Some(word) = step.word {
                    term(ui, word);
                }
            });
        }
        None => done_ui(ui),
    }
    ui.horizontal_wrapped(|ui| {
        let step = STEPS.get(at);
        let tool = step.and_then(|step| step.tool).filter(|tool| *tool != app.tools.tool);
        if let (Some(step), Some(tool)) = (step, tool) {
            let take = ui.add(Button::new(strong("Take the tool")));
            if take.accessible_name(format!("Take the tool: {}", step.what)).clicked() {
                app.tools.take_up(tool);
            }
        }
        let hide = ui.button("Not now").accessible_name("Hide the first steps");
        if hide.clicked() {
            app.first_steps.open = false;
        }
        let words = if step.is_none() { "Close" } else { "Never again" };
        let close = ui.button(words).on_hover_text("They stay under Help");
        if close.accessible_name("Close the first steps for good").clicked() {
            app.first_steps.open = false;
            app.settings.knows_first_steps = true;
        }
    });
}

/// The last card: what is left to look at, and the caution for those who go on to the real railroad.
fn done_ui(ui: &mut Ui) {
    ui.label(
        "That is the whole job. On a real bridge, look first whether high-impedance makes the throttle run backwards: \
         inverted control lines do.",
    );
    caution_ui(
        ui,
        "Before you saw and solder: switch off and pull the plug, protect your eyes at the cutting disc, sweep up the rail \
         dust, and have good air at the iron. Fuse every supply for its wire. Mains is work for licensed people, to your \
         local codes.",
    );
}
