//! Files written whole or not at all.
//!
//! A file is written aside in its folder, brought to the disk, and renamed over the one that was there, so that a crash at
//! any moment leaves the old file or the new one. What a killed program leaves aside goes at the next save there.

use std::ffi::OsString;
use std::fs::{self, File, Metadata, OpenOptions};
use std::io::{self, Read, Seek};
use std::path::{Path, PathBuf};

use tempfile::{Builder, NamedTempFile};

use super::error::io_words;

/// Ending of the copy of a layout file as it was before it was saved last, after the whole name of the file.
pub const EARLIER: &str = "earlier";

/// How names of files begin and end that are not written to their end yet.
const ASIDE: (&str, &str) = (".gapwright-", ".saving");

/// Most symbolic links that a path may lead through.
const MOST_LINKS: usize = 40;

/// The copy of a file as it was before it was saved last.
pub fn earlier(path: &Path) -> PathBuf {
    let mut name = OsString::from(path);
    name.push(".");
    name.push(EARLIER);
    name.into()
}

/// Writes a file whole or not at all. It keeps the mode of the file that was there, and its owner where that is permitted.
///
/// # Errors
/// The file cannot be written; the one that was there is still there.
pub fn write_whole(content: impl AsRef<[u8]>, path: &Path) -> io::Result<()> {
    let target = Target::of(path)?;
    target.replace(target.aside(content.as_ref(), Rights::Kept)?)
}

/// Writes a file whole or not at all, for its owner's eyes only.
///
/// # Errors
/// The file cannot be written; the one that was there is still there.
#[cfg(feature = "window")]
pub(crate) fn write_private(text: &str, path: &Path) -> io::Result<()> {
    let target = Target::of(path)?;
    target.replace(target.aside(text.as_bytes(), Rights::Private)?)
}

/// Writes a file as [`write_whole`] does, after a copy of the file that was there was written beside it under the name
/// [`earlier`].
///
/// A file that has several names (hard links) keeps them: the text is written into the file itself. If that fails, the
/// earlier content is put back.
///
/// # Errors
/// The file or the copy cannot be written; the file that was there is still there.
pub(super) fn write_kept(text: &str, path: &Path) -> io::Result<()> {
    let target = Target::of(path)?;
    let Some(old) = &target.old else {
        return target.replace(target.aside(text.as_bytes(), Rights::Kept)?);
    };
    let new = target.aside(text.as_bytes(), Rights::Kept)?;
    let differs = !holds(&target.path, text)?;
    if differs {
        target.keep_earlier()?;
    }
    if names(old) == 1 {
        return target.replace(new);
    }
    // There is room: it is written aside.
    drop(new);
    if differs { target.write_into(text) } else { Ok(()) }
}

/// Whom a file is for.
#[derive(Clone, Copy, PartialEq)]
enum Rights {
    /// Those that could read and write the file that was there; of a new file those whom the system names.
    Kept,
    /// Its owner only.
    Private,
}

/// Where a file is to be written.
struct Target {
    /// The file itself, behind symbolic links.
    path: PathBuf,
    folder: PathBuf,
    /// The file that is there.
    old: Option<Metadata>,
}

impl Target {
    /// Where a path leads.
    ///
    /// # Errors
    /// To something that is no file, or to one that is write-protected: replacing it would go round a protection that
    /// someone meant.
    fn of(path: &Path) -> io::Result<Target> {
        let path = led_to(path)?;
        let old = match fs::metadata(&path) {
            Ok(old) => Some(old),
            Err(error) if error.kind() == io::ErrorKind::NotFound => None,
            Err(error) => return Err(error),
        };
        if let Some(old) = &old {
            if old.is_dir() {
                return Err(io::ErrorKind::IsADirectory.into());
            }
            if !old.is_file() {
                let words = "this is a device or a pipe, not a file. Choose another name";
                return Err(io::Error::new(io::ErrorKind::InvalidInput, words));
            }
            if old.permissions().readonly() {
                let words = "the file is write-protected";
                return Err(io::Error::new(io::ErrorKind::PermissionDenied, words));
            }
        }
        let folder = match path.parent() {
            Some(folder) if !folder.as_os_str().is_empty() => folder.to_owned(),
            _ => PathBuf::from("."),
        };
        sweep(&folder);
        Ok(Target { path, folder, old })
    }

    /// Writes bytes aside and brings them to the disk.
    fn aside(&self, mut content: impl Read, rights: Rights) -> io::Result<NamedTempFile> {
        let old = self.old.as_ref().filter(|_| rights == Rights::Kept);
        let mut file = locked_aside(&self.folder, rights == Rights::Private || old.is_some())?;
        io::copy(&mut content, file.as_file_mut())?;
        if let Some(old) = old {
            liken(file.as_file(), old)?;
        }
        file.as_file().sync_all()?;
        Ok(file)
    }

    /// Puts what is aside in the place of the file.
    fn replace(&self, aside: NamedTempFile) -> io::Result<()> {
        aside.persist(&self.path).map_err(|error| error.error)?;
        settle(&self.folder)
    }

    /// Writes the copy of the file that is there.
    fn keep_earlier(&self) -> io::Result<()> {
        let copy = earlier(&self.path);
        let written = File::open(&self.path).and_then(|old| {
            let aside = self.aside(old, Rights::Kept)?;
            if let Some(modified) = self.old.as_ref().and_then(|old| old.modified().ok()) {
                // The time tells people which state it is; nothing depends on it.
                let _ = aside.as_file().set_modified(modified);
            }
            aside.persist(&copy).map_err(|error| error.error)?;
            settle(&self.folder)
        });
        written.map_err(|error| match error.kind() {
            io::ErrorKind::StorageFull => error,
            _ => io::Error::other(format!(
                "the copy of the file as it was, {}, cannot be written ({})",
                copy.display(),
                io_words(&error)
            )),
        })
    }

    /// Writes a text into the file that is there, so that it keeps all its names.
    fn write_into(&self, text: &str) -> io::Result<()> {
        let mut file = OpenOptions::new().write(true).open(&self.path)?;
        let written = fill(&mut file, text.as_bytes());
        if written.is_err() {
            let copy = earlier(&self.path);
            File::open(&copy).and_then(|old| fill(&mut file, old)).map_err(|_| {
                io::Error::other(format!(
                    "it failed halfway. The file as it was is in {}",
                    copy.display()
                ))
            })?;
        }
        written
    }
}

/// Makes some bytes the whole content of a file, and brings them to the disk.
fn fill(file: &mut File, mut content: impl Read) -> io::Result<()> {
    file.rewind()?;
    let length = io::copy(&mut content, file)?;
    file.set_len(length)?;
    file.sync_all()
}

/// Where a path leads through symbolic links, also to a file that is not there yet.
fn led_to(path: &Path) -> io::Result<PathBuf> {
    let mut path = path.to_owned();
    for _ in 0..MOST_LINKS {
        let Ok(link) = fs::read_link(&path) else { return Ok(path) };
        path = path.parent().map_or_else(|| link.clone(), |folder| folder.join(&link));
    }
    Err(io::Error::other("its symbolic links lead in a circle. Choose another name"))
}

/// True if a file holds this text and nothing else.
fn holds(path: &Path, text: &str) -> io::Result<bool> {
    let file = File::open(path)?;
    if file.metadata()?.len() != text.len() as u64 {
        return Ok(false);
    }
    let mut content = Vec::with_capacity(text.len());
    file.take(text.len() as u64 + 1).read_to_end(&mut content)?;
    Ok(content == text.as_bytes())
}

/// A new file aside, locked for as long as it is open so that nobody takes it for a leftover. A `private` one is for its
/// owner only.
fn locked_aside(folder: &Path, private: bool) -> io::Result<NamedTempFile> {
    let mut builder = Builder::new();
    builder.prefix(ASIDE.0).suffix(ASIDE.1);
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let mode = if private { 0o600 } else { 0o666 };
        builder.permissions(fs::Permissions::from_mode(mode));
    }
    loop {
        let file = builder.tempfile_in(folder)?;
        // A disk without locks is not swept either.
        let _ = file.as_file().lock();
        // Before it was locked, a save in another program may have taken it for a leftover.
        if file.path().exists() {
            return Ok(file);
        }
    }
}

/// Removes what killed programs of ours have left aside in a folder.
fn sweep(folder: &Path) {
    for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
        let name = entry.file_name();
        let number =
            name.to_str().and_then(|name| name.strip_prefix(ASIDE.0)?.strip_suffix(ASIDE.1));
        let ours =
            number.is_some_and(|n| !n.is_empty() && n.bytes().all(|b| b.is_ascii_alphanumeric()));
        if !ours || !entry.file_type().is_ok_and(|kind| kind.is_file()) {
            continue;
        }
        // Whoever is still writing it holds its lock.
        if let Ok(file) = File::open(entry.path())
            && file.try_lock().is_ok()
        {
            let _ = fs::remove_file(entry.path());
        }
    }
}

/// Gives a file the mode of another one, and its owner and group where that is permitted.
#[cfg(unix)]
fn liken(file: &File, old: &Metadata) -> io::Result<()> {
    use std::os::unix::fs::{MetadataExt, PermissionsExt, fchown};
    let now = file.metadata()?;
    if (now.uid(), now.gid()) != (old.uid(), old.gid())
        && fchown(file, Some(old.uid()), Some(old.gid())).is_err()
    {
        // Who may not give a file away may still share it with the same group.
        let _ = fchown(file, None, Some(old.gid()));
    }
    file.set_permissions(fs::Permissions::from_mode(old.mode() & 0o777))
}

#[cfg(not(unix))]
fn liken(_: &File, _: &Metadata) -> io::Result<()> {
    Ok(())
}

/// How many names (hard links) a file has.
fn names(file: &Metadata) -> u64 {
    #[cfg(unix)]
    return std::os::unix::fs::MetadataExt::nlink(file);
    #[cfg(not(unix))]
    return {
        let _ = file;
        1
    };
}

/// Brings the names in a folder to the disk.
fn settle(folder: &Path) -> io::Result<()> {
    use io::ErrorKind::{InvalidInput, PermissionDenied, Unsupported};
    if !cfg!(unix) {
        return Ok(());
    }
    match File::open(folder).and_then(|folder| folder.sync_all()) {
        // Some file systems cannot, and a folder that may be written need not be readable.
        Err(error) if matches!(error.kind(), InvalidInput | PermissionDenied | Unsupported) => {
            Ok(())
        }
        done => done,
    }
}
