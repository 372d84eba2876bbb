//! Particulars of drivers: the drive with the values of its kind, the switches, the trip.

use eframe::egui::{Response, Ui};

use super::put;
use super::trip::trip_form;
use crate::app::form::{AMPERE, FROM_ZERO, Form, HERTZ, OHM, PERCENT, US, Unit, VOLT};
use crate::app::theme::{SPACE, heading};
use crate::app::{App, names};
use crate::drive::{self, Field, Measure, Value};
use crate::layout::edit::Entity;
use crate::layout::{Clock, Drive, DriverId, Idle, InputLine, InputTable};

pub(super) fn driver_ui(ui: &mut Ui, app: &mut App, id: DriverId) {
    let Some(mut driver) = app.doc.layout().drivers.get(&id).cloned() else { return };
    let mut form = Form::new(ui, "Driver");
    form.text("Name", &mut driver.name, "a name for the driver");
    form.choice("Supply", &mut driver.supply, &names::supply_choices(app.doc.layout()));
    let rebuilt = kind_form(&mut form, &driver.drive);
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
    match rebuilt {
        Some(new) => app.change_drive(id, new),
        None => put(app, changed, "change a driver", Entity::Driver(driver)),
    }
}

/// The kind of drive. Returns a new drive if another kind was chosen.
fn kind_form(form: &mut Form<'_>, drive: &Drive) -> Option<Drive> {
    let word = names::drive_word(drive);
    let mut chosen = word;
    let all = drive::new_drives();
    let kinds: Vec<_> = all.iter().map(names::drive_word).map(|w| (w, w.to_owned())).collect();
    form.choice("Kind of drive", &mut chosen, &kinds);
    let other = all.into_iter().find(|new| names::drive_word(new) == chosen)?;
    (chosen != word).then_some(other)
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

/// The values of a drive, whatever its kind.
fn drive_form(form: &mut Form<'_>, drive: &mut Drive) {
    let idles = names::idle_choices(drive);
    if !drive::of(drive).feeds() {
        form.hint("The rails float.");
    }
    for Field { label, help, value, .. } in drive::fields(drive) {
        match value {
            Value::Idle(idle) => {
                form.choice(label, idle, &idles).on_hover_text(names::IDLE_HELP);
                inputs_form(form, idle);
            }
            Value::Clock(clock) => clock_form(form, clock),
            Value::Ohm(ohm) => form.quantity(label, ohm, OHM, FROM_ZERO),
            Value::Tick(tick) => helped(form.tick(label, tick), help),
            Value::Name(name) => {
                form.text(label, name, help);
            }
            Value::Number(number, range) => {
                let response =
                    form.number(label, number, unit(range.measure), range.from..=range.to);
                helped(response, help);
            }
            Value::Optional { number, usual, range } => {
                let unit = unit(range.measure);
                form.optional_number(label, number, usual, unit, range.from..=range.to);
            }
        }
    }
}

fn helped(response: Response, help: &str) {
    if !help.is_empty() {
        response.on_hover_text(help);
    }
}

fn unit(measure: Measure) -> Unit {
    match measure {
        Measure::Frequency => HERTZ,
        Measure::ShortTime => US,
    }
}
