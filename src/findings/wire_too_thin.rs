//! `wire-too-thin`: wires of a feed that may carry less than what its driver can send through them for ever: just under the
//! trip's threshold, or at the supply's limit where that is lower, or a dead short where neither is known.

use std::collections::BTreeMap;

use super::units::amps;
use super::words::{and, capital};
use super::{Class, Cure, Evident, Found, Kind, Text, Verdict, View, Words};
use crate::drive;
use crate::layout::wire::rating_a;
use crate::layout::{
    Device, DeviceId, DeviceKind, Driver, DriverId, EntityId, FeedId, Layout, Quantity, resolve,
};
use crate::rails::SelectorId;

/// Wires that are too thin for what may flow in them for ever.
#[derive(Debug, Clone, PartialEq)]
pub struct Evidence {
    /// The feeds whose wires they are, the thinnest first.
    pub feeds: Vec<FeedId>,
    /// What may flow for ever, A.
    pub amps: f64,
    /// What bounds that.
    pub bound: Bound,
    /// What the thinnest may carry, A.
    pub bears_a: f64,
    /// True if the range of the bound leaves it open.
    pub open: bool,
}

impl Evident for Evidence {}

/// What bounds a current that flows for ever.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bound {
    /// The trip's threshold.
    Trip,
    /// A breaker or a fuse between the driver and the wire.
    Guard,
    /// The supply's sustained limit.
    Limit,
    /// The resistance of a dead short at the feeders.
    Bolted,
}

/// A driver and the devices behind it.
type Way = (DriverId, Vec<DeviceId>);

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    let mut found = Vec::new();
    let (layout, plan) = (view.layout, &view.plan);
    let position = |device: &Device| plan.positions.of(layout, SelectorId::Device(device.id));
    // Feeds by driver and by what lies between: one finding for all that are bounded alike.
    let mut thin: BTreeMap<Way, Vec<(FeedId, f64)>> = BTreeMap::new();
    for feed in layout.feeds.values() {
        let (Some(wire), Some(origin)) = (feed.wire, resolve(layout, feed.driver, &position))
        else {
            continue;
        };
        let bears = (feed.id, rating_a(&wire));
        thin.entry((origin.driver, origin.devices)).or_default().push(bears);
    }
    for ((driver, devices), mut feeds) in thin {
        let Some(driver) = layout.drivers.get(&driver) else { continue };
        let own = for_ever(view, driver);
        let guard = devices.iter().filter_map(|id| guards_at(&layout.devices.get(id)?.kind));
        let least = own.into_iter().chain(guard.map(|amps| (amps, Bound::Guard)));
        let Some((amps, bound)) = least.min_by(|a, b| a.0.value.total_cmp(&b.0.value)) else {
            continue;
        };
        let (low, high) = amps.range();
        feeds.retain(|feed| feed.1 < high);
        feeds.sort_by(|a, b| a.1.total_cmp(&b.1));
        let Some(&(_, bears_a)) = feeds.first() else { continue };
        // Within the range of an assumed threshold it is open.
        let open = low <= bears_a;
        let verdict = if open { Verdict::NotKnown } else { Verdict::Overload };
        let evidence = Evidence {
            feeds: feeds.iter().map(|feed| feed.0).collect(),
            amps: amps.value,
            bound,
            bears_a,
            open,
        };
        found.push(Found {
            drivers: vec![driver.id],
            things: devices.iter().copied().map(EntityId::from).collect(),
            ..Found::new(Kind::WireTooThin, Class::Fault, verdict, evidence)
        });
    }
    found
}

/// Current above which a breaker or a fuse opens, A.
fn guards_at(kind: &DeviceKind) -> Option<Quantity> {
    match kind {
        DeviceKind::Breaker { amps, trip, .. } | DeviceKind::Fuse { amps, trip, .. } => {
            Some(amps.scaled(trip.acts_beyond()))
        }
        _ => None,
    }
}

/// What can flow out of a driver for ever, A, and what bounds it.
fn for_ever(view: &View, driver: &Driver) -> Option<(Quantity, Bound)> {
    if !drive::of(&driver.drive).feeds() {
        return None;
    }
    let limit = view.layout.supplies.get(&driver.supply)?.limit.map(|limit| limit.amps);
    match (driver.trip.as_ref().map(|trip| trip.amps.scaled(trip.kind.acts_beyond())), limit) {
        (Some(trip), Some(limit)) if limit.value < trip.value => Some((limit, Bound::Limit)),
        (Some(trip), _) => Some((trip, Bound::Trip)),
        (None, Some(limit)) => Some((limit, Bound::Limit)),
        (None, None) => view
            .coins
            .iter()
            .filter(|coin| coin.at.driver == driver.id)
            .map(|coin| coin.result.at_feeders_a)
            .max_by(f64::total_cmp)
            .map(|amps| (Quantity::given(amps), Bound::Bolted)),
    }
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    let driver = w.names(&w.finding.drivers);
    let thinnest = e.feeds.first().map_or("the wire".into(), |&feed| w.wire(feed));
    let why_so = match e.bound {
        Bound::Trip => {
            format!("Just under its trip's {} {driver} feeds for ever", amps(e.amps))
        }
        Bound::Guard => {
            format!("Just under the {} of a breaker or fuse {driver} feeds for ever", amps(e.amps))
        }
        Bound::Limit => format!(
            "{} can give its sustained {} for ever",
            capital(&format!("the supply of {driver}")),
            amps(e.amps)
        ),
        Bound::Bolted => format!(
            "Nothing is known that would end a short of {driver}, which draws {} at its feeders",
            amps(e.amps)
        ),
    };
    let mut why = format!("{why_so}; {thinnest} may carry {}.", amps(e.bears_a));
    if e.open {
        why.push_str(" Within the range in which the former is assumed, it is enough or not.");
    }
    if e.feeds.len() > 1 {
        let others: Vec<String> = e.feeds[1..].iter().map(ToString::to_string).collect();
        why.push_str(&format!(" The same holds for feed {}.", and(&others)));
    }
    let says = if e.open {
        format!("{}: too thin or not, by an assumed value", capital(&thinnest))
    } else {
        format!(
            "{} may carry {}, and {} can flow in it for ever",
            capital(&thinnest),
            amps(e.bears_a),
            amps(e.amps)
        )
    };
    Text {
 more: String::new(),
        says,
        why,
        advice: vec![
            "Use thicker wire, set the trip below what the wire may carry, or put a fuse to suit before it.".into(),
        ],
    }
}

pub fn cures(_: &Evidence, _: &Layout) -> Vec<Cure> {
    Vec::new()
}

#[cfg(test)]
pub(super) mod tests {
    use crate::findings::pair::Pair;
    use crate::findings::yards::*;
    use crate::findings::{Class, Verdict};
    use crate::layout::WireSize;

    pub fn pairs() -> Vec<Pair> {
        // AWG 28 may carry 1.8 A, AWG 24 3.3 A; the trip waits for 3 A.
        vec![Pair {
            with: wired(&yard(""), WireSize::Awg(28)),
            twin: wired(&yard(""), WireSize::Awg(24)),
            class: Class::Fault,
            verdict: Verdict::Overload,
            peak_a: None,
            cuts: &[],
            blocks: 0,
            says: "The wire of feed f1 (AWG 28) may carry 1.80 A, and 3.00 A can flow in it for ever",
        }]
    }
}
