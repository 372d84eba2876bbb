//! `volt-drop`: wires and rails take so much of the voltage at the far end of a block that a train there is noticeably
//! slower. A note: nothing is harmed.

use std::collections::BTreeMap;

use super::units::{amps, ohms, percent, volts};
use super::words::capital;
use super::{
    Caution, Class, Coin, Cure, Evident, Found, Kind, Near, Place, Text, Verdict, View, Words,
};
use crate::layout::{DriverId, RunId};
use crate::study::coin::working_load;

/// The share of the open-circuit voltage that wires and rails may take (common practice, no source).
const MOST_DROP: f64 = 0.1;

/// Voltage that wires and rails take at the far end of a block.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Evidence {
    /// Where.
    pub run: RunId,
    /// Distance along the run, mm.
    pub at_mm: f64,
    /// Load, A.
    pub load_a: f64,
    /// Resistance of wires and rails there and back, Ω.
    pub wires_ohm: f64,
    /// The supply's open-circuit voltage, V.
    pub open_v: f64,
}

impl Evident for Evidence {}

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    // The block with the largest drop speaks for all of a driver.
    let mut most: BTreeMap<DriverId, (f64, Vec<&Coin>)> = BTreeMap::new();
    for coin in &view.coins {
        let open_v = open_v(coin);
        let share = working_load(view.layout, open_v).0 * coin.result.wires_ohm / open_v;
        if share <= MOST_DROP {
            continue;
        }
        let (worst, coins) = most.entry(coin.at.driver).or_insert((share, Vec::new()));
        if share > *worst {
            *worst = share;
            coins.insert(0, coin);
        } else {
            coins.push(coin);
        }
    }
    let told = most.into_iter().filter_map(|(driver, (_, coins))| {
        let coin = coins.first()?;
        let open_v = open_v(coin);
        let (load_a, vehicle) = working_load(view.layout, open_v);
        let (run, at_mm) = (coin.at.run, coin.at.at_mm);
        let wires_ohm = coin.result.wires_ohm;
        let evidence = Evidence { run, at_mm, load_a, wires_ohm, open_v };
        let blocks: Vec<_> = coins.iter().map(|c| view.plan.blocks[c.at.block].id).collect();
        Some(Found {
            places: blocks.iter().copied().map(Place::Block).collect(),
            blocks,
            drivers: vec![driver],
            vehicle,
            ..Found::new(Kind::VoltDrop, Class::Note, Verdict::Caution, evidence)
        })
    });
    told.collect()
}

fn open_v(coin: &Coin) -> f64 {
    let wiring = &coin.case.case.wiring;
    wiring.values[wiring.supplies[wiring.drivers[coin.case.driver].supply].open_v].nominal
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    let drop_v = e.load_a * e.wires_ohm;
    let load = match w.finding.vehicle {
        Some(id) => format!("{} draws {}", w.vehicle(Some(id)), amps(e.load_a)),
        None => format!("a train draws {}, which is assumed", amps(e.load_a)),
    };
    Text {
        says: format!(
            "{}: trains run slower at the far end, where wires and rails take {} of {}; add feeders there",
            w.blocks(),
            volts(drop_v),
            volts(e.open_v)
        ),
        why: format!(
            "Wires and rails to the far end have {} there and back. While {load}, they take {} of the voltage.",
            ohms(e.wires_ohm),
            percent(drop_v / e.open_v),
        ),
        more: capital(&format!("{}.", w.far_end(e.run, e.at_mm))),
        advice: vec!["Add feeders near the far end.".into(), "Or use thicker wire.".into()],
        cautions: vec![Caution::Rewire, Caution::Solder],
    }
}

pub fn cures(e: &Evidence, near: &Near) -> Vec<Cure> {
    let Some(&driver) = near.finding.drivers.first() else { return Vec::new() };
    let mut cures = near.more_feed(driver, (e.run, e.at_mm));
    cures.extend(near.thicker(driver));
    cures
}

#[cfg(test)]
pub(super) mod tests {
    use crate::findings::pair::Pair;
    use crate::findings::yards::*;
    use crate::findings::{Class, Verdict};

    pub fn pairs() -> Vec<Pair> {
        // No vehicle has a load: 0.5 A over 3 Ω are 1.5 V of 14 V, over 2.6 Ω 1.3 V.
        vec![Pair {
            with: legs(&yard(""), 1.5),
            twin: legs(&yard(""), 1.3),
            class: Class::Note,
            verdict: Verdict::Caution,
            peak_a: None,
            cuts: &[],
            blocks: 1,
            says: "West: trains run slower at the far end, where wires and rails take 1.5 V of 14 V; add feeders there",
        }]
    }
}
