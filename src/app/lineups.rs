//! Lineups: throttles and selectors remembered under a name, set again by a click, stepped through, all checked at once.

use eframe::egui::{Context, Ui};

use super::App;
use super::aside::Aside;
use super::form::Form;
use super::marks::mark_ui;
use super::names;
use super::particulars::put;
use super::theme::{SPACE, heading, small, strong};
use crate::findings::{Checker, Report, Verdict};
use crate::layout::edit::{Edit, Entity};
use crate::layout::{EntityId, Layout, Lineup, LineupId};
use crate::report::Tally;

/// What the check says of a lineup.
#[derive(Debug, Clone, PartialEq)]
struct Told {
    lineup: LineupId,
    verdict: Verdict,
    summary: String,
}

/// The verdicts of all lineups, and those that are being worked out.
#[derive(Debug, Default)]
pub struct Lineups {
    /// Of which revision, and what.
    told: Option<(u64, Vec<Told>)>,
    working: Option<(u64, Aside<Vec<Told>>)>,
}

/// Checks a layout in one of its lineups; why it cannot be set, if so.
pub(super) fn checked_in(
    checker: &mut Checker,
    layout: &Layout,
    lineup: &Lineup,
) -> Result<Report, String> {
    match lineup.applied(layout) {
        Ok(set) => Ok(checker.check(&set)),
        Err(refused) => Err(format!("it cannot be set: {refused}")),
    }
}

/// Checks a layout in each of its lineups.
fn check_all(layout: &Layout) -> Vec<Told> {
    let mut checker = Checker::default();
    let checked = layout.lineups.values().map(|lineup| {
        let (verdict, summary) = match checked_in(&mut checker, layout, lineup) {
            Ok(report) => (report.verdict, Tally::of(&report).words()),
            Err(why) => (Verdict::NotKnown, why),
        };
        Told { lineup: lineup.id, verdict, summary }
    });
    checked.collect()
}

impl App {
    /// Remembers everything as it is set now.
    pub fn remember_lineup(&mut self) {
        let layout = self.doc.layout();
        let name = self.free_name("Lineup", |name| layout.lineups.values().any(|l| l.name == name));
        let edit = Edit::Add(Lineup::now(layout, &name).into());
        if let Some(made) = self.edit("remember a lineup", edit)
            && let Some(id) = made.last()
        {
            self.select(*id);
        }
    }

    /// Sets everything as a lineup says.
    pub fn set_lineup(&mut self, id: LineupId) {
        let layout = self.doc.layout();
        let Some(lineup) = layout.lineups.get(&id) else { return };
        if lineup.is_set(layout) {
            self.tell("Everything is set like that already.");
            return;
        }
        let what = format!("set {}", names::entity_name(layout, id.into()));
        let edit = lineup.set(layout);
        self.edit(&what, edit);
    }

    /// Sets the lineup that follows the one that is set, or the one before.
    pub fn step_lineup(&mut self, by: isize) {
        let layout = self.doc.layout();
        let all: Vec<LineupId> = layout.lineups.keys().copied().collect();
        let count = all.len() as isize;
        if count == 0 {
            return;
        }
        // The selected one is where one is, so that two that are alike do not hold one up.
        let at = |id: LineupId| all.iter().position(|one| *one == id);
        let selected = match self.selection.as_slice() {
            [EntityId::Lineup(id)] => at(*id),
            _ => None,
        };
        let set = || layout.lineups.values().find(|l| l.is_set(layout)).and_then(|l| at(l.id));
        let next = match selected.or_else(set) {
            Some(now) => (now as isize + by).rem_euclid(count),
            None if by > 0 => 0,
            None => count - 1,
        };
        let Some(&id) = all.get(next as usize) else { return };
        let already = layout.lineups.get(&id).is_some_and(|lineup| lineup.is_set(layout));
        if !already {
            self.set_lineup(id);
        }
        self.selection = vec![id.into()];
    }

    /// Asks for the verdict of every lineup.
    fn check_lineups(&mut self, ctx: &Context) {
        let layout = self.doc.layout().clone();
        let work =
            Aside::begin(("lineups", self.check.is_here()), ctx, move |_| check_all(&layout));
        self.lineups.working = Some((self.doc.revision(), work));
        self.update_lineups();
    }

    /// Takes the verdicts of the lineups, once they are there.
    fn update_lineups(&mut self) {
        let Some((revision, work)) = &self.lineups.working else { return };
        let Some(answer) = work.answer() else { return };
        match answer {
            Ok(told) => self.lineups.told = Some((*revision, told)),
            Err(why) => self.tell_bad(format!("The check of the lineups: {why}.")),
        }
        self.lineups.working = None;
    }
}

/// All lineups, with what can be done with them.
pub fn lineups_ui(ui: &mut Ui, app: &mut App) {
    app.update_lineups();
    let lineups: Vec<(LineupId, bool)> = {
        let layout = app.doc.layout();
        layout.lineups.values().map(|lineup| (lineup.id, lineup.is_set(layout))).collect()
    };
    // Settings do not matter to the verdicts of lineups, but everything else does: the check is asked for again.
    let told = app.lineups.told.clone().filter(|told| told.0 == app.doc.revision());
    for (id, set) in &lineups {
        let name = names::entity_name(app.doc.layout(), (*id).into());
        ui.horizontal(|ui| {
            if ui.selectable_label(app.selection.contains(&(*id).into()), &name).clicked() {
                app.select((*id).into());
            }
            if *set {
                ui.label(small(ui, "set now"));
            } else if ui.button("Set").accessible_name(format!("Set {name}")).clicked() {
                app.set_lineup(*id);
            }
        });
        if let Some(told) = told.iter().flat_map(|told| &told.1).find(|told| told.lineup == *id) {
            ui.horizontal_wrapped(|ui| {
                mark_ui(ui, told.verdict, 6.0);
                ui.label(&told.summary);
            });
        }
    }
    ui.horizontal_wrapped(|ui| {
        super::top_bar::action_button(ui, app, "Remember a lineup");
        if !lineups.is_empty() {
            let busy = app.lineups.working.is_some();
            let button = ui.add_enabled(!busy, eframe::egui::Button::new("Check them all"));
            if button.on_hover_text("The verdict in every lineup, without setting it").clicked() {
                let ctx = ui.ctx().clone();
                app.check_lineups(&ctx);
            }
            if busy {
                ui.label(small(ui, "checking"));
            }
        }
    });
}

/// The particulars of a lineup.
pub fn lineup_ui(ui: &mut Ui, app: &mut App, id: LineupId) {
    let layout = app.doc.layout();
    let Some(mut lineup) = layout.lineups.get(&id).cloned() else { return };
    let set = lineup.is_set(layout);
    let mut form = Form::new(ui, "Lineup");
    form.text("Name", &mut lineup.name, "such as \"Evening local leaves\"");
    form.notes("Notes", &mut lineup.notes);
    let changed = form.changed;
    put(app, changed, "change a lineup", Entity::Lineup(lineup.clone()));
    ui.horizontal_wrapped(|ui| {
        if ui.add_enabled(!set, eframe::egui::Button::new("Set everything like that")).clicked() {
            app.set_lineup(id);
        }
        let now = ui.button("Make it what is set now");
        if now.on_hover_text("Its throttles and positions become those of this moment").clicked() {
            let now = Lineup::now(app.doc.layout(), &lineup.name);
            let Lineup { throttles, points, devices, .. } = now;
            let new = Lineup { throttles, points, devices, ..lineup.clone() };
            app.edit("change a lineup", Edit::Replace(new.into()));
        }
    });
    ui.add_space(SPACE);
    ui.label(heading("It sets"));
    for words in sets(app.doc.layout(), &lineup) {
        ui.label(words);
    }
    if lineup.names().next().is_none() {
        ui.label(strong("Nothing"));
    }
}

/// What a lineup sets, in words.
fn sets(layout: &Layout, lineup: &Lineup) -> Vec<String> {
    let throttles = lineup.throttles.iter().map(|throttle| {
        let word = names::direction_word(throttle.setting.direction).to_lowercase();
        let percent = throttle.setting.throttle * 100.0;
        format!("{}: {word}, {percent:.0} %", names::driver_name(layout, throttle.driver))
    });
    let position = |id: EntityId, position: u32| {
        let words = names::position_words(layout, id, position);
        format!("{}: {words}", names::entity_name(layout, id))
    };
    let points = lineup.points.iter().map(|at| position(at.special.into(), at.position));
    let devices = lineup.devices.iter().map(|at| position(at.device.into(), at.position));
    throttles.chain(points).chain(devices).collect()
}
