//! A finding in a builder's words: where, what, why, with which current, for which share of the time, and what a
//! builder usually does about it.

use crate::check::{
    Blind, BlockId, Class, Current, CutReport, Evidence, Finding, Kind, PassReport, Relation,
    Report, SetState, SetWord, Situation, StateWord, Trips, Verdict,
};
use crate::layout::{
    AfterTrip, Drive, DriverId, EntityId, Layout, Senses, SupplyId, TripKind, VehicleId,
};

use super::units::{amps, mm, ms, percent, volts};

/// The words of a finding.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Words {
    /// One line.
    pub says: String,
    /// A paragraph.
    pub why: String,
    /// What a builder usually does about it, one line each.
    pub advice: Vec<String>,
}

/// Puts a finding into words.
pub fn words(finding: &Finding, report: &Report, layout: &Layout) -> Words {
    Speaker { finding, report, layout }.speak()
}

struct Speaker<'a> {
    finding: &'a Finding,
    report: &'a Report,
    layout: &'a Layout,
}

impl Speaker<'_> {
    fn speak(&self) -> Words {
        match &self.finding.evidence {
            Evidence::Crossing { situation, relation, now, by_join, idles } => {
                match self.finding.kind {
                    Kind::Stall => self.stall(situation),
                    Kind::SharedNegativeShort => self.one_rail_enough(situation, by_join),
                    _ => self.crossing(situation, *relation, *now, by_join, idles),
                }
            }
            Evidence::BackFeed { situation, relation, lifted, sunk } => {
                self.back_feed(situation, *relation, lifted, sunk)
            }
            Evidence::Inrush { supply, from_v, to_v, amps: a, tau_s, trips, .. } => {
                self.inrush(*supply, *from_v, *to_v, *a, *tau_s, trips)
            }
            Evidence::Surge([a, b, both]) => self.surge(*a, *b, *both),
            Evidence::Fight { situation, now } => self.fight(situation, *now),
            Evidence::Open { situation, measure } => self.open(situation, measure),
            Evidence::Blind { driver, threshold_a, blind } => {
                self.blind(*driver, *threshold_a, blind)
            }
            Evidence::Backwards { driver, forward, reverse } => {
                self.backwards(*driver, *forward, *reverse)
            }
            Evidence::Place { run, at_mm, length_mm } => {
                self.place(&format!("on run {run}, {} from its start", mm(*at_mm)), *length_mm)
            }
        }
    }

    fn block(&self, at: usize) -> String {
        self.finding.blocks.get(at).map_or_else(|| "the block".into(), |id| self.block_name(*id))
    }

    fn block_name(&self, id: BlockId) -> String {
        self.report
            .blocks
            .iter()
            .find(|b| b.id == id)
            .map_or_else(|| id.to_string(), |b| b.name.clone())
    }

    fn driver(&self, id: DriverId) -> String {
        match self.layout.drivers.get(&id) {
            Some(d) if !d.name.is_empty() => d.name.clone(),
            _ => format!("driver {id}"),
        }
    }

    fn supply(&self, id: SupplyId) -> String {
        match self.layout.supplies.get(&id) {
            Some(s) if !s.name.is_empty() => s.name.clone(),
            _ => format!("supply {id}"),
        }
    }

    fn vehicle(&self, id: Option<VehicleId>) -> String {
        match id.and_then(|id| self.layout.vehicles.get(&id)) {
            Some(v) if !v.name.is_empty() => format!("the {}", v.name),
            Some(v) => format!("vehicle {}", v.id),
            None => "a long engine with pickups on all wheels".into(),
        }
    }

    fn cut(&self) -> Option<&CutReport> {
        let id = self.finding.cuts.first()?;
        self.report.cuts.iter().find(|c| c.id == *id)
    }

    /// "Gap c1, West | East"; "Home gap, West | East" where the name says that it is one.
    fn gap(&self) -> String {
        match self.cut() {
            Some(cut) => format!(
                "{}, {} | {}",
                gap_name(&cut.name),
                self.block_name(cut.blocks[0]),
                self.block_name(cut.blocks[1])
            ),
            None => "The gap".into(),
        }
    }

    fn setting(&self, id: DriverId, set: &SetState) -> String {
        let throttle = match set.state {
            SetWord::Forward | SetWord::Reverse => format!(" at {}", percent(set.throttle)),
            _ => String::new(),
        };
        format!("{} {}{throttle}", self.driver(id), set.state.word())
    }

    fn settings(&self, situation: &Situation) -> String {
        let told: Vec<String> = self
            .finding
            .drivers
            .iter()
            .filter_map(|id| situation.settings.get(id).map(|set| self.setting(*id, set)))
            .collect();
        told.join(", ")
    }

    fn names(&self, ids: &[DriverId]) -> String {
        and(&ids.iter().map(|&id| self.driver(id)).collect::<Vec<_>>())
    }

    /// What trips, and when.
    fn trips(&self, situation: &Situation) -> String {
        let acting: Vec<_> = situation.drivers.iter().filter(|d| d.trips != Trips::No).collect();
        if acting.is_empty() {
            return match situation.verdict {
                Verdict::Short => {
                    "Nothing there trips: no trip, no rating and no limit is known.".into()
                }
                _ => String::new(),
            };
        }
        let mut text = format!("{} trips first", self.names(&situation.first));
        if situation.first.len() > 1 {
            text = format!("{} trip at the same time", self.names(&situation.first));
        }
        let after = acting.iter().filter_map(|d| d.trip_after_s).fold(f64::INFINITY, f64::min);
        if after.is_finite() && after > 0.0 {
            let from =
                if situation.joins.is_empty() { "it begins" } else { "the wheels join the rails" };
            text.push_str(&format!(", {} after {from}", ms(after)));
        }
        if acting.iter().all(|d| d.trips == Trips::Sometimes) {
            let share = acting.iter().map(|d| d.trips_share).fold(0.0, f64::max);
            text.push_str(", but not in every pass");
            if share < 1.0 && share > 0.0 {
                text.push_str(&format!(" (in {} of the phases)", percent(share)));
            }
        }
        text.push('.');
        if let Some(after) = &situation.after_first {
            let (it, goes) = if situation.first.len() > 1 { ("they", "are") } else { ("it", "is") };
            if !after.conflict {
                text.push_str(&format!(" Once {it} {goes} off, nothing flows any more."));
            } else {
                let then = situation
                    .first
                    .iter()
                    .filter_map(|id| self.layout.drivers.get(id)?.trip.as_ref())
                    .find_map(|trip| match trip.then {
                        AfterTrip::HighImpedance => None,
                        AfterTrip::BrakeLow | AfterTrip::BrakeHigh => Some(()),
                    })
                    .map_or("through the body diodes", |()| "into the brake that it then holds");
                text.push_str(&format!(
                    " That does not end it: {} flow on {then}",
                    amps(after.peak_a)
                ));
                if after.trips.is_empty() {
                    text.push_str(", and no other trip acts.");
                } else {
                    text.push_str(&format!(", until {} trips too.", self.names(&after.trips)));
                }
            }
        }
        text
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

    /// The largest leg: its driver and current.
    fn largest<'s>(&self, situation: &'s Situation) -> Option<(DriverId, &'s Current)> {
        situation
            .drivers
            .iter()
            .flat_map(|d| [(d.id, &d.p), (d.id, &d.m)])
            .max_by(|a, b| a.1.peak.total_cmp(&b.1.peak))
    }

    fn joined(&self, situation: &Situation) -> &'static str {
        match situation.joins.len() {
            2.. => "both rails",
            1 => "one rail",
            _ => "no rail",
        }
    }

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
            .map(|p| self.vehicle(p.vehicle))
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
        cut.passes_agree.iter().chain(&cut.passes_now).find(|p| p.vehicle == situation.vehicle)
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
                    self.vehicle(p.vehicle),
                    ms(time)
                ))
            })
            .collect()
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
            format!("an averaging meter shows {}", amps(current.mean.abs())),
            format!("a true-RMS meter {}", amps(current.rms)),
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

    fn crossing(
        &self,
        situation: &Situation,
        relation: Option<Relation>,
        now: bool,
        by_join: &[Option<Verdict>; 3],
        idles: &[(DriverId, StateWord)],
    ) -> Words {
        let gap = self.gap();
        let peak = amps(situation.peak_a());
        let chops = self.chops(situation);
        let verb = match situation.verdict {
            Verdict::Caution if !chops.is_empty() => "crawls while a driver chops",
            verdict => verb(verdict),
        };
        let vehicle = self.vehicle(situation.vehicle);
        let what = match self.finding.kind {
            Kind::OpposedPolarity if now => {
                format!(
                    "{gap}: the two sides are set against each other now; {vehicle} {verb} at {peak}"
                )
            }
            Kind::OpposedPolarity => format!(
                "{gap}: directions must match before crossing, or {vehicle} {verb} at {peak}"
            ),
            Kind::SwappedFeed => format!(
                "{gap}: with both throttles the same way the rails oppose; one feed is swapped; {vehicle} {verb} at {peak}"
            ),
            Kind::MixedDrive => {
                format!("{gap}: DCC on one side and DC on the other; {vehicle} {verb} at {peak}")
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
                 {vehicle} join {} and {}: {peak} in both drivers, {} of the time.",
                self.settings(situation),
                self.joined(situation),
                self.how_joined(),
                percent(situation.share),
            )),
            Kind::SwappedFeed => why.push_str(&format!(
                "With {} a train should run on through this gap, but the feed of one block goes to the other rails \
                 than its neighbour's: what is positive on one side is negative on the other. {} flows in both \
                 drivers.",
                self.settings(situation),
                peak,
            )),
            Kind::MixedDrive => why.push_str(&format!(
                "DCC changes polarity all the time, so whatever the DC side does, it opposes for half of it: {peak}, \
                 without a break for {}. No setting carries a train through.",
                situation.longest_s.map_or("as long as it stands there".into(), |s| format!("up to {}", ms(s))),
            )),
            Kind::PhaseOpposed => why.push_str(&format!(
                "The boosters of the two blocks do not send the same polarity at the same time: {peak} for {} of the \
                 time, without a break for {}.",
                percent(situation.share),
                situation.longest_s.map_or("as long as it stands there".into(), |s| format!("up to {}", ms(s))),
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
        if relation == Some(Relation::Agree) {
            why.push_str(&self.gets_away());
        }
        // A rule is about other settings than those that a meter would show.
        if self.finding.class != Class::Rule {
            why.push_str(&self.meters());
        }
        if let (Some(longest), Some(after)) = (situation.longest_s, situation.resistive_after_s)
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
            Kind::SwappedFeed => vec![format!(
                "Exchange the two wires of the feed of {} or of {}.",
                self.block(0),
                self.block(1)
            )],
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
        Words { says: what, why, advice }
    }

    fn one_rail_enough(&self, situation: &Situation, by_join: &[Option<Verdict>; 3]) -> Words {
        let rails = match (
            by_join[1].is_some_and(Verdict::is_fault),
            by_join[2].is_some_and(Verdict::is_fault),
        ) {
            (true, true) => "either rail",
            (true, false) => "the left rail",
            _ => "the right rail",
        };
        let why = format!(
            "Both rails are cut, but the drivers of the two blocks meet behind the rails as well: they share a supply, \
             or their supplies' negatives are tied together. The current returns that way, so one bridged rail is \
             enough ({rails}), by the wheels of one side or at a stagger. With {}: {}",
            self.settings(situation),
            self.trips(situation)
        );
        Words {
            says: format!("{}: one bridged rail is enough for a short", self.gap()),
            why: why.trim_end().to_owned(),
            advice: vec![
                "Give each driver a supply of its own with an isolated negative, and look for hidden ties: a \
                 controller board's ground, a USB lead, mains earth. Mains wiring is for qualified people, to local \
                 codes."
                    .into(),
            ],
        }
    }

    fn stall(&self, situation: &Situation) -> Words {
        let vehicle = self.vehicle(situation.vehicle);
        let way = match situation.facing {
            crate::check::Facing::AToB => 1,
            crate::check::Facing::BToA => 0,
        };
        Words {
            says: format!("{}: {vehicle} stalls there", self.gap()),
            why: format!(
                "Facing {}, with its front {} past the gap, its left pickups stand in one block and its right pickups \
                 in the other. No driver closes a circuit through both, although both drive the same way ({}).",
                self.block(way),
                mm(situation.position_mm),
                self.settings(situation),
            ),
            advice: vec![
                "Add pickups so that both sides of the vehicle touch one block, or join its pickups across the \
                 coupler."
                    .into(),
                "Or feed both blocks from one driver while it crosses.".into(),
            ],
        }
    }

    fn back_feed(
        &self,
        situation: &Situation,
        relation: Option<Relation>,
        lifted: &[(SupplyId, f64, f64)],
        sunk: &[(SupplyId, f64)],
    ) -> Words {
        let mut parts: Vec<String> = lifted
            .iter()
            .map(|&(id, from, to)| {
                format!("{} is lifted from {} to {}", self.supply(id), volts(from), volts(to))
            })
            .collect();
        parts.extend(
            sunk.iter().map(|&(id, a)| format!("{} takes back {}", self.supply(id), amps(a))),
        );
        let what = if parts.is_empty() {
            "current flows back into a supply".to_owned()
        } else {
            and(&parts)
        };
        let dead = relation == Some(Relation::OneDead);
        let mut why = format!(
            "With {} the higher side feeds the lower one through {}: {what}{}.",
            self.settings(situation),
            if dead {
                "the body diodes of the dead driver"
            } else {
                "the lower driver's switches and diodes"
            },
            if situation.share > 0.0 {
                format!(", with up to {}", amps(situation.peak_a()))
            } else {
                "; once its capacitors are charged no current flows".into()
            },
        );
        let bearable = lifted.iter().find_map(|&(id, _, to)| {
            let bears = self.layout.supplies.get(&id)?.bearable_v?;
            Some(format!(
                " {} bears {}; {} would stand on it.",
                capital(&self.supply(id)),
                volts(bears.value),
                volts(to)
            ))
        });
        why.push_str(&bearable.unwrap_or_else(|| {
            if lifted.is_empty() {
                String::new()
            } else {
                " What the pole may bear is not stated, so this is only worth knowing.".into()
            }
        }));
        let trips = self.trips(situation);
        if !trips.is_empty() {
            why.push(' ');
            why.push_str(&trips);
        }
        let says = match self.finding.cuts.len() {
            0 | 1 => format!("{}: {what}", self.gap()),
            n => {
                let names: Vec<String> = self
                    .report
                    .cuts
                    .iter()
                    .filter(|cut| self.finding.cuts.contains(&cut.id))
                    .map(|cut| cut.name.clone())
                    .collect();
                why.push_str(&format!(" The same holds at each of {}.", and(&names)));
                format!("{n} gaps: a board whose supply is off is powered through the rails")
            }
        };
        Words {
            says,
            why,
            advice: vec![
                if dead {
                    "Switch neighbouring supplies on and off together.".into()
                } else {
                    "Use supplies of the same voltage on neighbouring blocks.".into()
                },
                "State the highest voltage that each supply and board bears, from its data sheet."
                    .into(),
            ],
        }
    }

    fn inrush(
        &self,
        supply: SupplyId,
        from_v: f64,
        to_v: f64,
        current: f64,
        tau_s: f64,
        trips: &[DriverId],
    ) -> Words {
        let name = self.supply(supply);
        // What hangs on a supply that is off has no trip at work.
        let awake: Vec<DriverId> = trips
            .iter()
            .copied()
            .filter(|id| {
                from_v > 0.0
                    || self.layout.drivers.get(id).is_none_or(|driver| driver.supply != supply)
            })
            .collect();
        let trips = &awake[..];
        let effect = if trips.is_empty() {
            "No trip acts on it.".to_owned()
        } else {
            format!("That trips {}.", self.names(trips))
        };
        Words {
            says: format!(
                "{}: {} rush into {name} when the wheels join the rails{}",
                self.gap(),
                amps(current),
                if trips.is_empty() {
                    String::new()
                } else {
                    format!(" and trip {}", self.names(trips))
                }
            ),
            why: format!(
                "The bulk capacitance of {name} is charged from {} to {}: {} at once, falling with a time constant of \
                 {}. {effect}",
                volts(from_v),
                volts(to_v),
                amps(current),
                ms(tau_s),
            ),
            advice: vec![
                "Use supplies of the same voltage, or keep both powered while trains cross.".into(),
            ],
        }
    }

    fn surge(&self, a: f64, b: f64, both: f64) -> Words {
        Words {
            says: format!(
                "{}: a locomotive surges to {} of drive while it stands in both blocks",
                self.gap(),
                percent(both)
            ),
            why: format!(
                "{} drives for {} of the time and {} for {}. Neither clamps when idle and their clocks are independent, \
                 so a locomotive that stands in both is driven for {} of the time (a + b − a·b). It speeds up over \
                 the gap; nothing is harmed.",
                self.block(0),
                percent(a),
                self.block(1),
                percent(b),
                percent(both)
            ),
            advice: vec![
                "Run both drivers from one PWM clock in phase if the surge is unwelcome.".into(),
            ],
        }
    }

    fn fight(&self, situation: &Situation, now: bool) -> Words {
        let peak = amps(situation.peak_a());
        if self.finding.kind == Kind::DoublyFed {
            return Words {
                says: format!("{} is fed by {} at once", self.block(0), self.names(&self.finding.drivers)),
                why: format!(
                    "Both drivers end on both rails of one block. With {} they fight with no train on the track: up to \
                     {peak}. {}",
                    self.settings(situation),
                    self.trips(situation)
                ),
                advice: vec![
                    "Cut both rails between the two feeds, or take one feed away, or put a cab selector before them."
                        .into(),
                ],
            };
        }
        Words {
            says: format!(
                "{} fight over a common rail{} at {peak}, with no train",
                self.names(&self.finding.drivers),
                if now { " as they are set now" } else { " as soon as their settings differ" }
            ),
            why: format!(
                "They share a rail and meet again behind the rails. With {} their outputs on the common rail differ, and \
                 {peak} flow through them without any train, {} of the time. {}",
                self.settings(situation),
                percent(situation.share),
                self.trips(situation)
            ),
            advice: vec![
                "Cut the common rail too, so that each block has both rails of its own.".into(),
                "Or give each driver an isolated supply, or use half-bridges on a split supply, made for common rails."
                    .into(),
            ],
        }
    }

    fn open(&self, situation: &Situation, measure: &[(Option<EntityId>, &'static str)]) -> Words {
        let what: Vec<String> = measure
            .iter()
            .map(|(entity, field)| match entity {
                Some(EntityId::Driver(id)) => {
                    format!("{} of {}", field_words(field), self.driver(*id))
                }
                Some(EntityId::Supply(id)) => {
                    format!("{} of {}", field_words(field), self.supply(*id))
                }
                Some(EntityId::Feed(id)) => {
                    let driver = self
                        .layout
                        .feeds
                        .get(id)
                        .and_then(|feed| feed.driver.driver())
                        .map(|d| self.driver(d));
                    format!("{} of feed {id} ({})", field_words(field), driver.unwrap_or_default())
                }
                Some(other) => format!("{} of {other}", field_words(field)),
                None => field_words(field).to_owned(),
            })
            .collect();
        Words {
            says: format!("{}: not known; measure {}", self.gap(), and(&what)),
            why: format!(
                "With {} the verdict changes within the ranges of the assumed values: computed with the nominal values \
                 {} flow at the peak. {} decides.",
                self.settings(situation),
                amps(situation.peak_a()),
                capital(&and(&what)),
            ),
            advice: vec![format!("Measure {} and enter it as measured.", and(&what))],
        }
    }

    fn blind(&self, id: DriverId, threshold_a: f64, blind: &Blind) -> Words {
        let name = self.driver(id);
        let trip = self.layout.drivers.get(&id).and_then(|d| d.trip.as_ref());
        let place = trip.map_or("where it senses", |t| senses(t.senses));
        let kind = trip.map_or("", |t| match t.kind {
            TripKind::Instant { .. } => "instant ",
            TripKind::Sampled { .. } => "sampled ",
            TripKind::Averaged { .. } => "averaged ",
            TripKind::Thermal { .. } => "thermal ",
            TripKind::Chopping => "chopping ",
        });
        match blind {
            Blind::LooksElsewhere { carried_a, sensed_a } => Words {
                says: format!(
                    "{name} carries {} in a short and its trip sees {}",
                    amps(*carried_a),
                    amps(*sensed_a)
                ),
                why: format!(
                    "Its {kind}trip senses {place} with a threshold of {}. While it brakes, the short's current passes \
                     through its two switches of one side and not there.",
                    amps(threshold_a)
                ),
                advice: vec!["Sense in the outputs, or rely on the neighbour's trip and say so on the card.".into()],
            },
            Blind::SupplyGivesUpFirst { limit_a } => Words {
                says: format!(
                    "{name} can never trip: its supply gives {} and the trip waits for {}",
                    amps(*limit_a),
                    amps(threshold_a)
                ),
                why: format!(
                    "In a lasting short the supply holds the current at its limit of {}, below the {kind}trip's {}. The \
                     short is then fed for ever.{}",
                    amps(*limit_a),
                    amps(threshold_a),
                    self.layout
                        .drivers
                        .get(&id)
                        .and_then(|driver| driver.rating_a)
                        .filter(|rating| rating.value < *limit_a)
                        .map_or(String::new(), |rating| {
                            format!(" {} bears only {} for ever.", capital(&name), amps(rating.value))
                        })
                ),
                advice: vec!["Set the trip below the supply's sustained limit, or use a larger supply with fuses to suit.".into()],
            },
        }
    }

    fn made_for_a_common_rail(&self) -> bool {
        self.finding.drivers.len() == 2
            && self.finding.drivers.iter().all(|id| {
                self.layout
                    .drivers
                    .get(id)
                    .is_some_and(|driver| matches!(driver.drive, Drive::SplitHalfBridge { .. }))
            })
    }

    fn backwards(&self, id: DriverId, forward: bool, reverse: bool) -> Words {
        let name = self.driver(id);
        let when = match (forward, reverse) {
            (true, true) => "in both directions",
            (true, false) => "when set forward",
            _ => "when set in reverse",
        };
        Words {
            says: format!("{name} runs backwards {when}: full on at zero throttle, off at full"),
            why: "By the chip's truth table the bridge drives while the PWM line is low and not while it is high, as \
                  its control inputs are driven. A train starts at full speed when the throttle is closed."
                .into(),
            advice: vec![
                "Move the PWM to the other input in that direction, or invert the PWM in the program.".into(),
            ],
        }
    }

    fn place(&self, place: &str, length_mm: f64) -> Words {
        let block = self.block(0);
        match self.finding.kind {
            Kind::BlocksMerged => Words {
                says: format!("{block}: two names, one block; a gap is missing"),
                why: format!(
                    "The names stand on track whose two rails are joined by metal all the way ({} of it). Whatever is \
                     fed to one is fed to the other.",
                    mm(length_mm)
                ),
                advice: vec!["Cut both rails between the two names, or give them one name.".into()],
            },
            Kind::Unfed => Words {
                says: format!("{block} has no driver"),
                why: format!("{} of track, {place}: trains stall there.", mm(length_mm)),
                advice: vec!["Feed it from a driver.".into()],
            },
            Kind::HalfFed => Words {
                says: format!("{block} is fed on one rail only"),
                why: format!(
                    "{} of track, {place}: no driver has an output on both of its rails, so no circuit closes.",
                    mm(length_mm)
                ),
                advice: vec!["Lead the driver's other output to the other rail.".into()],
            },
            Kind::DoublyFed => Words {
                says: format!("{block} is fed by {} at once", self.names(&self.finding.drivers)),
                why: format!("{} of track, {place}.", mm(length_mm)),
                advice: vec!["Cut both rails between the two feeds, or take one feed away.".into()],
            },
            _ if self.made_for_a_common_rail() => Words {
                says: format!("{}: only one rail is cut", self.gap()),
                why: format!(
                    "The other rail is common to {block} and {}. The drivers of both are half-bridges on a split supply, \
                     made for a common rail.",
                    self.block(1)
                ),
                advice: vec!["Nothing to do; keep the common rail whole.".into()],
            },
            _ => Words {
                says: format!("{}: only one rail is cut", self.gap()),
                why: format!(
                    "The other rail is common to {block} and {}. Independent directions need both rails cut, unless the \
                     drivers are made for a common rail.",
                    self.block(1)
                ),
                advice: vec!["Cut the other rail too.".into()],
            },
        }
    }
}

fn senses(senses: Senses) -> &'static str {
    match senses {
        Senses::SupplyLead => "the lead from the supply",
        Senses::GroundReturn => "the return to the supply",
        Senses::LegP => "output P",
        Senses::LegM => "output M",
        Senses::LargerLeg => "the outputs",
        Senses::HighSwitchP => "the high switch of P",
        Senses::LowSwitchP => "the low switch of P",
        Senses::HighSwitchM => "the high switch of M",
        Senses::LowSwitchM => "the low switch of M",
    }
}

fn field_words(field: &str) -> &'static str {
    match field {
        "open_v" => "the open-circuit voltage",
        "source_ohm" => "the source resistance",
        "negative.ohm" => "the resistance of the negative's tie",
        "bulk_f" => "the bulk capacitance",
        "bulk_ohm" => "the series resistance of the bulk capacitance",
        "limit.amps" => "the sustained limit",
        "bearable_v" => "the bearable voltage",
        "output_ohm" => "the output resistance",
        "high_ohm" => "the high switches' on-resistance",
        "low_ohm" => "the low switches' on-resistance",
        "diode_v" => "the body diodes' forward voltage",
        "diode_ohm" => "the body diodes' resistance",
        "trip.amps" => "the trip's threshold",
        "rating_a" => "the continuous rating",
        "wake_v" => "the wake-up voltage",
        "ohm" => "the wire resistance",
        _ => "the rail's resistance",
    }
}

fn verb(verdict: Verdict) -> &'static str {
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

fn gap_name(name: &str) -> String {
    if name.to_lowercase().contains("gap") { capital(name) } else { format!("Gap {name}") }
}

fn and(parts: &[String]) -> String {
    match parts {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    match chars.next() {
        Some(first) => first.to_uppercase().collect::<String>() + chars.as_str(),
        None => String::new(),
    }
}
