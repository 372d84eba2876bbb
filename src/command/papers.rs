//! The verb `papers`: a layout file in, sheets for the bench into a folder.
//!
//! A file that is there already is replaced only if it is as this verb wrote it: the list [`LIST`] in the folder has the
//! mark of each file.

use std::collections::{BTreeMap, BTreeSet};
use std::io::{self, IsTerminal, Read, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{SystemTime, UNIX_EPOCH};

use gapwright::findings::{Checker, report_of};
use gapwright::layout::{Layout, io_words, shown, write_whole};
use gapwright::papers::{NoPapers, Paper, PaperFile, Request, papers};

use super::input::{about, read};
use super::{Streams, WAITS, caught, ended, failed, shown_while, status_of};

/// The list of the files that were written into a folder.
const LIST: &str = "papers.list";

/// A call of the verb `papers`.
pub struct PapersCall {
    /// The layout file; `-` is standard input.
    pub file: PathBuf,
    /// The folder for the papers.
    pub out: PathBuf,
    /// Names of the sheets; empty for all.
    pub only: Vec<String>,
    /// Size of the paper.
    pub paper: Paper,
    /// The number behind "1:" of the tiles, if there are to be any.
    pub scale: Option<f64>,
    /// A page of HTML too.
    pub html: bool,
}

/// Makes the papers of a layout, writes them, names them on standard output, and returns the exit status: 0 if the layout
/// has no fault, 1 if it has one, 2 if a file cannot be read or written.
pub fn make_papers(call: &PapersCall, streams: Streams<impl Read, impl Write, impl Write>) -> u8 {
    let Streams { input, mut output, mut error, .. } = streams;
    match made(call, input) {
        Ok((text, is_fault)) => ended(&text, status_of(is_fault), &mut output, &mut error),
        Err(why) => failed(&why, &mut error),
    }
}

/// The names of the files that were written, and whether the layout has a fault; or why there are none.
fn made(call: &PapersCall, input: impl Read) -> Result<(String, bool), String> {
    let layout = read(&call.file, input)?;
    let request = request(call);
    let (files, is_fault) = match caught(|| work(&layout, &request)) {
        Ok(done) => done.map_err(|why| about(&call.file, &format!("no papers: {why}.")))?,
        Err(panic) => {
            let broke = format!(
                "the papers broke down: {panic}. This is a fault of the program. Report it, with the layout file"
            );
            return Err(about(&call.file, &broke));
        }
    };
    let folder = Folder::open(&call.out)?;
    folder.allows(&files)?;
    let mut text = String::new();
    for path in folder.write(&files)? {
        text.push_str(&format!("{}\n", shown(&path.display().to_string())));
    }
    Ok((text, is_fault))
}

/// Checks a layout and makes its papers. On a terminal a long check says how far it is.
fn work(layout: &Layout, request: &Request) -> Result<(Vec<PaperFile>, bool), NoPapers> {
    let progress = Arc::default();
    let work = || {
        let study = Checker::watched(&progress).study(layout);
        let is_fault = report_of(&study).verdict.is_fault();
        let files = papers(&study, request, &mut |_, _, _| true)?;
        Ok((files, is_fault))
    };
    if !io::stderr().is_terminal() {
        return work();
    }
    shown_while(&progress, &WAITS, io::stderr(), work)
}

fn request(call: &PapersCall) -> Request {
    let is_input = call.file.as_os_str() == "-";
    let name = call.file.file_name().map(|name| name.to_string_lossy().into_owned());
    let written = std::fs::metadata(&call.file).and_then(|there| there.modified()).ok();
    let (file, date) = match is_input {
        true => (String::new(), String::new()),
        false => (name.unwrap_or_default(), written.map_or_else(String::new, date)),
    };
    let (only, paper, scale, html) = (call.only.clone(), call.paper, call.scale, call.html);
    Request { only, paper, scale, html, file, date }
}

/// A day as year, month and day, UTC (Howard Hinnant, *chrono-Compatible Low-Level Date Algorithms*).
fn date(time: SystemTime) -> String {
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
        if path.as_os_str() == "-" {
            let words = "Papers cannot be written to standard output. Name a folder after --out.";
            return Err(words.into());
        }
        if path.exists() && !path.is_dir() {
            return Err(about(path, "is a file. Name a folder after --out, or a new one."));
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
        let at = |days: u64| date(UNIX_EPOCH + Duration::from_secs(days * 86_400 + 4000));
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
