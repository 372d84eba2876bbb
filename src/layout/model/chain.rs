//! Feed chains followed back to their drivers.

use super::device::{Device, Origin};
use super::ids::{DeviceId, DriverId};
use super::layout::Layout;

/// Where a chain leads back to.
#[derive(Debug, Clone, PartialEq)]
pub struct Resolved {
    /// The driver at its head.
    pub driver: DriverId,
    /// Whether its poles are exchanged on the way.
    pub exchanged: bool,
    /// The devices on the way, the nearest to the driver first.
    pub devices: Vec<DeviceId>,
}

/// The driver behind an origin as the devices stand now; `None` if one is off.
pub fn driver_now(layout: &Layout, origin: Origin) -> Option<DriverId> {
    resolve(layout, origin, &|device| device.position).map(|at| at.driver)
}

/// Follows a chain back to its driver, every device in the position that `position` gives; `None` if it is off there.
pub fn resolve(
    layout: &Layout,
    origin: Origin,
    position: &dyn Fn(&Device) -> u32,
) -> Option<Resolved> {
    let (mut origin, mut exchanged, mut devices) = (origin, false, Vec::new());
    loop {
        match origin {
            Origin::Driver(driver) => {
                devices.reverse();
                return layout.drivers.contains_key(&driver).then_some(Resolved {
                    driver,
                    exchanged,
                    devices,
                });
            }
            Origin::Device(id) => {
                let device = layout.devices.get(&id)?;
                let (from, swaps) = device.kind.at(position(device))?;
                // A layout that loaded has no chain that bites its tail.
                if devices.len() > layout.devices.len() {
                    return None;
                }
                devices.push(id);
                exchanged ^= swaps;
                origin = from;
            }
        }
    }
}
