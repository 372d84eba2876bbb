//! New feeders of a plan, and what turns its reversing sections.

use std::collections::{BTreeMap, BTreeSet};

use petgraph::unionfind::UnionFind;

use super::cells::Cells;
use super::plan::Name;
use super::section::{Control, all_digital, is_digital};
use super::sections::Section;
use super::wish::{At, Hand, NoPlan, Stretch, Wishes};
use crate::job::Job;
use crate::layout::{DeviceId, DriverId, FeedId, Layout, Origin, Rail, RunId, driver_now, shown};
use crate::rails::Within;

/// New feeders: jobs with their reasons, and counts.
#[derive(Default)]
pub(super) struct Fed {
    pub(super) jobs: Vec<(Job, String)>,
    pub(super) wires: usize,
    pub(super) drivers: usize,
    pub(super) reversers: usize,
    /// Pairs of stretches that one source feeds.
    pub(super) shared: Vec<[String; 2]>,
}

/// Labelled track that is to be fed.
pub(super) struct Feeders<'a> {
    pub(super) layout: &'a Layout,
    pub(super) wishes: &'a Wishes,
    pub(super) cells: &'a Cells,
    pub(super) labels: &'a [usize],
    pub(super) names: &'a [Name],
    pub(super) sections: &'a [Section],
}

/// The state of planning feeders.
struct State {
    fed: BTreeSet<usize>,
    /// Where each stretch is fed from.
    drivers: BTreeMap<usize, Origin>,
    spare: Vec<DriverId>,
    next_id: u32,
    joined: UnionFind<usize>,
    out: Fed,
}

impl Feeders<'_> {
    /// A feeder for each live place that none reaches, with P on the hand of the feeds that are there. `usual` are the
    /// stretches of the feeds without any reversing section.
    pub(super) fn planned(
        &self,
        feeds: &BTreeMap<FeedId, usize>,
        usual: &BTreeMap<FeedId, usize>,
    ) -> Result<Fed, NoPlan> {
        let Feeders { layout, cells, labels, .. } = *self;
        // Cells of one label that are not parted are one metal.
        let mut joined = UnionFind::<usize>::new(labels.len());
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
        for (id, &n) in usual {
            if let Some(feed) = layout.feeds.get(id) {
                drivers.entry(n).or_insert(feed.driver);
            }
        }
        let next_id = layout.next_id.saturating_add(jobs_ids(cells, labels));
        let spare = spare_drivers(layout, self.wishes);
        let mut state = State { fed, drivers, spare, next_id, joined, out: Fed::default() };
        let section = |n: usize| self.sections.iter().find(|s| s.owner == n);
        let all = || self.wishes.apart.iter().enumerate();
        // What a section or a hold is fed from is fed first.
        let plain =
            |(n, stretch): &(usize, &Stretch)| section(*n).is_none() && stretch.hold.is_none();
        for (n, stretch) in all().filter(plain) {
            stretch.at.iter().for_each(|at| self.feed(&mut state, (n, stretch), *at));
        }
        for (n, stretch) in all().filter(|(_, stretch)| stretch.hold.is_some()) {
            stretch.at.iter().for_each(|at| self.hold(&mut state, (n, stretch), *at));
        }
        for (n, stretch) in all() {
            let Some(section) = section(n) else { continue };
            if section.control == Control::New {
                self.reverse(&mut state, (n, stretch), (section, feeds))?;
            }
            stretch.at.iter().for_each(|at| self.feed(&mut state, (n, stretch), *at));
        }
        self.complete(&mut state);
        let named: Vec<(usize, &Stretch)> = all().filter(plain).collect();
        for (at, (n, one)) in named.iter().enumerate() {
            for (m, other) in &named[at + 1..] {
                let both = (state.drivers.get(n), state.drivers.get(m));
                if let (Some(a), Some(b)) = both
                    && a == b
                {
                    state.out.shared.push([one.name.clone(), other.name.clone()]);
                }
            }
        }
        Ok(state.out)
    }

    /// Gives the other rail of track that is fed on one rail a wire from the same source.
    fn complete(&self, state: &mut State) {
        let pieces = self.cells.metal.pieces.iter();
        let plain = pieces.filter(|piece| matches!(piece.within, Within::Block(_)));
        for piece in plain {
            let owner = |cell: usize| self.names.get(self.labels[cell]).and_then(Name::owner);
            let is_frog = |cell: usize| {
                matches!(self.names.get(self.labels[cell]), Some(Name::Frog(_) | Name::Common))
            };
            let fed = |state: &State, cell: usize| state.fed.contains(&state.joined.find(cell));
            let [left, right] = piece.nets;
            for (own, other, rail) in [(left, right, Rail::Right), (right, left, Rail::Left)] {
                let Some(n) = owner(own).filter(|_| fed(state, own)) else { continue };
                let lacks = !fed(state, other) && !is_frog(other);
                let at_mm = ((piece.from_mm + piece.to_mm) / 2.0).round();
                let at = At { run: piece.run, at_mm };
                let inside = piece.from_mm < at_mm && at_mm < piece.to_mm;
                let (true, true, Some(&from)) = (lacks, inside, state.drivers.get(&n)) else {
                    continue;
                };
                let is_p = rail == self.positive_at(at);
                let job = Job::AddWire { from, run: at.run, at_mm, rail, is_p };
                let name = shown(&self.wishes.apart[n].name);
                let reason = format!("feeds track without a name, whose other rail is of {name}");
                state.out.jobs.push((job, reason));
                state.out.wires += 1;
                state.next_id += 1;
                let net = state.joined.find(other);
                state.fed.insert(net);
            }
        }
    }

    /// Rails at a place that nothing feeds, with their metal.
    fn needed(&self, state: &State, n: usize, at: At) -> Vec<(Rail, usize)> {
        let cells = self.cells;
        let metal = |rail| Some((rail, state.joined.find(cells.at(at.run, rail, at.at_mm)?)));
        let needs = |(rail, net): &(Rail, usize)| {
            // A driver has a wire of its own to the rail that is common to all.
            let common = self.wishes.rails == Hand::Common(cells.hand(at.run, *rail, at.at_mm));
            let is_section = self.sections.iter().any(|s| s.owner == n);
            !state.fed.contains(net) || (common && !is_section && !state.drivers.contains_key(&n))
        };
        Rail::BOTH.into_iter().filter_map(metal).filter(needs).collect()
    }

    /// Where a stretch is fed from: its driver, else one that feeds nothing, else a new one.
    fn source(&self, state: &mut State, (n, stretch): (usize, &Stretch)) -> Origin {
        let known = stretch.driver.map(Origin::Driver).or(state.drivers.get(&n).copied());
        let from = known.unwrap_or_else(|| match state.spare.pop() {
            Some(id) => Origin::Driver(id),
            None => {
                // A supply and a driver take two numbers.
                let id = DriverId(state.next_id + 1);
                state.next_id += 2;
                state.out.drivers += 1;
                let like = soundest(self.layout);
                state.out.jobs.push((
                    Job::AddDriver { name: stretch.name.clone(), like },
                    format!("lets {} be controlled by itself", shown(&stretch.name)),
                ));
                Origin::Driver(id)
            }
        });
        state.drivers.insert(n, from);
        from
    }

    /// Feeds a place of a stretch.
    fn feed(&self, state: &mut State, (n, stretch): (usize, &Stretch), at: At) {
        let needed = self.needed(state, n, at);
        if needed.is_empty() {
            return;
        }
        let from = self.source(state, (n, stretch));
        let reason = format!("feeds {}", shown(&stretch.name));
        let p = self.positive_at(at);
        match needed[..] {
            [(rail, _)] => {
                let is_p = rail == p;
                let job = Job::AddWire { from, run: at.run, at_mm: at.at_mm, rail, is_p };
                let jobs = &mut state.out.jobs;
                jobs.push((job, format!("{reason}, whose other rail is fed already")));
                state.out.wires += 1;
            }
            _ => {
                let job = Job::AddFeed { from, run: at.run, at_mm: at.at_mm, p };
                state.out.jobs.push((job, reason));
                state.out.wires += 2;
            }
        }
        state.fed.extend(needed.iter().map(|(_, net)| *net));
        state.next_id += 1;
    }

    /// Feeds a place where a train is held through a new switch, from what feeds the track around it.
    fn hold(&self, state: &mut State, (n, stretch): (usize, &Stretch), at: At) {
        if self.needed(state, n, at).len() < 2 {
            return self.feed(state, (n, stretch), at);
        }
        let owner = |cell: usize| self.names.get(self.labels[cell]).and_then(Name::owner);
        let edges = self.cells.edges();
        let beside = edges.iter().filter_map(|edge| match edge.cells.map(owner) {
            [Some(own), Some(other)] | [Some(other), Some(own)] if own == n && other != n => {
                Some(other)
            }
            _ => None,
        });
        let plain = |m: &usize| self.wishes.apart[*m].hold.is_none();
        let around = beside.filter(plain).find_map(|m| state.drivers.get(&m).copied());
        let any = || {
            self.wishes.apart.iter().enumerate().find_map(|(m, _)| state.drivers.get(&m).copied())
        };
        let Some(from) = around.or_else(any) else { return self.feed(state, (n, stretch), at) };
        let job =
            Job::AddSwitchedFeed { from, run: at.run, at_mm: at.at_mm, p: self.positive_at(at) };
        let reason = "feeds the block in which a train is held, so that it can be switched off";
        state.out.jobs.push((job, reason.to_owned()));
        state.out.wires += 2;
        let needed = self.needed(state, n, at);
        state.fed.extend(needed.iter().map(|(_, net)| *net));
        state.drivers.insert(n, Origin::Device(DeviceId(state.next_id)));
        state.next_id += 2;
    }

    /// Puts a new reverser before a section: before the feeds that are there, or before a new one.
    fn reverse(
        &self,
        state: &mut State,
        (n, stretch): (usize, &Stretch),
        (section, feeds): (&Section, &BTreeMap<FeedId, usize>),
    ) -> Result<(), NoPlan> {
        let name = shown(&stretch.name).into_owned();
        let device = |state: &State| Origin::Device(DeviceId(state.next_id));
        let own = feeds.iter().filter(|(_, of)| **of == n).map(|(id, _)| *id);
        let own: Vec<FeedId> = own.filter(|id| self.layout.feeds.contains_key(id)).collect();
        let origins: BTreeSet<Origin> = own.iter().map(|id| self.layout.feeds[id].driver).collect();
        state.out.reversers += 1;
        if let Some(from) = origins.first() {
            if origins.len() > 1 {
                return Err(NoPlan(format!(
                    "The plan cannot be made: {name} is fed from more than one source, and one reverser turns one. Take \
                     feeds away until one source is left."
                )));
            }
            let automatic = self.is_automatic(*from);
            state.out.jobs.push((
                Job::Reverse { feeds: own, automatic },
                format!("turns {name}, so that its rails match at each end"),
            ));
            state.drivers.insert(n, device(state));
            state.next_id += 1;
            return Ok(());
        }
        let beside = self.beside(section).find_map(|m| state.drivers.get(&m).copied());
        let from = match (section.has_name, beside) {
            (false, Some(from)) => from,
            _ => self.source(state, (n, stretch)),
        };
        let Some(at) = stretch.at.first().copied() else { return Ok(()) };
        let automatic = self.is_automatic(from);
        let p = self.positive_at(at);
        state.out.jobs.push((
            Job::AddReversedFeed { from, run: at.run, at_mm: at.at_mm, p, automatic },
            format!("feeds {name} so that it can be turned"),
        ));
        state.out.wires += 2;
        let nets = Rail::BOTH.into_iter().filter_map(|rail| self.cells.at(at.run, rail, at.at_mm));
        let nets: Vec<usize> = nets.map(|cell| state.joined.find(cell)).collect();
        state.fed.extend(nets);
        state.drivers.insert(n, device(state));
        state.next_id += 2;
        Ok(())
    }

    /// True if what a source feeds is DCC, so that a section turns by itself.
    fn is_automatic(&self, from: Origin) -> bool {
        match driver_now(self.layout, from) {
            Some(id) => is_digital(self.layout, id),
            None => all_digital(self.layout),
        }
    }

    /// Stretches beyond the ends of a section.
    fn beside<'b>(&'b self, section: &'b Section) -> impl Iterator<Item = usize> + 'b {
        let cuts = section.kept.iter().filter_map(|id| self.layout.cuts.get(id));
        let ends = section.ends.iter().copied().chain(cuts.map(|cut| (cut.run, cut.at_mm)));
        let sides = ends.flat_map(|(run, at_mm)| [(run, at_mm - 1.0), (run, at_mm + 1.0)]);
        let cells = sides.flat_map(move |(run, at_mm)| {
            Rail::BOTH.into_iter().filter_map(move |rail| self.cells.at(run, rail, at_mm))
        });
        let owners = cells.filter_map(|cell| self.names.get(self.labels[cell])?.owner());
        owners.filter(|n| *n != section.owner)
    }

    /// The rail at a place that takes P.
    fn positive_at(&self, at: At) -> Rail {
        let positive = hand_of_p(self.layout, self.cells);
        rail_of_hand(self.cells, at.run, at.at_mm, positive)
    }
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
        site.end_of.is_some()
            || cells.beside(site).into_iter().flatten().any(|two| {
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
