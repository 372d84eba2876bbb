//! A plan made whole: what the check still finds wrong after it is cured, as far as proved cures go.

use super::plan::{Planned, plan};
use super::wish::{NoPlan, Wishes};
use crate::cure::{Surgery, applied};
use crate::findings::{Class, Finding, Memo, Report, Study, report_of};
use crate::job::Job;
use crate::layout::Layout;

/// A plan with the layout and the report after it.
#[derive(Debug, Clone)]
pub struct Finished {
    /// The plan, with the jobs that cure what was left.
    pub planned: Planned,
    /// The layout after it.
    pub layout: Layout,
    /// The report of that layout.
    pub report: Report,
}

/// Plans, checks the plan, and adds cures of the faults that are left: a further feeder where a short at the far end would
/// trip nothing, an idle state where neighbours would fight.
///
/// # Errors
/// There is no plan; with the reason.
pub fn finished(layout: &Layout, wishes: &Wishes) -> Result<Finished, NoPlan> {
    finished_with(layout, wishes, &Memo::default())
}

/// [`finished`] with a memory whose progress somebody watches.
///
/// # Errors
/// There is no plan; with the reason.
pub fn finished_with(layout: &Layout, wishes: &Wishes, memo: &Memo) -> Result<Finished, NoPlan> {
    let mut planned = plan(layout, wishes)?;
    let jobs: Vec<Job> = planned.jobs.iter().map(|(job, _)| job.clone()).collect();
    let refused = |why| NoPlan(format!("The plan cannot be made: {why}"));
    let mut edited = applied(layout, &jobs).map_err(refused)?;
    let study = Study::of(&edited, memo);
    let surgery = Surgery::of(&study);
    let is_fault = |f: &Finding| f.class == Class::Fault;
    if !surgery.report().findings.iter().any(is_fault) {
        let report = surgery.report().clone();
        return Ok(Finished { planned, layout: edited, report });
    }
    let set = surgery.together(&surgery.faults());
    for job in &set.jobs {
        edited = applied(&edited, std::slice::from_ref(job)).map_err(refused)?;
        planned.wires += wires_of(job);
        planned.rail_cuts += super::plan::rails_of(job);
        planned
            .jobs
            .push((job.clone(), "is a proved cure of what the check would find".to_owned()));
    }
    let report = report_of(&study.revised(edited.clone()));
    Ok(Finished { planned, layout: edited, report })
}

fn wires_of(job: &Job) -> usize {
    match job {
        Job::AddFeed { .. }
        | Job::AddReversedFeed { .. }
        | Job::AddSelectedFeed { .. }
        | Job::AddSwitchedFeed { .. } => 2,
        Job::AddWire { .. } | Job::CompleteFeed(_) => 1,
        _ => 0,
    }
}
