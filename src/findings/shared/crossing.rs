//! What a train over a place shorts, each cause as a finding of its own: the kinds `opposed-polarity`, `swapped-feed`,
//! `idle-clamp`, `back-feed`, `mixed-drive`, `phase-opposed`, `phase-skewed`, `boosters-unequal`, `two-stations`,
//! `shared-negative-short`, `section-too-short` under a train, `not-explained`, and `value-not-known` where assumed values
//! decide.
//!
//! The study proves the causes by the changes that remove them ([`crate::study::causes`]). Settings that agree must be
//! clear, so a cause there is a fault. Settings that disagree are expected to short: an operating rule, and a fault where
//! they are set now. One side dead is a fault where it is so now, or where operators switch that side by itself.

use std::collections::BTreeSet;

pub use super::change::Change;
use super::change::changes_of;
use super::{at_place, points};
use crate::drive::{SetWord, StateWord};
use crate::findings::{
    Class, Cure, Evident, Finding, Found, Kind, Near, Place, Relation, Reversal, Situation,
    Verdict, View, When,
};
use crate::layout::{CutId, DriverId, EntityId, Layout, RunId, SpecialId, SupplyId};
use crate::rails::PlanNet;
use crate::straddle::path::ruler;
use crate::study::causes::{Cause, Counterfactual};
use crate::study::cut::{CauseAt, Evaluated, LiftAt, Pair};
use crate::study::situation::Known;

/// A pole that stands above what its supply gives.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lift {
    /// The supply.
    pub supply: SupplyId,
    /// What it gives by itself, V: 0 if it is off.
    pub own_v: f64,
    /// Voltage of its pole, V.
    pub to_v: f64,
    /// True if the supply is on.
    pub powered: bool,
}

/// A situation at a place, and the cause that has a share in it.
#[derive(Debug, Clone, PartialEq)]
pub struct Evidence {
    /// The worst situation in which the cause has a share.
    pub situation: Situation,
    /// How the settings stand to each other; `None` where nothing there drives.
    pub relation: Option<Relation>,
    /// True for the situation set now.
    pub now: bool,
    /// +1 where equal directions carry a train on through the place, −1 where opposite ones do.
    pub sign: i8,
    /// Share of time that belongs to the cause.
    pub share: f64,
    /// The changes that together remove it.
    pub changes: Vec<Change>,
    /// Changes that do the same in place of one of those.
    pub instead: Vec<Change>,
    /// True if one joined rail is enough although both are cut.
    pub one_rail: bool,
    /// Worst verdict with both rails joined, with only the left, with only the right.
    pub by_join: [Option<Verdict>; 3],
    /// Drivers whose idle states have a part in it, and those states.
    pub idles: Vec<(DriverId, StateWord)>,
    /// Poles that are lifted.
    pub lifted: Vec<Lift>,
    /// Supplies that take current back, A.
    pub sunk: Vec<(SupplyId, f64)>,
    /// Values whose ranges leave the verdict open: the entity (`None`: the layout) and the field.
    pub measure: Vec<(Option<EntityId>, &'static str)>,
}

impl Evidence {
    /// A situation of which nothing further is known.
    pub(crate) fn bare(situation: Situation, relation: Option<Relation>, now: bool) -> Evidence {
        Evidence {
            share: situation.share,
            situation,
            relation,
            now,
            sign: 1,
            changes: Vec::new(),
            instead: Vec::new(),
            one_rail: false,
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

    fn changes(&self) -> &[Change] {
        &self.changes
    }
}

/// A finding of this family.
pub(super) type Crossing = Found<Evidence>;

/// Every finding of this family in a view.
struct Crossings(Vec<Crossing>);

/// The findings of one kind in a view.
pub(crate) fn of_kind(view: &View, kind: Kind) -> Vec<Crossing> {
    let all = view.shared.get(|| {
        let mut found = Vec::new();
        for (cut, known) in view.all_known() {
            place(view, Some(cut), known, &mut found);
        }
        points::find(view, &mut found);
        Crossings(found)
    });
    all.0.iter().filter(|f| f.kind == kind).cloned().collect()
}

/// Cures by the changes that prove the cause, and by those that do the same in the place of one of them.
pub(crate) fn cures(e: &Evidence, near: &Near) -> Vec<Cure> {
    let mut cures = near.by_changes(&e.changes);
    for other in &e.instead {
        let alike = |own: &Change| std::mem::discriminant(own) == std::mem::discriminant(other);
        for at in (0..e.changes.len()).filter(|&at| alike(&e.changes[at])) {
            let mut changes = e.changes.clone();
            changes[at] = other.clone();
            cures.extend(near.by_changes(&changes));
        }
    }
    // What operators avoid by their settings needs no wiring; a fault takes whatever ends it.
    if near.finding.class != Class::Rule {
        cures.extend(near.singles());
    }
    cures
}

/// True if two findings of one class are removed by the same changes.
pub(crate) fn same_changes(
    (a, one): (&Finding, &Evidence),
    (b, other): (&Finding, &Evidence),
) -> bool {
    // What holds as the selectors stand now is not what another position brings.
    a.class == b.class
        && a.positions.is_empty() == b.positions.is_empty()
        && (one.relation, one.now) == (other.relation, other.now)
        && !one.changes.is_empty()
        && one.changes == other.changes
}

/// Makes a rule of what some position of the selectors avoids: a gap at which drives of two kinds meet only while a
/// selector stands so is an end of a transfer section.
pub(crate) fn transfer_ends(views: &[View], found: &mut [Finding]) {
    for finding in found.iter_mut().filter(|f| f.class == Class::Fault) {
        let built_in = matches!(
            finding.kind,
            Kind::MixedDrive | Kind::PhaseOpposed | Kind::PhaseSkewed | Kind::TwoStations
        );
        let own_kind =
            |view: &View| finding.cuts().into_iter().all(|cut| meets_its_own_kind(view, cut));
        if built_in && views.iter().skip(1).any(own_kind) {
            finding.class = Class::Rule;
        }
    }
}

/// True if a cut is known in these positions of the selectors, and what meets there can be set so that it agrees.
fn meets_its_own_kind(view: &View, cut: CutId) -> bool {
    view.known
        .get(&cut)
        .is_some_and(|known| !known.result.causes.iter().any(|cause| is_built_in(cause.cause)))
}

/// True for causes that no throttle can avoid.
fn is_built_in(cause: Cause) -> bool {
    match cause {
        Cause::Mixed | Cause::Phase | Cause::Stations | Cause::Delay => true,
        Cause::DoublyFed
        | Cause::CommonRail
        | Cause::Polarity
        | Cause::Wakes
        | Cause::Idle
        | Cause::Voltage
        | Cause::Ties
        | Cause::NotExplained => false,
    }
}

/// Adds the findings of a place, all classes of settings.
pub(super) fn place(view: &View, cut: Option<CutId>, known: &Known, found: &mut Vec<Crossing>) {
    let against = set_against(view, known);
    if !against.is_empty() {
        let specials = against.into_iter().map(Place::Special);
        let places = cut.map(Place::Cut).into_iter().chain(specials).collect();
        let finding = points::against(view, known).map(|f| Found { places, ..f });
        found.extend(finding);
        return;
    }
    let result = &known.result;
    let at = At { view, cut, known };
    if view.is_now && result.now_relation != Some(Relation::Agree) {
        // What no throttle avoids is no matter of the settings now.
        let causes = result.causes_now.iter().filter(|cause| !is_built_in(cause.cause));
        found.extend(causes.filter_map(|cause| at.of_cause(cause, true, Class::Fault)));
        found.extend(result.lifts_now.iter().filter_map(|l| at.of_lift(l, true)));
    }
    for cause in &result.causes {
        // Which directions agree is a matter of where one starts to count on a loop that comes back turned.
        let turned = at.is_turned(cause) || at.is_polarity_on_loop(cause);
        let turned = turned && cause.relation == Relation::Agree;
        if turned && view.is_now && result.now_relation == Some(Relation::Agree) {
            let as_set_now = CauseAt { worst: result.now.clone(), ..cause.clone() };
            found.extend(at.of_cause(&as_set_now, true, Class::Fault));
        }
        let class = match cause.relation {
            Relation::Agree if turned => Class::Rule,
            Relation::Agree => Class::Fault,
            Relation::OneDead if cause.separately_switched => Class::Fault,
            Relation::OneDead => Class::Note,
            // What only other positions of the selectors bring is for operators to avoid.
            Relation::Disagree if is_built_in(cause.cause) && view.is_now => Class::Fault,
            Relation::Disagree => Class::Rule,
        };
        found.extend(at.of_cause(cause, false, class));
    }
    found.extend(result.lifts.iter().filter_map(|lift| at.of_lift(lift, false)));
}

/// A solved place.
struct At<'a> {
    view: &'a View<'a>,
    cut: Option<CutId>,
    known: &'a Known,
}

impl At<'_> {
    /// The finding of a cause.
    fn of_cause(&self, cause: &CauseAt, now: bool, class: Class) -> Option<Crossing> {
        let evaluated = cause.worst.worst.as_ref()?;
        let verdict = evaluated.judged.verdict;
        // A conflict that stays well below every threshold is clear.
        let grave = !matches!(verdict, Verdict::Clear | Verdict::Stall);
        if !grave || self.is_of_agreeing(cause) || self.is_of_loop(cause) {
            return None;
        }
        let (view, known) = (self.view, self.known);
        let names = &known.around.names;
        let cuts = self.cut.map_or_else(Vec::new, |cut| bridged(view, cut, known, evaluated));
        let mut evidence = self.evidence(cause, evaluated, now);
        let kind = if verdict == Verdict::NotKnown {
            evidence.measure = evaluated.judged.open.iter().map(|&at| names.values[at]).collect();
            Kind::ValueNotKnown
        } else if cuts.len() > 1 && self.bridges_a_section(cause) {
            Kind::SectionTooShort
        } else {
            self.kind(cause)
        };
        let at_section = |cut: &CutId| is_for_the_operator(view, *cut, kind);
        let class = match class {
            Class::Fault if cuts.len() == 1 && cuts.iter().any(at_section) => Class::Rule,
            class => class,
        };
        let when = when(view.layout, &evidence);
        let drivers = cause.parties.iter().map(|&at| names.drivers[at]).collect();
        let places = cuts.into_iter().map(Place::Cut).collect();
        let found = at_place(view, Some(known), kind, class, verdict, evidence);
        Some(Found { places, when, drivers, now, ..found })
    }

    /// True if a train joins one driver with itself the other way round: the place is on a loop that comes back turned.
    fn is_turned(&self, cause: &CauseAt) -> bool {
        let alone = |pair: &Pair| pair.drivers[0] == pair.drivers[1];
        cause.pair.is_some_and(|pair| alone(&pair) && (pair.sign < 0 || self.is_on_loop()))
    }

    /// True if the place is on a loop that comes back turned.
    fn is_on_loop(&self) -> bool {
        self.cut.is_some_and(|cut| self.view.loops.lead_over(&self.view.plan, cut))
    }

    /// True for a polarity on a loop that comes back turned: somewhere on it equal directions oppose however the feeds are
    /// wired, and where they do is a matter of where one starts to count.
    fn is_polarity_on_loop(&self, cause: &CauseAt) -> bool {
        cause.cause == Cause::Polarity && self.is_on_loop()
    }

    /// True for what disagreeing settings share with agreeing ones: it is reported with those.
    fn is_of_agreeing(&self, cause: &CauseAt) -> bool {
        let shared = match cause.cause {
            Cause::Idle | Cause::Voltage => true,
            Cause::DoublyFed
            | Cause::CommonRail
            | Cause::Polarity
            | Cause::Wakes
            | Cause::Phase
            | Cause::Stations
            | Cause::Delay
            | Cause::Mixed
            | Cause::Ties
            | Cause::NotExplained => false,
        };
        let agrees =
            |other: &CauseAt| other.relation == Relation::Agree && other.cause == cause.cause;
        shared
            && cause.relation == Relation::Disagree
            && self.known.result.causes.iter().any(agrees)
    }

    /// True for a block that meets itself with its rails exchanged: the loop is reported.
    fn is_of_loop(&self, cause: &CauseAt) -> bool {
        let at = self.known.around.at;
        at.block_before == at.block_after && self.is_turned(cause)
    }

    /// True if the conflict is that of two parties beyond the two sides, or of one driver with itself, which a long train
    /// joins across a section.
    fn bridges_a_section(&self, cause: &CauseAt) -> bool {
        let Some(pair) = cause.pair else { return false };
        let [a, b] = pair.drivers;
        let beyond = self.known.case.sides != [Some(a), Some(b)];
        beyond && (is_built_in(cause.cause) || (a == b && pair.sign < 0))
    }

    fn kind(&self, cause: &CauseAt) -> Kind {
        match cause.cause {
            Cause::Polarity if cause.relation == Relation::Agree && !self.is_on_loop() => {
                Kind::SwappedFeed
            }
            Cause::Polarity => Kind::OpposedPolarity,
            Cause::Idle => Kind::IdleClamp,
            Cause::Voltage if self.only_boosters(cause) => Kind::BoostersUnequal,
            Cause::Voltage | Cause::Wakes => Kind::BackFeed,
            Cause::Phase => Kind::PhaseOpposed,
            Cause::Stations => Kind::TwoStations,
            Cause::Delay => Kind::PhaseSkewed,
            Cause::Mixed => Kind::MixedDrive,
            Cause::Ties => Kind::SharedNegativeShort,
            // One driver that a train joins with itself the other way round: no change but of the track cures it.
            Cause::NotExplained if self.is_turned(cause) => Kind::OpposedPolarity,
            Cause::DoublyFed | Cause::CommonRail | Cause::NotExplained => Kind::NotExplained,
        }
    }

    fn only_boosters(&self, cause: &CauseAt) -> bool {
        cause.parties.iter().all(|&at| {
            let drive = crate::drive::of(&self.known.case.controls[at].driver.drive);
            drive.signal() != crate::drive::Signal::Direct
        })
    }

    fn evidence(&self, cause: &CauseAt, evaluated: &Evaluated, now: bool) -> Evidence {
        let (view, known) = (self.view, self.known);
        let names = &known.around.names;
        let judged = &evaluated.judged;
        let parts = judged.worst_joint.and_then(|(at, _)| judged.joints.get(at)).map(|j| &j.1);
        let idles = cause.changes.iter().filter_map(|change| {
            let Counterfactual::Coasts(at) = *change else { return None };
            let part = parts?.get(at).filter(|part| !part.drives)?;
            Some((names.drivers[at], part.state))
        });
        let both_cut = self.cut.and_then(|cut| view.layout.cuts.get(&cut));
        let both_cut = both_cut.is_some_and(|cut| cut.rails == crate::layout::Rails::Both);
        Evidence {
            sign: cause.pair.map_or(known.case.sign, |pair| pair.sign),
            share: cause.share,
            changes: changes_of(view, known, &cause.changes),
            instead: changes_of(view, known, &cause.instead),
            one_rail: cause.one_rail && both_cut,
            by_join: cause.worst.by_join,
            idles: idles.collect(),
            sunk: judged.sunk.iter().map(|s| (names.supplies[s.0], s.1)).collect(),
            ..Evidence::bare(view.situation(known, evaluated), Some(cause.relation), now)
        }
    }

    /// The finding of a lifted pole: a note, unless the pole bears less.
    fn of_lift(&self, lift: &LiftAt, now: bool) -> Option<Crossing> {
        if lift.relation == Relation::Disagree || (now && lift.verdict < Verdict::BackFeed) {
            return None;
        }
        let (view, known) = (self.view, self.known);
        let class = match lift.relation {
            _ if lift.verdict < Verdict::BackFeed => Class::Note,
            _ if now => Class::Fault,
            Relation::OneDead if !lift.separately_switched => Class::Note,
            Relation::Agree | Relation::OneDead | Relation::Disagree => Class::Fault,
        };
        let supply = known.around.names.supplies[lift.supply];
        let (own_v, to_v, powered) = (lift.own_v, lift.to_v, lift.powered);
        let situation = view.situation(known, &lift.situation);
        let evidence = Evidence {
            lifted: vec![Lift { supply, own_v, to_v, powered }],
            changes: Some(Change::OneVoltage).filter(|_| lift.by_voltage).into_iter().collect(),
            ..Evidence::bare(situation, Some(lift.relation), now)
        };
        let cuts = self.cut.map_or_else(Vec::new, |cut| bridged(view, cut, known, &lift.situation));
        let when = if powered { None } else { Some(When::SupplyOff(supply)) };
        let found = at_place(view, Some(known), Kind::BackFeed, class, lift.verdict, evidence);
        let places = cuts.into_iter().map(Place::Cut).collect();
        Some(Found { places, when, now, things: vec![EntityId::Supply(supply)], ..found })
    }
}

/// The live points that are set against the track on a side of a place, so that both its rails are of one pole: those of
/// both sides.
pub(crate) fn set_against(view: &View, known: &Known) -> BTreeSet<SpecialId> {
    let at = known.around.at;
    let sides = [at.block_before, at.block_after].map(|block| &view.plan.blocks[block]);
    let of_one_pole = sides.into_iter().filter(|block| block.nets[0] == block.nets[1]);
    of_one_pole.flat_map(|block| block.follows.iter().copied()).collect()
}

/// True if a conflict at a cut is that of a reversing section's far end: it opposes there until the train is inside and
/// what lies ahead, or the section, is reversed. At another end trains must be able to go in.
pub(crate) fn is_for_the_operator(view: &View, cut: CutId, kind: Kind) -> bool {
    let Some((by, ends)) = view.loops.section_at(&view.plan, cut) else { return false };
    let suits = match kind {
        Kind::OpposedPolarity => true,
        // Throttles show their directions by themselves; an exchange behind them is not in their labels.
        Kind::SwappedFeed | Kind::PhaseOpposed => !matches!(by, Reversal::Driver(_)),
        _ => false,
    };
    let goes_in = |end: &CutId| {
        let Some(known) = view.known.get(end) else { return false };
        let opposes = |cause: &CauseAt| cause.cause == Cause::Polarity || is_built_in(cause.cause);
        let agreeing = known.result.causes.iter().filter(|c| c.relation == Relation::Agree);
        !known.result.causes_now.iter().chain(agreeing).any(opposes)
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
    let own = [at.before, at.after].map(|piece| view.plan.pieces[piece].nets);
    // Beyond the far end of a section may lie the same block as before the near one, the other way round.
    let on_its_side = |side: usize, touched: &[(PlanNet, u32)]| {
        touched.iter().all(|t| own.iter().any(|nets| nets[side] == t.0.0))
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
