//! Files of unsaved work in the user's folder, and their locks.

use std::fs::{self, DirBuilder, File, OpenOptions, TryLockError};
use std::io;
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use serde::{Deserialize, Serialize};

use crate::layout::{Layout, text_for, write_private};

/// Another window may be looking whether a lock is free: so often, and so far apart, one tries to get it.
const TRIES: usize = 5;

const BETWEEN_TRIES: Duration = Duration::from_millis(20);

/// What is known of kept work beside the layout itself.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct About {
    /// Title of the layout.
    pub title: String,
    /// The file that it came from.
    pub path: Option<PathBuf>,
    /// When it was kept, seconds of Unix time.
    pub kept_s: u64,
}

/// Work that a crash left behind.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    pub(super) file: PathBuf,
    /// Title of the layout.
    pub title: String,
    /// The file that it came from.
    pub path: Option<PathBuf>,
    /// How long ago it was kept.
    pub ago: Duration,
    /// Whether the file that it came from was written after that.
    pub outdated: bool,
}

fn about_file(file: &Path) -> PathBuf {
    file.with_extension("about")
}

pub(super) fn lock_file(file: &Path) -> PathBuf {
    file.with_extension("lock")
}

pub(super) fn now_s() -> u64 {
    SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default().as_secs()
}

pub(super) fn keep(file: &Path, layout: &Layout, about: &About) -> io::Result<()> {
    let about = ron::to_string(about).map_err(io::Error::other)?;
    write_private(&text_for(layout, file), file)?;
    write_private(&about, &about_file(file))
}

/// Removes the work; its lock stays. What is not there need not be removed.
pub(super) fn remove(file: &Path) {
    let _ = fs::remove_file(file);
    let _ = fs::remove_file(about_file(file));
}

/// Makes the folder, or takes it as it is, for its owner only: nobody else sees what a person works on.
pub(super) fn own_folder(folder: &Path) -> io::Result<()> {
    let mut builder = DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(folder)?;
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        fs::set_permissions(folder, fs::Permissions::from_mode(0o700))?;
    }
    Ok(())
}

/// A file of a window's own, and its lock.
pub(super) fn own_file(folder: &Path) -> io::Result<(PathBuf, File)> {
    for _ in 0..TRIES {
        let now = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
        let name = format!("{}-{}.gapwright", std::process::id(), now.as_nanos());
        let file = folder.join(name);
        let made = OpenOptions::new().write(true).create_new(true).open(lock_file(&file));
        let lock = match made {
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => continue,
            made => made?,
        };
        lock.lock()?;
        // Between the two, another window that starts may have taken it for one that was left.
        if lock_file(&file).exists() {
            return Ok((file, lock));
        }
    }
    Err(io::Error::other("no lock is to be had"))
}

/// The lock of work that was left, if no other window has it.
pub(super) fn claim(found: &Found) -> Result<File, String> {
    let faster =
        || format!("\"{}\": another window has taken it up or thrown it away.", found.title);
    let wrong = |error: io::Error| {
        format!("What was kept of \"{}\" could not be locked: {error}.", found.title)
    };
    if !found.file.exists() {
        return Err(faster());
    }
    let lock = OpenOptions::new()
        .write(true)
        .create(true)
        .truncate(false)
        .open(lock_file(&found.file))
        .map_err(wrong)?;
    for _ in 0..TRIES {
        match lock.try_lock() {
            Ok(()) if found.file.exists() => return Ok(lock),
            // It went before it could be locked.
            Ok(()) => {
                remove_all(&found.file, lock);
                return Err(faster());
            }
            Err(TryLockError::WouldBlock) => std::thread::sleep(BETWEEN_TRIES),
            Err(TryLockError::Error(error)) => return Err(wrong(error)),
        }
    }
    Err(faster())
}

/// Removes the work, then its lock.
pub(super) fn remove_all(file: &Path, lock: File) {
    remove(file);
    // Where an open file cannot be removed, it must be closed before.
    drop(lock);
    let _ = fs::remove_file(lock_file(file));
}

/// Takes away what windows that are gone left without any work.
pub(super) fn sweep(folder: &Path) {
    let files = fs::read_dir(folder).into_iter().flatten().flatten().map(|entry| entry.path());
    for left in files.filter(|path| path.extension().is_some_and(|e| e == "lock" || e == "about")) {
        let file = left.with_extension("gapwright");
        if !file.exists() && !is_alive(&file) {
            let _ = fs::remove_file(left);
        }
    }
}

/// Whether a window has the lock of this file.
pub(super) fn is_alive(file: &Path) -> bool {
    let lock = File::open(lock_file(file));
    // Shared, so that two windows that look at the same time do not take each other for one that has it.
    lock.is_ok_and(|lock| matches!(lock.try_lock_shared(), Err(TryLockError::WouldBlock)))
}

pub(super) fn found_in(file: PathBuf) -> Found {
    let about = fs::read_to_string(about_file(&file))
        .ok()
        .and_then(|text| ron::from_str::<About>(&text).ok());
    let written = |path: &Path| fs::metadata(path).and_then(|m| m.modified()).ok();
    let kept = match &about {
        Some(about) => UNIX_EPOCH.checked_add(Duration::from_secs(about.kept_s)),
        None => written(&file),
    };
    let ago = kept.and_then(|kept| kept.elapsed().ok()).unwrap_or_default();
    let (title, path) =
        about.map_or_else(|| ("a layout".to_owned(), None), |about| (about.title, about.path));
    // The time is known to the second.
    let outdated = path
        .as_deref()
        .and_then(written)
        .zip(kept)
        .is_some_and(|(written, kept)| written > kept + Duration::from_secs(1));
    Found { file, title, path, ago, outdated }
}
