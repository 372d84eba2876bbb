//! `surge`: two blocks that idle without clamping drive one locomotive together while it stands in both.

use super::at_cut;
use super::{Class, Evidence, Finding, Kind, Verdict, View};

pub fn find(view: &View, found: &mut Vec<Finding>) {
    for (&cut, known) in &view.known {
        if let Some(shares) = known.result.surge {
            let evidence = Evidence::Surge(shares);
            found.push(at_cut(view, cut, Kind::Surge, Class::Note, Verdict::Clear, evidence));
        }
    }
}
