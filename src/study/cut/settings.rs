//! Which settings can be reached on the two sides of a cut, how they stand to each other, and which throttles count.

use crate::drive::{self, SetWord};
use crate::straddle::ix::{DriverIx, SupplyIx, Table};

use super::super::judge::Bench;
use super::super::types::Relation;
use super::case::{Case, Set, Settings};
use super::scenario::each_of;

/// Smooth throttles are told apart down to this fraction of full; more changes than this are not looked for.
const CLOSE_LEVEL: f64 = 1.0 / 512.0;
const MOST_CHANGES: usize = 6;

impl Case {
    /// The settings of now, but for the two sides.
    pub(super) fn set(&self, sides: [(DriverIx, Set); 2]) -> Settings {
        let mut settings = self.now();
        for (at, set) in sides {
            settings[at] = set;
        }
        settings
    }

    /// Every way in which drivers that are stopped can be parked in some settings; those of `held` stay as they are.
    pub(super) fn parked(&self, settings: &Settings, held: &[DriverIx]) -> Vec<Settings> {
        let levels = |(at, &(word, level)): (DriverIx, &Set)| {
            if word != SetWord::Stopped || held.contains(&at) {
                return vec![level];
            }
            drive::of(&self.controls[at].driver.drive).levels_now(word, level)
        };
        let choices = settings.pairs().map(levels).collect();
        let with = |levels: Table<DriverIx, f64>| {
            settings.pairs().map(|(at, &(word, _))| (word, levels[at])).collect()
        };
        each_of(&choices).into_iter().map(with).collect()
    }

    /// How the settings of the two sides stand to each other; `None` where both are dead or one has no driver.
    pub(super) fn relation_of(&self, settings: &Settings) -> Option<Relation> {
        let [Some(a), Some(b)] = self.sides else { return None };
        drive::relation(
            (&self.controls[a].driver.drive, settings[a].0),
            (&self.controls[b].driver.drive, settings[b].0),
            self.sign,
        )
    }

    /// Every pair of settings that the controls can reach.
    pub(super) fn pairs(&self, a: DriverIx, b: DriverIx) -> Vec<(SetWord, SetWord)> {
        let reach = |at: DriverIx| drive::reachable(&self.controls[at].driver);
        let one_supply = self.wiring.drivers[a].supply == self.wiring.drivers[b].supply;
        let mut pairs = Vec::new();
        for &x in reach(a) {
            for &y in reach(b) {
                let same_driver = a == b && x != y;
                let half_dead =
                    one_supply && (x == SetWord::Unpowered) != (y == SetWord::Unpowered);
                if !same_driver && !half_dead {
                    pairs.push((x, y));
                }
            }
        }
        pairs
    }

    /// Throttles of the two sides at which some current is largest. A bridge holds each of its states for ever at full
    /// or zero throttle. The currents of a smooth throttle are affine in its voltage while the diodes keep their states,
    /// so where those differ between two throttles the change between them is closed in on, and both its sides count.
    pub(super) fn throttles(
        &self,
        bench: &mut Bench,
        (a, word_a): (DriverIx, SetWord),
        (b, word_b): (DriverIx, SetWord),
        powered: &Table<SupplyIx, bool>,
    ) -> Vec<(f64, f64)> {
        let drives = [a, b].map(|at| drive::of(&self.controls[at].driver.drive));
        let corners = [drives[0].levels(word_a), drives[1].levels(word_b)];
        if a == b {
            return corners[0].iter().map(|&x| (x, x)).collect();
        }
        let mut levels = corners.clone();
        let words = [word_a, word_b];
        for side in 0..2 {
            if !drives[side].level_is_a_voltage() || !words[side].drives() {
                continue;
            }
            for &other in &corners[1 - side] {
                let mut regions = |level: f64| -> Vec<Vec<Vec<bool>>> {
                    let (x, y) = if side == 0 { (level, other) } else { (other, level) };
                    let settings = self.set([(a, (word_a, x)), (b, (word_b, y))]);
                    let scenario = self.scenario(&settings, powered);
                    let groups = self.stands.iter().filter(|s| !s.single_wheel);
                    groups.map(|stand| bench.regions(&scenario, Some(stand))).collect()
                };
                levels[side].extend(changes(&mut regions));
            }
        }
        for side in &mut levels {
            side.sort_by(f64::total_cmp);
            side.dedup_by(|next, kept| *next - *kept < CLOSE_LEVEL / 4.0);
        }
        let [xs, ys] = levels;
        xs.into_iter().flat_map(|x| ys.iter().map(move |&y| (x, y))).collect()
    }
}

/// Levels from 0 to 1 on both sides of each change of a value, by bisection.
fn changes<T: PartialEq + Clone>(value: &mut impl FnMut(f64) -> T) -> Vec<f64> {
    let mut waiting = vec![((0.0, value(0.0)), (1.0, value(1.0)))];
    let mut found = Vec::new();
    while let Some((low, high)) = waiting.pop() {
        if low.1 == high.1 {
            continue;
        }
        if high.0 - low.0 <= CLOSE_LEVEL {
            found.extend([low.0, high.0]);
            if found.len() >= 2 * MOST_CHANGES {
                break;
            }
            continue;
        }
        let middle = (low.0 + high.0) / 2.0;
        let at_middle = value(middle);
        waiting.push((low, (middle, at_middle.clone())));
        waiting.push(((middle, at_middle), high));
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_change_is_closed_in_on_from_both_sides() {
        for step in [0.1, 0.3337, 0.99] {
            let found = changes(&mut |level| level > step);
            let [below, above] = found[..] else { panic!("{found:?}") };
            assert!(below <= step && step < above && above - below <= CLOSE_LEVEL, "{found:?}");
        }
        assert!(changes(&mut |_| 0).is_empty());
    }

    #[test]
    fn a_value_that_never_rests_does_not_keep_the_search_going() {
        let found = changes(&mut f64::to_bits);
        assert_eq!(found.len(), 2 * MOST_CHANGES);
    }
}
