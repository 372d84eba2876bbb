//! The log of a run in words.

use crate::findings::{GuardId, SideWord, Verdict};
use crate::layout::{CutId, Layout, VehicleId};
use crate::study::run::{Event, Fate, Standing, Urge, What};

use super::{Units, amps, ms};

/// One event of a run as a line, without its place and time.
pub fn event_words(layout: &Layout, event: &Event, units: Units) -> String {
    let side = |side: &SideWord| match side {
        SideWord::Left => "left",
        SideWord::Right => "right",
    };
    match &event.what {
        What::Begins { cut, side: rail, vehicles } => format!(
            "{} begins to straddle {} in the {} rail",
            movers(layout, vehicles),
            cut_name(layout, *cut),
            side(rail)
        ),
        What::Leaves { cut, side: rail, vehicles } => format!(
            "{} has left {} behind in the {} rail",
            movers(layout, vehicles),
            cut_name(layout, *cut),
            side(rail)
        ),
        What::Stands(standing) => {
            let joining = standing.groups.iter().filter(|group| group.joins()).count();
            let joins = match joining {
                0 => "nothing is joined".to_owned(),
                1 => "one group of pickups joins blocks".to_owned(),
                n => format!("{n} groups of pickups join blocks"),
            };
            format!("{joins}: {}", standing_words(standing))
        }
        What::Trips { guards, after_s, always } => {
            let sometimes = if *always { "" } else { " (not at every phase)" };
            {
                let acts = if guards.len() == 1 { "trips" } else { "trip" };
                format!("{} {acts} after {}{sometimes}", names(layout, guards), ms(*after_s))
            }
        }
        What::TriesAgain(guards) => {
            let acts = if guards.len() == 1 { "tries" } else { "try" };
            format!("{} {acts} again", names(layout, guards))
        }
        What::Stops(urge) => format!("it stops: {}", urge_words(*urge)),
        What::GoesOn => "it goes on".to_owned(),
        What::Ends(fate) => format!("{} after {}", fate_words(*fate), units.mm(event.position_mm)),
    }
}

/// Verdict of a train at a place with its largest current, in words.
pub fn standing_words(standing: &Standing) -> String {
    match standing.verdict {
        Verdict::Clear => "clear here".to_owned(),
        verdict => {
            let word = if verdict == Verdict::NotKnown { "not known" } else { verdict.word() };
            format!("{word} here, {} at the peak", amps(standing.peak_a()))
        }
    }
}

/// What drives a train, in words.
pub fn urge_words(urge: Urge) -> &'static str {
    match urge {
        Urge::On => "it is driven on",
        Urge::Back => "the rails drive it back",
        Urge::Torn => "its motors work against each other",
        Urge::Dead => "no motor gets current",
        Urge::Pushed => "somebody pushes it",
    }
}

/// How a run ends, in words.
pub fn fate_words(fate: Fate) -> &'static str {
    match fate {
        Fate::Arrives => "it has come all the way",
        Fate::EndOfTrack => "the track ends",
        Fate::Stalls => "it stands and stays",
        Fate::DrivenBack => "it is driven back",
        Fate::HiccupsForEver => "it stands while drivers trip and try again without end",
        Fate::GivenUp => "so much happens that the log ends",
    }
}

fn cut_name(layout: &Layout, id: CutId) -> String {
    match layout.cuts.get(&id) {
        Some(cut) if !cut.name.is_empty() => cut.name.clone(),
        _ => format!("gap {id}"),
    }
}

fn names(layout: &Layout, guards: &[GuardId]) -> String {
    let named = |name: Option<&String>, otherwise: String| match name {
        Some(name) if !name.is_empty() => name.clone(),
        _ => otherwise,
    };
    let name = |guard: &GuardId| match guard {
        GuardId::Driver(id) => {
            named(layout.drivers.get(id).map(|d| &d.name), format!("driver {id}"))
        }
        GuardId::Device(id) => {
            let device = layout.devices.get(id);
            let kind = device.map_or("device", |d| d.kind.word());
            named(device.map(|d| &d.name), format!("{kind} {id}"))
        }
        GuardId::Supply(id) => {
            named(layout.supplies.get(id).map(|s| &s.name), format!("supply {id}"))
        }
    };
    guards.iter().map(name).collect::<Vec<_>>().join(" and ")
}

fn movers(layout: &Layout, vehicles: &[VehicleId]) -> String {
    let name = |id: &VehicleId| match layout.vehicles.get(id) {
        Some(vehicle) if !vehicle.name.is_empty() => format!("the {}", vehicle.name),
        _ => format!("vehicle {id}"),
    };
    vehicles.iter().map(name).collect::<Vec<_>>().join(" with ")
}
