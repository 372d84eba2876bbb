//! Papers from the window: what is wanted, and the work on a thread of its own.

use std::path::{Path, PathBuf};

use eframe::egui::{Context, Key, TextEdit, Ui};

use super::App;
use super::aside::{Aside, Steps};
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
    work: Option<(PathBuf, Aside<Made>)>,
}

impl PaperWork {
    /// True while papers are made.
    pub fn is_busy(&self) -> bool {
        self.work.is_some()
    }

    /// Progress of the papers, and a button to stop them.
    pub fn progress_ui(&self, ui: &mut Ui) {
        let Some((_, work)) = &self.work else { return };
        ui.horizontal(|ui| {
            ui.spinner();
            let words = match work.steps().is_stopped() {
                true => "Stopping".to_owned(),
                false => work.steps().words(),
            };
            ui.label(words);
            if ui.button("Stop making papers").on_hover_text("No paper is written").clicked() {
                work.steps().stop();
            }
        });
    }

    /// The size of the paper, and what is made besides the sheets. True once Return in a field asks for the papers.
    pub fn choices_ui(&mut self, ui: &mut Ui) -> bool {
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
        let field = ui
            .add(field.hint_text(small(ui, "/home/me/as-it-is.gapwright")))
            .accessible_name("File of the old design");
        field.lost_focus() && ui.input(|i| i.key_pressed(Key::Enter))
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
fn made(layout: &Layout, request: &Request, folder: &Path, steps: &Steps) -> Made {
    let study = Checker::default().study(layout);
    let files = papers(&study, request, &mut |done, of, what| steps.next(done, of, what));
    let files = files.map_err(|why: papers::NoPapers| why.to_string())?;
    if steps.is_stopped() {
        return Err(papers::NoPapers::Stopped.to_string());
    }
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
        let to = folder.clone();
        let work = Aside::begin(("papers", self.check.is_here()), ctx, move |steps| {
            made(&layout, &request, &folder, steps)
        });
        self.papers.work = Some((to, work));
        self.update_papers();
    }

    /// Says what has become of the papers.
    pub(super) fn update_papers(&mut self) {
        let Some((folder, work)) = &self.papers.work else { return };
        let Some(made) = work.answer() else { return };
        let folder = path_words(folder);
        self.papers.work = None;
        match made.unwrap_or_else(Err) {
            Ok(paths) => {
                self.close_papers();
                self.tell(format!("{} papers are written into {folder}.", paths.len()));
            }
            Err(why) => self.papers_failed(&format!("No papers. {why}")),
        }
    }
}
