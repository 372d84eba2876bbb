//! Answers to a question if a fault is there: the check's own circuits, asked for one moment.

use std::collections::BTreeMap;

use super::fault::{Fault, Repair};
use super::question::{Answer, Heads, Question, Throttles, set};
use super::reach::Reach;
use crate::layout::{Direction, Drive, Driver, DriverId, Layout, Setting, SupplyId};
use crate::rails::Plan;
use crate::study::run::{Chance, Hidden, Noticed, Ohms, Way, lifted_ohms, noticed, ohms, volts};

/// Answers with their probabilities. They sum to 1, or there are none: then nothing is known.
pub type Dist = Vec<(Answer, f64)>;

/// A layout as it would be with a fault.
pub struct Supposed {
    /// The fault.
    pub fault: Fault,
    /// The repair that ends it.
    pub repair: Repair,
    /// The layout with the fault.
    pub layout: Layout,
    /// Its plan.
    pub plan: Plan,
}

/// Both ends of what varies and is not known, with their weights: contacts and speed alike, trips at ¼, ½ and ¼.
fn corners(speed_is_known: bool) -> Vec<(f64, Hidden)> {
    let speeds: &[f64] = if speed_is_known { &[0.0] } else { &[0.0, 1.0] };
    let mut corners = Vec::new();
    for contact in [0.0, 1.0] {
        for &speed in speeds {
            for (trip, share) in [(-1.0, 0.25), (0.0, 0.5), (1.0, 0.25)] {
                let weight = share * 0.5 / speeds.len() as f64;
                corners.push((weight, Hidden { contact, speed, trip }));
            }
        }
    }
    corners
}

/// A person sees all that trip at once, or one of them.
const SEES_ALL: f64 = 0.7;
/// A reading is right but for this share (common practice, no source).
const SLIPS: f64 = 0.06;
/// A look finds what is there, and finds what is not (common practice, no source).
const FINDS: (f64, f64) = (0.95, 0.03);

impl Supposed {
    /// The answers to a question, averaged over everything hidden.
    pub fn answers(&self, reach: &Reach, question: &Question) -> Dist {
        let speed_is_known = matches!(question, Question::Trial { speed_mm_s: Some(_), .. });
        self.answers_at(reach, question, &corners(speed_is_known))
    }

    /// The answers to a question, averaged over some hidden values with their weights.
    pub fn answers_at(&self, reach: &Reach, question: &Question, hidden: &[(f64, Hidden)]) -> Dist {
        match question {
            Question::Trial { rolls, along, rear_first, speed_mm_s, motion, throttles } => {
                let way = Way {
                    cut: reach.cut,
                    rolls: *rolls,
                    along: *along,
                    rear_first: *rear_first,
                    speed_mm_s: *speed_mm_s,
                    motion: *motion,
                };
                let layout = set(&self.layout, throttles);
                let chances = noticed(&layout, &self.plan, &way, hidden).ok().flatten();
                let of = |id: &Option<DriverId>| {
                    id.and_then(|id| layout.drivers.get(&id)).map(|d| d.setting.throttle)
                };
                let equal = match reach.sides.each_ref().map(of) {
                    [Some(a), Some(b)] => (a - b).abs() < 0.05,
                    _ => true,
                };
                chances.map(|chances| trial(&chances, equal)).unwrap_or_default()
            }
            Question::WhichWay { side, throttles } => self.which_way(reach, *side, throttles),
            Question::Volts { from, to, throttles } => {
                let layout = set(&self.layout, throttles);
                match volts(&layout, &self.plan, [*from, *to]) {
                    Ok(Some(volts)) => around(volts),
                    _ => Dist::new(),
                }
            }
            Question::OhmsAtZero { from, to } => {
                let zero = Setting { direction: Direction::Stopped, throttle: 0.0 };
                // A booster has no zero: it is off then.
                let off = Setting { direction: Direction::Off, throttle: 0.0 };
                let of = |driver: &Driver| match driver.drive {
                    Drive::DccBooster { .. } => (driver.id, off),
                    _ => (driver.id, zero),
                };
                let throttles: Throttles = self.layout.drivers.values().map(of).collect();
                let layout = set(&self.layout, &throttles);
                match ohms(&layout, &self.plan, [*from, *to]) {
                    Ok(Some(ohms)) => read(ohms),
                    _ => Dist::new(),
                }
            }
            Question::OhmsLifted { from, to } => {
                lifted_ohms(&self.plan, [*from, *to]).map(read).unwrap_or_default()
            }
            Question::Negatives(a, b) => read(negatives(&self.layout, *a, *b)),
            Question::Look(repair) => looked(*repair == self.repair),
            Question::LookAt(key) => looked(*key == self.fault.key()),
        }
    }

    fn which_way(&self, reach: &Reach, side: usize, throttles: &Throttles) -> Dist {
        let layout = set(&self.layout, throttles);
        let [left, right] = reach.spots[side];
        let Ok(Some(volts)) = volts(&layout, &self.plan, [left, right]) else {
            return Dist::new();
        };
        // A positive right-hand rail drives along the run (NMRA S-9); before the gap that is towards it.
        let along = volts < 0.0;
        let heads = match (volts.abs() < 0.5, along == (side == 0)) {
            (true, _) => Heads::Nowhere,
            (false, true) => Heads::Towards,
            (false, false) => Heads::Away,
        };
        let all = [Heads::Towards, Heads::Away, Heads::Nowhere];
        let slip = SLIPS / 2.0;
        let share = |of| if of == heads { 1.0 - SLIPS } else { slip };
        all.map(|of| (Answer::Goes(of), share(of))).to_vec()
    }
}

/// The answers of a look.
fn looked(is_there: bool) -> Dist {
    let yes = if is_there { FINDS.0 } else { FINDS.1 };
    vec![(Answer::Seen(true), yes), (Answer::Seen(false), 1.0 - yes)]
}

/// The answers that a person gives. `equal`: true if the throttles of both sides are set alike.
fn trial(chances: &[Chance], equal: bool) -> Dist {
    let mut dist: BTreeMap<Answer, f64> = BTreeMap::new();
    let mut add = |answer: Answer, share: f64| *dist.entry(answer).or_default() += share;
    for Chance { share, noticed } in chances {
        match noticed {
            Noticed::Nothing { faster } => {
                let step = faster.map_or(1.0, |f| f.max(1.0 / f.max(1e-9)));
                let seen = match step {
                    // Where throttles differ, a step of speed is what everybody expects: some tell it, some do not.
                    step if !equal && step > 1.1 => 0.5,
                    step if step > 1.5 => 0.8,
                    step if step > 1.1 => 0.4,
                    _ => 0.0,
                };
                add(Answer::ChangesSpeed, share * seen);
                add(Answer::Nothing, share * (1.0 - seen));
            }
            Noticed::Trips { guards, empty } => {
                let mut all = guards.clone();
                all.sort_unstable();
                let empty = *empty;
                if all.len() > 1 {
                    let each = share * (1.0 - SEES_ALL) / all.len() as f64;
                    for &guard in &all {
                        add(Answer::Trips { guards: vec![guard], empty }, each);
                    }
                    add(Answer::Trips { guards: all, empty }, share * SEES_ALL);
                } else {
                    add(Answer::Trips { guards: all, empty }, *share);
                }
            }
            Noticed::Stalls => add(Answer::Stalls, *share),
            Noticed::Backwards => add(Answer::Backwards, *share),
        }
    }
    dist.into_iter().filter(|(_, share)| *share > 0.0).collect()
}

/// The readings of a voltage: rounded, within four per cent and a quarter of a volt.
fn around(volts: f64) -> Dist {
    let off = 0.04 * volts.abs() + 0.25;
    let (from, to) = (volts - off, volts + off);
    let bins = from.round() as i32..=to.round() as i32;
    let share = |bin: i32| {
        let (low, high) = (f64::from(bin) - 0.5, f64::from(bin) + 0.5);
        ((to.min(high) - from.max(low)) / (to - from)).max(0.0)
    };
    bins.map(|bin| (Answer::Volts(bin), share(bin))).collect()
}

/// The readings of a resistance.
fn read(ohms: Ohms) -> Dist {
    let all = [Ohms::Joined, Ohms::Some, Ohms::Thousands, Ohms::Open];
    let share = |of: Ohms| if of == ohms { 1.0 - SLIPS } else { SLIPS / 3.0 };
    all.map(|of| (Answer::Ohms(of), share(of))).to_vec()
}

/// The resistance between the negative poles of two supplies.
fn negatives(layout: &Layout, a: SupplyId, b: SupplyId) -> Ohms {
    let tie = |id| layout.supplies.get(&id).and_then(|s| s.negative.as_ref()).map(|n| &n.name);
    match (tie(a), tie(b)) {
        (Some(of_a), Some(of_b)) if of_a == of_b => Ohms::Joined,
        _ => Ohms::Open,
    }
}
