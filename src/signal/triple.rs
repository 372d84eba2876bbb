//! Three free patterns against each other: an upper bound of the longest run.
//!
//! Two of them make a cycle for each relative phase. While no two of their edges meet, an edge of the second moves with
//! the phase: within a stretch of phases it stays in a sliver of time. With every sliver counted as conflict, the cycle
//! against the third pattern is a pair, and its longest run is an upper bound for all phases of the stretch.

use super::beat::Pattern;
use super::pair::Pair;
use super::runs::Followed;

/// Most edges of the cycle of two patterns, and most steps through edges altogether.
const MOST_EDGES: u64 = 600;
const MOST_STEPS: usize = 3_000_000;
/// Parts into which each stretch of phases is divided: the finer, the closer the bound.
const PARTS: u32 = 4;
/// The piece that stands for a sliver.
const SLIVER: usize = usize::MAX;

/// What is known of a longest run.
pub(super) struct Bound {
    /// A length that some phases attain, s.
    pub attained: f64,
    /// No phases give more, s.
    pub most: f64,
}

/// The bound for three patterns over the joint states that `over` marks. `None` if it takes too long.
pub(super) fn bound(over: &[bool], base: usize, three: [&Pattern; 3]) -> Option<Bound> {
    let orders = [[0, 1, 2], [0, 2, 1], [1, 2, 0]];
    let two = |order: [usize; 3]| {
        let (a, b) = (three[order[0]].clone(), three[order[1]].clone());
        (Pair::new(a, b, false, |_, _| 0.0), three[order[2]])
    };
    let (pair, third) = orders
        .map(two)
        .into_iter()
        .filter(|(pair, _)| pair.exact() && pair.edges() <= MOST_EDGES)
        .min_by_key(|(pair, _)| pair.edges())?;
    let mut steps = MOST_STEPS;
    let mut run = |from: f64, to: f64| {
        let cycle = with_slivers(&pair, (from + to) / 2.0, (to - from) / 2.0);
        let value = |at: usize, piece: usize| {
            let conflict = at == SLIVER || over.get(base + at + piece).copied().unwrap_or(false);
            f64::from(u8::from(conflict))
        };
        let against = Pair::new(cycle, third.clone(), false, value);
        match against.follow(0.5, f64::INFINITY, &mut steps) {
            Followed::Ends(seconds) => Some(seconds),
            Followed::Passes => Some(f64::INFINITY),
            Followed::GivenUp => None,
        }
    };
    let mut bound = Bound { attained: 0.0, most: 0.0 };
    for (from, to) in pair.cells(&[0.0]) {
        let exactly = run(from, from)?;
        bound.attained = bound.attained.max(exactly);
        for part in 0..PARTS {
            let at = |part: u32| from + (to - from) * f64::from(part) / f64::from(PARTS);
            bound.most = bound.most.max(run(at(part), at(part + 1))?);
        }
    }
    bound.most = bound.most.max(bound.attained);
    Some(bound)
}

/// One cycle of two patterns at a relative phase, as a pattern: each piece adds the offsets of both. The edges of the
/// second lie in slivers that reach `half` to both sides.
fn with_slivers(pair: &Pair, phase: f64, half: f64) -> Pattern {
    let (period, eps) = (pair.period(), pair.eps());
    let mut events: Vec<(f64, bool, usize)> = Vec::new();
    for (pattern, cycles, delay, second) in
        [(&pair.a, pair.ratio.a, 0.0, false), (&pair.b, pair.ratio.b, phase, true)]
    {
        for cycle in 0..cycles {
            for &(at, offset) in &pattern.pieces {
                let time = (cycle as f64 + at) * period / cycles as f64 + delay;
                let time = time.rem_euclid(period);
                events.push((if period - time <= eps { 0.0 } else { time }, second, offset));
            }
        }
    }
    events.sort_by(|x, y| x.0.total_cmp(&y.0));
    let last = |second: bool| events.iter().rev().find(|e| e.1 == second).map_or(0, |e| e.2);
    let mut now = [last(false), last(true)];
    let mut edges: Vec<(f64, usize)> = Vec::new();
    let mut push = |time: f64, offset: usize| {
        let time = time.clamp(0.0, period);
        match edges.last_mut() {
            // Also where slivers overlap: all of both is then one.
            Some(edge) if time - edge.0 <= eps => edge.1 = offset,
            _ => edges.push((time, offset)),
        }
    };
    // An edge of the first pattern is at 0, so that no sliver reaches around the end.
    push(0.0, now[0] + now[1]);
    for &(time, second, offset) in &events {
        if second && half > eps {
            push(time - half, SLIVER);
        }
        now[usize::from(second)] = offset;
        push(if second { time + half } else { time }, now[0] + now[1]);
    }
    let pieces = edges.into_iter().filter(|edge| period - edge.0 > eps);
    Pattern {
        period,
        pieces: pieces.map(|(time, offset)| (time / period, offset)).collect(),
        shared: None,
        tolerance: 0.0,
        members: Vec::new(),
    }
}
