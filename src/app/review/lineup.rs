//! The check of the lineup that was chosen for a finding.

use eframe::egui::Context;

use super::super::App;
use super::super::aside::Aside;
use super::super::findings::opened_at;
use super::super::lineups::checked_in;
use crate::findings::{Checker, Finding, FindingId, ground};
use crate::layout::{Layout, LineupId};

/// The findings of a layout in a lineup with how each counts, or why it cannot be set.
type Found = Result<Vec<(FindingId, String)>, String>;

/// Findings in the lineup that was asked for last.
#[derive(Debug, Default)]
pub struct InLineup {
    told: Option<(u64, LineupId, Found)>,
    working: Option<(u64, LineupId, Aside<Found>)>,
}

impl InLineup {
    /// Whether a finding stands in the lineup, after its name; `None` while that is worked out.
    pub fn words(&self, id: &FindingId) -> Option<String> {
        let (_, _, found) = self.told.as_ref()?;
        Some(match found {
            Err(why) => why.clone(),
            Ok(findings) => match findings.iter().find(|(other, _)| other == id) {
                Some((_, ground)) => format!("it stands: {ground}"),
                None => "it does not stand".to_owned(),
            },
        })
    }
}

impl InLineup {
    /// Takes what was worked out, once it is there.
    fn take(&mut self) {
        let Some((at, lineup, work)) = &self.working else { return };
        let Some(found) = work.answer() else { return };
        self.told = Some((*at, *lineup, found.unwrap_or_else(Err)));
        self.working = None;
    }
}

fn findings_in(layout: &Layout, lineup: LineupId) -> Found {
    let Some(lineup) = layout.lineups.get(&lineup) else { return Err("it is gone".to_owned()) };
    let report = checked_in(&mut Checker::default(), layout, lineup)?;
    Ok(report.findings.iter().map(|finding: &Finding| (finding.id(), ground(finding))).collect())
}

/// Checks the layout in the lineup of the finding that is shown.
pub(super) fn update(app: &mut App, ctx: &Context) {
    app.review.lineup.take();
    // While one types, each letter is another revision.
    if app.review.noting.is_some() {
        return;
    }
    let decisions = &app.review.decided.decisions;
    let decision = opened_at(app).and_then(|n| decisions.on(app.doc.layout(), n));
    let Some(lineup) = decision.and_then(|decision| decision.lineup) else { return };
    let revision = app.doc.revision();
    let own = &mut app.review.lineup;
    let told = own.told.as_ref().map(|told| (told.0, told.1));
    let working = own.working.as_ref().map(|working| (working.0, working.1));
    if [told, working].contains(&Some((revision, lineup))) {
        return;
    }
    own.told = None;
    let layout = app.doc.layout().clone();
    let where_to = ("review lineup", app.check.is_here());
    let work = Aside::begin(where_to, ctx, move |_| findings_in(&layout, lineup));
    own.working = Some((revision, lineup, work));
    own.take();
}
