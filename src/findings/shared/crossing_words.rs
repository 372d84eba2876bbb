//! Phrases about what a train does over a gap, for the kinds of the crossing family.

use super::crossing::{Change, Evidence};
use crate::drive;
use crate::findings::units::{amps, ms, percent};
use crate::findings::words::{and, capital, gap_name};
use crate::findings::{
    Class, PassReport, Relation, SetWord, Situation, StateWord, Trips, Verdict, Words,
};
use crate::layout::{DriverId, FeedId, Senses, TripKind};
use crate::signal::Longest;
use crate::study::types::{Current, OverPhases};

impl Words<'_> {
    /// Where the finding is: "Gap c1, West | East", or "3 gaps (c1, c2 and c5)", or "12 gaps".
    pub(crate) fn places(&self) -> String {
        let cuts = self.finding.cuts();
        match cuts.len() {
            0 | 1 => self.gap(),
            2..=4 => {
                let names: Vec<String> = cuts.iter().map(|&id| self.cut_name(id)).collect();
                and(&names)
            }
            n => format!("{n} gaps"),
        }
    }

    /// Every gap by name, where [`Words::places`] only counts them.
    pub(crate) fn every_place(&self) -> String {
        let cuts = self.finding.cuts();
        if cuts.len() < 5 {
            return String::new();
        }
        let names: Vec<String> = cuts.iter().map(|&id| self.cut_name(id)).collect();
        format!("The gaps are {}.", and(&names))
    }

    fn cut_name(&self, id: crate::layout::CutId) -> String {
        let cut = self.report.cuts.iter().find(|cut| cut.id == id);
        cut.map_or_else(|| gap_name(&id.to_string()), |cut| gap_name(&cut.name))
    }

    /// "the Heron diesel shorts at 17 A".
    pub(crate) fn outcome(&self, e: &Evidence) -> String {
        let vehicle = self.mover(e.situation.train, e.situation.vehicle);
        let verb = match e.situation.verdict {
            Verdict::Caution if !self.chops(&e.situation).is_empty() => {
                "crawls while a driver chops"
            }
            verdict => verb(verdict),
        };
        format!("{vehicle} {verb} at {}", amps(e.situation.peak_a()))
    }

    /// "the wheels of the Heron diesel join both rails".
    pub(crate) fn wheels(&self, e: &Evidence) -> String {
        let vehicle = self.mover(e.situation.train, e.situation.vehicle);
        let rails = match e.situation.joins.len() {
            2.. => "both rails",
            1 => "one rail",
            _ => "no rail",
        };
        format!("the wheels of {vehicle} join {rails}")
    }

    /// What opposed drivers do to their supplies once a vehicle joins the rails.
    pub(crate) fn how_joined(&self) -> &'static str {
        let supplies: Vec<_> = self
            .finding
            .drivers
            .iter()
            .filter_map(|id| self.layout.supplies.get(&self.layout.drivers.get(id)?.supply))
            .collect();
        let [a, b] = supplies[..] else { return "close a circuit through the drivers" };
        let tied = |s: &crate::layout::Supply| s.negative.as_ref().map(|n| n.name.clone());
        if a.id == b.id && a.split {
            "put the two halves of the supply in series through both drivers"
        } else if a.id == b.id || (tied(a).is_some() && tied(a) == tied(b)) {
            "lead from a positive pole to the negative one that both drivers share"
        } else {
            "put the two supplies in series through the drivers"
        }
    }

    /// Boards that idle although their supply is off, because the rails power them through their body diodes.
    pub(crate) fn woken(&self, situation: &Situation) -> Vec<DriverId> {
        let wakes = |id: &DriverId| {
            let mut states = situation.states.iter().filter_map(|joint| joint.drivers.get(id));
            states.any(|&state| state != StateWord::HighImpedance)
        };
        let off = situation.settings.iter().filter(|(_, set)| set.state == SetWord::Unpowered);
        off.map(|(&id, _)| id).filter(wakes).collect()
    }

    /// What a driver does in a state, as a verb: "brakes low".
    pub(crate) fn does(&self, id: DriverId, state: StateWord) -> String {
        let does = self
            .layout
            .drivers
            .get(&id)
            .map_or("idles", |driver| drive::of(&driver.drive).does(SetWord::Stopped, state));
        format!("{} {does}", self.driver(id))
    }

    /// "feeder f1 (West)", "feeders f1 and f2".
    pub(crate) fn feeders(&self, feeds: &[FeedId]) -> String {
        let ids: Vec<String> = feeds.iter().map(ToString::to_string).collect();
        match ids.len() {
            1 => format!("feeder {}", ids[0]),
            _ => format!("feeders {}", and(&ids)),
        }
    }

    /// One line of advice for each change that a builder can make; proofs that are no advice are left out.
    pub(crate) fn advised(&self, changes: &[Change]) -> Vec<String> {
        let mut lines: Vec<String> = Vec::new();
        let coasts: Vec<DriverId> = changes
            .iter()
            .filter_map(|change| if let Change::Coasts(id) = change { Some(*id) } else { None })
            .collect();
        if !coasts.is_empty() {
            lines.push(format!(
                "Set the idle state of {} to high-impedance (on many chips: coast instead of brake), unless inverted \
                 control lines would then run the throttle backwards.",
                self.names(&coasts)
            ));
        }
        for change in changes {
            match change {
                Change::WiresExchanged(feeds) => lines.push(self.exchanged(change, feeds)),
                Change::PhaseExchanged(id) => lines.push(format!(
                    "Exchange the two wires of the output of {}, or set its phase the other way.",
                    self.driver(*id)
                )),
                Change::NoDelay(id) => lines.push(format!(
                    "Take away what delays the signal to {}: feed it from the station directly, or use boosters of one \
                     kind.",
                    self.driver(*id)
                )),
                Change::SuppliesDivided => lines.push("Give each driver a supply of its own.".into()),
                Change::TiesOpened => lines.push(
                    "Separate the negatives of the supplies, or give each driver an isolated supply of its own. Never \
                     lift a protective earth to do so."
                        .into(),
                ),
                // Advice on these depends on the finding.
                Change::Coasts(_)
                | Change::TakenOff(_)
                | Change::StaysAsleep(_)
                | Change::OneVoltage
                | Change::OneSignal
                | Change::Silenced(_) => {}
            }
        }
        lines
    }

    /// The advice to exchange the wires of feeds. Of a half-bridge only the direction can be exchanged.
    pub(crate) fn exchanged(&self, change: &Change, feeds: &[FeedId]) -> String {
        let feeders = self.feeders(feeds);
        if change.edits(self.layout).is_some() {
            return format!("Exchange the two wires of {feeders}.");
        }
        format!(
            "Turn round the direction switch behind {feeders}; leave the wires, for one of them goes to the common rail."
        )
    }

    /// Further things worth knowing: what acts, which wheels it takes, who gets away with it, what meters show.
    pub(crate) fn more(&self, e: &Evidence) -> String {
        let situation = &e.situation;
        let mut parts = vec![self.every_place()];
        if e.one_rail {
            parts.push(
                "Because the negatives are tied or a supply is shared, one bridged rail is enough."
                    .into(),
            );
        }
        parts.push(self.trips(situation));
        parts.push(self.chops(situation));
        parts.push(self.which_wheels(&e.by_join, situation));
        if e.relation == Some(Relation::Agree) {
            parts.push(self.gets_away());
        }
        // A rule is about other settings than those that a meter would show.
        if self.finding.class != Class::Rule {
            parts.push(self.meters());
        }
        parts.push(self.bounds(situation));
        parts.retain(|part| !part.is_empty());
        parts.join(" ")
    }

    /// How far the figures hold.
    fn bounds(&self, situation: &Situation) -> String {
        let mut parts: Vec<String> = Vec::new();
        if let (Some(longest), Some(after)) =
            (situation.longest_s.seconds(), situation.resistive_after_s)
            && longest < after
        {
            parts.push(format!(
                "The inductance of wires and rails holds the current back for about {}, longer than the conflict lasts: \
                 the peak is an upper bound.",
                ms(after)
            ));
        }
        if !situation.held.is_empty() {
            parts.push(format!(
                "So many drivers meet there that {} were looked at in their drive state only.",
                self.names(&situation.held)
            ));
        }
        if let Some([least, most]) = situation.share_range {
            parts.push(format!(
                "Both run from one clock in a phase that is not known: the share is between {} and {}.",
                percent(least),
                percent(most)
            ));
        }
        if situation.verdict == Verdict::Caution
            && let Some(margin) = situation.margin
        {
            if margin >= 0.0 {
                parts.push(format!("Only {} is left to the threshold.", percent(margin)));
            } else if self.chops(situation).is_empty() {
                parts.push(
                    "The peak is beyond the trip's threshold; only its shortness saves it.".into(),
                );
            }
        }
        parts.join(" ")
    }

    fn which_wheels(&self, by_join: &[Option<Verdict>; 3], situation: &Situation) -> String {
        let bad = |v: Option<Verdict>| v.is_some_and(|v| v.is_fault() && v != Verdict::Stall);
        if !bad(by_join[0]) || bad(by_join[1]) || bad(by_join[2]) {
            return String::new();
        }
        let Some(pass) = self.pass(situation) else { return String::new() };
        let single = pass.wheels.iter().all(|side| side.iter().all(|&n| n == 1));
        if single {
            return "All its wheels must touch for this: with one of them on dirt it does not short."
                .into();
        }
        let mut text =
            "It takes a wheel on each rail on each side of the gap; this vehicle has wheels to spare."
                .to_owned();
        // Vehicles that need every wheel: those with one on each rail on each side.
        let passes = self.cut().into_iter().flat_map(|cut| {
            if cut.passes_agree.is_empty() { &cut.passes_now } else { &cut.passes_agree }
        });
        let needing: Vec<String> = passes
            .filter(|p| p.wheels.iter().all(|side| side.len() > 1 && side.iter().all(|&n| n == 1)))
            .map(|p| self.mover(p.train, p.vehicle))
            .collect();
        if !needing.is_empty() {
            text.push_str(&format!(
                " {} need{} every wheel on clean rail for it.",
                capital(&and(&needing)),
                if needing.len() == 1 { "s" } else { "" }
            ));
        }
        text
    }

    fn pass(&self, situation: &Situation) -> Option<&PassReport> {
        let cut = self.cut()?;
        cut.passes_agree.iter().chain(&cut.passes_now).find(|p| {
            p.train == situation.train && (p.train.is_some() || p.vehicle == situation.vehicle)
        })
    }

    /// Vehicles that get away with it at speed, at the worst settings or else as set now.
    fn gets_away(&self) -> String {
        let Some(cut) = self.cut() else { return String::new() };
        let worst = self.getting_away(&cut.passes_agree);
        if !worst.is_empty() {
            return format!("{}.", capital(&worst.join("; ")));
        }
        let now = self.getting_away(&cut.passes_now);
        if now.is_empty() { String::new() } else { format!("As set now {}.", now.join("; ")) }
    }

    fn getting_away(&self, passes: &[PassReport]) -> Vec<String> {
        passes
            .iter()
            .filter(|p| p.standing.trips != Trips::No && p.fast.trips != Trips::Yes)
            .filter_map(|p| {
                let how = match p.fast.trips {
                    Trips::No => "never trips it",
                    Trips::Sometimes | Trips::Yes => "does not trip it in every pass",
                };
                let (speed, time) = (p.fast.speed_mm_s?, p.fast.time_s?);
                Some(format!(
                    "{} at {speed:.0} mm/s is over the gap for only {} and {how}",
                    self.mover(p.train, p.vehicle),
                    ms(time)
                ))
            })
            .collect()
    }

    /// "gaps c1 and c2".
    pub(crate) fn all_gaps(&self) -> String {
        let cuts = self.finding.cuts();
        let names: Vec<String> = cuts
            .iter()
            .map(|id| {
                let cut = self.report.cuts.iter().find(|cut| cut.id == *id);
                cut.map_or_else(|| id.to_string(), |cut| cut.name.clone())
            })
            .collect();
        format!("{} {}", if names.len() == 1 { "gap" } else { "gaps" }, and(&names))
    }

    /// What meters show at the settings now in the output lead of the driver that carries most, and what its trip sees where
    /// it senses.
    fn meters(&self) -> String {
        let Some(now) = self.cut().map(|c| &c.now).filter(|now| now.share > 0.0) else {
            return String::new();
        };
        let Some((driver, current)) = self.largest(now) else { return String::new() };
        let mut text = format!(
            "As set now they conflict for {} of the time: in the output lead of {} the peak is {}, an averaging meter \
             shows {} and a true-RMS meter {}.",
            percent(now.share),
            self.driver(driver),
            amps(current.peak),
            over_phases(current.mean, |range| range.mean, current),
            over_phases(current.rms, |range| range.rms, current)
        );
        let trip = self.layout.drivers.get(&driver).and_then(|d| d.trip.as_ref());
        let sensed = now.drivers.iter().find(|d| d.id == driver).and_then(|d| d.sensed.as_ref());
        if let (Some(trip), Some(sensed)) = (trip, sensed) {
            text.push_str(&format!(
                " Its trip senses {} and sees a peak of {} there.",
                senses_words(trip.senses),
                amps(sensed.peak)
            ));
        }
        text
    }

    /// What drivers do that limit their current cycle by cycle and would carry more there.
    pub(crate) fn chops(&self, situation: &Situation) -> String {
        let mut text = String::new();
        for driver in &situation.drivers {
            let trip = self.layout.drivers.get(&driver.id).and_then(|d| d.trip.as_ref());
            let Some(trip) = trip.filter(|trip| trip.kind == TripKind::Chopping) else { continue };
            if driver.sensed.is_some_and(|sensed| sensed.peak > trip.amps.value) {
                text.push_str(&format!(
                    "{} limits its current to {} cycle by cycle and never trips: it chops as long as the wheels stand \
                     there, and the train crawls. The currents given are those without that limit: upper bounds. ",
                    capital(&self.driver(driver.id)),
                    amps(trip.amps.value),
                ));
            }
        }
        text.trim_end().to_owned()
    }
}

/// Where a trip senses, in words.
pub(crate) fn senses_words(senses: Senses) -> &'static str {
    match senses {
        Senses::SupplyLead => "in the supply lead",
        Senses::GroundReturn => "in the ground return",
        Senses::LegP => "in leg P",
        Senses::LegM => "in leg M",
        Senses::LargerLeg => "in the larger of both legs",
        Senses::HighSwitchP => "at the high switch of P",
        Senses::LowSwitchP => "at the low switch of P",
        Senses::HighSwitchM => "at the high switch of M",
        Senses::LowSwitchM => "at the low switch of M",
    }
}

pub(crate) fn verb(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Short => "shorts",
        Verdict::Overload => "overloads it",
        Verdict::BackFeed => "feeds back",
        Verdict::Stall => "stalls",
        Verdict::NotKnown => "may short",
        Verdict::Caution => "comes close to a short",
        Verdict::Clear => "passes",
    }
}

/// How long a conflict lasts without a break.
pub(crate) fn lasting(longest: Longest) -> String {
    match longest {
        Longest::Value(seconds) => format!("up to {}", ms(seconds)),
        Longest::AtMost(seconds) => format!("no longer than {}", ms(seconds)),
        Longest::Endless => "as long as it stands there".into(),
        Longest::NotComputed(_) => "a time that was not computed".into(),
    }
}

/// The magnitude of a figure; from least to largest where it depends on a phase that nobody knows.
fn over_phases(figure: f64, range: fn(&OverPhases) -> [f64; 2], current: &Current) -> String {
    let Some([least, most]) = current.over_phases.as_ref().map(range) else {
        return amps(figure.abs());
    };
    let (least, most) = match (least < 0.0, most < 0.0) {
        (true, true) => (-most, -least),
        (true, false) => (0.0, most.max(-least)),
        (false, _) => (least, most),
    };
    let [from, to] = [amps(least), amps(most)];
    if from == to { from } else { format!("{from} to {to}, by the phase of the two clocks") }
}
