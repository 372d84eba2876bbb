//! `blocks-merged`: a block that the user gave several names: gaps between them are missing.

use crate::job::Job;
use std::collections::BTreeSet;

use super::{Caution, Class, Cure, Evident, Found, Kind, Near, Place, Text, Verdict, View, Words};

/// A block with several names.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Evidence {
    /// Length of its track, mm.
    pub length_mm: f64,
    /// Number of its names, at least 2.
    pub names: usize,
}

impl Evident for Evidence {}

pub fn find(view: &View) -> Vec<Found<Evidence>> {
    let mut found = Vec::new();
    for block in &view.plan.blocks {
        let labels: Vec<_> =
            block.labels.iter().filter_map(|id| view.layout.labels.get(id)).collect();
        let names: BTreeSet<&str> = labels.iter().map(|label| label.name.as_str()).collect();
        if names.len() < 2 {
            continue;
        }
        let evidence = Evidence { length_mm: block.length_mm, names: names.len() };
        found.push(Found {
            places: vec![Place::Block(block.id)],
            blocks: vec![block.id],
            drivers: block.drivers.clone(),
            ..Found::new(Kind::BlocksMerged, Class::Fault, Verdict::Caution, evidence)
        });
    }
    found
}

pub fn words(e: &Evidence, w: &Words) -> Text {
    Text {
        says: match e.names {
            ..=2 => format!("{}: two names on one block; cut both rails between them", w.block(0)),
            names => {
                format!("{}: {names} names on one block; cut both rails between them", w.block(0))
            }
        },
        why: format!(
            "Metal joins the rails under both names, over {} of track. A driver that feeds one feeds the other.",
            w.units.length(e.length_mm)
        ),
        more: String::new(),
        advice: vec![
            "Cut both rails between the names.".into(),
            "Or give them one name, if they are meant to be one block.".into(),
        ],
        cautions: vec![Caution::Saw],
    }
}

pub fn cures(_: &Evidence, near: &Near) -> Vec<Cure> {
    let Some(&block) = near.finding.blocks.first() else { return Vec::new() };
    let mut cures = near.cuts_between(block);
    let blocks = near.view.plan.blocks.iter().filter(|b| b.id == block);
    cures.extend(blocks.flat_map(|b| &b.labels).map(|&label| Job::TakeNameAway(label).into()));
    cures
}

#[cfg(test)]
pub(super) mod tests {
    use crate::findings::pair::Pair;
    use crate::findings::yards::*;
    use crate::findings::{Class, Verdict};
    use crate::layout::{Edit, Made, Rails, RunId};

    pub fn pairs() -> Vec<Pair> {
        let with = yard("-c1\n-f2");
        let cut = Edit::Cut {
            run: RunId(1),
            at_mm: 1000.0,
            rails: Rails::Both,
            width_mm: 0.8,
            stagger_mm: 0.0,
            made: Made::Open,
        };
        let twin = edited(&with, cut);
        vec![Pair {
            with,
            twin,
            class: Class::Fault,
            verdict: Verdict::Caution,
            peak_a: None,
            cuts: &[],
            blocks: 1,
            says: "West + East: two names on one block; cut both rails between them",
        }]
    }
}
