//! Random cuts, feeds, bonds and names of blocks on track that is laid.

use std::collections::BTreeSet;

use gapwright::layout::*;
use gapwright::rails::Plan;

use super::dice::Dice;
use super::track::Ground;

/// How far cuts in one rail are kept apart, mm; wider than any of them.
const APART_MM: f64 = 2.0;

/// How far special work reaches into a run from its start and from its end, mm.
fn reach(layout: &Layout, run: RunId) -> [f64; 2] {
    let mut reach = [0.0, 0.0];
    for special in layout.specials.values() {
        let toe = match &special.work {
            Work::Turnout { toe, .. } => Some(*toe),
            _ => None,
        };
        for end in special.work.ends().into_iter().filter(|end| end.run == run) {
            if Some(end) != toe {
                reach[usize::from(end.end == RunEnd::End)] = special.work.reach_mm();
            }
        }
    }
    reach
}

fn place(dice: &mut Dice, layout: &Layout, run: RunId) -> (f64, f64) {
    let length = length_mm(layout, &layout.runs[&run]);
    let [from, to] = reach(layout, run);
    let tenth = |mm: f64| (mm * 10.0).round() / 10.0;
    let free = (from, (length - to).max(from));
    let at_mm = match dice.below(10) {
        0 => 0.0,
        1 => length,
        // Just beyond special work, where a builder would cut.
        2..5 if from > 0.0 => tenth((from + dice.between(5.0, 60.0)).min(length)),
        2..5 if to > 0.0 => tenth((length - to - dice.between(5.0, 60.0)).max(0.0)),
        5 => tenth(dice.between(0.0, length)).min(length),
        _ => tenth(dice.between(free.0, free.1)).min(length),
    };
    (at_mm, length)
}

fn cut(dice: &mut Dice, layout: &Layout, id: CutId) -> Cut {
    let runs: Vec<RunId> = layout.runs.keys().copied().collect();
    let run = *dice.pick(&runs);
    let (at_mm, length) = place(dice, layout, run);
    let rails = match dice.below(8) {
        0 => Rails::Left,
        1 => Rails::Right,
        _ => Rails::Both,
    };
    let right = (at_mm + *dice.pick(&[12.0, -12.0, 45.0, -45.0])).clamp(0.0, length);
    let stagger_mm = if rails == Rails::Both && dice.percent(15) { right - at_mm } else { 0.0 };
    let at_end = (at_mm == 0.0 || at_mm == length) && stagger_mm == 0.0;
    let made = match dice.below(4) {
        0 | 1 if at_end => Made::InsulatedJoiner,
        0 => Made::Filled,
        _ => Made::Open,
    };
    Cut {
        id,
        name: format!("Gap {}", id.0),
        run,
        at_mm,
        rails,
        width_mm: 0.8,
        stagger_mm,
        made,
        cut_at_c: dice.percent(10).then_some(20.0),
        notes: String::new(),
    }
}

/// Whether two cuts would take the same metal; at ends of runs any two are held to be too near.
fn too_near(layout: &Layout, a: &Cut, b: &Cut) -> bool {
    let places = |cut: &Cut| {
        let length = length_mm(layout, &layout.runs[&cut.run]);
        let all = [cut.at_mm, cut.at_mm + cut.stagger_mm];
        let end = all.iter().any(|at| *at < APART_MM || *at > length - APART_MM);
        (all, end)
    };
    let ((of_a, end_a), (of_b, end_b)) = (places(a), places(b));
    let near = of_a.iter().any(|x| of_b.iter().any(|y| (x - y).abs() < APART_MM));
    (a.run == b.run && near) || (end_a && end_b)
}

/// Cuts the rails here and there.
pub fn cuts(ground: &mut Ground, dice: &mut Dice) {
    let most = 2 + ground.layout.runs.len() / 2;
    for _ in 0..1 + dice.below(most.min(7)) {
        let id = CutId(ground.fresh());
        let new = cut(dice, &ground.layout, id);
        if !ground.layout.cuts.values().any(|old| too_near(&ground.layout, old, &new)) {
            ground.layout.cuts.insert(id, new);
        }
    }
}

/// One place in each block: run and distance.
fn blocks(layout: &Layout) -> Vec<(RunId, f64)> {
    let metal = &Plan::derive(layout).metal;
    let mut seen = BTreeSet::new();
    let mut found = Vec::new();
    for (&id, run) in &layout.runs {
        let length = length_mm(layout, run);
        let [from, to] = reach(layout, id);
        let mut marks: Vec<f64> = vec![from, length - to];
        for cut in layout.cuts.values().filter(|cut| cut.run == id) {
            marks.extend([cut.at_mm, cut.at_mm + cut.stagger_mm]);
        }
        marks.retain(|mark| (from..=length - to).contains(mark));
        marks.sort_by(f64::total_cmp);
        for pair in marks.windows(2).filter(|pair| pair[1] - pair[0] > 0.5) {
            let at_mm = f64::midpoint(pair[0], pair[1]);
            let mut nets = Rail::BOTH.map(|rail| metal.net_at(id, rail, at_mm));
            nets.sort();
            if seen.insert(nets) {
                found.push((id, at_mm));
            }
        }
    }
    found
}

fn feed(dice: &mut Dice, ground: &mut Ground, origin: Origin, (run, at_mm): (RunId, f64)) {
    let id = FeedId(ground.fresh());
    let normal = ground.forward.get(&run).copied().unwrap_or(true);
    let swapped = dice.percent(10);
    let p = if normal != swapped { Rail::Right } else { Rail::Left };
    let legs = dice.below(20);
    let wire = dice.percent(50).then(|| Wire {
        size: *dice.pick(&[WireSize::Mm2(0.75), WireSize::Awg(24)]),
        length_m: 2.0,
        rating_a: None,
    });
    let feed = Feed {
        id,
        driver: origin,
        run,
        at_mm,
        p: (legs != 0).then_some(p),
        m: (legs != 1).then_some(p.other()),
        wire,
        ohm: wire.is_none().then(|| Quantity::given(0.1)),
    };
    ground.layout.feeds.insert(id, feed);
}

/// Feeds the blocks, most of them as they should be, and names them.
pub fn feeds(ground: &mut Ground, dice: &mut Dice, origins: &[Origin]) {
    let blocks = blocks(&ground.layout);
    for (at, &place) in blocks.iter().enumerate() {
        let label = LabelId(ground.fresh());
        let name = format!("Block {}", label.0);
        let (run, at_mm) = place;
        ground.layout.labels.insert(label, Label { id: label, name, run, at_mm });
        if dice.percent(12) {
            continue;
        }
        let origin =
            if dice.percent(70) { origins[at % origins.len()] } else { *dice.pick(origins) };
        feed(dice, ground, origin, place);
        if dice.percent(7) {
            let second = *dice.pick(origins);
            feed(dice, ground, second, place);
        }
    }
}

/// Now and then a wire between two rails.
pub fn bonds(ground: &mut Ground, dice: &mut Dice) {
    if !dice.percent(6) {
        return;
    }
    let runs: Vec<RunId> = ground.layout.runs.keys().copied().collect();
    let mut spot = || {
        let run = *dice.pick(&runs);
        let length = length_mm(&ground.layout, &ground.layout.runs[&run]);
        let at_mm = (length * (0.05 + 0.9 * dice.share()) * 10.0).round() / 10.0;
        Spot { run, at_mm: at_mm + 0.03, rail: *dice.pick(&Rail::BOTH) }
    };
    let (from, to) = (spot(), spot());
    let id = BondId(ground.fresh());
    ground.layout.bonds.insert(id, Bond { id, from, to });
}
