//! Supplies.

use serde::{Deserialize, Serialize};

use super::ids::SupplyId;
use super::skip::{is_default, yes};
use crate::units::Quantity;

/// What a supply does when asked for more than its limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub enum LimitKind {
    /// Holds the current at the limit.
    #[default]
    Constant,
    /// Gives less current the harder it is loaded.
    FoldBack,
    /// Switches off and tries again.
    Hiccup,
}

/// The sustained current limit of a supply.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Limit {
    /// Sustained current, A.
    pub amps: Quantity,
    /// What it does there.
    #[serde(default)]
    pub kind: LimitKind,
}

/// A tie of a supply's negative pole to something shared: a board's ground, mains earth, a booster common.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SharedNegative {
    /// Name of what it is tied to; supplies that name the same thing are joined there.
    pub name: String,
    /// Resistance of the tie, Ω.
    #[serde(default = "default_tie_ohm")]
    pub ohm: Quantity,
}

/// Resistance of a tie when the file does not say, Ω (a short length of wire and a terminal; common practice, no source).
pub fn default_tie_ohm() -> Quantity {
    Quantity::assumed(0.02, 0.005, 0.1)
}

/// A power supply.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Supply {
    /// Identity.
    pub id: SupplyId,
    /// A printable name; empty for none.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub name: String,
    /// Open-circuit voltage, V. Of each half, if it is split.
    pub open_v: Quantity,
    /// Source resistance, Ω. Of each half, if it is split.
    pub source_ohm: Quantity,
    /// Sustained current limit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub limit: Option<Limit>,
    /// Bulk capacitance, F.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bulk_f: Option<Quantity>,
    /// Series resistance of the bulk capacitance, Ω.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bulk_ohm: Option<Quantity>,
    /// Whether it can take current back (a battery can, an ordinary regulated supply cannot).
    #[serde(default)]
    pub can_sink: bool,
    /// What its negative pole is tied to; without it the supply is isolated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub negative: Option<SharedNegative>,
    /// Highest voltage that may stand between its poles, V.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bearable_v: Option<Quantity>,
    /// A split supply has a midpoint between two equal halves.
    #[serde(default, skip_serializing_if = "is_default")]
    pub split: bool,
    /// Whether it is switched on now.
    #[serde(default = "yes")]
    pub powered: bool,
    /// Whether operators switch it off by itself while others stay on.
    #[serde(default, skip_serializing_if = "is_default")]
    pub separately_switched: bool,
    /// Free words of the user.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub notes: String,
}
