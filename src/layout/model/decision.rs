//! Decisions of a club: what is to become of a finding.

use serde::{Deserialize, Serialize};

use super::ids::{DecisionId, LineupId};

/// State of a decision on a finding.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize,
)]
pub enum Decided {
    /// Nothing is decided.
    #[default]
    Open,
    /// It is to be cured.
    ToDo,
    /// Its cure is made.
    Done,
    /// It stays as it is.
    Accepted,
}

impl Decided {
    /// All of them, in the order in which a finding goes through them.
    pub const ALL: [Decided; 4] = [Decided::Open, Decided::ToDo, Decided::Done, Decided::Accepted];

    /// In words.
    pub fn word(self) -> &'static str {
        match self {
            Decided::Open => "open",
            Decided::ToDo => "to do",
            Decided::Done => "done",
            Decided::Accepted => "accepted as it is",
        }
    }
}

/// A decision on a finding. The check takes no notice of it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Decision {
    /// Identity.
    pub id: DecisionId,
    /// Identity of the finding, as reports give it.
    pub finding: String,
    /// What the finding said when this was noted.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub said: String,
    /// How the finding counted when this was noted, such as `short, 9.7 A`. Where it counts otherwise now, the ground of the
    /// decision has changed.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub ground: String,
    /// What is to become of the finding.
    #[serde(default, skip_serializing_if = "super::skip::is_default")]
    pub state: Decided,
    /// What was decided.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub decision: String,
    /// Who sees to it.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub owner: String,
    /// When it was decided, or by when it is to be done.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub date: String,
    /// The lineup in which the finding is looked at.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lineup: Option<LineupId>,
    /// Free words of the user.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub notes: String,
}
