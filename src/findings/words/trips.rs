//! What acts on a current, and what happens then.

use super::{Words, capital};
use crate::findings::units::{amps, ms, percent};
use crate::findings::{Current, Situation, Trips, Verdict};
use crate::layout::{AfterTrip, DriverId};

impl Words<'_> {
    /// What trips, and when.
    pub(crate) fn trips(&self, situation: &Situation) -> String {
        let drivers = situation.drivers.iter().map(|d| (d.trips, d.trips_share, d.trip_after_s));
        let devices = situation.devices.iter().map(|d| (d.trips, d.trips_share, d.trip_after_s));
        let acting: Vec<_> = drivers.chain(devices).filter(|d| d.0 != Trips::No).collect();
        if acting.is_empty() {
            return match situation.verdict {
                Verdict::Short => {
                    "Nothing there trips: no trip, no rating and no limit is known.".into()
                }
                Verdict::Clear
                | Verdict::Caution
                | Verdict::NotKnown
                | Verdict::Stall
                | Verdict::BackFeed
                | Verdict::Overload => String::new(),
            };
        }
        let several = situation.first.len() + situation.first_devices.len() > 1;
        let names = capital(&self.all_names(&situation.first, &situation.first_devices));
        let mut text = if several {
            format!("{names} trip at the same time")
        } else {
            format!("{names} trips first")
        };
        let after = acting.iter().filter_map(|d| d.2).fold(f64::INFINITY, f64::min);
        if after.is_finite() && after > 0.0 {
            let from =
                if situation.joins.is_empty() { "it begins" } else { "the wheels join the rails" };
            text.push_str(&format!(", {} after {from}", ms(after)));
        }
        if acting.iter().all(|d| d.0 == Trips::Sometimes) {
            let share = acting.iter().map(|d| d.1).fold(0.0, f64::max);
            text.push_str(", but not in every pass");
            if share < 1.0 && share > 0.0 {
                text.push_str(&format!(" (in {} of the phases)", percent(share)));
            }
        }
        text.push('.');
        if let Some(after) = &situation.after_first {
            let (it, goes, has) =
                if several { ("they", "are", "have") } else { ("it", "is", "has") };
            if situation.resolved {
                text.push_str(&format!(" Once {it} {has} turned, nothing flows any more."));
            } else if !after.conflict {
                text.push_str(&format!(" Once {it} {goes} off, nothing flows any more."));
            } else {
                let then = situation
                    .first
                    .iter()
                    .filter_map(|id| self.layout.drivers.get(id)?.trip.as_ref())
                    .find_map(|trip| match trip.then {
                        AfterTrip::HighImpedance => None,
                        AfterTrip::BrakeLow | AfterTrip::BrakeHigh => Some(()),
                    })
                    .map_or("through the body diodes", |()| "into the brake that it then holds");
                text.push_str(&format!(
                    " That does not end it: {} flow on {then}",
                    amps(after.peak_a)
                ));
                if after.trips.is_empty() && after.devices.is_empty() {
                    text.push_str(", and no other trip acts.");
                } else {
                    let then = self.all_names(&after.trips, &after.devices);
                    text.push_str(&format!(", until {then} trips too."));
                }
            }
        }
        text
    }

    /// The largest leg: its driver and current.
    pub(crate) fn largest<'s>(&self, situation: &'s Situation) -> Option<(DriverId, &'s Current)> {
        situation
            .drivers
            .iter()
            .flat_map(|d| [(d.id, &d.p), (d.id, &d.m)])
            .max_by(|a, b| a.1.peak.total_cmp(&b.1.peak))
    }

    pub(crate) fn joined(&self, situation: &Situation) -> &'static str {
        match situation.joins.len() {
            2.. => "both rails",
            1 => "one rail",
            _ => "no rail",
        }
    }

    /// What flows where wheels join rails of both poles of one driver.
    pub(crate) fn both_polarities(&self, situation: &Situation) -> String {
        let text = format!(
            "The wheels of {} join {} of both polarities: {}, {} of the time. {}",
            self.vehicle(situation.vehicle),
            self.joined(situation),
            amps(situation.peak_a()),
            percent(situation.share),
            self.trips(situation)
        );
        text.trim_end().to_owned()
    }
}
