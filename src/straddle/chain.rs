//! Devices of the feed chain in a case: between a driver's outputs and its feeders.

use serde::Serialize;

use crate::layout::{
    AfterTrip, Device, DeviceId, DeviceKind, EntityId, Layout, Quantity, Senses, TripKind, resolve,
};
use crate::rails::{Plan, SelectorId};

use super::case::{Builder, CaseTrip};
use super::ix::{DeviceIx, DriverIx};
use crate::units::{Ohm, ValueId, Volt};

/// Source of a device, as an index of the wiring.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum Root {
    /// The outputs of a driver.
    Driver(DriverIx),
    /// The output of a device that comes before it.
    Device(DeviceIx),
}

/// Component in the first pole of a device beside its resistance.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub enum InPole {
    /// Nothing.
    Wire,
    /// A resistance, Ω.
    Resistor(ValueId<Ohm>),
    /// Two diodes back to back: forward voltage, V, and resistance, Ω.
    Diodes(ValueId<Volt>, ValueId<Ohm>),
}

/// Action of a device that trips.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum Acts {
    /// Opens both poles.
    Opens,
    /// Exchanges them.
    Exchanges,
}

/// A device in a case. Each of its poles is a branch between what feeds it and what it feeds.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CaseDevice {
    /// Its source.
    pub from: Root,
    /// The driver at the head of its chain.
    pub driver: DriverIx,
    /// True if it joins its first output pole to the second pole of what feeds it.
    pub exchanged: bool,
    /// Resistance per pole, Ω.
    pub ohm: ValueId<Ohm>,
    /// Component in its first output pole.
    pub in_pole: InPole,
    /// Its trip on the larger of its poles, and what it then does.
    pub trip: Option<(CaseTrip, Acts)>,
}

/// Where a feeder comes off a device: the device, and which of its output poles.
pub type Through = (DeviceIx, usize);

impl Builder {
    /// Adds the devices on the way to a feed, those that are not yet there. Gives where the leg of a pole comes off the
    /// last one (`None` for a feed straight from a driver).
    pub(super) fn chain(
        &mut self,
        layout: &Layout,
        plan: &Plan,
        feed: &crate::layout::Feed,
        driver: DriverIx,
        is_p: bool,
    ) -> Option<Through> {
        let position = |device: &Device| plan.positions.of(layout, SelectorId::Device(device.id));
        let chain = resolve(layout, feed.driver, &position)?;
        let mut from = Root::Driver(driver);
        let mut last = None;
        for id in chain.devices {
            let at = match self.names.devices.of(&id) {
                Some(at) => at,
                None => {
                    let device = layout.devices.get(&id)?;
                    let exchanged =
                        device.kind.at(position(device)).is_some_and(|(_, swaps)| swaps);
                    let case = self.device(device, from, driver, exchanged);
                    self.wiring.devices.push(case);
                    self.names.devices.push(id)
                }
            };
            from = Root::Device(at);
            last = Some(at);
        }
        // The feeder's first pole is the device's; exchanges on the way to the device do not count.
        last.map(|at| (at, usize::from(!(is_p ^ chain.exchanged))))
    }

    fn device(
        &mut self,
        device: &Device,
        from: Root,
        driver: DriverIx,
        exchanged: bool,
    ) -> CaseDevice {
        let id: DeviceId = device.id;
        let entity = Some(EntityId::Device(id));
        let ohm = self.value(entity, "ohm", device.ohm);
        let in_pole = match &device.kind {
            DeviceKind::Resistor { ohm, .. } => {
                InPole::Resistor(self.value(entity, "kind.ohm", *ohm))
            }
            DeviceKind::DiodePair { volts, ohm, .. } => InPole::Diodes(
                self.value(entity, "kind.volts", *volts),
                self.value(entity, "kind.ohm", *ohm),
            ),
            _ => InPole::Wire,
        };
        let mut senses = |amps: Quantity, kind: TripKind| CaseTrip {
            amps: self.value(entity, "kind.amps", amps),
            senses: Senses::LargerLeg,
            signed: false,
            kind,
            then: AfterTrip::HighImpedance,
        };
        let trip = match &device.kind {
            DeviceKind::AutoReverser { amps, acts_after_s, .. } => {
                let kind = TripKind::Instant { blanking_s: *acts_after_s };
                Some((senses(*amps, kind), Acts::Exchanges))
            }
            DeviceKind::Breaker { amps, trip, .. } | DeviceKind::Fuse { amps, trip, .. } => {
                Some((senses(*amps, *trip), Acts::Opens))
            }
            _ => None,
        };
        CaseDevice { from, driver, exchanged, ohm, in_pole, trip }
    }
}
