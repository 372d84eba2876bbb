//! The borrowed model of the view: the layout, its report, and names of the things at the gap.

use std::path::Path;

use super::super::App;
use super::super::checking::Checked;
use super::super::derived::Derived;
use super::super::names;
use super::View;
use super::scene::Scene;
use crate::findings::CutReport;
use crate::layout::{CutId, DriverId, Layout, shown};
use crate::rails::{Plan, PlanNet};
use crate::report::Units;
use crate::straddle::ix::DriverIx;
use crate::study::scope::Who;

/// The layout that the view is about, with its report.
pub(super) struct Source<'a> {
    pub layout: &'a Layout,
    pub plan: &'a Plan,
    /// True for a copy on which something is tried out, and the revision of layout or copy.
    pub revision: (bool, u64),
    pub checked: &'a Checked,
    /// True if the report is about this very layout.
    pub is_checked: bool,
}

impl<'a> Source<'a> {
    /// The layout as it is shown.
    pub fn of(app: &'a App) -> Source<'a> {
        if let Some(trial) = &app.gap.trial {
            return Source {
                layout: &trial.layout,
                plan: &trial.plan,
                revision: (true, trial.revision),
                checked: &trial.check.latest,
                is_checked: trial.check.is_current(trial.revision),
            };
        }
        let revision = app.doc.revision();
        Source {
            layout: app.doc.layout(),
            plan: &app.derived.plan,
            revision: (false, revision),
            checked: &app.check.latest,
            is_checked: app.check.is_current(revision),
        }
    }
}

/// A gap's own name, or between which blocks it is.
fn cut_words(app: &App, id: CutId) -> String {
    match app.doc.layout().cuts.get(&id) {
        Some(cut) if !cut.name.trim().is_empty() => shown(cut.name.trim()).into_owned(),
        _ => app.called(id.into()),
    }
}

/// The borrowed model of the view.
pub(super) struct Model<'a> {
    pub view: &'a View,
    pub source: Source<'a>,
    /// True if the view leads back to the review.
    pub in_review: bool,
    /// Revision of the layout as it is drawn, whatever is tried out.
    pub drawn_revision: u64,
    pub derived: &'a Derived,
    /// All gaps with their names.
    pub cuts: Vec<(CutId, String)>,
    pub units: Units,
    /// The gap in the report.
    pub cut: Option<&'a CutReport>,
    pub scene: Option<&'a Scene>,
    /// The file of the layout.
    pub path: Option<&'a Path>,
}

impl<'a> Model<'a> {
    /// The model of the window as it is.
    pub fn of(app: &'a App) -> Model<'a> {
        let source = Source::of(app);
        let cut = source.checked.report.cuts.iter().find(|cut| Some(cut.id) == app.gap.cut);
        Model {
            view: &app.gap,
            in_review: app.review.shown,
            drawn_revision: app.doc.revision(),
            derived: &app.derived,
            cuts: source.layout.cuts.keys().map(|&id| (id, cut_words(app, id))).collect(),
            units: app.camera.units,
            scene: app.gap.scene.as_deref(),
            path: app.doc.path.as_deref(),
            cut,
            source,
        }
    }

    /// Names of the blocks before the gap and beyond it.
    pub fn sides(&self) -> [String; 2] {
        let Some(scene) = self.scene else { return [String::new(), String::new()] };
        let at = scene.gap.place.at;
        [at.block_before, at.block_after].map(|block| {
            shown(&self.source.plan.block_name(self.source.layout, block)).into_owned()
        })
    }

    /// A driver's name.
    pub fn driver(&self, id: DriverId) -> String {
        names::driver_name(self.source.layout, id)
    }

    /// The name of a driver of the case.
    pub fn driver_at(&self, scene: &Scene, at: DriverIx) -> String {
        let names = &scene.gap.around(scene.stance.who).names;
        names.drivers.get(at).map_or_else(String::new, |id| self.driver(*id))
    }

    /// Name of the vehicle or train there.
    pub fn who(&self, who: Who) -> String {
        let layout = self.source.layout;
        match who {
            Who::StandIn => "a stand-in of six axles".to_owned(),
            Who::Vehicle(id) => names::bare_name(layout, id.into()),
            Who::Train(id) => match layout.trains.get(&id) {
                Some(train) if !train.name.trim().is_empty() => {
                    shown(train.name.trim()).into_owned()
                }
                _ => names::entity_name(layout, id.into()),
            },
        }
    }

    /// What feeds a net: "P of Pimmerton bridge"; nothing for a net that nothing feeds.
    pub fn fed_by(&self, net: PlanNet) -> Option<String> {
        let plan = self.source.plan;
        let legs = plan.nets.get(net.0)?.legs.iter();
        let mut words: Vec<String> = legs
            .map(|leg| {
                format!("{} of {}", if leg.is_p { "P" } else { "M" }, self.driver(leg.driver))
            })
            .collect();
        words.sort();
        words.dedup();
        (!words.is_empty()).then(|| words.join(" and "))
    }

    /// A net in words: what feeds it, or that nothing does.
    pub fn net_words(&self, net: PlanNet) -> String {
        let id =
            self.source.plan.nets.get(net.0).map_or_else(String::new, |net| net.id.to_string());
        self.fed_by(net).unwrap_or_else(|| format!("unfed rail {id}"))
    }
}
