//! The crossings that are held against ngspice.
//!
//! Clocks that are independent have coprime numbers of periods in the window, and the parts of the one with more of them
//! fall on the common grid: then every pair of phases comes up equally often, and the long-run shares are exact.

use super::bench::*;
use super::deck::Window;

/// One crossing.
pub struct Crossing {
    pub name: String,
    pub bench: Bench,
    pub window: Window,
    /// Which rails the vehicle must be found to join: left, right. `None`: either way nothing flows.
    pub joins: Option<[bool; 2]>,
    /// Held against the figures with the vehicle's load.
    pub loaded: bool,
}

/// 2.0 ms: 20 steps of 0.1 ms.
const A_HZ: f64 = 500.0;
/// 1.9 ms: 19 steps of 0.1 ms.
const B_HZ: f64 = 526.315_789_473_684_2;
/// 19 periods of one, 20 of the other.
const PAIR_S: f64 = 38e-3;

const BOTH: Option<[bool; 2]> = Some([true, true]);
const LEFT: Option<[bool; 2]> = Some([true, false]);
const RIGHT: Option<[bool; 2]> = Some([false, true]);

fn case(name: &str, bench: Bench, length_s: f64, joins: Option<[bool; 2]>) -> Crossing {
    // Any time after the last clock has started does: nothing in a deck remembers.
    let window = Window { from_s: 2.1e-3, length_s };
    Crossing { name: name.to_string(), bench, window, joins, loaded: false }
}

fn pwm(a: &str, b: &str, way_b: &'static str) -> Bench {
    Bench::two(bridge(A_HZ, a, "Forward", 0.4), bridge(B_HZ, b, way_b, 0.7))
}

fn tied(mut bench: Bench) -> Bench {
    for s in &mut bench.supplies {
        s.tie = Some(("earth", 0.03));
    }
    bench
}

fn one_supply(mut bench: Bench) -> Bench {
    bench.supplies.truncate(1);
    for d in &mut bench.drivers {
        d.supply = 0;
    }
    bench
}

fn volts(mut bench: Bench, a: f64, b: f64, sink: bool) -> Bench {
    bench.supplies[0].volts = a;
    bench.supplies[1].volts = b;
    bench.supplies[1].sink = sink;
    bench
}

fn riding(mut bench: Bench, vehicle: V) -> Bench {
    bench.vehicles = vec![vehicle];
    bench
}

/// Worked example: two brake-low bridges at 14 V on isolated supplies, throttles 0.4 and 0.8, feeders as given.
pub fn worked(feed_ohm: f64) -> Bench {
    let d = |hz, throttle| D { feed_ohm, ..bridge(hz, "BrakeLow", "Forward", throttle) };
    Bench::two(d(490.0, 0.4), d(125.0, 0.8))
}

/// Three bridges on one common rail (the right one, whole), each with its left rail.
fn common_rail(shared: bool) -> Bench {
    // 5, 4 and 3 steps of 0.4 ms.
    let d =
        |hz, idle, way, throttle| D { p: "Left", m: "Right", ..bridge(hz, idle, way, throttle) };
    let drivers = vec![
        d(500.0, "BrakeLow", "Forward", 0.4),
        D { supply: 1, ..d(625.0, "BrakeHigh", "Forward", 0.5) },
        D { supply: 2, ..d(2500.0 / 3.0, "HighImpedance", "Reverse", 2.0 / 3.0) },
    ];
    let bench = Bench {
        supplies: vec![S::default(), S { volts: 15.0, ..S::default() }, S::default()],
        drivers,
        cuts: vec!["Left", "Left"],
        vehicles: vec![railcar()],
        rail_ohm_per_m: 0.0,
        devices: Vec::new(),
        train: false,
    };
    if shared { one_supply(bench) } else { bench }
}

/// Three bridges in a row, and a train of two vehicles of which the first stands over the farther cut while the second
/// stands over the nearer one.
fn over_two_cuts(idles: [&str; 3], [front, rear]: [V; 2]) -> Bench {
    // 5, 4 and 3 steps of 0.4 ms.
    let drivers = vec![
        bridge(500.0, idles[0], "Forward", 0.4),
        D { supply: 1, ..bridge(625.0, idles[1], "Forward", 0.5) },
        D { supply: 2, ..bridge(2500.0 / 3.0, idles[2], "Reverse", 2.0 / 3.0) },
    ];
    let at = |places: [f64; 2], v: V| V {
        length_mm: 600.0,
        axles: v.axles.iter().zip(places).map(|(axle, at)| (at, axle.1, axle.2)).collect(),
        ..v
    };
    Bench {
        supplies: vec![S::default(), S { volts: 15.0, ..S::default() }, S::default()],
        drivers,
        cuts: vec!["Both", "Both"],
        vehicles: vec![at([28.0, 120.0], front), at([480.0, 580.0], rear)],
        rail_ohm_per_m: 0.0,
        devices: Vec::new(),
        train: true,
    }
}

/// Two half-bridges on one split supply, the right rail common.
fn split(idle_a: &str, idle_b: &str, way_b: &'static str) -> Bench {
    Bench {
        supplies: vec![S { split: true, ..S::default() }],
        drivers: vec![half(A_HZ, idle_a, "Forward", 0.4), half(B_HZ, idle_b, way_b, 0.7)],
        cuts: vec!["Left"],
        vehicles: vec![railcar()],
        rail_ohm_per_m: 0.0,
        devices: Vec::new(),
        train: false,
    }
}

/// A stream of fractions from a seed: crossings that no one chose.
struct Dice(u64);

impl Dice {
    fn roll(&mut self) -> f64 {
        // Knuth's MMIX generator.
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        // Three figures: what stands in a deck is what was meant.
        ((low + (high - low) * self.roll()) * 1000.0).round() / 1000.0
    }

    fn pick<T: Copy>(&mut self, of: &[T]) -> T {
        of[(self.roll() * of.len() as f64) as usize % of.len()]
    }
}

fn rolled(seed: u64) -> Bench {
    let mut dice = Dice(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15));
    for _ in 0..4 {
        dice.roll();
    }
    let idles = ["BrakeLow", "BrakeHigh", "HighImpedance", "Opposed"];
    let ways = ["Forward", "Forward", "Reverse"];
    let driver = |hz: f64, throttle: f64, dice: &mut Dice| D {
        high_ohm: dice.between(0.03, 0.3),
        low_ohm: dice.between(0.03, 0.3),
        diode_v: dice.between(0.4, 0.9),
        diode_ohm: dice.between(0.02, 0.1),
        feed_ohm: dice.between(0.05, 0.6),
        ..bridge(hz, dice.pick(&idles), dice.pick(&ways), throttle)
    };
    let a_throttle = dice.pick(&[0.2, 0.4, 0.6, 0.8]);
    let b_throttle = dice.between(0.1, 0.9);
    let (a, b) = (driver(A_HZ, a_throttle, &mut dice), driver(B_HZ, b_throttle, &mut dice));
    let mut bench = Bench::two(a, b);
    for s in &mut bench.supplies {
        s.volts = dice.between(9.0, 18.0);
        s.ohm = dice.between(0.03, 0.4);
        s.sink = dice.roll() < 0.3;
    }
    if dice.roll() < 0.5 { tied(bench) } else { bench }
}

/// All of them. A one-sided vehicle joins either rail, as it is turned: the worse of the two is the one told.
pub fn all() -> Vec<Crossing> {
    let mut all = Vec::new();
    let idles = [
        ("low", "BrakeLow"),
        ("high", "BrakeHigh"),
        ("z", "HighImpedance"),
        ("opposed", "Opposed"),
    ];
    for (a, idle_a) in idles {
        for (b, idle_b) in idles {
            // Two high-impedance bridges of one voltage let nothing flow.
            let joins = if (a, b) == ("z", "z") { None } else { BOTH };
            all.push(case(&format!("idle-{a}-{b}"), pwm(idle_a, idle_b, "Forward"), PAIR_S, joins));
        }
    }
    for (a, idle_a) in idles {
        let name = format!("reverse-{a}-low");
        all.push(case(&name, pwm(idle_a, "BrakeLow", "Reverse"), PAIR_S, BOTH));
    }
    all.push(case("reverse-z-z", pwm("HighImpedance", "HighImpedance", "Reverse"), PAIR_S, BOTH));

    let low = || pwm("BrakeLow", "BrakeLow", "Forward");
    let left = || one_sided("Left");
    let right = || one_sided("Right");
    all.push(case("isolated-left-alone", riding(low(), left()), PAIR_S, LEFT));
    let mut mirrored = low();
    for d in &mut mirrored.drivers {
        (d.p, d.m) = ("Left", "Right");
    }
    all.push(case("shared-negative-left-alone", tied(riding(mirrored, left())), PAIR_S, LEFT));
    all.push(case("shared-negative-right-alone", tied(riding(low(), right())), PAIR_S, RIGHT));
    all.push(case(
        "shared-negative-both",
        tied(pwm("BrakeLow", "BrakeHigh", "Reverse")),
        PAIR_S,
        BOTH,
    ));
    all.push(case(
        "one-supply-reverse",
        one_supply(pwm("BrakeLow", "BrakeLow", "Reverse")),
        PAIR_S,
        RIGHT,
    ));
    all.push(case("one-supply-right-alone", one_supply(riding(low(), right())), PAIR_S, RIGHT));
    let mixed = pwm("BrakeHigh", "BrakeLow", "Forward");
    all.push(case("one-supply-left-alone", one_supply(riding(mixed, left())), PAIR_S, LEFT));

    let full = || {
        Bench::two(
            bridge(A_HZ, "HighImpedance", "Forward", 1.0),
            bridge(B_HZ, "HighImpedance", "Forward", 1.0),
        )
    };
    let z = || pwm("HighImpedance", "HighImpedance", "Forward");
    all.push(case("unequal-no-sink-full", volts(full(), 16.0, 12.0, false), 1e-3, None));
    all.push(case("unequal-sink-full", volts(full(), 16.0, 12.0, true), 1e-3, BOTH));
    all.push(case("unequal-no-sink-z", volts(z(), 16.0, 12.0, false), PAIR_S, None));
    all.push(case("unequal-sink-z", volts(z(), 16.0, 12.0, true), PAIR_S, BOTH));
    all.push(case("unequal-no-sink-low", volts(low(), 16.0, 12.0, false), PAIR_S, BOTH));
    all.push(case(
        "unequal-sink-high",
        volts(pwm("BrakeHigh", "HighImpedance", "Forward"), 12.0, 16.0, true),
        PAIR_S,
        BOTH,
    ));

    let a = || bridge(A_HZ, "BrakeLow", "Forward", 0.4);
    let z_bridge = || bridge(A_HZ, "HighImpedance", "Forward", 0.4);
    let dc = |way, throttle| smooth(false, false, way, throttle);
    let short = 4e-3;
    all.push(case("smooth-beside-low", Bench::two(a(), dc("Forward", 0.6)), short, BOTH));
    all.push(case(
        "smooth-beside-z-reverse",
        Bench::two(z_bridge(), dc("Reverse", 0.6)),
        short,
        BOTH,
    ));
    all.push(case(
        "clamped-smooth-beside-z",
        Bench::two(z_bridge(), smooth(false, true, "Stopped", 0.0)),
        short,
        BOTH,
    ));
    all.push(case(
        "smooth-beside-smooth",
        Bench::two(dc("Forward", 0.9), dc("Forward", 0.3)),
        1e-3,
        None,
    ));
    all.push(case(
        "smooth-against-smooth",
        Bench::two(dc("Forward", 0.9), dc("Reverse", 0.3)),
        1e-3,
        BOTH,
    ));
    let mut sinking = Bench::two(dc("Forward", 0.9), smooth(true, false, "Forward", 0.3));
    sinking.supplies[1].sink = true;
    all.push(case("smooth-into-sinking-smooth", sinking, 1e-3, BOTH));

    let command = 220e-6;
    all.push(case(
        "dcc-in-phase",
        Bench::two(booster(false, 0.0), booster(false, 0.0)),
        command,
        None,
    ));
    all.push(case(
        "dcc-skewed",
        Bench::two(booster(false, 0.0), booster(false, 5e-6)),
        command,
        BOTH,
    ));
    all.push(case(
        "dcc-swapped",
        Bench::two(booster(false, 0.0), booster(true, 0.0)),
        command,
        BOTH,
    ));
    all.push(case(
        "dcc-unequal-skewed",
        tied(volts(Bench::two(booster(false, 0.0), booster(false, 8e-6)), 15.0, 18.0, false)),
        command,
        BOTH,
    ));
    all.push(case(
        "dcc-beside-smooth",
        Bench::two(booster(false, 0.0), dc("Forward", 0.5)),
        400e-6,
        BOTH,
    ));
    // 2 and 19 steps of 0.1 ms.
    all.push(case(
        "dcc-beside-low",
        Bench::two(booster(false, 0.0), bridge(B_HZ, "BrakeLow", "Forward", 0.35)),
        7.6e-3,
        BOTH,
    ));

    let low_on = |devices: Vec<&'static str>, from| {
        let mut bench = low();
        bench.devices = devices;
        bench.drivers[0].from = Some(from);
        bench
    };
    all.push(case(
        "chain-lamp",
        low_on(vec![r#"(id: "x61", kind: Resistor(from: "d31", ohm: 1.5), ohm: 0.02)"#], "x61"),
        PAIR_S,
        BOTH,
    ));
    all.push(case(
        "chain-diode-pair",
        low_on(
            vec![r#"(id: "x61", kind: DiodePair(from: "d31", volts: 0.7, ohm: 0.05), ohm: 0.02)"#],
            "x61",
        ),
        PAIR_S,
        BOTH,
    ));
    // Forward on both, but a switch on the way of the first is turned.
    all.push(case(
        "chain-cab-turned",
        low_on(
            vec![
                r#"(id: "x61", kind: CabSelector(cabs: [None, Some("d31")]), ohm: 0.03, position: 1)"#,
                r#"(id: "x62", kind: ReversingSwitch(from: "x61"), ohm: 0.04, position: 1)"#,
            ],
            "x62",
        ),
        PAIR_S,
        BOTH,
    ));
    // Both blocks behind one breaker, the second behind a turned switch besides.
    let mut shared = Bench::two(
        D { from: Some("x61"), ..bridge(A_HZ, "BrakeLow", "Forward", 0.4) },
        D { from: Some("x62"), drive: "Nothing".into(), ..bridge(B_HZ, "BrakeLow", "Off", 0.0) },
    );
    shared.devices = vec![
        r#"(id: "x61", kind: Breaker(from: "d31", amps: 5, trip: Averaged(tau_s: 0.1)), ohm: 0.25)"#,
        r#"(id: "x62", kind: ReversingSwitch(from: "x61"), ohm: 0.03, position: 1)"#,
    ];
    all.push(case("chain-shared-breaker", shared, 4e-3, BOTH));
    all.push(case("common-rail-isolated", common_rail(false), 24e-3, None));
    all.push(case("common-rail-one-supply", common_rail(true), 24e-3, None));
    let mut long = common_rail(false);
    long.vehicles = vec![V {
        axles: vec![(10.0, "Pickup", "Pickup"), (1500.0, "Pickup", "Pickup")],
        length_mm: 1510.0,
        ..railcar()
    }];
    all.push(case("common-rail-long-vehicle", long, 24e-3, None));
    all.push(case("split-z-z", split("HighImpedance", "HighImpedance", "Reverse"), PAIR_S, LEFT));
    all.push(case("split-opposed-z", split("Opposed", "HighImpedance", "Forward"), PAIR_S, LEFT));
    all.push(case("split-opposed-opposed", split("Opposed", "Opposed", "Forward"), PAIR_S, LEFT));

    let clocks = |phase, idle| {
        Bench::two(
            clocked(A_HZ, 0.0, "BrakeLow", "Forward", 0.4),
            clocked(A_HZ, phase, idle, "Forward", 0.7),
        )
    };
    all.push(case("one-clock-early", clocks(0.1, "BrakeLow"), short, BOTH));
    all.push(case("one-clock-late", clocks(0.5, "BrakeHigh"), short, BOTH));
    let mut third = clocks(0.25, "BrakeLow");
    third.drivers[1].drive = third.drivers[1].drive.replace("hz: 500", "hz: 1000");
    all.push(case("one-clock-twice-as-fast", third, short, BOTH));

    let off = D { set: ("Off", 0.0), ..bridge(B_HZ, "BrakeLow", "Forward", 0.0) };
    all.push(case("off-neighbour", Bench::two(a(), off.clone()), short, None));
    all.push(case(
        "off-neighbour-lower-shared",
        tied(volts(Bench::two(a(), off), 16.0, 9.0, false)),
        short,
        None,
    ));
    let mut dark = Bench::two(a(), bridge(B_HZ, "BrakeLow", "Forward", 0.7));
    dark.supplies[1].powered = false;
    all.push(case("unpowered-neighbour", dark.clone(), short, None));
    // A third driver on the dead supply is fed through the diodes of the second.
    dark.drivers[0] = bridge(A_HZ, "HighImpedance", "Forward", 0.4);
    dark.drivers.push(D { supply: 0, ..bridge(A_HZ, "HighImpedance", "Forward", 0.4) });
    dark.cuts.push("Both");
    dark.drivers[2].feed_ohm = 0.2;
    all.push(case("unpowered-between", dark, short, None));

    let mut swapped = low();
    (swapped.drivers[1].p, swapped.drivers[1].m) = ("Left", "Right");
    all.push(case("swapped-feed", swapped, PAIR_S, BOTH));
    let mut rails = low();
    rails.rail_ohm_per_m = 0.2;
    all.push(case("rail-resistance", rails, PAIR_S, BOTH));
    let dirty = V { contact: (0.15, 0.5), ..long_locomotive() };
    all.push(case(
        "long-locomotive-dirty",
        riding(pwm("BrakeHigh", "BrakeLow", "Forward"), dirty),
        PAIR_S,
        BOTH,
    ));

    let loads = [
        ("motor", "Motor(ohm: 12, emf_v: 5)"),
        ("lamps", "Resistor(ohm: 15)"),
        ("rectifier", "Rectifier(ohm: 4, volts: 9)"),
    ];
    for (word, load) in loads {
        let mut bench = riding(volts(z(), 14.0, 16.0, false), V { load, ..railcar() });
        // With a rating the loaded stand leaves the least margin: it is the one told.
        for d in &mut bench.drivers {
            d.more = ", rating_a: 2.9";
            d.trip = "";
        }
        all.push(Crossing { loaded: true, ..case(&format!("loaded-{word}"), bench, PAIR_S, BOTH) });
    }

    let mut bench =
        riding(one_supply(z()), V { load: "Motor(ohm: 12, emf_v: 5)", ..long_locomotive() });
    for d in &mut bench.drivers {
        d.more = ", rating_a: 2.9";
        d.trip = "";
    }
    all.push(Crossing { loaded: true, ..case("loaded-one-supply", bench, PAIR_S, BOTH) });

    // 98 periods of 490 Hz and 25 of 125 Hz: the common period is 0.2 s.
    for (name, feed_ohm) in [("worked-example-1", 0.35), ("worked-example-2", 0.08)] {
        let mut c = case(name, worked(feed_ohm), 0.2, BOTH);
        c.window.from_s = 4e-3;
        all.push(c);
    }
    let z = "HighImpedance";
    let dirty = || V { contact: (0.05, 0.5), ..railcar() };
    all.push(case("train-z-z-z", over_two_cuts([z; 3], [railcar(), dirty()]), 24e-3, BOTH));
    let tied_train = tied(over_two_cuts(["BrakeLow", z, "BrakeHigh"], [left(), right()]));
    all.push(case("train-one-rail-each-tied", tied_train, 24e-3, BOTH));
    for seed in 1..=12 {
        all.push(case(&format!("rolled-{seed:02}"), rolled(seed), PAIR_S, None));
    }
    all
}
