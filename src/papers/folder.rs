//! The folder that papers are written into.
//!
//! A file that is there already is replaced only if it is as this program wrote it: the list [`LIST`] in the folder has the
//! mark of each file.

use std::collections::{BTreeMap, BTreeSet};
use std::io;
use std::path::{Path, PathBuf};
use std::time::{SystemTime, UNIX_EPOCH};

use super::PaperFile;
use crate::layout::{io_words, shown, write_whole};

/// The list of the files that were written into a folder.
const LIST: &str = "papers.list";

/// Writes papers into a folder, which is made if it is not there. Returns their paths.
///
/// # Errors
/// The folder cannot be used, a file that is not as it was written is in the way (then nothing is written), or a file
/// cannot be written: a line each, with the path.
pub fn write_into(folder: &Path, files: &[PaperFile]) -> Result<Vec<PathBuf>, String> {
    let folder = Folder::open(folder)?;
    folder.allows(files)?;
    folder.write(files)
}

/// A text with a path before it.
fn about(path: &Path, why: &str) -> String {
    format!("{}: {why}", shown(&path.display().to_string()))
}

/// A day as year, month and day, UTC (Howard Hinnant, *chrono-Compatible Low-Level Date Algorithms*).
pub fn day(time: SystemTime) -> String {
    let days = match time.duration_since(UNIX_EPOCH) {
        Ok(after) => (after.as_secs() / 86_400) as i64,
        Err(before) => -((before.duration().as_secs() / 86_400) as i64) - 1,
    };
    let shifted = days + 719_468;
    let era = shifted.div_euclid(146_097);
    let of_era = shifted.rem_euclid(146_097);
    let year_of_era = (of_era - of_era / 1460 + of_era / 36_524 - of_era / 146_096) / 365;
    let of_year = of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    let shifted_month = (5 * of_year + 2) / 153;
    let day = of_year - (153 * shifted_month + 2) / 5 + 1;
    let month = if shifted_month < 10 { shifted_month + 3 } else { shifted_month - 9 };
    let year = year_of_era + era * 400 + i64::from(month <= 2);
    format!("{year:04}-{month:02}-{day:02}")
}

/// The folder that papers are written into.
struct Folder {
    path: PathBuf,
    /// Marks of the files that were written there, by name: those of a run that was broken off too.
    ours: BTreeMap<String, BTreeSet<String>>,
}

impl Folder {
    /// Opens a folder, and makes it if it is not there.
    fn open(path: &Path) -> Result<Folder, String> {
        let why = |why: io::Error| {
            about(path, &format!("cannot be used as the folder for papers: {}", io_words(&why)))
        };
        if path.exists() && !path.is_dir() {
            return Err(about(path, "is a file. Name a folder, or a new one."));
        }
        std::fs::create_dir_all(path).map_err(why)?;
        let list = match std::fs::read_to_string(path.join(LIST)) {
            Ok(list) => list,
            Err(error) if error.kind() == io::ErrorKind::NotFound => String::new(),
            Err(error) => return Err(why(error)),
        };
        let lines = list.lines().filter_map(|line| line.split_once(' '));
        let mut ours: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
        for (mark, name) in lines {
            ours.entry(name.to_owned()).or_default().insert(mark.to_owned());
        }
        Ok(Folder { path: path.to_owned(), ours })
    }

    /// Refuses if a file is in the way that is not as it was written.
    fn allows(&self, files: &[PaperFile]) -> Result<(), String> {
        let mut reasons: Vec<String> = Vec::new();
        for file in files {
            let path = self.path.join(&file.name);
            let there = match std::fs::read(&path) {
                Ok(there) => there,
                Err(error) if error.kind() == io::ErrorKind::NotFound => continue,
                Err(error) => {
                    let words = format!("cannot be replaced: {}", io_words(&error));
                    reasons.push(about(&path, &words));
                    continue;
                }
            };
            let known = self.ours.get(&file.name);
            if there != file.bytes && !known.is_some_and(|marks| marks.contains(&mark(&there))) {
                let what = match known {
                    Some(_) => "was changed since it was written",
                    None => "is there already, and this program did not write it",
                };
                let words =
                    format!("{what}. Nothing is written. Move it away, or name another folder.");
                reasons.push(about(&path, &words));
            }
        }
        if reasons.is_empty() { Ok(()) } else { Err(reasons.join("\n")) }
    }

    /// Writes the files, each whole or not at all, and the list of them. Returns their paths.
    fn write(self, files: &[PaperFile]) -> Result<Vec<PathBuf>, String> {
        let Folder { path: folder, mut ours } = self;
        let put = |name: &str, bytes: &[u8]| {
            let path = folder.join(name);
            match write_whole(bytes, &path) {
                Ok(()) => Ok(path),
                Err(why) => Err(about(&path, &format!("cannot be written: {}", io_words(&why)))),
            }
        };
        // The list first: what is there when this is broken off is then known as ours, old or new.
        for file in files {
            ours.entry(file.name.clone()).or_default().insert(mark(&file.bytes));
        }
        put(LIST, listed(&ours).as_bytes())?;
        let paths: Result<Vec<PathBuf>, String> =
            files.iter().map(|file| put(&file.name, &file.bytes)).collect();
        let paths = paths?;
        for file in files {
            ours.insert(file.name.clone(), BTreeSet::from([mark(&file.bytes)]));
        }
        put(LIST, listed(&ours).as_bytes())?;
        Ok(paths)
    }
}

/// The list of files: a line per mark.
fn listed(ours: &BTreeMap<String, BTreeSet<String>>) -> String {
    let lines = ours.iter().flat_map(|(name, marks)| marks.iter().map(move |mark| (mark, name)));
    lines.map(|(mark, name)| format!("{mark} {name}\n")).collect()
}

/// A mark of a content by which a change is seen: its length, and 64 bits of it (FNV-1a).
fn mark(bytes: &[u8]) -> String {
    let mut hash = 0xcbf2_9ce4_8422_2325_u64;
    for byte in bytes {
        hash = (hash ^ u64::from(*byte)).wrapping_mul(0x0100_0000_01b3);
    }
    format!("{}-{hash:016x}", bytes.len())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;
    use std::time::Duration;

    #[test]
    fn papers_have_the_day_of_their_file() {
        let at = |days: u64| day(UNIX_EPOCH + Duration::from_secs(days * 86_400 + 4000));
        assert_eq!(at(0), "1970-01-01");
        assert_eq!(at(11_016), "2000-02-29");
        assert_eq!(at(11_017), "2000-03-01");
        assert_eq!(at(19_723), "2024-01-01");
    }

    #[test]
    fn papers_replace_what_they_wrote_and_nothing_else() {
        let folder = tempfile::tempdir().unwrap();
        let file = |text: &str| {
            vec![PaperFile { name: "cuts.csv".into(), bytes: text.as_bytes().to_vec() }]
        };
        let write = |text: &str| {
            let open = Folder::open(folder.path())?;
            open.allows(&file(text))?;
            open.write(&file(text))
        };
        write("one").unwrap();
        write("two").unwrap();
        let path = folder.path().join("cuts.csv");
        std::fs::write(&path, "two, with notes by hand").unwrap();
        let why = write("three").unwrap_err();
        assert!(why.contains("was changed since it was written"), "{why}");
        assert_eq!(std::fs::read_to_string(&path).unwrap(), "two, with notes by hand");
        std::fs::remove_file(folder.path().join(LIST)).unwrap();
        let why = write("three").unwrap_err();
        assert!(why.contains("this program did not write it"), "{why}");
    }
}
