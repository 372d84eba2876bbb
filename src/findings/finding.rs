//! One finding: its kind, how it counts, where it is, whom it concerns, and its evidence.

use crate::job::Job;
use crate::layout::{CutId, DriverId, EntityId, RunId, SpecialId, SupplyId, TrainId, VehicleId};
use crate::rails::BlockId;
use crate::study::{Class, SelectorAt, Situation, Verdict};

use super::shared::change::Change;
use super::table::{Evidence, Kind};

/// One thing wrong or worth knowing. `E` is the evidence of one kind in that kind's room, [`Evidence`] everywhere else.
#[derive(Debug, Clone, PartialEq)]
pub struct Found<E> {
    /// Kind.
    pub kind: Kind,
    /// How it counts.
    pub class: Class,
    /// Its weight.
    pub verdict: Verdict,
    /// Where it is, the main place first; empty for a finding about equipment alone.
    pub places: Vec<Place>,
    /// Blocks concerned.
    pub blocks: Vec<BlockId>,
    /// Drivers concerned: the parties.
    pub drivers: Vec<DriverId>,
    /// Other things that tell it apart from a finding of its kind at the same places: feeds, devices, vehicles.
    pub things: Vec<EntityId>,
    /// Vehicle concerned.
    pub vehicle: Option<VehicleId>,
    /// Train concerned.
    pub train: Option<TrainId>,
    /// Sets of positions in which it holds, that of its evidence first. Empty: as the selectors stand now, or however they
    /// stand.
    pub positions: Vec<Vec<SelectorAt>>,
    /// What else must be so for it to hold.
    pub when: Option<When>,
    /// True if it holds because of how the drivers are set now: another setting may take it away. Every other finding
    /// depends on no setting.
    pub now: bool,
    /// What it rests on.
    pub evidence: E,
}

/// A finding of any kind.
pub type Finding = Found<Evidence>;

/// A condition under which a finding holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum When {
    /// The driver is switched off.
    DriverOff(DriverId),
    /// The supply is switched off.
    SupplyOff(SupplyId),
}

/// Where a finding is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Place {
    /// A cut.
    Cut(CutId),
    /// Special work.
    Special(SpecialId),
    /// A stretch of a run; both ends equal for a point on it.
    Stretch {
        /// The run.
        run: RunId,
        /// Start, mm along the run.
        from_mm: f64,
        /// End, mm along the run.
        to_mm: f64,
    },
    /// A block.
    Block(BlockId),
}

/// Access to the situation of an evidence, for readers that do not know its kind.
pub trait Evident {
    /// The situation that it rests on, if it rests on one.
    fn situation(&self) -> Option<&Situation> {
        None
    }

    /// The changes that prove the cause.
    fn changes(&self) -> &[Change] {
        &[]
    }
}

/// Jobs that may remove a finding, in the order in which they are done. Whether they do is proved by checking the layout
/// after them.
#[derive(Debug, Clone, PartialEq)]
pub struct Cure {
    /// The jobs.
    pub jobs: Vec<Job>,
}

impl From<Job> for Cure {
    fn from(job: Job) -> Cure {
        Cure { jobs: vec![job] }
    }
}

impl From<Vec<Job>> for Cure {
    fn from(jobs: Vec<Job>) -> Cure {
        Cure { jobs }
    }
}

impl<E> Found<E> {
    /// A finding that is about nothing yet: no places, no blocks, no drivers.
    pub fn new(kind: Kind, class: Class, verdict: Verdict, evidence: E) -> Found<E> {
        Found {
            kind,
            class,
            verdict,
            places: Vec::new(),
            blocks: Vec::new(),
            drivers: Vec::new(),
            things: Vec::new(),
            vehicle: None,
            train: None,
            positions: Vec::new(),
            when: None,
            now: false,
            evidence,
        }
    }

    /// The same finding with other evidence.
    pub fn map<F>(self, change: impl FnOnce(E) -> F) -> Found<F> {
        Found {
            kind: self.kind,
            class: self.class,
            verdict: self.verdict,
            places: self.places,
            blocks: self.blocks,
            drivers: self.drivers,
            things: self.things,
            vehicle: self.vehicle,
            train: self.train,
            positions: self.positions,
            when: self.when,
            now: self.now,
            evidence: change(self.evidence),
        }
    }

    /// Its cuts, the main one first.
    pub fn cuts(&self) -> Vec<CutId> {
        let cuts = self.places.iter().filter_map(|place| match *place {
            Place::Cut(id) => Some(id),
            Place::Special(_) | Place::Stretch { .. } | Place::Block(_) => None,
        });
        cuts.collect()
    }

    /// Its first special work.
    pub fn special(&self) -> Option<SpecialId> {
        self.places.iter().find_map(|place| match *place {
            Place::Special(id) => Some(id),
            Place::Cut(_) | Place::Stretch { .. } | Place::Block(_) => None,
        })
    }

    /// The positions that its evidence is about; empty as the selectors stand now, or however they stand.
    pub fn selectors(&self) -> &[SelectorAt] {
        self.positions.first().map_or(&[], Vec::as_slice)
    }
}

impl Finding {
    /// The situation that it rests on, if it rests on one.
    pub fn situation(&self) -> Option<&Situation> {
        self.evidence.situation()
    }
}

/// Places at cuts.
pub(super) fn at_cuts(cuts: impl IntoIterator<Item = CutId>) -> Vec<Place> {
    cuts.into_iter().map(Place::Cut).collect()
}
