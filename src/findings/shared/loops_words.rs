//! Phrases about track that leads back onto itself with its rails exchanged.

use crate::findings::words::{and, gap_name};
use crate::findings::{Longest, Round, Words};
use crate::layout::CutId;

/// Blocks of a loop that are named one by one.
const MOST_BLOCKS: usize = 8;

impl Words<'_> {
    /// "Leave more than 160 mm of track between the two gaps: the engine reaches …".
    pub(crate) fn room_for(&self, longest: &Longest) -> String {
        format!(
            "Leave more than {} of track between the two gaps: {}.",
            self.units.mm(longest.mm),
            self.bridges(longest)
        )
    }

    /// "the Night goods reaches 1240 mm from its first to its last metal wheels".
    pub(crate) fn bridges(&self, longest: &Longest) -> String {
        format!(
            "{} reaches {} from its first to its last metal wheels",
            self.who(longest),
            self.units.mm(longest.mm)
        )
    }

    /// The train, or the vehicle by itself.
    pub(crate) fn who(&self, longest: &Longest) -> String {
        self.mover(longest.train, longest.vehicle)
    }

    /// "Gap c1 and Gap c2".
    pub(crate) fn gaps(&self, cuts: &[CutId]) -> String {
        let name = |id: &CutId| {
            let cut = self.report.cuts.iter().find(|cut| cut.id == *id);
            gap_name(&cut.map_or_else(|| id.to_string(), |cut| cut.name.clone()))
        };
        and(&cuts.iter().map(name).collect::<Vec<_>>())
    }

    /// Where a loop leads, by the names of its blocks.
    pub(crate) fn around(&self, round: &Round) -> String {
        let mut blocks: Vec<String> = round.blocks.iter().map(|&id| self.block_name(id)).collect();
        let more = blocks.len().saturating_sub(MOST_BLOCKS);
        blocks.truncate(MOST_BLOCKS);
        if more > 0 {
            blocks.push(format!("{more} more blocks"));
        }
        let mut text = format!("Once round the loop is {}", self.units.length(round.length_mm));
        if !blocks.is_empty() {
            text.push_str(&format!(", over {}", and(&blocks)));
        }
        if !round.cuts.is_empty() {
            text.push_str(&format!(", through {}", self.gaps(&round.cuts)));
        }
        if !round.one_rail.is_empty() {
            text.push_str(&format!(
                ", and through {} in one rail only",
                self.gaps(&round.one_rail)
            ));
        }
        text.push('.');
        text
    }
}
