//! The same layout with other identities, or with runs counted from their other ends.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::Value;

use super::change::Change;
use crate::layout::model::{EntityId, Layout, RunId};

/// Fields that hold what somebody wrote: an identity in them is a word like any other.
const WRITTEN: [&str; 11] = [
    "name", "notes", "gang", "station", "shared", "path", "said", "owner", "note", "finding",
    "ground",
];

/// A layout with other identities; those that are not among `ids` stay. Two things must not get one identity.
///
/// # Errors
/// A thing cannot be written down or read again, as words of the reader; no layout that was read gives one.
pub fn renamed(layout: &Layout, ids: &BTreeMap<EntityId, EntityId>) -> Result<Layout, String> {
    let ids: BTreeMap<String, String> =
        ids.iter().map(|(from, to)| (from.to_string(), to.to_string())).collect();
    let mut new = Layout::default();
    new.clone_from(layout);
    macro_rules! lists {
        ($($list:ident)*) => {$(
            new.$list.clear();
            for entity in layout.$list.values() {
                let entity = written_anew(entity, &ids)?;
                new.$list.insert(entity.id, entity);
            }
        )*};
    }
    lists!(joints runs specials cuts bonds labels supplies drivers devices feeds vehicles trains lineups pictures decisions);
    Ok(new)
}

fn written_anew<T: Serialize + DeserializeOwned>(
    entity: &T,
    ids: &BTreeMap<String, String>,
) -> Result<T, String> {
    let mut value = serde_json::to_value(entity).map_err(|why| why.to_string())?;
    rename(&mut value, ids);
    serde_json::from_value(value).map_err(|why| why.to_string())
}

fn rename(value: &mut Value, ids: &BTreeMap<String, String>) {
    match value {
        Value::String(text) => {
            // A contact is called after its special work: `w8.contact`.
            let (id, part) = match text.split_once('.') {
                Some((id, part)) => (id, Some(part)),
                None => (text.as_str(), None),
            };
            if let Some(new) = ids.get(id) {
                *text = part.map_or_else(|| new.clone(), |part| format!("{new}.{part}"));
            }
        }
        Value::Array(items) => items.iter_mut().for_each(|item| rename(item, ids)),
        Value::Object(fields) => {
            let fields = fields.iter_mut().filter(|(name, _)| !WRITTEN.contains(&name.as_str()));
            fields.for_each(|(_, item)| rename(item, ids));
        }
        Value::Null | Value::Bool(_) | Value::Number(_) => {}
    }
}

/// A layout with some of its runs counted from their other ends. What stands on them stays where it is. Bridges of turntables
/// and traversers are left: their positions count from the start of the bridge.
pub fn turned_round(layout: &Layout, runs: &BTreeSet<RunId>) -> Layout {
    let mut new = layout.clone();
    let next_id = new.next_id;
    let (before, whole, made) = (BTreeMap::new(), None, Vec::new());
    let mut change = Change { layout: &mut new, before, whole, next_id, made };
    let bridges: BTreeSet<RunId> =
        layout.specials.values().filter_map(|special| special.work.bridge()).collect();
    for run in runs.difference(&bridges) {
        if let Some(run) = change.layout.runs.get(run).cloned() {
            change.reverse(run);
        }
    }
    new
}
