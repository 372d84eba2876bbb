//! `surge`: two blocks that idle without clamping drive one locomotive together while it stands in both.

use super::super::{Class, Context, Evidence, Finding, Kind, Verdict};
use super::at_cut;

pub fn find(context: &Context, found: &mut Vec<Finding>) {
    for (&cut, known) in &context.known {
        if let Some(shares) = known.result.surge {
            let evidence = Evidence::Surge(shares);
            found.push(at_cut(context, cut, Kind::Surge, Class::Note, Verdict::Clear, evidence));
        }
    }
}
