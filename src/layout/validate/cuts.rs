//! Cuts that take the same metal, and bonds soldered where a cut takes the metal away.
//!
//! Two cuts are reported once, at the later of the two: the one with the larger number.

use std::collections::BTreeMap;

use super::about::About;
use super::ends::Ends;
use super::found::Found;
use super::limits::WIDEST_CUT_MM;
use crate::layout::model::{Cut, CutId, EntityId, Rail, Rails, RunEnd, RunId, Spot};
use crate::layout::words::mm;
use crate::track::curve::END_TOLERANCE_MM;

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
    soldered_on_cuts(about, ends, &sides, found);
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
            let other = beyond(end_a, end_b, rail);
            if let (Some((a, cut_a)), Some((b, cut_b))) =
                (nearest(run_a, end_a, rail), nearest(run_b, end_b, other))
                && a.max(0.0) + b.max(0.0) < cut_a.width_mm.max(cut_b.width_mm)
            {
                tell(told, cut_a, cut_b, if cut_a.id > cut_b.id { rail } else { other });
            }
        }
    }
}

/// The rail of the next run that goes on from this rail, where two run ends meet.
fn beyond(here: RunEnd, there: RunEnd, rail: Rail) -> Rail {
    if here == there { rail.other() } else { rail }
}

/// A wire end within the opening of a cut, or at a joint where a cut is: no rail is there to solder to, and on which
/// side of the cut it counts would depend on the end from which the run is measured.
fn soldered_on_cuts(about: &About, ends: &Ends, sides: &Sides, found: &mut Found) {
    if sides.is_empty() {
        return;
    }
    let bonds = about.layout.bonds.values().flat_map(|bond| {
        [("from", bond.from), ("to", bond.to)]
            .map(|(field, spot)| (EntityId::from(bond.id), field.to_owned(), spot))
    });
    let contacts = about.layout.specials.values().flat_map(|special| {
        let sources = special.contact.sources.iter().enumerate();
        sources.flat_map(move |(frog, places)| {
            places.iter().enumerate().map(move |(position, &spot)| {
                (special.id.into(), format!("contact.sources[{frog}][{position}]"), spot)
            })
        })
    });
    for (entity, field, spot) in bonds.chain(contacts) {
        let Some(cut) = cut_at(about, ends, sides, spot) else { continue };
        let hand = if spot.rail == Rail::Left { "left" } else { "right" };
        found.of(entity);
        found.add(
            format!("{field}.at_mm"),
            format!(
                "the wire is soldered to the {hand} rail of run {} at {}, where cut {} takes the rail away",
                spot.run,
                mm(spot.at_mm),
                cut.id
            ),
            "a place on the rail beside the cut",
            format!(
                "say on which side of cut {} it is: move it along the rail by more than half the cut's width, {}",
                cut.id,
                mm(cut.width_mm / 2.0)
            ),
        );
    }
}

/// The cut in whose opening a place on a rail is.
fn cut_at<'a>(about: &About, ends: &Ends, sides: &Sides<'a>, spot: Spot) -> Option<&'a Cut> {
    let opening = |cut: &Cut| (cut.width_mm / 2.0).max(END_TOLERANCE_MM);
    let widest = WIDEST_CUT_MM / 2.0;
    let on = |run: RunId, rail: Rail, at_mm: f64| {
        let cuts = sides.get(&(run, rail))?;
        let first = cuts.partition_point(|(at, _)| *at < at_mm - widest);
        let near = cuts[first..].iter().take_while(|(at, _)| *at <= at_mm + widest);
        near.clone().find(|(at, cut)| (at - at_mm).abs() <= opening(cut)).map(|(_, cut)| *cut)
    };
    let length = about.sound_length(spot.run)?;
    if let Some(cut) = on(spot.run, spot.rail, spot.at_mm) {
        return Some(cut);
    }
    // Across a joint, distances go on: beyond the start of the next run they count backwards from its start.
    let run = about.layout.runs.get(&spot.run)?;
    let here = [(run.from, RunEnd::Start, spot.at_mm), (run.to, RunEnd::End, length - spot.at_mm)];
    here.into_iter().filter(|(_, _, from_mm)| *from_mm <= widest).find_map(
        |(joint, end, from_mm)| {
            let meet = ends.get(&joint)?;
            let [a, b] = meet[..] else { return None };
            let (next, its_end) = if a == (spot.run, end) { b } else { a };
            let rail = beyond(end, its_end, spot.rail);
            match its_end {
                RunEnd::Start => on(next, rail, -from_mm),
                RunEnd::End => on(next, rail, about.sound_length(next)? + from_mm),
            }
        },
    )
}
