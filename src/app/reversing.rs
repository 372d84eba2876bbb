//! The reversing section at a gap: how trains are to be taken through it, and what lets it be reversed where nothing does.

use eframe::egui::{Label, Ui};

use super::App;
use super::theme::{SPACE, heading};
use crate::findings::{Evidence, Finding, LoopSections};
use crate::job::Job;
use crate::layout::edit::Edit;
use crate::layout::{CutId, Feed, FeedId};
use crate::rails::BlockId;

/// The loop with room for a section whose ends a cut is one of.
fn loop_at(finding: &Finding, cut: CutId) -> Option<&LoopSections> {
    match &finding.evidence {
        Evidence::UnbalancedLoop(told) if finding.cuts().contains(&cut) => Some(told),
        _ => None,
    }
}

/// The order of operating at a cut that is an end of a reversing section; nothing at other cuts.
pub fn reversing_ui(ui: &mut Ui, app: &mut App, cut: CutId) {
    let checked = std::sync::Arc::clone(&app.check.latest);
    let findings = checked.report.findings.iter().zip(&checked.words);
    for (finding, words) in findings {
        let Some(told) = loop_at(finding, cut) else { continue };
        ui.add_space(SPACE);
        ui.label(heading("Reversing section"));
        for line in &words.advice {
            ui.add(Label::new(line).wrap());
        }
        if told.reversed.is_empty() {
            reverse_ui(ui, app, told);
        }
    }
}

/// Buttons that let a section be reversed: each block that alone can be one, if one source feeds it.
fn reverse_ui(ui: &mut Ui, app: &mut App, told: &LoopSections) {
    let [dc, dcc] = told.fed_by;
    for block in told.sets.iter().filter_map(|set| match set[..] {
        [only] => Some(only),
        _ => None,
    }) {
        let Some(feeds) = fed_from_one(app, block) else { continue };
        let blocks = &app.check.latest.report.blocks;
        let Some(name) = blocks.iter().find(|b| b.id == block).map(|b| b.name.clone()) else {
            continue;
        };
        let offers = [(dc || !dcc, "a reversing switch", false), (dcc, "an auto-reverser", true)];
        for (_, word, automatic) in offers.into_iter().filter(|offer| offer.0) {
            if ui.button(format!("Feed {name} through {word}")).clicked() {
                let job = Job::Reverse { feeds: feeds.clone(), automatic };
                if let Some(edits) = job.edits(app.doc.layout()) {
                    app.edit(&format!("feed {name} through {word}"), Edit::Batch(edits));
                }
            }
        }
    }
}

/// The feeds of a block, if one source feeds it.
fn fed_from_one(app: &App, block: BlockId) -> Option<Vec<FeedId>> {
    let plan = &app.derived.plan;
    let inside = |feed: &&Feed| {
        let at = plan.block_at(feed.run, feed.at_mm);
        at.and_then(|n| plan.blocks.get(n)).is_some_and(|b| b.id == block)
    };
    let feeds: Vec<&Feed> = app.doc.layout().feeds.values().filter(inside).collect();
    let from = feeds.first()?.driver;
    let one = feeds.iter().all(|feed| feed.driver == from);
    one.then(|| feeds.into_iter().map(|feed| feed.id).collect())
}
