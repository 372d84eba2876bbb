//! Forms of trips, of drivers and of devices.

use crate::app::form::{AMPERE, Form, MS, NUMBER, PERCENT, SECOND, US};
use crate::layout::{AfterTrip, Quantity, Senses, Trip, TripKind, TripPoint, TripPoints};

pub(super) fn trip_form(form: &mut Form<'_>, trip: &mut Option<Trip>) {
    let mut on = trip.is_some();
    if form.tick("Trips on overcurrent", &mut on).changed() {
        *trip = on.then(|| Trip {
            amps: Quantity::given(3.0),
            senses: Senses::LargerLeg,
            signed: false,
            kind: TripKind::Instant { blanking_s: 100e-6 },
            then: AfterTrip::HighImpedance,
            retry_s: Some(2.0),
        });
    }
    let Some(trip) = trip else { return };
    let amps = match trip.kind {
        TripKind::Thermal { .. } => "Rated",
        TripKind::Chopping => "Limit",
        _ => "Threshold",
    };
    form.quantity(amps, &mut trip.amps, AMPERE, 0.001..=1e4);
    let senses = [
        (Senses::SupplyLead, "Supply lead"),
        (Senses::GroundReturn, "Ground return"),
        (Senses::LegP, "Output P"),
        (Senses::LegM, "Output M"),
        (Senses::LargerLeg, "Larger output"),
        (Senses::HighSwitchP, "High switch of P"),
        (Senses::LowSwitchP, "Low switch of P"),
        (Senses::HighSwitchM, "High switch of M"),
        (Senses::LowSwitchM, "Low switch of M"),
    ]
    .map(|(v, w)| (v, w.to_owned()));
    form.choice("Senses in", &mut trip.senses, &senses);
    form.tick("Only the usual direction counts", &mut trip.signed);
    trip_kind_form(form, &mut trip.kind);
    if trip.kind == TripKind::Chopping {
        trip.retry_s = None;
        form.hint("It never trips: the train crawls.");
        return;
    }
    let then = [
        (AfterTrip::HighImpedance, "High-impedance"),
        (AfterTrip::BrakeLow, "Brake-low"),
        (AfterTrip::BrakeHigh, "Brake-high"),
    ]
    .map(|(v, w)| (v, w.to_owned()));
    form.choice("Then", &mut trip.then, &then);
    form.optional_number("Tries again after", &mut trip.retry_s, 2.0, MS, 0.0..=3600.0);
}

#[derive(Clone, Copy, PartialEq)]
enum TripWord {
    Instant,
    Sampled,
    Averaged,
    Thermal,
    Chopping,
}

pub(in crate::app) fn trip_kind_form(form: &mut Form<'_>, kind: &mut TripKind) {
    let mut word = match kind {
        TripKind::Instant { .. } => TripWord::Instant,
        TripKind::Sampled { .. } => TripWord::Sampled,
        TripKind::Averaged { .. } => TripWord::Averaged,
        TripKind::Thermal { .. } => TripWord::Thermal,
        TripKind::Chopping => TripWord::Chopping,
    };
    let was = word;
    let kinds = [
        (TripWord::Instant, "At once".to_owned()),
        (TripWord::Sampled, "By samples".to_owned()),
        (TripWord::Averaged, "By an average".to_owned()),
        (TripWord::Thermal, "By heat, as a fuse".to_owned()),
        (TripWord::Chopping, "Never: it chops".to_owned()),
    ];
    form.choice("Decides", &mut word, &kinds);
    if word != was {
        *kind = match word {
            TripWord::Instant => TripKind::Instant { blanking_s: 100e-6 },
            TripWord::Sampled => TripKind::Sampled { every_s: 1e-3, in_a_row: 3, locked_at: None },
            TripWord::Averaged => TripKind::Averaged { tau_s: 0.1 },
            TripWord::Thermal => TripKind::Thermal { points: TripPoints::quick_acting() },
            TripWord::Chopping => TripKind::Chopping,
        };
    }
    match kind {
        TripKind::Instant { blanking_s } => {
            form.number("Blanking time", blanking_s, US, 0.0..=10.0);
        }
        TripKind::Sampled { every_s, in_a_row, locked_at } => {
            form.number("Every", every_s, MS, 1e-6..=10.0);
            form.whole("In a row", in_a_row, 1..=1000);
            form.optional_number("Locked to PWM at", locked_at, 0.5, PERCENT, 0.0..=1.0);
        }
        TripKind::Averaged { tau_s } => {
            form.number("Time constant", tau_s, MS, 1e-6..=100.0);
        }
        TripKind::Thermal { points } => trip_points_form(form, points),
        TripKind::Chopping => {}
    }
}

fn trip_points_form(form: &mut Form<'_>, points: &mut TripPoints) {
    form.hint("From the least current at which it ever acts; more current acts sooner.");
    // Each point stays between its neighbours, or the curve would make no sense.
    for at in 0..points.len() {
        let (before, after) = (at.checked_sub(1).map(|b| points[b]), points.get(at + 1).copied());
        let times =
            before.map_or(0.001, |b| b.times * 1.001)..=after.map_or(1000.0, |a| a.times / 1.001);
        let seconds =
            after.map_or(1e-6, |a| a.after_s * 1.001)..=before.map_or(1e6, |b| b.after_s / 1.001);
        let point = &mut points[at];
        form.number(&format!("Point {}: times", at + 1), &mut point.times, NUMBER, times);
        form.number(&format!("Point {}: after", at + 1), &mut point.after_s, SECOND, seconds);
    }
    let mut count = points.len() as u32;
    form.whole("Points", &mut count, 1..=TripPoints::MOST as u32);
    while (points.len() as u32) > count {
        points.pop();
    }
    // A new one goes on with constant I²t.
    while let Some(last) = points.last().copied().filter(|_| (points.len() as u32) < count) {
        points.push(TripPoint { times: 2.0 * last.times, after_s: last.after_s / 4.0 });
    }
}
