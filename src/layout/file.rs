//! The layout file: reading with every fault placed, writing that is the same for equal layouts.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;
use std::io::{self, Write};
use std::path::Path;

use ron::extensions::Extensions;
use serde::{Deserialize, Serialize};

use super::chain::Device;
use super::edit::Entity;
use super::ids::EntityId;
use super::lineup::Lineup;
use super::meaning::{self, Fault};
use super::model::{
    Climate, Cut, Driver, Feed, Joint, Label, Layout, Run, Supply, Train, Vehicle,
    default_rail_ohm_per_m,
};
use super::picture::{self, Picture};
use super::positions::{self, Kind, Token, Tokens};
use super::quantity::Quantity;
use super::shown::shown;
use super::special::{Bond, Special};

/// The version of the file format that this program reads and writes.
pub const VERSION: u32 = 1;
/// The ending of a layout file's name, without the dot.
pub const EXTENSION: &str = "gapwright";
/// Largest file that is read, bytes.
pub const LARGEST_FILE: u64 = 256 * 1024 * 1024;
/// How deep brackets may be nested.
const DEEPEST: usize = 32;

/// A layout as it came out of a file.
#[derive(Debug, Clone, PartialEq)]
pub struct Loaded {
    /// The layout.
    pub layout: Layout,
    /// Whether the file had comments, which saving does not keep.
    pub had_comments: bool,
}

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
    /// The file is longer than [`LARGEST_FILE`].
    #[error("the file is longer than {} MiB, so it cannot be a layout", LARGEST_FILE / 1024 / 1024)]
    TooLarge,
    /// The text has faults.
    #[error("{}", .0.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"))]
    Faults(Vec<LoadError>),
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
        io::ErrorKind::StorageFull => "the disk is full. Make room, or choose another one".into(),
        io::ErrorKind::PermissionDenied => {
            format!(
                "that is not permitted ({error}). Choose another place, or ask for the right to it"
            )
        }
        _ => error.to_string(),
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields, rename = "Layout")]
struct File {
    #[serde(rename = "version")]
    _version: u32,
    #[serde(default)]
    name: String,
    #[serde(default)]
    notes: String,
    #[serde(default = "default_scale")]
    scale: f64,
    #[serde(default = "default_gauge")]
    gauge_mm: f64,
    #[serde(default = "default_rail_ohm_per_m")]
    rail_ohm_per_m: Quantity,
    #[serde(default)]
    climate: Option<Climate>,
    #[serde(default)]
    next_id: Option<u32>,
    #[serde(default)]
    joints: Vec<Joint>,
    #[serde(default)]
    runs: Vec<Run>,
    #[serde(default)]
    cuts: Vec<Cut>,
    #[serde(default)]
    labels: Vec<Label>,
    #[serde(default)]
    supplies: Vec<Supply>,
    #[serde(default)]
    drivers: Vec<Driver>,
    #[serde(default)]
    feeds: Vec<Feed>,
    #[serde(default)]
    vehicles: Vec<Vehicle>,
    #[serde(default)]
    specials: Vec<Special>,
    #[serde(default)]
    devices: Vec<Device>,
    #[serde(default)]
    bonds: Vec<Bond>,
    #[serde(default)]
    trains: Vec<Train>,
    #[serde(default)]
    lineups: Vec<Lineup>,
    #[serde(default)]
    pictures: Vec<Picture>,
}

fn default_scale() -> f64 {
    Layout::default().scale
}

fn default_gauge() -> f64 {
    Layout::default().gauge_mm
}

fn options() -> ron::Options {
    ron::Options::default().with_default_extension(Extensions::IMPLICIT_SOME)
}

/// Reads a layout from the text of a file.
///
/// A fault of notation or type stops the reading, so only the first is reported. Of faults of meaning (a reference to
/// nothing, a value that makes no sense) all are reported, in the order in which they stand in the file.
pub fn load(text: &str) -> Result<Loaded, Vec<LoadError>> {
    if text.len() as u64 > LARGEST_FILE {
        return Err(vec![LoadError {
            line: 1,
            column: 1,
            says: "the file is too long to be a layout".into(),
            expected: format!("at most {} MiB", LARGEST_FILE / 1024 / 1024),
            hint: "open a layout file".into(),
            place: String::new(),
        }]);
    }
    // A mark that says which way round bytes are is no part of the text.
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    if let Some(token) = positions::too_deep(text, DEEPEST) {
        return Err(vec![at_token(
            token,
            "brackets are nested too deep",
            format!("at most {DEEPEST} brackets in each other"),
            "a layout file never needs that many: a bracket is missing or too much before here",
        )]);
    }
    check_version(text).map_err(|error| vec![error])?;
    let file: File =
        options().from_str(text).map_err(|error| vec![super::notation::explain(text, &error)])?;
    let count = [
        file.joints.len(),
        file.runs.len(),
        file.cuts.len(),
        file.labels.len(),
        file.supplies.len(),
        file.drivers.len(),
        file.feeds.len(),
        file.vehicles.len(),
        file.specials.len(),
        file.devices.len(),
        file.bonds.len(),
        file.trains.len(),
        file.lineups.len(),
        file.pictures.len(),
    ];
    if count.iter().sum::<usize>() > meaning::MOST_ENTITIES {
        return Err(vec![LoadError {
            line: 1,
            column: 1,
            says: format!("there are {} things on this layout", count.iter().sum::<usize>()),
            expected: format!("at most {}", meaning::MOST_ENTITIES),
            hint: "divide the layout into several files".into(),
            place: "the layout".into(),
        }]);
    }
    let (layout, faults) = gather(file);
    if faults.is_empty() {
        Ok(Loaded { layout, had_comments: positions::has_comments(text) })
    } else {
        Err(placed(text, faults))
    }
}

fn at_token(
    token: Token,
    says: impl Into<String>,
    expected: impl Into<String>,
    hint: impl Into<String>,
) -> LoadError {
    LoadError {
        line: token.line,
        column: token.column,
        says: says.into(),
        expected: expected.into(),
        hint: hint.into(),
        place: String::new(),
    }
}

/// The version is looked at before everything else: a file of another version may be otherwise unreadable.
fn check_version(text: &str) -> Result<(), LoadError> {
    let wanted = BTreeSet::from([String::new(), "version".to_owned()]);
    let found = positions::places(text, &wanted);
    let Some(outer) = found.get("") else {
        return Err(LoadError {
            line: 1,
            column: 1,
            says: "the file is empty".into(),
            expected: format!("a layout such as (version: {VERSION})"),
            hint: "open a layout file, or begin a new one".into(),
            place: String::new(),
        });
    };
    let Some(version) = found.get("version") else {
        let open = outer.is('(')
            || (outer.kind == Kind::Word
                && text.get(outer.end..).is_some_and(|t| t.trim_start().starts_with('(')));
        return if open {
            Err(at_token(
                *outer,
                "the file does not say its version",
                format!("version: {VERSION}"),
                format!("write `version: {VERSION},` first thing after the opening bracket"),
            ))
        } else {
            Err(at_token(
                *outer,
                "this is no layout",
                format!("a layout such as (version: {VERSION})"),
                "a layout file starts with an opening round bracket",
            ))
        };
    };
    let number = version.text(text);
    if version.kind == Kind::Other
        && number.bytes().all(|b| b.is_ascii_digit())
        && number.parse() != Ok(VERSION)
    {
        return Err(at_token(
            *version,
            format!("the file is of version {number}, which this program does not know"),
            format!("version: {VERSION}"),
            "a newer program may have written it: open it with that one",
        ));
    }
    Ok(())
}

/// A fault and the path in the file at which it lies.
struct Lying {
    path: String,
    fault: Fault,
}

fn gather(file: File) -> (Layout, Vec<Lying>) {
    let mut layout = Layout {
        name: file.name,
        notes: file.notes,
        scale: file.scale,
        gauge_mm: file.gauge_mm,
        rail_ohm_per_m: file.rail_ohm_per_m,
        climate: file.climate,
        ..Layout::default()
    };
    let mut paths: BTreeMap<EntityId, String> = BTreeMap::new();
    let mut again: Vec<(String, Entity)> = Vec::new();
    macro_rules! take {
        ($($list:ident)*) => {$(
            for (i, entity) in file.$list.into_iter().enumerate() {
                let path = format!("{}[{i}]", stringify!($list));
                if layout.$list.contains_key(&entity.id) {
                    again.push((path, entity.into()));
                } else {
                    paths.insert(entity.id.into(), path);
                    layout.$list.insert(entity.id, entity);
                }
            }
        )*};
    }
    take!(joints runs cuts labels supplies drivers feeds vehicles specials devices bonds trains lineups pictures);
    layout.next_id =
        file.next_id.unwrap_or_else(|| meaning::largest_number(&layout).saturating_add(1));
    let mut lying: Vec<Lying> = meaning::faults(&layout)
        .into_iter()
        // A number that is too large is told once, where it stands.
        .filter(|fault| file.next_id.is_some() || fault.field != "next_id")
        .map(|fault| {
            let base = fault.entity.and_then(|id| paths.get(&id)).cloned().unwrap_or_default();
            Lying { path: joined(&base, &fault.field), fault }
        })
        .collect();
    for (path, entity) in again {
        let id = entity.id();
        let fault = Fault {
            entity: Some(id),
            field: "id".into(),
            says: format!("the id {id} is used twice"),
            expected: "an id that nothing else has".into(),
            hint: format!(
                "give this {} another number; number {} is free",
                meaning::kind_word(id),
                layout.next_id
            ),
        };
        lying.push(Lying { path: joined(&path, "id"), fault });
        for fault in meaning::faults_of(&layout, &entity) {
            lying.push(Lying { path: joined(&path, &fault.field), fault });
        }
    }
    (layout, lying)
}

fn joined(base: &str, field: &str) -> String {
    match (base, field) {
        ("", field) => field.to_owned(),
        (base, "") => base.to_owned(),
        (base, field) => format!("{base}.{field}"),
    }
}

/// A path and all that it lies in, the path itself first.
fn outwards(path: &str) -> impl Iterator<Item = &str> {
    std::iter::successors(Some(path), |path| {
        (!path.is_empty()).then(|| path.rfind(['.', '[']).map_or("", |i| &path[..i]))
    })
}

fn placed(text: &str, faults: Vec<Lying>) -> Vec<LoadError> {
    let wanted: BTreeSet<String> =
        faults.iter().flat_map(|lying| outwards(&lying.path)).map(str::to_owned).collect();
    let found = positions::places(text, &wanted);
    let mut errors: Vec<LoadError> = faults
        .into_iter()
        .map(|Lying { path, fault }| {
            // A field that is not in the file lies where the entity starts.
            let token = outwards(&path).find_map(|path| found.get(path));
            LoadError {
                line: token.map_or(1, |t| t.line),
                column: token.map_or(1, |t| t.column),
                place: fault.place(),
                says: fault.says,
                expected: fault.expected,
                hint: fault.hint,
            }
        })
        .collect();
    errors.sort_by_key(|e| (e.line, e.column));
    errors
}

/// Reads a layout file. Its pictures are named by their paths from the root, and those that were moved beside the
/// layout file are found there.
pub fn read_path(path: &Path) -> Result<Loaded, ReadError> {
    if std::fs::metadata(path)?.len() > LARGEST_FILE {
        return Err(ReadError::TooLarge);
    }
    let text = std::fs::read_to_string(path)?;
    let mut loaded = load(&text).map_err(ReadError::Faults)?;
    if !loaded.layout.pictures.is_empty() {
        picture::take_in(&mut loaded.layout, &picture::folder_of(path));
    }
    Ok(loaded)
}

/// Writes a layout file. If it fails, the file that was there is still there, whole. Pictures are named by the way from
/// its folder.
pub fn write_path(layout: &Layout, path: &Path) -> io::Result<()> {
    let layout = picture::given_out(layout, &picture::folder_of(path));
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

/// The text of a layout's file. Equal layouts give equal texts.
pub fn save(layout: &Layout) -> String {
    let mut out = format!("(\n    version: {VERSION},\n");
    let mut field = |name: &str, value: String| {
        let text = laid_out(&value, 4, name.len() + 7);
        out.push_str(&format!("    {name}: {text},\n"));
    };
    field("name", compact(&layout.name));
    if !layout.notes.is_empty() {
        field("notes", compact(&layout.notes));
    }
    field("scale", compact(&layout.scale));
    field("gauge_mm", compact(&layout.gauge_mm));
    field("rail_ohm_per_m", compact(&layout.rail_ohm_per_m));
    if let Some(climate) = &layout.climate {
        field("climate", compact(climate));
    }
    field("next_id", compact(&layout.next_id));
    macro_rules! lists {
        ($($list:ident)*) => {$(
            if !layout.$list.is_empty() {
                out.push_str(concat!("    ", stringify!($list), ": [\n"));
                for entity in layout.$list.values() {
                    out.push_str("        ");
                    out.push_str(&laid_out(&compact(entity), 8, 9));
                    out.push_str(",\n");
                }
                out.push_str("    ],\n");
            }
        )*};
    }
    lists!(joints runs specials cuts bonds labels supplies drivers devices feeds vehicles trains lineups pictures);
    out.push_str(")\n");
    out
}

/// A value on one line. Serialising a layout's values cannot fail: they are plain data, and the text is in memory.
fn compact<T: Serialize>(value: &T) -> String {
    options().to_string(value).unwrap_or_default()
}

/// Width of a line that is not broken further.
const LINE: usize = 100;

/// Sets out a one-line RON value: a bracket that fits on the rest of its line stays on it, any other has each of its
/// items on a line of its own. `indent` is the indentation of the line, `used` what of it is used, comma included.
fn laid_out(compact: &str, indent: usize, used: usize) -> String {
    let pieces: Vec<(Kind, &str)> =
        Tokens::new(compact).map(|token| (token.kind, token.text(compact))).collect();
    let mut out = String::new();
    let mut at = 0;
    lay_out(&pieces, &mut at, indent, used, &mut out);
    out
}

fn lay_out(pieces: &[(Kind, &str)], at: &mut usize, indent: usize, used: usize, out: &mut String) {
    while let Some(&(kind, text)) = pieces.get(*at) {
        match kind {
            Kind::Mark('(' | '[' | '{') => {
                let end = closing(pieces, *at);
                let flat = flat(&pieces[*at..=end]);
                let line = out.len() - out.rfind('\n').map_or(0, |i| i + 1);
                let started = if out.contains('\n') { line } else { used + line };
                if started + flat.chars().count() <= LINE || end == *at + 1 {
                    out.push_str(&flat);
                    *at = end + 1;
                    continue;
                }
                out.push_str(text);
                *at += 1;
                while *at < end {
                    out.push('\n');
                    out.push_str(&" ".repeat(indent + 4));
                    lay_out(pieces, at, indent + 4, used, out);
                    out.push(',');
                    if pieces.get(*at).is_some_and(|p| p.0 == Kind::Mark(',')) {
                        *at += 1;
                    }
                }
                out.push('\n');
                out.push_str(&" ".repeat(indent));
                out.push_str(pieces[end].1);
                *at = end + 1;
            }
            Kind::Mark(')' | ']' | '}' | ',') => return,
            _ => {
                out.push_str(&flat(&pieces[*at..=*at]));
                *at += 1;
            }
        }
    }
}

fn closing(pieces: &[(Kind, &str)], open: usize) -> usize {
    let mut depth = 0usize;
    for (i, (kind, _)) in pieces.iter().enumerate().skip(open) {
        match kind {
            Kind::Mark('(' | '[' | '{') => depth += 1,
            Kind::Mark(')' | ']' | '}') => {
                depth -= 1;
                if depth == 0 {
                    return i;
                }
            }
            _ => {}
        }
    }
    pieces.len() - 1
}

fn flat(pieces: &[(Kind, &str)]) -> String {
    let mut out = String::new();
    for (kind, text) in pieces {
        match (kind, *text) {
            (Kind::Mark(','), _) => out.push_str(", "),
            (Kind::Mark(':'), _) => out.push_str(": "),
            // Zero has no sign that counts: equal layouts give equal texts.
            (Kind::Other, "-0.0") => out.push_str("0.0"),
            (_, text) => out.push_str(text),
        }
    }
    out
}
