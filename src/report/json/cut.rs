//! Cuts: their situations, the card of the gap, and how vehicles pass.

use serde::ser::{Serialize, Serializer};

use super::number::{Amps, Mm, Number};
use super::situation::{SelectorAt, Situation, is_solved, no_items};
use crate::drive::{Relation, SetWord};
use crate::findings::{
    CardCell, CutReport, Facing, PassAt, PassReport, RailsWord, SelectorId, Trips, Verdict,
};
use crate::layout::{CutId, DriverId, RunId, TrainId, VehicleId};
use crate::rails::BlockId;

/// Pairs of settings with the same outcome, and that.
#[derive(serde::Serialize)]
struct Cell<'a> {
    settings: Vec<[SetWord; 2]>,
    #[serde(flatten)]
    outcome: Outcome<'a>,
}

#[derive(serde::Serialize, PartialEq)]
struct Outcome<'a> {
    relation: Relation,
    verdict: Verdict,
    /// Null where the circuit could not be solved.
    peak_a: Option<Amps>,
    share: Option<Number>,
    #[serde(skip_serializing_if = "Option::is_none")]
    margin: Option<Number>,
    #[serde(skip_serializing_if = "no_items")]
    first: &'a [DriverId],
}

impl<'a> Cell<'a> {
    /// The cells of a card, in the order in which each outcome comes first.
    fn all(card: &'a [CardCell]) -> Vec<Cell<'a>> {
        let mut cells: Vec<Cell> = Vec::new();
        for cell in card {
            let (settings, outcome) = ([cell.a, cell.b], Outcome::of(cell));
            match cells.iter_mut().find(|known| known.outcome == outcome) {
                Some(known) => known.settings.push(settings),
                None => cells.push(Cell { settings: vec![settings], outcome }),
            }
        }
        cells
    }
}

impl<'a> Outcome<'a> {
    fn of(cell: &'a CardCell) -> Outcome<'a> {
        let situation = &cell.situation;
        let solved = is_solved(situation);
        Outcome {
            relation: cell.relation,
            verdict: situation.verdict,
            peak_a: solved.then(|| Amps::of(situation.peak_a())),
            share: solved.then_some(Number::of(situation.share)),
            margin: situation.margin.map(Number::of),
            first: &situation.first,
        }
    }
}

/// Whether a trip acts in a pass.
#[derive(serde::Serialize)]
struct At {
    #[serde(skip_serializing_if = "Option::is_none")]
    speed_mm_s: Option<Number>,
    #[serde(skip_serializing_if = "Option::is_none")]
    time_s: Option<Number>,
    trips: Trips,
    #[serde(skip_serializing_if = "Option::is_none")]
    trips_share: Option<Number>,
}

impl At {
    fn of(at: &PassAt) -> At {
        At {
            speed_mm_s: at.speed_mm_s.map(Number::of),
            time_s: at.time_s.map(Number::of),
            trips: at.trips,
            trips_share: (at.trips == Trips::Sometimes).then_some(Number::of(at.trips_share)),
        }
    }
}

/// The settings of a pass.
#[derive(serde::Serialize, Clone, Copy)]
#[serde(rename_all = "kebab-case")]
enum PassSettings {
    /// Those of the worst that agree.
    Agree,
    /// Those now.
    Now,
}

#[derive(serde::Serialize)]
struct Pass<'a> {
    settings: Vec<PassSettings>,
    #[serde(skip_serializing_if = "Option::is_none")]
    vehicle: Option<VehicleId>,
    #[serde(skip_serializing_if = "Option::is_none")]
    train: Option<TrainId>,
    facing: Facing,
    verdict: Verdict,
    straddle_mm: Mm,
    wheels: &'a [Vec<u32>; 2],
    #[serde(skip_serializing_if = "Option::is_none")]
    stall_mm: Option<Mm>,
    slow: At,
    fast: At,
    standing: At,
}

impl<'a> Pass<'a> {
    fn of(settings: &[PassSettings], pass: &'a PassReport) -> Pass<'a> {
        Pass {
            settings: settings.to_vec(),
            vehicle: pass.vehicle,
            train: pass.train,
            facing: pass.facing,
            verdict: pass.verdict,
            straddle_mm: Mm::of(pass.straddle_mm),
            wheels: &pass.wheels,
            stall_mm: pass.stall_mm.map(Mm::of),
            slow: At::of(&pass.slow),
            fast: At::of(&pass.fast),
            standing: At::of(&pass.standing),
        }
    }

    /// The passes of a cut: what is the same at the worst that agrees and as set now is one.
    fn all(cut: &'a CutReport) -> Vec<Pass<'a>> {
        let (agree, now) = (&cut.passes_agree, &cut.passes_now);
        let both = |pass: &&PassReport| now.contains(pass);
        let agreeing = agree.iter().map(|pass| {
            if both(&pass) {
                Pass::of(&[PassSettings::Agree, PassSettings::Now], pass)
            } else {
                Pass::of(&[PassSettings::Agree], pass)
            }
        });
        let others = now.iter().filter(|pass| !agree.contains(pass));
        agreeing.chain(others.map(|pass| Pass::of(&[PassSettings::Now], pass))).collect()
    }
}

/// A list of selectors, as texts.
struct Selectors<'a>(&'a [SelectorId]);

impl Serialize for Selectors<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_seq(self.0.iter().map(ToString::to_string))
    }
}

impl Selectors<'_> {
    fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

#[allow(clippy::trivially_copy_pass_by_ref)]
fn is_zero(number: &usize) -> bool {
    *number == 0
}

/// A cut.
#[derive(serde::Serialize)]
pub struct Cut<'a> {
    id: CutId,
    name: &'a str,
    blocks: [BlockId; 2],
    rails: RailsWord,
    run: RunId,
    at_mm: Mm,
    agree: Option<Situation<'a>>,
    disagree: Option<Situation<'a>>,
    one_dead: Option<Situation<'a>>,
    now: Situation<'a>,
    card: Vec<Cell<'a>>,
    passes: Vec<Pass<'a>>,
    #[serde(skip_serializing_if = "Selectors::is_empty")]
    held_selectors: Selectors<'a>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    shorted_positions: Vec<Vec<SelectorAt>>,
    #[serde(skip_serializing_if = "is_zero")]
    ways_left_out: usize,
}

impl<'a> Cut<'a> {
    /// The view of a cut.
    pub fn of(cut: &'a CutReport) -> Cut<'a> {
        Cut {
            id: cut.id,
            name: &cut.name,
            blocks: cut.blocks,
            rails: cut.rails,
            run: cut.run,
            at_mm: Mm::of(cut.at_mm),
            agree: cut.agree.as_ref().map(Situation::of),
            disagree: cut.disagree.as_ref().map(Situation::of),
            one_dead: cut.one_dead.as_ref().map(Situation::of),
            now: Situation::of(&cut.now),
            card: Cell::all(&cut.card),
            passes: Pass::all(cut),
            held_selectors: Selectors(&cut.held_selectors),
            shorted_positions: cut.shorted_positions.iter().map(|s| SelectorAt::all(s)).collect(),
            ways_left_out: cut.ways_left_out,
        }
    }
}
