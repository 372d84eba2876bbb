//! The window: views, canvas, theme. It draws the layout and the check's report; it knows no electrical rule itself.

mod actions;
mod aside;
mod banner;
mod blocks;
mod bulk;
mod called;
mod camera;
mod canvas;
mod card;
mod checking;
mod cures;
mod derived;
mod doc;
mod editing;
mod equipment;
mod files;
mod findings;
mod first_steps;
mod form;
mod frame;
mod gap;
mod glossary;
mod help;
mod keeping;
mod keys;
mod kinks;
mod labels;
mod lay;
mod legend;
mod lineups;
mod listing;
mod marks;
mod names;
mod naming;
mod nets;
mod paint;
mod paper_work;
mod particulars;
mod picture;
mod picture_file;
mod picture_form;
mod presenter;
mod presets;
mod recovery;
mod reversing;
mod review;
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
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::rc::Rc;

use eframe::egui::{self, Id, Rect};

use crate::findings::{FindingId, SetWord};
use crate::layout::{EntityId, Layout};

use camera::Camera;
use canvas::Drag;
use checking::Checking;
use derived::Derived;
use doc::Document;
use editing::Notice;
use files::Files;
use first_steps::FirstSteps;
use recovery::Recovery;
use settings::{Remembered, Settings};
use tools::Tools;

/// Name of the program to the desktop, and of its folder there.
const APP_ID: &str = "gapwright";

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

/// The whole window.
pub struct App {
    doc: Document,
    check: Checking,
    derived: Derived,
    /// What things without a name of their own are called.
    called: called::Called,
    derived_about: u64,
    camera: Camera,
    canvas: Rect,
    fit_wanted: bool,
    /// From where the plan is to be looked at, and for how many frames more: until the panels around it have their sizes.
    look_wanted: Option<(Camera, u8)>,
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
    labels: labels::Labels,
    first_steps: FirstSteps,
    lineups: lineups::Lineups,
    listing: listing::Listing,
    drag: Option<Drag>,
    tools: Tools,
    tab: Tab,
    run: run::RunTab,
    open_finding: Option<FindingId>,
    cell: Option<(SetWord, SetWord)>,
    gap: gap::View,
    review: review::View,
    files: Files,
    pictures: picture::Shelf,
    notices: Vec<Notice>,
    /// The name that is being typed, if one is.
    naming: Option<naming::Naming>,
    /// The findings as they are listed, and what the last edit did to them.
    listed: findings::Listed,
    /// What the strip of throttles shows.
    strip: throttles::Strip,
    /// Width of the panel on the right.
    side: frame::Side,
    /// What waits until the text that is being typed is taken in.
    after_typing: Option<&'static actions::Action>,
    /// Whether text was being typed at the end of the last frame: Escape takes the focus away before a frame begins.
    typing: bool,
    focus_before: Option<Id>,
    /// Whether the canvas got the focus by a key, so that the focus must be seen.
    focus_by_key: bool,
    title_before: String,
    /// Whether the plan is shown alone, for a room.
    presenting: bool,
    /// The search for cures.
    cures: cures::Search,
    papers: paper_work::PaperWork,
    /// The layout before and after some changes, while they are compared.
    trial: Option<cures::Trial>,
    /// Height of the window, points.
    window_points: f32,
}

impl App {
    /// The window in a real desktop: checks run on a thread of their own, files are chosen in the desktop's dialogs, and
    /// settings and what is not saved are kept in the user's folder.
    fn new(cc: &eframe::CreationContext<'_>, file: Option<PathBuf>) -> Self {
        let ctx = &cc.egui_ctx;
        let mut app = Self::with(Checking::there(ctx.clone()), Files::new(true));
        app.cures = cures::Search::there(ctx.clone());
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

    fn with(check: Checking, files: Files) -> Self {
        Self {
            doc: Document::new(Layout::default()),
            check,
            derived: Derived::default(),
            called: called::Called::default(),
            derived_about: 0,
            camera: Camera::default(),
            canvas: Rect::from_min_size(egui::Pos2::ZERO, egui::vec2(800.0, 600.0)),
            fit_wanted: true,
            look_wanted: None,
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
            labels: labels::Labels::default(),
            first_steps: FirstSteps::default(),
            lineups: lineups::Lineups::default(),
            listing: listing::Listing::default(),
            drag: None,
            tools: Tools::default(),
            tab: Tab::default(),
            run: run::RunTab::default(),
            open_finding: None,
            cell: None,
            gap: gap::View::default(),
            review: review::View::default(),
            files,
            pictures: picture::Shelf::default(),
            notices: Vec::new(),
            naming: None,
            listed: findings::Listed::default(),
            strip: throttles::Strip::default(),
            side: frame::Side::default(),
            after_typing: None,
            typing: false,
            focus_before: None,
            focus_by_key: false,
            title_before: String::new(),
            presenting: false,
            cures: cures::Search::here(),
            papers: paper_work::PaperWork::default(),
            trial: None,
            window_points: 800.0,
        }
    }

    /// The layout on the screen.
    pub fn layout(&self) -> &Layout {
        self.doc.layout()
    }

    /// Where a joint is on the screen, points: for tests and benchmarks.
    pub fn joint_on_screen(&self, id: u32) -> Option<egui::Pos2> {
        let place = self.derived.joint(self.doc.layout(), crate::layout::JointId(id))?;
        Some(self.camera.to_screen(self.canvas, place))
    }

    /// The report on the screen.
    pub fn report(&self) -> &crate::findings::Report {
        &self.check.latest.report
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

/// The picture of the program for the window, as the desktop shows it.
fn icon() -> egui::IconData {
    // A picture that does not read is no reason to have no window.
    eframe::icon_data::from_png_bytes(include_bytes!("../../assets/gapwright.png"))
        .unwrap_or_default()
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
            .with_icon(icon())
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

#[cfg(test)]
mod tests {
    #[test]
    fn the_picture_of_the_program_reads() {
        let icon = super::icon();
        assert_eq!((icon.width, icon.height), (256, 256));
        assert!(icon.rgba.chunks(4).any(|pixel| pixel[3] == 255), "something is painted");
    }
}
