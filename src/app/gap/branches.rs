//! Every branch that carries current at a moment, in words.

use eframe::egui::{Grid, Ui};

use super::super::names;
use super::super::theme::{TIGHT, heading, small, strong};
use super::model::Model;
use super::scene::Scene;
use crate::drive::StateWord;
use crate::layout::{DeviceId, EntityId};
use crate::report::amps;
use crate::straddle::ix::{DeviceIx, NetIx, SupplyIx};
use crate::straddle::part::Part;
use crate::study::scope::{Flow, MomentAt};

/// Currents below this are those of leaks, A.
pub(super) const CARRIES_A: f64 = 0.005;

/// The state of a driver in words.
pub(super) fn state_word(state: StateWord) -> &'static str {
    match state {
        StateWord::Forward => "forward",
        StateWord::Reverse => "reverse",
        StateWord::BrakeLow => "brake-low",
        StateWord::BrakeHigh => "brake-high",
        StateWord::HighImpedance => "high-impedance",
    }
}

/// The name of a supply of the case.
pub(super) fn supply_name(model: &Model, scene: &Scene, at: SupplyIx) -> String {
    let names = &scene.gap.around(scene.stance.who).names;
    let name = |id| names::supply_name(model.source.layout, id);
    names.supplies.get(at).map_or_else(String::new, |id| name(*id))
}

/// A net of the case in words: which rail it is at the gap, or what feeds it.
pub(super) fn net_name(model: &Model, scene: &Scene, net: NetIx) -> String {
    let case = scene.gap.case(scene.stance.who);
    let sides = model.sides();
    for (side, rails) in case.rails.iter().enumerate() {
        for (rail, word) in ["left", "right"].into_iter().enumerate() {
            if rails[rail] == Some(net) {
                return format!("{word} rail of {}", sides[side]);
            }
        }
    }
    let names = &scene.gap.around(scene.stance.who).names;
    names.nets.get(net).map_or_else(String::new, |net| model.net_words(*net))
}

/// The name of a device of the case.
fn device_name(model: &Model, scene: &Scene, at: DeviceIx) -> String {
    let names = &scene.gap.around(scene.stance.who).names;
    let name = |id: DeviceId| names::short_name(model.source.layout, EntityId::Device(id));
    names.devices.get(at).map_or_else(String::new, |id| name(*id))
}

/// Name of a branch, and the words for a current along it and against it.
fn part_words(model: &Model, scene: &Scene, part: Part) -> (String, &'static str, &'static str) {
    let driver = |at| model.driver_at(scene, at);
    let supply = |at| supply_name(model, scene, at);
    let leg_word = |leg: usize| if leg == 0 { "P" } else { "M" };
    let half = |high: bool| if high { "high" } else { "low" };
    match part {
        Part::Source(at) => (supply(at), "out of its positive pole", "into its positive pole"),
        Part::Bulk(at) => {
            (format!("{}: its capacitor", supply(at)), "discharging", "being charged")
        }
        Part::Bleed(at) => (supply(at), "into its own regulator", "out of its own regulator"),
        Part::Tie(at) => (supply(at), "to the shared negative", "from the shared negative"),
        Part::Regulator(at) => (format!("{}: regulator", driver(at)), "forwards", "backwards"),
        Part::RegulatorBack(at) => (format!("{}: regulator", driver(at)), "backwards", "forwards"),
        Part::Switch { driver: at, leg, high } => {
            let words = format!("{}: {} switch of {}", driver(at), half(high), leg_word(leg));
            (words, "towards the output", "from the output")
        }
        Part::Diode { driver: at, leg, high } => {
            let words = format!(
                "{}: body diode of the {} switch of {}",
                driver(at),
                half(high),
                leg_word(leg)
            );
            (words, "forwards", "backwards")
        }
        Part::Feeder { driver: at, leg, at: place } => {
            let case = scene.gap.case(scene.stance.who);
            let legs = case.wiring.drivers.get(at).map(|driver| &driver.legs[leg.min(1)]);
            let net = legs.and_then(|legs| legs.get(place)).map(|leg| leg.net);
            let to = net.map_or_else(String::new, |net| net_name(model, scene, net));
            let words = format!("{}: feeder of {}, {to}", driver(at), leg_word(leg));
            (words, "to the rail", "from the rail")
        }
        Part::Device { device, pole } => {
            let words = format!("{}: pole {}", device_name(model, scene, device), pole + 1);
            (words, "towards the rails", "from the rails")
        }
        Part::DeviceBack(device) => {
            let words = format!("{}: its other diode", device_name(model, scene, device));
            (words, "from the rails", "towards the rails")
        }
        Part::Loose(net) => (format!("Wire on the {}", net_name(model, scene, net)), "in", "out"),
        Part::Wheels { net, .. } => {
            let words = format!("Wheels on the {}", net_name(model, scene, net));
            (words, "into the pickups", "out of the pickups")
        }
        Part::Load { .. } => {
            ("What the vehicle draws".to_owned(), "left to right", "right to left")
        }
        Part::LoadBack { .. } => {
            ("What the vehicle draws".to_owned(), "right to left", "left to right")
        }
    }
}

/// The branches that carry something, the largest current first.
fn carrying(moment: &MomentAt) -> Vec<Flow> {
    let mut flows: Vec<Flow> =
        moment.flows.iter().copied().filter(|flow| flow.amps.abs() >= CARRIES_A).collect();
    flows.sort_by(|a, b| b.amps.abs().total_cmp(&a.amps.abs()).then(a.part.cmp(&b.part)));
    flows
}

/// The list of branches that carry current at the moment.
pub(super) fn branches_ui(ui: &mut Ui, model: &Model, scene: &Scene, moment: &MomentAt) {
    ui.add_space(TIGHT);
    ui.label(heading("Branch by branch"));
    let flows = carrying(moment);
    if flows.is_empty() {
        ui.label(small(ui, "Nothing flows at this moment."));
        return;
    }
    Grid::new("branches").striped(true).spacing([14.0, 2.0]).show(ui, |ui| {
        for flow in flows {
            let (what, along, against) = part_words(model, scene, flow.part);
            let way = if flow.amps > 0.0 { along } else { against };
            ui.label(strong(amps(flow.amps.abs())));
            ui.label(format!("{what}, {way}"));
            ui.label(small(ui, format!("{:.3} Ω", flow.ohm)));
            ui.end_row();
        }
    });
}
