//! Situations: who stands how, how everything is set, and what flows.

use std::collections::BTreeMap;

use serde::ser::{Serialize, SerializeMap, Serializer};

use super::number::{Amps, Mm, Number};
use crate::drive::{SetWord, StateWord};
use crate::findings::{self, Facing, Motion, OverPhases, SideWord, Trips, Verdict};
use crate::layout::{DeviceId, DriverId, TrainId, VehicleId};
use crate::rails::NetId;
use crate::signal::{self, NotComputed};

/// States that take a smaller share of the time are left out.
const LEAST_SHARE: f64 = 1e-9;

/// A current; with a frozen phase its means and its RMS are pairs: least, largest. Figures that are equal to the peak are
/// left out.
#[derive(serde::Serialize, PartialEq)]
pub struct Current {
    peak: Amps,
    #[serde(skip_serializing_if = "Option::is_none")]
    mean: Option<Figure>,
    #[serde(skip_serializing_if = "Option::is_none")]
    mean_abs: Option<Figure>,
    #[serde(skip_serializing_if = "Option::is_none")]
    rms: Option<Figure>,
}

/// A figure, or its least and largest over a phase that nobody knows.
#[derive(serde::Serialize, PartialEq)]
#[serde(untagged)]
enum Figure {
    One(Amps),
    Range([Amps; 2]),
}

impl Current {
    /// The view of a current.
    pub fn of(current: &findings::Current) -> Current {
        let peak = Amps::of(current.peak);
        let one =
            |amps: f64| Some(Figure::One(Amps::of(amps))).filter(|one| *one != Figure::One(peak));
        let range = |amps: [f64; 2]| match amps.map(Amps::of) {
            [least, largest] if least == largest => one(amps[0]),
            pair => Some(Figure::Range(pair)),
        };
        let [mean, mean_abs, rms] = match &current.over_phases {
            None => [current.mean, current.mean_abs, current.rms].map(one),
            Some(OverPhases { mean, mean_abs, rms }) => [*mean, *mean_abs, *rms].map(range),
        };
        Current { peak, mean, mean_abs, rms }
    }
}

/// The longest unbroken conflict: a map of one entry, `value`, `at_most`, `endless` or `not_computed`.
struct Longest(signal::Longest);

impl Serialize for Longest {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(Some(1))?;
        match self.0 {
            signal::Longest::Value(seconds) => {
                map.serialize_entry("value", &Number::of(seconds))?
            }
            signal::Longest::AtMost(seconds) => {
                map.serialize_entry("at_most", &Number::of(seconds))?
            }
            signal::Longest::Endless => map.serialize_entry("endless", &true)?,
            signal::Longest::NotComputed(why) => map.serialize_entry("not_computed", why.word())?,
        }
        map.end()
    }
}

#[derive(serde::Serialize)]
struct Setting {
    state: SetWord,
    /// Left out where it has no effect.
    #[serde(skip_serializing_if = "Option::is_none")]
    throttle: Option<Number>,
}

impl Setting {
    fn of(set: &findings::SetState) -> Setting {
        let counts = matches!(set.state, SetWord::Forward | SetWord::Reverse);
        Setting { state: set.state, throttle: counts.then_some(Number::of(set.throttle)) }
    }
}

/// A selector in a position.
#[derive(serde::Serialize)]
pub struct SelectorAt {
    id: String,
    position: u32,
}

impl SelectorAt {
    /// The view of a selector.
    pub fn of(at: &findings::SelectorAt) -> SelectorAt {
        SelectorAt { id: at.id.to_string(), position: at.position }
    }

    /// The view of a set of them.
    pub fn all(set: &[findings::SelectorAt]) -> Vec<SelectorAt> {
        set.iter().map(SelectorAt::of).collect()
    }
}

#[derive(serde::Serialize)]
struct Join<'a> {
    side: SideWord,
    nets: &'a [NetId],
    contact_ohm: Vec<Number>,
    #[serde(skip_serializing_if = "is_zero")]
    group: usize,
    #[serde(skip_serializing_if = "no_items")]
    vehicles: &'a [VehicleId],
}

#[derive(serde::Serialize)]
struct State<'a> {
    share: Number,
    drivers: &'a BTreeMap<DriverId, StateWord>,
}

/// Whether a trip acts, in which share of the phases, and when.
#[derive(serde::Serialize)]
struct Trip {
    trips: Trips,
    #[serde(skip_serializing_if = "Option::is_none")]
    trips_share: Option<Number>,
    /// Left out where it does not act; null where the time was not computed.
    #[serde(skip_serializing_if = "Option::is_none")]
    trip_after_s: Option<Option<Number>>,
}

impl Trip {
    fn of(trips: Trips, share: f64, after_s: Option<f64>) -> Trip {
        Trip {
            trips,
            trips_share: (trips == Trips::Sometimes).then_some(Number::of(share)),
            trip_after_s: (trips != Trips::No).then_some(after_s.map(Number::of)),
        }
    }
}

#[derive(serde::Serialize)]
struct Driver {
    id: DriverId,
    p: Current,
    m: Current,
    supply: Current,
    /// Left out without a trip, and where it is that of the output with the larger peak.
    #[serde(skip_serializing_if = "Option::is_none")]
    sensed: Option<Current>,
    #[serde(skip_serializing_if = "Option::is_none")]
    positive_pole_v: Option<Number>,
    #[serde(flatten)]
    trip: Trip,
}

impl Driver {
    fn of(figures: &findings::DriverFigures) -> Driver {
        let (p, m) = (Current::of(&figures.p), Current::of(&figures.m));
        let larger = if figures.p.peak >= figures.m.peak { &p } else { &m };
        let sensed = figures.sensed.as_ref().map(Current::of).filter(|sensed| sensed != larger);
        Driver {
            id: figures.id,
            supply: Current::of(&figures.supply),
            positive_pole_v: figures.positive_pole_v.map(Number::of),
            trip: Trip::of(figures.trips, figures.trips_share, figures.trip_after_s),
            p,
            m,
            sensed,
        }
    }
}

/// What a vehicle's load changes for a driver. What trips do with it is not computed.
#[derive(serde::Serialize)]
struct Loaded {
    id: DriverId,
    #[serde(skip_serializing_if = "Option::is_none")]
    p: Option<Current>,
    #[serde(skip_serializing_if = "Option::is_none")]
    m: Option<Current>,
    #[serde(skip_serializing_if = "Option::is_none")]
    supply: Option<Current>,
    #[serde(skip_serializing_if = "Option::is_none")]
    positive_pole_v: Option<Number>,
}

impl Loaded {
    fn of(with: &findings::DriverFigures, without: &findings::DriverFigures) -> Option<Loaded> {
        let changed = |with: &findings::Current, without: &findings::Current| {
            Some(Current::of(with)).filter(|with| *with != Current::of(without))
        };
        let pole = |d: &findings::DriverFigures| d.positive_pole_v.map(Number::of);
        let loaded = Loaded {
            id: with.id,
            p: changed(&with.p, &without.p),
            m: changed(&with.m, &without.m),
            supply: changed(&with.supply, &without.supply),
            positive_pole_v: pole(with).filter(|_| pole(with) != pole(without)),
        };
        let Loaded { p, m, supply, positive_pole_v, .. } = &loaded;
        let same = p.is_none() && m.is_none() && supply.is_none() && positive_pole_v.is_none();
        (!same).then_some(loaded)
    }
}

#[derive(serde::Serialize)]
struct Device {
    id: DeviceId,
    current: Current,
    #[serde(flatten)]
    trip: Trip,
}

impl Device {
    fn of(figures: &findings::DeviceFigures) -> Device {
        Device {
            id: figures.id,
            current: Current::of(&figures.current),
            trip: Trip::of(figures.trips, figures.trips_share, figures.trip_after_s),
        }
    }
}

#[derive(serde::Serialize)]
struct AfterFirst<'a> {
    conflict: bool,
    peak_a: Amps,
    #[serde(skip_serializing_if = "no_items")]
    trips: &'a [DriverId],
    #[serde(skip_serializing_if = "no_items")]
    devices: &'a [DeviceId],
}

/// A situation.
#[derive(serde::Serialize)]
pub struct Situation<'a> {
    verdict: Verdict,
    #[serde(skip_serializing_if = "Option::is_none")]
    margin: Option<Number>,
    #[serde(skip_serializing_if = "Option::is_none")]
    vehicle: Option<VehicleId>,
    #[serde(skip_serializing_if = "Option::is_none")]
    train: Option<TrainId>,
    #[serde(skip_serializing_if = "Option::is_none")]
    facing: Option<Facing>,
    #[serde(skip_serializing_if = "Option::is_none")]
    position_mm: Option<Mm>,
    motion: Motion,
    #[serde(skip_serializing_if = "Option::is_none")]
    speed_mm_s: Option<Number>,
    /// Null where the circuit could not be solved.
    share: Option<Number>,
    #[serde(skip_serializing_if = "Option::is_none")]
    share_range: Option<[Number; 2]>,
    longest_s: Longest,
    #[serde(skip_serializing_if = "Option::is_none")]
    resistive_after_s: Option<Number>,
    settings: BTreeMap<DriverId, Setting>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    selectors: Vec<SelectorAt>,
    parties: &'a [DriverId],
    #[serde(skip_serializing_if = "Vec::is_empty")]
    joins: Vec<Join<'a>>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    states: Vec<State<'a>>,
    #[serde(skip_serializing_if = "no_items")]
    held: &'a [DriverId],
    /// Null where the circuit could not be solved.
    drivers: Option<Vec<Driver>>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    devices: Vec<Device>,
    #[serde(skip_serializing_if = "no_items")]
    first: &'a [DriverId],
    #[serde(skip_serializing_if = "no_items")]
    first_devices: &'a [DeviceId],
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    resolved: bool,
    #[serde(skip_serializing_if = "no_items")]
    exchanged: &'a [DeviceId],
    #[serde(skip_serializing_if = "Option::is_none")]
    after_first: Option<AfterFirst<'a>>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    loaded: Vec<Loaded>,
}

impl<'a> Situation<'a> {
    /// The view of a situation.
    pub fn of(s: &'a findings::Situation) -> Situation<'a> {
        let solved = is_solved(s);
        let stands = s.motion != Motion::NoTrain;
        let joins = s.joins.iter().map(|join| Join {
            side: join.side,
            nets: &join.nets,
            contact_ohm: join.contact_ohm.iter().copied().map(Number::of).collect(),
            group: join.group,
            vehicles: &join.vehicles,
        });
        let states = s.states.iter().filter(|state| state.share >= LEAST_SHARE);
        let settings = s.settings.iter().map(|(&id, set)| (id, Setting::of(set)));
        Situation {
            verdict: s.verdict,
            margin: s.margin.map(Number::of),
            vehicle: s.vehicle,
            train: s.train,
            facing: stands.then_some(s.facing),
            position_mm: stands.then_some(Mm::of(s.position_mm)),
            motion: s.motion,
            speed_mm_s: s.speed_mm_s.map(Number::of),
            share: solved.then_some(Number::of(s.share)),
            share_range: s.share_range.map(|range| range.map(Number::of)),
            longest_s: Longest(s.longest_s),
            resistive_after_s: s.resistive_after_s.map(Number::of),
            settings: settings.collect(),
            selectors: SelectorAt::all(&s.selectors),
            parties: &s.parties,
            joins: joins.collect(),
            states: states
                .map(|s| State { share: Number::of(s.share), drivers: &s.drivers })
                .collect(),
            held: &s.held,
            drivers: solved.then(|| s.drivers.iter().map(Driver::of).collect()),
            devices: s.devices.iter().map(Device::of).collect(),
            first: &s.first,
            first_devices: &s.first_devices,
            resolved: s.resolved,
            exchanged: &s.exchanged,
            after_first: s.after_first.as_ref().map(|after| AfterFirst {
                conflict: after.conflict,
                peak_a: Amps::of(after.peak_a),
                trips: &after.trips,
                devices: &after.devices,
            }),
            loaded: s
                .loaded
                .iter()
                .flatten()
                .zip(&s.drivers)
                .filter_map(|(with, without)| Loaded::of(with, without))
                .collect(),
        }
    }
}

/// False where the circuit of some moment could not be solved: what flows is then not known.
pub fn is_solved(s: &findings::Situation) -> bool {
    s.longest_s != signal::Longest::NotComputed(NotComputed::NotSolved)
}

#[allow(clippy::trivially_copy_pass_by_ref)]
fn is_zero(number: &usize) -> bool {
    *number == 0
}

/// True for an empty list that is borrowed.
pub fn no_items<T>(list: &&[T]) -> bool {
    list.is_empty()
}
