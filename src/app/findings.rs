//! The list of findings: worst first, grouped by how they count. A click goes to the place and says why.

use std::sync::Arc;
use std::time::Duration;

use eframe::egui::{
    self, Align, Context, Frame, Label, Margin, Rect, Role, Sense, Stroke, StrokeKind, Ui,
    UiBuilder, WidgetInfo, vec2,
};

use super::App;
use super::cures;
use super::marks::mark_ui;
use super::names;
use super::rounds;
use super::theme::{RADIUS, SPACE, card, heading, small, strong, tokens};
use crate::findings::{Class, Finding, Place, Text, Told, same_in_both};
use crate::layout::EntityId;
use crate::report::amps;

/// How long the list says what the last edit did, s.
const SAID_FOR_S: f64 = 6.0;
/// Height of a finding that is not open, points.
const ROW: f32 = 58.0;
/// How far beyond what is in view findings are laid out, points: the next one is there for the Tab key.
const BEYOND: f32 = 4.0 * ROW;

/// The findings of the latest report by identity, and what the last edit did to them.
#[derive(Debug, Default)]
pub struct Listed {
    /// Revision of the report.
    revision: u64,
    ids: Vec<Told>,
    /// Identities before the last step of the history.
    before: Option<Vec<Told>>,
    /// What was done whose report is not here yet.
    done: Option<Done>,
    effect: Option<Effect>,
    /// Whether the finding that is open is to be scrolled to.
    scroll: bool,
}

/// Height of the line that says what an edit did, points.
const EFFECT: f32 = 26.0;

/// What changed the layout.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Done {
    /// An edit; `true` if it continues the step of the history that the one before belongs to.
    Edit(bool),
    /// A step was taken back.
    Undo,
    /// A step was done again.
    Redo,
}

/// What an edit did to the findings.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Effect {
    done: Done,
    gone: usize,
    new: usize,
    /// Until when it is said; the window's clock, s.
    until_s: f64,
}

impl Listed {
    /// Scrolls to the finding that is open, when the list is shown next.
    pub fn scroll_to_open(&mut self) {
        self.scroll = true;
    }

    /// Notes what was done.
    pub fn note(&mut self, done: Done) {
        if done != Done::Edit(true) || self.before.is_none() {
            self.before = Some(self.ids.clone());
        }
        self.done = Some(done);
    }

    /// "Cured 4, new 0", for a few seconds after an edit; after undo and redo, what those did.
    pub fn effect_words(&self) -> Option<String> {
        self.effect.map(|Effect { done, gone, new, .. }| match done {
            Done::Edit(_) => format!("Cured {gone}, new {new}"),
            Done::Undo => format!("Undone: {new} back, {gone} gone"),
            Done::Redo => format!("Done again: cured {gone}, new {new}"),
        })
    }
}

/// Takes in a new report: which findings it has, and what the last edit did to them.
pub fn note_checked(ctx: &Context, app: &mut App) {
    let now_s = ctx.input(|i| i.time);
    let (latest, listed) = (&app.check.latest, &mut app.listed);
    if listed.revision != latest.revision {
        listed.revision = latest.revision;
        let told = |finding: &Finding| (finding.id(), finding.class, None);
        listed.ids = latest.report.findings.iter().map(told).collect();
        if latest.revision == app.doc.revision() {
            listed.effect = None;
            if let Some(done) = listed.done.take()
                && let Some(before) = &listed.before
            {
                let kept = same_in_both(before, &listed.ids).len();
                let (gone, new) = (before.len() - kept, listed.ids.len() - kept);
                listed.effect = Some(Effect { done, gone, new, until_s: now_s + SAID_FOR_S });
            } else {
                listed.before = None;
            }
        }
    }
    if let Some(effect) = listed.effect {
        if now_s >= effect.until_s {
            listed.effect = None;
            ctx.request_repaint();
        } else {
            ctx.request_repaint_after(Duration::from_secs_f64(effect.until_s - now_s));
        }
    }
}

/// Index of the finding that is open, if it is still there.
pub fn opened_at(app: &App) -> Option<usize> {
    let open = app.open_finding.as_ref()?;
    let latest = &app.check.latest;
    if app.listed.revision == latest.revision {
        return app.listed.ids.iter().position(|told| told.0 == *open);
    }
    latest.report.findings.iter().position(|finding| finding.id() == *open)
}

/// The finding that is open, if it is still there.
pub fn opened(app: &App) -> Option<&Finding> {
    app.check.latest.report.findings.get(opened_at(app)?)
}

const GROUPS: [(Class, &str, &str); 3] = [
    (Class::Fault, "Faults", "Something is wrong with the wiring, a driver or the settings now."),
    (Class::Rule, "Operating rules", "What operators must do that no wiring can do for them."),
    (Class::Note, "Notes", "Worth knowing."),
];

/// Place of a class in the list.
pub fn class_order(class: Class) -> usize {
    GROUPS.iter().position(|(other, ..)| *other == class).unwrap_or(GROUPS.len())
}

/// The list.
pub fn findings_ui(ui: &mut Ui, app: &mut App) {
    let checked = Arc::clone(&app.check.latest);
    let findings = &checked.report.findings;
    // It has a place of its own, so that it does not move the list.
    ui.horizontal(|ui| {
        ui.set_min_height(EFFECT);
        if let Some(words) = app.listed.effect_words() {
            ui.label(strong(words)).on_hover_text("What the last edit did to the findings");
        }
    });
    cures::all_ui(ui, app);
    if findings.is_empty() {
        ui.add_space(SPACE);
        if app.doc.layout().runs.is_empty() {
            ui.label("Findings will be listed here as you draw.");
        } else if !app.check.has_looked() {
            ui.label("Not checked yet.");
        } else {
            ui.label("Nothing found.");
            ui.label(small(
                ui,
                "A sound layout has two rails cut between blocks, a driver on each block, and drivers whose idle states \
                 do not fight.",
            ));
        }
        return;
    }
    let open = opened_at(app);
    for (class, title, help) in GROUPS {
        let rows: Vec<usize> =
            (0..findings.len()).filter(|n| findings[*n].class == class).collect();
        if rows.is_empty() {
            continue;
        }
        ui.label(heading(format!("{title} ({})", rows.len()))).on_hover_text(help);
        let opened = open.and_then(|open| rows.iter().position(|n| *n == open));
        match opened {
            Some(at) => {
                rows_ui(ui, app, findings, &rows[..at]);
                open_ui(ui, app, rows[at], &findings[rows[at]]);
                rows_ui(ui, app, findings, &rows[at + 1..]);
            }
            None => rows_ui(ui, app, findings, &rows),
        }
        ui.add_space(SPACE);
    }
}

/// Findings that are not open: those near what is in view are laid out, the others leave their room.
fn rows_ui(ui: &mut Ui, app: &mut App, findings: &[Finding], rows: &[usize]) {
    let step = ROW + ui.spacing().item_spacing.y;
    let (clip, top) = (ui.clip_rect(), ui.cursor().top());
    let index = |y: f32| ((y - top) / step).clamp(0.0, rows.len() as f32);
    let first = index(clip.top() - BEYOND).floor() as usize;
    let last = index(clip.bottom() + BEYOND).ceil() as usize;
    ui.add_space(first as f32 * step);
    for &n in &rows[first..last] {
        finding_ui(ui, app, n, &findings[n], false);
    }
    ui.add_space((rows.len() - last) as f32 * step);
}

/// How a finding counts, in a word: its verdict, or what it is if it is no fault.
fn class_word(finding: &Finding) -> &'static str {
    match finding.class {
        Class::Fault => finding.verdict.plain(),
        Class::Rule => "rule",
        Class::Note => "note",
    }
}

/// The largest current of a fault, A.
fn current(finding: &Finding) -> Option<f64> {
    let situation = finding.situation().filter(|_| finding.class == Class::Fault)?;
    Some(situation.peak_a()).filter(|amps| *amps > 0.0)
}

/// What happens, without the place: the first part of the line, which names it, stands elsewhere.
pub fn cause(says: &str) -> &str {
    says.split_once(": ").map_or(says, |(_, cause)| cause)
}

/// A row: the current or the word for it large, what it is and where, and the cause in one line.
fn finding_ui(ui: &mut Ui, app: &mut App, n: usize, finding: &Finding, open: bool) {
    let Some(words) = app.check.latest.words.get(n).cloned() else { return };
    let t = tokens(ui);
    let place = place_words(app, finding);
    let (rect, row) = ui.allocate_exact_size(vec2(ui.available_width(), ROW), Sense::click());
    let said =
        format!("{}: {} at {place}. {}", class_word(finding), finding.kind.title(), words.says);
    row.widget_info(|| WidgetInfo::selected(Role::Button, true, open, &said));
    if row.gained_focus() {
        row.scroll_to_me(None);
    }
    // The pointer, the focus and what is open look different: a thin edge, a thick edge, a bar.
    let edge = if row.has_focus() {
        Stroke::new(2.0, t.accent)
    } else {
        Stroke::new(1.0, if row.hovered() { t.text } else { t.hairline })
    };
    ui.painter().rect(rect, RADIUS, card(t).fill, edge, StrokeKind::Inside);
    if open {
        let bar = Rect::from_min_size(rect.min, vec2(4.0, rect.height()));
        ui.painter().rect_filled(bar, RADIUS, t.accent);
    }
    let mut inside = ui.new_child(UiBuilder::new().max_rect(rect.shrink2(vec2(9.0, 5.0))));
    inside.spacing_mut().item_spacing = vec2(SPACE, 0.0);
    inside.horizontal(|ui| {
        ui.set_height(22.0);
        let word = class_word(finding);
        if finding.class == Class::Fault {
            mark_ui(ui, finding.verdict, 8.0);
            let colour = t.verdict(finding.verdict);
            match current(finding) {
                Some(a) => {
                    ui.label(strong(amps(a)).size(19.0).color(colour));
                    ui.label(strong(word).color(colour));
                }
                None => drop(ui.label(strong(word).size(16.0).color(colour))),
            }
        } else {
            ui.label(strong(word).color(t.weak));
        }
        ui.with_layout(egui::Layout::right_to_left(Align::Center), |ui| {
            ui.add(Label::new(small(ui, &place)).truncate());
        });
    });
    inside.horizontal(|ui| {
        ui.add(Label::new(strong(finding.kind.title())).truncate());
        ui.add(Label::new(small(ui, cause(&words.says))).truncate());
    });
    if row.clicked() {
        if open {
            app.open_finding = None;
        } else {
            app.open_finding = Some(finding.id());
            show_place(app, finding);
        }
    }
}

/// The finding that is open, with all that is said of it.
fn open_ui(ui: &mut Ui, app: &mut App, n: usize, finding: &Finding) {
    let top = ui.cursor().min;
    finding_ui(ui, app, n, finding, true);
    let Some(words) = app.check.latest.words.get(n).cloned() else { return };
    let margin = Margin { left: 12, right: 4, top: 2, bottom: 8 };
    let shown = Frame::new().inner_margin(margin).show(ui, |ui| more_ui(ui, app, finding, &words));
    if std::mem::take(&mut app.listed.scroll) {
        let all = Rect::from_min_max(top, shown.response.rect.max);
        ui.scroll_to_rect(all, None);
    }
}

/// Details of the open finding: headline, reason, cures, advice, the rest, and a button that goes there.
fn more_ui(ui: &mut Ui, app: &mut App, finding: &Finding, words: &Text) {
    for text in [&words.says, &words.why] {
        if !text.is_empty() {
            ui.label(text);
        }
    }
    cures::offers_ui(ui, app, finding);
    if !words.advice.is_empty() {
        ui.label(strong("What to do"));
        for line in &words.advice {
            ui.horizontal_top(|ui| {
                ui.label("•");
                ui.add(egui::Label::new(line).wrap());
            });
        }
        for caution in &words.cautions {
            ui.label(small(ui, caution.line()));
        }
    }
    if !words.more.is_empty() {
        ui.label(&words.more);
    }
    ui.horizontal(|ui| {
        if ui.button("Go there").clicked() {
            show_place(app, finding);
        }
        if let Some(&cut) = finding.cuts().first()
            && ui.button("Show the gap's card").clicked()
        {
            app.select(EntityId::Cut(cut));
        }
    });
}

/// Where a finding is, in a few words.
pub fn place_words(app: &App, finding: &Finding) -> String {
    let (layout, report) = (app.doc.layout(), &app.check.latest.report);
    let block = |id| match report.blocks.iter().find(|b| b.id == id) {
        Some(block) => block.name.clone(),
        None => id.to_string(),
    };
    match finding.places.first() {
        Some(Place::Cut(id)) => {
            let named = layout.cuts.get(id).is_some_and(|cut| !cut.name.trim().is_empty());
            if named { names::cut_name(layout, report, *id) } else { app.called((*id).into()) }
        }
        Some(Place::Special(id)) => app.called((*id).into()),
        Some(Place::Stretch { run, from_mm, to_mm }) => {
            let at_mm = f64::midpoint(*from_mm, *to_mm);
            format!("{} at {}", app.called((*run).into()), app.camera.units.mm(at_mm))
        }
        Some(Place::Block(id)) => block(*id),
        None => match (finding.blocks.first(), finding.drivers.first()) {
            (Some(id), _) => block(*id),
            (None, Some(id)) => names::driver_name(layout, *id),
            (None, None) => String::new(),
        },
    }
}

/// Shows a finding's place on the canvas without leaving the list.
pub fn show_place(app: &mut App, finding: &Finding) {
    if let Some((low, high)) = rounds::bounds(&app.derived, rounds::of(finding)) {
        app.selection.clear();
        app.camera.fit(app.canvas, low, high);
        return;
    }
    let on_track = finding.places.iter().find_map(|place| match *place {
        Place::Cut(id) => Some(EntityId::Cut(id)),
        Place::Special(id) => Some(EntityId::Special(id)),
        Place::Stretch { run, .. } => Some(EntityId::Run(run)),
        Place::Block(_) => None,
    });
    let driver = || finding.drivers.first().copied().map(EntityId::Driver);
    let block = || finding.blocks.first().map(|id| EntityId::Run(id.run));
    let Some(target) = on_track.or_else(driver).or_else(block) else { return };
    app.selection = vec![target];
    app.cell = None;
    app.go_to(target);
}

impl App {
    /// Opens the finding that is so many farther on in the list than the one that is open.
    pub fn step_finding(&mut self, by: isize) {
        let checked = Arc::clone(&self.check.latest);
        // In the order in which they are listed.
        let listed: Vec<&Finding> = GROUPS
            .iter()
            .flat_map(|(class, ..)| checked.report.findings.iter().filter(|f| f.class == *class))
            .collect();
        let count = listed.len() as isize;
        if count == 0 {
            return;
        }
        let open = self.open_finding.as_ref();
        let open = open.and_then(|open| listed.iter().position(|f| f.id() == *open));
        let next = match open {
            Some(at) => (at as isize + by).rem_euclid(count),
            None if by > 0 => 0,
            None => count - 1,
        };
        if let Some(finding) = listed.get(next as usize) {
            self.open_finding = Some(finding.id());
            self.listed.scroll = true;
            self.show_tab(super::Tab::Findings);
            show_place(self, finding);
        }
    }
}
