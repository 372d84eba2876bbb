//! `volt-drop`: wires and rails take so much of the voltage at the far end of a block that a train there is noticeably
//! slower. A note: nothing is harmed.

use std::collections::BTreeMap;

use super::{Class, Coin, Evidence, Finding, Kind, Verdict, View};
use crate::layout::DriverId;
use crate::study::coin::working_load;

/// The share of the open-circuit voltage that wires and rails may take (common practice, no source).
const MOST_DROP: f64 = 0.1;

pub fn find(view: &View, found: &mut Vec<Finding>) {
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
    for (driver, (_, coins)) in most {
        let Some(coin) = coins.first() else { continue };
        let open_v = open_v(coin);
        let (load_a, vehicle) = working_load(view.layout, open_v);
        found.push(Finding {
            blocks: coins.iter().map(|coin| view.plan.blocks[coin.at.block].id).collect(),
            drivers: vec![driver],
            vehicle,
            ..Finding::bare(
                Kind::VoltDrop,
                Class::Note,
                Verdict::Caution,
                Evidence::Drop {
                    run: coin.at.run,
                    at_mm: coin.at.at_mm,
                    load_a,
                    wires_ohm: coin.result.wires_ohm,
                    open_v,
                },
            )
        });
    }
}

fn open_v(coin: &Coin) -> f64 {
    let wiring = &coin.case.case.wiring;
    wiring.values[wiring.supplies[wiring.drivers[coin.case.driver].supply].open_v].nominal
}
