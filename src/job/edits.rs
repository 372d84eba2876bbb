//! The edits that do a job.

use super::Job;
use crate::drive;
use crate::layout::{
    Contact, Cut, Device, DeviceId, DeviceKind, Driver, DriverId, Edit, EntityId, Feed, FeedId,
    Idle, Joiners, Joint, Layout, Lever, Made, Origin, Quantity, Rail, Rails, RunId, Setting,
    Special, SpecialId, Supply, SupplyId, Trip, Wire, Work, default_cut_width_mm,
    default_device_ohm, defaults,
};

/// Current beyond which a new auto-reverser acts, and how long that takes: 2 A and 1 ms (common practice, no source).
pub fn new_reverser(from: Origin) -> DeviceKind {
    DeviceKind::AutoReverser { from, amps: Quantity::assumed(2.0, 1.5, 4.0), acts_after_s: 0.001 }
}

/// A device without a name, in its first position.
pub fn new_device(kind: DeviceKind) -> Device {
    Device {
        id: DeviceId(0),
        name: String::new(),
        kind,
        ohm: default_device_ohm(),
        position: 0,
        gang: String::new(),
        notes: String::new(),
    }
}

/// Resistance of a leg of a new feed where no other feed of its source is there to copy, Ω: 2 m of AWG 20 and a terminal
/// (common practice, no source).
fn new_feed_ohm() -> Quantity {
    Quantity::assumed(0.1, 0.05, 0.2)
}

impl Job {
    /// The edits that do it on a layout, in order. `None` if the job does not apply there, or changes nothing.
    pub fn edits(&self, layout: &Layout) -> Option<Vec<Edit>> {
        let edits = match self {
            Job::Turn { driver, direction } => {
                let now = layout.drivers.get(driver)?.setting;
                let setting = Setting { direction: *direction, ..now };
                (setting != now).then_some(vec![Edit::Set { driver: *driver, setting }])?
            }
            Job::Coast(id) => drive(layout, *id, drive::Change::CoastWhenIdle)?,
            Job::DriveInputs { driver, idle } => {
                drive(layout, *driver, drive::Change::IdleBy(*idle))?
            }
            Job::ExchangePhase(id) => drive(layout, *id, drive::Change::ExchangePhase)?,
            Job::TakeDelayAway(id) => drive(layout, *id, drive::Change::TakeDelayAway)?,
            Job::FollowStation { driver, station } => {
                drive(layout, *driver, drive::Change::Follow(station))?
            }
            Job::OneClock(ids) => one_clock(layout, ids)?,
            Job::TripAt { driver, amps } => trip(layout, *driver, |trip| {
                trip.amps = Quantity::given(*amps);
            })?,
            Job::Sense { driver, senses } => trip(layout, *driver, |trip| {
                (trip.senses, trip.signed) = (*senses, false);
            })?,
            Job::ExchangeWires(id) => {
                layout.feeds.get(id)?;
                vec![Edit::Swap { feed: *id }]
            }
            Job::TakeFeedAway(id) => {
                layout.feeds.get(id)?;
                vec![Edit::Delete(vec![(*id).into()])]
            }
            Job::CompleteFeed(id) => complete(layout, *id)?,
            Job::AddFeed { from, run, at_mm, p } => {
                vec![add_feed(layout, (*from, *from), *run, *at_mm, *p)]
            }
            Job::AddReversedFeed { from, run, at_mm, p, automatic } => {
                let device = DeviceId(layout.next_id);
                let kind = reversing(*from, *automatic);
                vec![
                    Edit::Add(new_device(kind).into()),
                    add_feed(layout, (device.into(), *from), *run, *at_mm, *p),
                ]
            }
            Job::AddSelectedFeed { cabs, run, at_mm, p } => {
                let device = Origin::Device(DeviceId(layout.next_id));
                let like = *cabs.first()?;
                let cabs = cabs.iter().copied().map(Some).collect();
                vec![
                    Edit::Add(new_device(DeviceKind::CabSelector { cabs }).into()),
                    add_feed(layout, (device, like), *run, *at_mm, *p),
                ]
            }
            Job::AddSwitchedFeed { from, run, at_mm, p } => {
                let device = Origin::Device(DeviceId(layout.next_id));
                let cabs = vec![Some(*from), None];
                vec![
                    Edit::Add(new_device(DeviceKind::CabSelector { cabs }).into()),
                    add_feed(layout, (device, *from), *run, *at_mm, *p),
                ]
            }
            Job::AddWire { from, run, at_mm, rail, is_p } => {
                let Edit::Feed { driver, run, at_mm, wire, ohm, .. } =
                    add_feed(layout, (*from, *from), *run, *at_mm, *rail)
                else {
                    return None;
                };
                let (p, m) = if *is_p { (Some(*rail), None) } else { (None, Some(*rail)) };
                vec![Edit::Feed { driver, run, at_mm, p, m, wire, ohm }]
            }
            Job::AddDriver { name, like } => add_driver(layout, name, *like),
            Job::Reverse { feeds, automatic } => reverse(layout, feeds, *automatic)?,
            Job::SelectCab(feeds) => select_cab(layout, feeds)?,
            Job::Thicken { feed, size } => {
                let feed = layout.feeds.get(feed)?;
                let wire = Wire { size: *size, rating_a: None, ..feed.wire? };
                vec![Edit::Replace(Feed { wire: Some(wire), ohm: None, ..feed.clone() }.into())]
            }
            // A tie to earth is there to protect: it is never opened.
            Job::OpenTie(id) => supply(layout, *id, |supply| {
                let tie = supply.negative.take();
                tie.is_some_and(|tie| !is_earth(&tie.name))
            })?,
            Job::SwitchTogether(id) => {
                supply(layout, *id, |supply| std::mem::take(&mut supply.separately_switched))?
            }
            Job::DriverTogether(id) => {
                let driver = layout.drivers.get(id)?;
                if !driver.separately_switched {
                    return None;
                }
                vec![Edit::Replace(Driver { separately_switched: false, ..driver.clone() }.into())]
            }
            Job::SetVolts { supply: id, volts } => supply(layout, *id, |supply| {
                let differs = supply.open_v.value != *volts;
                let borne = supply.bearable_v.is_none_or(|most| *volts <= most.value);
                supply.open_v = Quantity::given(*volts);
                differs && borne
            })?,
            Job::OwnSupply(id) => own_supply(layout, *id)?,
            Job::LimitInrush { supply: id, ohm } => supply(layout, *id, |supply| {
                let now = supply.bulk_ohm.map_or(0.0, |ohm| ohm.value);
                supply.bulk_ohm = Some(Quantity::given(*ohm));
                now < *ohm && supply.bulk_f.is_some()
            })?,
            Job::BiggerSupply { supply: id, amps } => supply(layout, *id, |supply| {
                let Some(limit) = supply.limit.as_mut().filter(|l| l.amps.value < *amps) else {
                    return false;
                };
                limit.amps = Quantity::given(*amps);
                true
            })?,
            Job::CutBoth(id) => cut(layout, *id, |cut| {
                let before = std::mem::replace(&mut cut.rails, Rails::Both);
                before != Rails::Both
            })?,
            Job::AddCut { run, at_mm, rails } => vec![Edit::Cut {
                run: *run,
                at_mm: *at_mm,
                rails: *rails,
                width_mm: default_cut_width_mm(),
                stagger_mm: 0.0,
                made: Made::Open,
            }],
            Job::MoveCut { cut: id, at_mm } => cut(layout, *id, |cut| {
                let before = std::mem::replace(&mut cut.at_mm, *at_mm);
                before != *at_mm
            })?,
            Job::BridgeCut(id) => {
                layout.cuts.get(id)?;
                vec![Edit::Delete(vec![(*id).into()])]
            }
            Job::Widen { cut: id, width_mm } => cut(layout, *id, |cut| {
                let before = std::mem::replace(&mut cut.width_mm, *width_mm);
                before < *width_mm
            })?,
            Job::Fill(id) => cut(layout, *id, |cut| {
                let before = std::mem::replace(&mut cut.made, Made::Filled);
                before == Made::Open
            })?,
            Job::WireContact(id) => {
                contact(layout, *id, |contact| !std::mem::take(&mut contact.sources).is_empty())?
            }
            Job::CoupleContact(id) => contact(layout, *id, |contact| {
                let differs = contact.lever == Lever::Own || contact.position.is_some();
                (contact.lever, contact.position) = (Lever::Points, None);
                differs
            })?,
            Job::BreakBefore(id) => {
                contact(layout, *id, |contact| !std::mem::replace(&mut contact.open_between, true))?
            }
            Job::OpenWider { special, open_mm: to } => {
                let special = layout.specials.get(special)?;
                let mut new = special.clone();
                let Work::Turnout { open_mm, .. } = &mut new.work else { return None };
                if std::mem::replace(open_mm, *to) >= *to {
                    return None;
                }
                vec![Edit::Replace(new.into())]
            }
            Job::Bond(id) => {
                let joint = layout.joints.get(id)?;
                if joint.joiners != Joiners::Plain {
                    return None;
                }
                vec![Edit::Replace(Joint { joiners: Joiners::Bonded, ..joint.clone() }.into())]
            }
            Job::TakeNameAway(id) => {
                layout.labels.get(id)?;
                vec![Edit::Delete(vec![EntityId::from(*id)])]
            }
        };
        Some(edits)
    }
}

fn drive(layout: &Layout, id: DriverId, change: drive::Change<'_>) -> Option<Vec<Edit>> {
    let driver = layout.drivers.get(&id)?;
    let drive = drive::of(&driver.drive).changed(change)?;
    Some(vec![Edit::Replace(Driver { drive, ..driver.clone() }.into())])
}

/// All drivers on the clock of the first, under one name and in phase.
fn one_clock(layout: &Layout, ids: &[DriverId]) -> Option<Vec<Edit>> {
    let clock = |id: &DriverId| drive::of(&layout.drivers.get(id)?.drive).pwm_clock().cloned();
    let first = clock(ids.first()?)?;
    let name = first.shared.clone().unwrap_or_else(|| format!("clock of {}", ids[0]));
    let phase = Some(first.phase.unwrap_or(0.0));
    let shared = crate::layout::Clock { shared: Some(name), phase, ..first };
    let mut edits = Vec::new();
    for id in ids {
        if clock(id)? != shared {
            edits.extend(drive(layout, *id, drive::Change::RunFrom(&shared))?);
        }
    }
    (!edits.is_empty()).then_some(edits)
}

fn trip(layout: &Layout, id: DriverId, change: impl Fn(&mut Trip)) -> Option<Vec<Edit>> {
    let driver = layout.drivers.get(&id)?;
    let mut new = driver.clone();
    change(new.trip.as_mut()?);
    (new != *driver).then(|| vec![Edit::Replace(new.into())])
}

/// A supply after a change that says whether it changed anything.
fn supply(
    layout: &Layout,
    id: SupplyId,
    change: impl Fn(&mut Supply) -> bool,
) -> Option<Vec<Edit>> {
    let mut new = layout.supplies.get(&id)?.clone();
    change(&mut new).then(|| vec![Edit::Replace(new.into())])
}

fn cut(
    layout: &Layout,
    id: crate::layout::CutId,
    change: impl Fn(&mut Cut) -> bool,
) -> Option<Vec<Edit>> {
    let mut new = layout.cuts.get(&id)?.clone();
    change(&mut new).then(|| vec![Edit::Replace(new.into())])
}

fn contact(
    layout: &Layout,
    id: SpecialId,
    change: impl Fn(&mut Contact) -> bool,
) -> Option<Vec<Edit>> {
    let special = layout.specials.get(&id)?;
    if special.work.fed_frogs() == 0 {
        return None;
    }
    let mut contact = special.contact.clone();
    change(&mut contact).then(|| vec![Edit::Replace(Special { contact, ..special.clone() }.into())])
}

/// The missing wire of a feed to the other rail.
fn complete(layout: &Layout, id: FeedId) -> Option<Vec<Edit>> {
    let feed = layout.feeds.get(&id)?;
    let (p, m) = match (feed.p, feed.m) {
        (Some(rail), None) => (rail, rail.other()),
        (None, Some(rail)) => (rail.other(), rail),
        (Some(_), Some(_)) | (None, None) => return None,
    };
    Some(vec![Edit::Replace(Feed { p: Some(p), m: Some(m), ..feed.clone() }.into())])
}

/// A feed with wires like those of a feed that the source `like` has already.
fn add_feed(
    layout: &Layout,
    (driver, like): (Origin, Origin),
    run: RunId,
    at_mm: f64,
    p: Rail,
) -> Edit {
    let old = layout.feeds.values().find(|feed| feed.driver == like);
    let (wire, ohm) = old.map_or((None, Some(new_feed_ohm())), |feed| (feed.wire, feed.ohm));
    Edit::Feed { driver, run, at_mm, p: Some(p), m: Some(p.other()), wire, ohm }
}

fn reversing(from: Origin, automatic: bool) -> DeviceKind {
    match automatic {
        true => new_reverser(from),
        false => DeviceKind::ReversingSwitch { from, centre_off: false },
    }
}

/// A device that exchanges the poles, between feeds and their one source.
fn reverse(layout: &Layout, feeds: &[FeedId], automatic: bool) -> Option<Vec<Edit>> {
    let feeds: Option<Vec<&Feed>> = feeds.iter().map(|id| layout.feeds.get(id)).collect();
    let feeds = feeds?;
    let from = feeds.first()?.driver;
    if feeds.iter().any(|feed| feed.driver != from) {
        return None;
    }
    Some(behind(layout, reversing(from, automatic), feeds))
}

/// One cab selector before feeds that come from different sources.
fn select_cab(layout: &Layout, feeds: &[FeedId]) -> Option<Vec<Edit>> {
    let feeds: Option<Vec<&Feed>> = feeds.iter().map(|id| layout.feeds.get(id)).collect();
    let feeds = feeds?;
    let mut cabs: Vec<Option<Origin>> = Vec::new();
    for feed in &feeds {
        if !cabs.contains(&Some(feed.driver)) {
            cabs.push(Some(feed.driver));
        }
    }
    (cabs.len() > 1).then(|| behind(layout, DeviceKind::CabSelector { cabs }, feeds))
}

/// The edits that add a device and move feeds behind it.
fn behind(layout: &Layout, kind: DeviceKind, feeds: Vec<&Feed>) -> Vec<Edit> {
    let driver = Origin::Device(DeviceId(layout.next_id));
    let mut edits = vec![Edit::Add(new_device(kind).into())];
    edits.extend(
        feeds.into_iter().map(|feed| Edit::Replace(Feed { driver, ..feed.clone() }.into())),
    );
    edits
}

/// True if what a negative is tied to is called an earth, or the mains.
fn is_earth(name: &str) -> bool {
    let name = name.to_lowercase();
    let words = name.split(|c: char| !c.is_alphanumeric());
    words.into_iter().any(|word| matches!(word, "earth" | "pe" | "mains" | "ground" | "earthed"))
        && !name.contains("controller")
        && !name.contains("board")
}

/// A driver with a supply of its own, stopped.
fn add_driver(layout: &Layout, name: &str, like: Option<DriverId>) -> Vec<Edit> {
    let like = like.and_then(|id| layout.drivers.get(&id));
    let like_supply = like.and_then(|driver| layout.supplies.get(&driver.supply));
    let supply = SupplyId(layout.next_id);
    let named = |kind: &str| format!("{name} {kind}");
    let new_supply = match like_supply {
        Some(old) => {
            Supply { name: named("supply"), negative: None, notes: String::new(), ..old.clone() }
        }
        None => Supply { name: named("supply"), ..defaults::supply() },
    };
    let driver = match like {
        Some(old) => Driver { name: named("driver"), supply, notes: String::new(), ..old.clone() },
        None => {
            let drive = defaults::pwm_bridge(Idle::HighImpedance);
            Driver { name: named("driver"), ..defaults::driver(supply, drive) }
        }
    };
    vec![Edit::Add(new_supply.into()), Edit::Add(driver.into())]
}

/// A supply of the same values, tied to nothing, that only this driver draws from.
fn own_supply(layout: &Layout, id: DriverId) -> Option<Vec<Edit>> {
    let driver = layout.drivers.get(&id)?;
    let old = layout.supplies.get(&driver.supply)?;
    let shared = layout.drivers.values().filter(|d| d.supply == driver.supply).count() > 1;
    if !shared && old.negative.is_none() {
        return None;
    }
    let supply = SupplyId(layout.next_id);
    let new = Supply { name: String::new(), negative: None, notes: String::new(), ..old.clone() };
    Some(vec![Edit::Add(new.into()), Edit::Replace(Driver { supply, ..driver.clone() }.into())])
}
