//! The particulars of what is selected: every value of it, to read and to change.

use eframe::egui::{self, Id, Ui};

use super::App;
use super::card;
use super::form::{
    AMPERE, ANY, CELSIUS, DEGREE, FINE_MM, FROM_ZERO, Form, HERTZ, METRE, MM, MM_PER_S, MM2, MS,
    NUMBER, OHM, PERCENT, ROOM, SECOND, UF, US, VOLT,
};
use super::names;
use super::theme::{SPACE, heading, length_units, small};
use super::tools::caution_ui;
use crate::layout::edit::{Edit, Entity};
use crate::layout::laying::bent;
use crate::layout::wire::may_carry_a;
use crate::layout::{
    AfterTrip, Axle, Clock, CutId, Drive, DriverId, EntityId, FeedId, Idle, InputLine, InputTable,
    Joiners, JointId, LabelId, Limit, LimitKind, Load, Made, Quantity, Rails, RunId, Senses, Shape,
    SharedNegative, SupplyId, Trip, TripKind, TripPoint, TripPoints, VehicleId, Wheel, Wire,
    WireSize, default_tie_ohm,
};

/// The panel.
pub fn particulars_ui(ui: &mut Ui, app: &mut App) {
    match app.selection.as_slice() {
        [] => {
            ui.label("Nothing is selected.");
            ui.label(small(
                ui,
                "Click a run, a gap, a feed or a joint on the canvas, a throttle's name below it, or anything in the \
                 list under Layout.",
            ));
        }
        [one] => {
            let id = *one;
            header_ui(ui, app, id);
            ui.push_id(id, |ui| match id {
                EntityId::Joint(id) => joint_ui(ui, app, id),
                EntityId::Run(id) => run_ui(ui, app, id),
                EntityId::Cut(id) => cut_ui(ui, app, id),
                EntityId::Label(id) => label_ui(ui, app, id),
                EntityId::Supply(id) => supply_ui(ui, app, id),
                EntityId::Driver(id) => driver_ui(ui, app, id),
                EntityId::Feed(id) => feed_ui(ui, app, id),
                EntityId::Vehicle(id) => vehicle_ui(ui, app, id),
                EntityId::Special(id) => super::special_form::special_ui(ui, app, id),
                EntityId::Device(id) => super::special_form::device_ui(ui, app, id),
                EntityId::Bond(id) => super::special_form::bond_ui(ui, app, id),
                EntityId::Train(id) => super::train::train_ui(ui, app, id),
                EntityId::Lineup(id) => super::lineups::lineup_ui(ui, app, id),
                EntityId::Picture(id) => super::picture_form::picture_ui(ui, app, id),
            });
            if let EntityId::Driver(_) | EntityId::Supply(_) | EntityId::Vehicle(_) = id {
                super::presets::keep_ui(ui, app, id);
            }
        }
        _ => super::bulk::many_ui(ui, app),
    }
}

fn header_ui(ui: &mut Ui, app: &mut App, id: EntityId) {
    ui.horizontal(|ui| {
        ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
            if ui
                .button("Delete")
                .on_hover_text("Delete it and what depends on it (Delete)")
                .clicked()
            {
                app.delete_selected();
            }
            let drawn = app.derived.place(app.doc.layout(), id).is_some();
            if drawn && ui.button("Go there").clicked() {
                app.go_to(id);
            }
            ui.with_layout(egui::Layout::left_to_right(egui::Align::Center), |ui| {
                let name = heading(names::entity_name(app.doc.layout(), id)).size(16.0);
                ui.add(egui::Label::new(name).truncate());
            });
        });
    });
    ui.add_space(SPACE);
}

/// Puts a changed entity back, as one step per field and gesture.
pub(super) fn put(
    app: &mut App,
    form_changed: Option<super::form::Changed>,
    what: &str,
    entity: Entity,
) {
    if let Some(changed) = form_changed {
        let field = changed.flowing.then_some(changed.field);
        app.edit_field(what, Edit::Replace(entity), field);
    }
}

fn joint_ui(ui: &mut Ui, app: &mut App, id: JointId) {
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
        super::top_bar::action_button(ui, app, "Join the runs at a joint");
    }
    ui.horizontal_wrapped(|ui| {
        for run in runs {
            if ui.button(format!("Run {run}")).clicked() {
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

fn run_ui(ui: &mut Ui, app: &mut App, id: RunId) {
    let layout = app.doc.layout();
    let Some(mut run) = layout.runs.get(&id).cloned() else { return };
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
    let mut word = match run.shape {
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
        let (a, b) = (from.as_ref(), to.as_ref());
        let point = |share: f64| match (a, b) {
            (Some(a), Some(b)) => {
                (a.x_mm + (b.x_mm - a.x_mm) * share, a.y_mm + (b.y_mm - a.y_mm) * share)
            }
            _ => (0.0, 0.0),
        };
        run.shape = match word {
            ShapeWord::Straight => Shape::Straight,
            ShapeWord::Arc => Shape::Arc { bend_deg: 45.0 },
            ShapeWord::Cubic => Shape::Cubic { c1: point(1.0 / 3.0), c2: point(2.0 / 3.0) },
        };
    }
    match &mut run.shape {
        Shape::Straight => {}
        Shape::Arc { bend_deg } => {
            let mut bend = *bend_deg;
            form.number("Bend", &mut bend, DEGREE, -359.0..=359.0)
                .on_hover_text("How far it turns between its ends; left is positive");
            if bend != *bend_deg {
                run.shape = bent(bend);
            }
        }
        Shape::Cubic { c1, c2 } => {
            form.number("Control 1 x", &mut c1.0, MM, ANY);
            form.number("Control 1 y", &mut c1.1, MM, ANY);
            form.number("Control 2 x", &mut c2.0, MM, ANY);
            form.number("Control 2 y", &mut c2.1, MM, ANY);
        }
    }
    form.optional_number(
        "Measured length",
        &mut run.length_mm,
        drawn.round().max(1.0),
        MM,
        1.0..=1e7,
    );
    let changed = form.changed;
    put(app, changed, "change a run", Entity::Run(run));
    if let Some(curve) = app.derived.curves.get(&id) {
        let least = app.tools.lay.least_radius_mm(app.doc.layout());
        let (words, tight) = super::lay::measures(curve, least, length_units(ui));
        let words = format!("Drawn: {words}");
        if tight {
            ui.horizontal_wrapped(|ui| {
                super::marks::mark_ui(ui, crate::findings::Verdict::Caution, 6.0);
                ui.label(words);
            });
        } else {
            ui.label(small(ui, words));
        }
    }
    ui.add_space(SPACE);
    at_commands_ui(ui, app, id, length);
    super::bulk::parallel_ui(ui, app);
    ui.add_space(SPACE);
    let on_run: Vec<EntityId> = things_on(app, id);
    if !on_run.is_empty() {
        ui.label(small(ui, "On this run"));
        for thing in on_run {
            if ui.button(names::entity_name(app.doc.layout(), thing)).clicked() {
                app.select(thing);
            }
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

/// Commands at a typed distance along a run: name the block, split the run.
fn at_commands_ui(ui: &mut Ui, app: &mut App, id: RunId, length: f64) {
    ui.label(heading("At a distance along it"));
    let at_id = Id::unique(("at on run", id));
    let name_id = Id::unique(("block name on run", id));
    let mut at = ui.data(|d| d.get_temp::<f64>(at_id)).unwrap_or((length / 2.0).round());
    let mut name = ui.data(|d| d.get_temp::<String>(name_id)).unwrap_or_default();
    let mut form = Form::new(ui, "");
    form.number("Distance", &mut at, MM, FROM_ZERO);
    form.text("Block name", &mut name, "for the block at this place");
    ui.horizontal(|ui| {
        if ui.button("Name the block").clicked() {
            let edit = Edit::Name { run: id, at_mm: at, name: name.trim().to_owned() };
            if app.edit("name a block", edit).is_some() {
                name.clear();
            }
        }
        if ui.button("Split the run").on_hover_text("Makes two runs with a joint between").clicked()
        {
            app.edit("split a run", Edit::Split { run: id, at_mm: at });
        }
    });
    ui.data_mut(|d| {
        d.insert_temp(at_id, at);
        d.insert_temp(name_id, name);
    });
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

fn cut_ui(ui: &mut Ui, app: &mut App, id: CutId) {
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
    if ui.button(format!("Run {run}")).clicked() {
        app.select(run.into());
    }
}

fn label_ui(ui: &mut Ui, app: &mut App, id: LabelId) {
    let Some(mut label) = app.doc.layout().labels.get(&id).cloned() else { return };
    let mut form = Form::new(ui, "Block");
    form.text("Name", &mut label.name, "a name for the block");
    form.number("At", &mut label.at_mm, MM, FROM_ZERO);
    let changed = form.changed;
    put(app, changed, "change a block's name", Entity::Label(label));
}

fn feed_ui(ui: &mut Ui, app: &mut App, id: FeedId) {
    let Some(mut feed) = app.doc.layout().feeds.get(&id).cloned() else { return };
    let mut form = Form::new(ui, "Feed particulars");
    form.choice("Driver", &mut feed.driver, &names::origin_choices(app.doc.layout()));
    form.choice("P to", &mut feed.p, &names::rail_choices());
    form.choice("M to", &mut feed.m, &names::rail_choices());
    form.choice("Run", &mut feed.run, &names::run_choices(app.doc.layout()));
    form.number("At", &mut feed.at_mm, MM, FROM_ZERO);
    wire_form(&mut form, &mut feed.wire);
    form.optional_quantity("Resistance", &mut feed.ohm, 0.1, OHM, FROM_ZERO);
    form.hint("Resistance of one leg; it overrides the wire's.");
    let changed = form.changed;
    let (driver, run) = (feed.driver, feed.run);
    put(app, changed, "change a feed", Entity::Feed(feed));
    ui.add_space(SPACE);
    ui.horizontal(|ui| {
        if ui.button("Swap P and M").on_hover_text("Exchanges the two rails").clicked() {
            app.edit("swap a feed", Edit::Swap { feed: id });
        }
        if ui.button("Show its driver").clicked() {
            app.select(driver.into());
        }
        if ui.button(format!("Run {run}")).clicked() {
            app.select(run.into());
        }
    });
}

#[derive(Clone, Copy, PartialEq)]
enum WireWord {
    None,
    Awg,
    Mm2,
}

fn wire_form(form: &mut Form<'_>, wire: &mut Option<Wire>) {
    let mut word = match wire.map(|w| w.size) {
        None => WireWord::None,
        Some(WireSize::Awg(_)) => WireWord::Awg,
        Some(WireSize::Mm2(_)) => WireWord::Mm2,
    };
    let was = word;
    let choices = [
        (WireWord::None, "Not stated".to_owned()),
        (WireWord::Awg, "By AWG number".to_owned()),
        (WireWord::Mm2, "By cross-section".to_owned()),
    ];
    form.choice("Wire", &mut word, &choices);
    if word != was {
        let (length_m, rating_a) = wire.map_or((1.0, None), |w| (w.length_m, w.rating_a));
        *wire = match word {
            WireWord::None => None,
            WireWord::Awg => Some(Wire { size: WireSize::Awg(20), length_m, rating_a }),
            WireWord::Mm2 => Some(Wire { size: WireSize::Mm2(0.5), length_m, rating_a }),
        };
    }
    if let Some(wire) = wire {
        match &mut wire.size {
            WireSize::Awg(n) => {
                form.whole("AWG", n, 0..=40);
            }
            WireSize::Mm2(area) => {
                form.number("Cross-section", area, MM2, 0.001..=1e3);
            }
        }
        form.number("Length of a leg", &mut wire.length_m, METRE, FROM_ZERO);
        let usual = may_carry_a(wire.size);
        form.optional_quantity("May carry", &mut wire.rating_a, usual, AMPERE, FROM_ZERO);
    }
}

fn supply_ui(ui: &mut Ui, app: &mut App, id: SupplyId) {
    let Some(mut supply) = app.doc.layout().supplies.get(&id).cloned() else { return };
    let word = if supply.powered { "Switch off" } else { "Switch on" };
    ui.horizontal(|ui| {
        ui.label(if supply.powered { "Switched on" } else { "Switched off" });
        if ui.button(word).clicked() {
            app.edit(&word.to_lowercase(), Edit::Power { supply: id, on: !supply.powered });
        }
    });
    let mut form = Form::new(ui, "Supply");
    form.text("Name", &mut supply.name, "a name for the supply");
    form.quantity("Open voltage", &mut supply.open_v, VOLT, 0.0..=1e4);
    form.quantity("Source resistance", &mut supply.source_ohm, OHM, FROM_ZERO);
    limit_form(&mut form, &mut supply.limit);
    form.optional_quantity("Bulk capacitance", &mut supply.bulk_f, 1e-3, UF, FROM_ZERO);
    form.optional_quantity("Its resistance", &mut supply.bulk_ohm, 0.05, OHM, FROM_ZERO);
    form.tick("Can take current back", &mut supply.can_sink)
        .on_hover_text("A battery can, an ordinary regulated supply cannot");
    negative_form(&mut form, &mut supply.negative);
    form.optional_quantity("Bearable voltage", &mut supply.bearable_v, 30.0, VOLT, FROM_ZERO);
    form.tick("Split: a midpoint between two halves", &mut supply.split);
    form.tick("Switched by itself while others stay on", &mut supply.separately_switched);
    form.notes("Notes", &mut supply.notes);
    let changed = form.changed;
    put(app, changed, "change a supply", Entity::Supply(supply));
    ui.add_space(SPACE);
    caution_ui(
        ui,
        "Anything on the mains side of a supply can kill. Buy it closed and certified; leave mains wiring, earthing and \
         fusing to a licensed electrician and to the electrical code of your place. This tool computes the \
         low-voltage side only.",
    );
    let drivers: Vec<DriverId> =
        app.doc.layout().drivers.values().filter(|d| d.supply == id).map(|d| d.id).collect();
    ui.add_space(SPACE);
    ui.label(small(ui, "Drivers on it"));
    for driver in drivers {
        if ui.button(names::entity_name(app.doc.layout(), driver.into())).clicked() {
            app.select(driver.into());
        }
    }
}

fn limit_form(form: &mut Form<'_>, limit: &mut Option<Limit>) {
    let mut on = limit.is_some();
    if form.tick("Has a sustained current limit", &mut on).changed() {
        *limit = on.then(|| Limit { amps: Quantity::given(3.0), kind: LimitKind::Constant });
    }
    if let Some(limit) = limit {
        form.quantity("Limit", &mut limit.amps, AMPERE, FROM_ZERO);
        let kinds = [
            (LimitKind::Constant, "Holds it".to_owned()),
            (LimitKind::FoldBack, "Folds back".to_owned()),
            (LimitKind::Hiccup, "Off, then tries again".to_owned()),
        ];
        form.choice("At the limit", &mut limit.kind, &kinds);
    }
}

fn negative_form(form: &mut Form<'_>, negative: &mut Option<SharedNegative>) {
    let mut shared = negative.is_some();
    let tick = form.tick("Negative is tied to a shared one", &mut shared).on_hover_text(
        "A controller board's ground, mains earth, a booster common. Hidden ties count.",
    );
    if tick.changed() {
        *negative =
            shared.then(|| SharedNegative { name: "ground".to_owned(), ohm: default_tie_ohm() });
    }
    if let Some(negative) = negative {
        form.text("Tied to", &mut negative.name, "supplies that name the same are joined");
        form.quantity("Tie resistance", &mut negative.ohm, OHM, FROM_ZERO);
    }
}

/// A kind of drive without its values.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum DriveWord {
    Pwm,
    Smooth,
    Dcc,
    Split,
    Nothing,
}

fn drive_word(drive: &Drive) -> DriveWord {
    match drive {
        Drive::PwmBridge { .. } => DriveWord::Pwm,
        Drive::SmoothDc { .. } => DriveWord::Smooth,
        Drive::DccBooster { .. } => DriveWord::Dcc,
        Drive::SplitHalfBridge { .. } => DriveWord::Split,
        Drive::Nothing => DriveWord::Nothing,
    }
}

fn driver_ui(ui: &mut Ui, app: &mut App, id: DriverId) {
    let Some(mut driver) = app.doc.layout().drivers.get(&id).cloned() else { return };
    let mut form = Form::new(ui, "Driver");
    form.text("Name", &mut driver.name, "a name for the driver");
    form.choice("Supply", &mut driver.supply, &names::supply_choices(app.doc.layout()));
    let word = drive_word(&driver.drive);
    let mut chosen = word;
    let kinds = super::equipment::KINDS.map(|(kind, words)| (kind, words.to_owned()));
    form.choice("Kind of drive", &mut chosen, &kinds);
    let rebuilt = chosen != word;
    drive_form(&mut form, &mut driver.drive);
    form.ui.add_space(SPACE);
    form.ui.label(heading("Switches"));
    form.quantity("High switch", &mut driver.high_ohm, OHM, FROM_ZERO);
    form.quantity("Low switch", &mut driver.low_ohm, OHM, FROM_ZERO);
    form.quantity("Diode voltage", &mut driver.diode_v, VOLT, FROM_ZERO);
    form.quantity("Diode resistance", &mut driver.diode_ohm, OHM, FROM_ZERO);
    form.optional_quantity("Rating", &mut driver.rating_a, 2.0, AMPERE, FROM_ZERO);
    form.ui.add_space(SPACE);
    form.ui.label(heading("Trip"));
    trip_form(&mut form, &mut driver.trip);
    form.ui.add_space(SPACE);
    form.number("Lowest throttle", &mut driver.lowest_throttle, PERCENT, 0.0..=1.0)
        .on_hover_text("Below it nothing moves");
    form.optional_quantity("Wakes up at", &mut driver.wake_v, 5.0, VOLT, FROM_ZERO);
    form.tick("Switched off by itself while others stay on", &mut driver.separately_switched);
    form.notes("Notes", &mut driver.notes);
    let changed = form.changed;
    if rebuilt {
        app.change_kind(id, chosen);
    } else {
        put(app, changed, "change a driver", Entity::Driver(driver));
    }
}

fn clock_form(form: &mut Form<'_>, clock: &mut Clock) {
    form.number("PWM frequency", &mut clock.hz, HERTZ, 0.1..=1e6);
    form.number("Tolerance", &mut clock.tolerance, PERCENT, 0.0..=0.5)
        .on_hover_text("How far the real frequency may be off");
    let mut shared = clock.shared.is_some();
    if form.tick("Runs from a clock that others share", &mut shared).changed() {
        clock.shared = shared.then(|| "board".to_owned());
        clock.phase = None;
    }
    if let Some(name) = &mut clock.shared {
        form.text("Clock", name, "drivers that name the same run from the same");
        form.optional_number("Phase", &mut clock.phase, 0.0, PERCENT, 0.0..=1.0);
    }
}

/// The control inputs of a bridge, if its idle state follows from them.
fn inputs_form(form: &mut Form<'_>, idle: &mut Idle) {
    let Idle::ByInputs { table, forward, reverse, first_inverted, second_inverted } = idle else {
        return;
    };
    let tables = [
        (InputTable::TwoInput, "Two inputs".to_owned()),
        (InputTable::EnablePhase, "Enable and phase".to_owned()),
    ];
    form.choice("Truth table", table, &tables);
    let lines = [(InputLine::First, "First".to_owned()), (InputLine::Second, "Second".to_owned())];
    for (way, driven) in [("Forward", forward), ("Reverse", reverse)] {
        form.choice(&format!("{way}: PWM on"), &mut driven.pwm, &lines);
        form.tick(&format!("{way}: the other input is high"), &mut driven.other_high);
    }
    form.tick("First input's line is inverted", first_inverted);
    form.tick("Second input's line is inverted", second_inverted);
}

fn drive_form(form: &mut Form<'_>, drive: &mut Drive) {
    let choices = names::idle_choices(drive);
    match drive {
        Drive::PwmBridge { clock, idle } | Drive::SplitHalfBridge { clock, idle } => {
            form.choice("Idle state", idle, &choices).on_hover_text(names::IDLE_HELP);
            inputs_form(form, idle);
            clock_form(form, clock);
        }
        Drive::SmoothDc { output_ohm, can_sink, clamped_at_zero } => {
            form.quantity("Output resistance", output_ohm, OHM, FROM_ZERO);
            form.tick("Output can take current back", can_sink);
            form.tick("Clamps its rails at zero throttle", clamped_at_zero);
        }
        Drive::DccBooster { station, swapped, skew_s, stretched_zeros, half_bits } => {
            form.text("Command station", station, "whose signal it follows");
            form.tick("Swapped against the station", swapped);
            form.number("Delay", skew_s, US, 0.0..=1e-2)
                .on_hover_text("Against the station's signal");
            form.tick("Stretched zeros are allowed", stretched_zeros);
            form.number("Shortest half of a one", &mut half_bits.shortest_one_s, US, 1e-5..=0.1);
            let usual = half_bits.zero_s(*stretched_zeros);
            let longest = &mut half_bits.longest_zero_s;
            form.optional_number("Longest half of a zero", longest, usual, US, 1e-5..=0.1);
        }
        Drive::Nothing => form.hint("The rails float."),
    }
}

fn trip_form(form: &mut Form<'_>, trip: &mut Option<Trip>) {
    let mut on = trip.is_some();
    if form.tick("Trips on overcurrent", &mut on).changed() {
        *trip = on.then(|| Trip {
            amps: Quantity::given(3.0),
            senses: Senses::LargerLeg,
            signed: false,
            kind: TripKind::Instant { blanking_s: 100e-6 },
            then: AfterTrip::HighImpedance,
            retry_s: Some(2.0),
        });
    }
    let Some(trip) = trip else { return };
    let amps = match trip.kind {
        TripKind::Thermal { .. } => "Rated",
        TripKind::Chopping => "Limit",
        _ => "Threshold",
    };
    form.quantity(amps, &mut trip.amps, AMPERE, 0.001..=1e4);
    let senses = [
        (Senses::SupplyLead, "Supply lead"),
        (Senses::GroundReturn, "Ground return"),
        (Senses::LegP, "Output P"),
        (Senses::LegM, "Output M"),
        (Senses::LargerLeg, "Larger output"),
        (Senses::HighSwitchP, "High switch of P"),
        (Senses::LowSwitchP, "Low switch of P"),
        (Senses::HighSwitchM, "High switch of M"),
        (Senses::LowSwitchM, "Low switch of M"),
    ]
    .map(|(v, w)| (v, w.to_owned()));
    form.choice("Senses in", &mut trip.senses, &senses);
    form.tick("Only the usual direction counts", &mut trip.signed);
    trip_kind_form(form, &mut trip.kind);
    if trip.kind == TripKind::Chopping {
        trip.retry_s = None;
        form.hint("It never trips: the train crawls.");
        return;
    }
    let then = [
        (AfterTrip::HighImpedance, "High-impedance"),
        (AfterTrip::BrakeLow, "Brake-low"),
        (AfterTrip::BrakeHigh, "Brake-high"),
    ]
    .map(|(v, w)| (v, w.to_owned()));
    form.choice("Then", &mut trip.then, &then);
    form.optional_number("Tries again after", &mut trip.retry_s, 2.0, MS, 0.0..=3600.0);
}

#[derive(Clone, Copy, PartialEq)]
enum TripWord {
    Instant,
    Sampled,
    Averaged,
    Thermal,
    Chopping,
}

pub(super) fn trip_kind_form(form: &mut Form<'_>, kind: &mut TripKind) {
    let mut word = match kind {
        TripKind::Instant { .. } => TripWord::Instant,
        TripKind::Sampled { .. } => TripWord::Sampled,
        TripKind::Averaged { .. } => TripWord::Averaged,
        TripKind::Thermal { .. } => TripWord::Thermal,
        TripKind::Chopping => TripWord::Chopping,
    };
    let was = word;
    let kinds = [
        (TripWord::Instant, "At once".to_owned()),
        (TripWord::Sampled, "By samples".to_owned()),
        (TripWord::Averaged, "By an average".to_owned()),
        (TripWord::Thermal, "By heat, as a fuse".to_owned()),
        (TripWord::Chopping, "Never: it chops".to_owned()),
    ];
    form.choice("Decides", &mut word, &kinds);
    if word != was {
        *kind = match word {
            TripWord::Instant => TripKind::Instant { blanking_s: 100e-6 },
            TripWord::Sampled => TripKind::Sampled { every_s: 1e-3, in_a_row: 3, locked_at: None },
            TripWord::Averaged => TripKind::Averaged { tau_s: 0.1 },
            TripWord::Thermal => TripKind::Thermal { points: TripPoints::quick_acting() },
            TripWord::Chopping => TripKind::Chopping,
        };
    }
    match kind {
        TripKind::Instant { blanking_s } => {
            form.number("Blanking time", blanking_s, US, 0.0..=10.0);
        }
        TripKind::Sampled { every_s, in_a_row, locked_at } => {
            form.number("Every", every_s, MS, 1e-6..=10.0);
            form.whole("In a row", in_a_row, 1..=1000);
            form.optional_number("Locked to PWM at", locked_at, 0.5, PERCENT, 0.0..=1.0);
        }
        TripKind::Averaged { tau_s } => {
            form.number("Time constant", tau_s, MS, 1e-6..=100.0);
        }
        TripKind::Thermal { points } => trip_points_form(form, points),
        TripKind::Chopping => {}
    }
}

fn trip_points_form(form: &mut Form<'_>, points: &mut TripPoints) {
    form.hint("From the least current at which it ever acts; more current acts sooner.");
    // Each point stays between its neighbours, or the curve would make no sense.
    for at in 0..points.len() {
        let (before, after) = (at.checked_sub(1).map(|b| points[b]), points.get(at + 1).copied());
        let times =
            before.map_or(0.001, |b| b.times * 1.001)..=after.map_or(1000.0, |a| a.times / 1.001);
        let seconds =
            after.map_or(1e-6, |a| a.after_s * 1.001)..=before.map_or(1e6, |b| b.after_s / 1.001);
        let point = &mut points[at];
        form.number(&format!("Point {}: times", at + 1), &mut point.times, NUMBER, times);
        form.number(&format!("Point {}: after", at + 1), &mut point.after_s, SECOND, seconds);
    }
    let mut count = points.len() as u32;
    form.whole("Points", &mut count, 1..=TripPoints::MOST as u32);
    while (points.len() as u32) > count {
        points.pop();
    }
    // A new one goes on with constant I²t.
    while let Some(last) = points.last().copied().filter(|_| (points.len() as u32) < count) {
        points.push(TripPoint { times: 2.0 * last.times, after_s: last.after_s / 4.0 });
    }
}

#[derive(Clone, Copy, PartialEq)]
enum LoadWord {
    Nothing,
    Resistor,
    Motor,
    Rectifier,
}

fn vehicle_ui(ui: &mut Ui, app: &mut App, id: VehicleId) {
    let Some(mut vehicle) = app.doc.layout().vehicles.get(&id).cloned() else { return };
    let mut form = Form::new(ui, "Vehicle");
    form.text("Name", &mut vehicle.name, "a name for the vehicle");
    form.number("Length", &mut vehicle.length_mm, MM, 1.0..=1e5).on_hover_text("Over couplers");
    form.number("Least speed", &mut vehicle.speed.from_mm_s, MM_PER_S, 0.1..=1e5);
    form.number("Largest speed", &mut vehicle.speed.to_mm_s, MM_PER_S, 0.1..=1e5);
    form.number("Contact, clean", &mut vehicle.contact_ohm.low, OHM, 1e-6..=1e3)
        .on_hover_text("Contact resistance of one wheel");
    form.number("Contact, dirty", &mut vehicle.contact_ohm.high, OHM, 1e-6..=1e3);
    form.number("Contact patch", &mut vehicle.patch_mm, FINE_MM, 0.0..=50.0);
    form.number("Tread width", &mut vehicle.tread_mm, FINE_MM, 0.1..=50.0);
    form.optional_quantity("Wiring bears", &mut vehicle.wiring_a, 2.0, AMPERE, FROM_ZERO);
    form.tick("Pickups of one side are joined", &mut vehicle.pickups_joined)
        .on_hover_text("Otherwise every wheelset feeds a load of its own");
    load_form(&mut form, &mut vehicle.load);
    form.ui.add_space(SPACE);
    form.ui.label(heading("Wheelsets, front to rear"));
    axles_form(&mut form, &mut vehicle.axles);
    form.notes("Notes", &mut vehicle.notes);
    let changed = form.changed;
    put(app, changed, "change a vehicle", Entity::Vehicle(vehicle));
}

fn load_form(form: &mut Form<'_>, load: &mut Load) {
    let mut word = match load {
        Load::Nothing => LoadWord::Nothing,
        Load::Resistor { .. } => LoadWord::Resistor,
        Load::Motor { .. } => LoadWord::Motor,
        Load::Rectifier { .. } => LoadWord::Rectifier,
    };
    let was = word;
    let words = [
        (LoadWord::Nothing, "Nothing".to_owned()),
        (LoadWord::Resistor, "A resistance (lamps)".to_owned()),
        (LoadWord::Motor, "A motor".to_owned()),
        (LoadWord::Rectifier, "A rectifier (decoder)".to_owned()),
    ];
    form.choice("Draws", &mut word, &words);
    if word != was {
        let given = Quantity::given;
        *load = match word {
            LoadWord::Nothing => Load::Nothing,
            LoadWord::Resistor => Load::Resistor { ohm: given(100.0) },
            LoadWord::Motor => Load::Motor { ohm: given(20.0), emf_v: given(4.0) },
            LoadWord::Rectifier => Load::Rectifier { ohm: given(10.0), volts: given(12.0) },
        };
    }
    match load {
        Load::Nothing => {}
        Load::Resistor { ohm } => form.quantity("Resistance", ohm, OHM, 1e-3..=1e7),
        Load::Motor { ohm, emf_v } => {
            form.quantity("Winding", ohm, OHM, 1e-3..=1e7);
            form.quantity("Back-EMF", emf_v, VOLT, FROM_ZERO);
        }
        Load::Rectifier { ohm, volts } => {
            form.quantity("In series", ohm, OHM, 1e-3..=1e7);
            form.quantity("Holds", volts, VOLT, FROM_ZERO);
        }
    }
}

fn axles_form(form: &mut Form<'_>, axles: &mut Vec<Axle>) {
    let wheels = [
        (Wheel::Pickup, "Pickup".to_owned()),
        (Wheel::Metal, "Metal".to_owned()),
        (Wheel::Insulated, "Insulated".to_owned()),
    ];
    let mut gone = None;
    for (n, axle) in axles.iter_mut().enumerate() {
        let label = format!("Wheelset {}", n + 1);
        form.number(&label, &mut axle.at_mm, MM, 0.0..=1e5)
            .on_hover_text("Distance from the front coupler");
        form.choice(&format!("{label} left"), &mut axle.left, &wheels);
        form.choice(&format!("{label} right"), &mut axle.right, &wheels);
        let remove = form
            .ui
            .button("Take away")
            .accessible_name(format!("Vehicle: take wheelset {} away", n + 1));
        if remove.clicked() {
            gone = Some((n, remove.id));
        }
    }
    if let Some((n, field)) = gone {
        axles.remove(n);
        form.changed = Some(super::form::Changed { field, flowing: false });
    }
    let add = form.ui.button("Add a wheelset");
    if add.clicked() {
        let at_mm = axles.last().map_or(20.0, |a| a.at_mm + 20.0);
        axles.push(Axle { at_mm, left: Wheel::Pickup, right: Wheel::Pickup });
        form.changed = Some(super::form::Changed { field: add.id, flowing: false });
    }
}
