//! The file of observations, as a person writes it.

use std::collections::BTreeMap;
use std::fmt::Display;

use ron::Options;
use ron::extensions::Extensions;
use serde::{Deserialize, Serialize};

use super::catalogue::Past;
use super::hunt::Hunt;
use super::question::{Answer, Heads, Observation, Question, Throttles};
use crate::layout::{CutId, Direction, DriverId, Layout, Rail, Setting, shown};
use crate::study::run::{Ohms, Rolls};
use crate::study::{GuardId, Motion};

/// What was seen at a gap.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Saw {
    /// What is known of the past.
    #[serde(default)]
    pub past: Past,
    /// Observations, in any order.
    #[serde(default)]
    pub saw: Vec<Line>,
}

/// A throttle.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub enum Throttle {
    Forward(f64),
    Reverse(f64),
    Stopped,
    On,
    Off,
}

/// An answer to a trial.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub enum Happened {
    Nothing,
    /// These drivers or breakers trip; none named where nobody saw which.
    Trips(Vec<String>),
    Stalls,
    Backwards,
    ChangesSpeed,
}

/// A reading of an ohmmeter.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub enum Resistance {
    /// Below 1 Ω.
    Joined,
    /// Up to 1 kΩ.
    Some,
    /// Above 1 kΩ.
    Thousands,
    Open,
}

/// Which way a train went.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub enum Went {
    Towards,
    Away,
    Nowhere,
}

type Levels = BTreeMap<String, Throttle>;

fn once() -> u32 {
    1
}

/// One thing that was tried. Drivers that are not named are as the layout has them set.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[allow(missing_docs)]
pub enum Line {
    /// A vehicle or a train went over the gap, into a block.
    Train {
        what: String,
        to: String,
        #[serde(default)]
        rear_first: bool,
        #[serde(default)]
        speed_mm_s: Option<f64>,
        #[serde(default)]
        throttles: Levels,
        saw: Happened,
        #[serde(default = "once")]
        times: u32,
        #[serde(default = "once")]
        of: u32,
    },
    /// It stood on the gap.
    Standing {
        what: String,
        #[serde(default)]
        throttles: Levels,
        saw: Happened,
        #[serde(default = "once")]
        times: u32,
        #[serde(default = "once")]
        of: u32,
    },
    /// Nothing was on the track.
    NoTrain {
        #[serde(default)]
        throttles: Levels,
        saw: Happened,
        #[serde(default = "once")]
        times: u32,
        #[serde(default = "once")]
        of: u32,
    },
    /// Which way a train went on one of the two blocks, seen from the gap.
    WhichWay {
        block: String,
        #[serde(default)]
        throttles: Levels,
        saw: Went,
    },
    /// Volts of the right rail over the left one of a block, seen along the run of the cut.
    Volts {
        block: String,
        #[serde(default)]
        throttles: Levels,
        saw: f64,
    },
    /// Ohms across the rails of a block, all throttles at zero.
    OhmsAtZero { block: String, saw: Resistance },
    /// Ohms across the gap of a rail, all feeders lifted.
    OhmsAcross { rail: Rail, saw: Resistance },
    /// Ohms between the negative poles of two supplies, all off.
    Negatives { supplies: (String, String), saw: Resistance },
    /// Somebody looked for a fault, named as the list of suspects names it.
    Looked { at: String, saw: bool },
}

/// A file may hold so many observations.
const MOST_OBSERVATIONS: usize = 100;

/// Why a file of observations cannot be used, in words for a person.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct Wrong(pub String);

/// Observations from the text of a file in RON.
///
/// # Errors
/// The text is no list of observations: with line and column.
pub fn saw_text(text: &str) -> Result<Saw, Wrong> {
    let options = Options::default().with_default_extension(Extensions::IMPLICIT_SOME);
    options.from_str(text).map_err(|error| {
        let place = error.span.start;
        let why = format!("line {}, column {}: {}", place.line, place.col, error.code);
        Wrong(shown(&why).into_owned())
    })
}

/// The thing of a name or an identity.
fn find<Id: Copy + Display>(
    kind: &str,
    asked: &str,
    all: impl Iterator<Item = (Id, String)> + Clone,
) -> Result<Id, Wrong> {
    let asked = asked.trim();
    if asked.is_empty() {
        return Err(Wrong(format!("a {kind} has to be named, by its name or its identity")));
    }
    let is = |(id, name): &(Id, String)| name == asked || id.to_string() == asked;
    let mut found = all.clone().filter(is);
    match (found.next(), found.next()) {
        (Some((id, _)), None) => Ok(id),
        (Some(_), Some(_)) => Err(Wrong(format!(
            "{kind} \"{}\": several have this name. Use the identity instead",
            shown(asked)
        ))),
        (None, _) => {
            let known: Vec<String> = all
                .map(|(id, name)| if name.is_empty() { id.to_string() } else { name })
                .take(12)
                .collect();
            let known = shown(&known.join(", ")).into_owned();
            Err(Wrong(format!("{kind} \"{}\" is not there. There are: {known}", shown(asked))))
        }
    }
}

/// The gap of a name or an identity.
///
/// # Errors
/// There is none, or there are several.
pub fn gap_named(layout: &Layout, asked: &str) -> Result<CutId, Wrong> {
    find("gap", asked, layout.cuts.values().map(|cut| (cut.id, cut.name.clone())))
}

/// Names of a layout and of a hunt.
struct Book<'a> {
    layout: &'a Layout,
    hunt: &'a Hunt,
}

impl Book<'_> {
    fn driver(&self, asked: &str) -> Result<DriverId, Wrong> {
        find("driver", asked, self.layout.drivers.values().map(|d| (d.id, d.name.clone())))
    }

    fn guard(&self, asked: &str) -> Result<GuardId, Wrong> {
        if let Ok(driver) = self.driver(asked) {
            return Ok(GuardId::Driver(driver));
        }
        let devices = self.layout.devices.values().map(|d| (d.id, d.name.clone()));
        match find("device", asked, devices) {
            Ok(device) => Ok(GuardId::Device(device)),
            Err(_) => self.driver(asked).map(GuardId::Driver),
        }
    }

    fn rolls(&self, asked: &str) -> Result<Rolls, Wrong> {
        let trains = self.layout.trains.values().map(|t| (t.id, t.name.clone()));
        if let Ok(train) = find("train", asked, trains) {
            return Ok(Rolls::Train(train));
        }
        let vehicles = self.layout.vehicles.values().map(|v| (v.id, v.name.clone()));
        find("vehicle", asked, vehicles).map(Rolls::Vehicle)
    }

    /// 0 for the block before the gap, 1 for that after it.
    fn side(&self, asked: &str) -> Result<usize, Wrong> {
        let blocks = &self.hunt.reach.blocks;
        match asked.trim() {
            "before" => Ok(0),
            "after" => Ok(1),
            asked if blocks[0] == blocks[1] && asked == blocks[0] => Err(Wrong(format!(
                "block \"{}\": both blocks at this gap have this name. Say before or after, along the run of the cut",
                shown(asked)
            ))),
            asked => blocks.iter().position(|name| name == asked).ok_or_else(|| {
                let [before, after] = blocks.each_ref().map(|name| shown(name));
                Wrong(format!(
                    "block \"{}\" is not at this gap. There are {before} (before) and {after} (after)",
                    shown(asked)
                ))
            }),
        }
    }

    fn throttles(&self, levels: &Levels) -> Result<Throttles, Wrong> {
        let mut throttles = Throttles::new();
        for (name, throttle) in levels {
            let (direction, throttle) = match *throttle {
                Throttle::Forward(level) => (Direction::Forward, level),
                Throttle::Reverse(level) => (Direction::Reverse, level),
                Throttle::Stopped => (Direction::Stopped, 0.0),
                Throttle::On => (Direction::On, 0.0),
                Throttle::Off => (Direction::Off, 0.0),
            };
            if !(0.0..=1.0).contains(&throttle) {
                return Err(Wrong(format!(
                    "throttle of \"{}\": {throttle} is not from 0 to 1",
                    shown(name)
                )));
            }
            let id = self.driver(name)?;
            if throttles.insert(id, Setting { direction, throttle }).is_some() {
                return Err(Wrong(format!("driver \"{}\" is named twice", shown(name))));
            }
        }
        Ok(throttles)
    }

    fn happened(&self, saw: &Happened, empty: bool) -> Result<Answer, Wrong> {
        Ok(match saw {
            Happened::Nothing => Answer::Nothing,
            Happened::Stalls => Answer::Stalls,
            Happened::Backwards => Answer::Backwards,
            Happened::ChangesSpeed => Answer::ChangesSpeed,
            Happened::Trips(names) => {
                let mut guards =
                    names.iter().map(|n| self.guard(n)).collect::<Result<Vec<_>, _>>()?;
                guards.sort_unstable();
                guards.dedup();
                Answer::Trips { guards, empty }
            }
        })
    }

    fn trial(
        &self,
        (what, along, motion): (Rolls, bool, Motion),
        (rear_first, speed_mm_s): (bool, Option<f64>),
        throttles: &Levels,
    ) -> Result<Question, Wrong> {
        if speed_mm_s.is_some_and(|speed| !(speed.is_finite() && speed > 0.0)) {
            return Err(Wrong("speed_mm_s is not above 0".into()));
        }
        let throttles = self.throttles(throttles)?;
        Ok(Question::Trial { rolls: what, along, rear_first, speed_mm_s, motion, throttles })
    }

    fn any_rolls(&self) -> Rolls {
        self.hunt.reach.rolls[0]
    }

    fn observation(&self, line: &Line) -> Result<Observation, Wrong> {
        let spots = &self.hunt.reach.spots;
        let once = |question, answer| Observation { question, answer, times: 1, of: 1 };
        let observation = match line {
            Line::Train { what, to, rear_first, speed_mm_s, throttles, saw, times, of } => {
                let along = self.side(to)? == 1;
                let way = (self.rolls(what)?, along, Motion::Moving);
                let question = self.trial(way, (*rear_first, *speed_mm_s), throttles)?;
                let answer = self.happened(saw, false)?;
                Observation { question, answer, times: *times, of: *of }
            }
            Line::Standing { what, throttles, saw, times, of } => {
                let way = (self.rolls(what)?, true, Motion::Standing);
                let question = self.trial(way, (false, None), throttles)?;
                let answer = self.happened(saw, false)?;
                Observation { question, answer, times: *times, of: *of }
            }
            Line::NoTrain { throttles, saw, times, of } => {
                let way = (self.any_rolls(), true, Motion::NoTrain);
                let question = self.trial(way, (false, None), throttles)?;
                let answer = self.happened(saw, true)?;
                Observation { question, answer, times: *times, of: *of }
            }
            Line::WhichWay { block, throttles, saw } => {
                let (side, throttles) = (self.side(block)?, self.throttles(throttles)?);
                let heads = match saw {
                    Went::Towards => Heads::Towards,
                    Went::Away => Heads::Away,
                    Went::Nowhere => Heads::Nowhere,
                };
                once(Question::WhichWay { side, throttles }, Answer::Goes(heads))
            }
            Line::Volts { block, throttles, saw } => {
                if !saw.is_finite() || saw.abs() > 1e4 {
                    return Err(Wrong(format!("{saw} is no voltage: write volts as a number")));
                }
                let [left, right] = spots[self.side(block)?];
                let throttles = self.throttles(throttles)?;
                let question = Question::Volts { from: right, to: left, throttles };
                once(question, Answer::Volts(saw.round() as i32))
            }
            Line::OhmsAtZero { block, saw } => {
                let [from, to] = spots[self.side(block)?];
                once(Question::OhmsAtZero { from, to }, resistance(*saw))
            }
            Line::OhmsAcross { rail, saw } => {
                let rail = usize::from(*rail == Rail::Right);
                let question = Question::OhmsLifted { from: spots[0][rail], to: spots[1][rail] };
                once(question, resistance(*saw))
            }
            Line::Negatives { supplies: (a, b), saw } => {
                let all = self.layout.supplies.values().map(|s| (s.id, s.name.clone()));
                let (a, b) = (find("supply", a, all.clone())?, find("supply", b, all)?);
                if a == b {
                    return Err(Wrong("supplies: name two different ones".into()));
                }
                once(Question::Negatives(a.min(b), a.max(b)), resistance(*saw))
            }
            Line::Looked { at, saw } => {
                let of = self.hunt.supposed().iter().find(|s| s.fault.key() == at.trim());
                let of = of.ok_or_else(|| {
                    Wrong(format!(
                        "\"{}\" is no fault of the list of suspects. Take a name that stands there in brackets",
                        shown(at)
                    ))
                })?;
                once(Question::LookAt(of.fault.key()), Answer::Seen(*saw))
            }
        };
        if observation.of == 0 || observation.times > observation.of {
            return Err(Wrong(format!(
                "{} times of {} cannot be: of says how many trials there were, times in how many of them it happened",
                observation.times, observation.of
            )));
        }
        Ok(observation)
    }
}

fn resistance(saw: Resistance) -> Answer {
    Answer::Ohms(match saw {
        Resistance::Joined => Ohms::Joined,
        Resistance::Some => Ohms::Some,
        Resistance::Thousands => Ohms::Thousands,
        Resistance::Open => Ohms::Open,
    })
}

/// Observations with the things of a layout in place of their names.
///
/// # Errors
/// A name means nothing, or several things; a number cannot be. With the number of the observation, from 1.
pub fn observations(layout: &Layout, hunt: &Hunt, saw: &Saw) -> Result<Vec<Observation>, Wrong> {
    let book = Book { layout, hunt };
    if saw.saw.len() > MOST_OBSERVATIONS {
        return Err(Wrong(format!(
            "{} observations are more than {MOST_OBSERVATIONS}. Count equal ones with times and of",
            saw.saw.len()
        )));
    }
    let lines = saw.saw.iter().enumerate();
    lines
        .map(|(at, line)| {
            let wrong = |why: Wrong| Wrong(format!("observation {}: {}", at + 1, why.0));
            book.observation(line).map_err(wrong)
        })
        .collect()
}
