//! Layout files on the disk.

use std::io::{self, Write};
use std::path::Path;

use super::error::ReadError;
use super::format::LARGEST_FILE;
use super::pictures;
use super::read::{Loaded, load};
use super::write::save;
use crate::layout::model::Layout;

/// Reads a layout file. Its pictures are named by their paths from the root, and those that were moved beside the
/// layout file are found there.
pub fn read_path(path: &Path) -> Result<Loaded, ReadError> {
    if std::fs::metadata(path)?.len() > LARGEST_FILE {
        return Err(ReadError::TooLarge);
    }
    let text = std::fs::read_to_string(path)?;
    let mut loaded = load(&text).map_err(ReadError::Faults)?;
    if !loaded.layout.pictures.is_empty() {
        pictures::take_in(&mut loaded.layout, &pictures::folder_of(path));
    }
    Ok(loaded)
}

/// Writes a layout file. If it fails, the file that was there is still there, whole. Pictures are named by the way from
/// its folder.
pub fn write_path(layout: &Layout, path: &Path) -> io::Result<()> {
    let layout = pictures::given_out(layout, &pictures::folder_of(path));
    write_whole(&save(&layout), path)
}

/// Writes a file whole or not at all: if it fails, the file that was there is still there.
pub(crate) fn write_whole(text: &str, path: &Path) -> io::Result<()> {
    // A file that is a link stays one: what it leads to is replaced.
    let path = &std::fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    // Replacing would go round a write protection that someone meant.
    if std::fs::metadata(path).is_ok_and(|old| old.permissions().readonly()) {
        return Err(io::Error::new(io::ErrorKind::PermissionDenied, "the file is write-protected"));
    }
    let mut builder = tempfile::Builder::new();
    builder.prefix(".gapwright-");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // A temporary file is for its owner only; the layout keeps the rights that it had, or gets the usual ones.
        let mode = std::fs::metadata(path).map_or(0o644, |old| old.permissions().mode() & 0o777);
        builder.permissions(std::fs::Permissions::from_mode(mode));
    }
    let mut file = builder.tempfile_in(folder)?;
    file.write_all(text.as_bytes())?;
    file.as_file().sync_all()?;
    file.persist(path).map_err(|error| error.error)?;
    Ok(())
}
