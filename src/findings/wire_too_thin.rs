//! `wire-too-thin`: wires of a feed that may carry less than what its driver can send through them without end: just under the
//! trip's threshold, or at the supply's limit where that is lower, or a dead short where neither is known.

use super::near::thicker;
use crate::job::Job;
use std::collections::BTreeMap;

use super::units::amps_apart;
use super::words::{and, capital};
use super::{
    BlockId, Caution, Class, Cure, Evident, Found, Kind, Near, Place, Text, Verdict, View, Words,
};
use crate::drive;
use crate::layout::wire::rating_a;
use crate::layout::{
    Device, DeviceId, DeviceKind, Driver, DriverId, EntityId, FeedId, Quantity, resolve,
};
use crate::rails::SelectorId;

/// Wires that are too thin for what may flow in them without end.
#[derive(Debug, Clone, PartialEq)]
pub struct Evidence {
    /// The feeds whose wires they are, the thinnest first.
    pub feeds: Vec<FeedId>,
    /// What may flow without end, A.
    pub amps: f64,
    /// What bounds that.
    pub bound: Bound,
    /// What the thinnest may carry, A.
    pub bears_a: f64,
    /// True if the range of the bound leaves it open.
    pub open: bool,
}

impl Evident for Evidence {}

/// What bounds a current that flows without end.
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
        let blocks = blocks(view, &evidence.feeds);
        found.push(Found {
            places: blocks.iter().copied().map(Place::Block).collect(),
            blocks,
            drivers: vec![driver.id],
            things: devices.iter().copied().map(EntityId::from).collect(),
            ..Found::new(Kind::WireTooThin, Class::Fault, verdict, evidence)
        });
    }
    found
}

/// The blocks that feeds end on.
fn blocks(view: &View, feeds: &[FeedId]) -> Vec<BlockId> {
    let mut blocks = Vec::new();
    for feed in feeds.iter().filter_map(|id| view.layout.feeds.get(id)) {
        let block =
            view.plan.block_at(feed.run, feed.at_mm).and_then(|at| view.plan.blocks.get(at));
        if let Some(id) = block.map(|block| block.id).filter(|id| !blocks.contains(id)) {
            blocks.push(id);
        }
    }
    blocks
}

/// Current above which a breaker or a fuse opens, A.
fn guards_at(kind: &DeviceKind) -> Option<Quantity> {
    match kind {
        DeviceKind::Breaker { amps, trip, .. } | DeviceKind::Fuse { amps, trip, .. } => {
            Some(amps.scaled(trip.acts_beyond()))
        }
        DeviceKind::CabSelector { .. }
        | DeviceKind::ReversingSwitch { .. }
        | DeviceKind::AutoReverser { .. }
        | DeviceKind::Resistor { .. }
        | DeviceKind::DiodePair { .. } => None,
    }
}

/// What can flow out of a driver without end, A, and what bounds it.
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
    let wire = match e.feeds.first() {
        Some(&feed) => w.wire(feed),
        None => "the wire".to_owned(),
    };
    let place = if w.finding.blocks.is_empty() { capital(&driver) } else { w.blocks() };
    let [carries, bears] = amps_apart(e.amps, e.bears_a);
    let bound = match e.bound {
        Bound::Trip => format!("The trip of {driver} lets just under {carries} flow without end."),
        Bound::Guard => {
            format!(
                "A breaker or a fuse behind {driver} lets just under {carries} flow without end."
            )
        }
        Bound::Limit => format!("The supply of {driver} gives {carries} without end."),
        Bound::Bolted => format!(
            "Nothing is known that ends a short of {driver}, which draws {carries} at its feeders."
        ),
    };
    let says = if e.open {
        format!(
            "{place}: {wire} stands {bears}, which may be too little for {carries}; state what limits the current"
        )
    } else {
        format!(
            "{place}: {wire} stands {bears}, and {carries} can flow in it without end; use thicker wire"
        )
    };
    let mut more: Vec<String> = Vec::new();
    if e.open {
        more.push(format!(
            "The {carries} is assumed: within its range the wire is thick enough or not."
        ));
    }
    if e.feeds.len() > 1 {
        let others: Vec<String> = e.feeds[1..].iter().map(|&feed| w.wire(feed)).collect();
        more.push(format!("The same holds for {}.", and(&others)));
    }
    Text {
        says,
        why: format!("{bound} {} stands {bears} continuously.", capital(&wire)),
        more: more.join(" "),
        advice: vec![
            "Use thicker wire.".into(),
            format!(
                "Or set the trip below {bears}, or put a fuse of at most {bears} before the wire."
            ),
        ],
        cautions: vec![Caution::Rewire, Caution::Guard],
    }
}

pub fn cures(e: &Evidence, near: &Near) -> Vec<Cure> {
    let thick = |step: u32| {
        let jobs = e.feeds.iter().filter_map(|&feed| {
            let size = near.layout().feeds.get(&feed)?.wire?.size;
            Some(Job::Thicken { feed, size: thicker(size, step)? })
        });
        Cure::from(jobs.collect::<Vec<Job>>())
    };
    let mut cures: Vec<Cure> = [2, 4, 6, 8].map(thick).into();
    let drivers = near.finding.drivers.iter();
    let lower = drivers.filter_map(|&driver| near.lower_trip(driver, e.bears_a * 0.9));
    cures.extend(lower.map(Cure::from));
    cures
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
            blocks: 1,
            says: "West: the wire of feed f1 (AWG 28) stands 1.8 A, and 3.0 A can flow in it without end; use thicker wire",
        }]
    }
}
