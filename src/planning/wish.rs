//! Wishes: what is to be controlled apart.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::layout::{DriverId, Layout, Rail, RunId, TrainId, shown};

/// Which rails are cut between stretches.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub enum Hand {
    /// Both.
    #[default]
    Both,
    /// The rail of one hand stays common to all. Hands are those of the reference direction of the track.
    Common(Rail),
}

/// A place on the track.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct At {
    /// The run.
    pub run: RunId,
    /// Distance along it, mm.
    pub at_mm: f64,
}

/// A stretch that is controlled by itself and live in every position of the selectors.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Stretch {
    /// Its name.
    pub name: String,
    /// Places that belong to it.
    pub at: Vec<At>,
    /// The driver that is to feed it. Without one: that of a feed which is there, else one that feeds nothing, else a new one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub driver: Option<DriverId>,
    /// True if a train of its own stands or runs here while others do: no part of it, and no track between its places, is a
    /// reversing section.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub occupied: bool,
    /// The hold whose block it is, by its index in the wishes.
    #[serde(skip)]
    pub(super) hold: Option<usize>,
}

impl Stretch {
    /// A stretch of one name with its places.
    pub fn new(name: &str, at: Vec<At>) -> Stretch {
        Stretch { name: name.to_owned(), at, driver: None, occupied: false, hold: None }
    }
}

/// The longest thing that runs.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub enum Longest {
    /// A train of the layout.
    Train(TrainId),
    /// Its length, of which it bridges all, mm.
    Mm(f64),
}

/// A place where a train stands while others run.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Hold {
    /// The middle of where it stands.
    pub at: At,
    /// The train. Without it: the longest.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub train: Option<Longest>,
    /// True if its track may be dead while it stands there.
    #[serde(default)]
    pub may_go_dark: bool,
}

/// What a plan is to meet.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Wishes {
    /// Stretches that are to be apart from each other.
    pub apart: Vec<Stretch>,
    /// Which rails are cut.
    #[serde(default)]
    pub rails: Hand,
    /// Stretches of runs in which nothing is cut: run, from, to (mm).
    #[serde(default)]
    pub never: Vec<(RunId, f64, f64)>,
    /// The longest thing that runs. Without it: the longest train or vehicle of the layout.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub longest: Option<Longest>,
    /// Where trains stand while others run.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub hold: Vec<Hold>,
}

/// Why there is no plan, in words for a person.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct NoPlan(pub String);

/// The wishes that the names on a layout stand for: each name is a stretch of its own.
pub fn wishes_of(layout: &Layout) -> Wishes {
    let mut named: BTreeMap<&str, Vec<At>> = BTreeMap::new();
    for label in layout.labels.values().filter(|label| !label.name.trim().is_empty()) {
        named.entry(&label.name).or_default().push(At { run: label.run, at_mm: label.at_mm });
    }
    let apart = named.into_iter().map(|(name, at)| Stretch::new(name, at));
    Wishes { apart: apart.collect(), ..Wishes::default() }
}

/// Wishes from the text of a file in RON.
///
/// # Errors
/// The text is no wishes: with line and column.
pub fn wishes_text(text: &str) -> Result<Wishes, NoPlan> {
    ron::from_str(text).map_err(|error| {
        NoPlan(
            shown(&format!(
                "line {}, column {}: {}",
                error.span.start.line, error.span.start.col, error.code
            ))
            .into_owned(),
        )
    })
}
