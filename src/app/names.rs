//! What things are called on the screen: names of the user as [`shown`].

use std::path::Path;

use super::App;
use crate::drive;
use crate::findings::Report;
use crate::findings::plain_position;
pub(super) use crate::layout::capital;
use crate::layout::{
    CutId, DeviceKind, Direction, Drive, DriverId, EntityId, FeedId, Idle, Layout, Origin, Rail,
    Rails, Special, Spot, SupplyId, VehicleId, roads, shown,
};

/// What an entity is called: its kind, its name if it has one, its identity.
pub fn entity_name(layout: &Layout, id: EntityId) -> String {
    let named = |kind: &str, name: Option<&String>| match name {
        // "Supply west supply" says a word too many.
        Some(name) if name.to_lowercase().contains(&kind.to_lowercase()) => {
            format!("{} ({id})", shown(name.trim()))
        }
        Some(name) if !name.trim().is_empty() => format!("{kind} {} ({id})", shown(name.trim())),
        _ => format!("{kind} {id}"),
    };
    match id {
        EntityId::Joint(_) => named("Joint", None),
        EntityId::Run(_) => named("Run", None),
        EntityId::Cut(c) => named("Cut", layout.cuts.get(&c).map(|c| &c.name)),
        EntityId::Label(n) => named("Block name", layout.labels.get(&n).map(|n| &n.name)),
        EntityId::Supply(s) => named("Supply", layout.supplies.get(&s).map(|s| &s.name)),
        EntityId::Driver(d) => named("Driver", layout.drivers.get(&d).map(|d| &d.name)),
        EntityId::Feed(f) => match layout.feeds.get(&f) {
            Some(feed) => format!("Feed {id} from {}", origin_name(layout, feed.driver)),
            None => named("Feed", None),
        },
        EntityId::Vehicle(v) => named("Vehicle", layout.vehicles.get(&v).map(|v| &v.name)),
        EntityId::Special(w) => match layout.specials.get(&w) {
            Some(special) => named(&capital(special.work.word()), Some(&special.name)),
            None => named("Special work", None),
        },
        EntityId::Device(x) => match layout.devices.get(&x) {
            Some(device) => named(&capital(device.kind.word()), Some(&device.name)),
            None => named("Device", None),
        },
        EntityId::Bond(_) => named("Bond", None),
        EntityId::Train(t) => named("Train", layout.trains.get(&t).map(|t| &t.name)),
        EntityId::Lineup(l) => named("Lineup", layout.lineups.get(&l).map(|l| &l.name)),
        EntityId::Decision(_) => named("Decision", None),
        EntityId::Picture(p) => {
            let name = layout.pictures.get(&p).map(|p| p.file_name().to_owned());
            named("Picture", name.as_ref())
        }
    }
}

/// The name of equipment, or its kind and identity.
pub fn bare_name(layout: &Layout, id: EntityId) -> String {
    let name = match id {
        EntityId::Driver(id) => layout.drivers.get(&id).map(|d| &d.name),
        EntityId::Supply(id) => layout.supplies.get(&id).map(|s| &s.name),
        EntityId::Vehicle(id) => layout.vehicles.get(&id).map(|v| &v.name),
        _ => None,
    };
    match name {
        Some(name) if !name.trim().is_empty() => shown(name.trim()).into_owned(),
        _ => entity_name(layout, id),
    }
}

/// The position now of a selector, and how many it has; `None` for what is no selector.
pub fn positions(layout: &Layout, id: EntityId) -> Option<(u32, u32)> {
    match id {
        EntityId::Special(id) => layout.specials.get(&id).map(|s| (s.position, s.work.positions())),
        EntityId::Device(id) => layout.devices.get(&id).map(|d| (d.position, d.kind.positions())),
        _ => None,
    }
}

/// A position of a selector, in words: "left road", "reversed", a cab's name.
pub fn position_words(layout: &Layout, id: EntityId, position: u32) -> String {
    match id {
        EntityId::Special(id) => layout
            .specials
            .get(&id)
            .map_or_else(String::new, |s| roads::position_name(layout, s, position)),
        EntityId::Device(id) => match layout.devices.get(&id).map(|d| &d.kind) {
            Some(DeviceKind::CabSelector { cabs }) => match cabs.get(position as usize) {
                Some(Some(origin)) => origin_name(layout, *origin),
                _ => "off".to_owned(),
            },
            Some(kind) => plain_position(kind, position).to_owned(),
            None => String::new(),
        },
        _ => String::new(),
    }
}

/// Special work on the plan and how it stands: "Turnout w3, set for the left road".
pub fn special_now(layout: &Layout, special: &Special) -> String {
    let name = entity_name(layout, special.id.into());
    if special.work.positions() < 2 {
        return name;
    }
    let now = roads::position_name(layout, special, special.position);
    match special.work.bridge() {
        Some(_) => format!("{name}, at {now}"),
        None => format!("{name}, set for the {now}"),
    }
}

/// The user's name of a thing, or its kind and identity.
pub fn short_name(layout: &Layout, id: EntityId) -> String {
    let name = match id {
        EntityId::Special(id) => layout.specials.get(&id).map(|s| &s.name),
        EntityId::Device(id) => layout.devices.get(&id).map(|d| &d.name),
        _ => None,
    };
    match name {
        Some(name) if !name.trim().is_empty() => shown(name.trim()).into_owned(),
        _ => entity_name(layout, id),
    }
}

/// A place on a rail, in words.
pub fn spot_words(app: &App, spot: Spot) -> String {
    let rail = if spot.rail == Rail::Left { "left" } else { "right" };
    let (run, at) = (app.called(spot.run.into()), app.camera.units.mm(spot.at_mm));
    format!("the {rail} rail of {run} at {at}")
}

/// Whether an entity is on the layout.
pub fn exists(layout: &Layout, id: EntityId) -> bool {
    match id {
        EntityId::Joint(id) => layout.joints.contains_key(&id),
        EntityId::Run(id) => layout.runs.contains_key(&id),
        EntityId::Cut(id) => layout.cuts.contains_key(&id),
        EntityId::Label(id) => layout.labels.contains_key(&id),
        EntityId::Supply(id) => layout.supplies.contains_key(&id),
        EntityId::Driver(id) => layout.drivers.contains_key(&id),
        EntityId::Feed(id) => layout.feeds.contains_key(&id),
        EntityId::Vehicle(id) => layout.vehicles.contains_key(&id),
        EntityId::Special(id) => layout.specials.contains_key(&id),
        EntityId::Device(id) => layout.devices.contains_key(&id),
        EntityId::Bond(id) => layout.bonds.contains_key(&id),
        EntityId::Train(id) => layout.trains.contains_key(&id),
        EntityId::Lineup(id) => layout.lineups.contains_key(&id),
        EntityId::Picture(id) => layout.pictures.contains_key(&id),
        EntityId::Decision(id) => layout.decisions.contains_key(&id),
    }
}

/// Name of what a feed comes from.
pub fn origin_name(layout: &Layout, origin: Origin) -> String {
    match origin {
        Origin::Driver(id) => driver_name(layout, id),
        Origin::Device(id) => short(layout.devices.get(&id).map(|d| &d.name), id),
    }
}

/// Everything that a feed can come from, with its name.
pub fn origin_choices(layout: &Layout) -> Vec<(Origin, String)> {
    let drivers = layout.drivers.keys().map(|&id| Origin::from(id));
    let devices = layout.devices.keys().map(|&id| Origin::from(id));
    drivers.chain(devices).map(|origin| (origin, origin_name(layout, origin))).collect()
}

fn short(name: Option<&String>, id: impl std::fmt::Display) -> String {
    match name {
        Some(name) if !name.trim().is_empty() => shown(name.trim()).into_owned(),
        _ => id.to_string(),
    }
}

/// A driver's name, or its identity.
pub fn driver_name(layout: &Layout, id: DriverId) -> String {
    short(layout.drivers.get(&id).map(|d| &d.name), id)
}

/// A supply's name, or its identity.
pub fn supply_name(layout: &Layout, id: SupplyId) -> String {
    short(layout.supplies.get(&id).map(|s| &s.name), id)
}

/// A cut's name as the report has it, or its own, or its identity.
pub fn cut_name(layout: &Layout, report: &Report, id: CutId) -> String {
    match report.cuts.iter().find(|c| c.id == id) {
        Some(cut) if !cut.name.is_empty() => shown(&cut.name).into_owned(),
        _ => short(layout.cuts.get(&id).map(|c| &c.name), id),
    }
}

/// A path as it is shown.
pub fn path_words(path: &Path) -> String {
    shown(&path.display().to_string()).into_owned()
}

/// Names of supplies to choose from.
pub fn supply_choices(layout: &Layout) -> Vec<(SupplyId, String)> {
    layout.supplies.keys().map(|id| (*id, supply_name(layout, *id))).collect()
}

/// Vehicles to choose from.
pub fn vehicle_choices(layout: &Layout) -> Vec<(VehicleId, String)> {
    layout.vehicles.values().map(|v| (v.id, short(Some(&v.name), v.id))).collect()
}

/// Where a feed stands.
pub fn feed_place(app: &App, id: FeedId) -> String {
    match app.layout().feeds.get(&id) {
        Some(feed) => {
            format!("{} at {}", app.called(feed.run.into()), app.camera.units.mm(feed.at_mm))
        }
        None => String::new(),
    }
}

/// Rails of a cut, in words.
pub fn rails_word(rails: Rails) -> &'static str {
    match rails {
        Rails::Both => "Both rails",
        Rails::Left => "Left rail",
        Rails::Right => "Right rail",
    }
}

/// Choices of rails of a cut.
pub fn rails_choices() -> Vec<(Rails, String)> {
    [Rails::Both, Rails::Left, Rails::Right].map(|r| (r, rails_word(r).to_owned())).to_vec()
}

/// Choices of a rail for an output, none included.
pub fn rail_choices() -> Vec<(Option<Rail>, String)> {
    vec![
        (Some(Rail::Left), "Left rail".to_owned()),
        (Some(Rail::Right), "Right rail".to_owned()),
        (None, "Not connected".to_owned()),
    ]
}

/// An idle state, in words.
pub fn idle_word(idle: Idle) -> &'static str {
    match idle {
        Idle::BrakeLow => "Brake-low",
        Idle::BrakeHigh => "Brake-high",
        Idle::HighImpedance => "High-impedance",
        Idle::Opposed => "Opposed",
        Idle::ByInputs { .. } => "By control inputs",
    }
}

/// The idle states that a kind of drive can have.
pub fn idle_choices(drive: &Drive) -> Vec<(Idle, String)> {
    let all = drive::of(drive).idle_choices();
    all.into_iter().map(|idle| (idle, idle_word(idle).to_owned())).collect()
}

/// What an idle state does, for a tooltip.
pub const IDLE_HELP: &str = "What the outputs do in the off part of the PWM period.\n\
    Brake-low: both low switches on, the rails are clamped together.\n\
    Brake-high: both high switches on, the rails are clamped together.\n\
    High-impedance: all switches off, only the body diodes conduct.\n\
    Opposed: the other drive state.\n\
    By control inputs: what the chip's truth table makes of its two inputs; see the driver's particulars.";

/// A kind of drive, in words.
pub fn drive_word(drive: &Drive) -> &'static str {
    drive::of(drive).name()
}

/// A direction, in words.
pub fn direction_word(direction: Direction) -> &'static str {
    match direction {
        Direction::Forward => "Forward",
        Direction::Reverse => "Reverse",
        Direction::Stopped => "Stopped",
        Direction::On => "On",
        Direction::Off => "Off",
    }
}

/// A name where there is room for so many letters.
pub fn shortened(name: &str, most: usize) -> String {
    if name.chars().count() <= most {
        return name.to_owned();
    }
    let start: String = name.chars().take(most.saturating_sub(1)).collect();
    format!("{}…", start.trim_end())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_prefer_the_users() {
        let layout = Layout::default();
        assert_eq!(entity_name(&layout, EntityId::Cut(CutId(4))), "Cut c4");
    }

    #[test]
    fn names_hold_nothing_that_a_reader_obeys() {
        let text = include_str!("../../tests/cases/escape-names.gapwright");
        let layout = crate::layout::load(text).map(|loaded| loaded.layout).unwrap_or_default();
        assert_eq!(layout.drivers.len(), 2, "the case loads");
        let is_plain = |name: &str| assert_eq!(shown(name), name);
        let ids = layout.drivers.keys().map(|&id| EntityId::from(id));
        let ids = ids.chain(layout.supplies.keys().map(|&id| id.into()));
        let ids = ids.chain(layout.cuts.keys().map(|&id| id.into()));
        let ids = ids.chain(layout.labels.keys().map(|&id| id.into()));
        for id in ids.chain(layout.vehicles.keys().map(|&id| id.into())) {
            is_plain(&entity_name(&layout, id));
            is_plain(&bare_name(&layout, id));
            is_plain(&short_name(&layout, id));
        }
        supply_choices(&layout).iter().for_each(|(_, name)| is_plain(name));
        vehicle_choices(&layout).iter().for_each(|(_, name)| is_plain(name));
        origin_choices(&layout).iter().for_each(|(_, name)| is_plain(name));
        is_plain(&super::super::doc::Document::new(layout).title());
    }
}
