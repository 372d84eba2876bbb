//! Changes to the layout that prove causes, and which of them are edits.

use std::collections::BTreeSet;

use crate::drive::{self, Output};
use crate::findings::View;
use crate::layout::{Driver, DriverId, Edit, FeedId, Layout, Origin, driver_now};
use crate::rails::PlanNet;
use crate::straddle::ix::DriverIx;
use crate::study::causes::Counterfactual;
use crate::study::situation::Known;

/// A change to the layout that proves a cause.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Change {
    /// The driver is taken off.
    TakenOff(DriverId),
    /// Drivers on one supply get a supply each.
    SuppliesDivided,
    /// The wires of the feeds are exchanged.
    WiresExchanged(Vec<FeedId>),
    /// The driver's controller does not wake while its supply is off.
    StaysAsleep(DriverId),
    /// The driver's idle state is high-impedance.
    Coasts(DriverId),
    /// All supplies stand at one voltage.
    OneVoltage,
    /// The booster's phase is exchanged.
    PhaseExchanged(DriverId),
    /// All boosters repeat one signal.
    OneSignal,
    /// The booster does not delay its station's signal.
    NoDelay(DriverId),
    /// The booster is silent.
    Silenced(DriverId),
    /// Ties between negatives are opened, and shared supplies divided.
    TiesOpened,
}

impl Change {
    fn of(view: &View, known: &Known, change: Counterfactual) -> Change {
        let driver = |at: DriverIx| known.around.names.drivers[at];
        match change {
            Counterfactual::TakenOff(at) => Change::TakenOff(driver(at)),
            Counterfactual::SuppliesDivided => Change::SuppliesDivided,
            Counterfactual::WiresExchanged(at) => {
                let party = &known.case.parties[at];
                let nets = party.nets.into_iter().flatten().map(|net| known.around.names.nets[net]);
                Change::WiresExchanged(feeds_on(view, driver(party.driver), nets))
            }
            Counterfactual::StaysAsleep(at) => Change::StaysAsleep(driver(at)),
            Counterfactual::Coasts(at) => Change::Coasts(driver(at)),
            Counterfactual::OneVoltage => Change::OneVoltage,
            Counterfactual::PhaseExchanged(at) => Change::PhaseExchanged(driver(at)),
            Counterfactual::OneSignal => Change::OneSignal,
            Counterfactual::NoDelay(at) => Change::NoDelay(driver(at)),
            Counterfactual::Silenced(at) => Change::Silenced(driver(at)),
            Counterfactual::TiesOpened => Change::TiesOpened,
        }
    }

    /// The edits of a layout that do the same; `None` where none do. Of a half-bridge the other wire is the common rail, so
    /// that its wires cannot be exchanged.
    pub fn edits(&self, layout: &Layout) -> Option<Vec<Edit>> {
        let drive = |id: &DriverId, change: drive::Change| {
            let driver = layout.drivers.get(id)?;
            let drive = drive::of(&driver.drive).changed(change)?;
            Some(vec![Edit::Replace(Driver { drive, ..driver.clone() }.into())])
        };
        match self {
            Change::Coasts(id) => drive(id, drive::Change::CoastWhenIdle),
            Change::PhaseExchanged(id) => drive(id, drive::Change::ExchangePhase),
            Change::NoDelay(id) => drive(id, drive::Change::TakeDelayAway),
            Change::WiresExchanged(feeds) => {
                let two_wires = |id: &FeedId| {
                    let feed = layout.feeds.get(id);
                    feed.is_some_and(|feed| !is_of_half_bridge(layout, feed.driver))
                };
                let all = feeds.iter().all(two_wires);
                all.then(|| feeds.iter().map(|&feed| Edit::Swap { feed }).collect())
            }
            Change::TakenOff(_)
            | Change::SuppliesDivided
            | Change::StaysAsleep(_)
            | Change::OneVoltage
            | Change::OneSignal
            | Change::Silenced(_)
            | Change::TiesOpened => None,
        }
    }

    /// The change as a word with what it changes, as in JSON: `coasts d1`, `wires-exchanged f1 f2`.
    pub fn word(&self) -> String {
        match self {
            Change::TakenOff(id) => format!("taken-off {id}"),
            Change::SuppliesDivided => "supplies-divided".into(),
            Change::WiresExchanged(feeds) => {
                let ids: Vec<String> = feeds.iter().map(ToString::to_string).collect();
                format!("wires-exchanged {}", ids.join(" "))
            }
            Change::StaysAsleep(id) => format!("stays-asleep {id}"),
            Change::Coasts(id) => format!("coasts {id}"),
            Change::OneVoltage => "one-voltage".into(),
            Change::PhaseExchanged(id) => format!("phase-exchanged {id}"),
            Change::OneSignal => "one-signal".into(),
            Change::NoDelay(id) => format!("no-delay {id}"),
            Change::Silenced(id) => format!("silenced {id}"),
            Change::TiesOpened => "ties-opened".into(),
        }
    }
}

/// True if what a feed comes from is a half-bridge, as the selectors stand.
fn is_of_half_bridge(layout: &Layout, origin: Origin) -> bool {
    let driver = driver_now(layout, origin).and_then(|id| layout.drivers.get(&id));
    driver.is_some_and(|driver| drive::of(&driver.drive).output() == Output::HalfBridge)
}

/// Changes of a solved place's case, as changes to the layout.
pub(crate) fn changes_of(view: &View, known: &Known, list: &[Counterfactual]) -> Vec<Change> {
    list.iter().map(|&change| Change::of(view, known, change)).collect()
}

/// Feeds of a driver on some nets.
fn feeds_on(view: &View, driver: DriverId, nets: impl IntoIterator<Item = PlanNet>) -> Vec<FeedId> {
    let legs = nets.into_iter().flat_map(|net| &view.plan.net(net).legs);
    let feeds: BTreeSet<FeedId> =
        legs.filter(|leg| leg.driver == driver).map(|leg| leg.feed).collect();
    feeds.into_iter().collect()
}
