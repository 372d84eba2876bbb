//! Names of things, as people call them.

use super::{Words, and, gap_name, position_words};
use crate::drive::{self, Output};
use crate::findings::units::percent;
use crate::findings::{
    BlockId, CutReport, GuardId, Kind, SelectorId, SetState, SetWord, Situation,
};
use crate::layout::{
    DeviceId, DriverId, EntityId, FeedId, Origin, RunId, SupplyId, TrainId, TripKind, VehicleId,
    WireSize,
};

impl Words<'_> {
    pub(crate) fn block(&self, at: usize) -> String {
        self.finding.blocks.get(at).map_or_else(|| "the block".into(), |id| self.block_name(*id))
    }

    pub(crate) fn block_name(&self, id: BlockId) -> String {
        self.report
            .blocks
            .iter()
            .find(|b| b.id == id)
            .map_or_else(|| id.to_string(), |b| b.name.clone())
    }

    pub(crate) fn driver(&self, id: DriverId) -> String {
        match self.layout.drivers.get(&id) {
            Some(d) if !d.name.is_empty() => d.name.clone(),
            _ => format!("driver {id}"),
        }
    }

    pub(crate) fn supply(&self, id: SupplyId) -> String {
        match self.layout.supplies.get(&id) {
            Some(s) if !s.name.is_empty() => s.name.clone(),
            _ => format!("supply {id}"),
        }
    }

    /// A train, or a vehicle by itself.
    pub(crate) fn mover(&self, train: Option<TrainId>, vehicle: Option<VehicleId>) -> String {
        match train.map(|id| (id, self.layout.trains.get(&id))) {
            Some((_, Some(train))) if !train.name.is_empty() => format!("the {}", train.name),
            Some((id, _)) => format!("train {id}"),
            None => self.vehicle(vehicle),
        }
    }

    pub(crate) fn vehicle(&self, id: Option<VehicleId>) -> String {
        match id.and_then(|id| self.layout.vehicles.get(&id)) {
            Some(v) if !v.name.is_empty() => format!("the {}", v.name),
            Some(v) => format!("vehicle {}", v.id),
            None => "a long engine with pickups on all wheels".into(),
        }
    }

    pub(crate) fn cut(&self) -> Option<&CutReport> {
        let id = *self.finding.cuts().first()?;
        self.report.cuts.iter().find(|c| c.id == id)
    }

    /// "Gap c1, West | East"; "Home gap, West | East" where the name says that it is one; with the positions of
    /// selectors in which it is so, if they do not stand so now.
    pub(crate) fn gap(&self) -> String {
        let place = self.place_name();
        // The words about points name the positions in full.
        let points = matches!(self.finding.kind, Kind::PointsAgainst | Kind::FrogWiredWrong);
        let (selectors, no_cut) = (self.finding.selectors(), self.finding.cuts().is_empty());
        if selectors.is_empty() || (points && no_cut) {
            return place;
        }
        if let (Some(id), [own]) = (self.finding.special(), selectors)
            && own.id == SelectorId::Points(id)
            && no_cut
        {
            return format!("{place} ({})", position_words(self.layout, own.id, own.position));
        }
        format!("{place} (with {})", self.positions(selectors))
    }

    pub(crate) fn place_name(&self) -> String {
        match self.cut() {
            Some(cut) => format!(
                "{}, {} | {}",
                gap_name(&cut.name),
                self.block_name(cut.blocks[0]),
                self.block_name(cut.blocks[1])
            ),
            None => match self.finding.special() {
                Some(id) => self.special_name(id),
                None => "The gap".into(),
            },
        }
    }

    pub(crate) fn setting(&self, id: DriverId, set: &SetState) -> String {
        let throttle = match set.state {
            SetWord::Forward | SetWord::Reverse => format!(" at {}", percent(set.throttle)),
            SetWord::Stopped | SetWord::On | SetWord::Off | SetWord::Unpowered => String::new(),
        };
        format!("{} {}{throttle}", self.driver(id), set.state.word())
    }

    pub(crate) fn settings(&self, situation: &Situation) -> String {
        let told: Vec<String> = self
            .finding
            .drivers
            .iter()
            .filter_map(|id| situation.settings.get(id).map(|set| self.setting(*id, set)))
            .collect();
        told.join(", ")
    }

    pub(crate) fn names(&self, ids: &[DriverId]) -> String {
        and(&ids.iter().map(|&id| self.driver(id)).collect::<Vec<_>>())
    }

    /// Kind of a driver's trip with a space behind it: "instant ". Empty without a trip.
    pub(crate) fn trip_kind(&self, id: DriverId) -> &'static str {
        let trip = self.layout.drivers.get(&id).and_then(|d| d.trip.as_ref());
        trip.map_or("", |t| match t.kind {
            TripKind::Instant { .. } => "instant ",
            TripKind::Sampled { .. } => "sampled ",
            TripKind::Averaged { .. } => "averaged ",
            TripKind::Thermal { .. } => "thermal ",
            TripKind::Chopping => "chopping ",
        })
    }

    /// "on run r1, 900 mm from its start".
    pub(crate) fn on_run(&self, run: RunId, at_mm: f64) -> String {
        format!("on run {run}, {} from its start", self.units.mm(at_mm))
    }

    /// "the far end of West is on run r1, 900 mm from its start".
    pub(crate) fn far_end(&self, run: RunId, at_mm: f64) -> String {
        format!("the far end of {} is {}", self.block(0), self.on_run(run, at_mm))
    }

    pub(crate) fn blocks(&self) -> String {
        and(&self.finding.blocks.iter().map(|&id| self.block_name(id)).collect::<Vec<_>>())
    }

    /// "the wire of feed f1 (0.5 mm²)".
    pub(crate) fn wire(&self, feed: FeedId) -> String {
        let size = self.layout.feeds.get(&feed).and_then(|feed| feed.wire).map(|wire| wire.size);
        match size {
            Some(WireSize::Awg(number)) => format!("the wire of feed {feed} (AWG {number})"),
            Some(WireSize::Mm2(area)) => format!("the wire of feed {feed} ({area} mm²)"),
            None => format!("the wire of feed {feed}"),
        }
    }

    pub(crate) fn made_for_a_common_rail(&self) -> bool {
        self.finding.drivers.len() == 2
            && self.finding.drivers.iter().all(|id| {
                self.layout
                    .drivers
                    .get(id)
                    .is_some_and(|driver| drive::of(&driver.drive).output() == Output::HalfBridge)
            })
    }

    /// "breaker x3", or the user's name.
    pub(crate) fn device(&self, id: DeviceId) -> String {
        match self.layout.devices.get(&id) {
            Some(d) if !d.name.is_empty() => d.name.clone(),
            Some(d) => format!("{} {id}", d.kind.word()),
            None => format!("device {id}"),
        }
    }

    pub(crate) fn guard(&self, id: GuardId) -> String {
        match id {
            GuardId::Device(id) => self.device(id),
            GuardId::Driver(id) => self.driver(id),
            GuardId::Supply(id) => self.supply(id),
        }
    }

    /// The supplies of drivers, each once.
    pub(crate) fn supplies(&self, drivers: &[DriverId]) -> Vec<SupplyId> {
        let mut supplies = Vec::new();
        for driver in drivers.iter().filter_map(|id| self.layout.drivers.get(id)) {
            if !supplies.contains(&driver.supply) {
                supplies.push(driver.supply);
            }
        }
        supplies
    }

    /// Names of drivers and of devices.
    pub(crate) fn all_names(&self, drivers: &[DriverId], devices: &[DeviceId]) -> String {
        let drivers = drivers.iter().map(|&id| self.driver(id));
        and(&drivers.chain(devices.iter().map(|&id| self.device(id))).collect::<Vec<_>>())
    }

    pub(crate) fn block_names(&self, ids: &[BlockId]) -> String {
        and(&ids.iter().map(|&id| self.block_name(id)).collect::<Vec<_>>())
    }
}

/// "the source resistance of the yard supply".
pub(crate) fn field_of(w: &Words, (entity, field): &(Option<EntityId>, &'static str)) -> String {
    match entity {
        Some(EntityId::Driver(id)) => format!("{} of {}", field_words(field), w.driver(*id)),
        Some(EntityId::Supply(id)) => format!("{} of {}", field_words(field), w.supply(*id)),
        Some(EntityId::Feed(id)) => {
            let driver = w.layout.feeds.get(id).map(|feed| match feed.driver {
                Origin::Driver(id) => w.driver(id),
                Origin::Device(id) => w.device(id),
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
            format!("{what} of {}", w.device(*id))
        }
        Some(other) => format!("{} of {other}", field_words(field)),
        None => field_words(field).to_owned(),
    }
}

fn field_words(field: &'static str) -> &'static str {
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
        "rail_ohm_per_m" => "the rail's resistance",
        other => other,
    }
}
