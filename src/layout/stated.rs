//! The electrical values of a layout, each with its name and its source: what verdicts rest on.

use super::model::{EntityId, Layout};
use crate::units::{Quantity, Source};

/// A value of a layout.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stated {
    /// The thing that has it; `None` for the rails.
    pub of: Option<EntityId>,
    /// What it is.
    pub what: &'static str,
    /// The value and its source.
    pub quantity: Quantity,
    /// Its unit.
    pub unit: &'static str,
}

/// Values that are alike, in words.
#[derive(Debug, Clone, PartialEq)]
pub struct Alike {
    /// What they are.
    pub what: &'static str,
    /// What they count as, with the unit.
    pub value: String,
    /// Their source.
    pub source: String,
    /// What has them.
    pub of: Vec<String>,
}

/// The values of a layout, those that are alike together; `name` names a thing.
pub fn alike(values: &[Stated], name: impl Fn(EntityId) -> String) -> Vec<Alike> {
    let mut all: Vec<Alike> = Vec::new();
    for stated in values {
        let value = format!("{} {}", stated.quantity.value, stated.unit);
        let source = match stated.quantity.source {
            Source::Given => "given".to_owned(),
            Source::Measured => "measured".to_owned(),
            Source::DataSheet => "data sheet".to_owned(),
            Source::Assumed { from, to } => {
                format!("assumed, between {from} and {to} {}", stated.unit)
            }
        };
        let of = stated.of.map_or_else(|| "the rails".to_owned(), &name);
        let same = |other: &&mut Alike| {
            (other.what, &other.value, &other.source) == (stated.what, &value, &source)
        };
        match all.iter_mut().find(same) {
            Some(known) => known.of.push(of),
            None => all.push(Alike { what: stated.what, value, source, of: vec![of] }),
        }
    }
    all
}

/// All electrical values of a layout.
pub fn stated(layout: &Layout) -> Vec<Stated> {
    quantities(layout)
        .into_iter()
        .map(|(of, what, quantity, unit)| Stated { of, what, quantity, unit })
        .collect()
}

/// A value with the thing that has it, its name and its unit.
type Named = (Option<EntityId>, &'static str, Quantity, &'static str);

fn quantities(layout: &Layout) -> Vec<Named> {
    let mut all: Vec<Named> =
        vec![(None, "resistance of one rail", layout.rail_ohm_per_m, "Ω per m")];
    for supply in layout.supplies.values() {
        let id = Some(EntityId::from(supply.id));
        all.push((id, "open-circuit voltage", supply.open_v, "V"));
        all.push((id, "source resistance", supply.source_ohm, "Ω"));
        let more = [
            ("sustained limit", supply.limit.map(|limit| limit.amps), "A"),
            ("bulk capacitance", supply.bulk_f, "F"),
            ("series resistance of the bulk capacitance", supply.bulk_ohm, "Ω"),
            ("resistance of the negative's tie", supply.negative.as_ref().map(|t| t.ohm), "Ω"),
            ("bearable voltage", supply.bearable_v, "V"),
        ];
        all.extend(more.into_iter().filter_map(|(what, q, unit)| Some((id, what, q?, unit))));
    }
    for driver in layout.drivers.values() {
        let id = Some(EntityId::from(driver.id));
        all.push((id, "on-resistance of a high switch", driver.high_ohm, "Ω"));
        all.push((id, "on-resistance of a low switch", driver.low_ohm, "Ω"));
        all.push((id, "forward voltage of a body diode", driver.diode_v, "V"));
        all.push((id, "resistance of a body diode", driver.diode_ohm, "Ω"));
        let more = [
            ("trip threshold", driver.trip.as_ref().map(|trip| trip.amps), "A"),
            ("continuous rating", driver.rating_a, "A"),
            ("wake-up voltage", driver.wake_v, "V"),
        ];
        all.extend(more.into_iter().filter_map(|(what, q, unit)| Some((id, what, q?, unit))));
    }
    for device in layout.devices.values() {
        all.push((Some(device.id.into()), "resistance per pole", device.ohm, "Ω"));
    }
    for feed in layout.feeds.values() {
        if let Some(ohm) = feed.ohm {
            all.push((Some(feed.id.into()), "resistance of one leg", ohm, "Ω"));
        }
    }
    all
}
