//! The verdict, always in sight, and messages over the plan.

use std::sync::Arc;

use eframe::egui::{
    self, Align, Context, Layout, Margin, Order, RichText, Role, Stroke, Ui, WidgetInfo, WidgetText,
};

use super::checking::Going;
use super::marks::mark_ui;
use super::theme::{SPACE, TIGHT, bold, card, small, strong, tokens};
use super::{App, Notice};
use crate::findings::{Class, Finding, Kind, Report, Verdict};
use crate::report::{Tally, counted};

/// The verdict banner.
pub fn banner_ui(ui: &mut Ui, app: &mut App) {
    let current = app.check.is_current(app.doc.revision());
    let checked = Arc::clone(&app.check.latest);
    let report = &checked.report;
    let t = tokens(ui);
    let mut to_findings = false;
    ui.horizontal(|ui| {
        ui.set_min_height(28.0);
        let words = if let Some(why) = &checked.broke {
            mark_ui(ui, Verdict::NotKnown, 9.0);
            let words = format!("No verdict: the check broke down ({why}). The layout is safe.");
            ui.label(RichText::new(&words).family(bold()));
            words
        } else if app.doc.layout().runs.is_empty() {
            let words = "Nothing to check yet".to_owned();
            ui.label(strong(&words).size(16.0));
            words
        } else if !app.check.has_looked() {
            let words = "Not checked yet".to_owned();
            ui.label(strong(&words).size(16.0));
            words
        } else if let Some(why) = nothing_to_judge(report, &checked.tally) {
            let words = "Nothing to judge yet".to_owned();
            ui.label(strong(&words).size(16.0));
            ui.label(small(ui, why));
            format!("{words}: {why}")
        } else if report.cuts.is_empty() && report.findings.is_empty() {
            let words = "No cuts: nothing to cross, nothing found".to_owned();
            ui.label(strong(&words).size(16.0));
            words
        } else {
            let tally = &checked.tally;
            let mut words = Vec::new();
            for &(verdict, n) in &tally.faults {
                mark_ui(ui, verdict, 9.0);
                let told = counted(verdict, n);
                ui.label(strong(&told).size(16.0).color(t.verdict(verdict)));
                ui.add_space(TIGHT);
                words.push(told);
            }
            let others: Vec<String> =
                not_clear_words(tally).into_iter().chain(tally.not_fed_words()).collect();
            words.extend(others.clone());
            if !report.cuts.is_empty() {
                if tally.clear > 0 {
                    mark_ui(ui, Verdict::Clear, 9.0);
                }
                ui.label(strong(tally.clear_words()).size(16.0));
                words.push(tally.clear_words());
            }
            // In a narrow window the headline and the button come first.
            if !others.is_empty() && ui.available_width() > 460.0 {
                ui.add_space(TIGHT);
                ui.label(small(ui, others.join(", ")));
            }
            words.join(", ")
        };
        ui.add_space(SPACE);
        if let Some(more) = more_words(&checked.tally) {
            ui.label(small(ui, more));
        }
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            if !report.findings.is_empty() && ui.button("Show findings").clicked() {
                to_findings = true;
            }
            state_ui(ui, app);
            if let Some(effect) = app.listed.effect_words() {
                ui.label(strong(effect)).on_hover_text("What the last edit did to the findings");
            }
        });
        // One node that says the whole verdict, for a screen reader.
        let all = ui.interact(ui.min_rect(), ui.scope_id().with("verdict"), egui::Sense::hover());
        let said = format!("Verdict: {words}{}", if current { "" } else { " (checking again)" });
        all.widget_info(|| WidgetInfo::labeled(Role::Status, true, &said));
    });
    if to_findings {
        app.show_tab(super::Tab::Findings);
    }
}

/// Whether what is shown is about the layout as drawn; a check that takes long says how far it is and can be stopped.
fn state_ui(ui: &mut Ui, app: &mut App) {
    let going = app.check.going();
    let words = match going {
        None => "checked as drawn".to_owned(),
        Some(Going::Briefly) => "checking…".to_owned(),
        Some(Going::Long(_, 0)) => "checking: looking at the track".to_owned(),
        Some(Going::Long(solved, known)) => {
            format!("checking: {solved} of {known} cases are solved")
        }
        Some(Going::Stopped) => "not checked as drawn: the check was stopped".to_owned(),
    };
    match going {
        Some(Going::Long(..)) => {
            if ui.button("Stop the check").clicked() {
                app.check.stop();
            }
        }
        Some(Going::Stopped) => {
            if ui.button("Check now").clicked() {
                app.check.again();
            }
        }
        None | Some(Going::Briefly) => {}
    }
    if going.is_some() {
        ui.ctx().request_repaint_after(std::time::Duration::from_millis(200));
    }
    ui.label(small(ui, words));
}

/// "1 operating rule, 2 notes"; `None` if there are none.
fn more_words(tally: &Tally) -> Option<String> {
    let counts = [(tally.rules, "operating rule"), (tally.notes, "note")]
        .map(|(n, word)| (n > 0).then(|| format!("{n} {word}{}", if n == 1 { "" } else { "s" })));
    let words: Vec<String> = counts.into_iter().flatten().collect();
    (!words.is_empty()).then(|| words.join(", "))
}

/// Why nothing is judged yet; `None` if something is, or if something is wrong.
fn nothing_to_judge(report: &Report, tally: &Tally) -> Option<&'static str> {
    // That track is not fed yet is why.
    let is_wrong = |finding: &Finding| finding.class == Class::Fault && finding.kind != Kind::Unfed;
    let faults = report.findings.iter().any(is_wrong);
    let judged = report.cuts.iter().any(|cut| !cut.card.is_empty());
    if faults || judged || tally.faulty + tally.set_against.0 > 0 {
        return None;
    }
    if !report.cuts.is_empty() {
        Some("no gap is fed on both sides")
    } else if report.blocks.iter().all(|block| block.drivers.is_empty()) {
        Some("no track is fed")
    } else {
        None
    }
}

/// The gaps that are not clear: those with a fault, and those that only the settings now are against, with the worst of
/// them: "2 cuts with a fault", "1 cut short as set now".
fn not_clear_words(tally: &Tally) -> Vec<String> {
    let cuts = |n: usize| format!("{n} {}", if n == 1 { "cut" } else { "cuts" });
    let mut words = Vec::new();
    if tally.faulty > 0 {
        words.push(format!("{} with a fault", cuts(tally.faulty)));
    }
    let (others, worst) = tally.set_against;
    if others > 0 {
        words.push(format!("{} {} as set now", cuts(others), worst.plain()));
    }
    words
}

/// Messages over the lower edge of the plan: they move nothing that one is about to click.
pub fn notices_ui(ctx: &Context, app: &mut App) {
    if app.notices.is_empty() {
        return;
    }
    let canvas = app.canvas.shrink(8.0);
    let mut gone = None;
    let area = egui::Area::new(egui::Id::unique("notices"))
        .order(Order::Foreground)
        .pivot(egui::Align2::LEFT_BOTTOM)
        .fixed_pos(canvas.left_bottom())
        .constrain(false);
    area.show(ctx, |ui| {
        ui.set_max_width(canvas.width());
        let t = tokens(ui);
        card(t).stroke(Stroke::new(1.0, t.hairline)).inner_margin(Margin::same(8)).show(ui, |ui| {
            ui.set_width(canvas.width() - 18.0);
            let most = (canvas.height() * 0.5).min(132.0);
            egui::ScrollArea::vertical().max_height(most).show(ui, |ui| {
                for (n, notice) in app.notices.iter().enumerate() {
                    if notice_ui(ui, notice) {
                        gone = Some(n);
                    }
                }
            });
        });
    });
    if let Some(n) = gone {
        app.notices.remove(n);
    }
}

/// One message. Returns whether it is dismissed.
fn notice_ui(ui: &mut Ui, notice: &Notice) -> bool {
    let from_the_right = Layout::right_to_left(Align::Min);
    ui.with_layout(from_the_right, |ui| {
        let dismiss = ui
            .button("Dismiss")
            .on_hover_text("Take this message away")
            .accessible_name(format!("Dismiss: {}", first_line(&notice.text)));
        ui.with_layout(Layout::left_to_right(Align::Min), |ui| {
            if notice.bad {
                mark_ui(ui, Verdict::Short, 7.0);
            }
            let text: WidgetText = notice.text.as_str().into();
            ui.add(egui::Label::new(text).wrap().selectable(true));
        });
        dismiss.clicked()
    })
    .inner
}

fn first_line(text: &str) -> &str {
    text.lines().next().unwrap_or_default()
}
