//! Track that leads back onto itself the other way round: `loop-uncut`, `loop-one-cut`, `unbalanced-loop`,
//! `section-too-short`.
//!
//! Loops that no section can cure are faults: metal that joins both rails is a short where it is fed; with one cut only,
//! one side of that cut is wrong whatever is reversed. Loops with room for a section are a note where something can
//! reverse one (what operators then have to do at its ends are rules of the gaps there), and a fault where nothing can.

use std::collections::{BTreeMap, BTreeSet};

use crate::findings::finding::at_cuts;
use crate::findings::{
    BlockId, Class, EndsApart, Evident, Found, Kind, Longest, LoopSections, Place, Relation, Round,
    Situation, Unfit, Verdict, View,
};
use crate::findings::{Cure, Near};
use crate::job::{Job, is_plain};
use crate::layout::{CutId, DriverId, Rail, Rails, RunId, SpecialId};
use crate::rails::balance::Group;
use crate::study::cut::is_worse;
use crate::study::loops::{self, Ways, longest_group};

/// A loop that nothing but more cuts can cure.
#[derive(Debug, Clone, PartialEq)]
pub struct Evidence {
    /// The loop.
    pub round: Round,
    /// The most that can bridge cuts.
    pub longest: Longest,
    /// The worst that a train does at the one cut, whatever is set.
    pub situation: Option<Situation>,
}

impl Evident for Evidence {
    fn situation(&self) -> Option<&Situation> {
        self.situation.as_ref()
    }
}

/// A block whose ends are bridged at once.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Apart {
    /// How far its ends lie apart.
    pub apart: EndsApart,
    /// What bridges them.
    pub longest: Longest,
    /// True if it is to be a reversing section; otherwise it is a short block that a vehicle stands over.
    pub reversing: bool,
}

impl Evident for Apart {}

impl Evident for LoopSections {}

/// Loops that no section can cure: those whose metal joins both rails, or those with both rails cut in one place.
pub(crate) fn without_room(view: &View, joined: bool) -> Vec<Found<Evidence>> {
    let loops = &view.loops;
    let ways = Ways::of(view.layout, &view.plan);
    let kind = if joined { Kind::LoopUncut } else { Kind::LoopOneCut };
    let mut found = Vec::new();
    let short = loops.cycles.iter().filter(|c| c.parted_at.len() < 2);
    for cycle in short.filter(|c| c.is_joined() == joined) {
        let round = loops::round(&view.plan, &ways, cycle);
        let stretches = cycle.steps.iter().filter(|s| s.joined || !joined).map(|s| s.stretch);
        let blocks = stretches.map(|at| view.plan.metal.track.stretches[at].block);
        let fed = joined && loops::joined_is_fed(view.layout, &view.plan, cycle);
        let blocks = shown(view, blocks);
        let cuts: Vec<CutId> = round.cuts.iter().chain(&round.one_rail).copied().collect();
        let situation = if joined { None } else { worst_at(view, &round.cuts) };
        let at_cut = situation.as_ref().map_or(Verdict::Clear, |s| s.verdict);
        let verdict = verdict(fed).max(at_cut);
        let evidence = Evidence { round, longest: loops.longest, situation };
        found.push(about(view, (kind, Class::Fault, verdict), cuts, blocks, evidence));
    }
    found
}

/// A block that can be a section, fed through a reversing switch, or on DCC through an auto-reverser.
pub(crate) fn reversed(e: &LoopSections, near: &Near) -> Vec<Cure> {
    let mut cures = Vec::new();
    for &block in
        e.sets.iter().filter_map(|set| if let [only] = &set[..] { Some(only) } else { None })
    {
        cures.extend(fed_reversed(near, block));
    }
    cures
}

/// The feeds of a block through a reversing switch, and through an auto-reverser if they bring DCC; a new feed like that
/// if it has none.
fn fed_reversed(near: &Near, block: BlockId) -> Vec<Cure> {
    let feeds = near.feeds_in(block);
    let digital = |from| near.driver_of(from).is_some_and(|driver| near.is_digital(driver));
    if let Some(first) = feeds.first() {
        let automatic = digital(first.driver);
        let feeds = feeds.iter().map(|feed| feed.id).collect();
        return vec![Job::Reverse { feeds, automatic }.into()];
    }
    let Some((run, at_mm)) = near.middle_of(block) else { return Vec::new() };
    let origins = near.neighbours(block).into_iter();
    let new = origins.flat_map(|from| {
        let automatic = digital(from);
        // Either polarity will do: the switch exchanges them.
        [Cure::from(Job::AddReversedFeed { from, run, at_mm, p: Rail::Left, automatic })]
    });
    new.collect()
}

/// Most places at which a new cut is proposed on one loop.
const MOST_PLACES: usize = 4;

/// A second cut on a loop with one: so far from the first, one way or the other round, that a section fits. The section is
/// fed through a reversing switch, or on DCC through an auto-reverser.
pub(crate) fn second_cut(round: &Round, longest: &Longest, near: &Near) -> Vec<Cure> {
    let Some(first) = round.cuts.first().and_then(|id| near.layout().cuts.get(id)) else {
        return two_cuts(round, longest, near);
    };
    let from = along_mm(round, first.run, first.at_mm).unwrap_or(0.0);
    let need = need_mm(round, near).max(longest.mm);
    let aways = [need, round.length_mm - need, round.length_mm / 2.0];
    let mut cures = Vec::new();
    for away in aways.into_iter().filter(|a| *a >= need && round.length_mm - *a >= need) {
        let Some(place) = plain_near(round, near, from + away) else { continue };
        // The section is the shorter way between the two cuts, or the longer one.
        for middle in [from + away / 2.0, from + away + (round.length_mm - away) / 2.0] {
            cures.extend(sectioned(round, near, &[place], middle));
        }
    }
    cures
}

/// Two cuts on a loop without any, with a section between them.
pub(crate) fn two_cuts(round: &Round, longest: &Longest, near: &Near) -> Vec<Cure> {
    let need = need_mm(round, near).max(longest.mm);
    let mut cures = Vec::new();
    let step = round.length_mm / MOST_PLACES as f64;
    for n in 0..MOST_PLACES {
        let start = step * n as f64;
        if round.length_mm < 2.0 * need {
            continue;
        }
        let ends = [start, start + need].map(|at| plain_near(round, near, at));
        let [Some(one), Some(two)] = ends else { continue };
        cures.extend(sectioned(round, near, &[one, two], start + need / 2.0));
    }
    cures
}

/// Cuts with the feed that the stretch around `middle` needs: its own feeds through a reversing switch, or a new one. Where
/// all feeds are inside, the rest of the block gets one from their source.
fn sectioned(round: &Round, near: &Near, places: &[(RunId, f64)], middle: f64) -> Vec<Cure> {
    let cuts = || places.iter().map(|&(run, at_mm)| Job::AddCut { run, at_mm, rails: Rails::Both });
    let Some((run, at_mm)) = plain_near(round, near, middle) else { return Vec::new() };
    let Some(block) = near.view.plan.block_at(run, at_mm) else { return Vec::new() };
    let mut origins = Vec::new();
    for feed in near.feeds_in(near.view.plan.blocks[block].id) {
        if !origins.contains(&feed.driver) {
            origins.push(feed.driver);
        }
    }
    let mut cures = Vec::new();
    for from in origins {
        let automatic = near.driver_of(from).is_some_and(|driver| near.is_digital(driver));
        // Either polarity will do: the switch exchanges them.
        let feed = Job::AddReversedFeed { from, run, at_mm, p: Rail::Left, automatic };
        cures.push(cuts().chain([feed]).collect::<Vec<Job>>().into());
        let own = near.feeds_in(near.view.plan.blocks[block].id);
        let feeds: Vec<_> = own.iter().filter(|f| f.driver == from).map(|f| f.id).collect();
        let reverse = Job::Reverse { feeds, automatic };
        cures.push(cuts().chain([reverse]).collect::<Vec<Job>>().into());
    }
    cures
}

/// The length that a new section on a loop needs, mm: with DCC it switches by itself.
fn need_mm(round: &Round, near: &Near) -> f64 {
    let feeds = round.blocks.iter().flat_map(|&block| near.feeds_in(block));
    let mut drivers = feeds.filter_map(|feed| near.driver_of(feed.driver)).peekable();
    let automatic = drivers.peek().is_some() && drivers.all(|driver| near.is_digital(driver));
    near.section_mm(automatic)
}

/// How far along a round a place of a run is, mm.
fn along_mm(round: &Round, run: RunId, at_mm: f64) -> Option<f64> {
    let mut before = 0.0;
    for stretch in &round.along {
        let (low, high) = (stretch.from_mm.min(stretch.to_mm), stretch.from_mm.max(stretch.to_mm));
        if stretch.run == run && (low..=high).contains(&at_mm) {
            return Some(before + (at_mm - stretch.from_mm).abs());
        }
        before += high - low;
    }
    None
}

/// The place of plain track nearest to a distance along a round, looked for onwards in steps of 20 mm.
fn plain_near(round: &Round, near: &Near, along_mm: f64) -> Option<(RunId, f64)> {
    let at = |mm: f64| {
        let mut left = mm.rem_euclid(round.length_mm.max(1.0));
        for stretch in &round.along {
            let length = (stretch.to_mm - stretch.from_mm).abs();
            if left <= length {
                let sign = (stretch.to_mm - stretch.from_mm).signum();
                return Some((stretch.run, stretch.from_mm + sign * left));
            }
            left -= length;
        }
        None
    };
    let steps = (0..30).map(|n| along_mm + 20.0 * f64::from(n));
    steps.filter_map(at).find(|&(run, at_mm)| is_plain(&near.view.plan, run, at_mm))
}

/// The worst situation at some cuts over all settings; `None` if a train does nothing there.
fn worst_at(view: &View, cuts: &[CutId]) -> Option<Situation> {
    let known = cuts.iter().filter_map(|cut| view.known.get(cut));
    let all = known.flat_map(|known| {
        let worst = [Relation::Agree, Relation::Disagree].map(|r| known.result.worst(r).worst);
        worst.into_iter().flatten().map(move |evaluated| (known, evaluated))
    });
    let grave = all
        .filter(|(_, e)| e.judged.verdict > Verdict::Clear && e.judged.verdict != Verdict::Stall);
    let (known, worst) = grave.reduce(|a, b| if is_worse(&b.1, &a.1) { b } else { a })?;
    Some(view.situation(known, &worst))
}

/// Unbalanced loops with room for sections, by what they have in common.
pub(crate) fn with_room(view: &View) -> Vec<Found<LoopSections>> {
    let ways = Ways::of(view.layout, &view.plan);
    view.loops.sections.groups.iter().map(|group| unbalanced(view, &ways, group)).collect()
}

/// Blocks whose ends are bridged at once.
pub(crate) fn too_short(view: &View) -> Vec<Found<Apart>> {
    let loops = &view.loops;
    let ways = Ways::of(view.layout, &view.plan);
    let groups = loops.sections.groups.iter();
    let too_short: BTreeSet<usize> = groups.flat_map(|group| short_sections(view, group)).collect();
    let mut found = Vec::new();
    for &block in &too_short {
        let Some(&apart) = loops.apart.get(&block) else { continue };
        let evidence = Apart { apart, longest: loops.longest, reversing: true };
        let fed = loops.fed.contains_key(&block) && loops.fed.len() > 1;
        let said = (Kind::SectionTooShort, Class::Fault, verdict(fed));
        let cuts = ends(view, &ways, block);
        found.push(of_vehicle(about(view, said, cuts, shown(view, [block]), evidence)));
    }
    stood_over(view, &ways, &too_short, &mut found);
    found
}

fn of_vehicle(found: Found<Apart>) -> Found<Apart> {
    Found { vehicle: found.evidence.longest.vehicle, train: found.evidence.longest.train, ..found }
}

fn verdict(fed: bool) -> Verdict {
    if fed { Verdict::Short } else { Verdict::Caution }
}

/// Unbalanced loops that have blocks in common, and what can be sections of them.
fn unbalanced(view: &View, ways: &Ways, group: &Group) -> Found<LoopSections> {
    let (plan, loops) = (&view.plan, &view.loops);
    let on = |at: usize| group.blocks.contains(&plan.metal.track.stretches[at].block);
    let rounds: Vec<Round> = loops
        .cycles
        .iter()
        .filter(|cycle| cycle.parted_at.len() > 1 && cycle.steps.iter().any(|s| on(s.stretch)))
        .map(|cycle| loops::round(plan, ways, cycle))
        .collect();
    let name = |block: usize| loops::shown(plan, block);
    let reversed: Vec<usize> = loops.controlled(plan, group).cloned().unwrap_or_default();
    let mut apart = BTreeMap::new();
    for &block in group.sets.iter().flatten() {
        if let (Some(id), Some(ends)) = (name(block), loops.apart.get(&block)) {
            apart.insert(id, *ends);
        }
    }
    let unfit = group.blocks.iter().filter_map(|&block| {
        let why = if loops.wired.contains(&block) || loops.sections.sharing.contains_key(&block) {
            Unfit::Shares
        } else if loops.is_short(block) {
            Unfit::Short(*loops.apart.get(&block)?)
        } else {
            return None;
        };
        Some((name(block)?, why))
    });
    let dcc: Vec<bool> = group.blocks.iter().filter_map(|b| loops.fed.get(b).copied()).collect();
    let mut cuts: Vec<CutId> = Vec::new();
    for cut in rounds.iter().flat_map(|round| &round.cuts) {
        if !cuts.contains(cut) {
            cuts.push(*cut);
        }
    }
    let mut sets: Vec<Vec<BlockId>> =
        group.sets.iter().map(|set| shown(view, set.iter().copied())).collect();
    sets.sort();
    let sound = !reversed.is_empty();
    let told = LoopSections {
        turntable: only_turntable(&rounds).filter(|_| group.at_least == 1),
        sets,
        at_least: group.at_least,
        all: group.all,
        exhaustive: group.exhaustive,
        reversed: (reversed.iter())
            .filter_map(|block| Some((name(*block)?, *loops.controls.get(block)?)))
            .collect(),
        apart,
        unfit: unfit.collect::<BTreeMap<_, _>>().into_iter().collect(),
        longest: loops.longest,
        fed_by: [dcc.contains(&false), dcc.contains(&true)],
        rounds,
    };
    let concerned = match (sound, group.sets.first()) {
        (true, _) => shown(view, reversed),
        // Each of the sets can be the section: none comes first.
        (false, Some(_)) => shown(view, group.sets.iter().flatten().copied()),
        (false, None) => shown(view, group.blocks.iter().copied()),
    };
    let all_fed = group.blocks.iter().all(|block| loops.fed.contains_key(block));
    let (class, weight) =
        if sound { (Class::Note, Verdict::Clear) } else { (Class::Fault, verdict(all_fed)) };
    about(view, (Kind::UnbalancedLoop, class, weight), cuts, concerned, told)
}

/// The turntable, if all loops lead over its bridge and no other.
fn only_turntable(rounds: &[Round]) -> Option<SpecialId> {
    let first = rounds.first()?.bridges.first()?;
    let only = |round: &Round| round.bridges == [*first] && round.cuts.is_empty();
    rounds.iter().all(only).then_some(*first)
}

/// Blocks that are meant to be sections, or have to be, and are too short: those that something reverses which feeds
/// them alone, and where no set passes those of the set that would if trains were short.
fn short_sections(view: &View, group: &Group) -> Vec<usize> {
    let loops = &view.loops;
    let mut short: Vec<usize> = group
        .blocks
        .iter()
        .copied()
        .filter(|block| loops.controls.get(block).is_some_and(|r| r.rank() < 3))
        .collect();
    if group.sets.is_empty() {
        let of_any_length = loops.of_any_length.iter();
        for any in of_any_length.filter(|any| any.blocks.iter().any(|b| group.blocks.contains(b))) {
            // Of sets that nothing reverses the longest lacks the least.
            let mm = |set: &[usize]| -> f64 {
                set.iter().map(|&block| loops::length_mm(&view.plan, block)).sum()
            };
            let longest = any.sets.iter().max_by(|a, b| mm(a).total_cmp(&mm(b)));
            let meant = loops.controlled(&view.plan, any).or(longest);
            short.extend(meant.into_iter().flatten());
        }
    }
    short.retain(|&block| loops.is_short(block));
    short
}

/// Blocks that one pickup group stands over from end to end: it joins the blocks on both sides.
fn stood_over(view: &View, ways: &Ways, told: &BTreeSet<usize>, found: &mut Vec<Found<Apart>>) {
    let longest = longest_group(view.layout);
    let stretches = view.plan.metal.track.stretches.iter();
    let blocks: BTreeSet<usize> = stretches.map(|s| s.block).collect();
    for block in blocks.into_iter().filter(|block| !told.contains(block)) {
        let Some(apart) = ways.through(block, longest.mm) else { continue };
        let blocks = shown(view, [block]);
        if blocks.is_empty() || apart.mm <= 0.0 {
            continue;
        }
        let said = (Kind::SectionTooShort, Class::Note, Verdict::Caution);
        let evidence = Apart { apart, longest, reversing: false };
        found.push(of_vehicle(about(view, said, ends(view, ways, block), blocks, evidence)));
    }
}

/// Cuts that end a block.
fn ends(view: &View, ways: &Ways, block: usize) -> Vec<CutId> {
    let links = &view.plan.metal.track.links;
    let cuts = ways.ends_of(block).into_iter().filter_map(|(link, _)| match links[link].kind {
        crate::rails::balance::LinkKind::Cut { id, .. } => Some(CutId(id)),
        _ => None,
    });
    cuts.collect()
}

fn shown(view: &View, blocks: impl IntoIterator<Item = usize>) -> Vec<BlockId> {
    let blocks: BTreeSet<usize> = blocks.into_iter().collect();
    let shown = blocks.into_iter().filter_map(|block| loops::shown(&view.plan, block));
    // By identity: their numbers are of no meaning.
    shown.collect::<BTreeSet<_>>().into_iter().collect()
}

/// A finding about blocks and what drives them.
fn about<E>(
    view: &View,
    (kind, class, verdict): (Kind, Class, Verdict),
    cuts: Vec<CutId>,
    blocks: Vec<BlockId>,
    evidence: E,
) -> Found<E> {
    let of_plan = view.plan.blocks.iter().filter(|block| blocks.contains(&block.id));
    let drivers: BTreeSet<DriverId> = of_plan.flat_map(|block| block.drivers.clone()).collect();
    let drivers = drivers.into_iter().collect();
    // A loop without a cut is where its blocks are.
    let places = match &cuts[..] {
        [] => blocks.iter().copied().map(Place::Block).collect(),
        _ => at_cuts(cuts),
    };
    Found { places, blocks, drivers, ..Found::new(kind, class, verdict, evidence) }
}
