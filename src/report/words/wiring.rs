//! What the wiring itself lets down, in words.

use super::{Speaker, Words, and, capital, field_of};
use crate::findings::{Beyond, Bound, CoinEvidence, SideWord};
use crate::layout::{FeedId, JointId, RunId, SupplyId, TripKind, WireSize};
use crate::report::units::{amps, fine_mm, length, mm, percent, temperature, volts};

/// Joints that are named one by one.
const MOST_JOINTS: usize = 6;

impl Speaker<'_> {
    /// "the far end of West, on run r1, 900 mm from its start".
    fn far_end(&self, run: RunId, at_mm: f64) -> String {
        format!("the far end of {} (run {run}, {} from its start)", self.block(0), mm(at_mm))
    }

    fn blocks(&self) -> String {
        and(&self.finding.blocks.iter().map(|&id| self.block_name(id)).collect::<Vec<_>>())
    }

    pub(super) fn coin(&self, coin: &CoinEvidence) -> Words {
        let name = self.driver(coin.driver);
        let worst = coin.settings.first();
        let set = worst.map_or(String::new(), |set| self.setting(coin.driver, set));
        let place = self.far_end(coin.run, coin.at_mm);
        let open = !coin.measure.is_empty();
        let says = if open {
            format!(
                "{name}: whether a dead short at the far end of {} trips it is not known; measure {}",
                self.blocks(),
                and(&coin.measure.iter().map(|at| field_of(self, at)).collect::<Vec<_>>())
            )
        } else {
            format!(
                "{name} feeds a dead short at the far end of {} for ever, with {}",
                self.blocks(),
                amps(coin.leg.rms)
            )
        };
        let mut why = format!(
            "A coin across the rails at {place}, with {} of rail up to it, draws {} at the peak and {} RMS with {set}.",
            mm(coin.rail_mm[0].max(coin.rail_mm[1])),
            amps(coin.leg.peak),
            amps(coin.leg.rms),
        );
        if coin.limited {
            why.push_str(&format!(
                " More than {} the supply does not give, besides what else it feeds.",
                amps(coin.supply_a)
            ));
        }
        let trip = self.layout.drivers.get(&coin.driver).and_then(|driver| driver.trip.as_ref());
        let chops = trip.is_some_and(|trip| trip.kind == TripKind::Chopping);
        match (coin.threshold_a, coin.sensed) {
            (Some(threshold), Some(sensed)) => why.push_str(&format!(
                " Its trip {} {} and sees {} at the peak, {} in the mean: {}.",
                if chops { "limits to" } else { "waits for" },
                amps(threshold),
                amps(sensed.peak),
                amps(sensed.mean_abs),
                if open {
                    "with the values that are assumed it may act or not"
                } else if chops {
                    "it holds the current there and never acts"
                } else {
                    "it does not act"
                }
            )),
            _ if coin.guards.is_empty() => why.push_str(" No trip is stated."),
            _ => {}
        }
        for &(device, waits_for) in &coin.guards {
            let name = capital(&self.device(device));
            why.push_str(&format!(" {name} waits for {}.", amps(waits_for)));
        }
        if coin.settings.len() > 1 && !open {
            let others: Vec<String> = coin.settings[1..]
                .iter()
                .map(|set| format!("{} at {}", set.state.word(), percent(set.throttle)))
                .collect();
            why.push_str(&format!(" The same with {}.", and(&others)));
        }
        for beyond in &coin.beyond {
            why.push_str(&match *beyond {
                Beyond::Driver(bears) => {
                    format!(" {} bears only {} for ever.", capital(&name), amps(bears))
                }
                Beyond::Wire(feed, carries, bears) => format!(
                    " {} carries {} and bears {}.",
                    capital(&self.wire(feed)),
                    amps(carries),
                    amps(bears)
                ),
            });
        }
        let advice = vec![
            "Add feeders near the far end, or use thicker wire, so that more flows in a short."
                .into(),
            "Or set the trip lower, or use one that looks at the peak.".into(),
        ];
        Words { says, why, advice }
    }

    /// "the wire of feed f1 (0.5 mm²)".
    fn wire(&self, feed: FeedId) -> String {
        let size = self.layout.feeds.get(&feed).and_then(|feed| feed.wire).map(|wire| wire.size);
        match size {
            Some(WireSize::Awg(number)) => format!("the wire of feed {feed} (AWG {number})"),
            Some(WireSize::Mm2(area)) => format!("the wire of feed {feed} ({area} mm²)"),
            None => format!("the wire of feed {feed}"),
        }
    }

    pub(super) fn thin_wire(
        &self,
        feeds: &[FeedId],
        current: f64,
        bound: Bound,
        bears_a: f64,
        open: bool,
    ) -> Words {
        let driver = self.names(&self.finding.drivers);
        let thinnest = feeds.first().map_or("the wire".into(), |&feed| self.wire(feed));
        let why_so = match bound {
            Bound::Trip => {
                format!("Just under its trip's {} {driver} feeds for ever", amps(current))
            }
            Bound::Guard => format!(
                "Just under the {} of a breaker or fuse {driver} feeds for ever",
                amps(current)
            ),
            Bound::Limit => format!(
                "{} can give its sustained {} for ever",
                capital(&format!("the supply of {driver}")),
                amps(current)
            ),
            Bound::Bolted => format!(
                "Nothing is known that would end a short of {driver}, which draws {} at its feeders",
                amps(current)
            ),
        };
        let mut why = format!("{why_so}; {thinnest} may carry {}.", amps(bears_a));
        if open {
            why.push_str(" Within the range in which the former is assumed, it is enough or not.");
        }
        if feeds.len() > 1 {
            let others: Vec<String> = feeds[1..].iter().map(ToString::to_string).collect();
            why.push_str(&format!(" The same holds for feed {}.", and(&others)));
        }
        let says = if open {
            format!("{}: too thin or not, by an assumed value", capital(&thinnest))
        } else {
            format!(
                "{} may carry {}, and {} can flow in it for ever",
                capital(&thinnest),
                amps(bears_a),
                amps(current)
            )
        };
        Words {
            says,
            why,
            advice: vec![
                "Use thicker wire, set the trip below what the wire may carry, or put a fuse to suit before it.".into(),
            ],
        }
    }

    pub(super) fn drop(
        &self,
        run: RunId,
        at_mm: f64,
        load_a: f64,
        wires_ohm: f64,
        open_v: f64,
    ) -> Words {
        let drop = load_a * wires_ohm;
        let load = match self.finding.vehicle {
            Some(id) => format!("{} draws {}", self.vehicle(Some(id)), amps(load_a)),
            None => format!("a train draws {} (assumed: no vehicle here has a load)", amps(load_a)),
        };
        Words {
            says: format!(
                "{}: wires and rails take {} of {} at the far end",
                self.blocks(),
                volts(drop),
                volts(open_v)
            ),
            why: format!(
                "{} has {wires_ohm:.2} Ω of wire and rail up to it, there and back. While {load}, that takes {}: a train is \
                 slower there than near the feeders.",
                capital(&self.far_end(run, at_mm)),
                percent(drop / open_v),
            ),
            advice: vec!["Add feeders near the far end, or use thicker wire.".into()],
        }
    }

    pub(super) fn asked(
        &self,
        supply: SupplyId,
        limit_a: f64,
        asked_a: f64,
        trains_a: Option<f64>,
    ) -> Words {
        let name = self.supply(supply);
        let drivers = self.names(&self.finding.drivers);
        let verb = if self.finding.drivers.len() == 1 { "draws" } else { "draw" };
        match trains_a.filter(|trains| *trains > limit_a) {
            Some(trains) => Words {
                says: format!(
                    "{name} gives {} and its trains draw {}",
                    amps(limit_a),
                    amps(trains)
                ),
                why: format!(
                    "With one train on {drivers}, each like {}, {} are asked of it: it gives up while they run.",
                    self.vehicle(self.finding.vehicle),
                    amps(trains)
                ),
                advice: vec!["Use a larger supply, or spread the drivers over several.".into()],
            },
            None => Words {
                says: format!(
                    "{name} gives {} and {drivers} together {verb} up to {}",
                    amps(limit_a),
                    amps(asked_a)
                ),
                why: format!(
                    "Each of them may go up to its rating or its trip, together {}. When all are at it, the supply gives \
                     up for all of them before any trip acts.",
                    amps(asked_a)
                ),
                advice: vec![
                    "Use a larger supply, spread the drivers over several, or set the trips lower."
                        .into(),
                ],
            },
        }
    }

    #[allow(clippy::too_many_arguments)]
    pub(super) fn closure(
        &self,
        rails: &[SideWord],
        free_m: f64,
        from_c: f64,
        to_c: f64,
        rail_mm: f64,
        benchwork_mm: f64,
        width_mm: f64,
    ) -> Words {
        let which = match rails {
            [SideWord::Left] => "in the left rail",
            [SideWord::Right] => "in the right rail",
            _ => "in both rails",
        };
        let assumed = if self.layout.climate.is_none() {
            " The room's temperatures are not stated: these are assumed."
        } else {
            ""
        };
        Words {
            says: format!("{}: it may close {which} when the room is warm and dry", self.gap()),
            why: format!(
                "{} of rail moves towards it, half of what is free on each side. From {} to {} it grows by {}, and as \
                 the benchwork dries that shrinks by {}: together {} against a width of {}.{assumed}",
                length(free_m * 1000.0),
                temperature(from_c),
                temperature(to_c),
                fine_mm(rail_mm),
                fine_mm(benchwork_mm),
                fine_mm(rail_mm + benchwork_mm),
                fine_mm(width_mm)
            ),
            advice: vec![
                "Fill the gap, or make it wider, or leave slack at unsoldered rail joiners near it.".into(),
                "Or state the temperature at which it was cut.".into(),
            ],
        }
    }

    pub(super) fn joiners(&self, dead: &[(JointId, f64)], coin: &[JointId]) -> Words {
        let all = dead.len() + coin.len();
        let mut why = String::new();
        if let Some(((joint, most), others)) = dead.split_first() {
            why.push_str(&format!(
                "If a rail joiner at joint {joint} opens, {} of track is dead.",
                mm(*most)
            ));
            let mut others: Vec<String> =
                others.iter().map(|(joint, length)| format!("{joint} ({})", mm(*length))).collect();
            let more = others.len().saturating_sub(MOST_JOINTS);
            others.truncate(MOST_JOINTS);
            if more > 0 {
                others.push(format!("{more} more joints"));
            }
            if !others.is_empty() {
                why.push_str(&format!(" Likewise at {}.", and(&others)));
            }
        }
        if !coin.is_empty() {
            let joints: Vec<String> = coin.iter().map(ToString::to_string).collect();
            why.push_str(&format!(
                " If one at {} opens, all track is still fed, but by so long a way that a dead short at the far end no \
                 longer trips anything.",
                and(&joints)
            ));
        }
        Words {
            says: format!(
                "{} on unsoldered rail joiners at {all} joint{}",
                match self.finding.blocks.len() {
                    1 => format!("{} rests", self.block(0)),
                    n => format!("{n} blocks rest"),
                },
                if all == 1 { "" } else { "s" }
            ),
            why: why.trim_start().to_owned(),
            advice: vec![
                "Solder these joiners, bond them with a wire, or feed the track beyond them as well.".into(),
            ],
        }
    }
}
