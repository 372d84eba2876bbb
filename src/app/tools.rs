//! The verbs: select, lay, cut, feed. Each can be used with the pointer on the canvas or with typed numbers here.

use eframe::egui::{self, Button, Ui, vec2};

use super::App;
use super::actions::{keys_words, named};
use super::form::{ANY, FINE_MM, FROM_ZERO, Form, MM};
use super::lay::{Lay, lay_ui};
use super::names;
use super::special_tool::{BondTool, SpecialTool, bond_ui, special_ui, throw_ui};
use super::theme::{SPACE, TIGHT, card, heading, small, strong, tokens};
use super::trace::{Trace, trace_ui};
use crate::layout::edit::Edit;
use crate::layout::laying::free_ends;
use crate::layout::{EntityId, Layout, Made, Origin, Rail, Rails, RunId, default_cut_width_mm};

/// What a click on the canvas does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Tool {
    /// Selects, moves, and names blocks.
    #[default]
    Select,
    /// Lays runs.
    Lay,
    /// Cuts rails.
    Cut,
    /// Feeds rails from a driver.
    Feed,
    /// Places special work.
    Special,
    /// Throws selectors.
    Throw,
    /// Bonds rails.
    Bond,
    /// Scales a picture under the plan.
    Trace,
}

/// All tools: verb, which is also the name of the action that takes it in hand, and what it does on the canvas.
const TOOLS: [(Tool, &str, &str); 8] = [
    (
        Tool::Select,
        "Select",
        "Click a thing to see its particulars; drag it to move it. Drag the ground to look elsewhere.",
    ),
    (
        Tool::Lay,
        "Lay track",
        "Click where the run starts, then where it ends; go on clicking. Shift lays straights in steps of 45°. Escape \
         ends.",
    ),
    (Tool::Cut, "Cut rails", "Click on a run where the rail is to be cut."),
    (
        Tool::Feed,
        "Feed",
        "Click on a run where the feeders go. Each click feeds from a new driver, unless you choose one.",
    ),
    (
        Tool::Special,
        "Special work",
        "Turnouts, crossings, turntables, buffers; a passing siding, a yard or a reversing loop as one. Click on a run, on \
         its end, or where two runs cross. X changes the hand, Shift+X turns it round.",
    ),
    (
        Tool::Throw,
        "Throw",
        "Click on points to throw them, or beside a turntable to turn it there. With something selected, T throws it on \
         and Shift+T back.",
    ),
    (
        Tool::Bond,
        "Bond rails",
        "Click beside the rail from which the wire goes, then beside the rail to which. Escape ends.",
    ),
    (
        Tool::Trace,
        "Trace",
        "A picture under the plan, to draw over. Click two points on it that are a known distance apart, then type the \
         distance. With Select, drag it to where it belongs.",
    ),
];

/// State of the tool that cuts.
#[derive(Debug, Clone, PartialEq)]
pub struct CutTool {
    /// Which rails.
    pub rails: Rails,
    /// How wide, mm.
    pub width_mm: f64,
    /// How much farther the right rail is cut, mm.
    pub stagger_mm: f64,
    /// How.
    pub made: Made,
    /// Typed run.
    pub run: Option<RunId>,
    /// Typed distance, mm.
    pub at_mm: f64,
}

/// State of the tool that feeds.
#[derive(Debug, Clone, PartialEq)]
pub struct FeedTool {
    /// From which driver.
    pub driver: Option<Origin>,
    /// Rail of P.
    pub p: Option<Rail>,
    /// Rail of M.
    pub m: Option<Rail>,
    /// Typed run.
    pub run: Option<RunId>,
    /// Typed distance, mm.
    pub at_mm: f64,
}

/// State of all tools.
#[derive(Debug, Clone, PartialEq)]
pub struct Tools {
    /// The one in hand.
    pub tool: Tool,
    /// Whether places snap to the grid.
    pub snap: bool,
    /// What was given up when another tool was taken in hand, in words that are still to be said; empty for nothing.
    pub given_up: &'static str,
    /// Lay.
    pub lay: Lay,
    /// Cut.
    pub cut: CutTool,
    /// Feed.
    pub feed: FeedTool,
    /// Special work.
    pub special: SpecialTool,
    /// Bond.
    pub bond: BondTool,
    /// Trace.
    pub trace: Trace,
}

impl Default for Tools {
    fn default() -> Self {
        Self {
            tool: Tool::default(),
            snap: true,
            given_up: "",
            lay: Lay::default(),
            cut: CutTool {
                rails: Rails::Both,
                width_mm: default_cut_width_mm(),
                stagger_mm: 0.0,
                made: Made::Open,
                run: None,
                at_mm: 0.0,
            },
            // P on the right-hand rail: forward then drives from a run's start to its end.
            feed: FeedTool {
                driver: None,
                p: Some(Rail::Right),
                m: Some(Rail::Left),
                run: None,
                at_mm: 0.0,
            },
            special: SpecialTool::default(),
            bond: BondTool::default(),
            trace: Trace::default(),
        }
    }
}

impl Tools {
    /// Takes a tool in hand.
    pub fn take_up(&mut self, tool: Tool) {
        self.tool = tool;
        self.given_up = self.end_what_is_begun().unwrap_or(self.given_up);
    }

    /// Ends what is begun with the tool in hand. Returns what was given up with it, in words, empty if nothing was; `None`
    /// if nothing was begun.
    pub fn end_what_is_begun(&mut self) -> Option<&'static str> {
        let lay = self.lay.begun().then(|| self.lay.gives_up());
        self.lay.end();
        let bond = self
            .bond
            .from
            .take()
            .map(|_| "The bond that was begun was given up; no rails were bonded.");
        let trace = self
            .trace
            .end()
            .then_some("The points on the picture were given up; its scale is as it was.");
        lay.or(bond).or(trace)
    }

    /// Drops what refers to things that are not there any more; fills in what there is one of.
    pub fn forget_what_is_gone(&mut self, layout: &Layout) {
        self.lay.forget_what_is_gone(layout);
        self.trace.forget_what_is_gone(layout);
        let first = layout.runs.keys().next().copied();
        let [bond_from, bond_to] = &mut self.bond.typed;
        let runs = [&mut self.cut.run, &mut self.feed.run, &mut self.special.run];
        for run in runs.into_iter().chain([&mut bond_from.0, &mut bond_to.0]) {
            *run = run.filter(|r| layout.runs.contains_key(r)).or(first);
        }
        self.feed.driver = self.feed.driver.filter(|&from| names::exists(layout, from.into()));
        let there = |run: &RunId| layout.runs.contains_key(run);
        self.special.other = self.special.other.filter(there);
        self.special.end = self.special.end.filter(|end| free_ends(layout).contains(end));
        self.bond.from = self.bond.from.filter(|spot| there(&spot.run));
    }
}

impl App {
    /// Cuts a run with the tool's options.
    pub fn cut(&mut self, run: RunId, at_mm: f64) {
        let tool = &self.tools.cut;
        let edit = Edit::Cut {
            run,
            at_mm,
            rails: tool.rails,
            width_mm: tool.width_mm,
            stagger_mm: if tool.rails == Rails::Both { tool.stagger_mm } else { 0.0 },
            made: tool.made,
        };
        if let Some(made) = self.edit("cut", edit)
            && let Some(cut) = made.iter().find(|id| matches!(id, EntityId::Cut(_)))
        {
            self.selection = vec![*cut];
        }
    }

    /// Feeds a run with the tool's options; from a new driver, if that is what is chosen.
    pub fn feed(&mut self, run: RunId, at_mm: f64) {
        let FeedTool { driver, p, m, .. } = self.tools.feed;
        let feed = |driver| Edit::Feed { driver, run, at_mm, p, m, wire: None, ohm: None };
        let (what, edit) = match driver {
            Some(driver) => ("feed", feed(driver)),
            None => {
                let (mut both, driver) = self.new_driver_with_supply();
                both.push(feed(driver.into()));
                ("feed from a new driver", Edit::Batch(both))
            }
        };
        if let Some(made) = self.edit(what, edit)
            && let Some(feed) = made.iter().find(|id| matches!(id, EntityId::Feed(_)))
        {
            self.selection = vec![*feed];
        }
    }
}

/// The panel on the left.
pub fn tools_ui(ui: &mut Ui, app: &mut App) {
    let t = tokens(ui);
    for (tool, verb, help) in TOOLS {
        let key = named(verb).map_or_else(String::new, |action| keys_words(ui.ctx(), action));
        let chosen = app.tools.tool == tool;
        let response = ui
            .add(
                Button::selectable(chosen, strong(verb))
                    .shortcut_text(egui::RichText::new(&key).color(if chosen {
                        t.on_chosen
                    } else {
                        t.weak
                    }))
                    .min_size(vec2(ui.available_width(), 28.0)),
            )
            .on_hover_text(format!("{help} ({key})"))
            .accessible_name(verb);
        if response.clicked() {
            app.tools.take_up(tool);
        }
    }
    ui.add_space(TIGHT);
    ui.separator();
    egui::ScrollArea::vertical().id_salt("tool options").auto_shrink(false).show(ui, |ui| {
        let help = TOOLS.iter().find(|t| t.0 == app.tools.tool).map_or("", |t| t.2);
        ui.label(small(ui, help));
        ui.add_space(TIGHT);
        match app.tools.tool {
            Tool::Select => select_ui(ui, app),
            Tool::Lay => lay_ui(ui, app),
            Tool::Cut => cut_ui(ui, app),
            Tool::Feed => feed_ui(ui, app),
            Tool::Special => special_ui(ui, app),
            Tool::Throw => throw_ui(ui, app),
            Tool::Bond => bond_ui(ui, app),
            Tool::Trace => trace_ui(ui, app),
        }
    });
}

pub fn snap_ui(ui: &mut Ui, app: &mut App) {
    ui.checkbox(&mut app.tools.snap, "Snap to the grid")
        .on_hover_text("Places also snap to joints that are near");
}

fn select_ui(ui: &mut Ui, app: &mut App) {
    snap_ui(ui, app);
    ui.add_space(SPACE);
    ui.label(small(
        ui,
        "With the keyboard: Tab to the canvas, arrows go from thing to thing, Ctrl and arrows move what is selected, \
         Enter shows its particulars, Delete deletes it.",
    ));
}

/// The button that does it.
pub fn action(ui: &mut Ui, words: &str, enabled: bool) -> bool {
    let button = Button::new(strong(words)).min_size(vec2(0.0, 30.0));
    ui.vertical_centered_justified(|ui| ui.add_enabled(enabled, button)).inner.clicked()
}

fn cut_ui(ui: &mut Ui, app: &mut App) {
    let mut cut = app.tools.cut.clone();
    let mut form = Form::new(ui, "Cut").label_width(58.0);
    form.choice("Rails", &mut cut.rails, &names::rails_choices());
    form.number("Width", &mut cut.width_mm, FINE_MM, FROM_ZERO)
        .on_hover_text("Width of the opening along the rail");
    if cut.rails == Rails::Both {
        form.number("Stagger", &mut cut.stagger_mm, MM, ANY)
            .on_hover_text("How much farther along the run the right rail is cut than the left");
    }
    let made = [
        (Made::Open, "Open".to_owned()),
        (Made::Filled, "Filled".to_owned()),
        (Made::InsulatedJoiner, "Insulated joiner".to_owned()),
    ];
    form.choice("Made", &mut cut.made, &made);
    ui.add_space(SPACE);
    ui.label(heading("By numbers"));
    let mut form = Form::new(ui, "Cut").label_width(58.0);
    let runs: Vec<(Option<RunId>, String)> =
        app.run_choices().into_iter().map(|(id, words)| (Some(id), words)).collect();
    form.choice("Run", &mut cut.run, &runs);
    form.number("At", &mut cut.at_mm, MM, FROM_ZERO)
        .on_hover_text("Distance along the run from its start");
    run_length_ui(ui, app, cut.run);
    app.tools.cut = cut;
    let run = app.tools.cut.run;
    if action(ui, "Cut here", run.is_some())
        && let Some(run) = run
    {
        app.cut(run, app.tools.cut.at_mm);
    }
    ui.add_space(SPACE);
    caution_ui(
        ui,
        "Before sawing: power off, eye protection, and a check here that the cut is where it should be. Rail dust is \
         metal: sweep it up before power comes back.",
    );
}

/// How long a run is.
pub fn run_length_ui(ui: &mut Ui, app: &App, run: Option<RunId>) {
    if let Some(curve) = run.and_then(|r| app.derived.curves.get(&r)) {
        let words = format!("The run is {} long.", app.camera.units.length(curve.length_mm()));
        ui.label(small(ui, words));
    }
}

fn feed_ui(ui: &mut Ui, app: &mut App) {
    let mut feed = app.tools.feed.clone();
    let drivers: Vec<(Option<Origin>, String)> = std::iter::once((None, "a new driver".to_owned()))
        .chain(names::origin_choices(app.doc.layout()).into_iter().map(|(d, w)| (Some(d), w)))
        .collect();
    let mut form = Form::new(ui, "Feed").label_width(58.0);
    form.choice("Driver", &mut feed.driver, &drivers).on_hover_text(
        "A new driver is a PWM bridge on an isolated supply of its own; change its particulars later",
    );
    form.choice("P to", &mut feed.p, &names::rail_choices());
    form.choice("M to", &mut feed.m, &names::rail_choices());
    form.hint("Left and right as seen from the run's start. P on the right-hand rail: forward drives to its end.");
    ui.horizontal(|ui| {
        if ui.button("Swap P and M").clicked() {
            std::mem::swap(&mut feed.p, &mut feed.m);
        }
    });
    ui.add_space(SPACE);
    ui.label(heading("By numbers"));
    let runs: Vec<(Option<RunId>, String)> =
        app.run_choices().into_iter().map(|(id, words)| (Some(id), words)).collect();
    let mut form = Form::new(ui, "Feed").label_width(58.0);
    form.choice("Run", &mut feed.run, &runs);
    form.number("At", &mut feed.at_mm, MM, FROM_ZERO)
        .on_hover_text("Distance along the run from its start");
    run_length_ui(ui, app, feed.run);
    app.tools.feed = feed;
    let run = app.tools.feed.run;
    if action(ui, "Feed here", run.is_some())
        && let Some(run) = run
    {
        app.feed(run, app.tools.feed.at_mm);
    }
    ui.add_space(SPACE);
    caution_ui(
        ui,
        "Soldering feeders: power off, good air, and a heat sink on plastic sleepers. Size the wire for the trip \
         current, not for the train.",
    );
}

/// A caution where something can hurt.
pub fn caution_ui(ui: &mut Ui, words: &str) {
    let t = tokens(ui);
    card(t)
        .stroke(egui::Stroke::new(1.0, t.verdict(crate::findings::Verdict::Caution)))
        .inner_margin(8)
        .show(ui, |ui| {
            ui.set_width(ui.available_width());
            ui.horizontal_top(|ui| {
                super::marks::mark_ui(ui, crate::findings::Verdict::Caution, 7.0);
                ui.add(egui::Label::new(small(ui, words)).wrap());
            });
        });
}
