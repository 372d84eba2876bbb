//! Ways in which several groups of a rake stand over a cut at once.

use super::at_once::at_once;
use super::group::Rake;
use crate::rails::PlanNet;
use crate::straddle::contacts::{self, Facing, Interval, Touched};
use crate::straddle::path::Span;

/// A way in which groups of a rake stand over a cut, each joining nets.
#[derive(Debug, Clone, PartialEq)]
pub struct Together {
    /// Facing.
    pub facing: Facing,
    /// Place of the leading coupler where it begins, mm on the ruler.
    pub lead_mm: f64,
    /// How far the rake rolls while at least this much is joined, mm.
    pub length_mm: f64,
    /// The groups (indices in [`Rake::groups`]) with what their left and right pickups (along the ruler) touch.
    pub groups: Vec<(usize, [Touched<PlanNet>; 2])>,
}

/// The largest number of ways of standing of one train at one cut and facing.
const MOST_WAYS: usize = 24;

/// The ways in which several vehicles of a rake join nets across a cut: groups of several vehicles by themselves, and
/// groups that join at the same time, one of them over this cut. What a lone vehicle does is not among them. Also how
/// many ways were left out because there are too many: those of the fewest groups.
pub fn together(
    spans: &[Span],
    cut_mm: [Option<f64>; 2],
    rake: &Rake,
    facing: Facing,
) -> (Vec<Together>, usize) {
    let joins = |interval: &Interval| interval.touched.iter().any(|side| side.len() > 1);
    let over: Vec<Vec<Interval>> = rake
        .groups
        .iter()
        .map(|group| contacts::intervals(spans, cut_mm, (&group.axles, rake.length_mm), facing))
        .collect();
    let centred_mm = contacts::centred_mm(cut_mm, rake.length_mm);
    let mut found: Vec<Together> = Vec::new();
    for (at, _) in rake.groups.iter().enumerate().filter(|(_, g)| g.vehicles.len() > 1) {
        let stands = contacts::group_stands(facing, &over[at], centred_mm).into_iter();
        found.extend(stands.map(|stand| Together {
            facing,
            lead_mm: stand.lead_mm,
            length_mm: stand.length_mm,
            groups: vec![(at, stand.touched)],
        }));
    }
    let steps = steps(spans, rake, facing, &over, &joins);
    let (ways, shortened) = at_once(rake, facing, &steps, centred_mm);
    found.extend(ways);
    found.sort_by_key(|way| std::cmp::Reverse(way.groups.len()));
    let left_out = shortened + found.len().saturating_sub(MOST_WAYS);
    found.truncate(MOST_WAYS);
    (found, left_out)
}

/// A stretch of places of the leading coupler, and the groups that join nets there.
pub(super) struct Step {
    pub from_mm: f64,
    pub to_mm: f64,
    pub groups: Vec<(usize, [Touched<PlanNet>; 2])>,
}

/// The stretches in which two groups or more join nets, one of them over the cut, in order.
pub(super) fn steps(
    spans: &[Span],
    rake: &Rake,
    facing: Facing,
    over: &[Vec<Interval>],
    joins: &dyn Fn(&Interval) -> bool,
) -> Vec<Step> {
    let bounds = over.iter().flatten().filter(|i| joins(i)).fold(None, |bounds, i| {
        let (from, to) = bounds.unwrap_or((i.from_mm, i.to_mm));
        Some((i.from_mm.min(from), i.to_mm.max(to)))
    });
    let Some((from, to)) = bounds else { return Vec::new() };
    let joining: Vec<Vec<Interval>> = rake
        .groups
        .iter()
        .map(|group| {
            let mut all = contacts::all_intervals(spans, (&group.axles, rake.length_mm), facing);
            all.retain(|i| joins(i) && i.to_mm > from && i.from_mm < to);
            all
        })
        .collect();
    if joining.iter().filter(|intervals| !intervals.is_empty()).count() < 2 {
        return Vec::new();
    }
    let mut events: Vec<f64> =
        joining.iter().flatten().flat_map(|i| [i.from_mm, i.to_mm]).collect();
    events.sort_by(f64::total_cmp);
    events.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
    let mut next = vec![0usize; joining.len()];
    let mut found = Vec::new();
    for pair in events.windows(2) {
        let middle = (pair[0] + pair[1]) / 2.0;
        let mut groups = Vec::new();
        let mut here = false;
        for (at, intervals) in joining.iter().enumerate() {
            while intervals.get(next[at]).is_some_and(|i| i.to_mm <= middle) {
                next[at] += 1;
            }
            let Some(interval) = intervals.get(next[at]).filter(|i| i.from_mm < middle) else {
                continue;
            };
            here |= over[at].iter().any(|i| joins(i) && i.from_mm < middle && middle < i.to_mm);
            groups.push((at, interval.touched.clone()));
        }
        if here && groups.len() > 1 {
            found.push(Step { from_mm: pair[0], to_mm: pair[1], groups });
        }
    }
    found
}
