//! A plan from wishes: cuts by labels, then feeders, as jobs with their reasons.

use std::collections::{BTreeMap, BTreeSet};

use super::cells::Cells;
use super::feeders::{Fed, Feeders};
use super::holds::{common_is_sound, with_holds};
use super::label::{Labelled, Meaning, label};
use super::sections::{Reversing, Section, with_best_sections};
use super::wish::{Hand, Longest, NoPlan, Wishes};
use crate::job::Job;
use crate::layout::geometry::tenths;
use crate::layout::{DeviceKind, FeedId, Layout, Origin, Rail, Rails, shown};
use crate::rails::Plan;
use crate::rails::balance::is_balanced;

/// Where to cut and what to feed.
#[derive(Debug, Clone, PartialEq)]
pub struct Planned {
    /// The jobs, in order, each with its reason in one line.
    pub jobs: Vec<(Job, String)>,
    /// How many rails are cut anew.
    pub rail_cuts: usize,
    /// How many wires are new.
    pub wires: usize,
    /// How many drivers are new.
    pub drivers: usize,
    /// How many reversers are new.
    pub reversers: usize,
    /// Pairs of stretches that one source feeds: they are cut apart and run together.
    pub shared: Vec<[String; 2]>,
    /// Places where a train is held that no points make dead, though they may: indices in the wishes.
    pub(super) lit: Vec<usize>,
    /// Reversing sections, those that are there too.
    pub sections: Vec<Reversing>,
    /// True if no other set of reversing sections of those that were looked at is cheaper.
    pub sections_proved: bool,
    /// True if no labelling of the sites takes fewer rail cuts. The labels are never too few; on layouts whose roads may be
    /// dead a plan with fewer cuts may exist.
    pub fewest_by_labels: bool,
}

/// The label of a cell.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Name {
    /// A pole of a stretch: its index, and the hand.
    Pole(usize, Rail),
    /// The rail that stays common.
    Common,
    /// A frog, or frogs that are one metal.
    Frog(usize),
}

impl Name {
    /// The stretch whose pole it is.
    pub(super) fn owner(&self) -> Option<usize> {
        match self {
            Name::Pole(n, _) => Some(*n),
            Name::Common | Name::Frog(_) => None,
        }
    }

    /// The hand that it is for.
    fn hand(&self, wishes: &Wishes) -> Option<Rail> {
        match (self, wishes.rails) {
            (Name::Pole(_, hand), _) => Some(*hand),
            (Name::Common, Hand::Common(hand)) => Some(hand),
            (Name::Common, Hand::Both) | (Name::Frog(_), _) => None,
        }
    }
}

/// Plans the cuts and feeds of a layout. Cuts and feeds that are there stay.
///
/// # Errors
/// The wishes cannot be met on this track, or the track is of a kind that is not planned; with the reason.
pub fn plan(layout: &Layout, wishes: &Wishes) -> Result<Planned, NoPlan> {
    let drawn = Plan::derive(layout);
    let balanced = is_balanced(&drawn.metal.track);
    valid(layout, wishes, &drawn, balanced)?;
    common_is_sound(layout, wishes)?;
    let planned = |wishes: &Wishes| match balanced {
        true => Ok(with_sections(layout, wishes, &drawn, &[])?.0),
        false => with_best_sections(layout, wishes, &drawn),
    };
    if wishes.hold.is_empty() {
        return planned(wishes);
    }
    // A train may stand beyond points that take its current away; where none do, its block has a switch.
    let mut switched: Vec<bool> = wishes.hold.iter().map(|hold| !hold.may_go_dark).collect();
    let mut last = planned(&with_holds(layout, wishes, &drawn, &switched)?)?;
    if !last.lit.is_empty() {
        last.lit.iter().for_each(|&hold| switched[hold] = true);
        last = planned(&with_holds(layout, wishes, &drawn, &switched)?)?;
    }
    Ok(last)
}

/// What labelling came to.
pub(super) struct Labels {
    /// Cost of the cuts, in the measure of [`CUT`](super::cells::CUT).
    pub(super) cost: u64,
}

/// The plan with these reversing sections.
pub(super) fn with_sections(
    layout: &Layout,
    wishes: &Wishes,
    drawn: &Plan,
    sections: &[Section],
) -> Result<(Planned, Labels), NoPlan> {
    let feeds = feeds_by_stretch(layout, wishes, drawn, sections);
    let cells = Cells::of(layout, wishes, sections)?;
    let (fixed, names) = terminals(layout, wishes, &cells, &feeds, sections)?;
    let edges = cells.edges();
    let mate = |name: &Name| match *name {
        Name::Pole(n, hand) => {
            let other = Name::Pole(n, hand.other());
            names.iter().position(|name| *name == other)
        }
        Name::Common | Name::Frog(_) => None,
    };
    let section = |name: &Name| sections.iter().position(|s| name.owner() == Some(s.owner));
    let mut meaning = Meaning {
        owners: names.iter().map(Name::owner).collect(),
        mates: names.iter().map(mate).collect(),
        hands: names.iter().map(|name| name.hand(wishes)).collect(),
        of_cells: cells.hands(),
        sections: names.iter().map(section).collect(),
        sections_of_cells: cells.sections(),
    };
    let pairs = cells.pairs();
    let count = cells.metal.nets.len();
    let mut labelled = label(count, (&edges, &pairs), &fixed, &meaning);
    // A frog is of the stretch of its toe: a road whose other rail is of another stretch would be fed on one rail.
    for _ in 0..MOST_ROUNDS {
        let owners = frog_owners(&cells, &labelled.labels, &names);
        if owners == meaning.owners {
            break;
        }
        meaning.owners = owners;
        let next = label(count, (&edges, &pairs), &fixed, &meaning);
        // The next labels are the fewest for these owners only.
        let exact = next.exact && next.labels == labelled.labels;
        labelled = Labelled { exact, ..next };
    }
    if meaning.is_amiss(&labelled.labels) {
        return Err(NoPlan(
            "The plan cannot be made: some track between reversing sections has no name and no feed. Name it.".into(),
        ));
    }
    let mut jobs = cuts(&cells, &labelled.labels, &names, (wishes, sections));
    let rail_cuts = jobs.iter().map(|(job, _)| rails_of(job)).sum();
    let fed = Feeders {
        layout,
        wishes,
        cells: &cells,
        labels: &labelled.labels,
        names: &names,
        sections,
    };
    let mut named = wishes.clone();
    named.apart.truncate(wishes.apart.len() - sections.iter().filter(|s| !s.has_name).count());
    named.apart.retain(|stretch| stretch.hold.is_none());
    let usual = feeds_by_stretch(layout, &named, drawn, &[]);
    let fed = fed.planned(&feeds, &usual)?;
    let Fed { wires, drivers, reversers, .. } = fed;
    jobs.extend(fed.jobs);
    let planned = Planned {
        jobs,
        rail_cuts,
        wires,
        drivers,
        reversers,
        shared: fed.shared,
        lit: lit(&cells, &labelled.labels, &names, wishes),
        sections: Vec::new(),
        sections_proved: true,
        fewest_by_labels: labelled.exact,
    };
    Ok((planned, Labels { cost: labelled.cost }))
}

pub(super) fn rails_of(job: &Job) -> usize {
    match job {
        Job::AddCut { rails: Rails::Both, .. } => 2,
        Job::AddCut { .. } | Job::CutBoth(_) => 1,
        _ => 0,
    }
}

fn valid(layout: &Layout, wishes: &Wishes, drawn: &Plan, balanced: bool) -> Result<(), NoPlan> {
    if wishes.apart.is_empty() && !balanced {
        return Err(NoPlan(
            "The track comes back on itself with its rails exchanged. Name the stretch that is to be the main line (in the \
             window: Track, Name a stretch here), so that reversing sections can be planned beside it."
                .into(),
        ));
    }
    if wishes.apart.len() < 2 && balanced {
        return Err(NoPlan(
            "There is nothing to keep apart. Name at least two stretches of track that are to be controlled by themselves (in the window: Track, Name a stretch \
             here)."
                .into(),
        ));
    }
    for &(run, from, to) in &wishes.never {
        if !layout.runs.contains_key(&run) || from.is_nan() || to.is_nan() || from > to {
            return Err(NoPlan(format!(
                "In never: {from} to {to} mm of run {run} is no stretch of track. Name a run that is there, and from before to."
            )));
        }
    }
    let longest = wishes.longest.iter().chain(wishes.hold.iter().flat_map(|hold| &hold.train));
    for one in longest {
        let wrong = match one {
            Longest::Train(id) if layout.trains.contains_key(id) => continue,
            Longest::Train(id) => format!("the layout has no train {id}"),
            Longest::Mm(mm) if mm.is_finite() && *mm > 0.0 => continue,
            Longest::Mm(mm) => format!("{mm} mm is no length of a train"),
        };
        return Err(NoPlan(format!(
            "In the wishes: {wrong}. Write Train(\"t1\") with a train that is there, or Mm(1630)."
        )));
    }
    for stretch in &wishes.apart {
        let off = stretch.at.iter().find(|at| {
            layout.runs.get(&at.run).is_none_or(|run| {
                !(0.0..=crate::layout::length_mm(layout, run)).contains(&at.at_mm)
            })
        });
        let name = shown(&stretch.name);
        if let Some(at) = off {
            return Err(NoPlan(format!(
                "The stretch {name} has a place that is not on the track: {} mm along run {}.",
                at.at_mm, at.run
            )));
        }
        if stretch.name.trim().is_empty() {
            return Err(NoPlan(
                "A stretch has no name. Give each stretch a name of its own.".into(),
            ));
        }
        if wishes.apart.iter().filter(|other| other.name == stretch.name).count() > 1 {
            return Err(NoPlan(format!(
                "Two stretches are named {name}. Give each a name of its own, or make them one."
            )));
        }
        let inside = stretch.at.iter().find(|at| drawn.block_at(at.run, at.at_mm).is_none());
        if let Some(at) = inside.filter(|_| off.is_none()) {
            return Err(NoPlan(format!(
                "The name {name} stands inside special work or a gap, {} mm along run {}. Move it to plain track.",
                at.at_mm, at.run
            )));
        }
        if stretch.at.is_empty() {
            return Err(NoPlan(format!("The stretch {name} has no place on the track.")));
        }
        if stretch.driver.is_some_and(|id| !layout.drivers.contains_key(&id)) {
            return Err(NoPlan(format!("The driver of stretch {name} is not on the layout.")));
        }
    }
    Ok(())
}

/// The stretch that each feed is of: the only one named in its block, or the nearest named on its run, or the nearest in
/// its block by the order of runs.
fn feeds_by_stretch(
    layout: &Layout,
    wishes: &Wishes,
    drawn: &Plan,
    sections: &[Section],
) -> BTreeMap<FeedId, usize> {
    let mut of = BTreeMap::new();
    for feed in layout.feeds.values() {
        if let Some(section) = sections.iter().find(|s| s.has(feed.run, feed.at_mm)) {
            of.insert(feed.id, section.owner);
            continue;
        }
        let block = drawn.block_at(feed.run, feed.at_mm);
        let mut best: Option<(bool, f64, usize)> = None;
        let stretches = wishes.apart.iter().enumerate();
        let turned = |n: usize| sections.iter().any(|s| s.owner == n);
        let fits = |(n, stretch): &(usize, &super::wish::Stretch)| {
            !turned(*n) && (stretch.hold.is_none() || can_be_off(layout, feed.driver))
        };
        for (n, stretch) in stretches.filter(fits) {
            for at in &stretch.at {
                if drawn.block_at(at.run, at.at_mm) != block {
                    continue;
                }
                let far = if at.run == feed.run { (at.at_mm - feed.at_mm).abs() } else { f64::MAX };
                let new = (at.run != feed.run, far, n);
                if best.is_none_or(|old| (new.0, new.1) < (old.0, old.1)) {
                    best = Some(new);
                }
            }
        }
        if let Some((.., n)) = best {
            of.insert(feed.id, n);
        }
    }
    of
}

/// True if a device has a position in which it joins nothing.
fn can_be_off(layout: &Layout, from: Origin) -> bool {
    let Origin::Device(id) = from else { return false };
    match layout.devices.get(&id).map(|device| &device.kind) {
        Some(DeviceKind::CabSelector { cabs }) => cabs.contains(&None),
        Some(DeviceKind::ReversingSwitch { centre_off, .. }) => *centre_off,
        _ => false,
    }
}

/// Labels by number, with their names.
type Terminals = (BTreeMap<usize, usize>, Vec<Name>);

/// The cells whose label is given: poles at live places and at feeds, and frogs.
fn terminals(
    layout: &Layout,
    wishes: &Wishes,
    cells: &Cells,
    feeds: &BTreeMap<FeedId, usize>,
    sections: &[Section],
) -> Result<Terminals, NoPlan> {
    let mut of_cell: BTreeMap<usize, Name> = BTreeMap::new();
    let name_of = |name: &Name| match name {
        Name::Pole(n, _) => format!("stretch {}", shown(&wishes.apart[*n].name)),
        Name::Common => "the common rail".to_owned(),
        Name::Frog(_) => "a frog".to_owned(),
    };
    let mut take = |cell: Option<usize>, name: Name| match cell {
        None => Ok(()),
        Some(cell) => match of_cell.insert(cell, name) {
            Some(old) if old != name => Err(NoPlan(format!(
                "There is no room for a gap between {} and {}. Move the name or the feed farther from the points.",
                name_of(&old),
                name_of(&name)
            ))),
            _ => Ok(()),
        },
    };
    let pole = |n: usize, hand: Rail| match wishes.rails {
        // A section that is turned has no rail in common with anything.
        Hand::Common(common) if common == hand && sections.iter().all(|s| s.owner != n) => {
            Name::Common
        }
        Hand::Both | Hand::Common(_) => Name::Pole(n, hand),
    };
    for (n, stretch) in wishes.apart.iter().enumerate() {
        for at in &stretch.at {
            for rail in Rail::BOTH {
                let hand = cells.hand(at.run, rail, at.at_mm);
                take(cells.at(at.run, rail, at.at_mm), pole(n, hand))?;
            }
        }
    }
    for (id, &n) in feeds {
        let Some(feed) = layout.feeds.get(id) else { continue };
        for rail in [feed.p, feed.m].into_iter().flatten() {
            let hand = cells.hand(feed.run, rail, feed.at_mm);
            take(cells.at(feed.run, rail, feed.at_mm), pole(n, hand))?;
        }
    }
    for (&net, specials) in &cells.metal.frogs {
        // A frog that positions join to nothing is dead by itself.
        if cells.metal.switches_on(net).is_empty() {
            continue;
        }
        if let Some(special) = specials.iter().next() {
            take(Some(net), Name::Frog(special.0 as usize * 1024 + net % 1024))?;
        }
    }
    let names: BTreeSet<Name> = of_cell.values().copied().collect();
    let names: Vec<Name> = names.into_iter().collect();
    let number = |name: &Name| names.iter().position(|n| n == name).unwrap_or_default();
    let fixed = of_cell.iter().map(|(&cell, name)| (cell, number(name))).collect();
    Ok((fixed, names))
}

/// Holds that may go dark by points, and do not.
fn lit(cells: &Cells, labels: &[usize], names: &[Name], wishes: &Wishes) -> Vec<usize> {
    let holds = wishes.hold.iter().enumerate().filter(|(n, hold)| {
        let own = wishes.apart.iter().any(|stretch| stretch.hold == Some(*n));
        let at = |side: Rail| cells.at(hold.at.run, side, hold.at.at_mm);
        let mut here = Rail::BOTH.into_iter().filter_map(at);
        let follows = here.any(|cell| matches!(names.get(labels[cell]), Some(Name::Frog(_))));
        hold.may_go_dark && !own && !follows
    });
    holds.map(|(n, _)| n).collect()
}

/// Times that cells are labelled anew with the owners of the frogs of the last time.
const MOST_ROUNDS: usize = 4;

/// The owner of each label; of a frog that of the rails which its points join it to, if they are of one stretch.
fn frog_owners(cells: &Cells, labels: &[usize], names: &[Name]) -> Vec<Option<usize>> {
    let mut owners: Vec<Option<usize>> = names.iter().map(Name::owner).collect();
    let mut of_frog: BTreeMap<usize, BTreeSet<usize>> = BTreeMap::new();
    for switch in &cells.metal.switches {
        let [a, b] = switch.nets;
        for (frog, rail) in [(a, b), (b, a)] {
            let is_frog = matches!(names.get(labels[frog]), Some(Name::Frog(_)));
            if let Some(owner) = names.get(labels[rail]).and_then(Name::owner).filter(|_| is_frog) {
                of_frog.entry(labels[frog]).or_default().insert(owner);
            }
        }
    }
    for (frog, of) in of_frog {
        if let (1, Some(&owner)) = (of.len(), of.first()) {
            owners[frog] = Some(owner);
        }
    }
    owners
}

/// Cuts wherever neighbours have different labels, with the reason of each.
fn cuts(
    cells: &Cells,
    labels: &[usize],
    names: &[Name],
    (wishes, sections): (&Wishes, &[Section]),
) -> Vec<(Job, String)> {
    let said = |label: usize| match names.get(label) {
        Some(Name::Pole(n, _)) => shown(&wishes.apart[*n].name).into_owned(),
        Some(Name::Common) => "the common rail".to_owned(),
        Some(Name::Frog(_)) => "a live frog".to_owned(),
        None => "track that nothing feeds".to_owned(),
    };
    let mut jobs = Vec::new();
    for site in &cells.sites {
        let parted = cells.beside(site).map(|cells| {
            let [a, b] = cells?.map(|cell| labels[cell]);
            (a != b && a != usize::MAX && b != usize::MAX).then_some([a, b])
        });
        if let Some(section) = site.end_of.and_then(|n| sections.get(n)) {
            let job = Job::AddCut { run: site.run, at_mm: tenths(site.at_mm), rails: Rails::Both };
            let name = shown(&wishes.apart[section.owner].name);
            jobs.push((job, format!("ends {name}, which is turned by itself")));
            continue;
        }
        let rails = match parted {
            [Some(_), Some(_)] => Rails::Both,
            [Some(_), None] => Rails::Left,
            [None, Some(_)] => Rails::Right,
            [None, None] => continue,
        };
        let mut reasons: Vec<String> = Vec::new();
        for [a, b] in parted.into_iter().flatten() {
            let reason = format!("keeps {} apart from {}", said(a), said(b));
            if !reasons.contains(&reason) {
                reasons.push(reason);
            }
        }
        let job = match site.half {
            Some((cut, _)) => Job::CutBoth(cut),
            None => Job::AddCut { run: site.run, at_mm: tenths(site.at_mm), rails },
        };
        jobs.push((job, reasons.join("; ")));
    }
    jobs
}
