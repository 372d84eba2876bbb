//! Reads layouts from text, with every fault at its place.

use std::collections::{BTreeMap, BTreeSet};

use super::error::LoadError;
use super::format::{DEEPEST, File, LARGEST_FILE, VERSION, options};
use super::spans::{Kind, Token, Tokens};
use super::{parse, spans};
use crate::layout::model::{Entity, EntityId, Layout};
use crate::layout::validate;
use crate::layout::validate::Fault;
use crate::layout::validate::limits::{MOST_ENTITIES, MOST_FAULTS};
use crate::layout::words::kind_word;

/// A layout as it came out of a file.
#[derive(Debug, Clone, PartialEq)]
pub struct Loaded {
    /// The layout.
    pub layout: Layout,
    /// Whether the file had comments, which saving does not keep.
    pub had_comments: bool,
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
    begins_like_a_layout(text).map_err(|error| vec![error])?;
    if let Some(token) = spans::too_deep(text, DEEPEST) {
        return Err(vec![at_token(
            token,
            "brackets are nested too deep",
            format!("at most {DEEPEST} brackets in each other"),
            "a layout file never needs that many: a bracket is missing or too much before here",
        )]);
    }
    check_version(text).map_err(|error| vec![error])?;
    let file: File =
        options().from_str(text).map_err(|error| vec![parse::explain(text, &error)])?;
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
        file.decisions.len(),
    ];
    if count.iter().sum::<usize>() > MOST_ENTITIES {
        return Err(vec![LoadError {
            line: 1,
            column: 1,
            says: format!("there are {} things on this layout", count.iter().sum::<usize>()),
            expected: format!("at most {}", MOST_ENTITIES),
            hint: "divide the layout into several files".into(),
            place: "the layout".into(),
        }]);
    }
    let (layout, faults) = gather(file);
    if faults.is_empty() {
        Ok(Loaded { layout, had_comments: spans::has_comments(text) })
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

/// The first tokens are looked at by themselves, so that a long text that is no layout is refused at once.
fn begins_like_a_layout(text: &str) -> Result<(), LoadError> {
    let mut tokens = Tokens::new(text);
    let Some(first) = tokens.next() else {
        return Err(empty());
    };
    // An attribute such as #![enable(…)], or the name of a struct.
    let named = first.kind == Kind::Word && tokens.next().is_some_and(|next| next.is('('));
    if first.is('(') || first.is('#') || named || tokens.open_comment.is_some() {
        return Ok(());
    }
    Err(no_layout(first))
}

fn empty() -> LoadError {
    LoadError {
        line: 1,
        column: 1,
        says: "the file is empty".into(),
        expected: format!("a layout such as (version: {VERSION})"),
        hint: "open a layout file, or begin a new one".into(),
        place: String::new(),
    }
}

fn no_layout(token: Token) -> LoadError {
    at_token(
        token,
        "this is no layout",
        format!("a layout such as (version: {VERSION})"),
        "a layout file starts with an opening round bracket",
    )
}

/// The version is looked at before everything else: a file of another version may be otherwise unreadable.
fn check_version(text: &str) -> Result<(), LoadError> {
    let wanted = BTreeSet::from([String::new(), "version".to_owned()]);
    let found = spans::places(text, &wanted);
    let Some(outer) = found.get("") else {
        return Err(empty());
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
            Err(no_layout(*outer))
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
    take!(joints runs cuts labels supplies drivers feeds vehicles specials devices bonds trains lineups pictures decisions);
    layout.next_id =
        file.next_id.unwrap_or_else(|| validate::largest_number(&layout).saturating_add(1));
    let mut lying: Vec<Lying> = validate::faults(&layout)
        .into_iter()
        // A number that is too large is told once, where it stands.
        .filter(|fault| file.next_id.is_some() || fault.field != "next_id")
        .map(|fault| {
            let base = fault.entity.and_then(|id| paths.get(&id)).cloned().unwrap_or_default();
            Lying { path: joined(&base, &fault.field), fault }
        })
        .collect();
    for (path, entity) in again {
        // Each is held against the whole layout.
        if lying.len() >= MOST_FAULTS {
            break;
        }
        let id = entity.id();
        let fault = Fault {
            entity: Some(id),
            field: "id".into(),
            says: format!("the id {id} is used twice"),
            expected: "an id that nothing else has".into(),
            hint: format!(
                "give this {} another number; number {} is free",
                kind_word(id),
                layout.next_id
            ),
        };
        lying.push(Lying { path: joined(&path, "id"), fault });
        for fault in validate::faults_of(&layout, &entity) {
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
    let found = spans::places(text, &wanted);
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
