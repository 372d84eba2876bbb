//! The changes that are tried on a numeric case, in the order in which ties are decided.

use crate::straddle::ix::{DriverIx, PartyIx};

/// A change to a numeric case. The order of the variants decides between sets of equal size.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Counterfactual {
    /// One of several drivers on one pair of nets is taken off.
    TakenOff(DriverIx),
    /// Drivers that share a supply get a supply each.
    SuppliesDivided,
    /// The wires of a party's feeds are exchanged.
    WiresExchanged(PartyIx),
    /// A controller whose supply is off does not wake through its diodes.
    StaysAsleep(DriverIx),
    /// A driver's idle state is high-impedance.
    Coasts(DriverIx),
    /// All powered supplies, and all smooth throttles that drive, stand at one voltage.
    OneVoltage,
    /// A booster's phase is exchanged.
    PhaseExchanged(DriverIx),
    /// All boosters repeat one signal.
    OneSignal,
    /// A booster repeats its station's signal without delay.
    NoDelay(DriverIx),
    /// A booster is silent.
    Silenced(DriverIx),
    /// Ties between negatives are opened and shared supplies divided.
    TiesOpened,
}

/// What a counterfactual proves to be the cause.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Cause {
    /// Two drivers on one pair of nets.
    DoublyFed,
    /// Drivers on one supply and a common rail.
    CommonRail,
    /// Drivers of opposite polarity.
    Polarity,
    /// A board whose supply is off wakes and idles.
    Wakes,
    /// An idle state that clamps or opposes.
    Idle,
    /// Supplies, or levels of smooth throttles, of different voltage.
    Voltage,
    /// Boosters of opposite phase.
    Phase,
    /// Boosters of different stations.
    Stations,
    /// Boosters whose edges differ in time.
    Delay,
    /// DCC beside something else.
    Mixed,
    /// Negatives that are tied, or a supply that is shared.
    Ties,
    /// No set of counterfactuals removes the conflict.
    NotExplained,
}

impl Counterfactual {
    /// What it proves to be the cause.
    pub fn cause(self) -> Cause {
        match self {
            Counterfactual::TakenOff(_) => Cause::DoublyFed,
            Counterfactual::SuppliesDivided => Cause::CommonRail,
            Counterfactual::WiresExchanged(_) => Cause::Polarity,
            Counterfactual::StaysAsleep(_) => Cause::Wakes,
            Counterfactual::Coasts(_) => Cause::Idle,
            Counterfactual::OneVoltage => Cause::Voltage,
            Counterfactual::PhaseExchanged(_) => Cause::Phase,
            Counterfactual::OneSignal => Cause::Stations,
            Counterfactual::NoDelay(_) => Cause::Delay,
            Counterfactual::Silenced(_) => Cause::Mixed,
            Counterfactual::TiesOpened => Cause::Ties,
        }
    }

    /// The driver whose settings or parts it changes, if it changes those of one only.
    pub fn driver(self) -> Option<DriverIx> {
        match self {
            Counterfactual::TakenOff(at)
            | Counterfactual::StaysAsleep(at)
            | Counterfactual::Coasts(at)
            | Counterfactual::PhaseExchanged(at)
            | Counterfactual::NoDelay(at)
            | Counterfactual::Silenced(at) => Some(at),
            Counterfactual::SuppliesDivided
            | Counterfactual::WiresExchanged(_)
            | Counterfactual::OneVoltage
            | Counterfactual::OneSignal
            | Counterfactual::TiesOpened => None,
        }
    }
}
