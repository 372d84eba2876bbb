//! When there are too many ways to list: the nearest first, as many as the steps allow.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet, BinaryHeap, VecDeque};

use super::needs::{Needs, Sets, Spent, Steps};

/// A way that is wanted, and what there is to make it of.
pub struct Stage<'a> {
    entry: usize,
    exit: usize,
    near: BTreeMap<usize, Vec<(usize, &'a Sets)>>,
    /// Least number of joins from each net to the exit.
    hops: BTreeMap<usize, usize>,
}

impl<'a> Stage<'a> {
    pub fn of(
        [entry, exit]: [usize; 2],
        joins: impl IntoIterator<Item = ([usize; 2], &'a Sets)>,
    ) -> Stage<'a> {
        let mut near: BTreeMap<usize, Vec<(usize, &Sets)>> = BTreeMap::new();
        for ([a, b], sets) in joins {
            near.entry(a).or_default().push((b, sets));
            near.entry(b).or_default().push((a, sets));
        }
        let mut hops = BTreeMap::from([(exit, 0)]);
        let mut next = VecDeque::from([(exit, 0)]);
        while let Some((net, far)) = next.pop_front() {
            for &(other, _) in near.get(&net).into_iter().flatten() {
                hops.entry(other).or_insert_with(|| {
                    next.push_back((other, far + 1));
                    far + 1
                });
            }
        }
        Stage { entry, exit, near, hops }
    }

    fn joined(&self, needs: &Needs, steps: &mut Steps) -> bool {
        let mut seen = BTreeSet::from([self.entry]);
        let mut next = vec![self.entry];
        while let Some(net) = next.pop() {
            if net == self.exit {
                return true;
            }
            for &(other, sets) in self.near.get(&net).into_iter().flatten() {
                // What was found is told as it should be even if that takes a little more than was allowed.
                let _ = steps.take(1 + sets.len());
                if !seen.contains(&other) && sets.cover(needs) {
                    seen.insert(other);
                    next.push(other);
                }
            }
        }
        false
    }
}

/// The same with nothing in it that it could do without. `full` has all positions of each selector.
fn loosened(mut needs: Needs, stages: &[Stage<'_>], full: &[u64], steps: &mut Steps) -> Needs {
    for (selector, mask) in needs.list().to_vec() {
        let without = |mask: Option<u64>, needs: &Needs| {
            let kept = needs.list().iter().filter(|need| need.0 != selector).copied();
            let mut list: Vec<(usize, u64)> =
                kept.chain(mask.map(|mask| (selector, mask))).collect();
            list.sort_unstable();
            Needs::from(list)
        };
        let mut joined = |needs: &Needs| stages.iter().all(|stage| stage.joined(needs, steps));
        let free = without(None, &needs);
        if joined(&free) {
            needs = free;
            continue;
        }
        let mut mask = mask;
        let more = full.get(selector).copied().unwrap_or(0) & !mask;
        for bit in (0..64).map(|k| 1 << k).filter(|bit| more & bit != 0) {
            let wider = without(Some(mask | bit), &needs);
            if joined(&wider) {
                mask |= bit;
                needs = wider;
            }
        }
    }
    needs
}

/// Ways through all stages at once, each with nothing in it that it could do without; true if they are all there are.
pub fn dive(stages: &[Stage<'_>], full: &[u64], steps: &mut Steps) -> (Sets, bool) {
    let mut found = Sets::default();
    let all = explore(stages, full, steps, &mut found).is_ok();
    (found, all)
}

fn explore(
    stages: &[Stage<'_>],
    full: &[u64],
    steps: &mut Steps,
    found: &mut Sets,
) -> Result<(), Spent> {
    // Joins still to make when a stage begins.
    let mut ahead = vec![0; stages.len() + 1];
    for (k, stage) in stages.iter().enumerate().rev() {
        ahead[k] = ahead[k + 1] + stage.hops.get(&stage.entry).copied().unwrap_or(0);
    }
    let start = stages.first().map_or(0, |stage| stage.entry);
    let mut reached: BTreeMap<(usize, usize), Sets> = BTreeMap::new();
    let mut next = BinaryHeap::from([Reverse((ahead[0], 0, Needs::default(), 0, start))]);
    while let Some(Reverse((_, _, needs, k, net))) = next.pop() {
        steps.take(1 + found.len())?;
        if found.cover(&needs) {
            continue;
        }
        let Some(stage) = stages.get(k) else {
            // The steps may end here, but what was found is kept.
            let tight = loosened(needs, stages, full, steps);
            found.add(tight, &mut Steps { left: u64::MAX })?;
            continue;
        };
        for &(other, sets) in stage.near.get(&net).into_iter().flatten() {
            for way in sets.iter() {
                steps.take(1 + (needs.list().len() + way.list().len()) / 8)?;
                let Some(both) = needs.and(way) else { continue };
                // Another way to a net must be followed unless it asks more than one that was: a net seen once is
                // not done with.
                if reached.entry((k, other)).or_default().add(both.clone(), steps)? {
                    next.push(if other == stage.exit {
                        let entry = stages.get(k + 1).map_or(0, |after| after.entry);
                        Reverse((ahead[k + 1], both.list().len(), both, k + 1, entry))
                    } else {
                        let hops = stage.hops.get(&other).copied().unwrap_or(0);
                        Reverse((hops + ahead[k + 1], both.list().len(), both, k, other))
                    });
                }
            }
        }
    }
    Ok(())
}
