//! The findings: one room per kind, with its rule, evidence, words, cures and tests. A rule looks at what was derived and
//! solved and returns a list; it computes no current of its own.
//!
//! [`table`](self::Kind) lists the kinds, `merge` makes one list of what the rules return, `shared` holds rules of which
//! several kinds are results.

mod check;
mod finding;
mod identity;
mod matching;
mod merge;
mod near;
mod report;
mod shared;
mod table;
pub mod units;
mod words;

mod back_feed;
mod blocks_merged;
mod boosters_unequal;
mod coin_test_fails;
mod common_rail_fight;
mod dead_spot;
mod decided;
mod doubly_fed;
mod fed_beyond_frog;
mod frog_wired_wrong;
mod gap_may_close;
mod half_fed;
mod idle_clamp;
mod inrush;
mod loop_one_cut;
mod loop_uncut;
mod mixed_drive;
mod not_explained;
mod one_rail_cut;
mod open_point;
mod opposed_polarity;
mod phase_opposed;
mod phase_skewed;
mod points_against;
mod points_mid_throw;
mod rests_on_joiners;
mod reversers_race;
mod search_not_exhausted;
mod section_too_short;
mod shared_negative_short;
mod stall;
mod standing_short;
mod supply_gives_up_first;
mod supply_too_small;
mod surge;
mod swapped_feed;
mod throttle_backwards;
mod trip_never_acts;
mod trip_out_of_order;
mod two_stations;
mod two_trains;
mod unbalanced_loop;
mod unfed;
mod value_not_known;
mod volt_drop;
mod wheel_bridges_frog;
mod wire_too_thin;

pub use crate::study::types::*;
pub use crate::study::{Memo, Progress, Stopped, Study};
pub use check::{Checker, apart_of, check, check_apart, report_of};
pub use coin_test_fails::{Beyond, Evidence as CoinEvidence};
pub use decided::{Decisions, about_words, again, ground, state_words, weight};
pub use finding::{Cure, Evident, Finding, Found, Place, When};
pub use frog_wired_wrong::Evidence as FrogWiredWrong;
pub use identity::FindingId;
pub use matching::{Told, nearest, same_in_both};
pub(crate) use near::Near;
pub use report::*;
pub use reversers_race::Reversing;
pub use section_too_short::Evidence as TooShort;
pub use shared::change::Change;
pub use shared::crossing::{Evidence as CrossingEvidence, Lift};
pub use shared::narrow::{Evidence as WheelBetween, Narrow};
pub(crate) use table::cures;
pub use table::{Evidence, Kind, Scope};
pub use wire_too_thin::Bound;
pub use words::{Caution, Text, Words, plain_position, position_words, selector_name, words};

use crate::study::{Coin, Known, View};

/// Titles of kinds for the middle of a sentence.
pub fn titles(kinds: &[Kind]) -> Vec<String> {
    kinds.iter().map(|kind| kind.title().to_lowercase()).collect()
}

#[cfg(test)]
mod pair;
#[cfg(test)]
#[path = "../../tests/it/support/yards/mod.rs"]
mod yards;
