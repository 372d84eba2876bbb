//! Deletes track, and leaves no special work without its roads.

use super::draft::Draft;
use crate::layout::edit::{Edit, Refused};
use crate::layout::model::{
    Contact, Entity, EntityId, Joint, JointId, Layout, Run, RunEnd, Special, TrackEnd, Work,
};
use crate::track::roads::joint_of;

/// Deletes things, and takes apart the special work that goes with them: tracks that only it held together get joints
/// of their own at the same place. A three-way turnout that loses a road stays a turnout.
///
/// # Errors
/// When the layout has run out of numbers.
pub fn deletion(layout: &Layout, ids: &[EntityId]) -> Result<Edit, Refused> {
    let mut draft = Draft::of(layout);
    let mut gone: Vec<EntityId> = ids.to_vec();
    let run_goes = |run: &Run| {
        [run.id.into(), run.from.into(), run.to.into()].iter().any(|id| ids.contains(id))
    };
    for special in layout.specials.values().filter(|s| s.work.frog().is_some()) {
        let ends = special.work.ends();
        let stays = |end: &TrackEnd| layout.runs.get(&end.run).is_some_and(|run| !run_goes(run));
        let left: Vec<TrackEnd> = ends.iter().copied().filter(stays).collect();
        let itself = ids.contains(&special.id.into());
        if left.len() == ends.len() && !itself {
            continue;
        }
        if let Work::Turnout { toe, exits, frog, .. } = &special.work
            && !itself
            && left.len() == 3
            && stays(toe)
        {
            let kept: Vec<TrackEnd> = exits.iter().copied().filter(stays).collect();
            let position = exits
                .get(special.position as usize)
                .and_then(|set| kept.iter().position(|exit| exit == set))
                .unwrap_or(0) as u32;
            let work = draft.turnout_work(*toe, kept, *frog);
            let contact = Contact::default();
            let new = Special { work, position, contact, ..special.clone() };
            draft.edit(Edit::Replace(Entity::Special(new)))?;
            continue;
        }
        if !itself {
            gone.push(special.id.into());
        }
        if left.len() > 2 {
            let apart: Vec<Vec<TrackEnd>> = match &special.work {
                // Toe and first road stay together.
                Work::Turnout { .. } => left.iter().skip(2).map(|&end| vec![end]).collect(),
                Work::Diamond { roads, .. } | Work::Slip { roads, .. } => {
                    let whole = |road: &[TrackEnd; 2]| road.iter().all(stays);
                    let other = if whole(&roads[0]) { roads[1] } else { roads[0] };
                    vec![other.into_iter().filter(stays).collect()]
                }
                _ => Vec::new(),
            };
            for ends in apart {
                detach(&mut draft, &ends)?;
            }
        }
    }
    // Together, so that nothing takes away what is to go anyhow.
    draft.edit(Edit::Delete(gone))?;
    Ok(match <[Edit; 1]>::try_from(draft.edits) {
        Ok([only]) => only,
        Err(edits) => Edit::Batch(edits),
    })
}

/// Gives run ends a joint of their own where they are.
fn detach(draft: &mut Draft, ends: &[TrackEnd]) -> Result<(), Refused> {
    let Some(old) = ends.first().and_then(|&end| joint_of(&draft.layout, end)) else {
        return Ok(());
    };
    let Some(there) = draft.layout.joints.get(&old).cloned() else { return Ok(()) };
    let joint = JointId(draft.layout.next_id);
    draft.edit(Edit::Add(Entity::Joint(Joint { id: joint, ..there })))?;
    for end in ends {
        let run = draft.run(end.run)?.clone();
        let run = match end.end {
            RunEnd::Start => Run { from: joint, ..run },
            RunEnd::End => Run { to: joint, ..run },
        };
        draft.edit(Edit::Replace(Entity::Run(run)))?;
    }
    Ok(())
}
