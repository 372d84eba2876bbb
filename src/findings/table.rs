//! The table of findings: one line per kind. It makes the kinds, their names, their scopes, the evidence of all kinds as one
//! type, and the calls into their rooms. A kind without a rule, words, cures, a name or a scope does not compile.
//!
//! A line reads: variant, name in JSON, name for people, room, scope. `grouped by` names the room's function that tells
//! whether two of its findings have one cause, `covered by` the one that tells whether the first makes the second needless.
//!
//! The order of the lines is the order in which findings of equal weight are listed.

use std::fmt;

use serde::Serialize;

use super::finding::{Cure, Evident, Finding};
use super::near::Near;
use super::words::{Text, Words};
use super::*;
use crate::study::{Situation, View};

/// Which views a rule is asked about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Scope {
    /// The view of now: the rule depends on how things are set or stand now.
    Now,
    /// The view of every set of positions.
    EveryPosition,
    /// The view of now, once for the whole layout: the rule depends on no setting, and goes over positions by itself.
    Layout,
}

macro_rules! findings {
    ($(
        $(#[$doc:meta])*
        $name:ident $word:literal $title:literal $room:ident $scope:ident
        $(, grouped by $same:path)? $(, covered by $covers:path)?;
    )*) => {
        /// The kind of a finding.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub enum Kind { $($(#[$doc])* $name,)* }

        impl Kind {
            /// Every kind there is.
            pub const ALL: &'static [Kind] = &[$(Kind::$name,)*];

            /// Its name in JSON.
            pub fn word(self) -> &'static str {
                match self { $(Kind::$name => $word,)* }
            }

            /// Its name for people.
            pub fn title(self) -> &'static str {
                match self { $(Kind::$name => $title,)* }
            }

            /// Which views its rule is asked about.
            pub fn scope(self) -> Scope {
                match self { $(Kind::$name => Scope::$scope,)* }
            }

            /// Asks its rule about a view.
            pub fn find(self, view: &View) -> Vec<Finding> {
                match self {
                    $(Kind::$name => {
                        let found = $room::find(view).into_iter();
                        found.map(|f| f.map(|e| Evidence::$name(Box::new(e)))).collect()
                    })*
                }
            }
        }

        /// The evidence of a finding of any kind: typed numbers, no words.
        #[derive(Debug, Clone, PartialEq)]
        pub enum Evidence { $($(#[$doc])* $name(Box<$room::Evidence>),)* }

        impl Evidence {
            /// The kind whose evidence it is.
            pub fn kind(&self) -> Kind {
                match self { $(Evidence::$name(_) => Kind::$name,)* }
            }

            /// The situation that it rests on, if it rests on one.
            pub fn situation(&self) -> Option<&Situation> {
                match self { $(Evidence::$name(e) => e.situation(),)* }
            }

            /// The changes that prove its cause.
            pub fn changes(&self) -> &[Change] {
                match self { $(Evidence::$name(e) => e.changes(),)* }
            }

            /// The same as words: `coasts d1`.
            pub fn causes(&self) -> Vec<String> {
                self.changes().iter().map(Change::word).collect()
            }
        }

        /// The words of the finding of a context.
        pub(super) fn words(w: &Words) -> Text {
            match &w.finding.evidence { $(Evidence::$name(e) => $room::words(e, w),)* }
        }

        /// Cures that a finding's room proposes, the plainest first; each is to be proved by checking again.
        pub(crate) fn cures(near: &Near) -> Vec<Cure> {
            match &near.finding.evidence { $(Evidence::$name(e) => $room::cures(e, near),)* }
        }

        /// Layouts that give a kind, with their twins.
        #[cfg(test)]
        pub(super) fn pairs(kind: Kind) -> Vec<super::pair::Pair> {
            match kind { $(Kind::$name => $room::tests::pairs(),)* }
        }

        /// Whether two findings have one cause, so that one finding with the places of both stands for them.
        pub(super) fn same_cause(a: &Finding, b: &Finding) -> bool {
            if a.kind != b.kind {
                return false;
            }
            match a.kind { $(Kind::$name => false $(|| $same(a, b))?,)* }
        }

        /// True if findings of a kind can have one cause.
        pub(super) fn has_groups(kind: Kind) -> bool {
            match kind { $(Kind::$name => false $(|| { let _ = $same; true })?,)* }
        }

        /// True if a finding of a kind can make another needless.
        pub(super) fn has_covers(kind: Kind) -> bool {
            match kind { $(Kind::$name => false $(|| { let _ = $covers; true })?,)* }
        }

        /// Whether a finding makes another of its kind needless.
        pub(super) fn covers(finding: &Finding, other: &Finding) -> bool {
            if finding.kind != other.kind {
                return false;
            }
            match finding.kind { $(Kind::$name => false $(|| $covers(finding, other))?,)* }
        }
    };
}

findings! {
    /// The settings now oppose at a cut.
    OpposedPolarity "opposed-polarity" "Rails oppose at a gap" opposed_polarity EveryPosition, grouped by opposed_polarity::same_cause;
    /// Agreeing settings oppose because of the feed.
    SwappedFeed "swapped-feed" "Feed is swapped" swapped_feed EveryPosition;
    /// An idle state fights what the neighbour drives.
    IdleClamp "idle-clamp" "Idle state clamps the neighbour" idle_clamp EveryPosition, grouped by idle_clamp::same_cause;
    /// A pole is lifted, or current flows steadily into a supply.
    BackFeed "back-feed" "Current feeds back into a supply" back_feed EveryPosition, grouped by back_feed::same_cause;
    /// A driver's pole is charged at the moment of joining.
    Inrush "inrush" "Capacitors charge through the gap" inrush Now, grouped by inrush::same_cause;
    /// A locomotive speeds up while it stands in two blocks.
    Surge "surge" "Locomotive surges over the gap" surge Now, grouped by surge::same_cause;
    /// DCC beside DC.
    MixedDrive "mixed-drive" "DCC meets DC" mixed_drive EveryPosition, grouped by mixed_drive::same_cause;
    /// DCC beside DCC out of phase.
    PhaseOpposed "phase-opposed" "Boosters are out of phase" phase_opposed EveryPosition, grouped by phase_opposed::same_cause;
    /// Edges of two boosters differ in time.
    PhaseSkewed "phase-skewed" "Edges of boosters differ in time" phase_skewed EveryPosition, grouped by phase_skewed::same_cause;
    /// Boosters of unequal voltage feed each other.
    BoostersUnequal "boosters-unequal" "Boosters of unequal voltage" boosters_unequal EveryPosition, grouped by boosters_unequal::same_cause;
    /// Boosters of two command stations meet.
    TwoStations "two-stations" "Two command stations meet" two_stations EveryPosition, grouped by two_stations::same_cause;
    /// A conflict that no known change removes.
    NotExplained "not-explained" "Conflict is not explained" not_explained EveryPosition, grouped by not_explained::same_cause;
    /// Drivers fight over a common rail with no train.
    CommonRailFight "common-rail-fight" "Drivers fight over a common rail" common_rail_fight Now;
    /// One joined rail is enough because the negatives are shared.
    SharedNegativeShort "shared-negative-short" "Shared negative shorts through one rail" shared_negative_short EveryPosition, grouped by shared_negative_short::same_cause;
    /// Two named blocks are one.
    BlocksMerged "blocks-merged" "Two names, one block" blocks_merged Layout;
    /// A block has no driver.
    Unfed "unfed" "Block has no feed" unfed Layout;
    /// A block has a driver on one rail only.
    HalfFed "half-fed" "Block is fed on one rail" half_fed Layout;
    /// A block has two drivers.
    DoublyFed "doubly-fed" "Two drivers feed one block" doubly_fed Layout;
    /// Only one rail is cut.
    OneRailCut "one-rail-cut" "Only one rail is cut" one_rail_cut Layout;
    /// A vehicle closes no circuit somewhere.
    Stall "stall" "Vehicle stalls on the gap" stall EveryPosition;
    /// An assumed value decides the verdict.
    ValueNotKnown "value-not-known" "Assumed value decides" value_not_known EveryPosition;
    /// A dead short at the far end of a block is fed without end.
    CoinTestFails "coin-test-fails" "Short at the far end trips nothing" coin_test_fails Now;
    /// A wire may carry less than what can flow in it without end.
    WireTooThin "wire-too-thin" "Wire is too thin" wire_too_thin Layout;
    /// Wires and rails take too much of the voltage.
    VoltDrop "volt-drop" "Voltage drops along the block" volt_drop Layout;
    /// What hangs on a supply may ask for more than it gives.
    SupplyTooSmall "supply-too-small" "Supply is too small" supply_too_small Layout;
    /// A supply gives up below a trip's threshold.
    SupplyGivesUpFirst "supply-gives-up-first" "Supply gives up before the trip" supply_gives_up_first Layout;
    /// Heat and dry air may close a gap.
    GapMayClose "gap-may-close" "Gap may close" gap_may_close Layout;
    /// Track is fed through rail joiners that may open.
    RestsOnJoiners "rests-on-joiners" "Track relies on rail joiners" rests_on_joiners Layout;
    /// A trip cannot act on the fault that it is there for.
    TripNeverActs "trip-never-acts" "Trip does not see the fault" trip_never_acts Now;
    /// A guard nearer to the supply acts before one nearer to the rails.
    TripOutOfOrder "trip-out-of-order" "Trips act in the wrong order" trip_out_of_order Layout;
    /// Auto-reversers race each other at a cut, or come too late or not at all.
    ReversersRace "reversers-race" "Auto-reverser fails at a gap" reversers_race Now;
    /// Points are trailed that are set for another road, and that shorts.
    PointsAgainst "points-against" "Points are set against the train" points_against EveryPosition;
    /// A frog has the wrong polarity for the road that is set.
    FrogWiredWrong "frog-wired-wrong" "Frog has the wrong polarity" frog_wired_wrong EveryPosition, covered by frog_wired_wrong::covers;
    /// Live points, thrown, join the poles of a driver because a rail beyond the frog is fed.
    FedBeyondFrog "fed-beyond-frog" "Rail beyond a live frog is fed" fed_beyond_frog Layout;
    /// Drivers are shorted with no train in some positions of the selectors.
    StandingShort "standing-short" "Short with no train" standing_short Layout;
    /// Not every joint position of the selectors could be looked at.
    SearchNotExhausted "search-not-exhausted" "Search for shorts is not complete" search_not_exhausted Layout;
    /// Track that leads back onto itself the other way round without a gap in both rails.
    LoopUncut "loop-uncut" "Loop without a gap" loop_uncut Layout;
    /// Such track with both rails cut in one place only.
    LoopOneCut "loop-one-cut" "Loop with one gap" loop_one_cut Layout;
    /// Such track with room for a reversing section.
    UnbalancedLoop "unbalanced-loop" "Loop needs a reversing section" unbalanced_loop Layout;
    /// The control inputs make a throttle run backwards: full on at zero.
    ThrottleBackwards "throttle-backwards" "Throttle runs backwards" throttle_backwards Layout;
    /// A train bridges both ends of a section, and what lies beyond them does not fit.
    SectionTooShort "section-too-short" "Section is too short" section_too_short EveryPosition, covered by section_too_short::covers;
    /// Two vehicles at two cuts join together what neither joins alone.
    TwoTrains "two-trains" "Two trains short together" two_trains Now;
    /// A vehicle can stand where a rail under it is fed by nothing.
    DeadSpot "dead-spot" "Dead spot" dead_spot Now;
    /// Live points and their contact join the poles of a driver for the moment between their movements.
    PointsMidThrow "points-mid-throw" "Short while points are thrown" points_mid_throw Layout;
    /// A wheel reaches from one rail to the other at the end of a frog.
    WheelBridgesFrog "wheel-bridges-frog" "Wheel bridges a frog" wheel_bridges_frog Layout;
    /// An open live point lies so near to its stock rail that the backs of wheels touch it.
    OpenPoint "open-point" "Wheel touches an open point" open_point Layout;
}

impl fmt::Display for Kind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

impl Serialize for Kind {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.word())
    }
}
