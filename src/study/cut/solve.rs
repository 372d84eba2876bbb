//! Solving a case: every reachable pair of settings at the throttles that count, over every way of standing; the worst of
//! each is kept and looked at more closely.

use std::collections::BTreeMap;

use crate::drive::SetWord;
use crate::straddle::ix::{DriverIx, FootingIx, StandIx, SupplyIx, Table};

use super::super::judge::{Bench, Judged, NumericGroup, NumericStand, Scenario};
use super::super::types::{Relation, Verdict};
use super::case::{Case, Settings};
use super::result::{Cell, CutResult, Evaluated, Worst};
use super::stalls::quiet;

impl Case {
    /// Evaluates everything that can be reached at the cut. Pure: equal cases give equal results.
    pub fn solve(&self) -> CutResult {
        let mut bench = Bench::new(&self.wiring);
        let bench = &mut bench;
        let now = self.now();
        let mut result = CutResult { now_relation: self.relation_of(&now), ..Default::default() };
        if let [Some(a), Some(b)] = self.sides {
            for (word_a, word_b) in self.pairs(a, b) {
                if let Some(cell) = self.cell(bench, (a, word_a), (b, word_b)) {
                    result.cells.push(cell);
                }
            }
        }
        for parked in self.parked(&now, &[]) {
            result.now.merge(&self.over_stands(bench, &parked, &self.powered));
        }
        let mut now_stalls = self.stalled(bench, &now, &self.powered, &mut result.now);
        self.look_closer(bench, &mut result.now);
        if let Some(worst) = &result.now.worst {
            result.passes_now = self.passes(bench, &worst.settings);
        }
        now_stalls.retain(|_| result.now_relation == Some(Relation::Agree));
        let everywhere = result.cells.iter().flat_map(|cell| &cell.stalls).chain(&now_stalls);
        let mut stalls: BTreeMap<Option<FootingIx>, Evaluated> = BTreeMap::new();
        for stall in everywhere {
            stalls.entry(stall.footing).or_insert_with(|| stall.clone());
        }
        result.stalls = stalls.into_values().collect();
        if let Some(worst) = result.worst(Relation::Agree).worst {
            result.passes_agree = self.passes(bench, &worst.settings);
        }
        result.inrush = self.inrush(bench, &result);
        result.surge = self.surge(&result);
        result
    }

    /// Everything at one pair of settings; `None` where both sides are dead.
    fn cell(
        &self,
        bench: &mut Bench,
        (a, word_a): (DriverIx, SetWord),
        (b, word_b): (DriverIx, SetWord),
    ) -> Option<Cell> {
        let set = |x: f64, y: f64| self.set([(a, (word_a, x)), (b, (word_b, y))]);
        let full = set(1.0, 1.0);
        let relation = self.relation_of(&full)?;
        let powered = self.powered_for(&full);
        let mut worst = Worst::default();
        for (x, y) in self.throttles(bench, (a, word_a), (b, word_b), &powered) {
            for parked in self.parked(&set(x, y), &[a, b]) {
                worst.merge(&self.over_stands(bench, &parked, &powered));
            }
        }
        let stalls = if relation == Relation::Agree {
            self.stalled(bench, &full, &powered, &mut worst)
        } else {
            Vec::new()
        };
        self.look_closer(bench, &mut worst);
        let dead =
            |at: DriverIx, word: SetWord| word.is_dead() && self.controls[at].separately_switched;
        Some(Cell {
            a: word_a,
            b: word_b,
            relation,
            separately_switched: dead(a, word_a) || dead(b, word_b),
            worst,
            stalls,
        })
    }

    /// Evaluates one way of setting everything over all stands.
    fn over_stands(
        &self,
        bench: &mut Bench,
        settings: &Settings,
        powered: &Table<SupplyIx, bool>,
    ) -> Worst {
        let scenario = self.scenario(settings, powered);
        let mut worst = Worst::default();
        for at in self.leading() {
            let stand = &self.stands[at];
            let judged = bench.judge(&scenario, Some(stand));
            let wakes = self.wakes(&judged, powered);
            worst.take(Evaluated::joined(settings, Some(at), judged), Some(stand));
            if wakes.is_empty() {
                continue;
            }
            for awake in self.awake(&scenario, &wakes) {
                let judged = bench.judge(&awake, Some(stand));
                let awake = Evaluated::joined(settings, Some(at), judged);
                worst.take(Evaluated { woke: true, ..awake }, Some(stand));
            }
        }
        if self.stands.is_empty() {
            let judged = quiet(bench.judge(&scenario, None), Verdict::Clear, Some(1.0));
            worst.take(Evaluated::joined(settings, None, judged), None);
        }
        worst
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

    /// Asks of the worst situation whether assumed values leave its verdict open, and what goes on after the first trip.
    fn look_closer(&self, bench: &mut Bench, worst: &mut Worst) {
        let Some(evaluated) = &mut worst.worst else { return };
        if evaluated.footing.is_some() {
            return;
        }
        let powered = self.powered_for(&evaluated.settings);
        let scenario = self.scenario(&evaluated.settings, &powered);
        let stand = evaluated.stand.map(|at| &self.stands[at]);
        if evaluated.woke {
            let wakes = self.wakes(&bench.judge(&scenario, stand), &powered);
            let mut worst: Option<(Judged, Scenario)> = None;
            for awake in self.awake(&scenario, &wakes) {
                let judged = bench.judge_thoroughly(&awake, stand);
                let weight = |j: &Judged| (j.verdict, -j.margin.unwrap_or(f64::NEG_INFINITY));
                if worst.as_ref().is_none_or(|(old, _)| weight(&judged) > weight(old)) {
                    worst = Some((judged, awake));
                }
            }
            if let Some((judged, awake)) = worst {
                evaluated.judged = judged;
                evaluated.judged.after = bench.after_first(&awake, stand, &evaluated.judged);
            }
            return;
        }
        if stand.is_some() {
            evaluated.judged = bench.judge_thoroughly(&scenario, stand);
        }
        evaluated.judged.after = bench.after_first(&scenario, stand, &evaluated.judged);
        let open = bench.left_open(&scenario, stand, &evaluated.judged);
        if !open.is_empty() {
            evaluated.judged.open = open;
            evaluated.judged.verdict = Verdict::NotKnown;
        }
    }
}
