//! Ways of standing over a cut.

use crate::rails::PlanNet;

/// Which way round a vehicle stands on the ruler.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Facing {
    /// Its front leads up the ruler.
    FrontAhead,
    /// Its rear leads up the ruler.
    RearAhead,
}

impl Facing {
    /// Both.
    pub const BOTH: [Facing; 2] = [Facing::FrontAhead, Facing::RearAhead];
}

/// Nets under the wheels of one side, each with the number of wheels on it, by net: nets of a plan, or of a wiring.
pub type Touched<N> = Vec<(N, u32)>;

/// A way of standing over the cut: what touches what while the leading coupler moves a certain way up the ruler.
#[derive(Debug, Clone, PartialEq)]
pub struct Stand {
    /// Facing.
    pub facing: Facing,
    /// Place of the leading coupler where it begins, mm on the ruler.
    pub lead_mm: f64,
    /// How far the vehicle rolls while at least this much is joined, mm.
    pub length_mm: f64,
    /// Wheels of the left and of the right pickups (seen along the ruler).
    pub touched: [Touched<PlanNet>; 2],
    /// True if it is a single wheel across the opening rather than a pickup group over the cut.
    pub single_wheel: bool,
}

impl Stand {
    /// True if a side joins nets.
    pub fn joins(&self, side: usize) -> bool {
        self.touched[side].len() > 1
    }
}
