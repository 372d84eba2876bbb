//! The track around a cut, as one straight ruler.

use crate::layout::{CutId, Layout, Rail, RunId};
use crate::rails::{Plan, PlanNet};

/// A stretch of the ruler on which neither rail changes its net.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Span {
    /// Where it starts, mm from the cut (positive along the cut's run).
    pub from_mm: f64,
    /// Where it ends.
    pub to_mm: f64,
    /// Nets of the left and the right rail, seen along the ruler.
    pub nets: [PlanNet; 2],
    /// The run it lies on.
    pub run: RunId,
    /// Distance along that run at `from_mm`, mm.
    run_at_from_mm: f64,
    /// +1 if the ruler goes along the run, −1 against it.
    pub along: i8,
}

impl Span {
    /// One place only, so far from the ruler's zero, mm.
    pub fn at_a_distance(run: RunId, at_mm: f64, distance_mm: f64) -> Span {
        Span {
            from_mm: distance_mm,
            to_mm: distance_mm,
            nets: [PlanNet(usize::MAX); 2],
            run,
            run_at_from_mm: at_mm,
            along: 1,
        }
    }

    /// Where a place on the span's run lies on the ruler, mm; `None` if it is not on this span.
    pub fn ruler_mm(&self, at_mm: f64) -> Option<f64> {
        let place = self.from_mm + f64::from(self.along) * (at_mm - self.run_at_from_mm);
        (place >= self.from_mm - 1e-9 && place <= self.to_mm + 1e-9).then_some(place)
    }

    /// The distance along the span's run at a place of the ruler, mm.
    pub fn run_mm(&self, ruler_mm: f64) -> f64 {
        self.run_at_from_mm + f64::from(self.along) * (ruler_mm - self.from_mm)
    }

    /// The same stretch on a ruler whose zero lies `by_mm` farther up.
    pub fn shifted(self, by_mm: f64) -> Span {
        Span { from_mm: self.from_mm - by_mm, to_mm: self.to_mm - by_mm, ..self }
    }
}

/// The track around a place, and where on it the left and the right rail are cut there, mm.
#[derive(Debug, Clone, Copy, Default)]
pub struct Tape<'a> {
    /// The track; empty where distances do not count.
    pub spans: &'a [Span],
    /// The gaps; `None` where a rail goes on. It counts up to the other's gap, and without any up to zero.
    pub gaps_mm: [Option<f64>; 2],
}

impl Tape<'_> {
    /// Length of rail from the gap to a place on a rail of a run, mm; infinite if it is not within reach.
    pub fn distance_mm(&self, run: RunId, at_mm: f64, rail: Rail) -> f64 {
        let [left, right] = self.gaps_mm;
        let spans = self.spans.iter().filter(|span| span.run == run);
        let distances = spans.filter_map(|span| {
            let is_left = (rail == Rail::Left) == (span.along > 0);
            let gap_mm = if is_left { left.or(right) } else { right.or(left) };
            Some((span.ruler_mm(at_mm)? - gap_mm.unwrap_or(0.0)).abs())
        });
        distances.fold(f64::INFINITY, f64::min)
    }
}

/// The same ruler read the other way: distances, and left with right.
pub fn turned(spans: Vec<Span>) -> Vec<Span> {
    spans
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
        .collect()
}

/// The ruler around a cut, to `reach_mm` on each side or to the end of the track, in order. Zero is where the left
/// rail (of the cut's run) is cut, or the right one if the left is whole. `None` if the cut is not on the plan.
pub fn ruler(layout: &Layout, plan: &Plan, cut: CutId, reach_mm: f64) -> Option<Vec<Span>> {
    let cut = layout.cuts.get(&cut)?;
    Some(ruler_at(plan, cut.run, cut.at_mm, reach_mm))
}

/// The ruler around any place of a run: its zero is that place.
pub fn ruler_at(plan: &Plan, run: RunId, at_mm: f64, reach_mm: f64) -> Vec<Span> {
    let mut ahead = walk(plan, run, at_mm, 1, reach_mm);
    // The way against the ruler is turned round.
    let mut spans = turned(walk(plan, run, at_mm, -1, reach_mm));
    spans.append(&mut ahead);
    spans
}

/// Walks from a place on a run, along it (`way` +1) or against it (−1). Distances and hands are the walker's.
fn walk(plan: &Plan, run: RunId, at_mm: f64, way: i8, reach_mm: f64) -> Vec<Span> {
    let mut spans = Vec::new();
    let first = run;
    let (mut run, mut way, mut walked) = (run, way, 0.0);
    let mut start = Some(at_mm);
    // Joints where the frogs about them are not on the way: place, and how far they reach, mm.
    let mut passed_by: Vec<(f64, f64)> = Vec::new();
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
            let [left, right] = piece.nets.map(PlanNet);
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
        // Once round a ring is all there is.
        if start.is_none() && run == first {
            break;
        }
        start = None;
        let Some(next) = plan.beyond(run, way > 0) else { break };
        if next.past_mm > 0.0 {
            passed_by.push((walked, next.past_mm));
        }
        run = next.run;
        way = if next.at_start { 1 } else { -1 };
        // Only the far side of a cut at the very end of a run is without length; two such in a row lead nowhere.
        if walked == before && spans.len() > 2 {
            break;
        }
    }
    spans.retain(|s| s.to_mm > s.from_mm);
    for (joint_mm, reach_mm) in passed_by {
        pass_by(&mut spans, joint_mm, reach_mm);
    }
    spans
}

/// Extends the rails before and beyond a joint up to it, in place of the pieces near it.
fn pass_by(spans: &mut [Span], joint_mm: f64, reach_mm: f64) {
    let nets_at =
        |place: f64| spans.iter().find(|s| s.from_mm <= place && place < s.to_mm).map(|s| s.nets);
    let (before, beyond) = (nets_at(joint_mm - reach_mm), nets_at(joint_mm + reach_mm));
    for span in spans {
        let near = |nets: Option<[PlanNet; 2]>, from: f64, to: f64| {
            nets.filter(|_| from <= span.from_mm + 1e-6 && span.to_mm <= to + 1e-6)
        };
        if let Some(nets) = near(before, joint_mm - reach_mm, joint_mm).or(near(
            beyond,
            joint_mm,
            joint_mm + reach_mm,
        )) {
            span.nets = nets;
        }
    }
}

/// The net under a wheel, `None` off the end of the track. On a boundary the span ahead counts.
pub fn net_under(spans: &[Span], rail: Rail, at_mm: f64) -> Option<PlanNet> {
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

#[cfg(test)]
pub(crate) mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::layout;

    /// r1 and r2 in a row, r2 laid backwards, and r3; the given cuts.
    pub(crate) fn track(cuts: &str) -> (Layout, Plan) {
        let text = format!(
            r#"(version: 1, joints: [(id: "j1", x_mm: 0, y_mm: 0), (id: "j2", x_mm: 1000, y_mm: 0),
            (id: "j3", x_mm: 2000, y_mm: 0), (id: "j4", x_mm: 3000, y_mm: 0)],
            runs: [(id: "r1", from: "j1", to: "j2"), (id: "r2", from: "j3", to: "j2"), (id: "r3", from: "j3", to: "j4")],
            cuts: [{cuts}])"#
        );
        let layout = layout::load(&text).unwrap().layout;
        let plan = Plan::derive(&layout);
        (layout, plan)
    }

    #[test]
    fn the_ruler_runs_through_joints_and_keeps_its_hands() {
        let (layout, plan) = track(r#"(id: "c1", run: "r1", at_mm: 800, rails: Both)"#);
        let spans = ruler(&layout, &plan, CutId(1), 5000.0).unwrap();
        let places: Vec<(f64, f64, u32, i8)> =
            spans.iter().map(|s| (s.from_mm, s.to_mm, s.run.0, s.along)).collect();
        assert_eq!(
            places,
            [
                (-800.0, 0.0, 1, 1),
                (0.0, 200.0, 1, 1),
                (200.0, 1200.0, 2, -1),
                (1200.0, 2200.0, 3, 1)
            ]
        );
        // East of the gap both rails go on, hand by hand, though r2 is laid the other way.
        assert!(spans[1..].iter().all(|s| s.nets == spans[1].nets));
        assert_ne!(spans[0].nets, spans[1].nets);
        assert_eq!(spans[2].ruler_mm(900.0), Some(300.0));
        assert_eq!(spans[3].ruler_mm(0.0), Some(1200.0));
        assert_eq!(spans[0].ruler_mm(100.0), Some(-700.0));
        assert_eq!(spans[0].ruler_mm(900.0), None);
    }

    #[test]
    fn on_a_run_laid_backwards_the_ruler_follows_that_run() {
        let (layout, plan) = track(r#"(id: "c1", run: "r2", at_mm: 300, rails: Both)"#);
        let spans = ruler(&layout, &plan, CutId(1), 5000.0).unwrap();
        let places: Vec<(f64, f64, u32, i8)> =
            spans.iter().map(|s| (s.from_mm, s.to_mm, s.run.0, s.along)).collect();
        assert_eq!(
            places,
            [
                (-1300.0, -300.0, 3, -1),
                (-300.0, 0.0, 2, 1),
                (0.0, 700.0, 2, 1),
                (700.0, 1700.0, 1, -1)
            ]
        );
    }

    #[test]
    fn a_cut_at_a_joint_has_track_on_both_sides() {
        for cut in ["run: \"r1\", at_mm: 1000", "run: \"r2\", at_mm: 1000"] {
            let (layout, plan) = track(&format!("(id: \"c1\", {cut}, rails: Both)"));
            let spans = ruler(&layout, &plan, CutId(1), 300.0).unwrap();
            assert_eq!(boundaries_mm(&spans, Rail::Left), [0.0], "{cut}");
            assert!(net_under(&spans, Rail::Left, -1.0).is_some());
            assert!(net_under(&spans, Rail::Left, 1.0).is_some());
        }
    }

    #[test]
    fn round_a_ring_the_ruler_ends_as_well() {
        let text = r#"(version: 1, joints: [(id: "j1", x_mm: 0, y_mm: 0), (id: "j2", x_mm: 100, y_mm: 0)],
            runs: [(id: "r1", from: "j1", to: "j2"), (id: "r2", from: "j2", to: "j1", length_mm: 200)],
            cuts: [(id: "c1", run: "r1", at_mm: 40, rails: Both)])"#;
        let layout = layout::load(text).unwrap().layout;
        let plan = Plan::derive(&layout);
        let spans = ruler(&layout, &plan, CutId(1), 1e9).unwrap();
        assert!(spans.len() < 12);
        assert!(spans[0].from_mm <= -300.0 && spans.last().unwrap().to_mm >= 300.0);
        assert!(spans.windows(2).all(|s| s[0].to_mm == s[1].from_mm));
    }

    #[test]
    fn at_the_end_of_track_the_ruler_ends() {
        let (layout, plan) = track(r#"(id: "c1", run: "r1", at_mm: 10, rails: Both)"#);
        let spans = ruler(&layout, &plan, CutId(1), 300.0).unwrap();
        assert_eq!(spans[0].from_mm, -10.0);
        assert_eq!(net_under(&spans, Rail::Right, -11.0), None);
    }
}
