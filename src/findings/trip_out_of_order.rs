//! `trip-out-of-order`: in a dead short across a block, a guard nearer to the supply acts before one nearer to the rails,
//! and takes down more than it need. Order: breaker, driver, supply.

use std::collections::BTreeMap;

use super::reversers_race::upwards;
use super::units::{amps, ms};
use super::words::{and, capital};
use super::{
    BlockId, Caution, Class, Cure, Evident, Found, GuardId, Kind, Near, Place, Text, Trips,
    Verdict, View, Words,
};
use crate::drive::{self, SetWord};
use crate::layout::{Device, DriverId, EntityId, resolve};
use crate::rails::{PlanNet, SelectorId};
use crate::straddle::case::{FLOOR_OHM, Names, Stage, Wiring};
use crate::straddle::chain::Acts;
use crate::straddle::ix::{DeviceIx, DriverIx};
use crate::straddle::path::Tape;
use crate::study::cut::{Case, Set, Settings};
use crate::study::judge::{Bench, Judged, NumericStand};

/// Guards of one chain that act in the wrong order in a dead short of its blocks.
#[derive(Debug, Clone, PartialEq)]
pub struct Evidence {
    /// The one nearer to the rails, which should be first.
    pub lower: GuardId,
    /// The one nearer to the supply.
    pub upper: GuardId,
    /// Current through the lower one in the short, A.
    pub amps: f64,
    /// When the lower one acts, s; `None` if it does not.
    pub lower_s: Option<f64>,
    /// When the upper one acts, s; `None` for a supply that holds its limit.
    pub upper_s: Option<f64>,
    /// Blocks that the upper one takes down.
    pub takes_down: Vec<BlockId>,
}

impl Evident for Evidence {}

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    let mut seen: BTreeMap<(GuardId, GuardId), (Disorder, Vec<BlockId>)> = BTreeMap::new();
    for (at, block) in view.plan.blocks.iter().enumerate() {
        for &driver in &block.drivers {
            for new in disorders(view, at, driver) {
                let (old, blocks) =
                    seen.entry((new.lower, new.upper)).or_insert_with(|| (new, Vec::new()));
                if blocks.last() != Some(&block.id) {
                    blocks.push(block.id);
                }
                if new.verdict > old.verdict || (new.verdict == old.verdict && new.amps > old.amps)
                {
                    *old = new;
                }
            }
        }
    }
    let told = seen.into_values().map(|(disorder, blocks)| {
        let evidence = Evidence {
            lower: disorder.lower,
            upper: disorder.upper,
            amps: disorder.amps,
            lower_s: disorder.lower_s,
            upper_s: disorder.upper_s,
            takes_down: behind(view, disorder.upper),
        };
        Found {
            places: blocks.iter().copied().map(Place::Block).collect(),
            blocks,
            drivers: vec![disorder.driver],
            things: vec![entity(disorder.lower), entity(disorder.upper)],
            ..Found::new(Kind::TripOutOfOrder, Class::Fault, disorder.verdict, evidence)
        }
    });
    told.collect()
}

fn entity(guard: GuardId) -> EntityId {
    match guard {
        GuardId::Device(id) => id.into(),
        GuardId::Driver(id) => id.into(),
        GuardId::Supply(id) => id.into(),
    }
}

#[derive(Clone, Copy)]
struct Disorder {
    driver: DriverId,
    lower: GuardId,
    upper: GuardId,
    amps: f64,
    lower_s: Option<f64>,
    upper_s: Option<f64>,
    verdict: Verdict,
}

/// One guard of a chain in a short.
struct Acting {
    id: GuardId,
    trips: Trips,
    after_s: Option<f64>,
    amps: f64,
}

/// Times closer than this, as a factor, are the same: then both act.
const TOGETHER: f64 = 1.05;

/// What acts in the wrong order when the two rails of a block meet without resistance.
fn disorders(view: &View, block: usize, driver: DriverId) -> Vec<Disorder> {
    let nets = view.plan.blocks[block].nets.map(PlanNet);
    let always = [driver].into();
    let (wiring, names) =
        Wiring::around(view.layout, &view.plan, &nets.into(), &always, Tape::default());
    let Some(own) = names.drivers.of(&driver) else { return Vec::new() };
    let Some(chain) = chain((&wiring, own), &names, nets) else { return Vec::new() };
    let joined = nets.map(|net| names.nets.of(&net));
    let [Some(left), Some(right)] = joined else { return Vec::new() };
    let case = Case { sides: [Some(own), Some(own)], ..Case::bare(view.layout, wiring, &names) };
    // Both rails meet in one star.
    let stand = NumericStand::of_metal([vec![(left, 1), (right, 1)], Vec::new()], FLOOR_OHM);
    // A trip may look at one direction only: each is tried.
    let live = |word: &&SetWord| !word.is_dead() && **word != SetWord::Stopped;
    let words = drive::reachable(&case.controls[own].driver).iter().filter(live);
    let ends = Shorted { case: &case, own, chain: &chain, names: &names, driver };
    words.flat_map(|&word| ends.disorders(word, &stand)).collect()
}

/// A block whose two rails meet without resistance.
struct Shorted<'a> {
    case: &'a Case,
    own: DriverIx,
    driver: DriverId,
    /// The devices that open on the way, the nearest to the rails first.
    chain: &'a [DeviceIx],
    names: &'a Names,
}

impl Shorted<'_> {
    /// What acts in the wrong order with the driver set to a word, at full throttle.
    fn disorders(&self, word: SetWord, stand: &NumericStand) -> Vec<Disorder> {
        let &Shorted { case, own, driver, chain, names } = self;
        let (judged, limited) = shorted(case, own, (word, 1.0), stand);
        if judged.drivers.is_empty() {
            return Vec::new();
        }
        let wiring = &case.wiring;
        let mut guards: Vec<Acting> = chain
            .iter()
            .map(|&at| Acting {
                id: GuardId::Device(names.devices[at]),
                trips: judged.devices[at].trips,
                after_s: judged.devices[at].trip_after_s,
                amps: judged.devices[at].figures.peak,
            })
            .collect();
        let own_figures = &judged.drivers[own];
        if wiring.drivers[own].trip.is_some() {
            guards.push(Acting {
                id: GuardId::Driver(driver),
                trips: own_figures.trips,
                after_s: own_figures.trip_after_s,
                amps: own_figures.figures[0].peak.max(own_figures.figures[1].peak),
            });
        }
        let mut found = Vec::new();
        for (at, lower) in guards.iter().enumerate() {
            let Some(upper) = guards[at + 1..].iter().find(|upper| upper.trips != Trips::No) else {
                continue;
            };
            let seconds = |s: Option<f64>| s.unwrap_or(f64::INFINITY);
            let before = lower.trips != Trips::No
                && seconds(lower.after_s) * TOGETHER < seconds(upper.after_s);
            if !before {
                found.push(Disorder {
                    driver,
                    lower: lower.id,
                    upper: upper.id,
                    amps: lower.amps,
                    lower_s: lower.after_s,
                    upper_s: upper.after_s,
                    verdict: Verdict::Caution,
                });
            }
        }
        if let (Some(limit_a), Some(lower)) = (limited, guards.first())
            && guards.iter().all(|guard| guard.trips == Trips::No)
        {
            // The supply then feeds the fault at its limit without end: harmful only beyond what the driver bears.
            let bears = wiring.drivers[own]
                .rating_a
                .is_none_or(|rating| wiring.values[rating].nominal >= limit_a);
            found.push(Disorder {
                driver,
                lower: lower.id,
                upper: GuardId::Supply(names.supplies[wiring.drivers[own].supply]),
                amps: lower.amps,
                lower_s: None,
                upper_s: None,
                verdict: if bears { Verdict::Caution } else { Verdict::Overload },
            });
        }
        found
    }
}

/// The devices that open on the way from a driver to a block, the nearest to the rails first; `None` if there are none.
fn chain(
    (wiring, own): (&Wiring, DriverIx),
    names: &Names,
    nets: [PlanNet; 2],
) -> Option<Vec<DeviceIx>> {
    let mut found: Vec<DeviceIx> = Vec::new();
    for leg in wiring.drivers[own].legs.iter().flatten() {
        let Some((device, _)) = leg.through.filter(|_| nets.contains(&names.nets[leg.net])) else {
            continue;
        };
        for at in upwards(wiring, device) {
            let opens = matches!(wiring.devices[at].trip, Some((_, Acts::Opens)));
            if opens && !found.contains(&at) {
                found.push(at);
            }
        }
    }
    // Devices are numbered away from their driver.
    found.sort_unstable_by(|a, b| b.cmp(a));
    (!found.is_empty()).then_some(found)
}

/// The short, judged, with all other drivers off; and the sustained limit at which the supply holds it, A.
fn shorted(case: &Case, own: DriverIx, set: Set, stand: &NumericStand) -> (Judged, Option<f64>) {
    let mut settings = Settings::filled((SetWord::Off, 0.0), case.controls.len());
    settings[own] = set;
    let mut powered = case.powered.clone();
    powered[case.wiring.drivers[own].supply] = true;
    let scenario = case.scenario(&settings, &powered);
    let judged = |wiring: &Wiring| Bench::new(wiring).judge_as_acted(&scenario, &[], Some(stand));
    let free = judged(&case.wiring);
    let supply = &case.wiring.supplies[case.wiring.drivers[own].supply];
    let drawn = free.drivers.get(own).map_or(0.0, |d| match case.wiring.drivers[own].stage {
        // Each half of a split supply feeds one direction.
        Stage::Half => d.figures[0].mean_abs,
        _ => d.figures[2].mean.abs(),
    });
    let limit = supply.limit_a.map(|at| case.wiring.values[at].nominal);
    let Some(limit_a) = limit.filter(|limit| drawn > *limit) else { return (free, None) };
    // At its limit a supply lets its voltage sink, and in a loop of resistances every current with it.
    let mut sunk = case.wiring.clone();
    sunk.values[supply.open_v].nominal *= limit_a / drawn;
    (judged(&sunk), Some(limit_a))
}

/// Blocks that are dead once a guard has acted.
fn behind(view: &View, guard: GuardId) -> Vec<BlockId> {
    let (layout, plan) = (view.layout, &view.plan);
    let position = |device: &Device| plan.positions.of(layout, SelectorId::Device(device.id));
    let hit = |net: usize| {
        plan.nets[net].legs.iter().any(|leg| match guard {
            GuardId::Driver(driver) => leg.driver == driver,
            GuardId::Supply(supply) => {
                layout.drivers.get(&leg.driver).is_some_and(|d| d.supply == supply)
            }
            GuardId::Device(device) => layout
                .feeds
                .get(&leg.feed)
                .and_then(|feed| resolve(layout, feed.driver, &position))
                .is_some_and(|chain| chain.devices.contains(&device)),
        })
    };
    plan.blocks
        .iter()
        .filter(|block| !block.drivers.is_empty() && block.nets.into_iter().any(hit))
        .map(|block| block.id)
        .collect()
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    let (below, above) = (w.guard(e.lower), w.guard(e.upper));
    let blocks = w.blocks();
    let current = amps(e.amps);
    if let GuardId::Supply(_) = e.upper {
        return Text {
            says: format!(
                "{blocks}: in a short {above} holds its limit and {below} never acts; set {below} lower"
            ),
            why: format!(
                "A dead short draws {current} through {below}, all that {above} gives. Nothing acts on it, so the short is \
                 fed without end."
            ),
            more: if w.finding.verdict == Verdict::Overload {
                "That is more than the driver stands continuously.".into()
            } else {
                String::new()
            },
            advice: vec![
                format!("Set {below} well below the sustained limit of {above}."),
                "Or use a larger supply, with wires and fuses to suit.".into(),
            ],
            cautions: vec![Caution::Guard],
        };
    }
    let when = |s: Option<f64>| s.map_or("never".to_owned(), |s| format!("after {}", ms(s)));
    let others = e.takes_down.iter().filter(|id| !w.finding.blocks.contains(id));
    let others: Vec<String> = others.map(|&id| w.block_name(id)).collect();
    Text {
        says: format!(
            "{blocks}: in a short {above} trips before {below}; make {below} quicker or lower"
        ),
        why: format!(
            "A dead short draws {current} through {below}, which acts {}. {}, nearer to the supply, acts {}.",
            when(e.lower_s),
            capital(&above),
            when(e.upper_s),
        ),
        more: if others.is_empty() {
            String::new()
        } else {
            format!("That takes down {} too.", and(&others))
        },
        advice: vec![
            format!("Make {below} quicker, or set it lower."),
            format!(
                "Or make {above} slower or higher, but never above what the wires behind it stand."
            ),
            format!("Or use thicker or shorter feeders, if {current} is too little for {below}."),
        ],
        cautions: vec![Caution::Guard, Caution::Rewire],
    }
}

pub fn cures(_: &Evidence, _: &Near) -> Vec<Cure> {
    Vec::new()
}

#[cfg(test)]
pub(super) mod tests {
    use crate::findings::pair::Pair;
    use crate::findings::yards::*;
    use crate::findings::{Class, Verdict};
    use crate::layout::{DeviceKind, Quantity, TripKind};

    pub fn pairs() -> Vec<Pair> {
        // A breaker that is slower than the driver's trip; its twin is quicker and lower.
        let slow = yard(&format!(
            r#"{}
            (id: "f2", driver: "x1", run: "r1", at_mm: 1700, p: Right, m: Left, ohm: 0.35)"#,
            breaker(1, "d2", 5.0, 1e-3)
        ));
        let twin = with_device(&slow, X1, |d| {
            if let DeviceKind::Breaker { amps, trip, .. } = &mut d.kind {
                *amps = Quantity::given(2.0);
                *trip = TripKind::Instant { blanking_s: 1e-6 };
            }
        });
        vec![Pair {
            with: slow,
            twin,
            class: Class::Fault,
            verdict: Verdict::Caution,
            peak_a: None,
            cuts: &[],
            blocks: 1,
            says: "East: in a short driver d2 trips before breaker x1; make breaker x1 quicker or lower",
        }]
    }
}
