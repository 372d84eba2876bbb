//! What can act on a fault.

use crate::layout::{DeviceId, DriverId, SupplyId};

/// Something in a chain that guards against a fault.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum GuardId {
    /// A device.
    Device(DeviceId),
    /// The trip of a driver.
    Driver(DriverId),
    /// The sustained limit of a supply.
    Supply(SupplyId),
}
