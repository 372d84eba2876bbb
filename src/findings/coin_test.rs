//! `coin-test-fails`: a dead short at the far end of a block that no trip ends, at the throttle set now, the lowest usable
//! or full.

use std::collections::BTreeMap;

use super::of_drivers;
use super::{
    Beyond, BlockId, Class, Coin, CoinEvidence, Evidence, Finding, Kind, SetState, Verdict, View,
};
use crate::layout::wire::may_carry_a;
use crate::layout::{DriverId, TripKind};
use crate::study::coin::{self, Try, shares_of_feeds};
use crate::study::situation::current;

/// The blocks in which a driver fails, and the worst of them.
struct Failing {
    blocks: Vec<BlockId>,
    verdict: Verdict,
    evidence: CoinEvidence,
}

pub fn find(view: &View, found: &mut Vec<Finding>) {
    let mut failing: BTreeMap<DriverId, Failing> = BTreeMap::new();
    for coin in &view.coins {
        let Some((verdict, evidence)) = failed(view, coin) else { continue };
        let block = view.plan.blocks[coin.at.block].id;
        match failing.get_mut(&coin.at.driver) {
            None => {
                let new = Failing { blocks: vec![block], verdict, evidence };
                failing.insert(coin.at.driver, new);
            }
            // The worst block comes first and is told.
            Some(old) if verdict > old.verdict => {
                old.blocks.insert(0, block);
                (old.verdict, old.evidence) = (verdict, evidence);
            }
            Some(old) => old.blocks.push(block),
        }
    }
    for (driver, Failing { blocks, verdict, evidence }) in failing {
        let evidence = Evidence::Coin(Box::new(evidence));
        let kind = Kind::CoinTestFails;
        found.push(of_drivers(kind, Class::Fault, verdict, blocks, vec![driver], evidence));
    }
}

/// The worst of the settings at which a coin is fed for ever.
fn failed(view: &View, coin: &Coin) -> Option<(Verdict, CoinEvidence)> {
    let mut fails: Vec<(Verdict, Vec<Beyond>, &Try)> = coin
        .result
        .tries
        .iter()
        .filter(|tried| tried.fails())
        .map(|tried| {
            let beyond = beyond(view, coin, tried);
            let verdict = if !tried.open.is_empty() {
                Verdict::NotKnown
            } else if beyond.is_empty() {
                Verdict::Caution
            } else {
                Verdict::Overload
            };
            (verdict, beyond, tried)
        })
        .collect();
    fails.sort_by(|a, b| {
        (b.0, b.2.leg.rms).partial_cmp(&(a.0, a.2.leg.rms)).unwrap_or(a.0.cmp(&b.0))
    });
    let settings =
        fails.iter().map(|f| SetState { state: f.2.set.0, throttle: f.2.set.1 }).collect();
    let (verdict, beyond, tried) = fails.into_iter().next()?;
    let wiring = &coin.case.case.wiring;
    let trip = wiring.drivers[coin.case.driver].trip.as_ref();
    let evidence = CoinEvidence {
        driver: coin.at.driver,
        run: coin.at.run,
        at_mm: coin.at.at_mm,
        rail_mm: coin.at.rail_mm,
        settings,
        leg: current(&tried.leg),
        sensed: tried.sensed.as_ref().map(current),
        threshold_a: trip.map(|trip| wiring.values[trip.amps].nominal),
        guards: coin
            .case
            .guards()
            .into_iter()
            .filter_map(|at| {
                let (trip, _) = wiring.devices[at].trip.as_ref()?;
                Some((coin.at.names.devices[at], wiring.values[trip.amps].nominal))
            })
            .collect(),
        supply_a: tried.supply_a,
        limited: tried.limited,
        beyond,
        measure: tried.open.iter().map(|&at| coin.at.names.values[at]).collect(),
    };
    Some((verdict, evidence))
}

/// Ratings that are exceeded for as long as the coin lies there.
fn beyond(view: &View, coin: &Coin, tried: &Try) -> Vec<Beyond> {
    let mut beyond = Vec::new();
    // A supply that gives up and tries again feeds it in short bursts only.
    if tried.limited && coin::hiccups(view.layout, coin.at.driver) {
        return beyond;
    }
    let wiring = &coin.case.case.wiring;
    let driver = &wiring.drivers[coin.case.driver];
    // A driver that chops lets no more through than its limit.
    let chops = driver.trip.as_ref().filter(|trip| trip.kind == TripKind::Chopping);
    let most_a = chops.map_or(f64::INFINITY, |trip| wiring.values[trip.amps].nominal);
    // Without a rating the trip's threshold says what the driver is meant to bear.
    let bears = driver.rating_a.or(driver.trip.as_ref().map(|trip| trip.amps));
    if let Some(bears) =
        bears.map(|at| wiring.values[at].nominal).filter(|a| tried.leg.rms.min(most_a) > *a)
    {
        beyond.push(Beyond::Driver(bears));
    }
    let values = wiring.nominal();
    for (output, rms_a) in tried.rms_a.map(|rms| rms.min(most_a)).into_iter().enumerate() {
        for net in coin.case.nets {
            for (feed, share) in shares_of_feeds(driver, output, net, &values, &coin.at.names) {
                let wire = view.layout.feeds.get(&feed).and_then(|feed| feed.wire);
                let Some(bears) = wire.map(|wire| may_carry_a(wire.size)) else { continue };
                let told = beyond.iter().any(|b| matches!(b, Beyond::Wire(id, ..) if *id == feed));
                if rms_a * share > bears && !told {
                    beyond.push(Beyond::Wire(feed, rms_a * share, bears));
                }
            }
        }
    }
    beyond
}
