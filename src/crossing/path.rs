//! The track around a cut, as one straight ruler.

use crate::layout::{CutId, Layout, Rail, RunId};
use crate::rails::Plan;

/// A stretch of the ruler on which neither rail changes its net.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Span {
    /// Where it starts, mm from the cut (positive along the cut's run).
    pub from_mm: f64,
    /// Where it ends.
    pub to_mm: f64,
    /// Nets of the left and the right rail, seen along the ruler: indices in [`Plan::nets`].
    pub nets: [usize; 2],
    /// The run it lies on.
    pub run: RunId,
    /// Distance along that run at `from_mm`, mm.
    run_at_from_mm: f64,
    /// +1 if the ruler goes along the run, −1 against it.
    pub along: i8,
}

impl Span {
    /// Where a place on the span's run lies on the ruler, mm; `None` if it is not on this span.
    pub fn ruler_mm(&self, at_mm: f64) -> Option<f64> {
        let place = self.from_mm + f64::from(self.along) * (at_mm - self.run_at_from_mm);
        (place >= self.from_mm - 1e-9 && place <= self.to_mm + 1e-9).then_some(place)
    }
}

/// The ruler around a cut, to `reach_mm` on each side or to the end of the track, in order. Zero is where the left
/// rail (of the cut's run) is cut, or the right one if the left is whole. `None` if the cut is not on the plan.
pub fn ruler(layout: &Layout, plan: &Plan, cut: CutId, reach_mm: f64) -> Option<Vec<Span>> {
    let cut = layout.cuts.get(&cut)?;
    let mut ahead = walk(plan, cut.run, cut.at_mm, 1, reach_mm);
    let behind = walk(plan, cut.run, cut.at_mm, -1, reach_mm);
    // What was walked against the ruler is turned round: distances, and left with right.
    let mut spans: Vec<Span> = behind
        .into_iter()
        .rev()
        .map(|s| Span {
            from_mm: -s.to_mm,
            to_mm: -s.from_mm,
            nets: [s.nets[1], s.nets[0]],
            run: s.run,
            run_at_from_mm: s.run_at_from_mm + f64::from(s.along) * (s.to_mm - s.from_mm),
            along: -s.along,
        })
        .collect();
    spans.append(&mut ahead);
    Some(spans)
}

/// Walks from a place on a run, along it (`way` +1) or against it (−1). Distances and hands are the walker's.
fn walk(plan: &Plan, run: RunId, at_mm: f64, way: i8, reach_mm: f64) -> Vec<Span> {
    let mut spans = Vec::new();
    let (mut run, mut way, mut walked) = (run, way, 0.0);
    let mut start = Some(at_mm);
    while walked < reach_mm {
        let pieces = plan.pieces_of(run);
        let before = walked;
        let in_order: Box<dyn Iterator<Item = _>> =
            if way > 0 { Box::new(pieces.iter()) } else { Box::new(pieces.iter().rev()) };
        for piece in in_order {
            let (mut near, far) =
                if way > 0 { (piece.from_mm, piece.to_mm) } else { (piece.to_mm, piece.from_mm) };
            if let Some(at) = start {
                let passed = if way > 0 { far <= at } else { far >= at };
                // A cut at the very end of a run has a piece of no length beyond it: that one is kept.
                if passed && !(far == at && near == at) {
                    continue;
                }
                near = if way > 0 { near.max(at) } else { near.min(at) };
            }
            let length = (far - near).abs();
            let [left, right] = piece.nets;
            spans.push(Span {
                from_mm: walked,
                to_mm: walked + length,
                nets: if way > 0 { [left, right] } else { [right, left] },
                run,
                run_at_from_mm: near,
                along: way,
            });
            walked += length;
        }
        start = None;
        let Some((next, enters_at_start)) = plan.beyond(run, way > 0) else { break };
        run = next;
        way = if enters_at_start { 1 } else { -1 };
        // Only the far side of a cut at the very end of a run is without length; two such in a row lead nowhere.
        if walked == before && spans.len() > 2 {
            break;
        }
    }
    spans.retain(|s| s.to_mm > s.from_mm);
    spans
}

/// The net under a wheel, `None` off the end of the track. On a boundary the span ahead counts.
pub fn net_under(spans: &[Span], rail: Rail, at_mm: f64) -> Option<usize> {
    let side = usize::from(rail == Rail::Right);
    spans.iter().find(|s| s.from_mm <= at_mm && at_mm < s.to_mm).map(|s| s.nets[side])
}

/// Where a rail changes its net, mm on the ruler, in order.
pub fn boundaries_mm(spans: &[Span], rail: Rail) -> Vec<f64> {
    let side = usize::from(rail == Rail::Right);
    spans
        .windows(2)
        .filter(|pair| pair[0].nets[side] != pair[1].nets[side])
        .map(|pair| pair[1].from_mm)
        .collect()
}
