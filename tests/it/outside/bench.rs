//! A compact way to say a small layout, written out in the project's own file notation.
//!
//! One straight run `r3`; cuts `c11`, `c12`, … at 1000, 2000, … mm; driver number n feeds the n-th stretch in its middle.

use std::fmt::Write;

use gapwright::layout::{Layout, load};

/// A supply.
#[derive(Clone)]
pub struct S {
    pub volts: f64,
    pub ohm: f64,
    pub sink: bool,
    pub tie: Option<(&'static str, f64)>,
    pub split: bool,
    pub powered: bool,
}

impl Default for S {
    fn default() -> Self {
        Self { volts: 14.0, ohm: 0.05, sink: false, tie: None, split: false, powered: true }
    }
}

/// A driver with its feed.
#[derive(Clone)]
pub struct D {
    /// Which supply, from 0.
    pub supply: usize,
    /// The drive in the file's notation.
    pub drive: String,
    /// Direction in the file's notation, and throttle.
    pub set: (&'static str, f64),
    pub high_ohm: f64,
    pub low_ohm: f64,
    pub diode_v: f64,
    pub diode_ohm: f64,
    pub feed_ohm: f64,
    /// What its feed comes from: itself, or a device.
    pub from: Option<&'static str>,
    /// Rails of P and M.
    pub p: &'static str,
    pub m: &'static str,
    /// Trip in the file's notation, empty for none.
    pub trip: &'static str,
    /// More fields in the file's notation.
    pub more: &'static str,
}

impl Default for D {
    fn default() -> Self {
        Self {
            supply: 0,
            drive: String::new(),
            set: ("Forward", 1.0),
            high_ohm: 0.06,
            low_ohm: 0.06,
            diode_v: 0.7,
            diode_ohm: 0.05,
            feed_ohm: 0.35,
            from: None,
            p: "Right",
            m: "Left",
            trip: INSTANT,
            more: "",
        }
    }
}

/// A momentary trip at 3 A.
pub const INSTANT: &str = "(amps: 3, senses: LargerLeg, kind: Instant(blanking_s: 0.00002))";

/// A PWM bridge.
pub fn bridge(hz: f64, idle: &str, direction: &'static str, throttle: f64) -> D {
    D {
        drive: format!("PwmBridge(clock: (hz: {hz}), idle: {idle})"),
        set: (direction, throttle),
        ..D::default()
    }
}

/// A PWM bridge on a shared clock with a known phase.
pub fn clocked(hz: f64, phase: f64, idle: &str, direction: &'static str, throttle: f64) -> D {
    D {
        drive: format!(
            "PwmBridge(clock: (hz: {hz}, shared: \"board\", phase: {phase}), idle: {idle})"
        ),
        set: (direction, throttle),
        ..D::default()
    }
}

/// A smooth DC throttle.
pub fn smooth(sink: bool, clamped: bool, direction: &'static str, throttle: f64) -> D {
    D {
        drive: format!("SmoothDc(output_ohm: 0.5, can_sink: {sink}, clamped_at_zero: {clamped})"),
        set: (direction, throttle),
        ..D::default()
    }
}

/// A DCC booster of the one command station.
pub fn booster(swapped: bool, skew_s: f64) -> D {
    D {
        drive: format!("DccBooster(station: \"main\", swapped: {swapped}, skew_s: {skew_s})"),
        set: ("On", 1.0),
        ..D::default()
    }
}

/// A half-bridge on a split supply, its output on the left rail, the midpoint on the right.
pub fn half(hz: f64, idle: &str, direction: &'static str, throttle: f64) -> D {
    D {
        drive: format!("SplitHalfBridge(clock: (hz: {hz}), idle: {idle})"),
        set: (direction, throttle),
        p: "Left",
        m: "Right",
        ..D::default()
    }
}

/// A vehicle: its axles as (mm behind the front, left wheel, right wheel).
#[derive(Clone)]
pub struct V {
    pub length_mm: f64,
    pub axles: Vec<(f64, &'static str, &'static str)>,
    pub contact: (f64, f64),
    pub load: &'static str,
    pub speed: (f64, f64),
}

/// Two axles, pickups on all four wheels, contacts 0.01 Ω.
pub fn railcar() -> V {
    V {
        length_mm: 110.0,
        axles: vec![(28.0, "Pickup", "Pickup"), (82.0, "Pickup", "Pickup")],
        contact: (0.01, 0.01),
        load: "Nothing",
        speed: (30.0, 400.0),
    }
}

/// Six axles, pickups on all wheels.
pub fn long_locomotive() -> V {
    V {
        length_mm: 210.0,
        axles: [25.0, 45.0, 65.0, 145.0, 165.0, 185.0].map(|at| (at, "Pickup", "Pickup")).to_vec(),
        ..railcar()
    }
}

/// The railcar with the wheels of one side insulated, so that it joins the other rail alone.
pub fn one_sided(side: &str) -> V {
    let mut v = railcar();
    for axle in &mut v.axles {
        if side == "Left" {
            axle.2 = "Insulated";
        } else {
            axle.1 = "Insulated";
        }
    }
    v
}

/// A small layout.
#[derive(Clone)]
pub struct Bench {
    pub supplies: Vec<S>,
    pub drivers: Vec<D>,
    /// Rails of each cut.
    pub cuts: Vec<&'static str>,
    pub vehicles: Vec<V>,
    pub rail_ohm_per_m: f64,
    /// Devices in the file's notation.
    pub devices: Vec<&'static str>,
    /// Whether the vehicles are coupled in order.
    pub train: bool,
}

impl Bench {
    /// Two drivers on supplies of their own, both rails cut between them, the railcar above.
    pub fn two(a: D, b: D) -> Self {
        Self {
            supplies: vec![S::default(), S::default()],
            drivers: vec![a, D { supply: 1, ..b }],
            cuts: vec!["Both"],
            vehicles: vec![railcar()],
            rail_ohm_per_m: 0.0,
            devices: Vec::new(),
            train: false,
        }
    }

    /// The layout in the file's notation.
    pub fn text(&self) -> String {
        let mut t = String::new();
        let length = 1000 * (self.cuts.len() + 1);
        write!(
            t,
            "(version: 1, name: \"bench\", rail_ohm_per_m: {},\n\
             joints: [(id: \"j1\", x_mm: 0, y_mm: 0), (id: \"j2\", x_mm: {length}, y_mm: 0)],\n\
             runs: [(id: \"r3\", from: \"j1\", to: \"j2\")],\ncuts: [",
            self.rail_ohm_per_m
        )
        .unwrap();
        for (n, rails) in self.cuts.iter().enumerate() {
            let (id, at) = (11 + n, 1000 * (n + 1));
            write!(t, "(id: \"c{id}\", run: \"r3\", at_mm: {at}, rails: {rails}), ").unwrap();
        }
        t.push_str("],\nsupplies: [\n");
        for (n, s) in self.supplies.iter().enumerate() {
            let tie = s.tie.map_or(String::new(), |(name, ohm)| {
                format!(", negative: (name: \"{name}\", ohm: {ohm})")
            });
            writeln!(
                t,
                "(id: \"s{}\", open_v: {}, source_ohm: {}, can_sink: {}, split: {}, powered: {}{tie}),",
                21 + n,
                s.volts,
                s.ohm,
                s.sink,
                s.split,
                s.powered
            )
            .unwrap();
        }
        t.push_str("],\ndrivers: [\n");
        for (n, d) in self.drivers.iter().enumerate() {
            let trip =
                if d.trip.is_empty() { String::new() } else { format!(", trip: {}", d.trip) };
            writeln!(
                t,
                "(id: \"d{}\", supply: \"s{}\", drive: {}, high_ohm: {}, low_ohm: {}, diode_v: {}, \
                 diode_ohm: {}{trip}, setting: (direction: {}, throttle: {}){}),",
                31 + n,
                21 + d.supply,
                d.drive,
                d.high_ohm,
                d.low_ohm,
                d.diode_v,
                d.diode_ohm,
                d.set.0,
                d.set.1,
                d.more
            )
            .unwrap();
        }
        writeln!(t, "],\ndevices: [{}", self.devices.join(",\n")).unwrap();
        t.push_str("],\nfeeds: [\n");
        for (n, d) in self.drivers.iter().enumerate() {
            writeln!(
                t,
                "(id: \"f{}\", driver: \"{}\", run: \"r3\", at_mm: {}, p: {}, m: {}, ohm: {}),",
                41 + n,
                d.from.map_or_else(|| format!("d{}", 31 + n), str::to_owned),
                1000 * n + 500,
                d.p,
                d.m,
                d.feed_ohm
            )
            .unwrap();
        }
        t.push_str("],\nvehicles: [\n");
        for (n, v) in self.vehicles.iter().enumerate() {
            let axles: String = v
                .axles
                .iter()
                .map(|(at, left, right)| format!("(at_mm: {at}, left: {left}, right: {right}), "))
                .collect();
            writeln!(
                t,
                "(id: \"v{}\", length_mm: {}, axles: [{axles}], contact_ohm: (low: {}, high: {}), \
                 load: {}, speed: (from_mm_s: {}, to_mm_s: {})),",
                51 + n,
                v.length_mm,
                v.contact.0,
                v.contact.1,
                v.load,
                v.speed.0,
                v.speed.1
            )
            .unwrap();
        }
        t.push(']');
        if self.train {
            let coupled: String =
                (0..self.vehicles.len()).map(|n| format!("(vehicle: \"v{}\"), ", 51 + n)).collect();
            write!(t, ",\ntrains: [(id: \"t61\", vehicles: [{coupled}])]").unwrap();
        }
        t.push_str(")\n");
        t
    }

    /// The layout, through the loader.
    pub fn layout(&self) -> Layout {
        let text = self.text();
        match load(&text) {
            Ok(loaded) => loaded.layout,
            Err(faults) => panic!(
                "{}\n{text}",
                faults.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n")
            ),
        }
    }
}
