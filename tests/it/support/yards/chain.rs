//! Two blocks of one booster, with devices between it and the rails.

use gapwright::layout::{self, DeviceId, Edit, Layout};

use super::straight::{edited, yard};

pub const X1: DeviceId = DeviceId(1);
pub const X2: DeviceId = DeviceId(2);

/// Two blocks of one booster whose trip waits 100 µs; what `f2` comes from, and devices of 20 mΩ per pole.
pub fn district(more: &str) -> Layout {
    yard(&format!(
        r#"
        -d2
        -s2
        (id: "d1", supply: "s1", $DCC, $STAGE, trip: (amps: 3, senses: LargerLeg, kind: Instant(blanking_s: 0.0001)), setting: (direction: On))
        (id: "f2", driver: "x1", run: "r1", at_mm: 1700, p: Right, m: Left, ohm: 0.35)
        {more}"#
    ))
}

pub fn reverser(id: u32, from: &str, amps: f64, after_s: f64, position: u32) -> String {
    format!(
        r#"(id: "x{id}", kind: AutoReverser(from: "{from}", amps: {amps}, acts_after_s: {after_s}), ohm: 0.02, position: {position})"#
    )
}

pub fn breaker(id: u32, from: &str, amps: f64, blanking_s: f64) -> String {
    format!(
        r#"(id: "x{id}", kind: Breaker(from: "{from}", amps: {amps}, trip: Instant(blanking_s: {blanking_s})), ohm: 0.02)"#
    )
}

pub fn with_device(
    layout: &Layout,
    id: DeviceId,
    change: impl FnOnce(&mut layout::Device),
) -> Layout {
    let mut device = layout.devices[&id].clone();
    change(&mut device);
    edited(layout, Edit::Replace(device.into()))
}
