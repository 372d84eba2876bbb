//! What a vehicle over a gap does, in words.

use crate::findings::units::{amps, ms, percent};
use crate::findings::words::{and, capital};
use crate::findings::{
    Class, Kind, PassReport, Relation, SetWord, Situation, StateWord, Text, Trips, Verdict, Words,
};
use crate::layout::{DriverId, TripKind};
use crate::signal::Longest;
use crate::study::types::{Current, OverPhases};

impl Words<'_> {
    /// What opposed drivers do to their supplies once a vehicle joins the rails.
    fn how_joined(&self) -> &'static str {
        let supplies: Vec<_> = self
            .finding
            .drivers
            .iter()
            .filter_map(|id| self.layout.supplies.get(&self.layout.drivers.get(id)?.supply))
            .collect();
        let [a, b] = supplies[..] else { return "close a circuit through both drivers" };
        let tied = |s: &crate::layout::Supply| s.negative.as_ref().map(|n| n.name.clone());
        if a.id == b.id && a.split {
            "put the two halves of the supply in series through both drivers"
        } else if a.id == b.id || (tied(a).is_some() && tied(a) == tied(b)) {
            "lead from a positive pole to the negative one that both drivers share"
        } else {
            "put the two supplies in series through the drivers"
        }
    }

    /// Boards that brake although their supply is off, because the rails power them through their body diodes.
    fn woken(&self, situation: &Situation) -> Vec<DriverId> {
        situation
            .settings
            .iter()
            .filter(|(id, set)| {
                set.state == SetWord::Unpowered
                    && situation.states.iter().any(|joint| {
                        joint
                            .drivers
                            .get(id)
                            .is_some_and(|&state| state != StateWord::HighImpedance)
                    })
            })
            .map(|(&id, _)| id)
            .collect()
    }

    fn which_wheels(&self, by_join: &[Option<Verdict>; 3], situation: &Situation) -> String {
        let bad = |v: Option<Verdict>| v.is_some_and(|v| v.is_fault() && v != Verdict::Stall);
        if !bad(by_join[0]) {
            return String::new();
        }
        if bad(by_join[1]) || bad(by_join[2]) {
            return " One bridged rail is enough.".into();
        }
        let Some(pass) = self.pass(situation) else { return String::new() };
        let single = pass.wheels.iter().all(|side| side.iter().all(|&n| n == 1));
        if single {
            return " All its wheels must touch for this: if one of them is on dirt, it does not short.".into();
        }
        let mut text =
            " It takes a wheel on each rail on each side of the gap; this vehicle has wheels to spare.".to_owned();
        // Vehicles that need every wheel: those with one on each rail on each side.
        let needing: Vec<String> = self
            .cut()
            .into_iter()
            .flat_map(
                |cut| if cut.passes_agree.is_empty() { &cut.passes_now } else { &cut.passes_agree },
            )
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
            return format!(" {}.", capital(&worst.join("; ")));
        }
        let now = self.getting_away(&cut.passes_now);
        if now.is_empty() { String::new() } else { format!(" As set now {}.", now.join("; ")) }
    }

    fn getting_away(&self, passes: &[PassReport]) -> Vec<String> {
        passes
            .iter()
            .filter(|p| p.standing.trips != Trips::No && p.fast.trips != Trips::Yes)
            .filter_map(|p| {
                let how = match p.fast.trips {
                    Trips::No => "never trips it",
                    _ => "does not trip it in every pass",
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
        let names: Vec<String> = self
            .finding
            .cuts()
            .iter()
            .map(|id| {
                let cut = self.report.cuts.iter().find(|cut| cut.id == *id);
                cut.map_or_else(|| id.to_string(), |cut| cut.name.clone())
            })
            .collect();
        format!("{} {}", if names.len() == 1 { "gap" } else { "gaps" }, and(&names))
    }

    /// What a meter shows at the settings now.
    fn meters(&self) -> String {
        let Some(now) = self.cut().map(|c| &c.now) else { return String::new() };
        if now.share <= 0.0 {
            return String::new();
        }
        let Some((driver, current)) = self.largest(now) else { return String::new() };
        let figures = now.drivers.iter().find(|d| d.id == driver);
        let sees = figures
            .and_then(|d| d.sensed.as_ref())
            .map_or(String::new(), |s| format!("its trip sees {}", amps(s.peak)));
        let mut parts = vec![
            format!("an averaging meter shows {}", over_phases(current.mean, |o| o.mean, current)),
            format!("a true-RMS meter {}", over_phases(current.rms, |o| o.rms, current)),
        ];
        if !sees.is_empty() {
            parts.insert(0, sees);
        }
        format!(
            " As set now they conflict for {} of the time: in the lead of {} {}.",
            percent(now.share),
            self.driver(driver),
            and(&parts)
        )
    }

    /// What drivers do that limit their current cycle by cycle and would carry more there.
    fn chops(&self, situation: &Situation) -> String {
        let mut text = String::new();
        for driver in &situation.drivers {
            let trip = self.layout.drivers.get(&driver.id).and_then(|d| d.trip.as_ref());
            let Some(trip) = trip.filter(|trip| trip.kind == TripKind::Chopping) else { continue };
            if driver.sensed.is_some_and(|sensed| sensed.peak > trip.amps.value) {
                text.push_str(&format!(
                    " {} limits its current to {} cycle by cycle and never trips: it chops as long as the wheels stand \
                     there, and the train crawls. The currents given are those without that limit: upper bounds.",
                    capital(&self.driver(driver.id)),
                    amps(trip.amps.value),
                ));
            }
        }
        text
    }

    pub(crate) fn crossing(
        &self,
        situation: &Situation,
        relation: Option<Relation>,
        now: bool,
        by_join: &[Option<Verdict>; 3],
        idles: &[(DriverId, StateWord)],
    ) -> Text {
        let gap = self.gap();
        let peak = amps(situation.peak_a());
        let chops = self.chops(situation);
        let verb = match situation.verdict {
            Verdict::Caution if !chops.is_empty() => "crawls while a driver chops",
            verdict => verb(verdict),
        };
        let vehicle = self.mover(situation.train, situation.vehicle);
        let alone = self.finding.drivers.len() < 2;
        let transfer = self.finding.kind == Kind::MixedDrive && self.finding.class == Class::Rule;
        let what = match self.finding.kind {
            Kind::OpposedPolarity if alone => {
                let opposed = if now { "are now" } else { "can be" };
                format!(
                    "{gap}: the two sides, fed by one driver, {opposed} the wrong way round to each other; {vehicle} \
                     then {verb} at {peak}"
                )
            }
            Kind::OpposedPolarity if now => {
                format!(
                    "{gap}: the two sides are set against each other now; {vehicle} {verb} at {peak}"
                )
            }
            Kind::OpposedPolarity => format!(
                "{gap}: directions must match before crossing, or {vehicle} {verb} at {peak}"
            ),
            Kind::SwappedFeed if alone => format!(
                "{gap}: one driver feeds both sides, and one of its feeds is swapped; {vehicle} {verb} at {peak}"
            ),
            Kind::SwappedFeed => format!(
                "{gap}: with both throttles the same way the rails oppose; one feed is swapped; {vehicle} {verb} at {peak}"
            ),
            Kind::SectionTooShort => format!(
                "{gap}: {vehicle} bridges {} at once, and what it joins does not fit: it {verb} at {peak}",
                self.all_gaps()
            ),
            Kind::MixedDrive => {
                let stands = if transfer && self.finding.selectors().is_empty() {
                    " as the selectors stand now"
                } else {
                    ""
                };
                format!(
                    "{gap}: DCC on one side and DC on the other{stands}; {vehicle} {verb} at {peak}"
                )
            }
            Kind::PhaseOpposed => {
                format!("{gap}: the two boosters are out of phase; {vehicle} {verb} at {peak}")
            }
            _ if !self.woken(situation).is_empty() => {
                format!(
                    "{gap}: a board that is off wakes up and clamps what the neighbour drives; {vehicle} {verb} at {peak}"
                )
            }
            _ => format!(
                "{gap}: an idle state clamps what the neighbour drives; {vehicle} {verb} at {peak}"
            ),
        };
        let mut why = String::new();
        match self.finding.kind {
            Kind::IdleClamp if !self.woken(situation).is_empty() => why.push_str(&format!(
                "The supply of {} is off, but the wheels of {vehicle} join {} and the neighbour powers its board through \
                 the body diodes of its bridge. It wakes up and idles: it clamps its rails together, and the driving \
                 side feeds into that clamp: {peak} ({}). So it starves itself, falls asleep, and wakes again: it \
                 hiccups as long as {vehicle} stands there.",
                self.names(&self.woken(situation)),
                self.joined(situation),
                self.settings(situation),
            )),
            Kind::IdleClamp => {
                let clamps: Vec<String> = idles
                    .iter()
                    .map(|&(id, state)| format!("{} is in {}", self.driver(id), state.word()))
                    .collect();
                why.push_str(&format!(
                    "The directions agree, yet in the off part of its PWM period {}, which clamps its rails together \
                     while the other side drives. The wheels of {vehicle} join {} and the driving side feeds into \
                     that clamp: {peak} ({}), for as long as both parts overlap.",
                    if clamps.is_empty() { "one driver brakes".into() } else { and(&clamps) },
                    self.joined(situation),
                    self.settings(situation),
                ));
                let woken = self
                    .cut()
                    .and_then(|cut| cut.one_dead.as_ref())
                    .map_or(Vec::new(), |dead| self.woken(dead));
                if !woken.is_empty() {
                    why.push_str(&format!(
                        " The same happens with the supply of {} switched off: the rails power it through its body \
                         diodes, it wakes up and brakes.",
                        self.names(&woken)
                    ));
                }
            }
            Kind::OpposedPolarity => why.push_str(&format!(
                "With {} the rail that is positive on one side meets the negative one on the other. The wheels of \
                 {vehicle} join {} and {}: {peak}{}, {} of the time.",
                self.settings(situation),
                self.joined(situation),
                if alone { "join the two poles of one driver" } else { self.how_joined() },
                if alone { "" } else { " in both drivers" },
                percent(situation.share),
            )),
            Kind::SwappedFeed => why.push_str(&format!(
                "With {} a train should run on through this gap, but the feed of one block goes to the other rails \
                 than its neighbour's: what is positive on one side is negative on the other. {} flows{}.",
                self.settings(situation),
                peak,
                if alone { "" } else { " in both drivers" },
            )),
            Kind::SectionTooShort => why.push_str(&format!(
                "With {} this gap by itself is passed, but {vehicle} is long enough to stand over {} at the same \
                 time. Together its pickups then join a positive rail to a negative one: {peak}.",
                self.settings(situation),
                self.all_gaps(),
            )),
            Kind::MixedDrive => why.push_str(&format!(
                "DCC changes polarity all the time, so whatever the DC side does, it opposes for half of it: {peak}, \
                 without a break for {}.{}",
                lasting(situation.longest_s),
                if transfer { "" } else { " No setting carries a train through." },
            )),
            Kind::PhaseOpposed => why.push_str(&format!(
                "The boosters of the two blocks do not send the same polarity at the same time: {peak} for {} of the \
                 time, without a break for {}.",
                percent(situation.share),
                lasting(situation.longest_s),
            )),
            _ => {}
        }
        let trips = self.trips(situation);
        if !trips.is_empty() {
            why.push(' ');
            why.push_str(&trips);
        }
        why.push_str(&chops);
        why.push_str(&self.which_wheels(by_join, situation));
        if transfer {
            why.push_str(" In another position of the selectors both sides are of one kind.");
        }
        if relation == Some(Relation::Agree) {
            why.push_str(&self.gets_away());
        }
        // A rule is about other settings than those that a meter would show.
        if self.finding.class != Class::Rule {
            why.push_str(&self.meters());
        }
        if let (Some(longest), Some(after)) =
            (situation.longest_s.seconds(), situation.resistive_after_s)
            && longest < after
        {
            why.push_str(&format!(
                " The inductance of wires and rails holds the current back for some {}, longer than the conflict \
                 lasts: the peak is an upper bound.",
                ms(after)
            ));
        }
        if !situation.held.is_empty() {
            why.push_str(&format!(
                " So many drivers meet there that {} were looked at in their drive state only.",
                self.names(&situation.held)
            ));
        }
        if let Some([least, most]) = situation.share_range {
            why.push_str(&format!(
                " Both run from one clock in a phase that is not known: the share is between {} and {}.",
                percent(least),
                percent(most)
            ));
        }
        if situation.verdict == Verdict::Caution
            && let Some(margin) = situation.margin
        {
            if margin >= 0.0 {
                why.push_str(&format!(" Only {} is left to the threshold.", percent(margin)));
            } else if chops.is_empty() {
                why.push_str(
                    " The peak is beyond the trip's threshold; only its shortness saves it.",
                );
            }
        }
        let advice = match self.finding.kind {
            Kind::OpposedPolarity if alone && self.finding.blocks.len() < 2 => vec![
                "Cut the rails a second time: both sides are one block, so nothing that is set or switched cures this \
                 gap by itself."
                    .into(),
            ],
            Kind::OpposedPolarity if alone => vec![
                "Reverse one side against the other before a train crosses: by a reversing switch, an auto-reverser or a \
                 driver of its own."
                    .into(),
            ],
            Kind::IdleClamp => vec![
                "Set the idle state of both drivers to high-impedance (on many chips: coast instead of brake), \
                 unless inverted control lines would then run the throttle backwards."
                    .into(),
                "Or run both blocks from one driver while a train crosses.".into(),
            ],
            Kind::OpposedPolarity if now => {
                vec!["Set both throttles to the same direction before a train crosses.".into()]
            }
            Kind::OpposedPolarity => vec![
                "Put it on the gap's card: same direction on both throttles before crossing.".into(),
            ],
            Kind::SectionTooShort => vec![
                "Move the gaps apart until no train can stand over all of them at once.".into(),
                "Or see that the blocks beyond them agree whenever such a train passes.".into(),
            ],
            Kind::SwappedFeed => vec![format!(
                "Exchange the two wires of the feed of {} or of {}.",
                self.block(0),
                self.block(1)
            )],
            Kind::MixedDrive if transfer => vec![
                "Give the section between them wholly to the side that the train comes from, and once the train is \
                 wholly inside, to the side that it goes to."
                    .into(),
            ],
            Kind::MixedDrive => vec![
                "Put a transfer section between them, longer than what any train can bridge, and switch it wholly \
                 to one side or the other."
                    .into(),
            ],
            Kind::PhaseOpposed => vec![
                "Exchange the two wires of one booster's feed, or of its output.".into(),
                "Run both boosters from one command station.".into(),
            ],
            _ => Vec::new(),
        };
        Text { more: String::new(), says: what, why, advice }
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
fn lasting(longest: Longest) -> String {
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
