//! The verdict, always in sight, and messages over the plan.

use std::collections::BTreeSet;

use eframe::egui::{
    self, Align, Context, Layout, Margin, Order, RichText, Role, Stroke, Ui, WidgetInfo, WidgetText,
};

use super::card::verdict_word;
use super::marks::mark_ui;
use super::theme::{SPACE, TIGHT, bold, card, small, strong, tokens};
use super::{App, Notice};
use crate::findings::{Class, Finding, Kind, Report, Verdict};
use crate::layout::CutId;
use crate::report::{clear_words, counted, cut_verdict, not_fed_words, tally};

/// The verdict banner.
pub fn banner_ui(ui: &mut Ui, app: &mut App) {
    let current = app.check.is_current(app.doc.revision());
    let checked = &app.check.latest;
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
        } else if let Some(why) = nothing_to_judge(report) {
            let words = "Nothing to judge yet".to_owned();
            ui.label(strong(&words).size(16.0));
            ui.label(small(ui, why));
            format!("{words}: {why}")
        } else if report.cuts.is_empty() && report.findings.is_empty() {
            let words = "No cuts: nothing to cross, nothing found".to_owned();
            ui.label(strong(&words).size(16.0));
            words
        } else {
            let (counts, clear) = tally(report);
            let mut words = Vec::new();
            for (verdict, n) in counts {
                mark_ui(ui, verdict, 9.0);
                let told = counted(verdict, n);
                ui.label(strong(&told).size(16.0).color(t.verdict(verdict)));
                ui.add_space(TIGHT);
                words.push(told);
            }
            let others: Vec<String> =
                not_clear_words(report).into_iter().chain(not_fed_words(report)).collect();
            words.extend(others.clone());
            if !report.cuts.is_empty() {
                if clear > 0 {
                    mark_ui(ui, Verdict::Clear, 9.0);
                }
                ui.label(strong(clear_words(clear)).size(16.0));
                words.push(clear_words(clear));
            }
            // In a narrow window the headline and the button come first.
            if !others.is_empty() && ui.available_width() > 460.0 {
                ui.add_space(TIGHT);
                ui.label(small(ui, others.join(", ")));
            }
            words.join(", ")
        };
        ui.add_space(SPACE);
        if let Some(more) = more_words(report) {
            ui.label(small(ui, more));
        }
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            if !report.findings.is_empty() && ui.button("Show findings").clicked() {
                to_findings = true;
            }
            let state = if current { "checked as drawn" } else { "checking…" };
            ui.label(small(ui, state));
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

/// "1 operating rule, 2 notes"; `None` if there are none.
fn more_words(report: &Report) -> Option<String> {
    let count = |class| report.findings.iter().filter(|f| f.class == class).count();
    let words = [(Class::Rule, "operating rule"), (Class::Note, "note")].map(|(class, word)| {
        let n = count(class);
        (n > 0).then(|| format!("{n} {word}{}", if n == 1 { "" } else { "s" }))
    });
    let words: Vec<String> = words.into_iter().flatten().collect();
    (!words.is_empty()).then(|| words.join(", "))
}

/// Why nothing is judged yet; `None` if something is, or if something is wrong.
fn nothing_to_judge(report: &Report) -> Option<&'static str> {
    // That track is not fed yet is why.
    let is_wrong = |finding: &Finding| finding.class == Class::Fault && finding.kind != Kind::Unfed;
    let faults = report.findings.iter().any(is_wrong);
    let judged = report.cuts.iter().any(|cut| !cut.card.is_empty());
    let worst = report.cuts.iter().map(|cut| cut_verdict(report, cut)).max().unwrap_or_default();
    if faults || judged || worst > Verdict::Clear {
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
fn not_clear_words(report: &Report) -> Vec<String> {
    let faults = report.findings.iter().filter(|finding| finding.class == Class::Fault);
    let at_fault: BTreeSet<CutId> = faults.flat_map(|finding| finding.cuts()).collect();
    let cuts = |n: usize| format!("{n} {}", if n == 1 { "cut" } else { "cuts" });
    let (faulty, others): (Vec<_>, Vec<_>) = report
        .cuts
        .iter()
        .filter(|cut| cut_verdict(report, cut) > Verdict::Clear)
        .partition(|cut| at_fault.contains(&cut.id));
    let mut words = Vec::new();
    if !faulty.is_empty() {
        words.push(format!("{} with a fault", cuts(faulty.len())));
    }
    if let Some(worst) = others.iter().map(|cut| cut.now.verdict).max() {
        words.push(format!("{} {} as set now", cuts(others.len()), verdict_word(worst)));
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
