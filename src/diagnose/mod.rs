//! Which fault explains what was seen at a gap, and what to try next.
//!
//! A fault is a change of the layout; the check's own circuits say what it would show (`outcome`). Observations move the
//! odds of all faults by bounded factors (`score`), and the test that tells most for its time comes next (`hunt`). No
//! rule says "this symptom means that fault".
//!
//! Only single faults are supposed; a cause with several effects (all bridges of a kind) is one fault.

mod catalogue;
mod fault;
mod hunt;
mod outcome;
mod question;
mod reach;
mod saw;
mod score;
mod words;

pub use catalogue::Past;
pub use fault::{Fault, Repair};
pub use hunt::{Class, Diagnosis, Hunt, Next, Standing, Suspect};
pub use outcome::{Dist, Supposed};
pub use question::{Answer, Heads, Observation, Question, Throttles, set};
pub use reach::Reach;
pub use saw::{
    Happened, Line, Resistance, Saw, Throttle, Went, Wrong, gap_named, observations, saw_text,
};
pub use score::Status;
pub use words::{answer_words, question_words};

/// Why a gap cannot be looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum Cannot {
    /// There is no such gap between two blocks.
    #[error(
        "there is no gap between two blocks there. Cut a rail, and feed the track on both sides"
    )]
    NoGap,
    /// No driver is near.
    #[error("no driver feeds the track beside this gap. Feed it first")]
    NoDriver,
    /// The layout has no vehicle.
    #[error("the layout has no vehicle. Add what runs over this gap first")]
    NothingRolls,
}
