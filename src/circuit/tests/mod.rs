#![allow(clippy::unwrap_used)]
mod examples;
mod laws;
mod ranges;

use super::*;

/// Half-bridge outputs: the high switch on, the low switch on, or none.
#[derive(Clone, Copy, PartialEq)]
enum Leg {
    High,
    Low,
    Off,
}

const FORWARD: [Leg; 2] = [Leg::High, Leg::Low];
const BRAKE_LOW: [Leg; 2] = [Leg::Low, Leg::Low];
const OFF: [Leg; 2] = [Leg::Off, Leg::Off];

/// Two poles and the supply between them.
#[derive(Clone, Copy)]
struct Poles {
    low: Node,
    high: Node,
    source: Option<BranchId>,
}

fn supply(net: &mut Network, volts: Option<f64>) -> Poles {
    let (low, high) = (net.node(), net.node());
    Poles { low, high, source: volts.map(|volts| net.one_way_source(low, high, volts, 0.05)) }
}

/// Two half-bridges with their body diodes, each behind a feeder to a rail.
struct Bridge {
    rails: [Node; 2],
    feeders: [BranchId; 2],
    low_diodes: [BranchId; 2],
}

fn bridge(net: &mut Network, poles: Poles, legs: [Leg; 2], feeder_ohm: f64) -> Bridge {
    let mut half = |leg: Leg| {
        let (out, rail) = (net.node(), net.node());
        let _switch = match leg {
            Leg::High => Some(net.resistor(poles.high, out, 0.06)),
            Leg::Low => Some(net.resistor(poles.low, out, 0.06)),
            Leg::Off => None,
        };
        let low_diode = net.diode(poles.low, out, 0.7, 0.05);
        net.diode(out, poles.high, 0.7, 0.05);
        (rail, net.resistor(out, rail, feeder_ohm), low_diode)
    };
    let [(p, feeder_p, low_p), (m, feeder_m, low_m)] = [half(legs[0]), half(legs[1])];
    Bridge { rails: [p, m], feeders: [feeder_p, feeder_m], low_diodes: [low_p, low_m] }
}

/// Two bridges on isolated supplies with the given rails joined through 0.02 Ω.
struct Pair {
    net: Network,
    poles: [Poles; 2],
    bridges: [Bridge; 2],
}

fn pair(volts: [Option<f64>; 2], legs: [[Leg; 2]; 2], joined: [bool; 2], feeder: f64) -> Pair {
    let mut net = Network::default();
    let poles = volts.map(|volts| supply(&mut net, volts));
    let bridges = [0, 1].map(|k| bridge(&mut net, poles[k], legs[k], feeder));
    for side in [0, 1] {
        if joined[side] {
            net.resistor(bridges[0].rails[side], bridges[1].rails[side], 0.02);
        }
    }
    Pair { net, poles, bridges }
}
