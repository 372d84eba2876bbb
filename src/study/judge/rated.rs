//! A verdict with its margin: the worst of what is offered to it.

use super::super::types::Verdict;
use super::judged::Decided;

/// Verdicts within this fraction of a threshold, on its clear side, are cautions.
pub const NEAR: f64 = 0.2;

/// A verdict with its margin and what decided it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rated {
    /// Verdict.
    pub verdict: Verdict,
    /// Margin.
    pub margin: Option<f64>,
    /// What decided.
    pub decided: Decided,
}

impl Rated {
    /// Takes a judgement over if it is worse than what there is.
    pub(super) fn offer(&mut self, verdict: Verdict, margin: Option<f64>, decided: Decided) {
        let new = Rated { verdict, margin, decided };
        if worse(&new, self) {
            *self = new;
        }
    }

    pub(super) fn continuous(
        &mut self,
        figure: f64,
        threshold: f64,
        beyond: Verdict,
        decided: Decided,
    ) {
        let margin = 1.0 - figure / threshold;
        let verdict = if margin < 0.0 {
            beyond
        } else if margin < NEAR {
            Verdict::Caution
        } else {
            Verdict::Clear
        };
        self.offer(verdict, Some(margin), decided);
    }
}

/// Worse verdict, then less margin.
pub fn worse(new: &Rated, old: &Rated) -> bool {
    let margin = |r: &Rated| r.margin.unwrap_or(0.0);
    new.verdict > old.verdict || (new.verdict == old.verdict && margin(new) < margin(old))
}
