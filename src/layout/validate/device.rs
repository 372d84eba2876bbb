//! Rules for devices, and for gangs of selectors.

use std::collections::{BTreeMap, BTreeSet};

use super::found::{AMP, Found, SECONDS, VOLT};
use super::limits::{MOST_FAULTS, MOST_IN_A_ROW, MOST_ROADS};
use super::trip;
use crate::layout::model::{Device, DeviceId, DeviceKind, EntityId, Layout, Origin};
use crate::layout::words::number;

/// `circles` is false if the device is surely not fed from itself.
pub(super) fn device(layout: &Layout, device: &Device, circles: bool, found: &mut Found) {
    found.of(device.id);
    found.number(device.id);
    found.name("name", &device.name);
    found.name("gang", &device.gang);
    found.ohm("ohm", &device.ohm);
    let from = "kind.from";
    match &device.kind {
        DeviceKind::CabSelector { cabs } => {
            if cabs.is_empty() || cabs.len() > MOST_ROADS {
                found.add(
                    "kind.cabs",
                    format!("the selector has {} positions", cabs.len()),
                    format!("from 1 to {MOST_ROADS} positions"),
                    "list what each position joins, None for off",
                );
            }
            for (at, cab) in cabs.iter().enumerate() {
                if let Some(origin) = cab {
                    found.origin(&format!("kind.cabs[{at}]"), layout, *origin);
                }
            }
        }
        DeviceKind::ReversingSwitch { from: origin, .. } => found.origin(from, layout, *origin),
        DeviceKind::AutoReverser { from: origin, amps, acts_after_s } => {
            found.origin(from, layout, *origin);
            found.quantity("kind.amps", amps, AMP, " A", "currents are in A");
            found.value("kind.acts_after_s", *acts_after_s, SECONDS, " s", "times are in s");
        }
        DeviceKind::Breaker { from: origin, amps, trip, retry_s } => {
            found.origin(from, layout, *origin);
            found.quantity("kind.amps", amps, AMP, " A", "currents are in A");
            trip::kind(trip, "kind.trip", None, found);
            if let Some(retry_s) = retry_s {
                let hint = "for a breaker that someone resets leave `retry_s` away";
                found.value("kind.retry_s", *retry_s, SECONDS, " s", hint);
            }
        }
        DeviceKind::Fuse { from: origin, amps, trip } => {
            found.origin(from, layout, *origin);
            found.quantity("kind.amps", amps, AMP, " A", "currents are in A");
            trip::kind(trip, "kind.trip", None, found);
        }
        DeviceKind::Resistor { from: origin, ohm } => {
            found.origin(from, layout, *origin);
            found.ohm("kind.ohm", ohm);
        }
        DeviceKind::DiodePair { from: origin, volts, ohm } => {
            found.origin(from, layout, *origin);
            found.quantity("kind.volts", volts, VOLT, " V", "voltages are in V");
            found.ohm("kind.ohm", ohm);
        }
    }
    let positions = device.kind.positions();
    if positions > 0 && device.position >= positions {
        found.add(
            "position",
            format!("the {} has {positions} positions", device.kind.word()),
            format!("a number from 0 to {}", positions - 1),
            "positions count from 0",
        );
    }
    if circles && found.faults.len() < MOST_FAULTS && feeds_itself(layout, device.id) {
        found.add(
            "kind",
            "the device is fed from itself, through others",
            "a chain that starts at a driver",
            "choose what it is fed from again",
        );
    }
}

/// No device has too many others before it, in the longest row of them. Returns those that are fed from themselves, or from
/// one that is.
pub(super) fn rows(layout: &Layout, found: &mut Found) -> BTreeSet<DeviceId> {
    let before = |device: &Device| {
        let devices = |origin| match origin {
            Origin::Device(up) => Some(up),
            Origin::Driver(_) => None,
        };
        device.kind.sources().into_iter().filter_map(devices).collect::<BTreeSet<DeviceId>>()
    };
    let mut after: BTreeMap<DeviceId, Vec<DeviceId>> = BTreeMap::new();
    // How many of those before it are not counted yet. Devices that feed each other in a circle never come to 0.
    let mut open: BTreeMap<DeviceId, usize> = BTreeMap::new();
    for device in layout.devices.values() {
        let before = before(device);
        open.insert(device.id, before.len());
        before.into_iter().for_each(|up| after.entry(up).or_default().push(device.id));
    }
    let mut ready: Vec<(DeviceId, usize)> =
        open.iter().filter(|(_, open)| **open == 0).map(|(&id, _)| (id, 1)).collect();
    let mut row: BTreeMap<DeviceId, usize> = BTreeMap::new();
    while let Some((id, count)) = ready.pop() {
        if count == MOST_IN_A_ROW + 1 {
            found.of(id);
            found.add(
                "kind",
                format!("it is number {count} of devices in a row"),
                format!("at most {MOST_IN_A_ROW} devices between a driver and the rails"),
                "feed it from nearer to the driver",
            );
        }
        for &next in after.get(&id).into_iter().flatten() {
            let longest = row.entry(next).or_default();
            *longest = count.max(*longest);
            let open = open.entry(next).or_default();
            *open -= 1;
            if *open == 0 {
                ready.push((next, *longest + 1));
            }
        }
    }
    open.retain(|_, open| *open > 0);
    open.into_keys().collect()
}

fn feeds_itself(layout: &Layout, id: DeviceId) -> bool {
    let mut seen: BTreeSet<DeviceId> = BTreeSet::new();
    let mut waiting = vec![id];
    while let Some(next) = waiting.pop() {
        for origin in layout.devices.get(&next).into_iter().flat_map(|d| d.kind.sources()) {
            if let Origin::Device(up) = origin {
                if up == id {
                    return true;
                }
                if seen.insert(up) {
                    waiting.push(up);
                }
            }
        }
    }
    false
}

/// Selectors of one gang have the same number of positions and stand in the same one.
pub(super) fn gangs(layout: &Layout, looks: &dyn Fn(EntityId) -> bool, found: &mut Found) {
    let mut first: BTreeMap<&str, (EntityId, u32, u32)> = BTreeMap::new();
    let specials = layout
        .specials
        .values()
        .map(|s| (s.id.into(), s.gang.as_str(), s.position, s.work.positions()));
    let devices = layout
        .devices
        .values()
        .map(|d| (d.id.into(), d.gang.as_str(), d.position, d.kind.positions()));
    for (id, gang, position, positions) in specials.chain(devices) {
        if gang.is_empty() {
            continue;
        }
        let &mut (leader, at, count) = first.entry(gang).or_insert((id, position, positions));
        if !looks(id) && !looks(leader) {
            continue;
        }
        found.entity = Some(id);
        if count != positions {
            found.add(
                "gang",
                format!(
                    "{leader} in the gang {gang:?} has {} positions, this has {}",
                    number(f64::from(count)),
                    number(f64::from(positions))
                ),
                "selectors of one gang with the same number of positions",
                "leave the gang away, or name another",
            );
        } else if at != position {
            found.add(
                "position",
                format!("{leader} in the gang {gang:?} stands in position {at}"),
                "selectors of one gang in the same position",
                "throw them together",
            );
        }
    }
}
