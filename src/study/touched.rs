//! Which stages of a study an edit touches, from the layouts before and after it.

use std::collections::BTreeMap;

use crate::drive;
use crate::layout::{Cut, Device, Driver, Feed, Label, Layout, Special, Supply, Train, Vehicle};

/// What differs between two layouts, as far as a study is derived from it. A field that is not named here counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Touched {
    /// Track: what holds in every position of the selectors.
    pub metal: bool,
    /// What is fed from where, or the positions of selectors now.
    pub plans: bool,
    /// Vehicles or trains.
    pub rolling: bool,
    /// Electrical values.
    pub values: bool,
    /// Settings of drivers, or which supplies are on.
    pub settings: bool,
}

impl Touched {
    /// What differs between two layouts.
    pub fn between(old: &Layout, new: &Layout) -> Touched {
        let Layout {
            // Only words and pictures come from these, or a rule asks the layout itself.
            name: _,
            notes: _,
            climate: _,
            lineups: _,
            pictures: _,
            decisions: _,
            next_id: _,
            scale,
            gauge_mm,
            rail_ohm_per_m,
            joints,
            runs,
            cuts,
            labels,
            supplies,
            drivers,
            feeds,
            vehicles,
            specials,
            devices,
            bonds,
            trains,
        } = new;
        let metal = (old.scale, old.gauge_mm) != (*scale, *gauge_mm)
            || (&old.joints, &old.runs, &old.bonds) != (joints, runs, bonds)
            || differ(&old.cuts, cuts, cut_in_rails)
            || differ(&old.labels, labels, |label| Label { name: String::new(), ..label.clone() })
            || differ(&old.specials, specials, Special::in_no_position);
        let plans = metal
            || differ(&old.specials, specials, Special::unnamed)
            || differ(&old.feeds, feeds, |feed| Feed { wire: None, ohm: None, ..feed.clone() })
            || differ(&old.devices, devices, |device| Device {
                ohm: crate::layout::default_device_ohm(),
                ..device.unnamed()
            })
            || differ(&old.drivers, drivers, |d| (d.supply, drive::of(&d.drive).feeds()))
            || differ(&old.supplies, supplies, |supply| supply.negative.clone());
        Touched {
            metal,
            plans,
            rolling: differ(&old.vehicles, vehicles, Vehicle::unnamed)
                || differ(&old.trains, trains, Train::unnamed),
            values: plans
                || old.rail_ohm_per_m != *rail_ohm_per_m
                || differ(&old.feeds, feeds, Feed::clone)
                || differ(&old.devices, devices, Device::unnamed)
                || differ(&old.drivers, drivers, Driver::in_no_setting)
                || differ(&old.supplies, supplies, Supply::by_itself),
            settings: differ(&old.drivers, drivers, |driver| driver.setting)
                || differ(&old.supplies, supplies, |supply| supply.powered),
        }
    }
}

/// True if the entities of two layouts differ in what `part` takes of them.
fn differ<K: Ord, V: PartialEq, P: PartialEq>(
    old: &BTreeMap<K, V>,
    new: &BTreeMap<K, V>,
    part: impl Fn(&V) -> P,
) -> bool {
    let same = |((old_key, old), (new_key, new)): ((&K, &V), (&K, &V))| {
        old_key == new_key && (old == new || part(old) == part(new))
    };
    old.len() != new.len() || !old.iter().zip(new).all(same)
}

fn cut_in_rails(cut: &Cut) -> Cut {
    Cut { width_mm: 0.0, made: Default::default(), cut_at_c: None, ..cut.unnamed() }
}
