//! Work that is not saved yet, kept in a folder of the user's so that a crash loses nothing.
//!
//! Each window has a file of its own there, with a lock that the system lifts when the window is gone, however it went. A
//! file whose lock is free was left by a crash, and is offered at the next start; whoever takes it up locks it first.

mod kept;
mod words;
mod writer;

use std::collections::VecDeque;
use std::fs::{self, File};
use std::io;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};

use crate::layout::{Layout, ReadError, load, read_path, save};
use kept::{
    About, claim, found_in, is_alive, lock_file, now_s, own_file, own_folder, remove, remove_all,
    sweep,
};
use writer::{Answer, Order, Writer, carry_out};

pub use kept::Found;
pub use words::{ago_words, first_lines};

/// So long after the first change that is not kept yet, it is kept, s.
const AFTER_S: f64 = 2.0;

/// So long after it could not be kept, it is tried again, s.
const AGAIN_S: f64 = 20.0;

/// What is on the screen.
#[derive(Debug, Clone, Copy)]
pub struct Work<'a> {
    /// The layout.
    pub layout: &'a Layout,
    /// Whether it is not saved as it is.
    pub changed: bool,
    /// Goes up with every change.
    pub revision: u64,
    /// What it is called.
    pub title: &'a str,
    /// The file that it came from.
    pub path: Option<&'a Path>,
}

/// Work of a crash that was taken up here: it goes when an order of this number is carried out, and is locked until then.
#[derive(Debug)]
struct TakenUp {
    file: PathBuf,
    lock: File,
    until: u64,
}

/// Keeps the work of this window.
#[derive(Debug)]
pub struct Recovery {
    folder: PathBuf,
    file: PathBuf,
    /// Held for as long as the window lives.
    lock: Option<File>,
    /// A thread that writes; without one it is written at once.
    writer: Option<Writer>,
    answers: VecDeque<Answer>,
    /// Number of the last order.
    ordered: u64,
    taken_up: Vec<TakenUp>,
    /// The revision that is kept.
    kept: Option<u64>,
    /// Whether there may be something in the file.
    holds: bool,
    /// When a change was first seen that is not kept.
    since_s: Option<f64>,
    wait_s: f64,
    /// Whether it is told that nothing can be kept.
    told: bool,
    wrong: Option<String>,
}

fn about(work: &Work<'_>) -> About {
    let path = work.path.map(|path| std::path::absolute(path).unwrap_or_else(|_| path.to_owned()));
    // A path that is no text cannot be written down; the work is kept without it.
    let path = path.filter(|path| path.to_str().is_some());
    About { title: work.title.to_owned(), path, kept_s: now_s() }
}

impl Recovery {
    /// Keeps work in a folder. With `threaded` it is written beside the window's own work.
    ///
    /// # Errors
    /// When the folder or a file in it cannot be made, or its disk has no locks.
    pub fn new(folder: &Path, threaded: bool) -> io::Result<Self> {
        own_folder(folder)?;
        sweep(folder);
        let (file, lock) = own_file(folder)?;
        Ok(Self {
            folder: folder.to_owned(),
            writer: threaded.then(|| Writer::begin(file.clone())).flatten(),
            file,
            lock: Some(lock),
            answers: VecDeque::new(),
            ordered: 0,
            taken_up: Vec::new(),
            kept: None,
            holds: false,
            since_s: None,
            wait_s: AFTER_S,
            told: false,
            wrong: None,
        })
    }

    /// Work that crashes left behind, the latest first.
    pub fn found(&self) -> Vec<Found> {
        let files = fs::read_dir(&self.folder).into_iter().flatten().flatten();
        let mut found: Vec<Found> = files
            .map(|entry| entry.path())
            .filter(|path| path.extension().is_some_and(|e| e == "gapwright") && *path != self.file)
            .filter(|path| !is_alive(path))
            .map(found_in)
            .collect();
        found.sort_by_key(|found| found.ago);
        found
    }

    /// Reads what a crash left behind. It stays there, out of the reach of other windows, until it is kept as this
    /// window's work.
    ///
    /// # Errors
    /// When another window was faster, or when it does not read: then it is set aside. In words.
    pub fn take_up(&mut self, found: &Found) -> Result<Layout, String> {
        let lock = claim(found)?;
        match read_path(&found.file) {
            Ok(loaded) => {
                let until = self.ordered + 1;
                self.taken_up.push(TakenUp { file: found.file.clone(), lock, until });
                self.wait_s = 0.0;
                Ok(loaded.layout)
            }
            Err(error @ ReadError::Io(_)) => {
                Err(format!("What was kept of \"{}\" could not be read: {error}.", found.title))
            }
            Err(error) => {
                drop(lock);
                let aside = found.file.with_extension("unreadable");
                let lies = match fs::rename(&found.file, &aside) {
                    Ok(()) => {
                        remove(&found.file);
                        let _ = fs::remove_file(lock_file(&found.file));
                        aside
                    }
                    Err(_) => found.file.clone(),
                };
                let error = first_lines(&error.to_string());
                Err(format!(
                    "What was kept of \"{}\" does not read. It is set aside in {}.\n{error}",
                    found.title,
                    lies.display()
                ))
            }
        }
    }

    /// Throws away what a crash left behind.
    ///
    /// # Errors
    /// When another window was faster. In words.
    pub fn discard(found: &Found) -> Result<(), String> {
        let lock = claim(found)?;
        remove_all(&found.file, lock);
        Ok(())
    }

    /// Sees to it that unsaved work is kept. `now_s` is the window's clock. Returns in how many seconds to look again,
    /// if there is something to keep.
    pub fn update(&mut self, work: &Work<'_>, now_s: f64) -> Option<f64> {
        self.take_answers();
        if !work.changed {
            self.forget();
            return None;
        }
        if self.kept == Some(work.revision) {
            return None;
        }
        // Going on with changes does not put it off.
        let since_s = *self.since_s.get_or_insert(now_s);
        let left_s = since_s + self.wait_s - now_s;
        if left_s > 0.0 {
            return Some(left_s);
        }
        self.keep(work);
        // Whether that worked is seen then.
        Some(AFTER_S)
    }

    /// Keeps what is not kept yet: nobody looks at the window any more, and its clock stands.
    pub fn hurry(&mut self, work: &Work<'_>) {
        self.take_answers();
        if work.changed && self.kept != Some(work.revision) && !self.told {
            self.keep(work);
        }
    }

    /// Why work could not be kept: told once, until it can be kept again.
    pub fn wrong(&mut self) -> Option<String> {
        self.wrong.take()
    }

    fn keep(&mut self, work: &Work<'_>) {
        (self.kept, self.since_s, self.wait_s) = (Some(work.revision), None, AFTER_S);
        self.holds = true;
        self.order(Order::Keep(Box::new(work.layout.clone()), about(work)));
    }

    /// The work is saved, or thrown away on purpose: nothing is to be kept.
    fn forget(&mut self) {
        if std::mem::take(&mut self.holds) || !self.taken_up.is_empty() {
            self.order(Order::Forget);
        }
        (self.kept, self.since_s, self.wait_s) = (None, None, AFTER_S);
    }

    fn order(&mut self, order: Order) {
        self.ordered += 1;
        let numbered = (self.ordered, order);
        let unsent = match &self.writer {
            Some(writer) => writer.orders.send(numbered).err().map(|unsent| unsent.0),
            None => Some(numbered),
        };
        if let Some((number, order)) = unsent {
            self.answers.push_back((number, carry_out(&self.file, &order)));
            self.take_answers();
        }
    }

    fn take_answers(&mut self) {
        if let Some(writer) = &self.writer {
            self.answers.extend(writer.answers.try_iter());
        }
        while let Some((number, result)) = self.answers.pop_front() {
            match result {
                Ok(()) => {
                    self.told = false;
                    let done = self.taken_up.extract_if(.., |old| old.until <= number);
                    done.for_each(|old| remove_all(&old.file, old.lock));
                }
                Err(why) => {
                    (self.kept, self.since_s, self.wait_s) = (None, None, AGAIN_S);
                    if !std::mem::replace(&mut self.told, true) {
                        self.wrong = Some(why);
                    }
                }
            }
        }
    }

    /// Waits until the writer has done what it was told; from then on it is written at once.
    fn end_writer(&mut self) {
        if let Some(Writer { orders, answers, thread }) = self.writer.take() {
            drop(orders);
            // A writer that broke down has answered nothing, so that nothing is thought to be kept.
            let _ = thread.join();
            self.answers.extend(answers.try_iter());
        }
        self.take_answers();
    }

    /// Keeps the work now: the window is breaking down. What was kept before stays if the layout is not sound.
    pub fn rescue(&mut self, work: &Work<'_>) {
        self.end_writer();
        if work.changed {
            let sound = catch_unwind(AssertUnwindSafe(|| load(&save(work.layout)).is_ok()));
            if matches!(sound, Ok(true)) {
                self.keep(work);
            }
        }
    }

    /// The window closes as it should: whoever closed it has saved, or thrown the changes away.
    pub fn close(&mut self) {
        self.forget();
        self.end_writer();
        if let Some(lock) = self.lock.take() {
            remove_all(&self.file, lock);
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::layout::write_path;
    use std::time::Duration;
    use std::time::SystemTime;
    use tempfile::tempdir;

    fn named(name: &str) -> Layout {
        Layout { name: name.to_owned(), ..Layout::default() }
    }

    fn work(layout: &Layout, revision: u64) -> Work<'_> {
        Work { layout, changed: true, revision, title: &layout.name, path: None }
    }

    fn saved(layout: &Layout) -> Work<'_> {
        Work { changed: false, ..work(layout, 0) }
    }

    fn files(folder: &Path) -> usize {
        fs::read_dir(folder).unwrap().count()
    }

    #[cfg(unix)]
    #[test]
    fn nobody_else_sees_what_is_kept() {
        use std::os::unix::fs::PermissionsExt;
        let mode = |path: &Path| fs::metadata(path).unwrap().permissions().mode() & 0o777;
        let home = tempdir().unwrap();
        let folder = home.path().join("gapwright/unsaved");
        let mut recovery = Recovery::new(&folder, false).unwrap();
        recovery.keep(&work(&named("Coal Wharf"), 1));
        assert_eq!(mode(&folder), 0o700);
        // An older program left the folder and its files open to others.
        fs::set_permissions(&folder, fs::Permissions::from_mode(0o755)).unwrap();
        fs::set_permissions(&recovery.file, fs::Permissions::from_mode(0o644)).unwrap();
        recovery.keep(&work(&named("Coal Wharf, again"), 2));
        let other = Recovery::new(&folder, false).unwrap();
        assert_eq!(mode(&folder), 0o700);
        let kept = [recovery.file.clone(), recovery.file.with_extension("about")];
        for file in kept {
            assert_eq!(mode(&file), 0o600, "{}", file.display());
        }
        drop(other);
        recovery.close();
    }

    #[test]
    fn no_earlier_copy_is_kept_of_unsaved_work() {
        let folder = tempdir().unwrap();
        let mut recovery = Recovery::new(folder.path(), false).unwrap();
        for n in 0..3 {
            recovery.keep(&work(&named(&format!("Siding {n}")), n));
        }
        assert_eq!(files(folder.path()), 3, "the work, what is known of it, and its lock");
        recovery.close();
    }

    #[test]
    fn changes_that_go_on_do_not_put_it_off() {
        let folder = tempdir().unwrap();
        let mut recovery = Recovery::new(folder.path(), false).unwrap();
        let layout = named("Coal Wharf");
        for n in 0..10 {
            recovery.update(&work(&layout, n), n as f64 * 0.19);
            assert!(!recovery.file.exists(), "{n}");
        }
        recovery.update(&work(&layout, 11), 2.0);
        assert_eq!(read_path(&recovery.file).unwrap().layout, layout);
    }

    #[test]
    fn a_writer_on_a_thread_leaves_the_newest_order_done() {
        let folder = tempdir().unwrap();
        let mut recovery = Recovery::new(folder.path(), true).unwrap();
        for n in 0..50 {
            recovery.keep(&work(&named(&format!("Siding {n}")), n));
        }
        recovery.end_writer();
        assert_eq!(read_path(&recovery.file).unwrap().layout, named("Siding 49"));
        drop(recovery);
        assert_eq!(files(folder.path()), 3, "the work, what is known of it, and its lock");

        let mut recovery = Recovery::new(folder.path(), true).unwrap();
        let found = recovery.found();
        assert_eq!(found.len(), 1);
        Recovery::discard(&found[0]).unwrap();
        // Saved right after it was kept: the writer must not bring it back.
        for n in 0..50 {
            recovery.keep(&work(&named("Siding"), n));
            recovery.update(&saved(&Layout::default()), 0.0);
        }
        recovery.close();
        assert_eq!(files(folder.path()), 0);
    }

    #[test]
    fn what_a_crash_left_is_taken_up_by_one_window_only_and_stays_until_it_is_kept_anew() {
        let folder = tempdir().unwrap();
        let layout = named("Cinder Bank");
        let mut gone = Recovery::new(folder.path(), false).unwrap();
        gone.rescue(&work(&layout, 1));
        drop(gone);
        let mut one = Recovery::new(folder.path(), false).unwrap();
        let mut two = Recovery::new(folder.path(), false).unwrap();
        let (found, same) = (one.found(), two.found());
        assert_eq!((found.len(), &found[0].file), (1, &same[0].file));
        assert_eq!(one.take_up(&found[0]).unwrap(), layout);
        assert!(found[0].file.exists());
        assert!(two.found().is_empty());
        assert!(two.take_up(&same[0]).unwrap_err().contains("another window"));
        assert!(Recovery::discard(&same[0]).is_err());
        // It is kept at once, without the usual wait.
        one.update(&work(&layout, 5), 0.0);
        assert!(!found[0].file.exists());
        assert_eq!(read_path(&one.file).unwrap().layout, layout);
        assert!(two.take_up(&same[0]).unwrap_err().contains("another window"));
        one.close();
        two.close();
        assert_eq!(files(folder.path()), 0);
    }

    #[test]
    fn work_that_cannot_be_kept_is_told_once_and_tried_again() {
        let folder = tempdir().unwrap();
        let mut recovery = Recovery::new(folder.path(), false).unwrap();
        let layout = named("Coal Wharf");
        // Something stands where the file should be.
        fs::create_dir_all(recovery.file.join("inside")).unwrap();
        recovery.update(&work(&layout, 1), 0.0);
        recovery.update(&work(&layout, 1), 3.0);
        assert!(recovery.wrong().is_some());
        recovery.update(&work(&layout, 1), 4.0);
        recovery.update(&work(&layout, 1), 60.0);
        assert!(recovery.wrong().is_none(), "once is enough");
        fs::remove_dir_all(&recovery.file).unwrap();
        recovery.update(&work(&layout, 1), 61.0);
        recovery.update(&work(&layout, 1), 120.0);
        assert_eq!(read_path(&recovery.file).unwrap().layout, layout);
    }

    #[test]
    fn a_layout_that_is_not_sound_does_not_replace_what_was_kept() {
        let folder = tempdir().unwrap();
        let mut recovery = Recovery::new(folder.path(), false).unwrap();
        let sound = named("Coal Wharf");
        recovery.keep(&work(&sound, 1));
        let broken = Layout { scale: f64::NAN, ..sound.clone() };
        recovery.rescue(&work(&broken, 2));
        assert_eq!(read_path(&recovery.file).unwrap().layout, sound);
    }

    #[test]
    fn a_file_that_was_written_later_is_known() {
        let folder = tempdir().unwrap();
        let path = folder.path().join("mine.layout");
        let layout = named("Coal Wharf");
        let mut gone = Recovery::new(folder.path(), false).unwrap();
        gone.keep(&Work { path: Some(&path), ..work(&layout, 1) });
        drop(gone);
        let mut next = Recovery::new(folder.path(), false).unwrap();
        assert!(!next.found()[0].outdated);
        write_path(&layout, &path).unwrap();
        let file = File::options().write(true).open(&path).unwrap();
        file.set_modified(SystemTime::now() + Duration::from_secs(60)).unwrap();
        let found = next.found();
        assert!(found[0].outdated);
        assert_eq!(found[0].path.as_deref(), Some(path.as_path()));
        next.close();
    }

    #[cfg(target_os = "linux")]
    #[test]
    fn a_path_that_is_no_text_is_no_hindrance() {
        use std::os::unix::ffi::OsStrExt;
        let folder = tempdir().unwrap();
        let path = Path::new(std::ffi::OsStr::from_bytes(b"/tmp/\xff.gapwright"));
        let layout = named("Coal Wharf");
        let mut recovery = Recovery::new(folder.path(), false).unwrap();
        recovery.keep(&Work { path: Some(path), ..work(&layout, 1) });
        assert_eq!(recovery.wrong(), None);
        drop(recovery);
        let found = Recovery::new(folder.path(), false).unwrap().found();
        assert_eq!((found[0].title.as_str(), &found[0].path), ("Coal Wharf", &None));
    }

    #[test]
    fn times_are_told_in_words() {
        let words = |s| ago_words(Duration::from_secs(s));
        assert_eq!(words(59), "less than a minute ago");
        assert_eq!(words(60), "1 minute ago");
        assert_eq!(words(3 * 3600 + 5), "3 hours ago");
        assert_eq!(words(86_400), "1 day ago");
    }
}
