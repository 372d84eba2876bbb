//! From a layout to its findings: a pure function, one file per kind of finding.
mod types;
pub use types::*;

use crate::layout::Layout;

/// Checks a layout. Remembers solved cases between calls, so that a re-check after a small edit is cheap.
#[derive(Debug, Default)]
pub struct Checker {}

impl Checker {
    /// Checks a layout.
    pub fn check(&mut self, layout: &Layout) -> Report {
        let _ = layout;
        Report::default()
    }
}

/// Checks a layout once.
pub fn check(layout: &Layout) -> Report {
    Checker::default().check(layout)
}
