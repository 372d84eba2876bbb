//! One frame of the window: keys, panels, canvas, dialogs, and the check of what was done.

use std::time::Duration;

use eframe::egui::{self, CentralPanel, Frame, Margin, Panel};

use super::{
    App, Tab, banner, canvas, cures, files, findings, gap, help, keys, listing, particulars,
    review, run, theme, throttles, tools, top_bar,
};

/// Width of the tools.
const TOOLS_WIDTH: f32 = 222.0;
/// Widths that the panel on the right and the plan beside it need.
const SIDE_LEAST: f32 = 320.0;
const PLAN_LEAST: f32 = 200.0;

/// Whether there is no room for both panels beside the plan: with large letters, or in a small window.
pub(super) fn is_narrow(ctx: &egui::Context) -> bool {
    ctx.content_rect().width() < TOOLS_WIDTH + SIDE_LEAST + PLAN_LEAST
}

/// Width of the panel on the right: in a small window it gives way, and afterwards it is what it was.
#[derive(Debug, Default)]
pub(super) struct Side {
    window: f32,
    shown: f32,
    /// The width that it had by itself, or was dragged to.
    wanted: Option<f32>,
}

impl Side {
    /// The width that it is to have, if the window has another width than in the last frame.
    fn wanted_in(&self, window: f32) -> Option<f32> {
        self.wanted.filter(|_| window != self.window)
    }

    fn was_shown(&mut self, window: f32, shown: f32) {
        let dragged = window == self.window && (shown - self.shown).abs() > 0.5;
        if dragged || self.wanted.is_none() {
            self.wanted = Some(shown);
        }
        (self.window, self.shown) = (window, shown);
    }
}

impl App {
    /// One frame of the whole window.
    pub fn show(&mut self, ui: &mut egui::Ui) {
        let units = self.settings.units();
        self.camera.units = units;
        theme::set_length_units(ui, units);
        self.refresh();
        self.check.update(self.doc.revision(), units, self.doc.layout());
        self.note_gestures(ui);
        keys::keys(ui, self);
        files::take_drops(ui, self);
        files::take_answers(ui.ctx(), self);
        self.cures.update();
        self.update_papers();

        self.window_points = ui.ctx().content_rect().height();
        if self.presenting {
            self.presented_ui(ui);
        } else if self.review.shown && !self.gap.shown {
            review::review_view_ui(ui, self);
        } else {
            self.panels_ui(ui);
        }
        banner::notices_ui(ui.ctx(), self);
        files::dialogs_ui(ui.ctx(), self);
        help::help_ui(ui.ctx(), self);
        cures::trial_ui(ui.ctx(), self);
        keys::after_typing(ui.ctx(), self);

        // What was done in this frame is checked in this frame, so that no frame shows an answer about something else.
        self.refresh();
        let before = self.check.latest.revision;
        self.check.update(self.doc.revision(), units, self.doc.layout());
        findings::note_checked(ui.ctx(), self);
        let pictures = self.pictures.update(ui.ctx(), self.doc.layout(), self.doc.path.as_deref());
        if self.check.latest.revision != before || pictures {
            ui.ctx().request_repaint();
        }
        self.remember();
        let now_s = ui.input(|i| i.time);
        if let Some(again_s) = self.keep(|recovery, work| recovery.update(work, now_s)).flatten() {
            ui.request_repaint_after(Duration::from_secs_f64(again_s));
        }
        self.title(ui.ctx());
    }

    /// The plan alone.
    fn presented_ui(&mut self, ui: &mut egui::Ui) {
        self.presenter_ui(ui);
        let canvas = theme::tokens(ui).canvas;
        CentralPanel::default().frame(Frame::new().fill(canvas)).show(ui, |ui| {
            canvas::canvas_ui(ui, self);
            self.presenter_words(ui);
        });
    }

    /// The plan with its panels.
    fn panels_ui(&mut self, ui: &mut egui::Ui) {
        let t = theme::tokens(ui);
        let bar = Frame::new().fill(t.panel).inner_margin(Margin::symmetric(10, 6));
        let side = Frame::new().fill(t.panel).inner_margin(Margin::same(10));
        Panel::top("top bar").frame(bar).show(ui, |ui| top_bar::top_bar_ui(ui, self));
        Panel::top("verdict").frame(bar).show(ui, |ui| banner::banner_ui(ui, self));
        if self.gap.shown {
            return gap::gap_view_ui(ui, self);
        }
        let width = ui.ctx().content_rect().width();
        let side_shown = !self.settings.side_hidden;
        let tools_shown = !(side_shown && is_narrow(ui.ctx()));
        if tools_shown {
            Panel::left("tools")
                .frame(side)
                .resizable(false)
                .exact_size(TOOLS_WIDTH)
                .show(ui, |ui| tools::tools_ui(ui, self));
        }
        if side_shown {
            let tools = if tools_shown { TOOLS_WIDTH } else { 0.0 };
            let most = (width - tools - PLAN_LEAST).clamp(SIDE_LEAST, 640.0);
            let mut panel = Panel::right("side")
                .frame(side)
                .default_size((width * 0.335).clamp(340.0, 480.0))
                .size_range(SIDE_LEAST..=most);
            if let Some(wanted) = self.side.wanted_in(width) {
                panel = panel.exact_size(wanted.clamp(SIDE_LEAST, most));
            }
            let shown = panel.show(ui, |ui| self.side_ui(ui)).response.rect.width();
            self.side.was_shown(width, shown);
        }
        Panel::bottom("throttles").frame(bar).show(ui, |ui| throttles::throttles_ui(ui, self));
        super::first_steps::first_steps_panel(ui, self);
        CentralPanel::default()
            .frame(Frame::new().fill(t.canvas))
            .show(ui, |ui| canvas::canvas_ui(ui, self));
    }

    /// Shows a page of the panel on the right.
    pub(super) fn show_tab(&mut self, tab: Tab) {
        self.tab = tab;
        self.settings.side_hidden = false;
        self.gap.shown = false;
        self.review.shown = false;
    }

    pub(super) fn side_ui(&mut self, ui: &mut egui::Ui) {
        let findings = self.check.latest.report.findings.len();
        let tabs = [
            (Tab::Findings, format!("Findings ({findings})")),
            (Tab::Selected, "Selected".to_owned()),
            (Tab::Layout, "Layout".to_owned()),
            (Tab::Run, "Run".to_owned()),
        ];
        ui.horizontal(|ui| {
            for (tab, words) in tabs {
                let label = ui.selectable_label(self.tab == tab, words);
                let label =
                    if tab == Tab::Run { label.on_hover_text("Run a train (R)") } else { label };
                if label.clicked() {
                    self.tab = tab;
                }
            }
        });
        ui.separator();
        let width = ui.available_width();
        // What is too wide is scrolled to; it does not push the panel wider.
        egui::ScrollArea::both().id_salt(self.tab as u8).auto_shrink(false).show(ui, |ui| {
            // Room for the bar that scrolls.
            ui.set_max_width(width - 8.0);
            match self.tab {
                Tab::Findings => findings::findings_ui(ui, self),
                Tab::Selected => particulars::particulars_ui(ui, self),
                Tab::Layout => listing::listing_ui(ui, self),
                Tab::Run => run::run_ui(ui, self),
            }
        });
    }

    /// A press of the pointer or a move of the focus begins a new gesture.
    pub(super) fn note_gestures(&mut self, ui: &egui::Ui) {
        let focus = ui.memory(|m| m.focused());
        if ui.input(|i| i.pointer.any_pressed()) || focus != self.focus_before {
            self.doc.new_gesture();
        }
        self.focus_before = focus;
    }

    pub(super) fn title(&mut self, ctx: &egui::Context) {
        let mark = if self.doc.is_changed() { " (not saved)" } else { "" };
        let title = format!("{}{mark} - Gapwright", self.doc.title());
        if title != self.title_before {
            ctx.send_viewport_cmd(egui::ViewportCommand::Title(title.clone()));
            self.title_before = title;
        }
    }
}
