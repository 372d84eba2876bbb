//! Layout files on the disk.

use std::fs::{File, FileType};
use std::io::{self, Read};
use std::path::Path;

use super::error::ReadError;
use super::format::LARGEST_FILE;
use super::pictures;
use super::read::{Loaded, load};
use super::whole::write_kept;
use super::write::save;
use crate::layout::model::Layout;

/// Reads a layout file. Its pictures are named by their paths from the root, and those that were moved beside the
/// layout file are found there.
///
/// # Errors
/// The path leads to no regular file, or [`read_from`] refuses the content. A device or a pipe is not opened.
pub fn read_path(path: &Path) -> Result<Loaded, ReadError> {
    let metadata = std::fs::metadata(path)?;
    if metadata.is_dir() {
        return Err(io::Error::from(io::ErrorKind::IsADirectory).into());
    }
    if let Some(kind) = endless_kind(&metadata.file_type()) {
        return Err(ReadError::NotAFile(kind));
    }
    if metadata.len() > LARGEST_FILE {
        return Err(ReadError::TooLarge);
    }
    let mut loaded = read_from(File::open(path)?)?;
    if !loaded.layout.pictures.is_empty() {
        pictures::take_in(&mut loaded.layout, &pictures::folder_of(path));
    }
    Ok(loaded)
}

/// Reads a layout from a source of bytes, such as standard input. Takes at most one byte more than [`LARGEST_FILE`], so
/// that an endless source is refused as well.
///
/// # Errors
/// The source cannot be read, is longer than [`LARGEST_FILE`], is no text in UTF-8, or the text has faults.
pub fn read_from(source: impl Read) -> Result<Loaded, ReadError> {
    let mut bytes = Vec::new();
    source.take(LARGEST_FILE + 1).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > LARGEST_FILE {
        return Err(ReadError::TooLarge);
    }
    let text = String::from_utf8(bytes).map_err(|_| io::Error::from(io::ErrorKind::InvalidData))?;
    load(&text).map_err(ReadError::Faults)
}

/// The word for what is neither a file nor a folder; `None` for files and folders.
fn endless_kind(kind: &FileType) -> Option<&'static str> {
    #[cfg(unix)]
    {
        use std::os::unix::fs::FileTypeExt;
        if kind.is_fifo() {
            return Some("pipe");
        }
        if kind.is_socket() {
            return Some("socket");
        }
    }
    (!kind.is_file() && !kind.is_dir()).then_some("device")
}

/// Writes a layout file. If it fails, the file that was there is still there, whole; if it is done, a copy of that one is
/// beside it, under the name [`super::whole::earlier`]. Pictures are named by the way from its folder.
pub fn write_path(layout: &Layout, path: &Path) -> io::Result<()> {
    let text = text_for(layout, path);
    if text.len() as u64 > LARGEST_FILE {
        return Err(io::Error::other(format!(
            "the file would be longer than {} MiB and could not be opened again. Shorten its notes, or divide the layout",
            LARGEST_FILE / 1024 / 1024
        )));
    }
    write_kept(&text, path)
}

/// The text of a layout's file at this path: it names pictures by the way from its folder.
pub(crate) fn text_for(layout: &Layout, path: &Path) -> String {
    save(&pictures::given_out(layout, &pictures::folder_of(path)))
}
