//! Particulars of track: joints, runs, cuts and names of blocks.

use eframe::egui::{Id, Ui};

use super::put;
use crate::app::form::{ANY, CELSIUS, DEGREE, FINE_MM, FROM_ZERO, Form, MM, ROOM};
use crate::app::theme::{SPACE, heading, length_units, small};
use crate::app::{App, card, names};
use crate::layout::edit::{Edit, Entity};
use crate::layout::laying::bent;
use crate::layout::{CutId, EntityId, Joiners, Joint, JointId, LabelId, Made, Rails, RunId, Shape};

pub(super) fn joint_ui(ui: &mut Ui, app: &mut App, id: JointId) {
    let Some(mut joint) = app.doc.layout().joints.get(&id).cloned() else { return };
    let mut form = Form::new(ui, "Joint");
    form.number("x", &mut joint.x_mm, MM, ANY);
    form.number("y", &mut joint.y_mm, MM, ANY);
    let changed = form.changed;
    put(app, changed, "move a joint", Entity::Joint(joint.clone()));
    let mut form = Form::new(ui, "Joint");
    form.choice("Rail joiners", &mut joint.joiners, &joiners_choices()).on_hover_text(
        "A plain joiner may open; a soldered one holds the rails, a bond lets them slide",
    );
    let changed = form.changed;
    put(app, changed, "change rail joiners", Entity::Joint(joint));
    let runs: Vec<RunId> = app
        .doc
        .layout()
        .runs
        .values()
        .filter(|r| r.from == id || r.to == id)
        .map(|r| r.id)
        .collect();
    ui.add_space(SPACE);
    ui.label(small(ui, "Runs that end here"));
    if runs.len() == 2 {
        crate::app::top_bar::action_button(ui, app, "Join the runs at a joint");
    }
    ui.horizontal_wrapped(|ui| {
        for run in runs {
            if ui.button(app.called(run.into())).clicked() {
                app.select(run.into());
            }
        }
    });
}

#[derive(Clone, Copy, PartialEq)]
enum ShapeWord {
    Straight,
    Arc,
    Cubic,
}

pub(super) fn run_ui(ui: &mut Ui, app: &mut App, id: RunId) {
    let layout = app.doc.layout();
    let Some(mut run) = layout.runs.get(&id).cloned() else { return };
    crate::app::naming::block_names_ui(ui, app, id);
    ui.add_space(SPACE);
    let layout = app.doc.layout();
    let (from, to) = (layout.joints.get(&run.from).cloned(), layout.joints.get(&run.to).cloned());
    let (length, drawn) =
        app.derived.curves.get(&id).map_or((0.0, 0.0), |c| (c.length_mm(), c.drawn_mm()));
    for (label, joint) in [("Start", from.clone()), ("End", to.clone())] {
        let Some(mut joint) = joint else { continue };
        let mut form = Form::new(ui, "Run");
        form.number(&format!("{label} x"), &mut joint.x_mm, MM, ANY);
        form.number(&format!("{label} y"), &mut joint.y_mm, MM, ANY);
        let changed = form.changed;
        put(app, changed, "move a joint", Entity::Joint(joint));
    }
    let mut form = Form::new(ui, "Run");
    let at = |joint: Option<&Joint>| joint.map_or((0.0, 0.0), |joint| (joint.x_mm, joint.y_mm));
    shape_form(&mut form, &mut run.shape, at(from.as_ref()), at(to.as_ref()));
    form.optional_number(
        "Measured length",
        &mut run.length_mm,
        drawn.round().max(1.0),
        MM,
        1.0..=1e7,
    );
    let changed = form.changed;
    put(app, changed, "change a run", Entity::Run(run));
    drawn_ui(ui, app, id);
    ui.add_space(SPACE);
    split_ui(ui, app, id, length);
    crate::app::bulk::parallel_ui(ui, app);
    ui.add_space(SPACE);
    let on_run: Vec<EntityId> = things_on(app, id);
    if !on_run.is_empty() {
        ui.label(small(ui, "On this run"));
        for thing in on_run {
            if ui.button(app.called(thing)).clicked() {
                app.select(thing);
            }
        }
    }
}

/// The shape of a run between two places, mm.
fn shape_form(form: &mut Form<'_>, shape: &mut Shape, from: (f64, f64), to: (f64, f64)) {
    let mut word = match *shape {
        Shape::Straight => ShapeWord::Straight,
        Shape::Arc { .. } => ShapeWord::Arc,
        Shape::Cubic { .. } => ShapeWord::Cubic,
    };
    let was = word;
    let shapes = [
        (ShapeWord::Straight, "Straight".to_owned()),
        (ShapeWord::Arc, "Arc".to_owned()),
        (ShapeWord::Cubic, "Cubic".to_owned()),
    ];
    form.choice("Shape", &mut word, &shapes);
    if word != was {
        let point =
            |share: f64| (from.0 + (to.0 - from.0) * share, from.1 + (to.1 - from.1) * share);
        *shape = match word {
            ShapeWord::Straight => Shape::Straight,
            ShapeWord::Arc => Shape::Arc { bend_deg: 45.0 },
            ShapeWord::Cubic => Shape::Cubic { c1: point(1.0 / 3.0), c2: point(2.0 / 3.0) },
        };
    }
    match shape {
        Shape::Straight => {}
        Shape::Arc { bend_deg } => {
            let mut bend = *bend_deg;
            form.number("Bend", &mut bend, DEGREE, -359.0..=359.0)
                .on_hover_text("How far it turns between its ends; left is positive");
            if bend != *bend_deg {
                *shape = bent(bend);
            }
        }
        Shape::Cubic { c1, c2 } => {
            form.number("Control 1 x", &mut c1.0, MM, ANY);
            form.number("Control 1 y", &mut c1.1, MM, ANY);
            form.number("Control 2 x", &mut c2.0, MM, ANY);
            form.number("Control 2 y", &mut c2.1, MM, ANY);
        }
    }
}

/// The length and the radius of a run as it is drawn, with a mark where it is tighter than it may be.
fn drawn_ui(ui: &mut Ui, app: &App, id: RunId) {
    if let Some(curve) = app.derived.curves.get(&id) {
        let least = app.tools.lay.least_radius_mm(app.doc.layout());
        let (words, tight) = crate::app::lay::measures(curve, least, length_units(ui));
        let words = format!("Drawn: {words}");
        if tight {
            ui.horizontal_wrapped(|ui| {
                crate::app::marks::mark_ui(ui, crate::findings::Verdict::Caution, 6.0);
                ui.label(words);
            });
        } else {
            ui.label(small(ui, words));
        }
    }
}

fn things_on(app: &App, id: RunId) -> Vec<EntityId> {
    let layout = app.doc.layout();
    let cuts = layout.cuts.values().filter(|c| c.run == id).map(|c| c.id.into());
    let feeds = layout.feeds.values().filter(|f| f.run == id).map(|f| f.id.into());
    let labels = layout.labels.values().filter(|l| l.run == id).map(|l| l.id.into());
    cuts.chain(feeds).chain(labels).collect()
}

/// Splits a run at a typed distance along it.
fn split_ui(ui: &mut Ui, app: &mut App, id: RunId, length: f64) {
    ui.label(heading("At a distance along it"));
    let at_id = Id::unique(("at on run", id));
    let mut at = ui.data(|d| d.get_temp::<f64>(at_id)).unwrap_or((length / 2.0).round());
    let mut form = Form::new(ui, "");
    form.number("Distance", &mut at, MM, FROM_ZERO);
    if ui.button("Split the run").on_hover_text("Makes two runs with a joint between").clicked() {
        app.edit("split a run", Edit::Split { run: id, at_mm: at });
    }
    ui.data_mut(|d| d.insert_temp(at_id, at));
}

fn joiners_choices() -> [(Joiners, String); 3] {
    [
        (Joiners::Plain, "Plain".to_owned()),
        (Joiners::Soldered, "Soldered".to_owned()),
        (Joiners::Bonded, "Bonded by a wire".to_owned()),
    ]
}

fn made_choices() -> [(Made, String); 3] {
    [
        (Made::Open, "Open".to_owned()),
        (Made::Filled, "Filled".to_owned()),
        (Made::InsulatedJoiner, "Insulated joiner".to_owned()),
    ]
}

pub(super) fn cut_ui(ui: &mut Ui, app: &mut App, id: CutId) {
    let Some(cut) = app.doc.layout().cuts.get(&id).cloned() else { return };
    card::card_ui(ui, app, id);
    ui.add_space(SPACE);
    ui.separator();
    ui.label(heading("Particulars"));
    let mut new = cut;
    let mut form = Form::new(ui, "Cut particulars");
    form.text("Name", &mut new.name, "a name for the gap");
    form.number("At", &mut new.at_mm, MM, FROM_ZERO)
        .on_hover_text("Distance along the run from its start");
    form.choice("Rails", &mut new.rails, &names::rails_choices());
    if new.rails == Rails::Both {
        form.number("Stagger", &mut new.stagger_mm, MM, ANY)
            .on_hover_text("How much farther along the run the right rail is cut than the left");
    } else {
        new.stagger_mm = 0.0;
    }
    form.number("Width", &mut new.width_mm, FINE_MM, FROM_ZERO);
    form.choice("Made", &mut new.made, &made_choices());
    form.optional_number("Cut at", &mut new.cut_at_c, 20.0, CELSIUS, ROOM);
    form.hint("Temperature of the room when it was cut: from there on the rails grow.");
    form.notes("Notes", &mut new.notes);
    let changed = form.changed;
    let run = new.run;
    put(app, changed, "change a cut", Entity::Cut(new));
    ui.add_space(SPACE);
    if ui.button(app.called(run.into())).clicked() {
        app.select(run.into());
    }
}

pub(super) fn label_ui(ui: &mut Ui, app: &mut App, id: LabelId) {
    let Some(mut label) = app.doc.layout().labels.get(&id).cloned() else { return };
    let mut form = Form::new(ui, "Block");
    form.text("Name", &mut label.name, "a name for the block");
    form.number("At", &mut label.at_mm, MM, FROM_ZERO);
    let changed = form.changed;
    put(app, changed, "change a block's name", Entity::Label(label));
}
