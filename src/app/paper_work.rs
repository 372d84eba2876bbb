//! Papers from the window: what is wanted, and the work on a thread of its own.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, channel};

use eframe::egui::{Context, TextEdit, Ui};

use super::App;
use super::checking::panic_words;
use super::names::path_words;
use super::theme::small;
use crate::findings::Checker;
use crate::layout::{Layout, read_path};
use crate::papers::{self, Paper, Request, day, papers, write_into};

/// Usual scale of the plan in tiles.
const SCALE: f64 = 5.0;

type Made = Result<Vec<PathBuf>, String>;

/// Choices for papers, and the work on them.
#[derive(Default)]
pub struct PaperWork {
    is_letter: bool,
    html: bool,
    tiles: bool,
    /// The file of an old design, for a work order; empty for none.
    old: String,
    work: Option<(PathBuf, Receiver<Made>)>,
}

impl PaperWork {
    /// True while papers are made.
    pub fn is_busy(&self) -> bool {
        self.work.is_some()
    }

    /// The size of the paper, and what is made besides the sheets.
    pub fn choices_ui(&mut self, ui: &mut Ui) {
        ui.horizontal_wrapped(|ui| {
            ui.label(small(ui, "Paper:"));
            for (letter, words) in [(false, "A4"), (true, "US letter")] {
                ui.radio_value(&mut self.is_letter, letter, words);
            }
        });
        ui.checkbox(&mut self.html, "One page of HTML too, for a phone at the layout");
        ui.checkbox(&mut self.tiles, format!("The plan in tiles at 1:{SCALE} too"));
        ui.label(small(ui, "A work order from an old design (its file, or nothing):"));
        let field = TextEdit::singleline(&mut self.old).desired_width(f32::INFINITY);
        ui.add(field.hint_text(small(ui, "/home/me/as-it-is.gapwright")))
            .accessible_name("File of the old design");
    }

    /// The old design, if one is named.
    fn old(&self) -> Result<Option<(String, Layout)>, String> {
        let path = PathBuf::from(self.old.trim());
        if path.as_os_str().is_empty() {
            return Ok(None);
        }
        let name = path.file_name().map(|name| name.to_string_lossy().into_owned());
        match read_path(&path) {
            Ok(loaded) => Ok(Some((name.unwrap_or_default(), loaded.layout))),
            Err(why) => Err(format!("{} could not be read.\n{why}", path.display())),
        }
    }

    fn request(&self, file: Option<&Path>) -> Request {
        let written = file.and_then(|file| std::fs::metadata(file).ok()?.modified().ok());
        let name = file.and_then(Path::file_name);
        Request {
            only: Vec::new(),
            paper: if self.is_letter { Paper::LETTER } else { Paper::A4 },
            scale: self.tiles.then_some(SCALE),
            html: self.html,
            old: None,
            file: name.map_or_else(String::new, |name| name.to_string_lossy().into_owned()),
            date: written.map_or_else(String::new, day),
        }
    }
}

/// Makes the papers and writes them.
fn made(layout: &Layout, request: &Request, folder: &Path) -> Made {
    let work = AssertUnwindSafe(|| {
        let study = Checker::default().study(layout);
        papers(&study, request, &mut |_, _, _| true)
    });
    let files = match catch_unwind(work) {
        Ok(files) => files.map_err(|why: papers::NoPapers| why.to_string())?,
        Err(panic) => {
            let why = panic_words(&*panic);
            return Err(format!("they broke down: {why}. Save the layout and report it"));
        }
    };
    write_into(folder, &files)
}

impl App {
    /// Makes the papers of the layout as it is, and writes them into a folder.
    pub(super) fn make_papers(&mut self, ctx: &Context, folder: &Path) {
        let old = match self.papers.old() {
            Ok(old) => old,
            Err(why) => return self.papers_failed(&format!("No papers. {why}")),
        };
        let request = Request { old, ..self.papers.request(self.doc.path.as_deref()) };
        let (layout, folder) = (self.doc.layout().clone(), folder.to_owned());
        let (out, inbox) = channel();
        self.papers.work = Some((folder.clone(), inbox));
        let ctx = ctx.clone();
        let work = move || {
            // Nobody waits for it any more if it cannot be sent.
            let _ = out.send(made(&layout, &request, &folder));
            ctx.request_repaint();
        };
        if self.check.is_here() {
            work();
        } else if std::thread::Builder::new().name("papers".into()).spawn(work).is_err() {
            self.papers.work = None;
            self.tell_bad("No papers: the system gives the program no thread. Try again.");
        }
        self.update_papers();
    }

    /// Says what has become of the papers.
    pub(super) fn update_papers(&mut self) {
        let Some((folder, inbox)) = &self.papers.work else { return };
        let Ok(made) = inbox.try_recv() else { return };
        let folder = path_words(folder);
        self.papers.work = None;
        match made {
            Ok(paths) => {
                self.close_papers();
                self.tell(format!("{} papers are written into {folder}.", paths.len()));
            }
            Err(why) => self.papers_failed(&format!("No papers. {why}")),
        }
    }
}
