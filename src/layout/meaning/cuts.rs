//! Cuts that would take the same metal.
//!
//! Each is told once, of the later of two: the one with the larger number.

use std::collections::BTreeMap;

use super::WIDEST_CUT_MM;
use super::about::About;
use super::found::Found;
use super::track::Ends;
use crate::layout::geometry::RunEnd;
use crate::layout::ids::{CutId, RunId};
use crate::layout::model::{Cut, Rail, Rails};

/// The cuts in one rail of one run, with where along it they are, mm; in that order.
type Sides<'a> = BTreeMap<(RunId, Rail), Vec<(f64, &'a Cut)>>;

/// The later of two cuts, with the earlier one and the rail of the later one.
type Told = BTreeMap<CutId, (CutId, Rail)>;

fn tell(told: &mut Told, a: &Cut, b: &Cut, rail: Rail) {
    told.entry(a.id.max(b.id)).or_insert((a.id.min(b.id), rail));
}

/// Two cuts that would take the same metal: closer in one rail than the wider of them is wide.
pub(super) fn at_one_place(about: &About, ends: &Ends, found: &mut Found) {
    let sides = sides(about);
    let mut told = Told::new();
    for ((_, rail), cuts) in &sides {
        in_one_rail(cuts, *rail, &mut told);
    }
    across_joints(about, ends, &sides, &mut told);
    for (later, (earlier, rail)) in told {
        let hand = if rail == Rail::Left { "left" } else { "right" };
        found.of(later);
        found.add(
            "at_mm",
            format!("it takes away the same piece of the {hand} rail as cut {earlier}"),
            "cuts in one rail that are farther apart than the wider one is wide",
            format!("move it along the rail, or delete it or cut {earlier}"),
        );
    }
}

/// Cuts whose width or place is at fault by itself are left out.
fn sides<'a>(about: &About<'a>) -> Sides<'a> {
    let mut sides = Sides::new();
    for cut in about.layout.cuts.values() {
        let sound = cut.width_mm > 0.0 && cut.width_mm <= WIDEST_CUT_MM;
        if !sound || about.sound_length(cut.run).is_none() {
            continue;
        }
        let right = if cut.rails == Rails::Both { cut.at_mm + cut.stagger_mm } else { cut.at_mm };
        for (rail, at) in [(Rail::Left, cut.at_mm), (Rail::Right, right)] {
            if cut.rails.has(rail) && at.is_finite() {
                sides.entry((cut.run, rail)).or_default().push((at, cut));
            }
        }
    }
    for cuts in sides.values_mut() {
        cuts.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.id.cmp(&b.1.id)));
    }
    sides
}

fn in_one_rail(cuts: &[(f64, &Cut)], rail: Rail, told: &mut Told) {
    // The cut so far whose width reaches farthest ahead.
    let mut reach: Option<(f64, &Cut)> = None;
    for pair in 0..cuts.len() {
        let (at, cut) = cuts[pair];
        if let Some((end, earlier)) = reach
            && at < end
        {
            tell(told, earlier, cut, rail);
        } else if pair > 0 && at - cuts[pair - 1].0 < cut.width_mm {
            tell(told, cuts[pair - 1].1, cut, rail);
        }
        if reach.is_none_or(|(end, _)| at + cut.width_mm > end) {
            reach = Some((at + cut.width_mm, cut));
        }
    }
}

/// Across a joint the same rail goes on: same hand if one run ends and the other starts there, else the other hand.
fn across_joints(about: &About, ends: &Ends, sides: &Sides, told: &mut Told) {
    let nearest = |run: RunId, end: RunEnd, rail: Rail| {
        let cuts = sides.get(&(run, rail))?;
        match end {
            RunEnd::Start => cuts.first().copied(),
            RunEnd::End => {
                let length = about.sound_length(run)?;
                cuts.last().map(|&(at, cut)| (length - at, cut))
            }
        }
    };
    for ends in ends.values() {
        let [(run_a, end_a), (run_b, end_b)] = ends[..] else { continue };
        if run_a == run_b {
            continue;
        }
        for rail in Rail::BOTH {
            let other = if end_a == end_b { rail.other() } else { rail };
            if let (Some((a, cut_a)), Some((b, cut_b))) =
                (nearest(run_a, end_a, rail), nearest(run_b, end_b, other))
                && a.max(0.0) + b.max(0.0) < cut_a.width_mm.max(cut_b.width_mm)
            {
                tell(told, cut_a, cut_b, if cut_a.id > cut_b.id { rail } else { other });
            }
        }
    }
}
