//! A layout while special work is placed on it.

use super::frog::{clear_mm, frog_length_mm, frog_mm, open_mm};
use super::turnouts::{Site, end_of_road};
use crate::layout::edit::{Edit, End, Refused, drafted};
use crate::layout::model::{
    Contact, Entity, EntityId, Frog, JointId, Layout, Run, RunEnd, RunId, Shape, Special,
    SpecialId, TrackEnd, Work,
};
use crate::track::curve::{end_at, length_mm};
use crate::track::plane::tenths;
use crate::track::roads::{away_from, ends_at, joint_at};

/// What placing comes to.
#[derive(Debug, Clone)]
pub struct Placed {
    /// Everything in one edit.
    pub edit: Edit,
    /// The layout as it would be, not looked at for sense.
    pub layout: Layout,
    /// Runs that are laid.
    pub laid: Vec<RunId>,
    /// Special work that is added.
    pub specials: Vec<SpecialId>,
    /// What was assumed, in words.
    pub assumed: Option<String>,
    /// What it needs before trains run over it, in words.
    pub needs: Option<String>,
}

/// A layout while it is being changed, and the edits that were done on it.
pub(super) struct Draft {
    pub(super) layout: Layout,
    pub(super) edits: Vec<Edit>,
    pub(super) laid: Vec<RunId>,
    pub(super) specials: Vec<SpecialId>,
    pub(super) assumed: Option<String>,
}

impl Draft {
    pub(super) fn of(layout: &Layout) -> Self {
        let (edits, laid, specials) = Default::default();
        Self { layout: layout.clone(), edits, laid, specials, assumed: None }
    }

    pub(super) fn edit(&mut self, edit: Edit) -> Result<Vec<EntityId>, Refused> {
        let made = drafted(&mut self.layout, edit.clone())?;
        self.edits.push(edit);
        Ok(made)
    }

    pub(super) fn done(self) -> Placed {
        let Self { layout, edits, laid, specials, assumed } = self;
        Placed { edit: Edit::Batch(edits), layout, laid, specials, assumed, needs: None }
    }

    pub(super) fn run(&self, id: RunId) -> Result<&Run, Refused> {
        self.layout.runs.get(&id).ok_or_else(|| {
            Refused(format!("There is no run {id} on this layout (any more). Choose another run."))
        })
    }

    pub(super) fn joint(&self, end: TrackEnd) -> Result<JointId, Refused> {
        self.run(end.run).map(|run| joint_at(run, end.end))
    }

    pub(super) fn lay(&mut self, from: End, to: End, shape: Shape) -> Result<RunId, Refused> {
        let made = self.edit(Edit::Lay { from, to, shape, length_mm: None })?;
        let run = made.iter().find_map(|id| match id {
            EntityId::Run(run) => Some(*run),
            _ => None,
        });
        let run = run.ok_or_else(|| Refused("The run could not be laid.".into()))?;
        self.laid.push(run);
        Ok(run)
    }

    pub(super) fn special(&mut self, work: Work, gang: &str) -> Result<SpecialId, Refused> {
        let special = Special {
            id: SpecialId(0),
            name: String::new(),
            work,
            position: 0,
            contact: Contact::default(),
            gang: gang.to_owned(),
            notes: String::new(),
        };
        let made = self.edit(Edit::Add(Entity::Special(special)))?;
        let id = made.iter().find_map(|id| match id {
            EntityId::Special(id) => Some(*id),
            _ => None,
        });
        let id = id.ok_or_else(|| Refused("The special work could not be added.".into()))?;
        self.specials.push(id);
        Ok(id)
    }

    /// Splits a run; the two ends that meet at the new joint.
    pub(super) fn split(&mut self, run: RunId, at_mm: f64) -> Result<[TrackEnd; 2], Refused> {
        let made = self.edit(Edit::Split { run, at_mm })?;
        let rest = made.iter().find_map(|id| match id {
            EntityId::Run(run) => Some(*run),
            _ => None,
        });
        let rest = rest.ok_or_else(|| Refused(format!("Run {run} could not be split.")))?;
        Ok([TrackEnd { run, end: RunEnd::End }, TrackEnd { run: rest, end: RunEnd::Start }])
    }

    /// The run ends at a joint.
    pub(super) fn ends_at(&self, joint: JointId) -> Vec<TrackEnd> {
        ends_at(&self.layout, joint)
    }

    /// Prepares a place for points: the end from which one comes, and the road that is there already, if any.
    pub(super) fn points_at(
        &mut self,
        site: Site,
    ) -> Result<(TrackEnd, Option<TrackEnd>), Refused> {
        let length = length_mm(&self.layout, self.run(site.run)?);
        let Some(end) = end_at(length, site.at_mm) else {
            let [first, second] = self.split(site.run, site.at_mm)?;
            return Ok(match site.towards {
                RunEnd::End => (first, Some(second)),
                RunEnd::Start => (second, Some(first)),
            });
        };
        let own = TrackEnd { run: site.run, end };
        let joint = self.joint(own)?;
        let mut others = self.ends_at(joint);
        others.retain(|other| *other != own);
        match others.as_slice() {
            [] => Ok((own, None)),
            [other] if site.towards == end => Ok((own, Some(*other))),
            [other] => Ok((*other, Some(own))),
            _ => Err(Refused(format!(
                "Joint {joint} has special work already. Choose a place beside it."
            ))),
        }
    }

    /// Lays a road out of a joint: where it starts, it goes on from `toe`.
    pub(super) fn road(
        &mut self,
        toe: TrackEnd,
        bend_deg: f64,
        length_mm: f64,
    ) -> Result<TrackEnd, Refused> {
        let joint = self.joint(toe)?;
        let back = away_from(&self.layout, toe, 0.0)
            .ok_or_else(|| Refused("The run is not there any more.".into()))?;
        let to = end_of_road((back.x_mm, back.y_mm), (-back.dx, -back.dy), bend_deg, length_mm);
        let shape = if bend_deg == 0.0 { Shape::Straight } else { Shape::Arc { bend_deg } };
        let run = self.lay(End::At(joint), End::New(to.0, to.1), shape)?;
        Ok(TrackEnd { run, end: RunEnd::Start })
    }

    /// Adds a turnout of run ends that meet at one joint; its frogs lie where the roads are one gauge apart.
    pub(super) fn turnout(
        &mut self,
        toe: TrackEnd,
        exits: Vec<TrackEnd>,
        frog: Frog,
        gang: &str,
    ) -> Result<SpecialId, Refused> {
        let work = self.turnout_work(toe, exits, frog);
        self.special(work, gang)
    }

    pub(super) fn turnout_work(&mut self, toe: TrackEnd, exits: Vec<TrackEnd>, frog: Frog) -> Work {
        let mut frog_length_mm = frog_length_mm(&self.layout);
        let crossed = frog_mm(&self.layout, toe, &exits);
        let frog_mm = crossed.unwrap_or_else(|| {
            let shortest = exits
                .iter()
                .filter_map(|exit| self.layout.runs.get(&exit.run))
                .map(|run| length_mm(&self.layout, run))
                .fold(f64::INFINITY, f64::min);
            let out = tenths((0.98 * shortest - frog_length_mm / 2.0).max(frog_length_mm));
            self.assumed = Some(format!(
                "The roads are nowhere one gauge apart before their first runs end. The frog is taken to lie as far \
                 out as they reach, {out} mm from the points."
            ));
            out
        });
        if let Some(clear_mm) = clear_mm(&self.layout, toe, &exits).filter(|_| crossed.is_some()) {
            frog_length_mm = frog_length_mm.max(tenths((clear_mm - frog_mm) * 2.0 + 0.1));
        }
        frog_length_mm = frog_length_mm.min(tenths(frog_mm * 0.8));
        Work::Turnout {
            toe,
            exits,
            frog,
            frog_mm,
            frog_length_mm,
            closures_bonded: true,
            exits_bonded: true,
            open_mm: open_mm(&self.layout),
        }
    }
}
