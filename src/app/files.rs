//! New, open, save: the desktop's dialogs where there are any, a typed path always, and no work lost on the way.

mod dialogs;
mod recover;

use std::path::{Path, PathBuf};

use eframe::egui::{Context, Ui, ViewportCommand};

use super::App;
use super::aside::Aside;
use super::doc::{Document, Stamp};
use super::picture_file::{self, is_picture};
use super::recovery::{Found, first_lines};
use super::samples::{Described, SAMPLES, described};
use crate::layout::{EARLIER, EXTENSION, PictureId, io_words, load, read_path, write_path};
pub use dialogs::dialogs_ui;

/// What would throw the layout on the screen away.
#[derive(Debug, Clone, PartialEq)]
pub enum Leave {
    /// Begin a new one.
    New,
    /// Ask which to open.
    Open,
    /// Open this one.
    OpenPath(PathBuf),
    /// Open a sample, by its place in the list.
    Sample(usize),
    /// Take up work that a crash left behind.
    Recover(Found),
    /// Close the window.
    Quit,
}

/// What is being asked.
#[derive(Debug, Clone, PartialEq)]
enum Asking {
    /// Which file to open.
    Open,
    /// Where to save; then what to do.
    SaveAs(Option<Leave>),
    /// Which sample to open.
    Sample,
    /// Which recent layout to open.
    Recent,
    /// What to do with work that crashes left behind.
    Recover(Vec<Found>),
    /// Whether to save before leaving.
    Unsaved(Leave),
    /// Whether to save although the comments of the file will be lost; then what to do.
    Comments(Option<Leave>),
    /// Whether to save although something else has written the file meanwhile; then what to do.
    Outside(Option<Leave>),
    /// Whether to write over a file that is there.
    Overwrite(PathBuf, Option<Leave>),
    /// Which file a new picture has, or one that is there.
    Picture(Option<PictureId>),
    /// Which design the layout is to be compared with.
    Design,
    /// Into which folder papers are to be written.
    Papers,
}

/// State of the file dialogs.
#[derive(Debug)]
pub struct Files {
    /// Whether the desktop's dialogs may be used.
    native: bool,
    asking: Option<Asking>,
    /// The typed path.
    path: String,
    /// Why the last try from this dialog failed.
    wrong: String,
    /// The desktop's dialog at work on a thread of its own.
    browsing: Option<Aside<Option<PathBuf>>>,
    /// The window is to be closed now.
    quitting: bool,
    /// Whoever closes the window has said that the changes may be lost.
    may_close: bool,
    /// The samples and what there is to learn from them.
    samples: Vec<Described>,
    /// What is looked for among them.
    wanted: String,
}

impl Files {
    /// No dialog open.
    pub fn new(native: bool) -> Self {
        Self {
            native,
            asking: None,
            path: String::new(),
            wrong: String::new(),
            browsing: None,
            quitting: false,
            may_close: false,
            samples: Vec::new(),
            wanted: String::new(),
        }
    }

    /// Whether something is being asked, so that keys belong to the question.
    pub fn is_asking(&self) -> bool {
        self.asking.is_some()
    }

    /// Offers work that crashes left behind.
    pub fn offer(&mut self, found: Vec<Found>) {
        self.ask(Asking::Recover(found));
    }

    fn ask(&mut self, asking: Asking) {
        self.wrong.clear();
        self.browsing = None;
        self.asking = Some(asking);
    }

    fn close(&mut self) {
        self.asking = None;
        self.browsing = None;
        self.wrong.clear();
    }

    /// Opens the desktop's own dialog on a thread of its own.
    fn browse(&mut self, ctx: &Context, save: bool, suggested: &str) {
        let dialog = match self.asking {
            Some(Asking::Picture(_)) => {
                rfd::AsyncFileDialog::new().add_filter("Picture", &picture_file::EXTENSIONS)
            }
            _ if save => rfd::AsyncFileDialog::new().add_filter("Layout", &[EXTENSION]),
            _ => rfd::AsyncFileDialog::new()
                .add_filter("Layout", &[EXTENSION])
                .add_filter("Layout as it was before it was saved last", &[EARLIER]),
        };
        let dialog = dialog.add_filter("Every file", &["*"]);
        let dialog = match Path::new(&self.path).parent() {
            Some(folder) if folder.is_dir() => dialog.set_directory(folder),
            _ => dialog,
        };
        let answer: std::pin::Pin<Box<dyn Future<Output = Option<rfd::FileHandle>> + Send>> =
            if self.asking == Some(Asking::Papers) {
                Box::pin(dialog.pick_folder())
            } else if save {
                Box::pin(dialog.set_file_name(suggested).save_file())
            } else {
                Box::pin(dialog.pick_file())
            };
        self.browsing = Some(Aside::begin(("file dialog", false), ctx, move |_| {
            pollster::block_on(answer).map(|file| file.path().to_path_buf())
        }));
    }
}

impl App {
    /// Asks which file to open, after asking about unsaved changes.
    pub(super) fn ask_open(&mut self) {
        self.leave(Leave::Open);
    }

    /// Begins a new layout, after asking about unsaved changes.
    pub(super) fn ask_new(&mut self) {
        self.leave(Leave::New);
    }

    /// Asks into which folder papers are to be written: beside the file of the layout, if nothing else is typed.
    pub(super) fn ask_papers(&mut self) {
        let name = format!("{} papers", file_stem(&self.doc.title()));
        let folder = self.doc.path.as_deref().and_then(Path::parent);
        let path = folder.map_or_else(|| PathBuf::from(&name), |folder| folder.join(&name));
        self.files.path = path.display().to_string();
        self.files.ask(Asking::Papers);
    }

    /// Closes the question for the folder of papers.
    pub(super) fn close_papers(&mut self) {
        if self.files.asking == Some(Asking::Papers) {
            self.files.close();
        }
    }

    /// Says why there are no papers: in the question for their folder, if it is open.
    pub(super) fn papers_failed(&mut self, why: &str) {
        if self.files.asking == Some(Asking::Papers) {
            self.files.wrong = why.to_owned();
        } else {
            self.tell_bad(why);
        }
    }

    /// Asks which sample to open.
    pub(super) fn ask_sample(&mut self) {
        if self.files.samples.is_empty() {
            self.files.samples = described();
        }
        self.files.wanted.clear();
        self.files.ask(Asking::Sample);
    }

    /// Asks for the file of a new picture, or of one that is there.
    pub(super) fn ask_picture(&mut self, which: Option<PictureId>) {
        let layout = self.doc.layout();
        let there = which.and_then(|id| layout.pictures.get(&id)).map(|p| p.path.clone());
        let folder = self.doc.path.as_ref().and_then(|p| p.parent());
        self.files.path = match (there, folder) {
            (Some(path), _) => path,
            (None, Some(folder)) if folder.is_dir() => format!("{}/", folder.display()),
            _ => String::new(),
        };
        self.files.ask(Asking::Picture(which));
    }

    /// Asks which design the layout is to be compared with.
    pub(super) fn ask_design(&mut self) {
        let folder = self.doc.path.as_ref().and_then(|p| p.parent());
        self.files.path = match folder {
            Some(folder) if folder.is_dir() => format!("{}/", folder.display()),
            _ => String::new(),
        };
        self.files.ask(Asking::Design);
    }

    /// Asks which recent layout to open.
    pub(super) fn ask_recent(&mut self) {
        self.files.ask(Asking::Recent);
    }

    /// Asks where to save.
    pub(super) fn ask_save_as(&mut self) {
        self.save_as_then(None);
    }

    /// Saves to where the layout came from, or asks where.
    pub(super) fn save(&mut self) {
        self.save_then(None);
    }

    fn save_then(&mut self, then: Option<Leave>) {
        if self.doc.path.is_none() {
            self.save_as_then(then);
        } else if self.doc.is_file_changed() {
            self.files.ask(Asking::Outside(then));
        } else if self.doc.had_comments {
            self.files.ask(Asking::Comments(then));
        } else if let Some(path) = self.doc.path.clone() {
            self.write(&path, then);
        }
    }

    fn save_as_then(&mut self, then: Option<Leave>) {
        self.files.path = self.doc.path.as_ref().map_or_else(
            || format!("{}.{EXTENSION}", file_stem(&self.doc.title())),
            |p| p.display().to_string(),
        );
        self.files.ask(Asking::SaveAs(then));
    }

    /// Writes the file. The dialog stays open if that fails.
    fn write(&mut self, path: &Path, then: Option<Leave>) {
        match write_path(self.doc.layout(), path) {
            Ok(()) => {
                self.doc.saved_to(path.to_path_buf());
                self.settings.used(path);
                self.files.close();
                if let Some(then) = then {
                    self.go(then);
                }
            }
            Err(error) => {
                let why = format!("Could not save to {}: {}", path.display(), io_words(&error));
                if self.files.is_asking() {
                    self.files.wrong = why;
                } else {
                    self.tell_bad(why);
                }
            }
        }
    }

    /// Leaves the layout on the screen, after asking about unsaved changes.
    pub(super) fn leave(&mut self, leave: Leave) {
        if self.doc.is_changed() {
            self.files.ask(Asking::Unsaved(leave));
        } else {
            self.go(leave);
        }
    }

    fn go(&mut self, leave: Leave) {
        self.files.close();
        match leave {
            Leave::New => self.take(Document::default()),
            Leave::Open => {
                if let Some(folder) = self.doc.path.as_ref().and_then(|p| p.parent()) {
                    self.files.path = format!("{}/", folder.display());
                }
                self.files.ask(Asking::Open);
            }
            Leave::OpenPath(path) => {
                self.open_path(&path);
            }
            Leave::Sample(n) => self.open_sample(n),
            Leave::Recover(found) => self.recover(&found),
            Leave::Quit => self.files.quitting = true,
        }
    }

    fn open_sample(&mut self, n: usize) {
        let Some(sample) = SAMPLES.get(n) else { return };
        match load(sample.1) {
            Ok(loaded) => self.take(Document::new(loaded.layout)),
            Err(faults) => {
                let faults: Vec<String> = faults.iter().map(ToString::to_string).collect();
                self.tell_bad(format!("The sample does not read:\n{}", faults.join("\n")));
            }
        }
    }

    /// Opens a file. If it does not read, the layout on the screen stays. Returns whether it was opened.
    pub fn open_path(&mut self, path: &Path) -> bool {
        self.remember_view();
        let seen = Stamp::of(path);
        match read_path(path) {
            Ok(loaded) => {
                self.settings.used(path);
                let doc = Document::new(loaded.layout);
                self.take(doc.lying_in(path.to_path_buf(), seen, loaded.had_comments));
                self.look_as_before(path);
                true
            }
            Err(error) => {
                let shown = first_lines(&error.to_string());
                let stays = "The layout on the screen is as it was.";
                self.tell_bad(format!("{} could not be opened. {stays}\n{shown}", path.display()));
                false
            }
        }
    }

    fn take(&mut self, doc: Document) {
        let native = self.files.native;
        let older = std::mem::take(&mut self.doc);
        self.doc = doc.after(&older);
        self.files = Files { path: std::mem::take(&mut self.files.path), ..Files::new(native) };
        self.notices.clear();
        self.pictures.clear();
        self.selection.clear();
        self.drag = None;
        self.cell = None;
        self.gap = super::gap::View::default();
        self.open_finding = None;
        self.tools = super::Tools { snap: self.tools.snap, ..super::Tools::default() };
        self.tab = super::Tab::Findings;
        self.fit_wanted = true;
        self.look_wanted = None;
        self.refresh();
    }
}

/// A title as the stem of a file's name.
fn file_stem(title: &str) -> String {
    let stem: String = title
        .trim()
        .chars()
        .map(|c| if c.is_alphanumeric() { c.to_ascii_lowercase() } else { '-' })
        .collect();
    let stem = stem.trim_matches('-');
    if stem.is_empty() { "layout".to_owned() } else { stem.to_owned() }
}

/// Opens a layout file that is dropped on the window, and puts pictures under the plan.
pub fn take_drops(ui: &Ui, app: &mut App) {
    let dropped: Vec<PathBuf> =
        ui.input(|i| i.raw.dropped_files.iter().map(|f| f.path().to_path_buf()).collect());
    match dropped.as_slice() {
        [] => {}
        all if all.iter().all(|path| is_picture(path)) => {
            for path in all {
                if let Err(why) = app.add_picture(path) {
                    app.tell_bad(why);
                }
            }
        }
        [path] => app.leave(Leave::OpenPath(path.clone())),
        _ => app.tell("One layout at a time: drop a single file."),
    }
}

/// Takes the answers of the desktop's dialogs, and guards the closing of the window.
pub fn take_answers(ctx: &Context, app: &mut App) {
    if let Some(picked) = app.files.browsing.as_ref().and_then(Aside::answer) {
        app.files.browsing = None;
        match picked {
            Ok(Some(path)) => {
                app.files.path = path.display().to_string();
                match app.files.asking.clone() {
                    Some(Asking::Open) => try_open(app),
                    // The desktop's dialog has asked about writing over a file already.
                    Some(Asking::SaveAs(then)) => app.write(&path, then),
                    Some(Asking::Picture(which)) => try_picture(app, which),
                    Some(Asking::Design) => try_design(app),
                    _ => {}
                }
            }
            Ok(None) => {
                app.files.wrong =
                    "No file was chosen. If no dialog appeared, type the path here.".to_owned();
            }
            Err(_) => {
                app.files.wrong =
                    "The desktop's file dialog is not to be had here: type the path.".to_owned();
            }
        }
    }
    if std::mem::take(&mut app.files.quitting) {
        app.files.may_close = true;
        ctx.send_viewport_cmd(ViewportCommand::Close);
    } else {
        guard_close(ctx, app);
    }
}

/// Whether closing the window now would lose changes that nobody has said may be lost.
pub fn would_lose(app: &App) -> bool {
    app.doc.is_changed() && !app.files.may_close
}

/// Asks before the window closes over unsaved changes. Returns whether it had to.
pub fn guard_close(ctx: &Context, app: &mut App) -> bool {
    let guards = ctx.input(|i| i.viewport().close_requested()) && would_lose(app);
    if guards {
        ctx.send_viewport_cmd(ViewportCommand::CancelClose);
        if !matches!(app.files.asking, Some(Asking::Unsaved(_) | Asking::SaveAs(Some(_)))) {
            app.files.ask(Asking::Unsaved(Leave::Quit));
        }
    }
    guards
}

fn try_open(app: &mut App) {
    let path = PathBuf::from(app.files.path.trim());
    if app.open_path(&path) {
        app.files.close();
    } else if let Some(notice) = app.notices.pop() {
        // The reason belongs into the dialog while that is open.
        app.files.wrong = notice.text;
    }
}

fn try_design(app: &mut App) {
    let path = PathBuf::from(app.files.path.trim());
    match read_path(&path) {
        Ok(loaded) => {
            app.files.close();
            let name = path.file_name().map(|name| name.to_string_lossy().into_owned());
            app.compare_with(loaded.layout, name.unwrap_or_default());
        }
        Err(why) => {
            let why = first_lines(&why.to_string());
            app.files.wrong = format!("{} could not be read.\n{why}", path.display());
        }
    }
}

fn try_picture(app: &mut App, which: Option<PictureId>) {
    let path = PathBuf::from(app.files.path.trim());
    let done = match which {
        Some(id) => app.exchange_picture(id, &path),
        None => app.add_picture(&path),
    };
    match done {
        Ok(()) => app.files.close(),
        Err(why) => app.files.wrong = why,
    }
}
