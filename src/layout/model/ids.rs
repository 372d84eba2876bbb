//! Typed identities. In the file and in reports an identity is a letter and a number: `"r3"`, `"c12"`.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// A text that is not an identity of the wanted kind.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "expected an id such as \"{letter}1\" (the letter {letter:?} and a number), found {found:?}"
)]
pub struct NotAnId {
    /// The letter that identities of the wanted kind start with.
    pub letter: char,
    /// What stood there instead.
    pub found: String,
}

macro_rules! ids {
    ($($(#[$doc:meta])* $name:ident $letter:literal $variant:ident;)*) => {
        $(
            $(#[$doc])*
            #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
            pub struct $name(pub u32);

            impl $name {
                /// The letter that such an identity starts with.
                pub const LETTER: char = $letter;
            }

            impl fmt::Display for $name {
                fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                    write!(f, "{}{}", $letter, self.0)
                }
            }

            impl FromStr for $name {
                type Err = NotAnId;
                fn from_str(text: &str) -> Result<Self, NotAnId> {
                    let wrong = || NotAnId { letter: $letter, found: text.to_owned() };
                    let digits = text.strip_prefix($letter).ok_or_else(wrong)?;
                    if digits.is_empty()
                        || !digits.bytes().all(|b| b.is_ascii_digit())
                        || (digits.len() > 1 && digits.starts_with('0'))
                    {
                        return Err(wrong());
                    }
                    digits.parse().map(Self).map_err(|_| wrong())
                }
            }

            impl Serialize for $name {
                fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                    serializer.collect_str(self)
                }
            }

            impl<'de> Deserialize<'de> for $name {
                fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                    let text = String::deserialize(deserializer)?;
                    text.parse().map_err(serde::de::Error::custom)
                }
            }

            impl From<$name> for EntityId {
                fn from(id: $name) -> EntityId {
                    EntityId::$variant(id)
                }
            }
        )*

        /// Anything on a layout that has an identity.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub enum EntityId {
            $(#[allow(missing_docs)] $variant($name),)*
        }

        impl EntityId {
            /// The number behind the letter; unique over all kinds within one layout that the tool wrote.
            pub fn number(self) -> u32 {
                match self { $(EntityId::$variant(id) => id.0,)* }
            }

            /// An identity of the same kind with another number.
            pub fn with_number(self, number: u32) -> EntityId {
                match self { $(EntityId::$variant(_) => EntityId::$variant($name(number)),)* }
            }
        }

        impl FromStr for EntityId {
            type Err = String;
            fn from_str(text: &str) -> Result<Self, String> {
                $(if let Ok(id) = text.parse::<$name>() {
                    return Ok(id.into());
                })*
                Err(format!("{text:?} is no identity such as c12 or d3"))
            }
        }

        impl fmt::Display for EntityId {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                match self { $(EntityId::$variant(id) => id.fmt(f),)* }
            }
        }
    };
}

ids! {
    /// A place where run ends meet, or where a run ends.
    JointId 'j' Joint;
    /// A stretch of track between two joints.
    RunId 'r' Run;
    /// A gap in one or both rails.
    CutId 'c' Cut;
    /// A name that the user gives to the block at a place.
    LabelId 'n' Label;
    /// A power supply.
    SupplyId 's' Supply;
    /// A driver: what turns a supply into track power.
    DriverId 'd' Driver;
    /// A pair of feeders from a driver to the rails.
    FeedId 'f' Feed;
    /// A locomotive, railcar, carriage or wagon.
    VehicleId 'v' Vehicle;
    /// Special work: a turnout, a diamond, a slip, a turntable.
    SpecialId 'w' Special;
    /// Something in the feed chain: a selector, a switch, a breaker.
    DeviceId 'x' Device;
    /// A bond between two rails.
    BondId 'y' Bond;
    /// Vehicles coupled in order.
    TrainId 't' Train;
    /// Throttles and selectors as they are set together.
    LineupId 'l' Lineup;
    /// A picture under the plan.
    PictureId 'p' Picture;
    /// A decision on a finding.
    DecisionId 'k' Decision;
}
