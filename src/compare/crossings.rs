//! Every train against every gap, in both designs.

use std::collections::{BTreeMap, BTreeSet};

use crate::findings::{CutReport, PassReport, Report, Verdict};
use crate::layout::{CutId, Layout, TrainId, VehicleId, shown};

/// What passes a gap.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Passer {
    /// The long engine that stands in where a layout has no vehicle.
    StandIn,
    /// A vehicle by itself.
    Vehicle(VehicleId),
    /// A train.
    Train(TrainId),
}

impl Passer {
    fn of(pass: &PassReport) -> Passer {
        match (pass.train, pass.vehicle) {
            (Some(train), _) => Passer::Train(train),
            (None, Some(vehicle)) => Passer::Vehicle(vehicle),
            (None, None) => Passer::StandIn,
        }
    }

    /// Its name in one of two layouts, as it is shown.
    pub fn name(self, layouts: [&Layout; 2]) -> String {
        let [old, new] = layouts;
        let vehicle = |id| new.vehicles.get(&id).or_else(|| old.vehicles.get(&id));
        let train = |id| new.trains.get(&id).or_else(|| old.trains.get(&id));
        let (name, id) = match self {
            Passer::StandIn => return "long engine".to_owned(),
            Passer::Vehicle(id) => (vehicle(id).map(|v| v.name.trim()), id.to_string()),
            Passer::Train(id) => (train(id).map(|t| t.name.trim()), id.to_string()),
        };
        match name {
            Some(name) if !name.is_empty() => shown(name).into_owned(),
            _ => id,
        }
    }
}

/// A gap and how everything passes it.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// The gap.
    pub cut: CutId,
    /// Its name, as it is shown.
    pub name: String,
    /// For each of [`Crossings::passers`] the worst verdict with agreeing throttles in the old and the new design; `None`
    /// where a design does not have the gap, or that does not pass it.
    pub cells: Vec<[Option<Verdict>; 2]>,
}

impl Row {
    /// Whether everything passes it clear wherever it is.
    pub fn is_clear(&self) -> bool {
        self.cells.iter().flatten().flatten().all(|verdict| *verdict == Verdict::Clear)
    }
}

/// Every vehicle and train against every gap, with throttles that agree.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Crossings {
    /// The columns.
    pub passers: Vec<Passer>,
    /// The gaps of both designs, by identity.
    pub rows: Vec<Row>,
}

impl Crossings {
    /// Those of two reports.
    pub fn of(old: &Report, new: &Report) -> Crossings {
        let passes = [old, new].map(worst);
        let passers: BTreeSet<Passer> =
            passes.iter().flat_map(BTreeMap::values).flat_map(BTreeMap::keys).copied().collect();
        let cuts: BTreeSet<CutId> = passes.iter().flat_map(BTreeMap::keys).copied().collect();
        let name = |id: CutId| {
            let cut = |report: &Report| report.cuts.iter().find(|cut| cut.id == id).map(cut_name);
            cut(new).or_else(|| cut(old)).unwrap_or_default()
        };
        let row = |cut: CutId| {
            let cell = |passer: &Passer| [0, 1].map(|n| passes[n].get(&cut)?.get(passer).copied());
            Row { cut, name: name(cut), cells: passers.iter().map(cell).collect() }
        };
        let rows = cuts.into_iter().map(row).collect();
        Crossings { passers: passers.into_iter().collect(), rows }
    }

    /// The gaps that something does not pass clear in one of the designs.
    pub fn worth_telling(&self) -> impl Iterator<Item = &Row> {
        self.rows.iter().filter(|row| !row.is_clear())
    }
}

fn cut_name(cut: &CutReport) -> String {
    shown(&cut.name).into_owned()
}

/// The worst verdict of each passer at each gap; a gap that nothing passes is there without any.
fn worst(report: &Report) -> BTreeMap<CutId, BTreeMap<Passer, Verdict>> {
    let at_cut = |cut: &CutReport| {
        let mut worst: BTreeMap<Passer, Verdict> = BTreeMap::new();
        for pass in &cut.passes_agree {
            let known = worst.entry(Passer::of(pass)).or_insert(pass.verdict);
            *known = (*known).max(pass.verdict);
        }
        (cut.id, worst)
    };
    report.cuts.iter().map(at_cut).collect()
}
