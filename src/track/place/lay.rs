//! Lays track: where three or four run ends meet, it makes a turnout or a diamond of them.

use std::f64::consts::FRAC_PI_3;

use super::draft::{Draft, Placed};
use crate::layout::edit::{Edit, End, Refused};
use crate::layout::model::{Contact, Entity, Frog, Layout, Shape, Special, TrackEnd, Work};
use crate::track::roads::away_from;

/// Runs of which the others turn away by more than this cannot be roads of one turnout, radians.
const MOST_TURN: f64 = FRAC_PI_3;

/// Of run ends that meet, the one that all others continue, and the others, the straightest on first. `None` if every
/// one is turned away from by more than 60°.
pub fn parting(layout: &Layout, ends: &[TrackEnd]) -> Option<(TrackEnd, Vec<TrackEnd>)> {
    let heading = |end: TrackEnd| away_from(layout, end, 0.0).map(|pose| (pose.dx, pose.dy));
    let mut best: Option<(f64, TrackEnd, Vec<TrackEnd>)> = None;
    for &toe in ends {
        let out = heading(toe)?;
        let mut exits: Vec<(f64, TrackEnd)> = Vec::new();
        for &exit in ends.iter().filter(|end| **end != toe) {
            let on = heading(exit)?;
            exits.push((-(out.0 * on.0 + out.1 * on.1), exit));
        }
        exits.sort_by(|a, b| b.0.total_cmp(&a.0));
        let worst = exits.last().map_or(-1.0, |(straight, _)| *straight);
        if worst >= MOST_TURN.cos() && best.as_ref().is_none_or(|(b, ..)| worst > *b + 1e-9) {
            best = Some((worst, toe, exits.into_iter().map(|(_, exit)| exit).collect()));
        }
    }
    best.map(|(_, toe, exits)| (toe, exits))
}

/// Lays runs end to end. Where an end of one meets two run ends that meet already, the three become a turnout; where it meets a
/// turnout of two roads, a three-way turnout. The toe is the end that all others continue.
///
/// # Errors
/// When an end is not there, or none of the run ends that would meet is continued by all others.
pub fn lay(layout: &Layout, from: End, pieces: &[(End, Shape)]) -> Result<Placed, Refused> {
    let mut draft = Draft::of(layout);
    let mut from = from;
    let mut joints = Vec::new();
    for (to, shape) in pieces {
        let run = draft.lay(from, *to, *shape)?;
        let new = draft.run(run)?.clone();
        from = End::At(new.to);
        joints.extend([new.from, new.to]);
    }
    joints.dedup();
    for joint in joints {
        let ends = draft.ends_at(joint);
        if ends.len() < 3 {
            continue;
        }
        let there = draft
            .layout
            .specials
            .values()
            .find(|special| special.work.ends().iter().any(|end| ends.contains(end)))
            .cloned();
        let toe_there = match &there {
            None => None,
            Some(Special { work: Work::Turnout { toe, exits, .. }, .. }) if exits.len() == 2 => {
                Some(*toe)
            }
            // What else there is at the joint has no room for another road: whoever applies this says so.
            Some(_) => continue,
        };
        let found = if ends.len() > 4 { None } else { parting(&draft.layout, &ends) };
        let found = found.filter(|(toe, _)| toe_there.is_none_or(|there| there == *toe));
        let Some((toe, exits)) = found else {
            let runs: Vec<String> = ends.iter().map(|end| end.run.to_string()).collect();
            return Err(Refused(format!(
                "Runs {} would meet at joint {joint}, and none of them is continued by all others within 60°, so that \
                 they make no turnout. Let the new run come in along the track, or end it at a free joint.",
                runs.join(", ")
            )));
        };
        match there {
            None => drop(draft.turnout(toe, exits, Frog::default(), "")?),
            Some(old) => {
                // Roads that were there keep their positions.
                let mut kept: Vec<TrackEnd> = old.work.ends().split_off(1);
                kept.extend(exits.into_iter().filter(|exit| !old.work.ends().contains(exit)));
                let work = draft.turnout_work(toe, kept, old.work.frog().unwrap_or_default());
                let contact = Contact::default();
                draft.edit(Edit::Replace(Entity::Special(Special { work, contact, ..old })))?;
            }
        }
    }
    Ok(draft.done())
}
