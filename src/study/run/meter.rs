//! Readings of a meter between two places on the rails.

use std::collections::BTreeSet;

use crate::circuit::Unsolved;
use crate::layout::{Layout, Spot};
use crate::rails::{Plan, PlanNet};
use crate::straddle::assemble::NumericLoad;
use crate::straddle::case::Wiring;
use crate::straddle::path::{Tape, net_under, ruler_at};
use crate::study::cut::Case;
use crate::study::judge::{Bench, NumericGroup, NumericStand};

/// Input resistance of a voltmeter, Ω (10 MΩ for a common multimeter; common practice, no source).
const VOLTMETER_OHM: f64 = 10e6;
/// Open-circuit voltage of an ohmmeter, V, and its series resistance, Ω: below what opens a diode (common practice, no
/// source).
const OHMMETER: (f64, f64) = (0.3, 100.0);

/// A reading of an ohmmeter.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Ohms {
    /// Less than 1 Ω.
    Joined,
    /// Some ohms to 1 kΩ.
    Some,
    /// More than 1 kΩ.
    Thousands,
    /// Nothing, or more than 100 kΩ.
    Open,
}

/// The net at a place; `None` off the track.
fn net_at(plan: &Plan, spot: &Spot) -> Option<PlanNet> {
    net_under(&ruler_at(plan, spot.run, spot.at_mm, 1.0), spot.rail, 0.0)
}

/// The mean current through a meter between two places, everything as it is set, A. `None` off the track.
fn through(
    layout: &Layout,
    plan: &Plan,
    spots: [Spot; 2],
    meter: NumericLoad,
) -> Result<Option<f64>, Unsolved> {
    let [Some(a), Some(b)] = spots.map(|spot| net_at(plan, &spot)) else { return Ok(None) };
    let nets: BTreeSet<PlanNet> = [a, b].into();
    let (wiring, names) = Wiring::around(layout, plan, &nets, &BTreeSet::new(), Tape::default());
    let [Some(a), Some(b)] = [a, b].map(|net| names.nets.of(&net)) else { return Ok(None) };
    let case = Case::bare(layout, wiring, &names);
    let settings = case.controls.iter().map(|control| control.now).collect();
    let scenario = case.scenario(&settings, &case.powered);
    let metal = NumericStand::of_metal([vec![(a, 1)], vec![(b, 1)]], 1e-3);
    let groups = metal.groups.into_iter();
    let groups = groups.map(|group| NumericGroup { loads: vec![meter], ..group }).collect();
    let stand = NumericStand { groups, ..metal };
    Bench::new(&case.wiring).through_load(&scenario, &stand).map(Some)
}

/// Mean voltage of one place over another, V: what an averaging voltmeter shows with everything as it is set. `None` off
/// the track.
///
/// # Errors
/// The circuit of some joint state has no verified solution.
pub fn volts(layout: &Layout, plan: &Plan, spots: [Spot; 2]) -> Result<Option<f64>, Unsolved> {
    let meter = NumericLoad::Series { ohm: VOLTMETER_OHM, emf_v: 0.0 };
    Ok(through(layout, plan, spots, meter)?.map(|amps| amps * VOLTMETER_OHM))
}

/// The reading of an ohmmeter between two places with everything as it is set; it is valid only where no voltage is.
/// `None` off the track.
///
/// # Errors
/// The circuit of some joint state has no verified solution.
pub fn ohms(layout: &Layout, plan: &Plan, spots: [Spot; 2]) -> Result<Option<Ohms>, Unsolved> {
    let (volts, own_ohm) = OHMMETER;
    let meter = NumericLoad::Series { ohm: own_ohm, emf_v: volts };
    let Some(amps) = through(layout, plan, spots, meter)? else { return Ok(None) };
    let ohm = volts / amps.abs().max(1e-12) - own_ohm;
    Ok(Some(match ohm {
        ohm if ohm < 1.0 => Ohms::Joined,
        ohm if ohm < 1e3 => Ohms::Some,
        ohm if ohm < 100e3 => Ohms::Thousands,
        _ => Ohms::Open,
    }))
}

/// The reading of an ohmmeter between two places with every feeder lifted: metal, or open. `None` off the track.
pub fn lifted_ohms(plan: &Plan, spots: [Spot; 2]) -> Option<Ohms> {
    let [a, b] = spots.map(|spot| net_at(plan, &spot));
    Some(if a? == b? { Ohms::Joined } else { Ohms::Open })
}
