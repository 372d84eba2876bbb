//! The identity of a finding, which survives re-checks: windows, decisions and comparisons hold on to it.

use std::cmp::Ordering;
use std::collections::BTreeSet;
use std::fmt;

use serde::{Deserialize, Serialize};

use super::finding::{Found, Place};
use crate::study::SelectorAt;

/// Identity of a finding: its kind, places, parties and positions, as a short text such as `idle-clamp@c1:d1+d2`. That of
/// a finding about the settings now ends in `!now`.
///
/// Figures, class and verdict are not part of it, so that it stays the same while a throttle moves.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct FindingId(String);

impl FindingId {
    /// As text.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for FindingId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl<E> Found<E> {
    /// Its identity.
    pub fn id(&self) -> FindingId {
        let mut id = self.kind.to_string();
        add(&mut id, '@', "+", sorted(&self.places).iter());
        let drivers = sorted(&self.drivers).into_iter().map(|d| d.to_string());
        let things = sorted(&self.things).into_iter().map(|t| t.to_string());
        add(&mut id, ':', "+", drivers.chain(things));
        let sets: BTreeSet<Vec<SelectorAt>> =
            self.positions.iter().map(|set| sorted(set)).collect();
        add(&mut id, '/', "|", sets.iter().map(|set| set_words(set)));
        if self.now {
            id.push_str("!now");
        }
        FindingId(id)
    }
}

/// Appends a mark and a list, or nothing if the list is empty.
fn add<T: fmt::Display>(
    id: &mut String,
    mark: char,
    between: &str,
    parts: impl Iterator<Item = T>,
) {
    let parts: Vec<String> = parts.map(|part| part.to_string()).collect();
    if !parts.is_empty() {
        id.push(mark);
        id.push_str(&parts.join(between));
    }
}

fn set_words(set: &[SelectorAt]) -> String {
    let parts: Vec<String> = set.iter().map(|s| format!("{}={}", s.id, s.position)).collect();
    parts.join(",")
}

/// The distinct elements in ascending order.
pub(super) fn sorted<T: Ord + Clone>(list: &[T]) -> Vec<T> {
    list.iter().cloned().collect::<BTreeSet<T>>().into_iter().collect()
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Place::Cut(id) => id.fmt(f),
            Place::Special(id) => id.fmt(f),
            Place::Stretch { run, from_mm, to_mm } => write!(f, "{run}[{from_mm:.0}-{to_mm:.0}]"),
            Place::Block(id) => id.fmt(f),
        }
    }
}

impl Eq for Place {}

impl PartialOrd for Place {
    fn partial_cmp(&self, other: &Place) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Place {
    fn cmp(&self, other: &Place) -> Ordering {
        let rank = |place: &Place| match place {
            Place::Cut(_) => 0,
            Place::Special(_) => 1,
            Place::Stretch { .. } => 2,
            Place::Block(_) => 3,
        };
        match (self, other) {
            (Place::Cut(a), Place::Cut(b)) => a.cmp(b),
            (Place::Special(a), Place::Special(b)) => a.cmp(b),
            (Place::Block(a), Place::Block(b)) => a.cmp(b),
            (
                Place::Stretch { run: a, from_mm: a_from, to_mm: a_to },
                Place::Stretch { run: b, from_mm: b_from, to_mm: b_to },
            ) => a.cmp(b).then(a_from.total_cmp(b_from)).then(a_to.total_cmp(b_to)),
            _ => rank(self).cmp(&rank(other)),
        }
    }
}
