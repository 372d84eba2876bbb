//! Any number of free patterns against each other: an upper bound of the longest run, by rotation.
//!
//! A run ends at the latest when every pattern is in one chosen piece at the same instant, and together they are not in
//! conflict. Look at the instants at which the first pattern enters its piece. From one to the next the second pattern's
//! phase turns by a fixed angle, so that it hits its own piece after a number of turns that the three-distance theorem
//! bounds. From there hop on by a
//! number of turns that brings the second pattern back nearly where it was, until the third one hits its piece, and so on.
//! What each hop moves the earlier patterns must fit into their pieces.

use super::beat::{Pattern, Patterns};

/// Pieces of one pattern, chosen sets of pieces, and convergents that are looked at.
const MOST_PIECES: usize = 6;
const MOST_SETS: usize = 4;
const MOST_CONVERGENTS: usize = 14;
/// Patterns whose order is tried in every way.
const MOST_ORDERED: usize = 4;
/// An angle this close to a fraction counts as it.
const EXACT: f64 = 1e-9;

/// The bound, s; infinite if there is none.
pub(super) fn bound(over: &[bool], patterns: &Patterns) -> f64 {
    let moving = &patterns.moving;
    let sets = quiet_sets(over, patterns);
    let from = |shares: &[f64], first: usize| {
        let period = moving[first].period;
        let others: Vec<Turning> = (0..moving.len())
            .filter(|&at| at != first)
            .map(|at| Turning { angle: period / moving[at].period, room: shares[at] })
            .collect();
        (1.0 + hops(1.0, &[], &others)) * period
    };
    sets.iter()
        .flat_map(|shares| (0..moving.len()).map(move |first| from(shares, first)))
        .fold(f64::INFINITY, f64::min)
}

/// Shares of one piece of each pattern that are together not in conflict: the sets with the longest shortest piece.
fn quiet_sets(over: &[bool], patterns: &Patterns) -> Vec<Vec<f64>> {
    let mut sets: Vec<(usize, Vec<f64>)> = vec![(patterns.base, Vec::new())];
    for pattern in &patterns.moving {
        let pieces = longest_pieces(pattern);
        let with = |(at, shares): &(usize, Vec<f64>)| {
            let (at, shares) = (*at, shares.clone());
            pieces.iter().map(move |&(share, offset)| {
                let mut shares = shares.clone();
                shares.push(share);
                (at + offset, shares)
            })
        };
        sets = sets.iter().flat_map(with).collect();
        sets.truncate(4096);
    }
    sets.retain(|(at, _)| !over.get(*at).copied().unwrap_or(true));
    let shortest = |shares: &[f64]| shares.iter().copied().fold(1.0, f64::min);
    sets.sort_by(|x, y| shortest(&y.1).total_cmp(&shortest(&x.1)));
    sets.truncate(MOST_SETS);
    sets.into_iter().map(|(_, shares)| shares).collect()
}

/// The longest piece of each kind that a pattern has, the longest first.
fn longest_pieces(pattern: &Pattern) -> Vec<(f64, usize)> {
    let mut pieces: Vec<(f64, usize)> = pattern.shares().collect();
    pieces.sort_by(|x, y| x.1.cmp(&y.1).then(y.0.total_cmp(&x.0)));
    pieces.dedup_by_key(|piece| piece.1);
    pieces.sort_by(|x, y| y.0.total_cmp(&x.0));
    pieces.truncate(MOST_PIECES);
    pieces
}

/// A pattern that turns by an angle (a fraction of its period) from one period of the first pattern to the next.
#[derive(Debug, Clone, Copy)]
struct Turning {
    angle: f64,
    /// The part of its piece (a fraction of its period) that is still at its disposal.
    room: f64,
}

impl Turning {
    /// How far so many periods of the first pattern move it.
    fn drift(self, periods: f64) -> f64 {
        let turned = self.angle * periods;
        (turned - turned.round()).abs()
    }
}

/// Periods of the first pattern until all of `waiting` have hit their pieces by hops of `hop` periods, those of `placed`
/// staying in theirs; infinite if that is not certain.
fn hops(hop: f64, placed: &[Turning], waiting: &[Turning]) -> f64 {
    let tried = if waiting.len() < MOST_ORDERED { waiting.len() } else { waiting.len().min(1) };
    let mut least = if waiting.is_empty() { 0.0 } else { f64::INFINITY };
    for at in 0..tried {
        let mut left = waiting.to_vec();
        let next = left.remove(at);
        // One half to hit, the other for what later hops move it.
        let half = Turning { room: next.room / 2.0, ..next };
        let target = if left.is_empty() { next.room } else { half.room };
        let turns = convergents(next.angle * hop);
        let Some(count) = turns_to_hit(&turns, target) else { continue };
        let moved =
            |placed: &Turning| Turning { room: placed.room - count * placed.drift(hop), ..*placed };
        let mut kept: Vec<Turning> = placed.iter().map(moved).collect();
        if kept.iter().any(|placed| placed.room < 0.0) {
            continue;
        }
        if left.is_empty() {
            least = least.min(count * hop);
            continue;
        }
        kept.push(half);
        for convergent in turns.iter().filter(|turn| turn.off < half.room) {
            let rest = hops(hop * convergent.turns, &kept, &left);
            least = least.min(count * hop + rest);
        }
    }
    least
}

/// A number of turns after which an angle comes back to within `off` (a fraction of the circle).
#[derive(Debug, Clone, Copy)]
struct Convergent {
    turns: f64,
    off: f64,
}

/// The convergents of an angle, by turns.
fn convergents(angle: f64) -> Vec<Convergent> {
    let angle = angle - angle.floor();
    // The mirrored angle leaves the same gaps.
    let angle = angle.min(1.0 - angle);
    let mut found = vec![Convergent { turns: 1.0, off: angle }];
    let (mut before, mut now, mut rest) = (0.0, 1.0, angle);
    while found.len() < MOST_CONVERGENTS && found.last().is_some_and(|c| c.off > EXACT) {
        rest = 1.0 / rest;
        let whole = rest.floor();
        (before, now) = (now, whole * now + before);
        rest -= whole;
        let turned = now * angle;
        if !now.is_finite() || now > 1e7 {
            break;
        }
        let off = (turned - turned.round()).abs();
        found.push(Convergent { turns: now, off });
        if rest < EXACT {
            break;
        }
    }
    found
}

/// The number of turns after which a piece of this length has been hit, wherever it starts.
fn turns_to_hit(convergents: &[Convergent], length: f64) -> Option<f64> {
    let mut before: Option<Convergent> = None;
    for convergent in convergents {
        if convergent.off <= EXACT && 1.0 / convergent.turns < length * (1.0 - EXACT) {
            return Some(convergent.turns);
        }
        // Three-distance theorem: after these turns no gap is longer than what the one before comes back to.
        if let Some(before) = before
            && before.off < length * (1.0 - EXACT)
        {
            return Some(convergent.turns + before.turns);
        }
        before = Some(*convergent);
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_piece_is_hit_within_the_turns_that_are_said() {
        for angle in [0.618_033_988_75, 0.92, 0.25, 1.0 / 3.0, 0.01, 0.414_213_562_37, 3.95, 0.9999]
        {
            for length in [0.6, 0.3, 0.12, 0.06] {
                let Some(count) = turns_to_hit(&convergents(angle), length) else {
                    // Only a fraction with few steps misses some pieces for good.
                    assert!([0.25, 1.0 / 3.0].contains(&angle), "{angle} {length}");
                    continue;
                };
                let mut hit: Vec<f64> =
                    (0..count as u32).map(|turn| (f64::from(turn) * angle).fract()).collect();
                hit.sort_by(f64::total_cmp);
                let around = 1.0 + hit[0] - hit[hit.len() - 1];
                let gap = hit.windows(2).map(|two| two[1] - two[0]).fold(around, f64::max);
                assert!(gap <= length, "{angle} {length}: {count} turns leave {gap}");
            }
        }
    }

    #[test]
    fn a_fraction_of_few_steps_can_miss() {
        assert_eq!(turns_to_hit(&convergents(0.5), 0.4), None);
        assert_eq!(turns_to_hit(&convergents(0.5), 0.6), Some(2.0));
        assert_eq!(turns_to_hit(&convergents(0.0), 0.9), None);
    }
}
