//! What a vehicle over a place shorts, for the kinds `opposed-polarity`, `swapped-feed`, `idle-clamp`, `back-feed`,
//! `mixed-drive`, `phase-opposed`, `section-too-short` under a train, and `value-not-known` where assumed values decide.
//!
//! Settings that agree must be clear, so anything there is a fault. Settings that disagree are expected to short: an
//! operating rule, and a fault only where they are set now. One side dead is a fault only where it is so now, or where
//! operators switch that side by itself.

use std::collections::BTreeSet;

use super::at_place;
use super::points;
use crate::drive::{SetWord, StateWord};
use crate::findings::finding::at_cuts;
use crate::findings::{
    Class, Evident, Finding, Found, Kind, Place, Relation, Reversal, Situation, Verdict, View, When,
};
use crate::layout::{CutId, DriverId, EntityId, Layout, RunId, SpecialId, SupplyId};
use crate::rails::PlanNet;
use crate::straddle::contacts::Touched;
use crate::straddle::ix::NetIx;
use crate::straddle::path::ruler;
use crate::study::cause::{Cause, cause};
use crate::study::cut::{Evaluated, Worst};
use crate::study::judge::{Bench, NumericStand};
use crate::study::situation::Known;

/// A situation at a place, and what of it conflicts.
#[derive(Debug, Clone, PartialEq)]
pub struct Evidence {
    /// The situation.
    pub situation: Situation,
    /// How the settings stand to each other; `None` where one side has no driver.
    pub relation: Option<Relation>,
    /// True for the situation set now.
    pub now: bool,
    /// Worst verdict with both rails joined, with only the left, with only the right.
    pub by_join: [Option<Verdict>; 3],
    /// Drivers in an idle part while the conflict is worst, and their states.
    pub idles: Vec<(DriverId, StateWord)>,
    /// Supplies whose pole is lifted: from and to, V.
    pub lifted: Vec<(SupplyId, f64, f64)>,
    /// Supplies that take current back, A.
    pub sunk: Vec<(SupplyId, f64)>,
    /// Values whose ranges leave the verdict open: the entity (`None`: the layout) and the field.
    pub measure: Vec<(Option<EntityId>, &'static str)>,
}

impl Evidence {
    /// A situation with nothing further known of it.
    pub(crate) fn bare(situation: Situation, relation: Option<Relation>, now: bool) -> Evidence {
        Evidence {
            situation,
            relation,
            now,
            by_join: [None; 3],
            idles: Vec::new(),
            lifted: Vec::new(),
            sunk: Vec::new(),
            measure: Vec::new(),
        }
    }
}

impl Evident for Evidence {
    fn situation(&self) -> Option<&Situation> {
        Some(&self.situation)
    }
}

/// A finding of this family.
type Crossing = Found<Evidence>;

/// Every finding of this family in a view.
struct Crossings(Vec<Crossing>);

/// The findings of one kind in a view.
pub(crate) fn of_kind(view: &View, kind: Kind) -> Vec<Crossing> {
    let all = view.shared.get(|| {
        let mut found = Vec::new();
        find(view, &mut found);
        points::find(view, &mut found);
        Crossings(found)
    });
    all.0.iter().filter(|f| f.kind == kind).cloned().collect()
}

/// Makes a rule of what some position of the selectors avoids: a gap at which drives of two kinds meet only while a
/// selector stands so is an end of a transfer section.
pub(crate) fn transfer_ends(views: &[View], found: &mut [Finding]) {
    for finding in found.iter_mut().filter(|f| f.class == Class::Fault) {
        let meets = matches!(finding.kind, Kind::MixedDrive | Kind::PhaseOpposed);
        let own_kind =
            |view: &View| finding.cuts().into_iter().all(|cut| meets_its_own_kind(view, cut));
        if meets && views.iter().skip(1).any(own_kind) {
            finding.class = Class::Rule;
        }
    }
}

/// How a finding weighs beside another of the same kind at the same place.
fn weight(finding: &Crossing) -> (Class, Verdict) {
    (finding.class, finding.verdict)
}

/// Keeps the graver of two findings of one kind at one place.
pub(super) fn keep_graver(old: &mut Crossing, new: Crossing) {
    if weight(&new) > weight(old) {
        *old = new;
    }
}

/// True if two findings are about the same cuts, whichever of them a long train was looked at from.
fn same_cuts(one: &Crossing, other: &Crossing) -> bool {
    let (one, other) = (one.cuts(), other.cuts());
    one.len() == other.len() && one.iter().all(|cut| other.contains(cut))
}

fn find(view: &View, found: &mut Vec<Crossing>) {
    for (cut, known) in view.all_known() {
        let mut here: Vec<Crossing> = Vec::new();
        let before = found.len();
        place(view, Some(cut), known, &mut here);
        for finding in here.iter_mut().filter(|f| f.class == Class::Fault && f.cuts().len() == 1) {
            if is_for_the_operator(view, cut, finding.kind) {
                finding.class = Class::Rule;
            }
        }
        // One finding of a kind is enough at a cut (or at the cuts that one long vehicle bridges): the gravest.
        for finding in here {
            // What a vehicle does by itself is not told again of the train that it is in.
            let told = |f: &Crossing| {
                f.kind == finding.kind && f.cuts().contains(&cut) && weight(f) >= weight(&finding)
            };
            if known.around.stands.iter().any(|s| s.by.train.is_some()) && found.iter().any(told) {
                continue;
            }
            let same = |f: &Crossing| f.kind == finding.kind && same_cuts(f, &finding);
            // What bridges several cuts may have been found at another of them.
            let from = if finding.cuts().len() > 1 { 0 } else { before };
            let here = found[before..].iter().position(same).map(|at| before + at);
            match here.or_else(|| found[from..].iter().position(same).map(|at| from + at)) {
                Some(at) => keep_graver(&mut found[at], finding),
                None => found.push(finding),
            }
        }
    }
}

/// What is to be said of a place, all classes of settings.
pub(super) fn place(view: &View, cut: Option<CutId>, known: &Known, here: &mut Vec<Crossing>) {
    if let Some(special) = set_against(view, known) {
        let places = cut.map(Place::Cut).into_iter().chain([Place::Special(special)]).collect();
        let finding = points::against(view, known).map(|f| Found { places, ..f });
        here.extend(finding);
        return;
    }
    let result = &known.result;
    let now = result.now_relation;
    let mut say = |relation, is_now, class, worst: &Worst| {
        offer(view, cut, known, (relation, is_now), class, worst, here);
    };
    if view.is_now && now != Some(Relation::Agree) {
        say(now, true, Class::Fault, &result.now);
    }
    say(Some(Relation::Agree), false, Class::Fault, &result.worst(Relation::Agree));
    // Two boosters that disagree do so whenever both are on: no operating can avoid it.
    let worst = result.worst(Relation::Disagree);
    let built_in = worst.worst.as_ref().is_some_and(|evaluated| {
        matches!(cause(&known.case, evaluated), Some(Cause::Mixed | Cause::Phase))
    });
    // What only other positions of the selectors bring is for operators to avoid.
    let class = if built_in && view.is_now { Class::Fault } else { Class::Rule };
    say(Some(Relation::Disagree), false, class, &worst);
    let mut switched = Worst::default();
    let mut other = Worst::default();
    for cell in result.cells.iter().filter(|c| c.relation == Relation::OneDead) {
        let into = if cell.separately_switched { &mut switched } else { &mut other };
        into.merge(&cell.worst);
    }
    say(Some(Relation::OneDead), false, Class::Fault, &switched);
    say(Some(Relation::OneDead), false, Class::Note, &other);
}

/// The live points that are set against the track on one side of a place, so that both its rails are of one pole.
pub(crate) fn set_against(view: &View, known: &Known) -> Option<SpecialId> {
    let at = known.around.at;
    [at.block_before, at.block_after]
        .into_iter()
        .map(|block| &view.plan.blocks[block])
        .find(|block| block.nets[0] == block.nets[1])
        .and_then(|block| block.follows)
}

/// Whether a cut is known in these positions of the selectors, and no drives of two kinds, nor boosters out of phase, meet
/// there however they are set.
pub(super) fn meets_its_own_kind(view: &View, cut: CutId) -> bool {
    view.known.get(&cut).is_some_and(|known| {
        let cells = known.result.cells.iter().filter_map(|cell| cell.worst.worst.as_ref());
        !cells
            .filter_map(|evaluated| cause(&known.case, evaluated))
            .any(|cause| matches!(cause, Cause::Mixed | Cause::Phase))
    })
}

/// Whether a conflict at a cut is that of a reversing section's far end: it opposes there until the train is inside and
/// what lies ahead, or the section, is reversed. At another end trains must be able to go in.
pub(crate) fn is_for_the_operator(view: &View, cut: CutId, kind: Kind) -> bool {
    let Some((by, ends)) = view.loops.section_at(&view.plan, cut) else { return false };
    let suits = match kind {
        Kind::OpposedPolarity => true,
        // Throttles tell their directions by themselves; an exchange behind them is not in their labels.
        Kind::SwappedFeed | Kind::PhaseOpposed => !matches!(by, Reversal::Driver(_)),
        _ => false,
    };
    let goes_in = |end: &CutId| {
        let Some(known) = view.known.get(end) else { return false };
        let now = known.result.now.worst.as_ref();
        now.and_then(|evaluated| cause(&known.case, evaluated))
            .is_none_or(|cause| !matches!(cause, Cause::Opposed | Cause::Phase | Cause::Mixed))
    };
    suits && ends.iter().any(|end| *end != cut && goes_in(end))
}

/// The cuts that a vehicle bridges in a situation at one of them, that one first: more than it where one long vehicle
/// joins blocks that do not touch.
fn bridged(view: &View, cut: CutId, known: &Known, evaluated: &Evaluated) -> Vec<CutId> {
    let mut cuts = vec![cut];
    let Some(stand) = evaluated.stand.and_then(|at| known.around.stands.get(at)) else {
        return cuts;
    };
    let at = known.around.at;
    let own = [at.before, at.after].map(|piece| view.plan.pieces[piece].nets.map(PlanNet));
    // Beyond the far end of a section may lie the same block as before the near one, the other way round.
    let on_its_side = |side: usize, touched: &Touched<PlanNet>| {
        touched.iter().all(|t| own.iter().any(|nets| nets[side] == t.0))
    };
    if stand.groups.iter().all(|g| (0..2).all(|side| on_its_side(side, &g.touched[side]))) {
        return cuts;
    }
    // The stretch that lies between its outermost pickups as long as it stands so.
    if stand.by.vehicle.is_none() {
        return cuts;
    }
    let (first, last) = stand.pickups_mm;
    let (from, to) = (stand.lead_mm + stand.rolls_mm - last - 1e-6, stand.lead_mm - first + 1e-6);
    let reach = stand.by.length_mm + 1.0;
    let spans = ruler(view.layout, &view.plan, cut, reach).unwrap_or_default();
    let runs: BTreeSet<RunId> = spans.iter().map(|span| span.run).collect();
    for other in view.layout.cuts.values().filter(|c| c.id != cut && runs.contains(&c.run)) {
        let places =
            spans.iter().filter(|s| s.run == other.run).filter_map(|s| s.ruler_mm(other.at_mm));
        if places.into_iter().any(|place| from <= place && place <= to) {
            cuts.push(other.id);
        }
    }
    cuts
}

fn offer(
    view: &View,
    cut: Option<CutId>,
    known: &Known,
    (relation, now): (Option<Relation>, bool),
    class: Class,
    worst: &Worst,
    here: &mut Vec<Crossing>,
) {
    let Some(evaluated) = &worst.worst else { return };
    let Some(cause) = cause(&known.case, evaluated) else { return };
    let situation = view.situation(known, evaluated);
    let verdict = evaluated.judged.verdict;
    if verdict == Verdict::Stall {
        return;
    }
    let cuts = cut.map_or_else(Vec::new, |cut| bridged(view, cut, known, evaluated));
    let mut push = |kind, class, verdict, evidence: Evidence| {
        let when = when(view.layout, &evidence);
        let places = at_cuts(cuts.iter().copied());
        let found = at_place(view, Some(known), kind, class, verdict, evidence);
        here.push(Found { places, when, ..found });
    };
    let names = &known.around.names;
    if verdict == Verdict::NotKnown {
        let measure = evaluated.judged.open.iter().map(|&at| names.values[at]).collect();
        let evidence = Evidence { measure, ..Evidence::bare(situation, relation, now) };
        push(Kind::ValueNotKnown, class, verdict, evidence);
        return;
    }
    let kind = match cause {
        _ if cuts.len() > 1 && is_by_more(known, evaluated) => Kind::SectionTooShort,
        Cause::Mixed => Kind::MixedDrive,
        Cause::Phase => Kind::PhaseOpposed,
        Cause::Clamp => Kind::IdleClamp,
        Cause::BackFeed => Kind::BackFeed,
        Cause::Opposed if relation == Some(Relation::Agree) => Kind::SwappedFeed,
        Cause::Opposed => Kind::OpposedPolarity,
    };
    if kind == Kind::BackFeed {
        let judged = &evaluated.judged;
        let lifted: Vec<_> =
            judged.lifted.iter().map(|l| (names.supplies[l.supply], l.from_v, l.to_v)).collect();
        let sunk: Vec<_> = judged.sunk.iter().map(|s| (names.supplies[s.0], s.1)).collect();
        // A lift that nothing speaks against is worth a note, no more.
        let class =
            if verdict <= Verdict::Caution && sunk.is_empty() { Class::Note } else { class };
        let evidence = Evidence { lifted, sunk, ..Evidence::bare(situation, relation, now) };
        push(kind, class, verdict, evidence);
        return;
    }
    // A conflict that stays well below everything that guards: clear, and nothing to say.
    if verdict == Verdict::Clear {
        return;
    }
    let evidence = crossing(evaluated, known, situation, relation, now, worst);
    push(kind, class, verdict, evidence);
}

/// Whether it is by what a train joins beside the two sides of the cut that it conflicts: those by themselves do not.
fn is_by_more(known: &Known, evaluated: &Evaluated) -> bool {
    let case = &known.case;
    let Some(at) = evaluated
        .stand
        .filter(|&at| known.around.stands.get(at).is_some_and(|stand| stand.by.train.is_some()))
    else {
        return false;
    };
    let Some(stand) = case.stands.get(at).filter(|_| evaluated.judged.worst_joint.is_some()) else {
        return false;
    };
    let own = |side: usize, net: NetIx| case.rails.iter().any(|rails| rails[side] == Some(net));
    let mut alone: NumericStand = stand.clone();
    alone.groups.retain(|group| {
        (0..2).all(|side| group.touched[side].iter().all(|touched| own(side, touched.0)))
    });
    if alone.groups.len() == stand.groups.len() {
        return false;
    }
    let powered = case.powered_for(&evaluated.settings);
    let scenario = case.scenario(&evaluated.settings, &powered);
    Bench::new(&case.wiring).judge(&scenario, Some(&alone)).worst_joint.is_none()
}

fn crossing(
    evaluated: &Evaluated,
    known: &Known,
    situation: Situation,
    relation: Option<Relation>,
    now: bool,
    worst: &Worst,
) -> Evidence {
    let idles = evaluated
        .judged
        .worst_joint
        .and_then(|(at, _)| evaluated.judged.joints.get(at))
        .map(|(_, parts)| {
            known
                .case
                .sides
                .into_iter()
                .flatten()
                .filter(|&side| !parts[side].drives)
                .map(|side| (known.around.names.drivers[side], parts[side].state))
                .collect()
        })
        .unwrap_or_default();
    Evidence { by_join: worst.by_join, idles, ..Evidence::bare(situation, relation, now) }
}

/// What must be switched off for a situation with one side dead.
fn when(layout: &Layout, evidence: &Evidence) -> Option<When> {
    if evidence.relation != Some(Relation::OneDead) || evidence.now {
        return None;
    }
    evidence.situation.settings.iter().find_map(|(&id, set)| match set.state {
        SetWord::Off => Some(When::DriverOff(id)),
        SetWord::Unpowered => layout.drivers.get(&id).map(|driver| When::SupplyOff(driver.supply)),
        SetWord::Forward | SetWord::Reverse | SetWord::Stopped | SetWord::On => None,
    })
}
