//! Rules for the layout as a whole: scale, climate, numbers of things.

use std::collections::BTreeMap;

use super::found::{CELSIUS, Found, May};
use super::limits::{LARGEST_NUMBER, MOST_ENTITIES, MOST_PICTURES};
use crate::layout::model::{Climate, EntityId, Layout};
use crate::layout::words::number;

pub(super) fn whole(layout: &Layout, found: &mut Found) {
    found.entity = None;
    found.name("name", &layout.name);
    let scale = May::Be(1.0, 1000.0);
    found.value("scale", layout.scale, scale, "", "the scale is the number behind \"1:\"");
    let gauge = May::Be(1.0, 2000.0);
    found.value("gauge_mm", layout.gauge_mm, gauge, " mm", "the gauge is in mm of the model");
    found.quantity(
        "rail_ohm_per_m",
        &layout.rail_ohm_per_m,
        May::BeZeroOr(1e-6, 1000.0),
        " Ω per m",
        "leave the field away for the usual range",
    );
    if let Some(climate) = &layout.climate {
        air(climate, found);
    }
    next_id(layout, found);
    counts(layout, found);
}

fn air(climate: &Climate, found: &mut Found) {
    let hint = "temperatures of the room are in °C";
    let cold = found.value("climate.coldest_c", climate.coldest_c, CELSIUS, " °C", hint);
    let hot = found.value("climate.hottest_c", climate.hottest_c, CELSIUS, " °C", hint);
    if cold && hot && climate.coldest_c > climate.hottest_c {
        found.add(
            "climate.coldest_c",
            format!(
                "the coldest is {} °C and the hottest {} °C",
                number(climate.coldest_c),
                number(climate.hottest_c)
            ),
            "a lowest temperature that is not above the highest",
            "exchange the two",
        );
    }
    found.value(
        "climate.rail_um_per_m_k",
        climate.rail_um_per_m_k,
        May::Be(0.0, 100.0),
        " µm per m and K",
        "leave the field away for nickel silver",
    );
    found.value(
        "climate.benchwork_mm_per_m",
        climate.benchwork_mm_per_m,
        May::Be(0.0, 50.0),
        " mm per m",
        "leave the field away for framed softwood",
    );
}

fn next_id(layout: &Layout, found: &mut Found) {
    let largest = largest_number(layout);
    if layout.next_id <= largest && largest <= LARGEST_NUMBER {
        found.add(
            "next_id",
            format!("the next id would be {}, but {largest} is in use", layout.next_id),
            format!("a number above {largest}"),
            "leave the field away to have it worked out",
        );
    } else if layout.next_id > LARGEST_NUMBER + 1 {
        found.add(
            "next_id",
            format!("the next id would be {}, which is too large", layout.next_id),
            format!("a number up to {}", LARGEST_NUMBER + 1),
            "leave the field away to have it worked out",
        );
    }
}

fn counts(layout: &Layout, found: &mut Found) {
    let count = layout.joints.len()
        + layout.runs.len()
        + layout.cuts.len()
        + layout.labels.len()
        + layout.supplies.len()
        + layout.drivers.len()
        + layout.feeds.len()
        + layout.vehicles.len()
        + layout.specials.len()
        + layout.devices.len()
        + layout.bonds.len()
        + layout.trains.len()
        + layout.lineups.len()
        + layout.pictures.len()
        + layout.decisions.len();
    if count > MOST_ENTITIES {
        found.add(
            "",
            format!("there are {count} things on this layout"),
            format!("at most {MOST_ENTITIES}"),
            "divide the layout into several files",
        );
    }
    if layout.pictures.len() > MOST_PICTURES {
        found.add(
            "pictures",
            format!("there are {} pictures", layout.pictures.len()),
            format!("at most {MOST_PICTURES}"),
            "join pictures that lie beside each other into one file",
        );
    }
}

/// The largest number that an identity of the layout has; 0 if it has none.
pub(in crate::layout) fn largest_number(layout: &Layout) -> u32 {
    fn last<I: Copy + Into<EntityId>, T>(map: &BTreeMap<I, T>) -> u32 {
        map.keys().next_back().map_or(0, |&id| id.into().number())
    }
    last(&layout.joints)
        .max(last(&layout.runs))
        .max(last(&layout.cuts))
        .max(last(&layout.labels))
        .max(last(&layout.supplies))
        .max(last(&layout.drivers))
        .max(last(&layout.feeds))
        .max(last(&layout.vehicles))
        .max(last(&layout.specials))
        .max(last(&layout.devices))
        .max(last(&layout.bonds))
        .max(last(&layout.trains))
        .max(last(&layout.lineups))
        .max(last(&layout.pictures))
        .max(last(&layout.decisions))
}
