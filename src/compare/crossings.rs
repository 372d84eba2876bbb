//! Every train against every gap, in both designs.

use std::collections::{BTreeMap, BTreeSet};

use crate::findings::{CutReport, PassReport, Report, Verdict};
use crate::layout::{CutId, Layout, TrainId, VehicleId, shown};

/// A vehicle or train at a gap.
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

/// Result of a passage in one design.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cell {
    /// With this verdict, the worst with throttles that agree.
    Judged(Verdict),
    /// The design does not have the gap.
    NoGap,
    /// The design does not have the train.
    NoTrain,
    /// The two sides cannot agree there, or one has no driver.
    NoAgreement,
}

impl Cell {
    /// The verdict, if there is one.
    pub fn verdict(self) -> Option<Verdict> {
        match self {
            Cell::Judged(verdict) => Some(verdict),
            Cell::NoGap | Cell::NoTrain | Cell::NoAgreement => None,
        }
    }

    /// In words.
    pub fn word(self) -> &'static str {
        match self {
            Cell::Judged(verdict) => verdict.plain(),
            Cell::NoGap => "no gap",
            Cell::NoTrain => "no such train",
            Cell::NoAgreement => "no agreeing setting",
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
    /// How each of [`Crossings::passers`] passes it in the old and the new design.
    pub cells: Vec<[Cell; 2]>,
}

impl Row {
    /// True if both designs have it, and everything passes it clear in both.
    pub fn is_clear(&self) -> bool {
        self.cells.iter().flatten().all(|cell| *cell == Cell::Judged(Verdict::Clear))
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
        let there: [BTreeSet<Passer>; 2] =
            [0, 1].map(|n| passes[n].values().flat_map(BTreeMap::keys).copied().collect());
        // Where nothing passes any gap there is a column all the same, to say so.
        let passers: BTreeSet<Passer> =
            if passers.is_empty() { [Passer::StandIn].into() } else { passers };
        let cuts: BTreeSet<CutId> = passes.iter().flat_map(BTreeMap::keys).copied().collect();
        let name = |id: CutId| {
            let cut = |report: &Report| report.cuts.iter().find(|cut| cut.id == id).map(cut_name);
            cut(new).or_else(|| cut(old)).unwrap_or_default()
        };
        let row = |cut: CutId| {
            let cell = |passer: &Passer| {
                [0, 1].map(|n| match passes[n].get(&cut) {
                    None => Cell::NoGap,
                    Some(at) => match at.get(passer) {
                        Some(verdict) => Cell::Judged(*verdict),
                        None if there[n].contains(passer) || there[n].is_empty() => {
                            Cell::NoAgreement
                        }
                        None => Cell::NoTrain,
                    },
                })
            };
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
