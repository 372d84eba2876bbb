//! Trying out on a copy: what is changed against the layout, and the copy with its own check.
//!
//! The layout is not touched until one keeps what was tried, as one step; discarding it leaves nothing behind.

use std::collections::{BTreeMap, BTreeSet};

use eframe::egui::Context;

use super::super::App;
use super::super::checking::Checking;
use super::super::names;
use crate::diagnose::Fault;
use crate::drive;
use crate::job::Names;
use crate::layout::edit::{Edit, Entity, apply};
use crate::layout::{Direction, DriverId, FeedId, Idle, Layout, Setting, SupplyId};
use crate::rails::Plan;
use crate::report::Units;

/// Differences of a trial from the layout.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Tried {
    /// Throttles and directions.
    pub settings: BTreeMap<DriverId, Setting>,
    /// Idle states.
    pub idles: BTreeMap<DriverId, Idle>,
    /// Supplies that are on or off.
    pub powered: BTreeMap<SupplyId, bool>,
    /// Feeds whose wires are exchanged.
    pub swapped: BTreeSet<FeedId>,
    /// A fault that is supposed.
    pub fault: Option<Fault>,
}

/// A setting in words: "forward 40 %".
fn setting_words(setting: &Setting) -> String {
    let word = names::direction_word(setting.direction).to_lowercase();
    match setting.direction {
        Direction::Forward | Direction::Reverse => {
            format!("{word} {:.0} %", setting.throttle * 100.0)
        }
        Direction::Stopped | Direction::On | Direction::Off => word,
    }
}

impl Tried {
    /// The edits that make the layout what is tried, each with its words. What is as drawn, or is not there, is left out.
    pub fn edits(&self, drawn: &Layout) -> Vec<(String, Edit)> {
        let mut edits: Vec<(String, Edit)> = self.supposed(drawn);
        for (id, idle) in &self.idles {
            let Some(driver) = drawn.drivers.get(id) else { continue };
            let mut new = driver.clone();
            let Some(own) = drive::idle_of(&mut new.drive).filter(|own| **own != *idle) else {
                continue;
            };
            let before = names::idle_word(*own).to_lowercase();
            *own = *idle;
            let now = names::idle_word(*idle).to_lowercase();
            let words = format!("{}: {now} instead of {before}", names::driver_name(drawn, *id));
            edits.push((words, Edit::Replace(Entity::Driver(new))));
        }
        for (id, setting) in &self.settings {
            let Some(driver) = drawn.drivers.get(id).filter(|d| d.setting != *setting) else {
                continue;
            };
            let words = format!(
                "{}: {} instead of {}",
                names::driver_name(drawn, *id),
                setting_words(setting),
                setting_words(&driver.setting)
            );
            edits.push((words, Edit::Set { driver: *id, setting: *setting }));
        }
        for (&supply, &on) in &self.powered {
            if drawn.supplies.get(&supply).is_some_and(|s| s.powered != on) {
                let word = if on { "on" } else { "off" };
                let words = format!("{}: switched {word}", names::supply_name(drawn, supply));
                edits.push((words, Edit::Power { supply, on }));
            }
        }
        for &feed in &self.swapped {
            if let Some(of) = drawn.feeds.get(&feed) {
                let from = names::origin_name(drawn, of.driver);
                let words = format!("Feed {feed} from {from}: its two wires exchanged");
                edits.push((words, Edit::Swap { feed }));
            }
        }
        edits
    }

    /// The edits of the fault that is supposed: the first has its words.
    fn supposed(&self, drawn: &Layout) -> Vec<(String, Edit)> {
        let Some(fault) = &self.fault else { return Vec::new() };
        let plan = Plan::derive(drawn);
        let words = fault.says(Names { layout: drawn, plan: &plan });
        let edits = fault.edits(drawn).unwrap_or_default().into_iter();
        edits.map(|edit| (words.clone(), edit)).collect()
    }
}

/// A copy of the layout with the trial applied, and its check.
pub struct Trial {
    /// The differences.
    pub tried: Tried,
    /// Differences from the layout, in words.
    pub changes: Vec<String>,
    /// The copy.
    pub layout: Layout,
    pub plan: Plan,
    /// Grows with every change of the copy.
    pub revision: u64,
    /// Revision of the layout that it is a copy of.
    of: u64,
    pub check: Checking,
}

impl Trial {
    /// Begins to try something out.
    fn begin(app: &App, ctx: &Context) -> Trial {
        let check = match app.check.is_here() {
            true => Checking::here(),
            false => Checking::there(ctx.clone()),
        };
        Trial {
            tried: Tried::default(),
            changes: Vec::new(),
            layout: Layout::default(),
            plan: Plan::default(),
            revision: 0,
            of: 0,
            check,
        }
    }

    /// Makes the copy anew.
    fn copy(&mut self, (drawn, revision): (&Layout, u64)) -> Result<(), String> {
        let mut layout = drawn.clone();
        let (words, edits): (Vec<String>, Vec<Edit>) = self.tried.edits(drawn).into_iter().unzip();
        apply(&mut layout, Edit::Batch(edits)).map_err(|refused| refused.to_string())?;
        self.plan = Plan::derive(&layout);
        let mut words = words;
        words.dedup();
        (self.layout, self.changes, self.of) = (layout, words, revision);
        self.revision += 1;
        Ok(())
    }
}

/// Tries something out. Nothing is tried any more once it is as drawn again.
pub(super) fn try_out(app: &mut App, ctx: &Context, tried: Tried) {
    // What stands there stays, whatever becomes the worst.
    if app.gap.standing.is_none() {
        app.gap.standing = app.gap.scene.as_ref().map(|scene| scene.standing());
    }
    let old = app.gap.trial.take();
    if tried.edits(app.doc.layout()).is_empty() {
        app.gap.scene = None;
        return;
    }
    let mut trial = old.unwrap_or_else(|| Trial::begin(app, ctx));
    trial.tried = tried;
    match trial.copy((app.doc.layout(), app.doc.revision())) {
        Ok(()) => app.gap.trial = Some(trial),
        Err(refused) => {
            app.gap.scene = None;
            app.tell_bad(format!("Could not try that out: {refused}"));
        }
    }
}

/// Brings the copy up to date with the layout, and its check with the copy.
pub(super) fn update(app: &mut App, units: Units) {
    let Some(mut trial) = app.gap.trial.take() else { return };
    let now = app.doc.revision();
    if trial.of != now {
        let nothing = trial.tried.edits(app.doc.layout()).is_empty();
        if nothing || trial.copy((app.doc.layout(), now)).is_err() {
            app.gap.scene = None;
            app.tell("The layout has changed: what was tried out is as drawn, or cannot be done any more.");
            return;
        }
    }
    trial.check.update(trial.revision, units, &trial.layout);
    app.gap.trial = Some(trial);
}

/// Makes the trial part of the layout, as one step.
pub(super) fn keep(app: &mut App) {
    let Some(trial) = &app.gap.trial else { return };
    let edits = trial.tried.edits(app.doc.layout()).into_iter().map(|(_, edit)| edit).collect();
    if app.edit("keep what was tried out", Edit::Batch(edits)).is_some() {
        app.gap.trial = None;
        app.gap.scene = None;
    }
}

/// Discards the trial.
pub(super) fn discard(app: &mut App) {
    app.gap.trial = None;
    app.gap.scene = None;
}
