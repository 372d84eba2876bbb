//! Rules for trips, of drivers and of devices.

use super::found::{AMP, Found, May, NO_TIME_OR_SECONDS, SECONDS, SHARE};
use crate::drive;
use crate::layout::model::{Drive, Driver, TripKind, TripPoint};

const IN_SECONDS: &str = "times are in s: 1 ms is 0.001";

pub(super) fn of_driver(driver: &Driver, found: &mut Found) {
    let Some(trip) = &driver.trip else { return };
    found.quantity("trip.amps", &trip.amps, AMP, " A", "for no trip leave `trip` away");
    kind(&trip.kind, "trip.kind", Some(&driver.drive), found);
    if trip.kind == TripKind::Chopping && trip.retry_s.is_some() {
        found.add(
            "trip.retry_s",
            "what limits cycle by cycle never trips, so it has nothing to try again",
            "no `retry_s` with a chopping limit",
            "leave `retry_s` away",
        );
    }
    if let Some(retry_s) = trip.retry_s {
        let hint = "for a trip that latches leave `retry_s` away";
        found.value("trip.retry_s", retry_s, SECONDS, " s", hint);
    }
}

/// `drive` is that of the driver, if the trip is one.
pub(super) fn kind(kind: &TripKind, field: &str, drive: Option<&Drive>, found: &mut Found) {
    match *kind {
        TripKind::Instant { blanking_s } => {
            let field = format!("{field}.blanking_s");
            found.value(&field, blanking_s, NO_TIME_OR_SECONDS, " s", IN_SECONDS);
        }
        TripKind::Sampled { every_s, in_a_row, locked_at } => {
            found.value(&format!("{field}.every_s"), every_s, SECONDS, " s", IN_SECONDS);
            let hint = "how many readings above the threshold in a row it takes";
            let may = May::Be(1.0, 16.0);
            found.value(&format!("{field}.in_a_row"), f64::from(in_a_row), may, "", hint);
            if let Some(at) = locked_at {
                let hint = "the place within the PWM period, as a fraction of it";
                found.value(&format!("{field}.locked_at"), at, SHARE, "", hint);
                if !drive.is_some_and(|drive| drive::of(drive).has_pwm()) {
                    found.add(
                        format!("{field}.locked_at"),
                        "there is no PWM that readings could be locked to",
                        "locked readings only of a PWM bridge or half-bridge",
                        "leave `locked_at` away: the readings run free",
                    );
                }
            }
        }
        TripKind::Averaged { tau_s } => {
            found.value(&format!("{field}.tau_s"), tau_s, SECONDS, " s", IN_SECONDS);
        }
        TripKind::Thermal { points } => curve(&format!("{field}.points"), &points, found),
        TripKind::Chopping if drive.is_none() => found.add(
            field,
            "what limits cycle by cycle never opens",
            "a kind of trip that acts",
            "only drivers chop",
        ),
        TripKind::Chopping => {}
    }
}

fn curve(field: &str, points: &[TripPoint], found: &mut Found) {
    if points.is_empty() {
        found.add(
            field,
            "the curve has no points",
            "at least one point",
            "the first is the least current at which it ever acts, such as (times: 1.5, after_s: 3600)",
        );
    }
    let mut before: Option<TripPoint> = None;
    for (i, point) in points.iter().enumerate() {
        let times = "currents are multiples of the trip's `amps`";
        let may = May::Be(0.001, 1000.0);
        let mut sound = found.value(&format!("{field}[{i}].times"), point.times, may, "", times);
        let after = format!("{field}[{i}].after_s");
        sound &= found.value(&after, point.after_s, SECONDS, " s", IN_SECONDS);
        if !sound {
            continue;
        }
        if before.is_some_and(|b| point.times <= b.times || point.after_s >= b.after_s) {
            found.add(
                format!("{field}[{i}]"),
                "the point does not have more current and less time than the one before",
                "points in order of current, each sooner than the one before",
                "list the least current first; more current acts sooner",
            );
        }
        before = Some(*point);
    }
}
