//! Work that is not saved yet, kept in a folder of the user's so that a crash loses nothing.
//!
//! Each window has a file of its own there, with a lock that the system lifts when the window is gone, however it went. A
//! file whose lock is free was left by a crash, and is offered at the next start.

use std::fs::{self, File, TryLockError};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Sender, channel};
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use serde::{Deserialize, Serialize};

use crate::layout::{Layout, read_path, write_path};

/// So long after the first change that is not kept yet, it is kept, s.
const AFTER_S: f64 = 2.0;

/// What is known of kept work beside the layout itself.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct About {
    /// Title of the layout.
    title: String,
    /// The file that it came from.
    path: Option<PathBuf>,
}

/// Work that a crash left behind.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    file: PathBuf,
    /// Title of the layout.
    pub title: String,
    /// The file that it came from.
    pub path: Option<PathBuf>,
    /// How long ago it was kept.
    pub ago: Duration,
}

struct Job {
    layout: Layout,
    about: About,
}

impl Job {
    fn of(layout: &Layout, title: &str, path: Option<&Path>) -> Self {
        let about = About { title: title.to_owned(), path: path.map(Path::to_owned) };
        Self { layout: layout.clone(), about }
    }
}

/// Keeps the work of this window.
#[derive(Debug)]
pub struct Recovery {
    folder: PathBuf,
    file: PathBuf,
    /// Held for as long as the window lives.
    lock: Option<File>,
    /// A thread that writes; without one it is written at once.
    writer: Option<Sender<Job>>,
    kept: Option<u64>,
    changed_at_s: f64,
    seen: u64,
}

fn about_file(file: &Path) -> PathBuf {
    file.with_extension("about")
}

fn lock_file(file: &Path) -> PathBuf {
    file.with_extension("lock")
}

fn write(file: &Path, job: &Job) -> io::Result<()> {
    let about = ron::to_string(&job.about).map_err(io::Error::other)?;
    fs::write(about_file(file), about)?;
    write_path(&job.layout, file)
}

fn remove(file: &Path) {
    for file in [file.to_owned(), about_file(file), lock_file(file)] {
        // What is not there need not be removed.
        let _ = fs::remove_file(file);
    }
}

impl Recovery {
    /// Keeps work in a folder. With `threaded` it is written beside the window's own work.
    ///
    /// # Errors
    /// When the folder or a file in it cannot be made.
    pub fn new(folder: &Path, threaded: bool) -> io::Result<Self> {
        fs::create_dir_all(folder)?;
        let now = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
        let name = format!("{}-{}.gapwright", std::process::id(), now.as_nanos());
        let file = folder.join(name);
        let lock = File::create(lock_file(&file))?;
        lock.lock()?;
        let writer = threaded.then(|| {
            let (jobs, inbox) = channel::<Job>();
            let to = file.clone();
            let spawned = std::thread::Builder::new().name("recovery".into()).spawn(move || {
                while let Ok(mut job) = inbox.recv() {
                    while let Ok(newer) = inbox.try_recv() {
                        job = newer;
                    }
                    // A full disk is told when the user saves; here there is nobody to tell.
                    let _ = write(&to, &job);
                }
            });
            spawned.is_ok().then_some(jobs)
        });
        Ok(Self {
            folder: folder.to_owned(),
            file,
            lock: Some(lock),
            writer: writer.flatten(),
            kept: None,
            changed_at_s: 0.0,
            seen: 0,
        })
    }

    /// Work that crashes left behind, the latest first.
    pub fn found(&self) -> Vec<Found> {
        let files = fs::read_dir(&self.folder).into_iter().flatten().flatten();
        let mut found: Vec<Found> = files
            .map(|entry| entry.path())
            .filter(|path| path.extension().is_some_and(|e| e == "gapwright") && *path != self.file)
            .filter(|path| !is_alive(path))
            .map(|file| {
                let about = fs::read_to_string(about_file(&file))
                    .ok()
                    .and_then(|text| ron::from_str::<About>(&text).ok());
                let kept = fs::metadata(&file).and_then(|m| m.modified());
                let ago = kept.ok().and_then(|kept| kept.elapsed().ok()).unwrap_or_default();
                let (title, path) = about.map_or_else(
                    || ("a layout".to_owned(), None),
                    |about| (about.title, about.path),
                );
                Found { file, title, path, ago }
            })
            .collect();
        found.sort_by_key(|found| found.ago);
        found
    }

    /// Reads what a crash left behind.
    ///
    /// # Errors
    /// When it cannot be read; it stays where it is.
    pub fn read(found: &Found) -> Result<Layout, String> {
        read_path(&found.file).map(|loaded| loaded.layout).map_err(|error| {
            format!(
                "What was kept of \"{}\" does not read: {error}. It stays at {}.",
                found.title,
                found.file.display()
            )
        })
    }

    /// Throws away what a crash left behind.
    pub fn discard(found: &Found) {
        remove(&found.file);
    }

    /// Sees to it that unsaved work is kept: `revision` goes up with every change, `now_s` is the window's clock. Returns
    /// in how many seconds to look again, if there is something to keep.
    pub fn update(
        &mut self,
        (layout, changed, revision): (&Layout, bool, u64),
        (title, path): (&str, Option<&Path>),
        now_s: f64,
    ) -> Option<f64> {
        if !changed {
            self.forget();
            return None;
        }
        if self.kept == Some(revision) {
            return None;
        }
        if self.seen != revision {
            // Going on with changes does not put it off.
            if self.kept == Some(self.seen) || self.seen == 0 {
                self.changed_at_s = now_s;
            }
            self.seen = revision;
        }
        let waited_s = now_s - self.changed_at_s;
        if waited_s < AFTER_S {
            return Some(AFTER_S - waited_s);
        }
        self.keep(layout, revision, (title, path));
        None
    }

    fn keep(&mut self, layout: &Layout, revision: u64, (title, path): (&str, Option<&Path>)) {
        let job = Job::of(layout, title, path);
        match &self.writer {
            Some(writer) => drop(writer.send(job)),
            None => drop(write(&self.file, &job)),
        }
        self.kept = Some(revision);
        self.seen = revision;
    }

    /// Keeps the work now, in the caller: the window is breaking down.
    pub fn keep_now(&mut self, layout: &Layout, title: &str, path: Option<&Path>) {
        // A failure shows as nothing to take up at the next start; there is nobody to tell now.
        let _ = write(&self.file, &Job::of(layout, title, path));
        (self.kept, self.seen) = (Some(u64::MAX), u64::MAX);
    }

    /// The work is saved, or thrown away on purpose: nothing is to be kept.
    pub fn forget(&mut self) {
        if self.kept.take().is_some() {
            let _ = fs::remove_file(&self.file);
            let _ = fs::remove_file(about_file(&self.file));
        }
        self.seen = 0;
    }

    /// The window closes as it should.
    pub fn close(&mut self) {
        self.writer = None;
        self.lock = None;
        remove(&self.file);
    }
}

/// Whether the window that keeps this file still lives.
fn is_alive(file: &Path) -> bool {
    match File::open(lock_file(file)) {
        Ok(lock) => matches!(lock.try_lock(), Err(TryLockError::WouldBlock)),
        Err(_) => false,
    }
}

/// A time in words: "12 minutes ago".
pub fn ago_words(ago: Duration) -> String {
    let counted = |n: u64, word: &str| match n {
        1 => format!("1 {word} ago"),
        n => format!("{n} {word}s ago"),
    };
    match ago.as_secs() {
        0..=59 => "less than a minute ago".to_owned(),
        s @ 60..=3599 => counted(s / 60, "minute"),
        s @ 3600..=86_399 => counted(s / 3600, "hour"),
        s => counted(s / 86_400, "day"),
    }
}
