//! Names of things and of blocks: typed in their particulars, or over the plan (F2).

use eframe::egui::text::{CCursor, CCursorRange};
use eframe::egui::{
    Align2, Area, Context, Id, Key, Margin, Order, Pos2, Response, Stroke, TextEdit, Ui, vec2,
};

use super::form::Form;
use super::theme::{card, small, tokens};
use super::{App, names};
use crate::layout::edit::{Edit, Entity};
use crate::layout::{EntityId, Label, RunId, entity};

/// What bears a name.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Named {
    /// The block at a place on the track, mm along the run.
    Block(RunId, f64),
    /// A thing with a name of its own.
    Thing(EntityId),
}

/// A name that is being typed. It is given when it is entered or its field is left; Escape keeps the old one.
#[derive(Debug, Clone, PartialEq)]
pub struct Naming {
    what: Named,
    text: String,
    field: Id,
    /// Whether it is typed over the plan; otherwise in a panel.
    over_plan: bool,
    /// Whether its field has had the focus.
    focused: bool,
}

/// The name of a thing, to read and to change; `None` for kinds of things that have none.
fn own_name(thing: &mut Entity) -> Option<&mut String> {
    match thing {
        Entity::Cut(it) => Some(&mut it.name),
        Entity::Label(it) => Some(&mut it.name),
        Entity::Supply(it) => Some(&mut it.name),
        Entity::Driver(it) => Some(&mut it.name),
        Entity::Vehicle(it) => Some(&mut it.name),
        Entity::Special(it) => Some(&mut it.name),
        Entity::Device(it) => Some(&mut it.name),
        Entity::Train(it) => Some(&mut it.name),
        Entity::Lineup(it) => Some(&mut it.name),
        Entity::Joint(_)
        | Entity::Run(_)
        | Entity::Feed(_)
        | Entity::Bond(_)
        | Entity::Picture(_)
        | Entity::Decision(_) => None,
    }
}

impl App {
    /// The label that names the block at a place; of several the nearest on the same run.
    fn label_at(&self, run: RunId, at_mm: f64) -> Option<&Label> {
        let block = self.derived.plan.block_at(run, at_mm)?;
        let labels = &self.derived.plan.blocks.get(block)?.labels;
        let far = |label: &&Label| match label.run == run {
            true => (label.at_mm - at_mm).abs(),
            false => f64::INFINITY,
        };
        let labels = labels.iter().filter_map(|id| self.doc.layout().labels.get(id));
        labels.min_by(|a, b| far(a).total_cmp(&far(b)))
    }

    /// The name that something has now; empty without one.
    fn name_now(&self, what: Named) -> String {
        match what {
            Named::Block(run, at_mm) => {
                self.label_at(run, at_mm).map_or_else(String::new, |label| label.name.clone())
            }
            Named::Thing(id) => entity(self.doc.layout(), id)
                .and_then(|mut thing| own_name(&mut thing).cloned())
                .unwrap_or_default(),
        }
    }

    /// Names the block at a place on the track, `at_mm` along a run: the name it has is changed, or a new one is put
    /// there; an empty name takes it away. One step of undo.
    pub fn rename_block(&mut self, run: RunId, at_mm: f64, name: &str) {
        let name = name.trim().to_owned();
        let Some(block) = self.derived.plan.block_at(run, at_mm) else {
            self.tell_bad("Could not name a block: there is none. Choose a place on plain track.");
            return;
        };
        let there = self.label_at(run, at_mm).map(|label| (label.run, label.at_mm));
        if there.is_none() && name.is_empty() {
            return;
        }
        let (run, at_mm) = there.unwrap_or((run, at_mm));
        let what = if name.is_empty() {
            let old = self.derived.plan.block_name(self.doc.layout(), block);
            format!("take the name of {old} away")
        } else {
            "name a block".to_owned()
        };
        self.edit(&what, Edit::Name { run, at_mm, name });
    }

    /// Gives a thing or a block a name, if it is another one than it has.
    fn rename(&mut self, what: Named, name: &str) {
        if self.name_now(what).trim() == name.trim() {
            return;
        }
        match what {
            Named::Block(run, at_mm) => self.rename_block(run, at_mm, name),
            Named::Thing(id) => {
                let Some(mut thing) = entity(self.doc.layout(), id) else { return };
                let Some(own) = own_name(&mut thing) else { return };
                *own = name.trim().to_owned();
                self.edit("change a name", Edit::Replace(thing));
            }
        }
    }

    /// What of the selection can be named: the one thing that is selected, or the block that a run or a feed is in.
    pub fn nameable(&self) -> Option<Named> {
        let [one] = self.selection.as_slice() else { return None };
        let layout = self.doc.layout();
        match *one {
            EntityId::Run(run) => self.block_on(run).map(|at_mm| Named::Block(run, at_mm)),
            EntityId::Feed(id) => layout.feeds.get(&id).map(|f| Named::Block(f.run, f.at_mm)),
            EntityId::Label(id) => layout.labels.get(&id).map(|l| Named::Block(l.run, l.at_mm)),
            id => entity(layout, id)
                .is_some_and(|mut thing| own_name(&mut thing).is_some())
                .then_some(Named::Thing(id)),
        }
    }

    /// A place of a run in a block: under the pointer if that is on it, else the middle of its longest stretch.
    fn block_on(&self, run: RunId) -> Option<f64> {
        let under = self.pointer_mm.map(|at| self.camera.to_screen(self.canvas, at));
        let under = under.and_then(|at| super::canvas::run_at(self, at));
        if let Some((at_run, at_mm)) = under
            && at_run == run
            && self.derived.plan.block_at(run, at_mm).is_some()
        {
            return Some(at_mm);
        }
        let stretches = block_stretches(self, run);
        let longest = stretches.into_iter().max_by(|a, b| (a.1 - a.0).total_cmp(&(b.1 - b.0)))?;
        Some(f64::midpoint(longest.0, longest.1).round())
    }

    /// Lets a name be typed over the plan.
    pub fn begin_naming(&mut self, what: Named) {
        let text = self.name_now(what);
        let field = Id::unique("name over the plan");
        self.naming = Some(Naming { what, text, field, over_plan: true, focused: false });
    }

    /// Puts a further name on the run that is selected, at the pointer if that is on it, and lets it be typed: a stretch that
    /// is to be controlled by itself, though no gap parts it yet.
    pub fn name_stretch(&mut self) {
        let run = match self.selection.as_slice() {
            [EntityId::Run(run)] => Some(*run),
            _ => None,
        };
        let Some((run, at_mm)) = run.and_then(|run| Some((run, self.block_on(run)?))) else {
            self.tell("Select the run on which the stretch lies; its name stands at the pointer.");
            return;
        };
        let layout = self.doc.layout();
        let taken = |name: &str| layout.labels.values().any(|label| label.name == name);
        let name = self.free_name("Stretch", taken);
        // Tenths of a millimetre, as everything that is placed by hand.
        let at_mm = (at_mm * 10.0).round() / 10.0;
        if let Some(made) = self.edit("name a stretch", Edit::Name { run, at_mm, name })
            && let Some(&label) = made.last()
        {
            self.begin_naming(Named::Thing(label));
        }
    }

    /// Names the first block without a name, or tells that all have one.
    pub fn name_next_block(&mut self) {
        let plan = &self.derived.plan;
        let piece = plan
            .blocks
            .iter()
            .filter(|block| block.labels.is_empty())
            .find_map(|block| block.pieces.first().and_then(|n| plan.pieces.get(*n)));
        match piece.map(|piece| (piece.run, f64::midpoint(piece.from_mm, piece.to_mm).round())) {
            Some((run, at_mm)) => {
                self.selection = vec![run.into()];
                self.go_to(run.into());
                self.begin_naming(Named::Block(run, at_mm));
            }
            None => self.tell("Every block has a name already."),
        }
    }

    /// What a name is asked for, in words.
    fn named_words(&self, what: Named) -> String {
        let layout = self.doc.layout();
        match what {
            Named::Block(run, at_mm) => match self.derived.plan.block_at(run, at_mm) {
                Some(block) => self.derived.plan.block_name(layout, block),
                None => "the block".to_owned(),
            },
            Named::Thing(id) => names::entity_name(layout, id),
        }
    }

    /// Where a name is typed on the screen: above what it names, inside the canvas.
    fn naming_place(&self, what: Named) -> Pos2 {
        let at = match what {
            Named::Block(run, at_mm) => self.derived.curves.get(&run).map(|curve| {
                let pose = curve.at(at_mm);
                (pose.x_mm, pose.y_mm)
            }),
            Named::Thing(id) => self.derived.place(self.doc.layout(), id),
        };
        let view = self.canvas.shrink(12.0);
        let at = at.map_or(view.center_top(), |at| self.camera.to_screen(self.canvas, at));
        view.clamp(at - vec2(0.0, 14.0))
    }
}

/// The stretches of a run that lie in blocks, from and to, mm.
pub fn block_stretches(app: &App, run: RunId) -> Vec<(f64, f64)> {
    let blocks = app.derived.nets.get(&run).map_or(&[][..], |nets| &nets.blocks);
    let mut stretches: Vec<(usize, f64, f64)> = Vec::new();
    for stretch in blocks {
        let Some(block) = stretch.block else { continue };
        match stretches.last_mut() {
            // A frog between two stretches of one block is no border.
            Some(last) if last.0 == block => last.2 = stretch.to_mm,
            _ => stretches.push((block, stretch.from_mm, stretch.to_mm)),
        }
    }
    stretches.into_iter().map(|(_, from, to)| (from, to)).collect()
}

/// The names of the blocks that a run is in, each in a field.
pub fn block_names_ui(ui: &mut Ui, app: &mut App, run: RunId) {
    let stretches = block_stretches(app, run);
    let several = stretches.len() > 1;
    let units = app.camera.units;
    for (from, to) in stretches {
        let middle = f64::midpoint(from, to).round().clamp(from, to);
        let what = Named::Block(run, middle);
        let name = if several {
            format!("Block name, from {} to {}", units.mm(from), units.mm(to))
        } else {
            "Block name".to_owned()
        };
        if several {
            ui.label(small(ui, format!("From {} to {}", units.mm(from), units.mm(to))));
        }
        name_field_ui(ui, app, &name, what);
    }
}

/// A field for a name, which is given when it is entered or the field is left.
fn name_field_ui(ui: &mut Ui, app: &mut App, name: &str, what: Named) {
    let Named::Block(run, at_mm) = what else { return };
    let field = Id::unique(("block name", run, at_mm.to_bits()));
    let typed = app.naming.as_ref().filter(|naming| naming.field == field);
    let mut text = typed.map_or_else(|| app.name_now(what), |naming| naming.text.clone());
    let hint = small(ui, app.named_words(what));
    let mut form = Form::new(ui, "");
    let response: Response = form.row("Block name", |ui| {
        let edit = TextEdit::singleline(&mut text).id(field).hint_text(hint);
        ui.add(edit.desired_width(f32::INFINITY))
    });
    let response = response.accessible_name(name).on_hover_text(
        "Enter names the block of this stretch, all the way to its gaps; Escape keeps the old name",
    );
    if response.changed() {
        let focused = response.has_focus();
        app.naming = Some(Naming { what, text, field, over_plan: false, focused });
    }
}

/// The field over the plan, if a name is typed there; and what becomes of a name that is not typed any more.
pub fn naming_ui(ctx: &Context, app: &mut App) {
    let Some(mut naming) = app.naming.take() else { return };
    if naming.over_plan {
        let place = app.naming_place(naming.what);
        let words = app.named_words(naming.what);
        Area::new(Id::unique("naming"))
            .order(Order::Foreground)
            .pivot(Align2::CENTER_BOTTOM)
            .fixed_pos(place)
            .constrain_to(app.canvas)
            .show(ctx, |ui| over_plan_ui(ui, &mut naming, &words));
    }
    let has_focus = ctx.memory(|m| m.focused()) == Some(naming.field);
    if has_focus || (naming.over_plan && !naming.focused) {
        naming.focused |= has_focus;
        app.naming = Some(naming);
    } else if !ctx.input(|i| i.key_pressed(Key::Escape)) {
        app.rename(naming.what, &naming.text);
        ctx.request_repaint();
    }
}

fn over_plan_ui(ui: &mut Ui, naming: &mut Naming, words: &str) {
    let t = tokens(ui);
    card(t).stroke(Stroke::new(1.5, t.accent)).inner_margin(Margin::same(8)).show(ui, |ui| {
        ui.set_width(240.0);
        ui.label(small(ui, format!("Name of {words}")));
        let edit = TextEdit::singleline(&mut naming.text).id(naming.field);
        let field = ui
            .add(edit.hint_text(small(ui, "a name")).desired_width(f32::INFINITY))
            .accessible_name(format!("Name of {words}"));
        if !naming.focused {
            field.request_focus();
            let mut state = TextEdit::load_state(ui.ctx(), field.id).unwrap_or_default();
            let end = CCursor::new(naming.text.chars().count());
            state.cursor.set_char_range(Some(CCursorRange::two(CCursor::new(0), end)));
            state.store(ui.ctx(), field.id);
        }
        ui.label(small(ui, "Enter gives it, Escape keeps the old one."));
    });
}
