//! Words about the feed chain: devices, and the order in which they act.

use crate::findings::{BlockId, GuardId, Reversing, Situation, Verdict};
use crate::layout::{DeviceId, DriverId};

use super::super::units::{amps, ms};
use super::{Speaker, Words, and, capital};

impl Speaker<'_> {
    /// "breaker x3", or the user's name.
    pub(super) fn device(&self, id: DeviceId) -> String {
        match self.layout.devices.get(&id) {
            Some(d) if !d.name.is_empty() => d.name.clone(),
            Some(d) => format!("{} {id}", d.kind.word()),
            None => format!("device {id}"),
        }
    }

    fn guard(&self, id: GuardId) -> String {
        match id {
            GuardId::Device(id) => self.device(id),
            GuardId::Driver(id) => self.driver(id),
            GuardId::Supply(id) => self.supply(id),
        }
    }

    /// Names of drivers and of devices.
    pub(super) fn all_names(&self, drivers: &[DriverId], devices: &[DeviceId]) -> String {
        let drivers = drivers.iter().map(|&id| self.driver(id));
        and(&drivers.chain(devices.iter().map(|&id| self.device(id))).collect::<Vec<_>>())
    }

    fn block_names(&self, ids: &[BlockId]) -> String {
        and(&ids.iter().map(|&id| self.block_name(id)).collect::<Vec<_>>())
    }

    pub(super) fn doubly_fed_at(
        &self,
        situation: Option<&Situation>,
        positions: &[(DeviceId, u32)],
    ) -> Words {
        let drivers = self.names(&self.finding.drivers);
        let standing: Vec<String> = positions
            .iter()
            .map(|&(id, position)| format!("{} in position {position}", self.device(id)))
            .collect();
        let fight = match situation {
            Some(situation) => format!(
                "With {} they then fight with no train on the track: up to {}. {}",
                self.settings(situation),
                amps(situation.peak_a()),
                self.trips(situation)
            ),
            None => "They then both drive it.".into(),
        };
        Words {
            says: format!("{} is fed by {drivers} at once with {}", self.block(0), and(&standing)),
            why: format!("Both drivers end on both rails of one block in that position. {fight}"),
            advice: vec![
                "Put one cab selector before the block in place of the separate switches, or gang them so that only one \
                 is ever on."
                    .into(),
            ],
        }
    }

    pub(super) fn out_of_order(
        &self,
        [(lower, lower_s), (upper, upper_s)]: [(GuardId, Option<f64>); 2],
        current: f64,
        takes_down: &[BlockId],
    ) -> Words {
        let (below, above) = (self.guard(lower), self.guard(upper));
        let blocks = self.block_names(&self.finding.blocks);
        let when = |s: Option<f64>| s.map_or("never".to_owned(), |s| format!("after {}", ms(s)));
        if let GuardId::Supply(_) = upper {
            let overload = if self.finding.verdict == Verdict::Overload {
                " That is more than the driver bears for ever."
            } else {
                ""
            };
            return Words {
                says: format!("{above} holds its limit before {below} acts in a short on {blocks}"),
                why: format!(
                    "A dead short across {blocks} draws {} through {below}, all that {above} gives. That does not make \
                     it act, and nothing above it acts either: the short is fed for ever.{overload}",
                    amps(current)
                ),
                advice: vec![format!(
                    "Set {below} well below the supply's sustained limit, or use a larger supply with wire to suit."
                )],
            };
        }
        let takes = if takes_down.len() > self.finding.blocks.len() {
            format!(" That takes down {}, not {blocks} alone.", self.block_names(takes_down))
        } else {
            String::new()
        };
        Words {
            says: format!("{above} trips before {below} in a short on {blocks}"),
            why: format!(
                "A dead short across {blocks} draws {} through {below}, which acts {}; {above}, nearer to the supply, \
                 acts {}.{takes}",
                amps(current),
                when(lower_s),
                when(upper_s),
            ),
            advice: vec![
                format!("Make {below} the quicker and lower one, or {above} the slower and higher one."),
                "Or use thicker or shorter feeders, if the current is too small for the nearer one.".into(),
            ],
        }
    }

    pub(super) fn reversers(&self, situation: &Situation, how: &Reversing) -> Words {
        let gap = self.gap();
        let peak = amps(situation.peak_a());
        let seconds =
            |s: &Option<f64>| s.map_or("at some time".into(), |s| format!("after {}", ms(s)));
        match how {
            Reversing::Race([(a, a_s), (b, b_s)]) => Words {
                says: format!(
                    "{gap}: {} and {} race: both turn on one fault",
                    self.device(*a),
                    self.device(*b)
                ),
                why: format!(
                    "When the polarity does not match, the wheels close a short of {peak} through both. {} turns {}, {} \
                     {}. If both turn, the polarity is as wrong as before. {}",
                    capital(&self.device(*a)),
                    seconds(a_s),
                    self.device(*b),
                    seconds(b_s),
                    self.trips(situation)
                ),
                advice: vec![
                    "Have one auto-reverser at each gap: feed the other side straight from the driver, or put a block \
                     without one between the two sections."
                        .into(),
                ],
            },
            Reversing::Unseen { device, threshold_a, carried_a } => Words {
                says: format!(
                    "{gap}: {} does not see the fault: {} where it waits for {}",
                    self.device(*device),
                    amps(*carried_a),
                    amps(*threshold_a)
                ),
                why: format!(
                    "When the polarity does not match, only {} flow through it, so it does not turn. {}",
                    amps(*carried_a),
                    self.trips(situation)
                ),
                advice: vec![
                    format!("Set {} to act well below that current.", self.device(*device)),
                    "Or use thicker or shorter feeders and clean contacts, so that the fault draws more.".into(),
                ],
            },
            Reversing::TooLate { device, after_s, before, before_s } => Words {
                says: format!(
                    "{gap}: {} acts before {} has turned",
                    self.guard(*before),
                    self.device(*device)
                ),
                why: format!(
                    "When the polarity does not match, the wheels close a short of {peak}. {} would turn {}; {} acts {}. \
                     The train stops on the gap.",
                    capital(&self.device(*device)),
                    seconds(after_s),
                    self.guard(*before),
                    seconds(before_s),
                ),
                advice: vec![format!(
                    "Make {} the quickest and lowest of the chain, or slow {} down.",
                    self.device(*device),
                    self.guard(*before)
                )],
            },
        }
    }
}
