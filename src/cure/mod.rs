//! Cures: jobs that the rooms of findings propose, each applied to a copy of the layout, checked, and offered only if the
//! finding is gone and nothing is worse anywhere.
//!
//! "Anywhere" is the whole check of the edited layout: all places, settings, positions, vehicles and trains, and the
//! lineups. Nothing here computes a current.

mod compare;
mod prove;
mod together;

use std::collections::BTreeMap;

pub use prove::{NoCure, Offer, Offers};
pub use together::Together;

use crate::findings::{self, Class, Finding, FindingId};
use crate::job::{Job, Names};
use crate::layout::{Edit, Layout, Refused, apply};
use crate::study::Study;

/// Offers that are looked for per finding; the cheapest are found first.
pub const MOST_OFFERS: usize = 3;
/// Proposals that are tried per finding.
pub const MOST_TRIED: usize = 48;
/// Layouts that are checked for the cures of one report.
pub const MOST_CHECKED: usize = 400;
/// What all of these checks may take, in the measure of [`Study::load`]. On large layouts fewer are checked.
const MOST_LOAD: usize = 4_000_000;
/// Lineups in which an offer is checked beside the layout as it stands.
pub const MOST_LINEUPS: usize = 8;

/// A layout whose findings are to be cured.
pub struct Surgery {
    study: Study,
    /// Its findings, those with one cause kept apart.
    apart: Vec<Finding>,
    /// Its report.
    report: findings::Report,
}

/// The cures of the findings of one report.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Cures {
    /// By finding: what is offered, or why nothing is.
    pub of: BTreeMap<FindingId, Offers>,
    /// Layouts that were checked.
    pub checked: usize,
    /// True if every proposal of every finding that was asked about was tried, as far as cheaper ones were not enough.
    pub exhaustive: bool,
}

impl Surgery {
    /// Prepares the cures of a layout that is studied already.
    pub fn of(study: &Study) -> Surgery {
        let (apart, report) = (findings::apart_of(study), findings::report_of(study));
        Surgery { study: study.clone(), apart, report }
    }

    /// The report of the layout as it is.
    pub fn report(&self) -> &findings::Report {
        &self.report
    }

    /// The layout as it is.
    pub fn layout(&self) -> &Layout {
        self.study.layout()
    }

    /// Layouts that are checked for all cures of the report.
    pub fn most_checked(&self) -> usize {
        (MOST_LOAD / self.study.load().max(1)).min(MOST_CHECKED)
    }

    /// The cures of one finding of the report: the cheapest first. `most` bounds the layouts that are checked.
    pub fn offers(&self, finding: &Finding, most: usize) -> Offers {
        prove::offers(self, finding, most)
    }

    /// The cures of all faults, as far as the bound on checks goes.
    pub fn faults(&self) -> Cures {
        self.of_classes(&[Class::Fault])
    }

    /// The cures of all faults, of rules and of notes, in this order, as far as the bound on checks goes.
    pub fn all(&self) -> Cures {
        self.of_classes(&[Class::Fault, Class::Rule, Class::Note])
    }

    fn of_classes(&self, classes: &[Class]) -> Cures {
        let mut cures = Cures { exhaustive: true, ..Cures::default() };
        let mut left = self.most_checked();
        for &class in classes {
            for finding in self.report.findings.iter().filter(|f| f.class == class) {
                let offers = self.offers(finding, left.min(MOST_TRIED));
                left = left.saturating_sub(offers.checked);
                cures.checked += offers.checked;
                cures.exhaustive &= offers.exhaustive;
                cures.of.insert(finding.id(), offers);
            }
        }
        cures
    }

    /// The study of the layout after some jobs; why not, if a job does not apply.
    fn after(&self, jobs: &[Job]) -> Result<Study, Refused> {
        Ok(self.study.revised(applied(self.layout(), jobs)?))
    }
}

/// A layout after some jobs, done one after the other.
///
/// # Errors
/// A job does not apply, or its edits are refused.
pub fn applied(layout: &Layout, jobs: &[Job]) -> Result<Layout, Refused> {
    done(layout, jobs).map(|(edited, _)| edited)
}

/// The edits of some jobs as one, for one step of undo.
///
/// # Errors
/// A job does not apply, or its edits are refused.
pub fn as_one_edit(layout: &Layout, jobs: &[Job]) -> Result<Edit, Refused> {
    done(layout, jobs).map(|(_, edits)| Edit::Batch(edits))
}

/// A layout after some jobs, with the edits that made it.
fn done(layout: &Layout, jobs: &[Job]) -> Result<(Layout, Vec<Edit>), Refused> {
    let mut edited = layout.clone();
    let mut all = Vec::new();
    for job in jobs {
        let edits = job.edits(&edited).ok_or_else(|| {
            Refused("This job changes nothing on the layout as it is now. Check it again.".into())
        })?;
        apply(&mut edited, Edit::Batch(edits.clone()))?;
        all.extend(edits);
    }
    Ok((edited, all))
}

/// Jobs as sentences, each in the names of the layout before it.
pub fn sentences(layout: &Layout, jobs: &[Job]) -> Vec<String> {
    let mut edited = layout.clone();
    let mut out = Vec::new();
    for job in jobs {
        let plan = crate::rails::Plan::derive(&edited);
        out.push(job.words(Names { layout: &edited, plan: &plan }));
        if let Some(edits) = job.edits(&edited) {
            // A job that is refused changes nothing; its sentence stands all the same.
            let _ = apply(&mut edited, Edit::Batch(edits));
        }
    }
    out
}
