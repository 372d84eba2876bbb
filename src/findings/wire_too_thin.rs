//! `wire-too-thin`: wires of a feed that may carry less than what its driver can send through them for ever: just under the
//! trip's threshold, or at the supply's limit where that is lower, or a dead short where neither is known.

use std::collections::BTreeMap;

use super::of_drivers;
use super::{Bound, Class, Evidence, Finding, Kind, Verdict, View};
use crate::drive;
use crate::layout::wire::may_carry_a;
use crate::layout::{Device, DeviceId, DeviceKind, Driver, DriverId, FeedId, Quantity, resolve};
use crate::rails::SelectorId;

/// A driver and the devices behind it.
type Way = (DriverId, Vec<DeviceId>);

pub fn find(view: &View, found: &mut Vec<Finding>) {
    let (layout, plan) = (view.layout, &view.plan);
    let position = |device: &Device| plan.positions.of(layout, SelectorId::Device(device.id));
    // Feeds by driver and by what lies between: one finding for all that are bounded alike.
    let mut thin: BTreeMap<Way, Vec<(FeedId, f64)>> = BTreeMap::new();
    for feed in layout.feeds.values() {
        let (Some(wire), Some(origin)) = (feed.wire, resolve(layout, feed.driver, &position))
        else {
            continue;
        };
        let bears = (feed.id, may_carry_a(wire.size));
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
        let evidence = Evidence::Wire {
            feeds: feeds.iter().map(|feed| feed.0).collect(),
            amps: amps.value,
            bound,
            bears_a,
            open,
        };
        let kind = Kind::WireTooThin;
        let drivers = vec![driver.id];
        found.push(of_drivers(kind, Class::Fault, verdict, Vec::new(), drivers, evidence));
    }
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
