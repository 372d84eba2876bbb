//! Questions and answers in a person's words.

use super::fault::Repair;
use super::hunt::Hunt;
use super::question::{Answer, Heads, Question, Throttles};
use crate::job::Names;
use crate::layout::{Direction, DriverId, EntityId, Setting, and, shown};
use crate::study::run::{Ohms, Rolls};
use crate::study::{GuardId, Motion};

/// "West 0.4 forward, East 0.8 forward, all others off".
fn throttles(names: Names, hunt: &Hunt, throttles: &Throttles) -> String {
    let one = |(id, set): (&DriverId, &Setting)| {
        let name = names.thing((*id).into());
        match set.direction {
            Direction::Forward => format!("{name} {} forward", set.throttle),
            Direction::Reverse => format!("{name} {} reverse", set.throttle),
            Direction::Stopped => format!("{name} stopped"),
            Direction::On => format!("{name} on"),
            Direction::Off => format!("{name} off"),
        }
    };
    let live: Vec<String> = throttles
        .iter()
        .filter(|(_, set)| set.direction != Direction::Off)
        .map(|entry| one((entry.0, entry.1)))
        .collect();
    let off = throttles.values().filter(|set| set.direction == Direction::Off).count();
    match (live.is_empty(), off) {
        (true, 0) => "drivers as they are set".into(),
        (true, _) => "everything off".into(),
        (false, 0) => live.join(", "),
        (false, off) if off + 1 == hunt.reach.drivers.len() => {
            format!("{}, all others off", live.join(", "))
        }
        (false, _) => format!("{}, the others named off", live.join(", ")),
    }
}

/// A question as an instruction, without its full stop.
pub fn question_words(names: Names, hunt: &Hunt, question: &Question) -> String {
    let block = |side: usize| shown(&hunt.reach.blocks[side]).into_owned();
    let gap = names.thing(hunt.reach.cut.into());
    let set = |of: &Throttles| throttles(names, hunt, of);
    match question {
        Question::Trial { rolls, along, rear_first, speed_mm_s, motion, throttles } => {
            let what = match rolls {
                Rolls::Vehicle(id) => names.thing((*id).into()),
                Rolls::Train(id) => names.thing((*id).into()),
            };
            let how = set(throttles);
            match motion {
                Motion::NoTrain => format!("With nothing on the track, set {how}"),
                Motion::Standing => format!("Let {what} stand on {gap}, with {how}"),
                Motion::Moving => {
                    let rear = if *rear_first { ", rear first" } else { "" };
                    let speed = speed_mm_s.map_or_else(String::new, |s| format!(" at {s} mm/s"));
                    let to = block(usize::from(*along));
                    format!("Run {what} over {gap} into {to}{rear}{speed}, with {how}")
                }
            }
        }
        Question::WhichWay { side, throttles } => {
            format!("See which way a train goes on {}, with {}", block(*side), set(throttles))
        }
        Question::Volts { from, to, throttles } => {
            let side = hunt.reach.spots.iter().position(|spots| spots.contains(from));
            let at = side.map_or_else(|| from.run.to_string(), block);
            let rail = |spot: &crate::layout::Spot| match spot.rail {
                crate::layout::Rail::Left => "left",
                crate::layout::Rail::Right => "right",
            };
            format!(
                "Measure DC volts on {at}, red lead on the {} rail and black on the {} rail (run {}), with {}",
                rail(from),
                rail(to),
                from.run,
                set(throttles)
            )
        }
        Question::OhmsAtZero { from, .. } => {
            let side = hunt.reach.spots.iter().position(|spots| spots.contains(from));
            let at = side.map_or_else(|| from.run.to_string(), block);
            format!(
                "Measure ohms across the rails of {at} with all throttles at zero, once a voltmeter shows less than 0.5 V there"
            )
        }
        Question::OhmsLifted { from, .. } => {
            let rail = if hunt.reach.spots[0][0] == *from { "left" } else { "right" };
            format!(
                "Lift all feeders of both blocks and measure ohms across the gap of the {rail} rail at {gap}"
            )
        }
        Question::Negatives(a, b) => {
            let thing = |id: EntityId| names.thing(id);
            format!(
                "Switch everything off, unplug it, and measure ohms between the negative poles of {} and {}",
                thing((*a).into()),
                thing((*b).into())
            )
        }
        Question::Look(repair) => looks(hunt, names, repair),
        Question::LookAt(key) => {
            let of = hunt.supposed().iter().find(|s| s.fault.key() == *key);
            let says = of.map_or_else(|| key.clone(), |s| s.fault.says(names));
            format!("Look whether this is so: {says}")
        }
    }
}

/// Instruction for a look for the faults that a repair ends.
fn looks(hunt: &Hunt, names: Names, repair: &Repair) -> String {
    let of = hunt.supposed().iter().filter(|s| s.repair == *repair);
    let mut says: Vec<String> = of.map(|s| s.fault.says(names)).collect();
    match says.len() {
        0 => "Look".into(),
        1 => format!("Look whether this is so: {}", says.remove(0)),
        more => {
            says.truncate(3);
            let others = if more > 3 { ", or alike" } else { "" };
            format!("Look whether one of these is so: {}{others}", says.join("; "))
        }
    }
}

/// An answer in a few words.
pub fn answer_words(names: Names, answer: &Answer) -> String {
    match answer {
        Answer::Nothing => "nothing happens".into(),
        Answer::Trips { guards, empty } => {
            let who: Vec<String> = guards
                .iter()
                .map(|guard| match guard {
                    GuardId::Driver(id) => names.thing((*id).into()),
                    GuardId::Device(id) => names.thing((*id).into()),
                    GuardId::Supply(id) => names.thing((*id).into()),
                })
                .collect();
            let what = match who.len() {
                0 => "something trips".into(),
                1 => format!("{} trips", who[0]),
                _ => format!("{} trip", and(&who)),
            };
            if *empty { format!("{what} with no train") } else { what }
        }
        Answer::Stalls => "the train stands".into(),
        Answer::Backwards => "the train is driven back".into(),
        Answer::ChangesSpeed => "the train changes its speed".into(),
        Answer::Goes(Heads::Towards) => "towards the gap".into(),
        Answer::Goes(Heads::Away) => "away from the gap".into(),
        Answer::Goes(Heads::Nowhere) => "it does not go".into(),
        Answer::Volts(volts) => format!("about {volts} V"),
        Answer::Ohms(Ohms::Joined) => "less than 1 \u{3a9}".into(),
        Answer::Ohms(Ohms::Some) => "up to 1 k\u{3a9}".into(),
        Answer::Ohms(Ohms::Thousands) => "more than 1 k\u{3a9}".into(),
        Answer::Ohms(Ohms::Open) => "open".into(),
        Answer::Seen(true) => "it is so".into(),
        Answer::Seen(false) => "it is not so".into(),
    }
}
