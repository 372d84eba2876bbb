//! The neighbourhood of a gap: drivers, feeds, supplies, devices, special work and vehicles that can matter there.

use std::collections::BTreeSet;

use super::Cannot;
use crate::layout::{
    CutId, DeviceId, Drive, DriverId, FeedId, JointId, Layout, Load, Rail, RunId, SpecialId, Spot,
    SupplyId, driver_now,
};
use crate::rails::{Plan, Within, cut_place_mm};
use crate::straddle::path::ruler_at;
use crate::study::run::Rolls;
use crate::study::scope::{Gap, Who};

/// At most so many feeds are thought of: those of the two blocks first.
const MOST_FEEDS: usize = 10;
/// At most so many drivers are thought of: those of the two blocks first.
const MOST_DRIVERS: usize = 8;
/// At most so many joints are taken to be open, those first that were laid first.
const MOST_JOINTS: usize = 12;
/// Distance from a gap at which a meter touches the rails, mm.
const BESIDE_MM: f64 = 12.0;

/// The neighbourhood of a gap.
#[derive(Debug, Clone)]
pub struct Reach {
    /// The gap.
    pub cut: CutId,
    /// The driver of the block before the gap and of the block after it.
    pub sides: [Option<DriverId>; 2],
    /// Names of the two blocks.
    pub blocks: [String; 2],
    /// Drivers around it.
    pub drivers: Vec<DriverId>,
    /// Their feeds.
    pub feeds: Vec<FeedId>,
    /// Their supplies.
    pub supplies: Vec<SupplyId>,
    /// Devices that they go through.
    pub devices: Vec<DeviceId>,
    /// Special work of the two blocks.
    pub specials: Vec<SpecialId>,
    /// Joints of the two blocks with a run that ends there.
    pub joints: Vec<(JointId, RunId, bool)>,
    /// Vehicles to try: at most a train, the longest and the shortest vehicle that drives.
    pub rolls: Vec<Rolls>,
    /// The feeds of the block before the gap and of the block after it, of those.
    of_sides: [Vec<FeedId>; 2],
    /// Feeds and drivers around it that are not thought of, because there are too many.
    pub left_out: usize,
    /// Places on the left and the right rail before the gap, and after it, as seen along its run.
    pub spots: [[Spot; 2]; 2],
}

impl Reach {
    /// The neighbourhood of a gap of a layout.
    ///
    /// # Errors
    /// The gap cannot be looked at; with what to do.
    pub fn of(layout: &Layout, plan: &Plan, cut: CutId) -> Result<Reach, Cannot> {
        let gap = Gap::of(layout, plan, cut).ok_or(Cannot::NoGap)?;
        if layout.vehicles.is_empty() {
            return Err(Cannot::NothingRolls);
        }
        let mut drivers: BTreeSet<DriverId> = BTreeSet::new();
        let mut devices: BTreeSet<DeviceId> = BTreeSet::new();
        for who in gap.all() {
            let names = &gap.around(who).names;
            drivers.extend(names.drivers.iter());
            devices.extend(names.devices.iter());
        }
        let who = gap.all().next().unwrap_or(Who::StandIn);
        let names = &gap.around(who).names;
        let sides = gap.case(who).sides.map(|side| side.map(|at| names.drivers[at]));
        let at = plan.cuts.get(&cut).ok_or(Cannot::NoGap)?;
        let around = [at.block_before, at.block_after];
        if sides == [None; 2] {
            return Err(Cannot::NoDriver);
        }
        let feeds = layout.feeds.values().filter(|feed| {
            driver_now(layout, feed.driver).is_some_and(|driver| drivers.contains(&driver))
        });
        let mut feeds: Vec<FeedId> = feeds.map(|feed| feed.id).collect();
        let of_block = |block: usize| -> Vec<FeedId> {
            let nets = plan.blocks.get(block).map_or([usize::MAX; 2], |block| block.nets);
            let legs = nets.iter().filter_map(|&net| plan.nets.get(net)).flat_map(|net| &net.legs);
            legs.map(|leg| leg.feed).filter(|feed| feeds.contains(feed)).collect()
        };
        let of_sides = around.map(of_block);
        let is_near = |feed: &FeedId| of_sides.iter().any(|side| side.contains(feed));
        feeds.sort_by_key(|feed| !is_near(feed));
        let mut near: Vec<DriverId> = drivers.iter().copied().collect();
        near.sort_by_key(|driver| !sides.contains(&Some(*driver)));
        let left_out =
            feeds.len().saturating_sub(MOST_FEEDS) + near.len().saturating_sub(MOST_DRIVERS);
        feeds.truncate(MOST_FEEDS);
        near.truncate(MOST_DRIVERS);
        let of_driver = |id: &DriverId| layout.drivers.get(id).map(|driver| driver.supply);
        let supplies: BTreeSet<SupplyId> = near.iter().filter_map(of_driver).collect();
        let (specials, joints) = track(layout, plan, around);
        Ok(Reach {
            cut,
            sides,
            blocks: around.map(|block| plan.block_name(layout, block)),
            drivers: near,
            of_sides,
            left_out,
            feeds,
            supplies: supplies.into_iter().collect(),
            devices: devices.into_iter().collect(),
            specials,
            joints,
            rolls: rolls(layout),
            spots: spots(layout, plan, cut).ok_or(Cannot::NoGap)?,
        })
    }

    /// The side of the gap on which a feed ends, if it ends on one of its two blocks only.
    pub fn feed_side(&self, feed: FeedId) -> Option<usize> {
        match self.of_sides.each_ref().map(|side| side.contains(&feed)) {
            [true, false] => Some(0),
            [false, true] => Some(1),
            _ => None,
        }
    }

    /// True if a booster feeds one of the two blocks: it has no zero, and an averaging meter shows nothing of it.
    pub fn is_dcc(&self, layout: &Layout) -> bool {
        let of = |id: &DriverId| layout.drivers.get(id).map(|driver| &driver.drive);
        let mut sides = self.sides.iter().flatten();
        sides.any(|id| matches!(of(id), Some(Drive::DccBooster { .. })))
    }
}

type Ends = (Vec<SpecialId>, Vec<(JointId, RunId, bool)>);

/// Special work and plain joints of two blocks.
fn track(layout: &Layout, plan: &Plan, blocks: [usize; 2]) -> Ends {
    let mut runs: BTreeSet<RunId> = BTreeSet::new();
    for piece in blocks.iter().filter_map(|&at| plan.blocks.get(at)).flat_map(|b| &b.pieces) {
        runs.insert(plan.pieces[*piece].run);
    }
    let mut specials: BTreeSet<SpecialId> = BTreeSet::new();
    for piece in &plan.pieces {
        if let Within::Special(id) = piece.within
            && runs.contains(&piece.run)
        {
            specials.insert(id);
        }
    }
    let mut joints: Vec<(JointId, RunId, bool)> = Vec::new();
    for run in runs.iter().filter_map(|id| layout.runs.get(id)) {
        for (joint, at_end) in [(run.from, false), (run.to, true)] {
            let beyond = plan.beyond(run.id, at_end);
            let is_plain = beyond.is_some_and(|beyond| beyond.special.is_none());
            if is_plain && joints.iter().all(|known| known.0 != joint) {
                joints.push((joint, run.id, at_end));
            }
        }
    }
    joints.truncate(MOST_JOINTS);
    (specials.into_iter().collect(), joints)
}

/// Vehicles to try: a train, the longest and the shortest vehicle that drives.
fn rolls(layout: &Layout) -> Vec<Rolls> {
    let drives = |load: &Load| matches!(load, Load::Motor { .. } | Load::Rectifier { .. });
    let mut vehicles: Vec<_> = layout.vehicles.values().collect();
    vehicles.sort_by(|a, b| b.length_mm.total_cmp(&a.length_mm).then(a.id.cmp(&b.id)));
    if vehicles.iter().any(|vehicle| drives(&vehicle.load)) {
        vehicles.retain(|vehicle| drives(&vehicle.load));
    }
    let longest = vehicles.first().map(|vehicle| Rolls::Vehicle(vehicle.id));
    let shortest = vehicles.last().map(|vehicle| Rolls::Vehicle(vehicle.id));
    let train = layout.trains.keys().next().map(|&id| Rolls::Train(id));
    let mut rolls: Vec<Rolls> = [longest, shortest, train].into_iter().flatten().collect();
    rolls.dedup();
    rolls
}

/// Places beside a gap, on both sides of it and on both rails.
fn spots(layout: &Layout, plan: &Plan, cut: CutId) -> Option<[[Spot; 2]; 2]> {
    let cut = layout.cuts.get(&cut)?;
    let gaps = || Rail::BOTH.into_iter().filter_map(|rail| cut_place_mm(cut, rail));
    let (first, last) = (gaps().reduce(f64::min)?, gaps().reduce(f64::max)?);
    let spans = ruler_at(plan, cut.run, cut.at_mm, last - first + 10.0 * BESIDE_MM);
    let spot = |at_mm: f64, rail: Rail| {
        let span = spans.iter().find(|span| span.from_mm <= at_mm && at_mm <= span.to_mm)?;
        let rail = if span.along > 0 { rail } else { rail.other() };
        Some(Spot { run: span.run, at_mm: span.run_mm(at_mm), rail })
    };
    let pair = |at_mm: f64| Some([spot(at_mm, Rail::Left)?, spot(at_mm, Rail::Right)?]);
    // The ruler's zero is the place of the cut. The next gap may be nearer than a meter's usual place.
    let (first, last) = (first - cut.at_mm, last - cut.at_mm);
    let near = |length_mm: f64| (length_mm / 2.0).min(BESIDE_MM);
    let before = spans.iter().rfind(|span| span.to_mm <= first + 1e-6)?;
    let after = spans.iter().find(|span| span.from_mm >= last - 1e-6)?;
    let at_mm = first - near(before.to_mm - before.from_mm);
    Some([pair(at_mm)?, pair(last + near(after.to_mm - after.from_mm))?])
}
