//! `volt-drop`: wires and rails take so much of the voltage at the far end of a block that a train there is noticeably
//! slower. A note: nothing is harmed.

use std::collections::BTreeMap;

use super::units::{amps, percent, volts};
use super::words::capital;
use super::{Class, Coin, Cure, Evident, Found, Kind, Place, Text, Verdict, View, Words};
use crate::layout::{DriverId, Layout, RunId};
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
    let Evidence { run, at_mm, load_a, wires_ohm, open_v } = *e;
    let drop = load_a * wires_ohm;
    let load = match w.finding.vehicle {
        Some(id) => format!("{} draws {}", w.vehicle(Some(id)), amps(load_a)),
        None => format!("a train draws {} (assumed: no vehicle here has a load)", amps(load_a)),
    };
    Text {
        more: String::new(),
        says: format!(
            "{}: wires and rails take {} of {} at the far end",
            w.blocks(),
            volts(drop),
            volts(open_v)
        ),
        why: format!(
            "{} has {wires_ohm:.2} Ω of wire and rail up to it, there and back. While {load}, that takes {}: a train is \
             slower there than near the feeders.",
            capital(&w.far_end(run, at_mm)),
            percent(drop / open_v),
        ),
        advice: vec!["Add feeders near the far end, or use thicker wire.".into()],
    }
}

pub fn cures(_: &Evidence, _: &Layout) -> Vec<Cure> {
    Vec::new()
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
            says: "West: wires and rails take 1.5 V of 14.0 V at the far end",
        }]
    }
}
