//! A layout with the lengths of its runs.

use std::collections::{BTreeMap, BTreeSet};

use crate::layout::model::{Layout, Run, RunId};
use crate::track::curve::drawn_length_mm;

/// A layout and the lengths of its runs, mm: as drawn and as they count.
pub(super) struct About<'a> {
    pub layout: &'a Layout,
    lengths: BTreeMap<RunId, (f64, f64)>,
}

impl<'a> About<'a> {
    /// Works out the lengths of the given runs, or of all.
    pub fn new(layout: &'a Layout, runs: Option<&BTreeSet<RunId>>) -> Self {
        let lengths = layout
            .runs
            .values()
            .filter(|run| runs.is_none_or(|runs| runs.contains(&run.id)))
            .map(|run| {
                let drawn = drawn_length_mm(layout, run);
                (run.id, (drawn, run.length_mm.unwrap_or(drawn)))
            })
            .collect();
        Self { layout, lengths }
    }

    pub fn drawn_length(&self, run: &Run) -> f64 {
        // A run whose identity is taken is not the one whose length is known.
        let known = self.layout.runs.get(&run.id).filter(|there| std::ptr::eq(*there, run));
        match known.and_then(|run| self.lengths.get(&run.id)) {
            Some((drawn, _)) => *drawn,
            None => drawn_length_mm(self.layout, run),
        }
    }

    /// The length of a run, if it is one that something can stand on.
    pub fn sound_length(&self, run: RunId) -> Option<f64> {
        self.lengths.get(&run).map(|(_, mm)| *mm).filter(|mm| mm.is_finite() && *mm > 0.0)
    }
}
