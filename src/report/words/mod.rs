//! A finding in a builder's words: where, what, why, with which current, for which share of the time, and what a
//! builder usually does about it.

mod chain;
mod crossing;
mod feeding;
mod loops;
mod special;
mod wiring;

pub use special::{plain_position, position_words, selector_name};

use crate::drive::{self, Output};
use crate::findings::{
    BlockId, Current, CutReport, Evidence, Finding, Kind, Report, SetState, SetWord, Situation,
    Trips, Verdict,
};
use crate::layout::{AfterTrip, DriverId, EntityId, Layout, Origin, SupplyId, TrainId, VehicleId};
use crate::rails::SelectorId;

use super::units::{amps, mm, ms, percent};

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
    let words = Speaker { finding, report, layout }.speak();
    // A line may begin with a name that the user wrote small.
    Words { says: capital(&words.says), ..words }
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
                    Kind::TwoTrains => self.two_trains(situation, *relation, *now),
                    Kind::SharedNegativeShort => self.one_rail_enough(situation, by_join),
                    Kind::PointsAgainst | Kind::FrogWiredWrong => self.at_points(situation, *now),
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
            Evidence::Standing { situation, .. } if self.finding.kind == Kind::PointsMidThrow => {
                self.mid_throw(situation)
            }
            Evidence::Standing { situation, now, more } => self.standing(situation, *now, *more),
            Evidence::OneWheel { situation, narrow, now, apart_mm, needs_mm, stretch_mm } => {
                self.one_wheel(situation, *narrow, *now, [*apart_mm, *needs_mm, *stretch_mm])
            }
            Evidence::NotExhausted => self.not_exhausted(),
            Evidence::Open { situation, measure } => self.open(situation, measure),
            Evidence::Blind { driver, threshold_a, blind } => {
                self.blind(*driver, *threshold_a, blind)
            }
            Evidence::FightAt { situation, positions } => {
                self.doubly_fed_at(situation.as_deref(), positions)
            }
            Evidence::OutOfOrder { lower, upper, amps, lower_s, upper_s, takes_down } => {
                self.out_of_order([(*lower, *lower_s), (*upper, *upper_s)], *amps, takes_down)
            }
            Evidence::Reversers { situation, how } => self.reversers(situation, how),
            Evidence::Backwards { driver, forward, reverse } => {
                self.backwards(*driver, *forward, *reverse)
            }
            Evidence::Coin(coin) => self.coin(coin),
            Evidence::Wire { feeds, amps, bound, bears_a, open } => {
                self.thin_wire(feeds, *amps, *bound, *bears_a, *open)
            }
            Evidence::Drop { run, at_mm, load_a, wires_ohm, open_v } => {
                self.drop(*run, *at_mm, *load_a, *wires_ohm, *open_v)
            }
            Evidence::Asked { supply, limit_a, asked_a, trains_a } => {
                self.asked(*supply, *limit_a, *asked_a, *trains_a)
            }
            Evidence::Closure { rails, free_m, from_c, to_c, rail_mm, benchwork_mm, width_mm } => {
                self.closure(rails, *free_m, *from_c, *to_c, *rail_mm, *benchwork_mm, *width_mm)
            }
            Evidence::Joiners { dead, coin } => self.joiners(dead, coin),
            Evidence::Loop { round, longest } => self.loop_without_room(round, longest),
            Evidence::Sections(told) => self.sections(told),
            Evidence::TooShort { apart, longest, reversing } => {
                self.too_short(*apart, longest, *reversing)
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

    /// A train, or a vehicle by itself.
    fn mover(&self, train: Option<TrainId>, vehicle: Option<VehicleId>) -> String {
        match train.map(|id| (id, self.layout.trains.get(&id))) {
            Some((_, Some(train))) if !train.name.is_empty() => format!("the {}", train.name),
            Some((id, _)) => format!("train {id}"),
            None => self.vehicle(vehicle),
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

    /// "Gap c1, West | East"; "Home gap, West | East" where the name says that it is one; with the positions of
    /// selectors in which it is so, if they do not stand so now.
    fn gap(&self) -> String {
        let place = self.place_name();
        // Of points the positions are told in full.
        let points = matches!(self.finding.kind, Kind::PointsAgainst | Kind::FrogWiredWrong);
        if self.finding.selectors.is_empty() || (points && self.finding.cuts.is_empty()) {
            return place;
        }
        if let (Some(id), [own]) = (self.finding.special, &self.finding.selectors[..])
            && own.id == SelectorId::Points(id)
            && self.finding.cuts.is_empty()
        {
            return format!("{place} ({})", position_words(self.layout, own.id, own.position));
        }
        format!("{place} (with {})", self.positions(&self.finding.selectors))
    }

    fn place_name(&self) -> String {
        match self.cut() {
            Some(cut) => format!(
                "{}, {} | {}",
                gap_name(&cut.name),
                self.block_name(cut.blocks[0]),
                self.block_name(cut.blocks[1])
            ),
            None => match self.finding.special {
                Some(id) => self.special_name(id),
                None => "The gap".into(),
            },
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
        let drivers = situation.drivers.iter().map(|d| (d.trips, d.trips_share, d.trip_after_s));
        let devices = situation.devices.iter().map(|d| (d.trips, d.trips_share, d.trip_after_s));
        let acting: Vec<_> = drivers.chain(devices).filter(|d| d.0 != Trips::No).collect();
        if acting.is_empty() {
            return match situation.verdict {
                Verdict::Short => {
                    "Nothing there trips: no trip, no rating and no limit is known.".into()
                }
                _ => String::new(),
            };
        }
        let several = situation.first.len() + situation.first_devices.len() > 1;
        let names = capital(&self.all_names(&situation.first, &situation.first_devices));
        let mut text = if several {
            format!("{names} trip at the same time")
        } else {
            format!("{names} trips first")
        };
        let after = acting.iter().filter_map(|d| d.2).fold(f64::INFINITY, f64::min);
        if after.is_finite() && after > 0.0 {
            let from =
                if situation.joins.is_empty() { "it begins" } else { "the wheels join the rails" };
            text.push_str(&format!(", {} after {from}", ms(after)));
        }
        if acting.iter().all(|d| d.0 == Trips::Sometimes) {
            let share = acting.iter().map(|d| d.1).fold(0.0, f64::max);
            text.push_str(", but not in every pass");
            if share < 1.0 && share > 0.0 {
                text.push_str(&format!(" (in {} of the phases)", percent(share)));
            }
        }
        text.push('.');
        if let Some(after) = &situation.after_first {
            let (it, goes, has) =
                if several { ("they", "are", "have") } else { ("it", "is", "has") };
            if situation.resolved {
                text.push_str(&format!(" Once {it} {has} turned, nothing flows any more."));
            } else if !after.conflict {
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
                if after.trips.is_empty() && after.devices.is_empty() {
                    text.push_str(", and no other trip acts.");
                } else {
                    let then = self.all_names(&after.trips, &after.devices);
                    text.push_str(&format!(", until {then} trips too."));
                }
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

    fn open(&self, situation: &Situation, measure: &[(Option<EntityId>, &'static str)]) -> Words {
        let what: Vec<String> = measure.iter().map(|at| field_of(self, at)).collect();
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

    fn made_for_a_common_rail(&self) -> bool {
        self.finding.drivers.len() == 2
            && self.finding.drivers.iter().all(|id| {
                self.layout
                    .drivers
                    .get(id)
                    .is_some_and(|driver| drive::of(&driver.drive).output() == Output::HalfBridge)
            })
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
            Kind::DeadSpot => {
                let vehicle = self.vehicle(self.finding.vehicle);
                Words {
                    says: format!("{vehicle} can stand on a dead frog, {place}, and stalls there"),
                    why: format!(
                        "On {} of track nothing feeds the rail under one side of it, and all its pickups of that side \
                         fit on it.",
                        mm(length_mm)
                    ),
                    advice: vec![
                        "Feed the frog through a contact, or give the vehicle pickups farther apart (also across a \
                         coupler)."
                            .into(),
                    ],
                }
            }
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

/// "the source resistance of the yard supply".
fn field_of(speaker: &Speaker, (entity, field): &(Option<EntityId>, &'static str)) -> String {
    match entity {
        Some(EntityId::Driver(id)) => format!("{} of {}", field_words(field), speaker.driver(*id)),
        Some(EntityId::Supply(id)) => format!("{} of {}", field_words(field), speaker.supply(*id)),
        Some(EntityId::Feed(id)) => {
            let driver = speaker.layout.feeds.get(id).map(|feed| match feed.driver {
                Origin::Driver(id) => speaker.driver(id),
                Origin::Device(id) => speaker.device(id),
            });
            format!("{} of feed {id} ({})", field_words(field), driver.unwrap_or_default())
        }
        Some(EntityId::Device(id)) => {
            let what = match *field {
                "ohm" => "the resistance per pole",
                "kind.ohm" => "the resistance",
                "kind.volts" => "the forward voltage",
                _ => "the threshold",
            };
            format!("{what} of {}", speaker.device(*id))
        }
        Some(other) => format!("{} of {other}", field_words(field)),
        None => field_words(field).to_owned(),
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
