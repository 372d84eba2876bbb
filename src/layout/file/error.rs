//! Why a file cannot be read.

use std::{fmt, io};

use super::format::LARGEST_FILE;
use crate::layout::shown::shown;
use crate::layout::validate::limits::MOST_FAULTS;

/// One fault of a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LoadError {
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
    /// What is wrong.
    pub says: String,
    /// What was expected.
    pub expected: String,
    /// What to do about it.
    pub hint: String,
    /// In which entity and field it is, in words; empty if the text does not get that far.
    pub place: String,
}

impl fmt::Display for LoadError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {}, column {}: ", self.line, self.column)?;
        if !self.place.is_empty() {
            write!(f, "{}: ", shown(&self.place))?;
        }
        write!(f, "{}; expected {}", shown(&self.says), shown(&self.expected))?;
        if !self.hint.is_empty() {
            write!(f, " ({})", shown(&self.hint))?;
        }
        Ok(())
    }
}

impl std::error::Error for LoadError {}

/// Why a file could not be read.
#[derive(Debug, thiserror::Error)]
pub enum ReadError {
    /// The file could not be opened or read, or is no text.
    #[error("{}", io_words(.0))]
    Io(#[from] io::Error),
    /// The path leads to a device, a pipe or a socket, so reading it might never end.
    #[error(
        "this is a {0}, not a file. Name a layout file; on the command line `-` reads standard input"
    )]
    NotAFile(&'static str),
    /// The text is longer than [`LARGEST_FILE`].
    #[error(
        "it is longer than {} MiB, so it cannot be a layout. Name a layout file",
        LARGEST_FILE / 1024 / 1024
    )]
    TooLarge,
    /// The text has faults.
    #[error("{}", all_words(.0))]
    Faults(Vec<LoadError>),
}

fn all_words(faults: &[LoadError]) -> String {
    let mut lines: Vec<String> = faults.iter().map(ToString::to_string).collect();
    if lines.len() >= MOST_FAULTS {
        lines.push(format!("there may be more faults: no more than {MOST_FAULTS} are looked for"));
    }
    lines.join("\n")
}

/// Why a file could not be read or written, for a person: as the end of a sentence.
pub fn io_words(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::NotFound => "there is no such file or folder. Look at the path".into(),
        io::ErrorKind::IsADirectory => "this is a folder. Name a file in it".into(),
        io::ErrorKind::NotADirectory => {
            "a part of the path is a file, not a folder. Look at the path".into()
        }
        io::ErrorKind::InvalidData => "it is no text, so it cannot be a layout".into(),
        io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => {
            "the disk is full. Make room, or choose another one".into()
        }
        io::ErrorKind::ReadOnlyFilesystem => "the disk can only be read. Choose another one".into(),
        io::ErrorKind::FileTooLarge => {
            "the file would be larger than is permitted here. Choose another disk".into()
        }
        io::ErrorKind::PermissionDenied => {
            format!(
                "that is not permitted ({error}). Choose another place, or ask for the right to it"
            )
        }
        _ => error.to_string(),
    }
}
