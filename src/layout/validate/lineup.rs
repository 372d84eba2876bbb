//! Rules for lineups: what they name must be there.

use super::found::{Found, SHARE, nearest};
use crate::layout::model::{Layout, Lineup};

pub(super) fn lineup(layout: &Layout, lineup: &Lineup, found: &mut Found) {
    found.of(lineup.id);
    found.number(lineup.id);
    found.name("name", &lineup.name);
    for (i, throttle) in lineup.throttles.iter().enumerate() {
        if !layout.drivers.contains_key(&throttle.driver) {
            let near = nearest(layout.drivers.keys(), throttle.driver.0);
            found.missing(&format!("throttles[{i}].driver"), throttle.driver, near);
        }
        let field = format!("throttles[{i}].setting.throttle");
        let hint = "a throttle is a fraction: one third is 0.33";
        found.value(&field, throttle.setting.throttle, SHARE, "", hint);
    }
    for (i, at) in lineup.points.iter().enumerate() {
        if !layout.specials.contains_key(&at.special) {
            let near = nearest(layout.specials.keys(), at.special.0);
            found.missing(&format!("points[{i}].special"), at.special, near);
        }
    }
    for (i, at) in lineup.devices.iter().enumerate() {
        if !layout.devices.contains_key(&at.device) {
            let near = nearest(layout.devices.keys(), at.device.0);
            found.missing(&format!("devices[{i}].device"), at.device, near);
        }
    }
}
