//! Waveforms of the Gap view against those of ngspice: levels between the edges, and the edges themselves.

use gapwright::findings::check;
use gapwright::layout::{Layout, Rail};
use gapwright::signal::Stretch;
use gapwright::study::cut::is_worse;
use gapwright::study::scope::{Scope, Signal};
use gapwright::study::{Known, Memo, Study};

use super::cases::{self, Crossing};
use super::deck;
use super::spice::{self, Waves};

/// Levels agree to this fraction of the peak.
const LEVEL: f64 = 0.01;
/// What the 1 MΩ paths of a deck carry, A, and what they hold, V.
const NOTHING: f64 = 5e-3;
/// Edges agree to this fraction of the shortest period, or to the length of two of a deck's edges, s.
const EDGE: f64 = 1e-3;
const EDGES_S: f64 = 2.2e-7;
/// Most of a window that is compared, s.
const MOST_S: f64 = 8e-3;

/// The case that the report's situation now is of, and its scope.
fn scope(crossing: &Crossing, layout: &Layout) -> (Known, Scope) {
    let study = Study::of(layout, &Memo::default());
    let view = study.now();
    let worst = view.all_known().filter_map(|(cut, known)| {
        let first = *layout.cuts.keys().next().unwrap();
        let evaluated = known.result.now.worst.as_ref().filter(|_| cut == first)?;
        Some((known, evaluated))
    });
    let (known, evaluated) =
        worst.reduce(|old, new| if is_worse(new.1, old.1) { new } else { old }).unwrap();
    let mut scenario = evaluated.scenario.clone();
    scenario.acted.extend(&evaluated.judged.exchanged);
    let stand = evaluated.stand.map(|at| &known.case.stands[at]);
    let scope = Scope::of(&known.case, &scenario, stand, crossing.loaded).unwrap();
    (known.clone(), scope)
}

/// The node of a rail of a side in a deck.
fn rail_node(layout: &Layout, rail: Rail, side: usize) -> String {
    let is_cut = layout.cuts.values().next().unwrap().rails.has(rail);
    let word = if rail == Rail::Left { "left" } else { "right" };
    format!("{word}{}", if is_cut { side } else { 0 })
}

/// What a trace is called in a deck: a current, or a voltage between two nodes.
fn saved(layout: &Layout, known: &Known, signal: Signal) -> Option<(String, Option<String>)> {
    let id = |at| known.around.names.drivers[at];
    match signal {
        Signal::P(at) => Some((format!("i(v{}_p)", id(at)), None)),
        Signal::M(at) => Some((format!("i(v{}_m)", id(at)), None)),
        Signal::Supply(at) => Some((format!("i(v{}_supply)", id(at)), None)),
        Signal::Rails(side) => {
            let [right, left] = [Rail::Right, Rail::Left].map(|rail| rail_node(layout, rail, side));
            Some((format!("v({right})"), Some(format!("v({left})"))))
        }
        Signal::Gap(_) | Signal::Trip(_) | Signal::Load(_) => None,
    }
}

/// The phases of a deck as delays of the free patterns, fractions of their periods.
fn delays(known: &Known, scope: &Scope, layout: &Layout) -> Vec<f64> {
    let late: Vec<f64> = deck::delays_s(layout);
    let of_driver = |at: usize| {
        let id = known.around.names.drivers[gapwright::straddle::ix::DriverIx(at)];
        late[layout.drivers.keys().position(|other| *other == id).unwrap()]
    };
    let delay = |pattern: &gapwright::signal::Free| {
        // A pattern of known phases is delayed by what its first member is late beyond its own phase.
        let (at, own_s) = pattern.members[0];
        ((of_driver(at) - own_s) / pattern.period_s).rem_euclid(1.0)
    };
    scope.free().iter().map(delay).collect()
}

struct Compared {
    levels: usize,
    edges: usize,
    wrong: Vec<String>,
}

/// Compares one trace, stretch by stretch.
fn compare(
    name: &str,
    (levels, peak): (&[Option<f64>], f64),
    (stretches, flows): (&[Stretch], &dyn Fn(usize) -> bool),
    theirs: &dyn Fn(f64) -> f64,
    (edge_s, out): (f64, &mut Compared),
) {
    let allowed = (LEVEL * peak).max(NOTHING);
    let level = |stretch: &Stretch| levels[stretch.joint].filter(|_| flows(stretch.joint));
    for stretch in stretches.iter().filter(|s| s.to_s - s.from_s > 4.0 * EDGES_S) {
        let Some(our) = level(stretch) else { continue };
        let middle = f64::midpoint(stretch.from_s, stretch.to_s);
        let their = theirs(middle);
        out.levels += 1;
        if (our - their).abs() > allowed {
            out.wrong.push(format!("{name} at {middle:.7} s: ours {our}, ngspice {their}"));
        }
    }
    for pair in stretches.windows(2) {
        let long = pair.iter().all(|s| s.to_s - s.from_s > 4.0 * EDGES_S);
        let (Some(before), Some(after)) = (level(&pair[0]), level(&pair[1])) else { continue };
        // What steps by less than this is the noise of either side.
        if !long || (after - before).abs() < (0.05 * peak).max(0.02) {
            continue;
        }
        // It has come half of the way within the time that is allowed, and not earlier.
        let (edge, half) = (pair[1].from_s, f64::midpoint(before, after));
        let rises = after > before;
        let is_past = |at: f64| (theirs(at) > half) == rises;
        out.edges += 1;
        if is_past(edge - edge_s) || !is_past(edge + edge_s) {
            out.wrong.push(format!("{name}: no edge within {edge_s} s of {edge:.7} s"));
        }
    }
}

fn compared(crossing: &Crossing, layout: &Layout, waves: &Waves) -> Compared {
    let (known, scope) = scope(crossing, layout);
    let delays = delays(&known, &scope, layout);
    let from_s = crossing.window.from_s;
    let to_s = from_s + crossing.window.length_s.min(MOST_S);
    let stretches = scope.stretches(&delays, from_s, to_s);
    let shortest_s = scope.free().iter().map(|f| f.period_s).fold(f64::INFINITY, f64::min);
    let edge_s = (EDGE * shortest_s.min(1.0)).max(EDGES_S);
    let mut out = Compared { levels: 0, edges: 0, wrong: Vec::new() };
    let carries = |joint: usize| {
        scope.traces.iter().any(|trace| {
            matches!(trace.signal, Signal::P(_))
                && trace.levels[joint].is_some_and(|amps| amps.abs() > 0.05)
        })
    };
    for trace in &scope.traces {
        let Some((plus, minus)) = saved(layout, &known, trace.signal) else { continue };
        let under = |at: f64| minus.as_ref().map_or(0.0, |minus| waves.at(minus, at));
        let theirs = |at: f64| waves.at(&plus, at) - under(at);
        let peak = trace.levels.iter().flatten().fold(0.0_f64, |peak, level| peak.max(level.abs()));
        // Rails that nothing drives and nothing loads hang on the leaks: theirs are 1 MΩ.
        let flows = |joint: usize| !trace.signal.is_voltage() || carries(joint);
        let name = format!("{} {:?}", crossing.name, trace.signal);
        compare(&name, (&trace.levels, peak), (&stretches, &flows), &theirs, (edge_s, &mut out));
    }
    out
}

/// Runs ngspice (Debian package `ngspice`) on every crossing and holds levels and edges of the waveforms against it.
#[test]
#[ignore = "runs ngspice, which must be installed"]
fn live_ngspice_waveforms() {
    let mut wrong = Vec::new();
    let (mut crossings, mut levels, mut edges) = (0, 0, 0);
    for crossing in cases::all() {
        let layout = crossing.bench.layout();
        let now = check(&layout).cuts.swap_remove(0).now;
        let text = deck::deck(&crossing.name, &layout, &now, crossing.window, crossing.loaded);
        let mut nodes: Vec<String> = Rail::BOTH
            .iter()
            .flat_map(|rail| [0, 1].map(|side| rail_node(&layout, *rail, side)))
            .collect();
        nodes.sort();
        nodes.dedup();
        let nodes: String = nodes.iter().map(|node| format!(" v({node})")).collect();
        let text = text.replace(".save", &format!(".save{nodes}"));
        let waves = match spice::waves(&crossing.name, &text) {
            Ok(waves) => waves,
            Err(why) => {
                wrong.push(why);
                continue;
            }
        };
        let found = compared(&crossing, &layout, &waves);
        crossings += usize::from(found.edges > 0);
        (levels, edges) = (levels + found.levels, edges + found.edges);
        wrong.extend(found.wrong.into_iter().take(6));
    }
    println!("{crossings} crossings, {levels} levels, {edges} edges");
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(crossings >= 15 && edges > 1000, "{crossings} crossings, {edges} edges");
}
