//! `blocks-merged`: a block that the user gave two names: a gap between them is missing.

use std::collections::BTreeSet;

use super::{Class, Evidence, Finding, Kind, Verdict, View};

pub fn find(view: &View, found: &mut Vec<Finding>) {
    for block in &view.plan.blocks {
        let labels: Vec<_> =
            block.labels.iter().filter_map(|id| view.layout.labels.get(id)).collect();
        let names: BTreeSet<&str> = labels.iter().map(|label| label.name.as_str()).collect();
        if names.len() < 2 {
            continue;
        }
        found.push(Finding {
            blocks: vec![block.id],
            drivers: block.drivers.clone(),
            ..Finding::bare(
                Kind::BlocksMerged,
                Class::Fault,
                Verdict::Caution,
                Evidence::Place {
                    run: labels[0].run,
                    at_mm: labels[0].at_mm,
                    length_mm: block.length_mm,
                },
            )
        });
    }
}
