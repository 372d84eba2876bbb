//! Solving a case: every pair of parties at every reachable pair of settings, at the throttles that count, over every way
//! of standing; the worst of each is kept and looked at more closely, and what conflicts is explained.

use std::cmp::Reverse;
use std::collections::BTreeMap;
use std::rc::Rc;

use super::super::causes::Lab;
use super::super::judge::{Bench, NumericGroup, NumericStand, Scenario};
use super::super::types::{Relation, Verdict};
use super::case::{Case, Settings};
use super::explained::{Kept, Reached, Tried, explained};
use super::parties::Pair;
use super::result::{Cell, CutResult, Evaluated, Worst};
use super::settings::Trial;
use super::stalls::quiet;
use crate::drive::SetWord;
use crate::straddle::ix::{DriverIx, FootingIx, NetIx, StandIx, SupplyIx, Table};

/// At most this many pairs of parties are tried at a place: that of its sides, then those of the lowest drivers.
const MOST_PAIRS: usize = 24;
/// Limit of what is judged at a place, in drivers over all situations. Two or three drivers take some thousand; a long train
/// over many short blocks would take millions. Beyond the limit only the ways of standing with the most wheels on the rails
/// are tried, and the others are counted as left out.
pub(super) const MOST_WORK: usize = 80_000;

impl Case {
    /// Evaluates everything that can be reached at the place. Pure: equal cases give equal results.
    pub fn solve(&self) -> CutResult {
        let mut bench = Bench::new(&self.wiring);
        let bench = &mut bench;
        let mut lab = Lab::new(self);
        let mut pairs = self.pairs();
        let pairs_left_out = pairs.len().saturating_sub(MOST_PAIRS);
        pairs.truncate(MOST_PAIRS);
        let now = self.now();
        let now_relation = self.relation_over(&pairs, &now);
        let mut result = CutResult { now_relation, pairs_left_out, ..Default::default() };
        let mut tried = Tried::default();
        // Two throttles of each driver.
        let most_stands =
            self.most_stands(pairs.iter().map(|pair| 4 * self.words(pair).len()).sum());
        let leading = self.leading();
        for pair in &pairs {
            self.try_pair(bench, (pair, &leading, most_stands), &mut result, &mut tried);
        }
        (result.causes, result.lifts) = explained(self, &mut lab, &tried);
        result.blinds = tried.blinds;
        self.solve_now(bench, &mut lab, (&pairs, &now, leading), &mut result);
        result.causes_left_out = lab.broken_off();
        for worst in result.beside.values_mut() {
            self.look_closer(bench, worst);
        }
        for cause in result.causes.iter_mut().chain(&mut result.causes_now) {
            self.look_closer(bench, &mut cause.worst);
        }
        if let Some(worst) = result.worst(Relation::Agree).worst {
            result.passes_agree = self.passes(bench, &worst);
        }
        result.inrush = self.inrush(bench, &result);
        result.surge = self.surge(&result);
        result.pairs = pairs;
        result
    }

    /// Number of ways of standing that can be tried at so many settings within [`MOST_WORK`].
    fn most_stands(&self, settings: usize) -> usize {
        (MOST_WORK / (settings * self.controls.len()).max(1)).max(2)
    }

    /// The ways of standing with the most wheels on the rails, of equals the first, in their order. Counts the others.
    fn with_most_wheels(
        &self,
        mut stands: Vec<StandIx>,
        most: usize,
        left: &mut usize,
    ) -> Vec<StandIx> {
        if stands.len() > most {
            let wheels = |at: &StandIx| {
                let groups = self.stands[*at].groups.iter();
                let sides = groups.flat_map(|group| &group.touched).flatten();
                Reverse(sides.map(|touched| touched.1).sum::<u32>())
            };
            stands.sort_by_key(wheels);
            *left += stands.len() - most;
            stands.truncate(most);
            stands.sort_unstable();
        }
        stands
    }

    /// Tries a pair at every pair of settings that its controls reach, in at most so many ways of standing.
    fn try_pair(
        &self,
        bench: &mut Bench,
        (pair, leading, most): (&Pair, &[StandIx], usize),
        result: &mut CutResult,
        tried: &mut Tried,
    ) {
        let sides = self.is_sides(pair);
        let all = self.stands_of(pair, leading);
        let others = leading.iter().copied().filter(|at| sides && !all.contains(at)).collect();
        let stands: Rc<[StandIx]> =
            self.with_most_wheels(all, most, &mut result.stands_left_out).into();
        // What else stands there is tried where it belongs; here it only counts for the card.
        let others = self.with_most_wheels(others, most, &mut 0);
        for words in self.words(pair) {
            let trial = Trial { pair: *pair, words };
            let Some(mut cell) = self.cell(bench, &trial, (&stands, &others), tried) else {
                continue;
            };
            if sides {
                self.look_closer(bench, &mut cell.worst);
                self.look_closer(bench, &mut cell.beyond);
                result.cells.push(cell);
            } else {
                result.beside.entry(cell.relation).or_default().merge(&cell.worst);
            }
        }
    }

    /// Evaluates the settings now.
    fn solve_now(
        &self,
        bench: &mut Bench,
        lab: &mut Lab,
        (pairs, now, leading): (&[Pair], &Settings, Vec<StandIx>),
        result: &mut CutResult,
    ) {
        let ways = self.parked(now, &[]);
        // As set now drivers switch, so that a situation has more joint states than one at a corner of the throttles.
        let states: usize = (self.scenario(now, &self.powered).runs.iter())
            .map(|run| run.schedule.parts.len())
            .fold(1, |states, parts| (states * parts).min(MOST_WORK));
        let most = self.most_stands(ways.len() * states.div_ceil(4));
        let leading = self.with_most_wheels(leading, most, &mut result.stands_left_out);
        let leading: Rc<[StandIx]> = leading.into();
        let mut tried = Tried::default();
        let pair = result.now_relation.and_then(|relation| {
            pairs.iter().find(|pair| self.relation_of(pair, now) == Some(relation)).copied()
        });
        let about = (result.now_relation.unwrap_or(Relation::OneDead), pair, false);
        for parked in ways {
            let (settings, powered) = (&parked, &self.powered);
            let worst = self.over_stands(bench, (settings, powered), &leading, &mut |evaluated| {
                tried.kept.extend(Kept::of(about, evaluated));
            });
            result.now.merge(&worst);
            let (powered, stands) = (powered.clone(), Rc::clone(&leading));
            tried.reached.push(Reached { about, settings: parked, powered, stands });
        }
        let mut now_stalls = self.stalled(bench, now, &self.powered, &mut result.now);
        self.look_closer(bench, &mut result.now);
        if let Some(worst) = &result.now.worst {
            result.passes_now = self.passes(bench, worst);
        }
        now_stalls.retain(|_| result.now_relation == Some(Relation::Agree));
        let agreeing = result.cells.iter().filter(|cell| cell.relation == Relation::Agree);
        let everywhere = agreeing.flat_map(|cell| &cell.stalls).chain(&now_stalls);
        let mut stalls: BTreeMap<Option<FootingIx>, Evaluated> = BTreeMap::new();
        for stall in everywhere {
            stalls.entry(stall.footing).or_insert_with(|| stall.clone());
        }
        result.stalls = stalls.into_values().collect();
        // Settings that agree are judged over all throttles already.
        if result.now_relation != Some(Relation::Agree) {
            (result.causes_now, result.lifts_now) = explained(self, lab, &tried);
        }
    }

    /// The leading stands that join both drivers of a pair and short none by itself; of a driver with itself, those that
    /// short it, and those that join no other.
    fn stands_of(&self, pair: &Pair, leading: &[StandIx]) -> Vec<StandIx> {
        let [a, b] = pair.drivers;
        let leading = leading.iter().copied();
        leading
            .filter(|&stand| {
                let joined = self.joined_by(stand);
                let shorted = self.shorted_by(stand);
                if a == b {
                    shorted.contains(&a) || (joined.len() == 1 && joined.contains(&a))
                } else {
                    shorted.is_empty() && joined.contains(&a) && joined.contains(&b)
                }
            })
            .collect()
    }

    /// Everything at one pair of settings, in the pair's ways of standing and in others; `None` where both parties are dead.
    fn cell(
        &self,
        bench: &mut Bench,
        trial: &Trial,
        (stands, other_stands): (&Rc<[StandIx]>, &[StandIx]),
        tried: &mut Tried,
    ) -> Option<Cell> {
        let all_full = self.ways_to_set(trial, [1.0, 1.0]);
        let full = all_full.first()?;
        let relation = self.relation_of(&trial.pair, full)?;
        let powered = self.powered_for(full);
        let [a, b] = trial.pair.drivers;
        let dead =
            |at: DriverIx, word: SetWord| word.is_dead() && self.controls[at].separately_switched;
        let separately_switched = dead(a, trial.words[0]) || dead(b, trial.words[1]);
        let about = (relation, Some(trial.pair), separately_switched);
        let (mut worst, mut beyond) = (Worst::default(), Worst::default());
        for levels in self.throttles(bench, trial, stands, &powered) {
            let ways = self.ways_to_set(trial, levels);
            for parked in ways.iter().flat_map(|settings| self.parked(settings, &[a, b])) {
                let powered = self.powered_for(&parked);
                if !other_stands.is_empty() {
                    let set = (&parked, &powered);
                    beyond.merge(&self.over_stands(bench, set, other_stands, &mut |_| ()));
                }
                worst.merge(&self.over_stands(
                    bench,
                    (&parked, &powered),
                    stands,
                    &mut |evaluated| {
                        if relation != Relation::OneDead {
                            self.note_blind(&evaluated.judged, &mut tried.blinds);
                        }
                        tried.kept.extend(Kept::of(about, evaluated));
                    },
                ));
                let stands = Rc::clone(stands);
                tried.reached.push(Reached { about, settings: parked, powered, stands });
            }
        }
        let mut stalls = Vec::new();
        if relation != Relation::OneDead && self.is_sides(&trial.pair) {
            // Settings that disagree short: that a vehicle stalls besides is no more to be told.
            let mut untold = Worst::default();
            let told = if relation == Relation::Agree { &mut worst } else { &mut untold };
            for full in &all_full {
                stalls.extend(self.stalled(bench, full, &powered, told));
            }
        }
        let [a, b] = trial.words;
        Some(Cell { a, b, relation, separately_switched, worst, beyond, stalls })
    }

    /// Evaluates one way of setting everything over some stands; `keep` sees every evaluated situation.
    fn over_stands(
        &self,
        bench: &mut Bench,
        (settings, powered): (&Settings, &Table<SupplyIx, bool>),
        stands: &[StandIx],
        keep: &mut dyn FnMut(&Evaluated),
    ) -> Worst {
        let scenario = self.scenario(settings, powered);
        let mut worst = Worst::default();
        for &at in stands {
            let stand = &self.stands[at];
            let judged = bench.judge(&scenario, Some(stand));
            let wakes = self.wakes(&judged, powered);
            let joins = self.joins(stand);
            let evaluated = Evaluated::joined(settings, scenario.clone(), Some(at), judged);
            let evaluated = Evaluated { joins, ..evaluated };
            keep(&evaluated);
            worst.take(evaluated, Some(stand));
            if wakes.is_empty() {
                continue;
            }
            for awake in self.awake(&scenario, &wakes) {
                let judged = bench.judge(&awake, Some(stand));
                let woken = Evaluated::joined(settings, awake, Some(at), judged);
                let woken = Evaluated { woke: wakes.clone(), joins, ..woken };
                keep(&woken);
                worst.take(woken, Some(stand));
            }
        }
        if stands.is_empty() {
            let judged = quiet(bench.judge(&scenario, None), Verdict::Clear, Some(1.0));
            worst.take(Evaluated::joined(settings, scenario, None, judged), None);
        }
        worst
    }

    /// How many nets a stand joins that are not beside the place, and how many it joins: what has less of both is plainer.
    pub(super) fn joins(&self, stand: &NumericStand) -> (usize, usize) {
        let beside = |net: &NetIx| self.rails.iter().flatten().any(|own| *own == Some(*net));
        let beyond = stand.nets_joined().filter(|net| !beside(net)).count();
        (beyond, stand.nets_joined().count())
    }

    /// Asks of the worst situation whether assumed values leave its verdict open, and what goes on after the first trip.
    pub(super) fn look_closer(&self, bench: &mut Bench, worst: &mut Worst) {
        let Some(evaluated) = &mut worst.worst else { return };
        if evaluated.footing.is_some() || evaluated.closer {
            return;
        }
        evaluated.closer = true;
        let scenario: &Scenario = &evaluated.scenario;
        let stand = evaluated.stand.map(|at| &self.stands[at]);
        if stand.is_some() {
            evaluated.judged = bench.judge_thoroughly(scenario, stand);
        }
        evaluated.judged.after = bench.after_first(scenario, stand, &evaluated.judged);
        if !evaluated.woke.is_empty() {
            return;
        }
        let open = bench.left_open(scenario, stand, &evaluated.judged);
        if !open.is_empty() {
            evaluated.judged.open = open;
            evaluated.judged.verdict = Verdict::NotKnown;
        }
    }

    /// Stands that no other outdoes: of those that join the same nets the one with the most contact for the longest
    /// time. Currents and trips only grow with both, so the others cannot be worse.
    fn leading(&self) -> Vec<StandIx> {
        let rated = self.wiring.drivers.iter().any(|d| d.rating_a.is_some())
            || self.wiring.supplies.iter().any(|s| s.limit_a.is_some());
        let outdoes = |a: &NumericStand, b: &NumericStand| {
            let load_matters = rated || b.wiring_a.is_some();
            let groups = |a: &NumericGroup, b: &NumericGroup| {
                let sides = (0..2).all(|side| {
                    let (a, b) = (&a.touched[side], &b.touched[side]);
                    a.len() == b.len() && a.iter().zip(b).all(|(a, b)| a.0 == b.0 && a.1 >= b.1)
                });
                let same_load = a.loads == b.loads || !load_matters;
                sides
                    && same_load
                    && a.wheel_ohm.0 <= b.wheel_ohm.0
                    && a.wheel_ohm.1 <= b.wheel_ohm.1
            };
            let longer = a.length_mm * b.speed_mm_s.0 >= b.length_mm * a.speed_mm_s.0;
            a.groups.len() == b.groups.len()
                && a.groups.iter().zip(&b.groups).all(|(a, b)| groups(a, b))
                && longer
                && (!a.single_wheel || b.single_wheel)
                && (b.wiring_a.is_none() || a.wiring_a == b.wiring_a)
        };
        (self.stands.indices())
            .filter(|&at| {
                let this = &self.stands[at];
                !self.stands.pairs().any(|(other, that)| {
                    other != at && outdoes(that, this) && (!outdoes(this, that) || other < at)
                })
            })
            .collect()
    }
}
