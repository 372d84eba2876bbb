//! The reversing section at a gap: how trains are to be taken through it, and what lets it be reversed where nothing does.

use eframe::egui::{Label, Ui};

use super::App;
use super::theme::{SPACE, heading};
use crate::findings::{Evidence, Finding, LoopSections};
use crate::layout::edit::{Edit, Entity};
use crate::layout::{
    CutId, Device, DeviceId, DeviceKind, Feed, Origin, Quantity, default_device_ohm,
};
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
        let Some((feeds, from)) = fed_from(app, block) else { continue };
        let blocks = &app.check.latest.report.blocks;
        let Some(name) = blocks.iter().find(|b| b.id == block).map(|b| b.name.clone()) else {
            continue;
        };
        let switch = DeviceKind::ReversingSwitch { from, centre_off: false };
        let by_itself = DeviceKind::AutoReverser {
            from,
            amps: Quantity::assumed(2.0, 1.5, 4.0),
            acts_after_s: 0.001,
        };
        let offers =
            [(dc || !dcc, "a reversing switch", switch), (dcc, "an auto-reverser", by_itself)];
        for (_, word, kind) in offers.into_iter().filter(|offer| offer.0) {
            if ui.button(format!("Feed {name} through {word}")).clicked() {
                app.reverse(&name, word, kind, &feeds);
            }
        }
    }
}

/// The feeds of a block and the one source of them all, if there is one only.
fn fed_from(app: &App, block: BlockId) -> Option<(Vec<Feed>, Origin)> {
    let plan = &app.derived.plan;
    let inside = |feed: &&Feed| {
        let at = plan.block_at(feed.run, feed.at_mm);
        at.and_then(|n| plan.blocks.get(n)).is_some_and(|b| b.id == block)
    };
    let feeds: Vec<Feed> = app.doc.layout().feeds.values().filter(inside).cloned().collect();
    let from = feeds.first()?.driver;
    feeds.iter().all(|feed| feed.driver == from).then_some((feeds, from))
}

impl App {
    /// Puts a device between feeds and their source, as one step.
    fn reverse(&mut self, block: &str, word: &str, kind: DeviceKind, feeds: &[Feed]) {
        let id = DeviceId(self.doc.layout().next_id);
        let device = Device {
            id,
            name: String::new(),
            kind,
            ohm: default_device_ohm(),
            position: 0,
            gang: String::new(),
            notes: String::new(),
        };
        let mut edits = vec![Edit::Add(Entity::Device(device))];
        edits.extend(feeds.iter().map(|feed| {
            Edit::Replace(Entity::Feed(Feed { driver: Origin::Device(id), ..feed.clone() }))
        }));
        self.edit(&format!("feed {block} through {word}"), Edit::Batch(edits));
    }
}
