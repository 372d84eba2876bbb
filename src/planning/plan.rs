//! A plan from wishes: cuts by labels, then feeders, as jobs with their reasons.

use std::collections::{BTreeMap, BTreeSet};

use super::cells::Cells;
use super::label::{Meaning, label};
use super::wish::{Hand, NoPlan, Stretch, Wishes};
use crate::job::Job;
use crate::layout::{DriverId, Layout, Origin, Rail, Rails, RunId, driver_now, shown};
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
    /// True if no labelling of the sites takes fewer rail cuts. The labels are never too few; on layouts whose roads may be
    /// dead a plan with fewer cuts may exist.
    pub fewest_by_labels: bool,
}

/// The label of a cell.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Name {
    /// A pole of a stretch: its index, and the hand.
    Pole(usize, Rail),
    /// The rail that stays common.
    Common,
    /// A frog, or frogs that are one metal.
    Frog(usize),
}

impl Name {
    /// The stretch whose pole it is.
    fn owner(&self) -> Option<usize> {
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
    valid(layout, wishes, &drawn)?;
    if !is_balanced(&drawn.metal.track) {
        return Err(NoPlan(
            "The plan cannot be made: the track comes back on itself with its rails exchanged, and reversing sections are \
             not planned yet. Ask for the cures of the loop first."
                .into(),
        ));
    }
    let feeds = feeds_by_stretch(layout, wishes, &drawn);
    let cells = Cells::of(layout, wishes)?;
    let (fixed, names) = terminals(layout, wishes, &cells, &feeds)?;
    let edges = cells.edges();
    let mate = |name: &Name| match *name {
        Name::Pole(n, hand) => {
            let other = Name::Pole(n, hand.other());
            names.iter().position(|name| *name == other)
        }
        Name::Common | Name::Frog(_) => None,
    };
    let meaning = Meaning {
        owners: names.iter().map(Name::owner).collect(),
        mates: names.iter().map(mate).collect(),
        hands: names.iter().map(|name| name.hand(wishes)).collect(),
        of_cells: cells.hands(),
    };
    let pairs = cells.pairs();
    let labelled = label(cells.metal.nets.len(), (&edges, &pairs), &fixed, &meaning);
    let mut jobs = cuts(&cells, &labelled.labels, &names, wishes);
    let rail_cuts = jobs.iter().map(|(job, _)| rails_of(job)).sum();
    let (fed, wires, drivers) = feeders(layout, wishes, &cells, &labelled.labels, &feeds);
    jobs.extend(fed);
    Ok(Planned { jobs, rail_cuts, wires, drivers, fewest_by_labels: labelled.exact })
}

pub(super) fn rails_of(job: &Job) -> usize {
    match job {
        Job::AddCut { rails: Rails::Both, .. } => 2,
        Job::AddCut { .. } | Job::CutBoth(_) => 1,
        _ => 0,
    }
}

fn valid(layout: &Layout, wishes: &Wishes, drawn: &Plan) -> Result<(), NoPlan> {
    if wishes.apart.len() < 2 {
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
) -> BTreeMap<crate::layout::FeedId, usize> {
    let mut of = BTreeMap::new();
    for feed in layout.feeds.values() {
        let block = drawn.block_at(feed.run, feed.at_mm);
        let mut best: Option<(bool, f64, usize)> = None;
        for (n, stretch) in wishes.apart.iter().enumerate() {
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

/// Labels by number, with their names.
type Terminals = (BTreeMap<usize, usize>, Vec<Name>);

/// The cells whose label is given: poles at live places and at feeds, and frogs.
fn terminals(
    layout: &Layout,
    wishes: &Wishes,
    cells: &Cells,
    feeds: &BTreeMap<crate::layout::FeedId, usize>,
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
        Hand::Common(common) if common == hand => Name::Common,
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

/// Cuts wherever neighbours have different labels, with the reason of each.
fn cuts(cells: &Cells, labels: &[usize], names: &[Name], wishes: &Wishes) -> Vec<(Job, String)> {
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
            None => Job::AddCut { run: site.run, at_mm: (site.at_mm * 10.0).round() / 10.0, rails },
        };
        jobs.push((job, reasons.join("; ")));
    }
    jobs
}

/// New feeders: jobs with their reasons, wires, drivers.
type Fed = (Vec<(Job, String)>, usize, usize);

/// A feeder for each live place that none reaches, with P on the hand of the feeds that are there.
fn feeders(
    layout: &Layout,
    wishes: &Wishes,
    cells: &Cells,
    labels: &[usize],
    feeds: &BTreeMap<crate::layout::FeedId, usize>,
) -> Fed {
    // Cells of one label that are not parted are one metal.
    let mut joined = petgraph::unionfind::UnionFind::<usize>::new(labels.len());
    for edge in cells.edges() {
        if labels[edge.cells[0]] == labels[edge.cells[1]] {
            joined.union(edge.cells[0], edge.cells[1]);
        }
    }
    let mut fed: BTreeSet<usize> = BTreeSet::new();
    let mut drivers: BTreeMap<usize, Origin> = BTreeMap::new();
    for (id, &n) in feeds {
        let Some(feed) = layout.feeds.get(id) else { continue };
        drivers.entry(n).or_insert(feed.driver);
        for rail in [feed.p, feed.m].into_iter().flatten() {
            if let Some(cell) = cells.at(feed.run, rail, feed.at_mm) {
                fed.insert(joined.find(cell));
            }
        }
    }
    let positive = hand_of_p(layout, cells);
    let mut spare = spare_drivers(layout, wishes);
    let mut jobs: Vec<(Job, String)> = Vec::new();
    let (mut wires, mut new_drivers) = (0, 0);
    let mut next_id = layout.next_id.saturating_add(jobs_ids(cells, labels));
    for (n, stretch) in wishes.apart.iter().enumerate() {
        for at in &stretch.at {
            let needed: Vec<(Rail, usize)> = Rail::BOTH
                .into_iter()
                .filter_map(|rail| Some((rail, joined.find(cells.at(at.run, rail, at.at_mm)?))))
                .filter(|(rail, net)| {
                    // A driver has a wire of its own to the rail that is common to all.
                    let common = wishes.rails == Hand::Common(cells.hand(at.run, *rail, at.at_mm));
                    !fed.contains(net) || (common && !drivers.contains_key(&n))
                })
                .collect();
            if needed.is_empty() {
                continue;
            }
            let from = match stretch.driver.map(Origin::Driver).or(drivers.get(&n).copied()) {
                Some(from) => from,
                None => match spare.pop() {
                    Some(id) => Origin::Driver(id),
                    None => {
                        // A supply and a driver take two numbers.
                        let id = DriverId(next_id + 1);
                        next_id += 2;
                        new_drivers += 1;
                        let like = soundest(layout);
                        jobs.push((
                            Job::AddDriver { name: stretch.name.clone(), like },
                            format!("lets {} be controlled by itself", shown(&stretch.name)),
                        ));
                        Origin::Driver(id)
                    }
                },
            };
            drivers.insert(n, from);
            let reason = format!("feeds {}", shown(&stretch.name));
            let p = rail_of_hand(cells, at.run, at.at_mm, positive);
            match needed[..] {
                [(rail, net)] => {
                    let is_p = rail == p;
                    let job = Job::AddWire { from, run: at.run, at_mm: at.at_mm, rail, is_p };
                    jobs.push((job, format!("{reason}, whose other rail is fed already")));
                    fed.insert(net);
                    wires += 1;
                }
                _ => {
                    jobs.push((Job::AddFeed { from, run: at.run, at_mm: at.at_mm, p }, reason));
                    fed.extend(needed.iter().map(|(_, net)| *net));
                    wires += 2;
                }
            }
            next_id += 1;
        }
    }
    (jobs, wires, new_drivers)
}

/// A driver that a new one can be like: one that does not clamp its rails when idle.
fn soundest(layout: &Layout) -> Option<DriverId> {
    let sound = |driver: &&crate::layout::Driver| {
        let idle = crate::drive::of(&driver.drive).idle().copied();
        matches!(idle, None | Some(crate::layout::Idle::HighImpedance))
    };
    layout.drivers.values().find(sound).map(|driver| driver.id)
}

/// How many numbers the cuts of a plan take.
fn jobs_ids(cells: &Cells, labels: &[usize]) -> u32 {
    let parted = cells.sites.iter().filter(|site| site.half.is_none()).filter(|site| {
        cells.beside(site).into_iter().flatten().any(|two| {
            let [a, b] = two.map(|cell| labels[cell]);
            a != b && a != usize::MAX && b != usize::MAX
        })
    });
    parted.count() as u32
}

/// The hand that P has, along the reference direction, at most of the feeds that are there; left without any. Where all
/// feeds have P on one hand, throttles that point alike agree.
fn hand_of_p(layout: &Layout, cells: &Cells) -> Rail {
    let hands = layout.feeds.values().filter_map(|feed| {
        let positive = feed.p.or(feed.m.map(Rail::other))?;
        Some(cells.hand(feed.run, positive, feed.at_mm))
    });
    let (left, right): (Vec<Rail>, Vec<Rail>) = hands.partition(|hand| *hand == Rail::Left);
    if right.len() > left.len() { Rail::Right } else { Rail::Left }
}

/// The rail of a run that has a hand along the reference direction.
fn rail_of_hand(cells: &Cells, run: RunId, at_mm: f64, hand: Rail) -> Rail {
    if cells.hand(run, Rail::Left, at_mm) == hand { Rail::Left } else { Rail::Right }
}

/// Drivers that feed nothing and are wished for no stretch, the last first.
fn spare_drivers(layout: &Layout, wishes: &Wishes) -> Vec<DriverId> {
    let used: BTreeSet<DriverId> =
        layout.feeds.values().filter_map(|feed| driver_now(layout, feed.driver)).collect();
    let wished: BTreeSet<DriverId> =
        wishes.apart.iter().filter_map(|s: &Stretch| s.driver).collect();
    let behind = |id: &&DriverId| {
        let devices = layout.devices.values();
        devices.flat_map(|d| d.kind.sources()).any(|from| from == Origin::Driver(**id))
    };
    let mut spare: Vec<DriverId> = layout
        .drivers
        .keys()
        .filter(|id| !used.contains(id) && !wished.contains(id) && !behind(id))
        .copied()
        .collect();
    spare.reverse();
    spare
}
