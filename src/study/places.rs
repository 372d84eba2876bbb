//! Places where rails change their nets: cuts, and the boundaries that special work has by its nature.

use crate::layout::{Cut, Layout, Rail, RunEnd, SpecialId, length_mm};
use crate::rails::{CutAt, Plan, PlanNet, Within, cut_place_mm};
use crate::straddle::path::{Span, ruler, ruler_at};

/// A place where rails change their nets.
#[derive(Debug, Clone, PartialEq)]
pub struct Place {
    /// The track around it: zero is the place.
    pub spans: Vec<Span>,
    /// Where the left and the right rail change, mm on that ruler; `None` where a rail goes on.
    pub gaps_mm: [Option<f64>; 2],
    /// What lies before and beyond.
    pub at: CutAt,
    /// Nets of the left and the right rail before it, and beyond.
    pub nets: [[PlanNet; 2]; 2],
}

/// How far the ruler looks for feeders, mm. A feeder beyond counts without the rail in between.
pub(in crate::study) const RULER_MM: f64 = 10_000.0;

/// The place of a cut; `reach_mm` is how far vehicles over it can reach.
pub fn of_cut(layout: &Layout, plan: &Plan, cut: &Cut, reach_mm: f64) -> Option<Place> {
    let at = *plan.cuts.get(&cut.id)?;
    Some(Place {
        spans: ruler(layout, plan, cut.id, reach_mm.max(RULER_MM))?,
        gaps_mm: Rail::BOTH.map(|rail| cut_place_mm(cut, rail).map(|place| place - cut.at_mm)),
        at,
        nets: [at.before, at.after].map(|piece| plan.pieces[piece].nets.map(PlanNet)),
    })
}

/// A boundary of special work that a train rolls over.
#[derive(Debug, Clone, PartialEq)]
pub struct Boundary {
    /// True if it trails through points that are set for another road.
    pub against: bool,
    /// The place.
    pub place: Place,
}

/// This near to a cut a boundary is the cut's, mm.
const SAME_PLACE_MM: f64 = 0.02;

/// The boundaries of special work in a plan's positions at which a rail goes from one live net to another: those of its
/// frogs, of points set against the train, of both ends of a bridge.
pub fn of_special(
    layout: &Layout,
    plan: &Plan,
    special: SpecialId,
    reach_mm: f64,
) -> Vec<Boundary> {
    let Some(work) = layout.specials.get(&special).map(|s| &s.work) else { return Vec::new() };
    let inside_mm = work.reach_mm() + SAME_PLACE_MM;
    let mut found: Vec<Boundary> = Vec::new();
    for (_, way) in plan.metal.ways.iter().filter(|(id, _)| *id == special) {
        let [from, to] = way.ends;
        let leads = plan
            .beyond(from.run, from.end == RunEnd::End)
            .filter(|on| on.run == to.run && on.at_start == (to.end == RunEnd::Start));
        // Each way once: in the direction in which one comes to the points from behind, if there is one.
        let (Some(on), Some(run)) = (leads, layout.runs.get(&from.run)) else { continue };
        let back = plan.beyond(to.run, to.end == RunEnd::End).is_some_and(|back| {
            back.run == from.run && back.at_start == (from.end == RunEnd::Start)
        });
        if back && from > to {
            continue;
        }
        let joint_mm = if from.end == RunEnd::End { length_mm(layout, run) } else { 0.0 };
        let spans = ruler_at(plan, from.run, joint_mm, reach_mm.max(RULER_MM));
        let mut places: Vec<f64> = spans
            .windows(2)
            .filter(|pair| (0..2).any(|side| changes_live(plan, &spans, pair, side, inside_mm)))
            .map(|pair| pair[1].from_mm)
            .filter(|place| place.abs() <= inside_mm && !at_cut(layout, &spans, *place))
            .collect();
        places.dedup_by(|a, b| (*a - *b).abs() < SAME_PLACE_MM);
        for zero in places {
            if let Some(place) = place_at(plan, &spans, zero) {
                let known = found
                    .iter()
                    .any(|old| old.place.nets == place.nets && old.against == on.against);
                if !known {
                    found.push(Boundary { against: on.against, place });
                }
            }
        }
    }
    found
}

/// True if a rail changes from one live net to another at a boundary; a dead stretch within the special work (a frog)
/// is looked past.
fn changes_live(plan: &Plan, spans: &[Span], pair: &[Span], side: usize, inside_mm: f64) -> bool {
    let (a, b) = (pair[0].nets[side], pair[1].nets[side]);
    if a == b {
        return false;
    }
    let live = |net: &PlanNet| !plan.net(*net).legs.is_empty();
    let zero = pair[1].from_mm;
    let before = spans
        .iter()
        .rev()
        .filter(|s| s.to_mm <= zero + 1e-9 && s.to_mm >= -inside_mm)
        .map(|s| s.nets[side])
        .find(live);
    let beyond = spans
        .iter()
        .filter(|s| s.from_mm >= zero - 1e-9 && s.from_mm <= inside_mm)
        .map(|s| s.nets[side])
        .find(live);
    matches!((before, beyond), (Some(before), Some(beyond)) if before != beyond)
}

fn at_cut(layout: &Layout, spans: &[Span], place_mm: f64) -> bool {
    layout.cuts.values().any(|cut| {
        spans.iter().filter(|s| s.run == cut.run).any(|span| {
            Rail::BOTH.iter().filter_map(|&rail| cut_place_mm(cut, rail)).any(|at| {
                span.ruler_mm(at).is_some_and(|there| (there - place_mm).abs() <= SAME_PLACE_MM)
            })
        })
    })
}

/// The place at a distance on a ruler, as the zero of its own.
fn place_at(plan: &Plan, spans: &[Span], zero: f64) -> Option<Place> {
    let spans: Vec<Span> = spans.iter().map(|span| span.shifted(zero)).collect();
    let before_at = spans.iter().rposition(|s| s.to_mm <= 1e-9)?;
    let after_at = spans.iter().position(|s| s.from_mm >= -1e-9)?;
    let (before, after) = (&spans[before_at], &spans[after_at]);
    let gap = |side: usize| (before.nets[side] != after.nets[side]).then_some(0.0);
    // The piece that a span lies on, and the block there or the next one on that side.
    let piece = |span: &Span| {
        let middle = span.run_mm(f64::midpoint(span.from_mm, span.to_mm));
        let first = plan.first_piece(span.run)?;
        let pieces = plan.pieces_of(span.run);
        pieces.iter().position(|p| p.from_mm <= middle && middle <= p.to_mm).map(|at| first + at)
    };
    let block = |near: Vec<&Span>| {
        near.into_iter().find_map(|span| match plan.pieces[piece(span)?].within {
            Within::Block(block) => Some(block),
            _ => None,
        })
    };
    let block_before = block(spans[..=before_at].iter().rev().collect())?;
    let block_after = block(spans[after_at..].iter().collect())?;
    let (piece_before, piece_after) = (piece(before)?, piece(after)?);
    let sign =
        plan.direction(piece_before) * before.along * plan.direction(piece_after) * after.along;
    Some(Place {
        gaps_mm: [gap(0), gap(1)],
        at: CutAt { before: piece_before, after: piece_after, block_before, block_after, sign },
        nets: [before.nets, after.nets],
        spans,
    })
}
