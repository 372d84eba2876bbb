//! What a room may ask about the surroundings of its finding when it proposes cures.

use std::collections::BTreeSet;

use super::finding::{Cure, Finding};
use super::shared::change::Change;
use super::{BlockId, View};
use crate::drive;
use crate::job::{Job, coasting_inputs, is_plain};
use crate::layout::{
    CutId, DriverId, Feed, FeedId, Idle, Layout, Origin, Rail, Rails, RunId, SupplyId, Vehicle,
    WireSize, driver_now, length_mm,
};
use crate::study::coin::working_load;
use crate::study::loops::longest_bridging;

/// Most ways of doing several changes that are proposed for one finding.
const MOST_WAYS: usize = 24;

/// A finding with the view of now.
pub(crate) struct Near<'a> {
    /// The view of now.
    pub(crate) view: &'a View<'a>,
    /// The finding.
    pub(crate) finding: &'a Finding,
}

impl Near<'_> {
    /// The layout.
    pub(crate) fn layout(&self) -> &Layout {
        self.view.layout
    }

    /// Index in the plan of a block.
    fn at(&self, block: BlockId) -> Option<usize> {
        self.view.plan.blocks.iter().position(|b| b.id == block)
    }

    /// Feeds on plain track of a block.
    pub(crate) fn feeds_in(&self, block: BlockId) -> Vec<&Feed> {
        let Some(at) = self.at(block) else { return Vec::new() };
        let inside = |feed: &&Feed| self.view.plan.block_at(feed.run, feed.at_mm) == Some(at);
        self.layout().feeds.values().filter(inside).collect()
    }

    /// The driver behind an origin, as the selectors stand.
    pub(crate) fn driver_of(&self, origin: Origin) -> Option<DriverId> {
        driver_now(self.layout(), origin)
    }

    /// Feeds of a driver, in the order of their identities.
    pub(crate) fn feeds_of(&self, driver: DriverId) -> Vec<FeedId> {
        let feeds = self.layout().feeds.values();
        feeds.filter(|f| self.driver_of(f.driver) == Some(driver)).map(|f| f.id).collect()
    }

    /// The supplies of the finding's drivers, each once.
    pub(crate) fn supplies(&self) -> Vec<SupplyId> {
        let drivers = self.finding.drivers.iter().filter_map(|id| self.layout().drivers.get(id));
        let supplies: BTreeSet<SupplyId> = drivers.map(|driver| driver.supply).collect();
        supplies.into_iter().collect()
    }

    /// The middle of a block's longest stretch of plain track.
    pub(crate) fn middle_of(&self, block: BlockId) -> Option<(RunId, f64)> {
        let block = &self.view.plan.blocks[self.at(block)?];
        let pieces = block.pieces.iter().map(|&at| &self.view.plan.pieces[at]);
        let longest = pieces.max_by(|a, b| a.length_mm().total_cmp(&b.length_mm()))?;
        Some((longest.run, (longest.from_mm + longest.to_mm) / 2.0))
    }

    /// What feeds the blocks beyond the gaps of a block, each once.
    pub(crate) fn neighbours(&self, block: BlockId) -> Vec<Origin> {
        let Some(at) = self.at(block) else { return Vec::new() };
        let mut beside = BTreeSet::new();
        for cut in self.view.plan.cuts.values() {
            match (cut.block_before == at, cut.block_after == at) {
                (true, false) => beside.insert(cut.block_after),
                (false, true) => beside.insert(cut.block_before),
                _ => false,
            };
        }
        let mut origins = Vec::new();
        for block in beside {
            for feed in self.feeds_in(self.view.plan.blocks[block].id) {
                if !origins.contains(&feed.driver) {
                    origins.push(feed.driver);
                }
            }
        }
        origins
    }

    /// What can feed a block: what feeds its neighbours; without any, drivers that feed nothing, then the others.
    pub(crate) fn sources_for(&self, block: BlockId) -> Vec<Origin> {
        const MOST_SOURCES: usize = 4;
        let mut sources = self.neighbours(block);
        if sources.is_empty() {
            let drivers = || self.layout().drivers.keys().copied();
            let idle = drivers().filter(|&id| self.feeds_of(id).is_empty());
            let used = drivers().filter(|&id| !self.feeds_of(id).is_empty());
            sources = idle.chain(used).map(Origin::Driver).collect();
        }
        sources.truncate(MOST_SOURCES);
        sources
    }

    /// A new feed on a block from a source: once with P to either rail.
    pub(crate) fn new_feeds(&self, from: Origin, (run, at_mm): (RunId, f64)) -> Vec<Job> {
        let at_mm = self.off_the_ends(run, at_mm);
        Rail::BOTH.map(|p| Job::AddFeed { from, run, at_mm, p }).into()
    }

    /// The place on the same piece of track that is at least 40 mm from its ends, or its middle: nobody solders at a gap.
    fn off_the_ends(&self, run: RunId, at_mm: f64) -> f64 {
        const OFF_MM: f64 = 40.0;
        let pieces = self.view.plan.pieces_of(run).iter();
        let mut here = pieces.rev().filter(|p| p.from_mm <= at_mm && at_mm <= p.to_mm);
        let Some(piece) = here.find(|p| p.length_mm() > 1.0) else { return at_mm };
        let place = if piece.length_mm() < 2.0 * OFF_MM {
            (piece.from_mm + piece.to_mm) / 2.0
        } else {
            at_mm.clamp(piece.from_mm + OFF_MM, piece.to_mm - OFF_MM)
        };
        place.floor().max(piece.from_mm)
    }

    /// A further feed beside those of a driver, polarity as theirs has to be found by trying.
    pub(crate) fn more_feed(&self, driver: DriverId, place: (RunId, f64)) -> Vec<Cure> {
        let block = self.view.plan.block_at(place.0, place.1);
        let Some(block) = block.map(|at| self.view.plan.blocks[at].id) else { return Vec::new() };
        let mut own = self.feeds_in(block).into_iter();
        let own = own.find(|feed| self.driver_of(feed.driver) == Some(driver));
        own.map_or_else(Vec::new, |feed| {
            self.new_feeds(feed.driver, place).into_iter().map(Cure::from).collect()
        })
    }

    /// A place on plain track beside a cut, `by_mm` farther along its run.
    pub(crate) fn beside_cut(&self, cut: CutId, by_mm: f64) -> Option<(RunId, f64)> {
        let cut = self.layout().cuts.get(&cut)?;
        let run = self.layout().runs.get(&cut.run)?;
        let at_mm = cut.at_mm + by_mm;
        let inside = 1.0 < at_mm && at_mm < length_mm(self.layout(), run) - 1.0;
        (inside && is_plain(&self.view.plan, cut.run, at_mm)).then_some((cut.run, at_mm))
    }

    /// Thicker wires for all feeds of a driver: two gauge numbers down, then four.
    pub(crate) fn thicker(&self, driver: DriverId) -> Vec<Cure> {
        let feeds = self.feeds_of(driver);
        let all = |step: u32| {
            let jobs = feeds.iter().filter_map(|&feed| {
                let size = self.layout().feeds.get(&feed)?.wire?.size;
                Some(Job::Thicken { feed, size: thicker(size, step)? })
            });
            Cure::from(jobs.collect::<Vec<Job>>())
        };
        [2, 4].map(all).into()
    }

    /// A lower threshold for a driver's trip, A; `None` if the largest load that runs on the layout would come within a
    /// quarter of it.
    pub(crate) fn lower_trip(&self, driver: DriverId, amps: f64) -> Option<Job> {
        let supply = self.layout().drivers.get(&driver)?.supply;
        let volts = self.layout().supplies.get(&supply)?.open_v.value;
        let (load_a, _) = working_load(self.layout(), volts);
        (amps >= load_a * 1.25).then_some(Job::TripAt { driver, amps })
    }

    /// The length of the longest train or vehicle over its couplers, mm.
    fn longest_over_couplers_mm(&self) -> f64 {
        let layout = self.layout();
        let length = |id| layout.vehicles.get(id).map_or(0.0, |v: &Vehicle| v.length_mm);
        let trains =
            layout.trains.values().map(|t| t.vehicles.iter().map(|v| length(&v.vehicle)).sum());
        let vehicles = layout.vehicles.values().map(|v| v.length_mm);
        trains.chain(vehicles).fold(0.0, f64::max)
    }

    /// The least length of a section that somebody switches while a train stands in it, mm: the longest train, or what
    /// bridges gaps if that is longer, and a stopping margin of 100 mm on each side (judgement). One that switches by
    /// itself needs no more than what bridges gaps.
    pub(crate) fn section_mm(&self, automatic: bool) -> f64 {
        let bridging = longest_bridging(self.layout()).mm;
        match automatic {
            true => bridging + 20.0,
            false => bridging.max(self.longest_over_couplers_mm()) + 200.0,
        }
    }

    /// True if a driver sends DCC.
    pub(crate) fn is_digital(&self, driver: DriverId) -> bool {
        let driver = self.layout().drivers.get(&driver);
        driver.is_some_and(|d| matches!(drive::of(&d.drive).signal(), drive::Signal::Station(_)))
    }

    /// Makes a driver coast: by the way in which its inputs are driven where that makes its idle state.
    pub(crate) fn coast(&self, id: DriverId) -> Option<Job> {
        let driver = self.layout().drivers.get(&id)?;
        match drive::of(&driver.drive).idle()? {
            Idle::HighImpedance => None,
            idle @ Idle::ByInputs { .. } => {
                coasting_inputs(idle).map(|idle| Job::DriveInputs { driver: id, idle })
            }
            Idle::BrakeLow | Idle::BrakeHigh | Idle::Opposed => Some(Job::Coast(id)),
        }
    }

    /// The ways to do changes that prove a cause: for each change its jobs, in every combination.
    pub(crate) fn by_changes(&self, changes: &[Change]) -> Vec<Cure> {
        let mut ways: Vec<Vec<Job>> = vec![Vec::new()];
        for change in changes {
            let choices = self.jobs_for(change);
            ways = ways
                .iter()
                .flat_map(|way| choices.iter().map(move |more| joined(way, more)))
                .take(MOST_WAYS)
                .collect();
        }
        ways.into_iter().filter(|way| !way.is_empty()).map(Cure::from).collect()
    }

    /// Single jobs on the drivers, supplies and feeds of a finding at a gap, whatever its cause: what proves the cause is not
    /// always the only thing that ends it.
    pub(crate) fn singles(&self) -> Vec<Cure> {
        let drivers = &self.finding.drivers;
        let mut jobs: Vec<Job> = drivers.iter().filter_map(|&id| self.coast(id)).collect();
        let here = self.finding.blocks.iter().flat_map(|&block| self.feeds_in(block));
        jobs.extend(here.map(|feed| Job::ExchangeWires(feed.id)));
        let digital = drivers.iter().filter(|id| self.is_digital(**id));
        jobs.extend(digital.map(|&id| Job::ExchangePhase(id)));
        let supplies = self.supplies();
        jobs.extend(supplies.iter().map(|&id| Job::SwitchTogether(id)));
        jobs.extend(drivers.iter().map(|&id| Job::DriverTogether(id)));
        jobs.extend(supplies.iter().map(|&id| Job::OpenTie(id)));
        let volts = |id: &SupplyId| self.layout().supplies.get(id).map(|s| s.open_v.value);
        let levels: Vec<f64> = supplies.iter().filter_map(volts).collect();
        for &supply in &supplies {
            jobs.extend(levels.iter().map(|&volts| Job::SetVolts { supply, volts }));
        }
        jobs.extend(drivers.iter().map(|&id| Job::OwnSupply(id)));
        let apply = |job: &Job| job.edits(self.layout()).is_some();
        jobs.into_iter().filter(apply).map(Cure::from).collect()
    }

    /// The ways to do one change that proves a cause.
    fn jobs_for(&self, change: &Change) -> Vec<Vec<Job>> {
        let one = |job: Option<Job>| job.into_iter().map(|job| vec![job]).collect();
        match change {
            Change::TakenOff(driver) => self
                .feeds_of(*driver)
                .into_iter()
                .map(|feed| vec![Job::TakeFeedAway(feed)])
                .collect(),
            Change::SuppliesDivided => self.own_supplies(),
            Change::WiresExchanged(feeds) => {
                vec![feeds.iter().map(|&feed| Job::ExchangeWires(feed)).collect()]
            }
            Change::StaysAsleep(driver) => self.switched_together(*driver),
            Change::Coasts(driver) => one(self.coast(*driver)),
            Change::OneVoltage => self.one_voltage(),
            Change::PhaseExchanged(driver) => {
                let mut ways = vec![vec![Job::ExchangePhase(*driver)]];
                ways.extend(self.feeds_of(*driver).iter().map(|&f| vec![Job::ExchangeWires(f)]));
                ways
            }
            Change::OneSignal => self.one_station(),
            Change::NoDelay(driver) => vec![vec![Job::TakeDelayAway(*driver)]],
            Change::TiesOpened => self.apart(),
            // No edit keeps a booster silent and a train running.
            Change::Silenced(_) => Vec::new(),
        }
    }

    /// All supplies of the finding at the voltage of one of them, for each of them.
    pub(crate) fn one_voltage(&self) -> Vec<Vec<Job>> {
        let supplies = self.supplies();
        let volts = |id: &SupplyId| self.layout().supplies.get(id).map(|s| s.open_v.value);
        let mut levels: Vec<f64> = supplies.iter().filter_map(volts).collect();
        levels.sort_by(f64::total_cmp);
        levels.dedup();
        let to = |level: f64| {
            let others = supplies.iter().filter(|id| volts(id).is_some_and(|own| own != level));
            others.map(|&supply| Job::SetVolts { supply, volts: level }).collect()
        };
        levels.into_iter().map(to).collect()
    }

    /// Every driver of the finding but one with a supply of its own, for each that keeps the old one. A driver whose supply
    /// is its own already keeps it.
    pub(crate) fn own_supplies(&self) -> Vec<Vec<Job>> {
        let layout = self.layout();
        let shares = |id: &&DriverId| {
            let supply = layout.drivers.get(id).map(|driver| driver.supply);
            let users = layout.drivers.values().filter(|d| Some(d.supply) == supply).count();
            let tied =
                supply.and_then(|s| layout.supplies.get(&s)).is_some_and(|s| s.negative.is_some());
            users > 1 || tied
        };
        let sharing: Vec<DriverId> = self.finding.drivers.iter().filter(shares).copied().collect();
        let others = |kept: &DriverId| {
            sharing.iter().filter(|id| *id != kept).map(|&id| Job::OwnSupply(id)).collect()
        };
        sharing.iter().map(others).collect()
    }

    /// Negatives apart: the tie of one supply opened, or of all but one; supplies of their own where they share one.
    pub(crate) fn apart(&self) -> Vec<Vec<Job>> {
        let name = |id: &SupplyId| {
            self.layout().supplies.get(id)?.negative.as_ref().map(|negative| negative.name.as_str())
        };
        let own = self.supplies();
        let names: BTreeSet<&str> = own.iter().filter_map(name).collect();
        // A supply that hangs on the same tie joins the others, whether its drivers meet here or not.
        let all = self.layout().supplies.keys().copied();
        let tied: Vec<SupplyId> =
            all.filter(|id| name(id).is_some_and(|own| names.contains(own))).collect();
        let mut ways: Vec<Vec<Job>> = tied.iter().map(|&id| vec![Job::OpenTie(id)]).collect();
        for kept in tied.iter().filter(|_| tied.len() > 2) {
            let others = tied.iter().filter(|id| *id != kept);
            ways.push(others.map(|&id| Job::OpenTie(id)).collect());
        }
        ways.extend(self.own_supplies());
        ways
    }

    /// Cuts of both rails on a block: in the middle between two feeds of one run that follow each other and come from
    /// different drivers, and between two of its names.
    pub(crate) fn cuts_between(&self, block: BlockId) -> Vec<Cure> {
        let feeds = self.feeds_in(block).into_iter();
        let mut feeds: Vec<(RunId, f64, Option<DriverId>)> =
            feeds.map(|f| (f.run, f.at_mm, self.driver_of(f.driver))).collect();
        feeds.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
        let named = self.at(block).map_or(&[][..], |at| &self.view.plan.blocks[at].labels);
        let labels = named.iter().filter_map(|id| self.layout().labels.get(id));
        let mut labels: Vec<(RunId, f64)> = labels.map(|l| (l.run, l.at_mm)).collect();
        labels.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
        let between_feeds = feeds
            .windows(2)
            .filter(|two| two[0].0 == two[1].0 && two[0].2 != two[1].2)
            .map(|two| (two[0].0, (two[0].1 + two[1].1) / 2.0));
        let between_labels = labels
            .windows(2)
            .filter(|two| two[0].0 == two[1].0)
            .map(|two| (two[0].0, (two[0].1 + two[1].1) / 2.0));
        // Feeds or names on different runs: somewhere between them the middle of a piece is.
        const MOST_MIDDLES: usize = 10;
        let pieces = self.at(block).map_or(&[][..], |at| &self.view.plan.blocks[at].pieces);
        let mut pieces: Vec<_> = pieces.iter().map(|&at| &self.view.plan.pieces[at]).collect();
        pieces.sort_by(|a, b| b.length_mm().total_cmp(&a.length_mm()));
        let middles = pieces.into_iter().take(MOST_MIDDLES);
        let middles = middles.map(|p| (p.run, ((p.from_mm + p.to_mm) / 2.0).round()));
        between_feeds
            .chain(between_labels)
            .chain(middles)
            .map(|(run, at_mm)| Job::AddCut { run, at_mm, rails: Rails::Both }.into())
            .collect()
    }

    /// A transfer section beside a cut, on either side of it: longer than the longest train bridges, fed through a cab
    /// selector from what feeds the two sides.
    pub(crate) fn transfer_sections(&self) -> Vec<Cure> {
        let Some(&cut) = self.finding.cuts().first() else { return Vec::new() };
        let Some(at) = self.view.plan.cuts.get(&cut) else { return Vec::new() };
        let source = |block: usize| {
            self.feeds_in(self.view.plan.blocks[block].id).first().map(|feed| feed.driver)
        };
        let (Some(one), Some(other)) = (source(at.block_before), source(at.block_after)) else {
            return Vec::new();
        };
        let need_mm = self.section_mm(false);
        let mut cures = Vec::new();
        for by_mm in [need_mm, -need_mm] {
            let ends = (self.beside_cut(cut, by_mm), self.beside_cut(cut, by_mm / 2.0));
            let (Some((run, at_mm)), Some((_, middle_mm))) = ends else { continue };
            for p in Rail::BOTH {
                let cabs = vec![one, other];
                cures.push(Cure::from(vec![
                    Job::AddCut { run, at_mm, rails: Rails::Both },
                    Job::AddSelectedFeed { cabs, run, at_mm: middle_mm, p },
                ]));
            }
        }
        cures
    }

    /// A driver switched on and off together with its neighbours: its supply, or itself, or both.
    pub(crate) fn switched_together(&self, driver: DriverId) -> Vec<Vec<Job>> {
        let Some(own) = self.layout().drivers.get(&driver) else { return Vec::new() };
        let supply = self.layout().supplies.get(&own.supply);
        let mut jobs = Vec::new();
        if supply.is_some_and(|supply| supply.separately_switched) {
            jobs.push(Job::SwitchTogether(own.supply));
        }
        if own.separately_switched {
            jobs.push(Job::DriverTogether(driver));
        }
        if jobs.is_empty() { Vec::new() } else { vec![jobs] }
    }

    /// All boosters of the finding on the station of one of them, for each of them.
    fn one_station(&self) -> Vec<Vec<Job>> {
        let station =
            |id: &DriverId| match drive::of(&self.layout().drivers.get(id)?.drive).signal() {
                drive::Signal::Station(name) => Some(name.to_owned()),
                drive::Signal::Direct => None,
            };
        let drivers = &self.finding.drivers;
        let to = |name: String| {
            let others = drivers.iter().filter(|id| station(id).is_some_and(|own| own != name));
            others.map(|&driver| Job::FollowStation { driver, station: name.clone() }).collect()
        };
        let names: BTreeSet<String> = drivers.iter().filter_map(station).collect();
        names.into_iter().map(to).collect()
    }
}

/// A wire thicker by so many gauge numbers: each three double the cross-section. `None` beyond AWG 10.
pub(crate) fn thicker(size: WireSize, by: u32) -> Option<WireSize> {
    match size {
        WireSize::Awg(number) => number.checked_sub(by).filter(|n| *n >= 10).map(WireSize::Awg),
        WireSize::Mm2(area) => {
            // The sections of IEC 60228 that people buy for layouts.
            let listed = [0.5, 0.75, 1.0, 1.5, 2.5, 4.0];
            let wanted = area * 2f64.powf(f64::from(by) / 3.0) * 0.9;
            listed.into_iter().find(|&a| a > area && a >= wanted).map(WireSize::Mm2)
        }
    }
}

/// Some jobs and more, none twice.
fn joined(jobs: &[Job], more: &[Job]) -> Vec<Job> {
    let mut all = jobs.to_vec();
    for job in more {
        if !all.contains(job) {
            all.push(job.clone());
        }
    }
    all
}
