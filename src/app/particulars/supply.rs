//! Particulars of supplies.

use eframe::egui::Ui;

use super::put;
use crate::app::form::{AMPERE, FROM_ZERO, Form, OHM, UF, VOLT};
use crate::app::theme::{SPACE, small};
use crate::app::tools::caution_ui;
use crate::app::{App, names};
use crate::layout::edit::{Edit, Entity};
use crate::layout::{
    DriverId, Limit, LimitKind, Quantity, SharedNegative, SupplyId, default_tie_ohm,
};

/// Bulk capacitance from which a supply is to be discharged before one works on it, F (common practice, no source).
const LARGE_BULK_F: f64 = 4.7e-3;

pub(super) fn supply_ui(ui: &mut Ui, app: &mut App, id: SupplyId) {
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
    let (bulk_f, volts) = (supply.bulk_f.map_or(0.0, |bulk| bulk.value), supply.open_v.value);
    let tied = supply.negative.is_some();
    put(app, changed, "change a supply", Entity::Supply(supply));
    ui.add_space(SPACE);
    if bulk_f >= LARGE_BULK_F {
        caution_ui(
            ui,
            &format!(
                "Its capacitors hold {:.2} J after it is switched off, enough to spark and to pit rail and switch \
                 contacts. Let them discharge, and measure that they have, before you touch or change wires.",
                0.5 * bulk_f * volts * volts
            ),
        );
        ui.add_space(SPACE);
    }
    if tied {
        caution_ui(
            ui,
            "Where the shared negative is the protective earth, never lift that earth to end a short: the case and the \
             rails may then be live. Isolate the supply instead, by a transformer or a converter of its own.",
        );
        ui.add_space(SPACE);
    }
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
