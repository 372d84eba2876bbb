//! What is selected as a whole: copied, pasted, turned, mirrored, aligned; track beside it; runs split and joined.

use eframe::egui::{Context, Ui};

use super::App;
use super::camera::World;
use super::derived::Derived;
use super::form::{ANY, DEGREE, Form, MM};
use super::names;
use super::theme::{SPACE, heading, small};
use crate::layout::bulk::{self, Line};
use crate::layout::edit::Edit;
use crate::layout::{EntityId, JointId, Layout, RunId, Turn, load, save};

/// A quarter turn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Quarter {
    /// Counter-clockwise.
    Left,
    /// Clockwise.
    Right,
}

/// What is typed for what is selected as a whole.
#[derive(Debug, Clone, PartialEq)]
pub struct Bulk {
    turn_deg: f64,
    dx_mm: f64,
    dy_mm: f64,
    /// Distance of parallel track, mm; `None`: that of the layout's scale.
    spacing_mm: Option<f64>,
}

impl Default for Bulk {
    fn default() -> Self {
        Self { turn_deg: 45.0, dx_mm: 100.0, dy_mm: 0.0, spacing_mm: None }
    }
}

/// The runs among things.
pub fn runs_of(ids: &[EntityId]) -> impl DoubleEndedIterator<Item = RunId> {
    ids.iter().filter_map(|id| match id {
        EntityId::Run(run) => Some(*run),
        _ => None,
    })
}

impl App {
    /// The joints of what is selected.
    pub fn selected_joints(&self) -> Vec<JointId> {
        bulk::joints_of(self.doc.layout(), &self.selection)
    }

    /// The runs that are selected.
    pub fn selected_runs(&self) -> Vec<RunId> {
        runs_of(&self.selection).collect()
    }

    /// The joint that is selected, if it is one and nothing else.
    pub fn selected_joint(&self) -> Option<JointId> {
        match self.selection.as_slice() {
            [EntityId::Joint(joint)] => Some(*joint),
            _ => None,
        }
    }

    /// Selects all that is drawn.
    pub fn select_all(&mut self) {
        let layout = self.doc.layout();
        let specials = layout.specials.keys().map(|id| EntityId::Special(*id));
        let runs = layout.runs.keys().map(|id| EntityId::Run(*id));
        self.selection = specials.chain(runs).collect();
        self.cell = None;
    }

    /// The runs that are selected, with what stands on them; tells if there are none.
    fn selected_piece(&mut self) -> Option<Layout> {
        let piece = bulk::piece(self.doc.layout(), &self.selection);
        if piece.runs.is_empty() {
            self.tell(
                "There is no run in what is selected: runs are copied, with all that stands on them.",
            );
            return None;
        }
        Some(piece)
    }

    /// Copies what is selected, with what stands on it, for this window and as text for others.
    /// Returns whether there was anything to copy.
    pub fn copy(&mut self, ctx: &Context) -> bool {
        let Some(piece) = self.selected_piece() else { return false };
        ctx.copy_text(save(&piece));
        let n = piece.runs.len();
        self.tell(format!(
            "Copied {n} run{} with what stands on them.",
            if n == 1 { "" } else { "s" }
        ));
        self.clip = Some(piece);
        true
    }

    /// Copies what is selected and deletes it; what cannot be copied stays.
    pub fn take_out(&mut self, ctx: &Context) {
        if self.copy(ctx) {
            self.delete_selected();
        }
    }

    /// Pastes what this window copied last.
    pub fn paste_own(&mut self) {
        if let Some(piece) = self.clip.clone() {
            self.paste(&piece);
        }
    }

    /// Pastes a layout or a piece of one that is in the clipboard as text.
    pub fn paste_text(&mut self, text: &str) {
        match load(text) {
            Ok(loaded) => self.paste(&loaded.layout),
            // Some other text: what this window copied is still there.
            Err(_) if self.clip.is_some() => self.paste_own(),
            Err(_) => self.tell("What is in the clipboard is no piece of a layout."),
        }
    }

    fn paste(&mut self, piece: &Layout) {
        let joints: Vec<JointId> = piece.joints.keys().copied().collect();
        let Some(middle) = bulk::middle(piece, &joints) else {
            self.tell("There is no track in the clipboard.");
            return;
        };
        // Under the pointer, or in the middle of what one sees.
        let to = self.pointer_mm.unwrap_or(self.camera.centre);
        let to = if self.tools.snap { super::canvas::on_grid(self, to) } else { to };
        self.paste_by(piece, (to.0 - middle.0, to.1 - middle.1));
    }

    fn paste_by(&mut self, piece: &Layout, by: World) {
        let whole = |mm: f64| if self.tools.snap { mm.round() } else { mm };
        match bulk::paste(self.doc.layout(), piece, (whole(by.0), whole(by.1))) {
            Ok((edit, made)) => {
                if self.edit("paste", edit).is_some() {
                    self.tools.take_up(super::tools::Tool::Select);
                    self.selection = runs_of(&made).map(EntityId::Run).collect();
                }
            }
            Err(refused) => self.tell_bad(format!("Could not paste: {refused}")),
        }
    }

    /// Copies what is selected and pastes it a little aside.
    pub fn duplicate(&mut self) {
        if let Some(piece) = self.selected_piece() {
            let step = self.camera.grid_mm(40.0);
            self.paste_by(&piece, (step, -step));
        }
    }

    fn turn_by(&mut self, what: &str, mirrored: bool, turn_deg: f64) {
        let joints = self.selected_joints();
        if let Some(about) = bulk::middle(self.doc.layout(), &joints) {
            self.edit(what, Edit::Turn { joints, turn: Turn { about, mirrored, turn_deg } });
        }
    }

    /// Turns what is selected about its middle.
    pub fn turn_quarter(&mut self, quarter: Quarter) {
        self.turn_by("turn", false, if quarter == Quarter::Left { 90.0 } else { -90.0 });
    }

    /// Mirrors what is selected about its middle.
    pub fn mirror(&mut self, top_to_bottom: bool) {
        self.turn_by("mirror", true, if top_to_bottom { 180.0 } else { 0.0 });
    }

    /// Puts the joints of what is selected in a line.
    pub fn align(&mut self, line: Line) {
        // In the order in which things were selected: the first stays where it is.
        let mut joints: Vec<JointId> = Vec::new();
        for id in &self.selection {
            for joint in bulk::joints_of(self.doc.layout(), &[*id]) {
                if !joints.contains(&joint) {
                    joints.push(joint);
                }
            }
        }
        self.edit("align", bulk::align(self.doc.layout(), &joints, line));
    }

    /// Lays track beside the selected runs: `side` 1 is the left of the first of them, -1 the right.
    pub fn lay_parallel(&mut self, side: f64) {
        let layout = self.doc.layout();
        let spacing = self.bulk.spacing_mm.unwrap_or_else(|| bulk::spacing_mm(layout.scale));
        match bulk::parallel(layout, &self.selected_runs(), side * spacing) {
            Ok(edit) => {
                if let Some(made) = self.edit("lay a parallel track", edit) {
                    self.selection = runs_of(&made).map(EntityId::Run).collect();
                    self.fit_if_out_of_sight();
                }
            }
            Err(refused) => self.tell_bad(format!("Could not lay a parallel track: {refused}")),
        }
    }

    /// Splits the selected run in the middle.
    pub fn split_selected(&mut self) {
        if let [run] = self.selected_runs()[..]
            && let Some(curve) = self.derived.curves.get(&run)
        {
            let at_mm = curve.length_mm() / 2.0;
            self.edit("split a run", Edit::Split { run, at_mm });
        }
    }

    /// Makes one run of those that meet at the selected joint, or of two selected runs that meet.
    pub fn join_selected(&mut self) {
        let layout = self.doc.layout();
        let shared = || {
            let [a, b] = self.selected_runs()[..] else { return None };
            let (a, b) = (layout.runs.get(&a)?, layout.runs.get(&b)?);
            [a.from, a.to].into_iter().find(|joint| [b.from, b.to].contains(joint))
        };
        match self.selected_joint().or_else(shared) {
            Some(joint) => drop(self.edit("join runs", Edit::Join { joint })),
            None => {
                self.tell("Select the joint between two runs, or two runs that meet, to join them.")
            }
        }
    }

    /// Looks at what is selected.
    pub fn show_selected(&mut self) {
        let layout = self.doc.layout();
        let runs = self.selected_runs().into_iter();
        let boxes = runs.filter_map(|run| self.derived.boxes.get(&run).copied());
        let places = self.selection.iter().filter_map(|id| self.derived.place(layout, *id));
        let hull = Derived::hull(places.map(|at| (at, at)).chain(boxes));
        if let Some((low, high)) = hull {
            self.camera.fit(self.canvas, low, high);
        }
    }

    /// Zooms about the middle of the canvas.
    pub fn zoom(&mut self, factor: f64) {
        self.camera.zoom_at(self.canvas, self.canvas.center(), factor);
    }
}

/// The particulars of several things at once.
pub fn many_ui(ui: &mut Ui, app: &mut App) {
    let many = app.selection.clone();
    ui.label(heading(format!("{} things are selected", many.len())).size(16.0));
    let buttons = |ui: &mut Ui, app: &mut App, names: &[&str]| {
        ui.horizontal_wrapped(|ui| {
            for name in names {
                super::top_bar::action_button(ui, app, name);
            }
        });
    };
    buttons(ui, app, &["Copy", "Duplicate", "Delete"]);
    ui.add_space(SPACE);
    let mut bulk = app.bulk.clone();
    let mut form = Form::new(ui, "Selection");
    form.number("Turn by", &mut bulk.turn_deg, DEGREE, -360.0..=360.0);
    form.number("Move right by", &mut bulk.dx_mm, MM, ANY);
    form.number("Move up by", &mut bulk.dy_mm, MM, ANY);
    app.bulk = bulk;
    ui.horizontal_wrapped(|ui| {
        if ui.button("Turn it").clicked() {
            app.turn_by("turn", false, app.bulk.turn_deg);
        }
        if ui.button("Move it").clicked() {
            let joints = app.selected_joints();
            let (dx_mm, dy_mm) = (app.bulk.dx_mm, app.bulk.dy_mm);
            app.edit("move", Edit::Move { joints, dx_mm, dy_mm });
        }
    });
    buttons(ui, app, &["Turn a quarter left", "Turn a quarter right"]);
    buttons(ui, app, &["Mirror left to right", "Mirror top to bottom"]);
    buttons(ui, app, &["Align level", "Align upright", "Align on a line from first to last"]);
    if !app.selected_runs().is_empty() {
        parallel_ui(ui, app);
        buttons(ui, app, &["Join the runs at a joint"]);
    }
    ui.add_space(SPACE);
    ui.label(heading("They are"));
    for id in many.iter().take(100) {
        if ui.button(names::entity_name(app.doc.layout(), *id)).clicked() {
            app.select(*id);
        }
    }
    if many.len() > 100 {
        ui.label(small(ui, format!("and {} more", many.len() - 100)));
    }
}

/// Track beside the selected runs.
pub fn parallel_ui(ui: &mut Ui, app: &mut App) {
    ui.add_space(SPACE);
    ui.label(heading("Parallel track"));
    let usual = bulk::spacing_mm(app.doc.layout().scale);
    let mut spacing = app.bulk.spacing_mm.unwrap_or(usual);
    let mut form = Form::new(ui, "Parallel");
    form.number("Between centre lines", &mut spacing, MM, 1.0..=10_000.0)
        .on_hover_text(format!("{usual:.0} mm is 4 m at the layout's scale"));
    app.bulk.spacing_mm = (spacing != usual).then_some(spacing);
    ui.horizontal_wrapped(|ui| {
        for (words, side) in [("Lay one on the left", 1.0), ("Lay one on the right", -1.0)] {
            if ui.button(words).clicked() {
                app.lay_parallel(side);
            }
        }
    });
}
