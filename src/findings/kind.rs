//! The kinds of findings, each with its plain word: one list, from which the type and its words are made.
//!
//! The order of the list is the order in which findings of equal weight are told.

use std::fmt;

use serde::Serialize;

macro_rules! kinds {
    ($($(#[$doc:meta])* $name:ident $word:literal;)*) => {
        /// The kind of a finding.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub enum Kind { $($(#[$doc])* $name,)* }

        impl Kind {
            /// Every kind there is.
            pub const ALL: &'static [Kind] = &[$(Kind::$name,)*];

            /// Its plain word.
            pub fn word(self) -> &'static str {
                match self { $(Kind::$name => $word,)* }
            }
        }
    };
}

kinds! {
    /// The settings now oppose at a cut.
    OpposedPolarity "opposed-polarity";
    /// Agreeing settings oppose because of the feed.
    SwappedFeed "swapped-feed";
    /// An idle state fights what the neighbour drives.
    IdleClamp "idle-clamp";
    /// A pole is lifted, or current flows steadily into a supply.
    BackFeed "back-feed";
    /// A driver's pole is charged at the moment of joining.
    Inrush "inrush";
    /// A locomotive speeds up while it stands in two blocks.
    Surge "surge";
    /// DCC beside DC.
    MixedDrive "mixed-drive";
    /// DCC beside DCC out of phase.
    PhaseOpposed "phase-opposed";
    /// Drivers fight over a common rail with no train.
    CommonRailFight "common-rail-fight";
    /// One joined rail is enough because the negatives are shared.
    SharedNegativeShort "shared-negative-short";
    /// Two named blocks are one.
    BlocksMerged "blocks-merged";
    /// A block has no driver.
    Unfed "unfed";
    /// A block has a driver on one rail only.
    HalfFed "half-fed";
    /// A block has two drivers.
    DoublyFed "doubly-fed";
    /// Only one rail is cut.
    OneRailCut "one-rail-cut";
    /// A vehicle closes no circuit somewhere.
    Stall "stall";
    /// An assumed value decides the verdict.
    ValueNotKnown "value-not-known";
    /// A dead short at the far end of a block is fed for ever.
    CoinTestFails "coin-test-fails";
    /// A wire may carry less than what can flow in it for ever.
    WireTooThin "wire-too-thin";
    /// Wires and rails take too much of the voltage.
    VoltDrop "volt-drop";
    /// What hangs on a supply may ask for more than it gives.
    SupplyTooSmall "supply-too-small";
    /// A supply gives up below a trip's threshold.
    SupplyGivesUpFirst "supply-gives-up-first";
    /// Heat and dry air may close a gap.
    GapMayClose "gap-may-close";
    /// Track is fed through rail joiners that may open.
    RestsOnJoiners "rests-on-joiners";
    /// A trip cannot act on the fault that it is there for.
    TripNeverActs "trip-never-acts";
    /// A guard nearer to the supply acts before one nearer to the rails.
    TripOutOfOrder "trip-out-of-order";
    /// Auto-reversers race each other at a cut, or come too late or not at all.
    ReversersRace "reversers-race";
    /// Points are trailed that are set for another road, and that shorts.
    PointsAgainst "points-against";
    /// A frog has the wrong polarity for the road that is set.
    FrogWiredWrong "frog-wired-wrong";
    /// Live points, thrown, join the poles of a driver because a rail beyond the frog is fed.
    FedBeyondFrog "fed-beyond-frog";
    /// Drivers are shorted with no train in some positions of the selectors.
    StandingShort "standing-short";
    /// Not every joint position of the selectors could be looked at.
    SearchNotExhausted "search-not-exhausted";
    /// Track that leads back onto itself the other way round without a gap in both rails.
    LoopUncut "loop-uncut";
    /// Such track with both rails cut in one place only.
    LoopOneCut "loop-one-cut";
    /// Such track with room for a reversing section.
    UnbalancedLoop "unbalanced-loop";
    /// The control inputs make a throttle run backwards: full on at zero.
    ThrottleBackwards "throttle-backwards";
    /// A train bridges both ends of a section, and what lies beyond them does not fit.
    SectionTooShort "section-too-short";
    /// Two vehicles at two cuts join together what neither joins alone.
    TwoTrains "two-trains";
    /// A vehicle can stand where a rail under it is fed by nothing.
    DeadSpot "dead-spot";
    /// Live points and their contact join the poles of a driver for the moment between their movements.
    PointsMidThrow "points-mid-throw";
    /// A wheel reaches from one rail to the other at the end of a frog.
    WheelBridgesFrog "wheel-bridges-frog";
    /// An open live point lies so near to its stock rail that the backs of wheels touch it.
    OpenPoint "open-point";
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
