//! One finding, and the evidence that it rests on: typed numbers, no words.

use super::evidence::{Blind, Bound, CoinEvidence, Narrow, Reversing};
use super::kind::Kind;
use crate::drive::StateWord;
use crate::layout::{
    CutId, DeviceId, DriverId, EntityId, FeedId, JointId, RunId, SpecialId, SupplyId, VehicleId,
};
use crate::rails::BlockId;
use crate::study::{
    Class, EndsApart, GuardId, Longest, LoopSections, Relation, Round, SelectorAt, SideWord,
    Situation, Verdict,
};

/// One thing wrong or worth knowing, with its evidence. Words are made from it by [`crate::report::words()`].
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// Kind.
    pub kind: Kind,
    /// How it counts.
    pub class: Class,
    /// Its weight.
    pub verdict: Verdict,
    /// Cuts concerned, the main one first.
    pub cuts: Vec<CutId>,
    /// Special work at which it is, if it is not at a cut.
    pub special: Option<SpecialId>,
    /// Blocks concerned.
    pub blocks: Vec<BlockId>,
    /// Selectors concerned, in the positions in which it is so.
    pub selectors: Vec<SelectorAt>,
    /// Drivers concerned.
    pub drivers: Vec<DriverId>,
    /// Vehicle concerned.
    pub vehicle: Option<VehicleId>,
    /// What it rests on.
    pub evidence: Evidence,
}

impl Finding {
    /// A finding that is about nothing yet: no cuts, no blocks, no drivers.
    pub fn bare(kind: Kind, class: Class, verdict: Verdict, evidence: Evidence) -> Finding {
        Finding {
            kind,
            class,
            verdict,
            cuts: Vec::new(),
            special: None,
            blocks: Vec::new(),
            selectors: Vec::new(),
            drivers: Vec::new(),
            vehicle: None,
            evidence,
        }
    }
}

/// What a finding rests on: typed numbers, no words.
#[derive(Debug, Clone, PartialEq)]
pub enum Evidence {
    /// A situation at a cut.
    Crossing {
        /// The situation.
        situation: Box<Situation>,
        /// How the settings stand to each other; `None` where one side has no driver.
        relation: Option<Relation>,
        /// Whether it is the situation set now.
        now: bool,
        /// Worst verdict with both rails joined, with only the left, with only the right.
        by_join: [Option<Verdict>; 3],
        /// Whether the conflict needs an idle part (otherwise both drive).
        idles: Vec<(DriverId, StateWord)>,
    },
    /// A pole lifted or fed.
    BackFeed {
        /// The situation.
        situation: Box<Situation>,
        /// How the settings stand to each other.
        relation: Option<Relation>,
        /// Supplies whose pole is lifted: from and to, V.
        lifted: Vec<(SupplyId, f64, f64)>,
        /// Supplies that take current back, A.
        sunk: Vec<(SupplyId, f64)>,
    },
    /// A pole charged at the moment of joining.
    Inrush {
        /// The supply.
        supply: SupplyId,
        /// From which voltage, V.
        from_v: f64,
        /// To which voltage, V.
        to_v: f64,
        /// Current at once, A.
        amps: f64,
        /// Time constant, s.
        tau_s: f64,
        /// Drivers that it trips.
        trips: Vec<DriverId>,
        /// How the settings stand to each other.
        relation: Relation,
    },
    /// Shares of drive: first side, second side, both together.
    Surge([f64; 3]),
    /// Drivers that conflict with no train on the track.
    Fight {
        /// What flows.
        situation: Box<Situation>,
        /// Whether they do so at the settings now.
        now: bool,
    },
    /// Current with no train in a set of positions (those of the finding).
    Standing {
        /// What flows.
        situation: Box<Situation>,
        /// Whether the selectors stand so now.
        now: bool,
        /// How many further sets of positions of the same drivers are not told one by one.
        more: usize,
    },
    /// One wheel on two rails that come too near to each other (in the position of the finding).
    OneWheel {
        /// What flows.
        situation: Box<Situation>,
        /// Where.
        narrow: Narrow,
        /// Whether the points stand so now.
        now: bool,
        /// Clear width between the two rails where they are nearest, mm.
        apart_mm: f64,
        /// Width that the wheel needs there to touch one of them only, mm.
        needs_mm: f64,
        /// How far it rolls with both, mm.
        stretch_mm: f64,
    },
    /// A search that hit its limit.
    NotExhausted,
    /// Drivers that feed one block at once when selectors stand as told.
    FightAt {
        /// What flows, if they conflict.
        situation: Option<Box<Situation>>,
        /// Devices that stand differently than now, and how.
        positions: Vec<(DeviceId, u32)>,
    },
    /// Values whose ranges leave the verdict open: the entity (`None`: the layout) and the field.
    Open {
        /// The situation.
        situation: Box<Situation>,
        /// What to measure.
        measure: Vec<(Option<EntityId>, &'static str)>,
    },
    /// A trip that does not see the fault.
    Blind {
        /// The driver.
        driver: DriverId,
        /// Its threshold, A.
        threshold_a: f64,
        /// How.
        blind: Blind,
    },
    /// Guards of one chain that act in the wrong order in a dead short of its blocks.
    OutOfOrder {
        /// The one nearer to the rails, which should be first.
        lower: GuardId,
        /// The one nearer to the supply.
        upper: GuardId,
        /// Current through the lower one in the short, A.
        amps: f64,
        /// When the lower one acts, s; `None` if it does not.
        lower_s: Option<f64>,
        /// When the upper one acts, s; `None` for a supply that holds its limit.
        upper_s: Option<f64>,
        /// Blocks that the upper one takes down.
        takes_down: Vec<BlockId>,
    },
    /// Auto-reversers that do not do their work at a cut.
    Reversers {
        /// The situation.
        situation: Box<Situation>,
        /// What fails.
        how: Reversing,
    },
    /// A dead short at the far end of a block.
    Coin(Box<CoinEvidence>),
    /// Wires that are too thin for what may flow in them for ever.
    Wire {
        /// The feeds whose wires they are, the thinnest first.
        feeds: Vec<FeedId>,
        /// What may flow for ever, A.
        amps: f64,
        /// What bounds that.
        bound: Bound,
        /// What the thinnest may carry, A.
        bears_a: f64,
        /// Whether the range of the bound leaves it open.
        open: bool,
    },
    /// Voltage that wires and rails take at the far end of a block.
    Drop {
        /// Where.
        run: RunId,
        /// Distance along the run, mm.
        at_mm: f64,
        /// Load, A.
        load_a: f64,
        /// Resistance of wires and rails there and back, Ω.
        wires_ohm: f64,
        /// The supply's open-circuit voltage, V.
        open_v: f64,
    },
    /// What the drivers on a supply can ask of it.
    Asked {
        /// The supply.
        supply: SupplyId,
        /// Its sustained limit, A.
        limit_a: f64,
        /// What its drivers can draw together, A: ratings, or trips where those are lower.
        asked_a: f64,
        /// What one train on each of them draws, A; `None` where no vehicle has a load.
        trains_a: Option<f64>,
    },
    /// A gap that may close.
    Closure {
        /// The rails in which it may.
        rails: Vec<SideWord>,
        /// Length of rail that moves towards the gap, m.
        free_m: f64,
        /// From which temperature, °C.
        from_c: f64,
        /// To which temperature, °C.
        to_c: f64,
        /// Growth of the rail, mm.
        rail_mm: f64,
        /// Movement of the benchwork, mm.
        benchwork_mm: f64,
        /// Width of the cut, mm.
        width_mm: f64,
    },
    /// Rail joiners that a block is fed through.
    Joiners {
        /// Joints, with the length of track that is dead once their joiners open, mm; the most first.
        dead: Vec<(JointId, f64)>,
        /// Joints whose opening leaves all track fed, but by so long a way that the coin test fails.
        coin: Vec<JointId>,
    },
    /// Directions in which a driver's throttle runs backwards.
    Backwards {
        /// The driver.
        driver: DriverId,
        /// When set forward.
        forward: bool,
        /// When set in reverse.
        reverse: bool,
    },
    /// A loop that nothing but more cuts can cure.
    Loop {
        /// The loop.
        round: Round,
        /// The most that can bridge cuts.
        longest: Longest,
    },
    /// Loops with room for reversing sections.
    Sections(Box<LoopSections>),
    /// A block whose ends are bridged at once.
    TooShort {
        /// How far its ends lie apart.
        apart: EndsApart,
        /// What bridges them.
        longest: Longest,
        /// Whether it is to be a reversing section; otherwise it is a short block that a vehicle stands over.
        reversing: bool,
    },
    /// A place on the track, and how much track it concerns, mm.
    Place {
        /// Run.
        run: RunId,
        /// Distance along it, mm.
        at_mm: f64,
        /// Length of track concerned, mm.
        length_mm: f64,
    },
}
