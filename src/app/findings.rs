//! The list of findings: worst first, grouped by how they count. A click goes to the place and says why.

use std::sync::Arc;

use eframe::egui::{self, Frame, Margin, Role, Sense, Stroke, Ui, WidgetInfo};

use super::App;
use super::marks::mark_ui;
use super::names;
use super::rounds;
use super::theme::{RADIUS, SPACE, TIGHT, card, heading, small, strong, tokens};
use crate::findings::{Class, Finding, Place, Text, Verdict};
use crate::layout::EntityId;

/// The finding that is open, if it is still there.
pub fn opened(app: &App) -> Option<&Finding> {
    let open = app.open_finding.as_ref()?;
    app.check.latest.report.findings.iter().find(|finding| finding.id() == *open)
}

const GROUPS: [(Class, &str, &str); 3] = [
    (Class::Fault, "Faults", "Something is wrong with the wiring, a driver or the settings now."),
    (Class::Rule, "Operating rules", "What operators must do that no wiring can do for them."),
    (Class::Note, "Notes", "Worth knowing."),
];

/// Rows of one group that are shown; more would make every frame slow, and nobody reads them.
const MOST: usize = 200;

/// The list.
pub fn findings_ui(ui: &mut Ui, app: &mut App) {
    let checked = Arc::clone(&app.check.latest);
    let findings = &checked.report.findings;
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
    for (class, title, help) in GROUPS {
        let count = findings.iter().filter(|f| f.class == class).count();
        if count == 0 {
            continue;
        }
        ui.label(heading(format!("{title} ({count})"))).on_hover_text(help);
        for (n, finding) in findings.iter().enumerate().filter(|(_, f)| f.class == class).take(MOST)
        {
            finding_ui(ui, app, n, finding);
        }
        if count > MOST {
            ui.label(small(ui, format!("and {} more, shown as these are cured", count - MOST)));
        }
        ui.add_space(SPACE);
    }
}

fn finding_ui(ui: &mut Ui, app: &mut App, n: usize, finding: &Finding) {
    let Some(words) = app.check.latest.words.get(n).cloned() else { return };
    let t = tokens(ui);
    let id = finding.id();
    let open = app.open_finding.as_ref() == Some(&id);
    let place = place_words(app, finding);
    let frame = card(t)
        .stroke(Stroke::new(if open { 1.5 } else { 1.0 }, if open { t.accent } else { t.hairline }))
        .inner_margin(Margin::symmetric(8, 6));
    let shown = frame.show(ui, |ui| {
        ui.set_width(ui.available_width());
        ui.spacing_mut().item_spacing.y = TIGHT;
        ui.horizontal(|ui| {
            // A note against which nothing stands is no verdict.
            if finding.class == Class::Note && finding.verdict == Verdict::Clear {
                ui.label(strong("note"));
            } else {
                mark_ui(ui, finding.verdict, 8.0);
                let verdict = strong(super::card::verdict_word(finding.verdict));
                ui.label(verdict.color(t.verdict(finding.verdict)));
            }
            ui.label(strong(finding.kind.title()));
            ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                ui.add(egui::Label::new(small(ui, &place)).truncate());
            });
        });
        ui.label(&words.says);
    });
    let row = ui.interact(shown.response.rect, ui.scope_id().with(("finding", n)), Sense::click());
    let said = format!("{}: {} at {place}. {}", finding.verdict, finding.kind.title(), words.says);
    row.widget_info(|| WidgetInfo::selected(Role::Button, true, open, &said));
    if row.hovered() || row.has_focus() {
        ui.painter().rect_stroke(
            shown.response.rect,
            RADIUS,
            Stroke::new(1.5, t.accent),
            egui::StrokeKind::Inside,
        );
    }
    if row.clicked() {
        if open {
            app.open_finding = None;
        } else {
            app.open_finding = Some(id);
            show_place(app, finding);
        }
    }
    if open {
        let margin = Margin { left: 12, right: 4, top: 2, bottom: 8 };
        Frame::new().inner_margin(margin).show(ui, |ui| more_ui(ui, app, finding, &words));
    }
}

/// What is said of a finding that is open: why, what to do, and the way there.
fn more_ui(ui: &mut Ui, app: &mut App, finding: &Finding, words: &Text) {
    for text in [&words.why, &words.more] {
        if !text.is_empty() {
            ui.label(text);
        }
    }
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
        Some(Place::Cut(id)) => names::cut_name(layout, report, *id),
        Some(Place::Special(id)) => names::entity_name(layout, (*id).into()),
        Some(Place::Stretch { run, from_mm, to_mm }) => {
            format!("{run} at {}", app.camera.units.mm(f64::midpoint(*from_mm, *to_mm)))
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
fn show_place(app: &mut App, finding: &Finding) {
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
            .flat_map(|(class, ..)| {
                checked.report.findings.iter().filter(|f| f.class == *class).take(MOST)
            })
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
            self.show_tab(super::Tab::Findings);
            show_place(self, finding);
        }
    }
}
