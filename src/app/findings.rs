//! The list of findings: worst first, grouped by how they count. A click goes to the place and says why.

use std::sync::Arc;

use eframe::egui::{self, Frame, Margin, Role, Sense, Stroke, Ui, WidgetInfo};

use super::App;
use super::marks::mark_ui;
use super::names;
use super::rounds;
use super::theme::{RADIUS, SPACE, TIGHT, card, heading, small, strong, tokens};
use crate::findings::{BlockId, Class, Evidence, Finding, Kind, SelectorAt, Verdict};
use crate::layout::{CutId, EntityId, SpecialId, VehicleId};
use crate::report::mm;

/// What makes a finding the same one after the next check.
pub type FindingKey =
    (Kind, Class, Vec<CutId>, Option<SpecialId>, Vec<SelectorAt>, Vec<BlockId>, Option<VehicleId>);

/// The key of a finding.
pub fn key(finding: &Finding) -> FindingKey {
    (
        finding.kind,
        finding.class,
        finding.cuts.clone(),
        finding.special,
        finding.selectors.clone(),
        finding.blocks.clone(),
        finding.vehicle,
    )
}

/// The finding that is open, if it is still there.
pub fn opened(app: &App) -> Option<&Finding> {
    let open = app.open_finding.as_ref()?;
    app.check.latest.report.findings.iter().find(|finding| key(finding) == *open)
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
    let key = key(finding);
    let open = app.open_finding.as_ref() == Some(&key);
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
            ui.label(strong(finding.kind.word()));
            ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                ui.add(egui::Label::new(small(ui, &place)).truncate());
            });
        });
        ui.label(&words.says);
    });
    let row = ui.interact(shown.response.rect, ui.scope_id().with(("finding", n)), Sense::click());
    let said = format!("{}: {} at {place}. {}", finding.verdict, finding.kind, words.says);
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
            app.open_finding = Some(key);
            show_place(app, finding);
        }
    }
    if open {
        Frame::new().inner_margin(Margin { left: 12, right: 4, top: 2, bottom: 8 }).show(
            ui,
            |ui| {
                if !words.why.is_empty() {
                    ui.label(&words.why);
                }
                if !words.advice.is_empty() {
                    ui.label(strong("What to do"));
                    for line in &words.advice {
                        ui.horizontal_top(|ui| {
                            ui.label("•");
                            ui.add(egui::Label::new(line).wrap());
                        });
                    }
                }
                ui.horizontal(|ui| {
                    if ui.button("Go there").clicked() {
                        show_place(app, finding);
                    }
                    if let Some(cut) = finding.cuts.first()
                        && ui.button("Show the gap's card").clicked()
                    {
                        app.select(EntityId::Cut(*cut));
                    }
                });
            },
        );
    }
}

/// Where a finding is, in a few words.
pub fn place_words(app: &App, finding: &Finding) -> String {
    let report = &app.check.latest.report;
    if let Some(special) = finding.special.filter(|_| finding.cuts.is_empty()) {
        return names::entity_name(app.doc.layout(), special.into());
    }
    if let Some(cut) = finding.cuts.first() {
        return names::cut_name(app.doc.layout(), report, *cut);
    }
    if let Some(block) = finding.blocks.first() {
        return report
            .blocks
            .iter()
            .find(|b| b.id == *block)
            .map_or_else(|| block.to_string(), |b| b.name.clone());
    }
    match &finding.evidence {
        Evidence::Place { run, at_mm, .. } => format!("{run} at {}", mm(*at_mm)),
        _ => finding
            .drivers
            .first()
            .map_or_else(String::new, |d| names::driver_name(app.doc.layout(), *d)),
    }
}

/// Shows a finding's place on the canvas without leaving the list.
fn show_place(app: &mut App, finding: &Finding) {
    if let Some((low, high)) = rounds::bounds(&app.derived, rounds::of(finding)) {
        app.selection.clear();
        app.camera.fit(app.canvas, low, high);
        return;
    }
    let target = match (finding.cuts.first(), &finding.evidence) {
        (Some(cut), _) => EntityId::Cut(*cut),
        (None, _) if finding.special.is_some() => match finding.special {
            Some(special) => EntityId::Special(special),
            None => return,
        },
        (None, Evidence::Place { run, .. }) => EntityId::Run(*run),
        (None, _) => match finding.drivers.first() {
            Some(driver) => EntityId::Driver(*driver),
            None => return,
        },
    };
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
        let open = open.and_then(|open| listed.iter().position(|f| key(f) == *open));
        let next = match open {
            Some(at) => (at as isize + by).rem_euclid(count),
            None if by > 0 => 0,
            None => count - 1,
        };
        if let Some(finding) = listed.get(next as usize) {
            self.open_finding = Some(key(finding));
            self.show_tab(super::Tab::Findings);
            show_place(self, finding);
        }
    }
}
