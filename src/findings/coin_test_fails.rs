//! `coin-test-fails`: a dead short at the far end of a block that no trip ends, at the throttle set now, the lowest usable
//! or full.

use crate::job::Job;
use std::collections::BTreeMap;

use super::units::{amps, amps_apart, percent};
use super::words::{and, capital, field_of};
use super::{
    BlockId, Caution, Class, Coin, Cure, Current, Evident, Found, Kind, Near, Place, SetState,
    Text, Verdict, View, Words,
};
use crate::layout::wire::rating_a;
use crate::layout::{DeviceId, DriverId, EntityId, FeedId, RunId, Senses, TripKind};
use crate::study::coin::{self, Try, shares_of_feeds};
use crate::study::situation::current;

/// A rating that a fault exceeds continuously.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Beyond {
    /// The driver bears so much, A.
    Driver(f64),
    /// The wires of a feed carry so much and bear so much, A.
    Wire(FeedId, f64, f64),
}

/// A dead short at the far end of a block that is fed without end.
#[derive(Debug, Clone, PartialEq)]
pub struct Evidence {
    /// The driver.
    pub driver: DriverId,
    /// Where the coin lies.
    pub run: RunId,
    /// Distance along the run, mm.
    pub at_mm: f64,
    /// Rail between it and the nearest feeders, on the two rails, mm.
    pub rail_mm: [f64; 2],
    /// The settings at which nothing ends it, the worst first.
    pub settings: Vec<SetState>,
    /// In the driver's larger leg, at the worst of them.
    pub leg: Current,
    /// Where its trip senses.
    pub sensed: Option<Current>,
    /// The trip's threshold, A.
    pub threshold_a: Option<f64>,
    /// Breakers and fuses on the way, and what each waits for, A.
    pub guards: Vec<(DeviceId, f64)>,
    /// What the supply gives, A.
    pub supply_a: f64,
    /// Whether the supply is at its limit, less what else it feeds.
    pub limited: bool,
    /// Ratings that are exceeded.
    pub beyond: Vec<Beyond>,
    /// Values whose ranges leave it open: the entity (`None`: the layout) and the field.
    pub measure: Vec<(Option<EntityId>, &'static str)>,
}

impl Evident for Evidence {}

/// The blocks in which a driver fails, and the worst of them.
struct Failing {
    blocks: Vec<BlockId>,
    verdict: Verdict,
    evidence: Evidence,
}

pub fn find(view: &View) -> Vec<Found<Evidence>> {
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
    let told = failing.into_iter().map(|(driver, Failing { blocks, verdict, evidence })| Found {
        places: blocks.iter().copied().map(Place::Block).collect(),
        blocks,
        drivers: vec![driver],
        ..Found::new(Kind::CoinTestFails, Class::Fault, verdict, evidence)
    });
    told.collect()
}

/// The worst of the settings at which a coin is fed without end.
fn failed(view: &View, coin: &Coin) -> Option<(Verdict, Evidence)> {
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
    let evidence = Evidence {
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

/// Ratings that are exceeded while the coin is there.
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
                let Some(bears) = wire.map(|wire| rating_a(&wire)) else { continue };
                let told = beyond.iter().any(|b| matches!(b, Beyond::Wire(id, ..) if *id == feed));
                if rms_a * share > bears && !told {
                    beyond.push(Beyond::Wire(feed, rms_a * share, bears));
                }
            }
        }
    }
    beyond
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    let (blocks, name) = (w.blocks(), w.driver(e.driver));
    let open = !e.measure.is_empty();
    let trip = w.layout.drivers.get(&e.driver).and_then(|driver| driver.trip.as_ref());
    let chops = trip.is_some_and(|trip| trip.kind == TripKind::Chopping);
    let says = if open {
        let what: Vec<String> = e.measure.iter().map(|at| field_of(w, at)).collect();
        format!(
            "{blocks}: a short at the far end may not trip {name}; measure {} first",
            and(&what)
        )
    } else {
        format!(
            "{blocks}: {name} feeds a short at the far end with {} and never trips; {}",
            amps(e.leg.rms),
            match (e.limited, chops) {
                (true, _) => "set its trip below what the supply gives",
                (false, true) => "use a trip that switches off",
                (false, false) => "add feeders there",
            }
        )
    };
    let set = e.settings.first().map_or(String::new(), |set| w.setting(e.driver, set));
    let sees = match (e.threshold_a, e.sensed) {
        (Some(threshold), Some(sensed)) => {
            let [peak, waits] = amps_apart(sensed.peak, threshold);
            format!(
                " Its trip {} {waits} and sees {peak} at the peak, {} in the mean.",
                if chops { "limits the current to" } else { "waits for" },
                amps(sensed.mean_abs)
            )
        }
        (None, _) | (_, None) if e.guards.is_empty() => " No trip is stated.".to_owned(),
        (None, _) | (_, None) => String::new(),
    };
    Text {
        says,
        why: format!(
            "A coin across the rails there draws {} at the peak and {} RMS with {set}.{sees}",
            amps(e.leg.peak),
            amps(e.leg.rms)
        ),
        more: more(e, w, open),
        advice: advice(e, chops),
        cautions: vec![Caution::Rewire, Caution::Solder, Caution::Guard],
    }
}

/// Where the coin lies, what else guards it, and what it exceeds.
fn more(e: &Evidence, w: &Words, open: bool) -> String {
    let mut more = vec![format!(
        "{}, with {} of rail up to it.",
        capital(&w.far_end(e.run, e.at_mm)),
        w.units.mm(e.rail_mm[0].max(e.rail_mm[1]))
    )];
    if e.limited {
        more.push(format!(
            "The supply gives no more than {}, besides what else it feeds.",
            amps(e.supply_a)
        ));
    }
    for &(device, waits_for) in &e.guards {
        more.push(format!("{} waits for {}.", capital(&w.device(device)), amps(waits_for)));
    }
    if open {
        more.push("With the values that are assumed the trip acts or not.".to_owned());
    } else if e.settings.len() > 1 {
        let others: Vec<String> = e.settings[1..]
            .iter()
            .map(|set| format!("{} at {}", set.state.word(), percent(set.throttle)))
            .collect();
        more.push(format!("The same holds with {}.", and(&others)));
    }
    for beyond in &e.beyond {
        more.push(match *beyond {
            Beyond::Driver(bears) => {
                format!(
                    "{} stands only {} continuously.",
                    capital(&w.driver(e.driver)),
                    amps(bears)
                )
            }
            Beyond::Wire(feed, carries, bears) => {
                let [carries, bears] = amps_apart(carries, bears);
                format!("{} carries {carries} and stands {bears}.", capital(&w.wire(feed)))
            }
        });
    }
    more.join(" ")
}

fn advice(e: &Evidence, chops: bool) -> Vec<String> {
    let draws_more =
        "Add feeders near the far end, or use thicker wire, so that a short draws more.";
    if e.limited {
        return vec![
            format!("Set the trip below {}, which is all that the supply gives.", amps(e.supply_a)),
            "Or use a larger supply, with fuses to suit the wires.".into(),
        ];
    }
    if chops {
        return vec![
            "Use a trip that switches off: a limit that chops feeds the short without end.".into(),
        ];
    }
    vec![draws_more.into(), "Or set the trip lower, or use one that senses the peak.".into()]
}

pub fn cures(e: &Evidence, near: &Near) -> Vec<Cure> {
    let mut cures = near.more_feed(e.driver, (e.run, e.at_mm));
    cures.extend(near.thicker(e.driver));
    let both = Job::Sense { driver: e.driver, senses: Senses::LargerLeg };
    cures.push(both.into());
    if let Some(threshold) = e.threshold_a {
        let amps = e.sensed.map_or(e.leg, |sensed| sensed).mean_abs.min(threshold);
        let lower = [0.8, 0.5].map(|part| near.lower_trip(e.driver, amps * part));
        cures.extend(lower.into_iter().flatten().map(Cure::from));
    }
    cures
}

#[cfg(test)]
pub(super) mod tests {
    use crate::findings::pair::Pair;
    use crate::findings::yards::*;
    use crate::findings::{Class, Verdict};

    pub fn pairs() -> Vec<Pair> {
        // 14 / (0.05 + 0.12 + 6 + 0.01) = 2.2654 A: the trip waits for 3 A.
        vec![Pair {
            with: legs(&yard(""), 3.0),
            twin: yard(""),
            class: Class::Fault,
            verdict: Verdict::Caution,
            peak_a: None,
            cuts: &[],
            blocks: 1,
            says: "West: driver d1 feeds a short at the far end with 2.3 A and never trips; add feeders there",
        }]
    }
}
