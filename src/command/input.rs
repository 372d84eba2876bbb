//! Layouts that a call names, each as it stands and in its lineups.

use std::borrow::Cow;
use std::io::{self, Read};
use std::path::Path;
use std::rc::Rc;

use gapwright::layout::{Layout, Lineup, io_words, read_from, read_path, shown};

use super::Call;

/// A layout to check.
pub struct Checked {
    /// Its file, as the call names it.
    pub file: String,
    /// The lineup that it is to be set to.
    lineup: Option<Lineup>,
    /// The layout as the file has it.
    layout: Rc<Layout>,
}

impl Checked {
    /// The name of the lineup that it is to be set to. Not escaped.
    pub fn lineup(&self) -> Option<String> {
        self.lineup.as_ref().map(name)
    }

    /// The file and the lineup, in words. Not escaped.
    pub fn title(&self) -> String {
        match self.lineup() {
            Some(lineup) => format!("{}, lineup \"{lineup}\"", self.file),
            None => self.file.clone(),
        }
    }

    /// The layout, set to the lineup. It is set when it is wanted, since a file can have thousands of lineups.
    pub fn set(&self) -> Cow<'_, Layout> {
        let set = self.lineup.as_ref().and_then(|lineup| lineup.applied(&self.layout).ok());
        set.map_or(Cow::Borrowed(&*self.layout), Cow::Owned)
    }
}

fn name(lineup: &Lineup) -> String {
    match lineup.name.trim() {
        "" => lineup.id.to_string(),
        name => name.to_owned(),
    }
}

/// Every layout of a call, or why some cannot be read: a text for each of them, without characters that a terminal obeys.
pub fn read_all(call: &Call, mut input: impl Read) -> Result<Vec<Checked>, Vec<String>> {
    let (mut layouts, mut reasons) = (Vec::new(), Vec::new());
    for path in &call.files {
        let file = path.display().to_string();
        let layout = match read(path, &mut input) {
            Ok(layout) => layout,
            Err(why) => {
                reasons.push(why);
                continue;
            }
        };
        let layout = Rc::new(layout);
        let of = |lineup| Checked { file: file.clone(), lineup, layout: Rc::clone(&layout) };
        layouts.push(of(None));
        for lineup in layout.lineups.values().filter(|_| call.lineups) {
            match lineup.applied(&layout) {
                Ok(_) => layouts.push(of(Some(lineup.clone()))),
                Err(refused) => {
                    let words = format!("the lineup {} cannot be set: {refused}", name(lineup));
                    reasons.push(about(path, &shown(&words)));
                }
            }
        }
    }
    if reasons.is_empty() { Ok(layouts) } else { Err(reasons) }
}

/// The layout of a file; `-` is standard input. Or why it cannot be read, without characters that a terminal obeys.
pub fn read(path: &Path, input: impl Read) -> Result<Layout, String> {
    let loaded = if path.as_os_str() == "-" { read_from(input) } else { read_path(path) };
    loaded.map(|loaded| loaded.layout).map_err(|why| about(path, &why.to_string()))
}

/// The text of a small file that is no layout; or why it cannot be read. `not` says what a folder, a device or a file that is
/// too long is not.
pub fn small(path: &Path, not: &str) -> Result<String, String> {
    /// Longest such file, bytes.
    const LONGEST: u64 = 4 * 1024 * 1024;
    let unread = |why: io::Error| about(path, &format!("cannot be read: {}", io_words(&why)));
    let there = std::fs::metadata(path).map_err(unread)?;
    if !there.is_file() || there.len() > LONGEST {
        return Err(about(path, not));
    }
    std::fs::read_to_string(path).map_err(unread)
}

/// A text with the name of a file before each of its lines.
pub fn about(path: &Path, why: &str) -> String {
    let file = path.display().to_string();
    let lines = why.lines().map(|line| format!("{}: {line}", shown(&file)));
    lines.collect::<Vec<_>>().join("\n")
}
