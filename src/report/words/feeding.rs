//! What drivers and supplies do to each other and to themselves, in words.

use super::{Speaker, Words, and, capital};
use crate::findings::{Blind, Kind, Relation, Situation};
use crate::layout::{DriverId, Senses, SupplyId, TripKind};
use crate::report::units::{amps, ms, percent, volts};

impl Speaker<'_> {
    pub(super) fn back_feed(
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

    pub(super) fn inrush(
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
                    format!(", which trips {}", self.names(trips))
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

    pub(super) fn surge(&self, a: f64, b: f64, both: f64) -> Words {
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

    pub(super) fn fight(&self, situation: &Situation, now: bool) -> Words {
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

    pub(super) fn blind(&self, id: DriverId, threshold_a: f64, blind: &Blind) -> Words {
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

    pub(super) fn backwards(&self, id: DriverId, forward: bool, reverse: bool) -> Words {
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
