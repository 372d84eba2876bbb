//! A plan made whole: what the check still finds wrong after it is cured, as far as proved cures go.

use super::holds;
use super::plan::{Planned, plan};
use super::wish::{NoPlan, Wishes};
use crate::cure::{Surgery, applied};
use crate::findings::{Class, Finding, Memo, Report, Study, report_of};
use crate::job::Job;
use crate::layout::{Layout, RunId, capital};
use crate::rails::Plan;

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
    let finished = cured(layout, wishes, memo)?;
    match holds::live(&finished.layout, wishes).first() {
        Some(&n) => Err(NoPlan(format!(
            "{} cannot be switched off: a feeder that is there feeds the same track. Name the stretch of that feeder, so that it \
             is cut apart, or take the feeder away.",
            capital(&holds::hold_words(&wishes.hold[n]))
        ))),
        None => Ok(finished),
    }
}

fn cured(layout: &Layout, wishes: &Wishes, memo: &Memo) -> Result<Finished, NoPlan> {
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
    // Cures know nothing of wishes: those that go against one are left, and the check tells what they would have cured.
    let barred = holds::with_holds(layout, wishes, &Plan::derive(layout), &[])?.never;
    for job in set.jobs.iter().filter(|job| keeps_to(job, layout, &barred)) {
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

/// True if a job cuts nothing where nothing is to be cut, and leaves the cuts and feeds that were there.
fn keeps_to(job: &Job, layout: &Layout, never: &[(RunId, f64, f64)]) -> bool {
    match job {
        Job::AddCut { run, at_mm, .. } => {
            !never.iter().any(|(of, from, to)| of == run && from <= at_mm && at_mm <= to)
        }
        Job::TakeFeedAway(feed) => !layout.feeds.contains_key(feed),
        Job::BridgeCut(cut) | Job::MoveCut { cut, .. } => !layout.cuts.contains_key(cut),
        _ => true,
    }
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layout::{CutId, Rails, load};

    #[test]
    fn cures_that_go_against_a_wish_are_left() {
        let text = r#"(version: 1, joints: [(id: "j1", x_mm: 0, y_mm: 0), (id: "j2", x_mm: 900, y_mm: 0)],
            runs: [(id: "r3", from: "j1", to: "j2")], cuts: [(id: "c4", run: "r3", at_mm: 450, rails: Both)])"#;
        let layout = load(text).unwrap_or_else(|why| panic!("{why:?}")).layout;
        let never = [(RunId(3), 100.0, 200.0)];
        let cut = |at_mm| Job::AddCut { run: RunId(3), at_mm, rails: Rails::Both };
        assert!(!keeps_to(&cut(150.0), &layout, &never));
        assert!(keeps_to(&cut(250.0), &layout, &never));
        assert!(!keeps_to(&Job::BridgeCut(CutId(4)), &layout, &never));
        assert!(keeps_to(&Job::BridgeCut(CutId(5)), &layout, &never), "a cut of the plan");
    }
}
