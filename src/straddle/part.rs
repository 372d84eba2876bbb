//! What each branch of an assembled circuit stands for.

use super::ix::{DeviceIx, DriverIx, NetIx, SupplyIx};

/// The thing that a branch of a circuit stands for. Its branch runs from the first end that is named to the second.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Part {
    /// A supply with its source resistance, negative to positive pole; of a split supply, either half.
    Source(SupplyIx),
    /// The bulk capacitance of a supply, negative to positive pole.
    Bulk(SupplyIx),
    /// The current that the regulator of a smooth throttle draws itself, positive to negative pole.
    Bleed(SupplyIx),
    /// A tie of a supply's negative pole to the shared negative.
    Tie(SupplyIx),
    /// The output stage of a smooth throttle, positive pole to regulated voltage.
    Regulator(DriverIx),
    /// The way back through the output stage of a smooth throttle.
    RegulatorBack(DriverIx),
    /// A switch of a driver that is on: output (0 is P, 1 is M), high or low; pole to output.
    Switch {
        /// The driver.
        driver: DriverIx,
        /// 0 is P, 1 is M.
        leg: usize,
        /// True for the switch to the positive pole.
        high: bool,
    },
    /// A body diode: of a high switch output to pole, of a low one pole to output.
    Diode {
        /// The driver.
        driver: DriverIx,
        /// 0 is P, 1 is M.
        leg: usize,
        /// True for the diode of the high switch.
        high: bool,
    },
    /// A feeder with the rail up to the cut: output to net.
    Feeder {
        /// The driver.
        driver: DriverIx,
        /// 0 is P, 1 is M.
        leg: usize,
        /// Place in the driver's list of feeders of that output.
        at: usize,
    },
    /// A pole of a device of a feed chain, towards the rails.
    Device {
        /// The device.
        device: DeviceIx,
        /// Its output pole, 0 or 1.
        pole: usize,
    },
    /// A diode of a device in the direction back to the driver.
    DeviceBack(DeviceIx),
    /// A wire that ends on a net and meets others at a device with nothing behind it.
    Loose(NetIx),
    /// Wheels of a pickup group on a net: net to pickups.
    Wheels {
        /// The group.
        group: usize,
        /// 0 is the left rail, 1 the right one.
        side: usize,
        /// The net.
        net: NetIx,
    },
    /// Something that a vehicle draws: left to right pickups.
    Load {
        /// The group.
        group: usize,
        /// Place in the group's list of loads.
        at: usize,
    },
    /// The way through a rectifier from right to left pickups.
    LoadBack {
        /// The group.
        group: usize,
        /// Place in the group's list of loads.
        at: usize,
    },
}
