//! Many things at once: a piece of a layout to copy, pasting it, aligning, track parallel to other track.

use std::collections::{BTreeMap, BTreeSet};

use super::chain::Origin;
use super::edit::{Edit, End, Entity, Refused, drafted};
use super::geometry::{Point, RunEnd, curve, thousandths};
use super::ids::{EntityId, JointId, RunId};
use super::laying::free_ends;
use super::model::{Joint, Layout, Run, Shape};
use super::roads::{self, joint_at};

/// Distance between the centre lines of parallel tracks, mm at full size: 4 m (common practice on straight track, no
/// source).
const SPACING_FULL_SIZE_MM: f64 = 4000.0;

/// Distance between the centre lines of parallel tracks at a scale (87 for 1:87), whole mm.
pub fn spacing_mm(scale: f64) -> f64 {
    let mm = (SPACING_FULL_SIZE_MM / scale).round();
    if mm.is_finite() { mm.max(1.0) } else { 1.0 }
}

/// The joints that are moved when these things are moved: their own, those of their runs, those of special work with
/// its bridge.
pub fn joints_of(layout: &Layout, ids: &[EntityId]) -> Vec<JointId> {
    let mut joints: BTreeSet<JointId> = BTreeSet::new();
    for id in ids {
        match id {
            EntityId::Joint(id) => drop(joints.insert(*id)),
            EntityId::Run(id) => {
                joints.extend(layout.runs.get(id).into_iter().flat_map(|run| [run.from, run.to]));
            }
            EntityId::Special(id) => {
                let Some(work) = layout.specials.get(id).map(|s| &s.work) else { continue };
                joints.extend(work.ends().iter().filter_map(|&e| roads::joint_of(layout, e)));
                let bridge = work.bridge().and_then(|run| layout.runs.get(&run));
                joints.extend(bridge.into_iter().flat_map(|run| [run.from, run.to]));
            }
            _ => {}
        }
    }
    joints.into_iter().collect()
}

/// The middle of the box around joints, mm.
pub fn middle(layout: &Layout, joints: &[JointId]) -> Option<Point> {
    let places = joints.iter().filter_map(|id| layout.joints.get(id)).map(|j| (j.x_mm, j.y_mm));
    let (mut low, mut high) =
        ((f64::INFINITY, f64::INFINITY), (f64::NEG_INFINITY, f64::NEG_INFINITY));
    for (x, y) in places {
        low = (low.0.min(x), low.1.min(y));
        high = (high.0.max(x), high.1.max(y));
    }
    low.0.is_finite().then(|| (f64::midpoint(low.0, high.0), f64::midpoint(low.1, high.1)))
}

/// Along which line joints are aligned.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Line {
    /// All at the height of the first.
    Level,
    /// All straight above or below the first.
    Upright,
    /// On the straight line from the first to the last; each goes to the nearest place on it.
    FirstToLast,
}

/// Puts joints in a line.
pub fn align(layout: &Layout, joints: &[JointId], line: Line) -> Edit {
    let there: Vec<&Joint> = joints.iter().filter_map(|id| layout.joints.get(id)).collect();
    let (Some(first), Some(last)) = (there.first(), there.last()) else {
        return Edit::Batch(Vec::new());
    };
    let (dx, dy) = (last.x_mm - first.x_mm, last.y_mm - first.y_mm);
    let size = dx * dx + dy * dy;
    let placed = |joint: &Joint| match line {
        Line::Level => (joint.x_mm, first.y_mm),
        Line::Upright => (first.x_mm, joint.y_mm),
        Line::FirstToLast if size == 0.0 => (first.x_mm, first.y_mm),
        Line::FirstToLast => {
            let along = ((joint.x_mm - first.x_mm) * dx + (joint.y_mm - first.y_mm) * dy) / size;
            (first.x_mm + along * dx, first.y_mm + along * dy)
        }
    };
    let moved = there.iter().filter_map(|joint| {
        let (x_mm, y_mm) = placed(joint);
        let (x_mm, y_mm) = (thousandths(x_mm), thousandths(y_mm));
        let differs = (x_mm, y_mm) != (joint.x_mm, joint.y_mm);
        differs.then(|| Edit::Replace(Entity::Joint(Joint { x_mm, y_mm, ..(*joint).clone() })))
    });
    Edit::Batch(moved.collect())
}

/// Ends of track that are nearer to each other than this are at one place, mm.
const AT_ONE_PLACE_MM: f64 = 0.05;

/// Ends of track that moved joints would come to when they are moved by so much (mm), each with the free end that is there.
pub fn meetings(layout: &Layout, moved: &[JointId], by: Point, reach_mm: f64) -> Vec<Meeting> {
    let moved: BTreeSet<JointId> = moved.iter().copied().collect();
    let free: BTreeSet<JointId> =
        free_ends(layout).into_iter().filter_map(|end| roads::joint_of(layout, end)).collect();
    let place = |id: &JointId| layout.joints.get(id).map(|j| (j.x_mm, j.y_mm));
    let mut meetings = Vec::new();
    for joint in free.iter().filter(|id| moved.contains(id)) {
        let Some((x, y)) = place(joint) else { continue };
        for onto in free.iter().filter(|id| !moved.contains(id)) {
            let Some(there) = place(onto) else { continue };
            let off = (there.0 - x - by.0, there.1 - y - by.1);
            if off.0.hypot(off.1) <= reach_mm {
                meetings.push(Meeting { joint: *joint, onto: *onto, off });
            }
        }
    }
    meetings
}

/// A moved end of track near another one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Meeting {
    /// The joint that is moved.
    pub joint: JointId,
    /// The joint that stays.
    pub onto: JointId,
    /// How far the first still is from the second, mm.
    pub off: Point,
}

/// Moves joints, and joins the free ends of track that come to lie at one place with others that stay.
pub fn moved(layout: &Layout, joints: Vec<JointId>, (dx_mm, dy_mm): Point) -> Edit {
    let mut onto: BTreeMap<JointId, JointId> = BTreeMap::new();
    for meeting in meetings(layout, &joints, (dx_mm, dy_mm), AT_ONE_PLACE_MM) {
        // One end has room for one other.
        if !onto.values().any(|there| *there == meeting.onto) {
            onto.entry(meeting.joint).or_insert(meeting.onto);
        }
    }
    let shift = Edit::Move { joints, dx_mm, dy_mm };
    if onto.is_empty() {
        return shift;
    }
    // What the runs are after the move: control points have moved with them.
    let mut draft = layout.clone();
    if drafted(&mut draft, shift.clone()).is_err() {
        return shift;
    }
    let mut edits = vec![shift];
    let to = |id: JointId| onto.get(&id).copied().unwrap_or(id);
    for run in draft.runs.values() {
        let (from, end) = (to(run.from), to(run.to));
        if (from, end) != (run.from, run.to) {
            edits.push(Edit::Replace(Run { from, to: end, ..run.clone() }.into()));
        }
    }
    edits.push(Edit::Delete(onto.keys().map(|id| EntityId::Joint(*id)).collect()));
    Edit::Batch(edits)
}

/// A piece of a layout as a layout of its own: the runs that are chosen or whose both joints are, with everything that
/// stands on them, the special work all of whose roads are among them, and what feeds them. Names that the user gave to
/// cuts, blocks and special work stay behind: a copy of "Platform 1" is another place.
pub fn piece(layout: &Layout, ids: &[EntityId]) -> Layout {
    let chosen: BTreeSet<EntityId> = ids.iter().copied().collect();
    let joints: BTreeSet<JointId> = joints_of(layout, ids).into_iter().collect();
    let of_special = |run: &Run| {
        layout.specials.values().any(|special| {
            chosen.contains(&special.id.into())
                && (special.work.bridge() == Some(run.id)
                    || special.work.ends().iter().any(|end| end.run == run.id))
        })
    };
    let mut piece = Layout {
        name: String::new(),
        notes: String::new(),
        next_id: layout.next_id,
        scale: layout.scale,
        gauge_mm: layout.gauge_mm,
        rail_ohm_per_m: layout.rail_ohm_per_m,
        ..Layout::default()
    };
    for run in layout.runs.values() {
        let both = joints.contains(&run.from) && joints.contains(&run.to);
        if chosen.contains(&run.id.into()) || both || of_special(run) {
            piece.runs.insert(run.id, run.clone());
            for joint in [run.from, run.to].iter().filter_map(|id| layout.joints.get(id)) {
                piece.joints.insert(joint.id, joint.clone());
            }
        }
    }
    let there = |run: &RunId| piece.runs.contains_key(run);
    let cuts = layout.cuts.values().filter(|cut| there(&cut.run));
    piece.cuts =
        cuts.map(|cut| (cut.id, super::Cut { name: String::new(), ..cut.clone() })).collect();
    let feeds = layout.feeds.values().filter(|feed| there(&feed.run));
    piece.feeds = feeds.map(|feed| (feed.id, feed.clone())).collect();
    let bonds = layout.bonds.values().filter(|b| there(&b.from.run) && there(&b.to.run));
    piece.bonds = bonds.map(|bond| (bond.id, bond.clone())).collect();
    for special in layout.specials.values() {
        let bridge = special.work.bridge();
        let whole = special.work.ends().iter().all(|end| there(&end.run))
            && bridge.is_none_or(|run| there(&run));
        if whole {
            let mut special = super::Special { name: String::new(), ..special.clone() };
            if special.contact.sources.iter().flatten().any(|spot| !there(&spot.run)) {
                special.contact.sources.clear();
            }
            piece.specials.insert(special.id, special);
        }
    }
    let mut origins: Vec<Origin> = piece.feeds.values().map(|feed| feed.driver).collect();
    while let Some(origin) = origins.pop() {
        match origin {
            Origin::Driver(id) => {
                if let Some(driver) = layout.drivers.get(&id) {
                    piece.drivers.insert(id, driver.clone());
                    let supply = layout.supplies.get(&driver.supply).cloned();
                    piece.supplies.extend(supply.map(|supply| (supply.id, supply)));
                }
            }
            Origin::Device(id) if !piece.devices.contains_key(&id) => {
                if let Some(device) = layout.devices.get(&id) {
                    origins.extend(device.kind.sources());
                    piece.devices.insert(id, device.clone());
                }
            }
            Origin::Device(_) => {}
        }
    }
    piece
}

/// Pastes a piece, moved by so much (mm). Drivers, supplies and devices that the layout has under the same identity and
/// name are taken for those of the piece; others come with it. What is fed by those stays fed by them. Returns the edit,
/// and the joints and runs that it makes.
///
/// # Errors
/// When the layout has run out of numbers.
pub fn paste(
    layout: &Layout,
    piece: &Layout,
    (dx_mm, dy_mm): Point,
) -> Result<(Edit, Vec<EntityId>), Refused> {
    let mut draft = layout.clone();
    let mut edits: Vec<Edit> = Vec::new();
    let mut new: BTreeMap<EntityId, EntityId> = BTreeMap::new();
    let mut add = |entity: Entity, new: &mut BTreeMap<EntityId, EntityId>| {
        let old = entity.id();
        let edit = Edit::Add(entity);
        let made = drafted(&mut draft, edit.clone())?;
        edits.push(edit);
        new.extend(made.first().map(|made| (old, *made)));
        Ok::<(), Refused>(())
    };
    for supply in piece.supplies.values() {
        match layout.supplies.get(&supply.id).filter(|there| there.name == supply.name) {
            Some(there) => drop(new.insert(supply.id.into(), there.id.into())),
            None => add(supply.clone().into(), &mut new)?,
        }
    }
    for driver in piece.drivers.values() {
        match layout.drivers.get(&driver.id).filter(|there| there.name == driver.name) {
            Some(there) => drop(new.insert(driver.id.into(), there.id.into())),
            None => {
                let mut driver = driver.clone();
                if let Some(EntityId::Supply(supply)) = new.get(&driver.supply.into()) {
                    driver.supply = *supply;
                }
                add(driver.into(), &mut new)?;
            }
        }
    }
    // A device comes after what it is fed from.
    let mut waiting: Vec<&super::Device> = piece.devices.values().collect();
    while !waiting.is_empty() {
        let ready = waiting.iter().position(|device| {
            device.kind.sources().into_iter().all(|origin| new.contains_key(&origin.into()))
        });
        // Of a ring of devices none is ever ready; a layout that has one does not read.
        let Some(ready) = ready else { break };
        let device = waiting.remove(ready);
        match layout.devices.get(&device.id).filter(|there| there.name == device.name) {
            Some(there) => drop(new.insert(device.id.into(), there.id.into())),
            None => {
                let mut device = device.clone();
                for source in device.kind.sources_mut() {
                    *source = other_origin(&new, *source);
                }
                add(device.into(), &mut new)?;
            }
        }
    }
    let mut made: Vec<EntityId> = Vec::new();
    for joint in piece.joints.values() {
        let (x_mm, y_mm) = (joint.x_mm + dx_mm, joint.y_mm + dy_mm);
        add(Joint { x_mm, y_mm, ..joint.clone() }.into(), &mut new)?;
        made.extend(new.get(&joint.id.into()));
    }
    let joint = |id: JointId, new: &BTreeMap<EntityId, EntityId>| match new.get(&id.into()) {
        Some(EntityId::Joint(id)) => *id,
        _ => id,
    };
    for run in piece.runs.values() {
        let shape = match run.shape {
            Shape::Cubic { c1, c2 } => {
                Shape::Cubic { c1: (c1.0 + dx_mm, c1.1 + dy_mm), c2: (c2.0 + dx_mm, c2.1 + dy_mm) }
            }
            shape => shape,
        };
        let (from, to) = (joint(run.from, &new), joint(run.to, &new));
        add(Run { from, to, shape, ..run.clone() }.into(), &mut new)?;
        made.extend(new.get(&run.id.into()));
    }
    let run_of = |id: RunId, new: &BTreeMap<EntityId, EntityId>| match new.get(&id.into()) {
        Some(EntityId::Run(id)) => *id,
        _ => id,
    };
    for cut in piece.cuts.values() {
        add(super::Cut { run: run_of(cut.run, &new), ..cut.clone() }.into(), &mut new)?;
    }
    for feed in piece.feeds.values() {
        let driver = other_origin(&new, feed.driver);
        let feed = super::Feed { run: run_of(feed.run, &new), driver, ..feed.clone() };
        add(feed.into(), &mut new)?;
    }
    for bond in piece.bonds.values() {
        let mut bond = bond.clone();
        bond.from.run = run_of(bond.from.run, &new);
        bond.to.run = run_of(bond.to.run, &new);
        add(bond.into(), &mut new)?;
    }
    let mut gangs: BTreeMap<String, String> = BTreeMap::new();
    for special in piece.specials.values() {
        let mut special = special.clone();
        if !special.gang.is_empty() {
            // A copy is not thrown by the lever of what it was copied from.
            let taken = |name: &str| {
                layout.specials.values().any(|s| s.gang == name)
                    || layout.devices.values().any(|d| d.gang == name)
            };
            let fresh = |gang: &str| {
                (2..).map(|n| format!("{gang} {n}")).find(|name| !taken(name)).unwrap_or_default()
            };
            let new = gangs.entry(special.gang.clone());
            special.gang = new.or_insert_with_key(|gang| fresh(gang)).clone();
        }
        for run in special.work.runs_mut() {
            *run = run_of(*run, &new);
        }
        for spot in special.contact.sources.iter_mut().flatten() {
            spot.run = run_of(spot.run, &new);
        }
        add(special.into(), &mut new)?;
    }
    Ok((Edit::Batch(edits), made))
}

fn other_origin(new: &BTreeMap<EntityId, EntityId>, origin: Origin) -> Origin {
    match new.get(&origin.into()) {
        Some(EntityId::Driver(id)) => Origin::Driver(*id),
        Some(EntityId::Device(id)) => Origin::Device(*id),
        _ => origin,
    }
}

/// Lays track beside runs, at a distance of their centre lines (mm; to the left of the first run if positive, to the
/// right if negative). Where chosen runs meet, the new ones meet too.
///
/// # Errors
/// When a run is gone, or a curve is too tight to have track inside it at that distance.
pub fn parallel(layout: &Layout, runs: &[RunId], left_mm: f64) -> Result<Edit, Refused> {
    let mut edits: Vec<Edit> = Vec::new();
    let mut draft = layout.clone();
    let mut new_joints: BTreeMap<JointId, JointId> = BTreeMap::new();
    for (id, left_mm) in sides(layout, runs, left_mm) {
        let run = layout.runs.get(&id).ok_or_else(|| {
            Refused(format!("There is no run {id} on this layout (any more). Choose another run."))
        })?;
        let line = curve(layout, run);
        if line.least_radius_mm().is_some_and(|(radius, left)| {
            let inwards = if left { left_mm } else { -left_mm };
            inwards >= radius
        }) {
            return Err(Refused(format!(
                "Run {id} curves too tightly for a track {:.0} mm inside it. Choose the other side, or a smaller \
                 distance.",
                left_mm.abs()
            )));
        }
        let ends = [line.at(0.0), line.at(line.length_mm())];
        let places = ends.map(|pose| pose.left_by(left_mm));
        let old = [run.from, run.to];
        let at = |n: usize| match new_joints.get(&old[n]) {
            Some(joint) => End::At(*joint),
            None => End::New(thousandths(places[n].0), thousandths(places[n].1)),
        };
        let (from, to) = (at(0), at(1));
        let shape = match run.shape {
            Shape::Cubic { c1, c2 } => {
                // The handles grow and shrink with the ends: close to parallel where the curve is gentle.
                let chord = |a: Point, b: Point| (b.0 - a.0).hypot(b.1 - a.1);
                let (a, b) = ((ends[0].x_mm, ends[0].y_mm), (ends[1].x_mm, ends[1].y_mm));
                let grown = chord(places[0], places[1]) / chord(a, b).max(1e-9);
                let shifted = |c: Point, from: Point, to: Point| {
                    (to.0 + (c.0 - from.0) * grown, to.1 + (c.1 - from.1) * grown)
                };
                Shape::Cubic { c1: shifted(c1, a, places[0]), c2: shifted(c2, b, places[1]) }
            }
            shape => shape,
        };
        let edit = Edit::Lay { from, to, shape, length_mm: None };
        let made = drafted(&mut draft, edit.clone())?;
        edits.push(edit);
        if let Some(laid) = made.iter().find_map(|id| match id {
            EntityId::Run(run) => draft.runs.get(run),
            _ => None,
        }) {
            new_joints.entry(old[0]).or_insert(laid.from);
            new_joints.entry(old[1]).or_insert(laid.to);
        }
    }
    Ok(Edit::Batch(edits))
}

/// On which side of each run its parallel lies, so that it stays on one side of the whole track.
fn sides(layout: &Layout, runs: &[RunId], left_mm: f64) -> Vec<(RunId, f64)> {
    let mut sides: Vec<(RunId, f64)> = Vec::new();
    let mut waiting: Vec<RunId> = runs.to_vec();
    while !waiting.is_empty() {
        let joined = |id: &RunId| {
            let run = layout.runs.get(id)?;
            sides.iter().find_map(|(other, side)| {
                let there = layout.runs.get(other)?;
                let both = [RunEnd::Start, RunEnd::End];
                let meet = both
                    .into_iter()
                    .flat_map(|a| both.map(|b| (a, b)))
                    .find(|(a, b)| joint_at(run, *a) == joint_at(there, *b))?;
                // Start to end goes on in the same direction.
                Some(if meet.0 == meet.1 { -side } else { *side })
            })
        };
        let next = waiting.iter().enumerate().find_map(|(n, id)| Some((n, joined(id)?)));
        let (n, side) = next.unwrap_or((0, left_mm));
        sides.push((waiting.remove(n), side));
    }
    sides
}
