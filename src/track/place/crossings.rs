//! Diamonds, slips and crossovers.

use super::draft::{Draft, Placed};
use super::formation::LEAD_ARM;
use super::frog::frog_length_mm;
use super::turnouts::Site;
use crate::layout::edit::{Edit, End, Refused};
use crate::layout::model::{Entity, Frog, Layout, Run, RunEnd, RunId, Shape, TrackEnd, Work};
use crate::track::curve::{Curve, Pose, curve, length_mm};
use crate::track::plane::{tenths, thousandths};
use crate::track::roads::crossing_angle;

/// What two roads that cross make.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CrossingKind {
    /// They only cross.
    Diamond,
    /// One can change roads on one side.
    SingleSlip,
    /// One can change roads on both sides.
    DoubleSlip,
}

/// A diamond or slip that is wished for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CrossingWish {
    /// What it is.
    pub kind: CrossingKind,
    /// Frogs: insulated or switched.
    pub frog: Frog,
    /// Where the second road is laid: how far it turns from the first, degrees; positive to the left.
    pub angle_deg: f64,
    /// Where it is laid: its length, mm.
    pub length_mm: f64,
}

impl Draft {
    fn crossing(
        &mut self,
        first: [TrackEnd; 2],
        second: [TrackEnd; 2],
        wish: &CrossingWish,
    ) -> Result<(), Refused> {
        let mut roads = [first, second];
        let Some((mut sine, mut cosine)) = crossing_angle(&self.layout, &roads) else {
            return Err(Refused("The two roads have no direction where they cross.".into()));
        };
        if cosine < 0.0 {
            roads[1].reverse();
            (sine, cosine) = (-sine, -cosine);
        }
        // Where the inner rails of the two cross, before and behind the middle.
        let half = sine.abs().atan2(cosine) / 2.0;
        let frog_mm = tenths(self.layout.gauge_mm / 2.0 / half.tan().max(1e-3)).max(0.2);
        // The frogs in the middle and at the ends must not run into each other.
        let frog_length_mm = frog_length_mm(&self.layout).min(tenths(frog_mm * 0.8)).max(0.1);
        let frog = wish.frog;
        let work = match wish.kind {
            CrossingKind::Diamond => Work::Diamond { roads, frog, frog_mm, frog_length_mm },
            kind => {
                let double = kind == CrossingKind::DoubleSlip;
                Work::Slip { roads, double, frog, frog_mm, frog_length_mm }
            }
        };
        self.special(work, "").map(drop)
    }
}

/// Where two runs cross, nearest to a place on the first: the distances along both, mm.
pub(super) fn where_they_cross(a: &Curve, b: &Curve, near_mm: f64) -> Option<(f64, f64)> {
    let samples = |curve: &Curve| -> Vec<(f64, Pose)> {
        let steps = (curve.length_mm() / 10.0).ceil().clamp(8.0, 400.0);
        let step = curve.length_mm() / steps;
        (0..=steps as u32).map(|n| f64::from(n) * step).map(|at| (at, curve.at(at))).collect()
    };
    let (on_a, on_b) = (samples(a), samples(b));
    let mut best: Option<(f64, f64)> = None;
    for [(from, p), (to, q)] in on_a.array_windows() {
        for [(start, r), (end, s)] in on_b.array_windows() {
            let along = (q.x_mm - p.x_mm, q.y_mm - p.y_mm);
            let across = (s.x_mm - r.x_mm, s.y_mm - r.y_mm);
            let between = (r.x_mm - p.x_mm, r.y_mm - p.y_mm);
            let cross = along.0 * across.1 - along.1 * across.0;
            if cross == 0.0 {
                continue;
            }
            let share = (between.0 * across.1 - between.1 * across.0) / cross;
            let other = (between.0 * along.1 - between.1 * along.0) / cross;
            if !(-0.01..=1.01).contains(&share) || !(-0.01..=1.01).contains(&other) {
                continue;
            }
            let found = (from + (to - from) * share, start + (end - start) * other);
            if best.is_none_or(|(at, _)| (found.0 - near_mm).abs() < (at - near_mm).abs()) {
                best = Some(found);
            }
        }
    }
    let (mut s, mut t) = best?;
    // The chords are nearly there; the tangents do the rest.
    for _ in 0..20 {
        let (p, q) = (a.at(s), b.at(t));
        let off = (q.x_mm - p.x_mm, q.y_mm - p.y_mm);
        let cross = p.dx * q.dy - p.dy * q.dx;
        if cross.abs() < 1e-6 {
            return None;
        }
        s += (off.0 * q.dy - off.1 * q.dx) / cross;
        t += (off.0 * p.dy - off.1 * p.dx) / cross;
    }
    let (p, q) = (a.at(s), b.at(t));
    let there = (p.x_mm - q.x_mm).hypot(p.y_mm - q.y_mm) < 1e-3;
    let inside = s > 0.0 && t > 0.0 && s < a.length_mm() && t < b.length_mm();
    (there && inside).then_some((s, t))
}

/// A diamond or slip where two runs cross, nearest to a place on the first. Both are split there.
///
/// # Errors
/// When they do not cross.
pub fn crossing_of(
    layout: &Layout,
    (run, near_mm): (RunId, f64),
    other: RunId,
    wish: &CrossingWish,
) -> Result<Placed, Refused> {
    let mut draft = Draft::of(layout);
    let (a, b) = (curve(layout, draft.run(run)?), curve(layout, draft.run(other)?));
    let crossed = if run == other { None } else { where_they_cross(&a, &b, near_mm) };
    let Some((at, at_other)) = crossed else {
        return Err(Refused(format!(
            "Runs {run} and {other} do not cross. Choose two runs that do, or have the second road laid."
        )));
    };
    let first = draft.split(run, at)?;
    let second = draft.split(other, at_other)?;
    let (joint, spare) = (draft.joint(first[0])?, draft.joint(second[0])?);
    let [before, after] = second;
    let before = Run { to: joint, ..draft.run(before.run)?.clone() };
    draft.edit(Edit::Replace(Entity::Run(before)))?;
    let after = Run { from: joint, ..draft.run(after.run)?.clone() };
    draft.edit(Edit::Replace(Entity::Run(after)))?;
    draft.edit(Edit::Delete(vec![spare.into()]))?;
    draft.crossing(first, second, wish)?;
    Ok(draft.done())
}

/// A diamond or slip at a place on a run; the second road is laid.
///
/// # Errors
/// When the place is not inside the run.
pub fn crossing(
    layout: &Layout,
    run: RunId,
    at_mm: f64,
    wish: &CrossingWish,
) -> Result<Placed, Refused> {
    let mut draft = Draft::of(layout);
    let pose = curve(layout, draft.run(run)?).at(at_mm);
    let first = draft.split(run, at_mm)?;
    let joint = draft.joint(first[0])?;
    let heading = pose.dy.atan2(pose.dx) + wish.angle_deg.to_radians();
    let half = wish.length_mm / 2.0;
    let end = |sign: f64| {
        End::New(
            thousandths(pose.x_mm + sign * half * heading.cos()),
            thousandths(pose.y_mm + sign * half * heading.sin()),
        )
    };
    let before = draft.lay(end(-1.0), End::At(joint), Shape::Straight)?;
    let after = draft.lay(End::At(joint), end(1.0), Shape::Straight)?;
    let second =
        [TrackEnd { run: before, end: RunEnd::End }, TrackEnd { run: after, end: RunEnd::Start }];
    draft.crossing(first, second, wish)?;
    Ok(draft.done())
}

/// Two runs lie beside each other if their directions differ by less than this, as a cosine.
const BESIDE: f64 = 0.9;
/// Farther than so many gauges apart they do not.
const MOST_GAUGES: f64 = 12.0;

/// The run beside a place on a run.
fn beside(layout: &Layout, run: RunId, here: &Pose) -> Option<RunId> {
    layout
        .runs
        .values()
        .filter(|other| other.id != run)
        .filter_map(|other| {
            let close = curve(layout, other).closest((here.x_mm, here.y_mm));
            let along = (here.dx * close.pose.dx + here.dy * close.pose.dy).abs();
            let off = close.off_mm.abs();
            let fits =
                along > BESIDE && off > layout.gauge_mm && off < MOST_GAUGES * layout.gauge_mm;
            fits.then_some((off, other.id))
        })
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, id)| id)
}

/// A crossover from a place on a run to a run beside it: two turnouts, a run between, both in one gang. Without `to`
/// the nearest run beside the place is taken.
///
/// # Errors
/// When there is no run beside it, or its track ends too soon.
pub fn crossover(
    layout: &Layout,
    site: Site,
    to: Option<RunId>,
    turn_deg: f64,
    frog: Frog,
) -> Result<Placed, Refused> {
    if !(turn_deg > 0.5 && turn_deg < 60.0) {
        return Err(Refused("A crossover turns by more than 0.5° and less than 60°.".into()));
    }
    let mut draft = Draft::of(layout);
    let here = curve(layout, draft.run(site.run)?).at(site.at_mm);
    let Some(other) = to.filter(|id| *id != site.run).or_else(|| beside(layout, site.run, &here))
    else {
        return Err(Refused(format!(
            "There is no other run beside run {} at this place. Lay one, or choose another place.",
            site.run
        )));
    };
    let beyond = curve(layout, draft.run(other)?);
    let close = beyond.closest((here.x_mm, here.y_mm));
    let across = (close.pose.x_mm - here.x_mm, close.pose.y_mm - here.y_mm);
    let sign = if site.towards == RunEnd::End { 1.0 } else { -1.0 };
    let on = (here.dx * sign, here.dy * sign);
    // Two arcs, one each way, each turning by the angle: so far on from one to the other.
    let apart = across.0.hypot(across.1);
    let far = apart / (turn_deg.to_radians() / 2.0).tan();
    let target = (here.x_mm + on.0 * far + across.0, here.y_mm + on.1 * far + across.1);
    let there = beyond.closest(target);
    let off = (there.pose.x_mm - target.0).hypot(there.pose.y_mm - target.1);
    if off > apart / 2.0 {
        return Err(Refused(format!(
            "Run {other} ends too soon for a crossover from this place, which needs {far:.0} mm along the track. \
             Choose a place farther back, or a larger angle."
        )));
    }
    let same_way = there.pose.dx * on.0 + there.pose.dy * on.1 > 0.0;
    let back = Site {
        run: other,
        at_mm: there.at_mm,
        towards: if same_way { RunEnd::Start } else { RunEnd::End },
    };
    let (toe, through) = draft.points_at(site)?;
    let (toe_there, through_there) = draft.points_at(back)?;
    let (Some(through), Some(through_there)) = (through, through_there) else {
        return Err(Refused(
            "A crossover leaves the track where it goes on. Choose a place that is no end of track.".into(),
        ));
    };
    let turn = if same_way { 1.0 } else { -1.0 };
    let arm = LEAD_ARM * far;
    let shape = Shape::Cubic {
        c1: (thousandths(here.x_mm + on.0 * arm), thousandths(here.y_mm + on.1 * arm)),
        c2: (
            thousandths(there.pose.x_mm - there.pose.dx * turn * arm),
            thousandths(there.pose.y_mm - there.pose.dy * turn * arm),
        ),
    };
    let (from, to) = (draft.joint(toe)?, draft.joint(toe_there)?);
    let run = draft.lay(End::At(from), End::At(to), shape)?;
    let gang = free_gang(layout);
    let ends = [RunEnd::Start, RunEnd::End].map(|end| TrackEnd { run, end });
    draft.turnout(toe, vec![through, ends[0]], frog, &gang)?;
    draft.turnout(toe_there, vec![through_there, ends[1]], frog, &gang)?;
    frogs_have_room(&draft, run)?;
    let needs = "Where the two tracks are fed apart, both rails want a cut between the two frogs of the crossover.";
    Ok(Placed { needs: Some(needs.to_owned()), ..draft.done() })
}

/// A name for a gang that nothing is in.
fn free_gang(layout: &Layout) -> String {
    let free = |name: &String| {
        layout.specials.values().all(|s| s.gang != *name)
            && layout.devices.values().all(|d| d.gang != *name)
    };
    (1..).map(|n| format!("crossover {n}")).find(free).unwrap_or_default()
}

/// Refuses a crossover whose two frogs do not fit on the run between.
fn frogs_have_room(draft: &Draft, run: RunId) -> Result<(), Refused> {
    let long = length_mm(&draft.layout, draft.run(run)?);
    let wanted: f64 = draft
        .specials
        .iter()
        .filter_map(|id| draft.layout.specials.get(id))
        .map(|special| special.work.reach_mm())
        .sum();
    if wanted > long {
        return Err(Refused(format!(
            "The two frogs have no room on the {long:.0} mm between the two runs. Choose a smaller angle: then the \
             crossover is longer."
        )));
    }
    Ok(())
}
