//! The window: views, canvas, theme. It draws the layout and the check's report; it knows no electrical rule itself.

mod actions;
mod banner;
mod bulk;
mod camera;
mod canvas;
mod card;
mod checking;
mod derived;
mod doc;
mod equipment;
mod files;
mod findings;
mod first_steps;
mod form;
mod help;
mod keys;
mod lay;
mod legend;
mod lineups;
mod listing;
mod marks;
mod names;
mod nets;
mod paint;
mod particulars;
mod picture;
mod picture_file;
mod picture_form;
mod presets;
mod recovery;
mod rounds;
mod run;
mod samples;
mod settings;
mod special_drawn;
mod special_form;
mod special_paint;
mod special_tool;
mod theme;
mod throttles;
mod tools;
mod top_bar;
mod trace;
mod train;
mod welcome;

use std::cell::Cell;
use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};
use std::path::{Path, PathBuf};
use std::rc::Rc;
use std::time::Duration;

use eframe::egui::{self, CentralPanel, Frame, Id, Margin, Panel, Rect};

use crate::findings::{FindingId, SetWord};
use crate::layout::edit::Edit;
use crate::layout::{EntityId, Layout, place};

use camera::Camera;
use canvas::Drag;
use checking::Checking;
use derived::Derived;
use doc::Document;
use files::Files;
use first_steps::FirstSteps;
use recovery::{Recovery, Work};
use settings::{Remembered, Settings};
use tools::Tools;

/// Name of the program to the desktop, and of its folder there.
const APP_ID: &str = "gapwright";
/// Width of the tools.
const TOOLS_WIDTH: f32 = 222.0;
/// Widths that the panel on the right and the plan beside it need.
const SIDE_LEAST: f32 = 320.0;
const PLAN_LEAST: f32 = 200.0;

/// Whether there is no room for both panels beside the plan: with large letters, or in a small window.
fn is_narrow(ctx: &egui::Context) -> bool {
    ctx.content_rect().width() < TOOLS_WIDTH + SIDE_LEAST + PLAN_LEAST
}

/// What the panel on the right shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Tab {
    /// The list of findings.
    #[default]
    Findings,
    /// The particulars of what is selected.
    Selected,
    /// Everything on the layout.
    Layout,
    /// A train that is run.
    Run,
}

/// Something to tell the user. What failed stays until it is dismissed; what was told of a step goes with the next.
#[derive(Debug, Clone, PartialEq)]
struct Notice {
    /// The words.
    text: String,
    /// Whether something failed.
    bad: bool,
    /// The revision of the layout that it is about.
    revision: u64,
}

/// The whole window.
pub struct App {
    doc: Document,
    check: Checking,
    derived: Derived,
    derived_about: u64,
    camera: Camera,
    canvas: Rect,
    fit_wanted: bool,
    /// The camera as the last fit left it, and of which revision: while they are those, the layout is shown whole.
    fitted: Option<(Camera, u64)>,
    selection: Vec<EntityId>,
    /// What was copied last.
    clip: Option<Layout>,
    bulk: bulk::Bulk,
    /// Where the pointer is on the plan, mm, while it is over the canvas.
    pointer_mm: Option<camera::World>,
    help: help::Help,
    settings: Settings,
    remembered: Option<Remembered>,
    recovery: Option<Recovery>,
    legend: bool,
    first_steps: FirstSteps,
    lineups: lineups::Lineups,
    drag: Option<Drag>,
    tools: Tools,
    tab: Tab,
    run: run::RunTab,
    open_finding: Option<FindingId>,
    cell: Option<(SetWord, SetWord)>,
    files: Files,
    pictures: picture::Shelf,
    notices: Vec<Notice>,
    focus_before: Option<Id>,
    /// Whether the canvas got the focus by a key, so that the focus must be seen.
    focus_by_key: bool,
    title_before: String,
}

impl App {
    /// The window in a real desktop: checks run on a thread of their own, files are chosen in the desktop's dialogs, and
    /// settings and what is not saved are kept in the user's folder.
    fn new(cc: &eframe::CreationContext<'_>, file: Option<PathBuf>) -> Self {
        let ctx = &cc.egui_ctx;
        let mut app = Self::with(Checking::there(ctx.clone()), Files::new(true));
        app.pictures.aside = true;
        dress(ctx);
        ctx.set_zoom_factor(actions::within_scales(ctx.zoom_factor()));
        let alone = file.is_none();
        match eframe::storage_dir(APP_ID) {
            Some(folder) => app.live_in(&folder, file.as_deref(), true),
            None => {
                app.tell_bad("There is no folder of yours to keep unsaved work in. Save often.");
                if let Some(path) = &file {
                    app.open_path(path);
                }
            }
        }
        if alone && !app.settings.knows_first_steps {
            app.first_steps = FirstSteps::begin();
        }
        app
    }

    /// The same window with everything done at once in the caller's thread, no dialogs of the desktop, and nothing
    /// remembered: for tests. The caller dresses the context with [`dress`].
    pub fn for_tests() -> Self {
        let mut app = Self::with(Checking::here(), Files::new(false));
        app.settings.knows_first_steps = true;
        app
    }

    /// The same, started with a file if one is named, with settings and unsaved work in a folder as if it were the
    /// user's.
    pub fn for_tests_in(folder: &Path, file: Option<&Path>) -> Self {
        let mut app = Self::for_tests();
        app.live_in(folder, file, false);
        app
    }

    /// Takes in what the user's folder remembers, opens a file if one is named, and offers what a crash left behind.
    fn live_in(&mut self, folder: &Path, file: Option<&Path>, threaded: bool) {
        let (remembered, settings, wrong) = Remembered::open(&folder.join("settings.ron"));
        self.tools.snap = settings.snap;
        self.settings = settings;
        self.remembered = Some(remembered);
        if let Some(path) = file {
            self.open_path(path);
        }
        if let Some(why) = wrong {
            self.tell_bad(why);
        }
        let unsaved = folder.join("unsaved");
        match Recovery::new(&unsaved, threaded) {
            Ok(recovery) => {
                let found = recovery.found();
                self.recovery = Some(recovery);
                if !found.is_empty() {
                    self.files.offer(found);
                }
            }
            Err(error) => self.tell_bad(format!(
                "Unsaved work cannot be kept in {}: {error}. Save often.",
                unsaved.display()
            )),
        }
    }

    /// Writes the settings when they have changed.
    fn remember(&mut self) {
        self.settings.snap = self.tools.snap;
        let Some(remembered) = &mut self.remembered else { return };
        if let Err(error) = remembered.write(&self.settings) {
            self.tell_bad(format!(
                "Settings, presets and recent layouts cannot be remembered: {error}."
            ));
        }
    }

    /// Sees to the work that is not saved, with what keeps it.
    fn keep<T>(&mut self, keep: impl FnOnce(&mut Recovery, &Work<'_>) -> T) -> Option<T> {
        let doc = &self.doc;
        let work = Work {
            layout: doc.layout(),
            changed: doc.is_changed(),
            revision: doc.revision(),
            title: &doc.title(),
            path: doc.path.as_deref(),
        };
        let recovery = self.recovery.as_mut()?;
        let kept = keep(recovery, &work);
        if let Some(why) = recovery.wrong() {
            self.tell_bad(format!("Unsaved work cannot be kept: {why}. Save often."));
        }
        Some(kept)
    }

    /// Does some work; should it break down, what is not saved is kept before it goes on breaking down.
    pub fn guarded(&mut self, work: impl FnOnce(&mut Self)) {
        if let Err(panic) = catch_unwind(AssertUnwindSafe(|| work(self))) {
            self.keep(Recovery::rescue);
            resume_unwind(panic);
        }
    }

    /// Of a window that is hidden no frame is shown. What is not saved is kept all the same, and asked about if the window
    /// is closed from outside.
    pub fn while_hidden(&mut self, ctx: &egui::Context) {
        self.keep(Recovery::hurry);
        if files::guard_close(ctx, self) {
            ctx.send_viewport_cmd(egui::ViewportCommand::Minimized(false));
            ctx.send_viewport_cmd(egui::ViewportCommand::Focus);
        }
    }

    /// The window has closed. If nobody was asked about unsaved changes (the desktop went away), they are kept as after a
    /// crash.
    pub fn closed(&mut self) {
        self.remember();
        if files::would_lose(self) {
            self.keep(Recovery::rescue);
        } else if let Some(recovery) = &mut self.recovery {
            recovery.close();
        }
    }

    fn with(check: Checking, files: Files) -> Self {
        Self {
            doc: Document::new(Layout::default()),
            check,
            derived: Derived::default(),
            derived_about: 0,
            camera: Camera::default(),
            canvas: Rect::from_min_size(egui::Pos2::ZERO, egui::vec2(800.0, 600.0)),
            fit_wanted: true,
            fitted: None,
            selection: Vec::new(),
            clip: None,
            bulk: bulk::Bulk::default(),
            pointer_mm: None,
            help: help::Help::default(),
            settings: Settings::default(),
            remembered: None,
            recovery: None,
            legend: false,
            first_steps: FirstSteps::default(),
            lineups: lineups::Lineups::default(),
            drag: None,
            tools: Tools::default(),
            tab: Tab::default(),
            run: run::RunTab::default(),
            open_finding: None,
            cell: None,
            files,
            pictures: picture::Shelf::default(),
            notices: Vec::new(),
            focus_before: None,
            focus_by_key: false,
            title_before: String::new(),
        }
    }

    /// The layout on the screen.
    pub fn layout(&self) -> &Layout {
        self.doc.layout()
    }

    /// The report on the screen.
    pub fn report(&self) -> &crate::findings::Report {
        &self.check.latest.report
    }

    /// Does an edit, or tells why it cannot be done. Returns what it made.
    fn edit(&mut self, what: &str, edit: Edit) -> Option<Vec<EntityId>> {
        self.edit_field(what, edit, None)
    }

    /// Does an edit of one field; edits of the same field in one gesture are undone as one.
    fn edit_field(&mut self, what: &str, edit: Edit, field: Option<Id>) -> Option<Vec<EntityId>> {
        match self.doc.edit(what, edit, field) {
            Ok(made) => {
                self.forget_what_is_past();
                self.refresh();
                Some(made)
            }
            Err(refused) => {
                self.tell_bad(format!("Could not {what}: {refused}"));
                None
            }
        }
    }

    /// What was only said of an earlier state of the layout is not said any more; what failed stays to be read.
    fn forget_what_is_past(&mut self) {
        let now = self.doc.revision();
        self.notices.retain(|notice| notice.bad || notice.revision == now);
    }

    fn undo(&mut self) {
        if let Err(refused) = self.doc.undo() {
            self.tell_bad(format!("Could not undo: {refused}"));
        }
        self.forget_what_is_past();
        self.refresh();
    }

    fn redo(&mut self) {
        if let Err(refused) = self.doc.redo() {
            self.tell_bad(format!("Could not redo: {refused}"));
        }
        self.forget_what_is_past();
        self.refresh();
    }

    fn delete_selected(&mut self) {
        if !self.selection.is_empty() {
            let ids = std::mem::take(&mut self.selection);
            match place::deletion(self.doc.layout(), &ids) {
                Ok(edit) => drop(self.edit("delete", edit)),
                Err(refused) => self.tell_bad(format!("Could not delete: {refused}")),
            }
        }
    }

    fn select(&mut self, id: EntityId) {
        self.selection = vec![id];
        self.cell = None;
        self.tab = Tab::Selected;
    }

    fn tell(&mut self, text: impl Into<String>) {
        self.notice(text.into(), false);
    }

    fn tell_bad(&mut self, text: impl Into<String>) {
        self.notice(text.into(), true);
    }

    fn notice(&mut self, text: String, bad: bool) {
        self.notices.retain(|n| n.text != text);
        self.notices.push(Notice { text, bad, revision: self.doc.revision() });
        // An old notice that nobody dismissed gives way; five are all that one reads.
        if self.notices.len() > 5 {
            self.notices.remove(0);
        }
    }

    /// Brings everything that depends on the layout up to date.
    fn refresh(&mut self) {
        if self.derived_about == self.doc.revision() {
            return;
        }
        self.derived_about = self.doc.revision();
        let layout = self.doc.layout();
        self.derived = Derived::of(layout);
        self.selection.retain(|id| names::exists(layout, *id));
        self.tools.forget_what_is_gone(layout);
    }

    fn go_to(&mut self, id: EntityId) {
        if let Some(place) = self.derived.place(self.doc.layout(), id) {
            self.camera.centre = place;
            // Near enough to see the two rails and the gap between them.
            if !matches!(id, EntityId::Picture(_)) {
                self.camera.scale = self.camera.scale.max(0.6);
            }
        }
    }

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

        let t = theme::tokens(ui);
        let bar = Frame::new().fill(t.panel).inner_margin(Margin::symmetric(10, 6));
        let side = Frame::new().fill(t.panel).inner_margin(Margin::same(10));
        Panel::top("top bar").frame(bar).show(ui, |ui| top_bar::top_bar_ui(ui, self));
        Panel::top("verdict").frame(bar).show(ui, |ui| banner::banner_ui(ui, self));
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
            Panel::right("side")
                .frame(side)
                .default_size((width * 0.335).clamp(340.0, 480.0))
                .size_range(SIDE_LEAST..=most)
                .show(ui, |ui| self.side_ui(ui));
        }
        Panel::bottom("throttles").frame(bar).show(ui, |ui| throttles::throttles_ui(ui, self));
        CentralPanel::default()
            .frame(Frame::new().fill(t.canvas))
            .show(ui, |ui| canvas::canvas_ui(ui, self));
        banner::notices_ui(ui.ctx(), self);
        files::dialogs_ui(ui.ctx(), self);
        help::help_ui(ui.ctx(), self);

        // What was done in this frame is checked in this frame, so that no frame shows an answer about something else.
        self.refresh();
        let before = self.check.latest.revision;
        self.check.update(self.doc.revision(), units, self.doc.layout());
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

    /// Shows a page of the panel on the right.
    fn show_tab(&mut self, tab: Tab) {
        self.tab = tab;
        self.settings.side_hidden = false;
    }

    fn side_ui(&mut self, ui: &mut egui::Ui) {
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
    fn note_gestures(&mut self, ui: &egui::Ui) {
        let focus = ui.memory(|m| m.focused());
        if ui.input(|i| i.pointer.any_pressed()) || focus != self.focus_before {
            self.doc.new_gesture();
        }
        self.focus_before = focus;
    }

    fn title(&mut self, ctx: &egui::Context) {
        let mark = if self.doc.is_changed() { " (not saved)" } else { "" };
        let title = format!("{}{mark} - Gapwright", self.doc.title());
        if title != self.title_before {
            ctx.send_viewport_cmd(egui::ViewportCommand::Title(title.clone()));
            self.title_before = title;
        }
    }
}

impl eframe::App for App {
    fn logic(&mut self, ctx: &egui::Context, _frame: &mut eframe::Frame) {
        if ctx.input(|i| i.viewport().visible()) == Some(false) {
            self.while_hidden(ctx);
        }
    }

    fn ui(&mut self, ui: &mut egui::Ui, _frame: &mut eframe::Frame) {
        self.guarded(|app| app.show(ui));
    }

    fn on_exit(&mut self) {
        self.closed();
    }
}

/// Dresses a context in the window's faces, sizes and colours.
pub fn dress(ctx: &egui::Context) {
    theme::dress(ctx);
}

/// Opens the window, with a layout file if one is named, and returns when it is closed.
///
/// # Errors
/// When there is no display or no usable graphics; the command line needs neither.
pub fn run(file: Option<PathBuf>) -> Result<(), eframe::Error> {
    let options = eframe::NativeOptions {
        viewport: egui::ViewportBuilder::default()
            .with_title("Gapwright")
            .with_app_id(APP_ID)
            .with_inner_size([1280.0, 800.0])
            .with_min_inner_size([900.0, 600.0])
            .with_drag_and_drop(true),
        ..eframe::NativeOptions::default()
    };
    let begun = Rc::new(Cell::new(false));
    let begins = Rc::clone(&begun);
    // Where a library that the desktop lacks is loaded at start, the window system's crate panics.
    let started = catch_unwind(AssertUnwindSafe(|| {
        let create = move |cc: &eframe::CreationContext<'_>| -> Result<Box<dyn eframe::App>, _> {
            let app = App::new(cc, file);
            begins.set(true);
            Ok(Box::new(app))
        };
        eframe::run_native(APP_ID, options, Box::new(create))
    }));
    started.unwrap_or_else(|panic| {
        let why = panic
            .downcast_ref::<String>()
            .cloned()
            .or_else(|| panic.downcast_ref::<&str>().map(|s| (*s).to_owned()))
            .unwrap_or_default();
        let then = if begun.get() {
            "What was not saved is kept, and offered at the next start"
        } else {
            "On Linux it needs libxkbcommon-x11 and a graphics driver"
        };
        Err(eframe::Error::AppCreation(format!("the window stopped: {why}. {then}").into()))
    })
}
