//! Particulars of vehicles: loads and wheelsets.

use eframe::egui::Ui;

use super::put;
use crate::app::App;
use crate::app::form::{AMPERE, FINE_MM, FROM_ZERO, Form, MM, MM_PER_S, OHM, VOLT};
use crate::app::theme::{SPACE, heading};
use crate::layout::edit::Entity;
use crate::layout::{Axle, Load, Quantity, VehicleId, Wheel};

#[derive(Clone, Copy, PartialEq)]
enum LoadWord {
    Nothing,
    Resistor,
    Motor,
    Rectifier,
}

pub(super) fn vehicle_ui(ui: &mut Ui, app: &mut App, id: VehicleId) {
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
        form.changed = Some(crate::app::form::Changed { field, flowing: false });
    }
    let add = form.ui.button("Add a wheelset");
    if add.clicked() {
        let at_mm = axles.last().map_or(20.0, |a| a.at_mm + 20.0);
        axles.push(Axle { at_mm, left: Wheel::Pickup, right: Wheel::Pickup });
        form.changed = Some(crate::app::form::Changed { field: add.id, flowing: false });
    }
}
