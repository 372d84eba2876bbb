//! `reversers-race`: auto-reversers that do not do their work at a cut. One on each side of it both act on one fault; one
//! that the fault's current does not move, or that comes later than another guard, does not end it.

use super::shared::at_cut;
use super::units::{amps, ms};
use super::words::capital;
use super::{
    Caution, Class, Cure, Evident, Found, GuardId, Kind, Near, Situation, Text, Trips, Verdict,
    View, Words,
};
use crate::drive;
use crate::layout::DeviceId;
use crate::straddle::case::Wiring;
use crate::straddle::chain::{Acts, Root};
use crate::straddle::ix::DeviceIx;
use crate::study::cut::Evaluated;
use crate::study::cut::{Case, Settings};
use crate::study::judge::{Bench, Judged};
use crate::study::situation::Known;

/// Auto-reversers that do not do their work at a cut.
#[derive(Debug, Clone, PartialEq)]
pub struct Evidence {
    /// The situation.
    pub situation: Situation,
    /// What fails.
    pub how: Reversing,
}

impl Evident for Evidence {
    fn situation(&self) -> Option<&Situation> {
        Some(&self.situation)
    }
}

/// How auto-reversers fail at a cut.
#[derive(Debug, Clone, PartialEq)]
pub enum Reversing {
    /// One on each side: both act on one fault. When each has acted, s.
    Race([(DeviceId, Option<f64>); 2]),
    /// The current of the fault does not make it act.
    Unseen {
        /// The auto-reverser.
        device: DeviceId,
        /// Its threshold, A.
        threshold_a: f64,
        /// What it carries, A.
        carried_a: f64,
    },
    /// Something above it in its chain, or beside it, is there before it.
    TooLate {
        /// The auto-reverser.
        device: DeviceId,
        /// When it would have acted, s.
        after_s: Option<f64>,
        /// What acts before it.
        before: GuardId,
        /// When that acts, s.
        before_s: Option<f64>,
    },
}

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    let mut found = Vec::new();
    for (&cut, known) in &view.known {
        let case = &known.case;
        let [a, b] = [0, 1].map(|side| reversers(case, side));
        let only = |these: &[DeviceIx], those: &[DeviceIx]| -> Option<DeviceIx> {
            these.iter().copied().find(|at| !those.contains(at))
        };
        let beside = [only(&a, &b), only(&b, &a)];
        if beside == [None; 2] {
            continue;
        }
        let Some((evaluated, acted)) = conflict(case, beside) else { continue };
        let judged = &evaluated.judged;
        let Some(how) = failing(known, judged, beside) else { continue };
        let races = matches!(how, Reversing::Race(_));
        // Of two that race the sooner may win and end it: then it is their tolerances that decide.
        let wins = races && judged.first.is_empty() && judged.first_devices.len() == 1;
        let verdict = if wins { Verdict::Caution } else { judged.verdict.max(Verdict::Caution) };
        let mut situation = view.situation(known, &evaluated);
        situation.exchanged = acted.iter().map(|&at| known.around.names.devices[at]).collect();
        let evidence = Evidence { situation, how };
        found.push(at_cut(view, cut, Kind::ReversersRace, Class::Fault, verdict, evidence));
    }
    found
}

/// The auto-reversers on the way to a side of a cut, the nearest to the rails first.
fn reversers(case: &Case, side: usize) -> Vec<DeviceIx> {
    let mut found = Vec::new();
    for net in case.rails[side].into_iter().flatten() {
        let legs = case.wiring.drivers.iter().flat_map(|d| d.legs.iter().flatten());
        for (device, _) in legs.filter(|leg| leg.net == net).filter_map(|leg| leg.through) {
            for at in upwards(&case.wiring, device) {
                let reverses = matches!(case.wiring.devices[at].trip, Some((_, Acts::Exchanges)));
                if reverses && !found.contains(&at) {
                    found.push(at);
                }
            }
        }
    }
    found
}

/// A device and those before it, up to the driver.
pub(super) fn upwards(wiring: &Wiring, device: DeviceIx) -> impl Iterator<Item = DeviceIx> + '_ {
    std::iter::successors(Some(device), |&at| match wiring.devices[at].from {
        Root::Device(before) => Some(before),
        Root::Driver(_) => None,
    })
}

/// The worst conflict at the cut with both sides driven, an auto-reverser standing as now or the other way: what a train
/// meets that comes from the end at which it does not match. With the devices that stand the other way.
fn conflict(case: &Case, beside: [Option<DeviceIx>; 2]) -> Option<(Evaluated, Vec<DeviceIx>)> {
    let mut settings: Settings = case.controls.iter().map(|control| control.now).collect();
    for at in case.sides.into_iter().flatten() {
        let word = drive::reachable(&case.controls[at].driver).iter().find(|w| !w.is_dead())?;
        settings[at] = (*word, 1.0);
    }
    let powered = case.powered_for(&settings);
    let scenario = case.scenario(&settings, &powered);
    let mut bench = Bench::new(&case.wiring);
    let mut worst: Option<(Evaluated, Vec<DeviceIx>)> = None;
    let turned = beside.into_iter().flatten().take(1).collect::<Vec<_>>();
    for acted in [Vec::new(), turned] {
        let groups = case.stands.pairs().filter(|(_, stand)| !stand.single_wheel);
        for (at, stand) in groups {
            let judged = bench.judge_as_acted(&scenario, &acted, Some(stand));
            let peak = |j: &Judged| j.worst_joint.map_or(0.0, |(_, amps)| amps);
            if peak(&judged) > worst.as_ref().map_or(0.0, |(old, _)| peak(&old.judged)) {
                let evaluated = Evaluated::joined(&settings, scenario.clone(), Some(at), judged);
                worst = Some((evaluated, acted.clone()));
            }
        }
    }
    worst
}

fn failing(known: &Known, judged: &Judged, beside: [Option<DeviceIx>; 2]) -> Option<Reversing> {
    let names = &known.around.names;
    let acts = |at: DeviceIx| judged.devices[at].trips != Trips::No;
    let when = |at: DeviceIx| judged.devices[at].trip_after_s;
    if let [Some(a), Some(b)] = beside
        && acts(a)
        && acts(b)
    {
        return Some(Reversing::Race([a, b].map(|at| (names.devices[at], when(at)))));
    }
    // Where one of two sees the fault, it is the one that must end it.
    let at = beside.into_iter().flatten().max_by_key(|&at| acts(at))?;
    let device = names.devices[at];
    if !acts(at) {
        let (trip, _) = known.case.wiring.devices[at].trip.as_ref()?;
        return Some(Reversing::Unseen {
            device,
            threshold_a: known.case.wiring.values[trip.amps].nominal,
            carried_a: judged.devices[at].figures.peak,
        });
    }
    let others = judged
        .devices
        .pairs()
        .filter(|(other, d)| *other != at && d.trips != Trips::No)
        .map(|(other, d)| (GuardId::Device(names.devices[other]), d.trip_after_s))
        .chain(
            judged
                .drivers
                .iter()
                .zip(&names.drivers)
                .filter(|(d, _)| d.trips != Trips::No)
                .map(|(d, &id)| (GuardId::Driver(id), d.trip_after_s)),
        );
    let seconds = |s: Option<f64>| s.unwrap_or(f64::INFINITY);
    let (before, before_s) = others.min_by(|a, b| seconds(a.1).total_cmp(&seconds(b.1)))?;
    let is_first = judged.first.is_empty() && judged.first_devices == [at];
    (!is_first).then(|| Reversing::TooLate { device, after_s: when(at), before, before_s })
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    let Evidence { situation, how } = e;
    let gap = w.gap();
    let peak = amps(situation.peak_a());
    let seconds = |s: &Option<f64>| s.map_or("at some time".into(), |s| format!("after {}", ms(s)));
    match how {
        Reversing::Race([(a, a_s), (b, b_s)]) => Text {
            says: format!(
                "{gap}: {} and {} race: both turn on one fault",
                w.device(*a),
                w.device(*b)
            ),
            why: format!(
                "When the polarity does not match, the wheels close a short of {peak} through both. {} turns {}, {} \
                 {}. If both turn, the polarity is as wrong as before. {}",
                capital(&w.device(*a)),
                seconds(a_s),
                w.device(*b),
                seconds(b_s),
                w.trips(situation)
            ),
            advice: vec![
                "Have one auto-reverser at each gap: feed the other side straight from the driver, or put a block \
                 without one between the two sections."
                    .into(),
            ], more: String::new(), cautions: vec![Caution::Guard, Caution::Rewire], },
        Reversing::Unseen { device, threshold_a, carried_a } => Text {
            says: format!(
                "{gap}: {} does not see the fault: {} where it waits for {}",
                w.device(*device),
                amps(*carried_a),
                amps(*threshold_a)
            ),
            why: format!(
                "When the polarity does not match, only {} flow through it, so it does not turn. {}",
                amps(*carried_a),
                w.trips(situation)
            ),
            advice: vec![
                format!("Set {} to act well below that current.", w.device(*device)),
                "Or use thicker or shorter feeders and clean contacts, so that the fault draws more.".into(),
            ], more: String::new(), cautions: vec![Caution::Guard, Caution::Rewire], },
        Reversing::TooLate { device, after_s, before, before_s } => Text {
            says: format!(
                "{gap}: {} acts before {} has turned",
                w.guard(*before),
                w.device(*device)
            ),
            why: format!(
                "When the polarity does not match, the wheels close a short of {peak}. {} would turn {}; {} acts {}. \
                 The train stops on the gap.",
                capital(&w.device(*device)),
                seconds(after_s),
                w.guard(*before),
                seconds(before_s),
            ),
            advice: vec![format!(
                "Make {} the quickest and lowest of the chain, or slow {} down.",
                w.device(*device),
                w.guard(*before)
            )], more: String::new(), cautions: vec![Caution::Guard, Caution::Rewire], },
    }
}

pub fn cures(_: &Evidence, _: &Near) -> Vec<Cure> {
    Vec::new()
}

#[cfg(test)]
pub(super) mod tests {
    use crate::findings::pair::Pair;
    use crate::findings::yards::*;
    use crate::findings::{Class, Verdict};
    use crate::layout::{Edit, Feed, FeedId};

    pub fn pairs() -> Vec<Pair> {
        // Both sections turn by themselves. The wrong polarity: source, two switches, and two rails abreast, each of two
        // feeders, two devices and the wheels: 14 / (0.05 + 0.12 + (0.7 + 0.04 + 0.02) / 2) = 14 / 0.55 A.
        let race = district(&format!(
            "{}\n{}\n{}",
            reverser(1, "d1", 2.0, 1e-5, 0),
            reverser(2, "d1", 2.0, 1e-5, 0),
            r#"(id: "f1", driver: "x2", run: "r1", at_mm: 300, p: Right, m: Left, ohm: 0.35)"#
        ));
        let straight = Feed { driver: D1.into(), ..race.feeds[&FeedId(1)].clone() };
        let twin = edited(&race, Edit::Replace(straight.into()));
        vec![Pair {
            with: race,
            twin,
            class: Class::Fault,
            verdict: Verdict::Short,
            peak_a: Some(14.0 / 0.55),
            cuts: &[1],
            blocks: 2,
            says: "Gap c1, West | East: auto-reverser x2 and auto-reverser x1 race: both turn on one fault",
        }]
    }
}
