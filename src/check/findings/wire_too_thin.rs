//! `wire-too-thin`: wires of a feed that may carry less than what its driver can send through them for ever: just under the
//! trip's threshold, or at the supply's limit where that is lower, or a dead short where neither is known.

use std::collections::BTreeMap;

use super::super::{Bound, Class, Context, Evidence, Finding, Kind, Verdict};
use super::of_drivers;
use crate::layout::wire::may_carry_a;
use crate::layout::{Drive, Driver, DriverId, FeedId, Quantity};

pub fn find(context: &Context, found: &mut Vec<Finding>) {
    let mut thin: BTreeMap<DriverId, Vec<(FeedId, f64)>> = BTreeMap::new();
    for feed in context.layout.feeds.values() {
        if let Some(wire) = feed.wire {
            thin.entry(feed.driver).or_default().push((feed.id, may_carry_a(wire.size)));
        }
    }
    for (driver, mut feeds) in thin {
        let Some(driver) = context.layout.drivers.get(&driver) else { continue };
        let Some((amps, bound)) = for_ever(context, driver) else { continue };
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

/// What can flow out of a driver for ever, A, and what bounds it.
fn for_ever(context: &Context, driver: &Driver) -> Option<(Quantity, Bound)> {
    if driver.drive == Drive::Nothing {
        return None;
    }
    let limit = context.layout.supplies.get(&driver.supply)?.limit.map(|limit| limit.amps);
    match (driver.trip.as_ref().map(|trip| trip.amps), limit) {
        (Some(trip), Some(limit)) if limit.value < trip.value => Some((limit, Bound::Limit)),
        (Some(trip), _) => Some((trip, Bound::Trip)),
        (None, Some(limit)) => Some((limit, Bound::Limit)),
        (None, None) => context
            .coins
            .iter()
            .filter(|coin| coin.at.driver == driver.id)
            .map(|coin| coin.result.at_feeders_a)
            .max_by(f64::total_cmp)
            .map(|amps| (Quantity::given(amps), Bound::Bolted)),
    }
}
