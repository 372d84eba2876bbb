//! What a group of joined pickups joins across a cut.

use std::collections::BTreeMap;

use super::stand::{Facing, Stand, Touched};
use super::wheels::Interval;
use crate::rails::PlanNet;

/// Every way in which one group of joined pickups can join nets across a cut, of its intervals there. `centred_mm` is where
/// the leading coupler is while the middle of all that is coupled is over the cut, mm on the ruler.
pub fn group_stands(facing: Facing, intervals: &[Interval], centred_mm: f64) -> Vec<Stand> {
    let nets = |touched: &Touched<PlanNet>| touched.iter().map(|&(net, _)| net).collect::<Vec<_>>();
    let mut best: BTreeMap<[Vec<PlanNet>; 2], Vec<Stand>> = BTreeMap::new();
    for interval in intervals {
        for keep in [[true, true], [true, false], [false, true]] {
            let mut touched = interval.touched.clone();
            let mut joins = false;
            for side in 0..2 {
                if !keep[side] {
                    touched[side].clear();
                }
                joins |= touched[side].len() > 1;
            }
            if !joins {
                continue;
            }
            // A side that touches one net only joins nothing: it carries no current without a load.
            for side in &mut touched {
                if side.len() < 2 {
                    side.clear();
                }
            }
            let key = [nets(&touched[0]), nets(&touched[1])];
            let kept = best.entry(key).or_default();
            let more = kept
                .first()
                .map_or(f64::NEG_INFINITY, |old| resistance(&touched) - resistance(&old.touched));
            if more < -1e-9 {
                kept.clear();
            }
            // Of equals neither is the first: which one is met first depends on how the track is drawn.
            if more < 1e-9 && !kept.iter().any(|old| alike(&old.touched, &touched)) {
                kept.push(Stand {
                    facing,
                    lead_mm: interval.from_mm,
                    length_mm: 0.0,
                    touched,
                    single_wheel: false,
                });
            }
        }
    }
    let all =
        best.iter_mut().flat_map(|(key, kept)| kept.iter_mut().map(move |stand| (key, stand)));
    for (key, stand) in all {
        // The longest way rolled while at least these joins hold.
        let holds = |interval: &Interval| {
            (0..2).all(|side| {
                key[side].iter().all(|net| interval.touched[side].iter().any(|t| t.0 == *net))
            })
        };
        let held = intervals.iter().filter(|i| holds(i)).map(|i| (i.from_mm, i.to_mm));
        (stand.lead_mm, stand.length_mm) =
            longest_roll(held, centred_mm).unwrap_or((stand.lead_mm, 0.0));
    }
    best.into_values().flatten().collect()
}

/// The longest of the stretches that some intervals, in order, make together: where it begins, and its length, mm. Of
/// equally long ones that whose middle is nearest to a place, whichever is met first.
pub fn longest_roll(
    intervals: impl IntoIterator<Item = (f64, f64)>,
    place_mm: f64,
) -> Option<(f64, f64)> {
    let mut stretches: Vec<(f64, f64)> = Vec::new();
    for (from_mm, to_mm) in intervals {
        match stretches.last_mut() {
            Some((_, end_mm)) if from_mm <= *end_mm + 1e-9 => *end_mm = to_mm,
            _ => stretches.push((from_mm, to_mm)),
        }
    }
    let away = |&(from, to): &(f64, f64)| (f64::midpoint(from, to) - place_mm).abs();
    let longest = stretches.into_iter().reduce(|old, new| {
        let longer = (new.1 - new.0) - (old.1 - old.0);
        let takes = longer > 1e-9 || (longer >= -1e-9 && away(&new) < away(&old));
        if takes { new } else { old }
    });
    longest.map(|(from, to)| (from, to - from))
}

/// Where the leading coupler is while the middle of something so long is over the middle of a cut's gaps, mm on the ruler.
pub fn centred_mm(cut_mm: [Option<f64>; 2], length_mm: f64) -> f64 {
    let gaps = || cut_mm.into_iter().flatten();
    let (least, most) = (gaps().reduce(f64::min), gaps().reduce(f64::max));
    f64::midpoint(least.unwrap_or(0.0), most.unwrap_or(0.0)) + length_mm / 2.0
}

/// Contact resistance in units of one wheel's, for choosing the best of equal joins.
fn resistance(touched: &[Touched<PlanNet>; 2]) -> f64 {
    touched.iter().flatten().map(|&(_, wheels)| 1.0 / f64::from(wheels)).sum()
}

/// Whether the same currents flow through two ways of touching the same nets: between two nets of a side the contacts are
/// in series, so that only their sum counts.
fn alike(one: &[Touched<PlanNet>; 2], other: &[Touched<PlanNet>; 2]) -> bool {
    let ohm = |side: &Touched<PlanNet>| side.iter().map(|&(_, n)| 1.0 / f64::from(n)).sum::<f64>();
    one.iter()
        .zip(other)
        .all(|(a, b)| a == b || (a.len() <= 2 && b.len() <= 2 && (ohm(a) - ohm(b)).abs() < 1e-9))
}
