//! The particulars of a train: its vehicles, front to rear.

use eframe::egui::Ui;

use super::App;
use super::form::{Changed, Form};
use super::names;
use super::particulars::put;
use super::theme::{SPACE, heading, length_units, small};
use crate::layout::edit::Entity;
use crate::layout::{Coupled, TrainId};

/// What a button in the list of vehicles asks for.
enum Wish {
    TakeAway(usize),
    Forward(usize),
}

/// The form of a train.
pub fn train_ui(ui: &mut Ui, app: &mut App, id: TrainId) {
    let layout = app.doc.layout();
    let Some(mut train) = layout.trains.get(&id).cloned() else { return };
    let choices = names::vehicle_choices(layout);
    let length_mm: f64 = train
        .vehicles
        .iter()
        .filter_map(|coupled| layout.vehicles.get(&coupled.vehicle))
        .map(|vehicle| vehicle.length_mm)
        .sum();
    let units = length_units(ui);
    let mut form = Form::new(ui, "Train");
    form.text("Name", &mut train.name, "a name for the train");
    form.hint(&format!("{} over the couplers", units.length(length_mm)));
    form.ui.add_space(SPACE);
    form.ui.label(heading("Vehicles, front to rear"));
    let last = train.vehicles.len().saturating_sub(1);
    let mut wish = None;
    for (n, coupled) in train.vehicles.iter_mut().enumerate() {
        let label = format!("Vehicle {}", n + 1);
        form.choice(&label, &mut coupled.vehicle, &choices);
        form.tick(&format!("{label} runs rear first"), &mut coupled.turned);
        if n < last {
            form.tick(&format!("{label} has its pickups joined to the next"), &mut coupled.joined);
        }
        form.ui.horizontal(|ui| {
            if n > 0 {
                let forward = ui.button("Forward");
                let forward =
                    forward.accessible_name(format!("Train: move vehicle {} forward", n + 1));
                if forward.clicked() {
                    wish = Some((Wish::Forward(n), forward.id));
                }
            }
            // A train has one vehicle at least.
            if last > 0 {
                let away = ui.button("Take away");
                let away = away.accessible_name(format!("Train: take vehicle {} away", n + 1));
                if away.clicked() {
                    wish = Some((Wish::TakeAway(n), away.id));
                }
            }
        });
    }
    if let Some((wish, field)) = wish {
        match wish {
            Wish::TakeAway(n) => drop(train.vehicles.remove(n)),
            Wish::Forward(n) => train.vehicles.swap(n - 1, n),
        }
        form.changed = Some(Changed { field, flowing: false });
    }
    let add = form.ui.button("Couple a vehicle at the rear");
    if add.clicked()
        && let Some(vehicle) = train.vehicles.last().map(|coupled| coupled.vehicle)
    {
        train.vehicles.push(Coupled { vehicle, turned: false, joined: false });
        form.changed = Some(Changed { field: add.id, flowing: false });
    }
    form.ui.label(small(form.ui, "The same vehicle may stand in it several times: several alike."));
    form.notes("Notes", &mut train.notes);
    let changed = form.changed;
    put(app, changed, "change a train", Entity::Train(train));
}
