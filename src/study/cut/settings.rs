//! Which settings of two parties can be reached, how they stand to each other, and which throttles count.

use super::super::judge::Bench;
use super::super::types::Relation;
use super::case::{Case, Set, Settings};
use super::parties::Pair;
use super::scenario::each_of;
use crate::drive::{self, SetWord};
use crate::straddle::ix::{DriverIx, StandIx, SupplyIx, Table};

/// Smooth throttles are told apart down to this fraction of full.
const CLOSE_LEVEL: f64 = 1.0 / 512.0;
/// At most this many changes of a diode's state are looked for along a smooth throttle.
const MOST_CHANGES: usize = 6;

/// A trial of two parties: the pair and the words they are set to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Trial {
    pub pair: Pair,
    pub words: [SetWord; 2],
}

impl Case {
    /// Settings in which a pair is set as given, at some levels: every other party set so that it agrees with one of the
    /// pair, and once more so that it agrees with the other, where that is something else. A driver that is met both ways
    /// round agrees and disagrees at once, so that both directions are tried. Drivers that are no party here are off, so that
    /// nothing depends on how they are set now.
    pub(super) fn ways_to_set(&self, trial: &Trial, levels: [f64; 2]) -> Vec<Settings> {
        let mut ways: Vec<Settings> = Vec::new();
        for (lead, turned) in [(0, false), (1, false), (0, true), (1, true)] {
            let way = self.set_led_by(trial, levels, (lead, turned));
            if !ways.contains(&way) {
                ways.push(way);
            }
        }
        ways
    }

    /// Settings in which a pair is set as given, and every other party so that it agrees with one of the pair; the other way
    /// round (`turned`) where one of the two is met both ways round.
    fn set_led_by(&self, trial: &Trial, levels: [f64; 2], by: (usize, bool)) -> Settings {
        let mut settings: Settings =
            self.controls.indices().map(|at| self.set_beside(trial, by, at)).collect();
        for ((at, word), level) in trial.pair.drivers.into_iter().zip(trial.words).zip(levels) {
            settings[at] = (word, level);
        }
        settings
    }

    /// The setting of a driver beside a pair: it agrees with one of the pair, or with the other if that one has no
    /// direction.
    fn set_beside(&self, trial: &Trial, (lead, turned): (usize, bool), at: DriverIx) -> Set {
        let drive = drive::of(&self.controls[at].driver.drive);
        let reach = drive.settings();
        let off = (SetWord::Off, 0.0);
        if !self.parties.iter().any(|party| party.driver == at) {
            return off;
        }
        if reach.contains(&SetWord::On) {
            return (SetWord::On, 1.0);
        }
        let direction = [lead, 1 - lead].into_iter().find_map(|of| {
            let (first, word) = (trial.pair.drivers[of], trial.words[of]);
            let own = drive::of(&self.controls[first].driver.drive).sign(word)?;
            let either = self.both_ways(first) || self.both_ways(at);
            let sign = self.sign_between(&trial.pair, first, at)?;
            Some(own * if turned && either { -sign } else { sign })
        });
        let word = match direction {
            Some(1) => SetWord::Forward,
            Some(_) => SetWord::Reverse,
            None => return off,
        };
        if reach.contains(&word) { (word, 1.0) } else { off }
    }

    /// Every way in which drivers that are stopped can be parked in some settings: those of `held` stay as they are.
    pub(in crate::study) fn parked(&self, settings: &Settings, held: &[DriverIx]) -> Vec<Settings> {
        let levels = |(at, &(word, level)): (DriverIx, &Set)| {
            if word != SetWord::Stopped || held.contains(&at) {
                return vec![level];
            }
            drive::of(&self.controls[at].driver.drive).levels_now(word, level)
        };
        let choices: Table<DriverIx, Vec<f64>> = settings.pairs().map(levels).collect();
        let with = |levels: Table<DriverIx, f64>| {
            settings.iter().zip(levels).map(|(&(word, _), level)| (word, level)).collect()
        };
        each_of(&choices).into_iter().map(with).collect()
    }

    /// How the settings of a pair stand to each other; `None` where both are dead.
    pub(super) fn relation_of(&self, pair: &Pair, settings: &Settings) -> Option<Relation> {
        let [a, b] = pair.drivers;
        drive::relation(
            (&self.controls[a].driver.drive, settings[a].0),
            (&self.controls[b].driver.drive, settings[b].0),
            pair.sign,
        )
    }

    /// How some settings stand to each other over all pairs: the first of disagree, one dead and agree that occurs. `None`
    /// if no pair has a live driver.
    pub(super) fn relation_over(&self, pairs: &[Pair], settings: &Settings) -> Option<Relation> {
        let all: Vec<Relation> =
            pairs.iter().filter_map(|pair| self.relation_of(pair, settings)).collect();
        let order = [Relation::Disagree, Relation::OneDead, Relation::Agree];
        order.into_iter().find(|relation| all.contains(relation))
    }

    /// Every pair of words that the controls of two parties can reach. Parties beside the two sides of the place are
    /// tried in those that drive: the others are tried where they are sides.
    pub(super) fn words(&self, pair: &Pair) -> Vec<[SetWord; 2]> {
        let [a, b] = pair.drivers;
        let meets = self.is_sides(pair) || self.meets_at_the_place(pair);
        let reach = |at: DriverIx| {
            let words = drive::reachable(&self.controls[at].driver).iter().copied();
            words.filter(|word| meets || word.drives()).collect::<Vec<_>>()
        };
        let one_supply = self.wiring.drivers[a].supply == self.wiring.drivers[b].supply;
        let mut words = Vec::new();
        for x in reach(a) {
            for y in reach(b) {
                let same_driver = a == b && x != y;
                let half_dead =
                    one_supply && (x == SetWord::Unpowered) != (y == SetWord::Unpowered);
                if !same_driver && !half_dead {
                    words.push([x, y]);
                }
            }
        }
        words
    }

    /// True if a pair is that of the two sides of the place.
    pub(super) fn is_sides(&self, pair: &Pair) -> bool {
        self.sides == pair.drivers.map(Some)
    }

    /// True if one of a pair drives the block before the place and the other the block after it.
    fn meets_at_the_place(&self, pair: &Pair) -> bool {
        let [a, b] = pair.drivers;
        let across =
            |a: DriverIx, b: DriverIx| self.meeting[0].contains(&a) && self.meeting[1].contains(&b);
        across(a, b) || across(b, a)
    }

    /// Throttles of a pair at which some current is largest. A bridge holds each of its states indefinitely at full or
    /// zero throttle. The currents of a smooth throttle are affine in its voltage while the diodes keep their states,
    /// so where those differ between two throttles the change between them is bracketed, and both its sides count.
    pub(super) fn throttles(
        &self,
        bench: &mut Bench,
        trial: &Trial,
        stands: &[StandIx],
        powered: &Table<SupplyIx, bool>,
    ) -> Vec<[f64; 2]> {
        let [a, b] = trial.pair.drivers;
        let drives = [a, b].map(|at| drive::of(&self.controls[at].driver.drive));
        let corners = [drives[0].levels(trial.words[0]), drives[1].levels(trial.words[1])];
        if a == b {
            return corners[0].iter().map(|&x| [x, x]).collect();
        }
        let mut levels = corners.clone();
        for side in 0..2 {
            if !drives[side].level_is_a_voltage() || !trial.words[side].drives() {
                continue;
            }
            for &other in &corners[1 - side] {
                let mut regions = |level: f64| -> Vec<Vec<Vec<bool>>> {
                    let both = if side == 0 { [level, other] } else { [other, level] };
                    let mut found = Vec::new();
                    for settings in self.ways_to_set(trial, both) {
                        let scenario = self.scenario(&settings, powered);
                        let groups = stands.iter().map(|&at| &self.stands[at]);
                        let groups = groups.filter(|stand| !stand.single_wheel);
                        found.extend(groups.map(|stand| bench.regions(&scenario, Some(stand))));
                    }
                    found
                };
                levels[side].extend(changes(&mut regions));
            }
        }
        for side in &mut levels {
            side.sort_by(f64::total_cmp);
            side.dedup_by(|next, kept| *next - *kept < CLOSE_LEVEL / 4.0);
        }
        let [xs, ys] = levels;
        xs.into_iter().flat_map(|x| ys.iter().map(move |&y| [x, y])).collect()
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
