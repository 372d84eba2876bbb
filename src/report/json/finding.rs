//! Findings: where they are, what they rest on, and their words.

use super::cure::Cure;
use super::number::Mm;
use super::situation::{SelectorAt, Situation, no_items};
use crate::cure::{Cures, NoCure};
use crate::findings::units::Units;
use crate::findings::{self, Class, Kind, Report, Verdict, When, words};
use crate::layout::{CutId, DriverId, Layout, RunId, SpecialId, SupplyId, TrainId, VehicleId};
use crate::rails::BlockId;

/// Where a finding is.
#[derive(serde::Serialize)]
#[serde(untagged)]
enum Place {
    Cut { cut: CutId },
    Special { special: SpecialId },
    Stretch { run: RunId, from_mm: Mm, to_mm: Mm },
    Block { block: BlockId },
}

impl Place {
    fn of(place: &findings::Place) -> Place {
        match *place {
            findings::Place::Cut(cut) => Place::Cut { cut },
            findings::Place::Special(special) => Place::Special { special },
            findings::Place::Stretch { run, from_mm, to_mm } => {
                Place::Stretch { run, from_mm: Mm::of(from_mm), to_mm: Mm::of(to_mm) }
            }
            findings::Place::Block(block) => Place::Block { block },
        }
    }
}

/// What must be off.
#[derive(serde::Serialize)]
#[serde(rename_all = "snake_case")]
enum Off {
    DriverOff(DriverId),
    SupplyOff(SupplyId),
}

impl Off {
    fn of(when: &When) -> Off {
        match *when {
            When::DriverOff(id) => Off::DriverOff(id),
            When::SupplyOff(id) => Off::SupplyOff(id),
        }
    }
}

/// The situation of a finding: written out, or the line of a cut that holds the same.
#[derive(serde::Serialize)]
#[serde(untagged)]
enum Rests<'a> {
    On(Box<Situation<'a>>),
    Line { cut: CutId, line: &'static str },
}

impl<'a> Rests<'a> {
    fn of(situation: &'a findings::Situation, report: &Report) -> Rests<'a> {
        let lines = report.cuts.iter().flat_map(|cut| {
            let lines = [
                ("agree", cut.agree.as_ref()),
                ("disagree", cut.disagree.as_ref()),
                ("one_dead", cut.one_dead.as_ref()),
                ("now", Some(&cut.now)),
            ];
            lines.map(|(line, there)| (cut.id, line, there))
        });
        let same = lines.into_iter().find(|(_, _, there)| *there == Some(situation));
        match same {
            Some((cut, line, _)) => Rests::Line { cut, line },
            None => Rests::On(Box::new(Situation::of(situation))),
        }
    }
}

/// A finding.
#[derive(serde::Serialize)]
pub struct Finding<'a> {
    id: String,
    kind: Kind,
    class: Class,
    verdict: Verdict,
    places: Vec<Place>,
    /// Left out where they are those of its cuts.
    #[serde(skip_serializing_if = "no_items")]
    blocks: &'a [BlockId],
    #[serde(skip_serializing_if = "Vec::is_empty")]
    selectors: Vec<Vec<SelectorAt>>,
    #[serde(skip_serializing_if = "no_items")]
    drivers: &'a [DriverId],
    #[serde(skip_serializing_if = "Vec::is_empty")]
    things: Vec<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    vehicle: Option<VehicleId>,
    #[serde(skip_serializing_if = "Option::is_none")]
    train: Option<TrainId>,
    #[serde(skip_serializing_if = "Option::is_none")]
    when: Option<Off>,
    /// Left out where no setting matters.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    now: bool,
    #[serde(skip_serializing_if = "Option::is_none")]
    situation: Option<Rests<'a>>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    cause: Vec<String>,
    says: String,
    why: String,
    #[serde(skip_serializing_if = "String::is_empty")]
    more: String,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    advice: Vec<String>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    cautions: Vec<&'static str>,
    cures: Vec<Cure<'a>>,
    /// Why there are none, if cures were looked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    no_cure: Option<String>,
}

impl<'a> Finding<'a> {
    /// The view of a finding. `cures` are those of its report, if they were looked for.
    pub fn of(
        finding: &'a findings::Finding,
        report: &Report,
        layout: &Layout,
        cures: Option<&'a Cures>,
    ) -> Finding<'a> {
        let offers = cures.and_then(|cures| cures.of.get(&finding.id()));
        let text = words(finding, report, layout, Units::Metric);
        let cuts = finding.cuts();
        let at_cut = |id: &BlockId| {
            report.cuts.iter().any(|cut| cuts.contains(&cut.id) && cut.blocks.contains(id))
        };
        let of_cuts = finding.blocks.iter().all(at_cut);
        Finding {
            id: finding.id().to_string(),
            kind: finding.kind,
            class: finding.class,
            verdict: finding.verdict,
            places: finding.places.iter().map(Place::of).collect(),
            blocks: if of_cuts { &[] } else { &finding.blocks },
            selectors: finding.positions.iter().map(|set| SelectorAt::all(set)).collect(),
            drivers: &finding.drivers,
            things: finding.things.iter().map(ToString::to_string).collect(),
            vehicle: finding.vehicle,
            train: finding.train,
            when: finding.when.as_ref().map(Off::of),
            now: finding.now,
            situation: finding.situation().map(|situation| Rests::of(situation, report)),
            cause: finding.evidence.causes(),
            says: text.says,
            why: text.why,
            more: text.more,
            advice: text.advice,
            cautions: text.cautions.iter().map(|caution| caution.line()).collect(),
            cures: Cure::all(offers),
            no_cure: offers.and_then(|of| of.no_cure.as_ref()).map(NoCure::says),
        }
    }
}
