//! One cut as a case: everything that can be reached at it, evaluated.
//!
//! A [`Case`] has numbers and no identities, so that equal surroundings give equal cases and a result can be kept. What
//! belongs to what stands beside it, in [`Surroundings`].

mod awake;
mod blind;
mod case;
mod collect;
mod explained;
mod inrush;
mod numbers;
mod parties;
mod passes;
mod result;
mod scenario;
mod settings;
mod solve;
mod stalls;
mod stock;
mod surroundings;

pub use awake::Awake;
pub use blind::Blind;
pub use case::{Case, Control, Footing, Set, Settings};
pub use collect::{case_of, trains_at, vehicles_at};
pub use explained::{CauseAt, LiftAt};
pub use inrush::Rush;
pub use numbers::{Standing, numeric, numeric_group};
pub use parties::{Pair, Party};
pub use result::{Cell, CutResult, Evaluated, InrushAt, Pass, Worst, is_worse};
pub use stock::Stock;
pub use stock::stand_in;
pub use surroundings::{FootingAt, GroupAt, StandAt, Stander, Surroundings, front_mm};
