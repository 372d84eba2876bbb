//! What a meter reads across a gap: with the drivers off, ohms; with power and no train, volts.
//!
//! Ohms are sums of the wires that the layout states. Volts come from the circuit of the check, through
//! [`crate::study::scope`].

use std::collections::BTreeMap;

use super::Facts;
use crate::findings::{CutReport, SelectorAt, SetState, SetWord};
use crate::layout::wire::feed_leg_ohm;
use crate::layout::{CutId, Rail};
use crate::rails::Plan;
use crate::study::View;
use crate::study::scope::{Gap, Scope, Signal};

/// Expected reading of an ohmmeter between two rails.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Ring {
    /// Nothing joins them.
    Open,
    /// They are one metal, through other track.
    Metal,
    /// Wires of one output join them, Ω; `None` where the layout states no wire.
    Wires(Option<f64>),
    /// Wires that meet at a device with nothing behind it join them.
    Loose,
}

/// What an ohmmeter must find at a gap, in some sets of positions.
#[derive(Debug, Clone, PartialEq)]
pub struct Rings {
    /// Sets of positions of the selectors that matter in which it reads so; an empty set as they stand now.
    pub positions: Vec<Vec<SelectorAt>>,
    /// Across the gap of the left and the right rail; `None` where that rail is whole.
    pub across: [Option<Ring>; 2],
    /// From rail to rail, before the gap and beyond it.
    pub between: [Ring; 2],
    /// From left before the gap to right beyond it, and from right to left.
    pub crosswise: [Ring; 2],
}

/// What an ohmmeter must find at a gap, with the sets of positions that matter there by what they read.
pub fn rings(facts: &Facts, cut: CutId) -> Vec<Rings> {
    let mut all: Vec<Rings> = Vec::new();
    for view in facts.study.views() {
        let Some(known) = view.known.get(&cut) else { continue };
        let positions = if view.is_now { Vec::new() } else { known.selectors.clone() };
        let Some(rings) = rings_in(facts, &view, cut, positions) else { continue };
        let same = |other: &&mut Rings| {
            (other.across, other.between, other.crosswise)
                == (rings.across, rings.between, rings.crosswise)
        };
        match all.iter_mut().find(same) {
            Some(other) => other.positions.extend(rings.positions),
            None => all.push(rings),
        }
    }
    all
}

fn rings_in(facts: &Facts, view: &View, cut: CutId, positions: Vec<SelectorAt>) -> Option<Rings> {
    let at = view.plan.cuts.get(&cut)?;
    let drawn = facts.layout.cuts.get(&cut)?;
    let [before, beyond] = [at.before, at.after].map(|piece| view.plan.pieces[piece].nets);
    let ring = |a: usize, b: usize| ring(facts, &view.plan, a, b);
    let across =
        |rail: Rail, side: usize| drawn.rails.has(rail).then(|| ring(before[side], beyond[side]));
    Some(Rings {
        positions: vec![positions],
        across: [across(Rail::Left, 0), across(Rail::Right, 1)],
        between: [ring(before[0], before[1]), ring(beyond[0], beyond[1])],
        crosswise: [ring(before[0], beyond[1]), ring(before[1], beyond[0])],
    })
}

/// What joins two nets while every driver is off and unplugged at its outputs' far side: metal, or wires from one output.
fn ring(facts: &Facts, plan: &Plan, a: usize, b: usize) -> Ring {
    if a == b {
        return Ring::Metal;
    }
    let mut joined: Vec<Option<f64>> = Vec::new();
    for one in &plan.nets[a].legs {
        for other in &plan.nets[b].legs {
            if (one.driver, one.is_p) != (other.driver, other.is_p) {
                continue;
            }
            let leg = |feed| {
                let feed = facts.layout.feeds.get(&feed)?;
                let stated = feed.ohm.is_some() || feed.wire.is_some();
                stated.then(|| feed_leg_ohm(feed).value)
            };
            joined.push(leg(one.feed).zip(leg(other.feed)).map(|(a, b)| a + b));
        }
    }
    if !joined.is_empty() {
        // The least of them, if all are stated: others lie beside it.
        let stated: Option<Vec<f64>> = joined.into_iter().collect();
        return Ring::Wires(stated.and_then(|all| all.into_iter().reduce(f64::min)));
    }
    let loose = plan.wires().iter().any(|legs| {
        let has = |net: usize| legs.iter().any(|leg| leg.net.0 == net);
        has(a) && has(b)
    });
    if loose { Ring::Loose } else { Ring::Open }
}

/// What a meter shows across one rail's gap, with no train there. V.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Volts {
    /// An averaging meter on DC, and a true-RMS meter on DC and AC together.
    Shows(f64, f64),
    /// Nothing joins the two points at times: what a meter shows is chance.
    Floats,
}

/// Volts across a gap at a pair of settings.
#[derive(Debug, Clone, PartialEq)]
pub struct Powered {
    /// Setting of the first block's driver.
    pub a: SetWord,
    /// Setting of the second block's driver.
    pub b: SetWord,
    /// Throttles, from 0 to 1.
    pub throttles: [f64; 2],
    /// Across the gap of the left and the right rail; `None` where that rail is whole.
    pub across: [Option<Volts>; 2],
}

/// Volts across a gap for each pair of settings of its card, both throttles at full, the selectors as they stand now and no
/// train there. Empty where nothing is judged.
pub fn powered(facts: &Facts, cut: &CutReport) -> Vec<Powered> {
    let Some(gap) = Gap::of(facts.layout, &facts.view.plan, cut.id) else { return Vec::new() };
    let Some(who) = gap.all().next() else { return Vec::new() };
    let case = gap.case(who);
    let names = &gap.around(who).names;
    let sides = case.sides.map(|side| side.map(|at| names.drivers[at]));
    let [Some(first), Some(second)] = sides else { return Vec::new() };
    let mut out = Vec::new();
    for cell in &cut.card {
        let level = |word: SetWord| if word.drives() { 1.0 } else { 0.0 };
        let throttles = [level(cell.a), level(cell.b)];
        let mut settings: BTreeMap<_, SetState> = cell.situation.settings.clone();
        settings.insert(first, SetState { state: cell.a, throttle: throttles[0] });
        settings.insert(second, SetState { state: cell.b, throttle: throttles[1] });
        let scenario = gap.scenario(who, &settings, &[]);
        let Ok(scope) = Scope::of(case, &scenario, None, false) else { continue };
        let across = Rail::BOTH.map(|rail| {
            let trace = scope.traces.iter().find(|trace| trace.signal == Signal::Gap(rail))?;
            Some(match trace.reading(scope.drifting()) {
                Some(reading) => Volts::Shows(reading.mean, reading.rms),
                None => Volts::Floats,
            })
        });
        out.push(Powered { a: cell.a, b: cell.b, throttles, across });
    }
    out
}
