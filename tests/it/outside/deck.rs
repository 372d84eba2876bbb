//! Writes a crossing as a deck for ngspice: a transient run in which every switch switches.
//!
//! Nothing of the engine's network goes into it. What does: the entities of the layout, the definitions of the drive
//! states, and, from the report, which rails the vehicle joins and with what contact resistance.
//!
//! A driver that pulses has two control signals, one for each part of its period; each switch that is on in one part only
//! hangs on the signal of that part. Twenty nanoseconds lie between the parts so that no half-bridge ever has both switches
//! on; [`super::spice`] leaves them out of the peaks. Diodes are ideal ones (emission coefficient 0.001) in series with a
//! fixed voltage and a resistance.

use std::fmt::Write;

use gapwright::findings::{SideWord, Situation};
use gapwright::layout::{
    Clock, Device, DeviceKind, Direction, Drive, Driver, Idle, Layout, Load, Origin, Rail, Supply,
    wire::feed_leg_ohm,
};

/// Length of an edge of a control signal, and of the pause between two parts, s.
const EDGE_S: f64 = 1e-7;
const PAUSE_S: f64 = 2e-8;
/// Independent clocks start apart by this, s, so that their edges do not meet.
const APART_S: f64 = 3.7e-5;

/// Half-bits, s: NMRA Standard S-9.1. The shortest half of a "1" that a command station may send, and the shortest nominal
/// half of a "0".
const HALF_OF_ONE_S: f64 = 55e-6;
const HALF_OF_ZERO_S: f64 = 100e-6;

/// When a deck is measured: over whole periods of everything in it.
#[derive(Clone, Copy, Debug)]
pub struct Window {
    pub from_s: f64,
    pub length_s: f64,
}

/// What is on in a part of the period: P high, P low, M high, M low.
type On = [bool; 4];
const FORWARD: On = [true, false, false, true];
const REVERSE: On = [false, true, true, false];
const BOTH_LOW: On = [false, true, false, true];
const BOTH_HIGH: On = [true, false, true, false];
const ALL_OFF: On = [false; 4];

/// What a driver does over time.
struct Doing {
    first: On,
    second: On,
    /// Fraction of the period in `first`; 1 for ever.
    share: f64,
    period_s: f64,
    delay_s: f64,
}

impl Doing {
    fn steady(on: On) -> Self {
        Self { first: on, second: on, share: 1.0, period_s: 0.0, delay_s: 0.0 }
    }

    fn of(first: On, second: On, share: f64, period_s: f64, delay_s: f64) -> Self {
        if share >= 1.0 {
            Self::steady(first)
        } else if share <= 0.0 {
            Self::steady(second)
        } else {
            Self { first, second, share, period_s, delay_s }
        }
    }
}

fn pulsed(driver: &Driver, clock: &Clock, idle: Idle, place: usize) -> Doing {
    let period_s = 1.0 / clock.hz;
    let delay_s = match (&clock.shared, clock.phase) {
        (Some(_), Some(phase)) => phase * period_s,
        _ => APART_S * place as f64,
    };
    let drive = if driver.setting.direction == Direction::Reverse { REVERSE } else { FORWARD };
    let throttle = match driver.setting.direction {
        Direction::Stopped => 0.0,
        _ => driver.setting.throttle,
    };
    match idle {
        Idle::BrakeLow => Doing::of(drive, BOTH_LOW, throttle, period_s, delay_s),
        Idle::BrakeHigh => Doing::of(drive, BOTH_HIGH, throttle, period_s, delay_s),
        Idle::HighImpedance => Doing::of(drive, ALL_OFF, throttle, period_s, delay_s),
        Idle::Opposed => {
            let other = if drive == FORWARD { REVERSE } else { FORWARD };
            Doing::of(drive, other, (1.0 + throttle) / 2.0, period_s, delay_s)
        }
        // The crossings here state what the outputs do; the truth tables are held against the data sheets elsewhere.
        Idle::ByInputs { .. } => panic!("a deck of control inputs is not written"),
    }
}

/// How late each driver's schedule begins in a deck, s, in the order of the drivers.
pub fn delays_s(layout: &Layout) -> Vec<f64> {
    let drivers = layout.drivers.values().enumerate();
    drivers.map(|(place, driver)| doing(layout, driver, place).delay_s).collect()
}

fn is_live(layout: &Layout, driver: &Driver) -> bool {
    layout.supplies[&driver.supply].powered && driver.setting.direction != Direction::Off
}

fn doing(layout: &Layout, driver: &Driver, place: usize) -> Doing {
    if !is_live(layout, driver) {
        return Doing::steady(ALL_OFF);
    }
    match &driver.drive {
        Drive::PwmBridge { clock, idle } | Drive::SplitHalfBridge { clock, idle } => {
            pulsed(driver, clock, *idle, place)
        }
        Drive::SmoothDc { clamped_at_zero, .. } => Doing::steady(match driver.setting.direction {
            Direction::Forward => FORWARD,
            Direction::Reverse => REVERSE,
            Direction::Stopped if *clamped_at_zero => BOTH_LOW,
            _ => ALL_OFF,
        }),
        Drive::DccBooster { station, swapped, skew_s, .. } => {
            let one_station =
                layout.drivers.values().filter(|d| is_live(layout, d)).all(
                    |d| matches!(&d.drive, Drive::DccBooster { station: s, .. } if s == station),
                );
            let half_s = if one_station { HALF_OF_ONE_S } else { HALF_OF_ZERO_S };
            let (first, second) = if *swapped { (REVERSE, FORWARD) } else { (FORWARD, REVERSE) };
            Doing::of(first, second, 0.5, 2.0 * half_s, *skew_s)
        }
        Drive::Nothing => Doing::steady(ALL_OFF),
    }
}

/// Node of the rail at a place: rails are counted piece by piece between their own cuts.
fn rail_node(layout: &Layout, rail: Rail, at_mm: f64) -> String {
    let passed = layout
        .cuts
        .values()
        .filter(|cut| cut.rails.has(rail))
        .filter(|cut| {
            let right = if rail == Rail::Right { cut.stagger_mm } else { 0.0 };
            cut.at_mm + right <= at_mm
        })
        .count();
    node(rail, passed)
}

fn node(rail: Rail, piece: usize) -> String {
    format!("{}{piece}", if rail == Rail::Left { "left" } else { "right" })
}

/// An ideal diode with a forward voltage and a resistance.
fn diode(t: &mut String, name: &str, from: &str, to: &str, volts: f64, ohm: f64) {
    writeln!(t, "D{name} {from} {name}_a ideal").unwrap();
    writeln!(t, "V{name} {name}_a {name}_b {volts}").unwrap();
    writeln!(t, "R{name} {name}_b {to} {ohm}").unwrap();
}

/// An open-circuit voltage behind a resistance, with an ideal diode where it cannot take current.
fn source(t: &mut String, name: &str, minus: &str, plus: &str, volts: f64, ohm: f64, sinks: bool) {
    writeln!(t, "V{name} {name}_v {minus} {volts}").unwrap();
    if sinks {
        writeln!(t, "R{name} {name}_v {plus} {ohm}").unwrap();
    } else {
        writeln!(t, "R{name} {name}_v {name}_o {ohm}").unwrap();
        writeln!(t, "D{name} {name}_o {plus} ideal").unwrap();
    }
}

fn write_supply(t: &mut String, supply: &Supply) {
    let id = supply.id;
    writeln!(t, "* supply {id}").unwrap();
    let (volts, ohm) = (supply.open_v.value, supply.source_ohm.value);
    if supply.powered {
        if supply.split {
            let (plus, mid, minus) =
                (format!("{id}_plus"), format!("{id}_mid"), format!("{id}_minus"));
            source(t, &format!("{id}u"), &mid, &plus, volts, ohm, supply.can_sink);
            source(t, &format!("{id}l"), &minus, &mid, volts, ohm, supply.can_sink);
        } else {
            let (plus, minus) = (format!("{id}_plus"), format!("{id}_minus"));
            source(t, &format!("{id}"), &minus, &plus, volts, ohm, supply.can_sink);
        }
    }
    if let Some(negative) = &supply.negative {
        writeln!(t, "R{id}tie {id}_minus tie_{} {}", negative.name, negative.ohm.value).unwrap();
    }
    // A path to the reference for whatever floats.
    writeln!(t, "R{id}ref {id}_minus 0 1meg").unwrap();
    writeln!(t, "R{id}leak {id}_plus {id}_minus 1meg").unwrap();
}

fn write_driver(t: &mut String, layout: &Layout, driver: &Driver, place: usize) {
    let (id, s) = (driver.id, driver.supply);
    let what = doing(layout, driver, place);
    writeln!(t, "* driver {id}").unwrap();
    let supply = &layout.supplies[&s];
    let minus = format!("{s}_minus");
    let plus = format!("{id}_plus");
    let smooth = if let Drive::SmoothDc { output_ohm, can_sink, .. } = &driver.drive {
        let own = layout.drivers.values().filter(|d| d.supply == s).count() == 1;
        assert!(own, "{id}: a smooth throttle is written with a supply of its own");
        // The throttle sets the voltage; the supply's and its own resistance follow.
        let level = match driver.setting.direction {
            Direction::Stopped => 0.0,
            _ => driver.setting.throttle,
        };
        if supply.powered {
            let volts = level * supply.open_v.value;
            let ohm = supply.source_ohm.value + output_ohm.value;
            let sinks = *can_sink && supply.can_sink;
            source(t, &format!("{id}"), &minus, &format!("{id}_reg"), volts, ohm, sinks);
        } else {
            writeln!(t, "R{id}reg {id}_reg {minus} 1meg").unwrap();
        }
        writeln!(t, "V{id}_supply {id}_reg {plus} 0").unwrap();
        true
    } else {
        writeln!(t, "V{id}_supply {s}_plus {plus} 0").unwrap();
        false
    };
    let (high, low) = (driver.high_ohm.value, driver.low_ohm.value);
    writeln!(t, ".model {id}_high SW(vt=0.5 vh=0 ron={high} roff=1meg)").unwrap();
    writeln!(t, ".model {id}_low SW(vt=0.5 vh=0 ron={low} roff=1meg)").unwrap();
    if what.share < 1.0 {
        let (period, delay) = (what.period_s, what.delay_s);
        let parts = [
            ("first", delay, what.share * period),
            ("second", delay + what.share * period, (1.0 - what.share) * period),
        ];
        for (part, from, length) in parts {
            let width = length - EDGE_S - PAUSE_S;
            writeln!(
                t,
                "V{id}_{part} {id}_{part} 0 PULSE(0 1 {from:.9e} {EDGE_S:e} {EDGE_S:e} {width:.9e} {period:.12e})"
            )
            .unwrap();
        }
    }
    let halves: &[&str] =
        if matches!(driver.drive, Drive::SplitHalfBridge { .. }) { &["p"] } else { &["p", "m"] };
    for (n, leg) in halves.iter().enumerate() {
        let out = format!("{id}_{leg}");
        for (way, pole, ohm) in [(0, &plus, high), (1, &minus, low)] {
            let word = ["high", "low"][way];
            let at = 2 * n + way;
            match (what.first[at], what.second[at]) {
                (true, true) => writeln!(t, "R{out}_{word} {pole} {out} {ohm}").unwrap(),
                (true, false) => {
                    writeln!(t, "S{out}_{word} {pole} {out} {id}_first 0 {id}_{word}").unwrap();
                }
                (false, true) => {
                    writeln!(t, "S{out}_{word} {pole} {out} {id}_second 0 {id}_{word}").unwrap();
                }
                (false, false) => writeln!(t, "R{out}_{word} {pole} {out} 1meg").unwrap(),
            }
        }
        if !smooth {
            let (volts, ohm) = (driver.diode_v.value, driver.diode_ohm.value);
            diode(t, &format!("{out}_up"), &out, &plus, volts, ohm);
            diode(t, &format!("{out}_down"), &minus, &out, volts, ohm);
        }
        writeln!(t, "V{out} {out} {out}_leg 0").unwrap();
    }
    if halves.len() == 1 {
        writeln!(t, "V{id}_m {s}_mid {id}_m_leg 0").unwrap();
    }
}

/// The two nodes at which something gives off its poles.
fn poles(origin: Origin) -> [String; 2] {
    match origin {
        Origin::Driver(d) => [format!("{d}_p_leg"), format!("{d}_m_leg")],
        Origin::Device(x) => [format!("{x}_a"), format!("{x}_b")],
    }
}

/// A device: from each pole of what feeds it, in its position, to its own.
fn write_device(t: &mut String, device: &Device) {
    let id = device.id;
    writeln!(t, "* {} {id}", device.kind.word()).unwrap();
    for pole in ["a", "b"] {
        writeln!(t, "R{id}{pole}ref {id}_{pole} 0 1meg").unwrap();
    }
    let at = device.position as usize;
    let (from, turned) = match &device.kind {
        DeviceKind::CabSelector { cabs } => (cabs[at], false),
        DeviceKind::ReversingSwitch { from, .. } | DeviceKind::AutoReverser { from, .. } => {
            (Some(*from).filter(|_| at < 2), at == 1)
        }
        DeviceKind::Breaker { from, .. }
        | DeviceKind::Fuse { from, .. }
        | DeviceKind::Resistor { from, .. }
        | DeviceKind::DiodePair { from, .. } => (Some(*from), false),
    };
    let Some(from) = from else { return };
    let [first, second] = poles(from);
    let (a, b) = if turned { (second, first) } else { (first, second) };
    let ohm = device.ohm.value;
    match &device.kind {
        DeviceKind::Resistor { ohm: more, .. } => {
            writeln!(t, "R{id}a {a} {id}_in {ohm}").unwrap();
            writeln!(t, "R{id}more {id}_in {id}_a {}", more.value).unwrap();
        }
        DeviceKind::DiodePair { volts, ohm: inside, .. } => {
            writeln!(t, "R{id}a {a} {id}_in {ohm}").unwrap();
            let [there, back] = ["there", "back"].map(|way| format!("{id}{way}"));
            let (input, output) = (format!("{id}_in"), format!("{id}_a"));
            diode(t, &there, &input, &output, volts.value, inside.value);
            diode(t, &back, &output, &input, volts.value, inside.value);
        }
        _ => writeln!(t, "R{id}a {a} {id}_a {ohm}").unwrap(),
    }
    writeln!(t, "R{id}b {b} {id}_b {ohm}").unwrap();
}

/// Distance on the rail from a feed to the cut, m.
fn rail_m(layout: &Layout, at_mm: f64) -> f64 {
    layout.cuts.values().map(|cut| (cut.at_mm - at_mm).abs()).fold(f64::INFINITY, f64::min) / 1000.0
}

/// What every deck starts with: models, supplies, drivers.
fn write_sources(t: &mut String, name: &str, layout: &Layout) {
    writeln!(t, "* {name}: written by the tests, run with ngspice -b -r out.raw").unwrap();
    writeln!(t, ".model ideal D(is=1e-14 n=0.001)").unwrap();
    writeln!(t, ".options reltol=1e-3 abstol=1e-6 vntol=1e-6 gmin=1e-12 itl1=1000 itl4=1000")
        .unwrap();
    for supply in layout.supplies.values() {
        write_supply(t, supply);
    }
    for (place, driver) in layout.drivers.values().enumerate() {
        write_driver(t, layout, driver, place);
    }
    for device in layout.devices.values() {
        write_device(t, device);
    }
}

/// The deck of a situation. With `loaded` the vehicle's load is in it.
pub fn deck(name: &str, layout: &Layout, now: &Situation, window: Window, loaded: bool) -> String {
    let mut t = String::new();
    write_sources(&mut t, name, layout);
    writeln!(t, "* feeders").unwrap();
    for feed in layout.feeds.values() {
        let ohm =
            feed_leg_ohm(feed).value + layout.rail_ohm_per_m.value * rail_m(layout, feed.at_mm);
        for ((leg, rail), pole) in
            [("p", feed.p), ("m", feed.m)].into_iter().zip(poles(feed.driver))
        {
            if let Some(rail) = rail {
                let id = feed.id;
                let rail = rail_node(layout, rail, feed.at_mm);
                writeln!(t, "R{id}_{leg} {pole} {rail} {ohm}").unwrap();
            }
        }
    }
    writeln!(t, "* rails that nothing else holds").unwrap();
    for rail in Rail::BOTH {
        let pieces = 1 + layout.cuts.values().filter(|c| c.rails.has(rail)).count();
        for piece in 0..pieces {
            let rail = node(rail, piece);
            writeln!(t, "R{rail}ref {rail} 0 1meg").unwrap();
        }
    }
    writeln!(t, "* wheels").unwrap();
    for join in &now.joins {
        // Pickups of different groups do not meet.
        let group = if join.group == 0 { String::new() } else { join.group.to_string() };
        let side = if join.side == SideWord::Left { "left" } else { "right" };
        let star = format!("pickup{group}_{side}");
        for (net, ohm) in join.nets.iter().zip(&join.contact_ohm) {
            let rail = node(net.rail, net.segment as usize);
            writeln!(t, "R{star}_{rail} {rail} {star} {ohm}").unwrap();
        }
    }
    if loaded {
        let vehicle = &layout.vehicles[&now.vehicle.unwrap()];
        match &vehicle.load {
            Load::Nothing => {}
            Load::Resistor { ohm } => {
                writeln!(t, "Rload pickup_left pickup_right {}", ohm.value).unwrap();
            }
            Load::Motor { ohm, emf_v } => {
                // Forward makes the rail of P positive: the motor turns so that its EMF stands against that.
                let feed = layout.feeds.values().next().unwrap();
                let driver =
                    &layout.drivers[&feed.driver.driver().expect("a feed straight from a driver")];
                let forward = driver.setting.direction == Direction::Forward;
                let right = (feed.p == Some(Rail::Right)) == forward;
                let (plus, minus) = if right {
                    ("pickup_right", "pickup_left")
                } else {
                    ("pickup_left", "pickup_right")
                };
                writeln!(t, "Rload {plus} load {}", ohm.value).unwrap();
                writeln!(t, "Vload load {minus} {}", emf_v.value).unwrap();
            }
            Load::Rectifier { ohm, volts } => {
                for (way, from, to) in
                    [("a", "pickup_left", "pickup_right"), ("b", "pickup_right", "pickup_left")]
                {
                    diode(&mut t, &format!("load{way}"), from, to, volts.value, ohm.value);
                }
            }
        }
    }
    write_run(&mut t, layout, window);
    t
}

/// What every deck ends with: the run, and what is saved of it.
fn write_run(t: &mut String, layout: &Layout, window: Window) {
    let stop = window.from_s + window.length_s;
    let most = (window.length_s / 200.0).min(2e-5);
    writeln!(t, ".tran {most:.3e} {stop:.9e} 0 {most:.3e}").unwrap();
    let mut saved = String::from(".save");
    for id in layout.drivers.keys() {
        write!(saved, " i(V{id}_p) i(V{id}_m) i(V{id}_supply)").unwrap();
    }
    for id in layout.supplies.keys() {
        write!(saved, " v({id}_plus) v({id}_minus)").unwrap();
    }
    writeln!(t, "{saved}\n.end").unwrap();
}

/// The deck of a coin across the rails of a layout without cuts, so much rail (m) away from every feed.
pub fn coin_deck(
    name: &str,
    layout: &Layout,
    rail_m: f64,
    coin_ohm: f64,
    window: Window,
) -> String {
    let mut t = String::new();
    write_sources(&mut t, name, layout);
    writeln!(t, "* feeders and rails").unwrap();
    for feed in layout.feeds.values() {
        let ohm = feed_leg_ohm(feed).value + layout.rail_ohm_per_m.value * rail_m;
        let driver = feed.driver.driver().unwrap();
        for (leg, rail) in [("p", feed.p), ("m", feed.m)] {
            if let Some(rail) = rail {
                let (id, rail) = (feed.id, node(rail, 0));
                writeln!(t, "R{id}_{leg} {driver}_{leg}_leg {rail} {ohm}").unwrap();
            }
        }
    }
    let [left, right] = Rail::BOTH.map(|rail| node(rail, 0));
    writeln!(t, "Rcoin {left} {right} {coin_ohm}").unwrap();
    writeln!(t, "Rcoinref {left} 0 1meg").unwrap();
    write_run(&mut t, layout, window);
    t
}

/// Checks that a window holds whole periods of every driver of a layout.
pub fn holds_whole_periods(layout: &Layout, window: Window) -> bool {
    layout.drivers.values().enumerate().all(|(place, driver)| {
        let what = doing(layout, driver, place);
        if what.share >= 1.0 {
            return true;
        }
        let periods = window.length_s / what.period_s;
        window.from_s > what.delay_s
            && periods.round() >= 1.0
            && (periods - periods.round()).abs() < 1e-5
    })
}
