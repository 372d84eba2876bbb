//! Questions at a gap (trials, readings, looks) and their answers.

use std::collections::BTreeMap;

use crate::layout::{Direction, DriverId, Layout, Load, Setting, Spot, SupplyId};
use crate::rails::Plan;
use crate::study::run::{Ohms, Rolls, volts};
use crate::study::{GuardId, Motion};

use super::fault::{Fault, Repair};
use super::reach::Reach;

/// Settings of some drivers; all others as they are set.
pub type Throttles = BTreeMap<DriverId, Setting>;

/// Something to try, to measure or to look at.
#[derive(Debug, Clone, PartialEq)]
pub enum Question {
    /// Something goes over the gap, stands on it, or nothing is there.
    Trial {
        /// What.
        rolls: Rolls,
        /// True if it goes along the cut's run.
        along: bool,
        /// True if its rear leads.
        rear_first: bool,
        /// Its speed, mm/s, where that is known.
        speed_mm_s: Option<f64>,
        /// Rolling, standing, or nothing there.
        motion: Motion,
        /// Settings of the drivers.
        throttles: Throttles,
    },
    /// Which way a train goes on the block before (0) or after (1) the gap.
    WhichWay {
        /// The block.
        side: usize,
        /// Settings of the drivers.
        throttles: Throttles,
    },
    /// An averaging voltmeter between two places.
    Volts {
        /// Place of the red lead.
        from: Spot,
        /// Place of the black lead.
        to: Spot,
        /// Settings of the drivers.
        throttles: Throttles,
    },
    /// An ohmmeter between two places, all throttles at zero and volts first.
    OhmsAtZero {
        /// One place.
        from: Spot,
        /// The other.
        to: Spot,
    },
    /// An ohmmeter between two places, all feeders lifted.
    OhmsLifted {
        /// One place.
        from: Spot,
        /// The other.
        to: Spot,
    },
    /// An ohmmeter between the negative poles of two supplies, everything off.
    Negatives(SupplyId, SupplyId),
    /// A look for a class of faults.
    Look(Repair),
    /// A look for one fault, by its name.
    LookAt(String),
}

/// Which way a train goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Heads {
    /// Towards the gap.
    Towards,
    /// Away from it.
    Away,
    /// It does not go.
    Nowhere,
}

/// An answer to a question.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Answer {
    /// It goes over, and nothing happens.
    Nothing,
    /// Something trips. No guards: nobody saw which.
    Trips {
        /// Whose trips.
        guards: Vec<GuardId>,
        /// True if it trips with no train.
        empty: bool,
    },
    /// The train stands.
    Stalls,
    /// The train is driven back.
    Backwards,
    /// It goes over, faster or slower by a tenth and more.
    ChangesSpeed,
    /// Where it goes.
    Goes(Heads),
    /// Volts, rounded.
    Volts(i32),
    /// Ohms.
    Ohms(Ohms),
    /// A look confirms it, or does not.
    Seen(bool),
}

impl Answer {
    /// True if what was observed fits an answer: "it trips" fits every trip, and a trip that was seen as a train came may have
    /// come without it.
    pub fn fits(&self, predicted: &Answer) -> bool {
        match (self, predicted) {
            (
                Answer::Trips { guards, empty },
                Answer::Trips { guards: others, empty: of_others },
            ) => (of_others >= empty) && (guards.is_empty() || guards == others),
            _ => self == predicted,
        }
    }
}

/// A question with what came out: `times` of `of`.
#[derive(Debug, Clone, PartialEq)]
pub struct Observation {
    /// The question.
    pub question: Question,
    /// The answer.
    pub answer: Answer,
    /// Number of trials with this answer.
    pub times: u32,
    /// Number of trials.
    pub of: u32,
}

impl Question {
    /// Minutes that it takes (judgement, no source); a look takes those of its faults.
    pub fn minutes(&self, look: impl Fn(&Repair) -> f64) -> f64 {
        match self {
            Question::Trial { .. } | Question::WhichWay { .. } | Question::Volts { .. } => 1.0,
            Question::OhmsAtZero { .. } => 2.0,
            Question::Negatives(..) => 4.0,
            Question::OhmsLifted { .. } => 8.0,
            Question::Look(repair) => look(repair),
            Question::LookAt(_) => 2.0,
        }
    }

    /// Least number of different answers: for answers that nothing predicts.
    pub fn answers(&self) -> f64 {
        match self {
            Question::Trial { .. } => 6.0,
            Question::WhichWay { .. } => 3.0,
            Question::Volts { .. } => 12.0,
            Question::OhmsAtZero { .. } => 4.0,
            Question::OhmsLifted { .. } | Question::Negatives(..) => 2.0,
            Question::Look(_) | Question::LookAt(_) => 2.0,
        }
    }
}

/// Throttle pairs that are worth trying: what lies between them tells one bridge from the other.
const PAIRS: [[f64; 2]; 5] = [[0.4, 0.8], [1.0, 1.0], [1.0, 0.1], [0.1, 1.0], [0.5, 0.5]];

/// How the two drivers at a gap have to be set to agree, by the layout as drawn; and whether a train then goes along the
/// cut's run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Agree {
    directions: [Option<Direction>; 2],
    along: bool,
}

/// A direction turned round.
fn turned(direction: Direction) -> Direction {
    match direction {
        Direction::Forward => Direction::Reverse,
        Direction::Reverse => Direction::Forward,
        other => other,
    }
}

fn setting(direction: Direction, throttle: f64) -> Setting {
    Setting { direction, throttle }
}

/// The settings of a layout's drivers changed.
pub fn set(layout: &Layout, throttles: &Throttles) -> Layout {
    let mut set = layout.clone();
    for (id, to) in throttles {
        if let Some(driver) = set.drivers.get_mut(id) {
            driver.setting = *to;
        }
    }
    set
}

impl Agree {
    /// From the polarity that each driver gives its own block, one at a time.
    pub fn of(layout: &Layout, plan: &Plan, reach: &Reach) -> Agree {
        let mut directions = [None; 2];
        let mut along = true;
        for side in 0..2 {
            let Some(id) = reach.sides[side] else { continue };
            if matches!(
                layout.drivers.get(&id).map(|driver| &driver.drive),
                Some(crate::layout::Drive::DccBooster { .. })
            ) {
                directions[side] = Some(Direction::On);
                continue;
            }
            let throttles = only(reach, id, setting(Direction::Forward, 1.0));
            let [left, right] = reach.spots[side];
            let volts = volts(&set(layout, &throttles), plan, [left, right]).ok().flatten();
            // A positive right-hand rail drives along (NMRA S-9).
            let drives_along = volts.is_none_or(|volts| volts < 0.0);
            if side == 0 || directions[0].is_none() {
                directions[side] = Some(Direction::Forward);
                along = drives_along;
            } else {
                let agrees = drives_along == along;
                directions[side] =
                    Some(if agrees { Direction::Forward } else { Direction::Reverse });
            }
        }
        Agree { directions, along }
    }

    /// Throttles of the two drivers at these levels, so that they drive along the cut's run or against it.
    fn throttles(&self, reach: &Reach, levels: [f64; 2], along: bool) -> Throttles {
        let mut throttles = Throttles::new();
        for ((id, direction), level) in reach.sides.iter().zip(self.directions).zip(levels) {
            let (Some(id), Some(direction)) = (id, direction) else { continue };
            let direction = if along == self.along { direction } else { turned(direction) };
            throttles.insert(*id, setting(direction, level));
        }
        throttles
    }
}

/// One driver set, all others around the gap off.
fn only(reach: &Reach, id: DriverId, to: Setting) -> Throttles {
    let off = |&other: &DriverId| (other, setting(Direction::Off, 0.0));
    let mut throttles: Throttles = reach.drivers.iter().map(off).collect();
    throttles.insert(id, to);
    throttles
}

/// Everything that is on offer at a gap; `repairs` are the classes that a look may confirm.
pub fn on_offer(layout: &Layout, plan: &Plan, reach: &Reach, faults: &[Fault]) -> Vec<Question> {
    let agree = Agree::of(layout, plan, reach);
    let names = crate::job::Names { layout, plan };
    let mut offer = Vec::new();
    let is_dcc = agree.directions.iter().flatten().all(|d| *d == Direction::On);
    let meters = !reach.is_dcc(layout);
    let has_motor = layout.vehicles.values().any(|v| matches!(v.load, Load::Motor { .. }));
    let pairs: &[[f64; 2]] = if is_dcc { &PAIRS[1..2] } else { &PAIRS };
    for (nth, &rolls) in reach.rolls.iter().enumerate() {
        for (at, &levels) in pairs.iter().enumerate() {
            for along in [agree.along, !agree.along] {
                // The other way, and with another train, two settings tell enough.
                if (nth > 0 || along != agree.along) && at > 1 {
                    continue;
                }
                let throttles = agree.throttles(reach, levels, along);
                offer.push(Question::Trial {
                    rolls,
                    along,
                    rear_first: false,
                    speed_mm_s: None,
                    motion: Motion::Moving,
                    throttles: throttles.clone(),
                });
                if nth == 0 && along == agree.along && at < 2 {
                    for motion in [Motion::NoTrain, Motion::Standing] {
                        // Which way it would go tells nothing of these.
                        offer.push(Question::Trial {
                            rolls,
                            along: true,
                            rear_first: false,
                            speed_mm_s: None,
                            motion,
                            throttles: throttles.clone(),
                        });
                    }
                }
            }
        }
    }
    for side in 0..2 {
        for (of, id) in reach.sides.iter().enumerate().filter_map(|(of, id)| Some((of, (*id)?))) {
            let direction = agree.directions[of].unwrap_or(Direction::Forward);
            let [left, right] = reach.spots[side];
            if of == side && meters && has_motor {
                let throttles = only(reach, id, setting(direction, 0.5));
                offer.push(Question::WhichWay { side, throttles });
            }
            if !meters {
                continue;
            }
            let throttles = only(reach, id, setting(direction, 1.0));
            offer.push(Question::Volts { from: right, to: left, throttles });
        }
        let [left, right] = reach.spots[side];
        if meters {
            offer.push(Question::OhmsAtZero { from: left, to: right });
        }
    }
    let [before, after] = reach.spots;
    let across = |rail: usize| Question::OhmsLifted { from: before[rail], to: after[rail] };
    offer.extend([across(0), across(1)]);
    for (at, &a) in reach.supplies.iter().enumerate() {
        offer.extend(reach.supplies[at + 1..].iter().map(|&b| Question::Negatives(a, b)));
    }
    let mut repairs: Vec<Repair> = Vec::new();
    for fault in faults.iter().filter(|fault| **fault != Fault::AsDrawn) {
        let repair = fault.repair(names);
        if !repairs.contains(&repair) {
            repairs.push(repair);
        }
    }
    offer.extend(repairs.into_iter().map(Question::Look));
    // One driver on both sides gives the same test twice.
    let mut once: Vec<Question> = Vec::with_capacity(offer.len());
    for question in offer {
        if !once.contains(&question) {
            once.push(question);
        }
    }
    once
}
