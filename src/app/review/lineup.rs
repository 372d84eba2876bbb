//! The check of the lineup that was chosen for a finding.

use std::sync::mpsc::{Receiver, TryRecvError, channel};

use eframe::egui::Context;

use super::super::App;
use super::super::findings::opened_at;
use crate::findings::{Finding, FindingId, check, ground};
use crate::layout::{Layout, LineupId};

/// The findings of a layout in a lineup with how each counts, or why it cannot be set.
type Found = Result<Vec<(FindingId, String)>, String>;

/// Findings in the lineup that was asked for last.
#[derive(Debug, Default)]
pub struct InLineup {
    told: Option<(u64, LineupId, Found)>,
    working: Option<(u64, LineupId, Receiver<Found>)>,
}

impl InLineup {
    /// Whether a finding stands in the lineup, after its name; `None` while that is worked out.
    pub fn words(&self, id: &FindingId) -> Option<String> {
        let (_, _, found) = self.told.as_ref()?;
        Some(match found {
            Err(why) => format!("it cannot be set: {why}"),
            Ok(findings) => match findings.iter().find(|(other, _)| other == id) {
                Some((_, ground)) => format!("it stands: {ground}"),
                None => "it does not stand".to_owned(),
            },
        })
    }
}

fn findings_in(layout: &Layout, lineup: LineupId) -> Found {
    let Some(lineup) = layout.lineups.get(&lineup) else { return Err("it is gone".to_owned()) };
    let set = lineup.applied(layout).map_err(|refused| refused.to_string())?;
    let report = check(&set);
    Ok(report.findings.iter().map(|finding: &Finding| (finding.id(), ground(finding))).collect())
}

/// Checks the layout in the lineup of the finding that is shown, on a thread of its own where there is one.
pub(super) fn update(app: &mut App, ctx: &Context) {
    let revision = app.doc.revision();
    if let Some((at, lineup, receiver)) = &app.review.lineup.working {
        let found = match receiver.try_recv() {
            Ok(found) => Some(found),
            Err(TryRecvError::Disconnected) => Some(Err("the check of it broke down".to_owned())),
            Err(TryRecvError::Empty) => None,
        };
        if let Some(found) = found {
            app.review.lineup.told = Some((*at, *lineup, found));
            app.review.lineup.working = None;
        }
    }
    // While one types, each letter is another revision.
    if app.review.noting.is_some() {
        return;
    }
    let decisions = &app.review.decided.decisions;
    let decision = opened_at(app).and_then(|n| decisions.on(app.doc.layout(), n));
    let Some(lineup) = decision.and_then(|decision| decision.lineup) else { return };
    let wanted = (revision, lineup);
    let told = app.review.lineup.told.as_ref().map(|told| (told.0, told.1));
    let working = app.review.lineup.working.as_ref().map(|working| (working.0, working.1));
    if told == Some(wanted) || working == Some(wanted) {
        return;
    }
    app.review.lineup.told = None;
    let layout = app.doc.layout().clone();
    if app.check.is_here() {
        app.review.lineup.told = Some((revision, lineup, findings_in(&layout, lineup)));
        return;
    }
    let (send, receive) = channel();
    let ctx = ctx.clone();
    let spawned = std::thread::Builder::new().name("review lineup".into()).spawn(move || {
        let _ = send.send(findings_in(&layout, lineup));
        ctx.request_repaint();
    });
    match spawned {
        Ok(_) => app.review.lineup.working = Some((revision, lineup, receive)),
        Err(error) => {
            app.review.lineup.told = Some((revision, lineup, Err(error.to_string())));
        }
    }
}
