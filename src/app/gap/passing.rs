//! What happens at the settings now as it rolls over the gap: which trip acts when, what its driver does then, who goes on,
//! whether the train stops, and what comes again.

use std::collections::BTreeSet;

use eframe::egui::{Label, Ui};

use super::super::names;
use super::super::theme::{SPACE, heading, small};
use super::model::Model;
use crate::findings::GuardId;
use crate::layout::{AfterTrip, DeviceKind, TripKind};
use crate::report::{amps, fate_words, ms, standing_words, urge_words};
use crate::study::run::{Event, Fate, Standing, Urge, What};
use crate::study::scope::Passing;

/// Most lines of the list.
const MOST_LINES: usize = 24;

/// The list, for the settings now.
pub(super) fn passing_ui(ui: &mut Ui, model: &Model) {
    let Some(scene) = model.scene else { return };
    ui.add_space(SPACE);
    ui.label(heading("What happens, step by step"));
    let Some(passing) = &scene.passing else {
        ui.label(small(ui, "It joins nothing on its way over this gap."));
        return;
    };
    let speed = format!("{}/s", model.units.mm(passing.speed_mm_s));
    let rolls = match (passing.pushed, passing.along) {
        (true, _) => format!("Pushed at {speed}, because no motor gets current"),
        (false, true) => format!("Rolling at {speed}"),
        (false, false) => format!("Rolling back at {speed}, the way the rails drive it"),
    };
    let words = format!(
        "{rolls}, at the settings now. Times count from the moment at which its wheels first join something, and are those \
         of the worst phase."
    );
    ui.add(Label::new(small(ui, words)).wrap());
    let lines = lines(model, passing);
    let more = lines.len().saturating_sub(MOST_LINES);
    for (time_s, words) in lines.into_iter().take(MOST_LINES) {
        ui.add(Label::new(format!("{}: {words}", at_words(time_s))).wrap());
    }
    if more > 0 {
        ui.label(small(ui, format!("{more} more steps like these follow.")));
    }
}

/// A time from the first joint on.
fn at_words(time_s: f64) -> String {
    if time_s <= 0.0 { "At once".to_owned() } else { format!("After {}", ms(time_s)) }
}

/// The steps, each with its time, s.
fn lines(model: &Model, passing: &Passing) -> Vec<(f64, String)> {
    let mut lines = Vec::new();
    let mut out: BTreeSet<GuardId> = BTreeSet::new();
    let mut acted = false;
    let mut first = true;
    for event in &passing.events {
        let words = match &event.what {
            What::Begins { .. } | What::Leaves { .. } => None,
            What::Stands(standing) => {
                let words = stands(model, standing, first, acted, &out);
                if first {
                    lines.extend(limits(model, standing).map(|words| (event.time_s, words)));
                }
                first = false;
                acted = false;
                Some(words)
            }
            What::Trips { guards, always, .. } => {
                out.extend(guards.iter().copied());
                acted = true;
                Some(trips(model, guards, *always))
            }
            What::TriesAgain(guards) => {
                out.retain(|guard| !guards.contains(guard));
                acted = true;
                Some(format!("{} again", by(model, guards, "tries", "try")))
            }
            What::Stops(urge) => Some(format!("the train stops: {}", urge_words(*urge))),
            What::GoesOn => Some("the train goes on".to_owned()),
            What::Ends(fate) => Some(ends(model, event, *fate, &out)),
        };
        lines.extend(words.map(|words| (event.time_s, words)));
    }
    lines
}

/// What a joint makes of it, or what is left of it once something has acted.
fn stands(
    model: &Model,
    standing: &Standing,
    first: bool,
    acted: bool,
    out: &BTreeSet<GuardId>,
) -> String {
    let joins = standing.groups.iter().any(|group| group.joins());
    let mut words = match (first, acted, joins) {
        (true, ..) => format!("its wheels join rails, {}", standing_words(standing)),
        (_, true, _) => format!("then {}", standing_words(standing)),
        (_, _, true) => format!("its wheels join other rails, {}", standing_words(standing)),
        (_, _, false) => "its wheels join nothing any more".to_owned(),
    };
    if acted {
        let others = standing.drivers.iter().filter(|driver| {
            !out.contains(&GuardId::Driver(driver.id))
                && driver.p.peak.max(driver.m.peak).max(driver.supply.peak) > 0.01
        });
        for driver in others {
            words.push_str(&format!(", {} still drives current", model.driver(driver.id)));
        }
        if matches!(standing.urge, Urge::On | Urge::Pushed) {
            words.push_str(&format!("; {}", urge_words(standing.urge)));
        }
    }
    words
}

/// Drivers that limit the current and never trip.
fn limits<'a>(model: &'a Model, standing: &'a Standing) -> impl Iterator<Item = String> + 'a {
    standing.drivers.iter().filter_map(|driver| {
        let trip = model.source.layout.drivers.get(&driver.id)?.trip.as_ref()?;
        let over = driver.sensed.is_some_and(|sensed| sensed.peak > trip.amps.value);
        (trip.kind == TripKind::Chopping && over).then(|| {
            format!(
                "{} limits the current to {}, period by period, and does not trip",
                model.driver(driver.id),
                amps(trip.amps.value)
            )
        })
    })
}

/// The names of some guards with what they do.
fn by(model: &Model, guards: &[GuardId], one: &str, several: &str) -> String {
    let name = |guard: &GuardId| match guard {
        GuardId::Driver(id) => model.driver(*id),
        GuardId::Device(id) => names::entity_name(model.source.layout, (*id).into()),
        GuardId::Supply(id) => names::supply_name(model.source.layout, *id),
    };
    let all: Vec<String> = guards.iter().map(name).collect();
    format!("{} {}", all.join(" and "), if guards.len() == 1 { one } else { several })
}

/// Trips that act, with what their drivers do then and for how long.
fn trips(model: &Model, guards: &[GuardId], always: bool) -> String {
    let mut words = by(model, guards, "trips", "trip");
    if !always {
        words.push_str(" in some passes, not in all");
    }
    let then: Vec<(GuardId, String)> =
        guards.iter().filter_map(|guard| Some((*guard, does_then(model, guard)?))).collect();
    let Some((_, first)) = then.first() else { return words };
    if then.iter().all(|(_, does)| does == first) {
        let whose = if then.len() == 1 { "it" } else { "each" };
        return format!("{words}; {whose} {first}");
    }
    for (guard, does) in &then {
        words.push_str(&format!("; {}", by(model, &[*guard], does, does)));
    }
    words
}

/// What something that has tripped does then, and for how long.
fn does_then(model: &Model, guard: &GuardId) -> Option<String> {
    let layout = model.source.layout;
    let (does, retry_s) = match guard {
        GuardId::Driver(id) => {
            let trip = layout.drivers.get(id)?.trip.as_ref()?;
            let does = match trip.then {
                AfterTrip::HighImpedance => "goes to high-impedance",
                AfterTrip::BrakeLow => "brakes with both low switches, and stays a clamp",
                AfterTrip::BrakeHigh => "brakes with both high switches, and stays a clamp",
            };
            (does, trip.retry_s)
        }
        GuardId::Device(id) => match layout.devices.get(id)?.kind {
            DeviceKind::Breaker { retry_s, .. } => ("opens", retry_s),
            DeviceKind::AutoReverser { .. } => return Some("exchanges its two wires".to_owned()),
            _ => return None,
        },
        GuardId::Supply(_) => return None,
    };
    Some(match retry_s {
        Some(wait_s) => format!("{does}, and tries again after {}", ms(wait_s)),
        None => format!("{does} until somebody resets it"),
    })
}

/// The end of it.
fn ends(model: &Model, event: &Event, fate: Fate, out: &BTreeSet<GuardId>) -> String {
    let guards: Vec<GuardId> = out.iter().copied().collect();
    match fate {
        Fate::Arrives | Fate::EndOfTrack => "the train has left the gap behind".to_owned(),
        Fate::HiccupsForEver => {
            "from here it repeats: trips, tries again, trips, until somebody acts".to_owned()
        }
        Fate::Stalls if !guards.is_empty() => {
            format!(
                "the train stands on the gap until somebody resets it: {}",
                by(model, &guards, "stays tripped", "stay tripped")
            )
        }
        fate => format!(
            "{}, {} past the first joint",
            fate_words(fate),
            model.units.mm(event.position_mm)
        ),
    }
}
