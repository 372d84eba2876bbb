//! Rules for supplies, drivers with their drives, and feeds.

use super::about::About;
use super::found::{AMP, Found, May, SHARE, VOLT, nearest};
use super::trip;
use crate::drive::{self, SetWord, Value};
use crate::layout::model::{Clock, Direction, Drive, Driver, Feed, Supply, WireSize};

pub(super) fn supply(supply: &Supply, found: &mut Found) {
    found.of(supply.id);
    found.number(supply.id);
    found.name("name", &supply.name);
    let volts = "voltages are in V";
    found.quantity("open_v", &supply.open_v, VOLT, " V", volts);
    found.ohm("source_ohm", &supply.source_ohm);
    if let Some(limit) = &supply.limit {
        found.quantity("limit.amps", &limit.amps, AMP, " A", "for no limit leave `limit` away");
    }
    let farad = May::Be(1e-12, 10.0);
    found.maybe("bulk_f", supply.bulk_f.as_ref(), farad, " F", "in F: 1000 µF is 0.001");
    if let Some(ohm) = &supply.bulk_ohm {
        found.ohm("bulk_ohm", ohm);
    }
    if let Some(negative) = &supply.negative {
        found.word("negative.name", &negative.name);
        found.ohm("negative.ohm", &negative.ohm);
    }
    found.maybe("bearable_v", supply.bearable_v.as_ref(), VOLT, " V", volts);
}

fn clock(clock: &Clock, field: &str, found: &mut Found) {
    let hz = May::Be(1.0, 1e6);
    found.value(&format!("{field}.hz"), clock.hz, hz, " Hz", "frequencies are in Hz");
    found.value(
        &format!("{field}.tolerance"),
        clock.tolerance,
        May::Be(0.0, 0.5),
        "",
        "the tolerance is a fraction: one per cent is 0.01",
    );
    if let Some(shared) = &clock.shared {
        found.word(&format!("{field}.shared"), shared);
    }
    if let Some(phase) = clock.phase {
        let field = format!("{field}.phase");
        if clock.shared.is_none() {
            found.add(
                &field,
                "there is a phase, but no shared clock that it could count from",
                "a phase only with `shared`",
                "name the shared clock, or leave the phase away",
            );
        }
        found.value(&field, phase, SHARE, "", "the phase is a fraction of the period");
    }
}

/// The values of a drive against their ranges, and against each other.
fn drive_values(drive: &Drive, found: &mut Found) {
    for field in drive::fields(&mut drive.clone()) {
        let path = field.path;
        match field.value {
            Value::Clock(of) => clock(of, path, found),
            Value::Ohm(ohm) => found.ohm(path, ohm),
            Value::Name(name) => found.word(path, name),
            Value::Number(number, range) => within(*number, range, path, found),
            Value::Optional { number, range, .. } => {
                number.iter().for_each(|number| within(*number, range, path, found));
            }
            Value::Tick(_) | Value::Idle(_) => {}
        }
    }
    if let Some(wrong) = drive::of(drive).contradiction() {
        found.add(wrong.path, wrong.says, wrong.expected, wrong.hint);
    }
}

fn within(number: f64, range: drive::Range, path: &str, found: &mut Found) {
    let may = May::Be(range.from, range.to);
    found.value(path, number, may, range.measure.suffix(), range.hint);
}

pub(super) fn driver(about: &About, driver: &Driver, found: &mut Found) {
    found.of(driver.id);
    found.number(driver.id);
    found.name("name", &driver.name);
    let supply = about.layout.supplies.get(&driver.supply);
    if supply.is_none() {
        let near = nearest(about.layout.supplies.keys(), driver.supply.0);
        found.missing("supply", driver.supply, near);
    }
    let kind = drive::of(&driver.drive);
    let wants_split = kind.output().needs_midpoint();
    if let Some(supply) = supply
        && kind.feeds()
        && wants_split != supply.split
    {
        found.add(
            "supply",
            if wants_split {
                format!("a half-bridge needs a midpoint, but supply {} is not split", supply.id)
            } else {
                format!("supply {} is split, but only a half-bridge uses its midpoint", supply.id)
            },
            if wants_split { "a split supply" } else { "a supply that is not split" },
            "choose another supply, or change `split` of this one",
        );
    }
    drive_values(&driver.drive, found);
    found.ohm("high_ohm", &driver.high_ohm);
    found.ohm("low_ohm", &driver.low_ohm);
    let diode = May::Be(0.0, 5.0);
    found.quantity("diode_v", &driver.diode_v, diode, " V", "a silicon diode has about 0.7 V");
    found.ohm("diode_ohm", &driver.diode_ohm);
    let rating = "for no rating leave `rating_a` away";
    found.maybe("rating_a", driver.rating_a.as_ref(), AMP, " A", rating);
    trip::of_driver(driver, found);
    let throttle = "a throttle is a fraction: one third is 0.33";
    found.value("lowest_throttle", driver.lowest_throttle, SHARE, "", throttle);
    found.maybe("wake_v", driver.wake_v.as_ref(), VOLT, " V", "voltages are in V");
    let sends = kind.settings().contains(&SetWord::On);
    match driver.setting.direction {
        Direction::On if !sends => found.add(
            "setting.direction",
            "On is for DCC boosters only",
            "Forward, Reverse, Stopped or Off",
            "choose a direction",
        ),
        Direction::Forward | Direction::Reverse | Direction::Stopped if sends => found.add(
            "setting.direction",
            "a DCC booster has no direction",
            "On or Off",
            "choose On",
        ),
        _ => {}
    }
    found.value("setting.throttle", driver.setting.throttle, SHARE, "", throttle);
}

pub(super) fn feed(about: &About, feed: &Feed, found: &mut Found) {
    found.of(feed.id);
    found.number(feed.id);
    found.origin("driver", about.layout, feed.driver);
    found.anchor(about, feed.run, feed.at_mm);
    match (feed.p, feed.m) {
        (None, None) => found.add(
            "",
            "the feed goes to no rail",
            "p, m or both",
            "say to which rail P goes and to which M, such as p: Right, m: Left",
        ),
        (Some(p), Some(m)) if p == m => found.add(
            "m",
            "P and M go to the same rail: the driver would be shorted for ever",
            "two different rails",
            "let M go to the other rail",
        ),
        _ => {}
    }
    if let Some(wire) = &feed.wire {
        match wire.size {
            WireSize::Awg(awg) => {
                let hint = "wire gauge is a whole number; thicker wire has a smaller one";
                let may = May::Be(0.0, 40.0);
                found.value("wire.size[0]", f64::from(awg), may, " AWG", hint);
            }
            WireSize::Mm2(mm2) => {
                let may = May::Be(0.001, 100.0);
                found.value("wire.size[0]", mm2, may, " mm²", "the cross-section of the copper");
            }
        }
        let may = May::Be(0.0, 10_000.0);
        found.value("wire.length_m", wire.length_m, may, " m", "the length of one leg, in m");
    }
    let rating = feed.wire.as_ref().and_then(|wire| wire.rating_a.as_ref());
    let hint = "for what the wire's size may carry leave `rating_a` away";
    found.maybe("wire.rating_a", rating, AMP, " A", hint);
    if let Some(ohm) = &feed.ohm {
        found.ohm("ohm", ohm);
    }
}
